"""How long a belt over two wheels must be, and how fast it turns the one by the other.

The belt runs at its middle: half its thickness outside the place where it bears, on each wheel.
Lengths of open and crossed belts after "Mechanics", Encyclopaedia Britannica, 11th ed. (1911), vol.
17, eqs 32A and 32B; the sign of the crossed belt's arc is plus, as a crossed belt is the longer.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import asin, pi, sqrt
from typing import Annotated, Any, Literal

from scipy.optimize import brentq
from uncertainties import nominal_value, std_dev, ufloat, umath

from ironlace.evidence import usual_figures
from ironlace.evidence.analyses import Analysis, Ask, Known, Nothing, grade_of
from ironlace.evidence.answers import Answer, Plot, PlotsWhenSeen, Table
from ironlace.evidence.findings import Interval, Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.evidence.wording import listed
from ironlace.stand.belt_drawing import belt_plot
from ironlace.stand.errors import StandError

_NINETY = 1.6448536269514722
"""Half-width of a 90 % interval in standard uncertainties of a normal law (exact, rounded)."""

_COVERAGE = 0.9
"""Share of intervals that hold the truth: the house tells 90 % throughout."""

_LEAST_WRAP_DEG = 120.0
"""Less contact than this on the small wheel slips easily: common practice, no source."""

_TOUCHING = 2.0
"""Wheels nearer than so many standard uncertainties of their gap may touch: the length is then not
to be trusted, since the straight parts vanish."""

_NEAR = 0.12
"""Share of the axles' distance by which the two belt paths stand apart at the least: on stands it
is a half and more (a judgement)."""

_MOTOR_MM = 60.0
"""A driving wheel smaller than this, and than the driven one, is a motor's (a judgement)."""

_FLYWHEEL_MM = 180.0
"""No stand's flywheel is smaller where its belt bears, and no motor's pulley larger than half of it
(a judgement: flywheels are 220 to 400, pulleys 15 to 60)."""

_STAND_TURNS = (1.5, 6.5)
"""Turns of the head's wheel for one of a stand's flywheel: 2 to 5 as a rule (a judgement)."""

_STRING_MM = 3.0
"""Error of a string's length for which none was stated: its own thickness and its stretch."""


