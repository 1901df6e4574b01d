"""The records in the database: read at any moment, changed one entry at a time, undone."""

import math
import re
import unicodedata
from collections import OrderedDict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from threading import Lock

from sqlalchemy import func, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from ironlace.evidence.errors import ConflictError, NotFoundError
from ironlace.record.choices import PhotographRole
from ironlace.record.entries import (
    Entry,
    EntryError,
    EntryKind,
    Photograph,
    ReportEntry,
    kept_entry,
    to_keep,
)
from ironlace.record.heading import heading_photograph
from ironlace.record.history import Change, Key, Record, key_of, restored_by_undoing
from ironlace.workshop.store.changes_read import (
    as_changes,
    changes_of,
    newest_change,
    payloads_of,
    through_surveys,
    with_later,
)
from ironlace.workshop.store.changes_written import (
    looks_like_a_name,
    names_in,
    report_itself,
    standing_row,
    write_change,
    write_history,
)
from ironlace.workshop.store.database import Database
from ironlace.workshop.store.joined import (
    OF_A_SURVEY,
    Joined,
    free_slug,
    joined_in,
    members_in,
    next_key,
    slugs_of,
    with_survey,
)
from ironlace.workshop.store.tables import (
    ChangeRow,
    EntryRow,
    PutAwayRow,
    RecordKind,
    RecordRow,
    SurveyLinkRow,
)

_CACHED_RECORDS = 8
"""Records kept in memory as read: one person has a few machines open at a time."""
_NOT_WRITTEN = ("Cc", "Cs", "Co", "Zl", "Zp")
"""Kinds of signs (Unicode) that no title holds: controls, halves of signs, private ones, breaks."""


@dataclass(frozen=True, slots=True)
class RecordSummary:
    """A line in the list of machines.

    `put_away` is when it was, None while it stands there; `heading` the photograph that shows the
    whole, None when none does.
    """

    slug: str
    title: str
    made_at: datetime
    changed_at: datetime
    entries: int
    photographs: int
    put_away: datetime | None = None
    heading: Photograph | None = None


@dataclass(frozen=True, slots=True)
class _Brought:
    """Reports that a machine brings into another survey, by the names that they had.

    `there` names those that the other survey has already; `same_as` which report each is of.
    """

    reports: dict[str, ReportEntry]
    there: dict[str, str]
    same_as: dict[str, str]


