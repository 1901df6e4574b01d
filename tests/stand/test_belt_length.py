"""The belt's length against a belt drawn as a fine polyline, its doubt against many belts drawn."""

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ironlace.evidence.analyses import Known, Nothing, asked_from
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.stand import BELT_LENGTH
from ironlace.stand.belt_length import BeltAsked
from ironlace.stand.errors import StandError


def answer(**values):
    asked = asked_from(BeltAsked, values)
    return BELT_LENGTH.answer(BELT_LENGTH.work(Nothing(), asked, Steps()))


def taut_string(large, small, centres):
    """Length of a string pulled taut round both circles: the hull of many points on them, mm."""
    from scipy.spatial import ConvexHull

    turn = np.linspace(0.0, 2.0 * np.pi, 6001)
    circle = np.column_stack([np.cos(turn), np.sin(turn)])
    points = np.vstack([large * circle, small * circle + (centres, 0.0)])
    around = points[ConvexHull(points).vertices]
    return float(np.linalg.norm(around - np.roll(around, 1, axis=0), axis=1).sum())


@settings(deadline=None, max_examples=40)
@given(st.floats(20, 400), st.floats(20, 400), st.floats(10, 900), st.floats(1, 10))
def test_an_open_belt_is_as_long_as_a_taut_string(driver, driven, apart, thick):
    large, small = (driver + thick) / 2, (driven + thick) / 2
    centres = large + small + apart
    said = answer(
        driver=f"{driver}", driven=f"{driven}", centres=f"{centres}", thickness=f"{thick}"
    )
    assert said.figures["length_mm"] == pytest.approx(taut_string(large, small, centres), rel=1e-5)


@settings(deadline=None, max_examples=40)
@given(st.floats(20, 400), st.floats(20, 400), st.floats(10, 900))
def test_a_crossed_belt_is_longer_than_an_open_one(driver, driven, apart):
    values = {
        "driver": f"{driver}",
        "driven": f"{driven}",
        "centres": f"{(driver + driven) / 2 + 4 + apart}",
        "thickness": "4",
    }
    crossed = answer(**values, way="crossed").figures
    assert crossed["length_mm"] > answer(**values).figures["length_mm"]
    assert crossed["wrap_deg"] > 180.0


def test_nine_of_ten_intervals_hold_the_true_length():
    rng = np.random.default_rng(5)
    held = 0
    for _ in range(1000):
        truth = rng.uniform((200, 50, 500, 3), (330, 90, 700, 7))
        errors = rng.uniform((0.1, 0.1, 0.5, 0.02), (2.0, 1.0, 6.0, 0.3))
        read = truth + rng.normal(0.0, errors)
        names = ("driver", "driven", "centres", "thickness")
        given_ = {n: f"{v} ± {e}" for n, v, e in zip(names, read, errors, strict=True)}
        found = answer(**given_).results[0].interval
        exact = {n: f"{v}" for n, v in zip(names, truth, strict=True)}
        held += found.low <= answer(**exact).figures["length_mm"] <= found.high
    assert 0.87 <= held / 1000 <= 0.93


def test_without_a_stated_error_no_interval_is_given_and_it_says_for_what():
    said = answer(driver="300 ± 1", driven="70 ± 1", centres="600", thickness="4 ± 0.1")
    assert all(result.interval is None for result in said.results)
    assert said.sentences[1] == (
        "No interval is given: no error was stated for the distance of the axles."
    )


def test_wheels_whose_errors_may_make_them_touch_are_said_first_and_conjectured():
    said = answer(driver="300 ± 1", driven="70 ± 1", centres="192 ± 4", thickness="4 ± 0.1")
    assert "could take up" in said.sentences[0]
    assert said.results[0].interval is None
    assert said.results[0].grade is Grade.CONJECTURED


def test_wheels_that_would_touch_are_refused():
    with pytest.raises(StandError, match="would touch: their axles are 100 mm apart"):
        answer(driver="300", driven="70", centres="100", thickness="4")


def test_a_small_wheel_with_little_contact_is_said():
    said = answer(driver="400", driven="40", centres="240", thickness="5")
    assert any("and may slip" in sentence for sentence in said.sentences)


def test_the_grade_is_no_better_than_the_weakest_measure():
    measured = [
        Known(v, 0.1, "mm", Grade.MEASURED, f"measurement {n}", "0" * 64)
        for n, v in enumerate((300.0, 70.0, 600.0))
    ]
    typed = BeltAsked(*measured, Known(4.0, 0.1, "mm"))
    known = BeltAsked(*measured, Known(4.0, 0.1, "mm", Grade.MEASURED, "measurement 9", "0" * 64))
    for asked, grade in ((typed, Grade.CONJECTURED), (known, Grade.INFERRED)):
        found = BELT_LENGTH.answer(BELT_LENGTH.work(Nothing(), asked, Steps()))
        assert found.results[0].grade is grade


def test_slip_takes_turns_away():
    values = {"driver": "300", "driven": "70", "centres": "600", "thickness": "0.1"}
    without, slipping = answer(**values), answer(**values, slip="2")
    assert slipping.figures["turns"] == pytest.approx(0.98 * without.figures["turns"])
    assert slipping.figures["length_mm"] == without.figures["length_mm"]


