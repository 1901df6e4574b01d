"""The records in the database: read at any moment, changed one entry at a time, undone."""

import re
import unicodedata
from collections import OrderedDict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from threading import Lock
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from ironlace.evidence.errors import ConflictError, NotFoundError
from ironlace.record.entries import Entry, EntryError, EntryKind, kept_entry, to_keep
from ironlace.record.history import Change, Record, key_of, record_at, restored_by_undoing
from ironlace.workshop.store.database import Database
from ironlace.workshop.store.tables import ChangeRow, EntryRow, PutAwayRow, RecordRow

_CACHED_RECORDS = 8
"""Records kept in memory as read: one person has a few machines open at a time."""
_NOT_WRITTEN = ("Cc", "Cs", "Co", "Zl", "Zp")
"""Kinds of signs (Unicode) that no title holds: controls, halves of signs, private ones, breaks."""


@dataclass(frozen=True, slots=True)
class RecordSummary:
    """A line in the list of machines; `put_away` is when it was, None while it stands there."""

    slug: str
    title: str
    made_at: datetime
    changed_at: datetime
    entries: int
    photographs: int
    put_away: datetime | None = None


class Records:
    """All records of a workshop.

    What was read last is kept in memory by the number of the record's last change, so that opening
    a large record again costs one short query.
    """

    def __init__(self, database: Database) -> None:
        self._database = database
        self._cache: OrderedDict[str, tuple[int, Record]] = OrderedDict()
        self._lock = Lock()

    def all(self) -> list[RecordSummary]:
        """Return a summary of each record, the last changed first, those put away after all."""
        last = (
            select(ChangeRow.record_id, func.max(ChangeRow.made_at).label("at"))
            .group_by(ChangeRow.record_id)
            .subquery()
        )
        counts = (
            select(
                EntryRow.record_id,
                func.count().label("entries"),
                func.count().filter(EntryRow.kind == EntryKind.PHOTOGRAPH).label("photographs"),
            )
            .group_by(EntryRow.record_id)
            .subquery()
        )
        query = (
            select(RecordRow, last.c.at, counts.c.entries, counts.c.photographs)
            .outerjoin(last, last.c.record_id == RecordRow.id)
            .outerjoin(counts, counts.c.record_id == RecordRow.id)
        )
        with self._database.reading() as session:
            rows = session.scalars(select(PutAwayRow).order_by(PutAwayRow.id))
            away = {row.record_id: row.made_at if row.away else None for row in rows}
            found = [
                RecordSummary(
                    row.slug,
                    row.title,
                    row.made_at,
                    at or row.made_at,
                    entries or 0,
                    photos or 0,
                    away.get(row.id),
                )
                for row, at, entries, photos in session.execute(query)
            ]
        found.sort(key=lambda summary: summary.changed_at, reverse=True)
        return sorted(found, key=lambda summary: summary.put_away is not None)

    def put_away(
        self, slug: str, *, away: bool = True, by: str = "", at: datetime | None = None
    ) -> None:
        """Put a record away, or bring it back; nothing of it is lost, and each time is kept."""
        with self._database.writing() as session:
            session.add(
                PutAwayRow(
                    record_id=_row(session, slug).id, away=away, made_at=at or _now(), made_by=by
                )
            )

    def put_away_at(self, slug: str) -> datetime | None:
        """Return when a record was put away, None while it is not."""
        with self._database.reading() as session:
            query = select(PutAwayRow).where(PutAwayRow.record_id == _row(session, slug).id)
            last = session.scalar(query.order_by(PutAwayRow.id.desc()).limit(1))
            return last.made_at if last is not None and last.away else None

    def create(self, title: str, at: datetime | None = None) -> str:
        """Make an empty record; return its slug, which is never used again for another."""
        title = _title(title)
        with self._database.writing() as session:
            slug = _free_slug(session, title)
            session.add(RecordRow(slug=slug, title=title, made_at=at or _now()))
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
            with self._database.reading() as session:
                title = _row(session, slug).title
            return record_at(slug, title, self.changes(slug), moment)
        with self._database.reading() as session:
            row = _row(session, slug)
            newest = _newest_change(session, row.id)
            with self._lock:
                cached = self._cache.get(slug)
                if cached and cached[0] == newest:
                    self._cache.move_to_end(slug)
                    return cached[1]
            query = (
                select(EntryRow.kind, EntryRow.key, EntryRow.entry)
                .where(EntryRow.record_id == row.id)
                .order_by(EntryRow.first_change)
            )
            entries = {
                (EntryKind(kind), key): kept_entry(payload)
                for kind, key, payload in session.execute(query)
            }
            record = Record(row.slug, row.title, entries)
        with self._lock:
            self._cache[slug] = (newest, record)
            self._cache.move_to_end(slug)
            while len(self._cache) > _CACHED_RECORDS:
                self._cache.popitem(last=False)
        return record

    def changes(self, slug: str, name: str | None = None) -> list[Change]:
        """Return every change of a record in order, or those of one entry."""
        with self._database.reading() as session:
            query = _changes_of(_row(session, slug).id)
            if name is not None:
                kind, key = key_of(name)
                query = query.where(ChangeRow.kind == kind.value, ChangeRow.key == key)
            return [_change(row) for row in session.scalars(query)]

    def recent(self, slug: str, count: int = 30, before: int | None = None) -> list[Change]:
        """Return the last changes of a record, newest first."""
        with self._database.reading() as session:
            query = select(ChangeRow).where(ChangeRow.record_id == _row(session, slug).id)
            if before is not None:
                query = query.where(ChangeRow.number < before)
            query = query.order_by(ChangeRow.number.desc()).limit(count)
            return [_change(row) for row in session.scalars(query)]

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
        record_id = _row(session, slug).id
        kind = EntryKind(entry.kind)
        highest = session.scalar(
            select(func.max(ChangeRow.key)).where(
                ChangeRow.record_id == record_id, ChangeRow.kind == kind.value
            )
        )
        key = (highest or 0) + 1  # a withdrawn entry's number is not given again
        _write(session, record_id, kind, key, entry, by, at or _now(), undoes=None)
        return f"{kind.value} {key}"

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
        record_id = _row(session, slug).id
        standing = _standing(session, record_id, kind, key)
        if standing is None:
            raise NotFoundError(f"There is no {name} in this record: it may be withdrawn.")
        if last_seen is not None and standing.last_change != last_seen:
            raise ConflictError(
                f"{name} was changed meanwhile: look at it again, then make your change."
            )
        _write(session, record_id, kind, key, entry, by, at or _now(), undoes=None)

    def last_change_of(self, slug: str, name: str) -> int:
        """Return the number of an entry's last change."""
        kind, key = key_of(name)
        with self._database.reading() as session:
            standing = _standing(session, _row(session, slug).id, kind, key)
            if standing is None:
                raise NotFoundError(f"There is no {name} in this record: it may be withdrawn.")
            return standing.last_change

    def last_change(self, slug: str) -> int:
        """Return the number of a record's last change, 0 when it has none."""
        with self._database.reading() as session:
            return _newest_change(session, _row(session, slug).id)

    @staticmethod
    def id_in(session: Session, slug: str) -> int:
        """Return a record's row number, for another part of the same transaction."""
        return _row(session, slug).id

    def undo(self, slug: str, number: int, by: str = "", at: datetime | None = None) -> str:
        """Take a change back; return the name of its entry. The undoing is itself a change."""
        with self._database.writing() as session:
            record_id = _row(session, slug).id
            target = session.get(ChangeRow, number)
            if target is None or target.record_id != record_id:
                raise NotFoundError(f"There is no change {number} in this record's history.")
            query = _changes_of(record_id).where(
                ChangeRow.kind == target.kind, ChangeRow.key == target.key
            )
            history = [_change(row) for row in session.scalars(query)]
            change, before = restored_by_undoing(history, number)
            _write(session, record_id, change.kind, change.key, before, by, at or _now(), number)
            return change.name


