"""What changed what: each trial's seam against that of the trial before, with a proper test.

Lengths by Welch's test, evenness by Brown and Forsythe's, skips by Fisher's, as for two seams; the
chances of all questions that the log asks are held together (S. Holm, *A simple sequentially
rejective multiple test procedure*, 1979). Stitches of one seam are no repeats of the setting: where
a seam was sewn twice with nothing changed, what two seams differ by themselves is taken from there.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy  # its parts load when they are first asked for

NOTHING: Final = "nothing"
"""A trial sewn again with nothing changed."""
SCREW: Final = "needle-thread screw"
"""What is turned by eighths, so that the next step can be reckoned."""
CHANGED: Final[Mapping[str, str]] = {
    "start": "the first trial, or all set anew",
    NOTHING: "nothing: sewn again as it was",
    SCREW: "the screw of the needle thread",
    "shuttle screw": "the screw of the shuttle",
    "needle": "the needle",
    "thread": "the thread",
    "threading": "the way of the thread",
    "oil": "oil",
    "belt": "the belt",
    "speed": "the speed",
    "cloth": "the cloth",
    "other": "something else",
}
"""What may be changed from one trial to the next, in words."""

SURE: Final = 0.05
"""Chance below which a difference is told as one."""
BELIEVED: Final = (0.01, 0.15)
"""What seams of one setting differ by before any was sewn twice: of the mean, as a share; of the
distance from the median, in parts of it (a judgement)."""
COUNTED: Final = 2.0
"""As of how many repeats that counts: one pair that happens to agree does not make seams alike."""
LEAST: Final = 6
"""Single stitches that each seam needs. A judgement."""
QUESTIONS: Final = ("stitch length", "evenness", "skipped stitches")
"""What is asked of each pair of seams."""


@dataclass(frozen=True, slots=True)
class SeamBrief:
    """What a measured seam brings to a log.

    Attributes
    ----------
    count, mean_mm, spread
        Of its single, sure stitches: how many, mean, standard deviation over the mean.
    away, away_spread
        Mean distance from their median and its standard deviation, over the mean.
    cv
        Evenness with the measuring error taken off.
    stitches, skipped
        How many, and how many of them were skipped.
    reliable
        Whether its picture bore the answer.
    scale_share
        Standard error of its scale, as a share.
    """

    count: int
    mean_mm: float
    spread: float
    away: float
    away_spread: float
    cv: float
    stitches: int
    skipped: int
    reliable: bool
    scale_share: float = 0.002


@dataclass(frozen=True, slots=True)
class Trial:
    """One trial of the log.

    Attributes
    ----------
    name, date
        Its name in the record, and its day in words.
    changed, to, also
        What was changed since the trial before, to what, and what else.
    screw
        Where the needle thread's screw stood, eighths of a turn in from its mark; None unsaid.
    seam
        Its seam, None while none is measured; `picture` says that one was named.
    lock
        Place of the lock, low, value, high, None where both sides were not measured.
    """

    name: str
    date: str
    changed: str
    to: str
    also: str
    screw: float | None
    picture: str
    seam: SeamBrief | None
    lock: tuple[float, float, float] | None

    @property
    def words(self) -> str:
        """What was changed, in words."""
        words = CHANGED.get(self.changed, self.changed)
        return f"{words}, {self.to}" if self.to else words


def screw_moved(one: Trial, other: Trial) -> bool:
    """Whether the screw stands elsewhere in the later of two trials."""
    return one.screw is not None and other.screw is not None and one.screw != other.screw


def same_seam(one: Trial, other: Trial) -> bool:
    """Whether two trials rest on one seam: no two seams are alike to the last figure."""
    if one.seam is None or other.seam is None:
        return False
    first, second = (
        (each.count, each.mean_mm, each.spread, each.away) for each in (one.seam, other.seam)
    )
    return first == second and (one.picture == other.picture or one.seam.spread > 0.0)


def changes_length(trial: Trial) -> bool:
    """Whether what was changed may have set another stitch length."""
    return bool(trial.also) or trial.changed in ("start", "other")


@dataclass(frozen=True, slots=True)
class Effect:
    """What one question says of one trial against the one before.

    Attributes
    ----------
    change
        Of the mean, mm; of the variation, as a share; of the share skipped.
    chance
        By chance alone, all questions of the log held together.
    """

    question: str
    before: float
    after: float
    chance: float

    @property
    def change(self) -> float:
        """After less before."""
        return self.after - self.before

    @property
    def sure(self) -> bool:
        """Whether it is beyond chance."""
        return self.chance < SURE

    @property
    def worse(self) -> bool:
        """Whether it is beyond chance and for the worse: less even, or more skipped."""
        return self.sure and self.question != QUESTIONS[0] and self.change > 0.0


@dataclass(frozen=True, slots=True)
class Step:
    """One trial against the one before that has a seam."""

    before: Trial
    after: Trial
    effects: tuple[Effect, ...]
    why_not: str

    @property
    def told_apart(self) -> bool:
        """Whether one thing alone was changed, so that an effect is that thing's."""
        alone = not self.after.also and self.after.changed not in ("start", NOTHING)
        return alone and (self.after.changed == SCREW or not screw_moved(self.before, self.after))


