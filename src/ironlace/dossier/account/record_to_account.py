"""Turn a record into an account: choose, order and put into words, adding nothing."""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import replace

from pydantic import BaseModel

from ironlace import __version__
from ironlace.dossier.account.blocks import (
    Album,
    Block,
    DrawingShown,
    FigureShown,
    Heading,
    Item,
    Matter,
    PictureFile,
    Plate,
    Plates,
    References,
    Remark,
    Section,
    SheetsShown,
)
from ironlace.dossier.account.drawing_in_words import evidence_map, standing, without_lines
from ironlace.dossier.account.entries_as_blocks import (
    EntryReader,
    mark_blocks,
    mark_row,
    question_blocks,
    readings_blocks,
    statement_blocks,
    treatment_blocks,
)
from ironlace.dossier.account.entries_as_tables import (
    measurement_blocks,
    outlay_blocks,
    report_blocks,
)
from ironlace.dossier.account.findings_as_blocks import (
    FindingWords,
    finding_item,
    headline_of,
    method_item,
    method_margin,
    sentences,
)
from ironlace.dossier.account.threading_as_blocks import threading_blocks
from ironlace.dossier.account.whole import Account, Colophon
from ironlace.dossier.print.ink_window import ink_window
from ironlace.dossier.print.plain_drawing import read_drawing
from ironlace.dossier.privacy import Audience, Choice, Withheld, copy_for, history_for
from ironlace.dossier.record_file import record_document
from ironlace.dossier.rivals import rivals
from ironlace.dossier.words import shortened
from ironlace.evidence.analyses import SECTIONS
from ironlace.evidence.edtf_dates import date_in_words
from ironlace.evidence.findings import DATE_FINDING, checksum_of
from ironlace.evidence.grades import Grade
from ironlace.evidence.wording import capital
from ironlace.record.choices import PhotographRole, Topic
from ironlace.record.entries import (
    ENTRY_KINDS,
    DrawingEntry,
    FindingEntry,
    Mark,
    Measurement,
    Outlay,
    Photograph,
    Question,
    Rate,
    ReadingsEntry,
    ReportEntry,
    Statement,
    Treatment,
)
from ironlace.record.entry_fields import fields_of, words_of
from ironlace.record.heading import heading_photograph
from ironlace.record.history import Change, Record

_LEADS = (
    PhotographRole.AFTER,
    PhotographRole.BEFORE,
    PhotographRole.PART,
)
_SUMMARY = (Topic.KIND, Topic.MAKER, Topic.MODEL, Topic.PLACE, Topic.MADE, Topic.SHUTTLE)
_DRAWING_LINES = 3
"""Sentences on a drawing that stand beside it; the rest are in the note."""

_METHOD_OPENING = (
    "For whoever wants to work it out again: what else was found, by what method, from what, and "
    "what was taken for granted."
)

_LONGEST_SUMMARY = 110
"""Characters of a line on the first page: two lines of print beside its topic."""

ORDER = (
    "what-it-is",
    "marks",
    "date",
    "reports",
    "condition",
    "measurements",
    "ornament",
    "running",
    "stand",
    "care",
    "worked-out",
    "treatments",
    "provenance",
    "hours-and-costs",
    "questions",
    "photographs",
    "sources",
    "method",
)
"""Keys of the sections in the order of reading; a kind's own new section follows the treatments."""

_OTHERWISE, _METHOD = "worked-out", "method"
_FINDINGS_IN = {"made": "date"}  # an old address; the analyses call the section `made`
_TITLES = {
    "date": SECTIONS["made"],
    **{key: SECTIONS[key] for key in ("running", "stand", "care")},
    _OTHERWISE: "What else was worked out",
    _METHOD: "How it was worked out",
}
"""Titles of the sections that no kind of entry opens."""

_USUAL_WORDS: Mapping[str, FindingWords] = {
    DATE_FINDING: FindingWords("When was it made?", "made"),
}


