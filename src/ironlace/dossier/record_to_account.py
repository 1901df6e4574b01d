"""Turn a record into an account: choose, order and put into words, adding nothing."""

import math
import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from ironlace import __version__
from ironlace.care.cautions import caution_for
from ironlace.dossier.account import (
    Account,
    Asked,
    CautionTold,
    Colophon,
    DrawingTold,
    Evidence,
    GlyphCell,
    MarkTold,
    OutlaySums,
    OutlayTold,
    PartTold,
    PictureFile,
    Plate,
    Reading,
    ReportTold,
    Said,
    SourceTold,
    Step,
    TopicTold,
    TreatmentTold,
    Voucher,
    Worked,
)
from ironlace.dossier.drawing_told import standing
from ironlace.dossier.findings_told import worked
from ironlace.dossier.ink_window import ink_window
from ironlace.dossier.plain_drawing import read_drawing
from ironlace.dossier.privacy import Withheld, public_copy
from ironlace.dossier.record_file import record_document
from ironlace.dossier.words import date_in_words, shortened
from ironlace.evidence.findings import Finding, checksum_of
from ironlace.evidence.grades import Grade
from ironlace.evidence.markings import Glyph, GlyphKind, Marking
from ironlace.evidence.quantities import Measured
from ironlace.evidence.sources import Source
from ironlace.record.entries import (
    DrawingEntry,
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
    Risk,
    SourceEntry,
    Statement,
    Topic,
    Treatment,
)
from ironlace.record.history import Change, Record
from ironlace.record.job import DATE_FINDING

# On these a machine has one truth, so that two different statements are rivals.
_ONE_TRUTH = frozenset(Topic) - {Topic.NAME, Topic.FINISH, Topic.OTHER}
_LEADS = (
    PhotographRole.WHOLE,
    PhotographRole.AS_FOUND,
    PhotographRole.AFTER,
    PhotographRole.BEFORE,
    PhotographRole.PART,
)
_SUMMARY = (Topic.KIND, Topic.MAKER, Topic.MODEL, Topic.PLACE, Topic.MADE, Topic.SHUTTLE)
_LONGEST_SUMMARY = 110
_INVISIBLE = {" ": "gap", "·": "dot", "°": "ring", "-": "hyphen", "/": "stroke"}
_INCH = re.compile(r"(?:\bin(?:s|ch|ches)?\b|[\"″])")
_PUNCH_WORDS = {"★": "star", "✚": "cross", "◆": "diamond", "&": "and"}


def account_of(
    record: Record,
    pictures: Mapping[str, PictureFile],
    drawings: Mapping[str, str],
    *,
    changes: Sequence[Change] = (),
    private: bool = False,
    hours_and_costs: bool = False,
    version: str = __version__,
) -> Account:
    """Tell what a record holds.

    Parameters
    ----------
    pictures
        Viewing copies by the name of their photograph, such as ``photograph 12``. A photograph
        without one is still told of.
    drawings
        SVG in mm by the name of their drawing.
    changes
        The record's history, for the colophon and, in a private account, for its document.
    private
        Whether to tell what is marked private too: see `ironlace.dossier.privacy.public_copy`.
    hours_and_costs
        Whether to tell hours and costs.

    Raises
    ------
    DrawingRefusedError
        When a drawing is not a plain vector drawing in mm.
    """
    if private:
        told, withheld = record, Withheld()
    else:
        told, withheld = public_copy(record, hours_and_costs=hours_and_costs)
    teller = _Teller(told)
    plates = tuple(_plate(name, entry, pictures) for name, entry in told.of(Photograph))
    findings = [worked(name, e.finding, e.note) for name, e in told.of(FindingEntry)]
    outlays = list(told.of(Outlay)) if hours_and_costs else []
    counted = [c for c in changes if record.as_of is None or c.made_at <= record.as_of]
    return Account(
        slug=told.slug,
        title=told.title,
        summary=_summary(told, findings),
        topics=_topics(teller),
        marks=tuple(_mark(name, entry, teller) for name, entry in told.of(Mark)),
        dates=tuple(w for w in findings if w.about == DATE_FINDING),
        findings=tuple(w for w in findings if w.about != DATE_FINDING),
        reports=tuple(_report(name, entry, teller) for name, entry in told.of(ReportEntry)),
        parts=tuple(_part(name, entry, teller) for name, entry in told.of(Part)),
        readings=tuple(_reading(name, entry, teller) for name, entry in told.of(Measurement)),
        drawings=tuple(
            _drawing(name, entry, drawings, teller) for name, entry in told.of(DrawingEntry)
        ),
        treatments=tuple(_treatment(name, entry) for name, entry in told.of(Treatment)),
        steps=tuple(_step(name, entry, teller) for name, entry in told.of(Provenance)),
        outlays=tuple(_outlay(name, entry) for name, entry in outlays),
        outlay_sums=_sums([entry for _, entry in outlays]),
        questions=tuple(
            Asked(name, q.asks, q.would_answer, q.answer, q.note) for name, q in told.of(Question)
        ),
        sources=_sources(told),
        plates=plates,
        lead=_lead(told, plates),
        colophon=Colophon(
            as_of=record.as_of,
            changes=len(counted),
            last_change=max((c.made_at for c in counted), default=None),
            version=version,
            findings=len(_findings(told)),
            fingerprint=checksum_of(sorted(f.fingerprint() for f in _findings(told))),
            withheld=withheld,
            private=private,
        ),
        document=record_document(told, counted if private else [], version),
    )


