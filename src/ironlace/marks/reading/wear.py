"""How deep a digit still is, and so how worn the plate."""

from collections.abc import Mapping

import cv2
import numpy as np

from ironlace.evidence.intervals import NINETY
from ironlace.marks.reading.numeral_styles import TALL
from ironlace.marks.reading.relief_slopes import ReliefSlopes
from ironlace.marks.reading.strikes import Slopes

_END = 0.03
"""Wear this near to none or all counts as that."""


def height_of(slopes: Slopes, step: float) -> np.ndarray:
    """Height of a patch from its slopes, least squares with free edges, mean 0, in `step`'s unit.

    Frankot and Chellappa (1988), mirrored so that the edges are free.
    """
    x, y = slopes
    gx = np.block([[x, -x[:, ::-1]], [x[::-1], -x[::-1, ::-1]]])
    gy = np.block([[y, y[:, ::-1]], [-y[::-1], -y[::-1, ::-1]]])
    u = 2j * np.pi * np.fft.fftfreq(gx.shape[1])[None, :]
    v = 2j * np.pi * np.fft.fftfreq(gx.shape[0])[:, None]
    size = np.abs(u) ** 2 + np.abs(v) ** 2
    size[0, 0] = 1.0
    spectrum = (np.conj(u) * np.fft.fft2(gx) + np.conj(v) * np.fft.fft2(gy)) / size
    spectrum[0, 0] = 0.0
    return np.asarray(np.fft.ifft2(spectrum).real[: x.shape[0], : x.shape[1]] * step)


def depth_of_place(relief: ReliefSlopes, x_px: float, y_px: float, height_px: float) -> float:
    """Depth of what is struck at a digit's place, mm: the ground's height less the strokes'.

    The strokes are the deepest eighth within the figure, the ground the upper half about it.
    """
    step = height_px / TALL * relief.mm_per_px
    height = height_of(relief.place(x_px, y_px, height_px), step)
    height = height - cv2.GaussianBlur(height, (0, 0), 12)
    inner = height[6:-6, 8:-8]
    low = float(np.mean(inner[inner <= np.quantile(inner, 0.12)]))
    return max(float(np.median(height[height >= np.median(height)])) - low, 0.0)


def wear_of(
    digit_mm: float, grain: float, fit: float, settings: Mapping[str, float]
) -> tuple[float, float, float]:
    """Wear of a plate by its digits: value, and the 90 % interval, each 0 to 1.

    How deep they were struck is not known; depth, and how far they stand out of the grain, tell
    the share that is gone only roughly. The three weights were fitted on tuning plates.
    """
    deep = np.log(max(digit_mm, 1e-4) / 0.05)
    stands = np.log(max(digit_mm, 1e-4) / max(grain, 1e-4))
    logit = (
        settings["wear_start"]
        + settings["wear_deep"] * deep
        + settings["wear_stands"] * stands
        + settings["wear_fit"] * fit
    )
    spread = settings["wear_spread"]

    def share(x: float) -> float:
        return float(1 / (1 + np.exp(-x)))

    low, high = share(logit - NINETY * spread), share(logit + NINETY * spread)
    # a logistic never reaches the ends, and a fresh plate is one of them
    return share(logit), max(low - _END, 0.0), min(high + _END, 1.0)
