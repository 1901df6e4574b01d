"""How level a screw lies: by how much its pitch is seen foreshortened, and how well that is known.

A screw laid on the card rests on its head's rim and on its tip, so that its axis slopes down to
the tip, by 5 to 15 degrees with usual heads. Its pitch then looks shorter by 0.4 to 3 %, which
parts 32 threads to the inch from 0.8 mm, and no place of a thread tells it.

Two things do. A thread seen aslant shows one edge along its groove and the other across it, so that
the two edges' outlines differ (`thread_angle`). And the flat underside of a head, seen square, is a
straight line across the axis; seen aslant it is half an ellipse, as long as the sine of the angle.
Where neither is to be had (a blurred or dirty thread without a flat head) what is left is how
screws lie: level, or resting on what is widest; the pitch's interval then spans both.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from ironlace.care.huber_fit import huber_fit
from ironlace.care.thread_angle import FlanksSeen
from ironlace.care.thread_edges import ThreadEdges
from ironlace.care.thread_pitch import HEAD_WIDER, ThreadPitch
from ironlace.evidence.arrays import Floats

_FLAT_FROM, _FLAT_TO = 1.18, 0.87
"""Shares of the thread's and of the head's radius between which an underside is looked at: the
fillet at the shank and the rounded rim are left out (judged)."""
_LEAST_RING_MM: Final = 0.22
"""Of an underside to either side of the thread: less tells no curve."""
_FAR_MM: Final = 0.05
"""An underside this far off half an ellipse, rms, is none (judged: burrs, shadows)."""
_CONE: Final = 0.75
"""A straight slope that leaves this share of what half an ellipse leaves is a countersunk head."""
_SINE_SD: Final = 0.012
"""Of the sine, that stays in doubt however well it fits: undersides are not turned quite flat."""
_LEVEL_DEG: Final = 1.5
"""One standard deviation of how level a screw lies that was laid so or has no head (judged)."""
_PACKED_DEG: Final = 2.0
"""The same where nobody said so: its head may lie over the card's edge or on a packing."""
_RESTS_DEG: Final = 2.5
"""The same about what its head's rim and its tip make it (judged: rounded tips, burrs)."""
_SHARES: Final = (0.45, 0.45, 0.10)
"""How often a headed screw of which nothing was said lies level, rests on its rim, otherwise."""
_OTHERWISE_DEG: Final = 9.0
"""One standard deviation of the last."""
_ASTRAY: Final = 0.03
"""Share of undersides that tell something else (judged)."""
_TAIL: Final = 4.0
"""Degrees of freedom of what outline and width tell (Student's t): dirt and dents lead astray."""
_WIDTH_SD: Final = 0.035
"""Of the slope by the thread's width, that stays in doubt: crests wear unevenly (judged)."""
_GRID_DEG: Final = np.arange(-30.0, 30.01, 0.1)


@dataclass(frozen=True)
class ScrewLie:
    """How a screw lies.

    Attributes
    ----------
    raised_deg, raised_sd_deg
        By how much its axis rises towards the end of its strip, and one standard deviation;
        negative where the head, if at the beginning, is the higher end.
    oblique_deg
        Between line of sight and the square to the axis, at the thread's middle, at least 0.
    longer, longer_sd
        True pitch over the one seen in the card's plane, by this alone, and its standard deviation.
    rise_mm, rise_sd_mm
        By how much the thread's middle lies higher than its lower end.
    told_by
        What tells it, of "outline", "underside" and "said"; empty where it is only how screws lie.
    """

    raised_deg: float
    raised_sd_deg: float
    oblique_deg: float
    longer: float
    longer_sd: float
    rise_mm: float
    rise_sd_mm: float
    told_by: tuple[str, ...]


@dataclass(frozen=True)
class _Head:
    """A head at one end: its side (-1 beginning, +1 end), face, radius and middle, mm."""

    side: int
    face_mm: float
    radius_mm: float
    middle_mm: float


