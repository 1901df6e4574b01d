"""The questions that this room answers, in the order in which they are asked."""

from ironlace.evidence.analyses import Declared
from ironlace.ornament.stencils.sheets_analysis import SHEETS

ANALYSES: tuple[Declared, ...] = (SHEETS,)
