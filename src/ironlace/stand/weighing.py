"""Mass of a head and where its centre lies, by weighing it on two bearing edges.

Level, the two readings share the weight as the centre lies between the edges; with one side lifted
the share moves with the centre's height (for road vehicles: Reimpell, Stoll and Betzler, *The
Automotive Chassis*, 2nd ed. 2001: height = base x change of load / (weight x tan of the tilt)). All
readings are solved together by generalised least squares. An edge set a little aside moves both
readings or one, as it was set anew between them or not: which of the two it was is judged from how
well the sums of the readings agree, and the doubt counts both.
"""

from dataclasses import dataclass
from itertools import product
from math import cos, isfinite, radians, sin, sqrt, tan
from typing import Annotated

import numpy as np

from ironlace.evidence.analyses import Ask
from ironlace.evidence.arrays import Floats
from ironlace.stand.errors import StandError

STEEPEST_DEG = 30.0
"""A head is not lifted steeper: it slides on its edge and cannot be caught (safety, own choice)."""

_FAR_APART = 4.0
"""Sums of readings may differ by so many standard deviations (1 in 16,000 by chance)."""

_HIGHEST_MM = 300.0
"""The centre of a head is never so high above its seat: heads are about as high (a judgement)."""

_NINETY = 1.6448536269514722
"""Standard deviations to either side that hold 90 % of a normal law."""

_FLAT_DEG = 10.0
"""A smaller tilt tells little of the height; not refused, but said."""

_Grams = Annotated[float, Ask("Reading", unit="g", low=1.0, high=200_000.0)]
_Millimetres = Annotated[float, Ask("Edge", unit="mm", low=-2000.0, high=2000.0)]


@dataclass(frozen=True, slots=True)
class LevelWeighing:
    """A head level on two edges, the scale under one and then the other."""

    edges_mm: tuple[_Millimetres, _Millimetres]
    readings_g: tuple[_Grams, _Grams]


@dataclass(frozen=True, slots=True)
class TiltedWeighing:
    """The head on the first edge of `along_y`, the second lifted on the scale."""

    tilt_deg: Annotated[float, Ask("Tilt", unit="degrees", low=-90.0, high=90.0)]
    reading_g: Annotated[float, Ask("Reading", unit="g", low=-1000.0, high=200_000.0)]


@dataclass(frozen=True, slots=True)
class Weighing:
    """What was weighed, or the mass and its centre where they are known.

    Attributes
    ----------
    scale_step_g, scale_repeat_g
        The scale's step, and the standard deviation of one reading taken again.
    scale_gain_percent
        Standard deviation of its gain, common to all readings.
    edge_sd_mm, tilt_sd_deg
        Standard deviations of where a bearing edge lies, and of the tilt.
    mass_g, centre_mm
        Typed instead of weighed; `mass_sd_g` and `centre_sd_mm` their standard deviations.
    """

    scale_step_g: Annotated[float, Ask("Step", unit="g", low=0.0, high=5000.0)] = 1.0
    scale_repeat_g: Annotated[float, Ask("Repeat", unit="g", low=0.0, high=5000.0)] = 0.0
    scale_gain_percent: Annotated[float, Ask("Gain", unit="%", low=0.0, high=20.0)] = 0.0
    edge_sd_mm: Annotated[float, Ask("Edges", unit="mm", low=0.0, high=20.0)] = 0.7
    tilt_sd_deg: Annotated[float, Ask("Tilt", unit="degrees", low=0.0, high=10.0)] = 0.25
    along_x: LevelWeighing | None = None
    along_y: LevelWeighing | None = None
    tilted: TiltedWeighing | None = None
    mass_g: Annotated[float, Ask("Mass", unit="g", low=100.0, high=200_000.0)] | None = None
    centre_mm: tuple[float, float, float] | None = None
    mass_sd_g: Annotated[float, Ask("Mass", unit="g", low=0.0, high=20_000.0)] | None = None
    centre_sd_mm: tuple[float, float, float] | None = None


@dataclass(frozen=True)
class Balance:
    """Mass and centre.

    Attributes
    ----------
    mean, covariance
        Of mass (g) and the centre's x, y, z (mm): shapes (4,) and (4, 4).
    """

    mean: Floats
    covariance: Floats
    warnings: tuple[str, ...] = ()


