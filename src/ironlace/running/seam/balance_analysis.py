"""Balance from both sides of a seam as a declared analysis."""

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
    from ironlace.running.seam.balance import Balance

COVERAGE = 0.9
"""Share of intervals that hold the truth."""
OFTEN = 0.1
"""Share of the entries from which the other thread is told to show (a judgement, no source)."""
LOCK = "place of the lock, from 0 at the upper side to 1 at the under side"
"""Name of the first result, which the trials read."""

_Strip = Literal["none", "frame", "corner", "wrap", "strip"]
_CHOICES: dict[str, str] = {SCAN: "none: it is a scan"} | {
    str(piece): words for piece, words in PIECE_WORDS.items()
}


@dataclass(frozen=True)
class BothSides:
    """The pictures of both sides of one seam."""

    upper: SeamPhotograph
    under: SeamPhotograph


@dataclass(frozen=True)
class BalanceAsked:
    """What is asked for the balance."""

    upper: Annotated[str, Ask("Picture of the upper side", names="photograph", pointed=True)]
    under: Annotated[str, Ask("Picture of the under side", names="photograph", pointed=True)]
    upper_dpi: Annotated[
        float | None, Ask("Dots to the inch, upper side", low=100.0, high=9600.0, example="600")
    ] = None
    upper_strip: Annotated[_Strip, Ask("Strip, upper side", choices=_CHOICES)] = "none"
    under_dpi: Annotated[
        float | None, Ask("Dots to the inch, under side", low=100.0, high=9600.0, example="600")
    ] = None
    under_strip: Annotated[_Strip, Ask("Strip, under side", choices=_CHOICES)] = "none"

    def __post_init__(self) -> None:
        if self.upper == self.under:
            raise AskedError(
                "The upper and the under side are two pictures: choose another one.", "under"
            )
        for side in ("upper", "under"):
            self.of(side)

    def of(self, side: str) -> SeamAsked:
        """What is asked of one side's seam."""
        dpi, strip = getattr(self, f"{side}_dpi"), getattr(self, f"{side}_strip")
        return SeamAsked(getattr(self, side), dpi, strip)


@dataclass(frozen=True)
class BalanceFound:
    """The balance, and the seams of both sides that it was taken from."""

    balance: Balance
    upper: SeamFound
    under: SeamFound


def sides_balance(inputs: BothSides, asked: BalanceAsked, steps: Steps) -> BalanceFound:
    """Measure both sides, and the balance between their threads."""
    return balance_of(
        seam(inputs.upper, asked.of("upper"), steps), seam(inputs.under, asked.of("under"), steps)
    )


def balance_of(upper: SeamFound, under: SeamFound) -> BalanceFound:
    """The balance of two measured sides: the one way of page and command.

    Raises RunningError if the threads cannot be told apart.
    """
    from ironlace.running.seam.balance import balance

    found = balance((upper.picture, upper.measured), (under.picture, under.measured))
    return BalanceFound(found, upper, under)


def balance_answer(found: BalanceFound) -> Answer:
    """Tell the balance."""
    of = found.balance
    why = _doubts(found)
    told = of.seen and not of.bound and not of.too_thin
    grade = Grade.INFERRED if told and not why else Grade.CONJECTURED
    shown = Grade.CONJECTURED if why else Grade.MEASURED

    def result(name: str, ends: tuple[float, float, float], how: Grade) -> Result:
        held = Interval(low=ends[0], high=ends[2], coverage=COVERAGE)
        return Result(name=name, value=ends[1], interval=held, grade=how)

    results = (
        result(LOCK, of.lock, grade),
        result("entries above that show the bobbin thread, share", of.upper.share, shown),
        result("entries below that show the needle thread, share", of.under.share, shown),
        result("scatter of the lock, in thicknesses", of.scatter, grade),
    )
    return Answer(
        results,
        tuple(_sentences(found, why)),
        figures={
            "reliable": not why,
            "why": why,
            "lock": [round(v, 4) for v in of.lock],
            "bound": of.bound,
            "scatter": [round(v, 4) for v in of.scatter],
            **{
                name: {
                    "entries": side.entries,
                    "showing": side.showing,
                    "share": [round(v, 4) for v in side.share],
                    "patches_mm2": [round(float(v), 4) for v in side.patch_mm2],
                }
                for name, side in (("upper", of.upper), ("under", of.under))
            },
        },
    )


