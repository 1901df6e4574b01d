"""An oiling plan: the places that want oil, how much and how often, and when each is due."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Final

from ironlace.care.errors import CareError
from ironlace.care.felt_wick import (
    DROP_TIPS_MM,
    Felt,
    FeltFound,
    drop_ul,
    felt_found,
    felt_in_words,
)
from ironlace.care.oil_log import days_of_log, log_doubts
from ironlace.care.oil_plan import (
    Oil,
    OilPlan,
    OilPlanFound,
    Point,
    PointDue,
    every_in_words,
    oil_in_words,
    oil_plan,
    plan_doubts,
)
from ironlace.care.oil_viscosity import HOTTEST_WORKSHOP_C
from ironlace.evidence import usual_figures
from ironlace.evidence.analyses import Analysis, Ask, Known, Nothing, grade_of
from ironlace.evidence.answers import Answer, Table
from ironlace.evidence.findings import Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.evidence.word_tables import WordTableError, rows_of_words, words_of_rows
from ironlace.evidence.wording import counted

KINDS: Final = {
    "hole": "oil hole",
    "cup": "oil cup",
    "felt": "felt",
    "face": "sliding face",
}
"""What takes the oil; each has a shape of its own on the picture."""
COLUMNS: Final = (
    *("place", "kind", "drops", "every_hours", "every_months", "last"),
    *("holds_ml", "x_px", "y_px", "felt_mm", "wick_mm"),
)
"""Of the table of places; only `place` and `last` must be filled in every row."""
MOST_PLACES: Final = 99
"""More than any head has (a judgement); two figures still fit into a number's field."""
_MOST_ML: Final = 1000.0
"""Of a cup or a felt (a judgement)."""
_MOST_PX: Final = 100_000.0
"""Of a photograph (a judgement)."""


@dataclass(frozen=True)
class OilingAsked:
    """What is asked for an oiling plan."""

    places: Annotated[
        str,
        Ask(
            "Places that want oil",
            "A line each under the headings place, kind, drops, every_hours, every_months, last; "
            "also holds_ml, x_px, y_px, felt_mm (30x10x5) and wick_mm where known. Kind is hole, "
            "cup, felt or face.",
            long=True,
            table=True,
            example="place,kind,drops,every_hours,every_months,last\n"
            "needle bar,hole,1,8,3,1894-03-01\nshuttle race,felt,2,4,1,1894-03-01",
            usual_cells=usual_figures.OILED,
        ),
    ]
    hours_per_week: Annotated[
        Known | None,
        Ask(
            "Hours of sewing a week",
            "The hours become a day by this; without it only the months count.",
            unit="h",
            low=0.0,
            high=168.0,
            example="2",
            usual=usual_figures.SEWING_HOURS,
        ),
    ] = None
    oil: Annotated[str, Ask("Which oil", "As the bottle calls it.", example="clear oil")] = ""
    grade: Annotated[
        str, Ask("Grade on the bottle (ISO VG)", "Left out, nothing is told.", example="22")
    ] = ""
    temperature: Annotated[
        Known | None,
        Ask(
            "Temperature of the workshop",
            unit="°C",
            low=-30.0,
            high=HOTTEST_WORKSHOP_C,
            example="18",
            usual=usual_figures.ROOM_CELSIUS,
        ),
    ] = None
    viscosity_at_forty: Annotated[
        float | None,
        Ask(
            "Its viscosity at 40 °C, mm²/s",
            "From its data sheet; then the grade may be left out.",
            low=0.5,
            high=5000.0,
            example="22.0",
            usual=usual_figures.OIL_AT_40_MM2_S,
        ),
    ] = None
    viscosity_at_hundred: Annotated[
        float | None,
        Ask(
            "And at 100 °C, mm²/s",
            "With both it is one number at the workshop's temperature, else a range.",
            low=0.2,
            high=1000.0,
            example="4.3",
            usual=usual_figures.OIL_AT_100_MM2_S,
        ),
    ] = None
    log: Annotated[
        str,
        Ask(
            "Days of oiling, from another book",
            "What checks the rows: from a log, a card or a diary, not from this table. A line for "
            "each oiling under the headings place, day; all that you have.",
            long=True,
            table=True,
            example="place,day\nneedle bar,1893-12-02\nneedle bar,1894-03-01",
        ),
    ] = ""
    photograph: Annotated[
        str, Ask("Photograph the places are numbered on", names="photograph", more=True)
    ] = ""


@dataclass(frozen=True, slots=True)
class OilPlace:
    """A place of a plan: its number, what takes the oil, and where it lies on the photograph.

    `at_px` is None for one that was not pointed at; `holds_ml` and `felt` when nobody measured it.
    """

    number: int
    point: Point
    kind: str
    holds_ml: float | None
    at_px: tuple[float, float] | None
    felt: Felt | None = None


