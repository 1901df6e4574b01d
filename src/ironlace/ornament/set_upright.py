"""A trace set upright: its whole frame turned until the mirror axis stands plumb or lies level.

Drawing, flat picture and camera share one millimetre frame, that of the scale strip, and nobody
lays a strip dead straight. Turned together they still lie on one another, and the drawing on its
photograph, to the last figure; a sheet cut from the drawing then stands straight.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final, Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Bounds, Floats
from ironlace.ornament.outline.drawing import Drawing
from ironlace.ornament.trace_report import Report
from ironlace.photographs.flat_picture import (
    COARSE_STEP,
    UNSEEN_FRAME,
    Flat,
    coarse_places,
)
from ironlace.photographs.place_by_strip import Placing
from ironlace.photographs.surfaces import Round

if TYPE_CHECKING:
    from ironlace.ornament.trace_photographs import Traced

MOST_TURN_DEG: Final = 15.0
"""An axis farther from upright and from level was meant to lie askew. A judgement, no source."""
_SMALL: Final = 1e-6
"""Radians by which a rotation is tried to see how its vector follows."""


@dataclass(frozen=True)
class Turn:
    """A turn of the surface frame, from x towards y, about one of its places, and what it is for.

    >>> Turn(90.0, (1.0, 0.0)).points(np.array([[2.0, 0.0]])).round(9).tolist()
    [[1.0, 1.0]]
    """

    degrees: float
    about_mm: tuple[float, float]
    axis: Literal["plumb", "level"] = "plumb"

    @property
    def matrix(self) -> Floats:
        """Shape (2, 2)."""
        return self._in_space[:2, :2]

    @property
    def _in_space(self) -> Floats:
        c, s = math.cos(math.radians(self.degrees)), math.sin(math.radians(self.degrees))
        return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])

    def points(self, xy: Floats) -> Floats:
        """Where places (..., 2) mm come to lie."""
        return np.asarray((xy - self.about_mm) @ self.matrix.T + self.about_mm)

    def back(self, xy: Floats) -> Floats:
        """Where places (..., 2) mm lay before; the inverse of `points`."""
        return np.asarray((xy - self.about_mm) @ self.matrix + self.about_mm)

    def drawing(self, drawing: Drawing, air_mm: float, seen_mm: Bounds) -> Drawing:
        """A drawing turned, in a window with ``air_mm`` around it.

        The window shows no more than ``seen_mm``, the bounds of what was laid flat, turned too.
        """
        paths = [replace(path, curves=self.points(path.curves)) for path in drawing.paths]
        drawn = np.concatenate([path.curves.reshape(-1, 2) for path in paths])
        seen = self.points(_corners(seen_mm))
        low = np.maximum(drawn.min(axis=0) - air_mm, seen.min(axis=0))
        high = np.minimum(drawn.max(axis=0) + air_mm, seen.max(axis=0))
        window = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
        blind = tuple(replace(b, corners_mm=self.points(b.corners_mm)) for b in drawing.blind)
        filled = tuple(replace(f, corners_mm=self.points(f.corners_mm)) for f in drawing.filled)
        return replace(drawing, paths=tuple(paths), bounds_mm=window, blind=blind, filled=filled)

    def placing(self, placing: Placing) -> Placing:
        """A photograph's place in the turned frame: the same pixels for the same places.

        On a plane that is the pose alone; a cylinder's or cone's reference point and axis turn
        with it, for a round surface unrolls the same whichever way its sheet is held.
        """
        surface = placing.surface
        radians = math.radians(self.degrees)
        if isinstance(surface, Round):
            x, y = self.points(np.array(surface.reference_mm))
            surface = replace(
                surface, reference_mm=(float(x), float(y)), axis_rad=surface.axis_rad + radians
            )
        about = np.array([*self.about_mm, 0.0])
        rotation = placing.rotation @ self._in_space.T
        parameters, covariance = self._adjusted(placing)
        return replace(
            placing,
            surface=surface,
            rotation=rotation,
            translation=placing.translation + (placing.rotation - rotation) @ about,
            parameters=parameters,
            parameter_covariance=covariance,
            paper_points_mm=self.points(placing.paper_points_mm),
        )

    def _adjusted(self, placing: Placing) -> tuple[Floats, Floats]:
        """The adjustment's figures as they read in the turned frame, with their covariance.

        Its moves are those of the place it turned about, which stays where it is; the turns alone
        read differently, and the direction of a round surface's axis.
        """
        before = placing.parameters
        if not len(before):
            return before, placing.parameter_covariance

        def turns(vector: Floats) -> Floats:
            turned = np.asarray(cv2.Rodrigues(vector)[0]) @ self._in_space.T
            return np.asarray(cv2.Rodrigues(turned)[0], np.float64).ravel()

        after = before.copy()
        after[:3] = turns(before[:3])
        if "axis_rad" in placing.parameter_names:
            after[placing.parameter_names.index("axis_rad")] += math.radians(self.degrees)
        follow = np.eye(len(before))
        for n, step in enumerate(np.eye(3) * _SMALL):
            follow[:3, n] = (turns(before[:3] + step) - turns(before[:3] - step)) / (2 * _SMALL)
        return after, follow @ placing.parameter_covariance @ follow.T

    def flat(self, flat: Flat, window_mm: Bounds) -> Flat:
        """A flat picture turned, resampled once, in linear light, by cubics.

        It lies on its own grid again, drawn out by whole pixels where the window needs it. What
        was not laid flat is hidden there.
        """
        s = flat.px_per_mm
        corners = (np.array(window_mm).reshape(2, 2) - flat.origin_mm) * s
        first = np.minimum(np.floor(corners[0]), 0).astype(int)
        past = np.maximum(np.ceil(corners[1]), flat.shape[::-1]).astype(int)
        width, height = (int(v) for v in past - first)
        x, y = (float(v) for v in np.asarray(flat.origin_mm) + first / s)
        new = replace(flat, origin_mm=(x, y))

        def before(px: Floats) -> Floats:
            """Pixels of the flat as it lay, of pixels of the turned one."""
            return flat.to_px(self.back(new.to_mm(px)))

        corner = before(np.zeros(2))
        ways = np.stack([before(np.array(v)) - corner for v in ([1.0, 0.0], [0.0, 1.0])], axis=1)
        to_before = np.column_stack([ways, corner])

        def warped(picture: NDArray[Any], how: int, border: int) -> NDArray[Any]:
            return cv2.warpAffine(
                picture,
                to_before,
                (width, height),
                flags=how | cv2.WARP_INVERSE_MAP,
                borderMode=border,
                borderValue=(float(UNSEEN_FRAME),),
            )

        nodes = np.stack(np.meshgrid(*coarse_places(height, width)), axis=-1)
        at = (before(nodes) / COARSE_STEP + 1.0).astype(np.float32)

        def coarse(grid: NDArray[np.float32]) -> NDArray[np.float32]:
            got = cv2.remap(
                grid, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
            )
            return np.asarray(got, np.float32)

        return Flat(
            light=np.asarray(warped(flat.light, cv2.INTER_CUBIC, cv2.BORDER_REPLICATE), np.uint16),
            px_per_mm=s,
            origin_mm=new.origin_mm,
            hidden=np.asarray(
                warped(flat.hidden, cv2.INTER_NEAREST, cv2.BORDER_CONSTANT), np.uint8
            ),
            resolution=coarse(flat.resolution),
            facing=coarse(flat.facing),
            white=coarse(flat.white),
        )

    def report(
        self, report: Report, drawing: Drawing, flat: Flat, placings: tuple[Placing, ...]
    ) -> Report:
        """A trace's report in the turned frame, of what is turned already.

        What a turn does not change stands as it was.
        The shares hidden of the flat stay those of what was laid flat: turning hides nothing.
        """
        out: Report = {
            **report,
            "flat": {
                **report["flat"],
                "bounds_mm": list(flat.bounds_mm),
                "width": flat.shape[1],
                "height": flat.shape[0],
            },
            "gathered": [self._source(source) for source in report["gathered"]],
            "mirror_untaken": [self._source(one) for one in report.get("mirror_untaken", [])],
            "bridges": [self._bridge(bridge) for bridge in report["bridges"]],
            "blind": [place.told() for place in drawing.blind],
            "upright": {
                "axis": self.axis,
                "turned_deg": self.degrees,
                "about_mm": list(self.about_mm),
            },
        }
        if placings:
            out["camera"] = placings[0].camera_told()
            out["photographs"] = [
                {**one, "surface": {"kind": at.surface.kind, **at.surface.numbers()}}
                for one, at in zip(report["photographs"], placings, strict=True)
            ]
            worst = [self._place(place, 2) for place in report["proof"]["worst"]]
            out["proof"] = {**report["proof"], "worst": worst}
        return out

    def _source(self, told: Mapping[str, Any]) -> Report:
        out: Report = dict(told)
        if "axis" in told:
            axis = self._place(told["axis"])
            # between -90 and 90 degrees, and plumb is 90
            axis["direction_deg"] = _within(told["axis"]["direction_deg"] + self.degrees)
            out["axis"] = axis
        if "step_mm" in told:
            out["step_mm"] = (self.matrix @ np.array(told["step_mm"])).tolist()
        return out

    def _bridge(self, told: Mapping[str, Any]) -> Report:
        centre = self.points(np.array(told["centre_mm"]))
        at = self.points(np.array(told["at_mm"]))
        return {**told, "at_mm": at.tolist(), "centre_mm": np.round(centre, 4).tolist()}

    def _place(self, told: Mapping[str, Any], digits: int | None = None) -> Report:
        x, y = self.points(np.array([told["x_mm"], told["y_mm"]])).tolist()
        if digits is not None:
            x, y = round(x, digits), round(y, digits)
        return {**told, "x_mm": x, "y_mm": y}


def set_upright(traced: Traced, air_mm: float) -> Traced:
    """A trace whose mirror axis stands plumb or lies level, if it has one and it nearly did.

    Drawing, placings, flat pictures and report turn together, about the middle of the drawing;
    the report says under ``upright`` by how much. Gilt maps and gathered evidence are not turned.

    Parameters
    ----------
    traced
        As it lies in the strip's frame.
    air_mm
        Left around what is drawn.
    """
    turn = _turn_of(traced)
    if turn is None:
        return traced
    drawing = turn.drawing(traced.drawing, air_mm, traced.flat.bounds_mm)
    placings = tuple(turn.placing(placing) for placing in traced.placings)
    flat = turn.flat(traced.flat, drawing.bounds_mm)
    return replace(
        traced,
        drawing=drawing,
        report=turn.report(traced.report, drawing, flat, placings),
        placings=placings,
        flat=flat,
        flat_of=_turned_flats(turn, traced.flat_of, drawing.bounds_mm),
    )


def turned_in_words(report: Mapping[str, Any]) -> list[str]:
    """A sentence on how far a trace was turned; none where it lies as the strip does."""
    told = report.get("upright")
    if not told:
        return []
    lies = "stands plumb" if told["axis"] == "plumb" else "lies level"
    return [f"It is turned by {abs(told['turned_deg']):.2f}°, so that its mirror axis {lies}."]


def _turned_flats(
    turn: Turn, flat_of: Callable[[int], Flat], window_mm: Bounds
) -> Callable[[int], Flat]:
    return lambda n: turn.flat(flat_of(n), window_mm)


def _turn_of(traced: Traced) -> Turn | None:
    """The turn that sets a trace upright; None where it has no axis, or one that lies askew.

    Where several colours have an axis, that of the one with the longest outline counts.
    """
    lengths: dict[str, float] = {}
    for path in traced.drawing.paths:
        lengths[path.layer] = lengths.get(path.layer, 0.0) + float(path.lengths.sum())
    axes = [one for one in traced.report["gathered"] if "axis" in one]
    if not axes:
        return None
    longest = max(axes, key=lambda one: lengths.get(one["layer"], 0.0))
    direction = longest["axis"]["direction_deg"]
    off = (direction + 45.0) % 90.0 - 45.0
    if abs(off) > MOST_TURN_DEG:
        return None
    left, top, right, bottom = traced.drawing.bounds_mm
    level = abs(math.sin(math.radians(direction))) < 0.5
    middle = ((left + right) / 2.0, (top + bottom) / 2.0)
    return Turn(-off, middle, "level" if level else "plumb")


def _within(degrees: float) -> float:
    """A line's direction in degrees, above -90 and up to 90; free of the last bits' noise."""
    return 90.0 - (90.0 - round(degrees, 9)) % 180.0


def _corners(bounds: Bounds) -> Floats:
    left, top, right, bottom = bounds
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
