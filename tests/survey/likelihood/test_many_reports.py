import numpy as np
import pytest

from ironlace.evidence.markings import parse_marking
from ironlace.survey import Report
from ironlace.survey.likelihood import many_reports
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.many_reports import explain_all
from ironlace.survey.likelihood.marks_as_arrays import lay_out_reports
from ironlace.survey.schemes.scheme import Scheme

GIVEN = Assumptions(first_year=1880, last_year=1905, highest_number=5000)
SCHEMES = [
    Scheme.parse(text)
    for text in (
        "month, dot, year, dot, number in month",
        "week, dot, year, dot, number in week",
        "code, dot, code, dot, code",
        "number overall",
    )
]
LOG_PRIORS = np.log(np.full(len(SCHEMES), 0.25))


@pytest.fixture(scope="module")
def read():
    rng = np.random.default_rng(6)
    marks = [
        f"{rng.integers(1, 13)}.{rng.integers(86, 99)}.{rng.integers(1, 400)}" for _ in range(600)
    ]
    return lay_out_reports([Report(str(i), parse_marking(m)) for i, m in enumerate(marks)], GIVEN)


def learn(cuts, summed):
    """Nothing of a theory is kept beside its sum."""


def test_a_theory_given_up_on_a_sample_is_as_far_behind_on_all_reports(read, monkeypatch):
    exact = [one.log_evidence for one in explain_all(read, SCHEMES, LOG_PRIORS, GIVEN, learn)]
    monkeypatch.setattr(many_reports, "MANY", 300)
    monkeypatch.setattr(many_reports, "_SAMPLE", 200)
    monkeypatch.setattr(many_reports, "_HOPELESS", 200.0)
    found = explain_all(read, SCHEMES, LOG_PRIORS, GIVEN, learn)
    given_up = [i for i, one in enumerate(found) if one.weighed_on < read.reports]
    assert given_up and 0 not in given_up
    for i, one in enumerate(found):
        if i in given_up:
            assert exact[0] - exact[i] > 200.0
            assert one.log_evidence == pytest.approx(exact[i], rel=0.1)
        else:
            assert one.log_evidence == pytest.approx(exact[i], rel=1e-12)


def test_theories_close_to_each_other_are_weighed_on_all(read, monkeypatch):
    monkeypatch.setattr(many_reports, "MANY", 300)
    monkeypatch.setattr(many_reports, "_SAMPLE", 200)
    near = [SCHEMES[0], Scheme.parse("month, dot, year, dot, code")]
    found = explain_all(read, near, LOG_PRIORS[:2], GIVEN, learn)
    assert [one.weighed_on for one in found] == [read.reports] * 2


def test_a_theory_that_only_late_rows_speak_for_is_weighed_on_all(monkeypatch):
    # the codes are behind on every row but the last few, which no month can be
    rng = np.random.default_rng(8)
    marks = [f"{i % 12 + 1}.{rng.integers(86, 99)}.{rng.integers(1, 400)}" for i in range(600)]
    marks[-60:] = [f"{rng.integers(13, 53)}.{rng.integers(86, 99)}.7" for _ in range(60)]
    late = [Report(str(i), parse_marking(m)) for i, m in enumerate(marks)]
    two = [SCHEMES[0], SCHEMES[2]]
    exact = [
        one.log_evidence
        for one in explain_all(lay_out_reports(late, GIVEN), two, LOG_PRIORS[:2], GIVEN, learn)
    ]
    monkeypatch.setattr(many_reports, "MANY", 300)
    monkeypatch.setattr(many_reports, "_SAMPLE", 100)
    monkeypatch.setattr(many_reports, "_HOPELESS", abs(exact[0] - exact[1]) + 1.0)
    for order in (late, late[::-1]):
        found = explain_all(lay_out_reports(order, GIVEN), two, LOG_PRIORS[:2], GIVEN, learn)
        assert [one.log_evidence for one in found] == pytest.approx(exact, rel=1e-12)
