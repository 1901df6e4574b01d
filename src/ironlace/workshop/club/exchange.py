"""One survey kept by many: what is new here goes to the club, what is new there comes here.

A survey of the workshop stays what it is, read and written at home, with no network. An exchange
compares each report with what the club's said when it was last seen. What differs is sent, by a
reviewer as a change, by a reporter as something for the club's tray; what changed there is taken in
as a change here, so that the history shows both. Nothing is sent twice: the key of what is sent
follows from this workshop's own key and the number of the change, and an exchange that broke off
goes on where it was.
"""

import uuid
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from ironlace.evidence.errors import ConflictError, NotFoundError
from ironlace.record.entries import EntryKind, ReportEntry
from ironlace.record.history import Record, key_of
from ironlace.workshop.club.address import ClubError, address_of, without_password
from ironlace.workshop.club.ledger import ClubChange, Ledger
from ironlace.workshop.club.roles import Rights
from ironlace.workshop.club.told import (
    ToldError,
    entry_from,
    report_name,
    same_as,
    sighted_again,
    told_in_words,
    told_of,
)
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.store.joined import club_link_in, joined_in, next_key
from ironlace.workshop.store.tables import (
    ChangeRow,
    ClubLinkRow,
    ClubReportRow,
    ClubSentRow,
    EntryRow,
    RecordRow,
)
from ironlace.workshop.survey.surveys import survey_named

_LONGEST_ADDRESS = 500
"""Characters of an address that are kept."""
_WAITS, _KEPT, _TURNED_DOWN, _OVERTAKEN = "waits", "kept", "turned down", "overtaken"


@dataclass(frozen=True, slots=True)
class Link:
    """That a survey is kept together with a club.

    Attributes
    ----------
    survey
        Its short name here.
    known
        How many of its reports are known by a number of the club.
    waits
        How many were sent in from here and wait for a reviewer.
    """

    survey: str
    address: str
    title: str
    exchanged_at: datetime | None
    known: int
    waits: int

    def as_dict(self) -> dict[str, Any]:
        """It as JSON values."""
        at = None if self.exchanged_at is None else self.exchanged_at.isoformat()
        return {
            "survey": self.survey,
            "club": self.title,
            "address": self.address,
            "exchanged_at": at,
            "known": self.known,
            "waits": self.waits,
        }


@dataclass(frozen=True, slots=True)
class ToSend:
    """A report that goes with the next exchange; `told` is None where it was withdrawn here."""

    name: str
    key: int
    change: int
    told: dict[str, Any] | None
    number: int | None
    after: int

    def in_words(self) -> str:
        """Say what leaves."""
        as_what = "new" if self.number is None else f"the club's {self.number}"
        return f"{self.name} ({as_what}): {told_in_words(self.told)}."

    def as_dict(self) -> dict[str, Any]:
        """It by name."""
        return {"report": self.name, "club_number": self.number, "told": self.told}


