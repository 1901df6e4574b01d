"""What a scheme that states a date says of the date of each mark."""

from collections.abc import Sequence

import numpy as np

from ironlace.evidence.arrays import Floats, Ints
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.field_tables import MONTHS, YearsOfMaking
from ironlace.survey.likelihood.mark_cuts import Cuts
from ironlace.survey.likelihood.marks_as_arrays import ReadMarks
from ironlace.survey.likelihood.month_in_year import within_year
from ironlace.survey.likelihood.summed_unknowns import Summed, distinct_places, explain
from ironlace.survey.schemes.library import Candidate
from ironlace.survey.time.months import MonthDensity, mixture


def stated_dates(
    candidate: Candidate, read: ReadMarks, rows: Sequence[int], given: Assumptions
) -> list[tuple[MonthDensity, bool]]:
    """What one scheme says of the dates of some of the marks, and whether it says anything.

    Misreadings, several ways to cut the mark, the dated evidence that came with it and the chance
    that it is junk are all in it; the other marks bear on it through the years of making they show.
    """
    scheme = candidate.scheme
    cuts, summed = explain(read, scheme, given)
    found = []
    for row in rows:
        alone = date_alone(read, row, given)
        here = np.flatnonzero(cuts.report == row)
        if not len(here) or not cuts.unknowns:
            found.append((alone, False))
            continue
        years, chance = _year_posterior(cuts, summed, here)
        within = within_year(scheme, cuts.spans, cuts.span_row, read.emission, given, here)
        mass = np.zeros((given.last_year - given.first_year + 1, MONTHS))
        evidence = read.dated.get(row)
        for e in range(len(here)):
            months = np.repeat(within[e][None, :], len(mass), axis=0)
            if evidence is not None:
                # The year's chance holds the evidence summed over months: share it out again.
                months = months * evidence
                months /= np.maximum(months.sum(axis=1, keepdims=True), 1e-300)
            mass[years - given.first_year] += chance[e][:, None] * months[years - given.first_year]
        junk = float(summed.junk_chance[row])
        total = mass.sum()
        if not total > 0:
            found.append((alone, False))
            continue
        density = MonthDensity(given.first_year, (mass / total).ravel())
        found.append((mixture([(1.0 - junk, density), (junk, alone)]), True))
    return found


def date_alone(read: ReadMarks, row: int, given: Assumptions) -> MonthDensity:
    """What the dated evidence of a mark says where the mark says nothing; flat without any."""
    evidence = read.dated.get(row)
    if evidence is None:
        return MonthDensity.flat(given.first_year, given.last_year)
    return MonthDensity(given.first_year, evidence.ravel() / evidence.sum())


def _year_posterior(cuts: Cuts, summed: Summed, here: Ints) -> tuple[Ints, Floats]:
    """Joint posterior of the cut of one mark and its year, shape (cuts of the mark, years)."""
    which = next(i for i, u in enumerate(cuts.unknowns) if isinstance(u, YearsOfMaking))
    unknown = cuts.unknowns[which]
    assert isinstance(unknown, YearsOfMaking)
    rest = np.repeat(cuts.known[here][:, None], len(summed.weights), axis=1)
    year_chances = np.zeros((len(unknown.values), len(summed.weights)))
    for d, (other, places) in enumerate(zip(cuts.unknowns, summed.places, strict=True)):
        cells, back = distinct_places(places)
        if d == which:
            by_cell = np.stack(
                [unknown.year_chances(c[1:], int(c[0]))[:, 0] for c in cells], axis=1
            )
            year_chances = by_cell[:, back]
        else:
            rows = cuts.row[d][here]
            by_cell = np.stack([other.table(c[1:], int(c[0]))[rows, 0] for c in cells], axis=1)
            rest *= by_cell[:, back]
    likelihood = unknown.likelihood[cuts.row[which][here]]  # (cuts, years)
    at_cell = np.einsum("ey,yc->ec", likelihood, year_chances) * rest
    weight = summed.weights / (cuts.junk[cuts.report[here[0]]] + at_cell.sum(axis=0))
    chance = likelihood * np.einsum("ec,yc->ey", rest * weight, year_chances)
    return unknown.values, np.asarray(chance)
