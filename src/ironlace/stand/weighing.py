"""Mass of a head and where its centre lies, by weighing it on two bearing edges.

Level, the two readings share the weight as the centre lies between the edges; with one side lifted
the share moves with the centre's height (for road vehicles: Reimpell, Stoll and Betzler, *The
Automotive Chassis*, 2nd ed. 2001: height = base x change of load / (weight x tan of the tilt)). All
readings are solved together by generalised least squares. An edge set a little aside moves both
readings or one, as it was set anew between them or not: which of the two it was is judged from how
well the sums of the readings agree, and the doubt counts both.

Five readings for four numbers check nothing but their sums. The other edge lifted as well gives the
height once more, with all that is at fault the other way round: edges changed round, the wrong edge
lifted, a tilt not counted from level. The whole head on the scale shows a scale that was not set to
nought under edge and board. Both are asked for and may be left out.
"""

from collections.abc import Callable
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
"""Sums of readings, and a reading taken only to check, may differ by so many standard deviations (1
in 16,000 by chance): at three, one sound evening in some two hundred was refused."""

_HIGHEST_MM = 300.0
"""The centre of a head is never so high above its seat: heads are about as high (a judgement)."""

_NINETY = 1.6448536269514722
"""Standard deviations to either side that hold 90 % of a normal law."""

_LIGHTEST_G = 500.0
"""No cast-iron head is lighter: a child's machine weighs a kilogram (a judgement)."""

_LAID_KG_M2 = (45.0, 2500.0)
"""Between what mass over the area between the edges lies: 100 to 400 of heads; 2500 is a block of
iron as high as a head (a judgement)."""

_HIGH_MM = (12.0, 95.0)
"""Between what height of the centre over the cube root of the mass in kg is usual: like heads are
alike at every size, and 30 to 85 are the ends that were thought of (a judgement)."""

_NEARLY_OVER = 0.08
"""Share of its weight below which what a lifted edge still bears is said to be little (a judgement;
at nothing it falls)."""

