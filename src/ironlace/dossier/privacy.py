"""What of a record may be read by strangers.

The public copy is itself a record: entries and words that are nobody's business are taken out of it
before anything is told, so that neither a page nor a file can let them slip.
"""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
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
    Mark,
    Photograph,
    ReportEntry,
    ThreadingEntry,
)
from ironlace.record.entry_fields import Control, EntryField, fields_of, words_of
from ironlace.record.history import Change, Key, Record

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
        What brings it in: ``"private"``, ``"hours_and_costs"``, or another ``"choice"``.
    """

    what: str
    why: str
    names: tuple[str, ...]
    unless: str


class Audience(StrEnum):
    """For whom something is written."""

    STRANGERS = "strangers"
    NEXT_OWNER = "next owner"


@dataclass(frozen=True, slots=True)
class Choice:
    """What may leave, and to whom.

    Attributes
    ----------
    hours_and_costs
        Whether hours, costs and rates come in as a whole; private outlays to the next owner only.
    changed
        What a person said otherwise than is usual: by the key of a thing, such as ``provenance 1``
        or ``report 3: place`` (see `ironlace.dossier.leaving`), whether it leaves.
    """

    audience: Audience = Audience.STRANGERS
    hours_and_costs: bool = False
    changed: Mapping[str, bool] = field(default_factory=dict)

    @property
    def private(self) -> bool:
        """Whether what is private leaves unless it is held back."""
        return self.audience is Audience.NEXT_OWNER

    def entry_leaves(self, name: str, entry: Entry) -> bool:
        """Whether an entry leaves at all."""
        return self.changed.get(name, not self.why_hidden(entry))

    def field_leaves(self, name: str, entry: Entry, field: EntryField) -> bool:
        """Whether a field that is declared private leaves."""
        usual = self.private or _allowed(entry, field)
        return self.changed.get(f"{name}: {field.name}", usual)

    def vouchers_leave(self, name: str) -> bool:
        """Whether the words of the persons who vouch for an entry leave."""
        return self.changed.get(f"{name}: {VOUCHERS}", self.private)

    def why_hidden(self, entry: Entry) -> str:
        """Why an entry is usually held back, empty when it is not."""
        if words_of(type(entry)).on_request and not self.hours_and_costs:
            return _ON_REQUEST
        if self.private:
            return ""
        if _is_marked(entry):
            return _MARKED
        if isinstance(entry, Photograph) and entry.credit and not entry.rights:
            return _NO_RIGHTS
        return ""


VOUCHERS, ORIGINAL, HISTORY = "who vouches", "original", "history"
"""What a thing is called that is no field of an entry; the history is one for the whole record."""


def rests_on_held(record: Record, choice: Choice) -> dict[str, tuple[str, ...]]:
    """By name, the findings that stay because of what they were worked out from, and what that is.

    To strangers a result would tell of what is held back: its number, what it shows. Whoever chose
    of the finding itself whether it leaves is obeyed.
    """
    if choice.private:
        return {}
    held = {n: e for n, e in record.by_name.items() if not choice.entry_leaves(n, e)}
    rests: dict[str, tuple[str, ...]] = {}
    while True:  # a finding may rest on another that stays only because of what it rests on
        more = {
            name: names
            for name, entry in record.of(FindingEntry)
            if name not in held
            and name not in choice.changed
            and (names := _held_inputs(entry, held))
        }
        if not more:
            return rests
        rests |= more
        held |= {name: record.by_name[name] for name in more}


def _held_inputs(entry: FindingEntry, held: Mapping[str, Entry]) -> tuple[str, ...]:
    """What a finding was worked out from that is held back, as the inputs name it."""
    inputs = entry.finding.inputs
    read = {*inputs, *_texts_in(entry.finding.method.parameters.get("asked"))}
    named = [name for name in held if name in read]
    if REPORTS_READ & inputs.keys():
        named += [n for n, e in held.items() if isinstance(e, Mark) or _counts(e)]
    return tuple(dict.fromkeys(named))


def _texts_in(value: Any) -> Iterator[str]:
    """Every text in a JSON value: what was asked names the entries that were taken."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for inner in value.values():
            yield from _texts_in(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from _texts_in(inner)


def _counts(entry: Entry) -> bool:
    return isinstance(entry, ReportEntry) and entry.counts


REPORTS_READ = frozenset({"sightings", "reports"})
"""Inputs of a finding that hold all reports and the machine's own mark; the latter since 0.1."""


def findings_over_time(record: Record, changes: Sequence[Change], choice: Choice) -> list[Change]:
    """Every version of the findings that may be told, in order, each without what is held back.

    A version that rests on something held back, as it is or as it last was, is left out; so is a
    finding that stays.
    """
    last = {c.name: c.entry for c in changes if c.entry is not None} | record.by_name
    held = {name: entry for name, entry in last.items() if not choice.entry_leaves(name, entry)}
    stays = held.keys() | rests_on_held(record, choice).keys()
    cut = _Cut(record, choice, set(held), changes)
    told = []
    for change in changes:
        entry = change.entry
        if change.kind is not EntryKind.FINDING or change.name in stays:
            continue
        if entry is None:
            told.append(change)
        elif isinstance(entry, FindingEntry) and (
            choice.changed.get(change.name) or not _held_inputs(entry, held)
        ):
            told.append(replace(change, entry=cut.entry(change.name, entry)))
    return told


def left_out(record: Record, changed: Mapping[str, bool] | None = None) -> tuple[LeftOut, ...]:
    """Each thing that an account leaves out unless it is asked for, with its reason.

    It is told by the same declarations that `copy_for` goes by, before anything is made.
    """
    choice = Choice(changed=changed or {})
    costly = replace(choice, hours_and_costs=True)
    out: list[LeftOut] = []
    for model in ENTRY_KINDS.values():
        entries = [(name, e) for name, e in record.by_name.items() if type(e) is model]
        words = words_of(model)
        stay = {n: e for n, e in entries if not costly.entry_leaves(n, e)}
        asked = tuple(
            n
            for n, e in entries
            if choice.why_hidden(e) and words.on_request and n not in choice.changed
        )
        if asked:
            what = _count(len(asked), words.one, words.many)
            out.append(LeftOut(what, _ON_REQUEST, asked, _HOURS))
        for reason in (_MARKED, _NO_RIGHTS, ""):
            of_that = tuple(name for name, e in stay.items() if costly.why_hidden(e) == reason)
            if of_that:
                what = _count(len(of_that), words.one, words.many)
                unless = _PRIVATE if reason else _CHOSEN
                out.append(LeftOut(what, reason or _BY_CHOICE, of_that, unless))
        told = [(name, entry) for name, entry in entries if name not in stay]
        out += _fields_left_out(model, words.many, told, choice)
    rests = tuple(rests_on_held(record, choice))
    if rests:
        what = _count(len(rests), "finding", "findings")
        out.append(LeftOut(what, WHY_RESTS, rests, _PRIVATE))
    persons = tuple(
        name
        for name, entry in record.by_name.items()
        if not choice.vouchers_leave(name)
        and any(map(is_unnamed_person, getattr(entry, "sources", ())))
    )
    if persons:
        what = f"who vouches, in {_count(len(persons), 'entry', 'entries')}"
        out.append(LeftOut(what, WHY_PERSON, persons, _PRIVATE))
    out.append(LeftOut("the record’s history of changes", WHY_HISTORY, (), _PRIVATE))
    return tuple(out)


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


_PRIVATE, _HOURS, _CHOSEN = "private", "hours_and_costs", "choice"
_BY_CHOICE = "held back by your choice"
_ON_REQUEST = "told only when it is asked for"
_MARKED = "marked as private, or as not for publication"
_NO_RIGHTS = "it is credited to somebody, and no rights are said"
_IDENTIFY = "it can tell strangers who owns another machine, and where"
WHY_PERSON = "a person is named only where a public source entry stands for them"
WHY_RESTS = "worked out from something that is held back"
WHY_HISTORY = "it tells who wrote what, and what stood there before"


def _fields_left_out(
    model: type[BaseModel], many: str, entries: Sequence[tuple[str, Entry]], choice: Choice
) -> Iterator[LeftOut]:
    private = [field for field in fields_of(model) if field.words.private]
    stay = {
        name: [
            field
            for field in private
            if not is_empty(getattr(entry, field.name))
            and not choice.field_leaves(name, entry, field)
        ]
        for name, entry in entries
    }
    names = tuple(name for name, fields in stay.items() if fields)
    if names:
        labels = [field.label for field in private if any(field in of for of in stay.values())]
        what = f"of {len(names)} {many}: {listed([f'“{label}”' for label in labels])}"
        yield LeftOut(what, _IDENTIFY, names, _PRIVATE)


def is_unnamed_person(source: Source) -> bool:
    """Whether a source is the words of a person for whom no source entry stands."""
    return source.kind is SourceKind.PERSON and source.entry is None and bool(source.says)


def is_empty(value: Any) -> bool:
    """Whether a field was left empty."""
    return value in _EMPTY


def why_field(entry: Entry, field: EntryField) -> str:
    """Why a field that is declared private is held back from strangers, or why it is not."""
    return _ALLOWED if _allowed(entry, field) else _IDENTIFY


_ALLOWED = "its owner allowed it"
_EMPTY: tuple[Any, ...] = ("", (), None)
"""What a field holds that was left empty."""


def public_copy(record: Record, *, hours_and_costs: bool = False) -> tuple[Record, Withheld]:
    """Return the record without what is private, and how much was left out; see `copy_for`."""
    return copy_for(record, Choice(hours_and_costs=hours_and_costs))


def copy_for(record: Record, choice: Choice) -> tuple[Record, Withheld]:
    """Return of a record what leaves by a choice, and how much was left out.

    What is private, the entries' own declarations say (`ironlace.record.entry_fields.Words`). From
    strangers are usually held back: entries whose own mark hides them (provenance, sources,
    photographs), photographs that somebody else is credited with and that say no rights; fields
    declared private, such as what identifies the owners of reported machines, unless the entry says
    that the owner allowed it; and the words of sources that are persons, unless a source entry that
    leaves stands for the person; and findings that were worked out from something held back. From
    everybody, unless asked for: kinds that are told on request only (hours and costs). References
    to what is held back go with it.
    """
    rests = rests_on_held(record, choice)
    kept = {
        (kind, number): entry
        for (kind, number), entry in record.entries.items()
        if choice.entry_leaves(f"{kind.value} {number}", entry)
        and f"{kind.value} {number}" not in rests
    }
    cut = _Cut(record, choice, {f"{k.value} {n}" for k, n in record.entries.keys() - kept.keys()})
    entries: dict[Key, Entry] = {
        key: cut.entry(f"{key[0].value} {key[1]}", entry) for key, entry in kept.items()
    }
    withheld = Withheld(
        **{
            field: sum(1 for key in record.entries if key[0] is kind and key not in kept)
            for field, kind in (
                ("provenance", EntryKind.PROVENANCE),
                ("sources", EntryKind.SOURCE),
                ("photographs", EntryKind.PHOTOGRAPH),
                *((("outlays", EntryKind.OUTLAY),) if choice.hours_and_costs else ()),
            )
        }
    )
    return Record(record.slug, record.title, entries, record.as_of), withheld


def history_for(record: Record, changes: Sequence[Change], choice: Choice) -> list[Change]:
    """Return what leaves of a history: to strangers none, since it tells what stood before.

    Of an entry that is held back no change leaves, of a field that is held back no version.
    """
    if not choice.private or not choice.changed.get(HISTORY, True):
        return []
    told = [
        change
        for change in changes
        if change.entry is None or choice.entry_leaves(change.name, change.entry)
    ]
    held = {change.name for change in changes} - {
        change.name for change in told if change.entry is not None
    }
    held |= {n for n, entry in record.by_name.items() if not choice.entry_leaves(n, entry)}
    cut = _Cut(record, choice, held, changes)
    return [
        change
        if change.entry is None
        else replace(change, entry=cut.entry(change.name, change.entry))
        for change in told
        if change.name not in held
    ]


class _Cut:
    """What takes out of an entry that leaves whatever in it does not."""

    def __init__(
        self, record: Record, choice: Choice, gone: set[str], changes: Sequence[Change] = ()
    ) -> None:
        self.choice, self.gone = choice, gone
        # a report may name another by what its owner's machine is called: the number does as well
        reports = [*record.of(ReportEntry)]
        reports += [(c.name, c.entry) for c in changes if isinstance(c.entry, ReportEntry)]
        named = {f.name: f for f in fields_of(ReportEntry)}["name"]
        self.called = {
            entry.name: name
            for name, entry in reports
            if name in gone or not choice.field_leaves(name, entry, named)
        }
        self.unnamed = _unnamed(self.called)

    def entry(self, name: str, entry: Entry) -> Entry:
        """The entry without what is held back of it."""
        return self.unnamed(self._without(name, entry))

    def _without(self, name: str, entry: Entry) -> Entry:
        changes: dict[str, Any] = {}
        for one in fields_of(type(entry)):
            value = getattr(entry, one.name)
            if one.words.private and not self.choice.field_leaves(name, entry, one):
                changes[one.name] = _blank(one, value, name, self.called)
            elif one.control is Control.SOURCES:
                persons = self.choice.vouchers_leave(name)
                told = tuple(_told_source(source, self.gone, persons=persons) for source in value)
                changes[one.name] = told
            elif one.control is Control.PICTURES:
                changes[one.name] = tuple(picture for picture in value if picture not in self.gone)
            elif one.name == "same_as" and value in self.called:
                changes[one.name] = self.called[value]
        if isinstance(entry, ThreadingEntry):
            entry = entry.without(self.gone)
        changes = {key: value for key, value in changes.items() if value != getattr(entry, key)}
        return entry.model_copy(update=changes) if changes else entry


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


def _is_marked(entry: Entry) -> bool:
    return any(
        getattr(entry, field.name) is field.words.hides
        for field in fields_of(type(entry))
        if field.words.hides is not None
    )


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


def _told_source(source: Source, gone: set[str], *, persons: bool) -> Source:
    unnamed = source.kind is SourceKind.PERSON and source.entry is None and not persons
    if source.entry in gone or unnamed:
        return Source(kind=source.kind, says=KEPT_PRIVATE)
    return source
