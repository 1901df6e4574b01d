"""A gap looked at for a dot: bowls of every width laid over its slopes, and its fellows beside it.

A punched dot is a round bowl of one width and depth on the whole plate; a pit is any of these. So
each gap is compared with bowls (matched filters over slopes), with the plate's own grain and rust,
and with the other gaps, in which the same punch may have been struck.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.marks.reading.relief_slopes import ReliefSlopes, seen_along
from ironlace.marks.reading.strikes import Slopes

STEP_MM = 0.03
"""Grid on which gaps are looked at."""
_SIDE = 51
"""Steps of a gap's patch: 1.5 mm."""
_REACH_MM = 0.27
"""How far a dot may lie from its place: places are good to 0.15 mm and dots struck by hand."""
WIDTHS_MM = (0.12, 0.16, 0.20, 0.25, 0.30, 0.35, 0.40, 0.46)
"""Widths of the bowls tried; what wear leaves of a dot is narrower than its punch."""
_BOTTOMS = (1.5, 3.0)
"""Powers of the bowls' profiles: nearly a cone, nearly flat."""
_AS_GOOD = 1.0
"""Log-likelihood ratio by which bare metal may lie below a gap and look as much like a dot (of 0,
0.5 and 1 the best on twelve plates of three kinds of pits)."""
_FELLOWS = 0.3
"""Gaps that must speak, in sum, for a plate to have fellows at all (judged)."""
_COUNTS = 0.70
"""How much of the slopes a bowl must tell for a gap to speak for its fellows (judged)."""


@dataclass(frozen=True, slots=True)
class BowlFit:
    """The best bowl of a gap and how the gap looks beside it.

    Attributes
    ----------
    told
        For each width the share of the slopes that the best bowl tells, shape (8,).
    width_mm, deep_mm
        Of the best bowl; the depth is that of the relief.
    dx_mm, dy_mm
        From the place to the bowl's middle, x right, y down.
    flat
        How much better a flat bottom tells it than a cone.
    uneven, twisted
        Spread of the inward slope around the rim, and size of the sideways one, in inward slopes.
    outside
        Size of the slopes beside the bowl, in grains.
    """

    told: NDArray[np.float64]
    width_mm: float
    deep_mm: float
    dx_mm: float
    dy_mm: float
    flat: float
    uneven: float
    twisted: float
    outside: float

    @property
    def best(self) -> float:
        """Share of the slopes told by the best bowl."""
        return float(self.told.max())


@dataclass(frozen=True, slots=True)
class PlateLook:
    """What a plate shows besides its gaps.

    Attributes
    ----------
    grain
        Median slope on the gaps' grid.
    digit_mm
        Median depth left of its digits, by the relief.
    stray
        Bowls fitted where nothing was struck: its rust.
    """

    grain: float
    digit_mm: float
    stray: tuple[BowlFit, ...]


_Planes = NDArray[np.float32]


@lru_cache(maxsize=4)
def _bowls(
    along: tuple[float, float] | None,
) -> tuple[_Planes, _Planes, _Planes]:
    """Slopes of bowls one deep, shape (16, 2, 19, 19), their discs, and the power of each."""
    half = 9
    ys, xs = np.mgrid[-half : half + 1, -half : half + 1] * STEP_MM
    r = np.hypot(xs, ys)
    slopes, discs = [], []
    for width in WIDTHS_MM:
        for power in _BOTTOMS:
            bowl = np.clip(1 - (2 * r / width) ** power, 0, None).astype(np.float32)
            bowl = cv2.GaussianBlur(bowl, (0, 0), 0.8)
            down, right = np.gradient(-bowl, STEP_MM)
            slopes.append(seen_along(np.stack([right, down]), along))
            discs.append((r <= 0.62 * width + 0.03).astype(np.float32))
    found = np.array(slopes, np.float32)
    return found, np.array(discs, np.float32), (found**2).sum(axis=(1, 2, 3))


