"""Evidence from several places laid on one flat: this photograph, its mirror, other examples.

Wear only takes paint away; it does not lay any down. So where any one source surely shows gilt,
there was gilt, however many others are bare there. But two sources never lie on one another to a
hundredth of a millimetre, and taking the larger everywhere would thicken every line. The
photograph itself therefore keeps the word wherever it has paint, and another source speaks only
where a whole patch is missing, wider than the two can be out of register. Every pixel remembers
who spoke.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Bools, Floats
from ironlace.evidence.grades import Grade
from ironlace.ornament.errors import OrnamentError
from ironlace.ornament.gather.eaten_rims import Compared, compared, fuller
from ironlace.ornament.gather.known_edges import known_edges
from ironlace.ornament.gather.laying_over import Laying, find_mirror, lay_over
from ironlace.ornament.gather.loss_edges import (
    EDGE_OF_A_LOSS,
    U16,
    by_several,
    edge_bands,
    witnessed,
)
from ironlace.ornament.gather.lost_or_never import another_motif, never_there
from ironlace.ornament.gather.repeats import find_repeat, within
from ironlace.ornament.gilt.gilt_map import GiltMap
from ironlace.photographs.flat_picture import UNSEEN_GLARE, coarse_places, spread_grid

NO_SOURCE: Final = 255
"""In `Gathered.source`: nothing is known of this pixel."""
REGISTER_MM: Final = 0.1
"""Half the width of what may be mere misregister between two sources; laying one over the other
leaves a few hundredths (`Laying.residual_mm`), and blur at the edges adds to it."""
SAME_OBJECT: Final = 0.06
"""Photographs that disagree on less of the gilt than this show the same object. Tuned; on what was
not kept."""
SHARPER: Final = 1.2
"""A second photograph of the same object takes over where it is so much finer; less is not worth a
seam. A judgement, no source."""
U8 = NDArray[np.uint8]
F32 = NDArray[np.float32]
Repeats = Literal["auto"] | tuple[float, float] | None
"""``"auto"`` to look for a repeat, a step in mm to start from, or None."""
SUPPORT: Final = 0.25
"""Share of a repeat's like that must stand around a place before more is taken over there. Tuned;
on what was not kept."""
CONTRADICTED_MM: Final = 4.0
"""Standard deviation of the window in which two examples are held against one another: about a
motif. Tuned; on what was not kept."""
SHARED: Final = 0.37
"""Share of the rarer paint around that two examples of one design have in common at the least; what
is below shows another motif. Tuned; on what was not kept."""
MIRROR_WINDOW_MM: Final = 12.0
"""The same window for two halves of one ornament, both worn, where a smaller one holds too little
of what is left. It and the next cost no rightly filled place on five mirrored ornaments worn by 30
and 45 %, and halve what is wrongly filled on worn ones that only have a mirrored frame."""
MIRROR_SHARED: Final = 0.3
"""The same share for two halves."""
BAND_ROWS: Final = 256
"""Rows of a picture that are worked on at a time; only memory depends on it."""
THINNEST: Final = 0.03
"""Cover around from which two examples can contradict one another; below, a stray fleck would.
Tuned; on what was not kept."""
DOUBTED_PX_PER_MM: Final = 10.0
"""Resolution at which it is asked what a mirror image that is not taken says."""
AMONG_MM: Final = 1.0
"""So near one another lie what each of two halves has alone where they were never alike."""
MOST_AMONG: Final = 0.25
"""Share of what a half has alone that may lie so among the other's: of mirrored scrolls worn by 15
to 45 % it was 0.04 to 0.12, of frets and vines that are not mirrored 0.4. Tuned on these. Where
wear is fine and dense it is 0.25 to 0.78 of mirrored ones too, so that more is asked then."""
_ON_ONE_ANOTHER_MM: Final = 0.13
"""How far apart edges of two halves may lie and still run on one another, in `LEAST_COINCIDING`."""
LEAST_COINCIDING: Final = 0.1
"""Share of the edges about the middlemost place that one half has alone which run on both halves on
one another, from which they are halves of one ornament: of mirrored ones worn densely 0.17 to 0.58,
of eleven that only have a mirrored frame, or frets, 0.00."""
COINCIDING_MM: Final = 2.0
"""Standard deviation of the window about such a place. A judgement: beyond most flakes."""
_COINCIDING_PX_PER_MM: Final = 4.0
"""Resolution of that window; only speed depends on it."""
CROSSING_MM2: Final = (0.02, 6.0)
"""Least and largest area in which two strokes lie across one another. A judgement, no source."""
CROSSING_REACH_MM: Final = 0.2
"""How far from such a place its four arms may begin: what misregister and blur take off them."""
MOST_CROSSINGS: Final = (5, 0.12)
"""So many of them, and of all places so small that both halves share: of mirrored scrolls worn by
20 to 40 % 0 to 0.03, of frets and vines in a mirrored frame 0.3 to 0.8. Tuned on these."""
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
        Which ways edges run at each pixel that several sources, worn independently of one another,
        show there, see `loss_edges.edge_bands`; None where there is one alone.
    blind
        Where gilt could not be told and no other source speaks: 0 or a sum of ``BLIND_...``, on the
        reduced picture that gilt is told on; None where that is not known.
    known_edges
        Stretches of the sources' outlines whose nature another source tells, see `known_edges`;
        None where there is one source alone.
    own
        Gilt as the object's own photographs surely show it, 0..255; None where no other source was
        taken.
    eaten
        Share of the rims that lie apart from another source's as those do that wear crept in from,
        see `eaten_rims.compared`; 0 where nothing tells so.
    rims
        The most that other sources show, 1..255 and 0 where none is known, by which it is told
        what stands of our own rims; None where no other can be compared with ours so nearly.
    unlike_mm
        How far from another's half of our rims lie where no other source's are one with ours; 0
        where one's are, see `eaten_rims.Compared`.
    pushed
        Whether rims of those lie apart as where paint was pushed aside, see `eaten_rims.Compared`.
    thinned_mm
        How far rims of two copies lie apart where a hair of paint is gone from one or the other,
        see `eaten_rims.Compared`; 0 where nothing tells so, or more is gone.
    """

    coverage: U8
    source: U8
    names: tuple[str, ...]
    grades: tuple[Grade, ...]
    disputed: U8
    px_per_mm: float
    origin_mm: tuple[float, float]
    layings: tuple[Laying | None, ...] = ()
    witnesses: U16 | None = None
    blind: U8 | None = None
    known_edges: Floats | None = None
    own: U8 | None = None
    eaten: float = 0.0
    rims: U8 | None = None
    unlike_mm: float = 0.0
    pushed: bool = False
    thinned_mm: float = 0.0

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
        if self.blind is not None:
            out["blind"] = self.blind
        if self.known_edges is not None:
            out["known_edges"] = self.known_edges
        if self.own is not None:
            out["own"] = self.own
        if self.rims is not None:
            out |= {"rims": self.rims, "eaten": np.array(self.eaten)}
        out["unlike_mm"] = np.array(self.unlike_mm)
        out["pushed"] = np.array(self.pushed)
        out["thinned_mm"] = np.array(self.thinned_mm)
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
            np.asarray(arrays["witnesses"], np.uint16) if "witnesses" in arrays else None,
            np.asarray(arrays["blind"], np.uint8) if "blind" in arrays else None,
            np.asarray(arrays["known_edges"], np.float64) if "known_edges" in arrays else None,
            np.asarray(arrays["own"], np.uint8) if "own" in arrays else None,
            float(arrays["eaten"]) if "eaten" in arrays else 0.0,
            np.asarray(arrays["rims"], np.uint8) if "rims" in arrays else None,
            float(arrays["unlike_mm"]) if "unlike_mm" in arrays else 0.0,
            bool(arrays["pushed"]) if "pushed" in arrays else False,
            float(arrays["thinned_mm"]) if "thinned_mm" in arrays else 0.0,
        )


