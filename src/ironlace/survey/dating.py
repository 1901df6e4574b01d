"""When a machine was made, from its number and the schemes weighted by their odds."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.grades import Grade
from ironlace.evidence.markings import Marking
from ironlace.survey.anchors import Anchor
from ironlace.survey.assumptions import Assumptions
from ironlace.survey.comparison import Comparison, SchemeOdds
from ironlace.survey.counting import Floats
from ironlace.survey.face_value import face_value
from ironlace.survey.field_tables import MONTHS, YearsOfMaking, value_likelihood
from ironlace.survey.marginal import Summed, explain
from ironlace.survey.mark_strings import ReadMarks, lay_out
from ironlace.survey.months import MonthDensity, mixture
from ironlace.survey.scheme_library import Candidate
from ironlace.survey.schemes import Counted, FieldKind, Scheme
from ironlace.survey.splitting import Cuts
from ironlace.survey.timeline import DatedNumber, Wandering, anchor_likelihood, timeline

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
        leading = next((part for part in self.parts if part.says), None)
        if leading is not None and leading.weight < 0.95:
            said.append(
                f"If '{leading.name}' holds ({leading.weight:.0%}): made "
                f"{_interval_words(leading.density)}."
            )
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


def date_of(
    mark: Marking,
    found: Comparison,
    anchors: Sequence[Anchor] = (),
    *,
    wandering: Wandering | None = None,
) -> Dating:
    """Date a mark by the schemes of a comparison, and by numbers whose dates are known.

    Parameters
    ----------
    mark
        The mark as read; it need not be among the reports.
    found
        The comparison whose schemes and odds are used.
    anchors
        Dated numbers. They date a running number that never starts again, and they speak for or
        against schemes that state a date of their own.
    wandering
        What is taken for granted of how output changes.
    """
    return date_all([mark], found, anchors, wandering=wandering)[0]


def date_all(
    marks: Sequence[Marking],
    found: Comparison,
    anchors: Sequence[Anchor] = (),
    *,
    wandering: Wandering | None = None,
) -> tuple[Dating, ...]:
    """Date several marks at once; see `date_of`."""
    given = found.assumptions
    how = wandering or Wandering()
    flat = MonthDensity.flat(given.first_year, given.last_year)
    known = list(dict.fromkeys(report.mark for report in found.reports))
    extra = [m for m in dict.fromkeys([*marks, *(a.mark for a in anchors)]) if m not in set(known)]
    everything = [*(report.mark for report in found.reports), *extra]
    read = lay_out(everything, given)
    row = {mark: i for i, mark in reversed(list(enumerate(everything)))}
    said: list[_Said] = []
    for result in found.results:
        if result.posterior < _WORTH_ASKING:
            said.append(_Said(result.name, result.posterior, 0.0, {}, {}))
            continue
        said.append(_asked(result, read, row, marks, anchors, given, how))
    gains = np.array([s.log_gain for s in said])
    weights = np.array([s.weight for s in said]) * np.exp(gains - gains.max())
    weights /= weights.sum()
    datings = []
    for mark in marks:
        parts = []
        for s, weight in sorted(zip(said, weights, strict=True), key=lambda pair: -pair[1]):
            parts.append(
                StatedDate(s.name, float(weight), s.dates.get(mark, flat), mark in s.dates)
            )
        density = mixture([(part.weight, part.density) for part in parts])
        side = next(
            (
                b
                for x, w in zip(said, weights, strict=True)
                if w > 0.1 and (b := x.beyond.get(mark))
            ),
            0,
        )
        grade, reasons = _grade(found, parts, anchors, beyond=side != 0)
        if side:
            reasons.insert(0, _one_sided(parts, side))
        reasons += _doubtful(said, weights, anchors)
        datings.append(Dating(mark, density, tuple(parts), grade, tuple(reasons)))
    return tuple(datings)


def _one_sided(parts: Sequence[StatedDate], side: int) -> str:
    """Say the bound on the side of the known dates, where the answer still has ground."""
    density = next(part.density for part in parts if part.says)
    low, high = density.bounds(0.9)
    bound = f"not before {density.label(low)}" if side > 0 else f"not after {density.label(high)}"
    return (
        "It lies beyond the dated numbers, where only the habit of the past speaks: rely on "
        f"'{bound}' (95 %) rather than on the middle."
    )


@dataclass(frozen=True)
class _Said:
    """What one scheme says of several marks, and how the anchors speak for it."""

    name: str
    weight: float
    log_gain: float
    dates: dict[Marking, MonthDensity]
    beyond: dict[Marking, int]
    doubtful: tuple[float, ...] = ()


def _asked(
    result: SchemeOdds,
    read: ReadMarks,
    row: dict[Marking, int],
    marks: Sequence[Marking],
    anchors: Sequence[Anchor],
    given: Assumptions,
    how: Wandering,
) -> _Said:
    scheme = result.candidate.scheme
    name, weight = result.name, result.posterior
    if scheme.tells_date:
        wanted = list(dict.fromkeys([*marks, *(a.mark for a in anchors)]))
        stated = stated_dates(result.candidate, read, [row[m] for m in wanted], given)
        by_mark = dict(zip(wanted, stated, strict=True))
        gain = sum(math.log(anchor_likelihood(a, by_mark[a.mark][0], how)) for a in anchors)
        dates = {m: by_mark[m][0] for m in marks if by_mark[m][1]}
        return _Said(name, weight, gain, dates, {})
    if any(f.counted is Counted.OVERALL for f in scheme.fields):
        span = {"first_year": given.first_year, "last_year": given.last_year}
        numbers = {m: v.number for m in marks if (v := face_value(m, scheme, **span)) is not None}
        dated = [
            DatedNumber(v.number, a.kind, a.date)
            for a in anchors
            if (v := face_value(a.mark, scheme, **span)) is not None and v.number is not None
        ]
        asked = [n for n in numbers.values() if n is not None]
        if asked and len({d.number for d in dated}) > 1 and len(dated) == len(anchors):
            line = timeline(dated, asked, wandering=how, **span)
            dates = {m: line.of(n) for m, n in numbers.items() if n is not None}
            last = max(d.number for d in dated)
            beyond = {
                m: (1 if n > last else -1) if line.beyond[line.numbers.index(n)] else 0
                for m, n in numbers.items()
                if n is not None
            }
            return _Said(name, weight, line.log_gain, dates, beyond, line.doubtful_anchors)
    return _Said(name, weight, 0.0, {}, {})


def _doubtful(said: Sequence[_Said], weights: Floats, anchors: Sequence[Anchor]) -> list[str]:
    best = said[int(np.argmax(weights))]
    return [
        f"{anchor.in_words()}: this does not fit the others and is probably wrong."
        for anchor, chance in zip(anchors, best.doubtful, strict=False)
        if chance > 0.5
    ]


def stated_dates(
    candidate: Candidate, read: ReadMarks, rows: Sequence[int], given: Assumptions
) -> list[tuple[MonthDensity, bool]]:
    """What one scheme says of the dates of some of the marks, and whether it says anything.

    Misreadings, several ways to cut the mark, and the chance that it is junk are all in it; the
    other marks bear on it through the years of making they show.
    """
    scheme = candidate.scheme
    flat = MonthDensity.flat(given.first_year, given.last_year)
    cuts, summed = explain(read, scheme, given)
    found = []
    for row in rows:
        here = np.flatnonzero(cuts.report == row)
        if not len(here) or not cuts.unknowns:
            found.append((flat, False))
            continue
        years, chance = _year_posterior(cuts, summed, here)
        within = _within_year(scheme, cuts, read, given, here)
        mass = np.zeros((given.last_year - given.first_year + 1, MONTHS))
        for e in range(len(here)):
            mass[years - given.first_year] += chance[e][:, None] * within[e][None, :]
        junk = float(summed.junk_chance[row])
        total = mass.sum()
        if not total > 0:
            found.append((flat, False))
            continue
        density = MonthDensity(given.first_year, (mass / total).ravel())
        found.append((mixture([(1.0 - junk, density), (junk, flat)]), True))
    return found


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


def _grade(
    found: Comparison, parts: Sequence[StatedDate], anchors: Sequence[Anchor], *, beyond: bool
) -> tuple[Grade, list[str]]:
    saying = [part for part in parts if part.says]
    weight = sum(part.weight for part in saying)
    reasons: list[str] = []
    if len(found.reports) == 1 and not anchors:
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
    sure = (len(found.reports) > 1 or bool(anchors)) and weight >= 0.9 and not beyond
    return (Grade.INFERRED if sure else Grade.CONJECTURED), reasons
