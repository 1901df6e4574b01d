"""A lens adjusted to photographs of a chart that may be bowed, with errors counted by photograph.

Paper that curls is no plane, and a flat chart in the reckoning then puts its curl into the focal
length: a sheet bowed by 4 mm makes it some per cent wrong while the corners fit to a pixel. Paper
bends without stretching, so that a bow about the middle is three numbers (half the second form of
the surface), here adjusted with lens and poses by Gauss-Newton steps damped after Marquardt (1963,
"An algorithm for least-squares estimation of nonlinear parameters").

Corners of one photograph are wrong together (its focus, its blur, its light), so that the errors of
single corners tell too little: each photograph is left out in turn, to first order (jackknife;
Tukey 1958; Efron and Tibshirani 1993, ch. 11), and the larger of both errors is told.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.evidence.intervals import NINETY

_STEPS: Final = 30
"""Most steps; from the flat solution five to ten do."""
_SETTLED: Final = 1e-9
"""Share of the sum of squares by which a step must better it."""
_INNER: Final = 7
"""Numbers of the lens: focal length, middle, k1, k2, p1, p2."""
_SHARED: Final = _INNER + 3
"""With the three of the chart's bow."""
_BOW_SD: Final = 1.0 / 1000.0
"""What is believed of a bow beforehand, 1/mm: an A4 sheet laid by hand rises by 3 to 8 mm at the
worst (a judgement, on the wide side). It only settles what photographs leave open."""


@dataclass(frozen=True)
class Adjusted:
    """What was adjusted.

    Attributes
    ----------
    shared
        Focal length px, middle px (2), k1, k2, p1, p2, and the bow in 1/mm: along x, across, along
        y; shape (10,).
    focal_sd_px
        Standard deviation of the focal length.
    per_photograph_px
        Root mean square distance of seen from projected corners, shape (n,).
    turns
        Rotation vectors, shape (n, 3).
    rise_mm, rise_sd_mm
        By how much the chart's rim rises above or falls below its middle, at most, and its error.
    """

    shared: Floats
    focal_sd_px: float
    per_photograph_px: Floats
    turns: Floats
    rise_mm: float
    rise_sd_mm: float

    @property
    def rms_px(self) -> float:
        """Over all photographs, each weighing alike."""
        return float(np.sqrt(np.mean(self.per_photograph_px**2)))


def adjusted(
    flat_mm: list[Floats], seen_px: list[Floats], inner: Floats, poses: Floats
) -> Adjusted:
    """Adjust lens, poses and the chart's bow.

    Parameters
    ----------
    flat_mm, seen_px
        For each photograph the corners on the flat chart and in it, shape (m, 2) each.
    inner
        To begin with: focal length, middle (2), k1, k2, p1, p2.
    poses
        To begin with: rotation vector and place of the chart in each photograph, shape (n, 6).
    """
    every = np.concatenate(flat_mm)
    middle = 0.5 * (every.min(axis=0) + every.max(axis=0))
    places = [one - middle for one in flat_mm]
    shared = np.concatenate([inner, np.zeros(3)])
    poses = poses.copy()
    for pose in poses:  # about the chart's middle from here on
        pose[3:] += np.asarray(cv2.Rodrigues(pose[:3])[0])[:, :2] @ middle
    scale = np.array([inner[0] * 1e-4, 0.1, 0.1, *[1e-4] * 4, *[1e-6] * 3])
    damping, off = 1e-3, _off(places, seen_px, shared, poses)
    worth = _worth(off, shared)
    for _ in range(_STEPS):
        normal, right, parts = _normal(places, seen_px, shared, poses, off, scale)
        step = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), right)
        trial = shared + step * scale
        moved = poses + np.array(
            [
                np.linalg.solve(b + damping * np.diag(np.diag(b)), c - a.T @ step)
                for a, b, c in parts
            ]
        )
        new = _off(places, seen_px, trial, moved)
        better = worth - _worth(new, trial)
        if better < 0.0:
            damping *= 10.0
            if damping > 1e6:
                break
            continue
        shared, poses, off, worth = trial, moved, new, worth - better
        damping = max(damping / 10.0, 1e-9)
        if better < _SETTLED * worth:
            break
    cover = _covariance(places, seen_px, shared, poses, off, scale)
    rise, rise_sd = _rise(np.concatenate(places), shared[_INNER:], cover[_INNER:, _INNER:])
    each = np.array([np.sqrt(np.mean((one**2).sum(axis=1))) for one in off])
    return Adjusted(shared, float(np.sqrt(cover[0, 0])), each, poses[:, :3], rise, rise_sd)