def gather(
    maps: Sequence[GiltMap],
    names: Sequence[str],
    grades: Sequence[Grade | None] | None = None,
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
        Grade of each source, where the caller knows better; None of one that is to be told.
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
    _check_grids(maps)
    known_grades = list(grades) if grades is not None else [None] * len(maps)
    evidence = _Evidence(maps[0], names[0], known_grades[0] or Grade.SEEN)
    for other, name, grade in zip(maps[1:], names[1:], known_grades[1:], strict=True):
        evidence.take_photograph(other, name, grade)
    if mirror is not None:
        evidence.take_mirror(None if mirror == "auto" else mirror)
    if repeat is not None:
        evidence.take_repeats(None if repeat == "auto" else repeat)
    return evidence.gathered()


def doubted_by_mirror(  # long: a third is its docstring
    gathered: Gathered, *, rims: bool = True
) -> tuple[Gathered, float, Laying | None]:
    """What an ornament's mirror image says against it, without anything being taken from it.

    Where one half has gilt that the other lacks, the lack is probably wear. An outline there that
    the mirror does not show is given to the edge of a loss; edges that both show count as seen
    twice, so that the others are graded by them. Where no patch is gone the rims alone are asked.

    Parameters
    ----------
    gathered
        What the photograph shows.
    rims
        Whether rims tell of wear: not where gilt shines unevenly, for its rims are then misjudged.

    Returns
    -------
    tuple
        The same evidence so marked; the share by which the gilt would grow were its mirror taken, 0
        where it has none; and how the mirror lies.
    """
    origin, (h, w) = gathered.origin_mm, gathered.coverage.shape
    # what is asked here is a matter of tenths of a millimetre: a coarser picture tells it as well
    shrink = min(1.0, DOUBTED_PX_PER_MM / gathered.px_per_mm)
    size = (max(8, round(w * shrink)), max(8, round(h * shrink)))
    scale = gathered.px_per_mm * size[0] / w
    ours = np.asarray(cv2.resize(gathered.coverage, size, interpolation=cv2.INTER_AREA), np.uint8)
    source = cv2.resize(gathered.source, size, interpolation=cv2.INTER_NEAREST)
    sure = np.asarray(source != NO_SOURCE)
    laying = find_mirror(ours, scale, origin, at_a_glance=True)
    if laying is None:
        return gathered, 0.0, None
    theirs, known = _brought(ours, sure, laying, scale, origin)
    if _crossed(ours, theirs, sure & known, scale):
        return gathered, 0.0, None
    worn_there, believed = _mirror_says(ours, theirs, sure, known, scale)
    # under a glare or beyond the picture's edge gilt is not seen, which is no sign of wear
    believed &= sure
    lost_here = _missing(ours, theirs, believed, scale)
    if not lost_here.any():
        asked = _doubted_by_rims(gathered, laying, believed) if rims else gathered
        return asked, 0.0, laying
    more, _, _ = _joined(ours, sure, np.asarray(source, np.uint8), theirs, believed, 0, scale)
    before = float(ours.sum(dtype=np.float64))
    gain = (float(more.sum(dtype=np.float64)) - before) / max(before, 1.0)
    lost = _ours_alone(lost_here, theirs, scale)

    def drawn_out(small: U8) -> U8:
        return np.asarray(cv2.resize(small, (w, h), interpolation=cv2.INTER_NEAREST), np.uint8)

    witnesses, told, eaten, whole = _told_by_mirror(
        gathered, laying, drawn_out(believed.astype(np.uint8)), rims=rims
    )
    doubted = dataclasses.replace(
        gathered,
        source=np.where(drawn_out(lost) > 0, np.uint8(len(gathered.names)), gathered.source),
        names=(*gathered.names, EDGE_OF_A_LOSS),
        grades=(*gathered.grades, Grade.CONJECTURED),
        layings=(*gathered.layings, None),
        disputed=gathered.disputed | drawn_out(lost_here | worn_there),
        witnesses=witnesses,
        known_edges=told,
        eaten=eaten.eaten_share,
        rims=whole,
        unlike_mm=eaten.unlike_mm,
        pushed=eaten.pushed,
        thinned_mm=0.0 if eaten.eaten_share else eaten.thinned_mm,
    )
    return doubted, gain, laying


def _ours_alone(lost_here: U8, theirs: U8, scale: float) -> U8:
    """1 on and beside patches that are lost here, where a mirror image has no edge."""
    like = edge_bands(theirs, scale, within_mm=2.0 * REGISTER_MM)
    wide = 2 * max(1, round(2.0 * REGISTER_MM * scale)) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (wide, wide))
    return np.asarray((cv2.dilate(lost_here, disc) > 0) & (like == 0), np.uint8)


