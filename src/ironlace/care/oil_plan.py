"""The oiling plan of a machine: its oil, its felts, and when each point is due."""

import calendar
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from math import ceil
from typing import Annotated, Final, Literal

from ironlace.care.errors import CareError
from ironlace.care.felt_wick import Felt, FeltFound, felt_found
from ironlace.care.oil_viscosity import (
    HOTTEST_WORKSHOP_C,
    OilViscosity,
    grade_named,
    told_doubtful,
    viscosity_at,
)
from ironlace.evidence.analyses import Ask
from ironlace.evidence.wording import listed

TENSION_N_M: Final = 0.030
"""Surface tension of a light mineral oil (from memory)."""
DENSITY_KG_M3: Final = 860.0
"""Density of a light mineral oil (common practice)."""
_MOST_MONTHS: Final = 1200
"""A hundred years."""
_LAST_YEAR: Final = 9990
"""Calendars end with the year 9999."""


@dataclass(frozen=True)
class Oil:
    """The oil: two viscosities (mm²/s at 40 and 100 °C) or its grade, and where it is used."""

    temperature_C: Annotated[  # noqa: N815  (degrees Celsius)
        float, Ask("Workshop", unit="degC", low=-30.0, high=HOTTEST_WORKSHOP_C)
    ]
    viscosity_40_mm2_s: Annotated[float | None, Ask("at 40 °C", low=0.5, high=5000.0)] = None
    viscosity_100_mm2_s: Annotated[float | None, Ask("at 100 °C", low=0.2, high=1000.0)] = None
    grade: str | int | None = None
    density_kg_m3: Annotated[float, Ask("Density", unit="kg/m3", low=600, high=1300)] = (
        DENSITY_KG_M3
    )
    surface_tension_N_m: Annotated[  # noqa: N815
        float, Ask("Surface tension", low=0.005, high=0.08)
    ] = TENSION_N_M
    name: str = ""


@dataclass(frozen=True)
class Point:
    """A place that wants oil: how many drops, how often, when it last had some."""

    name: Annotated[str, Ask("Name")]
    last: Annotated[str, Ask("Last oiled", help="A day, such as 1893-04-12.")]
    drops: Annotated[int, Ask("Drops", low=1, high=200)] = 1
    every_hours: Annotated[float | None, Ask("Hours of sewing", unit="h", low=0.01, high=1e5)] = (
        None
    )
    every_months: Annotated[int | None, Ask("Months", low=1, high=_MOST_MONTHS)] = None
    hours_per_week: Annotated[float | None, Ask("Hours a week", low=0, high=168)] = None
    kind: str = ""


@dataclass(frozen=True)
class OilPlan:
    """A plan as it is asked for."""

    oil: Oil
    felt: tuple[Felt, ...] = ()
    point: tuple[Point, ...] = ()


@dataclass(frozen=True, slots=True)
class PointDue:
    """When a point is due, and which of its two rules says so."""

    point: Point
    due: date
    due_by: Literal["months", "hours"]


@dataclass(frozen=True, slots=True)
class OilPlanFound:
    """What a plan comes to."""

    viscosity: OilViscosity
    felts: tuple[FeltFound, ...]
    points: tuple[PointDue, ...]


def oil_plan(plan: OilPlan) -> OilPlanFound:
    """Work a plan out.

    Raises
    ------
    CareError
        When a figure contradicts another, a grade does not exist, or a point has no rule.
    """
    oil = plan.oil
    grade = None if oil.grade is None else grade_named(str(oil.grade))
    viscosity = viscosity_at(
        oil.temperature_C, oil.viscosity_40_mm2_s, oil.viscosity_100_mm2_s, grade
    )
    felts = tuple(
        felt_found(one, viscosity.mm2_s, oil.density_kg_m3, oil.surface_tension_N_m)
        for one in plan.felt
    )
    return OilPlanFound(viscosity, felts, due_dates(plan.point))


def due_dates(points: Sequence[Point]) -> tuple[PointDue, ...]:
    """When each point is due, by months or by hours of sewing, whichever is first."""
    return tuple(PointDue(one, *_due(one)) for one in points)


def _due(point: Point) -> tuple[date, Literal["months", "hours"]]:
    last = day_of(point.last, point.name)
    by_months = None if point.every_months is None else months_later(last, point.every_months)
    by_hours = None
    if point.every_hours is not None:
        if point.hours_per_week is None and by_months is None:
            raise CareError(
                f"Point '{point.name}' is due every {point.every_hours:g} hours, and nobody knows "
                "when that is: give hours_per_week."
            )
        if point.hours_per_week:
            weeks = Fraction(str(point.every_hours)) / Fraction(str(point.hours_per_week))
            by_hours = _days_later(last, ceil(weeks * 7), point.name)
    if by_months is None and by_hours is None:
        raise CareError(
            f"Point '{point.name}' has no rule: give every_months, or every_hours with "
            "hours_per_week above 0."
        )
    if by_months is not None and (by_hours is None or by_months <= by_hours):
        return by_months, "months"
    assert by_hours is not None
    return by_hours, "hours"


