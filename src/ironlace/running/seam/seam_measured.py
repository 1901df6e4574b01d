"""A seam measured: every stitch's end, its length, and whether the picture can bear the answer."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, uniform_filter1d

from ironlace.evidence.arrays import Floats
from ironlace.evidence.intervals import NINETY
from ironlace.running.errors import RunningError
from ironlace.running.seam.cloth_beside import middle_and_cloth
from ironlace.running.seam.evenness import Evenness, evenness
from ironlace.running.seam.half_turn import CLOTH_AT_MM, NOT_TOLD, HalfTurn, half_turn, threads_row
from ironlace.running.seam.seam_line import (
    Line,
    laid_straight,
    lines_in,
    normals,
    recentred,
    resampled,
)
from ironlace.running.seam.seam_looks import looks_of
from ironlace.running.seam.seam_picture import SeamPicture, Working, working_copy
from ironlace.running.seam.stitch_ends import (
    MOST_BESIDE_MM,
    WELL_LEARNT,
    Ends,
    ends_in,
    of_the_thread,
)
from ironlace.running.seam.thread_end import with_thread
from ironlace.running.seam.thread_looks import HALF_MM, ThreadLooks, thread_looks

STRIP_MM: Final = 1.05
"""Half width of what is laid straight for finding ends: thread, its shadow, and cloth beside."""
_BESIDE_MM: Final = 0.25
"""A line so far from the middle of its holes does not lie on the thread (a leaning thread's holes
lie up to 0.24 mm off the line through its middle; tuned)."""
BESIDE_LINE_MM: Final = 1.0
"""A thread is looked for so far beside a line: chalk along a seam hides it (`APART_MM`)."""
SURER: Final = 1.3
"""So much better the thread must stand out there. A judgement."""
_ON_THE_LINE_MM: Final = 0.03
"""A line nearer to the holes than this stays."""
_AS_WORTHY: Final = 0.8
"""A moved line that is worth less than this share of what it was is not taken. A judgement."""
_RIVAL_AT_ALL: Final = 0.2
"""A line less like a seam than this share of the best is no second one, however it is laid."""
_WEAVE_MM: Final = 0.8
"""What comes back within this along another line is no second seam but the weave: the ribs of denim
stand out as threads do, and their yarns as holes. Stitches so short are out of reach."""
_MOST_ACROSS_MM: Final = 0.2
"""Holes are put no farther off the line than a thread's half and its shadow: what a leaning thread
departs by lies farther out (a judgement)."""
_SEEN_ACROSS_MM: Final = 0.3
"""The line is followed where the picture shows so much on both sides: a thread and its edges. What
is laid out beyond the rim repeats the rim, and ends were told there (a judgement)."""
_LEAST_CONTRAST: Final = 2.0
"""Lightness (0 to 100) between the darkest and the brightest parts of a picture with a seam in it:
holes and a thread's own shadow alone make ten and more. A judgement."""
_AWAY_MM: Final = 0.3
"""A line that lies farther than this from where its own holes point has left the thread: a thread's
width. A judgement."""
_POINTING: Final = 8
"""So many holes say which way a seam goes on. A judgement."""
_FEWEST_ENDS: Final = 4
"""Fewer ends along a line make no seam."""
_WELL_APART: Final = 3.0
"""Standard deviations from which ends are well told from what lies between. A judgement."""
_DARK: Final = 0.6
"""Share of thread's and cloth's lightness below which a hole is dark (a judgement)."""
_PLY_MM: Final = 0.3
"""What changes more slowly along the thread than this is lean or light, not a ply: plies of sewing
thread come back in 0.4 to 0.8 mm (common practice, no source)."""
LEAST_TWIST: Final = 0.15
"""Least correlation of the slopes of lightness from which plies are seen at all: against the truth
it was 0.19 at most, at 3.3 standard errors (23 sewn pictures)."""
_BURNT: Final = 98.5
"""Lightness from which a picture is burnt out; a thread itself as light is none of it."""
_UNTOLD_MM: Final = 0.009
"""What a single hole lies aside and no part of a picture tells: of shaken pictures and of seams
with loops both sides of the holes agreed to 0.005 mm, and a length was 0.016 mm off. A judgement;
the evenness and the mean do without it, as they are told by all the holes."""
_UNLIKE_MM: Final = 0.06
"""And what a hole lies aside that looks like no other: a yarn, the dark, the edge of the one stitch
or the other or a dot of the other thread stands in it, each with its own middle, and all rows show
it alike. Of what the holes look like the others foretell a share; by so much times the rest single
holes of 16 path-traced seams lay aside (0.007 to 0.036 mm where 0.70 to 0.50 was foretold)."""
_STOPS_MM: Final = 0.2
"""How far aside (standard error) the hole is told in which a thread stops: beyond it lies no next
stitch but cloth, an open hole, a dot of the other thread or a tail, and which of them is taken for
its edge no other hole tells. Of 22 such holes traced by a path tracer 0.05 to 0.4 mm, rms 0.21,
where the holes between were told to 0.02; painted ones, alike on both sides, hid it."""
_RISES_MM: Final = 0.1
"""How much higher or deeper than the next a hole lies (standard deviation): puckers, wrinkles and
the dip at each. Seen slantwise it moves aside by so much times the slope of the view, and no part
of the picture tells. Of path-traced seams 0.09; there whole stretches of marks lay 0.08 mm aside.
"""
_BEYOND_MM: Final = (0.35, 1.0)
"""So far beyond the last hole the next stitch's thread shows, where there is one."""
_STOPPED: Final = 0.5
"""Nearer than this share of the thread's usual distance from the cloth, no thread lies there."""
_FEWEST_WITHOUT: Final = 6
"""The stitches at both ends are left out of the figures while so many others are left."""
_BLOCK_SHARE: Final = 0.125
"""Share of a block by which a hole is drawn to its edges in pictures that were stored roughly: a
pixel of eight (at qualities of 30 and 50 a length was 0.06 to 0.07 mm off at 0.042 mm a pixel)."""
DOUBTFUL: Final = 0.0
"""An end whose picture is likelier elsewhere than at a hole is doubtful."""


