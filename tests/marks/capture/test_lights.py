import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from ironlace.marks.capture.frames import light_of_numbers
from ironlace.marks.capture.geometry import PlateFrame
from ironlace.marks.capture.lights import (
    light_at,
    light_of_rays,
    light_towards,
    lights_of_balls,
    mirrored_ray,
    missing_quadrants,
    slopes_doubt,
    widest_gap,
)
from ironlace.marks.capture.outlines import Circle
from ironlace.marks.capture.registering import Move
from lit_surfaces import ball_scene


def angle(a, b):
    return np.degrees(np.arccos(np.clip(a @ b / np.linalg.norm(a) / np.linalg.norm(b), -1, 1)))


@pytest.fixture(scope="module")
def large():
    """Balls of 75 px in radius; over 100 are asked for."""
    return ball_scene(
        np.random.default_rng(6),
        shape=(310, 480),
        mm_per_px=0.04,
        places=((87.3, 90.6), (391.2, 214.9)),
        count=8,
        finer=2,
        gamma=2.2,
    )


def test_direction_and_distance_of_the_torch_from_two_balls(large):
    scene = large
    # half a pixel of shift is left out of it: the true moves are given
    moves = [
        Move(tuple(shift), np.radians(turn))
        for shift, turn in zip(scene.shifts_px, scene.turns_deg, strict=True)
    ]
    plate = PlateFrame((310, 480), scene.mm_per_px, True)
    balls = [Circle(*ball) for ball in scene.balls]
    table = light_of_numbers(255, "srgb")
    found = lights_of_balls(scene.frames, balls, moves, plate, table).seen
    off, far = [], []
    for (light, why), true in zip(found, scene.lights_mm, strict=True):
        assert why == ""
        off.append(angle(np.array(light.direction), true))
        far.append(abs(light.distance / np.linalg.norm(true) - 1))
    assert np.mean(off) < 0.2
    assert np.mean(far) < 0.06  # they lie 13 mm apart here, not 37


def test_rays_meet_exactly_where_the_torch_is():
    torch = np.array([60.0, -110.0, 140.0])
    starts = np.array([[-16.0, 8.0, 5.0], [16.0, -8.0, 5.5]])
    ways = torch - starts
    light = light_of_rays(starts, ways / np.linalg.norm(ways, axis=1, keepdims=True))
    np.testing.assert_allclose(light.place, torch)
    assert light.doubt_deg == pytest.approx(0.0, abs=1e-5)


def test_rays_that_part_lead_nowhere():
    ways = np.array([[-0.6, 0.0, 0.8], [0.6, 0.0, 0.8]])
    assert light_of_rays(np.array([[-16.0, 0, 5], [16.0, 0, 5]]), ways) is None


def test_one_ray_gives_a_direction_alone():
    light = light_of_rays(np.array([[1.0, 2.0, 3.0]]), np.array([[0.6, 0.0, 0.8]]))
    assert light.place is None
    assert light.direction == pytest.approx((0.6, 0.0, 0.8))


def test_a_ball_without_a_highlight_says_nothing():
    dull = np.full((100, 100), 40, np.uint8)
    assert mirrored_ray(dull, Circle(50.0, 50.0, 30.0), light_of_numbers(255, "srgb")) is None


def test_angles_go_the_written_way():
    light = light_towards(90.0, 30.0)  # from above in the picture
    assert light.direction == pytest.approx((0.0, np.sqrt(0.75), 0.5))
    assert light_at((0.0, 100.0, 100.0)).elevation_deg == pytest.approx(45.0)
    assert missing_quadrants([light_towards(a, 30) for a in (10, 100)]) == [
        "lower left",
        "lower right",
    ]


azimuths = st.lists(st.floats(0, 359.999), min_size=1, max_size=12)


@given(azimuths)
def test_no_wide_arc_is_left_without_a_name(given_deg):
    """Counted by sweeping the round degree by degree, not by sorting."""
    lights = [light_towards(a, 30) for a in given_deg]
    swept = np.arange(0, 360, 0.25)
    off = np.abs((swept[:, None] - np.array(given_deg) + 180) % 360 - 180).min(1)
    gap, missing = widest_gap(lights), missing_quadrants(lights)
    assert gap.width_deg == pytest.approx(2 * off.max(), abs=0.5)
    assert bool(missing) >= (gap.width_deg > 100)
    for n, name in enumerate(("upper right", "upper left", "lower left", "lower right")):
        empty = not any(90 * n <= light.azimuth_deg < 90 * n + 90 for light in lights)
        assert name in missing or not empty
        assert name not in missing or empty or gap.width_deg > 100


@given(azimuths)
@example([0.0, 100.0])  # an arc of just 100 degrees, each way round
def test_a_turn_by_a_quarter_turns_the_names(given_deg):
    whole = [round(a) + 0.5 for a in given_deg]
    round_ = ("upper right", "upper left", "lower left", "lower right")
    named = missing_quadrants([light_towards(a, 30) for a in whole])
    turned = missing_quadrants([light_towards((a + 90) % 360, 30) for a in whole])
    assert {round_[(round_.index(name) + 1) % 4] for name in named} == set(turned)


def test_two_pairs_in_four_quarters_leave_a_side_dark_and_it_is_told():
    lights = [light_towards(a, 30) for a in (80, 100, 190, 350)]
    assert missing_quadrants(lights) == ["lower left", "lower right"]
    assert widest_gap(lights).side == "bottom"


def test_torches_told_higher_make_slopes_steeper_by_the_doubt_told():
    deg = 0.5
    ways = [(azimuth, height) for height in (20.0, 35.0, 50.0) for azimuth in range(10, 370, 45)]
    true = np.array([light_towards(*way).direction for way in ways])
    told = [light_towards(azimuth, height + deg) for azimuth, height in ways]
    seen = true @ np.array([0.08, -0.05, 1.0]) / true[:, 2]  # a gentle place against an upright one
    ways_told = np.array([one.direction for one in told])
    found = np.linalg.lstsq(ways_told / ways_told[:, 2:], seen, rcond=None)[0]
    steeper = np.hypot(*found[:2]) / found[2] / np.hypot(0.08, 0.05)
    lights = [light_towards(*way) for way in ways]
    assert np.log(steeper) == pytest.approx(slopes_doubt(lights, deg), rel=0.05)
    assert slopes_doubt(lights, 0.0) == 0.0
