"""A drawing to sheets, in one call, with proof."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely

from ironlace.evidence.progress import Progress, unheard
from ironlace.ornament.stencils.bridges.wishes import Wishes
from ironlace.ornament.stencils.cut.cutting import cut_length
from ironlace.ornament.stencils.laying import (
    Feature,
    about_the_middle,
    laying_notes,
    register_places,
    sheet_edge,
)
from ironlace.ornament.stencils.planning.held_sheet import Hold
from ironlace.ornament.stencils.planning.layer_plan import LayerPlan, Prepared, plan_layer, prepare
from ironlace.ornament.stencils.planning.plan_report import plan_report
from ironlace.ornament.stencils.planning.wrapping import Wrapping, wrapping
from ironlace.ornament.stencils.process import Process
from ironlace.ornament.stencils.regions import as_region
from ironlace.ornament.stencils.sheets import Sheet
from ironlace.photographs.surfaces import Plane, Surface

_LEAST_HOLE_MM: Final = 1.5
"""A register hole takes a pencil's point at least (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class Plan:
    """Sheets for a drawing, and proof that they hold and cover it.

    Attributes
    ----------
    sheets
        In the order of laying.
    layers
        One for each colour.
    report
        Everything told in plain numbers, for JSON.
    """

    sheets: tuple[Sheet, ...]
    layers: tuple[LayerPlan, ...]
    process: Process
    hold: Hold
    report: dict[str, Any]


def plan_sheets(  # long: every parameter is told
    drawing_svg: str,
    process: Process,
    hold: Hold,
    *,
    surface: Surface | None = None,
    crown_mm: float | None = None,
    features: Sequence[Feature] = (),
    trap_mm: float | None = None,
    wishes: Wishes | None = None,
    prepared: Prepared | None = None,
    rng: np.random.Generator | None = None,
    progress: Progress | None = None,
) -> Plan:
    """Plan the sheets for a drawing.

    Parameters
    ----------
    drawing_svg
        Any SVG of filled outlines in mm.
    hold
        ``"bridges"``: one sheet a colour, bridges touched in by hand. ``"split"``: further sheets
        whose openings lie over the bridges of the first. ``"mask"``: film with adhesive, stuck
        down, whose islands are carried over by transfer tape.
    surface
        What the ornament lies on; a plane if None.
    crown_mm
        Radius of a round surface's other curve, along its axis: positive where it bulges.
    features
        Places on the machine to lay the sheets by.
    trap_mm
        How far an under colour runs under a later one; the process's register error if None.
    wishes
        Bridges locked or kept, and places forbidden.
    prepared
        What `prepare` made of the same drawing, process, hold and trap, if it is at hand.
    rng
        For the search on small drawings; the same plan comes out every time if None.

    Raises
    ------
    OutlineError
        If the drawing cannot be read.
    HoldingError
        If it cannot be made to hold.
    """
    tell = progress or unheard
    tell("reading the drawing", 0.0)
    if prepared is None:
        prepared = prepare(drawing_svg, process, hold, trap_mm=trap_mm)
    layers: list[LayerPlan] = []
    for n, layer in enumerate(prepared.layers):
        tell(f"holding {layer.name}", 0.3 + 0.35 * n / len(prepared.layers))
        layers.append(
            plan_layer(layer, process, hold, wishes=wishes, rng=rng, remembered=prepared.remembered)
        )
    sheets, wrapped = _laid_out(
        layers, process, Plane() if surface is None else surface, features, crown_mm
    )
    tell("proving", 0.7)
    # the way between the cuts is a file's matter, and worked out when one is written
    cuts = [cut_length(sheet, process, prepared.remembered) for sheet in sheets]
    report = plan_report(prepared, layers, sheets, cuts, process, hold, wrapped, tell)
    tell("done", 1.0)
    return Plan(sheets, tuple(layers), process, hold, report.as_dict())


def _laid_out(
    layers: Sequence[LayerPlan],
    process: Process,
    surface: Surface,
    features: Sequence[Feature],
    crown_mm: float | None,
) -> tuple[tuple[Sheet, ...], Wrapping | None]:
    """The sheets of all colours, alike in edge, register holes and marks, and how they lie."""
    drawn = [layer.drawn for layer in layers]
    everything = drawn[0] if len(drawn) == 1 else as_region(shapely.unary_union(drawn))
    surface = about_the_middle(surface, everything)
    edge = sheet_edge(everything, surface, process.margin_mm)
    hole = max(_LEAST_HOLE_MM, 2.0 * process.least_opening_mm)
    places = register_places(everything, edge, hole)
    wrapped = wrapping(edge, drawn, surface, process, crown_mm)
    slits = [] if wrapped is None else wrapped.slits
    notes = (
        *laying_notes(edge, surface, features),
        *((np.array(slit).reshape(2, 2), "slit") for slit in slits),
    )
    every = ((layer.name, openings) for layer in layers for openings in layer.openings)
    return (
        tuple(
            Sheet(str(number), colour, openings, edge, places, hole, notes)
            for number, (colour, openings) in enumerate(every, start=1)
        ),
        wrapped,
    )
