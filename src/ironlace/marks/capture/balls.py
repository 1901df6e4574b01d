"""Polished balls that lie on the plate, found unaided.

Edges of the median photograph vote for the centres of circles they may belong to (Duda and Hart,
1972; by the direction of the edge: Kimme, Ballard and Sklansky, 1975). A circle is taken for a ball
when its outline is seen nearly all round, when a highlight moves on it from photograph to
photograph, and when the shadow that the torch mirrored in it throws is not a lower thing's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.marks.capture.far_shadows import stands_free
from ironlace.marks.capture.fellow_balls import ALIKE, Spots, agree, moving_spots
from ironlace.marks.capture.frames import Grey
from ironlace.marks.capture.outlines import Circle, refined

LONGEST = 720
"""Pixels of the longer side of the small picture in which balls are sought."""
SMALLEST = 9.0
"""Pixels of radius in the small picture, below which a circle may be a struck ring."""
LEAST_RADIUS_PX = 25.0
"""A ball is not made smaller than this to home in on it: a profile of seven pixels to each side
would reach halfway to its middle and out past its shadow, whose rim was then taken for its own (at
30 to 40 px of radius the centre was 2 to 5 px off, and is 0.05 to 0.4)."""
ROUND_SHARE = 0.02
"""Of its radius an outline may stray from a circle. Balls of 20 to 40 px stray by 0.004 to 0.017,
what of pits and grain passes for a circle of 8 to 15 px by 0.025 and more (12 plates, seeds 40 to
43, and a plate without balls)."""
SEEN_ROUND = 0.55
"""Share of a ball's outline that must be seen."""
MORE = 3
"""Times as many circles that are tried where no ball is among the first."""
FELLOW_SHARE = 0.035
"""Of its radius an outline may stray that is a ball's by its size and highlights as well: of balls
of 20 to 30 px one in fifteen strays by more than ROUND_SHARE and none by this (seed 1 of
`bench/marks_balls.py`)."""
SAME_RIM = 0.03
"""Logarithm by which a second ball's radius may differ from the first's: where the lit plate is
mirrored in one, its rim was found 4 to 7 % off, and the torch told by it 3 to 8 degrees off."""
FELLOW_PX = 12.0
"""Pixels of radius in the small picture where a second ball is sought, if there are so many."""
FELLOW_VOTES = 16
"""Circles of a ball's size that are tried for the second (judged)."""


SOME = 5
"""Photographs in which highlights are sought; all are asked for a shadow."""


@dataclass(frozen=True)
class Fellow:
    """What is as large and as round as a ball that was found.

    Attributes
    ----------
    circle
        Its outline.
    agrees
        Whether its rim and the torch mirrored in it are the ball's; if not, it may be a ball on
        which the torch or the rim is not well seen, or no ball.
    proved
        Whether it stands free on the plate, by its shadow.
    """

    circle: Circle
    agrees: bool
    proved: bool = False


@dataclass(frozen=True)
class FoundBalls:
    """The balls that were found; none is an answer.

    Attributes
    ----------
    circles
        Their outlines.
    proved
        Whether each stands free on the plate, by its shadow (`far_shadows`).
    fellow
        Where one alone was found, what else is as large and as round.
    """

    circles: tuple[Circle, ...] = ()
    proved: tuple[bool, ...] = ()
    fellow: Fellow | None = None


@dataclass(frozen=True)
class _Ball:
    circle: Circle
    seen: float
    proved: bool


def find_balls(
    median: NDArray[np.float32],
    pictures: Sequence[Grey],
    *,
    radius_px: float | None = None,
    most: int = 6,
) -> FoundBalls:
    """Find the balls in photographs of a plate.

    Parameters
    ----------
    median
        See `median_picture`.
    pictures
        The photographs themselves, for the highlights and the shadows.
    radius_px
        Radius they must have within a tenth, if it is known.
    most
        Balls that are looked for.
    """
    small, shrink = _small(median, LONGEST)
    low, high = SMALLEST, 0.24 * min(small.shape)
    if radius_px is not None:
        low, high = max(0.9 * radius_px / shrink, 4.0), 1.1 * radius_px / shrink
    votes = _voted(small, low, high, MORE * 4 * most)
    # rings about the highlights' paths may have all first votes: then the rest are heard as well
    for some in (votes[: 4 * most], votes[4 * most :]):
        found = _shining(median, pictures, some, shrink)
        if found:
            break
    return _with_fellows(median, pictures, _alike(found), most)


