"""The job in its order, where a record stands in it, and the next sensible thing to do.

The order is common practice, no source: look before touching, read the marks before cleaning them,
know the machine before deciding what to treat, and keep what was done for the next owner.
"""

import re
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from ironlace.care.cautions import Hazard
from ironlace.evidence.findings import DATE_FINDING
from ironlace.evidence.wording import counted
from ironlace.record.choices import STEPS, Aim, PhotographRole, Risk, Stage, Topic
from ironlace.record.entries import (
    DrawingEntry,
    EntryKind,
    FindingEntry,
    Mark,
    Measurement,
    Part,
    Photograph,
    Question,
    ReportEntry,
    Statement,
    Treatment,
)
from ironlace.record.history import Record

__all__ = ["DATE_FINDING", "DONE_BY", "Step", "StepProgress", "job_of"]

_ENOUGH_REPORTS = 4
"""Fewer numbers fit almost any theory; common practice, no source."""

_ENOUGH_PARTS = 5
"""A condition report of fewer parts leaves the mechanism out; common practice, no source."""

DONE_BY: Mapping[str, Collection[str]] = {"date": (DATE_FINDING,)}
"""By key of a step: what the findings are about that fulfil it."""


_OF_A_SEAM = re.compile(r"stitch|seam|tension|\bspi\b", re.IGNORECASE)
"""What a measurement is called, or its unit, that is taken of a seam or set for one."""


