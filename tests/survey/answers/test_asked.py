import pytest

from ironlace.evidence.analyses import AskedError, asked_fields, asked_from
from ironlace.survey.answers.asked import TakenForGranted, UnderTheories, asked_before
from ironlace.survey.likelihood.assumptions import Assumptions


def test_the_fields_are_the_assumptions_and_their_usual_values():
    assert {one.name for one in asked_fields(TakenForGranted)} == set(Assumptions.names())
    assert TakenForGranted().assumptions() == Assumptions()
    typed = {one.name: one.as_typed(one.default) for one in asked_fields(TakenForGranted)}
    assert asked_from(TakenForGranted, typed) == TakenForGranted()


def test_rates_are_typed_in_a_hundred_with_a_comma_too():
    asked = asked_from(UnderTheories, {"misread_rate": "12,5", "worn_rate": "7 %"})
    assert (asked.assumptions().misread_rate, asked.assumptions().worn_rate) == (0.125, 0.07)


@pytest.mark.parametrize("text", ["90", "0", "nan", "often", "-1"])
def test_a_rate_that_cannot_be_is_refused_with_its_field(text):
    with pytest.raises(AskedError, match="Rate of misread figures") as refused:
        asked_from(UnderTheories, {"misread_rate": text})
    assert refused.value.field == "misread_rate"


def test_a_period_the_wrong_way_round_is_refused():
    with pytest.raises(AskedError, match="1920 to 1900") as refused:
        asked_from(UnderTheories, {"first_year": "1920", "last_year": "1900"}).assumptions()
    assert refused.value.field == "last_year"


def test_what_version_0_1_kept_is_read():
    moved = Assumptions(misread_rate=0.07, junk_rate=0.013, first_year=1740, last_year=1780)
    kept = {"schemes": "number overall", "assumptions": moved.as_dict(), "mark": "7", "best": "x"}
    asked = asked_from(UnderTheories, asked_before(kept))
    assert asked.assumptions() == moved
    assert asked.schemes == "number overall"
    assert asked_before({"asked": {"schemes": "code"}}) == {"schemes": "code"}