def _doubted_by_rims(gathered: Gathered, laying: Laying, believed: Bools) -> Gathered:
    """The same evidence where no patch is gone, told eaten if its mirror image says so of its rims.

    Wear that creeps in from the rims takes a tenth of a millimetre here and there and no patch.
    Rims apart by little more than a layer of pixels leave outlines about as true as they are told
    to be, and are told of alone.
    ``believed`` is where the mirror image is, on a coarser picture.
    """
    h, w = gathered.coverage.shape
    sure = np.asarray(gathered.source != NO_SOURCE)
    ours, scale = gathered.coverage, gathered.px_per_mm
    theirs, known = _brought(ours, sure, laying, scale, gathered.origin_mm)
    near = cv2.resize(believed.astype(np.uint8), (w, h), interpolation=cv2.INTER_NEAREST) > 0
    known &= np.asarray(near)
    told = compared(ours, theirs, sure & known, scale)
    if not (told.eaten_share and told.deep):
        return dataclasses.replace(gathered, thinned_mm=told.thinned_mm)
    return dataclasses.replace(gathered, eaten=told.eaten_share, rims=_known_rims(theirs, known))


def _told_by_mirror(
    gathered: Gathered, laying: Laying, believed: U8, *, rims: bool
) -> tuple[U16, Floats, Compared, U8 | None]:
    """What is seen twice with the mirror image, what it tells of our own edges and eaten rims.

    At full size: on a coarser picture edges farther apart than `loss_edges.WITNESS_MM` would meet.
    What the mirror image's own edges tell is what ours do.
    """
    sure = np.asarray(gathered.source != NO_SOURCE)
    ours, scale = gathered.coverage, gathered.px_per_mm
    theirs, known = _brought(ours, sure, laying, scale, gathered.origin_mm)
    witnesses = gathered.witnesses
    if witnesses is None:
        witnesses = edge_bands(ours, scale) & edge_bands(theirs, scale)
    eaten, whole = Compared(None, 0.0), None
    if rims:
        eaten = compared(ours, theirs, sure & known, scale)
    if eaten.share is not None:
        whole = _known_rims(theirs, known & (believed > 0))
    return witnesses, known_edges(ours, theirs, known, scale), eaten, whole


