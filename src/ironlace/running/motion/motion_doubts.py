"""What could make the answer about a head's motion wrong, by what it would do to it."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum
from math import pi, radians

import numpy as np

from ironlace.evidence.wording import capital, listed
from ironlace.running.motion.curves import CrankCurve
from ironlace.running.motion.figures import Figure
from ironlace.running.motion.motion_found import (
    Motion,
    MotionFound,
    Suspected,
    more_to_settle,
    no_motion_words,
)

_DEG = 180.0 / pi

_FAR = radians(15.0)
"""A turning point further than this from any reading is told as lying between readings."""

_NOTABLE_DEG = 0.3
"""A disc further off centre is told."""


class Harm(IntEnum):
    """What a doubt does to the answer, the worst first."""

    UPSETS = 0
    """The answer may be of something else."""
    SHIFTS = 1
    """Figures may be off by more than their intervals."""
    ALLOWED = 2
    """The intervals allow for it, or it touches what was not asked."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """One thing that could make the answer wrong.

    Attributes
    ----------
    harm, size
        What it does, and how much in millimetres (degrees of the wheel count a quarter: that is
        what one moves a needle bar by at the middle of its stroke); both order the doubts.
    says
        It, and what to do, in a sentence.
    """

    harm: Harm
    size: float
    says: str


_MM_TO_A_DEGREE = 0.25
"""Millimetres that a needle bar of 30 mm moves in a degree of the wheel at mid-stroke (rounded)."""

_UNNOTICED_MM = 1.0
"""A slip of so much passes unnoticed in readings that go once round (bench/running_motion.py)."""

_SEWS_MM = (0.5, 6.0)
"""Rises at the meeting outside which nothing sews: below, the needle has thrown no loop, and above,
its eye has left it. Wide of all that is printed (common practice, no source)."""

_LOOKED_DEG = 60.0
"""By how much the lowest point may differ from where it was seen to be: looking tells it to some 20
degrees, and a needle bar measured from above has it half a turn off."""

_SEEN_SIGMAS, _SEEN_LEAST_DEG = 3.0, 8.0
"""Where its error was stated: so many of them, and never less than the disc is read and the lowest
point told to (a judgement)."""

_AFTER_DEG = 25.0
"""A take-up gives out most thread after the needle's lowest point, while the loop goes round the
shuttle; one that seems to do so as much before it, or more, runs the other way round."""

_OFF_CENTRE_DEG = 2.0
"""What a disc 2 mm off centre moves a dead centre by, on a disc of 120 mm."""


def doubts_of(found: MotionFound) -> tuple[Doubt, ...]:
    """All doubts, the worst first."""
    every = [
        *_whole(found),
        *_moved(found),
        *_backlash(found),
        *_driven(found),
        *_disc(found),
        *(one for motion in found.motions for one in _between(motion)),
    ]
    return tuple(sorted(every, key=lambda one: (one.harm, -one.size)))


def no_crank(found: MotionFound) -> bool:
    """Whether the needle bar had to be told as a cam's motion."""
    bar = found.of("needle bar")
    return bar is not None and not isinstance(bar.fit.curves[bar.at], CrankCurve)


def far_from_any(found: MotionFound) -> float:
    """How far the rise is from any at which a machine sews, mm; 0 within, or within own limits."""
    if found.met is None:
        return 0.0
    rise, asked = found.met.rise, found.asked
    own = [known.value for known in (asked.rise_low, asked.rise_high) if known is not None]
    low, high = min(_SEWS_MM[0], *own, np.inf), max(_SEWS_MM[1], *own, 0.0)
    return max(0.0, low - rise.value - rise.sd, rise.value - rise.sd - high)


def met_sinking(found: MotionFound) -> float:
    """By how much the needle still sinks as the shuttle's point meets it, degrees; 0 as it rises.

    A needle throws its loop as it rises, whatever drives it: no lockstitch is made before.
    """
    if found.met is None:
        return 0.0
    after = found.met.after_bottom
    return max(0.0, -(after.value + 2.0 * after.sd) * _DEG)


