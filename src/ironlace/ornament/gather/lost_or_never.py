"""Lost here, or never there: what another source shows and ours lacks.

A mirrored half may hold a word or a scroll its other half never had, and a plain place opposite is
then no loss. Two things tell them apart. A loss cuts strokes: what is missing carries on the
strokes still standing on more than one side, or bites into them broadly. And wear comes in
blotches: where the ornament around stands whole, a blotch that took just one motif clean away is
unlikely, the more so the larger the motif is against the blotches seen elsewhere.
"""

from __future__ import annotations

import math
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

U8 = NDArray[np.uint8]
Mask = NDArray[np.bool_]

DIFFERS_APART: Final = 0.01
"""How often a motif of its own is on one side alone, before anything is seen: no source."""
DIFFERS_TOUCHING: Final = 1e-4
"""The same of one grown onto what both sides have: a stroke's lost end looks just like it."""
BLOTCH_MM: Final = 7.0
"""Width of one blotch of wear, unless losses that cut strokes are wider."""
TOUCH_MM: Final = 0.35
"""From a patch so far off standing gilt counts as its neighbour: misregister and blur together.
Tuned; on what was not kept."""
BROADLY: Final = 0.25
"""Share of a missing patch's rim on standing gilt from which it is a bite or a hole."""
MOSTLY_GONE: Final = 0.8
"""Share of a motif that must be missing before it is asked whether it ever was there: strokes that
cross it by chance cover less than the rest. A judgement, no source."""
GROUP_MM: Final = 3.0
"""Patches nearer one another than this and a blotch are judged as one motif, if nothing else stands
between them: letters of a word stand so close, and one between them may be gone itself."""
AROUND_MM: Final = 4.0
"""Standard deviation of the window in which the wear of a place is read. Tuned; on what was not
kept."""
_PX_PER_MM: Final = 5.0
"""Resolution at which patches are judged; coarser than the flat, for speed."""
_THIN: Final = 0.03
"""Cover of gilt around from which the place itself says how worn it is."""
_LEAST_WORN: Final = 0.005
"""No place is held to be less worn than this, so that one lost speck is never impossible."""


def never_there(ours: U8, theirs: U8, sure: Mask, missing: U8, px_per_mm: float) -> Mask:
    """Which pixels of ``missing`` more likely never held gilt here than lost it.

    Parameters
    ----------
    ours, theirs
        Coverage of this source and of the one laid on it, 0..255.
    sure
        Where ours is surely seen; what is hidden here is never said to be bare.
    missing
        1 on whole patches of gilt that theirs has and ours lacks.
    px_per_mm
        Of all of them.

    Returns
    -------
    NDArray[np.bool_]
        Same shape; grown a little round the refused patches, so that their rims go with them.
    """
    h, w = missing.shape
    size = (max(4, round(w / px_per_mm * _PX_PER_MM)), max(4, round(h / px_per_mm * _PX_PER_MM)))
    scale = _PX_PER_MM
    if scale >= px_per_mm:
        size, scale = (w, h), px_per_mm

    def small(picture: U8) -> U8:
        return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), np.uint8)

    patches = (small(missing * np.uint8(255)) > 64).astype(np.uint8)
    count, parts, stats, _ = cv2.connectedComponentsWithStats(patches, connectivity=8)
    if count < 2:
        return np.zeros((h, w), np.bool_)
    like = np.asarray(small(theirs) > 127)
    lack = like & ~np.asarray(small(ours) > 127)
    both = (like & ~lack).astype(np.uint8)
    bare = small(sure.astype(np.uint8) * np.uint8(255)) > 127
    pad = math.ceil(TOUCH_MM * scale) + 1
    cut: list[tuple[float, int]] = []
    apart, touching = np.zeros(count, np.bool_), np.zeros(count, np.bool_)
    for n in range(1, count):
        x, y, wide, high, area = (int(v) for v in stats[n])
        part = (slice(max(0, y - pad), y + high + pad), slice(max(0, x - pad), x + wide + pad))
        patch = (parts[part] == n).astype(np.uint8)
        if np.count_nonzero(bare[part] & (patch > 0)) < 0.5 * area:
            continue
        touches, share = _touching(patch, both[part], pad - 1)
        apart[n] = touches == 0
        touching[n] = touches == 1 and share < BROADLY
        if not apart[n] and not touching[n]:
            cut.append((math.hypot(wide, high) / scale, area))
    blotch = BLOTCH_MM
    if len(cut) >= 5:
        lengths, areas = np.array(cut).T
        blotch = float(np.clip(np.average(lengths, weights=areas), BLOTCH_MM, 15.0))
    refused = _all_refused(apart[parts], touching[parts], like, lack, blotch, scale)
    if not refused.any():
        return np.zeros((h, w), np.bool_)
    grown = cv2.dilate(refused.astype(np.uint8), np.ones((5, 5), np.uint8))
    return np.asarray(cv2.resize(grown, (w, h), interpolation=cv2.INTER_NEAREST) > 0, np.bool_)


def _all_refused(
    apart: Mask, touching: Mask, like: Mask, lack: Mask, blotch: float, scale: float
) -> Mask:
    """What of patches that stand apart, or touch one piece, never was there."""
    refused = np.zeros(like.shape, np.bool_)
    while True:
        # what never was there is no wear: left standing as such it would excuse its neighbours
        held = like & ~refused, lack & ~refused, blotch, scale
        more = _refused(apart & ~refused, DIFFERS_APART, *held)
        more |= _refused(touching & ~refused, DIFFERS_TOUCHING, *held)
        if not more.any():
            return refused
        refused |= more


