"""Carrying strokes on over gaps that no evidence fills: proposals, never more than conjecture.

A stroke that breaks off and one that faces it are joined as an engraver would carry on a scroll:
along the curve whose turning agrees with how both ends were already turning, with a width that
passes from one to the other. Ends are found on the stroke's middle line; a pair is proposed only
if each is the other's best continuation.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats
from ironlace.evidence.grades import Grade
from ironlace.ornament.gather.gathered import Gathered
from ironlace.ornament.gather.laying_over import Laying
from ironlace.ornament.gather.loss_edges import shown
from ironlace.ornament.outline.drawing import FilledPlace
from ironlace.photographs.looked_up import looked_up

SKELETON_PX_PER_MM: Final = 8.0
"""Resolution at which middle lines are found; coarser than the flat, for speed."""
LONGEST_GAP_MM: Final = 12.0
"""A longer gap is not bridged at all, however well two strokes face. A judgement, no source."""
LIKELY_GAP_MM: Final = 5.0
"""A longer gap worn on every source at once is rarer than two strokes that happen to face."""
OVERLAP: Final = 0.42
"""Of a stroke's width, how far a bridge reaches into it, for ragged ends. A judgement."""
LIKELY_ON_AN_ARC_MM: Final = 7.0
"""The same of a gap between two strokes that lie on one line or arc. A judgement, no source."""
LINES_MM: Final = (10.0, 7.0)
"""How far back a stroke is looked at for a line that tells it, the longest first."""
ARCS_MM: Final = (5.0, 3.5)
"""The same for an arc; a scroll turns more and more, so that a longer one would lag behind."""
BESIDE_MM: Final = 5.0
"""How much of both strokes one line or one arc over the gap must tell. A judgement."""
ONE_ARC_MM: Final = 0.05
"""A middle line strays no farther from a line or an arc that tells it: half a pixel of the picture
it is found on. A judgement."""
STRAIGHTER: Final = 1.25
"""A line is taken for an arc that strays so little less. A judgement."""
MOST_COST: Final = 1.3
"""A joining more strained than this is not proposed; 1 is a stroke that plainly goes on. Of 43
candidates on six worn scroll-works of the tests this and the next leave 23, which lie on true gilt
over 93 % of their gaps' length. Tuned on these."""
MOST_ON_AN_ARC: Final = 1.6
"""The same where one line or arc tells both strokes: then hardly anything was false. As above."""
LOOKED_AT: Final = 5.0
"""Joinings of more cost by their ends alone are not looked at further."""
CORNER_LINE_MM: Final = 2.5
"""Of so much of a stroke's end the line is taken that may meet another at a corner: a fret turns
again soon."""
LEAST_CORNER_LINE_MM: Final = 1.5
"""A shorter straight end points nowhere to speak of. A judgement, no source."""
CORNER_STRAY_MM: Final = 0.08
"""A middle line strays no farther from that line, whose ends are ragged. A judgement."""
MOST_AT_A_CORNER: Final = 1.0
"""Cost from which no corner is proposed. Of 18 on frets and frames the 16 that cost less lay on
true gilt all along, the two at 1.2 for 0.8 of it; on thirteen scroll-works there was none."""
SQUARE_WITHIN: Final = np.deg2rad(8.0)
"""How far corners of frets are from square, painted by hand and seen through paper that lies a
little askew. A judgement, no source."""
_FADED: Final = 0.1
"""Coverage below which a stroke is at its end to the side. A judgement."""
OWN_IMAGE_MM: Final = 0.5
"""How far from where the mirror puts a bridge's one end the other may begin, for both to be one
stroke's and its image's: ends of two strokes lie farther apart. A judgement."""
LEAST_TOLD_MM: Final = 0.6
"""At the tip of a narrower stroke both its sides lie so near that they count as edges of it."""
TWICE_SEEN: Final = 0.5
"""Share of an end's tip that two sources show before it is held to have ended there always."""
HEALING_MM: Final = 0.15
"""Wider discs would also close the narrow gaps an engraver leaves between leaf and stem."""
LEAST_FILLED_MM2: Final = 0.02
"""Smaller closed places are rounded corners of the paint: a slit of 0.1 by 0.2 mm. A judgement."""
STRAY_MM: Final = 0.03
"""How far the told edge of a closed place may stray from the pixels'."""
NEAR_WEAR_MM: Final = 0.5
"""A stroke that ends so near a disputed place may have been worn off there."""
HEALED: Final = "closed"
"""Name of the source that closed bites and cracks are given."""
BRIDGE: Final = "bridge"
"""Name of the source that bridged stretches are given."""


