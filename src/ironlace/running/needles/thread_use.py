"""How much thread a seam of lockstitch takes, above and below.

A stitch runs once along the cloth on either side and down and up through its share of the
thickness: needle ``s + 2 b T``, bobbin ``s + 2 (1 - b) T`` (stitch type 301, ISO 4915, drawn as a
rectangle; the published form for both threads is 2 + 2 T / s per length of seam). Thread pulled
tight cuts the corners, so this is an upper bound.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated

from uncertainties import nominal_value, std_dev, ufloat

from ironlace.evidence.analyses import Analysis, Ask, Known, Nothing, grade_of
from ironlace.evidence.answers import Answer
from ironlace.evidence.findings import Interval, Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps

_SURE = 1.645
"""Half-width of a 90 % interval in standard uncertainties of a normal law."""

_ELLIPSE = 0.84
"""An ellipse of the same length and thickness takes so much of the rectangle's thread in a thin
seam: how far below the bound a tight stitch may lie (own model)."""


@dataclass(frozen=True)
class ThreadUseAsked:
    """What is asked for the thread in a seam."""

    stitch: Annotated[
        Known,
        Ask("Stitch length", unit="mm", low=0.4, high=12.0, example="2.5 ± 0.05 mm"),
    ]
    thickness: Annotated[
        Known,
        Ask(
            "Thickness of the cloth, both layers",
            "Pressed as the foot presses it.",
            unit="mm",
            low=0.05,
            high=15.0,
            example="0.8 ± 0.05 mm",
        ),
    ]
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


@dataclass(frozen=True, slots=True)
class ThreadUse:
    """Metres of thread to a metre of seam: needle, bobbin, both; each with its uncertainty."""

    asked: ThreadUseAsked
    needle: tuple[float, float]
    bobbin: tuple[float, float]
    both: tuple[float, float]


def thread_use(_inputs: Nothing, asked: ThreadUseAsked, _steps: Steps) -> ThreadUse:
    """Work out the thread in a metre of seam."""
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
    return ThreadUse(asked, found[0], found[1], found[2])


def thread_use_answer(found: ThreadUse) -> Answer:
    """Tell the thread in a metre of seam."""
    asked = found.asked
    known = (asked.stitch, asked.thickness)
    grade = grade_of(known, Grade.INFERRED)
    sure = all(one.error is not None for one in known)
    names = ("needle thread", "bobbin thread", "both threads")
    results = []
    for name, (value, sd) in zip(names, (found.needle, found.bobbin, found.both), strict=True):
        half = _SURE * sd
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
    return Answer(
        tuple(results),
        tuple(_sentences(found, sure=sure)),
        figures={
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
    if not sure:
        yield "No interval is given: no error was stated for stitch length or thickness."


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
