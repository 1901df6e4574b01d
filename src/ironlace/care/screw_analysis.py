"""An unknown screw of a machine: its photograph on the printed card, a gauge's reading, or both."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Annotated, Any, Final, Literal

import numpy as np
from numpy.typing import NDArray

from ironlace.care.errors import CareError
from ironlace.care.screw_card import screw_card
from ironlace.care.screw_photograph import LIES, ScrewCase, ScrewFound, measure_screw
from ironlace.care.screw_plots import screw_plots
from ironlace.care.screw_words import (
    forms_table,
    forms_told,
    named_in_words,
    screw_told,
    wear_in_words,
)
from ironlace.care.thread_forms import ThreadNamed, ThreadReadings, name_thread
from ironlace.evidence import usual_figures
from ironlace.evidence.analyses import Analysis, Ask, Known, grade_of
from ironlace.evidence.answers import Answer, PlotsWhenSeen
from ironlace.evidence.findings import Interval, Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.intervals import NINETY
from ironlace.evidence.progress import Steps
from ironlace.photographs import GivenLens, StripLayout

_COVERAGE: Final = 0.9
"""Share of intervals that hold the truth: the house tells 90 % throughout."""
CALIPER_SD_MM: Final = 0.02
"""Of a caliper's figure without an error stated (a judgement)."""
_PITCH_SHARE: Final = 0.005
"""Of a pitch by gauge without an error: one that fits over some ten threads (a judgement)."""
_ANGLE_SD_DEG: Final = 3.0
"""Of an angle by gauge without an error stated (a judgement)."""
_AXIS_SD_MM: Final = 0.1
"""Of the axis's height without an error stated: a head tilts the screw (a judgement)."""
_SURE: Final = 0.9
"""A chance below which the family is conjecture (a judgement)."""
_BY_EYE: Final = 0.15
"""Of a thread: how well the last tooth of a comb is laid on its crest by eye (a judgement)."""
_CONTRADICTS: Final = 4.0
"""Standard deviations by which gauge and photograph may differ before that is said."""


@dataclass(frozen=True)
class ScrewPicture:
    """The photograph of a screw: what opens it (HxWx3, sRGB), None where none was chosen."""

    opens: Callable[[], NDArray[np.uint8]] | None = None


@dataclass(frozen=True)
class ScrewAsked:
    """What is asked for an unknown screw; a photograph, or a pitch, or both."""

    diameter: Annotated[
        Known,
        Ask(
            "Diameter over the thread",
            "By caliper, over the crests, where it is least worn.",
            unit="mm",
            low=0.5,
            high=30.0,
            example="4.74 ± 0.02 mm",
            usual=usual_figures.SCREW_MM,
        ),
    ]
    photograph: Annotated[
        str, Ask("Photograph of it on the card", names="photograph", pointed=True)
    ] = ""
    name: Annotated[
        str,
        Ask("Which screw", "One finding is kept for each name.", example="needle plate, left"),
    ] = ""
    axis: Annotated[
        Known | None,
        Ask(
            "Its axis above the card",
            "Half the diameter is taken, as when the thread lies on the card; 0 with the card on a "
            "packing as high as the axis.",
            unit="mm",
            low=0.0,
            high=60.0,
            example="2.4 mm",
        ),
    ] = None
    lies: Annotated[
        Literal["", "level"],
        Ask(
            "How it lies",
            "The picture shows it as well; said, the pitch of a fine thread is surer.",
            choices=LIES,
        ),
    ] = ""
    distance: Annotated[
        Known | None,
        Ask(
            "From the card to the front of the lens",
            "Without it, and without a lens, the pitch is less sure.",
            unit="mm",
            low=20.0,
            high=5000.0,
            example="260 mm",
        ),
    ] = None
    pitch: Annotated[
        Known | None,
        Ask(
            "Pitch by a thread gauge",
            "Or counted over many threads; 25.4 mm divided by the threads an inch.",
            unit="mm",
            low=0.1,
            high=5.0,
            example="0.794 ± 0.004 mm",
            usual=usual_figures.PITCH_MM,
        ),
    ] = None
    angle: Annotated[
        Known | None,
        Ask(
            "Angle between the flanks by a gauge",
            "Leave it out rather than guess.",
            unit="°",
            low=30.0,
            high=90.0,
            example="60 ± 2°",
            usual=usual_figures.FLANKS_DEG,
        ),
    ] = None
    comb: Annotated[
        float | None,
        Ask(
            "Pitch by a comb laid by hand",
            "On the photograph, tooth upon thread by eye; it then goes before what was measured.",
            unit="mm",
            low=0.1,
            high=5.0,
            example="0.8",
            more=True,
            usual=usual_figures.PITCH_MM,
        ),
    ] = None
    lens: Annotated[
        str,
        Ask(
            "Lens, as it was measured",
            "The text that the page of lenses gives.",
            long=True,
            more=True,
        ),
    ] = ""
    layout: Annotated[
        str,
        Ask(
            "Another card's markers",
            "CSV with dictionary,id,corner,x_mm,y_mm, where it is not the card printed here.",
            long=True,
            more=True,
        ),
    ] = ""


