"""The needle thread's tension against the screw, asked, worked out and told."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from math import degrees, log
from typing import Annotated, Any

import numpy as np
import scipy  # its parts load when they are first asked for

from ironlace.evidence import usual_figures
from ironlace.evidence.analyses import Analysis, Ask, Known, KnownTable, Nothing, grade_of
from ironlace.evidence.answers import Answer, PlotsWhenSeen, Table
from ironlace.evidence.arrays import Ints
from ironlace.evidence.findings import Interval, Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.running.errors import RunningError
from ironlace.running.tension.one_evening import Amiss, OneEvening, means, one_evening, visits
from ironlace.running.tension.screw_curve import (
    COVERAGE,
    EIGHTHS,
    Bound,
    ScrewCurve,
    screw_curve,
)
from ironlace.running.tension.screw_shifted import ScrewShift, screw_shift
from ironlace.running.tension.tension_plot import tension_plot
from ironlace.running.tension.tension_table import TensionTable, tension_table
from ironlace.running.tension.thread_path import (
    FRICTION,
    ThreadPath,
    read_path,
    tension_along,
)

_STICKS = 0.15
"""Scatter of repeats, as a share of the tension, from which discs are said to stick and slip
(common practice, no source)."""

_TOUCHY_EIGHTHS = 2.0
"""A band that so few eighths of a turn cross is hard to set (common practice, no source)."""

EXAMPLE = """turns;tension [gf]
0;12
0;13
1;34
1;38
2;63
2;66
3;95
3;90
4;121"""
"""Nine pulls of an evening, invented."""


@dataclass(frozen=True)
class TensionAsked:
    """What is asked for the tension of the needle thread."""

    readings: Annotated[
        KnownTable,
        Ask(
            "Pulls of the spring scale by turns of the screw",
            "Columns: turns (inwards from a mark; or eighths) and tension [gf], [cN] or [N]; after "
            "(0 or 1) for readings after the discs were polished. Repeats at one setting are "
            "wanted: they tell the scatter. Draw steadily and write where the hand stands, not the "
            "highest it showed. Come to every setting turning inwards, since a screw lags by its "
            "play, and to the first once more at the end. Rows in the order they were taken.",
            long=True,
            example=EXAMPLE,
        ),
    ]
    path: Annotated[
        str,
        Ask(
            "The thread's path",
            "As TOML: feed_gf if measured, then [[point]] tables from spool to needle with kind "
            "(guide, discs, take-up, eye), name, wrap_deg, and friction if known.",
            long=True,
        ),
    ] = ""
    zero: Annotated[
        Known | None,
        Ask(
            "What the scale shows with nothing on it",
            unit="gf",
            low=-100,
            high=100,
            usual=usual_figures.ZERO_GF,
        ),
    ] = None
    zero_end: Annotated[
        Known | None,
        Ask(
            "What it shows with nothing on it at the end",
            "A zero that crept while you read shows by it alone, unless a setting is read again.",
            unit="gf",
            low=-100,
            high=100,
            usual=usual_figures.ZERO_GF,
        ),
    ] = None
    low: Annotated[
        Known | None,
        Ask(
            "Least tension that sews",
            "Your own, by trial.",
            unit="gf",
            low=0.0,
            high=1000.0,
            usual=usual_figures.NEEDLE_TENSION_GF,
        ),
    ] = None
    high: Annotated[
        Known | None,
        Ask(
            "Greatest tension that sews",
            "Your own, by trial.",
            unit="gf",
            low=0.0,
            high=1000.0,
            usual=usual_figures.NEEDLE_TENSION_GF,
        ),
    ] = None
    shuttle: Annotated[
        Known | None,
        Ask(
            "Tension of the shuttle's thread",
            "Several pulls; write their spread after the ±.",
            unit="gf",
            low=0.5,
            high=300.0,
            example="25 ± 2 gf",
            usual=usual_figures.SHUTTLE_TENSION_GF,
        ),
    ] = None
    sews_at: Annotated[
        float | None,
        Ask(
            "Setting of the screw at which it sews evenly, turns",
            "Counted as for the pulls. It shows a tension that sews, or a count, that was misread.",
            low=-20.0,
            high=40.0,
            example="2.5",
        ),
    ] = field(default=None, kw_only=True)
    felt: Annotated[
        float | None,
        Ask(
            "Setting at which the spring is felt to take hold, turns",
            "To half a turn. Counted anew from the mark, it shows turns counted one off all along.",
            low=-20.0,
            high=40.0,
            example="1",
        ),
    ] = field(default=None, kw_only=True)
    ratio_low: Annotated[
        float | None,
        Ask(
            "Needle thread over shuttle thread, at least",
            "As your own balanced seams have it; left out, 6 to 7 is shown as one experiment found "
            "(a study of lockstitch seams, 2001, by its abstract).",
            low=0.5,
            high=30.0,
            more=True,
        ),
    ] = None
    ratio_high: Annotated[
        float | None,
        Ask("Needle thread over shuttle thread, at most", low=0.5, high=30.0, more=True),
    ] = None
    scatter: Annotated[
        Known | None,
        Ask(
            "Scatter of one pull",
            "One standard uncertainty; the readings decide where they say otherwise.",
            unit="gf",
            low=0.05,
            high=100.0,
            more=True,
        ),
    ] = None


@dataclass(frozen=True, slots=True)
class Pulls:
    """Pulls before, or after, the discs were worked on.

    Attributes
    ----------
    table, rows
        The pulls, and the rows in which they stand, from 0, (n,).
    evening
        Whether they are of one screw, one thread and one scale.
    curve
        Fitted to those that are.
    """

    table: TensionTable
    rows: Ints
    evening: OneEvening
    curve: ScrewCurve


@dataclass(frozen=True, slots=True)
class TensionFound:
    """What pulls at screw settings tell.

    Attributes
    ----------
    before, after
        Before, and after the discs were worked on (None where nothing was read then).
    shift
        What the order of the pulls tells of a zero that moved and a screw that lags.
    stated_wrong
        Whether the stated scatter disagrees with the readings'.
    """

    asked: TensionAsked
    table: TensionTable
    before: Pulls
    after: Pulls | None
    path: ThreadPath | None
    shift: ScrewShift
    stated_wrong: bool

    @property
    def curve(self) -> ScrewCurve:
        """The curve before."""
        return self.before.curve

    @property
    def polished(self) -> ScrewCurve | None:
        """The curve after, where anything was read then."""
        return None if self.after is None else self.after.curve

    @property
    def evening(self) -> OneEvening:
        """Whether the pulls before are of one evening."""
        return self.before.evening


def tension(_inputs: Nothing, asked: TensionAsked, _steps: Steps) -> TensionFound:
    """Work out the tension's curve.

    Raises
    ------
    RunningError
        When the readings or the path cannot be used.
    """
    if asked.low and asked.high and asked.low.value >= asked.high.value:
        raise RunningError(
            f"The least tension that sews is {asked.low.value:g} gf and the greatest "
            f"{asked.high.value:g} gf: give the smaller first."
        )
    table = tension_table(
        asked.readings,
        asked.zero.value if asked.zero else 0.0,
        asked.zero_end.value if asked.zero_end else None,
    )
    path = read_path(asked.path) if asked.path.strip() else None
    stated = asked.scatter.value if asked.scatter else _stated(asked)
    parts = [_pulls(table, after=after, stated=stated) for after in (False, True)]
    before, *rest = (one for one in parts if one is not None)
    after = rest[0] if rest else None
    curve = before.curve
    if curve.slope_gf.high <= 0.0 or np.ptp(curve.tension) < 2.0 * curve.scatter_gf:
        raise RunningError(
            f"The tension hardly changes over these settings ({curve.tension.min():g} to "
            f"{curve.tension.max():g} gf): turn the screw further in and read again."
        )
    kept = before.table.where(before.evening.keep)
    shift = screw_shift(kept.turns, kept.tension, curve)
    return TensionFound(asked, table, before, after, path, shift, _wrong(curve, stated))


def _pulls(table: TensionTable, *, after: bool, stated: float | None) -> Pulls | None:
    """The pulls before, or after, the discs were worked on; None where there are none."""
    part, rows = table.part(after=after), np.flatnonzero(table.after == after)
    if not len(rows):
        return None
    evening = one_evening(part.turns, part.tension)
    kept = part.where(evening.keep)
    turns, level = kept.turns, kept.tension
    if evening.by_eye:  # pulls at one visit share what the hand did to the screw
        turns, level, _ = means(turns, level, visits(turns))
    try:
        curve = screw_curve(turns, level, stated)
    except RunningError as error:
        if evening.amiss is None:
            raise
        raise RunningError(f"{_amiss(part, rows, evening)} Without these: {error}") from error
    return Pulls(part, rows, evening, curve)


def _stated(asked: TensionAsked) -> float | None:
    return next((c.error for c in asked.readings.columns if c.error and c.unit == "gf"), None)


def _wrong(curve: ScrewCurve, stated: float | None) -> bool:
    """Whether a stated scatter disagrees with that of the readings, by an F test."""
    if stated is None:
        return False
    freedom = max(len(curve.turns) - 3, 1)
    over = float(scipy.stats.f.sf((curve.scatter_gf / stated) ** 2, freedom, 200))
    return min(over, 1.0 - over) < 0.01


def tension_answer(found: TensionFound) -> Answer:
    """Tell the tension's curve."""
    asked, curve = found.asked, found.curve
    known: list[Known | KnownTable] = [asked.readings]
    grade = grade_of(known, Grade.INFERRED)
    every = [one for one in (found.before, found.after) if one is not None]
    upset = any(one.evening.amiss is not None or one.evening.by_eye for one in every)
    if upset or found.shift.moved is not None or found.shift.lags or _sticks(curve) or curve.bends:
        grade = Grade.CONJECTURED
    doubts = list(_doubts(found))
    crept = [*_contradicted(found), *_crept(asked)]
    if crept:
        grade = Grade.CONJECTURED
    moved = found.shift.moved
    amiss = [
        _amiss(one.table, one.rows, one.evening, moved if one is found.before else None)
        for one in every
        if one.evening.amiss is not None
    ]
    said = [
        *crept,
        *amiss,
        _eighth(curve),
        *_range(found),
        *doubts,
        *_floor(found),
        *_polish(found),
        *_path(found),
        *_balance(found),
        _next(found),
    ]
    return Answer(
        tuple(_results(found, grade)),
        tuple(said),
        figures=_figures(found, doubts),
        tables=(_table(found),),
        plots=PlotsWhenSeen(lambda: [tension_plot(curve, found.polished, _sews(asked))]),
    )


