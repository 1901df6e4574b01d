"""A change written: appended to the history, and what stands brought in line with it.

Always a part of a larger transaction; nothing here begins or ends one.
"""

from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from ironlace.record.choices import Channel
from ironlace.record.entries import Entry, EntryError, EntryKind, ReportEntry, kept_entry, to_keep
from ironlace.record.history import Change, Key, Record, key_of
from ironlace.record.surveyed import OWN, serial_mark
from ironlace.workshop.store.joined import (
    OF_A_SURVEY,
    Joined,
    club_link_in,
    joined_in,
    members_in,
    next_key,
    slugs_of,
    with_survey,
)
from ironlace.workshop.store.tables import ChangeRow, EntryRow, RecordRow, SurveyLinkRow


def write_change(
    session: Session,
    joined: Joined,
    kind: EntryKind,
    key: int,
    entry: Entry | None,
    by: str,
    at: datetime,
    undoes: int | None,
) -> None:
    """Append a change and bring the standing entry in line with it."""
    home = joined.home(kind)
    assert home is not None  # a first report is given a survey before
    through, was = _first_and_last(session, home, kind, key)
    if through is None and was is None and kind in OF_A_SURVEY and not joined.is_survey:
        through = joined.record
    if entry is not None:
        slug = slugs_of(session)[through] if through is not None else ""
        entry = joined.kept(entry, was, through, slug)
    payload = None if entry is None else to_keep(entry)
    if payload is not None and undoes is None:
        _must_know_names(session, (through or home, home), payload)
    change = ChangeRow(
        record_id=home,
        kind=kind.value,
        key=key,
        entry=payload,
        made_at=at,
        made_by=by,
        undoes=undoes,
        through=through,
    )
    session.add(change)
    session.flush()
    standing = standing_row(session, joined, kind, key)
    if payload is None:
        if standing is not None:
            session.delete(standing)
    elif standing is None:
        session.add(
            EntryRow(
                record_id=home,
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
    if kind is EntryKind.MARK and joined.survey is not None:
        session.flush()
        report_itself(session, joined, by, at)


def _first_and_last(
    session: Session, home: int, kind: EntryKind, key: int
) -> tuple[int | None, Entry | None]:
    """Through which machine an entry came, and what it last was, were it withdrawn since."""
    if kind not in OF_A_SURVEY:
        return None, None
    query = select(ChangeRow.through, ChangeRow.entry).where(
        ChangeRow.record_id == home, ChangeRow.kind == kind.value, ChangeRow.key == key
    )
    rows = session.execute(query.order_by(ChangeRow.number)).all()
    stood = [payload for _, payload in rows if payload is not None]
    return rows[0][0] if rows else None, kept_entry(stood[-1]) if stood else None


def report_itself(session: Session, joined: Joined, by: str, at: datetime) -> None:
    """Let a survey's other machines know one machine's own number, as it is read now.

    A machine that has its survey to itself, or whose number nobody has read, is not reported. A
    survey that a club keeps is nobody's own.
    """
    assert joined.survey is not None
    query = select(EntryRow.key, EntryRow.entry).where(
        EntryRow.record_id == joined.record, EntryRow.kind == EntryKind.MARK.value
    )
    rows = session.execute(query.order_by(EntryRow.first_change)).all()
    marks: dict[Key, Entry] = {(EntryKind.MARK, row.key): kept_entry(row.entry) for row in rows}
    found = serial_mark(Record("", "", marks))
    alone = members_in(session, joined.survey) <= {joined.record}
    if found is None or (alone and club_link_in(session, joined.survey) is None):
        return
    _, mark = found
    standing = None
    if joined.own_report is not None:
        standing = standing_row(session, joined, EntryKind.REPORT, joined.own_report)
        if standing is None:
            return  # somebody withdrew it, and it is not for us to say it again
        report = kept_entry(standing.entry)
        assert isinstance(report, ReportEntry)
        if (report.reads, report.strings) != (mark.reads, mark.strings):
            report = report.model_copy(update={"reads": mark.reads, "strings": mark.strings})
            write_change(session, joined, EntryKind.REPORT, joined.own_report, report, by, at, None)
        return
    key = next_key(session, joined, EntryKind.REPORT)
    known = Joined(joined.record, joined.survey, key)
    link = {"record_id": joined.record, "survey_id": joined.survey, "own_report": key}
    session.add(SurveyLinkRow(**link, made_at=at, made_by=by))
    row = session.get(RecordRow, joined.record)
    assert row is not None
    how = {"how": Channel.HANDLED, "grade": mark.grade}
    report = ReportEntry(name=row.title, reads=mark.reads, strings=mark.strings, **how)
    write_change(session, known, EntryKind.REPORT, key, report, by, at, None)
    # what was said of "this machine" is said of that report, from where others look
    of_it = (
        select(EntryRow.key, EntryRow.entry)
        .join(ChangeRow, ChangeRow.number == EntryRow.last_change)
        .where(EntryRow.record_id == joined.survey, ChangeRow.through == joined.record)
    )
    for other, payload in session.execute(of_it).all():
        entry = kept_entry(payload)
        if isinstance(entry, ReportEntry) and entry.same_as == OWN and other != key:
            # it came before that report and would stand for the machine in its place
            second = entry.model_copy(update={"counts": False})
            write_change(session, known, EntryKind.REPORT, other, second, by, at, None)


def write_history(session: Session, record: RecordRow, changes: Iterable[Change]) -> None:
    """Append changes as they were, and what stands after them all; reports to a new survey."""
    changes = list(changes)
    joined = joined_in(session, record)
    if any(change.kind in OF_A_SURVEY for change in changes):
        joined = with_survey(session, record, record.made_at)
    standing: dict[Key, tuple[int, int, dict[str, Any]]] = {}  # first and last change, entry
    for change in changes:
        payload = None if change.entry is None else to_keep(change.entry)
        row = ChangeRow(
            number=change.number,
            record_id=joined.home(change.kind),
            through=record.id if change.kind in OF_A_SURVEY else None,
            kind=change.kind.value,
            key=change.key,
            entry=payload,
            made_at=change.made_at,
            made_by=change.made_by,
            undoes=change.undoes,
        )
        session.add(row)
        session.flush()
        place = (change.kind, change.key)
        if payload is None:
            standing.pop(place, None)
        else:
            first = standing[place][0] if place in standing else change.number
            standing[place] = (first, change.number, payload)
    for (kind, key), (first, last, payload) in standing.items():
        session.add(
            EntryRow(
                record_id=joined.home(kind),
                kind=kind.value,
                key=key,
                first_change=first,
                last_change=last,
                entry=payload,
            )
        )
    session.flush()


def _must_know_names(session: Session, records: tuple[int, ...], payload: dict[str, Any]) -> None:
    """Refuse an entry that names another which was never in this record or its survey."""
    named = {key_of(name) for name in names_in(payload)}
    if not named:
        return
    query = select(ChangeRow.kind, ChangeRow.key).where(
        ChangeRow.record_id.in_(records),
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
    for picture in payload.get("pictures", ()):  # of a threading plan; a bare sheet is no entry
        if picture["photograph"].startswith(EntryKind.PHOTOGRAPH.value):
            yield picture["photograph"]
    for source in payload.get("sources", ()):
        name = source.get("entry")
        if name and looks_like_a_name(name):
            yield name


def looks_like_a_name(text: str) -> bool:
    """Whether words are an entry's name, such as `photograph 3`."""
    kind, _, number = text.rpartition(" ")
    return kind in ("photograph", "source", "mark", "report", "measurement", "drawing") and (
        number.isdigit()
    )


def standing_row(session: Session, joined: Joined, kind: EntryKind, key: int) -> EntryRow | None:
    """The entry as it stands, None where it was withdrawn or never was."""
    return session.scalar(
        select(EntryRow).where(
            EntryRow.record_id == joined.home(kind),
            EntryRow.kind == kind.value,
            EntryRow.key == key,
        )
    )
