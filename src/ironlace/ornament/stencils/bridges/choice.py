"""Which bridges to build: the least area that holds every island where the process wants it held.

The sheet and its islands are the nodes of a graph, spans its edges. Wanted is the lightest set of
edges that joins everything, gives each island its number of bridges, stands two of them far enough
apart that it cannot turn, and lets no group of islands hang on a single bridge (except an island so
small that one is enough). A least spanning tree (Kruskal 1956) is completed greedily, thinned
out, and improved by exchanges until none helps; small drawings are solved exactly.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence, Set
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np

from ironlace.evidence.arrays import Floats, Ints
from ironlace.ornament.stencils.bridges.choice_exact import EXACT_PARTS, lightest_spans
from ironlace.ornament.stencils.bridges.spans import BridgeSpans
from ironlace.ornament.stencils.errors import HoldingError

if TYPE_CHECKING:
    from scipy.spatial import cKDTree

SMALL: Final = 60
"""Up to this many parts the search has time to look at every corner many times."""

ROUNDS_SMALL: Final = 500
"""Times that a small choice is begun again (tuned; on what was not kept)."""


@dataclass(frozen=True, eq=False)
class HoldWanted:
    """What is asked of a set of bridges.

    Attributes
    ----------
    count
        Bridges wanted at each part, (parts,); 0 for the sheet.
    apart_mm
        How far apart two of a part's bridges must stand, (parts,).
    clear_mm
        Nearer than this, two bridges are not built side by side if it can be helped.
    clear_costs
        How many times heavier a bridge may be for standing clear of the others; 1 asks for no
        sacrifice of area.
    """

    count: Ints
    apart_mm: Floats
    clear_mm: float
    clear_costs: float = 1.0


def choose_spans(
    spans: BridgeSpans,
    wanted: HoldWanted,
    *,
    locked: Ints | None = None,
    rng: np.random.Generator | None = None,
    progress: Callable[[float], None] | None = None,
) -> Ints:
    """Numbers of the spans to build as bridges, rising.

    Parameters
    ----------
    locked
        Spans that must be among them.
    rng
        For beginning again on small drawings; a fixed one if None, so that a plan repeats.

    Raises
    ------
    HoldingError
        If some island cannot be reached.
    """
    parts = len(wanted.count)
    if parts < 2:
        return np.zeros(0, dtype=np.int64)
    if parts > SMALL and locked is not None and _locked_hold(spans, wanted, locked):
        # nothing is wanted besides, and what is locked is not taken away
        return np.sort(locked)
    search = _Search(spans, wanted, locked)
    if parts <= EXACT_PARTS:
        for near in (search.near, {}):
            optimum = lightest_spans(spans, wanted.count, search.apart, near, search.locked)
            if optimum is not None:
                return np.array(sorted(optimum), dtype=np.int64)
    # the search sees to double holding itself where it can afford to; else it is added at the end
    search.double = parts <= SMALL
    search.begin()
    search.improve(4 if parts <= SMALL else 2)
    if progress is not None:
        progress(0.7)
    rng = np.random.default_rng(1) if rng is None else rng
    # a look at every corner costs the square of their number: only where that is little
    rounds = ROUNDS_SMALL if parts <= SMALL else 0
    best, least = set(search.chosen), search.total()
    now = least
    for n in range(rounds):
        # on small drawings a change for the worse is let pass at first, ever less of it later
        warmth = 0.03 * least * (1.0 - n / rounds) ** 2 if parts <= SMALL else 0.0
        slack = float(warmth * rng.exponential())
        now += search.rebuild(rng, int(rng.integers(1, parts)), int(rng.integers(1, 5)), slack)
        if now < least - 1e-9:
            best, least = set(search.chosen), now
        if progress is not None and n % 256 == 0:
            progress(0.7 + 0.3 * n / rounds)
    search.take(best)
    search.finish(wanted.clear_costs)
    if progress is not None:
        progress(1.0)
    return np.array(sorted(search.chosen), dtype=np.int64)


def _locked_hold(spans: BridgeSpans, wanted: HoldWanted, locked: Ints) -> bool:
    """Whether locked bridges alone give every part what it wants."""
    parts = len(wanted.count)
    if len(locked) < parts - 1:
        return False
    search = _Search(spans.kept(locked), wanted, None)
    search.take(set(range(len(locked))))
    # as far as these stand apart: what the others could give is asked only of a part that lacks
    search.apart = wanted.apart_mm.tolist()
    for part in range(1, parts):
        if search.lacking(part):
            own = np.flatnonzero((spans.part_a == part) | (spans.part_b == part))
            search.apart[part] = _reachable(spans, own, part, search.apart[part])
            if search.lacking(part):
                return False
    links = list(zip(search.a, search.b, strict=True))
    return len(linked_groups(links, set(), parts)[0]) == 1 and next(search.leaves(), None) is None


def _reachable(spans: BridgeSpans, own: Ints, part: int, apart_mm: float) -> float:
    """A distance wanted of two of a part's bridges, cut down to what its spans can give at all."""
    if part == 0 or apart_mm <= 0:
        return apart_mm
    if len(own) < 2:
        return 0.0
    ends = np.where((spans.part_a[own] == part)[:, None], spans.at_a[own], spans.at_b[own])
    most = float(np.linalg.norm(ends[:, None] - ends[None], axis=2).max())
    return min(apart_mm, 0.98 * most)


