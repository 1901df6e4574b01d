"""Drawings that came of another one, made again from what was kept: orders, or an edited copy."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from ironlace.ornament.by_hand.orders import carry_out
from ironlace.ornament.by_hand.workpiece import Workpiece
from ironlace.ornament.outline.drawing import Drawing
from ironlace.ornament.outline.regrade import regrade
from ironlace.ornament.outline.uncrossing import uncrossed


def reworked(
    original: Drawing,
    orders: Sequence[Mapping[str, Any]],
    bridges: Sequence[Mapping[str, Any]] = (),
) -> Drawing:
    """A drawing with orders carried out on it, one after the other.

    Parameters and errors as for `carry_out`.
    """
    work = Workpiece.of(original)
    for order in orders:
        work = work.with_change(carry_out(work, order, bridges))
    return work.drawing()


def brought_back(original: Drawing, edited: Drawing) -> Drawing:
    """An edited drawing with the evidence of the original, uncrossed, in the original's window."""
    graded = uncrossed(regrade(edited, original))
    return replace(graded, bounds_mm=original.bounds_mm)
