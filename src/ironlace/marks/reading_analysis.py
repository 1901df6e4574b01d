"""What is struck in a worn plate, read off its relief beside a person's own reading.

The declared analysis: no answer comes of it before an own reading is there, or is waived in words.
What takes long to load is loaded when it is worked out.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Annotated

from ironlace.evidence.analyses import Analysis, Ask, AskedError
from ironlace.evidence.answers import Answer, MadeFile, Table
from ironlace.evidence.findings import Finding, Interval, Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.marks.same_results import same_by_name

if TYPE_CHECKING:
    from ironlace.marks.reading.learned import Learned
    from ironlace.marks.reading.own_reading import Compared, OwnReading
    from ironlace.marks.reading.read_marks import DigitRead, GapRead
    from ironlace.marks.reading.read_marks import Interval as ReadInterval
    from ironlace.marks.reading.reading_told import Found
    from ironlace.marks.reading.relief_slopes import ReliefSlopes

_SEED = 13
"""Places without marks are drawn by it: the same reading twice gives the same figures."""
_TOLD_GLYPHS = 4
"""Glyphs told of a place, the likeliest first."""
STRINGS = ", likeliest strings"
FOR_SURVEY = ", strings by the metal alone"
DOUBTS = ", with its doubts"
READ_OFF = "Read off the relief: "
"""What follows what a person should know first."""
_SAME = 0.02
"""Chances that agree so closely are the same: relief and network differ by less between computers
(judged)."""


@dataclass(frozen=True)
class ReliefToRead:
    """A relief with its scale and the doubt of its steepness; no scale, no `scale_known`.

    `doubt` is the worst that was said of it, where it is to be doubted; else empty.
    """

    slopes: ReliefSlopes
    scale_known: bool
    slope_gain: ReadInterval | None
    doubt: str = ""


@dataclass(frozen=True)
class PlateToRead:
    """What a reading is made from.

    Attributes
    ----------
    relief
        Gives the plate's relief, a digit's height in pixels given or None; made again where it is
        not at hand, which takes long.
    learned
        What the judges learned.
    own
        A person's readings, one for each row from the top.
    """

    relief: Callable[[float | None, Steps], ReliefToRead]
    learned: Callable[[], Learned]
    own: tuple[OwnReading, ...]


@dataclass(frozen=True)
class MarkReadingAsked:
    """What is asked for a reading."""

    plate: Annotated[str, Ask("Plate", names="finding", pointed=True)]
    own: Annotated[
        tuple[str, ...], Ask("Your own reading, a mark for each row", names="mark", pointed=True)
    ] = ()
    waived: Annotated[
        bool,
        Ask("I give no reading of my own, and know that none can be independent any more"),
    ] = False
    places: Annotated[
        str,
        Ask(
            "Where digits and gaps are",
            "A table with the columns kind,row,index,x_px,y_px,height_px; left empty, they are "
            "searched.",
            long=True,
            more=True,
        ),
    ] = ""
    base_rate: Annotated[
        float | None,
        Ask(
            "Share of gaps that hold a struck dot, on plates like this",
            "Left empty, the plate's own gaps tell, which they do only roughly.",
            low=0.01,
            high=0.99,
            example="0.3",
            more=True,
        ),
    ] = None

    def __post_init__(self) -> None:
        if not self.own and not self.waived:
            raise AskedError(
                "Write your own reading first, or say that you give none: once the answer was "
                "seen, no reading is independent of it.",
                "own",
            )


@dataclass(frozen=True)
class MarkReadingFound:
    """A reading, and a person's beside it; `compared` is None where that was waived."""

    found: Found
    own: tuple[OwnReading, ...]
    compared: Compared | None


def mark_reading(inputs: PlateToRead, asked: MarkReadingAsked, steps: Steps) -> MarkReadingFound:
    """Read a plate's relief.

    Raises MarksError when the places cannot be used, or none are found.
    """
    import numpy as np

    from ironlace.marks.reading.own_reading import compared
    from ironlace.marks.reading.places import found_places, read_places
    from ironlace.marks.reading.read_marks import read_marks
    from ironlace.marks.reading.reading_told import USUAL_DIGIT_MM, Found, digit_px_in

    relief = inputs.relief(digit_px_in(asked.places), steps)
    rows, columns = relief.slopes.slopes.shape[1:]
    steps("looking for the marks", 0.85)
    if asked.places.strip():
        places = read_places(asked.places, (int(rows), int(columns)))
    else:
        places = found_places(relief.slopes, USUAL_DIGIT_MM, np.random.default_rng(_SEED))
    steps("reading the marks", 0.9)
    read = read_marks(
        relief.slopes,
        places,
        inputs.learned(),
        np.random.default_rng(_SEED),
        base_rate=asked.base_rate,
        slope_gain=relief.slope_gain,
    ).of_a_relief(relief.doubt)
    found = Found(read, "a relief", relief.scale_known, not asked.places.strip())
    return MarkReadingFound(found, inputs.own, compared(inputs.own, read) if inputs.own else None)


