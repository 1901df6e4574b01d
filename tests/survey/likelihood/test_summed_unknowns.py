"""The evidence against a naive sum that shares nothing with the solver but the assumptions."""

import math
from itertools import product

import numpy as np
import pytest
from scipy.stats import norm
from scipy.stats import t as student

from ironlace.evidence.markings import parse_marking
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.mark_cuts import cut
from ironlace.survey.likelihood.marks_as_arrays import lay_out
from ironlace.survey.likelihood.reading_errors import STRAY_KINDS, confusion
from ironlace.survey.likelihood.running_numbers import ladder
from ironlace.survey.likelihood.summed_unknowns import sum_out
from ironlace.survey.schemes.scheme import Scheme

SMALL = Assumptions(highest_number=400, first_year=1885, last_year=1904)


def read_chance(text, struck, c):
    if len(text) != len(struck):
        return 0.0
    return math.prod(c[int(s), int(t)] for s, t in zip(struck, text, strict=True))


def read_changed_round(text, struck, c, rate):
    """The same where two neighbours may have been passed on in the wrong order."""
    turned = [text[:i] + text[i + 1] + text[i] + text[i + 2 :] for i in range(len(text) - 1)]
    as_it_is = (1 - rate * len(turned)) * read_chance(text, struck, c)
    return as_it_is + rate * sum(read_chance(t, struck, c) for t in turned)


def naive_log_evidence(marks, a, year_points, limit_points):
    """month, dot, year, dot, number in month: every month, year, number and limit in turn.

    Each mark is three groups of figures with dots between, all read without doubt; other cuts of
    it need a worn dot and an accidental one at once and are summed here too.
    """
    c = confusion(a)
    years = np.arange(a.first_year, a.last_year + 1)
    rungs = ladder(a.highest_number)
    edges = np.concatenate([[1e-9], (rungs[:-1] + rungs[1:]) / 2, [rungs[-1] * 1e6]])
    limits = np.linspace(0.0, math.log(a.highest_number), limit_points)
    step = 0.05
    centres_of_limits = np.arange(-8.0, 20.0, step)
    by_centre = []  # (centre, number)
    for centre in centres_of_limits:
        mass = np.diff(norm.cdf((np.log(edges) - centre) / a.uneven_output))
        mass /= mass.sum()
        mean = (mass * rungs).sum()
        chances = np.zeros(a.highest_number + 1)
        for rung, m in zip(rungs, mass, strict=True):
            chances[1 : rung + 1] += m / mean
        by_centre.append(chances)
    by_centre = np.array(by_centre)

    def number_chances(levels, l_number):
        told = by_centre @ l_number
        return np.interp(levels, centres_of_limits, told)

    middle = (a.first_year + a.last_year) / 2
    trends = (0.0, 0.1, 0.25)
    centres = np.linspace(a.first_year, a.last_year, year_points)
    scales = ("one year", 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 1e3)
    p_year = []
    for scale in scales:
        if scale == "one year":
            whole = centres - np.sin(2 * np.pi * centres) / (2 * np.pi)
            hump = student.pdf((years[:, None] - whole[None, :]) / 0.1, 2)
        else:
            hump = student.pdf((years[:, None] - centres[None, :]) / scale, 2)
        p_year.append((hump / hump.sum(axis=0)).T)
    p_year = np.concatenate(p_year)  # (8 * year_points, years)
    year_weight = np.full(year_points, 1.0 / (year_points - 1))
    year_weight[[0, -1]] /= 2
    year_weight = np.tile(year_weight, len(scales)) / len(scales)
    limit_weight = np.full(limit_points, 1.0 / (limit_points - 1))
    limit_weight[[0, -1]] /= 2
    # what a works usually makes in a month
    scale = np.hypot(1.5, 12.0 * np.array(trends))[:, None]
    fine = (np.arange(40_000) + 0.5) / 40_000 * math.log(a.highest_number)
    usual = student.pdf((limits[None, :] - math.log(100.0)) / scale, 4)
    usual /= student.pdf((fine[None, :] - math.log(100.0)) / scale, 4).mean(axis=1)[:, None]
    limit_weight = (usual * limit_weight).ravel() / len(trends)

    total = np.zeros((len(year_weight), len(trends) * limit_points))
    for text in marks:
        figures = text.replace(".", "")
        dots = {i for i, ch in enumerate(text) if ch == "."}
        dot_after = {i - sum(d < i for d in dots) for i in dots}  # places in `figures`
        chance = np.full(total.shape, a.junk_rate * lay_out([parse_marking(text)], a).junk[0])
        n = len(figures)
        for m_size, y_size in product((1, 2), (2,)):
            n_size = n - m_size - y_size
            if n_size < 1:
                continue
            month, year, number = (
                figures[:m_size],
                figures[m_size : m_size + y_size],
                figures[m_size + y_size :],
            )
            meant = {m_size, m_size + y_size}
            p = 1.0
            for place in range(n + 1):
                seen = place in dot_after
                if place in meant:
                    p *= (1 - a.worn_rate) * (1 - a.changed_rate) if seen else a.worn_rate
                else:
                    p *= a.stray_rate * STRAY_KINDS["·"] if seen else 1 - a.stray_rate
            tau = a.transposed_rate
            p *= sum(read_changed_round(month, str(m), c, tau) for m in range(1, 13)) / 12
            l_year = np.array([read_changed_round(year, str(y)[2:], c, tau) for y in years])
            shown = [y for y in years if str(y)[2:] == year]
            away = shown[0] - middle if shown else 0.0
            l_number = np.array(
                [0.0] + [read_chance(number, str(v), c) for v in range(1, a.highest_number + 1)]
            )
            p_number = np.concatenate(
                [number_chances(limits + trend * away, l_number) for trend in trends]
            )
            chance += (1 - a.junk_rate) * p * np.outer(p_year @ l_year, p_number)
        total += np.log(chance)
    peak = total.max()
    return peak + math.log((np.outer(year_weight, limit_weight) * np.exp(total - peak)).sum())


@pytest.mark.parametrize(
    "marks",
    [
        ["4.96.217"],
        ["4.96.217", "11.95.30"],
        ["4.96.217", "11.95.30", "1293.112", "7.93.12", "2.94.9"],
        ["13.97.9", "4.96.217", "5.5.5"],
    ],
)
def test_evidence_agrees_with_brute_force(marks):
    scheme = Scheme.parse("month, dot, year, dot, number in month")
    read = lay_out([parse_marking(m) for m in marks], SMALL)
    expected = naive_log_evidence(marks, SMALL, 400, 400)
    assert sum_out(cut(read, scheme, SMALL)).log_evidence == pytest.approx(expected, abs=0.01)