@dataclass(frozen=True, eq=False)
class GapBridge:
    """A proposed stroke over a gap.

    Attributes
    ----------
    centre_mm
        Its middle line, shape (n, 2), reaching a little into both strokes.
    width_mm
        Its width along it, shape (n,).
    gap_mm
        Length of the gap.
    cost
        How unlikely the joining is: below 1 for a stroke that plainly goes on, at most
        `MOST_ON_AN_ARC`.
    """

    centre_mm: Floats
    width_mm: Floats
    gap_mm: float
    cost: float

    def outline_mm(self) -> Floats:
        """The stroke as a closed polygon, its corners mitred."""
        way = np.diff(self.centre_mm, axis=0)
        way /= np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-9)
        square = np.stack([-way[:, 1], way[:, 0]], axis=1)
        before, after = np.vstack([square[:1], square]), np.vstack([square, square[-1:]])
        open_by = np.maximum(1.0 + np.sum(before * after, axis=1, keepdims=True), 0.5)
        side = (before + after) / open_by * self.width_mm[:, None] / 2
        return np.vstack([self.centre_mm + side, (self.centre_mm - side)[::-1]])


@dataclass(frozen=True)
class _End:
    tip: Floats
    """Where the gilt stops, mm."""
    base: Floats
    """A place well inside the stroke from which a bridge starts, mm."""
    heading: Floats
    """Unit direction out of the stroke at the tip."""
    base_heading: Floats
    curvature: float
    """Turning per mm at the end, positive from x towards y."""
    width: float
    line: Floats
    """Places on its middle line near the end, (n, 2) mm."""

    @property
    def straight(self) -> Floats | None:
        """Unit direction in which its last millimetres point; None where no line tells them."""
        inwards = np.linalg.norm(self.line - self.line[0], axis=1)
        part = self.line[inwards <= CORNER_LINE_MM]
        if inwards[len(part) - 1] < LEAST_CORNER_LINE_MM:
            return None
        fit, strays = _polynomial(inwards[: len(part)], part, 1)
        return None if strays > CORNER_STRAY_MM else -fit[1] / float(np.linalg.norm(fit[1]))


def propose_bridges(gathered: Gathered, *, everywhere: bool = False) -> tuple[GapBridge, ...]:
    """Bridges over the gaps of the gathered gilt, the likeliest first.

    Only ends near disputed places are looked at, because a stroke that ends where nothing was worn
    was meant to end there; ``everywhere`` looks at all of them, for a single worn photograph.
    """
    if not everywhere and not gathered.disputed.any():
        return ()
    ends = _stroke_ends(gathered)
    if not everywhere:
        near = _near_dispute(gathered)
        ends = [e for e in ends if near[_pixel(gathered, e.tip)] and not _always_ended(gathered, e)]
    smooth, corner = _smooth_cost(ends), _corner_cost(ends)
    out = [
        _cornered(ends[i], ends[j], cost)
        if corner[i, j] < smooth[i, j]
        else _bridge(ends[i], ends[j], cost, gathered)
        for i, j, cost in _best_of_each(np.minimum(smooth, corner))
    ]
    mirrors = [laying for laying in gathered.layings if laying is not None and laying.is_mirror]
    likely = [
        b
        for b, most in out
        if b.cost < (most / 2 if _own_images(b, mirrors) else most) and _is_clear(b, gathered)
    ]
    return tuple(sorted(likely, key=lambda b: b.cost))


def _own_images(bridge: GapBridge, mirrors: Sequence[Laying]) -> bool:
    """Whether a bent bridge joins an end to its own mirror image.

    Such ends face one another wherever they stop, and are one observation, not two: half of the
    cost that two may have together is what one may have. A line that strikes the axis square by
    chance is rare all the same, where a bend has many ways to meet its image.
    """
    first, last = bridge.centre_mm[0], bridge.centre_mm[-1]
    chord = last - first
    off = (bridge.centre_mm - first) @ np.array([-chord[1], chord[0]])
    if np.abs(off).max() <= ONE_ARC_MM * float(np.linalg.norm(chord)):
        return False
    return any(np.linalg.norm(m.apply(first) - last) < OWN_IMAGE_MM for m in mirrors)


