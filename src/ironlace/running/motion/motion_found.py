"""The motion of a head worked out: every motion fitted, what moved, where the shuttle meets."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import exp, log

import numpy as np

from ironlace.evidence.analyses import Nothing
from ironlace.evidence.arrays import Bools, Floats
from ironlace.evidence.progress import Steps
from ironlace.evidence.wording import listed
from ironlace.running.errors import RunningError
from ironlace.running.motion.curves import CamCurve, CrankCurve
from ironlace.running.motion.figures import (
    Figure,
    cam_turns,
    figure_of,
    number_figure,
    stroke_taken,
    turning_taken,
    unguarded,
)
from ironlace.running.motion.joint_fit import JointFit, Readings, Shift, fit_motions, widest_gap
from ironlace.running.motion.meeting import Meeting, meeting
from ironlace.running.motion.motion_asked import ANGLE_ERROR_DEG, HEIGHT_ERROR_MM, MotionAsked
from ironlace.running.motion.motion_table import (
    MotionTable,
    fewest_readings,
    motion_table,
)
from ironlace.running.motion.moved import (
    MOVES,
    STEP_GAIN,
    NextReading,
    Step,
    next_reading,
    steps_in,
)
from ironlace.running.motion.no_motion import carries_none, no_better_than_constant

_BACKLASH_SD = 0.15
"""Backlash looked for beforehand, rad: some nine degrees of the wheel."""

_BACKLASH_SURE = 3.5
"""Standard deviations at which readings show that they were taken both ways, though none said."""

_WIDEST_CRANK, _WIDEST_CAM = np.radians(100.0), np.radians(50.0)
"""A gap between angles, rad, over which no turning point of a crank, or of a cam, is told."""

_FEWEST_CRANK, _FEWEST_CAM = 8, 10
"""Angles at which a motion must have been read for its stroke to be told."""

_STRAIN = 0.25
"""By how much, as a logarithm, scatter or departure pass what was expected when a crank strains."""

_KEPT = 0.9189
"""Half the logarithm of 2 pi: what the likelihood of a kept value lacks (exact, rounded)."""

_LEFT_OUT = 7.2
"""Cost of a value named as misread: 3 in 100 are, anywhere over some 40 mm."""

_CAM_DEPARTS = (1.5, 0.8)
"""Departure of a cam's motion from the nearest crank's, mm in the second harmonic, and the doubt of
its logarithm: an even rise and fall departs by a ninth of its first harmonic in the third alone."""

_CAM_CHANCE = 0.25
"""How likely it is beforehand that a bar is driven by a cam (a judgement, no source)."""

_CRANK_AHEAD = 3.5
"""By how much, as a logarithm, a cam of any shape must pass a crank: 2.4 that the wide prior of the
crank's angle costs it (20 rad for the whole turn), and 1.1 for how much rarer cams are."""

_SETTLES_DEG = 15.0
"""A bar read so closely round the turn, degrees, tells a cam from a crank."""

_READ_ENDS = (
    "no rise is told from a curve: read the bar at its very lowest, and with the point at the "
    "needle, several times each; the difference is the rise."
)

_CAM_RULES = 0.5
"""From so likely a cam on no rise is told from a curve: its sharp bottom is rounded off."""

_STEP_SURE = 6.0
"""By how much, as a logarithm, a bar that slipped must explain the readings better than a cam."""

_CAM_SAID = 0.1
"""A cam less likely than that, by the readings, is left unsaid; its share in the interval stays."""

_SUSPECTED = 0.25
"""From so likely a move on it is named as a suspicion, and what is told is conjectured: of evenings
in which a bar slipped by 1 mm it names 0.64, of good ones 0.05; from 0.35 on it named 0.54 and
0.04, from 0.15 on 0.66 and 0.09 (80 of each, binomial errors 0.05 and 0.02; tuned)."""

_SAME_SETTING = np.radians(6.0)
"""Angles so near to each other are one setting read again."""

_CLOSING = 3
"""Settings read again that are enough to tell what moved from one slip."""

_DEPARTS_SD = 3.0
"""Standard deviations at which a departure from a crank's curve is told."""

