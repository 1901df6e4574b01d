"""How an entry is told on a page: a headline, its details, its evidence."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.grades import Grade
from ironlace.evidence.markings import Marking, parse_marking
from ironlace.evidence.sources import Source, SourceKind
from ironlace.record import (
    DrawingEntry,
    Entry,
    EntryKind,
    FindingEntry,
    Mark,
    Measurement,
    Outlay,
    Part,
    Photograph,
    PhotographRole,
    Provenance,
    Question,
    ReportEntry,
    SourceEntry,
    Statement,
    Treatment,
)
from ironlace.record.entries import Topic
from ironlace.web.entry_forms import FORMS, Field, FieldKind

_CHECKSUM = re.compile(r"[0-9a-f]{64}\Z")
PLURALS = {
    EntryKind.STATEMENT: "statements",
    EntryKind.MARK: "marks",
    EntryKind.PHOTOGRAPH: "photographs",
    EntryKind.PART: "parts",
    EntryKind.MEASUREMENT: "measurements",
    EntryKind.TREATMENT: "treatments",
    EntryKind.PROVENANCE: "steps of provenance",
    EntryKind.SOURCE: "sources",
    EntryKind.REPORT: "reports of other machines",
    EntryKind.FINDING: "findings",
    EntryKind.DRAWING: "drawings",
    EntryKind.OUTLAY: "hours and costs",
    EntryKind.QUESTION: "open questions",
}
SINGULARS = {
    EntryKind.PROVENANCE: "step of provenance",
    EntryKind.REPORT: "report of another machine",
}


def plural(kind: EntryKind) -> str:
    """What entries of a kind are called together."""
    return PLURALS[kind]


def singular(kind: EntryKind) -> str:
    """What one entry of a kind is called."""
    return SINGULARS.get(kind, kind.value)


def one(kind: EntryKind) -> str:
    """One entry of a kind with its article.

    >>> one(EntryKind.OUTLAY), one(EntryKind.MARK)
    ('an outlay', 'a mark')
    """
    word = singular(kind)
    return f"{'an' if word[0] in 'aeiou' else 'a'} {word}"


def headline(entry: Entry) -> str:
    """An entry in one line."""
    match entry:
        case Statement(about=Topic.MADE):
            return f"{entry.about.value}: {date_in_words(entry.says)}"
        case Statement():
            return f"{entry.about.value}: {entry.says}"
        case Mark():
            return entry.reads
        case Photograph():
            return entry.caption or entry.role.value
        case Part():
            return f"{entry.name}: {entry.state.value}"
        case Measurement():
            return f"{entry.what}: {entry.measured.both_ways()}"
        case Treatment():
            return entry.what
        case Provenance():
            return entry.event
        case SourceEntry():
            return entry.title
        case ReportEntry():
            return f"{entry.reads} ({entry.name})"
        case FindingEntry():
            return f"{entry.finding.about}: {_value(entry)}"
        case DrawingEntry():
            return f"{entry.name}, {entry.width_mm:.1f} × {entry.height_mm:.1f} mm"
        case Outlay():
            return _outlay(entry)
        case Question():
            return entry.asks


def grade_of(entry: Entry) -> Grade | None:
    """An entry's grade, None for what states nothing."""
    if isinstance(entry, FindingEntry):
        return entry.finding.grade
    found = getattr(entry, "grade", None)
    return found if isinstance(found, Grade) else None


def sources_of(entry: Entry) -> tuple[Source, ...]:
    """What vouches for an entry."""
    found = getattr(entry, "sources", ())
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Detail:
    """A line of an entry: its label, its text, the photographs it names."""

    label: str
    text: str
    photographs: tuple[str, ...] = ()


def details(entry: Entry) -> list[Detail]:
    """Everything an entry says beyond its headline, as labelled lines."""
    if isinstance(entry, FindingEntry):
        return list(_finding_details(entry))
    if isinstance(entry, DrawingEntry):
        told = [Detail("Photographs", "", entry.photographs)] if entry.photographs else []
        return told + list(_finding_details(FindingEntry(finding=entry.finding)))
    return [
        detail
        for field in FORMS[EntryKind(entry.kind)].fields
        if (detail := _detail(entry, field)) is not None
    ]


