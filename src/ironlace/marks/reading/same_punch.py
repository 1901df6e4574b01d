"""What a plate's other strikes of the same punch tell of a digit.

Cuts of ours are not the punches struck. But a figure that stands more than once on a plate was
struck with the same punch each time, so the mean of its fellows, each weighted by how probably it
is that figure, is nearer to the punch than any drawing. This is one step of expectation and
maximisation over the shapes of the figures (Dempster, Laird and Rubin, 1977), the cut that fits
them best taken for one strike more. A place's own slopes are left out of the mean it is judged by,
and there is one step only: in a second the fellows' chances would already hold the place's own.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ironlace.marks.reading.bare_metal import likelihood
from ironlace.marks.reading.known_shapes import norms, shift_logs, windows_of
from ironlace.marks.reading.strikes import Slopes

COUNT = 0.2
"""Share of a place's independent slopes that count of what fellows tell: their pits and scratches
are their own (fitted on tuning plates: worn evenly 0.08 to 0.3 lose alike; clear at one end and
worn at the other 0.5 loses less yet)."""
_NEAR = 9.0
"""Shifts less probable than this, in logarithms, are not looked at."""
_SURER = 2.0
"""Power of a fellow's chance by which it counts: what is hardly that figure only blurs the mean."""
_MOST = 30.0
"""Most that fellows tell of one figure, in logarithms, that the sum can take."""


def by_fellows(
    held: Sequence[Slopes],
    laid: Sequence[NDArray[np.float32]],
    strikes: NDArray[np.float32],
    glyph_of: NDArray[np.int64],
    p: NDArray[np.float64],
    slopes: float,
) -> NDArray[np.float64]:
    """Log-likelihood of each figure by the plate's other strikes of it; places x figures.

    Parameters
    ----------
    held
        Places, slopes held down.
    laid
        Correlation of each strike at every shift, for each place.
    strikes, glyph_of
        Templates x 2 x 60 x 48, each of norm 1, and the column of `p` of each one's figure.
    p
        Chance of each figure at each place by the strikes alone; places x figures.
    slopes
        Independent slopes of a place.

    The mean may be of another figure, or of bare metal. So a place is as likely to be told by it as
    by the cut alone, and fellows that do not fit speak against a figure by a factor of two at most.
    On average over `p` they tell nothing: which figure it is, and not whether there is one.
    """
    told = np.zeros_like(p)
    if len(held) < 2:
        return told
    logs = shift_logs()
    near = np.flatnonzero(logs > logs.max() - _NEAR)
    windows = [windows_of(one)[:, near] / norms(one).ravel()[near] for one in held]
    fits = np.stack([one[: len(strikes)][:, near] for one in laid])
    best, at = np.maximum(fits.max(axis=2), 0.0), fits.argmax(axis=2)
    each = likelihood(best, slopes)
    flat = strikes.reshape(len(strikes), -1)
    for g in range(p.shape[1]):
        ours = np.flatnonzero(glyph_of == g)
        k = int(ours[(p[:, g] @ each[:, ours]).argmax()])
        weight = p[:, g] ** _SURER
        seen = np.stack([one[:, at[i, k]] for i, one in enumerate(windows)])
        whole = flat[k] + weight @ seen
        for i, one in enumerate(windows):
            others = whole - weight[i] * seen[i]
            fit = float((others @ one).max()) / max(float(np.linalg.norm(others)), 1e-9)
            gain = likelihood(np.array([fit, best[i, k]]), COUNT * slopes)
            told[i, g] = np.logaddexp(0.0, np.clip(gain[0] - gain[1], -_MOST, _MOST)) - np.log(2)
    return np.asarray(told - np.log((p * np.exp(told)).sum(axis=1, keepdims=True)))
