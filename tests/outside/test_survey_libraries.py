"""The survey against general libraries: isotonic regression, a nested sampler, calibration."""

import math

import numpy as np
import pytest
from scipy.stats import chi2

from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.markings import parse_marking
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.mark_cuts import cut
from ironlace.survey.likelihood.marks_as_arrays import lay_out
from ironlace.survey.likelihood.simulated_marks import draw_marks, draw_unknowns
from ironlace.survey.likelihood.summed_unknowns import explain, sum_out
from ironlace.survey.reports.table import DatedKind
from ironlace.survey.schemes.scheme import Scheme
from ironlace.survey.time.timeline import DatedNumber, timeline


def test_dates_agree_with_isotonic_regression():
    """Noisy year-wide anchors: our middles against scikit-learn's IsotonicRegression."""
    from sklearn.isotonic import IsotonicRegression

    rng = np.random.default_rng(41)
    numbers = np.sort(rng.choice(40_000, 14, replace=False)) + 1
    true = 1885.0 + numbers / 4000.0
    years = np.floor(true).astype(int)
    anchors = [
        DatedNumber(int(n), DatedKind.AT, EdtfDate.parse(str(y)))
        for n, y in zip(numbers, years, strict=True)
    ]
    line = timeline(anchors, numbers.tolist(), first_year=1870, last_year=1910)
    ours = np.array([line.of(int(n)).middle / 12 + 1870 for n in numbers])
    fitted = IsotonicRegression().fit_transform(numbers, years + 0.5)
    assert np.all(np.diff(ours) >= 0)
    # Isotonic steps stay level within a year; ours rises through it, so half a year is the limit.
    assert np.max(np.abs(ours - fitted)) < 0.6
    assert np.mean(np.abs(ours - true)) < np.mean(np.abs(fitted - true))


def test_evidence_agrees_with_a_nested_sampler():
    """dynesty (Speagle 2020) on the likelihood point by point; limit 0.1 nat or 3 sd."""
    import dynesty

    given = Assumptions(highest_number=100_000)
    marks = [parse_marking(t) for t in ("4.196.21", "11.95.30", "70.93.4", "2.9.118", "12.94.77")]
    cuts = cut(lay_out(marks, given), Scheme.parse("code, dot, code, dot, code"), given)
    low = np.array([u.low for u in cuts.unknowns])
    high = np.array([u.high for u in cuts.unknowns])

    def log_likelihood(x):
        values = cuts.known.copy()
        for unknown, rows, level in zip(cuts.unknowns, cuts.row, x, strict=True):
            values = values * unknown.table(np.array([level]), 0)[rows, 0]
        return float(np.log(cuts.junk + np.bincount(cuts.report, values, cuts.count)).sum())

    sampler = dynesty.NestedSampler(
        log_likelihood,
        lambda u: low + u * (high - low),
        3,
        nlive=150,
        sample="unif",
        rstate=np.random.default_rng(3),
    )
    sampler.run_nested(dlogz=0.05, print_progress=False)
    result = sampler.results
    limit = max(0.1, 3.0 * result.logzerr[-1])
    assert sum_out(cuts).log_evidence == pytest.approx(result.logz[-1], abs=limit)


def test_ranks_of_the_highest_count_are_uniform():
    """Simulation-based calibration (Talts, Betancourt, Simpson, Vehtari & Gelman 2018)."""
    given = Assumptions(highest_number=50_000)
    scheme = Scheme.parse("month, dot, year, dot, number in month")
    rng = np.random.default_rng(42)
    ranks = []
    for _ in range(160):
        places = draw_unknowns(scheme, given, rng)
        marks = draw_marks(scheme, places, 5, given, rng)
        cuts, summed = explain(lay_out(marks, given), scheme, given)
        at = next(i for i, u in enumerate(cuts.unknowns) if u.name == "highest number")
        values = summed.places[at][:, 1]
        # Cells have a width: share the cell at the truth by its neighbours.
        order = np.argsort(values)
        reached = np.cumsum(summed.weights[order]) - summed.weights[order] / 2.0
        ranks.append(float(np.interp(places[at][1], values[order], reached, 0.0, 1.0)))
    counts = np.histogram(ranks, 8, (0.0, 1.0))[0]
    statistic = ((counts - 20.0) ** 2 / 20.0).sum()
    assert statistic < chi2.ppf(0.999, 7)
    assert abs(np.mean(ranks) - 0.5) < 4.0 / math.sqrt(12 * 160)
