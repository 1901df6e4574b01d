"""What of a record may be read by strangers.

The public copy is itself a record: entries and words that are nobody's business are taken out of it
before anything is told, so that neither a page nor a file can let them slip.
"""

from dataclasses import dataclass
from typing import Any

from ironlace.evidence.sources import Source, SourceKind
from ironlace.record.entries import Entry, EntryKind, ReportEntry
from ironlace.record.entry_fields import Control, EntryField, fields_of, words_of
from ironlace.record.history import Key, Record

KEPT_PRIVATE = "kept private"


@dataclass(frozen=True, slots=True)
class Withheld:
    """How many entries a public copy leaves out; outlays where hours and costs are asked for."""

    provenance: int = 0
    sources: int = 0
    photographs: int = 0
    outlays: int = 0


def public_copy(record: Record, *, hours_and_costs: bool = False) -> tuple[Record, Withheld]:
    """Return the record without what is private, and how much was left out.

    What is private, the entries' own declarations say (`ironlace.record.entry_fields.Words`). Left
    out are: entries whose own mark hides them (provenance, sources, photographs), and references
    to any of these; kinds that are told on request only (hours and costs); fields declared
    private, such as what identifies the owners of reported machines, unless the entry says that
    the owner allowed it; and the words of sources
    that are persons, unless a public source entry stands for the person.
    """
    kept = {
        key: entry
        for key, entry in record.entries.items()
        if not _is_hidden(entry, hours_and_costs=hours_and_costs)
    }
    gone = {f"{kind.value} {number}" for kind, number in record.entries.keys() - kept.keys()}
    # a report may name another by what its owner's machine is called: the number does as well
    called = {entry.name: name for name, entry in record.of(ReportEntry)}
    entries: dict[Key, Entry] = {
        key: _without(f"{key[0].value} {key[1]}", entry, gone, called)
        for key, entry in kept.items()
    }
    withheld = Withheld(
        **{
            field: sum(1 for key in record.entries if key[0] is kind and key not in kept)
            for field, kind in (
                ("provenance", EntryKind.PROVENANCE),
                ("sources", EntryKind.SOURCE),
                ("photographs", EntryKind.PHOTOGRAPH),
                *((("outlays", EntryKind.OUTLAY),) if hours_and_costs else ()),
            )
        }
    )
    return Record(record.slug, record.title, entries, record.as_of), withheld


def _is_hidden(entry: Entry, *, hours_and_costs: bool) -> bool:
    model = type(entry)
    if words_of(model).on_request and not hours_and_costs:
        return True
    return any(
        getattr(entry, field.name) is field.words.hides
        for field in fields_of(model)
        if field.words.hides is not None
    )


def _without(name: str, entry: Entry, gone: set[str], called: dict[str, str]) -> Entry:
    changes: dict[str, Any] = {}
    for field in fields_of(type(entry)):
        value = getattr(entry, field.name)
        if field.words.private and not _allowed(entry, field):
            changes[field.name] = _blank(field, value, name, called)
        elif field.control is Control.SOURCES:
            changes[field.name] = tuple(_public_source(source, gone) for source in value)
        elif field.control is Control.PICTURES:
            changes[field.name] = tuple(picture for picture in value if picture not in gone)
    return entry.model_copy(update=changes) if changes else entry


def _allowed(entry: Entry, field: EntryField) -> bool:
    """Whether the entry itself says that this private field may be told."""
    if field.words.unless is None:
        return False
    other, values = field.words.unless
    return str(getattr(entry, other)) in values


def _blank(field: EntryField, value: Any, name: str, called: dict[str, str]) -> Any:
    """What stands in a public copy where a private value stood."""
    if field.control is Control.SOURCES:
        return tuple(Source(kind=source.kind) for source in value)
    if field.required:
        return name
    return called.get(value, field.default) if isinstance(value, str) else field.default


def _public_source(source: Source, gone: set[str]) -> Source:
    if source.entry in gone or (source.kind is SourceKind.PERSON and source.entry is None):
        return Source(kind=source.kind, says=KEPT_PRIVATE)
    return source
