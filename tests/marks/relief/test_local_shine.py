"""A coarse grid's light, made here of a lobe whose strength changes from place to place."""

import numpy as np
import pytest

from ironlace.marks.relief.local_shine import local_shine, times_upright
from ironlace.marks.relief.reflectance import Lobe

SHAPE = (30, 48)
LOBE = Lobe(0.8, 15.0)
LIT = np.ones(SHAPE, bool)


def torches(count, rng):
    """Unit directions over the grid, torches x rows x columns x 3, each height in its own place."""
    around = (np.arange(count) + rng.uniform(-0.3, 0.3, count)) * 2 * np.pi / count
    high = np.radians(rng.permutation(np.linspace(15, 55, count)))
    way = np.stack([np.cos(around) * np.cos(high), np.sin(around) * np.cos(high), np.sin(high)], 1)
    return np.broadcast_to(way[:, None, None], (count, *SHAPE, 3)).copy()


def seen(towards, strength, slopes=(0.0, 0.0), exponent=LOBE.exponent):
    """Light of places of these slopes and strengths."""
    normals = np.stack(np.broadcast_arrays(-slopes[0], -slopes[1], np.ones(SHAPE)), -1)
    normals = normals / np.linalg.norm(normals, axis=-1, keepdims=True)
    half = towards + np.array([0.0, 0.0, 1.0])
    half /= np.linalg.norm(half, axis=-1, keepdims=True)
    return (normals * towards).sum(-1) + strength * (normals * half).sum(-1) ** exponent


def tilted_deg(light, towards):
    """Tilts of the grid's cells as least squares tells them of a plate of one shine."""
    upright = seen(towards[:, :1, :1], LOBE.strength)[:, 0, 0]
    step = 1e-3
    along = [
        (seen(towards, LOBE.strength, slopes)[:, 0, 0] / upright - 1) / -step
        for slopes in ((step, 0.0), (0.0, step))
    ]
    design = np.column_stack([np.ones(len(light)), *along])
    found = np.linalg.pinv(design) @ np.log(light).reshape(len(light), -1)
    return np.degrees(np.hypot(found[1], found[2]))


@pytest.fixture
def rng():
    return np.random.default_rng(8)


@pytest.fixture
def patches():
    """Logarithm of strength: waves 10 cells long, a third to three times the plate's."""
    y, x = np.mgrid[: SHAPE[0], : SHAPE[1]]
    return 1.1 * np.sin(2 * np.pi * x / 20) * np.cos(2 * np.pi * y / 25)


@pytest.mark.parametrize("count", [6, 12, 24])
def test_patches_of_shine_are_not_taken_for_tilts(rng, patches, count):
    towards = torches(count, rng)
    light = seen(towards, LOBE.strength * np.exp(patches)) / seen(towards, LOBE.strength)
    light *= np.exp(0.01 * rng.normal(size=light.shape))
    nothing = np.zeros(count)
    change = local_shine(light, np.broadcast_to(LIT, light.shape), towards, LOBE, nothing)
    mended = light / times_upright(towards, LOBE, change, nothing)
    before, after = (tilted_deg(one, towards).mean() for one in (light, mended))
    assert after < 0.45 * before
    assert np.corrcoef(change.ravel(), patches.ravel())[0, 1] > 0.95


@pytest.mark.parametrize("count", [8, 24])
def test_a_dent_is_no_shine(rng, count):
    y, x = np.mgrid[: SHAPE[0], : SHAPE[1]]
    bump = 0.6 * np.exp(-0.5 * ((x - 20) ** 2 + (y - 14) ** 2) / 5.0**2)
    down, right = np.gradient(bump)
    towards = torches(count, rng)
    light = seen(towards, LOBE.strength, (right, -down)) / seen(towards, LOBE.strength)
    light *= np.exp(0.01 * rng.normal(size=light.shape))
    assert np.degrees(np.hypot(right, down).max()) > 3
    nothing = np.zeros(count)
    change = local_shine(light, np.broadcast_to(LIT, light.shape), towards, LOBE, nothing)
    mended = light / times_upright(towards, LOBE, change, nothing)
    steep = np.hypot(right, down).ravel() > 0.03
    told = tilted_deg(mended, towards)[steep] / tilted_deg(light, towards)[steep]
    assert 0.9 < np.median(told) < 1.1


def test_other_light_is_allowed_for(rng, patches):
    towards = torches(12, rng)
    share = np.full(12, 0.3)
    times = seen(towards, LOBE.strength * np.exp(patches)) / seen(towards, LOBE.strength)
    light = 0.7 * times + 0.3
    assert np.allclose(times_upright(towards, LOBE, patches, share), light)
    change = local_shine(light, np.broadcast_to(LIT, light.shape), towards, LOBE, share)
    assert np.corrcoef(change.ravel(), patches.ravel())[0, 1] > 0.95
    assert 0.5 < change.std() / patches.std() < 1.2


def test_cells_in_shadow_and_matt_plates_are_left_as_they_are(rng, patches):
    towards = torches(6, rng)
    light = seen(towards, LOBE.strength * np.exp(patches)) / seen(towards, LOBE.strength)
    use = np.ones(light.shape, bool)
    use[:3, :, :10] = False  # three torches of six leave nothing to tell a fourth unknown by
    change = local_shine(light, use, towards, LOBE, np.zeros(6))
    assert not change[:, :10].any()
    assert change[:, 10:].any()
    assert not local_shine(light, use, towards, Lobe(0.0, 10.0), np.zeros(6)).any()
