"""Whether magnets alone turn the wheel, on a machine's record."""

import math
from dataclasses import dataclass, field, replace
from typing import Annotated, Literal

import numpy as np

from ironlace.evidence import usual_figures
from ironlace.evidence.analyses import Analysis, Ask, Known, KnownTable, Nothing, grade_of
from ironlace.evidence.answers import Answer, PlotsWhenSeen
from ironlace.evidence.findings import Interval, Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.stand.base import Span
from ironlace.stand.crank import (
    CrankCase,
    CrankFound,
    FrictionRange,
    Handle,
    Magnets,
    Slip,
    TorqueReadings,
    Wheel,
    crank_in_words,
    crank_told,
    of_either_iron,
    work_out_crank,
)
from ironlace.stand.crank_plots import safety_plot, torque_plot
from ironlace.stand.errors import StandError

_COVERAGE = 0.9
"""Share of intervals that hold the truth: the house tells 90 % throughout."""

_GAP_SD_MM = 0.1
"""Error of a gap for which none was stated: felt and japan by a caliper (a judgement)."""


_ROUND_OFF = 0.04
"""Share by which a radius and a string once round may differ: a millimetre or two of each, and the
string's own thickness (a judgement)."""


@dataclass(frozen=True)
class CrankHoldAsked:
    """What is asked for a handle held by magnets."""

    pulls: Annotated[
        KnownTable,
        Ask(
            "Pulls of the string",
            "Round the rim, at eight or more wheel angles, twice.",
            columns={"wheel": "deg", "pull": "N", "again": "N"},
            example="wheel [deg]\tpull [N]\tagain [N]\n0\t4.3\t4.2\n45\t4.6\t4.9\n90\t5.5\t5.3\n"
            "135\t6.0\t6.2\n180\t6.1\t6.0\n225\t5.2\t5.4\n270\t4.4\t4.5\n315\t4.1\t3.9",
            usual_cells=usual_figures.PULLS_N,
        ),
    ]
    string_radius: Annotated[
        Known,
        Ask(
            "From the axis to the string",
            unit="mm",
            low=5.0,
            high=1000.0,
            example="70.7 mm",
            usual=usual_figures.CRANK_MM,
        ),
    ]
    handle_radius: Annotated[
        Known,
        Ask(
            "From the axis to the handle",
            unit="mm",
            low=5.0,
            high=500.0,
            example="56 mm",
            usual=usual_figures.CRANK_MM,
        ),
    ]
    above_seat: Annotated[
        Known,
        Ask(
            "Hand above the magnets' faces",
            unit="mm",
            low=0.1,
            high=500.0,
            example="41 mm",
            usual=usual_figures.HAND_MM,
        ),
    ]
    count: Annotated[int, Ask("Magnets", low=2, high=60, example="4", usual=usual_figures.MAGNETS)]
    diameter: Annotated[
        Known,
        Ask(
            "Diameter of a magnet",
            unit="mm",
            low=1.0,
            high=100.0,
            example="10 mm",
            usual=usual_figures.MAGNET_MM,
        ),
    ]
    height: Annotated[
        Known,
        Ask(
            "Height of a magnet",
            unit="mm",
            low=0.3,
            high=100.0,
            example="5 mm",
            usual=usual_figures.MAGNET_TALL_MM,
        ),
    ]
    polarization: Annotated[
        float,
        Ask(
            "Polarization",
            "In tesla: of sintered magnets marked N35 about 1.2, N42 1.3, N52 1.45.",
            low=0.05,
            high=1.6,
            example="1.3",
        ),
    ]
    gap: Annotated[
        Known,
        Ask(
            "Gap",
            "All that lies between magnet and iron: japan, felt, paint.",
            unit="mm",
            low=0.01,
            high=20.0,
            example="0.35 ± 0.08 mm",
            usual=usual_figures.FACING_MM,
        ),
    ]
    circle_radius: Annotated[
        Known,
        Ask(
            "From the axis to the magnets",
            unit="mm",
            low=1.0,
            high=500.0,
            example="40 mm",
            usual=usual_figures.CRANK_MM,
        ),
    ]
    half_width: Annotated[
        Known,
        Ask(
            "Iron on either side",
            "From the magnet's middle to the edge of the iron, the narrow way.",
            unit="mm",
            low=0.5,
            high=200.0,
            example="7 mm",
            usual=usual_figures.IRON_MM,
        ),
    ]
    thickness: Annotated[
        Known,
        Ask(
            "Thickness of the iron",
            unit="mm",
            low=0.3,
            high=100.0,
            example="4 mm",
            usual=usual_figures.IRON_MM,
        ),
    ]
    friction_low: Annotated[
        float,
        Ask(
            "Friction, at least",
            low=0.01,
            high=1.0,
            example="0.12",
            usual=usual_figures.SLIDING_FRICTION,
        ),
    ]
    friction_high: Annotated[
        float,
        Ask(
            "Friction, at most",
            low=0.01,
            high=1.0,
            example="0.30",
            usual=usual_figures.SLIDING_FRICTION,
        ),
    ]
    iron: Annotated[
        Literal["unsaid", "grey iron", "steel"],
        Ask(
            "Iron",
            "Unsaid, the answer spans both: steel carries more of the magnets' flux.",
            choices={"unsaid": "not said", "grey iron": "cast iron", "steel": "steel"},
        ),
    ] = "unsaid"
    once_round: Annotated[
        Known | None,
        Ask(
            "String once round the rim, where it is pulled",
            "It shows a radius of the string that was misread, or a diameter given for it.",
            unit="mm",
            low=30.0,
            high=7000.0,
            example="444 mm",
        ),
    ] = field(default=None, kw_only=True)
    slip_pull: Annotated[
        Known | None,
        Ask(
            "Pull at which the hub slips",
            "By a string wound round the seated hub; the mean of three or four.",
            unit="N",
            low=0.01,
            high=1000.0,
            example="29.6 N",
        ),
    ] = None
    slip_radius: Annotated[
        Known | None,
        Ask("From the axis to that string", unit="mm", low=1.0, high=500.0, example="20 mm"),
    ] = None
    seed: Annotated[
        int,
        Ask(
            "Seed", "Of the draws that the intervals are taken from.", low=0, example="1", more=True
        ),
    ] = 1893


