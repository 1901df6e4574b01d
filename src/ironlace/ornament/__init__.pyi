from .by_hand.made_again import brought_back, reworked
from .by_hand.orders import carry_out
from .by_hand.workpiece import DrawnChange, Evidence, Workpiece
from .declared import ANALYSES
from .errors import DrawingError, GiltError, OrnamentError, ReworkError
from .files.drawing_svg import drawing_from_svg, drawing_svg
from .gather.gap_bridges import GapBridge, healed, propose_bridges, with_bridges
from .gather.gathered import Gathered, gather
from .gather.graded_outline import graded
from .gather.laying_over import Laying, find_mirror, lay_over
from .gather.repeats import Repeat, find_repeat
from .gilt.gilt_map import GiltMap, Touch, find_gilt
from .outline.agreement import Agreement, compare, same_drawing
from .outline.contours import Outlines, contours
from .outline.crossings import crossings
from .outline.curve_fitting import fit_rings
from .outline.drawing import ClosedPath, Drawing
from .outline.regrade import regrade
from .outline.trace import trace
from .outline.uncrossing import uncrossed
from .trace_analysis import TRACE, traced_svg
from .trace_asked import OtherPhotograph, TraceAsked
from .trace_photographs import PhotographsToTrace, Traced, trace_photographs
from .trace_stages import PhotographToTrace

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
    "traced_svg",
    "uncrossed",
    "with_bridges",
]
