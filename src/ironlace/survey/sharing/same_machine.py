"""Reports that may be of one machine, and marks that differ by a slip of the hand.

Nothing is merged here: pairs are named with the reason, and a person decides.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.markings import Glyph, Marking
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.reading_errors import CHARACTERS, confusion
from ironlace.survey.reports.counted import Reports, differing
from ironlace.survey.reports.table import Report


class Likeness(StrEnum):
    """Why two reports stand beside each other."""

    SAID = "said to be the same machine"
    SAME = "same mark"
    MAY_BE_SAME = "same mark where both can be read"
    SEPARATORS = "same figures, other separators"
    TRANSPOSED = "two neighbouring figures changed round"
    ONE_FIGURE = "one figure that is easily misread"


@dataclass(frozen=True, slots=True)
class Pair:
    """Two reports, why they may be one machine, and what speaks against it."""

    first: str
    second: str
    likeness: Likeness
    against: str = ""

    def sentence(self) -> str:
        """Say it."""
        but = f", but {self.against}" if self.against else ""
        return f"{self.first} and {self.second}: {self.likeness}{but}."

    def as_dict(self) -> dict[str, Any]:
        """Return it by name."""
        return {
            "first": self.first,
            "second": self.second,
            "likeness": str(self.likeness),
            "against": self.against,
        }


def likely_pairs(reports: Sequence[Report]) -> tuple[Pair, ...]:
    """Find pairs of reports that may be one machine or a slip, in the order of the reports.

    Work grows with the number of reports, not with its square: marks are looked up by what they
    would be with one figure left out or two changed round.
    """
    found: dict[tuple[int, int], Likeness] = {}
    for (i, j), likeness in _candidates(reports):
        key = (min(i, j), max(i, j))
        if i != j and (key not in found or _ORDER[likeness] < _ORDER[found[key]]):
            found[key] = likeness
    return tuple(
        Pair(reports[i].id, reports[j].id, likeness, _against(likeness, reports[i], reports[j]))
        for (i, j), likeness in sorted(found.items())
    )


def _against(likeness: Likeness, one: Report, two: Report) -> str:
    """What speaks against a pair; who reports two marks that differ had two machines before him."""
    said = [differing(one, two)]
    same = one.reporter and one.reporter.casefold() == two.reporter.casefold()
    if same and likeness not in (Likeness.SAID, Likeness.SAME):
        said.append("one person reports both")
    return " and ".join(filter(None, said))


def unsettled_pairs(reports: Reports) -> tuple[Pair, ...]:
    r"""Likely pairs that nobody has settled yet: neither joined, nor said to be two machines.

    >>> from ironlace.survey.reports.table import read_reports
    >>> text = "id,mark,machine\nA,4.96.217,\nB,4.96.217,\nC,4.96.217,C\nD,4.96.271,\n"
    >>> table = read_reports(text)
    >>> [(pair.first, pair.second) for pair in unsettled_pairs(Reports.from_table(table))]
    [('A', 'D'), ('C', 'D')]
    """
    if len(reports.counted) > MOST_FOR_SLIPS:
        return ()
    alone = {report.id for report in reports.counted if report.machine == report.id}
    return tuple(
        pair
        for pair in likely_pairs(reports.counted)
        if pair.likeness is not Likeness.SAME or not alone & {pair.first, pair.second}
    )


MOST_FOR_SLIPS = 20_000
"""Among more reports than this nearly every number has another one slip away by chance, so that
pairs tell nothing; a judgement."""

_ORDER = {likeness: i for i, likeness in enumerate(Likeness)}


def _candidates(reports: Sequence[Report]) -> list[tuple[tuple[int, int], Likeness]]:
    number = {report.id: i for i, report in enumerate(reports)}
    found: list[tuple[tuple[int, int], Likeness]] = []
    by_mark: dict[Marking, list[int]] = defaultdict(list)
    by_plain: dict[str, list[int]] = defaultdict(list)
    by_hole: dict[tuple[int, str], list[int]] = defaultdict(list)
    doubtful: list[int] = []
    for i, report in enumerate(reports):
        if report.machine in number:
            found.append(((i, number[report.machine]), Likeness.SAID))
        by_mark[report.mark].append(i)
        plain = report.mark.plain
        if report.mark.has_doubts:
            doubtful.append(i)
        by_plain[plain].append(i)
        if len(plain) > 2:
            for at in range(len(plain)):
                by_hole[at, plain[:at] + plain[at + 1 :]].append(i)
    for same in by_mark.values():
        found += [((same[0], j), Likeness.SAME) for j in same[1:]]
    for same in by_plain.values():
        found += [((same[0], j), Likeness.SEPARATORS) for j in same[1:]]
    for i, report in enumerate(reports):
        plain = report.mark.plain
        for at in range(len(plain) - 1):
            if plain[at] != plain[at + 1]:
                turned = plain[:at] + plain[at + 1] + plain[at] + plain[at + 2 :]
                found += [((i, j), Likeness.TRANSPOSED) for j in by_plain.get(turned, ()) if j > i]
    alike = confusion(Assumptions())
    for (at, _), group in by_hole.items():
        for i, j in ((a, b) for n, a in enumerate(group) for b in group[n + 1 :]):
            one, two = reports[i].mark.plain[at], reports[j].mark.plain[at]
            if one != two and _easily_misread(one, two, alike):
                found.append(((i, j), Likeness.ONE_FIGURE))
    for i in doubtful:
        found += [
            ((i, j), Likeness.MAY_BE_SAME)
            for j in _readable_as(reports[i].mark, by_plain, by_hole)
            if j != i and _may_be_same(reports[i].mark, reports[j].mark)
        ]
    return found


def _easily_misread(one: str, two: str, matrix: NDArray[np.float64]) -> bool:
    i, j = CHARACTERS.find(one), CHARACTERS.find(two)
    return i >= 0 and j >= 0 and bool(matrix[i, j] > 0.0015)


def _readable_as(
    mark: Marking,
    by_plain: dict[str, list[int]],
    by_hole: dict[tuple[int, str], list[int]],
) -> list[int]:
    plain = mark.plain
    unclear = [
        at
        for at, glyph in enumerate(g for g in mark.glyphs if not g.is_separator)
        if glyph.certain is None
    ]
    if len(unclear) == 1:
        at = unclear[0]
        return by_hole.get((at, plain[:at] + plain[at + 1 :]), [])
    if not unclear:
        return by_plain.get(plain, [])
    return [i for other, rows in by_plain.items() if len(other) == len(plain) for i in rows]


def _may_be_same(one: Marking, two: Marking) -> bool:
    first = [g for g in one.glyphs if not g.is_separator]
    second = [g for g in two.glyphs if not g.is_separator]
    readable = sum(1 for a, b in zip(first, second, strict=False) if a.certain and b.certain)
    return (
        len(first) == len(second)
        and readable >= 2
        and all(_agree(a, b) for a, b in zip(first, second, strict=True))
    )


def _agree(one: Glyph, two: Glyph) -> bool:
    if not one.options or not two.options or one.doubtful or two.doubtful:
        return True
    return bool(set(one.options) & set(two.options))