def _sews(asked: TensionAsked) -> tuple[float, float] | None:
    """Least and greatest tension that sews, gf, where both were given."""
    if asked.low is None or asked.high is None:
        return None
    return asked.low.value, asked.high.value


def _eighth(curve: ScrewCurve) -> str:
    """What an eighth of a turn adds: everywhere alike, or by setting where the curve bends."""
    whole = _words(_scaled(curve.slope_gf, 1 / EIGHTHS), "gf")
    if not curve.bends:
        return f"Each eighth of a turn adds {whole} to the tension once the spring bears."
    low, high = _bearing(curve)
    ends = [
        f"{_words(_scaled(curve.slope_at(t), 1 / EIGHTHS), 'gf')} at {t:.3g} turns"
        for t in (low, high)
    ]
    way = "more the further it is" if curve.bends > 0 else "less the further it is"
    return (
        f"The curve bends, and an eighth of a turn adds {way} let in: {ends[0]}, {ends[1]}, "
        f"{whole} on average."
    )


def _bearing(curve: ScrewCurve) -> tuple[float, float]:
    """The first and the last setting read at which the spring surely bears."""
    bears = curve.turns[curve.turns > curve.contact_turns.high]
    high = float(curve.turns.max())
    return (float(bears.min()) if len(bears) else high), high


