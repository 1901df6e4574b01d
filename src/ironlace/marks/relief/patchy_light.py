"""Whether the torch's light lies evenly on the plate, or in patches and bands that are not its own.

A hand's shadow lies over part of a plate in a few photographs; a lamp that flickers with the mains
lies in bands over all that a telephone takes line by line. Both pass for slopes: broad ones,
degrees wrong, that no other witness contradicts. What the fitted beams leave of a coarse grid's
light tells them: of paint it leaves the same in every photograph, of slopes what goes as the
torch's direction.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

SHADED = 0.25
"""Spread of the logarithm of light from which a photograph is left out, if the others are even. Of
made plates, flat, filed and developed by a telephone, it is 0.01 to 0.1; in a hand's shadow 0.7 to
1; of one bent to 45 mm all photographs have 0.03 to 0.35."""
BEYOND = 4.0
"""Times the middle photograph's spread that it must be as well: a bent plate's are all alike."""
BANDED = 0.1
"""The same spread of the middle photograph, slopes taken out and light averaged, from which it is
said of all: 0.02 to 0.07 of thirteen made plates (filed, bent, glossy, in a lamp's light, developed
by telephones), 0.14 under bands a quarter brighter and darker."""
MOST = 0.7
"""Logarithm of light that counts at most: a ball's shadow is no band."""
WIDE = 5
"""Cells over which light is averaged before bands are asked for: strokes and pits are narrower."""
FEWEST = 6
"""Photographs from which slopes can be told from bands."""
_QUARTERS = 1.349
"""Quartiles of a normal distribution, from one to the other, in standard deviations: the balls'
shadows may take up to a quarter of a small plate."""


def shaded(light: NDArray[np.float64], outside: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which photographs are lit in patches where the others are not.

    Parameters
    ----------
    light
        Light over what an upright place would send back, photographs x rows x columns.
    outside
        Rows x columns that are no plate.
    """
    rest = _logarithm(light, outside)
    rest -= np.median(rest, axis=0)
    spread = _spread(rest)
    return np.asarray((spread > SHADED) & (spread > BEYOND * np.median(spread)))


def banded(
    light: NDArray[np.float64], outside: NDArray[np.bool_], towards: NDArray[np.float64]
) -> float:
    """Spread of the middle photograph's light that neither paint nor slopes explain.

    Parameters
    ----------
    light, outside
        As for `shaded`.
    towards
        Unit directions to the torches, photographs x 3.

    Nought of fewer photographs than tell.
    """
    if len(light) < FEWEST:
        return 0.0
    rest = np.clip(_logarithm(light, outside), -MOST, MOST)
    known = np.column_stack([np.ones(len(towards)), towards[:, :2] / towards[:, 2:]])
    rest -= known @ (np.linalg.pinv(known) @ rest)
    wide = np.zeros((len(light), *outside.shape))
    wide[:, ~outside] = rest
    share = cv2.blur((~outside).astype(np.float64), (WIDE, WIDE))[~outside]
    smooth = np.stack([cv2.blur(one, (WIDE, WIDE))[~outside] / share for one in wide])
    return float(np.median(_spread(smooth)))


def _logarithm(light: NDArray[np.float64], outside: NDArray[np.bool_]) -> NDArray[np.float64]:
    told = np.log(np.maximum(light[:, ~outside], 1e-4))
    return np.asarray(told - np.median(told, axis=1, keepdims=True))


def _spread(rest: NDArray[np.float64]) -> NDArray[np.float64]:
    low, high = np.quantile(rest, [0.25, 0.75], axis=1)
    return np.asarray((high - low) / _QUARTERS)
