"""A telephone's curve, laid over photographs of `strange_light.py`, which knows nothing of it."""

import cv2
import numpy as np
import pytest

from ironlace.marks.capture.capturing import CaptureAsked, GivenBall
from ironlace.marks.capture.frames import Frames
from ironlace.marks.capture.lights import light_at
from ironlace.marks.capture.outlines import Circle
from ironlace.marks.relief.plate_relief import plate_of
from ironlace.marks.relief.tone_curve import ToneCurve
from strange_light import Room, lifted, photographed

ROOM = Room(shape=(210, 330), mm_per_px=0.09, count=12, balls=((-11.0, 5.6), (11.0, -5.6)))


@pytest.fixture(scope="module")
def taken():
    return photographed(np.random.default_rng(31), ROOM)


def relief_of(taken, frames):
    balls = [GivenBall(Circle(*ball), 3.0) for ball in taken.balls_px]
    asked = CaptureAsked(balls=balls, lights=[light_at(place) for place in taken.lights_mm])
    names = tuple(f"{n}.jpg" for n in range(len(frames)))
    relief = plate_of(Frames(names, tuple(frames)), asked, workers=2, encoding="srgb")[1]
    known = taken.bare & (relief.normals[..., 2] > 0)
    told, true = (n[known][:, :2] / n[known][:, 2:] for n in (relief.normals, taken.normals))
    gentle = np.abs(true).max(1) < 0.4
    return relief, (told[gentle] * true[gentle]).sum() / (true[gentle] ** 2).sum()


def developed(frames, tone):
    table = np.clip(np.round(255 * tone(np.arange(256) / 255)), 0, 255).astype(np.uint8)
    return [table[frame] for frame in frames]


def by_neighbourhood(frame):
    light = np.log(frame / 255 + 0.004)
    wide = cv2.GaussianBlur(light, (0, 0), 13.0)
    return np.clip(255 * np.exp(light - 0.35 * (wide + 0.7)), 0, 255).astype(np.uint8)


def test_a_curve_is_taken_out_and_told_first(taken):
    relief, slopes = relief_of(taken, developed(taken.frames, lifted(0.5)))
    assert relief.curve.is_other
    assert relief.curve.known
    assert relief.notices[0].startswith("The photographs' tone curve is not the usual one")
    assert not any("bent" in one for one in relief.notices)
    assert slopes == pytest.approx(1.0, abs=0.12)  # 1.3 while it was not looked for
    assert relief.slope_gain.high / relief.slope_gain.value > 1.1


def test_what_was_mapped_by_neighbourhood_is_told_first_and_doubted(taken):
    relief, _ = relief_of(taken, [by_neighbourhood(frame) for frame in taken.frames])
    assert relief.notices[0].startswith("The telephone or a program brightened places")
    assert relief.doubted
    assert not relief.curve.is_other


def test_undone_it_is_rising_and_white_stays_white():
    light = np.linspace(0, 1, 256, dtype=np.float32)
    told = ToneCurve(change=0.9, middle=0.4, power=0.8).undone(light)
    assert (np.diff(told) > 0).all()
    assert told[0] == 0.0
    assert told[-1] == pytest.approx(1.0)
    assert ToneCurve().undone(light) is light


def test_too_few_photographs_tell_no_curve_and_it_is_said():
    nothing = ToneCurve()
    assert not nothing.known
    assert "could not be told" in nothing.told()
    assert nothing.slopes_doubt > 0.2