def _words(bound: Bound, unit: str) -> str:
    digits = 2 if abs(bound.value) < 10.0 else 1
    return (
        f"{bound.value:.{digits}f} {unit} (90 %: {bound.low:.{digits}f} to {bound.high:.{digits}f})"
    )


def _scaled(bound: Bound, by: float) -> Bound:
    return Bound(bound.value * by, bound.low * by, bound.high * by)


def _sticks(curve: ScrewCurve) -> bool:
    middle = float(np.median(curve.tension))
    repeats = curve.repeat_gf if curve.repeat_gf is not None else curve.scatter_gf
    return repeats > _STICKS * middle


def _amiss(part: TensionTable, rows: Ints, evening: OneEvening, moved: float | None = None) -> str:
    """What does not lie on one curve, and what to do."""
    since = f"{evening.since:.3g} turns"
    if evening.amiss is Amiss.END_OF_SCALE:
        return (
            f"{part.tension.max():.3g} gf is the highest figure and stands at several settings: "
            f"the scale seems to end there, so what was read from {since} on was left out; read "
            "it with a stronger scale."
        )
    if evening.amiss is Amiss.LEVELS_OFF:
        return (
            f"From {since} on the tension rises no more: the screw stands at its stop, or "
            "its nut turns with it, so what was read there was left out; look at the screw."
        )
    # how far is told only where a setting was come to again: else a wrong curve tells it
    known = moved is not None and evening.again
    turned = f"the screw's zero (by {moved:+.2f} turns)" if known else "the count of the turns"
    return (
        f"These pulls do not lie on one curve: from row {rows[evening.row] + 1} on, at {since}, "
        f"they stand as if {turned}, the thread or the scale had moved, and no figure below holds "
        "for both parts; mark the screw and read an earlier setting again."
    )


