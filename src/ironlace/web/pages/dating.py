"""Dating: reports of other machines, theories of the numbering, the date."""

from typing import TYPE_CHECKING, Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.record import EntryKind, FindingEntry, Record, ReportEntry
from ironlace.record.job import DATE_FINDING
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep, HandDep
from ironlace.web.entry_forms import FORMS, beginning
from ironlace.web.incoming import Form, FormDep
from ironlace.web.manners import FILE_POLICY
from ironlace.web.pages.choosing import choices_of
from ironlace.web.pages.machines import kept_lines
from ironlace.web.rendering import page

if TYPE_CHECKING:
    from ironlace.workshop.dating import FirstDate
    from ironlace.workshop.survey_view import SurveyView

router = APIRouter()
_SHOWN_REPORTS = 300
_MOST_TABLE_BYTES = 2_000_000
_PLOT_INK = (
    "<style>svg{color:#1b1712}"
    "@media (prefers-color-scheme:dark){svg{color:#efe7d6;--plot-warm:#e0a458;--plot-cool:#7fc4d4;"
    "--plot-quiet:#a9a498}}</style>"
)


class TableError(IronlaceError):
    """A table of reports cannot be read."""


@router.get(addresses.dating("{slug}"))
def dating(
    request: Request,
    bench: BenchDep,
    slug: str,
    compare: str = "",
    schemes: str = "",
    kept: str = "",
) -> Response:
    """Show the reports; when asked, compare the theories and date the machine."""
    record = bench.records.read(slug)
    found, says = None, ""
    if compare:
        try:
            found = _first_date(bench, record, schemes)
        except IronlaceError as error:
            says = str(error)
    return _page(
        request,
        record,
        schemes=schemes,
        found=found,
        says=says,
        kept=kept,
        status=422 if says else 200,
    )


@router.get(addresses.survey("{slug}"))
def survey(request: Request, bench: BenchDep, slug: str, schemes: str = "") -> Response:
    """Tell what else the reports say; it takes a few seconds the first time."""
    record = bench.records.read(slug)
    return page(
        request,
        "survey.html",
        record=record,
        view=_survey(bench, record, schemes),
        schemes=schemes,
    )


@router.get(addresses.survey_plot("{slug}", "{number}"))
def survey_plot(bench: BenchDep, slug: str, number: int, schemes: str = "") -> Response:
    """Show one plot, in ink that suits light and dark paper."""
    plots = _survey(bench, bench.records.read(slug), schemes).plots
    if not 0 <= number < len(plots):
        raise NotFoundError(f"There is no plot {number} of these reports.")
    body = plots[number].svg.replace("</title>", f"</title>{_PLOT_INK}", 1)
    headers = {"content-security-policy": FILE_POLICY}
    return Response(body, media_type="image/svg+xml", headers=headers)


@router.post(addresses.dating_keep("{slug}"))
def keep(bench: BenchDep, form: FormDep, hand: HandDep, slug: str) -> Response:
    """Keep the date as a finding, in the place of an earlier one."""
    from ironlace.workshop.dating import date_finding

    record = bench.records.read(slug)
    schemes = form.one("schemes")
    entry = date_finding(_first_date(bench, record, schemes), schemes)
    earlier = [n for n, f in record.of(FindingEntry) if f.finding.about == DATE_FINDING]
    if earlier:
        bench.records.change(slug, earlier[-1], entry, by=hand)
        name = earlier[-1]
    else:
        name = bench.records.add(slug, entry, by=hand)
    return RedirectResponse(addresses.dating(slug, kept=name), 303)


@router.post(addresses.report_table("{slug}"))
def look_over(request: Request, bench: BenchDep, form: FormDep, slug: str) -> Response:
    """Show a table of reports before any of it counts."""
    record = bench.records.read(slug)
    text = ""
    try:
        text = _table_text(form)
        rows, aside, remarks = _read(record, text)
    except IronlaceError as error:
        return _page(request, record, table=text, table_says=str(error), status=422)
    return page(
        request,
        "report_table.html",
        record=record,
        rows=rows,
        aside=aside,
        remarks=remarks,
        table=text,
    )


@router.post(addresses.report_table_keep("{slug}"))
def keep_table(bench: BenchDep, form: FormDep, hand: HandDep, slug: str) -> Response:
    """Keep the ticked lines of a table as reports, all or none."""
    record = bench.records.read(slug)
    rows, _, _ = _read(record, form.one("table"))
    ticked = set(form.many("line"))
    chosen = [entry for number, (entry, _) in enumerate(rows) if str(number) in ticked]
    with bench.workshop.database.writing() as session:
        names = [bench.records.add_in(session, slug, entry, by=hand) for entry in chosen]
    return RedirectResponse(addresses.dating(slug, kept=",".join(names[-40:])), 303)


