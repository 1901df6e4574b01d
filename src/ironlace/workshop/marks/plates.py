"""Worn plates of a record: their photographs, the relief kept beside, a person's readings of them.

What a person chose (which photographs show one plate, how large the balls are) stands in a finding;
the relief comes out of it again, so it lies in `derived/`.
"""

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path
from typing import TypeVar

from ironlace import __version__
from ironlace.evidence.analyses import asked_as_dict
from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.evidence.findings import Sha256, checksum_of
from ironlace.evidence.markings import parse_marking
from ironlace.evidence.progress import Steps
from ironlace.marks import MARK_READING, PLATE_RELIEF, MarksError
from ironlace.marks.capture.frames import Frames
from ironlace.marks.plate_analysis import PlateFound, PlatePhotographs, PlateReliefAsked, PlateTold
from ironlace.marks.reading.own_reading import OwnReading
from ironlace.marks.reading_analysis import MarkReadingAsked, PlateToRead, ReliefToRead
from ironlace.record import FindingEntry, Mark, Photograph, Record
from ironlace.workshop.marks.plate_views import relief_document, relief_is_whole
from ironlace.workshop.marks.reading_files import learned, read_relief
from ironlace.workshop.marks.relief_files import (
    folder_for_relief,
    peak_mb,
    relief_told,
    write_relief,
)
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.store.intake import grey_pixels

_Kind = TypeVar("_Kind", Photograph, Mark)

MOST_PIXELS = 1_000_000_000
"""Pixels of all photographs of a plate together: each is a byte in memory, 40 of 24 megapixels."""


def photographs_named(record: Record, names: Sequence[str]) -> dict[str, Photograph]:
    """Photographs of a record by name, in the order asked for.

    Raises IronlaceError when one is no photograph that stands.
    """
    return _entries_named(record, names, Photograph, "photograph")


def plate_photographs(
    workshop: Workshop, record: Record, asked: PlateReliefAsked
) -> PlatePhotographs:
    """The photographs of a plate, to be read when they are wanted.

    Raises IronlaceError when one is not there, or all are more than memory should hold.
    """
    return photographs_of(workshop, record, asked.photographs)


def photographs_of(workshop: Workshop, record: Record, names: Sequence[str]) -> PlatePhotographs:
    """Photographs of one plate by their names in the record; see `plate_photographs`."""
    entries = photographs_named(record, names)
    originals = [workshop.photographs.original(one.sha256) for one in entries.values()]
    pixels = sum((one.width or 0) * (one.height or 0) for one in originals)
    if pixels > MOST_PIXELS:
        raise MarksError(
            f"These photographs have {pixels / 1e6:,.0f} million pixels together, and "
            f"{MOST_PIXELS / 1e6:,.0f} million are the most: choose fewer, or crop them all alike."
        )
    paths = [one.path for one in originals]
    return PlatePhotographs(
        tuple(entries),
        tuple(one.sha256 for one in entries.values()),
        partial(_frames, tuple(entries), paths),
    )


def _frames(names: tuple[str, ...], paths: Sequence[Path]) -> Frames:
    with ThreadPoolExecutor(2) as pool:
        return Frames(names, tuple(pool.map(grey_pixels, paths)))


def plate_checksums(record: Record, asked: PlateReliefAsked) -> Mapping[str, Sha256]:
    """The checksums of a plate's photographs, by name."""
    return {name: one.sha256 for name, one in photographs_named(record, asked.photographs).items()}


def relief_folder(workshop: Workshop, record: Record, asked: PlateReliefAsked) -> Path:
    """Where the relief of a plate is kept, there or not."""
    told = {name: value for name, value in asked_as_dict(asked).items() if name != "name"}
    key = checksum_of([told, list(plate_checksums(record, asked).values()), __version__])
    return workshop.derived / "reliefs" / key[:2] / key


def plate_named(record: Record, name: str) -> tuple[FindingEntry, PlateReliefAsked]:
    """A plate of a record by the name of its finding, and what was asked of it.

    Raises NotFoundError when there is none; AskedError when another version asked otherwise.
    """
    entry = record.named(name)
    if not isinstance(entry, FindingEntry) or entry.finding.about != PLATE_RELIEF.about:
        raise NotFoundError(f"'{name}' is no plate: make its relief first.")
    return entry, PLATE_RELIEF.asked_of(entry.finding)


