"""The reports as open data: what would go out is shown, then taken along as one file."""

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import Response

from ironlace.evidence.edtf_dates import EdtfError
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.written_dates import read_day
from ironlace.record import Record
from ironlace.survey.reports.table import report_cells
from ironlace.survey.sharing.open_data import About
from ironlace.survey.sharing.survey_zip import zipped
from ironlace.web import addresses
from ironlace.web.bench import BenchDep
from ironlace.web.pages.files import attachment
from ironlace.web.rendering import day, page
from ironlace.workshop.survey.reports_out import Places, open_reports

router = APIRouter()
_SHOWN = 200
"""Rows shown of what would be published; the file has all (a judgement)."""

LICENCES: tuple[tuple[str, str], ...] = (
    ("https://creativecommons.org/licenses/by/4.0/", "CC BY 4.0: free, if you are named"),
    ("https://creativecommons.org/licenses/by-sa/4.0/", "CC BY-SA 4.0: the same, passed on alike"),
    ("https://creativecommons.org/publicdomain/zero/1.0/", "CC0 1.0: free for anything"),
)
PLACES = (
    (Places.NONE.value, "left out"),
    (Places.LAST.value, "only what stands after the last comma"),
    (Places.WHOLE.value, "as written"),
)


class AboutError(IronlaceError):
    """What is said of a survey does not do for publishing it."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """How a survey is to go out, as typed."""

    title: str = ""
    compiled_by: str = ""
    issued: str = ""
    licence: str = LICENCES[0][0]
    note: str = ""
    places: str = Places.NONE.value
    notes: bool = False

    def about(self) -> About:
        """What goes with the survey; raises AboutError."""
        if not self.title or not self.compiled_by:
            raise AboutError("A survey is cited by its title and by who compiled it: give both.")
        try:
            issued = read_day(self.issued).isoformat()
        except EdtfError as error:
            raise AboutError(f"The day of issue cannot be read: {error}") from error
        if self.licence not in dict(LICENCES):
            raise AboutError("That licence is not offered here: choose one of the list.")
        return About(self.title, self.compiled_by, issued, self.licence, self.note)


def _wanted(request: Request) -> Wanted:
    given = request.query_params
    one = {
        name: " ".join(given.get(name, "").split())[:500]
        for name in ("title", "compiled_by", "issued", "note")
    }
    return Wanted(
        **one,
        licence=given.get("licence", LICENCES[0][0]),
        places=given.get("places", Places.NONE.value),
        notes=given.get("notes") == "yes",
    )


WantedDep = Annotated[Wanted, Depends(_wanted)]


@router.get(addresses.open_survey("{slug}"))
def open_survey(request: Request, bench: BenchDep, wanted: WantedDep, slug: str) -> Response:
    """Show what would go out, and ask what is to be said of it."""
    return _page(request, bench.records.read(slug), wanted)


@router.get(addresses.open_survey_zip("{slug}"))
def open_survey_zip(request: Request, bench: BenchDep, wanted: WantedDep, slug: str) -> Response:
    """Hand the survey over as one file."""
    record = bench.records.read(slug)
    reports = open_reports(record, places=_places(wanted), notes=wanted.notes)
    try:
        if not reports:
            raise AboutError("There is no report to publish yet.")
        data = zipped(reports, wanted.about())
    except IronlaceError as error:
        return _page(request, record, wanted, str(error))
    headers = {"content-disposition": attachment(f"{slug}-survey.zip")}
    return Response(data, media_type="application/zip", headers=headers)


def _places(wanted: Wanted) -> Places:
    return Places(wanted.places) if wanted.places in set(Places) else Places.NONE


def _page(request: Request, record: Record, wanted: Wanted, says: str = "") -> Response:
    reports = open_reports(record, places=_places(wanted), notes=wanted.notes)
    cells = [report_cells(report) for report in reports]
    columns = [name for name in (cells[0] if cells else {}) if any(row.get(name) for row in cells)]
    try:
        citation = wanted.about().citation(len(reports))
    except AboutError:
        citation = ""
    return page(
        request,
        "open_survey.html",
        status=422 if says else 200,
        record=record,
        wanted=wanted,
        today=day(datetime.now(UTC)),
        licences=LICENCES,
        places=PLACES,
        columns=columns,
        rows=[[row.get(name, "") for name in columns] for row in cells[:_SHOWN]],
        total=len(cells),
        citation=citation,
        says=says,
    )
