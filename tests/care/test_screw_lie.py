"""How a screw lies on its card: it rests on its head, under one lamp, or has two threads."""

import numpy as np
import pytest

from ironlace.care.screw_lie import screw_lie
from ironlace.care.screw_photograph import ScrewCase, measure_screw
from ironlace.photographs import StripLayout
from meshed_screws import Screw, Shot, photograph

SMALL = (1380, 930)


def measured(taken, **changes):
    # as the page asks it: half the diameter for the axis, nothing said of how it lies
    asked = {
        "caliper_mm": taken.screw.major - 0.03,
        "axis_above_card_mm": taken.screw.major / 2,
        "camera_distance_mm": taken.shot.distance,
    }
    layout = StripLayout.from_csv(taken.layout_csv)
    return measure_screw(taken.image, layout, ScrewCase(**(asked | changes)))


@pytest.fixture(scope="module")
def resting():
    """An M5 that rests on its head's rim and its tip, 7 degrees aslant."""
    screw = Screw(head_wide=8.4, length=12.5)
    return measured(photograph(np.random.default_rng(4), screw, Shot(size=SMALL)))


def test_a_screw_that_rests_on_its_head_has_its_own_pitch(resting):
    low, value, high = resting.interval(resting.pitch_mm, resting.pitch_sd_mm)
    assert low < 0.8 < high
    assert value == pytest.approx(0.8, rel=0.003)
    # seen in the card's plane alone it is another one
    assert abs(resting.comb.pitch_mm * (1 - 2.5 / 260) / 0.8 - 1) > 0.006
    assert resting.named.forms[0].form.size == "M5"


def test_how_it_lies_is_told_by_outline_and_head_alike(resting):
    assert abs(resting.lie.raised_deg) == pytest.approx(7.8, abs=1.2)
    assert resting.lie.told_by == ("underside", "outline")
    assert "aslant" in resting.warnings[0]


def test_said_to_lie_level_and_seen_aslant_is_told(resting):
    lie = screw_lie(resting.edges, resting.comb, "no angle", said_level=True)
    assert abs(lie.raised_deg) > 5.0


def test_where_nothing_shows_how_it_lies_the_pitch_is_as_unsure(resting):
    headless = screw_lie(
        resting.edges, resting.comb, "no angle, nor is the head's underside looked at"
    )
    assert headless.told_by == ("underside",)
    bare = np.full_like(resting.edges.light, 1.0)
    from dataclasses import replace

    unseen = screw_lie(replace(resting.edges, light=bare), resting.comb, "no angle")
    assert unseen.told_by == ()
    assert unseen.longer_sd > 0.004


def test_a_screw_beside_its_own_shadow_is_read():
    shot = Shot(size=SMALL, shadow=0.45)
    found = measured(photograph(np.random.default_rng(5), Screw(), shot, slopes_deg=0.0))
    assert found.reliable
    assert found.pitch_mm == pytest.approx(0.8, rel=0.002)


def test_two_threads_side_by_side_are_told():
    screw = Screw(starts=2, head=None)
    found = measured(photograph(np.random.default_rng(6), screw, Shot(size=SMALL)))
    assert found.comb.starts == 2
    assert any("twice the pitch" in one for one in found.warnings)
