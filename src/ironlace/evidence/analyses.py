"""An analysis, declared once.

A study room lists its analyses. From each declaration follow the finding that is kept, the page
with its form, the command, the section of the account, the step of the job, the computing again
and the tests that go over all of them; nothing else names an analysis.

>>> from dataclasses import dataclass
>>> @dataclass(frozen=True)
... class Two:
...     gap: Annotated[float, Ask("Gap", unit="mm", low=0.0, high=10.0)]
>>> asked_from(Two, {"gap": "1/4 in"})
Two(gap=6.35)
"""

import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import MISSING, dataclass, fields, is_dataclass, replace
from types import NoneType, UnionType
from typing import (
    Annotated,
    Any,
    Generic,
    Literal,
    TypeVar,
    Union,
    get_args,
    get_origin,
    get_type_hints,
)

from pydantic import TypeAdapter, ValidationError

from ironlace.evidence.answers import Answer
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.findings import Finding, Method, Result, Sha256
from ironlace.evidence.grades import Grade, weakest
from ironlace.evidence.progress import Steps
from ironlace.evidence.quantities import Measured, QuantityError, parse_measured
from ironlace.evidence.reading_tables import (
    ReadingsAsWritten,
    heading,
    number_of,
    read_readings,
)

Inputs = TypeVar("Inputs")
Asked = TypeVar("Asked")
Found = TypeVar("Found")


class AskedError(IronlaceError):
    """A value that an analysis asks for is missing or cannot be; `field` is its name."""

    def __init__(self, says: str, field: str = "") -> None:
        super().__init__(says)
        self.field = field


@dataclass(frozen=True, slots=True)
class Ask:
    """How a person is asked for one value; goes beside its type in `Annotated`.

    Attributes
    ----------
    words
        What it is called, in the words of the trade: label, and subject of every refusal.
    help
        What to know before answering.
    unit
        Unit of a number, taken when none is written; others that measure the same are converted.
    low, high
        The least and greatest value that can be, in `unit`.
    example
        An answer as it may be written.
    choices
        For a `Literal`: the words of each value.
    names
        Kind of entry whose name is the answer, such as ``"drawing"``.
    long
        Whether it is a text of several lines.
    table
        Whether that text is a table: a command reads it from CSV, TSV or XLSX.
    more
        Whether it is shown on request only.
    pointed
        Whether it is set on a picture by a page of its own: no form or command asks for it.
    columns
        For a `KnownTable`: the name and unit of each column it must have; empty for no unit.
    usual
        The least and greatest value that such machines have, in `unit`: outside it the figure is
        doubted before the answer (`doubtful_figures`), and not refused.
    usual_cells
        The same of the columns of a table, typed or pasted, by heading.
    """

    words: str
    help: str = ""
    unit: str = ""
    low: float | None = None
    high: float | None = None
    example: str = ""
    choices: Mapping[str, str] | None = None
    names: str = ""
    long: bool = False
    table: bool = False
    more: bool = False
    pointed: bool = False
    columns: Mapping[str, str] | None = None
    usual: tuple[float, float] | None = None
    usual_cells: Mapping[str, tuple[float, float]] | None = None


@dataclass(frozen=True, slots=True)
class Known:
    """A quantity as it is given to an analysis, with what is known of it.

    Attributes
    ----------
    value, error, unit
        As in `Measured`; `error` is one standard uncertainty, None when none was stated.
    grade
        That of the measurement it was taken from. A value typed in with nothing to vouch for it
        is conjectured until it is entered as a measurement.
    source
        Name of the entry it was taken from, empty when it was typed in.
    checksum
        Of that entry, so that a later change of it is noticed.
    """

    value: float
    error: float | None
    unit: str
    grade: Grade = Grade.CONJECTURED
    source: str = ""
    checksum: str = ""

    def __str__(self) -> str:
        words = str(Measured(self.value, self.unit, self.error))
        return f"{words} ({self.source})" if self.source else words


@dataclass(frozen=True, slots=True)
class KnownColumn:
    """A column of readings: name, unit, its numbers (None for a gap), their standard uncertainty.

    `error` is None when none was stated.
    """

    name: str
    unit: str
    values: tuple[float | None, ...]
    error: float | None = None


