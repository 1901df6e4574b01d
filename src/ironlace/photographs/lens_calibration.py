"""A lens measured from photographs of the printed chart.

The chart's marker corners are known to lie in one plane; several views of it from different sides
fix focal length, middle and distortion (Zhang 2000, "A flexible new technique for camera
calibration"; OpenCV's solver). The chart's printed size does not matter here; that it may be bowed
is adjusted with the lens (`chart_bowed`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.photographs.chart_bowed import adjusted
from ironlace.photographs.errors import LensError, StripNotFoundError
from ironlace.photographs.lens import Lens, guessed_lens
from ironlace.photographs.scale_strip import StripLayout, strip_sheet
from ironlace.photographs.strip_finding import StripSighting, find_strip

LEAST_PHOTOGRAPHS: Final = 5
"""A chart from fewer sides leaves focal length and distance entangled: common practice asks for ten
or more; from five on, the uncertainty that is told (`WORST_FOCAL`) settles whether they do."""
LEAST_MARKERS: Final = 8
"""Markers of the chart to be read in a photograph that counts: 32 corners for its 6 numbers of pose
and its share of the lens's 9. A judgement."""
LEAST_APART_DEG: Final = 20.0
"""A photograph counts as from another side when it is turned by more than this from some other:
photographs of one plane from nearly one side say the same thing twice (Zhang 2000). The figure is
a judgement."""
WORST_FOCAL: Final = 0.01
"""Relative uncertainty of the focal length above which a calibration is of no use."""
WORST_RMS_PX: Final = 2.0
"""Corners further off than this on the whole mean a bent or wrongly scaled chart, or a lens of
another kind (fisheye). A judgement."""
_BOWED_MM: Final = 0.5
"""A chart whose rim lies farther off its middle's plane is told to be bowed (a judgement)."""
_BOWED_SD: Final = 3.0
"""And by so many of its errors."""


@dataclass(frozen=True)
class LensCalibration:
    """A calibrated lens and how well it explains the photographs.

    Attributes
    ----------
    lens
        The lens, with the standard deviation of its focal length.
    rms_px
        Root mean square distance of corners seen from corners projected.
    per_photograph_px
        The same for each photograph, in the order given; NaN for those that were set aside.
    tilts_deg
        How far each photograph looked at the chart askew.
    rise_mm, rise_sd_mm
        By how much the chart's rim rose above its middle, or fell below it, and its error.
    """

    lens: Lens
    rms_px: float
    per_photograph_px: tuple[float, ...]
    tilts_deg: tuple[float, ...]
    rise_mm: float
    rise_sd_mm: float

    @property
    def bowed(self) -> str:
        """That the chart was bowed, as a sentence; empty where it lay flat as far as is known."""
        rise = abs(self.rise_mm)
        if rise < _BOWED_MM or rise < _BOWED_SD * self.rise_sd_mm:
            return ""
        return (
            f"The chart was bowed by about {rise:.1f} mm, which is reckoned with: fix it to a flat "
            "board and photograph it again for a surer lens."
        )

    def as_dict(self) -> dict[str, Any]:
        """For a report in JSON; a photograph that was set aside has null."""
        return {
            "focal_px": self.lens.focal_px[0],
            "focal_sd_px": self.lens.focal_sd_px,
            "focal_90_px": [
                self.lens.focal_px[0] + side * self.lens.focal_off_90_px
                for side in (-1.0, 0.0, 1.0)
            ],
            "chart_bowed": self.bowed,
            "chart_rise_mm": self.rise_mm,
            "chart_rise_sd_mm": self.rise_sd_mm,
            "distortion": list(self.lens.distortion),
            "rms_px": self.rms_px,
            "per_photograph_px": [None if np.isnan(v) else v for v in self.per_photograph_px],
            "tilts_deg": [None if np.isnan(v) else v for v in self.tilts_deg],
        }


