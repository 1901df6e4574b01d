"""What else holds a handle on the wheel: a clamp on the rim, a peg or hook at a spoke, or two.

Each takes the wheel's greatest torque in its own way; what it presses on is japan, so that its
force is told as pressure too. How two holds share the torque is not known: each must bear it alone.
The handle's weight puts the wheel out of balance; a counterweight opposite evens it.
"""

from dataclasses import dataclass
from typing import Annotated, Any, Final, Literal

import numpy as np

from ironlace.evidence import usual_figures
from ironlace.evidence.analyses import Analysis, Ask, Known, Nothing, grade_of
from ironlace.evidence.answers import Answer, Table
from ironlace.evidence.arrays import Floats
from ironlace.evidence.findings import Interval, Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.stand.base import Span
from ironlace.stand.errors import StandError
from ironlace.stand.tipping import GRAVITY

Hold = Literal["none", "clamp", "peg", "hook"]
_COVERAGE: Final = 0.9
"""Share of intervals that hold the truth: the house tells 90 % throughout."""
_DRAWS: Final = 4000
"""Draws of what is in doubt: an interval's end is then known to 2 %."""
_UNSTATED: Final = 0.05
"""Error of a reading for which none was stated, as a share (a judgement)."""
_LEAST_HOLD: Final = 1.5
"""Safety that a clamp is to be tightened to: common practice, no source."""
_SOFT_SHARE: Final = (0.35, 1.0)
"""Of a pad's face that bears: on a casting it touches a third of it at worst (a judgement)."""
_JAPAN_MPA: Final = 2.0
"""Pressure on japan above which a mark is feared. No figure for old japan was found: a judgement, a
tenth of what softwood bears across the grain, since japan over chalky ground flakes sooner."""


@dataclass(frozen=True)
class CrankHoldsAsked:
    """What is asked for other holds of a handle."""

    torque: Annotated[
        Known,
        Ask(
            "Greatest torque of the wheel",
            "From the string and scale, or from how it runs.",
            unit="N*m",
            low=0.01,
            high=20.0,
            example="0.43 ± 0.02 N*m",
            usual=usual_figures.TORQUE_N_M,
        ),
    ]
    radius: Annotated[
        Known,
        Ask(
            "From the axis to the hold",
            unit="mm",
            low=1.0,
            high=500.0,
            example="48 ± 1 mm",
            usual=usual_figures.CRANK_MM,
        ),
    ]
    face_wide: Annotated[
        Known,
        Ask("Its pad, width", "The soft face on japan.", unit="mm", low=0.5, high=200.0,
            example="10 mm", usual=usual_figures.PAD_MM),
    ]  # fmt: skip
    face_long: Annotated[
        Known,
        Ask(
            "Its pad, length",
            unit="mm",
            low=0.5,
            high=200.0,
            example="12 mm",
            usual=usual_figures.PAD_MM,
        ),
    ]
    hold: Annotated[
        Literal["clamp", "peg", "hook"],
        Ask(
            "What holds the handle",
            choices={
                "clamp": "a clamp on the rim",
                "peg": "a peg against a spoke",
                "hook": "a hook round a spoke",
            },
        ),
    ] = "peg"
    second: Annotated[
        Hold,
        Ask(
            "And with it",
            choices={
                "none": "nothing else",
                "clamp": "a clamp on the rim",
                "peg": "a peg against a spoke",
                "hook": "a hook round a spoke",
            },
        ),
    ] = "none"
    second_radius: Annotated[
        Known | None,
        Ask(
            "From the axis to the second",
            unit="mm",
            low=1.0,
            high=500.0,
            example="62 mm",
            usual=usual_figures.CRANK_MM,
        ),
    ] = None
    friction_low: Annotated[
        float,
        Ask(
            "Friction of the pad, at least",
            low=0.01,
            high=1.0,
            example="0.25",
            usual=usual_figures.SLIDING_FRICTION,
        ),
    ] = 0.25
    friction_high: Annotated[
        float,
        Ask(
            "Friction of the pad, at most",
            low=0.01,
            high=1.0,
            example="0.5",
            usual=usual_figures.SLIDING_FRICTION,
        ),
    ] = 0.5
    handle_mass: Annotated[
        Known | None,
        Ask(
            "Weight of handle and arm",
            unit="g",
            low=1.0,
            high=5000.0,
            example="85 g",
            usual=usual_figures.HANDLE_G,
        ),
    ] = None
    handle_radius: Annotated[
        Known | None,
        Ask(
            "From the axis to where it balances",
            unit="mm",
            low=1.0,
            high=500.0,
            example="52 mm",
            usual=usual_figures.CRANK_MM,
        ),
    ] = None
    counter_radius: Annotated[
        Known | None,
        Ask(
            "From the axis to a counterweight",
            "Opposite the handle.",
            unit="mm",
            low=1.0,
            high=500.0,
            example="50 mm",
            usual=usual_figures.CRANK_MM,
        ),
    ] = None
    turning: Annotated[
        Literal["top away from the sewer", "top toward the sewer"],
        Ask(
            "In sewing, the top of the wheel turns",
            choices={
                "top away from the sewer": "away from the sewer",
                "top toward the sewer": "toward the sewer",
            },
        ),
    ] = "top away from the sewer"
    seed: Annotated[int, Ask("Seed", "Of the draws.", low=0, example="1", more=True)] = 1893