def upside_down(found: MotionFound) -> str:
    """What shows that the needle bar, or the sense of turning, is the other way round; or nothing.

    A lockstitch needs most thread after the needle's lowest point, whatever drives its parts.
    """
    bar, up = found.of("needle bar"), found.of("take-up")
    if bar is None or bar.bottom is None:
        return ""
    sign = -1.0 if found.asked.turning == "fall" else 1.0
    seen = found.asked.lowest_seen
    if seen is not None:
        told = bar.bottom.value * _DEG * sign % 360.0
        off = (told - seen.value + 180.0) % 360.0 - 180.0
        if abs(off) > _LOOKED_DEG:
            return (
                f"The needle was seen lowest at {seen.value % 360.0:.0f}°, and by its figures it "
                f"is lowest at {told:.0f}°: the needle bar was measured from above (its figures "
                "then fall as it rises), or the disc's pointer is another. Read them again before "
                "you move anything."
            )
        if seen.error and abs(off) > max(_SEEN_SIGMAS * seen.error, _SEEN_LEAST_DEG):
            return (
                f"The needle was seen lowest at {seen.value % 360.0:.0f}°, to {seen.error:g}°, and "
                f"by the readings it is lowest at {told:.0f}°: the wheel's angles were counted "
                "otherwise for the one, or the disc has turned. Read both again."
            )
    if up is None or up.bottom is None:
        return ""
    after = ((up.bottom.value - bar.bottom.value) * _DEG + 180.0) % 360.0 - 180.0
    if -180.0 + _AFTER_DEG < after < -_AFTER_DEG:
        which = "needle bar or take-up" if seen is None else "the take-up"
        return (
            f"The take-up is lowest {-after:.0f}° before the needle, and a lockstitch needs most "
            f"thread after the needle's lowest point: {which} was measured from above, or "
            "the disc's numbers run the other way as it sews. Look before you move anything."
        )
    return ""


def not_to_be_moved_by(found: MotionFound) -> bool:
    """Whether the rise at the meeting is so doubtful that no move is told."""
    return (
        far_from_any(found) > 0.0
        or met_sinking(found) > 0.0
        or bool(upside_down(found))
        or sticking(found) is not None
    )


def _whole(found: MotionFound) -> Iterator[Doubt]:
    """What touches all that is told."""
    if found.unmoved:
        yield Doubt(Harm.UPSETS, np.inf, capital(no_motion_words(found.unmoved)))
    bar = found.of("needle bar")
    if bar is not None and bar.stroke is not None and bar.stroke.high < _LEAST_STROKE_MM:
        yield Doubt(
            Harm.UPSETS,
            _LEAST_STROKE_MM,
            f"No needle bar moves as little as {bar.stroke.value:.1f} mm: see whether it was read "
            "in inches, or another part stands in its column.",
        )
    if turned := upside_down(found):
        yield Doubt(Harm.UPSETS, 1e6, turned)
    if far := far_from_any(found):
        assert found.met is not None
        yield Doubt(
            Harm.UPSETS,
            far,
            f"At a rise of {found.met.rise.value:.2f} mm nothing sews: before you move anything, "
            "see whether the needle bar was measured from above (its figures then fall as it "
            "rises), or the meeting's reading is on another scale than the shuttle's column.",
        )
    if sinks := met_sinking(found):
        yield Doubt(
            Harm.UPSETS,
            sinks,
            "The shuttle's point meets the needle by these readings while it sinks, when no loop "
            "is thrown: look whether shuttle or needle bar was measured from above, whether one "
            "stands in the other's column, and which way the disc's numbers run as it sews.",
        )
    if found.asked.turning == "unsaid":
        yield Doubt(
            Harm.UPSETS if found.met is not None else Harm.ALLOWED,
            0.0,
            "Which way the disc's numbers run as the machine sews was not said: they were taken to "
            "rise, and if they fall the needle's rise at the meeting and all that lies before or "
            "after another is otherwise.",
        )


