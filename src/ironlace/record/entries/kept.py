"""Entries made of their JSON, and written as it."""

from collections.abc import Sequence
from typing import Annotated, Any, get_args

from pydantic import BaseModel, Field, TypeAdapter, ValidationError

from ironlace.evidence.errors import IronlaceError
from ironlace.record.entries.faults_told import in_one_sentence
from ironlace.record.entries.kinds import EntryError, EntryKind
from ironlace.record.entries.machine import (
    Measurement,
    Part,
    Photograph,
    Provenance,
    Question,
    ReadingsEntry,
    SourceEntry,
    Statement,
)
from ironlace.record.entries.marks import Lettering, Mark, ReportEntry, SentReport
from ironlace.record.entries.work import (
    DrawingEntry,
    FindingEntry,
    Outlay,
    Rate,
    ThreadingEntry,
    Treatment,
    TrialEntry,
)
from ironlace.record.entry_fields import fields_of
from ironlace.record.entry_types import KEPT, EntryModel

Entry = Annotated[
    Statement
    | Mark
    | Lettering
    | Photograph
    | Part
    | Measurement
    | ReadingsEntry
    | Treatment
    | Provenance
    | SourceEntry
    | ReportEntry
    | SentReport
    | FindingEntry
    | DrawingEntry
    | Outlay
    | Rate
    | Question
    | ThreadingEntry
    | TrialEntry,
    Field(discriminator="kind"),
]

_MODELS: tuple[type[EntryModel], ...] = get_args(get_args(Entry)[0])
ENTRY_KINDS: dict[EntryKind, type[BaseModel]] = {
    EntryKind(model.model_fields["kind"].default): model for model in _MODELS
}

_ADAPTER: TypeAdapter[Entry] = TypeAdapter(Entry)


def parse_entry(payload: dict[str, Any]) -> Entry:  # dict: JSON as it came
    """Make an entry of its JSON form.

    Raises
    ------
    EntryError
        One sentence naming the field and what is wrong with it.

    >>> parse_entry({"kind": "question", "asks": "Who made it?"}).asks
    'Who made it?'
    """
    try:
        return _ADAPTER.validate_python(payload)
    except ValidationError as error:
        raise EntryError(in_one_sentence(error)) from error


def parse_entries(payloads: Sequence[Any]) -> list[Entry]:
    """Make entries of their JSON form, all or none.

    Raises EntryError that says which of several cannot be read, by its place and kind, and why.
    """
    parsed = []
    for place, payload in enumerate(payloads, 1):
        try:
            parsed.append(parse_entry(payload))
        except IronlaceError as error:
            if len(payloads) == 1:
                raise
            kind = payload.get("kind") if isinstance(payload, dict) else ""
            which = f" ({kind})" if kind in set(EntryKind) else ""
            raise EntryError(f"Entry {place} of {len(payloads)}{which}: {error}") from error
    return parsed


_KEPT_WITHOUT: dict[str, dict[str, str]] = {
    kind.value: {
        field.name: field.words.kept_without
        for field in fields_of(model)
        if field.words.kept_without
    }
    for kind, model in ENTRY_KINDS.items()
}
"""By kind and field: what an entry says that was kept before the field had to be."""


def kept_entry(payload: dict[str, Any]) -> Entry:  # dict: JSON as it came
    """Make an entry of JSON that this program has kept; see `to_keep`.

    Its shape is checked; dates, marks and quantities were read before it was kept, and reading
    them again would treble the time that a large record takes to open. `ironlace check` does.
    """
    before = _KEPT_WITHOUT.get(payload.get("kind", ""), {})
    return _ADAPTER.validate_python({**before, **payload}, context=KEPT)


def to_keep(entry: Entry) -> dict[str, Any]:  # dict: JSON as it is kept
    """The JSON of an entry as it is kept: what it says, its defaults left out.

    A field whose default was once another is always written, so that one that is missing is known
    to come from before, and keeps its meaning.

    >>> to_keep(parse_entry({"kind": "part", "name": "shuttle", "grade": "seen"}))
    {'kind': 'part', 'grade': 'seen', 'name': 'shuttle', 'risk': 'not judged'}
    """
    payload = entry.model_dump(mode="json", exclude_defaults=True)
    always = {name: str(getattr(entry, name)) for name in _KEPT_WITHOUT[entry.kind]}
    return {"kind": entry.kind, **payload, **always}
