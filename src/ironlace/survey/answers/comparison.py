"""Which way of numbering explains the reports, and how sure that is.

Every scheme is given the same reports as the same strings of glyphs and says how probable they
were, with everything it leaves open summed out (Jeffreys 1939, *Theory of Probability*; MacKay
2003, *Information Theory, Inference, and Learning Algorithms*, ch. 28). A scheme that could have
explained anything has spread its probability thin, and pays for it.
"""

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.evidence.markings import Marking
from ironlace.evidence.wording import counted
from ironlace.survey.answers.dated_evidence import (
    MOST_ON_A_LINE,
    doubtful_dates,
    gain_of_running_numbers,
    without_dates,
)
from ironlace.survey.answers.other_readings import (
    OtherReading,
    chances_as_read,
    other_reading,
)
from ironlace.survey.answers.struck_year import StruckYear, meaning_of_year
from ironlace.survey.errors import SurveyError
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.dated_counts import LimitWithTrend
from ironlace.survey.likelihood.field_tables import LimitOfCount, YearsOfMaking
from ironlace.survey.likelihood.further_marks import Posterior
from ironlace.survey.likelihood.many_reports import Explained, explain_all
from ironlace.survey.likelihood.mark_cuts import Cuts
from ironlace.survey.likelihood.marks_as_arrays import ReadMarks, lay_out_reports
from ironlace.survey.likelihood.summed_unknowns import Summed, distinct_places
from ironlace.survey.reports.anchors import Anchor, anchors_of
from ironlace.survey.reports.strings_read import left_to_others, written
from ironlace.survey.reports.table import Report
from ironlace.survey.schemes.library import (
    Candidate,
    as_marks_show_it,
    candidates_for,
    is_without_meaning,
)
from ironlace.survey.schemes.scheme import FieldKind, Scheme

_ALL_OTHERS = "all the others together"

_TOO_MANY = 200
"""So many more reports as telling as those so far are no plan for anyone; a judgement."""

_MOST_LOOKED_AT = 20
"""So many ill-fitting reports are offered with another reading."""

_MOST_READ_AGAIN = 2_000
"""Up to so many reports each is asked whether it was struck as it is read: of more, theories have
learned from so many that those which fit ill stand out."""

