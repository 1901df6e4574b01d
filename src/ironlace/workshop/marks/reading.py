"""From files to a reading of marks, told in words, as a file, and as a report for the survey."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.marks.errors import MarksError
from ironlace.marks.reading.places import Place, found_places, read_places
from ironlace.marks.reading.read_marks import MarksRead, read_marks
from ironlace.marks.reading.reading_told import USUAL_DIGIT_MM, Found
from ironlace.marks.reading.relief_slopes import ReliefSlopes
from ironlace.workshop.marks.reading_files import (
    learned,
    picture_size_and_grey,
    read_photograph,
    read_reader,
    read_relief,
    read_shapes,
)

_SEED = 13
"""Places without marks are drawn by it: the same reading twice gives the same figures."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked of a reading."""

    places: Path | None = None
    shapes: Path | None = None
    base_rate: float | None = None
    glyphs: str = "0123456789"
    labels: Path | None = None


def read_folder(folder: Path, asked: Asked) -> Found:
    """Read a relief's folder.

    Raises IronlaceError when something that was given cannot be used.
    """
    text = _text(asked.places)
    tall = None
    if text is not None:
        normals = folder / "normals.npy"
        if not normals.is_file():
            read_relief(folder)  # tells what is missing
        shape = np.load(normals, mmap_mode="r").shape[:2]
        places = read_places(text, (int(shape[0]), int(shape[1])))
        tall = _digit_px(places)
    relief = read_relief(folder, tall)
    if text is None:
        places = found_places(relief.slopes, USUAL_DIGIT_MM, np.random.default_rng(_SEED))
    read = _read(relief.slopes, places, asked, gain=relief.slope_gain)
    read = read.of_a_relief(relief.doubt)
    return Found(read, "a relief", relief.scale_known, text is None)


def read_one_photograph(file: Path, azimuth: float, elevation: float, asked: Asked) -> Found:
    """Read a single raking photograph.

    Raises IronlaceError when something that was given cannot be used; places must be given.
    """
    text = _text(asked.places)
    if text is None:
        raise MarksError(
            "A single photograph does not show where the digits stand: give their places "
            "(--places, a table of kind, row, index, x_px, y_px, height_px)."
        )
    grey = picture_size_and_grey(file)
    places = read_places(text, (grey.shape[0], grey.shape[1]))
    scale = USUAL_DIGIT_MM / _digit_px(places)
    read = _read(read_photograph(file, azimuth, elevation, scale), places, asked)
    return Found(read, "one raking photograph", scale_known=False, searched=False)


def _read(
    slopes: ReliefSlopes, places: tuple[Place, ...], asked: Asked, gain: Any = None
) -> MarksRead:
    shapes = None if asked.shapes is None else read_shapes(asked.shapes)
    return read_marks(
        slopes,
        places,
        learned(),
        np.random.default_rng(_SEED),
        shapes=shapes,
        base_rate=asked.base_rate,
        glyphs=asked.glyphs,
        slope_gain=gain,
        labels=_labels(asked.labels),
    )


def _labels(file: Path | None) -> dict[tuple[int, int], str]:
    text = _text(file)
    if text is None:
        return {}
    read = read_reader(text, str(file))
    if len(marks := {mark for mark, _, _ in read}) > 1:
        raise MarksError(
            f"{file} labels strikes of {len(marks)} marks ({', '.join(sorted(marks))}): give those "
            "of the mark in hand alone."
        )
    return {(row, index): glyph for (_, row, index), glyph in read.items()}


def _digit_px(places: tuple[Place, ...]) -> float:
    return float(np.median([one.height_px for one in places if one.kind == "digit"]))


def _text(file: Path | None) -> str | None:
    if file is None:
        return None
    try:
        return file.read_text(encoding="utf-8-sig")
    except FileNotFoundError as error:
        raise NotFoundError(f"There is no file {file}: check its name.") from error
    except (OSError, UnicodeDecodeError) as error:
        raise IronlaceError(f"{file} cannot be read as UTF-8 text: save it as such.") from error
