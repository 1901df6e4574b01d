"""Entries of each kind: listed, shown, added, changed, withdrawn."""

from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace.dossier.readings_as_csv import readings_csv, table_file_name
from ironlace.evidence.errors import ConflictError, IronlaceError, NotFoundError
from ironlace.evidence.markings import parse_marking
from ironlace.evidence.quantities import parse_measured
from ironlace.evidence.wording import counted
from ironlace.evidence.written_dates import read_date
from ironlace.record import (
    DrawingEntry,
    Entry,
    EntryKind,
    FindingEntry,
    Photograph,
    ReadingsEntry,
    Record,
    ThreadingEntry,
)
from ironlace.record.entry_fields import Control, fields_of
from ironlace.record.purses import purses_of
from ironlace.record.readings import FORM_PARTS
from ironlace.running.threading.two_plans import compare_plans, differences_in_words
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep, HandDep
from ironlace.web.entry_forms import (
    FORMS,
    EntryForm,
    Fault,
    FormFaultError,
    beginning,
    entry_from,
    typed,
    values_of,
)
from ironlace.web.incoming import Form, FormDep
from ironlace.web.pages.choosing import choices_of
from ironlace.web.pages.files import attachment
from ironlace.web.pages.leafing import LeafDep, leaf_of
from ironlace.web.pages.machines import Line, kept_lines
from ironlace.web.rendering import page
from ironlace.workshop.analyses import analysis_about, stale

router = APIRouter()
_ON_A_LEAF = 60
"""Lines of a list that one looks through without losing the place."""


@router.get(addresses.reading())
def reading(sort: str = "marking", text: str = "") -> dict[str, Any]:
    """Tell how a mark, a date or a quantity reads as written, while it is being written."""
    if sort == "marking":
        marking = parse_marking(text)
        return {
            "glyphs": [
                {
                    "kind": glyph.kind.value,
                    "shows": " / ".join(glyph.options) if glyph.options else "?",
                    "doubtful": glyph.doubtful or len(glyph.options) != 1,
                }
                for glyph in marking.glyphs
            ],
            "says": marking.spoken(),
        }
    if sort == "date":
        found = read_date(text)
        return {"says": f"{found.in_words()} (kept as {found.text})"}
    return {"says": parse_measured(text).both_ways()}


@router.get(addresses.entries("{slug}", "{kind}"))
def list_entries(
    request: Request, bench: BenchDep, slug: str, kind: EntryKind, leaf: LeafDep, kept: str = ""
) -> Response:
    """List a machine's entries of one kind, the latest first."""
    if kind is EntryKind.PHOTOGRAPH:
        return RedirectResponse(addresses.photographs(slug), 303)
    record = bench.records.read(slug)
    lines = [
        Line(f"{found.value} {key}", entry)
        for (found, key), entry in record.entries.items()
        if found is kind
    ]
    return page(
        request,
        "entries.html",
        record=record,
        kind=kind,
        spec=FORMS.get(kind),
        leaf=leaf_of(lines[::-1], leaf, _ON_A_LEAF),
        kept=kept_lines(record, kept),
        purses=purses_of(record) if kind in (EntryKind.OUTLAY, EntryKind.RATE) else None,
    )


@router.get(addresses.new_entry("{slug}", "{kind}"))
def new_entry(request: Request, bench: BenchDep, slug: str, kind: EntryKind) -> Response:
    """Show the form for a new entry."""
    if kind is EntryKind.THREADING:
        return RedirectResponse(addresses.threading(slug), 303)
    record = bench.records.read(slug)
    return _form_page(request, record, _spec(kind), beginning(kind))


@router.post(addresses.entries("{slug}", "{kind}"))
def add_entry(
    request: Request, bench: BenchDep, form: FormDep, hand: HandDep, slug: str, kind: EntryKind
) -> Response:
    """Add an entry."""
    if kind is EntryKind.PHOTOGRAPH:
        raise NotFoundError("A photograph is added with its file: use the photographs page.")
    record, spec = bench.records.read(slug), _spec(kind)
    values, made = _made(form, spec)
    if isinstance(made, Fault):
        return _form_page(request, record, spec, values, fault=made, status=made.status)
    missing = _missing_names(record, made)
    if missing:
        return _form_page(request, record, spec, values, fault=missing, status=422)
    name = bench.records.add(slug, made, by=hand)
    back = form.one("back")
    if back == "machine":
        return RedirectResponse(addresses.machine(slug, kept=name), 303)
    if back == "dating":
        return RedirectResponse(addresses.dating(slug, kept=name), 303)
    return RedirectResponse(addresses.entry(slug, name, kept=name), 303)


