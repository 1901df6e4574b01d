"""One colour of a drawing to its sheets: what falls out, how it is held, and what covers that."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from ironlace.ornament.stencils.bridges.ground import Ground
from ironlace.ornament.stencils.bridges.spans import tiled
from ironlace.ornament.stencils.bridges.wishes import Wishes
from ironlace.ornament.stencils.errors import OutlineError, StencilError
from ironlace.ornament.stencils.facing import nowhere_wide
from ironlace.ornament.stencils.filled_svg import DrawnAreas, Layer, read_filled, trapped
from ironlace.ornament.stencils.planning.drawn_again import Difference, read_again
from ironlace.ornament.stencils.planning.falling import (
    Falling,
    what_falls_out,
    without_small_islands,
)
from ironlace.ornament.stencils.planning.held_sheet import (
    MENDING_ROUNDS,
    WIDER_EACH_ROUND,
    Bridge,
    HeldSheet,
    Hold,
    drawn_in_by,
    held_sheet,
)
from ironlace.ornament.stencils.planning.slivers import without_slivers
from ironlace.ornament.stencils.planning.strength import Weakness, tongue_droop_mm, web_gives_mm
from ironlace.ornament.stencils.process import Process
from ironlace.ornament.stencils.regions import (
    areas_of,
    as_array,
    as_region,
    cut_from,
    grouped_numbers,
    mitred,
    opened_at_touches,
    overlaid,
    polygons_of,
    union_by_groups,
)
from ironlace.ornament.stencils.remembered import Remembered
from ironlace.ornament.stencils.split.covered import cut_away
from ironlace.ornament.stencils.split.hairs import ROUNDING_MM2, without_hairs
from ironlace.ornament.stencils.split.split_sheets import (
    cut_open,
    shared_out,
    wide_enough,
    worth_laying,
)
from ironlace.ornament.stencils.webs import Web, hanging_by_threads, thin_webs, widened

MOST_MM: Final = 2800.0
"""Longest side of a drawing: what is longer than any arm, bed or case has a wrong unit (tuned; on
what was not kept)."""

_MOST_TRAP_MM: Final = 3.0
"""How far an under colour may run under a later one at most: as far as a process's register error
may be."""

_BEYOND_MM2: Final = 0.01
"""Less than so much outside the page is rounding: a speck of a tenth of a mm (tuned)."""

_THREAD: Final = 0.25
"""What hangs by less than this share of the least web is let fall: it would not outlast weeding
(common practice, no source)."""

_KNOB_WEBS2: Final = 4.0
"""What hangs by a thread and is larger than so many squares of the least web is no knob: it is told
as a second piece (tuned; on what was not kept)."""

_CLEAN: Final = 0.96
"""Share of the least opening that a part of a further sheet must be wide somewhere, or it is left
out: patches are made as wide as comes out clean before, less what roundings take."""

_HAIR_MM: Final = 0.05
"""Openings of a further sheet have no tails finer than this: a fine knife's own width."""

_TILE_CORNERS: Final = 160
"""Corners of a tile of the ornament at most: what is asked about a patch costs little then
(tuned)."""

_SPECK_WEBS2: Final = 0.01
"""Specks up to a tenth of the least web across would cost a sheet and show to no one."""


Falls = tuple[tuple[dict[str, Any], ...], str]
"""What falls out of a drawing: the rows of its table, and its picture as SVG."""


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
    _grounds: dict[float, Ground] = field(default_factory=dict, repr=False)

    def ground_for(self, process: Process) -> Ground:
        """What is worked out of ``drawn_in`` for bridges of this process, once."""
        width = process.bridge_width_mm
        ground = self._grounds.get(width) or Ground(self.drawn_in, width, known=self.falling)
        return self._grounds.setdefault(width, ground)


@dataclass(frozen=True, eq=False)
class Prepared:
    """A drawing read and looked at: to be planned again and again while bridges are moved.

    ``difference`` says where a second reader sees it otherwise. ``remembered`` and ``falls``, by
    the picture's title, are what was worked out of it since.
    """

    notices: tuple[str, ...]
    layers: tuple[PreparedLayer, ...]
    difference: Difference
    remembered: Remembered = field(default_factory=Remembered, repr=False)
    falls: dict[str, Falls] = field(default_factory=dict, repr=False)


