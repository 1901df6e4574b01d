"""What makes it probable that something in a log of trials is not what it was said to be."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.evidence.intervals import NINETY
from ironlace.running.trials.trials_weighed import (
    NOTHING,
    SCREW,
    Trial,
    changes_length,
    same_seam,
    screw_moved,
)

FACTOR: Final = 1.4
"""Mean stitches whose ratio is more than this are not of one setting of the stitch: then a scan was
measured by other dots to the inch, or the regulator was moved and not said (a judgement)."""
MOST_EIGHTHS: Final = 48.0
"""Six turns: a screw that moved more between trials was read in degrees (a judgement)."""
FINEST: Final = 0.25
"""Eighths by which a screw can be set by eye: settings that lie closer were written in turns."""
APART: Final = 0.5
"""Eighths by which settings must differ for a slope."""
WHOLE: Final = 1.0
"""Eighths over which a lock that does not follow is told: over less chance hides its way."""
SAME_WAY: Final = 2.0
"""Standard errors by which the lock must go the wrong way before that is told."""


def doubts(trials: Sequence[Trial]) -> tuple[str, ...]:
    """Say what is probably wrong in a log, the worst first.

    Returns
    -------
    tuple of str
        Sentences; empty for a log in which nothing contradicts another thing.
    """
    return tuple(
        itertools.chain(
            _wrong_way(trials),
            _one_seam_twice(trials),
            _other_scale(trials),
            _locks_apart(trials),
            _one_mirrored(trials),
            _turns_or_degrees(trials),
            _screw_unsaid(trials),
        )
    )


def screw_slope(trials: Sequence[Trial], apart: float = APART) -> tuple[float, float] | None:
    """By how much the lock moves with an eighth inwards, and its standard error; None untold.

    Only the last trials among which nothing but the screw was changed are weighed.
    """
    kept = _by_screw(trials)
    if len(kept) < 2 or np.ptp([screw for _, screw, _, _ in kept]) < apart:
        return None
    slope, sd, _ = _line(*(np.array(column) for column in list(zip(*kept, strict=True))[1:]))
    return slope, sd


def _by_screw(trials: Sequence[Trial]) -> list[tuple[Trial, float, float, float]]:
    """The last trials among which the screw alone was changed: each with screw, lock and its sd."""
    kept: list[tuple[Trial, float, float, float]] = []
    for one in reversed(trials):
        if one.screw is not None and one.lock is not None:
            half = max((one.lock[2] - one.lock[0]) / 2.0, 0.02)
            kept.append((one, one.screw, one.lock[1], half / NINETY))
        if one.changed not in (SCREW, NOTHING) or one.also:
            break
    return kept


def _line(screw: Floats, lock: Floats, sd: Floats) -> tuple[float, float, float]:
    """Slope of the lock over the screw, its standard error, and the misfit (chi square)."""
    weight = 1.0 / sd**2
    middle = float(weight @ screw / weight.sum())
    power = float(weight @ (screw - middle) ** 2)
    slope = float(weight @ ((screw - middle) * lock)) / power
    mean = float(weight @ lock / weight.sum())
    left = lock - mean - slope * (screw - middle)
    return slope, power**-0.5, float(weight @ left**2)


def _one_mirrored(trials: Sequence[Trial]) -> Iterator[str]:
    """Notice a lock that lies on the others' line only with its sides changed round."""
    kept = _by_screw(trials)
    if len(kept) < _FOUR or len({screw for _, screw, _, _ in kept}) < _FOUR - 1:
        return
    screw, lock, sd = (np.array(column) for column in list(zip(*kept, strict=True))[1:])
    _, _, plain = _line(screw, lock, sd)
    misfits = []
    for n in range(len(kept)):
        turned = lock.copy()
        turned[n] = 1.0 - turned[n]
        misfits.append(_line(screw, turned, sd)[2])
    n = int(np.argmin(misfits))
    if plain - misfits[n] > _MIRRORED and abs(2.0 * lock[n] - 1.0) > _LOCKS:
        yield (
            f"{kept[n][0].name.capitalize()} locks at {lock[n]:.2f} of the thickness, and the "
            f"other trials ask for some {1.0 - lock[n]:.2f}: its sides are probably changed round. "
            "Look at both sides again."
        )


_FOUR: Final = 4
"""Trials with a lock from which one is told to lie aside of the others: a line takes two."""
_MIRRORED: Final = 9.0
"""By how much the misfit falls when one lock is mirrored before that is told (three standard
deviations)."""


