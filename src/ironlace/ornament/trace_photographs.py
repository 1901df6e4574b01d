"""The whole way, from photographs with the strip in them to one drawing.

Each step is a function of its own (`find_strip`, `place_surface`, `flatten`, `find_gilt`, `gather`,
`trace`) whose result can be kept as arrays; this is the convenience that runs them in order.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Progress
from ironlace.ornament.errors import OrnamentError
from ironlace.ornament.gather.gap_bridges import GapBridge, healed, propose_bridges, with_bridges
from ironlace.ornament.gather.gathered import Gathered, Mirror, Repeats, gather
from ironlace.ornament.gilt.gilt_map import GiltMap, Touch, find_gilt
from ironlace.ornament.gilt.scan_and_rubbing import find_marks, flat_from_scan
from ironlace.ornament.outline.crossings import crossings
from ironlace.ornament.outline.curve_fitting import trace
from ironlace.ornament.outline.drawing import Drawing
from ironlace.photographs.flat_picture import UNSEEN_FRAME, UNSEEN_GLARE, UNSEEN_STRIP, Flat
from ironlace.photographs.flattening import flatten, seen_bounds
from ironlace.photographs.lens import Lens
from ironlace.photographs.linear_light import encode
from ironlace.photographs.place_by_points import place_by_points
from ironlace.photographs.place_by_strip import Placing, place_surface, place_uncertainty_mm
from ironlace.photographs.scale_strip import StripLayout
from ironlace.photographs.strip_finding import find_strip
from ironlace.photographs.surfaces import SurfaceKind


@dataclass(frozen=True)
class MeasuredPlaces:
    """Places pointed at in a photograph and measured on the surface, see `place_by_points`."""

    places_px: tuple[tuple[float, float], ...]
    places_mm: tuple[tuple[float, float], ...]
    radius_mm: float | None = None

    @property
    def bounds_mm(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom of the measured places."""
        mm = np.array(self.places_mm, np.float64).reshape(-1, 2)
        low, high = mm.min(axis=0), mm.max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])


@dataclass(frozen=True)
class Traced:
    """What came of a set of photographs.

    ``report`` holds plain numbers and texts only, ready for JSON.
    """

    drawing: Drawing
    report: dict[str, Any]
    placings: tuple[Placing, ...]
    flats: tuple[Flat, ...]
    gilt_maps: tuple[GiltMap, ...]
    gathered: Gathered
    bridges: tuple[GapBridge, ...]