def screw_lie(
    edges: ThreadEdges, comb: ThreadPitch, flanks: FlanksSeen | str, *, said_level: bool = False
) -> ScrewLie:
    """Weigh what tells how a screw lies.

    Parameters
    ----------
    edges, comb, flanks
        As found in the photograph, in mm of the card's plane.
    said_level
        Whether the person says that it was laid level.
    """
    raised = np.radians(_GRID_DEG)
    head = _head(edges, comb)
    weight = _beforehand(head, comb, said_level)
    told_by = ["said"] if said_level else []
    middle = (comb.from_mm + comb.to_mm) / 2
    slant = _slant(edges, middle)
    height = edges.eye_mm[2]
    # the thread's width grows towards the end that lies nearer to the camera
    by_width, sd = comb.widening * height, max(comb.widening_sd * height, _WIDTH_SD)
    weight = weight * _heavy_tailed(np.tan(raised), by_width, sd)
    under = None if head is None else _underside(edges, comb, head)
    if head is not None and under is not None:
        sine, sine_sd = under
        seen = np.abs(np.sin(raised + _slant(edges, head.face_mm)))
        near = np.exp(-0.5 * ((seen - sine) / sine_sd) ** 2) / sine_sd
        weight = weight * ((1 - _ASTRAY) * near + _ASTRAY)
        told_by.append("underside")
    if not isinstance(flanks, str):
        oblique = np.degrees(np.abs(raised + slant))
        weight = weight * _heavy_tailed(oblique, flanks.oblique_deg, flanks.oblique_sd_deg)
        told_by.append("outline")
    weight = weight / weight.sum()
    longer = math.cos(slant) / np.cos(raised + slant)
    half = (comb.to_mm - comb.from_mm) / 2
    mean, spread = _moments(raised, weight)
    rise, rise_sd = _moments(np.abs(np.sin(raised)) * half, weight)
    by, by_sd = _moments(longer, weight)
    seen_at, _ = _moments(np.abs(raised + slant), weight)
    return ScrewLie(
        math.degrees(mean),
        math.degrees(spread),
        math.degrees(seen_at),
        by,
        by_sd,
        rise,
        rise_sd,
        tuple(told_by),
    )


def _moments(values: Floats, weight: Floats) -> tuple[float, float]:
    mean = float(values @ weight)
    return mean, math.sqrt(max(0.0, float((values - mean) ** 2 @ weight)))


def _slant(edges: ThreadEdges, at_mm: float) -> float:
    """Between line of sight and the square to the card at a place along the axis, radians."""
    return math.atan2(float(edges.eye_mm[0]) - at_mm, float(edges.eye_mm[2]))


def _normal(at: Floats, mean: float, sd: float) -> Floats:
    told = np.exp(-0.5 * ((at - mean) / sd) ** 2)
    return np.asarray(told / told.sum())


def _heavy_tailed(at: Floats, mean: float, sd: float) -> Floats:
    """Student's likelihood, not normalised."""
    return np.asarray((1.0 + ((at - mean) / sd) ** 2 / _TAIL) ** -((_TAIL + 1) / 2))


def _beforehand(head: _Head | None, comb: ThreadPitch, said_level: bool) -> Floats:
    """How likely each rise is before the picture is asked, on the grid of degrees."""
    level, resting, otherwise = _SHARES
    if said_level or head is None:
        # what was laid level is so but for a slip; what has no head may lie on a burr
        other, wide = (_ASTRAY, 1.0) if said_level else (otherwise, 0.5)
        return np.asarray(
            (1 - other) * _normal(_GRID_DEG, 0.0, _LEVEL_DEG)
            + other * _normal(_GRID_DEG, 0.0, wide * _OTHERWISE_DEG)
        )
    tip = comb.to_mm if head.side < 0 else comb.from_mm
    length = max(abs(tip - head.face_mm), comb.pitch_mm)
    over = max(0.0, head.radius_mm - comb.width_mm / 2)
    rests = head.side * math.degrees(math.atan(over / length))
    return np.asarray(
        level * _normal(_GRID_DEG, 0.0, _PACKED_DEG)
        + resting * _normal(_GRID_DEG, rests, _RESTS_DEG)
        + otherwise * _normal(_GRID_DEG, 0.0, _OTHERWISE_DEG)
    )