def _doubts(found: BalanceFound) -> list[str]:
    """What speaks against relying on it, the gravest first."""
    why = [
        f"The {words} side's picture is not reliable: {one.judged.why[0]}"
        for words, one in (("upper", found.upper), ("under", found.under))
        if not one.judged.reliable
    ]
    means = [one.measured.figures.mean_mm[1] for one in (found.upper, found.under)]
    if abs(means[0] / means[1] - 1.0) > _LENGTHS_APART:
        why.append(
            f"The stitches are {means[0]:.2f} mm long above and {means[1]:.2f} mm below: these are "
            "not two sides of one seam, or one scale is wrong."
        )
    return why


_LENGTHS_APART = 0.04
"""Share by which two sides of one seam may differ in their mean stitch (puckered cloth, judged)."""


def _where(of: Balance) -> str:
    """Where the threads lock, in words: a place with its interval, or a bound."""
    low, value, high = of.lock
    if of.bound == "under":
        return (
            f"at least {low:.2f} of the thickness from the upper side, nearer the under side; how "
            "far down, or out, is not told, since nearly all show there and no more can"
        )
    if of.bound == "upper":
        return (
            f"at most {high:.2f} of the thickness from the upper side; how far up, or out, is not "
            "told, since nearly all show there and no more can"
        )
    return f"at {value:.2f} of the thickness from the upper side (90 %: {low:.2f} to {high:.2f})"


def _sentences(found: BalanceFound, why: list[str]) -> Iterator[str]:
    of = found.balance
    if why:
        yield f"Not reliable: {why[0]}"
    above, below = of.upper.share[1] > OFTEN, of.under.share[1] > OFTEN
    where = _where(of)
    if not of.seen:
        low, _, high = of.lock
        yield (
            "Neither side shows the other thread: both lock within the cloth, by that between "
            f"{max(low, 0.0):.2f} and {min(high, 1.0):.2f} of the thickness from the upper side."
        )
    elif of.too_thin:
        yield (
            "At some entries the other thread shows on both sides: the cloth is hardly thicker "
            "than the threads, or its holes stay open, and where they lock is not told by what "
            "shows. Sew the test on thicker cloth, or on one layer more."
        )
    elif above and below:
        yield (
            f"Both sides show the other thread: the lock wanders, on average {where}. That is "
            "uneven tension, a rough path, or cloth hardly thicker than its threads, not a setting."
        )
    elif above:
        yield (
            f"The bobbin thread shows above: the threads lock {where}. The needle thread is too "
            "tight for the shuttle's: ease it."
        )
    elif below:
        yield (
            f"The needle thread shows below: the threads lock {where}. The needle thread is too "
            "loose for the shuttle's: tighten it."
        )
    else:
        yield f"Balanced but for a few entries: the threads lock {where}."
    yield (
        f"Above, {of.upper.showing} of {of.upper.entries} entries show the bobbin thread; below, "
        f"{of.under.showing} of {of.under.entries} show the needle thread."
    )
    for reason in why[1:]:
        yield f"Also: {reason}"
    yield (
        "Which picture is the upper side is as you said; exchanged, the answer is the other way "
        "round. A lock just beneath a side shows nothing of itself: its depth is inferred from a "
        "normal scatter."
    )


BALANCE = Analysis(
    key="balance",
    about="balance of the threads in a seam",
    question="Where in the cloth do the two threads lock?",
    section="running",
    inputs=BothSides,
    asked=BalanceAsked,
    work=sides_balance,
    answer=balance_answer,
    method="ironlace.running: hue of the other thread at the entries of both sides, the lock's "
    "depth by probit",
    published="D. Finney, Probit Analysis, 1947, for the lock's depth; the rest is our own",
    subject=lambda asked: asked.upper,
)