def _moved(found: MotionFound) -> Iterator[Doubt]:
    """What moved while readings were taken, may have, or could have unnoticed."""
    for step, by, names in found.steps:
        size = abs(by.value) * (_DEG * _MM_TO_A_DEGREE if step.shift.turns else 1.0)
        what = (
            f"the wheel's angle jumps by {by.value * _DEG:+.1f}°, as if the disc had turned"
            if step.shift.turns
            else f"the {names[step.shift.motion]} stands {by.value:+.2f} mm otherwise, as if it "
            "had slipped or been set anew"
        )
        yield Doubt(
            Harm.UPSETS,
            size,
            f"From row {step.row + 1} on {what}: both parts are used with that jump between them, "
            "but take the readings again before you move anything.",
        )
    if found.suspected is not None:
        yield _suspected(found.suspected)
        return
    if not found.steps and not found.closed and any(one.stroke for one in found.motions):
        yield Doubt(
            Harm.SHIFTS,
            _UNNOTICED_MM,
            "Hardly an early setting was read again later, so that a part that slipped by 1 mm or "
            "a disc that turned by 5° may pass unnoticed and is not in the intervals: read four of "
            "them, a quarter turn apart, once more.",
        )


def _suspected(one: Suspected) -> Doubt:
    turned = not one.motion
    by = abs(one.by.value) * (_DEG if turned else 1.0)
    what = f"the disc turned by some {by:.0f}°" if turned else (
        f"the {one.motion} slipped by some {by:.1f} mm"
    )  # fmt: skip
    return Doubt(
        Harm.UPSETS,
        by * (_MM_TO_A_DEGREE if turned else 1.0),
        f"It may be that {what} from row {one.row + 1} on ({100.0 * one.share:.0f} % by these "
        "readings); the intervals allow for both: read four early settings, a quarter turn apart, "
        "once more to know.",
    )


_OWN_LAG = radians(2.0)
"""By how much more a part must lag than another one that the same wheel turns."""


def sticking(found: MotionFound) -> tuple[str, float] | None:
    """The part that lags for itself when turned back, and by how much more, rad; None if none does.

    Play of the wheel's gears is common to all parts; what one has beyond the others is its own.
    """
    if len(found.backlash) < _PARTS or not found.backlash_told:
        return None
    lags = sorted(found.backlash.items(), key=lambda one: abs(one[1].value))
    (_, least), (name, most) = lags[0], lags[-1]
    apart = abs(most.value) - abs(least.value)
    doubt = float(np.hypot(least.sd, most.sd))
    return (name, apart) if apart > _OWN_LAG and apart > _SURELY * doubt else None


_PARTS = 2
"""Parts that are compared."""
_SURELY = 3.0
"""Standard deviations by which a lag of its own must stand out."""


def _backlash(found: MotionFound) -> Iterator[Doubt]:
    if not found.backlash:
        return
    if not found.backlash_told:
        lag = next(iter(found.backlash.values())).scaled(_DEG)
        yield Doubt(
            Harm.UPSETS,
            abs(lag.value) * _MM_TO_A_DEGREE,
            f"Readings taken turning back differ from the others by {lag.value:.1f}° (90 %: "
            f"{lag.low:.1f} to {lag.high:.1f}): that is backlash; take all of them turning as it "
            "sews, or say in a column 'way' how each was reached.",
        )
        return
    if own := sticking(found):
        name, more = own
        yield Doubt(
            Harm.UPSETS,
            more * _DEG * _MM_TO_A_DEGREE,
            f"Turning back the {name} lags by {more * _DEG:.1f}° more than what turns with it: it "
            "sticks, or has play of its own, and its turning points may lie by as much elsewhere. "
            "Clean and oil it, and read again before you move anything.",
        )
    each = listed(
        [
            f"{abs(lag.value) * _DEG:.1f}° ({name}; 90 %: {lag.low * _DEG:.1f} to "
            f"{lag.high * _DEG:.1f})"
            for name, lag in found.backlash.items()
        ]
    )
    yield Doubt(
        Harm.ALLOWED,
        0.0,
        f"Backlash of {each} is allowed for; the answer is for turning as it sews.",
    )


