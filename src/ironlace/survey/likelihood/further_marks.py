"""How probable further marks are, given all that the reports so far have taught.

The posterior of a scheme's unknowns is held as weighted joint cells. A new mark is worked out at
every cell, so that one more report costs a fraction of a new comparison.
"""

from dataclasses import dataclass

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.mark_cuts import cut
from ironlace.survey.likelihood.marks_as_arrays import ReadMarks
from ironlace.survey.schemes.scheme import Scheme

_MOST_CELLS = 400
"""Cells of the posterior that further marks are judged by, the heaviest. Tuned so that a report
being typed is answered in 50 ms (`bench/survey_speed.py`)."""


@dataclass(frozen=True)
class Posterior:
    """Weighted joint cells of a scheme's unknowns.

    Attributes
    ----------
    places
        For each unknown, option and value at each cell, shape (c, 2).
    weights
        Posterior weight of each cell, shape (c,).
    """

    places: tuple[Floats, ...]
    weights: Floats

    def heaviest(self, most: int = _MOST_CELLS) -> "Posterior":
        """The cells with most weight, weights made whole again."""
        if len(self.weights) <= most:
            return self
        keep = np.sort(np.argsort(self.weights)[-most:])
        weights = self.weights[keep]
        return Posterior(tuple(p[keep] for p in self.places), weights / weights.sum())

    def after(self, chances: Floats) -> "Posterior":
        """The posterior once a mark with these chances at the cells (c,) is known."""
        weights = self.weights * chances
        return Posterior(self.places, weights / weights.sum())


def chances_at_cells(
    marks: ReadMarks, scheme: Scheme, assumptions: Assumptions, posterior: Posterior
) -> Floats:
    """Probability of each mark at each cell, junk included, shape (marks, c)."""
    cuts = cut(marks, scheme, assumptions)
    cells = len(posterior.weights)
    found = np.repeat(cuts.junk[:, None], cells, axis=1)
    if not len(cuts.report) or len(cuts.unknowns) != len(posterior.places):
        return found
    values = np.repeat(cuts.known[:, None], cells, axis=1)
    for unknown, rows, places in zip(cuts.unknowns, cuts.row, posterior.places, strict=True):
        distinct, back = np.unique(places, axis=0, return_inverse=True)
        back = back.ravel()
        for option in np.unique(distinct[:, 0]):
            here = np.flatnonzero(distinct[:, 0] == option)
            table = unknown.table(distinct[here, 1], int(option))
            column = np.full(len(distinct), -1)
            column[here] = np.arange(len(here))
            at = np.flatnonzero(column[back] >= 0)
            values[:, at] *= table[rows][:, column[back[at]]]
    np.add.at(found, cuts.report, values)
    return found