@dataclass(frozen=True)
class BeltAsked:
    """What is asked for a belt's length."""

    driver: Annotated[
        Known,
        Ask(
            "Driving wheel, across where the belt bears",
            "Wrap a strip of paper round in the groove, mark where it meets, unroll it, divide by "
            "3.1416; of a stand it is the flywheel.",
            unit="mm",
            low=5.0,
            high=2000.0,
            example="300 ± 0.5 mm",
            usual=usual_figures.DRIVING_WHEEL_MM,
        ),
    ]
    driven: Annotated[
        Known,
        Ask(
            "Driven wheel, across where the belt bears",
            "The hand wheel of the head, measured the same way.",
            unit="mm",
            low=5.0,
            high=2000.0,
            example="70 ± 0.2 mm",
            usual=usual_figures.HAND_WHEEL_MM,
        ),
    ]
    centres: Annotated[
        Known,
        Ask(
            "From axle to axle",
            "Between the middles of the two axles.",
            unit="mm",
            low=10.0,
            high=10_000.0,
            example="600 ± 1 mm",
            usual=usual_figures.AXLES_MM,
        ),
    ]
    thickness: Annotated[
        Known,
        Ask(
            "Thickness of the belt",
            "Across a round belt, or through a flat one.",
            unit="mm",
            low=0.1,
            high=60.0,
            example="4.76 mm",
            usual=usual_figures.BELT_MM,
        ),
    ]
    way: Annotated[
        Literal["open", "crossed"],
        Ask(
            "How it runs",
            "Crossed, the driven wheel turns the other way round.",
            choices={"open": "open", "crossed": "crossed"},
        ),
    ] = "open"
    string: Annotated[
        Known | None,
        Ask(
            "A string laid round both wheels",
            "Thin, in both grooves, the way the belt will run, marked where it meets: it shows a "
            "radius for a diameter, a gap between rims for the axles' distance, which nothing "
            "else does.",
            unit="mm",
            low=50.0,
            high=40_000.0,
            example="1820 ± 3 mm",
            usual=usual_figures.BELT_LENGTH_MM,
        ),
    ] = None
    slip: Annotated[
        Known | None,
        Ask(
            "Slip",
            "By how much the driven wheel lags behind; left out, none is reckoned with.",
            unit="%",
            low=0.0,
            high=30.0,
            example="2 ± 1 %",
            more=True,
            usual=usual_figures.SLIP_PERCENT,
        ),
    ] = None
    torque: Annotated[
        Known | None,
        Ask(
            "Torque of the machine",
            "At its hand wheel, by string and spring scale; for the pull that the belt needs.",
            unit="N*m",
            low=0.0,
            high=50.0,
            example="0.45 N*m",
            more=True,
            usual=usual_figures.TORQUE_N_M,
        ),
    ] = None
    friction: Annotated[
        float | None,
        Ask(
            "Friction of belt on wheel",
            "Leather on iron is about 0.2 to 0.3, more in a narrow groove.",
            low=0.01,
            high=2.0,
            example="0.25",
            more=True,
            usual=usual_figures.SLIDING_FRICTION,
        ),
    ] = None
    stretch: Annotated[
        Known | None,
        Ask(
            "Stretch of the belt",
            "By how much it is strung longer than it is cut; for the length to cut.",
            unit="%",
            low=0.0,
            high=20.0,
            example="2 ± 1 %",
            more=True,
            usual=usual_figures.SLIP_PERCENT,
        ),
    ] = None
    bite: Annotated[
        Known | None,
        Ask(
            "What the joint takes",
            "Of the belt's length: overlap, or the staple's bite where the ends do not meet "
            "(then less than nothing).",
            unit="mm",
            low=-50.0,
            high=200.0,
            example="-1 ± 0.5 mm",
            more=True,
        ),
    ] = None
    cadence: Annotated[
        Known | None,
        Ask(
            "Turns of the driving wheel",
            "To the minute, as it is trodden.",
            unit="1/min",
            low=0.0,
            high=10_000.0,
            example="70 /min",
            more=True,
        ),
    ] = None
    own: Annotated[
        Literal["unsaid", "same", "other"],
        Ask(
            "The machine's wheel must turn",
            "Against the driving wheel, both seen from one side.",
            choices={"unsaid": "not said", "same": "the same way", "other": "the other way"},
            more=True,
        ),
    ] = "unsaid"
    at_hand: Annotated[
        Known | None,
        Ask(
            "Length of a belt at hand",
            "Along its middle, joined; for the distance of the axles that suits it.",
            unit="mm",
            low=50.0,
            high=40_000.0,
            example="1830 mm",
            more=True,
            usual=usual_figures.BELT_LENGTH_MM,
        ),
    ] = None


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure with its standard uncertainty, as far as errors were stated."""

    value: float
    sd: float


@dataclass(frozen=True, slots=True)
class Belt:
    """A belt worked out.

    Attributes
    ----------
    length_mm
        Along the belt's middle.
    ratio
        Of the two wheels at the belt's middle: turns of the driven one for one of the driving one,
        if nothing slipped.
    turns
        The same with the slip that was given.
    wrap_deg
        Contact on the smaller wheel.
    gap_mm
        Between the two belts' paths on the line of the axles: how near the wheels come.
    unsaid
        The measures for which no error was stated.
    tight_n
        Pull of the tight side that drives the machine without slipping, N, where torque and
        friction were given.
    centres_for_mm
        From axle to axle for the belt at hand.
    cut_mm
        Length to cut, where stretch or joint were given.
    stitches_per_min
        Stitches to the minute, one to a turn of the driven wheel, where the cadence was given.
    string_mm
        What a thin string round both wheels should measure, where one was laid.
    doubts
        What makes it probable that a measure is not what it was said to be: to be told first.
    """

    asked: BeltAsked
    length_mm: Figure
    ratio: Figure
    turns: Figure
    wrap_deg: Figure
    gap_mm: Figure
    unsaid: tuple[str, ...]
    tight_n: Figure | None = None
    centres_for_mm: float | None = None
    cut_mm: Figure | None = None
    stitches_per_min: Figure | None = None
    string_mm: Figure | None = None
    doubts: tuple[str, ...] = ()


def belt(_inputs: Nothing, asked: BeltAsked, _steps: Steps) -> Belt:
    """Work out a belt.

    Raises
    ------
    StandError
        When the wheels would touch.
    """
    thick = _number(asked.thickness)
    for words, wheel in (("driving", asked.driver), ("driven", asked.driven)):
        if wheel.value < asked.thickness.value:
            raise StandError(
                f"A belt of {asked.thickness.value:g} mm cannot run round a {words} wheel of "
                f"{wheel.value:g} mm, its pitch line would lie inside the belt: measure both again."
            )
    large = (_number(asked.driver) + thick) / 2.0
    small = (_number(asked.driven) + thick) / 2.0
    ratio = turns = large / small
    if nominal_value(small) > nominal_value(large):
        large, small = small, large
    centres = _number(asked.centres)
    gap = centres - large - small
    if nominal_value(gap) <= 0.0:
        raise StandError(
            f"The wheels would touch: their axles are {nominal_value(centres):g} mm apart, and "
            f"with the belt on they need more than {nominal_value(large + small):.1f} mm: measure "
            "from axle to axle again."
        )
    length, lean = _round(large, small, centres, asked.way)
    string = None
    if asked.string is not None:
        # a thin string runs where the belt's underside does
        string = _figure(_round(large - thick / 2.0, small - thick / 2.0, centres, asked.way)[0])
    wrap = 180.0 + (2.0 if asked.way == "crossed" else -2.0) * umath.degrees(lean)
    if asked.slip is not None:
        turns = turns * (1.0 - _number(asked.slip) / 100.0)
    unsaid = tuple(
        words
        for words, known in _measures(asked)
        if known is not None and known.error is None and known is not asked.string
    )
    figures = [_figure(v) for v in (length, ratio, turns, wrap, gap)]
    return Belt(
        asked,
        figures[0],
        figures[1],
        figures[2],
        figures[3],
        figures[4],
        unsaid,
        _tight(asked, (_number(asked.driven) + thick) / 2.0, wrap),
        None if asked.at_hand is None else _centres_for(asked, asked.at_hand.value),
        _cut(asked, length),
        None if asked.cadence is None else _figure(_number(asked.cadence) * turns),
        string,
        tuple(_doubts(asked, nominal_value(gap), string)),
    )


def _round(large: Any, small: Any, centres: Any, way: str) -> tuple[Any, Any]:
    """Length round two wheels of these radii, mm, and how far the straights lean, radians."""
    across = large - small if way == "open" else large + small
    lean = umath.asin(across / centres)
    straight = umath.sqrt(centres**2 - across**2)
    return 2.0 * straight + pi * (large + small) + 2.0 * across * lean, lean


def _doubts(asked: BeltAsked, gap: float, string: Figure | None) -> Iterator[str]:
    """What makes it probable that a measure is not what it was said to be."""
    if string is not None and asked.string is not None:
        off = asked.string.value - string.value
        sd = sqrt(string.sd**2 + (asked.string.error or _STRING_MM) ** 2)
        if abs(off) > 3.0 * max(sd, _STRING_MM):
            yield (
                f"A string round both wheels measures {asked.string.value:g} mm, and by the other "
                f"measures it would be {string.value:.0f} mm: one of them is wrong, or the belt "
                "does not run that way. Measure again before a belt is cut."
            )
    driver, turns = asked.driver.value, asked.driver.value / asked.driven.value
    if string is None and _FLYWHEEL_MM / 2.0 < driver < _FLYWHEEL_MM:
        yield (
            f"A driving wheel of {driver:g} mm is smaller than any stand's flywheel "
            f"({_FLYWHEEL_MM:g} mm) and larger than a motor's pulley: look whether it is a radius."
        )
    elif string is None and driver >= _FLYWHEEL_MM and not _covers(_STAND_TURNS, turns):
        yield (
            f"A driving wheel of {driver:g} mm on a driven wheel of {asked.driven.value:g} mm "
            f"turns it {turns:.1f} times, and stands turn heads {_STAND_TURNS[0]:g} to "
            f"{_STAND_TURNS[1]:g} times: look whether one is a radius, or one typed for the other."
        )
    if gap < _NEAR * asked.centres.value:
        yield (
            f"The wheels would stand only {gap:.0f} mm apart: was the way round a wheel given and "
            "not divided by 3.1416, or the gap between the rims for the axles' distance?"
        )
    if asked.driver.value < asked.driven.value and asked.driver.value < _MOTOR_MM:
        yield (
            f"The driving wheel of {asked.driver.value:g} mm is as small as a motor's pulley: if a "
            "treadle or a hand crank drives it, look whether both wheels were measured in one unit."
        )


def _covers(ends: tuple[float, float], value: float) -> bool:
    return ends[0] <= value <= ends[1]


def _figure(value: Any) -> Figure:
    return Figure(nominal_value(value), std_dev(value))


def _cut(asked: BeltAsked, length: Any) -> Figure | None:
    """What to cut off the roll: the belt unstretched, and what its joint takes."""
    if asked.stretch is None and asked.bite is None:
        return None
    stretch = 0.0 if asked.stretch is None else _number(asked.stretch) / 100.0
    bite = 0.0 if asked.bite is None else _number(asked.bite)
    return _figure(length / (1.0 + stretch) + bite)


def _tight(asked: BeltAsked, radius: Any, wrap: Any) -> Figure | None:
    """The tight side's pull by Eytelwein's equation, T1 = T2 exp(mu wrap), and T1 - T2 for torque.

    The smaller wheel's contact is taken, where it slips first.
    """
    if asked.torque is None or asked.friction is None:
        return None
    held = 1.0 - umath.exp(-asked.friction * umath.radians(wrap))
    pull = _number(asked.torque) / (radius / 1000.0) / held
    return Figure(nominal_value(pull), std_dev(pull))


def _centres_for(asked: BeltAsked, length: float) -> float:
    """The distance of the axles at which a belt of a length runs on these wheels, mm.

    Raises StandError when it is too short to go round both.
    """
    thick = asked.thickness.value
    large, small = sorted(
        ((wheel.value + thick) / 2.0 for wheel in (asked.driver, asked.driven)), reverse=True
    )
    across = large - small if asked.way == "open" else large + small

    def wanting(centres: float) -> float:
        straight = sqrt(centres**2 - across**2)
        return (
            2.0 * straight + pi * (large + small) + 2.0 * across * asin(across / centres) - length
        )

    least = (large + small) * (1.0 + 1e-9)
    if wanting(least) > 0.0:
        raise StandError(
            f"A belt of {length:g} mm is too short for these wheels, which need more than "
            f"{wanting(least) + length:.0f} mm even when they touch: take a longer one."
        )
    return float(brentq(wanting, least, length, xtol=1e-9))


def _number(known: Known) -> Any:
    return ufloat(known.value, known.error) if known.error else known.value


def _measures(asked: BeltAsked) -> tuple[tuple[str, Known | None], ...]:
    return (
        ("the driving wheel", asked.driver),
        ("the driven wheel", asked.driven),
        ("the distance of the axles", asked.centres),
        ("the belt's thickness", asked.thickness),
        ("the slip", asked.slip),
        ("the torque", asked.torque),
        ("the stretch", asked.stretch),
        ("the joint", asked.bite),
        ("the cadence", asked.cadence),
        ("the string", asked.string),
    )


def belt_answer(found: Belt) -> Answer:
    """Tell a belt: its length, the turns, and what could make them wrong."""
    known = tuple(known for _, known in _measures(found.asked) if known is not None)
    grade = grade_of(known, Grade.INFERRED)
    near = found.gap_mm.value < _TOUCHING * found.gap_mm.sd
    if near or found.doubts:
        grade = Grade.CONJECTURED
    sure = not found.unsaid and not near and not found.doubts

    def result(name: str, value: Figure, unit: str = "") -> Result:
        low, high = value.value - _NINETY * value.sd, value.value + _NINETY * value.sd
        interval = Interval(low=low, high=high, coverage=_COVERAGE) if sure else None
        return Result(name=name, value=value.value, unit=unit, grade=grade, interval=interval)

    results: tuple[Result, ...] = (
        result("length of the belt along its middle", found.length_mm, "mm"),
        result("turns of the driven wheel for one of the driving wheel", found.turns),
        result("contact on the smaller wheel", found.wrap_deg, "°"),
    )
    if found.cut_mm is not None:
        results = (*results, result("length to cut", found.cut_mm, "mm"))
    if found.stitches_per_min is not None:
        results = (*results, result("stitches to the minute", found.stitches_per_min, "1/min"))
    return Answer(
        results,
        tuple(_sentences(found, near=near, sure=sure)),
        figures=_figures(found),
        tables=(_as_measured(found.asked),),
        plots=PlotsWhenSeen(lambda: [_drawn(found.asked)]),
    )


def _drawn(asked: BeltAsked) -> Plot:
    return belt_plot(
        asked.driver.value,
        asked.driven.value,
        asked.centres.value,
        asked.thickness.value,
        asked.way,
    )


def _sentences(found: Belt, *, near: bool, sure: bool) -> list[str]:
    way = found.asked.way
    other = " It turns the driven wheel the other way round." if way == "crossed" else ""
    said = [f"The {way} belt is {_with_doubt(found.length_mm, 'mm', sure=sure)} long.{other}"]
    if found.string_mm is None:
        said.append(
            "Nothing checks the measures: lay a string round both wheels before a belt is cut."
        )
    elif not found.doubts:
        said.append(f"The string laid round both agrees ({found.string_mm.value:.0f} mm).")
    slip = "without slip" if found.asked.slip is None else "with the slip given"
    if _turns_backwards(found.asked):
        said.append(
            "So laid it turns the machine against its own direction, which can break a needle or "
            f"tangle the thread: lay it {'crossed' if way == 'open' else 'open'}, or turn the "
            "driving wheel the other way."
        )
    said.append(
        f"One turn of the driving wheel turns the other {_with_doubt(found.turns, '', sure=sure)} "
        f"times, {slip}."
    )
    if near:
        said.insert(
            0,
            f"The wheels come within {found.gap_mm.value:.1f} mm of each other, which their errors "
            "could take up: measure from axle to axle again before a belt is cut.",
        )
    if found.unsaid:
        said.insert(
            1,
            f"No interval is given: no error was stated for {listed(found.unsaid)}.",
        )
    if found.wrap_deg.value < _LEAST_WRAP_DEG:
        said.append(
            f"The belt holds the smaller wheel on {found.wrap_deg.value:.0f}° only and may slip: "
            "common practice is 120° or more."
        )
    said += _further(found)
    said[int(near) : int(near)] = found.doubts
    said.append(
        "Leather stretches: join it for a trial before it is cut to length, and take out what it "
        "gives after the first hours (common practice, no source)."
    )
    return said


def _turns_backwards(asked: BeltAsked) -> bool:
    """Whether the belt turns the machine's wheel against the way that it must turn."""
    return asked.own != "unsaid" and (asked.own == "same") != (asked.way == "open")