@dataclass(frozen=True, slots=True)
class KnownTable:
    """A table of readings as it is given to an analysis: the columns it asks for, in their order.

    Attributes
    ----------
    columns
        In the units asked for, all equally long.
    grade, source, checksum
        As in `Known`: those of the entry; conjectured and empty where the table was typed in.
    """

    columns: tuple[KnownColumn, ...]
    grade: Grade = Grade.CONJECTURED
    source: str = ""
    checksum: str = ""

    def __str__(self) -> str:
        rows = len(self.columns[0].values) if self.columns else 0
        words = f"{rows} rows of {', '.join(column.name for column in self.columns)}"
        return f"{words} ({self.source})" if self.source else words

    def column(self, name: str) -> KnownColumn:
        """The column of a name; raises KeyError when the analysis did not ask for it."""
        for one in self.columns:
            if one.name == name:
                return one
        raise KeyError(name)


LookUp = Callable[[str], "Known | KnownTable"]
"""Finds what of the record has a name such as ``measurement 3``, or ``readings 3``."""


@dataclass(frozen=True, slots=True)
class Nothing:
    """No inputs but what is asked for; or nothing asked for."""


@dataclass(frozen=True, slots=True)
class AskedField:
    """One value that an analysis asks for, as its dataclass declares it."""

    name: str
    kind: type
    ask: Ask
    optional: bool
    default: Any
    options: tuple[str, ...] = ()

    @property
    def required(self) -> bool:
        """Whether it must be given."""
        return self.default is MISSING and not self.optional

    def words_of(self, value: str) -> str:
        """What one of its options is called."""
        return (self.ask.choices or {}).get(value, value)

    def as_typed(self, value: Any) -> str:
        """A value as a form shows it and as it may be typed back."""
        if value is None or value is MISSING:
            return ""
        if isinstance(value, bool):
            return "yes" if value else ""
        if isinstance(value, Known):
            return value.source or str(Measured(value.value, value.unit, value.error))
        if isinstance(value, KnownTable):
            return value.source or _as_pasted(value)
        if isinstance(value, float):
            return f"{value:.10g}"
        return str(value)


def typed_of(asked: Any) -> dict[str, str]:
    """What was asked, by the name of its field, as a form or a command would be given it."""
    return {one.name: one.as_typed(getattr(asked, one.name)) for one in asked_fields(type(asked))}


def asked_fields(kind: type) -> Iterator[AskedField]:
    """The values that a dataclass asks for, in order; `pointed` ones among them."""
    hints = get_type_hints(kind, include_extras=True)
    for one in fields(kind):
        hint, ask = hints[one.name], None
        if get_origin(hint) is Annotated:
            hint, *marks = get_args(hint)
            ask = next((mark for mark in marks if isinstance(mark, Ask)), None)
        if ask is None:
            raise TypeError(f"{kind.__name__}.{one.name} needs an Ask beside its type")
        optional = False
        if get_origin(hint) in (Union, UnionType):
            parts = [part for part in get_args(hint) if part is not NoneType]
            optional, hint = True, parts[0] if len(parts) == 1 else hint
        options: tuple[str, ...] = ()
        if get_origin(hint) is Literal:
            options, hint = tuple(str(value) for value in get_args(hint)), str
        default: Any = one.default
        if default is MISSING and callable(one.default_factory):
            default = one.default_factory()
        yield AskedField(one.name, hint, ask, optional, default, options)


def asked_from(kind: type[Asked], given: Mapping[str, Any], look_up: LookUp | None = None) -> Asked:
    """Read what a person, a file or an earlier finding gives for the values asked for.

    Parameters
    ----------
    given
        By field name: text as typed (numbers with or without unit, fractions of an inch, a
        quantity with ± its error, the name of a measurement), or plain JSON values.
    look_up
        Finds a measurement by its name; left out, quantities can only be typed.

    Raises
    ------
    AskedError
        When one is missing, unknown, cannot be read or lies outside its bounds.
    """
    known = {one.name: one for one in asked_fields(kind)}
    strange = [name for name in given if name not in known]
    if strange:
        raise AskedError(
            f"'{strange[0][:40]}' is not asked for here: give {', '.join(known) or 'nothing'}.",
            strange[0],
        )
    values: dict[str, Any] = {}
    for name, one in known.items():
        value = given.get(name)
        if value is None or (isinstance(value, str) and not value.strip()):
            if one.kind is bool and name in given:
                values[name] = False
            elif one.required:
                raise AskedError(f"'{one.ask.words}' is missing: fill it in.", name)
            continue
        values[name] = _read(one, value, look_up)
    try:
        made: Asked = _adapter(kind).validate_python(values)
    except ValidationError as error:
        fault = error.errors(include_url=False)[0]
        name = str(fault["loc"][0]) if fault["loc"] else ""
        words = known[name].ask.words if name in known else "What was asked"
        says = fault["msg"].removeprefix("Value error, ")
        raise AskedError(f"'{words}': {says[:1].lower()}{says[1:].rstrip('.')}.", name) from error
    for name, one in known.items():
        _check_bounds(one, getattr(made, name))
    return made


