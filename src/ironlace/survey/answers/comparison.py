"""Which way of numbering explains the reports, and how sure that is.

Every scheme is given the same reports as the same strings of glyphs and says how probable they
were, with everything it leaves open summed out (Jeffreys 1939, *Theory of Probability*; MacKay
2003, *Information Theory, Inference, and Learning Algorithms*, ch. 28). A scheme that could have
explained anything has spread its probability thin, and pays for it.
"""

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.evidence.markings import Marking
from ironlace.survey.answers.dated_evidence import (
    doubtful_dates,
    gain_of_running_numbers,
    without_dates,
)
from ironlace.survey.errors import SurveyError
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.dated_counts import LimitWithTrend
from ironlace.survey.likelihood.field_tables import LimitOfCount, YearsOfMaking
from ironlace.survey.likelihood.further_marks import Posterior
from ironlace.survey.likelihood.mark_cuts import Cuts
from ironlace.survey.likelihood.marks_as_arrays import ReadMarks, lay_out_reports
from ironlace.survey.likelihood.summed_unknowns import Summed, distinct_places, explain
from ironlace.survey.reports.table import Report
from ironlace.survey.schemes.library import (
    Candidate,
    candidates_for,
    is_without_meaning,
    rivals_without_meaning,
)
from ironlace.survey.schemes.scheme import Scheme

BAD_FIT = 0.5
"""A report whose chance of being junk under the best scheme is above this is named."""

SURPRISING = 3.5
"""So is one that is this many nats less probable than the middle one: e to the 3.5 is 33."""

_ENOUGH_FOR_A_MIDDLE = 4
"""Of three reports the middle one says nothing of the two others."""

_TOO_SMALL_TO_FEEL = 1e-7
"""Below this part of the leader's probability a theory changes no figure that is shown."""


@dataclass(frozen=True, slots=True)
class Learned:
    """What the reports say of something unknown under one scheme: a middle and 90 % bounds."""

    what: str
    low: float
    middle: float
    high: float

    def as_dict(self) -> dict[str, Any]:
        """Return it by name."""
        return {"what": self.what, "low": self.low, "middle": self.middle, "high": self.high}


@dataclass(frozen=True, slots=True)
class SchemeOdds:
    """How one scheme stands.

    Attributes
    ----------
    candidate
        The scheme as put up.
    prior
        Its probability before any report, after the charge for hindsight.
    log_evidence
        Natural logarithm of the probability of all reports under it, relative to dates that say
        nothing: the marks, and the dates that came with them given the marks.
    posterior
        Its probability after the reports.
    junk_chance
        Chance of each report to be junk were the scheme true, in the order of the reports.
    surprise
        How much less probable each report is than the middle one, in nats.
    learned
        What the reports say of its limits and years.
    state
        The posterior of everything unknown under it, for going on from here.
    """

    candidate: Candidate
    prior: float
    log_evidence: float
    posterior: float
    junk_chance: tuple[float, ...]
    surprise: tuple[float, ...]
    learned: tuple[Learned, ...]
    state: Posterior = field(repr=False, compare=False)

    @property
    def name(self) -> str:
        """Name of the scheme."""
        return self.candidate.name

    def as_dict(self) -> dict[str, Any]:
        """Return it by name."""
        return {
            "name": self.name,
            "scheme": str(self.candidate.scheme),
            "in_words": self.candidate.scheme.in_words(),
            "rival_without_meaning": self.candidate.rival,
            "thought_of_after_first_number": self.candidate.hindsight,
            "prior_weight": self.candidate.weight,
            "prior": self.prior,
            "log_evidence": self.log_evidence,
            "posterior": self.posterior,
            "learned": [item.as_dict() for item in self.learned],
        }


