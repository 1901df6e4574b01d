"""The reports that a survey reasons from: every sighting, and one report for each machine.

One rule says which reports are of one machine:

* a person said so: `Report.machine` names the other report, or both give the same name there;
* or both read the same mark, every glyph of it clear, and nobody said otherwise. Who knows that
  two machines bear the same mark gives one of them its own id as `machine`.

Of each machine the first report that counts stands for it. The rule does not ask which theory of
the numbering holds, so that all of them are compared on the same reports. Under a theory that
gives several machines the same mark it may join too much; answers say so, and how far it matters.

>>> from ironlace.survey.reports.table import read_reports
>>> rows = ["id,mark,machine,dated,dated_kind", "A,4.96.217,,,", "B,4.96.217,,1896,sold"]
>>> reports = Reports.from_table(read_reports(chr(10).join([*rows, "C,4.96.2?7,A,,"])))
>>> [(r.id, str(r.dated.kind)) for r in reports.counted]
[('A', 'sold')]
>>> reports.sentences()[0]
'2 reports counted as second sightings of machines already reported: B of A (same mark), C of A (as said).'
"""  # noqa: E501

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from ironlace.evidence.markings import Marking
from ironlace.evidence.wording import counted
from ironlace.survey.errors import SurveyError
from ironlace.survey.reports.anchors import Anchor, anchors_of
from ironlace.survey.reports.dates_of_others import Dated, OfOther, of_others
from ironlace.survey.reports.table import (
    MADE_IN,
    Report,
    ReportTable,
    SetAside,
    is_out_of_time,
)

_MOST_NAMED = 8
"""So many second sightings are named in a sentence; the figures hold them all."""


_BEFORE_SET_ASIDE = 2
"""So many sentences of an answer stand before the one on rows set aside."""

_MOST_REASONS = 3
"""So many reasons for setting rows aside are named in a sentence; the figures hold them all."""


@dataclass(frozen=True, slots=True)
class SecondSighting:
    """A report that is of the same machine as another, which stands for it.

    `by_mark` tells that nothing but the mark says so; `against` what speaks against it.
    """

    id: str
    of: str
    by_mark: bool
    against: str = ""

    @property
    def why(self) -> str:
        """Why it is taken for the same machine."""
        return "same mark" if self.by_mark else "as said"

    def in_words(self) -> str:
        """Say it."""
        but = f", but {self.against}" if self.against else ""
        return f"{self.id} of {self.of} ({self.why}{but})"

    def as_dict(self) -> dict[str, Any]:
        """Return it by name."""
        return {"id": self.id, "of": self.of, "why": self.why, "against": self.against}