@dataclass(slots=True)
class Exchanged:
    """What an exchange did; reports by their names here."""

    title: str
    rights: Rights
    sent: list[str] = field(default_factory=list)
    offered: list[str] = field(default_factory=list)
    kept: list[str] = field(default_factory=list)
    turned_down: list[tuple[str, str]] = field(default_factory=list)
    overtaken: list[tuple[str, str]] = field(default_factory=list)
    came: list[str] = field(default_factory=list)
    changed: list[str] = field(default_factory=list)
    withdrawn: list[str] = field(default_factory=list)
    unread: list[tuple[int, str]] = field(default_factory=list)
    stays: list[str] = field(default_factory=list)
    waits: int = 0

    def sentences(self) -> list[str]:
        """Say what went, what came, and what a person must look at."""
        counted = (
            (self.sent, "sent"),
            (self.offered, "sent in for the reviewers"),
            (self.came, "came new"),
            (self.changed, "changed there"),
            (self.withdrawn, "withdrawn there"),
        )
        told = [f"{len(some)} {what}" for some, what in counted if some]
        said = [f"{self.title}: {', '.join(told)}." if told else f"{self.title}: nothing new."]
        for name, by in self.overtaken:
            said.append(
                f"{name}: your change was not taken, as {by or 'somebody'} had changed it there; "
                "theirs stands now, yours is in its history: look at both."
            )
        said += [f"{name} was turned down: {reason}" for name, reason in self.turned_down]
        said += [f"{name} was kept by a reviewer." for name in self.kept]
        said += [f"The club's report {n} was not taken in: {why}." for n, why in self.unread]
        if self.stays:
            said.append(
                f"{len(self.stays)} stay here, since you may only read there: ask its keeper for "
                "the right to report."
            )
        if self.waits:
            said.append(f"{self.waits} sent in from here wait for a reviewer.")
        return said

    def as_dict(self) -> dict[str, Any]:
        """It as JSON values."""
        return {
            "club": self.title,
            "rights": self.rights.as_dict(),
            "sent": self.sent,
            "offered": self.offered,
            "kept": self.kept,
            "turned_down": [{"report": n, "reason": why} for n, why in self.turned_down],
            "overtaken": [{"report": n, "by": by} for n, by in self.overtaken],
            "came": self.came,
            "changed": self.changed,
            "withdrawn": self.withdrawn,
            "unread": [{"club_number": n, "why": why} for n, why in self.unread],
            "stays": self.stays,
            "waits": self.waits,
        }


def join(workshop: Workshop, survey: str, address: str, *, by: str = "") -> Link:
    """Keep a survey, named by itself or by a machine that has it, together with a club.

    Nothing is sent yet. From now on each machine of the survey is a report of it, too.

    Raises
    ------
    ConflictError
        When it is kept with a club already.
    ClubError, LostError, NotLetError
        When the address is none, or the club's database is none or does not answer.
    """
    of = survey_named(workshop, survey).slug
    url = address_of(address)
    if len(without_password(url)) > _LONGEST_ADDRESS:
        raise ClubError("This address is longer than any: write it without what is not needed.")
    with Ledger(url) as ledger:
        club = ledger.club()
    now = datetime.now(UTC)
    with workshop.database.writing() as session:
        row = _survey_row(session, of)
        known = club_link_in(session, row.id)
        if known is not None:
            raise ConflictError(
                f"{row.title} is kept with {known.title} already: leave that first."
            )
        session.add(
            ClubLinkRow(
                survey_id=row.id,
                address=without_password(url),
                club=club.uid,
                title=club.title,
                key=str(uuid.uuid4()),
                seen_to=0,
                made_at=now,
                made_by=by,
            )
        )
        session.flush()
        workshop.records.report_members_in(session, row.id, by=by, at=now)
    return link_of(workshop, of)


def leave(workshop: Workshop, survey: str) -> None:
    """Keep a survey at home alone again; it stays as it is, here and there."""
    of = survey_named(workshop, survey).slug
    with workshop.database.writing() as session:
        _linked(session, of).left_at = datetime.now(UTC)


def link_of(workshop: Workshop, survey: str) -> Link:
    """With which club a survey is kept.

    Raises NotFoundError when with none.
    """
    of = survey_named(workshop, survey).slug
    with workshop.database.reading() as session:
        link = _linked(session, of)
        known = select(func.count()).where(ClubReportRow.link_id == link.id)
        waits = select(func.count()).where(
            ClubSentRow.link_id == link.id, ClubSentRow.came_of == _WAITS
        )
        return Link(
            of,
            link.address,
            link.title,
            link.exchanged_at,
            session.execute(known).scalar_one(),
            session.execute(waits).scalar_one(),
        )


def to_send(workshop: Workshop, survey: str) -> list[ToSend]:
    """What goes with the next exchange, as far as is known here."""
    of = survey_named(workshop, survey).slug
    record = workshop.records.read(of)
    with workshop.database.reading() as session:
        known = _Known(session, _linked(session, of))
    return _to_send(record, known)