def _sticks_in_words(curve: ScrewCurve) -> str:
    much = f"{100.0 * curve.scatter_share:.0f} %"
    if curve.scatter_share > 1.0:
        much = "more than the whole"
    return (
        f"Pulls at one setting scatter by {much} of the tension: the discs stick and slip, and no "
        "setting of the screw mends that; see whether they are pitted, rusty, grooved or not "
        "parallel."
    )


_FELT_TURNS = 0.33
"""So far from the curve's contact a spring may be felt to take hold: by hand it is felt to a third
of a turn or so (a judgement; half a turn is the step that screws are mostly read by)."""


def _contradicted(found: TensionFound) -> Iterator[str]:
    """What the two settings that were tried by hand say against the pulls."""
    asked, curve = found.asked, found.curve
    if asked.felt is not None and curve.apart:
        off = asked.felt - curve.contact_turns.value
        wide = 0.5 * (curve.contact_turns.high - curve.contact_turns.low)
        if abs(off) > _FELT_TURNS + wide:
            yield (
                f"The spring was felt to take hold at {asked.felt:g} turns, and by the pulls "
                f"it does at {curve.contact_turns.value:.2f}: the turns of the screw were counted "
                "otherwise for the one; count them again from the mark."
            )
    if asked.sews_at is None:
        return
    at = curve.tension_at(asked.sews_at)
    for words, known, away in (("least", asked.low, -1.0), ("greatest", asked.high, 1.0)):
        if known is None:
            continue
        end = at.low if away > 0.0 else at.high
        if away * (end - known.value) > 0.0:
            yield (
                f"It sews evenly at {asked.sews_at:g} turns, where by the pulls the tension "
                f"is {at.value:.0f} gf, and the {words} tension that sews was given as "
                f"{known.value:g} gf: one of them is misread, look at both again."
            )


