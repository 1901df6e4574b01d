"""How deep the works reach below the seat, and how near their sweep comes to the opening.

Readings of a few named points at 6 or more wheel angles a turn are each fitted by a curve round the
wheel (`ironlace.stand.periodic`), so that the deepest place between two readings is found and a
misread figure does no harm. The extremes are those of curves drawn as the readings leave them.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Annotated

import numpy as np
import shapely

from ironlace.evidence.analyses import Ask
from ironlace.evidence.arrays import Floats
from ironlace.evidence.usual_figures import DEEPEST_MM
from ironlace.stand.errors import StandError
from ironlace.stand.periodic import PeriodicFit, Readings, fit_periodic, noise_told, series

LEAST_ANGLES = 6
"""Wheel angles of a moving point: fewer do not tell a swing from its overtone."""

MOST_POINTS, MOST_READINGS = 100, 200
"""Of the works, and of one point: more is another table (a judgement)."""

WHEEL_SD_DEG = 1.5
"""Standard deviation of a wheel angle read against a mark by eye, where none is stated."""

_NOISES = (0.12, 0.2, 0.27, 0.34, 0.42, 0.52, 0.7, 1.0, 1.5)
"""Standard deviations of a reading that are tried, mm."""

_NOISE_MIDDLE = (0.35, 0.3)
"""What is believed of it beforehand: a ruler or depth gauge held by hand, mm, and the spread of its
logarithm (a judgement)."""

_MISREAD = 0.5
"""A reading likelier misread than not is named."""

_DRAWS = 400
"""Curves drawn for each point: the ends of a 90 % interval are then known to 0.03 mm."""

_SIDE_DRAWS = 200
"""Of them, those that are measured against the opening's edge, which takes longer."""

_TURNS_DEG = 270.0
"""Readings within a quarter of a turn are turns, or hours of a clock, for degrees (a judgement)."""

_DOUBTED = ("Wheel angles doubtful", "Doubtful", "Left out as misread")
"""How the warnings begin that concern what was typed, what explains most first."""

_NEAR = 3.0
"""Places whose mean lies so many mm further in than the nearest cannot set the distance."""

_AROUND = np.deg2rad(np.arange(0.0, 360.0, 2.0))
"""Wheel angles at which a curve is looked at: 2 degrees miss the top of a 20 mm swing by 3 µm."""

_SPREAD = 1.06
"""By how much the draws are spread: noise and prior are learned from the same few readings, which
draws alone do not count (tuned on invented rods and rockers until 90 % held 90 %)."""

_ABOVE = 1.0
"""A point may read so many mm above the seat by its error; more is a slip of the sign."""


@dataclass(frozen=True, slots=True)
class WorksReading:
    """One line of readings of the works.

    Attributes
    ----------
    point
        The point's name.
    wheel_deg
        Wheel angle, None for what does not move.
    x_mm, y_mm, z_mm
        Where it is: along the bed to the sewer's right, away from the sewer, up from the seat.
    """

    point: str
    wheel_deg: float | None
    x_mm: Annotated[float, Ask("Along", unit="mm", low=-2000.0, high=2000.0)]
    y_mm: Annotated[float, Ask("Across", unit="mm", low=-2000.0, high=2000.0)]
    z_mm: Annotated[float, Ask("Up", unit="mm", low=-1000.0, high=1000.0)]


@dataclass(frozen=True, slots=True)
class Misread:
    """A reading that does not belong to its point's curve."""

    point: str
    wheel_deg: float
    probability: float


@dataclass(frozen=True)
class PointPath:
    """Where one point goes.

    Attributes
    ----------
    places
        Its mean place round the wheel, shape (n, 3), mm; n is 1 for what does not move.
    drawn
        Places as the readings leave them, shape (draws, n, 3).
    """

    name: str
    places: Floats
    drawn: Floats


@dataclass(frozen=True)
class Works:
    """The works below the seat.

    Attributes
    ----------
    paths
        Of each point.
    depths_mm
        Drawn depths of the deepest point at its deepest, shape (draws,).
    deepest_point, deepest_wheel_deg
        Which one sets it and where; the angle is None for what does not move.
    """

    paths: tuple[PointPath, ...]
    depths_mm: Floats
    deepest_point: str
    deepest_wheel_deg: float | None
    misread: tuple[Misread, ...]
    reading_sd_mm: float
    warnings: tuple[str, ...] = field(default=())


