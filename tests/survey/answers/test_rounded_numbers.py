"""Readers who round, drawn here: most pass on what is struck, some the nearest ten or hundred."""

import numpy as np
import pytest

from ironlace.survey import COUNT
from ironlace.survey.answers.rounded_numbers import rounding_of
from ironlace.survey.answers.run_in_time import run_in_time


def passed_on(rng, share, unit, top=9_000, count=24):
    numbers = rng.choice(top, count, replace=False) + 1
    rounds = rng.random(count) < share
    return np.where(
        rounds, np.maximum(unit, (numbers + unit // 2) // unit * unit), numbers
    ).tolist()


@pytest.mark.parametrize("unit", [10, 100])
def test_half_of_the_readers_are_found_out_and_nobody_falsely(unit):
    rng = np.random.default_rng(5)
    found = [rounding_of(passed_on(rng, 0.5, unit)) for _ in range(60)]
    assert np.mean([f.told and f.unit == unit for f in found]) > 0.8
    assert abs(np.mean([f.share for f in found]) - 0.5) < 0.1
    none = [rounding_of(passed_on(rng, 0.0, unit)) for _ in range(200)]
    assert sum(f.told for f in none) <= 2


def test_where_everybody_rounds_or_the_works_did_it_is_not_partly():
    numbers = [10 * n for n in range(3, 40)]
    assert not rounding_of(numbers).told


def test_a_rounded_highest_number_holds_no_floor_above_what_was_struck(ask):
    rng = np.random.default_rng(8)
    for _ in range(4):
        numbers = [*passed_on(rng, 0.5, 100, top=2_300), 2_400]
        rows = "".join(f"r{i},{n},{1870 + n / 200:.0f}\n" for i, n in enumerate(numbers))
        _, told = ask(COUNT, "id,mark,dated\n" + rows)
        assert told["best"]["low"] <= 2_350
        if told["rounded"]["told"]:
            assert "rounded as they were passed on" in told["sentences"][1]
            assert "5" not in told["every_so_many"]


def test_two_machines_told_by_one_round_number_are_no_second_run():
    numbers = [100, 217, 400, 500, 500, 733, 800, 941]
    when = [1870 + n / 100 for n in numbers]
    assert run_in_time(numbers, when).on_two == (500,)
    told = run_in_time(numbers, when, rounded_to=100)
    assert told.on_two == () and told.once
