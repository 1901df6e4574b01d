"""The questions that this room answers, in the order in which they are asked."""

from ironlace.evidence.analyses import Declared
from ironlace.ornament.trace_analysis import TRACE

ANALYSES: tuple[Declared, ...] = (TRACE,)
