"""What a plate's brightness under high and low torches tells of how it shines.

Raise the torch: a matt plate gains light by the sine of the torch's height, one with a lobe gains
more. That needs no slopes, so a few photographs tell it as well as many, but it needs exposures
that were held. Whether they were is told by the torch's distance: light falls off with its square
where they were, with none where the exposure followed it. What fits neither tells nothing.

Each law of exposure is weighed by how well it foretells the photographs, the spread of hand-held
beams and exposures unknown (Student's integral over the scale; Gelman and others, 2013, 3.2).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

F64 = NDArray[np.float64]

SPREAD = 0.08
"""Usual spread of a photograph's light, natural logarithm: a torch aimed by hand, a shutter."""
AS_IF_SEEN = 4.0
"""Photographs' worth of trust in that spread, against what is found."""
SHAPE = 0.06
"""Spread of the power of a torch's height by which metals and curves depart from the lobe."""
HELD = 0.5
"""Chance, before looking, that exposures follow one of the two laws."""
LAWS = (-2.0, 0.0)
"""Power of the torch's distance where the exposure was held, and where it was set by it."""
FREE_HEIGHT = np.linspace(-1.5, 1.0, 11)
"""Powers of the torch's height where exposures follow no law: a camera may undo all of it."""
FREE_DISTANCE = np.linspace(-2.5, 0.5, 13)
"""The same of its distance."""
NORMAL = ((-2.0, 0.054), (-1.0, 0.242), (0.0, 0.399), (1.0, 0.242), (2.0, 0.054))
"""Places and weights that stand for a normal distribution."""


@dataclass(frozen=True)
class Brightness:
    """How bright a whole plate was, torch by torch.

    Attributes
    ----------
    level
        Logarithm of the torch's light on it, over what a matt plate would send back under a torch
        of that height; exposure and distance are in it.
    height
        Sine of the torch's elevation.
    far
        Logarithm of its distance; not finite where that is not known.
    """

    level: F64
    height: F64
    far: F64

    def tells(self, strength: F64, exponent: F64) -> F64:
        """Log-likelihood of lobes (see `reflectance`), each of n, up to a common constant."""
        known = bool(np.isfinite(self.far).all())
        height = np.log(self.height) - np.log(self.height).mean()
        far = self.far - self.far.mean() if known else np.zeros_like(height)
        powers = FREE_DISTANCE if known else np.zeros(1)
        free = _likelihood(
            self.level - FREE_HEIGHT[:, None, None] * height - powers[:, None] * far
        ).ravel()
        half = np.sqrt((1 + self.height) / 2)
        shine = np.log1p(strength[:, None] * half ** exponent[:, None] / self.height)
        laws = LAWS if known else (0.0,)
        by_law = [
            np.log(weight / len(laws))
            + _likelihood(self.level - power * far - shine - off * SHAPE * height)
            for power in laws
            for off, weight in NORMAL
        ]
        lawless = np.logaddexp.reduce(free) - np.log(len(free))
        lawful = np.logaddexp.reduce(by_law)
        return np.asarray(np.logaddexp(np.log(HELD) + lawful, np.log(1 - HELD) + lawless))


def _likelihood(rest: F64) -> F64:
    """Of what is left (..., torches), its middle and its spread unknown."""
    rest = rest - rest.mean(-1, keepdims=True)
    free = AS_IF_SEEN + rest.shape[-1] - 1
    return np.asarray(-0.5 * free * np.log(AS_IF_SEEN * SPREAD**2 + (rest**2).sum(-1)))
