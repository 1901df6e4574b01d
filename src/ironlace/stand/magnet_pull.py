"""How hard a disc magnet pulls on iron through a gap.

On thick, wide, unsaturated iron the pull is that of the magnet on its mirror twin, twice the gap
away: the closed integral of Vokoun, Beleggia, Heller and Sittner (2009), J. Magn. Magn. Mater. 321:
3758-3763. That is an upper bound. Real seats give less: iron must carry the flux away from under
the magnet, and what does not reach beyond its edge or is thin cannot. The reduction here is fitted
to a project's own saturable finite elements of round seats (0.94-0.97 of the bound for wide seats,
0.7-0.9 with 2 mm of iron beyond magnets of 20 to 8 mm, 0.40-0.55 for iron no wider than the magnet,
0.77 at most for 1 mm of sheet). A rim is narrow one way only and lies between a round seat as
narrow as it is and the mean over all directions of round seats that reach as far as the rim does
that way: a mean of the two is taken, a little nearer the narrow seat, and how far they lie apart is
its doubt. No rim was computed or measured.
"""

from dataclasses import dataclass
from math import pi

import numpy as np
from scipy.special import j1

from ironlace.evidence.arrays import Floats

_MU0 = 4.0e-7 * pi
"""Magnetic constant, N/A2 (to 1e-9 of its measured value)."""

_WIDE = 0.955
"""Part of the bound on wide, thick iron: middle of the finite elements' 0.94 to 0.97."""

_NO_WIDER = 0.475
"""The same on a round seat no wider than the magnet: middle of 0.40 to 0.55."""

_REACH = 0.28
"""Iron beyond the edge, in radii, over which the want falls to 1/e: fits 0.7 and 0.9 at 2 mm."""

_THIN = 1.4
"""How fast thin iron comes up to thick: fits 0.77 for 1 mm under a magnet of 8 mm."""

_CARRIES_T = {"grey iron": 1.5, "steel": 1.8}
"""Flux density up to which the iron carries flux easily, tesla (from memory: handbooks' curves)."""

_SEAT_LOG_SD = 0.09
"""Standard deviation of a round seat's share in its logarithm: how far the finite elements scatter
about the fit, which knows nothing of the magnet's own height (a judgement)."""

_BETWEEN = 0.4
"""Where between narrow round seat and mean over directions a rim lies: standard deviation in parts
of their distance (even odds over the whole of it would be 0.29; a judgement on the wide side)."""

_FACE = 0.55
"""Flux density under the magnet in parts of its polarization (a judgement; 0.5 to 0.7)."""

_MOST_Q = 400.0
"""Where the integral is cut off: what is left is below 1e-4 of it for gaps over 0.02 radii."""

_STEPS = 8001
"""Points of the integral: J1 squared swings every 3.1, so 60 to a swing."""


@dataclass(frozen=True, slots=True)
class DiscMagnet:
    """A disc magnetised through its thickness."""

    diameter_mm: float
    height_mm: float
    polarization_t: float


@dataclass(frozen=True, slots=True)
class IronSeat:
    """The iron behind a magnet: on either side of its middle the narrow way, and how thick."""

    iron: str
    half_width_mm: float
    thickness_mm: float


def image_pull(magnet: DiscMagnet, gap_mm: float) -> float:
    """The pull on thick, wide, unsaturated iron, N: an upper bound.

    >>> round(image_pull(DiscMagnet(20.0, 10.0, 1.30), 0.5), 1)  # print: 95.78 N
    95.8
    """
    radius = magnet.diameter_mm / 2.0
    q = np.linspace(1e-9, _MOST_Q, _STEPS)
    apart = 2.0 * gap_mm / radius
    inner = j1(q) ** 2 / q * np.exp(-q * apart)
    inner *= (1.0 - np.exp(-q * magnet.height_mm / radius)) ** 2
    energy = magnet.polarization_t**2 / (2.0 * _MU0)
    area = pi * (radius * 1e-3) ** 2
    return float(2.0 * energy * area * np.trapezoid(inner, q))


def seat_share(magnet: DiscMagnet, seat: IronSeat) -> tuple[float, float]:
    """What part of the bound a rim gives, and the standard deviation of its logarithm."""
    radius = magnet.diameter_mm / 2.0
    turned = np.deg2rad(np.linspace(1.0, 90.0, 90))
    beyond = np.maximum(seat.half_width_mm / np.sin(turned) / radius - 1.0, 0.0)
    wanting = np.exp(-beyond / _REACH)
    by_directions = _WIDE - (_WIDE - _NO_WIDER) * float(np.mean(wanting))
    as_round = _WIDE - (_WIDE - _NO_WIDER) * float(wanting[-1])
    # iron that does not reach the magnet's own edge lacks area too
    covered = min(1.0, seat.half_width_mm / radius)
    face = _FACE * magnet.polarization_t
    carries = 2.0 * seat.thickness_mm * _CARRIES_T[seat.iron] / (face * radius)
    thick = 1.0 - float(np.exp(-_THIN * carries))
    apart = float(np.log(by_directions / as_round))
    doubt = float(np.hypot(_SEAT_LOG_SD, _BETWEEN * apart))
    # a little nearer the narrow seat: what holds too well in a reckoning lets go in a hand
    return by_directions**0.4 * as_round**0.6 * thick * covered, doubt


def drawn_pulls(
    magnet: DiscMagnet,
    seat: IronSeat,
    gap: tuple[float, float],
    count: int,
    rng: np.random.Generator,
) -> Floats:
    """Pulls of one magnet as they may be, N, shape (count,).

    Parameters
    ----------
    gap
        Its middle and standard deviation, mm.
    """
    middle, sd = gap
    # a gap cannot close to nothing: the logarithm is normal, with the sd asked for
    log_sd = float(np.sqrt(np.log1p((sd / middle) ** 2)))
    gaps = middle * np.exp(log_sd * rng.standard_normal(count) - log_sd**2 / 2.0)
    nodes = middle * np.exp(log_sd * np.linspace(-4.5, 4.5, 13) - log_sd**2 / 2.0)
    pulls = np.log([image_pull(magnet, float(one)) for one in nodes])
    if log_sd == 0.0:
        logs = np.full(count, pulls[0])
    else:
        logs = np.interp(np.log(gaps), np.log(nodes), pulls)
    share, doubt = seat_share(magnet, seat)
    found: Floats = share * np.exp(logs + doubt * rng.standard_normal(count))
    return found
