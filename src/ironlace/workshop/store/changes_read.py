"""Changes read from the database, as they are seen through a machine and its survey."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from ironlace.record.entries import Entry, EntryKind, kept_entry
from ironlace.record.history import Change, Key, Record
from ironlace.workshop.store.joined import Joined, joined_in, slugs_of
from ironlace.workshop.store.tables import ChangeRow, RecordRow

_AT_ONCE = 500
"""Numbers in one query: SQLite takes no more than 999 in older builds."""


def newest_change(session: Session, joined: Joined) -> int:
    """Number of the last change of a machine and its survey, 0 where there is none."""
    query = select(func.max(ChangeRow.number)).where(ChangeRow.record_id.in_(joined.ids))
    return session.scalar(query) or 0


def with_later(session: Session, joined: Joined, record: Record, seen: int) -> dict[Key, Entry]:
    """The entries of a record as it was read up to a change, with the later changes folded in."""
    query = (
        select(ChangeRow.kind, ChangeRow.key, ChangeRow.entry, ChangeRow.through)
        .where(ChangeRow.record_id.in_(joined.ids), ChangeRow.number > seen)
        .order_by(ChangeRow.number)
    )
    entries, slugs = dict(record.entries), slugs_of(session)
    for kind, key, payload, through in session.execute(query):
        if payload is None or joined.hides(kind, key):
            entries.pop((EntryKind(kind), key), None)
        else:
            entries[EntryKind(kind), key] = joined.seen(kept_entry(payload), through, slugs)
    return entries


def payloads_of(
    session: Session, numbers: list[int]
) -> Iterator[tuple[int, dict[str, Any], int | None]]:
    """The entries that some changes made, as they are kept, and through which machine."""
    for at in range(0, len(numbers), _AT_ONCE):
        query = select(ChangeRow.number, ChangeRow.entry, ChangeRow.through).where(
            ChangeRow.number.in_(numbers[at : at + _AT_ONCE])
        )
        for number, payload, through in session.execute(query):
            assert payload is not None  # the withdrawn are not asked for
            yield number, payload, through


def through_surveys(session: Session, row: RecordRow, moments: Sequence[datetime]) -> list[Change]:
    """The history of a machine that had several surveys one after another; see `whole_history`."""
    first = joined_in(session, row, datetime.min.replace(tzinfo=UTC))
    own = as_changes(session, first, changes_of(Joined(row.id, None)))
    edges = [(first, None), *((joined_in(session, row, at), at) for at in moments)]
    ends = [*moments, None]
    told: list[Change] = []
    below = -1
    for (joined, begin), end in zip(edges, ends, strict=True):
        assert joined.survey is not None
        history = as_changes(session, joined, changes_of(Joined(joined.survey, joined.survey)))
        stood: dict[Key, Change] = {}
        for change in history:
            if begin is None or change.made_at > begin:
                continue
            if change.entry is None:
                stood.pop((change.kind, change.key), None)
            else:
                stood[change.kind, change.key] = change
        for change in stood.values():
            assert begin is not None
            told.append(replace(change, number=below, made_at=begin, made_by="", undoes=None))
            below -= 1
        inside = [
            change
            for change in history
            if (begin is None or change.made_at > begin) and (end is None or change.made_at < end)
        ]
        numbers = {change.number for change in inside}
        told += [
            change if change.undoes in numbers else replace(change, undoes=None)
            for change in inside
        ]
        if end is not None:
            standing = {}
            for change in [*stood.values(), *inside]:
                standing[change.kind, change.key] = change
            for (kind, key), change in standing.items():
                if change.entry is not None:
                    told.append(Change(below, end, "", kind, key, None))
                    below -= 1
    # by the moment; what was written at one moment stays in its order
    return sorted([*own, *told], key=lambda change: change.made_at)


def changes_of(joined: Joined) -> Select[ChangeRow]:
    """Ask for every change of a machine and its survey, in order."""
    of_it = ChangeRow.record_id.in_(joined.ids)
    return select(ChangeRow).where(of_it).order_by(ChangeRow.number)


def as_changes(session: Session, joined: Joined, query: Select[ChangeRow]) -> list[Change]:
    """The changes that a question finds, but for those that are hidden from this machine."""
    slugs = slugs_of(session)
    rows = session.scalars(query)
    return [_change(row, joined, slugs) for row in rows if not joined.hides(row.kind, row.key)]


def _change(row: ChangeRow, joined: Joined, slugs: Mapping[int, str]) -> Change:
    entry = None if row.entry is None else kept_entry(row.entry)
    return Change(
        row.number,
        row.made_at,
        row.made_by,
        EntryKind(row.kind),
        row.key,
        None if entry is None else joined.seen(entry, row.through, slugs),
        row.undoes,
    )