@dataclass(frozen=True)
class Scale:
    """How a picture's scale is known.

    Attributes
    ----------
    how
        From the dots to the inch of a scan, or from the strip laid beside the seam.
    share
        Its standard error as a share: 0.002 for a scanner of the usual make (common practice, no
        source), for the strip what its markers say and how far the cloth may lie off its paper.
    camera_mm
        By the strip: where the camera stood in the picture's coordinates, the third its distance
        from the paper. None for a scan.
    blur_mm
        By the strip: blur of its printed edges (standard deviation), NaN where it is not told.
    """

    how: Literal["dpi", "strip"]
    share: float = 0.002
    camera_mm: tuple[float, float, float] | None = None
    blur_mm: float = math.nan


@dataclass(frozen=True)
class Found:
    """A seam line with its ends.

    ``followed`` is the line as it was followed across the picture, bare cloth and all.
    """

    line: Floats
    standing_out: float
    ends: Ends
    followed: Floats
    turned: HalfTurn = NOT_TOLD

    @property
    def like_a_seam(self) -> float:
        """How much a line is like a seam: it stands out, and its holes foretell one another."""
        learnt = max(0.0, self.ends.learnt)
        told = min(max(self.ends.gain, 0.0), 20.0) * of_the_thread(self.ends.across)
        return float(self.standing_out * learnt**2 * told)

    @property
    def worth(self) -> float:
        """The same, less where its ends are not told from what lies between them."""
        return self.like_a_seam * float(np.clip(self.ends.apart / _WELL_APART, 0.2, 1.0))


