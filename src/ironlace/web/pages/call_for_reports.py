"""The call for reports, and the tray in which what comes back waits for a person."""

from datetime import UTC, datetime
from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.record import Channel, Photograph, Record, ReportEntry, SentReport
from ironlace.record.choices import Verdict
from ironlace.record.surveyed import OWN
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep, HandDep
from ironlace.web.incoming import Form, FormDep
from ironlace.web.pages.files import attachment
from ironlace.web.pages.machines import kept_lines
from ironlace.web.pages.reports_in import DATE_KINDS
from ironlace.web.rendering import page
from ironlace.workshop.hand_over.chosen import told_to_strangers
from ironlace.workshop.survey.call_made import CALL_FILES, CallAsked, call_files
from ironlace.workshop.survey.reports_of_record import reports_of
from ironlace.workshop.survey.tray import (
    Decision,
    LaidIn,
    TrayError,
    decide,
    number_of,
    take_back,
    take_in,
    thanks,
    waiting,
)
from ironlace.workshop.survey.tray_mail import MOST_LAID_IN, too_large

router = APIRouter()
_MEDIA = {
    ".html": "text/html; charset=utf-8",
    ".txt": "text/plain; charset=utf-8",
    ".pdf": "application/pdf",
}
_SHOWN = 60
"""Reports shown on one page of the tray; the others follow when these are settled (judged)."""
_VERDICTS: tuple[tuple[Verdict, str], ...] = (
    (Verdict.KEPT, "Keep it: it counts"),
    (Verdict.DOUBTED, "Doubt it: kept, not counted"),
    (Verdict.SECOND, "A second sighting of one known"),
    (Verdict.TURNED_DOWN, "Turn it down"),
)


def _asked(request: Request) -> CallAsked:
    given = request.query_params
    names = ("machine", "where", "keeper", "mail", "page", "photograph", "at")
    return CallAsked(**{name: given.get(name, "").strip()[:300] for name in names})


AskedDep = Annotated[CallAsked, Depends(_asked)]


@router.get(addresses.call_for_reports("{slug}"))
def call_for_reports(request: Request, bench: BenchDep, asked: AskedDep, slug: str) -> Response:
    """Ask what a call for reports needs to say, and hand over its files."""
    return _call_page(request, bench, bench.records.read(slug), asked)


def _call_page(
    request: Request, bench: Bench, record: Record, asked: CallAsked, says: str = ""
) -> Response:
    given = {name: str(getattr(asked, name)) for name in CallAsked.__slots__}
    return page(
        request,
        "call_for_reports.html",
        status=422 if says else 200,
        record=record,
        asked=asked,
        given={name: text for name, text in given.items() if text},
        photographs=list(told_to_strangers(bench.workshop, record).of(Photograph)),
        files=list(CALL_FILES.items()),
        says=says,
    )


@router.get(addresses.call_file("{slug}", "{name}"))
def one_file(request: Request, bench: BenchDep, asked: AskedDep, slug: str, name: str) -> Response:
    """Hand over one file of the call."""
    if request.headers.get("sec-fetch-site") not in (None, "none", "same-origin"):
        raise NotFoundError("A call is made for the bench's own pages: open the page of the call.")
    record = bench.records.read(slug)
    try:
        data = call_files(bench.workshop, record, asked, datetime.now(UTC), [name])[name]
    except NotFoundError:
        raise
    except IronlaceError as error:
        return _call_page(request, bench, record, asked, str(error))
    suffix = name[name.rindex(".") :]
    headers = {"content-disposition": attachment(f"{slug}-{name}")}
    return Response(data, media_type=_MEDIA[suffix], headers=headers)


@router.get(addresses.tray("{slug}"))
def tray(request: Request, bench: BenchDep, slug: str, kept: str = "") -> Response:
    """Show what waits, what was decided, and where to lay in what came."""
    return _tray_page(request, bench.records.read(slug), kept=kept)


