import pytest

from ironlace.survey import COUNT, SurveyError
from ironlace.survey.answers.totals import total_from_one

DOTTED = [
    *("4.96.217", "11.95.30", "7.93.412", "2.97.118", "12.94.77"),
    *("4.96.271", "11.95.30", "5.94.100", "?.95.12"),
]
TABLE = "id,mark\n" + "".join(f"R{i},{m}\n" for i, m in enumerate(DOTTED))
RUNNING = [10234, 15621, 8020, 30122, 22456, 1200, 3400]


def test_by_month_it_sums_over_the_months(ask):
    found, told = ask(COUNT, TABLE)
    assert told["all_series"]["series"] == 44
    assert told["not_read"] == ["R8"]
    assert "allowed for" in " ".join(told["sentences"])
    total = told["all_series"]["total"]
    assert total["low"] < total["middle"] < total["high"]
    first, mean = told["results"]
    # eight numbers of forty-four months leave the upper end open: a floor is told
    assert first["value"] == round(total["low"]) and first["name"].endswith("at least")
    assert first["interval"]["high"] is None
    assert told["sentences"][0].startswith("At least ")
    assert (first["unit"], first["interval"]["coverage"]) == ("machines", 0.9)
    assert mean["name"].startswith("made in a series, on average")
    assert found.probability > 0.95


def test_of_a_few_running_numbers_a_floor_is_told_and_the_even_run_beside_it(ask):
    table = "id,mark\n" + "".join(f"R{n},{n}\n" for n in RUNNING)
    _, told = ask(COUNT, table, scheme="number overall")
    expected = total_from_one(RUNNING)
    assert told["overall"]["low"] == expected.low >= 30122
    assert told["blocks"] is not None
    (result,) = told["results"]
    assert result["value"] == round(told["best"]["low"]) < 30122
    assert told["best"]["only_a_floor"]
    assert result["grade"] == "conjectured"
    assert told["sentences"][0].startswith("At least ")
    assert "named by hand" in told["sentences"][1]


def test_theories_put_up_stand_beside_those_of_the_period(ask):
    table = "id,mark\n" + "".join(f"R{n},{n}\n" for n in RUNNING)
    _, told = ask(COUNT, table, schemes="code near one value")
    assert told["overall"]["low"] >= 30122


def test_it_refuses_when_no_number_runs(ask):
    with pytest.raises(SurveyError, match="No mark reads"):
        ask(COUNT, "id,mark\nA,ABC\n", scheme="number overall")


def test_what_is_allowed_for_and_taken_for_granted_is_said(ask):
    table = "id,mark\n" + "".join(f"R{n},{n}\n" for n in RUNNING)
    _, told = ask(COUNT, table, scheme="number overall")
    assert "batches of numbers that were never used" in told["sentences"][2]
    assert 0.0 < told["chance_that_lots_were_left_out"] < 0.5
    dense = "id,mark\n" + "".join(f"R{n},{n}\n" for n in range(1, 201) if n % 7)
    _, told = ask(COUNT, dense, scheme="number overall")
    assert "No batches of numbers seem to have been left out" in told["sentences"][2]
    assert " were made, if the count never began again: between " in told["sentences"][0]


def test_handfuls_are_said(ask):
    numbers = [m + d for m in (300, 1900, 4000, 5200, 8800) for d in (0, 7, 11, 23)]
    table = "id,mark\n" + "".join(f"R{n},{n}\n" for n in numbers)
    _, told = ask(COUNT, table, scheme="number overall")
    assert told["chance_of_handfuls"] > 0.9
    assert "in handfuls close together" in " ".join(told["sentences"])