@dataclass(frozen=True)
class SeamMeasured:
    """What was found along a seam.

    Attributes
    ----------
    along_mm
        Places of the needle holes along the seam from its first one on, shape (n,).
    places_mm
        The same in the picture, x to the right and y down, shape (n, 2).
    sd_mm
        Standard error of each place along the seam, as the picture tells it.
    single_sd_mm
        The same for a single hole: with what no picture tells, a hole dragged aside or placed by
        a shadow, and with the picture's blocks.
    blocks_mm
        Side of the blocks in which the picture was roughly stored; 0 where none are seen.
    doubtful
        Where an end may be no end, shape (n,).
    stitches
        Stitches between each hole and the next: 1, or 2 and more where some were skipped.
    unseen
        Of those skips, where an end could not have been seen either, thread on its own colour, or
        where something unlike the thread lies that may be a hole.
    left_out
        Of those stitches, the first and the last where the thread stops in their outer hole and
        enough others are left: the figures do without them.
    figures
        Of the single stitches that are not doubtful nor left out.
    straightness_mm
        Root mean square distance of the seam's line from a straight one.
    wander_mm
        The same from the smooth curve that fits it best.
    bend_radius_mm
        Radius of the seam's curve; infinite where it is straight.
    looped
        Share of the holes that show something lighter or of another colour than thread and pit.
    line_mm
        The seam's line in the picture, one place to a working pixel, for drawing.
    unfound_mm
        Length at the beginning and at the end where thread goes on and no end was found.
    passed_mm
        Places along the seam, from its first hole on, that look as holes do and fit in nowhere.
    bare_mm
        Length of cloth without thread of its colour from the first and the last end to the rim.
    burnt_mm
        Length of the line along which the picture is burnt out and the thread elsewhere is not.
    steepest_degrees
        Steepest the line runs against the picture's nearer side; beyond 45 it cannot be followed.
    twist
        How sure the thread's plies slant, in standard errors; positive as in a Z, negative as in
        an S, 0 where no plies are seen.
    unlike
        How much the lightness about the ends differs from one to the next, L* (a median).
    aside_mm
        How far the middle of what departs from the thread lies from the marks, where no half turn
        says where the holes lie.
    half_turned
        Whether the seam turns into itself about its holes: then their middle is known.
    thread
        What the thread looks like.
    ends
        What the search itself says of the ends.
    rival_line_mm, rival_line_worth
        How far off the likest other seam lies, and how like one it is against this one.
    scale
        How the scale is known.
    """

    along_mm: Floats
    places_mm: Floats
    sd_mm: Floats
    single_sd_mm: Floats
    doubtful: NDArray[np.bool_]
    stitches: NDArray[np.int64]
    unseen: NDArray[np.bool_]
    left_out: NDArray[np.bool_]
    figures: Evenness
    straightness_mm: float
    wander_mm: float
    bend_radius_mm: float
    looped: float
    line_mm: Floats
    thread: ThreadLooks
    ends: Ends
    unfound_mm: tuple[float, float]
    passed_mm: Floats
    bare_mm: tuple[float, float]
    burnt_mm: float
    steepest_degrees: float
    twist: float
    unlike: float
    aside_mm: float
    half_turned: bool
    rival_line_mm: float
    rival_line_worth: float
    scale: Scale
    blocks_mm: float

    @property
    def lengths_mm(self) -> Floats:
        """From each hole to the next."""
        return np.diff(self.along_mm)

    @property
    def weighed(self) -> NDArray[np.bool_]:
        """Which lengths say how long and how even the stitches are: single, sure, not left out."""
        doubt = self.doubtful[:-1] | self.doubtful[1:] | self.unseen
        return np.asarray((self.stitches == 1) & ~doubt & ~self.left_out, np.bool_)

    @property
    def half_mm(self) -> Floats:
        """Half the 90 % interval of each length from a hole to the next."""
        sd = self.single_sd_mm
        return np.asarray(NINETY * np.hypot(sd[:-1], sd[1:]), np.float64)

    @property
    def skipped(self) -> int:
        """Stitches that were skipped, those aside that could not have been seen."""
        return int((self.stitches - 1)[~self.unseen].sum())


def measure_seam(picture: SeamPicture, scale: Scale) -> SeamMeasured:
    """Find every stitch of the seam in a picture.

    Raises
    ------
    RunningError
        If the picture's scale or size cannot be measured in, or nothing in it is like a seam.
    """
    working = working_copy(picture)
    # where all is one colour the least rounding stands out
    low, high = np.percentile(working.lab[..., 0], (0.5, 99.5))
    found = _seams(working) if high - low > _LEAST_CONTRAST else []
    if not found:
        raise RunningError(
            "Nothing in the picture is like a seam: a row of at least four stitches of 0.7 to 7 mm "
            "is needed that crosses the picture. Cut it to the seam, and check the scale."
        )
    best = found[0]
    others = [
        (_apart_mm(best, other, working), _onto_the_thread(working, other, anew=False).like_a_seam)
        for other in found[1:]
        if other.like_a_seam > _RIVAL_AT_ALL * best.like_a_seam
        and other.ends.length_px > _WEAVE_MM * working.px_per_mm
    ]
    others = [pair for pair in others if pair[0] > 1.2]
    far, worth = max(others, key=lambda pair: pair[1], default=(math.nan, 0.0))
    return _measured(working, best, scale, (far, worth / max(best.like_a_seam, 1e-9)))