def bowed(places: Floats, bow: Floats) -> Floats:
    """A flat chart's places (m, 2) about its middle, on the bowed one: (m, 3), mm.

    A bow along one line is a cylinder of curvature c: what lies s from the middle rises by
    c s^2 / 2 and comes nearer by c^2 s^3 / 6.
    """
    form = np.array([[bow[0], bow[1]], [bow[1], bow[2]]])
    slope = places @ form
    rise = (slope * places).sum(axis=1)
    return np.column_stack([places - rise[:, None] * slope / 6.0, 0.5 * rise])


def _off(places: list[Floats], seen: list[Floats], shared: Floats, poses: Floats) -> list[Floats]:
    """By how much corners projected miss those seen, px, shape (m, 2) for each photograph."""
    focal, cx, cy = shared[:3]
    matrix = np.array([[focal, 0.0, cx], [0.0, focal, cy], [0.0, 0.0, 1.0]])
    found = []
    for flat, px, pose in zip(places, seen, poses, strict=True):
        solid = bowed(flat, shared[_INNER:])
        told, _ = cv2.projectPoints(solid, pose[:3], pose[3:], matrix, shared[3:_INNER])
        found.append(px - told.reshape(-1, 2))
    return found


def _worth(off: list[Floats], shared: Floats) -> float:
    believed = float(((shared[_INNER:] / _BOW_SD) ** 2).sum())
    return sum(float((one**2).sum()) for one in off) + believed


def _normal(
    places: list[Floats],
    seen: list[Floats],
    shared: Floats,
    poses: Floats,
    off: list[Floats],
    scale: Floats,
) -> tuple[Floats, Floats, list[tuple[Floats, Floats, Floats]]]:
    """Normal equations of what is shared, the poses eliminated, and what gives those back."""
    slopes = []
    for n in range(_SHARED):
        step = np.zeros(_SHARED)
        step[n] = scale[n]
        moved = _off(places, seen, shared + step, poses)
        slopes.append([a - b for a, b in zip(off, moved, strict=True)])
    turns = []
    for n in range(6):
        step = np.zeros(6)
        step[n] = 1e-5 if n < 3 else 1e-3
        moved = _off(places, seen, shared, poses + step)
        turns.append([(a - b) / step[n] for a, b in zip(off, moved, strict=True)])
    normal, right = np.zeros((_SHARED, _SHARED)), np.zeros(_SHARED)
    believed = np.zeros(_SHARED)
    believed[_INNER:] = scale[_INNER:] / _BOW_SD
    normal += np.diag(believed**2)
    right -= believed**2 * shared / scale
    parts = []
    for v, one in enumerate(off):
        a = np.stack([slopes[n][v].ravel() for n in range(_SHARED)], axis=1)
        b = np.stack([turns[n][v].ravel() for n in range(6)], axis=1)
        r = one.ravel()
        across, own, rest = a.T @ b, b.T @ b, b.T @ r
        normal += a.T @ a - across @ np.linalg.solve(own, across.T)
        right += a.T @ r - across @ np.linalg.solve(own, rest)
        parts.append((across, own, rest))
    return normal, right, parts


def _covariance(
    places: list[Floats],
    seen: list[Floats],
    shared: Floats,
    poses: Floats,
    off: list[Floats],
    scale: Floats,
) -> Floats:
    """Of what is shared: the larger, in the focal length, of that by corners and by photographs."""
    normal, _, _ = _normal(places, seen, shared, poses, off, scale)
    count = sum(one.size for one in off) - _SHARED - 6 * len(off)
    by_corners = np.linalg.inv(normal) * sum(float((o**2).sum()) for o in off) / max(count, 1)
    moved = []
    believed = np.zeros(_SHARED)
    believed[_INNER:] = (scale[_INNER:] / _BOW_SD) ** 2
    for v in range(len(off)):
        one = slice(v, v + 1)
        part, score, _ = _normal(places[one], seen[one], shared, poses[one], off[one], scale)
        # a photograph's own share, without what is believed of the bow beforehand
        part = part - np.diag(believed)
        score = score + believed * shared / scale
        moved.append(-np.linalg.solve(normal - part, score))
    apart = np.array(moved)
    apart -= apart.mean(axis=0)
    by_photographs = (len(off) - 1) / len(off) * apart.T @ apart
    # few photographs: Student's law in place of the normal one, so that 1.645 holds nine in ten
    from scipy.stats import t

    by_photographs = by_photographs * (float(t.ppf(0.95, len(off) - 1)) / NINETY) ** 2
    larger = by_corners if by_corners[0, 0] > by_photographs[0, 0] else by_photographs
    return np.asarray(larger * np.outer(scale, scale))


def _rise(places: Floats, bow: Floats, cover: Floats) -> tuple[float, float]:
    """Greatest rise of the chart from its middle, mm, and its standard deviation."""
    x, y = places.T
    design = 0.5 * np.column_stack([x * x, 2 * x * y, y * y])
    at = int(np.argmax(np.abs(design @ bow)))
    return float(design[at] @ bow), float(np.sqrt(design[at] @ cover @ design[at]))