def sweep_of(
    readings: Sequence[WorksReading],
    rng: np.random.Generator,
    wheel_sd_deg: float = WHEEL_SD_DEG,
    reading_sd_mm: float | None = None,
) -> Works:
    """Fit every point's path.

    Parameters
    ----------
    reading_sd_mm
        Standard deviation of one reading; None takes it from the readings' own scatter.

    Raises
    ------
    StandError
        When there is no reading, a moving point has fewer than six wheel angles, or works stand
        above the seat.
    """
    points = _by_point(readings)
    turning = {name: rows for name, rows in points.items() if rows[0].wheel_deg is not None}
    data = {
        name: [_readings(rows, axis, wheel_sd_deg) for axis in range(3)]
        for name, rows in turning.items()
    }
    # a place that was written down once for all angles shows no scatter of a reading
    read = [one for axes in data.values() for one in axes if np.ptp(one.values) > 0.0]
    sd = reading_sd_mm or _noise_of(read)
    paths, misread = [], []
    for name, rows in points.items():
        if name in data:
            fits = [fit_periodic(one, sd) for one in data[name]]
            paths.append(_moving(name, fits, rng))
            misread += _misread(name, rows, fits)
        else:
            paths.append(_standing(name, rows, sd, rng))
    _check_below(paths, sd)
    deepest = np.array([-path.drawn[:, :, 2].min(axis=1) for path in paths])
    depths = deepest.max(axis=0)
    # where curves are flat or points equally deep, the deepest of many draws lies too deep: the
    # draws keep their spread and stand about the deepest place of the mean curves
    deep = max(-path.places[:, 2].min() for path in paths)
    depths = deep + _SPREAD * (depths - np.median(depths))
    setting = int(np.argmax([-path.places[:, 2].min() for path in paths]))
    lowest = paths[setting]
    at = None
    if lowest.places.shape[0] > 1:
        at = round(float(np.rad2deg(_AROUND[int(np.argmin(lowest.places[:, 2]))])), 3)
    often = float(np.mean(np.argmax(deepest, axis=0) == setting))
    return Works(
        tuple(paths),
        depths,
        lowest.name,
        at,
        tuple(misread),
        sd,
        _warnings(points, paths, misread, lowest.name, often),
    )


def side_distances(works: Works, opening: shapely.Polygon) -> tuple[Floats, str]:
    """How near the sweep comes to the opening's edge: drawn distances, and which point comes so.

    Negative where a point passes outside the opening.
    """
    edge = opening.boundary
    shapely.prepare(opening)
    shapely.prepare(edge)

    def far(xy: Floats) -> Floats:
        spots = shapely.points(xy)
        away = np.asarray(shapely.distance(edge, spots))
        return np.where(shapely.contains(opening, spots), away, -away)

    means = [far(path.places[:, :2]) for path in works.paths]
    least = min(float(one.min()) for one in means)
    drawn = np.full((len(works.paths), _SIDE_DRAWS), np.inf)
    for at, (path, mean) in enumerate(zip(works.paths, means, strict=True)):
        near = np.flatnonzero(mean < least + _NEAR)[::2]
        if len(near):
            drawn[at] = far(path.drawn[:_SIDE_DRAWS, near, :2]).min(axis=1)
    nearest = int(np.argmin(np.median(drawn, axis=1)))
    all_drawn = drawn.min(axis=0)
    # as for the depth: the draws keep their spread and stand about the mean curves' least distance
    found: Floats = least + _SPREAD * (all_drawn - np.median(all_drawn))
    return found, works.paths[nearest].name


def _check_below(paths: Sequence[PointPath], sd: float) -> None:
    for path in paths:
        highest = float(path.places[:, 2].max())
        if highest > _ABOVE + 2.0 * sd:
            raise StandError(
                f"The works' point '{path.name[:40]}' stands {highest:.1f} mm above the seat: z is "
                "0 at the underside of the bed's rim and negative below it, so give depths with a "
                "minus."
            )


def _by_point(readings: Sequence[WorksReading]) -> dict[str, list[WorksReading]]:
    points: dict[str, list[WorksReading]] = {}
    for one in readings:
        points.setdefault(one.point, []).append(one)
    if not points:
        raise StandError("The works have no readings: give at least one point and its depth.")
    if len(points) > MOST_POINTS or max(map(len, points.values())) > MOST_READINGS:
        raise StandError(
            f"The works have {len(points)} points with up to {max(map(len, points.values()))} "
            f"readings: give at most {MOST_POINTS} points, each read {MOST_READINGS} times."
        )
    for name, rows in points.items():
        moving = {None if r.wheel_deg is None else round(r.wheel_deg % 360.0, 3) for r in rows}
        if None in moving and len(moving) > 1:
            raise StandError(
                f"The works' point '{name[:40]}' has readings with and without a wheel angle: give "
                "one to all of them, or to none if it does not move."
            )
        if None not in moving and len(moving) < LEAST_ANGLES:
            raise StandError(
                f"The works' point '{name[:40]}' was read at {len(moving)} wheel angles, and at "
                f"least {LEAST_ANGLES} are needed, better 12 to 18: read it at more, or leave its "
                "wheel angle empty if it does not move."
            )
    return points


