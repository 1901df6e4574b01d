"""The tray: reports that were sent in wait here until a person has decided on each.

What waits counts nowhere. A decision makes the report that counts, or none, in one write with the
decision itself; both are changes of the record, and both can be taken back.
"""

import quopri
import re
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import UTC, datetime

from ironlace.evidence.errors import ConflictError, IronlaceError, NotFoundError
from ironlace.evidence.sources import Source, SourceKind
from ironlace.evidence.wording import capital, counted
from ironlace.evidence.written_dates import read_date
from ironlace.record import Photograph, Record, ReportEntry, SentReport
from ironlace.record.choices import Allowed, Channel, Naming, PhotographRole, Verdict
from ironlace.record.surveyed import OWN
from ironlace.survey.reports.as_struck import struck_mark
from ironlace.survey.reports.pasted_text import find_serials
from ironlace.survey.reports.table import DatedEvidence, DatedKind
from ironlace.survey.sharing.report_block import NAMED, SentIn, folded, reports_in
from ironlace.workshop.store.aside import aside
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.store.originals import Incoming
from ironlace.workshop.store.photographs import examined_aside
from ironlace.workshop.survey.reports_in import columns_of, look_over, table_of, text_of_file
from ironlace.workshop.survey.reports_of_record import as_named, own_report, told_entry
from ironlace.workshop.survey.tables_in import is_spreadsheet
from ironlace.workshop.survey.tray_mail import (
    MOST_MAIL,
    MOST_WORDS,
    Letter,
    letter_of,
    looks_like_mail,
)

_MOST_AT_ONCE = 200
"""Reports that one thing may lay into the tray: each is looked at by a person (a judgement)."""
_MOST_NUMBERS = 20
"""Numbers taken from text that holds no report of ours: more is a thread (a judgement)."""
_LINE = 300
"""Signs of a line of an entry."""
_TABLES = (".csv", ".tsv", ".xlsx", ".zip")
_PICTURES = (
    re.compile(rb"^\xff\xd8\xff"),
    re.compile(rb"^\x89PNG\r\n"),
    re.compile(rb"^(?:II\*\x00|MM\x00\*)"),
    re.compile(rb"^....ftyp(?:heic|heix|mif1|msf1|hevc)", re.S),
)
"""How the files of photographs begin."""

_NAMING = dict(zip(NAMED, (Naming.NAME, Naming.INITIALS, Naming.NOT), strict=True))


class TrayError(IronlaceError):
    """Something cannot be laid into the tray, or not be decided so."""

    http_status = 422


@dataclass(frozen=True, slots=True)
class LaidIn:
    """What came of taking something in.

    `names` are the entries that wait now, `again` those that were there already with the same
    words; `left` says of each other thing why it was not taken.
    """

    names: tuple[str, ...]
    again: tuple[str, ...]
    left: tuple[str, ...]

    def sentences(self) -> list[str]:
        """Say it plainly."""
        said = []
        if self.names:
            waits = "waits" if len(self.names) == 1 else "wait"
            said.append(
                f"{counted(len(self.names), 'report')} {waits} in the tray: "
                f"{', '.join(self.names[:12])}. None of it counts until you decide."
            )
        if self.again:
            said.append(f"Came before with the same words: {', '.join(self.again[:12])}.")
        return [*said, *self.left]


@dataclass(frozen=True, slots=True)
class Decision:
    """What a person decided on a report that was sent in.

    Attributes
    ----------
    verdict
        Anything but waiting.
    reason
        Why; needed to doubt and to turn down.
    reads
        The number as the person reads it; as it was sent if empty.
    called
        What that machine is called; the entry's own name if empty.
    how
        How the number is known now: a photograph that came with it may have been looked at.
    same_as
        For a second sighting: the report of the same machine, or `this machine`.
    dated, dated_is
        A date that is to be kept with it, and what it says; none is kept unless the latter is said.
    """

    verdict: Verdict
    reason: str = ""
    reads: str = ""
    called: str = ""
    how: Channel = Channel.TOLD
    same_as: str = ""
    dated: str = ""
    dated_is: str = ""


