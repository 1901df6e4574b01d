"""How much thread a seam of lockstitch takes, above and below.

A stitch runs once along the cloth on either side and down and up through its share of the
thickness: needle ``s + 2 b T``, bobbin ``s + 2 (1 - b) T`` (stitch type 301, ISO 4915, drawn as a
rectangle; the published form for both threads is 2 + 2 T / s per length of seam). Thread pulled
tight cuts the corners, so this is an upper bound.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Annotated

from uncertainties import nominal_value, std_dev, ufloat

from ironlace.evidence import usual_figures
from ironlace.evidence.analyses import Analysis, Ask, Known, Nothing, grade_of
from ironlace.evidence.answers import Answer, Table
from ironlace.evidence.findings import Interval, Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.intervals import NINETY
from ironlace.evidence.progress import Steps
from ironlace.evidence.wording import listed
from ironlace.running.errors import RunningError

_STITCHES = (1.5, 2.0, 2.5, 3.0, 4.0)
"""Stitch lengths that the table tells, mm."""

_ELLIPSE = 0.84
"""An ellipse of the same length and thickness takes so much of the rectangle's thread in a thin
seam: how far below the bound a tight stitch may lie (own model)."""

_THICK = 1.35
"""Cloth so many times as thick as its stitch is long: then the two were typed in each other's place
(a judgement; saddlery comes to 1)."""

_COUNT = 1.0
"""By how many stitches a count along a seam may be off: one begins or ends it (a judgement)."""

_FOLDED = 0.1
"""Share by which cloth folded is thinner or thicker than twice as much, pressed (a judgement)."""

_SIGMAS = 3.0
"""So many standard uncertainties apart, two readings of one thing contradict one another: once in
four hundred by chance (normal law)."""

_UNSTATED = 0.03
"""Share of a stitch or a thickness that is taken for its error where none was stated."""

STITCH = Ask("Stitch length", unit="mm", low=0.4, high=12.0, example="2.5 ± 0.05 mm")
"""How a stitch's length is asked for: what is unusual of it is told with what it may be instead."""

COUNTED = Ask(
    "Stitches counted along 100 mm of the seam",
    "It shows a stitch length that was misread or rounded, which nothing else does.",
    low=8.0,
    high=250.0,
    example="40",
)
"""How a check of the stitch length is asked for, wherever one is."""

FOLDED = Ask(
    "Thickness of the same cloth folded once",
    "Twice as many layers, pressed the same way: it shows a thickness that was misread or rounded.",
    unit="mm",
    low=0.1,
    high=30.0,
    example="1.6 ± 0.05 mm",
)
"""How a check of the cloth's thickness is asked for, wherever one is."""


def stitch_doubts(
    stitch: Known, cloth: Known, counted: float | None = None, folded: Known | None = None
) -> list[str]:
    """What shows that a stitch length or a thickness is not what it was said to be.

    Parameters
    ----------
    stitch, cloth
        Length of a stitch and thickness of the cloth, mm.
    counted
        Stitches counted along 100 mm of the seam, None where they were not.
    folded
        Thickness of the same cloth folded once, mm.

    >>> def mm(value): return Known(value, 0.02, "mm")
    >>> stitch_doubts(mm(2.5), mm(0.8), 40.0, mm(1.6)), len(stitch_doubts(mm(10.0), mm(0.8)))
    ([], 1)
    >>> stitch_doubts(mm(2.5), mm(0.8), 33.0)[0][:60]
    '33 stitches along 100 mm are of 3.03 mm, and the stitch leng'
    """
    said = []
    if counted is not None:
        by_count = 100.0 / counted
        off = math.hypot(_error(stitch), by_count * _COUNT / counted)
        if abs(by_count - stitch.value) > _SIGMAS * off:
            said.append(
                f"{counted:g} stitches along 100 mm are of {by_count:.2f} mm, and the stitch "
                f"length was given as {stitch.value:g} mm: one of them is misread, count again."
            )
    if folded is not None:
        off = math.hypot(2.0 * _error(cloth), _error(folded), _FOLDED * folded.value / _SIGMAS)
        if abs(folded.value - 2.0 * cloth.value) > _SIGMAS * off:
            said.append(
                f"Folded once the cloth has {folded.value:g} mm, and its thickness was given as "
                f"{cloth.value:g} mm, which is no half of it: one is misread, measure both again."
            )
    return [*said, *_seldom(stitch.value, cloth.value)]


def _error(known: Known) -> float:
    return known.error or _UNSTATED * known.value


