"""Balance of a lockstitch from both sides: where the threads lock, from what each side shows.

Where both threads lock within the cloth neither shows on the other's side. How often the bobbin's
thread shows above and the needle's below tells where the lock lies and how far it scatters: a
normal law of the lock's depth crosses the upper side in the one share of the entries and the under
side in the other (probit, D. Finney, *Probit Analysis*, 1947). Which pixel is of which thread is
told by hue, learnt on the middles of the stitches of both pictures; the dark of a hole has none.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Literal

import cv2
import numpy as np
import scipy  # its parts load when they are first asked for
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats
from ironlace.photographs.looked_up import looked_up
from ironlace.running.errors import RunningError
from ironlace.running.seam.evenness import Range
from ironlace.running.seam.seam_measured import SeamMeasured
from ironlace.running.seam.seam_picture import SeamPicture, Working, working_copy

COVERAGE: Final = 0.9
"""Of all intervals here."""
REACH_MM: Final = 0.55
"""What is looked at on either side of a hole along the seam: a loop is seldom longer (judged)."""
ACROSS_MM: Final = 0.3
"""And to either side of it: loops of the other thread stand out sideways too."""
STEP_MM: Final = 0.04
"""Distance of the places that are looked at: a working pixel."""
HUE_APART: Final = 14.0
"""Least distance of the threads' hues (a*, b*), or of lightness where hue does not part them."""
DARK_SHARE: Final = 0.35
"""A pixel darker than such a share of the other thread is the hole's own dark."""
LEAST_MM2: Final = 0.012
"""Smallest patch that is told as a loop: a tenth of a mm each way (judged)."""
CHANCE: Final = 0.98
"""Share of the middles of stitches that must show less than what is told as a loop."""
FEWEST: Final = 12
"""Entries that each side must have: with fewer a share is told to no better than a fifth."""
_GRID: Final = 161
"""Places, and scatters, over which what is believed is summed."""
_PLACES: Final = 0.5
"""Thicknesses beyond the cloth at which a lock is reckoned with."""
_SCATTERS: Final = (0.03, 0.6)
"""Scatter of the lock that is reckoned with, in thicknesses (a judgement, no source)."""
_CROWNS: Final = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5)
"""Depth beneath a side, in thicknesses, down to which a lock shows there: the threads cross at the
lock, and the crown of the other one stands a thread higher, in a hole that is open. A sewing thread
is 0.2 to 0.35 mm, two layers of cloth 0.6 to 1.2; pressed flat or under a closed hole none of it
shows. All alike beforehand. (At 0 alone path-traced locks 0.25 mm deep were told to lie 0.36
thicknesses beyond the cloth; painted ones show at 0. Four traced pairs showed them 0.4 to 0.5 deep,
a thread of 0.26 to 0.31 mm and a dip of 0.13 at the hole in cloth of 1 mm, and alike with holes
open and closed about the thread. A finer grid of depths held no more.)"""
_BOUND: Final = 0.1
"""Where what is believed reaches so near to the farthest place reckoned with, that end is our
choice and not the picture's: the lock is told as a bound."""
_UNLIKELY: Final = 1.35
"""A bound is the last place at which some crown and some scatter leave the counts no less likely
than this logarithm below the best: 95 % to one side by the likelihood ratio (S. Wilks, 1938)."""
_SCATTER_POWER: Final = 0.75
"""Beforehand a scatter is believed as its logarithm is alike, times this power of it: between alike
by order (0) and alike by size (1). By 0 a lock near the middle that scatters by 0.25 to 0.4 was
held in 0.78, by 1 one near a side that scatters by 0.08 to 0.15 in 0.77; by this each in 0.81 and
more, and 0.93 of all (counts drawn by a normal law, 25 entries a side, 2,500 seams each)."""


@dataclass(frozen=True)
class SideShows:
    """What one side shows of the other side's thread.

    Attributes
    ----------
    entries, showing
        Sure holes, and how many of them show the other thread.
    patch_mm2
        Of each sure hole, the area of the other thread, mm².
    share
        Of the entries that show it: low, value, high (90 %).
    """

    entries: int
    showing: int
    patch_mm2: Floats
    share: tuple[float, float, float]