@dataclass(frozen=True)
class CrankHold:
    """A crank worked out from what was asked."""

    asked: CrankHoldAsked
    found: CrankFound
    readings: TorqueReadings


def crank_hold(_inputs: Nothing, asked: CrankHoldAsked, _steps: Steps) -> CrankHold:
    """Work out a crank by the function of its command; raises StandError for what cannot be."""
    names = ("wheel", "pull", "again")
    columns = [asked.pulls.column(name).values for name in names]
    rows = [[float(one) for one in row if one is not None] for row in zip(*columns, strict=True)]
    whole = [row for row in rows if len(row) == len(names)]
    measured = None
    if asked.slip_pull is not None:
        if asked.slip_radius is None:
            raise StandError(
                "The pull at which the hub slips is given and not from how far off the axis: give "
                "the radius of that string."
            )
        measured = Slip((asked.slip_pull.value,), asked.slip_radius.value)
    wheel = Wheel("grey iron", asked.half_width.value, asked.thickness.value)
    case = CrankCase(
        wheel if asked.iron == "unsaid" else replace(wheel, iron=asked.iron),
        TorqueReadings(
            asked.string_radius.value,
            tuple(row[0] for row in whole),
            (tuple(row[1] for row in whole), tuple(row[2] for row in whole)),
        ),
        Handle(asked.handle_radius.value, asked.above_seat.value),
        Magnets(
            asked.count,
            asked.diameter.value,
            asked.height.value,
            asked.polarization,
            asked.gap.value,
            asked.circle_radius.value,
            _GAP_SD_MM if asked.gap.error is None else asked.gap.error,
        ),
        FrictionRange(asked.friction_low, asked.friction_high),
        None,
        measured,
    )
    found = work_out_crank(case, np.random.default_rng(asked.seed))
    if asked.iron == "unsaid":
        of_steel = replace(case, wheel=replace(wheel, iron="steel"))
        found = of_either_iron(found, work_out_crank(of_steel, np.random.default_rng(asked.seed)))
    if said := _not_round(asked):
        found = replace(found, doubts=(said, *found.doubts))
    return CrankHold(asked, found, case.torque)


def _not_round(asked: CrankHoldAsked) -> str:
    """What a string once round the rim says against the radius given; empty for nothing."""
    if asked.once_round is None:
        return ""
    radius = asked.once_round.value / (2.0 * math.pi)
    if abs(radius - asked.string_radius.value) <= _ROUND_OFF * radius:
        return ""
    return (
        f"A string of {asked.once_round.value:g} mm once round the rim is {radius:.1f} mm from the "
        f"axis, and the string was said to pull at {asked.string_radius.value:g} mm: one is "
        "misread, measure both again."
    )


def crank_hold_answer(worked: CrankHold) -> Answer:
    """Tell the verdict, the safeties and what they rest on."""
    asked, found = worked.asked, worked.found
    grade = grade_of(
        (asked.pulls, asked.string_radius, asked.gap, asked.diameter, asked.half_width),
        Grade.CONJECTURED if asked.iron == "unsaid" or found.doubts else Grade.INFERRED,
    )

    def result(name: str, span: Span, unit: str = "") -> Result:
        interval = Interval(low=span.low, high=span.high, coverage=_COVERAGE)
        return Result(name=name, value=span.value, unit=unit, grade=grade, interval=interval)

    results = (
        result("safety against slipping", found.slip_safety),
        result("safety against being levered off", found.peel_safety),
        result("greatest torque of the wheel", found.torque_peak, "N*m"),
        result("pull of one magnet", found.pull_each, "N"),
    )
    plots = PlotsWhenSeen(lambda: [safety_plot(found), torque_plot(found, worked.readings)])
    return Answer(results, tuple(crank_in_words(found)), figures=crank_told(found), plots=plots)


CRANK_HOLD = Analysis(
    key="crank-hold",
    about="hold of a crank by magnets",
    question="Do magnets alone turn the wheel?",
    section="stand",
    inputs=Nothing,
    asked=CrankHoldAsked,
    work=crank_hold,
    answer=crank_hold_answer,
    method="ironlace.stand: torque round the wheel, magnets by images reduced for the seat",
    published="Vokoun et al. (2009), J. Magn. Magn. Mater. 321: 3758-3763, for the bound",
    hazards=("strong magnets", "running parts"),
)
