"""Several photographs of one surface joined into one flat picture.

Each place is taken from where it is seen best: squarely, finely, without glare, in focus. Before
that, exposure is matched over what two photographs both show. What varies slowly is blended over
centimetres and what varies fast over millimetres, so that no seam shows and no line is doubled
(two bands of the pyramid of Burt and Adelson 1983).
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.photographs.errors import PhotographsError
from ironlace.photographs.flat_picture import UNSEEN_FRAME, Flat, spread_grid

F32 = NDArray[np.float32]

SLOW_MM: Final = 3.0
"""Scale that parts what is blended widely from what is blended narrowly."""
FEATHER_MM: Final = 4.0
"""A photograph's say fades over this much towards its edge."""
_FAST_POWER: Final = 12
"""How sharply fine detail is taken from the photograph that sees a place best. Tuned on a rendered
flat joined with a blurred copy of itself: powers 3, 6, 12 and 24 left 466, 135, 11 and 5 of 65535
from the truth; a higher one begins to show where one photograph ends and the next begins."""
_SLOW_POWER: Final = 3
"""The same for what varies slowly: softer, so that brightness passes gently from one photograph to
the next. On the same flat powers 1, 3, 6 and 12 left 14, 11, 9 and 9."""
_GAINS: Final = (0.25, 4.0)
"""Two photographs of one place differ at most by this in brightness (two stops either way); beyond
that they do not show the same thing. A judgement."""


def joined(flats: Iterable[Flat]) -> Flat:
    """One flat of several that lie on the same grid.

    Flats are taken in one at a time, so they may come from a generator that lets each go.

    Raises
    ------
    PhotographsError
        If there is none, or they lie on different grids.
    """
    made: _Joining | None = None
    for flat in flats:
        if made is None:
            made = _Joining(flat)
        made.add(flat)
    if made is None:
        raise PhotographsError("No flattened photograph was given; at least one is needed.")
    return made.flat()


