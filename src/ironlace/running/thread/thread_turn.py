"""Supply and demand of the needle thread through one turn of the wheel.

The thread is held by the discs, which let it through when it is pulled and never back. Between them
and the last stitch lies ``M + u``: what was drawn through, and what the take-up gives out below its
highest place. The stitch asks for ``D``: down through the cloth and up again to the needle's eye,
round the shuttle while it passes, along the cloth by the feed; a turn lays ``c = s + 2 b T`` for
good (lockstitch as a rectangle, published with `thread_use`). So ``M`` is the highest that
``D - u`` has been, ``M + u - D`` is slack, and where ``M`` grows thread is drawn through the discs.
Own model: no published curve for long shuttles was found.
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from scipy.interpolate import PchipInterpolator

from ironlace.evidence.analyses import Known, KnownTable, Nothing
from ironlace.evidence.arrays import Bools, Floats
from ironlace.evidence.progress import Steps
from ironlace.running.errors import RunningError
from ironlace.running.motion.joint_fit import JointFit
from ironlace.running.motion.motion_asked import MotionAsked
from ironlace.running.motion.motion_found import Motion, MotionFound, motion
from ironlace.running.thread.thread_asked import ThreadAsked

STEPS: Final = 720
"""Places of a turn at which the thread is followed: half a degree apart."""
DRAWS: Final = 160
"""Draws of all doubts together; an interval's end of 90 % then rests on eight of them."""
SLACK_MM: Final = 1.0
"""Slack from which it is told as a stretch: a thread's own stretch and bend take up less (a
judgement, no source)."""
_FEED_SHARE: Final = 0.35
"""Part of the time with the eye above the cloth in which a feed moves, where it was not read (a
judgement, no source)."""
TAIL: Final = 0.05
"""Share of the draws beyond either end of an interval."""
LEAST_STROKE_MM: Final = 3.0
"""A take-up that moves less was read in another unit, or is none."""


@dataclass(frozen=True, slots=True)
class Curves:
    """One or more draws of all that moves, over one turn from the needle's lowest point on.

    Attributes
    ----------
    eye
        (n, `STEPS`) height of the eye's top above the needle plate, mm.
    given
        (n, `STEPS`) thread that the take-up gives out below its highest place, mm.
    loop
        (n, `STEPS`) thread round the shuttle, mm; 0 where none is, or where it was not read.
    fed
        (n, `STEPS`) share of the stitch that was fed, from 0 to 1.
    stitch, thickness
        (n,) mm.
    """

    eye: Floats
    given: Floats
    loop: Floats
    fed: Floats
    stitch: Floats
    thickness: Floats


@dataclass(frozen=True, slots=True)
class Turn:
    """The thread through one turn, (n, `STEPS`) each, mm, and sums of the turn, (n,).

    Attributes
    ----------
    demand, supply, slack
        Thread asked for since the turn began; given by take-up and discs; left over.
    drawn
        Thread drawn through the discs at each step.
    snatched
        Of it, what is drawn while the take-up is not drawing the stitch tight.
    used
        What a turn lays into the seam.
    """

    demand: Floats
    supply: Floats
    slack: Floats
    drawn: Floats
    snatched: Floats
    used: Floats

    @property
    def closure(self) -> Floats:
        """By how much what is drawn in a turn differs from what the stitch uses, mm: (n,)."""
        return np.asarray(self.drawn.sum(axis=1) - self.used)


@dataclass(frozen=True, slots=True)
class Spread:
    """A figure with its 90 % interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class ThreadFound:
    """The needle thread through one turn, and what it rests on.

    Attributes
    ----------
    degrees
        (`STEPS`,) what the disc reads at each place of the curves.
    plain, drawn
        The likeliest turn, and one for each draw of the doubts.
    with_loop, with_feed
        Whether the shuttle's loop and the moment of the feed are in it; `without_loop` says why
        not.
    gain_apart
        By what share the thread measured at the take-up differs from what its guides give; None
        where not both were told.
    """

    asked: ThreadAsked
    motions: MotionFound
    degrees: Floats
    curves: Curves
    drawn_curves: Curves
    plain: Turn
    drawn: Turn
    with_loop: bool
    without_loop: str
    with_feed: bool
    fed_in_cloth: float
    gain_apart: float | None

    def spread(self, plain: Floats, drawn: Floats, least: float = 0.0) -> Spread:
        """A figure's interval; what the doubts alone add to a greatest value is taken off.

        The highest of a curve in doubt is too high (B. Efron, R. Tibshirani, *An Introduction to
        the Bootstrap*, 1993, ch. 10).
        """
        value = float(plain)
        low, middle, high = np.quantile(drawn, [TAIL, 0.5, 1.0 - TAIL])
        over = float(middle) - value
        found = max(value - over, least)
        return Spread(
            found,
            max(min(float(low) - 2.0 * over, found), least),
            max(float(high) - 2.0 * over, found),
        )

    def at_top(self) -> int:
        """Place of the take-up's highest point."""
        return int(np.argmin(self.curves.given[0]))