def trace_photographs(
    images: Sequence[NDArray[np.uint8]],
    strip: StripLayout | MeasuredPlaces,
    lens: Lens | None = None,
    *,
    surface: SurfaceKind = "plane",
    names: Sequence[str] | None = None,
    focal_35mm: float | None = None,
    px_per_mm: float | None = None,
    bounds_mm: tuple[float, float, float, float] | None = None,
    tolerance_mm: float = 0.04,
    touches: Sequence[Touch] = (),
    mirror: Mirror = None,
    repeat: Repeats = None,
    grades: Sequence[Grade] | None = None,
    bridges: bool = True,
    progress: Progress | None = None,
) -> Traced:
    """Trace the gilt ornament in photographs that show the same strip on the same surface.

    Parameters
    ----------
    images
        Photographs, each HxWx3 uint8 sRGB, upright or not.
    strip
        Layout of the scale strip; or, without one, measured places in the one photograph.
    lens
        Calibrated lens; left out, it is estimated from each photograph.
    surface
        ``"plane"``, ``"cylinder"`` or ``"cone"``; its size is estimated.
    names
        What the report and the drawing's sources call each photograph; the first is ``"here"``.
    focal_35mm
        Focal length for 35 mm film from Exif, used when there is no lens.
    px_per_mm, bounds_mm
        Resolution and window of the flat; chosen from the photographs when left out.
    tolerance_mm
        Farthest a contour may lie from its curve, see `trace`.
    touches
        Places the user vouches for.
    mirror
        ``"auto"`` to look for a mirror axis and use it, an axis to use, or None.
    repeat
        ``"auto"`` to look for a repeat and use it, a step in mm to use, or None.
    grades
        Grade of each photograph, where it is known which show the object itself.
    bridges
        Whether to carry strokes on over gaps no evidence fills; such stretches are conjectured.
    progress
        Called with the step's name and the share of it done.

    Raises
    ------
    OrnamentError
        If there is no photograph, or a step refuses (the message says which photograph).
    """
    if not images:
        raise OrnamentError("No photograph was given; at least one is needed.")
    labels = tuple(names) if names else _labels(len(images))
    if len(labels) != len(images):
        raise OrnamentError(f"{len(images)} photographs came with {len(labels)} names.")

    def tell(step: str, share: float) -> None:
        if progress is not None:
            progress(step, share)

    if isinstance(strip, MeasuredPlaces) and len(images) > 1:
        raise OrnamentError(
            "Measured places belong to one photograph; lay a strip to trace several together."
        )
    placings: list[Placing] = []
    read: list[int] = []
    for n, image in enumerate(images):
        tell("strip", n / len(images))
        if isinstance(strip, MeasuredPlaces):
            placings.append(
                place_by_points(
                    image,
                    strip.places_px,
                    strip.places_mm,
                    kind=surface,
                    lens=lens,
                    focal_35mm=focal_35mm,
                    radius_mm=strip.radius_mm,
                )
            )
            read.append(0)
            continue
        sighting = find_strip(image, strip)
        read.append(len(sighting.indices))
        placings.append(
            place_surface(image, sighting, strip, kind=surface, lens=lens, focal_35mm=focal_35mm)
        )
    tell("strip", 1.0)
    extent = strip.bounds_mm if isinstance(strip, MeasuredPlaces) else strip
    window, scale = bounds_mm, px_per_mm
    if window is None and len(images) > 1:
        each = np.array(
            [seen_bounds(p, extent, i.shape) for p, i in zip(placings, images, strict=True)]
        )
        low, high = each[:, :2].min(axis=0), each[:, 2:].max(axis=0)
        window = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
    flats, maps = [], []
    for n, (image, placing) in enumerate(zip(images, placings, strict=True)):
        flat = flatten(
            image,
            placing,
            extent,
            px_per_mm=scale,
            bounds_mm=window,
            progress=lambda s, n=n: tell("flat", (n + s) / len(images)),  # type: ignore[misc]
        )
        scale, window = flat.px_per_mm, window or flat.bounds_mm
        flats.append(flat)
        tell("gilt", n / len(images))
        maps.append(find_gilt(flat, touches=touches))
    tell("gilt", 1.0)
    gathered, proposed, drawing = _drawn(
        maps, labels, grades, mirror, repeat, bridges, tolerance_mm, tell
    )
    report = {
        "photographs": [
            photograph_report(label, image.shape, count, p, extent)
            for label, image, count, p in zip(labels, images, read, placings, strict=True)
        ],
        "flat": flat_report(flats[0]),
        "gilt": [gilt_report(label, m) for label, m in zip(labels, maps, strict=True)],
        "gathered": gathered_report(gathered),
        "bridges": [bridge_report(b) for b in proposed],
        "drawing": drawing_report(drawing, tolerance_mm),
    }
    return Traced(drawing, report, tuple(placings), tuple(flats), tuple(maps), gathered, proposed)


