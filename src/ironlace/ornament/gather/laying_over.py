"""Laying one ornament over another: its own mirror image, or another example's photograph.

First a rough place is found by correlating smoothed pictures over all shifts and many angles (by
FFT); then outline points are drawn onto the other outlines, at first rigidly, then with a smooth
stretch, for transfers laid by hand do not lie alike to a tenth of a millimetre (iterative closest
point with point-to-line distances, Chen and Medioni 1992; the stretch is a bending-limited grid,
as in Szeliski and Lavallee 1996). Worn edges have no counterpart and drop out as outliers.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats
from ironlace.ornament.outline.contours import contours

GRID_MM: Final = 25.0
"""Spacing of the stretch's grid: shorter waves are drawing, not stretching."""
STIFFNESS: Final = ((0.8, 100.0), (0.6, 30.0), (0.5, 8.0), (0.4, 3.0), (0.35, 1.5), (0.3, 1.5))
"""Reach in mm and weight of bending, from the first look to the last."""
REACH_HOPED_MM: Final = 4.0
"""How far off a start from a picture of 2 mm to the pixel may lie; as in the step after it."""
LEAST_MATCH: Final = 0.3
"""Share of the outline that must find its like before a mirror or a second example is believed."""

SURE_MIRROR: Final = 0.6
"""Share of the outline matched from which a mirror is believed without asking for turns. A
judgement: of ornaments that are their own by a turn alone a mirror matched 0.30 to 0.48."""
TURNED_BETTER: Final = 1.5
"""So many times the mirror's share that a turn must match for the mirror to be a chance of what is
turned: of one that has both, wear takes as much from either. A judgement."""
_TURNS_OF: Final = (2, 3, 4, 5, 6, 8, 10, 12)
"""Of how many like parts about a middle an ornament may be made."""


@dataclass(frozen=True, eq=False)
class Laying:
    """Where each place of this flat finds its like: in the mirror, or on another example.

    Attributes
    ----------
    linear, shift
        ``x -> linear @ x + shift`` in mm, the rigid part; a negative determinant is a mirror.
    grid_origin_mm, stretch_mm
        Further displacement on a grid ``GRID_MM`` apart over this flat, shape (rows, columns, 2).
    matched
        Share of the outline that found its like within a third of a millimetre.
    by_chance
        What that share would be for outlines laid at random.
    residual_mm
        Median distance of those that did.
    """

    linear: Floats
    shift: Floats
    grid_origin_mm: tuple[float, float]
    stretch_mm: Floats
    matched: float
    by_chance: float
    residual_mm: float

    @property
    def is_mirror(self) -> bool:
        """Whether it turns left into right."""
        return float(np.linalg.det(self.linear)) < 0

    @property
    def believed(self) -> bool:
        """Whether enough of the outline found its like for this not to be chance."""
        return self.matched >= LEAST_MATCH and self.matched > 3.0 * self.by_chance

    @property
    def axis(self) -> tuple[tuple[float, float], float]:
        """A point on the mirror axis in mm and its direction in radians (x towards y)."""
        angle = 0.5 * math.atan2(self.linear[1, 0], self.linear[0, 0])
        foot = self.shift / 2.0
        return (float(foot[0]), float(foot[1])), angle

    def apply(self, xy: Floats) -> Floats:
        """Places of the like, (..., 2) mm to (..., 2) mm."""
        at = (xy - np.asarray(self.grid_origin_mm)) / GRID_MM
        shape = xy.shape[:-1]
        flat = at.reshape(-1, 2)
        index, weight = _grid_weights(flat, self.stretch_mm.shape[:2])
        stretch = np.einsum("nk,nkd->nd", weight, self.stretch_mm.reshape(-1, 2)[index]).reshape(
            *shape, 2
        )
        return np.asarray(xy @ self.linear.T + self.shift + stretch)

    def to_arrays(self) -> dict[str, NDArray[Any]]:
        """Everything as named arrays, for a checkpoint."""
        return {
            "linear": self.linear,
            "shift": self.shift,
            "grid_origin_mm": np.array(self.grid_origin_mm),
            "stretch_mm": self.stretch_mm,
            "quality": np.array([self.matched, self.by_chance, self.residual_mm]),
        }

    @classmethod
    def from_arrays(cls, arrays: Mapping[str, NDArray[Any]]) -> Laying:
        """The inverse of `to_arrays`."""
        x, y = (float(v) for v in arrays["grid_origin_mm"])
        matched, chance, residual = (float(v) for v in arrays["quality"])
        return cls(
            np.asarray(arrays["linear"], np.float64),
            np.asarray(arrays["shift"], np.float64),
            (x, y),
            np.asarray(arrays["stretch_mm"], np.float64),
            matched,
            chance,
            residual,
        )