@dataclass(frozen=True)
class ScrewNamed:
    """A screw worked out: `measured` is None without a photograph."""

    asked: ScrewAsked
    readings: ThreadReadings
    named: ThreadNamed
    measured: ScrewFound | None
    picture: NDArray[np.uint8] | None = field(repr=False, default=None)
    warnings: tuple[str, ...] = ()

    @property
    def why(self) -> str:
        """Why it should not be relied on; empty when it may be."""
        return self.measured.why if self.measured is not None else ""


def screw(inputs: ScrewPicture, asked: ScrewAsked, steps: Steps) -> ScrewNamed:
    """Measure the photograph, by the function of the command, and join what a gauge told.

    Raises
    ------
    CareError, PhotographsError
        When there is neither photograph nor pitch, or the photograph cannot be read.
    """
    if inputs.opens is None:
        if asked.comb is not None:
            raise CareError(
                "A comb is laid on a photograph, and none is chosen: choose it, or give the pitch "
                "as by a thread gauge."
            )
        if asked.pitch is None:
            raise CareError(
                "There is neither a photograph nor a pitch: choose the photograph of the screw on "
                "the card, or give the pitch by a thread gauge."
            )
        readings = _typed(asked, asked.pitch)
        return ScrewNamed(asked, readings, name_thread(readings), None)
    steps("reading the photograph", 0.1)
    picture = inputs.opens()
    layout = StripLayout.from_csv(asked.layout) if asked.layout.strip() else screw_card()
    steps("finding the edges", 0.3)
    found = measure_screw(picture, layout, case_of(asked))
    readings, said = _joined(asked, found)
    as_found = asked.pitch is None and asked.angle is None and asked.comb is None
    named = found.named if as_found else name_thread(readings)
    return ScrewNamed(asked, readings, named, found, picture, (*said, *found.warnings))


def case_of(asked: ScrewAsked) -> ScrewCase:
    """The case that `ironlace care screw` would be given for the same answers."""
    diameter, axis = asked.diameter, asked.axis
    return ScrewCase(
        diameter.value,
        diameter.value / 2.0 if axis is None else axis.value,
        diameter.error or CALIPER_SD_MM,
        (None if axis is None else axis.error) or _AXIS_SD_MM,
        GivenLens.from_json(asked.lens) if asked.lens.strip() else None,
        None if asked.distance is None else asked.distance.value,
        lies=asked.lies,
    )


