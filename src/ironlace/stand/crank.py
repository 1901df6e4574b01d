"""Whether a handle held by magnets drives the wheel, or needs a peg against a spoke.

The torque's peak comes from a curve round the wheel fitted to readings by string and spring scale,
taken twice; the magnets' friction and their hold against being levered off are set against it.
Measured slip goes before anything computed.
"""

from dataclasses import dataclass, replace
from math import cos, pi, sin
from typing import Annotated, Any, Literal

import numpy as np

from ironlace.evidence.analyses import Ask
from ironlace.evidence.arrays import Floats
from ironlace.stand.base import LEAST_NM, Span
from ironlace.stand.errors import StandError
from ironlace.stand.magnet_pull import DiscMagnet, IronSeat, drawn_pulls
from ironlace.stand.periodic import Readings, fit_periodic, series

HOLDS = 1.5
"""A safety factor that holds a visitor's hand: common practice, no source."""

_HANDLE = (0.4, 1.25)
"""From the axis to a handle, by the string's radius: a handle is laid towards the rim to be light
to turn, and hardly ever beyond it (a judgement)."""

_DRAWS = 8000
"""Draws of torque, pull and friction: an interval's end is then known to 1 %."""

_TORQUES = ((1.0, 1.0, 0.5, 0.15, 0.05), (1.0, 0.5, 0.2, 0.06, 0.02), (0.5, 1.0, 0.7, 0.25, 0.1))
"""Harmonics of a torque round the wheel: needle bar and take-up once, feed and shuttle once or
twice a turn (own judgement)."""

_READING_SHARE = (0.04, 6.0)
"""What is believed beforehand of a pull's scatter by hand: its share of the pull, and as of how
many repeats that counts (a judgement)."""

_SLIP_SHARE = (0.06, 4.0)
"""The same of a slip reading."""

_MOST_PULLS = 400
"""Of all series together: nobody pulls a string more often (a judgement)."""

_MOST_NM = 5.0
"""A torque beyond this is not a sewing head's by hand: then pulls were no newtons (a judgement)."""

_GF_N, _KGF_N = 0.00980665, 9.80665
"""A gram's and a kilogram's weight in newtons (exact)."""

_TAIL = 0.05
"""Share of a 90 % interval that lies below its low end, and above its high end."""

_SPREAD = 1.2
"""By how much the draws of the torque's peak are spread: the prior and the scatter are learned from
the same few readings (tuned on invented wheels until 90 % held 90 %)."""

_BEYOND = 0.03
"""By how much friction is let go beyond the range given: a range is told by judgement."""

_ABSURD = 40.0
"""A hub that holds so many times the wheel's torque was not read in newtons (a judgement)."""

_FALLS = 0.5
"""A pull of nothing is believed where its neighbours are below this share of the middle pull, as
where a wheel runs by itself; above it, a nought stands for what was not read (a judgement)."""

_UNLIKE = 4.0
"""Two series of pulls that differ by more than this factor are not in the same unit."""

_ORDER_NM = (0.2, 1.5)
"""Greatest torque of heads in order, by hand (as for the base: a judgement). Outside it a pull was
probably read in another unit, or the radius is a diameter."""

_UNREAD_DEG, _HALF_DEG = 75.0, 180.0
"""Between two wheel angles: beyond the first the peak may lie where nobody read and no hand is
trusted to the magnets; beyond the second the angles were no degrees of a whole turn (a judgement;
eight angles stand 45 degrees apart)."""

_APART_LOG = 0.5
"""Logarithm by which two series may differ at one angle while elsewhere they agree: two thirds more
or less is no scatter of a string (a judgement)."""

_ROUNDS_APART = 0.10
"""Scatter of a pull between series, as a share, from which they are not of the same angles: a hand
pulls alike to 3 or 5 % (a judgement)."""

_Newtons = Annotated[float, Ask("Pull", unit="N", low=0.0, high=100_000.0)]


@dataclass(frozen=True, slots=True)
class Wheel:
    """The iron that the magnets sit on."""

    iron: Literal["grey iron", "steel"]
    seat_half_width_mm: Annotated[float, Ask("Half width", unit="mm", low=0.5, high=200.0)]
    seat_thickness_mm: Annotated[float, Ask("Thickness", unit="mm", low=0.3, high=100.0)]


