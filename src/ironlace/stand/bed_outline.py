"""A bed's outline from one photograph with a marker sheet beside or below it.

The markers tell where the camera stood; each place on the bed's edge is then followed along its ray
to the plane of the rim, which lies higher than the sheet by a height that is asked for. The edge
lies where the light is half way between iron and ground, in linear light, looked for square to the
outline all the way round.
"""

from dataclasses import dataclass, replace
from typing import Annotated, Any, Literal

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from ironlace.evidence.analyses import Ask
from ironlace.evidence.arrays import Floats
from ironlace.photographs import GivenLens, Placing, StripLayout, find_strip, place_surface
from ironlace.photographs.linear_light import LUMINANCE, to_linear
from ironlace.photographs.scale_strip import marker_rings_mm
from ironlace.stand.errors import StandError
from ironlace.stand.outline_doubt import RimDoubt, rim_doubt

_LEAST_MARKERS = 2
"""Fewer do not tell the camera's place well enough for a rim that stands out of their plane."""

_REACH_PX = 6.0
"""How far to either side of a rough edge the light of iron and ground is looked for."""

_EVERY_PX = 2.0
"""Distance of the places round the outline at which the edge is measured."""

_SMOOTH = 5
"""Neighbouring places whose median is taken, against a scratch or a highlight at the edge."""

_TOLERANCE_MM = 0.02
"""How far the written outline may lie from the measured one: below what is measured."""

_LEAST_SHARE = 0.01
"""Of the picture: a smaller patch is no bed (a judgement)."""

_CONTRAST = 0.03
"""Linear light by which iron and ground must differ, of white: less is lost in grain."""


@dataclass(frozen=True, slots=True)
class OutlineCase:
    """A whole case for an outline."""

    rim_above_sheet_mm: Annotated[float, Ask("Height", unit="mm", low=-300.0, high=300.0)]
    seen_from: Literal["above", "below"]
    lens: GivenLens | None = None


@dataclass(frozen=True)
class BedOutline:
    """An outline found: `points_mm` in the sheet's coordinates, `ring_px` in the photograph.

    Shapes (n, 2) and (m, 2). `placing` and `case` say how the one came of the other.
    """

    points_mm: Floats
    ring_px: Floats
    mm_per_px: float
    markers: int
    residual_mm: float
    warnings: tuple[str, ...]
    placing: Placing
    case: OutlineCase
    doubt: RimDoubt

    def told_with(self, said: list[str]) -> list[str]:
        """What is said by this outline, its doubt before it and other warnings after it."""
        first = 0 if self.doubt.sure else 1
        return [*self.warnings[:first], *said, *self.warnings[first:]]

    def on_sheet(self, px: Floats) -> Floats:
        """Places on the rim that pixels show, in the sheet's coordinates, shape (n, 2), mm.

        Raises StandError when the rim would lie behind the camera.
        """
        places = on_rim(self.placing, px, self.case.rim_above_sheet_mm)
        # what is seen from below lies the other way round from above
        return places * [-1.0, 1.0] if self.case.seen_from == "below" else places


def find_outline(picture: NDArray[np.uint8], layout: StripLayout, case: OutlineCase) -> BedOutline:
    """Find the outline.

    Parameters
    ----------
    picture
        HxWx3, sRGB.

    Raises
    ------
    PhotographsError
        When the markers or the lens are not those of the picture.
    StandError
        When no bed stands out from its ground, or it leaves the picture.
    """
    lens = None if case.lens is None else case.lens.lens
    sighting = find_strip(picture, layout, least=_LEAST_MARKERS)
    placing = place_surface(picture, sighting, layout, kind="plane", lens=lens)
    light = np.asarray(to_linear(picture) @ LUMINANCE, dtype=np.float32)
    rough = _rough_ring(light, _markers_px(placing, layout))
    ring = _fine_ring(light, rough)
    found = BedOutline(
        np.empty((0, 2)),
        ring,
        0.0,
        len(placing.markers_used),
        placing.residual_mm,
        (),
        placing,
        case,
        RimDoubt(),
    )
    places = found.on_sheet(ring)
    scale = float(np.median(_lengths(places)) / np.median(_lengths(ring)))
    doubt = rim_doubt(light, ring, scale)
    warnings = [] if doubt.sure else [doubt.in_words()]
    if lens is None:
        warnings.append(
            "No lens is given: it is estimated from the markers, and a rim above the sheet is then "
            "the less sure the higher it lies; calibrate the lens."
        )
    if scale > 0.35:
        warnings.append(
            f"A pixel is {scale:.2f} mm at the rim: photograph it nearer, or with more pixels."
        )
    return replace(
        found,
        points_mm=simplified(places),
        mm_per_px=scale,
        warnings=tuple(warnings),
        doubt=doubt,
    )


