"""Two seams compared: length of stitch, evenness, skips.

Means by Welch's test (1947), spreads by Brown and Forsythe's (1974, "Robust tests for the equality
of variances"), skipped stitches by Fisher's exact test (1922). Three questions are asked at once,
so that each chance is multiplied by three (Bonferroni).
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import scipy  # its parts load when they are first asked for

from ironlace.evidence.arrays import Floats
from ironlace.running.errors import RunningError

QUESTIONS: Final = 3
"""Length, evenness, skips."""
SURE: Final = 0.05
"""Chance below which a difference is told as one."""
LEAST: Final = 6
"""Single stitches that each seam needs. A judgement."""


@dataclass(frozen=True)
class SeamLengths:
    """What a seam brings to a comparison.

    Attributes
    ----------
    lengths_mm
        Of its single, sure stitches.
    error_mm
        Standard error of one length.
    scale_share
        Standard error of its scale, as a share.
    stitches, skipped
        How many there are, and how many of them were skipped.
    reliable
        Whether its picture bore the answer.
    """

    lengths_mm: Floats
    error_mm: float
    scale_share: float
    stitches: int
    skipped: int
    reliable: bool


@dataclass(frozen=True)
class TwoSeams:
    """The second seam against the first.

    Attributes
    ----------
    difference_mm
        Mean length of the second less the first's; low, value, high (90 %).
    length_chance, evenness_chance, skip_chance
        How likely chance alone makes as large a difference, three questions allowed for.
    cv
        Evenness of both, measuring error taken off.
    skipped
        Skipped stitches of both.
    """

    difference_mm: tuple[float, float, float]
    length_chance: float
    cv: tuple[float, float]
    evenness_chance: float
    skipped: tuple[int, int]
    skip_chance: float
    reliable: bool


def read_seam(text: str) -> SeamLengths:
    """Read what `ironlace running seam` wrote as JSON.

    Raises
    ------
    RunningError
        If it is not that.
    """
    try:
        return lengths_told(json.loads(text))
    except (KeyError, TypeError, ValueError, IndexError, RecursionError) as error:
        raise RunningError(
            "This is not the JSON of a measured seam: write it with "
            "'ironlace running seam SCAN --json OUT.json'."
        ) from error


def lengths_told(told: Mapping[str, Any]) -> SeamLengths:
    """What a measured seam's figures, by the keys of its JSON, bring to a comparison.

    Raises KeyError, TypeError, ValueError or IndexError if they are not that.
    """
    lengths = [
        float(one["length_mm"][1])
        for one in told["stitches"]
        if not one["skipped"] and not one["doubtful"] and not one.get("left_out", False)
    ]
    return SeamLengths(
        np.asarray(lengths),
        math.sqrt(2.0) * float(told["measuring_error_mm"]),
        0.002 if told["scale"] == "dpi" else 0.001,
        int(told["count"]),
        int(told["skipped"]),
        bool(told["reliable"]),
    )


def compare_seams(first: SeamLengths, second: SeamLengths) -> TwoSeams:
    """Compare two seams.

    Raises
    ------
    RunningError
        If one has too few sure stitches.
    """
    fewest = min(len(first.lengths_mm), len(second.lengths_mm))
    if fewest < LEAST:
        raise RunningError(
            f"One seam has {fewest} sure single stitches; {LEAST} in each are needed to compare."
        )
    means = [float(s.lengths_mm.mean()) for s in (first, second)]
    shares = [float(s.lengths_mm.var(ddof=1)) / len(s.lengths_mm) for s in (first, second)]
    scales = [(s.scale_share * m) ** 2 for s, m in zip((first, second), means, strict=True)]
    error = math.sqrt(sum(shares) + sum(scales))
    freedom = sum(shares) ** 2 / sum(
        v**2 / (len(s.lengths_mm) - 1) for v, s in zip(shares, (first, second), strict=True)
    )
    off = means[1] - means[0]
    half = float(scipy.stats.t.ppf(0.95, freedom)) * error
    chance = 2.0 * float(scipy.stats.t.sf(abs(off) / error, freedom))
    # shares of the mean, so that a longer stitch is not taken for a less even one
    spread = scipy.stats.levene(
        first.lengths_mm / means[0], second.lengths_mm / means[1], center="median"
    ).pvalue
    table = [[s.skipped, max(s.stitches - s.skipped, 0)] for s in (first, second)]
    skips = scipy.stats.fisher_exact(np.asarray(table)).pvalue
    return TwoSeams(
        (off - half, off, off + half),
        min(1.0, QUESTIONS * chance),
        (_cv(first), _cv(second)),
        min(1.0, QUESTIONS * float(spread)),
        (first.skipped, second.skipped),
        min(1.0, QUESTIONS * float(skips)),
        first.reliable and second.reliable,
    )


def _cv(seam: SeamLengths) -> float:
    variance = float(seam.lengths_mm.var(ddof=1)) - seam.error_mm**2
    return math.sqrt(max(variance, 0.0)) / float(seam.lengths_mm.mean())


def comparison_sentences(found: TwoSeams) -> list[str]:
    """The comparison in words."""
    said = []
    if not found.reliable:
        said.append("Not reliable: one of the two seams was not, so neither is this comparison.")
    low, off, high = found.difference_mm
    way = "longer" if off > 0 else "shorter"
    if found.length_chance < SURE:
        said.append(
            f"The second seam's stitches are {abs(off):.3f} mm {way} (90 %: {low:+.3f} to "
            f"{high:+.3f} mm; by chance {found.length_chance:.1%})."
        )
    else:
        said.append(
            f"No difference in length beyond chance: {off:+.3f} mm (90 %: {low:+.3f} to "
            f"{high:+.3f} mm)."
        )
    better = "more even" if found.cv[1] < found.cv[0] else "less even"
    told = f"{found.cv[0]:.1%} before, {found.cv[1]:.1%} after"
    if found.evenness_chance < SURE:
        said.append(f"The second is {better}: {told} (by chance {found.evenness_chance:.1%}).")
    else:
        said.append(f"No difference in evenness beyond chance: {told}.")
    counts = f"{found.skipped[0]} before, {found.skipped[1]} after"
    surely = (
        "Skipped stitches differ"
        if found.skip_chance < SURE
        else "Skipped stitches do not differ beyond chance"
    )
    said.append(f"{surely}: {counts}.")
    return said
