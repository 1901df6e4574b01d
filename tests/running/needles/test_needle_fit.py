import pytest

from ironlace.evidence.analyses import Nothing, asked_from
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.running.needles.needle_fit import NEEDLE_FIT

OWN = """
[[needle]]
name = "measured"
shape = "round"
shank = { mm = 2.0, grade = "measured", source = "own micrometer" }
butt_to_eye = { mm = 34.0, grade = "measured", source = "own calliper" }
sizes = [80, 90]
"""


def told(**given):
    values = {"clamp": "2.02 ± 0.02 mm", "butt_to_eye": "34.6 ± 0.2 mm"} | given
    asked = asked_from(NEEDLE_FIT.asked, values)
    return NEEDLE_FIT.answer(NEEDLE_FIT.work(Nothing(), asked, Steps()))


def test_a_shorter_needle_wants_the_bar_lower():
    (fit,) = told(table=OWN).figures["fits"]
    assert fit["verdict"] == "bar"
    assert fit["lower_bar_mm"] == pytest.approx(0.6)
    assert "lowered by 0.60 mm" in told(table=OWN).sentences[0]


def test_a_row_from_memory_is_conjectured_and_said_to_be():
    answer = told()
    assert {r.grade for r in answer.results} == {Grade.CONJECTURED}
    assert "from memory" in answer.sentences[1]


def test_a_shank_too_thick_does_not_serve():
    answer = told(clamp="1.6 ± 0.01 mm", table=OWN)
    assert answer.sentences[0].startswith("No needle of the table serves")
    assert "too thick" in answer.sentences[0]


def test_a_bar_without_room_does_not_serve():
    answer = told(table=OWN, butt_to_eye="38 ± 0.1 mm", bar_down="1 mm")
    assert "would have to be lowered by 4.0 mm and has 1 mm" in answer.sentences[0]


def test_a_thick_thread_asks_for_a_thicker_needle_than_is_made():
    answer = told(table=OWN, thread="0.45 mm")
    assert answer.figures["least_needle_size"] == pytest.approx(112.5)
    assert "None so thick is made" in " ".join(answer.sentences)


def test_needles_hang_in_the_clamp_with_what_the_bar_must_do():
    (plot,) = told(table=OWN, butt_to_eye="34.0 mm").plots
    assert "bar as it is" in plot.svg
    assert plot.table[1] == ("measured", "2.00", "34.0", "right", "fits")
    (plot,) = told(table=OWN).plots
    assert "bar down 0.6 mm" in plot.svg
    assert plot.table[1][3] == "0.6 too high"


def test_a_length_to_the_point_is_asked_about_first():
    said = told(clamp="2.02 ± 0.02 mm", butt_to_eye="38.1 ± 0.2 mm")
    assert "was it measured to the point" in said.sentences[0]
    assert "to the point" not in told(butt_to_eye="34.0 ± 0.2 mm").sentences[0]


def test_no_bar_is_moved_far_that_nobody_measured():
    far = told(butt_to_eye="46.6 ± 0.2 mm")
    assert far.sentences[0].startswith("No needle of the table serves")
    assert "how far it can be moved" in far.sentences[0]
    given = told(butt_to_eye="46.6 ± 0.2 mm", bar_down="15 mm")
    assert "serves with the needle bar lowered" in given.sentences[0]
