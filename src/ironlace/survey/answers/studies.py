"""One function for each question put to a survey: tables in as text, an answer out.

Every answer has `as_dict()` with plain values and `sentences()` for a person.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ironlace.survey.answers.comparison import Comparison, compare
from ironlace.survey.answers.dating import Dating, date_of
from ironlace.survey.answers.next_report import NextReport, next_report
from ironlace.survey.answers.sensitivity import Moved, most_telling, sensitivity
from ironlace.survey.answers.survivors import SurvivorSummary, survivors_from
from ironlace.survey.answers.totals import (
    Blocks,
    SeriesTotals,
    Total,
    total_from_one,
    total_with_unknown_start,
    totals_by_series,
    two_blocks,
)
from ironlace.survey.answers.two_densities import TwoDensities, two_densities
from ironlace.survey.errors import SurveyError
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.reports.anchors import Anchor, AnchorTable, anchors_of, read_anchors
from ironlace.survey.reports.table import Report, ReportTable, read_mark, read_reports
from ironlace.survey.schemes.face_value import FaceValue, face_value
from ironlace.survey.schemes.library import Candidate, candidates_for, read_schemes
from ironlace.survey.schemes.scheme import Scheme
from ironlace.survey.sharing.same_machine import (
    Pair,
    distinct_machines,
    likely_pairs,
    machine_of_each,
)


@dataclass(frozen=True)
class CompareStudy:
    """Which way of numbering explains these reports.

    Attributes
    ----------
    table
        The table as read, rows set aside included.
    comparison
        Schemes against the reports of distinct machines.
    pairs
        Reports that may be of one machine, or a slip.
    moved
        How the odds move with the assumptions; empty when not asked.
    """

    table: ReportTable
    comparison: Comparison
    pairs: tuple[Pair, ...]
    moved: tuple[Moved, ...]

    def sentences(self) -> list[str]:
        """Say it plainly."""
        said = self.comparison.sentences()
        left_out = len(self.table.reports) - len(self.comparison.reports)
        if left_out:
            said.append(
                f"{left_out} report{'' if left_out == 1 else 's'} counted as a second sighting of "
                "a machine already reported."
            )
        said += most_telling(self.moved)
        said += [pair.sentence() for pair in self.pairs[:10]]
        if len(self.pairs) > 10:
            said.append(f"{len(self.pairs) - 10} more pairs stand in the full answer.")
        return said + self.table.sentences()[1:]

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain values."""
        return {
            **self.comparison.as_dict(),
            "pairs": [pair.as_dict() for pair in self.pairs],
            "sensitivity": [moved.as_dict() for moved in self.moved],
            **_aside(self.table),
            "sentences": self.sentences(),
        }


def _aside(table: ReportTable | AnchorTable) -> dict[str, Any]:
    found: dict[str, Any] = {
        "set_aside": [
            {"line": row.line, "row": dict(row.row), "reason": row.reason}
            for row in table.set_aside
        ]
    }
    if isinstance(table, ReportTable):
        found["remarks"] = list(table.remarks)
    return found


def _candidates(reports: Sequence[Report], schemes: str | None) -> tuple[Candidate, ...] | None:
    if schemes is None:
        return candidates_for([report.mark for report in reports])
    return read_schemes(schemes)


def _distinct(table: ReportTable) -> tuple[Report, ...]:
    if not table.reports:
        raise SurveyError(
            "No row of the table could be used: " + " ".join(r.reason for r in table.set_aside[:3])
            if table.set_aside
            else "The table holds no report: add at least one row with an id and a mark."
        )
    return distinct_machines(table.reports)


def compare_study(
    reports_csv: str,
    schemes: str | None = None,
    assumptions: Assumptions | None = None,
    *,
    with_sensitivity: bool = False,
) -> CompareStudy:
    """Compare ways of numbering.

    Parameters
    ----------
    reports_csv
        Table of reports.
    schemes
        Text of a scheme file; the library's patterns when left out.
    with_sensitivity
        Whether every assumption is moved too (a few seconds).
    """
    table = read_reports(reports_csv)
    reports = _distinct(table)
    found = compare(reports, _candidates(reports, schemes), assumptions)
    moved = sensitivity(found) if with_sensitivity else ()
    return CompareStudy(table, found, likely_pairs(table.reports), moved)