_DEPARTS_MM = 0.12
"""A smaller departure is what bearings and paper leave."""


@dataclass(frozen=True, slots=True)
class Motion:
    """One motion: its stroke and dead centres, or why they are not told."""

    name: str
    fit: JointFit
    at: int
    stroke: Figure | None
    bottom: Figure | None
    top: Figure | None
    rests: tuple[bool, bool]
    why_not: str
    next: NextReading | None

    @property
    def angles(self) -> Floats:
        """Angles at which it was read and used, rad."""
        used: Bools = self.fit.linear.keep[:, self.at]
        return self.fit.readings.angle[used]


@dataclass(frozen=True, slots=True)
class Departure:
    """How far a needle bar's second harmonic departs from a crank's, mm, and as a disc's error."""

    size: float
    sd: float
    as_disc: float


@dataclass(frozen=True, slots=True)
class Suspected:
    """Something that may have moved while readings were taken.

    Attributes
    ----------
    row
        The first row, from 0, after which it would stand otherwise.
    motion
        What would have slipped; empty for the disc.
    by
        How far, mm, or rad for the disc, if it did.
    share
        How likely it is by the readings.
    """

    row: int
    motion: str
    by: Figure
    share: float


@dataclass(frozen=True, slots=True)
class MotionFound:
    """What readings of a head's motion tell.

    Attributes
    ----------
    backlash
        By motion, angle by which it lags when turned back, rad; `backlash_told` when the table said
        how each setting was reached.
    step
        What moved while readings were taken, with its size.
    met, not_met
        The meeting, or why there is none.
    suspected
        What may have moved; None where hardly anything hints at it, or where it is sure and
        reckoned with. The figures allow for it as far as it is likely.
    cam_share
        How likely it is, where a rise is told, that a cam and no crank drives the needle bar.
    unmoved
        Parts in whose readings no motion was found; they are not among the motions.
    """

    asked: MotionAsked
    table: MotionTable
    motions: tuple[Motion, ...]
    backlash: dict[str, Figure]
    backlash_told: bool
    steps: tuple[tuple[Step, Figure, tuple[str, ...]], ...]
    departure: Departure | None
    met: Meeting | None
    not_met: str
    met_next: NextReading | None
    cam_share: float = 0.0
    suspected: Suspected | None = None
    unmoved: tuple[str, ...] = ()

    @property
    def closed(self) -> bool:
        """Whether early settings were read again late, so that what moved meanwhile shows."""
        angle = self.table.angle
        half = len(angle) // 2
        off = np.mod(angle[half:, None] - angle[:half] + np.pi, 2.0 * np.pi) - np.pi
        return int((np.abs(off) < _SAME_SETTING).any(axis=1).sum()) >= _CLOSING

    @property
    def may_be_cam(self) -> bool:
        """Whether a rise is told of a bar that a cam may as well drive."""
        return self.met is not None and self.cam_share >= _CAM_SAID

    def of(self, name: str) -> Motion | None:
        """A motion by its name."""
        return next((one for one in self.motions if one.name == name), None)


def motion(_inputs: Nothing, asked: MotionAsked, _steps: Steps) -> MotionFound:
    """Work out the motion of a head.

    Raises
    ------
    RunningError
        When the readings cannot be used.
    """
    height_error = (
        asked.height_error.value if asked.height_error else _stated(asked, HEIGHT_ERROR_MM)
    )
    angle_error = np.radians(asked.angle_error.value if asked.angle_error else ANGLE_ERROR_DEG)
    table = motion_table(
        asked.readings,
        numbers_fall=asked.turning == "fall",
        height_error=height_error,
        angle_error=float(angle_error),
    )
    unmoved = [
        name
        for at, name in enumerate(table.motions)
        if carries_none(table.angle, table.height[:, at])
    ]
    _refuse_unmoved(table, unmoved)
    moving = [name for name in table.motions if name not in unmoved]
    together = tuple(name for name in ("needle bar", "shuttle") if name in moving)
    alone = [(name,) for name in moving if name not in together]
    motions: list[Motion] = []
    backlash: dict[str, Figure] = {}
    steps = []
    suspected: Suspected | None = None
    for names in ([together] if together else []) + alone:
        part = table.only(names)
        fit, step, hint = _fitted(part, asked, height_error, float(angle_error))
        if hint is not None and (suspected is None or hint.share > suspected.share):
            suspected = hint
        if step is not None:
            at = len(fit.numbers) - len(fit.shifts) + fit.shifts.index(step.shift)
            steps.append((step, number_figure(fit, at), names))
        lost = [name for at, name in enumerate(names) if no_better_than_constant(fit, at)]
        unmoved += lost
        motions += [_motion(fit, at, name) for at, name in enumerate(names) if name not in lost]
        backlash |= _backlash(fit, names)
    _refuse_unmoved(table, unmoved)
    departure = _departure(motions)
    met, not_met, upcoming, cam_share = _meet(motions, asked, tuple(one[0] for one in steps))
    return MotionFound(
        asked, table, tuple(motions), backlash, table.way is not None, tuple(steps), departure,
        met, not_met, upcoming, cam_share, suspected, tuple(unmoved),
    )  # fmt: skip


