"""Where a bed's outline may lie elsewhere: along which of its rim a picture shows two edges.

A bed's edge is one step of light, and lies at one place wherever between iron and ground it is
looked for. A dark shadow beside it, a window mirrored in its japan or a rim rubbed bright has a
light of its own between both: looked for below or above that, the edge lies elsewhere. Which of
both is the bed's, no light tells.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats

_SHARES: Final = (0.22, 0.34, 0.46, 0.58)
"""From the iron's light to the ground's (roots of it), where the edge is looked for: japan mirrors
the room below them, and a shadow above them, half as light as the ground, is no rival (judged)."""
_APART_MM: Final = 1.0
"""By which two edges differ before that is told: twice what a good photograph is off (judged)."""
_APART_PX: Final = 3.0
"""The same in pixels of the photograph: a blurred edge is as broad as that."""
_CLOSED_MM: Final = 3.0
"""Half the breadth of gilt lines and ornament, which are laid to the iron they lie on (judged)."""
_LEAST_SHARE: Final = 0.01
"""Of the rim, that must have two edges before that is told: less is a scratch (a judgement)."""
_BESIDE_PX: Final = (6, 18)
"""Beside the rim, between which the ground's light is taken."""


@dataclass(frozen=True)
class RimDoubt:
    """How much of a rim has two edges, mm, and how far apart they lie at most (95 %), mm."""

    along_mm: float = 0.0
    apart_mm: float = 0.0

    @property
    def sure(self) -> bool:
        """Whether it has one edge all round."""
        return self.along_mm == 0.0

    def in_words(self) -> str:
        """What a person should know of it; empty where the rim has one edge."""
        if self.sure:
            return ""
        return (
            f"Not to be relied on: along {self.along_mm:.0f} mm of its rim the picture shows two "
            f"edges, up to {self.apart_mm:.0f} mm apart, as of a dark shadow or of light mirrored "
            "in the japan: look at the outline, mend it by hand, or photograph the bed again in "
            "even light from all sides."
        )


def rim_doubt(light: NDArray[np.float32], ring: Floats, mm_per_px: float) -> RimDoubt:
    """Look for the rim at other levels of light.

    Parameters
    ----------
    light
        The photograph in linear light, HxW.
    ring
        The outline that was found, pixels, shape (n, 2).
    mm_per_px
        At the rim.
    """
    levels = cv2.GaussianBlur(np.sqrt(np.clip(light, 0.0, 1.0)), (0, 0), 1.2)
    inside = _mask(levels.shape, [ring])
    near, far = _BESIDE_PX
    away = _far_from(inside)
    beside = (away > near) & (away <= far)
    core = _far_from(1 - inside) > far
    if not core.any() or not beside.any():
        return RimDoubt()
    iron, ground = (float(np.median(levels[one])) for one in (core, beside))
    least = max(_APART_MM / mm_per_px, _APART_PX)
    reach = _CLOSED_MM / mm_per_px
    apart = np.zeros(len(ring))
    darker, step = np.sign(ground - iron) * (levels - iron), abs(ground - iron)
    for share in _SHARES:
        other = _patch(darker < share * step, inside, reach)
        if other is not None:
            apart = np.maximum(apart, _to_rim(ring, other))
    wide = apart > least
    if wide.mean() < _LEAST_SHARE:
        return RimDoubt()
    steps = np.linalg.norm(np.roll(ring, -1, axis=0) - ring, axis=1)
    return RimDoubt(
        float(steps[wide].sum()) * mm_per_px, float(np.quantile(apart[wide], 0.95)) * mm_per_px
    )


def _patch(
    iron: NDArray[np.bool_], inside: NDArray[np.uint8], reach_px: float
) -> NDArray[np.uint8] | None:
    """The whole patch of iron that shares most with what was found; None where it runs out."""
    opened = cv2.morphologyEx(iron.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    patch = np.asarray(opened, np.uint8)
    # gilt on the iron is laid to it; what lies beyond the outline is not joined by that
    # (grown and drawn in again by distances: discs of a large photograph take seconds)
    grown = (_far_from(np.minimum(patch, inside)) <= reach_px).astype(np.uint8)
    closed = (_far_from(1 - grown) > reach_px).astype(np.uint8)
    _, labels = cv2.connectedComponents(np.maximum(patch, np.minimum(closed, inside)))
    shared = np.bincount(labels[inside > 0], minlength=int(labels.max()) + 1)
    shared[0] = 0
    if not shared.any():
        return None
    whole = (labels == int(np.argmax(shared))).astype(np.uint8)
    if whole[[0, -1]].any() or whole[:, [0, -1]].any():
        return None  # the ground itself
    rings, _ = cv2.findContours(whole, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return _mask(whole.shape, [max(rings, key=cv2.contourArea)[:, 0]])


def _to_rim(ring: Floats, patch: NDArray[np.uint8]) -> Floats:
    """How far each place of a ring lies from a patch's rim, pixels."""
    rim = cv2.morphologyEx(patch, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8))
    far = _far_from((rim > 0).astype(np.uint8))
    rows, columns = patch.shape
    x = np.clip(np.round(ring[:, 0]).astype(int), 0, columns - 1)
    y = np.clip(np.round(ring[:, 1]).astype(int), 0, rows - 1)
    return np.asarray(far[y, x], np.float64)


def _mask(shape: tuple[int, ...], rings: list[Floats]) -> NDArray[np.uint8]:
    mask = np.zeros(shape, np.uint8)
    cv2.fillPoly(mask, [np.round(one).astype(np.int32) for one in rings], 1)
    return mask


def _far_from(patch: NDArray[np.uint8]) -> NDArray[np.float32]:
    """How far each pixel lies from a patch, pixels; 0 within it."""
    if not patch.any():
        return np.full(patch.shape, np.inf, np.float32)
    return np.asarray(cv2.distanceTransform(1 - patch, cv2.DIST_L2, 5), np.float32)