class Records:
    """All records of a workshop.

    The reports of a machine lie in its survey and are read, written and undone through the
    machine's record as if they were its own (`joined`).

    What was read last is kept in memory by the number of the record's last change, so that opening
    a large record again costs one short query, and after a write only what was written is read.
    """

    def __init__(self, database: Database) -> None:
        self._database = database
        self._cache: OrderedDict[str, tuple[int, Joined, Record]] = OrderedDict()
        self._lock = Lock()

    def all(self) -> list[RecordSummary]:
        """Return a summary of each record, the last changed first, those put away after all."""
        last = select(ChangeRow.record_id, func.max(ChangeRow.made_at).label("at")).group_by(
            ChangeRow.record_id
        )
        photographs = func.count().filter(EntryRow.kind == EntryKind.PHOTOGRAPH)
        counts = select(EntryRow.record_id, func.count(), photographs).group_by(EntryRow.record_id)
        machines = select(RecordRow).where(RecordRow.kind == RecordKind.MACHINE.value)
        with self._database.reading() as session:
            rows = session.scalars(select(PutAwayRow).order_by(PutAwayRow.id))
            away = {row.record_id: row.made_at if row.away else None for row in rows}
            headings = _headings(session)
            changed = {row.record_id: row.at for row in session.execute(last)}
            counted = {record_id: (n, photos) for record_id, n, photos in session.execute(counts)}
            links = session.scalars(select(SurveyLinkRow).order_by(SurveyLinkRow.id))
            linked = {link.record_id: link for link in links}
            keys = {link.own_report for link in linked.values() if link.own_report is not None}
            own = EntryRow.key.in_(keys)
            reports = select(EntryRow.record_id, EntryRow.key).where(
                EntryRow.kind == EntryKind.REPORT.value, own
            )
            seen_by_others = {(row.record_id, row.key) for row in session.execute(reports)}
            found = []
            for row in session.scalars(machines):
                link = linked.get(row.id)
                parts = {row.id, link.survey_id if link else row.id}
                hidden = link is not None and (link.survey_id, link.own_report) in seen_by_others
                moments = [changed[part] for part in parts if part in changed]
                numbers = [counted.get(part, (0, 0)) for part in parts]
                found.append(
                    RecordSummary(
                        row.slug,
                        row.title,
                        row.made_at,
                        max(moments, default=row.made_at),
                        sum(entries for entries, _ in numbers) - hidden,
                        sum(photos for _, photos in numbers),
                        away.get(row.id),
                        headings.get(row.id),
                    )
                )
        found.sort(key=lambda summary: summary.changed_at, reverse=True)
        return sorted(found, key=lambda summary: summary.put_away is not None)

    def put_away(
        self, slug: str, *, away: bool = True, by: str = "", at: datetime | None = None
    ) -> None:
        """Put a record away, or bring it back; nothing of it is lost, and each time is kept."""
        with self._database.writing() as session:
            row = _row(session, slug)
            if row.kind == RecordKind.SURVEY:
                raise EntryError(f"{row.title} is a survey, which stays where it is.")
            session.add(PutAwayRow(record_id=row.id, away=away, made_at=at or _now(), made_by=by))

    def put_away_at(self, slug: str) -> datetime | None:
        """Return when a record was put away, None while it is not."""
        with self._database.reading() as session:
            query = select(PutAwayRow).where(PutAwayRow.record_id == _row(session, slug).id)
            last = session.scalar(query.order_by(PutAwayRow.id.desc()).limit(1))
            return last.made_at if last is not None and last.away else None

    def create(self, title: str, at: datetime | None = None) -> str:
        """Make an empty record; return its slug, which is never used again for another."""
        with self._database.writing() as session:
            return self.create_in(session, title, RecordKind.MACHINE, at or _now())

    @staticmethod
    def create_in(session: Session, title: str, kind: RecordKind, at: datetime) -> str:
        """Make an empty record of a machine or a survey in a transaction; return its slug."""
        title = _title(title)
        slug = _free_slug(session, title)
        session.add(RecordRow(slug=slug, title=title, made_at=at, kind=kind.value))
        session.flush()
        return slug

    def rename(self, slug: str, title: str) -> None:
        """Give a record another title; its slug stays."""
        title = _title(title)
        with self._database.writing() as session:
            _row(session, slug).title = title
        with self._lock:
            self._cache.pop(slug, None)

    def read(self, slug: str, moment: datetime | None = None) -> Record:
        """Return a record as it stands, or as it stood at a moment.

        Raises NotFoundError when there is no such record.
        """
        if moment is not None:
            return self._as_it_stood(slug, moment)
        with self._database.reading() as session:
            return self._standing(session, _row(session, slug))

    def _standing(self, session: Session, row: RecordRow) -> Record:
        """The record as it stands: from memory, with what was written since it was last read."""
        joined = joined_in(session, row)
        newest = newest_change(session, joined)
        with self._lock:
            seen, of, record = self._cache.get(row.slug, (-1, joined, None))
            if record is not None and seen == newest and of == joined:
                self._cache.move_to_end(row.slug)
                return record
        if record is not None and record.title == row.title and of == joined and seen < newest:
            record = Record(row.slug, row.title, with_later(session, joined, record, seen))
        else:
            query = (
                select(EntryRow.kind, EntryRow.key, EntryRow.entry, ChangeRow.through)
                .join(ChangeRow, ChangeRow.number == EntryRow.last_change)
                .where(EntryRow.record_id.in_(joined.ids))
                .order_by(EntryRow.first_change)
            )
            slugs = slugs_of(session)
            entries = {
                (EntryKind(kind), key): joined.seen(kept_entry(payload), through, slugs)
                for kind, key, payload, through in session.execute(query)
                if not joined.hides(kind, key)
            }
            record = Record(row.slug, row.title, entries)
        with self._lock:
            self._cache[row.slug] = (newest, joined, record)
            self._cache.move_to_end(row.slug)
            while len(self._cache) > _CACHED_RECORDS:
                self._cache.popitem(last=False)
        return record

    def _as_it_stood(self, slug: str, moment: datetime) -> Record:
        """The fold of the changes up to a moment; what has not changed since is not read again."""
        with self._database.reading() as session:
            row = _row(session, slug)
            entries = self._entries_at(session, row, moment)
        return Record(slug, row.title, entries, moment)

    def _entries_at(self, session: Session, row: RecordRow, moment: datetime) -> dict[Key, Entry]:
        now = self._standing(session, row)
        joined = joined_in(session, row, moment)
        unchanged: set[int] = set()
        if joined == joined_in(session, row):  # or what stands now is seen otherwise
            standing = select(EntryRow.last_change).where(EntryRow.record_id.in_(joined.ids))
            unchanged = set(session.scalars(standing))
        marks = (
            select(ChangeRow.number, ChangeRow.kind, ChangeRow.key, ChangeRow.entry.is_(None))
            .where(ChangeRow.record_id.in_(joined.ids), ChangeRow.made_at <= moment)
            .order_by(ChangeRow.number)
        )
        last: dict[Key, int] = {}  # in the order in which entries first came, as `record_at`
        for number, kind, key, withdrawn in session.execute(marks):
            if withdrawn or joined.hides(kind, key):
                last.pop((EntryKind(kind), key), None)
            else:
                last[EntryKind(kind), key] = number
        gone = [number for number in last.values() if number not in unchanged]
        slugs = slugs_of(session) if gone else {}
        earlier = {
            number: joined.seen(kept_entry(payload), through, slugs)
            for number, payload, through in payloads_of(session, gone)
        }
        return {
            place: earlier[number] if number in earlier else now.entries[place]
            for place, number in last.items()
        }

    def changes(self, slug: str, name: str | None = None) -> list[Change]:
        """Return every change of a record in order, or those of one entry.

        Of reports, those of the survey that the machine has now; `whole_history` follows the
        machine from one survey to another.
        """
        with self._database.reading() as session:
            joined = joined_in(session, _row(session, slug))
            query = changes_of(joined)
            if name is not None:
                kind, key = key_of(name)
                query = query.where(ChangeRow.kind == kind.value, ChangeRow.key == key)
            return as_changes(session, joined, query)

    def recent(self, slug: str, count: int = 30, before: int | None = None) -> list[Change]:
        """Return the last changes of a record, newest first."""
        with self._database.reading() as session:
            joined = joined_in(session, _row(session, slug))
            query = select(ChangeRow).where(ChangeRow.record_id.in_(joined.ids))
            if before is not None:
                query = query.where(ChangeRow.number < before)
            query = query.order_by(ChangeRow.number.desc()).limit(count)
            return as_changes(session, joined, query)

    def whole_history(self, slug: str) -> list[Change]:
        """Return changes whose fold up to any moment is the record as it stood at that moment.

        They are `changes`, but for a machine that went from one survey to another: there the
        reports of the first end at that moment, and those of the second stand from then on, with
        numbers below zero that no change in the database has.
        """
        with self._database.reading() as session:
            row = _row(session, slug)
            query = select(SurveyLinkRow).where(SurveyLinkRow.record_id == row.id)
            moments = [one.made_at for one in session.scalars(query.order_by(SurveyLinkRow.id))][1:]
            if not moments:
                joined = joined_in(session, row)
                return as_changes(session, joined, changes_of(joined))
            return through_surveys(session, row, moments)

    def add(self, slug: str, entry: Entry, by: str = "", at: datetime | None = None) -> str:
        """Add an entry; return its name, such as `photograph 12`."""
        with self._database.writing() as session:
            return self.add_in(session, slug, entry, by, at)

    def add_all(
        self, slug: str, entries: Iterable[Entry], by: str = "", at: datetime | None = None
    ) -> list[str]:
        """Add entries, all or none; return their names."""
        with self._database.writing() as session:
            return [self.add_in(session, slug, entry, by, at) for entry in entries]

    def add_in(
        self, session: Session, slug: str, entry: Entry, by: str = "", at: datetime | None = None
    ) -> str:
        """Add an entry as part of a larger transaction."""
        row, kind, moment = _row(session, slug), EntryKind(entry.kind), at or _now()
        if kind in OF_A_SURVEY:
            joined = with_survey(session, row, moment)
        else:
            joined = joined_in(session, row)
            if joined.is_survey:
                raise EntryError(
                    f"{row.title} is a survey, which holds reports and no {kind.value}: keep it in "
                    "a machine's record."
                )
        key = next_key(session, joined, kind)  # a withdrawn entry's number is not given again
        write_change(session, joined, kind, key, entry, by, moment, undoes=None)
        return f"{kind.value} {key}"

    def write_history(self, slug: str, changes: Iterable[Change]) -> None:
        """Write a history into a record that has none yet, each change with its number and date.

        Raises
        ------
        ConflictError
            When the record holds anything, or a number of these is that of another change.
        """
        with self._database.writing() as session:
            row = _row(session, slug)
            if newest_change(session, joined_in(session, row)):
                raise ConflictError("The record holds something already: begin an empty one.")
            try:
                write_history(session, row, changes)
            except IntegrityError as error:
                raise ConflictError(
                    "Two changes have one number, or one takes back what is not there: the history "
                    "is not whole."
                ) from error

    def take_over_in(
        self, session: Session, title: str, slug: str, changes: Sequence[Change], at: datetime
    ) -> str:
        """Make a record with the history it had in another workshop; return its slug.

        The changes get the next numbers of this workshop, in their order. The record keeps its
        slug where that is free here.

        Raises
        ------
        ConflictError
            When a change takes back one that is not there, or names an entry that never was.
        """
        slug = _free_slug(session, slug or title)
        row = RecordRow(slug=slug, title=_title(title), made_at=at)
        session.add(row)
        session.flush()
        begin = (session.scalar(select(func.max(ChangeRow.number))) or 0) + 1
        here = {change.number: begin + n for n, change in enumerate(changes)}
        known = {(change.kind, change.key) for change in changes}
        whole = len(here) == len(changes)
        for change in changes:
            named = () if change.entry is None else names_in(to_keep(change.entry))
            whole &= all(key_of(name) in known for name in named)
            if change.undoes is not None:
                whole &= here.get(change.undoes, math.inf) < here[change.number]
        if not whole:
            raise ConflictError(
                "Two changes have one number, or one names or takes back what is not there: the "
                "history is not whole."
            )
        renumbered = [
            replace(
                change,
                number=here[change.number],
                undoes=None if change.undoes is None else here[change.undoes],
            )
            for change in changes
        ]
        write_history(session, row, renumbered)
        return slug

    def change(
        self,
        slug: str,
        name: str,
        entry: Entry | None,
        *,
        by: str = "",
        at: datetime | None = None,
        last_seen: int | None = None,
    ) -> None:
        """Change an entry, or withdraw it with None.

        Parameters
        ----------
        last_seen
            Number of the entry's last change that the person saw; a later one is a conflict.

        Raises
        ------
        NotFoundError
            When the entry does not stand.
        ConflictError
            When it was changed since `last_seen`.
        """
        with self._database.writing() as session:
            self.change_in(session, slug, name, entry, by=by, at=at, last_seen=last_seen)

    def change_in(
        self,
        session: Session,
        slug: str,
        name: str,
        entry: Entry | None,
        *,
        by: str = "",
        at: datetime | None = None,
        last_seen: int | None = None,
    ) -> None:
        """Change an entry as part of a larger transaction; see `change`."""
        kind, key = key_of(name)
        if entry is not None and entry.kind != kind.value:
            raise EntryError(f"{name} cannot become a {entry.kind}: withdraw it and add the other.")
        joined = joined_in(session, _row(session, slug))
        standing = standing_row(session, joined, kind, key)
        if standing is None or joined.hides(kind, key):
            raise NotFoundError(f"There is no {name} in this record: it may be withdrawn.")
        if last_seen is not None and standing.last_change != last_seen:
            raise ConflictError(
                f"{name} was changed meanwhile: look at it again, then make your change."
            )
        write_change(session, joined, kind, key, entry, by, at or _now(), undoes=None)

    def last_change_of(self, slug: str, name: str) -> int:
        """Return the number of an entry's last change."""
        kind, key = key_of(name)
        with self._database.reading() as session:
            standing = standing_row(session, joined_in(session, _row(session, slug)), kind, key)
            if standing is None:
                raise NotFoundError(f"There is no {name} in this record: it may be withdrawn.")
            return standing.last_change

    def last_change(self, slug: str) -> int:
        """Return the number of a record's last change, 0 when it has none."""
        with self._database.reading() as session:
            return newest_change(session, joined_in(session, _row(session, slug)))

    def share_in(
        self,
        session: Session,
        slug: str,
        survey: str,
        *,
        bring: bool,
        by: str = "",
        at: datetime,
    ) -> list[str]:
        """Let a machine have a survey from now on; return the names of the reports it brought.

        From then on the survey's machines are reports of one another. The reports of the survey
        that it had stay there; with `bring` those that the other lacks are kept in it, too.

        Raises
        ------
        ConflictError
            When it has that survey already.
        EntryError
            When the one is no machine or the other no survey.
        """
        row, target = _row(session, slug), _row(session, survey)
        had = joined_in(session, row)
        if had.is_survey or target.kind != RecordKind.SURVEY:
            odd = row if had.is_survey else target
            want = "machine" if had.is_survey else "survey"
            raise EntryError(f"{odd.title} ({odd.slug}) is no {want}: name one that is.")
        if had.survey == target.id:
            raise ConflictError(f"{row.title} has the survey {target.title} already.")
        moved = self._to_bring(session, row, target) if bring else _Brought({}, {}, {})
        before = _earlier_own_report(session, row.id, target.id)
        link = {"record_id": row.id, "survey_id": target.id, "own_report": before}
        session.add(SurveyLinkRow(**link, made_at=at, made_by=by))
        session.flush()
        self.report_members_in(session, target.id, by=by, at=at)
        new = {
            name: self.add_in(session, slug, one.model_copy(update={"same_as": ""}), by, at)
            for name, one in moved.reports.items()
        }
        named = moved.there | new
        for name, one in moved.reports.items():
            first = moved.same_as.get(name, one.same_as)
            if first:
                said = one.model_copy(update={"same_as": named.get(first, first)})
                self.change_in(session, slug, new[name], said, by=by, at=at)
        return list(new.values())

    @staticmethod
    def report_members_in(session: Session, survey: int, *, by: str, at: datetime) -> None:
        """Make each machine of a survey that others share a report of it, where it is none yet."""
        for member in sorted(members_in(session, survey)):
            its = session.get(RecordRow, member)
            assert its is not None
            report_itself(session, joined_in(session, its), by, at)

    def _to_bring(self, session: Session, row: RecordRow, target: RecordRow) -> "_Brought":
        """What of a machine's reports another survey lacks."""
        had = joined_in(session, row)
        reports = dict(self._standing(session, row).of(ReportEntry))
        there = list(self._standing(session, target).of(ReportEntry))
        known = {(one.name, one.reads): name for name, one in reversed(there)}
        called = {one.name: name for name, one in reversed(reports.items())}
        alike = {
            name: known[one.name, one.reads]
            for name, one in reports.items()
            if (one.name, one.reads) in known
        }
        same_as: dict[str, str] = {}
        old = slugs_of(session).get(had.survey or 0, "")
        for name, one in reports.items():
            first = called.get(one.same_as, one.same_as)
            if first not in reports and looks_like_a_name(first):
                first = f"{first} of {old}"  # withdrawn there; here its number may be another's
            same_as[name] = first
        return _Brought({n: one for n, one in reports.items() if n not in alike}, alike, same_as)

    def survey_of(self, slug: str, moment: datetime | None = None) -> str | None:
        """Short name of the survey that a machine has, or had at a moment; of a survey, its own.

        None while no report of it was ever kept.
        """
        with self._database.reading() as session:
            joined = joined_in(session, _row(session, slug), moment)
            return None if joined.survey is None else slugs_of(session)[joined.survey]

    @staticmethod
    def id_in(session: Session, slug: str) -> int:
        """Return a record's row number, for another part of the same transaction."""
        return _row(session, slug).id

    def undo(self, slug: str, number: int, by: str = "", at: datetime | None = None) -> str:
        """Take a change back; return the name of its entry. The undoing is itself a change."""
        with self._database.writing() as session:
            joined = joined_in(session, _row(session, slug))
            target = session.get(ChangeRow, number)
            hidden = target is None or joined.hides(target.kind, target.key)
            if target is None or hidden or target.record_id not in joined.ids:
                raise NotFoundError(f"There is no change {number} in this record's history.")
            query = changes_of(joined).where(
                ChangeRow.kind == target.kind, ChangeRow.key == target.key
            )
            history = as_changes(session, joined, query)
            change, before = restored_by_undoing(history, number)
            write_change(session, joined, change.kind, change.key, before, by, at or _now(), number)
            return change.name