def _always_ended(gathered: Gathered, end: _End) -> bool:
    """Whether two sources, worn by themselves, show a stroke's end at the same place."""
    if gathered.witnesses is None or end.width < LEAST_TOLD_MM:
        return False
    across = np.array([-end.heading[1], end.heading[0]]) * end.width
    places = [end.tip + across * share for share in (-0.25, -0.1, 0.0, 0.1, 0.25)]
    bands = np.array([gathered.witnesses[_pixel(gathered, place)] for place in places], np.int64)
    return float(np.mean(shown(bands, np.tile(across, (len(places), 1))))) > TWICE_SEEN


def with_bridges(gathered: Gathered, bridges: Sequence[GapBridge]) -> Gathered:
    """The gathered evidence with bridges laid in, graded conjectured."""
    if not bridges:
        return gathered
    coverage, source = gathered.coverage.copy(), gathered.source.copy()
    number = len(gathered.names)
    scale, origin = gathered.px_per_mm, np.asarray(gathered.origin_mm)
    h, w = coverage.shape
    for bridge in bridges:
        px = (bridge.outline_mm() - origin) * scale
        low = np.maximum(np.floor(px.min(axis=0)).astype(int) - 2, 0)
        high = np.minimum(np.ceil(px.max(axis=0)).astype(int) + 2, (w, h))
        if np.any(high - low < 2):
            continue
        fine = 4
        patch = np.zeros(((high[1] - low[1]) * fine, (high[0] - low[0]) * fine), np.uint8)
        corners = np.round(((px - low) * fine - 0.5) * 16).astype(np.int32)
        cv2.fillPoly(patch, [corners], 255, shift=4)
        size = (int(high[0] - low[0]), int(high[1] - low[1]))
        patch = np.asarray(cv2.resize(patch, size, interpolation=cv2.INTER_AREA), np.uint8)
        part = (slice(low[1], high[1]), slice(low[0], high[0]))
        before = coverage[part]
        more_by = patch.astype(np.int16) - before.astype(np.int16)
        around = np.ones((3, 3), np.uint8)
        paint_near = cv2.dilate(before, around) > 127
        laid = (more_by > 100) | ((more_by > 60) & ~paint_near)
        # its edge may run beside a pixel it hardly covers, and is nearest to that one then
        beside = (cv2.dilate(laid.astype(np.uint8), around) > 0) & (before < 60) & ~paint_near
        coverage[part] = np.maximum(before, patch)
        source[part] = np.where(laid | beside, np.uint8(number), source[part])
    return dataclasses.replace(
        gathered,
        coverage=coverage,
        source=source,
        names=(*gathered.names, BRIDGE),
        grades=(*gathered.grades, Grade.CONJECTURED),
        layings=(*gathered.layings, None),
    )


