"""A coarse grid's light, made here: paint, a bent plate, a hand's shadow, a lamp's flicker."""

import numpy as np
import pytest

from ironlace.marks.relief.patchy_light import BANDED, banded, shaded

NO_BALL = np.zeros((30, 48), bool)


@pytest.fixture
def lit():
    """A painted plate, bent to 28 degrees from end to end, under twelve torches."""
    rng = np.random.default_rng(4)
    around, high = np.arange(12) * np.pi / 6, np.radians(rng.uniform(18, 50, 12))
    towards = np.column_stack([np.cos(around) * np.cos(high), np.sin(around) * np.cos(high),
                               np.sin(high)])  # fmt: skip
    lean = np.radians(np.linspace(-14, 14, 48))
    normals = np.stack([np.sin(lean), 0 * lean, np.cos(lean)])
    paint = np.exp(0.3 * rng.normal(size=NO_BALL.shape))
    light = np.clip(towards @ normals, 0.02, None)[:, None, :] * paint / towards[:, 2, None, None]
    return light * np.exp(0.02 * rng.normal(size=light.shape)), towards


def test_neither_paint_nor_a_bend_nor_grain_is_uneven_light(lit):
    light, towards = lit
    assert not shaded(light, NO_BALL).any()
    assert banded(light, NO_BALL, towards) < BANDED


def test_photographs_in_a_hands_shadow_are_named(lit):
    light, _ = lit
    light[[2, 7], :, 20:] *= 0.2
    assert np.flatnonzero(shaded(light, NO_BALL)).tolist() == [2, 7]


def test_bands_in_all_photographs_are_told(lit):
    light, towards = lit
    rows = np.linspace(0, 10, 30)[None, :, None] + np.arange(12)[:, None, None] ** 2
    light *= 1 + 0.25 * np.sin(rows)
    assert banded(light, NO_BALL, towards) > BANDED


def test_of_few_photographs_nothing_is_told(lit):
    light, towards = lit
    assert banded(light[:4], NO_BALL, towards[:4]) == 0.0
