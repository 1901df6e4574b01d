"""How much must stray off register, whatever the split: a bound that no set of sheets can pass.

At every place along a web thinner than the process can leave, the first sheet's material is as wide
as the least web, so it covers a strip of the ornament as wide as what the web lacks. That strip is
either left bare, or laid through a sheet that is off by the register error e. Left bare to a depth
b on true register, the edge strays by e cos t - b when the sheet is off at an angle t to it, but
never further than across the gap. The worst direction is no better than the mean over all of them,
which needs no knowledge of how the edge runs or of which side was chosen. What may be left bare in
all is shared out at best by Lagrange's rule; any multiplier gives a bound (weak duality). Openings
narrower than the register error, which would stray less, are not taken for cuttable.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from ironlace.ornament.stencils.webs import Web

MAY_BE_BARE: Final = 0.005
"""Share of the ornament that sheets laid true may leave bare."""

_DIRECTIONS: Final = 64
"""Directions of being off register that are looked at: one to every 6 degrees."""

_DEPTHS: Final = 40
"""Steps of depth into each web that may be left bare (tuned; on what was not kept)."""


def least_stray(
    webs: Sequence[Web],
    drawn_mm2: float,
    *,
    least_web_mm: float,
    register_mm: float,
    bare: float = MAY_BE_BARE,
) -> float:
    """Share of the ornament that strays at least in the worst direction.

    Parameters
    ----------
    webs
        Thin webs of the sheet cut as drawn; ``least_web_mm`` is what the process can leave. Those
        between two tips are no longer than a point, and count for nothing.
    drawn_mm2
        Area of the ornament.
    register_mm
        How far the further sheets are off.
    bare
        Share of it that may be left bare on true register.
    """
    webs = [web for web in webs if not web.between_tips]
    if not webs or register_mm <= 0 or drawn_mm2 <= 0:
        return 0.0
    # two neighbouring rungs are sides of a triangle with its foot on one shore: its height is the
    # gap, and it stands for the length between their middles
    pairs = np.concatenate([web.rungs.reshape(-1, 2, 2, 2) for web in webs])
    middle = pairs.mean(axis=2)
    length = np.linalg.norm(middle[:, 1] - middle[:, 0], axis=1)
    one, two = pairs[:, 0, 1] - pairs[:, 0, 0], pairs[:, 1, 1] - pairs[:, 1, 0]
    foot = np.linalg.norm(two - one, axis=1)
    gap = np.abs(one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]) / np.maximum(foot, 1e-12)
    lacks = least_web_mm - gap
    length, gap, lacks = length[lacks > 0], gap[lacks > 0], lacks[lacks > 0]
    depth = np.linspace(0.0, register_mm, _DEPTHS)
    turn = np.cos((np.arange(_DIRECTIONS) + 0.5) * 2.0 * np.pi / _DIRECTIONS)
    beyond = np.maximum(register_mm * turn - depth[:, None], 0.0)
    if len(gap) == 0:
        return 0.0
    mean = np.stack([np.minimum(beyond, g).mean(axis=1) for g in gap])
    best = 0.0
    for price in np.geomspace(0.02, 50.0, 60):
        # as deep as it costs least, or wholly bare, where nothing strays
        cost = np.minimum((mean + price * depth).min(axis=1), price * lacks)
        best = max(best, float((cost * length).sum() - price * bare * drawn_mm2))
    return best / drawn_mm2