def _head(edges: ThreadEdges, comb: ThreadPitch) -> _Head | None:
    """The wider of what is wide beyond either end of the thread; None where nothing is."""
    along = edges.along_mm
    both = edges.edges_mm
    width = np.where(np.isfinite(both).all(axis=0), both.sum(axis=0), 0.0)
    found: list[_Head] = []
    for side, beyond in ((-1, along < comb.from_mm), (1, along > comb.to_mm)):
        wide = np.flatnonzero(beyond & (width > HEAD_WIDER * comb.width_mm))
        if len(wide) * (along[1] - along[0]) < _LEAST_RING_MM:
            continue
        inner = wide[-1] if side < 0 else wide[0]
        # the head's own width: away from its rims
        radius = float(np.quantile(width[wide], 0.8)) / 2
        broad = wide[width[wide] > 1.9 * radius]
        middle = float(np.median(both[0, broad] - both[1, broad])) / 2
        found.append(_Head(side, float(along[inner]), radius, middle))
    return max(found, key=lambda one: one.radius_mm, default=None)


def _underside(edges: ThreadEdges, comb: ThreadPitch, head: _Head) -> tuple[float, float] | None:
    """Sine of the angle at which a head's flat underside is seen, and one standard deviation."""
    out, along = edges.out_mm - head.middle_mm, edges.along_mm
    inner, outer = _FLAT_FROM * comb.width_mm / 2, _FLAT_TO * head.radius_mm
    if outer - inner < _LEAST_RING_MM:
        return None
    rows = np.flatnonzero((np.abs(out) > inner) & (np.abs(out) < outer))
    # from beside the thread's middle towards the head, until it is met
    middle = int(np.searchsorted(along, (comb.from_mm + comb.to_mm) / 2))
    light = edges.light[: middle + 1][::-1] if head.side < 0 else edges.light[middle:]
    places = along[: middle + 1][::-1] if head.side < 0 else along[middle:]
    at = np.array([_met(light[:, row], places, edges) for row in rows])
    across = out[rows]
    kept = np.isfinite(at)
    if np.count_nonzero(kept & (across > 0)) < 8 or np.count_nonzero(kept & (across < 0)) < 8:
        return None
    at, across = at[kept], across[kept]
    # towards the thread the half ellipse bulges, whichever way the head leans
    bulge = -head.side * np.sqrt(np.maximum(head.radius_mm**2 - across**2, 0.0))
    fit, sd, off = _robust(np.column_stack([bulge, np.ones_like(at), across]), at)
    _, _, cone = _robust(np.column_stack([np.abs(across), np.ones_like(at), across]), at)
    if off > _FAR_MM or fit < -4 * _SINE_SD or (cone < _CONE * off and off > 0.008):
        return None
    return max(fit, 0.0), math.hypot(sd, _SINE_SD)


def _met(light: Floats, places: Floats, edges: ThreadEdges) -> float:
    """Where a line of the picture leaves the paper beside the thread for the head; or NaN."""
    step = abs(float(places[1] - places[0]))
    near, far = max(1, int(0.2 / step)), max(3, int(0.9 / step))
    level = edges.level
    for _ in range(2):
        dark = np.flatnonzero(light < level)
        if not len(dark) or dark[0] < far:
            return math.nan
        first = int(dark[0])
        # the paper just before it may lie in the head's own shadow
        paper = float(np.median(light[first - far : first - near]))
        if paper - edges.metal < 0.15:
            return math.nan
        level = (paper + edges.metal) / 2
    dark = np.flatnonzero(light < level)
    if not len(dark) or dark[0] < 1:
        return math.nan
    first = int(dark[0])
    share = (light[first - 1] - level) / max(light[first - 1] - light[first], 1e-9)
    return float(places[first - 1] + share * (places[first] - places[first - 1]))


def _robust(design: Floats, seen: Floats) -> tuple[float, float, float]:
    """First coefficient of a fit in which what lies far off counts little; its sd; rms left."""
    fit, off, weight = huber_fit(design, seen, 2.0, rounds=10)
    rms = float(np.sqrt((weight * off**2).sum() / weight.sum()))
    normal = np.linalg.inv((design * weight[:, None]).T @ design)
    # neighbouring lines of the picture share what they see: a fifth of them tell anew
    return float(fit[0]), rms * math.sqrt(5.0 * float(normal[0, 0])), rms
