"""Sizes of thread across the systems of the trade, and how thick such a thread is.

Tex is grams per kilometre (ISO 1144); the other counts follow from their definitions, cotton's from
840 yards of 0.9144 m to the pound of 453.59237 g, which gives 590.54.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import sqrt
from typing import Annotated, Literal

from ironlace.evidence import usual_figures
from ironlace.evidence.analyses import Analysis, Ask, Known, Nothing, grade_of
from ironlace.evidence.answers import Answer, Table
from ironlace.evidence.findings import Interval, Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.intervals import NINETY
from ironlace.evidence.progress import Steps
from ironlace.running.errors import RunningError

COTTON = 453.59237 / (840.0 * 0.9144) * 1000.0
"""Tex times cotton count: grams per pound over metres per hank, by a thousand (590.54)."""

SYSTEMS = {
    "tex": "tex, g/km",
    "dtex": "decitex",
    "denier": "denier, g per 9 km",
    "metric count": "metric count, km/kg",
    "cotton count": "cotton count, hanks of 840 yd to the pound",
    "metric ticket": "metric ticket, three times the metric count",
    "cotton ticket": "cotton ticket, three times the cotton count",
}
"""The systems, with what each counts."""

FIBRES = {"cotton": 1.52, "polyester": 1.38, "silk": 1.34, "linen": 1.50}
"""Density of the fibre, g/cm³ (from memory)."""

PACKING = (0.50, 0.60, 0.70)
"""Share of a thread's section that is fibre: least, likely, greatest. J. T. Taylor, *Cotton Weaving
and Designing* (6th ed.), has cotton yarns touch at a spacing that implies 0.58."""

_USUAL_TEX = (8.0, 400.0)
"""Between what sewing threads lie: fine silk to harness thread (a judgement)."""

_SOLID_MM = 0.0356825
"""Diameter, mm, of a solid round strand of 1 tex and 1 g/cm³: sqrt(4 / (1000 pi))."""

Systems = Literal[
    "tex", "dtex", "denier", "metric count", "cotton count", "metric ticket", "cotton ticket"
]


def tex_of(size: float, system: str, ply: int = 1) -> float:
    """Tex of a size in a system; of a count, with as many plies as it was twisted from.

    Tickets tell the finished thread and take no ply.

    >>> round(tex_of(40, "cotton count", ply=2), 3), tex_of(120, "metric ticket")
    (29.527, 25.0)
    """
    return {
        "tex": lambda: size * ply,
        "dtex": lambda: size * ply / 10.0,
        "denier": lambda: size * ply / 9.0,
        "metric count": lambda: 1000.0 * ply / size,
        "cotton count": lambda: COTTON * ply / size,
        "metric ticket": lambda: 3000.0 / size,
        "cotton ticket": lambda: 3.0 * COTTON / size,
    }[system]()


def sizes_of(tex: float) -> dict[str, float]:
    """The same thread in every system.

    >>> round(sizes_of(30.0)["denier"]), round(sizes_of(30.0)["metric ticket"])
    (270, 100)
    """
    return {
        "tex": tex,
        "dtex": 10.0 * tex,
        "denier": 9.0 * tex,
        "metric count": 1000.0 / tex,
        "cotton count": COTTON / tex,
        "metric ticket": 3000.0 / tex,
        "cotton ticket": 3.0 * COTTON / tex,
    }


def diameter_mm(tex: float, density: float, packing: float) -> float:
    """Diameter of a round thread.

    Parameters
    ----------
    density
        Of the fibre, g/cm³.
    packing
        Share of the section that is fibre.

    >>> round(diameter_mm(30.0, 1.52, 0.60), 4)
    0.2047
    """
    return _SOLID_MM * sqrt(tex / (density * packing))


@dataclass(frozen=True)
class ThreadAsked:
    """What is asked for the size of a thread."""

    size: Annotated[float, Ask("Size of the thread", low=0.1, high=20_000.0, example="40")]
    system: Annotated[
        Systems,
        Ask(
            "In which system",
            "A ticket that does not say metric or cotton is not known: look which the spool means.",
            choices=SYSTEMS,
            example="cotton count",
        ),
    ]
    ply: Annotated[
        int,
        Ask(
            "Plies",
            "Of a count written like 40/2, the second figure; 1 for a ticket.",
            low=1,
            high=24,
            example="2",
        ),
    ] = 1
    fibre: Annotated[
        Literal["cotton", "polyester", "silk", "linen"],
        Ask("Fibre", choices={name: name for name in FIBRES}),
    ] = "cotton"
    diameter: Annotated[
        Known | None,
        Ask(
            "Thickness as measured",
            "Wrap it twenty times round a rod, touching, not pressed, and divide the length.",
            unit="mm",
            low=0.02,
            high=3.0,
            more=True,
            example="0.21 ± 0.02 mm",
            usual=usual_figures.THREAD_MM,
        ),
    ] = None


@dataclass(frozen=True, slots=True)
class Thread:
    """A thread: tex, and its diameter in mm: least, likely, greatest."""

    asked: ThreadAsked
    tex: float
    diameter: tuple[float, float, float]


def thread(_inputs: Nothing, asked: ThreadAsked, _steps: Steps) -> Thread:
    """Work out a thread's size in every system.

    Raises
    ------
    RunningError
        When a ticket is given plies.
    """
    if asked.ply > 1 and "ticket" in asked.system:
        raise RunningError(
            f"A ticket of {asked.size:g} tells the finished thread, so {asked.ply} plies cannot be "
            "counted again: give 1 ply, or the count of a single."
        )
    tex = tex_of(asked.size, asked.system, asked.ply)
    if not 1.0 <= tex <= 2000.0:
        raise RunningError(
            f"{asked.size:g} {asked.system} is {tex:.3g} tex, which no sewing thread is: check the "
            "system."
        )
    density = FIBRES[asked.fibre]
    low, likely, high = (diameter_mm(tex, density, p) for p in PACKING[::-1])
    return Thread(asked, tex, (low, likely, high))


def thread_answer(found: Thread) -> Answer:
    """Tell a thread's sizes."""
    asked, sizes = found.asked, sizes_of(found.tex)
    low, likely, high = found.diameter
    doubts = _doubts(found)
    grade = Grade.CONJECTURED if doubts else Grade.INFERRED
    tex = Result(name="size of the thread", value=found.tex, unit="tex", grade=grade)
    thick = Result(
        name="thickness of the thread",
        value=likely,
        unit="mm",
        grade=Grade.CONJECTURED,
        interval=Interval(low=low, high=high, coverage=0.9),
    )
    results = [tex, thick]
    if asked.diameter is not None:
        results.append(_measured(asked.diameter))
    rows = tuple((words, f"{sizes[key]:.4g}") for key, words in SYSTEMS.items())
    return Answer(
        tuple(results),
        (*doubts, *_sentences(found, sizes)),
        figures={"tex": found.tex, "sizes": sizes, "diameter_mm": list(found.diameter)},
        tables=(Table("The same thread in every system", ("System", "Size"), rows),),
    )