_SURELY: Final = 0.98 * (1.0 - 1e-9)
"""Share of a side of the box about the ends of a part's spans that two of them stand apart."""

_CHEAP: Final = 5
"""Lightest spans of a part tried in place of heavier ones (tuned; on what was not kept)."""

_FEW_LOOSE: Final = 60
"""Bridges besides those that are locked up to which each is asked whether it stands in the way
(tuned)."""

_MANY: Final = 40
"""Bridges of one part beyond which they are not all tried for each new one (tuned; on what was not
kept)."""


def _sides_of_ends(spans: BridgeSpans, parts: int) -> Floats:
    """Longer side of the box about the ends of each part's spans, mm, (parts,)."""
    part = np.concatenate([spans.part_a, spans.part_b])
    ends = np.concatenate([spans.at_a, spans.at_b])
    low, high = np.full((parts, 2), np.inf), np.full((parts, 2), -np.inf)
    np.minimum.at(low, part, ends)
    np.maximum.at(high, part, ends)
    return np.asarray(np.maximum((high - low).max(axis=1), 0.0))


class _Search:
    """A set of spans and the moves on it."""

    def __init__(self, spans: BridgeSpans, wanted: HoldWanted, locked: Ints | None) -> None:
        self.a: list[int] = spans.part_a.tolist()
        self.b: list[int] = spans.part_b.tolist()
        self.weight: list[float] = spans.weight.tolist()
        self.at_a = [complex(x, y) for x, y in spans.at_a]
        self.at_b = [complex(x, y) for x, y in spans.at_b]
        self.count: list[int] = wanted.count.tolist()
        self.parts = len(self.count)
        self.of: list[list[int]] = [[] for _ in range(self.parts)]
        for e in np.argsort(spans.weight, kind="stable").tolist():
            self.of[self.a[e]].append(e)
            self.of[self.b[e]].append(e)
        self.wanted = wanted
        self.clear_mm = wanted.clear_mm
        self.locked = set() if locked is None else set(locked.tolist())
        self.chosen: set[int] = set()
        self.loose: set[int] = set()
        self.at: list[set[int]] = [set() for _ in range(self.parts)]
        self.spans = spans
        self.double = False
        # where most bridges are given few places are asked about, each when it is
        given = self.parts > SMALL and 2 * len(self.locked) > self.parts
        self._ways = _Ways(spans, self.clear_mm, self.locked) if given else None

    @cached_property
    def apart(self) -> list[float]:
        """Distances wanted of each part's bridges, cut down to what its spans can give at all."""
        out: list[float] = self.wanted.apart_mm.tolist()
        sides = _sides_of_ends(self.spans, self.parts)
        for part in np.flatnonzero(_SURELY * sides < self.wanted.apart_mm).tolist():
            own = np.array(self.of[part], dtype=np.int64)
            out[part] = _reachable(self.spans, own, part, out[part])
        return out

    @cached_property
    def near(self) -> dict[int, list[int]]:
        """For each span, the others that stand in its way."""
        return _neighbours(self.spans, self.clear_mm)

    def end(self, e: int, part: int) -> complex:
        """Where a span stands on a part."""
        return self.at_a[e] if self.a[e] == part else self.at_b[e]

    def add(self, e: int) -> None:
        self.chosen.add(e)
        if e not in self.locked:
            self.loose.add(e)
        self.at[self.a[e]].add(e)
        self.at[self.b[e]].add(e)

    def drop(self, e: int) -> None:
        self.chosen.discard(e)
        self.loose.discard(e)
        self.at[self.a[e]].discard(e)
        self.at[self.b[e]].discard(e)

    def take(self, whole: set[int]) -> None:
        for e in list(self.chosen - whole):
            self.drop(e)
        for e in whole - self.chosen:
            self.add(e)

    def total(self) -> float:
        return sum(self.weight[e] for e in self.chosen)

    def lacking(self, part: int) -> int:
        """How many bridges a part is short of, counting one if they stand too near together."""
        wants = self.count[part]
        if wants == 0:
            return 0
        holds = self.holding(part)
        short = wants - len(holds)
        if short > 0 or wants < 2:
            return max(short, 0)
        return 0 if self.spread(part, holds) else 1

    def holding(self, part: int) -> list[int]:
        """The bridges that hold a part: not those to small islands that only hang on it."""
        # two small islands that hang on each other alone are loose, which `sound` tells
        at, count, a, b = self.at, self.count, self.a, self.b
        own = at[part]
        if count[part] == 1 and len(own) == 1:
            return list(own)
        # asked more often than anything else: written out, without a call for each bridge
        holds = []
        for e in own:
            other = b[e] if a[e] == part else a[e]
            if count[other] != 1 or len(at[other]) != 1:
                holds.append(e)
        return holds

    def spread(self, part: int, holds: list[int]) -> bool:
        """Whether two of some bridges stand as far apart as is wanted of a part."""
        least, a = self.apart[part], self.a
        ends = [self.at_a[e] if a[e] == part else self.at_b[e] for e in holds]
        for i, end in enumerate(ends):
            for other in ends[:i]:
                if abs(end - other) >= least:
                    return True
        return False

    def concerned(self, a: int, b: int) -> set[int]:
        """Parts that may lack a bridge when one between two goes.

        A small island that is left with one bridge no longer holds what that leads to.
        """
        small = [p for p in (a, b) if self.count[p] == 1]
        return {a, b} | {self.beyond(e, p) for p in small for e in self.at[p]}

    def short_of(self, parts: Set[int]) -> dict[int, int]:
        """What each of some parts lacks."""
        return {part: self.lacking(part) for part in parts}

    def no_worse(self, before: dict[int, int]) -> bool:
        """Whether no part lacks more than it did."""
        return all(self.lacking(part) <= short for part, short in before.items())

    def free(self, e: int) -> bool:
        """Whether no bridge stands in the way."""
        if self._ways is not None and len(self.loose) > _FEW_LOOSE:
            return self.chosen.isdisjoint(self._ways.of(e))
        if self._ways is not None:
            # those that are locked stand from the first, and are never taken away
            return not (self._ways.beside_given(e) or self._ways.beside(e, self.loose))
        return self.chosen.isdisjoint(self.near.get(e, ()))

    def begin(self) -> None:
        """Least spanning tree, then the cheapest bridges for what is still lacking."""
        from scipy.sparse import coo_array
        from scipy.sparse.csgraph import minimum_spanning_tree

        for e in self.locked:
            self.add(e)
        low = np.minimum(self.spans.part_a, self.spans.part_b)
        high = np.maximum(self.spans.part_a, self.spans.part_b)
        order = np.lexsort((self.spans.weight, high, low))
        first = np.ones(len(order), dtype=np.bool_)
        first[1:] = (np.diff(low[order]) != 0) | (np.diff(high[order]) != 0)
        best = order[first]
        weights = self.spans.weight[best].copy()
        is_locked = np.isin(best, list(self.locked)) if self.locked else np.zeros(len(best), bool)
        weights = np.where(is_locked, 1e-12, np.maximum(weights, 1e-9))
        # scipy 1.15 takes no longer numbers for a tree
        ends = (low[best].astype(np.int32), high[best].astype(np.int32))
        graph = coo_array((weights, ends), shape=(self.parts, self.parts))
        tree = minimum_spanning_tree(graph.tocsr()).tocoo()
        if tree.nnz < self.parts - 1:
            lost = self.parts - 1 - tree.nnz
            raise HoldingError(
                f"{lost} islands of the drawing cannot be reached by a straight bridge: look at "
                "them, and widen or close what surrounds them."
            )
        number = {(int(low[e]), int(high[e])): int(e) for e in best}
        for i, j in zip(tree.row.tolist(), tree.col.tolist(), strict=True):
            self.add(number[min(i, j), max(i, j)])
        for part in range(1, self.parts):
            self.complete(part)
        if self.double:
            self.double_up()
        self.thin_out()

    def complete(self, part: int, blocked: Set[int] = frozenset()) -> set[int]:
        """Add the cheapest bridges until a part lacks nothing; tells which were added."""
        added: set[int] = set()
        while (short := self.lacking(part)) > 0:
            best, least = -1, np.inf
            for strict in (True, False):
                for e in self.of[part]:
                    if self.weight[e] / 2.0 >= least:
                        break
                    if e in self.chosen or (strict and (e in blocked or not self.free(e))):
                        continue
                    other = self.beyond(e, part)
                    helps_other = self.lacking(other)
                    self.add(e)
                    gain = short - self.lacking(part)
                    gain_other = helps_other - self.lacking(other)
                    self.drop(e)
                    # to islands that hang on each other alone it is no hold for either
                    both = gain + gain_other
                    if gain > 0 and both > 0 and self.weight[e] / both < least:
                        best, least = e, self.weight[e] / both
                if best >= 0:
                    break
            if best < 0:
                # every span of the part is built: it cannot be held better
                break
            self.add(best)
            added.add(best)
        return added

    def thin_out(self) -> None:
        """Take away bridges nothing depends on, the largest first."""
        self.spared(self.chosen - self.locked)

    def spare(self, e: int) -> bool:
        """Whether a bridge can go without an island lacking or anything falling out."""
        a, b = self.a[e], self.b[e]
        before = self.short_of(self.concerned(a, b))
        self.drop(e)
        fine = self.no_worse(before) and self.sound(a, b)
        self.add(e)
        return fine

    def joined(self, a: int, b: int) -> bool:
        """Whether two parts hang together; searched from both sides at once."""
        if a == b:
            return True
        seen = ({a}, {b})
        queue = (deque([a]), deque([b]))
        while queue[0] and queue[1]:
            # from the side that has less to look at: the sheet itself has bridges to all
            side = int(len(self.at[queue[0][0]]) > len(self.at[queue[1][0]]))
            part = queue[side].popleft()
            for e in self.at[part]:
                other = self.beyond(e, part)
                if other in seen[1 - side]:
                    return True
                if other not in seen[side]:
                    seen[side].add(other)
                    queue[side].append(other)
        return False

    def sound(self, a: int, b: int) -> bool:
        """Whether two parts hang together as well as they should.

        If every cut of the graph had two bridges before one between ``a`` and ``b`` went, two ways
        between these two that share no bridge are all there is to check (Menger 1927).
        """
        if not self.double:
            return self.joined(a, b)
        if not (self.small_leaf(a) or self.small_leaf(b)):
            return self.twice_joined(a, b)
        return all(
            self.joined(p, 0) if self.small_leaf(p) else self.twice_joined(p, 0)
            for p in {a, b} - {0}
        )

    def small_leaf(self, part: int) -> bool:
        """Whether a part is so small that one bridge is enough, and has no more."""
        return self.count[part] == 1 and len(self.at[part]) == 1

    def twice_joined(self, a: int, b: int) -> bool:
        """Whether two ways without a common bridge lead from a to b (two augmenting paths)."""
        if a == b:
            return True
        used: dict[int, int] = {}
        for _ in range(2):
            came: dict[int, tuple[int, int]] = {a: (-1, -1)}
            queue = deque([a])
            while queue and b not in came:
                part = queue.popleft()
                for e in self.at[part]:
                    # a bridge on the first way can only be walked back
                    if used.get(e, -1) == part:
                        continue
                    other = self.beyond(e, part)
                    if other not in came:
                        came[other] = (part, e)
                        queue.append(other)
            if b not in came:
                return False
            at = b
            while at != a:
                before, e = came[at]
                if e in used:
                    del used[e]
                else:
                    used[e] = before
                at = before
        return True

    def double_up(self) -> None:
        """Add bridges until no group of islands hangs on a single one.

        Groups that no cut of one bridge parts form a tree; its leaves get a second bridge, the
        cheapest that leaves the group, until the tree is a point (Eswaran and Tarjan 1976). Small
        islands that may hang on one bridge are no leaves of it.
        """
        added = True
        while added:
            added = False
            for leaf in self.leaves():
                best = self.cheapest_out(leaf, lambda e: e not in self.chosen and self.free(e))
                if best < 0:
                    best = self.cheapest_out(leaf, lambda e: e not in self.chosen)
                if best >= 0:
                    self.add(best)
                    added = True

    def leaves(self) -> Iterator[set[int]]:
        """What falls with one bridge and should not, without anything in it that also does.

        A small island that may hang on one bridge falls alone; with anything more it may not.
        """
        links = [(self.a[e], self.b[e]) for e in self.chosen]
        cuts = single_links(links, self.parts)
        groups, group = linked_groups(links, set(cuts), self.parts)
        beside: dict[int, list[int]] = {}
        for u, v in cuts:
            beside.setdefault(group[u], []).append(group[v])
            beside.setdefault(group[v], []).append(group[u])
        if group[0] not in beside:
            return
        # from the sheet outwards; what lies behind a group comes after it
        order, above = [group[0]], {group[0]: -1}
        for n in order:
            for m in beside[n]:
                if m not in above:
                    above[m] = n
                    order.append(m)
        hanging: dict[int, set[int]] = {}
        told: set[int] = set()  # groups within which something was found already
        for n in reversed(order):
            below = [m for m in beside[n] if above[m] == n]
            hanging[n] = groups[n].union(*(hanging[m] for m in below))
            if any(m in told for m in below):
                told.add(n)
            elif n != group[0] and not (
                len(hanging[n]) == 1 and self.small_leaf(next(iter(hanging[n])))
            ):
                told.add(n)
                yield hanging[n]

    def finish(self, clear_costs: float) -> None:
        """Hold everything twice, clear of what is near, and give each part what it still lacks."""
        if self.parts <= SMALL:
            self.improve()
        self.double_up()
        self.double = True  # what holds twice by now stays so
        if clear_costs > 1.0:
            self.part_ways(clear_costs)
        for part in range(1, self.parts):
            self.complete(part)
        self.double_up()

    def cheapest_out(self, group: Set[int], allowed: Callable[[int], bool]) -> int:
        """The cheapest allowed span from a group of parts to any other part; -1 without one."""
        best = -1
        for part in group:
            for e in self.of[part]:
                if best >= 0 and self.weight[e] >= self.weight[best]:
                    break
                if (self.a[e] in group) != (self.b[e] in group) and allowed(e):
                    best = e
                    break
        return best

    def beyond(self, e: int, part: int) -> int:
        """The part at the other end of a span."""
        return self.b[e] if self.a[e] == part else self.a[e]

    def improve(self, passes: int = 4) -> None:
        """Exchanges until none helps."""
        if self._ways is not None:
            # asked all at once, as `insert` asks: one by one they take many times longer
            self._ways.ask([f for own in self.of[1:] for f in own[:_CHEAP] if f not in self.locked])
        for _ in range(passes):
            changed = False
            for e in sorted(self.chosen, key=lambda e: -self.weight[e]):
                if e in self.chosen and e not in self.locked:
                    changed |= self.exchange(e)
            for part in range(1, self.parts):
                changed |= self.insert(part)
            if not changed:
                return

    def exchange(self, e: int, times: float = 1.0) -> bool:
        """Put one or two bridges in place of one, cheaper ones unless it stands in the way."""
        if self.spare(e):
            self.drop(e)
            return True
        a, b = self.a[e], self.b[e]
        before = self.short_of(self.concerned(a, b))
        self.drop(e)
        budget = self.weight[e] * times
        options: list[tuple[float, tuple[int, ...]]] = []
        short_a, short_b = self.lacking(a) > before[a], self.lacking(b) > before[b]
        reach = 12 if times > 1.0 else 6
        at_a = self.usable(a, budget, e)
        at_b = self.usable(b, budget, e)
        options += [(self.weight[f], (f,)) for f in dict.fromkeys(at_a + at_b)]
        if (short_a and short_b) or times > 1.0:
            options += [
                (self.weight[f] + self.weight[g], (f, g))
                for f in at_a[:reach]
                for g in at_b[:reach]
                if f != g and self.weight[f] + self.weight[g] < budget - 1e-9
            ]
        options.sort()
        for cost, new in options:
            if cost >= budget - 1e-9:
                break
            for f in new:
                self.add(f)
            if self.no_worse(before) and self.sound(a, b):
                return True
            for f in new:
                self.drop(f)
        self.add(e)
        return False

    def part_ways(self, times: float) -> None:
        """Move bridges that stand in one another's way, if that costs no more than ``times``."""
        for e in sorted(self.chosen, key=lambda e: -self.weight[e]):
            if e in self.chosen and e not in self.locked and not self.free(e):
                self.exchange(e, times)

    def usable(self, part: int, budget: float, but: int) -> list[int]:
        """The lightest spans of a part that may stand in place of one, at most sixteen."""
        out: list[int] = []
        for f in self.of[part]:
            # the sheet itself has spans to every island: all of them would be looked at each time
            if len(out) == 16 or self.weight[f] >= budget - 1e-9:
                break
            if f != but and f not in self.chosen and self.free(f):
                out.append(f)
        return out

    def insert(self, part: int) -> bool:
        """Build a cheap bridge if larger ones can then go."""
        changed = False
        for f in self.of[part][:_CHEAP]:
            if f in self.chosen or not self.free(f):
                continue
            self.add(f)
            gone: list[int] = []
            saved = 0.0
            for e in self.touching(f):
                if self.spare(e):
                    self.drop(e)
                    gone.append(e)
                    saved += self.weight[e]
            if saved > self.weight[f] + 1e-9:
                changed = True
                continue
            for e in gone:
                self.add(e)
            self.drop(f)
        return changed

    def touching(self, f: int) -> list[int]:
        """Bridges that share a part with one, the heaviest first.

        Of a part with many, such as the sheet itself, only those that end at the other part too:
        elsewhere nothing hangs better for the one.
        """
        a, b = self.at[self.a[f]], self.at[self.b[f]]
        few, many = (a, b) if len(a) <= len(b) else (b, a)
        near = few | many if len(many) <= _MANY else few
        return sorted(near - {f} - self.locked, key=lambda e: -self.weight[e])

    def rebuild(
        self, rng: np.random.Generator, part: int, islands: int, slack: float = 0.0
    ) -> float:
        """Take out all bridges of neighbouring islands and build anew; tells the change of weight.

        Ruin and recreate (Schrimpf and others 2000); undone if it costs more than ``slack``.
        """
        group = self.around(part, islands)
        old = {e for member in group for e in self.at[member]} - self.locked
        if not old:
            return 0.0
        for e in old:
            self.drop(e)
        new: set[int] = set()
        ends = {p for e in old for p in (self.a[e], self.b[e])}
        ends |= {p for member in ends for p in self.concerned(member, member)}
        order = sorted(ends)
        rng.shuffle(order)
        # some of the likeliest are barred, so that building anew does not just build the same
        likely = sorted(old | {e for member in group for e in self.of[member][:6]})
        blocked = {e for e, u in zip(likely, rng.random(len(likely)), strict=True) if u < 0.25}
        for member in order:
            if member > 0:
                new |= self.complete(member, blocked)
        for member in order:
            new |= self.connect(member)
        standing = {e for member in ends if member > 0 for e in self.at[member]} - self.locked
        before = sum(self.weight[e] for e in old)
        gone = self.spared(standing | new)
        net = sum(self.weight[e] for e in new) - sum(self.weight[e] for e in gone)
        short = any(self.lacking(p) > 0 or not self.sound(p, 0) for p in order if p > 0)
        if net > before + slack - 1e-9 or short:
            for e in new:
                self.drop(e)
            for e in old | (gone - new):
                self.add(e)
            return 0.0
        return net - before

    def around(self, part: int, islands: int) -> list[int]:
        """A part and its neighbours by their cheapest spans, so many islands in all."""
        group = [part]
        for member in group:
            for e in self.of[member]:
                if len(group) >= islands:
                    return group
                other = self.beyond(e, member)
                if other > 0 and other not in group:
                    group.append(other)
        return group

    def spared(self, bridges: Set[int]) -> set[int]:
        """Take away what of some bridges nothing depends on, the largest first; tells which."""
        gone = set()
        for e in sorted(bridges, key=lambda e: -self.weight[e]):
            if self.spare(e):
                self.drop(e)
                gone.add(e)
        return gone

    def connect(self, part: int) -> set[int]:
        """Join a part to the sheet again by the cheapest bridges, if it hangs loose."""
        added: set[int] = set()
        while not self.joined(part, 0):
            loose = {part}
            queue = [part]
            for member in queue:
                for e in self.at[member]:
                    other = self.beyond(e, member)
                    if other not in loose:
                        loose.add(other)
                        queue.append(other)
            best = self.cheapest_out(loose, lambda _e: True)
            if best < 0:
                break
            self.add(best)
            added.add(best)
        return added