def balance_of(weighing: Weighing) -> Balance:
    """Mass and centre of the head.

    Raises
    ------
    StandError
        When the weighing is not whole, contradicts itself, is too steep, or puts the centre
        outside the head.
    """
    typed = (weighing.mass_g is not None, weighing.centre_mm is not None)
    if all(typed):
        return _typed(weighing)
    if any(typed):
        raise StandError(
            "Only one of mass_g and centre_mm is given in [weighing]: give both, or the readings "
            "on two edges."
        )
    x, y, tilted = weighing.along_x, weighing.along_y, weighing.tilted
    if x is None or y is None or tilted is None:
        raise StandError(
            "[weighing] needs along_x, along_y and tilted, or mass_g and centre_mm: weigh what is "
            "missing."
        )
    _check_edges(x, "along_x")
    _check_edges(y, "along_y")
    if tilted.tilt_deg > STEEPEST_DEG:
        raise StandError(
            f"A tilt of {tilted.tilt_deg:g}° is refused for safety, the head may slide off its "
            f"edge: lift it by {STEEPEST_DEG:g}° at most, 15 to 25° will do."
        )
    if tilted.tilt_deg < 2.0:
        raise StandError(
            f"A tilt of {tilted.tilt_deg:g}° tells nothing of the centre's height: lift the second "
            "edge by 15 to 25°."
        )
    readings = np.array([*x.readings_g, *y.readings_g, tilted.reading_g])
    start = _start(x, y, tilted)
    _check_inside(float(start[3]))
    slopes = _slopes(lambda q: _readings(weighing, q), start)
    solved = [_solved(weighing, readings, start, slopes, anew=anew) for anew in (True, False)]
    _check_sums(readings, solved[0])
    logs = np.array([one[2] for one in solved])
    weights = np.exp(logs - logs.max()) / np.exp(logs - logs.max()).sum()
    mean = weights @ np.array([one[0] for one in solved])
    covariance = sum(
        w * (one[1] + np.outer(one[0] - mean, one[0] - mean))
        for w, one in zip(weights, solved, strict=True)
    )
    covariance[0, 0] += (mean[0] * weighing.scale_gain_percent / 100.0) ** 2
    _check_lifted(y, tilted, float(mean[3]), sqrt(float(covariance[3, 3])))
    warnings = []
    if tilted.tilt_deg < _FLAT_DEG:
        warnings.append(
            f"A tilt of {tilted.tilt_deg:g}° tells little of the centre's height: 15 to 25° tells "
            "it several times better."
        )
    if weighing.scale_repeat_g == 0.0:
        warnings.append("No scale_repeat_g is given: the scale is taken to repeat exactly.")
    return Balance(mean, np.asarray(covariance), tuple(warnings))


def _typed(weighing: Weighing) -> Balance:
    assert weighing.mass_g is not None and weighing.centre_mm is not None
    spread = np.array([weighing.mass_sd_g or 0.0, *(weighing.centre_sd_mm or (0.0, 0.0, 0.0))])
    if not all(isfinite(v) and v >= 0.0 for v in spread):
        raise StandError("centre_sd_mm holds a negative number: give standard deviations.")
    said: tuple[str, ...] = ()
    if weighing.mass_sd_g is None or weighing.centre_sd_mm is None:
        said = ("Mass or centre is typed without an error: the intervals do not count it.",)
    mean = np.array([weighing.mass_g, *weighing.centre_mm])
    return Balance(mean, np.diag(spread**2), said)


def _check_edges(one: LevelWeighing, name: str) -> None:
    if one.edges_mm[1] - one.edges_mm[0] < 20.0:
        raise StandError(
            f"The edges of [weighing.{name}] lie at {one.edges_mm[0]:g} and {one.edges_mm[1]:g} "
            "mm: give the one with the smaller coordinate first, and set them 20 mm or more apart."
        )


def _start(x: LevelWeighing, y: LevelWeighing, tilted: TiltedWeighing) -> Floats:
    mass = (sum(x.readings_g) + sum(y.readings_g)) / 2.0
    across = np.dot(x.edges_mm, x.readings_g) / sum(x.readings_g)
    deep = np.dot(y.edges_mm, y.readings_g) / sum(y.readings_g)
    base = y.edges_mm[1] - y.edges_mm[0]
    share = tilted.reading_g / mass
    height = (deep - y.edges_mm[0] - share * base) / tan(radians(tilted.tilt_deg))
    return np.array([mass, across, deep, height])


def _check_inside(height: float) -> None:
    if not 0.0 < height < _HIGHEST_MM:
        where = "below its seat" if height <= 0.0 else f"{height:.0f} mm above its seat"
        raise StandError(
            f"The tilted reading puts the centre outside the head, {where}: check that the second "
            "edge of along_y was lifted, the tilt, and the reading, and weigh again."
        )