def _doubts(found: TensionFound) -> Iterator[str]:
    curve = found.curve
    if _sticks(curve):
        yield _sticks_in_words(curve)
    shift = found.shift
    if shift.moved is not None and found.evening.amiss is None:
        yield (
            f"The later readings stand as if the screw's zero had moved by {shift.moved:+.2f} "
            "turns while you read: mark the screw and read the first setting again."
        )
    if shift.lags:
        yield (
            f"The screw lags, by at most {shift.lag_most:.2f} turns (90 %), between turning "
            "inwards and outwards: one setting has two tensions, and the curve runs between them. "
            "Come to every setting turning inwards, and read again."
        )
    ends = found.asked.zero_end is not None
    yield from _of_the_evening(found.evening, zero_read_twice=ends)
    if curve.bends:
        yield (
            "A curve that bends is a spring whose rate changes as it is let in, or discs whose "
            "friction changes with the load: take tensions from the curve, not from the average, "
            "and none beyond the settings read."
        )
    else:
        share = [100.0 * v for v in (curve.bend_share.low, curve.bend_share.high)]
        yield (
            "Whether the curve is straight these readings cannot tell: with each further turn an "
            f"eighth may add {share[0]:+.0f} to {share[1]:+.0f} % more (90 %), and the intervals "
            "allow for that."
        )
    if shift.lag_most is not None and not shift.lags:
        yield (
            "Settings were come to both inwards and outwards: that the screw lags by up to "
            f"{shift.lag_most:.2f} turns would not show in these pulls."
        )
    if curve.settings == 3:
        yield (
            "Three settings alone were read: between them the curve may run as it likes, so that "
            "what an eighth adds at one setting is told a quarter wider; two settings more would "
            "tell."
        )
    if found.stated_wrong:
        yield (
            f"The stated scatter does not agree with the readings, which scatter by "
            f"{curve.scatter_gf:.1f} gf: theirs is used."
        )
    if not curve.repeats:
        yield (
            "No setting was read twice, so the scatter is judged by how far readings lie off the "
            "curve."
        )
    if found.asked.zero is None:
        yield (
            "The scale's own zero was not given: an offset would stand in the floor, not in the "
            "slope."
        )


_CREPT_GF = 1.5
"""A zero that stands by more elsewhere at the end is told: scales are read to a gram or so."""


def _crept(asked: TensionAsked) -> Iterator[str]:
    """Say that the scale's zero stood elsewhere at the end."""
    if asked.zero_end is None:
        return
    off = asked.zero_end.value - (asked.zero.value if asked.zero else 0.0)
    if abs(off) > _CREPT_GF:
        yield (
            f"The scale's zero crept by {off:+.1f} gf while you read. It is taken off as if it had "
            "crept evenly from row to row, which is not known: let the scale come to rest, and "
            "pull again."
        )


def _of_the_evening(evening: OneEvening, *, zero_read_twice: bool) -> Iterator[str]:
    if evening.by_eye:
        yield (
            "Settings scatter more than the pulls at each, so that each setting counts as one "
            "pull: the screw was set by eye, or the curve has a kink that this one has not; set "
            "it by a pointer, and read between the settings."
        )
    if not evening.again and evening.amiss is not Amiss.CHANGED and not zero_read_twice:
        yield (
            "No setting was come to again after the others: a scale, thread or screw that crept "
            "meanwhile would not show, and moves what an eighth adds; read the first once more at "
            "the end."
        )