def take_in(
    workshop: Workshop,
    slug: str,
    data: bytes,
    came_as: str = "",
    *,
    by: str = "",
    at: datetime | None = None,
) -> LaidIn:
    """Lay what came into the tray: a mail or its text, a text file, a table, a photograph.

    Parameters
    ----------
    data
        The file, or text that was pasted (UTF-8).
    came_as
        The file's name, empty for pasted text.

    Raises
    ------
    IronlaceError
        When it holds no report, or cannot be read; nothing of it is kept then.
    """
    record = workshop.records.read(slug)
    moment = at or datetime.now(UTC)
    day = moment.date().isoformat()
    what = folded(came_as)[:120] or "the text"
    if any(sign.match(data) for sign in _PICTURES):
        letter, sent = Letter("", ((what, data),)), []
        kind = "photograph"
    elif is_spreadsheet(data) or what.lower().endswith(_TABLES):
        letter, sent = Letter(""), _of_table(data, what)
        kind = "table"
    elif what.lower().endswith(".eml") or looks_like_mail(data):
        letter = _letter(data, what)
        sent = _of_words(letter.words, record)
        kind = "e-mail"
    else:
        letter = Letter(_text(data, what))
        sent = _of_words(letter.words, record)
        kind = "text file" if came_as else "pasted text"
    if not sent and letter.photographs:
        sent = [SentReport()]
    if not sent:
        raise TrayError(
            f"{what if came_as else capital(what)} holds no report, and no number that may be one: "
            "look at it yourself, and add a report by hand."
        )
    sent = [one.model_copy(update={"came": day, "came_as": kind}) for one in sent]
    return _laid_in(workshop, slug, record, sent, letter, by, moment)


_READING_S = 10.0
"""Time for reading one mail: a letter takes a tenth of a second. A judgement."""


def _letter(data: bytes, what: str) -> Letter:
    """Read a mail in a process of its own: some are made so that reading them never ends."""
    if len(data) > MOST_MAIL:
        return letter_of(data, what)  # refused at once
    instead = "open it, copy its text, and take that in"
    return aside(letter_of, data, what, what=what, instead=instead, seconds=_READING_S)


