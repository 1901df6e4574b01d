"""Whether a picture was stored in blocks so roughly that marks are drawn to their edges.

A picture squeezed by the cosine transform of 8 by 8 pixels (ISO/IEC 10918-1, 1994) changes more
from one block to the next than within one, the more so the rougher it was squeezed (Z. Wang, A.
Bovik and B. Evans, 2000). Where stitches come after nearly a whole number of blocks, the holes'
mean look learns the blocks' edges with the holes.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

BLOCK_PX: Final = 8
"""Side of a block (ISO/IEC 10918-1, A.3.1)."""
ROUGH: Final = 1.5
"""From here on blocks count as roughly stored. Sixteen seams never squeezed came to 1.02 at most;
of 600 dots to the inch, in focus, at a quality of 90 to 1.1 to 2.0, of 75 to 1.3 to 5, of 50 to 1.6
at least; what is out of focus comes to more. A judgement."""


def blocks_px(image: NDArray[np.uint8]) -> int:
    """Side of the blocks in which a picture was roughly stored, px; 0 where none are seen."""
    return BLOCK_PX if roughness(image) > ROUGH else 0


def roughness(image: NDArray[np.uint8]) -> float:
    """How much more a picture changes at the edges of blocks than beside them.

    Parameters
    ----------
    image
        sRGB, shape (height, width, 3).

    Returns
    -------
    Change between the lines on either side of an edge over that between its neighbours, a median
    over the edges; of the two directions the lesser, since cloth has a beat of its own in one or
    the other. 1 where there are no blocks.
    """
    green = image[..., 1].astype(np.int16)
    return min(_along(green), _along(green.T))


def _along(values: NDArray[np.int16]) -> float:
    steps = np.abs(np.diff(values, axis=0)).mean(axis=1)
    beside = 0.5 * (steps[:-2] + steps[2:])
    share = steps[1:-1] / np.maximum(beside, 1e-6)
    if len(share) < 4 * BLOCK_PX:
        return 1.0
    return max(float(np.median(share[at::BLOCK_PX])) for at in range(BLOCK_PX))
