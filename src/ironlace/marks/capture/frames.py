"""Photographs of one plate under a moved light: what is common to them, and their faults."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.two_hands import two_hands
from ironlace.marks.capture.middles import middle_picture, share_below
from ironlace.marks.errors import MarksError
from ironlace.photographs.linear_light import decode

Encoding = Literal["linear", "srgb"]
"""How the numbers of a photograph stand for light: in proportion, or by IEC 61966-2-1."""

Grey = NDArray[np.uint8] | NDArray[np.uint16]
"""One photograph, grey, rows x columns, 8 or 16 bits."""

FEWEST = 3
"""Photographs: a slope in two directions and an albedo are three unknowns."""

_FEW = 31
"""Every so many pixels are compared first: two exposures of one scene differ in their noise."""


@dataclass(frozen=True)
class Frames:
    """Photographs of one plate, all of one size; the first is the grid of all that is found.

    Attributes
    ----------
    names
        What each is called, for what is said of it.
    pictures
        Rows x columns, 8 or 16 bits, all alike.
    """

    names: tuple[str, ...]
    pictures: tuple[Grey, ...]

    def __post_init__(self) -> None:
        if len(self.names) != len(self.pictures) or len(set(self.names)) != len(self.names):
            raise MarksError("Each photograph needs a name of its own: give each file once.")
        first = self.pictures[0] if self.pictures else None
        for name, picture in zip(self.names, self.pictures, strict=True):
            if first is None or picture.ndim != 2 or picture.dtype not in (np.uint8, np.uint16):
                raise MarksError(f"{name} is not a grey picture of 8 or 16 bits: convert it.")
            if picture.shape != first.shape or picture.dtype != first.dtype:
                raise MarksError(
                    f"{name} is {_size(picture)}, {self.names[0]} is {_size(first)}: the camera "
                    "must stand still between them, and the photographs must not be cropped."
                )
        self._must_differ()

    def _must_differ(self) -> None:
        """Refuse one photograph under two names: the torch cannot have moved.

        Raises MarksError.
        """
        seen: dict[bytes, list[int]] = {}
        for n, picture in enumerate(self.pictures):
            if picture.min() == picture.max():
                continue  # white or black all over tells nothing, and is left out for that
            few = picture[::_FEW, ::_FEW].tobytes()
            for other in seen.setdefault(few, []):
                if np.array_equal(picture, self.pictures[other]):
                    raise MarksError(
                        f"{self.names[n]} is the same picture as {self.names[other]}: give each "
                        "photograph once, with the torch at another place in each."
                    )
            seen[few].append(n)

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        rows, columns = self.pictures[0].shape
        return int(rows), int(columns)

    @property
    def white(self) -> int:
        """The number of the brightest light that can be told."""
        return int(np.iinfo(self.pictures[0].dtype).max)

    def must_be_enough(self) -> None:
        """Refuse fewer photographs than there are unknowns at a place.

        Raises MarksError.
        """
        if len(self.pictures) < FEWEST:
            raise MarksError(
                f"{len(self.pictures)} photographs were given, at least {FEWEST} are needed, each "
                "with the torch at another place: 12 to 24 serve well."
            )


def _size(picture: Grey) -> str:
    return f"{picture.shape[1]} x {picture.shape[0]} pixels of {picture.dtype.itemsize * 8} bits"


def light_of_numbers(white: int, encoding: Encoding) -> NDArray[np.float32]:
    """Linear light 0..1 for each number 0..white of a photograph."""
    share = np.arange(white + 1) / white
    return (decode(share) if encoding == "srgb" else share).astype(np.float32)


def looked_up(
    table: NDArray[np.float32], picture: Grey, out: NDArray[np.float32] | None = None
) -> NDArray[np.float32]:
    """Linear light of a photograph's numbers, by the faster of two ways; filled into `out`."""
    if picture.dtype == np.uint8 and picture.size:
        return np.asarray(cv2.LUT(picture, table, dst=out), dtype=np.float32)
    return np.asarray(np.take(table, picture, out=out))


def median_picture(pictures: Sequence[Grey], most: int = 9) -> NDArray[np.float32]:
    """The middle of what a place showed over the photographs: no shadow and no highlight stays.

    Parameters
    ----------
    most
        Photographs that are used, spread over all: more would cost time and change little.
    """
    chosen = np.unique(np.linspace(0, len(pictures) - 1, min(most, len(pictures))).astype(int))
    return middle_picture([pictures[n] for n in chosen])