@dataclass(frozen=True)
class Reports:
    """All reports of a survey.

    Attributes
    ----------
    sightings
        As they came, each with an id of its own; `machine` says which machine it is of, where
        that is known.
    own
        Mark of the machine in hand, None when it has not been read or there is none.
    set_aside
        Rows that could not be used.
    remarks
        Sentences on cells that could not be read.
    ahead
        Of these what changes an answer, in a few words.
    """

    sightings: tuple[Report, ...]
    own: Marking | None = None
    set_aside: tuple[SetAside, ...] = ()
    remarks: tuple[str, ...] = ()
    ahead: tuple[str, ...] = ()

    @classmethod
    def from_table(cls, table: ReportTable) -> "Reports":
        """Take over a table as it was read."""
        return cls(table.reports, None, table.set_aside, table.remarks, table.ahead)

    @cached_property
    def machines(self) -> tuple[str, ...]:
        """For each sighting the id of the first sighting of the same machine."""
        return tuple(self.sightings[first].id for first in self._firsts)

    @cached_property
    def counted(self) -> tuple[Report, ...]:
        """One report for each machine that counts, in the order in which they came.

        A date that came only with a second sighting goes to the report that counts.
        """
        return _one_for_each(self.sightings, self._firsts, self._of_others)

    @cached_property
    def counted_apart(self) -> tuple[Report, ...]:
        """The same if a mark alone made no two reports one machine."""
        apart = _machines(self.sightings, by_mark=False)
        return _one_for_each(self.sightings, apart, self._of_others)

    @cached_property
    def joined(self) -> tuple[SecondSighting, ...]:
        """The second sightings, each with the report that counts for its machine."""
        if len(self.counted) == len(self.sightings):
            return ()
        counts = {self._machine_of[report.id]: report for report in self.counted}
        said = _machines(self.sightings, by_mark=False)
        place = {report.id: i for i, report in enumerate(self.sightings)}
        found = []
        for i, (report, machine) in enumerate(zip(self.sightings, self.machines, strict=True)):
            stands = counts.get(machine)
            if stands is None or stands.id == report.id or _left_out(report):
                continue
            by_mark = said[i] != said[place[stands.id]]
            found.append(SecondSighting(report.id, stands.id, by_mark, differing(stands, report)))
        return tuple(found)

    @cached_property
    def left_out(self) -> tuple[str, ...]:
        """Ids of reports set not to count, and of second sightings of nothing that counts."""
        standing = {self._machine_of[report.id] for report in self.counted}
        return tuple(
            report.id
            for report, machine in zip(self.sightings, self.machines, strict=True)
            if _left_out(report) or machine not in standing
        )

    @property
    def anchors(self) -> tuple[Anchor, ...]:
        """The dated numbers among those that count."""
        return anchors_of(self.counted)

    def to_compare(self) -> tuple[Report, ...]:
        """The reports that count.

        Raises SurveyError when there is none: what is missing, and what to do.
        """
        if self.counted:
            return self.counted
        if self.sightings:
            raise SurveyError(
                "Every report is set not to count: let one count, or read this machine's mark."
            )
        if self.set_aside:
            reasons = " ".join(row.reason for row in self.set_aside[:3])
            raise SurveyError(f"No row of the table could be used: {reasons}")
        raise SurveyError(
            "There is no mark and no report to compare: read this machine's mark first, or add a "
            "report with a name and a mark."
        )

    def told_with(self, answer: Sequence[str]) -> list[str]:
        """The sentences of an answer, with those on the reports where they are read.

        That rows were set aside, or dates not read, stands among the first three: an answer from
        less than came in says so before anything else but itself.
        """
        first, rest = list(answer[:_BEFORE_SET_ASIDE]), list(answer[_BEFORE_SET_ASIDE:])
        aside = (
            *self.set_aside_in_words(),
            *self.out_of_time_in_words(),
            *self.of_others_in_words(),
            *self.ahead,
        )
        return [*first, *aside, *rest, *self.sentences()]

    def out_of_time_in_words(self) -> list[str]:
        """Which dates would have machines made when none was, and do not count; in one sentence."""
        found = [r for r in self.sightings if _is_out_of_time(r) and not _left_out(r)]
        if not found:
            return []
        one = len(found) == 1
        named = ", ".join(f"{r.id} ({r.dated.date.text})" for r in found[:_MOST_NAMED] if r.dated)
        return [
            f"{counted(len(found), 'date')} {'lies' if one else 'lie'} outside {MADE_IN[0]} to "
            f"{MADE_IN[1]}, when such machines were made, and {'does' if one else 'do'} not count: "
            f"{named}{_and_more(found)}; mend {'it' if one else 'them'}, or say what else "
            f"{'it tells' if one else 'they tell'}."
        ]

    def of_others_in_words(self) -> list[str]:
        """Which dates are of something else than the making, and do not count; for each reason."""
        said = []
        for why in dict.fromkeys(self._of_others.values()):
            found = [r for r in self.sightings if self._of_others.get(r.id) is why and r.dated]
            named = ", ".join(
                f"{r.id} ({r.dated.date.text})" for r in found[:_MOST_NAMED] if r.dated
            )
            said.append(
                f"The date of {named}{_and_more(found)} {why}. It does not count until you say "
                "what else it tells (not before, not after)."
            )
        return said

    def set_aside_in_words(self) -> list[str]:
        """How many rows were set aside and why, in one sentence; nothing when none was.

        Rows set aside for the same reason are told together.
        """
        return set_aside_in_words(self.set_aside, len(self.sightings))

    def sentences(self) -> list[str]:
        """Say which were joined and which left out; nothing when all count."""
        said = []
        if self.joined:
            named = ", ".join(one.in_words() for one in self.joined[:_MOST_NAMED])
            said.append(
                (
                    "1 report counted as a second sighting of a machine"
                    if len(self.joined) == 1
                    else f"{len(self.joined)} reports counted as second sightings of machines"
                )
                + f" already reported: {named}{_and_more(self.joined)}."
            )
        if self.left_out:
            said.append(
                f"Set not to count: {', '.join(self.left_out[:_MOST_NAMED])}"
                f"{_and_more(self.left_out)}."
            )
        return said

    def as_dict(self) -> dict[str, Any]:
        """What was joined, left out and set aside, by name."""
        return {
            "second_sightings": [one.as_dict() for one in self.joined],
            "left_out": list(self.left_out),
            "set_aside": [
                {"line": row.line, "row": dict(row.row), "reason": row.reason}
                for row in self.set_aside
            ],
            "remarks": list(self.remarks),
        }

    @cached_property
    def _of_others(self) -> dict[str, OfOther]:
        """By its id each report whose date is of something else than the making, and of what."""
        dated = [
            r for r in self.sightings if r.dated and not _left_out(r) and not _is_out_of_time(r)
        ]
        told = of_others([Dated(r.mark, r.dated, r.sighted) for r in dated if r.dated])
        return {r.id: why for r, why in zip(dated, told, strict=True) if why is not None}

    @cached_property
    def _firsts(self) -> list[int]:
        return _machines(self.sightings)

    @cached_property
    def _machine_of(self) -> dict[str, str]:
        return {r.id: m for r, m in zip(self.sightings, self.machines, strict=True)}


