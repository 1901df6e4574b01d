"""How many survive, from machines seen more than once; and how rare they are to meet.

Several estimators side by side, because each rests on something that may not hold:

* Chapman 1951 (*University of California Publications in Statistics* 1, 131-160) for two lists;
  variance after Seber 1970 (*Biometrics* 26, 13-22).
* Chao 1984 (*Scandinavian Journal of Statistics* 11, 265-270; bias-corrected form and interval in
  Chao 1987, *Biometrics* 43, 783-791) for how often each machine was seen: a lower bound when some
  machines are shyer than others.
* Jackknife, Burnham & Overton 1979 (*Ecology* 60, 927-936), for sightings on several occasions.
* Equal chances: the maximum-likelihood number when every survivor is as likely to be met.
"""

import math
from collections import Counter
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from ironlace.evidence.wording import counted
from ironlace.survey.errors import SurveyError


def _verb(count: float) -> str:
    return "survives" if round(count) == 1 else "survive"


@dataclass(frozen=True, slots=True)
class Survivors:
    """One estimate of the number of survivors.

    Attributes
    ----------
    name
        Name of the estimator.
    middle, low, high
        Estimate and 90 % interval; `high` may be infinite.
    assumes
        What must hold, in a sentence.
    lower_bound
        Whether it is to be read as a floor.
    """

    name: str
    middle: float
    low: float
    high: float
    assumes: str
    lower_bound: bool = False

    def as_dict(self) -> dict[str, Any]:
        """Return it by name; an infinite end is None."""
        return {
            "name": self.name,
            "middle": self.middle if math.isfinite(self.middle) else None,
            "low": self.low,
            "high": self.high if math.isfinite(self.high) else None,
            "assumes": self.assumes,
            "lower_bound": self.lower_bound,
        }


_Z90 = 1.6448536269514722
"""Half-width of a 90 % interval in standard deviations of a normal law (exact, rounded)."""


def chapman(first: int, second: int, both: int) -> Survivors:
    """Survivors from two lists: so many on the first, on the second, and on both.

    >>> round(chapman(10, 15, 5).middle, 2)
    28.33
    """
    if min(first, second, both) < 0 or both > min(first, second):
        raise SurveyError(f"{both} machines cannot stand on both lists of {first} and {second}.")
    middle = (first + 1) * (second + 1) / (both + 1) - 1.0
    variance = (
        (first + 1)
        * (second + 1)
        * (first - both)
        * (second - both)
        / ((both + 1) ** 2 * (both + 2))
    )
    seen = first + second - both
    low, high = _log_interval(seen, middle, variance)
    return Survivors(
        "two lists (Chapman)",
        middle,
        low,
        high,
        "The two lists were made independently, no survivor was lost or found between them, and "
        "within one list every survivor was as likely to be met.",
    )


def _log_interval(
    seen: float, middle: float, variance: float, z: float = _Z90
) -> tuple[float, float]:
    """Interval log-normal in the number not yet seen (Chao 1987), so that it never dips below."""
    unseen = middle - seen
    if unseen <= 0 or variance <= 0:
        return float(seen), float(max(middle, seen))
    factor = math.exp(z * math.sqrt(math.log1p(variance / unseen**2)))
    return seen + unseen / factor, seen + unseen * factor


def chao1(times_seen: Iterable[int], *, share: float = 0.9) -> Survivors:
    """Lower bound of survivors from how often each machine was seen, bias-corrected.

    >>> chao1([1, 1, 1, 1, 2, 2, 3]).middle
    9.0
    """
    from scipy.stats import norm

    counts = Counter(int(t) for t in times_seen if t > 0)
    seen = sum(counts.values())
    if not seen:
        raise SurveyError("No machine was seen, so survivors cannot be estimated this way.")
    f1, f2 = counts[1], counts[2]
    middle = seen + f1 * (f1 - 1) / (2.0 * (f2 + 1))
    if f2 > 0:
        r = f1 * (f1 - 1) / (2.0 * (f2 + 1))
        variance = (
            r
            + f1 * (2 * f1 - 1) ** 2 / (4.0 * (f2 + 1) ** 2)
            + f1**2 * f2 * (f1 - 1) ** 2 / (4.0 * (f2 + 1) ** 4)
        )
    else:
        variance = (
            f1 * (f1 - 1) / 2.0 + f1 * (2 * f1 - 1) ** 2 / 4.0 - f1**4 / (4.0 * max(middle, 1e-9))
        )
    z = float(norm.ppf(0.5 + share / 2.0))
    low, high = _log_interval(seen, middle, max(variance, 0.0), z)
    return Survivors(
        "lower bound (Chao)",
        middle,
        low,
        high if f1 < seen else math.inf,
        "Sightings are independent. Machines may differ in how readily they are met; the more they "
        "do, the more survive beyond this.",
        lower_bound=True,
    )