def _tray_page(
    request: Request,
    record: Record,
    *,
    kept: str = "",
    says: str = "",
    says_of: str = "",
    typed: Form | None = None,
    laid: LaidIn | None = None,
) -> Response:
    sent = list(record.of(SentReport))
    waits = waiting(record)
    decided = [(name, one) for name, one in reversed(sent) if one.verdict is not Verdict.WAITING]
    sightings = reversed(reports_of(record).sightings)
    marks = {str(report.mark): report.entry or OWN for report in sightings}
    reports = {name for name, _ in record.of(ReportEntry)}
    return page(
        request,
        "tray.html",
        status=422 if says else 200,
        record=record,
        waits=waits[:_SHOWN],
        waits_total=len(waits),
        decided=decided[:_SHOWN],
        decided_total=len(decided),
        known={name: marks.get(_struck(one.reads), "") for name, one in waits},
        reports=[(OWN, OWN)]
        + [(name, f"{one.reads} ({one.name})") for name, one in record.of(ReportEntry)],
        standing=reports,
        photographs=dict(record.of(Photograph)),
        verdicts=_VERDICTS,
        ways=[way.value for way in Channel],
        kinds=DATE_KINDS,
        kept=kept_lines(record, kept),
        says=says,
        says_of=says_of,
        typed=dict(typed.fields) if typed else {},
        laid=laid.sentences() if laid else [],
        thanks=thanks(record) if decided else "",
    )


def _struck(reads: str) -> str:
    """A number as a report would keep it, empty where it does not read yet."""
    try:
        return number_of(reads) if reads else ""
    except IronlaceError:
        return ""


@router.post(addresses.tray("{slug}"))
def lay_in(request: Request, bench: BenchDep, form: FormDep, hand: HandDep, slug: str) -> Response:
    """Lay what came into the tray: files and pasted text."""
    record = bench.records.read(slug)
    laid: list[LaidIn] = []
    says: list[str] = []
    for file in form.files:
        try:
            if file.incoming is None:
                raise TrayError(file.refused)
            if file.incoming.size > MOST_LAID_IN:
                raise TrayError(too_large(file.came_as))
            data = file.incoming.path.read_bytes()
            laid.append(take_in(bench.workshop, slug, data, file.came_as, by=hand))
        except IronlaceError as error:
            says.append(str(error))
    if text := form.one("pasted"):
        try:
            laid.append(take_in(bench.workshop, slug, text.encode(), by=hand))
        except IronlaceError as error:
            says.append(str(error))
    elif not form.files:
        says.append("There is nothing to lay in: choose a file, or paste the text of the mail.")
    whole = LaidIn(
        tuple(name for one in laid for name in one.names),
        tuple(name for one in laid for name in one.again),
        tuple(left for one in laid for left in one.left),
    )
    if not says and not whole.again and not whole.left:
        return RedirectResponse(addresses.tray(slug, kept=",".join(whole.names[-40:])), 303)
    record = bench.records.read(slug)
    return _tray_page(request, record, says=" ".join(says), typed=form, laid=whole)


@router.post(addresses.tray_decision("{slug}"))
def decision(
    request: Request, bench: BenchDep, form: FormDep, hand: HandDep, slug: str
) -> Response:
    """Decide on a report that waits."""
    name = form.one("sent")
    try:
        if form.one("verdict") not in set(Verdict):
            raise TrayError("Choose what you decide: nothing is chosen beforehand.")
        how = form.one("how", Channel.TOLD.value)
        if how not in set(Channel):
            raise TrayError("Choose how you know the number: the list has every way.")
        told = Decision(
            Verdict(form.one("verdict")),
            form.one("reason"),
            form.one("reads"),
            form.one("called"),
            Channel(how),
            form.one("same_as"),
            form.one("dated"),
            form.one("dated_is"),
        )
        made = decide(bench.workshop, slug, name, told, by=hand)
    except NotFoundError:
        raise
    except IronlaceError as error:
        record = bench.records.read(slug)
        return _tray_page(request, record, says=str(error), says_of=name, typed=form)
    return RedirectResponse(addresses.tray(slug, kept=made or name), 303)


@router.post(addresses.tray_taken_back("{slug}"))
def decision_back(bench: BenchDep, form: FormDep, hand: HandDep, slug: str) -> Response:
    """Take a decision back."""
    name = form.one("sent")
    take_back(bench.workshop, slug, name, by=hand)
    return RedirectResponse(addresses.tray(slug, kept=name), 303)


@router.get(addresses.tray_thanks("{slug}"))
def thanks_as_text(bench: BenchDep, slug: str) -> Response:
    """Hand over who sent what, as text."""
    headers = {"content-disposition": attachment(f"{slug}-thanks.txt")}
    text = thanks(bench.records.read(slug))
    return Response(text, media_type="text/plain; charset=utf-8", headers=headers)