def wrong_way(trials: Sequence[Trial]) -> bool:
    """Whether the lock did not go up as the needle thread was tightened, by one eighth or more."""
    found = screw_slope(trials, WHOLE)
    return found is not None and found[0] > 0.0


def _wrong_way(trials: Sequence[Trial]) -> Iterator[str]:
    found = screw_slope(trials, WHOLE)
    if found is None or found[0] <= 0.0:
        return
    if found[0] > SAME_WAY * found[1]:
        yield (
            "As the screw went in the lock went towards the under side, and a tighter needle "
            "thread draws it up: the screw was probably counted outwards, or the sides of the seam "
            "are changed round. Look at both before it is turned."
        )
    else:
        yield (
            "As the screw went in the lock did not go up, as it must: look again which way the "
            "screw was counted and which side of the seam was called the upper one."
        )


def _one_seam_twice(trials: Sequence[Trial]) -> Iterator[str]:
    seams = [one for one in trials if one.seam is not None]
    for n, one in enumerate(seams):
        for other in seams[n + 1 :]:
            if same_seam(one, other):
                yield (
                    f"{one.name.capitalize()} and {other.name} have the same seam to the last "
                    "figure: one picture was probably put to both. They are not compared; put the "
                    "right one to each."
                )
                return


def _other_scale(trials: Sequence[Trial]) -> Iterator[str]:
    sewn = [one for one in trials if one.seam is not None]
    for one, other in itertools.pairwise(sewn):
        if one.seam is None or other.seam is None or changes_length(other):
            continue
        ratio = other.seam.mean_mm / one.seam.mean_mm
        if abs(math.log(ratio)) > math.log(FACTOR):
            yield (
                f"The stitches of {other.name} are {ratio:.2f} times those of {one.name}, and "
                f"{other.words} does not do that: was one scan measured by other dots to the inch, "
                "or the stitch set anew? Measure its scale again."
            )


def _locks_apart(trials: Sequence[Trial]) -> Iterator[str]:
    for one, other in itertools.pairwise(trials):
        if other.changed != NOTHING or other.also or one.lock is None or other.lock is None:
            continue
        if one.screw != other.screw:
            continue
        sd = [max(lock[2] - lock[0], 0.04) / 2.0 / NINETY for lock in (one.lock, other.lock)]
        off = abs(other.lock[1] - one.lock[1])
        if off > 4.0 * math.hypot(*sd) and off > _LOCKS:
            mirrored = abs(other.lock[1] + one.lock[1] - 1.0) < off / 2.0
            why = "the sides of one are probably changed round" if mirrored else "one is wrong"
            yield (
                f"{other.name.capitalize()} was sewn as {one.name} and locks at "
                f"{other.lock[1]:.2f} of the thickness, not {one.lock[1]:.2f}: {why}. Look at both "
                "sides again."
            )


_LOCKS: Final = 0.2
"""By so much of the thickness two seams of one setting may lock apart (a judgement)."""


def _turns_or_degrees(trials: Sequence[Trial]) -> Iterator[str]:
    stood = [one.screw for one in trials if one.screw is not None]
    steps = [abs(b - a) for a, b in itertools.pairwise(stood) if b != a]
    if not steps:
        return
    if max(steps) > MOST_EIGHTHS:
        yield (
            f"The screw moved by {max(steps):g} eighths from one trial to the next: was it written "
            "in degrees? An eighth of a turn is 45°."
        )
    elif min(steps) < FINEST and max(abs(one) for one in stood) < _IN_TURNS:
        yield (
            f"The screw's settings lie {min(steps):g} eighths apart, which nobody sets by eye: "
            "were they written in turns? A turn is 8 eighths."
        )


_IN_TURNS: Final = 8.0
"""A screw stands within so many turns of its mark."""


def _screw_unsaid(trials: Sequence[Trial]) -> Iterator[str]:
    for one, other in itertools.pairwise(trials):
        if one.screw is None or other.screw is None or other.changed == "start":
            continue
        if screw_moved(one, other) and other.changed != SCREW:
            yield (
                f"The screw of {other.name} stands {other.screw - one.screw:+g} eighths from where "
                f"it stood, and it is said that {other.words} was changed: it is counted as two "
                "changes. Look whether the screw was turned."
            )
        elif other.changed == SCREW and other.screw == one.screw:
            yield (
                f"{other.name.capitalize()} is said to have the screw turned, and it stands where "
                "it stood: was its setting copied? Look again."
            )