def _measured(known: Known) -> Result:
    interval = None
    if known.error is not None:
        half = NINETY * known.error
        interval = Interval(low=known.value - half, high=known.value + half, coverage=0.9)
    return Result(
        name="thickness as measured",
        value=known.value,
        unit="mm",
        grade=grade_of((known,), Grade.MEASURED),
        interval=interval,
    )


def _sentences(found: Thread, sizes: dict[str, float]) -> Iterator[str]:
    asked = found.asked
    low, likely, high = found.diameter
    yield (
        f"{asked.size:g}{f'/{asked.ply}' if asked.ply > 1 else ''} {asked.system} is "
        f"{found.tex:.1f} tex: {sizes['denier']:.0f} denier, metric ticket "
        f"{sizes['metric ticket']:.0f}, cotton count {sizes['cotton count']:.1f}."
    )
    yield (
        f"In {asked.fibre} such a thread is about {likely:.2f} mm thick ({low:.2f} to {high:.2f}, "
        "as tightly as it is twisted): a conjecture, so measure it."
    )
    if "cotton" in asked.system:
        yield (
            "Some tables reckon cotton with 583 in place of 590.5 for the water in it: 1.3 % apart."
        )
    if asked.diameter is None:
        yield (
            "Nothing checks the system, the plies or the fibre: measure the thickness, which tells "
            "one size from another."
        )


def _doubts(found: Thread) -> list[str]:
    """What makes it probable that another system or ply was meant."""
    asked, said = found.asked, []
    low, _, high = found.diameter
    if asked.diameter is not None:
        margin = NINETY * (asked.diameter.error or 0.0)
        if not low - margin <= asked.diameter.value <= high + margin:
            said.append(
                f"Measured it is {asked.diameter.value:g} mm, and a thread of this size is "
                f"{low:.2f} to {high:.2f} mm: another system was meant, another ply or fibre, or "
                "it was pressed as it was measured. Look again what the spool says."
            )
    least, most = _USUAL_TEX
    if not least <= found.tex <= most:
        said.append(
            f"{asked.size:g} {asked.system} comes to {found.tex:.3g} tex, and sewing threads have "
            f"{least:g} to {most:g}: was another system meant?"
        )
    return said


THREAD_SIZE = Analysis(
    key="thread-size",
    about="size of a thread",
    question="How thick is this thread, and what is it called in other systems?",
    section="running",
    inputs=Nothing,
    asked=ThreadAsked,
    work=thread,
    answer=thread_answer,
    method="ironlace.running: counts by their definitions, thickness by fibre and packing",
    published="ISO 1144 (Tex system) and ISO 2947 (conversions), from memory; packing after J. T. "
    "Taylor, Cotton Weaving and Designing, 6th ed.",
)
