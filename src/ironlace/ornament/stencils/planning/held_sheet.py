"""The first sheet of a colour, held: bridged, and drawn in, until it is one sound piece."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from ironlace.evidence.arrays import Bools, Floats, Ints
from ironlace.ornament.stencils.bridges.alike import standing_alike
from ironlace.ornament.stencils.bridges.chains import with_shorter_chains
from ironlace.ornament.stencils.bridges.choice import HoldWanted, choose_spans
from ironlace.ornament.stencils.bridges.ground import Ground
from ironlace.ornament.stencils.bridges.groups import with_groups_held
from ironlace.ornament.stencils.bridges.necks import (
    Hanging,
    Reaches,
    hanging_on_one,
    lightest_hold,
)
from ironlace.ornament.stencils.bridges.repeated import standing_as_the_first
from ironlace.ornament.stencils.bridges.round_about import standing_round_about
from ironlace.ornament.stencils.bridges.spans import BridgeSpans
from ironlace.ornament.stencils.bridges.wishes import (
    BridgeLine,
    Wishes,
    rows_of,
    snapped,
    with_wishes,
)
from ironlace.ornament.stencils.errors import HoldingError
from ironlace.ornament.stencils.process import Process
from ironlace.ornament.stencils.regions import (
    cut_from,
    opened_at_touches,
    polygons_of,
    straight_lines,
)
from ironlace.ornament.stencils.remembered import Remembered
from ironlace.ornament.stencils.split.split_sheets import sides_to_set_back
from ironlace.ornament.stencils.webs import Web, thin_webs

Hold = Literal["bridges", "split", "mask"]
"""How islands are held: by bridges touched in by hand, by further sheets that lay them, or stuck
down with the sheet itself, which is carried over by transfer tape."""

MENDING_ROUNDS: Final = 8
"""How often a sheet is mended before it is given up (tuned; on what was not kept)."""

WIDER_EACH_ROUND: Final = 0.08
"""A web that stays thin sits awkwardly between corners: so much more is asked for each time (tuned;
on what was not kept)."""

_SPLIT_CLEAR: Final = 1.2
"""Bridges of a split stand so much farther apart than their patches need, so that one sheet can
lay neighbours (tuned; on what was not kept)."""

_ONE_BRIDGE: Final = 0.9
"""Nearer than so many widths, two bridges between the same parts are one (tuned)."""

_SPLIT_COST: Final = 3.0
"""Of a split, a bridge may weigh so many times more for standing clear of the others, since each
crowd of patches needs a further sheet (tuned; on what was not kept)."""


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


@dataclass(frozen=True, slots=True)
class NarrowHold:
    """A place on which alone more hangs than one bridge may hold.

    Attributes
    ----------
    where_mm
        Its middle.
    extent_mm
        How long what hangs on it is.
    width_mm
        How wide it is.
    """

    where_mm: tuple[float, float]
    extent_mm: float
    width_mm: float


@dataclass(frozen=True, eq=False)
class HeldSheet:
    """A first sheet in one piece.

    Attributes
    ----------
    openings
        What is cut, mm.
    bridges
        What holds it.
    hanging
        What is left so, since no bridge has room there.
    """

    openings: MultiPolygon
    bridges: list[Bridge]
    hanging: list[NarrowHold]


def held_sheet(
    openings: MultiPolygon,
    process: Process,
    hold: Hold,
    *,
    wishes: Wishes | None = None,
    rng: np.random.Generator | None = None,
    ground: Ground | None = None,
    remembered: Remembered | None = None,
) -> HeldSheet:
    """Openings bridged, and drawn in further, until the sheet is one piece and no web is thin.

    ``ground`` is what was worked out of the same openings before, ``remembered`` of single shapes.
    """
    wishes = wishes or Wishes()
    if ground is None:
        ground = Ground(openings, process.bridge_width_mm)
    first = ground
    now, bridges, webs = openings, list[Bridge](), list[Web]()
    changed: list[Polygon] | None = None
    hanging: list[NarrowHold] = []
    for mending in range(MENDING_ROUNDS):
        built = _bridged(ground, process, hold, wishes, rng)
        now, webs = _with_bridges(ground, built, process, changed, remembered)
        if not webs and not _loose(now):
            more, hanging = _held_once_more(
                first, [*bridges, *built], process, hold, wishes, remembered
            )
            if more:
                built += more
                now, webs = _with_bridges(ground, built, process, [], remembered)
        bridges += built
        if not webs and not _loose(now):
            return HeldSheet(now, bridges, hanging)
        # from now on only what is mended changes
        changed = [w.shape for w in webs]
        # a web that stays thin sits awkwardly between corners: ask for more each time
        wide = process.least_web_mm * (1.0 + WIDER_EACH_ROUND * mending)
        now = drawn_in(now, webs, wide, process, hold, remembered)
        ground = Ground(now, process.bridge_width_mm)
    loose = _loose(now)
    if loose or webs:
        raise HoldingError(
            f"{loose} islands and {len(webs)} thin webs remain after {MENDING_ROUNDS} rounds of "
            "mending: the drawing is too fine for this process; enlarge it or take a finer one."
        )
    return HeldSheet(now, bridges, hanging)


def _loose(openings: MultiPolygon) -> int:
    """How many parts of a sheet nothing holds."""
    return int(shapely.get_num_interior_rings(shapely.get_parts(openings)).sum())


def _with_bridges(
    ground: Ground,
    built: list[Bridge],
    process: Process,
    changed: list[Polygon] | None,
    remembered: Remembered | None,
) -> tuple[MultiPolygon, list[Web]]:
    """Openings less bridges, and thin webs where they ``changed`` or bridges stand; None: all."""
    lines = rows_of(b.line for b in built)
    # what was cut away may have left openings that touch in a point
    left = ground.without(lines[:, :2], lines[:, 2:], remembered)
    now = opened_at_touches(left, remembered=remembered)
    near = None if changed is None else [*changed, *(b.shape for b in built)]
    return now, thin_webs(now, process.least_web_mm, near=near, remembered=remembered)


def _held_once_more(
    ground: Ground,
    bridges: list[Bridge],
    process: Process,
    hold: Hold,
    wishes: Wishes,
    remembered: Remembered | None,
) -> tuple[list[Bridge], list[NarrowHold]]:
    """Bridges to what hangs on one narrow place, and what is left hanging; see `HeldSheet`."""
    width, most = process.bridge_width_mm, process.one_bridge_up_to_mm
    reaches = ground.reaches(remembered)
    between = ground.between_reaches
    lines = rows_of(b.line for b in bridges)
    ends, sides, ok = snapped(between, lines)
    reaches = reaches.joined(ends[ok].reshape(-1, 2, 2), sides[ok])
    others = Wishes(
        _not_among(wishes.locked, lines, width),
        _not_among(wishes.kept, lines, width),
        wishes.forbidden,
    )
    if not (others.locked or others.kept or hanging_on_one(reaches, most, width)):
        return [], []
    choice = with_wishes(between, others)
    spans, chosen, locked = choice.spans, choice.must.tolist(), choice.locked
    reaches = _joined(reaches, spans, choice.must)
    left: dict[int, Hanging] = {}
    while hung := [h for h in hanging_on_one(reaches, most, width) if h.cut not in left]:
        found = lightest_hold(
            spans,
            hung[0],
            reaches.cuts,
            clear_mm=(_clear_mm(process, hold), _clear_mm(process, "bridges")),
            apart_mm=process.anchor_spread * hung[0].extent_mm,
        )
        if found < 0:
            left[hung[0].cut] = hung[0]
        else:
            chosen.append(found)
            reaches = _joined(reaches, spans, np.array([found]))
    at = np.array(chosen, dtype=np.int64)
    necks = len(ground.reaches().cuts)
    places = []
    for h in left.values():
        x, y = reaches.cuts[h.cut].mean(axis=0)
        across = float(np.linalg.norm(np.diff(reaches.cuts[h.cut], axis=0)))
        wide = across if h.cut < necks else width
        places.append(NarrowHold((float(x), float(y)), h.extent_mm, wide))
    return _built(ground, spans.kept(at), np.isin(at, locked)), places


def _not_among(
    wished: tuple[BridgeLine, ...], built: Floats, width_mm: float
) -> tuple[BridgeLine, ...]:
    """Bridges wished for where none was built yet: an end may have moved with its shore."""
    from scipy.spatial import KDTree

    if not wished or len(built) == 0:
        return wished
    rows = rows_of(wished)
    away = np.asarray(KDTree(built[:, :2] + built[:, 2:]).query(rows[:, :2] + rows[:, 2:])[0])
    return tuple(b for b, far in zip(wished, away / 2.0, strict=True) if far > width_mm / 2.0)


def _joined(reaches: Reaches, spans: BridgeSpans, which: Ints) -> Reaches:
    built = spans.kept(which)
    return reaches.joined(
        np.stack([built.at_a, built.at_b], axis=1), np.stack([built.part_a, built.part_b], axis=1)
    )


def _clear_mm(process: Process, hold: Hold) -> float:
    """How far apart bridges stand."""
    if hold == "split":
        patched = process.bridge_width_mm + 2.0 * process.overlap_mm
        return _SPLIT_CLEAR * (patched + process.least_web_mm)
    return process.bridge_width_mm + process.least_opening_mm


def _bridged(
    ground: Ground,
    process: Process,
    hold: Hold,
    wishes: Wishes,
    rng: np.random.Generator | None,
) -> list[Bridge]:
    if not _loose(ground.openings):
        return []
    choice = with_wishes(ground, wishes)
    spans = choice.spans
    extent = ground.extent
    count = np.array([0, *(process.bridges_wanted(float(e)) for e in extent)], dtype=np.int64)
    apart = np.concatenate([[0.0], extent * process.anchor_spread])
    clear = _clear_mm(process, hold)
    wanted = HoldWanted(count, apart, clear, _SPLIT_COST if hold == "split" else 1.0)
    chosen = choose_spans(spans, wanted, locked=choice.must, rng=rng)
    chosen = with_groups_held(spans, chosen, wanted, ground.shore.parts)
    chosen = with_shorter_chains(spans, chosen, ground.shore.parts, clear)
    if not (wishes.locked or wishes.kept or wishes.forbidden):
        chosen = standing_round_about(spans, chosen, wanted, ground.shore.parts)
        spans, chosen, about = standing_alike(ground, spans, chosen, wanted)
        spans = standing_as_the_first(ground, spans.kept(chosen), wanted, about)
        chosen = np.arange(len(spans))
    chosen = _apart(spans, chosen, choice.locked, ground.width_mm)
    return _built(ground, spans.kept(chosen), np.isin(chosen, choice.locked))


def _apart(spans: BridgeSpans, chosen: Ints, locked: Ints, width_mm: float) -> Ints:
    """Bridges without those that lie on another between the same parts: both hold as one."""
    built = spans.kept(chosen)
    ends = np.sort(np.stack([built.part_a, built.part_b], axis=1), axis=1)
    lines = straight_lines(built.at_a, built.at_b)
    one, two = shapely.STRtree(lines).query(
        lines, predicate="dwithin", distance=_ONE_BRIDGE * width_mm
    )
    same = (one < two) & (ends[one] == ends[two]).all(axis=1)
    kept = np.ones(len(chosen), dtype=np.bool_)
    for a, b in zip(one[same].tolist(), two[same].tolist(), strict=True):
        if kept[a] and kept[b]:
            # what a person locked stays, then the lighter
            order = sorted((a, b), key=lambda n: (chosen[n] not in locked, built.weight[n]))
            kept[order[1]] = chosen[order[1]] in locked
    return chosen[kept]


def _built(ground: Ground, spans: BridgeSpans, locked: Bools) -> list[Bridge]:
    # as they are kept, so that a plan begun from them finds the same shapes
    at_a, at_b = np.round(spans.at_a, 4), np.round(spans.at_b, 4)
    return [
        Bridge(
            shape,
            float(length),
            float(shape.area),
            BridgeLine(*map(float, (*a, *b))),
            bool(lock),
        )
        for shape, length, a, b, lock in zip(
            ground.shapes(at_a, at_b), spans.length, at_a, at_b, locked, strict=True
        )
    ]


def drawn_in(
    openings: MultiPolygon,
    webs: list[Web],
    least_mm: float,
    process: Process,
    hold: Hold,
    remembered: Remembered | None = None,
) -> MultiPolygon:
    """Openings drawn in where webs are thin: on both sides, or for split sheets on one.

    Those that no web lies beside stay what they were, to the byte.
    """
    material = polygons_of(drawn_in_by(webs, least_mm, process, hold))
    return cut_from(openings, material, remembered)


def drawn_in_by(webs: list[Web], least_mm: float, process: Process, hold: Hold) -> shapely.Geometry:
    """What makes webs as wide as asked: material on both sides, or for split sheets on one."""
    if hold == "bridges":
        return shapely.union_all([w.widened(least_mm) for w in webs])
    sides = sides_to_set_back(webs, process)
    return shapely.union_all(
        [w.set_back(least_mm, keep) for w, keep in zip(webs, sides, strict=True)]
    )
