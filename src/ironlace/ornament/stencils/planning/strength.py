"""Droop of tongues and load on webs, as beams.

Euler-Bernoulli beam of rectangular section, small deflection; formulas as tabulated in any
engineering handbook (for instance W. C. Young, R. G. Budynas, "Roark's formulas for stress and
strain", 7th ed. 2002, table 8.1, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ironlace.ornament.stencils.process import Process

GRAVITY: Final = 9.80665
"""Standard gravity, m/s^2 (CGPM 1901)."""


def cantilever_own_weight_mm(
    length_mm: float, thickness_mm: float, modulus_gpa: float, density_kg_m3: float
) -> float:
    """Deflection of a cantilever's end under its own weight: w L^4 / (8 E I); its width falls out.

    >>> round(cantilever_own_weight_mm(20.0, 0.1, 4.5, 1390.0), 3)
    0.073
    """
    weight = density_kg_m3 * 1e-9 * GRAVITY * thickness_mm  # N per mm of length and mm of width
    return weight * length_mm**4 / (8.0 * modulus_gpa * 1e3 * thickness_mm**3 / 12.0)


def built_in_point_mm(
    force_n: float, length_mm: float, width_mm: float, thickness_mm: float, modulus_gpa: float
) -> float:
    """Deflection at the middle of a beam built in at both ends: P L^3 / (192 E I).

    >>> round(built_in_point_mm(0.5, 10.0, 2.0, 0.2, 4.5), 3)
    0.434
    """
    return force_n * length_mm**3 / (192.0 * modulus_gpa * 1e3 * _inertia(width_mm, thickness_mm))


def _inertia(width_mm: float, thickness_mm: float) -> float:
    return width_mm * thickness_mm**3 / 12.0


@dataclass(frozen=True)
class Weakness:
    """A place where the sheet gives more than the process allows.

    Attributes
    ----------
    kind
        ``"tongue"``, ``"web"``, or ``"neck"``: what hangs on one narrow place alone.
    where_mm
        Its middle.
    length_mm, width_mm
        Of the beam; of a neck, how far what hangs on it reaches, and how wide it is.
    gives_mm
        Its deflection: of a tongue, or what hangs on a neck, under its own weight; of a web under
        the brush.
    """

    kind: str
    where_mm: tuple[float, float]
    length_mm: float
    width_mm: float
    gives_mm: float


def tongue_droop_mm(length_mm: float, process: Process) -> float:
    """How far a tongue sags by itself."""
    return cantilever_own_weight_mm(
        length_mm, process.thickness_mm, process.modulus_gpa, process.density_kg_m3
    )


def web_gives_mm(length_mm: float, width_mm: float, process: Process) -> float:
    """How far a web gives under the brush, held at both ends."""
    return built_in_point_mm(
        process.dab_n, length_mm, width_mm, process.thickness_mm, process.modulus_gpa
    )