def chao2(times_seen: Iterable[int], occasions: int) -> Survivors:
    """Lower bound from the number of occasions on which each machine was seen (Chao 1987)."""
    counts = Counter(int(t) for t in times_seen if t > 0)
    seen = sum(counts.values())
    if not seen or occasions < 2:
        raise SurveyError("Seeing on occasions needs two occasions and one machine at least.")
    q1, q2 = counts[1], counts[2]
    a = (occasions - 1) / occasions
    extra = a * q1 * (q1 - 1) / (2.0 * (q2 + 1))
    variance = (
        extra
        + a**2 * q1 * (2 * q1 - 1) ** 2 / (4.0 * (q2 + 1) ** 2)
        + a**2 * q1**2 * q2 * (q1 - 1) ** 2 / (4.0 * (q2 + 1) ** 4)
    )
    low, high = _log_interval(seen, seen + extra, variance)
    return Survivors(
        "lower bound by occasions (Chao)",
        seen + extra,
        low,
        high if q1 < seen else math.inf,
        "As the lower bound, with each year of sighting as one occasion.",
        lower_bound=True,
    )


def jackknife(times_seen: Iterable[int], occasions: int) -> Survivors:
    """First-order jackknife from occasions: S + f1 (t - 1) / t."""
    counts = Counter(int(t) for t in times_seen if t > 0)
    seen = sum(counts.values())
    if not seen or occasions < 2:
        raise SurveyError("The jackknife needs two occasions and one machine at least.")
    a = (occasions - 1) / occasions
    middle = seen + counts[1] * a
    variance = counts[1] * (1 + a) * a
    low, high = _log_interval(seen, middle, variance)
    return Survivors(
        "jackknife",
        middle,
        low,
        high,
        "Each machine has a chance of its own to be met, the same on every occasion, and most "
        "were met more than once; where few were, as here as a rule, it is too low.",
    )


def equal_chances(sightings: int, distinct: int) -> Survivors:
    """Survivors when each is as likely to be met: distinct machines among so many sightings.

    The chance of so few distinct ones is worked out exactly (occupancy: Feller 1968,
    *Probability Theory*, vol. 1), and the interval holds the numbers for which neither as many nor
    as few distinct ones would be strange.
    """
    from scipy.optimize import brentq

    if not 1 <= distinct <= sightings:
        raise SurveyError(f"{distinct} distinct machines cannot come from {sightings} sightings.")
    if distinct == sightings:
        low = _occupancy_bound(sightings, distinct, upper=False)
        return Survivors("equal chances", math.inf, low, math.inf, _EQUAL)

    def too_many(n: float) -> float:
        return n * -math.expm1(sightings * math.log1p(-1.0 / n)) - distinct

    # Seen often enough, hardly any can be left that never turned up.
    least = distinct + 1e-9
    most = max(1e9, float(sightings) ** 2)
    middle = float(brentq(too_many, least, most)) if too_many(least) < 0 else float(distinct)
    return Survivors(
        "equal chances",
        middle,
        _occupancy_bound(sightings, distinct, upper=False),
        _occupancy_bound(sightings, distinct, upper=True),
        _EQUAL,
    )


_EQUAL = "Every survivor is as likely to be met, independently each time; seldom true, best case."


def _distinct_distribution(n: int, sightings: int, most: int) -> list[float]:
    """Chances of 0 to `most` distinct machines in so many sightings of n."""
    chances = [1.0] + [0.0] * most
    for _ in range(sightings):
        after = [0.0] * (most + 1)
        for d, p in enumerate(chances):
            if not p:
                continue
            after[d] += p * d / n
            if d < most:
                after[d + 1] += p * (n - d) / n
        chances = after
    return chances


_COUNTED_THROUGH = 2_000
"""Up to so many sightings the chance of so many distinct machines is worked out step by step; the
time grows with the square."""

_LIKE_POISSON = 100.0
"""Below so many repeats expected they are nearly a Poisson number, above nearly a normal one."""

_THIN = 0.2
"""And they are nearly a Poisson number only where far from every machine has been seen."""


