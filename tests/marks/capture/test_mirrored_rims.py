import numpy as np
import pytest

from ironlace.marks.capture.capturing import CaptureAsked, captured
from ironlace.marks.capture.frames import Frames
from ironlace.marks.capture.mirrored_rims import WIDER, rim_by_shadow, rims_in
from ironlace.marks.capture.outlines import Circle
from ironlace.marks.capture.settled_balls import as_wide_as_shadows, rims_of
from strange_light import Room, photographed


def taken_with(mirrors, seed=0):
    room = Room(
        shape=(200, 340), mm_per_px=0.12, count=8, balls=((-14.0, -6.0), (14.0, 6.0)), gloss=0.15,
        mirrors=mirrors, even=True,
    )  # fmt: skip
    return photographed(np.random.default_rng(seed), room)


@pytest.fixture(scope="module")
def mirroring():
    """Balls that mirror three quarters of the plate's light."""
    return taken_with(0.75, seed=2)


@pytest.mark.parametrize("mirrors", [0.0, 0.75])
def test_a_shadow_begins_at_the_rim_whatever_is_mirrored_within(mirrors):
    taken = taken_with(mirrors)
    for x, y, r in taken.balls_px:
        assert rim_by_shadow(taken.frames, Circle(x, y, r)) == pytest.approx(1.0, abs=0.06)
        inner = rim_by_shadow(taken.frames, Circle(x, y, 0.86 * r))
        assert inner == pytest.approx(1 / 0.86, abs=0.07)
        assert inner > WIDER


def test_nothing_is_told_where_no_torch_moves():
    plain = [np.full((120, 120), 90, np.uint8)] * 4
    assert rim_by_shadow(plain, Circle(60.0, 60.0, 25.0)) is None
    assert rims_of(plain, [Circle(60.0, 60.0, 25.0)]).told == ""


def test_an_outline_within_the_rim_is_told_first_and_torches_are_doubted(mirroring):
    """The mirrored plate's edge is sharper than the rim, and lies an eighth within it."""
    frames = Frames(tuple(f"{n}" for n in range(8)), tuple(mirroring.frames))
    found = captured(frames, CaptureAsked(ball_mm=6.0))
    assert found.balls[0].r < 0.92 * 25
    assert "mirrors the plate along its rim" in found.notices[0]
    assert found.torches_deg > 4


def test_a_rim_is_sought_again_where_its_shadow_begins():
    taken = taken_with(0.75, seed=0)
    frames = Frames(tuple(f"{n}" for n in range(8)), tuple(taken.frames))
    found = captured(frames, CaptureAsked(ball_mm=6.0))
    assert found.balls[0].r == pytest.approx(25, rel=0.04)
    assert "told by where their shadows begin" in found.notices[0]


def test_balls_that_mirror_nothing_are_not_doubted():
    taken = taken_with(0.0)
    frames = Frames(tuple(f"{n}" for n in range(8)), tuple(taken.frames))
    found = captured(frames, CaptureAsked(ball_mm=6.0))
    assert [ball.r for ball in found.balls] == pytest.approx([25, 25], rel=0.01)
    assert not any("mirror" in one for one in found.notices)


def test_a_rim_is_found_in_the_mean_beyond_what_is_mirrored():
    """An edge within that is sharper and lies aside, a plate that is brighter at one side."""
    rng = np.random.default_rng(3)
    y, x = np.mgrid[:160, :180].astype(float)
    plate = 0.3 + 0.0006 * x + 0.02 * rng.standard_normal(x.shape)
    rim, inner = np.hypot(x - 88.0, y - 79.0), np.hypot(x - 92.0, y - 77.0)
    for ring in (0.19, 0.62):  # darker than the plate, and brighter
        mean = np.where(rim < 50.0, ring + 0.01 * rng.standard_normal(x.shape), plate)
        mean = np.where(inner < 36.0, 0.03, mean).astype(np.float32)
        (found,) = rims_in([mean], [Circle(92.0, 77.0, 48.0)])
        assert (found.x, found.y, found.r) == pytest.approx((88.0, 79.0, 50.0), abs=1.0)


def test_no_rim_is_found_in_an_even_mean():
    mean = np.full((160, 180), 0.3, np.float32)
    assert rims_in([mean], [Circle(90.0, 80.0, 45.0)]) is None


def test_a_ball_that_was_found_by_its_rim_is_not_made_wider():
    within, sound, untold = Circle(40, 40, 74), Circle(400, 40, 100), Circle(40, 400, 76)
    wide = as_wide_as_shadows([within, sound, untold], {within: 1.33})
    assert [ball.r for ball in wide] == pytest.approx([98.4, 100, 98.4], abs=0.1)
