"""Ornament: photograph -> flat -> gathered evidence -> drawing.

>>> from ironlace.ornament import strip_sheet, trace_photographs
>>> layout = strip_sheet("frame").layout
"""

from ironlace.ornament.aligning import Laying, find_mirror, lay_over
from ironlace.ornament.bridging import Bridge, healed, propose_bridges, with_bridges
from ironlace.ornament.contouring import Outlines, contours
from ironlace.ornament.crossings import crossings, uncrossed
from ironlace.ornament.drawing import ClosedPath, Drawing
from ironlace.ornament.drawing_svg import drawing_from_svg, drawing_svg
from ironlace.ornament.errors import (
    DrawingError,
    GiltError,
    LayoutError,
    LensError,
    OrnamentError,
    ReworkError,
    StripNotFoundError,
    SurfaceError,
)
from ironlace.ornament.flat import Flat
from ironlace.ornament.flattening import flatten
from ironlace.ornament.gathering import Gathered, gather
from ironlace.ornament.gilt import GiltMap, Touch, find_gilt
from ironlace.ornament.joining import joined
from ironlace.ornament.lens import Lens, guessed_lens
from ironlace.ornament.photograph_to_drawing import (
    Measured,
    Traced,
    trace_photographs,
    trace_scan,
)
from ironlace.ornament.placing import Placing, place_surface, place_uncertainty_mm
from ironlace.ornament.proof import Agreement, compare
from ironlace.ornament.regrading import regrade
from ironlace.ornament.repeating import Repeat, find_repeat
from ironlace.ornament.rework_orders import carry_out
from ironlace.ornament.scale_strip import (
    StripLayout,
    StripMarker,
    StripSheet,
    strip_sheet,
    strip_svg,
)
from ironlace.ornament.strip_finding import StripSighting, find_strip
from ironlace.ornament.surfaces import Plane, Round, Surface, SurfaceKind
from ironlace.ornament.tracing import fit_rings, trace
from ironlace.ornament.workpiece import Change, Evidence, Workpiece

__all__ = [
    "Agreement",
    "Bridge",
    "Change",
    "ClosedPath",
    "Drawing",
    "DrawingError",
    "Evidence",
    "Flat",
    "Gathered",
    "GiltError",
    "GiltMap",
    "Laying",
    "LayoutError",
    "Lens",
    "LensError",
    "Measured",
    "OrnamentError",
    "Outlines",
    "Placing",
    "Plane",
    "Repeat",
    "ReworkError",
    "Round",
    "StripLayout",
    "StripMarker",
    "StripNotFoundError",
    "StripSheet",
    "StripSighting",
    "Surface",
    "SurfaceError",
    "SurfaceKind",
    "Touch",
    "Traced",
    "Workpiece",
    "carry_out",
    "compare",
    "contours",
    "crossings",
    "drawing_from_svg",
    "drawing_svg",
    "find_gilt",
    "find_mirror",
    "find_repeat",
    "find_strip",
    "fit_rings",
    "flatten",
    "gather",
    "guessed_lens",
    "healed",
    "joined",
    "lay_over",
    "place_surface",
    "place_uncertainty_mm",
    "propose_bridges",
    "regrade",
    "strip_sheet",
    "strip_svg",
    "trace",
    "trace_photographs",
    "trace_scan",
    "uncrossed",
    "with_bridges",
]
