"""The drawing: closed curves in surface millimetres that know their evidence.

A `ClosedPath` is a ring of cubic Bézier curves; every curve (a *stretch*) carries a grade and the
source it was taken from. Paths of one layer are filled even-odd, so a path inside another is a
hole.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats
from ironlace.evidence.grades import Grade, weakest
from ironlace.ornament.errors import DrawingError

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry


HERE: Final = "here"
"""Source of a stretch seen in the photograph itself."""

A_SHARE_THAT_TELLS: Final = 0.01
"""Of the outline's length, from which a grade counts for the whole drawing: one doubtful spot does
not make a drawing doubtful. A rule of this program, no source."""
GAUSS_T, GAUSS_W = np.polynomial.legendre.leggauss(16)


@dataclass(frozen=True, eq=False)
class BlindPlace:
    """A place of which the photographs cannot say whether gilt lies there.

    Attributes
    ----------
    why
        In a word or two, such as "glare".
    corners_mm
        Its edge, shape (n, 2).
    """

    why: str
    corners_mm: Floats

    @property
    def area_mm2(self) -> float:
        """Its area."""
        x, y = self.corners_mm.T
        return float(abs(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))) / 2.0)

    def told(self) -> dict[str, Any]:
        """Plain figures, ready for JSON."""
        return {
            "why": self.why,
            "area_mm2": round(self.area_mm2, 1),
            "corners_mm": np.round(self.corners_mm, 2).tolist(),
        }


class FilledPlace(BlindPlace):
    """A slit, crack or bite that was closed by conjecture: gilt is drawn over it."""


@dataclass(frozen=True, eq=False)
class ClosedPath:
    """A closed ring of cubic curves.

    Attributes
    ----------
    curves
        Control points in mm, shape (n, 4, 2); curve i ends where curve i + 1 begins.
    grades
        One grade per curve.
    sources
        Where each curve was taken from: ``"here"``, ``"mirror"``, another example's name, ...
    layer
        Name of its colour.
    """

    curves: Floats
    grades: tuple[Grade, ...]
    sources: tuple[str, ...]
    layer: str = "gold"

    def __post_init__(self) -> None:
        n = len(self.curves)
        if self.curves.ndim != 3 or self.curves.shape[1:] != (4, 2) or n == 0:
            raise DrawingError(
                f"A path's curves have shape {self.curves.shape}; (curves, 4, 2) is needed."
            )
        if len(self.grades) != n or len(self.sources) != n:
            raise DrawingError(
                f"A path has {n} curves, {len(self.grades)} grades and {len(self.sources)} "
                "sources; each curve needs one of each."
            )
        ends = np.roll(self.curves[:, 0], -1, axis=0)
        gap = float(np.abs(self.curves[:, 3] - ends).max())
        if gap > 1e-6:
            raise DrawingError(f"A path has a gap of {gap:.4g} mm between two of its curves.")

    @classmethod
    def of(
        cls, curves: Floats, grade: Grade = Grade.SEEN, source: str = HERE, layer: str = "gold"
    ) -> ClosedPath:
        """A path with one grade and source throughout."""
        n = len(curves)
        return cls(np.asarray(curves, np.float64), (grade,) * n, (source,) * n, layer)

    @property
    def nodes(self) -> int:
        """How many nodes it has: as many as curves."""
        return len(self.curves)

    @cached_property
    def lengths(self) -> Floats:
        """Length of each curve in mm (Gauss-Legendre)."""
        speed = np.linalg.norm(curve_derivative(self.curves, (GAUSS_T + 1) / 2), axis=2)
        return np.asarray(speed @ GAUSS_W / 2.0)

    @property
    def area(self) -> float:
        """Signed area in mm^2, exact; positive when the path runs clockwise as seen (y down)."""
        p = self.curves - self.curves[0, 0]
        x, y = p[:, :, 0], p[:, :, 1]
        # Green's theorem over cubic Bernstein polynomials
        m = np.array([[0, 6, 3, 1], [-6, 0, 3, 3], [-3, -3, 0, 6], [-1, -3, -6, 0]]) / 20.0
        return float(np.einsum("ni,ij,nj->", x, m, y))

    def points(self, step_mm: float = 0.05) -> Floats:
        """Points along the path about ``step_mm`` apart, shape (m, 2), first not repeated."""
        counts = np.maximum(2, np.ceil(self.lengths / step_mm).astype(int))
        return sample_curves(self.curves, counts)[0]

    def polygon(self, tolerance_mm: float = 0.002) -> Floats:
        """Corners of a polygon no farther than ``tolerance_mm`` from the path."""
        return ring_polygon(self.curves, tolerance_mm)

    def reversed(self) -> ClosedPath:
        """The same ring the other way round."""
        return ClosedPath(
            self.curves[::-1, ::-1].copy(), self.grades[::-1], self.sources[::-1], self.layer
        )


@dataclass(frozen=True, eq=False)
class Drawing:
    """Closed paths and the window they are seen in.

    Attributes
    ----------
    paths
        The closed paths.
    bounds_mm
        Left, top, right, bottom of the drawing's window, strip coordinates, y down.
    colours
        sRGB 0..255 of each layer.
    blind
        Places of which the photographs cannot say what lies there.
    filled
        Places inside the paint that were closed by conjecture, where no outline tells it.
    """

    paths: tuple[ClosedPath, ...]
    bounds_mm: tuple[float, float, float, float]
    colours: Mapping[str, tuple[int, int, int]] = field(
        default_factory=lambda: {"gold": (184, 144, 64)}
    )
    blind: tuple[BlindPlace, ...] = ()
    filled: tuple[FilledPlace, ...] = ()

    @property
    def nodes(self) -> int:
        """Nodes of all paths."""
        return sum(p.nodes for p in self.paths)

    @property
    def painted_mm(self) -> tuple[float, float]:
        """Width and height of what is drawn, mm; of the window when nothing is."""
        if not self.paths:
            left, top, right, bottom = self.bounds_mm
            return right - left, bottom - top
        at = np.concatenate([p.polygon() for p in self.paths])
        width, height = at.max(axis=0) - at.min(axis=0)
        return float(width), float(height)

    @property
    def layers(self) -> tuple[str, ...]:
        """Names of its layers, in the order they appear."""
        return tuple(dict.fromkeys(p.layer for p in self.paths))

    @property
    def length_mm(self) -> float:
        """Length of all outlines."""
        return float(sum(p.lengths.sum() for p in self.paths))

    def length_by_grade(self) -> dict[Grade, float]:
        """Length of outline in mm for every grade."""
        out = dict.fromkeys(Grade, 0.0)
        for path in self.paths:
            for grade, length in zip(path.grades, path.lengths, strict=True):
                out[grade] += float(length)
        return out

    def length_by_source(self) -> dict[str, float]:
        """Length of outline in mm for every source."""
        out: dict[str, float] = {}
        for path in self.paths:
            for source, length in zip(path.sources, path.lengths, strict=True):
                out[source] = out.get(source, 0.0) + float(length)
        return out

    def grade(self) -> Grade:
        """The grade the whole is told by: the weakest that a telling share of it has."""
        length = self.length_mm
        by_grade = self.length_by_grade()
        present = [g for g, part in by_grade.items() if part >= A_SHARE_THAT_TELLS * length]
        return weakest(present) if length > 0 and present else Grade.CONJECTURED

    def shares_in_words(self) -> str:
        """The shares of its length that each grade has, such as ``97.0 % seen, 3.0 % inferred``."""
        length = self.length_mm
        return ", ".join(
            f"{100 * part / length:.1f} % {grade}"
            for grade, part in self.length_by_grade().items()
            if part > 0
        )

    def with_paths(self, paths: Iterable[ClosedPath]) -> Drawing:
        """The same drawing with other paths."""
        return dataclasses.replace(self, paths=tuple(paths))

    def nesting(self) -> tuple[int | None, ...]:
        """For each path, the path of its layer it lies directly inside, or None."""
        from shapely import Polygon, STRtree, make_valid, points

        rings = [
            Polygon(p.polygon(0.01)) if len(p.polygon(0.01)) > 2 else Polygon() for p in self.paths
        ]
        shapes = [r if r.is_valid else make_valid(r) for r in rings]
        if not shapes:
            return ()
        tree = STRtree(shapes)
        inner = points(np.array([p.curves[0, 0] for p in self.paths]))
        area = np.array([abs(p.area) for p in self.paths])
        parent: list[int | None] = [None] * len(shapes)
        best = np.full(len(shapes), np.inf)
        for i, j in tree.query(inner, predicate="within").T:
            if (
                i != j
                and self.paths[i].layer == self.paths[j].layer
                and area[i] < area[j] < best[i]
            ):
                parent[i], best[i] = int(j), area[j]
        return tuple(parent)

    def to_arrays(self) -> dict[str, NDArray[Any]]:
        """Everything as named arrays, for a checkpoint."""
        sources = sorted({s for p in self.paths for s in p.sources})
        layers = sorted({p.layer for p in self.paths} | set(self.colours))
        return {
            "curves": np.concatenate([p.curves for p in self.paths])
            if self.paths
            else np.zeros((0, 4, 2)),
            "counts": np.array([p.nodes for p in self.paths], dtype=np.int64),
            "grades": np.array([str(g) for p in self.paths for g in p.grades], dtype=np.str_),
            "source_names": np.array(sources, dtype=np.str_),
            "sources": np.array(
                [sources.index(s) for p in self.paths for s in p.sources], np.int64
            ),
            "layer_names": np.array(layers, dtype=np.str_),
            "layers": np.array([layers.index(p.layer) for p in self.paths], dtype=np.int64),
            "colours": np.array([self.colours.get(n, (128, 128, 128)) for n in layers], np.int64),
            "bounds_mm": np.array(self.bounds_mm),
            **_places_to_arrays("blind", self.blind),
            **_places_to_arrays("filled", self.filled),
        }

    @classmethod
    def from_arrays(cls, arrays: Mapping[str, NDArray[Any]]) -> Drawing:
        """The inverse of `to_arrays`."""
        names = [str(n) for n in arrays["layer_names"]]
        sources = [str(arrays["source_names"][i]) for i in arrays["sources"]]
        grades = [Grade(str(g)) for g in arrays["grades"]]
        paths = []
        at = 0
        for count, layer in zip(arrays["counts"], arrays["layers"], strict=True):
            end = at + int(count)
            paths.append(
                ClosedPath(
                    np.asarray(arrays["curves"][at:end], np.float64),
                    tuple(grades[at:end]),
                    tuple(sources[at:end]),
                    names[int(layer)],
                )
            )
            at = end
        left, top, right, bottom = (float(v) for v in arrays["bounds_mm"])
        colours = {
            n: (int(c[0]), int(c[1]), int(c[2]))
            for n, c in zip(names, arrays["colours"], strict=True)
        }
        blind = tuple(BlindPlace(*one) for one in _places_from_arrays("blind", arrays))
        filled = tuple(FilledPlace(*one) for one in _places_from_arrays("filled", arrays))
        return cls(tuple(paths), (left, top, right, bottom), colours, blind, filled)


def _places_to_arrays(name: str, places: Sequence[BlindPlace]) -> dict[str, NDArray[Any]]:
    return {
        f"{name}_why": np.array([b.why for b in places], dtype=np.str_),
        f"{name}_counts": np.array([len(b.corners_mm) for b in places], dtype=np.int64),
        f"{name}_mm": np.concatenate([b.corners_mm for b in places])
        if places
        else np.zeros((0, 2)),
    }


def _places_from_arrays(name: str, arrays: Mapping[str, NDArray[Any]]) -> list[tuple[str, Floats]]:
    """Why and where; none from arrays that were kept before such places were."""
    if f"{name}_why" not in arrays or not len(arrays[f"{name}_why"]):
        return []
    parts = np.split(arrays[f"{name}_mm"], np.cumsum(arrays[f"{name}_counts"])[:-1])
    told = zip(arrays[f"{name}_why"], parts, strict=True)
    return [(str(why), np.asarray(corners, np.float64)) for why, corners in told]


def filled_area(paths: Iterable[ClosedPath], tolerance_mm: float) -> BaseGeometry:
    """What some paths fill, even-odd, as one shapely geometry; specks without corners fill none."""
    from shapely import Polygon, make_valid

    corners = [path.polygon(tolerance_mm) for path in paths]
    shapes = [make_valid(Polygon(ring)) for ring in corners if len(ring) >= 3]
    area: BaseGeometry = Polygon()
    for shape in sorted(shapes, key=lambda s: -s.area):
        area = area.symmetric_difference(shape)
    return area


def curve_points(curves: Floats, t: Floats) -> Floats:
    """Points of cubic curves (n, 4, 2) at parameters t (m,), shape (n, m, 2)."""
    s = 1.0 - t
    basis = np.stack([s**3, 3 * s * s * t, 3 * s * t * t, t**3], axis=1)
    return np.asarray(np.einsum("mk,nkd->nmd", basis, curves))


def curve_derivative(curves: Floats, t: Floats) -> Floats:
    """Derivatives of cubic curves (n, 4, 2) at parameters t (m,), shape (n, m, 2)."""
    s = 1.0 - t
    basis = np.stack([3 * s * s, 6 * s * t, 3 * t * t], axis=1)
    return np.asarray(np.einsum("mk,nkd->nmd", basis, np.diff(curves, axis=1)))


def sample_curves(curves: Floats, counts: NDArray[np.int64]) -> tuple[Floats, NDArray[np.int64]]:
    """``counts[i]`` points evenly in parameter on curve i, without its end, and their curve."""
    index = np.repeat(np.arange(len(curves)), counts)
    first = np.concatenate([[0], np.cumsum(counts)[:-1]])
    t = (np.arange(len(index)) - first[index]) / counts[index]
    return each_point(curves[index], t), index


def each_point(curves: Floats, t: Floats) -> Floats:
    """One point of each cubic curve (n, 4, 2), at its own parameter t (n,), shape (n, 2)."""
    s = 1.0 - t
    return np.asarray(
        (s**3)[:, None] * curves[:, 0]
        + (3 * s * s * t)[:, None] * curves[:, 1]
        + (3 * s * t * t)[:, None] * curves[:, 2]
        + (t**3)[:, None] * curves[:, 3]
    )


def each_derivative(curves: Floats, t: Floats) -> Floats:
    """The derivative of each cubic curve (n, 4, 2) at its own parameter t (n,), shape (n, 2)."""
    s = 1.0 - t
    weights = np.stack([3 * s * s, 6 * s * t, 3 * t * t], axis=1)
    return np.asarray(np.einsum("nk,nkd->nd", weights, np.diff(curves, axis=1)))


def ring_polygon(curves: Floats, tolerance: float) -> Floats:
    """Corners of a polygon no farther than ``tolerance`` from a ring of cubic curves.

    Cut in n equal pieces, a cubic leaves its chords by at most max|B''| / (8 n^2), and max|B''| is
    six times its largest second difference of control points.
    """
    second = np.maximum(
        np.linalg.norm(curves[:, 0] - 2 * curves[:, 1] + curves[:, 2], axis=1),
        np.linalg.norm(curves[:, 1] - 2 * curves[:, 2] + curves[:, 3], axis=1),
    )
    counts = np.clip(np.ceil(np.sqrt(0.75 * second / tolerance)), 1, 400).astype(np.int64)
    return sample_curves(curves, counts)[0]


def split_curve(curve: Floats, cuts: Sequence[float]) -> Floats:
    """Cut one cubic (4, 2) at rising parameters (de Casteljau); shape (cuts + 1, 4, 2)."""
    out = []
    rest, done = np.asarray(curve, np.float64), 0.0
    for cut in cuts:
        t = (cut - done) / (1.0 - done)
        a = rest[:-1] + t * np.diff(rest, axis=0)
        b = a[:-1] + t * np.diff(a, axis=0)
        c = b[0] + t * (b[1] - b[0])
        out.append(np.array([rest[0], a[0], b[0], c]))
        rest, done = np.array([c, b[1], a[2], rest[3]]), cut
    return np.array([*out, rest])
