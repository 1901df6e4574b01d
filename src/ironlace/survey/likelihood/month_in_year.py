"""Which month of its year a mark states, cut by cut."""

import numpy as np

from ironlace.evidence.arrays import Floats, Ints
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.field_tables import MONTHS, WEEKS, Spans, value_likelihood
from ironlace.survey.schemes.scheme import FieldKind, Scheme


def within_year(
    scheme: Scheme,
    spans: tuple[Spans, ...],
    span_row: tuple[Ints, ...],
    emission: Floats,
    assumptions: Assumptions,
    here: Ints,
) -> Floats:
    """Chance of each month of the year for some cuts, shape (cuts, 12); rows sum to 1 or 0.

    Parameters
    ----------
    spans, span_row
        Distinct spans of each field, and the row of each cut among them.
    here
        Which cuts, shape (cuts,).
    """
    chances = np.full((len(here), MONTHS), 1.0 / MONTHS)
    if not len(here):
        return chances
    for f, part in enumerate(scheme.fields):
        if part.kind not in (FieldKind.MONTH, FieldKind.WEEK):
            continue
        table, values = value_likelihood(part, spans[f], emission, assumptions)
        by_value = table[span_row[f][here]]
        if part.kind is FieldKind.MONTH:
            chances = by_value
        else:
            month = np.minimum((values - 0.5) / WEEKS * MONTHS, MONTHS - 1).astype(np.int64)
            chances = np.stack([np.bincount(month, row, MONTHS) for row in by_value])
        chances = chances / np.maximum(chances.sum(axis=1, keepdims=True), 1e-300)
    return np.asarray(chances)


def states_month(scheme: Scheme) -> bool:
    """Whether a mark states a month or a week under the scheme."""
    return any(part.kind in (FieldKind.MONTH, FieldKind.WEEK) for part in scheme.fields)
