"""Two seams compared as a declared analysis: what a change did to length, evenness and skips."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Literal

from ironlace.evidence.analyses import Analysis, Ask, AskedError
from ironlace.evidence.answers import Answer
from ironlace.evidence.findings import Interval, Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.photographs.scale_strip import PIECE_WORDS
from ironlace.running.seam.seam_analysis import SCAN, SeamAsked, SeamFound, SeamPhotograph, seam

if TYPE_CHECKING:
    from ironlace.running.seam.two_seams import SeamLengths, TwoSeams

COVERAGE = 0.9
"""Share of intervals that hold the truth."""
DIFFERENCE = "mean stitch of the second less that of the first"
"""Name of the first result."""

_Strip = Literal["none", "frame", "corner", "wrap", "strip", "own"]
_CHOICES: dict[str, str] = {
    SCAN: "none: it is a scan",
    **{str(piece): words for piece, words in PIECE_WORDS.items()},
    "own": "a strip of your own",
}


@dataclass(frozen=True)
class TwoPictures:
    """The pictures of two seams."""

    first: SeamPhotograph
    second: SeamPhotograph


@dataclass(frozen=True)
class TwoSeamsAsked:
    """What is asked for a comparison."""

    first: Annotated[
        str, Ask("Picture of the first seam", names="photograph", example="photograph 1")
    ]
    second: Annotated[
        str, Ask("Picture of the second seam", names="photograph", example="photograph 2")
    ]
    first_dpi: Annotated[
        float | None, Ask("Dots to the inch, first seam", low=100.0, high=9600.0, example="600")
    ] = None
    first_strip: Annotated[_Strip, Ask("Strip, first seam", choices=_CHOICES)] = "none"
    first_layout: Annotated[
        str, Ask("Layout of a strip of your own, first seam", long=True, more=True)
    ] = ""
    second_dpi: Annotated[
        float | None, Ask("Dots to the inch, second seam", low=100.0, high=9600.0, example="600")
    ] = None
    second_strip: Annotated[_Strip, Ask("Strip, second seam", choices=_CHOICES)] = "none"
    second_layout: Annotated[
        str, Ask("Layout of a strip of your own, second seam", long=True, more=True)
    ] = ""

    def __post_init__(self) -> None:
        if self.first == self.second:
            raise AskedError("A seam cannot be compared with itself: choose another one.", "second")
        for which in ("first", "second"):
            self.of(which)

    def of(self, which: str) -> SeamAsked:
        """What is asked of one of the seams."""
        dpi, strip, layout = (
            getattr(self, f"{which}_{name}") for name in ("dpi", "strip", "layout")
        )
        return SeamAsked(getattr(self, which), dpi, strip, layout)


def asked_of_two(first: SeamAsked, second: SeamAsked) -> dict[str, object]:
    """What the comparison asks, from what was asked of two seams that are kept."""
    given: dict[str, object] = {"first": first.photograph, "second": second.photograph}
    for which, one in (("first", first), ("second", second)):
        given |= {
            f"{which}_dpi": one.dpi,
            f"{which}_strip": one.strip,
            f"{which}_layout": one.layout,
        }
    return given


def two_seams(inputs: TwoPictures, asked: TwoSeamsAsked, steps: Steps) -> TwoSeams:
    """Measure both seams, and compare them."""
    both = [
        _lengths(seam(picture, asked.of(which), steps))
        for which, picture in (("first", inputs.first), ("second", inputs.second))
    ]
    return two_compared(*both)


def two_compared(first: SeamLengths, second: SeamLengths) -> TwoSeams:
    """Two measured seams compared: the one way of page and command.

    Raises RunningError if one has too few sure stitches.
    """
    from ironlace.running.seam.two_seams import compare_seams

    return compare_seams(first, second)


def _lengths(found: SeamFound) -> SeamLengths:
    from ironlace.running.seam.seam_told import seam_figures
    from ironlace.running.seam.two_seams import lengths_told

    return lengths_told(seam_figures(found.measured, found.judged))


def two_seams_answer(found: TwoSeams) -> Answer:
    """Tell the comparison."""
    from ironlace.running.seam.two_seams import comparison_sentences

    return Answer(
        tuple(_results(found)),
        tuple(comparison_sentences(found)),
        figures={
            "reliable": found.reliable,
            "difference_mm": list(found.difference_mm),
            "length_chance": found.length_chance,
            "cv": list(found.cv),
            "evenness_chance": found.evenness_chance,
            "skipped": list(found.skipped),
            "skip_chance": found.skip_chance,
        },
    )


def _results(found: TwoSeams) -> Iterator[Result]:
    grade = Grade.MEASURED if found.reliable else Grade.CONJECTURED
    tested = Grade.INFERRED if found.reliable else Grade.CONJECTURED
    low, off, high = found.difference_mm
    held = Interval(low=low, high=high, coverage=COVERAGE)
    yield Result(name=DIFFERENCE, value=off, unit="mm", interval=held, grade=grade)
    for at, words in enumerate(("first", "second")):
        yield Result(name=f"evenness of the {words}", value=found.cv[at], grade=grade)
        yield Result(name=f"skipped in the {words}", value=found.skipped[at], grade=grade)
    for words, chance in (
        ("length", found.length_chance),
        ("evenness", found.evenness_chance),
        ("skipped stitches", found.skip_chance),
    ):
        yield Result(name=f"{words}: as much by chance alone", value=chance, grade=tested)


TWO_SEAMS = Analysis(
    key="seams",
    about="two test seams compared",
    question="Did the change make the seam better?",
    section="running",
    inputs=TwoPictures,
    asked=TwoSeamsAsked,
    work=two_seams,
    answer=two_seams_answer,
    method="ironlace.running: lengths by Welch's test, evenness by Brown and Forsythe's, skips by "
    "Fisher's, three questions allowed for",
    published="M. Welch 1947; M. Brown and A. Forsythe 1974; R. Fisher 1922; C. Bonferroni 1936",
    subject=lambda asked: f"{asked.first} and {asked.second}",
)
