"""Small islands that may be flecks of rust or dirt, told by their light and not by their outline.

A fleck is as sharp as a dot of gilt, and deeply browned gilt has the colour of rust. But the dots
of an ornament were gilded with the leaf of the strokes beside them: all of a dot's light over the
ground, divided by its area, is theirs, however the camera blurred it. Flecks are each of their own
light. Which of them is which cannot be told one by one, for some flecks are as light as gilt; so
where many are unlike it, all small islands are doubted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats
from ironlace.evidence.grades import Grade
from ironlace.ornament.gilt.gilt_map import coarse_share, mean_near
from ironlace.ornament.gilt.shade import SIGNAL
from ironlace.ornament.outline.drawing import HERE, ClosedPath, Drawing
from ironlace.photographs.flat_picture import Flat

FLECK: Final = "perhaps a fleck of rust or dirt"
"""Source of the outline of a small island in a picture where many are unlike the gilt."""
PX_PER_MM: Final = 5.0
"""Of the picture in which light is added up: only where an island ends has to be told in it."""
MOST_MM2: Final = 3.0
"""Larger islands are no flecks: from 2 mm across a patch is seen for what it is. A judgement."""
SPREAD_MM: Final = 0.35
"""So far around its outline an island's light is added up; blur carries it no farther."""
CORE_MM: Final = 0.2
"""So deep within a stroke its light is all gilt's."""
ALIKE: Final = (0.7, 1.4)
"""Light of a dot as a share of the median dot's (tuned on unworn and worn ornaments, of which the
middle nine tenths lay between 0.78 and 1.45; flecks between 0.6 and 3)."""
FAINT: Final = 0.6
"""Light of a dot as a share of that of the gilt around, below which it is unlike whatever the other
dots are. A judgement: the median of flecks was 0.66, of dots 1.0 to 1.4."""
LEAST_UNLIKE: Final = 8
"""Fewer unlike islands than these are single odd places, which the eye finds. A judgement."""
SHARE_UNLIKE: Final = 0.25
"""Of the small islands, from which they are doubted (tuned: of worn gilt a tenth was unlike, of
gilt dots of 0.13 to 0.55 mm radius at most an eighth, of flecks three fifths)."""

LEAST_OF_KINDS: Final = 24
"""Islands below which two kinds are not looked for. A judgement."""
KINDS_APART: Final = 1.2
"""Light at the upper quarter of the islands beside that at the lower, from which there are two
kinds of them. A judgement: 1.39 came of yellow priming in chips, 1.03 to 1.11 of dots and remnants
of gilt in ten pictures by four makers."""
MIDDLE: Final = 0.12
"""Share of the islands in the middle third between those quarters (of the light's logarithm), from
which light spreads evenly and there is one kind: 0.17 of any even spread. A judgement: 0.07 came of
priming in chips, 0.28 of drops of a brush beneath a hand, whose light spread as widely."""


@dataclass(frozen=True)
class Flecks:
    """What was found of small islands in a drawing.

    Attributes
    ----------
    unlike
        How many have not the light of the gilt around them.
    small
        How many small ones there are that were seen in the photograph.
    length_mm
        Outline of those that are conjectured for it; 0 where they are believed.
    """

    unlike: int = 0
    small: int = 0
    length_mm: float = 0.0


def flecks_conjectured(
    drawing: Drawing, flat: Flat, vouched_mm: Sequence[tuple[float, float]] = ()
) -> tuple[Drawing, Flecks]:
    """The drawing with its small islands conjectured, where many are unlike the gilt around.

    Parameters
    ----------
    drawing
        As it was traced.
    flat
        The photograph it was traced from, laid flat.
    vouched_mm
        Places that a person called gilt: an island that holds one is none of the doubted.
    """
    rings = [np.asarray(path.polygon(0.02), np.float64) for path in drawing.paths]
    area = np.array([path.area for path in drawing.paths])
    seen_here = np.array([_is_seen_here(path) for path in drawing.paths])
    # a hole runs the other way round
    small = [
        int(n)
        for n in np.flatnonzero((area > 0) & (area < MOST_MM2) & seen_here)
        if not _holds(rings[n], vouched_mm)
    ]
    if len(small) < LEAST_UNLIKE:
        return drawing, Flecks(0, len(small))
    strength = _strengths(rings, area, small, flat)
    known = np.isfinite(strength)
    usual = float(np.median(strength[known])) if known.any() else 1.0
    unlike = known & ((strength < max(ALIKE[0] * usual, FAINT)) | (strength > ALIKE[1] * usual))
    unlike |= known & _of_two_kinds(strength, known)
    count = int(unlike.sum())
    if count < max(LEAST_UNLIKE, SHARE_UNLIKE * known.sum()):
        return drawing, Flecks(count, len(small))
    doubted = set(small)
    paths = [
        ClosedPath.of(path.curves, Grade.CONJECTURED, FLECK, path.layer) if n in doubted else path
        for n, path in enumerate(drawing.paths)
    ]
    length = sum(float(drawing.paths[n].lengths.sum()) for n in small)
    return drawing.with_paths(paths), Flecks(count, len(small), length)