def differing(one: Report, two: Report) -> str:
    """What speaks against two reports being of one machine, in words; empty when nothing does."""
    reasons = []
    if one.variant and two.variant and one.variant.lower() != two.variant.lower():
        reasons.append(f"the variants differ ({one.variant}, {two.variant})")
    if one.place and two.place and one.place.lower() != two.place.lower():
        reasons.append(f"the places differ ({one.place}, {two.place})")
    return " and ".join(reasons)


def set_aside_in_words(set_aside: Sequence[SetAside], read: int, what: str = "rows") -> list[str]:
    """How many rows of a table were set aside and why, beside so many that were read.

    >>> set_aside_in_words([SetAside(3, (), "The mark is empty.", "no number")], 4)
    ['1 of 5 rows was set aside: line 3 (no number).']
    """
    if not set_aside:
        return []
    by_reason: dict[str, list[int]] = {}
    for row in set_aside:
        by_reason.setdefault(row.why, []).append(row.line)
    told = []
    for why, lines in sorted(by_reason.items(), key=lambda pair: -len(pair[1]))[:_MOST_REASONS]:
        named = ", ".join(map(str, lines[:_MOST_NAMED]))
        named += _and_more(lines)
        told.append(f"{'line' if len(lines) == 1 else 'lines'} {named} ({why})")
    others = len(by_reason) - _MOST_REASONS
    more = f"; and {counted(others, 'more reason')}" if others > 0 else ""
    count, whole = len(set_aside), len(set_aside) + read
    return [
        f"{count} of {whole} {what} {'was' if count == 1 else 'were'} set aside: "
        f"{'; '.join(told)}{more}."
    ]


def _left_out(report: Report) -> bool:
    """Whether a person set it not to count, for itself and not as a second sighting."""
    return not report.counts and report.machine in ("", report.id)


def _and_more(found: Sequence[object]) -> str:
    """How many there are besides those that are named."""
    return f" and {len(found) - _MOST_NAMED} more" if len(found) > _MOST_NAMED else ""


def _is_out_of_time(report: Report) -> bool:
    return report.dated is not None and is_out_of_time(report.dated.date, report.dated.kind)


def _machines(reports: Sequence[Report], *, by_mark: bool = True) -> list[int]:
    """For each report the place of the first report of its machine."""
    place = {report.id: i for i, report in enumerate(reports)}
    first = list(range(len(reports)))

    def found(i: int) -> int:
        while first[i] != i:
            first[i] = first[first[i]]
            i = first[i]
        return i

    def join(i: int, j: int) -> None:
        low, high = sorted((found(i), found(j)))
        first[high] = low

    named: dict[Hashable, int] = {}
    marks: dict[Marking, int] = {}
    for i, report in enumerate(reports):
        if report.machine in place:
            join(i, place[report.machine])
        elif report.machine:
            join(i, named.setdefault(report.machine, i))
            if not report.mark.has_doubts:
                # who gives no machine and reads the same may be of this one
                marks.setdefault(report.mark, i)
    for i, report in enumerate(reports):
        if by_mark and not report.machine and not report.mark.has_doubts:
            join(i, marks.setdefault(report.mark, i))
    return [found(i) for i in range(len(reports))]


def _one_for_each(
    reports: Sequence[Report], machines: Sequence[int], of_others: Mapping[str, OfOther]
) -> tuple[Report, ...]:
    standing: dict[int, int] = {}
    dates: dict[int, Report] = {}
    for i, (report, machine) in enumerate(zip(reports, machines, strict=True)):
        if report.counts:
            standing.setdefault(machine, i)
        good = not _is_out_of_time(report) and report.id not in of_others
        if report.dated is not None and good and not _left_out(report):
            dates.setdefault(machine, report)
    kept = []
    for machine, i in sorted(standing.items(), key=lambda pair: pair[1]):
        report = reports[i]
        if _is_out_of_time(report) or report.id in of_others:
            report = replace(report, dated=None)
        if report.dated is None and machine in dates:
            report = replace(report, dated=dates[machine].dated)
        kept.append(report)
    return tuple(kept)
