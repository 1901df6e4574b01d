"""What a machine's record is made of in the database: its own rows, and those of its survey.

The reports of other machines lie in a survey, a record of its own that several machines may share
(decision 0044). Whoever reads, changes or undoes an entry of a machine comes through here, so that
there is one route to the reports.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from ironlace.record.entries import Entry, EntryKind, ReportEntry
from ironlace.record.surveyed import OWN, named_with, named_without
from ironlace.workshop.store.tables import (
    ChangeRow,
    ClubLinkRow,
    RecordKind,
    RecordRow,
    SurveyLinkRow,
)

OF_A_SURVEY = frozenset({EntryKind.REPORT})
"""The kinds of entries that lie in a survey; all others are one machine's own."""


@dataclass(frozen=True, slots=True)
class Joined:
    """The rows that one record is read from.

    Attributes
    ----------
    record
        The record's own number.
    survey
        Its survey's; its own where it is a survey, None while no report was ever kept.
    own_report
        Number of the report by which the survey's other machines know this one, None while it has
        the survey to itself. The machine itself does not see it: it would count as sighted twice.
    """

    record: int
    survey: int | None
    own_report: int | None = None

    @property
    def ids(self) -> tuple[int, ...]:
        """The numbers of the records whose rows are read together."""
        return (self.record,) if self.survey in (None, self.record) else (self.record, self.survey)

    @property
    def is_survey(self) -> bool:
        """Whether it is a survey itself."""
        return self.survey == self.record

    def home(self, kind: EntryKind) -> int | None:
        """In which record an entry of a kind lies; None for a report while there is no survey."""
        return self.survey if kind in OF_A_SURVEY else self.record

    @property
    def _own_name(self) -> str:
        return f"{EntryKind.REPORT} {self.own_report}"

    def hides(self, kind: str, key: int) -> bool:
        """Whether an entry is the report of this very machine, which only the others see."""
        return key == self.own_report and kind == EntryKind.REPORT.value

    def seen(self, entry: Entry, through: int | None, slugs: Mapping[int, str]) -> Entry:
        """An entry as this record sees it; see `record.surveyed`."""
        if not isinstance(entry, ReportEntry):
            return entry
        if self.own_report is not None and entry.same_as == self._own_name:
            entry = entry.model_copy(update={"same_as": OWN})
        if through is not None and through != self.record:
            entry = named_with(entry, slugs[through])
        return entry

    def kept(self, entry: Entry, was: Entry | None, through: int | None, slug: str) -> Entry:
        """An entry that was written here, as the survey keeps it: the reverse of `seen`.

        Parameters
        ----------
        was
            The entry as it is kept now, None for a new one.
        through, slug
            The machine through which it first came.
        """
        if not isinstance(entry, ReportEntry):
            return entry
        if entry.same_as == OWN and self.own_report is not None:
            entry = entry.model_copy(update={"same_as": self._own_name})
        if isinstance(was, ReportEntry) and through is not None and through != self.record:
            entry = named_without(entry, was, slug)
        return entry


def joined_in(session: Session, row: RecordRow, moment: datetime | None = None) -> Joined:
    """What a record is read from now, or was at a moment.

    The first survey that a machine had holds for all time before it, too.
    """
    if row.kind == RecordKind.SURVEY:
        return Joined(row.id, row.id)
    query = select(SurveyLinkRow).where(SurveyLinkRow.record_id == row.id)
    found: SurveyLinkRow | None = None
    for link in session.scalars(query.order_by(SurveyLinkRow.id)):
        if found is None or moment is None or link.made_at <= moment:
            found = link
    if found is None:
        return Joined(row.id, None)
    return Joined(row.id, found.survey_id, found.own_report)


def with_survey(session: Session, row: RecordRow, at: datetime) -> Joined:
    """What a record is read from, after making the survey that its first report needs."""
    joined = joined_in(session, row)
    if joined.survey is not None:
        return joined
    survey = RecordRow(
        slug=free_slug(session, f"{row.slug}-survey"),
        title=f"Survey of {row.title}"[:300],
        made_at=at,
        kind=RecordKind.SURVEY,
    )
    session.add(survey)
    session.flush()
    # it holds for all time before: the link begins with the record
    session.add(SurveyLinkRow(record_id=row.id, survey_id=survey.id, made_at=row.made_at))
    session.flush()
    return Joined(row.id, survey.id)


def members_in(session: Session, survey: int) -> set[int]:
    """The numbers of the machines that have a survey now."""
    has: dict[int, int] = {}
    for link in session.scalars(select(SurveyLinkRow).order_by(SurveyLinkRow.id)):
        has[link.record_id] = link.survey_id
    return {machine for machine, of in has.items() if of == survey}


def club_link_in(session: Session, survey: int) -> ClubLinkRow | None:
    """That a survey is kept together with a club, None where it is not, or no longer."""
    query = select(ClubLinkRow).where(
        ClubLinkRow.survey_id == survey, ClubLinkRow.left_at.is_(None)
    )
    return session.scalar(query.order_by(ClubLinkRow.id.desc()).limit(1))


def free_slug(session: Session, stem: str) -> str:
    """A short name that no record has, made from one that is wanted."""
    taken = set(session.scalars(select(RecordRow.slug).where(RecordRow.slug.startswith(stem))))
    if stem not in taken:
        return stem
    number = 2
    while f"{stem}-{number}" in taken:
        number += 1
    return f"{stem}-{number}"


def next_key(session: Session, joined: Joined, kind: EntryKind) -> int:
    """The number that the next entry of a kind gets: one that was never given before.

    Nor given to a report that came through the same machine into another survey.
    """
    of_kind = ChangeRow.kind == kind.value
    highest = session.scalar(
        select(func.max(ChangeRow.key)).where(ChangeRow.record_id == joined.home(kind), of_kind)
    )
    if kind in OF_A_SURVEY:
        through = select(func.max(ChangeRow.key)).where(ChangeRow.through == joined.record, of_kind)
        highest = max(highest or 0, session.scalar(through) or 0)
    return (highest or 0) + 1


def slugs_of(session: Session) -> dict[int, str]:
    """The short name of each record by its number."""
    rows = session.execute(select(RecordRow.id, RecordRow.slug))
    return {row.id: row.slug for row in rows}
