"""Dating: reports of other machines, theories of the numbering, the date."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace.evidence.analyses import AskedError, Declared
from ironlace.evidence.answers import Plot
from ironlace.evidence.edtf_dates import date_in_words
from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.evidence.markings import parse_marking
from ironlace.evidence.wording import capital
from ironlace.record import EntryKind, FindingEntry, Record, ReportEntry
from ironlace.record.surveyed import OWN
from ironlace.survey import COMPARE, COUNT, DATE, NEXT, SURVIVORS, Comparison, Report, Reports
from ironlace.survey.answers.next_report import with_report
from ironlace.survey.answers.sensitivity import most_telling
from ironlace.survey.answers.when_made import DateFound
from ironlace.survey.answers.which_numbering import NumberingFound, shared_mark_sentences
from ironlace.survey.schemes.library import known_patterns
from ironlace.survey.schemes.lines import scheme_lines
from ironlace.survey.sharing.same_machine import Pair, unsettled_pairs
from ironlace.web import addresses
from ironlace.web.assumption_form import FIELDS, OddsAsked, asked_of
from ironlace.web.bench import Bench, BenchDep, HandDep, bench_of
from ironlace.web.entry_forms import FORMS, beginning
from ironlace.web.incoming import FormDep
from ironlace.web.manners import FILE_POLICY
from ironlace.web.pages.analyses import OWN_PAGES, PLOT_INK, just_worked
from ironlace.web.pages.choosing import choices_of
from ironlace.web.pages.machines import kept_lines
from ironlace.web.rendering import page
from ironlace.workshop.analyses import asked_for, kept_finding, stale
from ironlace.workshop.analyses import keep as keep_worked
from ironlace.workshop.survey.reports_of_record import as_named, reports_of, serial_of
from ironlace.workshop.survey.tray import waiting
from ironlace.workshop.worked_out import WorkedOut

router = APIRouter()
OWN_PAGES[DATE.key] = addresses.dating
_SHOWN_REPORTS = 24
"""Reports on this page, the last ones, so that what is asked of them stays in sight; the list has
all (a judgement)."""

_SHOWN_PAIRS = 40
"""So much is shown on one page of the many that a survey may hold; a judgement."""

Found = NumberingFound | DateFound


@dataclass(frozen=True, slots=True)
class Told:
    """One question put to the survey, and its answer in sentences (or why there is none)."""

    asks: str
    sentences: tuple[str, ...]
    key: str = ""
    worked: WorkedOut | None = None
    typed: tuple[tuple[str, str], ...] = ()


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
    if compare and _asked_from_here(request):
        try:
            found = _found(bench, record, asked)
        except AskedError as error:
            says, at = str(error), error.field
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
def as_typed(
    request: Request, bench: BenchDep, asked: AskedDep, slug: str, reads: str = ""
) -> dict[str, Any]:
    """Tell a script how one more report would move the odds, while it is being typed."""
    if not _asked_from_here(request):
        raise NotFoundError("The odds are worked out for the bench's own pages: open them there.")
    found = _found(bench, bench.records.read(slug), asked).comparison
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
def survey(
    request: Request,
    bench: BenchDep,
    asked: AskedDep,
    slug: str,
    part: str = "",
    at_once: str = "",
) -> Response:
    """Tell what else the reports say; the page asks for one answer after the other.

    `part` names the answer to give, for the page's script; with `at_once` all stand in the page.
    """
    record = bench.records.read(slug)
    reports_of(record).to_compare()
    asked.read()
    keys = _keys(record)
    now = _asked_from_here(request)
    if part and now:
        if part not in (*keys, ASK):
            raise NotFoundError(f"There is no answer '{part[:40]}': choose from {', '.join(keys)}.")
        answer = _answer(bench, record, asked, NEXT.key if part == ASK else part)
        return page(
            request,
            "survey_part.html",
            record=record,
            asked=asked,
            answer=answer,
            brief=_in_brief(answer) if part == ASK else "",
        )
    return page(
        request,
        "survey.html",
        record=record,
        asked=asked,
        answers=[
            _answer(bench, record, asked, key) if at_once and now else Told(_ASKS[key], (), key)
            for key in keys
        ],
    )


@router.get(addresses.survey_plot("{slug}", "{number}"))
def survey_plot(
    request: Request, bench: BenchDep, asked: AskedDep, slug: str, number: int, of: str = ""
) -> Response:
    """Show one plot, in ink that suits light and dark paper; `of` names the answer it is of."""
    record = bench.records.read(slug)
    if not _asked_from_here(request):
        raise NotFoundError("Plots are drawn for the bench's own pages: open the page of the plot.")
    keys = _keys(record)
    plots: list[Plot] = []
    for key in (of,) if of in keys else (NEXT.key, COMPARE.key, DATE.key):
        if key in keys:
            worked = _answer(bench, record, asked, key).worked
            plots += worked.answer.plots if worked else ()
    if not 0 <= number < len(plots):
        raise NotFoundError(f"There is no plot {number} of these reports.")
    body = plots[number].svg.replace("</title>", f"</title>{PLOT_INK}", 1)
    headers = {"content-security-policy": FILE_POLICY}
    return Response(body, media_type="image/svg+xml", headers=headers)


def _asked_from_here(request: Request) -> bool:
    """Whether a page of the bench, or the person at it, asks: no other site sets it to work."""
    return request.headers.get("sec-fetch-site") in (None, "none", "same-origin")


@router.post(addresses.dating_keep("{slug}"))
def keep(bench: BenchDep, form: FormDep, hand: HandDep, slug: str) -> Response:
    """Keep the date as a finding, in the place of an earlier one."""
    worked = _worked(bench, bench.records.read(slug), DATE, asked_of(dict(form.fields)))
    return RedirectResponse(
        addresses.dating(slug, kept=keep_worked(bench.workshop, slug, worked, hand)), 303
    )


@router.post(addresses.same_machine("{slug}"))
def same_machine(bench: BenchDep, form: FormDep, hand: HandDep, slug: str) -> Response:
    """Tell of two reports that they are one machine, or that the later is one of its own.

    The later one stays; of one machine only the first counts.
    """
    first, later = form.one("first"), form.one("later")
    seen = bench.records.last_change_of(slug, later)  # before it is read: later is a conflict
    record = bench.records.read(slug)
    report = record.named(later)
    if not isinstance(report, ReportEntry):
        raise NotFoundError(f"{later} is no report of this record.")
    if form.one("apart") == "yes":
        told = {"same_as": as_named(record, later), "counts": True}
    elif first == later:
        raise NotFoundError(f"{first} is no other report of this record.")
    else:
        told = {"same_as": as_named(record, first), "counts": False}
    bench.records.change(slug, later, report.model_copy(update=told), by=hand, last_seen=seen)
    return RedirectResponse(addresses.dating(slug, kept=later), 303)


def dating_page(
    request: Request,
    record: Record,
    *,
    asked: OddsAsked | None = None,
    found: Found | None = None,
    says: str = "",
    status: int = 200,
    **shown: str,
) -> Response:
    """Show the reports of a record, with what was found and what is still being typed.

    Parameters
    ----------
    says
        Why nothing was found; ``says_at`` names the field.
    shown
        ``kept`` (names of entries kept just now), and the ``table`` or ``thread`` being typed with
        ``table_says`` or ``thread_says``, why it was not taken in.
    """
    asked = asked or OddsAsked()
    kept_date = kept_finding(record, DATE)
    schemes_from = ""
    begun = asked.schemes or found or says or "schemes" in request.query_params
    if kept_date and not begun and (schemes := _schemes_kept(kept_date[1])):
        # begin with the theories that the date was kept under last
        asked, schemes_from = OddsAsked(schemes, asked.moved), kept_date[0]
    told = reports_of(record)
    pairs = bench_of(request).remembered(("pairs", told), lambda: unsettled_pairs(told))
    entries = list(record.of(ReportEntry))
    spec = FORMS[EntryKind.REPORT]
    texts = ("says_at", "table", "table_says", "thread", "thread_says")
    return page(
        request,
        "dating.html",
        status=status,
        record=record,
        own=serial_of(record),
        reports=entries[: -_SHOWN_REPORTS - 1 : -1],
        total=len(entries),
        in_tray=len(waiting(record)),
        counting=sum(1 for report in told.counted if report.id != OWN),
        joined=_joined(told),
        kept_date=_kept_told(bench_of(request), record, *kept_date) if kept_date else None,
        asked=asked,
        schemes_from=schemes_from,
        lines=scheme_lines(asked.schemes),
        assumed=FIELDS,
        pairs=[_pair(told, pair) for pair in pairs[:_SHOWN_PAIRS]],
        pairs_total=len(pairs),
        known=[(one.called, str(one.scheme)) for one in known_patterns()],
        found=_found_told(found) if found else None,
        says=says,
        kept=kept_lines(record, shown.get("kept", "")),
        spec=spec,
        values=beginning(EntryKind.REPORT),
        choice=choices_of(record, spec),
        **{name: shown.get(name, "") for name in texts},
    )


def _kept_told(bench: Bench, record: Record, name: str, entry: FindingEntry) -> dict[str, str]:
    """The date that stands in the record, how sure, and why it may follow no longer."""
    return {
        "name": name,
        "when": date_in_words(str(entry.finding.value)),
        "grade": entry.finding.grade,
        "how_sure": entry.finding.sentence,
        "stale": stale(bench.workshop, record, entry.finding),
    }


def _schemes_kept(entry: FindingEntry) -> str:
    try:
        return str(DATE.asked_of(entry.finding).schemes)
    except AskedError:
        return ""  # kept by another version that asked for something else


def _worked(bench: Bench, record: Record, analysis: Declared, asked: OddsAsked) -> WorkedOut:
    """Work it out, or take what was worked out a moment ago from the same reports."""
    given = asked_for(analysis, record, asked.given(analysis))
    return just_worked(bench, record, analysis, given)


def _found(bench: Bench, record: Record, asked: OddsAsked) -> Found:
    """What the reports say of the date; without a mark of the machine's own, of the numbering."""
    analysis: Declared = DATE if serial_of(record) else COMPARE
    found: Found = _worked(bench, record, analysis, asked).found
    return found


