"""History: every change, the record as it stood on a day, and taking a change back."""

from datetime import datetime, time, timedelta

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.written_dates import read_day
from ironlace.record import Change, Entry, EntryKind, Photograph
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep, HandDep
from ironlace.web.incoming import FormDep
from ironlace.web.pages.leafing import LeafDep, leaf_of
from ironlace.web.pages.machines import Line, kept_lines
from ironlace.web.rendering import page

router = APIRouter()
_SHOWN = 40
"""Changes on a page."""

_ON_A_LEAF = 100
"""Entries on a leaf of the record as it stood."""


class DayError(IronlaceError):
    """A day is not written as one."""


@router.get(addresses.history("{slug}"))
def history(
    request: Request, bench: BenchDep, slug: str, before: int | None = None, kept: str = ""
) -> Response:
    """Show the changes, the latest first."""
    record = bench.records.read(slug)
    changes = bench.records.recent(slug, _SHOWN + 1, before)
    shown = _with_what_was_before(bench, slug, changes[:_SHOWN])
    return page(
        request,
        "history.html",
        record=record,
        changes=shown,
        further=changes[_SHOWN - 1].number if len(changes) > _SHOWN else None,
        kept=kept_lines(record, kept),
        today=datetime.now().astimezone().date().isoformat(),
    )


@router.post(addresses.undo("{slug}", "{number}"))
def undo(bench: BenchDep, form: FormDep, hand: HandDep, slug: str, number: int) -> Response:
    """Take a change back; the taking back is itself a change."""
    name = bench.records.undo(slug, number, by=hand)
    if form.one("back") == "entry":
        return RedirectResponse(addresses.entry(slug, name), 303)
    return RedirectResponse(addresses.history(slug, kept=name), 303)


@router.get(addresses.as_it_stood("{slug}"))
def as_it_stood(
    request: Request,
    bench: BenchDep,
    slug: str,
    leaf: LeafDep,
    on: str = "",
    kind: EntryKind | None = None,
) -> Response:
    """Show the record as it stood at the end of a day."""
    moment = _end_of(on)
    record = bench.records.read(slug, moment)
    lines = [
        Line(f"{found.value} {key}", entry)
        for (found, key), entry in record.entries.items()
        if kind is None or found is kind
    ]
    return page(
        request,
        "as_it_stood.html",
        record=record,
        on=on,
        kind=kind,
        leaf=leaf_of(lines, leaf, _ON_A_LEAF),
        counts=[(k, record.count(k)) for k in EntryKind if record.count(k)],
        photographs=dict(record.of(Photograph)),
        today=datetime.now().astimezone().date().isoformat(),
    )


def _with_what_was_before(
    bench: Bench, slug: str, changes: list[Change]
) -> list[tuple[Entry | None, Change, bool]]:
    """Each change with its entry's state before it, and whether it is that entry's latest."""
    of_entry = {name: bench.records.changes(slug, name) for name in {c.name for c in changes}}
    found = []
    for change in changes:
        all_of_it = of_entry[change.name]
        at = next(i for i, c in enumerate(all_of_it) if c.number == change.number)
        found.append((all_of_it[at - 1].entry if at else None, change, at == len(all_of_it) - 1))
    return found


def _end_of(day: str) -> datetime:
    try:
        start = datetime.combine(read_day(day), time.min).astimezone()
        return start + timedelta(days=1) - timedelta(microseconds=1)
    except (IronlaceError, ValueError, OverflowError, OSError) as error:
        raise DayError(f"'{day[:40]}' is not a day: write it like 26 November 2024.") from error