def reading_answer(found: MarkReadingFound) -> Answer:
    """Tell a reading: every row with its doubts, how far both readers agree, each place."""
    told, read = found.found, found.found.read
    results = [
        Result(
            name=f"{_row(row.row)}{DOUBTS}",
            value=told.mark_of(row.row),
            grade=Grade.INFERRED,
        )
        for row in read.strings
    ]
    results += [
        Result(name=f"{_row(row.row)}{STRINGS}", value=told.strings_of(row), grade=Grade.INFERRED)
        for row in read.strings
    ]
    results += [
        Result(
            name=f"{_row(row.row)}{FOR_SURVEY}",
            value=told.for_the_survey(row),
            grade=Grade.INFERRED,
        )
        for row in read.strings
    ]
    results += _agreed(found.compared)
    wear = read.plate.wear
    results.append(
        Result(
            name="share of the marks' depth worn away",
            value=round(wear.value, 3),
            interval=Interval(low=round(wear.low, 3), high=round(wear.high, 3), coverage=0.9),
            grade=Grade.INFERRED,
        )
    )
    results += [_digit_result(d) for d in read.digits]
    results += [_gap_result(g) for g in read.gaps]
    marks = " and ".join(told.mark_of(row.row) for row in read.strings)
    return Answer(
        tuple(results),
        (
            _shortly(found),
            f"{READ_OFF}{marks}; no single string is preferred.",
            *_own_sentences(found),
            *told.sentences()[len(read.remarks) :],
        ),
        figures=told.as_dict(),
        tables=(_strings(told),),
        files=(
            MadeFile(
                "rows.csv",
                "text/csv",
                "The rows with their doubts, as a table for the survey",
                partial(_csv, told),
            ),
        ),
    )


def _shortly(found: MarkReadingFound) -> str:
    from ironlace.marks.reading.own_reading import DOT_SURE, NO_DOT

    read = found.found.read
    rows = len(read.strings)
    digits = sum(max(d.p.values()) < DOT_SURE for d in read.digits)
    gaps = sum(NO_DOT <= g.p_struck <= DOT_SURE for g in read.gaps)
    counted = (
        f"{rows} {'row' if rows == 1 else 'rows'} read, {digits} of {len(read.digits)} digits and "
        f"{gaps} of {len(read.gaps)} gaps in doubt."
    )
    # what a person must know before any chance stands first here too, as the command tells it
    return " ".join((*read.remarks, counted))


def _agreed(compared: Compared | None) -> list[Result]:
    if compared is None or compared.agreement is None:
        return []
    found = compared.agreement
    said = [
        Result(
            name=f"read alike, of {found.n} places that both tell",
            value=round(100 * found.agree, 2),
            unit="%",
            grade=Grade.INFERRED,
        )
    ]
    if found.kappa is not None and found.low is not None and found.high is not None:
        said.append(
            Result(
                name="agreement beyond chance (Cohen's kappa)",
                value=round(found.kappa, 4),
                interval=Interval(
                    low=round(found.low, 4), high=round(found.high, 4), coverage=0.95
                ),
                grade=Grade.INFERRED,
            )
        )
    return said


def _own_sentences(found: MarkReadingFound) -> list[str]:
    if found.compared is None:
        return ["No own reading was made, so nothing stands beside this one."]
    marks = " and ".join(
        f"{one.marking} ({one.name}{f', {one.read_by}' if one.read_by else ''})"
        for one in found.own
    )
    before = all(one.independent for one in found.own)
    said = [
        f"Read by eye, {'before' if before else 'but changed or made after'} this answer was "
        f"shown: {marks}."
    ]
    if not before:
        said.append("So the two readings are not independent, and their agreement proves little.")
    compared = found.compared
    if compared.agreement is None:
        return [*said, compared.says]
    both = compared.agreement
    words = f"Of {both.n} places that both tell, {both.agree:.0%} are read alike"
    if both.kappa is not None:
        words += f"; kappa {both.kappa:.2f}, {both.low:.2f} to {both.high:.2f} (95 %)"
    left = f"; {compared.untold} are left open by one of them" if compared.untold else ""
    return [*said, f"{words}{left}."]


def _digit_result(digit: DigitRead) -> Result:
    best = sorted(digit.p.items(), key=lambda one: -one[1])[:_TOLD_GLYPHS]
    told = ", ".join(f"{glyph} {_chance(p)}" for glyph, p in best if p >= _SAME / 2)
    name = place_name("digit", digit.place.row, digit.place.index)
    return Result(name=name, value=told, grade=Grade.INFERRED)


