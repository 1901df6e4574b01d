"""The change gears for a thread, as a person asks for them."""

import re
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field, replace
from typing import Annotated, Any

from ironlace.care.change_gears import COMMON_MESH, GearsAsked, Train, Trains, change_gears, lead_mm
from ironlace.care.errors import CareError
from ironlace.care.thread_forms import thread_forms
from ironlace.evidence import usual_figures
from ironlace.evidence.analyses import Analysis, Ask, Known, Nothing
from ironlace.evidence.answers import Answer, Table
from ironlace.evidence.findings import Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps

_WORN = 0.04
"""Share of its diameter by which a screw may be worn or cut under its table's (a judgement)."""

_PITCH_OFF = 0.02
"""Share by which a pitch may be misread and still be its table's: 24 and 25 to the inch, which no
table has of one diameter, are 0.04 apart."""


@dataclass(frozen=True)
class ThreadGearsAsked:
    """What is asked for change gears, in words."""

    lead: Annotated[
        str, Ask("Lead screw of the lathe", "Its threads an inch, or its lead.", example="8 tpi")
    ]
    thread: Annotated[
        str, Ask("Thread to cut", "Its pitch, or its threads an inch.", example="0.75 mm")
    ]
    gears: Annotated[
        str,
        Ask(
            "Gears you own",
            "Their teeth; one owned twice is listed twice.",
            example="20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 80, 127",
        ),
    ]
    engaged: Annotated[
        float | None,
        Ask(
            "Length of the thread in its nut",
            "The error is judged over it; over ten threads if left out.",
            unit="mm",
            low=0.1,
            high=500.0,
            example="6",
            usual=usual_figures.SCREW_LONG_MM,
        ),
    ] = None
    diameter: Annotated[
        Known | None,
        Ask(
            "Diameter over the thread to cut",
            "It shows a pitch that was misread or written in another unit, which nothing else "
            "does.",
            unit="mm",
            low=0.5,
            high=60.0,
            example="4.76 mm",
        ),
    ] = field(default=None, kw_only=True)
    mesh: Annotated[
        str,
        Ask(
            "Rule of your banjo",
            "a drives b; c turns with b and drives d.",
            example=COMMON_MESH,
            more=True,
        ),
    ] = COMMON_MESH


def thread_gears(_inputs: Nothing, asked: ThreadGearsAsked, _steps: Steps) -> Trains:
    """Find the trains.

    Raises
    ------
    CareError
        When the lead, the thread, the gears or the rule cannot be.
    """
    tpi = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*tpi\s*", asked.thread.casefold())
    try:
        wanted = lead_mm(asked.thread)
    except CareError as error:
        raise CareError(
            f"The thread to cut is '{asked.thread[:40]}': write its pitch or its threads an inch, "
            'such as "0.75 mm" or "32 tpi".'
        ) from error
    found = change_gears(
        GearsAsked(
            lead=asked.lead,
            gears=_teeth(asked.gears),
            pitch_mm=None if tpi else wanted,
            tpi=float(tpi[1]) if tpi else None,
            engaged_mm=asked.engaged,
            mesh=asked.mesh,
        )
    )
    return replace(found, doubts=tuple(_doubts(asked, wanted)))


def _doubts(asked: ThreadGearsAsked, pitch: float) -> Iterator[str]:
    """What in thread, lead screw and diameter does not go together."""
    (least, most), (fine, coarse) = usual_figures.LEADS_MM, usual_figures.PITCH_MM
    if not least <= lead_mm(asked.lead) <= most:
        yield (
            f"A lead screw of {asked.lead.strip()} is unlike those of lathes for such work "
            f"({least:g} to {most:g} mm): look whether it is the lead screw's."
        )
    if not fine <= pitch <= coarse:
        yield (
            f"A thread to cut of {asked.thread.strip()} is unlike those of such machines "
            f"({fine:g} to {coarse:g} mm, 100 to 12 to the inch): look whether its unit, its "
            "digits and its decimal comma are right."
        )
    if asked.diameter is None:
        return
    wide = asked.diameter.value
    near = [one for one in thread_forms() if abs(one.major_mm - wide) <= _WORN * wide]
    if near and min(abs(one.pitch_mm / pitch - 1.0) for one in near) > _PITCH_OFF:
        those = ", ".join(sorted({f"{one.pitch_mm:.3g}" for one in near}))
        yield (
            f"No tabled thread of {wide:g} mm has a pitch of {pitch:.4g} mm (those have {those} "
            "mm): look at the thread to cut and its diameter again, unless it is a maker's own."
        )