class _Teller:
    """Puts sources into words, knowing what their entries are called."""

    def __init__(self, record: Record) -> None:
        self.record = record
        self.titles = {name: entry.title for name, entry in record.of(SourceEntry)}
        self.names = {f"{kind.value} {number}" for kind, number in record.entries}

    def evidence(self, entry: Any) -> Evidence:
        return Evidence(entry.grade, tuple(self._voucher(source) for source in entry.sources))

    def _voucher(self, source: Source) -> Voucher:
        words = source.kind.value
        if source.entry:
            title = self.titles.get(source.entry, "")
            words = f"{source.entry}, {title}" if title else source.entry
        if source.says:
            words = f"{words}: {source.says}"
        known = source.entry if source.entry and source.entry in self.names else ""
        return Voucher(words, known)


def _findings(record: Record) -> list[Finding]:
    findings = [entry.finding for _, entry in record.of(FindingEntry)]
    return findings + [entry.finding for _, entry in record.of(DrawingEntry)]


def _summary(record: Record, findings: Sequence[Worked]) -> tuple[tuple[str, str, Grade], ...]:
    """What a first page says: one line for a topic on which there are no rivals."""
    by_topic = defaultdict(list)
    for _, statement in record.of(Statement):
        by_topic[statement.about].append(statement)
    lines = []
    for topic in _SUMMARY:
        said = {_says(statement) for statement in by_topic[topic]}
        dates = [w for w in findings if w.about == DATE_FINDING]
        if topic is Topic.MADE and dates:
            lines.append((topic.value, dates[-1].interval or dates[-1].value, dates[-1].grade))
        elif len(said) == 1:
            strongest = min((s.grade for s in by_topic[topic]), key=list(Grade).index)
            lines.append((topic.value, said.pop(), strongest))
        elif said:
            grades = [s.grade for s in by_topic[topic]]
            rivals = f"{len(said)} rival statements, see within"
            lines.append((topic.value, rivals, max(grades, key=list(Grade).index)))
    return tuple((topic, shortened(line, _LONGEST_SUMMARY), grade) for topic, line, grade in lines)


def _says(statement: Statement) -> str:
    if statement.about is Topic.MADE:
        return date_in_words(statement.says)
    return statement.says


def _topics(teller: _Teller) -> tuple[TopicTold, ...]:
    by_topic: dict[Topic, list[Said]] = defaultdict(list)
    for name, entry in teller.record.of(Statement):
        by_topic[entry.about].append(
            Said(name, _says(entry), entry.claimed_by, entry.note, teller.evidence(entry))
        )
    return tuple(
        TopicTold(
            topic.value,
            tuple(by_topic[topic]),
            topic in _ONE_TRUTH and len({said.says for said in by_topic[topic]}) > 1,
        )
        for topic in Topic
        if by_topic[topic]
    )


def _mark(name: str, entry: Mark, teller: _Teller) -> MarkTold:
    marking: Marking = entry.marking
    return MarkTold(
        name=name,
        reads=entry.reads,
        spoken=marking.spoken(),
        glyphs=tuple(_cell(glyph) for glyph in marking.glyphs),
        where=entry.where,
        technique=entry.technique.value,
        purpose=entry.purpose,
        height=entry.height,
        note=entry.note,
        photographs=entry.photographs,
        evidence=teller.evidence(entry),
    )


def _cell(glyph: Glyph) -> GlyphCell:
    if not glyph.options:
        word = "unread"
    elif len(glyph.options) > 1:
        word = " or ".join(_INVISIBLE.get(sign, sign) for sign in glyph.options)
    else:
        word = _INVISIBLE.get(glyph.options[0], _PUNCH_WORDS.get(glyph.options[0], ""))
    return GlyphCell(glyph.options, word, glyph.doubtful, glyph.kind is GlyphKind.GAP)


def _report(name: str, entry: ReportEntry, teller: _Teller) -> ReportTold:
    dated = date_in_words(entry.dated)
    if dated and entry.dated_is not in ("", "at"):
        dated = f"{entry.dated_is} {dated}"
    return ReportTold(
        name=name,
        label=entry.name,
        reads=entry.reads,
        how=entry.how.value,
        sighted=date_in_words(entry.sighted),
        dated=dated,
        dated_by=entry.dated_by,
        variant=entry.variant,
        place=entry.place,
        reporter=entry.reporter,
        counts=entry.counts,
        note=entry.note,
        evidence=teller.evidence(entry),
    )


