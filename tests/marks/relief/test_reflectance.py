import numpy as np
import pytest

from ironlace.marks.relief.reflectance import Samples, fitted_lobe
from lit_surfaces import ring_of_lights


def samples(shine, *, torches=24, count=1500, noise=0.02):
    """Places of uneven metal, with noise and shadows; `shine` goes by the cosine from halfway."""
    rng = np.random.default_rng(9)
    towards = ring_of_lights(torches, (16, 40, 24, 48, 32, 54))
    half = towards + np.array([0.0, 0.0, 1.0])
    half /= np.linalg.norm(half, axis=1, keepdims=True)
    normals = np.concatenate([rng.normal(0, 0.10, (2, count)), np.ones((1, count))])
    normals /= np.linalg.norm(normals, axis=0)
    albedo = np.exp(rng.normal(0, 0.1, count))
    light = np.maximum(towards @ normals, 0) + shine(np.maximum(half @ normals, 0))
    light *= albedo / (towards[:, 2:] + shine(half[:, 2:]))
    light *= 1 + rng.normal(0, noise, light.shape)
    light[rng.uniform(size=light.shape) < 0.03] *= 0.1
    spread = [np.repeat(one.T[:, :, None], count, 2).astype(np.float32) for one in (towards, half)]
    dark = np.full(torches, 0.01, np.float32)
    none = np.zeros(light.shape, np.float32)
    return Samples(light.astype(np.float32), *spread, dark, none), normals


def true_gain(told, normals):
    """What a matt reading makes of the slopes, by plain least squares against the truth."""
    matt = np.linalg.lstsq(
        told.towards[:, :, 0].T / told.towards[2, :, :1], told.light, rcond=None
    )[0]
    inside = np.hypot(*normals[:2]) < 0.15
    true = (matt[:2] / matt[2])[:, inside], (normals[:2] / normals[2])[:, inside]
    return (true[0] * true[1]).sum() / (true[1] ** 2).sum()


def lobe(strength, exponent):
    return lambda cosine: strength * cosine**exponent


def long_tailed(cosine):
    """A peak and a tail that no lobe has both of."""
    away = np.degrees(np.arccos(np.clip(cosine, 0, 1)))
    return 0.7 * np.interp(away, (0, 8, 16, 25, 40, 90), (1.0, 0.75, 0.42, 0.22, 0.1, 0.03))


@pytest.mark.parametrize(("strength", "exponent"), [(0.6, 14.0), (1.2, 22.0)])
def test_the_gain_of_the_slopes_is_found(strength, exponent):
    told, normals = samples(lobe(strength, exponent))
    found = fitted_lobe(told)
    gain = true_gain(told, normals)
    assert gain > 1.25
    assert found.gain == pytest.approx(gain, rel=0.15)
    low, high = found.interval()
    assert low <= gain <= high


def test_metal_of_no_formula_and_few_photographs_are_doubted_more_and_held():
    wide = {}
    for torches in (24, 6):
        told, normals = samples(long_tailed, torches=torches)
        low, high = fitted_lobe(told).interval()
        assert low <= true_gain(told, normals) <= high
        wide[torches] = high / low
    assert wide[6] > 1.15 * wide[24]
    assert wide[24] > 1.15


def test_what_else_is_doubted_widens_the_interval_both_ways():
    found = fitted_lobe(samples(lobe(0.6, 14.0), count=300)[0])
    (low, high), (lower, higher) = found.interval(), found.interval(0.3)
    assert lower < low < found.gain < high < higher


def test_matt_iron_needs_no_gain():
    found = fitted_lobe(samples(lobe(0.0, 10.0))[0])
    assert found.gain == pytest.approx(1.0, abs=0.05)