@dataclass(frozen=True, slots=True)
class TorqueReadings:
    """Pulls of a string round the rim at wheel angles, each series once round."""

    string_radius_mm: Annotated[float, Ask("Radius", unit="mm", low=5.0, high=1000.0)]
    wheel_deg: tuple[float, ...]
    pull_N: tuple[tuple[_Newtons, ...], ...]  # noqa: N815  (newton)
    scale_step_N: Annotated[float, Ask("Step", unit="N", low=0.0, high=50.0)] = 0.0  # noqa: N815
    scale_error_percent: Annotated[float, Ask("Error", unit="%", low=0.0, high=30.0)] = 2.0


@dataclass(frozen=True, slots=True)
class Handle:
    """Where the hand pulls: from the axis, and above the magnets' faces."""

    radius_mm: Annotated[float, Ask("Radius", unit="mm", low=5.0, high=500.0)]
    above_seat_mm: Annotated[float, Ask("Height", unit="mm", low=0.1, high=500.0)]


@dataclass(frozen=True, slots=True)
class Magnets:
    """Disc magnets evenly on a circle round the axis."""

    count: Annotated[int, Ask("Magnets", low=2, high=60)]
    diameter_mm: Annotated[float, Ask("Diameter", unit="mm", low=1.0, high=100.0)]
    height_mm: Annotated[float, Ask("Height", unit="mm", low=0.3, high=100.0)]
    polarization_T: Annotated[float, Ask("Polarization", unit="T", low=0.05, high=1.6)]  # noqa: N815
    gap_mm: Annotated[float, Ask("Gap", unit="mm", low=-1.0, high=20.0)]
    circle_radius_mm: Annotated[float, Ask("Circle", unit="mm", low=1.0, high=500.0)]
    gap_sd_mm: Annotated[float, Ask("Error", unit="mm", low=0.0, high=5.0)] = 0.1


@dataclass(frozen=True, slots=True)
class FrictionRange:
    """Between what the coefficient of friction lies."""

    low: Annotated[float, Ask("Friction", low=0.0, high=10.0)]
    high: Annotated[float, Ask("Friction", low=0.0, high=10.0)]


@dataclass(frozen=True, slots=True)
class Peg:
    """A peg that bears against a spoke."""

    spoke_radius_mm: Annotated[float, Ask("Radius", unit="mm", low=1.0, high=500.0)]


@dataclass(frozen=True, slots=True)
class Slip:
    """Pulls of a string round the seated hub at which it slipped."""

    slip_pull_N: tuple[_Newtons, ...]  # noqa: N815  (newton)
    slip_radius_mm: Annotated[float, Ask("Radius", unit="mm", low=1.0, high=500.0)]


@dataclass(frozen=True, slots=True)
class CrankCase:
    """A whole case for `crank`."""

    wheel: Wheel
    torque: TorqueReadings
    handle: Handle
    magnets: Magnets
    friction: FrictionRange
    peg: Peg | None = None
    measured: Slip | None = None


@dataclass(frozen=True)
class CrankFound:
    """A crank worked out.

    Attributes
    ----------
    peak_deg
        Wheel angle of the torque's peak.
    torque_round
        Low end, middle and high end of the torque at even steps round the wheel, shape (n, 3), N m.
    at_odds
        What contradicts what; empty when all that was given goes together.
    doubts
        What makes it probable that something given is not what it was said to be.
    """

    torque_peak: Span
    peak_deg: float
    pull_each: Span
    slip_safety: Span
    peel_safety: Span
    verdict: str
    peg_force: Span | None
    next_reading: str
    warnings: tuple[str, ...]
    torque_round: Floats
    at_odds: str = ""
    doubts: tuple[str, ...] = ()


