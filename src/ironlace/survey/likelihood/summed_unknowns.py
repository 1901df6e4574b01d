"""The probability of all reports under one scheme, everything unknown summed out.

The sum over unknowns is done in two steps. First each unknown alone: the others are replaced by
their mean, sweep after sweep, on a grid that closes in on the region that matters (the mean-field
idea: Parisi 1988, *Statistical Field Theory*). That gives a density for each unknown which already
holds every sharp edge. Then the true joint probability is compared with the product of those
densities at the centres of cells of equal mass; their ratio is smooth and nearly constant, so few
cells are enough. Nothing is drawn at random.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ironlace.evidence.arrays import Floats, Ints
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.field_tables import Unknown
from ironlace.survey.likelihood.mark_cuts import Cuts, cut
from ironlace.survey.likelihood.marks_as_arrays import ReadMarks
from ironlace.survey.schemes.scheme import Scheme

# Settings of the sum. They were tuned; on what was not kept. What moving each does is measured by
# `bench/survey_settings.py`: "moved" below is the largest change of a theory's log evidence, in
# nats, on 10, 60 and 1,000 drawn reports, with the setting halved or doubled unless said. The
# comparison wants 0.1; a nested sampler (`bench/survey_speed.py --sampler`) agrees within that.

_FINE = 44
"""Least nodes of a grid once it has closed in, up to `_FULL_GRIDS_UP_TO` reports. Moved 0.01."""

_NODES_MANY = 24
"""The same for larger surveys, where a density is one smooth peak. Moved 0.09 (12), 0.04 (48)."""

_MOST_NODES = 540
"""Most nodes of a grid, whatever the range: bounds the time of the first look. Moved 0.01."""

_LOOKS = (40, 400, 8_000, 80_000)
"""Sizes of the samples looked at before all reports, each ten times the one before or more.

Without any the time is 3 times as long at 60 reports and 7 times at 1,000, moved 0.02.
"""

_FULL_GRIDS_UP_TO = 400
"""Up to so many reports the finer grids cost little time. Moved 0.06 (finer ones for all)."""

_SWEEPS = 3
"""Rounds of the mean field on a fresh start, after which densities hardly move. 1: moved 0.01."""

_MOST_PASSES = 18
"""Most closings-in over all looks: four looks of three passes need twelve. With 6 a survey of
1,000 ends before all reports were looked at, and the evidence is wrong by thousands."""

_PASSES_ON_A_SAMPLE = 3
"""Closings-in on one sample: the next rules more out. With 1 moved 0.07 and 3 times the time."""

_ELEMENTS_AT_ONCE = 250_000
"""Entries of a table worked out at once: 2 MB, which fits a cache. No part in the result."""

_KEPT_AT_ONCE = 4_000_000
"""Chances of reports at joint cells that are kept: 32 MB. With more, the heaviest cells stand for
all when each report's chance to be junk is told."""

_CELL_WORK = 40_000
"""Joint cells times cuts, so that the last step takes no longer than the others. Moved 0.0000."""

_MOST_CELLS = 6_000
"""Most joint cells, for few reports: their posterior is also drawn from later. Moved 0.0000."""

_KEEP_LOG = 45.0
"""Options this many nats below the best are dropped: e to the -45 is 3e-20, below what a sum of
doubles would feel. Moved 0.0000 even with 20."""

_NEGLIGIBLE = 1e-7
"""A cut that reaches no more than this part of its report's chance is left out. Moved 0.0003 with
a hundred times as much, 0.0000 with a hundredth."""

_NO_PART = 1e-8
"""Options with no more than this part of a density are dropped. Moved 0.0000 with 1e-5."""

_TAIL = 3e-6
"""Grids close in on all but this part of the mass at each end. Moved 0.05 (1e-4), 0.02 (1e-7)."""

_FEW_REPORTS = 8
"""Up to so many reports several cuts of a mark stay open; see `_mean_field`. Moved 0.0006 (32)."""


@dataclass(frozen=True)
class Density:
    """A density of one unknown on grids, one grid for each option kept.

    Attributes
    ----------
    options
        Options kept, shape (o,).
    nodes
        Values of the continuous part for each of them, o arrays.
    log_mass
        Logarithm of the probability of each node, o arrays; all together sum to 1.
    log_norm
        Logarithm of the surrogate's integral against the prior.
    means
        Mean tables of all unknowns with which the surrogate was made.
    """

    options: Ints
    nodes: tuple[Floats, ...]
    log_mass: tuple[Floats, ...]
    log_norm: float
    means: tuple[Floats, ...]

    @property
    def mass(self) -> tuple[Floats, ...]:
        """Probability of each node, o arrays."""
        return tuple(np.exp(logs) for logs in self.log_mass)


