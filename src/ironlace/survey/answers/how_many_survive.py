"""How many survive, told: from machines that were seen again."""

import math
from dataclasses import dataclass

from ironlace.evidence.analyses import Analysis, Nothing
from ironlace.evidence.answers import Answer, Table
from ironlace.evidence.findings import Interval, Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.survey.answers.survivors import Survivors, SurvivorSummary, survivors_from
from ironlace.survey.reports.counted import Reports
from ironlace.survey.reports.table import Report
from ironlace.survey.sharing.slips_between_sightings import joined_by_slips


@dataclass(frozen=True)
class SurvivorsFound:
    """How many survive: what the sightings say, and the reports they are."""

    reports: Reports
    summary: SurvivorSummary


def _work(reports: Reports, _asked: Nothing, steps: Steps) -> SurvivorsFound:
    steps("estimating survivors", 0.0)
    if not reports.sightings:
        reports.to_compare()
    occasions = [_year(report) for report in reports.sightings]
    slips, _ = joined_by_slips([r.mark for r in reports.sightings], reports.machines)
    return SurvivorsFound(reports, survivors_from(reports.machines, occasions, slips=slips))


def _year(report: Report) -> str | None:
    """The occasion of a sighting is its year."""
    first = report.sighted.earliest if report.sighted else None
    return str(first.year) if first else None


def _answer(found: SurvivorsFound) -> Answer:
    summary = found.summary
    # with hardly anything seen twice nothing bears a number above those seen
    grade = Grade.CONJECTURED if summary.seldom_again else Grade.INFERRED
    results = [
        Result(
            name=f"survivors, {one.name}",
            value=round(one.middle, 1),
            unit="machines",
            interval=Interval(low=round(one.low, 1), high=_end(one.high), coverage=0.9),
            grade=grade,
        )
        for one in summary.estimates
        if math.isfinite(one.middle)
    ]
    if (met := summary.rarity) is not None:
        results.append(
            Result(
                name="met in a year",
                value=round(met.rate, 3),
                unit="machines",
                interval=Interval(low=round(met.low, 3), high=round(met.high, 3), coverage=0.9),
                grade=grade,
            )
        )
    said = found.reports.told_with(summary.sentences())
    return Answer(
        results=tuple(results),
        sentences=tuple(said),
        figures={**summary.as_dict(), **found.reports.as_dict()},
        tables=(
            Table(
                "Estimates side by side",
                ("Estimate", "About", "90 %", "What must hold"),
                tuple(_row(one) for one in summary.estimates),
            ),
        ),
    )


def _end(value: float) -> float | None:
    return round(value, 1) if math.isfinite(value) else None


def _row(one: Survivors) -> tuple[str, str, str, str]:
    about = f"{one.middle:.0f}" if math.isfinite(one.middle) else "no bound"
    high = f"{one.high:.0f}" if math.isfinite(one.high) else "no upper end"
    return one.name, about, f"{one.low:.0f} to {high}", one.assumes


SURVIVORS = Analysis(
    key="survivors",
    about="survivors",
    question="How many survive, and how rare are they?",
    section="made",
    inputs=Reports,
    asked=Nothing,
    work=_work,
    answer=_answer,
    method="lower bound of survivors from machines seen again, with other estimates beside it",
    published="Chao 1984, Scandinavian Journal of Statistics 11; Chao 1987, Biometrics 43",
)