def healed(gathered: Gathered) -> Gathered:
    """Small bites and cracks beside disputed places closed, as conjecture.

    Where paint is worn on every source at once, a crack or a bite is left whose edge is no outline.
    What a disc of `HEALING_MM` radius cannot enter is filled, but only beside places of wear.
    """
    near = _near_dispute(gathered)
    if not near.any():
        return gathered
    scale = gathered.px_per_mm
    size = 2 * max(1, round(HEALING_MM * scale)) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    closed = cv2.morphologyEx(gathered.coverage, cv2.MORPH_CLOSE, disc)
    soft = cv2.GaussianBlur(closed, (0, 0), 0.05 * scale)
    # in bytes: of a large photograph each of these is a whole picture
    laid = near & (cv2.subtract(soft, gathered.coverage) > 60)
    fill = cv2.dilate(laid.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    coverage = np.where(fill, np.maximum(soft, gathered.coverage), gathered.coverage)
    number, names = len(gathered.names), gathered.names
    source = np.where(laid, np.uint8(number), gathered.source)
    return dataclasses.replace(
        gathered,
        coverage=np.asarray(coverage, np.uint8),
        source=np.asarray(source, np.uint8),
        names=(*names, HEALED),
        grades=(*gathered.grades, Grade.CONJECTURED),
        layings=(*gathered.layings, None),
    )


def filled_places(gathered: Gathered) -> tuple[FilledPlace, ...]:
    """What `healed` closed, as rings in mm: inside the paint no outline tells of it."""
    if HEALED not in gathered.names:
        return ()
    filled = (gathered.source == gathered.names.index(HEALED)) & (gathered.coverage > 127)
    rings, _ = cv2.findContours(filled.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    scale, origin = gathered.px_per_mm, np.asarray(gathered.origin_mm)
    out = []
    for ring in rings:
        if cv2.contourArea(ring) < LEAST_FILLED_MM2 * scale**2:
            continue
        fewer = cv2.approxPolyDP(ring, STRAY_MM * scale, closed=True).reshape(-1, 2)
        if len(fewer) >= 3:
            corners = (fewer + 0.5) / scale + origin
            out.append(FilledPlace("closed", np.asarray(corners, np.float64)))
    return tuple(out)


def _near_dispute(gathered: Gathered) -> NDArray[np.bool_]:
    h, w = gathered.disputed.shape
    step = 4
    small = cv2.resize(
        gathered.disputed * np.uint8(255),
        (w // step + 1, h // step + 1),
        interpolation=cv2.INTER_AREA,
    )
    size = 2 * max(1, round(NEAR_WEAR_MM * gathered.px_per_mm / step)) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    wide = cv2.dilate((small > 0).astype(np.uint8), disc)
    return np.asarray(cv2.resize(wide, (w, h), interpolation=cv2.INTER_NEAREST) > 0, dtype=np.bool_)


def _pixel(gathered: Gathered, place: Floats) -> tuple[int, int]:
    h, w = gathered.coverage.shape
    px = np.round((place - np.asarray(gathered.origin_mm)) * gathered.px_per_mm - 0.5).astype(int)
    return int(np.clip(px[1], 0, h - 1)), int(np.clip(px[0], 0, w - 1))


def _stroke_ends(gathered: Gathered) -> list[_End]:
    from skimage import morphology

    h, w = gathered.coverage.shape
    factor = max(1.0, gathered.px_per_mm / SKELETON_PX_PER_MM)
    size = (max(4, round(w / factor)), max(4, round(h / factor)))
    reduced = cv2.resize(gathered.coverage, size, interpolation=cv2.INTER_AREA)
    small = np.asarray(reduced, np.uint8)
    scale = gathered.px_per_mm * size[0] / w
    mask = cv2.GaussianBlur(small, (0, 0), 0.08 * scale) > 127
    count, parts, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=8)
    mask &= stats[parts, cv2.CC_STAT_AREA] > 0.15 * scale**2
    del count
    distance = cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 5)
    depth = np.asarray(distance, np.float32)
    middle = morphology.skeletonize(mask)  # type: ignore[no-untyped-call]
    thin = np.pad(np.asarray(middle, dtype=np.bool_), 1)
    for _ in range(2):
        _prune(thin, depth, scale)
    tips, forks = _tips_and_forks(thin)
    ends = []
    for y, x in zip(*np.nonzero(tips), strict=True):
        walk = _walk(thin, forks, int(y), int(x), int((LINES_MM[0] + 2.0) * scale))
        end = _end(walk, depth, (small, mask), scale)
        if end is not None:
            shift = np.asarray(gathered.origin_mm)
            ends.append(
                dataclasses.replace(
                    end, tip=end.tip + shift, base=end.base + shift, line=end.line + shift
                )
            )
    return ends


def _tips_and_forks(
    thin: NDArray[np.bool_],
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Ends and branchings of a skeleton, told by how often the ring around a pixel turns on.

    Mere counting of neighbours takes the steps of a slanting line for branchings.
    """
    ring = [(0, 1), (1, 1), (1, 0), (1, -1), (0, -1), (-1, -1), (-1, 0), (-1, 1)]
    around = [np.roll(thin, (-dy, -dx), axis=(0, 1)) for dy, dx in ring]
    starts = np.zeros(thin.shape, np.uint8)
    for one, two in zip(around, [*around[1:], around[0]], strict=True):
        starts += ~one & two
    return np.asarray(thin & (starts == 1)), np.asarray(thin & (starts >= 3))


def _prune(thin: NDArray[np.bool_], depth: NDArray[np.float32], scale: float) -> None:
    """Take off twigs no longer than the stroke is wide: a blunt end's middle line forks in two."""
    tips, forks = _tips_and_forks(thin)
    for y, x in zip(*np.nonzero(tips), strict=True):
        walk = _walk(thin, forks, int(y), int(x), round(3.0 * scale)) + 1
        cx, cy = walk[-1]
        if forks[cy, cx] and len(walk) < 2.2 * depth[cy - 1, cx - 1] + 2:
            thin[walk[:-1, 1], walk[:-1, 0]] = False


def _walk(
    thin: NDArray[np.bool_], forks: NDArray[np.bool_], y: int, x: int, most: int
) -> NDArray[np.int64]:
    """Skeleton pixels from an end inwards, up to a fork; (n, 2) as x, y without the padding."""
    path = [(x, y)]
    seen = {(x, y)}
    while len(path) < most:
        x, y = path[-1]
        steps = [
            (x + dx, y + dy)
            for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (1, -1), (-1, 1), (-1, -1))
            if thin[y + dy, x + dx] and (x + dx, y + dy) not in seen
        ]
        if not steps or (len(path) > 1 and forks[y, x]):
            break
        path.append(steps[0])
        seen.update(steps)
    return np.array(path, dtype=np.int64) - 1


def _end(
    walk: NDArray[np.int64],
    depth: NDArray[np.float32],
    pictures: tuple[NDArray[np.uint8], NDArray[np.bool_]],
    scale: float,
) -> _End | None:
    small, mask = pictures
    radius = depth[walk[:, 1], walk[:, 0]] / scale
    xy, widths = _across(walk, radius * scale, small)
    xy, widths = (xy + 0.5) / scale, widths / scale
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(xy, axis=0), axis=1))])
    if along[-1] < max(0.8, 1.5 * float(np.median(radius))):
        return None  # a spur, not a stroke
    # the last half width of a middle line runs into a corner of the cut and says nothing
    width = float(np.median(widths[along > 0.3 * along[-1]]))
    inner = along >= min(0.75 * width, 0.45 * along[-1])
    s = along[inner] - along[inner][0]
    if len(s) < 4:
        return None
    base, inwards, curvature = _heading(s, xy[inner])
    out = -inwards
    ahead = _inside_along(base, out, curvature, mask, scale)
    tip, heading = _along_arc(base, out, curvature, ahead)
    return _End(tip, base, heading, out, curvature, width, xy[inner][s <= BESIDE_MM])


