import pytest

from ironlace.evidence.analyses import Nothing, asked_from
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.progress import Steps
from ironlace.running.needles.thread_sizes import SYSTEMS, THREAD_SIZE, sizes_of, tex_of


def told(**given):
    asked = asked_from(THREAD_SIZE.asked, given)
    return THREAD_SIZE.answer(THREAD_SIZE.work(Nothing(), asked, Steps()))


@pytest.mark.parametrize("system", SYSTEMS)
def test_each_system_leads_back_to_the_same_tex(system):
    assert tex_of(sizes_of(37.0)[system], system) == pytest.approx(37.0)


def test_a_ticket_takes_no_plies():
    with pytest.raises(IronlaceError, match="tells the finished thread"):
        told(size="100", system="metric ticket", ply="3")


def test_what_no_thread_is_is_refused():
    with pytest.raises(IronlaceError, match="no sewing thread"):
        told(size="2", system="denier")


def test_a_thickness_that_does_not_agree_is_said():
    answer = told(size="30", system="tex", diameter="0.5 ± 0.02 mm")
    assert "another system was meant" in " ".join(answer.sentences)
