"""When a machine was made, from its number and the schemes weighted by their odds."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.grades import Grade
from ironlace.evidence.markings import Marking
from ironlace.survey.assumptions import Assumptions
from ironlace.survey.comparison import Comparison
from ironlace.survey.counting import Floats
from ironlace.survey.field_tables import MONTHS, YearsOfMaking, value_likelihood
from ironlace.survey.marginal import Summed, explain
from ironlace.survey.mark_strings import ReadMarks, lay_out
from ironlace.survey.months import MonthDensity, mixture
from ironlace.survey.scheme_library import Candidate
from ironlace.survey.schemes import FieldKind, Scheme
from ironlace.survey.splitting import Cuts

_WORTH_ASKING = 1e-4


@dataclass(frozen=True)
class StatedDate:
    """What one scheme says of the date.

    Attributes
    ----------
    name
        Name of the scheme.
    weight
        Its probability.
    density
        What it says; flat over the period when it says nothing.
    says
        Whether the mark states a date under it.
    """

    name: str
    weight: float
    density: MonthDensity
    says: bool


@dataclass(frozen=True)
class Dating:
    """The date of making of one machine.

    Attributes
    ----------
    mark
        The mark dated.
    density
        Probability of each month.
    parts
        What each scheme says, most probable first.
    grade
        Inferred when reports or anchors bear it; conjectured when a reading shown by nothing else
        does, or when it rests on going on beyond what is known.
    reasons
        Sentences that say why.
    """

    mark: Marking
    density: MonthDensity
    parts: tuple[StatedDate, ...]
    grade: Grade
    reasons: tuple[str, ...]

    @property
    def interval(self) -> EdtfDate:
        """The 90 % interval as EDTF."""
        return self.density.edtf(0.9)

    def sentences(self) -> list[str]:
        """Say the date plainly."""
        said = [
            f"{self.mark}: made {_interval_words(self.density)} (90 %), "
            f"most probably {self.density.label(self.density.most_probable)}; {self.grade}."
        ]
        return said + list(self.reasons)

    def as_dict(self) -> dict[str, Any]:
        """Return it by name, as plain values."""
        low, high = self.density.bounds(0.9)
        return {
            "mark": str(self.mark),
            "edtf": self.interval.text,
            "low": self.density.label(low),
            "high": self.density.label(high),
            "median": self.density.label(self.density.middle),
            "most_probable": self.density.label(self.density.most_probable),
            "grade": str(self.grade),
            "years": {str(y): p for y, p in self.density.years().items() if p >= 1e-4},
            "months": {
                "first": self.density.label(0),
                "probability": [round(float(p), 8) for p in self.density.mass],
            },
            "schemes": [
                {
                    "name": part.name,
                    "weight": part.weight,
                    "states_date": part.says,
                    "edtf": part.density.edtf(0.9).text,
                }
                for part in self.parts
            ],
            "sentences": self.sentences(),
        }


def _interval_words(density: MonthDensity) -> str:
    low, high = density.bounds(0.9)
    if low == high:
        return f"in {density.label(low)}"
    return f"between {density.label(low)} and {density.label(high)}"


def date_of(mark: Marking, found: Comparison) -> Dating:
    """Date a mark by the schemes of a comparison.

    Parameters
    ----------
    mark
        The mark as read; it need not be among the reports.
    found
        The comparison whose schemes and odds are used.
    """
    given = found.assumptions
    flat = MonthDensity.flat(given.first_year, given.last_year)
    known = [report.mark for report in found.reports]
    counted = mark in known
    marks = known if counted else [*known, mark]
    read = lay_out(marks, given)
    row = known.index(mark) if counted else len(known)
    parts = []
    for result in found.results:
        if result.posterior < _WORTH_ASKING or not result.candidate.scheme.tells_date:
            parts.append(StatedDate(result.name, result.posterior, flat, says=False))
            continue
        density, says = stated_date(result.candidate, read, row, given)
        parts.append(StatedDate(result.name, result.posterior, density, says))
    density = mixture([(part.weight, part.density) for part in parts])
    grade, reasons = _grade(found, parts)
    return Dating(mark, density, tuple(parts), grade, tuple(reasons))


def stated_date(
    candidate: Candidate, read: ReadMarks, row: int, given: Assumptions
) -> tuple[MonthDensity, bool]:
    """What one scheme says of the date of one of the marks, and whether it says anything.

    Misreadings, several ways to cut the mark, and the chance that it is junk are all in it; the
    other marks bear on it through the years of making they show.
    """
    scheme = candidate.scheme
    flat = MonthDensity.flat(given.first_year, given.last_year)
    cuts, summed = explain(read, scheme, given)
    here = np.flatnonzero(cuts.report == row)
    if not len(here) or not cuts.unknowns:
        return flat, False
    years, chance = _year_posterior(cuts, summed, here)
    within = _within_year(scheme, cuts, read, given, here)
    mass = np.zeros((given.last_year - given.first_year + 1, MONTHS))
    for e in range(len(here)):
        mass[years - given.first_year] += chance[e][:, None] * within[e][None, :]
    junk = float(summed.junk_chance[row])
    total = mass.sum()
    if not total > 0:
        return flat, False
    density = MonthDensity(given.first_year, (mass / total).ravel())
    return mixture([(1.0 - junk, density), (junk, flat)]), True


def _year_posterior(
    cuts: Cuts, summed: Summed, here: np.ndarray[Any, np.dtype[np.int64]]
) -> tuple[np.ndarray[Any, np.dtype[np.int64]], Floats]:
    """Joint posterior of the cut of one mark and its year, shape (cuts of the mark, years)."""
    which = next(i for i, u in enumerate(cuts.unknowns) if isinstance(u, YearsOfMaking))
    unknown = cuts.unknowns[which]
    assert isinstance(unknown, YearsOfMaking)
    rest = np.repeat(cuts.known[here][:, None], len(summed.weights), axis=1)
    year_chances = np.zeros((len(unknown.values), len(summed.weights)))
    for d, (other, places) in enumerate(zip(cuts.unknowns, summed.places, strict=True)):
        cells, back = np.unique(places, axis=0, return_inverse=True)
        back = back.ravel()
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


def _within_year(
    scheme: Scheme,
    cuts: Cuts,
    read: ReadMarks,
    given: Assumptions,
    here: np.ndarray[Any, np.dtype[np.int64]],
) -> Floats:
    """Chance of each month of the year for each cut of the mark, shape (cuts, 12)."""
    chances = np.full((len(here), MONTHS), 1.0 / MONTHS)
    for f, part in enumerate(scheme.fields):
        if part.kind not in (FieldKind.MONTH, FieldKind.WEEK):
            continue
        table, values = value_likelihood(part, cuts.spans[f], read.emission, given)
        by_value = table[cuts.span_row[f][here]]
        if part.kind is FieldKind.MONTH:
            chances = by_value
        else:
            month = np.minimum((values - 0.5) / 53 * MONTHS, MONTHS - 1).astype(np.int64)
            chances = np.stack([np.bincount(month, row, MONTHS) for row in by_value])
        chances = chances / np.maximum(chances.sum(axis=1, keepdims=True), 1e-300)
    return np.asarray(chances)


def _grade(found: Comparison, parts: Sequence[StatedDate]) -> tuple[Grade, list[str]]:
    saying = [part for part in parts if part.says]
    weight = sum(part.weight for part in saying)
    reasons: list[str] = []
    if len(found.reports) == 1:
        reasons.append("It rests on a reading that one report suggested and cannot show.")
    if not saying or weight < 0.5:
        reasons.append(
            f"Schemes that state a date have {weight:.0%} of the probability, so the number "
            "says little of when."
        )
    elif weight < 0.95:
        reasons.append(
            f"With a probability of {1 - weight:.0%} the number states no date at all, and the "
            "whole period stays open."
        )
    sure = len(found.reports) > 1 and weight >= 0.9
    return (Grade.INFERRED if sure else Grade.CONJECTURED), reasons


def date_all(marks: Iterable[Marking], found: Comparison) -> tuple[Dating, ...]:
    """Date several marks."""
    return tuple(date_of(mark, found) for mark in marks)
