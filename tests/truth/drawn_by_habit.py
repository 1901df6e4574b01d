"""Ornaments of other habits: straight cuts, a brush's drops, straps over and under, lines of type.

Drawn as polygons in the frame's mm; nothing of the solver is used. Straps and type are never tuned
on (`bench/ornament_path_traced.py`).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import LineString, MultiPolygon, Point, Polygon

from darkroom import Ornament, scrollwork
from thrown_light import scrolls_and_dots

F = NDArray[np.float64]
FIELD = (27.0, 27.0, 229.0, 159.0)
"""Within the frame's window, where the ornament lies."""


def _whole(parts: list[Any]) -> Ornament:
    both = shapely.union_all([p.buffer(0) for p in parts])
    inner = shapely.box(*FIELD)
    kept = [
        p.simplify(0.002)
        for p in shapely.get_parts(both.intersection(inner))
        if isinstance(p, Polygon) and p.area > 0.05
    ]
    return Ornament(MultiPolygon(kept))


def scrolls(rng: np.random.Generator) -> Ornament:
    """Scrolls, leaves, hairlines and dots of `darkroom`."""
    return scrollwork(rng, FIELD, scrolls=14)


def mirrored(rng: np.random.Generator) -> Ornament:
    """The same, its left half once more in the mirror."""
    return scrollwork(rng, FIELD, scrolls=8, mirror=True)


def dots(rng: np.random.Generator) -> Ornament:
    """Scrolls, stars, rows of dots and rules of `thrown_light`."""
    return Ornament(scrolls_and_dots(rng, FIELD))


def cut(rng: np.random.Generator) -> Ornament:
    """Straight cuts alone: a key border, sunbursts, lozenges in chains, ragged hatching."""
    left, top, right, bottom = FIELD
    parts: list[Any] = []
    pitch, w = rng.uniform(9, 12), rng.uniform(0.5, 0.9)
    key = np.array([[0, 5], [0, 0], [7, 0], [7, 4], [3, 4], [3, 2], [5, 2]], float) * pitch / 10
    for y in (top + 3, bottom - 3 - pitch / 2):
        for n in range(int((right - left - 8) / pitch)):
            parts.append(
                LineString(np.add(key, (left + 4 + n * pitch, y))).buffer(
                    w / 2, cap_style="flat", join_style="mitre"
                )
            )
    middle = np.array([(left + right) / 2, (top + bottom) / 2])
    for dx in (-68, 0, 68):
        rays = int(rng.integers(11, 19))
        turn, far = rng.uniform(0, 7), rng.uniform(15, 21)
        for a in turn + np.arange(rays) * 2 * np.pi / rays:
            d, s = np.array([np.cos(a), np.sin(a)]), np.array([-np.sin(a), np.cos(a)])
            near, long = rng.uniform(4, 5), far * rng.uniform(0.75, 1.0)
            half = rng.uniform(0.5, 1.1)
            ring = [
                d * near + s * half,
                d * long + s * 0.12,
                d * long - s * 0.12,
                d * near - s * half,
            ]
            parts.append(Polygon(np.add(ring, np.add(middle, (dx, 0)))))
        parts.append(Point(*np.add(middle, (dx, 0))).buffer(2.6, quad_segs=3))
    for y in (middle[1] - 33, middle[1] + 33):
        for x in np.arange(left + 8, right - 8, 7.5):
            a, b = rng.uniform(2.0, 3.2), rng.uniform(0.8, 1.5)
            if rng.random() < 0.7:
                parts.append(Polygon([(x - a, y), (x, y - b), (x + a, y), (x, y + b)]))
            else:  # hatching: thin strokes, ends cut as they come
                for k in range(5):
                    p = np.array([x - 2 + k, y])
                    up = rng.uniform(1.2, 2.2, 2)
                    line = LineString([np.add(p, (0.5, -up[0])), np.add(p, (-0.5, up[1]))])
                    parts.append(line.buffer(rng.uniform(0.14, 0.22), cap_style="flat"))
    return _whole(parts)


def _drop(a: F, b: F, ra: float, rb: float) -> Any:
    discs = [Point(*a).buffer(ra, quad_segs=24), Point(*b).buffer(rb, quad_segs=24)]
    return shapely.union_all(discs).convex_hull