def _some(pictures: Sequence[Grey]) -> list[Grey]:
    spread = np.unique(np.linspace(0, len(pictures) - 1, SOME).astype(int))
    return [pictures[n] for n in spread]


def _small(median: NDArray[np.float32], longest: float) -> tuple[NDArray[np.float32], float]:
    """A picture made smaller to so many pixels, and by how much."""
    shrink = max(max(median.shape) / longest, 1.0)
    size = (round(median.shape[1] / shrink), round(median.shape[0] / shrink))
    return np.asarray(cv2.resize(median, size, interpolation=cv2.INTER_AREA), np.float32), shrink


def _shining(
    median: NDArray[np.float32],
    pictures: Sequence[Grey],
    votes: Sequence[Circle],
    shrink: float,
) -> list[_Ball]:
    """Of circles in the small picture those that are balls for certain."""
    found: list[_Ball] = []
    some = _some(pictures)
    for circle in votes:
        full = _enlarged(circle, shrink)
        # more than two centres inside each other are votes for one ball
        if any(np.hypot(full.x - t.x, full.y - t.y) < 0.5 * t.r for t in (b.circle for b in found)):
            continue
        fine, spread, seen = _homed(median, full, shrink)
        good = spread < min(max(1.0, 0.008 * full.r), ROUND_SHARE * full.r) and seen >= SEEN_ROUND
        good = good and 0.7 < fine.r / full.r < 1.4
        good = good and _within(fine, median.shape)
        if not good or not has_moving_highlight(some, fine):
            continue
        # a domed rivet mirrors a torch, too, and tells it wrong
        free = stands_free(pictures, fine)
        if free is not False:
            found.append(_Ball(fine, seen, free is True))
    # what cannot be proved is kept where nothing can be, or beside a ball of its size
    sure = [one.circle.r for one in found if one.proved]
    return [
        one for one in found if not sure or any(abs(np.log(one.circle.r / r)) < ALIKE for r in sure)
    ]


def _enlarged(circle: Circle, shrink: float) -> Circle:
    return Circle(
        (circle.x + 0.5) * shrink - 0.5, (circle.y + 0.5) * shrink - 0.5, circle.r * shrink
    )


def _with_fellows(
    median: NDArray[np.float32], pictures: Sequence[Grey], found: Sequence[_Ball], most: int
) -> FoundBalls:
    """Balls that mirror one torch, one more among them that did not pass alone.

    Of two or more that were found, those go that contradict two others that agree.
    """
    some = _some(pictures)
    circles = [one.circle for one in found]
    spots = [moving_spots(some, one) for one in circles]
    groups = [
        [n for n in range(len(found)) if n == k or _mirror_alike(median, circles, spots, k, n)]
        for k in range(len(found))
    ]
    largest = max(map(len, groups), default=0)
    fellow = None
    if largest > 1:
        found = [found[n] for n in next(one for one in groups if len(one) == largest)]
    else:
        for one, mine in zip(found, spots, strict=True):
            fellow = fellow_of(median, pictures, one.circle, mine)
            if fellow is not None and fellow.agrees:
                both = [one, _Ball(fellow.circle, 0.0, fellow.proved)]
                found, fellow = sorted(both, key=lambda b: b.circle.x + b.circle.y), None
                break
    found = found[:most]
    return FoundBalls(
        tuple(one.circle for one in found),
        tuple(one.proved for one in found),
        fellow if len(found) == 1 else None,
    )


def _mirror_alike(
    median: NDArray[np.float32],
    found: Sequence[Circle],
    spots: Sequence[Spots | None],
    k: int,
    n: int,
) -> bool:
    one, other = spots[k], spots[n]
    return one is not None and other is not None and agree(one, other, _apart(median, found, k, n))


def _apart(median: NDArray[np.float32], found: Sequence[Circle], k: int, n: int) -> float:
    far = np.hypot(found[k].x - found[n].x, found[k].y - found[n].y)
    return float(far / np.hypot(*median.shape))