@dataclass(frozen=True, eq=False)
class Edges:
    """Outline points of one coverage picture, with outward normals, in mm."""

    points: Floats
    normals: Floats
    bounds_mm: tuple[float, float, float, float]


def edges_of(
    coverage: NDArray[np.uint8], px_per_mm: float, origin_mm: tuple[float, float]
) -> Edges:
    """Outline points about 0.2 mm apart."""
    step = 0.2 * px_per_mm
    found = contours(
        coverage, least_area_px=0.1 * px_per_mm**2, least_hole_px=0.1 * px_per_mm**2, step_px=step
    )
    h, w = coverage.shape
    bounds = (*origin_mm, origin_mm[0] + w / px_per_mm, origin_mm[1] + h / px_per_mm)
    if len(found.points) == 0:
        return Edges(np.zeros((0, 2)), np.zeros((0, 2)), bounds)
    following = np.arange(1, len(found.points) + 1)
    following[found.starts[1:] - 1] = found.starts[:-1]
    before = np.empty_like(following)
    before[following] = np.arange(len(following))
    tangent = found.points[following] - found.points[before]
    tangent /= np.maximum(np.linalg.norm(tangent, axis=1, keepdims=True), 1e-9)
    normals = np.stack([tangent[:, 1], -tangent[:, 0]], axis=1)
    return Edges((found.points + 0.5) / px_per_mm + np.asarray(origin_mm), normals, bounds)


def find_mirror(
    coverage: NDArray[np.uint8],
    px_per_mm: float,
    origin_mm: tuple[float, float],
    *,
    axis: tuple[tuple[float, float], float] | None = None,
    at_a_glance: bool = False,
) -> Laying | None:
    """The ornament's mirror axis, with the stretch between its halves; None if it has none.

    Parameters
    ----------
    coverage, px_per_mm, origin_mm
        Gilt found, as in `GiltMap`.
    axis
        A point on the axis (mm) and its direction (radians) to start from instead of searching.
    at_a_glance
        Whether to search a coarser picture and follow two starts only, in a third of the time.
    """
    edges = edges_of(coverage, px_per_mm, origin_mm)
    if len(edges.points) < 60:
        return None
    if axis is None:
        mm = 2.0 if at_a_glance else 1.0
        picture, origin = _rough(coverage, px_per_mm, origin_mm, mm)
        starts = _mirror_starts(picture, origin, mm, count=2 if at_a_glance else 4)
    else:
        (x, y), angle = axis
        starts = [_reflection(np.array([x, y]), angle)]
    if at_a_glance and not _hopeful(edges, starts):
        return None
    laying = _best(edges, edges, starts)
    if axis is not None or laying is None or laying.matched >= SURE_MIRROR:
        return laying
    turned = _matched_by_turn(edges, *_rough(coverage, px_per_mm, origin_mm, 1.0))
    return laying if turned < TURNED_BETTER * laying.matched else None


def _matched_by_turn(edges: Edges, picture: NDArray[np.float32], origin: Floats) -> float:
    """The most of an outline that finds its like by a turn about some middle; 0 where none does.

    What is left of a worn ornament agrees no better with its turned self than with its mirror
    image, if it has both; where it does, a mirror that agrees in part only is none.
    """
    from scipy.spatial import cKDTree

    tree = cKDTree(edges.points)
    best = 0.0
    for parts in _TURNS_OF:
        angle = 2.0 * math.pi / parts
        linear, shift = _rigid(edges, edges, tree, *_turn_start(picture, origin, angle))
        best = max(best, _match(edges, edges, tree, linear, shift, 0.34)[0])
    return best


