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
from ironlace.survey.time.months import MonthDensity, mixture


def stated_dates(
    candidate: Candidate,
    read: ReadMarks,
    rows: Sequence[int],
    given: Assumptions,
    taught: Summed | None = None,
) -> list[tuple[MonthDensity, bool]]:
    """What one scheme says of the dates of some of the marks, and whether it says anything.

    Misreadings, several ways to cut the mark, the dated evidence that came with it and the chance
    that it is junk are all in it; the other marks bear on it through the years of making they show.

    Parameters
    ----------
    rows
        Rows of `read`.
    taught
        What reports taught of the scheme's unknowns; all of `read` when left out.
    """
    read = _as_cut(read, candidate, given)
    if taught is None:
        cuts, summed = explain(read, candidate.scheme, given)
    else:
        cuts, summed = cut(read, candidate.scheme, given), taught
    first = np.searchsorted(cuts.report, rows, side="left")
    last = np.searchsorted(cuts.report, rows, side="right")
    usable = len(cuts.unknowns) == len(summed.places) > 0
    size = last - first if usable else np.zeros(len(rows), dtype=np.int64)
    here = np.repeat(first - (np.cumsum(size) - size), size) + np.arange(int(size.sum()))
    start = np.cumsum(size) - size
    years, chance, junk = _year_posteriors(cuts, summed, here)
    within = within_year(candidate.scheme, cuts.spans, cuts.span_row, read.emission, given, here)
    found = []
    for row, at, many in zip(rows, start.tolist(), size.tolist(), strict=True):
        alone = date_alone(read, row, given)
        some = slice(at, at + many)
        mass = _by_month(read, row, years, chance[some], within[some], given)
        total = mass.sum()
        if not total > 0:
            found.append((alone, False))
            continue
        density = MonthDensity(given.first_year, (mass / total).ravel())
        odd = float(junk[at])
        found.append((mixture([(1.0 - odd, density), (odd, alone)]), True))
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
    read = _as_cut(read, candidate, given)
    cuts = cut(read, candidate.scheme, given)
    usable = len(cuts.unknowns) == len(state.places) > 0
    known = state.heaviest(_CELLS_IN_HAND)
    every = np.arange(len(cuts.report))
    within = within_year(candidate.scheme, cuts.spans, cuts.span_row, read.emission, given, every)
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
        mass = _by_month(read, row, years, chance, within[here], given)
        total = float(mass.sum())
        if not total > 0:
            found.append((alone, False))
            continue
        density = MonthDensity(given.first_year, (mass / total).ravel())
        odd = junk * float(weight.sum())
        found.append((mixture([(total, density), (odd, alone)]), True))
    return found


def _as_cut(read: ReadMarks, candidate: Candidate, given: Assumptions) -> ReadMarks:
    """The marks as they are cut: where dots count a month they stand as a letter of their own."""
    scheme = candidate.scheme
    return read.with_dots_counted(scheme, given) if scheme.counts_dots else read


_CELLS_IN_HAND = 600
"""Cells of the posterior by which a mark in hand is weighed, the heaviest: as many as for a report
being typed, or nearly."""


def _by_month(
    read: ReadMarks, row: int, years: Ints, chance: Floats, within: Floats, given: Assumptions
) -> Floats:
    """Chance of each month, shape (years, 12), from that of each cut and year (cuts, years).

    `within` is the chance of each month of the year for each cut, shape (cuts, 12).
    """
    mass = np.zeros((given.last_year - given.first_year + 1, MONTHS))
    evidence = read.dated.get(row)
    for months, by_year in zip(within, chance, strict=True):
        each = months[None, :]
        if evidence is not None:
            # The year's chance holds the evidence summed over months: share it out again.
            each = each * evidence
            each = (each / np.maximum(each.sum(axis=1, keepdims=True), 1e-300))[
                years - given.first_year
            ]
        mass[years - given.first_year] += by_year[:, None] * each
    return mass


def date_alone(read: ReadMarks, row: int, given: Assumptions) -> MonthDensity:
    """What the dated evidence of a mark says where the mark says nothing; flat without any."""
    evidence = read.dated.get(row)
    if evidence is None:
        return MonthDensity.flat(given.first_year, given.last_year)
    return MonthDensity(given.first_year, evidence.ravel() / evidence.sum())


def _year_posteriors(cuts: Cuts, summed: Summed, here: Ints) -> tuple[Ints, Floats, Floats]:
    """Joint posterior of some cuts and their years, shape (cuts, years), and of junk, (cuts,).

    All cuts of a report must be among them. First come the years.
    """
    which = next((i for i, u in enumerate(cuts.unknowns) if isinstance(u, YearsOfMaking)), None)
    if which is None or not len(here):
        return np.zeros(0, dtype=np.int64), np.zeros((len(here), 0)), np.zeros(len(here))
    unknown = cuts.unknowns[which]
    assert isinstance(unknown, YearsOfMaking)
    _, report = np.unique(cuts.report[here], return_inverse=True)
    junk = cuts.junk[cuts.report[here]]
    tables = []
    for other, at in zip(cuts.unknowns, summed.places, strict=True):
        cells, back = distinct_places(at)
        tables.append((other, cells, back))
    _, cells, back = tables[which]
    year_chances = np.stack([unknown.year_chances(c[1:], int(c[0]))[:, 0] for c in cells], axis=1)
    likelihood = unknown.likelihood[cuts.row[which][here]]
    posterior = np.zeros(likelihood.shape)
    odd = np.zeros(len(here))
    rest = [
        (np.stack([other.table(c[1:], int(c[0]))[:, 0] for c in places], axis=1), cuts.row[d], at)
        for d, (other, places, at) in enumerate(tables)
        if d != which
    ]
    for first in range(0, len(summed.weights), _CELLS_AT_ONCE):
        some = slice(first, first + _CELLS_AT_ONCE)
        beside = np.repeat(cuts.known[here][:, None], len(summed.weights[some]), axis=1)
        for table, rows, place in rest:
            beside *= table[rows[here]][:, place[some]]
        by_cell = year_chances[:, back[some]]
        chance = np.zeros((int(report.max()) + 1, beside.shape[1]))
        np.add.at(chance, report, beside * (likelihood @ by_cell))
        weight = summed.weights[some] / (junk[:, None] + chance[report])
        posterior += likelihood * ((beside * weight) @ by_cell.T)
        odd += junk * weight.sum(axis=1)
    return unknown.values, posterior, odd


_CELLS_AT_ONCE = 64
"""Joint cells worked out at once for all cuts asked about. No part in the result."""


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
