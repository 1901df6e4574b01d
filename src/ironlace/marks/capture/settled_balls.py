"""Where balls lie and how photographs lie to one another, each told by the other.

Outlines are fitted on the mean of the photographs, which must be straightened for it, which is done
by the outlines. Balls that mirror the plate along their rims were found too small, and what is
mirrored moves with the torch: photographs are then laid to one another by the plate itself, and the
rims sought in their mean where the balls' shadows begin. Relief and live check both take balls from
here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ironlace.marks.capture.by_the_plate import FEWEST, moved_by_plate
from ironlace.marks.capture.fellow_balls import moving_spots
from ironlace.marks.capture.frames import Frames, Grey
from ironlace.marks.capture.mirrored_rims import RIM_REACH, WIDER, rim_by_shadow, rims_in
from ironlace.marks.capture.outlines import Circle, blur_of, refined
from ironlace.marks.capture.registering import (
    FARTHEST_PX,
    Move,
    registered,
    rough_shift,
    straightened,
)

SOFT_PX = 1.5
"""Standard width of a ball's blurred outline above which all photographs are out of focus: fine
strokes are a few pixels wide.
"""
ROLLED_PX = 1.0
"""Pixels by which balls may contradict one another on how the camera moved."""
CONTRADICT_PX = 0.12
"""Pixels by which balls that mirror nothing hardly ever contradict one another in the middle one of
the photographs: 0.02 to 0.05 (`bench/marks_relief.py`); path-traced ones that mirror the plate do
by 0.16 to 0.4."""
CONTRADICT_OF_BLUR = 0.14
"""The same as a share of the standard width of the balls' outlines, where photographs are larger or
softer: an outline is known to a share of its width. Those path-traced ones have outlines of 0.9 to
1.3 px; photographs enlarged until theirs were 1.9 contradict one another by 0.156."""
AS_FAR_AS = 6.0
"""Times what balls contradict one another by that photographs laid by the plate may lie off those
laid by them: 2 on a path-traced plate; farther off, and the plate shows nothing to be laid by."""
RIM_FOUND = 0.03
"""Share of the radius to which a rim is found where its shadow begins: of nine balls that mirror
the plate it was 0.056 off at most, 0.025 in the middle (`bench/marks_balls.py rims`)."""
RIM_IN_MEAN = 0.015
"""The same of one that was sought in the mean of photographs laid by the plate: radii 0.001 to
0.009 off and middles up to 0.010 on five sets of path-traced plates, whose torches were then told
to 0.24, 0.25, 0.46, 0.71 and 0.83 degrees; of 24 photographs each."""
_OF_SO_MANY = 24
"""Photographs of which that was measured. Of 12 of each set torches were 0.23 to 0.24 degrees off,
and 1.23 for the 0.83: noise of the mean, which grows as the root."""
CONTRADICT_FEW_PX = 0.25
"""The same of fewer than `FEWEST` photographs whose balls are not seen to mirror the plate: dark
ones of 20 to 50 px in radius were 0.01 to 0.17 apart in the middle one of six (twelve plates of
`struck_plates.py`), mirroring ones 0.30 to 0.61."""
CONTRADICT_DEG = 2.0
"""How far torches are off where balls that contradict one another lay fewer than `FEWEST`
photographs: 0.4 to 2.5 degrees, their squares' mean 1.6, of six photographs of each of seven
path-traced plates; distances 2 to 27 %, shifts 0.3 to 2.0 px, normals 2.7 to 6.7 degrees."""

Window = tuple[NDArray[np.float32], int, int]
"""Mean light about a ball, and where that begins in the picture: left, top."""


@dataclass(frozen=True)
class Rims:
    """What balls' shadows say of their outlines.

    Attributes
    ----------
    wider
        Balls whose outline lies within their rim, and how many times as wide that is.
    sought
        Whether others were such, and were fitted again where their shadows begin.
    in_mean
        Whether that was in the mean of photographs that were laid by the plate.
    apart
        Whether they were laid so for the balls contradict one another alone.
    unlaid
        Whether they contradict one another so, but photographs are too few to be laid by the plate.
    photographs
        How many the mean is of.
    """

    wider: Mapping[Circle, float]
    sought: bool = False
    in_mean: bool = False
    apart: bool = False
    unlaid: bool = False
    photographs: int = _OF_SO_MANY

    @property
    def degrees(self) -> float:
        """How far off the torch's direction is by outlines so much too small.

        A highlight at a share p of the radius tells a torch 2 arcsin p from the upright; p is 0.45
        of a torch 36 degrees high.
        """
        of_mean = RIM_IN_MEAN * max(_OF_SO_MANY / max(self.photographs, 1), 1.0) ** 0.5
        found = of_mean if self.in_mean else RIM_FOUND
        rim = max(self.wider.values(), default=1 + found * self.sought)
        rims = float(np.degrees(2 * (np.arcsin(min(0.45 * rim, 1.0)) - np.arcsin(0.45))))
        return float(np.hypot(rims, CONTRADICT_DEG * self.unlaid))

    @property
    def told(self) -> str:
        """What a person should know of it, else nothing."""
        places = "; ".join(f"{ball.x:.0f}, {ball.y:.0f}" for ball in self.wider)
        mend = f"Take {FEWEST} photographs or more, the torch all round"
        if places:
            more = 100 * (max(self.wider.values()) - 1)
            return (
                f"What lies at {places} px mirrors the plate along its rim, and the edge of that "
                f"was taken for its outline: its shadow is some {more:.0f} % wider, and torches "
                f"told by it are some {self.degrees:.0f} degrees wrong. {mend}, by which the rims "
                "are sought another way, or point at them (by command, --balls)."
            )
        if self.unlaid:
            return (
                "The balls contradict one another on how the camera moved, as those do that mirror "
                f"the plate: torches are known to some {self.degrees:.0f} degrees and their "
                "distances to a fifth, photographs lie one or two pixels off one another, and "
                f"slopes are some 4 degrees wrong. {mend}: they are then laid to one another by "
                "the plate. Black balls that mirror little besides the torch do as well."
            )
        if self.sought and self.in_mean:
            why = (
                "The balls contradict one another on how the camera moved, as those do that mirror "
                "the plate"
                if self.apart
                else "The balls mirror the plate along their rims"
            )
            return (
                f"{why}: the photographs were laid to one another by the plate instead, and the "
                "rims sought in all of them together. "
                f"Torches are known to some {self.degrees:.1f} degrees."
            )
        if self.sought:
            return (
                "The balls mirror the plate along their rims, which were told by where their "
                f"shadows begin: torches are known to some {self.degrees:.0f} degrees. {mend}: "
                "the rims are then sought in all of them together."
            )
        return ""


@dataclass(frozen=True)
class SettledBalls:
    """Balls and moves of photographs.

    Attributes
    ----------
    balls
        In the first photograph.
    moves
        Of each photograph against the first.
    circles
        The balls in each photograph.
    why
        For each photograph, why its move is not to be believed; empty where it is.
    blur_px
        Standard width of the balls' outlines.
    rims
        What their shadows say of their outlines.
    notices
        What a person should know of them.
    """

    balls: list[Circle]
    moves: list[Move]
    circles: list[tuple[Circle, ...]]
    why: list[str]
    blur_px: float
    rims: Rims
    notices: tuple[str, ...] = ()


def settled_balls(
    frames: Frames, found: Sequence[Circle], table: NDArray[np.float32]
) -> SettledBalls:
    """Balls and moves, balls fitted again at their rims where their outlines lay within.

    Parameters
    ----------
    found
        The balls as they were found or pointed at, in the median photograph; there may be none.
    table
        Light of each number (`light_of_numbers`).
    """
    first = _registered_twice(frames, found, table)
    wider = first.rims.wider
    if not wider:
        return _laid_by_plate(frames, first, table)
    larger = as_wide_as_shadows(first.balls, wider)
    # outlines in single photographs are no second opinion: where the mean of many shows no rim they
    # were an eighth off, and alike
    in_mean = len(frames.pictures) >= FEWEST
    again = (
        _by_rims(frames, first, larger, table)
        if in_mean
        else _registered_twice(frames, larger, table)
    )
    if again is None:
        return first
    left = again.rims
    radii = [ball.r for ball in again.balls]
    of_a_size = max(radii) < (1 + 2 * RIM_FOUND) * min(radii)
    if len(left.wider) < len(wider) and (of_a_size or left.wider):
        told = replace(left, sought=True, in_mean=in_mean, photographs=len(frames.pictures))
        again = replace(again, rims=told)
        return again if in_mean else _laid_by_plate(frames, again, table)
    return first


def as_wide_as_shadows(balls: Sequence[Circle], wider: Mapping[Circle, float]) -> list[Circle]:
    """Balls with the radii that their shadows tell; such as tell none have their fellows'.

    Balls are bought in pairs. One that has that radius already was found by its rim, and stays.

    Parameters
    ----------
    wider
        Balls whose outline lies within their rim, and how many times as wide that is; one at least.
    """
    usual = float(np.median([ball.r * by for ball, by in wider.items()]))
    return [
        replace(ball, r=ball.r * wider[ball])
        if ball in wider
        else (ball if usual < WIDER * ball.r else replace(ball, r=usual))
        for ball in balls
    ]


def _by_rims(
    frames: Frames, first: SettledBalls, larger: Sequence[Circle], table: NDArray[np.float32]
) -> SettledBalls | None:
    """Balls at their rims, in the mean of photographs that were laid by the plate.

    None where no rims are seen so.
    """
    moves = _moves_by_plate(frames, first, larger, table)
    about = [_mean_about(frames, b, moves, table, RIM_REACH * b.r + 16) for b in larger]
    rims = rims_in([one[0] for one in about], _in_windows(larger, about))
    return None if rims is None else _laid(frames, first, moves, about, rims)


def _laid_by_plate(frames: Frames, first: SettledBalls, table: NDArray[np.float32]) -> SettledBalls:
    """The same, laid by the plate where the balls contradict one another as none does that is dark.

    What they mirror moves with the torch; their outlines may be their rims all the same.
    """
    doubts = [move.doubt_px for move in first.moves[1:]]
    if not doubts or not np.isfinite(doubts).all():
        return first
    contradicted = float(np.median(doubts))
    hardly = max(CONTRADICT_PX, CONTRADICT_OF_BLUR * first.blur_px)
    if contradicted < hardly:
        return first
    if len(frames.pictures) < FEWEST:
        much = CONTRADICT_FEW_PX * hardly / CONTRADICT_PX
        mirror = first.rims.sought or contradicted > much
        return replace(first, rims=replace(first.rims, unlaid=mirror))
    if any(first.why):
        return first
    moves = _moves_by_plate(frames, first, first.balls, table)
    apart = np.array([m.shift_px for m in moves]) - [m.shift_px for m in first.moves]
    if np.sqrt((apart**2).mean()) > AS_FAR_AS * contradicted:
        return first
    about = [_mean_about(frames, ball, moves, table, ball.r + 14) for ball in first.balls]
    laid = _laid(frames, first, moves, about, _in_windows(first.balls, about))
    count = len(frames.pictures)
    told = replace(laid.rims, sought=True, in_mean=True, apart=True, photographs=count)
    return replace(laid, rims=told)


def _moves_by_plate(
    frames: Frames, first: SettledBalls, balls: Sequence[Circle], table: NDArray[np.float32]
) -> list[Move]:
    """How the photographs lie by the plate itself, these balls not looked at."""
    towards = _towards(frames.pictures, first.balls)
    return moved_by_plate(frames, first.moves, balls, towards, table)


def _in_windows(balls: Sequence[Circle], about: Sequence[Window]) -> list[Circle]:
    """Balls in the windows that were cut about them."""
    return [
        Circle(ball.x - left, ball.y - top, ball.r)
        for ball, (_, left, top) in zip(balls, about, strict=True)
    ]


def _laid(
    frames: Frames,
    first: SettledBalls,
    moves: list[Move],
    about: Sequence[Window],
    near: Sequence[Circle],
) -> SettledBalls:
    """Balls fitted near these in windows of the mean, with other moves."""
    fitted = [_fine(mean, ball) for (mean, _, _), ball in zip(about, near, strict=True)]
    balls = [
        Circle(fine.x + left, fine.y + top, fine.r)
        for (fine, _), (_, left, top) in zip(fitted, about, strict=True)
    ]
    middles = np.array([(ball.x, ball.y) for ball in balls])
    circles = [
        tuple(
            replace(ball, x=float(x), y=float(y))
            for ball, (x, y) in zip(balls, move.places(middles, frames.shape), strict=True)
        )
        for move in moves
    ]
    blurs = [blur for _, blur in fitted if blur]
    blur = float(np.mean(blurs)) if blurs else first.blur_px
    seen = rims_of(frames.pictures, balls)
    return replace(first, balls=balls, moves=moves, circles=circles, blur_px=blur, rims=seen)


def _towards(pictures: Sequence[Grey], balls: Sequence[Circle]) -> NDArray[np.float64]:
    """Unit vectors along the picture towards the torches; zero where no ball tells it."""
    seen = np.zeros((len(pictures), 2))
    for ball in balls:
        spots = moving_spots(pictures, ball)
        if spots is not None:
            seen += np.where(spots.small[:, None], spots.places, 0.0)
    far = np.hypot(*seen.T)[:, None]
    return np.asarray(np.divide(seen, far, out=np.zeros_like(seen), where=far > 0.05))


def _registered_twice(
    frames: Frames, found: Sequence[Circle], table: NDArray[np.float32]
) -> SettledBalls:
    """Balls fitted on photographs straightened by them, and these registered by those again."""
    why = [""] * len(frames.pictures)
    if not found:
        return SettledBalls(
            [],
            [Move() for _ in frames.pictures],
            [() for _ in frames.pictures],
            why,
            0.0,
            Rims({}),
            ("Nothing registers photographs without a ball: small moves of the camera stay in.",),
        )
    moves, _ = registered(frames.pictures, found, table)
    balls, blur = _settled(frames, found, moves, table)
    moves, circles = registered(frames.pictures, balls, table, blur)
    balls = _on_the_first(balls, moves, circles, frames.shape)
    notices = []
    if blur > SOFT_PX:
        notices.append(
            f"All photographs are out of focus: even the balls' outlines are blurred over some "
            f"{2 * blur:.0f} px, so fine strokes come out too shallow or are lost. Focus by hand, "
            "and take them again."
        )
    if len(balls) == 1:
        notices.append("One ball tells how the camera was shifted, not how it was turned.")
    for n, move in enumerate(moves):
        doubtful = move.doubt_px > ROLLED_PX
        if doubtful or max(map(abs, move.shift_px)) > FARTHEST_PX:
            rough = rough_shift(frames.pictures[0], frames.pictures[n])
            why[n] = (
                "the camera moved too far, or the balls rolled: they do not lie as in the first "
                f"photograph (some {np.hypot(*rough):.0f} px off)"
            )
    rims = rims_of(frames.pictures, balls)
    each = [tuple(one) for one in circles]
    return SettledBalls(balls, list(moves), each, why, blur, rims, tuple(notices))


def _settled(
    frames: Frames, found: Sequence[Circle], moves: Sequence[Move], table: NDArray[np.float32]
) -> tuple[list[Circle], float]:
    """Outlines fitted on the mean of the straightened photographs, and their blur in pixels.

    A mean of light keeps what a blurred edge is judged by, where its light is balanced; the median
    of photographs whose cast shadows and grain differ is no such edge: it is broader, and the
    radius comes out up to 0.15 px too small.
    """
    out, blurs = [], []
    for ball in found:
        mean, left, top = _mean_about(frames, ball, moves, table, ball.r + 14)
        fine, blur = _fine(mean, Circle(ball.x - left, ball.y - top, ball.r))
        blurs += [blur] if blur else []
        out.append(Circle(fine.x + left, fine.y + top, fine.r))
    return out, float(np.mean(blurs)) if blurs else 0.8


def _mean_about(
    frames: Frames, ball: Circle, moves: Sequence[Move], table: NDArray[np.float32], far: float
) -> Window:
    """Mean light about a ball in straightened photographs, and where its window begins."""
    still = [
        (picture, move)
        for picture, move in zip(frames.pictures, moves, strict=True)
        if not move.doubt_px > ROLLED_PX  # nan where one ball alone tells nothing
    ]
    reach = int(far)
    top, left = max(int(ball.y) - reach, 0), max(int(ball.x) - reach, 0)
    bottom = min(int(ball.y) + reach, frames.shape[0])
    right = min(int(ball.x) + reach, frames.shape[1])
    mean = np.zeros((bottom - top, right - left), np.float32)
    for picture, move in still:
        mean += table[straightened(picture, move, top, bottom, frames.shape, (left, right))]
    return mean / np.float32(len(still)), left, top


def _fine(mean: NDArray[np.float32], ball: Circle) -> tuple[Circle, float]:
    """An outline fitted near a circle, which stays where none is seen; and its blur, 0 unknown."""
    fine, spread, _ = refined(mean, ball)
    blur = 0.0
    if np.isfinite(spread):
        for _ in range(2):  # what is taken for the blur moves the radius, by half as much
            blur = blur_of(mean, fine)
            fine, spread, _ = refined(mean, fine, blur_px=blur)
    return (fine if np.isfinite(spread) and abs(fine.r - ball.r) < 3 else ball), blur


def _on_the_first(
    found: Sequence[Circle],
    moves: Sequence[Move],
    circles: Sequence[Sequence[Circle]],
    shape: tuple[int, int],
) -> list[Circle]:
    """Each ball as all photographs show it, laid on the first: medians of centre and radius."""
    out = []
    for n, ball in enumerate(found):
        places = np.array(
            [
                move.back(np.array([[one[n].x, one[n].y]]), shape)[0]
                for move, one in zip(moves, circles, strict=True)
            ]
        )
        x, y = np.median(places, axis=0)
        out.append(Circle(float(x), float(y), ball.r))
    return out


def rims_of(pictures: Sequence[Grey], balls: Sequence[Circle]) -> Rims:
    """Look where the balls' shadows begin."""
    rims = {ball: rim_by_shadow(pictures, ball) for ball in balls}
    return Rims({ball: rim for ball, rim in rims.items() if rim is not None and rim > WIDER})
