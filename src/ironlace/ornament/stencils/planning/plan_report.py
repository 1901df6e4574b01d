"""What is told of a plan, in plain numbers: sizes, cuts, what is left for the hand, and the proof.

The proof reads the sheets from the SVG that will be cut, by scan lines: another way than they were
planned.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final, Self

import numpy as np
import shapely
from shapely import MultiPolygon

from ironlace.evidence.arrays import Floats
from ironlace.evidence.progress import Progress
from ironlace.ornament.stencils.cut.cutting import CutLength
from ironlace.ornament.stencils.planning.held_sheet import Bridge, Hold
from ironlace.ornament.stencils.planning.layer_plan import LayerPlan, Prepared
from ironlace.ornament.stencils.planning.raster_proof import (
    Application,
    pieces_of_sheet,
    raster_over,
    turns_of_sheet_svg,
    worst_applied,
)
from ironlace.ornament.stencils.planning.runs import Runs, filled_runs
from ironlace.ornament.stencils.planning.strength import Weakness
from ironlace.ornament.stencils.planning.weeding import weeding_order
from ironlace.ornament.stencils.planning.wrapping import Wrapping
from ironlace.ornament.stencils.process import Process
from ironlace.ornament.stencils.remembered import Remembered
from ironlace.ornament.stencils.sheets import Sheet
from ironlace.ornament.stencils.split.least_stray import least_stray
from ironlace.ornament.stencils.webs import Web, narrow_openings

_PX_PER_WEB: Final = 5.0
"""Pixels across the least web in which pieces are counted: a web of one pixel could break by
rounding, one of five cannot."""

_LEAST_SCALE, _MOST_SCALE = 12.0, 40.0
"""Pixels to the mm between which that is kept: coarser misses tips, finer only takes time."""

_PROOF_SCALE: Final = 25.0
"""Pixels to the mm in which sheets are laid on trial that are never off register (tuned)."""

_PROOF_STEPS: Final = (12, 5, 3, 2, 1)
"""Pixels that a register error spans, the finest first: so many have steps of that length in all
directions, 4 and 6 to 9 have not, and tell up to a tenth too much (worked out, and held against
sheets laid in finer pictures)."""

_PROOF_PIXELS: Final = 40_000_000
"""Pixels of a trial at most, 105 mm square in the finest: each of its pictures takes 40 MB."""

_LEAST_AIR_MM: Final = 2.0
"""Left around the drawing at least, for paint that strays."""


@dataclass(frozen=True, slots=True)
class SheetReport:
    """One sheet: its size, how it holds, how long it takes to cut without the ways between."""

    name: str
    colour: str
    openings: int
    area_mm2: float
    pieces: int
    loose_mm2: float
    thin_webs: int
    thinnest_mm: float | None
    cut_mm: float
    cut_minutes: float
    size_mm: list[float]
    narrow_openings: int
    lost_to_kerf: int
    over_bed: bool

    @classmethod
    def of(
        cls,
        sheet: Sheet,
        svg: str,
        cut: CutLength,
        webs: Sequence[Web],
        process: Process,
        remembered: Remembered | None = None,
    ) -> Self:
        """What is told of a sheet, by what will be cut.

        Its pieces are counted in pixels; openings are lost that are no wider than the cut itself.
        """
        scale = min(_MOST_SCALE, max(_LEAST_SCALE, _PX_PER_WEB / process.least_web_mm))
        pieces, loose = pieces_of_sheet(svg, sheet.edge.bounds, scale, remembered)
        left, top, right, bottom = sheet.edge.bounds
        size = sorted((right - left, bottom - top))
        bed = sorted((process.bed_width_mm, process.bed_height_mm))
        return cls(
            name=sheet.name,
            colour=sheet.colour,
            openings=len(sheet.openings.geoms),
            area_mm2=round(sheet.area_mm2, 3),
            pieces=pieces,
            loose_mm2=round(loose, 4),
            thin_webs=len(webs),
            thinnest_mm=round(min(w.width_mm for w in webs), 3) if webs else None,
            cut_mm=round(cut.cut_mm, 1),
            cut_minutes=round(cut.seconds / 60.0, 2),
            size_mm=[round(right - left, 2), round(bottom - top, 2)],
            narrow_openings=len(narrow_openings(sheet.openings, process.least_line_mm, remembered)),
            lost_to_kerf=cut.lost,
            over_bed=size[0] > bed[0] or size[1] > bed[1],
        )


@dataclass(frozen=True, slots=True)
class TouchIn:
    """What is left for the hand."""

    bridges: int
    length_mm: float
    area_mm2: float
    painted_back: int
    minutes: float

    @classmethod
    def of(cls, layers: Sequence[LayerPlan], process: Process, hold: Hold) -> Self:
        """What is touched in: bridges, unless a further sheet lays them, and islands left out."""
        touched = bridges_of(layers) if hold == "bridges" else []
        widened = sum(layer.widened_mm2 for layer in layers) if hold == "bridges" else 0.0
        painted = sum(len(layer.painted_back) for layer in layers)
        seconds = sum(process.touch_in_s + process.touch_in_s_mm * b.length_mm for b in touched)
        return cls(
            bridges=len(touched),
            length_mm=round(sum(b.length_mm for b in touched), 2),
            area_mm2=round(sum(b.area_mm2 for b in touched) + widened, 3),
            painted_back=painted,
            minutes=round((seconds + painted * process.touch_in_s) / 60.0, 1),
        )


@dataclass(frozen=True, slots=True)
class WeakPlace:
    """A place that droops or gives."""

    kind: str
    where_mm: list[float]
    length_mm: float
    width_mm: float
    gives_mm: float

    @classmethod
    def of(cls, weakness: Weakness) -> Self:
        """Rounded to what can be measured."""
        x, y = weakness.where_mm
        return cls(
            weakness.kind,
            [round(x, 2), round(y, 2)],
            round(weakness.length_mm, 2),
            round(weakness.width_mm, 2),
            round(weakness.gives_mm, 3),
        )


@dataclass(frozen=True, slots=True)
class ColourProof:
    """One colour laid on trial: true, off register, off register with creeping paint."""

    colour: str
    laid: list[dict[str, float]]
    least_stray: float


@dataclass(frozen=True, slots=True)
class PlanReport:
    """Everything told of a plan, in the order of its JSON."""

    process: str
    hold: Hold
    notices: list[str]
    read_otherwise: dict[str, Any]  # dict: what a second reader of the drawing makes of it
    colours: list[str]
    drawn_mm2: float
    islands: int
    crowded: int
    tongues: int
    narrow_openings: int
    bridges: int
    bridge_mm2: float
    bridge_mm: float
    widened_mm2: float
    sheets: list[SheetReport]
    touch_in: TouchIn
    weak: list[WeakPlace]
    proof: list[ColourProof]
    cautions: list[str]
    weeding: list[list[float]]
    wrapping: dict[str, Any] | None  # dict: how sheets lie on a round surface, in plain numbers

    def as_dict(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return asdict(self)


def plan_report(
    prepared: Prepared,
    layers: Sequence[LayerPlan],
    sheets: Sequence[Sheet],
    cuts: Sequence[CutLength],
    process: Process,
    hold: Hold,
    wrapped: Wrapping | None,
    progress: Progress,
) -> PlanReport:
    """Prove a plan, and tell all of it."""
    svgs = [sheet.svg(prepared.remembered) for sheet in sheets]
    bridges = bridges_of(layers)
    return PlanReport(
        process=process.name,
        hold=hold,
        notices=list(prepared.notices),
        read_otherwise=prepared.difference.as_dict(),
        colours=[layer.name for layer in layers],
        drawn_mm2=round(sum(float(layer.drawn.area) for layer in layers), 3),
        islands=sum(len(layer.falling.islands) for layer in layers),
        crowded=sum(len(layer.falling.webs) for layer in layers),
        tongues=sum(len(layer.falling.tongues) for layer in layers),
        narrow_openings=sum(len(layer.falling.narrow) for layer in layers),
        bridges=len(bridges),
        bridge_mm2=round(sum(b.area_mm2 for b in bridges), 4),
        bridge_mm=round(sum(b.length_mm for b in bridges), 3),
        widened_mm2=round(sum(layer.widened_mm2 for layer in layers), 4),
        sheets=_sheet_reports(layers, sheets, svgs, cuts, process, prepared.remembered, progress),
        touch_in=TouchIn.of(layers, process, hold),
        weak=[WeakPlace.of(w) for layer in layers for w in layer.weaknesses],
        proof=_proofs(layers, svgs, process, hold, prepared.remembered, progress),
        cautions=list(process.cautions),
        weeding=_weeding(layers) if hold == "mask" else [],
        wrapping=None if wrapped is None else wrapped.as_dict(),
    )


def _weeding(layers: Sequence[LayerPlan]) -> list[list[float]]:
    """Number, place in mm, area in mm^2 and islands of each part, colour after colour."""
    return [
        [part.number, *(round(v, 2) for v in part.where_mm), round(part.area_mm2, 3), part.islands]
        for layer in layers
        for part in weeding_order(layer.openings[0])
    ]


def bridges_of(layers: Sequence[LayerPlan]) -> list[Bridge]:
    """The bridges of all colours."""
    return [bridge for layer in layers for bridge in layer.bridges]


def _sheet_reports(
    layers: Sequence[LayerPlan],
    sheets: Sequence[Sheet],
    svgs: Sequence[str],
    cuts: Sequence[CutLength],
    process: Process,
    remembered: Remembered,
    progress: Progress,
) -> list[SheetReport]:
    thin = [webs for layer in layers for webs in layer.thin_left]
    out = []
    for n, (sheet, svg, cut, webs) in enumerate(zip(sheets, svgs, cuts, thin, strict=True)):
        progress("proving", 0.7 + 0.15 * n / len(sheets))
        out.append(SheetReport.of(sheet, svg, cut, webs, process, remembered))
    return out


def _proofs(
    layers: Sequence[LayerPlan],
    svgs: Sequence[str],
    process: Process,
    hold: Hold,
    remembered: Remembered,
    progress: Progress,
) -> list[ColourProof]:
    out = []
    at = 0
    for layer in layers:
        progress("laying on trial", 0.85)
        own = svgs[at : at + len(layer.openings)]
        at += len(layer.openings)
        laid = [t.as_dict() for t in prove_layer(layer.drawn, own, process, remembered)]
        least = round(_least_stray(layer, process, remembered), 6) if hold == "split" else 0.0
        out.append(ColourProof(layer.name, laid, least))
    return out


def _least_stray(layer: LayerPlan, process: Process, remembered: Remembered) -> float:
    """As of `least_stray`; its webs follow from what is drawn."""
    web, error = process.least_web_mm, process.registration_mm
    (least,) = remembered.each(
        ("least stray", web, error),
        np.array([layer.drawn], dtype=object),
        lambda _: [
            least_stray(
                layer.falling.webs, float(layer.drawn.area), least_web_mm=web, register_mm=error
            )
        ],
    )
    return least


def prove_layer(
    drawn: MultiPolygon,
    svgs: Sequence[str],
    process: Process,
    remembered: Remembered | None = None,
) -> list[Application]:
    """Lay the sheets of one colour on trial: true, off register, and with creeping paint."""
    remembered = remembered or Remembered()
    left, top, right, bottom = drawn.bounds
    air = max(_LEAST_AIR_MM, process.registration_mm + process.paint_spread_mm + 1.0)
    bounds = (left - air, top - air, right + air, bottom + air)
    raster = raster_over(bounds, _proof_scale(bounds, process.registration_mm), _PROOF_PIXELS)
    (drawn_picture,) = remembered.each(
        ("drawn", raster),
        np.array([drawn], dtype=object),
        lambda _: [filled_runs(_rings_of(drawn), raster)],
    )
    laid = [Runs.between(turns_of_sheet_svg(svg, raster, remembered)) for svg in svgs]
    trials = [(0.0, 0.0), (process.registration_mm, 0.0)]
    trials.append((process.registration_mm, process.paint_spread_mm))
    return [
        worst_applied(drawn_picture, laid, raster, register, spread, remembered)
        for register, spread in trials
    ]


def _proof_scale(bounds_mm: tuple[float, float, float, float], register_mm: float) -> float:
    """Pixels to the mm in which a register error is a whole number of them, as fine as can be."""
    if register_mm <= 0:
        return _PROOF_SCALE
    left, top, right, bottom = bounds_mm
    finest = float(np.sqrt(_PROOF_PIXELS / ((right - left) * (bottom - top))))
    fits = (n for n in _PROOF_STEPS if n / register_mm <= finest)
    return next(fits, _PROOF_STEPS[-1]) / register_mm


def _rings_of(drawn: MultiPolygon) -> list[Floats]:
    return [
        shapely.get_coordinates(ring)[:-1]
        for p in drawn.geoms
        for ring in (p.exterior, *p.interiors)
    ]
