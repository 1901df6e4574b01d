"""The shape of a struck plate, from photographs of it under a moved torch: the declared analysis.

What takes long to load is loaded when it is worked out, so that naming the analysis costs nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Literal

from ironlace.evidence.analyses import Analysis, Ask, AskedError, Known
from ironlace.evidence.answers import Answer
from ironlace.evidence.findings import Finding, Interval, Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.marks.same_results import same_by_name

if TYPE_CHECKING:
    from ironlace.marks.capture.capturing import Captured
    from ironlace.marks.capture.frames import Frames
    from ironlace.marks.relief.plate_relief import Relief

FEWEST_PHOTOGRAPHS = 3
"""A slope in two directions and an albedo are three unknowns."""
MOST_PHOTOGRAPHS = 60
"""More add nothing, and all are held in memory at once (judged)."""
_SAME = 0.005
"""Share by which two computers' reliefs of the same photographs may differ (judged)."""


@dataclass(frozen=True)
class PlatePhotographs:
    """Photographs of one plate, the camera fixed, the torch moved.

    Attributes
    ----------
    names
        Their names in the record, in order; the first is the grid.
    checksums
        Their SHA-256, in the same order.
    frames
        Reads them all, in grey.
    """

    names: tuple[str, ...]
    checksums: tuple[str, ...]
    frames: Callable[[], Frames]


@dataclass(frozen=True)
class PlateReliefAsked:
    """What is asked for a plate's relief."""

    photographs: Annotated[
        tuple[str, ...],
        Ask("Photographs of the plate", names="photograph", pointed=True),
    ]
    name: Annotated[
        str,
        Ask("What the plate is called", example="number on the slide plate"),
    ] = ""
    ball: Annotated[
        Known | None,
        Ask(
            "Diameter of the balls",
            "Measured, it gives the scale; left out, heights come in pixels.",
            unit="mm",
            low=1.0,
            high=50.0,
            example="6.00 mm",
        ),
    ] = None
    encoding: Annotated[
        Literal["told", "srgb", "linear"],
        Ask(
            "How the photographs' numbers stand for light",
            choices={
                "told": "as the photographs tell",
                "srgb": "by the sRGB curve, as cameras write",
                "linear": "in proportion to light",
            },
            more=True,
        ),
    ] = "told"

    def __post_init__(self) -> None:
        count = len(self.photographs)
        if len(set(self.photographs)) != count:
            raise AskedError("A photograph was chosen twice: choose each once.", "photographs")
        if not FEWEST_PHOTOGRAPHS <= count <= MOST_PHOTOGRAPHS:
            raise AskedError(
                f"{count} photographs were chosen, and {FEWEST_PHOTOGRAPHS} to {MOST_PHOTOGRAPHS} "
                "of one plate are needed, each with the torch at another place: 12 to 24 serve "
                "well.",
                "photographs",
            )


@dataclass(frozen=True)
class PlateTold:
    """What is told of a relief.

    Attributes
    ----------
    photographs, used
        How many were given, and how many served.
    left_out
        Names of those that did not, and why.
    pixels
        Columns and rows.
    coverage
        Share of the plate whose slopes are known, 0 to 1.
    mm_per_px
        None without a scale.
    slope_gain
        Factor by which plain reading would make slopes too steep: value, low, high (90 %).
    missing_quadrants, notices
        From where no torch shone; what else a person should know, worst first.
    other_light
        Share of the plate's light that is not the torch's; None where no ball's shadow tells it.
    tone_curve
        What the photographs' tone curve is, by number; None where it was not looked for.
    doubted
        Whether slopes are to be doubted for what the photographs show.
    """

    photographs: int
    used: int
    left_out: tuple[tuple[str, str], ...]
    pixels: tuple[int, int]
    coverage: float
    mm_per_px: float | None
    slope_gain: tuple[float, float, float]
    missing_quadrants: tuple[str, ...]
    notices: tuple[str, ...]
    other_light: float | None = None
    tone_curve: dict[str, float | bool] | None = None  # dict: figures by name, as JSON has them
    doubted: bool = False


@dataclass(frozen=True)
class PlateFound:
    """A plate's relief as it was worked out; `captured` and `relief` only where it just was."""

    told: PlateTold
    ball: Known | None
    captured: Captured | None = None
    relief: Relief | None = None