def _further(found: Belt) -> list[str]:
    """What was asked besides: the belt's pull, and the axles' distance for a belt at hand."""
    said = []
    sure = not found.unsaid
    if found.cut_mm is not None:
        said.append(
            f"Cut it {_with_doubt(found.cut_mm, 'mm', sure=sure)} long, with the stretch and the "
            "joint given."
        )
    if found.stitches_per_min is not None:
        said.append(
            f"Trodden so it makes {_with_doubt(found.stitches_per_min, '', sure=sure)} stitches to "
            "the minute, one to a turn of the machine's wheel."
        )
    if found.tight_n is not None:
        said.append(
            f"Its tight side must pull with {found.tight_n.value:.3g} N to drive the machine "
            "without slipping; what it is strung with besides wears the bearings."
        )
    elif found.asked.torque is not None:
        said.append("For the belt's pull its friction is needed as well as the torque.")
    if found.centres_for_mm is not None and found.asked.at_hand is not None:
        said.append(
            f"A belt of {found.asked.at_hand.value:g} mm runs at {found.centres_for_mm:.1f} mm "
            "from axle to axle."
        )
    return said


def _with_doubt(value: Figure, unit: str, *, sure: bool) -> str:
    unit = f" {unit}" if unit else ""
    if not sure or value.sd == 0.0:
        return f"{value.value:.5g}{unit}"
    half = _NINETY * value.sd
    return f"{value.value:.5g}{unit} (90 %: {value.value - half:.5g} to {value.value + half:.5g})"


