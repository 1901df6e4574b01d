"""A package taken in: the record of another workshop goes on here, with its whole history.

First the package is proved; then its originals and its record come in together or not at all.
"""

from collections.abc import Mapping
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy.orm import Session

from ironlace.dossier.errors import BagRefusedError
from ironlace.dossier.record_file import changes_in
from ironlace.evidence.progress import Progress, unheard
from ironlace.evidence.wording import listed
from ironlace.record import DrawingEntry, Photograph, Provenance, parse_entry
from ironlace.record.history import Change
from ironlace.workshop.hand_over.bag_computed import (
    BagVerified,
    looked_over,
    record_of_bag,
    title_of,
    verify_bag,
)
from ironlace.workshop.hand_over.verify import Verified
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.store.intake import Examined
from ironlace.workshop.store.originals import Incoming, Store
from ironlace.workshop.work.in_hand import Tell, Work

_COPY_BYTES = 1 << 20
"""Copied at a time: a bound on memory."""
_MOST_ORIGINAL = 2_000_000_000
"""Bytes of one original, as where photographs come in."""
_NAMED = 3
"""Faults and missing originals that a refusal names; `verify` names all."""


@dataclass(frozen=True, slots=True)
class TakenOver:
    """What came of taking a package in.

    Attributes
    ----------
    slug
        The record here; another than it had where that was taken.
    changes, originals
        How many of each came.
    step
        Name of the step of provenance that was added, None when none was told.
    findings
        What became of each finding when it was computed again.
    """

    slug: str
    changes: int
    originals: int
    step: str | None
    findings: tuple[Verified, ...]


def take_over(
    workshop: Workshop,
    bag: Path,
    step: Provenance | None = None,
    *,
    by: str = "",
    at: datetime | None = None,
    progress: Progress | None = None,
) -> TakenOver:
    """Take the package of a machine into a workshop.

    Parameters
    ----------
    step
        The change of owner, as the new owner tells it; None leaves the provenance as it came.
    by, at
        By whose hand that step is written, and when (default: now). The changes that came keep
        theirs.

    Raises
    ------
    BagRefusedError
        When the package has a fault, tells no history, or holds back originals.
    """
    with ExitStack() as stack:
        arrived = arrival(stack, workshop, bag, progress)
        with workshop.database.writing() as session:
            taken = arrived.write(session, step, by, at or datetime.now(UTC))
    (progress or unheard)("the record is here", 1.0)
    return taken


def arrival(
    stack: ExitStack, workshop: Workshop, bag: Path, progress: Progress | None = None
) -> "Arrival":
    """Prove a package and copy its originals to where files come in; nothing is kept yet.

    What is not written before the stack closes is gone. Raises BagRefusedError as `take_over`.
    """
    progress = progress or unheard
    verified, document = _proved(bag, lambda stage, done: progress(stage, 0.8 * done))
    changes = changes_in(document, datetime.now(UTC))
    _must_be_writable(changes)
    files = _originals(bag, verified.checked.sha256)
    _must_be_whole(changes, files, workshop)
    progress("taking the originals in", 0.8)
    coming = {sha: _coming(stack, workshop.store, file) for sha, file in files.items()}
    for sha, incoming in coming.items():
        if incoming.sha256 != sha:
            raise BagRefusedError(
                f"{files[sha].name} was changed while it was read, and nothing was taken in: "
                "try again from a copy that nobody writes to."
            )
    looked = {sha: looked_over(incoming.path, files[sha].name) for sha, incoming in coming.items()}
    originals = [(coming[sha], looked[sha], file.name) for sha, file in files.items()]
    return Arrival(workshop, document, changes, originals, verified.findings)