def changed_lines(before: Entry | None, after: Entry | None) -> list[tuple[str, str, str]]:
    """What differs between two states of an entry: label, before, after."""
    old = {d.label: d for d in _comparable(before)}
    new = {d.label: d for d in _comparable(after)}
    return [
        (label, _flat(old.get(label)), _flat(new.get(label)))
        for label in dict.fromkeys((*old, *new))
        if old.get(label) != new.get(label)
    ]


def date_in_words(text: str) -> str:
    """An EDTF date in words, with the EDTF behind it when the two differ."""
    try:
        words = EdtfDate.parse(text).in_words()
    except IronlaceError:
        return text
    return words if words == text else f"{words} ({text})"


def _comparable(entry: Entry | None) -> Iterator[Detail]:
    if entry is None:
        return
    yield from details(entry)
    grade = grade_of(entry)
    if grade is not None:
        yield Detail("How it is known", grade.value)
    sources = sources_of(entry)
    if sources:
        yield Detail("Sources", "; ".join(s.in_words() for s in sources))


def _flat(detail: Detail | None) -> str:
    if detail is None:
        return ""
    return ", ".join((*((detail.text,) if detail.text else ()), *detail.photographs))


def _detail(entry: Entry, field: Field) -> Detail | None:
    value = getattr(entry, field.name, None)
    if value is None or value in ("", (), []):
        return None
    match field.kind:
        case FieldKind.GRADE | FieldKind.SOURCES:
            return None
        case FieldKind.PICTURES:
            return Detail(field.label, "", tuple(value))
        case FieldKind.LINES | FieldKind.HAZARDS:
            return Detail(field.label, "; ".join(str(line) for line in value))
        case FieldKind.TICK:
            return Detail(field.label, "yes" if value else "no")
        case FieldKind.DATE:
            return Detail(field.label, date_in_words(str(value)))
        case FieldKind.MARKING if isinstance(entry, Mark | ReportEntry):
            return Detail(field.label, str(value))
        case FieldKind.QUANTITY if isinstance(entry, Measurement):
            return Detail(field.label, entry.measured.both_ways())
        case _:
            return Detail(field.label, str(value))


def _finding_details(entry: FindingEntry) -> Iterator[Detail]:
    finding = entry.finding
    yield Detail("About", finding.about)
    if isinstance(finding.value, dict):
        yield from (
            Detail(_label(name), _plain(value))
            for name, value in finding.value.items()
            if not (isinstance(value, str) and _CHECKSUM.match(value))
        )
    else:
        yield Detail("Value", _value(entry))
    if finding.sentence:
        yield Detail("In words", finding.sentence)
    if finding.interval is not None:
        yield Detail("Interval", finding.interval.in_words())
    yield Detail("Method", finding.method.name)
    if finding.method.published:
        yield Detail("Method published", finding.method.published)
    if finding.inputs:
        yield Detail("Computed from", ", ".join(_inputs(finding.inputs.items())))
    yield Detail("Computed by", f"Ironlace {finding.version}")


def _value(entry: FindingEntry) -> str:
    value = entry.finding.value
    text = date_in_words(value) if isinstance(value, str) else _plain(value)
    return f"{text} {entry.finding.unit}".strip()


def _inputs(items: Iterable[tuple[str, str]]) -> list[str]:
    return [f"{name} ({checksum[:8]})" for name, checksum in items]


def _label(name: str) -> str:
    words = re.sub(r" (mm|px|deg)$", r", \1", name.replace("_", " "))
    return words[:1].upper() + words[1:]


def _plain(value: Any) -> str:
    if isinstance(value, float):
        return f"{value:.4g}"
    if isinstance(value, dict):
        return ", ".join(f"{_label(str(k)).lower()} {_plain(v)}" for k, v in value.items())
    if isinstance(value, list):
        return ", ".join(_plain(v) for v in value)
    return str(value)


def _outlay(entry: Outlay) -> str:
    amounts = []
    if entry.hours is not None:
        amounts.append(f"{entry.hours:f} h")
    if entry.cost is not None:
        amounts.append(f"{entry.cost:f} {entry.currency}")
    return f"{entry.what}: {', '.join(amounts)}"


def marking(text: str) -> Marking:
    """A mark's reading, glyph by glyph."""
    return parse_marking(text)


SOURCE_KINDS = tuple(kind.value for kind in SourceKind)
ROLES = tuple(role.value for role in PhotographRole)