@dataclass(frozen=True)
class Balance:
    """Where the threads lock.

    Attributes
    ----------
    upper, under
        What each side shows of the other thread.
    lock
        Place of the lock as a share of the thickness, 0 at the upper side and 1 at the under side:
        low, value, high (90 %).
    scatter
        Standard deviation of the lock from entry to entry, in thicknesses: low, value, high.
    seen
        Whether either side shows anything, so that the place is more than bounded.
    bound
        The side at which so many entries show that the lock may lie at it, beyond it or well
        beneath it: its place is then that side's, and the interval's inner end a bound. Empty
        where both ends are told.
    """

    upper: SideShows
    under: SideShows
    lock: tuple[float, float, float]
    scatter: tuple[float, float, float]
    seen: bool
    bound: Literal["", "upper", "under"] = ""

    @property
    def too_thin(self) -> bool:
        """Whether more entries show than there are, so that some show on both sides."""
        return self.upper.share[0] + self.under.share[0] > 1.0


def balance(
    upper: tuple[SeamPicture, SeamMeasured], under: tuple[SeamPicture, SeamMeasured]
) -> Balance:
    """Tell the balance from both sides.

    Raises
    ------
    RunningError
        If the threads' colours cannot be told apart, or a side has too few sure holes.
    """
    sides = [_Side(*one) for one in (upper, under)]
    own = [side.thread for side in sides]
    found = []
    for side, other, words in zip(sides, own[::-1], ("upper", "under"), strict=True):
        found.append(_shows(side, other, words))
    lock, scatter, bound = _lock(found[0], found[1])
    seen = bool(found[0].showing or found[1].showing)
    return Balance(found[0], found[1], lock, scatter, seen, bound)


class _Side:
    """One side's picture, sampled about its holes and about the middles of its stitches."""

    def __init__(self, picture: SeamPicture, found: SeamMeasured) -> None:
        working = working_copy(picture)
        sure = np.flatnonzero(~found.doubtful)
        sure = sure[(sure > 0) & (sure < len(found.doubtful) - 1)]
        single = np.flatnonzero((found.stitches == 1) & ~found.doubtful[:-1] & ~found.doubtful[1:])
        along = np.gradient(found.places_mm, axis=0)
        along /= np.linalg.norm(along, axis=1, keepdims=True)
        middles = 0.5 * (found.places_mm[1:] + found.places_mm[:-1])
        self.holes = _windows(working, found.places_mm[sure], along[sure])
        self.middles = _windows(working, middles[single], along[:-1][single])
        inner = np.abs(_across()) <= 0.3 * _width(found)
        self.thread = np.median(self.middles[:, inner].reshape(-1, 3), axis=0)
        beside = np.abs(_across(wide=True)) > 0.7
        cloth = _windows(working, middles[single], along[:-1][single], wide=True)[:, beside]
        self.cloth = np.median(cloth.reshape(-1, 3), axis=0)


def _width(found: SeamMeasured) -> float:
    width = found.thread.width_mm
    return width if np.isfinite(width) else 0.3


def _across(*, wide: bool = False) -> Floats:
    reach = 3.0 * ACROSS_MM if wide else ACROSS_MM
    return np.arange(-reach, reach + 1e-9, STEP_MM)


def _windows(working: Working, places_mm: Floats, along: Floats, *, wide: bool = False) -> Floats:
    """Colours about places, level with the seam: (n, across, along, 3)."""
    across = _across(wide=wide)
    forward = np.arange(-REACH_MM, REACH_MM + 1e-9, STEP_MM)
    beside = np.stack((-along[:, 1], along[:, 0]), axis=1)
    grid = (
        places_mm[:, None, None]
        + forward[None, None, :, None] * along[:, None, None]
        + across[None, :, None, None] * beside[:, None, None]
    )
    px = (grid - np.asarray(working.origin_mm)) * working.px_per_mm - 0.5
    return np.asarray(looked_up(working.lab, px), np.float64)


def _shows(side: _Side, other: Floats, words: str) -> SideShows:
    """How often one side shows the other thread."""
    if len(side.holes) < FEWEST:
        raise RunningError(
            f"Of the {words} side {len(side.holes)} holes are sure, and {FEWEST} are needed: scan "
            "a longer seam, or the same one sharper."
        )
    likeness = _likeness(side, other, words)
    hole, middle = likeness(side.holes), likeness(side.middles)
    null = float(np.quantile(middle, CHANCE)) if len(middle) else 0.0
    least = max(LEAST_MM2, 1.2 * null)
    showing = int((hole > least).sum())
    n = len(hole)
    tail = (1.0 - COVERAGE) / 2.0
    low, high = (
        float(scipy.stats.beta.ppf(at, showing + 0.5, n - showing + 0.5))
        for at in (tail, 1.0 - tail)
    )
    return SideShows(n, showing, hole, (low, showing / n, high))


