"""What hangs on one date: it is named, and the answer with and without it stands beside."""

import numpy as np
import pytest

from ironlace.evidence.grades import Grade
from ironlace.evidence.markings import parse_marking
from ironlace.survey.answers.comparison import compare
from ironlace.survey.answers.dating import date_of
from ironlace.survey.answers.one_date import WithAndWithout, hangs_on_few, one_of_them_is_wrong
from ironlace.survey.reports.anchors import anchors_of
from ironlace.survey.reports.table import read_reports
from ironlace.survey.time.months import MonthDensity

RISING = (
    (210, "1871-03"), (890, "1874-06"), (1400, "1877-01"), (2300, "1881-09"), (2900, "1884-02"),
)  # fmt: skip


def reports_of(rows, evidence="", kind="at"):
    head = "id,mark,dated,dated_kind,evidence"
    lines = [f"r{n},{n},{day},{kind if day else ''},{evidence if day else ''}" for n, day in rows]
    return read_reports("\n".join([head, *lines])).reports


def dated(number, rows, **more):
    return date_of(parse_marking(str(number)), compare(reports_of(rows, **more)))


@pytest.mark.parametrize(("at", "off"), [(1, 10), (2, -10), (3, 10)])
def test_one_date_a_decade_off_is_named_among_the_first_sentences(at, off):
    number, day = RISING[at]
    wrong = f"{int(day[:4]) + off}{day[4:]}"
    rows = [*RISING[:at], (number, wrong), *RISING[at + 1 :]]
    told = dated(1100, rows)
    assert any(f"{number} made" in said and "not fit" in said for said in told.sentences()[:3])


def test_with_and_without_the_one_that_does_not_fit_are_told_where_they_differ():
    rows = [*RISING[:2], (1400, "1867-01"), *RISING[3:]]
    near = dated(1390, rows).sentences()[1]
    assert "Without it: " in near
    assert "were it right: " in near
    far = dated(2600, [(210, "1881-03"), *RISING[1:]]).sentences()[1]
    assert "not fit" in far
    assert "Without it" not in far


def test_a_date_taken_apart_is_the_two_parts_it_was_put_together_from():
    rng = np.random.default_rng(4)
    for chance in (0.55, 0.8, 0.93, 0.999):
        one, other = (MonthDensity(1870, rng.dirichlet(np.ones(24))) for _ in range(2))
        told = MonthDensity(1870, chance * one.mass + (1 - chance) * other.mass)
        parted = WithAndWithout.parted(told, chance, one if chance < 0.9 else other)
        assert parted.without.mass == pytest.approx(one.mass, abs=1e-9)
        assert parted.with_it.mass == pytest.approx(other.mass, abs=1e-9)


def test_a_date_between_two_dated_numbers_hangs_on_them_and_is_conjectured():
    few = dated(1100, [(210, "1871-03"), (2900, "1884-02"), (1700, ""), (500, ""), (2000, "")])
    assert few.grade is Grade.CONJECTURED
    assert "hangs on two dates" in few.sentences()[1]
    sound = dated(1100, RISING)
    assert sound.grade is Grade.INFERRED
    assert "hangs on" not in " ".join(sound.sentences()[:3])
    assert "not fit" not in " ".join(sound.sentences()[:3])


def test_a_machine_dated_by_its_own_date_alone_says_so():
    rows = [(210, "1871-03"), (890, ""), (77, "")]
    bare, paper = dated(210, rows), dated(210, rows, evidence="receipt in the drawer")
    assert bare.grade is Grade.CONJECTURED
    assert paper.grade is Grade.INFERRED
    for told in (bare, paper):
        assert "hangs on one date" in told.sentences()[1]


def test_of_dates_of_which_one_is_wrong_the_likely_ones_are_named():
    found = compare(reports_of(RISING))
    known = [(anchor, 0.3) for anchor in anchors_of(found.reports)]
    said = one_of_them_is_wrong([*known[:2], (known[2][0], 0.02)])
    assert "210 made March 1871 or 890 made June 1874" in said
    assert "1400" not in said
    assert one_of_them_is_wrong([(known[0][0], 0.04), (known[1][0], 0.04)]) == ""
    assert hangs_on_few([anchor for anchor, _ in known[:3]]) == ""