def _floor(found: TensionFound) -> Iterator[str]:
    curve = found.curve
    if curve.apart:
        yield (
            f"With the spring idle the thread is held by {_words(curve.floor_gf, 'gf')}, and the "
            f"spring takes hold at {_words(curve.contact_turns, 'turns')}."
        )
    else:
        low = float(curve.turns.min())
        yield (
            "Floor and contact cannot be told apart from these readings, only the line above them "
            f"({_words(curve.tension_at(low), 'gf')} at {low:g} turns): read with the screw so far "
            "out that the discs are loose."
        )
    yield (
        "Friction of the discs, rate of the spring and its preload stand in these figures as "
        "products and cannot be told apart, unless one of them is measured by itself."
    )


def _range(found: TensionFound) -> Iterator[str]:
    low, high = found.asked.low, found.asked.high
    if low is None or high is None:
        return
    curve = found.curve
    width = _scaled(curve.turns_between(low.value, high.value), EIGHTHS)
    ends = [curve.turns_at(v.value).value for v in (low, high)]
    yield (
        f"From {low.value:g} to {high.value:g} gf, the tensions that sew, "
        f"{'were, before the discs were worked on,' if found.polished else 'are'} "
        f"{_words(width, 'eighths of a turn')}: from {ends[0]:.2f} to {ends[1]:.2f} turns."
    )
    yield from _beyond(curve, ends[1])
    if low.value < curve.floor_gf.low:
        yield (
            f"The floor lies above the least tension that sews: with the screw right out it still "
            f"pulls {_words(curve.floor_gf, 'gf')}; look for a guide that holds the thread."
        )
    if width.value < _TOUCHY_EIGHTHS:
        yield (
            "That is too little to set by hand: a weaker spring, a finer screw or discs that rub "
            "less would spread it (common practice, no source)."
        )


def _beyond(curve: ScrewCurve, upper: float) -> Iterator[str]:
    """Whether the tensions that sew are reached only where nobody read."""
    last = float(curve.turns.max())
    if upper > last:
        yield (
            f"The upper end lies beyond the last setting read ({last:g} turns), and whether the "
            "screw goes so far is not known: read there before using it."
        )


def _polish(found: TensionFound) -> Iterator[str]:
    after, before = found.polished, found.curve
    if after is None:
        return
    by = (after.slope_gf.value - before.slope_gf.value) / EIGHTHS
    half = float(np.hypot(after.slope_gf.half, before.slope_gf.half)) / EIGHTHS
    sure = "that is sure" if abs(by) > half else "which is no more than the readings' doubt"
    yield (
        f"After the discs were worked on an eighth of a turn adds {by:+.2f} gf "
        f"(90 %: {by - half:+.2f} to {by + half:+.2f}) against before: {sure}."
    )
    if (sews := _sews(found.asked)) is not None:
        width = _scaled(after.turns_between(*sews), EIGHTHS)
        ends = [after.turns_at(gf).value for gf in sews]
        yield (
            f"As it is now, {sews[0]:g} to {sews[1]:g} gf are "
            f"{_words(width, 'eighths of a turn')}: "
            f"from {ends[0]:.2f} to {ends[1]:.2f} turns."
        )
        yield from _beyond(after, ends[1])
    yield (
        f"The scatter of one pull went from {before.scatter_gf:.1f} to {after.scatter_gf:.1f} gf; "
        "smooth faces can rub harder than matt ones, so the readings decide, not the shine."
    )


def _path(found: TensionFound) -> Iterator[str]:
    path = found.path
    if path is None:
        return
    before, after = path.wraps_deg()
    low, high = (path.factors(mu)[1] for mu in (FRICTION[0], FRICTION[2]))
    yield (
        f"The thread bends {before:.0f}° before the discs and {after:.0f}° after them: what the "
        f"discs add comes out multiplied by {low:.2f} to {high:.2f} (friction {FRICTION[0]:g} to "
        f"{FRICTION[2]:g}, from memory), so that friction after the discs and the spring cannot be "
        "told apart by pulls at the needle alone: draw once just behind the discs as well."
    )
    mu = friction_from_floor(found)
    if mu is not None:
        yield (
            f"The feed being measured, the floor gives a friction of {_words(mu, '')} all along "
            "the path.".replace("  ", " ")
        )
    elif path.feed_gf is None:
        yield "Measure the tension off the spool alone, and the floor will give the friction."


