"""What a head weighs and where its centre is, on a machine's record."""

from dataclasses import dataclass, replace
from math import sqrt
from typing import Annotated

from ironlace.evidence import usual_figures
from ironlace.evidence.analyses import Analysis, Ask, Known, Nothing, grade_of
from ironlace.evidence.answers import Answer, PlotsWhenSeen
from ironlace.evidence.findings import Interval, Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.stand.centre_cloud import centre_plot
from ironlace.stand.errors import StandError
from ironlace.stand.weighing import (
    Balance,
    LevelWeighing,
    TiltedWeighing,
    Weighing,
    balance_of,
)

_NINETY = 1.6448536269514722
"""Half-width of a 90 % interval in standard uncertainties of a normal law (exact, rounded)."""

_COVERAGE = 0.9
"""Share of intervals that hold the truth: the house tells 90 % throughout."""


@dataclass(frozen=True)
class HeadBalanceAsked:
    """What is asked for a head's mass and centre."""

    left: Annotated[
        Known,
        Ask(
            "Scale under the left edge",
            "Level on two sharp edges across the bed, the scale under the left one.",
            unit="g",
            low=1.0,
            high=200_000.0,
            example="4117 g",
            usual=usual_figures.EDGE_G,
        ),
    ]
    right: Annotated[
        Known,
        Ask(
            "Scale under the right edge",
            unit="g",
            low=1.0,
            high=200_000.0,
            example="8559 g",
            usual=usual_figures.EDGE_G,
        ),
    ]
    apart_x: Annotated[
        Known,
        Ask(
            "From left to right edge",
            "Both as far from the middle of the bed.",
            unit="mm",
            low=20.0,
            high=2000.0,
            example="228 mm",
            usual=usual_figures.BED_MM,
        ),
    ]
    front: Annotated[
        Known,
        Ask(
            "Scale under the front edge",
            "Level on two edges along the bed, the scale under the one toward the sewer.",
            unit="g",
            low=1.0,
            high=200_000.0,
            example="6757 g",
            usual=usual_figures.EDGE_G,
        ),
    ]
    back: Annotated[
        Known,
        Ask(
            "Scale under the back edge",
            unit="g",
            low=1.0,
            high=200_000.0,
            example="5906 g",
            usual=usual_figures.EDGE_G,
        ),
    ]
    apart_y: Annotated[
        Known,
        Ask(
            "From front to back edge",
            unit="mm",
            low=20.0,
            high=2000.0,
            example="152 mm",
            usual=usual_figures.BED_MM,
        ),
    ]
    tilt: Annotated[
        Known,
        Ask(
            "Tilt",
            "The back edge lifted, with the scale under it; over 30° the head slides.",
            unit="°",
            low=0.0,
            high=90.0,
            example="19 deg",
            usual=usual_figures.EDGES_TILT_DEG,
        ),
    ]
    tilted: Annotated[
        Known,
        Ask(
            "Scale when tilted",
            unit="g",
            low=1.0,
            high=200_000.0,
            example="2442 g",
            usual=usual_figures.EDGE_G,
        ),
    ]
    other_tilt: Annotated[
        Known | None,
        Ask(
            "Tilt with the front edge lifted",
            "The same the other way round, the scale under the front edge. It shows edges changed "
            "round, the wrong edge lifted, a tilt not counted from level: nothing else does.",
            unit="°",
            low=0.0,
            high=90.0,
            example="18 deg",
            usual=usual_figures.EDGES_TILT_DEG,
        ),
    ] = None
    other_tilted: Annotated[
        Known | None,
        Ask(
            "Scale under the front edge then",
            unit="g",
            low=1.0,
            high=200_000.0,
            example="3480 g",
            usual=usual_figures.EDGE_G,
        ),
    ] = None
    whole: Annotated[
        Known | None,
        Ask(
            "The whole head on the scale",
            "With the same edge and board on it. It shows a scale that was not set to nought.",
            unit="g",
            low=100.0,
            high=200_000.0,
            example="12670 g",
            usual=usual_figures.HEAD_G,
        ),
    ] = None
    repeat: Annotated[
        float,
        Ask(
            "Scatter of the scale",
            "One standard deviation of a reading taken again; a kitchen scale has about 5 g.",
            unit="g",
            low=0.0,
            high=5000.0,
            example="5",
        ),
    ] = 5.0
    gain: Annotated[
        float,
        Ask("Error of the scale", unit="%", low=0.0, high=20.0, example="0.4", more=True),
    ] = 0.5
    edges: Annotated[
        float,
        Ask(
            "How well an edge is set",
            "One standard deviation of where a bearing edge lies.",
            unit="mm",
            low=0.0,
            high=20.0,
            example="0.7",
            more=True,
        ),
    ] = 0.7
    tilt_sd: Annotated[
        float,
        Ask("Error of the tilt", unit="°", low=0.0, high=10.0, example="0.25", more=True),
    ] = 0.25


