"""Evidence from several places laid on one flat: this photograph, its mirror, other examples.

Wear only takes paint away; it does not lay any down. So where any one source surely shows gilt,
there was gilt, however many others are bare there. But two sources never lie on one another to a
hundredth of a millimetre, and taking the larger everywhere would thicken every line. The
photograph itself therefore keeps the word wherever it has paint, and another source speaks only
where a whole patch is missing, wider than the two can be out of register. Every pixel remembers
who spoke.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final, Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.grades import Grade
from ironlace.ornament.errors import OrnamentError
from ironlace.ornament.gather.laying_over import Laying, find_mirror, lay_over
from ironlace.ornament.gather.loss_edges import (
    EDGE_OF_A_LOSS,
    along_ring,
    edge_band,
    loss_edges,
    near_wear,
)
from ironlace.ornament.gather.lost_or_never import never_there
from ironlace.ornament.gather.repeats import find_repeat, within
from ironlace.ornament.gilt.gilt_map import GiltMap
from ironlace.ornament.outline.drawing import ClosedPath, Drawing, curve_points, split_curve
from ironlace.photographs.flat_picture import UNSEEN_GLARE, coarse_places, spread_grid

NO_SOURCE: Final = 255
"""In `Gathered.source`: nothing is known of this pixel."""
LOST: Final = 254
"""While grading: the edge of a loss."""

REGISTER_MM: Final = 0.1
"""Half the width of what may be mere misregister between two sources."""
SAME_OBJECT: Final = 0.06
"""Photographs that disagree on less of the gilt than this show the same object."""
SHARPER: Final = 1.2
"""A second photograph of the same object takes over where it is so much finer."""
LEAST_RUN_MM: Final = 0.3
"""Shorter changes of source along an outline are not told apart."""

U8 = NDArray[np.uint8]
Repeats = Literal["auto"] | tuple[float, float] | None
"""``"auto"`` to look for a repeat, a step in mm to start from, or None."""
SUPPORT: Final = 0.25
"""Share of a repeat's like that must stand around a place before more is taken over there."""
CONTRADICTED_MM: Final = 4.0
SHARED: Final = 0.37
"""Share of the rarer paint around that two examples of one design have in common at the least."""
THINNEST: Final = 0.03
"""Cover around from which two examples can contradict one another."""
Mirror = Literal["auto"] | tuple[tuple[float, float], float] | None
"""``"auto"`` to look for an axis, a point (mm) and direction (radians) to start from, or None."""


