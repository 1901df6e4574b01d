"""Several motions fitted together to readings whose wheel angle is in doubt too.

Motions read at one setting of the wheel share that setting's error of angle, so the readings of a
row are correlated by the slopes of the curves; a fit that knows it takes all that pairs tell about
how two motions stand to each other. Errors-in-variables by the first-order marginal covariance
(W. A. Fuller, *Measurement Error Models*, 1987, ch. 3); the scatters and the sizes of the prior are
integrated out around their mode by sigma points (S. Julier and J. Uhlmann, 1997) on the marginal
likelihood of the linearised model (D. MacKay, 1992).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import pi

import numpy as np
from scipy.linalg import solve_triangular

from ironlace.evidence.arrays import Bools, Floats
from ironlace.running.errors import RunningError
from ironlace.running.motion.curves import CamCurve, CrankCurve, Curve

_ROUNDS = 4
"""Times that the curves are straightened anew around what was found."""

_TURNS = 40
"""Most Gauss-Newton steps within one round."""

_FREEDOM = 3.0
"""Degrees of freedom of the heavy-tailed law that finds misread values (common practice)."""

_MISREAD = 4.5
"""Standard deviations beyond which a value is named as misread and left out. Among a hundred good
readings of a normal law one in 1,500 tables holds such a value."""

_MOST_MISREAD = 0.2
"""Share of the values that may be named as misread: where more disagree it is no slip."""

_ALL_ROUND = 2.1
"""A motion is read all round when no gap between its angles is wider, rad (120 degrees)."""

_MEDIAN_TO_SD = 1.4826
"""Standard deviation of a normal law over its median distance (exact, rounded)."""

_SCATTER_ROOM = 0.3
"""By how much, as a logarithm, the scatter may pass what the middle of the residuals tells while
misread values are looked for."""

_SCATTER_SD = 0.5
"""How firmly a stated scatter is believed: one standard deviation of its logarithm."""

_CAM_MM, _CAM_SD = 12.0, 1.2
"""First harmonic of a cam's motion beforehand, mm, and the doubt of its logarithm."""

_LONGEST_STEP = 1.5
"""Longest step of a logarithm in looking for the mode."""

_NO_CURVE = (
    "No curve can be laid through these readings: check that heights are in mm and angles in "
    "degrees, and that each stands in the row of the setting it was read at."
)


@dataclass(frozen=True, slots=True, eq=False)
class Shift:
    """Something that moved for a part of the rows: the wheel's angle, or one motion's height.

    Attributes
    ----------
    share
        (r,) how much of it each row has: 1 or 0 for what moved at once.
    motion
        The motion's place, -1 for all.
    turns
        Whether it is an angle, rad; a height, mm, otherwise.
    sd
        Standard deviation beforehand, in that unit.
    """

    share: Floats
    motion: int
    turns: bool
    sd: float


@dataclass(frozen=True, slots=True)
class Readings:
    """What was read, as the fit takes it.

    Attributes
    ----------
    angle
        (r,) rad, rising as the machine sews.
    height
        (r, c) mm, NaN where nothing was read.
    height_error, angle_error
        Standard uncertainty of one reading, mm and rad, as stated or by common practice.
    """

    angle: Floats
    height: Floats
    height_error: float
    angle_error: float


@dataclass(frozen=True, slots=True)
class Member:
    """The fit at one setting of scatters and sizes: its weight, numbers and their covariance."""

    weight: float
    numbers: Floats
    covariance: Floats
    logs: Floats