def _refuse_unmoved(table: MotionTable, unmoved: list[str]) -> None:
    """Refuse a table in which nothing moves."""
    if set(table.motions) <= set(unmoved):
        raise RunningError(f"No motion is found: {no_motion_words(unmoved)}")


def no_motion_words(names: Sequence[str]) -> str:
    """That readings carry no motion, and what to check."""
    return (
        f"the readings of the {listed(list(names))} follow the wheel no better than numbers drawn "
        "at random would; check that each stands in its own column and in the row of its setting, "
        "and that angles are in degrees."
    )


def _stated(asked: MotionAsked, otherwise: float) -> float:
    """The error stated with the readings' columns, the largest of those in mm."""
    said = [c.error for c in asked.readings.columns if c.error and c.unit == "mm"]
    return max(said) if said else otherwise


def _fitted(
    part: MotionTable, asked: MotionAsked, height_error: float, angle_error: float
) -> tuple[JointFit, Step | None, Suspected | None]:
    """The fit of some motions, with backlash, a disc off centre and a step where they show.

    Returns
    -------
    The fit, the step that it reckons with, and one that is only suspected.
    """
    readings = Readings(part.angle, part.height, height_error, angle_error)
    for at, name in enumerate(part.motions):
        read = ~np.isnan(part.height[:, at])
        fewest = fewest_readings(name)
        if read.sum() < fewest:
            raise RunningError(
                f"The {name} was read {int(read.sum())} times: at least {fewest} readings "
                "are needed; leave the column out until there are."
            )
    curves = tuple(CrankCurve() if n == "needle bar" else CamCurve() for n in part.motions)
    shifts = _centring(part, asked) + _ways(part, part.way)
    fit = fit_motions(readings, curves, shifts)
    if part.way is None and (guessed := _order_way(part)) is not None:
        lagged = fit_motions(readings, curves, (*shifts, *_ways(part, guessed)[:1]))
        lag = number_figure(lagged, len(lagged.numbers) - 1)
        if abs(lag.value) > _BACKLASH_SURE * lag.sd:
            fit, shifts = lagged, lagged.shifts
    tried = [(fit_motions(readings, curves, (*shifts, step.shift)), step) for step in steps_in(fit)]
    fit = _as_forgiving(fit, [moved for moved, _ in tried])
    best: tuple[JointFit, Step | None] = (fit, None)
    for moved, step in tried:
        asked_more = STEP_GAIN if best[1] is None else 0.0
        if _likelihood(moved) > _likelihood(best[0]) + asked_more:
            best = (moved, step)
    if "needle bar" in part.motions and _strained(fit):
        other = fit_motions(readings, tuple(CamCurve() for _ in curves), shifts)
        other = _as_forgiving(other, [best[0]])
        ahead = _likelihood(other) - _CRANK_AHEAD
        if ahead > _likelihood(best[0]):
            best = (other, None)
            bar = part.motions.index("needle bar")
            if widest_gap(part.angle[~np.isnan(part.height[:, bar])]) > _WIDEST_CRANK:
                # so few readings cannot tell a cam of any shape from one that is nearly a crank
                loose = fit_motions(readings, _loose(curves), shifts)
                best = (other if ahead > _likelihood(loose) else loose, None)
    if best != (fit, None):
        return (*best, None)
    allowed, hint = _or_moved(fit, tried, part.motions)
    return allowed, None, hint


