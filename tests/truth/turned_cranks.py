"""Invented wheels turned by a string, and handles held on them by magnets: truth for the crank.

The image pull is summed over charged rings of the two faces, and what a rim gives of it is a table
read off between its corners: neither is the solver's integral or its fit. No rim was ever measured,
so the table's corners are the figures of round seats, drawn toward a wide seat by a random part.
"""

from dataclasses import dataclass

import numpy as np

# share of the image pull by seat half width in magnet radii, and thickness in magnet radii
WIDTHS = np.array([1.0, 1.15, 1.35, 1.7, 2.5])
ROUND = np.array([0.47, 0.64, 0.79, 0.9, 0.95])
THICK = np.array([0.1, 0.2, 0.4, 0.6, 1.0])
BY_THICKNESS = np.array([0.5, 0.75, 0.9, 0.96, 1.0])


def disc_force(diameter, height, polarization, apart, rings=40, around=24):
    """Force of two like discs by charges on their faces, N; `apart` between facing faces, mm."""
    r = diameter / 2000.0
    edges = np.linspace(0, r, rings + 1)
    rho = (edges[1:] + edges[:-1]) / 2
    area = np.pi * (edges[1:] ** 2 - edges[:-1] ** 2)
    phi = 2 * np.pi * (np.arange(around * 8) + 0.5) / (around * 8)
    charge = polarization * area
    d2 = (
        rho[:, None, None] ** 2
        + rho[None, :, None] ** 2
        - 2 * rho[:, None, None] * rho[None, :, None] * np.cos(phi)
    )
    total = 0.0
    t = height / 1000.0
    for z, sign in ((apart / 1000.0, 1), (apart / 1000.0 + t, -2), (apart / 1000.0 + 2 * t, 1)):
        kernel = np.mean(z / (d2 + z * z) ** 1.5, axis=2)
        total += sign * charge @ kernel @ charge
    return total / (4 * np.pi * 4e-7 * np.pi)


@dataclass
class Crank:
    case: dict
    peak: float
    pull: float
    slip: float
    peel: float


def torque(rng, family):
    base = rng.uniform(0.18, 0.5)
    p = rng.uniform(0, 2 * np.pi, 3)
    if family == "waves":
        a = base * np.array([rng.uniform(0.05, 0.3), rng.uniform(0.02, 0.12), rng.uniform(0, 0.05)])
        return lambda t: base + sum(a[k] * np.cos((k + 1) * t - p[k]) for k in range(3))
    h, w = base * rng.uniform(0.2, 0.6), rng.uniform(0.7, 1.3)
    return lambda t: base + h * np.exp((np.cos(t - p[0]) - 1) / w**2)  # one hump: a stiff cam


def crank(rng, family="waves", slipped=None):
    f = torque(rng, family)
    fine = np.deg2rad(np.arange(0, 360, 0.5))
    peak = f(fine).max()
    sr = rng.uniform(50, 90)
    deg = np.arange(0, 360, rng.choice([30, 45]))
    gain = 1 + 0.02 * rng.standard_normal()
    step = 0.1

    def read(v):
        scatter = 1 + 0.03 * rng.standard_normal(np.shape(v))
        return np.round(v * gain * scatter / step) * step

    pulls = [read(f(np.deg2rad(deg)) / sr * 1000) for _ in range(2)]
    d, h, br = rng.uniform(8, 20), rng.uniform(3, 8), rng.uniform(1.17, 1.4)
    gap_sd = rng.uniform(0.03, 0.1)
    gap = rng.uniform(0.1, 0.8)
    gap = max(gap, 2.5 * gap_sd)
    true_gap = gap + gap_sd * np.clip(rng.standard_normal(), -2, 2)
    wide = rng.uniform(1.0, 2.0)
    thick = rng.uniform(2, 6)
    r = d / 2
    seat = np.interp(wide, WIDTHS, ROUND)
    seat += rng.uniform(0, 0.6) * (0.955 - seat)
    seat *= np.interp(thick / r, THICK, BY_THICKNESS)
    pull = disc_force(d, h, br, 2 * true_gap) * seat * np.exp(0.03 * rng.standard_normal())
    low, high = rng.uniform(0.10, 0.16), rng.uniform(0.22, 0.32)
    mu = rng.uniform(low, high)
    n, rc = int(rng.integers(3, 9)), rng.uniform(25, 50)
    hr, above = rng.uniform(45, 65), rng.uniform(25, 50)
    slip = mu * n * pull * rc / 1000
    case = {
        "wheel": {"iron": "grey iron", "seat_half_width_mm": wide * r, "seat_thickness_mm": thick},
        "torque": {
            "string_radius_mm": sr,
            "wheel_deg": deg.tolist(),
            "pull_N": [p.tolist() for p in pulls],
            "scale_step_N": step,
            "scale_error_percent": 2.0,
        },
        "handle": {"radius_mm": hr, "above_seat_mm": above},
        "magnets": {
            "count": n,
            "diameter_mm": d,
            "height_mm": h,
            "polarization_T": br,
            "gap_mm": gap,
            "gap_sd_mm": gap_sd,
            "circle_radius_mm": rc,
        },
        "friction": {"low": low, "high": high},
        "peg": {"spoke_radius_mm": 30.0},
    }
    if slipped if slipped is not None else rng.random() < 0.5:
        q = 20.0
        true = slip / q * 1000
        case["measured"] = {
            "slip_pull_N": (true * gain * (1 + 0.05 * rng.standard_normal(3))).tolist(),
            "slip_radius_mm": q,
        }
    peel = n * pull * rc * np.cos(np.pi / n) / (peak / hr * above) / 1000
    return Crank(case, peak, pull, slip / peak, peel)


def made(kind, given):
    """A frozen dataclass of plain values, by its own annotations' names."""
    import dataclasses
    import typing

    hints = typing.get_type_hints(kind)
    out = {}
    for f in dataclasses.fields(kind):
        if f.name in given:
            v, hint = given[f.name], hints[f.name]
            parts = [one for one in (hint, *typing.get_args(hint)) if dataclasses.is_dataclass(one)]
            out[f.name] = made(parts[0], v) if parts and isinstance(v, dict) else deep(v)
    return kind(**out)


def deep(v):
    return tuple(deep(one) for one in v) if isinstance(v, list) else v
