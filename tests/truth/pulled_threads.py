"""Pulls of a spring scale at screw settings, made from the physics of discs, springs and guides.

Nothing here is shared with the fit: the thread is drawn step by step through guides and discs whose
friction is drawn anew for each pull; the families that are held back have springs of their own.

Families: `even` (one friction, small scatter of each pull) was looked at while the fit was made;
`gripping` (friction that varies along the thread, readings rounded to 2 gf) was too; `stiffening`
(a conical spring whose rate grows, log-normal friction) was held back until a bend was fitted.
`closing` (a tapered coil that lies down turn by turn from some load on, friction that falls with
the load) and `lagging` (spring and screw stick, so that pulls after turning in read lower than
after turning out) are held back.
"""

from dataclasses import dataclass

import numpy as np

FAMILIES = ("even", "gripping", "stiffening", "closing", "lagging")


@dataclass
class Tensioner:
    feed: float  # gf
    before: float  # rad of guides before the discs
    after: float  # rad after them
    mu: float
    rate: float  # gf per turn of load
    contact: float
    family: str
    closes: float = 1.5  # turns past contact from which the coil lies down
    closed: float = 0.1  # share of it that a further turn lays down

    def load(self, turns):
        over = np.maximum(turns - self.contact, 0.0)
        if self.family == "closing":
            steps = np.linspace(0.0, 1.0, 201)
            way = steps * np.asarray(over, dtype=float)[..., None]
            standing = 1.0 - np.clip(self.closed * (way - self.closes), 0.0, 0.8)
            return self.rate * over * (1.0 / standing).mean(axis=-1)
        stiff = 0.04 if self.family == "stiffening" else 0.0
        return self.rate * over * (1.0 + stiff * over)

    def pull(self, turns, mu):
        tension = self.feed * np.exp(mu * self.before)
        load = self.load(turns)
        if self.family == "closing":
            load = load * (1.0 + load / 100.0) ** -0.05
        tension = tension + 2.0 * mu * load
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
        **_coil(family, rng),
    )


def _coil(family, rng):
    if family != "closing":
        return {}
    return {"closes": rng.uniform(0.5, 2.0), "closed": rng.uniform(0.04, 0.14)}


def pulls(made, turns, rng, scatter=0.04, dial=1.0):
    """Readings of the scale, gf: friction differs from pull to pull, the eye rounds."""
    turns = np.asarray(turns, dtype=float)
    if (
        made.family == "lagging"
    ):  # as one reads: some settings reached from without, some from within
        inward = rng.random(len(turns)) < 0.6
        turns = turns + np.where(inward, -0.5, 0.5) * 0.12
    if made.family in ("stiffening", "closing"):
        mu = made.mu * np.exp(scatter * rng.standard_normal(len(turns)))
    elif made.family == "gripping":
        mu = made.mu * (1.0 + scatter * rng.standard_t(4.0, len(turns)) / np.sqrt(2.0))
    else:
        mu = made.mu * (1.0 + scatter * rng.uniform(-np.sqrt(3), np.sqrt(3), len(turns)))
    read = made.pull(turns, mu) + dial * rng.standard_normal(len(turns))
    step = 2.0 if made.family == "gripping" else 1.0
    return np.round(read / step) * step


def nut(turns, play):
    """Where a nut with play stands when its screw is turned to each setting in order."""
    at, found = turns[0] - play / 2.0, []
    for want in turns:
        at = min(max(at, want - play / 2.0), want + play / 2.0)
        found.append(at)
    return np.array(found)
