"""Clamp, peg and hook: forces by statics worked apart, pressure, balance, what is refused."""

from dataclasses import replace

import pytest

from ironlace.evidence.analyses import Known, Nothing
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.stand.crank_holds import CRANK_HOLDS, CrankHoldsAsked
from ironlace.stand.errors import StandError

ASKED = CrankHoldsAsked(
    Known(0.5, 0.01, "N*m", Grade.MEASURED),
    Known(50.0, 0.5, "mm", Grade.MEASURED),
    Known(10.0, 0.1, "mm", Grade.MEASURED),
    Known(10.0, 0.1, "mm", Grade.MEASURED),
    second="clamp",
    second_radius=Known(62.5, 0.5, "mm"),
    friction_low=0.4,
    friction_high=0.4,
    handle_mass=Known(100.0, 1.0, "g"),
    handle_radius=Known(50.0, 0.5, "mm"),
    counter_radius=Known(25.0, 0.5, "mm"),
)


def worked(**changes):
    return CRANK_HOLDS.work(Nothing(), replace(ASKED, **changes), Steps())


def test_a_peg_pushes_with_torque_over_radius_and_a_clamp_by_friction_of_two_jaws():
    peg, clamp = worked().holds
    assert peg.force.value == pytest.approx(10.0, rel=0.01)
    assert clamp.force.value == pytest.approx(1.5 * 8.0 / 0.8, rel=0.01)
    # all of the pad bears at best, a third of it at worst
    assert 0.1 < peg.pressure.low < peg.pressure.high < 0.1 / 0.35 * 1.05


def test_the_handle_is_evened_by_as_much_moment_opposite():
    found = worked()
    assert found.unbalance.value == pytest.approx(0.1 * 9.80665 * 50.0, rel=0.01)
    assert found.counter.value == pytest.approx(200.0, rel=0.02)
    assert "stays where it is" in " ".join(CRANK_HOLDS.answer(found).sentences)
    heavy = worked(handle_mass=Known(1200.0, 5.0, "g"))
    assert "may turn by itself" in " ".join(CRANK_HOLDS.answer(heavy).sentences)


def test_pressure_is_no_better_than_conjecture_and_a_small_pad_is_feared():
    answer = CRANK_HOLDS.answer(worked(second="none"))
    assert [one.grade for one in answer.results[:2]] == [Grade.INFERRED, Grade.CONJECTURED]
    tiny = Known(1.0, 0.01, "mm")
    answer = CRANK_HOLDS.answer(worked(second="none", face_wide=tiny, face_long=tiny))
    assert "feared to mark the japan" in answer.sentences[0]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"friction_high": 0.2}, "smaller first"),
        ({"handle_radius": None}, "go together"),
        ({"second_radius": None}, "no radius"),
    ],
)
def test_what_cannot_be_is_refused(change, says):
    with pytest.raises(StandError, match=says):
        worked(**change)
