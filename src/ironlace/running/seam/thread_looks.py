"""What the thread of a seam looks like across: its width, how sharp it is, one strand or two.

What stands here says whether the picture can bear an answer: a seam that is out of focus, a stitch
that is no lockstitch, a thread that the cloth hides.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from ironlace.evidence.arrays import Floats
from ironlace.running.seam.cloth_beside import without_cloth
from ironlace.running.seam.seam_line import local_peaks

HALF_MM: Final = 2.6
"""How far to either side the seam is looked at: past the swing of a usual zigzag."""
SWING_MM: Final = 1.9
"""Beyond the swing of a usual zigzag, so far from the line, all is cloth."""
_CORE_MM: Final = 0.12
"""So near to the line all is thread, thin ones too."""
_MOST_OFF: Final = 0.95
"""The twentieth of what lies beside the line that differs most from the cloth is what comes and
goes there: a thread 0.25 mm wide that swings 1.1 mm out takes up about a fifth (a judgement)."""
_THIRD_COLOUR: Final = 8.0
"""What lies on the line is neither of two colours nor a mixture if it is so far from both (L*a*b*;
3 at most in drawn zigzags, 20 for a thread beside its shadow; between them a judgement)."""
SHARES: Final = (0.2, 0.8)
"""Between which shares of its height a flank is measured."""


@dataclass(frozen=True)
class ThreadLooks:
    """The thread across the seam.

    Attributes
    ----------
    width_mm
        Full width at half height of the thread's mean profile; NaN where it does not show.
    flank_mm
        Distance in which its edge rises from 20 to 80 %; NaN where it does not show.
    contrast
        How far its colour is from the cloth beside it, in units of L*a*b*.
    side_to_side
        What comes back with the stitches beside the line, as a share of what does on it: near 0
        for a straight seam, over 0.3 for a zigzag.
    strands
        1, or 2 where mid-stitch shows two strands with cloth between.
    width_drift
        Change of the width from one end of the seam to the other, as a share of it, with its error.
    """

    width_mm: float
    flank_mm: float
    contrast: float
    side_to_side: float
    strands: int
    width_drift: tuple[float, float]


def thread_looks(laid: NDArray[np.float32], px_per_mm: float, at_px: Floats) -> ThreadLooks:
    """Measure the thread across a laid seam.

    Parameters
    ----------
    laid
        Lab, shape (rows, places, 3), the line in the middle row, `HALF_MM` to either side.
    px_per_mm
        Its scale.
    at_px
        Places of the stitches' ends.
    """
    k = px_per_mm
    middle = laid.shape[0] // 2
    rows = (np.arange(laid.shape[0]) - middle) / k
    mid, one = _mid_stitch(at_px, laid.shape[1])
    beside = (np.abs(rows) > 0.6) & (np.abs(rows) < 1.4)
    # each stitch against the cloth beside it: stripes across the seam cancel
    stitches = np.stack([laid[:, a:b].mean(axis=1) for a, b in mid])
    cloth = np.median(stitches[:, beside], axis=1, keepdims=True)
    off = stitches - cloth
    mean = np.median(off, axis=0)
    core = mean[np.abs(rows) <= 0.08].mean(axis=0)
    contrast = float(np.linalg.norm(core))
    toward = core / max(contrast, 1e-6)
    profiles = off @ toward
    profile = np.median(_aligned(profiles, rows), axis=0)
    width, flank = _width_and_flank(profile, k)
    strands = 2 if _two_strands(mean, rows, k) else 1
    return ThreadLooks(
        width,
        flank,
        contrast,
        _side_to_side(laid, rows, k, at_px),
        strands,
        _width_drift(profiles, one, k),
    )


def _mid_stitch(at_px: Floats, count: int) -> tuple[list[tuple[int, int]], Floats]:
    """The middle half of each stitch, and where along the seam (0 to 1) it lies."""
    ranges, places = [], []
    for a, b in itertools.pairwise(at_px):
        low, high = round(a + 0.25 * (b - a)), round(b - 0.25 * (b - a))
        if high > low:
            ranges.append((low, high))
            places.append((a + b) / 2.0 / count)
    return ranges or [(0, count)], np.asarray(places or [0.5])


def _aligned(profiles: Floats, rows: Floats) -> Floats:
    """Profiles moved so that each stitch's thread lies in the middle (within 0.3 mm)."""
    near = np.abs(rows) < 0.45
    out = np.empty_like(profiles)
    for i, profile in enumerate(profiles):
        weight = np.clip(profile - 0.3 * profile[near].max(), 0.0, None) * near
        shift = float((weight * rows).sum() / max(weight.sum(), 1e-9))
        out[i] = np.interp(rows + np.clip(shift, -0.3, 0.3), rows, profile)
    return out