WHEELS = {
    "driver": "300 ± 0.5 mm",
    "driven": "70 ± 0.2 mm",
    "centres": "600 ± 1 mm",
    "thickness": "4.76 ± 0.05 mm",
}


def test_what_is_cut_trodden_and_pulled_follows_from_what_was_given():
    more = {"stretch": "2 ± 1 %", "bite": "-1 ± 0.5 mm", "cadence": "70 ± 1 /min"}
    said = answer(**WHEELS, **more, torque="0.45 ± 0.01 N*m", friction="0.25")
    length = taut_string(152.38, 37.38, 600.0)
    assert said.figures["cut_mm"] == pytest.approx(length / 1.02 - 1.0, abs=0.05)
    assert said.figures["stitches_per_min"] == pytest.approx(70 * 304.76 / 74.76, rel=1e-4)
    # by summing the pull along the small wheel in little steps, not by the closed form
    slack, steps = 1.0, 100_000
    for _ in range(steps):
        slack *= 1.0 + 0.25 * np.deg2rad(said.figures["wrap_deg"]) / steps
    tight = 0.45 / 0.03738 * slack / (slack - 1.0)
    assert said.figures["tight_N"] == pytest.approx(tight, rel=1e-4)
    cut = next(one for one in said.results if one.name == "length to cut")
    assert cut.interval.high - cut.interval.low == pytest.approx(3.29 * 17.5, rel=0.03)


def test_a_belt_that_would_drive_it_backwards_is_told():
    told = "against its own direction"
    for way, own, wrong in (
        ("open", "same", False),
        ("open", "other", True),
        ("crossed", "same", True),
        ("crossed", "other", False),
        ("open", "unsaid", False),
    ):
        said = answer(**WHEELS, way=way, own=own)
        assert (told in " ".join(said.sentences)) is wrong, (way, own)
        assert said.figures["turns_backwards"] is (None if own == "unsaid" else wrong)


def test_the_belt_is_drawn_as_long_as_it_is():
    for way, driver, driven in (("open", 300, 70), ("crossed", 300, 70), ("crossed", 60, 280)):
        given = {**WHEELS, "driver": f"{driver} mm", "driven": f"{driven} mm"}
        said = answer(**given, way=way)
        drawn = said.plots[0]
        assert len(drawn.table) == 3
        path = re.search(r'd="(M[^"]*Z)" fill="none" stroke="#8a5a2b"', drawn.svg)[1]
        assert walked(path) == pytest.approx(said.figures["length_mm"], rel=1e-5), way
    near = answer(**{**WHEELS, "centres": "192 ± 0.1 mm"}).plots[0]
    assert "too near each other" in near.sentences[-1]


def walked(path):
    """Length of a path of straights and round arcs, mm."""
    long, at, first = 0.0, None, None
    for kind, figures in re.findall(r"([MLAZ])([^MLAZ]*)", path):
        values = [float(one) for one in figures.split()]
        end = np.array(values[-2:]) if values else first
        if kind == "A":
            radius, large = values[0], values[3]
            turn = 2.0 * np.arcsin(min(1.0, np.linalg.norm(end - at) / 2.0 / radius))
            long += radius * (2.0 * np.pi - turn if large else turn)
        elif kind != "M":
            long += np.linalg.norm(end - at)
        at = end
        first = end if kind == "M" else first
    return long


MEASURED = {
    "driver": "300 ± 0.5",
    "driven": "70 ± 0.2",
    "centres": "600 ± 1",
    "thickness": "4.76 ± 0.05",
}


def test_a_string_round_both_wheels_agrees_or_is_told_first():
    # 2 sqrt(600² - 115²) + pi (150 + 35) + 230 asin(115 / 600): a string without thickness
    agrees = answer(**MEASURED, string="1803 ± 3")
    assert agrees.results[0].interval is not None
    assert any("string laid round both agrees" in one for one in agrees.sentences)
    radii = answer(**(MEASURED | {"driver": "150 ± 0.5", "driven": "35 ± 0.2"}), string="1803 ± 3")
    assert radii.sentences[0].startswith("A string round both wheels measures 1803 mm")
    assert radii.results[0].grade is Grade.CONJECTURED
    assert radii.results[0].interval is None


DOUBTED = {
    "undivided": ({"driver": "942", "driven": "220", "centres": "620"}, "divided by 3.1416"),
    "one in centimetres": ({"driver": "30"}, "a motor's pulley"),
}


@pytest.mark.parametrize("why", DOUBTED)
def test_measures_in_another_unit_are_doubted_first(why):
    change, says = DOUBTED[why]
    said = answer(**(MEASURED | change))
    assert says in said.sentences[0]
    assert all(one.interval is None for one in said.results)


@pytest.mark.parametrize(
    ("driver", "driven", "doubted"),
    [
        ("300 mm", "80 mm", ""),
        ("150 mm", "80 mm", "smaller than any stand's flywheel"),
        ("300 mm", "40 mm", "stands turn heads 1.5 to 6.5 times"),
    ],
)
def test_a_radius_given_for_a_wheel_is_told_first(driver, driven, doubted):
    wheels = {"driver": driver, "driven": driven, "centres": "600 mm", "thickness": "5 mm"}
    assert (doubted or "belt is") in answer(**wheels).sentences[0]
