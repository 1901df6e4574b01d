"""What holds a part of the sheet with all that hangs on it, and the bridges it still lacks.

A disc whose own islands hang on it alone has many bridges, and yet falls with two: those to its
islands hold nothing. What holds a part are its bridges in the block of the graph that leads to the
sheet (blocks: Hopcroft and Tarjan 1973); all its other blocks hang on it.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from ironlace.evidence.arrays import Bools, Floats, Ints
from ironlace.ornament.stencils.bridges.choice import HoldWanted, linked_groups
from ironlace.ornament.stencils.bridges.spans import BridgeSpans
from ironlace.ornament.stencils.regions import straight_lines

_GAP: Final = 0.5
"""Of the distance that two bridges of a part stand apart, so much lies between any two if it can
be: a third beside the first holds no more than that does (tuned)."""


def holding(part_a: Ints, part_b: Ints, parts: int) -> list[Ints]:
    """For each part the numbers of the bridges that hold it with all that hangs on it.

    Those of the sheet, part 0, and of what is loose are none.

    >>> [found.tolist() for found in holding(np.array([0, 0, 1, 1]), np.array([1, 1, 2, 2]), 3)]
    [[], [0, 1], [2, 3]]
    """
    links: dict[int, list[int]] = {part: [] for part in range(parts)}
    for a, b in zip(part_a.tolist(), part_b.tolist(), strict=True):
        links[a].append(b)
        links[b].append(a)
    came, block = _blocks(links)
    out: list[list[int]] = [[] for _ in range(parts)]
    for e, (a, b) in enumerate(zip(part_a.tolist(), part_b.tolist(), strict=True)):
        if a == b or a not in came:
            continue
        # a walk in depth comes to one end from the other: the later one is held by the bridge
        above, below = (a, b) if came[a] < came[b] else (b, a)
        out[below].append(e)
        if above > 0 and block[above] == block[below]:
            out[above].append(e)
    return [np.array(found, dtype=np.int64) for found in out]


def _blocks(links: dict[int, list[int]]) -> tuple[dict[int, int], dict[int, int]]:
    """When a walk in depth from part 0 comes to each part, and the block it comes there through."""
    came, back, above, order = {0: 0}, {0: 0}, {0: 0}, [0]
    way = [(0, iter(links[0]))]
    while way:
        part, rest = way[-1]
        for other in rest:
            if other not in came:
                came[other] = back[other] = len(order)
                above[other] = part
                order.append(other)
                way.append((other, iter(links[other])))
                break
            back[part] = min(back[part], came[other])
        else:
            way.pop()
            back[above[part]] = min(back[above[part]], back[part])
    block = {0: 0}
    for part in order[1:]:
        # what leads back no farther than to the part above it begins a block there
        begins = back[part] >= came[above[part]]
        block[part] = part if begins else block[above[part]]
    return came, block


def spread_of(spans: BridgeSpans, which: Ints, part: int) -> float:
    """How far apart in mm some bridges stand at most on a part."""
    ends = ends_on(spans, which, part)
    if len(ends) < 2:
        return 0.0
    return float(np.linalg.norm(ends[:, None] - ends[None], axis=2).max())


def spreads(spans: BridgeSpans, held: list[Ints]) -> Floats:
    """How far apart in mm the bridges ``held`` of each part stand at most on it."""
    count = np.array([len(own) for own in held], dtype=np.int64)
    which = np.concatenate([*held, np.zeros(0, dtype=np.int64)])
    part = np.repeat(np.arange(len(held)), count)
    ends = np.where((spans.part_a[which] == part)[:, None], spans.at_a[which], spans.at_b[which])
    out = np.zeros(len(held))
    for step in range(1, int(count.max(initial=0))):
        # the sheet itself is held by none, and no island by many
        one = np.flatnonzero(part[step:] == part[: len(part) - step])
        away = np.linalg.norm(ends[one] - ends[one + step], axis=1)
        np.maximum.at(out, part[one], away)
    return out


def ends_on(spans: BridgeSpans, which: Ints, part: int) -> Floats:
    """Where some bridges stand on a part, mm, (n, 2)."""
    first = (spans.part_a[which] == part)[:, None]
    return np.asarray(np.where(first, spans.at_a[which], spans.at_b[which]))


def with_groups_held(spans: BridgeSpans, chosen: Ints, wanted: HoldWanted, parts: int) -> Ints:
    """Bridges, and the cheapest further ones that hold every part with all that hangs on it.

    Each part gets its number of bridges, two of them its distance apart, not counting those to what
    only hangs on it; as far as there are places clear of the others.

    Parameters
    ----------
    chosen
        Numbers of the spans that are built already.
    wanted
        What is asked of each part.

    Returns
    -------
    built
        Their numbers and those of the further ones, rising.
    """
    built = [int(e) for e in chosen]
    held = holding(spans.part_a[built], spans.part_b[built], parts)
    asked = wanted.count > 1
    # most lack nothing, and a further bridge takes nothing from a part
    asked &= (np.array([len(own) for own in held]) < wanted.count) | (
        spreads(spans.kept(chosen), held) < wanted.apart_mm
    )
    for part in np.flatnonzero(asked).tolist():
        while (more := _lacking(spans, built, held[part], wanted, part)) >= 0:
            built.append(more)
            held = holding(spans.part_a[built], spans.part_b[built], parts)
    return np.array(sorted(built), dtype=np.int64)


def _lacking(
    spans: BridgeSpans, built: list[int], holds: Ints, wanted: HoldWanted, part: int
) -> int:
    """The span to build next for a part; -1 if it lacks none, or has no place left."""
    own = np.array(built, dtype=np.int64)[holds]
    short = int(wanted.count[part]) - len(own)
    if short <= 0 and spread_of(spans, own, part) >= wanted.apart_mm[part]:
        return -1
    places = np.flatnonzero((spans.part_a == part) | (spans.part_b == part))
    places = places[_clear_of(spans, places, built, wanted.clear_mm)]
    beyond = np.where(spans.part_a[places] == part, spans.part_b[places], spans.part_a[places])
    # to what hangs on the part no bridge holds it
    outside = np.isin(beyond, _others(spans, built, part))
    places = places[outside]
    if len(places) == 0:
        return -1
    stands, could = ends_on(spans, own, part), ends_on(spans, places, part)
    away = np.linalg.norm(could[:, None] - stands[None], axis=2).max(axis=1, initial=0.0)
    least = min(float(wanted.apart_mm[part]), 0.98 * float(away.max(initial=0.0)))
    gap = np.linalg.norm(could[:, None] - stands[None], axis=2).min(axis=1, initial=np.inf)
    if spread_of(spans, own, part) < least:
        places = places[away >= least]
    elif short <= 0:
        return -1
    elif (well := gap >= _GAP * float(wanted.apart_mm[part])).any():
        places = places[well]
    return int(places[np.argmin(spans.weight[places])])


def _clear_of(spans: BridgeSpans, places: Ints, built: list[int], clear_mm: float) -> Bools:
    """Which places stand clear of the bridges built."""
    asked = spans.kept(np.array([*built, *places], dtype=np.int64))
    lines = straight_lines(asked.at_a, asked.at_b)
    standing, free = lines[: len(built)], lines[len(built) :]
    near = shapely.STRtree(standing).query(free, predicate="dwithin", distance=clear_mm)[0]
    return np.asarray(~np.isin(np.arange(len(places)), near))


def _others(spans: BridgeSpans, built: list[int], part: int) -> Ints:
    """Parts that hang on the sheet without a part, the sheet counted."""
    links = zip(spans.part_a[built].tolist(), spans.part_b[built].tolist(), strict=True)
    ends = int(max(spans.part_a[built].max(), spans.part_b[built].max(), part)) + 1
    groups, group = linked_groups([link for link in links if part not in link], set(), ends)
    return np.array(sorted(groups[group[0]]), dtype=np.int64)
