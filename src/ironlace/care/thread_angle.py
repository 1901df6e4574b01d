"""The flank angle of a thread, from its threads laid over one another.

All threads of both edges are folded into one; a straight-flanked thread with its crest and root
cut off and rounded is bent round the helix (what a camera sees is the outline of the solid, not its
section), blurred like the photograph and fitted to the folded one. Fine threads and blurred ones
are refused: their flanks are then shorter than the blur.
"""

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from ironlace.care.thread_edges import ThreadEdges
from ironlace.care.thread_pitch import ThreadPitch
from ironlace.evidence.arrays import Floats

LEAST_PITCH_MM: Final = 0.40
"""Below it no angle is told (a first trial had 70 to 110 degrees there)."""
MOST_BLUR: Final = 0.13
"""Blur as a share of the pitch above which no angle is told."""
_PLACES: Final = 48
"""Of one folded pitch."""
_SYSTEMATIC_DEG: Final = 1.35
"""What stays in doubt with the sharpest photograph: rounding, wear, shading (judged by trials)."""
DEPTH: Final = 0.62
"""Depth of a thread in pitches: 0.6 (BA), 0.613 (metric, unified), 0.640 (Whitworth)."""
_ODD_DEG: Final = 4.0
"""An angle so uncertain is not told."""


_MOST_DEG: Final = 22.0
"""The greatest angle between line of sight and the square to the axis that is looked for."""
_BLURRED_OVER: Final = 0.22
"""Blur as a share of the pitch above which the outline does not tell how the screw lies either."""
_WORN: Final = 0.58
"""Share of a full thread that must stand: of one worn lower no flank is left long enough, and the
angle comes out 5 to 15 degrees too wide (made threads, 0.45 of them gone)."""
_SHARP: Final = 0.08
"""Blur as a share of the pitch below which it does not lower a thread so far."""
_OBLIQUE_SD_DEG: Final = 0.8
"""Of that angle, what stays in doubt with the sharpest photograph (judged by trials)."""
_UNLIKE_DEG: Final = 2.5
"""And where the angle itself is not to be told: fine, blurred or much worn (judged)."""
_OBLIQUE_SHARE: Final = 0.06
"""And as a share of it: roots are rounded otherwise than they are thought to be."""
_APART: Final = 3.0
"""Standard deviations by which the outline may contradict how the screw lies."""


@dataclass(frozen=True)
class FlankAngle:
    """The angle between the flanks in degrees with one standard deviation; None with the reason."""

    angle_deg: float | None
    sd_deg: float
    why: str


@dataclass(frozen=True)
class FlanksSeen:
    """The flanks as the outline shows them.

    Attributes
    ----------
    tangent, sd
        Of half the angle between them, as seen, and one standard deviation.
    oblique_deg, oblique_sd_deg
        Between line of sight and the square to the screw's axis, and one standard deviation.
    blur
        Of the photograph, in pitches.
    why
        Why the angle itself is not to be told; empty where it is.
    """

    tangent: float
    sd: float
    oblique_deg: float
    oblique_sd_deg: float
    blur: float
    why: str


def flanks_seen(edges: ThreadEdges, pitch: ThreadPitch, shrink: float) -> FlanksSeen | str:
    """Fit the flanks and the line of sight to the outline; or say why it tells neither.

    A thread seen aslant shows one edge along its groove and the other across it, where crests hide
    the root: the two edges' outlines then differ, and tell the angle.

    Parameters
    ----------
    edges, pitch
        As measured in the card's plane.
    shrink
        From the card's plane to the axis's.
    """
    blur = edges.blur_px / edges.px_per_mm / pitch.pitch_mm
    why = ""
    if pitch.pitch_mm * shrink < LEAST_PITCH_MM:
        why = f"a pitch under {LEAST_PITCH_MM:g} mm is too fine for its angle"
    if blur > MOST_BLUR:
        why = "the photograph is too blurred for the angle"
    if blur > _BLURRED_OVER:
        return why
    profiles, spread = _folded(edges, pitch)
    radius = 0.5 * pitch.width_mm / pitch.pitch_mm
    stands = float(np.mean(np.nanmax(profiles, axis=1) - np.nanmin(profiles, axis=1))) / DEPTH
    if stands < _WORN and blur < _SHARP:
        why = why or "its threads are too worn for the angle"
    fit = _fit(profiles, spread, blur, radius, pitch.starts)
    if not why and _told(fit.tangent, fit.tangent_sd, blur) is None:
        return "the flanks are too worn, dirty or shadowed for the angle"
    seen = math.degrees(math.asin(min(abs(fit.lean) / radius, 0.5)))
    unlike = _UNLIKE_DEG if why else 0.0
    sd = math.hypot(
        math.degrees(fit.lean_sd / radius), _OBLIQUE_SD_DEG, _OBLIQUE_SHARE * seen, unlike
    )
    return FlanksSeen(fit.tangent, fit.tangent_sd, seen, sd, blur, why)


