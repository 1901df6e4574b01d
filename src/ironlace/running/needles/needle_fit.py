"""Which present-day needle serves a machine, and how far its bar must be moved for it.

Shank and the length from butt to eye decide; the overall length only decides what is free below the
eye (fitting dimensions of ISO 8239:1987). The long groove and the thread are each some 40 % of the
needle's size (a needle supplier's rule; JIS B 9012:2000 has a groove of 0.42 to 0.44).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, hypot
from typing import Annotated, Literal

from ironlace.evidence import usual_figures
from ironlace.evidence.analyses import Analysis, Ask, Known, Nothing, grade_of
from ironlace.evidence.answers import Answer, Plot, PlotsWhenSeen, Table
from ironlace.evidence.findings import Interval, Result
from ironlace.evidence.grades import Grade, weakest
from ironlace.evidence.intervals import NINETY
from ironlace.evidence.progress import Steps
from ironlace.running.needles.needle_plot import Held, needle_plot
from ironlace.running.needles.needle_table import Needle, needle_table, own_table

GROOVE = 0.40
"""Thread over needle size in mm: greatest share that a long groove takes up."""

_SHANK_MM, _LENGTH_MM = 0.05, 0.3
"""Differences of shank and of butt to eye to warn at: common practice, no source."""

_LOOSE_MM = 0.45
"""A shank so much thinner than the clamp's hole wants a sleeve rather than a tight screw: common
practice, no source."""

_FAR_MM = 6.0
"""A bar is not moved further for another needle unless its room was measured (a judgement)."""

_POINT_MM = 1.5
"""A length so near to a needle's overall length may have been measured to its point."""


@dataclass(frozen=True)
class NeedleAsked:
    """What is asked for a needle that fits."""

    clamp: Annotated[
        Known,
        Ask(
            "Hole of the needle clamp, or shank of a needle that fits",
            "Across; of a groove, the rod that just lies in it.",
            unit="mm",
            low=0.8,
            high=6.0,
            example="2.02 ± 0.02 mm",
            usual=usual_figures.SHANK_MM,
        ),
    ]
    butt_to_eye: Annotated[
        Known,
        Ask(
            "From the clamp's stop to the top of the eye, as it must be",
            "Of the old needle, from its butt; without one, from the stop in the clamp, needle bar "
            "lowest, down to the shuttle point's path, and what the eye must stand below it.",
            unit="mm",
            low=10.0,
            high=100.0,
            example="34.6 ± 0.2 mm",
            usual=usual_figures.NEEDLE_MM,
        ),
    ]
    shape: Annotated[
        Literal["round", "flatted", "unknown"],
        Ask(
            "Shape of the clamp",
            choices={"round": "round", "flatted": "with a flat side", "unknown": "not known"},
        ),
    ] = "unknown"
    bar_down: Annotated[
        Known | None,
        Ask(
            "How far the needle bar can be lowered",
            "From where it stands now; left out, it is taken that it can be moved.",
            unit="mm",
            low=0.0,
            high=30.0,
            more=True,
        ),
    ] = None
    bar_up: Annotated[
        Known | None,
        Ask("How far the needle bar can be raised", unit="mm", low=0.0, high=30.0, more=True),
    ] = None
    thread: Annotated[
        Known | None,
        Ask(
            "Thickness of the thread",
            "As worked out from its size, or measured.",
            unit="mm",
            low=0.02,
            high=3.0,
            example="0.21 ± 0.03 mm",
            usual=usual_figures.THREAD_MM,
        ),
    ] = None
    table: Annotated[
        str,
        Ask(
            "A table of needles of your own",
            "As TOML, like the one that comes with the program, with what you measured in it.",
            long=True,
            more=True,
        ),
    ] = ""


@dataclass(frozen=True, slots=True)
class Fit:
    """How one needle fits.

    Attributes
    ----------
    loose_mm
        By how much its shank is thinner than the clamp's hole; negative when it is thicker.
    lower_mm, lower_sd
        By how much the needle bar must be lowered for it (raised when negative), and the doubt.
    verdict
        ``"fits"``, ``"bar"`` (with the bar moved), ``"sleeve"`` (and a sleeve), or ``"no"``.
    why
        What stands against it, in words.
    """

    needle: Needle
    loose_mm: float
    lower_mm: float
    lower_sd: float | None
    verdict: str
    why: str

    @property
    def serves(self) -> bool:
        """Whether it can be used."""
        return self.verdict != "no"


