"""Photographs by a path tracer, in which polished balls mirror the plate (`tests/fixtures`).

Nothing of the renderer is known to the code: metal without a matt part where it is bare, a lamp in
a tube, light from wall to wall, a camera 30 cm off.
"""

import json
from pathlib import Path

import cv2
import numpy as np
import pytest

from ironlace.marks.capture.by_the_plate import moved_by_plate
from ironlace.marks.capture.capturing import CaptureAsked, captured
from ironlace.marks.capture.frames import Frames, light_of_numbers
from ironlace.marks.capture.outlines import Circle
from ironlace.marks.capture.registering import Move
from ironlace.marks.capture.settled_balls import settled_balls
from struck_plates import Asked, photographs, struck_plate

FOLDER = Path(__file__).parents[2] / "fixtures" / "path_traced"


@pytest.fixture(scope="module")
def truth():
    return json.loads((FOLDER / "truth.json").read_text())


@pytest.fixture(scope="module")
def frames():
    files = sorted(FOLDER.glob("*.jpg"))
    pictures = tuple(cv2.imread(str(file), cv2.IMREAD_GRAYSCALE) for file in files)
    return Frames(tuple(file.name for file in files), pictures)


@pytest.fixture(scope="module")
def found(frames):
    return captured(frames, CaptureAsked(ball_mm=6.0))


def test_rims_of_mirroring_balls_are_found(found, truth):
    """Their inner edges lie a quarter within; by shadows alone the middles were 1.7 px off."""
    for ball, (x, y, r) in zip(found.balls, truth["balls_px"], strict=True):
        assert (ball.x, ball.y) == pytest.approx((x, y), abs=0.6)
        assert ball.r == pytest.approx(r, rel=0.01)


def test_photographs_are_laid_by_the_plate(found, truth):
    """By the balls they were 1.2 px off, and seven of twelve were left out."""
    off = np.array([move.shift_px for move in found.moves]) - truth["shifts_px"]
    assert np.sqrt((off**2).mean()) < 0.2
    assert len(found.used) == 12


def test_torches_are_told_within_what_is_said_of_them(found, truth):
    """The middle one within what is told, and all within a few times of it."""
    off = []
    for light, place in zip(found.lights, truth["torches_mm"], strict=True):
        true = np.array(place) / np.linalg.norm(place)
        off.append(np.degrees(np.arccos(np.clip(true @ light.direction, -1, 1))))
    assert np.median(off) < found.torches_deg < 1.5
    assert max(off) < 1.8
    assert "mirror the plate along their rims" in found.notices[0]


def test_a_photograph_a_pixel_off_is_laid_back(frames, truth):
    table = light_of_numbers(frames.white, "srgb")
    balls = [Circle(*one) for one in truth["balls_px"]]
    towards = np.array(truth["torches_mm"])[:, :2] * [1, -1]
    towards /= np.hypot(*towards.T)[:, None]
    rng = np.random.default_rng(5)
    start = [Move()] + [Move(tuple(rng.uniform(-0.8, 0.8, 2))) for _ in frames.names[1:]]
    moves = moved_by_plate(frames, start, balls, towards, table)
    off = np.array([move.shift_px for move in moves]) - truth["shifts_px"]
    assert np.sqrt((off**2).mean()) < 0.25


def test_balls_pointed_at_are_laid_by_the_plate_where_they_contradict_one_another(frames, truth):
    """Their rims are the right ones; but what they mirror moves them by 1.2 px with the torch."""
    balls = [Circle(x + 1, y - 1, r + 0.8) for x, y, r in truth["balls_px"]]
    settled = settled_balls(frames, balls, light_of_numbers(frames.white, "srgb"))
    off = np.array([move.shift_px for move in settled.moves]) - truth["shifts_px"]
    assert np.sqrt((off**2).mean()) < 0.25
    assert "contradict one another" in settled.rims.told


def some_of(frames, every):
    return Frames(frames.names[::every], frames.pictures[::every])


def test_too_few_to_be_laid_by_the_plate_are_told_with_what_they_are_off_by(frames, truth):
    few = some_of(frames, 2)
    found = captured(few, CaptureAsked(ball_mm=6.0))
    off = []
    for light, place in zip(found.lights, truth["torches_mm"][::2], strict=True):
        if light is not None:
            true = np.array(place) / np.linalg.norm(place)
            off.append(np.degrees(np.arccos(np.clip(true @ light.direction, -1, 1))))
    assert found.torches_deg > 1.9
    assert np.median(off) < 2 * found.torches_deg
    assert "contradict one another" in found.of_rims
    assert found.of_rims in found.notices


def test_balls_that_agree_are_not_said_to_contradict_one_another():
    rng = np.random.default_rng(1)
    shots = photographs(rng, struck_plate(rng, Asked(mm_per_px=0.1)), 4)
    few = Frames(tuple(f"{n}" for n in range(4)), shots.frames)
    balls = [Circle(*ball) for ball in shots.balls_px]
    settled = settled_balls(few, balls, light_of_numbers(few.white, "srgb"))
    assert not settled.rims.unlaid
