import numpy as np
import pytest
from scipy.stats import lognorm

from ironlace.evidence.markings import parse_marking
from ironlace.survey import Assumptions, Report, Scheme, compare
from ironlace.survey.likelihood.dated_counts import LATE, LATE_STARTS, TrackedCount, follows_date
from ironlace.survey.likelihood.mark_cuts import cut
from ironlace.survey.likelihood.marks_as_arrays import lay_out

MONTHS = "month, dot, year, dot, number in month"
RUNNING = "month, dot, year, dot, number overall"
YEARLY = "month, dot, year, dot, number in year"


def odds(text, one, other):
    found = compare([Report(m, parse_marking(m)) for m in text.split()], [one, other])
    return found.of(one).log_evidence - found.of(other).log_evidence


def test_numbers_that_go_up_and_down_against_their_own_dates_do_not_run_on():
    up_and_down = "3.81.14 9.82.4 2.84.22 7.85.31 11.86.16 4.88.26 10.89.37"
    assert odds(up_and_down, MONTHS, RUNNING) > 1.0


def test_numbers_that_rise_with_their_dates_run_on():
    rising = "3.81.4 9.82.14 2.84.16 7.85.22 11.86.26 4.88.31 10.89.37"
    assert odds(rising, RUNNING, MONTHS) > 3.0


@pytest.mark.parametrize("years", [(84,), (84, 85)])
def test_within_a_year_the_numbers_rise_too(years):
    rng = np.random.default_rng(4)
    months = (1, 3, 5, 8, 10, 12)
    rising = " ".join(f"{m}.{y}.{40 * m - 7}" for y in years for m in months)
    shaken = " ".join(f"{m}.{y}.{rng.integers(1, 480)}" for y in years for m in months)
    assert odds(rising, YEARLY, MONTHS) > 3.0
    assert odds(shaken, YEARLY, MONTHS) < 0.0


def test_one_number_misread_does_not_sink_a_running_number():
    rising = "3.81.1204 9.82.1714 2.84.2216 7.85.2722 11.86.8126 4.88.3731 10.89.4137"
    assert odds(rising, RUNNING, MONTHS) > 1.0


def test_which_numbers_follow_a_date():
    assert follows_date(Scheme.parse(RUNNING).fields[2], Scheme.parse(RUNNING))
    assert follows_date(Scheme.parse(YEARLY).fields[2], Scheme.parse(YEARLY))
    assert not follows_date(Scheme.parse(MONTHS).fields[2], Scheme.parse(MONTHS))
    plain = Scheme.parse("year, dot, number in year")
    assert not follows_date(plain.fields[1], plain)


@pytest.mark.parametrize("text", [MONTHS, YEARLY, RUNNING])
def test_every_option_shares_out_no_more_than_one(text):
    """Of all numbers of up to two figures, whatever the level: their chances stay below 1."""
    given = Assumptions(highest_number=100, misread_rate=1e-6, transposed_rate=1e-6)
    marks = [parse_marking(f"4.94.{n}") for n in range(1, 101)]
    cuts = cut(lay_out(marks, given), Scheme.parse(text), given)
    unknown, rows = cuts.unknowns[-1], cuts.row[-1]
    clear = np.array([str(marks[r]).count("·") == 2 for r in cuts.report]) & (
        cuts.known > 0.5 * cuts.known.max()
    )
    for option in range(len(unknown.option_weights)):
        table = unknown.table(np.linspace(1.0, 4.0, 7), option)[rows[clear]]
        assert (table.sum(axis=0) < 1.01).all()


def test_a_low_number_late_in_the_year_needs_months_without_work():
    """Against a gamma process run out month by month, and not against the tables."""
    given = Assumptions(misread_rate=1e-6, transposed_rate=1e-6)
    marks = [parse_marking(f"{m}.94.{n}") for m, n in ((11, 40), (11, 1400), (1, 40))]
    cuts = cut(lay_out(marks, given), Scheme.parse(YEARLY), given)
    (at,) = [i for i, u in enumerate(cuts.unknowns) if isinstance(u, TrackedCount)]
    unknown = cuts.unknowns[at]
    assert isinstance(unknown, TrackedCount)
    each = [np.flatnonzero(cuts.report == r) for r in range(3)]
    best = [here[np.argmax(cuts.known[here])] for here in each]
    rng = np.random.default_rng(3)
    for option in (2, 4):  # no growth; uneven months, and months without work
        shape, (_, spread) = unknown.shape(option), unknown.habit(option)
        months = rng.gamma(shape, 1500.0 / 12.0 / shape, (200_000, 12))
        months *= np.exp(rng.normal(0.0, spread, 200_000))[:, None]
        ends = months.cumsum(axis=1)
        table = unknown.table(np.array([np.log(1500.0)]), option)[cuts.row[at][best], 0]
        for chance, (month, low, high) in zip(
            table, ((11, 30, 50), (11, 1300, 1500), (1, 30, 50)), strict=True
        ):
            begins = ends[:, month - 2] if month > 1 else 0.0
            inside = np.minimum(ends[:, month - 1], high) - np.maximum(begins, low)
            inside = np.maximum(inside, 0.0)
            walked = inside.sum() / months[:, month - 1].sum() / (high - low)
            late = LATE * chance_when_late(month, (low + high) / 2.0, spread)
            assert chance == pytest.approx((1.0 - LATE) * walked + late, rel=0.3)


def chance_when_late(month, number, spread):
    """Where its year lags, the chance of a number: about a quarter or a sixteenth of its share."""
    share = (month - 0.5) / 12.0 * 1500.0
    return np.mean([lognorm.pdf(number, spread, scale=lag * share) for lag in LATE_STARTS])
