"""The photographs of a record that an analysis of stand or care reads, each opened when wanted."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from ironlace.care.screw_analysis import ScrewAsked, ScrewPicture
from ironlace.evidence.errors import NotFoundError
from ironlace.evidence.findings import Checksums
from ironlace.record import Photograph, Record
from ironlace.stand.base_analysis import BaseAsked, BedPicture
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.store.intake import pixels


def photograph_named(record: Record, name: str) -> Photograph:
    """A photograph of a record by its name.

    Raises NotFoundError when it is none.
    """
    found = record.named(name)
    if not isinstance(found, Photograph):
        raise NotFoundError(f"'{name[:40]}' is no photograph: choose one of this machine's.")
    return found


def size_px(workshop: Workshop, photograph: Photograph) -> tuple[int, int]:
    """Width and height of a photograph."""
    original = workshop.photographs.original(photograph.sha256)
    return int(original.width or 0), int(original.height or 0)


def opener_of(workshop: Workshop, record: Record, name: str) -> Callable[[], NDArray[np.uint8]]:
    """What opens a photograph, HxWx3 sRGB; raises NotFoundError when the name is none's."""
    original = workshop.photographs.original(photograph_named(record, name).sha256)
    return lambda: pixels(original.path)


def picture_checksums(record: Record, *names: str) -> Checksums:
    """By name, the checksums of photographs; an empty name is none."""
    return {name: photograph_named(record, name).sha256 for name in names if name}


def screw_picture(workshop: Workshop, record: Record, asked: ScrewAsked) -> ScrewPicture:
    """The photograph of a screw, if one was chosen."""
    if not asked.photograph:
        return ScrewPicture()
    return ScrewPicture(opener_of(workshop, record, asked.photograph))


def bed_picture(workshop: Workshop, record: Record, asked: BaseAsked) -> BedPicture:
    """The photograph of a bed on its strip, if one was chosen and no outline pasted."""
    if not asked.photograph or asked.outline.strip():
        return BedPicture()
    return BedPicture(opener_of(workshop, record, asked.photograph))


def bed_checksums(record: Record, asked: BaseAsked) -> Checksums:
    """The checksums of the photographs that a base is worked out from."""
    named = (asked.photograph, asked.front_photograph, asked.side_photograph)
    return picture_checksums(record, *dict.fromkeys(named))