def _page(
    request: Request,
    record: Record,
    *,
    schemes: str = "",
    found: "FirstDate | None" = None,
    says: str = "",
    kept: str = "",
    table: str = "",
    table_says: str = "",
    status: int = 200,
) -> Response:
    from ironlace.workshop.dating import serial_of

    reports = list(record.of(ReportEntry))
    kept_date = [(n, f) for n, f in record.of(FindingEntry) if f.finding.about == DATE_FINDING]
    spec = FORMS[EntryKind.REPORT]
    return page(
        request,
        "dating.html",
        status=status,
        record=record,
        own=serial_of(record),
        reports=reports[: -_SHOWN_REPORTS - 1 : -1],
        total=len(reports),
        counting=sum(1 for _, r in reports if r.counts),
        kept_date=kept_date[-1] if kept_date else None,
        schemes=schemes,
        known=_known_schemes(),
        found=_told(found) if found else None,
        says=says,
        kept=kept_lines(record, kept),
        table=table,
        table_says=table_says,
        spec=spec,
        values=beginning(EntryKind.REPORT),
        choice=choices_of(record, spec),
    )


def _first_date(bench: Bench, record: Record, schemes: str) -> "FirstDate":
    """Compare, or take what was compared a moment ago on the same reports and theories."""
    from ironlace.workshop.dating import first_date, reports_of

    key = ("first date", tuple((r.id, str(r)) for r in reports_of(record)), schemes)
    return bench.remembered(key, lambda: first_date(record, schemes))


def _survey(bench: Bench, record: Record, schemes: str) -> "SurveyView":
    from ironlace.workshop.dating import sightings_of
    from ironlace.workshop.survey_view import survey_view

    key = ("survey", tuple((r.id, str(r)) for r in sightings_of(record)), schemes)
    return bench.remembered(
        key, lambda: survey_view(record, _first_date(bench, record, schemes), schemes)
    )


def _known_schemes() -> list[tuple[str, str]]:
    from ironlace.survey.scheme_library import known_patterns

    return [(candidate.name, str(candidate.scheme)) for candidate in known_patterns()]


def _told(found: "FirstDate") -> dict[str, Any]:
    comparison, date = found.comparison, found.dating
    return {
        "sentences": comparison.sentences(),
        "results": [
            {
                "name": result.name,
                "scheme": str(result.candidate.scheme),
                "words": result.candidate.scheme.in_words(),
                "rival": result.candidate.rival,
                "posterior": result.posterior,
            }
            for result in comparison.results
        ],
        "misfits": comparison.badly_fitting,
        "date": date.interval.text if date else None,
        "date_sentences": date.sentences() if date else [],
        "grade": date.grade if date else None,
        "own": found.own_mark,
    }


def _table_text(form: Form) -> str:
    """The table that was chosen as a file, or else pasted."""
    for file in form.files:
        if file.incoming is None:
            raise TableError(file.refused)
        if file.incoming.size > _MOST_TABLE_BYTES:
            raise TableError(f"{file.came_as} is larger than 2 MB: a table of reports is small.")
        try:
            return file.incoming.path.read_bytes().decode("utf-8-sig")
        except UnicodeDecodeError as error:
            raise TableError(
                f"{file.came_as} is not text in UTF-8: save it as CSV (UTF-8) and try again."
            ) from error
    text = form.one("table")
    if not text:
        raise TableError("There is no table: choose a CSV file, or paste its lines.")
    return text


def _read(
    record: Record, text: str
) -> tuple[list[tuple[ReportEntry, str]], list[tuple[int, str, str]], list[str]]:
    """Each line as an entry with what is already kept like it, lines set aside, remarks."""
    from ironlace.workshop.dating import read_report_entries

    entries, table = read_report_entries(text)
    standing = {(r.name, r.reads): name for name, r in record.of(ReportEntry)}
    by_mark = {r.reads: name for name, r in record.of(ReportEntry)}
    rows = []
    for entry in entries:
        same = standing.get((entry.name, entry.reads))
        like = by_mark.get(entry.reads)
        rows.append(
            (entry, f"kept already as {same}" if same else f"reads as {like}" if like else "")
        )
    aside = [
        (found.line, ", ".join(cell for _, cell in found.row if cell), found.reason)
        for found in table.set_aside
    ]
    return rows, aside, list(table.remarks)