@dataclass(frozen=True)
class Comparison:
    """All schemes against all reports.

    Attributes
    ----------
    reports
        The reports compared, in order; the first is the one that suggested the schemes.
    assumptions
        What was taken for granted.
    results
        One for each scheme, most probable first.
    """

    reports: tuple[Report, ...]
    assumptions: Assumptions
    results: tuple[SchemeOdds, ...]

    @property
    def best(self) -> SchemeOdds:
        """The most probable scheme."""
        return self.results[0]

    def of(self, name: str) -> SchemeOdds:
        """Return the result of one scheme by name. Raises SurveyError when there is none."""
        for result in self.results:
            if result.name == name:
                return result
        raise SurveyError(
            f"'{name}' was not compared; these were: {', '.join(r.name for r in self.results)}."
        )

    def called(self, name: str) -> str:
        """What the scheme of this name is called before a person, told apart from all others.

        Raises SurveyError when it was not compared.
        """
        return self._called[self.of(name).name]

    @cached_property
    def _called(self) -> Mapping[str, str]:
        brief = Counter(result.candidate.called for result in self.results)
        full = Counter(result.candidate.scheme.in_words() for result in self.results)
        words = {}
        for result in self.results:
            scheme, called = result.candidate.scheme, result.candidate.called
            if brief[called] > 1:  # as many groups of the same meaning: the separators differ
                called = scheme.in_words() if full[scheme.in_words()] == 1 else str(scheme)
            words[result.name] = called
        return words

    @property
    def odds(self) -> float:
        """Odds of the best scheme against all others together."""
        rest = sum(result.posterior for result in self.results[1:])
        return self.best.posterior / rest if rest > 0 else math.inf

    @property
    def odds_against_rivals(self) -> float:
        """Odds of the best meaningful scheme against codes without meaning; nan without either."""
        rivals = [r for r in self.results if r.candidate.rival]
        meant = [r for r in self.results if not r.candidate.rival]
        if not rivals or not meant:
            return math.nan
        without = sum(r.posterior for r in rivals)
        return meant[0].posterior / without if without > 0 else math.inf

    @property
    def badly_fitting(self) -> tuple[str, ...]:
        """Ids of reports that the best scheme explains only as misread, worn or not of this maker.

        Their chance of being junk is above a half, or they are far less probable than the middle
        report (asked only of four reports or more).
        """
        enough = len(self.reports) >= _ENOUGH_FOR_A_MIDDLE
        return tuple(
            report.id
            for report, junk, surprise in zip(
                self.reports, self.best.junk_chance, self.best.surprise, strict=True
            )
            if junk > BAD_FIT or (enough and surprise > SURPRISING)
        )

    @property
    def doubtful_dates(self) -> tuple[str, ...]:
        """Ids of reports whose date is probably wrong, were the best scheme true."""
        doubtful = doubtful_dates(self.best.candidate, self.reports, self.assumptions)
        return tuple(name for name, _ in doubtful)

    def more_reports_for(self, odds: float) -> int | None:
        """About how many more reports as telling as these the best scheme needs for such odds.

        None when one report is all there is, or they do not favour it. A rule of thumb for
        programs: the mean gain of the reports so far goes on. What a person is told is drawn by
        `next_report`, so that one figure stands wherever the question is answered.
        """
        if len(self.reports) < 2 or len(self.results) < 2:
            return None
        rival = self.results[1]
        gain = (self.best.log_evidence - rival.log_evidence) / len(self.reports)
        missing = math.log(odds) - math.log(self.odds) if self.odds > 0 else math.inf
        if missing <= 0:
            return 0
        return math.ceil(missing / gain) if gain > 0 else None

    def sentences(self) -> list[str]:
        """Say the result plainly, strongest statement first, with what weakens it."""
        return _sentences(self)

    def as_dict(self) -> dict[str, Any]:
        """Return everything a page needs, as plain values."""
        return {
            "reports": [
                {
                    "id": report.id,
                    "mark": str(report.mark),
                    "junk_chance_under_best": junk,
                    "surprise_under_best": surprise,
                }
                for report, junk, surprise in zip(
                    self.reports, self.best.junk_chance, self.best.surprise, strict=True
                )
            ],
            "assumptions": self.assumptions.as_dict(),
            "schemes": [result.as_dict() for result in self.results],
            "best": self.best.name,
            "odds_best_against_all_others": _finite(self.odds),
            "odds_against_codes_without_meaning": _finite(self.odds_against_rivals),
            "badly_fitting": list(self.badly_fitting),
            "doubtful_dates": list(self.doubtful_dates),
            "one_report_only": len(self.reports) == 1,
            "more_reports_for_odds": {
                "20": self.more_reports_for(20.0),
                "100": self.more_reports_for(100.0),
            },
            "sentences": self.sentences(),
        }


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def compare(
    reports: Sequence[Report],
    schemes: Iterable[Candidate | Scheme | str] | None = None,
    assumptions: Assumptions | None = None,
) -> Comparison:
    r"""Compare ways of numbering by how well they explain reports.

    Parameters
    ----------
    reports
        Reports of distinct machines; the first is taken to have suggested the schemes.
    schemes
        Candidates, schemes or lines of text; the library's patterns when left out. Codes without
        meaning are always added when they are missing.
    assumptions
        Rates and limits; `Assumptions()` when left out.

    Raises
    ------
    SurveyError
        When there is no report.

    >>> from ironlace.survey.reports.table import read_reports
    >>> found = compare(read_reports("id,mark\nA,4.96.217\n").reports)
    >>> found.sentences()[0]
    'One report cannot show how a maker numbered: this very number suggested the readings.'
    """
    if not reports:
        raise SurveyError("There is no report to compare with: add at least one mark.")
    given = assumptions or Assumptions()
    candidates = assemble([r.mark for r in reports], schemes)
    read = lay_out_reports(reports, given)
    return compare_read(tuple(reports), read, candidates, given)


