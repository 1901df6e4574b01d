"""The lock's place from both sides, against seams painted by other code with a known lock."""

from dataclasses import replace

import numpy as np
import pytest

import locked_seams
from ironlace.running.errors import RunningError
from ironlace.running.seam.balance import Balance, SideShows, _lock
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


def shown(showing, entries=23):
    share = showing / entries
    return SideShows(entries, showing, np.zeros(entries), (max(share - 0.1, 0.0), share, 1.0))


def test_a_lock_that_shows_may_lie_a_threads_crown_deep():
    # locks of 0.85 +- 0.15 under a crown 0.3 thicknesses high: below, 84 of 100 show
    low, value, high = _lock(shown(0), shown(19))[0]
    assert low < 0.85 < high
    mirrored = _lock(shown(19), shown(0))[0]
    assert mirrored[1] == pytest.approx(1.0 - value, abs=1e-6)


def told(sewn, above, below):
    _, upper, under = sewn
    found = balance_of(upper, under)
    lock, scatter, bound = _lock(above, below)
    return balance_answer(
        replace(found, balance=Balance(above, below, lock, scatter, seen=True, bound=bound))
    )


def test_where_every_entry_of_a_side_shows_the_lock_is_a_bound(sewn):
    # traced: a lock 0.75 of 1 mm deep, crowns 0.45 mm high, shows at every entry below
    answer = told(sewn, shown(0), shown(23))
    low, _, high = answer.figures["lock"]
    assert answer.figures["bound"] == "under"
    assert 0.5 < low < 0.75
    assert high > 1.0
    assert f"at least {low:.2f} of the thickness" in answer.sentences[0]
    assert answer.sentences[0].endswith("tighten it.")
    assert answer.results[0].grade.value == "conjectured"
    other = told(sewn, shown(23), shown(0))
    assert other.figures["bound"] == "upper"
    assert other.figures["lock"][2] == pytest.approx(1.0 - low, abs=1e-3)
    assert other.sentences[0].endswith("ease it.")


def test_a_lock_that_shows_half_the_time_is_a_place():
    lock, _, bound = _lock(shown(0), shown(11))
    assert bound == ""
    assert lock[0] < lock[1] < lock[2]


def test_cloth_too_thin_for_its_threads_tells_no_lock(sewn):
    answer = told(sewn, shown(20), shown(21))
    assert answer.sentences[0].startswith("At some entries the other thread shows on both sides")
    assert answer.results[0].grade.value == "conjectured"
