"""Where a seam runs in a picture: ribbons of a thread's width that stand out from both sides.

The ribbon is found by comparing the mean of a long thin box with those beside it, at several
slopes, and followed from edge to edge by dynamic programming (Bellman 1957). Stripes of the cloth
and chalk are ribbons too: several lines are therefore handed on, and the stitches decide.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solveh_banded
from scipy.ndimage import gaussian_filter1d, maximum_filter1d

from ironlace.evidence.arrays import Floats
from ironlace.photographs.looked_up import looked_up
from ironlace.running.seam.seam_picture import Working

COARSE_PX_PER_MM: Final = 8.0
"""A thread is then two or three pixels wide, enough to be seen and little to compute."""
SLOPES: Final = (-0.8, -0.55, -0.35, -0.2, -0.1, 0.0, 0.1, 0.2, 0.35, 0.55, 0.8)
"""Slopes at which ribbons are looked for; between two neighbours a box of 1.6 mm stays within a
thread's width."""
RIBBON_MM: Final = (1.6, 0.25)
"""Length and width of the box: about a stitch, and a sewing thread."""
APART_MM: Final = 1.0
"""Two ribbons nearer than this are one and the same."""
STIFF_MM: Final = 12.0
"""Waves of the line shorter than this are not a seam's: some four stitches. A judgement."""
LEAST_SHARE: Final = 0.25
"""A ribbon that stands out less than so much of the best is not handed on."""
MOST_LINES: Final = 6
"""So many ribbons are handed on at most."""


@dataclass(frozen=True)
class Line:
    """A line across the picture.

    Attributes
    ----------
    points_px
        Places on the working copy, columns and rows, one for every working pixel of its length.
    standing_out
        How much it stands out from both sides, mean over its length, in log units of the cloth's
        own unevenness.
    """

    points_px: Floats
    standing_out: float


def lines_in(working: Working) -> list[Line]:
    """Ribbons that cross the picture either way, those that stand out most first."""
    shrink = COARSE_PX_PER_MM / working.px_per_mm
    lab, hidden = working.lab, working.hidden
    size = (max(8, round(lab.shape[1] * shrink)), max(8, round(lab.shape[0] * shrink)))
    small = np.asarray(cv2.resize(lab, size, interpolation=cv2.INTER_AREA), np.float32)
    unseen = None
    if hidden is not None:
        fine = cv2.resize(hidden.astype(np.float32), size, interpolation=cv2.INTER_AREA)
        unseen = np.asarray(fine) > 0.01
    found: list[Line] = []
    for turned in (False, True):
        part = np.ascontiguousarray(small.transpose(1, 0, 2)) if turned else small
        no = unseen.T if turned and unseen is not None else unseen
        if part.shape[1] < 8.0 * COARSE_PX_PER_MM or part.shape[0] < 1.6 * COARSE_PX_PER_MM:
            continue
        own = _off_the_cloths_colours(part)
        for seen in (own, _without_stripes(own)):
            for path, strength in _paths(_ribbons(seen, no)):
                xy = np.stack([np.arange(len(path), dtype=np.float64), path], axis=1)
                if turned:
                    xy = xy[:, ::-1]
                found.append(Line(_fine(xy, 1.0 / shrink), strength))
    return _different(found, working.px_per_mm)


def _different(lines: list[Line], px_per_mm: float) -> list[Line]:
    """Those that stand out most, none along another for most of its length."""
    kept: list[Line] = []
    for line in sorted(lines, key=lambda one: -one.standing_out):
        if kept and line.standing_out < LEAST_SHARE * kept[0].standing_out:
            break
        thin = line.points_px[:: max(1, round(px_per_mm))]
        for other in kept:
            apart = np.linalg.norm(
                thin[:, None] - other.points_px[None, :: max(1, round(0.5 * px_per_mm))], axis=2
            ).min(axis=1)
            if np.mean(apart < 0.7 * px_per_mm) > 0.9:
                break
        else:
            kept.append(line)
        if len(kept) == MOST_LINES:
            break
    return kept


