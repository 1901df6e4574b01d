"""Making a machine's pack: from the workshop's record and pictures to the dossier room."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from PIL import Image

from ironlace.dossier import Account, FindingWords, PictureFile, account_of, write_pack
from ironlace.record.entries import DrawingEntry, FindingEntry, Photograph
from ironlace.record.history import Record
from ironlace.workshop import analyses
from ironlace.workshop.ornament.drawings import drawing_svg
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
    made: datetime | None = None,
    progress: Callable[[str, float], None] | None = None,
) -> Path:
    """Write the pack of a machine into a folder; returns the folder.

    `made` is the moment printed in the dossier (default: now).
    """
    report = progress or (lambda _stage, _fraction: None)
    account = account_from(
        workshop,
        slug,
        private=private,
        hours_and_costs=hours_and_costs,
        progress=lambda stage, done: report(stage, done * _SHARE_FOR_PICTURES),
    )
    rest = 1.0 - _SHARE_FOR_PICTURES
    return write_pack(
        account,
        folder,
        made=made or datetime.now(UTC),
        progress=lambda stage, done: report(stage, _SHARE_FOR_PICTURES + done * rest),
    )


def account_from(
    workshop: Workshop,
    slug: str,
    *,
    private: bool = False,
    hours_and_costs: bool = False,
    progress: Callable[[str, float], None] | None = None,
) -> Account:
    """Gather what an account of a machine is told from."""
    record = workshop.records.read(slug)
    photographs = list(record.of(Photograph))
    pictures: dict[str, PictureFile] = {}
    for index, (name, photograph) in enumerate(photographs):
        if private or photograph.published:
            pictures[name] = _picture(workshop.photographs.view(photograph.sha256, PICTURE_PX))
        if progress:
            progress("preparing the photographs", (index + 1) / len(photographs))
    drawings = {name: drawing_svg(workshop, slug, name) for name, _ in record.of(DrawingEntry)}
    return account_of(
        record,
        pictures,
        drawings,
        changes=workshop.records.changes(slug),
        private=private,
        hours_and_costs=hours_and_costs,
        finding_words=finding_words(workshop, record),
    )


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