def account_of(  # long: what each argument is
    record: Record,
    pictures: Mapping[str, PictureFile],
    drawings: Mapping[str, str],
    *,
    changes: Sequence[Change] = (),
    private: bool = False,
    hours_and_costs: bool = False,
    changed: Mapping[str, bool] | None = None,
    finding_words: Mapping[str, FindingWords] | None = None,
    figures: Mapping[str, Sequence[FigureShown]] | None = None,
    sheets: Mapping[str, SheetsShown] | None = None,
    without: Collection[str] = (),
    version: str = __version__,
) -> Account:
    """Give the account of what a record holds.

    Parameters
    ----------
    pictures
        Viewing copies by the name of their photograph, such as ``photograph 12``. A photograph
        without one has its words all the same. By the name of a drawing the flattened photograph
        that lies under it.
    drawings
        SVG in mm by the name of their drawing.
    changes
        The record's history, for the colophon and, in a private account, for its document.
    private
        Whether what is marked private comes in too: see `ironlace.dossier.privacy.copy_for`.
    hours_and_costs
        Whether hours and costs come in.
    changed
        By the key of a thing, what leaves otherwise than is usual; see `ironlace.dossier.leaving`.
    finding_words
        How findings are announced, by the name of their entry (``finding 3``) or what they are
        about; one of neither stands under what else was worked out.
    figures
        Plots that belong to a finding, by the name of its entry.
    sheets
        Planned stencil sheets, small, by the name of their drawing.
    without
        Names of entries that are not told of; the account's document holds them all the same.

    Raises
    ------
    DrawingRefusedError
        When a drawing is not a plain vector drawing in mm.
    """
    whom = Audience.NEXT_OWNER if private else Audience.STRANGERS
    choice = Choice(whom, hours_and_costs, changed or {})
    copy, withheld = copy_for(record, choice)
    plates = tuple(_plate(name, entry, pictures) for name, entry in copy.of(Photograph))
    shown, words = _shown(copy, without), finding_words or {}
    sections = _Sections(
        shown,
        drawings,
        words,
        figures or {},
        sheets or {},
        pictures,
        private=private,
        on_request=hours_and_costs or any(True for _ in copy.of(Outlay)),
    )
    lead = _lead(copy, plates)
    until = [c for c in changes if record.as_of is None or c.made_at <= record.as_of]
    first = next((mark_row(entry) for _, entry in copy.of(Mark)), None)
    return Account(
        slug=copy.slug,
        title=copy.title,
        summary=_summary(copy),
        first_mark=first,
        lead=lead,
        sections=_pictures_once(sections.held(), lead),
        absent=sections.absent(),
        plates=plates,
        colophon=replace(
            _colophon(copy, until, withheld, private=private, version=version),
            let_out=sum(choice.changed.values()),
            kept_back=sum(not leaves for leaves in choice.changed.values()),
        ),
        record=copy,
        document=record_document(copy, history_for(record, until, choice), version),
    )


def _shown(record: Record, without: Collection[str]) -> Record:
    told = {k: e for k, e in record.entries.items() if f"{k[0].value} {k[1]}" not in without}
    return Record(record.slug, record.title, told, record.as_of)


def _colophon(
    record: Record, changes: Sequence[Change], withheld: Withheld, *, private: bool, version: str
) -> Colophon:
    findings = [entry.finding for _, entry in record.of(FindingEntry)]
    findings += [entry.finding for _, entry in record.of(DrawingEntry)]
    return Colophon(
        as_of=record.as_of,
        changes=len(changes),
        last_change=max((c.made_at for c in changes), default=None),
        version=version,
        findings=len(findings),
        fingerprint=checksum_of(sorted(finding.fingerprint() for finding in findings)),
        withheld=withheld,
        private=private,
    )