@dataclass(frozen=True, slots=True)
class Fits:
    """The needles of a table, those that serve first; and the least size for the thread."""

    asked: NeedleAsked
    fits: tuple[Fit, ...]
    least_size: float | None
    own: bool


_VERDICTS = {
    "fits": "fits",
    "bar": "fits, the bar moved",
    "sleeve": "with a sleeve",
    "no": "does not fit",
}
"""Verdicts in words, those that serve first."""

_ORDER = tuple(_VERDICTS)


def needle_fit(_inputs: Nothing, asked: NeedleAsked, _steps: Steps) -> Fits:
    """Hold every needle of the table against the machine.

    Raises
    ------
    RunningError
        When a table of one's own cannot be read.
    """
    table = needle_table(asked.table) if asked.table.strip() else own_table()
    found = [_fit(needle, asked) for needle in table]
    found.sort(key=lambda one: (_ORDER.index(one.verdict), abs(one.lower_mm), abs(one.loose_mm)))
    least = asked.thread.value / GROOVE * 100.0 if asked.thread else None
    return Fits(asked, tuple(found), least, bool(asked.table.strip()))


def _fit(needle: Needle, asked: NeedleAsked) -> Fit:
    loose = asked.clamp.value - needle.shank.mm
    lower = asked.butt_to_eye.value - needle.butt_to_eye.mm
    sd = asked.butt_to_eye.error
    doubt = hypot(asked.clamp.error or 0.0, 0.0)
    verdict, why = "fits", ""
    if abs(lower) > _LENGTH_MM:
        verdict = "bar"
    if loose < -max(_SHANK_MM, NINETY * doubt):
        verdict, why = "no", f"its shank is {-loose:.2f} mm too thick"
    elif loose > _LOOSE_MM:
        verdict, why = "sleeve", f"its shank is {loose:.2f} mm too thin and wants a sleeve"
    elif loose > _SHANK_MM:
        why = f"its shank is {loose:.2f} mm thinner, so the clamp must hold it straight"
    room = asked.bar_down if lower > 0.0 else asked.bar_up
    if verdict != "no" and room is not None and abs(lower) > room.value + _LENGTH_MM:
        move = "lowered" if lower > 0.0 else "raised"
        verdict = "no"
        why = f"the bar would have to be {move} by {abs(lower):.1f} mm and has {room.value:g} mm"
    if verdict != "no" and room is None and abs(lower) > _FAR_MM:
        verdict = "no"
        why = (
            f"the bar would have to be {'lowered' if lower > 0.0 else 'raised'} by "
            f"{abs(lower):.1f} mm: measure the length again, or say how far it can be moved"
        )
    if verdict != "no" and NINETY * doubt > _LOOSE_MM / 2.0:
        why = f"if it does: the clamp is known to {NINETY * doubt:.1f} mm only, measure it again"
    if verdict != "no" and asked.shape == "flatted" and needle.shape == "round":
        why = "; ".join(w for w in (why, "nothing but the screw keeps its groove to the side") if w)
    if verdict != "no" and asked.shape == "round" and needle.shape == "flatted":
        why = "; ".join(
            w for w in (why, "its flat side lies in a round hole: look that it sits") if w
        )
    return Fit(needle, loose, lower, sd, verdict, why)


def needle_answer(found: Fits) -> Answer:
    """Tell which needle serves."""
    asked = found.asked
    best = Grade.INFERRED if _to_the_point(found) is None else Grade.CONJECTURED
    results = []
    for one in found.fits:
        if not one.serves:
            continue
        known = grade_of((asked.clamp, asked.butt_to_eye), best)
        interval = None
        if one.lower_sd is not None:
            half = NINETY * one.lower_sd
            interval = Interval(low=one.lower_mm - half, high=one.lower_mm + half, coverage=0.9)
        results.append(
            Result(
                name=f"needle bar lowered for {one.needle.name}",
                value=one.lower_mm,
                unit="mm",
                grade=weakest([known, one.needle.grade]),
                interval=interval,
            )
        )
    rows = tuple(
        (
            one.needle.name,
            one.needle.words,
            _VERDICTS[one.verdict],
            f"{one.lower_mm:+.2f}",
            f"{one.loose_mm:+.2f}",
            str(one.needle.grade),
            f"{one.needle.shank.source}; {one.needle.butt_to_eye.source}",
        )
        for one in found.fits
    )
    heads = (
        "Needle", "Kind", "Verdict", "Bar down, mm", "Shank thinner, mm", "Known how", "Source",
    )  # fmt: skip
    if not results:
        results = [Result(name="needles of the table that serve", value=0, grade=Grade.CONJECTURED)]
    return Answer(
        tuple(results),
        tuple(_sentences(found)),
        figures={
            "fits": [
                {
                    "name": one.needle.name,
                    "verdict": one.verdict,
                    "lower_bar_mm": one.lower_mm,
                    "shank_looser_mm": one.loose_mm,
                    "why": one.why,
                    "grade": str(one.needle.grade),
                }
                for one in found.fits
            ],
            "least_needle_size": found.least_size,
        },
        tables=(Table("Every needle of the table", heads, rows),),
        plots=PlotsWhenSeen(lambda: [_held(found)]),
    )