def _known_rims(theirs: U8, known: Bools) -> U8:
    """Another copy's coverage for `Gathered.rims`: nothing is 1 of 255 where it is known."""
    return np.where(known, np.maximum(theirs, 1), np.uint8(0)).astype(np.uint8)


def _check_grids(maps: Sequence[GiltMap]) -> None:
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


class _Evidence:
    """What is known so far on the first photograph's grid; it grows source by source."""

    def __init__(self, first: GiltMap, name: str, grade: Grade) -> None:
        self.first = first
        self.scale, self.origin = first.px_per_mm, first.origin_mm
        self.coverage, self.sure = first.coverage.copy(), _sure(first)
        # what is drawn from the photograph was seen in it, also where its colour leaves some doubt
        self.source = np.where(self.sure | _drawn(first), np.uint8(0), np.uint8(NO_SOURCE))
        self.quality: F32 | None = None  # a picture of full size that one photograph has no use for
        self.disputed = ((first.hidden & UNSEEN_GLARE) > 0).astype(np.uint8)
        self.own = first.coverage  # of the object itself, as its photographs show it
        self.unseen = self.source == NO_SOURCE  # where they show nothing that is certain
        self.witnesses = np.zeros(first.coverage.shape, np.uint32)
        self.known: dict[int, Floats] = {}  # by source
        self.eaten = self.unlike_mm = self.thinned_mm = 0.0
        self.pushed = False
        self.rims: U8 | None = None  # a picture of full size that one photograph has no use for
        self.names: list[str] = [name]
        self.grades: list[Grade] = [grade]
        self.layings: list[Laying | None] = [None]

    def take_photograph(self, other: GiltMap, name: str, grade: Grade | None) -> None:
        """Take a further photograph, of the object itself or of another example."""
        ours, scale = self.first.coverage, self.scale
        laying = lay_over(ours, other.coverage, scale, self.origin)
        theirs, known = other.coverage, _sure(other)
        if laying is not None:
            theirs, known = _brought(theirs, known, laying, scale, self.origin)
        if grade is None:
            apart = _disagreement(ours, theirs, _sure(self.first) & known, scale)
            grade = Grade.SEEN if apart < SAME_OBJECT else Grade.INFERRED
        number = self._name(name, grade, laying)
        if grade is Grade.SEEN:
            self._take_better(theirs, known, _resolution(other), number)
            return
        believed = known & ~_contradicted(self.coverage, theirs, self.sure & known, scale)
        self._take(theirs, believed, number, ours=ours)

    def take_mirror(self, axis: tuple[tuple[float, float], float] | None) -> None:
        """Take the ornament's mirror image, across the axis given or one that is found."""
        laying = find_mirror(self.coverage, self.scale, self.origin, axis=axis)
        if laying is None:
            if axis is not None:
                raise OrnamentError(
                    "The ornament does not match itself across the axis given; move the axis or "
                    "leave the mirror out."
                )
            return
        theirs, known = _brought(self.coverage, self.sure, laying, self.scale, self.origin)
        if axis is None and _crossed(self.coverage, theirs, self.sure & known, self.scale):
            return
        worn, believed = _mirror_says(self.coverage, theirs, self.sure, known, self.scale)
        number = self._name("mirror", Grade.INFERRED, laying)
        self._take(theirs, believed, number, worn_there=worn)

    def take_repeats(self, step_mm: tuple[float, float] | None) -> None:
        """Take the motif from where it comes again, at the step given or one that is found."""
        found = find_repeat(self.coverage, self.scale, self.origin, step_mm=step_mm)
        if found is None:
            if step_mm is not None:
                raise OrnamentError(
                    "The ornament does not match itself at the step given; give another step or "
                    "leave the repeat out."
                )
            return
        inside = within(found, self.coverage.shape, self.scale, np.asarray(self.origin))
        before, sure_before = self.coverage, self.sure
        reach = 0.5 * math.hypot(*found.step_mm)
        number = self._name("repeat", Grade.INFERRED, found.layings[0])
        for laying in found.layings:
            theirs, known = _brought(before, sure_before, laying, self.scale, self.origin)
            believed = known & inside & _supported(self.coverage, theirs, self.scale, reach)
            self._take(theirs, believed, number)

    def gathered(self) -> Gathered:
        """Everything taken so far."""
        witnesses = None
        if self.witnesses.any():
            both = witnessed(self.witnesses, edge_bands(self.own, self.scale))
            witnesses = by_several(both)
        return Gathered(
            self.coverage,
            self.source,
            tuple(self.names),
            tuple(self.grades),
            self.disputed,
            self.scale,
            self.origin,
            tuple(self.layings),
            witnesses,
            self._blind(),
            np.concatenate(list(self.known.values())) if self.known else None,
            self._surely_own(),
            self.eaten,
            self.rims,
            self.unlike_mm if self.rims is None else 0.0,
            self.pushed and self.rims is None,
            0.0 if self.eaten else self.thinned_mm,
        )

    def _surely_own(self) -> U8 | None:
        """The object's own gilt where it is certain; None where nothing else speaks anyway."""
        if all(grade is Grade.SEEN for grade in self.grades):
            return None
        return np.where(self.unseen, np.uint8(0), self.own).astype(np.uint8)

    def _blind(self) -> U8 | None:
        """Where the first photograph is blind and nothing else speaks."""
        blind = self.first.blind
        if blind is None:
            return None
        size = (blind.shape[1], blind.shape[0])
        known = cv2.resize(self.sure.astype(np.uint8), size, interpolation=cv2.INTER_AREA)
        return np.where(known > 0, np.uint8(0), blind).astype(np.uint8)

    def _name(self, name: str, grade: Grade, laying: Laying | None) -> int:
        self.names.append(name)
        self.grades.append(grade)
        self.layings.append(laying)
        return len(self.names) - 1

    def _take_better(self, theirs: U8, known: Bools, sharper: F32, number: int) -> None:
        """The same paint seen again: each place is taken from where it is seen best."""
        quality = _resolution(self.first) if self.quality is None else self.quality
        better = known & (~self.sure | (sharper > SHARPER * quality))
        self.coverage = np.where(better, theirs, self.coverage)
        self.own = np.where(better, theirs, self.own)
        self.unseen &= ~better
        self.source = np.where(better, np.uint8(number), self.source)
        self.quality = np.where(better, sharper, quality)
        self.sure = self.sure | known

    def _take(
        self,
        theirs: U8,
        believed: Bools,
        number: int,
        *,
        ours: U8 | None = None,
        worn_there: U8 | None = None,
    ) -> None:
        """The like, worn by itself: what it shows and is missing here is taken from it.

        ``ours`` is what it is compared with, if not all that is known; ``worn_there`` is where it
        is worn itself, if the caller knows better than that it lacks what is here.
        """
        scale = self.scale
        self.witnesses = witnessed(self.witnesses, edge_bands(theirs, scale))
        mine = self.coverage if ours is None else ours
        if worn_there is None:
            worn_there = _missing(theirs, self.coverage, self.sure & believed, scale)
        lost_here = _missing(mine, theirs, believed, scale)
        self.disputed |= lost_here | worn_there
        # of an unworn piece nothing is to be learnt, and of a motif's many repeats one tells enough
        if number not in self.known and (lost_here.any() or worn_there.any()):
            ours_told = known_edges(mine, theirs, believed, scale)
            theirs_told = known_edges(theirs, mine, self.sure & believed, scale)
            self.known[number] = np.concatenate([ours_told, theirs_told])
        thin = None
        told = Compared(None, 0.0)
        if not self.first.lit_unevenly:
            told = compared(mine, theirs, self.sure & believed, scale)
        self.unlike_mm = max(self.unlike_mm, told.unlike_mm)
        self.pushed |= told.pushed
        self.thinned_mm = max(self.thinned_mm, told.thinned_mm)
        if told.share is not None:
            more = _known_rims(theirs, believed)
            self.rims = more if self.rims is None else np.asarray(cv2.max(self.rims, more))
        if told.eaten_share:
            self.eaten = max(self.eaten, told.eaten_share)
            thin = fuller(self.coverage, theirs, believed, scale)
        self.coverage, self.sure, self.source = _joined(
            self.coverage, self.sure, self.source, theirs, believed, number, scale, thin
        )


