import numpy as np
import pytest

from ironlace.marks.relief.reflectance import Samples, fitted_lobe
from lit_surfaces import ring_of_lights


def samples(strength, exponent, *, count=1500, noise=0.02):
    """Places of uneven metal, each shining as the formula says, with noise and shadows."""
    rng = np.random.default_rng(9)
    towards = ring_of_lights(24, (16, 24, 32, 40, 48, 54))
    half = towards + np.array([0.0, 0.0, 1.0])
    half /= np.linalg.norm(half, axis=1, keepdims=True)
    normals = np.concatenate([rng.normal(0, 0.10, (2, count)), np.ones((1, count))])
    normals /= np.linalg.norm(normals, axis=0)
    albedo = np.exp(rng.normal(0, 0.1, count))
    light = np.maximum(towards @ normals, 0) + strength * np.maximum(half @ normals, 0) ** exponent
    light *= albedo / (towards[:, 2:] + strength * half[:, 2:] ** exponent)
    light *= 1 + rng.normal(0, noise, light.shape)
    light[rng.uniform(size=light.shape) < 0.03] *= 0.1
    spread = [np.repeat(one.T[:, :, None], count, 2).astype(np.float32) for one in (towards, half)]
    dark = np.full(24, 0.01, np.float32)
    none = np.zeros(light.shape, np.float32)
    return Samples(light.astype(np.float32), *spread, dark, none), normals


@pytest.mark.parametrize(("strength", "exponent"), [(0.6, 14.0), (1.2, 22.0)])
def test_the_gain_of_the_slopes_is_found(strength, exponent):
    told, normals = samples(strength, exponent)
    found = fitted_lobe(told)
    # what a matt reading makes of it, by plain least squares against the truth
    matt = np.linalg.lstsq(
        told.towards[:, :, 0].T / told.towards[2, :, :1], told.light, rcond=None
    )[0]
    inside = np.hypot(*normals[:2]) < 0.15
    true = (matt[:2] / matt[2])[:, inside], (normals[:2] / normals[2])[:, inside]
    gain = (true[0] * true[1]).sum() / (true[1] ** 2).sum()
    assert gain > 1.25
    assert found.gain == pytest.approx(gain, rel=0.15)
    assert found.low <= gain <= found.high * 1.1


def test_matt_iron_needs_no_gain():
    found = fitted_lobe(samples(0.0, 10.0)[0])
    assert found.gain == pytest.approx(1.0, abs=0.05)