def assemble(
    marks: Sequence[Marking], schemes: Iterable[Candidate | Scheme | str] | None
) -> tuple[Candidate, ...]:
    """Make candidates of what was given, and add the rivals without meaning."""
    if schemes is None:
        return candidates_for(marks)
    found: dict[str, Candidate] = {}
    for item in schemes:
        candidate = _candidate(item)
        found.setdefault(str(candidate.scheme), candidate)
    for rival in rivals_without_meaning(marks):
        found.setdefault(str(rival.scheme), rival)
    return tuple(found.values())


def _candidate(item: Candidate | Scheme | str) -> Candidate:
    if isinstance(item, Candidate):
        return item
    scheme = Scheme.parse(item) if isinstance(item, str) else item
    without = is_without_meaning(scheme)
    return Candidate(str(scheme), scheme, hindsight=not without, rival=without)


def compare_read(
    reports: tuple[Report, ...],
    read: ReadMarks,
    candidates: Sequence[Candidate],
    assumptions: Assumptions,
) -> Comparison:
    """Compare with marks already laid out; for runs over many assumptions."""
    explained = [explain(read, candidate.scheme, assumptions) for candidate in candidates]
    cuts = [c for c, _ in explained]
    summed = [s for _, s in explained]
    priors = prior_probabilities(candidates, assumptions)
    evidence = np.array([s.log_evidence for s in summed])
    if read.dated:
        evidence += _gains_on_a_line(
            reports, read, candidates, assumptions, np.log(priors) + evidence
        )
    posterior = posterior_probabilities(priors, evidence)
    results = [
        SchemeOdds(
            candidate,
            float(prior),
            float(log_evidence),
            float(after),
            tuple(float(j) for j in s.junk_chance),
            tuple(float(x) for x in np.median(s.report_log) - s.report_log),
            learned_from(c, s),
            Posterior(s.places, s.weights),
        )
        for candidate, prior, s, log_evidence, after, c in zip(
            candidates, priors, summed, evidence, posterior, cuts, strict=True
        )
    ]
    results.sort(key=lambda r: (-round(r.posterior, 6), r.candidate.rival, r.name))
    return Comparison(reports, assumptions, tuple(results))


