import numpy as np
import pytest

from ironlace.marks.capture.frames import light_of_numbers
from ironlace.marks.capture.outlines import Circle
from ironlace.marks.capture.registering import (
    Move,
    move_between,
    registered,
    rough_shift,
    straightened,
)


def test_shift_and_turn_by_the_balls(scene, frames):
    table = light_of_numbers(255, "srgb")
    balls = [Circle(*ball) for ball in scene.balls]
    moves, _ = registered(frames.pictures, balls, table)
    off = np.array([move.shift_px for move in moves]) - scene.shifts_px
    assert np.sqrt((off**2).mean()) < 0.06
    assert np.abs(off).max() < 0.2
    turns = np.degrees([move.turn_rad for move in moves]) - scene.turns_deg
    assert np.abs(turns).mean() < 0.01  # the balls are small and near here


def test_places_go_and_come_back():
    move = Move((0.4, -1.2), 0.01)
    places = np.array([[3.0, 4.0], [80.0, 10.0]])
    there = move.places(places, (60, 100))
    np.testing.assert_allclose(move.back(there, (60, 100)), places)
    middle = np.array([[49.5, 29.5]])
    np.testing.assert_allclose(move.places(middle, (60, 100)), middle + np.array([0.4, -1.2]))


def test_one_place_gives_a_shift_alone():
    move = move_between(np.array([[5.0, 5.0]]), np.array([[5.5, 4.0]]), np.ones(1), (20, 20))
    assert move.turn_rad == 0
    assert move.shift_px == pytest.approx((0.5, -1.0))


def test_two_places_give_the_turn():
    true = Move((0.3, -0.2), np.radians(0.5))
    first = np.array([[10.0, 12.0], [90.0, 50.0]])
    move = move_between(first, true.places(first, (60, 100)), np.ones(2), (60, 100))
    assert move.shift_px == pytest.approx(true.shift_px)
    assert move.turn_rad == pytest.approx(true.turn_rad)
    assert move.doubt_px == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
def test_a_photograph_is_straightened_band_by_band(kind):
    rows, columns = 40, 60
    v, u = np.mgrid[:rows, :columns].astype(float)
    true = Move((0.5, -0.25), np.radians(0.2))

    def ground(x, y):
        return 100 + 40 * np.sin(x / 9) + 30 * np.cos(y / 7)

    back = true.back(np.stack([u.ravel(), v.ravel()], 1), (rows, columns))
    moved = np.round(ground(*back.T)).reshape(rows, columns).astype(kind)
    found = np.vstack(
        [straightened(moved, true, top, top + 10, (rows, columns)) for top in range(0, rows, 10)]
    )
    assert np.abs(found.astype(float) - ground(u, v))[3:-3, 3:-3].max() < 1.6


def test_a_large_shift_is_seen_without_balls():
    rng = np.random.default_rng(4)
    wide = (rng.uniform(size=(30, 40)).repeat(8, 0).repeat(8, 1) * 200).astype(np.uint8)
    dx, dy = rough_shift(wide[20:220, 20:300], wide[14:214, 29:309])
    assert (dx, dy) == pytest.approx((-9.0, 6.0), abs=0.5)


@pytest.mark.parametrize("turn", [0.0, 2e-4, -9e-4, 4e-3])
def test_straightened_by_strips_as_by_the_pattern_itself(turn):
    def pattern(x, y):
        return 120 + 50 * np.sin(x / 5) * np.cos(y / 7) + 40 * np.sin(0.1 * x + 0.13 * y)

    shape = (140, 400)
    y, x = np.mgrid[: shape[0], : shape[1]].astype(float)
    move = Move((3.3, -5.6), turn)
    there = move.places(np.stack([x.ravel(), y.ravel()], 1), shape)
    # what lies in the first at a place is what the other shows where that place went
    back = move.back(np.stack([x.ravel(), y.ravel()], 1), shape)
    other = np.round(pattern(*back.T)).reshape(shape).astype(np.uint8)
    whole = straightened(other, move, 0, shape[0], shape)
    there = there.reshape(*shape, 2)
    inner = ((there > 2) & (there < np.array([shape[1], shape[0]]) - 3)).all(2)
    assert np.abs(whole - pattern(x, y))[inner].max() < 2.2  # a tenth of a pixel or so
    part = straightened(other, move, 30, 90, shape, (100, 250))
    assert np.abs(part.astype(float) - whole[30:90, 100:250]).max() <= 2
    assert np.ptp(whole[0, :3].astype(float)) < 30  # its edge is repeated