def prepare(
    drawing_svg: str, process: Process, hold: Hold, *, trap_mm: float | None = None
) -> Prepared:
    """Read a drawing and find what falls out of it; parameters and errors as of `plan_sheets`."""
    if hold not in ("bridges", "split", "mask"):
        raise StencilError(
            f"Islands are held by 'bridges', 'split' sheets or as a 'mask', not by {hold!r}."
        )
    if hold == "mask" and process.kind != "cut film":
        raise StencilError(
            f"{process.kind.capitalize()} cannot be stuck down as a mask: take a cut film with "
            "adhesive, or hold islands by bridges."
        )
    trap = process.registration_mm if trap_mm is None else trap_mm
    if not 0.0 <= trap <= _MOST_TRAP_MM:
        raise StencilError(
            f"An under colour cannot run {trap:g} mm under a later one: give 0 to "
            f"{_MOST_TRAP_MM:g} mm, about how far sheets are off register."
        )
    drawing = read_filled(drawing_svg)
    _sized(drawing.region.bounds, process)
    return Prepared(
        (*drawing.notices, *_beyond_the_page(drawing)),
        tuple(_prepared(layer, process, hold) for layer in trapped(drawing.layers, trap)),
        read_again(drawing_svg, drawing.region, drawing.bounds_mm),
    )


def _beyond_the_page(drawing: DrawnAreas) -> list[str]:
    """What no renderer shows of a drawing, since it lies outside its page, in words."""
    left, top, right, bottom = drawing.region.bounds
    page = drawing.bounds_mm
    if left >= page[0] and top >= page[1] and right <= page[2] and bottom <= page[3]:
        return []
    beyond = float(drawing.region.difference(shapely.box(*page)).area)
    if beyond < _BEYOND_MM2:
        return []
    return [
        f"{beyond:.1f} mm² lie outside the drawing's page, where programs do not show them: they "
        "are planned too; take them away, or make the page larger."
    ]


def _prepared(layer: Layer, process: Process, hold: Hold) -> PreparedLayer:
    if process.holds_islands:
        falling = what_falls_out(layer.region, process)
        return PreparedLayer(layer.name, layer.region, falling, layer.region, (), layer.region)
    if hold == "mask":
        falling = what_falls_out(layer.region, process)
        kept, gone = without_small_islands(layer.region, process.least_island_mm2)
        return PreparedLayer(layer.name, layer.region, falling, kept, tuple(gone), kept)
    drawn = opened_at_touches(layer.region)
    falling = what_falls_out(drawn, process)
    start, painted_back = without_small_islands(drawn, process.least_island_mm2)
    least = process.least_web_mm
    webs = thin_webs(start, least) if painted_back else list(falling.webs)
    # laid over it as a whole: its outlines then begin at the same corners wherever the drawing had
    # them begin, and bridges stand where they stood
    material = drawn_in_by(webs, least, process, hold)
    inner = as_region(overlaid(shapely.difference, start, material)) if webs else start
    return PreparedLayer(layer.name, drawn, falling, start, tuple(painted_back), inner)


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


def _further(
    first: MultiPolygon, start: MultiPolygon, process: Process, remembered: Remembered | None
) -> tuple[list[MultiPolygon], list[tuple[Web, ...]]]:
    """The further sheets that lay what the first one holds back, and the webs too thin in each."""
    remembered = remembered or Remembered()
    speck = _SPECK_WEBS2 * process.least_web_mm**2
    away = as_array(cut_away(start, first, remembered))
    covered = list(away[shapely.area(away) > speck])
    (pieces,) = remembered.each(
        ("tiles", _TILE_CORNERS), as_array([start]), lambda _: [tiled(start, _TILE_CORNERS)]
    )
    covered, patches = worth_laying(covered, start, process, pieces, remembered)
    patches = wide_enough(patches, covered, pieces, process, remembered)
    rings = shapely.get_num_interior_rings(as_array(patches)) > 0
    patches = [
        piece
        for patch, closed in zip(patches, rings.tolist(), strict=True)
        for piece in (cut_open(patch, process.overlap_mm, 5.0 * speck) if closed else [patch])
    ]
    openings: list[MultiPolygon] = []
    thin_left: list[tuple[Web, ...]] = []
    for sheet in shared_out(patches, process.least_web_mm, remembered):
        further, left = _without_thin_webs(sheet, covered, process.least_web_mm, remembered)
        cut = _cuttable(_without_knobs(further, process, remembered)[0], process, remembered)
        # nothing that comes out clean is left of some patches: no sheet is cut for them
        if not cut.is_empty:
            openings.append(cut)
            thin_left.append(tuple(left))
    return openings, thin_left