def saturated_share(picture: Grey, white: int) -> float:
    """Share of a photograph that is too bright to be told, 0 to 1."""
    step = max(min(picture.shape) // 1000, 1)  # a large picture is counted thinly
    thin = picture[::step, ::step]
    return float(np.count_nonzero(thin >= white - white // 128)) / thin.size


def sharpness(picture: Grey) -> float:
    """How much of a photograph's contrast lies in its finest detail, 0 to about 1.

    The standard deviation of the picture less itself blurred by one pixel, by that of the picture
    blurred by one pixel less itself blurred by four. A photograph out of focus, or shaken, has
    lost the first and kept the second, whatever the light. Noise of half a grey level is taken off.
    """
    fine, coarse = [], []
    for window in _windows(picture):
        small = window.astype(np.float32)
        once = cv2.GaussianBlur(small, (0, 0), 1.0)
        fine.append(_spread(small - once))
        coarse.append(_spread(once - cv2.GaussianBlur(small, (0, 0), 4.0)))
    lost = float(np.sqrt(max(float(np.median(fine)) ** 2 - 0.25, 0.0)))
    return lost / max(float(np.median(coarse)), 1e-3)


def _windows(picture: Grey, side: int = 320) -> list[Grey]:
    """Nine windows spread over a large picture, or all of a small one."""
    rows, columns = picture.shape
    if rows * columns <= 12 * side * side:
        return [picture]
    tops = np.linspace(0.1 * rows, 0.9 * rows - side, 3).astype(int)
    lefts = np.linspace(0.1 * columns, 0.9 * columns - side, 3).astype(int)
    return [picture[t : t + side, n : n + side] for t in tops for n in lefts]


def _spread(difference: NDArray[np.float32]) -> float:
    """Robust spread: edges of balls and cast shadows must not decide."""
    part = difference[:: max(difference.shape[0] // 400, 1), :: max(difference.shape[1] // 400, 1)]
    return share_below(np.abs(part), 0.9)


BLURRED = 0.72
"""Of the sharpness of the sharper half: below it a photograph is out of focus or shaken."""
SATURATED = 0.02
"""Share of a photograph too bright to be told, above which it is overexposed."""


def all_sharp(frames: Frames) -> list[bool]:
    """Whether each photograph is as sharp as the sharper half of them."""
    with two_hands() as pool:
        fine = np.array(list(pool.map(sharpness, frames.pictures)))
    usual = float(np.median(fine[fine >= np.median(fine)]))
    return [bool(one >= BLURRED * usual) for one in fine]


SMOOTHED, EDGE_PX = 0.45, 0.9
"""Share of places hardly differing from their neighbours above which metal was smoothed, where
the balls' outlines are blurred by less than so many pixels. Made plates, rubbed, crusted and matt,
have 0.01 to 0.03 as JPEG of quality 92 and 0.06 to 0.33 of 60 and 30; smoothed by non-local means
0.40 to 0.85, with outlines of 0.66 to 0.81; out of focus by a pixel 0.11 to 0.34, with 1.17 and
more (`bench/marks_strangers.py`; no real photographs)."""
_ALIKE = 2
"""Grey levels of 255 that a place and its neighbours differ by where they hardly do."""
_LOOKED = 5
"""Photographs of which that is asked."""


def smoothed(frames: Frames, edge_px: float) -> bool:
    """Whether a program smoothed the metal's fine detail, as by night and to take out noise.

    Parameters
    ----------
    edge_px
        Standard width of the balls' outlines. What is out of focus has lost both; smoothing keeps
        edges and takes what is faint, so that fine strokes are too shallow and look sharp.
    """
    if not 0 < edge_px < EDGE_PX:
        return False
    step = max(len(frames.pictures) // _LOOKED, 1)
    shares = [_even_share(one, frames.white) for one in frames.pictures[::step]]
    return float(np.median(shares)) > SMOOTHED


def _even_share(picture: Grey, white: int) -> float:
    """Share of middling bright places that hardly differ from their neighbours."""
    nib = np.ones((3, 3), np.uint8)
    even = middling = 0
    for window in _windows(picture):
        lit = (window > white // 9) & (window < white - white // 10)
        differ = cv2.dilate(window, nib) - cv2.erode(window, nib)
        even += int(np.count_nonzero(differ[lit] <= _ALIKE * white // 255))
        middling += int(np.count_nonzero(lit))
    return even / max(middling, 1)
