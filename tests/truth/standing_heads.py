"""Invented heads with their works, weighed and turned by hand: truth for the base.

The works move by closed linkage equations, on a fine grid; nothing is a Fourier series. Statics are
done by moments of forces as vectors about the edge, with the leaned machine really turned.
"""

from dataclasses import dataclass, field

import numpy as np

FAMILIES = ("rod", "rocker", "cam")
NEVER_TUNED = "gear"
"""A family that nothing was tuned on: a point on a wheel geared one to one through an offset slot."""


def motion(family, t, rng):
    """A displacement round the wheel, its full swing some mm; t in radians."""
    a = rng.uniform(2.0, 16.0)
    p = t + rng.uniform(0, 2 * np.pi)
    if family == "rod":
        ratio = rng.uniform(0.1, 0.33)
        return a * (np.cos(p) + (np.sqrt(1 - (ratio * np.sin(p)) ** 2) - 1) / ratio)
    if family == "rocker":
        # a link's angle: atan of a crank pin seen from a pivot, as a rocker's arm
        k = rng.uniform(0.2, 0.55)
        return a * np.arctan2(k * np.sin(p), 1 + k * np.cos(p)) / np.arcsin(k)
    if family == "cam":
        # rises and falls by a cycloid-like blend, with a rest at either end
        s = np.clip(0.5 + rng.uniform(0.55, 0.7) * np.cos(p), 0, 1)
        soft = s * s * (3 - 2 * s)
        return a * (2 * soft - 1)
    e = rng.uniform(0.1, 0.35)
    turned = np.arctan2(np.sin(p), np.cos(p) - e)  # slotted wheel, offset axis
    return a * np.sin(turned)


@dataclass
class Head:
    outline: np.ndarray
    ledge: float
    rows: list = field(default_factory=list)  # point, wheel, x, y, z
    misread: set = field(default_factory=set)  # (point, wheel)
    depth: float = 0.0
    deepest: str = ""
    lead: float = 9.0
    side: float = 0.0
    side_point: str = ""


def outline(rng, length):
    w = length * rng.uniform(0.42, 0.6)
    r = rng.uniform(8, 25)
    corner = np.linspace(0, np.pi / 2, 12)
    pts = []
    for cx, cy, a0 in ((1, 1, 0), (-1, 1, 1), (-1, -1, 2), (1, -1, 3)):
        c = np.array([cx * (length / 2 - r), cy * (w / 2 - r)])
        pts += [c + r * np.array([np.cos(u + a0 * np.pi / 2), np.sin(u + a0 * np.pi / 2)]) for u in corner]
    return np.array(pts)


def signed_distance(poly, xy):
    """Least distance to the polygon's sides, negative outside; by crossing number."""
    a, b = poly, np.roll(poly, -1, axis=0)
    d = b - a
    t = np.clip(((xy[:, None] - a) * d).sum(-1) / (d**2).sum(-1), 0, 1)
    far = np.linalg.norm(xy[:, None] - (a + t[..., None] * d), axis=-1).min(1)
    y, x = xy[:, 1:], xy[:, :1]
    hit = ((a[:, 1] > y) != (b[:, 1] > y)) & (
        x < d[:, 0] * (y - a[:, 1]) / np.where(d[:, 1] == 0, 1e-12, d[:, 1]) + a[:, 0]
    )
    return np.where(hit.sum(1) % 2 == 1, far, -far)


def inner(poly, by):
    """A convex polygon drawn in: each side moved, neighbours met again."""
    d = np.roll(poly, -1, 0) - poly
    d /= np.linalg.norm(d, axis=1, keepdims=True)
    n = np.stack([-d[:, 1], d[:, 0]], 1)  # counter-clockwise: inward
    c = ((poly + by * n) * n).sum(1)
    out = []
    for i in range(len(poly)):
        m = np.stack([n[i - 1], n[i]])
        if abs(np.linalg.det(m)) < 1e-9:
            out.append(poly[i] + by * n[i])
        else:
            out.append(np.linalg.solve(m, [c[i - 1], c[i]]))
    return np.array(out)


def head(rng, families=FAMILIES, misread=0.0):
    length = rng.uniform(240, 380)
    made = Head(outline(rng, length), rng.uniform(6, 10))
    opening = inner(made.outline, min(made.ledge, 7.9) if made.ledge > 7.9 else made.ledge)
    made.ledge = min(made.ledge, 7.9)
    step = rng.choice([20, 30])
    sd = rng.uniform(0.3, 0.4)
    fine = np.deg2rad(np.arange(0, 360, 0.25))
    half = np.ptp(made.outline, axis=0) / 2
    depths, sides = [], []
    for k in range(rng.integers(4, 8)):
        name = f"point {k}"
        base = np.array([rng.uniform(-0.8, 0.8) * half[0], rng.uniform(-0.7, 0.7) * half[1], -rng.uniform(25, 45)])
        seed = rng.integers(1 << 31)
        if k > 0 and rng.random() < 0.25:
            path = lambda t, b=base: np.tile(b, (len(np.atleast_1d(t)), 1))
            true = path(fine)
            made.rows.append((name, None, *(base + sd * rng.standard_normal(3))))
        else:
            fam = rng.choice(families)

            def path(t, b=base, s=seed, fam=fam):
                r = np.random.default_rng(s)
                return b + np.stack([motion(fam, t, r) for _ in range(3)], 1) * [0.6, 0.6, 1]

            true = path(fine)
            for deg in np.arange(0, 360, step):
                at = np.deg2rad(deg + 1.5 * rng.standard_normal(1))
                row = path(at)[0] + sd * rng.standard_normal(3)
                if rng.random() < misread:
                    row[rng.integers(3)] += rng.choice([-1, 1]) * rng.uniform(5, 10)
                    made.misread.add((name, float(deg)))
                made.rows.append((name, float(deg), *row))
        depths.append(-true[:, 2].min())
        sides.append(signed_distance(opening, true[::4, :2]).min())
    order = np.argsort(depths)
    made.depth, made.deepest = depths[order[-1]], f"point {order[-1]}"
    made.lead = depths[order[-1]] - depths[order[-2]]
    made.side, made.side_point = min(sides), f"point {int(np.argmin(sides))}"
    return made
