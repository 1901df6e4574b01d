"""What can be worked out for a machine: each analysis as it is declared, with its form and answer.

Nothing here names an analysis; what is worked on in a picture has a page of its own, and is led to.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace import __version__
from ironlace.care.cautions import Hazard
from ironlace.evidence.analyses import (
    SECTIONS,
    AskedError,
    AskedField,
    Declared,
    Known,
    KnownTable,
    asked_as_dict,
    asked_fields,
    typed_of,
)
from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.evidence.findings import checksum_of
from ironlace.evidence.grades import Grade
from ironlace.evidence.quantities import Measured, QuantityError
from ironlace.record import (
    Entry,
    EntryKind,
    FindingEntry,
    Measurement,
    Photograph,
    ReadingsEntry,
    Record,
    ThreadingEntry,
)
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep, HandDep
from ironlace.web.incoming import Form, FormDep
from ironlace.web.manners import FILE_POLICY
from ironlace.web.pages.files import attachment
from ironlace.web.pages.machines import kept_lines
from ironlace.web.pages.motion_turned import SeenTurning, seen_turning
from ironlace.web.rendering import page
from ironlace.workshop import analyses as kept
from ironlace.workshop.worked_out import WorkedOut

router = APIRouter()
OWN_PAGES: dict[str, Callable[[str], str]] = {
    "trace": addresses.ornament,
    "oiling": addresses.oiling,
    "screw": addresses.screw,
    "base": addresses.base,
    "touches": addresses.touching,
}
"""Analyses that are worked on in a picture, and the address of their page for a machine."""

SEEN: dict[str, Callable[[Any], SeenTurning | None]] = {"motion": seen_turning}
"""Analyses whose answer is shown at work under its first sentences, and what shows it."""

BESIDE: dict[str, tuple[tuple[str, Callable[[str], str]], ...]] = {
    "motion": (("Call the readings out at the bench", addresses.motion_readings),),
}
"""Pages that help to fill in an analysis: words, and address for a machine."""

PLOT_INK = (
    "<style>svg{color:#1b1712}"
    "@media (prefers-color-scheme:dark){svg{color:#efe7d6;--plot-warm:#d97f69;--plot-cool:#d8b25a;"
    "--plot-quiet:#a9a498}}</style>"
)
"""Ink that suits light and dark paper; the page's own colours do not reach into a picture."""


@dataclass(frozen=True, slots=True)
class FormField:
    """One value asked for, as the form shows it."""

    asked: AskedField
    value: str
    measurements: tuple[tuple[str, str], ...] = ()
    names: tuple[tuple[str, str], ...] = ()
    taken: str = ""
    says: str = ""


@dataclass(frozen=True, slots=True)
class AnalysisLine:
    """An analysis in the list, and what is kept of it."""

    analysis: Declared
    address: str
    findings: tuple[tuple[str, Entry, Grade, str], ...]


@router.get(addresses.analyses("{slug}"))
def list_analyses(request: Request, bench: BenchDep, slug: str) -> Response:
    """List what can be worked out, with what is kept of it and what went stale."""
    record = bench.records.read(slug)
    stale = kept.stale_findings(bench.workshop, record)
    findings = list(kept.findings_of(record))
    sections: dict[str, list[AnalysisLine]] = {}
    for one in kept.ALL:
        of_it = tuple(
            (name, record.named(name), finding.grade, stale.get(name, ""))
            for name, finding in findings
            if finding.about == one.about
        )
        line = AnalysisLine(one, _address(slug, one), of_it)
        sections.setdefault(one.section, []).append(line)
    return page(
        request,
        "analyses.html",
        record=record,
        sections=[(SECTIONS[name], lines) for name, lines in sections.items()],
        threading_in=SECTIONS["running"],
        threading_plans=list(record.of(ThreadingEntry)),
    )


@router.get(addresses.analysis("{slug}", "{key}"))
def show(request: Request, bench: BenchDep, slug: str, key: str, of: str = "") -> Response:
    """Show an analysis: what is kept of it, and the form to work it out."""
    analysis = kept.analysis_named(key)
    if key in OWN_PAGES:
        return RedirectResponse(OWN_PAGES[key](slug), 303)
    record = bench.records.read(slug)
    standing = kept.kept_finding(record, analysis, of)
    values: Mapping[str, Any] = {}
    if standing is not None:
        values = as_typed(analysis, standing[1])
    elif of:
        values = {one.name: of for one in asked_fields(analysis.asked) if one.ask.names}
    return _page(request, bench, record, analysis, values, standing=standing)


