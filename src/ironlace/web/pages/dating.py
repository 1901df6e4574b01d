"""Dating: reports of other machines, theories of the numbering, the date."""

import re
from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.record import EntryKind, FindingEntry, Record, ReportEntry
from ironlace.record.job import DATE_FINDING
from ironlace.web import addresses
from ironlace.web.assumption_form import FIELDS, AssumptionError, OddsAsked, asked_of
from ironlace.web.bench import Bench, BenchDep, HandDep, bench_of
from ironlace.web.entry_forms import FORMS, beginning
from ironlace.web.incoming import FormDep
from ironlace.web.manners import FILE_POLICY
from ironlace.web.pages.choosing import choices_of
from ironlace.web.pages.machines import kept_lines
from ironlace.web.rendering import page

if TYPE_CHECKING:
    from ironlace.survey import Comparison
    from ironlace.survey.sharing.same_machine import Pair
    from ironlace.workshop.survey.reports_of_record import FirstDate
    from ironlace.workshop.survey.survey_view import SurveyView

router = APIRouter()
_SHOWN_REPORTS = 300
_SHOWN_PAIRS = 40
_PLOT_INK = (
    "<style>svg{color:#1b1712}"
    "@media (prefers-color-scheme:dark){svg{color:#efe7d6;--plot-warm:#e0a458;--plot-cool:#7fc4d4;"
    "--plot-quiet:#a9a498}}</style>"
)


def _asked(request: Request) -> OddsAsked:
    return asked_of(request.query_params)


AskedDep = Annotated[OddsAsked, Depends(_asked)]


@router.get(addresses.dating("{slug}"))
def dating(
    request: Request,
    bench: BenchDep,
    asked: AskedDep,
    slug: str,
    compare: str = "",
    kept: str = "",
) -> Response:
    """Show the reports; when asked, compare the theories and date the machine."""
    record = bench.records.read(slug)
    found, says, at = None, "", ""
    if compare:
        try:
            found = _first_date(bench, record, asked)
        except AssumptionError as error:
            says, at = str(error), error.name
        except IronlaceError as error:
            says, at = str(error), "schemes"
    return dating_page(
        request,
        record,
        asked=asked,
        found=found,
        says=says,
        says_at=at,
        kept=kept,
        status=422 if says else 200,
    )


@router.get(addresses.dating_as_typed("{slug}"))
def as_typed(bench: BenchDep, asked: AskedDep, slug: str, reads: str = "") -> dict[str, Any]:
    """Tell a script how one more report would move the odds, while it is being typed."""
    from ironlace.evidence.markings import parse_marking
    from ironlace.survey.answers.next_report import with_report
    from ironlace.survey.reports.table import Report

    found = _first_date(bench, bench.records.read(slug), asked).comparison
    then = with_report(found, Report("the report being typed", parse_marking(reads[:80])))
    names = dict.fromkeys([found.best.name, then.best.name])
    return {
        "moves": [
            {
                "theory": name,
                "before": round(found.of(name).posterior, 6),
                "after": round(then.of(name).posterior, 6),
            }
            for name in names
        ],
        "says": _moving(names, found, then),
    }


@router.get(addresses.survey("{slug}"))
def survey(request: Request, bench: BenchDep, asked: AskedDep, slug: str) -> Response:
    """Tell what else the reports say; it takes a few seconds the first time."""
    record = bench.records.read(slug)
    return page(
        request,
        "survey.html",
        record=record,
        view=_survey(bench, record, asked),
        asked=asked,
    )


@router.get(addresses.survey_plot("{slug}", "{number}"))
def survey_plot(bench: BenchDep, asked: AskedDep, slug: str, number: int) -> Response:
    """Show one plot, in ink that suits light and dark paper."""
    plots = _survey(bench, bench.records.read(slug), asked).plots
    if not 0 <= number < len(plots):
        raise NotFoundError(f"There is no plot {number} of these reports.")
    body = plots[number].svg.replace("</title>", f"</title>{_PLOT_INK}", 1)
    headers = {"content-security-policy": FILE_POLICY}
    return Response(body, media_type="image/svg+xml", headers=headers)


@router.post(addresses.dating_keep("{slug}"))
def keep(bench: BenchDep, form: FormDep, hand: HandDep, slug: str) -> Response:
    """Keep the date as a finding, in the place of an earlier one."""
    from ironlace.workshop.survey.reports_of_record import date_finding

    record = bench.records.read(slug)
    asked = asked_of(dict(form.fields))
    entry = date_finding(_first_date(bench, record, asked), asked.schemes)
    earlier = [n for n, f in record.of(FindingEntry) if f.finding.about == DATE_FINDING]
    if earlier:
        bench.records.change(slug, earlier[-1], entry, by=hand)
        name = earlier[-1]
    else:
        name = bench.records.add(slug, entry, by=hand)
    return RedirectResponse(addresses.dating(slug, kept=name), 303)


