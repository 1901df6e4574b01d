"""Which thread a screw has, from typed readings: pitch, diameter and, if it was read, angle."""

from dataclasses import dataclass
from typing import Annotated

from ironlace.care.thread_forms import ThreadNamed, ThreadReadings, name_thread
from ironlace.evidence import usual_figures
from ironlace.evidence.analyses import Analysis, Ask, Known, Nothing, grade_of
from ironlace.evidence.answers import Answer, Table
from ironlace.evidence.findings import Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps

_PITCH_SHARE = 0.005
"""One standard uncertainty of a pitch for which none was stated, as a share: a thread gauge that
fits over some ten threads (a judgement)."""
_DIAMETER_MM = 0.03
"""The same of a diameter by caliper (a judgement)."""
_ANGLE_DEG = 3.0
"""The same of an angle by gauge (a judgement)."""
_SURE = 0.9
"""A chance below which the family is conjecture (a judgement)."""
_EVEN = 0.5
"""A chance above even: the family is likelier than all others together."""
_FEW = 5
"""Forms shown: more than anybody buys taps for."""


@dataclass(frozen=True)
class ThreadAsked:
    """What is asked for a thread's form."""

    pitch: Annotated[
        Known,
        Ask(
            "Pitch",
            "By a thread gauge, or over as many threads as there are; 25.4 mm divided by the "
            "threads an inch.",
            unit="mm",
            low=0.1,
            high=5.0,
            example="0.794 ± 0.002 mm",
            usual=usual_figures.PITCH_MM,
        ),
    ]
    diameter: Annotated[
        Known,
        Ask(
            "Diameter over the thread",
            "By caliper, over the crests, where it is least worn. Of a hole: that of the screw "
            "which fits it, or of a cast.",
            unit="mm",
            low=0.5,
            high=20.0,
            example="4.74 ± 0.02 mm",
            usual=usual_figures.SCREW_MM,
        ),
    ]
    angle: Annotated[
        Known | None,
        Ask(
            "Angle between the flanks",
            "From a photograph, or by trying gauges of 47.5, 55 and 60 degrees; leave it out "
            "rather than guess.",
            unit="°",
            low=30.0,
            high=90.0,
            example="60 ± 2°",
            usual=usual_figures.FLANKS_DEG,
        ),
    ] = None


@dataclass(frozen=True, slots=True)
class ThreadFormFound:
    """A thread as it was named, with what was asked and what had no error stated."""

    asked: ThreadAsked
    named: ThreadNamed
    unsaid: tuple[str, ...]


def thread_form(_inputs: Nothing, asked: ThreadAsked, _steps: Steps) -> ThreadFormFound:
    """Name a thread.

    Raises
    ------
    CareError
        When pitch and diameter cannot belong to one thread.
    """
    angle = asked.angle
    readings = ThreadReadings(
        asked.pitch.value,
        asked.pitch.error or _PITCH_SHARE * asked.pitch.value,
        asked.diameter.value,
        asked.diameter.error or _DIAMETER_MM,
        None if angle is None else angle.value,
        (angle.error if angle is not None else None) or _ANGLE_DEG,
    )
    told = (("the pitch", asked.pitch), ("the diameter", asked.diameter), ("the angle", angle))
    unsaid = tuple(words for words, known in told if known is not None and not known.error)
    return ThreadFormFound(asked, name_thread(readings), unsaid)


def _how_sure(share: float) -> str:
    """The beginning of the first sentence: a chance below even is no statement."""
    if share >= _SURE:
        return "The thread is"
    return "The thread is probably" if share > _EVEN else "No family is likely, the first is"


def thread_answer(found: ThreadFormFound) -> Answer:
    """Tell a thread: the likeliest form, how likely, and what would tell it from the next."""
    asked, named = found.asked, found.named
    known = tuple(one for one in (asked.pitch, asked.diameter, asked.angle) if one is not None)
    family, share = max(named.families.items(), key=lambda one: one[1])
    first = named.forms[0]
    grade = grade_of(known, Grade.INFERRED)
    if share < _SURE or found.unsaid:
        grade = Grade.CONJECTURED
    words = "none of these: a maker's own" if family == "none" else family
    results = (
        Result(name="family of thread", value=words, grade=grade),
        Result(name="chance of that family", value=share, grade=grade),
    )
    said = [
        f"{_how_sure(share)} {words} ({share:.2f}); the likeliest form is {first.form.size} "
        f"({first.form.family}, {first.probability:.2f}).",
        f"{named.tell_apart[0].upper()}{named.tell_apart[1:].rstrip('.')}.",
    ]
    if found.unsaid:
        said.append(
            f"No error was stated for {' and '.join(found.unsaid)}: a common one is taken, and the "
            "answer graded as conjecture."
        )
    figures = {
        "families": dict(named.families),
        "forms": [{"size": one.form.size, "family": one.form.family, "probability": one.probability}
                  for one in named.forms],
        "tell_apart": named.tell_apart,
    }  # fmt: skip
    rows = tuple(
        (
            one.form.size,
            one.form.family,
            f"{one.form.major_mm:.3f}",
            f"{one.form.pitch_mm:.4f}",
            f"{one.form.angle_deg:g}",
            f"{one.probability:.3f}",
        )
        for one in named.forms[:_FEW]
    )
    heads = ("Form", "Family", "Diameter, mm", "Pitch, mm", "Angle, °", "Chance")
    return Answer(
        results, tuple(said), figures=figures, tables=(Table("Nearest forms", heads, rows),)
    )


THREAD_FORM = Analysis(
    key="thread-form",
    about="thread form",
    question="Which thread does a screw have?",
    section="care",
    inputs=Nothing,
    asked=ThreadAsked,
    work=thread_form,
    answer=thread_answer,
    method="ironlace.care: readings against standard forms, equal shares of five families",
    published="ISO 261, ISO 724, ASME B1.1, BS 84, BS 93, all read in secondary tables",
)
