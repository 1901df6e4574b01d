import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ironlace.evidence.quantities import (
    MM_PER_INCH,
    Measured,
    QuantityError,
    parse_measured,
)


@pytest.mark.parametrize(
    ("written", "value", "error", "unit"),
    [
        ("31.6 ± 0.1 mm", 31.6, 0.1, "mm"),
        ("31.6 mm ± 0.1 mm", 31.6, 0.1, "mm"),
        ("31.6 +/- 0.1 mm", 31.6, 0.1, "mm"),
        ("31.6(2) mm", 31.6, 0.2, "mm"),
        ("0,25 mm", 0.25, None, "mm"),
        ("1 1/4 in", 1.25, None, "in"),
        ('5/8"', 0.625, None, "in"),
        ("3/16 in ± 1/64 in", 0.1875, 0.015625, "in"),
        ("25 ± 2 gf", 25.0, 2.0, "gf"),
        ("12 spi", 12.0, None, "spi"),
        ("-3 °C", -3.0, None, "°C"),
        ("3.2 mm2/s", 3.2, None, "mm²/s"),
        ("3.2 mm²/s ± 0.1 mm2/s", 3.2, 0.1, "mm²/s"),
        ("226 /min", 226.0, None, "1/min"),
        ("226/min", 226.0, None, "1/min"),
        ("226 1/min", 226.0, None, "1/min"),
        ("226 min⁻¹", 226.0, None, "min⁻¹"),
        ("12 mmHg", 12.0, None, "mmHg"),
    ],
)
def test_written_as_at_the_bench(written, value, error, unit):
    assert parse_measured(written) == Measured(value, unit, error)


@pytest.mark.parametrize(
    ("written", "unit", "value"),
    [
        ("3 mm2/s", "m²/s", 3e-6),
        ("30 /min", "1/s", 0.5),
        ("30 min⁻¹", "1/s", 0.5),
        ("4 N·mm", "N*m", 0.004),
        ("2 in2", "mm²", 1290.32),
        ("5 kg/m3", "g/cm³", 0.005),
    ],
)
def test_a_unit_made_of_others_is_converted(written, unit, value):
    assert parse_measured(written).to(unit).value == pytest.approx(value, rel=1e-12)


def test_an_error_in_another_unit_is_carried_over():
    measured = parse_measured("31.6 mm ± 4 thou")
    assert measured.unit == "mm"
    assert measured.error == pytest.approx(0.1016)


@given(st.floats(0.001, 10_000), st.floats(0.0001, 10))
def test_there_and_back_is_the_same(value, error):
    back = Measured(value, "mm", error).to("in").to("mm")
    assert back.value == pytest.approx(value, rel=1e-10)
    assert back.error == pytest.approx(error, rel=1e-10)


def test_the_inch_is_exact():
    assert parse_measured("1 in").to("mm").value == MM_PER_INCH


def test_uncertainty_goes_through_a_computation():
    circumference = math.pi * parse_measured("20.0 ± 0.1 mm").pint()
    assert circumference.magnitude.std_dev == pytest.approx(math.pi * 0.1)


def test_a_temperature_difference_is_not_a_temperature():
    told = parse_measured("20 °C ± 0.5 °C").to("degF")
    assert told.value == pytest.approx(68)
    assert told.error == pytest.approx(0.9)


@pytest.mark.parametrize(
    "written",
    [
        *("", "mm", "about 3 mm", "12", "12 florps", "12 florp2"),
        *("3 mm/", "3 /", "1/0 mm", "1e999 mm", "3 ± mm"),
    ],
)
def test_what_is_not_a_quantity_is_refused(written):
    with pytest.raises(QuantityError):
        parse_measured(written)


def test_units_that_do_not_fit_are_refused():
    with pytest.raises(QuantityError, match="different things"):
        parse_measured("3 mm").to("N")
