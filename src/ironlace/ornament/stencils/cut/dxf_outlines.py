"""Long outlines for DXF, written whole: tag by tag, a large sheet takes ten times as long.

Imported only where a DXF is written, since the library is slow to load.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from ezdxf.entities.lwpolyline import LWPolylinePoints
from numpy.typing import NDArray


class _Whole:
    """All corners as one piece of a DXF file."""

    def __init__(self, xy: NDArray[np.float64]) -> None:
        self.xy = xy

    def dxfstr(self) -> str:
        """The tags 10 and 20 of every corner, to a millionth of a mm."""
        # all digits take four times as long, and twice the file
        return " 10\n%.6f\n 20\n%.6f\n" * len(self.xy) % tuple(self.xy.ravel().tolist())


class OutlinePoints(LWPolylinePoints):
    """Corners of straight outlines of no width, x and y of shape (n, 2)."""

    __slots__ = ()

    @classmethod
    def of(cls, xy: NDArray[np.float64]) -> OutlinePoints:
        """Take over corners."""
        points = cls()
        # filled by hand: numpy's own way of padding takes ten times as long for a short outline
        points.values = np.zeros((len(xy), 5))
        points.values[:, :2] = xy
        return points

    def dxftags(self) -> Iterator[Any]:
        """Everything as one tag, as the library would write it tag by tag but for the digits."""
        yield _Whole(np.asarray(self.values, np.float64)[:, :2])