def _driven(found: MotionFound) -> Iterator[Doubt]:
    """That the needle bar may be driven otherwise, or that one reading bears all."""
    if found.may_be_cam:
        yield Doubt(Harm.ALLOWED, 10.0 * found.cam_share, _cam_doubt(found))
    if found.met is not None and found.met.unguarded:
        row, at = found.met.unguarded[0]
        yield Doubt(
            Harm.SHIFTS,
            5.0,
            f"The rise hangs on row {row + 1} ({('needle bar', 'shuttle')[at]}) alone, which no "
            "other reading checks: read that setting once more.",
        )
    if no_crank(found):
        yield Doubt(
            Harm.UPSETS,
            0.5,
            "The needle bar follows no crank and link: its motion is told as a cam's, which may "
            "turn more sharply at its ends than the readings show; read its ends by themselves.",
        )


def _cam_doubt(found: MotionFound) -> str:
    """That a cam would explain the readings too, and what would settle it."""
    bar = found.of("needle bar")
    assert bar is not None
    settings = len(np.unique(np.round(np.mod(bar.angles, 2.0 * pi) * _DEG, 0)))
    return (
        f"With {settings} settings a needle bar driven by a cam cannot be told from one driven by "
        f"a crank and link (a cam: {100.0 * found.cam_share:.0f} %): the rise allows for both and "
        f"is conjectured. {more_to_settle(bar)}, would settle it."
    )


def _disc(found: MotionFound) -> Iterator[Doubt]:
    if found.table.off_centre is not None:
        off = found.table.off_centre * _DEG
        if off > _NOTABLE_DEG:
            yield Doubt(
                Harm.ALLOWED,
                off * _MM_TO_A_DEGREE,
                f"The disc is off centre by as much as {off:.1f}° (1° is 1 mm on a disc of 120 "
                "mm); the mean of both pointers is free of it.",
            )
        if found.table.pointers_misread:
            rows = listed([str(row + 1) for row in found.table.pointers_misread])
            yield Doubt(
                Harm.ALLOWED,
                0.0,
                f"The two pointers contradict each other in row {rows}: it was left out.",
            )
    elif found.asked.centring is None:
        yield Doubt(
            Harm.SHIFTS,
            _OFF_CENTRE_DEG * _MM_TO_A_DEGREE,
            "One pointer alone was read: a disc 2 mm off centre would pass unnoticed and move the "
            "dead centres by 2° on a disc of 120 mm, so that angles are conjectured; put a second "
            "pointer opposite.",
        )
    if found.departure is not None:
        gone = found.departure
        cause = (
            "it is not driven by a crank and link alone"
            if found.table.off_centre is not None
            else "it is not driven by a crank and link alone, or the disc is off centre by some "
            f"{gone.as_disc * _DEG:.1f}°; its dead centres are told that much wider"
        )
        yield Doubt(
            Harm.ALLOWED,
            gone.size,
            f"The needle bar departs from a crank's motion by {gone.size:.2f} mm: {cause}.",
        )


def _between(one: Motion) -> Iterator[Doubt]:
    """Turning points that nobody read near."""
    for end, words in ((one.bottom, "lowest"), (one.top, "highest")):
        if end is None:
            continue
        off = _nearest(one, end)
        if off > _FAR:
            yield Doubt(
                Harm.ALLOWED,
                off * _DEG * _MM_TO_A_DEGREE,
                f"The {words} point of the {one.name} lies {off * _DEG:.0f}° from the nearest "
                "reading: read there too.",
            )


def _nearest(one: Motion, end: Figure) -> float:
    """How far the nearest reading lies from a turning point, rad."""
    return float(np.abs(np.mod(one.angles - end.value + pi, 2.0 * pi) - pi).min())


_LEAST_STROKE_MM = 6.0
"""No needle bar clears cloth and foot with a shorter stroke: common practice, no source."""
