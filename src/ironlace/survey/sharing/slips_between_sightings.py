"""Machines that were perhaps met again under a number misread.

A second sighting whose number is misread looks like one machine more, seen once. Estimates of what
was never seen rest on just those seen once, so that a few such slips raise them far.

Two numbers that differ in one figure may be so by chance. Slips fall on figures that look alike
(3 and 8, 1 and 7), chance on any: the pairs of other figures tell how many of the alike ones chance
alone makes, and the rest are taken for slips.

Where one machine was passed on by several, each with a slip of their own, two of its numbers differ
in two figures. How many pairs do so by chance is reckoned from how often two numbers have the same
figure in each place; where far more do, as many as are over are one machine each.
"""

import math
from collections import Counter, defaultdict
from collections.abc import Hashable, Mapping, Sequence
from itertools import combinations

from ironlace.evidence.markings import Marking
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.reading_errors import CHARACTERS, confusion, look_alike

_MOST = 5_000
"""Among more machines than this nearly every number has another a figure away by chance."""

_SURE = 1.645
"""Standard deviations by which more slips are allowed for than were probably made: a floor is to
hold in 19 cases out of 20."""


def joined_by_slips(
    marks: Sequence[Marking], machines: Sequence[Hashable]
) -> tuple[list[Hashable], int]:
    """Machines of sightings once so many pairs a slip apart are one machine each; and how many.

    Parameters
    ----------
    marks, machines
        The mark and the machine of each sighting.

    >>> from ironlace.evidence.markings import parse_marking
    >>> marks = [parse_marking(n) for n in ("20817", "20317", "4410", "4410")]
    >>> joined_by_slips(marks, ["A", "B", "C", "C"])
    (['A', 'A', 'C', 'C'], 1)
    """
    times = Counter(machines)
    plain: dict[Hashable, str] = {}
    for mark, machine in zip(marks, machines, strict=True):
        if not mark.has_doubts:
            plain.setdefault(machine, mark.plain)
    if len(plain) > _MOST:
        return list(machines), 0
    alike, others = _pairs(plain)
    share, by_chance = _shares()
    # of the alike pairs `share` of the slips and `by_chance` of all pairs that chance made
    odds = by_chance / (1.0 - by_chance)
    slips = (len(alike) - odds * len(others)) / (share - odds * (1.0 - share))
    most = slips + _SURE * math.sqrt(len(alike) + odds**2 * len(others))
    of: dict[Hashable, Hashable] = {}
    taken: set[Hashable] = set()
    # a number misread is met once
    for one, two in (
        pair
        for pairs in (alike, others)
        for pair in sorted(pairs, key=lambda pair: min(times[one] for one in pair))
    ):
        if len(of) + 1 > math.ceil(most):
            break
        if not taken & {one, two}:
            taken |= {one, two}
            of[two] = one
    of |= _joined_over_two(plain, of)
    return [_first_of(machine, of) for machine in machines], len(of)


def _first_of(machine: Hashable, of: Mapping[Hashable, Hashable]) -> Hashable:
    while machine in of:
        machine = of[machine]
    return machine


_MOST_OVER_TWO = 300
"""Among more machines than this chance makes too many pairs that differ in two figures."""

_FAR_OVER = 3.0
"""Standard deviations by which pairs that differ in two figures must be over what chance makes: two
such slips are rare, and numbers that run close together look so."""

_SHORTEST = 4
"""Shorter numbers have nothing in common but two figures."""


def _joined_over_two(
    plain: Mapping[Hashable, str], of: Mapping[Hashable, Hashable]
) -> dict[Hashable, Hashable]:
    """Machines whose numbers differ in two figures, as many as are over what chance makes."""
    left = {m: text for m, text in plain.items() if m not in of and len(text) >= _SHORTEST}
    if not 2 < len(left) <= _MOST_OVER_TWO:
        return {}
    pairs: list[_Pair] = []
    expected = 0.0
    for length in {len(text) for text in left.values()}:
        group = [(m, text) for m, text in left.items() if len(text) == length]
        every = list(combinations(group, 2))
        pairs += [
            (one, two)
            for (one, a), (two, b) in every
            if sum(x != y for x, y in zip(a, b, strict=True)) == _TWO_FIGURES
        ]
        expected += _by_chance(group)
    over = len(pairs) - expected
    if over < _FAR_OVER * math.sqrt(expected + 1.0):
        return {}
    most = over + _SURE * math.sqrt(len(pairs))
    found: dict[Hashable, Hashable] = {}
    for one, two in pairs:
        if len(found) >= most:
            break
        first, second = _first_of(one, found), _first_of(two, found)
        if first != second:
            found[second] = first
    return found


_TWO_FIGURES = 2
"""One slip on either side."""


def _by_chance(group: Sequence[tuple[Hashable, str]]) -> float:
    """Pairs among numbers of one length that differ in just two figures by chance."""
    many = len(group)
    count = many * (many - 1) / 2.0
    # chance of none, one and two different figures so far
    chances = [1.0, 0.0, 0.0]
    for place in zip(*(text for _, text in group), strict=True):
        same = sum(n * (n - 1) / 2.0 for n in Counter(place).values()) / max(count, 1.0)
        chances = [
            chances[0] * same,
            chances[1] * same + chances[0] * (1.0 - same),
            chances[2] * same + chances[1] * (1.0 - same),
        ]
    return count * chances[2]


_Pair = tuple[Hashable, Hashable]


def _pairs(plain: dict[Hashable, str]) -> tuple[list[_Pair], list[_Pair]]:
    """Pairs that differ in one figure easily misread, or in two changed round; others in one."""
    by_hole: dict[tuple[int, str], list[Hashable]] = defaultdict(list)
    by_text = {text: machine for machine, text in plain.items()}
    for machine, text in plain.items():
        for at in range(len(text)):
            by_hole[at, text[:at] + text[at + 1 :]].append(machine)
    alike: list[_Pair] = []
    others: list[_Pair] = []
    for (at, _), group in by_hole.items():
        for one, two in combinations(group, 2):
            here, there = plain[one][at], plain[two][at]
            if here != there and here in CHARACTERS and there in CHARACTERS:
                (alike if look_alike(here, there) else others).append((one, two))
    for text, machine in by_text.items():
        for at in range(len(text) - 1):
            turned = by_text.get(text[:at] + text[at + 1] + text[at] + text[at + 2 :])
            if turned is not None and text[at] < text[at + 1]:
                alike.append((machine, turned))
    return alike, others


def _shares() -> tuple[float, float]:
    """Part of the slips, and of pairs by chance, that fall on figures that look alike."""
    table = confusion(Assumptions())[:_FIGURES, :_FIGURES]
    pairs = [(i, j) for i in range(_FIGURES) for j in range(_FIGURES) if i != j]
    near = [look_alike(CHARACTERS[i], CHARACTERS[j]) for i, j in pairs]
    slips = [table[i, j] for i, j in pairs]
    return (
        math.fsum(s for s, n in zip(slips, near, strict=True) if n) / math.fsum(slips),
        sum(near) / len(pairs),
    )


_FIGURES = 10
"""The figures stand first in the table of what is taken for what."""