def as_measured(case: ScrewCase, found: ScrewFound) -> ScrewNamed:
    """What the command measured, to be told as the page tells it; nothing was told by a gauge."""
    asked = ScrewAsked(
        Known(case.caliper_mm, case.caliper_sd_mm, "mm"),
        axis=Known(case.axis_above_card_mm, case.axis_sd_mm, "mm"),
        lies=case.lies,
    )
    readings, said = _joined(asked, found)
    return ScrewNamed(asked, readings, found.named, found, warnings=(*said, *found.warnings))


def _typed(asked: ScrewAsked, pitch: Known) -> ThreadReadings:
    angle = asked.angle
    return ThreadReadings(
        pitch.value,
        pitch.error or _PITCH_SHARE * pitch.value,
        asked.diameter.value,
        asked.diameter.error or CALIPER_SD_MM,
        None if angle is None else angle.value,
        (None if angle is None else angle.error) or _ANGLE_SD_DEG,
    )


def _joined(asked: ScrewAsked, found: ScrewFound) -> tuple[ThreadReadings, list[str]]:
    """The photograph's readings with those of gauges, by their weights; what contradicts is told.

    What contradicts is not averaged: the photograph's pitch stands, its doubt as wide as the gap.
    """
    pitch, sd = found.pitch_mm, found.pitch_sd_mm
    said: list[str] = []
    if asked.comb is not None:
        pitch = asked.comb
        sd = max(sd, _BY_EYE * pitch / max(found.threads, 1.0))
        said.append(
            f"The pitch is that of a comb laid by hand: seen, not measured; the photograph's own "
            f"was {found.pitch_mm:.4g} mm"
        )
    if asked.pitch is not None:
        by_gauge = asked.pitch.value
        gauge_sd = asked.pitch.error or _PITCH_SHARE * by_gauge
        apart = abs(by_gauge - pitch)
        if apart > _CONTRADICTS * float(np.hypot(sd, gauge_sd)):
            said.append(
                f"The gauge says {by_gauge:.4g} mm and the photograph {pitch:.4g} mm: one of them "
                "is wrong, so that the pitch is as much in doubt as they differ"
            )
            sd = apart
        else:
            weights = 1.0 / sd**2, 1.0 / gauge_sd**2
            pitch = (weights[0] * pitch + weights[1] * by_gauge) / sum(weights)
            sd = sum(weights) ** -0.5
    angle, angle_sd = found.angle.angle_deg, found.angle.sd_deg or 2.0
    if asked.angle is not None:
        by_gauge, gauge_sd = asked.angle.value, asked.angle.error or _ANGLE_SD_DEG
        if angle is None:
            angle, angle_sd = by_gauge, gauge_sd
        else:
            weights = 1.0 / angle_sd**2, 1.0 / gauge_sd**2
            angle = (weights[0] * angle + weights[1] * by_gauge) / sum(weights)
            angle_sd = sum(weights) ** -0.5
    caliper_sd = asked.diameter.error or CALIPER_SD_MM
    readings = ThreadReadings(pitch, sd, asked.diameter.value, caliper_sd, angle, angle_sd)
    return readings, said


def screw_answer(found: ScrewNamed) -> Answer:
    """Tell a screw: what spoils it first, then the likeliest form and what would tell the next."""
    read, named = found.readings, found.named
    family, share = max(named.families.items(), key=lambda one: one[1])
    grade = _grade(found, share)
    pitch = Interval(
        low=read.pitch_mm - NINETY * read.pitch_sd_mm,
        high=read.pitch_mm + NINETY * read.pitch_sd_mm,
        coverage=_COVERAGE,
    )
    results = [
        Result(name="thread", value=named_in_words(named), grade=grade),
        Result(name=f"chance of {_family(family)}", value=round(share, 4), grade=grade),
        Result(name="pitch", value=read.pitch_mm, unit="mm", grade=_read(found), interval=pitch),
    ]
    if read.angle_deg is not None:
        half = NINETY * read.angle_sd_deg
        results.append(
            Result(
                name="angle between the flanks",
                value=read.angle_deg,
                unit="°",
                grade=_read(found),
                interval=Interval(
                    low=read.angle_deg - half, high=read.angle_deg + half, coverage=_COVERAGE
                ),
            )
        )
    figures = _figures(found)
    measured = found.measured
    plots: Any = ()
    if measured is not None:
        plots = PlotsWhenSeen(lambda: screw_plots(measured, read))
    return Answer(tuple(results), _sentences(found, share), figures, (forms_table(named),), plots)