def _across(
    walk: NDArray[np.int64], radius: NDArray[np.floating[Any]], small: NDArray[np.uint8]
) -> tuple[Floats, Floats]:
    """Middle and width of the stroke at each pixel of its middle line, finer than the pixels.

    The coverage is summed square to the line, out to where it fades on either side.
    """
    way = np.stack([_smoothed(walk[:, k].astype(np.float64)) for k in range(2)], axis=1)
    ahead = np.gradient(way, axis=0)
    ahead /= np.maximum(np.linalg.norm(ahead, axis=1, keepdims=True), 1e-9)
    side = np.stack([-ahead[:, 1], ahead[:, 0]], axis=1)
    reach = math.ceil(float(radius.max())) + 3
    offsets = np.arange(-reach, reach + 0.01, 0.25)
    at = walk[:, None] + side[:, None] * offsets[:, None]
    share = looked_up(small, at, beyond=cv2.BORDER_CONSTANT).astype(np.float64) / 255.0
    middle = len(offsets) // 2
    faded = share < _FADED
    right = np.maximum.accumulate(faded[:, middle:], axis=1)
    left = np.maximum.accumulate(faded[:, middle::-1], axis=1)[:, ::-1]
    share *= ~np.concatenate([left[:, :-1], right], axis=1)
    total = share.sum(axis=1)
    shift = (share @ offsets) / np.maximum(total, 1e-9)
    return walk + side * shift[:, None], total * 0.25


def _smoothed(values: Floats) -> Floats:
    """Means of five neighbours, the ends continued in a straight line."""
    if len(values) < 3:
        return values
    ahead = 2 * values[-1] - values[[-2, -3]]
    before = 2 * values[0] - values[[2, 1]]
    return np.convolve(np.concatenate([before, values, ahead]), np.full(5, 0.2), "valid")


def _heading(s: Floats, xy: Floats) -> tuple[Floats, Floats, float]:
    """Where a middle line begins, its direction inwards and its turning seen on the way out.

    Over as long a stretch as one line tells, or else one arc: the longer, the surer.
    """
    fit = None
    for longest in LINES_MM:
        part = s <= longest
        line, strays = _polynomial(s[part], xy[part], 1)
        if s[-1] > 0.8 * longest and strays <= 0.8 * ONE_ARC_MM:
            fit = line
            break
    for longest in ARCS_MM if fit is None else ():
        part = s <= longest
        fit, strays = _polynomial(s[part], xy[part], 2)
        if strays <= ONE_ARC_MM:
            break
    assert fit is not None
    speed = max(float(np.linalg.norm(fit[1])), 1e-9)
    curvature = 0.0
    if len(fit) > 2:
        second = 2.0 * fit[2]
        # along the way out the turning is that of the way in, seen backwards: the sign turns
        curvature = -float(fit[1][0] * second[1] - fit[1][1] * second[0]) / speed**3
    return fit[0], fit[1] / speed, float(np.clip(curvature, -0.6, 0.6))