def asked_as_dict(asked: Any) -> dict[str, Any]:  # dict: plain JSON of any dataclass
    """What was asked as plain JSON values, as it stands in a finding; `asked_from` reads it."""
    if not is_dataclass(asked) or isinstance(asked, type):
        raise TypeError(f"{asked!r} is no dataclass")
    plain: dict[str, Any] = _adapter(type(asked)).dump_python(asked, mode="json")
    return plain


_ADAPTERS: dict[type, TypeAdapter[Any]] = {}


def _adapter(kind: type) -> TypeAdapter[Any]:
    if kind not in _ADAPTERS:
        _ADAPTERS[kind] = TypeAdapter(kind)
    return _ADAPTERS[kind]


def _read(one: AskedField, value: Any, look_up: LookUp | None) -> Any:
    """One value out of text; what is no text is left to the type."""
    if not isinstance(value, str):
        return value
    text = value.strip()
    if one.options:
        if text not in one.options:
            raise AskedError(
                f"'{text[:40]}' is no choice for '{one.ask.words}': use one of "
                f"{', '.join(one.options)}.",
                one.name,
            )
        return text
    if one.kind is str:
        return value if one.ask.long else text
    if one.kind is bool:
        return text.lower() in ("yes", "true", "on", "1")
    if one.kind is Known:
        return _known(one, text, look_up)
    if one.kind is KnownTable:
        return _known_table(one, text, look_up)
    if one.kind is float and one.ask.unit:
        return _quantity(one, text).value
    if one.kind in (int, float):
        try:
            return one.kind(text.replace(",", ".") if one.kind is float else text)
        except ValueError as error:
            raise AskedError(
                f"'{text[:40]}' for '{one.ask.words}' is not a number: "
                f"write it like {one.ask.example or '12'}.",
                one.name,
            ) from error
    return value


def _known(one: AskedField, text: str, look_up: LookUp | None) -> Known:
    if look_up is not None and text.lower().startswith("measurement "):
        try:
            found = look_up(text.lower())
        except IronlaceError as error:
            raise AskedError(f"'{one.ask.words}': {error}", one.name) from error
        if not isinstance(found, Known):
            raise AskedError(f"'{one.ask.words}': {text} is no single reading.", one.name)
        quantity = _in_unit(one, Measured(found.value, found.unit, found.error), text)
        return Known(
            quantity.value, quantity.error, quantity.unit, found.grade, found.source, found.checksum
        )
    quantity = _quantity(one, text)
    return Known(quantity.value, quantity.error, quantity.unit)


def _known_table(one: AskedField, text: str, look_up: LookUp | None) -> KnownTable:
    """A table of readings by its name, or as it was pasted."""
    try:
        if look_up is not None and re.fullmatch(r"readings \d+", text.lower()):
            found = look_up(text.lower())
        else:
            found = KnownTable(_columns_of(read_readings(text)))
    except IronlaceError as error:
        raise AskedError(f"'{one.ask.words}': {error}", one.name) from error
    if not isinstance(found, KnownTable):
        raise AskedError(f"'{one.ask.words}': {text} is no table of readings.", one.name)
    wanted = (one.ask.columns or {}).items()
    columns = tuple(_wanted_column(one, found, name, unit) for name, unit in wanted)
    return replace(found, columns=columns or found.columns)


def _columns_of(read: ReadingsAsWritten) -> tuple[KnownColumn, ...]:
    return tuple(
        KnownColumn(name, unit, tuple(number_of(row[at]) for row in read.rows))
        for at, (name, unit) in enumerate(read.columns)
    )