def _write(
    session: Session,
    record_id: int,
    kind: EntryKind,
    key: int,
    entry: Entry | None,
    by: str,
    at: datetime,
    undoes: int | None,
) -> None:
    """Append a change and bring the standing entry in line with it."""
    payload = None if entry is None else to_keep(entry)
    if payload is not None and undoes is None:
        _must_know_names(session, record_id, payload)
    change = ChangeRow(
        record_id=record_id,
        kind=kind.value,
        key=key,
        entry=payload,
        made_at=at,
        made_by=by,
        undoes=undoes,
    )
    session.add(change)
    session.flush()
    standing = _standing(session, record_id, kind, key)
    if payload is None:
        if standing is not None:
            session.delete(standing)
    elif standing is None:
        session.add(
            EntryRow(
                record_id=record_id,
                kind=kind.value,
                key=key,
                first_change=change.number,
                last_change=change.number,
                entry=payload,
            )
        )
    else:
        standing.entry = payload
        standing.last_change = change.number


def _must_know_names(session: Session, record_id: int, payload: dict[str, Any]) -> None:
    """Refuse an entry that names another which was never in this record."""
    named = {key_of(name) for name in names_in(payload)}
    if not named:
        return
    query = select(ChangeRow.kind, ChangeRow.key).where(
        ChangeRow.record_id == record_id,
        ChangeRow.kind.in_({kind.value for kind, _ in named}),
        ChangeRow.key.in_({key for _, key in named}),
    )
    known = {(EntryKind(kind), key) for kind, key in session.execute(query)}
    for kind, key in sorted(named - known):
        raise EntryError(
            f"There is no {kind.value} {key} in this record: name one that is there, or add it "
            "first."
        )


