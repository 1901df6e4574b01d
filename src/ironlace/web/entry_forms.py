"""The form for a kind of entry, as its model declares it, and what comes of what was typed.

The words are those of `ironlace.record.entries`: under the same labels an entry is shown, so that
a person reads back what they filled in.
"""

import re
from dataclasses import dataclass
from functools import cache
from typing import Any

from pydantic import BaseModel, ValidationError

from ironlace.evidence.edtf_dates import EdtfError
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.markings import MarkingError
from ironlace.evidence.quantities import QuantityError
from ironlace.record import ENTRY_KINDS, Entry, EntryKind, parse_entry
from ironlace.record.entry_fields import (
    Control,
    EntryField,
    KindWords,
    fields_of,
    words_of,
)
from ironlace.record.readings import FORM_PARTS
from ironlace.record.written_amounts import AmountError
from ironlace.web.incoming import Form
from ironlace.workshop.survey.reports_in import text_of_file


@dataclass(frozen=True, slots=True)
class EntryForm:
    """The form for one kind of entry; `kind` is the name of the kind."""

    kind: str
    words: KindWords
    fields: tuple[EntryField, ...]

    @property
    def begins(self) -> dict[str, Any]:
        """Values with which it begins when empty: the defaults, none of which claims evidence."""
        begun = {f.name: f.default for f in self.fields if not f.words.unchosen}
        return {name: value for name, value in begun.items() if value not in ("", None, ())}

    @property
    def takes_file(self) -> bool:
        """Whether a file can be sent with it."""
        return any(field.control is Control.READING_TABLE for field in self.fields)

    @property
    def first(self) -> tuple[EntryField, ...]:
        """The fields always shown."""
        return tuple(field for field in self.fields if not field.words.more)

    @property
    def more(self) -> tuple[EntryField, ...]:
        """The fields shown on request."""
        return tuple(field for field in self.fields if field.words.more)


@cache
def form_of(model: type[BaseModel]) -> EntryForm:
    """The form that a kind's model declares."""
    kind = model.model_fields["kind"].default
    return EntryForm(str(kind), words_of(model), fields_of(model))


FORMS: dict[EntryKind, EntryForm] = {
    kind: form_of(model) for kind, model in ENTRY_KINDS.items() if words_of(model).by_hand
}


def beginning(kind: EntryKind) -> dict[str, Any]:
    """Values with which an empty form of a kind begins."""
    return FORMS[kind].begins if kind in FORMS else {}


def values_of(entry: Entry) -> dict[str, Any]:
    """Values with which a form begins that changes an entry."""
    values: dict[str, Any] = dict(entry.model_dump(mode="json"))
    for field in fields_of(type(entry)):
        if field.control is Control.READING_TABLE:
            values[field.name] = getattr(entry, field.name).as_parts()
    return values


_MOST_TABLE_BYTES = 2_000_000
"""Of a file of readings: 5,000 rows of 24 figures are 1 MB."""

_RANGE = re.compile(r"\s*(\d{1,7})\s*(?:[-–]\s*(\d{1,7}))?\s*\Z")
_MOST_IN_RANGE = 400
"""Photographs that one range may name: more is a slip of the finger."""


def typed(form: Form, spec: EntryForm) -> dict[str, Any]:
    """What was typed into a form, in the shape of an entry's JSON (not yet proved).

    Raises FormFaultError when photograph numbers cannot be read.
    """
    values: dict[str, Any] = {}
    for field in spec.fields:
        match field.control:
            case Control.READING_TABLE:
                values[field.name] = _table_parts(form, field)
            case Control.LINES | Control.OTHER_READINGS:
                values[field.name] = [
                    line.strip() for line in form.one(field.name).splitlines() if line.strip()
                ]
            case Control.HAZARDS:
                values[field.name] = form.many(field.name)
            case Control.TICK:
                values[field.name] = form.one(field.name) == "yes"
            case Control.DECIMAL:
                values[field.name] = form.one(field.name) or None
            case Control.PICTURES:
                values[field.name] = _named_pictures(form, field)
            case Control.SOURCES:
                values[field.name] = _sources(form)
            case _:
                values[field.name] = form.one(field.name)
    return values


@dataclass(frozen=True, slots=True)
class Fault:
    """Why a form cannot be used: a sentence, the field it is about if known, the status."""

    says: str
    field: str = ""
    status: int = 422


