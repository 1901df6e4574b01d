import re

import numpy as np
import pytest

from ironlace.marks.capture.capturing import CaptureAsked, GivenBall, captured
from ironlace.marks.capture.frames import Frames
from ironlace.marks.capture.lights import light_at, light_towards
from ironlace.marks.capture.outlines import Circle
from ironlace.marks.errors import MarksError
from lit_surfaces import ball_scene


def bare(count=4):
    scene = ball_scene(
        np.random.default_rng(8), shape=(160, 240), places=(), count=count, finer=1, gamma=2.2
    )
    return scene, Frames(tuple("abcdefgh"[:count]), tuple(scene.frames))


def test_scale_comes_of_the_balls_diameter(scene, frames):
    found = captured(frames, CaptureAsked(ball_mm=6.0))
    assert found.plate.scale_known
    assert found.plate.mm_per_px == pytest.approx(scene.mm_per_px, rel=0.005)
    assert found.used == list(range(10))
    for ball, (x, y, _) in zip(found.balls, scene.balls, strict=True):
        assert np.hypot(ball.x - x, ball.y - y) < 0.1
    assert "px in radius" in " ".join(found.notices)
    assert 0.1 < found.torches_deg < 1.0


def test_balls_pointed_at_are_refined(scene, frames):
    given = [GivenBall(Circle(x + 2, y - 1.5, r + 1), 3.0) for x, y, r in scene.balls]
    found = captured(frames, CaptureAsked(balls=given))
    (x, y, _), ball = scene.balls[0], found.balls[0]
    assert np.hypot(ball.x - x, ball.y - y) < 0.1


def test_a_ball_pointed_at_where_none_is_is_refused(frames):
    with pytest.raises(MarksError, match="Ball 1, given at 230, 150"):
        captured(frames, CaptureAsked(balls=[GivenBall(Circle(230.0, 150.0, 40.0))]))


def test_one_ball_says_that_the_distance_is_not_known(scene, frames):
    given = [GivenBall(Circle(*scene.balls[0]), 3.0)]
    found = captured(frames, CaptureAsked(balls=given))
    assert all(light.place is None for light in found.lights)
    assert any("distance is not known" in notice for notice in found.notices)
    assert 2.0 < found.torches_deg < 4.0


def test_what_may_be_a_second_ball_on_which_no_torch_moves_is_said_first(scene):
    x, y, radius = (round(n) for n in scene.balls[1])
    reach = radius - 3
    inside = np.hypot(*np.mgrid[-reach : reach + 1, -reach : reach + 1]) < reach
    pictures = [np.array(frame) for frame in scene.frames]
    still = pictures[0][y - reach : y + reach + 1, x - reach : x + reach + 1].copy()
    for picture in pictures:
        picture[y - reach : y + reach + 1, x - reach : x + reach + 1][inside] = still[inside]
    told = captured(Frames(tuple("abcdefghij"), tuple(pictures)), CaptureAsked())
    assert len(told.balls) == 1
    first = told.notices[0]
    assert first.startswith("One ball was found")
    at = [float(n) for n in re.search(r"lies at (\d+), (\d+) px", first).groups()]
    assert np.hypot(at[0] - x, at[1] - y) < 3.0


def test_without_a_ball_it_says_what_to_do():
    _, frames = bare()
    with pytest.raises(MarksError, match="No polished ball was found"):
        captured(frames, CaptureAsked())


def test_typed_torches_need_no_ball():
    scene, frames = bare()
    found = captured(frames, CaptureAsked(lights=[light_at(p) for p in scene.lights_mm]))
    assert len(found.used) == 4
    assert found.torches_deg == 0.0
    assert "without a ball" in " ".join(found.notices)


def test_torches_all_on_one_side_are_said_first():
    _, frames = bare()
    lights = [light_towards(a, e) for a, e in ((10, 20), (40, 50), (80, 25), (120, 40))]
    found = captured(frames, CaptureAsked(lights=lights))
    assert found.notices[0].startswith("All the torch's places lie on one side")
    assert found.missing_quadrants() == ["lower left", "lower right"]


def test_one_direction_is_refused():
    _, frames = bare()
    with pytest.raises(MarksError, match="one direction"):
        captured(frames, CaptureAsked(lights=[light_towards(30, 40)] * 4))


def test_a_photograph_that_was_moved_far_is_left_out(scene, frames):
    pictures = [*frames.pictures]
    pictures[3] = np.roll(pictures[3], 25, axis=1)[:, :]
    pictures[3][:150] = np.roll(pictures[3][:150], -12, axis=1)
    found = captured(Frames(frames.names, tuple(pictures)), CaptureAsked(ball_mm=6.0))
    assert 3 not in found.used
    assert "03.png" not in found.why[3]
    assert found.why[3]


def test_the_radius_keeps_its_light_where_shadows_and_grain_differ(scene, frames):
    """The middle one of the photographs makes the outline broad, and the ball small."""
    found = captured(frames, CaptureAsked())
    for ball, (_, _, r) in zip(found.balls, scene.balls, strict=True):
        assert ball.r == pytest.approx(r, abs=0.06)


def test_a_side_without_a_torch_is_said_though_each_quarter_has_one():
    _, frames = bare()
    lights = [light_towards(a, 20 + a % 30) for a in (80, 100, 190, 350)]
    found = captured(frames, CaptureAsked(lights=lights))
    assert any("160 degrees at the bottom" in notice for notice in found.notices)
    assert found.missing_quadrants() == ["lower left", "lower right"]