def _as_forgiving(fit: JointFit, others: Sequence[JointFit]) -> JointFit:
    """The fit with whatever others took for misread left out of it too, where that is likelier.

    Two misread values can hide one another from one fit and not from the next: the second would
    then speak for whatever else the next one has, such as something that moved.
    """
    likeliest = fit
    for other in others:
        if (other.left_out & ~fit.left_out).any():
            again = fit_motions(fit.readings, fit.curves, fit.shifts, other.left_out)
            if _likelihood(again) > _likelihood(likeliest):
                likeliest = again
    return likeliest


def _or_moved(
    fit: JointFit, tried: list[tuple[JointFit, Step]], names: tuple[str, ...]
) -> tuple[JointFit, Suspected | None]:
    """The fit averaged with those in which something moved, each as far as it is likely.

    A slip of a millimetre in readings that go once round is too small to be sure of and too large
    to be left out of an interval (J. Hoeting and others, as below).
    """
    if not tried:
        return fit, None
    gained = np.array([_likelihood(moved) - _likelihood(fit) for moved, _ in tried])
    share = np.array([1.0, *(MOVES * np.exp(np.minimum(gained, STEP_GAIN)))])
    share /= share.sum()
    # that nothing moved stays what is told until a move is sure: one good evening in ten hints
    order = [0, *(1 + np.argsort(-share[1:]))]
    fits = [fit, *(moved for moved, _ in tried)]
    members = tuple(
        replace(member, weight=float(share[k]) * member.weight)
        for k in order
        for member in fits[k].members
    )
    likeliest = int(np.argmax(share[1:]))
    moved, step = tried[likeliest]
    hint = None
    if share[1 + likeliest] >= _SUSPECTED:
        by = number_figure(moved, len(moved.numbers) - 1)
        name = "" if step.shift.turns else names[step.shift.motion]
        hint = Suspected(step.row, name, by, float(share[1 + likeliest]))
    first = fits[order[0]]
    return replace(first, members=members, leading=len(first.members)), hint


def _loose(curves: tuple[CrankCurve | CamCurve, ...]) -> tuple[CrankCurve | CamCurve, ...]:
    """The same curves, a crank's with room for what a cam departs by."""
    return tuple(CrankCurve(_CAM_DEPARTS) if isinstance(c, CrankCurve) else c for c in curves)


def _tight(curves: tuple[CrankCurve | CamCurve, ...]) -> tuple[CrankCurve | CamCurve, ...]:
    """The same curves, a crank's with no more departure than bearings leave."""
    return tuple(CrankCurve() if isinstance(c, CrankCurve) else c for c in curves)


def _either(fit: JointFit) -> tuple[JointFit, float]:
    """The fit averaged over a crank and a cam that may pass for one, and how likely the cam is.

    Few readings hide what a cam departs by, so that it stays in the doubt as far as they let it (J.
    Hoeting and others, Bayesian model averaging, Statistical Science 14, 1999).
    """
    crank, cam = (
        fit if fit.curves == curves else fit_motions(fit.readings, curves, fit.shifts)
        for curves in (_tight(fit.curves), _loose(fit.curves))
    )
    crank, cam = _as_forgiving(crank, [cam]), _as_forgiving(cam, [crank])
    ahead = _likelihood(cam) - _likelihood(crank) + log(_CAM_CHANCE / (1.0 - _CAM_CHANCE))
    share = 1.0 / (1.0 + exp(-min(max(ahead, -50.0), 50.0)))
    first, second = (crank, cam) if share < 0.5 else (cam, crank)
    parts = ((first, max(share, 1.0 - share)), (second, min(share, 1.0 - share)))
    members = tuple(
        replace(member, weight=weight * member.weight)
        for one, weight in parts
        for member in one.members
    )
    return replace(first, members=members), share


