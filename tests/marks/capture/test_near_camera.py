"""The camera's height by rays that are traced here by themselves, from the torch to the picture."""

import numpy as np
import pytest

from ironlace.marks.capture.lights import light_of_rays
from ironlace.marks.capture.near_camera import Rays, nearness

RADIUS = 3.0
FEET = ((-14.0, 7.5), (13.0, -8.0))


def torches(count=12, seed=3):
    rng = np.random.default_rng(seed)
    azimuth = np.arange(count) * 2 * np.pi / count + rng.uniform(0, 1)
    high, far = np.radians(rng.uniform(18, 52, count)), rng.uniform(160, 300, count)
    flat = np.column_stack([np.cos(azimuth), np.sin(azimuth)]) * np.cos(high)[:, None]
    return far[:, None] * np.column_stack([flat, np.sin(high)])


def unit(v):
    return v / np.linalg.norm(v)


def pictured(place, height):
    """Where a place is seen on the plate by a camera at a height; straight below it if none is."""
    return place[:2] if not height else place[:2] * height / (height - place[2])


def rays_of(torch, height, noise, rng):
    """What a reader takes who believes that the camera looks straight down everywhere."""
    middles, offsets, ways = [], [], []
    for foot in FEET:
        middle, n = np.array([*foot, RADIUS]), np.array([0.0, 0.0, 1.0])
        for _ in range(200):  # the place whose normal halves the angle
            at = middle + RADIUS * n
            eye = np.array([0, 0, height]) - at if height else np.array([0.0, 0.0, 1.0])
            n = unit(unit(eye) + unit(torch - at))
        if height:  # the outline: where rays touch the ball, inwards and outwards
            down = np.array([*foot, RADIUS - height])
            lean, wide = np.arctan2(np.hypot(*foot), -down[2]), np.arcsin(
                RADIUS / np.linalg.norm(down))  # fmt: skip
            ends = height * np.tan([lean - wide, lean + wide])
            outline, size = ends.mean() * unit(np.array(foot)), np.diff(ends)[0] / 2
        else:
            outline, size = np.array(foot), RADIUS
        off = (pictured(middle + RADIUS * n, height) - outline) / size + rng.normal(0, noise, 2)
        z = np.sqrt(1 - off @ off)
        middles.append([*outline, RADIUS])
        offsets.append(RADIUS * np.array([*off, z]))
        ways.append([*(2 * z * off), 2 * z * z - 1])
    return Rays(*(np.array(one) for one in (middles, offsets, ways)))


def off_deg(rays, near, places):
    told = [light_of_rays(*one.seen_from(near)) for one in rays]
    return [np.degrees(np.arccos(np.clip(t.direction @ unit(p), -1, 1))) if t else 90.0
            for t, p in zip(told, places, strict=True)]  # fmt: skip


@pytest.mark.parametrize(
    ("height", "left", "was"), [(150.0, 0.5, 2.0), (300.0, 0.15, 1.0), (600.0, 0.05, 0.3)]
)
def test_a_near_cameras_height_is_found_and_the_torches_with_it(height, left, was):
    rng, places = np.random.default_rng(1), torches()
    rays = [rays_of(place, height, 0.0, rng) for place in places]
    near = nearness(rays)
    assert 1 / near == pytest.approx(height, rel=0.04)
    assert max(off_deg(rays, near, places)) < left  # its outline, an oval, is taken for a circle
    assert np.mean(off_deg(rays, 0.0, places)) > was


def test_highlights_found_a_little_wrong_still_tell_it():
    rng, places = np.random.default_rng(2), torches(24)
    rays = [rays_of(place, 300.0, 0.003, rng) for place in places]
    assert 1 / nearness(rays) == pytest.approx(300.0, rel=0.1)


@pytest.mark.parametrize("seed", range(5))
def test_a_far_camera_is_not_taken_for_a_near_one(seed):
    rng, places = np.random.default_rng(seed), torches(12, seed)
    assert nearness([rays_of(place, 0.0, 0.003, rng) for place in places]) < 1 / 1200


def test_few_photographs_tell_nothing_of_it():
    rng, places = np.random.default_rng(1), torches(4)
    assert nearness([rays_of(place, 300.0, 0.0, rng) for place in places]) == 0.0
