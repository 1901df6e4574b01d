"""A drawing to sheets, in one call, with proof."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from ironlace.evidence.progress import Progress
from ironlace.ornament.stencils.bridges.choice import HoldWanted, choose_spans
from ironlace.ornament.stencils.bridges.spans import bridge_shapes, find_spans
from ironlace.ornament.stencils.bridges.wishes import BridgeLine, Wishes, with_wishes
from ironlace.ornament.stencils.cutting import CutPlan, cut_plan
from ironlace.ornament.stencils.errors import HoldingError, OutlineError, StencilError
from ironlace.ornament.stencils.falling import (
    Falling,
    extents,
    what_falls_out,
    without_small_islands,
)
from ironlace.ornament.stencils.filled_svg import Layer, read_filled, trapped
from ironlace.ornament.stencils.laying import (
    Feature,
    laying_notes,
    register_places,
    sheet_edge,
)
from ironlace.ornament.stencils.parts import shores
from ironlace.ornament.stencils.process import Process
from ironlace.ornament.stencils.raster_proof import (
    Application,
    crept,
    filled,
    laid_further,
    pieces_of_sheet,
    raster_over,
    rings_of_sheet_svg,
    worst_applied,
)
from ironlace.ornament.stencils.regions import as_region, opened_at_touches, polygons_of
from ironlace.ornament.stencils.sheets import Sheet
from ironlace.ornament.stencils.split.least_stray import least_stray
from ironlace.ornament.stencils.split.split_sheets import (
    cut_open,
    kept_off_edges,
    shared_out,
    sides_to_set_back,
    worth_laying,
)
from ironlace.ornament.stencils.strength import Weakness, tongue_droop_mm, web_gives_mm
from ironlace.ornament.stencils.webs import Web, hanging_by_threads, thin_webs, widened
from ironlace.photographs.surfaces import Plane, Surface

Hold = Literal["bridges", "split"]

MOST_MM: Final = 2800.0
"""Longest side of a drawing."""

_MENDING_ROUNDS: Final = 8

_THREAD: Final = 0.25
"""What hangs by less than this share of the least web is let fall."""


@dataclass(frozen=True, eq=False)
class Bridge:
    """One bridge.

    Attributes
    ----------
    shape
        What it takes of the opening.
    length_mm
        From shore to shore.
    area_mm2
        Of its shape.
    line
        Its middle line.
    locked
        Whether a person wants it where it is.
    """

    shape: Polygon
    length_mm: float
    area_mm2: float
    line: BridgeLine
    locked: bool = False


@dataclass(frozen=True, eq=False)
class LayerPlan:
    """The sheets of one colour and why they are so.

    ``thin_left`` are the webs under the least width that each sheet still has: none, unless it
    could not be helped.
    """

    name: str
    drawn: MultiPolygon
    falling: Falling
    bridges: tuple[Bridge, ...]
    widened_mm2: float
    painted_back: tuple[Polygon, ...]
    openings: tuple[MultiPolygon, ...]
    weaknesses: tuple[Weakness, ...]
    thin_left: tuple[tuple[Web, ...], ...]


@dataclass(frozen=True, eq=False)
class PreparedLayer:
    """One colour before its islands are held: what does not depend on where bridges stand.

    Attributes
    ----------
    drawn
        What is to be laid.
    falling
        What is wrong with it.
    start
        The same without islands too small to hold, which are in ``painted_back``.
    drawn_in
        The same with thin webs made wide enough.
    """

    name: str
    drawn: MultiPolygon
    falling: Falling
    start: MultiPolygon
    painted_back: tuple[Polygon, ...]
    drawn_in: MultiPolygon


@dataclass(frozen=True, eq=False)
class Prepared:
    """A drawing read and looked at: to be planned again and again while bridges are moved."""

    notices: tuple[str, ...]
    layers: tuple[PreparedLayer, ...]


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
    cuts
        The way a cutter goes over each sheet.
    """

    sheets: tuple[Sheet, ...]
    layers: tuple[LayerPlan, ...]
    process: Process
    hold: Hold
    report: dict[str, Any]
    cuts: tuple[CutPlan, ...] = ()