def _chance_of_repeats(n: float, sightings: int, repeats: int, *, more: bool) -> float:
    """Chance of so many repeats or more (or less) in very many sightings of n machines.

    Mean and variance are exact (Feller 1968, vol. 1, IX.9); repeats are taken for a Poisson number
    (Barbour, Holst and Janson 1992, *Poisson Approximation*, ch. 6) while few, else for a normal.
    """
    from scipy.special import ndtr, pdtr, pdtrc

    if n <= 2:  # both have been seen by then
        seen = sightings - repeats
        return float(n <= seen) if more else float(n >= seen)
    log_missed = sightings * math.log1p(-1.0 / n)
    mean = sightings + n * math.expm1(log_missed)
    if mean < _LIKE_POISSON and sightings < _THIN * n:
        if more:
            return float(pdtrc(repeats - 1, mean)) if repeats else 1.0
        return float(pdtr(repeats, mean))
    missed = math.exp(log_missed)
    together = math.expm1(sightings * math.log1p(-1.0 / (n - 1.0) ** 2))
    variance = n * missed * (1.0 - missed) + n * (n - 1.0) * missed**2 * together
    edge = repeats - 0.5 if more else repeats + 0.5
    z = (edge - mean) / math.sqrt(max(variance, 1e-12))
    return float(ndtr(-z if more else z))


def _occupancy_bound(sightings: int, distinct: int, *, upper: bool) -> float:
    """End of the 90 % interval for the number of survivors."""
    tail = 0.05

    def strange(n: int) -> bool:
        if sightings > _COUNTED_THROUGH:
            return _chance_of_repeats(n, sightings, sightings - distinct, more=upper) < tail
        chances = _distinct_distribution(n, sightings, distinct)
        at_most = math.fsum(chances)
        if upper:
            return at_most < tail
        below = math.fsum(chances[:-1])
        return 1.0 - below < tail

    if upper:
        step = max(distinct, 2)
        while not strange(step):
            step *= 2
            if step > max(10**8, 100 * sightings**2):
                return math.inf
        low, high = step // 2, step
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if strange(middle) else (middle, high)
        return float(low)
    low, high = distinct - 1, distinct
    while strange(high):
        low, high = high, high * 2
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if strange(middle) else (low, middle)
    return float(high)


@dataclass(frozen=True, slots=True)
class Rarity:
    """How often one is met in a year.

    Attributes
    ----------
    count, years
        Sightings and the years of looking.
    rate, low, high
        A year: middle and 90 % interval, exact for Poisson counts (Garwood 1936, *Biometrika* 28,
        437-442).
    """

    count: int
    years: float
    rate: float
    low: float
    high: float

    def sentence(self) -> str:
        """Say it."""
        if self.count == 0:
            return (
                f"None was met in {self.years:g} years of looking. That does not show that none "
                f"survives: up to {self.high:.2g} a year could be offered and still leave none "
                "to be met (95 %)."
            )
        return (
            f"{self.count} met in {self.years:g} {'year' if self.years == 1 else 'years'}: "
            f"{self.rate:.2g} a year (90 %: {self.low:.2g} to {self.high:.2g})."
        )

    def as_dict(self) -> dict[str, Any]:
        """Return it by name."""
        return {
            "count": self.count,
            "years": self.years,
            "rate": self.rate,
            "low": self.low,
            "high": self.high,
            "sentence": self.sentence(),
        }


def rarity(count: int, years: float) -> Rarity:
    """How often one is met, from a count over years of looking.

    With no sighting the upper end is the rate that would leave none with a chance of 5 %: about
    three in all the years looked.

    >>> round(rarity(0, 10.0).high, 2)
    0.3
    """
    from scipy.stats import chi2

    if count < 0 or not years > 0:
        raise SurveyError(f"{count} sightings in {years:g} years: give a count and years above 0.")
    low = float(chi2.ppf(0.05, 2 * count) / 2) if count else 0.0
    high = float(chi2.ppf(0.95, 2 * count + 2) / 2)
    return Rarity(count, years, count / years, low / years, high / years)


_FEW = 5
"""Up to so many sightings the machine that made one look weighs a fifth or more; a judgement."""


_OFTEN_ENOUGH = 0.2
"""Where fewer than one machine in five was met again, hardly any of the others need be there to be
met: the unseen are then reckoned from those few alone. A judgement."""


def _seldom(again: int, distinct: int) -> bool:
    return again < _OFTEN_ENOUGH * distinct