def _or_cam(fit: JointFit, step: Step) -> bool:
    """Whether a cam and no step explains the readings nearly as well as a crank and a step."""
    still = tuple(shift for shift in fit.shifts if shift is not step.shift)
    loose = fit_motions(fit.readings, _loose(fit.curves), still)
    cam = fit_motions(fit.readings, tuple(CamCurve() for _ in fit.curves), still)
    other = max(_likelihood(loose), _likelihood(cam) - _CRANK_AHEAD)
    return other > _likelihood(fit) - _STEP_SURE


def more_to_settle(bar: Motion) -> str:
    """How many more readings of a needle bar tell a cam from a crank, in words."""
    places: Floats = np.arange(0.0, 360.0, _SETTLES_DEG)
    off = np.mod(places[:, None] - np.degrees(bar.angles) + 180.0, 360.0) - 180.0
    more = max(int((np.abs(off).min(axis=1) > 0.5 * _SETTLES_DEG).sum()), 1)
    return (
        f"{more} more readings of the bar, one every {_SETTLES_DEG:.0f}° round the turn where "
        "none was taken"
    )


def _strained(fit: JointFit) -> bool:
    """Whether a crank and link strain to follow the readings, so that a cam is tried as well."""
    stretched = fit.members[0].logs - fit.strict.logs
    return bool(fit.left_out.any() or stretched[0] > _STRAIN or (stretched[1:3] > _STRAIN).any())


def _likelihood(fit: JointFit) -> float:
    """Log of the marginal likelihood, with what each value left out costs."""
    return fit.evidence - _KEPT * int(fit.linear.keep.sum()) - _LEFT_OUT * int(fit.left_out.sum())


def _centring(part: MotionTable, asked: MotionAsked) -> tuple[Shift, ...]:
    """A disc that may be off centre turns every angle by a wave once round."""
    if asked.centring is None or part.off_centre is not None or asked.centring.value == 0.0:
        return ()
    sd = float(np.radians(asked.centring.value))
    return (
        Shift(np.cos(part.angle), -1, turns=True, sd=sd),
        Shift(np.sin(part.angle), -1, turns=True, sd=sd),
    )


def _ways(part: MotionTable, way: Floats | None) -> tuple[Shift, ...]:
    """Backlash of each motion, where settings were reached both ways."""
    if way is None or len(np.unique(way)) < 2:
        return ()
    back = (way < 0.0).astype(np.float64)
    if part.way is None:
        return (Shift(back, -1, turns=True, sd=_BACKLASH_SD),)
    return tuple(
        Shift(back, at, turns=True, sd=_BACKLASH_SD)
        for at in range(len(part.motions))
        if 0 < (back * ~np.isnan(part.height[:, at])).sum() < (~np.isnan(part.height[:, at])).sum()
    )


def _order_way(part: MotionTable) -> Floats | None:
    """Which way each setting was reached, if rows stand in the order taken; None if all one way."""
    moved = np.mod(np.diff(part.angle) + np.pi, 2.0 * np.pi) - np.pi
    way = np.sign(np.concatenate((moved[:1], moved)))
    way[way == 0.0] = 1.0
    back = int((way < 0.0).sum())
    if back > len(way) // 2:
        return None if back > len(way) - 3 else way
    return way if back >= 3 else None


def _backlash(fit: JointFit, names: tuple[str, ...]) -> dict[str, Figure]:
    first = len(fit.numbers) - len(fit.shifts)
    found = {}
    for at, shift in enumerate(fit.shifts):
        if shift.turns and shift.sd == _BACKLASH_SD:
            name = names[shift.motion] if shift.motion >= 0 else " and ".join(names)
            found[name] = number_figure(fit, first + at)
    return found


