"""An entry as blocks of an account: each field where its declaration says it stands."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace
from enum import Enum
from typing import Any

from pydantic import BaseModel

from ironlace.care.cautions import DEFER, GENERAL, Hazard, called_for, caution_for
from ironlace.dossier.account.blocks import (
    Block,
    Cautions,
    Cell,
    GlyphCell,
    Heading,
    Item,
    Margin,
    MarkRow,
    Matter,
    Pairs,
    Plates,
    References,
    Remark,
    Rivals,
    Row,
    Says,
    SetOff,
    Struck,
    Tabular,
    Voucher,
)
from ironlace.dossier.rivals import rivals
from ironlace.evidence.edtf_dates import date_in_words
from ironlace.evidence.markings import Glyph, GlyphKind
from ironlace.evidence.quantities import parse_measured
from ironlace.evidence.sources import Source
from ironlace.evidence.wording import capital
from ironlace.record.choices import NOT_TOLD, Stage, Topic
from ironlace.record.entries import (
    Mark,
    Question,
    ReadingsEntry,
    SourceEntry,
    Statement,
    Treatment,
)
from ironlace.record.entry_fields import Control, EntryField, InAccount, fields_of
from ironlace.record.history import Record
from ironlace.record.other_readings import OtherReading, misread_glyphs, other_reading
from ironlace.record.readings import StruckFigure

_CALL_FOR_ANSWERS = (
    "A photograph of another machine’s number, or a dated paper that came with one, may answer a "
    "question here. If you can, write to whoever gave you this account."
)
_INVISIBLE = {" ": "gap", "·": "dot", "°": "ring", "-": "hyphen", "/": "stroke"}
_PUNCH_WORDS = {"★": "star", "✚": "cross", "◆": "diamond", "&": "and"}


class EntryReader:
    """Reads the entries of a record, knowing what they call one another."""

    def __init__(self, record: Record) -> None:
        self.record = record
        self.names = set(record.by_name)
        self._titles = {name: entry.title for name, entry in record.of(SourceEntry)}
        self._vouched: dict[str, list[str]] = defaultdict(list)
        for name, entry in record.by_name.items():
            for source in getattr(entry, "sources", ()):
                if source.entry and name not in self._vouched[source.entry]:
                    self._vouched[source.entry].append(name)

    def item(self, name: str, entry: BaseModel) -> Item:
        """One entry: heading, blocks, and in the margin how it is known."""
        at: dict[InAccount, list[tuple[EntryField, str]]] = defaultdict(list)
        pictures: dict[InAccount, list[tuple[EntryField, tuple[str, ...]]]] = defaultdict(list)
        hazards: list[Hazard] = []
        for field in fields_of(type(entry)):
            value = getattr(entry, field.name)
            if value is None or value in ("", ()):
                continue
            if field.control is Control.PICTURES:
                known = tuple(picture for picture in value if picture in self.names)
                if known:
                    pictures[field.account].append((field, known))
            elif field.control is Control.HAZARDS:
                hazards += value
            elif field.control in (Control.OTHER_READINGS, Control.READING_TABLE):
                continue  # told in blocks of their own
            else:
                at[field.account].append((field, field_in_words(field, value)))
        headings = [words for _, words in at[InAccount.HEADING]]
        return Item(
            name,
            (
                *_blocks(at),
                *_read_otherwise(entry),
                *_seen_on(pictures[InAccount.SEEN_ON], entry),
            ),
            self.margin(name, entry, [_phrase(*pair) for pair in at[InAccount.MARGIN]]),
            heading=headings[0] if headings else "",
            lighter=", ".join(headings[1:]),
            below=(
                *cautions_of(called_for(hazards, getattr(entry, "materials", ()))),
                *_plates(pictures[InAccount.PLATES]),
            ),
        )

    def margin(self, name: str, entry: BaseModel, lines: Sequence[str] = ()) -> Margin:
        """How an entry is known, what vouches for it, and what it vouches for itself."""
        vouched = tuple(self._vouched.get(name, ()))
        return Margin(
            grade=getattr(entry, "grade", None),
            vouchers=tuple(self._voucher(source) for source in getattr(entry, "sources", ())),
            lines=tuple(capital(line) if at == 0 else line for at, line in enumerate(lines)),
            references=References("Vouches for", vouched)
            if vouched and isinstance(entry, SourceEntry)
            else None,
            small_print=name,
        )

    def _voucher(self, source: Source) -> Voucher:
        words = source.kind.value
        if source.entry:
            title = self._titles.get(source.entry, "")
            words = f"{source.entry}, {title}" if title else source.entry
        if source.says:
            words = f"{words}: {source.says}"
        known = source.entry if source.entry and source.entry in self.names else ""
        return Voucher(words, known)


def field_in_words(field: EntryField, value: Any) -> str:
    """What a field holds, as a person reads it; every date, quantity and choice in words."""
    match field.control:
        case Control.DATE:
            return date_in_words(value)
        case Control.TICK:
            return "yes" if value else "no"
        case Control.QUANTITY:
            return parse_measured(value).both_ways()
        case Control.LINES:
            return ("; " if field.account is InAccount.LABELLED else ", ").join(value)
        case _:
            words = str(value.value) if isinstance(value, Enum) else str(value)
            words = dict(field.choices).get(words, words)
            unlabelled = field.account is InAccount.LINE and value in NOT_TOLD
            return f"{field.label.lower()}: {words}" if unlabelled else words


def cautions_of(hazards: Iterable[Hazard]) -> tuple[Block, ...]:
    """The cautions for some hazards, as a block, or nothing."""
    found = tuple(
        (c.hazard.value, c.says, rests_on(c.founded_on)) for c in map(caution_for, hazards)
    )
    return (Cautions(found),) if found else ()


def rests_on(founded_on: str) -> str:
    """What a caution rests on and gives way to, as the sentences behind it."""
    said = f"{capital(founded_on)}." if founded_on.startswith(GENERAL) else f"After {founded_on}."
    return f"{said} {DEFER}"


def statement_blocks(reader: EntryReader) -> tuple[Block, ...]:
    """What the machine is, topic by topic; rivals side by side."""
    by_topic: dict[Topic, list[tuple[Statement, Item]]] = defaultdict(list)
    for name, entry in reader.record.of(Statement):
        item = reader.item(name, entry)
        first = Says(entry.says_in_words())
        by_topic[entry.about].append((entry, replace(item, blocks=(first, *item.blocks[1:]))))
    blocks: list[Block] = []
    for topic in Topic:
        said = by_topic[topic]
        if not said:
            continue
        blocks.append(Heading(topic.value))
        items = tuple(item for _, item in said)
        if rivals(topic, [statement for statement, _ in said]):
            blocks.append(Rivals(items))
        else:
            blocks += items
    return tuple(blocks)


def mark_blocks(reader: EntryReader) -> tuple[Block, ...]:
    """The marks, glyph by glyph."""
    blocks = []
    for name, entry in reader.record.of(Mark):
        item = reader.item(name, entry)
        row = mark_row(entry)
        blocks.append(replace(item, blocks=(row, *item.blocks)))
    return tuple(blocks)


def mark_row(mark: Mark) -> MarkRow:
    """A mark's reading, glyph by glyph."""
    marking = mark.marking
    return MarkRow(tuple(_cell(glyph) for glyph in marking.glyphs), marking.spoken(), mark.reads)


