"""Trials and the tuning log: what is to be tried next, what changed what, and another trial."""

from collections.abc import Mapping
from datetime import datetime

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace.care.cautions import Hazard
from ironlace.evidence.errors import IronlaceError
from ironlace.record import (
    FindingEntry,
    Photograph,
    PhotographRole,
    Record,
    TrialEntry,
    parse_entry,
)
from ironlace.running import SEAM, TRIALS
from ironlace.running.trials.next_setting import turned
from ironlace.running.trials.trials_told import TrialsAsked, TrialsFound
from ironlace.running.trials.trials_weighed import CHANGED, SCREW
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep, HandDep
from ironlace.web.incoming import FormDep
from ironlace.web.pages.analyses import OWN_PAGES, just_worked
from ironlace.web.pages.machines import kept_lines
from ironlace.web.rendering import page
from ironlace.workshop import analyses as kept
from ironlace.workshop.worked_out import WorkedOut

router = APIRouter()
OWN_PAGES[TRIALS.key] = addresses.trials
_TYPED = ("changed", "to", "screw", "also", "date", "came", "upper", "under")
"""What the form asks of another trial."""


@router.get(addresses.trials("{slug}"))
def show(request: Request, bench: BenchDep, slug: str) -> Response:
    """Show the log, weighed as it stands; `begin` the form with what is proposed."""
    return _page(request, bench, bench.records.read(slug), {})


@router.post(addresses.trials("{slug}"))
def add(request: Request, bench: BenchDep, form: FormDep, hand: HandDep, slug: str) -> Response:
    """Add a trial, or keep what the log tells as a finding."""
    record = bench.records.read(slug)
    values = {name: form.one(name).strip() for name in _TYPED}
    try:
        if form.one("do") == "keep":
            worked = just_worked(bench, record, TRIALS, TrialsAsked())
            name = kept.keep(bench.workshop, slug, worked, hand)
        else:
            name = bench.records.add(slug, parse_entry(_entry(values)), hand)
    except IronlaceError as error:
        return _page(request, bench, record, values, says=str(error))
    return RedirectResponse(addresses.trials(slug, kept=name), 303)


def _as_proposed(found: TrialsFound) -> dict[str, str]:
    """The form of another trial as the proposal would have it, to be changed to what was done."""
    proposal, stood = found.proposal, found.trials[-1].screw
    if not proposal.changed:
        return {}
    begun = {"changed": proposal.changed}
    if stood is not None:
        begun["screw"] = f"{stood + proposal.eighths:g}"
    if proposal.changed == SCREW and proposal.eighths:
        begun["to"] = turned(proposal.eighths)
    return begun


def _entry(values: Mapping[str, str]) -> dict[str, object]:
    """The entry that a form gives."""
    said: dict[str, object] = {
        name: values[name]
        for name in ("changed", "to", "screw", "also", "date", "came")
        if values[name]
    }
    seam = [values[name] for name in ("upper", "under") if values[name]]
    return {"kind": "trial", **said, **({"seam": seam} if seam else {})}


def _page(
    request: Request,
    bench: Bench,
    record: Record,
    values: Mapping[str, str],
    *,
    says: str = "",
) -> Response:
    trials = list(record.of(TrialEntry))
    worked: WorkedOut | None = None
    if trials:
        worked = just_worked(bench, record, TRIALS, TrialsAsked())
        if request.query_params.get("begin") == "next":
            values = {**_as_proposed(worked.found), **values}
    pictures = list(record.of(Photograph))
    sewn = [one for one in pictures if one[1].role is PhotographRole.STITCH]
    measured = {
        SEAM.asked_of(entry.finding).photograph
        for _, entry in record.of(FindingEntry)
        if entry.finding.about == SEAM.about
    }
    today = datetime.now().astimezone().date().isoformat()
    return page(
        request,
        "trials.html",
        status=422 if says else 200,
        record=record,
        analysis=TRIALS,
        worked=worked,
        standing=kept.kept_finding(record, TRIALS),
        trials=dict(trials),
        last=trials[-1] if trials else None,
        changes=CHANGED,
        values={**dict.fromkeys(_TYPED, ""), "date": today, **values},
        sewn=sewn or pictures,
        measured=measured,
        hazards=[Hazard(key) for key in TRIALS.hazards],
        says=says,
        kept=kept_lines(record, request.query_params.get("kept", "")),
    )