def _check_lifted(y: LevelWeighing, tilted: TiltedWeighing, height: float, sd: float) -> None:
    """Notice a level reading given as the tilted one: it puts the centre into the seat itself."""
    if tilted.tilt_deg >= _FLAT_DEG and height < _NINETY * sd:
        raise StandError(
            f"The tilted reading of {tilted.reading_g:g} g is what the second edge of along_y "
            f"bears level ({y.readings_g[1]:g} g), which would put the centre into the seat: was "
            "the edge lifted? Weigh it tilted again."
        )


def _readings(weighing: Weighing, q: Floats) -> Floats:
    """The five readings from mass and centre, and where the edges and the tilt really were.

    `q` is mass, x, y, z, then for each reading by how much the edges lie off (2 each), then the
    tilt's error in radians.
    """
    mass, x, y, z = q[:4]
    off = q[4:14].reshape(5, 2) if len(q) > 4 else np.zeros((5, 2))
    tilt_error = q[14] if len(q) > 4 else 0.0
    assert weighing.along_x is not None and weighing.along_y is not None
    assert weighing.tilted is not None
    found = []
    for n, (edges, at) in enumerate(
        [(weighing.along_x.edges_mm, x)] * 2 + [(weighing.along_y.edges_mm, y)] * 2
    ):
        low, high = edges[0] + off[n, 0], edges[1] + off[n, 1]
        share = (at - low) / (high - low)
        found.append(mass * (share if n % 2 else 1.0 - share))
    tilt = radians(weighing.tilted.tilt_deg) + tilt_error
    low = weighing.along_y.edges_mm[0] + off[4, 0]
    high = weighing.along_y.edges_mm[1] + off[4, 1]
    found.append(mass * ((y - low) * cos(tilt) - z * sin(tilt)) / ((high - low) * cos(tilt)))
    return np.array(found)


def _slopes(of: "object", start: Floats) -> Floats:
    whole = np.concatenate([start, np.zeros(11)])
    step = np.array([1.0, *[1e-3] * 13, 1e-5])
    columns = []
    for n in range(len(whole)):
        side = np.zeros(len(whole))
        side[n] = step[n]
        columns.append((of(whole + side) - of(whole - side)) / (2.0 * step[n]))  # type: ignore[operator]
    return np.array(columns).T


def _solved(
    weighing: Weighing, readings: Floats, start: Floats, slopes: Floats, *, anew: bool
) -> tuple[Floats, Floats, float, Floats, Floats]:
    """Mass and centre when edges are set anew for each reading, or once for each pair."""
    edge = weighing.edge_sd_mm**2
    together = np.zeros((11, 11))
    pairs = ((0,), (1,), (2,), (3,), (4,)) if anew else ((0, 1), (2, 3), (4,))
    for pair in pairs:
        for one, other in product(pair, pair):
            for side in (0, 1):
                together[2 * one + side, 2 * other + side] = edge
    together[10, 10] = radians(weighing.tilt_sd_deg) ** 2
    scale = weighing.scale_repeat_g**2 + weighing.scale_step_g**2 / 12.0
    by_set_up = slopes[:, 4:]
    noise = by_set_up @ together @ by_set_up.T + (scale + 0.01) * np.eye(5)
    design = slopes[:, :4]
    certain = np.linalg.inv(noise)
    covariance = np.linalg.inv(design.T @ certain @ design)
    mean = start
    for _ in range(3):
        left = readings - _readings(weighing, mean)
        mean = mean + covariance @ design.T @ certain @ left
    left = readings - _readings(weighing, mean)
    told = -0.5 * (
        left @ certain @ left + np.linalg.slogdet(noise)[1] - np.linalg.slogdet(covariance)[1]
    )
    exact = np.asarray(covariance, dtype=np.float64)
    return mean, exact, float(told), left, noise


def _check_sums(
    readings: Floats,
    solved: tuple[Floats, Floats, float, Floats, Floats],
) -> None:
    sums = np.array([1.0, 1.0, -1.0, -1.0, 0.0])
    apart, allowed = float(sums @ readings), sqrt(float(sums @ solved[4] @ sums))
    if abs(apart) > _FAR_APART * allowed:
        raise StandError(
            f"The readings along_x add up to {readings[0] + readings[1]:.0f} g and those along_y "
            f"to {readings[2] + readings[3]:.0f} g, and scale and edges allow a difference of "
            f"{_FAR_APART * allowed:.0f} g: it is one head, so weigh again."
        )
