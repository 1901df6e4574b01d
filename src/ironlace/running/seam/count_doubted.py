"""What makes the number of stitches doubtful, or their one length, in words.

A seam may be measured well and counted wrongly: a hole more where the thread goes on, a hole that
fits in nowhere because most stitches were skipped, a stretch of stitches twice as long that is read
as every second one skipped. And it may have two lengths, of which the mean is neither.
"""

from __future__ import annotations

import itertools
import math
from typing import Final

import numpy as np

from ironlace.running.seam.seam_measured import SeamMeasured

MAY_HOLD_ONE: Final = 0.8
"""Thread that goes on for this share of a stitch beyond the last hole may hold one more: where one
was lost it was 0.87 and more, in a shadow with none lost 0.72 (seven painted seams)."""
MUCH_BARE_MM: Final = 8.0
"""More bare cloth than this beyond a seam's end is more than the few mm that are asked for. A
judgement."""
NAMED: Final = 3
"""So many places are named; of more the number is told."""
DOUBLED_RUN: Final = 3
"""So many skips with no single stitch between are as likely stitches of twice the length: of a
machine that skips one stitch in five this comes once in a hundred. A judgement."""
LEAST_OF_A_LENGTH: Final = 4
"""Fewer stitches are no length of their own."""
LEAST_STEP: Final = 0.08
"""Two lengths nearer to one another than this share are told as a drift. A judgement."""
SURE_STEP: Final = 8.0
"""Standard errors between the two. Of the best of thirty places chance alone reaches 3.5 once in a
hundred; more is asked since lengths near to one another in a seam are alike. A judgement."""
RATHER_A_STEP: Final = 0.7
"""What a step leaves of the squares, as a share of what a steady drift leaves. A judgement."""


def count_doubted(found: SeamMeasured) -> str:
    """What makes the number doubtful, to be put behind it; empty where nothing does."""
    said = ""
    usual = found.figures.mean_mm[1]
    lost = sum(mm > MAY_HOLD_ONE * usual for mm in found.unfound_mm)
    if lost:
        which = "at both ends" if lost == 2 else "at one end"
        said = f"; {which} the thread goes on beyond the last hole told, so that more may be there"
    bare = max(found.bare_mm)
    if bare > MUCH_BARE_MM and not lost:
        said += (
            f"; beyond its {'first' if bare == found.bare_mm[0] else 'last'} hole no thread of its "
            f"colour is seen for {bare:.0f} mm: if it goes on in the cloth's colour it was not "
            "counted there"
        )
    if count := len(found.passed_mm):
        where = " and ".join(f"{mm:.0f} mm" for mm in found.passed_mm[:NAMED])
        more = f" and {count - NAMED} places more" if count > NAMED else ""
        said += (
            f"; what looks like a hole at {where}{more} lies within a stitch and was passed over: "
            "stitches may be shorter, and more of them skipped, than told here"
        )
    if (run := _doubled(found)) is not None:
        first, last = run
        said += (
            f"; from {first:.0f} to {last:.0f} mm every second one was told as skipped, which may "
            "as well be stitches of twice the length, as when the regulator slips"
        )
    return said


def _doubled(found: SeamMeasured) -> tuple[float, float] | None:
    """Where skips follow one another with no single stitch between; the longest such run, mm."""
    best: tuple[int, int] | None = None
    at = 0
    for twice, group in itertools.groupby(found.stitches == 2):
        count = len(list(group))
        if twice and count >= DOUBLED_RUN and (best is None or count > best[1] - best[0]):
            best = (at, at + count)
        at += count
    return None if best is None else (found.along_mm[best[0]], found.along_mm[best[1]])


def two_lengths(found: SeamMeasured) -> list[str]:
    """That the seam has two lengths and where the one becomes the other; empty where it has one."""
    at, least = np.flatnonzero(found.weighed), LEAST_OF_A_LENGTH
    x = found.lengths_mm[at]
    if len(x) < 2 * least:
        return []
    best = (math.inf, 0)
    for cut in range(least, len(x) - least + 1):
        left = float(x[:cut].var() * cut + x[cut:].var() * (len(x) - cut))
        best = min(best, (left, cut))
    left, cut = best
    one, two = float(x[:cut].mean()), float(x[cut:].mean())
    line = np.polynomial.Polynomial.fit(at, x, 1)
    drift = float(((x - line(at)) ** 2).sum())
    error = math.sqrt(left / (len(x) - 2) * (1.0 / cut + 1.0 / (len(x) - cut)))
    sure_step = abs(two - one) > SURE_STEP * error and left < RATHER_A_STEP * drift
    if not sure_step or abs(two - one) < LEAST_STEP * one:
        return []
    spreads = [float(part.std(ddof=1) / part.mean()) for part in (x[:cut], x[cut:])]
    return [
        f"There are two lengths in this seam: {one:.2f} mm until {found.along_mm[at[cut]]:.0f} mm "
        f"and {two:.2f} mm from there on, as when the regulator slips; each by itself varies by "
        f"{spreads[0]:.1%} and {spreads[1]:.1%} (measuring error and all)."
    ]