@dataclass(frozen=True, eq=False)
class Gathered:
    """All evidence on one flat.

    Attributes
    ----------
    coverage
        Gilt as first laid, as far as any source shows it, 0..255.
    source
        Which source speaks for each pixel, an index into ``names``, or ``NO_SOURCE``.
    names
        Names of the sources; ``names[0]`` is the photograph itself.
    grades
        Grade of each source.
    disputed
        1 where one source shows gilt and another surely none, or where glare hides it: places of
        wear, near which an outline may be the edge of a loss and not of the ornament.
    px_per_mm, origin_mm
        As in `Flat`.
    layings
        How each source after the first was laid on this flat; None where by the strip alone.
    witnesses
        How many sources, worn independently of one another, show an edge at each pixel; None where
        there is one alone.
    """

    coverage: U8
    source: U8
    names: tuple[str, ...]
    grades: tuple[Grade, ...]
    disputed: U8
    px_per_mm: float
    origin_mm: tuple[float, float]
    layings: tuple[Laying | None, ...] = ()
    witnesses: U8 | None = None

    def graded(self, drawing: Drawing) -> Drawing:
        """The drawing with every stretch graded; curves are cut where the evidence changes."""
        worn = None if self.witnesses is None else near_wear(self.disputed, self.px_per_mm)
        return drawing.with_paths([self._graded(p, worn) for p in drawing.paths])

    def _at(self, picture: U8, xy: NDArray[np.float64]) -> NDArray[np.int64]:
        px = (xy - np.asarray(self.origin_mm)) * self.px_per_mm - 0.5
        h, w = picture.shape
        column = np.clip(np.round(px[..., 0]).astype(int), 0, w - 1)
        row = np.clip(np.round(px[..., 1]).astype(int), 0, h - 1)
        return np.asarray(picture[row, column], dtype=np.int64)

    def _lost(self, path: ClosedPath, worn: U8 | None) -> tuple[NDArray[Any], NDArray[np.bool_]]:
        """Places along a path (curve + parameter), and which lie on the edge of a loss."""
        if worn is None or self.witnesses is None:
            return np.zeros(1), np.zeros(1, np.bool_)
        points, places = along_ring(path.curves)
        near = self._at(worn, points) > 0
        return places, loss_edges(points, self._at(self.witnesses, points) > 1, near)

    def _graded(self, path: ClosedPath, worn: U8 | None) -> ClosedPath:
        curves: list[NDArray[np.float64]] = []
        grades: list[Grade] = []
        sources: list[str] = []
        places, lost = self._lost(path, worn)
        for n, (curve, length) in enumerate(zip(path.curves, path.lengths, strict=True)):
            count = int(np.clip(np.ceil(length / 0.08), 3, 400))
            t = (np.arange(count) + 0.5) / count
            votes = self._at(self.source, curve_points(curve[None], t)[0])
            if lost.any():
                nearest = np.clip(np.searchsorted(places, n + t), 0, len(places) - 1)
                known = votes != NO_SOURCE
                guessed = [i for i, g in enumerate(self.grades) if g is Grade.CONJECTURED]
                known &= ~np.isin(votes, guessed)
                votes = np.where(lost[nearest] & known, LOST, votes)
            runs = _runs(votes, max(1, round(LEAST_RUN_MM / max(length / count, 1e-6))))
            cuts = [end / count for _, _, end in runs[:-1]]
            for piece, (vote, _, _) in zip(split_curve(curve, cuts), runs, strict=True):
                curves.append(piece)
                grade, name = self._told(vote)
                grades.append(grade)
                sources.append(name)
        ring = np.array(curves)
        ring[:, 3] = np.roll(ring[:, 0], -1, axis=0)
        return ClosedPath(ring, tuple(grades), tuple(sources), path.layer)

    def _told(self, vote: int) -> tuple[Grade, str]:
        if vote == LOST:
            return Grade.CONJECTURED, EDGE_OF_A_LOSS
        if vote == NO_SOURCE:
            return Grade.CONJECTURED, "none"
        return self.grades[vote], self.names[vote]

    def to_arrays(self) -> dict[str, NDArray[Any]]:
        """Everything as named arrays, for a checkpoint."""
        out: dict[str, NDArray[Any]] = {
            "coverage": self.coverage,
            "source": self.source,
            "names": np.array(self.names, dtype=np.str_),
            "grades": np.array([str(g) for g in self.grades], dtype=np.str_),
            "disputed": self.disputed,
            "px_per_mm": np.array(self.px_per_mm),
            "origin_mm": np.array(self.origin_mm),
            "laid": np.array([laying is not None for laying in self.layings], dtype=np.bool_),
        }
        if self.witnesses is not None:
            out["witnesses"] = self.witnesses
        for n, laying in enumerate(self.layings):
            if laying is not None:
                out |= {f"laying{n}_{k}": v for k, v in laying.to_arrays().items()}
        return out

    @classmethod
    def from_arrays(cls, arrays: Mapping[str, NDArray[Any]]) -> Gathered:
        """The inverse of `to_arrays`."""
        x, y = (float(v) for v in arrays["origin_mm"])
        layings: list[Laying | None] = []
        for n, laid in enumerate(arrays["laid"]):
            head = f"laying{n}_"
            parts = {k[len(head) :]: v for k, v in arrays.items() if k.startswith(head)}
            layings.append(Laying.from_arrays(parts) if laid else None)
        return cls(
            np.asarray(arrays["coverage"], np.uint8),
            np.asarray(arrays["source"], np.uint8),
            tuple(str(n) for n in arrays["names"]),
            tuple(Grade(str(g)) for g in arrays["grades"]),
            np.asarray(arrays["disputed"], np.uint8),
            float(arrays["px_per_mm"]),
            (x, y),
            tuple(layings),
            np.asarray(arrays["witnesses"], np.uint8) if "witnesses" in arrays else None,
        )


