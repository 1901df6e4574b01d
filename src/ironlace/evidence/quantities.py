"""Quantities with unit and uncertainty: pint carries the units, uncertainties the errors.

A length may be written as the bench writes it, `31.6 ± 0.1 mm`, `1 1/4 in`, `3/16 in ± 1/64 in`;
a unit made of others as print or keyboard gives it, `mm²/s`, `mm2/s`, `/min`, `min⁻¹`.
The number after ± is carried as one standard uncertainty (JCGM 100:2008, the GUM).
"""

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from math import isfinite
from typing import Any

from uncertainties import ufloat

from ironlace.evidence.errors import IronlaceError

MM_PER_INCH = 25.4  # exact: international yard and pound agreement, 1959

_NUMBER = r"[+-]?(?:\d+\s+\d+/\d+|\d+/\d+|\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?)"
_UNIT = r"(?:1? ?/ ?)?[A-Za-zµμ°%\"'″′][A-Za-zµμ°%\"'″′0-9·*/^ ⁻¹²³]*"
_RAISED = str.maketrans("⁻¹²³", "-123")
_POWER = re.compile(r"(?<=[A-Za-zµμ])⁻?[0-9¹²³]+")
_SQUARE_OR_CUBE = re.compile(r"(?<=[A-Za-zµμ])[23]\b")
_WRITTEN = re.compile(
    rf"(?P<value>{_NUMBER})(?P<digits>\(\d+\))?\s*(?P<unit1>{_UNIT}?)?\s*"
    rf"(?:(?:±|\+/-|\+-)\s*(?P<error>{_NUMBER})\s*(?P<unit2>{_UNIT})?)?\Z"
)
_UNIT_WORDS = {
    '"': "inch",
    "″": "inch",
    "in": "inch",
    "ins": "inch",
    "thou": "thousandth_of_inch",
    "°": "degree",
    "deg": "degree",
    "%": "percent",
    "spi": "1/inch",
    "stitches per inch": "1/inch",
    "rpm": "revolutions_per_minute",
    "°C": "degC",
    "gf": "force_gram",
    "": "",
}


class QuantityError(IronlaceError):
    """A written quantity cannot be read, or its unit does not fit."""


@cache
def registry() -> Any:
    """Return the one unit registry (pint's own units, with the thou of the bench)."""
    import pint  # takes a quarter of a second, and most commands convert nothing

    units: Any = pint.UnitRegistry(cache_folder=None)
    units.define("thousandth_of_inch = 0.001 inch = thou_")
    units.formatter.default_format = "~P"
    return units


@dataclass(frozen=True, slots=True)
class Measured:
    """A value with its standard uncertainty, in one unit.

    `error` is None when none was stated, which is not the same as zero.
    """

    value: float
    unit: str
    error: float | None = None

    def to(self, unit: str) -> "Measured":
        """Return the same quantity in another unit.

        Raises QuantityError when the units measure different things.

        >>> parse_measured("1 1/4 in").to("mm")
        Measured(value=31.75, unit='mm', error=None)
        """
        from pint import DimensionalityError

        name = _unit_name(unit)
        try:
            value = registry().Quantity(self.value, _unit_name(self.unit)).to(name).magnitude
            error = None
            if self.error is not None:
                scale = registry().Quantity(1.0, _delta(_unit_name(self.unit)))
                error = abs(self.error * scale.to(_delta(name)).magnitude)
        except DimensionalityError as failure:
            raise QuantityError(
                f"'{self}' cannot be told in '{unit}': they measure different things."
            ) from failure
        return Measured(_tidy(value), unit, None if error is None else _tidy(error))

    def pint(self) -> Any:
        """Return a pint quantity for computing; its magnitude carries the error, if one is known.

        The magnitude is an `uncertainties` number, or a plain float when no error was stated.
        """
        number = ufloat(self.value, self.error) if self.error else self.value
        return registry().Quantity(number, _unit_name(self.unit))

    @property
    def is_length(self) -> bool:
        """Whether it measures a length, and so can be shown in mm and inches."""
        return bool(registry().Unit(_unit_name(self.unit)).dimensionality == {"[length]": 1})

    def both_ways(self) -> str:
        """Return a length in its own unit and in the other of mm and inches.

        >>> parse_measured("31.6 ± 0.1 mm").both_ways()
        '31.6 ± 0.1 mm (1.2441 ± 0.0039 in)'
        >>> parse_measured("5/16 in").both_ways()
        '0.3125 in (7.938 mm)'
        """
        if not self.is_length:
            return str(self)
        other = "mm" if _unit_name(self.unit) != "millimeter" else "in"
        told = self.to(other)
        places = 3 if other == "mm" else 4
        return f"{self} ({_with_places(told, places)})"

    def __str__(self) -> str:
        number = f"{self.value:.10g}"
        if self.error is not None:
            number += f" ± {self.error:.10g}"
        return f"{number} {self.unit}".strip()


