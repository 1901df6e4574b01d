"""Photographs made measurable: lens, camera, linear light, surfaces, the scale strip, laying flat.

Below the study rooms, which may not import each other: ornament, marks, running and stand all
measure from photographs.
"""

from ironlace.photographs.errors import (
    LayoutError,
    LensError,
    PhotographsError,
    StripNotFoundError,
    SurfaceError,
)
from ironlace.photographs.flat_picture import Flat
from ironlace.photographs.flattening import flatten
from ironlace.photographs.lens import Lens, guessed_lens
from ironlace.photographs.photographs_joined import joined
from ironlace.photographs.place_by_strip import Placing, place_surface, place_uncertainty_mm
from ironlace.photographs.scale_strip import (
    StripLayout,
    StripMarker,
    StripSheet,
    strip_sheet,
    strip_svg,
)
from ironlace.photographs.strip_finding import StripSighting, find_strip
from ironlace.photographs.surfaces import Plane, Round, Surface, SurfaceKind

__all__ = [
    "Flat",
    "LayoutError",
    "Lens",
    "LensError",
    "PhotographsError",
    "Placing",
    "Plane",
    "Round",
    "StripLayout",
    "StripMarker",
    "StripNotFoundError",
    "StripSheet",
    "StripSighting",
    "Surface",
    "SurfaceError",
    "SurfaceKind",
    "find_strip",
    "flatten",
    "guessed_lens",
    "joined",
    "place_surface",
    "place_uncertainty_mm",
    "strip_sheet",
    "strip_svg",
]
