"""Releases of a survey: its open data as it stood on a day, numbered, citable, frozen.

A release holds the file that was published (table, metadata, licence, citation line), the answers
that stood in the machines' records that day, and what changed since the release before. It is kept
as it was made; later changes of the survey do not reach it.
"""

import base64
import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from ironlace.evidence.analyses import in_brief
from ironlace.evidence.errors import ConflictError, IronlaceError, NotFoundError
from ironlace.evidence.findings import Finding
from ironlace.evidence.wording import counted
from ironlace.record.entries import FindingEntry
from ironlace.survey.reports.table import Report, read_reports, report_cells
from ironlace.survey.sharing.open_data import About
from ironlace.survey.sharing.survey_zip import unzipped, zipped
from ironlace.workshop.analyses import stale
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.store.tables import ReleaseRow
from ironlace.workshop.survey.reports_out import Places, open_reports
from ironlace.workshop.survey.surveys import Survey, survey_named

_READ = frozenset({"sightings", "reports"})
"""What a finding names among its inputs when it was computed from reports."""
_NAMED = 8
"""Reports named in a sentence of what changed; the figures hold them all."""


class ReleaseError(IronlaceError):
    """A release cannot be made as it was asked."""


@dataclass(frozen=True, slots=True)
class Answer:
    """An answer that stood in a machine's record, and whether the reports changed since."""

    machine: str
    name: str
    about: str
    says: str
    stale: bool


@dataclass(frozen=True, slots=True)
class Changes:
    """What changed since the release before.

    Attributes
    ----------
    added, withdrawn
        Names of reports in the open data.
    changed
        Names of reports with the columns that read otherwise.
    answers
        Machine, what it is about, the answer then and the answer now; empty where there was none.
    """

    added: tuple[str, ...] = ()
    changed: tuple[tuple[str, tuple[str, ...]], ...] = ()
    withdrawn: tuple[str, ...] = ()
    answers: tuple[tuple[str, str, str, str], ...] = ()

    def __bool__(self) -> bool:
        return bool(self.added or self.changed or self.withdrawn or self.answers)

    def sentences(self) -> list[str]:
        """Say it."""
        said = []
        for verb, names in (
            ("added", self.added),
            ("changed", [f"{name} ({', '.join(columns)})" for name, columns in self.changed]),
            ("withdrawn", self.withdrawn),
        ):
            if names:
                more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
                said.append(
                    f"{counted(len(names), 'report')} {verb}: {', '.join(names[:_NAMED])}{more}."
                )
        said += [
            f"{about} of {machine}: {f'was {was}, ' if was else ''}now {now or 'withdrawn'}."
            for machine, about, was, now in self.answers
        ]
        return said or ["Nothing changed."]


@dataclass(frozen=True, slots=True)
class Release:
    """One release; `zip` is the file as it was published, `sha256` its checksum."""

    survey: str
    number: int
    made_at: datetime
    made_by: str
    about: About
    reports: int
    answers: tuple[Answer, ...]
    changes: Changes
    zip: bytes
    sha256: str

    @property
    def citation(self) -> str:
        """The line by which it is cited."""
        return self.about.citation(self.reports)

    def as_dict(self) -> dict[str, Any]:
        """It as JSON values, without the file."""
        return {
            "survey": self.survey,
            "number": self.number,
            "made_at": self.made_at.isoformat(),
            "made_by": self.made_by,
            **_told(self),
            "cite_as": self.citation,
            "sha256": self.sha256,
            "says": self.changes.sentences(),
        }


@dataclass(frozen=True, slots=True)
class ReleaseAsked:
    """How a release is to go out.

    Attributes
    ----------
    compiled_by
        Who answers for it, as it may be cited.
    places
        How much of each place goes out, of those whose owner allowed it.
    """

    compiled_by: str
    licence: str = "https://creativecommons.org/licenses/by/4.0/"
    places: Places = Places.NONE
    note: str = ""


def drafted(workshop: Workshop, slug: str, asked: ReleaseAsked, at: datetime) -> Release:
    """The release that would be made now; nothing is kept.

    Raises ReleaseError when there is nothing to release, or nobody answers for it.
    """
    survey = survey_named(workshop, slug)
    if not asked.compiled_by.strip():
        raise ReleaseError("A release is cited by who compiled it: give a club or a pen name.")
    reports = public_reports(workshop, survey, asked.places)
    if not reports:
        raise ReleaseError("There is no report to release yet.")
    earlier = releases(workshop, survey.slug)
    number = len(earlier) + 1
    title = f"{survey.title}, release {number}"
    about = About(title, asked.compiled_by, at.date().isoformat(), asked.licence, asked.note)
    answers = tuple(_answers(workshop, survey))
    data = zipped(reports, about)
    changes = _changes(earlier[-1] if earlier else None, reports, answers)
    digest = hashlib.sha256(data).hexdigest()
    return Release(survey.slug, number, at, "", about, len(reports), answers, changes, data, digest)


def release(
    workshop: Workshop,
    slug: str,
    asked: ReleaseAsked,
    *,
    by: str = "",
    at: datetime | None = None,
) -> Release:
    """Make a release of a survey and keep it for good.

    Raises
    ------
    ConflictError
        When nothing changed since the last, or another was made meanwhile.
    ReleaseError
        When there is nothing to release, or nobody answers for it.
    """
    moment = at or datetime.now(UTC)
    seen = workshop.records.last_change(survey_named(workshop, slug).slug)
    made = replace(drafted(workshop, slug, asked, moment), made_by=by)
    if not made.changes:
        raise ConflictError(
            f"Nothing changed since release {made.number - 1}: cite that one, or release when a "
            "report has come in."
        )
    with workshop.database.writing() as session:
        survey_id = workshop.records.id_in(session, made.survey)
        if len(_rows(session, survey_id)) != made.number - 1 or (
            workshop.records.last_change(made.survey) != seen
        ):
            raise ConflictError("The survey was changed or released meanwhile: look at it again.")
        session.add(
            ReleaseRow(
                survey_id=survey_id,
                number=made.number,
                last_change=seen,
                released={**_told(made), "zip": base64.b64encode(made.zip).decode("ascii")},
                sha256=made.sha256,
                made_at=moment,
                made_by=by,
            )
        )
    return made