def _seams(working: Working) -> list[Found]:
    """Lines with stitches along them, the likest seam first."""
    found: list[Found] = []
    k = working.px_per_mm
    for line in lines_in(working):
        if found and line.standing_out < _least_share(found) * found[0].standing_out:
            break
        found += _along(working, line, k)
    found = sorted(found, key=lambda one: -one.worth)
    best = [_onto_the_thread(working, _straight_on(working, one), anew=True) for one in found[:1]]
    return best + found[1:]


def _least_share(found: list[Found]) -> float:
    """Share of the first line's standing out from which another is looked along."""
    sure = any(o.ends.learnt > WELL_LEARNT and o.ends.apart > 2 * _WELL_APART for o in found)
    return 0.5 if sure else 0.3


def _along(working: Working, line: Line, k: float) -> list[Found]:
    """The stitches along a line, and along the thread where it lies beside it."""
    points = recentred(working, line.points_px)
    if len(points) < 6.0 * k:
        return []
    tried = [points]
    laid = laid_straight(working.lab, points, round((BESIDE_LINE_MM + CLOTH_AT_MM) * k) + 1)
    row, told = threads_row(laid, k, BESIDE_LINE_MM)
    if abs(row) > _BESIDE_MM * k and told > SURER * threads_row(laid, k, 0.5 * _BESIDE_MM)[1]:
        moved = resampled(points + row * normals(points))
        tried.append(recentred(working, moved))
    found = [_ends_along(working, one, line.standing_out, k) for one in tried]
    return [one for one in found if one is not None]


def _onto_the_thread(working: Working, found: Found, *, anew: bool) -> Found:
    """The seam along a line moved onto its holes, where it lay beside them.

    ``anew`` looks for the length of stitch once more after the first move.
    """
    k = working.px_per_mm
    for turn in range(2):
        turned = half_turn(
            laid_straight(working.lab, found.line, round(STRIP_MM * k)),
            found.ends.at_px,
            found.ends.length_px,
            k,
        )
        found = replace(found, turned=turned)
        off = turned.across_px
        if not math.isfinite(off):
            beside = _BESIDE_MM < abs(found.ends.across.off_mm) < MOST_BESIDE_MM[1]
            off = found.ends.across.off_mm * k if beside else 0.0
        if abs(off) < _ON_THE_LINE_MM * k:
            break
        moved = resampled(found.line + off * normals(found.line))
        # a rival length was weighed before
        known = () if anew and turn == 0 else (found.ends.length_px,)
        again = _ends_along(working, moved, found.standing_out, k, known)
        if again is not None and known:
            again = replace(again, ends=replace(again.ends, rival=found.ends.rival))
        if again is None or again.worth < _AS_WORTHY * found.worth:
            break
        found = again
    return found


def _ends_along(
    working: Working,
    points: Floats,
    standing_out: float,
    k: float,
    lengths_px: tuple[float, ...] = (),
) -> Found | None:
    points = _within(working, points)
    if len(points) < 6.0 * k:
        return None
    laid = laid_straight(working.lab, points, round(STRIP_MM * k))
    shown, threaded = with_thread(laid, k)
    followed = points
    points, laid = points[shown], laid[:, shown]
    if len(points) < 6.0 * k:
        return None
    ends = ends_in(looks_of(laid, k, threaded), lengths_px)
    if ends is None or len(ends.at_px) < _FEWEST_ENDS:
        return None
    return Found(points, standing_out, ends, followed)