def entry_from(
    spec: EntryForm, values: dict[str, Any], standing: Entry | None = None
) -> Entry | Fault:
    """Make an entry of what was typed, over what stood; or say what is wrong with it."""
    payload: dict[str, Any] = {"kind": spec.kind}
    if standing is not None:
        payload = values_of(standing)
    chosen = {f.name for f in spec.fields if f.control in (Control.CHOICE, Control.GRADE)}
    for field in spec.fields:
        if field.words.unchosen and not values.get(field.name):
            return Fault(f"'{field.label}' is missing: choose one.", field.name)
    for name, value in values.items():
        if value == "" and name in chosen:
            payload.pop(name, None)  # nothing chosen: the entry's default, or it is missing
        else:
            payload[name] = value
    try:
        return parse_entry(payload)
    except IronlaceError as error:
        name = _field_at_fault(error, spec, values)
        says = str(error)
        label = next((field.label for field in spec.fields if field.name == name), "")
        if label:
            # a fault within a field names the way into it, which no form shows
            says = re.sub(rf"\A'{name.replace('_', ' ')}[^']*'", lambda _: f"'{label}'", says)
        return Fault(says, name, error.http_status)


_READ_BY = {
    EdtfError: Control.DATE,
    MarkingError: Control.MARKING,
    QuantityError: Control.QUANTITY,
    AmountError: Control.DECIMAL,
}


def _field_at_fault(error: IronlaceError, spec: EntryForm, values: dict[str, Any]) -> str:
    cause = error.__cause__
    if isinstance(cause, ValidationError):
        places = [str(step) for step in cause.errors(include_url=False)[0]["loc"]]
        names = {field.name for field in spec.fields}
        return next((place for place in places if place in names), "")
    control = next((found for sort, found in _READ_BY.items() if isinstance(error, sort)), None)
    readers = [field.name for field in spec.fields if field.control is control]
    # what could not be read stands in the sentence; a line may hold a date too
    lines = [field.name for field in spec.fields if field.control is Control.LINE]
    quoted = [
        name
        for name in (*readers, *lines)
        if (typed_in := str(values.get(name) or "").strip()) and typed_in in str(error)
    ]
    whole = [name for name in quoted if f"'{' '.join(str(values[name]).split())}'" in str(error)]
    return (whole or quoted or readers or [""])[0]


class FormFaultError(IronlaceError):
    """A field of a form cannot be read."""

    def __init__(self, says: str, field: str) -> None:
        super().__init__(says)
        self.field = field


def _table_parts(form: Form, field: EntryField) -> dict[str, str]:
    """The texts of a table of readings; a file that was chosen goes before what was pasted."""
    parts = {part: form.one(f"{field.name}-{part}") for part in FORM_PARTS}
    for file in form.files:
        try:
            if file.incoming is None:
                raise FormFaultError(file.refused, field.name)
            if file.incoming.size > _MOST_TABLE_BYTES:
                raise FormFaultError(
                    f"{file.came_as} is larger than 2 MB: a table of readings is small.", field.name
                )
            parts["text"] = text_of_file(file.incoming.path.read_bytes(), file.came_as)[0]
        except IronlaceError as error:
            raise FormFaultError(str(error), field.name) from error
    return parts


def _named_pictures(form: Form, field: EntryField) -> list[str]:
    names = form.many(field.name)
    text = form.one(f"{field.name}-more")
    for piece in filter(None, (p.strip() for p in text.split(","))):
        match = _RANGE.match(piece.removeprefix("photograph").removeprefix("photographs"))
        if not match:
            raise FormFaultError(
                f"'{piece}' does not number photographs: write 12, or 40-42, parted by commas.",
                field.name,
            )
        first = int(match[1])
        last = int(match[2] or first)
        if not first <= last < first + _MOST_IN_RANGE:
            raise FormFaultError(
                f"'{piece}' runs backwards or over more than {_MOST_IN_RANGE}: check it.",
                field.name,
            )
        names += [f"photograph {number}" for number in range(first, last + 1)]
    return list(dict.fromkeys(names))


def _sources(form: Form) -> list[dict[str, Any]]:
    rows = zip(
        (v for n, v in form.fields if n == "source-kind"),
        (v for n, v in form.fields if n == "source-entry"),
        (v for n, v in form.fields if n == "source-says"),
        strict=False,
    )
    return [
        {"kind": kind, "entry": entry.strip() or None, "says": says.strip()}
        for kind, entry, says in rows
        if kind
    ]