def releases(workshop: Workshop, slug: str) -> list[Release]:
    """The releases of a survey, or of a machine's, the first one first.

    Raises ReleaseError when one is no longer what it was.
    """
    survey = survey_named(workshop, slug).slug
    with workshop.database.reading() as session:
        rows = _rows(session, workshop.records.id_in(session, survey))
        return [_release(survey, row) for row in rows]


def release_numbered(workshop: Workshop, slug: str, number: int) -> Release:
    """One release of a survey. Raises NotFoundError when there is none of that number."""
    for one in releases(workshop, slug):
        if one.number == number:
            return one
    raise NotFoundError(f"There is no release {number} of this survey.")


def public_reports(workshop: Workshop, survey: Survey, places: Places) -> list[Report]:
    """The reports of a survey as anyone may see them, with the machines that have it.

    A machine stands for itself where the survey does not know it by a report.
    """
    if len(survey.machines) == 1:
        # its own number comes first, and what was said of "this machine" is of it
        record = workshop.records.read(survey.machines[0][0])
    else:
        record = workshop.records.read(survey.slug)
    return list(open_reports(record, places=places))


def _rows(session: Session, survey_id: int) -> Sequence[ReleaseRow]:
    query = select(ReleaseRow).where(ReleaseRow.survey_id == survey_id)
    return session.scalars(query.order_by(ReleaseRow.number)).all()


def _answers(workshop: Workshop, survey: Survey) -> Iterator[Answer]:
    for machine, _ in survey.machines:
        record = workshop.records.read(machine)
        for name, entry in record.of(FindingEntry):
            finding: Finding = entry.finding
            if _READ & finding.inputs.keys():
                went = bool(stale(workshop, record, finding))
                yield Answer(machine, name, finding.about, in_brief(finding), went)


def _changes(
    before: Release | None, reports: Sequence[Report], answers: Sequence[Answer]
) -> Changes:
    # as they read back, so that a first release and the next are compared alike
    now = {one.id: report_cells(one) for one in reports}
    then: dict[str, Mapping[str, str]] = {}
    if before is not None:
        table = read_reports(unzipped(before.zip)[0], delimiter=",")
        then = {one.id: report_cells(one) for one in table.reports}
    changed = []
    for name in now.keys() & then.keys():
        columns = now[name].keys() | then[name].keys()
        otherwise = [c for c in columns if (now[name].get(c) or "") != (then[name].get(c) or "")]
        if otherwise:
            changed.append((name, tuple(sorted(otherwise))))
    said = {(one.machine, one.name): one for one in answers}
    was = {(one.machine, one.name): one for one in (before.answers if before else ())}
    otherwise_said = [
        (
            machine,
            (said.get((machine, name)) or was[machine, name]).about,
            was[machine, name].says if (machine, name) in was else "",
            said[machine, name].says if (machine, name) in said else "",
        )
        for machine, name in sorted(said.keys() | was.keys())
        if (said.get((machine, name)) and said[machine, name].says)
        != (was.get((machine, name)) and was[machine, name].says)
    ]
    return Changes(
        tuple(name for name in now if name not in then),
        tuple(sorted(changed)),
        tuple(name for name in then if name not in now),
        tuple(otherwise_said),
    )


def _told(made: Release) -> dict[str, Any]:  # dict: JSON
    about, changes = made.about, made.changes
    return {
        "title": about.title,
        "compiled_by": about.compiled_by,
        "issued": about.issued,
        "licence": about.licence,
        "note": about.note,
        "reports": made.reports,
        "answers": [
            {
                "machine": one.machine,
                "finding": one.name,
                "about": one.about,
                "says": one.says,
                "stale": one.stale,
            }
            for one in made.answers
        ],
        "changes": {
            "added": list(changes.added),
            "changed": [{"report": n, "columns": list(c)} for n, c in changes.changed],
            "withdrawn": list(changes.withdrawn),
            "answers": [
                {"machine": machine, "about": of, "was": was, "now": now}
                for machine, of, was, now in changes.answers
            ],
        },
    }


def _release(survey: str, row: ReleaseRow) -> Release:
    told = row.released
    data = base64.b64decode(told["zip"])
    if hashlib.sha256(data).hexdigest() != row.sha256:
        raise ReleaseError(
            f"Release {row.number} of {survey} is not what was released: restore a backup."
        )
    changes = told["changes"]
    return Release(
        survey,
        row.number,
        row.made_at,
        row.made_by,
        About(told["title"], told["compiled_by"], told["issued"], told["licence"], told["note"]),
        told["reports"],
        tuple(
            Answer(one["machine"], one["finding"], one["about"], one["says"], one["stale"])
            for one in told["answers"]
        ),
        Changes(
            tuple(changes["added"]),
            tuple((one["report"], tuple(one["columns"])) for one in changes["changed"]),
            tuple(changes["withdrawn"]),
            tuple((a["machine"], a["about"], a["was"], a["now"]) for a in changes["answers"]),
        ),
        data,
        row.sha256,
    )
