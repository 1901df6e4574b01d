"""Invented ornaments as SVG text, made with numpy alone: nothing of the planner is used here."""

from __future__ import annotations

import numpy as np


def _closed(points: np.ndarray) -> str:
    """A smooth closed path through points (Catmull-Rom as cubic curves)."""
    before, after = np.roll(points, 1, axis=0), np.roll(points, -1, axis=0)
    slope = (after - before) / 6.0
    d = f"M{points[0, 0]:.4f} {points[0, 1]:.4f}"
    n = len(points)
    for i in range(n):
        j = (i + 1) % n
        c1, c2, p = points[i] + slope[i], points[j] - slope[j], points[j]
        d += f"C{c1[0]:.4f} {c1[1]:.4f} {c2[0]:.4f} {c2[1]:.4f} {p[0]:.4f} {p[1]:.4f}"
    return d + "Z"


def blob(rng: np.random.Generator, centre, radius: float, wobble: float = 0.2, corners: int = 12):
    """Points of a wobbly round outline that stays within ``radius``."""
    t = np.arange(corners) * 2 * np.pi / corners
    r = np.ones(corners)
    for k in (2, 3, 5):
        r += wobble / k * rng.normal() * np.cos(k * t + rng.uniform(0, 2 * np.pi))
    r = r / r.max() * radius * 0.96
    return np.asarray(centre) + r[:, None] * np.stack([np.cos(t), np.sin(t)], axis=1)


def page(width: float, height: float, body: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.3f}mm" height="{height:.3f}mm" '
        f'viewBox="0 0 {width:.3f} {height:.3f}">{body}</svg>'
    )


def net(rng: np.random.Generator, islands: int, cell: float = 8.0, stroke: float = 1.4) -> str:
    """Open filigree: a panel with about ``islands`` cells left out; some hold a leaf or a ring."""
    columns = max(1, int(np.ceil(np.sqrt(islands * 1.3))))
    rows = int(np.ceil(islands / columns))
    d, inner = "", ""
    for n in range(islands):
        row, column = divmod(n, columns)
        x = (column + 0.5 + 0.5 * (row % 2)) * cell + cell / 2 + rng.uniform(-0.06, 0.06) * cell
        y = (row + 0.5) * cell * 0.9 + cell / 2 + rng.uniform(-0.05, 0.05) * cell
        radius = (cell * 0.9 - stroke) / 2 * rng.uniform(0.8, 1.02)
        d += _closed(blob(rng, (x, y), radius, wobble=0.25))
        kind = rng.random()
        if kind < 0.12 and radius > 2.5:
            inner += f'<path d="{_closed(blob(rng, (x, y), radius * 0.45))}"/>'
    width, height = (columns + 1.5) * cell, (rows + 1) * cell
    body = f"M{stroke} {stroke}H{width - stroke}V{height - stroke}H{stroke}Z"
    return page(
        width, height,
        f'<g fill="#b89040"><path fill-rule="evenodd" d="{body}{d}"/>{inner}</g>',
    )  # fmt: skip


