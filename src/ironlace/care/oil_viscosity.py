"""An oil's viscosity at the workshop's temperature, from two figures or from its grade alone.

The viscosity's course with temperature is that of Walther in the simple form of ASTM D341:
`log10 log10(v + 0.7) = A - B log10 T`, v in mm²/s (1 mm²/s is 1 cSt), T in kelvin, for v of 2 and
above. Grades are those of ISO 3448: the limits at 40 °C are a tenth about the grade's middle.
"""

import math
import re
from dataclasses import dataclass
from typing import Final

from ironlace.care.errors import CareError

Interval = tuple[float, float, float]

HOTTEST_WORKSHOP_C: Final = 50.0
"""No bench is warmer: such a figure was read in °F, where workshops lie between 50 and 95 (a
judgement)."""
LEAST_MM2_S: Final = 2.0
"""Below it the simple form does not hold (ASTM D341 adds terms for thinner oils)."""
MIDPOINTS: Final = {
    2: 2.2,
    3: 3.2,
    5: 4.6,
    7: 6.8,
    10: 10.0,
    15: 15.0,
    22: 22.0,
    32: 32.0,
    46: 46.0,
    68: 68.0,
    100: 100.0,
    150: 150.0,
    220: 220.0,
    320: 320.0,
    460: 460.0,
    680: 680.0,
    1000: 1000.0,
    1500: 1500.0,
    2200: 2200.0,
    3200: 3200.0,
}
"""Middle of each grade at 40 °C in mm²/s (ISO 3448, read in a secondary table)."""
LIMIT: Final = 0.1
"""Share by which a grade reaches to either side of its middle (ISO 3448)."""
_SLOPE_LOW, _SLOPE_HIGH = -0.15, 0.32
"""How far B of an oil lies from that of a common mineral oil of its viscosity: viscosity
index about 125 and 45, as oils sold for such machines have (a judgement over printed oils; the
index reckoned from the tables of ASTM D2270, from memory)."""
_STEEPEST: Final = (-1.0, 0.9)
"""Within what B of any oil lies of that of a common one: rape oil has -0.9, an oil of index 0 has
0.64 (reckoned from the tables of ASTM D2270, from memory). Beyond it one of two
figures is another oil's, or in another unit: Saybolt seconds are four to five times the mm²/s."""
HOT_C, COLD_C = 38.0, -5.0
"""Nobody sews in a warmer workshop, nor in a colder one: then it was read in °F (a judgement)."""
SAE_TOO: Final = {5: "5W is about VG 22", 10: "10W is about VG 32", 15: "15W is about VG 46"}
"""Numbers that bottles bear as SAE grades too, and what those are (from memory)."""
_MOST_CELSIUS: Final = 200.0
"""Oil burns above."""
_LEAST_CELSIUS: Final = -40.0
"""Oil does not flow below."""


@dataclass(frozen=True, slots=True)
class OilViscosity:
    """Viscosity at a temperature: what, how sure, and the grade it belongs to.

    `mm2_s` is low, value, high; all three alike where two figures gave it; None, with `why`, where
    the simple form does not hold. `grade` is the number of ISO 3448, None between grades.
    """

    mm2_s: Interval | None
    why: str
    grade: int | None
    is_range: bool


def grade_of_viscosity(viscosity_40: float) -> int | None:
    """The ISO 3448 grade that an oil of this viscosity at 40 °C belongs to, None between grades.

    >>> grade_of_viscosity(19.8), grade_of_viscosity(25.0)
    (22, None)
    """
    for grade, middle in MIDPOINTS.items():
        if middle * (1 - LIMIT) - 1e-9 <= viscosity_40 <= middle * (1 + LIMIT) + 1e-9:
            return grade
    return None


def grade_named(words: str) -> int:
    """The number of a grade as it stands on a bottle.

    >>> grade_named("ISO VG 22"), grade_named("22")
    (22, 22)
    """
    found = re.fullmatch(r"\s*(?:iso[\s-]*)?(?:vg[\s-]*)?(\d+)\s*", words.casefold())
    if not found or int(found[1]) not in MIDPOINTS:
        raise CareError(
            f"ISO 3448 has no grade '{words[:30]}': it has VG {', '.join(map(str, MIDPOINTS))}."
        )
    return int(found[1])


_LEAST_WALTHER_MM2_S = 0.3
"""Walther's law has no logarithm at or below it; water has 0.29 as it boils."""