def _grade(found: ScrewNamed, share: float) -> Grade:
    """Of the name: inferred at best, and conjecture where it is unsure or rests on nothing read."""
    if share < _SURE or found.why:
        return Grade.CONJECTURED
    return _least(found, Grade.INFERRED)


def _read(found: ScrewNamed) -> Grade:
    """Of pitch and angle: measured in a photograph that may be relied on, seen by a hand's comb."""
    if found.asked.comb is not None:
        return Grade.SEEN
    if found.why:
        return Grade.CONJECTURED
    return _least(found, Grade.MEASURED if found.measured is not None else Grade.INFERRED)


def _least(found: ScrewNamed, grade: Grade) -> Grade:
    """No better than what was typed, where the answer rests on that alone."""
    asked = found.asked
    if found.measured is not None:
        return grade
    return grade_of([one for one in (asked.diameter, asked.pitch) if one is not None], grade)


def _family(name: str) -> str:
    return "a maker's own" if name == "none" else name


def _sentences(found: ScrewNamed, share: float) -> tuple[str, ...]:
    read, named = found.readings, found.named
    low, high = (read.pitch_mm + side * NINETY * read.pitch_sd_mm for side in (-1, 1))
    angle = (
        ""
        if read.angle_deg is None
        else f", {read.angle_deg:.0f} ± {NINETY * read.angle_sd_deg:.0f} degrees"
    )
    threads = "" if found.measured is None else f" over {found.measured.threads:.0f} threads"
    said = [f"Not to be relied on: {found.why}."] if found.why else []
    said.append(f"{named_in_words(named)}, {100 * share:.0f} %.")
    said.append(
        f"Pitch {read.pitch_mm:.4f} mm ({low:.4f} to {high:.4f}, 90 %){threads}{angle}; "
        f"{25.4 / read.pitch_mm:.2f} threads an inch."
    )
    tell = named.tell_apart.rstrip(".")
    said.append(f"{tell[0].upper()}{tell[1:]}.")
    if found.measured is not None:
        said.append(wear_in_words(found.measured))
    said += [f"{one[0].upper()}{one[1:].rstrip('.')}." for one in found.warnings]
    return tuple(said)


def _figures(found: ScrewNamed) -> dict[str, Any]:  # dict: figures of an answer, plain JSON
    """As `ironlace care screw` writes them, with what a gauge told joined to them."""
    read = found.readings
    told: dict[str, Any] = {
        "reliable": not found.why,
        "why": found.why or None,
        "warnings": list(found.warnings),
    }
    if found.measured is not None:
        told = screw_told(found.measured)
    half = NINETY * read.pitch_sd_mm
    told["pitch_mm"] = [read.pitch_mm - half, read.pitch_mm, read.pitch_mm + half]
    wide = NINETY * read.angle_sd_deg
    angle = read.angle_deg
    told["angle_deg"] = None if angle is None else [angle - wide, angle, angle + wide]
    told["families"] = found.named.families
    told["forms"] = forms_told(found.named)
    told["tell_apart"] = found.named.tell_apart
    return told


SCREW = Analysis(
    key="screw",
    about="unknown screw",
    question="Which screw is this?",
    section="care",
    inputs=ScrewPicture,
    asked=ScrewAsked,
    work=screw,
    answer=screw_answer,
    method="ironlace.care: both edges of the thread in a photograph, against standard forms",
    published="ISO 261, ISO 724, ASME B1.1, BS 84, BS 93, all read in secondary tables",
    subject=lambda asked: asked.name,
)
