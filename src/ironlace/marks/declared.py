"""The questions that this room answers, in the order in which they are asked."""

from ironlace.evidence.analyses import Declared
from ironlace.marks.plate_analysis import PLATE_RELIEF
from ironlace.marks.reading_analysis import MARK_READING

ANALYSES: tuple[Declared, ...] = (PLATE_RELIEF, MARK_READING)
"""In the order in which they are asked."""
