import numpy as np

from ironlace.survey.answers.run_in_time import run_in_time


def drawn(rng, runs, count, sure=1.0):
    machines = [n for run in runs for n in range(1, run + 1)]
    at = rng.choice(len(machines), count, replace=False)
    years = 1880 + at / 200 + rng.normal(0, 0.2, count)
    when = [float(y) if rng.random() < sure else None for y in years]
    return run_in_time([machines[i] for i in at], when)


def test_one_run_is_never_cut_and_two_runs_are_when_the_dates_show_it():
    rng = np.random.default_rng(1)
    one = [drawn(rng, (5000,), 14) for _ in range(60)]
    two = [drawn(rng, (2600, 2400), 14) for _ in range(60)]
    assert sum(len(found.runs) == 2 for found in one) <= 1
    assert sum(found.once for found in one) >= 45
    assert sum(len(found.runs) == 2 for found in two) >= 40
    assert sum(found.once for found in two) <= 2


def test_without_dates_nothing_is_shown():
    found = run_in_time([3, 9, 27, 81, 90, 120, 200], [None] * 7)
    assert not found.once and len(found.runs) == 1 and found.dated == 0


def test_works_side_by_side_are_out_of_order_and_no_second_run():
    rng = np.random.default_rng(2)
    when = np.sort(rng.uniform(1880, 1900, 16))
    numbers = [int(200 * (w - 1879)) + 10_000 * (i % 2) for i, w in enumerate(when)]
    found = run_in_time(numbers, when.tolist())
    assert found.unordered > 0.5 and not found.once and len(found.runs) == 1


def test_machines_of_both_runs_without_a_date_go_where_they_fit():
    numbers = [100, 300, 500, 700, 900, 40, 120, 200, 280, 850]
    found = run_in_time(numbers, [*range(1880, 1889), None])
    assert found.runs == ((100, 300, 500, 700, 850, 900), (40, 120, 200, 280))
    assert found.since == 1885 and found.begun_again > 0.97


def test_a_number_on_two_machines_is_named():
    found = run_in_time([5, 9, 9, 14, 18, 30], range(1880, 1886))
    assert found.on_two == (9,) and not found.once


def test_machines_of_one_time_show_no_order():
    rng = np.random.default_rng(4)
    for years in (1, 2, 3):
        numbers = rng.choice(4000, 24, replace=False) + 1
        rising = np.sort(numbers)
        falling = np.concatenate(np.array_split(rising, years)[::-1])
        when = [1890.5 + i * years // 24 for i in range(24)]
        for line in (rising, falling):
            found = run_in_time(line.tolist(), when)
            assert not found.once and len(found.runs) == 1


def test_many_thousand_dated_numbers_are_answered():
    found = run_in_time(range(1, 20_001), [1880 + i / 1000 for i in range(20_000)])
    assert found.once and found.out_of_line == 0


def test_one_out_of_line_at_the_pace_of_its_own_run_leaves_the_question_open():
    first = [(1880 + n / 200, n) for n in (150, 420, 700, 980)]
    again = [(1886 + n / 200, n) for n in (750, 1100, 1400, 1800, 2100, 2500, 2900)]
    when, numbers = zip(*first, *again, strict=True)
    found = run_in_time(numbers, when)
    assert [one.number for one in found.out] == [980]
    assert found.out[0].on_another_run
    assert not found.once


def test_one_out_of_line_elsewhere_is_a_slip():
    run = [(1880 + n / 200, n) for n in (150, 420, 700, 1100, 1400, 1800, 2100, 2500, 2900)]
    for wrong in ((1880.5, 2300), (1893.0, 300)):
        when, numbers = zip(*sorted([*run, wrong]), strict=True)
        found = run_in_time(numbers, when)
        assert [one.number for one in found.out] == [wrong[1]]
        assert not found.out[0].on_another_run
