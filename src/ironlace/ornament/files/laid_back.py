"""The drawing laid back onto the photograph, to see whether it falls on the traces.

Every outline is followed in the photograph itself, through the camera that was measured, and across
it, at right angles, the light is read: where it falls half way from gilt to ground is where the
paint ends. How far that lies from the drawing is measured, stretch by stretch; where there is no
such fall of light, no trace is seen. Nothing of how the drawing was made is used again but the
camera.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats
from ironlace.evidence.grades import Grade
from ironlace.ornament.errors import DrawingError
from ironlace.ornament.outline.drawing import (
    ClosedPath,
    Drawing,
    each_derivative,
    each_point,
    split_curve,
)
from ironlace.photographs.linear_light import to_linear
from ironlace.photographs.looked_up import looked_up
from ironlace.photographs.place_by_strip import Placing

STEP_MM: Final = 0.25
"""Along an outline, from one place that is looked at to the next."""

REACH_MM: Final = 0.6
"""How far to both sides of an outline the light is read."""
CLOSE_MM: Final = 0.1
"""Nearer than this an outline lies on its trace (judged; no source)."""

FAR_MM: Final = 0.25
"""Farther than this it lies beside it, as the eye sees at once (judged; no source)."""

_SAMPLES: Final = 49
"""Places across an outline at which the light is read: a fortieth of a mm apart."""

_STRETCH: Final = 16_000
"""Places looked up in one go: with more, the part of the photograph they lie in grows (tuned)."""
_MOST_PART: Final = 2_000_000
"""Pixels of the photograph that are made light in one go, 8 MB a colour: where small outlines lie
far apart a stretch would span all of it. Only time and memory depend on it."""
_RISE: Final = 0.16
"""Between this share of a blurred step's height and the rest to its top lie two standard deviations
of the blur, were it a bell; what a disc does to a step is within a fifth of that."""
_ENOUGH: Final = 40
"""Places with a trace from which their median says how blurred the gilt is; ten mm of outline."""
_LEAST_FALL: Final = 0.3
"""Of the usual fall of light from gilt to ground, from which a place counts as a trace."""
NO_TRACE: Final = "no edge in the photograph"
"""Name of the source of a stretch that was taken for seen and shows no edge in its photograph."""
REMNANT: Final = "a remnant of what lies there"
"""Name of the source of what is left of a small island that is bounded by no paint."""
MOST_OF_A_REMNANT_MM2: Final = 8.0
"""Larger islands are seen for what they are: from 3 mm across. A judgement: of rust beside iron
nearly all that was left was smaller, and a lozenge of an ornament is larger."""
LEAST_TRACELESS: Final = 4
"""So many places on end, a millimetre, without a trace are a stretch without one: at a tip or where
strokes part the light falls both ways within less. A judgement."""
_MOST_OF_IT: Final = 0.6
"""Of the gilt's own light there, a fall from which a place counts as a trace however dim it is."""
_LEAST_LIGHT: Final = 0.004
"""Linear light by which it must fall at the least: some ten steps of eight bits in the dark."""
_SIGNAL: Final = np.array([0.42, 0.52, 0.06], np.float32)
"""How much red, green and blue tell gilt from japan (tuned; on what was not kept)."""


