"""A bag verified from itself alone: first every checksum, then every finding computed again.

Its record is set up in a workshop that is thrown away, with the originals left where they lie.
"""

import json
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from ironlace.dossier.bag.checking import BagChecked, check_bag
from ironlace.dossier.bag.contents import finding_file
from ironlace.dossier.errors import BagRefusedError
from ironlace.dossier.record_file import changes_in
from ironlace.evidence.analyses import in_brief
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.findings import Finding
from ironlace.evidence.progress import Progress, unheard
from ironlace.evidence.wording import listed
from ironlace.record import DrawingEntry
from ironlace.workshop import analyses
from ironlace.workshop.hand_over.verify import Verified, verify_record
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.store.intake import SVG_EXAMINED, Examined
from ironlace.workshop.store.photographs import examined_aside

_MOST_RECORD = 500_000_000
"""Bytes of record.json that are read whole. A bound on memory."""
_LATER = datetime(9999, 1, 1, tzinfo=UTC)
"""The moment of entries whose history is not told: after all else."""


@dataclass(frozen=True, slots=True)
class BagVerified:
    """What was found in a bag; no finding is computed while the bag itself has a fault."""

    checked: BagChecked
    findings: tuple[Verified, ...]


def verify_bag(folder: Path, progress: Progress | None = None) -> BagVerified:
    """Check a bag, and compute every finding in it again from what it holds.

    Raises
    ------
    BagRefusedError
        When it is whole and holds no record that this version reads.
    """
    progress = progress or unheard
    checked = check_bag(folder, lambda stage, done: progress(stage, done / 2))
    if checked.faults:
        return BagVerified(checked, ())
    document = record_of_bag(folder)
    with (
        tempfile.TemporaryDirectory(prefix="ironlace-bag-") as scratch,
        Workshop.create(Path(scratch) / "workshop") as workshop,
    ):
        slug = _set_up(workshop, document, folder, checked.sha256)
        again = verify_record(workshop, slug, lambda s, done: progress(s, 0.5 + done / 2))
        told = [_judged(workshop, slug, folder, one) for one in again]
    return BagVerified(checked, tuple(told))


def record_of_bag(folder: Path) -> dict[str, Any]:  # dict: JSON
    """What the record's file of a bag says.

    Raises BagRefusedError when it is not there, too large, or no JSON.
    """
    return _json_in(folder / "data" / "record.json")


def title_of(document: Mapping[str, Any]) -> str:
    """What a record's file calls the machine."""
    return str(document.get("title") or "handed over")


def looked_over(original: Path, name: str) -> Examined:
    """What a file among a bag's originals is: a drawing, or a photograph that is decoded once."""
    return SVG_EXAMINED if name.endswith(".svg") else examined_aside(original, name)


def _json_in(file: Path) -> dict[str, Any]:
    if not file.is_file() or file.stat().st_size > _MOST_RECORD:
        raise BagRefusedError(f"data/{file.name} is not there, or too large to be read here.")
    try:
        found = json.loads(file.read_text(encoding="utf-8"))
    except (ValueError, RecursionError) as error:
        raise BagRefusedError(f"data/{file.name} is not JSON: take the package anew.") from error
    if not isinstance(found, dict):
        raise BagRefusedError(f"data/{file.name} holds no record: take the package anew.")
    return found


def _set_up(
    workshop: Workshop, document: dict[str, Any], bag: Path, sha256: Mapping[str, str]
) -> str:
    """Write the record of a bag into an empty workshop; return its slug."""
    slug = workshop.records.create(title_of(document))
    workshop.records.write_history(slug, changes_in(document, _LATER))
    record = workshop.records.read(slug)
    wanted = {sha for _, finding in analyses.findings_of(record) for sha in finding.inputs.values()}
    wanted |= {drawing.svg for _, drawing in record.of(DrawingEntry)}
    for path, sha in sha256.items():
        if sha in wanted and path.startswith("data/originals/"):
            place = (bag / path).resolve()
            workshop.photographs.borrow(place, sha, looked_over(place, place.name))
            wanted.discard(sha)
    return slug


def _judged(workshop: Workshop, slug: str, bag: Path, one: Verified) -> Verified:
    """What came of a finding, seen with what its file in the bag says was held back."""
    told = _json_in(bag / "data" / finding_file(one.name))
    record = workshop.records.read(slug)
    finding = dict(analyses.findings_of(record))[one.name]
    try:
        held = [str(of["name"]) for of in told["inputs"] if of["held_back"]]
        same_told = Finding.model_validate(told["finding"]) == finding
    except (KeyError, TypeError, ValueError) as error:
        raise BagRefusedError(
            f"data/{finding_file(one.name)} does not tell a finding: take the package anew."
        ) from error
    if not same_told:
        says = f"{finding_file(one.name)} tells another finding than record.json"
        return Verified(one.name, False, says, one.stale)
    return _without_what_is_held(workshop, slug, one, finding, held) if held else one


def _without_what_is_held(
    workshop: Workshop, slug: str, one: Verified, finding: Finding, held: list[str]
) -> Verified:
    """Compute a finding from what was left in the bag: it may come out all the same."""
    names = listed(held)
    analysis = analyses.analysis_about(finding.about)
    record = workshop.records.read(slug)
    if analysis is not None and not isinstance(record.named(one.name), DrawingEntry):
        try:
            asked = analysis.asked_of(finding)
            again = analyses.work_out(workshop, record, analysis, asked).finding()
        except IronlaceError:
            again = None
        if again is not None and not analysis.same(finding, again):
            says = f"comes out as {in_brief(again)} again, though part of {names} is held back"
            return replace(one, same=True, says=says, stale="")
    says = f"It cannot be computed again from this copy, which holds back {names}, or part of it."
    return replace(one, same=None, says=says, stale="")
