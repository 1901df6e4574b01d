"""A measured seam in words, in the keys of its JSON, and as an overlay on its picture."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.running.seam.bearing import Bearing, twist_seen
from ironlace.running.seam.count_doubted import count_doubted, two_lengths
from ironlace.running.seam.evenness import Range, evenness
from ironlace.running.seam.seam_measured import SeamMeasured
from ironlace.running.seam.seam_picture import SeamPicture

INCH_MM: Final = 25.4
"""Millimetres to the inch (exact)."""

ODD: Final = (5.0, 0.15)
"""A stitch is unlike all the others from so many spreads of them (1.48 of the median distance) and
so great a share of their length on: by chance one seam in 30,000 has one (a judgement)."""
MOST_ODD: Final = 0.1
"""More than this share of them, and at least two, are no few odd ones but an uneven seam."""


def seam_figures(found: SeamMeasured, judged: Bearing) -> Mapping[str, Any]:
    """Everything found, by the keys that `docs/seam.md` tells; what is not known is None."""
    figures = found.figures
    low, mean, high = figures.mean_mm
    period = None
    if figures.periodic:
        period = {
            "stitches": _number(figures.period_stitches),
            "swing_mm": _number(figures.period_mm),
            "chance": _number(figures.period_chance),
        }
    return {
        "reliable": judged.reliable,
        "why": list(judged.why),
        "notices": list(judged.notices),
        "grade": "measured" if judged.reliable else "conjectured",
        "coverage": 0.9,
        "count": int(found.stitches.sum()),
        "skipped": found.skipped,
        "mean_length_mm": _range(figures.mean_mm),
        "stitches_per_inch": _range((INCH_MM / high, INCH_MM / mean, INCH_MM / low)),
        "cv": _range(figures.cv),
        "cv_before_error": _number(figures.cv_seen),
        "measuring_error_mm": _number(float(np.median(found.sd_mm))),
        "drift_share": _range(figures.drift),
        "period": period,
        "straightness_mm": _number(found.straightness_mm),
        "wander_mm": _number(found.wander_mm),
        "bend_radius_mm": _number(found.bend_radius_mm),
        "thread_width_mm": _number(found.thread.width_mm),
        "looped_share": _number(found.looped),
        "plies": twist_seen(found),
        "scale": found.scale.how,
        "ends": [
            {
                "mm": _number(at),
                "sd_mm": _number(sd),
                "x_mm": _number(x),
                "y_mm": _number(y),
                "doubtful": bool(doubt),
            }
            for at, sd, (x, y), doubt in zip(
                found.along_mm, found.single_sd_mm, found.places_mm, found.doubtful, strict=True
            )
        ],
        "stitches": _stitches(found),
    }


def _stitches(found: SeamMeasured) -> list[dict[str, Any]]:
    told = []
    for i, (length, half) in enumerate(zip(found.lengths_mm, found.half_mm, strict=True)):
        skipped = int(found.stitches[i]) - 1
        told.append(
            {
                "from_mm": _number(found.along_mm[i]),
                "to_mm": _number(found.along_mm[i + 1]),
                "length_mm": _range((length - half, length, length + half)),
                "per_inch": _number(INCH_MM / length),
                "skipped": 0 if found.unseen[i] else skipped,
                "doubtful": bool(found.doubtful[i] or found.doubtful[i + 1] or found.unseen[i]),
                "left_out": bool(found.left_out[i]),
            }
        )
    return told


def _number(value: float) -> float | None:
    return round(float(value), 4) if math.isfinite(value) else None


def _range(values: Range) -> list[float | None]:
    return [_number(v) for v in values]


def seam_sentences(found: SeamMeasured, judged: Bearing) -> list[str]:
    """The answer in words: what it is worth first where it is worth little."""
    figures = found.figures
    low, mean, high = figures.mean_mm
    said: list[str] = []
    if not judged.reliable:
        said.append(f"Not reliable: {judged.why[0]}")
    interval = f" (90 %: {low:.3f} to {high:.3f})" if math.isfinite(low) else ""
    skips = {0: "none skipped", 1: "1 skipped"}.get(found.skipped, f"{found.skipped} skipped")
    said.append(
        f"{int(found.stitches.sum())} stitches of {mean:.3f} mm{interval}, {INCH_MM / mean:.1f} to "
        f"the inch; {skips}{count_doubted(found)}."
    )
    said.append(_evenness_in_words(found))
    said += two_lengths(found) or _odd_ones(found)
    said += [f"Also: {reason}" for reason in judged.why[1:]]
    said += _course(found)
    return [*said, *judged.notices]


def _evenness_in_words(found: SeamMeasured) -> str:
    low, value, high = found.figures.cv
    if not math.isfinite(value):
        return "Too few single stitches are sure to tell how even they are."
    error = float(np.median(found.sd_mm))
    return (
        f"Their lengths vary by {value:.1%} (90 %: {low:.1%} to {high:.1%}), with the measuring "
        f"error of {error:.3f} mm at each end taken off."
    )


def _odd_ones(found: SeamMeasured) -> list[str]:
    """What few stitches that are unlike all the others do to the evenness; empty without such."""
    sure = found.weighed
    at = np.flatnonzero(sure)
    lengths = found.lengths_mm
    if len(at) < 10:
        return []
    usual = float(np.median(lengths[at]))
    off = np.abs(lengths[at] - usual)
    spread = max(1.4826 * float(np.median(off)), float(np.median(found.sd_mm)))
    odd = at[off > max(ODD[0] * spread, ODD[1] * usual)]
    if not 0 < len(odd) <= max(2, MOST_ODD * len(at)):
        return []
    errors = np.hypot(found.sd_mm[:-1], found.sd_mm[1:])
    rest = np.where(sure & ~np.isin(np.arange(len(lengths)), odd), lengths, math.nan)
    without = evenness(rest, errors, found.scale.share).cv[1]
    named = " and ".join(f"{lengths[i]:.2f} mm at {found.along_mm[i]:.0f} mm" for i in odd)
    which = "One stitch is" if len(odd) == 1 else f"{len(odd)} stitches are"
    return [
        f"{which} unlike all the others ({named}, where {usual:.2f} mm is usual), as a seam sewn "
        f"back and forth, a tug or an end mistaken makes them: without, {without:.1%}."
    ]


def _course(found: SeamMeasured) -> list[str]:
    figures = found.figures
    said = []
    low, drift, high = figures.drift
    if math.isfinite(low) and low * high > 0:
        way = "longer" if drift > 0 else "shorter"
        said.append(f"From beginning to end the stitches grow {abs(drift):.1%} {way}.")
    if figures.periodic:
        said.append(
            f"Every {figures.period_stitches:.1f} stitches the length swings by "
            f"{figures.period_mm:.3f} mm to either side (by chance {figures.period_chance:.1%}): "
            "look for what turns once in as many."
        )
    said.append(
        f"The seam lies within {found.straightness_mm:.2f} mm (rms) of a straight line and "
        f"{found.wander_mm:.2f} mm of a smooth curve."
    )
    return said


def seam_overlay(picture: SeamPicture, found: SeamMeasured) -> NDArray[np.uint8]:
    """The picture with every end marked across the seam, sRGB, shape (height, width, 3).

    Sure ends are unbroken strokes, doubtful ones dotted; where a stitch was skipped a ring stands.
    """
    shown = picture.pixels.copy()
    k = picture.px_per_mm
    px = (found.places_mm - np.asarray(picture.origin_mm)) * k - 0.5
    line = (found.line_mm - np.asarray(picture.origin_mm)) * k - 0.5
    width = max(1, round(0.05 * k))
    for i, place in enumerate(px):
        nearest = int(np.linalg.norm(line - place, axis=1).argmin())
        a, b = line[max(0, nearest - 6)], line[min(len(line) - 1, nearest + 6)]
        along = (b - a) / max(float(np.linalg.norm(b - a)), 1e-9)
        across = np.array([-along[1], along[0]])
        _stroke(shown, place, across, k, width, dotted=bool(found.doubtful[i]))
    for i in map(int, np.flatnonzero(found.stitches > 1)):
        middle = (px[i] + px[i + 1]) / 2.0
        _ring(shown, middle, 0.5 * k, width, dotted=bool(found.unseen[i]))
    return shown


def _stroke(
    shown: NDArray[np.uint8],
    place: NDArray[np.float64],
    across: NDArray[np.float64],
    k: float,
    width: int,
    *,
    dotted: bool,
) -> None:
    """Two strokes above and below the seam, black on white so that they show on any cloth."""
    for side in (-1.0, 1.0):
        start, stop = place + side * across * 0.35 * k, place + side * across * 1.1 * k
        parts = np.linspace(0.0, 1.0, 8) if dotted else np.array([0.0, 1.0])
        for ink, wide in (((255, 255, 255), width + 2), ((0, 0, 0), width)):
            for a, b in zip(parts[::2], parts[1::2], strict=True):
                p, q = start + (stop - start) * a, start + (stop - start) * b
                cv2.line(shown, _point(p), _point(q), ink, wide, cv2.LINE_AA)


def _ring(
    shown: NDArray[np.uint8],
    place: NDArray[np.float64],
    radius: float,
    width: int,
    *,
    dotted: bool,
) -> None:
    size = (round(radius), round(radius))
    arcs = [(a, a + 20) for a in range(0, 360, 40)] if dotted else [(0, 360)]
    for ink, wide in (((255, 255, 255), width + 2), ((0, 0, 0), width)):
        for a, b in arcs:
            cv2.ellipse(shown, _point(place), size, 0.0, a, b, ink, wide, cv2.LINE_AA)


def _point(place: NDArray[np.float64]) -> tuple[int, int]:
    return round(float(place[0])), round(float(place[1]))


BESIDE_MM: Final = 3.5
"""Cloth that a marked row shows on either side of the seam."""


def row_count(found: SeamMeasured, row_mm: float) -> int:
    """How many rows of so many mm the seam takes."""
    return max(1, math.ceil(float(found.along_mm[-1]) / row_mm - 1e-9))


def marked_rows(
    picture: SeamPicture, found: SeamMeasured, px_per_mm: float, row_mm: float
) -> list[NDArray[np.uint8]]:
    """The seam with every end marked, turned level and cut into rows, at no more than a scale.

    Parameters
    ----------
    row_mm
        Most length of seam to a row; all rows are equally long, so that all show one scale.
    """
    scale = min(px_per_mm, picture.px_per_mm)
    size = [max(1, round(n * scale / picture.px_per_mm)) for n in picture.pixels.shape[1::-1]]
    small = np.asarray(cv2.resize(picture.pixels, size, interpolation=cv2.INTER_AREA), np.uint8)
    used = small.shape[1] / picture.pixels.shape[1] * picture.px_per_mm
    shown = seam_overlay(SeamPicture(small, used, picture.origin_mm), found)
    first, last = found.places_mm[0], found.places_mm[-1]
    along = (last - first) / max(float(np.linalg.norm(last - first)), 1e-9)
    angle = math.degrees(math.atan2(along[1], along[0]))
    middle = (0.5 * (first + last) - np.asarray(picture.origin_mm)) * used
    places = (found.places_mm - 0.5 * (first + last)) @ np.array(
        [[along[0], -along[1]], [along[1], along[0]]]
    )
    left, top = places.min(axis=0) - np.array([1.0, BESIDE_MM])
    right, bottom = places.max(axis=0) + np.array([1.0, BESIDE_MM])
    wide, high = round((right - left) * used), round((bottom - top) * used)
    turn = cv2.getRotationMatrix2D((float(middle[0]), float(middle[1])), angle, 1.0)
    turn[:, 2] += (-left * used - middle[0], -top * used - middle[1])
    level = np.asarray(
        cv2.warpAffine(
            shown, turn, (wide, high), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        ),
        np.uint8,
    )
    edges = np.linspace(0, wide, row_count(found, row_mm) + 1).round().astype(int)
    return [level[:, a:b] for a, b in itertools.pairwise(edges)]