ASK = "ask"
"""The part of the survey's page that says in a line or two what to ask for next."""

_ASKS = {
    NEXT.key: NEXT.question,
    COUNT.key: COUNT.question,
    SURVIVORS.key: SURVIVORS.question,
    DATE.key: DATE.question,
    COMPARE.key: "How far do the assumptions move the odds?",
}
"""The answers in their order, the one that takes longest last, and what each is asked."""


def _in_brief(answer: Told) -> str:
    """What to ask for next, in a line or two."""
    if answer.worked is None:
        return answer.sentences[0]
    report = answer.worked.found.report
    if report.settled and not report.beside:
        return "Nothing more is needed to tell the theories apart."
    return " ".join(report.sentences()[:2])


def _keys(record: Record) -> tuple[str, ...]:
    return tuple(key for key in _ASKS if key != DATE.key or serial_of(record))


def _answer(bench: Bench, record: Record, asked: OddsAsked, key: str) -> Told:
    """Work one answer out, or say in a sentence why there is none; raises AskedError."""
    (analysis,) = (one for one in (NEXT, COUNT, SURVIVORS, DATE, COMPARE) if one.key == key)
    typed = asked.given(analysis)
    if analysis is COMPARE:
        typed |= {"sensitivity": "yes"}
    try:
        worked = just_worked(bench, record, analysis, asked_for(analysis, record, typed))
    except AskedError:
        raise
    except IronlaceError as error:
        return Told(_ASKS[key], (str(error),), key)
    said = worked.answer.sentences
    if analysis is COMPARE:
        said = tuple(most_telling(worked.found.moved)) or ("None of them moves the odds.",)
    if analysis is DATE:
        said = said[:2]  # the page of the reports says the rest
    return Told(_ASKS[key], said, key, worked, tuple(typed.items()))