def names_in(payload: dict[str, Any]) -> Iterator[str]:
    """Other entries of the record that an entry names, such as `photograph 3`."""
    for field in ("photographs", "before", "after"):
        yield from payload.get(field, ())
    for source in payload.get("sources", ()):
        name = source.get("entry")
        if name and _looks_like_a_name(name):
            yield name


def _looks_like_a_name(text: str) -> bool:
    kind, _, number = text.rpartition(" ")
    return kind in ("photograph", "source", "mark", "report", "measurement", "drawing") and (
        number.isdigit()
    )


def _row(session: Session, slug: str) -> RecordRow:
    row = session.scalar(select(RecordRow).where(RecordRow.slug == slug))
    if row is None:
        raise NotFoundError(f"There is no machine '{slug}' in this workshop.")
    return row


def _standing(session: Session, record_id: int, kind: EntryKind, key: int) -> EntryRow | None:
    return session.scalar(
        select(EntryRow).where(
            EntryRow.record_id == record_id, EntryRow.kind == kind.value, EntryRow.key == key
        )
    )


def _newest_change(session: Session, record_id: int) -> int:
    query = select(func.max(ChangeRow.number)).where(ChangeRow.record_id == record_id)
    return session.scalar(query) or 0


def _changes_of(record_id: int) -> Select[ChangeRow]:
    return select(ChangeRow).where(ChangeRow.record_id == record_id).order_by(ChangeRow.number)


def _change(row: ChangeRow) -> Change:
    return Change(
        row.number,
        row.made_at,
        row.made_by,
        EntryKind(row.kind),
        row.key,
        None if row.entry is None else kept_entry(row.entry),
        row.undoes,
    )


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
    taken = set(session.scalars(select(RecordRow.slug).where(RecordRow.slug.startswith(stem))))
    if stem not in taken:
        return stem
    number = 2
    while f"{stem}-{number}" in taken:
        number += 1
    return f"{stem}-{number}"


def _now() -> datetime:
    return datetime.now(UTC)