def thread_turn(_inputs: Nothing, asked: ThreadAsked, steps: Steps) -> ThreadFound:
    """Follow the needle thread through one turn.

    Raises
    ------
    RunningError
        When needle bar or take-up were not read all round, or what was told cannot be.
    """
    found = motion(Nothing(), MotionAsked(asked.readings, turning=asked.turning), steps)
    bar, up = _needed(found, "needle bar"), _needed(found, "take-up")
    shuttle, feed = found.of("shuttle"), found.of("feed")
    bottom = _lowest(bar)
    angle: Floats = bottom + np.arange(STEPS, dtype=np.float64) * (2.0 * np.pi / STEPS)
    rng = np.random.default_rng(asked.seed)
    numbers = {id(m.fit): _drawn(m.fit, rng) for m in found.motions}
    amounts = _Amounts(asked, rng)

    def taken(one: Motion | None, *, plain: bool) -> Floats | None:
        if one is None:
            return None
        rows = one.fit.numbers[None] if plain else numbers[id(one.fit)]
        return np.array([one.fit.curve(one.at, angle, row).value for row in rows])

    shapes, without, fed_in = [], "", 0.0
    for plain in (True, False):
        heights = taken(bar, plain=plain), taken(up, plain=plain)
        assert heights[0] is not None and heights[1] is not None
        eye = heights[0] - amounts.of("eye_at_plate", plain=plain)[:, None]
        given, apart = _given_out(heights[1], asked, amounts, plain=plain)
        thick = amounts.of("thickness", plain=plain)
        loop, why = _loop(taken(shuttle, plain=plain), shuttle, asked, amounts, plain=plain)
        moved = taken(feed, plain=plain)
        if moved is None:
            fed, share = _fed_unread(eye, thick, None if plain else rng), 0.0
        else:
            fed, share = _fed(moved, eye, thick)
        if plain:
            without, gain_apart, fed_in = why, apart, share
        shapes.append(Curves(eye, given, loop, fed, amounts.of("stitch", plain=plain), thick))
    if float(shapes[0].eye.min()) > 0.0 or float(shapes[0].eye.max()) < 0.0:
        raise RunningError(
            "By these readings the eye never passes the needle plate: check the needle bar's "
            "reading with the eye level with the plate."
        )
    with_loop = bool(shapes[0].loop.any())
    sign = -1.0 if asked.turning == "fall" else 1.0
    return ThreadFound(
        asked, found, np.mod(np.degrees(angle) * sign, 360.0), shapes[0], shapes[1],
        turn_of(shapes[0], asked.balance), turn_of(shapes[1], asked.balance), with_loop, without,
        feed is not None, fed_in, gain_apart,
    )  # fmt: skip


def turn_of(curves: Curves, balance: float) -> Turn:
    """Follow the thread: what is asked for, given, slack and drawn through the discs."""
    stitch, thick = curves.stitch[:, None], curves.thickness[:, None]
    locked = 2.0 * balance * thick
    used = (stitch + locked)[:, 0]
    depth = np.maximum(2.0 * (thick - curves.eye), 0.0)
    rising = np.arange(STEPS) < np.argmax(curves.eye, axis=1)[:, None]
    round_shuttle = np.where(curves.loop > 0.0, 2.0 * thick + curves.loop, 0.0)
    # the needle comes up out of this stitch's loop, and goes down for the next one
    this = np.maximum(np.maximum(np.where(rising, depth, 0.0), round_shuttle), locked)
    demand = this + np.where(rising, 0.0, depth) + stitch * curves.fed
    need = demand - curves.given
    # a turn earlier all was alike, less what that turn laid
    twice = np.concatenate((need, need + used[:, None]), axis=1)
    most = np.maximum.accumulate(twice, axis=1)
    # the thread passed before the second turn is the highest of the first one
    held = most[:, STEPS:]
    drawn = np.diff(most, axis=1)[:, STEPS - 1 :]
    slack = held - twice[:, STEPS:]
    pulling = _pulls_tight(curves)
    return Turn(
        demand,
        held - used[:, None] + curves.given,
        slack,
        drawn,
        np.where(pulling, 0.0, drawn),
        used,
    )