def _pair(reports: Reports, pair: Pair) -> dict[str, str]:
    """A likely pair, each side with its words and the name of its entry."""
    told = {report.id: report for report in reports.sightings}
    sides = {"first": told[pair.first], "later": told[pair.second]}
    words = {"likeness": str(pair.likeness), "against": pair.against}
    for side, report in sides.items():
        words |= {
            side: report.entry or OWN,
            f"{side}_words": f"{report.id} ({report.entry})" if report.entry else OWN,
            f"{side}_reads": str(report.mark),
        }
    return words


def _joined(reports: Reports) -> list[dict[str, Any]]:
    """The second sightings, each with its entry and the words of the report that counts."""
    told = {report.id: report for report in reports.sightings}
    return [
        {
            "entry": told[one.id].entry,
            "words": one.in_words(),
            "reads": str(told[one.id].mark),
            "by_mark": one.by_mark,
        }
        for one in reports.joined
        if told[one.id].entry
    ]


def _moving(names: Iterable[str], found: Comparison, then: Comparison) -> str:
    """How the odds would move, in one sentence for each theory that leads before or after."""
    said = []
    for name in names:
        before, after = found.of(name).posterior, then.of(name).posterior
        way = "stays at" if abs(after - before) < 0.0005 else f"goes from {_chance(before)} to"
        said.append(f"'{found.called(name)}' {way} {_chance(after)}")
    return "With this report, " + "; ".join(said) + "."


def _chance(chance: float) -> str:
    return f"{chance * 100:.1f} %" if chance >= 0.001 else "under 0.1 %"


def _found_told(found: Found) -> dict[str, Any]:
    """The answer in three lines or four, what doubts it first, and what stands behind it."""
    comparison = found.comparison
    behind = found.reports.told_with(comparison.sentences())
    behind += shared_mark_sentences(found.reports, comparison)
    if isinstance(found, DateFound):
        date = found.dating
        # what does not fit, or what the date hangs on, comes before what bears it
        lines = [line for line in (date.slip, *found.doubts, date.why) if line]
        grade = date.grade
        headline = capital(date.headline)
        more = [*date.sentences()[1:], *behind]
        behind = [line for line in dict.fromkeys(more) if line not in lines]
    else:
        said, grade = comparison.sentences(), None
        headline, lines, behind = said[0], [*found.doubts, *said[1:2]], behind[2:]
    return {
        "headline": headline,
        "grade": grade,
        "lines": lines,
        "behind": behind,
        "dated": grade is not None,
        "results": [
            {
                "called": comparison.called(result.name),
                "words": result.candidate.scheme.in_words(),
                "rival": result.candidate.rival,
                "posterior": result.posterior,
            }
            for result in comparison.results
        ],
    }