@router.get(addresses.readings_table("{slug}", "{key}"))
def readings_table(bench: BenchDep, slug: str, key: int) -> Response:
    """Hand over a table of readings as CSV."""
    name = f"{EntryKind.READINGS.value} {key}"
    entry = bench.records.read(slug).named(name)
    assert isinstance(entry, ReadingsEntry)
    file = f"{slug}-{table_file_name(name, entry)}"
    return Response(
        readings_csv(entry),
        media_type="text/csv; charset=utf-8",
        headers={"content-disposition": attachment(file)},
    )


@router.get(addresses.entry_path("{slug}", "{kind}", "{key}"))
def show_entry(
    request: Request, bench: BenchDep, slug: str, kind: EntryKind, key: int, kept: str = ""
) -> Response:
    """Show one entry with its evidence and its history."""
    name = f"{kind.value} {key}"
    record = bench.records.read(slug)
    changes = bench.records.changes(slug, name)
    if not changes:
        raise NotFoundError(f"There is no {name} in the record of {record.title}.")
    entry = record.entries.get((kind, key))
    states = [(changes[i - 1].entry if i else None, c) for i, c in enumerate(changes)]
    context: dict[str, Any] = {
        "record": record,
        "name": name,
        "kind": kind,
        "entry": entry,
        "changes": states[::-1],
        "kept": kept_lines(record, kept),
        "can_change": kind in FORMS,
        "last_seen": changes[-1].number,
        "photographs": _photographs_by_name(record),
    }
    if isinstance(entry, ThreadingEntry):
        context["rival_plans"] = _rival_plans(record, name, entry)
    if isinstance(entry, FindingEntry | DrawingEntry):
        context["stale"] = stale(bench.workshop, record, entry.finding)
        context["analysis"] = analysis_about(entry.finding.about)
    if isinstance(entry, Photograph):
        original = bench.photographs.originals([entry.sha256]).get(entry.sha256)
        pictures = [n for n, _ in record.of(Photograph)]
        at = pictures.index(name)
        return page(
            request,
            "photograph.html",
            original=original,
            earlier=pictures[at - 1] if at else None,
            later=pictures[at + 1] if at + 1 < len(pictures) else None,
            **context,
        )
    if isinstance(entry, DrawingEntry):
        return _drawing_page(request, bench, slug, key, entry, context)
    return page(request, "entry.html", **context)


def _rival_plans(
    record: Record, name: str, entry: ThreadingEntry
) -> list[tuple[str, dict[str, Any]]]:
    """The other threading plans of a machine, each with what it does otherwise."""
    found = []
    for other, rival in record.of(ThreadingEntry):
        if other == name:
            continue
        differs = compare_plans(entry.plan(), rival.plan())
        summary = counted(len(differs), "difference") if differs else "threads alike"
        found.append((other, {"summary": summary, "lines": differences_in_words(differs)}))
    return found


def _drawing_page(  # dict: what the page is told
    request: Request,
    bench: Bench,
    slug: str,
    key: int,
    entry: DrawingEntry,
    context: dict[str, Any],
) -> Response:
    name = f"{EntryKind.DRAWING.value} {key}"
    from ironlace.web.drawing_in_words import origin_in_words, shares_of, standing_in_words
    from ironlace.workshop.ornament.drawings import (
        camera_of,
        drawing_svg,
        flat_place,
        round_kind,
    )

    shares = bench.remembered(
        ("shares", entry.svg), lambda: shares_of(drawing_svg(bench.workshop, slug, name))
    )
    has_flat = flat_place(bench.workshop, entry.svg).is_file()
    return page(
        request,
        "drawing.html",
        key=key,
        has_flat=has_flat,
        has_camera=camera_of(entry) is not None,
        round_kind=round_kind(entry),
        shares=shares,
        stands=standing_in_words(entry.grade, shares),
        origin=origin_in_words(entry),
        **context,
    )


