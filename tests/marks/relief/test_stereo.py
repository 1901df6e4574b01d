import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from ironlace.marks.relief.stereo import (
    PAIRS,
    BentLight,
    least_squares,
    robust,
    robust_with_lobe,
    solved,
)
from lit_surfaces import matt_pictures, paraboloid, ring_of_lights, sphere_cap


def angle(found, true):
    """Degrees between normals, without the loss of an arc cosine near 0."""
    cross = np.linalg.norm(np.cross(found, true), axis=-1)
    return np.degrees(np.arctan2(cross, (found * true).sum(-1)))


LIGHTS = ring_of_lights(24, (20, 30, 40, 50))
SURFACES = {
    "sphere": sphere_cap(120, 180, 45)[1],
    "paraboloid": paraboloid((100, 150), 0.001, -0.0005)[1],
}


@pytest.mark.parametrize("name", SURFACES)
def test_least_squares_is_numpys_and_exact(name):
    normals = SURFACES[name]
    light = matt_pictures(normals, LIGHTS).reshape(24, -1)
    found = least_squares(light, LIGHTS)
    numpys = np.linalg.lstsq(LIGHTS, light, rcond=None)[0]
    np.testing.assert_allclose(found.normals * found.albedo, numpys, atol=1e-12)
    assert angle(found.normals.T.reshape(normals.shape), normals).max() < 1e-6
    np.testing.assert_allclose(found.albedo, 0.8)


@pytest.mark.parametrize("name", SURFACES)
def test_through_eight_bits(name):
    normals = SURFACES[name]
    light = np.round(matt_pictures(normals, LIGHTS).reshape(24, -1) * 300) / 300
    found = robust(light.astype(np.float32), LIGHTS.astype(np.float32), dark=1.5 / 300)
    assert angle(found.normals.T.reshape(normals.shape), normals).mean() <= 0.06


def test_partly_in_its_own_shadow():
    _, normals, on = sphere_cap(200, 107, 94)
    light = np.round(matt_pictures(normals, LIGHTS).reshape(24, -1) * 300) / 300
    found = robust(light.astype(np.float32), LIGHTS.astype(np.float32), dark=1.5 / 300)
    off = angle(found.normals.T.reshape(normals.shape), normals)
    lit = (np.einsum("ijk,lk->lij", normals, LIGHTS) > 0).all(0)
    assert (on & ~lit).mean() > 0.2
    assert off[on & ~lit].mean() <= 0.10
    assert off[on & lit].mean() <= 0.06


def with_lobe(normals, strength, exponent):
    """Light of matt metal with a lobe, against an upright place; written place by place."""
    half = LIGHTS + np.array([0.0, 0.0, 1.0])
    half /= np.linalg.norm(half, axis=1, keepdims=True)
    flat = normals.reshape(-1, 3)
    light = np.maximum(LIGHTS @ flat.T, 0) + strength * np.maximum(half @ flat.T, 0) ** exponent
    return light / (LIGHTS[:, 2:] + strength * half[:, 2:] ** exponent)


@pytest.mark.parametrize(("strength", "exponent"), [(0.0, 10.0), (0.7, 14.0), (1.5, 25.0)])
def test_a_known_lobe_is_undone(strength, exponent):
    normals = SURFACES["sphere"]
    light = with_lobe(normals, strength, exponent).astype(np.float32)
    torches = BentLight.over(LIGHTS.astype(np.float32), strength, exponent)
    found = robust_with_lobe(light, torches, dark=np.zeros(24, np.float32))
    assert angle(found.normals.T.reshape(normals.shape), normals).mean() < 0.15


def test_cast_shadows_and_glints_are_left_out():
    normals = SURFACES["sphere"]
    rng = np.random.default_rng(7)
    light = with_lobe(normals, 0.5, 14.0)
    light[rng.uniform(size=light.shape) < 0.12] *= 0.05
    light[rng.uniform(size=light.shape) < 0.04] += 1.5
    torches = BentLight.over(LIGHTS.astype(np.float32), 0.5, 14.0)
    found = robust_with_lobe(light.astype(np.float32), torches, dark=np.full(24, 0.01, np.float32))
    off = angle(found.normals.T.reshape(normals.shape), normals)
    assert np.median(off) < 0.1
    assert off.mean() < 0.3


def test_no_light_is_not_known():
    torches = BentLight.over(LIGHTS.astype(np.float32), 0.5, 14.0)
    found = robust_with_lobe(
        np.zeros((24, 5), np.float32), torches, dark=np.full(24, 0.01, np.float32)
    )
    assert not found.normals.any()


@pytest.mark.parametrize("method", [robust, robust_with_lobe])
def test_torches_in_a_line_tell_no_normal_and_nothing_that_is_no_number(method):
    line = np.tile(LIGHTS[:1], (24, 1)).astype(np.float32)
    light = np.full((24, 7), 0.7, np.float32)
    if method is robust_with_lobe:
        line = BentLight.over(line, 0.5, 14.0)
        found = method(light, line, dark=np.full(24, 0.01, np.float32))
    else:
        found = method(light, line)
    assert np.isfinite(found.normals).all()
    assert np.isfinite(found.albedo).all()


@given(
    hnp.arrays(np.float32, (4, 3, 6), elements=st.floats(-1, 1, width=32)),
    hnp.arrays(np.float32, (3, 6), elements=st.floats(-1, 1, width=32)),
)
def test_a_system_is_solved_as_numpy_does_or_told_as_nothing(rows, right):
    whole = np.einsum("rip,rjp->pij", rows, rows).astype(np.float64)
    parts = np.stack([whole[:, i, j] for i, j in PAIRS]).astype(np.float32)
    found = solved(parts, right)
    assert np.isfinite(found).all()
    for place in range(6):
        # less light than a thousandth of white in any photograph tells nothing, and need not
        if np.trace(whole[place]) > 1e-6 and np.linalg.cond(whole[place]) < 100:
            expected = np.linalg.solve(whole[place], right[:, place].astype(np.float64))
            off = np.linalg.norm(found[:, place] - expected)
            assert off <= off_at_most(whole[place]) * np.linalg.norm(expected) + 1e-20


def off_at_most(system):
    """How far a solution may lie off, of its length: by the ridge, and by single precision.

    Cofactors are rounded by the square of the largest eigenvalue and divided by the product of all
    (Cramer's rule; Higham, 2002, section 1.10.1); eight are allowed.
    """
    least, middle, most = np.linalg.eigvalsh(system)
    ridge = 1e-6 * np.trace(system) + 1e-12
    return ridge / least + 8 * 2.0**-24 * most**2 / (least * middle)