def single_links(links: Sequence[tuple[int, int]], parts: int) -> list[tuple[int, int]]:
    """Links without which two parts no longer hang together, in the order of their lower part.

    A walk in depth tells how far up each part leads back (Tarjan 1974); where it leads no farther
    than to itself, the link that led to it is the only one. Two links between the same parts are
    never single.

    >>> single_links([(0, 1), (1, 2), (2, 0), (2, 3), (4, 3), (3, 4)], 5)
    [(2, 3)]
    """
    beside: list[list[tuple[int, int]]] = [[] for _ in range(parts)]
    for e, (u, v) in enumerate(links):
        beside[u].append((v, e))
        beside[v].append((u, e))
    came = [-1] * parts
    back = [0] * parts
    found: set[int] = set()
    count = 0
    for root in range(parts):
        if came[root] >= 0:
            continue
        came[root] = back[root] = count
        count += 1
        way = [(root, -1, iter(beside[root]))]
        while way:
            at, through, rest = way[-1]
            for other, e in rest:
                if e == through:
                    continue
                if came[other] < 0:
                    came[other] = back[other] = count
                    count += 1
                    way.append((other, e, iter(beside[other])))
                    break
                back[at] = min(back[at], came[other])
            else:
                way.pop()
                if way:
                    before = way[-1][0]
                    back[before] = min(back[before], back[at])
                    if back[at] > came[before]:
                        found.add(through)
    single = [(min(links[e]), max(links[e])) for e in range(len(links)) if e in found]
    return sorted(single, key=lambda link: link[0])