@dataclass(frozen=True)
class HoldFound:
    """One hold: the force on iron and japan, N, and its pressure, N/mm2."""

    hold: str
    force: Span
    pressure: Span

    @property
    def marks(self) -> bool | None:
        """Whether it is feared to mark the japan; None where that cannot be told."""
        if self.pressure.low > _JAPAN_MPA:
            return True
        return None if self.pressure.high > _JAPAN_MPA else False


@dataclass(frozen=True)
class CrankHolds:
    """The holds of a handle; `unbalance` N mm and `counter` g are None when nothing was weighed."""

    asked: CrankHoldsAsked
    holds: tuple[HoldFound, ...]
    unbalance: Span | None
    share_of_torque: Span | None
    counter: Span | None


def crank_holds(_inputs: Nothing, asked: CrankHoldsAsked, _steps: Steps) -> CrankHolds:
    """Work the forces out.

    A peg or hook pushes with torque / radius. A clamp holds by the friction of its two jaws, so
    that each presses with 1.5 x torque / (2 x friction x radius). The pressure is force over the
    part of the pad that bears.

    Raises
    ------
    StandError
        When the friction, or one of two readings that go together, cannot be.
    """
    if asked.friction_low > asked.friction_high:
        raise StandError(
            f"A friction from {asked.friction_low:g} to {asked.friction_high:g} cannot be: give "
            "the smaller first."
        )
    if (asked.handle_mass is None) != (asked.handle_radius is None):
        raise StandError(
            "The handle's weight and where it balances go together: give both, or neither."
        )
    if asked.second != "none" and asked.second_radius is None:
        raise StandError("The second hold has no radius: measure from the axis to it.")
    rng = np.random.default_rng(asked.seed)
    torque = _drawn(asked.torque, rng) * 1000.0  # N mm
    friction = rng.uniform(asked.friction_low, asked.friction_high, _DRAWS)
    bears = rng.uniform(*_SOFT_SHARE, _DRAWS)
    area = _drawn(asked.face_wide, rng) * _drawn(asked.face_long, rng) * bears
    kinds: list[tuple[str, Known]] = [(asked.hold, asked.radius)]
    if asked.second != "none" and asked.second_radius is not None:
        kinds.append((asked.second, asked.second_radius))
    holds = []
    for kind, radius in kinds:
        force = torque / _drawn(radius, rng)
        if kind == "clamp":
            force = _LEAST_HOLD * force / (2.0 * friction)
        holds.append(HoldFound(kind, Span.of(force), Span.of(force / area)))
    return CrankHolds(asked, tuple(holds), *_balance(asked, torque, rng))


def _drawn(known: Known, rng: np.random.Generator) -> Floats:
    sd = _UNSTATED * known.value if known.error is None else known.error
    found: Floats = np.maximum(known.value + sd * rng.standard_normal(_DRAWS), 0.05 * known.value)
    return found


def _balance(
    asked: CrankHoldsAsked, torque: Floats, rng: np.random.Generator
) -> tuple[Span | None, Span | None, Span | None]:
    if asked.handle_mass is None or asked.handle_radius is None:
        return None, None, None
    moment = _drawn(asked.handle_mass, rng) * _drawn(asked.handle_radius, rng)  # g mm
    turning = moment / 1000.0 * GRAVITY  # N mm
    counter = None
    if asked.counter_radius is not None:
        counter = Span.of(moment / _drawn(asked.counter_radius, rng))
    return Span.of(turning), Span.of(turning / torque), counter


_NAMES: Final = {
    "clamp": "clamp on the rim",
    "peg": "peg against a spoke",
    "hook": "hook round a spoke",
}
_SLIPS: Final = {
    "clamp": "a clamp that slips drags its pad round the rim and polishes the japan: tighten it "
    "anew, do not force it",
    "peg": "a peg that loses its spoke leaves the handle turning freely and may strike the next "
    "spoke: stop, and seat it before turning on",
    "hook": "a hook that slides out along its spoke lets the handle drop: a stop of felt and cord "
    "keeps it in",
}
_ONE_WAY: Final = {
    "clamp": "both ways",
    "peg": "one way only; the other way it leaves its spoke",
    "hook": "both ways, with the play of the hook between",
}


