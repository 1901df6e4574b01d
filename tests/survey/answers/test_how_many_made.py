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
    assert "how many more, 7 numbers cannot tell" in told["sentences"][0]
    assert told["grounds"] == "numbers alone"
    assert any("you named it" in said for said in told["sentences"][1:3])


def test_theories_put_up_stand_beside_those_of_the_period(ask):
    table = "id,mark\n" + "".join(f"R{n},{n}\n" for n in RUNNING)
    _, told = ask(COUNT, table, schemes="code near one value")
    assert told["overall"]["low"] >= 30122


def test_it_refuses_when_no_number_runs(ask):
    with pytest.raises(SurveyError, match="No mark reads"):
        ask(COUNT, "id,mark\nA,ABC\n", scheme="number overall")


def test_letters_that_come_round_are_counted_once_the_period_leaves_one_year(ask):
    table = "id,mark\nA,Y120\nB,Z55\nC,A800\n"
    scheme = "year as letter from 1865 going round, number in year"
    with pytest.raises(SurveyError, match="may be 1889 or 1915: narrow the first and the last"):
        ask(COUNT, table, scheme=scheme)
    _, told = ask(COUNT, table, scheme=scheme, first_year=1870, last_year=1900)
    assert "3 years from the first to the last" in told["sentences"][0]


def test_what_is_allowed_for_and_taken_for_granted_is_said(ask):
    table = "id,mark\n" + "".join(f"R{n},{n}\n" for n in RUNNING)
    _, told = ask(COUNT, table, scheme="number overall")
    assert "batches of numbers that were never used" in " ".join(told["sentences"][:5])
    assert 0.0 < told["chance_that_lots_were_left_out"] < 0.5
    dense = "id,mark\n" + "".join(f"R{n},{n}\n" for n in range(1, 201) if n % 7)
    _, told = ask(COUNT, dense, scheme="number overall")
    assert "No batches of numbers seem to have been left out" in " ".join(told["sentences"])
    # not even these show that the count never began again
    assert told["sentences"][0].startswith("At least ") and told["best"]["only_a_floor"]
    assert told["results"][0]["grade"] == "conjectured"
    assert "If every number was used once, from the first on, it was about" in told["sentences"][1]


def dated(numbers, first=1880):
    rows = [f"R{i},{n},{first + i},at\n" for i, n in enumerate(numbers)]
    return "id,mark,dated,dated_kind\n" + "".join(rows)


STEADY = [60 + 210 * i + 37 * i * i % 101 for i in range(19)]


def test_dates_that_rise_with_the_numbers_give_an_upper_end(ask):
    _, told = ask(COUNT, dated(STEADY), scheme="number overall")
    assert told["grounds"].startswith("dates") and not told["best"]["only_a_floor"]
    assert told["sentences"][0].startswith("About ")
    assert "so the count hardly began again" in " ".join(told["sentences"])


def test_a_count_that_began_again_is_seen_by_its_dates_and_counted_apart(ask):
    found, told = ask(COUNT, dated([*STEADY[::2], *STEADY[1::2]]), scheme="number overall")
    assert [len(run) for run in told["in_time"]["runs"]] == [10, 9]
    assert told["best"]["only_a_floor"]
    assert told["sentences"][0].startswith("At least ")
    assert "the count began again at a low number about 1890" in " ".join(told["sentences"])
    # without the dates the same numbers show nothing of it
    table = "id,mark\n" + "".join(f"R{n},{n}\n" for n in STEADY)
    _, alone = ask(COUNT, table, scheme="number overall")
    assert told["best"]["low"] > 1.2 * alone["best"]["low"]
    assert alone["in_time"]["dated"] == 0 and len(alone["in_time"]["runs"]) == 1
    assert found.totals.second is not None


def test_on_a_persons_word_it_is_narrower_and_says_so(ask):
    table = "id,mark\n" + "".join(f"R{n},{n}\n" for n in STEADY)
    _, told = ask(COUNT, table, scheme="number overall", once=True)
    assert ", if each number was used once, as you say: between " in told["sentences"][0]
    assert told["results"][0]["grade"] == "conjectured"
    _, by_dates = ask(COUNT, dated(STEADY), scheme="number overall")
    width = [one["best"]["high"] - one["best"]["low"] for one in (told, by_dates)]
    assert width[0] < 0.6 * width[1]


