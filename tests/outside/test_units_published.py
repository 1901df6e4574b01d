"""Quantities against published values.

Sources: the international inch of 1959 is 25.4 mm exactly, the standard acceleration of gravity
9.80665 m/s2 exactly (3rd CGPM, 1901), so 1 gf is 0.980665 cN exactly; tex is g/km (ISO 1144, from
memory); stitch densities from stitches per inch as printed in sewing tables (25.4 / spi).
"""

import pytest

from ironlace.evidence.quantities import parse_measured


@pytest.mark.parametrize(
    ("written", "unit", "value"),
    [
        ("1 in", "mm", 25.4),
        ("1 gf", "cN", 0.980665),
        ("25 gf", "cN", 24.516625),
        ("0.003 in", "mm", 0.0762),
        ("1/64 in", "mm", 0.396875),
        ("30 tex", "g/km", 30.0),
        ("1 thou", "mm", 0.0254),
    ],
)
def test_units(written, unit, value):
    assert parse_measured(written).to(unit).value == pytest.approx(value, rel=1e-9)


@pytest.mark.parametrize(
    ("per_inch", "length_mm"), [(8, 3.175), (10, 2.54), (12, 2.1167), (14, 1.8143), (20, 1.27)]
)
def test_stitch_density(per_inch, length_mm):
    density = parse_measured(f"{per_inch} spi").pint()
    assert (1 / density).to("mm").magnitude == pytest.approx(length_mm, abs=5e-5)