@router.post(addresses.analysis("{slug}", "{key}"))
def work_out(
    request: Request, bench: BenchDep, hand: HandDep, form: FormDep, slug: str, key: str
) -> Response:
    """Work it out: at once, or as a job where that takes long."""
    analysis = kept.analysis_named(key)
    record = bench.records.read(slug)
    values = _given(analysis, form)
    try:
        asked = kept.asked_for(analysis, record, values)
        if kept.takes_long(bench.workshop, record, analysis, asked):
            number = bench.jobs.ask("work out", kept.as_job(analysis, asked, hand), slug)
            return RedirectResponse(addresses.job(number), 303)
        worked = just_worked(bench, record, analysis, asked)
    except IronlaceError as error:
        field = error.field if isinstance(error, AskedError) else ""
        return _page(request, bench, record, analysis, values, says=str(error), at_field=field)
    return _page(request, bench, record, analysis, values, worked=worked)


@router.post(addresses.analysis_keep("{slug}", "{key}"))
def keep(
    request: Request, bench: BenchDep, hand: HandDep, form: FormDep, slug: str, key: str
) -> Response:
    """Keep what was worked out as a finding, in the place of an earlier one."""
    analysis = kept.analysis_named(key)
    record = bench.records.read(slug)
    values = _given(analysis, form)
    try:
        worked = just_worked(bench, record, analysis, kept.asked_for(analysis, record, values))
        name = kept.keep(bench.workshop, slug, worked, hand)
    except IronlaceError as error:
        return _page(request, bench, record, analysis, values, says=str(error))
    back = form.one("back")
    if back == "list":
        return RedirectResponse(addresses.analyses(slug), 303)
    subject = analysis.subject(worked.asked)
    return RedirectResponse(addresses.analysis(slug, key, subject, kept=name), 303)


@router.get(addresses.analysis_plot("{slug}", "{key}", "{at}", "{number}"))
def plot(bench: BenchDep, slug: str, key: str, at: str, number: int) -> Response:
    """Show one plot of an answer that was just worked out."""
    plots = recalled(bench, slug, key, at).answer.plots
    if not 0 <= number < len(plots):
        raise NotFoundError(f"There is no plot {number} of this answer.")
    body = plots[number].svg.replace("</title>", f"</title>{PLOT_INK}", 1)
    headers = {"content-security-policy": FILE_POLICY}
    return Response(body, media_type="image/svg+xml", headers=headers)


@router.get(addresses.analysis_file("{slug}", "{key}", "{at}", "{name}"))
def file(bench: BenchDep, slug: str, key: str, at: str, name: str) -> Response:
    """Hand over one file of an answer that was just worked out, or a drawing of it on paper."""
    from ironlace.dossier.print.true_scale import true_scale_pdf
    from ironlace.dossier.print.typesetting import PAPER_MM

    for made in recalled(bench, slug, key, at).answer.files:
        if made.name == name:
            headers = {
                "content-security-policy": FILE_POLICY,
                "content-disposition": attachment(f"{slug}-{name}"),
            }
            return Response(made.content(), media_type=made.media_type, headers=headers)
        for paper in PAPER_MM:
            if made.on_paper and name == f"{made.name.removesuffix('.svg')}-{paper}.pdf":
                drawn, title = made.content().decode("utf-8"), made.words
                pdf = true_scale_pdf(
                    drawn, paper=paper, title=title, made=f"Ironlace {__version__}"
                )
                headers = {"content-disposition": attachment(f"{slug}-{name}")}
                return Response(pdf, media_type="application/pdf", headers=headers)
    raise NotFoundError(f"There is no file '{name[:40]}' of this answer.")


def answer_at(worked: WorkedOut) -> str:
    """A short name for an answer, by what it was worked out from."""
    said = [worked.analysis.key, asked_as_dict(worked.asked), dict(worked.inputs)]
    return checksum_of(said)[:24]


def just_worked(bench: Bench, record: Record, analysis: Declared, asked: Any) -> WorkedOut:
    """Work it out, or take what was worked out a moment ago from the same inputs."""
    inputs = kept.input_checksums(bench.workshop, record, analysis, asked)
    key = (
        "worked out",
        record.slug,
        analysis.key,
        checksum_of(asked_as_dict(asked)),
        *inputs.items(),
    )
    worked = bench.remembered(key, lambda: kept.work_out(bench.workshop, record, analysis, asked))
    bench.remember(("answer", record.slug, analysis.key, answer_at(worked)), worked)
    return worked


def answer_context(
    request: Request,
    bench: Bench,
    record: Record,
    analysis: Declared,
    standing: tuple[str, FindingEntry] | None,
    worked: WorkedOut | None,
    *,
    says: str = "",
    at_field: str = "",
) -> dict[str, Any]:
    """What every page at a picture shows of an answer, of what is kept, and of what is amiss."""
    return {
        "status": 422 if says else 200,
        "says": says,
        "at_field": at_field,
        "photographs": list(record.of(Photograph)),
        "record": record,
        "analysis": analysis,
        "worked": worked,
        "answer_at": answer_at(worked) if worked else "",
        "standing": standing,
        "stale": kept.stale(bench.workshop, record, standing[1].finding) if standing else "",
        "hazards": [Hazard(key) for key in analysis.hazards],
        "kept": kept_lines(record, request.query_params.get("kept", "")),
    }


