"""Checking a workshop: every checksum, every reference, every record against its history."""

import base64
import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from ironlace.evidence.errors import IronlaceError
from ironlace.record.entries import parse_entry
from ironlace.workshop.store.changes_written import names_in
from ironlace.workshop.store.database import faults_of, not_ours_in
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.store.originals import sha256_of
from ironlace.workshop.store.tables import (
    ChangeRow,
    EntryRow,
    OriginalRow,
    RecordKind,
    RecordRow,
    ReleaseRow,
    SurveyLinkRow,
)

_PARTS_SHOWN = 12
"""Characters of a checksum that tell one original from another in a sentence."""


@dataclass(frozen=True, slots=True)
class Checked:
    """What a check found.

    `wrong` are faults, a sentence each; `left_over` are files that nothing names, which harm
    nothing (an upload that was broken off leaves one).
    """

    originals: int
    changes: int
    entries: int
    wrong: tuple[str, ...]
    left_over: tuple[str, ...]

    @property
    def sound(self) -> bool:
        """Whether nothing is wrong."""
        return not self.wrong

    def as_dict(self) -> dict[str, Any]:
        """The result as JSON."""
        return {
            "sound": self.sound,
            "originals": self.originals,
            "changes": self.changes,
            "entries": self.entries,
            "wrong": list(self.wrong),
            "left_over": list(self.left_over),
        }


def check_workshop(
    workshop: Workshop, progress: Callable[[str, float], None] | None = None
) -> Checked:
    """Verify everything that can be verified without computing findings again."""
    database = workshop.database
    wrong = list(faults_of(database.file, read_only=database.read_only))
    wrong += [
        f"The database holds {thing}, which is none of this program's: restore a backup."
        for thing in not_ours_in(database.file, read_only=database.read_only)
    ]
    with workshop.database.reading() as session:
        originals = list(session.scalars(select(OriginalRow)))
        titles = {row.id: row.title for row in session.scalars(select(RecordRow))}
        known = {row.sha256 for row in originals}
        changes, entries, faults = _records_against_history(session, titles, known)
        wrong += faults
        wrong += _survey_faults(session, titles)
    named: set[Path] = set()
    for index, row in enumerate(originals):
        place = workshop.store.place(row.sha256, row.suffix)
        named.add(place)
        wrong += _file_faults(row, place)
        if progress:
            progress("reading originals", (index + 1) / len(originals))
    left_over = tuple(
        path.relative_to(workshop.folder).as_posix()
        for path in workshop.store.files()
        if path not in named
    )
    return Checked(len(originals), changes, entries, tuple(wrong), left_over)


def _survey_faults(session: Session, titles: dict[int, str]) -> Iterator[str]:
    """A sentence for each machine whose survey is none, and each release that was touched."""
    surveys = set(
        session.scalars(select(RecordRow.id).where(RecordRow.kind == RecordKind.SURVEY.value))
    )
    for link in session.scalars(select(SurveyLinkRow)):
        if link.survey_id not in surveys:
            of = titles.get(link.record_id, "?")
            yield f"{of} is said to have a survey that is none: restore a backup."
    for row in session.scalars(select(ReleaseRow)):
        if hashlib.sha256(base64.b64decode(row.released["zip"])).hexdigest() != row.sha256:
            of = titles.get(row.survey_id, "?")
            yield f"Release {row.number} of {of} is not what was released: restore a backup."


def _file_faults(row: OriginalRow, place: Path) -> Iterator[str]:
    label = f"{row.came_as} ({row.sha256[:_PARTS_SHOWN]})"
    if not place.is_file():
        yield f"The original {label} is missing from the store."
    elif place.stat().st_size != row.size or sha256_of(place) != row.sha256:
        yield f"The original {label} is not what it was: its checksum differs."


def _records_against_history(
    session: Session, titles: dict[int, str], originals: set[str]
) -> tuple[int, int, list[str]]:
    """Compare each standing entry with the fold of its changes, and follow what it names."""
    wrong: list[str] = []
    folded: dict[tuple[int, str, int], tuple[int, dict[str, Any]]] = {}
    ever: set[tuple[int, str]] = set()
    changes = 0
    through: dict[tuple[int, str, int], int] = {}  # whose entries a report's names are
    for row in session.scalars(select(ChangeRow).order_by(ChangeRow.number)):
        changes += 1
        place = (row.record_id, row.kind, row.key)
        ever.add((row.record_id, f"{row.kind} {row.key}"))
        if row.through is not None and row.through not in titles:
            wrong.append(f"Change {row.number} came through a machine that is not there.")
        if through.setdefault(place, row.through or row.record_id) != (
            row.through or row.record_id
        ):
            wrong.append(f"Change {row.number} came through another machine than its report.")
        if row.entry is None:
            folded.pop(place, None)
        else:
            folded[place] = (row.number, row.entry)
    standing = {
        (row.record_id, row.kind, row.key): (row.last_change, row.entry)
        for row in session.scalars(select(EntryRow))
    }
    for place in folded.keys() | standing.keys():
        record_id, kind, key = place
        label = f"{kind} {key} of {titles.get(record_id, '?')}"
        if folded.get(place) != standing.get(place):
            wrong.append(f"{label} does not stand as its history says.")
        payload = (standing.get(place) or folded[place])[1]
        try:
            parse_entry(payload)
        except IronlaceError as error:
            wrong.append(f"{label} cannot be read: {error}")
        wrong += [
            f"{label} names {name}, which was never in this record."
            for name in names_in(payload)
            if not {(record_id, name), (through.get(place, record_id), name)} & ever
        ]
        wrong += [
            f"{label} names a file {sha[:_PARTS_SHOWN]} that is not in the store."
            for sha in _files_in(payload)
            if sha not in originals
        ]
    return changes, len(standing), wrong


def _files_in(payload: dict[str, Any]) -> Iterator[str]:
    for field in ("sha256", "svg"):
        if field in payload:
            yield payload[field]