@dataclass(frozen=True)
class DateStudy:
    """When a machine was made."""

    dating: Dating
    comparison: Comparison
    anchors: tuple[Anchor, ...]
    anchor_table: AnchorTable | None

    def sentences(self) -> list[str]:
        """Say it plainly."""
        said = self.dating.sentences()
        said.append(
            f"Schemes were weighed by {_counted(len(self.comparison.reports), 'report')}; "
            f"{_counted(len(self.anchors), 'dated number')} known."
        )
        return said + (self.anchor_table.sentences()[1:] if self.anchor_table else [])

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain values."""
        found = {
            **self.dating.as_dict(),
            "anchors": [
                {
                    "serial": str(a.mark),
                    "kind": str(a.kind),
                    "date": a.date.text,
                    "source": a.source,
                }
                for a in self.anchors
            ],
        }
        if self.anchor_table:
            found |= _aside(self.anchor_table)
        return {**found, "sentences": self.sentences()}


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def date_study(
    reports_csv: str,
    of: str,
    anchors_csv: str | None = None,
    schemes: str | None = None,
    assumptions: Assumptions | None = None,
) -> DateStudy:
    """Date a number.

    Parameters
    ----------
    reports_csv
        Table of reports; their own dated evidence counts as anchors too.
    of
        The mark to date.
    anchors_csv
        Table of dated numbers.
    """
    mark = read_mark(of)
    table = read_reports(reports_csv)
    reports = _distinct(table)
    anchor_table = read_anchors(anchors_csv) if anchors_csv is not None else None
    anchors = (*(anchor_table.anchors if anchor_table else ()), *anchors_of(reports))
    found = compare(reports, _candidates(reports, schemes), assumptions)
    return DateStudy(
        date_of(mark, found, anchors), found, tuple(dict.fromkeys(anchors)), anchor_table
    )


@dataclass(frozen=True)
class CountStudy:
    """How many were made.

    Attributes
    ----------
    scheme
        The scheme under which the numbers were read.
    probability
        Its probability; the totals stand or fall with it.
    overall, unknown_start, blocks, densities
        For a number that never starts again.
    series, all_series
        For one that does: totals by series, and the sum from the first to the last seen.
    not_read
        Ids of reports whose mark is not clear or does not fit.
    """

    scheme: Scheme
    probability: float
    used: int
    overall: Total | None
    unknown_start: Total | None
    blocks: Blocks | None
    densities: TwoDensities | None
    series: SeriesTotals | None
    all_series: tuple[int, Total] | None
    not_read: tuple[str, ...]

    def sentences(self) -> list[str]:
        """Say it plainly."""
        said = [
            f"Read as '{self.scheme}' (probability {self.probability:.0%}), from "
            f"{_counted(self.used, 'number')}."
        ]
        if self.overall is not None:
            said.append(
                f"Counted from 1: about {self.overall.middle:,.0f} made "
                f"(90 %: {self.overall.low:,.0f} to {self.overall.high:,.0f})."
            )
        if self.unknown_start is not None:
            said.append(
                f"Were the first number unknown: about {self.unknown_start.middle:,.0f} "
                f"(90 %: {self.unknown_start.low:,.0f} to {self.unknown_start.high:,.0f})."
            )
        if self.blocks is not None and not self._thicker:
            said.append(self.blocks.sentence())
            if self.blocks.total is not None:
                t = self.blocks.total
                said.append(
                    f"Both blocks together: about {t.middle:,.0f} (90 %: {t.low:,.0f} to "
                    f"{t.high:,.0f}); this replaces the totals above."
                )
        if self.densities is not None and self._thicker:
            t = self.densities.total
            said += [
                self.densities.sentence(),
                f"Allowing for that: about {t.middle:,.0f} (90 %: {t.low:,.0f} to {t.high:,.0f}); "
                "this replaces the totals above.",
            ]
        if self.series is not None:
            mean = self.series.mean
            said.append(
                f"Each series held about {mean.middle:,.0f} on average (90 %: {mean.low:,.0f} to "
                f"{mean.high:,.0f}); survivors come more often from the large ones, which is "
                "allowed for."
            )
        if self.all_series is not None:
            count, total = self.all_series
            said.append(
                f"Over the {count} series from the first to the last seen: about "
                f"{total.middle:,.0f} (90 %: {total.low:,.0f} to {total.high:,.0f}), if none stood "
                "still."
            )
        if self.not_read:
            said.append(f"Not clear or not fitting, so not counted: {', '.join(self.not_read)}.")
        return said

    @property
    def _thicker(self) -> bool:
        """Whether two stretches of different thickness are the best account of the numbers."""
        if self.densities is None or not self.densities.found:
            return False
        return self.blocks is None or self.densities.odds > self.blocks.odds

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain values."""
        found: dict[str, Any] = {
            "scheme": str(self.scheme),
            "probability": self.probability,
            "numbers": self.used,
            "not_read": list(self.not_read),
        }
        for name in ("overall", "unknown_start"):
            total = getattr(self, name)
            found[name] = total.as_dict() if total is not None else None
        if self.blocks is not None:
            found["blocks"] = {
                "found": self.blocks.found,
                "odds": min(self.blocks.odds, 1e12),
                "first": list(self.blocks.first),
                "second": list(self.blocks.second),
                "gap": list(self.blocks.gap),
                "total": self.blocks.total.as_dict() if self.blocks.total else None,
            }
        found["densities"] = self.densities.as_dict() if self.densities else None
        if self.series is not None:
            found["series"] = {
                "each": {name: t.as_dict() for name, t in self.series.each.items()},
                "mean": self.series.mean.as_dict(),
                "typical": self.series.typical.as_dict(),
                "unevenness": self.series.unevenness.as_dict(),
            }
        if self.all_series is not None:
            found["all_series"] = {
                "series": self.all_series[0],
                "total": self.all_series[1].as_dict(),
            }
        return {**found, "sentences": self.sentences()}