def recalled(bench: Bench, slug: str, key: str, at: str, what: str = "answer") -> WorkedOut:
    """What was worked out a moment ago; `what` it is called where it is no longer at hand."""
    found = bench.recall(("answer", slug, key, at))
    if not isinstance(found, WorkedOut):
        raise NotFoundError(f"This {what} is no longer at hand: work it out again.")
    return found


def _address(slug: str, analysis: Declared) -> str:
    own = OWN_PAGES.get(analysis.key)
    return own(slug) if own else addresses.analysis(slug, analysis.key)


def _given(analysis: Declared, form: Form) -> dict[str, str]:
    """What the form gives by field; a measurement chosen goes before what is typed."""
    given = {}
    for one in asked_fields(analysis.asked):
        if not one.ask.pointed:
            given[one.name] = form.one(f"{one.name}-from") or form.one(one.name)
    return given


def as_typed(analysis: Declared, entry: FindingEntry) -> dict[str, str]:
    """What was asked for a kept finding, as the form holds it; empty when it cannot be read."""
    try:
        asked = analysis.asked_of(entry.finding)
    except AskedError:
        return {}
    return typed_of(asked)


def _page(
    request: Request,
    bench: Bench,
    record: Record,
    analysis: Declared,
    values: Mapping[str, Any],
    *,
    standing: tuple[str, FindingEntry] | None = None,
    worked: WorkedOut | None = None,
    says: str = "",
    at_field: str = "",
) -> Response:
    if standing is None:
        subject = analysis.subject(worked.asked) if worked else ""
        standing = kept.kept_finding(record, analysis, subject)
    shown = worked or (_shown_again(bench, record, analysis, standing[1]) if standing else None)
    fields = [
        _form_field(record, one, values, says if one.name == at_field else "")
        for one in asked_fields(analysis.asked)
        if not one.ask.pointed
    ]
    return page(
        request,
        "analysis.html",
        status=422 if says else 200,
        record=record,
        analysis=analysis,
        section=SECTIONS[analysis.section],
        fields=[f for f in fields if not f.asked.ask.more],
        more=[f for f in fields if f.asked.ask.more],
        more_open=any(f.says for f in fields if f.asked.ask.more),
        values=values,
        standing=standing,
        stale=kept.stale(bench.workshop, record, standing[1].finding) if standing else "",
        worked=worked,
        at=answer_at(worked) if worked else "",
        seen=SEEN[analysis.key](shown.found) if shown and analysis.key in SEEN else None,
        said=_as_kept(shown, standing),
        beside=[(words, of(record.slug)) for words, of in BESIDE.get(analysis.key, ())],
        hazards=[Hazard(key) for key in analysis.hazards],
        says=says,
        at_field=at_field,
        kept=kept_lines(record, request.query_params.get("kept", "")),
    )


def _shown_again(
    bench: Bench, record: Record, analysis: Declared, entry: FindingEntry
) -> WorkedOut | None:
    """What a kept finding was worked out from, worked out again, where that can be seen at work."""
    if analysis.key not in SEEN:
        return None
    try:
        return just_worked(bench, record, analysis, analysis.asked_of(entry.finding))
    except IronlaceError:
        return None  # another version's, or its readings are gone: the page says so above it


def _as_kept(shown: WorkedOut | None, standing: tuple[str, FindingEntry] | None) -> tuple[str, ...]:
    """The sentences of a kept finding one by one, if it comes out today as it was kept."""
    if shown is None or standing is None:
        return ()
    told = shown.answer.sentences
    return told if " ".join(told) == standing[1].finding.sentence else ()


def _form_field(record: Record, one: AskedField, values: Mapping[str, Any], says: str) -> FormField:
    value = values[one.name] if one.name in values else one.as_typed(one.default)
    measurements: tuple[tuple[str, str], ...] = ()
    taken = ""
    if one.kind is Known:
        measurements = tuple(
            (name, f"{name}: {entry.what}, {entry.reads}")
            for name, entry in record.of(Measurement)
            if _fits(entry.measured, one.ask.unit)
        )
    elif one.kind is KnownTable:
        measurements = tuple(
            (name, f"{name}: {entry.in_brief()}") for name, entry in record.of(ReadingsEntry)
        )
    if value in dict(measurements):
        taken, value = value, ""
    names: tuple[tuple[str, str], ...] = ()
    if one.ask.names:
        kind = EntryKind(one.ask.names)
        names = tuple((f"{k.value} {n}", f"{k.value} {n}") for k, n in record.entries if k is kind)
    return FormField(one, str(value), measurements, names, taken, says)


def _fits(reading: Measured, unit: str) -> bool:
    try:
        reading.to(unit)
    except QuantityError:
        return False
    return True