def _contradicted(
    ours: U8,
    theirs: U8,
    both_known: Bools,
    scale: float,
    window_mm: float = CONTRADICTED_MM,
    least_shared: float = SHARED,
) -> Bools:
    """Where another example shows another motif: both have paint around, and not the same.

    Wear alone cannot make that: what is left of one design lies within the other's, unless one of
    them is gone there altogether, and then nothing is said against it.
    """
    h, w = ours.shape
    step = max(1.0, scale)
    size = (max(4, round(w / step)), max(4, round(h / step)))
    sigma = window_mm * scale / step

    def around(picture: U8) -> F32:
        held = np.where(both_known, picture, 0).astype(np.uint8)
        small = cv2.resize(held, size, interpolation=cv2.INTER_AREA).astype(np.float32)
        return np.asarray(cv2.GaussianBlur(small, (0, 0), sigma), np.float32)

    less = cv2.min(around(ours), around(theirs))
    shared = around(np.asarray(cv2.min(ours, theirs), np.uint8)) / np.maximum(less, 1e-3)
    against = ((shared < least_shared) & (less > 255.0 * THINNEST)).astype(np.uint8)
    return np.asarray(cv2.resize(against, (w, h), interpolation=cv2.INTER_NEAREST) > 0)


def _crossed(ours: U8, theirs: U8, both: Bools, scale: float) -> bool:
    """Whether what each half has alone lies among what the other has alone, or runs across it.

    Then it is no mirror, whatever else agrees: wear takes a place from one half and leaves its like
    on the other. Only where it is fine and dense do its places lie among one another as well, and
    then both halves' own outlines, where they still stand, run on one another all around.
    """
    mine, other = _missing(theirs, ours, both, scale), _missing(ours, theirs, both, scale)
    size = 2 * round(AMONG_MM * scale) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    near = np.asarray(cv2.dilate(mine, disc), np.uint8)
    among, alone = int(np.count_nonzero(other & near)), int(np.count_nonzero(other))
    apart = among > MOST_AMONG * max(1, alone)
    if not apart:
        shared = ((ours > 127) & (theirs > 127) & both).astype(np.uint8) & ~(mine | other)
        apart = _strokes_cross(shared, mine, other, scale)
    return apart and _coinciding(ours, theirs, mine | other, scale) < LEAST_COINCIDING