def _held(found: Fits) -> Plot:
    """The needles drawn in the clamp."""
    asked = found.asked
    return needle_plot(
        asked.clamp.value,
        asked.butt_to_eye.value,
        asked.butt_to_eye.error,
        [
            Held(
                one.needle.name,
                one.needle.shank.mm,
                one.needle.butt_to_eye.mm,
                _VERDICTS[one.verdict],
            )
            for one in found.fits
        ],
    )


def _to_the_point(found: Fits) -> Needle | None:
    """A needle whose shank fits and whose overall length is the length that was given."""
    asked = found.asked
    near = _POINT_MM + NINETY * (asked.butt_to_eye.error or 0.0)
    for one in found.fits:
        whole = one.needle.overall
        if whole is None or not -_SHANK_MM - 0.05 <= one.loose_mm <= _LOOSE_MM:
            continue
        if abs(asked.butt_to_eye.value - whole.mm) <= near and abs(one.lower_mm) > near:
            return one.needle
    return None


def _sentences(found: Fits) -> Iterator[str]:
    whole = _to_the_point(found)
    if whole is not None and whole.overall is not None:
        yield (
            f"{found.asked.butt_to_eye.value:g} mm is about the whole length of {whole.name} "
            f"({whole.overall.mm:g} mm): was it measured to the point? It goes to the top of the "
            "eye."
        )
    serves = [one for one in found.fits if one.serves]
    if serves:
        best = serves[0]
        move = (
            "with the needle bar where it is"
            if abs(best.lower_mm) <= _LENGTH_MM
            else f"with the needle bar {'lowered' if best.lower_mm > 0 else 'raised'} by "
            f"{abs(best.lower_mm):.2f} mm"
        )
        also = f" ({best.why})" if best.why else ""
        yield f"{best.needle.name} ({best.needle.words}) serves {move}{also}."
    else:
        yield (
            f"No needle of the table serves: the nearest, {found.fits[0].needle.name}, does not "
            f"because {found.fits[0].why}."
        )
    weak = [one.needle.name for one in serves if one.needle.grade is Grade.CONJECTURED]
    if weak:
        yield (
            f"What is known of {', '.join(weak)} is from memory or an excerpt, not measured: "
            "measure one before the bar is moved, and turn the wheel by hand first."
        )
    if found.least_size is not None:
        size = 10 * ceil(found.least_size / 10.0 - 1e-9)
        yield (
            f"The thread's groove asks for a needle of size {found.least_size:.0f} or more (thread "
            f"no thicker than {100 * GROOVE:.0f} % of the blade): {size} is the next in tens; "
            "practice takes the next thicker one."
        )
        best_sizes = serves[0].needle.sizes if serves else ()
        if best_sizes and found.least_size > max(best_sizes):
            yield f"None so thick is made of {serves[0].needle.name}: use a finer thread."
    for words, known in (("clamp", found.asked.clamp), ("length", found.asked.butt_to_eye)):
        if known.error is None:
            yield f"No error was stated for the {words}, so its verdict has none."
    yield "Never grind a shank or force a fit (common practice, no source)."


NEEDLE_FIT = Analysis(
    key="needle-fit",
    about="needle that fits",
    question="Which needle that can be bought today fits, and where must the needle bar stand "
    "for it?",
    section="running",
    inputs=Nothing,
    asked=NeedleAsked,
    work=needle_fit,
    answer=needle_answer,
    method="ironlace.running: shank and butt to eye against a table of needles",
    published="fitting dimensions: ISO 8239:1987 (scope read); groove: a needle supplier's rule, "
    "JIS B 9012:2000",
    hazards=("running parts",),
)
