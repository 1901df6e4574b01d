"""The lock's place from both sides, against seams painted by other code with a known lock."""

import numpy as np
import pytest

import locked_seams
from ironlace.running.errors import RunningError
from ironlace.running.seam.balance import SideShows, _lock
from ironlace.running.seam.balance_analysis import balance_answer, balance_of
from ironlace.running.seam.bearing import Origin
from ironlace.running.seam.seam_analysis import seam_found


def side(picture, dpi=600.0):
    return seam_found(picture, Origin(), dpi=dpi, layout=None)


@pytest.fixture(scope="module")
def sewn():
    made = locked_seams.locked("saddles", np.random.default_rng(8), 0.95, 0.25, long_mm=50.0)
    return made, side(made.upper), side(made.under)


def test_what_shows_and_where_the_threads_lock(sewn):
    made, upper, under = sewn
    answer = balance_answer(balance_of(upper, under))
    crossed = float((made.depth[1:-1] > 1.0).mean())
    low, value, high = answer.figures["lock"]
    assert answer.figures["under"]["share"][1] == pytest.approx(crossed, abs=0.08)
    assert answer.figures["upper"]["showing"] == 0
    assert low <= made.lock <= high
    assert value > 0.6
    assert answer.sentences[0].startswith("The needle thread shows below")
    assert answer.sentences[0].endswith("tighten it.")


def test_two_pictures_of_one_side_are_refused(sewn):
    _, upper, _ = sewn
    with pytest.raises(RunningError, match="sew the test with two threads of different colour"):
        balance_of(upper, upper)


def test_two_seams_that_are_not_one_are_told_unreliable(sewn):
    made, upper, _ = sewn
    answer = balance_answer(balance_of(upper, side(made.under, 660.0)))
    assert answer.sentences[0].startswith("Not reliable: The stitches are")
    assert {result.grade.value for result in answer.results} == {"conjectured"}


def test_a_lock_that_shows_may_lie_a_threads_crown_deep():
    # locks of 0.85 +- 0.15 under a crown 0.3 thicknesses high: below, 84 of 100 show
    none, most = (SideShows(23, n, np.zeros(23), (0.0, 0.0, 1.0)) for n in (0, 19))
    low, value, high = _lock(none, most)[0]
    assert low < 0.85 < high
    mirrored = _lock(most, none)[0]
    assert mirrored[1] == pytest.approx(1.0 - value, abs=1e-6)
