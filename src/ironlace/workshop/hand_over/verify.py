"""Computing a record's findings again, from what it holds, and comparing.

A date is compared with the theories and reports as they stood when it was found; a drawing is
traced again from its photograph, its stencil sheets are planned again from it. A finding that
another version made may differ, and says so.
"""

import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from ironlace import __version__
from ironlace.evidence.analyses import Declared, in_brief
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.findings import Finding
from ironlace.ornament import Drawing, compare, drawing_from_svg
from ironlace.record import DrawingEntry, FindingEntry
from ironlace.workshop.analyses import analysis_about, stale_findings, work_out
from ironlace.workshop.ornament.drawings import drawing_named, drawing_svg
from ironlace.workshop.ornament.rework import BROUGHT_BACK, BY_HAND, edited, reworked
from ironlace.workshop.stencils.stencilling import ABOUT as SHEETS_FINDING
from ironlace.workshop.stencils.stencilling import SheetsAsked, planned_again, told_of
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.work.foreman import work_off
from ironlace.workshop.work.jobs import Jobs, JobState, worker_name

SAME_OUTLINE_MM = 0.01


@dataclass(frozen=True, slots=True)
class Verified:
    """One finding, computed again.

    `same` is None when it could not be computed again; `says` tells why, or what differs. `stale`
    tells what of the record changed since it was kept, and is empty while nothing did.
    """

    name: str
    same: bool | None
    says: str
    stale: str = ""

    def as_dict(self) -> dict[str, Any]:
        """The result as JSON."""
        return {"name": self.name, "same": self.same, "says": self.says, "stale": self.stale}


def verify_record(
    workshop: Workshop, slug: str, progress: Callable[[str, float], None] | None = None
) -> list[Verified]:
    """Compute every finding and drawing of a record again, and compare. The record stays as it is.

    Raises NotFoundError when there is no such record.
    """
    record = workshop.records.read(slug)
    told: list[Verified] = []
    work: list[tuple[str, Callable[[], Verified]]] = []
    for name, kept in record.of(FindingEntry):
        work.append((name, partial(_again, workshop, slug, name, kept.finding)))
    for name, drawing in record.of(DrawingEntry):
        work.append((name, partial(_traced_again, workshop, slug, name, drawing)))
    for index, (name, compute) in enumerate(work):
        if progress:
            progress(f"computing {name} again", index / len(work))
        told.append(compute())
    why = stale_findings(workshop, record)
    return [replace(one, stale=why.get(one.name, "")) for one in told]


def _again(workshop: Workshop, slug: str, name: str, finding: Finding) -> Verified:
    if finding.about == SHEETS_FINDING:
        return _planned_again(workshop, slug, name, finding)
    analysis = analysis_about(finding.about)
    if analysis is not None:
        return _worked_out_again(workshop, slug, name, finding, analysis)
    return Verified(name, None, f"{finding.method.name} is not known to this version.")


def _worked_out_again(
    workshop: Workshop, slug: str, name: str, finding: Finding, analysis: Declared
) -> Verified:
    """Work an analysis out on the record as it stood when the finding was kept."""
    written = workshop.records.changes(slug, name)[-1].made_at
    then = workshop.records.read(slug, written)
    try:
        asked = analysis.asked_of(finding)
        again = work_out(workshop, then, analysis, asked).finding()
    except IronlaceError as error:
        return Verified(name, None, f"It cannot be computed again: {error}")
    lost = [n for n, was in finding.inputs.items() if again.inputs.get(n, was) != was]
    if lost:
        names = " and ".join(lost)
        return Verified(name, False, f"What it was computed from is not on record: {names}.")
    differs = analysis.same(finding, again)
    if differs:
        return Verified(name, False, f"{differs}{_other_version(finding)}")
    return Verified(name, True, f"comes out as {in_brief(again)} again")


def _planned_again(workshop: Workshop, slug: str, name: str, finding: Finding) -> Verified:
    """Plan the stencil sheets anew from what was asked."""
    told = finding.method.parameters.get("asked")
    try:
        asked = SheetsAsked.from_dict(told if isinstance(told, dict) else {})
        if drawing_named(workshop, slug, asked.drawing).svg != finding.inputs.get("drawing"):
            return Verified(name, False, "The drawing it was planned from has been changed since.")
        value = told_of(planned_again(workshop, slug, asked))
    except IronlaceError as error:
        return Verified(name, None, str(error))
    if value == finding.value:
        return Verified(name, True, "comes out the same again")
    return Verified(name, False, f"comes out as {value}{_other_version(finding)}")


def _traced_again(workshop: Workshop, slug: str, name: str, drawing: DrawingEntry) -> Verified:
    """Trace in a scratch record, which is never part of this one."""
    method = drawing.finding.method
    if method.name in (BY_HAND, BROUGHT_BACK):
        return _made_again(workshop, slug, name, drawing)
    asked = method.parameters.get("asked")
    if not isinstance(asked, dict):
        return Verified(name, None, "It was not traced here, so it cannot be traced again.")
    jobs = Jobs(workshop.database)
    number = jobs.ask("retrace", asked, slug)
    work_off(workshop, worker_name(), threading.Event(), once=True)
    job = jobs.get(number)
    if job.state is not JobState.DONE or job.result is None:
        return Verified(name, None, job.error or f"The trace is {job.state.value}.")
    return _compared(workshop, slug, name, drawing, drawing_from_svg(str(job.result["svg"])))


def _made_again(workshop: Workshop, slug: str, name: str, drawing: DrawingEntry) -> Verified:
    """Carry the changes by hand out again, or read the edited drawing again."""
    finding = drawing.finding

    def text(which: str) -> str:
        original = workshop.photographs.original(finding.inputs[which])
        return original.path.read_text(encoding="utf-8")

    try:
        if finding.method.name == BROUGHT_BACK:
            again = edited(text("drawing"), text("edited"))
        else:
            parameters: Any = finding.method.parameters
            again = reworked(text("drawing"), parameters["orders"], parameters.get("bridges") or [])
    except (IronlaceError, KeyError) as error:
        return Verified(name, None, f"It cannot be made again: {error}")
    return _compared(workshop, slug, name, drawing, again)


def _compared(
    workshop: Workshop, slug: str, name: str, drawing: DrawingEntry, again: Drawing
) -> Verified:
    agreement = compare(again, drawing_from_svg(drawing_svg(workshop, slug, name)))
    same = max(agreement.forth.max_mm, agreement.back.max_mm) <= SAME_OUTLINE_MM
    if same:
        return Verified(name, True, "comes out the same again")
    return Verified(
        name,
        False,
        f"comes out {agreement.mean_mm:.3f} mm away on average{_other_version(drawing.finding)}",
    )


def _other_version(finding: Finding) -> str:
    if finding.version == __version__:
        return ""
    return f" (it was computed by version {finding.version}, this is {__version__})"
