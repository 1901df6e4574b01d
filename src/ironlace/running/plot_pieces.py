"""Pieces that the plots of this room are drawn of."""

from xml.sax.saxutils import escape

import numpy as np


def label(x: float, y: float, text: str, anchor: str) -> str:
    """A word on a plot, as SVG; ``anchor`` is SVG's text-anchor."""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="10.5" fill="currentColor" '
        f'text-anchor="{anchor}">{escape(text)}</text>'
    )


def round_step(size: float) -> float:
    """A step of 1, 2 or 5 times a power of ten, not smaller than a size.

    >>> [round_step(size) for size in (0.3, 1.0, 2.1, 70.0)]
    [0.5, 1.0, 5.0, 100.0]
    """
    power = 10.0 ** np.floor(np.log10(max(size, 1e-6)))
    return float(next(power * k for k in (1.0, 2.0, 5.0, 10.0) if power * k >= size - 1e-12))