@dataclass(frozen=True, slots=True)
class OilingFound:
    """A plan that was worked out; `found.viscosity` counts only if `oil_told`."""

    asked: OilingAsked
    places: tuple[OilPlace, ...]
    plan: OilPlan
    found: OilPlanFound
    oil_told: bool


def oiling(_inputs: Nothing, asked: OilingAsked, _steps: Steps) -> OilingFound:
    """Read the places and work out when each is due.

    Raises
    ------
    CareError
        When a place, a day, a figure or the grade cannot be; it names the place.
    """
    places = places_of(asked)
    named = bool(asked.grade) or asked.viscosity_at_forty is not None
    told = named and asked.temperature is not None
    if named != (asked.temperature is not None):
        raise CareError(
            "How thick the oil is takes both the grade on the bottle (or its viscosity at 40 °C) "
            "and the workshop's temperature: give the other too, or neither."
        )
    if asked.viscosity_at_hundred is not None and asked.viscosity_at_forty is None:
        raise CareError("A viscosity at 100 °C alone tells nothing: give that at 40 °C too.")
    celsius = asked.temperature.value if asked.temperature is not None else _SOME_CELSIUS
    by_figures = asked.viscosity_at_forty is not None
    oil = Oil(
        celsius,
        asked.viscosity_at_forty,
        asked.viscosity_at_hundred,
        None if by_figures else (asked.grade if told else _SOME_GRADE),
        name=asked.oil,
    )
    if asked.log.strip():
        days_of_log(asked.log)
    felts = tuple(one.felt for one in places if one.felt is not None)
    plan = OilPlan(oil, felt=felts, point=tuple(one.point for one in places))
    return OilingFound(asked, places, plan, oil_plan(plan), told)


_SOME_CELSIUS, _SOME_GRADE = 20.0, "22"
"""Of an oil that nothing is said of: the days do not depend on it, and it is not told."""


def places_of(asked: OilingAsked) -> tuple[OilPlace, ...]:
    """The places of a plan, numbered in their order.

    Raises CareError for a heading, a figure or a word that cannot be.
    """
    rows = rows_of_places(asked.places)
    if not 1 <= len(rows) <= MOST_PLACES:
        raise CareError(f"The table has {len(rows)} places: give 1 to {MOST_PLACES}.")
    places = []
    names: dict[str, int] = {}
    for number, cells in enumerate(rows, 1):
        place = _place(number, cells, asked)
        same = names.setdefault(place.point.name.casefold(), number)
        if same != number:
            raise CareError(
                f"Places {same} and {number} are both called '{place.point.name[:40]}': tell "
                "them apart."
            )
        places.append(place)
    return tuple(places)


def rows_of_places(table: str) -> list[dict[str, str]]:  # dict: cells by their heading
    r"""The rows of a table of places as they were written, a dict each by column.

    Raises CareError when the headings, or the number of cells in a row, cannot be.

    >>> rows_of_places("place,last\nneedle bar,1894-03-01\n")
    [{'place': 'needle bar', 'last': '1894-03-01'}]
    """
    try:
        return rows_of_words(table, COLUMNS, ("place",), ("place", "places"))
    except WordTableError as error:
        raise CareError(str(error)) from error


def table_of_places(rows: Iterable[Mapping[str, str]]) -> str:
    """The table of places that `rows_of_places` reads again."""
    return words_of_rows(rows, COLUMNS)


def _place(number: int, cells: dict[str, str], asked: OilingAsked) -> OilPlace:
    name = cells.get("place", "")
    if not name or len(name) > _LONGEST_NAME:
        raise CareError(
            f"Place {number} needs a name of at most {_LONGEST_NAME} letters: say where it is."
        )
    kind = cells.get("kind", "").casefold()
    if kind and kind not in KINDS:
        raise CareError(f"Place {number} is a '{kind[:30]}': use one of {', '.join(KINDS)}.")

    def figure(column: str, low: float, high: float, *, whole: bool = False) -> float | None:
        return _figure(
            f"Place {number} ({name[:40]})", column, cells.get(column, ""), low, high, whole
        )

    drops = figure("drops", 1, 200, whole=True)
    months = figure("every_months", 1, 1200, whole=True)
    x, y = figure("x_px", 0, _MOST_PX), figure("y_px", 0, _MOST_PX)
    if (x is None) != (y is None):
        raise CareError(f"Place {number} ({name[:40]}) needs both x_px and y_px, or neither.")
    weekly = asked.hours_per_week
    point = Point(
        name,
        cells.get("last", ""),
        drops=1 if drops is None else int(drops),
        every_hours=figure("every_hours", 0.01, 1e5),
        every_months=None if months is None else int(months),
        hours_per_week=None if weekly is None else weekly.value,
        kind=KINDS.get(kind, ""),
    )
    at = None if x is None or y is None else (x, y)
    felt = _felt(number, name, cells, figure("wick_mm", 0.1, 500.0))
    return OilPlace(number, point, kind, figure("holds_ml", 0.001, _MOST_ML), at, felt)


