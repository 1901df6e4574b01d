"""Making a machine's pack: from the workshop's record and pictures to the dossier room."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from PIL import Image

from ironlace.dossier import Account, FindingWords, PictureFile, account_of, write_pack
from ironlace.dossier.pack import StencilsShown
from ironlace.ornament.stencils import SHEETS
from ironlace.record.entries import DrawingEntry, FindingEntry, Photograph
from ironlace.record.history import Record
from ironlace.workshop import analyses
from ironlace.workshop.ornament.drawings import drawing_named, drawing_svg
from ironlace.workshop.stencils.sheets_kept import finding_of
from ironlace.workshop.stencils.stencilling import planned
from ironlace.workshop.store.folder import Workshop

PICTURE_PX = 1600
"""Longer side of a picture in the pack: 13 cm in print at 300 dots to the inch (judged)."""

_SHARE_FOR_PICTURES = 0.4
"""Of the time a pack takes, as measured on the demo; only for the bar."""


def make_pack(
    workshop: Workshop,
    slug: str,
    folder: Path,
    *,
    private: bool = False,
    hours_and_costs: bool = False,
    without: Sequence[str] = (),
    made: datetime | None = None,
    progress: Callable[[str, float], None] | None = None,
) -> Path:
    """Write the pack of a machine into a folder; returns the folder.

    Parameters
    ----------
    without
        Names of drawings to be left out, such as ``drawing 2``, with their stencil sheets; the
        record that goes along holds them all the same.
    made
        The moment printed in the dossier (default: now).

    Raises
    ------
    NotFoundError
        When a name of `without` is not that of a drawing that stands.
    """
    report = progress or (lambda _stage, _fraction: None)
    account = account_from(
        workshop,
        slug,
        private=private,
        hours_and_costs=hours_and_costs,
        without=without,
        progress=lambda stage, done: report(stage, done * _SHARE_FOR_PICTURES),
    )
    report("gathering the stencil sheets", _SHARE_FOR_PICTURES)
    stencils = stencils_of(workshop, slug, without=without)
    rest = 1.0 - _SHARE_FOR_PICTURES
    return write_pack(
        account,
        folder,
        made=made or datetime.now(UTC),
        stencils=stencils,
        without=tuple(dict.fromkeys(without)),
        progress=lambda stage, done: report(stage, _SHARE_FOR_PICTURES + done * rest),
    )


def account_from(
    workshop: Workshop,
    slug: str,
    *,
    private: bool = False,
    hours_and_costs: bool = False,
    without: Sequence[str] = (),
    progress: Callable[[str, float], None] | None = None,
) -> Account:
    """Gather what an account of a machine is told from, but for drawings that are left out."""
    record = workshop.records.read(slug)
    for name in without:
        drawing_named(workshop, slug, name)
    photographs = list(record.of(Photograph))
    pictures: dict[str, PictureFile] = {}
    for index, (name, photograph) in enumerate(photographs):
        if private or photograph.published:
            pictures[name] = _picture(workshop.photographs.view(photograph.sha256, PICTURE_PX))
        if progress:
            progress("preparing the photographs", (index + 1) / len(photographs))
    drawings = {
        name: drawing_svg(workshop, slug, name)
        for name, _ in record.of(DrawingEntry)
        if name not in without
    }
    return account_of(
        record,
        pictures,
        drawings,
        changes=workshop.records.changes(slug),
        private=private,
        hours_and_costs=hours_and_costs,
        finding_words=finding_words(workshop, record),
        without={*without, *_sheets_of(record, without)},
    )


def stencils_of(
    workshop: Workshop, slug: str, *, without: Sequence[str] = ()
) -> list[StencilsShown]:
    """The stencil sheets planned for a machine's drawings; made again where they are not at hand.

    Raises
    ------
    IronlaceError
        When sheets that were planned cannot be made again; leaving their drawing out helps.
    """
    out = []
    for name, entry in workshop.records.read(slug).of(DrawingEntry):
        found = None if name in without else finding_of(workshop, slug, name)
        if found is not None:
            out.append(StencilsShown(name, entry.name, planned(workshop, slug, found[1])))
    return out


def _sheets_of(record: Record, drawings: Sequence[str]) -> set[str]:
    """Names of the findings that tell of the stencil sheets of some drawings."""
    out = set()
    for name, entry in record.of(FindingEntry):
        asked = entry.finding.method.parameters.get("asked")
        if (
            entry.finding.about == SHEETS.about
            and isinstance(asked, dict)
            and asked.get("drawing") in drawings
        ):
            out.add(name)
    return out


def finding_words(workshop: Workshop, record: Record) -> dict[str, FindingWords]:
    """How the findings of a record are announced: by their analyses, and the stale ones as such."""
    words = {one.about: FindingWords(one.question, one.section) for one in analyses.ALL}
    why = analyses.stale_findings(workshop, record)
    for name, entry in record.of(FindingEntry):
        if name in why:
            usual = words.get(entry.finding.about, FindingWords())
            words[name] = replace(usual, stale=why[name])
    return words


def _picture(path: Path) -> PictureFile:
    with Image.open(path) as picture:
        return PictureFile(path, picture.width, picture.height)