def plan_layer(
    layer: PreparedLayer,
    process: Process,
    hold: Hold,
    *,
    wishes: Wishes | None = None,
    rng: np.random.Generator | None = None,
    remembered: Remembered | None = None,
) -> LayerPlan:
    """Sheets for one colour; ``remembered`` is what was found about single shapes before."""
    drawn, falling, start = layer.drawn, layer.falling, layer.start
    if process.holds_islands:
        return LayerPlan(layer.name, drawn, falling, (), 0.0, (), (drawn,), (), ((),))
    if hold == "mask":
        webs = tuple(thin_webs(start, process.least_web_mm))
        gone = layer.painted_back
        return LayerPlan(layer.name, drawn, falling, (), 0.0, gone, (start,), (), (webs,))
    ground = layer.ground_for(process)
    sheet = held_sheet(
        layer.drawn_in,
        process,
        hold,
        wishes=wishes,
        rng=rng,
        ground=ground,
        remembered=remembered,
    )
    bridges = sheet.bridges
    held = without_slivers(sheet.openings, start, falling.narrow, process, remembered)
    first, knobs = _without_knobs(held, process, remembered)
    painted_back = [*layer.painted_back, *knobs]
    bridge_area = sum(b.area_mm2 for b in bridges)
    widened_mm2 = max(0.0, float(start.area - first.area) - bridge_area)
    further, left = _further(first, start, process, remembered) if hold == "split" else ([], [])
    openings = [first, *further]
    # the first sheet has none, or it could not have been held
    thin_left: list[tuple[Web, ...]] = [(), *left]
    return LayerPlan(
        layer.name,
        drawn,
        falling,
        tuple(bridges),
        widened_mm2,
        tuple(painted_back),
        tuple(openings),
        _weaknesses(falling, sheet, process),
        tuple(thin_left),
    )


def _without_knobs(
    openings: MultiPolygon, process: Process, remembered: Remembered | None
) -> tuple[MultiPolygon, list[Polygon]]:
    """Openings that take in what would hang by a thread, and that, to be painted back."""
    least, remembered = process.least_web_mm, remembered or Remembered()
    # what is larger is no knob: it is left to be told as a second piece
    knobs = [
        k
        for k in hanging_by_threads(openings, _THREAD * least, remembered)
        if k.area < _KNOB_WEBS2 * least**2
    ]
    if not knobs:
        return openings, []
    parts = remembered.parts(openings)
    every = np.concatenate([parts, as_array(knobs)])
    knob, other = shapely.STRtree(every).query(every[len(parts) :], predicate="intersects")
    groups = grouped_numbers(len(every), knob + len(parts), other)
    # openings that no knob lies at stay what they are, and are not looked at again
    taken = [group for group in groups if group[-1] >= len(parts)]
    split = [int((group < len(parts)).sum()) for group in taken]
    names = np.array(remembered.numbers(every))
    found = remembered.by(
        ("knobs",),
        [(n, *names[group].tolist()) for n, group in zip(split, taken, strict=True)],
        lambda new: [_taken_in(every[taken[n]], split[n]) for n in new],
    )
    alone = np.delete(parts, np.concatenate([group[group < len(parts)] for group in taken]))
    gone = [p for _, own in found for p in own]
    return remembered.region([*alone, *(p for whole, _ in found for p in whole)]), gone