def _wanted_column(one: AskedField, found: KnownTable, name: str, unit: str) -> KnownColumn:
    """The column so called, or the one whose heading holds that word, in the unit asked for."""
    called = [c for c in found.columns if c.name.casefold() == name.casefold()]
    word = re.compile(rf"\b{re.escape(name)}\b", re.IGNORECASE)
    likely = called or [c for c in found.columns if word.search(c.name) and _fits(c.unit, unit)]
    asked = f"{name} [{unit}]" if unit else name
    has = ", ".join(f"{c.name} [{c.unit}]" if c.unit else c.name for c in found.columns)
    if len(likely) != 1:
        raise AskedError(
            f"'{one.ask.words}' needs {'one' if likely else 'a'} column {asked}, and the table has "
            f"{has}: name the column so.",
            one.name,
        )
    column = likely[0]
    if not _fits(column.unit, unit):
        raise AskedError(
            f"'{one.ask.words}' needs the column {asked}, and the table has {has}: say its unit.",
            one.name,
        )
    if column.unit == unit:
        return replace(column, name=name)
    values = tuple(
        None if value is None else Measured(value, column.unit).to(unit).value
        for value in column.values
    )
    error = column.error
    if error is not None:
        error = Measured(0.0, column.unit, error).to(unit).error
    return KnownColumn(name, unit, values, error)


def _fits(unit: str, wanted: str) -> bool:
    if not (unit and wanted):
        return unit == wanted
    try:
        Measured(1.0, unit).to(wanted)
    except QuantityError:
        return False
    return True


def _as_pasted(table: KnownTable) -> str:
    lines = ["\t".join(heading(c.name, c.unit) for c in table.columns)]
    rows = zip(*(column.values for column in table.columns), strict=True)
    lines += ["\t".join("" if v is None else f"{v:.10g}" for v in row) for row in rows]
    return "\n".join(lines)


def _quantity(one: AskedField, text: str) -> Measured:
    try:
        return _in_unit(one, parse_measured(text, one.ask.unit), text)
    except QuantityError as error:
        raise AskedError(f"'{one.ask.words}': {error}", one.name) from error


def _in_unit(one: AskedField, quantity: Measured, text: str) -> Measured:
    try:
        return quantity.to(one.ask.unit)
    except QuantityError as error:
        raise AskedError(
            f"'{one.ask.words}' is asked for in {one.ask.unit}, and '{text}' measures something "
            "else: give another.",
            one.name,
        ) from error


_MOST_DIGITS = 40
"""So many digits of a whole number are shown again."""


def _check_bounds(one: AskedField, value: Any) -> None:
    number = value.value if isinstance(value, Known) else value
    if isinstance(number, bool) or not isinstance(number, int | float):
        return
    low, high = one.ask.low, one.ask.high
    within = (low is None or number >= low) and (high is None or number <= high)
    if within and (isinstance(number, int) or math.isfinite(number)):
        return
    shown = f"{number:g}" if isinstance(number, float) else str(number)[:_MOST_DIGITS]
    unit = f" {one.ask.unit}" if one.ask.unit else ""
    if low is not None and high is not None:
        bounds = f"{low:g} to {high:g}{unit}"
    elif low is not None:
        bounds = f"{low:g}{unit} or more"
    else:
        bounds = "a number" if high is None else f"{high:g}{unit} or less"
    raise AskedError(f"'{one.ask.words}' of {shown}{unit} cannot be: give {bounds}.", one.name)


def same_results(kept: Finding, again: Finding) -> str:
    """Compare two findings result by result; empty when they agree, else what differs.

    Numbers agree to a part in a thousand million: what two machines' libraries may differ by.
    """
    if not _alike(kept.value, again.value) or not _alike_interval(kept, again):
        return f"comes out as {in_brief(again)}, not {in_brief(kept)}"
    if kept.grade != again.grade:
        return f"is now {again.grade}, not {kept.grade}"
    for one, other in zip(kept.results, again.results, strict=False):
        if not _alike(one.model_dump(mode="json"), other.model_dump(mode="json")):
            return f"'{one.name}' comes out as {other.in_words()}, not {one.in_words()}"
    if len(kept.results) != len(again.results):
        return f"comes out with {len(again.results)} results, not {len(kept.results)}"
    return ""


def in_brief(finding: Finding) -> str:
    """A finding's value in a few words."""
    if isinstance(finding.value, dict):
        return "other figures"
    return f"{finding.value} {finding.unit}".strip()


def _alike_interval(kept: Finding, again: Finding) -> bool:
    pair = [None if f.interval is None else f.interval.model_dump() for f in (kept, again)]
    return _alike(*pair)


def _alike(one: Any, other: Any) -> bool:
    if isinstance(one, float | int) and isinstance(other, float | int):
        return abs(one - other) <= 1e-9 * max(1.0, abs(one), abs(other))
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_alike(v, other[k]) for k, v in one.items())
    if isinstance(one, list | tuple) and isinstance(other, list | tuple):
        return len(one) == len(other) and all(map(_alike, one, other))
    return bool(one == other)