class _Sections:
    """Fills the sections, from each kind of entry and from the findings."""

    def __init__(
        self,
        record: Record,
        drawings: Mapping[str, str],
        finding_words: Mapping[str, FindingWords],
        figures: Mapping[str, Sequence[FigureShown]],
        sheets: Mapping[str, SheetsShown],
        pictures: Mapping[str, PictureFile],
        *,
        private: bool,
        on_request: bool,
    ) -> None:
        self.record = record
        self.reader = EntryReader(record)
        self.drawings = drawings
        self.finding_words = {**_USUAL_WORDS, **finding_words}
        self.figures, self.sheets, self.pictures = figures, sheets, pictures
        self.titles = dict(_TITLES)
        self.blocks: dict[str, list[Block]] = defaultdict(list)
        self.openings: dict[str, str] = {}
        by_hand: dict[type[BaseModel], Callable[[], Iterable[Block]]] = {
            Statement: lambda: statement_blocks(self.reader),
            Mark: lambda: mark_blocks(self.reader),
            Measurement: lambda: measurement_blocks(self.reader),
            ReadingsEntry: lambda: readings_blocks(self.reader),
            Treatment: lambda: treatment_blocks(self.reader),
            Rate: tuple,  # told with the sums that they make
            ReportEntry: lambda: report_blocks(self.reader, private=private),
            DrawingEntry: self._drawings,
            Outlay: lambda: outlay_blocks(self.reader),
            Question: lambda: question_blocks(self.reader),
            Photograph: lambda: [Album()] if any(record.of(Photograph)) else [],
        }
        for model in ENTRY_KINDS.values():
            words = words_of(model)
            if words.section:
                self.titles.setdefault(words.section, words.title)
                if on_request or not words.on_request:
                    make = by_hand.get(model, lambda model=model: self._items(model))
                    self.blocks[words.section] += (*self._urgent(model), *make())
                self.openings[words.section] = self.openings.get(words.section) or words.opening
        self.blocks["running"] += threading_blocks(self.reader, pictures)
        for name, entry in record.of(FindingEntry):
            self._add_finding(name, entry)
        self.blocks[_METHOD] = [*self._methods()]

    def held(self) -> tuple[Section, ...]:
        """The sections that hold something, in the order of reading."""
        return tuple(
            Section(key, self.titles[key], tuple(self.blocks[key]), self._opening(key))
            for key in self._keys()
            if self.blocks[key]
        )

    def absent(self) -> tuple[str, ...]:
        """Titles of those that hold nothing, findings of analyses nobody asked for aside."""
        asked_for = {"date", *self.openings}
        return tuple(
            self.titles[key] for key in self._keys() if key in asked_for and not self.blocks[key]
        )

    def _opening(self, key: str) -> str:
        return _METHOD_OPENING if key == _METHOD else self.openings.get(key, "")

    def _keys(self) -> list[str]:
        at = ORDER.index("treatments") + 1
        own = [key for key in self.titles if key not in ORDER]
        return [*ORDER[:at], *own, *ORDER[at:]]

    def _items(self, model: type[BaseModel]) -> Iterable[Block]:
        return [self.reader.item(name, entry) for name, entry in self.record.of(model)]

    def _urgent(self, model: type[BaseModel]) -> Iterable[Block]:
        """The entries of a kind that must not be missed, named in one sentence."""
        for field in fields_of(model):
            if field.words.urgent:
                names = [
                    self.reader.item(name, entry).heading
                    for name, entry in self.record.of(model)
                    if getattr(entry, field.name) == field.words.urgent
                ]
                if names:
                    yield Remark(f"{', '.join(names)}.", f"{capital(field.words.urgent)}:")

    def _drawings(self) -> Iterable[Block]:
        for name, entry in self.record.of(DrawingEntry):
            svg = self.drawings.get(name)
            drawing = None if svg is None else read_drawing(svg)
            shown = DrawingShown(
                name=name,
                title=entry.name,
                width_mm=entry.width_mm,
                height_mm=entry.height_mm,
                photographs=entry.photographs,
                grade=entry.grade,
                drawing=drawing,
                bare=None if svg is None else read_drawing(without_lines(svg)),
                ink=None if drawing is None else ink_window(drawing),
                ground=self.pictures.get(name),
            )
            yield Heading(entry.name)
            yield self._drawing_item(name, entry, shown)
            yield shown
            if svg is not None and (known := evidence_map(name, entry.name, svg)):
                yield known
            if name in self.sheets:
                yield self.sheets[name]

    def _drawing_item(self, name: str, entry: DrawingEntry, shown: DrawingShown) -> Item:
        item = self.reader.item(name, entry)
        traced = tuple(name for name in entry.photographs if name in self.reader.names)
        blocks: list[Block] = [Remark(f"{shown.size}.")]
        if traced:
            blocks = [References(f"{shown.size}. Traced from", traced)]
        if told := sentences(entry.finding.sentence)[:_DRAWING_LINES]:
            blocks.append(Matter(" ".join(told)))
        margin = replace(item.margin, note=method_margin(name, entry.finding).note)
        return replace(item, blocks=(*blocks, *item.blocks), margin=margin)

    def _methods(self) -> Iterable[Block]:
        """How each finding was worked out, of drawings too: the note at the end."""
        for name, entry in self.record.of(FindingEntry):
            yield method_item(name, entry.finding, self._words_of(name, entry.finding.about))
        for name, drawing in self.record.of(DrawingEntry):
            words = replace(
                self._words_of(name, drawing.finding.about), question=f"The drawing {drawing.name}"
            )
            yield method_item(name, drawing.finding, words, standing(drawing.finding))

    def _words_of(self, name: str, about: str) -> FindingWords:
        return self.finding_words.get(name) or self.finding_words.get(about) or FindingWords()

    def _add_finding(self, name: str, entry: FindingEntry) -> None:
        words = self._words_of(name, entry.finding.about)
        key = _FINDINGS_IN.get(words.section, words.section)
        if key not in self.titles or key == _METHOD:
            key = _OTHERWISE
        self.blocks[key].append(
            finding_item(name, entry.finding, entry.note, words, self.figures.get(name, ()))
        )


