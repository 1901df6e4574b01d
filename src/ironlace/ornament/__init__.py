"""Ornament: photograph -> flat -> gathered evidence -> drawing.

>>> from ironlace.ornament import trace_photographs
>>> from ironlace.photographs import strip_sheet
>>> layout = strip_sheet("frame").layout
"""

from ironlace.ornament.by_hand.made_again import brought_back, reworked
from ironlace.ornament.by_hand.orders import carry_out
from ironlace.ornament.by_hand.workpiece import DrawnChange, Evidence, Workpiece
from ironlace.ornament.errors import DrawingError, GiltError, OrnamentError, ReworkError
from ironlace.ornament.files.drawing_svg import drawing_from_svg, drawing_svg
from ironlace.ornament.gather.gap_bridges import GapBridge, healed, propose_bridges, with_bridges
from ironlace.ornament.gather.gathered import Gathered, gather
from ironlace.ornament.gather.graded_outline import graded
from ironlace.ornament.gather.laying_over import Laying, find_mirror, lay_over
from ironlace.ornament.gather.repeats import Repeat, find_repeat
from ironlace.ornament.gilt.gilt_map import GiltMap, Touch, find_gilt
from ironlace.ornament.outline.agreement import Agreement, compare, same_drawing
from ironlace.ornament.outline.contours import Outlines, contours
from ironlace.ornament.outline.crossings import crossings
from ironlace.ornament.outline.curve_fitting import fit_rings
from ironlace.ornament.outline.drawing import ClosedPath, Drawing
from ironlace.ornament.outline.regrade import regrade
from ironlace.ornament.outline.trace import trace
from ironlace.ornament.outline.uncrossing import uncrossed
from ironlace.ornament.trace_analysis import TRACE
from ironlace.ornament.trace_asked import OtherPhotograph, TraceAsked
from ironlace.ornament.trace_photographs import PhotographsToTrace, Traced, trace_photographs
from ironlace.ornament.trace_stages import PhotographToTrace

ANALYSES = (TRACE,)

__all__ = [
    "ANALYSES",
    "TRACE",
    "Agreement",
    "ClosedPath",
    "Drawing",
    "DrawingError",
    "DrawnChange",
    "Evidence",
    "GapBridge",
    "Gathered",
    "GiltError",
    "GiltMap",
    "Laying",
    "OrnamentError",
    "OtherPhotograph",
    "Outlines",
    "PhotographToTrace",
    "PhotographsToTrace",
    "Repeat",
    "ReworkError",
    "Touch",
    "TraceAsked",
    "Traced",
    "Workpiece",
    "brought_back",
    "carry_out",
    "compare",
    "contours",
    "crossings",
    "drawing_from_svg",
    "drawing_svg",
    "find_gilt",
    "find_mirror",
    "find_repeat",
    "fit_rings",
    "gather",
    "graded",
    "healed",
    "lay_over",
    "propose_bridges",
    "regrade",
    "reworked",
    "same_drawing",
    "trace",
    "trace_photographs",
    "uncrossed",
    "with_bridges",
]
