"""How the odds moved as reports came in."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ironlace.survey.answers.comparison import assemble, compare_read
from ironlace.survey.errors import SurveyError
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.marks_as_arrays import lay_out_reports
from ironlace.survey.reports.table import Report
from ironlace.survey.schemes.library import Candidate

_MOST_STEPS = 40
"""Points of the curve: as many as its width shows apart, and each costs a comparison."""


@dataclass(frozen=True)
class OddsTrace:
    """Probability of each scheme after so many reports.

    Attributes
    ----------
    counts
        After how many reports, rising.
    names
        Names of the schemes, the one that leads in the end first.
    probability
        Shape (counts, names).
    ids
        Id of the last report of each step.
    called
        What the schemes are called before a person, in the order of `names`.
    """

    counts: tuple[int, ...]
    names: tuple[str, ...]
    probability: tuple[tuple[float, ...], ...]
    ids: tuple[str, ...]
    called: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Return it by name."""
        return {
            "counts": list(self.counts),
            "names": list(self.names),
            "probability": [list(row) for row in self.probability],
            "ids": list(self.ids),
        }


def odds_trace(
    reports: Sequence[Report],
    schemes: Sequence[Candidate] | None = None,
    assumptions: Assumptions | None = None,
) -> OddsTrace:
    """Compare after the first report, the second, and so on; evenly thinned beyond forty."""
    if not reports:
        raise SurveyError("There is no report, so the odds have no history: add one.")
    given = assumptions or Assumptions()
    candidates = assemble([r.mark for r in reports], schemes)
    steps = np.unique(np.linspace(1, len(reports), min(len(reports), _MOST_STEPS)).astype(int))
    found = [
        compare_read(tuple(reports[:n]), lay_out_reports(reports[:n], given), candidates, given)
        for n in steps.tolist()
    ]
    names = tuple(result.name for result in found[-1].results)
    rows = tuple(tuple(f.of(name).posterior for name in names) for f in found)
    ids = tuple(reports[n - 1].id for n in steps.tolist())
    called = tuple(found[-1].called(name) for name in names)
    return OddsTrace(tuple(steps.tolist()), names, rows, ids, called)