def _teeth(words: str) -> tuple[int, ...]:
    teeth = []
    for word in re.split(r"[\s,;]+", words.strip()):
        if not re.fullmatch(r"\d{1,4}", word):
            raise CareError(
                f"'{word[:30]}' among the gears is no number of teeth: list them like 20, 25, 127."
            )
        teeth.append(int(word))
    return tuple(teeth)


def trains_told(found: Trains) -> dict[str, Any]:  # dict: figures of an answer, plain JSON
    """The trains as scripts get them."""
    return {
        "wanted_pitch_mm": found.wanted_mm,
        "good_enough": found.good_enough,
        "says": found.says,
        "judged_over_mm": found.judged_over_mm,
        "allowed_mm": found.allowed_mm,
        "trains": [
            {
                **asdict(one),
                "drivers": list(one.drivers),
                "driven": list(one.driven),
            }
            for one in found.trains
        ],
    }


def gears_answer(found: Trains) -> Answer:
    """Tell the train to set up, or that none will do."""
    meshing = [one for one in found.trains if one.meshes]
    best = meshing[0] if meshing else None
    results: tuple[Result, ...] = ()
    if best is None:
        first = "No train of your gears that comes near meshes on the banjo."
    else:
        train = _in_words(best)
        verdict = "" if found.good_enough else ", and this is not good enough"
        first = f"Set up {train}: it cuts {best.pitch_mm:.5g} mm{verdict}."
        results = (
            # a lead and teeth typed in are nobody's measurement
            Result(name="train", value=train, grade=Grade.CONJECTURED),
            Result(name="pitch cut", value=best.pitch_mm, unit="mm", grade=Grade.CONJECTURED),
        )
    sentences = (
        *found.doubts,
        first,
        found.says,
        "Engage, cut a scratch and measure it before the first cut: the lead screw and the teeth "
        "are as they were typed.",
    )
    rows = tuple(
        (
            _in_words(one),
            f"{one.pitch_mm:.6f}",
            f"{one.error_ppm:+.2f}",
            "" if one.error_over_engaged_mm is None else f"{one.error_over_engaged_mm:+.5f}",
            "meshes" if one.meshes else "does not mesh",
        )
        for one in found.trains
    )
    heads = ("Train", "Pitch, mm", "Error, ppm", "Over the engaged length, mm", "On the banjo")
    return Answer(
        results, sentences, trains_told(found), (Table("Trains, best first", heads, rows),)
    )


def _in_words(train: Train) -> str:
    """Which gear drives which.

    >>> _in_words(Train((40, 30), (60, 80), 0.75, 0.0, None, True))
    '40 driving 60, and beside it 30 driving 80'
    """
    pairs = [f"{a} driving {b}" for a, b in zip(train.drivers, train.driven, strict=True)]
    return ", and beside it ".join(pairs)


THREAD_GEARS = Analysis(
    key="thread-gears",
    about="change gears for a thread",
    question="Which change gears cut this thread?",
    section="care",
    inputs=Nothing,
    asked=ThreadGearsAsked,
    work=thread_gears,
    answer=gears_answer,
    method="ironlace.care: every train of two or four gears weighed",
    published="Jones, Turning and Boring (1914); clearance by ISO 965-1, position g",
    hazards=("running parts",),
)