def _chance(p: float) -> str:
    """A chance in two places, of which none is told as certain.

    >>> _chance(0.998), _chance(0.561), _chance(0.001)
    ('over 0.99', '0.56', 'under 0.01')
    """
    return "over 0.99" if p > 0.99 else "under 0.01" if p < 0.01 else f"{p:.2f}"


def _gap_result(gap: GapRead) -> Result:
    from ironlace.marks.reading.own_reading import DOT_SURE, NO_DOT

    p = gap.p_struck
    words = "struck" if p > DOT_SURE else "no dot" if p < NO_DOT else "cannot be told from a pit"
    return Result(
        name=place_name("gap", gap.place.row, gap.place.index),
        value=f"dot {_chance(p)}: {words}",
        grade=Grade.INFERRED,
    )


def _strings(told: Found) -> Table:
    rows = [
        (str(row.row + 1), hypothesis.text, f"{100 * hypothesis.p:.1f} %")
        for row in told.read.strings
        for hypothesis in row.hypotheses[:12]
    ]
    return Table(
        "The likeliest strings, a point for a struck dot",
        ("Row from the top", "String", "Chance"),
        tuple(rows),
    )


def _csv(told: Found) -> bytes:
    return told.report_csv().encode("utf-8")


_EARLIER = re.compile(r"row (\d+), (?:(digit|gap after digit) (\d+)|(.+))")
"""A result's name by an earlier version, which counted rows and places from 0 as files do."""


def _row(row: int) -> str:
    return f"row {row + 1} from the top"


def place_name(kind: str, row: int, index: int) -> str:
    """Name a place as a person counts; row and index count from 0.

    >>> place_name("digit", 0, 2), place_name("gap", 1, 0)
    ('row 1 from the top, digit 3', 'row 2 from the top, gap after digit 1')
    """
    return f"{_row(row)}, {'gap after digit' if kind == 'gap' else 'digit'} {index + 1}"


def as_counted(name: str) -> str:
    """Give the name of a reading's result as it is now, also where an earlier version kept it.

    >>> as_counted("row 0, digit 2"), as_counted("row 0, likeliest strings")
    ('row 1 from the top, digit 3', 'row 1 from the top, likeliest strings')
    >>> as_counted("row 1 from the top, digit 3")
    'row 1 from the top, digit 3'
    """
    earlier = _EARLIER.fullmatch(name)
    if earlier is None:
        return name
    row, kind, index, rest = earlier.groups()
    if kind:
        return place_name("digit" if kind == "digit" else "gap", int(row), int(index))
    return f"{_row(int(row))}, {rest}"


def same_reading(kept: Finding, again: Finding) -> str:
    """Compare two readings; empty when they agree within what computers differ by.

    The strings are not compared: they follow from the places' chances, which are, change places
    among each other where two are all but alike, and were not kept by earlier versions.
    """
    return same_by_name(_without_strings(kept), _without_strings(again), _alike, "places")


def _without_strings(finding: Finding) -> Finding:
    left = tuple(
        one.model_copy(update={"name": as_counted(one.name)})
        for one in finding.results
        if not one.name.endswith((STRINGS, FOR_SURVEY))
    )
    return finding.model_copy(update={"results": left})


def _alike(one: object, other: object) -> bool:
    if isinstance(one, int | float) and isinstance(other, int | float):
        return abs(one - other) <= _SAME * max(1.0, abs(one))
    words = (str(one).replace(",", " ").split(), str(other).replace(",", " ").split())
    if len(words[0]) != len(words[1]):
        return one == other
    return all(a == b or _near(a, b) for a, b in zip(*words, strict=True))


def _near(one: str, other: str) -> bool:
    try:
        return abs(float(one.rstrip(":")) - float(other.rstrip(":"))) <= _SAME
    except ValueError:
        return False


def _long(_inputs: PlateToRead, _asked: MarkReadingAsked) -> bool:
    return True


def _plate(asked: MarkReadingAsked) -> str:
    return asked.plate


MARK_READING = Analysis(
    key="mark-reading",
    about="reading of a struck plate",
    question="What is struck in the worn metal?",
    section="marks",
    inputs=PlateToRead,
    asked=MarkReadingAsked,
    work=mark_reading,
    answer=reading_answer,
    method="likelihood of strikes laid on the relief, bowls judged beside the plate's own pits",
    published="Cohen, 1960; Fleiss, Cohen and Everitt, 1969",
    same=same_reading,
    takes_long=_long,
    subject=_plate,
)