def test_one_number_on_two_machines_is_said(ask):
    marks = ["4.96.217", "7.93.217", "2.97.118", "12.94.77", "5.95.90"]
    table = "id,mark\n" + "".join(f"R{i},{m}\n" for i, m in enumerate(marks))
    _, told = ask(COUNT, table, scheme="month, dot, year, dot, number overall")
    assert told["in_time"]["on_two_machines"] == [217]
    assert "More than one machine bears 217" in " ".join(told["sentences"])


def test_handfuls_are_said(ask):
    numbers = [m + d for m in (300, 1900, 4000, 5200, 8800) for d in (0, 7, 11, 23)]
    table = "id,mark\n" + "".join(f"R{n},{n}\n" for n in numbers)
    _, told = ask(COUNT, table, scheme="number overall")
    assert told["chance_of_handfuls"] > 0.9
    assert "in handfuls close together" in " ".join(told["sentences"])


@pytest.mark.parametrize(
    ("scheme", "marks"),
    [
        ("number overall", [n for n in range(1, 13) for _ in range(5)]),
        ("number in year, year", [f"{n}00" for n in range(1, 16, 2)]),
    ],
)
def test_no_fewer_were_made_than_machines_were_reported(ask, scheme, marks):
    rows = "".join(f"R{i},{mark},M{i}\n" for i, mark in enumerate(marks))
    _, told = ask(COUNT, "id,mark,machine\n" + rows, scheme=scheme)
    assert told["best"]["low"] >= len(marks)


TWELVE = [
    *("2.80.14", "7.80.31", "11.80.9", "3.81.22", "6.81.40", "9.82.17"),
    *("1.83.28", "5.83.11", "8.84.35", "12.84.6", "4.85.19", "10.85.27"),
]
BY_MONTH = "month, dot, year, dot, number in month"


def by_month(*more):
    return "id,mark\n" + "".join(f"R{i},{m}\n" for i, m in enumerate([*TWELVE, *more]))


# changed round; a figure taken for another; of other makers, before and after
@pytest.mark.parametrize("amiss", [["2.18.45"], ["3.96.33"], ["1.52.7", "6.29.12"]])
def test_a_date_far_from_the_others_does_not_make_the_total(ask, amiss):
    # about 3,000 in the 69 months of the twelve; as read it is up to 20,000
    _, told = ask(COUNT, by_month(*amiss), scheme=BY_MONTH)
    assert told["all_series"]["total"]["low"] < 3_000
    assert set(told["dates_perhaps_misread"]) == {f"R{12 + i}" for i in range(len(amiss))}
    assert told["results"][0]["grade"] == "conjectured"
    said = " ".join(told["sentences"][1:3])
    assert all(name in said for name in told["dates_perhaps_misread"])
    assert "look again" in said or "the lower end allows" in said


def test_a_date_among_the_others_stays_in_the_span(ask):
    found, told = ask(COUNT, by_month("9.83.45"), scheme=BY_MONTH)
    assert told["all_series"]["series"] == 69 and not told["dates_perhaps_misread"]
    assert found.totals.were_all_right is None


@pytest.mark.parametrize(
    ("struck", "low", "scheme"),
    [
        ("A{}", "A0", "letter, number overall"),
        ("A{}", "A000", "letter, number overall"),
        ("10{}", "500", "number overall from 1001"),
    ],
)
def test_a_number_below_the_first_one_is_left_out_and_named(ask, struck, low, scheme):
    """A nought, or a number below a stated beginning, must not sink the whole count."""
    marks = [struck.format(n) for n in (19, 40, 42, 60, 71, 88)]
    table = "id,mark\n" + "".join(f"R{m},{m}\n" for m in (*marks, low))
    _, told = ask(COUNT, table, scheme=scheme)
    assert told["numbers"] == len(marks)
    assert any(f"not counted: R{low}" in said for said in told["sentences"])
