"""Finding the scale strip's markers in a photograph.

Reading the numbers is done by OpenCV on a reduced picture; the exact place of each marker comes
later, from its edges in linear light at full resolution (`edge_offsets`), because the corners a
detector gives on gamma-encoded pixels are off by half a pixel.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.photographs.errors import StripNotFoundError
from ironlace.photographs.linear_light import LUMINANCE, to_linear
from ironlace.photographs.scale_strip import (
    PIECE_WORDS,
    STRIP_DICTIONARY,
    LaidPiece,
    StripLayout,
    marker_dictionary,
    strip_sheet,
)

READING_SIDES = (1600, 3200, 100000)
"""Longest side in pixels of the pictures in which markers are looked for, in turn."""
LEAST_OF_A_PIECE: Final = 3
"""Markers of a piece that say it lies in the picture: one or two may be misread (judged)."""
TURNED_OVER: Final = (
    "they can be read with left and right exchanged: it was taken by a front camera, in a mirror "
    "or through the film's back, and so would be the ornament: turn the photograph over and trace "
    "that."
)
"""Said of a picture whose markers are mirror images."""
IN_NEGATIVE: Final = (
    "they can be read with light and dark exchanged: it is a negative; make a positive of it and "
    "trace that."
)
"""Said of a picture whose markers are white for black."""
STEP_AREA: Final = math.sqrt(2.0 / math.pi)
"""Area between a step and the same step under a normal blur of standard deviation one."""


@dataclass(frozen=True)
class StripSighting:
    """Markers of a layout read in one photograph.

    Attributes
    ----------
    indices
        Which markers of the layout, shape (n,).
    corners_px
        Their corners in the photograph, shape (n, 4, 2), good to about a pixel.
    image_size
        Width and height of the photograph.
    """

    indices: NDArray[np.int64]
    corners_px: NDArray[np.float64]
    image_size: tuple[int, int]

    def to_arrays(self) -> dict[str, NDArray[Any]]:
        """Everything as named arrays, for a checkpoint."""
        return {
            "indices": self.indices,
            "corners_px": self.corners_px,
            "image_size": np.array(self.image_size),
        }

    @classmethod
    def from_arrays(cls, arrays: Mapping[str, NDArray[Any]]) -> StripSighting:
        """The inverse of `to_arrays`."""
        width, height = (int(v) for v in arrays["image_size"])
        return cls(
            np.asarray(arrays["indices"], np.int64),
            np.asarray(arrays["corners_px"], np.float64),
            (width, height),
        )


def find_strip(image: NDArray[np.uint8], layout: StripLayout, *, least: int = 2) -> StripSighting:
    """Read every marker of ``layout`` that can be read in ``image`` (HxWx3, sRGB).

    Raises
    ------
    StripNotFoundError
        If fewer than ``least`` markers are read.
    """
    height, width = image.shape[:2]
    order = {key: n for n, key in enumerate(layout.by_key)}
    found: dict[int, NDArray[np.float64]] = {}
    enough = max(least, len(order))
    for small, scale in _looks(image):
        sx, sy = width / small.shape[1], height / small.shape[0]
        for name in layout.dictionaries:
            for number, corners in _read(small, name):
                index = order.get((name, number))
                if index is not None and index not in found:
                    found[index] = (corners + 0.5) * (sx, sy) - 0.5
        # a second, finer look is for strips that are small in the picture, not for hidden markers
        if len(found) >= min(enough, 8) or scale == 1.0:
            break
    found = _consistent(found, layout)
    if len(found) < least:
        raise StripNotFoundError(_not_found(image, len(found), len(order), least))
    indices = np.array(sorted(found), dtype=np.int64)
    return StripSighting(indices, np.array([found[i] for i in indices]), (width, height))


def _looks(image: NDArray[np.uint8]) -> Iterator[tuple[NDArray[np.uint8], float]]:
    """An image (HxWx3, sRGB) in grey at each reading side, coarse to fine, with its scale."""
    grey = np.asarray(cv2.cvtColor(image, cv2.COLOR_RGB2GRAY), np.uint8)
    for side in READING_SIDES:
        scale = min(1.0, side / max(grey.shape))
        if scale == 1.0:
            yield grey, scale
        else:
            small = cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
            yield np.asarray(small, np.uint8), scale


def read_markers(image: NDArray[np.uint8]) -> dict[tuple[str, int], NDArray[np.float64]]:
    """Markers of the ready-made pieces read in ``image`` (HxWx3, sRGB), by dictionary and number.

    One look at a reduced picture; corners, shape (4, 2), are good to a pixel or two of it.
    """
    small, _ = next(_looks(image))
    sx, sy = image.shape[1] / small.shape[1], image.shape[0] / small.shape[0]
    return {
        (STRIP_DICTIONARY, number): (corners + 0.5) * (sx, sy) - 0.5
        for number, corners in _read(small, STRIP_DICTIONARY)
    }


def piece_in(image: NDArray[np.uint8]) -> LaidPiece | None:
    """Which piece lies in ``image`` (HxWx3, sRGB), by its markers' numbers; None if none does.

    No number is used on two pieces, so that the numbers tell by themselves.
    """
    pieces = {piece: {m.id for m in strip_sheet(piece).layout.markers} for piece in PIECE_WORDS}
    for small, scale in _looks(image):
        numbers = {number for number, _ in _read(small, STRIP_DICTIONARY)}
        counts = {piece: len(numbers & own) for piece, own in pieces.items()}
        best = max(counts, key=lambda piece: counts[piece])
        if counts[best] >= LEAST_OF_A_PIECE:
            return best
        if scale == 1.0:
            break
    return None


def _not_found(image: NDArray[np.uint8], found: int, of: int, least: int) -> str:
    height, width = image.shape[:2]
    first = (
        f"{found} of the strip's {of} markers were read in this {width} x {height} photograph and "
        f"at least {least} are needed"
    )
    other = piece_in(image)
    if other is not None and found < LEAST_OF_A_PIECE:
        return f"{first}; the markers of the {other} lie in it: choose '{other}', or its layout."
    if found < LEAST_OF_A_PIECE:
        for changed, told in ((image[:, ::-1], TURNED_OVER), (255 - image, IN_NEGATIVE)):
            if piece_in(np.ascontiguousarray(changed)) is not None:
                return f"{first}; {told}"
    return (
        f"{first}; keep the whole strip in view, sharp and out of the glare, and check that it is "
        "the strip that was chosen."
    )


def _read(grey: NDArray[Any], dictionary: str) -> list[tuple[int, NDArray[np.float64]]]:
    parameters = cv2.aruco.DetectorParameters()
    parameters.adaptiveThreshWinSizeMin = 5
    parameters.adaptiveThreshWinSizeMax = 53
    parameters.adaptiveThreshWinSizeStep = 16
    parameters.minMarkerPerimeterRate = 0.015
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    detector = cv2.aruco.ArucoDetector(marker_dictionary(dictionary), parameters)
    corners, ids, _ = detector.detectMarkers(grey)
    if ids is None:
        return []
    return [
        (int(i), np.asarray(c, dtype=np.float64).reshape(4, 2))
        for i, c in zip(np.ravel(ids), corners, strict=True)
    ]


def _consistent(
    found: dict[int, NDArray[np.float64]], layout: StripLayout
) -> dict[int, NDArray[np.float64]]:
    """Leave out misread markers: those whose size is far from what their neighbours say."""
    if len(found) < 4:
        return found
    keys = list(found)
    sides = np.array([layout.markers[k].side_mm for k in keys])
    scale = np.array([_perimeter(found[k]) / 4.0 for k in keys]) / sides
    middle = float(np.median(scale))
    return {
        k: found[k] for k, s in zip(keys, scale, strict=True) if middle / 4.0 < s < middle * 4.0
    }


def _perimeter(ring: NDArray[np.float64]) -> float:
    return float(np.linalg.norm(ring - np.roll(ring, -1, axis=0), axis=1).sum())


@dataclass(frozen=True)
class EdgeProfiles:
    """Where measured edges lie relative to where they were expected, along given directions.

    Attributes
    ----------
    offset_px
        Signed distance along the outward direction, shape (n,), NaN where no clean edge is seen.
    paper
        Linear RGB of the paper just outside each edge, shape (n, 3), NaN likewise.
    blur_px
        Standard deviation of the blur across each edge, shape (n,), NaN likewise.
    """

    offset_px: NDArray[np.float64]
    paper: NDArray[np.float32]
    blur_px: NDArray[np.float64]


def edge_offsets(  # long: half is docstring, the rest one formula a line
    image: NDArray[np.uint8],
    points_px: NDArray[np.float64],
    outward: NDArray[np.float64],
    reach_px: NDArray[np.float64],
    group: NDArray[np.int64],
) -> EdgeProfiles:
    """Measure black-to-white edges across given points in linear light.

    The edge is placed so that the light under the profile equals that of a sharp step: with a
    symmetric blur this is unbiased whatever the blur's width (area-based location, after Tabatabai
    and Mitchell 1984, "Edge location to subpixel values in digital imagery").

    Parameters
    ----------
    image
        Photograph, HxWx3 uint8 sRGB.
    points_px
        Expected places of the edge, shape (n, 2).
    outward
        Unit vectors from black to white, shape (n, 2).
    reach_px
        How far to look to either side, shape (n,).
    group
        Points of one marker share a number, shape (n,); each group is read from one small crop.
    """
    n = len(points_px)
    offset, blur = np.full(n, np.nan), np.full(n, np.nan)
    paper = np.full((n, 3), np.nan, dtype=np.float32)
    height, width = image.shape[:2]
    grid = np.linspace(-1.0, 1.0, 41)
    for number in np.unique(group):
        rows = np.flatnonzero(group == number)
        reach = float(reach_px[rows].max())
        margin = reach + 3.0
        low = np.floor(points_px[rows].min(axis=0) - margin).astype(int)
        high = np.ceil(points_px[rows].max(axis=0) + margin).astype(int) + 1
        x0, y0 = np.maximum(low, 0)
        x1, y1 = np.minimum(high, (width, height))
        if x1 - x0 < 4 or y1 - y0 < 4:
            continue
        crop = to_linear(image[y0:y1, x0:x1])
        at = points_px[rows, None, :] + outward[rows, None, :] * (
            grid[None, :, None] * reach_px[rows, None, None]
        )
        inside = np.all((at >= 1.0) & (at <= (width - 2.0, height - 2.0)), axis=(1, 2))
        local = (at - (x0, y0)).astype(np.float32)
        colour = cv2.remap(
            crop, local[..., 0], local[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
        light = colour @ LUMINANCE
        black = np.median(light[:, :10], axis=1)
        white = np.median(light[:, -10:], axis=1)
        contrast = white - black
        step = (light - black[:, None]) / np.maximum(contrast, 1e-6)[:, None]
        filled = np.trapezoid(np.clip(step, -0.3, 1.3), grid, axis=1)
        edge = 1.0 - filled
        # a profile that is no single step (glare, a neighbour's edge) misfits a sharp step
        apart = np.abs(step - (grid[None, :] > edge[:, None]))
        misfit = apart.mean(axis=1)
        good = (
            inside
            & (contrast > 0.02)
            & (contrast > 0.4 * np.median(contrast))
            & (white < 0.985)
            & (np.abs(edge) < 0.7)
            & (misfit < 0.16)
        )
        offset[rows[good]] = edge[good] * reach_px[rows[good]]
        paper[rows[good]] = np.median(colour[good, -10:], axis=1)
        # between a sharp step and the same step blurred lies 0.798 of the blur's standard deviation
        area = np.trapezoid(np.where(apart < 0.03, 0.0, apart), grid, axis=1)
        blur[rows[good]] = area[good] * reach_px[rows[good]] / STEP_AREA
    return EdgeProfiles(offset, paper, blur)