@dataclass(frozen=True, eq=False)
class ProofOnPhotograph:
    """Places along a drawing's outlines and how far the photograph's own edge lies from each.

    Attributes
    ----------
    places_mm
        Shape (n, 2), about `STEP_MM` apart.
    places_px
        The same in the photograph.
    off_mm
        Signed distance from the drawing to the edge in the photograph, outwards positive; NaN where
        no trace is seen.
    grades
        Grade of each place.
    blur_mm
        Standard deviation of the blur across the gilt's own edges, the median over the places with
        a trace; NaN where there are too few.
    """

    places_mm: Floats
    places_px: Floats
    off_mm: Floats
    grades: NDArray[np.str_]
    blur_mm: float = math.nan

    def as_dict(self) -> dict[str, Any]:
        """Figures for a report: shares of the outline, distances, and the worst places."""
        seen = np.isfinite(self.off_mm)
        away = np.abs(self.off_mm[seen])
        out: dict[str, Any] = {
            "places": len(self.off_mm),
            "with_a_trace": float(seen.mean()) if len(seen) else 0.0,
            "mean_mm": float(away.mean()) if len(away) else None,
            "p95_mm": float(np.percentile(away, 95)) if len(away) else None,
            "within_a_tenth": float(np.mean(away <= CLOSE_MM)) if len(away) else None,
            "blur_mm": self.blur_mm if math.isfinite(self.blur_mm) else None,
        }
        said_seen = self.grades == str(Grade.SEEN)
        # what is graded seen must be seen: this share is not
        out["graded_seen_without_a_trace"] = (
            float(np.mean(~seen[said_seen])) if said_seen.any() else 0.0
        )
        order = np.argsort(-np.where(seen, np.abs(self.off_mm), -1.0))[:8]
        out["worst"] = [
            {
                "x_mm": round(float(self.places_mm[i, 0]), 2),
                "y_mm": round(float(self.places_mm[i, 1]), 2),
                "off_mm": round(float(self.off_mm[i]), 3),
            }
            for i in order
            if seen[i] and abs(self.off_mm[i]) > CLOSE_MM
        ]
        return out


def prove(drawing: Drawing, image: NDArray[np.uint8], placing: Placing) -> ProofOnPhotograph:
    """Lay a drawing back onto a photograph and measure how far it is from what is seen there.

    Parameters
    ----------
    drawing
        In surface mm.
    image
        The photograph, HxWx3 uint8 sRGB, upright.
    placing
        Its camera and surface.

    Raises
    ------
    DrawingError
        If nothing of the drawing falls into the photograph.
    """
    places, outwards, grades = _outline(drawing)
    h, w = image.shape[:2]
    px = placing.to_pixels(places)
    inside = (px[:, 0] > 2) & (px[:, 1] > 2) & (px[:, 0] < w - 3) & (px[:, 1] < h - 3)
    inside &= placing.surface.covers(places) & (placing.facing(places) > 0.2)
    if not inside.any():
        raise DrawingError("Nothing of the drawing falls into this photograph.")
    steps = np.linspace(-REACH_MM, REACH_MM, _SAMPLES)
    lines = places[:, None] + outwards[:, None] * steps[None, :, None]
    at = placing.to_pixels(lines.reshape(-1, 2)).reshape(len(places), _SAMPLES, 2)
    # stretch by stretch, since only the part of the photograph that each lies in is read
    profile = np.concatenate(
        [_light_at(image, at[n : n + _STRETCH]) for n in range(0, len(at), _STRETCH)]
    )
    off, blur = _falls(profile, steps, inside)
    return ProofOnPhotograph(places, px, off, grades, blur)


def traceless_conjectured(
    drawing: Drawing,
    proof: ProofOnPhotograph,
    source: str,
    layer: str,
    *,
    all_of_it: bool = False,
) -> Drawing:
    """The drawing with conjecture for "seen" wherever its photograph shows no edge.

    Parameters
    ----------
    drawing
        As it was proved.
    proof
        Its proof on the photograph.
    source
        What the photograph's evidence is called; what is seen in another one is left as it is.
    layer
        The layer whose colour the proof tells from the ground.
    all_of_it
        Whether what shows an edge is conjectured as well.
    """
    bare = ~np.isfinite(proof.off_mm)
    paths: list[ClosedPath] = []
    done = 0
    for path in drawing.paths:
        counts = _places_on(path.lengths)
        part = bare[done : done + int(counts.sum())]
        done += len(part)
        lost = _on_end(part) if path.layer == layer else np.zeros_like(part)
        lost |= all_of_it and path.layer == layer
        paths.append(_conjectured(path, counts, lost, source) if lost.any() else path)
    return drawing.with_paths(paths)