def treatment_blocks(reader: EntryReader) -> tuple[Block, ...]:
    """What was done; then what is intended and not done."""
    found = list(reader.record.of(Treatment))
    done = [reader.item(name, t) for name, t in found if t.stage is Stage.DONE]
    intended = [reader.item(name, t) for name, t in found if t.stage is Stage.INTENDED]
    if not intended:
        return tuple(done)
    return (
        *done,
        Heading("intended, not done"),
        *(_as_intended(item) for item in intended),
    )


def _as_intended(item: Item) -> Item:
    margin = replace(item.margin, lines=("Intended, not done", *item.margin.lines))
    return replace(item, margin=margin)


def readings_blocks(reader: EntryReader) -> tuple[Block, ...]:
    """Tables of readings: with what, the figures, and what was struck out with its reason."""
    blocks: list[Block] = []
    for name, entry in reader.record.of(ReadingsEntry):
        item = reader.item(name, entry)
        with_what = [
            f"{column.name}: {column.with_what()}"
            for column in entry.table.columns
            if column.with_what()
        ]
        told: list[Block] = [Remark(capital("; ".join(with_what)) + ".")] if with_what else []
        told += [
            Struck(one.read, f"in row {one.row}, {one.column}: {one.why} ({_stands(entry, one)}).")
            for one in entry.table.struck
        ]
        table = _readings_table(entry)
        left = len(entry.table.rows) - len(table.rows)
        if left > 0:
            told.append(
                Remark(f"{left} further rows are in the pack and in the record, as a table.")
            )
        blocks.append(replace(item, blocks=(*item.blocks, *told), below=(table, *item.below)))
    return tuple(blocks)


