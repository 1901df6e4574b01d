"""Between pixels of the first photograph and millimetres on the plate."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class PlateFrame:
    """Where millimetres lie: X right, Y up, Z to the camera, origin in the picture's middle.

    Attributes
    ----------
    shape
        Rows and columns of the first photograph.
    mm_per_px
        1 where no scale is known: millimetres are pixels then.
    scale_known
        Whether it is one.
    """

    shape: tuple[int, int]
    mm_per_px: float = 1.0
    scale_known: bool = False

    def to_mm(self, x: float, y: float) -> tuple[float, float]:
        """Millimetres of a place in pixels.

        >>> PlateFrame((3, 5), 0.5, True).to_mm(4.0, 0.0)
        (1.0, 0.5)
        """
        return (
            (x - (self.shape[1] - 1) / 2) * self.mm_per_px,
            ((self.shape[0] - 1) / 2 - y) * self.mm_per_px,
        )

    def columns_mm(self) -> NDArray[np.float32]:
        """X of each column."""
        x = (np.arange(self.shape[1]) - (self.shape[1] - 1) / 2) * self.mm_per_px
        return x.astype(np.float32)

    def rows_mm(self) -> NDArray[np.float32]:
        """Y of each row."""
        y = ((self.shape[0] - 1) / 2 - np.arange(self.shape[0])) * self.mm_per_px
        return y.astype(np.float32)
