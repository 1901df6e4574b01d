"""From contours to few and smooth cubic curves.

Each ring is cut at its corners and fitted with cubic curves that share tangents at smooth nodes, by
Schneider's least squares ("An algorithm for automatically fitting digitized curves", Graphics Gems,
1990). Every curve is made to reach as far as the tolerance lets it; all rings advance side by
side, so that nothing is fitted point by point in Python.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats, Ints
from ironlace.ornament.outline.contours import STEP_PX, Outlines
from ironlace.ornament.outline.crossings import crossing_curves

Complex = NDArray[np.complex128]

CALM: Final = 9
"""Contour points (about 7 pixels) over which the distance to a curve is averaged."""
LONGEST_STRETCH: Final = 1200
"""Contour points of a smooth stretch above which it is shared out; about 5 cm of outline."""


@dataclass(frozen=True)
class _Nodes:
    """What is known at every contour point, should it become a node."""

    place: Floats
    tangent: Floats
    corner: NDArray[np.bool_]
    blurred: NDArray[np.bool_]
    """So near a corner that the lens has rounded the contour: not to be followed."""


def fit_rings(outlines: Outlines, tolerance: float) -> list[Floats]:
    """Cubic curves for every ring, each (n, 4, 2), in the unit of the points.

    Where curves would cross, that part of the outline is fitted again, more closely and with its
    corners left where the contour has them.
    """
    nodes = _survey(outlines)
    points, starts, place, tangent, corner, blurred = _cut_open(outlines, nodes)
    ring_of = np.repeat(np.arange(len(starts) - 1), np.diff(starts))
    job = _Job(
        points[:, 0] + 1j * points[:, 1],
        place[:, 0] + 1j * place[:, 1],
        tangent[:, 0] + 1j * tangent[:, 1],
        corner,
        ~blurred,
        np.full(len(points), tolerance),
        _slack(nodes, outlines, tolerance),
    )
    pieces = _first_cuts(starts, corner)
    for turn in range(4):
        first, last = job.cover(*pieces)
        fitted = job.fit(first, last, rounds=6).curves
        curves = np.stack([fitted.real, fitted.imag], axis=2)
        crossed = crossing_curves(curves, tolerance / 8.0)
        if len(crossed) == 0 or turn == 3:
            break
        for a, b in zip(first[crossed], last[crossed], strict=True):
            job.tolerance[a : b + 1] = tolerance / 3.0 ** (turn + 1)
            job.place[a : b + 1] = np.where(
                job.corner[a : b + 1], job.points[a : b + 1], job.place[a : b + 1]
            )
            job.followed[a : b + 1] = True
        # a ring's first point is there twice: both must lie in one place
        begin, end = starts[:-1], starts[1:] - 1
        torn = job.place[begin] != job.place[end]
        job.place[begin[torn]] = job.place[end[torn]] = job.points[begin[torn]]
    return np.split(curves, np.flatnonzero(np.diff(ring_of[first])) + 1)


def _slack(nodes: _Nodes, outlines: Outlines, tolerance: float) -> float:
    """Four standard deviations of the contour's noise in tolerances, between 1 and 2.5.

    Noise is how far points lie off the parabola through their neighbours within nine pixels; wider
    than for tangents, because blur makes neighbouring points err alike.
    """
    points, starts = outlines.points, outlines.starts
    ring = np.repeat(np.arange(len(starts) - 1), np.diff(starts))
    k = np.arange(-12, 13)
    s2, s4, n = float(np.sum(k**2)), float(np.sum(k**4)), float(len(k))
    (calm,) = _along(points, starts, ring, ((s4 - s2 * k**2) / (n * s4 - s2**2),))
    plain = ~nodes.blurred & (np.diff(starts)[ring] > 60)
    if not plain.any():
        return 1.0
    off, tangent = (points - calm)[plain], nodes.tangent[plain]
    side = off[:, 0] * tangent[:, 1] - off[:, 1] * tangent[:, 0]
    noise = 1.4826 * float(np.median(np.abs(side)))
    return float(np.clip(4.0 * noise / tolerance, 1.0, 2.5))


def _wrap(index: Ints, starts: Ints, ring: Ints) -> Ints:
    """Indices that ran over their ring's end brought round to its beginning."""
    base = starts[ring]
    return base + (index - base) % (starts[ring + 1] - base)