def _stands(entry: ReadingsEntry, one: StruckFigure) -> str:
    at = [column.name for column in entry.table.columns].index(one.column)
    figure = entry.table.rows[one.row - 1][at]
    return f"{figure} stands" if figure else "nothing stands in its place"


_MOST_ROWS = 60
"""Rows of a table of readings that an account prints: more than a page nobody reads as figures."""


def _readings_table(entry: ReadingsEntry) -> Tabular:
    columns = entry.table.columns
    share = 100 // len(columns)
    rows = tuple(
        Row(
            tuple(
                Cell(
                    figure,
                    tuple(
                        f"{one.read} struck out"
                        for one in entry.table.struck_at(number, column.name)
                    ),
                    look="figure",
                )
                for figure, column in zip(row, columns, strict=True)
            )
        )
        for number, row in enumerate(entry.table.rows[:_MOST_ROWS], 1)
    )
    return Tabular(
        tuple(column.heading for column in columns),
        (share,) * len(columns),
        rows,
        figures=tuple(range(len(columns))),
    )


def question_blocks(reader: EntryReader) -> tuple[Block, ...]:
    """What is not known, with a call for answers; then what has been answered since."""
    questions = list(reader.record.of(Question))
    still_open = [reader.item(name, q) for name, q in questions if not q.answer]
    answered = [reader.item(name, q) for name, q in questions if q.answer]
    blocks: list[Block] = [Matter(_CALL_FOR_ANSWERS)] if still_open else []
    blocks += still_open
    if answered:
        blocks += [Heading("answered since"), *answered]
    return tuple(blocks)


def _blocks(at: dict[InAccount, list[tuple[EntryField, str]]]) -> Iterable[Block]:
    yield from (Says(words) for _, words in at[InAccount.SAYS])
    line = [(field, _phrase(field, words)) for field, words in at[InAccount.LINE]]
    urgent = [words for field, words in line if words == field.words.urgent]
    usual = " · ".join(words for _, words in line if words not in urgent)
    if urgent:
        yield Remark(usual, capital(" · ".join(urgent)) + (" ·" if usual else "."))
    elif usual:
        yield Remark(capital(usual))
    yield from (Matter(words) for _, words in at[InAccount.MATTER])
    yield from (Matter(words, f"{field.label}.") for field, words in at[InAccount.LABELLED])
    if at[InAccount.PAIR]:
        yield Pairs(tuple((field.label, words) for field, words in at[InAccount.PAIR]))
    if at[InAccount.SET_OFF]:
        strong, *rest = (words for _, words in at[InAccount.SET_OFF])
        yield SetOff(f"{capital(strong)}.", "\n\n".join(rest))


def _read_otherwise(entry: BaseModel) -> Iterable[Block]:
    """Other readings beside the one that stands; those given up struck out, with the reason."""
    for one in other_readings_of(entry):
        if one.given_up:
            misread = misread_glyphs(str(getattr(entry, "reads", "")), one.reads)
            yield Struck(one.reads, one.beside() + (f" ({misread})" if misread else "") + ".")
        else:
            yield Matter(f"{one.reads}{f' ({one.by})' if one.by else ''}.", "Also read as.")


def other_readings_of(entry: BaseModel) -> list[OtherReading]:
    """What else was read of what an entry reads, by whom, and what was given up."""
    return [
        other_reading(line)
        for field in fields_of(type(entry))
        if field.control is Control.OTHER_READINGS
        for line in getattr(entry, field.name)
    ]


def _phrase(field: EntryField, words: str) -> str:
    return field.words.phrase.format(words)


def _seen_on(fields: list[tuple[EntryField, tuple[str, ...]]], entry: BaseModel) -> Iterable[Block]:
    """Photographs to look at; those that vouch for the entry stand in the margin already."""
    vouching = {source.entry for source in getattr(entry, "sources", ())}
    shown = dict.fromkeys(name for _, known in fields for name in known)
    names = tuple(name for name in shown if name not in vouching)
    if names:
        yield References("See", names)


def _plates(fields: list[tuple[EntryField, tuple[str, ...]]]) -> Iterable[Block]:
    if fields:
        yield Plates(
            tuple(("" if f.words.phrase == "{}" else f.words.phrase, known) for f, known in fields)
        )


def _cell(glyph: Glyph) -> GlyphCell:
    if not glyph.options:
        word = "unread"
    elif len(glyph.options) > 1:
        word = " or ".join(_INVISIBLE.get(sign, sign) for sign in glyph.options)
    else:
        word = _INVISIBLE.get(glyph.options[0], _PUNCH_WORDS.get(glyph.options[0], ""))
    return GlyphCell(glyph.options, word, glyph.doubtful, glyph.kind is GlyphKind.GAP)
