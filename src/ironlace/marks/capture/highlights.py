"""Where on a polished ball a torch is mirrored, by the form of its highlight.

The mean of a highlight's light hangs on its faint foot, where JPEG, sharpening and what else the
ball mirrors are as strong. Its flanks tell more. A torch is round, so its highlight is round on the
sphere of the ball's normals, whatever its profile; a Gaussian over a sloping ground, blurred by the
camera and cut off where the camera is white, is fitted to it. Steps of Gauss and Newton as damped
by Marquardt (1963), what departs from the form weighed down (Huber's weights, smoothed; Charbonnier
and others, 1997).
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

F64 = NDArray[np.float64]

USUAL_BLUR_PX = 0.65
"""Blur of a sharp photograph, standard width; 0.5 or 0.8 change the result by a hundredth px."""
MARGIN_PX = 3
"""Pixels round the highlight that tell the ground."""
NOISE = 0.03
"""Light by which a pixel may depart from the form: JPEG's ringing about a white spot. With 0.1
torches' distances came out the same."""
STEPS = 15
"""At most; eight are usual."""
DONE = 1e-5
"""Of the normal, under which a step is the last: a thousandth of a pixel."""
STRAYED = 0.5
"""Widths of the highlight by which the fitted middle may lie off the mean of its light; farther,
something else shines beside it."""
_WHITE = 1.0
"""Light at which a photograph is white."""


def middle_of_highlight(
    light: NDArray[np.float32],
    spot: NDArray[np.bool_],
    xy: tuple[F64, F64],
    start: F64,
    blur_px: float = USUAL_BLUR_PX,
) -> F64 | None:
    """The ball's normal where it mirrors the torch; None where the highlight has no such form.

    Parameters
    ----------
    light
        Linear light of a window of the ball, rows x columns.
    spot
        The pixels of the highlight.
    xy
        X of each column and Y of each row on the ball, in radii, Y up.
    start
        The normal there, roughly.
    """
    rows, columns = np.nonzero(spot)
    # as tall and as wide as the highlight, and a margin
    part = tuple(
        slice(max(int(one.min()) - MARGIN_PX, 0), int(one.max()) + MARGIN_PX + 1)
        for one in (rows, columns)
    )
    x, y = np.meshgrid(xy[0][part[1]], xy[1][part[0]])
    flat = x * x + y * y
    ball = flat < 0.97**2
    z = np.sqrt(np.maximum(1 - flat, 0))
    step = abs(float(xy[0][1] - xy[0][0]))
    # a circle of the normals' sphere is seen as an ellipse, narrower by the cosine of its lean
    wide = step * float(np.sqrt(len(rows) / np.pi / max(start[2], 0.1)))
    form = _Form(light[part].astype(np.float64), ball, np.stack([x, y, z]), blur_px)
    found = form.fitted(np.asarray(start, float), wide)
    if found is None or np.linalg.norm(found - start) > max(STRAYED * wide, step):
        return None
    return found


class _Form:
    """A highlight's window; parameters: X, Y, logarithms of peak and width, ground and slopes."""

    def __init__(self, light: F64, ball: NDArray[np.bool_], normal: F64, blur_px: float) -> None:
        self.light, self.ball, self.normal, self.blur_px = light, ball, normal, blur_px

    def fitted(self, start: F64, wide: float) -> F64 | None:
        light = self.light[self.ball]
        if len(light) < 4 * 7:
            return None
        ground = float(np.median(light))
        peak = max(float(light.max()) - ground, 1e-3)
        clipped = 3.0 if light.max() > 0.97 * _WHITE else 1.0
        now = np.array([*start[:2], np.log(peak * clipped), np.log(wide / 2), ground, 0.0, 0.0])
        off, slopes, cost = self._seen(now)
        damping = 1e-3
        for _ in range(STEPS):
            weight = 1 / np.sqrt(1 + (off / NOISE) ** 2)
            bent = slopes * weight
            square = bent @ slopes.T
            square[range(7), range(7)] *= 1 + damping
            square[range(7), range(7)] += 1e-9
            after = now - np.linalg.solve(square, bent @ off)
            if after[0] ** 2 + after[1] ** 2 > 0.97**2 or abs(after[3] - now[3]) > 2:
                damping *= 10
                continue
            new_off, new_slopes, new_cost = self._seen(after)
            if new_cost > cost:
                damping *= 10
                continue
            moved = float(np.abs(after[:2] - now[:2]).max())
            now, off, slopes, cost = after, new_off, new_slopes, new_cost
            damping /= 10
            if moved < DONE:
                break
        return np.array([now[0], now[1], np.sqrt(1 - now[0] ** 2 - now[1] ** 2)])

    def _seen(self, at: F64) -> tuple[F64, F64, float]:
        """What is told less what is seen, how it answers to the parameters, and its cost."""
        x, y, z = self.normal
        up = np.sqrt(max(1 - at[0] ** 2 - at[1] ** 2, 1e-9))
        away = 2 - 2 * (at[0] * x + at[1] * y + up * z)  # square of the chord to the middle
        width = np.exp(2 * at[3])
        shine = np.exp(np.clip(at[2] - away / (2 * width), -60, 20))
        parts = np.dstack([
            shine,
            shine * (x - z * at[0] / up) / width,
            shine * (y - z * at[1] / up) / width,
            shine * away / width,
        ])  # fmt: skip
        parts = cv2.GaussianBlur(parts, (0, 0), self.blur_px)
        aside = x - at[0], y - at[1]
        told = parts[..., 0] + at[4] + at[5] * aside[0] + at[6] * aside[1]
        free = (told < _WHITE)[self.ball]
        off = np.minimum(told, _WHITE)[self.ball] - self.light[self.ball]
        even = np.ones_like(x)
        answers = (
            parts[..., 1] - at[5], parts[..., 2] - at[6], parts[..., 0], parts[..., 3], even, *aside
        )  # fmt: skip
        slopes = np.stack([one[self.ball] for one in answers]) * free
        cost = float((np.sqrt(1 + (off / NOISE) ** 2) - 1).sum())
        return off, slopes, cost