@dataclass(frozen=True)
class Summed:
    """What the sum over unknowns leaves.

    Attributes
    ----------
    log_evidence
        Natural logarithm of the probability of all reports.
    places
        For each unknown its values at the joint cells: option and continuous part, shape (c, 2).
    weights
        Posterior weight of each joint cell, shape (c,).
    junk_chance
        Posterior chance of each report that differs to be junk, shape (count,).
    report_log
        Logarithm of each such report's mean probability under the posterior, shape (count,).
    densities
        The density of each unknown alone.
    """

    log_evidence: float
    places: tuple[Floats, ...]
    weights: Floats
    junk_chance: Floats
    report_log: Floats
    densities: tuple[Density, ...]


def explain(marks: ReadMarks, scheme: Scheme, assumptions: Assumptions) -> tuple[Cuts, Summed]:
    """Cut the marks by a scheme and sum out everything unknown; large surveys are sampled first."""
    cuts = cut(marks, scheme, assumptions)
    sizes = [most for most in _LOOKS if most < marks.reports]
    return cuts, sum_out(cuts, [cut(marks.evenly(most), scheme, assumptions) for most in sizes])


def sum_out(cuts: Cuts, looks: list[Cuts] | None = None) -> Summed:
    """Sum out everything unknown.

    Parameters
    ----------
    cuts
        The reports under one scheme.
    looks
        Rising samples of them, on which the regions that matter are found more quickly. They are
        taken out of their list, so that what was looked at is let go.

    Returns
    -------
    Summed
    """
    looks = [] if looks is None else looks
    if not cuts.unknowns or not len(cuts.report):
        chance = cuts.junk + _by_report(cuts, cuts.known[:, None])[:, 0]
        return Summed(
            float(cuts.weight @ np.log(chance)),
            (),
            np.ones(1),
            cuts.junk / chance,
            np.log(chance),
            (),
        )
    looks[:] = [look for look in looks if len(look.unknowns) == len(cuts.unknowns)]
    kept, densities = _close_in(cuts, looks)
    return _joint(kept, densities)


def _by_report(cuts: Cuts, values: Floats) -> Floats:
    """Sum rows of cuts into reports, shape (count, k)."""
    begins = np.ones(len(cuts.report), dtype=bool)
    begins[1:] = cuts.report[1:] != cuts.report[:-1]
    starts = np.flatnonzero(begins)
    if len(starts) == len(cuts.report) == cuts.count:
        return values
    total = np.zeros((cuts.count, values.shape[1]))
    if len(starts):
        total[cuts.report[starts]] = np.add.reduceat(values, starts, axis=0)
    return total


@dataclass
class _Grid:
    """Where one unknown is looked at: options, and for each the range of its continuous part."""

    options: Ints
    ranges: list[tuple[float, float]]

    def nodes(self, unknown: Unknown, points: int, *, first: bool) -> list[Floats]:
        found = []
        for option, (low, high) in zip(self.options, self.ranges, strict=True):
            if high <= low:
                found.append(np.array([low]))
                continue
            detail = (high - low) / unknown.finest[option]
            least = 24 if first else points
            count = int(min(max(detail if first else 2.0 * detail, least), _MOST_NODES))
            found.append(np.linspace(low, high, count + 1))
        return found


def _close_in(cuts: Cuts, looks: list[Cuts]) -> tuple[Cuts, tuple[Density, ...]]:
    """Find a density for each unknown, on grids that close in as more reports are looked at.

    Also returned are the cuts that can still matter within those grids. Of `looks` nothing is left.
    """
    looks.append(cuts)
    grids = [
        _Grid(np.arange(len(u.option_weights)), [(u.low, u.high)] * len(u.option_weights))
        for u in cuts.unknowns
    ]
    kept = cuts
    densities: tuple[Density, ...] = ()
    means: list[Floats] | None = None
    fine = _FINE if cuts.reports <= _FULL_GRIDS_UP_TO else _NODES_MANY
    passes = 0
    for attempt in range(_MOST_PASSES):
        look = looks[0]
        nodes = [
            grid.nodes(unknown, fine, first=not attempt)
            for grid, unknown in zip(grids, cuts.unknowns, strict=True)
        ]
        kept, densities, means = _mean_field(look, nodes, [g.options for g in grids], means)
        narrowed = [
            _narrowed(unknown, density)
            for unknown, density in zip(cuts.unknowns, densities, strict=True)
        ]
        grids = [grid for grid, _ in narrowed]
        settled = all(well for _, well in narrowed)
        passes += 1
        if len(looks) == 1:
            if settled:
                break
        elif settled or passes == _PASSES_ON_A_SAMPLE:
            # What a sample rules out in a second look need not be asked of all reports.
            del looks[0]
            passes = 0
            means = None
    return kept, densities