class _Joining:
    def __init__(self, first: Flat) -> None:
        self.first = first
        h, w = first.shape
        # what varies slowly is kept on a grid so many pixels apart
        self.step = max(1.0, SLOW_MM * first.px_per_mm / 4.0)
        self.size = (max(4, round(w / self.step)), max(4, round(h / self.step)))
        self.fast = np.zeros((h, w, 3), np.float32)
        self.fast_weight = np.zeros((h, w), np.float32)
        self.slow: F32 | None = None
        self.slow_weight: F32 | None = None
        self.hidden = np.full((h, w), 255, np.uint8)
        self.resolution = np.zeros_like(first.resolution)
        self.facing = np.zeros_like(first.facing)
        self.white = np.zeros_like(first.white)
        self.count = 0

    def add(self, flat: Flat) -> None:
        first = self.first
        same = flat.shape == first.shape and flat.px_per_mm == first.px_per_mm
        if not same or flat.origin_mm != first.origin_mm:
            raise PhotographsError(
                "The photographs were flattened on different grids; flatten all with the same "
                "px_per_mm and bounds_mm."
            )
        light = flat.light.astype(np.float32)
        small = self._small(light)
        say = self._say(flat)
        gain = self._gain(small, say)
        light *= gain
        small *= gain
        slow_say = say**_SLOW_POWER
        if self.slow is None or self.slow_weight is None:
            self.slow = small * slow_say[..., None]
            self.slow_weight = slow_say
        else:
            self.slow += small * slow_say[..., None]
            self.slow_weight += slow_say
        h, w = flat.shape
        light -= _spread(small, (w, h))
        fast_say = _spread(say, (w, h)) ** _FAST_POWER
        fast_say *= flat.hidden == 0
        self.fast += light * fast_say[..., None]
        self.fast_weight += fast_say
        self.hidden &= flat.hidden
        better = flat.resolution > self.resolution
        self.resolution = np.maximum(flat.resolution, self.resolution)
        self.facing = np.where(better, flat.facing, self.facing)
        self.white = np.where(better[..., None], flat.white * gain, self.white)
        self.count += 1

    def _small(self, light: F32) -> F32:
        small = cv2.resize(light, self.size, interpolation=cv2.INTER_AREA)
        return np.asarray(cv2.GaussianBlur(small, (0, 0), 2.0), np.float32)

    def _say(self, flat: Flat) -> F32:
        """How well each place is seen, 0..1, on the small grid."""
        size = self.size
        grid = (flat.shape, size[1], size[0])
        squarely = np.clip(spread_grid(flat.facing, *grid), 0.0, 1.0)
        finely = spread_grid(flat.resolution, *grid)
        finely = finely / max(float(flat.px_per_mm), 1e-6)
        seen = (cv2.resize(flat.hidden, size, interpolation=cv2.INTER_NEAREST) == 0).astype(
            np.uint8
        )
        inside = cv2.distanceTransform(np.pad(seen, 1), cv2.DIST_L2, 5)[1:-1, 1:-1]
        fade = np.clip(inside * self.step / flat.px_per_mm / FEATHER_MM, 0.0, 1.0)
        quality = np.clip(squarely * np.minimum(finely, 2.0), 0.0, 2.0) / 2.0
        grey = np.ascontiguousarray(flat.light[:, :, 1])
        sharp = self._sharpness(grey, size)
        return np.asarray(quality * (0.2 + 0.8 * sharp) * fade, np.float32)

    def _sharpness(self, grey: NDArray[Any], size: tuple[int, int]) -> F32:
        """Fine detail against coarse, 0..1: what is out of focus has little."""
        fine = cv2.absdiff(grey, cv2.blur(grey, (3, 3)))
        wide = cv2.absdiff(grey, cv2.blur(grey, (9, 9)))
        little = cv2.resize(fine, size, interpolation=cv2.INTER_AREA).astype(np.float32)
        much = cv2.resize(wide, size, interpolation=cv2.INTER_AREA).astype(np.float32)
        ratio = cv2.GaussianBlur(little, (0, 0), 3) / (cv2.GaussianBlur(much, (0, 0), 3) + 30.0)
        return np.asarray(np.clip(ratio, 0.0, 1.0), np.float32)

    def _gain(self, small: F32, say: F32) -> F32:
        """By what each channel must be multiplied to match what is joined already."""
        if self.slow is None or self.slow_weight is None:
            return np.ones(3, np.float32)
        so_far = self.slow / np.maximum(self.slow_weight, 1e-30)[..., None]
        both = (say > 0.05) & (self.slow_weight > 0.05**_SLOW_POWER)
        both &= (small.min(axis=2) > 60) & (so_far.min(axis=2) > 60)
        if int(both.sum()) < 20:
            return np.ones(3, np.float32)
        ratio = np.log(so_far[both] / small[both])
        return np.asarray(np.clip(np.exp(np.median(ratio, axis=0)), *_GAINS), np.float32)

    def flat(self) -> Flat:
        first = self.first
        if self.count == 1:
            return first
        assert self.slow is not None
        assert self.slow_weight is not None
        h, w = first.shape
        slow = self.slow / np.maximum(self.slow_weight, np.float32(1e-30))[..., None]
        light = _spread(np.asarray(slow, np.float32), (w, h))
        self.fast /= np.maximum(self.fast_weight, 1e-30)[..., None]
        light += self.fast
        light[(self.hidden & UNSEEN_FRAME) > 0] = 0.0
        return Flat(
            light=np.clip(light, 0, 65535).astype(np.uint16),
            px_per_mm=first.px_per_mm,
            origin_mm=first.origin_mm,
            hidden=self.hidden,
            resolution=self.resolution,
            facing=self.facing,
            white=self.white,
        )


def _spread(small: F32, size: tuple[int, int]) -> F32:
    return np.asarray(cv2.resize(small, size, interpolation=cv2.INTER_LINEAR), np.float32)
