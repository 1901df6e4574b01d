"""How deep a point of the works reaches, on a machine's record."""

from dataclasses import dataclass
from typing import Annotated

import numpy as np

from ironlace.evidence import usual_figures
from ironlace.evidence.analyses import Analysis, Ask, KnownTable, Nothing, grade_of
from ironlace.evidence.answers import Answer, Table
from ironlace.evidence.findings import Interval, Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.stand.base import Span
from ironlace.stand.works import Works, WorksReading, sweep_of, works_doubts

_COVERAGE = 0.9
"""Share of intervals that hold the truth: the house tells 90 % throughout."""

_POINT = "the point"


@dataclass(frozen=True)
class WorksDepthAsked:
    """What is asked for the depth of a point of the works."""

    readings: Annotated[
        KnownTable,
        Ask(
            "Readings of the point",
            "Heights from the seat, negative below it, at 12 to 18 wheel angles a turn.",
            columns={"wheel": "deg", "height": "mm"},
            example="wheel [deg]\theight [mm]\n0\t-30.2\n45\t-33.4\n90\t-36.1\n135\t-38.0\n180\t"
            "-37.9\n225\t-35.8\n270\t-32.6\n315\t-30.3",
            usual_cells=usual_figures.DEPTH_MM,
        ),
    ]
    wheel_sd: Annotated[
        float,
        Ask(
            "Error of a wheel angle",
            "One standard deviation of the angle read against the mark.",
            unit="°",
            low=0.0,
            high=20.0,
            example="1.5",
            more=True,
        ),
    ] = 1.5
    seed: Annotated[
        int,
        Ask(
            "Seed",
            "Of the draws that the interval is taken from.",
            low=0,
            example="1893",
            more=True,
        ),
    ] = 1893


@dataclass(frozen=True)
class WorksDepth:
    """A depth worked out."""

    asked: WorksDepthAsked
    works: Works


def works_depth(_inputs: Nothing, asked: WorksDepthAsked, _steps: Steps) -> WorksDepth:
    """Fit the point's path; raises StandError when there are too few wheel angles."""
    columns = [asked.readings.column(name).values for name in ("wheel", "height")]
    rows = [
        WorksReading(_POINT, wheel, 0.0, 0.0, height)
        for wheel, height in zip(*columns, strict=True)
        if wheel is not None and height is not None
    ]
    return WorksDepth(asked, sweep_of(rows, np.random.default_rng(asked.seed), asked.wheel_sd))


def works_depth_answer(found: WorksDepth) -> Answer:
    """Tell the depth, where it is, and what was misread."""
    works, span = found.works, Span.of(found.works.depths_mm)
    at = "" if works.deepest_wheel_deg is None else f" near {works.deepest_wheel_deg:.0f}°"
    depth = Result(
        name="depth of the works below the seat",
        value=span.value,
        unit="mm",
        grade=grade_of((found.asked.readings,), Grade.INFERRED),
        interval=Interval(low=span.low, high=span.high, coverage=_COVERAGE),
    )
    doubts = works_doubts(works)
    said = (
        *doubts,
        f"The point reaches {span.value:.1f} mm below the seat{at} (90 %: {span.low:.1f} to "
        f"{span.high:.1f}).",
        *(one for one in works.warnings if one not in doubts),
    )
    rows = tuple((f"{one.wheel_deg:g}", f"{one.probability:.2f}") for one in works.misread)
    tables = (Table("Left out as misread", ("Wheel angle, °", "Probability"), rows),)
    figures = {"works_depth_mm": span.as_list(), "deepest_wheel_deg": works.deepest_wheel_deg}
    return Answer((depth,), said, figures=figures, tables=tables if rows else ())


WORKS_DEPTH = Analysis(
    key="works-depth",
    about="depth of the works",
    question="How deep do the works reach below the seat?",
    section="stand",
    inputs=Nothing,
    asked=WorksDepthAsked,
    work=works_depth,
    answer=works_depth_answer,
    method="ironlace.stand: Fourier series with a prior, misread readings averaged over",
    published="Box and Tiao (1968), Biometrika 55: 119-129, for misread readings",
    hazards=("lifting",),
)