def brushed(rng: np.random.Generator) -> Ornament:
    """A brush's drops: garlands, feathers and sprays, each stroke from fat to lean."""
    left, top, right, bottom = FIELD
    parts: list[Any] = []
    for cx in (left + 48, right - 48):
        cy = (top + bottom) / 2
        for t in np.arange(0, 2 * np.pi, 0.19):
            p = np.array([cx + 36 * np.cos(t), cy + 44 * np.sin(t)])
            way = np.array([-36 * np.sin(t), 44 * np.cos(t)])
            way /= np.linalg.norm(way)
            for side in (-1, 1):
                turn = side * rng.uniform(0.5, 0.9)
                c, s = np.cos(turn), np.sin(turn)
                d = np.array([c * way[0] - s * way[1], s * way[0] + c * way[1]])
                parts.append(_drop(p + d, p + d * rng.uniform(5, 8), rng.uniform(0.7, 1.2), 0.16))
        for n in range(9):
            a = n * 2 * np.pi / 9 + 0.2
            d = np.array([np.cos(a), np.sin(a)])
            parts.append(_drop((cx, cy) + 4 * d, (cx, cy) + rng.uniform(9, 14) * d, 0.35, 1.6))
        parts.append(Point(cx, cy).buffer(2.2, quad_segs=24))
    for n in range(26):
        x = left + 6 + n * (right - left - 12) / 25
        for y in (top + 4, bottom - 4):
            parts.append(Point(x, y).buffer(rng.uniform(0.35, 0.9), quad_segs=24))
    for y in np.linspace(top + 22, bottom - 22, 7):
        x = (left + right) / 2
        for side in (-1, 1):
            end = (x + side * rng.uniform(5, 8), y - rng.uniform(2, 5))
            parts.append(_drop(np.array([x + side * 0.9, y]), np.array(end), 0.9, 0.2))
    return _whole(parts)


def straps(rng: np.random.Generator) -> Ornament:
    """Straps that pass over and under one another, with a gap beside each that is over."""
    left, top, right, bottom = FIELD
    t = np.linspace(0, 1, 500)
    whole: Any = Polygon()
    waves = int(rng.integers(4, 6))
    for row in range(3):
        y0 = top + (row + 0.5) * (bottom - top) / 3
        for k in range(2):
            y = y0 + 15 * np.sin(2 * np.pi * waves * t + np.pi * k + row)
            line = LineString(np.column_stack([left + 5 + t * (right - left - 10), y]))
            strap = line.buffer(rng.uniform(1.0, 1.5))
            hollow = line.buffer(rng.uniform(0.35, 0.5))
            whole = whole.difference(line.buffer(2.2)).union(strap.difference(hollow))
    dot = [
        Point(x, top + 3 + r * 1.0).buffer(0.6)
        for r in (0, 128)
        for x in np.arange(left + 4, right - 4, 5)
    ]
    return _whole([whole, *[d for d in dot if d.disjoint(whole.buffer(0.6))]])


def letters(rng: np.random.Generator) -> Ornament:
    """Lines of type with rules between them."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextPath

    left, top, right, _ = FIELD
    area: Any = Polygon()
    words = ["FILUM & ACVS", "Nadelwerk 1887", "QVADRATA BONA", "sutura recta"]
    for n, text in enumerate(rng.permutation(words)):
        face = ("DejaVu Serif", "DejaVu Sans")[n % 2]
        style = FontProperties(family=face, weight=("bold", "normal")[n // 2 % 2])
        path = TextPath((0, 0), str(text), size=24, prop=style)
        line: Any = Polygon()
        for ring in path.to_polygons(closed_only=True):
            line = line.symmetric_difference(Polygon(ring).buffer(0))
        x0, _, x1, _ = line.bounds
        wide = min((right - left - 14) / (x1 - x0), 1.0)
        line = affinity.scale(line, wide, -wide, origin=(0, 0))
        y = top + 24 + n * 31
        area = area.union(affinity.translate(line, left + 7 - x0 * wide, y))
        rule = LineString([(left + 5, y + 6.5), (right - 5, y + 6.5)])
        area = area.union(rule.buffer(rng.uniform(0.18, 0.4)))
    return _whole([area])


HABITS: dict[str, Callable[[np.random.Generator], Ornament]] = {
    "scrolls": scrolls,
    "mirrored": mirrored,
    "dots": dots,
    "cut": cut,
    "brushed": brushed,
    "straps": straps,
    "letters": letters,
}