def _gains_on_a_line(
    reports: tuple[Report, ...],
    read: ReadMarks,
    candidates: Sequence[Candidate],
    assumptions: Assumptions,
    so_far: Floats,
) -> Floats:
    """What dates say for schemes that number on, where the most they could say would be felt."""
    most = sum(math.log(float(told.max())) for told in read.dated.values())
    felt = so_far + most > so_far.max() + math.log(_TOO_SMALL_TO_FEEL)
    return np.array(
        [
            gain_of_running_numbers(candidate, reports, assumptions) if worth else 0.0
            for candidate, worth in zip(candidates, felt, strict=True)
        ]
    )


def prior_probabilities(
    candidates: Sequence[Candidate], assumptions: Assumptions
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Prior probability of each candidate: its weight, divided by the charge for hindsight."""
    weights = np.array(
        [c.weight / (assumptions.hindsight_factor if c.hindsight else 1.0) for c in candidates]
    )
    return np.asarray(weights / weights.sum())


def posterior_probabilities(
    priors: np.ndarray[tuple[int], np.dtype[np.float64]],
    log_evidence: np.ndarray[tuple[int], np.dtype[np.float64]],
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Posterior probability of each candidate."""
    logs = np.log(priors) + log_evidence
    weights = np.exp(logs - logs.max())
    return np.asarray(weights / weights.sum())


def learned_from(cuts: Cuts, summed: Summed) -> tuple[Learned, ...]:
    """Summarise limits and years under the posterior."""
    found = []
    for unknown, places in zip(cuts.unknowns, summed.places, strict=True):
        if isinstance(unknown, LimitOfCount):
            low, middle, high = _quantiles(np.exp(places[:, 1]), summed.weights)
            found.append(Learned(unknown.name, round(low), round(middle), round(high)))
        elif isinstance(unknown, LimitWithTrend):
            limits = unknown.usual_limits(places)
            low, middle, high = _quantiles(limits, summed.weights)
            found.append(Learned(unknown.name, round(low), round(middle), round(high)))
        elif isinstance(unknown, YearsOfMaking):
            cells, which = distinct_places(places)
            mass = np.bincount(which, summed.weights)
            chances = np.stack(
                [unknown.year_chances(c[1:], int(c[0]))[:, 0] for c in cells], axis=1
            )
            low, middle, high = _quantiles(unknown.values.astype(float), chances @ mass)
            found.append(Learned(unknown.name, low, middle, high))
    return tuple(found)


def _quantiles(values: Any, weights: Any) -> tuple[float, float, float]:
    order = np.argsort(values)
    reached = np.cumsum(np.asarray(weights)[order])
    places = np.searchsorted(reached, np.array([0.05, 0.5, 0.95]) * reached[-1])
    low, middle, high = np.asarray(values)[order][np.minimum(places, len(order) - 1)]
    return float(low), float(middle), float(high)


def times(ratio: float) -> str:
    """Say a ratio as a person would."""
    if not math.isfinite(ratio) or ratio >= 1e6:
        return "more than a million"
    if ratio >= 100:
        return f"{float(f'{ratio:.2g}'):,.0f}"
    return f"{ratio:.0f}" if ratio >= 10 else f"{ratio:.1f}"


def as_likely(odds: float) -> str:
    """Say the odds of one theory against the rest; the one place where this is said.

    >>> as_likely(2.2)
    '2.2 times as likely as all the others together'
    """
    if odds >= 1:
        return f"{times(odds)} times as likely as all the others together"
    return f"{times(1.0 / max(odds, 1e-12))} times less likely than all the others together"


def _sentences(found: Comparison) -> list[str]:
    said: list[str] = []
    if len(found.reports) == 1:
        said.append(
            "One report cannot show how a maker numbered: this very number suggested the readings."
        )
    if len(found.results) == 1:
        said.append("Only one theory was put up, so there is nothing to compare it with.")
        return said
    return [*said, _stands(found), _next_comes(found), *_begun_behind(found), *_fits_ill(found)]


def _stands(found: Comparison) -> str:
    """How the leading theory stands against the others."""
    best, second = found.best, found.results[1]
    reading = found.called(best.name)
    if best.candidate.rival:
        ratio = times(best.posterior / max(second.posterior, 1e-300))
        return (
            f"No reading with a meaning beats codes that mean nothing: '{reading}' is {ratio} "
            f"times as likely as '{found.called(second.name)}'."
        )
    if found.odds >= 1:
        return (
            f"'{reading}' is the best supported: {as_likely(found.odds)}, "
            f"{times(found.odds_against_rivals)} times as likely as codes without meaning."
        )
    return (
        f"'{reading}' leads with {percent(best.posterior)}, but the others together are more "
        "likely."
    )


def _next_comes(found: Comparison) -> str:
    best, second = found.results[:2]
    return (
        f"Next comes '{found.called(second.name)}' with {percent(second.posterior)}; "
        f"'{found.called(best.name)}' has {percent(best.posterior)}."
    )


def _begun_behind(found: Comparison) -> list[str]:
    """What the leading theory was handicapped by: hindsight is charged to who had it."""
    charge = found.assumptions.hindsight_factor
    if not found.best.candidate.hindsight or charge <= 1:
        return []
    if found.best.candidate.known:
        return [
            f"Readings with a meaning began {charge:g} times less likely than codes and plain "
            "running numbers, since many could be found that fit one number."
        ]
    return [
        f"The charge for hindsight: it began {charge:g} times less likely, because it was thought "
        "of after the first number was seen."
    ]


def _fits_ill(found: Comparison) -> list[str]:
    """The reports that the leading theory does not explain, and what the dates say."""
    said = []
    doubted = found.doubtful_dates
    if ill := [name for name in found.badly_fitting if name not in doubted]:
        named = ", ".join(ill[:5])
        more = len(ill) - 5
        said.append(
            f"'{found.called(found.best.name)}' explains "
            f"{named}{f' and {more} more' if more > 0 else ''} only as misread, worn or not of "
            "this maker: look at those marks again."
        )
    return said + _dates_say(found)


_DATES_TELL = math.log(2.0)
"""Dates that move the odds by less than two to one are not worth a sentence; a judgement."""


def _dates_say(found: Comparison) -> list[str]:
    """What the dates that came with reports did to the odds of the first two, and which fit ill."""
    dated = sum(report.dated is not None for report in found.reports)
    if not dated:
        return []
    first, second = found.results[:2]
    marks_alone = compare_read(
        without_dates(found.reports),
        lay_out_reports(without_dates(found.reports), found.assumptions),
        [first.candidate, second.candidate],
        found.assumptions,
    )
    gained = [r.log_evidence - marks_alone.of(r.name).log_evidence for r in (first, second)]
    moved = gained[0] - gained[1]
    came = "The date that came with a report" if dated == 1 else f"The {dated} dates with reports"
    said = []
    if abs(moved) > _DATES_TELL:
        way = "for" if moved > 0 else "against"
        said.append(
            f"{came} {'speaks' if dated == 1 else 'speak'} {way} "
            f"'{found.called(first.name)}': it becomes {times(math.exp(min(abs(moved), 100.0)))} "
            f"times {'more' if moved > 0 else 'less'} likely beside "
            f"'{found.called(second.name)}' than by the marks alone."
        )
    if wrong := found.doubtful_dates:
        more = f" and {len(wrong) - 5} more" if len(wrong) > 5 else ""
        said.append(
            f"The date that came with {', '.join(wrong[:5])}{more} does not fit "
            f"'{found.called(first.name)}' and is probably wrong: look at it again."
        )
    return said


def percent(p: float) -> str:
    """Say a probability as a person would.

    >>> percent(0.5), percent(0.0001)
    ('50.0 %', 'less than 0.1 %')
    """
    if p > 0.999:
        return "more than 99.9 %"
    return f"{p:.1%}".replace("%", " %") if p >= 0.001 else "less than 0.1 %"
