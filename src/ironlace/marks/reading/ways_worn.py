"""Digits laid by given shapes, as each way leaves them in which a whole plate may have been worn.

A plate loses its metal as a whole: rubbed soft, or planed until the deepest is left. Which way it
went is not known, but it is the same for all its digits. So every figure is laid as each way leaves
it, at all shifts, sizes and turns, which are averaged over by their probability (a fit that needs
an odd place is worth less).
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from ironlace.marks.reading.known_shapes import ShapeReader
from ironlace.marks.reading.read_together import Logs, evidence

EVEN = 0.5
"""How far bare metal's detail is evened out. In full is right for Gaussian slopes; scratches and
pits are not, and what was worn soft lies at the sizes that the filter takes away. Fitted on
tuning plates: 0.3 to 0.7 read alike."""
COUNT = 0.5
"""Share of a place's independent slopes that count: drawn and struck shapes differ (the same;
0.6 states too much of other faces planed to a fifth)."""

CREDIT = 1.0
"""How much bare metal may speak for a way of wear (`read_together`; fitted on tuning plates, where
0 states 0.04 to 0.07 too little at wear 0.95)."""


def logs_by_ways(reader: ShapeReader, laid: Sequence[NDArray[np.float32]], slopes: float) -> Logs:
    """Log-likelihood of each glyph worn in each way; places x glyphs x ways x correlations.

    Parameters
    ----------
    laid
        Correlation of the reader's strikes at every shift, for each place.
    slopes
        Independent slopes of a place that count.
    """
    return np.stack([_by_ways(reader, evidence(one, slopes)) for one in laid])


def _by_ways(reader: ShapeReader, found: NDArray[np.float32]) -> Logs:
    ways = int(reader.way_of.max()) + 1
    told = np.empty((len(reader.glyphs), ways, found.shape[1]))
    for glyph, way in np.ndindex(*told.shape[:2]):
        part = found[(reader.glyph_of == glyph) & (reader.way_of == way)]
        told[glyph, way] = logsumexp(part, axis=0) - np.log(len(part))
    return told
