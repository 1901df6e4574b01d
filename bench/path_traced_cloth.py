"""How high a path-traced seam's cloth lies: for the path tracer and for whoever asks after a hole.

The tracer runs in a Python of its own, so this holds nothing but numbers.
"""

import numpy as np
from scipy.spatial import cKDTree

HOLE_MM = 0.1
"""So far beneath the cloth's surface lies what is seen of a hole: about half a thread."""


class Surface:
    """The cloth's surface: wrinkles, puckers along the seam, dips at the holes."""

    def __init__(self, told, rng):
        self.told, self.rng = told, rng
        self.holes = np.array(told["holes"], float)
        # wrinkles: broad folds of random ways
        self.waves = [
            (rng.uniform(0, np.pi), rng.uniform(9, 30), rng.uniform(0, 6.3), rng.normal())
            for _ in range(5)
        ]
        self.tree = cKDTree(self.holes)

    def height(self, x, y):
        told = self.told
        z = np.zeros(np.broadcast(x, y).shape)
        for turn, long, phase, size in self.waves:
            along = x * np.cos(turn) + y * np.sin(turn)
            z = z + told["wrinkle_mm"] * size * np.sin(2 * np.pi * along / long + phase)
        row = np.interp(x, self.holes[:, 0], self.holes[:, 1])
        pucker = np.sin(2 * np.pi * x / told["pucker_long"]) * np.exp(-(((y - row) / 3.0) ** 2))
        z = z + told["pucker_mm"] * pucker
        far, _ = self.tree.query(np.stack([x, y], -1).reshape(-1, 2))
        return z - told["dip_mm"] * np.exp(-((far.reshape(z.shape) / 0.55) ** 2))


def holes_as_seen(told):
    """Where on the plane of the frame's paper the camera sees each hole along the seam, mm.

    A hole lies beneath the paper, and a camera that looks slantwise sees it moved aside. A scanner
    looks straight down everywhere.
    """
    cloth = Surface(told, np.random.default_rng(told["seed"]))
    x, y = cloth.holes.T
    if told["camera"]["kind"] == "scanner":
        return x
    z = cloth.height(x, y) - HOLE_MM
    at = np.asarray(told["camera"]["at"], float)
    return at[0] + (at[2] - told["paper_z"]) / (at[2] - z) * (x - at[0])