def _pictures_once(sections: tuple[Section, ...], lead: str) -> tuple[Section, ...]:
    """The sections with each photograph shown where it comes first; later its name must do."""
    shown = {lead}
    return tuple(
        replace(section, blocks=tuple(_once(block, shown) for block in section.blocks))
        for section in sections
    )


def _once(block: Block, shown: set[str]) -> Block:
    match block:
        case Item():
            blocks = tuple(_once(inner, shown) for inner in block.blocks)
            return replace(block, blocks=blocks, below=tuple(_once(b, shown) for b in block.below))
        case Plates():
            new: list[tuple[str, tuple[str, ...]]] = []
            old: list[tuple[str, tuple[str, ...]]] = []
            for word, names in block.columns:
                fresh = tuple(name for name in names if name not in shown)
                known = tuple(name for name in names if name in shown)
                shown.update(names)
                new += [(word, fresh)] if fresh else []
                old += [(word, known)] if known else []
            return Plates(tuple(new), tuple(old))
        case _:
            return block


def _summary(record: Record) -> tuple[tuple[str, str, Grade], ...]:
    """What a first page says: of each topic what is best known, or that there are rivals."""
    by_topic = defaultdict(list)
    for _, statement in record.of(Statement):
        by_topic[statement.about].append(statement)
    dates = [e.finding for _, e in record.of(FindingEntry) if e.finding.about == DATE_FINDING]
    lines = []
    for topic in _SUMMARY:
        said = by_topic[topic]
        if topic is Topic.MADE and dates:
            lines.append((topic.value, headline_of(dates[-1]), dates[-1].grade))
        elif rivals(topic, said):
            weakest = max((s.grade for s in said), key=list(Grade).index)
            count = len({s.says_in_words() for s in said})
            lines.append((topic.value, f"{count} rival statements, see within", weakest))
        elif said:
            best = min(said, key=lambda statement: list(Grade).index(statement.grade))
            lines.append((topic.value, best.says_in_words(), best.grade))
    return tuple((topic, shortened(line, _LONGEST_SUMMARY), grade) for topic, line, grade in lines)


def _plate(name: str, entry: Photograph, pictures: Mapping[str, PictureFile]) -> Plate:
    return Plate(
        name=name,
        role=entry.role.value,
        caption=entry.caption,
        date=date_in_words(entry.date),
        credit=entry.credit,
        rights=entry.rights,
        scale=entry.scale,
        note=entry.note,
        picture=pictures.get(name),
    )


def _lead(record: Record, plates: Iterable[Plate]) -> str:
    at_hand = {plate.name for plate in plates if plate.picture}
    photographs = [(name, p) for name, p in record.of(Photograph) if name in at_hand]
    heading = heading_photograph(photographs)
    if heading is not None:
        return heading[0]
    for role in _LEADS:
        for name, photograph in photographs:
            if photograph.role is role:
                return name
    return photographs[0][0] if photographs else ""