def _to_the_rim(working: Working, there: Floats, here: Floats) -> Floats:
    """Points from ``here`` straight on as from ``there``, to where the cloth's picture ends."""
    way = (here - there) / max(float(np.linalg.norm(here - there)), 1e-9)
    on = here + np.arange(1.0, float(np.hypot(*working.lab.shape[:2])))[:, None] * way
    most = np.array(working.lab.shape[1::-1]) - 1.0
    inside = np.asarray(((on >= 0.0) & (on <= most)).all(axis=1), np.bool_)
    if working.hidden is not None:
        column, row = np.round(on[inside]).astype(int).T
        inside[np.flatnonzero(inside)[working.hidden[row, column]]] = False
    return on if inside.all() else on[: int(np.argmin(inside))]


def _straight_on(working: Working, found: Found) -> Found:
    """The seam followed on the way its own holes point, where its line left the thread.

    Beside a seam's end lie a tacking thread, a pin, a ruler's edge: what stands out more there
    draws the line to itself, and the holes that the seam still has are not looked for.
    """
    k, n = working.px_per_mm, len(found.line)
    at = np.clip(np.round(found.ends.at_px).astype(int), 0, n - 1)
    parts = [found.line[at[0] : at[-1] + 1]]
    left = False
    for near in (at[:_POINTING], at[::-1][:_POINTING]):
        on = _to_the_rim(working, found.line[near[-1]], found.line[near[0]])
        if len(on) < found.ends.length_px:
            continue
        thin = on[:: max(1, round(0.25 * k))]
        far = np.linalg.norm(thin[:, None] - found.followed[None, ::2], axis=2).min(axis=1)
        if (far > _AWAY_MM * k).sum() * 0.25 * k > found.ends.length_px:
            left = True
        parts = [on[::-1], *parts] if near[0] == at[0] else [*parts, on]
    if not left:
        return found
    points = recentred(working, resampled(np.concatenate(parts)))
    again = _ends_along(working, points, found.standing_out, k, (found.ends.length_px,))
    if again is None or len(again.ends.at_px) <= len(at) or again.worth < _AS_WORTHY * found.worth:
        return found
    return replace(again, ends=replace(again.ends, rival=found.ends.rival))


def _within(working: Working, points: Floats) -> Floats:
    """The longest stretch of a line along which the picture shows the thread with its edges.

    A seam that runs aslant leaves the picture by the side that the line is followed along.
    """
    if len(points) < 2:
        return points
    across = _SEEN_ACROSS_MM * working.px_per_mm * normals(points)
    most = np.array(working.lab.shape[1::-1]) - 0.5
    seen = np.ones(len(points), np.bool_)
    for edge in (points - across, points + across):
        seen &= ((edge >= -0.5) & (edge <= most)).all(axis=1)
    bounds = np.flatnonzero(np.diff(np.r_[False, seen, False]))
    if not len(bounds):
        return points[:0]
    start, stop = max(zip(bounds[::2], bounds[1::2], strict=True), key=lambda run: run[1] - run[0])
    return points[start:stop]


def _apart_mm(one: Found, other: Found, working: Working) -> float:
    """Median distance of one line from another."""
    thin = one.line[:: max(1, round(working.px_per_mm))]
    far = np.linalg.norm(thin[:, None] - other.line[None, ::4], axis=2).min(axis=1)
    return float(np.median(far)) / working.px_per_mm