def work_out_crank(case: CrankCase, rng: np.random.Generator) -> CrankFound:
    """Work out a crank.

    Parameters
    ----------
    rng
        Draws torques, pulls and frictions that intervals are taken from.

    Raises
    ------
    StandError
        When readings do not go together, are not in newtons, or a measure cannot be.
    """
    _check(case)
    case, doubts = _doubted(case)
    gain = 1.0 + case.torque.scale_error_percent / 100.0 * rng.standard_normal(_DRAWS)
    peaks, peak_deg, torque_round = _peaks(case.torque, rng)
    magnets = case.magnets
    disc = DiscMagnet(magnets.diameter_mm, magnets.height_mm, magnets.polarization_T)
    seat = IronSeat(case.wheel.iron, case.wheel.seat_half_width_mm, case.wheel.seat_thickness_mm)
    pulls = drawn_pulls(disc, seat, (magnets.gap_mm, magnets.gap_sd_mm), _DRAWS, rng)
    low, high = case.friction.low * (1.0 - _BEYOND), case.friction.high * (1.0 + _BEYOND)
    friction = rng.uniform(low, high, _DRAWS)
    metres = magnets.circle_radius_mm / 1000.0
    holds = friction * magnets.count * pulls * metres
    torque = peaks * gain
    slip = holds / torque
    at_odds = ""
    if case.measured is not None and case.measured.slip_pull_N:
        middle, log_sd = _slip_torque(case.measured, case.torque.scale_step_N)
        # scale and string are the same for torque and slip, so that the scale's error cancels
        slip = middle * np.exp(log_sd * rng.standard_normal(_DRAWS)) / peaks
        pulls, at_odds = _agreeing(pulls, holds, middle * gain, log_sd, rng)
    levered = torque / (case.handle.radius_mm / 1000.0) * case.handle.above_seat_mm / 1000.0
    peel = magnets.count * pulls * metres * cos(pi / magnets.count) / levered
    safety = Span.of(slip), Span.of(peel)
    verdict = _verdict(*safety)
    doubts += _out_of_order(Span.of(torque))
    if (at_odds or doubts) and verdict == _HOLD:
        # something is wrong, and nobody knows what: no hand is trusted to that
        verdict = _CANNOT_TELL
    peg = None
    if case.peg is not None:
        peg = Span.of(torque / (case.peg.spoke_radius_mm / 1000.0))
    return CrankFound(
        Span.of(torque),
        peak_deg,
        Span.of(pulls),
        *safety,
        verdict,
        peg,
        _next(case, verdict, safety, at_odds, doubts),
        _warnings(case, seat),
        torque_round,
        at_odds,
        doubts,
    )


def of_either_iron(first: CrankFound, second: CrankFound) -> CrankFound:
    """What is found where nobody said which of two irons the magnets sit on: the span of both."""
    slip = _spanning(first.slip_safety, second.slip_safety)
    peel = _spanning(first.peel_safety, second.peel_safety)
    verdict = _verdict(slip, peel)
    if verdict == _HOLD and (first.at_odds or second.at_odds or first.doubts):
        verdict = _CANNOT_TELL
    alike = verdict == first.verdict == second.verdict
    said = (
        "Whether the magnets sit on cast iron or on steel was not said: the figures span both, and "
        "what is told first is for cast iron, the weaker seat.",
    )
    return replace(
        first,
        pull_each=_spanning(first.pull_each, second.pull_each),
        slip_safety=slip,
        peel_safety=peel,
        verdict=verdict,
        next_reading=first.next_reading if alike else "look what the seat is: cast iron or steel",
        warnings=(*said, *dict.fromkeys((*first.warnings, *second.warnings))),
    )


def _spanning(first: Span, second: Span) -> Span:
    return Span(min(first.low, second.low), first.value, max(first.high, second.high))


