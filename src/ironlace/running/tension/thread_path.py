"""The path of the thread from spool to needle: guides, discs, take-up, eye, each with its wrap.

A thread that slides over a guide leaves it with ``exp(friction x wrap)`` times the tension that it
came with (Eytelwein 1808; W. E. Morton and J. W. S. Hearle, *Physical Properties of Textile
Fibres*, ch. 25); discs add to it and do not multiply.
"""

import tomllib
from dataclasses import dataclass
from math import exp, isfinite, radians
from typing import Any

from ironlace.running.errors import RunningError

KINDS = ("guide", "discs", "take-up", "eye")
"""What the thread meets."""

FRICTION = (0.15, 0.20, 0.35)
"""Friction of sewing thread on steel: least, likely, greatest (from memory, no source)."""

_MOST_WRAP_DEG = 1440.0
"""Four times round a guide: more is a slip of the pen."""

_LETTERS = 60
"""Of a point's name."""


@dataclass(frozen=True, slots=True)
class PathPoint:
    """One thing that the thread meets: kind, name, wrap in degrees, friction if it was given."""

    kind: str
    name: str
    wrap_deg: float
    friction: float | None = None


@dataclass(frozen=True, slots=True)
class ThreadPath:
    """The path in order, from the spool to where the scale drew.

    Attributes
    ----------
    points
        What the thread meets, in order; one of them the discs.
    feed_gf
        Tension off the spool, gf, None when it was not measured.
    """

    points: tuple[PathPoint, ...]
    feed_gf: float | None = None

    @property
    def discs_at(self) -> int:
        """Place of the discs among the points."""
        return next(k for k, point in enumerate(self.points) if point.kind == "discs")

    def wraps_deg(self) -> tuple[float, float]:
        """Wrap before and after the discs, degrees, of points without friction of their own."""
        at = self.discs_at
        return (
            sum(p.wrap_deg for p in self.points[:at] if p.friction is None),
            sum(p.wrap_deg for p in self.points[at + 1 :] if p.friction is None),
        )

    def factors(self, friction: float) -> tuple[float, float]:
        """By how much the guides before and after the discs multiply the tension."""
        at = self.discs_at
        return (
            _factor(self.points[:at], friction),
            _factor(self.points[at + 1 :], friction),
        )


def capstan(friction: float, wrap_deg: float) -> float:
    """By how much a wrap multiplies the tension.

    >>> round(capstan(0.2, 180.0), 4)
    1.8745
    """
    return exp(friction * radians(wrap_deg))


def _factor(points: tuple[PathPoint, ...], friction: float) -> float:
    product = 1.0
    for point in points:
        product *= capstan(friction if point.friction is None else point.friction, point.wrap_deg)
    return product


def tension_along(path: ThreadPath, feed_gf: float, friction: float, load_gf: float) -> list[float]:
    r"""Tension after each point of a path, gf.

    Parameters
    ----------
    load_gf
        With which the spring presses the discs together; both faces brake.

    >>> path = read_path('[[point]]\nkind = "discs"\nname = "discs"')
    >>> tension_along(path, 5.0, 0.2, 100.0)
    [45.0]
    """
    tension, along = feed_gf, []
    for point in path.points:
        mu = friction if point.friction is None else point.friction
        tension *= capstan(mu, point.wrap_deg)
        if point.kind == "discs":
            tension += 2.0 * mu * load_gf
        along.append(tension)
    return along


def read_path(text: str) -> ThreadPath:
    """Read a path from TOML: `feed_gf` if measured, and `[[point]]` tables in order.

    Each point has `kind` (guide, discs, take-up, eye), `name`, `wrap_deg`, and `friction` if known.

    Raises
    ------
    RunningError
        When it is no TOML, has no discs, or a value cannot be.
    """
    try:
        read = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise RunningError(
            f"The path cannot be read as TOML: {error}.".replace("..", ".")
        ) from error
    strange = set(read) - {"feed_gf", "point"}
    if strange:
        raise RunningError(
            f"The path says '{min(strange)}', which is not known here: give feed_gf and [[point]]."
        )
    listed = read.get("point")
    if not isinstance(listed, list) or not listed:
        raise RunningError(
            "The path has no [[point]]: list what the thread meets from spool to needle, each with "
            "kind, name and wrap_deg."
        )
    points = tuple(_point(one, at) for at, one in enumerate(listed, 1))
    discs = sum(point.kind == "discs" for point in points)
    if discs != 1:
        raise RunningError(
            f"The path has {discs} points of kind 'discs': one pair of discs is needed."
        )
    feed = read.get("feed_gf")
    return ThreadPath(points, None if feed is None else _number(feed, "feed_gf", 0.0, 500.0))


def _point(one: Any, at: int) -> PathPoint:
    if not isinstance(one, dict):
        raise RunningError(f"Point {at} of the path is no table: write [[point]] above it.")
    strange = set(one) - {"kind", "name", "wrap_deg", "friction"}
    if strange:
        raise RunningError(
            f"Point {at} of the path says '{min(strange)}', which is not known here: give kind, "
            "name, wrap_deg and friction."
        )
    kind = str(one.get("kind", ""))
    if kind not in KINDS:
        raise RunningError(
            f"Point {at} of the path is of the kind '{kind[:40]}': use one of {', '.join(KINDS)}."
        )
    if kind != "discs" and "wrap_deg" not in one:
        raise RunningError(f"Point {at} of the path has no wrap_deg: say how far the thread bends.")
    friction = one.get("friction")
    return PathPoint(
        kind,
        str(one.get("name", kind))[:_LETTERS],
        _number(one.get("wrap_deg", 0.0), f"wrap_deg of point {at}", 0.0, _MOST_WRAP_DEG),
        None if friction is None else _number(friction, f"friction of point {at}", 0.01, 1.5),
    )


def _number(value: Any, words: str, low: float, high: float) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise RunningError(f"The path's {words} is {value!r}: a number is needed.")
    if not low <= value <= high:
        raise RunningError(f"The path's {words} is {value:g}: give {low:g} to {high:g}.")
    return float(value)