def _measured(
    working: Working, found: Found, scale: Scale, rival: tuple[float, float]
) -> SeamMeasured:
    k = working.px_per_mm
    ends, turned = found.ends, found.turned
    line_mm = working.to_mm(found.line)
    told = math.isfinite(turned.along_px)
    if told:
        rim = len(found.line) - 1
        ends = replace(ends, at_px=np.clip(ends.at_px + turned.along_px, 0, rim))
    aside_px = 0.0 if told else ends.aside_px
    laid = laid_straight(working.lab, found.line, round(HALF_MM * k))
    doubtful = ends.evidence < DOUBTFUL
    unseen = _unseen_skips(laid, k, ends) | ends.not_plain
    sd = ends.sd_px / k
    unlike = _UNLIKE_MM * (1.0 - min(max(ends.learnt, 0.0), 1.0))
    stops = _stops(laid, k, ends)
    sure, left_out = _which_are_weighed(ends.stitches, doubtful, stops)
    places_mm = _places(line_mm, normals(found.line), ends, turned, k)
    rises_mm = _RISES_MM * _aslant(places_mm, scale)
    figures = evenness(
        np.where(sure, np.diff(ends.at_px) / k, math.nan),
        np.hypot(sd[:-1], sd[1:]),
        scale.share,
        math.hypot(math.sqrt(2.0) * unlike, float(np.sqrt(np.mean(rises_mm**2)))),
    )
    straight, wander, radius = _straightness(line_mm, ends.at_px)
    return SeamMeasured(
        along_mm=(ends.at_px - ends.at_px[0]) / k,
        places_mm=places_mm,
        sd_mm=sd,
        single_sd_mm=np.hypot(
            _single_sd(sd, unlike, working.blocks_mm, stops), rises_mm / math.sqrt(2.0)
        ),
        doubtful=doubtful,
        stitches=ends.stitches,
        unseen=unseen,
        left_out=left_out,
        figures=figures,
        straightness_mm=straight,
        wander_mm=wander,
        bend_radius_mm=radius,
        looped=_looped(laid, k, ends),
        line_mm=line_mm,
        unfound_mm=_unfound(laid, k, ends),
        passed_mm=(ends.passed_px - ends.at_px[0]) / k,
        bare_mm=_bare(working, found, ends),
        burnt_mm=_burnt(laid, k, ends),
        steepest_degrees=_steepest(line_mm),
        twist=_twist(laid, k, ends.at_px),
        unlike=_unlike(laid, k, ends.at_px),
        aside_mm=abs(aside_px) / k,
        half_turned=told,
        thread=thread_looks(laid, k, ends.at_px),
        ends=ends,
        rival_line_mm=rival[0],
        rival_line_worth=rival[1],
        scale=scale,
        blocks_mm=working.blocks_mm,
    )


def _places(line_mm: Floats, across: Floats, ends: Ends, turned: HalfTurn, k: float) -> Floats:
    """Where the holes lie in the picture, mm, shape (n, 2)."""
    count = np.arange(len(line_mm), dtype=np.float64)
    # a thread's shadow draws the line to its side: the holes say where the thread lies
    off_mm = turned.across_px / k if math.isfinite(turned.along_px) else ends.across.off_mm
    holes_mm = line_mm + float(np.clip(off_mm, -_MOST_ACROSS_MM, _MOST_ACROSS_MM)) * across
    return np.stack([np.interp(ends.at_px, count, holes_mm[:, j]) for j in (0, 1)], axis=1)


def _aslant(places_mm: Floats, scale: Scale) -> Floats:
    """How slantwise each hole is seen along the seam: tangent of the view's slope, shape (n,)."""
    if scale.camera_mm is None:
        return np.zeros(len(places_mm))
    along = np.gradient(places_mm, axis=0)
    along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9)
    foot, far = np.asarray(scale.camera_mm[:2]), scale.camera_mm[2]
    return np.asarray(((places_mm - foot) * along).sum(axis=1) / far, np.float64)


def _single_sd(
    sd_mm: Floats, unlike_mm: float, blocks_mm: float, stops: tuple[bool, bool]
) -> Floats:
    """Standard error of each hole by itself, with what no picture tells."""
    single = np.hypot(sd_mm, math.hypot(_UNTOLD_MM, unlike_mm, _BLOCK_SHARE * blocks_mm))
    single[[0, -1]] = np.hypot(single[[0, -1]], np.where(stops, _STOPS_MM, 0.0))
    return np.asarray(single, np.float64)


