"""The workshop with its machines, and a machine's own page: the job in its order."""

from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace.evidence.errors import IronlaceError
from ironlace.record import (
    Entry,
    EntryKind,
    FindingEntry,
    Record,
    Statement,
    Step,
    Topic,
    job_of,
)
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep
from ironlace.web.entry_forms import FORMS, beginning
from ironlace.web.incoming import FormDep
from ironlace.web.pages.choosing import choices_of
from ironlace.web.rendering import page
from ironlace.workshop.work.jobs import JobState

router = APIRouter()
_LATEST = 6
_PICTURES = 8
_IDENTITY = (Topic.KIND, Topic.MAKER, Topic.MODEL, Topic.MADE)


@dataclass(frozen=True, slots=True)
class Line:
    """An entry in a list: its name and itself."""

    name: str
    entry: Entry


@router.get(addresses.home())
def workshop(request: Request, bench: BenchDep) -> Response:
    """Show the machines."""
    return _workshop(request, bench)


def _workshop(
    request: Request, bench: Bench, *, says: str = "", title: str = "", status: int = 200
) -> Response:
    return page(
        request,
        "workshop.html",
        status=status,
        machines=bench.records.all(),
        folder=bench.workshop.folder.name,
        says=says,
        title=title,
    )


@router.post(addresses.machines())
def make_machine(request: Request, bench: BenchDep, form: FormDep) -> Response:
    """Make a new machine's record."""
    title = form.one("title")
    try:
        slug = bench.records.create(title)
    except IronlaceError as error:
        return _workshop(request, bench, says=str(error), title=title, status=error.http_status)
    return RedirectResponse(addresses.machine(slug), 303)


@router.post(addresses.rename("{slug}"))
def rename_machine(bench: BenchDep, form: FormDep, slug: str) -> Response:
    """Give a machine another name."""
    bench.records.rename(slug, form.one("title"))
    return RedirectResponse(addresses.machine(slug), 303)


@router.get(addresses.machine("{slug}"))
def machine(
    request: Request, bench: BenchDep, slug: str, step: str = "", kept: str = ""
) -> Response:
    """Show a machine: what to do next, the job, what is known so far."""
    record = bench.records.read(slug)
    steps, upcoming = job_of(record)
    shown = next((s for s in steps if s.key == step), None) or upcoming or steps[-1]
    by_kind: dict[EntryKind, list[Line]] = {}
    for (kind, key), entry in record.entries.items():
        by_kind.setdefault(kind, []).append(Line(f"{kind.value} {key}", entry))
    pictures = by_kind.get(EntryKind.PHOTOGRAPH, [])
    jobs = [
        job
        for at, job in enumerate(bench.jobs.of_record(slug, 6))
        if not job.state.ended or (at == 0 and job.state is JobState.FAILED)
    ]
    return page(
        request,
        "machine.html",
        record=record,
        steps=steps,
        upcoming=upcoming,
        shown=shown,
        spec=_form_for(shown, record),
        values=_values_for(shown, record),
        fault=None,
        choice=choices_of(record, FORMS.get(shown.adds)),
        kinds=[
            (kind, len(lines), lines[: -_LATEST - 1 : -1])
            for kind in EntryKind
            if kind is not EntryKind.PHOTOGRAPH and (lines := by_kind.get(kind))
        ],
        empty_kinds=[k for k in EntryKind if k not in by_kind and k in FORMS],
        identity=_identity(record),
        pictures=pictures[: -_PICTURES - 1 : -1],
        picture_count=len(pictures),
        jobs=jobs,
        kept=kept_lines(record, kept),
    )


def _form_for(step: Step, record: Record) -> Any:
    """The form of the step's next thing, None where a page of its own does it."""
    if step.adds in (EntryKind.PHOTOGRAPH, EntryKind.DRAWING):
        return None
    if step.key == "date" and record.count(EntryKind.REPORT) >= 4:
        return None
    return FORMS[step.adds]


def _values_for(step: Step, record: Record) -> dict[str, Any]:
    values = beginning(step.adds)
    if step.key == "identify":
        said = {statement.about for _, statement in record.of(Statement)}
        wanted = (Topic.KIND, Topic.MAKER, Topic.SHUTTLE)
        values["about"] = next((t.value for t in wanted if t not in said), "")
    return values


def _identity(record: Record) -> list[tuple[str, Line]]:
    """The first statement on each main topic, and the date if one was found."""
    lines: list[tuple[str, Line]] = []
    said = list(record.of(Statement))
    for topic in _IDENTITY:
        found = next(((name, s) for name, s in said if s.about is topic), None)
        if found:
            lines.append((topic.value, Line(*found)))
    for name, entry in record.of(FindingEntry):
        if entry.finding.about == Topic.MADE.value:
            lines = [line for line in lines if line[0] != Topic.MADE.value]
            lines.append((Topic.MADE.value, Line(name, entry)))
    return lines


def kept_lines(record: Record, names: str) -> list[Line]:
    """The entries just kept, those of them that stand."""
    lines = []
    for name in names.split(",")[:40]:
        kind, _, key = name.strip().partition(" ")
        if kind in set(EntryKind) and key.isdecimal() and len(key) < 12:
            entry = record.entries.get((EntryKind(kind), int(key)))
            if entry is not None:
                lines.append(Line(name.strip(), entry))
    return lines
