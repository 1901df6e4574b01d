"""Marks that nothing parts, and groups filled up with noughts: read by their places."""

import numpy as np
import pytest

from ironlace.evidence.markings import parse_marking
from ironlace.survey import Scheme, compare, read_reports
from ironlace.survey.schemes.library import candidates_for, padded_figures, unparted_patterns


def struck(kind, count, rng):
    """Marks made here by plain formatting, which the comparison does not know of."""
    out = []
    for _ in range(count):
        year, month = int(rng.integers(91, 99)), int(rng.integers(1, 13))
        small, large = int(rng.integers(1, 400)), int(rng.integers(1, 2500))
        out.append(
            {
                "month-year-count": f"{month:02d}{year}{small:03d}",
                "year-month-count": f"{year}{month:02d}{small:03d}",
                "year-count": f"{year}{large:04d}",
                "letter-year-count": f"{rng.choice(list('ABC'))}{year}{small:03d}",
                "padded": f"{month:02d}.{year}.{small:04d}",
            }[kind]
        )
    return out


def compared(marks):
    lines = [f"r{n},{mark}" for n, mark in enumerate(marks)]
    return compare(read_reports("\n".join(["id,mark", *lines])).reports)


@pytest.mark.parametrize(
    "kind", ["month-year-count", "year-month-count", "year-count", "letter-year-count"]
)
def test_the_true_pattern_is_found_without_separators(kind):
    rng = np.random.default_rng(4)
    best = [compared(struck(kind, 8, rng)).best.name for _ in range(4)]
    assert best.count(kind) >= 3


def test_plain_running_numbers_are_not_taken_for_dates():
    rng = np.random.default_rng(5)
    for _ in range(5):
        found = compared([str(int(n)) for n in rng.integers(1, 300_000, 8)])
        dated = sum(r.posterior for r in found.results if r.candidate.scheme.tells_date)
        assert dated < 0.1


@pytest.mark.parametrize(
    ("marks", "filled_up"),
    [("10250 14800 22100 31900", False), ("010250 014800 122100 031900", True)],
)
def test_running_numbers_of_one_length_are_no_second_theory(marks, filled_up):
    """Of two theories that no such mark can part each had a third, and none led."""
    read = [parse_marking(mark) for mark in marks.split()]
    named = {candidate.name for candidate in candidates_for(read)}
    assert ("running, padded" in named) == filled_up


@pytest.mark.parametrize("order", ["month first", "year first", "year last", "letter"])
def test_what_a_number_counts_is_told_wherever_the_year_stands(order):
    """A number of the year taken for one of the month made twelve times as many machines."""
    made = [
        (83, 3, 610),
        (83, 10, 2217),
        (84, 7, 1512),
        (85, 2, 309),
        (85, 11, 2230),
        (86, 6, 1204),
    ]
    on = [(83, 3, 610), (83, 10, 927), (84, 7, 1512), (85, 2, 2009), (85, 11, 2230), (86, 6, 2704)]
    write = {
        "month first": lambda y, m, n: f"{m}.{y}.{n}",
        "year first": lambda y, m, n: f"{y}.{m}.{n}",
        "letter": lambda y, m, n: f"{'AB'[m % 2]}.{y}.{n}",
        "year last": lambda y, _, n: f"{n}.{y}",
    }[order]
    by_year = compared([write(*one) for one in made]).best.candidate.scheme
    assert counts(by_year) == ["year"]
    found = compared([write(*one) for one in on])
    running = sum(r.posterior for r in found.results if counts(r.candidate.scheme) == ["overall"])
    assert running > 0.2
    within = sum(r.posterior for r in found.results if counts(r.candidate.scheme) == ["month"])
    assert within < 0.5


def counts(scheme):
    return [str(field.counted) for field in scheme.fields if field.counted]


def test_noughts_that_fill_up_do_not_speak_for_a_reading():
    """The rivals without meaning are filled up alike, so that noughts alone prove nothing."""
    rng = np.random.default_rng(6)
    marks = [f"{int(rng.integers(1, 900)):03d}-{int(rng.integers(1, 60)):02d}" for _ in range(8)]
    assert compared(marks).best.name in ("arbitrary codes", "codes near one value")
    assert compared(struck("padded", 8, rng)).best.name == "month-year-count"


@pytest.mark.parametrize(
    ("marks", "padded"),
    [
        (["04.93.0217", "11.95.1200"], (2, None, 4)),
        (["4.93.217", "11.95.1200"], (None, None, None)),
        (["0493217", "1195120"], (7,)),
        (["A°093", "B°110"], (3,)),
        ([], ()),
    ],
)
def test_which_groups_are_filled_up(marks, padded):
    assert padded_figures([parse_marking(m) for m in marks]) == padded


def test_every_pattern_can_be_written_and_read_again():
    for marks in (["0493217", "1195120"], ["A91042", "B93120"], ["911", "92044"], ["04-0217"]):
        for candidate in candidates_for([parse_marking(m) for m in marks]):
            assert Scheme.parse(str(candidate.scheme)) == candidate.scheme
    assert unparted_patterns([parse_marking("4.96.217")]) == ()