def crank_holds_answer(found: CrankHolds) -> Answer:
    """Tell force and pressure of each hold, how it may be turned, and what evens the handle."""
    asked = found.asked
    grade = grade_of((asked.torque, asked.radius, asked.face_wide, asked.face_long), Grade.INFERRED)

    def result(name: str, span: Span, unit: str) -> Result:
        interval = Interval(low=span.low, high=span.high, coverage=_COVERAGE)
        return Result(name=name, value=span.value, unit=unit, grade=grade, interval=interval)

    results: list[Result] = []
    for one in found.holds:
        results.append(result(f"force of the {_NAMES[one.hold]}", one.force, "N"))
        # what part of a pad bears was not read: pressure is no better than conjecture
        pressure = result(f"pressure of the {_NAMES[one.hold]} on the japan", one.pressure, "N/mm²")
        results.append(pressure.model_copy(update={"grade": Grade.CONJECTURED}))
    said = [_told(one) for one in found.holds]
    if len(found.holds) == 2:
        said.append(
            "How two holds share the torque is not known: each is told as bearing it alone."
        )
    toward = asked.turning.removeprefix("top ")
    said.append(
        f"Turn it with the top of the wheel {toward}, in the sewing direction only, or the thread "
        "jams: " + "; ".join(f"{_NAMES[o.hold]}: {_ONE_WAY[o.hold]}" for o in found.holds) + "."
    )
    said.append(". ".join(_capital(_SLIPS[one.hold]) for one in found.holds) + ".")
    if found.unbalance is not None and found.share_of_torque is not None:
        results.append(result("unbalance of the handle", found.unbalance, "N*mm"))
        share = found.share_of_torque
        said.append(
            f"The handle's weight turns the wheel with {found.unbalance.value:.0f} N mm, "
            f"{100 * share.value:.0f} % of the torque: released with the handle up, the machine "
            + ("may turn by itself." if share.high >= 1.0 else "stays where it is.")
        )
    if found.counter is not None:
        results.append(result("counterweight", found.counter, "g"))
        said.append(
            f"{found.counter.value:.0f} g opposite ({found.counter.low:.0f} to "
            f"{found.counter.high:.0f}) even it."
        )
    rows = tuple(
        (
            _NAMES[one.hold],
            f"{one.force.value:.1f} ({one.force.low:.1f} to {one.force.high:.1f})",
            f"{one.pressure.value:.2f} ({one.pressure.low:.2f} to {one.pressure.high:.2f})",
            _ONE_WAY[one.hold],
        )
        for one in found.holds
    )
    heads = ("Hold", "Force, N", "Pressure, N/mm²", "Turns")
    return Answer(
        tuple(results), tuple(said), _figures(found), (Table("What holds the handle", heads, rows),)
    )


def _told(one: HoldFound) -> str:
    ends = {
        True: "it is feared to mark the japan: a larger or softer pad",
        None: "it may mark the japan: a larger pad settles it",
        False: "with a soft pad no mark is feared",
    }[one.marks]
    return (
        f"The {_NAMES[one.hold]} presses with {one.force.value:.1f} N (90 %: {one.force.low:.1f} "
        f"to {one.force.high:.1f}), {one.pressure.value:.2f} N/mm² on the japan "
        f"({one.pressure.low:.2f} to {one.pressure.high:.2f}); {ends}."
    )


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _figures(found: CrankHolds) -> dict[str, Any]:  # dict: plain JSON
    def listed(span: Span | None) -> list[float] | None:
        return None if span is None else span.as_list()

    return {
        "holds": [
            {
                "hold": one.hold,
                "force_N": one.force.as_list(),
                "pressure_N_mm2": one.pressure.as_list(),
                "marks_feared": one.marks,
            }
            for one in found.holds
        ],
        "unbalance_Nmm": listed(found.unbalance),
        "unbalance_share": listed(found.share_of_torque),
        "counterweight_g": listed(found.counter),
    }


CRANK_HOLDS = Analysis(
    key="crank-holds",
    about="holds of a crank on the wheel",
    question="What does a clamp, peg or hook press on the wheel?",
    section="stand",
    inputs=Nothing,
    asked=CrankHoldsAsked,
    work=crank_holds,
    answer=crank_holds_answer,
    method="ironlace.stand: torque over radius, friction of two jaws, force over the bearing face",
    published="statics; what pressure old japan bears is a judgement, no source",
    hazards=("running parts",),
)
