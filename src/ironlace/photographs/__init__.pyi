from .errors import LayoutError, LensError, PhotographsError, StripNotFoundError, SurfaceError
from .flat_picture import Flat
from .flattening import flatten
from .lens import GivenLens, Lens, guessed_lens
from .photographs_joined import joined
from .place_by_strip import Placing, place_surface, place_uncertainty_mm
from .scale_strip import StripLayout, StripMarker, StripSheet, strip_sheet, strip_svg
from .strip_finding import StripSighting, find_strip
from .surfaces import Plane, Round, Surface, SurfaceKind

__all__ = [
    "Flat",
    "GivenLens",
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