def _part(name: str, entry: Part, teller: _Teller) -> PartTold:
    return PartTold(
        name=name,
        part=entry.name,
        there=entry.there,
        material=entry.material,
        standing=entry.standing.value,
        state=entry.state.value,
        damage=entry.damage,
        risk=entry.risk.value,
        urgent=entry.risk is Risk.NOW,
        recommended=entry.recommended,
        note=entry.note,
        photographs=entry.photographs,
        evidence=teller.evidence(entry),
    )


def _reading(name: str, entry: Measurement, teller: _Teller) -> Reading:
    measured = entry.measured
    mm = inches = ""
    if measured.is_length:
        mm, inches = _length(measured, "mm", 3), _length(measured, "in", 4)
    in_inches = measured.is_length and measured.unit == "in"
    if in_inches:  # a fraction of an inch is told as it was read
        inches = " ".join(_INCH.sub("", entry.reads).split())
    return Reading(
        name=name,
        what=entry.what,
        part=entry.part,
        as_read=entry.reads,
        mm=mm,
        inches=inches,
        read_in_inches=in_inches,
        instrument=entry.instrument,
        date=date_in_words(entry.date),
        note=entry.note,
        evidence=teller.evidence(entry),
    )


def _length(measured: Measured, unit: str, places: int) -> str:
    """A length in a unit, its error to two figures and its value to the same place."""
    told = measured.to(unit)
    if told.error is None or measured.unit == unit:
        number = f"{told.value:.{places}f}".rstrip("0").rstrip(".")
        return number if told.error is None else f"{number} ± {told.error:g}"
    if told.error > 0:
        places = max(0, 1 - math.floor(math.log10(told.error)))
    return f"{told.value:.{places}f} ± {told.error:.{places}f}"


def _drawing(
    name: str, entry: DrawingEntry, drawings: Mapping[str, str], teller: _Teller
) -> DrawingTold:
    svg = drawings.get(name)
    drawing = None if svg is None else read_drawing(svg)
    return DrawingTold(
        name=name,
        title=entry.name,
        width_mm=entry.width_mm,
        height_mm=entry.height_mm,
        photographs=entry.photographs,
        note=entry.note,
        evidence=teller.evidence(entry),
        worked=replace(
            worked(name, entry.finding, ""),
            details=() if svg is None else standing(svg, entry.finding),
        ),
        drawing=drawing,
        ink=None if drawing is None else ink_window(drawing),
    )


def _treatment(name: str, entry: Treatment) -> TreatmentTold:
    cautions = [caution_for(hazard) for hazard in entry.hazards]
    return TreatmentTold(
        name=name,
        what=entry.what,
        date=date_in_words(entry.date),
        aim=entry.aim.value,
        by=entry.by,
        parts=entry.parts,
        done=entry.done,
        materials=entry.materials,
        undoing=entry.undoing.value,
        how_to_undo=entry.how_to_undo,
        before=entry.before,
        after=entry.after,
        cautions=tuple(CautionTold(c.hazard.value, c.says, c.founded_on) for c in cautions),
        note=entry.note,
    )


def _step(name: str, entry: Provenance, teller: _Teller) -> Step:
    return Step(
        name,
        entry.event,
        date_in_words(entry.date),
        entry.place,
        entry.who,
        entry.note,
        teller.evidence(entry),
    )


def _outlay(name: str, entry: Outlay) -> OutlayTold:
    return OutlayTold(
        name,
        entry.what,
        date_in_words(entry.date),
        "" if entry.hours is None else f"{entry.hours.normalize():f}",
        "" if entry.cost is None else f"{entry.cost:.2f} {entry.currency}",
        entry.note,
    )


def _sums(entries: Sequence[Outlay]) -> OutlaySums | None:
    if not entries:
        return None
    hours = sum((e.hours for e in entries if e.hours is not None), Decimal(0))
    costs: dict[str, Decimal] = defaultdict(Decimal)
    for entry in entries:
        if entry.cost is not None:
            costs[entry.currency] += entry.cost
    return OutlaySums(f"{hours.normalize():f}", tuple(f"{costs[c]:.2f} {c}" for c in sorted(costs)))


def _sources(record: Record) -> tuple[SourceTold, ...]:
    vouched: dict[str, list[str]] = defaultdict(list)
    for (kind, number), entry in record.entries.items():
        for source in getattr(entry, "sources", ()):
            if source.entry and f"{kind.value} {number}" not in vouched[source.entry]:
                vouched[source.entry].append(f"{kind.value} {number}")
    return tuple(
        SourceTold(
            name,
            entry.title,
            entry.sort,
            entry.where,
            date_in_words(entry.date),
            entry.note,
            tuple(vouched[name]),
        )
        for name, entry in record.of(SourceEntry)
    )


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
    for role in _LEADS:
        for name, photograph in photographs:
            if photograph.role is role:
                return name
    return photographs[0][0] if photographs else ""