def keep_relief(folder: Path, inputs: PlatePhotographs, found: PlateFound, seconds: float) -> None:
    """Write a relief that was just worked out into its folder, whole or not at all."""
    if found.captured is None or found.relief is None:
        raise ValueError("this relief was read from its folder: there is nothing to write")
    told = relief_told(
        inputs.names, found.captured, found.relief, seconds, peak_mb(), inputs.checksums
    )
    with folder_for_relief(folder) as making:
        write_relief(making, found.relief, told)


def found_in(folder: Path, asked: PlateReliefAsked) -> PlateFound:
    """What is told of a relief that lies in its folder.

    Raises IronlaceError when it cannot be read.
    """
    told, size = relief_document(folder)
    gain = told["slope_gain"]
    left_out = tuple((one["file"], one["why"]) for one in told["frames"] if not one["used"])
    return PlateFound(
        PlateTold(
            photographs=len(told["frames"]),
            used=len(told["frames"]) - len(left_out),
            left_out=left_out,
            pixels=size,
            coverage=told["coverage"],
            mm_per_px=told["mm_per_px"],
            slope_gain=(gain["value"], gain["low"], gain["high"]),
            missing_quadrants=tuple(told["missing_quadrants"]),
            notices=tuple(told["notices"]),
            other_light=told.get("other_light"),
            tone_curve=told.get("tone_curve"),
            doubted=told.get("doubted", False),
        ),
        asked.ball,
    )


def plate_to_read(workshop: Workshop, record: Record, asked: MarkReadingAsked) -> PlateToRead:
    """A plate's relief and a person's own readings of it.

    Raises IronlaceError when there is no such plate, or one of the readings is no mark.
    """
    _, of = plate_named(record, asked.plate)
    folder = relief_folder(workshop, record, of)

    def relief(digit_px: float | None, steps: Steps) -> ReliefToRead:
        if not relief_is_whole(folder):
            inputs = plate_photographs(workshop, record, of)
            keep_relief(folder, inputs, PLATE_RELIEF.work(inputs, of, steps), 0.0)
        read = read_relief(folder, digit_px)
        return ReliefToRead(read.slopes, read.scale_known, read.slope_gain, read.doubt)

    marks = marks_named(record, asked.own)
    before = _before_the_answer(workshop, record, of)
    own = tuple(
        OwnReading(
            name,
            parse_marking(mark.reads),
            mark.read_by,
            before is None or before.get(name) == mark.reads,
        )
        for name, mark in marks.items()
    )
    return PlateToRead(relief, learned, own)


def marks_named(record: Record, names: Sequence[str]) -> dict[str, Mark]:
    """Marks of a record by name, in the order asked for.

    Raises IronlaceError when one is no mark that stands.
    """
    return _entries_named(record, names, Mark, "mark")


def _entries_named(
    record: Record, names: Sequence[str], kind: type[_Kind], words: str
) -> dict[str, _Kind]:
    found = {}
    for name in names:
        entry = record.named(name)
        if not isinstance(entry, kind):
            raise IronlaceError(f"'{name}' is not a {words}: name one such as '{words} 1'.")
        found[name] = entry
    return found


def _before_the_answer(
    workshop: Workshop, record: Record, plate: PlateReliefAsked
) -> dict[str, str] | None:
    """What each mark read before the first answer on a plate was kept; None if none was.

    Any answer out of one of its photographs counts: the same metal chosen otherwise, in another
    order or without one of them, is another finding and no other plate.
    """
    shown = set(plate_checksums(record, plate).values())
    reads: dict[str, str] = {}
    for change in workshop.records.changes(record.slug):
        entry = change.entry
        if isinstance(entry, Mark):
            reads[change.name] = entry.reads
        elif (
            isinstance(entry, FindingEntry)
            and entry.finding.about == MARK_READING.about
            and shown.intersection(entry.finding.inputs.values())
        ):
            return reads
    return None


def reading_checksums(record: Record, asked: MarkReadingAsked) -> Mapping[str, Sha256]:
    """The checksums of what a reading is made from: photographs, and the person's own readings."""
    _, of = plate_named(record, asked.plate)
    told = {n: v for n, v in asked_as_dict(of).items() if n not in ("name", "photographs")}
    own = {n: checksum_of(mark.reads) for n, mark in marks_named(record, asked.own).items()}
    return {
        **plate_checksums(record, of),
        f"{asked.plate}, what was asked": checksum_of(told),
        **own,
    }