def fellow_of(
    median: NDArray[np.float32],
    pictures: Sequence[Grey],
    ball: Circle,
    mine: Spots | None = None,
) -> Fellow | None:
    """Seek the second ball by the first; None where nothing else is as large and as round.

    Parameters
    ----------
    median, pictures
        As for `find_balls`.
    ball
        The one that was found.
    mine
        Where the torch is mirrored in it in some of the photographs, of who knows it already.
    """
    # votes for a ball of a few pixels fall apart
    longest = LONGEST * float(np.clip(max(median.shape) / LONGEST * FELLOW_PX / ball.r, 1.0, 3.0))
    small, shrink = _small(median, longest)
    r = ball.r / shrink
    some = _some(pictures)
    mine = moving_spots(some, ball) if mine is None else mine
    round_: list[tuple[float, Fellow]] = []
    alike: list[tuple[float, Fellow]] = []
    for vote in _voted(small, r * np.exp(-ALIKE), r * np.exp(ALIKE), FELLOW_VOTES):
        full = _enlarged(vote, shrink)
        if np.hypot(full.x - ball.x, full.y - ball.y) < 1.5 * ball.r:
            continue
        fine, spread, seen = _homed(median, full, shrink)
        if spread > FELLOW_SHARE * ball.r or seen < SEEN_ROUND:
            continue
        if abs(np.log(fine.r / ball.r)) > ALIKE or not _within(fine, median.shape):
            continue
        theirs = moving_spots(some, fine)
        apart = _apart(median, (ball, fine), 0, 1)
        mirrors = mine is not None and theirs is not None and agree(mine, theirs, apart)
        free = stands_free(pictures, fine) if mirrors else False
        if free is not False and abs(np.log(fine.r / ball.r)) < SAME_RIM:
            alike.append((seen / max(spread, 0.01), Fellow(fine, True, free is True)))
        elif free is not False or spread < ROUND_SHARE * ball.r:
            round_.append((seen, Fellow(fine, False)))
    # of fits to one ball's rim, its shadow's and its mirrored surroundings', the roundest
    best = alike or round_
    return max(best, key=lambda one: one[0])[1] if best else None


def has_moving_highlight(pictures: Sequence[Grey], circle: Circle) -> bool:
    """Whether a small spot on a disc outshines the rest of it, and moves between photographs."""
    spots = []
    for picture in pictures:
        window, left, top = disc_window(picture, circle, 0.92)
        if window.size == 0:
            return False
        smooth = cv2.GaussianBlur(window.astype(np.float32), (0, 0), max(circle.r / 60, 1.0))
        inside = _disc(window.shape, circle.x - left, circle.y - top, 0.9 * circle.r)
        if not inside.any():
            return False
        rest = float(np.median(smooth[inside]))
        smooth[~inside] = 0
        row, column = np.unravel_index(int(smooth.argmax()), smooth.shape)
        peak = float(smooth[row, column])
        bright = np.count_nonzero(smooth > rest + 0.5 * (peak - rest)) / inside.sum()
        if peak > 1.3 * rest + 8 and bright < 0.15:
            spots.append((column + left, row + top))
    if len(spots) < 0.6 * len(pictures):
        return False
    places = np.array(spots, float)
    return len(pictures) == 1 or float(places.std(0).max()) > 0.04 * circle.r


def disc_window(picture: Grey, circle: Circle, part: float) -> tuple[Grey, int, int]:
    """The square of a photograph round a part of a disc, with its left column and top row."""
    reach = part * circle.r
    left, top = max(int(circle.x - reach), 0), max(int(circle.y - reach), 0)
    right, bottom = int(circle.x + reach) + 2, int(circle.y + reach) + 2
    return picture[top:bottom, left:right], left, top


def _disc(shape: tuple[int, ...], x: float, y: float, r: float) -> NDArray[np.bool_]:
    v, u = np.ogrid[: shape[0], : shape[1]]
    return np.asarray((u - x) ** 2 + (v - y) ** 2 < r * r)


def _within(circle: Circle, shape: tuple[int, ...]) -> bool:
    return (
        circle.r * 0.9 < circle.x < shape[1] - circle.r * 0.9
        and circle.r * 0.9 < circle.y < shape[0] - circle.r * 0.9
    )


