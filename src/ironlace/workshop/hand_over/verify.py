"""Computing a record's findings again, from what it holds, and comparing.

A date is compared with the theories and reports as they stood when it was found; a drawing is
traced again from its photograph, its stencil sheets are planned again from it. A finding that
another version made may differ, and says so.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from ironlace import __version__
from ironlace.evidence.analyses import Declared, in_brief
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.findings import Finding
from ironlace.record import DrawingEntry, FindingEntry
from ironlace.workshop.analyses import analysis_about, stale_findings, work_out
from ironlace.workshop.ornament.made_again import differs_made_again
from ironlace.workshop.store.folder import Workshop


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
        work.append((name, partial(_drawn_again, workshop, slug, name, drawing)))
    for index, (name, compute) in enumerate(work):
        if progress:
            progress(f"computing {name} again", index / len(work))
        told.append(compute())
    why = stale_findings(workshop, record)
    return [replace(one, stale=why.get(one.name, "")) for one in told]


def _again(workshop: Workshop, slug: str, name: str, finding: Finding) -> Verified:
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


def _drawn_again(workshop: Workshop, slug: str, name: str, drawing: DrawingEntry) -> Verified:
    """Make a drawing again from its photographs, or from the drawing that it came of."""
    try:
        differs = differs_made_again(workshop, slug, name, drawing)
    except IronlaceError as error:
        return Verified(name, None, f"It cannot be made again: {error}")
    if differs:
        return Verified(name, False, f"{differs}{_other_version(drawing.finding)}")
    return Verified(name, True, "comes out the same again")


def _other_version(finding: Finding) -> str:
    if finding.version == __version__:
        return ""
    return f" (it was computed by version {finding.version}, this is {__version__})"