def remnants_conjectured(drawing: Drawing, source: str, layer: str, hidden: str) -> Drawing:
    """The drawing with conjecture for all of each small island that is hardly seen.

    What is left of rust, of bare iron or of dirt where the rest of it was told from gilt ends there
    or shows no edge for most of its outline. Where the outline of the rest looks like gilt's, it is
    the thing's all the same.

    Parameters
    ----------
    drawing
        With conjecture where its photograph shows no edge (`traceless_conjectured`).
    source, layer
        As there.
    hidden
        What the source is called of a stretch that ends at what covers the work.
    """
    paths = []
    for path in drawing.paths:
        at = np.array([one in (NO_TRACE, hidden) for one in path.sources])
        bounded = float(path.lengths[at].sum()) > 0.5 * float(path.lengths.sum())
        small = path.layer == layer and abs(path.area) < MOST_OF_A_REMNANT_MM2
        if not (small and bounded):
            paths.append(path)
            continue
        here = [
            g is Grade.SEEN and s == source for g, s in zip(path.grades, path.sources, strict=True)
        ]
        grades = [
            Grade.CONJECTURED if seen else g for g, seen in zip(path.grades, here, strict=True)
        ]
        sources = [REMNANT if seen else s for s, seen in zip(path.sources, here, strict=True)]
        paths.append(ClosedPath(path.curves, tuple(grades), tuple(sources), path.layer))
    return drawing.with_paths(paths)


def _places_on(lengths_mm: Floats) -> NDArray[np.int64]:
    """How many places of each curve are looked at."""
    return np.maximum(1, np.round(lengths_mm / STEP_MM)).astype(np.int64)