def another_motif(ours: U8, theirs: U8, known: Mask, px_per_mm: float) -> Mask:
    """Where theirs shows a whole motif that hardly anything of ours lies on.

    Wear comes in blotches: that it took all of one motif, and left those around it as they are, is
    the less likely the more blotches cover the motif. Motifs that hang together are one.

    Parameters
    ----------
    ours, theirs
        Coverage of this source and of the one laid on it, 0..255.
    known
        Where both are known.
    px_per_mm
        Of all of them.

    Returns
    -------
    NDArray[np.bool_]
        Same shape; on the motif and a little round it.
    """
    h, w = ours.shape
    shrink = min(1.0, _PX_PER_MM / px_per_mm)
    size = (max(4, round(w * shrink)), max(4, round(h * shrink)))
    scale = px_per_mm * shrink
    mine, like, sure = (
        np.asarray(cv2.resize(a, size, interpolation=cv2.INTER_AREA) > 127)
        for a in (ours, theirs, known.astype(np.uint8) * np.uint8(255))
    )
    like &= sure
    count, motifs, stats, _ = cv2.connectedComponentsWithStats(
        like.astype(np.uint8), connectivity=8
    )
    has = np.bincount(motifs[like], minlength=count).astype(np.float64)
    # a stray crossing of strokes is no remnant: what stands must lie along, not across
    stands = np.bincount(motifs[like & mine], minlength=count).astype(np.float64)
    gone = 1.0 - stands / np.maximum(has, 1.0)
    doubted = (has > 0) & (gone > MOSTLY_GONE)
    doubted[0] = False
    others = ~doubted
    others[0] = False
    worn = float(np.sum((has * gone)[others])) / max(float(np.sum(has[others])), 1.0)
    worn = float(np.clip(worn, _LEAST_WORN, 0.9))
    half = BLOTCH_MM / 2.0 * scale
    pad = math.ceil(half) + 1
    out = np.zeros(like.shape, np.uint8)
    for n in np.flatnonzero(doubted):
        x, y, wide, high, _ = (int(v) for v in stats[n])
        part = (slice(max(0, y - pad), y + high + pad), slice(max(0, x - pad), x + wide + pad))
        own = motifs[part] == n
        away = cv2.distanceTransform((~own).astype(np.uint8), cv2.DIST_L2, 5)
        blotches = np.count_nonzero(away < half) / (4.0 * half * half)
        if blotches * float(gone[n]) * math.log(worn) < math.log(DIFFERS_TOUCHING):
            out[part] |= own
    grown = cv2.dilate(out, np.ones((5, 5), np.uint8))
    return np.asarray(cv2.resize(grown, (w, h), interpolation=cv2.INTER_NEAREST) > 0, np.bool_)


def _touching(patch: U8, both: U8, reach: int) -> tuple[int, float]:
    """How many standing pieces of the same gilt a patch runs into, and the share of its rim."""
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    rim = np.asarray(cv2.dilate(patch, disc), np.uint8) & (1 - patch)
    met = (rim & both).astype(np.uint8)
    pieces, _ = cv2.connectedComponents(met, connectivity=8)
    around = int(np.count_nonzero(rim))
    return pieces - 1, float(np.count_nonzero(met)) / max(around, 1)


def _refused(
    doubted: Mask, differs: float, like: Mask, lack: Mask, blotch: float, scale: float
) -> Mask:
    """Groups of doubted patches that wear of this blotch's width would hardly have taken whole."""
    away, others = (
        cv2.distanceTransform((~a).astype(np.uint8), cv2.DIST_L2, 5)
        for a in (doubted, like & ~doubted)
    )
    near = ((away <= (GROUP_MM + blotch) * scale / 2) & (away <= others)).astype(np.uint8)
    count, groups, stats, _ = cv2.connectedComponentsWithStats(near, connectivity=8)
    out = np.zeros(doubted.shape, np.bool_)
    total_like, total_lack = float(np.count_nonzero(like)), float(np.count_nonzero(lack))
    half, sigma = blotch / 2.0 * scale, AROUND_MM * scale
    margin = math.ceil(max(half, 2.5 * sigma))
    for n in range(1, count):
        x, y, wide, high, _ = (int(v) for v in stats[n])
        part = (
            slice(max(0, y - margin), y + high + margin),
            slice(max(0, x - margin), x + wide + margin),
        )
        own = doubted[part] & (groups[part] == n)
        away = cv2.distanceTransform((~own).astype(np.uint8), cv2.DIST_L2, 5)
        blotches = np.count_nonzero(away < half) / (4.0 * half * half)
        weight = np.exp(-0.5 * (away / sigma) ** 2)
        total = float(weight.sum())
        others_like = float(weight[like[part] & ~own].sum())
        others_lack = float(weight[lack[part] & ~own].sum())
        mine = float(np.count_nonzero(own))
        overall = max(0.0, total_lack - mine) / max(total_like - mine, 1.0)
        worn = (others_lack + _THIN * total * overall) / (others_like + _THIN * total)
        worn = float(np.clip(worn, _LEAST_WORN, 1.0))
        if blotches * math.log(worn) < math.log(differs):
            out[part] |= own
    return out
