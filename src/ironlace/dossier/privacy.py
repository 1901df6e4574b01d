"""What of a record may be read by strangers.

The public copy is itself a record: entries and words that are nobody's business are taken out of it
before anything is told, so that neither a page nor a file can let them slip.
"""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel

from ironlace.evidence.sources import Source, SourceKind
from ironlace.evidence.wording import listed
from ironlace.record.entries import (
    ENTRY_KINDS,
    DrawingEntry,
    Entry,
    EntryKind,
    FindingEntry,
    ReportEntry,
    ThreadingEntry,
)
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


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Something that an account will not tell.

    Attributes
    ----------
    what
        What it is, in words.
    why
        The reason.
    names
        The entries it concerns, such as ``provenance 2``.
    unless
        What brings it in: ``"private"`` or ``"hours_and_costs"``.
    """

    what: str
    why: str
    names: tuple[str, ...]
    unless: str


def left_out(record: Record) -> tuple[LeftOut, ...]:
    """Each thing that an account leaves out unless it is asked for, with its reason.

    It is told by the same declarations that `public_copy` goes by, before anything is made.
    """
    out: list[LeftOut] = []
    for kind, model in ENTRY_KINDS.items():
        entries = [(f"{k.value} {n}", e) for (k, n), e in record.entries.items() if k is kind]
        words = words_of(model)
        if words.on_request and entries:
            names = tuple(name for name, _ in entries)
            out.append(
                LeftOut(_count(len(names), words.one, words.many), _ON_REQUEST, names, _HOURS)
            )
        hidden = tuple(n for n, e in entries if _is_hidden(e, hours_and_costs=True))
        if hidden:
            what = _count(len(hidden), words.one, words.many)
            out.append(LeftOut(what, _MARKED, hidden, _PRIVATE))
        told = [(name, entry) for name, entry in entries if name not in hidden]
        out += _fields_left_out(model, words.many, told)
    persons = tuple(
        f"{kind.value} {number}"
        for (kind, number), entry in record.entries.items()
        if any(
            source.kind is SourceKind.PERSON and source.entry is None and source.says
            for source in getattr(entry, "sources", ())
        )
    )
    if persons:
        what = f"who vouches, in {_count(len(persons), 'entry', 'entries')}"
        out.append(LeftOut(what, _PERSONS, persons, _PRIVATE))
    out.append(LeftOut("the record’s history of changes", _HISTORY, (), _PRIVATE))
    return tuple(out)


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


_PRIVATE, _HOURS = "private", "hours_and_costs"
_ON_REQUEST = "told only when it is asked for"
_MARKED = "marked as private, or as not for publication"
_IDENTIFY = "it can tell strangers who owns another machine, and where"
_PERSONS = "a person is named only where a public source entry stands for them"
_HISTORY = "it tells who wrote what, and what stood there before"


def _fields_left_out(
    model: type[BaseModel], many: str, entries: Sequence[tuple[str, Entry]]
) -> Iterator[LeftOut]:
    private = [field for field in fields_of(model) if field.words.private]
    filled = [f for f in private if any(getattr(e, f.name) not in _EMPTY for _, e in entries)]
    names = tuple(
        name for name, e in entries if any(getattr(e, f.name) not in _EMPTY for f in filled)
    )
    if names:
        labels = listed([f"“{field.label}”" for field in filled])
        yield LeftOut(f"of {len(names)} {many}: {labels}", _IDENTIFY, names, _PRIVATE)


_EMPTY: tuple[Any, ...] = ("", (), None)
"""What a field holds that was left empty."""


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
    unnamed = _unnamed(called)
    entries: dict[Key, Entry] = {
        key: unnamed(_without(f"{key[0].value} {key[1]}", entry, gone, called))
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


def _unnamed(called: Mapping[str, str]) -> Callable[[Entry], Entry]:
    """What takes the names of reported machines out of sentences that were worked out.

    An analysis calls a report by the name that a person gave it, which a public copy does not
    tell: there it is called as its entry is.
    """
    names = sorted((n for n, entry in called.items() if n != entry), key=len, reverse=True)
    found = re.compile(
        "|".join(rf"(?<!\w){re.escape(n)}(?!\w)(?: \({re.escape(called[n])}\))?" for n in names)
    )

    def name_of(words: re.Match[str]) -> str:
        return next(called[n] for n in names if words[0].startswith(n))

    def unnamed(entry: Entry) -> Entry:
        if not names or not isinstance(entry, FindingEntry | DrawingEntry):
            return entry
        sentence = found.sub(name_of, entry.finding.sentence)
        finding = entry.finding.model_copy(update={"sentence": sentence})
        return entry.model_copy(update={"finding": finding})

    return unnamed


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
    if isinstance(entry, ThreadingEntry):
        entry = entry.without(gone)
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