def _check(case: CrankCase) -> None:
    torque = case.torque
    angles = len({round(one % 360.0, 3) for one in torque.wheel_deg})
    if angles < 6 or angles != len(torque.wheel_deg):
        raise StandError(
            f"The torque was read at {angles} different wheel angles in {len(torque.wheel_deg)} "
            "places: give eight or more, each once, and each series of pulls in their order."
        )
    if not torque.pull_N or any(len(one) != angles for one in torque.pull_N):
        counts = ", ".join(str(len(one)) for one in torque.pull_N) or "no"
        raise StandError(
            f"pull_N has series of {counts} pulls for {angles} wheel angles: give one pull for "
            "each wheel angle in each series."
        )
    if angles * len(torque.pull_N) > _MOST_PULLS:
        raise StandError(
            f"There are {angles * len(torque.pull_N)} pulls: give at most {_MOST_PULLS}, a few "
            "series of some dozen wheel angles."
        )
    _check_newtons(case)
    _check_round(torque)
    _check_noughts(torque)
    _check_series(torque)
    _check_room(case.magnets)
    if case.magnets.gap_mm <= 0.0:
        raise StandError(
            f"A gap of {case.magnets.gap_mm:g} mm cannot be: japan, felt and paint lie between, so "
            "measure them; a tenth of a millimetre is the least."
        )
    low, high = case.friction.low, case.friction.high
    if low > high or high > 1.0 or low <= 0.0:
        raise StandError(
            f"A friction from {low:g} to {high:g} cannot be: give low and high between 0 and 1, "
            "the smaller one first; felt or rubber on japan is 0.2 to 0.8."
        )
    if case.measured is not None and case.measured.slip_pull_N:
        _check_slip(case, case.measured)


def _check_newtons(case: CrankCase) -> None:
    """Notice pulls in another unit than newtons; ask, since nobody knows which reading is meant."""
    torque = case.torque
    series = [float(np.median(one)) for one in torque.pull_N]
    if min(series) <= 0.0:
        raise StandError("pull_N holds pulls of 0 N: a wheel that turns needs some; read it again.")
    if max(series) > _UNLIKE * min(series):
        factor = max(series) / min(series)
        raise StandError(
            f"One series of pulls is {factor:.3g} times another: gf are 102 to the newton and kgf "
            "0.102, so say which unit each was read in and give all in N."
        )
    middle = max(series)
    peak = max(max(one) for one in torque.pull_N) * torque.string_radius_mm / 1000.0
    step = torque.scale_step_N
    pulls = np.array([one for row in torque.pull_N for one in row])
    off = np.abs(pulls / step - np.round(pulls / step)) if step > 0.0 else np.zeros(1)
    finer = bool(np.mean(off > 0.2) > 0.3) and middle < 10.0 * step
    if peak > _MOST_NM:
        unit, factor = "gf", _GF_N
    elif peak < LEAST_NM or finer:
        unit, factor = "kgf", _KGF_N
    else:
        return
    raise StandError(
        f"Pulls of {middle:.3g} N at {torque.string_radius_mm:g} mm make {peak:.3g} N m at most, "
        f"which is no sewing head's torque; were they read in {unit}? Then give {middle:.3g} "
        f"{unit} as {middle * factor:.3g} N, and the others likewise."
    )


def _check_noughts(torque: TorqueReadings) -> None:
    """Notice a nought typed for a pull that was not read: it would pull the peak down."""
    order = np.argsort(np.mod(torque.wheel_deg, 360.0))
    pulls = np.array(torque.pull_N)[:, order]
    middle = float(np.median(pulls))
    for row, place in np.argwhere(pulls == 0.0):
        beside = (pulls[:, place - 1], pulls[:, place], pulls[:, (place + 1) % pulls.shape[1]])
        read = np.concatenate(beside)
        read = read[read > 0.0]
        if len(read) and float(np.mean(read)) > _FALLS * middle:
            raise StandError(
                f"Series {row + 1} pulls 0 N at {torque.wheel_deg[order[place]]:g}°, where those "
                f"beside it pull {float(np.mean(read)):.3g} N: read it again, or leave that angle "
                "out of every series."
            )


def _widest(torque: TorqueReadings) -> tuple[float, float, float]:
    """The widest stretch of the wheel that nobody read: how wide, from and to, degrees."""
    at = np.sort(np.mod(torque.wheel_deg, 360.0))
    wide = np.diff(at, append=at[0] + 360.0)
    n = int(np.argmax(wide))
    return float(wide[n]), float(at[n]), float(at[(n + 1) % len(at)])


def _check_round(torque: TorqueReadings) -> None:
    """Notice angles that are turns or hours, or half a round."""
    wide, low, high = _widest(torque)
    if wide > _HALF_DEG:
        raise StandError(
            f"Between {low:g}° and {high:g}° of the wheel nothing was read, {wide:.0f}° of it: the "
            "peak may lie there. Were turns or hours of the clock written for degrees? Read it all "
            "round, every 45° or nearer."
        )


