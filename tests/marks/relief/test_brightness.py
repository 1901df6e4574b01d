import numpy as np
import pytest

from ironlace.marks.relief.brightness import Brightness

LOBES = np.array([0.0, 0.3, 0.6, 1.2, 2.4]), np.full(5, 14.0)


def seen(strength, *, exposure=None, spread=0.05, count=12, far_known=True):
    """A plate under torches at random; `exposure` takes its light to what the camera gave."""
    rng = np.random.default_rng(4)
    z = np.sin(np.radians(rng.permutation(np.linspace(16, 54, count))))
    far = rng.uniform(150, 320, count)
    light = (z + strength * np.sqrt((1 + z) / 2) ** 14) / far**2
    if exposure:
        light = light * exposure(light, far)
    level = np.log(light / z) + rng.normal(0, spread, count)
    return Brightness(level, np.asarray(z), np.log(far) if far_known else np.full(count, np.inf))


def chances(told):
    likely = np.exp(told - told.max())
    return likely / likely.sum()


@pytest.mark.parametrize(
    "exposure", [None, lambda light, far: far**2], ids=["held", "set by distance"]
)
def test_shine_is_told_from_matt(exposure):
    matt = chances(seen(0.0, exposure=exposure).tells(*LOBES))
    shiny = chances(seen(1.2, exposure=exposure).tells(*LOBES))
    assert matt[:2].sum() > 0.7
    assert matt[3:].sum() < 0.05
    assert shiny[2:].sum() > 0.7
    assert shiny[0] < 0.05


def test_a_camera_that_exposes_by_itself_tells_nothing():
    # all photographs alike, whatever the torch: read as held it would be gross
    told = seen(1.2, exposure=lambda light, far: 1 / light).tells(*LOBES)
    assert np.ptp(told) < 0.7


def test_a_torch_of_unknown_distance_still_tells_where_exposures_went_by_it():
    told = chances(seen(1.2, exposure=lambda light, far: far**2, far_known=False).tells(*LOBES))
    assert told[2:].sum() > 0.6