def plate_relief(inputs: PlatePhotographs, asked: PlateReliefAsked, steps: Steps) -> PlateFound:
    """Work out a plate's relief from its photographs.

    Raises MarksError when they cannot carry one.
    """
    from ironlace.marks.capture.capturing import CaptureAsked
    from ironlace.marks.relief.plate_relief import plate_of

    captured, relief = plate_of(
        inputs.frames(),
        CaptureAsked(ball_mm=asked.ball.value if asked.ball else None),
        encoding=None if asked.encoding == "told" else asked.encoding,
        heard=steps,
    )
    plate, gain = captured.plate, relief.slope_gain
    told = PlateTold(
        photographs=len(inputs.names),
        used=len(captured.used),
        left_out=tuple(
            (name, why) for name, why in zip(inputs.names, captured.why, strict=True) if why
        ),
        pixels=(plate.shape[1], plate.shape[0]),
        coverage=round(relief.coverage, 5),
        mm_per_px=plate.mm_per_px if plate.scale_known else None,
        slope_gain=(gain.value, gain.low, gain.high),
        missing_quadrants=tuple(captured.missing_quadrants()),
        notices=relief.notices,
        other_light=round(relief.other.usual, 4) if relief.other.known else None,
        tone_curve=relief.curve.figures(),
        doubted=relief.doubted,
    )
    return PlateFound(told, asked.ball, captured, relief)


def plate_answer(found: PlateFound) -> Answer:
    """Tell a relief: how much of the plate is known, and what makes it doubtful."""
    from ironlace.marks.relief.plate_relief import SlopeGain

    told = found.told
    value, low, high = told.slope_gain
    least, most = SlopeGain(value, low, high).depth_times
    results = [
        Result(
            name="share of the plate whose slopes are known",
            value=round(100 * told.coverage, 2),
            unit="%",
            grade=Grade.INFERRED,
        ),
        Result(
            name="steepness of the slopes if read as matt, taken out",
            value=round(value, 4),
            interval=Interval(low=round(low, 4), high=round(high, 4), coverage=0.9),
            grade=Grade.CONJECTURED if told.doubted else Grade.INFERRED,
        ),
        Result(
            name="photographs used", value=f"{told.used} of {told.photographs}", grade=Grade.SEEN
        ),
    ]
    if told.mm_per_px is not None:
        grade = found.ball.grade if found.ball else Grade.CONJECTURED
        results.insert(
            1, Result(name="scale", value=round(told.mm_per_px, 6), unit="mm/px", grade=grade)
        )
    first = told.notices[:1] if told.doubted else ()
    sentences = [
        *first,
        f"The plate's slopes are known on {100 * told.coverage:.1f} % of it, from {told.used} of "
        f"{told.photographs} photographs.",
        f"Read as matt its slopes would come out times {value:.3g} ({low:.2g} to {high:.2g}); that "
        f"is taken out. True depths and slopes are {least:.2f} to {most:.2f} times "
        "those told (90 %).",
        *told.notices[len(first) :],
        *(f"{name} was left out: {why}." for name, why in told.left_out),
    ]
    if told.mm_per_px is None:
        sentences.append("There is no scale: heights are in pixels.")
    return Answer(
        tuple(results),
        tuple(sentences),
        figures={
            "pixels": list(told.pixels),
            "coverage": told.coverage,
            "mm_per_px": told.mm_per_px,
            "slope_gain": {"value": value, "low": low, "high": high},
            "depth_times": {"low": round(least, 4), "high": round(most, 4)},
            "missing_quadrants": list(told.missing_quadrants),
            "other_light": told.other_light,
            "tone_curve": told.tone_curve,
        },
    )


def same_relief(kept: Finding, again: Finding) -> str:
    """Compare two reliefs; empty when they agree within what computers differ by."""
    return same_by_name(kept, again, _alike, "results")


def _alike(was: object, now: object) -> bool:
    if isinstance(was, int | float) and isinstance(now, int | float):
        return abs(was - now) <= _SAME * abs(was)
    return was == now


def _long(_inputs: PlatePhotographs, _asked: PlateReliefAsked) -> bool:
    return True


def _which(asked: PlateReliefAsked) -> str:
    return ", ".join(asked.photographs)


PLATE_RELIEF = Analysis(
    key="plate-relief",
    about="relief of a struck plate",
    question="What shape has the struck metal?",
    section="marks",
    inputs=PlatePhotographs,
    asked=PlateReliefAsked,
    work=plate_relief,
    answer=plate_answer,
    method="photometric stereo with a fitted lobe, torch places from polished balls",
    published="Woodham, 1980; Blinn, 1977; Frankot and Chellappa, 1988",
    same=same_relief,
    takes_long=_long,
    subject=_which,
)