def unchecked(counted: float | None, folded: Known | None) -> str:
    """What nothing checks of a stitch and its cloth, and what would; empty where both were."""
    lacking = [
        words
        for words, given in (
            ("the stitch length (count the stitches along 100 mm too)", counted),
            ("the thickness (measure the cloth folded once too)", folded),
        )
        if given is None
    ]
    return f"Nothing checks {' or '.join(lacking)}." if lacking else ""


def _seldom(stitch_mm: float, cloth_mm: float) -> list[str]:
    """What machines hardly sew; that cloth is too thin or thick is told of its own field."""
    said = []
    shortest, longest = usual_figures.STITCH_MM
    if stitch_mm > longest:
        said.append(
            f"A stitch of {stitch_mm:g} mm is longer than machines sew: were they {stitch_mm:g} "
            f"stitches to the inch? Then it is {25.4 / stitch_mm:.2f} mm."
        )
    if cloth_mm > _THICK * stitch_mm:
        said.append(
            f"Cloth of {cloth_mm:g} mm under stitches of {stitch_mm:g} mm looks like the one "
            "typed for the other: look again."
        )
    elif stitch_mm < shortest:
        said.append(
            f"A stitch of {stitch_mm:g} mm hardly moves the cloth: was it measured over several, "
            "in mm? Measure ten again and divide."
        )
    return said


@dataclass(frozen=True)
class ThreadUseAsked:
    """What is asked for the thread in a seam."""

    stitch: Annotated[Known, STITCH]
    thickness: Annotated[
        Known,
        Ask(
            "Thickness of the cloth, both layers",
            "Pressed as the foot presses it.",
            unit="mm",
            low=0.05,
            high=15.0,
            example="0.8 ± 0.05 mm",
            usual=usual_figures.CLOTH_MM,
        ),
    ]
    counted: Annotated[float | None, COUNTED] = field(default=None, kw_only=True)
    folded: Annotated[Known | None, FOLDED] = field(default=None, kw_only=True)
    balance: Annotated[
        float,
        Ask(
            "Share of the thickness that the needle thread goes through",
            "0.5 when both lock in the middle.",
            low=0.0,
            high=1.0,
            more=True,
        ),
    ] = 0.5
    core: Annotated[
        Known | None,
        Ask(
            "Bobbin: diameter of its bare core",
            "With the next three it is told how far a full bobbin sews.",
            unit="mm",
            low=0.5,
            high=60.0,
            example="3.0 mm",
            more=True,
            usual=usual_figures.CORE_MM,
        ),
    ] = None
    full: Annotated[
        Known | None,
        Ask(
            "Bobbin: diameter when full",
            unit="mm",
            low=1.0,
            high=80.0,
            example="7.0 mm",
            more=True,
            usual=usual_figures.BOBBIN_MM,
        ),
    ] = None
    between: Annotated[
        Known | None,
        Ask(
            "Bobbin: length between its flanges",
            unit="mm",
            low=1.0,
            high=80.0,
            example="28 mm",
            more=True,
            usual=usual_figures.BOBBIN_MM,
        ),
    ] = None
    thread: Annotated[
        Known | None,
        Ask(
            "Thickness of the bobbin thread",
            unit="mm",
            low=0.05,
            high=1.0,
            example="0.2 mm",
            more=True,
            usual=usual_figures.THREAD_MM,
        ),
    ] = None


@dataclass(frozen=True, slots=True)
class ThreadUse:
    """Metres of thread to a metre of seam: needle, bobbin, both; each with its uncertainty.

    `wound_m` is what a full bobbin holds, None where its sizes were not given.
    """

    asked: ThreadUseAsked
    needle: tuple[float, float]
    bobbin: tuple[float, float]
    both: tuple[float, float]
    wound_m: float | None = None


def thread_use(_inputs: Nothing, asked: ThreadUseAsked, _steps: Steps) -> ThreadUse:
    """Work out the thread in a metre of seam.

    Raises
    ------
    RunningError
        When only a part of the bobbin's sizes is given, or it holds nothing.
    """
    stitch, thick = (
        ufloat(known.value, known.error) if known.error else known.value
        for known in (asked.stitch, asked.thickness)
    )
    share = asked.balance
    each = (
        1.0 + 2.0 * share * thick / stitch,
        1.0 + 2.0 * (1.0 - share) * thick / stitch,
        2.0 + 2.0 * thick / stitch,
    )
    found = [(float(nominal_value(v)), float(std_dev(v))) for v in each]
    return ThreadUse(asked, found[0], found[1], found[2], _wound_m(asked))


