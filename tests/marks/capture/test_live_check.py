import cv2
import numpy as np
import pytest

from ironlace.marks.capture.capturing import CaptureAsked, captured
from ironlace.marks.capture.frames import Frames
from ironlace.marks.capture.lights import TWO_TORCHES
from ironlace.marks.capture.live_check import live_check
from ironlace.marks.errors import MarksError
from lit_surfaces import ball_scene


def test_good_photographs_will_do(frames, scene):
    looked = live_check(frames)
    assert looked.enough
    assert looked.missing_quadrants == ()
    assert all(one.sharp and one.moved_px < 1 and one.saturated < 0.02 for one in looked.frames)
    assert abs(looked.frames[0].ball_radius_px - scene.balls[0][2]) < 0.5


def test_each_fault_is_told_by_name(frames):
    pictures = [*frames.pictures]
    pictures[2] = cv2.GaussianBlur(pictures[2], (0, 0), 1.8)
    pictures[5] = np.roll(pictures[5], 9, axis=1)
    pictures[7] = np.clip(pictures[7].astype(int) * 3, 0, 255).astype(np.uint8)
    looked = live_check(Frames(frames.names, tuple(pictures)))
    told = " ".join(looked.faults)
    assert not looked.frames[2].sharp
    assert "Blurred: 02.png." in told
    assert 8 < looked.frames[5].moved_px < 10
    assert "before 05.png" in told
    assert "Overexposed: 07.png." in told
    assert not looked.enough


def _both(one: np.ndarray, two: np.ndarray) -> np.ndarray:
    """What the camera writes where two torches shine at once; gamma 2.2 is near enough here."""
    light = 0.6 * (one / 255.0) ** 2.2 + 0.6 * (two / 255.0) ** 2.2
    return np.round(255 * np.clip(light, 0, 1) ** (1 / 2.2)).astype(np.uint8)


def test_two_torches_at_once_are_told_and_left_out(frames):
    pictures = [*frames.pictures]
    for n, other in ((1, 6), (4, 8)):
        pictures[n] = _both(pictures[n], frames.pictures[other])
    mixed = Frames(frames.names, tuple(pictures))
    looked = live_check(mixed)
    assert [one.name for one in looked.frames if one.lit_twice] == ["01.png", "04.png"]
    assert looked.faults[0].startswith("Two lights alike are mirrored in the balls in 01.png, 04")
    assert "highlight was not found" not in " ".join(looked.faults)
    found = captured(mixed, CaptureAsked(), "srgb")
    assert {n for n, why in enumerate(found.why) if why == TWO_TORCHES} == {1, 4}
    lamp = [_both(one, frames.pictures[3]) for one in frames.pictures[:3]]
    with pytest.raises(MarksError, match="3 of 3 photographs two lights alike"):
        captured(Frames(frames.names[:3], tuple(lamp)), CaptureAsked(), "srgb")


def test_a_highlight_that_a_hand_hides_is_told(frames, scene):
    pictures = [one.copy() for one in frames.pictures]
    for x, y, r in scene.balls:
        cv2.circle(pictures[4], (round(x), round(y)), round(0.8 * r), 20, -1, cv2.LINE_AA)
    looked = live_check(Frames(frames.names, tuple(pictures)))
    assert "highlight was not found on the balls in 04.png" in " ".join(looked.faults)


def test_a_missing_quadrant_is_named(frames, scene):
    azimuth = np.degrees(np.arctan2(scene.lights_mm[:, 1], scene.lights_mm[:, 0])) % 360
    kept = [n for n in range(10) if not 90 <= azimuth[n] < 180]
    few = Frames(tuple(frames.names[n] for n in kept), tuple(frames.pictures[n] for n in kept))
    looked = live_check(few)
    assert looked.missing_quadrants == ("upper left",)
    assert not looked.enough


def test_without_a_ball_it_says_so():
    bare = ball_scene(np.random.default_rng(1), shape=(120, 200), places=(), count=3, finer=1)
    looked = live_check(Frames(("a", "b", "c"), tuple(bare.frames)))
    assert looked.faults[0].startswith("No polished ball")
    assert looked.frames[0].ball_radius_px is None
    assert not looked.enough