def gather(
    maps: Sequence[GiltMap],
    names: Sequence[str],
    grades: Sequence[Grade] | None = None,
    *,
    mirror: Mirror = None,
    repeat: Repeats = None,
) -> Gathered:
    """Join gilt maps that lie on the same grid, and the ornament's own mirror image and repeats.

    The first map is the object itself. Others are laid onto it by the ornament where that succeeds
    (else the strip alone is trusted). One that agrees with the first but for a few percent of the
    gilt shows the same object and is *seen*; one worn elsewhere is another example and *inferred*.

    Parameters
    ----------
    maps
        Gilt found in each photograph, all of the same size, resolution and origin.
    names
        What to call each source.
    grades
        Grade of each source, where the caller knows better.
    mirror
        Whether to use the ornament's mirror symmetry, see `Mirror`.
    repeat
        Whether to use that its motif comes again at even steps, see `Repeats`.

    Raises
    ------
    OrnamentError
        If there is no map, the maps lie on different grids, or a mirror axis or a step was given
        and the ornament does not match itself there.
    """
    if not maps:
        raise OrnamentError("No gilt map was given; at least one is needed.")
    first = maps[0]
    for other in maps[1:]:
        same = other.coverage.shape == first.coverage.shape
        if not same or other.px_per_mm != first.px_per_mm or other.origin_mm != first.origin_mm:
            raise OrnamentError(
                "The photographs were flattened on different grids; flatten all with the same "
                "px_per_mm and bounds_mm."
            )
    scale, origin = first.px_per_mm, first.origin_mm
    coverage, sure = first.coverage.copy(), _sure(first)
    # what is drawn from the photograph was seen in it, also where its colour leaves some doubt
    source = np.where(sure | _drawn(first), np.uint8(0), np.uint8(NO_SOURCE))
    told = [Grade.SEEN if grades is None else grades[0]]
    layings: list[Laying | None] = [None]
    quality = _resolution(first)
    disputed = ((first.hidden & UNSEEN_GLARE) > 0).astype(np.uint8)
    own, witnesses = first.coverage, np.zeros_like(first.coverage)
    for n, other in enumerate(maps[1:], start=1):
        laying = lay_over(first.coverage, other.coverage, scale, origin)
        theirs, known = other.coverage, _sure(other)
        if laying is not None:
            theirs, known = _brought(theirs, known, laying, scale, origin)
        if grades is not None:
            told.append(grades[n])
        else:
            apart = _disagreement(first.coverage, theirs, _sure(first) & known, scale)
            told.append(Grade.SEEN if apart < SAME_OBJECT else Grade.INFERRED)
        layings.append(laying)
        if told[-1] is Grade.SEEN:
            # the same paint seen again: each place is taken from where it is seen best
            sharper = _resolution(other)
            better = known & (~sure | (sharper > SHARPER * quality))
            coverage = np.where(better, theirs, coverage)
            own = np.where(better, theirs, own)
            source = np.where(better, np.uint8(n), source)
            quality = np.where(better, sharper, quality)
            sure = sure | known
            continue
        witnesses += edge_band(theirs, scale)
        known &= ~_contradicted(coverage, theirs, sure & known, scale)
        disputed |= _missing(first.coverage, theirs, known, scale)
        disputed |= _missing(theirs, coverage, sure & known, scale)
        coverage, sure, source = _joined(coverage, sure, source, theirs, known, n, scale)
    labels = list(names)
    if mirror is not None:
        axis = None if mirror == "auto" else mirror
        laying = find_mirror(coverage, scale, origin, axis=axis)
        if laying is None and axis is not None:
            raise OrnamentError(
                "The ornament does not match itself across the axis given; move the axis or leave "
                "the mirror out."
            )
        if laying is not None:
            theirs, known = _brought(coverage, sure, laying, scale, origin)
            witnesses += edge_band(theirs, scale)
            # what only one half ever had is no sign of wear, on whichever side it is
            there = _missing(theirs, coverage, sure & known, scale)
            there &= (~never_there(theirs, coverage, known, there, scale)).astype(np.uint8)
            known &= ~_never(coverage, theirs, sure, known, scale)
            disputed |= _missing(coverage, theirs, known, scale) | there
            coverage, sure, source = _joined(
                coverage, sure, source, theirs, known, len(labels), scale
            )
            labels.append("mirror")
            told.append(Grade.INFERRED)
            layings.append(laying)
    if repeat is not None:
        given = None if repeat == "auto" else repeat
        found = find_repeat(coverage, scale, origin, step_mm=given)
        if found is None and given is not None:
            raise OrnamentError(
                "The ornament does not match itself at the step given; give another step or leave "
                "the repeat out."
            )
        if found is not None:
            inside = within(found, coverage.shape, scale, np.asarray(origin))
            before, known_before = coverage, sure
            reach = 0.5 * math.hypot(*found.step_mm)
            for laying in found.layings:
                theirs, known = _brought(before, known_before, laying, scale, origin)
                witnesses += edge_band(theirs, scale)
                known &= inside & _supported(coverage, theirs, scale, reach)
                disputed |= _missing(coverage, theirs, known, scale)
                disputed |= _missing(theirs, coverage, sure & known, scale)
                coverage, sure, source = _joined(
                    coverage, sure, source, theirs, known, len(labels), scale
                )
            labels.append("repeat")
            told.append(Grade.INFERRED)
            layings.append(found.layings[0])
    independent = bool(witnesses.any())
    witnesses += edge_band(own, scale)
    return Gathered(
        coverage,
        source,
        tuple(labels),
        tuple(told),
        disputed,
        scale,
        origin,
        tuple(layings),
        witnesses if independent else None,
    )