def _readings(rows: Sequence[WorksReading], axis: int, wheel_sd_deg: float) -> Readings:
    wheel = np.deg2rad([row.wheel_deg or 0.0 for row in rows])
    values = np.array([(row.x_mm, row.y_mm, row.z_mm)[axis] for row in rows])
    return Readings(wheel, values, float(np.deg2rad(wheel_sd_deg)))


def _noise_of(data: Sequence[Readings]) -> float:
    """The standard deviation of one reading from the scatter of all round their curves, mm."""
    middle, spread = _NOISE_MIDDLE
    if not data:
        return middle
    logs = -0.5 * np.square(np.log(np.array(_NOISES) / middle) / spread)
    for one in data:
        logs = logs + noise_told(one, middle, _NOISES)
    weights = np.exp(logs - logs.max())
    return float(np.exp(np.average(np.log(_NOISES), weights=weights)))


def _moving(name: str, fits: Sequence[PeriodicFit], rng: np.random.Generator) -> PointPath:
    around = series(_AROUND)
    places = np.stack([around @ fit.mean for fit in fits], axis=-1)
    drawn = np.stack([fit.drawn(_DRAWS, rng) @ around.T for fit in fits], axis=-1)
    return PointPath(name, places, drawn)


def _standing(
    name: str, rows: Sequence[WorksReading], sd: float, rng: np.random.Generator
) -> PointPath:
    read = np.array([(row.x_mm, row.y_mm, row.z_mm) for row in rows])
    place = np.median(read, axis=0)[None]
    noise = rng.standard_normal((_DRAWS, 1, 3)) * (sd / np.sqrt(len(rows)))
    return PointPath(name, place, place + noise)


def _misread(name: str, rows: Sequence[WorksReading], fits: Sequence[PeriodicFit]) -> list[Misread]:
    sound = np.prod([1.0 - fit.misread for fit in fits], axis=0)
    return [
        Misread(name, float(row.wheel_deg or 0.0), float(1.0 - good))
        for row, good in zip(rows, sound, strict=True)
        if 1.0 - good > _MISREAD
    ]


def _warnings(
    points: dict[str, list[WorksReading]],
    paths: Sequence[PointPath],
    misread: Sequence[Misread],
    lowest: str,
    often: float,
) -> tuple[str, ...]:
    said = []
    if misread:
        named = ", ".join(f"{one.point} at {one.wheel_deg:g}°" for one in misread[:4])
        more = f" and {len(misread) - 4} more" if len(misread) > 4 else ""
        said.append(f"Left out as misread: {named}{more}; read them again.")
    for name, rows in points.items():
        bad = sum(one.point == name for one in misread)
        if rows[0].wheel_deg is not None and bad * 3 > len(rows):
            said.append(
                f"Doubtful: a third of the readings of '{name[:40]}' do not fit a curve: read anew."
            )
        gap = _widest_gap(rows)
        if gap > 75.0:
            at = f"'{name[:40]}' was not read over {gap:.0f}° of the wheel"
            said.append(
                f"Wheel angles doubtful: {at}; look whether they are degrees."
                if gap > _TURNS_DEG
                else f"{at}: read it there."
            )
    single = [name for name, rows in points.items() if rows[0].wheel_deg is None and len(rows) == 1]
    if lowest in single:
        said.append(f"The depth rests on a single reading of '{lowest[:40]}': read it again.")
    if often < 0.9 and len(paths) > 1:
        said.append(f"Another point may be as deep as '{lowest[:40]}'.")
    return tuple(said)


def works_doubts(works: Works) -> list[str]:
    """What shows that heights or wheel angles are not what they were said to be.

    Told before the answer; the other warnings come after it.
    """
    said = [one for begins in _DOUBTED for one in works.warnings if one.startswith(begins)]
    deep = float(np.median(works.depths_mm))
    # too deep a height is told of its own field; that none is deep, no single height shows
    least, most = DEEPEST_MM
    if deep < least:
        said.append(
            f"The works' heights (z) reach {deep:.1f} mm below the seat, less than those of such "
            f"machines ({least:g} to {most:g} mm): look whether they were read in another unit, or "
            "a digit or the decimal comma is wrong."
        )
    return said


def _widest_gap(rows: Sequence[WorksReading]) -> float:
    if rows[0].wheel_deg is None:
        return 0.0
    turned = np.sort([(row.wheel_deg or 0.0) % 360.0 for row in rows])
    return float(np.max(np.diff([*turned, turned[0] + 360.0])))