def _check_series(torque: TorqueReadings) -> None:
    """Notice a pull that contradicts the other series' at its angle, where all others agree."""
    for other in range(1, len(torque.pull_N)):
        pair = np.array([torque.pull_N[other - 1], torque.pull_N[other]])
        if (pair <= 0.0).any():
            continue
        apart = np.abs(np.diff(np.log(pair), axis=0)[0])
        n = int(np.argmax(apart))
        rest = float(np.sort(apart)[-2])
        if apart[n] > _APART_LOG and rest < _APART_LOG / 2.0:
            raise StandError(
                f"At {torque.wheel_deg[n]:g}° one series pulls {pair[0, n]:.3g} N and another "
                f"{pair[1, n]:.3g} N, and at all other angles they agree: one of the two was "
                "misread or miswritten. Pull there again, and put what the third pull bears out."
            )


def _doubted(case: CrankCase) -> tuple[CrankCase, tuple[str, ...]]:
    """The case as it is to be counted, and what is probably not what it was said to be."""
    torque, said = case.torque, []
    series = tuple(dict.fromkeys(torque.pull_N))
    if len(series) < len(torque.pull_N):
        said.append(
            "Two series of pulls are the same to the last figure: one was copied, or the "
            "scale is too coarse to tell them apart. They count as one; pull it round again."
        )
        torque = replace(torque, pull_N=series)
    pulls = np.array(torque.pull_N)
    if len(pulls) > 1 and (pulls > 0.0).all():
        apart = float(np.sqrt(np.log(pulls).var(axis=0, ddof=1).mean()))
        if apart > _ROUNDS_APART:
            said.append(
                f"Pulls at one angle differ by {100 * apart:.0f} % from series to series, and a "
                "hand pulls alike to 5 %: were both read at the same angles, in the same order? "
                "Their peak is told too low where they were not. Pull it round again."
            )
    wide, low, high = _widest(torque)
    if wide > _UNREAD_DEG:
        said.append(
            f"Between {low:g}° and {high:g}° of the wheel nothing was read and its peak may lie "
            "there: it cannot be told whether the magnets hold until it is read all round."
        )
    magnets = case.magnets
    if magnets.circle_radius_mm > 1.05 * torque.string_radius_mm:
        said.append(
            f"The magnets at {magnets.circle_radius_mm:g} mm from the axis would stand outside "
            f"the string at {torque.string_radius_mm:g} mm: was the one a diameter, or did the "
            "string run in a groove far inside the rim?"
        )
    handle, string = case.handle.radius_mm, torque.string_radius_mm
    if not _HANDLE[0] * string <= handle <= _HANDLE[1] * string:
        where = "far inside" if handle < string else "outside"
        said.append(
            f"The handle at {handle:g} mm from the axis would stand {where} the string at "
            f"{string:g} mm: look whether one of them is a diameter, or a digit is wrong."
        )
    return replace(case, torque=torque), tuple(said)


def _out_of_order(torque: Span) -> tuple[str, ...]:
    low, high = _ORDER_NM
    if low <= torque.value <= high:
        return ()
    way, units = (
        ("less", "lbf (4.45 N), or the radius in another unit")
        if torque.value < low
        else ("more", "ounces (0.28 N), or the string's diameter given for its radius")
    )
    return (
        f"{torque.value:.2g} N m is {way} than heads in order take ({low:g} to {high:g}): were "
        f"the pulls read in {units}? Look again before a hand is trusted to it.",
    )


def _next(
    case: CrankCase,
    verdict: str,
    safety: tuple[Span, Span],
    at_odds: str,
    doubts: tuple[str, ...],
) -> str:
    if at_odds:
        return _AGAIN
    if doubts:
        return "what is doubted above, before any other"
    return _next_reading(case, verdict, *safety)


