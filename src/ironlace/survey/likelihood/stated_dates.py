"""What a scheme that states a date says of the date of each mark."""

from collections.abc import Sequence

import numpy as np

from ironlace.evidence.arrays import Floats, Ints
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.field_tables import MONTHS, YearsOfMaking
from ironlace.survey.likelihood.further_marks import Posterior
from ironlace.survey.likelihood.mark_cuts import Cuts, cut
from ironlace.survey.likelihood.marks_as_arrays import ReadMarks
from ironlace.survey.likelihood.month_in_year import within_year
from ironlace.survey.likelihood.summed_unknowns import Summed, distinct_places, explain
from ironlace.survey.schemes.library import Candidate
from ironlace.survey.schemes.scheme import Scheme
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
        mass = _by_month(scheme, cuts, read, row, here, years, chance, given)
        junk = float(summed.junk_chance[row])
        total = mass.sum()
        if not total > 0:
            found.append((alone, False))
            continue
        density = MonthDensity(given.first_year, (mass / total).ravel())
        found.append((mixture([(1.0 - junk, density), (junk, alone)]), True))
    return found


def dates_in_hand(
    candidate: Candidate,
    state: Posterior,
    read: ReadMarks,
    counted: Sequence[bool],
    given: Assumptions,
) -> list[tuple[MonthDensity, bool]]:
    """What one scheme says of the dates of marks in hand, each by itself.

    Every mark is read with the rates of `given`, and weighed by what the reports have taught; what
    else is asked about has no part in it.

    Parameters
    ----------
    state
        What the reports taught of the scheme's unknowns.
    read
        The marks in hand, laid out, with the dates that came with them.
    counted
        Which of them are among the reports, so that `state` holds them already.
    """
    cuts = cut(read, candidate.scheme, given)
    usable = len(cuts.unknowns) == len(state.places) > 0
    known = state.heaviest(_CELLS_IN_HAND)
    found = []
    for row in range(read.count):
        alone = date_alone(read, row, given)
        here = np.flatnonzero(cuts.report == row)
        if not len(here) or not usable:
            found.append((alone, False))
            continue
        years, by_cell = _year_by_cell(cuts, known.places, here)
        junk = cuts.junk[row]
        weight = known.weights
        if counted[row]:
            weight = weight / (junk + by_cell.sum(axis=(0, 1)))
        chance = by_cell @ weight
        mass = _by_month(candidate.scheme, cuts, read, row, here, years, chance, given)
        total = float(mass.sum())
        if not total > 0:
            found.append((alone, False))
            continue
        density = MonthDensity(given.first_year, (mass / total).ravel())
        odd = junk * float(weight.sum())
        found.append((mixture([(total, density), (odd, alone)]), True))
    return found


_CELLS_IN_HAND = 600
"""Cells of the posterior by which a mark in hand is weighed, the heaviest: as many as for a report
being typed, or nearly."""


def _by_month(
    scheme: Scheme,
    cuts: Cuts,
    read: ReadMarks,
    row: int,
    here: Ints,
    years: Ints,
    chance: Floats,
    given: Assumptions,
) -> Floats:
    """Chance of each month, shape (years, 12), from that of each cut and year (cuts, years)."""
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
    return mass


def date_alone(read: ReadMarks, row: int, given: Assumptions) -> MonthDensity:
    """What the dated evidence of a mark says where the mark says nothing; flat without any."""
    evidence = read.dated.get(row)
    if evidence is None:
        return MonthDensity.flat(given.first_year, given.last_year)
    return MonthDensity(given.first_year, evidence.ravel() / evidence.sum())


def _year_posterior(cuts: Cuts, summed: Summed, here: Ints) -> tuple[Ints, Floats]:
    """Joint posterior of the cut of one mark and its year, shape (cuts of the mark, years)."""
    years, by_cell = _year_by_cell(cuts, summed.places, here)
    chance = cuts.junk[cuts.report[here[0]]] + by_cell.sum(axis=(0, 1))
    return years, np.asarray(by_cell @ (summed.weights / chance))


def _year_by_cell(cuts: Cuts, places: Sequence[Floats], here: Ints) -> tuple[Ints, Floats]:
    """Chance of each cut of one mark and each year at each cell, shape (cuts, years, cells)."""
    which = next(i for i, u in enumerate(cuts.unknowns) if isinstance(u, YearsOfMaking))
    unknown = cuts.unknowns[which]
    assert isinstance(unknown, YearsOfMaking)
    count = len(places[which])
    rest = np.repeat(cuts.known[here][:, None], count, axis=1)
    year_chances = np.zeros((len(unknown.values), count))
    for d, (other, at) in enumerate(zip(cuts.unknowns, places, strict=True)):
        cells, back = distinct_places(at)
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
    return unknown.values, likelihood[:, :, None] * year_chances[None] * rest[:, None, :]