def _wound_m(asked: ThreadUseAsked) -> float | None:
    """Metres on a full bobbin, each turn a square beside the next (own model, fill factor pi/4)."""
    sizes = {
        "core": asked.core,
        "diameter when full": asked.full,
        "length between the flanges": asked.between,
        "thickness of its thread": asked.thread,
    }
    lacking = [name for name, size in sizes.items() if size is None]
    if len(lacking) == len(sizes):
        return None
    core, full, between, thread = (0.0 if one is None else one.value for one in sizes.values())
    if lacking:
        raise RunningError(
            f"Of the bobbin {listed(lacking)} is missing: give all four sizes, or none."
        )
    if full <= core:
        raise RunningError(
            f"The bobbin's core of {core:g} mm is no thinner than the full bobbin of {full:g} mm: "
            "measure both again."
        )
    return math.pi / 4.0 * (full**2 - core**2) * between / thread**2 / 1000.0


def thread_use_answer(found: ThreadUse) -> Answer:
    """Tell the thread in a metre of seam."""
    asked = found.asked
    known = (asked.stitch, asked.thickness)
    doubts = stitch_doubts(asked.stitch, asked.thickness, asked.counted, asked.folded)
    grade = grade_of(known, Grade.CONJECTURED if doubts else Grade.INFERRED)
    sure = all(one.error is not None for one in known) and not doubts
    names = ("needle thread", "bobbin thread", "both threads")
    results = []
    for name, (value, sd) in zip(names, (found.needle, found.bobbin, found.both), strict=True):
        half = NINETY * sd
        interval = Interval(low=value - half, high=value + half, coverage=0.9) if sure else None
        results.append(
            Result(
                name=f"{name} to a metre of seam, at most",
                value=value,
                unit="m",
                grade=grade,
                interval=interval,
            )
        )
    if found.wound_m is not None:
        sizes = [one for one in (asked.core, asked.full, asked.between, asked.thread) if one]
        bobbin = grade_of((*known, *sizes), Grade.CONJECTURED)
        wound = found.wound_m
        for name, value in (
            ("thread on a full bobbin", wound),
            ("seam that a full bobbin sews", wound / found.bobbin[0]),
        ):
            results.append(Result(name=f"{name}, about", value=value, unit="m", grade=bobbin))
    return Answer(
        tuple(results),
        (*doubts, *_sentences(found, sure=sure or bool(doubts))),
        tables=(_others(found),),
        figures={
            **({} if found.wound_m is None else {"wound_m": found.wound_m}),
            "needle_m_per_m": found.needle[0],
            "bobbin_m_per_m": found.bobbin[0],
            "both_m_per_m": found.both[0],
        },
    )


def _sentences(found: ThreadUse, *, sure: bool) -> Iterator[str]:
    both = found.both[0]
    yield (
        f"A metre of seam takes at most {found.needle[0]:.2f} m of needle thread and "
        f"{found.bobbin[0]:.2f} m of bobbin thread, {both:.2f} m together."
    )
    yield (
        f"A tight stitch rounds its corners and may take {both * _ELLIPSE:.2f} m; ends and waste, "
        "by the trade 10 to 15 %, come on top."
    )
    if found.wound_m is not None:
        yield (
            f"A full bobbin holds about {found.wound_m:.0f} m and sews some "
            f"{found.wound_m / found.bobbin[0]:.0f} m; how tight it is wound is not known."
        )
    if nothing := unchecked(found.asked.counted, found.asked.folded):
        yield nothing
    if not sure:
        yield "No interval is given: no error was stated for stitch length or thickness."


def _others(found: ThreadUse) -> Table:
    """Both threads at other stitch lengths and thicknesses."""
    thick = found.asked.thickness.value
    cloths = [share * thick for share in (0.5, 1.0, 2.0)]
    return Table(
        "Both threads, metres to a metre of seam at most",
        ("Stitch, mm", *(f"in {cloth:.2g} mm of cloth" for cloth in cloths)),
        tuple(
            (f"{stitch:g}", *(f"{2.0 + 2.0 * cloth / stitch:.2f}" for cloth in cloths))
            for stitch in _STITCHES
        ),
    )


THREAD_USE = Analysis(
    key="thread-use",
    about="thread in a seam",
    question="How much thread does a metre of seam take?",
    section="running",
    inputs=Nothing,
    asked=ThreadUseAsked,
    work=thread_use,
    answer=thread_use_answer,
    method="ironlace.running: lockstitch as a rectangle, errors carried to first order",
    published="teaching pages on thread consumption by stitch type (2 + 2 T S); ISO 4915 stitch "
    "type 301, from memory",
)
