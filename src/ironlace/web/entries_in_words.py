"""An entry in words on a page: a headline, its details, its evidence."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ironlace.evidence.edtf_dates import date_in_words as _date_in_words
from ironlace.evidence.findings import Finding
from ironlace.evidence.grades import Grade
from ironlace.evidence.markings import Marking, parse_marking
from ironlace.evidence.quantities import parse_measured
from ironlace.evidence.sources import Source, SourceKind
from ironlace.record import (
    ENTRY_KINDS,
    DrawingEntry,
    Entry,
    EntryKind,
    FindingEntry,
    ReadingsEntry,
    ThreadingEntry,
)
from ironlace.record import PhotographRole as _Role
from ironlace.record.entry_fields import Control, EntryField, fields_of, words_of
from ironlace.record.other_readings import OtherReading, misread_glyphs, other_reading
from ironlace.record.readings import ReadingTable
from ironlace.record.values_in_words import checksum_like, name_in_words, value_in_words
from ironlace.running.threading.plan import not_said
from ironlace.running.threading.steps import known_in_words, steps_in_words


def plural(kind: EntryKind) -> str:
    """What entries of a kind are called together."""
    return words_of(ENTRY_KINDS[kind]).many


def singular(kind: EntryKind) -> str:
    """What one entry of a kind is called."""
    return words_of(ENTRY_KINDS[kind]).one


def one(kind: EntryKind) -> str:
    """One entry of a kind with its article.

    >>> one(EntryKind.OUTLAY), one(EntryKind.MARK)
    ('an outlay', 'a mark')
    """
    word = singular(kind)
    return f"{'an' if word[0] in 'aeiou' else 'a'} {word}"


def headline(entry: Entry) -> str:
    """An entry in one line."""
    return entry.in_brief()


def grade_of(entry: Entry) -> Grade | None:
    """An entry's grade, None for what states nothing."""
    if isinstance(entry, FindingEntry):
        return entry.finding.grade
    found = getattr(entry, "grade", None)
    return found if isinstance(found, Grade) else None


def sources_of(entry: Entry) -> tuple[Source, ...]:
    """What vouches for an entry."""
    return tuple(getattr(entry, "sources", ()))


@dataclass(frozen=True, slots=True)
class Detail:
    """A line of an entry: its label, its text, the photographs it names.

    `readings` are other readings: each with what is said beside it, and whether it was given up.
    """

    label: str
    text: str
    photographs: tuple[str, ...] = ()
    readings: tuple[tuple[str, str, bool], ...] = ()


def details(entry: Entry) -> list[Detail]:
    """Everything an entry says beyond its headline, as labelled lines."""
    lines = [
        detail for field in fields_of(type(entry)) if (detail := _detail(entry, field)) is not None
    ]
    if isinstance(entry, ThreadingEntry):
        lines += _steps(entry)
    if isinstance(entry, FindingEntry | DrawingEntry):
        lines += _finding_details(entry.finding)
    return lines


def _steps(entry: ThreadingEntry) -> Iterator[Detail]:
    """The steps of a threading plan, and what it leaves open."""
    plan = entry.plan()
    words = steps_in_words(plan)
    for point in plan.point:
        label = f"{point.thread.capitalize()} thread, {point.number}"
        yield Detail(label, f"{words[point.number]} ({known_in_words(point)})")
    if still_open := not_said(plan):
        yield Detail("Not said", " ".join(still_open))


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
    return _date_in_words(text, with_edtf=True)


def _comparable(entry: Entry | None) -> Iterator[Detail]:
    if entry is None:
        return
    yield from details(entry)
    if isinstance(entry, ReadingsEntry):
        yield from _cells(entry.table)
    if isinstance(entry, FindingEntry):
        yield from (
            Detail(name_in_words(result.name), f"{result.in_words()} ({result.grade})")
            for result in entry.finding.results
        )
    grade = grade_of(entry)
    if grade is not None:
        yield Detail("How it is known", grade.value)
    sources = sources_of(entry)
    if sources:
        yield Detail("Sources", "; ".join(s.in_words() for s in sources))