def _turn_start(picture: NDArray[np.float32], origin: Floats, angle: float) -> Start:
    """The shift under which a picture at pixels of 1 mm, turned, lies best on itself."""
    from scipy import fft

    h, w = picture.shape
    side = math.ceil(math.hypot(h, w)) + 4
    half = (side - 1) / 2.0
    middle = np.array([(w - 1) / 2.0, (h - 1) / 2.0])
    c, s = math.cos(angle), math.sin(angle)
    linear = np.array([[c, -s], [s, c]])
    m = np.column_stack([linear, np.array([half, half]) - linear @ middle])
    turned = cv2.warpAffine(picture, m, (side, side), flags=cv2.INTER_LINEAR)
    size = (cv2.getOptimalDFTSize(2 * side), cv2.getOptimalDFTSize(2 * side))
    corr = fft.irfft2(fft.rfft2(picture, size) * np.conj(fft.rfft2(turned, size)), size)
    dy, dx = divmod(int(np.argmax(corr)), corr.shape[1])
    dy, dx = dy - size[0] * (dy > size[0] // 2), dx - size[1] * (dx > size[1] // 2)
    # a place p of the picture lies at half + linear (p - middle) when turned, and at that + d
    at = np.array([half + dx, half + dy]) + origin
    return linear, at - linear @ (middle + origin)


def _hopeful(edges: Edges, starts: list[Start]) -> bool:
    """Whether any start brings nearly enough of an outline onto itself to be followed up."""
    from scipy.spatial import cKDTree

    few = Edges(edges.points[::4], edges.normals[::4], edges.bounds_mm)
    tree = cKDTree(edges.points)
    return any(
        _match(few, edges, tree, linear, shift, REACH_HOPED_MM)[0] >= LEAST_MATCH
        for linear, shift in starts
    )


def lay_over(
    coverage: NDArray[np.uint8],
    other: NDArray[np.uint8],
    px_per_mm: float,
    origin_mm: tuple[float, float],
    *,
    mirrored: bool = False,
    other_px_per_mm: float | None = None,
    other_origin_mm: tuple[float, float] | None = None,
    most_turn_deg: float = 12.0,
) -> Laying | None:
    """How ``other``, another example, lies under this ornament; None if it does not match.

    Parameters
    ----------
    coverage, px_per_mm, origin_mm
        Gilt found on this flat.
    other, other_px_per_mm, other_origin_mm
        Gilt found on the other, on the same grid unless said otherwise.
    mirrored
        Whether the other is the ornament's left hand to this one's right.
    most_turn_deg
        How far the strips may have been laid askew to one another.
    """
    scale2, origin2 = other_px_per_mm or px_per_mm, other_origin_mm or origin_mm
    here, there = edges_of(coverage, px_per_mm, origin_mm), edges_of(other, scale2, origin2)
    if min(len(here.points), len(there.points)) < 60:
        return None
    a, at_a = _rough(coverage, px_per_mm, origin_mm)
    b, at_b = _rough(other, scale2, origin2)
    starts = [] if mirrored else [(np.eye(2), np.zeros(2))]
    starts += _turned_starts(a, at_a, b, at_b, mirrored, most_turn_deg)
    return _best(here, there, starts)


Start = tuple[Floats, Floats]


def laying_from(here: Edges, there: Edges, start: Start) -> Laying | None:
    """The laying near a start (linear, shift in mm), stretch included; None if it does not match.

    Parameters
    ----------
    here, there
        Outline points of this flat and of what lies under it; may be the same.
    start
        Where to begin: ``x -> linear @ x + shift``.
    """
    return _best(here, there, [start])


def _rough(
    coverage: NDArray[np.uint8],
    px_per_mm: float,
    origin_mm: tuple[float, float],
    mm: float = 1.0,
) -> tuple[NDArray[np.float32], Floats]:
    """Coverage at pixels of ``mm``, strokes brought out, and the mm place of its first pixel."""
    h, w = coverage.shape
    size = (max(8, round(w / px_per_mm / mm)), max(8, round(h / px_per_mm / mm)))
    small = cv2.resize(coverage, size, interpolation=cv2.INTER_AREA).astype(np.float32)
    band = cv2.GaussianBlur(small, (0, 0), 0.8) - cv2.GaussianBlur(small, (0, 0), 4.0)
    return np.asarray(band, np.float32), np.asarray(origin_mm) + 0.5 * mm


def _reflection(point: Floats, angle: float) -> Start:
    c, s = math.cos(2 * angle), math.sin(2 * angle)
    linear = np.array([[c, s], [s, -c]])
    return linear, point - linear @ point


def _mirror_starts(
    picture: NDArray[np.float32], origin: Floats, mm: float = 1.0, count: int = 4
) -> list[Start]:
    from scipy import fft

    h, w = picture.shape
    side = math.ceil(math.hypot(h, w)) + 4
    middle = np.array([(w - 1) / 2.0, (h - 1) / 2.0])
    half = (side - 1) / 2.0
    size = (cv2.getOptimalDFTSize(2 * side), cv2.getOptimalDFTSize(2 * side))
    laid = np.zeros((side, side), np.float32)
    cv2.warpAffine(
        picture, np.array([[1, 0, half - middle[0]], [0, 1, half - middle[1]]]), (side, side), laid
    )
    fa = fft.rfft2(laid, size)
    energy = float(np.sum(laid * laid)) + 1e-9
    found: list[tuple[float, float, float]] = []
    reach = np.arange(-side + 1, side)
    for degree in np.arange(0.0, 180.0, 1.0):
        angle = math.radians(degree)
        c, s = math.cos(2 * angle), math.sin(2 * angle)
        m = np.array([[c, s, half - c * half - s * half], [s, -c, half - s * half + c * half]])
        turned = cv2.warpAffine(laid, m, (side, side), flags=cv2.INTER_LINEAR)
        corr = fft.irfft2(fa * np.conj(fft.rfft2(turned, size)), size)
        # a mirror shifts along its normal only
        dx = np.round(-math.sin(angle) * reach).astype(int)
        dy = np.round(math.cos(angle) * reach).astype(int)
        line = corr[dy % size[0], dx % size[1]]
        best = int(np.argmax(line))
        found.append((float(line[best]) / energy, angle, float(reach[best])))
    found.sort(reverse=True)
    kept: list[tuple[float, float, float]] = []
    for score, angle, offset in found:
        apart = [abs((angle - k[1] + math.pi / 2) % math.pi - math.pi / 2) for k in kept]
        if all(v > math.radians(4) for v in apart):
            kept.append((score, angle, offset))
        if len(kept) == count:
            break
    starts = []
    for _, angle, offset in kept:
        normal = np.array([-math.sin(angle), math.cos(angle)])
        starts.append(_reflection(origin + mm * (middle + normal * offset / 2.0), angle))
    return starts


def _turned_starts(
    a: NDArray[np.float32],
    at_a: Floats,
    b: NDArray[np.float32],
    at_b: Floats,
    mirrored: bool,
    most_turn_deg: float,
) -> list[Start]:
    """Turns and shifts that bring places of ``a`` onto ``b``."""
    from scipy import fft

    side = math.ceil(max(math.hypot(*a.shape), math.hypot(*b.shape))) + 4
    half = (side - 1) / 2.0
    size = (cv2.getOptimalDFTSize(2 * side), cv2.getOptimalDFTSize(2 * side))
    middle = np.array([(a.shape[1] - 1) / 2.0, (a.shape[0] - 1) / 2.0])
    laid_a = cv2.warpAffine(
        a, np.array([[1, 0, half - middle[0]], [0, 1, half - middle[1]]]), (side, side)
    )
    fb = fft.rfft2(b, size)
    found: list[tuple[float, float, Floats, Floats]] = []
    turns = np.arange(-most_turn_deg, most_turn_deg + 0.5, 1.0)
    if mirrored:
        turns = np.arange(0.0, 360.0, 1.5)
    for degree in turns:
        angle = math.radians(degree)
        c, s = math.cos(angle), math.sin(angle)
        linear = np.array([[c, s], [s, -c]]) if mirrored else np.array([[c, -s], [s, c]])
        m = np.column_stack([linear, np.array([half, half]) - linear @ (half, half)])
        turned = cv2.warpAffine(laid_a, m, (side, side), flags=cv2.INTER_LINEAR)
        corr = fft.irfft2(fb * np.conj(fft.rfft2(turned, size)), size)
        best = int(np.argmax(corr))
        dy, dx = divmod(best, corr.shape[1])
        dy, dx = dy - size[0] * (dy > size[0] // 2), dx - size[1] * (dx > size[1] // 2)
        # pixel p of a lies at half + linear (p - middle) when turned, and at that + d in b
        centre_b = np.array([half + dx, half + dy])
        shift = (centre_b + at_b) - linear @ (middle + at_a)
        found.append((float(corr.flat[best]), angle, linear, shift))
    found.sort(key=lambda f: -f[0])
    kept: list[tuple[float, float, Floats, Floats]] = []
    for item in found:
        if all(abs(math.remainder(item[1] - k[1], 2 * math.pi)) > math.radians(3.5) for k in kept):
            kept.append(item)
        if len(kept) == 3:
            break
    return [(linear, shift) for _, _, linear, shift in kept]


def _best(here: Edges, there: Edges, starts: list[Start]) -> Laying | None:
    from scipy.spatial import cKDTree

    tree = cKDTree(there.points)
    rough = [_rigid(here, there, tree, linear, shift) for linear, shift in starts]
    scored = sorted(rough, key=lambda s: -_match(here, there, tree, s[0], s[1], 1.0)[0])
    if not scored:
        return None
    laying = _stretched(here, there, tree, *scored[0])
    return laying if laying.believed else None


def _pairs(
    here: Edges, there: Edges, tree: Any, at: Floats, linear: Floats, reach: float
) -> tuple[NDArray[np.bool_], NDArray[np.int64], Floats]:
    """Nearest outline points within reach whose normals agree; with signed distances along them."""
    distance, index = tree.query(at, distance_upper_bound=reach)
    near = np.isfinite(distance)
    safe = np.where(near, index, 0)
    turned = here.normals @ linear.T
    near &= np.sum(turned * there.normals[safe], axis=1) > 0.75
    signed = np.sum((at - there.points[safe]) * there.normals[safe], axis=1)
    return near, safe, signed


def _rigid(here: Edges, there: Edges, tree: Any, linear: Floats, shift: Floats) -> Start:
    points = here.points
    pivot = points.mean(axis=0)
    for reach in (4.0, 3.0, 2.2, 1.6, 1.2, 1.0, 0.8, 0.8):
        at = points @ linear.T + shift
        near, index, signed = _pairs(here, there, tree, at, linear, reach)
        if int(near.sum()) < 20:
            break
        n = there.normals[index[near]]
        middle = linear @ pivot + shift
        arm = at[near] - middle
        turn = n[:, 1] * arm[:, 0] - n[:, 0] * arm[:, 1]
        a = np.column_stack([turn, n])
        weight = (1.0 - np.clip(np.abs(signed[near]) / reach, 0, 1) ** 2) ** 2
        left = (a * weight[:, None]).T @ a + np.diag([1e-6, 1e-9, 1e-9])
        step = np.linalg.solve(left, -(a * weight[:, None]).T @ signed[near])
        c, s = math.cos(step[0]), math.sin(step[0])
        rotation = np.array([[c, -s], [s, c]])
        shift = rotation @ (shift - middle) + middle + step[1:]
        linear = rotation @ linear
    return linear, shift


def _grid_weights(at: Floats, shape: tuple[int, int]) -> tuple[NDArray[np.int64], Floats]:
    """Indices and weights of the 16 nodes of a uniform cubic B-spline around each place."""
    rows, columns = shape
    cell = np.floor(at).astype(np.int64)
    t = at - cell
    weights = []
    for k in range(2):
        u = t[:, k]
        weights.append(
            np.stack(
                [
                    (1 - u) ** 3 / 6,
                    (3 * u**3 - 6 * u**2 + 4) / 6,
                    (-3 * u**3 + 3 * u**2 + 3 * u + 1) / 6,
                    u**3 / 6,
                ],
                axis=1,
            )
        )
    x = np.clip(cell[:, :1] + np.arange(-1, 3), 0, columns - 1)
    y = np.clip(cell[:, 1:] + np.arange(-1, 3), 0, rows - 1)
    index = (y[:, :, None] * columns + x[:, None, :]).reshape(len(at), 16)
    weight = (weights[1][:, :, None] * weights[0][:, None, :]).reshape(len(at), 16)
    return index, weight


def _stretched(here: Edges, there: Edges, tree: Any, linear: Floats, shift: Floats) -> Laying:
    from scipy import sparse
    from scipy.sparse.linalg import spsolve

    left, top, right, bottom = here.bounds_mm
    columns = math.ceil((right - left) / GRID_MM) + 4
    rows = math.ceil((bottom - top) / GRID_MM) + 4
    origin = (left - GRID_MM, top - GRID_MM)
    index, weight = _grid_weights((here.points - np.asarray(origin)) / GRID_MM, (rows, columns))
    stretch = np.zeros((rows * columns, 2))
    bend = _bending(rows, columns)
    base = here.points @ linear.T + shift
    for reach, stiff in STIFFNESS:
        at = base + np.einsum("nk,nkd->nd", weight, stretch[index])
        near, foot, signed = _pairs(here, there, tree, at, linear, reach)
        if int(near.sum()) < 40:
            break
        n = there.normals[foot[near]]
        count = int(near.sum())
        row = np.repeat(np.arange(count), 16)
        b = sparse.csr_matrix(
            (weight[near].ravel(), (row, index[near].ravel())), shape=(count, rows * columns)
        )
        a: Any = sparse.hstack([b.multiply(n[:, :1]), b.multiply(n[:, 1:])], format="csr")
        # what is wanted is the whole stretch, not the step, so that bending is held as a whole
        now = np.sum(n * np.einsum("nk,nkd->nd", weight[near], stretch[index[near]]), axis=1)
        target = now - signed[near]
        w = sparse.diags((1.0 - np.clip(np.abs(signed[near]) / reach, 0, 1) ** 2) ** 2)
        both = sparse.block_diag([bend, bend])
        left_side = (
            a.T @ w @ a + stiff * both + 0.05 * sparse.identity(2 * rows * columns)
        ).tocsc()
        solved = spsolve(left_side, a.T @ (w @ target))
        stretch = np.asarray(solved).reshape(2, -1).T
    at = base + np.einsum("nk,nkd->nd", weight, stretch[index])
    near, _, signed = _pairs(here, there, tree, at, linear, 0.34)
    left, top, right, bottom = there.bounds_mm
    inside = np.all((at > (left, top)) & (at < (right, bottom)), axis=1)
    matched = float(near.sum() / max(int(inside.sum()), 1))
    residual = float(np.median(np.abs(signed[near]))) if near.any() else math.inf
    return Laying(
        linear,
        shift,
        origin,
        stretch.reshape(rows, columns, 2),
        matched,
        _by_chance(there),
        residual,
    )


def _match(
    here: Edges, there: Edges, tree: Any, linear: Floats, shift: Floats, reach: float
) -> tuple[float, float]:
    at = here.points @ linear.T + shift
    near, _, signed = _pairs(here, there, tree, at, linear, reach)
    return float(near.mean()), float(np.median(np.abs(signed[near]))) if near.any() else math.inf


def _by_chance(there: Edges) -> float:
    """Share of random outline points that would find one of like direction within reach."""
    low, high = there.points.min(axis=0), there.points.max(axis=0)
    area = max(float(np.prod(high - low)), 1.0)
    band = 0.2 * len(there.points) * 2.0 * 0.34
    agree = 2.0 * math.acos(0.75) / (2.0 * math.pi)
    return min(1.0, band / area) * agree


def _bending(rows: int, columns: int) -> Any:
    """Quadratic form of the grid's second differences along rows, columns and diagonals."""
    from scipy import sparse

    def second(n: int) -> Any:
        return sparse.diags([1.0, -2.0, 1.0], [0, 1, 2], shape=(n - 2, n))

    def first(n: int) -> Any:
        return sparse.diags([-1.0, 1.0], [0, 1], shape=(n - 1, n))

    down = sparse.kron(second(rows), sparse.identity(columns))
    across = sparse.kron(sparse.identity(rows), second(columns))
    twist = sparse.kron(first(rows), first(columns))
    return (down.T @ down + across.T @ across + 2.0 * twist.T @ twist).tocsr()