def _pulls_tight(curves: Curves) -> Bools:
    """Where the take-up draws the stitch tight: it rises, the loop is off and the eye above."""
    rises = np.diff(curves.given, axis=1, prepend=curves.given[:, -1:]) < 0.0
    after = curves.eye > curves.thickness[:, None]
    return np.asarray(rises & after & (curves.loop <= 0.0))


def other_setting(found: ThreadFound, stitch: float, thickness: float) -> Turn:
    """The likeliest turn at another stitch length and thickness, mm."""
    curves = replace(found.curves, stitch=np.array([stitch]), thickness=np.array([thickness]))
    if not found.with_feed:
        curves = replace(curves, fed=_fed_unread(curves.eye, curves.thickness, None))
    return turn_of(curves, found.asked.balance)


class _Amounts:
    """Each single amount, as told and in draws."""

    def __init__(self, asked: ThreadAsked, rng: np.random.Generator) -> None:
        self._asked, self._drawn = asked, {}
        for name in ("stitch", "thickness", "eye_at_plate", "given_out", "meeting"):
            known: Known | None = getattr(asked, name)
            steps = rng.standard_normal(DRAWS)
            if known is not None:
                drawn = known.value + (known.error or 0.0) * steps
                least = 0.02 if name in ("stitch", "thickness") else -np.inf
                self._drawn[name] = np.maximum(drawn, least)

    def of(self, name: str, *, plain: bool) -> Floats:
        """As told, (1,), or in draws, (n,)."""
        if plain:
            return np.array([getattr(self._asked, name).value])
        return np.asarray(self._drawn[name])


def _needed(found: MotionFound, name: str) -> Motion:
    one = found.of(name)
    if one is None:
        raise RunningError(
            f"The {name} was not read: the thread through a turn needs needle bar and take-up, "
            "each at ten angles or more all round."
        )
    if one.stroke is None:
        raise RunningError(f"The thread cannot be followed: {one.why_not}.")
    return one


def _lowest(bar: Motion) -> float:
    grid: Floats = np.arange(STEPS, dtype=np.float64) * (2.0 * np.pi / STEPS)
    return float(grid[np.argmin(bar.fit.curve(bar.at, grid).value)])


def _drawn(fit: JointFit, rng: np.random.Generator) -> Floats:
    """Numbers of a fit's curves as they may be, (`DRAWS`, p); what moved is not among them."""
    size = fit.parts[-1].stop
    weight = np.array([member.weight for member in fit.members])
    picked = rng.choice(len(weight), DRAWS, p=weight / weight.sum())
    steps = rng.standard_normal((DRAWS, size))
    drawn = np.empty_like(steps)
    for at, member in enumerate(fit.members):
        covariance = member.covariance[:size, :size]
        factor = np.linalg.cholesky(covariance + 1e-12 * np.eye(size))
        rows = picked == at
        drawn[rows] = member.numbers[:size] + steps[rows] @ factor.T
    return drawn


def _given_out(
    height: Floats, asked: ThreadAsked, amounts: _Amounts, *, plain: bool
) -> tuple[Floats, float | None]:
    """Thread given out below the highest place, and how far its guides disagree, as a share."""
    fallen = height.max(axis=1, keepdims=True) - height
    stroke = fallen.max(axis=1, keepdims=True)
    if float(stroke[0, 0]) < LEAST_STROKE_MM:
        raise RunningError(
            f"The take-up moves {float(stroke[0, 0]):.1f} mm, too little for one: check its unit."
        )
    shape = fallen / stroke
    if asked.guides is None:
        return shape * amounts.of("given_out", plain=plain)[:, None], None
    by_guides = _by_guides(fallen, asked.guides)
    whole = by_guides.max(axis=1, keepdims=True)
    measured = amounts.of("given_out", plain=plain)[:, None]
    return by_guides / whole * measured, float(measured[0, 0] / whole[0, 0]) - 1.0


def _by_guides(fallen: Floats, guides: KnownTable) -> Floats:
    """Thread given out as the eye falls, from two guides' places."""
    aside, below = (guides.column(name).values for name in ("aside", "below"))
    if len(aside) != 2 or None in aside or None in below:
        raise RunningError(
            f"The guides' table has {len(aside)} rows: give two, the guide before the take-up and "
            "the one after it, each with aside and below."
        )
    given = np.zeros_like(fallen)
    for x, y in zip(aside, below, strict=True):
        across, down = float(x or 0.0), float(y or 0.0)
        given += np.hypot(across, down) - np.hypot(across, down - fallen)
    if float(given[0].max()) <= 0.0 or float(given[0].min()) < -0.5:
        raise RunningError(
            "By the guides' places the take-up draws thread in as it falls: give how far each "
            "guide is below the eye's highest place."
        )
    return np.asarray(np.maximum(given - given.min(axis=1, keepdims=True), 0.0))