def _width_and_flank(profile: Floats, k: float) -> tuple[float, float]:
    middle = len(profile) // 2
    reach = round(0.9 * k)
    part = profile[middle - reach : middle + reach + 1]
    top = float(np.quantile(part[reach - round(0.1 * k) : reach + round(0.1 * k) + 1], 0.7))
    if top <= 0.5:
        return math.nan, math.nan
    share = part / top

    def crossing(level: float, side: int) -> float:
        x = reach
        while 0 < x < 2 * reach and share[x] > level:
            x += side
        if share[x] > level:
            return math.nan
        if x == reach:
            return math.nan
        a, b = share[x], share[x - side]
        return float(abs(x - side * (level - a) / max(b - a, 1e-9) - reach)) / k

    low, half, high = (
        [crossing(level, side) for side in (-1, 1)] for level in (SHARES[0], 0.5, SHARES[1])
    )
    flanks = [a - b for a, b in zip(low, high, strict=True)]
    if any(map(math.isnan, [*flanks, *half])) or min(flanks) <= 0:
        return math.nan, math.nan
    return sum(half), min(flanks)


def _two_strands(off: Floats, rows: Floats, k: float) -> bool:
    """Two strands of one colour as far left as right of the line, with cloth between.

    ``off`` is the mean colour of each row less the cloth's, shape (rows, 3).
    """
    near = np.abs(rows) < 1.0
    part, at = gaussian_filter1d(off[near], 0.04 * k, axis=0), rows[near]
    away = np.linalg.norm(part, axis=1)
    floor = float(np.median(np.linalg.norm(off[np.abs(rows) > 1.2], axis=1)))
    peaks = [
        p for p in local_peaks(away, max(2, round(0.12 * k))) if away[p] - floor > 0.5 * away.max()
    ]
    left = [p for p in peaks if at[p] < -0.12]
    right = [p for p in peaks if at[p] > 0.12]
    if not left or not right:
        return False
    one, other = max(left, key=lambda p: away[p]), max(right, key=lambda p: away[p])
    lower = min(away[one], away[other])
    dip = float(away[one : other + 1].min())
    alike = float(np.linalg.norm(part[one] - part[other])) < 0.5 * lower
    even = abs(at[one] + at[other]) < 0.3
    return bool(alike and even and lower > 6.0 and dip < 0.6 * lower)