_MOST_LISTED = 200_000
"""Of more reports those that fit ill are listed: a list of a million takes longer than the rest."""

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
        Chance of each report to be junk were the scheme true, in the order of the reports, shape
        (reports,); of a scheme given up on a sample, none.
    surprise
        How much less probable each report is than the middle one, in nats; shape as before.
    learned
        What the reports say of its limits and years.
    state
        The posterior of everything unknown under it, for going on from here.
    weighed_on
        On how many reports it was weighed; fewer than there are when it was given up on a sample,
        and its evidence is then reckoned from that.
    """

    candidate: Candidate
    prior: float
    log_evidence: float
    posterior: float
    junk_chance: Floats = field(repr=False, compare=False)
    surprise: Floats = field(repr=False, compare=False)
    learned: tuple[Learned, ...]
    state: Posterior = field(repr=False, compare=False)
    weighed_on: int = 0

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
            "weighed_on": self.weighed_on,
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

    def doubted_year(
        self, scheme: Scheme, anchors: Sequence[Anchor] | None = None
    ) -> StruckYear | None:
        """What the year that marks state under a scheme may be beside that of making.

        None where it may be taken for that. `anchors` are the dates known, those of the reports if
        left out.
        """
        given = self.assumptions
        found = meaning_of_year(
            scheme,
            [report.mark for report in self.reports],
            anchors_of(self.reports) if anchors is None else anchors,
            period=(given.first_year, given.last_year),
            wrong_date=given.wrong_date_rate,
        )
        return None if found is None or found.is_borne_out else found

    def no_date_bears_it_out(self, anchors: Sequence[Anchor] = ()) -> bool:
        """Whether marks alone say that the figures are months or weeks, and years.

        No mark can contradict it: a bench from 1 to 12 and a batch from 60 to 99 look the same.
        """
        kinds = {field.kind for field in self.best.candidate.scheme.fields}
        reads_months = bool(kinds & {FieldKind.MONTH, FieldKind.WEEK}) and FieldKind.YEAR in kinds
        return reads_months and not (anchors or anchors_of(self.reports))

    @cached_property
    def year_in_doubt(self) -> StruckYear | None:
        """The same under the leading scheme."""
        return self.doubted_year(self.best.candidate.scheme)

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

    @cached_property
    def never_parted(self) -> tuple[tuple[str, ...], ...]:
        """Names of schemes that no mark can ever part, class by class; those of one are left out.

        What parts them must come with a machine: a date.
        """
        classes: dict[str, list[str]] = {}
        for result in self.results:
            classes.setdefault(as_marks_show_it(result.candidate.scheme), []).append(result.name)
        return tuple(tuple(names) for names in classes.values() if len(names) > 1)

    def beside(self, name: str) -> tuple[str, ...]:
        """Names of the other schemes that no mark can part from this one."""
        here = next((names for names in self.never_parted if name in names), ())
        return tuple(other for other in here if other != name)

    @cached_property
    def _with_best(self) -> frozenset[str]:
        return frozenset((self.best.name, *self.beside(self.best.name)))

    @property
    def others(self) -> tuple[SchemeOdds, ...]:
        """The schemes that marks can part from the best one."""
        return tuple(r for r in self.results if r.name not in self._with_best)

    @property
    def odds(self) -> float:
        """Odds of the best scheme against all others together.

        Schemes that no mark can part from it stand with it, not against it.
        """
        mine = sum(r.posterior for r in self.results if r.name in self._with_best)
        rest = sum(r.posterior for r in self.others)
        return mine / rest if rest > 0 else math.inf

    @property
    def against(self) -> str:
        """Against what the odds of the best scheme are, in words."""
        listed = sum(r.candidate.known or r.candidate.rival for r in self.others)
        own = len(self.others) - listed
        if not listed or not any(r.candidate.known for r in self.results):
            return _ALL_OTHERS
        if own:
            return f"{counted(own, 'other')} of yours and the {listed} of the list together"
        if self.best.candidate.known or self.best.candidate.rival:
            return f"the {listed} others of the list together"
        return f"the {listed} of the list together"

    @property
    def odds_against_rivals(self) -> float:
        """Odds of the best meaningful scheme against codes without meaning; nan without either."""
        rivals = [r for r in self.results if r.candidate.rival]
        meant = [r for r in self.results if not r.candidate.rival]
        if not rivals or not meant:
            return math.nan
        without = sum(r.posterior for r in rivals)
        return meant[0].posterior / without if without > 0 else math.inf

    @cached_property
    def badly_fitting(self) -> tuple[str, ...]:
        """Ids of reports that the best scheme explains only as misread, worn or not of this maker.

        Their chance of being junk is above a half, or they are far less probable than the middle
        report (asked only of four reports or more), or they were hardly struck as they are read.
        """
        best = self.best
        ill = best.junk_chance > BAD_FIT
        if len(self.reports) >= _ENOUGH_FOR_A_MIDDLE:
            ill |= best.surprise > SURPRISING
        if 1 < len(self.reports) <= _MOST_READ_AGAIN and len(ill):
            plain = np.flatnonzero([not report.strings for report in self.reports])
            marks = [self.reports[i].mark for i in plain.tolist()]
            scheme, given = best.candidate.scheme, self.assumptions
            if marks:
                ill[plain] |= chances_as_read(marks, scheme, best.state, given) < BAD_FIT
        return tuple(self.reports[i].id for i in np.flatnonzero(ill).tolist())

    @property
    def explains_few(self) -> bool:
        """Whether even the best scheme takes most of the reports for misread or not of this maker.

        Its odds then say only that the others are no better.
        """
        return 2 * len(self.badly_fitting) > len(self.reports)

    @cached_property
    def doubtful_dates(self) -> tuple[str, ...]:
        """Ids of reports whose date is probably wrong, were the best scheme true."""
        doubtful = doubtful_dates(self.best.candidate, self.reports, self.assumptions)
        return tuple(name for name, _ in doubtful)

    def more_reports_for(self, odds: float) -> int | None:
        """About how many more reports as telling as these the best scheme needs for such odds.

        None when one report is all there is, when they do not favour it, or when no number of marks
        can tell (`never_parted`). A rule of thumb for programs: the mean gain of the reports so far
        goes on. What a person is told is drawn by `next_report`, so that one figure stands wherever
        the question is answered.
        """
        if len(self.reports) < 2 or not self.others or len(self._with_best) > 1:
            return None
        rival = self.others[0]
        gain = (self.best.log_evidence - rival.log_evidence) / len(self.reports)
        missing = math.log(odds) - math.log(self.odds) if self.odds > 0 else math.inf
        if missing <= 0:
            return 0
        needed = math.ceil(missing / gain) if gain > 0 else _TOO_MANY
        return needed if needed < _TOO_MANY else None

    @cached_property
    def other_readings(self) -> tuple[OtherReading, ...]:
        """The likeliest other reading of each ill-fitting report, where one fits better."""
        ill = set(self.badly_fitting[:_MOST_LOOKED_AT])
        best = self.best
        found = [
            other_reading(
                report.id, report.mark, best.candidate.scheme, best.state, self.assumptions
            )
            for report in self.reports
            if report.id in ill
        ]
        return tuple(other for other in found if other is not None)

    def sentences(self) -> list[str]:
        """Say the result plainly, strongest statement first, with what weakens it."""
        return _sentences(self)

    def as_dict(self) -> dict[str, Any]:
        """Return everything a page needs, as plain values."""
        listed = set(self.badly_fitting) if len(self.reports) > _MOST_LISTED else None
        return {
            "reports": [
                {
                    "id": report.id,
                    "mark": str(report.mark),
                    **({"strings": written(report.strings)} if report.strings else {}),
                    "junk_chance_under_best": junk,
                    "surprise_under_best": surprise,
                }
                for report, junk, surprise in zip(
                    self.reports,
                    self.best.junk_chance.tolist(),
                    self.best.surprise.tolist(),
                    strict=True,
                )
                if listed is None or report.id in listed
            ],
            "reports_are": "all" if listed is None else "those that fit ill",
            "assumptions": self.assumptions.as_dict(),
            "schemes": [result.as_dict() for result in self.results],
            "best": self.best.name,
            "odds_best_against_all_others": _finite(self.odds),
            "odds_are_against": self.against,
            "never_parted_by_marks": [list(names) for names in self.never_parted],
            "other_readings": [other.as_dict() for other in self.other_readings],
            "odds_against_codes_without_meaning": _finite(self.odds_against_rivals),
            "badly_fitting": list(self.badly_fitting),
            "doubtful_dates": list(self.doubtful_dates),
            "one_report_only": len(self.reports) == 1,
            "more_reports_for_odds": {
                "20": self.more_reports_for(20.0),
                "100": self.more_reports_for(100.0),
            },
            "more_reports_for_odds_is": "a rule of thumb: the mean gain so far goes on; the figure "
            "drawn from the theories stands under next",
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
        Candidates, schemes or lines of text. They stand beside the library's patterns and the codes
        without meaning, never instead of them: a theory that beats only what was put up with it
        has not been shown.
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
    """Make candidates of what was given; the list known of the period always stands beside them."""
    listed = candidates_for(marks)
    if schemes is None:
        return listed
    standing = {str(candidate.scheme): candidate for candidate in listed}
    found: dict[str, Candidate] = {}
    for item in schemes:
        candidate = _candidate(item)
        text = str(candidate.scheme)
        if text in standing and not standing[text].hindsight:
            # what stands in the list without a charge was not thought of for these numbers
            candidate = replace(candidate, hindsight=False)
        found.setdefault(text, candidate)
    named = {candidate.name for candidate in found.values()}
    for text, candidate in standing.items():
        name = candidate.name if candidate.name not in named else f"{candidate.name} of the list"
        found.setdefault(text, replace(candidate, name=name))
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
    priors = prior_probabilities(candidates, assumptions)
    schemes = [c.scheme for c in candidates]
    explained = explain_all(read, schemes, np.log(priors), assumptions, learned_from)
    evidence = np.array([one.log_evidence for one in explained])
    if read.dated:
        evidence += _gains_on_a_line(
            reports, read, candidates, assumptions, np.log(priors) + evidence
        )
    posterior = posterior_probabilities(priors, evidence)
    results = [
        _odds(candidate, float(prior), float(log_evidence), float(after), one, read)
        for candidate, prior, one, log_evidence, after in zip(
            candidates, priors, explained, evidence, posterior, strict=True
        )
    ]
    results.sort(key=lambda r: (-round(r.posterior, 6), r.candidate.rival, r.name))
    return Comparison(reports, assumptions, tuple(results))


def _odds(
    candidate: Candidate,
    prior: float,
    log_evidence: float,
    posterior: float,
    found: Explained[tuple[Learned, ...]],
    read: ReadMarks,
) -> SchemeOdds:
    """How one scheme stands, with what it says of each report."""
    junk = surprise = np.zeros(0)
    if found.weighed_on == read.reports:
        junk = read.of_reports(found.summed.junk_chance)
        log = read.of_reports(found.summed.report_log)
        surprise = np.asarray(np.median(log) - log)
    return SchemeOdds(
        candidate,
        prior,
        log_evidence,
        posterior,
        junk,
        surprise,
        found.learned,
        Posterior(found.summed.places, found.summed.weights),
        found.weighed_on,
    )


def _gains_on_a_line(
    reports: tuple[Report, ...],
    read: ReadMarks,
    candidates: Sequence[Candidate],
    assumptions: Assumptions,
    so_far: Floats,
) -> Floats:
    """What dates say for schemes that number on, where the most they could say would be felt."""
    each = sorted(
        (log for row, log in _most_told(read).items() for _ in range(round(read.weights[row]))),
        reverse=True,
    )
    most = sum(each[:MOST_ON_A_LINE])
    felt = so_far + most > so_far.max() + math.log(_TOO_SMALL_TO_FEEL)
    return np.array(
        [
            gain_of_running_numbers(candidate, reports, assumptions) if worth else 0.0
            for candidate, worth in zip(candidates, felt, strict=True)
        ]
    )


def _most_told(read: ReadMarks) -> dict[int, float]:
    """The most that the date of each dated row can say, of the logarithm."""
    by_date = {id(told): math.log(float(told.max())) for told in read.dated.values()}
    return {row: by_date[id(told)] for row, told in read.dated.items()}


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


def as_likely(odds: float, against: str = _ALL_OTHERS) -> str:
    """Say the odds of one theory against the rest; the one place where this is said.

    >>> as_likely(2.2)
    '2.2 times as likely as all the others together'
    >>> as_likely(1.03)
    'about as likely as all the others together'
    >>> as_likely(0.25)
    'less likely than all the others together: 20.0 % to their 80.0 %'
    """
    if times(max(odds, 1.0 / max(odds, 1e-12))) == "1.0":
        return f"about as likely as {against}"
    if odds >= 1:
        return f"{times(odds)} times as likely as {against}"
    # a ratio below one beside a share of one half is read as a contradiction: shares, not ratios
    share = odds / (1.0 + odds)
    return f"less likely than {against}: {percent(share)} to their {percent(1.0 - share)}"


def _sentences(found: Comparison) -> list[str]:
    said: list[str] = []
    if len(found.reports) == 1:
        said.append(
            "One report cannot show how a maker numbered: this very number suggested the readings."
        )
    if len(found.results) == 1:
        said.append("Only one theory was put up, so there is nothing to compare it with.")
        return said
    said.append(_stands(found))
    if found.year_in_doubt is not None:
        said.append(f"{found.year_in_doubt.why}.")
    said += _yours(found)
    if found.year_in_doubt is None and found.no_date_bears_it_out():
        said.append(f"T{IF_NO_DATE_BEARS_IT_OUT[1:]}.")
    said += [_next_comes(found), what_would_settle(found)]
    said += [*_one_suggested(found), *_begun_behind(found), *_fits_ill(found)]
    said += _with_chances(found.reports)
    return [*said, *_given_up(found)]


def _stands(found: Comparison) -> str:
    """How the leading theory stands against the others."""
    best = found.best
    reading = found.called(best.name)
    beside = found.beside(best.name)
    if found.explains_few:
        return (
            f"No theory of the list explains these marks: even '{reading}', with "
            f"{percent(best.posterior)} the likeliest, takes {len(found.badly_fitting):,} of "
            f"{len(found.reports):,} for misread, worn or not of this maker."
        )
    if beside:
        held = sum(found.of(name).posterior for name in (best.name, *beside))
        others = " and ".join(f"'{found.called(name)}'" for name in beside)
        stand = (
            "but the others together are more likely"
            if found.odds < 1
            else as_likely(found.odds, found.against)
        )
        return (
            f"'{reading}' and {others} fit every mark equally well, and which of them it is no "
            f"mark can tell: together {percent(held)}, {stand}."
        )
    if best.candidate.rival:
        said = "As far as these marks show, they tell neither a date nor a number made"
        meant = next((r for r in found.others if not r.candidate.rival), None)
        if meant is None:
            return f"{said}: '{reading}' explains them best."
        ratio = times(best.posterior / max(meant.posterior, 1e-300))
        return (
            f"{said}: '{reading}' is {ratio} times as likely as the best reading with a meaning, "
            f"'{found.called(meant.name)}'."
        )
    taken = _for_misread(found)
    if found.odds >= 1:
        return (
            f"'{reading}' explains the marks best: {percent(best.posterior)}, "
            f"{as_likely(found.odds, found.against)}{taken}."
        )
    return (
        f"'{reading}' leads with {percent(best.posterior)}, but the others together are more "
        f"likely{taken}."
    )


def _for_misread(found: Comparison) -> str:
    """How many marks the leading theory does not explain, where that is a large part of them."""
    ill, of = len(found.badly_fitting), len(found.reports)
    if ill < _SOME or ill < _LARGE_PART * of:
        return ""
    return f"; but it takes {ill:,} of {of:,} for misread, worn or not of this maker"


_SOME = 2
"""One mark that does not fit is named further down."""

_LARGE_PART = 0.25
"""Marks that a theory does not explain belong beside its odds from this share on: more are misread
in no survey that people handled with care; a judgement."""


def _yours(found: Comparison) -> list[str]:
    """How a person's own theories stand, where none of them is named in the lines beside."""
    own = [r for r in found.results if not (r.candidate.known or r.candidate.rival)]
    named = (found.best, *found.others[:1])
    if not own or any(r in named for r in own) or own[0].name in found.beside(found.best.name):
        return []
    best = own[0]
    ratio = times(found.best.posterior / max(best.posterior, 1e-300))
    of = "Your own" if len(own) == 1 else f"The likeliest of your {len(own)} own"
    return [
        f"{of}, '{found.called(best.name)}', has {percent(best.posterior)}: {ratio} times less "
        "likely than that."
    ]