def bowl_fit(relief: ReliefSlopes, x_px: float, y_px: float, grain: float) -> BowlFit:
    """Lay bowls of every width over a place."""
    patch = relief.patch(x_px, y_px, STEP_MM / relief.mm_per_px, (_SIDE, _SIDE))
    bowls, discs, power = _bowls(relief.along)
    mid, reach = _SIDE // 2, round(_REACH_MM / STEP_MM)
    window = slice(mid - reach, mid + reach + 1)
    energy = (patch**2).sum(axis=0)
    near = np.hypot(*np.mgrid[-reach : reach + 1, -reach : reach + 1]) <= reach
    told = np.zeros((len(bowls), 2 * reach + 1, 2 * reach + 1))
    answer = np.zeros_like(told)
    for k, (bowl, disc) in enumerate(zip(bowls, discs, strict=True)):
        # a bowl is laid by correlation, which is what filter2D does
        laid = sum(cv2.filter2D(patch[c], cv2.CV_32F, bowl[c]) for c in (0, 1))[window, window]
        around = cv2.filter2D(energy, cv2.CV_32F, disc)[window, window]
        noise = 1.5 * grain**2 * float(disc.sum())
        answer[k] = laid
        share = np.clip(laid, 0, None) ** 2 / power[k] / (around + noise)
        told[k] = np.where(near, np.clip(share, 0, 1), 0)
    best = int(np.argmax(told))
    k, i, j = (int(v) for v in np.unravel_index(best, told.shape))
    by_width = told.max(axis=(1, 2)).reshape(len(WIDTHS_MM), len(_BOTTOMS))
    width = WIDTHS_MM[k // len(_BOTTOMS)]
    dx, dy = j - reach, i - reach
    uneven, twisted, outside = _around(patch, dx, dy, width / STEP_MM, grain)
    return BowlFit(
        told=by_width.max(axis=1),
        width_mm=width,
        deep_mm=float(max(answer[k, i, j] / power[k], 1e-5)),
        dx_mm=dx * STEP_MM,
        dy_mm=dy * STEP_MM,
        flat=float(by_width[k // 2, 1] - by_width[k // 2, 0]),
        uneven=uneven,
        twisted=twisted,
        outside=outside,
    )


def _around(
    patch: Slopes, dx: int, dy: int, wide: float, grain: float
) -> tuple[float, float, float]:
    """How even the rim is, how far slopes run sideways on it, and what lies beside the bowl."""
    turn = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    mid = _SIDE // 2

    def ring(radius: float) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        xs = (mid + dx + radius * np.cos(turn)).astype(np.float32)[None]
        ys = (mid + dy + radius * np.sin(turn)).astype(np.float32)[None]
        sx, sy = (
            cv2.remap(plane, xs, ys, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)[0]
            for plane in patch
        )
        return sx * np.cos(turn) + sy * np.sin(turn), -sx * np.sin(turn) + sy * np.cos(turn)

    out, side = ring(0.38 * wide)
    mean = abs(float(out.mean())) + grain
    far_out, far_side = ring(0.75 * wide + 1)
    beside = float(np.sqrt((far_out**2 + far_side**2).mean()))
    return (
        float(out.std()) / mean,
        float(np.sqrt((side**2).mean())) / mean,
        beside / grain,
    )


NAMES = (
    *(f"told at {w}" for w in WIDTHS_MM),
    "told", "width", "deep", "deep for width", "flat", "uneven", "twisted", "outside", "off place",
    "grain", "digit depth", "deep for digits",
    "stray told", "stray high", "told beyond stray", "stray deep",
    "fellows", "off fellows", "width by fellows", "deep by fellows", "told at fellows",
    "fellows told",
)  # fmt: skip
"""What the numbers of a gap mean."""


def features(fits: Sequence[BowlFit], plate: PlateLook) -> NDArray[np.float64]:
    """Numbers of every gap of a plate for its judge, shape (gaps, len(NAMES))."""
    speaks = _speaks(fits)
    alone = ~np.eye(len(fits), dtype=bool)
    rows = [_numbers(fit, fits, speaks * alone[k], plate) for k, fit in enumerate(fits)]
    return np.array(rows, dtype=np.float64).reshape(-1, len(NAMES))


def features_of_strays(fits: Sequence[BowlFit], plate: PlateLook) -> NDArray[np.float64]:
    """The same of every place where nothing was struck, as if its bowl lay where the dots do."""
    speaks = _speaks(fits)
    at = [0.0, 0.0]
    if float(speaks.sum()) >= _FELLOWS:
        at = [
            _middle(np.array(d), speaks)
            for d in zip(*((f.dx_mm, f.dy_mm) for f in fits), strict=True)
        ]
    moved = [replace(stray, dx_mm=at[0], dy_mm=at[1]) for stray in plate.stray]
    rows = [_numbers(stray, fits, speaks, plate) for stray in moved]
    return np.array(rows, dtype=np.float64).reshape(-1, len(NAMES))


def beside_own_pits(odds: NDArray[np.float64], bare: NDArray[np.float64]) -> NDArray[np.float64]:
    """Log-likelihood ratios of dots, where the plate's own pits may lie in gaps as well.

    Parameters
    ----------
    odds
        Log-likelihood ratios of gaps by what was learnt of pits.
    bare
        The same of places where nothing was struck (`features_of_strays`).

    A gap without a dot may look so by a pit as they were learnt, or by one of this plate: as often
    as its bare metal looks as much like a dot. Casting pinholes of one size, which no judge was
    taught, would else be dots in a row.

    >>> beside_own_pits(np.array([3.0, -1.0]), np.array([3.5, 4.0, -2.5])).round(2)
    array([ 0.6 , -1.17])
    """
    as_good = (bare[None, :] >= odds[:, None] - _AS_GOOD).sum(axis=1) / (len(bare) + 1)
    return np.asarray(-np.log(np.exp(-odds) + as_good))


def _speaks(fits: Sequence[BowlFit]) -> NDArray[np.float64]:
    """How much each bowl counts as a fellow."""
    return np.asarray(1 / (1 + np.exp(-14 * (np.array([fit.best for fit in fits]) - _COUNTS))))


def _numbers(
    fit: BowlFit, fits: Sequence[BowlFit], weight: NDArray[np.float64], plate: PlateLook
) -> list[float]:
    stray = np.array([one.best for one in plate.stray]) if plate.stray else np.array([0.3])
    deep_stray = [one.deep_mm for one in plate.stray if one.best > 0.5]
    own = [
        *fit.told,
        fit.best,
        np.log(fit.width_mm),
        np.log(fit.deep_mm / 0.02),
        np.log(fit.deep_mm / fit.width_mm),
        fit.flat,
        min(fit.uneven, 3.0),
        min(fit.twisted, 3.0),
        np.log(fit.outside + 0.1),
        np.hypot(fit.dx_mm, fit.dy_mm) / 0.1,
        np.log(plate.grain / 0.03),
        np.log(max(plate.digit_mm, 1e-4) / 0.05),
        np.log(fit.deep_mm / max(plate.digit_mm, 1e-4)),
        float(stray.mean()),
        float(np.quantile(stray, 0.9)),
        float((stray < fit.best).mean()),
        np.log(float(np.median(deep_stray)) / 0.02) if deep_stray else 0.0,
    ]
    return [*own, *_beside_fellows(fit, fits, weight)]


def _beside_fellows(
    fit: BowlFit, fits: Sequence[BowlFit], weight: NDArray[np.float64]
) -> list[float]:
    """How a gap compares with the bowls of other gaps, each by how well it speaks."""
    total = float(weight.sum())
    if total < _FELLOWS:
        return [np.log(0.3), 0.0, 0.0, 0.0, fit.best, 0.0]
    wide, deep = np.log([f.width_mm for f in fits]), np.log([f.deep_mm for f in fits])
    dx, dy = np.array([f.dx_mm for f in fits]), np.array([f.dy_mm for f in fits])
    usual_wide, usual_deep = _middle(wide, weight), _middle(deep, weight)
    off = np.hypot(fit.dx_mm - _middle(dx, weight), fit.dy_mm - _middle(dy, weight))
    at = int(np.argmin(np.abs(np.log(WIDTHS_MM) - usual_wide)))
    return [
        np.log(total),
        float(off) / 0.1,
        float(np.log(fit.width_mm) - usual_wide),
        float(np.log(fit.deep_mm) - usual_deep),
        float(fit.told[at]),
        float(np.array([f.best for f in fits]) @ weight / total),
    ]


def _middle(values: NDArray[np.float64], weight: NDArray[np.float64]) -> float:
    """Weighted median."""
    order = np.argsort(values)
    run = np.cumsum(weight[order])
    return float(values[order][int(np.searchsorted(run, run[-1] / 2))])
