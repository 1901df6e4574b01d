"""A head seen turning: what the motion's answer holds, as its page and its script show it."""

from dataclasses import dataclass
from math import isnan
from typing import Any

from markupsafe import Markup

from ironlace.running.motion.motion_found import MotionFound
from ironlace.running.motion.turned import STEP_DEG, HeadTurned, head_turned
from ironlace.running.motion.turned_curves import curves_svg
from ironlace.running.motion.turned_drawn import head_svg, scale_in_words, still_at

_TABLE_DEG = 30
"""Degrees between the rows of the table that says the same without a script."""


@dataclass(frozen=True, slots=True)
class SeenTurning:
    """The drawings, the data for the script, what stands there at first, and the table."""

    head: HeadTurned
    template: str
    head_svg: Markup
    curves_svg: Markup
    scale: str
    data: dict[str, Any]  # dict: JSON for the script
    stands: tuple[tuple[str, str], ...]
    table: tuple[tuple[str, ...], ...]

    @property
    def disc(self) -> int:
        """What the disc shows at first, in whole degrees."""
        sign = -1.0 if self.head.numbers == "fall" else 1.0
        return round(sign * self.head.start) % 360


def seen_turning(found: MotionFound) -> SeenTurning | None:
    """Make what is seen of an answer; None when no part is told anywhere."""
    head = head_turned(found)
    if not head.parts:
        return None
    data = {
        "step": STEP_DEG,
        "start": head.start,
        "sign": -1 if head.numbers == "fall" else 1,
        "parts": [
            {
                "name": part.name,
                "height": part.height,
                "half": part.half,
                "known": [int(k) for k in part.known],
            }
            for part in head.parts
        ],
    }
    rows = [("Disc", *(f"{part.name}, mm" for part in head.parts))]
    rows += [
        (
            f"{head.disc[turn // STEP_DEG]:.0f}°",
            *(_height(*still_at(head, part, float(turn))) for part in head.parts),
        )
        for turn in range(0, 360, _TABLE_DEG)
    ]
    return SeenTurning(
        head,
        "_seen_turning.html",
        Markup(head_svg(head)),  # noqa: S704 (drawn by the room; words in it are escaped there)
        Markup(curves_svg(head)),  # noqa: S704
        scale_in_words(head),
        data,
        tuple((part.name, _height(*still_at(head, part))) for part in head.parts),
        tuple(rows),
    )


def _height(height: float, half: float) -> str:
    return "not read here" if isnan(height) else f"{height:.2f} ± {half:.2f}"