def _next_comes(found: Comparison) -> str:
    if not found.others:
        return "No other theory was put up beside these."
    best, second = found.best, found.others[0]
    said = f"Next comes '{found.called(second.name)}' with {percent(second.posterior)}"
    without = found.odds_against_rivals
    if best.candidate.rival or second.candidate.rival or found.beside(best.name):
        return f"{said}."
    if not math.isfinite(without):
        return f"{said}."
    if times(max(without, 1.0 / max(without, 1e-12))) == "1.0":
        return f"{said}; codes that mean nothing are about as likely as the first."
    if without < 1:
        held = sum(r.posterior for r in found.results if r.candidate.rival)
        return (
            f"{said}; codes that mean nothing have more than the first, {percent(held)} together."
        )
    return f"{said}; codes that mean nothing are {times(without)} times less likely than the first."


DATES_OF_A_FEW = (
    "Ask next for machines that came with a date: two or three tell whether the year struck is "
    "that of making."
)
"""What settles whether a struck year is that of making."""

IF_NO_DATE_BEARS_IT_OUT = (
    "that hangs on the look of the marks alone, since a bench and a batch may look like a month "
    "and a year, and no machine that came with a date bears it out"
)
"""What is to be known of a date read off marks that no dated machine has tested."""


def what_would_settle(found: Comparison) -> str:
    """What to ask for next, in a sentence, as far as the odds alone can say."""
    if found.explains_few:
        return (
            "Look again at the marks, and whether all are of one maker; or put up a theory of your "
            "own beside those of the list."
        )
    if found.beside(found.best.name):
        return (
            "No number of marks alone can tell these apart: ask for machines that came with a date "
            "(a receipt, a dated letter); dates that rise with the numbers would."
        )
    if found.odds >= _SETTLED and len(found.reports) > 1:
        if found.best.candidate.rival:
            return (
                "If you expected a date, look again at the marks, at the dates that came with "
                "them, and whether all are of one maker."
            )
        if found.year_in_doubt is not None or found.no_date_bears_it_out():
            return DATES_OF_A_FEW
        return "Nothing more is needed for this question; look again at any mark that fits ill."
    return (
        "Ask next for more machines' marks, read glyph by glyph with their dots, and for any that "
        "came with a date."
    )