def count_study(
    reports_csv: str,
    scheme: str | None = None,
    assumptions: Assumptions | None = None,
) -> CountStudy:
    """Say how many were made, under the best scheme that has a running number (or a given one).

    Raises
    ------
    SurveyError
        When no report can be read under it, or no scheme with a running number is in play.
    """
    table = read_reports(reports_csv)
    reports = _distinct(table)
    given = assumptions or Assumptions()
    if scheme is not None:
        chosen, probability = Scheme.parse(scheme), 1.0
    else:
        found = compare(reports, None, given)
        counting = [
            r
            for r in found.results
            if any(f.counted is not None for f in r.candidate.scheme.fields)
        ]
        if not counting or counting[0].posterior < 0.01:
            raise SurveyError(
                "No scheme with a running number has a probability above 1 %; a total would mean "
                "nothing. Name a scheme to count under it all the same."
            )
        chosen, probability = counting[0].candidate.scheme, counting[0].posterior
    span = {"first_year": given.first_year, "last_year": given.last_year}
    read = [(report, face_value(report.mark, chosen, **span)) for report in reports]
    values = [(r, v) for r, v in read if v is not None and v.number is not None]
    not_read = tuple(r.id for r, v in read if v is None or v.number is None)
    if not values:
        raise SurveyError(f"No mark reads clearly as '{chosen}': check the scheme or the marks.")
    overall = unknown = blocks = densities = series = everything = None
    if values[0][1].series == "":
        numbers = [v.number for _, v in values if v.number is not None]
        start = next((f.start for f in chosen.fields if f.counted and f.start), None) or 1
        overall = total_from_one(numbers, start=start)
        if len(set(numbers)) > 2:
            unknown = total_with_unknown_start(numbers)
        blocks = two_blocks(numbers)
        if start == 1:
            densities = two_densities(numbers)
    else:
        by_series: dict[str, list[int]] = defaultdict(list)
        for _, v in values:
            if v.number is not None:
                by_series[v.series].append(v.number)
        series = totals_by_series(by_series)
        length = _series_from_first_to_last([v for _, v in values])
        if length:
            everything = (length, series.sum_over(length))
    return CountStudy(
        chosen,
        probability,
        len(values),
        overall,
        unknown,
        blocks,
        densities,
        series,
        everything,
        not_read,
    )


def _series_from_first_to_last(values: Sequence[FaceValue]) -> int | None:
    """How many months, weeks or years lie from the first to the last seen, both included."""
    if any(v.year is None or v.letter for v in values):
        return None
    years = [v.year for v in values if v.year is not None]
    if "W" in values[0].series:
        at = [y * 53 + (v.week or 0) for y, v in zip(years, values, strict=True)]
    elif "-" in values[0].series:
        at = [y * 12 + (v.month or 0) for y, v in zip(years, values, strict=True)]
    else:
        at = years
    return max(at) - min(at) + 1


def survivors_study(sightings_csv: str) -> SurvivorSummary:
    """Say how many survive and how rare they are, from a table of sightings.

    The table is a table of reports in which a machine seen again stands again: with the same clear
    mark, or naming the earlier report in `machine`. `sighted` gives the year.
    """
    table = read_reports(sightings_csv)
    if not table.reports:
        _distinct(table)
    occasions = [
        str(r.sighted.earliest.year) if r.sighted and r.sighted.earliest else None
        for r in table.reports
    ]
    return survivors_from(machine_of_each(table.reports), occasions)


def next_study(
    reports_csv: str,
    rng: np.random.Generator,
    schemes: str | None = None,
    assumptions: Assumptions | None = None,
) -> NextReport:
    """Say what to ask for next, from a table of reports."""
    reports = _distinct(read_reports(reports_csv))
    return next_report(compare(reports, _candidates(reports, schemes), assumptions), rng)
