"""Invented heads with their works, weighed and turned by hand: truth for the base.

The works move by closed linkage equations, on a fine grid; nothing is a Fourier series. Statics are
done by moments of forces as vectors about the edge, with the leaned machine really turned.
"""

from dataclasses import dataclass, field

import numpy as np

FAMILIES = ("rod", "rocker", "cam")
NEVER_TUNED = "gear"
"""A family that nothing was tuned on: a wheel turned one to one through an offset slot."""


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
        pts += [
            c + r * np.array([np.cos(u + a0 * np.pi / 2), np.sin(u + a0 * np.pi / 2)])
            for u in corner
        ]
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
        base = np.array(
            [
                rng.uniform(-0.8, 0.8) * half[0],
                rng.uniform(-0.7, 0.7) * half[1],
                -rng.uniform(25, 45),
            ]
        )
        seed = rng.integers(1 << 31)
        if k > 0 and rng.random() < 0.25:
            true = base[None]
            for _ in range(3):  # still points are quickly read again
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


KITCHEN = {"scale_step_g": 1.0, "scale_repeat_g": 5.0, "scale_gain_percent": 0.4}
BATHROOM = {"scale_step_g": 50.0, "scale_repeat_g": 60.0, "scale_gain_percent": 0.7}


def weighed(rng, scale, anew=True, edge_sd=0.7, tilt_sd=0.25):
    """A head's true mass and centre, and what was read, each edge a line set by hand."""
    mass = rng.uniform(9000, 14000)
    c = np.array([rng.uniform(-40, 40), rng.uniform(-12, 12), rng.uniform(95, 150)])
    half = np.array([rng.uniform(100, 130), rng.uniform(65, 85)])
    gain = 1 + scale["scale_gain_percent"] / 100 * rng.standard_normal()
    step = scale["scale_step_g"]

    def shown(force):
        v = gain * force + scale["scale_repeat_g"] * rng.standard_normal()
        return float(np.round(v / step) * step)

    def edges(axis):
        return np.array([-half[axis], half[axis]]) + edge_sd * rng.standard_normal(2)

    out = {**scale, "edge_sd_mm": edge_sd, "tilt_sd_deg": tilt_sd}
    for axis, name in ((0, "along_x"), (1, "along_y")):
        e = edges(axis)
        f = [mass * (e[1] - c[axis]) / (e[1] - e[0])]
        e = edges(axis) if anew else e
        f.append(mass * (c[axis] - e[0]) / (e[1] - e[0]))
        out[name] = {
            "edges_mm": (-half[axis], half[axis]),
            "readings_g": tuple(shown(v) for v in f),
        }
    said = rng.uniform(15, 25)
    tilt = np.deg2rad(said + tilt_sd * rng.standard_normal())
    e = edges(1)
    # turn the head about the first edge and see where its centre comes to stand
    turn = np.array([[np.cos(tilt), -np.sin(tilt)], [np.sin(tilt), np.cos(tilt)]])
    stands = turn @ (c[1:] - [e[0], 0.0])
    far = turn @ [e[1] - e[0], 0.0]
    out["tilted"] = {"tilt_deg": said, "reading_g": shown(mass * stands[0] / far[0])}
    return mass, c, out


def leans(mass, centre, feet, force=0.0, crank=None):
    """By side of the feet: the lean at which the whole, really turned, goes over.

    The hand is given by `crank`: radius, axis (y, z), x, and +1 when the top goes from the sewer.
    The lean is walked up until the moment about the edge turns, the hand's force turning along.
    """
    found = []
    for k in range(len(feet)):
        p, q = np.append(feet[k], 0.0), np.append(feet[(k + 1) % len(feet)], 0.0)
        axis = (q - p) / np.linalg.norm(q - p)  # counter-clockwise: outward lies to its right
        weight = np.array([0, 0, -mass / 1000 * 9.80665])
        hand = 0.0
        if crank is not None:
            r, (ay, az), x, sense = crank
            a = np.deg2rad(np.arange(0, 360, 0.5))
            at = np.stack([np.full_like(a, x), ay + r * np.cos(a), az + r * np.sin(a)], 1)
            pull = force * sense * np.stack([0 * a, np.sin(a), -np.cos(a)], 1)
            hand = float(np.max(np.cross(at - p, pull) @ axis))

        walk = np.arange(-89.0, 89.0, 1.0)
        moments = np.array([_outward(v, centre - p, axis, weight) + hand for v in walk])
        # from most stable on: the last place where the moment turns outward
        over = np.flatnonzero((moments[:-1] <= 0) & (moments[1:] > 0))
        if not len(over):
            found.append(-90.0 if moments.min() > 0 else 90.0)
            continue
        i = over[-1]
        found.append(walk[i] + (walk[1] - walk[0]) * -moments[i] / (moments[i + 1] - moments[i]))
    return found


def _outward(lean, arm, axis, weight):
    """Moment of the weight about an edge when all is turned about it, by Rodrigues' formula."""
    u = np.deg2rad(lean)
    turned = (
        arm * np.cos(u) + np.cross(axis, arm) * np.sin(u) + axis * (axis @ arm) * (1 - np.cos(u))
    )
    return float(np.cross(turned, weight) @ axis)
