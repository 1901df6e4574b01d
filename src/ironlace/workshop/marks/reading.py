"""From files to a reading of marks, told in words, as a file, and as a report for the survey."""

import csv
import io
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.evidence.markings import DOT
from ironlace.marks.errors import MarksError
from ironlace.marks.reading.places import Place, found_places, read_places
from ironlace.marks.reading.read_marks import DigitRead, MarksRead, read_marks
from ironlace.marks.reading.relief_slopes import ReliefSlopes
from ironlace.marks.reading.strings import strings_in_play
from ironlace.workshop.marks.reading_files import (
    USUAL_DIGIT_MM,
    learned,
    marks_as_json,
    picture_size_and_grey,
    read_photograph,
    read_reader,
    read_relief,
    read_shapes,
)

_LEFT_OUT = 0.02
"""A glyph less probable than this is left out of the mark's doubts (its string may still show)."""
_MANY = 5
"""Glyphs that may stand in one place; where more may, it is unread."""
_SURE = 0.98
"""A dot more probable than this, or less than the rest, is no doubt of the mark."""
_TOLD = 12
"""Strings told beside a report; the file of the reading holds them all."""
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


@dataclass(frozen=True, slots=True)
class Found:
    """A reading, and from what it was made."""

    read: MarksRead
    source: str
    scale_known: bool
    searched: bool

    def as_dict(self) -> dict[str, Any]:
        """As its file holds it."""
        return marks_as_json(self.read, source=self.source, scale_known=self.scale_known)

    def sentences(self) -> list[str]:
        """What was found, in a few lines."""
        plate = self.read.plate
        said = []
        for row in self.read.strings:
            best = row.hypotheses[0]
            alike = strings_in_play(
                [d.p for d in self.read.digits if d.place.row == row.row],
                [g.p_struck for g in self.read.gaps if g.place.row == row.row],
            )
            said.append(
                f"Row {row.row}: {best.text}, {best.p:.1%}; in doubt as among {alike:,.0f} equally "
                f"likely strings; {len(row.hypotheses)} told hold {1 - row.rest_p:.0%}."
            )
        unsure = sum(0.05 < g.p_struck < 0.9 for g in self.read.gaps)
        if self.read.gaps:
            said.append(
                f"{len(self.read.gaps)} gaps: {unsure} cannot be told for sure from pits; base "
                f"rate {plate.base_rate:.2f}{'' if plate.base_rate_given else ' (by the plate)'}."
            )
        said.append(
            f"Worn {plate.wear.value:.0%} ({plate.wear.low:.0%} to {plate.wear.high:.0%}), about "
            f"{plate.pits_per_mm2:.1f} pits a square millimetre; inferred from {self.source}."
        )
        if plate.outside_tuning > 0:
            said.append(
                "The plate looks unlike those the judges were tuned on (by "
                f"{plate.outside_tuning:.2f} of their range): chances are drawn to the middle."
            )
        if not self.scale_known:
            said.append(f"No scale: digits were taken to be {USUAL_DIGIT_MM} mm high.")
        if self.searched:
            said.append("Places were searched: look whether each digit and gap has one.")
        return said

    def report_csv(self) -> str:
        """Reports for the survey: each row's mark with its doubts, and its strings with chances.

        No string is chosen: every glyph that may stand there is among the mark's choices, and a
        dot that may be a pit stands in brackets.
        """
        out = io.StringIO()
        table = csv.writer(out, lineterminator="\n")
        table.writerow(["id", "mark", "seen", "note", "strings", "rest_p"])
        for row in self.read.strings:
            digits = sorted(
                (d for d in self.read.digits if d.place.row == row.row),
                key=lambda d: d.place.index,
            )
            dots = {g.place.index: g.p_struck for g in self.read.gaps if g.place.row == row.row}
            mark = "".join(_glyph(d) + _dot(dots.get(d.place.index, 0.0)) for d in digits)
            told = row.hypotheses[:_TOLD]
            strings = "; ".join(f"{h.text} {h.p:.4f}" for h in told)
            rest = 1.0 - sum(h.p for h in told)
            note = f"Read by the program from {self.source} (inferred)"
            table.writerow(
                [f"row {row.row}", mark, "photograph", note, strings, f"{max(rest, 0.0):.4f}"]
            )
        return out.getvalue()


def _glyph(digit: DigitRead) -> str:
    may = [g for g, p in sorted(digit.p.items(), key=lambda one: -one[1]) if p > _LEFT_OUT]
    if len(may) == 1:
        return may[0]
    return "?" if not may or len(may) > _MANY else f"[{''.join(may)}]"


def _dot(p: float) -> str:
    if p < 1 - _SURE:
        return ""
    return DOT if p > _SURE else f"({DOT})"


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