def _narrowed(unknown: Unknown, density: Density) -> tuple[_Grid, bool]:
    """Options and ranges that matter, and whether the grids resolve them already."""
    options: list[int] = []
    ranges: list[tuple[float, float]] = []
    settled = True
    highest = max(float(logs.max()) for logs in density.log_mass)
    for option, nodes, logs in zip(density.options, density.nodes, density.log_mass, strict=True):
        peak = float(logs.max())
        if len(nodes) == 1:
            if peak > highest - _KEEP_LOG:
                options.append(int(option))
                ranges.append((unknown.low, unknown.high))
            continue
        mass = np.exp(logs - peak)
        total = float(mass.sum())
        resolved = int(np.sum(mass > 1e-3)) >= 7
        if resolved and peak + math.log(total) < math.log(_NO_PART):
            continue
        step = nodes[1] - nodes[0]
        reached = np.cumsum(mass) / total
        matters = np.flatnonzero((reached > _TAIL) & (reached - mass / total < 1.0 - _TAIL))
        low = max(unknown.low, nodes[matters[0]] - step)
        high = min(unknown.high, nodes[matters[-1]] + step)
        # A density pressed against the edge of a grid drawn too small must be looked at again.
        if matters[0] == 0 and nodes[0] > unknown.low and mass[0] > 1e-6:
            low, resolved = max(unknown.low, nodes[0] - 10 * step), False
        if matters[-1] == len(nodes) - 1 and nodes[-1] < unknown.high and mass[-1] > 1e-6:
            high, resolved = min(unknown.high, nodes[-1] + 10 * step), False
        options.append(int(option))
        ranges.append((float(low), float(high)))
        settled &= resolved
    return _Grid(np.array(options, dtype=np.int64), ranges), settled


def _prior_mass(unknown: Unknown, nodes: list[Floats], options: Ints) -> Floats:
    """Prior weight of every node of every option, by the trapezoid rule, end to end."""
    pieces = []
    for option, here in zip(options, nodes, strict=True):
        weights = np.ones(len(here))
        if len(here) > 1:
            weights[:] = (here[1] - here[0]) / (unknown.high - unknown.low)
            weights[[0, -1]] *= 0.5
            weights *= unknown.prior(here, int(option))
        pieces.append(unknown.option_weights[option] * weights)
    return np.concatenate(pieces)


def _whole_table(unknown: Unknown, nodes: Sequence[Floats], options: Ints) -> Floats:
    """The unknown's table at every node of every option, side by side."""
    return _side_by_side(
        (unknown.table(here, int(o)) for o, here in zip(options, nodes, strict=True)),
        sum(len(here) for here in nodes),
    )


def _side_by_side(tables: Iterator[Floats], width: int) -> Floats:
    """Tables beside each other, in so many columns; no more than one is held besides them."""
    first = next(tables)
    if first.shape[1] == width:
        return first
    whole = np.empty((len(first), width))
    whole[:, : first.shape[1]] = first
    at = first.shape[1]
    del first
    for table in tables:
        whole[:, at : at + table.shape[1]] = table
        at += table.shape[1]
    return whole


def _mean_field(
    cuts: Cuts, nodes: list[list[Floats]], kept: list[Ints], means: list[Floats] | None
) -> tuple[Cuts, tuple[Density, ...], list[Floats]]:
    """Sweep: each unknown's density with the others at their means; cuts that matter."""
    unknowns = cuts.unknowns
    tables = [_whole_table(u, n, k) for u, n, k in zip(unknowns, nodes, kept, strict=True)]
    priors = [_prior_mass(u, n, k) for u, n, k in zip(unknowns, nodes, kept, strict=True)]
    fresh = means is None
    means = (
        list(means)
        if means is not None
        else [table @ (prior / prior.sum()) for table, prior in zip(tables, priors, strict=True)]
    )
    cuts = _that_matter(cuts, tables, means)
    found: list[Density | None] = [None] * len(tables)
    # With few reports several cuts may stay open; one sweep keeps the densities broad enough.
    more = fresh and len(tables) > 1 and cuts.reports > _FEW_REPORTS
    for _ in range(_SWEEPS if more else 1):
        for d, table in enumerate(tables):
            logs = surrogate(cuts, d, table, means)
            peak = logs.max()
            log_norm = float(peak + np.log((priors[d] * np.exp(logs - peak)).sum()))
            log_mass = np.log(priors[d]) + (logs - log_norm)
            ends = np.cumsum([len(here) for here in nodes[d]])[:-1]
            found[d] = Density(
                kept[d],
                tuple(nodes[d]),
                tuple(np.split(log_mass, ends)),
                log_norm,
                tuple(means),
            )
            means[d] = table @ np.exp(log_mass)
    return cuts, tuple(density for density in found if density is not None), means