def _polynomial(s: Floats, xy: Floats, degree: int) -> tuple[Floats, float]:
    """Coefficients in ``s``, the constant first, and how far the places stray, root mean square."""
    a = np.stack([s**k for k in range(degree + 1)], axis=1)
    fit, *_ = np.linalg.lstsq(a, xy, rcond=None)
    return np.asarray(fit), float(np.sqrt(np.mean(np.sum((xy - a @ fit) ** 2, axis=1))))


def _along_arc(
    start: Floats, heading: Floats, curvature: float, length: float
) -> tuple[Floats, Floats]:
    """Place and heading after ``length`` mm along a circular arc."""
    turn, half = curvature * length, curvature * length / 2.0

    def turned(angle: float) -> Floats:
        c, s = math.cos(angle), math.sin(angle)
        return np.array([c * heading[0] - s * heading[1], s * heading[0] + c * heading[1]])

    return start + turned(half) * length * float(np.sinc(half / math.pi)), turned(turn)


def _inside(places: Floats, mask: NDArray[np.bool_], scale: float) -> NDArray[np.bool_]:
    at = np.floor(places * scale).astype(int)
    h, w = mask.shape
    x, y = np.clip(at[:, 0], 0, w - 1), np.clip(at[:, 1], 0, h - 1)
    return np.asarray(mask[y, x], dtype=np.bool_)


def _inside_along(
    start: Floats, heading: Floats, curvature: float, mask: NDArray[np.bool_], scale: float
) -> float:
    """How far an arc runs before it leaves the gilt, mm."""
    lengths = np.arange(0.0, 4.0, 0.5 / scale)
    places = np.array([_along_arc(start, heading, curvature, float(v))[0] for v in lengths])
    inside = _inside(places, mask, scale)
    return float(lengths[int(np.argmin(inside))]) if not inside.all() else float(lengths[-1])


def _best_of_each(cost: Floats) -> list[tuple[int, int, float]]:
    """Pairs of ends that are each other's best continuation, with their cost."""
    if len(cost) < 2:
        return []
    best = np.argmin(cost, axis=1)
    return [
        (i, int(j), float(cost[i, j]))
        for i, j in enumerate(best)
        if i < j and best[j] == i and cost[i, j] < LOOKED_AT
    ]


def _smooth_cost(ends: list[_End]) -> Floats:
    """How unlikely each two ends are one stroke that runs on between them, (n, n)."""
    if len(ends) < 2:
        return np.full((len(ends),) * 2, np.inf)
    tips = np.array([e.tip for e in ends])
    heading = np.array([e.heading for e in ends])
    curvature = np.array([e.curvature for e in ends])
    width = np.array([e.width for e in ends])
    gap = tips[None, :] - tips[:, None]
    length = np.linalg.norm(gap, axis=2)
    safe = np.maximum(length, 0.3)
    way = gap / np.maximum(length, 1e-9)[..., None]

    def turn(a: Floats, b: Floats) -> Floats:
        return np.asarray(
            np.arctan2(
                a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0],
                a[..., 0] * b[..., 0] + a[..., 1] * b[..., 1],
            )
        )

    leaving = turn(np.broadcast_to(heading[:, None], gap.shape), way)
    arriving = -turn(np.broadcast_to(heading[None, :], gap.shape), -way)
    # on a circle both ends turn by half the arc; i turns as its own curvature says, j as the
    # reverse
    want_i = 0.5 * curvature[:, None] * length
    want_j = -0.5 * curvature[None, :] * length
    # where ends lie close, a tip placed a little to one side already turns the line between them
    spread = 0.22 + 0.06 * length + 0.2 * np.minimum(width[None, :], width[:, None]) / safe
    cost = ((leaving - want_i) / spread) ** 2 + ((arriving - want_j) / spread) ** 2
    # an S is rarer than a C: what the two ends turn must not differ much over a short gap
    cost += ((leaving - arriving) / (0.5 + 0.05 * length)) ** 2
    cost += (np.log(width[None, :] / width[:, None]) / 0.45) ** 2
    cost += (length / LIKELY_GAP_MM) ** 2
    cost[(length > LONGEST_GAP_MM) | (np.abs(leaving) > 1.2) | (np.abs(arriving) > 1.2)] = np.inf
    # the two tips of a nearly closed gap may overlap: then directions between them mean nothing
    near = (length < 0.5 * np.minimum(width[None, :], width[:, None])) & (
        (heading @ heading.T) < -0.6
    )
    cost[near] = (safe / LIKELY_GAP_MM)[near]
    np.fill_diagonal(cost, np.inf)
    return np.asarray(np.maximum(cost, cost.T))