def _motion(fit: JointFit, at: int, name: str) -> Motion:
    """A motion's stroke and dead centres, or why they cannot be told."""
    crank = isinstance(fit.curves[at], CrankCurve)
    used = fit.readings.angle[fit.linear.keep[:, at]]
    gap, count = widest_gap(used), len(np.unique(np.round(np.degrees(np.mod(used, 2 * np.pi)), 0)))
    widest, fewest = (_WIDEST_CRANK, _FEWEST_CRANK) if crank else (_WIDEST_CAM, _FEWEST_CAM)
    taken = stroke_taken(fit, at)
    if gap > widest or count < fewest:
        why = (
            f"the {name} was read at {count} angles with {np.degrees(gap):.0f}° between the two "
            f"furthest apart, and a stroke needs {fewest} all round, none further than "
            f"{np.degrees(widest):.0f}° from the next"
        )
        return Motion(name, fit, at, None, None, None, (False, False), why, None)
    if loose := unguarded(fit, taken):
        why = (
            f"no reading near it checks row {loose[0][0] + 1}, and one slip there would pass for "
            "the truth"
        )
        return Motion(name, fit, at, None, None, None, (False, False), why, None)
    upcoming = next_reading(fit, (at,), taken)
    if crank:
        ends = [figure_of(fit, turning_taken(fit, at, top=top)) for top in (False, True)]
        return Motion(
            name, fit, at, figure_of(fit, taken), ends[0], ends[1], (False, False), "", upcoming
        )
    turns = cam_turns(fit, at)
    whole = turns.stroke
    if name == "needle bar":
        # a heart-shaped cam turns more sharply than readings so far apart can show
        steep = float(np.abs(fit.curve(at, np.arange(0.0, 2.0 * np.pi, 0.02)).slope).max())
        whole = Figure(whole.value, whole.low, whole.high + steep * gap, whole.sd)
    return Motion(
        name, fit, at, whole, turns.lowest, turns.highest, turns.rests[::-1], "", upcoming
    )


def _departure(motions: list[Motion]) -> Departure | None:
    """A departure of the needle bar from a crank's curve that the readings are sure of."""
    for one in motions:
        if one.name != "needle bar" or one.stroke is None:
            continue
        start = one.fit.parts[one.at].start + CrankCurve.departures.start
        two = slice(start, start + 2)
        weight = [m.weight for m in one.fit.members]
        mean = np.average([m.numbers[two] for m in one.fit.members], axis=0, weights=weight)
        size = float(np.hypot(*mean))
        spread = np.average(
            [np.diag(m.covariance)[two] for m in one.fit.members], axis=0, weights=weight
        )
        sd = float(np.sqrt(spread.max()))
        if size > max(_DEPARTS_SD * sd, _DEPARTS_MM):
            return Departure(size, sd, 2.0 * size / (0.5 * one.stroke.value))
    return None


def _meet(
    motions: list[Motion], asked: MotionAsked, steps: tuple[Step, ...]
) -> tuple[Meeting | None, str, NextReading | None, float]:
    """The meeting of shuttle point and needle, or why it is not told."""
    names = [one.name for one in motions]
    if "needle bar" not in names or "shuttle" not in names:
        return None, "", None, 0.0
    if asked.meeting is None:
        return None, (
            "To learn the needle's rise at the meeting, give the shuttle's reading when its point "
            "stands at the needle."
        ), None, 0.0  # fmt: skip
    fit, needle, shuttle = motions[0].fit, names.index("needle bar"), names.index("shuttle")
    if not isinstance(fit.curves[needle], CrankCurve):
        return None, f"The needle bar follows no crank and link, so {_READ_ENDS}", None, 1.0
    if slipped := next((s for s in steps if s.shift in fit.shifts and _or_cam(fit, s)), None):
        return None, (
            f"What looks like something that moved from row {slipped.row + 1} on may as well be "
            f"a needle bar driven by a cam, so {_READ_ENDS}"
        ), None, 0.0  # fmt: skip
    fit, share = _either(fit)
    if share >= _CAM_RULES:
        return None, (
            "The readings look more like those of a needle bar driven by a cam "
            f"({100.0 * share:.0f} %) than by a crank and link, so {_READ_ENDS} "
            f"{more_to_settle(motions[needle])}, would settle which it is."
        ), None, share  # fmt: skip
    error = asked.meeting.error
    if error is None:
        error = fit.height_scatter
    try:
        met = meeting(fit, needle, shuttle, asked.meeting.value, error)
    except RunningError as refusal:
        return None, str(refusal), None, share
    return met, "", next_reading(fit, (needle, shuttle), met.taken), share