def _that_matter(cuts: Cuts, tables: list[Floats], means: list[Floats]) -> Cuts:
    """The cuts that can reach a part of their report's probability somewhere on the grids."""
    most, usual = cuts.known.copy(), cuts.known.copy()
    for rows, table, mean in zip(cuts.row, tables, means, strict=True):
        most *= table.max(axis=1)[rows]
        usual *= mean[rows]
    chance = cuts.junk + np.bincount(cuts.report, usual, cuts.count)
    keep = most > _NEGLIGIBLE * chance[cuts.report]
    return cuts if keep.all() else cuts.only(keep)


def surrogate(cuts: Cuts, d: int, table: Floats, means: Sequence[Floats]) -> Floats:
    """Log-likelihood of one unknown's values with the others at their means, shape (k,)."""
    known = cuts.known.copy()
    for h, mean in enumerate(means):
        if h != d:
            known *= mean[cuts.row[h]]
    total = np.zeros(table.shape[1])
    for part, first, last in _chunks(cuts, table.shape[1]):
        a, b = np.searchsorted(cuts.report, (first, last))
        values = known[a:b, None] * table[part.row[d]]
        total += _sum_of_logs(part.junk[:, None] + _by_report(part, values), part.weight)
    return total


def _chunks(cuts: Cuts, width: int) -> Iterator[tuple[Cuts, int, int]]:
    per_report = max(1.0, len(cuts.report) / max(cuts.count, 1))
    step = max(16, int(_ELEMENTS_AT_ONCE / (width * per_report)))
    if step >= cuts.count:
        yield cuts, 0, cuts.count
        return
    for first in range(0, cuts.count, step):
        last = min(first + step, cuts.count)
        yield cuts.some(first, last), first, last


def _sum_of_logs(chances: Floats, weight: Floats) -> Floats:
    """Sum of logarithms over the rows, each as often as it came, shape (k,)."""
    several = weight != 1.0
    if not several.any():
        return _sum_of_each(chances)
    total = weight[several] @ np.log(chances[several])
    return np.asarray(total + _sum_of_each(chances[~several]))


def _sum_of_each(chances: Floats) -> Floats:
    """The same of rows that came once, eight rows at a time: a logarithm costs more."""
    if len(chances) < 64:
        return np.asarray(np.log(chances).sum(axis=0))
    whole = len(chances) // 8 * 8
    shift = 0.0
    if not (chances.min() > _FOR_A_PRODUCT and chances.max() < 1.0 / _FOR_A_PRODUCT):
        top = chances.max(axis=1, keepdims=True)
        chances = np.maximum(chances / top, 1e-36)
        shift = float(np.log(top).sum())
    product = chances[0:whole:8].copy()
    for i in range(1, 8):
        product *= chances[i:whole:8]
    return np.asarray(np.log(product).sum(axis=0) + np.log(chances[whole:]).sum(axis=0) + shift)


_FOR_A_PRODUCT = 1e-37
"""Eight factors above this multiply to what a double still holds in full."""


def distinct_places(places: Floats) -> tuple[Floats, Ints]:
    """The different option-and-value pairs among joint cells, and which of them each cell has.

    >>> distinct_places(np.array([[1.0, 2.5], [0.0, 7.0], [1.0, 2.5]]))[1].tolist()
    [1, 0, 1]
    """
    # Sorting one number a pair is much faster than sorting rows; values stay far below the step.
    _, first, which = np.unique(
        places[:, 0] * 1e5 + places[:, 1], return_index=True, return_inverse=True
    )
    return places[first], which.ravel()


@dataclass(frozen=True)
class _Cells:
    """Cells of one unknown's density: values at their centres, masses."""

    option: Ints
    value: Floats
    mass: Floats


