"""A felt as a cup of oil and as a wick: what it holds, and how long the oil takes to climb.

The climb upright is that of Washburn (1921, "The dynamics of capillary flow") with gravity:
`t = 8 eta / (rho g r^2) (-h - H ln(1 - h/H))`, H = 2 gamma / (rho g r) the height at which it
stops (Jurin), oil wetting the fibres fully; the winding of the pores lengthens it by the square of
the tortuosity. Pores, winding and wetting are known so badly that the time is told as an interval.
"""

import math
from dataclasses import dataclass
from typing import Annotated, Final

from ironlace.care.errors import CareError
from ironlace.care.oil_viscosity import Interval
from ironlace.evidence.analyses import Ask

GRAVITY: Final = 9.80665
"""Standard gravity, m/s²."""
WICK_FACTOR: Final = 3.0
"""The wick's time may be so many times longer or shorter (a first trial found a ratio of 8 between
the ends of a 90 % interval; this is 9)."""
DROP_TIPS_MM: Final = (1.75, 1.0, 0.5)
"""Radii of the tips of oilers, wide, common and fine (a judgement)."""
DROP_SHARE: Final = 0.62
"""Of the drop that hangs, how much falls (Harkins and Brown 1919: 0.60 to 0.65 for such tips)."""


@dataclass(frozen=True)
class Felt:
    """A felt as it was measured: size (mm), share that is pore, height to wick, pores, winding."""

    name: Annotated[str, Ask("Name")]
    size_mm: Annotated[tuple[float, float, float], Ask("Size", unit="mm", low=0.2, high=500.0)]
    porosity: Annotated[float, Ask("Share that is pore", low=0.05, high=0.98)]
    wick_up_mm: Annotated[float | None, Ask("Height to wick", unit="mm", low=0.1, high=500.0)] = (
        None
    )
    pore_radius_um: Annotated[float | None, Ask("Pore radius", unit="um", low=1, high=500)] = None
    tortuosity: Annotated[float | None, Ask("Winding of the pores", low=1.0, high=10.0)] = None


@dataclass(frozen=True, slots=True)
class FeltFound:
    """What a felt holds in mL and in drops, and the wick's time in s; None, with `why`, if none."""

    holds_ml: float
    drops: tuple[int, int, int]
    wick_s: Interval | None
    why: str


def felt_found(
    felt: Felt, mm2_s: Interval | None, density_kg_m3: float, tension_n_m: float
) -> FeltFound:
    """What a felt holds and how long oil of a viscosity takes to climb it."""
    a, b, c = felt.size_mm
    holds = a * b * c * felt.porosity / 1000.0
    low, value, high = (
        max(1, round(holds * 1000.0 / drop_ul(tip, density_kg_m3, tension_n_m)))
        for tip in DROP_TIPS_MM
    )
    drops = (low, value, high)
    if felt.wick_up_mm is None or felt.pore_radius_um is None or felt.tortuosity is None:
        why = "to tell the wick's time, give wick_up_mm, pore_radius_um and tortuosity"
        return FeltFound(holds, drops, None, why)
    if mm2_s is None:
        return FeltFound(holds, drops, None, "the oil's viscosity is not known")
    height, pore = felt.wick_up_mm / 1000.0, felt.pore_radius_um * 1e-6
    stops = rise_limit_m(pore, density_kg_m3, tension_n_m)
    if height >= stops:
        why = (
            f"oil climbs {stops * 1000:.0f} mm at most in pores of {felt.pore_radius_um:g} µm and "
            f"never {felt.wick_up_mm:g} mm: bring the felt nearer, or take a finer one"
        )
        return FeltFound(holds, drops, None, why)
    times = [
        upright_s(height, pore, v * 1e-6 * density_kg_m3, density_kg_m3, tension_n_m)
        * felt.tortuosity**2
        for v in mm2_s
    ]
    wick = (times[0] / WICK_FACTOR, times[1], times[2] * WICK_FACTOR)
    return FeltFound(holds, drops, wick, "")


def rise_limit_m(pore_m: float, density_kg_m3: float, tension_n_m: float) -> float:
    """The height in m at which oil stops climbing in a pore (Jurin).

    >>> round(rise_limit_m(20e-6, 860.0, 0.030), 4)
    0.3557
    """
    return 2.0 * tension_n_m / (density_kg_m3 * GRAVITY * pore_m)


def upright_s(
    height_m: float, pore_m: float, viscosity_pa_s: float, density_kg_m3: float, tension_n_m: float
) -> float:
    """Seconds to climb a straight pore upright (Washburn 1921, with gravity).

    Raises CareError at or above the height at which it stops.

    >>> round(upright_s(0.030, 20e-6, 0.046692, 860.0, 0.030), 1)
    148.5
    """
    stops = rise_limit_m(pore_m, density_kg_m3, tension_n_m)
    if height_m >= stops:
        raise CareError(f"Oil stops at {stops * 1000:.0f} mm in such pores.")
    share = height_m / stops
    # -x - ln(1 - x), by its series where the difference would lose its figures
    bent = share * share / 2 + share**3 / 3 if share < 1e-4 else -share - math.log1p(-share)
    return 8.0 * viscosity_pa_s / (density_kg_m3 * GRAVITY * pore_m**2) * stops * bent


def drop_ul(tip_mm: float, density_kg_m3: float, tension_n_m: float) -> float:
    """Microlitres of a drop from a tip of a radius (Tate 1864, corrected by Harkins and Brown).

    >>> round(drop_ul(1.0, 860.0, 0.030), 2)
    13.86
    """
    mass = 2.0 * math.pi * tip_mm / 1000.0 * tension_n_m * DROP_SHARE / GRAVITY
    return mass / density_kg_m3 * 1e9


def felt_in_words(felt: Felt, found: FeltFound) -> str:
    """What a felt holds and how long it wicks, in a sentence."""
    few, common, many = found.drops
    told = f"{felt.name}: holds {found.holds_ml:.3g} mL, about {common} drops ({few} to {many})"
    if found.wick_s is None:
        return f"{told}; {found.why}."
    low, _, high = found.wick_s
    return f"{told}; oil climbs it in anything from {_span(low)} to {_span(high)}."


def _span(seconds: float) -> str:
    for size, word in ((86400.0, "days"), (3600.0, "hours"), (60.0, "minutes")):
        if seconds >= 2 * size:
            return f"{seconds / size:.2g} {word}"
    return f"{seconds:.2g} seconds"