ON_EDGES = ("left", "right", "apart_x", "front", "back", "apart_y", "tilt", "tilted")
"""Readings of a weighing on two edges, in the order in which they are taken."""
THAT_CHECK = ("other_tilt", "other_tilted", "whole")
"""Readings beside them that show what is wrong with those."""


def weighing_on_edges(asked: object) -> Weighing:
    """A weighing from what a form asks by the names in `ON_EDGES` and `THAT_CHECK`.

    Raises StandError when the other edge's tilt has no reading, or the reading no tilt.
    """
    names = (*ON_EDGES, *THAT_CHECK)
    read = {name: one.value for name in names if (one := getattr(asked, name)) is not None}
    if ("other_tilt" in read) != ("other_tilted" in read):
        raise StandError(
            "The tilt with the front edge lifted takes its reading, and the reading its tilt: give "
            "both, or neither."
        )
    other = None
    if "other_tilt" in read:
        other = TiltedWeighing(read["other_tilt"], read["other_tilted"])
    half_x, half_y = read["apart_x"] / 2.0, read["apart_y"] / 2.0
    return Weighing(
        along_x=LevelWeighing((-half_x, half_x), (read["left"], read["right"])),
        along_y=LevelWeighing((-half_y, half_y), (read["front"], read["back"])),
        tilted=TiltedWeighing(read["tilt"], read["tilted"]),
        tilted_other=other,
        whole_g=read.get("whole"),
    )


@dataclass(frozen=True)
class HeadBalance:
    """A balance worked out from what was asked."""

    asked: HeadBalanceAsked
    balance: Balance


def head_balance(_inputs: Nothing, asked: HeadBalanceAsked, _steps: Steps) -> HeadBalance:
    """Work out mass and centre; raises StandError when the readings contradict each other."""
    weighing = replace(
        weighing_on_edges(asked),
        scale_repeat_g=asked.repeat,
        scale_gain_percent=asked.gain,
        edge_sd_mm=asked.edges,
        tilt_sd_deg=asked.tilt_sd,
    )
    return HeadBalance(asked, balance_of(weighing))


def head_balance_answer(found: HeadBalance) -> Answer:
    """Tell mass and centre, from the middle of the bearing edges and above the seat."""
    asked, balance = found.asked, found.balance
    grade = grade_of(
        (
            asked.left,
            asked.right,
            asked.front,
            asked.back,
            asked.tilted,
            asked.tilt,
            asked.apart_x,
            asked.apart_y,
        ),
        Grade.CONJECTURED if balance.doubts else Grade.INFERRED,
    )

    def result(at: int, name: str, unit: str) -> Result:
        value, half = float(balance.mean[at]), _NINETY * sqrt(float(balance.covariance[at, at]))
        interval = Interval(low=value - half, high=value + half, coverage=_COVERAGE)
        return Result(name=name, value=value, unit=unit, grade=grade, interval=interval)

    results = (
        result(3, "height of the head's centre above the seat", "mm"),
        result(0, "mass of the head", "g"),
        result(1, "centre to the right of the middle of the edges", "mm"),
        result(2, "centre behind the middle of the edges", "mm"),
    )
    height, mass = results[0], results[1]
    assert height.interval is not None
    said = (
        *balance.doubts,
        f"The head weighs {balance.mean[0] / 1000:.2f} kg; its centre lies "
        f"{balance.mean[3]:.0f} mm above the seat (90 %: {height.interval.low:.0f} to "
        f"{height.interval.high:.0f}), {balance.mean[1]:.1f} mm to the right of the middle of the "
        f"edges and {balance.mean[2]:.1f} mm behind it.",
        *_unchecked(balance),
        "This holds for sharp bearing edges: one rounded to 5 mm puts the height 3 mm out.",
        *balance.warnings,
    )
    figures = {"mass_g": mass.value, "cg_mm": balance.mean[1:].tolist()}
    plots = PlotsWhenSeen(lambda: [centre_plot(balance)])
    return Answer(results, said, figures=figures, plots=plots)


def _unchecked(balance: Balance) -> list[str]:
    """Say which readings nothing was held against, and what would check them."""
    tilt, whole = balance.checked
    lacking = []
    if not tilt:
        lacking.append(
            "the height (front and back changed round, or a tilt not counted from level, would "
            "not show: lift the front edge too)"
        )
    if not whole:
        lacking.append(
            "the weight (a scale not set to nought under edge and board would not show: lay the "
            "whole head on it too)"
        )
    return [f"Nothing checks {' or '.join(lacking)}."] if lacking else []


HEAD_BALANCE = Analysis(
    key="head-balance",
    about="mass and centre of the head",
    question="What does the head weigh, and where is its centre?",
    section="stand",
    inputs=Nothing,
    asked=HeadBalanceAsked,
    work=head_balance,
    answer=head_balance_answer,
    method="ironlace.stand: weighing on two edges, level and tilted, by least squares",
    published="Reimpell, Stoll and Betzler, The Automotive Chassis, 2nd ed. (2001)",
    hazards=("lifting",),
)