def simplified(places: Floats) -> Floats:
    """A ring's points, shape (n, 2), mm, without those that lie on a line, counter-clockwise.

    Raises StandError when it holds no area.
    """
    polygon = shapely.Polygon(places).buffer(0)
    if isinstance(polygon, shapely.MultiPolygon):
        polygon = max(polygon.geoms, key=lambda one: one.area)
    if polygon.is_empty:
        raise StandError("The outline holds no area: draw it round the rim.")
    simple = shapely.geometry.polygon.orient(
        shapely.Polygon(np.array(polygon.exterior.simplify(_TOLERANCE_MM).coords))
    )
    return np.array(simple.exterior.coords[:-1])


def on_rim(placing: Placing, px: Floats, above_mm: float) -> Floats:
    """Places on a plane so far above the sheet, towards the camera, that pixels show, mm.

    Raises StandError when the rim would lie behind the camera.
    """
    flat = cv2.undistortPoints(
        np.ascontiguousarray(px, dtype=np.float64)[:, None],
        placing.lens.matrix,
        np.array(placing.lens.distortion),
    )[:, 0]
    rays = np.column_stack([flat, np.ones(len(flat))]) @ placing.rotation
    camera = -placing.rotation.T @ placing.translation
    far = (-above_mm - camera[2]) / rays[:, 2]  # the sheet's z points away from the camera
    if np.any(far <= 0.0):
        raise StandError(
            f"A rim {above_mm:g} mm above the sheet would lie behind the camera, which stood "
            f"{-camera[2]:.0f} mm above it: measure from the sheet to the rim again."
        )
    places: Floats = camera[:2] + far[:, None] * rays[:, :2]
    return places


def _markers_px(placing: Placing, layout: StripLayout) -> list[Floats]:
    """The outer ring of every marker, in pixels."""
    return [placing.to_pixels(np.array(marker_rings_mm(one)[0])) for one in layout.markers]