def trace_scan(
    image: NDArray[np.uint8],
    dpi: float,
    *,
    rubbing: bool = False,
    tolerance_mm: float = 0.04,
    touches: Sequence[Touch] = (),
    mirror: Mirror = None,
    repeat: Repeats = None,
    bridges: bool = True,
    progress: Progress | None = None,
) -> Traced:
    """Trace a flatbed scan, or a scanned rubbing or inked tracing.

    Parameters
    ----------
    image
        The scan, HxWx3 uint8 sRGB; its corner becomes (0, 0) mm.
    dpi
        Its resolution, dots to the inch.
    rubbing
        Whether it is a rubbing or tracing, so that what is marked is read, whatever its colour.
    tolerance_mm, touches, mirror, repeat, bridges, progress
        As for `trace_photographs`.

    Raises
    ------
    OrnamentError
        If the resolution is not usable or nothing is found.
    """

    def tell(step: str, share: float) -> None:
        if progress is not None:
            progress(step, share)

    tell("flat", 0.0)
    flat = flat_from_scan(image, dpi)
    tell("gilt", 0.0)
    found = find_marks(flat) if rubbing else find_gilt(flat, touches=touches)
    gathered, proposed, drawing = _drawn(
        [found], ("here",), None, mirror, repeat, bridges, tolerance_mm, tell
    )
    report = {
        "scan": {"width": int(image.shape[1]), "height": int(image.shape[0]), "dpi": dpi},
        "flat": flat_report(flat),
        "gilt": [gilt_report("here", found)],
        "gathered": gathered_report(gathered),
        "bridges": [bridge_report(b) for b in proposed],
        "drawing": drawing_report(drawing, tolerance_mm),
    }
    return Traced(drawing, report, (), (flat,), (found,), gathered, proposed)


def gather_and_bridge(
    maps: Sequence[GiltMap],
    labels: Sequence[str],
    grades: Sequence[Grade] | None,
    *,
    mirror: Mirror,
    repeat: Repeats,
    bridges: bool = True,
) -> tuple[Gathered, tuple[GapBridge, ...]]:
    """All evidence joined, small bites closed and gaps bridged; with the bridges proposed.

    Parameters and errors as for `gather`; without ``bridges`` gaps and bites stay as they are.
    """
    gathered = gather(maps, labels, grades, mirror=mirror, repeat=repeat)
    if not bridges:
        return gathered, ()
    gathered = healed(gathered)
    proposed = propose_bridges(gathered)
    return with_bridges(gathered, proposed), proposed


def _drawn(
    maps: Sequence[GiltMap],
    labels: Sequence[str],
    grades: Sequence[Grade] | None,
    mirror: Mirror,
    repeat: Repeats,
    bridges: bool,
    tolerance_mm: float,
    tell: Progress,
) -> tuple[Gathered, tuple[GapBridge, ...], Drawing]:
    """From gilt maps to a graded drawing."""
    gathered, proposed = gather_and_bridge(
        maps, labels, grades, mirror=mirror, repeat=repeat, bridges=bridges
    )
    tell("gathered", 1.0)
    drawing = trace(
        gathered.coverage,
        gathered.px_per_mm,
        gathered.origin_mm,
        tolerance_mm=tolerance_mm,
        progress=lambda s: tell("drawing", s),
    )
    drawing = gathered.graded(drawing)
    colours = {"gold": _srgb(maps[0].gilt_colour)}
    return gathered, proposed, Drawing(drawing.paths, drawing.bounds_mm, colours)


def photograph_report(
    name: str,
    shape: tuple[int, ...],
    markers_read: int,
    placing: Placing,
    strip: StripLayout | tuple[float, float, float, float],
) -> dict[str, Any]:
    """What is known of one photograph's place: residuals, lens, surface, uncertainty.

    ``strip`` is its layout, or the bounds of measured places where there was none.
    """
    left, top, right, bottom = strip.bounds_mm if isinstance(strip, StripLayout) else strip
    grid = np.stack(
        np.meshgrid(np.linspace(left, right, 7), np.linspace(top, bottom, 7)), axis=-1
    ).reshape(-1, 2)
    sure = place_uncertainty_mm(placing, grid[placing.surface.covers(grid)])
    coarser, _ = placing.resolution(np.array([[(left + right) / 2, (top + bottom) / 2]]))
    return {
        "name": name,
        "width": int(shape[1]),
        "height": int(shape[0]),
        "markers_in_layout": len(strip.markers) if isinstance(strip, StripLayout) else 0,
        "markers_read": markers_read,
        "markers_used": len(placing.markers_used),
        "residual_px": placing.residual_px,
        "residual_mm": placing.residual_mm,
        "worst_marker_px": max(placing.marker_residuals_px, default=0.0),
        "place_sd_mm": {"mean": float(sure.mean()), "max": float(sure.max())},
        "px_per_mm": float(coarser[0]),
        "ink_spread_mm": placing.ink_spread_mm,
        "surface": {"kind": placing.surface.kind, **placing.surface.numbers()},
        "lens": {
            "estimated": "log_focal" in placing.parameter_names,
            "matrix": placing.lens.matrix.tolist(),
            "distortion": list(placing.lens.distortion),
            "focal_sd_px": placing.lens.focal_sd_px,
        },
    }


