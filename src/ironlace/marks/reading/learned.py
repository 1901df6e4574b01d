"""What was learned from made plates: figures by their pattern of slopes, dots by their looks.

Small networks of one hidden layer; their numbers are kept in a file that the caller reads. They
were fitted by `bench/marks_learning.py` on plates made by code, with figures drawn by us.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Learned:
    """Networks and settings.

    Attributes
    ----------
    figures
        Weights and offsets of the two layers that tell a figure from its pattern.
    dots
        The same of the dots' judges (several, averaged), their numbers' means and spreads first.
    settings
        Single figures fitted on tuning plates: how sharp likelihoods are taken.
    plate_low, plate_high
        Range of a plate's looks on the tuning plates.
    """

    figures: tuple[Numbers, Numbers, Numbers, Numbers]
    dots: tuple[Numbers, Numbers, Numbers, Numbers, Numbers, Numbers]
    settings: Mapping[str, float]
    plate_low: Numbers
    plate_high: Numbers

    def figure_logs(self, patterns: NDArray[np.float32]) -> Numbers:
        """Log-probability of each figure for patterns, shape (n, 10)."""
        first, first_off, second, second_off = self.figures
        hidden = np.maximum(_SCALE * patterns.astype(np.float64) @ first + first_off, 0)
        logits = hidden @ second + second_off
        return np.asarray(logits - np.logaddexp.reduce(logits, axis=1, keepdims=True))

    def dot_logs(self, numbers: Numbers) -> Numbers:
        """Log-odds, at even base rate, that a dot was struck in each gap; shape (gaps,)."""
        mean, spread, first, first_off, second, second_off = self.dots
        at = np.clip((numbers - mean) / spread, -4, 4)
        each = [
            np.tanh(at @ w + o) @ v + c[0]
            for w, o, v, c in zip(first, first_off, second, second_off, strict=True)
        ]
        return np.asarray(np.mean(each, axis=0), dtype=np.float64)


_SCALE = 20.0
"""Patterns have unit length; times this their numbers are about one each."""