def _given_up(found: Comparison) -> list[str]:
    """Say which part of the reports theories were given up on."""
    few = [r.weighed_on for r in found.results if 0 < r.weighed_on < len(found.reports)]
    if not few:
        return []
    return [
        f"{len(few)} of the theories were weighed on {max(few):,} reports only, spread evenly over "
        "all, and fell so far behind on them that the others cannot help."
    ]


_HALF = 0.5
"""A reading that leaves more than this to strings it does not tell says little; a judgement."""


def _with_chances(reports: Sequence[Report]) -> list[str]:
    """Say which reports are read with chances, and of which little can be told."""
    read = [(r, left_to_others(r.strings)) for r in reports if r.strings]
    if not read:
        return []
    first, left = read[0]
    best = first.strings[0]
    count = "1 report is" if len(read) == 1 else f"{len(read):,} reports are"
    said = (
        f"{count} weighed as read with chances, such as {first.id}: {best.mark} with "
        f"{percent(best.chance)}, {percent(left)} left to strings that are not told."
    )
    vague = [report.id for report, rest in read if rest > _HALF]
    if vague:
        more = f" and {len(vague) - 5} more" if len(vague) > 5 else ""
        said += (
            f" Most is left so in {', '.join(vague[:5])}{more}: of these plates little can be told."
        )
    return [said]