def plan_sheets(
    drawing_svg: str,
    process: Process,
    hold: Hold,
    *,
    surface: Surface | None = None,
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
        whose openings lie over the bridges of the first.
    surface
        What the ornament lies on; a plane if None.
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

    def tell(stage: str, share: float) -> None:
        if progress is not None:
            progress(stage, share)

    tell("reading the drawing", 0.0)
    if prepared is None:
        prepared = prepare(drawing_svg, process, hold, trap_mm=trap_mm)
    surface = Plane() if surface is None else surface
    layers: list[LayerPlan] = []
    for n, layer in enumerate(prepared.layers):
        share = 0.3 + 0.35 * n / len(prepared.layers)
        tell(f"holding {layer.name}", share)
        layers.append(plan_layer(layer, process, hold, wishes=wishes, rng=rng))
    everything = as_region(shapely.unary_union([layer.drawn for layer in layers]))
    edge = sheet_edge(everything, surface, process.margin_mm)
    hole = max(1.5, 2.0 * process.least_opening_mm)
    places = register_places(everything, edge, hole)
    notes = laying_notes(edge, surface, features)
    sheets: list[Sheet] = []
    for plan in layers:
        for openings in plan.openings:
            name = str(len(sheets) + 1)
            sheets.append(Sheet(name, plan.name, openings, edge, places, hole, notes))
    tell("proving", 0.7)
    cuts = [cut_plan(sheet, process) for sheet in sheets]
    report = _report(prepared.notices, layers, sheets, cuts, process, hold, tell)
    tell("done", 1.0)
    return Plan(tuple(sheets), tuple(layers), process, hold, report, tuple(cuts))


def prepare(
    drawing_svg: str, process: Process, hold: Hold, *, trap_mm: float | None = None
) -> Prepared:
    """Read a drawing and find what falls out of it; parameters and errors as of `plan_sheets`."""
    if hold not in ("bridges", "split"):
        raise StencilError(f"Islands are held by 'bridges' or 'split' sheets, not by {hold!r}.")
    drawing = read_filled(drawing_svg)
    _sized(drawing.region.bounds, process)
    trap = process.registration_mm if trap_mm is None else trap_mm
    return Prepared(
        tuple(drawing.notices),
        tuple(_prepared(layer, process, hold) for layer in trapped(drawing.layers, trap)),
    )


def _prepared(layer: Layer, process: Process, hold: Hold) -> PreparedLayer:
    if process.holds_islands:
        falling = what_falls_out(layer.region, process)
        return PreparedLayer(layer.name, layer.region, falling, layer.region, (), layer.region)
    drawn = opened_at_touches(layer.region)
    falling = what_falls_out(drawn, process)
    start, painted_back = without_small_islands(drawn, process.least_island_mm2)
    least = process.least_web_mm
    webs = thin_webs(start, least) if painted_back else list(falling.webs)
    drawn_in = _drawn_in(start, webs, least, process, hold)
    return PreparedLayer(layer.name, drawn, falling, start, tuple(painted_back), drawn_in)


def _sized(bounds: tuple[float, float, float, float], process: Process) -> None:
    """Refuse a drawing whose size tells of a wrong unit."""
    wide, high = bounds[2] - bounds[0], bounds[3] - bounds[1]
    if max(wide, high) > MOST_MM:
        raise OutlineError(
            f"The drawing is {wide:.0f} by {high:.0f} mm, and at most {MOST_MM:.0f} mm are planned "
            "at once: check its unit, or split it."
        )
    if max(wide, high) < process.least_line_mm:
        raise OutlineError(
            f"The drawing is {wide:.3g} by {high:.3g} mm, less than the narrowest opening of "
            f"{process.least_line_mm:g} mm: check its unit."
        )


def plan_layer(
    layer: PreparedLayer,
    process: Process,
    hold: Hold,
    *,
    wishes: Wishes | None = None,
    rng: np.random.Generator | None = None,
) -> LayerPlan:
    """Sheets for one colour."""
    drawn, falling, start = layer.drawn, layer.falling, layer.start
    if process.holds_islands:
        return LayerPlan(layer.name, drawn, falling, (), 0.0, (), (drawn,), (), ((),))
    held, bridges = held_sheet(layer.drawn_in, process, hold, wishes=wishes, rng=rng)
    first, knobs = _without_knobs(held, process)
    painted_back = [*layer.painted_back, *knobs]
    bridge_area = sum(b.area_mm2 for b in bridges)
    widened_mm2 = max(0.0, float(start.area - first.area) - bridge_area)
    openings = [first]
    # the first sheet has none, or it could not have been held
    thin_left: list[tuple[Web, ...]] = [()]
    if hold == "split":
        # specks, a tenth of the web across, would cost a sheet and show to no one
        speck = 0.01 * process.least_web_mm**2
        covered = [p for p in polygons_of(start.difference(first)) if p.area > speck]
        laid, patches = worth_laying(covered, start, process)
        bare = sum(p.area for p in covered) - sum(p.area for p in laid)
        covered = laid
        patches = [
            piece
            for patch in kept_off_edges(patches, start, process, bare)
            for piece in cut_open(patch, process.overlap_mm, 5.0 * speck)
        ]
        for sheet in shared_out(patches, process.least_web_mm):
            further, left = _without_thin_webs(sheet, covered, process.least_web_mm)
            openings.append(_without_knobs(further, process)[0])
            thin_left.append(tuple(left))
    return LayerPlan(
        layer.name, drawn, falling, tuple(bridges), widened_mm2, tuple(painted_back),
        tuple(openings), _weaknesses(falling, bridges, process), tuple(thin_left),
    )  # fmt: skip


def held_sheet(
    openings: MultiPolygon,
    process: Process,
    hold: Hold,
    *,
    wishes: Wishes | None = None,
    rng: np.random.Generator | None = None,
) -> tuple[MultiPolygon, list[Bridge]]:
    """Openings bridged, and drawn in further, until the sheet is one piece and no web is thin."""
    least = process.least_web_mm
    now = openings
    bridges: list[Bridge] = []
    changed: list[Polygon] | None = None
    for mending in range(_MENDING_ROUNDS):
        built = _bridged(now, process, hold, wishes or Wishes(), rng)
        bridges += built
        if built:
            now = as_region(
                now.difference(shapely.disjoint_subset_union_all([b.shape for b in built]))
            )
            if changed is not None:
                changed += [b.shape for b in built]
        # what was cut away may have left openings that touch in a point
        now = opened_at_touches(now)
        webs = thin_webs(now, least, near=changed)
        if not webs and not any(p.interiors for p in now.geoms):
            return now, bridges
        # from now on only what is mended changes
        changed = [w.shape for w in webs]
        # a web that stays thin sits awkwardly between corners: ask for more each time
        now = _drawn_in(now, webs, least * (1.0 + 0.08 * mending), process, hold)
    loose = sum(len(p.interiors) for p in now.geoms)
    if loose or webs:
        raise HoldingError(
            f"{loose} islands and {len(webs)} thin webs remain after {_MENDING_ROUNDS} rounds of "
            "mending: the drawing is too fine for this process; enlarge it or take a finer one."
        )
    return now, bridges


def _without_knobs(openings: MultiPolygon, process: Process) -> tuple[MultiPolygon, list[Polygon]]:
    """Openings that take in what would hang by a thread, and that, to be painted back."""
    least = process.least_web_mm
    # what is larger is no knob: it is left to be told as a second piece
    knobs = [k for k in hanging_by_threads(openings, _THREAD * least) if k.area < 4.0 * least**2]
    if not knobs:
        return openings, []
    gone = [p for knob in knobs for p in polygons_of(knob.difference(openings))]
    return as_region(openings.union(shapely.union_all(knobs))), gone


def _without_thin_webs(
    openings: MultiPolygon, covered: Sequence[Polygon], least_mm: float
) -> tuple[MultiPolygon, list[Web]]:
    """A sheet of patches with any thin web between lobes of one patch made wide enough.

    Tails give way first: under them the first sheet has painted already. Told are also the webs
    that stay thin.
    """
    now = openings
    needed = shapely.union_all(list(covered))
    for mending in range(_MENDING_ROUNDS):
        webs = thin_webs(now, least_mm)
        if not webs:
            return now, []
        width = least_mm * (1.0 + 0.08 * mending)
        if mending < _MENDING_ROUNDS // 2:
            # as far as a web could need: either side may be the one that has to give
            near = shapely.union_all([w.shape.buffer(width) for w in webs])
            now = as_region(now.difference(near.difference(needed)))
        else:
            now = widened(now, webs, width)
    return now, thin_webs(now, least_mm)


def _drawn_in(
    openings: MultiPolygon, webs: list[Web], least_mm: float, process: Process, hold: Hold
) -> MultiPolygon:
    """Openings drawn in where webs are thin: on both sides, or for split sheets on one."""
    if hold == "bridges" or not webs:
        return widened(openings, webs, least_mm)
    sides = sides_to_set_back(webs, process)
    more = [w.set_back(least_mm, keep) for w, keep in zip(webs, sides, strict=True)]
    return as_region(openings.difference(shapely.union_all(more)))


def _bridged(
    openings: MultiPolygon,
    process: Process,
    hold: Hold,
    wishes: Wishes,
    rng: np.random.Generator | None,
) -> list[Bridge]:
    shore = shores(openings)
    if shore.parts < 2:
        return []
    width = process.bridge_width_mm
    choice = with_wishes(openings, shore, find_spans(openings, shore, width), wishes, width)
    spans = choice.spans
    extent = extents(shore.island_outlines())
    count = np.array([0, *(process.bridges_wanted(float(e)) for e in extent)], dtype=np.int64)
    apart = np.concatenate([[0.0], extent * process.anchor_spread])
    clear = width + process.least_opening_mm
    split = hold == "split"
    if split:
        clear = 1.2 * (width + 2.0 * process.overlap_mm + process.least_web_mm)
    wanted = HoldWanted(count, apart, clear, 3.0 if split else 1.0)
    chosen = choose_spans(spans, wanted, locked=choice.must, rng=rng)
    locked = np.isin(chosen, choice.locked)
    picked = spans.kept(chosen)
    shapes = bridge_shapes(openings, picked.at_a, picked.at_b, width)
    return [
        Bridge(
            shape,
            float(length),
            float(shape.area),
            BridgeLine(*np.round([*a, *b], 4).tolist()),
            bool(lock),
        )
        for shape, length, a, b, lock in zip(
            shapes, picked.length, picked.at_a, picked.at_b, locked, strict=True
        )
    ]


def _weaknesses(
    falling: Falling, bridges: Sequence[Bridge], process: Process
) -> tuple[Weakness, ...]:
    out = []
    for tongue in falling.tongues:
        at = tongue.shape.representative_point()
        droop = tongue_droop_mm(tongue.length_mm, process)
        out.append(Weakness("tongue", (at.x, at.y), tongue.length_mm, tongue.width_mm, droop))
    for bridge in bridges:
        gives = web_gives_mm(bridge.length_mm, process.bridge_width_mm, process)
        if gives > process.droop_mm:
            at = bridge.shape.representative_point()
            out.append(
                Weakness("web", (at.x, at.y), bridge.length_mm, process.bridge_width_mm, gives)
            )
    return tuple(out)


def _report(
    notices: Sequence[str],
    layers: Sequence[LayerPlan],
    sheets: Sequence[Sheet],
    cuts: Sequence[CutPlan],
    process: Process,
    hold: Hold,
    tell: Progress,
) -> dict[str, Any]:
    scale = min(40.0, max(12.0, 5.0 / process.least_web_mm))
    told_sheets = []
    svgs = [sheet.svg() for sheet in sheets]
    thin = [webs for layer in layers for webs in layer.thin_left]
    for n, (sheet, cut, webs) in enumerate(zip(sheets, cuts, thin, strict=True)):
        tell("proving", 0.7 + 0.15 * n / len(sheets))
        pieces, loose = pieces_of_sheet(svgs[n], sheet.edge.bounds, scale)
        told_sheets.append(
            {
                "name": sheet.name,
                "colour": sheet.colour,
                "openings": len(sheet.openings.geoms),
                "area_mm2": round(sheet.area_mm2, 3),
                "pieces": pieces,
                "loose_mm2": round(loose, 4),
                "thin_webs": len(webs),
                "thinnest_mm": round(min((w.width_mm for w in webs), default=math.nan), 3)
                if webs
                else None,
                "cut_mm": round(cut.cut_mm, 1),
                "travel_mm": round(cut.travel_mm, 1),
                "nearest_travel_mm": round(cut.nearest_travel_mm, 1),
                "cut_minutes": round(cut.seconds / 60.0, 2),
                "size_mm": [
                    round(sheet.edge.bounds[2] - sheet.edge.bounds[0], 2),
                    round(sheet.edge.bounds[3] - sheet.edge.bounds[1], 2),
                ],
            }
        )
    proofs = []
    at = 0
    for layer in layers:
        tell("laying on trial", 0.85)
        own = svgs[at : at + len(layer.openings)]
        at += len(layer.openings)
        proofs.append(prove_layer(layer.drawn, own, process))
    touched = [b for layer in layers for b in layer.bridges] if hold == "bridges" else []
    widened_mm2 = sum(layer.widened_mm2 for layer in layers) if hold == "bridges" else 0.0
    seconds = sum(process.touch_in_s + process.touch_in_s_mm * b.length_mm for b in touched)
    painted = [p for layer in layers for p in layer.painted_back]
    seconds += len(painted) * process.touch_in_s
    return {
        "process": process.name,
        "hold": hold,
        "notices": list(notices),
        "colours": [layer.name for layer in layers],
        "drawn_mm2": round(sum(float(layer.drawn.area) for layer in layers), 3),
        "islands": sum(len(layer.falling.islands) for layer in layers),
        "crowded": sum(len(layer.falling.webs) for layer in layers),
        "tongues": sum(len(layer.falling.tongues) for layer in layers),
        "narrow_openings": sum(len(layer.falling.narrow) for layer in layers),
        "bridges": sum(len(layer.bridges) for layer in layers),
        "bridge_mm2": round(sum(b.area_mm2 for la in layers for b in la.bridges), 4),
        "bridge_mm": round(sum(b.length_mm for la in layers for b in la.bridges), 3),
        "widened_mm2": round(sum(layer.widened_mm2 for layer in layers), 4),
        "sheets": told_sheets,
        "touch_in": {
            "bridges": len(touched),
            "length_mm": round(sum(b.length_mm for b in touched), 2),
            "area_mm2": round(sum(b.area_mm2 for b in touched) + widened_mm2, 3),
            "painted_back": len(painted),
            "minutes": round(seconds / 60.0, 1),
        },
        "weak": [
            {
                "kind": w.kind,
                "where_mm": [round(w.where_mm[0], 2), round(w.where_mm[1], 2)],
                "length_mm": round(w.length_mm, 2),
                "width_mm": round(w.width_mm, 2),
                "gives_mm": round(w.gives_mm, 3),
            }
            for layer in layers
            for w in layer.weaknesses
        ],
        "proof": [
            {
                "colour": layer.name,
                "laid": [p.as_dict() for p in told],
                "least_stray": round(_least_stray(layer, process), 6) if hold == "split" else 0.0,
            }
            for layer, told in zip(layers, proofs, strict=True)
        ],
        "cautions": list(process.cautions),
    }


def _least_stray(layer: LayerPlan, process: Process) -> float:
    return least_stray(
        layer.falling.webs,
        float(layer.drawn.area),
        least_web_mm=process.least_web_mm,
        register_mm=process.registration_mm,
    )


def prove_layer(drawn: MultiPolygon, svgs: Sequence[str], process: Process) -> list[Application]:
    """Lay the sheets of one colour on trial: true, off register, and with creeping paint."""
    rings = [
        shapely.get_coordinates(ring)[:-1]
        for p in drawn.geoms
        for ring in (p.exterior, *p.interiors)
    ]
    left, top, right, bottom = drawn.bounds
    air = max(2.0, process.registration_mm + process.paint_spread_mm + 1.0)
    bounds = (left - air, top - air, right + air, bottom + air)
    raster = raster_over(bounds, 25.0, 30_000_000)
    if process.registration_mm > 0:
        # as fine as makes the register error a whole number of pixels
        steps = max(1, round(process.registration_mm * raster.px_per_mm))
        raster = raster_over(bounds, steps / process.registration_mm, 60_000_000)
    drawn_picture = filled(rings, raster)
    through = [rings_of_sheet_svg(svg) for svg in svgs]
    first = filled(through[0], raster)
    pictures = {}
    for spread in (0.0, process.paint_spread_mm):
        if spread not in pictures:
            laid = laid_further(through[1:], raster, spread)
            pictures[spread] = (crept(first, spread, raster), laid)
    trials = [(0.0, 0.0), (process.registration_mm, 0.0)]
    trials.append((process.registration_mm, process.paint_spread_mm))
    return [
        worst_applied(drawn_picture, *pictures[spread], raster, register, spread)
        for register, spread in trials
    ]