def _corner_cost(ends: list[_End]) -> Floats:
    """How unlikely each two ends are two lines that met in a square corner, (n, n)."""
    n = len(ends)
    cost = np.full((n, n), np.inf)
    told = [(i, way) for i, end in enumerate(ends) if (way := end.straight) is not None]
    ways = np.array([way for _, way in told]).reshape(-1, 2)
    slant = np.arccos(np.minimum(1.0, np.abs(ways[:, :1] * ways[:, 1] - ways[:, 1:] * ways[:, 0])))
    for k, m in np.argwhere(np.triu(slant <= 2.0 * SQUARE_WITHIN, 1)).tolist():
        (i, one), (j, two) = told[k], told[m]
        reach = _to_corner(ends[i].tip, one, ends[j].tip, two)
        width = ends[i].width, ends[j].width
        if min(reach) < -0.5 * max(width) or sum(reach) > LONGEST_GAP_MM:
            continue
        cost[i, j] = cost[j, i] = (
            (float(slant[k, m]) / SQUARE_WITHIN) ** 2
            + (math.log(width[0] / width[1]) / 0.45) ** 2
            + (sum(reach) / LIKELY_GAP_MM) ** 2
        )
    return cost


def _to_corner(tip: Floats, way: Floats, other: Floats, other_way: Floats) -> tuple[float, float]:
    """How far two lines run on from their tips to where they meet, mm."""
    run = np.linalg.solve(np.column_stack([way, -other_way]), other - tip)
    return float(run[0]), float(run[1])


def _cornered(one: _End, two: _End, cost: float) -> tuple[GapBridge, float]:
    """Two lines that meet, as `_bridge`."""
    ways = one.straight, two.straight
    assert ways[0] is not None and ways[1] is not None
    reach = _to_corner(one.tip, ways[0], two.tip, ways[1])
    corner = one.tip + ways[0] * reach[0]
    first = one.tip - ways[0] * OVERLAP * one.width
    last = two.tip - ways[1] * OVERLAP * two.width
    t = np.linspace(0.0, 1.0, 17)[:, None]
    centre = np.vstack([first + t * (corner - first), (corner + t * (last - corner))[1:]])
    width = np.repeat([one.width, two.width], [17, 16])
    return GapBridge(centre, width, max(sum(reach), 0.0), cost), MOST_AT_A_CORNER


def _bridge(one: _End, two: _End, cost: float, gathered: Gathered) -> tuple[GapBridge, float]:
    """One line or arc that tells both strokes and what lies between, else a cubic.

    The second figure is the cost that such a bridge may have.
    """
    most = MOST_COST
    gap = float(np.linalg.norm(two.tip - one.tip))
    centre = _one_arc(one, two, gathered)
    if centre is None:
        centre = _cubic(one, two)
    else:
        # two strokes hardly lie on one arc by chance: its length says less against it
        most = MOST_ON_AN_ARC
        cost += (gap / LIKELY_ON_AN_ARC_MM) ** 2 - (gap / LIKELY_GAP_MM) ** 2
    u = np.linspace(0.0, 1.0, len(centre))
    ease = u * u * (3.0 - 2.0 * u)
    width = one.width * (1 - ease) + two.width * ease
    # over the paint itself the bridge has nothing to say: a little overlap for ragged ends is kept
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(centre, axis=0), axis=1))])
    begin = float(np.linalg.norm(one.tip - one.base)) - OVERLAP * one.width
    end = along[-1] - float(np.linalg.norm(two.tip - two.base)) + OVERLAP * two.width
    kept = (along >= begin) & (along <= end)
    if int(kept.sum()) >= 2:
        centre, width = centre[kept], width[kept]
    return GapBridge(centre, width, gap, cost), most


