import pytest

from ironlace.evidence.grades import Grade
from ironlace.survey import COMPARE, SurveyError
from ironlace.survey.answers.comparison import compare

DOTTED = [
    *("4.96.217", "11.95.30", "7.93.412", "2.97.118", "12.94.77"),
    *("4.96.271", "11.95.30", "5.94.100", "?.95.12"),
]
TABLE = "id,mark,sighted\n" + "".join(f"R{i},{m},{2000 + i % 4}\n" for i, m in enumerate(DOTTED))
MINE = "mine: month, dot, year, dot, number in month\n"


def test_machines_count_once_and_pairs_are_named(ask):
    found, told = ask(COMPARE, TABLE + "bad,,\n")
    assert len(found.comparison.reports) == len(DOTTED) - 1
    said = " ".join(told["sentences"])
    assert "1 report counted as a second sighting of a machine already reported: R6 of R1" in said
    assert "R0 and R5: two neighbouring figures changed round" in said
    assert "Line 11 set aside" in said
    assert told["second_sightings"] == [{"id": "R6", "of": "R1", "why": "same mark", "against": ""}]


def test_compare_with_own_schemes_and_sensitivity(ask):
    found, told = ask(COMPARE, TABLE, schemes=MINE, sensitivity="yes")
    assert found.comparison.best.name == "mine"
    moved = {(one["what"], one["value"]): one for one in told["sensitivity"]}
    # three times the charge takes three times off whatever was thought of with hindsight
    leader = moved["hindsight factor", "30"]
    weight = {
        s["name"]: s["posterior"] / (3 if s["thought_of_after_first_number"] else 1)
        for s in told["schemes"]
    }
    assert leader["posterior"] == pytest.approx(weight["mine"] / sum(weight.values()), rel=1e-6)
    left_out = [value for what, value in moved if what == "report left out"]
    assert left_out == ["R0", "R1", "R2", "R3", "R4", "R5", "R7", "R8"]


def test_counting_apart_what_a_mark_joined_is_one_of_the_moves(ask):
    found, told = ask(COMPARE, TABLE, sensitivity="yes")
    (apart,) = [one for one in told["sensitivity"] if one["value"] == "counted apart"]
    every = compare(found.reports.sightings).of(found.comparison.best.name)
    assert apart["posterior"] == pytest.approx(every.posterior, rel=1e-9)
    assert apart["posterior"] != pytest.approx(found.comparison.best.posterior, abs=1e-5)


def test_a_theory_that_gives_machines_the_same_mark_says_so(ask):
    months = "".join(f"R{i},{m}\n" for i, m in enumerate(["4.96", "4.96", "5.96", "7.95", "1.94"]))
    _, told = ask(COMPARE, f"id,mark\n{months}", schemes="month, dot, year")
    assert "Under 'month, year' several machines bear the same mark, and 1 of" in " ".join(
        told["sentences"]
    )
    _, told = ask(COMPARE, TABLE, schemes=MINE)
    assert not any("several machines" in one for one in told["sentences"])


def test_it_is_inferred_only_when_it_is_sure(ask):
    grades = [
        {r["grade"] for r in ask(COMPARE, text)[1]["results"]}
        for text in (TABLE, "id,mark\nA,4.96.217\n")
    ]
    assert grades == [{Grade.INFERRED.value}, {Grade.CONJECTURED.value}]


@pytest.mark.parametrize("text", ["id,mark\n", "id,mark\nA,\n"])
def test_a_table_without_a_usable_row_is_refused(ask, text):
    with pytest.raises(SurveyError):
        ask(COMPARE, text)


def test_plots_say_what_they_show(ask):
    found, _ = ask(COMPARE, TABLE)
    titles = [plot.title for plot in COMPARE.answer(found).plots]
    assert titles == ["Odds as reports came in", "Months and years found"]
