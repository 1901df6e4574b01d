"""Digits read by given shapes when the whole plate was worn in one way.

A plate loses its metal as a whole: rubbed soft, or planed until the deepest is left. Which way it
went is not known, but it is the same for all its digits. So every figure is laid as each way leaves
it, at all shifts, sizes and turns, which are averaged over by their probability (a fit that needs
an odd place is worth less); how probable each way is follows from all digits together; and a figure
is as likely as the ways make it. Bare metal of the same plate is read alike: a plate whose digits
show no more of any figure than its bare metal does tells nothing.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from ironlace.marks.reading.bare_metal import Overlaid, likelihood
from ironlace.marks.reading.known_shapes import ShapeReader, shift_logs

EVEN = 0.5
"""How far bare metal's detail is evened out. In full is right for Gaussian slopes; scratches and
pits are not, and what was worn soft lies at the sizes that the filter takes away. Fitted on
tuning plates: 0.3 to 0.7 read alike."""
_COUNT = 0.6
"""Share of a place's independent slopes that count: drawn and struck shapes differ (the same)."""
_MOST = 2000.0
"""Slopes that count at most: shapes differ by more than noise."""
_MORE, _PASSAGE = 4.0, 0.5
"""By how many of bare metal's standard errors the digits' evidence lies above it where a plate is
as likely read as not, and the width of that passage. Of 48 tuning plates 17 lay below 4 and were
read no better than by chance, 30 lay above 20, and one at 7 was read in part."""
_LEAST_SPREAD = 0.1
"""Spread of bare metal's evidence taken at least."""


def read_by_ways(reader: ShapeReader, over: Overlaid) -> tuple[NDArray[np.float64], float]:
    """Log-likelihood of each of the reader's glyphs at each place, and how far the plate is read.

    Parameters
    ----------
    over
        The reader's strikes laid over places and bare metal, evened by `EVEN`.

    Returns
    -------
    ndarray of shape (places, glyphs)
        Counting by how far the plate is read.
    float
        Share, 0 to 1, to which its digits are more than bare metal.
    """
    slopes = min(_COUNT * over.slopes, _MOST)
    seen = np.stack([_evidence(reader, one, slopes) for one in over.places])
    bare = np.stack([_evidence(reader, one, slopes) for one in over.bare])
    whole = logsumexp(seen, axis=1).sum(axis=0)
    ways = whole - logsumexp(whole)
    each = logsumexp(seen + ways, axis=2)
    told = _told(logsumexp(each, axis=1), logsumexp(bare + ways, axis=(1, 2)))
    return told * each, told


def _told(digits: NDArray[np.float64], bare: NDArray[np.float64]) -> float:
    """Share to which digits show more of any figure than bare metal does.

    Medians count: one bare place may hold a stranger's mark, one digit a pit. The error is that of
    bare metal's, as it would be if nothing were left: clear digits differ much among themselves.
    """
    middle = float(np.median(bare))
    spread = max(1.4826 * float(np.median(np.abs(bare - middle))), _LEAST_SPREAD)
    error = spread * np.sqrt(1 / len(digits) + 1 / len(bare))
    more = (float(np.median(digits)) - middle) / error
    return float(1 / (1 + np.exp(-np.clip((more - _MORE) / _PASSAGE, -50, 50))))


def _evidence(reader: ShapeReader, laid: NDArray[np.float32], slopes: float) -> NDArray[np.float64]:
    """Log-likelihood of each glyph worn in each way at one place, poses and shifts averaged."""
    at = logsumexp(likelihood(laid.astype(np.float64), slopes) + shift_logs(), axis=1)
    told = np.full((len(reader.glyphs), int(reader.way_of.max()) + 1), -np.inf)
    for glyph, way in np.ndindex(*told.shape):
        part = at[(reader.glyph_of == glyph) & (reader.way_of == way)]
        told[glyph, way] = logsumexp(part) - np.log(len(part))
    return told