def _cells(density: Density, most: int) -> _Cells:
    """Cut a density into cells of about equal mass, each within one option."""
    option, value, mass = [], [], []
    for o, nodes, here in zip(density.options, density.nodes, density.mass, strict=True):
        total = here.sum()
        if total < _NO_PART:
            continue
        pieces = min(len(nodes), max(1 if total < 0.02 else 3, round(most * total)))
        middle = (np.cumsum(here) - here / 2.0) / total
        label = np.minimum((middle * pieces).astype(np.int64), pieces - 1)
        weight = np.bincount(label, here, pieces)
        centre = np.bincount(label, here * nodes, pieces)
        full = weight > 0
        option.append(np.full(int(full.sum()), o))
        value.append(centre[full] / weight[full])
        mass.append(weight[full])
    masses = np.concatenate(mass)
    return _Cells(np.concatenate(option), np.concatenate(value), masses / masses.sum())


def _at_cells(unknown: Unknown, cells: _Cells) -> Floats:
    """The unknown's table at its cells, shape (t, cells)."""
    # Cells come grouped by rising option, as np.unique returns them.
    return _side_by_side(
        (unknown.table(cells.value[cells.option == o], int(o)) for o in np.unique(cells.option)),
        len(cells.value),
    )


def _joint(cuts: Cuts, densities: tuple[Density, ...]) -> Summed:
    """Correct the product of densities by the true joint probability, cell by cell."""
    every_cut = float(cuts.weight[cuts.report].sum())
    budget = float(np.clip(_CELL_WORK / max(every_cut, 1.0), 160, _MOST_CELLS))
    each = max(3, int(budget ** (1.0 / len(densities)) + 1e-9))
    cells = [_cells(density, each) for density in densities]
    tables = [_at_cells(u, c) for u, c in zip(cuts.unknowns, cells, strict=True)]
    log_ratio = np.zeros(())
    mass = np.ones(())
    for d, (cell, density, table) in enumerate(zip(cells, densities, tables, strict=True)):
        logs = density.log_norm - surrogate(cuts, d, table, density.means)
        log_ratio = log_ratio[..., None] + logs
        mass = mass[..., None] * cell.mass
    shape = mass.shape
    log_joint, chances = _log_joint(cuts, tables)
    log_weight = np.log(mass.ravel()) + log_ratio.ravel() + log_joint
    peak = log_weight.max()
    weights = np.exp(log_weight - peak)
    total = weights.sum()
    weights /= total
    if chances is None:
        top = np.argsort(weights)[-8:]
        index = np.unravel_index(top, shape)
        few = [table[:, i] for table, i in zip(tables, index, strict=True)]
        junk, mean = _by_few(cuts, few, weights[top] / weights[top].sum())
    else:
        junk, mean = (cuts.junk[:, None] / chances) @ weights, chances @ weights
    places = tuple(
        np.column_stack([cell.option[i], cell.value[i]])
        for cell, i in zip(cells, np.unravel_index(np.arange(len(weights)), shape), strict=True)
    )
    return Summed(
        float(peak + np.log(total)),
        places,
        weights,
        junk,
        np.log(mean),
        densities,
    )


def _log_joint(cuts: Cuts, tables: list[Floats]) -> tuple[Floats, Floats | None]:
    """Joint log-likelihood at every combination of cells; each report's chances if they fit."""
    width = math.prod(table.shape[1] for table in tables)
    total = np.zeros(width)
    keep = cuts.reports * width <= _KEPT_AT_ONCE
    kept: list[Floats] = []
    for part, _, _ in _chunks(cuts, width):
        chances = part.junk[:, None] + _by_report(part, _products(part, tables))
        total += _sum_of_logs(chances, part.weight)
        if keep:
            kept.append(chances)
    return total, np.concatenate(kept) if keep else None


def _products(cuts: Cuts, tables: list[Floats]) -> Floats:
    """Products over unknowns for every combination of cells, shape (e, combinations)."""
    values = cuts.known[:, None]
    for rows, table in zip(cuts.row, tables, strict=True):
        wide = values.shape[1] * table.shape[1]
        values = (values[:, :, None] * table[rows][:, None, :]).reshape(len(rows), wide)
    return values


def _by_few(cuts: Cuts, few: list[Floats], share: Floats) -> tuple[Floats, Floats]:
    """Each report's chance to be junk and its mean chance, over few joint cells; each (count,)."""
    junk, mean = np.empty(cuts.count), np.empty(cuts.count)
    for part, first, last in _chunks(cuts, few[0].shape[1]):
        values = np.repeat(part.known[:, None], few[0].shape[1], axis=1)
        for rows, table in zip(part.row, few, strict=True):
            values *= table[rows]
        chances = part.junk[:, None] + _by_report(part, values)
        junk[first:last] = (part.junk[:, None] / chances) @ share
        mean[first:last] = chances @ share
    return junk, mean