def _figures(found: Belt) -> dict[str, Any]:
    return {
        "length_mm": found.length_mm.value,
        "turns": found.turns.value,
        "wrap_deg": found.wrap_deg.value,
        "gap_mm": found.gap_mm.value,
        "no_error_stated_for": list(found.unsaid),
        "tight_N": None if found.tight_n is None else found.tight_n.value,
        "centres_for_mm": found.centres_for_mm,
        "cut_mm": None if found.cut_mm is None else found.cut_mm.value,
        "stitches_per_min": (
            None if found.stitches_per_min is None else found.stitches_per_min.value
        ),
        "turns_backwards": (None if found.asked.own == "unsaid" else _turns_backwards(found.asked)),
    }


def _as_measured(asked: BeltAsked) -> Table:
    rows = tuple(
        (words, str(known), str(known.grade)) for words, known in _measures(asked) if known
    )
    return Table("What it was worked out from", ("Measure", "As given", "Known how"), rows)


@dataclass(frozen=True, slots=True)
class BeltCase:
    """A whole case for a belt: plain figures, no errors stated.

    The diameters are those where the belt's underside runs; `cadence_per_min` is the driving
    wheel's, turns to the minute.
    """

    flywheel_groove_diameter_mm: Annotated[float, Ask("Flywheel", unit="mm", low=5.0, high=2000.0)]
    wheel_groove_diameter_mm: Annotated[float, Ask("Hand wheel", unit="mm", low=5.0, high=2000.0)]
    centres_mm: Annotated[float, Ask("Axle to axle", unit="mm", low=10.0, high=10_000.0)]
    belt_diameter_mm: Annotated[float, Ask("Belt", unit="mm", low=0.1, high=60.0)]
    run: Literal["open", "crossed"] = "open"
    cadence_per_min: Annotated[float, Ask("Cadence", low=0.0, high=10_000.0)] | None = None
    slip_percent: Annotated[float, Ask("Slip", unit="%", low=0.0, high=30.0)] = 0.0


