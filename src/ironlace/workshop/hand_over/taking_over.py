"""A package taken in: the record of another workshop goes on here, with its whole history.

First the package is proved; then its originals and its record come in together or not at all.
"""

from collections.abc import Mapping
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from ironlace.dossier.errors import BagRefusedError
from ironlace.dossier.record_file import changes_in
from ironlace.evidence.progress import Progress, unheard
from ironlace.evidence.wording import listed
from ironlace.record import DrawingEntry, Photograph, Provenance
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
from ironlace.workshop.store.originals import Incoming, Store

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
    progress, at = progress or unheard, at or datetime.now(UTC)
    verified, document = _proved(bag, lambda stage, done: progress(stage, 0.8 * done))
    changes = changes_in(document, at)
    _must_be_writable(changes)
    files = _originals(bag, verified.checked.sha256)
    _must_be_whole(changes, files, workshop)
    progress("taking the originals in", 0.8)
    with ExitStack() as stack:
        coming = {sha: _coming(stack, workshop.store, file) for sha, file in files.items()}
        for sha, incoming in coming.items():
            if incoming.sha256 != sha:
                raise BagRefusedError(
                    f"{files[sha].name} was changed while it was read, and nothing was taken in: "
                    "try again from a copy that nobody writes to."
                )
        looked = {
            sha: looked_over(incoming.path, files[sha].name) for sha, incoming in coming.items()
        }
        with workshop.database.writing() as session:
            slug = workshop.records.take_over_in(
                session, title_of(document), str(document.get("slug") or ""), changes, at
            )
            name = None
            if step is not None:
                name = workshop.records.add_in(session, slug, step, by, at)
            for sha, incoming in coming.items():  # last: a history that is refused leaves no file
                workshop.photographs.keep_in(session, incoming, looked[sha], files[sha].name, at)
    progress("the record is here", 1.0)
    return TakenOver(slug, len(changes), len(files), name, verified.findings)


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
