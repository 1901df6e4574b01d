"""How deep a dot is: bowls of many widths and bottoms laid over its slopes, weighed together.

The judge of dots looks with bowls of eight widths (`dot_features`), and where two of them fit
nearly alike the wider is a third deeper. Depth is therefore the mean over finer steps, each as
probable as it makes what is seen.
"""

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.marks.reading.relief_slopes import ReliefSlopes, seen_along

_STEP_MM = 0.02
"""Grid on which depths are fitted: a pixel of a usual plate."""
_HALF = 20
"""Steps from a bowl's middle to the edge of its patch: 0.4 mm."""
_SHIFT = 4
"""Steps by which the middle may move from where the judge's bowl lies."""
_WIDTHS_MM = np.geomspace(0.10, 0.50, 27)
"""Six per cent from each to the next."""
_BOTTOMS = (1.5, 1.75, 2.05, 2.4, 2.8, 3.3, 4.0)
"""Powers of the profiles: from nearly a cone to nearly flat."""
_SEEN_PX = 0.8
"""What a relief of photographs softens by, Gaussian, pixels of the picture."""
_WORN_MM = (0.0, 0.025, 0.04)
"""What wear has rounded a dot by, Gaussian."""
_INDEPENDENT = 0.06
"""Share of the grid's slopes that are independent (of 0.03, 0.06 and 0.12 on tuning plates: depths
hardly differ)."""
_WINDOW = (0.75, 0.06, 0.02)
"""What counts reaches so many widths and so many mm from the middle, and ends within so many."""

_Planes = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class DotDepth:
    """Depth and width of what lies at a place, mm, by the relief as it is."""

    deep_mm: float
    width_mm: float


@lru_cache(maxsize=4)
def _bowls(
    along: tuple[float, float] | None, soft_mm: float
) -> tuple[_Planes, NDArray[np.float64]]:
    """Slopes of bowls one deep, shape (567, 2 * 41 * 41), and their widths."""
    ys, xs = np.mgrid[-_HALF : _HALF + 1, -_HALF : _HALF + 1] * _STEP_MM
    r = np.hypot(xs, ys)
    slopes, widths = [], []
    for width in _WIDTHS_MM:
        for power in _BOTTOMS:
            struck = np.clip(1 - (2 * r / width) ** power, 0, None).astype(np.float32)
            for worn in _WORN_MM:
                left = cv2.GaussianBlur(struck, (0, 0), worn / _STEP_MM) if worn else struck
                seen = cv2.GaussianBlur(left / left.max(), (0, 0), soft_mm / _STEP_MM)
                down, right = np.gradient(-seen, _STEP_MM)
                slopes.append(seen_along(np.stack([right, down]), along).ravel())
                widths.append(width)
    return np.array(slopes, np.float32), np.array(widths)


def dot_depth(relief: ReliefSlopes, x_px: float, y_px: float, width_mm: float) -> DotDepth | None:
    """How deep and wide a round dot is.

    Parameters
    ----------
    x_px, y_px
        Its middle, good to 0.06 mm.
    width_mm
        Its width roughly: slopes farther out than it reaches do not count.

    None where no slope is known. Method: least squares for each bowl at each shift, averaged in
    logarithms by likelihood, the noise's size not known (Hoeting and others, 1999).
    """
    bowls, widths = _bowls(relief.along, max(0.02, round(_SEEN_PX * relief.mm_per_px, 3)))
    side = 2 * (_HALF + _SHIFT) + 1
    patch = relief.patch(x_px, y_px, _STEP_MM / relief.mm_per_px, (side, side))
    mid = np.arange(side) - side // 2
    far = np.hypot(*np.meshgrid(mid, mid)) * _STEP_MM
    reach = _WINDOW[0] * width_mm + _WINDOW[1]
    window = (1 / (1 + np.exp((far - reach) / _WINDOW[2]))).astype(np.float32)
    energy = float((patch**2 * window).sum())
    if energy <= 0:
        return None
    laid = bowls @ _shifted(patch * window)
    power = bowls**2 @ _shifted(np.stack([window, window]))
    told = np.clip(laid, 0, None) ** 2 / power / energy
    # the window's slopes less what each bowl tells of them: noise of unknown size
    logs = -_INDEPENDENT * float(window.sum()) * np.log1p(-np.minimum(told, 0.999))
    weight = np.exp(logs - logs.max())
    weight /= weight.sum()
    deep = float((weight * np.log(np.maximum(laid / power, 1e-5))).sum())
    wide = float(weight.sum(axis=1) @ np.log(widths))
    return DotDepth(float(np.exp(deep)), float(np.exp(wide)))


def _shifted(planes: _Planes) -> _Planes:
    """A patch as bowls moved to every side see it, shape (2 * 41 * 41, shifts)."""
    side = 2 * _HALF + 1
    cut = [
        planes[:, i : i + side, j : j + side].ravel()
        for i in range(2 * _SHIFT + 1)
        for j in range(2 * _SHIFT + 1)
        if (i - _SHIFT) ** 2 + (j - _SHIFT) ** 2 <= _SHIFT**2
    ]
    return np.stack(cut, axis=1)