def _off_the_cloths_colours(small: NDArray[np.float32]) -> NDArray[np.float32]:
    """Colours in units of the picture's own spread along each axis of its spread.

    Between the colours of a striped cloth the spread is large, so that a thread of another colour
    stands out from all of them (Mahalanobis 1936).
    """
    flat = small.reshape(-1, 3)
    thin = flat[:: max(1, len(flat) // 4000)]
    middle = np.median(thin, axis=0)
    values, axes = np.linalg.eigh(np.cov((thin - middle).T) + 0.3 * np.eye(3))
    return np.asarray((small - middle) @ (axes / np.sqrt(values)), np.float32)


def _without_stripes(part: NDArray[np.float32]) -> NDArray[np.float32]:
    """The picture less what is alike along its whole length, at the slope where that is most."""
    h, w = part.shape[:2]
    best: tuple[float, float] = (0.0, 0.0)
    for slope in np.linspace(-0.15, 0.15, 31):
        rows = np.median(_sheared(part, float(slope))[:, ::4], axis=1)
        best = max(best, (float(rows.var(axis=0).sum()), float(slope)))
    slope = best[1]
    level = _sheared(part, slope)
    alike = np.median(level[:, ::2], axis=1)
    at = np.arange(h)[:, None] - slope * (np.arange(w)[None] - w / 2.0)
    out = np.empty_like(part)
    for c in range(3):
        out[..., c] = part[..., c] - np.interp(at, np.arange(h), alike[:, c])
    return out


def _sheared(part: NDArray[np.float32], slope: float) -> NDArray[np.float32]:
    """Columns moved so that lines of the slope lie level (row = level row + slope * column)."""
    h, w = part.shape[:2]
    move = np.array([[1.0, 0.0, 0.0], [slope, 1.0, -slope * w / 2.0]])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    level = cv2.warpAffine(part, move, (w, h), flags=flags, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(level, np.float32)


def _ribbons(small: NDArray[np.float32], unseen: NDArray[np.bool_] | None) -> NDArray[np.float32]:
    """How much a ribbon through each pixel stands out, best slope; shape of the picture."""
    k = COARSE_PX_PER_MM
    long, thick = RIBBON_MM[0] * k, max(1, round(RIBBON_MM[1] * k))
    h, w = small.shape[:2]
    best = np.zeros((h, w), np.float32)
    margin = int(0.8 * w / 2) + 2
    for slope in SLOPES:
        shear = np.array([[1.0, 0.0, 0.0], [-slope, 1.0, slope * w / 2.0]])
        tall = abs(slope) * w / 2.0
        pad = min(margin, int(np.ceil(tall)) + 1)
        shear[1, 2] += pad
        level = cv2.warpAffine(
            small, shear, (w, h + 2 * pad), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
        length = max(3, round(long / np.sqrt(1 + slope**2)))
        box = cv2.blur(level, (length, thick))
        # beside it: from 0.4 to 0.9 mm away
        away, wide = round(0.65 * k), max(1, round(0.5 * k))
        side = cv2.blur(level, (length, wide))
        up, down = np.roll(side, away, axis=0), np.roll(side, -away, axis=0)
        over, under = box - up, box - down
        out = np.where(over * under > 0, np.minimum(np.abs(over), np.abs(under)), 0.0)
        back = np.array([[1.0, 0.0, 0.0], [slope, 1.0, -slope * w / 2.0 - pad]])
        strength = np.sqrt((out.astype(np.float32) ** 2).sum(axis=-1))
        strength[:away] = 0.0
        strength[-away:] = 0.0
        strength = cv2.warpAffine(strength, back, (w, h), flags=cv2.INTER_LINEAR)
        best = np.maximum(best, strength)
    rim = round(0.5 * k)
    best[:rim] = 0.0
    best[-rim:] = 0.0
    if unseen is not None:
        near = cv2.dilate(unseen.astype(np.uint8), np.ones((2 * rim + 1, 2 * rim + 1), np.uint8))
        best[near > 0] = 0.0
    usual = max(float(np.median(best[best > 0])) if (best > 0).any() else 1.0, 0.02)
    return np.asarray(np.log1p(best / usual), np.float32)


def _paths(ribbons: NDArray[np.float32]) -> list[tuple[Floats, float]]:
    """The strongest ways from left to right and their mean strength; none twice."""
    left = ribbons.copy()
    found: list[tuple[Floats, float]] = []
    apart = round(APART_MM * COARSE_PX_PER_MM)
    base = float(np.median(ribbons))
    for _ in range(5):
        path = _best_path(left)
        values = ribbons[path, np.arange(len(path))] - base
        strength = float(np.mean(values))
        if found and strength < 0.25 * found[0][1]:
            break
        found.append((path.astype(np.float64), strength))
        for column, row in enumerate(path):
            left[max(0, row - apart) : row + apart + 1, column] = 0.0
    return found


def _best_path(strength: NDArray[np.float32]) -> NDArray[np.int64]:
    """Row at each column of the strongest path whose steps are at most one row."""
    h, w = strength.shape
    total = strength[:, 0].copy()
    came = np.zeros((w, h), np.int8)
    cost = np.float32(0.15)
    for column in range(1, w):
        up = np.concatenate([[np.float32(-1e9)], total[:-1] - cost])
        down = np.concatenate([total[1:] - cost, [np.float32(-1e9)]])
        choices = np.stack([up, total, down])
        pick = choices.argmax(axis=0)
        came[column] = pick - 1
        total = choices.max(axis=0) + strength[:, column]
    path = np.zeros(w, np.int64)
    path[-1] = int(total.argmax())
    for column in range(w - 1, 0, -1):
        path[column - 1] = path[column] + came[column, path[column]]
    return path


def _fine(xy: Floats, grow: float) -> Floats:
    """A coarse path as evenly spaced points on the working copy, smoothed over some 2 mm."""
    main = 0 if xy[-1, 0] - xy[0, 0] == len(xy) - 1 else 1
    smooth = xy.copy()
    smooth[:, 1 - main] = stiff(xy[:, 1 - main], 1.0 / COARSE_PX_PER_MM)
    return resampled((smooth + 0.5) * grow - 0.5)


def stiff(values: Floats, step_mm: float) -> Floats:
    """Values drawn out to a curve as stiff as a seam is, strays left out, same shape.

    Whittaker's smoother (1923) with bisquare weights; it passes waves longer than some
    `STIFF_MM`.
    """
    n = len(values)
    if n < 4:
        return np.full(n, float(np.median(values)))
    strength = (STIFF_MM / (2.0 * np.pi * step_mm)) ** 4
    bands = np.zeros((3, n))
    bands[2] = 6.0
    bands[2, [0, -1]], bands[2, [1, -2]] = 1.0, 5.0
    bands[1] = -4.0
    bands[1, [1, -1]] = -2.0
    bands[0] = 1.0
    bands *= strength
    weight = np.ones(n)
    smooth = values
    for _ in range(6):
        table = bands.copy()
        table[2] += weight
        smooth = solveh_banded(table, weight * values)
        off = values - smooth
        usual = max(1.4826 * float(np.median(np.abs(off))), 0.3)
        weight = np.clip(1.0 - (off / (4.0 * usual)) ** 2, 0.01, 1.0) ** 2
    return np.asarray(smooth, np.float64)


def resampled(points: Floats) -> Floats:
    """The same line with points one pixel apart."""
    step = np.linalg.norm(np.diff(points, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(step)])
    at = np.arange(0.0, along[-1], 1.0)
    return np.stack([np.interp(at, along, points[:, j]) for j in (0, 1)], axis=1)


def laid_straight(
    picture: NDArray[np.float32], points: Floats, half_px: int
) -> NDArray[np.float32]:
    """The picture along a line, shape (2 half + 1, points, channels); it is the middle row."""
    normal = normals(points)
    across = np.arange(-half_px, half_px + 1, dtype=np.float64)[:, None]
    places = points[None] + across[..., None] * normal[None]
    return np.asarray(looked_up(picture, places, cv2.INTER_CUBIC), np.float32)


def normals(points: Floats) -> Floats:
    """Unit vectors to the right of a line as it runs (y down), same shape as ``points``."""
    tangent = np.gradient(gaussian_filter1d(points, 4.0, axis=0, mode="nearest"), axis=0)
    tangent /= np.maximum(np.linalg.norm(tangent, axis=1, keepdims=True), 1e-9)
    return np.stack([-tangent[:, 1], tangent[:, 0]], axis=1)


def recentred(working: Working, points: Floats, rounds: int = 2) -> Floats:
    """A line moved sideways onto the middle of the ribbon that it follows.

    What the rows look like along the whole line is one profile; blocks of some 3 mm are moved to
    where they fit it best, and the moves are smoothed over some 8 mm, so that a stitch's own lean
    is not followed.
    """
    k = working.px_per_mm
    half = round(1.2 * k)
    for _ in range(rounds):
        laid = laid_straight(working.lab, points, half)
        laid = np.concatenate([laid, _like_the_middle(laid, k)], axis=2)
        block = max(8, round(1.5 * k))
        n = max(1, laid.shape[1] // block)
        rows = laid[:, : n * block].reshape(2 * half + 1, n, block, 4).mean(axis=2)
        profile = np.median(rows, axis=1)
        # rows where the cloth changes along the seam say little of where the thread is
        spread = 1.4826 * np.median(np.abs(rows - profile[:, None]), axis=1) + 1.0
        shift = _shifts(rows, profile, spread, round(0.5 * k))
        at = (np.arange(n) + 0.5) * block
        move = np.interp(np.arange(len(points)), at, stiff(_running_median(shift, 3), block / k))
        points = resampled(points + move[:, None] * normals(points))
    return points


def _like_the_middle(laid: NDArray[np.float32], k: float) -> NDArray[np.float32]:
    """How like the middle row's usual colour each place is, 0 to 20; shape (rows, places, 1)."""
    half = laid.shape[0] // 2
    inner = laid[half - round(0.06 * k) : half + round(0.06 * k) + 1].reshape(-1, 3)
    thin = inner[:: max(1, len(inner) // 4000)]
    colour = np.median(thin, axis=0)
    spread = 1.4826 * np.median(np.abs(thin - colour), axis=0) + 1.5
    far = (((laid - colour) / (2.0 * spread)) ** 2).sum(axis=2)
    return np.asarray(20.0 * np.exp(-0.5 * far), np.float32)[..., None]


def _shifts(
    rows: NDArray[np.float32], profile: NDArray[np.float32], spread: NDArray[np.float32], most: int
) -> Floats:
    """How far each block's rows lie below the profile, pixels.

    Rows (h, n, c); profile and its spread (h, c).
    """
    h = rows.shape[0]
    inner = slice(most, h - most)
    scores = []
    for shift in range(-most, most + 1):
        moved = rows[most + shift : h - most + shift]
        off = (moved - profile[inner, None]) / spread[inner, None]
        scores.append(-np.minimum(off**2, 9.0).sum(axis=(0, 2)))
    best = np.array(scores).argmax(axis=0)
    return np.asarray(best - most, np.float64)


def _running_median(values: Floats, width: int) -> Floats:
    half = width // 2
    padded = np.pad(values, half, mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, width)
    return np.asarray(np.median(windows, axis=1), np.float64)


def local_peaks(values: Floats, apart: int) -> NDArray[np.int64]:
    """Indices of the largest value within ``apart`` on either side."""
    top = maximum_filter1d(values, 2 * apart + 1, mode="nearest")
    return np.flatnonzero((values >= top) & (values > values.min()))
