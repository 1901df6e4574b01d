"""From photographs to where camera and torch stood: balls, moves, lights, and what is wrong."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ironlace.marks.capture.balls import Fellow, FoundBalls, find_balls
from ironlace.marks.capture.far_shadows import stands_free
from ironlace.marks.capture.frames import (
    SATURATED,
    Encoding,
    Frames,
    all_sharp,
    light_of_numbers,
    median_picture,
    saturated_share,
    smoothed,
)
from ironlace.marks.capture.geometry import PlateFrame
from ironlace.marks.capture.lights import (
    TWO_TORCHES,
    WIDEST_DEG,
    Light,
    lights_of_balls,
    missing_quadrants,
    widest_gap,
)
from ironlace.marks.capture.one_plate import (
    agreement_of,
    copies_in,
    names_in_words,
    plates_in,
)
from ironlace.marks.capture.outlines import Circle, blur_of, refined
from ironlace.marks.capture.registering import Move
from ironlace.marks.capture.settled_balls import (
    Rims,
    SettledBalls,
    settled_balls,
)
from ironlace.marks.errors import MarksError

SMALL_BALL_PX = 100.0
"""Radius below which a ball tells the torch's direction poorly: half a pixel is then 0.6
degrees.
"""
BROADER_PX = 0.25
"""By how much an outline must be blurred more than usual for a photograph to be called so: one out
of focus by a pixel has 1.2 for 0.65."""
STRAYS = 0.25
"""Share of photographs of something else that may be left out; with more nobody knows which plate
is meant.
"""
ALONE_DEG = 2.5
"""Degrees, one standard deviation, to which one ball tells the torches' directions: nothing else
contradicts an outline found wrong, and distances are not known. Of plates with balls of 20 to 30 px
on which one was missed 95 % were within 6 degrees, which is 2.45 deviations in the plane."""
MOST_DEG = 8.0
"""Degrees beyond which a doubt of the torches is not told any larger: the least balls give it, and
rivets about half as high as wide that pass for balls (9 to 10, `bench/marks_false_balls.py`)."""
NEAR_MM = 600.0
"""Height of the camera below which it is told: plates are then seen over two degrees aslant."""

SMOOTH_SAID = (
    "The balls' outlines are sharp and the metal between them is smooth: a program took fine "
    "detail out, as by night or against noise, unless the metal is. Faint strokes are too shallow "
    "or lost. Turn that off, or give the camera's raw pictures."
)
"""Said of photographs that were smoothed."""


@dataclass(frozen=True)
class GivenBall:
    """A ball pointed at: its outline in the first photograph and, where known, its radius in mm."""

    circle: Circle
    r_mm: float | None = None


@dataclass(frozen=True)
class Captured:
    """Where camera and torch stood.

    Attributes
    ----------
    plate
        Size and scale of the first photograph.
    balls
        In the first photograph.
    moves
        Of each photograph against the first.
    lights
        Of each photograph; None where it is not known.
    why
        For each photograph, why it is not used; empty where it is.
    notices
        What a person should know of the whole, worst first.
    torches_deg
        How far off the torches' directions may be, all alike, by the size and number of the balls:
        one standard deviation, degrees; 0 where they were told.
    smoothed
        Whether a program smoothed the metal's fine detail.
    of_rims
        The one notice that is said before all that follows of it: what balls mirror of the plate.
    """

    plate: PlateFrame
    balls: tuple[Circle, ...]
    moves: tuple[Move, ...]
    lights: tuple[Light | None, ...]
    why: tuple[str, ...]
    notices: tuple[str, ...]
    torches_deg: float = 0.0
    smoothed: bool = False
    of_rims: str = ""

    @property
    def used(self) -> list[int]:
        """Numbers of the photographs that are used."""
        return [n for n, why in enumerate(self.why) if not why]

    def missing_quadrants(self) -> list[str]:
        """Quarters from which no torch shone."""
        return missing_quadrants([light for n in self.used if (light := self.lights[n])])


@dataclass(frozen=True)
class CaptureAsked:
    """What a person says of the capture; what is None is found, or stays unknown.

    Attributes
    ----------
    balls
        Pointed at by a person, refined here; searched for if not given.
    ball_mm
        Diameter of the balls that are searched for.
    mm_per_px
        Scale, if it is known.
    lights
        One for each photograph, where the torch's places were measured; balls then serve to
        register the photographs, if there are any.
    """

    balls: Sequence[GivenBall] | None = None
    ball_mm: float | None = None
    mm_per_px: float | None = None
    lights: Sequence[Light] | None = None


def captured(frames: Frames, asked: CaptureAsked, encoding: Encoding = "srgb") -> Captured:
    """Find where camera and torch stood.

    Parameters
    ----------
    encoding
        How the photographs' numbers stand for light.

    Raises
    ------
    MarksError
        When there is no ball and no light is given, or too few photographs remain.
    """
    frames.must_be_enough()
    table = light_of_numbers(frames.white, encoding)
    seen_balls = _balls(frames, asked)
    found = list(seen_balls.circles)
    notices: list[str] = []
    if not found and asked.lights is None:
        raise MarksError(
            "No polished ball was found in these photographs, nothing round that mirrors a torch "
            "and throws a ball's shadow: lay one or two on the plate where "
            "the torch is mirrored in them; by command, point at them in a file (--balls), type "
            "where the torch stood (--lights), or go without (--uncalibrated)."
        )
    settled = settled_balls(frames, found, table)
    found, moves, rims = settled.balls, settled.moves, settled.rims
    notices += settled.notices
    why = _of_one_plate(frames, found, moves, settled.why)
    plate = _plate(frames, found, asked, notices)
    _say_of_frames(frames, sharp_with_balls(frames, found, moves, table), notices)
    unproved: list[Circle] = []
    if asked.lights is not None:
        seen: list[tuple[Light | None, str]] = [(light, "") for light in asked.lights]
    else:
        mirrored = lights_of_balls(frames.pictures, found, moves, plate, table, settled.blur_px)
        seen = list(mirrored.seen)
        if not any(light for light, _ in seen):
            raise MarksError(_no_light(found, notices, [why for _, why in seen]))
        unproved = _say_of_found(seen_balls, settled, mirrored.near, plate, notices)
    smooth = smoothed(frames, settled.blur_px)
    if smooth:
        notices.insert(0, SMOOTH_SAID)
    why = [first or then for first, (_, then) in zip(why, seen, strict=True)]
    answer = Captured(
        plate,
        tuple(found),
        tuple(moves),
        tuple(light for light, _ in seen),
        tuple(why),
        tuple(notices),
        0.0 if asked.lights is not None else _degrees_of_balls(found, len(unproved), rims),
        smooth,
        rims.told if asked.lights is None else "",
    )
    return _judged(answer, frames)


def _say_of_found(
    seen_balls: FoundBalls,
    settled: SettledBalls,
    near: float,
    plate: PlateFrame,
    notices: list[str],
) -> list[Circle]:
    """Say what is doubted of balls that tell the torches; those that nothing proves to be any."""
    found = settled.balls
    _say_of_balls(found, notices)
    if seen_balls.fellow is not None:
        notices.insert(0, said_of_fellow(found[0], seen_balls.fellow))
    if near * NEAR_MM > 1 and plate.scale_known:
        notices.insert(0, _said_of_near(1 / near, plate))
    if settled.rims.told:
        notices.insert(0, settled.rims.told)
    sure = zip(found, seen_balls.proved, strict=True)
    unproved = [ball for ball, proved in sure if not proved]
    if unproved:  # before the camera's height, which was reckoned by them
        notices.insert(0, said_of_unproved(unproved))
    return unproved


def sharp_with_balls(
    frames: Frames, balls: Sequence[Circle], moves: Sequence[Move], table: NDArray[np.float32]
) -> list[bool]:
    """Whether each photograph is as sharp as the rest; where balls lie, by their outlines as well.

    Fine detail is less in another light, or beside a noisier photograph; an outline is not.
    """
    sharp = all_sharp(frames)
    good = [n for n, one in enumerate(sharp) if one]
    if all(sharp) or not balls:
        return sharp

    def blur(n: int) -> float:
        widths = []
        for ball in balls:
            (x, y), *_ = moves[n].places(np.array([[ball.x, ball.y]]), frames.shape)
            reach = int(ball.r + 14)
            top, left = max(int(y) - reach, 0), max(int(x) - reach, 0)
            window = table[frames.pictures[n][top : int(y) + reach, left : int(x) + reach]]
            here, _, _ = refined(window, Circle(float(x) - left, float(y) - top, ball.r))
            widths.append(blur_of(window, here))
        return min(widths)

    usual = float(np.median([blur(n) for n in good[:: max(len(good) // 5, 1)]]))
    return [one or blur(n) < usual + BROADER_PX for n, one in enumerate(sharp)]


def _say_of_frames(frames: Frames, sharp: Sequence[bool], notices: list[str]) -> None:
    """Say which photographs are blurred or overexposed; they are used, with their faults."""
    white = [saturated_share(one, frames.white) > SATURATED for one in frames.pictures]
    told = list(zip(frames.names, white, sharp, strict=True))
    blurred = [name for name, over, sharp in told if not (sharp or over)]
    if blurred:
        notices.insert(
            0,
            f"{', '.join(blurred)} {'is' if len(blurred) == 1 else 'are'} less sharp than the "
            "rest, "
            "out of focus or shaken: take them again, or leave them out.",
        )
    bright = [name for name, over, _ in told if over]
    if bright:
        notices.insert(
            0,
            f"{', '.join(bright)} {'is' if len(bright) == 1 else 'are'} overexposed: more than "
            f"{100 * SATURATED:.0f} % is white, where no slope can be told.",
        )


def _balls(frames: Frames, asked: CaptureAsked) -> FoundBalls:
    """The balls that a person pointed at, or that are found."""
    median = median_picture(frames.pictures)
    if asked.balls is None:
        known = asked.ball_mm and asked.mm_per_px
        radius = asked.ball_mm / 2 / asked.mm_per_px if known else None  # type: ignore[operator]
        return find_balls(median, frames.pictures, radius_px=radius)
    found = []
    for number, ball in enumerate(asked.balls, 1):
        fine, spread_px, seen = refined(median, ball.circle)
        off = np.hypot(fine.x - ball.circle.x, fine.y - ball.circle.y)
        if spread_px > 0.8 or seen < 0.5 or off > 6 or abs(fine.r - ball.circle.r) > 6:
            raise MarksError(
                f"Ball {number}, given at {ball.circle.x:.0f}, {ball.circle.y:.0f} with a "
                "radius of "
                f"{ball.circle.r:.0f} px, shows no outline there: point at its rim to a few "
                "pixels, "
                "in the first photograph."
            )
        found.append(fine)
    proved = tuple(bool(stands_free(frames.pictures, ball)) for ball in found)
    return FoundBalls(tuple(found), proved)


def said_of_fellow(ball: Circle, fellow: Fellow) -> str:
    """Where a second ball may lie that was not taken for one."""
    x, y = fellow.circle.x, fellow.circle.y
    return (
        f"One ball was found, at {ball.x:.0f}, {ball.y:.0f}. What lies at {x:.0f}, {y:.0f} px is "
        "about as large and as round, but its rim, or the torch mirrored in it, is not seen as on "
        "the ball: if it is the second ball, point at both (by command, --balls), for one alone "
        "tells no distance."
    )


def _of_one_plate(
    frames: Frames, found: Sequence[Circle], moves: Sequence[Move], why: Sequence[str]
) -> list[str]:
    """Why photographs are left out, those of something else and copies among them.

    Raises MarksError where too many show something else.
    """
    agreement = agreement_of(frames.pictures, moves, found)
    plates = plates_in(agreement.detail)
    others = [n for plate in plates[1:] for n in plate if not why[n]]
    out = list(why)
    if len(others) > STRAYS * len(frames.names):
        told = [names_in_words([frames.names[n] for n in plate]) for plate in plates[:2]]
        raise MarksError(
            f"These photographs do not show one plate as it lay: {told[0]} do not agree with "
            f"{told[1]}. Give those of one plate alone, none turned, mirrored or cropped."
        )
    for n in others:
        out[n] = (
            "it does not show what the rest show: another plate, or this one lit by a flash, "
            "turned, mirrored, nearer or far out of focus"
        )
    for n, first in copies_in(agreement.lit).items():
        out[n] = out[n] or f"it is {frames.names[first]} saved again: the torch had not moved"
    return out


def _no_light(found: Sequence[Circle], notices: Sequence[str], why: Sequence[str]) -> str:
    if TWO_TORCHES in why:
        return (
            f"In {why.count(TWO_TORCHES)} of {len(why)} photographs two lights alike are mirrored "
            "in the balls: put out every lamp but the torch, and take them again."
        )
    soft = [one for one in notices if "out of focus" in one]
    if soft:
        return f"{soft[0]} No highlight of the torch can be told on the balls."
    return (
        f"No polished ball was found in these photographs: what is round in them, "
        f"{found[0].r:.0f} px in radius at {found[0].x:.0f}, {found[0].y:.0f}, mirrors no torch. "
        "Lay one or two polished balls on the plate; by command, point at them in a file (--balls),"
        " type where the torch stood (--lights), or go without (--uncalibrated)."
    )


def _plate(
    frames: Frames, found: Sequence[Circle], asked: CaptureAsked, notices: list[str]
) -> PlateFrame:
    sizes = [2 * ball.r_mm for ball in asked.balls or () if ball.r_mm]
    if asked.mm_per_px is not None:
        return PlateFrame(frames.shape, asked.mm_per_px, True)
    across = float(np.mean(sizes)) if sizes else asked.ball_mm
    if across and found:
        radius = float(np.mean([ball.r for ball in found]))
        return PlateFrame(frames.shape, across / 2 / radius, True)
    notices.append(
        "No scale was given: depths are in pixels. Give the balls' diameter (--ball-mm) or the "
        "scale "
        "(--mm-per-px)."
    )
    return PlateFrame(frames.shape)


def _said_of_near(height_mm: float, plate: PlateFrame) -> str:
    """What a person should know of a camera that stood so near."""
    aslant = np.degrees(np.arctan(plate.mm_per_px * np.hypot(*plate.shape) / 2 / height_mm))
    return (
        f"The camera stood some {height_mm / 10:.0f} cm above the plate, by what the balls mirror. "
        "The torch's places are worked out for that; but the picture's corners are seen "
        f"{aslant:.0f} degrees aslant, which the metal's shine is not worked out for, and balls "
        "seem larger against the plate than they are. Stand 60 cm off or farther, and crop."
    )


def _say_of_balls(found: Sequence[Circle], notices: list[str]) -> None:
    if len(found) == 1:
        notices.append(
            "With one ball the torch's distance is not known and is taken as very far: slopes "
            "are up "
            "to some 5 degrees wrong at the plate's ends, unless a second ball lies at the "
            "opposite "
            "corner."
        )
    small = min(ball.r for ball in found)
    if small < SMALL_BALL_PX:
        notices.append(
            f"The balls are {small:.0f} px in radius, and tell the torch's direction to some "
            f"{_degrees_of_small(small):.1f} degrees: over {SMALL_BALL_PX:.0f} px are wanted for a "
            "tenth of a degree."
        )


def said_of_unproved(unproved: Sequence[Circle]) -> str:
    """What a person should know of balls that nothing proves to be any."""
    places = "; ".join(f"{ball.x:.0f}, {ball.y:.0f}" for ball in unproved)
    return (
        f"What was taken for a ball at {places} px is not proved to be one: the far end of a "
        "ball's shadow is not seen there. A polished rivet or boss looks so, and tells the torch "
        "some ten degrees wrong: look at it, and lay the balls where their shadows are in view."
    )


def _degrees_of_balls(found: Sequence[Circle], unproved: int, rims: Rims) -> float:
    """How far off torches' directions may be by these balls, one standard deviation, degrees.

    Of plates on which one small ball alone is found 95 % are within some 6 degrees. Where none of
    them is proved to be a ball nothing is known to less than `MOST_DEG`.
    """
    if unproved == len(found):
        return MOST_DEG
    small = _degrees_of_small(min(ball.r for ball in found))
    alone = ALONE_DEG if len(found) == 1 else 0.0
    return float(min(np.hypot(np.hypot(small, alone), rims.degrees), MOST_DEG))


def _degrees_of_small(radius_px: float) -> float:
    """How far off the torch's direction is by two balls of that radius, a median, degrees.

    Between what plates of two generators show: 0.08 at 100 px and 0.17 at 60 (one of them), 0.33
    and 0.37 at 40, 0.5 and 0.95 at 30, 1.2 and 4.1 at 20.
    """
    return float(0.08 * (SMALL_BALL_PX / radius_px) ** 2.2)


def _judged(answer: Captured, frames: Frames) -> Captured:
    """Refuse what cannot carry slopes; put the worst notice first."""
    used = answer.used
    if len(used) < 3:
        reasons = [
            f"{name}: {why}" for name, why in zip(frames.names, answer.why, strict=True) if why
        ]
        raise MarksError(
            f"Only {len(used)} of {len(frames.names)} photographs can be used, at least 3 are "
            f"needed ({'; '.join(reasons[:3])})."
        )
    lights = [light for n in used if (light := answer.lights[n])]
    directions = np.array([light.direction for light in lights])
    if np.linalg.svd(directions, compute_uv=False)[-1] < 0.05 * len(used) ** 0.5:
        raise MarksError(
            "The torch stood in one direction, or in one line, for all these photographs: move it "
            "all round the plate, 15 to 55 degrees high. If it did go round, what was taken for "
            "polished balls mirrors no torch: coins and pits are round too."
        )
    gap = widest_gap(lights)
    if gap.width_deg > 180:
        said = (
            f"All the torch's places lie on one side, within {360 - gap.width_deg:.0f} degrees: "
            "slopes towards the other side are in shadow and not known."
        )
        return replace(answer, notices=(said, *answer.notices))
    if gap.width_deg > WIDEST_DEG:
        said = (
            f"No torch stood within {gap.width_deg:.0f} degrees at the {gap.side}: slopes that "
            "face there are known less well than the rest."
        )
        return replace(answer, notices=(*answer.notices, said))
    return answer