@dataclass(frozen=True, slots=True)
class Arrival:
    """A package that was proved, its originals at the door: all that is left is to write it."""

    workshop: Workshop
    document: Mapping[str, Any]
    changes: list[Change]
    originals: list[tuple[Incoming, Examined, str]]
    findings: tuple[Verified, ...]

    def write(self, session: Session, step: Provenance | None, by: str, at: datetime) -> TakenOver:
        """Write the record with its history and originals, in a transaction that is open."""
        records = self.workshop.records
        named = str(self.document.get("slug") or "")
        slug = records.take_over_in(session, title_of(self.document), named, self.changes, at)
        name = None if step is None else records.add_in(session, slug, step, by, at)
        for incoming, looked, file in self.originals:  # last: a history refused leaves no file
            self.workshop.photographs.keep_in(session, incoming, looked, file, at)
        return TakenOver(slug, len(self.changes), len(self.originals), name, self.findings)


def take_over_as_job(work: Work) -> Tell:
    """Take in the package that lies in a folder of this computer, as a job."""
    asked = work.job.asked
    told = asked.get("step")
    step = None if told is None else parse_entry(told)
    assert step is None or isinstance(step, Provenance)
    stack = ExitStack()
    try:
        arrived = arrival(stack, work.workshop, Path(str(asked["folder"])), work.stages.tell)
    except BaseException:
        stack.close()
        raise

    def tell(session: Session) -> dict[str, Any]:
        with stack:
            taken = arrived.write(session, step, str(asked.get("by") or ""), datetime.now(UTC))
        different = [one.name for one in taken.findings if one.same is False]
        return {"machine": taken.slug, "different": different, "step": taken.step}

    return tell


def _proved(bag: Path, progress: Progress) -> tuple[BagVerified, dict[str, Any]]:
    """A bag verified, and the record's file in it, when both bear being gone on with."""
    verified = verify_bag(bag, progress)
    faults = verified.checked.faults
    if faults:
        more = len(faults) - _NAMED
        raise BagRefusedError(
            "The package has faults, and nothing of it was taken in: "
            + " ".join(faults[:_NAMED])
            + (f" And {more} more." if more > 0 else "")
        )
    document = record_of_bag(bag)
    if document.get("entries") and document.get("changes") is None:
        raise BagRefusedError(
            "This package is a public copy, without the history and without what is private: ask "
            "who packed it for one made with --private."
        )
    return verified, document


def _originals(bag: Path, sha256: Mapping[str, str]) -> dict[str, Path]:
    """The files among a bag's originals, by checksum."""
    return {sha: bag / path for path, sha in sha256.items() if path.startswith("data/originals/")}


def _coming(stack: ExitStack, store: Store, file: Path) -> Incoming:
    """A file copied to where files come in; what is not kept is gone when the stack closes."""
    receiving = stack.enter_context(store.receive(_MOST_ORIGINAL, file.name))
    with file.open("rb") as source:
        while piece := source.read(_COPY_BYTES):
            receiving.write(piece)
    return receiving.whole()


def _must_be_writable(changes: list[Change]) -> None:
    """Refuse a history that no hand of this program wrote."""
    odd = [c for c in changes if c.made_at.tzinfo is None or len(c.made_by) > 200]
    if odd or not all(c.made_by.isprintable() for c in changes):
        raise BagRefusedError(
            "record.json tells changes without a time zone, or by hands that no line holds: take "
            "the package as it was handed over."
        )


def _must_be_whole(changes: list[Change], files: Mapping[str, Path], workshop: Workshop) -> None:
    """Refuse a record that shows photographs or drawings which neither came nor are here."""
    shown = {}
    for change in changes:
        if isinstance(change.entry, Photograph):
            shown[change.entry.sha256] = change.name
        elif isinstance(change.entry, DrawingEntry):
            shown[change.entry.svg] = change.name
    lacking = shown.keys() - files.keys()
    lacking -= workshop.photographs.originals(lacking).keys()
    if lacking:
        names = sorted({shown[sha] for sha in lacking})
        rest = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
        raise BagRefusedError(
            f"The originals of {listed(names[:_NAMED])}{rest} are not in the package, and nothing "
            "was taken in: ask who packed it for one made with --private."
        )