def exchange(
    workshop: Workshop,
    survey: str,
    *,
    address: str = "",
    by: str = "",
    ledger: Ledger | None = None,
) -> Exchanged:
    """Send what is new here, and take in what is new there.

    Parameters
    ----------
    address
        The club's address where it is to be reached another way, such as with a password this once.
    ledger
        The club's database where it is open already.

    Raises
    ------
    LostError
        When the connection was lost; what was confirmed is known here, the rest goes next time.
    NotFoundError
        When the survey is not kept with a club.
    """
    of = survey_named(workshop, survey).slug
    record = workshop.records.read(of)
    with workshop.database.reading() as session:
        link = _linked(session, of)
        known = _Known(session, link)
    with _opened(ledger, address or link.address) as club:
        if club.club().uid != known.club:
            raise ClubError(
                f"At {club.in_words()} is another club's survey than {known.title}: leave that and "
                "join this one."
            )
        done = Exchanged(known.title, club.rights())
        results = _Results()
        try:
            _send(club, record, known, done, results)
        finally:
            with workshop.database.writing() as session:
                results.write(session, known)
        changes = club.changes_since(known.seen_to)
        _hear(workshop, club, known, done)
    _take_in(workshop, of, known, changes, done, by)
    done.waits = link_of(workshop, of).waits
    return done


@contextmanager
def _opened(ledger: Ledger | None, address: str) -> Iterator[Ledger]:
    if ledger is not None:
        yield ledger
        return
    with Ledger(address_of(address)) as opened:
        yield opened


class _Known:
    """What is known here of a club's reports: by its numbers, and what was sent."""

    def __init__(self, session: Session, link: ClubLinkRow) -> None:
        self.link, self.club, self.title = link.id, link.club, link.title
        self.key, self.seen_to = uuid.UUID(link.key), link.seen_to
        reports = session.scalars(select(ClubReportRow).where(ClubReportRow.link_id == link.id))
        self.of_number: dict[int, int] = {}
        self.number: dict[int, int] = {}
        self.last: dict[int, int] = {}
        self.told: dict[int, dict[str, Any] | None] = {}
        for row in reports:
            self.learn(row.key, row.number, row.last_change, row.told)
        sent = session.scalars(select(ClubSentRow).where(ClubSentRow.link_id == link.id))
        self.sent = {row.sent: (row.key, row.came_of) for row in sent}
        standing = select(EntryRow.key, EntryRow.last_change).where(
            EntryRow.record_id == link.survey_id, EntryRow.kind == EntryKind.REPORT.value
        )
        self.changes = {row.key: row.last_change for row in session.execute(standing)}
        withdrawn = (
            select(ChangeRow.key, func.max(ChangeRow.number).label("number"))
            .where(
                ChangeRow.record_id == link.survey_id,
                ChangeRow.kind == EntryKind.REPORT.value,
                ChangeRow.key.in_(self.number.keys() - self.changes.keys()),
            )
            .group_by(ChangeRow.key)
        )
        self.withdrawn = {row.key: row.number for row in session.execute(withdrawn)}

    def learn(self, key: int, number: int, last: int, told: dict[str, Any] | None) -> None:
        """Know a report by the club's number, and what it says there."""
        self.of_number[number], self.number[key] = key, number
        self.last[key], self.told[key] = last, told

    def offered(self, key: int) -> str | None:
        """The key under which a report of ours waits for the reviewers."""
        waiting = (sent for sent, (of, came) in self.sent.items() if of == key and came == _WAITS)
        return next(waiting, None)

    def named(self, again: Mapping[int, int], key: int) -> str:
        """How the club is told of which report one is a second sighting."""
        if key not in again:
            return ""
        return same_as(self.number.get(again[key]), self.offered(again[key]))


def _to_send(record: Record, known: _Known) -> list[ToSend]:
    """What differs from what the club's said when it was last seen, but for what was sent before.

    In the order in which the reports first came, so that one is sent before its second sighting.
    """
    found = [
        (key, known.changes[key], said)
        for key, said in _differing(record, known).items()
        if key in known.changes  # or it was written since the record was read
    ]
    there = _keys(record)
    gone = [
        (key, known.withdrawn[key], None)
        for key, was in known.told.items()
        if key not in there and was is not None and key in known.withdrawn
    ]
    return [
        ToSend(report_name(key), key, change, said, known.number.get(key), known.last.get(key, 0))
        for key, change, said in [*found, *gone]
        if _key_of(known, key, change) not in known.sent
    ]


