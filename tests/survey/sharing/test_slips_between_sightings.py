"""Second sightings under a number misread: as many are joined as chance does not explain."""

import numpy as np

from ironlace.evidence.markings import parse_marking
from ironlace.survey.sharing.slips_between_sightings import joined_by_slips


def joined(numbers):
    marks = [parse_marking(str(n)) for n in numbers]
    return joined_by_slips(marks, [str(n) for n in numbers])[1]


def test_chance_alone_makes_few_and_slips_many():
    rng = np.random.default_rng(4)
    apart = rng.choice(90_000, 60, replace=False) + 10_000
    assert joined(apart.tolist()) <= 4
    misread = [
        int(str(n)[:2] + {"3": "8", "8": "3"}.get(str(n)[2], "3") + str(n)[3:]) for n in apart
    ]
    slips = [b for a, b in zip(apart.tolist(), misread, strict=True) if str(a)[2] in "38"]
    assert joined([*apart.tolist(), *slips]) >= len(slips) > 5


def test_dense_numbers_are_not_all_joined():
    # nearly each has a neighbour a figure away by chance
    numbers = np.random.default_rng(1).choice(3000, 300, replace=False) + 1000
    assert joined(numbers.tolist()) < 60


def test_machines_passed_on_by_three_with_a_slip_each_are_not_three():
    rng = np.random.default_rng(6)
    machines = rng.choice(80_000, 9, replace=False) + 10_000

    def passed_on(number):
        text = list(str(number))
        at = int(rng.integers(len(text)))
        text[at] = str((int(text[at]) + int(rng.integers(1, 9))) % 9 + 1)
        return int("".join(text))

    seen = sorted({passed_on(n) for n in machines for _ in range(3)})
    left = len(seen) - joined(seen)
    assert left <= 15 < len(seen)


def test_numbers_that_differ_in_two_figures_by_chance_stay_apart():
    rng = np.random.default_rng(8)
    joins = [joined((rng.choice(30_000, 60, replace=False) + 1).tolist()) for _ in range(20)]
    assert np.mean(joins) < 6
