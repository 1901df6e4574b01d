import pytest

from ironlace.evidence.markings import parse_marking
from ironlace.survey import Report, compare
from ironlace.survey.answers.odds_trace import odds_trace
from ironlace.survey.errors import SurveyError

MARKS = ("4.96.217", "11.95.30", "7.93.412")
REPORTS = [Report(f"R{i}", parse_marking(mark)) for i, mark in enumerate(MARKS)]


def test_each_step_is_the_comparison_of_so_many():
    trace = odds_trace(REPORTS)
    assert (trace.counts, trace.ids) == ((1, 2, 3), ("R0", "R1", "R2"))
    last = compare(REPORTS)
    assert trace.names == tuple(result.name for result in last.results)
    assert trace.probability[-1] == tuple(result.posterior for result in last.results)
    for row in trace.probability:
        assert sum(row) == pytest.approx(1.0)


def test_without_a_report_it_is_refused():
    with pytest.raises(SurveyError, match="no history"):
        odds_trace([])
