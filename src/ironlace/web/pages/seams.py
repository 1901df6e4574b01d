"""Test seams: measured on a kept picture, every stitch marked; two compared; the balance told."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace.evidence.analyses import AskedError
from ironlace.evidence.answers import Answer
from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.evidence.findings import Finding
from ironlace.record import FindingEntry, Photograph, PhotographRole, Record
from ironlace.running import BALANCE, SEAM, TWO_SEAMS
from ironlace.running.seam.seam_analysis import LONG, SCAN, SeamAsked
from ironlace.running.seam.two_seams_analysis import asked_of_two
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep, HandDep
from ironlace.web.incoming import Form, FormDep
from ironlace.web.manners import FILE_POLICY
from ironlace.web.pages.analyses import OWN_PAGES, PLOT_INK, answer_at, just_worked
from ironlace.web.pages.machines import kept_lines
from ironlace.web.rendering import page
from ironlace.workshop import analyses as kept
from ironlace.workshop.seams import ROW_MM, file_dpi, marked_row, strip_seen
from ironlace.workshop.worked_out import WorkedOut

router = APIRouter()
OWN_PAGES[SEAM.key] = addresses.seam
OWN_PAGES[BALANCE.key] = addresses.seam
OWN_PAGES[TWO_SEAMS.key] = addresses.seam
_ASKED = ("photograph", "scale", "dpi", "side", "cloth", "layout")
_SEEN = "seen"
"""The scale strip that lies in the picture, told by its markers."""
_OTHERS = 40
"""Photographs kept for something else that are offered, the latest."""
_SHOWN = 6
"""Results shown at once; what only later comparisons need is folded away."""


@dataclass(frozen=True, slots=True)
class Shown:
    """A seam as the page shows it: kept, or just worked out (`at` then names the answer)."""

    photograph: str
    sentences: tuple[str, ...]
    finding: Finding | None
    answer: Answer | None
    rows: int
    at: str = ""
    name: str = ""
    stale: str = ""
    long_mm: float = ROW_MM

    @property
    def starts(self) -> tuple[int, ...]:
        """Where each row begins, mm along the seam."""
        return tuple(round(self.long_mm * row / self.rows) for row in range(self.rows))

    @property
    def results(self) -> Sequence[Any]:
        """What it gives, the first of them the mean stitch."""
        if self.answer is not None:
            return self.answer.results
        return self.finding.results if self.finding else ()


@router.get(addresses.seam("{slug}"))
def show(request: Request, bench: BenchDep, slug: str, of: str = "", against: str = "") -> Response:
    """Show a kept seam, the latest unless one is named; or two side by side."""
    record = bench.records.read(slug)
    if of and against:
        return _compared(request, bench, record, of, against)
    shown = _kept_one(bench, record, of)
    values = _values(record, shown.photograph if shown else of)
    return _page(request, bench, record, values, shown=shown)


@router.post(addresses.seam("{slug}"))
def work(request: Request, bench: BenchDep, form: FormDep, hand: HandDep, slug: str) -> Response:
    """Measure a seam, keep it, tell the balance of two sides, or keep what two seams differ by."""
    record = bench.records.read(slug)
    if form.one("do") in ("balance", "keep balance"):
        return _balance(request, bench, record, form, hand)
    if form.one("do") == "keep two":
        return _compared(request, bench, record, form.one("first"), form.one("second"), hand)
    values = {name: form.one(name).strip() for name in _ASKED}
    try:
        asked = kept.asked_for(SEAM, record, _given(bench, record, values))
        worked = just_worked(bench, record, SEAM, asked)
        if form.one("do") == "keep":
            name = kept.keep(bench.workshop, slug, worked, hand)
            return RedirectResponse(addresses.seam(slug, asked.photograph, kept=name), 303)
    except IronlaceError as error:
        field = error.field if isinstance(error, AskedError) else ""
        return _page(request, bench, record, values, says=str(error), at_field=field)
    return _page(request, bench, record, values, shown=_worked_one(worked))


@router.get(addresses.seam_marked("{slug}", "{row}"))
def marked(bench: BenchDep, slug: str, row: int, of: str = "", at: str = "") -> Response:
    """Show one row of a seam's picture with every end marked."""
    made = marked_row(_found(bench, slug, of, at).found, row)
    if made is None:
        raise NotFoundError(f"The seam has no row {row}.")
    headers = {"content-security-policy": FILE_POLICY}
    return Response(made, media_type="image/jpeg", headers=headers)


