"""The workshop with its machines, and a machine's own page: the job in its order."""

from dataclasses import dataclass
from itertools import groupby
from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace.evidence.edtf_dates import date_in_words
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.findings import DATE_FINDING
from ironlace.record import (
    DrawingEntry,
    Entry,
    EntryKind,
    FindingEntry,
    Photograph,
    Record,
    Statement,
    Step,
    Topic,
    heading_photograph,
    job_of,
)
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep, HandDep
from ironlace.web.entry_forms import FORMS, EntryForm, beginning
from ironlace.web.incoming import FormDep
from ironlace.web.pages.choosing import choices_of
from ironlace.web.pages.leafing import LeafDep, leaf_of
from ironlace.web.pages.pack import latest_pack
from ironlace.web.rendering import page
from ironlace.workshop.analyses import done_by_step
from ironlace.workshop.survey.reports_of_record import serial_of
from ironlace.workshop.work.jobs import JobState

router = APIRouter()
_ADDED = {*FORMS, EntryKind.THREADING}
"""Kinds that a person adds, by a form or on a page of its own."""
_FINDINGS = 3
"""Of what was worked out, so many stand on the machine's own page: the latest."""

_ON_A_LEAF = 3000
"""Entries on a leaf of the whole record: nearly every record on one, for whoever searches it."""

_IDENTITY = (Topic.KIND, Topic.MAKER, Topic.MODEL)
"""What the head of the page says of the machine."""


@dataclass(frozen=True, slots=True)
class Line:
    """An entry in a list: its name and itself."""

    name: str
    entry: Entry


@dataclass(frozen=True, slots=True)
class Made:
    """When it was made: in words, how sure, and the entry that says so."""

    says: str
    how_sure: str
    line: Line


@router.get(addresses.home())
def workshop(request: Request, bench: BenchDep) -> Response:
    """Show the machines."""
    return _workshop(request, bench)


def _workshop(
    request: Request, bench: Bench, *, says: str = "", title: str = "", status: int = 200
) -> Response:
    machines = bench.records.all()
    return page(
        request,
        "workshop.html",
        status=status,
        machines=[one for one in machines if one.put_away is None],
        away=[one for one in machines if one.put_away is not None],
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


@router.post(addresses.put_away("{slug}"))
def put_away_machine(bench: BenchDep, form: FormDep, hand: HandDep, slug: str) -> Response:
    """Put a machine away, or bring it back."""
    back = form.one("back") == "yes"
    bench.records.put_away(slug, away=not back, by=hand)
    return RedirectResponse(addresses.machine(slug) if back else addresses.home(), 303)


@router.get(addresses.machine("{slug}"))
def machine(
    request: Request, bench: BenchDep, slug: str, step: str = "", kept: str = ""
) -> Response:
    """Show a machine: what to do next, the job, what is known so far."""
    record = bench.records.read(slug)
    if bench.records.survey_of(slug) == slug:  # it is a survey, which has a page of its own
        return RedirectResponse(addresses.survey_record(slug), 303)
    steps, upcoming = job_of(record, done_by_step())
    shown = next((s for s in steps if s.key == step), None) or upcoming or steps[-1]
    latest: dict[EntryKind, Line] = {}
    counts: dict[EntryKind, int] = {}
    for (kind, key), entry in record.entries.items():
        latest[kind] = Line(f"{kind.value} {key}", entry)
        counts[kind] = counts.get(kind, 0) + 1
    jobs = [
        job
        for at, job in enumerate(bench.jobs.of_record(slug, 6))
        if not job.state.ended or (at == 0 and job.state is JobState.FAILED)
    ]
    drawn = [Line(name, kept) for name, kept in record.of(DrawingEntry)]
    found = [Line(name, kept) for name, kept in record.of(FindingEntry)]
    return page(
        request,
        "machine.html",
        record=record,
        heading=heading_photograph(record.of(Photograph)),
        mark=serial_of(record),
        made=_made(record),
        identity=_identity(record),
        steps=steps,
        upcoming=upcoming,
        shown=shown,
        at_work=bool(step or kept or not record.entries),
        spec=_form_for(shown),
        values=_values_for(shown, record),
        fault=None,
        choice=choices_of(record, FORMS.get(shown.adds)),
        kinds=[(kind, counts[kind], latest[kind]) for kind in EntryKind if kind in latest],
        empty_kinds=[k for k in EntryKind if k not in latest and k in _ADDED],
        by_hand=set(FORMS),
        worked_out=[*found[: -_FINDINGS - 1 : -1], *drawn[-1:]],
        worked_out_count=len(found) + len(drawn),
        pack=latest_pack(bench, slug),
        jobs=jobs,
        away=bench.records.put_away_at(slug),
        kept=kept_lines(record, kept),
    )


@router.get(addresses.whole_record("{slug}"))
def whole_record(request: Request, bench: BenchDep, slug: str, leaf: LeafDep) -> Response:
    """Show every entry of a machine on one page, by kind, the latest first."""
    record = bench.records.read(slug)
    order = list(EntryKind)
    lines = [
        (kind, Line(f"{kind.value} {key}", entry))
        for (kind, key), entry in reversed(record.entries.items())
    ]
    lines.sort(key=lambda line: order.index(line[0]))
    on_leaf = leaf_of(lines, leaf, _ON_A_LEAF)
    return page(
        request,
        "whole_record.html",
        record=record,
        leaf=on_leaf,
        kinds=[
            (kind, record.count(kind), [line for _, line in some])
            for kind, some in groupby(on_leaf.items, key=lambda line: line[0])
        ],
    )


def _form_for(step: Step) -> EntryForm | None:
    """The form of the step's next thing, None where a page of its own does it."""
    if step.adds is EntryKind.PHOTOGRAPH or step.changes:
        return None
    return FORMS.get(step.adds)


def _values_for(step: Step, record: Record) -> dict[str, Any]:
    values = beginning(step.adds)
    if step.key == "identify":
        said = {statement.about for _, statement in record.of(Statement)}
        wanted = (Topic.KIND, Topic.MAKER, Topic.SHUTTLE)
        values["about"] = next((t.value for t in wanted if t not in said), "")
    return values


def _identity(record: Record) -> list[tuple[str, str, Line]]:
    """Topic, words and entry: the first statement on each main topic."""
    lines: dict[Topic, tuple[str, str, Line]] = {}
    for name, entry in record.of(Statement):
        if entry.about in _IDENTITY and entry.about not in lines:
            words = entry.says_in_words(with_edtf=True)
            lines[entry.about] = (entry.about.value, words, Line(name, entry))
    return [lines[topic] for topic in _IDENTITY if topic in lines]


def _made(record: Record) -> Made | None:
    """When it was made: what was worked out last, else the first that is said of it."""
    found = [(n, f) for n, f in record.of(FindingEntry) if f.finding.about == DATE_FINDING]
    if found:
        name, kept = found[-1]
        value = kept.finding.value
        if isinstance(value, str):
            return Made(date_in_words(value), kept.finding.sentence, Line(name, kept))
        return Made(kept.finding.sentence, "", Line(name, kept))
    for name, said in record.of(Statement):
        if said.about is Topic.MADE:
            return Made(said.says_in_words(), "", Line(name, said))
    return None


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