def _homed(
    median: NDArray[np.float32], circle: Circle, shrink: float
) -> tuple[Circle, float, float]:
    """Fit the outline from coarse to fine: the first guess may be several pixels off."""
    reach = 1.35 * circle.r + 30
    top, left = max(int(circle.y - reach), 0), max(int(circle.x - reach), 0)
    window = median[top : int(circle.y + reach), left : int(circle.x + reach)]
    if min(window.shape) < 16:
        return circle, float("inf"), 0.0
    circle = Circle(circle.x - left, circle.y - top, circle.r)
    spread = seen = 0.0
    for coarse in (max(shrink, 3.0), 1.7, 1.0):
        scale = max(min(coarse, circle.r / LEAST_RADIUS_PX), 1.0)
        fine, spread, seen = _refined_at(window, circle, scale)
        if spread == float("inf"):
            break
        circle = fine
    return Circle(circle.x + left, circle.y + top, circle.r), spread, seen


def _refined_at(
    window: NDArray[np.float32], circle: Circle, scale: float
) -> tuple[Circle, float, float]:
    if scale == 1.0:
        return refined(window, circle)
    size = (round(window.shape[1] / scale), round(window.shape[0] / scale))
    small = cv2.resize(window, size, interpolation=cv2.INTER_AREA)
    fx, fy = size[0] / window.shape[1], size[1] / window.shape[0]
    start = Circle(
        (circle.x + 0.5) * fx - 0.5, (circle.y + 0.5) * fy - 0.5, circle.r * (fx * fy) ** 0.5
    )
    fine, spread, seen = refined(small, start, blur_px=1.0)
    back = Circle((fine.x + 0.5) / fx - 0.5, (fine.y + 0.5) / fy - 0.5, fine.r / (fx * fy) ** 0.5)
    return back, spread, seen


def _voted(small: NDArray[np.float32], low: float, high: float, most: int) -> list[Circle]:
    """Circles by votes of the edges, best first; radii from low to high in pixels."""
    smooth = cv2.GaussianBlur(small, (0, 0), 1.2)
    # in units of the light thereabouts: a ball in a dim corner counts as well
    smooth = smooth / (cv2.GaussianBlur(smooth, (0, 0), 0.5 * high + 4) + 4.0)
    gx, gy = cv2.Sobel(smooth, cv2.CV_32F, 1, 0), cv2.Sobel(smooth, cv2.CV_32F, 0, 1)
    strength = np.hypot(gx, gy)
    rows, columns = np.nonzero(strength > np.percentile(strength, 85))
    ux, uy = gx[rows, columns], gy[rows, columns]
    length = np.hypot(ux, uy)
    ux, uy = ux / length, uy / length
    height, width = small.shape
    scored: list[tuple[float, float, float, float]] = []
    for r in np.geomspace(low, high, max(int(np.ceil(np.log(high / low) / 0.035)), 3)):
        votes = np.zeros(height * width, np.float32)
        for sign in (-1, 1):
            x = np.rint(columns + sign * r * ux).astype(np.int32)
            y = np.rint(rows + sign * r * uy).astype(np.int32)
            # what lies left of the picture or above it is a large number without a sign
            good = (x.view(np.uint32) < width) & (y.view(np.uint32) < height)
            votes += np.bincount((y * width + x)[good], minlength=height * width)
        share = cv2.GaussianBlur(votes.reshape(height, width), (0, 0), max(0.035 * r, 1.0))
        share *= (2 * np.pi * max(0.035 * r, 1.0) ** 2) / (2 * np.pi * r)
        peaks = (share == cv2.dilate(share, np.ones((9, 9)))) & (share > 0.1)
        scored += [
            (float(share[y, x]), float(x), float(y), float(r)) for y, x in np.argwhere(peaks)
        ]
    scored.sort(reverse=True)
    kept: list[Circle] = []
    for _, x, y, r in scored:
        near = (
            np.hypot(x - k.x, y - k.y) < 0.25 * k.r and abs(np.log(r / k.r)) < 0.1 for k in kept
        )
        if not any(near):
            kept.append(Circle(x, y, r))
        if len(kept) == most:
            break
    return kept


def _alike(found: list[_Ball]) -> list[_Ball]:
    """The balls of one size of whose outlines the most is seen: balls are bought in pairs.

    By its length, not by their number: three glossy pits of rust are no match for two balls.
    """
    if not found:
        return []

    def of_a_size(r: float) -> list[_Ball]:
        return [one for one in found if abs(np.log(one.circle.r / r)) < ALIKE]

    best = max(found, key=lambda b: sum(c.seen * c.circle.r for c in of_a_size(b.circle.r)))
    return sorted(of_a_size(best.circle.r), key=lambda b: b.circle.x + b.circle.y)
