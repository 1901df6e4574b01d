"""What of a record may be read by strangers.

The public copy is itself a record: entries and words that are nobody's business are taken out of it
before anything is told, so that neither a page nor a file can let them slip.
"""

from dataclasses import dataclass
from typing import Any

from ironlace.evidence.sources import Source, SourceKind
from ironlace.record.entries import (
    Entry,
    EntryKind,
    Outlay,
    Photograph,
    Provenance,
    ReportEntry,
    SourceEntry,
)
from ironlace.record.history import Key, Record

KEPT_PRIVATE = "kept private"
_REFERENCES = ("photographs", "before", "after")


@dataclass(frozen=True, slots=True)
class Withheld:
    """How many entries a public copy leaves out."""

    provenance: int = 0
    sources: int = 0
    photographs: int = 0


def public_copy(record: Record, *, hours_and_costs: bool = False) -> tuple[Record, Withheld]:
    """Return the record without what is private, and how much was left out.

    Left out are steps of provenance and sources marked private, photographs marked unpublished,
    references to any of these, hours and costs unless asked for, what identifies the owners of
    reported machines (names, places, notes, the words of the report's sources), and the words of
    sources that are persons, unless a public source entry stands for the person.
    """
    kept = {
        key: entry
        for key, entry in record.entries.items()
        if not _is_private(entry, hours_and_costs=hours_and_costs)
    }
    gone = {f"{kind.value} {number}" for kind, number in record.entries.keys() - kept.keys()}
    entries: dict[Key, Entry] = {key: _without(key, entry, gone) for key, entry in kept.items()}
    withheld = Withheld(
        **{
            field: sum(1 for key in record.entries if key[0] is kind and key not in kept)
            for field, kind in (
                ("provenance", EntryKind.PROVENANCE),
                ("sources", EntryKind.SOURCE),
                ("photographs", EntryKind.PHOTOGRAPH),
            )
        }
    )
    return Record(record.slug, record.title, entries, record.as_of), withheld


def _is_private(entry: Entry, *, hours_and_costs: bool) -> bool:
    if isinstance(entry, (Provenance, SourceEntry)):
        return entry.private
    if isinstance(entry, Photograph):
        return not entry.published
    return isinstance(entry, Outlay) and not hours_and_costs


def _without(key: Key, entry: Entry, gone: set[str]) -> Entry:
    changes: dict[str, Any] = {}
    if isinstance(entry, ReportEntry):
        changes = {
            "name": f"report {key[1]}",
            "reporter": "",
            "place": "",
            "note": "",
            "sources": tuple(Source(kind=source.kind) for source in entry.sources),
        }
    elif sources := getattr(entry, "sources", ()):
        changes["sources"] = tuple(_public_source(source, gone) for source in sources)
    for field in _REFERENCES:
        named = getattr(entry, field, ())
        if any(name in gone for name in named):
            changes[field] = tuple(name for name in named if name not in gone)
    return entry.model_copy(update=changes) if changes else entry


def _public_source(source: Source, gone: set[str]) -> Source:
    if source.entry in gone or (source.kind is SourceKind.PERSON and source.entry is None):
        return Source(kind=source.kind, says=KEPT_PRIVATE)
    return source
