"""What the kinds of entry are built of: types that know their control, and the two bases."""

import re
from collections.abc import Callable
from decimal import Decimal
from typing import Annotated, Any, ClassVar

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationInfo,
    model_validator,
)

from ironlace.care.cautions import Hazard
from ironlace.evidence.grades import Grade
from ironlace.evidence.markings import parse_marking
from ironlace.evidence.quantities import parse_measured
from ironlace.evidence.sources import Source
from ironlace.evidence.written_dates import read_date
from ironlace.record.entry_fields import Control, KindWords, Words, fields_of
from ironlace.record.readings import ReadingTable
from ironlace.record.values_in_words import value_in_words
from ironlace.record.written_amounts import read_hours, read_money, read_rate

KEPT: dict[str, bool] = {"kept": True}
"""Context of validation for what this program has kept: it was read before, and is not again."""


_UNWRITABLE = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\u202a-\u202e\u2066-\u2069]"
)
"""Signs that no pen can write: controls but for breaks of lines, halves of signs, and those that
turn the direction of writing, so that a number would read otherwise than it is kept."""


def _written(value: Any) -> Any:
    """A value as it came, with a blank for each sign in its texts that no pen can write."""
    if isinstance(value, str):
        return _UNWRITABLE.sub(" ", value)
    if isinstance(value, dict):
        return {name: _written(one) for name, one in value.items()}
    if type(value) is list or type(value) is tuple:
        return type(value)(_written(one) for one in value)
    return value


def _empty_as_none(value: Any) -> Any:
    return None if isinstance(value, str) and not value.strip() else value


def _edtf(text: str, info: ValidationInfo) -> str:
    return text if info.context is KEPT else read_date(text).text


def _marking(text: str, info: ValidationInfo) -> str:
    return text if info.context is KEPT else str(parse_marking(text))


def _strings(text: str, info: ValidationInfo) -> str:
    if info.context is KEPT or not text.strip():
        return text.strip()
    from ironlace.survey.reports.strings_read import read_strings_of, written

    return written(read_strings_of(parse_marking(info.data.get("reads", "?")), text))


def _measured(text: str, info: ValidationInfo) -> str:
    if info.context is KEPT:
        return text
    parse_measured(text)
    return " ".join(text.split())


def _hours(value: Any, info: ValidationInfo) -> Any:
    return _amount(read_hours, value, info)


def _money(value: Any, info: ValidationInfo) -> Any:
    return _amount(read_money, value, info)


def _rate(value: Any, info: ValidationInfo) -> Any:
    return _amount(read_rate, value, info)


def _amount(read: Callable[[str], Decimal], value: Any, info: ValidationInfo) -> Any:
    if not isinstance(value, str) or info.context is KEPT:
        return value
    return read(value) if value.strip() else None


def _capitals(value: Any) -> Any:
    return value.strip().upper() if isinstance(value, str) else value


Line = Annotated[str, Field(min_length=1, max_length=300)]
MaybeLine = Annotated[str, Field(max_length=300)]
Lines = Annotated[tuple[Line, ...], Control.LINES]
OtherReadings = Annotated[tuple[Line, ...], Control.OTHER_READINGS]
Readings = Annotated[ReadingTable, Control.READING_TABLE]
Text = Annotated[str, Field(max_length=20_000), Control.TEXT]
EdtfText = Annotated[str, AfterValidator(_edtf)]
MaybeDate = Annotated[EdtfText | None, BeforeValidator(_empty_as_none), Control.DATE]
Strings = Annotated[str, Field(max_length=20_000), AfterValidator(_strings)]
MarkingText = Annotated[str, AfterValidator(_marking), Control.MARKING]
Reading = Annotated[str, Field(max_length=120), AfterValidator(_measured), Control.QUANTITY]
MaybeHours = Annotated[
    Annotated[Decimal, Field(ge=0, max_digits=8, decimal_places=2)] | None,
    BeforeValidator(_hours),
    Control.DECIMAL,
]
MaybeMoney = Annotated[
    Annotated[Decimal, Field(ge=0, max_digits=12, decimal_places=2)] | None,
    BeforeValidator(_money),
    Control.DECIMAL,
]
Worth = Annotated[
    Annotated[Decimal, Field(gt=0, max_digits=14, decimal_places=6)],
    BeforeValidator(_rate),
    Control.DECIMAL,
]
Currency = Annotated[str, BeforeValidator(_capitals)]
Reference = Annotated[str, Field(pattern=r"^[a-z]+ [0-9]+$")]
Pictures = Annotated[tuple[Reference, ...], Control.PICTURES]
Hazards = Annotated[tuple[Hazard, ...], Control.HAZARDS]

HowKnown = Annotated[Grade, Words("How you know it")]
"""A grade: always asked for, never chosen beforehand."""


class EntryModel(BaseModel):
    """Any entry: frozen, refusing unknown keys, with the words of its kind and a note."""

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True)

    words: ClassVar[KindWords]

    @model_validator(mode="before")
    @classmethod
    def _as_written(cls, data: Any, info: ValidationInfo) -> Any:
        return data if info.context is KEPT else _written(data)

    note: Annotated[Text, Words("Note", "Anything else, in your own words.", more=True)] = ""

    def in_brief(self) -> str:
        """The entry in one line: what its first field says, unless its kind knows better."""
        first = next((getattr(self, field.name) for field in fields_of(type(self))), "")
        return value_in_words(first)


class GradedEntry(EntryModel):
    """An entry that states something, and so carries its evidence."""

    grade: HowKnown
    sources: Annotated[
        tuple[Source, ...],
        Words(
            "What vouches for it",
            "Point to a photograph, a document, a person, an instrument; say where in it.",
            more=True,
        ),
    ] = ()
