"""Whether photographs show one plate: where its fine detail lies, whatever way it is lit.

Pits, strokes and scratches change their shading with the torch, not their places. So the strength
of each photograph's fine detail is compared with every other's: photographs of one plate agree
(0.4 to 0.95 on made ones), those of two plates, or one turned or mirrored among the rest, do not
(below 0.45, and far below what the rest reach). Photographs are of one plate when a chain of
agreement leads from one to the other.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.two_hands import two_hands
from ironlace.marks.capture.frames import Grey
from ironlace.marks.capture.outlines import Circle
from ironlace.marks.capture.registering import Move

_LONG = 700
"""Pixels of the longer side of the small pictures that are compared."""
_ALIKE = 0.62
"""Share of the usual agreement from which two photographs belong together; on made plates the
nearest fellow reached 0.83 of it at least, the nearest stranger 0.48 at most."""
_DETAIL = 0.5
"""Agreement that is usual at least where the metal has detail to be known by: worn iron with its
pits reaches 0.8, an even matt plate under balls 0.45, of which shadows are the most."""
_SAME = 0.985
"""Agreement from which two photographs were taken under one torch: a copy, saved anew."""
_BROAD = 0.015
"""Root mean square of the broad light's logarithm within which two were lit alike: another torch
changes it by a tenth and more, saving anew by thousandths."""
_ROUND_BALLS = 1.35
"""Radii of a ball that are left out: it and the foot of its shadow."""


@dataclass(frozen=True)
class Agreement:
    """Correlations, photographs x photographs: of where detail lies, and of how it is lit.

    The latter is -1 where the broad light differs.
    """

    detail: NDArray[np.float64]
    lit: NDArray[np.float64]


def agreement_of(
    pictures: Sequence[Grey], moves: Sequence[Move], balls: Sequence[Circle]
) -> Agreement:
    """How far photographs agree in the places of their fine detail, and in its light."""
    shrink = max(max(pictures[0].shape) / _LONG, 1.0)
    rows, columns = (round(one / shrink) for one in pictures[0].shape)
    planes = np.empty((3, len(pictures), rows, columns), np.float32)

    def fill(n: int) -> None:
        planes[:, n] = _detail(pictures[n], moves[n])

    with two_hands() as pool:
        for _ in pool.map(fill, range(len(pictures))):
            pass
    v, u = np.ogrid[:rows, :columns]
    free = np.ones((rows, columns), bool)
    for ball in balls:
        far = _ROUND_BALLS * ball.r / shrink
        free &= (u - ball.x / shrink) ** 2 + (v - ball.y / shrink) ** 2 > far**2
    where = np.flatnonzero(free) if free.any() else np.arange(free.size)
    flat = planes.reshape(3, len(pictures), -1)
    detail, lit = (_correlations(np.take(one, where, axis=1)) for one in flat[:2])
    broad = np.take(flat[2], where, axis=1)
    # pair by pair: all differences at once would take more memory than the photographs
    off = np.zeros((len(broad), len(broad)))
    for n, k in combinations(range(len(broad)), 2):
        off[n, k] = off[k, n] = cv2.norm(broad[n], broad[k]) / np.sqrt(len(where))
    # stains look alike under any torch: of one light are only those as bright, and brightest alike
    return Agreement(
        detail.astype(np.float64), np.where(off < _BROAD, lit, -1.0).astype(np.float64)
    )


def _correlations(told: NDArray[np.float32]) -> NDArray[np.float32]:
    """Of each photograph with each; photographs x places, overwritten."""
    told -= told.mean(axis=1, keepdims=True)
    told /= np.maximum(np.linalg.norm(told, axis=1, keepdims=True), 1e-6)
    return told @ told.T


def _detail(picture: Grey, move: Move) -> NDArray[np.float32]:
    """Strength of fine detail, its light, and the broad light's logarithm; on the first's grid."""
    rows, columns = picture.shape
    shrink = max(max(rows, columns) / _LONG, 1.0)
    size = (round(columns / shrink), round(rows / shrink))
    small = cv2.resize(_halved(picture, shrink), size, interpolation=cv2.INTER_AREA)
    small = small.astype(np.float32)
    if not move.is_none:
        matrix = move.matrix((rows, columns)).copy()
        matrix[:, 2] /= shrink
        small = np.asarray(
            cv2.warpAffine(
                small,
                matrix,
                size,
                flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
                borderMode=cv2.BORDER_REPLICATE,
            ),
            dtype=np.float32,
        )
    # noise is no detail: a photograph that needed no straightening would keep more of it
    small = np.asarray(cv2.GaussianBlur(small, (0, 0), 1.0), dtype=np.float32)
    level = small / (cv2.GaussianBlur(small, (0, 0), 6.0) + 4.0)
    fine = np.abs(level - cv2.GaussianBlur(level, (0, 0), 2.0))
    strength = cv2.GaussianBlur(np.minimum(fine, 0.2), (0, 0), 1.5)
    strength = strength / (cv2.GaussianBlur(strength, (0, 0), 25.0) + 1e-4)
    lit = cv2.GaussianBlur(level, (0, 0), 1.5) - cv2.GaussianBlur(level, (0, 0), 8.0)
    broad = np.log(cv2.GaussianBlur(small, (0, 0), 4.0) + 4.0)
    return np.asarray([strength, lit, broad], np.float32)


def _halved(picture: Grey, shrink: float) -> Grey:
    """Made half as large where it will be shrunk by more than twice that: a quick way to begin."""
    if shrink < 4:
        return picture
    rows, columns = picture.shape
    half = columns // 2, rows // 2
    even = picture[: 2 * half[1], : 2 * half[0]]
    return cv2.resize(even, half, interpolation=cv2.INTER_AREA)  # type: ignore[return-value]


def plates_in(detail: NDArray[np.float64]) -> list[list[int]]:
    """Numbers of the photographs of each plate, the most photographed first.

    All are of one where the metal has too little detail to be known by.

    >>> alike = np.full((5, 5), 0.8); alike[4, :4] = alike[:4, 4] = 0.3
    >>> plates_in(alike)
    [[0, 1, 2, 3], [4]]
    """
    count = len(detail)
    others = detail - 2 * np.eye(count)
    usual = float(np.median(others.max(axis=1))) if count > 1 else 0.0
    if usual < _DETAIL:
        return [list(range(count))]
    near = others > _ALIKE * usual
    left, plates = set(range(count)), []
    while left:
        plate, edge = set(), {min(left)}
        while edge:
            plate |= edge
            edge = {int(k) for n in edge for k in np.flatnonzero(near[n])} - plate
        left -= plate
        plates.append(sorted(plate))
    return sorted(plates, key=lambda plate: (-len(plate), plate))


def copies_in(lit: NDArray[np.float64]) -> dict[int, int]:
    """Photographs that repeat an earlier one, and which: nothing between them but the saving."""
    found: dict[int, int] = {}
    for n in range(len(lit)):
        for k in range(n):
            if lit[n, k] > _SAME and k not in found:
                found[n] = k
                break
    return found


def names_in_words(names: Sequence[str]) -> str:
    """Names told in a sentence, the first six of many.

    >>> names_in_words(["a", "b"]), names_in_words(list("abcdefgh"))
    ('a, b', 'a, b, c, d, e, f and 2 more')
    """
    shown = ", ".join(names[:6])
    return shown if len(names) <= 6 else f"{shown} and {len(names) - 6} more"