def _stroke(line: np.ndarray, width: np.ndarray) -> np.ndarray:
    tangent = np.gradient(line, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    side = np.stack([-tangent[:, 1], tangent[:, 0]], axis=1) * width[:, None] / 2
    return np.concatenate([line + side, (line - side)[::-1]])


def scrolls(rng: np.random.Generator, count: int) -> str:
    """Spirals that swell and taper, with ringed eyes: their turns come close to one another."""
    body = ""
    for n in range(count):
        turns = rng.uniform(1.2, 2.3)
        t = np.linspace(0, turns * 2 * np.pi, int(60 * turns))
        pitch = rng.uniform(1.75, 3.2)
        r = 3.2 + pitch * t / (2 * np.pi)
        sign = rng.choice([-1, 1])
        turn = rng.uniform(0, 2 * np.pi)
        centre = np.array([18 + 30 * n, 16 + rng.uniform(-1, 1)])
        line = centre + np.stack([r * np.cos(t + turn), sign * r * np.sin(t + turn)], axis=1)
        width = 0.5 + 0.9 * np.sin(np.linspace(0, np.pi, len(t))) ** 0.8
        points = _stroke(line, width)
        body += '<path d="M' + "L".join(f"{x:.4f} {y:.4f}" for x, y in points) + 'Z"/>'
        cx, cy = centre
        body += (
            f'<path fill-rule="evenodd" d="M{cx - 2:.4f} {cy:.4f}a2 2 0 1 0 4 0a2 2 0 1 0 -4 0Z'
            f'M{cx - 1:.4f} {cy:.4f}a1 1 0 1 1 2 0a1 1 0 1 1 -2 0Z"/>'
        )
    return page(30 * count + 8, 34, f'<g fill="#b89040">{body}</g>')


def border(rng: np.random.Generator, bays: int) -> str:
    """Two rails joined by posts, a wobbly eye in every bay: islands in a row."""
    bay, high, rail = rng.uniform(9, 13), rng.uniform(9, 13), rng.uniform(0.9, 1.8)
    width = bays * bay + rail + 4
    d = f"M2 2H{width - 2:.4f}V{high + 2 * rail + 2:.4f}H2Z"
    extra = ""
    for n in range(bays):
        x0, x1 = 2 + rail + n * bay, 2 + (n + 1) * bay
        y0, y1 = 2 + rail, 2 + rail + high
        d += f"M{x0:.4f} {y0:.4f}V{y1:.4f}H{x1:.4f}V{y0:.4f}Z"
        centre = ((x0 + x1) / 2, (y0 + y1) / 2)
        outer = min(bay - rail, high) * 0.3
        extra += f'<path d="{_closed(blob(rng, centre, outer, 0.1))}"/>'
    body = f'<path fill-rule="evenodd" d="{d}"/>{extra}'
    return page(width, high + 2 * rail + 4, f'<g fill="#b89040">{body}</g>')


def rings(rng: np.random.Generator, count: int) -> str:
    """Wobbly rings within rings: islands inside islands."""
    body = ""
    for n in range(count):
        centre = np.array([14.0 + 26 * n, 14.0])
        radius = rng.uniform(10.5, 12)
        d = ""
        for _ in range(int(rng.integers(2, 4))):
            d += _closed(blob(rng, centre, radius, 0.06, 16))
            radius = radius * 0.88 - rng.uniform(1.0, 1.6)
            d += _closed(blob(rng, centre, radius, 0.06, 16))
            radius = radius * 0.85 - 0.9
            if radius < 3:
                break
        body += f'<path fill-rule="evenodd" d="{d}"/>'
    return page(26 * count + 2, 28, f'<g fill="#b89040">{body}</g>')


def ornament(seed: int) -> str:
    """One of the four kinds, drawn at random."""
    rng = np.random.default_rng(seed)
    kind = seed % 4
    if kind == 0:
        return net(rng, int(rng.integers(4, 60)), cell=rng.uniform(7, 11), stroke=rng.uniform(1, 2))
    if kind == 1:
        return scrolls(rng, int(rng.integers(1, 6)))
    if kind == 2:
        return border(rng, int(rng.integers(2, 20)))
    return rings(rng, int(rng.integers(1, 6)))


def islands_with_small_ones_beside(seed, groups):
    """Large islands in open fields, each with small ones nearer to it than any shore."""
    rng = np.random.default_rng(seed)
    body, across = [], int(np.ceil(np.sqrt(groups)))
    for n in range(groups):
        x, y = 20 + 30 * (n % across), 20 + 30 * (n // across)
        rings = [(x, y, 13.0), (x, y, rng.uniform(3.0, 6.0))]
        for _ in range(int(rng.integers(1, 4))):
            turn, size = rng.uniform(0, 2 * np.pi), rng.uniform(0.7, 1.2)
            away = rings[1][2] + size + rng.uniform(0.9, 1.6)
            place = (x + away * np.cos(turn), y + away * np.sin(turn))
            if all(np.hypot(place[0] - u, place[1] - v) > size + r + 0.8 for u, v, r in rings[2:]):
                rings.append((*place, size))
        body.append(
            "".join(
                f"M{u - r:.3f} {v:.3f}a{r:.3f} {r:.3f} 0 1 0 {2 * r:.3f} 0"
                f"a{r:.3f} {r:.3f} 0 1 0 {-2 * r:.3f} 0Z"
                for u, v, r in rings
            )
        )
    side = 30 * across + 10
    path = f'<path fill-rule="evenodd" d="{"".join(body)}"/>'
    return page(side, side, path)