def flat_report(flat: Flat) -> dict[str, Any]:
    """Size of the flat and how much of it is hidden, by reason."""
    return {
        "px_per_mm": flat.px_per_mm,
        "bounds_mm": list(flat.bounds_mm),
        "width": flat.shape[1],
        "height": flat.shape[0],
        "hidden_share": {
            "frame": float(np.mean((flat.hidden & UNSEEN_FRAME) > 0)),
            "strip": float(np.mean((flat.hidden & UNSEEN_STRIP) > 0)),
            "glare": float(np.mean((flat.hidden & UNSEEN_GLARE) > 0)),
        },
    }


def gilt_report(name: str, found: GiltMap) -> dict[str, Any]:
    """Colour, area and noise of the gilt found in one photograph."""
    area = float(found.coverage.sum(dtype=np.float64)) / 255.0 / found.px_per_mm**2
    return {
        "name": name,
        "colour_srgb": list(_srgb(found.gilt_colour)),
        "area_mm2": area,
        "noise": found.noise,
    }


def gathered_report(gathered: Gathered) -> list[dict[str, Any]]:
    """Every source of evidence, its grade, and how well it lies on the first."""
    out: list[dict[str, Any]] = []
    for name, grade, laying in zip(gathered.names, gathered.grades, gathered.layings, strict=True):
        entry: dict[str, Any] = {"name": name, "grade": str(grade)}
        if laying is not None:
            entry |= {
                "matched": laying.matched,
                "residual_mm": laying.residual_mm,
                "stretch_mm": float(np.abs(laying.stretch_mm).max()),
            }
            if laying.is_mirror:
                (x, y), angle = laying.axis
                entry["axis"] = {"x_mm": x, "y_mm": y, "direction_deg": float(np.degrees(angle))}
            elif name == "repeat":
                entry["step_mm"] = [float(v) for v in laying.shift]
        out.append(entry)
    return out


def bridge_report(bridge: GapBridge) -> dict[str, Any]:
    """A proposed bridge: its gap, how strained it is, where it runs and how wide."""
    return {
        "gap_mm": bridge.gap_mm,
        "cost": bridge.cost,
        "at_mm": bridge.centre_mm.mean(axis=0).tolist(),
        "centre_mm": np.round(bridge.centre_mm, 4).tolist(),
        "width_mm": np.round(bridge.width_mm, 4).tolist(),
    }


def drawing_report(drawing: Drawing, tolerance_mm: float) -> dict[str, Any]:
    """Counts, lengths by grade and source, and the crossing check."""
    grades: Mapping[Grade, float] = drawing.length_by_grade()
    return {
        "paths": len(drawing.paths),
        "nodes": drawing.nodes,
        "length_mm": drawing.length_mm,
        "tolerance_mm": tolerance_mm,
        "length_by_grade_mm": {str(g): v for g, v in grades.items()},
        "length_by_source_mm": drawing.length_by_source(),
        "crossing_paths": len(crossings(drawing)),
    }


def _labels(count: int) -> tuple[str, ...]:
    return ("here", *(f"photograph {n + 1}" for n in range(1, count)))


def _srgb(linear: Sequence[float]) -> tuple[int, int, int]:
    r, g, b = (int(v) for v in np.round(encode(np.asarray(linear)) * 255.0))
    return r, g, b