@router.get(addresses.seam_lengths("{slug}"))
def lengths(bench: BenchDep, slug: str, of: str = "", at: str = "") -> Response:
    """Show the plot of a seam's stitch lengths."""
    (plot,) = _found(bench, slug, of, at).answer.plots
    body = plot.svg.replace("</title>", f"</title>{PLOT_INK}", 1)
    headers = {"content-security-policy": FILE_POLICY}
    return Response(body, media_type="image/svg+xml", headers=headers)


def _found(bench: Bench, slug: str, of: str, at: str) -> WorkedOut:
    """A seam that was just worked out, or the kept one of a picture, worked out again."""
    held = bench.recall(("answer", slug, SEAM.key, at)) if at else None
    if isinstance(held, WorkedOut):
        return held
    record = bench.records.read(slug)
    entry = kept.kept_finding(record, SEAM, of)
    if entry is None:
        raise NotFoundError("This seam is no longer at hand: measure it again.")
    return just_worked(bench, record, SEAM, SEAM.asked_of(entry[1].finding))


def _given(bench: Bench, record: Record, values: Mapping[str, str]) -> dict[str, str]:
    """What the form gives, as the analysis asks it; the strip by its markers' numbers."""
    if not values["photograph"]:
        raise AskedError("Choose the picture of the seam first.", "photograph")
    given = {name: values[name] for name in ("photograph", "side", "cloth")}
    if values["scale"] == SCAN:
        return {**given, "dpi": values["dpi"]}
    if values["layout"]:
        return {**given, "strip": "own", "layout": values["layout"]}
    seen = strip_seen(bench.workshop, record, values["photograph"])
    if seen is None:
        raise AskedError(
            "No strip's markers could be read in this picture: keep the whole strip in view, "
            "sharp and out of the glare, or scan the seam.",
            "scale",
        )
    return {**given, "strip": seen}


def _values(record: Record, photograph: str) -> dict[str, str]:
    """What was asked for a kept seam, as the form holds it."""
    entry = kept.kept_finding(record, SEAM, photograph)
    if entry is None:
        return {"photograph": photograph}
    asked: SeamAsked = SEAM.asked_of(entry[1].finding)
    return {
        "photograph": asked.photograph,
        "scale": SCAN if asked.dpi else _SEEN,
        "dpi": f"{asked.dpi:g}" if asked.dpi else "",
        "side": asked.side,
        "cloth": asked.cloth,
        "layout": asked.layout,
    }


def _kept_seams(record: Record) -> list[tuple[str, FindingEntry, str]]:
    """The kept seams: name of the finding, the finding, its picture."""
    return [
        (name, entry, SEAM.asked_of(entry.finding).photograph)
        for name, entry in record.of(FindingEntry)
        if entry.finding.about == SEAM.about
    ]


def _kept_one(bench: Bench, record: Record, of: str) -> Shown | None:
    seams = _kept_seams(record)
    found = next((one for one in reversed(seams) if of in ("", one[2])), None)
    if found is None:
        return None
    name, entry, photograph = found
    finding = entry.finding
    said = tuple(re.split(r"(?<=[.!?]) (?=[A-Z0-9])", finding.sentence))
    why = kept.stale(bench.workshop, record, finding)
    long_mm = _long(finding.results)
    return Shown(photograph, said, finding, None, _rows(long_mm), "", name, why, long_mm)


def _worked_one(worked: WorkedOut) -> Shown:
    answer = worked.answer
    long_mm = _long(answer.results)
    return Shown(
        worked.asked.photograph,
        answer.sentences,
        None,
        answer,
        _rows(long_mm),
        answer_at(worked),
        long_mm=long_mm,
    )


def _long(results: Sequence[Any]) -> float:
    return next((float(r.value) for r in results if r.name == LONG), ROW_MM)