def friction_from_floor(found: TensionFound) -> Bound | None:
    """Friction along the path, from floor over feed; None unless the feed was measured."""
    path, floor = found.path, found.curve.floor_gf
    if path is None or not path.feed_gf or not found.curve.apart:
        return None
    wrap = sum(path.wraps_deg())
    known = 1.0
    for point in path.points:
        if point.friction is not None:
            known *= float(np.exp(point.friction * np.radians(point.wrap_deg)))
    if wrap <= 0.0 or floor.low <= 0.0:
        return None
    ends = [
        degrees(log(max(v / (path.feed_gf * known), 1.0)) / wrap)
        for v in (floor.value, floor.low, floor.high)
    ]
    return Bound(ends[0], ends[1], ends[2])


def _balance(found: TensionFound) -> Iterator[str]:
    shuttle = found.asked.shuttle
    if shuttle is None:
        return
    own = found.asked.ratio_low is not None or found.asked.ratio_high is not None
    low = found.asked.ratio_low or (found.asked.ratio_high or 6.0 if own else 6.0)
    high = found.asked.ratio_high or (low if own else 7.0)
    ends = [shuttle.value * k for k in (low, high)]
    now = found.polished or found.curve
    turns = [now.turns_at(v).value for v in ends]
    whose = "your own" if own else "one experiment's, for rotary hooks"
    yield (
        f"For a balance of {low:g} to {high:g} to 1 ({whose}) the shuttle's {shuttle.value:g} gf "
        f"ask for {ends[0]:.0f} to {ends[1]:.0f} gf at the needle, which is {turns[0]:.2f} to "
        f"{turns[1]:.2f} turns; the seam decides."
    )
    if ends[0] > float(now.tension.max()):
        yield "That lies beyond the highest setting read: read there before you rely on it."


def _next(found: TensionFound) -> str:
    curve = found.curve
    low, high = float(curve.turns.min()), float(curve.turns.max())
    if found.evening.amiss is Amiss.CHANGED:
        return f"Read next: {low:g} turns and the settings on either side of the change, once more."
    if not curve.apart:
        return f"Read next: with the screw one turn further out than {low:g}, three pulls."
    if curve.repeats < 3:
        return f"Read next: {high:g} turns again, twice more, so that the scatter is known."
    return (
        f"Read next: three more pulls at {high:g} turns, the setting that the slope leans on most, "
        f"and three at {0.5 * (_bearing(curve)[0] + high):g}: they tell whether the curve bends."
    )


def _results(found: TensionFound, grade: Grade) -> Iterator[Result]:
    curve = found.curve

    def one(name: str, bound: Bound, unit: str, known: Grade = grade) -> Result:
        interval = Interval(low=bound.low, high=bound.high, coverage=COVERAGE)
        return Result(name=name, value=bound.value, unit=unit, grade=known, interval=interval)

    yield one("tension added by an eighth of a turn", _scaled(curve.slope_gf, 1 / EIGHTHS), "gf")
    if curve.apart:
        yield one("tension with the spring idle", curve.floor_gf, "gf")
        yield one("turns at which the spring takes hold", curve.contact_turns, "")
    if found.polished is not None:
        after = _scaled(found.polished.slope_gf, 1 / EIGHTHS)
        yield one("the same after the discs were worked on", after, "gf")
    low, high = found.asked.low, found.asked.high
    if low is not None and high is not None:
        width = _scaled(curve.turns_between(low.value, high.value), EIGHTHS)
        read = curve.turns_at(high.value).value <= float(curve.turns.max())
        yield one("eighths of a turn that sew", width, "", grade if read else Grade.CONJECTURED)