def _check_room(magnets: Magnets) -> None:
    """Notice more magnets than the circle has room for: the hold would be counted too high."""
    apart = 2.0 * magnets.circle_radius_mm * sin(pi / magnets.count)
    if apart < magnets.diameter_mm:
        raise StandError(
            f"{magnets.count} magnets on a circle of {magnets.circle_radius_mm:g} mm radius stand "
            f"{apart:.3g} mm apart, middle to middle, and are {magnets.diameter_mm:g} mm wide: "
            "they would stand in each other; check count, diameter and radius."
        )


def _check_slip(case: CrankCase, slip: Slip) -> None:
    if any(one <= 0.0 for one in slip.slip_pull_N):
        raise StandError("A slip pull of 0 N cannot be: leave the reading out or take it again.")
    pull = float(np.median(slip.slip_pull_N))
    torque = pull * slip.slip_radius_mm
    wheel = max(max(one) for one in case.torque.pull_N) * case.torque.string_radius_mm
    if torque > _ABSURD * wheel:
        raise StandError(
            f"A slip pull of {pull:.3g} N holds {torque / wheel:.0f} times the wheel's torque, "
            f"which no magnets do; was it read in gf? Then give it as {pull * _GF_N:.3g} N."
        )


def _peaks(torque: TorqueReadings, rng: np.random.Generator) -> tuple[Floats, float, Floats]:
    """The torque's peak as the readings leave it, N m, its wheel angle, and the whole round.

    The scale's gain is left apart.
    """
    pulls = np.array(torque.pull_N)
    wheel = np.deg2rad(torque.wheel_deg)
    middle = float(np.median(pulls))
    share, counted = _READING_SHARE
    believed = (share * middle) ** 2 + torque.scale_step_N**2 / 12.0
    squares, freedom = counted * believed, counted
    if len(pulls) > 1:
        squares += float(np.sum((pulls - pulls.mean(axis=0)) ** 2))
        freedom += pulls.size - pulls.shape[1]
    noise = float(np.sqrt(squares / freedom))
    readings = Readings(
        np.tile(wheel, len(pulls)),
        pulls.ravel(),
        0.0,
        misread_share=0.01,
        misread_spread=0.5 * middle,
        scale=middle / 3.0,
        shapes=_TORQUES,
    )
    fit = fit_periodic(readings, noise)
    around = np.deg2rad(np.arange(0.0, 360.0, 3.0))
    curve = series(around) @ fit.mean
    curves = fit.drawn(_DRAWS, rng) @ series(around).T
    drawn = curves.max(axis=1)
    # as for the depth of works: spread from the draws, middle from the mean curve
    drawn = float(curve.max()) + _SPREAD * (drawn - float(np.median(drawn)))
    peak = float(np.rad2deg(around[int(np.argmax(curve))]))
    metres = torque.string_radius_mm / 1000.0
    half = _SPREAD * (np.quantile(curves, [_TAIL, 1.0 - _TAIL], axis=0) - np.median(curves, axis=0))
    round_it = np.column_stack([curve + half[0], curve, curve + half[1]]) * metres
    return np.maximum(drawn, 1e-6) * metres, peak, round_it


def _slip_torque(slip: Slip, step: float) -> tuple[float, float]:
    """The torque at which it slips, N m, and its logarithm's standard deviation."""
    logs = np.log(slip.slip_pull_N)
    share, counted = _SLIP_SHARE
    believed = share**2 + (step / float(np.mean(slip.slip_pull_N))) ** 2 / 12.0
    squares = counted * believed + float(np.sum((logs - logs.mean()) ** 2))
    freedom = counted + len(logs) - 1
    log_sd = float(np.sqrt(squares / freedom / len(logs)))
    return float(np.exp(logs.mean())) * slip.slip_radius_mm / 1000.0, log_sd


def _agreeing(
    pulls: Floats, holds: Floats, slips: Floats, log_sd: float, rng: np.random.Generator
) -> tuple[Floats, str]:
    """Those pulls that go with the measured slip, and what to say when hardly any does."""
    off = np.log(holds / slips)
    weights = np.exp(-0.5 * (off / max(log_sd, 0.03)) ** 2)
    if float(weights.sum()) < 20.0:
        return pulls, (
            "The measured slip does not agree with magnets, gap and friction as given: slip goes "
            "by the measurement, peel by what was given; measure the gap again."
        )
    return rng.choice(pulls, len(pulls), p=weights / weights.sum()), ""