def _of_two_kinds(strength: NDArray[np.float64], known: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The duller islands where there are two kinds by their light, (n,); none where there is one.

    Priming of gilt's own colour that shows in chips is duller than gilt, by less than a fleck.
    """
    if int(known.sum()) < LEAST_OF_KINDS:
        return np.zeros(len(strength), np.bool_)
    # light that is no gilt may fall below its ground, and then there is no duller kind of gilt
    low, high = np.maximum(np.percentile(strength[known], (25.0, 75.0)), 0.0)
    if high < KINDS_APART * low:
        return np.zeros(len(strength), np.bool_)
    if low > 0.0:
        third = (high / low) ** (1.0 / 3.0)
        middle = (strength[known] > low * third) & (strength[known] < high / third)
        if float(middle.mean()) > MIDDLE:
            return np.zeros(len(strength), np.bool_)
    return np.asarray(strength < np.sqrt(low * high), np.bool_)


def _is_seen_here(path: ClosedPath) -> bool:
    """Whether most of it was seen in the photograph itself."""
    here = [g is Grade.SEEN and s == HERE for g, s in zip(path.grades, path.sources, strict=True)]
    return float(path.lengths[here].sum()) > 0.5 * float(path.lengths.sum())


def _strengths(
    rings: Sequence[Floats], area: Floats, small: Sequence[int], flat: Flat
) -> NDArray[np.float64]:
    """Each small island's light over the ground as a share of that of the gilt around, (n,).

    NaN where it lies so near a stroke that their light cannot be parted.
    """
    share, seen, scale = coarse_share(flat, PX_PER_MM)
    strokes = np.zeros(seen.shape, np.int32)
    islands = np.zeros(seen.shape, np.int32)
    label = {n: k for k, n in enumerate(small, start=1)}
    for n in np.argsort(-area):  # holes come last and are cut out again
        corners = np.round(((rings[n] - flat.origin_mm) * scale - 0.5) * 16).astype(np.int32)
        into, value = (islands, label[n]) if n in label else (strokes, int(area[n] > 0))
        cv2.fillPoly(into, [corners], value, cv2.LINE_8, 4)
    reach = SPREAD_MM * scale
    bare = seen & (_away((strokes == 0) & (islands == 0)) > reach)
    rise = share - mean_near(share, bare, share, scale, (0.8, 2.0, 6.0))
    core = seen & (_away(strokes > 0) > CORE_MM * scale)
    if not core.any() or not bare.any():
        return np.full(len(small), np.nan)
    gilt = mean_near(rise, core, rise, scale, (3.0, 12.0))
    mine = _nearest(islands, reach)
    mine[_away(strokes == 0) <= reach] = 0  # of a stroke's light some falls there
    count = len(small) + 1
    pixels = np.bincount(mine.ravel(), minlength=count)[1:]
    light = np.bincount(mine.ravel(), (rise @ SIGNAL).ravel(), count)[1:]
    usual = np.bincount(mine.ravel(), (gilt @ SIGNAL).ravel(), count)[1:] / np.maximum(pixels, 1)
    whole = pixels / scale**2 > area[small]
    strength = light / scale**2 / area[small] / np.maximum(usual, 1e-6)
    return np.where(whole, strength, np.nan)


def _away(from_here: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Of each true pixel how far the nearest false one is, pixels."""
    return np.asarray(cv2.distanceTransform(from_here.astype(np.uint8), cv2.DIST_L2, 5))


def _nearest(islands: NDArray[np.int32], reach: float) -> NDArray[np.int32]:
    """Every pixel's nearest island within reach; 0 where there is none."""
    away, place = cv2.distanceTransformWithLabels(
        (islands == 0).astype(np.uint8), cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
    )
    of = np.zeros(int(place.max()) + 1, np.int32)
    of[place[islands > 0]] = islands[islands > 0]
    return np.where(away <= reach, of[place], 0).astype(np.int32)


def _holds(ring: Floats, places: Sequence[tuple[float, float]]) -> bool:
    corners = ring.astype(np.float32).reshape(-1, 1, 2)
    return any(cv2.pointPolygonTest(corners, place, measureDist=False) >= 0 for place in places)