def _plain(bound: Bound) -> dict[str, float]:
    return {"value": bound.value, "low": bound.low, "high": bound.high}


def _curve_figures(curve: ScrewCurve) -> dict[str, Any]:
    return {
        "slope_gf_per_turn": _plain(curve.slope_gf),
        "slope_gf_per_eighth": _plain(_scaled(curve.slope_gf, 1 / EIGHTHS)),
        "bend_share_per_turn": _plain(curve.bend_share),
        "bends": curve.bends,
        "floor_gf": _plain(curve.floor_gf),
        "contact_turns": _plain(curve.contact_turns),
        "floor_and_contact_apart": curve.apart,
        "scatter_gf": curve.scatter_gf,
        "repeat_scatter_gf": curve.repeat_gf,
        "curve": [
            {
                "turns": float(t),
                **_plain(curve.tension_at(float(t))),
                "slope_gf_per_eighth": _plain(_scaled(curve.slope_at(float(t)), 1 / EIGHTHS)),
            }
            for t in np.linspace(curve.turns.min(), curve.turns.max(), 17)
        ],
    }


def _figures(found: TensionFound, doubts: list[str]) -> dict[str, Any]:
    told = _curve_figures(found.curve) | {"coverage": COVERAGE, "doubts": doubts}
    told["after"] = _curve_figures(found.polished) if found.polished else None
    low, high = found.asked.low, found.asked.high
    told["usable_eighths"] = (
        _plain(_scaled(found.curve.turns_between(low.value, high.value), EIGHTHS))
        if low and high
        else None
    )
    evening = found.evening
    told["one_curve"] = evening.amiss is None
    told["amiss"] = None if evening.amiss is None else str(evening.amiss)
    told["amiss_from_turns"] = None if evening.amiss is None else evening.since
    told["set_by_eye"] = evening.by_eye
    told["come_to_again"] = evening.again
    told["zero_moved_turns"] = found.shift.moved
    told["screw_lags"] = found.shift.lags
    told["screw_lags_turns_at_most"] = found.shift.lag_most
    told["sticks"] = _sticks(found.curve)
    mu = friction_from_floor(found)
    told["friction"] = _plain(mu) if mu else None
    if found.path is not None:
        before, after = found.path.wraps_deg()
        told["path"] = {
            "wrap_before_deg": before,
            "wrap_after_deg": after,
            "factor_after": [found.path.factors(k)[1] for k in FRICTION],
            "idle_along_gf": None
            if mu is None or found.path.feed_gf is None
            else tension_along(found.path, found.path.feed_gf, mu.value, 0.0),
        }
    return told


def _table(found: TensionFound) -> Table:
    curve = found.curve
    steps = np.arange(np.floor(curve.turns.min() * 4), np.ceil(curve.turns.max() * 4) + 1) / 4.0
    rows = []
    for turn in steps:
        one = curve.tension_at(float(turn))
        cells = [f"{turn:g}", f"{one.value:.1f}", f"{one.low:.1f} to {one.high:.1f}"]
        if found.polished is not None:
            cells.append(f"{found.polished.tension_at(float(turn)).value:.1f}")
        rows.append(tuple(cells))
    heads = ("Turns", "Tension, gf", "90 %")
    if found.polished is not None:
        heads = (*heads, "after, gf")  # type: ignore[assignment]
    return Table("Tension at each quarter turn", heads, tuple(rows))


TENSION = Analysis(
    key="tension",
    about="tension of the needle thread",
    question="How does the tension follow its screw, and over how many eighths of a turn does "
    "it sew?",
    section="running",
    inputs=Nothing,
    asked=TensionAsked,
    work=tension,
    answer=tension_answer,
    method="ironlace.running: floor, slope, bend, contact of the screw, scatter of the readings",
    published="additive tensioner and capstan: Eytelwein (1808); Morton and Hearle, Physical "
    "Properties of Textile Fibres, ch. 25",
    hazards=("running parts",),
)
