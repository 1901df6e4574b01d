"""Both edges of a screw in a photograph, laid out along its axis in millimetres of the card.

The screw is darker than the card's paper. It is found as the largest dark shape that is no marker;
the photograph is then sampled along its axis in linear light, and each edge is where the light is
half way from paper to metal, coming from outside. Under one lamp its own shadow lies beside it and
is dark as well: asked so, the screw is what is darker yet, and the paper is what lies just beyond
its crests, by the caliper.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.care.errors import CareError
from ironlace.evidence.arrays import Floats
from ironlace.photographs import Placing, StripLayout
from ironlace.photographs.linear_light import LUMINANCE, to_linear
from ironlace.photographs.looked_up import looked_up
from ironlace.photographs.strip_finding import edge_offsets

_COARSE_SIDE = 1100
"""Longest side in pixels of the picture of the card in which the screw is looked for."""
_DARK = 0.68
"""Share of the paper's light below which something lies on it; shadows are lighter (judged)."""
_ROUND_MARKERS = 0.12
"""Of a marker's side: what is left out round each marker, for its blurred edge."""
_FINER = 1.5
"""Samples a pixel along and across the axis."""
_LIGHT = [weight * to_linear(np.arange(256, dtype=np.uint8)) for weight in LUMINANCE]
"""Luminance of each channel's numbers: a whole photograph then needs no colour in linear light."""
_LEAST_AREA = 0.6
"""Of the caliper's diameter squared: less is a crumb."""

_PARTED = 0.12
"""Share of the paper's light by which metal must be darker than the shadow beside it (judged)."""
_BESIDE_MM = (0.12, 0.45)
"""Beyond the crests, between which the paper beside them is looked at."""
_BESIDE_ALONG_MM = 1.5
"""Along the axis, over which that is one."""

_LONG = 2.0
"""Times that a screw must spread further one way than the other for the longer to be its axis: a
small head then turns it by less than the edges' own fit takes out (judged on made screws)."""
_TURN_DEG = 1.0
"""Turns in which the line is looked for about which a short screw is its own mirror image."""
_AS_WELL = 0.05
"""Two lines square to each other halve a shape alike where they do to such a share of it."""
_MIRRORED = 0.8
"""Share of a shape that must fall on itself about its axis: heads with a flat fall less."""


@dataclass(frozen=True)
class ThreadEdges:
    """A screw laid out along its axis.

    Attributes
    ----------
    along_mm
        Places along the axis, evenly spaced, in mm of the card's plane, shape (n,).
    edges_mm
        Distance of either edge from the axis, outward positive, shape (2, n), NaN where unseen.
    px_per_mm
        Of the photograph, at the screw.
    blur_px
        Standard deviation of the blur, from the markers' edges.
    corners_px
        The four corners of what was laid out, in the photograph, shape (4, 2): at the axis's
        beginning on the second and the first edge's side, then at its end the other way round.
    reach_mm
        How far to either side of the axis was laid out.
    light, out_mm
        What was laid out, linear light over the paper's, shape (n, m), and the places across the
        axis of its columns, mm, shape (m,); the first edge lies where these are positive.
    level
        Light half way from paper to screw.
    eye_mm
        The camera: along the axis, across it, above the card, mm.
    """

    along_mm: Floats
    edges_mm: Floats
    px_per_mm: float
    blur_px: float
    corners_px: Floats
    reach_mm: float
    light: Floats
    out_mm: Floats
    level: float
    eye_mm: Floats

    @property
    def metal(self) -> float:
        """Light of the screw, over the paper's."""
        return 2.0 * self.level - 1.0

    @property
    def slant_deg(self) -> float:
        """Between the line of sight and the square to the card, along the screw's axis."""
        x, _, _ = self.eye_mm
        return float(np.degrees(np.arcsin(abs(x) / np.linalg.norm(self.eye_mm))))