_STEPS_G = (500.0, 200.0, 100.0, 50.0, 20.0, 10.0, 5.0, 2.0)
"""Steps that scales have, coarsest first."""

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
    tilted_other
        The first edge of `along_y` lifted, with the scale under it, the head on the second.
    whole_g
        The whole head on the scale, with the board and edge that lay on it before.
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
    tilted_other: TiltedWeighing | None = None
    whole_g: Annotated[float, Ask("Whole", unit="g", low=100.0, high=200_000.0)] | None = None
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
    doubts
        What makes it probable that a reading is not what it was said to be: to be told first.
    checked
        Whether the other edge lifted, and the whole head on the scale, agreed with the rest.
    """

    mean: Floats
    covariance: Floats
    warnings: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    checked: tuple[bool, bool] = (False, False)


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
    for one in (tilted, weighing.tilted_other):
        if one is not None:
            _check_tilt(one)
    _check_mass(x, y)
    readings = _read_off(weighing)
    start = _start(x, y, tilted)
    _check_inside(float(start[3]))
    slopes = _slopes(lambda q: _readings(weighing, q), start, len(readings))
    solved = [_solved(weighing, readings, start, slopes, anew=anew) for anew in (True, False)]
    noise = solved[0][4]
    _check_sums(readings, noise)
    _check_whole(weighing, readings, noise)
    _check_tilts(weighing, readings, noise)
    logs = np.array([one[2] for one in solved])
    weights = np.exp(logs - logs.max()) / np.exp(logs - logs.max()).sum()
    mean = weights @ np.array([one[0] for one in solved])
    covariance = sum(
        w * (one[1] + np.outer(one[0] - mean, one[0] - mean))
        for w, one in zip(weights, solved, strict=True)
    )
    covariance[0, 0] += (mean[0] * weighing.scale_gain_percent / 100.0) ** 2
    _check_lifted(y, tilted, float(mean[3]), sqrt(float(covariance[3, 3])))
    return Balance(
        mean,
        np.asarray(covariance),
        _warnings(weighing, tilted, float(mean[0])),
        _doubts(mean),
        (weighing.tilted_other is not None, weighing.whole_g is not None),
    )


def _check_tilt(tilted: TiltedWeighing) -> None:
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


def _warnings(weighing: Weighing, tilted: TiltedWeighing, mass: float) -> tuple[str, ...]:
    warnings = []
    if tilted.tilt_deg < _FLAT_DEG:
        warnings.append(
            f"A tilt of {tilted.tilt_deg:g}° tells little of the centre's height: 15 to 25° tells "
            "it several times better."
        )
    lifted = [one for one in (tilted, weighing.tilted_other) if one is not None]
    if any(one.reading_g < _NEARLY_OVER * mass for one in lifted):
        warnings.append(
            "Lifted so far the head nearly goes over the edge it stands on: lift it less, and let "
            "a second person hold it."
        )
    if weighing.scale_repeat_g == 0.0:
        warnings.append("No scale_repeat_g is given: the scale is taken to repeat exactly.")
    return tuple(warnings)


def _doubts(mean: Floats) -> tuple[str, ...]:
    """Say that a centre lies where no head of such a mass has it."""
    size = (float(mean[0]) / 1000.0) ** (1.0 / 3.0)
    low, high = (end * size for end in _HIGH_MM)
    if low <= mean[3] <= high:
        return ()
    return (
        f"A centre {mean[3]:.0f} mm above the seat cannot be trusted: heads of this weight have it "
        f"at {low:.0f} to {high:.0f} mm. Look whether front and back are changed round, whether "
        "the scale stood under the lifted back edge, and in which unit it was read; weigh again.",
    )


def _check_mass(x: LevelWeighing, y: LevelWeighing) -> None:
    """Notice readings in another unit than grams, or edges in another than millimetres."""
    mass = (sum(x.readings_g) + sum(y.readings_g)) / 2.0
    area = (x.edges_mm[1] - x.edges_mm[0]) * (y.edges_mm[1] - y.edges_mm[0]) / 1e6
    laid = mass / 1000.0 / area
    low, high = _LAID_KG_M2
    if mass < _LIGHTEST_G or laid < low:
        raise StandError(
            f"A head of {mass:.3g} g on edges {x.edges_mm[1] - x.edges_mm[0]:.0f} and "
            f"{y.edges_mm[1] - y.edges_mm[0]:.0f} mm apart is no cast iron: was the scale read in "
            "kg, pounds or ounces? Write the unit (4.12 kg), or give all readings in grams."
        )
    if laid > high:
        raise StandError(
            f"A head of {mass:.0f} g on edges {x.edges_mm[1] - x.edges_mm[0]:g} and "
            f"{y.edges_mm[1] - y.edges_mm[0]:g} mm apart is heavier than a block of iron: were the "
            "edges measured in cm or inches? Give them in mm."
        )


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
            f"The tilted reading puts the centre outside the head, {where}: check that the back "
            "edge (the second of along_y) was lifted, the tilt, and the reading, and weigh again."
        )


def _check_lifted(y: LevelWeighing, tilted: TiltedWeighing, height: float, sd: float) -> None:
    """Notice a level reading given as the tilted one: it puts the centre into the seat itself."""
    if tilted.tilt_deg >= _FLAT_DEG and height < _NINETY * sd:
        raise StandError(
            f"The tilted reading of {tilted.reading_g:g} g is what the back edge (the second of "
            f"along_y) bears level ({y.readings_g[1]:g} g), which would put the centre into the "
            "seat: was the edge lifted? Weigh it tilted again."
        )


_TILTED = 4
"""Where the tilted reading stands among them."""


def _read_off(weighing: Weighing) -> Floats:
    """The readings in their order: along x, along y, tilted, the other way, whole; as given."""
    x, y, other = weighing.along_x, weighing.along_y, weighing.tilted_other
    assert x is not None and y is not None and weighing.tilted is not None
    found = [*x.readings_g, *y.readings_g, weighing.tilted.reading_g]
    found += [] if other is None else [other.reading_g]
    found += [] if weighing.whole_g is None else [weighing.whole_g]
    return np.array(found)


def _readings(weighing: Weighing, q: Floats) -> Floats:
    """The readings from mass and centre, and where the edges and the tilts really were.

    `q` is mass, x, y, z, then for each reading by how much the edges lie off (2 each), then for
    each the tilt's error in radians; what does not bear on a reading is passed over.
    """
    mass, x, y, z = q[:4]
    many = (len(q) - 4) // 3
    off = q[4 : 4 + 2 * many].reshape(many, 2)
    tilts = q[4 + 2 * many :]
    assert weighing.along_x is not None and weighing.along_y is not None
    found = []
    for n, (edges, at) in enumerate(
        [(weighing.along_x.edges_mm, x)] * 2 + [(weighing.along_y.edges_mm, y)] * 2
    ):
        low, high = edges[0] + off[n, 0], edges[1] + off[n, 1]
        share = (at - low) / (high - low)
        found.append(mass * (share if n % 2 else 1.0 - share))
    for one in (weighing.tilted, weighing.tilted_other):
        if one is None:
            continue
        n = len(found)
        tilt = radians(one.tilt_deg) + tilts[n]
        low = weighing.along_y.edges_mm[0] + off[n, 0]
        high = weighing.along_y.edges_mm[1] + off[n, 1]
        inside = y - low if n == _TILTED else high - y
        found.append(mass * (inside * cos(tilt) - z * sin(tilt)) / ((high - low) * cos(tilt)))
    if weighing.whole_g is not None:
        found.append(mass)
    return np.array(found)


def _slopes(of: Callable[[Floats], Floats], start: Floats, many: int) -> Floats:
    whole = np.concatenate([start, np.zeros(3 * many)])
    step = np.array([1.0, *[1e-3] * (3 + 2 * many), *[1e-5] * many])
    columns = []
    for n in range(len(whole)):
        side = np.zeros(len(whole))
        side[n] = step[n]
        columns.append((of(whole + side) - of(whole - side)) / (2.0 * step[n]))
    return np.array(columns).T


def _solved(
    weighing: Weighing, readings: Floats, start: Floats, slopes: Floats, *, anew: bool
) -> tuple[Floats, Floats, float, Floats, Floats]:
    """Mass and centre when edges are set anew for each reading, or once for each pair."""
    many = len(readings)
    edge = weighing.edge_sd_mm**2
    together = np.zeros((3 * many, 3 * many))
    pairs: list[tuple[int, ...]] = [(0,), (1,), (2,), (3,)] if anew else [(0, 1), (2, 3)]
    pairs += [(n,) for n in range(4, many)]
    for pair in pairs:
        for one, other in product(pair, pair):
            for side in (0, 1):
                together[2 * one + side, 2 * other + side] = edge
    for n in range(4, many):
        together[2 * many + n, 2 * many + n] = radians(weighing.tilt_sd_deg) ** 2
    step = max(weighing.scale_step_g, _step(readings))
    scale = weighing.scale_repeat_g**2 + step**2 / 12.0
    by_set_up = slopes[:, 4:]
    noise = by_set_up @ together @ by_set_up.T + (scale + 0.01) * np.eye(many)
    design = slopes[:, :4]
    certain = np.linalg.inv(noise)
    covariance = np.linalg.inv(design.T @ certain @ design)
    mean = start
    for _ in range(3):
        left = readings - _readings(weighing, np.concatenate([mean, np.zeros(3 * many)]))
        mean = mean + covariance @ design.T @ certain @ left
    left = readings - _readings(weighing, np.concatenate([mean, np.zeros(3 * many)]))
    told = -0.5 * (
        left @ certain @ left + np.linalg.slogdet(noise)[1] - np.linalg.slogdet(covariance)[1]
    )
    exact = np.asarray(covariance, dtype=np.float64)
    return mean, exact, float(told), left, noise


def _step(readings: Floats) -> float:
    """The scale's step as the readings show it: the coarsest that divides them all.

    >>> _step(np.array([4100.0, 8600.0, 6800.0, 5900.0, 2400.0]))
    100.0
    """
    for step in _STEPS_G:
        if np.allclose(np.remainder(readings, step), 0.0):
            return step
    return 0.0


def _check_sums(readings: Floats, noise: Floats) -> None:
    sums = np.zeros(len(readings))
    sums[:4] = 1.0, 1.0, -1.0, -1.0
    apart, allowed = float(sums @ readings), sqrt(float(sums @ noise @ sums))
    if abs(apart) > _FAR_APART * allowed:
        raise StandError(
            f"The readings from left to right (along_x) add up to {readings[0] + readings[1]:.0f} "
            f"g and those from front to back (along_y) to {readings[2] + readings[3]:.0f} g, and "
            f"scale and edges allow a difference of {_FAR_APART * allowed:.0f} g: "
            "it is one head, so weigh again."
        )


def _check_whole(weighing: Weighing, readings: Floats, noise: Floats) -> None:
    """Hold the sums against the whole head: what lies on the scale counts twice in a sum."""
    if weighing.whole_g is None:
        return
    sums = np.zeros(len(readings))
    sums[:4], sums[-1] = 0.5, -1.0
    apart, allowed = float(sums @ readings), sqrt(float(sums @ noise @ sums))
    if abs(apart) > _FAR_APART * allowed:
        raise StandError(
            f"The whole head reads {weighing.whole_g:.0f} g, and by its edges it weighs "
            f"{apart + weighing.whole_g:.0f} g: each reading shows some {apart:+.0f} g that are "
            "not the head's. Set the scale to nought with edge and board on it, and weigh again."
        )


def _check_tilts(weighing: Weighing, readings: Floats, noise: Floats) -> None:
    """Hold the heights by either lifted edge against each other: all faults turn their sign."""
    one, other, y = weighing.tilted, weighing.tilted_other, weighing.along_y
    if other is None or one is None or y is None:
        return
    slopes = [tan(radians(each.tilt_deg)) for each in (one, other)]
    line = np.zeros(len(readings))
    line[3], line[_TILTED] = 1.0 / slopes[0], -1.0 / slopes[0]
    line[2], line[_TILTED + 1] = -1.0 / slopes[1], 1.0 / slopes[1]
    apart, allowed = float(line @ readings), sqrt(float(line @ noise @ line))
    if abs(apart) > _FAR_APART * allowed:
        mm = (y.edges_mm[1] - y.edges_mm[0]) / (y.readings_g[0] + y.readings_g[1])
        heights = [
            (level - each.reading_g) / slope * mm
            for level, each, slope in zip(reversed(y.readings_g), (one, other), slopes, strict=True)
        ]
        raise StandError(
            "With the back edge (the second of along_y) lifted the centre comes to "
            f"{heights[0]:.0f} mm above the seat, with the front one lifted to "
            f"{heights[1]:.0f} mm: look whether the edges are changed round, "
            "whether the lifted edge stood on the scale each time, and whether "
            "the tilt counts from level; weigh again."
        )