@dataclass(frozen=True, slots=True)
class JointFit:
    """Motions fitted together.

    Attributes
    ----------
    curves, parts
        The curve of each motion, and where its numbers stand.
    shifts
        What was reckoned to have moved; their numbers come last.
    members
        The mixture that stands for what is believed.
    left_out
        (r, c) the values named as misread.
    strange
        (r, c) residuals in standard deviations, the left-out ones too; NaN where nothing was read.
    linear
        The readings straightened around what was found.
    strict
        The fit with no more scatter and departure than was expected: what moved shows against it.
    evidence
        Log of the marginal likelihood at the mode, up to what all fits of these readings share.
    leading
        How many of the members, the first ones, are of the account that is told: where others are
        only allowed for, a figure's value is that of these, its interval that of all. None: all.
    """

    curves: tuple[CrankCurve | CamCurve, ...]
    parts: tuple[slice, ...]
    shifts: tuple[Shift, ...]
    members: tuple[Member, ...]
    readings: Readings
    left_out: Bools
    strange: Floats
    linear: "_Straight"
    strict: Member
    evidence: float
    leading: int | None = None

    @property
    def numbers(self) -> Floats:
        """The numbers at the mode."""
        return self.members[0].numbers

    @property
    def height_scatter(self) -> float:
        """Scatter of one height, mm."""
        return float(np.exp(self.members[0].logs[0]))

    @property
    def angle_scatter(self) -> float:
        """Scatter of one angle, rad."""
        return float(np.exp(self.members[0].logs[1]))

    def curve(self, motion: int, angle: Floats, numbers: Floats | None = None) -> Curve:
        """The curve of one motion at some angles, rad."""
        all_numbers = self.numbers if numbers is None else numbers
        return self.curves[motion].at(angle, all_numbers[self.parts[motion]])


@dataclass(frozen=True, slots=True)
class _Straight:
    """The readings straightened around some numbers."""

    design: Floats  # (r, c, p)
    target: Floats  # (r, c): what design @ numbers should be
    slope: Floats  # (r, c)
    keep: Bools  # (r, c)
    loose: Floats  # (r, c): variance of each in units of the scatter's


def fit_motions(
    readings: Readings,
    curves: Sequence[CrankCurve | CamCurve],
    shifts: Sequence[Shift] = (),
    left_out: Bools | None = None,
) -> JointFit:
    """Fit motions to readings.

    Parameters
    ----------
    left_out
        (r, c) values not to use; None to look for misread ones.

    Raises
    ------
    RunningError
        When no curve can be fitted.
    """
    problem = _Problem(readings, tuple(curves), tuple(shifts))
    known = ~np.isnan(readings.height)
    numbers, logs = problem.start(known)
    out = np.zeros_like(known) if left_out is None else left_out
    if left_out is None:
        numbers = problem.settle(numbers, logs, known, heavy=True)
        problem.bound_scatter(numbers, logs, known)
        numbers, out = problem.without_misread(numbers, logs, known, out)
    for _ in range(_ROUNDS):
        numbers = problem.settle(numbers, logs, known & ~out)
        straight = problem.straight(numbers, known & ~out)
        logs, doubt = problem.mode(straight, logs)
        problem.angle_variance = float(np.exp(2.0 * logs[1]))
        if left_out is not None:
            continue
        numbers, again = problem.without_misread(numbers, logs, known, out)
        if bool((again == out).all()):
            break
        out = again
    strange = problem.strange(numbers, logs, known, known & ~out)
    members = problem.members(straight, logs, doubt)
    return JointFit(
        problem.curves,
        problem.parts,
        problem.shifts,
        members,
        readings,
        out,
        strange,
        straight,
        problem.strict(straight, logs),
        problem.told(straight, logs),
    )


