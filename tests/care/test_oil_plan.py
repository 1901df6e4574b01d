"""When oil is due: months or hours, whichever is first."""

from datetime import date

import pytest

from ironlace.care.errors import CareError
from ironlace.care.oil_plan import Oil, OilPlan, Point, due_dates, months_later, oil_plan


def due(**given):
    (found,) = due_dates([Point("cup", **{"last": "2026-01-31", **given})])
    return found.due.isoformat(), found.due_by


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        ({"every_months": 1}, ("2026-02-28", "months")),
        ({"every_months": 1, "last": "2028-01-31"}, ("2028-02-29", "months")),
        ({"every_months": 12, "last": "2028-02-29"}, ("2029-02-28", "months")),
        ({"every_hours": 8.0, "hours_per_week": 2.0}, ("2026-02-28", "hours")),
        ({"every_hours": 8.0, "hours_per_week": 2.0, "every_months": 1}, ("2026-02-28", "months")),
        ({"every_hours": 8.0, "hours_per_week": 3.0}, ("2026-02-19", "hours")),
        ({"every_hours": 0.3, "hours_per_week": 2.1}, ("2026-02-01", "hours")),
        ({"every_hours": 8.0, "hours_per_week": 0.0, "every_months": 2}, ("2026-03-31", "months")),
        ({"every_hours": 8.0, "every_months": 2}, ("2026-03-31", "months")),
    ],
)
def test_due_days(given, expected):
    assert due(**given) == expected


def test_months_end_with_their_month():
    assert months_later(date(2026, 10, 31), 1) == date(2026, 11, 30)
    assert months_later(date(2026, 12, 1), 13) == date(2028, 1, 1)


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({}, "has no rule"),
        ({"every_hours": 8.0}, "hours_per_week"),
        ({"every_hours": 8.0, "hours_per_week": 0.0}, "has no rule"),
        ({"every_months": 1, "last": "2026-01"}, "give the day"),
        ({"every_months": 1, "last": "2026-02-30"}, "give the day"),
        ({"every_hours": 1e5, "hours_per_week": 1e-4}, "days on"),
    ],
)
def test_what_cannot_be_due_is_refused(given, says):
    with pytest.raises(CareError, match=says):
        due(**given)


def test_a_plan_takes_the_grade_as_a_number_or_in_words():
    for grade in (22, "22", "ISO VG 22"):
        assert oil_plan(OilPlan(Oil(20.0, grade=grade))).viscosity.grade == 22