def linked_groups(
    links: Sequence[tuple[int, int]], cuts: Set[tuple[int, int]], parts: int
) -> tuple[list[set[int]], list[int]]:
    """Parts that hang together when some links are cut, and the number of each one's group."""
    beside: list[list[int]] = [[] for _ in range(parts)]
    for u, v in links:
        if (min(u, v), max(u, v)) not in cuts:
            beside[u].append(v)
            beside[v].append(u)
    group = [-1] * parts
    groups: list[set[int]] = []
    for part in range(parts):
        if group[part] >= 0:
            continue
        group[part] = len(groups)
        members = [part]
        for member in members:
            for other in beside[member]:
                if group[other] < 0:
                    group[other] = len(groups)
                    members.append(other)
        groups.append(set(members))
    return groups, group


_SHARES: Final = (0.0, 0.25, 0.5, 0.75, 1.0)
"""Places of a span by which its distance from another is told: a quarter of it apart (tuned)."""


def places_on(spans: BridgeSpans) -> Floats:
    """Places of every span, (shares * spans, 2), mm: the first of each, then the second."""
    return np.concatenate([spans.at_a * (1 - t) + spans.at_b * t for t in _SHARES])


class _Ways:
    """As `_neighbours`, found for each span when it is asked about.

    ``given`` are the spans that stand whatever is chosen. Only of others may be asked whether they
    stand beside these.
    """

    def __init__(self, spans: BridgeSpans, clear_mm: float, given: Set[int] = frozenset()) -> None:
        self.spans, self.clear_mm, self.given = spans, clear_mm, sorted(given)
        self.known: dict[int, set[int]] = {}
        self._beside_given: dict[int, bool] = {}

    @cached_property
    def tree_of_given(self) -> cKDTree:
        """All places of those that are given."""
        from scipy.spatial import cKDTree

        return cKDTree(places_on(self.spans.kept(np.array(self.given, dtype=np.int64))))

    def ask(self, which: list[int]) -> None:
        """Find whether some spans stand beside those that are given."""
        if self.clear_mm <= 0 or not self.given or not which:
            self._beside_given |= dict.fromkeys(which, False)
            return
        own = places_on(self.spans.kept(np.array(which, dtype=np.int64)))
        near = self.tree_of_given.query_ball_point(own, self.clear_mm, return_length=True)
        beside = np.asarray(near).reshape(len(_SHARES), -1).sum(axis=0) > 0
        self._beside_given |= dict(zip(which, beside.tolist(), strict=True))

    def beside_given(self, e: int) -> bool:
        """Whether a span stands in the way of one that is given."""
        if e not in self._beside_given:
            self.ask([e])
        return self._beside_given[e]

    def beside(self, e: int, others: Set[int]) -> bool:
        """Whether a span stands in the way of one of some others, few enough to know each."""
        return any(e in self.of(other) for other in others)

    @cached_property
    def tree(self) -> cKDTree:
        """All places of all spans."""
        from scipy.spatial import cKDTree

        return cKDTree(places_on(self.spans))

    def of(self, e: int) -> set[int]:
        """The spans that stand in the way of one."""
        if self.clear_mm <= 0:
            return set()
        if e not in self.known:
            count = len(self.spans)
            own = self.tree.data[e::count]
            near = np.concatenate(self.tree.query_ball_point(own, self.clear_mm))
            self.known[e] = set((near.astype(np.int64) % count).tolist()) - {e}
        return self.known[e]


def _neighbours(spans: BridgeSpans, clear_mm: float) -> dict[int, list[int]]:
    """For each span, the others that come nearer than ``clear_mm``."""
    from scipy.spatial import KDTree

    if len(spans) < 2 or clear_mm <= 0:
        return {}
    points = places_on(spans)
    owner = np.tile(np.arange(len(spans)), len(_SHARES))
    pairs = KDTree(points).query_pairs(clear_mm, output_type="ndarray")
    pairs = owner[pairs]
    pairs = pairs[pairs[:, 0] != pairs[:, 1]]
    out: dict[int, list[int]] = {}
    if len(pairs) == 0:
        return out
    # each pair once, then both ways round: half as much to sort
    once = np.unique(pairs.min(axis=1) * len(spans) + pairs.max(axis=1))
    key = np.sort(np.concatenate([once, once % len(spans) * len(spans) + once // len(spans)]))
    one, two = key // len(spans), key % len(spans)
    starts = np.flatnonzero(np.concatenate([[True], np.diff(one) != 0]))
    others = two.tolist()
    ends = [*starts[1:].tolist(), len(others)]
    for span, low, high in zip(one[starts].tolist(), starts.tolist(), ends, strict=True):
        out[span] = others[low:high]
    return out
