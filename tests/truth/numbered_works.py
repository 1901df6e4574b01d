"""Works that number their machines, and the reports that come of them, made without the solver.

A works makes so many machines each month and strikes a mark on each; some survive, people find
some of those and read them with slips of their own kind. Nothing here knows of priors, limits or
tables of the survey: output is walked month by month and every machine has its numbers.

`TUNED_ON` were looked at while the likelihood was made. `NEVER_TUNED_ON` were not: they were run
once, at the end, and what came of it stands in `bench/survey_calibration.py`.
"""

from dataclasses import dataclass

import numpy as np

TUNED_ON = ("steady", "growing", "uneven months", "lots")
NEVER_TUNED_ON = (
    "seasonal",
    "war gap",
    "boom and bust",
    "finished later",
    "two works",
    "restart",
)
KINDS = {
    "month-year-count": "month, dot, year, dot, number in month",
    "year-month-count": "year, dot, month, dot, number in month",
    "month-year-running": "month, dot, year, dot, number overall",
    "month-year-yearly": "month, dot, year, dot, number in year",
    "year-count": "year, dot, number in year",
    "arbitrary codes": "code, dot, code, dot, code",
}
"""Ways of striking the mark, by the name that the library has for them."""

MONTH_AND_YEAR = tuple(KINDS)[:4]

LOOK_ALIKE = {"0": "689", "1": "47", "2": "7", "3": "85", "4": "19", "5": "63"}
LOOK_ALIKE |= {"6": "085", "7": "12", "8": "306", "9": "40"}


@dataclass(frozen=True)
class Machine:
    """One machine: when it was finished, and its numbers."""

    year: int
    month: int
    overall: int
    in_year: int
    in_month: int


def output(family, rng):
    """First year, and machines made in each month from its January."""
    years = int(rng.integers(4, 22))
    first = int(rng.integers(1862, 1905 - years // 2))
    months = 12 * years
    level = float(np.exp(rng.uniform(np.log(8.0), np.log(500.0))))
    t = np.arange(months)
    made = np.full(months, level)
    if family == "growing":
        made = level * np.exp(rng.uniform(0.04, 0.25) * t / 12.0)
    elif family == "uneven months":
        made = rng.gamma(2.5, level / 2.5, months)
    elif family == "lots":
        made = np.where(rng.random(months) < 0.4, 2.5 * level, 0.0)
    elif family == "seasonal":
        swing = rng.uniform(0.4, 0.9)
        made = level * (1.0 + swing * np.cos(2 * np.pi * (t - rng.integers(12)) / 12.0))
    elif family == "war gap":
        stop = int(rng.integers(months // 4, months // 2))
        made[stop : stop + int(rng.integers(9, 30))] = 0.0
        made[stop + 9 :] *= rng.uniform(0.3, 1.0)
    elif family == "boom and bust":
        top = rng.uniform(0.2, 0.8) * months
        made = level * np.exp(-(((t - top) / (0.2 * months)) ** 2)) + 1.0
    return first, rng.poisson(made)


def machines(family, rng):
    """Every machine that a works made, in the order in which they were numbered."""
    first, made = output(family, rng)
    total = int(made.sum())
    if total < 40:
        return machines(family, rng)
    month_of = np.repeat(np.arange(len(made)), made)
    finished = month_of
    if family == "finished later":
        # numbered at the casting, dated when it leaves the japanning stove
        later = rng.geometric(0.55, total) - 1
        finished = np.minimum(month_of + later, len(made) + 11)
    started = int(rng.choice([1, 1, 101, 1001]))
    overall = started + np.arange(total)
    if family == "restart":
        at = int(rng.uniform(0.3, 0.7) * total)
        overall[at:] = started + np.arange(total - at)
    if family == "two works":
        # the second works has a block of numbers of its own, far above
        second = rng.random(total) < rng.uniform(0.25, 0.5)
        block = 10 ** len(str(total))
        overall[~second] = started + np.arange(int((~second).sum()))
        overall[second] = block + 1 + np.arange(int(second.sum()))
    found = []
    in_year, in_month = {}, {}
    for number, when in zip(overall.tolist(), finished.tolist(), strict=True):
        year, month = first + when // 12, when % 12 + 1
        in_year[year] = in_year.get(year, 0) + 1
        in_month[year, month] = in_month.get((year, month), 0) + 1
        found.append(Machine(year, month, number, in_year[year], in_month[year, month]))
    return found


def struck(kind, machine, rng, code_limits=(400, 90, 3000)):
    """The mark on one machine, with dots between its groups."""
    year = f"{machine.year % 100:02d}"
    if kind == "month-year-count":
        groups = (machine.month, year, machine.in_month)
    elif kind == "year-month-count":
        groups = (year, machine.month, machine.in_month)
    elif kind == "month-year-running":
        groups = (machine.month, year, machine.overall)
    elif kind == "month-year-yearly":
        groups = (machine.month, year, machine.in_year)
    elif kind == "year-count":
        groups = (year, machine.in_year)
    else:
        groups = tuple(int(rng.integers(1, most + 1)) for most in code_limits)
    return ".".join(str(group) for group in groups)


def as_reported(mark, rng, *, misread=0.012, changed_round=0.006, worn=0.04, pit=0.004):
    """The mark as a person passes it on: figures misread or changed round, dots worn or seen."""
    figures = list(mark)
    for i, c in enumerate(figures):
        if c.isdigit() and rng.random() < misread:
            pool = LOOK_ALIKE[c] if rng.random() < 0.75 else "0123456789".replace(c, "")
            figures[i] = str(rng.choice(list(pool)))
    if rng.random() < changed_round * sum(c.isdigit() for c in mark) / 2:
        pairs = [i for i in range(len(figures) - 1) if (figures[i] + figures[i + 1]).isdigit()]
        if pairs:
            i = int(rng.choice(pairs))
            figures[i], figures[i + 1] = figures[i + 1], figures[i]
    kept = []
    for c in figures:
        if c == "." and rng.random() < worn:
            continue
        kept.append(c)
        if c.isdigit() and rng.random() < pit:
            kept.append(".")
    return "".join(kept).strip(".")


@dataclass(frozen=True)
class Survey:
    """What came in, and the truth behind it: the marks as reported and the machines."""

    kind: str
    marks: tuple[str, ...]
    machines: tuple[Machine, ...]
    works: tuple[Machine, ...]
    code_limits: tuple[int, int, int]


def survey(family, kind, rng, size=None, *, clean=False):
    """Reports of `size` machines (2 to 12 when left out) of one works."""
    made = machines(family, rng)
    size = int(rng.integers(2, 13)) if size is None else size
    limits = tuple(int(np.exp(rng.uniform(*np.log(ends)))) for ends in CODES)
    chosen = [made[int(i)] for i in rng.choice(len(made), size, replace=False)]
    marks = [struck(kind, machine, rng, limits) for machine in chosen]
    if not clean:
        marks = [as_reported(mark, rng) for mark in marks]
    return Survey(kind, tuple(marks), tuple(chosen), tuple(made), limits)


CODES = ((13, 900), (40, 999), (50, 9000))
"""Ends of the limits of three codes without meaning."""