def _felt(number: int, name: str, cells: dict[str, str], wick: float | None) -> Felt | None:
    """A felt by its size; its pores and winding are what wool usually has, and its time a guess."""
    words = cells.get("felt_mm", "")
    if not words:
        if wick is not None:
            raise CareError(
                f"Place {number} ({name[:40]}) has a height to wick and no size of its felt: give "
                "felt_mm, such as 30x10x5."
            )
        return None
    try:
        sizes = [float(one.replace(",", ".")) for one in words.lower().replace("×", "x").split("x")]
    except ValueError:
        sizes = []
    if len(sizes) != 3 or not all(0.2 <= one <= 500.0 for one in sizes):
        raise CareError(
            f"Place {number} ({name[:40]}) has a felt of '{words[:30]}': give its three sizes in "
            "mm, such as 30x10x5."
        )
    size = (sizes[0], sizes[1], sizes[2])
    return Felt(name, size, USUAL_POROSITY, wick, USUAL_PORE_UM, USUAL_WINDING)


USUAL_POROSITY: Final = 0.8
"""Of wool felt of middling density (1 - 0.26 / 1.3 g per mL); the plan's file may say otherwise."""
USUAL_PORE_UM: Final = 20.0
"""Radius of its pores: half the gaps of fibres 20 to 30 µm thick (a judgement)."""
USUAL_WINDING: Final = 2.0
"""How much longer the way through its fibres is: 1.5 to 3 is usual (a judgement)."""


_LONGEST_NAME: Final = 80
"""Letters of a place's name: two lines on the card."""


def _figure(
    where: str, column: str, words: str, low: float, high: float, whole: bool
) -> float | None:
    if not words:
        return None
    try:
        value = float(words.replace(",", "."))
    except ValueError:
        value = float("nan")
    if not low <= value <= high or (whole and value != int(value)):
        raise CareError(
            f"{where} has '{words[:30]}' under {column}: give a {'whole ' * whole}number from "
            f"{low:g} to {high:g}."
        )
    return value


def oiling_answer(found: OilingFound) -> Answer:
    """Tell what is due first, what a year's rule comes to, and the oil."""
    given = (found.asked.hours_per_week, found.asked.temperature)
    grade = grade_of((k for k in given if k is not None), Grade.CONJECTURED)
    days = list(zip(found.places, found.found.points, strict=True))
    days.sort(key=lambda one: (one[1].due, one[0].number))
    said = [
        *oiling_doubts(found),
        *due_in_words(found.found.points, [place.holds_ml for place in found.places]),
        _oil(found),
        *_felts_in_words(found),
    ]
    results = tuple(
        Result(
            name=f"{place.number} {place.point.name}, due", value=due.due.isoformat(), grade=grade
        )
        for place, due in days
    )
    rows = tuple(
        (
            str(place.number),
            place.point.name,
            place.point.kind or "not said",
            _drops(place.point, place.holds_ml),
            every_in_words(place.point),
            place.point.last,
            f"{due.due.isoformat()} (by {due.due_by})",
        )
        for place, due in zip(found.places, found.found.points, strict=True)
    )
    heads = ("No.", "Place", "What takes it", "Give", "Every", "Last oiled", "Due")
    figures = {
        **_oil_told(found),
        "felt": _felts_told(found),
        "points": [
            {
                "number": place.number,
                "name": place.point.name,
                "kind": place.kind or None,
                "drops": place.point.drops,
                "holds_ml": place.holds_ml,
                "due": due.due.isoformat(),
                "due_by": due.due_by,
                "at_px": None if place.at_px is None else list(place.at_px),
            }
            for place, due in zip(found.places, found.found.points, strict=True)
        ],
    }
    return Answer(results, tuple(said), figures, (Table("The places in order", heads, rows),))


