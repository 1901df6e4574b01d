"""Drawings small enough to know every figure of."""

import numpy as np

from ironlace.evidence.grades import Grade
from ironlace.ornament import ClosedPath, Drawing


def circle(cx: float, cy: float, r: float, **evidence) -> ClosedPath:
    k = 0.5522847498
    quarter = np.array([[1, 0], [1, k], [k, 1], [0, 1]], float)
    turn = np.array([[0, 1], [-1, 0]], float)
    curves = []
    for _ in range(4):
        curves.append(quarter * r + (cx, cy))
        quarter = quarter @ turn
    return ClosedPath.of(np.array(curves), **evidence)


def sample() -> Drawing:
    mixed = circle(12, 9, 5)
    mixed = ClosedPath(
        mixed.curves,
        (Grade.SEEN, Grade.INFERRED, Grade.INFERRED, Grade.CONJECTURED),
        ("here", "mirror", "mirror", "a second: example"),
    )
    return Drawing((mixed, circle(12, 9, 2), circle(30, 9, 3)), (-2.0, 1.0, 40.0, 20.0))