def _one_arc(one: _End, two: _End, gathered: Gathered) -> Floats | None:
    """The line or arc that both strokes and the remnants between them lie on; None if none is."""
    chord = two.base - one.base
    length = float(np.linalg.norm(chord))
    if length < 1e-6:
        return None
    way = chord / length
    side = np.array([-way[1], way[0]])
    ends = np.vstack([one.line, two.line])
    x, y = (ends - one.base) @ way, (ends - one.base) @ side
    # where a stroke turns back on the chord no height over it tells its course
    if np.any(x[: len(one.line)] > 0.3 * length) or np.any(x[len(one.line) :] < 0.7 * length):
        return None
    left_x, left_y = _remnants(one, two, way, side, gathered)
    x, y = np.append(x, left_x), np.append(y, left_y)
    t = np.linspace(0.0, 1.0, 65) * length
    strays = []
    for degree in (1, 2):
        a = np.stack([x**k for k in range(degree + 1)], axis=1)
        fit, *_ = np.linalg.lstsq(a, y, rcond=None)
        strays.append(float(np.sqrt(np.mean((y - a @ fit) ** 2))))
        if strays[-1] <= ONE_ARC_MM and (degree == 1 or strays[0] > STRAIGHTER * strays[1]):
            over = np.stack([t**k for k in range(degree + 1)], axis=1) @ fit
            return np.asarray(one.base + t[:, None] * way + over[:, None] * side)
    return None


def _remnants(
    one: _End, two: _End, way: Floats, side: Floats, gathered: Gathered
) -> tuple[Floats, Floats]:
    """Gilt left within the gap, along and beside the chord, mm; thinned to weigh like the ends."""
    begin, end = (float((e.tip - one.base) @ way) for e in (one, two))
    half = 0.6 * max(one.width, two.width)
    step = 1.0 / SKELETON_PX_PER_MM
    along = np.arange(begin + half, end - half, step)
    beside = np.arange(-half, half + step / 2, step)
    if not len(along):
        return np.zeros(0), np.zeros(0)
    grid = np.stack(np.meshgrid(along, beside, indexing="ij"), axis=-1)
    places = one.base + grid[..., :1] * way + grid[..., 1:] * side
    px = np.round((places - np.asarray(gathered.origin_mm)) * gathered.px_per_mm - 0.5).astype(int)
    h, w = gathered.coverage.shape
    gilt = (
        gathered.coverage[np.clip(px[..., 1], 0, h - 1), np.clip(px[..., 0], 0, w - 1)] > 127
    ).astype(np.float64)
    # a crossing stroke fills the corridor from side to side and on: no remnant of this one
    total = gilt.sum(axis=1)
    some = (total > 0) & (total < gilt.shape[1])
    middle = (gilt @ beside) / np.maximum(total, 1.0)
    return along[some], middle[some]


def _cubic(one: _End, two: _End) -> Floats:
    """A cubic from well inside one stroke to well inside the other."""
    chord = float(np.linalg.norm(two.base - one.base))
    bend = math.acos(float(np.clip(-(one.base_heading @ two.base_heading), -1.0, 1.0)))
    # handle length of a circular arc of this bend; a third of the chord when straight
    handle = chord * (1.0 / 3.0 if bend < 1e-3 else _arc_handle(bend))
    p = np.array(
        [
            one.base,
            one.base + one.base_heading * handle,
            two.base + two.base_heading * handle,
            two.base,
        ]
    )
    t = np.linspace(0.0, 1.0, 65)[:, None]
    s = 1 - t
    centre = s**3 * p[0] + 3 * s * s * t * p[1] + 3 * s * t * t * p[2] + t**3 * p[3]
    return np.asarray(centre)


def _arc_handle(bend: float) -> float:
    """Bézier handle of a circular arc that turns by ``bend``, as a share of its chord."""
    return (4.0 / 3.0 * math.tan(bend / 4.0)) / (2.0 * math.sin(bend / 2.0))


def _is_clear(bridge: GapBridge, gathered: Gathered) -> bool:
    """Whether the middle of the bridge crosses no other gilt."""
    n = len(bridge.centre_mm)
    whole = float(np.linalg.norm(np.diff(bridge.centre_mm, axis=0), axis=1).sum())
    margin = max(0.0, (whole - bridge.gap_mm) / 2.0 + 0.15 * bridge.gap_mm)
    first = int(n * margin / max(whole, 1e-6))
    middle = bridge.centre_mm[first : n - first]
    if len(middle) == 0:
        return True
    px = (middle - np.asarray(gathered.origin_mm)) * gathered.px_per_mm - 0.5
    h, w = gathered.coverage.shape
    x = np.clip(np.round(px[:, 0]).astype(int), 0, w - 1)
    y = np.clip(np.round(px[:, 1]).astype(int), 0, h - 1)
    return bool(np.mean(gathered.coverage[y, x] > 127) < 0.35)
