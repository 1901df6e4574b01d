import pytest

from ironlace.evidence.markings import parse_marking
from ironlace.survey import Report, compare, sensitivity
from ironlace.survey.answers import sensitivity as of_sensitivity
from ironlace.survey.answers.sensitivity import Moved, counted_apart, most_telling


def reports(text):
    return tuple(Report(f"R{i}", parse_marking(m)) for i, m in enumerate(text.split(), 1))


def test_sensitivity_moves_every_assumption():
    found = compare(
        reports("4.96.217 11.95.30 7.93.412"), ["month, dot, year, dot, number in month"]
    )
    moved = sensitivity(found)
    what = {m.what for m in moved}
    assert {"misread rate", "junk rate", "worn rate", "hindsight factor", "first report"} <= what
    assert {"first year", "uneven output", "report left out"} <= what
    up = next(m for m in moved if m.what == "hindsight factor" and m.value == "30")
    assert up.posterior < found.best.posterior


def test_counting_apart_compares_on_all_of_them():
    once, twice = reports("4.96.217 11.95.30"), reports("4.96.217 11.95.30 11.95.30")
    moved = counted_apart(compare(once), twice)
    again = compare(twice)
    expected = again.of(compare(once).best.name).posterior
    assert moved.posterior == pytest.approx(expected, rel=1e-9)
    assert moved.condition == "With reports of the same mark counted apart"


def test_what_moves_most_is_said_first_and_what_moves_nothing_is_not():
    moved = [Moved("junk rate", str(i), "x", 0.5, change) for i, change in enumerate((0, -2, 1))]
    said = most_telling(moved)
    assert [one.split(",")[0] for one in said] == ["With junk rate 1", "With junk rate 2"]
    assert "7.4 times lower" in said[0]


@pytest.mark.parametrize("text", ["4.96.217 11.95.30 7.93.412 13.94.2", "217 3421 88 12004 5566"])
def test_theories_out_of_reach_would_move_nothing(text, monkeypatch):
    found = compare(reports(text))
    told = sensitivity(found)
    monkeypatch.setattr(of_sensitivity, "_OUT_OF_REACH", 1e9)
    with_all = sensitivity(found)
    assert [(m.what, m.value, m.best) for m in told] == [
        (m.what, m.value, m.best) for m in with_all
    ]
    assert (
        max(abs(a.log_odds_change - b.log_odds_change) for a, b in zip(told, with_all, strict=True))
        < 0.01
    )
