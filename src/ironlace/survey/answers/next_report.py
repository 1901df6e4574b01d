"""What to ask for next: which kind of report would tell most, and how many would settle it.

Expected information after Lindley 1956 (*Annals of Mathematical Statistics* 27, 986-1005): further
reports are drawn from what the schemes, weighted by their odds, now expect, and the change of
opinion each would bring is averaged.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.evidence.markings import Marking, parse_marking
from ironlace.survey.answers.comparison import Comparison, SchemeOdds, as_likely, percent
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.further_marks import chances_at_cells
from ironlace.survey.likelihood.marks_as_arrays import lay_out, lay_out_reports
from ironlace.survey.likelihood.simulated_marks import draw_marks, draw_unknowns, read_worse
from ironlace.survey.reports.table import Report
from ironlace.survey.schemes.face_value import face_value
from ironlace.survey.schemes.scheme import FieldKind

_IN_PLAY = 1e-5
"""Theories less probable than this cannot come back within the dozen further reports tried."""

_CELLS_FOR_TYPING = 800
"""Cells of the posterior when one report is added: 50 ms (`bench/survey_speed.py`)."""


TELLS_NOTHING = 0.005
"""Bits that are told as 0.00 are nothing."""

_NEARLY = 0.9
"""A kind of report that tells this part of what the best one does tells nearly as much."""


@dataclass(frozen=True, slots=True)
class KindOfReport:
    """A kind of report and what one of it is expected to tell, in bits."""

    what: str
    bits: float

    def as_dict(self) -> dict[str, Any]:
        """Return it by name."""
        return {"what": self.what, "bits": self.bits}


@dataclass(frozen=True, slots=True)
class Power:
    """Chance that odds are reached after so many further reports, were the leading scheme true.

    Attributes
    ----------
    odds
        Odds of the leading scheme against all others.
    chance
        Chance after 1, 2, ... further reports.
    needed
        Fewest further reports for a chance of four in five; None when more than were tried.
    """

    odds: float
    chance: tuple[float, ...]
    needed: int | None

    def as_dict(self) -> dict[str, Any]:
        """Return it by name."""
        return {"odds": self.odds, "chance": list(self.chance), "needed": self.needed}


@dataclass(frozen=True, slots=True)
class WouldSink:
    """A single mark that would speak against the leading scheme, and the odds it would leave."""

    mark: Marking
    why: str
    odds_before: float
    odds_after: float
    against: str

    def sentence(self) -> str:
        """Say it."""
        if self.odds_before < 1:
            before, after = (odds / (1.0 + odds) for odds in (self.odds_before, self.odds_after))
            return (
                f"A single clear {self.mark} ({self.why}) would bring it from {percent(before)} "
                f"down to {percent(after)}."
            )
        return (
            f"A single clear {self.mark} ({self.why}) would turn it from "
            f"{as_likely(self.odds_before, self.against)} to {as_likely(self.odds_after, 'they')}."
        )

    def as_dict(self) -> dict[str, Any]:
        """Return it by name."""
        return {
            "mark": str(self.mark),
            "why": self.why,
            "odds_before": min(self.odds_before, 1e12),
            "odds_after": min(self.odds_after, 1e12),
        }


@dataclass(frozen=True)
class NextReport:
    """What to ask for next.

    Attributes
    ----------
    leading, called
        Name of the leading scheme, and what it is called before a person.
    odds
        Its odds so far.
    kinds
        Kinds of report, the one expected to tell most first.
    power
        How soon given odds are reached.
    sinks
        Single marks that would speak against it.
    settled
        Whether the highest of those odds are reached already.
    against
        Against what the odds are, in words.
    beside
        What other schemes are called that no mark can part from the leading one; the odds are those
        of all of them together.
    """

    leading: str
    called: str
    odds: float
    kinds: tuple[KindOfReport, ...]
    power: tuple[Power, ...]
    sinks: tuple[WouldSink, ...]
    settled: bool
    against: str
    beside: tuple[str, ...] = ()

    def sentences(self) -> list[str]:
        """Say it plainly."""
        if self.settled and self.beside:
            others = " and ".join(f"'{name}'" for name in self.beside)
            said = [
                f"No further mark can tell more: '{self.called}' and {others} fit all of them "
                "equally well. Ask for machines that came with a date: a receipt, a dated letter."
            ]
        elif self.settled:
            said = [
                f"Nothing more is needed: '{self.called}' is {as_likely(self.odds, self.against)}."
            ]
        else:
            said = self._ask_for()
            goals = [power for power in self.power if power.needed != 0]
            # what lies beyond a goal out of reach need not be told
            reached = next((i for i, p in enumerate(goals) if p.needed is None), len(goals))
            said += [self._how_many(power) for power in goals[: reached + 1]]
        return said + [sink.sentence() for sink in self.sinks]

    def _ask_for(self) -> list[str]:
        best, second = self.kinds[:2]
        if best.bits < TELLS_NOTHING:
            return [
                "One more number would tell hardly anything: what is left apart, numbers alone "
                "cannot part. A number with a dated receipt or letter might."
            ]
        said = [f"Ask next for {best.what}: it would tell most."]
        if second.bits > _NEARLY * best.bits:
            said.append(f"{second.what.capitalize()} would tell nearly as much.")
        return said

    @property
    def _named(self) -> str:
        """The leading scheme with those that no mark can part from it."""
        return " or ".join(f"'{name}'" for name in (self.called, *self.beside))

    def _how_many(self, power: Power) -> str:
        goal = f"make it {power.odds:.0f} times as likely as {self.against}"
        if power.needed is None:
            return f"Even if {self._named} is right, it takes more than {len(power.chance)} " + (
                f"further reports to {goal}."
            )
        return (
            f"If {self._named} is right, {power.needed} more clear report"
            f"{'' if power.needed == 1 else 's'} will {goal} in four cases out of five."
        )

    def as_dict(self) -> dict[str, Any]:
        """Return it by name."""
        return {
            "leading": self.leading,
            "kinds": [k.as_dict() for k in self.kinds],
            "power": [p.as_dict() for p in self.power],
            "would_sink": [s.as_dict() for s in self.sinks],
            "sentences": self.sentences(),
        }


def next_report(
    found: Comparison,
    rng: np.random.Generator,
    *,
    trials: int = 200,
    most: int = 12,
    odds: Sequence[float] = (20.0, 100.0),
) -> NextReport:
    """Say what to ask for next.

    Parameters
    ----------
    found
        The comparison so far.
    rng
        Source of the drawn reports.
    trials
        Reports drawn for each kind, and sequences drawn for the power curves.
    most
        Longest sequence of further reports tried.
    """
    playing = [r for r in found.results if r.posterior > _IN_PLAY]
    kinds = kinds_of_report(playing, found.assumptions, rng, trials)
    power = _power(found, playing, rng, trials, most, odds)
    return NextReport(
        found.best.name,
        found.called(found.best.name),
        found.odds,
        kinds,
        power,
        what_would_sink(found),
        found.odds >= max(odds),
        found.against,
        tuple(found.called(name) for name in found.beside(found.best.name)),
    )


def kinds_of_report(
    playing: Sequence[SchemeOdds], given: Assumptions, rng: np.random.Generator, trials: int
) -> tuple[KindOfReport, ...]:
    """Kinds of report with what one of each is expected to tell, the most telling first.

    The same machines are read with care, as the reports so far were, and passed on by word, each
    time with more slips on top of those before. Such a report cannot tell more than the one it was
    made from (the data-processing inequality: Cover & Thomas 2006, *Elements of Information
    Theory*, 2.8); where chance in the drawings says so, the two are told to tell as much.
    """
    weights = np.array([r.posterior for r in playing])
    weights /= weights.sum()
    kinds = _kinds_by_care(given)
    how = kinds[0][1]
    # theories take part in proportion to their odds, not by chance
    source = np.searchsorted(np.cumsum(weights), (np.arange(trials) + rng.random()) / trials)
    marks: list[Marking] = []
    for i in np.minimum(source, len(playing) - 1).tolist():
        scheme = playing[i].candidate.scheme
        marks += draw_marks(scheme, draw_unknowns(scheme, how, rng, playing[i].state), 1, how, rng)
    bits: list[float] = []
    for _, now in kinds:
        marks = read_worse(marks, how, now, rng) if now is not how else marks
        how = now
        bits.append(_mean_bits(playing, weights, marks, how))
    return tuple(
        KindOfReport(what, told) for (what, _), told in zip(kinds, _never_rising(bits), strict=True)
    )


def _never_rising(values: Sequence[float]) -> list[float]:
    """The nearest values that never rise (pooled neighbours: Ayer et al. 1955)."""
    pooled: list[tuple[float, int]] = []
    for value in values:
        mean, count = value, 1
        while pooled and pooled[-1][0] < mean:
            before, held = pooled.pop()
            mean, count = (before * held + mean * count) / (held + count), held + count
        pooled.append((mean, count))
    return [mean for mean, count in pooled for _ in range(count)]


def _kinds_by_care(given: Assumptions) -> list[tuple[str, Assumptions]]:
    """Kinds of report, the most careful first."""
    least = 1e-4
    return [
        (
            "a mark checked glyph by glyph on a raking-light photograph",
            replace(
                given,
                misread_rate=max(given.misread_rate / 5, least),
                worn_rate=max(given.worn_rate / 5, least),
                stray_rate=max(given.stray_rate / 5, least),
                junk_rate=max(given.junk_rate / 4, least),
            ),
        ),
        ("a mark reported as carefully as those so far", given),
        (
            "a number passed on by word, its dots not told",
            replace(
                given,
                misread_rate=max(min(given.misread_rate * 3, 0.4), given.misread_rate),
                worn_rate=max(0.45, given.worn_rate),
                junk_rate=max(min(given.junk_rate * 2, 0.4), given.junk_rate),
            ),
        ),
    ]


def _log_predictive(result: SchemeOdds, marks: Sequence[Marking], how: Assumptions) -> Floats:
    state = result.state.heaviest()
    chances = chances_at_cells(lay_out(marks, how), result.candidate.scheme, how, state)
    return np.log(chances @ state.weights)


def _mean_bits(
    playing: Sequence[SchemeOdds], weights: Floats, marks: Sequence[Marking], how: Assumptions
) -> float:
    """Mean change of opinion over reports."""
    logs = np.stack([_log_predictive(r, marks, how) for r in playing], axis=1)
    joint = np.log(weights)[None, :] + logs
    after = joint - np.logaddexp.reduce(joint, axis=1, keepdims=True)
    gain = np.sum(np.exp(after) * (after - np.log(weights)[None, :]), axis=1)
    return float(gain.mean() / math.log(2.0))


def _power(
    found: Comparison,
    playing: Sequence[SchemeOdds],
    rng: np.random.Generator,
    trials: int,
    most: int,
    odds: Sequence[float],
) -> tuple[Power, ...]:
    given = found.assumptions
    lead = playing[0]
    scheme = lead.candidate.scheme
    marks: list[Marking] = []
    for _ in range(trials):
        places = draw_unknowns(scheme, given, rng, lead.state)
        marks += draw_marks(scheme, places, most, given, rng)
    read = lay_out(marks, given)
    logs = []
    for result in playing:
        state = result.state.heaviest(120)
        chances = chances_at_cells(read, result.candidate.scheme, given, state)
        steps = np.log(chances).reshape(trials, most, -1).cumsum(axis=1)
        peak = steps.max(axis=2, keepdims=True)
        logs.append(peak[:, :, 0] + np.log(np.exp(steps - peak) @ state.weights))
    prior = np.log([r.posterior for r in playing])
    joint = prior[:, None, None] + np.stack(logs)
    # what no mark can part from the leading scheme stands with it, as in the odds so far
    mine = np.array([r.name in (lead.name, *found.beside(lead.name)) for r in playing])
    rest = (
        np.logaddexp.reduce(joint[~mine], axis=0)
        if not mine.all()
        else np.full((trials, most), -np.inf)
    )
    ahead = np.logaddexp.reduce(joint[mine], axis=0) - rest
    powers = []
    for target in odds:
        chance = tuple(float(c) for c in (ahead >= math.log(target)).mean(axis=0))
        needed = next((i + 1 for i, c in enumerate(chance) if c >= 0.8), None)
        if found.odds >= target:
            needed = 0
        powers.append(Power(target, chance, needed))
    return tuple(powers)


_MOST_TOLD = 1e6
"""Odds above this are all told as more than a million: a fall among them is none to a person."""


def what_would_sink(found: Comparison) -> tuple[WouldSink, ...]:
    """Marks that the leading scheme does not allow, made from a report that fits it."""
    lead = found.best
    scheme = lead.candidate.scheme
    span = {"first_year": found.assumptions.first_year, "last_year": found.assumptions.last_year}
    example = next(
        (r for r in found.reports if face_value(r.mark, scheme, **span) is not None), None
    )
    if example is None or len(found.results) < 2:
        return ()
    sinks = []
    groups = "".join("·" if g.is_separator else str(g) for g in example.mark.glyphs).split("·")
    if len(groups) != len(scheme.fields):
        return ()
    separators = [str(g) for g in example.mark.glyphs if g.is_separator]
    for at, part in enumerate(scheme.fields):
        if part.as_letter:
            continue
        replacement = {FieldKind.MONTH: "13", FieldKind.WEEK: "74"}.get(part.kind)
        if replacement is None:
            continue
        changed = [*groups[:at], replacement, *groups[at + 1 :]]
        text = changed[0] + "".join(s + g for s, g in zip(separators, changed[1:], strict=False))
        mark = parse_marking(text)
        why = f"{replacement} where the {part.kind} should stand"
        after = with_report(found, Report("would sink", mark), care=20.0)
        posterior = after.of(lead.name).posterior
        odds = posterior / max(1.0 - posterior, 1e-300)
        if odds < 0.5 * min(found.odds, _MOST_TOLD):
            sinks.append(WouldSink(mark, why, found.odds, odds, found.against))
    return tuple(sinks)


def with_report(found: Comparison, report: Report, *, care: float = 1.0) -> Comparison:
    """The comparison with one more report, worked out from where it stands.

    Quick enough to follow typing. The cells of the unknowns stay where they are, so after many
    such steps run `compare` again; what each scheme has learned keeps its last summary.

    Parameters
    ----------
    care
        How many times less likely a misreading or an odd report is than among those so far.
    """
    given = replace(
        found.assumptions,
        misread_rate=found.assumptions.misread_rate / care,
        junk_rate=found.assumptions.junk_rate / care,
    )
    read = lay_out_reports([report], given)
    evidence, states, junk, logs = [], [], [], []
    for result in found.results:
        state = result.state.heaviest(_CELLS_FOR_TYPING)
        chances = chances_at_cells(read, result.candidate.scheme, given, state)[0]
        chance = float(chances @ state.weights)
        evidence.append(result.log_evidence + math.log(chance))
        after = state.after(chances)
        states.append(after)
        junk.append(given.junk_rate * float(read.junk[0]) / chance)
        logs.append(math.log(chance))
    logs_prior = np.log([r.prior for r in found.results]) + np.array(evidence)
    weights = np.exp(logs_prior - logs_prior.max())
    weights /= weights.sum()
    results = []
    for i, result in enumerate(found.results):
        usual = result.log_evidence / max(len(found.reports), 1)
        results.append(
            replace(
                result,
                log_evidence=evidence[i],
                posterior=float(weights[i]),
                junk_chance=np.append(result.junk_chance, min(junk[i], 1.0)),
                surprise=np.append(result.surprise, usual - logs[i]),
                weighed_on=result.weighed_on + 1,
                state=states[i],
            )
        )
    results.sort(key=lambda r: (-round(r.posterior, 6), r.candidate.rival, r.name))
    return Comparison((*found.reports, report), found.assumptions, tuple(results))
