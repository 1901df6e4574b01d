"""Belt lengths and turns against published values."""

import pytest

from ironlace.evidence.analyses import Nothing, asked_from
from ironlace.evidence.progress import Steps
from ironlace.stand import BELT_LENGTH


def figures(**values):
    asked = asked_from(BELT_LENGTH.asked, values)
    return BELT_LENGTH.answer(BELT_LENGTH.work(Nothing(), asked, Steps())).figures


# "Mechanics", Encyclopaedia Britannica, 11th ed., vol. 17, eqs 32A and 32B, worked out to these
# figures and by summing a polyline of arcs and tangents. Radii at the belt's middle.
@pytest.mark.parametrize(
    ("large", "small", "centres", "open_mm", "crossed_mm"),
    [
        (150, 35, 600, 1803.3045, 1838.7017),
        (160, 40, 560, 1774.1326, 1820.5372),
    ],
)
def test_lengths_of_open_and_crossed_belts(large, small, centres, open_mm, crossed_mm):
    thick = 4.76
    wheels = {"driver": f"{2 * large - thick}", "driven": f"{2 * small - thick}"}
    for way, expected in (("open", open_mm), ("crossed", crossed_mm)):
        said = figures(**wheels, centres=f"{centres}", thickness=f"{thick}", way=way)
        assert said["length_mm"] == pytest.approx(expected, abs=1e-4)


def test_contact_on_the_small_wheel():
    # 180 - 2 asin((R - r) / C) for 150, 35, 600 mm: 157.900 degrees (the same source)
    said = figures(driver="295.24", driven="65.24", centres="600", thickness="4.76")
    assert said["wrap_deg"] == pytest.approx(157.900, abs=5e-4)


def test_turns_are_those_of_the_belts_middle():
    # 300 : 70 with a 4.76 mm round belt turns 4.0765 times, 5 % less than by the grooves (basic
    # mechanics, from memory)
    said = figures(driver="300", driven="70", centres="600", thickness="4.76")
    assert said["turns"] == pytest.approx(4.0765, abs=5e-5)


def test_the_textbooks_long_belt():
    # wheels of 1600 and 500 mm at 12 m: 27.32 m, printed in a textbook's exercise (secondary)
    said = figures(
        driver="1599 mm",
        driven="499 mm",
        centres="9999 mm",
        thickness="1 mm",
        at_hand="27323.885 mm",
    )
    assert said["centres_for_mm"] == pytest.approx(12_000.0, abs=0.01)


def test_the_belts_pull_is_the_capstans():
    # T1 / T2 = exp(0.3 x 180 degrees) = 2.5663 (capstan equation), at 70 mm across and 0.35 N m:
    # T1 - T2 = 10 N
    said = figures(
        driver="69",
        driven="69",
        centres="500",
        thickness="1",
        torque="0.35 N*m",
        friction="0.3",
    )
    assert said["tight_N"] == pytest.approx(10.0 * 2.5663 / 1.5663, rel=1e-4)
