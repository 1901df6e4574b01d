"""Pulls of a spring scale at screw settings, made from the physics of discs, springs and guides.

Nothing here is shared with the fit: the thread is drawn step by step through guides and discs whose
friction is drawn anew for each pull; the family that is held back has a stiffening spring.

Families: `even` (one friction, small scatter of each pull) was looked at while the fit was made;
`gripping` (friction that varies along the thread, readings rounded to 2 gf) was too; `stiffening`
(a conical spring whose rate grows, log-normal friction) was not.
"""

from dataclasses import dataclass

import numpy as np

FAMILIES = ("even", "gripping", "stiffening")


@dataclass
class Tensioner:
    feed: float  # gf
    before: float  # rad of guides before the discs
    after: float  # rad after them
    mu: float
    rate: float  # gf per turn of load
    contact: float
    family: str

    def load(self, turns):
        over = np.maximum(turns - self.contact, 0.0)
        stiff = 0.04 if self.family == "stiffening" else 0.0
        return self.rate * over * (1.0 + stiff * over)

    def pull(self, turns, mu):
        tension = self.feed * np.exp(mu * self.before)
        tension = tension + 2.0 * mu * self.load(turns)
        return tension * np.exp(mu * self.after)

    def mean(self, turns):
        return self.pull(turns, self.mu)

    def slope(self, turns):
        return (self.mean(turns + 0.005) - self.mean(turns - 0.005)) / 0.01


def tensioner(family, rng):
    return Tensioner(
        feed=rng.uniform(3.0, 8.0),
        before=np.radians(rng.uniform(60, 200)),
        after=np.radians(rng.uniform(150, 330)),
        mu=rng.uniform(0.15, 0.28),
        rate=rng.uniform(25.0, 60.0),
        contact=rng.uniform(0.3, 1.2),
        family=family,
    )


def pulls(made, turns, rng, scatter=0.04, dial=1.0):
    """Readings of the scale, gf: friction differs from pull to pull, the eye rounds."""
    turns = np.asarray(turns, dtype=float)
    if made.family == "stiffening":
        mu = made.mu * np.exp(scatter * rng.standard_normal(len(turns)))
    elif made.family == "gripping":
        mu = made.mu * (1.0 + scatter * rng.standard_t(4.0, len(turns)) / np.sqrt(2.0))
    else:
        mu = made.mu * (1.0 + scatter * rng.uniform(-np.sqrt(3), np.sqrt(3), len(turns)))
    read = made.pull(turns, mu) + dial * rng.standard_normal(len(turns))
    step = 2.0 if made.family == "gripping" else 1.0
    return np.round(read / step) * step
