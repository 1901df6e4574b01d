"""A head turned through one turn as it sews: where each part stands, with its doubt.

Made once of what the readings told; pages draw it, and add nothing.
"""

from dataclasses import dataclass
from math import degrees, pi
from typing import Literal

import numpy as np

from ironlace.running.motion.figures import curve_band, turning_angle
from ironlace.running.motion.motion_found import Motion, MotionFound

STEP_DEG = 2
"""Degrees of the wheel between two places of a part: at the steepest of a needle bar 0.6 mm, which
a straight line between them follows to a hundredth."""

_MOST_DOUBT = 0.15
"""Half a band wider than this share of what was read of a motion is no place to draw a part at."""


@dataclass(frozen=True, slots=True)
class TurnedPart:
    """A part through one turn.

    Attributes
    ----------
    name
        Such as `needle bar`.
    height, half
        Where it stands, mm, and half the width of the 90 % band, every `STEP_DEG` of the turn.
    known
        Whether the readings tell it there.
    read
        Turn in degrees, height in mm, and whether it was left out as misread, of every reading.
    """

    name: str
    height: tuple[float, ...]
    half: tuple[float, ...]
    known: tuple[bool, ...]
    read: tuple[tuple[float, float, bool], ...]

    @property
    def low(self) -> float:
        """The lowest place that is told, mm."""
        return min(h for h, k in zip(self.height, self.known, strict=True) if k)

    @property
    def high(self) -> float:
        """The highest place that is told, mm."""
        return max(h for h, k in zip(self.height, self.known, strict=True) if k)


@dataclass(frozen=True, slots=True)
class TurnMark:
    """A place of the turn worth stopping at: its name, degrees turned, where the disc stands."""

    name: str
    turn: float
    disc: float


@dataclass(frozen=True, slots=True)
class HeadTurned:
    """A head through one turn as it sews.

    Attributes
    ----------
    disc
        What the disc shows every `STEP_DEG` of the turn, which begins at 0 on the disc.
    parts
        Those that were read, and that the readings tell anywhere.
    marks
        Dead centres of the needle bar, and its meeting with the shuttle's point.
    meeting_mm
        Reading of the shuttle when its point stands at the needle; None when it was not given.
    onward
        1 where the shuttle's reading rises at the meeting, -1 where it falls; 0 unknown.
    wheel_top
        How the top of the wheel turns: `away` from who sews, `towards`, or `unsaid`.
    numbers
        What the disc's numbers do as it sews: `rise`, `fall` or `unsaid`, and then taken to rise.
    """

    disc: tuple[float, ...]
    parts: tuple[TurnedPart, ...]
    marks: tuple[TurnMark, ...]
    meeting_mm: float | None
    onward: int
    wheel_top: Literal["unsaid", "away", "towards"]
    numbers: Literal["unsaid", "rise", "fall"]

    def part(self, name: str) -> TurnedPart | None:
        """A part by its name."""
        return next((one for one in self.parts if one.name == name), None)

    @property
    def start(self) -> float:
        """Degrees turned at which the head is first shown: the meeting, else the lowest point."""
        return self.marks[0].turn if self.marks else 0.0


def head_turned(found: MotionFound) -> HeadTurned:
    """Turn a head by what its readings told."""
    sign = -1.0 if found.asked.turning == "fall" else 1.0
    turn = np.arange(0.0, 360.0 + STEP_DEG, STEP_DEG)
    parts = [_part(one, turn) for one in found.motions]
    return HeadTurned(
        disc=tuple(float(d) for d in np.mod(sign * turn, 360.0)),
        parts=tuple(part for part in parts if any(part.known)),
        marks=_marks(found, sign),
        meeting_mm=found.asked.meeting.value if found.asked.meeting else None,
        onward=int(np.sign(found.met.shuttle_slope)) if found.met else 0,
        wheel_top=found.asked.wheel_top,
        numbers=found.asked.turning,
    )


def _part(one: Motion, turn: np.ndarray) -> TurnedPart:
    height, half = curve_band(one.fit, one.at, np.radians(turn))
    read = one.fit.readings.height[:, one.at]
    has = np.flatnonzero(~np.isnan(read))
    known = half <= _MOST_DOUBT * float(np.ptp(read[has]))
    return TurnedPart(
        one.name,
        tuple(round(float(v), 3) for v in height),
        tuple(round(float(v), 3) for v in half),
        tuple(bool(k) for k in known),
        tuple(
            (
                degrees(one.fit.readings.angle[row]) % 360.0,
                float(read[row]),
                bool(one.fit.left_out[row, one.at]),
            )
            for row in has
        ),
    )


def _marks(found: MotionFound, sign: float) -> tuple[TurnMark, ...]:
    """The meeting first, then the needle bar's dead centres as far as they are told."""
    bar = found.of("needle bar")
    if bar is None:
        return ()
    marks: list[tuple[str, float]] = []
    if found.met is not None:
        lowest = turning_angle(bar.fit, bar.at, bar.fit.numbers, top=False)
        marks.append(("shuttle meets needle", lowest + found.met.after_bottom.value))
        marks.append(("needle lowest", lowest))
    elif bar.bottom is not None:
        marks.append(("needle lowest", bar.bottom.value))
    if bar.top is not None:
        marks.append(("needle highest", bar.top.value))
    return tuple(
        TurnMark(name, degrees(at % (2.0 * pi)), float(np.mod(sign * degrees(at), 360.0)))
        for name, at in marks
    )
