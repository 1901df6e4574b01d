"""Files that a reading of marks takes and gives: relief, shapes, readers' tables, what was read."""

import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.marks.errors import MarksError
from ironlace.marks.reading.agreement import Place as AgreedPlace
from ironlace.marks.reading.known_shapes import shapes_from_pictures
from ironlace.marks.reading.learned import Learned
from ironlace.marks.reading.places import rows_by_heading
from ironlace.marks.reading.read_marks import Interval
from ironlace.marks.reading.reading_told import USUAL_DIGIT_MM
from ironlace.marks.reading.relief_slopes import (
    ReliefSlopes,
    slopes_from_normals,
    slopes_from_photograph,
)
from ironlace.marks.reading.strikes import Ink
from ironlace.ornament.files.svg_shapes import Shape, read_svg
from ironlace.photographs.linear_light import to_linear

LEARNED = Path(__file__).with_name("learned_marks.npz")
"""What the judges learned from made plates; written by `bench/marks_learning.py`."""
_SVG_PX = 400
"""Pixels of a shape drawn from SVG, along its longer side."""
_READER_COLUMNS = ("mark", "row", "index", "glyph")


@dataclass(frozen=True, slots=True)
class ReliefFiles:
    """A relief as it was written: its slopes, and how far its scale and steepness are known.

    `doubt` is the worst that was said of it, where it is to be doubted; else empty.
    """

    slopes: ReliefSlopes
    scale_known: bool
    slope_gain: Interval | None
    doubt: str = ""


@cache
def learned() -> Learned:
    """What the judges learned."""
    with np.load(LEARNED) as held:
        figures = tuple(held[f"figures_{k}"].astype(np.float64) for k in range(4))
        dots = tuple(held[f"dots_{k}"].astype(np.float64) for k in range(6))
        settings = json.loads(str(held["settings"]))
        low, high = held["plate_low"].astype(np.float64), held["plate_high"].astype(np.float64)
    return Learned(figures, dots, settings, low, high)


def read_relief(folder: Path, digit_px: float | None = None) -> ReliefFiles:
    """Read the relief in a folder: `normals.npy` and `relief.json`.

    Parameters
    ----------
    digit_px
        Height of a digit in the picture, to take a scale from where the relief has none.

    Raises IronlaceError when a file is missing or cannot be read.
    """
    normals_file, told_file = folder / "normals.npy", folder / "relief.json"
    if not folder.is_dir() or not normals_file.is_file():
        raise NotFoundError(
            f"There is no relief in {folder} (no normals.npy): make one with marks relief first."
        )
    try:
        normals = np.load(normals_file, allow_pickle=False)
        told = json.loads(told_file.read_text(encoding="utf-8")) if told_file.is_file() else {}
    except (OSError, ValueError, EOFError) as error:
        raise IronlaceError(
            f"The relief in {folder} cannot be read: make it anew with marks relief."
        ) from error
    if not isinstance(told, dict) or normals.ndim != 3 or normals.shape[2] != 3:
        raise IronlaceError(
            f"{normals_file} is no field of normals (rows x columns x 3): make it anew with "
            "marks relief."
        )
    scale = told.get("mm_per_px")
    known = bool(told.get("scale_known", scale is not None)) and bool(scale)
    if not known:
        scale = USUAL_DIGIT_MM / digit_px if digit_px else None
    if not scale:
        raise MarksError(
            f"The relief in {folder} has no scale: give --mm-per-px when it is made, or the places "
            "with the height of a digit in pixels."
        )
    gain = told.get("slope_gain") or {}
    interval = (
        Interval(float(gain["value"]), float(gain["low"]), float(gain["high"]))
        if isinstance(gain, dict) and all(gain.get(k) for k in ("value", "low", "high"))
        else None
    )
    slopes = slopes_from_normals(np.asarray(normals, dtype=np.float32), float(scale))
    notices = told.get("notices") or []
    doubt = str(notices[0]) if told.get("doubted") and isinstance(notices, list) and notices else ""
    return ReliefFiles(slopes, known, interval, doubt)


def read_photograph(
    file: Path, azimuth_deg: float, elevation_deg: float, mm_per_px: float
) -> ReliefSlopes:
    """Slopes towards the light from one photograph.

    Raises IronlaceError when there is no such picture.
    """
    grey = picture_size_and_grey(file)
    return slopes_from_photograph(to_linear(grey), azimuth_deg, elevation_deg, mm_per_px)


def picture_size_and_grey(file: Path) -> NDArray[np.uint8]:
    """A picture in grey, shape (rows, columns).

    Raises IronlaceError when it is not there or is none.
    """
    try:
        with Image.open(file) as picture:
            return np.asarray(picture.convert("L"), dtype=np.uint8)
    except FileNotFoundError as error:
        raise NotFoundError(f"There is no picture {file}: check its name.") from error
    except (UnidentifiedImageError, OSError, Image.DecompressionBombError) as error:
        raise IronlaceError(
            f"{file} cannot be read as a picture: save it as JPEG or PNG."
        ) from error