def _loop(
    along: Floats | None,
    shuttle: Motion | None,
    asked: ThreadAsked,
    amounts: _Amounts,
    *,
    plain: bool,
) -> tuple[Floats, str]:
    """Thread round the shuttle through the turn, or nothing and why."""
    none = np.zeros((1 if plain else DRAWS, STEPS))
    lacking = [
        words
        for words, there in (
            ("the shuttle was not read", along is not None),
            ("its reading at the needle was not given", asked.meeting is not None),
            ("the thread round it was not measured", asked.loop is not None),
        )
        if not there
    ]
    if lacking or along is None or shuttle is None or asked.loop is None:
        return none, lacking[0]
    if shuttle.stroke is None:
        return none, shuttle.why_not
    past_mm, loop_mm = _loop_table(asked.loop)
    shape = PchipInterpolator(past_mm, loop_mm)
    meets = amounts.of("meeting", plain=plain)
    found = none.copy()
    for row, (place, at) in enumerate(zip(along, meets, strict=True)):
        # the point reaches the needle in the first half turn after its lowest place
        crossing = np.flatnonzero(np.diff(np.sign(place[: STEPS // 2] - at)) != 0)
        if not len(crossing):
            if plain:
                return none, (
                    f"the shuttle's point does not pass {at:g} mm while the needle is coming up"
                )
            continue
        first = int(crossing[0]) + 1
        way = np.sign(place[first] - place[first - 1])
        past = way * (place[first:] - at)
        furthest = int(np.argmax(past))
        if plain and past[furthest] < past_mm[-1]:
            return none, (
                f"the shuttle goes {past[furthest]:.0f} mm past the needle, and by the table its "
                f"heel leaves the loop at {past_mm[-1]:g} mm"
            )
        inside = past[: furthest + 1]
        found[row, first : first + furthest + 1] = np.where(
            inside <= past_mm[-1], np.maximum(shape(np.clip(inside, 0.0, past_mm[-1])), 0.0), 0.0
        )
    return found, ""


def _loop_table(table: KnownTable) -> tuple[Floats, Floats]:
    past, loop = (
        np.array([np.nan if v is None else v for v in table.column(name).values])
        for name in ("past", "loop")
    )
    if len(past) < 3 or not np.isfinite(past + loop).all() or (np.diff(past) <= 0.0).any():
        raise RunningError(
            "The table of the thread round the shuttle needs three rows and more, past [mm] rising "
            "from row to row, without gaps."
        )
    if past[0] != 0.0 or loop[-1] != 0.0 or loop.min() < 0.0:
        raise RunningError(
            "The table of the thread round the shuttle begins 0 mm past the needle and ends with "
            "0 mm of thread, where the heel has left the loop."
        )
    return past, loop


def _fed(feed: Floats, eye: Floats, thick: Floats) -> tuple[Floats, float]:
    """Share of the stitch fed so far, and what share of the stroke falls while the eye is in cloth.

    Of the dog's two ways the one during which the needle stands higher moves the cloth.
    """
    out = eye > thick[:, None]
    shares = np.empty_like(feed)
    for row, place in enumerate(feed):
        first, last = sorted((int(np.argmax(place)), int(np.argmin(place))))
        way = np.zeros(STEPS, dtype=np.bool_)
        way[first + 1 : last + 1] = True
        if eye[row, way].mean() < eye[row, ~way].mean():
            way = ~way
        moved = np.where(way, np.abs(np.diff(place, prepend=place[-1])), 0.0)
        shares[row] = np.cumsum(moved) / moved.sum()
    inside = float(np.diff(shares[0], prepend=0.0)[~out[0]].sum())
    return shares, inside


def _fed_unread(eye: Floats, thick: Floats, rng: np.random.Generator | None) -> Floats:
    """The feed of one that was not read: evenly while the eye is out, or in a part of it drawn."""
    out = eye > thick[:, None]
    shares = np.empty_like(eye)
    for row, free in enumerate(out):
        at = np.flatnonzero(free)
        if not len(at):
            at = np.arange(STEPS)
        first, last = float(at[0]), float(at[-1] + 1)
        if rng is not None:
            wide = (last - first) * _FEED_SHARE
            first = rng.uniform(first, last - wide)
            last = first + wide
        shares[row] = np.clip((np.arange(STEPS) - first) / max(last - first, 1.0), 0.0, 1.0)
    return shares


__all__ = ["Spread", "ThreadFound", "Turn", "other_setting", "thread_turn", "turn_of"]