def flank_angle(seen: FlanksSeen | str, oblique_deg: float, slant_deg: float) -> FlankAngle:
    """The angle between the flanks.

    Parameters
    ----------
    seen
        As fitted to the outline.
    oblique_deg, slant_deg
        Between line of sight and the square to the screw's axis, by all that tells it, and to the
        card.
    """
    if isinstance(seen, str):
        return FlankAngle(None, 0.0, seen)
    if seen.why:
        return FlankAngle(None, 0.0, seen.why)
    if abs(seen.oblique_deg - oblique_deg) > _APART * seen.oblique_sd_deg:
        return FlankAngle(None, 0.0, "the outline of its flanks contradicts how the screw lies")
    # the thread is seen shorter along its axis and as deep as it is
    squeezed = math.cos(math.radians(slant_deg)) / math.cos(math.radians(oblique_deg))
    fit, sd = seen.tangent * squeezed, seen.sd * squeezed
    told = _told(fit, sd, seen.blur)
    return told or FlankAngle(None, 0.0, "the flanks are too worn or blurred for the angle")


def _told(tangent: float, sd: float, blur: float) -> FlankAngle | None:
    """The angle by the tangent of its half, or None where it is no thread's or too unsure."""
    angle = 2.0 * math.degrees(math.atan(tangent))
    sd_deg = 2.0 * math.degrees(sd / (1.0 + tangent * tangent))
    sd_deg = math.hypot(sd_deg, _SYSTEMATIC_DEG, 15.0 * blur)
    if not 30.0 < angle < 100.0 or sd_deg > _ODD_DEG:
        return None
    return FlankAngle(angle, sd_deg, "")


def _folded(edges: ThreadEdges, pitch: ThreadPitch) -> tuple[Floats, float]:
    """The middle thread of either edge, in pitches, crest in its middle; and its spread."""
    step = float(edges.along_mm[1] - edges.along_mm[0])
    inside = (edges.along_mm >= pitch.from_mm + 0.5 * pitch.pitch_mm) & (
        edges.along_mm <= pitch.to_mm - 0.5 * pitch.pitch_mm
    )
    along = edges.along_mm[inside]
    parts, spreads = [], []
    for one, phase in zip(edges.edges_mm[:, inside], pitch.phase_mm, strict=True):
        cell = ((((along - phase) / pitch.pitch_mm + 0.5) % 1.0) * _PLACES).astype(int) % _PLACES
        told = (one - _smoothed(one, max(3, int(2 * pitch.pitch_mm / step)))) / pitch.pitch_mm
        middle = np.array(
            [np.median(told[cell == c]) if (cell == c).any() else np.nan for c in range(_PLACES)]
        )
        parts.append(middle)
        spreads.append(1.4826 * float(np.nanmedian(np.abs(told - middle[cell]))))
    threads = max(2.0, pitch.threads)
    return np.array(parts), float(np.mean(spreads)) / math.sqrt(threads) + 2e-3


def _smoothed(one: Floats, size: int) -> Floats:
    from scipy.ndimage import uniform_filter1d

    return np.asarray(uniform_filter1d(one, size, mode="nearest"))


@dataclass(frozen=True)
class _Fit:
    tangent: float
    tangent_sd: float
    lean: float
    lean_sd: float