class _Problem:
    """One fit: what is to be found, its prior, and the steps towards it."""

    def __init__(
        self,
        readings: Readings,
        curves: tuple[CrankCurve | CamCurve, ...],
        shifts: tuple[Shift, ...],
    ) -> None:
        self.readings, self.curves, self.shifts = readings, curves, shifts
        ends = np.cumsum([curve.size for curve in curves])
        self.parts = tuple(
            slice(int(e) - c.size, int(e)) for e, c in zip(ends, curves, strict=True)
        )
        self.size = int(ends[-1]) + len(shifts)
        sizes = [c.likely_mm if isinstance(c, CrankCurve) else (_CAM_MM, _CAM_SD) for c in curves]
        self.log_mean = np.log(
            [readings.height_error, readings.angle_error, *(mm for mm, _ in sizes)]
        )
        self.angle_variance = readings.angle_error**2
        self.most_scatter = np.full(2, np.inf)
        self.log_sd = np.array([_SCATTER_SD, _SCATTER_SD, *(sd for _, sd in sizes)])

    def prior(self, logs: Floats) -> tuple[Floats, Floats]:
        """Mean and standard deviation of all numbers, given the sizes."""
        means, sds = zip(
            *(c.prior(float(np.exp(s))) for c, s in zip(self.curves, logs[2:], strict=True)),
            strict=True,
        )
        moved = np.array([shift.sd for shift in self.shifts])
        return (
            np.concatenate((*means, np.zeros(len(self.shifts)))),
            np.concatenate((*sds, moved)),
        )

    def start(self, known: Bools) -> tuple[Floats, Floats]:
        """Numbers and sizes to begin with: a wave that few readings can pull away."""
        angle, height = self.readings.angle, self.readings.height
        numbers, logs = np.zeros(self.size), self.log_mean.copy()
        for at, (curve, part) in enumerate(zip(self.curves, self.parts, strict=True)):
            has = known[:, at]
            base, cosine, sine = _wave(angle[has], height[has, at])
            size = float(np.hypot(cosine, sine))
            if isinstance(curve, CrankCurve):
                radius = max(size, 1.0)
                lowest = float(np.arctan2(-sine, -cosine))
                first = np.array([base - radius, radius, lowest, 0.2, 0.0])
                numbers[part][curve.crank] = first
            else:
                numbers[part][:3] = base, cosine, sine
                if widest_gap(angle[has]) < _ALL_ROUND:
                    # a size that misread values had a part in would hide them
                    logs[2 + at] = np.log(np.clip(size, 0.2, 100.0))
        return numbers, logs

    def seen_at(self, motion: int, numbers: Floats) -> Floats:
        """The angle at which a motion stood at each row, rad, with what moved."""
        angle = self.readings.angle.copy()
        moved = numbers[self.size - len(self.shifts) :]
        for shift, by in zip(self.shifts, moved, strict=True):
            if shift.turns and shift.motion in (-1, motion):
                angle += by * shift.share
        return angle

    def straight(self, numbers: Floats, keep: Bools, loose: Floats | None = None) -> _Straight:
        """Straighten the curves around some numbers."""
        rows, motions = keep.shape
        design = np.zeros((rows, motions, self.size))
        value, slope = np.zeros((rows, motions)), np.zeros((rows, motions))
        moved = numbers[self.size - len(self.shifts) :]
        for at, (curve, part) in enumerate(zip(self.curves, self.parts, strict=True)):
            found = curve.at(self.seen_at(at, numbers), numbers[part])
            # an angle in doubt reads a bend as less than it is
            value[:, at] = found.value + 0.5 * found.bend * self.angle_variance
            slope[:, at] = found.slope
            design[:, at, part] = found.by_number
            for place, (shift, by) in enumerate(zip(self.shifts, moved, strict=True)):
                if shift.motion not in (-1, at):
                    continue
                column = self.size - len(self.shifts) + place
                if shift.turns:
                    design[:, at, column] = found.slope * shift.share
                else:
                    design[:, at, column] = shift.share
                    value[:, at] += by * shift.share
        left = np.where(keep, np.nan_to_num(self.readings.height) - value, 0.0)
        target = left + design @ numbers
        return _Straight(
            design, target, slope, keep, np.ones_like(value) if loose is None else loose
        )

    def solve(self, at: _Straight, logs: Floats) -> tuple[Floats, Floats, float]:
        """Numbers, the factor of their precision, and the log of the marginal likelihood."""
        height, angle = np.exp(2.0 * logs[:2])
        weight = np.where(at.keep, 1.0 / (height * at.loose), 0.0)
        weighed = weight * at.slope
        shared = 1.0 + angle * (weighed * at.slope).sum(axis=1)
        pull = angle / shared
        mean, sd = self.prior(logs)
        flat = at.design.reshape(-1, self.size)
        both = np.einsum("rcp,rc->rp", at.design, weighed)
        target = at.target - at.design @ mean
        precision = (flat * weight.reshape(-1, 1)).T @ flat
        precision -= (both * pull[:, None]).T @ both
        precision[np.diag_indices(self.size)] += 1.0 / sd**2
        together = (weighed * target).sum(axis=1)
        score = flat.T @ (weight * target).ravel() - both.T @ (pull * together)
        try:
            factor: Floats = np.linalg.cholesky(precision).astype(np.float64, copy=False)
        except np.linalg.LinAlgError as error:
            raise RunningError(_NO_CURVE) from error
        half = solve_triangular(factor, score, lower=True, check_finite=False)
        numbers: Floats = mean + solve_triangular(factor.T, half, lower=False, check_finite=False)
        squares = (weight * target**2).sum() - (pull * together**2).sum() - half @ half
        logs_of = np.log(weight[at.keep]).sum() - np.log(shared).sum()
        logs_of -= 2.0 * np.log(np.diag(factor)).sum() + 2.0 * np.log(sd).sum()
        return numbers, factor, float(0.5 * (logs_of - squares))

    def settle(self, numbers: Floats, logs: Floats, keep: Bools, *, heavy: bool = False) -> Floats:
        """Gauss-Newton at given scatters; with heavy tails where misread values may be."""
        loose = np.ones(keep.shape)
        for turn in range(_TURNS):
            if heavy:
                at = self.straight(numbers, keep)
                own = np.exp(2.0 * logs[0]) + np.exp(2.0 * logs[1]) * at.slope**2
                left = (at.target - at.design @ numbers) ** 2 / own
                loose = (_FREEDOM + left) / (_FREEDOM + 1.0)
            found, _, _ = self.solve(self.straight(numbers, keep, loose), logs)
            found = self._within(found, numbers)
            moved = np.abs(found - numbers).max()
            numbers = found
            if moved < 1e-7 or (heavy and turn > _TURNS // 2):
                break
        if not np.isfinite(numbers).all():
            raise RunningError(_NO_CURVE)
        return numbers

    def _within(self, found: Floats, before: Floats) -> Floats:
        """Numbers that a crank can have, reached in steps that it can follow."""
        for curve, part in zip(self.curves, self.parts, strict=True):
            if isinstance(curve, CrankCurve):
                one = found[part]
                one[1] = max(one[1], 0.2)
                one[2] = before[part][2] + float(np.clip(one[2] - before[part][2], -0.5, 0.5))
                one[3] = float(np.clip(one[3], -0.75, 0.75))
                one[4] = float(np.clip(one[4], -0.75, 0.75))
        return found

    def bound_scatter(self, numbers: Floats, logs: Floats, known: Bools) -> None:
        """Let no few misread values pass for scatter while they are looked for."""
        strange = np.abs(self.strange(numbers, logs, known, known)[known])
        usual = max(float(np.median(strange)) * _MEDIAN_TO_SD, 1.0)
        self.most_scatter = self.log_mean[:2] + np.log(usual) + _SCATTER_ROOM

    def without_misread(
        self, numbers: Floats, logs: Floats, known: Bools, out: Bools
    ) -> tuple[Floats, Bools]:
        """Leave misread values out, the strangest first, and take back what fits after all."""
        out = out.copy()
        logs = logs.copy()
        logs[:2] = np.minimum(logs[:2], self.most_scatter)
        most = int(np.ceil(_MOST_MISREAD * known.sum()))
        for _ in range(2 * most):
            strange = np.abs(np.nan_to_num(self.strange(numbers, logs, known, known & ~out)))
            back = out & (strange < _MISREAD)
            worst = np.unravel_index(np.argmax(np.where(out, 0.0, strange)), known.shape)
            if back.any():
                out &= ~back
            elif strange[worst] > _MISREAD and not out[worst] and out.sum() < most:
                out[worst] = True
            else:
                break
            numbers = self.settle(numbers, logs, known & ~out)
        return numbers, out

    def strange(self, numbers: Floats, logs: Floats, known: Bools, keep: Bools) -> Floats:
        """(r, c) by how many standard deviations each value is off what the others foretell."""
        at = self.straight(numbers, known)
        height, angle = np.exp(2.0 * logs[:2])
        left = at.target - at.design @ numbers
        own = height + angle * at.slope**2
        _, factor, _ = self.solve(self.straight(numbers, keep), logs)
        flat = at.design.reshape(-1, self.size)
        open_ = solve_triangular(factor, flat.T, lower=True, check_finite=False)
        shared = (open_**2).sum(axis=0).reshape(own.shape)
        # of a value that had a part in the fit, the fit took up as much as it shares
        alone = np.where(keep, np.maximum(own - shared, 0.02 * own), own + shared)
        return np.where(known, left / np.sqrt(alone), np.nan)

    def mode(self, at: _Straight, logs: Floats) -> tuple[Floats, Floats]:
        """The likeliest scatters and sizes, as logarithms, and the covariance around them."""
        return _climb(lambda trial: self.told(at, trial), logs, self.log_sd)

    def told(self, at: _Straight, logs: Floats) -> float:
        """How likely scatters and sizes are by the readings and beforehand, as a logarithm."""
        off = (logs - self.log_mean) / self.log_sd
        return self.solve(at, logs)[2] - 0.5 * float(off @ off)

    def strict(self, at: _Straight, logs: Floats) -> Member:
        """The fit that leaves to what moved all that it can."""
        firm = np.array([True, True, *(isinstance(c, CrankCurve) for c in self.curves)])
        tight = np.where(firm, np.minimum(logs, self.log_mean), logs)
        numbers, factor, _ = self.solve(at, tight)
        inverse = solve_triangular(factor, np.eye(self.size), lower=True, check_finite=False)
        return Member(1.0, numbers, inverse.T @ inverse, tight)

    def members(self, at: _Straight, logs: Floats, doubt: Floats) -> tuple[Member, ...]:
        """The fits around the mode that stand for what the scatters and sizes may be."""
        size = len(logs)
        spread = np.linalg.cholesky(doubt) * np.sqrt(size + 1.0)
        steps = [np.zeros(size), *spread.T, *(-spread.T)]
        made = []
        for step in steps:
            numbers, factor, _ = self.solve(at, logs + step)
            inverse = solve_triangular(factor, np.eye(self.size), lower=True, check_finite=False)
            weight = 1.0 / (size + 1.0) if not step.any() else 0.5 / (size + 1.0)
            made.append(Member(weight, numbers, inverse.T @ inverse, logs + step))
        return tuple(made)


def _wave(angle: Floats, height: Floats) -> Floats:
    """Mean, cosine and sine of the wave that lies nearest by absolute distance."""
    design = np.column_stack((np.ones_like(angle), np.cos(angle), np.sin(angle)))
    weight = np.ones_like(height)
    hold = np.diag([1e-9, 1e-4, 1e-4])  # a wave over few angles must not grow without bound
    found = np.zeros(3)
    for _ in range(30):
        found = np.linalg.solve(
            (design * weight[:, None]).T @ design + hold, design.T @ (weight * height)
        )
        weight = 1.0 / np.maximum(np.abs(height - design @ found), 0.3)
    return found


def _climb(told: Callable[[Floats], float], start: Floats, width: Floats) -> tuple[Floats, Floats]:
    """Newton's way up by differences; the covariance at the top from the same differences."""
    logs, step = start.copy(), 0.05 * np.minimum(width, 1.0) * 2.0
    curved = np.diag(-1.0 / width**2)
    for _ in range(8):
        slope, curved = _differences(told, logs, step)
        values, axes = np.linalg.eigh(curved)
        values = np.minimum(values, -0.3 / float(width.max()) ** 2)
        move = axes @ ((axes.T @ slope) / -values)
        long = np.abs(move).max() / _LONGEST_STEP
        logs = logs + move / max(long, 1.0)
        if np.abs(move).max() < 0.02:
            break
    values, axes = np.linalg.eigh(curved)
    values = np.minimum(values, -1.0 / float(width.max()) ** 2)
    return logs, (axes / -values) @ axes.T


def _differences(
    told: Callable[[Floats], float], at: Floats, step: Floats
) -> tuple[Floats, Floats]:
    size = len(at)
    shifts = np.diag(step)
    middle = told(at)
    up = np.array([told(at + s) for s in shifts])
    down = np.array([told(at - s) for s in shifts])
    slope = (up - down) / (2.0 * step)
    curved = np.diag((up - 2.0 * middle + down) / step**2)
    for i in range(size):
        for j in range(i):
            both = told(at + shifts[i] + shifts[j])
            value = (both - up[i] - up[j] + middle) / (step[i] * step[j])
            curved[i, j] = curved[j, i] = value
    return slope, curved


def widest_gap(angle: Floats) -> float:
    """The widest gap between angles on the circle, rad."""
    if len(angle) == 0:
        return 2.0 * pi
    turned = np.sort(np.mod(angle, 2.0 * pi))
    return float(np.diff(turned, append=turned[0] + 2.0 * pi).max())
