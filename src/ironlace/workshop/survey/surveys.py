"""The surveys of a workshop: which machines share one, and joining a machine to another's."""

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import func, select

from ironlace.evidence.errors import NotFoundError
from ironlace.record.entries import EntryKind
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.store.joined import members_in
from ironlace.workshop.store.tables import EntryRow, RecordKind, RecordRow, ReleaseRow


@dataclass(frozen=True, slots=True)
class Survey:
    """A survey as it is listed.

    Attributes
    ----------
    machines
        Short name and title of each machine that has it now.
    reports
        How many reports stand in it.
    releases
        How many were made of it.
    """

    slug: str
    title: str
    made_at: datetime
    machines: tuple[tuple[str, str], ...]
    reports: int
    releases: int

    def as_dict(self) -> dict[str, Any]:
        """It as JSON values."""
        return {
            "survey": self.slug,
            "title": self.title,
            "made_at": self.made_at.isoformat(),
            "machines": [{"machine": slug, "title": title} for slug, title in self.machines],
            "reports": self.reports,
            "releases": self.releases,
        }


def surveys(workshop: Workshop) -> list[Survey]:
    """Every survey of a workshop, by title."""
    with workshop.database.reading() as session:
        count = select(EntryRow.record_id, func.count().label("n")).where(
            EntryRow.kind == EntryKind.REPORT.value
        )
        reports = {
            row.record_id: row.n for row in session.execute(count.group_by(EntryRow.record_id))
        }
        made = select(ReleaseRow.survey_id, func.count().label("n")).group_by(ReleaseRow.survey_id)
        releases = {row.survey_id: row.n for row in session.execute(made)}
        rows = {row.id: row for row in session.scalars(select(RecordRow))}
        return [
            Survey(
                row.slug,
                row.title,
                row.made_at,
                tuple(
                    (rows[one].slug, rows[one].title) for one in sorted(members_in(session, row.id))
                ),
                reports.get(row.id, 0),
                releases.get(row.id, 0),
            )
            for row in sorted(rows.values(), key=lambda row: (row.title, row.id))
            if row.kind == RecordKind.SURVEY
        ]


def survey_named(workshop: Workshop, slug: str) -> Survey:
    """A survey by its own short name, or by that of a machine that has it.

    Raises NotFoundError when there is none.
    """
    of = workshop.records.survey_of(slug)
    if of is None:
        raise NotFoundError(
            f"The machine '{slug}' has no survey yet: its first report begins one, or let it share "
            "another's."
        )
    return next(one for one in surveys(workshop) if one.slug == of)


def make_survey(workshop: Workshop, title: str, at: datetime | None = None) -> str:
    """Make a survey that no machine has yet; return its short name."""
    with workshop.database.writing() as session:
        return workshop.records.create_in(
            session, title, RecordKind.SURVEY, at or datetime.now(UTC)
        )


def share(
    workshop: Workshop,
    machine: str,
    survey: str,
    *,
    bring: bool = True,
    by: str = "",
    at: datetime | None = None,
) -> list[str]:
    """Let a machine have a survey, named by itself or by another machine that has it.

    Returns the names of the reports that it brought. See `Records.share_in`.
    """
    of = survey_named(workshop, survey).slug
    moment = at or datetime.now(UTC)
    with workshop.database.writing() as session:
        return workshop.records.share_in(session, machine, of, bring=bring, by=by, at=moment)
