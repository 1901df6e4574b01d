import numpy as np
import pytest

from ironlace.marks.capture.capturing import CaptureAsked, captured
from ironlace.marks.capture.frames import Frames, light_of_numbers
from ironlace.marks.capture.lights import light_at
from ironlace.marks.errors import MarksError
from ironlace.marks.relief.plate_relief import encoding_of, plate_of
from lit_surfaces import matt_pictures, ring_of_lights, struck_ground


@pytest.fixture(scope="module")
def made(frames):
    return plate_of(frames, CaptureAsked(ball_mm=6.0), workers=1)


def tilt(normals):
    known = normals[..., 2] > 0
    return np.degrees(np.arccos(np.clip(normals[known][:, 2], -1, 1)))


def test_a_flat_plate_is_flat(made):
    _, relief = made
    # what leans is the whole, by a degree: these exposures happen to go with the torch's azimuth
    assert np.median(tilt(relief.normals)) < 1.4
    assert tilt(relief.normals).mean() < 1.8
    assert relief.coverage >= 0.99
    y, x = np.mgrid[: relief.height.shape[0], : relief.height.shape[1]]
    plane = np.stack([np.ones(x.size), x.ravel(), y.ravel()], 1)
    left = relief.height.ravel() - plane @ np.linalg.lstsq(plane, relief.height.ravel())[0]
    assert np.ptp(np.percentile(left, [2, 98])) < 0.1


def test_normals_have_length_one_or_none(made):
    _, relief = made
    length = np.linalg.norm(relief.normals, axis=-1)
    assert np.all((np.abs(length - 1) < 1e-4) | (length == 0))
    assert relief.normals.dtype == np.float32


def test_the_balls_hide_the_plate(made, scene):
    found, relief = made
    for x, y, _ in scene.balls:
        assert not relief.normals[round(y), round(x)].any()
    assert len(found.balls) == 2


def test_a_matt_plate_needs_no_gain(made):
    gain = made[1].slope_gain
    assert gain.low <= 1.0 <= gain.high  # flat: nothing of it tells how it shines
    assert not made[1].curve.is_other  # nor a curve but the usual one
    assert not made[1].other.doubtful


def test_gains_follow_the_exposures(made, scene):
    gains = np.log(np.array(made[1].gains) / scene.gains)
    assert gains.std() < 0.1


def test_threads_change_nothing(frames, made):
    _, again = plate_of(frames, CaptureAsked(ball_mm=6.0), workers=2)
    np.testing.assert_array_equal(again.normals, made[1].normals)


def test_how_numbers_stand_for_light_is_decided(scene, frames):
    asked = CaptureAsked(lights=[light_at(place) for place in scene.lights_mm])
    assert encoding_of(frames, captured(frames, asked)) == ("srgb", "")
    table = light_of_numbers(255, "srgb")
    linear = tuple(np.round(255 * table[p]).astype(np.uint8) for p in frames.pictures)
    stored = Frames(frames.names, linear)
    assert encoding_of(stored, captured(stored, asked)) == ("linear", "")


def test_where_it_cannot_be_decided_it_is_said(scene, frames):
    asked = CaptureAsked(lights=[light_at(place) for place in scene.lights_mm])
    even = []
    for picture in frames.pictures:  # as a camera would that sets each exposure by itself
        even.append(np.clip(picture * (110.0 / np.median(picture)), 0, 255).astype(np.uint8))
    stored = Frames(frames.names, tuple(even))
    taken, said = encoding_of(stored, captured(stored, asked))
    assert taken == "srgb"
    assert "could not be told" in said


def test_without_balls_the_ambiguity_comes_first():
    normals = struck_ground(np.random.default_rng(3))
    light = matt_pictures(normals, ring_of_lights(12, (30, 50)), 0.9)
    pictures = tuple(np.round(255 * one).astype(np.uint8) for one in light)
    told = Frames(tuple("abcdefghijkl"), pictures)
    _, relief = plate_of(told, CaptureAsked(), uncalibrated=True, encoding="linear", workers=1)
    assert relief.notices[0].startswith("The torch's places are not known")
    slopes = [n[..., :2] / np.maximum(n[..., 2:], 0.1) for n in (relief.normals, normals)]
    assert np.corrcoef(slopes[0].ravel(), slopes[1].ravel())[0, 1] > 0.8


def test_too_few_photographs_are_refused(frames):
    two = Frames(frames.names[:2], frames.pictures[:2])
    with pytest.raises(MarksError, match="2 photographs"):
        plate_of(two, CaptureAsked())
