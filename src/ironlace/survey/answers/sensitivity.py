"""How the odds move when each assumption is moved: shown, not hidden."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from ironlace.survey.answers.comparison import (
    Comparison,
    compare_read,
    posterior_probabilities,
    prior_probabilities,
    times,
)
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.marks_as_arrays import lay_out_reports
from ironlace.survey.reports.table import Report
from ironlace.survey.schemes.library import Candidate

_FACTOR = 3.0
"""Rates are moved up and down by this; common practice, no source: half a decade each way."""
_LEFT_OUT = "report left out"
_FIRST = "first report"
_HINDSIGHT = "hindsight factor"
_ONE_MARK = "reports of the same mark"
_MOVED_BY_FACTOR = (
    "misread_rate",
    "transposed_rate",
    "worn_rate",
    "changed_rate",
    "stray_rate",
    "junk_rate",
    "wrong_date_rate",
    "hindsight_factor",
)


@dataclass(frozen=True, slots=True)
class Moved:
    """What one moved assumption does.

    Attributes
    ----------
    what
        The assumption, in words.
    value
        What it was moved to, in words.
    best
        The most probable scheme then.
    posterior
        Probability then of the scheme that leads under the assumptions as given.
    log_odds_change
        Change of the natural logarithm of that scheme's odds against all others.
    called
        What the most probable scheme then is called before a person.
    """

    what: str
    value: str
    best: str
    posterior: float
    log_odds_change: float
    called: str = ""

    @property
    def condition(self) -> str:
        """What was moved, as the beginning of a sentence."""
        if self.what == _LEFT_OUT:
            return f"Without {self.value}"
        if self.what == _FIRST:
            return "If the first report only suggested the theories and did not count"
        if self.what == _HINDSIGHT:
            return f"With a charge for hindsight of {self.value}"
        return f"With {self.what} {self.value}"

    def as_dict(self) -> dict[str, Any]:
        """Return it by name."""
        return {
            "what": self.what,
            "value": self.value,
            "best": self.best,
            "posterior": self.posterior,
            "log_odds_change": self.log_odds_change,
        }


def sensitivity(found: Comparison) -> tuple[Moved, ...]:
    """Move each assumption down and up, and leave the first report out as evidence.

    Rates are moved by a factor of three, the period by thirty years at either end, the highest
    number by a factor of ten, the unevenness of output by half. Runs the comparison some twenty
    times.
    """
    here = _log_odds(found.best.posterior)
    moved: list[Moved] = []
    candidates = _in_reach(found)
    dated = any(report.dated is not None for report in found.reports)
    for what, value, assumptions in _moves(found.assumptions):
        if what == "wrong date rate" and not dated:
            continue
        if what == _HINDSIGHT:
            other = _reweighted(found, assumptions)
        else:
            other = compare_read(
                found.reports, lay_out_reports(found.reports, assumptions), candidates, assumptions
            )
        moved.append(_moved(what, value, other, found, here))
    if len(found.reports) > 1:
        first = compare_read(
            found.reports[:1],
            lay_out_reports(found.reports[:1], found.assumptions),
            candidates,
            found.assumptions,
        )
        kept = {candidate.name for candidate in candidates}
        reach = [result for result in found.results if result.name in kept]
        priors = np.array([result.prior for result in reach])
        gained = np.array([r.log_evidence - first.of(r.name).log_evidence for r in reach])
        after = posterior_probabilities(priors / priors.sum(), gained)
        best = int(np.argmax(after))
        moved.append(
            Moved(
                _FIRST,
                "only suggests, does not count",
                reach[best].name,
                float(after[0]),
                _log_odds(float(after[0])) - here,
                found.called(reach[best].name),
            )
        )
    moved += _without_each_report(found, here)
    return tuple(moved)


def counted_apart(found: Comparison, reports: Sequence[Report]) -> Moved:
    """What it does to count reports that only their mark joined as different machines.

    Parameters
    ----------
    found
        The comparison on one report for each machine.
    reports
        The reports with those counted apart (`Reports.counted_apart`).
    """
    candidates = [result.candidate for result in found.results]
    read = lay_out_reports(reports, found.assumptions)
    other = compare_read(tuple(reports), read, candidates, found.assumptions)
    return _moved(_ONE_MARK, "counted apart", other, found, _log_odds(found.best.posterior))


def _log_odds(p: float) -> float:
    q = min(max(p, 1e-300), 1.0)
    return math.log(q) - math.log(max(1.0 - q, 1e-16))


_OUT_OF_REACH = 25.0
"""A theory this many nats behind, and a twentieth of a nat more for each report, changes no figure:
no assumption moved by its step has ever told so much of one report. Half of the time and more is
saved by leaving such theories out; a judgement, checked against leaving none out."""


def _in_reach(found: Comparison) -> list[Candidate]:
    """The theories that can matter under other assumptions, the leading one first."""
    stands = [math.log(max(r.prior, 1e-300)) + r.log_evidence for r in found.results]
    least = max(stands) - _OUT_OF_REACH - 0.05 * len(found.reports)
    return [r.candidate for r, at in zip(found.results, stands, strict=True) if at >= least]


def _moved(what: str, value: str, other: Comparison, found: Comparison, here: float) -> Moved:
    posterior = other.of(found.best.name).posterior
    change = _log_odds(posterior) - here
    best = other.best.name
    return Moved(what, value, best, posterior, change, found.called(best))


def _moves(given: Assumptions) -> Iterable[tuple[str, str, Assumptions]]:
    for name in _MOVED_BY_FACTOR:
        now = float(getattr(given, name))
        top = 1e6 if name == "hindsight_factor" else 0.45
        least = 1.0 if name == "hindsight_factor" else 1e-6
        for value in (max(now / _FACTOR, least), min(now * _FACTOR, top)):
            if value != now:
                yield name.replace("_", " "), f"{value:.3g}", _with_rate(given, name, value)
    yield "first year", str(given.first_year - 30), replace(given, first_year=given.first_year - 30)
    yield "last year", str(given.last_year + 30), replace(given, last_year=given.last_year + 30)
    for factor in (0.1, 10.0):
        highest = int(given.highest_number * factor)
        if 100 <= highest <= 99_999_999:
            yield "highest number", str(highest), replace(given, highest_number=highest)
    for factor in (0.5, 1.5):
        uneven = min(max(given.uneven_output * factor, 0.05), 2.0)
        yield "uneven output", f"{uneven:.2g}", replace(given, uneven_output=uneven)


def _with_rate(given: Assumptions, name: str, value: float) -> Assumptions:
    return Assumptions(**{**asdict(given), name: value})


def _reweighted(found: Comparison, assumptions: Assumptions) -> Comparison:
    """The same evidence under other priors."""
    priors = prior_probabilities([r.candidate for r in found.results], assumptions)
    after = posterior_probabilities(priors, np.array([r.log_evidence for r in found.results]))
    results = [
        replace(result, prior=float(p), posterior=float(q))
        for result, p, q in zip(found.results, priors, after, strict=True)
    ]
    results.sort(key=lambda r: (-r.posterior, r.name))
    return Comparison(found.reports, assumptions, tuple(results))


_MOST_LEFT_OUT = 12
"""Up to so many reports each is left out in turn; of more, one alone hardly decides."""


def _without_each_report(found: Comparison, here: float) -> Sequence[Moved]:
    """Leave out each report in turn when there are few, so that none decides unseen."""
    if not 2 < len(found.reports) <= _MOST_LEFT_OUT:
        return ()
    candidates = _in_reach(found)
    moved = []
    for i, report in enumerate(found.reports):
        rest = found.reports[:i] + found.reports[i + 1 :]
        read = lay_out_reports(rest, found.assumptions)
        other = compare_read(rest, read, candidates, found.assumptions)
        moved.append(_moved(_LEFT_OUT, report.id, other, found, here))
    return moved


def most_telling(moved: Iterable[Moved], count: int = 3) -> list[str]:
    """Say which assumptions move the odds most."""
    ranked = sorted(moved, key=lambda m: -abs(m.log_odds_change))[:count]
    return [
        f"{m.condition}, the odds of what leads now are "
        f"{times(math.exp(min(abs(m.log_odds_change), 100.0)))} times "
        f"{'higher' if m.log_odds_change > 0 else 'lower'}, and '{m.called or m.best}' leads."
        for m in ranked
        if abs(m.log_odds_change) > 0.01
    ]
