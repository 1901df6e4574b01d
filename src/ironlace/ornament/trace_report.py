"""What a trace tells of each of its steps: plain numbers and texts, ready for JSON."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from ironlace.evidence.arrays import Bounds
from ironlace.evidence.grades import Grade
from ironlace.ornament.gather.gap_bridges import GapBridge
from ironlace.ornament.gather.gathered import Gathered
from ironlace.ornament.gather.laying_over import Laying
from ironlace.ornament.gilt.gilt_map import GiltMap
from ironlace.ornament.outline.crossings import crossings
from ironlace.ornament.outline.drawing import Drawing
from ironlace.ornament.trace_asked import TraceAsked
from ironlace.ornament.trace_limits import within_mm
from ironlace.photographs.flat_picture import UNSEEN_FRAME, UNSEEN_GLARE, UNSEEN_STRIP, Flat
from ironlace.photographs.light_bands import light_bands
from ironlace.photographs.linear_light import encode
from ironlace.photographs.place_by_strip import Placing, place_uncertainty_mm
from ironlace.photographs.scale_beside import ScaleBeside
from ironlace.photographs.scale_strip import StripLayout

Report = dict[str, Any]
"""Numbers and texts by name, some of them in lists or under names of their own."""


def photograph_report(
    name: str,
    shape: tuple[int, ...],
    markers_read: int,
    placing: Placing,
    strip: StripLayout | Bounds,
    tolerance_mm: float = 0.04,
    gilt_blur_mm: float = math.nan,
    scale_sd: float = 0.0,
) -> Report:
    """What is known of one photograph's place: residuals, lens, surface, uncertainty.

    ``strip`` is its layout, or the bounds of measured places where there was none;
    ``gilt_blur_mm`` is the blur across the gilt's own edges, NaN where it was not measured, and
    ``scale_sd`` the share by which the strip's own length is in doubt.
    """
    left, top, right, bottom = strip.bounds_mm if isinstance(strip, StripLayout) else strip
    grid = np.stack(
        np.meshgrid(np.linspace(left, right, 7), np.linspace(top, bottom, 7)), axis=-1
    ).reshape(-1, 2)
    covered = grid[placing.surface.covers(grid)]
    sure = place_uncertainty_mm(placing, covered)
    # a wrong scale moves a place by more the farther it is from the middle
    afar = scale_sd * np.linalg.norm(covered - covered.mean(axis=0), axis=1)
    coarser, _ = placing.resolution(np.array([[(left + right) / 2, (top + bottom) / 2]]))
    evidence = placing.evidence
    told = {**json.loads(evidence.to_json()), "lens_contradicted": evidence.lens_contradicted}
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
        "within_mm": within_mm(
            placing, np.hypot(sure, afar), float(coarser[0]), tolerance_mm, gilt_blur_mm
        ),
        "gilt_blur_mm": gilt_blur_mm if math.isfinite(gilt_blur_mm) else None,
        "strip_evidence": told,
        "light_bands": light_bands(placing),
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


def strip_report(asked: TraceAsked, beside: Sequence[ScaleBeside]) -> Report:
    """How long the strip is drawn and, if that was said, what it measures, mm; and other sizes."""
    told: Report = {"drawn_mm": asked.drawn_layout.longer_mm}
    if asked.strip_mm is not None:
        known = asked.strip_mm
        told |= {"measured_mm": known.value, "error_mm": known.error, "by": known.source}
    told["beside"] = [
        {"what": one.what, "times": one.times, "sd": one.sd, "contradicts": one.contradicts}
        for one in beside
    ]
    return told


def scale_sd_of(strip: Report | None) -> float:
    """Share by which a strip's measured length is in doubt; 0 where nothing was said of it."""
    if not strip or not strip.get("error_mm"):
        return 0.0
    return float(strip["error_mm"] / strip["measured_mm"])


def flat_report(flat: Flat) -> Report:
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


def gilt_report(name: str, found: GiltMap) -> Report:
    """Colour, area and noise of the gilt found in one photograph."""
    area = float(found.coverage.sum(dtype=np.float64)) / 255.0 / found.px_per_mm**2
    return {
        "name": name,
        "colour_srgb": list(srgb_of(found.gilt_colour)),
        "area_mm2": area,
        "noise": found.noise,
        "faint_share": found.faint_share,
        "uneven": found.uneven,
        "colour_spread_mm": found.colour_spread_mm,
    }


def gathered_report(gathered: Gathered) -> list[Report]:
    """Every source of evidence, its grade, and how well it lies on the first."""
    out: list[Report] = []
    for name, grade, laying in zip(gathered.names, gathered.grades, gathered.layings, strict=True):
        entry: Report = {"name": name, "grade": str(grade)}
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


def untaken_report(gain: float, laying: Laying | None) -> Report | None:
    """What a mirror image that was not taken would fill; None where there is no such image."""
    if laying is None:
        return None
    (x, y), angle = laying.axis
    return {
        "fills_share": gain,
        "matched": laying.matched,
        "axis": {"x_mm": x, "y_mm": y, "direction_deg": float(np.degrees(angle))},
    }


def bridge_report(bridge: GapBridge) -> Report:
    """A proposed bridge: its gap, how strained it is, where it runs and how wide."""
    return {
        "gap_mm": bridge.gap_mm,
        "cost": bridge.cost,
        "at_mm": bridge.centre_mm.mean(axis=0).tolist(),
        "centre_mm": np.round(bridge.centre_mm, 4).tolist(),
        "width_mm": np.round(bridge.width_mm, 4).tolist(),
    }


def drawing_report(drawing: Drawing, tolerance_mm: float) -> Report:
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


def srgb_of(linear: Sequence[float]) -> tuple[int, int, int]:
    """Linear light as sRGB 0..255."""
    r, g, b = (int(v) for v in np.round(encode(np.asarray(linear)) * 255.0))
    return r, g, b
