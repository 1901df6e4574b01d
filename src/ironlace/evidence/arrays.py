"""Short names for the arrays that pass between rooms."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
"""Measures, places, probabilities; the docstring that takes them says shape and unit."""

Ints = NDArray[np.int64]
"""Counts and places in another array."""

Bools = NDArray[np.bool_]
"""A mask."""

Bounds = tuple[float, float, float, float]
"""Left, top, right, bottom, mm; y runs down as on a page."""
