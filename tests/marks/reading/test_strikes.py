import numpy as np
import pytest

from ironlace.marks.reading.strikes import PATCH, Blow, depth_left, placed, slopes_of

_BAR = np.zeros((40, 30), np.float32)
_BAR[5:35, 10:20] = 1


def test_a_flat_bottom_keeps_the_depth_struck():
    left = depth_left(_BAR, Blow(2.0, 2.0, 0.0, planed=False, blur=0.2))
    assert left[20, 15] == pytest.approx(2.0, rel=0.02)
    assert left[0].max() == 0


@pytest.mark.parametrize("planed", [True, False])
def test_wear_takes_its_share_of_the_depth(planed):
    left = depth_left(_BAR, Blow(2.0, 4.0, 0.6, planed=planed, blur=0.2))
    assert left.max() == pytest.approx(0.8, rel=0.12)


def test_a_planed_stroke_is_narrower():
    wide = depth_left(_BAR, Blow(2.0, 4.0, 0.0, planed=True, blur=0.2))
    narrow = depth_left(_BAR, Blow(2.0, 4.0, 0.7, planed=True, blur=0.2))
    assert (narrow[20] > 0.05).sum() < (wide[20] > 0.05).sum()


def test_a_shift_moves_and_the_middle_is_the_middle():
    spot = np.zeros((9, 9), np.float32)
    spot[4, 4] = 1
    laid = placed(spot, (3.0, -2.0))
    at = np.unravel_index(np.argmax(placed(spot, (3.5, -2.5))), PATCH)
    assert at == (PATCH[0] // 2 - 3, PATCH[1] // 2 + 3)
    assert laid.sum() == pytest.approx(1.0, abs=1e-4)


def test_slopes_fall_into_the_stroke():
    slopes = slopes_of(depth_left(_BAR, Blow(2.0, 4.0, 0.0, planed=False, blur=0.2)))
    assert slopes[0, 20, 11] < 0 < slopes[0, 20, 18]
    assert slopes[1, 6, 15] < 0 < slopes[1, 33, 15]
