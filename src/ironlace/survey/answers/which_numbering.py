"""Which way of numbering explains the marks, told: odds, likely pairs, what they rest on."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Annotated, Any

from ironlace.evidence.analyses import Analysis, Ask
from ironlace.evidence.answers import Answer, Plot, PlotsWhenSeen, Table
from ironlace.evidence.findings import Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.survey.answers.asked import UnderTheories, asked_before
from ironlace.survey.answers.comparison import Comparison, compare, percent
from ironlace.survey.answers.odds_trace import odds_trace
from ironlace.survey.answers.plots import month_year_grid, odds_as_they_came
from ironlace.survey.answers.sensitivity import Moved, counted_apart, most_telling, sensitivity
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.reports.counted import Reports
from ironlace.survey.reports.table import Report
from ironlace.survey.reports.where_from import WhereFrom
from ironlace.survey.schemes.face_value import face_value
from ironlace.survey.schemes.library import Candidate
from ironlace.survey.sharing.same_machine import (
    MOST_FOR_SLIPS,
    Likeness,
    Pair,
    unsettled_pairs,
)

SURE = 0.9
"""A theory with less of the probability than this is a conjecture. As in `dating`; a judgement."""

_PAIRS_SAID = 10
"""So many pairs are named in the sentences; the figures hold them all."""


@dataclass(frozen=True)
class CompareAsked(UnderTheories):
    """What is asked for when ways of numbering are compared."""

    sensitivity: Annotated[
        bool,
        Ask(
            "Also how far each assumption moves the odds",
            "Each is moved down and up, and the reports are left out in turn; a few seconds more.",
        ),
    ] = False


@dataclass(frozen=True)
class NumberingFound:
    """Which way of numbering explains these reports.

    Attributes
    ----------
    reports
        All reports, second sightings included.
    comparison
        Theories against one report for each machine.
    moved
        How the odds move with the assumptions; empty when not asked.
    """

    reports: Reports
    comparison: Comparison
    moved: tuple[Moved, ...] = ()

    @property
    def doubts(self) -> list[str]:
        """What is said of the reports before what bears the odds, on the page as by command."""
        return list(filter(None, [read_by_one(self.comparison.reports)]))

    @cached_property
    def unsettled(self) -> tuple[Pair, ...]:
        """Reports that may be of one machine, or a slip, and that nobody has settled."""
        return unsettled_pairs(self.reports)

    @property
    def pairs(self) -> tuple[Pair, ...]:
        """The same, and those settled: each second sighting with the report that counts for it."""
        settled = (
            Pair(one.of, one.id, Likeness.SAME if one.by_mark else Likeness.SAID, one.against)
            for one in self.reports.joined
        )
        place = {report.id: i for i, report in enumerate(self.reports.sightings)}
        found = (*self.unsettled, *settled)
        return tuple(sorted(found, key=lambda pair: (place[pair.first], place[pair.second])))


def compared(reports: Reports, asked: UnderTheories) -> Comparison:
    """Compare theories on the reports that count.

    Raises SurveyError when none counts.
    """
    counted = reports.to_compare()
    compared_so = _held if len(counted) <= _MOST_HELD else compare
    return compared_so(counted, asked.candidates(), asked.assumptions())


_MOST_HELD = 5_000
"""Comparisons of more reports are not held: one of 100,000 takes some sixty megabytes."""


# The questions put to a survey one after the other rest on the same comparison.
@lru_cache(maxsize=4)
def _held(
    reports: tuple[Report, ...], schemes: tuple[Candidate, ...] | None, given: Assumptions
) -> Comparison:
    return compare(reports, schemes, given)


def shared_mark_sentences(reports: Reports, found: Comparison) -> list[str]:
    """Say so when the leading theory gives several machines the mark for which some were joined."""
    alone = [one.id for one in reports.joined if one.by_mark]
    if not alone or found.best.candidate.scheme.tells_machines_apart:
        return []
    return [
        f"Under '{found.called(found.best.name)}' several machines bear the same mark, "
        f"and {len(alone)} of the second sightings are taken for such by the mark alone: "
        "say of each whether it is a machine of its own."
    ]


def _work(reports: Reports, asked: CompareAsked, steps: Steps) -> NumberingFound:
    steps("comparing theories", 0.0)
    found = compared(reports, asked)
    moved: tuple[Moved, ...] = ()
    if asked.sensitivity:
        steps("moving the assumptions", 0.2)
        moved = sensitivity(found)
        if any(one.by_mark for one in reports.joined):
            moved += (counted_apart(found, reports.counted_apart),)
    return NumberingFound(reports, found, moved)


def _sentences(found: NumberingFound) -> list[str]:
    told = found.comparison.sentences()
    said = found.reports.told_with([told[0], *found.doubts, *told[1:]])
    said += shared_mark_sentences(found.reports, found.comparison)
    said += most_telling(found.moved)
    pairs = found.unsettled
    said += [pair.sentence() for pair in pairs[:_PAIRS_SAID]]
    if len(pairs) > _PAIRS_SAID:
        said.append(f"{len(pairs) - _PAIRS_SAID} more pairs stand in the full answer.")
    if (count := len(found.comparison.reports)) > MOST_FOR_SLIPS:
        said.append(
            f"Of {count:,} reports nearly each has another one slip away by chance, so that such "
            "pairs are not named."
        )
    said += [f"Line {row.line} set aside: {row.reason}" for row in found.reports.set_aside]
    return said + list(found.reports.remarks)


def read_by_one(reports: Sequence[Report]) -> str:
    """Say that one person's readings alone bear the odds; '' where it is not told, or not so.

    Whoever passes a ring on as a dot, or a 1 as a 7, does so in all of them; the slips that the
    odds allow for are each by itself.
    """
    if not WhereFrom.of(reports).of_one_person:
        return ""
    return (
        "Nearly all reports that say by whom are one person's: what he passes on otherwise than it "
        "is struck (a ring as a dot, a 1 as a 7) is in all of them. Ask another person for a mark."
    )


def _answer(found: NumberingFound) -> Answer:
    comparison, best = found.comparison, found.comparison.best
    sure = len(comparison.reports) > 1 and best.posterior >= SURE and not best.candidate.rival
    sure = sure and comparison.year_in_doubt is None
    grade = Grade.INFERRED if sure else Grade.CONJECTURED
    sentences = _sentences(found)
    figures: dict[str, Any] = {
        **comparison.as_dict(),
        "pairs": [pair.as_dict() for pair in found.pairs],
        "sensitivity": [moved.as_dict() for moved in found.moved],
        **found.reports.as_dict(),
    }
    return Answer(
        results=(
            Result(name="way of numbering", value=best.candidate.scheme.in_words(), grade=grade),
            Result(name="its probability", value=best.posterior, grade=grade),
        ),
        sentences=tuple(sentences),
        figures=figures,
        tables=(theories_table(comparison),),
        plots=PlotsWhenSeen(lambda: _plots(comparison)),
    )


def theories_table(found: Comparison) -> Table:
    """Each theory with its chance, the likeliest first."""
    return Table(
        "Theories, the likeliest first",
        ("Theory", "Reads", "Chance"),
        tuple(
            (
                f"{found.called(r.name)} (says nothing; to be beaten)"
                if r.candidate.rival
                else found.called(r.name),
                r.candidate.scheme.in_words(),
                percent(r.posterior),
            )
            for r in found.results
        ),
    )


def _plots(found: Comparison) -> Sequence[Plot]:
    given = found.assumptions
    candidates = [result.candidate for result in found.results]
    plots = []
    if len(found.reports) > 1:
        plots.append(odds_as_they_came(odds_trace(found.reports, candidates, given)))
    read = [
        face_value(
            report.mark,
            found.best.candidate.scheme,
            first_year=given.first_year,
            last_year=given.last_year,
        )
        for report in found.reports
    ]
    months = [(v.year, v.month) for v in read if v and v.year and v.month]
    return [*plots, month_year_grid(months)] if months else plots


COMPARE = Analysis(
    key="compare",
    about="way of numbering",
    question="Which way of numbering explains the marks?",
    section="made",
    inputs=Reports,
    asked=CompareAsked,
    work=_work,
    answer=_answer,
    method="marginal likelihood of the reports under each theory",
    published="Jeffreys 1939, Theory of Probability; Kass and Raftery 1995 (Bayes factors)",
    asked_before=asked_before,
)
