"""Whether photographs just taken can carry a relief: sharp, still, lit all round, balls large."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ironlace.marks.capture.balls import FoundBalls, find_balls
from ironlace.marks.capture.capturing import (
    SMALL_BALL_PX,
    SMOOTH_SAID,
    said_of_fellow,
    said_of_unproved,
    sharp_with_balls,
)
from ironlace.marks.capture.fellow_balls import FEWEST
from ironlace.marks.capture.frames import (
    SATURATED,
    Frames,
    light_of_numbers,
    median_picture,
    saturated_share,
    smoothed,
)
from ironlace.marks.capture.geometry import PlateFrame
from ironlace.marks.capture.lights import (
    TWO_TORCHES,
    DarkArc,
    Light,
    dark_quadrants,
    lights_of_balls,
    missing_quadrants,
    widest_gap,
)
from ironlace.marks.capture.one_plate import (
    Agreement,
    agreement_of,
    copies_in,
    names_in_words,
    plates_in,
)
from ironlace.marks.capture.outlines import Circle
from ironlace.marks.capture.registering import Move, rough_shift
from ironlace.marks.capture.settled_balls import SOFT_PX, SettledBalls, settled_balls

MOVED_PX = 5.0
"""Pixels a photograph may lie off the first before the stand wants looking at."""
LIT = 0.3
"""Share of photographs in which a torch must be mirrored in what is taken for balls (judged)."""
ENOUGH = 8
"""Usable photographs for a relief; 12 to 24 are better."""


@dataclass(frozen=True)
class FrameCheck:
    """What a photograph is good for.

    Attributes
    ----------
    sharp
        Whether it is as sharp as the rest.
    moved_px
        How far it lies off the first photograph, in the picture's middle.
    saturated
        Share that is too bright to be told, 0 to 1.
    ball_radius_px
        Of the smallest ball in it; None where there is none.
    light
        Where the torch stood, if the balls tell.
    lit_twice
        Whether another light like the torch is mirrored in the balls.
    rolled
        Whether the balls contradict one another on how it lies, or it lies too far off.
    """

    name: str
    sharp: bool
    moved_px: float
    saturated: float
    ball_radius_px: float | None
    light: Light | None
    lit_twice: bool = False
    rolled: bool = False


@dataclass(frozen=True)
class LiveCheck:
    """What photographs are good for together; `faults` say what to do, worst first.

    `widest_gap` is None where no ball tells where the torch stood.
    """

    frames: tuple[FrameCheck, ...]
    missing_quadrants: tuple[str, ...]
    widest_gap: DarkArc | None
    enough: bool
    faults: tuple[str, ...]


def live_check(frames: Frames) -> LiveCheck:
    """Look photographs over; answers for any number of them.

    Balls are found, and photographs laid to one another, as for a relief (`settled_balls`).
    """
    pictures = frames.pictures
    table = light_of_numbers(frames.white, "srgb")
    looked = find_balls(median_picture(pictures), pictures)
    seen = _seen(frames, looked, table)
    balls = seen.settled.balls
    sharp = sharp_with_balls(frames, balls, seen.settled.moves, table)
    strange = _strange(frames.names, agreement_of(pictures, seen.settled.moves, balls))
    checked = tuple(
        FrameCheck(
            name,
            sharp[n],
            float(np.hypot(*seen.settled.moves[n].shift_px)),
            saturated_share(pictures[n], frames.white),
            min((c.r for c in seen.settled.circles[n]), default=None),
            seen.lights[n],
            seen.twice[n],
            bool(seen.settled.why[n]),
        )
        for n, name in enumerate(frames.names)
    )
    usable = [one for one in checked if _usable(one)]
    lit = [one.light for one in usable if one.light is not None]
    missing = missing_quadrants(lit) if balls else []
    gap = widest_gap(lit) if lit else None
    dark = _dark_said(lit, missing, gap)
    if seen.soft:
        strange.insert(0, "All are out of focus: even the balls' outlines are. Focus by hand.")
    unproved = _unproved(looked, len(pictures)) if balls else []
    faults = (
        *([SMOOTH_SAID] if smoothed(frames, seen.settled.blur_px) else []),
        *_doubts(looked, seen.settled, unproved),
        *strange,
        *_faults(checked, dark, has_balls=bool(balls), usable=len(usable)),
    )
    good = len(usable) >= ENOUGH and len(lit) >= ENOUGH
    enough = good and not missing and not strange and not any(seen.twice)
    rims = seen.settled.rims
    enough = enough and len(unproved) < len(balls) and not rims.wider and not rims.unlaid
    return LiveCheck(checked, tuple(missing), gap, enough, faults)


@dataclass(frozen=True)
class _Seen:
    """Balls and moves, torches by them, whether two shone at once, whether all is out of focus."""

    settled: SettledBalls
    lights: list[Light | None]
    twice: list[bool]
    soft: bool = False


def _seen(frames: Frames, looked: FoundBalls, table: NDArray[np.float32]) -> _Seen:
    """What the balls tell; what is round and mirrors no torch is no ball."""
    count = len(frames.pictures)
    settled = settled_balls(frames, looked.circles, table)
    if settled.balls:
        mirrored = lights_of_balls(
            frames.pictures,
            settled.balls,
            settled.moves,
            PlateFrame(frames.shape),
            table,
            settled.blur_px,
        ).seen
        lights = [light for light, _ in mirrored]
        twice = [why == TWO_TORCHES for _, why in mirrored]
        soft = settled.blur_px > SOFT_PX
        lit = sum(light is not None for light in lights) + sum(twice)
        if soft or lit >= LIT * count:
            return _Seen(settled, lights, twice, soft)
    first, *others = frames.pictures
    moves = [Move(), *(Move(rough_shift(first, one)) for one in others)]
    nothing = settled_balls(frames, (), table)
    return _Seen(replace(nothing, moves=moves), [None] * count, [False] * count)


def _doubts(
    looked: FoundBalls, settled: SettledBalls, unproved: Sequence[Circle]
) -> tuple[str, ...]:
    """What is doubted of the balls, worst first."""
    balls = settled.balls
    if not balls:
        return ()
    alone = looked.fellow is not None and len(balls) == 1
    return (
        *([said_of_unproved(unproved)] if unproved else []),
        *([settled.rims.told] if settled.rims.told else []),
        *([said_of_fellow(balls[0], looked.fellow)] if alone and looked.fellow else []),
    )


def _unproved(looked: FoundBalls, count: int) -> list[Circle]:
    """Balls that no shadow proves to be any; of too few photographs that is not told yet."""
    if count < FEWEST:
        return []
    return [ball for ball, sure in zip(looked.circles, looked.proved, strict=True) if not sure]


def _strange(names: Sequence[str], agreement: Agreement) -> list[str]:
    """What is said of photographs that show something else, or repeat one another."""
    said = [
        f"{names_in_words([names[n] for n in plate])}: not what the rest show. Leave out what "
        "shows another plate, or is turned, mirrored or cropped."
        for plate in plates_in(agreement.detail)[1:]
    ]
    copies = copies_in(agreement.lit)
    if copies:
        said.append(
            f"Saved again, not taken again: {names_in_words([names[n] for n in copies])}. Move "
            "the torch for each."
        )
    return said


def _usable(one: FrameCheck) -> bool:
    still = one.moved_px <= MOVED_PX and not one.rolled
    return one.sharp and one.saturated <= SATURATED and still


def _dark_said(lights: Sequence[Light], missing: Sequence[str], gap: DarkArc | None) -> str:
    if not missing:
        return ""
    none = dark_quadrants(lights)
    wide = (
        f"between one torch and the next lie {gap.width_deg:.0f} degrees at the {gap.side}"
        if gap is not None and len(lights) > 1
        else ""
    )
    if none:
        more = f" ({wide})" if wide else ""
        return f"No torch shone from the {', the '.join(none)}{more}: add two from there."
    return f"{wide.capitalize()}, 45 would be good: add two from there."


def _faults(
    frames: Sequence[FrameCheck], unlit: str, *, has_balls: bool, usable: int
) -> tuple[str, ...]:
    said = []
    if not has_balls:
        said.append(
            "No polished ball was found: lay two at opposite corners of the plate, clean and in "
            "view."
        )
    # white has no detail to be sharp
    blurred = [one.name for one in frames if not one.sharp and one.saturated <= SATURATED]
    if blurred:
        said.append(f"Blurred: {', '.join(blurred)}. Take them again, without touching the stand.")
    moved = [one.name for one in frames if one.moved_px > MOVED_PX]
    if moved:
        said.append(f"The camera moved before {', '.join(moved)}: fasten the stand, begin again.")
    rolled = [one.name for one in frames if one.rolled and one.moved_px <= MOVED_PX]
    if rolled:
        said.append(
            f"The balls lie otherwise in {', '.join(rolled)}: they rolled. Hold them with a dab of "
            "putty, begin again."
        )
    bright = [one.name for one in frames if one.saturated > SATURATED]
    if bright:
        said.append(f"Overexposed: {', '.join(bright)}. Expose for the brightest part, by hand.")
    twice = [one.name for one in frames if one.lit_twice]
    if twice:
        said.insert(
            0,
            f"Two lights alike are mirrored in the balls in {', '.join(twice)}: put out every lamp "
            "but the torch.",
        )
    dark = [one.name for one in frames if has_balls and one.light is None and not one.lit_twice]
    if dark:
        said.append(
            f"The torch's highlight was not found on the balls in {', '.join(dark)}: keep your "
            "hand "
            "and your shadow away from them."
        )
    if unlit:
        said.append(unlit)
    radii = [one.ball_radius_px for one in frames if one.ball_radius_px is not None]
    if radii and min(radii) < SMALL_BALL_PX:
        said.append(
            f"The balls are {min(radii):.0f} px in radius, over {SMALL_BALL_PX:.0f} are wanted: go "
            "closer, or take larger ones."
        )
    if usable < ENOUGH:
        said.append(f"{usable} photographs are good, at least {ENOUGH} are needed: 24 are best.")
    return tuple(said)
