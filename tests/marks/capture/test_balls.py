import cv2
import numpy as np
import pytest

from ironlace.marks.capture.balls import (
    FoundBalls,
    fellow_of,
    find_balls,
    has_moving_highlight,
)
from ironlace.marks.capture.frames import median_picture
from ironlace.marks.capture.outlines import Circle
from lit_surfaces import ball_scene
from struck_plates import Asked, photographs, struck_plate


def test_both_balls_are_found_unaided(scene):
    found = find_balls(median_picture(scene.frames), scene.frames).circles
    assert len(found) == 2
    for ball, (x, y, r) in zip(found, scene.balls, strict=True):
        assert np.hypot(ball.x - x, ball.y - y) < 1.0
        assert ball.r == pytest.approx(r, abs=1.0)


@pytest.mark.parametrize("radius_px", [24, 40])
def test_the_rim_of_a_small_ball_is_told_from_that_of_its_shadow(radius_px):
    """On struck iron by the other generator: the shadow's rim lies a tenth of the radius off."""
    rng = np.random.default_rng(40)
    plate = struck_plate(rng, Asked(wear=0.3, mm_per_px=3.0 / radius_px, rows=1))
    taken = photographs(rng, plate, 6)
    found = find_balls(median_picture(taken.frames), taken.frames).circles
    assert found
    for ball in found:
        x, y, r = min(taken.balls_px, key=lambda b: np.hypot(ball.x - b[0], ball.y - b[1]))
        assert np.hypot(ball.x - x, ball.y - y) < 0.02 * radius_px
        assert ball.r == pytest.approx(r, abs=0.02 * radius_px)


def test_struck_rings_and_round_pits_are_no_balls():
    rng = np.random.default_rng(3)
    frames = []
    for _ in range(5):
        picture = (90 + 12 * rng.normal(size=(300, 460))).clip(0, 255).astype(np.uint8)
        for x, y, r in ((80, 90, 40), (300, 180, 36), (200, 60, 22)):
            cv2.circle(picture, (x, y), r, 40, 3, cv2.LINE_AA)
        frames.append(cv2.GaussianBlur(picture, (0, 0), 0.8))
    assert find_balls(median_picture(frames), frames) == FoundBalls()


def test_a_spot_that_never_moves_is_no_highlight():
    picture = np.full((200, 200), 30, np.uint8)
    cv2.circle(picture, (110, 90), 4, 250, -1)
    assert not has_moving_highlight([picture] * 4, Circle(100.0, 100.0, 60.0))


def test_a_plate_without_a_ball_has_none():
    scene = ball_scene(
        np.random.default_rng(2), shape=(200, 300), places=(), count=5, finer=1, gamma=2.2
    )
    assert find_balls(median_picture(scene.frames), scene.frames) == FoundBalls()


def test_three_glossy_pits_are_no_match_for_two_balls(scene):
    frames = []
    for k, plain in enumerate(scene.frames):
        frame = plain.copy()
        for x, y in ((180, 90), (240, 210), (300, 110)):
            cv2.circle(frame, (x, y), 15, 25, -1, cv2.LINE_AA)
            spot = (round(x + 7 * np.cos(k)), round(y + 7 * np.sin(k)))
            cv2.circle(frame, spot, 2, 250, -1, cv2.LINE_AA)
        frames.append(cv2.GaussianBlur(frame, (0, 0), 0.6))
    found = find_balls(median_picture(frames), frames).circles
    assert [round(ball.r / scene.balls[0][2], 1) for ball in found] == [1.0, 1.0]


def _small_balls(scene, spots):
    """Dark discs of 22 px under a lamp that stays, with a torch mirrored where `spots` say.

    Each throws the shadow of a ball, away from the torch.
    """
    frames = []
    for k, plain in enumerate(scene.frames[:8]):
        frame = cv2.blur(plain[:300, :420], (9, 9)) // 2 + 90
        for (x, y), spot in spots.items():
            u, v = spot(k)
            up = 1 - 2 * (u * u + v * v)
            away = -2 * np.sqrt(1 - u * u - v * v) / up
            middle = (round(x + 22 * away * u), round(y + 22 * away * v))
            angle = float(np.degrees(np.arctan2(v, u)))
            cv2.ellipse(frame, middle, (round(22 / up), 22), angle, 0, 360, 30, -1, cv2.LINE_AA)
            cv2.circle(frame, (x, y), 22, 30, -1, cv2.LINE_AA)
            cv2.circle(frame, (x - 6, y + 4), 4, 235, -1, cv2.LINE_AA)  # a lamp or a window
            cv2.circle(frame, (round(x + 22 * u), round(y + 22 * v)), 1, 210, -1, cv2.LINE_AA)
        frames.append(cv2.GaussianBlur(frame, (0, 0), 0.7))
    return frames


def _round(k):
    return 0.5 * np.cos(0.8 * k), 0.5 * np.sin(0.8 * k)


def _still(_):
    return 0.3, 0.3


def test_the_second_ball_is_told_by_the_first_under_a_brighter_lamp(scene):
    frames = _small_balls(scene, {(60, 60): _round, (350, 230): _round})
    ball = Circle(60.0, 60.0, 22.0)
    assert not has_moving_highlight(frames, Circle(350.0, 230.0, 22.0))
    fellow = fellow_of(median_picture(frames), frames, ball)
    assert fellow.agrees
    assert np.hypot(fellow.circle.x - 350, fellow.circle.y - 230) < 1.0


@pytest.mark.parametrize("spot", [_still, lambda k: _round(3 * k + 2)], ids=["still", "other way"])
def test_what_is_round_and_mirrors_no_torch_as_the_ball_does_is_told_and_not_taken(scene, spot):
    frames = _small_balls(scene, {(60, 60): _round, (350, 230): spot})
    fellow = fellow_of(median_picture(frames), frames, Circle(60.0, 60.0, 22.0))
    assert fellow is not None
    assert not fellow.agrees