def _rough_ring(light: NDArray[np.float32], markers: list[Floats]) -> Floats:
    """The bed's outline to a pixel or two: the largest whole patch that is no marker.

    Iron may be darker than its ground or brighter; both are tried.
    """
    levels = np.sqrt(np.clip(light, 0.0, 1.0))  # so that a shade in the dark counts as one in light
    eight = cv2.GaussianBlur((levels * 255.0).astype(np.uint8), (0, 0), 1.2)
    level, _ = cv2.threshold(eight, 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    best: NDArray[Any] | None = None
    cut_off = 0.0
    # a bench round the sheet may lie on the iron's side of the middle: half of it parts the two
    for patch in (eight <= level, eight > level, eight <= level / 2.0):
        if best is not None and cv2.contourArea(best) > _LEAST_SHARE * light.size:
            break
        found, area, cut = _largest(patch.astype(np.uint8), markers)
        cut_off = max(cut_off, cut)
        if found is not None and (best is None or area > cv2.contourArea(best)):
            best = found
    least = _LEAST_SHARE * light.size
    if best is None or cv2.contourArea(best) < least:
        if cut_off > least:
            raise StandError(
                "The bed leaves the picture, or runs into its ground: photograph it whole, on a "
                "ground that is clearly lighter or darker than the iron."
            )
        raise StandError(
            "No bed stands out in the photograph: lay it on a ground that is clearly lighter or "
            "darker than the iron, in even light."
        )
    ring: Floats = best[:, 0].astype(np.float64)
    return ring


def _largest(
    patch: NDArray[np.uint8], markers: list[Floats]
) -> tuple[NDArray[Any] | None, float, float]:
    """The largest patch in the picture that holds no marker, its area, and that of one cut off."""
    height, width = patch.shape
    closed = cv2.morphologyEx(patch, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    rings, nested = cv2.findContours(closed, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    best, most, cut = None, 0.0, 0.0
    for ring, inside in zip(rings, nested[0] if rings else (), strict=True):
        if inside[3] >= 0:
            continue  # the edge of a hole
        area = float(cv2.contourArea(ring))
        if area <= most and area <= cut:
            continue
        x, y, w, h = cv2.boundingRect(ring)
        middles = [tuple(float(v) for v in one.mean(axis=0)) for one in markers]
        if any(cv2.pointPolygonTest(ring, middle, measureDist=False) >= 0 for middle in middles):
            continue
        if x <= 1 or y <= 1 or x + w >= width - 1 or y + h >= height - 1:
            cut = max(cut, area)
        elif area > most:
            best, most = ring, area
    return best, most, cut


def _fine_ring(light: NDArray[np.float32], rough: Floats) -> Floats:
    """The same outline where the light is half way, looked for square to it."""
    ring = _evenly(_smoothed(rough, 7), _EVERY_PX)
    ring = _moved(light, ring)
    return _moved(light, _evenly(_smoothed(ring, 3), _EVERY_PX))


def _moved(light: NDArray[np.float32], ring: Floats) -> Floats:
    along = np.roll(ring, -2, axis=0) - np.roll(ring, 2, axis=0)
    out = np.stack([along[:, 1], -along[:, 0]], axis=1)
    out /= np.maximum(np.linalg.norm(out, axis=1, keepdims=True), 1e-9)
    steps = np.arange(-_REACH_PX, _REACH_PX + 0.1, 0.25)
    spots = ring[:, None] + steps[:, None] * out[:, None]
    profile = map_coordinates(
        light, [spots[..., 1], spots[..., 0]], order=1, mode="nearest", output=np.float64
    )
    ends = steps > _REACH_PX - 2.0
    far, near = profile[:, ends].mean(axis=1), profile[:, ends[::-1]].mean(axis=1)
    contrast = float(np.median(np.abs(far - near)))
    if contrast < _CONTRAST:
        raise StandError(
            f"Iron and ground differ by {100 * contrast:.1f} % of white only: lay the bed on a "
            "lighter or darker ground, in even light."
        )
    rising = profile - (far + near)[:, None] / 2.0
    rising *= np.sign(far - near)[:, None]
    cross = (rising[:, :-1] < 0.0) & (rising[:, 1:] >= 0.0)
    share = -rising[:, :-1] / np.maximum(rising[:, 1:] - rising[:, :-1], 1e-9)
    place = np.where(cross, steps[:-1] + 0.25 * share, np.inf)
    offset = np.take_along_axis(place, np.argmin(np.abs(place), axis=1)[:, None], axis=1)[:, 0]
    weak = ~np.isfinite(offset) | (np.abs(far - near) < 0.3 * contrast)
    offset[weak] = np.nan
    return ring + _filled(offset)[:, None] * out


def _filled(offset: Floats) -> Floats:
    """Offsets round the ring, gaps and lone outliers taken from their neighbours."""
    n = len(offset)
    good = np.isfinite(offset)
    if good.sum() < n / 2:
        raise StandError(
            "The bed's edge cannot be followed over half its length: photograph it in even light, "
            "sharp, on a plain ground."
        )
    at = np.arange(n)
    filled = np.interp(at, at[good], offset[good], period=n)
    windows = np.lib.stride_tricks.sliding_window_view(
        np.pad(filled, _SMOOTH // 2, mode="wrap"), _SMOOTH
    )
    middle = np.median(windows, axis=1)
    found: Floats = np.where(np.abs(filled - middle) > 1.0, middle, filled)
    return found


def _smoothed(ring: Floats, width: int) -> Floats:
    windows = np.lib.stride_tricks.sliding_window_view(
        np.pad(ring, ((width // 2, width // 2), (0, 0)), mode="wrap"), width, axis=0
    )
    found: Floats = windows.mean(axis=-1)
    return found


def _lengths(ring: Floats) -> Floats:
    found: Floats = np.linalg.norm(np.roll(ring, -1, axis=0) - ring, axis=1)
    return found


def _evenly(ring: Floats, step: float) -> Floats:
    """Points at even distances round a ring."""
    closed = np.vstack([ring, ring[:1]])
    run = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    at = np.linspace(0.0, run[-1], max(16, int(run[-1] / step)), endpoint=False)
    return np.stack([np.interp(at, run, closed[:, n]) for n in (0, 1)], axis=1)


def in_bed_axes(found: BedOutline) -> Floats:
    """The outline in the bed's own axes, shape (n, 2): x to the sewer's right, y away from him.

    The origin is the middle of the bed; its long side lies along x. The edge of the bed toward the
    lower edge of the photograph is taken for the sewer's (the sheet's y runs down, the bed's away).
    """
    return mended(found, found.points_mm)


def mended(found: BedOutline, points_mm: Floats) -> Floats:
    """An outline that a hand changed, in the same axes as the one that was found, mm.

    Parameters
    ----------
    points_mm
        In the sheet's coordinates, shape (n, 2).
    """
    turn, middle = _bed_axes(found)
    ring = points_mm * [1.0, -1.0] @ turn - middle
    found_points: Floats = shapely.get_coordinates(
        shapely.geometry.polygon.orient(shapely.Polygon(ring)).exterior
    )[:-1]
    return found_points


def _bed_axes(found: BedOutline) -> tuple[Floats, Floats]:
    """How the sheet's places are turned into the bed's axes, and where its middle then lies."""
    points = found.points_mm * [1.0, -1.0]
    box = shapely.minimum_rotated_rectangle(shapely.Polygon(points))
    ring = np.array(box.exterior.coords)  # type: ignore[attr-defined]
    sides = np.diff(ring[:3], axis=0)
    along = sides[int(np.argmax(np.linalg.norm(sides, axis=1)))]
    turn = float(np.arctan2(along[1], along[0]))
    turn = (turn + np.pi / 2.0) % np.pi - np.pi / 2.0  # the lesser way round
    cos, sin = np.cos(turn), np.sin(turn)
    matrix = np.array([[cos, -sin], [sin, cos]])
    turned = points @ matrix
    return matrix, (turned.min(axis=0) + turned.max(axis=0)) / 2.0


def outline_csv(found: BedOutline) -> str:
    """The outline as CSV, x_mm,y_mm."""
    return points_csv(found.points_mm)


def points_csv(points_mm: Floats) -> str:
    """Points of an outline as CSV, x_mm,y_mm."""
    return "\n".join(["x_mm,y_mm", *(f"{x:.3f},{y:.3f}" for x, y in points_mm), ""])


def outline_told(found: BedOutline) -> dict[str, Any]:  # dict: plain JSON
    """The answer as plain figures, by the names that scripts rely on."""
    polygon = shapely.Polygon(found.points_mm)
    low, high = found.points_mm.min(axis=0), found.points_mm.max(axis=0)
    return {
        "points": len(found.points_mm),
        "area_mm2": polygon.area,
        "size_mm": (high - low).tolist(),
        "mm_per_px": found.mm_per_px,
        "markers": found.markers,
        "marker_residual_mm": found.residual_mm,
        "reliable": found.doubt.sure,
        "two_edges_along_mm": found.doubt.along_mm,
        "two_edges_apart_mm": found.doubt.apart_mm,
        "warnings": list(found.warnings),
    }


def outline_in_words(found: BedOutline) -> list[str]:
    """The answer in sentences."""
    across, deep = found.points_mm.max(axis=0) - found.points_mm.min(axis=0)
    measures = (
        f"The bed's outline measures {across:.1f} by {deep:.1f} mm; {len(found.points_mm)} points "
        f"are written, from {found.markers} markers that agree to {found.residual_mm:.3f} mm."
    )
    return found.told_with([measures])
