"""What to try next: one change at a time, from the seams so far and the tension's curve."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ironlace.evidence.intervals import NINETY
from ironlace.running.trials.trials_doubted import screw_slope, wrong_way
from ironlace.running.trials.trials_weighed import (
    CHANGED,
    NOTHING,
    SCREW,
    SURE,
    Trial,
    Weighed,
)

MIDDLE: Final = 0.5
"""Where the threads should lock, as a share of the thickness."""
NEAR: Final = 0.15
"""A lock so near to the middle needs no turn of the screw (a judgement, no source)."""
AMID: Final = 0.3
"""An interval of the lock that reaches no farther from the middle tells that it is there; a wider
one only that it may be (a judgement: in the inner six tenths no loop shows on either side)."""
MOST_EIGHTHS: Final = 2.0
"""The screw is turned no further at once: between loose and snapped lie few eighths (judged)."""
SLOPE_SURE: Final = NINETY
"""Standard errors by which the lock must follow the screw before a step is reckoned from it."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """What to try next.

    Attributes
    ----------
    does
        In one sentence.
    why
        What it rests on, in one sentence.
    changed
        Key of what is changed; empty where nothing is proposed.
    eighths
        By how many eighths the needle thread's screw is turned in; 0 for anything else.
    sure
        Whether the seams say so; otherwise it is common practice, or cannot be told.
    """

    does: str
    why: str
    changed: str
    eighths: float = 0.0
    sure: bool = False


def propose(
    trials: Sequence[Trial], weighed: Weighed, gf_per_eighth: float | None = None
) -> Proposal:
    """Propose the next trial.

    Parameters
    ----------
    gf_per_eighth
        What an eighth of the needle thread's screw adds, by the tension's curve; None unknown.
    """
    last = trials[-1]
    for check in (_seam_first, _one_change, _back):
        if (found := check(last, weighed)) is not None:
            return found
    seam = last.seam
    if seam is not None and seam.skipped:
        return Proposal(
            "Put in a new needle of the right length, and sew again with nothing else changed.",
            f"{seam.skipped} stitches of {last.name} were skipped: a bent or blunt needle is the "
            "commonest cause, the timing the next (common practice, no source).",
            "needle",
        )
    if last.lock is not None and wrong_way(trials):
        return Proposal(
            "Look which way the screw was counted, and which side of the seam is the upper one, "
            "before it is turned.",
            "By the trials so far a tighter needle thread draws the lock down, which it does not.",
            "",
        )
    if last.lock is not None:
        return _by_lock(trials, last, gf_per_eighth)
    if not weighed.repeats:
        return _again(last)
    return Proposal(
        "Measure the balance: scan both sides of the last seam, sewn with two colours.",
        "Without it the seams tell how even the stitch is, not whether needle thread or shuttle "
        "thread is too tight: which way to turn the screw cannot be told.",
        "",
    )


def _seam_first(last: Trial, _weighed: Weighed) -> Proposal | None:
    if last.seam is None:
        return Proposal(
            f"Sew and measure the seam of {last.name} first.",
            "A trial without a seam tells nothing.",
            "",
        )
    if not last.seam.reliable:
        return Proposal(
            f"Scan the seam of {last.name} again, or sew it anew on plain cloth.",
            "Its picture cannot be relied on, so nothing is concluded from it.",
            "",
        )
    return None


def _one_change(last: Trial, weighed: Weighed) -> Proposal | None:
    if not last.also:
        return None
    if any(effect.sure for effect in weighed.steps[-1].effects) if weighed.steps else False:
        return Proposal(
            f"Put back '{last.also}', leave the rest, and sew again.",
            f"Two things were changed in {last.name} and the seam changed with them: which did "
            "it cannot be told.",
            "other",
        )
    return None


def _back(last: Trial, weighed: Weighed) -> Proposal | None:
    step = weighed.steps[-1] if weighed.steps else None
    if step is None or step.after is not last or last.changed in ("start", NOTHING):
        return None
    worse = [effect for effect in step.effects if effect.worse]
    if not worse:
        return None
    eighths = 0.0
    if last.changed == SCREW and last.screw is not None and step.before.screw is not None:
        eighths = step.before.screw - last.screw
    alone = "" if weighed.repeats else " of the stitches alone"
    return Proposal(
        f"Turn back what was changed in {last.name} ({CHANGED.get(last.changed, last.changed)}).",
        f"With it the seam grew worse in {' and '.join(e.question for e in worse)}, beyond chance"
        f"{alone} ({min(e.chance for e in worse):.1%}).",
        last.changed,
        eighths,
        sure=weighed.repeats > 0,
    )


def _again(last: Trial) -> Proposal:
    return Proposal(
        f"Sew {last.name} again with nothing changed.",
        "No seam was sewn twice at one setting, so how much two seams differ by themselves is not "
        "known, and no change can be told from it.",
        NOTHING,
    )


def _by_lock(trials: Sequence[Trial], last: Trial, gf_per_eighth: float | None) -> Proposal:
    assert last.lock is not None
    low, value, high = last.lock
    off = value - MIDDLE
    if low <= MIDDLE <= high or abs(off) < NEAR:
        return _left(last, low, value, high)
    # a lock near the upper side: the needle thread pulls the bobbin thread up, and is eased
    way = 1.0 if off > 0.0 else -1.0
    slope = _slope(trials)
    if slope is not None:
        eighths = float(np.clip(-off / slope, -MOST_EIGHTHS, MOST_EIGHTHS))
        eighths = round(2.0 * eighths) / 2.0 or 0.5 * way
        why = f"an eighth inwards moved the lock by {slope:+.2f} of the thickness so far"
    else:
        eighths = way
        why = "how far the lock follows the screw is not known yet, so it is one eighth"
    tells = "" if gf_per_eighth is None else f" (some {abs(eighths) * gf_per_eighth:.1f} gf)"
    felt = "tighter" if eighths > 0.0 else "looser"
    return Proposal(
        f"Turn the needle thread's screw {turned(eighths)}, {felt}{tells}, and nothing else.",
        f"The threads of {last.name} lock at {value:.2f} of the thickness ({low:.2f} to "
        f"{high:.2f}), too near to the {'under' if off > 0.0 else 'upper'} side; {why}.",
        SCREW,
        eighths,
        sure=True,
    )


def turned(eighths: float) -> str:
    """So many eighths of a turn, in words.

    >>> turned(1.5), turned(-1.0)
    ('1.5 eighths of a turn in', '1 eighth of a turn out')
    """
    many = "" if abs(eighths) == 1.0 else "s"
    return f"{abs(eighths):g} eighth{many} of a turn {'in' if eighths > 0.0 else 'out'}"


def _left(last: Trial, low: float, value: float, high: float) -> Proposal:
    """Nothing to turn: the lock is at the middle, or may lie on either side of it."""
    told = f"The threads of {last.name} lock at {value:.2f} of the thickness ({low:.2f} to "
    if max(MIDDLE - low, high - MIDDLE) <= AMID:
        why = f"{told}{high:.2f}), which is the middle as far as can be told."
        return Proposal("Leave the tension as it is.", why, "", sure=True)
    return Proposal(
        "Leave the tension, and tell the balance of a longer seam sewn with it.",
        f"{told}{high:.2f}): so wide that it may lie on either side of the middle, and which way "
        "to turn the screw cannot be told.",
        NOTHING,
    )


def _slope(trials: Sequence[Trial]) -> float | None:
    """By how much the lock moves with an eighth inwards; None where the trials do not tell."""
    found = screw_slope(trials)
    if found is None:
        return None
    slope, error = found
    # tighter needle thread draws the lock up: a slope the other way is chance, or doubted before
    return slope if slope < -SLOPE_SURE * error else None


__all__ = ["SURE", "Proposal", "propose"]
