"""An oil's viscosity at the workshop's temperature, from the two figures of its data sheet."""

from dataclasses import dataclass
from typing import Annotated, Any

from ironlace.care.oil_viscosity import (
    HOTTEST_WORKSHOP_C,
    OilViscosity,
    told_doubtful,
    viscosity_at,
)
from ironlace.evidence import usual_figures
from ironlace.evidence.analyses import Analysis, Ask, Known, Nothing, grade_of
from ironlace.evidence.answers import Answer
from ironlace.evidence.findings import Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps


@dataclass(frozen=True)
class OilAsked:
    """What is asked for an oil's viscosity."""

    at_40: Annotated[
        Known,
        Ask(
            "Viscosity at 40 °C",
            "From the oil's data sheet; 1 cSt is 1 mm²/s.",
            unit="mm²/s",
            low=0.5,
            high=5000.0,
            example="22",
            usual=usual_figures.OIL_AT_40_MM2_S,
        ),
    ]
    temperature: Annotated[
        Known,
        Ask(
            "Temperature of the workshop",
            "In degrees Celsius, by a thermometer beside the machine.",
            unit="°C",
            low=-30.0,
            high=HOTTEST_WORKSHOP_C,
            example="18",
            usual=usual_figures.ROOM_CELSIUS,
        ),
    ]
    at_100: Annotated[
        Known | None,
        Ask(
            "Viscosity at 100 °C",
            "From the same sheet; without it the answer is a range.",
            unit="mm²/s",
            low=0.2,
            high=1000.0,
            example="4.3",
            usual=usual_figures.OIL_AT_100_MM2_S,
        ),
    ] = None


@dataclass(frozen=True, slots=True)
class OilFound:
    """A viscosity with what was asked."""

    asked: OilAsked
    viscosity: OilViscosity


def oil_viscosity(_inputs: Nothing, asked: OilAsked, _steps: Steps) -> OilFound:
    """Work out a viscosity.

    Raises
    ------
    CareError
        When the figures contradict each other.
    """
    at_100 = None if asked.at_100 is None else asked.at_100.value
    return OilFound(asked, viscosity_at(asked.temperature.value, asked.at_40.value, at_100))


def oil_answer(found: OilFound) -> Answer:
    """Tell a viscosity, or why none can be told."""
    asked, viscosity = found.asked, found.viscosity
    known = tuple(k for k in (asked.at_40, asked.temperature, asked.at_100) if k is not None)
    doubts = told_doubtful(asked.temperature.value)
    grade = grade_of(known, Grade.CONJECTURED if doubts else Grade.INFERRED)
    grade_words = "between grades" if viscosity.grade is None else f"ISO VG {viscosity.grade}"
    results = [Result(name="viscosity grade", value=grade_words, grade=grade)]
    figures: dict[str, Any] = {
        "grade": viscosity.grade,
        "viscosity_mm2_s": None,
        "why": viscosity.why or None,
    }
    where = f"{asked.temperature.value:.3g} °C"
    if viscosity.mm2_s is None:
        said = f"No viscosity is told: {viscosity.why}."
        return Answer(tuple(results), (*doubts, said), figures=figures)
    low, value, high = viscosity.mm2_s
    results.insert(0, Result(name="viscosity", value=value, unit="mm²/s", grade=grade))
    figures["viscosity_mm2_s"] = [low, value, high] if viscosity.is_range else value
    said = f"The oil ({grade_words}) has {value:.3g} mm²/s at {where}."
    if viscosity.is_range:
        said = (
            f"The oil ({grade_words}) has anything from {low:.3g} to {high:.3g} mm²/s at {where}: "
            "its figure at 100 °C would tell."
        )
    return Answer(tuple(results), (*doubts, said), figures=figures)


OIL_VISCOSITY = Analysis(
    key="oil-viscosity",
    about="oil viscosity",
    question="How thick is the oil at the workshop's temperature?",
    section="care",
    inputs=Nothing,
    asked=OilAsked,
    work=oil_viscosity,
    answer=oil_answer,
    method="ironlace.care: simple form of ASTM D341 between 40 and 100 °C",
    published="ASTM D341; ISO 3448 for the grades, read in a secondary table",
)