def belt_of_case(case: BeltCase) -> Belt:
    """Work out the belt of a case, by the same function as everywhere.

    Raises StandError when the wheels would touch or the belt cannot bend round one.
    """
    asked = BeltAsked(
        driver=Known(case.flywheel_groove_diameter_mm, None, "mm"),
        driven=Known(case.wheel_groove_diameter_mm, None, "mm"),
        centres=Known(case.centres_mm, None, "mm"),
        thickness=Known(case.belt_diameter_mm, None, "mm"),
        way=case.run,
        slip=Known(case.slip_percent, None, "%"),
    )
    return belt(Nothing(), asked, Steps())


def belt_told(case: BeltCase, found: Belt) -> dict[str, Any]:  # dict: plain JSON
    """The answer as plain figures, by the names that scripts rely on."""
    stitches = None
    if case.cadence_per_min is not None:
        stitches = case.cadence_per_min * found.turns.value
    return {
        "length_mm": found.length_mm.value,
        "ratio": found.ratio.value,
        "stitches_per_min": stitches,
        "same_direction": case.run == "open",
        "wrap_small_deg": found.wrap_deg.value,
    }


BELT_LENGTH = Analysis(
    key="belt-length",
    about="belt length",
    question="How long must the belt be, and how fast does it turn the machine?",
    section="stand",
    inputs=Nothing,
    asked=BeltAsked,
    work=belt,
    answer=belt_answer,
    method="ironlace.stand: belt over two wheels at its middle, errors carried to first order",
    published='"Mechanics", Encyclopaedia Britannica, 11th ed. (1911), vol. 17, eqs 32A, 32B',
    hazards=("running parts",),
)