@router.post(addresses.same_machine("{slug}"))
def same_machine(bench: BenchDep, form: FormDep, hand: HandDep, slug: str) -> Response:
    """Tell of two reports that they are one machine: the later one stays, but does not count."""
    from ironlace.workshop.survey.reports_of_record import OWN

    record = bench.records.read(slug)
    first, later = form.one("first"), form.one("later")
    report = record.named(later)
    if not isinstance(report, ReportEntry):
        raise NotFoundError(f"{later} is no report of this record.")
    if first == OWN:
        earlier = OWN
    else:
        standing = record.named(first)
        if not isinstance(standing, ReportEntry) or first == later:
            raise NotFoundError(f"{first} is no other report of this record.")
        earlier = standing.name
    told = report.model_copy(update={"same_as": earlier, "counts": False})
    bench.records.change(slug, later, told, by=hand)
    return RedirectResponse(addresses.dating(slug, kept=later), 303)


def dating_page(
    request: Request,
    record: Record,
    *,
    asked: OddsAsked | None = None,
    found: "FirstDate | None" = None,
    says: str = "",
    says_at: str = "",
    kept: str = "",
    table: str = "",
    table_says: str = "",
    thread: str = "",
    thread_says: str = "",
    status: int = 200,
) -> Response:
    """Show the reports of a record, with what was found and what is still being typed."""
    from ironlace.survey.schemes.lines import scheme_lines
    from ironlace.survey.sharing.same_machine import likely_pairs
    from ironlace.workshop.survey.reports_of_record import reports_of, serial_of

    asked = asked or OddsAsked()
    kept_date = [(n, f) for n, f in record.of(FindingEntry) if f.finding.about == DATE_FINDING]
    schemes_from = ""
    if not asked.schemes and not found and not says and "schemes" not in request.query_params:
        # begin with the theories that the date was kept under last
        for name, entry in kept_date[-1:]:
            schemes = str(entry.finding.method.parameters.get("schemes", ""))
            asked, schemes_from = OddsAsked(schemes, asked.moved), name if schemes else ""
    compared = reports_of(record)
    pairs = bench_of(request).remembered(("pairs", compared), lambda: likely_pairs(compared))
    reports = list(record.of(ReportEntry))
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
        asked=asked,
        schemes_from=schemes_from,
        lines=scheme_lines(asked.schemes),
        assumed=FIELDS,
        pairs=[_pair(record, pair) for pair in pairs[:_SHOWN_PAIRS]],
        pairs_total=len(pairs),
        known=_known_schemes(),
        found=_told(found) if found else None,
        says=says,
        says_at=says_at,
        kept=kept_lines(record, kept),
        table=table,
        table_says=table_says,
        thread=thread,
        thread_says=thread_says,
        spec=spec,
        values=beginning(EntryKind.REPORT),
        choice=choices_of(record, spec),
    )


def _first_date(bench: Bench, record: Record, asked: OddsAsked) -> "FirstDate":
    """Compare, or take what was compared a moment ago on the same reports and theories."""
    from ironlace.workshop.survey.reports_of_record import first_date, reports_of

    assumptions = asked.assumptions()
    key = ("first date", tuple((r.id, str(r)) for r in reports_of(record)), asked.key)
    return bench.remembered(key, lambda: first_date(record, asked.schemes, assumptions=assumptions))


def _survey(bench: Bench, record: Record, asked: OddsAsked) -> "SurveyView":
    from ironlace.workshop.survey.reports_of_record import sightings_of
    from ironlace.workshop.survey.survey_view import survey_view

    key = ("survey", tuple((r.id, str(r)) for r in sightings_of(record)), asked.key)
    return bench.remembered(
        key, lambda: survey_view(record, _first_date(bench, record, asked), asked.schemes)
    )


def _pair(record: Record, pair: "Pair") -> dict[str, str]:
    """A likely pair, each side with its words and the name of its entry."""
    first, later = (_entry_name(end) for end in (pair.first, pair.second))
    return {
        "first": first,
        "first_words": pair.first,
        "first_reads": _reads(record, first),
        "later": later,
        "later_words": pair.second,
        "later_reads": _reads(record, later),
        "likeness": str(pair.likeness),
        "against": pair.against,
    }


def _entry_name(report_id: str) -> str:
    """The entry's name in a report's id; this machine's own stands for itself."""
    found = re.search(r"\((report \d+)\)$", report_id)
    return found[1] if found else report_id


def _reads(record: Record, name: str) -> str:
    from ironlace.workshop.survey.reports_of_record import OWN, serial_of

    if name == OWN:
        return serial_of(record)
    entry = record.named(name)
    return entry.reads if isinstance(entry, ReportEntry) else ""


def _moving(names: Iterable[str], found: "Comparison", then: "Comparison") -> str:
    """How the odds would move, in one sentence for each theory that leads before or after."""
    said = []
    for name in names:
        before, after = found.of(name).posterior, then.of(name).posterior
        way = "stays at" if abs(after - before) < 0.0005 else f"goes from {_chance(before)} to"
        said.append(f"{name}: {way} {_chance(after)}")
    return "With this report, " + "; ".join(said) + "."


def _chance(chance: float) -> str:
    return f"{chance * 100:.1f} %" if chance >= 0.001 else "under 0.1 %"


def _known_schemes() -> list[tuple[str, str]]:
    from ironlace.survey.schemes.library import known_patterns

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
        "date": date.interval.text if date else None,
        "date_sentences": date.sentences() if date else [],
        "grade": date.grade if date else None,
        "own": found.own_mark,
    }
