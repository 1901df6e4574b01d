"""Many theories against many reports: those far behind on a sample are not followed further.

The logarithm of each report's probability adds up. On a sample spread evenly over the reports one
theory lies behind another by so much a report, known to its standard error; over all reports that
grows with their number, the error only with its root (Cochran 1977, *Sampling Techniques*, ch. 2).
A theory is given up when, even at `_ERRORS` standard errors in its favour, it would lie more than
`_HOPELESS` nats behind: all that it could still gain from dates and from the order of numbers is
less, and e to the -1,000 is no probability that any figure shows.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.mark_cuts import Cuts
from ironlace.survey.likelihood.marks_as_arrays import ReadMarks
from ironlace.survey.likelihood.summed_unknowns import Summed, explain
from ironlace.survey.schemes.scheme import Scheme

MANY = 20_000
"""Up to so many reports every theory is weighed on all of them: it takes seconds."""

_SAMPLE = 8_000
"""Reports of the sample: a theory worse by a tenth of a nat a report is then seen to be so."""

_ERRORS = 8.0
"""Standard errors allowed a theory: a normal error reaches as many once in 10 to the 15. What fewer
than one report in a thousand says may be missing from the sample altogether; of 25,000 reports that
is some 25, or 500 nats at 20 a report, and `_HOPELESS` covers it. Of a million it may be more."""

_HOPELESS = 2_000.0
"""Nats behind at which a theory is given up. Order of numbers can gain it at most 600, dates along
a line some 24 times 7."""


Learned = TypeVar("Learned")


@dataclass(frozen=True)
class Explained(Generic[Learned]):
    """What one theory makes of the reports.

    Attributes
    ----------
    log_evidence
        Natural logarithm of the probability of all reports; reckoned from the sample for a theory
        that was given up.
    summed
        All reports under it, or the sample of them.
    learned
        What the caller makes of that and of its cuts, which are not kept: they hold much.
    weighed_on
        How many reports it was weighed on.
    """

    log_evidence: float
    summed: Summed
    learned: Learned
    weighed_on: int


def explain_all(
    read: ReadMarks,
    schemes: Sequence[Scheme],
    log_priors: Floats,
    assumptions: Assumptions,
    learn: Callable[[Cuts, Summed], Learned],
) -> list[Explained[Learned]]:
    """Explain reports by each of several theories.

    Parameters
    ----------
    log_priors
        Logarithm of each theory's probability before the reports, shape (schemes,).
    learn
        Makes of the cuts of the reports and of their sum what is to be kept of a theory.
    """
    if read.reports <= MANY or len(schemes) < 2:
        return [_on_all(read, scheme, assumptions, learn) for scheme in schemes]
    sample = read.evenly(_SAMPLE)
    seen = [_on_all(sample, scheme, assumptions, learn) for scheme in schemes]
    lead = int(
        np.argmax([float(p) + s.log_evidence for p, s in zip(log_priors, seen, strict=True)])
    )
    leading = _on_all(read, schemes[lead], assumptions, learn)
    found = []
    for i, (scheme, here) in enumerate(zip(schemes, seen, strict=True)):
        if i == lead:
            found.append(leading)
            continue
        behind = seen[lead].summed.report_log - here.summed.report_log
        each, error = _mean(behind, sample.weights)
        if read.reports * (each - _ERRORS * error) < _HOPELESS - log_priors[lead] + log_priors[i]:
            found.append(_on_all(read, scheme, assumptions, learn))
        else:
            reckoned = leading.log_evidence - read.reports * each
            found.append(Explained(reckoned, here.summed, here.learned, sample.reports))
    return found


def _on_all(
    read: ReadMarks,
    scheme: Scheme,
    assumptions: Assumptions,
    learn: Callable[[Cuts, Summed], Learned],
) -> Explained[Learned]:
    cuts, summed = explain(read, scheme, assumptions)
    return Explained(summed.log_evidence, summed, learn(cuts, summed), read.reports)


def _mean(values: Floats, weights: Floats) -> tuple[float, float]:
    """Weighted mean and its standard error."""
    count = float(weights.sum())
    mean = float(values @ weights) / count
    spread = float(((values - mean) ** 2) @ weights) / max(count - 1.0, 1.0)
    return mean, math.sqrt(spread / count)