def _which_are_weighed(
    stitches: NDArray[np.int64], doubtful: NDArray[np.bool_], stops: tuple[bool, bool]
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which lengths the figures are of, and which of the sure ones are left out of them."""
    sure = (stitches == 1) & ~doubtful[:-1] & ~doubtful[1:]
    if sure.sum() < 2:
        sure = stitches == 1
    inner = sure.copy()
    inner[[0, -1]] &= ~np.asarray(stops)
    if inner.sum() < _FEWEST_WITHOUT:
        return sure, np.zeros_like(sure)
    return inner, sure & ~inner


def _unseen_skips(laid: NDArray[np.float32], k: float, ends: Ends) -> NDArray[np.bool_]:
    """Where more than one stitch lies between two ends and the thread has the cloth's colour."""
    inner, cloth = middle_and_cloth(laid, k)
    contrast = np.linalg.norm(inner - cloth, axis=1)
    usual = float(np.median(contrast))
    out = np.zeros(len(ends.stitches), np.bool_)
    reach = round(0.25 * k)
    for i, number in enumerate(ends.stitches):
        for j in range(1, int(number)):
            share = j / float(number)
            at = round(float(ends.at_px[i] * (1 - share) + ends.at_px[i + 1] * share))
            there = float(np.median(contrast[max(0, at - reach) : at + reach + 1]))
            out[i] |= there < 0.5 * usual
    return out


def _straightness(line_mm: Floats, at_px: Floats) -> tuple[float, float, float]:
    """Distance from a straight line and from a curve (mm, rms), and the curve's radius (mm)."""
    part = line_mm[int(at_px[0]) : int(at_px[-1]) + 1]
    centred = part - part.mean(axis=0)
    _, _, axes = np.linalg.svd(centred, full_matrices=False)
    u, v = centred @ axes[0], centred @ axes[1]
    straight = float(np.sqrt(np.mean(v**2)))
    curve = np.polynomial.Polynomial.fit(u, v, 3)
    wander = float(np.sqrt(np.mean((v - curve(u)) ** 2)))
    square = np.polynomial.Polynomial.fit(u, v, 2).convert().coef
    bend = abs(2.0 * float(square[2])) if len(square) > 2 else 0.0
    return straight, wander, 1.0 / bend if bend > 1e-4 else math.inf


def _looped(laid: NDArray[np.float32], k: float, ends: Ends) -> float:
    """Share of the holes whose middle is of a colour that is neither thread, cloth nor shadow."""
    inner, beside = middle_and_cloth(laid, k, half_mm=0.08, cloth_to_mm=1.2)
    thread = np.median(inner, axis=0)
    spread = 1.4826 * np.median(np.abs(inner - thread), axis=0) + 2.0
    n = 0
    for at in np.round(ends.at_px).astype(int):
        part = slice(max(0, at - round(0.1 * k)), at + round(0.1 * k) + 1)
        here = inner[part].mean(axis=0)
        away = np.abs(here - thread)[1:] / spread[1:]
        other = np.abs(here - np.median(beside[part], axis=0))
        lighter = here[0] > max(thread[0], float(np.median(beside[part, 0]))) + 12.0
        # the dark of a hole has no colour of its own, and is not a coloured thread's
        dark = here[0] < _DARK * min(thread[0], float(np.median(beside[part, 0])))
        coloured = float(np.linalg.norm(away)) > 6.0 and float(np.linalg.norm(other[1:])) > 12.0
        coloured &= not dark
        n += bool(coloured or lighter)
    return n / max(len(ends.at_px), 1)


def _unfound(laid: NDArray[np.float32], k: float, ends: Ends) -> tuple[float, float]:
    """Length before the first end and behind the last where the thread goes on, mm."""
    inner, beside = middle_and_cloth(laid, k)
    thread = np.median(inner[int(ends.at_px[0]) : int(ends.at_px[-1]) + 1], axis=0)
    off = np.linalg.norm(inner - thread, axis=1)
    within = slice(int(ends.at_px[0]), int(ends.at_px[-1]) + 1)
    usual = float(np.quantile(off[within], 0.8)) + 2.0
    contrast = np.linalg.norm(inner - beside, axis=1)
    shown = 0.5 * float(np.median(contrast[within]))
    found = []
    for part in (slice(0, int(ends.at_px[0])), slice(int(ends.at_px[-1]) + 1, len(off))):
        goes_on = (off[part] < 2.0 * usual) | (contrast[part] > shown)
        # the thread may come back behind a glare: what shows it counts, not the whole
        near = uniform_filter1d(goes_on.astype(np.float64), max(1, round(ends.length_px)))
        found.append(float((near > 0.6).sum()) / k)
    return found[0], found[1]


def _stops(laid: NDArray[np.float32], k: float, ends: Ends) -> tuple[bool, bool]:
    """Whether thread or picture stops at the first and at the last hole: no more of it is seen."""
    inner, beside = middle_and_cloth(laid, k)
    off = np.linalg.norm(inner - beside, axis=1)
    first, last = int(ends.at_px[0]), int(ends.at_px[-1])
    usual = float(np.median(off[first : last + 1]))
    near, far = (round(mm * k) for mm in _BEYOND_MM)
    before = off[max(0, first - far) : max(0, first - near)]
    behind = off[last + near : last + far]
    one, other = (
        len(part) < far - near or float(np.median(part)) < _STOPPED * usual
        for part in (before, behind)
    )
    return one, other


def _bare(working: Working, found: Found, ends: Ends) -> tuple[float, float]:
    """Length before the first end and behind the last to where the picture ends, mm."""
    at = np.clip(np.round(ends.at_px).astype(int), 0, len(found.line) - 1)
    k = working.px_per_mm
    before, behind = (
        len(_to_the_rim(working, found.line[near[-1]], found.line[near[0]])) / k
        for near in (at[:_POINTING], at[::-1][:_POINTING])
    )
    return before, behind


def _burnt(laid: NDArray[np.float32], k: float, ends: Ends) -> float:
    """Length of the line that is burnt out, mm: by a glare, not by a white thread."""
    middle = laid.shape[0] // 2
    inner = laid[middle - round(0.1 * k) : middle + round(0.1 * k) + 1, :, 0].min(axis=0)
    within = inner[int(ends.at_px[0]) : int(ends.at_px[-1]) + 1]
    if float(np.quantile(within, 0.3)) > _BURNT:
        return 0.0
    return float((inner > _BURNT).sum()) / k


def _steepest(line_mm: Floats) -> float:
    """Steepest slope of the line against the side of the picture that it runs along, degrees."""
    step = max(2, len(line_mm) // 40)
    run = np.abs(line_mm[step:] - line_mm[:-step])
    main = 0 if np.ptp(line_mm[:, 0]) >= np.ptp(line_mm[:, 1]) else 1
    return float(np.degrees(np.arctan2(run[:, 1 - main], run[:, main]).max()))


def _unlike(laid: NDArray[np.float32], k: float, at_px: Floats) -> float:
    """How much lightness about the ends differs from one end to the next: a median, L*.

    Stripes and a coarse weave beneath a thin thread do that, and draw all marks aside alike.
    """
    middle = laid.shape[0] // 2
    light = laid[middle - round(0.1 * k) : middle + round(0.1 * k) + 1, :, 0].mean(axis=0)
    half = round(0.45 * float(np.median(np.diff(at_px))))
    at = np.round(at_px).astype(int)
    at = at[(at > half) & (at < len(light) - half)]
    if len(at) < _FEWEST_ENDS:
        return 0.0
    about = light[at[:, None] + np.arange(-half, half + 1)]
    return float(np.median(np.abs(about - np.median(about, axis=0))))


def _twist(laid: NDArray[np.float32], k: float, at_px: Floats) -> float:
    """Which way the plies slant, from the slopes of lightness on the thread, stitch by stitch.

    Brightness that changes along and across in the same sense has edges that slant like a
    backslash in a level thread, which is a Z when it is held upright.
    """
    middle = laid.shape[0] // 2
    reach = round(0.1 * k)
    band = laid[middle - reach - 1 : middle + reach + 2, :, 0]
    # a leaning thread's edges slant too, but change little within a ply
    band = band - gaussian_filter1d(band, _PLY_MM * k, axis=1)
    down, along = np.gradient(band, axis=0)[1:-1], np.gradient(band, axis=1)[1:-1]
    both = []
    for a, b in itertools.pairwise(at_px):
        part = slice(round(a + 0.2 * (b - a)), round(b - 0.2 * (b - a)))
        u, v = along[:, part], down[:, part]
        if u.shape[1] < 3:  # at the rim, or two marks that nearly meet
            continue
        u, v = u - u.mean(axis=1, keepdims=True), v - v.mean(axis=1, keepdims=True)
        power = float((u**2).sum() * (v**2).sum())
        if power > 0:
            both.append(float((u * v).sum()) / math.sqrt(power))
    if len(both) < 6 or abs(float(np.mean(both))) < LEAST_TWIST:
        return 0.0
    values = np.asarray(both)
    return -float(values.mean() / (values.std(ddof=1) / math.sqrt(len(values)) + 1e-9))
