"""What is struck in the metal: relief from photographs under a moved light, digits, dots, pits.

One convention throughout: places in pixels are x right and y down, pixel centres at integers and
the first pixel's centre at (0, 0); places in millimetres are X right, Y up, Z towards the camera,
with the origin at the picture's centre on the plate. Normals are in that second frame.
"""

from ironlace.evidence.analyses import Declared
from ironlace.marks.errors import MarksError
from ironlace.marks.plate_analysis import PLATE_RELIEF
from ironlace.marks.reading_analysis import MARK_READING

ANALYSES: tuple[Declared, ...] = (PLATE_RELIEF, MARK_READING)
"""In the order in which they are asked."""

__all__ = ["ANALYSES", "MARK_READING", "PLATE_RELIEF", "MarksError"]
