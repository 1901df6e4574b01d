import pytest

from ironlace.survey import NEXT, SurveyError

TABLE = "id,mark\nA,4.96.217\nB,11.95.30\nC,7.93.412\n"


def test_the_report_that_tells_most_comes_first_and_the_seed_fixes_it(ask):
    found, told = ask(NEXT, TABLE, seed="3")
    bits = [kind["bits"] for kind in told["kinds"]]
    assert bits == sorted(bits, reverse=True)
    assert told["results"][0]["value"] == told["kinds"][0]["what"]
    assert told["results"][1]["value"] == bits[0]
    assert ask(NEXT, TABLE, seed="3")[1] == told
    # how many more it takes is drawn
    (plot,) = NEXT.answer(found).plots
    assert "further reports" in plot.table[0]


def test_without_a_report_it_is_refused(ask):
    with pytest.raises(SurveyError):
        ask(NEXT, "id,mark\n")