def day_of(words: str, name: str) -> date:
    """A whole day in EDTF.

    Raises CareError for anything less: nothing can be due from 'about 1893'.
    """
    try:
        found = date.fromisoformat(words) if re.fullmatch(r"\d{4}-\d{2}-\d{2}", words) else None
    except ValueError:
        found = None
    if found is None or found.year > _LAST_YEAR - _MOST_MONTHS // 12:
        raise CareError(
            f"Point '{name}' was last oiled '{words[:40]}': give the day, such as 1893-04-12."
        )
    return found


def months_later(day: date, months: int) -> date:
    """The same day so many calendar months later, or the end of that month if it has no such day.

    >>> str(months_later(date(1893, 1, 31), 1))
    '1893-02-28'
    """
    years, month = divmod(day.month - 1 + months, 12)
    year = day.year + years
    return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))


def _days_later(day: date, days: int, name: str) -> date:
    try:
        return day + timedelta(days=days)
    except OverflowError as error:
        raise CareError(
            f"Point '{name}' would be due {days:,} days on: check every_hours and hours_per_week."
        ) from error


_LEAST_ML: Final = 0.005
"""A felt that holds less holds less than the smallest drop: then its sizes were in cm."""
_YEARS_APART: Final = 5.0
"""By so many years a place may have been oiled before or after the middle one of all (a
judgement)."""


def plan_doubts(plan: OilPlan) -> list[str]:
    """What makes it probable that a felt or a day of a plan is not what it was meant to be."""
    said = []
    for felt in plan.felt:
        a, b, c = felt.size_mm
        if a * b * c * felt.porosity / 1000.0 < _LEAST_ML:
            said.append(
                f"The felt '{felt.name[:40]}' of {a:g} x {b:g} x {c:g} mm holds less than a drop: "
                "were its sizes in cm?"
            )
    days = sorted(day_of(point.last, point.name) for point in plan.point)
    if len(days) <= _FEWEST_DAYS:
        return said
    middle = days[len(days) // 2]
    far = [
        point
        for point in plan.point
        if abs((day_of(point.last, point.name) - middle).days) > _YEARS_APART * 365.25
    ]
    if far and len(days) > 2 * len(far):
        said.append(
            f"{listed([f'{one.name[:40]} ({one.last})' for one in far])} stands years from the "
            f"other places' last oiling ({middle.isoformat()}): was the year miswritten?"
        )
    return said


_FEWEST_DAYS: Final = 2
"""Of so few days none is told to be the odd one."""


def viscosity_in_words(oil: Oil, found: OilViscosity) -> str:
    """How thick the oil is at the workshop's temperature, what makes that doubtful first."""
    named = "" if oil.grade is None else str(oil.grade)
    return " ".join([*told_doubtful(oil.temperature_C, named), _thick_in_words(oil, found)])


def _thick_in_words(oil: Oil, found: OilViscosity) -> str:
    grade = "between grades" if found.grade is None else f"ISO VG {found.grade}"
    if found.mm2_s is None:
        return f"The oil ({grade}): no viscosity is told, since {found.why}."
    low, value, high = found.mm2_s
    if not found.is_range:
        return f"The oil ({grade}) has {value:.3g} mm²/s at {oil.temperature_C:g} °C."
    return (
        f"The oil ({grade}) has anything from {low:.3g} to {high:.3g} mm²/s at "
        f"{oil.temperature_C:g} °C: its figures at 40 and 100 °C would tell."
    )


def oil_in_words(oil: Oil, found: OilViscosity) -> str:
    """The same after the oil's name, where it has one."""
    named = f"{oil.name}. " if oil.name else ""
    return f"{named}{viscosity_in_words(oil, found)}"


def every_in_words(point: Point) -> str:
    """How often a point wants oil.

    >>> every_in_words(Point("cup", "1893-04-12", every_hours=8.0, every_months=3))
    '8 h of sewing or 3 months'
    """
    parts = []
    if point.every_hours is not None:
        parts.append(f"{point.every_hours:g} h of sewing")
    if point.every_months is not None:
        parts.append(f"{point.every_months} month{'s' * (point.every_months != 1)}")
    return " or ".join(parts)
