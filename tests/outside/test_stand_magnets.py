"""Pulls of magnets against Maxwell's stress and printed examples."""

import numpy as np
import pytest

from ironlace.stand.magnet_pull import DiscMagnet, IronSeat, image_pull, seat_share

INCH = 25.4


def test_a_long_magnet_in_touch_pulls_by_maxwells_stress():
    # F = B^2 A / (2 mu0); 1 T is 39.789 N/cm2 (Cardarelli, Materials Handbook, 2nd ed. 2008,
    # p. 493). A long magnet and its mirror twin give half the field each: B is the polarization.
    pull = image_pull(DiscMagnet(20.0, 2000.0, 1.0), 0.02)
    assert pull == pytest.approx(39.789 * np.pi, rel=0.02)


# magpylib's getFT and the closed integral of Vokoun et al. (2009) agree on these to 0.02 %
@pytest.mark.parametrize(
    ("disc", "pulls"),
    [
        (DiscMagnet(20.0, 10.0, 1.30), (95.78, 76.00, 51.39, 19.69)),
        (DiscMagnet(15.0, 5.0, 1.20), (30.58, 22.28, 13.20, 3.775)),
        (DiscMagnet(12.0, 5.0, 1.28), (24.84, 17.44, 9.624, 2.322)),
    ],
)
def test_the_image_pull_is_that_of_two_cylinders(disc, pulls):
    found = [image_pull(disc, gap) for gap in (0.5, 1.0, 2.0, 5.0)]
    assert found == pytest.approx(pulls, rel=5e-4)


# two axisymmetric finite-element examples printed with their values, on thick wide steel
@pytest.mark.parametrize(
    ("disc", "gap", "images", "elements"),
    [
        (DiscMagnet(3 / 16 * INCH, INCH / 32, 1.28), 0.0254, 2.69, (2.49, 2.56)),
        (DiscMagnet(2 * INCH, 0.65 * INCH, 1.26), 0.127, 571.0, (510.0, 542.0)),
    ],
)
def test_wide_thick_steel_comes_near_printed_finite_elements(disc, gap, images, elements):
    bound = image_pull(disc, gap)
    assert bound == pytest.approx(images, rel=2e-3)
    share, doubt = seat_share(disc, IronSeat("steel", 200.0, 60.0))
    low, high = bound * share * np.exp(-1.645 * doubt), bound * share * np.exp(1.645 * doubt)
    assert low < elements[0] and high > elements[1]