def read_shapes(folder: Path) -> dict[str, tuple[Ink, ...]]:
    """Shapes of punches from a folder: a black-on-white PNG or SVG for each, named by its glyph.

    Raises IronlaceError when the folder is not there, holds none, or one cannot be read.
    """
    if not folder.is_dir():
        raise NotFoundError(f"There is no folder {folder} of shapes: check its name.")
    pictures: dict[str, NDArray[np.float64]] = {}
    for file in sorted(folder.iterdir()):
        if len(file.stem) != 1 or file.suffix.lower() not in (".png", ".svg"):
            continue
        if file.stem in pictures:
            raise MarksError(f"{folder} holds two shapes of '{file.stem}': keep one of them.")
        pictures[file.stem] = _svg_ink(file) if file.suffix.lower() == ".svg" else _png_ink(file)
    if not pictures:
        raise MarksError(
            f"There are no shapes in {folder}: put one black-on-white PNG or SVG for each glyph "
            "there, named by it, such as 0.png."
        )
    inked = [float(np.mean(_rim(ink) > _INKED)) for ink in pictures.values()]
    # one figure cut out close, such as a bare 1, may be inked all round; most of them are not
    if float(np.median(inked)) > _INKED:
        raise MarksError(
            f"The shapes in {folder} are white on black: save them black on white (inverted)."
        )
    return shapes_from_pictures(pictures)


_INKED = 0.5
"""Share of ink from which a pixel, or a picture's rim, is inked."""


def _rim(ink: NDArray[np.float64]) -> NDArray[np.float64]:
    """A picture's outermost pixels."""
    return np.concatenate([ink[0], ink[-1], ink[:, 0], ink[:, -1]])


def _png_ink(file: Path) -> NDArray[np.float64]:
    try:
        with Image.open(file) as picture:
            shown = picture.convert("RGBA")
            white = Image.new("RGBA", shown.size, "white")
            grey = Image.alpha_composite(white, shown).convert("L")
    except (UnidentifiedImageError, OSError, Image.DecompressionBombError) as error:
        raise IronlaceError(f"{file} cannot be read as a picture: save it as PNG.") from error
    return 1.0 - np.asarray(grey, dtype=np.float64) / 255


def _svg_ink(file: Path) -> NDArray[np.float64]:
    """An SVG's filled shapes as ink; what is filled white takes ink away again."""
    try:
        text = file.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise IronlaceError(f"{file} cannot be read as SVG: save it as such.") from error
    read = read_svg(text, MarksError)
    left, top, right, bottom = read.window_mm
    scale = _SVG_PX / max(right - left, bottom - top)
    shape = (max(1, round((bottom - top) * scale)), max(1, round((right - left) * scale)))
    paper = np.zeros(shape, np.uint8)
    for one in read.shapes:
        ink = 0 if one.fill.strip().lower() in ("white", "#fff", "#ffffff", "none") else 255
        cv2.fillPoly(paper, _outlines(one, (left, top), scale), ink, cv2.LINE_AA, 4)
    return paper.astype(np.float64) / 255


def _outlines(shape: Shape, origin: tuple[float, float], scale: float) -> list[NDArray[np.int32]]:
    t = np.linspace(0, 1, 9)[:-1, None]
    rings = []
    for ring in shape.rings:
        a, b, c, d = (ring[:, k][:, None] for k in range(4))
        on = (1 - t) ** 3 * a + 3 * (1 - t) ** 2 * t * b + 3 * (1 - t) * t**2 * c + t**3 * d
        rings.append(np.round((on.reshape(-1, 2) - origin) * scale * 16).astype(np.int32))
    return rings


def read_reader(text: str, name: str) -> dict[AgreedPlace, str]:
    """What one reader read: a table with the columns mark, row, index, glyph.

    Raises MarksError when a column is missing, a cell cannot be read, or a place stands twice.
    """
    heads, rows = rows_by_heading(text, f"table {name}")
    if missing := [c for c in _READER_COLUMNS if c not in heads]:
        raise MarksError(
            f"{name} has no column {', '.join(missing)}: a reader's table needs "
            f"{', '.join(_READER_COLUMNS)}, and a row for each place."
        )
    read: dict[AgreedPlace, str] = {}
    for line, cells in rows:
        try:
            place = (cells["mark"], int(cells["row"]), int(cells["index"]))
        except (KeyError, ValueError) as error:
            raise MarksError(
                f"{name}, line {line}: row and index must be whole numbers counted from 0."
            ) from error
        if not cells.get("glyph"):
            raise MarksError(f"{name}, line {line} has no glyph: write what was read, or '?'.")
        if place in read:
            raise MarksError(f"{name}, line {line}: the place stands there already; keep one row.")
        read[place] = cells["glyph"]
    return read