def _differing(record: Record, known: _Known) -> dict[int, dict[str, Any]]:
    """What each report here says that differs from what the club's said when last seen."""
    again = sighted_again(record)
    told = {
        key: said | {"same_as": known.named(again, key)} for key, said in told_of(record).items()
    }
    return {
        key: said
        for key, said in told.items()
        if key not in known.number or said != known.told[key]
    }


def _keys(record: Record) -> set[int]:
    return {key_of(name)[1] for name, _ in record.of(ReportEntry)}


def _key_of(known: _Known, key: int, change: int) -> str:
    """The key of what is sent: the same for the same change, however often it is sent."""
    return str(uuid.uuid5(known.key, f"{key} {change}"))


class _Results:
    """What came of sending, to be kept in one piece; what was not confirmed is not in it."""

    def __init__(self) -> None:
        self.reports: list[tuple[int, ClubChange]] = []
        self.sent: list[tuple[str, ToSend, str, str]] = []

    def write(self, session: Session, known: _Known) -> None:
        """Keep it."""
        now = datetime.now(UTC)
        for key, change in self.reports:
            _keep_report(session, known.link, key, change)
        for sent, one, came_of, says in self.sent:
            row = {"link_id": known.link, "key": one.key, "change": one.change}
            session.merge(ClubSentRow(sent=sent, **row, came_of=came_of, says=says, made_at=now))


def _keep_report(session: Session, link: int, key: int, change: ClubChange) -> None:
    session.merge(
        ClubReportRow(
            link_id=link,
            number=change.report,
            key=key,
            last_change=change.number,
            told=change.told,
        )
    )


def _send(club: Ledger, record: Record, known: _Known, done: Exchanged, results: _Results) -> None:
    """Send what is new here, each with its key; what is confirmed stands in `results`."""
    again = sighted_again(record)
    for one in _to_send(record, known):
        if not done.rights.report:
            done.stays.append(one.name)
            continue
        sent = _key_of(known, one.key, one.change)
        # what was sent a moment ago has its number by now
        told = one.told and one.told | {"same_as": known.named(again, one.key)}
        if not done.rights.review:
            club.offer(sent, told, report=one.number, after=one.after)
            known.sent[sent] = one.key, _WAITS
            results.sent.append((sent, one, _WAITS, ""))
            done.offered.append(one.name)
            continue
        try:
            change = club.write(sent, told, report=one.number, after=one.after)
        except ConflictError as error:
            known.sent[sent] = one.key, _OVERTAKEN
            results.sent.append((sent, one, _OVERTAKEN, str(error)))
            continue
        known.learn(one.key, change.report, change.number, change.told)
        results.reports.append((one.key, change))
        done.sent.append(one.name)


def _hear(workshop: Workshop, club: Ledger, known: _Known, done: Exchanged) -> None:
    """Learn what the reviewers decided on what was sent in from here."""
    waiting = [sent for sent, (_, came) in known.sent.items() if came == _WAITS]
    if not waiting:
        return
    offers = {offer.sent: offer for offer in club.offers(waiting)}
    with workshop.database.writing() as session:
        for sent in waiting:
            offer = offers.get(sent)
            if offer is None or offer.kept is None:
                continue
            key = known.sent[sent][0]
            row = session.get_one(ClubSentRow, sent)
            row.came_of, row.says = (_KEPT if offer.kept else _TURNED_DOWN), offer.reason
            known.sent[sent] = key, row.came_of
            if not offer.kept:
                done.turned_down.append((report_name(key), offer.reason))
                continue
            done.kept.append(report_name(key))
            if offer.became is not None and key not in known.number:
                # what it says there comes with the changes, as nothing of it was seen yet
                known.learn(key, offer.became, 0, None)
                empty = ClubChange(0, offer.became, 0, None, datetime.now(UTC), "")
                _keep_report(session, known.link, key, empty)


