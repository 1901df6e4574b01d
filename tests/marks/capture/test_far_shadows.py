from dataclasses import replace

import numpy as np
import pytest

from false_balls import Thing, shots
from ironlace.marks.capture import balls, capturing
from ironlace.marks.capture.balls import find_balls
from ironlace.marks.capture.capturing import MOST_DEG, CaptureAsked, GivenBall, captured
from ironlace.marks.capture.far_shadows import stands_free
from ironlace.marks.capture.frames import Frames, median_picture
from ironlace.marks.capture.live_check import live_check
from ironlace.marks.capture.outlines import Circle
from ironlace.marks.errors import MarksError


@pytest.fixture(scope="module")
def mixed():
    """A ball at the upper left, a rivet of its size at the lower right, half a ball above it."""
    things = [Thing("ball", -9, 4.5, 3), Thing("rivet", 9, -4.5, 3), Thing("half ball", 9, 5, 3)]
    return shots(np.random.default_rng(12), things, count=6, shape=(190, 280))


def _at(taken, x, y, r):
    rows, columns = taken.frames[0].shape
    s = taken.mm_per_px
    return Circle((columns - 1) / 2 + x / s, (rows - 1) / 2 - y / s, r / s)


def test_a_ball_stands_free_and_no_dome_does(mixed):
    assert stands_free(mixed.frames, _at(mixed, -9, 4.5, 3)) is True
    assert stands_free(mixed.frames, _at(mixed, 9, -4.5, 3)) is False
    assert stands_free(mixed.frames, _at(mixed, 9, 5, 3)) is False


def test_where_no_torch_is_mirrored_nothing_is_told(mixed):
    assert stands_free(mixed.frames, _at(mixed, 0, 0, 2)) is not True


def test_a_shadow_out_of_the_picture_proves_nothing(mixed):
    """A window that ends at the ball's rim."""
    ball = _at(mixed, -9, 4.5, 3)
    top, left, reach = round(ball.y), round(ball.x), round(ball.r) + 2
    cut = [one[top - reach : top + reach, left - reach : left + reach] for one in mixed.frames]
    inside = Circle(ball.x - left + reach, ball.y - top + reach, ball.r)
    assert stands_free(cut, inside) is None


def test_in_a_bright_room_a_ball_is_not_called_a_rivet():
    """Half again as bright as the torch, so that a shadow is no more than a shade."""
    balls = [Thing("ball", -9, 4.5, 3), Thing("ball", 9, -4.5, 3)]
    taken = shots(np.random.default_rng(56), balls, count=6, shape=(190, 280), ambient=1.5)
    for place in taken.balls_px:
        assert stands_free(taken.frames, Circle(*place)) is not False


def test_the_ball_is_found_and_rivets_of_its_size_are_not(mixed):
    seen = find_balls(median_picture(mixed.frames), mixed.frames)
    found = seen.circles
    assert seen.proved == (True,)
    x, y, _ = mixed.balls_px[0]
    assert np.hypot(found[0].x - x, found[0].y - y) < 1.0


def test_rivets_alone_are_refused():
    things = [Thing("rivet", -9, 4.5, 3), Thing("rivet", 9, -4.5, 3)]
    taken = shots(np.random.default_rng(5), things, count=6, shape=(190, 280))
    frames = Frames(tuple("abcdef"), tuple(taken.frames))
    with pytest.raises(MarksError, match="No polished ball"):
        captured(frames, CaptureAsked(ball_mm=6.0))


def test_a_dome_that_a_person_points_at_is_said_first_and_its_torches_are_doubted(mixed):
    """Its shadow contradicts it, but a person saw it."""
    dome = _at(mixed, 9, -4.5, 3)
    frames = Frames(tuple("abcdef"), tuple(mixed.frames))
    found = captured(frames, CaptureAsked(balls=[GivenBall(dome, 3.0)]))
    assert "is not proved to be one" in found.notices[0]
    assert found.torches_deg == MOST_DEG


def test_an_unproved_ball_is_said_before_the_cameras_height_and_by_the_live_check(
    frames, monkeypatch
):
    """The height is reckoned by it. The balls' shadows are kept from the eye here, by hand."""
    monkeypatch.setattr(balls, "stands_free", lambda *_: None)
    seen = capturing.lights_of_balls
    near = lambda *given: replace(seen(*given), near=1 / 300)  # noqa: E731
    monkeypatch.setattr(capturing, "lights_of_balls", near)
    found = captured(frames, CaptureAsked(ball_mm=6.0))
    assert "is not proved to be one" in found.notices[0]
    assert "The camera stood some 30 cm" in found.notices[1]
    looked = live_check(frames)
    assert "is not proved to be one" in looked.faults[0]
    assert not looked.enough
