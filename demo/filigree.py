"""The gilt filigree of the invented maker: drawn as closed outlines in millimetres.

The drawing is made of swelled strokes whose centre lines turn with a curvature that changes evenly
along them (Euler's spiral), the curve a scroll-painter's wrist makes. One half is drawn and
mirrored, the strokes are united, and the united outline is fitted with cubic curves, so that the
truth is the set of curves itself: the photograph is rendered from these curves and from nothing
else.

Coordinates: x to the right, y down, origin at the middle of the ornament, millimetres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from shapely import MultiPolygon, Point, Polygon, affinity, box, get_parts, unary_union
from shapely.geometry.base import BaseGeometry

Curve = NDArray[np.float64]
STEP_MM = 0.05


@dataclass(frozen=True)
class Stem:
    """A centre line with its heading at every point."""

    points: Curve
    heading: NDArray[np.float64]

    def at(self, t: float) -> tuple[float, float, float]:
        """Place and heading at a share `t` of the length."""
        i = round(t * (len(self.points) - 1))
        return float(self.points[i, 0]), float(self.points[i, 1]), float(self.heading[i])


def stem(x: float, y: float, degrees: float, *turns: tuple[float, float, float]) -> Stem:
    """Walk from a place along pieces of (length mm, curvature at start, curvature at end), 1/mm."""
    kappa = np.concatenate(
        [np.linspace(k0, k1, max(2, round(length / STEP_MM))) for length, k0, k1 in turns]
    )
    heading = math.radians(degrees) + np.cumsum(kappa) * STEP_MM
    steps = np.column_stack([np.cos(heading), np.sin(heading)]) * STEP_MM
    return Stem(np.array([x, y]) + np.cumsum(steps, axis=0), heading)


def swelled(line: Stem, *widths: tuple[float, float]) -> BaseGeometry:
    """A stroke along a stem whose full width follows (share of length, width mm), eased between."""
    t = np.linspace(0.0, 1.0, len(line.points))
    at, full = np.array([w[0] for w in widths]), np.array([w[1] for w in widths])
    i = np.clip(np.searchsorted(at, t, side="right") - 1, 0, len(at) - 2)
    u = (t - at[i]) / (at[i + 1] - at[i])
    half = 0.5 * (full[i] + (full[i + 1] - full[i]) * u * u * (3.0 - 2.0 * u))
    normal = np.column_stack([-np.sin(line.heading), np.cos(line.heading)])
    left, right = line.points + normal * half[:, None], line.points - normal * half[:, None]
    # A tight scroll's inner edge may fold over itself; the union of short quadrilaterals cannot.
    quads = [
        Polygon([left[j], left[k], right[k], right[j]]).buffer(0.004)
        for j in range(0, len(t) - 1, 4)
        for k in [min(j + 4, len(t) - 1)]
    ]
    return unary_union(quads)


def leaf(
    x: float, y: float, degrees: float, length: float, width: float, bend: float
) -> BaseGeometry:
    """A pointed leaf blade; `bend` is the angle it turns through, in degrees."""
    k = math.radians(bend) / length
    line = stem(x, y, degrees, (length, 0.4 * k, 1.6 * k))
    return swelled(line, (0.0, 0.34), (0.42, width), (1.0, 0.12))


def spray(
    x: float, y: float, degrees: float, length: float, turn: float, blades: int = 4
) -> BaseGeometry:
    """An acanthus-like spray: blades from one root, the middle longest, all bending one way."""
    parts = []
    for i in range(blades):
        share = i / (blades - 1) if blades > 1 else 0.5
        reach = length * (1.0 - 0.55 * abs(share - 0.35) ** 1.2)
        parts.append(
            leaf(
                x, y, degrees + turn * (1.9 * share - 0.6), reach, 0.2 * reach, turn * (0.5 + share)
            )
        )
    return unary_union([*parts, Point(x, y).buffer(0.055 * length + 0.3)])


def scroll(line: Stem, heavy: float, fine: float, ball: float) -> BaseGeometry:
    """A swelled scroll ending in a ball."""
    x, y, _ = line.at(1.0)
    body = swelled(line, (0.0, fine), (0.3, heavy), (0.75, 0.55 * heavy + 0.3 * fine), (1.0, fine))
    return unary_union([body, Point(x, y).buffer(ball)])


def tendril(line: Stem, width: float, ball: float) -> BaseGeometry:
    """A hairline with a seed at its end."""
    x, y, _ = line.at(1.0)
    return unary_union([swelled(line, (0.0, width), (1.0, width)), Point(x, y).buffer(ball)])


def half_ornament() -> BaseGeometry:
    """The right half: four scrolls with leaves and tendrils, palmette and trellis."""
    main = stem(
        2.6, 35.5, 6.0, (30.0, -0.003, -0.022), (40.0, -0.022, -0.058), (78.0, -0.058, -0.2)
    )
    x, y, a = main.at(0.15)
    branch = stem(
        x, y, math.degrees(a) + 5, (30.0, -0.006, -0.018), (20.0, -0.01, 0.09), (38.0, 0.09, 0.33)
    )
    x, y, a = branch.at(0.34)
    upper = stem(
        x, y, math.degrees(a) - 30, (24.0, -0.022, -0.03), (24.0, -0.016, 0.07), (40.0, 0.09, 0.33)
    )
    x, y, a = upper.at(0.33)
    inner = stem(
        x,
        y,
        math.degrees(a) - 12,
        (17.0, -0.012, -0.025),
        (12.0, -0.03, -0.085),
        (38.0, -0.1, -0.36),
    )
    parts: list[BaseGeometry] = [
        scroll(main, 2.6, 0.5, 1.6),
        scroll(branch, 1.9, 0.42, 1.2),
        scroll(upper, 1.8, 0.4, 1.15),
        scroll(inner, 1.5, 0.36, 1.0),
    ]
    for line, t, side, length, turn, blades in (
        (main, 0.045, 1, 8.5, -30, 3),
        (main, 0.26, 1, 13.0, -38, 4),
        (main, 0.4, 1, 10.5, -40, 3),
        (main, 0.2, -1, 10.5, 36, 3),
        (main, 0.53, 1, 9.5, -38, 4),
        (main, 0.66, -1, 5.0, 36, 3),
        (branch, 0.47, 1, 7.5, -34, 3),
        (branch, 0.6, -1, 8.0, 40, 3),
        (upper, 0.3, 1, 8.5, -34, 3),
        (upper, 0.5, -1, 9.0, 40, 4),
        (upper, 0.62, -1, 6.5, 40, 3),
        (inner, 0.3, -1, 6.5, 36, 3),
        (inner, 0.47, 1, 8.5, -40, 4),
    ):
        x, y, a = line.at(t)
        parts.append(spray(x, y, math.degrees(a) + 30 * side, length, turn, blades))
    for line, t, off, turns, width in (
        (main, 0.09, -36, ((13.0, -0.02, -0.04), (14.0, -0.07, -0.5)), 0.36),
        (main, 0.36, 44, ((7.0, 0.05, 0.05), (11.0, 0.1, 0.55)), 0.32),
        (main, 0.58, -40, ((5.0, -0.08, -0.08), (9.0, -0.12, -0.6)), 0.3),
        (branch, 0.12, 26, ((7.0, 0.02, -0.02), (9.0, -0.05, -0.4)), 0.32),
        (branch, 0.3, 24, ((5.0, 0.02, -0.03), (8.0, -0.08, -0.5)), 0.3),
        (upper, 0.14, 30, ((6.0, 0.03, 0.05), (9.0, 0.1, 0.55)), 0.34),
        (upper, 0.42, -30, ((6.0, -0.04, -0.03), (10.0, -0.1, -0.5)), 0.32),
        (inner, 0.2, -34, ((4.0, -0.06, -0.06), (8.0, -0.1, -0.6)), 0.3),
        (inner, 0.4, 40, ((8.0, 0.03, 0.0), (10.0, 0.06, 0.5)), 0.32),
    ):
        x, y, a = line.at(t)
        parts.append(tendril(stem(x, y, math.degrees(a) + off, *turns), width, 0.62))
    return unary_union([*parts, palmette(), trellis()])


def palmette() -> BaseGeometry:
    """A fan of nine round-ended blades on a ringed boss, a pendant of pearls below it."""
    parts: list[BaseGeometry] = []
    for i in range(5):
        length = 17.5 - 2.3 * i
        blade = stem(0.9 * math.sin(0.4 * i), 10.6, -90 + 25 * i, (length, 0.0, 0.012 * i))
        parts.append(swelled(blade, (0.0, 0.4), (0.78, 0.235 * length - 0.35), (1.0, 0.9)))
        x, y, a = blade.at(1.0)
        parts.append(Point(x, y).buffer(0.5))
        parts.append(Point(x + 2.0 * math.cos(a), y + 2.0 * math.sin(a)).buffer(0.55))
    parts.append(Point(0.0, 12.6).buffer(3.0).difference(Point(0.0, 12.6).buffer(2.3)))
    parts.append(Point(0.0, 12.6).buffer(1.25))
    parts.extend(Point(0.0, 17.9 + 2.75 * i).buffer(1.0 - 0.11 * i) for i in range(6))
    parts.append(swelled(stem(0.0, 35.5, 0.0, (4.0, 0.0, 0.0)), (0.0, 2.6), (1.0, 0.9)))
    parts.append(leaf(0.0, 36.0, 90.0, 5.6, 2.0, 0.0))
    parts.append(leaf(0.6, 36.0, 60.0, 5.6, 1.4, 30.0))
    return unary_union(parts)


def trellis() -> BaseGeometry:
    """A lozenge of crossed hairlines under the top line, with leaves at its shoulders."""
    lozenge = Polygon([(0, -38.5), (19.0, -29.5), (0, -12.5), (-19.0, -29.5)])
    line = box(-48, -0.16, 48, 0.16)
    net = [
        affinity.translate(affinity.rotate(line, sign * 41.8, origin=(0, 0)), dx, -25.0)
        for sign in (1, -1)
        for dx in np.arange(-38.7, 38.8, 4.3)
    ]
    inside = lozenge.buffer(-0.3, join_style="mitre")
    outer = lozenge.buffer(1.5, join_style="mitre")
    return unary_union(
        [
            unary_union(net).intersection(inside),
            lozenge.buffer(0.28, join_style="mitre").difference(inside),
            outer.difference(outer.buffer(-0.36, join_style="mitre")),
            spray(20.6, -29.6, 14.0, 12.0, 30.0, 4),
            tendril(
                stem(20.6, -29.6, -22.0, (10.0, 0.02, 0.03), (13.0, 0.0, 0.1), (9.0, 0.14, 0.6)),
                0.36,
                0.62,
            ),
            Point(0.0, -9.0).buffer(0.6),
        ]
    )


def border() -> BaseGeometry:
    """Two lines round the ornament with scooped corners, a pearl in each scoop."""

    def scooped(half_w: float, half_h: float, scoop: float) -> BaseGeometry:
        plate: BaseGeometry = box(-half_w, -half_h, half_w, half_h)
        for sx in (-1, 1):
            for sy in (-1, 1):
                plate = plate.difference(
                    Point(sx * half_w, sy * half_h).buffer(scoop, quad_segs=48)
                )
        return plate

    strong, fine = scooped(88.0, 46.0, 8.5), scooped(86.1, 44.1, 8.5)
    lines = [strong.difference(strong.buffer(-0.6, join_style="mitre"))]
    lines.append(fine.difference(fine.buffer(-0.34, join_style="mitre")))
    pearls = []
    for sx in (-1, 1):
        for sy in (-1, 1):
            pearls.append(Point(sx * 84.6, sy * 42.6).buffer(1.3, quad_segs=24))
            for angle in (20, 45, 70) if sy < 0 else ():
                reach = 10.2 + 3.4
                pearls.append(
                    Point(
                        sx * (88.0 - reach * math.cos(math.radians(angle))),
                        sy * (46.0 - reach * math.sin(math.radians(angle))),
                    ).buffer(0.55)
                )
    return unary_union([*lines, *pearls])


def ornament() -> MultiPolygon:
    """The whole ornament as applied in the works, mirrored about x = 0."""
    right = half_ornament()
    keep = right.intersection(box(-1e-6, -60, 100, 60))
    whole = unary_union([keep, affinity.scale(keep, -1.0, 1.0, origin=(0, 0)), border()])
    # Paint rounds what a pen would leave sharp: fill and round by a twentieth of a millimetre.
    soft = whole.buffer(0.05).buffer(-0.1).buffer(0.05)
    return MultiPolygon([p for p in get_parts(soft) if p.area > 0.05])


def fit_ring(ring: Curve, tolerance_mm: float = 0.006) -> list[Curve]:
    """Cubic pieces, each (4, 2), for a closed ring of points: least squares between corners."""
    from scipy.ndimage import uniform_filter1d

    closed = np.vstack([ring, ring[:1]])
    length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    count = max(24, int(length[-1] / 0.04))
    s = np.linspace(0.0, length[-1], count, endpoint=False)
    even = np.column_stack([np.interp(s, length, closed[:, k]) for k in (0, 1)])
    ahead, behind = np.roll(even, -4, axis=0) - even, even - np.roll(even, 4, axis=0)
    turn = np.abs(
        np.arctan2(
            behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0], (ahead * behind).sum(axis=1)
        )
    )
    window = np.stack([np.roll(turn, k) for k in range(-6, 7)])
    sharp = [int(i) for i in np.flatnonzero((turn > 0.7) & (turn >= window.max(axis=0)))]
    if not sharp:
        sharp = [0]
    smooth = uniform_filter1d(even, 3, axis=0, mode="wrap")
    smooth[sharp] = even[sharp]
    pieces: list[Curve] = []
    for a, b in zip(sharp, [*sharp[1:], sharp[0] + count], strict=True):
        run = smooth[np.arange(a, b + 1) % count]
        if len(run) >= 3:
            pieces.extend(_fit_run(run, tolerance_mm))
        elif len(run) == 2:
            pieces.append(
                np.array([run[0], run[0] * 2 / 3 + run[1] / 3, run[0] / 3 + run[1] * 2 / 3, run[1]])
            )
    return pieces


def _fit_run(run: Curve, tolerance: float) -> list[Curve]:
    reach = min(3, len(run) - 1)
    return _fit_between(
        run, _unit(run[reach] - run[0]), _unit(run[-1 - reach] - run[-1]), tolerance
    )


def _unit(v: Curve) -> Curve:
    return v / max(float(np.hypot(v[0], v[1])), 1e-12)


def _fit_between(run: Curve, start: Curve, end: Curve, tolerance: float) -> list[Curve]:
    """Least-squares cubic with given end tangents, split where it strays (Schneider 1990)."""
    chord = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(run, axis=0).T))])
    u = chord / chord[-1]
    p0, p3 = run[0], run[-1]
    for _ in range(4):
        b0, b1, b2, b3 = (1 - u) ** 3, 3 * u * (1 - u) ** 2, 3 * u * u * (1 - u), u**3
        a1, a2 = b1[:, None] * start, b2[:, None] * end
        rest = run - (b0 + b1)[:, None] * p0 - (b2 + b3)[:, None] * p3
        m = np.array([[(a1 * a1).sum(), (a1 * a2).sum()], [(a1 * a2).sum(), (a2 * a2).sum()]])
        r = np.array([(a1 * rest).sum(), (a2 * rest).sum()])
        third = chord[-1] / 3.0
        try:
            lengths = np.linalg.solve(m, r)
        except np.linalg.LinAlgError:
            lengths = np.array([third, third])
        if (lengths < 1e-3 * third).any() or (lengths > 6 * third).any():
            lengths = np.array([third, third])
        cubic = np.array([p0, p0 + start * lengths[0], p3 + end * lengths[1], p3])
        here = _bezier(cubic, u)
        d1 = 3 * (
            ((1 - u) ** 2)[:, None] * (cubic[1] - cubic[0])
            + (2 * u * (1 - u))[:, None] * (cubic[2] - cubic[1])
            + (u**2)[:, None] * (cubic[3] - cubic[2])
        )
        gap = here - run
        worst = float(np.hypot(*gap.T).max())
        if worst < tolerance:
            return [cubic]
        u = np.clip(u - (gap * d1).sum(axis=1) / np.maximum((d1 * d1).sum(axis=1), 1e-9), 0, 1)
    if len(run) < 6:
        return [cubic]
    k = int(np.clip(np.hypot(*gap.T).argmax(), 2, len(run) - 3))
    lo, hi = max(0, k - 3), min(len(run) - 1, k + 3)
    across = _unit(run[lo] - run[hi])
    return _fit_between(run[: k + 1], start, across, tolerance) + _fit_between(
        run[k:], -across, end, tolerance
    )


def _bezier(c: Curve, u: NDArray[np.float64]) -> Curve:
    v = (1 - u)[:, None]
    w = u[:, None]
    return v**3 * c[0] + 3 * v**2 * w * c[1] + 3 * v * w**2 * c[2] + w**3 * c[3]


Drawing = list[list[list[Curve]]]
"""Shapes, each a list of rings, each a list of cubic pieces."""


def fitted(shapes: MultiPolygon) -> Drawing:
    """Every ring of every shape as closed cubic curves."""
    return [
        [fit_ring(np.asarray(ring.coords)[:-1]) for ring in (part.exterior, *part.interiors)]
        for part in shapes.geoms
    ]


def moved(drawing: Drawing, degrees: float, x: float, y: float) -> Drawing:
    """The drawing turned (clockwise on the page, y down) and shifted."""
    a = math.radians(degrees)
    turn = np.array([[math.cos(a), math.sin(a)], [-math.sin(a), math.cos(a)]])
    return [[[c @ turn + (x, y) for c in ring] for ring in shape] for shape in drawing]


def flattened(drawing: Drawing, steps: int = 10) -> list[Curve]:
    """Closed polygons, one for each ring, for an even-odd fill."""
    u = np.linspace(0.0, 1.0, steps, endpoint=False)
    return [np.vstack([_bezier(c, u) for c in ring]) for shape in drawing for ring in shape]


def svg(drawing: Drawing, width: float, height: float, title: str) -> str:
    """The drawing as SVG in millimetres: one closed, filled path of cubic curves for each shape."""

    def number(v: float) -> str:
        return f"{v:.4f}".rstrip("0").rstrip(".")

    def ring_path(ring: list[Curve]) -> str:
        out = [f"M{number(ring[0][0, 0])} {number(ring[0][0, 1])}"]
        out.extend("C" + " ".join(number(float(v)) for v in c[1:].ravel()) for c in ring)
        return "".join([*out, "Z"])

    paths = "\n".join(
        f'<path d="{"".join(ring_path(r) for r in shape if r)}"/>' for shape in drawing
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
        f'viewBox="0 0 {width:g} {height:g}">\n<title>{title}</title>\n'
        f'<g fill="#8a6a24" fill-rule="evenodd" stroke="none">\n{paths}\n</g>\n</svg>\n'
    )


def write_svg(drawing: Drawing, path: Path, width: float, height: float, title: str) -> None:
    """Write the drawing where it is asked for."""
    path.write_text(svg(drawing, width, height, title), encoding="utf-8")