def _coinciding(ours: U8, theirs: U8, alone: U8, scale: float) -> float:
    """Share of the edges around that run on one another, at the median of places of one half."""
    mine, other = (edge_bands(a, scale, within_mm=_ON_ONE_ANOTHER_MM) for a in (ours, theirs))
    h, w = ours.shape
    shrink = min(1.0, _COINCIDING_PX_PER_MM / scale)
    size = (max(8, round(w * shrink)), max(8, round(h * shrink)))

    def around(where: Bools) -> F32:
        share = cv2.resize(where.astype(np.float32), size, interpolation=cv2.INTER_AREA)
        return np.asarray(cv2.GaussianBlur(share, (0, 0), COINCIDING_MM * scale * shrink))

    places = cv2.resize(alone, size, interpolation=cv2.INTER_NEAREST) > 0
    if not places.any():
        return 0.0
    share = around((mine & other) > 0) / np.maximum(around((mine | other) > 0), 1e-6)
    return float(np.median(share[places]))


def _strokes_cross(shared: U8, mine: U8, other: U8, scale: float) -> bool:
    """Whether strokes of one half lie across those of the other in many places.

    What is left of one stroke on both halves carries on at its two ends; where two strokes cross,
    two arms belong to the one half alone and two to the other.
    """
    h, w = shared.shape
    shrink = min(1.0, DOUBTED_PX_PER_MM / scale)
    size, scale = (max(8, round(w * shrink)), max(8, round(h * shrink))), scale * shrink
    both, *alone = (
        cv2.resize(a, size, interpolation=cv2.INTER_NEAREST) for a in (shared, mine, other)
    )
    count, places, stats, _ = cv2.connectedComponentsWithStats(both, connectivity=8)
    reach = 2 * max(1, round(CROSSING_REACH_MM * scale)) + 1
    grown = cv2.dilate(places.astype(np.float32), np.ones((reach, reach), np.uint8))
    arms = np.zeros((2, count), int)
    for n, half in enumerate(alone):
        _, parts = cv2.connectedComponents(half, connectivity=8)
        meet = (parts > 0) & (grown > 0)
        pairs = np.unique(np.stack([grown[meet].astype(int), parts[meet]]), axis=1)
        arms[n] = np.bincount(pairs[0], minlength=count)
    area = stats[:, cv2.CC_STAT_AREA] / scale**2
    small = (area > CROSSING_MM2[0]) & (area < CROSSING_MM2[1])
    small[0] = False  # the ground
    crossings = np.count_nonzero(small & (arms >= 2).all(axis=0))
    least, share = MOST_CROSSINGS
    return bool(crossings >= least and crossings > share * np.count_nonzero(small))