def parse_measured(text: str, default_unit: str = "") -> Measured:
    """Read a quantity as it is written at the bench.

    Raises
    ------
    QuantityError
        When it cannot be read, the unit is unknown, or none is given and there is no default.

    >>> parse_measured("31.6(1) mm")
    Measured(value=31.6, unit='mm', error=0.1)
    >>> parse_measured("3/16 in ± 1/64 in").to("mm").value
    4.7625
    """
    match = _WRITTEN.match(" ".join(text.split()))
    if not match:
        raise QuantityError(
            f"'{text}' is not a quantity: write a number, a unit and if known ± its error, "
            "such as 31.6 ± 0.1 mm or 1 1/4 in."
        )
    unit = _as_shown((match["unit2"] or match["unit1"] or default_unit).strip())
    first = _as_shown((match["unit1"] or unit).strip())
    if not unit:
        raise QuantityError(f"'{text}' has no unit: add mm, in, cN or another.")
    value = Measured(_number(match["value"]), first)
    error: float | None = None
    if match["error"]:
        error = Measured(abs(_number(match["error"])), unit).to(first).value
    elif match["digits"]:
        places = len(match["value"].partition(".")[2])
        error = _tidy(int(match["digits"][1:-1]) * 10.0**-places)
    _check_unit(first)
    if not isfinite(value.value):
        raise QuantityError(f"'{text}' is too large to be a measurement: check the number.")
    return Measured(value.value, first, error)


def _number(text: str) -> float:
    sign = -1.0 if text.startswith("-") else 1.0
    parts = text.lstrip("+-").replace(",", ".").split()
    try:
        return sign * float(sum(Fraction(part) for part in parts))
    except (ZeroDivisionError, OverflowError) as error:
        raise QuantityError(f"'{text}' is not a number that can be used: check it.") from error


def _as_shown(unit: str) -> str:
    if unit.lstrip("1 ").startswith("/"):
        return "1/" + unit.lstrip("1 ").lstrip("/ ")
    if unit in ('"', "″", "ins", "inch", "inches"):
        return "in"
    return _SQUARE_OR_CUBE.sub(lambda power: "²" if power[0] == "2" else "³", unit)


@cache
def _unit_name(unit: str) -> str:
    """A unit as pint names it: `mm2/s` and `mm²/s` as `mm**2/s`."""
    known = _UNIT_WORDS.get(unit, "millimeter" if unit == "mm" else unit)
    if known not in registry():
        known = _POWER.sub(lambda power: f"**{power[0].translate(_RAISED)}", known)
    return known.replace("·", "*")


def _delta(name: str) -> str:
    return f"delta_{name}" if name in ("degC", "degF") else name


@cache
def _check_unit(unit: str) -> None:
    try:
        registry().Unit(_unit_name(unit))
    except Exception as error:  # pint raises many kinds for a text that is not a unit
        raise QuantityError(
            f"'{unit}' is not a unit known here: use mm, in, cN, gf, g, deg, mm²/s, 1/min or "
            "another SI unit."
        ) from error


def _tidy(value: float) -> float:
    # 1.25 in must come out as 31.75 mm, not 31.749999999999996
    return float(f"{value:.12g}")


def _with_places(measured: Measured, places: int) -> str:
    number = f"{measured.value:.{places}f}".rstrip("0").rstrip(".")
    if measured.error is None:
        return f"{number} {measured.unit}"
    return f"{measured.value:.{places}f} ± {measured.error:.{places}f} {measured.unit}"
