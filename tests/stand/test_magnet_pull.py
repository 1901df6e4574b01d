"""What a magnet pulls on a rim: bound, narrow, thin, far."""

import numpy as np
import pytest

from ironlace.stand.magnet_pull import DiscMagnet, IronSeat, drawn_pulls, image_pull, seat_share
from turned_cranks import disc_force

DISC = DiscMagnet(10.0, 5.0, 1.3)


@pytest.mark.parametrize("gap", [0.2, 0.5, 2.0])
def test_the_bound_is_the_force_of_charges_on_two_discs(gap):
    truth = disc_force(10.0, 5.0, 1.3, 2 * gap, rings=120)
    assert image_pull(DISC, gap) == pytest.approx(truth, rel=0.03)


def test_narrow_and_thin_iron_holds_less():
    def share(wide, thick, iron="grey iron"):
        return seat_share(DISC, IronSeat(iron, wide, thick))[0]

    assert 0.9 < share(40.0, 8.0) < 0.97  # wide and thick: 0.94 to 0.97 of the bound
    assert 0.4 < share(5.0, 8.0) < 0.75  # a rim no wider than the magnet
    assert share(7.0, 1.0) < 0.77 < share(40.0, 3.0)
    assert share(7.0, 4.0, "steel") / share(7.0, 4.0) < 1.1  # cast iron hardly differs
    shares = [share(w, 4.0) for w in (3.0, 5.0, 6.0, 8.0, 12.0)]
    assert shares == sorted(shares)


def test_the_doubt_is_widest_where_the_rim_is_narrowest():
    narrow, wide = (seat_share(DISC, IronSeat("steel", w, 4.0))[1] for w in (5.0, 15.0))
    assert narrow > 1.5 * wide


def test_the_gaps_doubt_goes_into_the_pull():
    seat = IronSeat("grey iron", 15.0, 5.0)
    spread = [
        np.log(drawn_pulls(DISC, seat, (0.4, sd), 4000, np.random.default_rng(1))).std()
        for sd in (0.0, 0.15)
    ]
    assert spread[1] > 1.2 * spread[0]