def _earlier_own_report(session: Session, record: int, survey: int) -> int | None:
    """By which report a survey knew a machine that comes back to it."""
    query = select(SurveyLinkRow.own_report).where(
        SurveyLinkRow.record_id == record,
        SurveyLinkRow.survey_id == survey,
        SurveyLinkRow.own_report.is_not(None),
    )
    return session.scalar(query.order_by(SurveyLinkRow.id.desc()).limit(1))


def _row(session: Session, slug: str) -> RecordRow:
    row = session.scalar(select(RecordRow).where(RecordRow.slug == slug))
    if row is None:
        raise NotFoundError(f"There is no machine '{slug}' in this workshop.")
    return row


def _headings(session: Session) -> dict[int, Photograph]:
    """The photograph that heads each record; only the few that may are read."""
    role = EntryRow.entry["role"].as_string()
    found: dict[int, list[tuple[str, Photograph]]] = {}
    for of_role, which in (
        (PhotographRole.WHOLE, func.max(EntryRow.first_change)),
        (PhotographRole.AS_FOUND, func.min(EntryRow.first_change)),
    ):
        photographs = EntryRow.kind == EntryKind.PHOTOGRAPH
        chosen = (
            select(which).where(photographs, role == of_role.value).group_by(EntryRow.record_id)
        )
        query = select(EntryRow.record_id, EntryRow.key, EntryRow.entry)
        for record_id, key, payload in session.execute(
            query.where(photographs, EntryRow.first_change.in_(chosen))
        ):
            entry = kept_entry(payload)
            assert isinstance(entry, Photograph)
            found.setdefault(record_id, []).append((f"{EntryKind.PHOTOGRAPH} {key}", entry))
    headings = ((record_id, heading_photograph(some)) for record_id, some in found.items())
    return {record_id: heading[1] for record_id, heading in headings if heading is not None}


def _title(text: str) -> str:
    """A title as it is kept: one line, without signs that no pen can write."""
    plain = "".join(" " if unicodedata.category(c) in _NOT_WRITTEN else c for c in text)
    title = " ".join(plain.split())
    if not 1 <= len(title) <= 300:
        raise EntryError("A machine needs a name of 1 to 300 characters: write what you call it.")
    return title


def _free_slug(session: Session, title: str) -> str:
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    stem = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60] or "machine"
    return free_slug(session, stem)


def _now() -> datetime:
    return datetime.now(UTC)
