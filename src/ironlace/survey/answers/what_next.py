"""What to ask for next, told: the report that would tell most, and how many would settle it."""

from dataclasses import dataclass
from typing import Annotated

import numpy as np

from ironlace.evidence.analyses import Analysis, Ask
from ironlace.evidence.answers import Answer, PlotsWhenSeen, Table
from ironlace.evidence.findings import Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.survey.answers.asked import UnderTheories, asked_before
from ironlace.survey.answers.next_report import TELLS_NOTHING, NextReport, next_report
from ironlace.survey.answers.plots import power_curves
from ironlace.survey.answers.which_numbering import compared
from ironlace.survey.reports.counted import Reports


@dataclass(frozen=True)
class NextAsked(UnderTheories):
    """What is asked for before it is said what to ask for."""

    seed: Annotated[
        int,
        Ask(
            "Seed of the random numbers",
            "Further reports are drawn at random; the same seed draws the same.",
            low=0,
            high=2**32 - 1,
            example="1",
            more=True,
        ),
    ] = 1


@dataclass(frozen=True)
class NextFound:
    """What to ask for next, and the reports so far."""

    reports: Reports
    report: NextReport


def _work(reports: Reports, asked: NextAsked, steps: Steps) -> NextFound:
    steps("comparing theories", 0.0)
    comparison = compared(reports, asked)
    steps("drawing further reports", 0.3)
    return NextFound(reports, next_report(comparison, np.random.default_rng(asked.seed)))


def _answer(found: NextFound) -> Answer:
    report, best = found.report, found.report.kinds[0]
    said = found.reports.told_with(report.sentences())
    return Answer(
        results=(
            Result(name="report that would tell most", value=best.what, grade=Grade.INFERRED),
            Result(name="expected to tell", value=best.bits, unit="bits", grade=Grade.INFERRED),
        ),
        sentences=tuple(said),
        figures={**report.as_dict(), **found.reports.as_dict()},
        tables=(
            Table(
                "What one more report would tell",
                ("Report", "Bits expected"),
                tuple((kind.what, _bits(kind.bits)) for kind in report.kinds),
            ),
        ),
        plots=() if report.settled else PlotsWhenSeen(lambda: [power_curves(report)]),
    )


def _bits(bits: float) -> str:
    return f"{bits:.2f}" if bits >= TELLS_NOTHING else "nothing more"


NEXT = Analysis(
    key="next",
    about="what to ask next",
    question="Which report would tell most?",
    section="made",
    inputs=Reports,
    asked=NextAsked,
    work=_work,
    answer=_answer,
    method="expected information of further reports, drawn from what the theories now expect",
    published="Lindley 1956, Annals of Mathematical Statistics 27",
    asked_before=asked_before,
)