@router.get(f"{addresses.entry_path('{slug}', '{kind}', '{key}')}/change")
def change_form(
    request: Request, bench: BenchDep, slug: str, kind: EntryKind, key: int, at: str = ""
) -> Response:
    """Show the form that changes an entry; `at` names the field that one came for."""
    name = f"{kind.value} {key}"
    record, spec = bench.records.read(slug), _spec(kind)
    entry = record.named(name)
    last = bench.records.last_change_of(slug, name)
    return _form_page(request, record, spec, values_of(entry), name=name, last_seen=last, at=at)


@router.post(f"{addresses.entry_path('{slug}', '{kind}', '{key}')}/change")
def change_entry(
    request: Request,
    bench: BenchDep,
    form: FormDep,
    hand: HandDep,
    slug: str,
    kind: EntryKind,
    key: int,
) -> Response:
    """Change an entry; keep what was typed when it was changed meanwhile by another."""
    name = f"{kind.value} {key}"
    record, spec = bench.records.read(slug), _spec(kind)
    standing = record.named(name)
    last_seen = form.number("last_seen")
    values, made = _made(form, spec, standing)
    if not isinstance(made, Fault):
        made = _missing_names(record, made) or made
    if isinstance(made, Fault):
        return _form_page(
            request,
            record,
            spec,
            values,
            fault=made,
            status=made.status,
            name=name,
            last_seen=last_seen,
        )
    if made != standing:
        try:
            bench.records.change(slug, name, made, by=hand, last_seen=last_seen)
        except ConflictError as error:
            says = f"{error} What stands now is shown below; sending again puts yours in its place."
            return _form_page(
                request,
                record,
                spec,
                values,
                fault=Fault(says, status=409),
                status=409,
                name=name,
                last_seen=bench.records.last_change_of(slug, name),
                meanwhile=standing,
            )
    return RedirectResponse(addresses.entry(slug, name, kept=name), 303)


@router.post(f"{addresses.entry_path('{slug}', '{kind}', '{key}')}/withdraw")
def withdraw_entry(
    bench: BenchDep, form: FormDep, hand: HandDep, slug: str, kind: EntryKind, key: int
) -> Response:
    """Withdraw an entry; its history stays."""
    name = f"{kind.value} {key}"
    bench.records.change(slug, name, None, by=hand, last_seen=form.number("last_seen"))
    return RedirectResponse(addresses.entry(slug, name), 303)


def _spec(kind: EntryKind) -> EntryForm:
    spec = FORMS.get(kind)
    if spec is None:
        raise NotFoundError(
            f"A {kind.value} comes of a study and is not written by hand: withdraw it, or make it "
            "again."
        )
    return spec


def _made(
    form: Form, spec: EntryForm, standing: Entry | None = None
) -> tuple[dict[str, Any], Entry | Fault]:
    """What was typed, and what it makes."""
    try:
        values = typed(form, spec)
    except FormFaultError as error:
        values = {name: form.one(name) for name, _ in form.fields}
        values |= {
            f.name: {part: form.one(f"{f.name}-{part}") for part in FORM_PARTS}
            for f in spec.fields
            if f.control is Control.READING_TABLE
        }
        values |= {f.name: form.many(f.name) for f in spec.fields if f.name == error.field}
        return values, Fault(str(error), error.field)
    return values, entry_from(spec, values, standing)


def _missing_names(record: Record, entry: Entry) -> Fault | None:
    """A fault when an entry names a photograph that is not in the record."""
    pictured = [f.name for f in fields_of(type(entry)) if f.control is Control.PICTURES]
    for field in pictured:
        for name in getattr(entry, field):
            try:
                record.named(name)
            except IronlaceError as error:
                return Fault(str(error), field)
    return None


def _form_page(
    request: Request,
    record: Record,
    spec: EntryForm,
    values: dict[str, Any],
    *,
    fault: Fault | None = None,
    status: int = 200,
    name: str = "",
    last_seen: int | None = None,
    meanwhile: Entry | None = None,
    at: str = "",
) -> Response:
    action = (
        addresses.change_entry(record.slug, name)
        if name
        else addresses.entries(record.slug, spec.kind)
    )
    return page(
        request,
        "entry_form.html",
        status=status,
        record=record,
        spec=spec,
        values=values,
        fault=fault,
        name=name,
        last_seen=last_seen,
        meanwhile=meanwhile,
        action=action,
        choice=choices_of(record, spec),
        at=at,
    )


def _photographs_by_name(record: Record) -> dict[str, Photograph]:
    return dict(record.of(Photograph))