def calibrate_lens(  # long: a third is its docstring
    images: Iterable[NDArray[np.uint8]],
    layout: StripLayout | None = None,
    *,
    focal_35mm: float | None = None,
) -> LensCalibration:
    """Measure a lens.

    Parameters
    ----------
    images
        Photographs of the chart lying flat, HxWx3 uint8 sRGB, all of one size and at one focal
        length and focus; some square on, most askew by 20 to 40 degrees to different sides. Each
        is looked at once, so they may come one by one.
    layout
        Layout of the chart; that of the printed one when left out.
    focal_35mm
        Focal length for 35 mm film from Exif, for a start.

    Raises
    ------
    LensError
        If the photographs differ in size, too few show enough of the chart, or they are too much
        alike to tell focal length from distance.
    """
    chart = layout or strip_sheet("chart").layout
    sizes: set[tuple[int, ...]] = set()
    sightings = []
    for image in images:
        sizes.add(image.shape[:2])
        if len(sizes) > 1:
            raise LensError(
                "The photographs of the chart are of different sizes: take all with one camera, "
                "held the same way round."
            )
        sightings.append(_sighting(image, chart))
    if not sightings:
        raise LensError("No photograph of the chart was given.")
    height, width = sizes.pop()
    usable = [n for n, s in enumerate(sightings) if s is not None]
    if len(usable) < LEAST_PHOTOGRAPHS:
        raise LensError(
            f"{len(usable)} of {len(sightings)} photographs show {LEAST_MARKERS} markers of the "
            f"chart or more; {LEAST_PHOTOGRAPHS} are needed: fill the frame with it, sharp and "
            "without glare."
        )
    objects, corners = _points(chart, [s for s in sightings if s is not None])
    start = guessed_lens(width, height, focal_35mm)
    flags = cv2.CALIB_USE_INTRINSIC_GUESS | cv2.CALIB_FIX_ASPECT_RATIO | cv2.CALIB_FIX_K3
    _, matrix, distortion, turns, moves = cv2.calibrateCamera(
        objects, corners, (width, height), start.matrix, np.zeros(5), flags=flags
    )
    found = adjusted(
        [np.asarray(one[:, :2], np.float64) for one in objects],
        [np.asarray(one, np.float64) for one in corners],
        np.array([matrix[0, 0], matrix[0, 2], matrix[1, 2], *np.ravel(distortion)[:4]]),
        np.array(
            [np.concatenate([np.ravel(a), np.ravel(b)]) for a, b in zip(turns, moves, strict=True)]
        ),
    )
    focal, cx, cy, k1, k2, p1, p2 = (float(one) for one in found.shared[:7])
    sd = found.focal_sd_px
    _refuse_weak(focal, sd, found.turns, found.rms_px)
    lens = Lens((focal, focal), (cx, cy), (k1, k2, p1, p2, 0.0), (width, height), sd)
    each = np.full(len(sightings), np.nan)
    tilts = np.full(len(sightings), np.nan)
    each[usable] = found.per_photograph_px
    for n, turn in zip(usable, found.turns, strict=True):
        rotation = np.asarray(cv2.Rodrigues(turn)[0])
        tilts[n] = np.degrees(np.arccos(np.clip(abs(float(rotation[2, 2])), 0.0, 1.0)))
    return LensCalibration(
        lens,
        found.rms_px,
        tuple(float(v) for v in each),
        tuple(float(v) for v in tilts),
        found.rise_mm,
        found.rise_sd_mm,
    )


def _points(
    chart: StripLayout, sightings: Sequence[StripSighting]
) -> tuple[list[NDArray[np.float32]], list[NDArray[np.float32]]]:
    """The markers' corners on the chart (mm, z = 0) and in each photograph (px)."""
    objects, corners = [], []
    for seen in sightings:
        flat = chart.corners_mm[seen.indices].reshape(-1, 2)
        objects.append(np.column_stack([flat, np.zeros(len(flat))]).astype(np.float32))
        corners.append(seen.corners_px.reshape(-1, 2).astype(np.float32))
    return objects, corners


def _refuse_weak(focal: float, sd: float, turns: NDArray[np.float64], rms: float) -> None:
    """Raise LensError when what was measured is of no use, saying what to photograph instead."""
    ways = np.array([np.asarray(cv2.Rodrigues(turn)[0])[:, 2] for turn in turns])
    apart = np.degrees(np.arccos(np.clip(ways @ ways.T, -1.0, 1.0)))
    if int((apart.max(axis=0) > LEAST_APART_DEG).sum()) < 3:
        raise LensError(
            "The photographs look at the chart from nearly one side: tilt it by 20 to 40 degrees, "
            "each time to another side."
        )
    if not np.isfinite(sd) or sd > WORST_FOCAL * focal:
        to = f"{100 * sd / focal:.0f} %" if np.isfinite(sd) and focal > 0 else "no figure at all"
        raise LensError(
            f"The focal length is only known to {to}: photograph the chart from more sides, "
            "tilted by 20 to 40 degrees."
        )
    if rms > WORST_RMS_PX:
        raise LensError(
            f"The chart's corners lie {rms:.1f} px from where any one lens would put them: is the "
            "chart flat, and were zoom and focus left alone?"
        )


def _sighting(image: NDArray[np.uint8], chart: StripLayout) -> StripSighting | None:
    try:
        seen = find_strip(image, chart, least=LEAST_MARKERS)
    except StripNotFoundError:
        return None
    grey = cv2.cvtColor(image, cv2.COLOR_RGB2GRAY)
    corners = seen.corners_px.reshape(-1, 1, 2).astype(np.float32)
    sides = np.linalg.norm(seen.corners_px - np.roll(seen.corners_px, 1, axis=1), axis=2)
    reach = int(np.clip(np.median(sides) / 14.0, 2, 12))
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 60, 1e-3)
    fine = cv2.cornerSubPix(grey, corners, (reach, reach), (-1, -1), stop)
    return replace(seen, corners_px=np.asarray(fine, np.float64).reshape(-1, 4, 2))