def _on_end(bare: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Those places round a ring that lie in a run of `LEAST_TRACELESS` and more."""
    begins = np.all([np.roll(bare, -k) for k in range(LEAST_TRACELESS)], axis=0)
    return np.asarray(np.any([np.roll(begins, k) for k in range(LEAST_TRACELESS)], axis=0))


def _conjectured(
    path: ClosedPath, counts: NDArray[np.int64], lost: NDArray[np.bool_], source: str
) -> ClosedPath:
    """A path cut where the trace in its photograph ends, and conjectured where there is none."""
    curves: list[Floats] = []
    grades: list[Grade] = []
    sources: list[str] = []
    first = np.concatenate([[0], np.cumsum(counts)])
    for n, curve in enumerate(path.curves):
        here = lost[first[n] : first[n + 1]]
        seen = path.grades[n] is Grade.SEEN and path.sources[n] == source
        ends = np.flatnonzero(np.diff(here)) + 1 if seen else np.zeros(0, np.int64)
        cuts = [float(end) / len(here) for end in ends]
        pieces = split_curve(curve, cuts) if cuts else [curve]
        for piece, begin in zip(pieces, [0, *ends], strict=True):
            bare = seen and bool(here[begin])
            curves.append(piece)
            grades.append(Grade.CONJECTURED if bare else path.grades[n])
            sources.append(NO_TRACE if bare else path.sources[n])
    ring = np.array(curves)
    ring[:, 3] = np.roll(ring[:, 0], -1, axis=0)
    return ClosedPath(ring, tuple(grades), tuple(sources), path.layer)


def _outline(drawing: Drawing) -> tuple[Floats, Floats, NDArray[np.str_]]:
    """Places along the outlines, the way out of the gilt at each, and its grade."""
    nesting = drawing.nesting()
    if not drawing.paths:
        raise DrawingError("The drawing is empty: there is nothing to lay on the photograph.")
    # a path's depth tells on which side of it the gilt lies
    outwards = []
    for n, path in enumerate(drawing.paths):
        depth, up = 0, nesting[n]
        while up is not None:
            depth, up = depth + 1, nesting[up]
        outwards.append(1.0 if (path.area > 0) == (depth % 2 == 0) else -1.0)
    curves = np.concatenate([path.curves for path in drawing.paths])
    lengths = np.concatenate([path.lengths for path in drawing.paths])
    grades = [str(grade) for path in drawing.paths for grade in path.grades]
    out = np.repeat(outwards, [path.nodes for path in drawing.paths])
    counts = _places_on(lengths)
    index = np.repeat(np.arange(len(curves)), counts)
    first = np.concatenate([[0], np.cumsum(counts)[:-1]])
    t = (np.arange(len(index)) - first[index] + 0.5) / counts[index]
    way = each_derivative(curves[index], t)
    way /= np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-9)
    # clockwise as seen (y down) has its inside on the right
    outward = out[index][:, None] * np.stack([way[:, 1], -way[:, 0]], axis=1)
    return each_point(curves[index], t), outward, np.array(grades, dtype=np.str_)[index]


def _light_at(image: NDArray[np.uint8], at: Floats) -> Floats:
    """Light of gilt against ground at places in a photograph; only the part they lie in is read."""
    h, w = image.shape[:2]
    known = at[np.isfinite(at).all(axis=-1)]
    if not len(known):
        return np.zeros(at.shape[:-1])
    low = np.clip(np.floor(known.min(axis=0)) - 1, 0, (w - 1, h - 1)).astype(int)
    high = np.clip(np.ceil(known.max(axis=0)) + 2, low + 1, (w, h)).astype(int)
    if len(at) > 1 and int(np.prod(high - low)) > _MOST_PART:
        half = len(at) // 2
        return np.concatenate([_light_at(image, at[:half]), _light_at(image, at[half:])])
    part = image[low[1] : high[1], low[0] : high[0]]
    tables = to_linear(np.arange(256, dtype=np.uint8))[:, None] * _SIGNAL
    light = sum(np.take(tables[:, channel], part[..., channel]) for channel in range(3))
    return np.asarray(looked_up(np.asarray(light, np.float32), at - low), np.float64)


def _falls(profile: Floats, steps: Floats, inside: NDArray[np.bool_]) -> tuple[Floats, float]:
    """Where along each profile the light falls half way from gilt to ground; NaN where it does not.

    The second figure is the blur across these falls, mm (median of their standard deviations).
    The levels are those of the profile's own sides within reach of the drawing, so that a
    neighbouring stroke or a reflection farther off has no say.
    """
    near = np.abs(steps) <= 0.45
    gilt_side = near & (steps <= -0.1)
    bare_side = near & (steps >= 0.1)
    gilt = np.percentile(profile[:, gilt_side], 80, axis=1)
    bare = np.percentile(profile[:, bare_side], 20, axis=1)
    fall = gilt - bare
    usual = float(np.percentile(fall[inside], 75)) if inside.any() else 0.0
    off = np.full(len(profile), np.nan)
    # gilt at a dim limb falls by little, but by most of its light
    enough = (fall > _LEAST_FALL * max(usual, 1e-6)) | (fall > _MOST_OF_IT * gilt)
    good = inside & enough & (fall > _LEAST_LIGHT)
    level = (gilt + bare) / 2.0
    above = profile > level[:, None]
    # crossings from above to below, the one nearest to the drawing
    down = above[:, :-1] & ~above[:, 1:]
    middle = (steps[:-1] + steps[1:]) / 2.0
    distance = np.where(down, np.abs(middle)[None, :], np.inf)
    k = np.argmin(distance, axis=1)
    row = np.arange(len(profile))
    found = good & np.isfinite(distance[row, k])
    a, b = profile[row, k], profile[row, k + 1]
    share = np.clip((a - level) / np.maximum(a - b, 1e-9), 0.0, 1.0)
    off[found] = (steps[k] + share * (steps[k + 1] - steps[k]))[found]
    if int(found.sum()) < _ENOUGH:
        return off, math.nan
    height = ((profile - bare[:, None]) / np.maximum(fall, 1e-9)[:, None])[found]
    return off, _blur(height, k[found], float(steps[1] - steps[0]))


def _blur(height: Floats, crossing: NDArray[np.int64], step_mm: float) -> float:
    """Blur of falls from 1 to 0: half of how far it is from near the top to near the foot."""
    at = np.arange(height.shape[1])
    top = np.where((at <= crossing[:, None]) & (height >= 1.0 - _RISE), at, -1).max(axis=1)
    far = height.shape[1]
    foot = np.where((at > crossing[:, None]) & (height <= _RISE), at, far).min(axis=1)
    whole = (top >= 0) & (foot < far)
    if int(whole.sum()) < _ENOUGH:
        return math.nan
    rows = np.flatnonzero(whole)
    i, j = top[rows], foot[rows]
    # where between two samples the level is passed
    before, after = height[rows, i], height[rows, i + 1]
    begin = i + (before - (1.0 - _RISE)) / np.maximum(before - after, 1e-9)
    before, after = height[rows, j - 1], height[rows, j]
    end = j - 1 + (before - _RISE) / np.maximum(before - after, 1e-9)
    return float(np.median(end - begin)) * step_mm / 2.0


def proof_picture(
    image: NDArray[np.uint8], proof: ProofOnPhotograph, *, most_px: int = 2400
) -> NDArray[np.uint8]:
    """The photograph with every place of the outline marked by how far off it is.

    A small dot: within 0.1 mm. A hollow square: up to 0.25 mm. A cross: farther. A short ring of
    white: no trace is seen there. Shape tells it, colour repeats it.
    """
    h, w = image.shape[:2]
    # only the part with ornament in it: the strip around it has nothing to show
    low, high = proof.places_px.min(axis=0), proof.places_px.max(axis=0)
    air = 0.04 * float((high - low).max())
    x0, y0 = (int(v) for v in np.clip(low - air, 0, (w - 2, h - 2)))
    x1, y1 = (int(v) for v in np.clip(high + air + 1, (x0 + 2, y0 + 2), (w, h)))
    part = image[y0:y1, x0:x1]
    scale = min(1.0, most_px / max(part.shape[:2]))
    size = (max(1, round(part.shape[1] * scale)), max(1, round(part.shape[0] * scale)))
    small = cv2.resize(part, size, interpolation=cv2.INTER_AREA)
    picture: NDArray[np.uint8] = np.asarray(small * 0.75, np.uint8)
    unit = max(1.0, max(size) / 1600.0)
    at = (proof.places_px - (x0, y0) + 0.5) * scale - 0.5
    away = np.abs(proof.off_mm)
    fixed = np.round(at * 16).astype(np.int64)
    for (x, y), off in zip(fixed, away, strict=True):
        if not (0 <= x < size[0] * 16 and 0 <= y < size[1] * 16):
            continue
        here = (int(x), int(y))
        if not np.isfinite(off):
            cv2.circle(picture, here, int(2.0 * unit * 16), (255, 255, 255), 1, cv2.LINE_AA, 4)
        elif off <= CLOSE_MM:
            cv2.circle(picture, here, int(1.2 * unit * 16), (120, 220, 255), -1, cv2.LINE_AA, 4)
        elif off <= FAR_MM:
            r = int(2.6 * unit * 16)
            cv2.rectangle(
                picture,
                (here[0] - r, here[1] - r),
                (here[0] + r, here[1] + r),
                (255, 210, 60),
                1,
                cv2.LINE_AA,
                4,
            )
        else:
            r = int(4.0 * unit * 16)
            for dx, dy in ((1, 1), (1, -1)):
                cv2.line(
                    picture,
                    (here[0] - dx * r, here[1] - dy * r),
                    (here[0] + dx * r, here[1] + dy * r),
                    (255, 90, 70),
                    2,
                    cv2.LINE_AA,
                    4,
                )
    return picture
