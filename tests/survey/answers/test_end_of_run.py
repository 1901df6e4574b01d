"""What a total hangs on that its numbers do not show is said first; what they show is used."""

import numpy as np
import pytest

from ironlace.evidence.analyses import asked_from
from ironlace.evidence.progress import Steps
from ironlace.survey.answers.how_many_made import COUNT
from ironlace.survey.answers.one_series import steps_used
from ironlace.survey.reports.counted import Reports
from ironlace.survey.reports.table import read_reports


def told_of(rows, by=lambda i: ""):
    head = "id,mark,dated,dated_kind,place,reporter"
    lines = [
        f'r{i},{n},{day},{"at" if day else ""},"{place}",{by(i)}'
        for i, (n, day, place) in enumerate(rows)
    ]
    reports = Reports.from_table(read_reports("\n".join([head, *lines])))
    return COUNT.answer(COUNT.work(reports, asked_from(COUNT.asked, {}), Steps())).as_dict()


def an_even_run(seed, count=24, top=4000, place=""):
    """Machines of one works that made as many each year, all surviving alike."""
    numbers = np.sort(np.random.default_rng(seed).choice(top, count, replace=False)) + 1
    return [(int(n), f"{1870 + int(15 * n / top)}-06", place) for n in numbers]


TWO_SIDED = 1, 2, 4
"""Seeds of even runs of which dates show an upper end."""


@pytest.mark.parametrize("seed", TWO_SIDED)
def test_a_two_sided_total_says_what_its_upper_end_hangs_on_and_what_would_show_it(seed):
    told = told_of(an_even_run(seed))
    first, second = told["sentences"][:2]
    assert "if the last ones made turn up as readily" in first
    assert f"above {told['results'][0]['interval']['high']:,.0f}" in second
    assert told["results"][0]["grade"] == "inferred"


@pytest.mark.parametrize("seed", TWO_SIDED)
def test_reports_of_one_place_alone_bear_no_sure_total(seed):
    told = told_of(an_even_run(seed, place="Northland"))
    assert told["results"][0]["grade"] == "conjectured"
    assert told["results"][0]["interval"]["high"] is None
    assert "Northland" in " ".join(told["sentences"][:3])
    assert "If the last ones came there as well: about" in " ".join(told["sentences"][:3])
    run = an_even_run(seed)
    rows = [(n, day, "Redham" if i % 2 else "Elmstow") for i, (n, day, _) in enumerate(run)]
    assert told_of(rows)["results"][0]["grade"] == "inferred"


@pytest.mark.parametrize("seed", TWO_SIDED)
def test_one_persons_reports_bear_a_floor_and_nobody_is_named(seed):
    told = told_of(an_even_run(seed), lambda _: "A. Quill")
    assert told["results"][0]["interval"]["high"] is None
    assert "one person's" in " ".join(told["sentences"][:3])
    assert "Quill" not in str(told)
    apart = told_of(an_even_run(seed), lambda i: f"person {i}")
    assert apart["results"][0]["grade"] == "inferred"


@pytest.mark.parametrize("seed", TWO_SIDED)
def test_most_of_one_person_lower_the_grade(seed):
    told = told_of(an_even_run(seed), lambda i: "A. Quill" if i % 4 else f"person {i}")
    assert told["results"][0]["grade"] == "conjectured"
    assert "18 of 24" in " ".join(told["sentences"][:3])


@pytest.mark.parametrize("seed", TWO_SIDED)
def test_many_places_ease_the_doubt_even_of_one_persons_reports(seed):
    lands = ("Northland", "Southmark", "Eastmoor", "Westrey", "Highfell")
    run = an_even_run(seed)
    rows = [(n, day, f"Redham, {lands[i % 5]}") for i, (n, day, _) in enumerate(run)]
    told = told_of(rows, lambda _: "A. Quill")
    assert told["results"][0]["grade"] == "inferred"
    assert "5 places are told" in told["sentences"][1]


@pytest.mark.parametrize("seed", range(4))
def test_a_floor_holds_though_a_third_are_of_another_works_with_a_longer_series(seed):
    rng = np.random.default_rng(seed)
    ours = [(int(n), "", "") for n in rng.choice(2000, 14, replace=False) + 1]
    others = [(int(n), "", "") for n in rng.integers(12_000, 60_000, 6)]
    told = told_of([*ours, *others])
    assert told["results"][0]["interval"]["low"] <= 2000
    assert told["results"][0]["grade"] == "conjectured"
    said = " ".join(told["sentences"][:3])
    assert "another works" in said or "no total" in said


def test_one_dated_number_out_of_line_is_named_with_what_follows():
    rows = an_even_run(5)
    number = rows[12][0]
    rows[12] = (number, "1871-02", "")
    said = " ".join(told_of(rows)["sentences"][:3])
    assert f"{number:,} of 1871" in said
    assert "began again" in said


def test_even_numbers_are_seen_though_some_end_in_nought():
    """What ends in 0 may be rounded; that the others are even too is no reader's habit."""
    rng = np.random.default_rng(2)
    even = np.sort(2 * rng.choice(3000, 15, replace=False) + 20_002)
    used = steps_used(even, 0.02, rounded_to=10)
    assert used[2] > 0.9
    every = np.sort(rng.choice(6000, 15, replace=False) + 20_002)
    told = np.where(every % 3 == 0, every // 10 * 10, every)
    assert steps_used(told, 0.02, rounded_to=10)[1] > 0.8
