"""A painted coverage as the gilt map that a photograph would have given."""

import numpy as np

from ironlace.ornament import GiltMap

PPM = 12.0
SIZE = (150.0, 110.0)


def gilt_map(coverage: np.ndarray, px_per_mm: float = PPM) -> GiltMap:
    h, w = coverage.shape
    return GiltMap(
        coverage,
        np.ones((h // 3, w // 3), np.float32),
        px_per_mm,
        (0.0, 0.0),
        np.zeros((h, w), np.uint8),
        (0.5, 0.35, 0.1),
        (0.02, 0.02, 0.02),
        0.01,
    )