@dataclass(frozen=True)
class SurvivorSummary:
    """All that sightings say of survivors and rarity.

    Attributes
    ----------
    sightings, distinct, seen_again
        How many; of how many machines; how many of these were seen more than once.
    estimates
        Side by side, the one that is told first.
    rarity
        How often one is met; None where no sighting has a year.
    remarks
        What else is to be known.
    if_met_again
        The floor that holds if those met once are met again as readily; the first estimate's own
        where enough were.
    """

    sightings: int
    distinct: int
    seen_again: int
    estimates: tuple[Survivors, ...]
    rarity: Rarity | None
    remarks: tuple[str, ...] = ()
    if_met_again: float = 0.0

    @property
    def seldom_again(self) -> bool:
        """Whether so few were met again that they do not show that those met once can be."""
        return _seldom(self.seen_again, self.distinct)

    def _if_met_again(self) -> str:
        """What it would be were those that were met as likely to be met again."""
        low = self.if_met_again
        return (
            f"If one that was met once is met again as readily as any other, at least {low:.0f} "
            f"{_verb(low)}, in 19 cases out of 20; not if those sold went into collections and are "
            "not offered again, which looks the same."
        )

    def sentences(self) -> list[str]:
        """Say one answer and its reason; the other estimates stand in a table beside it."""
        best = self.estimates[0]
        seen = (
            f"{counted(self.sightings, 'sighting')} of {counted(self.distinct, 'machine')}; "
            f"{self.seen_again} {'was' if self.seen_again == 1 else 'were'} seen more than once."
        )
        if self.seldom_again:
            more = (
                f"how many more hangs on {counted(self.seen_again, 'machine')} seen again."
                if self.seen_again
                else "how many more cannot be told, since no machine was seen twice."
            )
            slips = (
                " (numbers a likely slip apart taken for one)" if best.low < self.distinct else ""
            )
            said = [
                f"At least {best.low:.0f} {_verb(best.low)}, for so many were seen{slips}; " + more,
                self._if_met_again(),
                seen,
            ]
        else:
            said = [
                f"At least {best.low:.0f} {_verb(best.low)}, in 19 cases out of 20"
                + (
                    f", and probably {best.middle:.0f} or more."
                    if round(best.middle) > round(best.low)
                    else "."
                ),
                "This floor holds though some machines are met more readily than others, but not "
                "where one that was sold went out of sight for good; how many there may be beyond "
                "it stands in the table, with what each estimate asks.",
                seen,
            ]
        if self.rarity is not None:
            said.append(self.rarity.sentence())
        return [*said, *self.remarks]

    def as_dict(self) -> dict[str, Any]:
        """Return it by name."""
        return {
            "sightings": self.sightings,
            "distinct": self.distinct,
            "seen_again": self.seen_again,
            "estimates": [e.as_dict() for e in self.estimates],
            "rarity": self.rarity.as_dict() if self.rarity else None,
            "sentences": self.sentences(),
        }


def survivors_from(  # long: the docstring, and each estimate with what it asks
    machines: Sequence[Hashable],
    occasions: Sequence[Hashable | None],
    *,
    slips: Sequence[Hashable] | None = None,
) -> SurvivorSummary:
    """Estimate survivors from sightings: for each, which machine, and which occasion (year).

    Parameters
    ----------
    machines
        One entry for each sighting.
    occasions
        The year or list of each sighting; None when not known.
    slips
        As `machines`, were numbers that differ by a likely slip of the reader one machine each.

    Raises
    ------
    SurveyError
        When there is no sighting or the lengths differ.
    """
    if not machines or len(machines) != len(occasions):
        raise SurveyError(
            f"{len(machines)} machines and {len(occasions)} occasions: give one of each for every "
            "sighting, one at least."
        )
    times = Counter(machines)
    again = sum(1 for t in times.values() if t > 1)
    as_read = chao1(times.values())
    floor = as_read if slips is None else chao1(Counter(slips).values())
    if_met_again = floor.low
    if _seldom(again, len(times)):
        floor = replace(floor, low=float(len(set(slips or machines))))
    found = [floor, equal_chances(len(machines), len(times))]
    remarks: list[str] = []
    if slips is not None and (pairs := len(times) - len(set(slips))):
        found.append(replace(as_read, name="lower bound were every number read rightly (Chao)"))
        remarks.append(
            f"{counted(pairs, 'pair')} of numbers {'differs' if pairs == 1 else 'differ'} by a "
            "likely slip of the reader, by more than chance: for the floor each is taken for one "
            "machine."
        )
    dated = {(m, o) for m, o in zip(machines, occasions, strict=True) if o is not None}
    years = sorted({o for _, o in dated}, key=str)
    if len(years) >= 2:
        by_machine = Counter(m for m, _ in dated)
        found += [
            chao2(by_machine.values(), len(years)),
            jackknife(by_machine.values(), len(years)),
        ]
        if len(years) == 2:
            first = {m for m, o in dated if o == years[0]}
            second = {m for m, o in dated if o == years[1]}
            found.append(chapman(len(first), len(second), len(first & second)))
    else:
        remarks.append(
            "Sightings with dates from two years or more would allow estimates by occasion."
        )
    if len(machines) <= _FEW:
        remarks.append(
            "The first of so few machines is why anybody looks at all: it says nothing of how "
            "easily one is met, and the figures lean on the others alone."
        )
    met = None
    whole = [int(str(o)[:4]) for o in years if str(o)[:4].isdigit()]
    if whole:
        met = rarity(len(dated), max(whole) - min(whole) + 1.0)
    return SurvivorSummary(
        len(machines), len(times), again, tuple(found), met, tuple(remarks), if_met_again
    )
