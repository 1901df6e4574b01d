"""The threading plan: points touched in order on photographs, and what the thread does there."""

from collections.abc import Sequence
from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.evidence.wording import capital
from ironlace.record import EntryKind, Photograph, Record, ThreadingEntry, parse_entry
from ironlace.running.threading.deeds import CROSSES, DEEDS, KNOWN, SIDE_LABELS, THREADS
from ironlace.running.threading.plan import ThreadingError
from ironlace.running.threading.steps import steps_text
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep, HandDep
from ironlace.web.incoming import FormDep
from ironlace.web.manners import PICTURED_POLICY
from ironlace.web.pages.files import attachment
from ironlace.web.pages.place_lists import ONLY_SHOWN, picture_shown, places_sent
from ironlace.web.rendering import page
from ironlace.workshop.threading_plans import card_of, diagram_of

router = APIRouter()
FIELDS = (
    *("photograph", "x_px", "y_px", "thread", "does", "side"),
    *("what", "crosses", "behind", "known", "source"),
)
"""What the form sends of each point, once for each."""
Row = dict[str, str]


@router.get(addresses.threading("{slug}"))
def show(
    request: Request, bench: BenchDep, slug: str, of: str = "", photograph: str = ""
) -> Response:
    """Show a photograph to touch points on, with those of a plan that is kept."""
    record = bench.records.read(slug)
    name, last_seen = "", 0
    rows: list[Row] = []
    if of:
        entry = _kept(record, of)
        name, rows = entry.name, _rows_of(entry)
        last_seen = bench.records.last_change_of(slug, of)
    return _page(request, bench, record, rows, name=name, of=of, at=photograph, seen=last_seen)


@router.post(addresses.threading("{slug}"))
def keep(request: Request, bench: BenchDep, form: FormDep, hand: HandDep, slug: str) -> Response:
    """Keep the plan, or go on with another photograph or an empty point."""
    record = bench.records.read(slug)
    (rows, at), name, of = places_sent(form, FIELDS), form.one("name").strip(), form.one("of")
    seen = form.number("last_seen") or 0
    if form.one("do") in ONLY_SHOWN:
        return _page(request, bench, record, rows, name=name, of=of, at=at, seen=seen)
    try:
        note = _kept(record, of).note if of else ""  # the page does not ask for it
        entry = parse_entry({**_payload(bench, record, name, rows), "note": note})
        if of:
            bench.records.change(slug, of, entry, by=hand, last_seen=seen)
        else:
            of = bench.records.add(slug, entry, by=hand)
    except IronlaceError as error:
        fault = str(error).removeprefix("The entry: ")
        return _page(
            request, bench, record, rows, name=name, of=of, at=at, seen=seen, says=capital(fault)
        )
    return RedirectResponse(addresses.entry(slug, of, kept=of), 303)


@router.get(addresses.threading_diagram("{slug}", "{key}"))
def diagram(bench: BenchDep, slug: str, key: int) -> Response:
    """Serve the diagram of a plan, as a picture."""
    record, entry = _asked(bench, slug, key)
    svg = diagram_of(bench.workshop, record, entry)
    headers = {"content-security-policy": PICTURED_POLICY}
    return Response(svg, media_type="image/svg+xml", headers=headers)


@router.get(addresses.threading_card("{slug}", "{key}"))
def card(bench: BenchDep, slug: str, key: int) -> Response:
    """Hand over the card for the drawer."""
    record, entry = _asked(bench, slug, key)
    name = attachment(f"{slug}-threading-{key}-card.pdf")
    return Response(
        card_of(bench.workshop, record, entry),
        media_type="application/pdf",
        headers={"content-disposition": name},
    )


@router.get(addresses.threading_steps("{slug}", "{key}"))
def steps(bench: BenchDep, slug: str, key: int) -> Response:
    """Hand over the steps as plain text."""
    _, entry = _asked(bench, slug, key)
    name = attachment(f"{slug}-threading-{key}-steps.txt")
    return Response(
        steps_text(entry.plan()),
        media_type="text/plain; charset=utf-8",
        headers={"content-disposition": name},
    )


def _asked(bench: Bench, slug: str, key: int) -> tuple[Record, ThreadingEntry]:
    record = bench.records.read(slug)
    return record, _kept(record, f"{EntryKind.THREADING.value} {key}")


def _kept(record: Record, name: str) -> ThreadingEntry:
    entry = record.named(name)
    if not isinstance(entry, ThreadingEntry):
        raise NotFoundError(f"'{name[:40]}' is no threading plan.")
    return entry


def _rows_of(entry: ThreadingEntry) -> list[Row]:
    return [{field: _typed(getattr(point, field)) for field in FIELDS} for point in entry.points]


def _typed(value: Any) -> str:
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def _payload(  # dict: an entry before it is read
    bench: Bench, record: Record, name: str, rows: Sequence[Row]
) -> dict[str, Any]:
    points = []
    for number, row in enumerate(rows, 1):
        point: dict[str, Any] = {field: row[field].strip() for field in FIELDS if row[field]}
        if not point.get("does"):
            raise ThreadingError(f"Point {number} does not say what the thread does there: choose.")
        for field in ("x_px", "y_px"):
            try:
                point[field] = float(point.get(field, ""))
            except ValueError as error:
                raise ThreadingError(
                    f"Point {number} has no place: touch the picture, or type its pixels."
                ) from error
        points.append(point)
    shown = dict.fromkeys(row["photograph"] for row in rows)
    pictures = []
    for picture in shown:
        photograph = record.named(picture)
        if not isinstance(photograph, Photograph):
            raise NotFoundError(f"'{picture[:40]}' is no photograph: choose one of this machine's.")
        original = bench.photographs.original(photograph.sha256)
        pictures.append(
            {"photograph": picture, "width_px": original.width, "height_px": original.height}
        )
    return {"kind": "threading", "name": name, "pictures": pictures, "points": points}


def _page(
    request: Request,
    bench: Bench,
    record: Record,
    rows: Sequence[Row],
    *,
    name: str,
    of: str,
    at: str,
    seen: int,
    says: str = "",
) -> Response:
    shown = picture_shown(bench, record, (at, *(row.get("photograph", "") for row in rows)))
    blank = {**dict.fromkeys(FIELDS, ""), "thread": "needle", "photograph": shown["at"]}
    return page(
        request,
        "threading.html",
        status=422 if says else 200,
        record=record,
        rows=[{**blank, **row} for row in rows],
        blank=blank,
        name=name,
        of=of,
        last_seen=seen,
        **shown,
        threads=THREADS,
        deed_words=[(word, word) for word in DEEDS],
        sides=SIDE_LABELS,
        deed_sides={word: " ".join(deed.sides) for word, deed in DEEDS.items()},
        crosses=CROSSES,
        known_words=[(word, knowing.told) for word, knowing in KNOWN.items()],
        says=says,
    )