def _mirror_says(ours: U8, theirs: U8, sure: Bools, known: Bools, scale: float) -> tuple[U8, Bools]:
    """Where a mirror image is worn itself, and where what it shows is believed.

    A frame may be mirrored and what stands in it not. What only one half ever had is no sign of
    wear, on whichever side it is.
    """
    both = sure & known
    alike = ~another_motif(ours, theirs, both, scale)
    alike &= ~_contradicted(ours, theirs, both, scale, MIRROR_WINDOW_MM, MIRROR_SHARED)
    shown = both & ~another_motif(theirs, ours, both, scale)
    worn = _missing(theirs, ours, shown & alike, scale)
    worn &= (~never_there(theirs, ours, known, worn, scale)).astype(np.uint8)
    return worn, known & alike & ~_never(ours, theirs, sure, known & alike, scale)


def _never(ours: U8, theirs: U8, sure: Bools, known: Bools, scale: float) -> Bools:
    """Where the like shows gilt that more likely never was here than was lost."""
    return never_there(ours, theirs, sure, _missing(ours, theirs, known, scale), scale)


def _supported(ours: U8, theirs: U8, scale: float, reach_mm: float) -> Bools:
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


def _resolution(found: GiltMap) -> F32:
    h, w = found.coverage.shape
    if found.resolution is None:
        return np.ones((h, w), np.float32)
    return spread_grid(found.resolution, (h, w), h, w)


