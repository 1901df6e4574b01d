"""Seams of a record: the kept pictures that they are measured on, and views of them marked."""

from collections.abc import Mapping
from pathlib import Path
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.findings import Sha256
from ironlace.photographs.strip_finding import piece_in
from ironlace.record import Photograph, Record
from ironlace.running.seam.balance_analysis import BalanceAsked, BothSides
from ironlace.running.seam.seam_analysis import SeamAsked, SeamFound, SeamPhotograph
from ironlace.running.seam.seam_picture import WORKING_PX_PER_MM
from ironlace.running.seam.seam_told import marked_rows
from ironlace.running.seam.two_seams_analysis import TwoPictures, TwoSeamsAsked
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.store.intake import pixels

LEAST_FILE_DPI: Final = 150.0
"""Cameras and editors write 72 or 96 dots to the inch for want of any; a scan has more."""
ROW_MM: Final = 50.0
"""Most seam that one row of the marked picture shows: some 20 px to the mm on a laptop."""
JPEG_QUALITY: Final = 88
"""Enough that the marks' edges stay sharp."""


def file_dpi(picture: Path) -> float | None:
    """The resolution that a file gives of itself, None where it gives none worth the name."""
    try:
        with Image.open(picture) as opened:
            told = opened.info.get("dpi")
    except OSError:  # a camera's raw file, which intake reads otherwise
        return None
    across = float(told[0]) if told else 0.0
    return across if across >= LEAST_FILE_DPI else None


def seam_photograph(workshop: Workshop, record: Record, asked: SeamAsked) -> SeamPhotograph:
    """The kept picture of a seam, to be opened when it is wanted.

    Raises IronlaceError when it is no photograph that stands.
    """
    return picture_named(workshop, record, asked.photograph)


def picture_named(workshop: Workshop, record: Record, name: str) -> SeamPhotograph:
    """A kept picture by its name; see `seam_photograph`."""
    original = workshop.photographs.original(_named(record, name).sha256)
    return SeamPhotograph(
        name,
        original.sha256,
        lambda: np.asarray(pixels(original.path), np.uint8),
        file_dpi(original.path),
        original.focal_mm is not None or original.focal_35mm is not None,
        original.focal_35mm,
    )


def seam_checksums(record: Record, asked: SeamAsked) -> Mapping[str, Sha256]:
    """The checksum of the picture, by its name."""
    return {asked.photograph: _named(record, asked.photograph).sha256}


def both_sides(workshop: Workshop, record: Record, asked: BalanceAsked) -> BothSides:
    """The kept pictures of both sides of a seam."""
    return BothSides(
        picture_named(workshop, record, asked.upper), picture_named(workshop, record, asked.under)
    )


def both_checksums(record: Record, asked: BalanceAsked) -> Mapping[str, Sha256]:
    """The checksums of both pictures, by name."""
    return {name: _named(record, name).sha256 for name in (asked.upper, asked.under)}


def two_pictures(workshop: Workshop, record: Record, asked: TwoSeamsAsked) -> TwoPictures:
    """The kept pictures of two seams."""
    return TwoPictures(
        picture_named(workshop, record, asked.first), picture_named(workshop, record, asked.second)
    )


def two_checksums(record: Record, asked: TwoSeamsAsked) -> Mapping[str, Sha256]:
    """The checksums of both pictures, by name."""
    return {name: _named(record, name).sha256 for name in (asked.first, asked.second)}


def _named(record: Record, name: str) -> Photograph:
    entry = record.named(name)
    if not isinstance(entry, Photograph):
        raise IronlaceError(f"'{name}' is no photograph: choose a scan or photograph of the seam.")
    return entry


def strip_seen(workshop: Workshop, record: Record, name: str) -> str | None:
    """The strip that lies in a kept picture, by its markers' numbers; None where none is read."""
    original = workshop.photographs.original(_named(record, name).sha256)
    return piece_in(pixels(original.path))


def marked_row(found: SeamFound, row: int) -> bytes | None:
    """One row of the picture with every end marked, as JPEG; None where there is no such row."""
    rows = marked_rows(found.picture, found.measured, WORKING_PX_PER_MM, ROW_MM)
    if not 0 <= row < len(rows):
        return None
    done, data = cv2.imencode(".jpg", _bgr(rows[row]), [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
    if not done:
        raise IronlaceError("The marked picture could not be made: choose another photograph.")
    return bytes(data)


def _bgr(shown: NDArray[np.uint8]) -> NDArray[np.uint8]:
    return np.ascontiguousarray(shown[..., ::-1])