def _taken_in(shapes: NDArray[np.object_], openings: int) -> tuple[list[Polygon], list[Polygon]]:
    """The first shapes, openings, with the others, knobs; and what of these was no opening."""
    own = MultiPolygon(list(shapes[:openings]))
    gone = [p for knob in shapes[openings:] for p in polygons_of(knob.difference(own))]
    whole = overlaid(shapely.union, own, overlaid(shapely.union_all, shapes[openings:]))
    return polygons_of(whole), gone


def _cuttable(
    openings: MultiPolygon, process: Process, remembered: Remembered | None
) -> MultiPolygon:
    """A further sheet's openings without those that nowhere are as wide as comes out clean.

    Narrow places of the others are told, not taken: what they lay is bare otherwise. Only tails
    finer than a hair go, which no cutter shows, and hairs of the sheet within an opening.
    """
    crumb = _KNOB_WEBS2 * process.least_web_mm**2
    clean = _CLEAN * process.least_opening_mm
    remembered = remembered or Remembered()
    found = remembered.each(
        ("cuttable", crumb, clean),
        remembered.parts(openings),
        lambda new: _cuttable_each(new, crumb, clean),
    )
    return remembered.region([part for own in found for part in own])


def _cuttable_each(
    openings: NDArray[np.object_], crumb_mm2: float, clean_mm: float
) -> list[list[Polygon]]:
    """What comes out clean of each opening, by itself."""
    whole, of = without_hairs(openings, _HAIR_MM, crumb_mm2)
    outer = mitred(mitred(whole, -_HAIR_MM / 2.0), _HAIR_MM / 2.0)
    # mitred, all but tails and points comes out as it went in
    for n in np.flatnonzero(shapely.area(whole) - shapely.area(outer) > ROUNDING_MM2):
        whole[n] = union_by_groups(np.asarray(shapely.get_parts(outer[n]), dtype=object))
    parts, part = areas_of(whole)
    kept = ~nowhere_wide(parts, clean_mm)
    out: list[list[Polygon]] = [[] for _ in openings]
    for shape, at in zip(parts[kept], of[part[kept]].tolist(), strict=True):
        out[at].append(shape)
    return out


def _without_thin_webs(
    openings: MultiPolygon,
    covered: Sequence[Polygon],
    least_mm: float,
    remembered: Remembered | None,
) -> tuple[MultiPolygon, list[Web]]:
    """A sheet of patches with any thin web between lobes of one patch made wide enough.

    Tails give way first: under them the first sheet has painted already. Told are also the webs
    that stay thin.
    """
    now = openings
    needed = np.asarray(covered, dtype=object)
    tree = shapely.STRtree(needed)
    for mending in range(MENDING_ROUNDS):
        webs = thin_webs(now, least_mm, remembered=remembered, between_tips=False)
        if not webs:
            return now, []
        width = least_mm * (1.0 + WIDER_EACH_ROUND * mending)
        if mending < MENDING_ROUNDS // 2:
            # as far as a web could need: either side may be the one that has to give
            near = shapely.union_all([w.shape.buffer(width) for w in webs])
            cuts = []
            for around in polygons_of(near):
                own = needed[np.sort(tree.query(around, predicate="intersects"))]
                cuts += polygons_of(around.difference(shapely.union_all(own)))
            now = cut_from(now, cuts, remembered)
        else:
            now = widened(now, webs, width)
    return now, thin_webs(now, least_mm, remembered=remembered, between_tips=False)


def _weaknesses(falling: Falling, sheet: HeldSheet, process: Process) -> tuple[Weakness, ...]:
    out = []
    for tongue in falling.tongues:
        at = tongue.shape.representative_point()
        droop = tongue_droop_mm(tongue.length_mm, process)
        out.append(Weakness("tongue", (at.x, at.y), tongue.length_mm, tongue.width_mm, droop))
    for held in sheet.hanging:
        droop = tongue_droop_mm(held.extent_mm, process)
        out.append(Weakness("neck", held.where_mm, held.extent_mm, held.width_mm, droop))
    for bridge in sheet.bridges:
        gives = web_gives_mm(bridge.length_mm, process.bridge_width_mm, process)
        if gives > process.droop_mm:
            at = bridge.shape.representative_point()
            out.append(
                Weakness("web", (at.x, at.y), bridge.length_mm, process.bridge_width_mm, gives)
            )
    return tuple(out)
