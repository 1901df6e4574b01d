"""A linear fit in which what lies far off counts little (P. J. Huber, 1964, Robust estimation)."""

import numpy as np

from ironlace.evidence.arrays import Floats

_NORMAL = 1.4826
"""Standard deviations in a median of distances of a normal law (exact, rounded)."""
ROUNDS = 12
"""Weighing anew that suffices: the last one moves a coefficient by less than it is told to."""


def huber_fit(
    design: Floats, seen: Floats, bend: float, rounds: int = ROUNDS
) -> tuple[Floats, Floats, Floats]:
    """Coefficients, what is left, and the weights it was left with.

    Parameters
    ----------
    design, seen
        Shapes (n, k) and (n,).
    bend
        Robust standard deviations from which a distance counts by its size alone.

    Examples
    --------
    >>> at = np.arange(30.0)
    >>> seen = 2.0 * at + 1.0 + 0.1 * np.sin(9.0 * at) + np.where(at == 3.0, 90.0, 0.0)
    >>> fit, _, weight = huber_fit(np.column_stack([at, np.ones(30)]), seen, 2.0)
    >>> round(float(fit[0]), 2), int(np.argmin(weight))
    (2.0, 3)
    """
    weight: Floats = np.ones(len(seen))
    fit: Floats = np.zeros(design.shape[1])
    off = seen
    for _ in range(rounds):
        root = np.sqrt(weight)[:, None]
        fit = np.asarray(np.linalg.lstsq(design * root, seen * root[:, 0], rcond=None)[0], float)
        off = seen - design @ fit
        scale = _NORMAL * float(np.median(np.abs(off))) + 1e-7
        weight = np.minimum(1.0, bend * scale / np.maximum(np.abs(off), 1e-12))
    return fit, off, weight