def _rows(long_mm: float) -> int:
    return max(1, -int(-(long_mm - 1e-6) // ROW_MM))


def _two_asked(record: Record, of: str, against: str) -> dict[str, Any]:
    """What the comparison asks, from two seams that are kept."""
    asked = []
    for name in (of, against):
        entry = kept.kept_finding(record, SEAM, name)
        if entry is None:
            raise NotFoundError("Only seams that are kept can be compared: measure and keep both.")
        asked.append(SEAM.asked_of(entry[1].finding))
    return asked_of_two(*asked)


def _compared(
    request: Request, bench: Bench, record: Record, of: str, against: str, hand: str | None = None
) -> Response:
    """Two kept seams side by side, with the test in words; kept where a hand is given."""
    given = _two_asked(record, of, against)
    shown = [_kept_one(bench, record, name) for name in (of, against)]
    try:
        worked = just_worked(bench, record, TWO_SEAMS, kept.asked_for(TWO_SEAMS, record, given))
        if hand is not None:
            name = kept.keep(bench.workshop, record.slug, worked, hand)
            return RedirectResponse(addresses.seam(record.slug, of, kept=name), 303)
    except IronlaceError as error:
        return _page(request, bench, record, {}, shown=shown[0], says=str(error))
    return _page(request, bench, record, _values(record, of), both=shown, compared=worked)


def _balance(request: Request, bench: Bench, record: Record, form: Form, hand: str) -> Response:
    """Tell the balance from two kept seams, one of each side, or keep it."""
    upper, under = form.one("upper"), form.one("under")
    try:
        given: dict[str, Any] = {"upper": upper, "under": under}
        for side, name in (("upper", upper), ("under", under)):
            entry = kept.kept_finding(record, SEAM, name)
            if entry is None:
                raise AskedError("Measure and keep the seam of each side first.")
            asked: SeamAsked = SEAM.asked_of(entry[1].finding)
            if asked.strip == "own":
                raise AskedError(
                    "The balance takes scans, or photographs with one of the printed strips."
                )
            given |= {f"{side}_dpi": asked.dpi, f"{side}_strip": asked.strip}
        worked = just_worked(bench, record, BALANCE, kept.asked_for(BALANCE, record, given))
        if form.one("do") == "keep balance":
            name = kept.keep(bench.workshop, record.slug, worked, hand)
            return RedirectResponse(addresses.seam(record.slug, upper, kept=name), 303)
    except IronlaceError as error:
        shown = _kept_one(bench, record, upper)
        return _page(request, bench, record, {}, shown=shown, says=str(error))
    both = _kept_one(bench, record, upper), _kept_one(bench, record, under)
    return _page(request, bench, record, _values(record, upper), both=both, balance=worked)


def _page(
    request: Request,
    bench: Bench,
    record: Record,
    values: Mapping[str, str],
    *,
    shown: Shown | None = None,
    both: Sequence[Shown | None] = (),
    compared: WorkedOut | None = None,
    balance: WorkedOut | None = None,
    says: str = "",
    at_field: str = "",
) -> Response:
    pictures = list(record.of(Photograph))
    sewn = [one for one in pictures if one[1].role is PhotographRole.STITCH]
    others = [one for one in pictures if one not in sewn][: -_OTHERS - 1 : -1]
    told = {
        name: dpi
        for name, photograph in sewn
        if (dpi := file_dpi(bench.workshop.photographs.original(photograph.sha256).path))
    }
    pairs = [
        (name, entry)
        for name, entry in record.of(FindingEntry)
        if entry.finding.about in (BALANCE.about, TWO_SEAMS.about)
    ]
    return page(
        request,
        "seam.html",
        status=422 if says else 200,
        record=record,
        analysis=SEAM,
        shown=shown,
        first_results=_SHOWN,
        both=[one for one in both if one is not None],
        compared=compared,
        balance=balance,
        pairs=pairs,
        values={**dict.fromkeys(_ASKED, ""), **values},
        sewn=sewn,
        others=others,
        file_dpi=told,
        question=(
            BALANCE.question if balance else TWO_SEAMS.question if compared else SEAM.question
        ),
        seams=_kept_seams(record),
        says=says,
        at_field=at_field,
        kept=kept_lines(record, request.query_params.get("kept", "")),
    )