def _along(
    points: Floats, starts: Ints, ring: Ints, weights: Sequence[NDArray[Any]]
) -> tuple[Floats, ...]:
    """Sums over each point's neighbours along its ring, by weights of odd and equal count."""
    from scipy.ndimage import correlate1d

    reach = len(weights[0]) // 2
    counts = np.diff(starts)
    # every ring with its neighbours across the seam on both sides, all end to end
    long = counts + 2 * reach
    begin = np.concatenate([[0], np.cumsum(long)])
    owner = np.repeat(np.arange(len(counts)), long)
    local = np.arange(begin[-1]) - begin[owner] - reach
    laid = points[_wrap(starts[owner] + local, starts, owner)]
    own = np.arange(len(points)) + (2 * ring + 1) * reach
    return tuple(
        np.stack([correlate1d(laid[:, axis], w, mode="nearest") for axis in (0, 1)], axis=1)[own]
        for w in weights
    )


def _survey(outlines: Outlines) -> _Nodes:
    """Smoothed place, tangent and cornerness of every point.

    Place and tangent come from a quadratic through the neighbours within four steps (Savitzky and
    Golay 1964), which, unlike a running mean, does not pull curves inwards. A corner turns most of
    its angle within a pixel or two; a round end turns evenly.
    """
    points, starts = outlines.points, outlines.starts
    ring = np.repeat(np.arange(len(starts) - 1), np.diff(starts))
    at = np.arange(len(points))
    reach = 4
    k = np.arange(-reach, reach + 1)
    # quadratic regression on an even grid: closed form of the smoothing and slope weights
    s2, s4, n = float(np.sum(k**2)), float(np.sum(k**4)), float(len(k))
    smooth = (s4 - s2 * k**2) / (n * s4 - s2**2)
    slope = k / s2
    place, tangent = _along(points, starts, ring, (smooth, slope))
    tangent /= np.maximum(np.linalg.norm(tangent, axis=1, keepdims=True), 1e-12)

    def turn(span: int, window: int) -> Floats:
        """Angle between the directions ``span`` behind and ahead, each over ``window`` steps."""
        back = (
            points[_wrap(at - span, starts, ring)] - points[_wrap(at - span - window, starts, ring)]
        )
        ahead = (
            points[_wrap(at + span + window, starts, ring)] - points[_wrap(at + span, starts, ring)]
        )
        cross = back[:, 0] * ahead[:, 1] - back[:, 1] * ahead[:, 0]
        return np.asarray(np.arctan2(cross, np.sum(back * ahead, axis=1)))

    near, wide = np.abs(turn(2, 4)), np.abs(turn(5, 4))
    size = (starts[1:] - starts[:-1])[ring]
    sharp = (near > np.deg2rad(38.0)) & (near > 0.68 * wide) & (size > 24)
    peak = near.copy()
    alone = np.ones(len(points), dtype=np.bool_)
    for away in range(1, 7):
        ahead, behind = near[_wrap(at + away, starts, ring)], near[_wrap(at - away, starts, ring)]
        peak = np.maximum(peak, np.maximum(ahead, behind))
        alone &= near != behind  # of two equal peaks the first one counts
    corner = sharp & (near >= peak) & alone
    blurred = np.zeros(len(points), dtype=np.bool_)
    here = np.flatnonzero(corner)
    meeting, met = _meeting(points, starts, ring, here)
    place[here] = np.where(met[:, None], meeting, points[here])
    for away in range(-2, 3):
        blurred[_wrap(here + away, starts, ring[here])] = True
    return _Nodes(place, tangent, corner, blurred)


def _meeting(
    points: Floats, starts: Ints, ring: Ints, here: Ints
) -> tuple[Floats, NDArray[np.bool_]]:
    """Where the two sides of each corner would meet had the lens not rounded it, and if they do.

    Sides are taken straight from two to six steps away; places farther than two pixels from the
    contour are not believed.
    """

    def at(away: int) -> Floats:
        return points[_wrap(here + away, starts, ring[here])]

    a, u = at(-2), at(-2) - at(-6)
    b, v = at(2), at(2) - at(6)
    cross = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    size = np.linalg.norm(u, axis=1) * np.linalg.norm(v, axis=1)
    open_enough = np.abs(cross) > 0.3 * size
    gap = b - a
    t = (gap[:, 0] * v[:, 1] - gap[:, 1] * v[:, 0]) / np.where(open_enough, cross, 1.0)
    place = a + t[:, None] * u
    near = np.linalg.norm(place - points[here], axis=1) < 2.0
    return place, open_enough & near & (t > 0)


