"""Mirror axes and second examples, laid over by the ornament itself."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
import shapely.affinity
from shapely import MultiPolygon, box, get_parts, union_all

from darkroom import Ornament, painted, scrollwork, wear
from ironlace.ornament import Laying, find_mirror, lay_over

PPM = 10.0
SIZE = (150.0, 110.0)


@pytest.fixture(scope="module")
def symmetric() -> Ornament:
    whole = scrollwork(np.random.default_rng(3), (15, 15, 135, 95), scrolls=5, mirror=True)
    return Ornament(shapely.affinity.rotate(whole.gilt, 6, origin=(75, 55)))


def worn(ornament: Ornament, seed: int, share: float) -> np.ndarray:
    paint = painted(ornament, SIZE, PPM)
    lost = wear(np.random.default_rng(seed), paint.shape, PPM, share)
    return np.where(lost, 0, paint).astype(np.uint8)


def test_mirror_axis_of_a_worn_ornament_is_found(symmetric) -> None:
    laying = find_mirror(worn(symmetric, 1, 0.3), PPM, (0.0, 0.0))
    assert laying is not None and laying.is_mirror
    (x, y), angle = laying.axis
    away = abs((75 - x) * -np.sin(angle) + (55 - y) * np.cos(angle))
    assert away < 0.05
    assert abs(np.rad2deg(angle) % 180 - 96) < 0.1
    # mirroring twice leads home
    places = np.array([[40.0, 40.0], [100.0, 60.0]])
    assert np.allclose(laying.apply(laying.apply(places)), places, atol=0.05)


def test_an_axis_given_roughly_is_made_exact(symmetric) -> None:
    laying = find_mirror(
        worn(symmetric, 2, 0.3), PPM, (0.0, 0.0), axis=((75.8, 55.0), np.deg2rad(95.3))
    )
    assert laying is not None
    assert abs(np.rad2deg(laying.axis[1]) % 180 - 96) < 0.1


def test_an_ornament_without_symmetry_has_no_axis() -> None:
    plain = scrollwork(np.random.default_rng(9), (15, 15, 135, 95), scrolls=9)
    assert find_mirror(painted(plain, SIZE, PPM), PPM, (0.0, 0.0)) is None


def turned_copies(leaf: shapely.Geometry, count: int) -> Ornament:
    parts = [shapely.affinity.rotate(leaf, 360 / count * n, origin=(75, 55)) for n in range(count)]
    return Ornament(MultiPolygon(list(get_parts(union_all(parts)))))


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("count", [2, 3, 5])
def test_what_is_its_own_by_a_turn_alone_has_no_mirror_axis(count: int, seed: int) -> None:
    # the long bar of each leaf is nearly mirrored, and the short ones at its sides are not
    leaf = union_all([box(80, 51.8, 110, 58), box(103, 40, 108, 58), box(88, 54, 92, 66)])
    ornament = turned_copies(leaf, count)
    assert find_mirror(worn(ornament, seed, 0.0), PPM, (0.0, 0.0)) is None
    assert find_mirror(worn(ornament, seed, 0.05), PPM, (0.0, 0.0)) is None


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_worn_petals_that_are_mirrored_and_turned_keep_their_axis(seed: int) -> None:
    petal = union_all([box(80, 53, 125, 57), box(100, 45, 104, 65)])
    laying = find_mirror(worn(turned_copies(petal, 5), seed, 0.25), PPM, (0.0, 0.0))
    assert laying is not None and laying.matched < 0.6
    (x, y), angle = laying.axis
    assert abs((75 - x) * -np.sin(angle) + (55 - y) * np.cos(angle)) < 0.1


def test_a_second_example_turned_shifted_and_stretched_is_laid_over(symmetric) -> None:
    here = worn(symmetric, 3, 0.3)
    there = worn(symmetric, 4, 0.4)
    h, w = there.shape
    v, u = np.mgrid[0:h, 0:w].astype(np.float32)
    turn = np.deg2rad(3.0)
    c, s = np.cos(turn), np.sin(turn)
    wave = 0.3 * PPM * np.sin(u / w * 3.0)
    x = c * (u - w / 2) - s * (v - h / 2) + w / 2 + 25
    y = s * (u - w / 2) + c * (v - h / 2) + h / 2 - 18 + wave
    moved = cv2.remap(there, x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR)
    laying = lay_over(here, moved, PPM, (0.0, 0.0))
    assert laying is not None and not laying.is_mirror
    # where laying sends a place, the map that moved the picture must bring it back
    places = np.stack(np.meshgrid(np.linspace(30, 120, 6), np.linspace(30, 80, 5)), -1).reshape(
        -1, 2
    )
    px = np.round(laying.apply(places) * PPM - 0.5).astype(int)
    back = np.stack([x[px[:, 1], px[:, 0]], y[px[:, 1], px[:, 0]]], -1)
    error = np.linalg.norm((back + 0.5) / PPM - places, axis=1)
    assert np.median(error) < 0.12  # rounding to pixels alone gives 0.04


def test_another_ornament_is_not_laid_over(symmetric) -> None:
    other = scrollwork(np.random.default_rng(21), (15, 15, 135, 95), scrolls=8)
    assert lay_over(worn(symmetric, 3, 0.1), painted(other, SIZE, PPM), PPM, (0.0, 0.0)) is None


def test_laying_survives_its_arrays(symmetric) -> None:
    laying = find_mirror(worn(symmetric, 1, 0.3), PPM, (0.0, 0.0))
    assert laying is not None
    again = Laying.from_arrays(laying.to_arrays())
    places = np.array([[40.0, 40.0], [100.0, 60.0]])
    assert np.array_equal(again.apply(places), laying.apply(places))


def test_too_little_to_compare_gives_none() -> None:
    empty = np.zeros((100, 100), np.uint8)
    assert find_mirror(empty, PPM, (0.0, 0.0)) is None
    assert lay_over(empty, empty, PPM, (0.0, 0.0)) is None