_HOLD, _PEG, _CANNOT_TELL = "magnets alone hold", "needs a peg against a spoke", "cannot tell"

_AGAIN = (
    "slip by string and the gap, both again: they contradict each other, and until one is mended "
    "neither is relied on"
)


def _verdict(slip: Span, peel: Span) -> str:
    if slip.low >= HOLDS and peel.low >= HOLDS:
        return _HOLD
    if slip.high < HOLDS or peel.high < HOLDS:
        return _PEG
    return _CANNOT_TELL


def _next_reading(case: CrankCase, verdict: str, slip: Span, peel: Span) -> str:
    """What would settle it, or narrow it most."""
    slipped = len(case.measured.slip_pull_N) if case.measured else 0
    if verdict != _CANNOT_TELL:
        return "none needed for the verdict" if slipped else "slip by string, three times, to prove"
    if slipped < 3 and slip.low < HOLDS:
        return (
            "seat the hub, wind the string round it and pull until it slips: three or four times, "
            "turned a little between"
        )
    if peel.low < HOLDS:
        return (
            "pull the hub straight off with the spring scale, three times, or measure the gap "
            "again: the pull of the magnets is in doubt"
        )
    return "the torque again round its peak, in steps of 15 degrees, twice"


def _warnings(case: CrankCase, seat: IronSeat) -> tuple[str, ...]:
    said = []
    if len(case.torque.pull_N) < 2:
        said.append("The torque was read once only: read it a second time, to see its scatter.")
    if len(case.torque.wheel_deg) < 8:
        said.append("The torque was read at fewer than eight wheel angles: its peak may be higher.")
    if case.magnets.count == 2:
        said.append("Two magnets do not hold against being levered off: use three or more.")
    if seat.half_width_mm < case.magnets.diameter_mm / 2.0:
        said.append(
            "The magnets stand over the iron's edge: the pull is guessed at more than told."
        )
    return tuple(said)


def crank_told(found: CrankFound) -> dict[str, Any]:  # dict: plain JSON
    """The answer as plain figures, by the names that scripts rely on."""
    told: dict[str, Any] = {
        "torque_peak_Nm": found.torque_peak.as_list(),
        "torque_peak_wheel_deg": found.peak_deg,
        "pull_each_N": found.pull_each.as_list(),
        "slip_safety": found.slip_safety.as_list(),
        "peel_safety": found.peel_safety.as_list(),
        "verdict": found.verdict,
    }
    if found.peg_force is not None:
        told["peg_force_N"] = found.peg_force.as_list()
    warnings = [one for one in (*found.doubts, found.at_odds, *found.warnings) if one]
    return told | {"next_reading": found.next_reading, "warnings": warnings}


def crank_in_words(found: CrankFound) -> list[str]:
    """The answer in sentences: the verdict first."""
    words = {
        _HOLD: "The magnets alone hold.",
        _PEG: "It needs a peg against a spoke; the magnets only seat it.",
        _CANNOT_TELL: "It cannot be told whether the magnets alone hold: use a peg until it can.",
    }
    slip, peel, peak = found.slip_safety, found.peel_safety, found.torque_peak
    said = [
        *found.doubts,
        words[found.verdict],
        *([found.at_odds] if found.at_odds else []),
        f"Against slipping the safety is {slip.value:.2f} (90 %: {slip.low:.2f} to "
        f"{slip.high:.2f}), against being levered off {peel.value:.2f} ({peel.low:.2f} to "
        f"{peel.high:.2f}); {HOLDS:g} is wanted of both.",
        f"The wheel takes {peak.value:.3f} N m at most (90 %: {peak.low:.3f} to {peak.high:.3f}), "
        f"near {found.peak_deg:.0f}°.",
    ]
    if found.peg_force is not None:
        peg = found.peg_force
        said.append(
            f"A peg presses on its spoke with {peg.value:.1f} N ({peg.low:.1f} to {peg.high:.1f})."
        )
    said.append(f"Next reading: {found.next_reading}.")
    return [*said, *found.warnings]


__all__ = ["CrankCase", "CrankFound", "crank_in_words", "crank_told", "work_out_crank"]