SECTIONS: Mapping[str, str] = {
    "marks": "What is struck in the metal",
    "made": "When it was made, and how many",
    "ornament": "Its ornament",
    "running": "How it runs",
    "stand": "What it stands on and is turned by",
    "care": "Keeping it",
}
"""The sections that answers are told in, in the order of the job, with their titles."""


def _never(_inputs: Any, _asked: Any) -> bool:
    return False


def _no_subject(_asked: Any) -> str:
    return ""


def _as_kept(parameters: Mapping[str, Any]) -> Mapping[str, Any]:
    """What was asked, as it stands in a finding's parameters."""
    found = parameters.get("asked")
    return found if isinstance(found, dict) else {}


@dataclass(frozen=True)
class Analysis(Generic[Inputs, Asked, Found]):
    """The declaration of one analysis.

    Attributes
    ----------
    key
        Short name: the end of its page's address, its command, its heading in the manual.
    about
        What its finding is about, as kept in records; never changed once released.
    question
        The question it answers, in a restorer's words.
    section
        Where the account tells it: a key of `SECTIONS`.
    inputs
        Dataclass of what it reads; the workshop says how a record or a file gives one.
    asked
        Frozen dataclass of what a person is asked for; each field carries an `Ask`.
    work
        Computes: ``work(inputs, asked, steps)``. Pure; draws random numbers, if it must, from a
        generator seeded by a value asked for.
    answer
        Tells what was computed.
    method, published
        Name of the method and its source, for the finding.
    same
        Compares a kept finding with one computed again: empty, or what differs.
    takes_long
        Whether this work is to be a job.
    subject
        What of the record it is about when there may be one finding each, such as a drawing's
        name; empty when a machine has one.
    asked_before
        Reads what was asked out of the parameters of a finding, older ones too.
    step
        Key of the step of the job that its finding fulfils, empty for none.
    hazards
        Keys of the cautions that belong beside its answer.
    """

    key: str
    about: str
    question: str
    section: str
    inputs: type[Inputs]
    asked: type[Asked]
    work: Callable[[Inputs, Asked, Steps], Found]
    answer: Callable[[Found], Answer]
    method: str
    published: str
    same: Callable[[Finding, Finding], str] = same_results
    takes_long: Callable[[Inputs, Asked], bool] = _never
    subject: Callable[[Asked], str] = _no_subject
    asked_before: Callable[[Mapping[str, Any]], Mapping[str, Any]] = _as_kept
    step: str = ""
    hazards: tuple[str, ...] = ()

    def finding(
        self, asked: Asked, answer: Answer, inputs: Mapping[str, Sha256], version: str
    ) -> Finding:
        """Make the finding to keep of an answer.

        Raises IronlaceError when the answer holds no result to keep.
        """
        if not answer.results:
            raise IronlaceError(
                f"{answer.sentences[0] if answer.sentences else 'There is no result.'} "
                "There is nothing to keep yet."
            )
        first = answer.results[0]
        sentence = " ".join(answer.sentences)
        return Finding(
            about=self.about,
            value=first.value,
            unit=first.unit,
            interval=first.interval,
            grade=first.grade,
            sentence=sentence if len(sentence) <= _MOST_WORDS else f"{sentence[:_MOST_WORDS]}…",
            results=answer.results if len(answer.results) > 1 else (),
            inputs=dict(inputs),
            method=Method(
                name=self.method,
                published=self.published,
                parameters={"asked": asked_as_dict(asked)},
            ),
            version=version,
        )

    def asked_of(self, finding: Finding) -> Asked:
        """What was asked when a finding was computed.

        Raises AskedError when this version cannot read it.
        """
        return asked_from(self.asked, self.asked_before(finding.method.parameters))


_MOST_WORDS = 3990
"""A finding's sentence holds 4000 characters; answers rarely pass 1500."""

Declared = Analysis[Any, Any, Any]
"""An analysis where it does not matter which."""


def grade_of(known: Iterable[Known | KnownTable], least: Grade) -> Grade:
    """The grade of what is computed from quantities: no better than the weakest of them."""
    return weakest([least, *(one.grade for one in known)])


__all__ = [
    "SECTIONS",
    "Analysis",
    "Answer",
    "Ask",
    "AskedError",
    "AskedField",
    "Declared",
    "Known",
    "KnownColumn",
    "KnownTable",
    "LookUp",
    "Nothing",
    "Result",
    "asked_as_dict",
    "asked_fields",
    "asked_from",
    "grade_of",
    "same_results",
]
