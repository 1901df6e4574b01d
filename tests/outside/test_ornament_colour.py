"""Colour against published values.

- CIEDE2000: test pairs of Sharma, Wu and Dalal, Color Research & Application 30(1) (2005) 21-30,
  read from a public test file that quotes the paper; and the independent colour-science.
- sRGB to L*a*b*: IEC 61966-2-1:1999 matrix and D65 white; printed values of the primaries.
"""

import numpy as np
import pytest

from ironlace.ornament.gilt.colour_layers import difference, lab_of
from ironlace.photographs.linear_light import decode

PAIRS = [
    ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
    ((50.0, 3.1571, -77.2803), (50.0, 0.0, -82.7485), 2.8615),
    ((50.0, -1.3802, -84.2814), (50.0, 0.0, -82.7485), 1.0000),
    ((50.0, 0.0, 0.0), (50.0, -1.0, 2.0), 2.3669),
    ((50.0, 2.49, -0.001), (50.0, -2.49, 0.0009), 7.1792),
    ((50.0, 2.49, -0.001), (50.0, -2.49, 0.0011), 7.2195),
    ((50.0, -0.001, 2.49), (50.0, 0.0009, -2.49), 4.8045),
    ((50.0, 2.5, 0.0), (50.0, 0.0, -2.5), 4.3065),
    ((50.0, 2.5, 0.0), (73.0, 25.0, -18.0), 27.1492),
    ((50.0, 2.5, 0.0), (56.0, -27.0, -3.0), 31.9030),
    ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
    ((22.7233, 20.0904, -46.694), (23.0331, 14.973, -42.5619), 2.0373),
    ((36.4612, 47.858, 18.3852), (36.2715, 50.5065, 21.2231), 1.4146),
    ((90.9257, -0.5406, -0.9208), (88.6381, -0.8985, -0.7239), 1.5381),
    ((2.0776, 0.0795, -1.135), (0.9033, -0.0636, -0.5514), 0.9082),
]


@pytest.mark.parametrize(("one", "two", "printed"), PAIRS)
def test_colour_difference_of_the_published_pairs(one, two, printed):
    assert difference(np.array(one), np.array(two)) == pytest.approx(printed, abs=1e-4)


def test_colour_difference_agrees_with_an_independent_library():
    # on import it changes how numpy prints, for everybody
    with np.printoptions():
        import colour

    rng = np.random.default_rng(3)
    one = rng.uniform((0, -60, -60), (100, 60, 60), (200, 3))
    two = one + rng.normal(0, 6, (200, 3))
    theirs = colour.delta_E(one, two, method="CIE 2000")
    np.testing.assert_allclose(difference(one, two), theirs, atol=1e-6)


@pytest.mark.parametrize(
    ("rgb", "lab"),
    [
        ((255, 0, 0), (53.24, 80.09, 67.20)),
        ((0, 255, 0), (87.737, -86.185, 83.181)),
        ((0, 0, 255), (32.303, 79.197, -107.864)),
        ((128, 128, 128), (53.585, 0.0, 0.0)),
        ((212, 175, 55), (72.848, 1.381, 62.914)),
        ((20, 18, 16), (5.589, 0.419, 1.367)),
    ],
)
def test_lab_of_srgb(rgb, lab):
    np.testing.assert_allclose(lab_of(decode(np.array(rgb) / 255.0)), lab, atol=0.03)