def _side_to_side(laid: NDArray[np.float32], rows: Floats, k: float, at_px: Floats) -> float:
    """What comes back every four stitches beside the line, as a share of what does on it.

    Groups of four stitches are laid on one another, every other group apart: the product of both
    medians holds what comes back and, on average, nothing else.
    """
    usual = float(np.median(np.diff(at_px)))
    many = np.maximum(np.round(np.diff(at_px) / usual), 1).astype(int)
    at = np.concatenate(
        [
            np.linspace(a, b, n, endpoint=False)
            for a, b, n in zip(at_px[:-1], at_px[1:], many, strict=True)
        ]
    )
    group = 4 if len(at) > 12 else 2
    if len(at) <= 2 * group:
        return 0.0
    step = max(1, round(0.1 * k))
    smooth = np.stack([gaussian_filter1d(laid[..., c], step, axis=1) for c in range(3)], axis=2)
    smooth = _without_stripes(smooth, rows, k)
    folds = []
    for first in range(0, len(at) - group, group):
        share = np.linspace(0, group, 12 * group, endpoint=False)
        places = np.interp(share, np.arange(group + 1), at[first : first + group + 1])
        folds.append(smooth[:, np.round(places).astype(int)])
    stack = np.stack(folds)
    stack = stack - stack.mean(axis=2, keepdims=True)
    # a stripe that runs nearly along the seam drifts across every group alike
    along = np.linspace(-1.0, 1.0, stack.shape[2])[None, None, :, None]
    drift = (stack * along).sum(axis=2, keepdims=True) / float((along**2).sum())
    stack = stack - drift * along
    # medians, since a stripe crosses few groups and a zigzag all of them
    halves = np.median(stack[::2], axis=0), np.median(stack[1::2], axis=0)
    both = (halves[0] * halves[1]).mean(axis=(1, 2))
    away = np.abs(rows)
    on = float(both[away < 0.4].mean())
    far = float(both[away > 2.2].mean())
    beside = 0.0
    shown = np.median(np.stack(folds), axis=0)
    for side in (-rows, rows):
        swing = (side > 0.6) & (side < 1.7)
        part = float(both[swing].mean())
        # a stripe lies farther out as well, or drifts there; a thread's swing ends
        outer = float(np.abs(both[side > 1.9]).mean())
        if part > outer and _of_thread(shown, swing, away):
            beside += 0.5 * (part - far)
    # what comes back far off as well is a stripe of the cloth
    return beside / on if on > 0 and beside > max(1.0, abs(far)) else 0.0


def _of_thread(shown: NDArray[np.float32], swing: NDArray[np.bool_], away: Floats) -> bool:
    """Whether what comes and goes beside the line is the thread, and not its shadow on the cloth.

    A low lamp across the seam throws the shadow of every stitch far out, in a bow from hole to
    hole, as a zigzag swings. But a thread that swings is on the line only where it crosses it, and
    the line is cloth or a mixture of both; beside its own shadow lies a third colour, the thread.

    ``shown`` is the median look of a group of stitches, shape (rows, places, 3); ``swing`` says
    which rows lie beside the line, ``away`` how far each lies from it.
    """
    beside = shown[swing].reshape(-1, 3)
    on = np.median(shown[away < _CORE_MM].reshape(-1, 3), axis=0)
    usual = np.median(beside, axis=0)
    off = np.linalg.norm(beside - usual, axis=1)
    most = beside[off >= np.quantile(off, _MOST_OFF)].mean(axis=0)
    way = most - usual
    share = float(np.clip((on - usual) @ way / max(float(way @ way), 1e-9), 0.0, 1.0))
    return bool(np.linalg.norm(on - usual - share * way) < _THIRD_COLOUR)


def _without_stripes(laid: NDArray[np.float32], rows: Floats, k: float) -> NDArray[np.float32]:
    """The laid seam less the pattern that both sides show alike beyond any swing of a thread."""
    step = max(1, round(0.1 * k))
    count = len(laid) // step
    part = laid[: count * step]
    wide = part.reshape(count, step, *laid.shape[1:]).mean(axis=1)
    wide = wide - np.median(wide, axis=1, keepdims=True)
    at_mm = rows[: count * step].reshape(count, step).mean(axis=1)
    taken = wide - without_cloth(wide, at_mm, SWING_MM, k)
    out = laid.copy()
    out[: count * step] -= np.repeat(taken, step, axis=0)
    return out


def _width_drift(profiles: Floats, places: Floats, k: float) -> tuple[float, float]:
    """Change of the thread's width along the seam as a share, and its standard error."""
    widths = np.array([_width_and_flank(p, k)[0] for p in profiles])
    good = np.isfinite(widths) & (widths < 1.5)
    if good.sum() < 8 or len(widths) != len(places):
        return 0.0, math.inf
    x, y = places[good] - places[good].mean(), widths[good] / np.median(widths[good])
    slope = float((x * y).sum() / (x**2).sum())
    rest = y - y.mean() - slope * x
    error = float(np.sqrt((rest**2).sum() / max(len(x) - 2, 1) / (x**2).sum()))
    return slope, error
