import re

import pytest

from ironlace.running.degree_disc import DegreeDisc, degree_disc_svg
from ironlace.running.errors import RunningError


def ticks(svg):
    return re.findall(r"M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)", svg)


@pytest.mark.parametrize(("way", "sense"), [("clockwise", 1), ("anticlockwise", -1)])
def test_it_is_drawn_at_true_scale_and_numbered_the_way_asked_for(way, sense):
    svg = degree_disc_svg(DegreeDisc(diameter_mm=120.0, numbered=way))
    assert 'width="210mm" height="297mm" viewBox="0 0 210 297"' in svg
    assert len(ticks(svg)) == 360
    x, y, _, _ = (float(v) for v in ticks(svg)[90])
    assert x == pytest.approx(105.0 + sense * 60.0, abs=1e-3)
    assert y == pytest.approx(76.0, abs=1e-3)
    assert svg.count("<text") == 36 + 4


@pytest.mark.parametrize(
    "disc", [DegreeDisc(20.0), DegreeDisc(400.0), DegreeDisc(100.0, hole_mm=90.0)]
)
def test_a_disc_that_cannot_be_printed_is_refused(disc):
    with pytest.raises(RunningError, match="give"):
        degree_disc_svg(disc)