def _contradicted(
    ours: U8, theirs: U8, both_known: NDArray[np.bool_], scale: float
) -> NDArray[np.bool_]:
    """Where another example shows another motif: both have paint around, and not the same.

    Wear alone cannot make that: what is left of one design lies within the other's, unless one of
    them is gone there altogether, and then nothing is said against it.
    """
    h, w = ours.shape
    step = max(1.0, scale)
    size = (max(4, round(w / step)), max(4, round(h / step)))
    sigma = CONTRADICTED_MM * scale / step

    def around(picture: U8) -> NDArray[np.float32]:
        held = np.where(both_known, picture, 0).astype(np.uint8)
        small = cv2.resize(held, size, interpolation=cv2.INTER_AREA).astype(np.float32)
        return np.asarray(cv2.GaussianBlur(small, (0, 0), sigma), np.float32)

    less = cv2.min(around(ours), around(theirs))
    shared = around(np.asarray(cv2.min(ours, theirs), np.uint8)) / np.maximum(less, 1e-3)
    against = ((shared < SHARED) & (less > 255.0 * THINNEST)).astype(np.uint8)
    return np.asarray(cv2.resize(against, (w, h), interpolation=cv2.INTER_NEAREST) > 0)


def _never(
    ours: U8, theirs: U8, sure: NDArray[np.bool_], known: NDArray[np.bool_], scale: float
) -> NDArray[np.bool_]:
    """Where the like shows gilt that more likely never was here than was lost."""
    return never_there(ours, theirs, sure, _missing(ours, theirs, known, scale), scale)


def _supported(ours: U8, theirs: U8, scale: float, reach_mm: float) -> NDArray[np.bool_]:
    """Where enough of what the like shows stands here too, within half a step around."""
    h, w = ours.shape
    step = max(1.0, scale)
    size = (max(4, round(w / step)), max(4, round(h / step)))
    both = cv2.resize(cv2.min(ours, theirs), size, interpolation=cv2.INTER_AREA)
    like = cv2.resize(theirs, size, interpolation=cv2.INTER_AREA)
    sigma = max(1.0, reach_mm * scale / step)
    one = cv2.GaussianBlur(both.astype(np.float32), (0, 0), sigma)
    two = cv2.GaussianBlur(like.astype(np.float32), (0, 0), sigma)
    share = np.asarray(one / np.maximum(two, 0.5), np.float32)
    return np.asarray(cv2.resize(share, (w, h), interpolation=cv2.INTER_LINEAR) > SUPPORT)


def _resolution(found: GiltMap) -> NDArray[np.float32]:
    h, w = found.coverage.shape
    if found.resolution is None:
        return np.ones((h, w), np.float32)
    return spread_grid(found.resolution, (h, w), h, w)


def _sure(found: GiltMap) -> NDArray[np.bool_]:
    h, w = found.coverage.shape
    certain = cv2.resize(found.certainty, (w, h), interpolation=cv2.INTER_LINEAR) > 0.75
    return np.asarray(certain & (found.hidden == 0), dtype=np.bool_)


def _drawn(found: GiltMap) -> NDArray[np.bool_]:
    """On gilt and its outline, where nothing hides it."""
    wide = 2 * max(1, round(REGISTER_MM * found.px_per_mm)) + 1
    gilt = cv2.dilate(found.coverage, np.ones((wide, wide), np.uint8)) > 127
    return np.asarray(gilt & (found.hidden == 0), dtype=np.bool_)