def _text(data: bytes, what: str) -> str:
    if len(data) > MOST_WORDS:
        raise TrayError(
            f"{what} is {len(data) // 1000} kB of text and {MOST_WORDS // 1000} are read: take in "
            "the part that matters."
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        if b"\x00" in data:
            raise TrayError(
                f"{what} is no text, no mail, no table and no photograph: save it as one of these."
            ) from None
        return data.decode("cp1252", errors="replace")


def _of_words(text: str, record: Record) -> list[SentReport]:
    """The reports in a text; without any of ours, the numbers that nothing speaks against."""
    found_in = reports_in(text)
    if "=" in text and any(one.whole is False for one in found_in):
        # the source of a mail was copied, not its words: quoted-printable (RFC 2045)
        plain = quopri.decodestring(text.encode()).decode("utf-8", errors="replace")
        better = reports_in(plain)
        found_in = better if all(one.whole for one in better) else found_in
    blocks = [one for one in found_in if one.of("reads")]
    if blocks:
        return [_sent(one) for one in blocks[:_MOST_AT_ONCE]]
    own = own_report(record)
    found = [one for one in find_serials(text, own.mark if own else None) if not one.doubts]
    return [
        SentReport(
            reads=str(one.mark)[:_LINE],
            dated=one.dated.date.text if one.dated else "",
            dated_by=(one.dated.what if one.dated else "")[:_LINE],
            note=f"… {one.before} [{one.text}] {one.after} …",
        )
        for one in found[:_MOST_NUMBERS]
    ]


def _sent(one: SentIn) -> SentReport:
    sender, naming = _as_asked(one.of("sender"), one.of("sender_as"))
    return SentReport(
        reads=one.of("reads"),
        whole="" if one.whole is None else "yes" if one.whole else "no",
        answers=one.of("answers"),
        where=one.of("where"),
        known=one.of("known"),
        dated=one.of("dated"),
        dated_by=one.of("dated_by"),
        place=one.of("place"),
        place_told=one.of("place_told").casefold() == "yes",
        sender=sender,
        sender_as=naming,
        note=one.of("remarks"),
    )


def _as_asked(sender: str, asked: str) -> tuple[str, Naming]:
    """What of a name is kept: no more than the sender allowed to be told."""
    naming = _NAMING.get(asked.casefold(), Naming.UNSAID)
    if not sender or naming in (Naming.NOT, Naming.UNSAID):
        return "", naming
    return (initials(sender) if naming is Naming.INITIALS else sender), naming


def initials(name: str) -> str:
    """The initials of a name.

    >>> initials("Anna-Maria van Person")
    'A.-M. v. P.'
    """
    return " ".join(
        "-".join(f"{part[0]}." for part in word.split("-") if part) for word in name.split()
    )


def _of_table(data: bytes, what: str) -> list[SentReport]:
    if len(data) > MOST_MAIL:
        raise TrayError(f"{what} is larger than {MOST_MAIL // 1_000_000} MB: send it in parts.")
    text, _ = text_of_file(data, what)
    table = table_of(text)
    found = look_over(table, [column.guess for column in columns_of(table)])
    if len(found.reports) > _MOST_AT_ONCE:
        raise TrayError(
            f"{what} has {len(found.reports)} reports and the tray takes {_MOST_AT_ONCE} at once: "
            "take it in on the page of reports, where a table is looked over as a whole."
        )
    lost = [SentReport(reads="", note=f"line {one.line}: {one.reason}") for one in found.set_aside]
    return [
        SentReport(
            reads=entry.reads,
            known=entry.how.value,
            dated=entry.dated or "",
            dated_by=entry.dated_by,
            variant=entry.variant,
            place=entry.place,
            note=entry.note,
        )
        for entry in (row.entry for row in found.reports)
    ] + lost[: _MOST_AT_ONCE - len(found.reports)]


def _laid_in(
    workshop: Workshop,
    slug: str,
    record: Record,
    sent: Sequence[SentReport],
    letter: Letter,
    by: str,
    at: datetime,
) -> LaidIn:
    """Write the reports and the photographs that came with them, all or nothing."""
    left = list(letter.left)
    standing = {photo.sha256: name for name, photo in record.of(Photograph)}
    known = {_words_of(entry): name for name, entry in record.of(SentReport)}
    names, again = [], []
    with ExitStack() as held:
        came = []
        for called, content in letter.photographs:
            receiving = held.enter_context(workshop.store.receive(len(content) + 1, called))
            receiving.write(content)
            incoming: Incoming = receiving.whole()
            try:
                came.append((called, incoming, examined_aside(incoming.path, called)))
            except IronlaceError as error:
                left.append(str(error))
        if letter.photographs and not came and not any(one.reads or one.note for one in sent):
            raise TrayError(left[0] if left else "The photograph cannot be read: save it as JPEG.")
        with workshop.database.writing() as session:
            pictures = []
            for called, incoming, examined in came:
                workshop.photographs.keep_in(session, incoming, examined, called, at)
                name = standing.get(incoming.sha256)
                if name is None:
                    photo = Photograph(
                        sha256=incoming.sha256,
                        role=PhotographRole.DOCUMENT,
                        caption="Another machine: came with a report that was sent in",
                        published=False,
                    )
                    name = workshop.records.add_in(session, slug, photo, by, at)
                    standing[incoming.sha256] = name
                pictures.append(name)
            for one in sent:
                entry = one.model_copy(update={"photographs": tuple(dict.fromkeys(pictures))})
                before = known.get(_words_of(entry))
                if before is not None:
                    again.append(before)
                    continue
                name = workshop.records.add_in(session, slug, entry, by, at)
                known[_words_of(entry)] = name
                names.append(name)
    return LaidIn(tuple(names), tuple(dict.fromkeys(again)), tuple(left))


def _words_of(entry: SentReport) -> tuple[str, ...]:
    """What a report says, by which the same one is known again."""
    said = (entry.reads, entry.where, entry.known, entry.dated, entry.dated_by, entry.place)
    return (*said, entry.sender, entry.note, *(() if entry.reads else entry.photographs))


def sent_named(record: Record, name: str) -> SentReport:
    """A report that was sent in, by its entry's name; raises NotFoundError when there is none."""
    for here, entry in record.of(SentReport):
        if here == name:
            return entry
    raise NotFoundError(f"There is no report '{name[:40]}' in the tray of this machine.")


def decide(
    workshop: Workshop,
    slug: str,
    name: str,
    decision: Decision,
    *,
    by: str = "",
    at: datetime | None = None,
) -> str:
    """Decide on a report that waits; return the name of the report made of it, or nothing.

    Raises
    ------
    ConflictError
        When it was decided on already.
    TrayError
        When the decision lacks what it needs.
    IronlaceError
        When the number or the date does not read.
    """
    sent_named(workshop.records.read(slug), name)
    seen = workshop.records.last_change_of(slug, name)  # before it is read: later is a conflict
    record = workshop.records.read(slug)
    sent = sent_named(record, name)
    if sent.verdict is not Verdict.WAITING:
        raise ConflictError(f"{name} was decided already ({sent.verdict.value}): take that back.")
    reason = folded(decision.reason)[:_LINE]
    if decision.verdict in (Verdict.DOUBTED, Verdict.TURNED_DOWN) and not reason:
        raise TrayError("Say why: a report is doubted or turned down for a reason.")
    if decision.verdict is Verdict.WAITING:
        raise TrayError("It waits already: keep it, doubt it, join it or turn it down.")
    report = None
    if decision.verdict is not Verdict.TURNED_DOWN:
        report = _report(record, name, sent, decision, reason)
    moment = at or datetime.now(UTC)
    with workshop.database.writing() as session:
        made = workshop.records.add_in(session, slug, report, by, moment) if report else ""
        decided = {
            "verdict": decision.verdict,
            "reason": reason,
            "decided": moment.date().isoformat(),
            "report": made,
        }
        workshop.records.change_in(
            session,
            slug,
            name,
            sent.model_copy(update=decided),
            by=by,
            at=moment,
            last_seen=seen,
        )
    return made


def _report(
    record: Record, name: str, sent: SentReport, decision: Decision, reason: str
) -> ReportEntry:
    """The report that a decision makes."""
    reads = decision.reads or sent.reads
    if not reads:
        raise TrayError(
            "It names no number: look at its photograph and write how the number reads."
        )
    reads = number_of(reads)
    same_as = ""
    if decision.verdict is Verdict.SECOND:
        if not decision.same_as:
            raise TrayError(f"Say of which machine it is a sighting: a report, or '{OWN}'.")
        same_as = as_named(record, decision.same_as)
    dated = None
    if decision.dated_is:
        if decision.dated_is not in set(DatedKind):
            kinds = ", ".join(DatedKind)
            raise TrayError(f"A date cannot be '{decision.dated_is[:40]}': use one of {kinds}.")
        date = read_date(decision.dated or sent.dated)
        dated = DatedEvidence(date, DatedKind(decision.dated_is), sent.dated_by)
    note = "; ".join(part for part in (sent.note, sent.where and f"struck: {sent.where}") if part)
    if decision.verdict is Verdict.DOUBTED:
        note = "; ".join(part for part in (f"doubted: {reason}", note) if part)
    entry = told_entry(decision.called or f"machine of {name}", reads, decision.how, note, dated)
    return entry.model_copy(
        update={
            "counts": decision.verdict is Verdict.KEPT,
            "same_as": same_as,
            "variant": sent.variant,
            "place": sent.place,
            "reporter": sent.sender,
            "allowed": _allowed(sent),
            "sources": tuple(
                Source(kind=SourceKind.PHOTOGRAPH, entry=photo) for photo in sent.photographs
            ),
        }
    )


def number_of(reads: str) -> str:
    """A number as a report keeps it: as it is struck, without words such as *No.* before it.

    Raises
    ------
    IronlaceError
        When it does not read, or is words.
    """
    mark = str(struck_mark(reads))
    if not any(sign.isdecimal() or sign == "?" for sign in mark):
        raise TrayError(f"'{reads[:60]}' is no number: write each figure, ? for one unread.")
    return mark


def _allowed(sent: SentReport) -> Allowed:
    if not sent.place_told:
        return Allowed.COUNTED
    return Allowed.NAMED if sent.sender else Allowed.PLACE


def take_back(workshop: Workshop, slug: str, name: str, *, by: str = "") -> str:
    """Take a decision back: the report made of it is withdrawn, and what was sent waits again.

    Returns the name of the report withdrawn, empty where none stood. Both stay in the history.
    """
    sent_named(workshop.records.read(slug), name)
    seen = workshop.records.last_change_of(slug, name)
    record = workshop.records.read(slug)
    sent = sent_named(record, name)
    if sent.verdict is Verdict.WAITING:
        raise ConflictError(f"{name} waits already: there is no decision to take back.")
    stands = sent.report in {report for report, _ in record.of(ReportEntry)}
    decided = workshop.records.changes(slug, name)[-1].made_at
    went_to = workshop.records.survey_of(slug, decided)
    if stands and went_to != workshop.records.survey_of(slug):
        raise ConflictError(
            f"The machine had another survey then ({went_to}), and {sent.report} is another's "
            f"here: withdraw {sent.report} there, since this decision cannot be taken back."
        )
    waits = sent.model_copy(
        update={"verdict": Verdict.WAITING, "reason": "", "decided": None, "report": ""}
    )
    with workshop.database.writing() as session:
        if stands:
            workshop.records.change_in(session, slug, sent.report, None, by=by)
        workshop.records.change_in(session, slug, name, waits, by=by, last_seen=seen)
    return sent.report if stands else ""


def waiting(record: Record) -> list[tuple[str, SentReport]]:
    """The reports that nobody has decided on yet, in the order they came."""
    return [(n, one) for n, one in record.of(SentReport) if one.verdict is Verdict.WAITING]


def thanks(record: Record) -> str:
    """Who sent what, as text to be published: named or not, as they asked.

    Those who asked for nothing are not named. What waits or was turned down is left out.
    """
    named: dict[str, list[str]] = {}
    unnamed: list[str] = []
    for _, one in record.of(SentReport):
        if one.verdict in (Verdict.WAITING, Verdict.TURNED_DOWN):
            continue
        number = one.reads or "a photograph"
        if one.sender and one.sender_as in (Naming.NAME, Naming.INITIALS):
            named.setdefault(one.sender, []).append(number)
        else:
            unnamed.append(number)
    if not named and not unnamed:
        return "Nothing that was sent in has been kept yet.\n"
    lines = [f"Reports of other machines for {record.title} were sent in by:", ""]
    lines += [f"{who}: {', '.join(numbers)}" for who, numbers in sorted(named.items())]
    if unnamed:
        lines.append(f"not named, as they wished or did not say: {', '.join(unnamed)}")
    return "\n".join([*lines, "", "Thank you.", ""])