def _cells(table: ReadingTable) -> Iterator[Detail]:
    """A table figure by figure, so that a change names the place."""
    for column in table.columns:
        yield Detail(f"{column.heading}, read with", column.with_what())
    for number, row in enumerate(table.rows, 1):
        for column, cell in zip(table.columns, row, strict=True):
            yield Detail(f"Row {number}, {column.heading}", cell)
    yield Detail("Struck out", "; ".join(str(one) for one in table.struck))


def _flat(detail: Detail | None) -> str:
    if detail is None:
        return ""
    return ", ".join((*((detail.text,) if detail.text else ()), *detail.photographs))


def _detail(entry: Entry, field: EntryField) -> Detail | None:
    value = getattr(entry, field.name)
    if value is None or value in ("", ()):
        return None
    match field.control:
        case Control.GRADE | Control.SOURCES:
            return None
        case Control.PICTURES:
            return Detail(field.label, "", tuple(value))
        case Control.READING_TABLE:
            return Detail(field.label, value.in_words())
        case Control.OTHER_READINGS:
            found = [(other_reading(line), line) for line in value]
            readings = tuple((one.reads, _beside(entry, one), one.given_up) for one, _ in found)
            return Detail(field.label, "; ".join(line for _, line in found), readings=readings)
        case Control.LINES | Control.HAZARDS:
            return Detail(field.label, "; ".join(str(line) for line in value))
        case Control.TICK:
            return Detail(field.label, "yes" if value else "no")
        case Control.DATE:
            return Detail(field.label, date_in_words(str(value)))
        case Control.QUANTITY:
            return Detail(field.label, parse_measured(value).both_ways())
        case _:
            return Detail(field.label, dict(field.choices).get(str(value), str(value)))


def _beside(entry: Entry, one: OtherReading) -> str:
    misread = misread_glyphs(getattr(entry, "reads", ""), one.reads) if one.given_up else ""
    return f"{one.beside()} ({misread})" if misread else one.beside()


def _finding_details(finding: Finding) -> Iterator[Detail]:
    yield Detail("About", finding.about)
    if isinstance(finding.value, dict):
        yield from (
            Detail(name_in_words(name), value_in_words(value, with_edtf=True))
            for name, value in finding.value.items()
            if not checksum_like(value)
        )
    else:
        value = value_in_words(finding.value, with_edtf=True)
        yield Detail("Value", f"{value} {finding.unit}".strip())
    if finding.sentence:
        yield Detail("In words", finding.sentence)
    if finding.interval is not None:
        yield Detail("Interval", _interval(finding))
    yield Detail("Method", finding.method.name)
    if finding.method.published:
        yield Detail("Method published", finding.method.published)
    if finding.inputs:
        yield Detail("Computed from", ", ".join(_inputs(finding.inputs.items())))
    yield Detail("Computed by", f"Ironlace {finding.version}")


def _interval(finding: Finding) -> str:
    """An interval in words first; its dates in EDTF beneath."""
    assert finding.interval is not None
    words = finding.interval.in_words(finding.unit)
    ends = [
        ".." if end is None else str(end) for end in (finding.interval.low, finding.interval.high)
    ]
    dates = [end for end in ends if date_in_words(end) != end]
    return f"{words}\nEDTF: {'/'.join(ends)}" if dates else words


def _inputs(items: Iterable[tuple[str, str]]) -> list[str]:
    return [f"{name} ({checksum[:8]})" for name, checksum in items]


def marking(text: str) -> Marking:
    """A mark's reading, glyph by glyph."""
    return parse_marking(text)


SOURCE_KINDS = tuple(kind.value for kind in SourceKind)
ROLES = tuple(role.value for role in _Role)
