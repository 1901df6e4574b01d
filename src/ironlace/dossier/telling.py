"""Turn a record into an account: choose, order and put into words, adding nothing."""

import json
import math
import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, date
from decimal import Decimal
from typing import Any

from pydantic import JsonValue

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
    Span,
    Step,
    TopicTold,
    TreatmentTold,
    Voucher,
    Worked,
)
from ironlace.dossier.plain_drawing import ink_window, read_drawing
from ironlace.dossier.privacy import Withheld, public_copy
from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.findings import Finding, Interval, checksum_of
from ironlace.evidence.grades import Grade
from ironlace.evidence.markings import Glyph, GlyphKind, Marking
from ironlace.evidence.quantities import Measured
from ironlace.evidence.sources import Source
from ironlace.record.entries import (
    Drawing,
    Entry,
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
    PhotographRole.AFTER,
    PhotographRole.AS_FOUND,
    PhotographRole.BEFORE,
    PhotographRole.PART,
)
_SUMMARY = (Topic.KIND, Topic.MAKER, Topic.MODEL, Topic.PLACE, Topic.MADE, Topic.SHUTTLE)
_LONGEST_VALUE = 300
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
    worked = [teller.worked(name, e.finding, e.note) for name, e in told.of(FindingEntry)]
    outlays = list(told.of(Outlay)) if hours_and_costs else []
    counted = [c for c in changes if record.as_of is None or c.made_at <= record.as_of]
    return Account(
        slug=told.slug,
        title=told.title,
        summary=_summary(told, worked),
        topics=_topics(teller),
        marks=tuple(_mark(name, entry, teller) for name, entry in told.of(Mark)),
        dates=tuple(w for w in worked if w.about == DATE_FINDING),
        findings=tuple(w for w in worked if w.about != DATE_FINDING),
        reports=tuple(_report(name, entry, teller) for name, entry in told.of(ReportEntry)),
        parts=tuple(_part(name, entry, teller) for name, entry in told.of(Part)),
        readings=tuple(_reading(name, entry, teller) for name, entry in told.of(Measurement)),
        drawings=tuple(_drawing(name, entry, drawings, teller) for name, entry in told.of(Drawing)),
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
        document=_document(told, counted if private else [], version),
    )


def date_in_words(text: str | None) -> str:
    """An EDTF text as a person says it; the text itself when it is none.

    >>> date_in_words("1893-04~"), date_in_words(None), date_in_words("soon")
    ('about April 1893', '', 'soon')
    """
    if not text:
        return ""
    try:
        return EdtfDate.parse(text).in_words()
    except IronlaceError:
        return text


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

    def worked(self, name: str, finding: Finding, note: str) -> Worked:
        value, details = _value_told(finding.value, finding.unit)
        return Worked(
            name=name,
            about=finding.about,
            value=value,
            details=details,
            interval=_interval_told(finding.interval, finding.unit),
            sentence=finding.sentence,
            method=finding.method.name,
            published=finding.method.published,
            parameters=_pairs(finding.method.parameters),
            inputs=tuple(finding.inputs.items()),
            version=finding.version,
            fingerprint=finding.fingerprint(),
            note=note,
            grade=finding.grade,
            span=_span(finding) if finding.about == DATE_FINDING else None,
        )


def _findings(record: Record) -> list[Finding]:
    findings = [entry.finding for _, entry in record.of(FindingEntry)]
    return findings + [entry.finding for _, entry in record.of(Drawing)]


def _summary(record: Record, worked: Sequence[Worked]) -> tuple[tuple[str, str, Grade], ...]:
    """What a first page says: one line for a topic on which there are no rivals."""
    by_topic = defaultdict(list)
    for _, statement in record.of(Statement):
        by_topic[statement.about].append(statement)
    lines = []
    for topic in _SUMMARY:
        said = {_says(statement) for statement in by_topic[topic]}
        dates = [w for w in worked if w.about == DATE_FINDING]
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


def shortened(line: str, longest: int) -> str:
    """Return a line cut to so many characters, the last an ellipsis.

    >>> shortened("a long shuttle", 8)
    'a long…'
    """
    return line if len(line) <= longest else line[: longest - 1].rstrip() + "…"


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
    name: str, entry: Drawing, drawings: Mapping[str, str], teller: _Teller
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
        worked=teller.worked(name, entry.finding, ""),
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


def _interval_told(interval: Interval | None, unit: str) -> str:
    if interval is None:
        return ""
    low, high = (
        date_in_words(end) if isinstance(end, str) else end for end in (interval.low, interval.high)
    )
    words = Interval.model_construct(low=low, high=high, coverage=interval.coverage).in_words()
    bounds, bracket, coverage = words.replace(" %", "\u00a0%").rpartition(" (")
    return f"{bounds} {unit}".strip() + bracket + coverage


def _value_told(value: JsonValue, unit: str) -> tuple[str, tuple[tuple[str, str], ...]]:
    if isinstance(value, dict):
        return "", _pairs(value)
    return f"{_plain(value)} {unit}".strip(), ()


def _pairs(values: Mapping[str, JsonValue]) -> tuple[tuple[str, str], ...]:
    return tuple((key.replace("_", " "), _plain(value)) for key, value in values.items())


def _plain(value: JsonValue) -> str:
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, str):
        return date_in_words(value)
    if isinstance(value, int):
        return str(value)
    text = json.dumps(value, ensure_ascii=False)
    if len(text) > _LONGEST_VALUE:
        return f"{len(value)} values, in the record's file"
    return text


def _span(finding: Finding) -> Span | None:
    """Place a date finding's interval (or its value) on a scale of years."""
    ends: tuple[str | float | None, str | float | None]
    if finding.interval is not None:
        ends = finding.interval.low, finding.interval.high
    elif isinstance(finding.value, str):
        ends = finding.value, finding.value
    else:
        return None
    low, high = _day(ends[0], first=True), _day(ends[1], first=False)
    known = [day for day in (low, high) if day is not None]
    if not known:
        return None
    first, last = known[0].year - 3, known[-1].year + 4
    first, last = first - first % 5, last + -last % 5

    def share(day: date | None) -> float | None:
        if day is None:
            return None
        return ((day.year - first) + (day.timetuple().tm_yday - 1) / 366) / (last - first)

    return Span(first, last, share(low), share(high))


def _day(end: str | float | None, *, first: bool) -> date | None:
    if end is None:
        return None
    text = end if isinstance(end, str) else f"{int(end):04d}"
    try:
        known = EdtfDate.parse(text)
        return known.earliest if first else known.latest
    except IronlaceError:
        return None


def _document(record: Record, changes: Sequence[Change], version: str) -> dict[str, Any]:
    """The record as JSON values: its entries by name, and its history where that may be told."""
    document: dict[str, Any] = {
        "title": record.title,
        "slug": record.slug,
        "as_of": None if record.as_of is None else record.as_of.astimezone(UTC).isoformat(),
        "written_by": f"Ironlace {version}",
        "grades": {grade.value: grade.meaning for grade in Grade},
        "entries": {
            f"{kind.value} {number}": _dumped(entry)
            for (kind, number), entry in record.entries.items()
        },
    }
    if changes:
        document["changes"] = [
            {
                "number": change.number,
                "made_at": change.made_at.isoformat(),
                "made_by": change.made_by,
                "of": change.name,
                "entry": None if change.entry is None else _dumped(change.entry),
                "undoes": change.undoes,
            }
            for change in changes
        ]
    return document


def _dumped(entry: Entry) -> dict[str, Any]:
    dumped: dict[str, Any] = entry.model_dump(mode="json")
    return dumped