_SETTLED = 100.0
"""Odds from which a question is taken for settled, as in `next_report`."""


_FEW = 5
"""Up to so many reports the one that suggested the theories is a large part of what speaks."""


def _one_suggested(found: Comparison) -> list[str]:
    """Say of a few reports that one of them is no test of what it suggested."""
    if not 1 < len(found.reports) <= _FEW:
        return []
    others = len(found.reports) - 1
    return [
        f"The first report, {found.reports[0].id}, suggested the readings and so cannot test them: "
        f"only {'the second' if others == 1 else f'the {others} others'} can."
    ]


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
    called = found.called(found.best.name)
    said += [other.sentence(called) for other in found.other_readings[:5]]
    return said + _dates_say(found)


_DATES_TELL = math.log(2.0)
"""Dates that move the odds by less than two to one are not worth a sentence; a judgement."""


def _dates_say(found: Comparison) -> list[str]:
    """What the dates that came with reports did to the odds of the first two, and which fit ill."""
    dated = sum(report.dated is not None for report in found.reports)
    if not dated:
        return []
    first = found.results[0]
    said = _dates_moved(found, dated)
    if wrong := found.doubtful_dates:
        more = f" and {len(wrong) - 5} more" if len(wrong) > 5 else ""
        said.append(
            f"The date that came with {', '.join(wrong[:5])}{more} does not fit "
            f"'{found.called(first.name)}' and is probably wrong: look at it again."
        )
    return said


def _dates_moved(found: Comparison, dated: int) -> list[str]:
    """How far dates moved the odds of the first two; nothing where the second was given up."""
    first, second = found.results[:2]
    if second.weighed_on < len(found.reports):
        return []
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
    return said


def percent(p: float) -> str:
    """Say a probability as a person would.

    >>> percent(0.5), percent(0.0001)
    ('50.0 %', 'less than 0.1 %')
    """
    if p > 0.999:
        return "more than 99.9 %"
    return f"{p:.1%}".replace("%", " %") if p >= 0.001 else "less than 0.1 %"