def oiling_doubts(found: OilingFound) -> list[str]:
    """What makes it probable that a figure of a plan is not what it was meant to be."""
    said = []
    oil = found.plan.oil
    fine = drop_ul(DROP_TIPS_MM[-1], oil.density_kg_m3, oil.surface_tension_N_m) / 1000.0
    for place in found.places:
        given = place.point.drops * fine
        if place.holds_ml is not None and given > place.holds_ml:
            said.append(
                f"Place {place.number} ({place.point.name[:40]}) is given "
                f"{counted(place.point.drops, 'drop')}, {given:.2g} ml even from a fine oiler, and "
                f"holds {place.holds_ml:g} ml: it runs over. Was it measured in another unit?"
            )
    said += plan_doubts(found.plan)
    if found.asked.log.strip():
        # before all else: another book contradicts the table
        return [*log_doubts(found.found.points, found.asked.log), *said]
    return said


def _oil_told(found: OilingFound) -> dict[str, Any]:  # dict: figures of an answer, plain JSON
    """How thick the oil is, as `ironlace care oil` writes it; nulls when nothing was said of it."""
    viscosity = found.found.viscosity
    if not found.oil_told:
        return {"viscosity_mm2_s": None, "why": "nothing is said of the oil", "grade": None}
    value: Any = None
    if viscosity.mm2_s is not None:
        value = list(viscosity.mm2_s) if viscosity.is_range else viscosity.mm2_s[1]
    return {"viscosity_mm2_s": value, "why": viscosity.why or None, "grade": viscosity.grade}


def due_in_words(due: Sequence[PointDue], holds_ml: Sequence[float | None]) -> list[str]:
    """What is to be oiled first and when, and what could make the days wrong: of page and command.

    Places are numbered in their order; `holds_ml` is None for one that nobody measured.
    """
    soonest = min(one.due for one in due)
    first = "; ".join(
        f"{number} {one.point.name}, {_drops(one.point, held)}"
        for number, (one, held) in enumerate(zip(due, holds_ml, strict=True), 1)
        if one.due == soonest
    )
    return [f"Oil first: {first}. Due {soonest.isoformat()}.", _how_sure(due)]


def _drops(point: Point, holds_ml: float | None) -> str:
    filled = f", holds {holds_ml:g} ml" if holds_ml is not None else ""
    return counted(point.drops, "drop") + filled


def _felts(found: OilingFound) -> tuple[FeltFound, ...]:
    """What the felts hold and how fast they wick: no time where nothing is said of the oil."""
    if found.oil_told:
        return found.found.felts
    oil = found.plan.oil
    return tuple(
        felt_found(one, None, oil.density_kg_m3, oil.surface_tension_N_m) for one in found.plan.felt
    )


def _felts_in_words(found: OilingFound) -> list[str]:
    pairs = zip(found.plan.felt, _felts(found), strict=True)
    said = [felt_in_words(felt, one) for felt, one in pairs]
    if said:
        said.append(
            "The felts' pores and winding are taken as wool usually has them, so that their times "
            "are conjecture: stand a strip in the oil for ten minutes to know better."
        )
    return said


def _felts_told(found: OilingFound) -> list[dict[str, Any]]:  # dict: plain JSON
    """The felts as `ironlace care oil` writes them."""
    return [
        {
            "name": felt.name,
            "holds_ml": one.holds_ml,
            "drops": list(one.drops),
            "wick_s": None if one.wick_s is None else list(one.wick_s),
            "why": one.why or None,
        }
        for felt, one in zip(found.plan.felt, _felts(found), strict=True)
    ]


def _how_sure(due: Sequence[PointDue]) -> str:
    """What could make the days wrong."""
    by_hours = sum(one.due_by == "hours" for one in due)
    idle = [
        str(number)
        for number, one in enumerate(due, 1)
        if one.point.every_hours and not one.point.hours_per_week
    ]
    if idle:
        return (
            f"The hours of {counted(len(idle), 'place')} ({', '.join(idle)}) are not counted, "
            "since nobody said how much is sewn a week: those days are by the months alone."
        )
    if by_hours:
        return (
            f"By the hours sewn a week: {by_hours} of {counted(len(due), 'place')}. Sew "
            "more, and oil is due sooner. How often is a choice, not a finding."
        )
    return "All days are by the months. How often is a choice, not a finding."


def _oil(found: OilingFound) -> str:
    if not found.oil_told:
        which = f"Oil: {found.asked.oil}." if found.asked.oil else "Which oil is not said."
        return f"{which} Nothing is told of how thick it is."
    return oil_in_words(found.plan.oil, found.found.viscosity)


OILING = Analysis(
    key="oiling",
    about="oiling plan",
    question="Where does it want oil, and when next?",
    section="care",
    inputs=Nothing,
    asked=OilingAsked,
    work=oiling,
    answer=oiling_answer,
    method="ironlace.care: months or hours of sewing, whichever is first",
    published="ASTM D341 and ISO 3448 for the oil; how often is the restorer's choice",
    hazards=("running parts",),
)
