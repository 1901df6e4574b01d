"""What touches the machine: what lies between, how it comes off, what it leaves.

Nothing is assumed: a thing of which that is not said is named as missing, and a screw that was not
there before is named before anything else.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Final

from ironlace.evidence.analyses import Analysis, Ask
from ironlace.evidence.answers import Answer, Table
from ironlace.evidence.findings import Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.evidence.word_tables import WordTableError, rows_of_words, words_of_rows
from ironlace.evidence.wording import counted
from ironlace.stand.errors import StandError

COLUMNS: Final = ("thing", "between", "comes_off", "leaves", "screws", "x_px", "y_px")
"""Of the table of things; the last two say where it is numbered on a photograph."""
SCREWS: Final = ("none", "were there", "new")
"""What may stand under screws; empty where it is not said."""
MOST_THINGS: Final = 60
"""More than touches any machine (a judgement)."""
_LONGEST: Final = 200
"""Letters of a cell."""
_MOST_PX: Final = 100_000.0
"""Of a photograph (a judgement)."""


@dataclass(frozen=True)
class FittedThing:
    """Something that a record says was made for the machine, or fitted to it.

    Attributes
    ----------
    thing
        What it is called.
    source
        Name of the entry that tells of it.
    comes_off
        How it comes off, where that entry says so.
    """

    thing: str
    source: str
    comes_off: str = ""


@dataclass(frozen=True)
class FittedThings:
    """All that a record tells of, in its order."""

    things: tuple[FittedThing, ...] = ()


@dataclass(frozen=True)
class TouchesAsked:
    """What is asked for the list: what a person knows of each thing."""

    things: Annotated[
        str,
        Ask(
            "What touches the machine",
            "A line each: thing,between,comes_off,leaves,screws. Under screws: none, were there, "
            "or new. What the record tells of (base, crank, belt, fittings) is added by itself.",
            long=True,
            table=True,
            example="thing,between,comes_off,leaves,screws\n"
            "base,felt 2 mm all round,lift the head off,nothing,none\n"
            "belt,,open the staple,nothing,none",
        ),
    ]
    photograph: Annotated[
        str, Ask("Photograph they are numbered on", names="photograph", more=True)
    ] = ""


@dataclass(frozen=True)
class TouchingThing:
    """One thing of the list; `missing` names what is not said of it.

    `at_px` is where it is numbered on the photograph, None where nobody pointed at it.
    """

    thing: str
    between: str
    comes_off: str
    leaves: str
    screws: str
    source: str
    at_px: tuple[float, float] | None = None

    @property
    def missing(self) -> tuple[str, ...]:
        """What is not said, in words."""
        told = {
            "what lies between": self.between,
            "how it comes off": self.comes_off,
            "what it leaves": self.leaves,
            "which screws hold it": self.screws,
        }
        return tuple(words for words, value in told.items() if not value)


@dataclass(frozen=True)
class Touches:
    """The whole list."""

    asked: TouchesAsked
    things: tuple[TouchingThing, ...]


def touches(inputs: FittedThings, asked: TouchesAsked, _steps: Steps) -> Touches:
    """Join what the record tells of with what a person says of each.

    Raises
    ------
    StandError
        When the table cannot be read, or names a thing twice.
    """
    rows = rows_of_things(asked.things)
    if len(rows) > MOST_THINGS:
        raise StandError(f"The table has {len(rows)} things: give at most {MOST_THINGS}.")
    told: dict[str, dict[str, str]] = {}
    for number, row in enumerate(rows, 1):
        _check(number, row)
        if told.setdefault(row["thing"].casefold(), row) is not row:
            raise StandError(f"'{row['thing'][:40]}' is there twice: tell the two apart.")
    known = {one.thing.casefold(): one for one in inputs.things}
    things = []
    for name, row in told.items():
        one = known.pop(name, None)
        if one is None:
            things.append(_thing(row["thing"], row, ""))
        else:
            things.append(_thing(one.thing, {"comes_off": one.comes_off, **_said(row)}, one.source))
    things += [
        _thing(one.thing, {"comes_off": one.comes_off}, one.source) for one in known.values()
    ]
    if not things:
        raise StandError("No thing is named: write one a line under thing,between,comes_off.")
    return Touches(asked, tuple(things))


def _said(row: Mapping[str, str]) -> dict[str, str]:
    return {name: value for name, value in row.items() if value}


def _thing(name: str, row: Mapping[str, str], source: str) -> TouchingThing:
    return TouchingThing(
        name,
        row.get("between", ""),
        row.get("comes_off", ""),
        row.get("leaves", ""),
        row.get("screws", "").casefold(),
        source,
        _place(row),
    )


def _place(row: Mapping[str, str]) -> tuple[float, float] | None:
    """Where it is on the photograph; raises StandError for half a place, or none that can be."""
    typed = [row.get(name, "").replace(",", ".") for name in ("x_px", "y_px")]
    if not any(typed):
        return None
    try:
        x, y = (float(one) for one in typed)
    except ValueError:
        x = y = -1.0
    if not (0.0 <= x <= _MOST_PX and 0.0 <= y <= _MOST_PX):
        where = ", ".join(one[:12] or "?" for one in typed)
        raise StandError(
            f"'{row.get('thing', '')[:40]}' lies at {where}: give both pixels, from the "
            "left and from the top, or neither."
        )
    return x, y


def rows_of_things(table: str) -> list[dict[str, str]]:
    """The rows of a table of things as they were written; raises StandError where it cannot be."""
    try:
        return rows_of_words(table, COLUMNS, ("thing",), ("thing", "things"))
    except WordTableError as error:
        raise StandError(str(error)) from error


def table_of_things(rows: Iterable[Mapping[str, str]]) -> str:
    """The table that `rows_of_things` reads again."""
    return words_of_rows(rows, COLUMNS)


def _check(number: int, row: Mapping[str, str]) -> None:
    if not row.get("thing"):
        raise StandError(f"Thing {number} has no name: say what touches the machine.")
    if max(len(cell) for cell in row.values()) > _LONGEST:
        raise StandError(f"Thing {number} has a cell of over {_LONGEST} letters: say it shorter.")
    if row.get("screws", "").casefold() not in ("", *SCREWS):
        raise StandError(
            f"'{row['thing'][:40]}' has '{row['screws'][:30]}' under screws: write none, were "
            "there, or new."
        )


def touches_answer(found: Touches) -> Answer:
    """Tell a new screw first, then what is missing, then the list."""
    things = found.things
    new = [one for one in things if one.screws == "new"]
    open_ = [one for one in things if one.missing]
    said = [
        f"'{one.thing}' is held by a screw that was not there before: use one of the machine's "
        "own, or hold it otherwise."
        for one in new
    ]
    if open_:
        they = "it comes" if len(open_) == 1 else "they come"
        said.append(
            f"{counted(len(things), 'thing')} "
            f"{'touches' if len(things) == 1 else 'touch'} the machine; of {len(open_)} it is not "
            f"known whether {they} off without a trace."
        )
        said += [f"Missing of '{one.thing}': {', '.join(one.missing)}." for one in open_]
    else:
        said.append(
            f"{counted(len(things), 'thing')} {'touches' if len(things) == 1 else 'touch'} the "
            "machine, and each is told: what lies between, how it comes off, what it leaves."
        )
    if not new and not any(one.screws == "" for one in things):
        said.append("Every screw used was already there.")
    rows = tuple(
        tuple(
            value or "not said" for value in (o.thing, o.between, o.comes_off, o.leaves, o.screws)
        )
        for o in things
    )
    heads = ("Thing", "What lies between", "How it comes off", "What it leaves", "Screws")
    results = (
        Result(name="things not wholly told", value=len(open_), grade=Grade.CONJECTURED),
        *(
            Result(
                name=f"{number} {one.thing}"[:80],
                value=_in_brief(one),
                grade=Grade.CONJECTURED,
            )
            for number, one in enumerate(things, 1)
        ),
    )
    figures: dict[str, Any] = {
        "things": [
            {
                **{name: getattr(one, name) or None for name in COLUMNS[:5]},
                "at_px": None if one.at_px is None else list(one.at_px),
                "source": one.source or None,
                "missing": list(one.missing),
            }
            for one in things
        ]
    }
    return Answer(results, tuple(said), figures, (Table("What touches it", heads, rows),))


def _in_brief(one: TouchingThing) -> str:
    told = [
        f"between: {one.between or 'not said'}",
        f"comes off: {one.comes_off or 'not said'}",
        f"leaves: {one.leaves or 'not said'}",
    ]
    if one.screws != "none":
        told.append(f"screws: {one.screws or 'not said'}")
    return "; ".join(told)


TOUCHES = Analysis(
    key="touches",
    about="what touches the machine",
    question="What touches the machine, and how does it come off?",
    section="stand",
    inputs=FittedThings,
    asked=TouchesAsked,
    work=touches,
    answer=touches_answer,
    method="ironlace.stand: what the record tells of, and what was said of each",
    published="common practice of conservation: re-treatable and documented",
)