def thread_edges(
    image: NDArray[np.uint8],
    placing: Placing,
    layout: StripLayout,
    caliper_mm: float,
    *,
    across: bool = False,
    shadowed: bool = False,
) -> ThreadEdges:
    """Find the screw and both its edges.

    Parameters
    ----------
    image
        Photograph, HxWx3 uint8 sRGB.
    placing
        Where the card lies in it.
    layout
        The card's markers.
    caliper_mm
        Diameter over the thread, by caliper, to know how far out to look.
    across
        Whether the axis goes across what lies there and not along it: a short screw with a wide
        head.
    shadowed
        Whether its own shadow lies beside it, and is not to be taken for it.

    Raises
    ------
    CareError
        When there is no screw on the card, or it leaves the picture.
    """
    centre, axis, half, level = _found(image, placing, layout, caliper_mm, shadowed)
    if across:
        axis, half = np.array([-axis[1], axis[0]]), half[::-1]
    reach = max(half[1] + 0.8, 0.75 * caliper_mm + 0.8)
    scale = float(np.mean(placing.resolution(centre[None])))
    step = 1.0 / (scale * _FINER)
    along = np.arange(-half[0] - 0.5, half[0] + 0.5, step)
    out = np.arange(-reach, reach, step)
    places = centre + along[:, None, None] * axis + out[None, :, None] * [-axis[1], axis[0]]
    px = placing.to_pixels(places)
    light = _sampled(image, px) / _paper(placing, places)
    levels = np.full((2, len(along)), level)
    if shadowed:
        levels = _levels_beside(light, out, step, caliper_mm, level)
    edges = _edges(light, out, levels)
    return ThreadEdges(
        along,
        edges,
        scale,
        _blur(image, placing, layout),
        px[[0, 0, -1, -1], [0, -1, -1, 0]],
        float(reach),
        light,
        out,
        level,
        _eye(placing, centre, axis),
    )


def _eye(placing: Placing, centre: Floats, axis: Floats) -> Floats:
    """The camera from the screw's middle: along its axis, across it, above the card, mm."""
    x, y, z = -placing.rotation.T @ placing.translation - [*centre, 0.0]
    return np.array([x * axis[0] + y * axis[1], y * axis[0] - x * axis[1], abs(z)])


@dataclass(frozen=True)
class _Dark:
    """What lies dark on the card: its mask on a grid, and where the picture ends on it."""

    shape: NDArray[np.bool_]
    light: Floats
    inside: NDArray[np.bool_]
    origin: Floats
    step: float

    @property
    def at_the_rim(self) -> bool:
        """Whether it reaches the rim of what was looked at."""
        mask = self.shape
        return bool(mask[[0, -1]].any() or mask[:, [0, -1]].any())