def _take_in(
    workshop: Workshop,
    survey: str,
    known: _Known,
    changes: list[ClubChange],
    done: Exchanged,
    by: str,
) -> None:
    """Make what changed there a change here, all of it or nothing."""
    now = datetime.now(UTC)
    with workshop.database.writing() as session:
        record = workshop.records.read(survey)
        joined = joined_in(session, _survey_row(session, survey))
        key = next_key(session, joined, EntryKind.REPORT)
        keys: dict[int, int] = {}
        for change in changes:
            if change.report not in known.of_number and change.told is not None:
                keys[change.report], key = key, key + 1
        taken = _TakenIn(workshop, session, survey, record, known, known.of_number | keys, done)
        for change in changes:
            new = change.report in keys
            taken.take(change, by or known.title, now, new=new)
        link = session.get_one(ClubLinkRow, known.link)
        link.exchanged_at = now
        if changes:
            link.seen_to = changes[-1].number


@dataclass
class _TakenIn:
    """Taking in one change after another, in one transaction."""

    workshop: Workshop
    session: Session
    survey: str
    record: Record
    known: _Known
    keys: dict[int, int]
    done: Exchanged

    def __post_init__(self) -> None:
        self.again = sighted_again(self.record)
        self.mine = _differing(self.record, self.known)

    def take(self, change: ClubChange, by: str, at: datetime, *, new: bool) -> None:
        """Take one change in, as a change of ours by the club and whoever made it there."""
        who = f"{by} ({change.made_by})" if change.made_by else by
        if new:
            self._add(change, who, at)
            return
        key = self.known.of_number.get(change.report)
        if key is None or self.known.last[key] == change.number:
            return  # it came and went while we were away, or is what we wrote
        name = report_name(key)
        _keep_report(self.session, self.known.link, key, change)
        mine = self.record.by_name.get(name)
        # what was written here and neither is known there nor waits for a reviewer
        unknown_there = key in self.mine or key in self.known.withdrawn
        decided = self.known.offered(key) is not None or name in self.done.kept
        overtaken = unknown_there and not decided
        if mine is None:
            if overtaken and change.told is not None:
                self.done.overtaken.append((name, change.made_by))
            return
        assert isinstance(mine, ReportEntry)
        entry = None if change.told is None else self._entry(change, mine)
        if entry == mine or (entry is None and change.told is not None):
            return
        self.workshop.records.change_in(self.session, self.survey, name, entry, by=who, at=at)
        if overtaken:
            self.done.overtaken.append((name, change.made_by))
        elif entry is None:
            self.done.withdrawn.append(name)
        else:
            self.done.changed.append(name)

    def _add(self, change: ClubChange, who: str, at: datetime) -> None:
        entry = self._entry(change, None)
        if entry is None:
            return
        name = self.workshop.records.add_in(self.session, self.survey, entry, who, at)
        key = key_of(name)[1]
        self.keys[change.report] = key
        _keep_report(self.session, self.known.link, key, change)
        self.done.came.append(name)

    def _entry(self, change: ClubChange, was: ReportEntry | None) -> ReportEntry | None:
        assert change.told is not None
        called = f"{self.known.title} {change.report}"[:200]
        try:
            return entry_from(change.told, was, called, self._same(change, called, was))
        except ToldError as error:
            self.done.unread.append((change.report, str(error)))
            return None

    def _same(self, change: ClubChange, called: str, was: ReportEntry | None) -> str:
        """What it is a second sighting of, by a name here."""
        assert change.told is not None
        said = str(change.told.get("same_as", ""))
        mine = None if was is None else self.again.get(self.known.of_number[change.report])
        if not said.isdigit():
            # one that names what the club does not know goes on naming it
            return was.same_as if was is not None and mine is None else ""
        if int(said) == change.report:
            return called if was is None else was.name
        key = self.keys.get(int(said))
        if key is None:
            return f"{self.known.title} {said}"
        return was.same_as if was is not None and mine == key else report_name(key)


def _survey_row(session: Session, slug: str) -> RecordRow:
    return session.scalars(select(RecordRow).where(RecordRow.slug == slug)).one()


def _linked(session: Session, slug: str) -> ClubLinkRow:
    row = _survey_row(session, slug)
    link = club_link_in(session, row.id)
    if link is None:
        raise NotFoundError(
            f"{row.title} is kept with no club: join one with 'ironlace survey club join'."
        )
    return link
