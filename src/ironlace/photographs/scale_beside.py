"""What else in a picture tells the scale: a second strip, or places measured by hand.

A strip that came out too small makes all that is measured by it too large, and nothing in the
photograph shows that. Anything else of known size that lies in the picture does.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Bounds, Floats
from ironlace.photographs.back_projection import surface_places
from ironlace.photographs.errors import SurfaceError
from ironlace.photographs.flattening import seen_bounds
from ironlace.photographs.place_by_strip import Placing
from ironlace.photographs.scale_strip import PIECE_WORDS, StripLayout, strip_sheet
from ironlace.photographs.strip_finding import LEAST_OF_A_PIECE, read_markers

MARKER_SD_MM: Final = 0.15
"""How far a marker's corner, read coarsely on paper that lies beside the work, may be off: one
standard deviation. A judgement."""
BY_HAND_SD_MM: Final = 0.5
"""The same of a place pointed at and measured with a rule, as the manual tells of such places."""
BY_HAND: Final = "what was measured by hand"
"""What places measured on the work are called; unlike a second print they are a size by itself."""
SURE: Final = 3.0
"""Standard deviations from which two scales contradict each other."""
LEAST_TOLD: Final = 0.003
"""Share below which nothing is said: paper swells by as much (common practice, no source)."""


@dataclass(frozen=True)
class ScaleBeside:
    """The strip's scale held against another known size.

    Attributes
    ----------
    what
        What it was held against.
    times
        How many times too large the other comes out by the strip.
    sd
        Standard deviation of that.
    """

    what: str
    times: float
    sd: float

    @property
    def contradicts(self) -> bool:
        """Whether the two cannot both be true."""
        return abs(self.times - 1.0) > max(SURE * self.sd, LEAST_TOLD)


def second_strip(
    image: NDArray[np.uint8], layout: StripLayout, placing: Placing
) -> ScaleBeside | None:
    """Another of the ready-made strips that lies in the picture too; None if none does.

    Parameters
    ----------
    image
        Photograph, HxWx3 uint8 sRGB.
    layout
        The strip that the photograph was placed by.
    placing
        Where the photograph lies.
    """
    seen = seen_bounds(placing, layout, image.shape)
    known = {(m.dictionary, m.id) for m in layout.markers}
    found = {key: ring for key, ring in read_markers(image).items() if key not in known}
    for piece in PIECE_WORDS:
        other = strip_sheet(piece).layout.by_key
        both = [key for key in found if key in other]
        if len(both) < LEAST_OF_A_PIECE:
            continue
        px = np.concatenate([found[key] for key in both])
        drawn = np.concatenate([np.asarray(other[key].corners_mm) for key in both])
        return _held_against(f"the {piece}, a second strip", placing, px, drawn, seen, MARKER_SD_MM)
    return None


def measured_beside(
    image: NDArray[np.uint8],
    layout: StripLayout,
    placing: Placing,
    places: Sequence[tuple[float, float, float, float]],
) -> ScaleBeside | None:
    """Places pointed at (x, y in px) and measured by hand (x, y in mm); None of fewer than two."""
    if len(places) < 2:
        return None
    both = np.array(places, np.float64)
    return _held_against(
        BY_HAND,
        placing,
        both[:, :2],
        both[:, 2:],
        seen_bounds(placing, layout, image.shape),
        BY_HAND_SD_MM,
    )


def _held_against(
    what: str, placing: Placing, px: Floats, known_mm: Floats, seen_mm: Bounds, sd_mm: float
) -> ScaleBeside | None:
    """How many times larger places lie apart by a placing than they are known to."""
    try:
        by_strip = surface_places(placing, px, seen_mm)
    except SurfaceError:  # it lies beside the surface, and says nothing of sizes on it
        return None
    a, b = by_strip - by_strip.mean(axis=0), known_mm - known_mm.mean(axis=0)
    size = math.sqrt(float((b**2).sum()))
    if size < 1.0:
        return None
    # whatever way they are turned: the best scale of a similarity (Umeyama 1991)
    times = float(np.linalg.svd(b.T @ a, compute_uv=False).sum()) / size**2
    return ScaleBeside(what, times, sd_mm / size)