def _cut_open(
    outlines: Outlines, nodes: _Nodes
) -> tuple[Floats, Ints, Floats, Floats, NDArray[np.bool_], NDArray[np.bool_]]:
    """Turn every ring to start at a corner (or any point) and repeat that point at its end."""
    starts = outlines.starts
    counts = np.diff(starts)
    ring = np.repeat(np.arange(len(counts)), counts)
    score = nodes.corner.astype(np.float64)
    order = np.lexsort((-score, ring))
    begin = order[starts[:-1]]
    new_starts = np.concatenate([[0], np.cumsum(counts + 1)])
    new_ring = np.repeat(np.arange(len(counts)), counts + 1)
    local = np.arange(new_starts[-1]) - new_starts[new_ring]
    index = _wrap(begin[new_ring] + local, starts, new_ring)
    return (
        outlines.points[index],
        new_starts,
        nodes.place[index],
        nodes.tangent[index],
        nodes.corner[index],
        nodes.blurred[index],
    )


def _first_cuts(starts: Ints, corner: NDArray[np.bool_]) -> tuple[Ints, Ints]:
    """Begin with stretches from corner to corner; rings without two corners are halved."""
    ring = np.repeat(np.arange(len(starts) - 1), np.diff(starts))
    cut = corner.copy()
    cut[starts[:-1]] = True
    cut[starts[1:] - 1] = True
    inner = np.bincount(ring[cut], minlength=len(starts) - 1)
    lonely = np.flatnonzero(inner <= 2)
    cut[(starts[lonely] + starts[lonely + 1] - 1) // 2] = True
    at = np.flatnonzero(cut)
    same = ring[at[:-1]] == ring[at[1:]]
    first, last = at[:-1][same], at[1:][same]
    # very long smooth stretches are shared out, so that all are done in about the same time
    parts = np.maximum(1, np.round((last - first) / LONGEST_STRETCH).astype(np.int64))
    piece = np.repeat(np.arange(len(first)), parts)
    begin = np.concatenate([[0], np.cumsum(parts)[:-1]])
    n = np.arange(len(piece)) - begin[piece]
    span = (last - first)[piece]
    return first[piece] + span * n // parts[piece], first[piece] + span * (n + 1) // parts[piece]


@dataclass(frozen=True)
class _Fitted:
    curves: Complex
    worst: Floats
    """Farthest miss in tolerances."""


@dataclass(frozen=True)
class _Job:
    """Opened rings with what is known at each point, and fits of any stretches of them.

    Points are complex numbers: half the work of pairs, and a product turns and scales.
    """

    points: Complex
    place: Complex
    tangent: Complex
    corner: NDArray[np.bool_]
    followed: NDArray[np.bool_]
    tolerance: Floats
    slack: float
    """How many tolerances a single noisy point may lie off."""

    def cover(self, first: Ints, last: Ints) -> tuple[Ints, Ints]:
        """Cover every stretch with few curves: each goes as far as the tolerance lets it.

        All stretches advance side by side; how far a curve reaches is found by doubling and then by
        halving, to within an eighth of its length.
        """
        done: list[tuple[Ints, Ints]] = []
        at, end = first.copy(), last.copy()
        reach = np.minimum(at + 24, end)
        good, bad = at.copy(), end + 1
        while len(at):
            fit = self.fit(at, reach)
            short = reach - at <= 3
            fine = (fit.worst <= 1.0) | short
            good = np.where(fine, np.maximum(good, reach), good)
            bad = np.where(fine, bad, np.minimum(bad, reach))
            settled = (good >= end) | (
                (good > at) & (bad - good <= np.maximum(1, (good - at) // 8))
            )
            if settled.any():
                done.append((at[settled], good[settled]))
                length = (good - at)[settled]
                at[settled] = good[settled]
                reach[settled] = np.minimum(end[settled], at[settled] + length)
                bad[settled] = end[settled] + 1
                good[settled] = at[settled]
                # a last stub of a few points would be a node wasted
                alive = at < end
                at, end, reach, good, bad, settled = (
                    v[alive] for v in (at, end, reach, good, bad, settled)
                )
            open_end = bad > end
            longer = np.minimum(end, at + 2 * np.maximum(good - at, 3))
            between = np.maximum(at + 3, (np.maximum(good, at + 3) + bad) // 2)
            trial = np.where(open_end, longer, np.minimum(between, bad - 1))
            reach = np.where(settled, reach, np.minimum(np.maximum(trial, at + 1), end))
        begin = np.concatenate([a for a, _ in done])
        order = np.argsort(begin)
        return begin[order], np.concatenate([b for _, b in done])[order]

    def _ends(self, first: Ints, last: Ints) -> tuple[Complex, Complex, Complex, Complex]:
        """End points and unit end tangents (both pointing into the stretch)."""
        p0, p3 = self.place[first], self.place[last]
        # at a corner the direction is taken from the stretch's own side
        span = np.clip((last - first) // 2, 1, 5)
        own0 = _heading(
            p0, self.points[first + span], self.points[np.minimum(first + 2 * span, last)]
        )
        own1 = _heading(
            p3, self.points[last - span], self.points[np.maximum(last - 2 * span, first)]
        )
        t0 = np.where(self.corner[first], own0, self.tangent[first])
        t1 = np.where(self.corner[last], own1, -self.tangent[last])
        return p0, p3, t0, t1

    def fit(self, first: Ints, last: Ints, rounds: int = 4) -> _Fitted:  # long: one loop over runs
        """One cubic to each stretch ``first[i]..last[i]`` of points, with its farthest miss."""
        p0, p3, t0, t1 = self._ends(first, last)
        counts = last - first + 1
        begin = np.concatenate([[0], np.cumsum(counts)[:-1]])
        stretch = np.repeat(np.arange(len(first)), counts)
        local = np.arange(len(stretch)) - begin[stretch]
        index = first[stretch] + local
        weight = self.followed[index]
        t = local / (counts - 1)[stretch]
        inner = (local > 0) & (local < (counts - 1)[stretch])
        # from its own start, in units of its chord's own frame, nothing is lost to cancellation
        q = self.points[index] - p0[stretch]
        chord = p3 - p0
        dot = (np.conj(t0) * t1).real
        c0, c1, chords = np.conj(t0)[stretch], np.conj(t1)[stretch], chord[stretch]
        arc = (counts - 1) * STEP_PX
        for turn in range(rounds):
            s = 1.0 - t
            b1, b2 = 3.0 * s * s * t * weight, 3.0 * s * t * t * weight
            rest = q - chords * (t * t * (3.0 - 2.0 * t))
            c11 = np.add.reduceat(b1 * b1, begin)
            c22 = np.add.reduceat(b2 * b2, begin)
            c12 = np.add.reduceat(b1 * b2, begin) * dot
            x1 = np.add.reduceat(b1 * (c0 * rest).real, begin)
            x2 = np.add.reduceat(b2 * (c1 * rest).real, begin)
            det = c11 * c22 - c12 * c12
            flat = np.abs(det) <= 1e-9 * c11 * c22
            safe = np.where(flat, 1.0, det)
            a0 = (x1 * c22 - x2 * c12) / safe
            a1 = (c11 * x2 - c12 * x1) / safe
            bad = flat | (a0 < 0.02 * arc) | (a1 < 0.02 * arc) | (a0 > 0.9 * arc)
            bad |= a1 > 0.9 * arc
            plain = np.maximum(np.abs(chord), 1e-9) / 3.0
            a0, a1 = np.where(bad, plain, a0), np.where(bad, plain, a1)
            # power form: k1 t + k2 t^2 + k3 t^3
            k1 = 3.0 * t0 * a0
            k2 = 3.0 * (chord + t1 * a1) - 2.0 * k1
            k3 = chord - k1 - k2
            e1, e2, e3 = k1[stretch], k2[stretch], k3[stretch]
            gap = ((e3 * t + e2) * t + e1) * t - q
            v = (3.0 * e3 * t + 2.0 * e2) * t + e1
            if turn == rounds - 1:
                break
            a = 6.0 * e3 * t + 2.0 * e2
            cv = np.conj(v)
            top = (cv * gap).real
            speed = (cv * v).real
            bottom = speed + (np.conj(gap) * a).real
            bottom = np.where(bottom > 1e-9, bottom, speed + 1e-9)
            t = np.where(inner, np.clip(t - top / bottom, 0.0, 1.0), t)
        # noise of single points is averaged out over a stretch of contour before it is judged
        side = (np.conj(v) * gap).imag / np.maximum(np.abs(v), 1e-9) * weight
        total = np.concatenate([[0.0], np.cumsum(side)])
        n = np.arange(len(side))
        low = np.maximum(n - CALM // 2, begin[stretch])
        high = np.minimum(n + CALM // 2 + 1, (begin + counts)[stretch])
        calm = np.abs(total[high] - total[low]) / (high - low)
        miss = np.maximum(calm, np.abs(gap) * weight / self.slack)
        worst = np.maximum.reduceat(miss / self.tolerance[index], begin)
        curves = np.stack([p0, p0 + t0 * a0, p3 + t1 * a1, p3], axis=1)
        return _Fitted(curves, worst)


def _heading(start: Complex, one: Complex, two: Complex) -> Complex:
    """Unit direction at ``start`` of the parabola through it and two later points."""
    s1 = np.maximum(np.abs(one - start), 1e-9)
    s2 = s1 + np.maximum(np.abs(two - one), 1e-9)
    way = s2**2 * (one - start) - s1**2 * (two - start)
    return np.asarray(way / np.maximum(np.abs(way), 1e-12))