def viscosity_at(
    celsius: float,
    viscosity_40: float | None = None,
    viscosity_100: float | None = None,
    grade: int | None = None,
) -> OilViscosity:
    """Viscosity at a temperature from the figures at 40 and 100 °C, or as far as the rest tells.

    Raises
    ------
    CareError
        When neither a figure at 40 °C nor a grade is given, they contradict one another, or a
        figure cannot be.
    """
    if not _LEAST_CELSIUS <= celsius <= _MOST_CELSIUS:
        raise CareError(f"{celsius:g} °C is no temperature to oil at: give it in degrees Celsius.")
    if viscosity_40 is None and grade is None:
        raise CareError(
            "The oil needs its viscosity at 40 °C (viscosity_40_mm2_s) or its grade (grade): both "
            "stand on its data sheet."
        )
    own = grade if viscosity_40 is None else grade_of_viscosity(viscosity_40)
    if viscosity_40 is not None and grade is not None:
        middle = MIDPOINTS[grade]
        if abs(viscosity_40 / middle - 1) > LIMIT + 1e-9:
            raise CareError(
                f"{viscosity_40:g} mm²/s at 40 °C is outside VG {grade} ({middle * 0.9:g} to "
                f"{middle * 1.1:g}): check both, or leave the grade out."
            )
    if viscosity_100 is not None and viscosity_40 is None:
        viscosity_40 = MIDPOINTS[int(grade or 0)]
    if viscosity_100 is not None and viscosity_40 is not None:
        return _from_two(celsius, viscosity_40, viscosity_100, own)
    middle = viscosity_40 if viscosity_40 is not None else MIDPOINTS[int(grade or 0)]
    share = LIMIT if viscosity_40 is None else 0.0
    found = []
    # above 40 °C the steep oil is the thin one
    thin, thick = (_SLOPE_LOW, _SLOPE_HIGH) if celsius <= 40 else (_SLOPE_HIGH, _SLOPE_LOW)
    for at_40, off in (
        (middle * (1 - share), thin),
        (middle, 0.0),
        (middle * (1 + share), thick),
    ):
        found.append(walther(celsius, 40.0, at_40, common_slope(at_40) + off))
    low, value, high = found
    if min(low, middle) < LEAST_MM2_S:
        return OilViscosity(None, _too_thin(low), own, is_range=True)
    return OilViscosity((low, value, high), "", own, is_range=True)


def common_slope(viscosity_40: float) -> float:
    """B of a common mineral oil (viscosity index about 100) of this viscosity at 40 °C.

    >>> round(common_slope(22.0), 2)
    3.78
    """
    return 3.78 - 0.37 * math.log10(viscosity_40 / 22.0)


def walther(celsius: float, at_celsius: float, mm2_s: float, slope: float) -> float:
    """Viscosity in mm²/s at a temperature, from one figure and the slope B.

    >>> round(walther(40.0, 40.0, 22.0, 3.78), 6)
    22.0
    """
    kelvins = math.log10((at_celsius + 273.15) / (celsius + 273.15))
    exponent = math.log10(math.log10(mm2_s + 0.7)) + slope * kelvins
    return float(10.0 ** (10.0**exponent) - 0.7)


def _from_two(celsius: float, at_40: float, at_100: float, grade: int | None) -> OilViscosity:
    if at_100 >= at_40:
        raise CareError(
            f"{at_100:g} mm²/s at 100 °C is not below {at_40:g} at 40 °C: an oil thins as it "
            "warms; the figures are changed round."
        )
    if at_100 <= _LEAST_WALTHER_MM2_S:
        raise CareError(
            f"{at_100:g} mm²/s at 100 °C is thinner than boiling water: read its data sheet again."
        )
    steep = (_double(at_40) - _double(at_100)) / math.log10(373.15 / 313.15)
    if not _STEEPEST[0] <= steep - common_slope(at_40) <= _STEEPEST[1]:
        raise CareError(
            f"No oil has {at_40:g} mm²/s at 40 °C and {at_100:g} at 100 °C: one figure is another "
            "oil's or was miswritten, or they are in another unit (Saybolt seconds are four to "
            "five times the mm²/s). Read both from one data sheet again, or give that at 40 °C "
            "alone."
        )
    if at_100 < LEAST_MM2_S:
        return OilViscosity(None, _too_thin(at_100), grade, is_range=False)
    found = between(celsius, (40.0, at_40), (100.0, at_100))
    if found < LEAST_MM2_S:
        return OilViscosity(None, _too_thin(found), grade, is_range=False)
    return OilViscosity((found, found, found), "", grade, is_range=False)


def between(celsius: float, one: tuple[float, float], other: tuple[float, float]) -> float:
    """Viscosity in mm²/s at a temperature, from two pairs of °C and mm²/s.

    >>> round(between(60.0, (40.0, 404.0), (100.0, 28.0)), 3)
    132.126
    """
    (t1, v1), (t2, v2) = one, other
    double = [_double(v) for v in (v1, v2)]
    slope = (double[0] - double[1]) / math.log10((t2 + 273.15) / (t1 + 273.15))
    return walther(celsius, t1, v1, slope)


def _double(mm2_s: float) -> float:
    """The logarithm of the logarithm of a viscosity (Walther)."""
    return math.log10(math.log10(mm2_s + 0.7))


def told_doubtful(celsius: float, grade_words: str = "") -> list[str]:
    """What makes it probable that a temperature or a grade is not what it was said to be.

    >>> told_doubtful(18.0, "ISO VG 10"), len(told_doubtful(45.0)), len(told_doubtful(18.0, "10"))
    ([], 1, 1)
    """
    said = []
    if not COLD_C <= celsius <= HOT_C:
        said.append(
            f"A workshop of {celsius:g} °C looks like one of {celsius:g} °F, "
            f"{(celsius - 32.0) / 1.8:.0f} °C: read the thermometer again."
        )
    words = grade_words.strip()
    if words.isdigit() and int(words) in SAE_TOO:
        said.append(
            f"{words} is taken as ISO VG {words}, a thin oil: was it an SAE grade on the bottle? "
            f"SAE {SAE_TOO[int(words)]}. Write ISO VG {words} if it is that."
        )
    return said


def _too_thin(mm2_s: float) -> str:
    return (
        f"the simple form of ASTM D341 holds from {LEAST_MM2_S:g} mm²/s up, and this oil comes to "
        f"{mm2_s:.3g}: measure it, or ask the maker for the figure at your temperature"
    )