@dataclass(frozen=True, slots=True)
class Weighed:
    """The log weighed.

    Attributes
    ----------
    repeats
        Pairs of seams sewn with nothing changed, from which it is known what seams differ by.
    between
        That scatter from seam to seam: of the mean (share), and of the distance from the median.
    """

    steps: tuple[Step, ...]
    repeats: int
    between: tuple[float, float]


def weigh(trials: Sequence[Trial]) -> Weighed:
    """Compare each trial's seam with the one before, and hold all chances together."""
    sewn = [one for one in trials if one.seam is not None]
    pairs = list(itertools.pairwise(sewn))
    repeats = [
        (a.seam, b.seam)
        for a, b in pairs
        if b.changed == NOTHING and not b.also and not screw_moved(a, b) and _able(a, b) == ""
    ]
    between = _between([(a, b) for a, b in repeats if a is not None and b is not None])
    freedom = len(repeats) + COUNTED if repeats else 0.0
    raw: list[tuple[float, ...]] = []
    for a, b in pairs:
        if a.seam is None or b.seam is None or _able(a, b):
            raw.append(())
        else:
            raw.append(_chances(a.seam, b.seam, between, freedom))
    held = iter(_holm([chance for one in raw for chance in one]))
    steps = []
    for (a, b), chances in zip(pairs, raw, strict=True):
        effects: tuple[Effect, ...] = ()
        if chances and a.seam is not None and b.seam is not None:
            values = zip(QUESTIONS, _values(a.seam), _values(b.seam), strict=True)
            effects = tuple(
                Effect(question, before, after, next(held)) for question, before, after in values
            )
        why = _able(a, b)
        steps.append(Step(a, b, effects, why))
    return Weighed(tuple(steps), len(repeats), between)


def _able(before: Trial, after: Trial) -> str:
    """Why two trials' seams cannot be compared; empty where they can."""
    first, second = before.seam, after.seam
    if same_seam(before, after):
        return "both rest on the same seam"
    if first is None or second is None:
        return "one of the seams is not measured"
    if not (first.reliable and second.reliable):
        return "one of the seams' pictures is not reliable"
    if min(first.count, second.count) < LEAST:
        return f"one of the seams has fewer than {LEAST} sure stitches"
    return ""


def _values(seam: SeamBrief) -> tuple[float, float, float]:
    return seam.mean_mm, seam.cv, seam.skipped / max(seam.stitches, 1)


def _between(repeats: Sequence[tuple[SeamBrief, SeamBrief]]) -> tuple[float, float]:
    """Variance from seam to seam of the mean (share) and of the distance from the median.

    A few pairs tell it badly: what is believed beforehand counts as `COUNTED` more.
    """
    if not repeats:
        return 0.0, 0.0
    means, aways = [], []
    for a, b in repeats:
        off = math.log(b.mean_mm / a.mean_mm)
        own = sum(s.spread**2 / s.count + s.scale_share**2 for s in (a, b))
        means.append((off**2 - own) / 2.0)
        own = sum(s.away_spread**2 / s.count for s in (a, b))
        aways.append(((b.away - a.away) ** 2 - own) / 2.0)
    usual = BELIEVED[1] * float(np.mean([s.away for pair in repeats for s in pair]))
    many = len(repeats) + COUNTED
    return tuple(  # type: ignore[return-value]  # two of them
        (COUNTED * believed**2 + max(sum(found), 0.0)) / many
        for believed, found in ((BELIEVED[0], means), (usual, aways))
    )


def _chances(
    a: SeamBrief, b: SeamBrief, between: tuple[float, float], repeats: float
) -> tuple[float, float, float]:
    """How likely chance alone does as much: of the length, the evenness, the skips."""
    lengths = _welch(
        math.log(b.mean_mm / a.mean_mm),
        [s.spread**2 / s.count for s in (a, b)],
        [s.count for s in (a, b)],
        2.0 * between[0] + sum(s.scale_share**2 for s in (a, b)),
        repeats,
    )
    even = _welch(
        b.away - a.away,
        [s.away_spread**2 / s.count for s in (a, b)],
        [s.count for s in (a, b)],
        2.0 * between[1],
        repeats,
    )
    table = [[s.skipped, max(s.stitches - s.skipped, 0)] for s in (a, b)]
    return lengths, even, float(scipy.stats.fisher_exact(np.asarray(table)).pvalue)


def _welch(
    off: float, own: Sequence[float], counts: Sequence[int], more: float, repeats: float
) -> float:
    """Chance of a difference, with a scatter beside the stitches' own known from few repeats."""
    variance = sum(own) + more
    if variance <= 0.0:
        return 1.0
    parts = sum(v**2 / (n - 1) for v, n in zip(own, counts, strict=True))
    if repeats:
        parts += more**2 / repeats
    freedom = variance**2 / parts if parts > 0.0 else 1e6
    return float(2.0 * scipy.stats.t.sf(abs(off) / math.sqrt(variance), freedom))


def _holm(chances: Sequence[float]) -> list[float]:
    """The chances of all questions held together."""
    order = np.argsort(chances)
    held = np.empty(len(chances))
    worst = 0.0
    for rank, at in enumerate(order):
        worst = max(worst, min(1.0, (len(chances) - rank) * chances[at]))
        held[at] = worst
    return [float(v) for v in held]
