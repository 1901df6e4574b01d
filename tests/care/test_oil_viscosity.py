"""Viscosity of an oil: from two figures, from a grade, and where nothing is told."""

import pytest

from ironlace.care.errors import CareError
from ironlace.care.oil_analysis import OilAsked
from ironlace.care.oil_viscosity import (
    between,
    grade_named,
    grade_of_viscosity,
    told_doubtful,
    viscosity_at,
)
from ironlace.evidence.analyses import asked_from
from ironlace.evidence.errors import IronlaceError


@pytest.mark.parametrize("celsius", [5.0, 18.0, 40.0, 70.0])
def test_a_grade_alone_is_a_range_that_holds_the_common_oils(celsius):
    low, value, high = viscosity_at(celsius, grade=22).mm2_s
    assert low < value < high
    for at_40, at_100 in ((19.8, 4.05), (22.0, 4.3), (24.2, 4.5), (22.0, 4.0)):
        assert low <= between(celsius, (40.0, at_40), (100.0, at_100)) <= high


def test_the_range_of_a_grade_at_18_degrees_is_that_of_the_trial():
    low, _, high = viscosity_at(18.0, grade=22).mm2_s
    assert low == pytest.approx(51, abs=1)
    assert high == pytest.approx(75, abs=1)


def test_below_two_nothing_is_told_and_why():
    found = viscosity_at(100.0, 4.6, 1.5)
    assert found.mm2_s is None
    assert "D341" in found.why
    assert viscosity_at(90.0, 5.0, 2.01).mm2_s is not None
    assert viscosity_at(120.0, 5.0, 2.01).mm2_s is None


@pytest.mark.parametrize(
    ("at_40", "grade"), [(1.98, 2), (2.42, 2), (6.12, 7), (25.0, None), (24.2, 22), (1.0, None)]
)
def test_grades_by_their_limits(at_40, grade):
    assert grade_of_viscosity(at_40) == grade


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ((40.0, 22.0, 30.0, None), "changed round"),
        ((20.0, None, 4.3, None), "needs its viscosity"),
        ((20.0, 32.0, None, 22), "outside VG 22"),
        ((400.0, 32.0, None, None), "Celsius"),
        ((20.0, 22.0, 0.25, None), "thinner than boiling water"),
    ],
)
def test_what_cannot_be_is_refused(given, says):
    with pytest.raises(CareError, match=says):
        viscosity_at(*given)


def test_a_grade_that_does_not_exist_is_refused():
    with pytest.raises(CareError, match="has no grade"):
        grade_named("VG 20")


@pytest.mark.parametrize("fahrenheit", ["55", "64", "72", "90"])
def test_a_workshop_read_in_fahrenheit_and_typed_bare_is_refused(fahrenheit):
    with pytest.raises(IronlaceError, match="Temperature of the workshop"):
        asked_from(OilAsked, {"at_40": "22", "temperature": fahrenheit})
    told = asked_from(OilAsked, {"at_40": "22", "temperature": f"{fahrenheit} °F"})
    assert 10.0 < told.temperature.value < 35.0


@pytest.mark.parametrize(
    ("at_40", "at_100"), [(105.0, 4.3), (105.0, 40.0), (22.0, 18.0), (48.0, 1.2)]
)
def test_two_figures_that_no_oil_has_are_refused(at_40, at_100):
    with pytest.raises(CareError, match="No oil has"):
        viscosity_at(18.0, at_40, at_100)


@pytest.mark.parametrize(("at_40", "at_100"), [(36.0, 8.3), (40.2, 5.0), (22.0, 4.3), (32.0, 6.2)])
def test_oils_of_every_index_are_taken(at_40, at_100):
    # rape oil; indices 0, 100 and 150 after ASTM D2270
    assert viscosity_at(18.0, at_40, at_100).mm2_s is not None


def test_a_number_that_is_an_sae_grade_too_and_a_hot_workshop_are_asked_about():
    assert "SAE 10W is about VG 32" in told_doubtful(18.0, "10")[0]
    assert told_doubtful(18.0, "22") == []
    assert "7 °C" in told_doubtful(45.0)[0]