def _sure(found: GiltMap) -> Bools:
    h, w = found.coverage.shape
    # drawn out band by band, as `cv2.resize` would: a whole picture of floats fills the memory
    wide = cv2.resize(found.certainty, (w, len(found.certainty)), interpolation=cv2.INTER_LINEAR)
    at = np.clip((np.arange(h) + 0.5) * (len(wide) / h) - 0.5, 0.0, len(wide) - 1.0)
    above = np.minimum(at.astype(np.int64), max(len(wide) - 2, 0))
    below = np.minimum(above + 1, len(wide) - 1)
    share = (at - above).astype(np.float32)[:, None]
    out = np.empty((h, w), np.bool_)
    for top in range(0, h, BAND_ROWS):
        rows = slice(top, top + BAND_ROWS)
        certain = wide[above[rows]] * (1 - share[rows]) + wide[below[rows]] * share[rows]
        out[rows] = (certain > 0.75) & (found.hidden[rows] == 0)
    return out


def _drawn(found: GiltMap) -> Bools:
    """On gilt and its outline, where nothing hides it."""
    wide = 2 * max(1, round(REGISTER_MM * found.px_per_mm)) + 1
    gilt = cv2.dilate(found.coverage, np.ones((wide, wide), np.uint8)) > 127
    return np.asarray(gilt & (found.hidden == 0), dtype=np.bool_)


def _brought(
    coverage: U8,
    sure: Bools,
    laying: Laying,
    scale: float,
    origin: tuple[float, float],
) -> tuple[U8, Bools]:
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


def _missing(ours: U8, theirs: U8, known: Bools, scale: float) -> U8:
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
    sure: Bools,
    source: U8,
    theirs: U8,
    known: Bools,
    number: int,
    scale: float,
    thin: U8 | None = None,
) -> tuple[U8, Bools, U8]:
    """Add what another source shows and ours lacks, in patches or where ``thin`` says so."""
    seeds = _missing(coverage, theirs, known, scale)
    if thin is not None:
        seeds |= thin
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


def _disagreement(ours: U8, theirs: U8, both: Bools, scale: float) -> float:
    """Share of the gilt that one of two sources has and the other lacks, in whole patches."""
    gilt = float(np.count_nonzero(both & ((ours > 127) | (theirs > 127))))
    lost = np.count_nonzero(_missing(ours, theirs, both, scale))
    lost += np.count_nonzero(_missing(theirs, ours, both, scale))
    return lost / max(gilt, 1.0)
