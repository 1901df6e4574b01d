import pytest

from ironlace.survey import SURVIVORS, SurveyError
from ironlace.survey.answers.survivors import chao1

ROWS = ["A,4.96.217,2019", "B,11.95.30,2020", "C,11.95.30,2021", "D,7.93.412,2021", "E,2.97.9,2019"]
TABLE = "id,mark,sighted\n" + "\n".join(ROWS)


def test_machines_seen_again_are_told_apart_and_counted(ask):
    _, told = ask(SURVIVORS, TABLE)
    assert (told["sightings"], told["distinct"], told["seen_again"]) == (5, 4, 1)
    assert "C of B (same mark)" in " ".join(told["sentences"])
    bound = told["results"][0]
    assert bound["value"] == pytest.approx(chao1([1, 2, 1, 1]).middle, abs=0.05)
    assert bound["grade"] == "inferred"


def test_one_answer_is_told_with_its_reason_and_the_others_stand_in_a_table(ask):
    found, told = ask(SURVIVORS, TABLE)
    first, why = told["sentences"][:2]
    bound = chao1([1, 2, 1, 1])
    assert first == (
        f"At least {bound.low:.0f} survive, in 19 cases out of 20, and probably "
        f"{bound.middle:.0f} or more."
    )
    assert "floor" in why
    (table,) = SURVIVORS.answer(found).tables
    named = [row[0] for row in table.rows]
    assert named == [one["name"] for one in told["estimates"]]
    others = named[1:]
    assert others and not [name for name in others if name in " ".join(told["sentences"])]


def test_with_none_seen_twice_it_has_no_upper_end(ask):
    _, told = ask(SURVIVORS, "id,mark\nA,4.96.217\nB,11.95.30\n")
    (bound,) = told["results"]
    assert bound["interval"]["high"] is None
    assert bound["grade"] == "conjectured"


def test_without_a_sighting_it_is_refused(ask):
    with pytest.raises(SurveyError, match="There is no mark and no report"):
        ask(SURVIVORS, "id,mark\n")