def _likeness(side: _Side, other: Floats, words: str) -> Callable[[Floats], Floats]:
    """What measures the other thread's area in windows, mm², by hue or by lightness."""
    apart = other - side.thread
    hue = float(np.linalg.norm(apart[1:]))
    by_hue = hue >= HUE_APART
    if not by_hue and apart[0] < 2.0 * HUE_APART:
        raise RunningError(
            f"On the {words} side the other thread cannot be told from this one or from a hole's "
            "shadow: sew the test with two threads of different colour, such as red above and "
            "blue below."
        )
    part = slice(1, 3) if by_hue else slice(0, 1)
    if float(np.linalg.norm((side.cloth - other)[part])) < HUE_APART:
        raise RunningError(
            f"On the {words} side the cloth has nearly the other thread's colour, and cloth in a "
            "hole would pass for a loop: sew on cloth of a third colour."
        )

    def area(windows: Floats) -> Floats:
        far = [
            np.linalg.norm((windows - colour)[..., part], axis=-1)
            for colour in (other, side.thread, side.cloth)
        ]
        lit = windows[..., 0] > DARK_SHARE * other[0]
        like = (far[0] < far[1]) & (far[0] < far[2]) & lit
        return np.asarray([_largest(one.astype(np.uint8)) * STEP_MM**2 for one in like], np.float64)

    return area


def _largest(patches: NDArray[np.uint8]) -> int:
    """Places of the largest patch that hangs together."""
    count, _, stats, _ = cv2.connectedComponentsWithStats(patches, connectivity=8)
    return int(stats[1:, cv2.CC_STAT_AREA].max()) if count > 1 else 0


def _lock(upper: SideShows, under: SideShows) -> tuple[Range, Range, Literal["", "upper", "under"]]:
    """Place and scatter of the lock, by how many entries of both sides show the other thread.

    Summed over a grid, with all places alike beforehand; of the scatter see `_SCATTER_POWER`. A
    side shows the other thread while the lock lies no deeper than that thread's crown is high.
    Where nearly all of a side show and hardly any of the other, no deeper lock would show more:
    the third value names the side, and the place is a bound.
    """
    place = np.linspace(-_PLACES, 1.0 + _PLACES, _GRID)
    spread = np.geomspace(*_SCATTERS, _GRID)
    logs = []
    for deep in _CROWNS:
        below_upper, above_under = (
            (side[:, None] - deep) / spread for side in (place, 1.0 - place)
        )
        log = np.zeros((_GRID, _GRID))
        for side, off in ((upper, below_upper), (under, above_under)):
            log += side.showing * scipy.stats.norm.logsf(off)
            log += (side.entries - side.showing) * scipy.stats.norm.logcdf(off)
        logs.append(log)
    likely = np.stack(logs)
    believed = likely + _SCATTER_POWER * np.log(spread)
    weight = np.exp(believed - believed.max()).sum(axis=0)
    weight /= weight.sum()
    low, middle, high = _range(place, weight.sum(axis=1))
    scatter = _range(spread, weight.sum(axis=0))
    best = likely.max(axis=(0, 2))
    may = place[best > best.max() - _UNLIKELY]
    # by what is believed, a bound would be farther out: most places reckoned with lie there
    if high > place[-1] - _BOUND and low > place[0] + _BOUND:
        return (float(min(low, may[0])), 1.0, float(place[-1])), scatter, "under"
    if low < place[0] + _BOUND and high < place[-1] - _BOUND:
        return (float(place[0]), 0.0, float(max(high, may[-1]))), scatter, "upper"
    return (low, middle, high), scatter, ""


def _range(values: Floats, weight: Floats) -> Range:
    """Low, middle and high of what is believed on a grid."""
    held = np.cumsum(weight) - 0.5 * weight
    tail = (1.0 - COVERAGE) / 2.0
    low, middle, high = (float(v) for v in np.interp([tail, 0.5, 1.0 - tail], held, values))
    return low, middle, high
