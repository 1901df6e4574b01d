"""A small study with a fixed seed; bench/survey_calibration.py holds the whole one."""

import numpy as np

from ironlace.evidence.markings import parse_marking
from ironlace.survey import Assumptions, Candidate, Report, Scheme
from ironlace.survey.answers.comparison import compare_read
from ironlace.survey.likelihood.marks_as_arrays import lay_out
from ironlace.survey.likelihood.simulated_marks import draw_marks, draw_unknowns

GIVEN = Assumptions(hindsight_factor=1.0, highest_number=100_000)
MONTH_YEAR = "month, dot, year, dot, number in month"
TEXTS = (
    "code, dot, code, dot, code",
    MONTH_YEAR,
    "year, dot, month, dot, number in month",
    "month, dot, year, dot, number in year",
)


def posterior(marks, candidates, given=GIVEN):
    reports = tuple(Report(str(i), m) for i, m in enumerate(marks))
    found = compare_read(reports, lay_out(marks, given), candidates, given)
    return {r.name: r.posterior for r in found.results}


def test_stated_probabilities_come_true():
    rng = np.random.default_rng(51)
    candidates = [Candidate(t, Scheme.parse(t), hindsight=False) for t in TEXTS]
    stated, true = [], []
    for candidate in candidates:
        for _ in range(40):
            places = draw_unknowns(candidate.scheme, GIVEN, rng)
            marks = draw_marks(candidate.scheme, places, int(rng.integers(1, 4)), GIVEN, rng)
            for name, p in posterior(marks, candidates).items():
                stated.append(p)
                true.append(name == candidate.name)
    stated, true = np.array(stated), np.array(true, dtype=float)
    for low, high in ((0.0, 0.1), (0.1, 0.5), (0.5, 0.9), (0.9, 1.01)):
        here = (stated >= low) & (stated < high)
        spread = np.sqrt((stated[here] * (1 - stated[here])).sum() + 0.5)
        # Four standard deviations: a seed in twenty thousand would fail by chance.
        assert abs((true[here] - stated[here]).sum()) < 4.0 * spread


def test_a_false_theory_falls_by_the_fourth_report():
    rng = np.random.default_rng(52)
    given = Assumptions(hindsight_factor=1.0, highest_number=1_000_000)
    rival = "code near one value, dot, code near one value, dot, code"
    candidates = [
        Candidate(t, Scheme.parse(t), hindsight=False, rival=t != MONTH_YEAR)
        for t in (MONTH_YEAR, TEXTS[0], rival)
    ]
    fallen, tried = 0, 0
    while tried < 30:
        limits = np.exp(rng.uniform(np.log([13, 100, 50]), np.log([400, 2000, 5000])))
        first = (rng.integers(1, 13), rng.integers(60, 100), rng.integers(1, int(limits[2]) + 1))
        rest = [tuple(rng.integers(1, int(m) + 1) for m in limits) for _ in range(3)]
        marks = [parse_marking(".".join(map(str, m))) for m in (first, *rest)]
        if posterior(marks[:1], candidates, given)[MONTH_YEAR] < 0.95:
            continue
        tried += 1
        fallen += posterior(marks, candidates, given)[MONTH_YEAR] < 0.5
    assert fallen / tried >= 0.9