def _fit(profiles: Floats, spread: float, blur: float, radius: float, starts: int = 1) -> _Fit:
    """Tangent of half the angle and lean of the sight, with their doubt.

    The lean's sign says which edge is seen along its groove and which across: the thread's hand.
    """
    from scipy.optimize import least_squares

    kept = np.isfinite(profiles)
    most = math.sin(math.radians(_MOST_DEG))

    def off(q: Floats) -> Floats:
        told = np.array(
            [
                _outline(q, blur * q[3], radius, q[9] * radius * sign, starts) + q[5 + 2 * side]
                for side, sign in enumerate((1.0, -1.0))
            ]
        )
        moved = np.array([_shifted(one, q[6 + 2 * side]) for side, one in enumerate(told)])
        # believed beforehand: threads of every standard are about as deep, whatever their angle,
        # so that a steep one has more cut off; a crest loses more by wear; and the blur
        flat = 0.5 - DEPTH * q[0]
        prior = np.array(
            [
                (q[1] - flat - 0.03) / (0.06 if q[1] > flat + 0.03 else 0.03),
                (q[2] - flat) / 0.03,
                (q[3] - 1.0) / 0.06,
                (q[4] - 0.035) / 0.025,
            ]
        )
        return np.concatenate([(profiles - moved)[kept] / spread, prior])

    start = 0.5
    flat = 0.5 - DEPTH * start
    fit = least_squares(
        off,
        np.array([start, flat, flat, 1.0, 0.03, 0.0, 0.0, 0.0, 0.0, 0.0]),
        bounds=(
            [0.2, 0.0, 0.0, 0.7, 0.0, -0.3, -0.2, -0.3, -0.2, -most],
            [1.4, 0.4, 0.4, 1.3, 0.15, 0.3, 0.2, 0.3, 0.2, most],
        ),
        loss="soft_l1",
        f_scale=2.0,
        max_nfev=25,
        x_scale=[0.05, 0.03, 0.03, 0.1, 0.02, 0.02, 0.01, 0.02, 0.01, 0.05],
    )
    size = len(fit.x)
    rows = max(1, int(kept.sum()) - size)
    worse = max(1.0, 2.0 * fit.cost / rows)
    slopes: Any = fit.jac
    information = slopes.T @ slopes + 1e-9 * np.eye(size)
    sd = np.sqrt(np.diag(np.linalg.inv(information)) * worse)
    return _Fit(float(fit.x[0]), float(sd[0]), float(fit.x[9]) * radius, float(sd[9]) * radius)


def _shifted(one: Floats, pitches: float) -> Floats:
    """A folded thread moved along by a share of a pitch."""
    k = np.arange(_PLACES // 2 + 1)
    return np.asarray(np.fft.irfft(np.fft.rfft(one) * np.exp(-2j * math.pi * k * pitches), _PLACES))


def _outline(q: Floats, blur: float, radius: float, lean: float, starts: int) -> Floats:
    """The blurred outline of a thread over one pitch about its mean, all in pitches."""
    tangent, crest, root, _, rounding = q[:5]
    s = (np.arange(_PLACES) + 0.5) / _PLACES - 0.5
    height = np.clip(-np.abs(s), root / 2 - 0.5, -crest / 2) / tangent
    height = np.fft.irfft(np.fft.rfft(height) * _soft(rounding), _PLACES)
    height = _round_the_helix(height + radius - height.max(), lean, starts) - radius
    found = height.copy()
    weights = _circle(blur)
    from scipy.special import ndtr

    for _ in range(5):
        across = (height[None, :] - found[:, None]) / blur
        share = (weights * ndtr(across)).sum(axis=1)
        slope = (weights * np.exp(-0.5 * across**2)).sum(axis=1) / (blur * math.sqrt(2 * math.pi))
        found = found + np.clip((share - 0.5) / np.maximum(slope, 0.05 / blur), -blur, blur)
    return np.asarray(found - found.mean())


def _soft(rounding: float) -> Floats:
    k = np.arange(_PLACES // 2 + 1)
    return np.asarray(np.exp(-2.0 * (math.pi * k * rounding) ** 2))


def _circle(blur: float) -> Floats:
    """Weights of a normal blur between places of a pitch that repeats."""
    k = np.arange(_PLACES)
    gap = (k[:, None] - k[None, :]) / _PLACES
    told = sum(np.exp(-0.5 * ((gap + n) / blur) ** 2) for n in (-1, 0, 1))
    return np.asarray(told / np.sum(told, axis=1, keepdims=True))


_THETA: Final = np.linspace(-0.6, 0.6, 49)
"""Turns about the axis, radians, over which the outline may lie to either side of the edge."""


def _round_the_helix(radius: Floats, lean: float, starts: int) -> Floats:
    """The outline of the solid: over turns about the axis, the farthest that is seen.

    Where the line of sight leans along the axis by `lean` pitches a radian, what lies nearer to the
    eye is seen shifted.
    """
    # a root lies nearer to the axis than a crest, and is seen shifted by less
    turn, sight = starts * _THETA[:, None] / (2 * math.pi), lean * np.sin(_THETA)[:, None]
    least = float(radius.min() / radius.max())
    places = np.arange(_PLACES)[None, :]
    near = _looked_up(radius, places - (turn + sight * least) * _PLACES) / radius.max()
    moved = places - (turn + sight * near) * _PLACES
    return np.asarray((_looked_up(radius, moved) * np.cos(_THETA)[:, None]).max(axis=0))


def _looked_up(periodic: Floats, at: Floats) -> Floats:
    low = np.floor(at).astype(np.int64)
    share = at - low
    before, after = periodic[low % _PLACES], periodic[(low + 1) % _PLACES]
    return np.asarray(before * (1 - share) + after * share)