def _brought(
    coverage: U8,
    sure: NDArray[np.bool_],
    laying: Laying,
    scale: float,
    origin: tuple[float, float],
) -> tuple[U8, NDArray[np.bool_]]:
    """Another source's coverage drawn onto this flat through its laying."""
    h, w = coverage.shape
    columns, rows = coarse_places(h, w)
    nodes = np.stack(np.meshgrid(columns, rows), axis=-1)
    places = laying.apply((nodes + 0.5) / scale + np.asarray(origin))
    px = ((places - np.asarray(origin)) * scale - 0.5).astype(np.float32)
    mx = spread_grid(np.ascontiguousarray(px[..., 0]), (h, w), h, w)
    my = spread_grid(np.ascontiguousarray(px[..., 1]), (h, w), h, w)
    theirs = cv2.remap(coverage, mx, my, cv2.INTER_LINEAR)
    known = cv2.remap(sure.astype(np.uint8), mx, my, cv2.INTER_NEAREST)
    return np.asarray(theirs, np.uint8), np.asarray(known > 0, dtype=np.bool_)


def _missing(ours: U8, theirs: U8, known: NDArray[np.bool_], scale: float) -> U8:
    """Patches of gilt that another source has and this one lacks, beyond misregister."""
    lacking = ((theirs > 127) & (ours <= 127) & known).astype(np.uint8)
    size = max(3, 2 * int(REGISTER_MM * scale) + 1)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    seeds = cv2.morphologyEx(lacking, cv2.MORPH_OPEN, disc)
    count, parts, stats, _ = cv2.connectedComponentsWithStats(seeds, connectivity=8)
    big = stats[:, cv2.CC_STAT_AREA] >= 0.06 * scale**2
    big[0] = False
    del count
    return np.asarray(big[parts], np.uint8)


def _joined(
    coverage: U8,
    sure: NDArray[np.bool_],
    source: U8,
    theirs: U8,
    known: NDArray[np.bool_],
    number: int,
    scale: float,
) -> tuple[U8, NDArray[np.bool_], U8]:
    """Add what another source shows and ours lacks."""
    seeds = _missing(coverage, theirs, known, scale)
    reach = 2 * max(2, round(0.2 * scale)) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
    zone = (cv2.dilate(seeds, disc) > 0) & known
    more = zone & (theirs > coverage)
    # on an outline both have, misregister alone makes them differ by up to some 90 of 255; where
    # ours has no paint within a tenth of a millimetre, their outline is theirs alone
    more_by = theirs.astype(np.int16) - coverage.astype(np.int16)
    round_us = 2 * max(1, round(REGISTER_MM * scale)) + 1
    ours_near = cv2.dilate(coverage, np.ones((round_us, round_us), np.uint8)) > 127
    speaks = more & ((more_by > 100) | ((more_by > 25) & ~ours_near))
    out = np.where(more, theirs, coverage)
    who = source.copy()
    who[speaks] = number
    who[known & ~sure & ~speaks & (source == NO_SOURCE)] = number
    return np.asarray(out, np.uint8), np.asarray(sure | known, dtype=np.bool_), who


def _disagreement(ours: U8, theirs: U8, both: NDArray[np.bool_], scale: float) -> float:
    """Share of the gilt that one of two sources has and the other lacks, in whole patches."""
    gilt = float(np.count_nonzero(both & ((ours > 127) | (theirs > 127))))
    lost = np.count_nonzero(_missing(ours, theirs, both, scale))
    lost += np.count_nonzero(_missing(theirs, ours, both, scale))
    return lost / max(gilt, 1.0)


def _runs(votes: NDArray[np.int64], least: int) -> list[tuple[int, int, int]]:
    """Runs of equal votes as (vote, begin, end); runs shorter than ``least`` join a neighbour."""
    edges = np.concatenate([[0], np.flatnonzero(np.diff(votes)) + 1, [len(votes)]])
    runs = [(int(votes[a]), int(a), int(b)) for a, b in pairwise(edges)]
    while len(runs) > 1:
        short = min(range(len(runs)), key=lambda i: runs[i][2] - runs[i][1])
        if runs[short][2] - runs[short][1] >= least:
            break
        beside = [i for i in (short - 1, short + 1) if 0 <= i < len(runs)]
        into = max(beside, key=lambda i: runs[i][2] - runs[i][1])
        begin = min(runs[short][1], runs[into][1])
        end = max(runs[short][2], runs[into][2])
        low = min(short, into)
        runs[low : low + 2] = [(runs[into][0], begin, end)]
        if low + 1 < len(runs) and runs[low + 1][0] == runs[low][0]:
            runs[low : low + 2] = [(runs[low][0], runs[low][1], runs[low + 1][2])]
        if low > 0 and runs[low - 1][0] == runs[low][0]:
            runs[low - 1 : low + 1] = [(runs[low][0], runs[low - 1][1], runs[low][2])]
    return runs