class StepProgress(StrEnum):
    """How far a step has come."""

    OPEN = "not begun"
    BEGUN = "begun"
    DONE = "done"


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the job for one machine.

    `adds` is the kind of entry that the next thing makes, so that a page can offer the form, and
    `changes` the name of one that it changes instead;
    `done_by` names what the findings are about that fulfil the step, `found` those that stand.
    """

    key: str
    title: str
    why: str
    progress: StepProgress
    have: str
    next: str
    adds: EntryKind
    hazards: tuple[Hazard, ...] = ()
    done_by: tuple[str, ...] = ()
    found: tuple[str, ...] = ()
    changes: str = ""


def job_of(
    record: Record, done_by: Mapping[str, Collection[str]] = DONE_BY
) -> tuple[list[Step], Step | None]:
    """Return the steps of the job for a record, and the one to do next (None: all done).

    Parameters
    ----------
    done_by
        By key of a step: what the findings are about that fulfil it, as the analyses declare. A
        finding takes a step out of *not begun*; only *date* is not done without one.
    """
    steps = [_with_findings(step(record), record, done_by) for step in _STEPS]
    upcoming = next((step for step in steps if step.progress is not StepProgress.DONE), None)
    return steps, upcoming


def _with_findings(step: Step, record: Record, done_by: Mapping[str, Collection[str]]) -> Step:
    """A step with the findings that fulfil it."""
    about = tuple(done_by.get(step.key, ()))
    found = tuple(name for name, f in record.of(FindingEntry) if f.finding.about in about)
    progress, have = step.progress, step.have
    if step.key == "date":
        reports = sum(1 for _, r in record.of(ReportEntry) if r.counts)
        progress = _progress(min(reports, _ENOUGH_REPORTS) + bool(found), _ENOUGH_REPORTS + 1)
        have = f"{have}, " + ("a dated finding" if found else "no date yet")
    elif found:
        progress = max(progress, StepProgress.BEGUN, key=list(StepProgress).index)
        have = f"{have}, {counted(len(found), 'finding')}"
    return replace(step, done_by=about, found=found, progress=progress, have=have)


def _take_in(record: Record) -> Step:
    photographs = [p for _, p in record.of(Photograph)]
    found = [p for p in photographs if p.role is PhotographRole.AS_FOUND]
    provenance = record.count(EntryKind.PROVENANCE)
    if not found:
        doing = "Photograph it as found, before anything is cleaned: all sides, and the underside."
        adds = EntryKind.PHOTOGRAPH
    else:
        doing = "Write down where it came from, while you still know."
        adds = EntryKind.PROVENANCE
    return Step(
        "take-in",
        STEPS["take-in"],
        "What it looked like on the day it came cannot be photographed later.",
        _progress(bool(found) + bool(provenance), 2),
        f"{counted(len(found), 'photograph')} as found, "
        f"{counted(provenance, 'step')} of provenance",
        doing,
        adds,
        (Hazard.LIFTING,),
    )


def _marks(record: Record) -> Step:
    marks = list(record.of(Mark))
    with_photograph = [m for _, m in marks if m.photographs]
    unshown = marks[-1][0] if marks and not with_photograph else ""
    if unshown:
        doing = f"Photograph it with a lamp low at one side, and name the photograph in {unshown}."
    else:
        doing = "Read the number glyph by glyph, dots and rings and gaps too, doubts in brackets."
    return Step(
        "marks",
        STEPS["marks"],
        "A dot between two figures may be the whole key to the numbering.",
        _progress(bool(marks) + bool(with_photograph), 2),
        f"{counted(len(marks), 'mark')}, {len(with_photograph)} with a photograph",
        doing,
        EntryKind.MARK,
        changes=unshown,
    )


def _identify(record: Record) -> Step:
    topics = {statement.about for _, statement in record.of(Statement)}
    wanted = [Topic.KIND, Topic.MAKER, Topic.SHUTTLE]
    missing = [topic.value for topic in wanted if topic not in topics]
    return Step(
        "identify",
        STEPS["identify"],
        "Each statement stands with its grade and source, so that rivals can stand side by side.",
        _progress(len(wanted) - len(missing), len(wanted)),
        counted(len(list(record.of(Statement))), "statement"),
        f"State its {missing[0]}, with how you know." if missing else "Add what else is known.",
        EntryKind.STATEMENT,
    )


def _condition(record: Record) -> Step:
    parts = [part for _, part in record.of(Part)]
    urgent = [part.name for part in parts if part.risk is Risk.NOW]
    doing = f"Note the state of each part: {_ENOUGH_PARTS} at least before any treatment."
    if urgent:
        doing = f"'{urgent[0]}' is marked 'act now': see to it before the rest."
    return Step(
        "condition",
        STEPS["condition"],
        "A condition report is dated: it tells later damage from old damage (EN 16095).",
        _progress(min(len(parts), _ENOUGH_PARTS), _ENOUGH_PARTS),
        counted(len(parts), "part"),
        doing,
        EntryKind.PART,
        (Hazard.OLD_FINISH, Hazard.WIRING),
    )


def _date(record: Record) -> Step:
    reports = [r for _, r in record.of(ReportEntry) if r.counts]
    if len(reports) < _ENOUGH_REPORTS:
        doing = "Add reports of other machines' numbers: one number fits almost any theory."
        adds = EntryKind.REPORT
    else:
        doing = "Compare the theories of its numbering, and keep the finding."
        adds = EntryKind.FINDING
    return Step(
        "date",
        STEPS["date"],
        "A theory from one machine is a guess; other owners' numbers confirm or sink it.",
        _progress(len(reports), _ENOUGH_REPORTS),
        counted(len(reports), "report"),
        doing,
        adds,
    )


def _running(record: Record) -> Step:
    readings = [m for _, m in record.of(Measurement)]
    of_seam = [m for m in readings if _OF_A_SEAM.search(f"{m.what} {m.reads}")]
    mechanical = [t for _, t in record.of(Treatment) if t.aim is Aim.MECHANICAL]
    set_right = [t for t in mechanical if t.stage is Stage.DONE]
    sewn = [p for _, p in record.of(Photograph) if p.role is PhotographRole.STITCH]
    shows_it_sews = bool(sewn) or bool(set_right and of_seam)
    if not readings:
        doing = "Measure the needle (shank, butt to eye) and the needle bar's stroke."
        adds = EntryKind.MEASUREMENT
    elif not set_right:
        doing = "Clean, oil and set it; write down each setting and repair of the mechanism."
        adds = EntryKind.TREATMENT
    else:
        doing = "Sew a row on two layers of cloth and photograph both sides of it: the stitch-out."
        adds = EntryKind.PHOTOGRAPH
    return Step(
        "running",
        STEPS["running"],
        "Needle, timing and tension are measured first, so that a setting can be found again.",
        _done_or_begun(shows_it_sews, readings or set_right),
        f"{counted(len(readings), 'measurement')}, {counted(len(set_right), 'treatment')} of the "
        f"mechanism, {counted(len(sewn), 'photograph')} of its stitch",
        doing,
        adds,
        (Hazard.RUNNING,),
    )


def _ornament(record: Record) -> Step:
    pictures = [p for _, p in record.of(Photograph) if p.role is PhotographRole.ORNAMENT]
    drawings = list(record.of(DrawingEntry))
    latest = drawings[-1][0] if drawings else ""
    if drawings:
        doing = f"Look {latest} over against its photograph, and put it right by hand."
        adds = EntryKind.DRAWING
    elif not pictures:
        doing = "Print the scale strip, lay it beside the ornament and photograph both square on."
        adds = EntryKind.PHOTOGRAPH
    else:
        doing = "Trace the ornament from the photograph."
        adds = EntryKind.DRAWING
    return Step(
        "ornament",
        STEPS["ornament"],
        "A drawing in millimetres, taken before any cleaning wears it further.",
        _done_or_begun(drawings, pictures),
        f"{counted(len(pictures), 'photograph')}, {counted(len(drawings), 'drawing')}",
        doing,
        adds,
        changes=latest,
    )


def _treat(record: Record) -> Step:
    treatments = [(n, t) for n, t in record.of(Treatment) if t.stage is Stage.DONE]
    intended = [n for n, t in record.of(Treatment) if t.stage is Stage.INTENDED]
    shown = [t for _, t in treatments if t.before and t.after]
    unshown = treatments[-1][0] if treatments and not shown else ""
    if unshown:
        doing = f"Name the photographs before and after in {unshown}."
    elif intended and not treatments:
        doing = f"Do what {intended[0]} intends, and say there when it is done."
    else:
        doing = "Write down what was done, with what, and whether it can be undone."
    return Step(
        "treat",
        STEPS["treat"],
        "The next owner must be able to tell your work from the factory's, and take it back.",
        _progress(bool(treatments) + bool(shown), 2),
        f"{counted(len(treatments), 'treatment')}, {len(shown)} shown before and after"
        + (f", {len(intended)} intended" if intended else ""),
        doing,
        EntryKind.TREATMENT,
        (Hazard.OLD_FINISH, Hazard.SOLVENTS, Hazard.OILY_RAGS, Hazard.ACIDS),
        changes=unshown or ("" if treatments else "".join(intended[:1])),
    )


def _hand_over(record: Record) -> Step:
    questions = [q for _, q in record.of(Question)]
    still_open = [q for q in questions if not q.answer]
    return Step(
        "tell",
        STEPS["tell"],
        "An open question in print is what brings the next report.",
        StepProgress.DONE if questions else StepProgress.OPEN,
        f"{counted(len(still_open), 'open question')}",
        "Write down what you still do not know, and what would answer it.",
        EntryKind.QUESTION,
    )


_STEPS: list[Callable[[Record], Step]] = [
    _take_in,
    _marks,
    _identify,
    _condition,
    _date,
    _running,
    _ornament,
    _treat,
    _hand_over,
]


def _progress(have: int, wanted: int) -> StepProgress:
    if have <= 0:
        return StepProgress.OPEN
    return StepProgress.DONE if have >= wanted else StepProgress.BEGUN


def _done_or_begun(shown: object, begun: object) -> StepProgress:
    """Done when something shows it, begun when there is something towards it."""
    if shown:
        return StepProgress.DONE
    return StepProgress.BEGUN if begun else StepProgress.OPEN