def _found(
    image: NDArray[np.uint8],
    placing: Placing,
    layout: StripLayout,
    caliper_mm: float,
    shadowed: bool,
) -> tuple[Floats, Floats, Floats, float]:
    """Middle, axis and half sizes (mm) of the screw, and the level that parts it from paper."""
    dark = _looked_for(image, placing, layout, 0.0, caliper_mm)
    if dark is None or dark.at_the_rim:  # it lies beyond the markers, or partly
        wider = _looked_for(image, placing, layout, 0.5, caliper_mm)
        dark = dark if wider is None or wider.at_the_rim else wider
    if dark is None:
        raise CareError(
            "No screw is seen on the card: lay it between the markers, darker than the paper, in "
            "even light."
        )
    if shadowed:
        dark = _without_shadow(dark)
    rim = ~cv2.erode(dark.inside.astype(np.uint8), np.ones((9, 9), np.uint8)).astype(bool)
    if np.any(dark.shape & rim):
        raise CareError(
            "The screw leaves the picture: photograph it again with paper to be seen all round it."
        )
    rows, columns = np.nonzero(dark.shape)
    points = dark.origin + dark.step * np.stack([columns, rows], axis=1)
    middle = points.mean(axis=0)
    some = (points - middle)[:: max(1, len(points) // 20000)]
    _, spread, turned = np.linalg.svd(some, full_matrices=False)
    axis = turned[0]
    if spread[0] < _LONG * spread[1]:
        axis = _mirrored_about(dark.shape, axis)
    axis = axis * (1.0 if axis[0] >= 0 else -1.0)
    frame = np.array([axis, [-axis[1], axis[0]]])
    local = (points - middle) @ frame.T
    low, high = local.min(axis=0), local.max(axis=0)
    middle = middle + (low + high) / 2 @ frame
    core = cv2.erode(dark.shape.astype(np.uint8), np.ones((7, 7), np.uint8)).astype(bool)
    metal = float(np.median(dark.light[core])) if core.any() else 0.2
    return middle, axis, (high - low) / 2, (1.0 + min(metal, 0.6)) / 2


def _without_shadow(dark: _Dark) -> _Dark:
    """The darker part of what lies dark on the card, by Otsu's threshold (1979), without holes."""
    values = np.clip(255 * dark.light[dark.shape], 0, 255).astype(np.uint8)
    level, _ = cv2.threshold(values, 0, 255, cv2.THRESH_BINARY | cv2.THRESH_OTSU)
    darker = (dark.shape & (dark.light * 255 <= level)).astype(np.uint8)
    closed = cv2.morphologyEx(darker, cv2.MORPH_CLOSE, np.ones((7, 7), np.uint8))
    _, labels, stats, _ = cv2.connectedComponentsWithStats(closed)
    largest = labels == 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    rings, _ = cv2.findContours(largest.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    filled = np.zeros(largest.shape, np.uint8)
    cv2.drawContours(filled, rings, -1, 1, cv2.FILLED)
    return replace(dark, shape=filled.astype(bool))


def _levels_beside(
    light: Floats, out: Floats, step: float, caliper_mm: float, level: float
) -> Floats:
    """Half way from the paper just beyond the crests to the metal within them, on either side."""
    from scipy.ndimage import median_filter

    radius = caliper_mm / 2
    low, high = (1.03 * radius + one for one in _BESIDE_MM)
    size = max(3, int(_BESIDE_ALONG_MM / step))
    found = np.full((2, len(light)), level)
    for side, away in enumerate((out, -out)):
        beyond, within = (
            (away > low) & (away < high),
            (away > 0.5 * radius) & (away < 0.85 * radius),
        )
        if not beyond.any() or not within.any():  # a caliper's figure that fits no such picture
            continue
        paper, metal = (np.median(light[:, one], axis=1) for one in (beyond, within))
        paper, metal = (median_filter(one, size, mode="nearest") for one in (paper, metal))
        told = paper - metal > _PARTED
        found[side, told] = ((paper + metal) / 2)[told]
    return found


def _mirrored_about(shape: NDArray[np.bool_], otherwise: Floats) -> Floats:
    """The line, a unit vector, about which a shape is its own mirror image.

    A short screw with a wide head spreads alike both ways, and its longest way is then any way;
    its axis still halves it. Of two lines that halve it alike, as a rod's, the longer way is told.
    """
    rows, columns = np.nonzero(shape)
    middle = np.array([columns.mean(), rows.mean()])
    side = int(2 * np.hypot(columns - middle[0], rows - middle[1]).max()) + 6
    corner = middle - side / 2
    whole = np.zeros((side, side), np.uint8)
    at = np.floor(np.stack([columns, rows], axis=1) - corner).astype(int)
    whole[at[:, 1], at[:, 0]] = 1
    centre, angle = at.mean(axis=0), np.radians(np.arange(0.0, 180.0, _TURN_DEG))
    kept = []
    for one in angle:
        c, s = np.cos(2 * one), np.sin(2 * one)
        turn = np.array([[c, s], [s, -c]])
        move = np.column_stack([turn, centre - turn @ centre])
        other = cv2.warpAffine(whole, move, (side, side), flags=cv2.INTER_NEAREST)
        both = np.count_nonzero((other > 0) & (whole > 0))
        kept.append(both / (2 * len(at) - both))
    score = np.array(kept)
    ways = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    best = int(np.argmax(score))
    square = (best + len(angle) // 2) % len(angle)
    long = np.abs((at - centre) @ ways[[best, square]].T).max(axis=0)
    if score[square] > score[best] - _AS_WELL and long[1] > long[0]:
        best = square
    if score[best] < _MIRRORED:  # dented out of shape: the longest way must do
        return otherwise
    # a parabola through the best and its neighbours: finer than the turns tried
    near = score[[best - 1, best, (best + 1) % len(angle)]]
    bend = near[0] - 2 * near[1] + near[2]
    off = 0.5 * (near[0] - near[2]) / bend if bend < 0 else 0.0
    found = angle[best] + np.radians(_TURN_DEG) * off
    return np.array([np.cos(found), np.sin(found)])


def _looked_for(
    image: NDArray[np.uint8],
    placing: Placing,
    layout: StripLayout,
    beyond: float,
    caliper_mm: float,
) -> _Dark | None:
    """The largest dark shape that is no marker, within the markers' bounds or so far beyond."""
    left, top, right, bottom = layout.bounds_mm
    wide, high = beyond * (right - left), beyond * (bottom - top)
    left, top, right, bottom = left - wide, top - high, right + wide, bottom + high
    step = max(right - left, bottom - top) / _COARSE_SIDE
    xs, ys = np.arange(left, right, step), np.arange(top, bottom, step)
    places = np.stack(np.meshgrid(xs, ys), axis=-1)
    px = placing.to_pixels(places)
    light = _sampled(image, px) / _paper(placing, places)
    height, width = image.shape[:2]
    inside = np.all((px >= 1) & (px <= (width - 2, height - 2)), axis=-1)
    markers = np.zeros(inside.shape, np.uint8)
    for ring in layout.corners_mm:
        middle = ring.mean(axis=0)
        grown = middle + (ring - middle) * (1 + 2 * _ROUND_MARKERS)
        cv2.fillPoly(markers, [np.round((grown - (left, top)) / step).astype(np.int32)], 1)
    dark = (light < _DARK) & inside & (markers == 0)
    solid = cv2.morphologyEx(dark.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8))
    _, labels, stats, _ = cv2.connectedComponentsWithStats(solid)
    for chosen in 1 + np.argsort(-stats[1:, cv2.CC_STAT_AREA]):
        if stats[chosen, cv2.CC_STAT_AREA] * step**2 < _LEAST_AREA * caliper_mm**2:
            return None
        found = _Dark(labels == chosen, light, inside, np.array([left, top]), step)
        if not beyond or not found.at_the_rim:  # the table round the card is no screw
            return found
    return None


def _sampled(image: NDArray[np.uint8], px: Floats) -> Floats:
    """Luminance in linear light at pixels (..., 2)."""
    height, width = image.shape[:2]
    low = np.clip(
        np.floor(px.reshape(-1, 2).min(axis=0)).astype(int) - 2, 0, (width - 2, height - 2)
    )
    high = np.clip(np.ceil(px.reshape(-1, 2).max(axis=0)).astype(int) + 3, low + 2, (width, height))
    crop = image[low[1] : high[1], low[0] : high[0]]
    light = sum(table[crop[..., n]] for n, table in enumerate(_LIGHT))
    return np.asarray(looked_up(np.asarray(light, np.float32), px - low), np.float64)


def _paper(placing: Placing, places: Floats) -> Floats:
    """The paper's light at places of the card: a plane through what the markers' edges saw."""
    at = np.asarray(placing.paper_points_mm, np.float64)
    seen = np.asarray(placing.paper_light, np.float64) @ LUMINANCE.astype(np.float64)
    kept = np.isfinite(seen)
    design = np.column_stack([np.ones(kept.sum()), at[kept]])
    plane = np.linalg.lstsq(design, seen[kept], rcond=None)[0]
    told = plane[0] + places @ plane[1:]
    return np.asarray(np.maximum(told, 0.25 * float(np.median(seen[kept]))))


def _edges(light: Floats, out: Floats, levels: Floats) -> Floats:
    """Where either edge lies, from outside: shape (2, n), NaN where nothing is crossed."""
    found = np.full((2, len(light)), np.nan)
    middle = len(out) // 2
    rows = np.arange(len(light))
    for side, profile in enumerate((light[:, middle:][:, ::-1], light[:, : middle + 1])):
        reach = np.abs(out[middle:][::-1] if side == 0 else out[: middle + 1])
        level = levels[side]
        below = profile < level[:, None]
        first = np.argmax(below, axis=1)
        crossed = below.any(axis=1) & (first > 0)
        before, after = profile[rows, first - 1], profile[rows, first]
        share = (before - level) / np.maximum(before - after, 1e-9)
        at = reach[first - 1] + share * (reach[first] - reach[first - 1])
        found[side, crossed] = at[crossed]
    return found


def _blur(image: NDArray[np.uint8], placing: Placing, layout: StripLayout) -> float:
    """Standard deviation of the blur in pixels, over the markers' edges."""
    points, outward, group, reach = [], [], [], []
    for n in placing.markers_used:
        ring = layout.corners_mm[n]
        middle = ring.mean(axis=0)
        for k in range(4):
            a, b = ring[k], ring[(k + 1) % 4]
            side = np.linspace(0.2, 0.8, 7)[:, None]
            px = placing.to_pixels(a + side * (b - a))
            away = placing.to_pixels(a + side * (b - a) + 0.02 * ((a + b) / 2 - middle)) - px
            points.append(px)
            outward.append(away / np.linalg.norm(away, axis=1, keepdims=True))
            cell = (
                float(np.linalg.norm(placing.to_pixels(b[None]) - placing.to_pixels(a[None]))) / 8
            )
            reach.append(np.full(7, min(0.8 * cell, 12.0)))
            group.append(np.full(7, n))
    found = edge_offsets(
        image,
        np.concatenate(points),
        np.concatenate(outward),
        np.concatenate(reach),
        np.concatenate(group),
    ).blur_px
    seen = found[np.isfinite(found)]
    return float(np.median(seen)) if len(seen) else 2.0
