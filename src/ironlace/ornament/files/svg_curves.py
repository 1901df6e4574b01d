"""Outlines of SVG's basic shapes and path data as closed rings of cubic curves.

Path data follow the grammar of SVG 2, chapter 9; arcs are turned into cubics by way of their
centre (SVG 2, appendix B.2.4), a twelfth of a turn to each.
"""

from __future__ import annotations

import re
from itertools import groupby
from operator import itemgetter
from typing import Final

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.ornament.files.svg_root import SvgFault

NUMBER: Final = r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"
"""A number as SVG writes it."""

ARC_STEP: Final = np.pi / 6
"""Longest arc that one cubic stands for: it is off by less than a millionth of the radius; one for
a quarter of a turn by 270, which around a whole bed is more than sheets are cut to."""

LEAST_LINE: Final = 1e-9
"""Straight lines up to this long are no outline; far below what a file's decimals tell."""

_COMMANDS: Final = re.compile(r"([MmZzLlHhVvCcSsQqTtAa])")
_NUMBERS: Final = re.compile(NUMBER)
_STRANGE: Final = re.compile(r"[^MmZzLlHhVvCcSsQqTtAaEe0-9+\-.,\s]")
_GAP: Final = r"[\s,]*"
_ARC: Final = re.compile(
    _GAP.join([rf"({NUMBER})"] * 3 + ["([01])"] * 2 + [rf"({NUMBER})"] * 2) + _GAP
)
_COUNTS: Final = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2}


def rings_of_path(d: str) -> list[Floats]:
    """SVG path data as closed rings of cubic curves, each (n, 4, 2).

    Open ones are closed by a straight line, as filling closes them; those without extent are left
    out.

    Raises
    ------
    SvgFault
        If the path data cannot be read.

    >>> [len(ring) for ring in rings_of_path("M0 0h9v9z m20 20a3 3 0 0 0 6 0z")]
    [3, 7]
    """
    if d.strip() == "none":
        return []
    if _STRANGE.search(d):
        raise SvgFault(f"A path in the SVG cannot be read: {d[:60]}")
    first, *told = _COMMANDS.split(d)
    if first.strip() or (told and told[0] not in "Mm"):
        raise SvgFault(f"A path in the SVG cannot be read (it begins with no M): {d[:60]}")
    pen = _Pen()
    for command, texts in groupby(zip(told[::2], told[1::2], strict=True), key=itemgetter(0)):
        for text in _joined(command, [text for _, text in texts]):
            pen.draw(command, text)
    pen.finish()
    return pen.rings


def _joined(command: str, texts: list[str]) -> list[str]:
    """What one command that comes again and again is given, as one where it may be so written.

    SVG lets the letter away (SVG 2, 9.3.2): a long outline of lines is then read at once.
    """
    if command not in "Ll" or len(texts) == 1:
        return texts
    words = [text.replace(",", " ").split() for text in texts]
    # what is not plainly pairs of numbers is read, or refused, piece by piece
    return texts if any(len(pair) % 2 or not pair for pair in words) else [" ".join(texts)]


class _Pen:
    """Goes along path data and gathers rings."""

    def __init__(self) -> None:
        self.rings: list[Floats] = []
        self.curves: list[Floats] = []
        self.at = np.zeros(2)
        self.start = np.zeros(2)
        self.control = np.zeros(2)
        self.before = ""

    def draw(self, command: str, text: str) -> None:
        kind = command.upper()
        if kind == "Z":
            if text.strip(" ,\t\r\n"):
                raise SvgFault(f"A path in the SVG cannot be read (Z{text[:20]}).")
            self.finish()
            self.at = self.start
        elif kind == "A":
            self._arcs(text, relative=command == "a")
        else:
            values = _values(command, text)
            if kind == "M":
                self.finish()
                ends = _along(values, self.at, relative=command == "m")
                self.at = self.start = ends[0]
                self.lines(ends[1:])
            elif kind == "L":
                self.lines(_along(values, self.at, relative=command == "l"))
            elif kind in "HV":
                self._straight(kind, values[:, 0], relative=command in "hv")
            elif kind == "C":
                self._cubics(values.reshape(-1, 3, 2), relative=command == "c")
            else:
                for row in values:
                    origin = self.at if command != kind else np.zeros(2)
                    self._smooth(kind, row.reshape(-1, 2) + origin)
                    self.before = kind
        self.before = kind

    def finish(self) -> None:
        """End a ring, closed by a straight line if it is open."""
        at = self.at
        if self.curves:
            self.lines(self.start[None])
            ring = np.concatenate(self.curves)
            # close exactly: rounding in the file leaves gaps of its last decimal
            ring[-1, 3] = ring[0, 0]
            if len(ring) > 1 or np.abs(ring[0] - ring[0, 0]).max() > 1e-6:
                self.rings.append(ring)
        # a relative M goes on from where the pen is, closed or not
        self.curves, self.at = [], at

    def lines(self, ends: Floats) -> None:
        if len(ends) == 0:
            return
        places = np.concatenate([self.at[None], ends])
        keep = np.abs(np.diff(places, axis=0)).max(axis=1) > LEAST_LINE
        places = np.concatenate([self.at[None], ends[keep]])
        if len(places) > 1:
            a, b = places[:-1], places[1:]
            self.curves.append(np.stack([a, a + (b - a) / 3, a + (b - a) * 2 / 3, b], axis=1))
        self.at = places[-1]

    def _straight(self, kind: str, values: Floats, *, relative: bool) -> None:
        axis = 0 if kind == "H" else 1
        ends = np.repeat(self.at[None], len(values), axis=0)
        ends[:, axis] = self.at[axis] + np.cumsum(values) if relative else values
        self.lines(ends)

    def _cubics(self, told: Floats, *, relative: bool) -> None:
        if relative:
            ends = self.at + np.cumsum(told[:, 2], axis=0)
            starts = np.concatenate([self.at[None], ends[:-1]])
            told = np.concatenate([told[:, :2] + starts[:, None], ends[:, None]], axis=1)
        starts = np.concatenate([self.at[None], told[:-1, 2]])
        self.curves.append(np.concatenate([starts[:, None], told], axis=1))
        self.control, self.at = told[-1, 1], told[-1, 2]

    def _smooth(self, kind: str, places: Floats) -> None:
        """One curve of S, Q or T; a missing control point mirrors the one before."""
        mirrored = 2 * self.at - self.control
        if kind == "S":
            first = mirrored if self.before in ("C", "S") else self.at
            self.control = places[0]
            curve = [self.at, first, places[0], places[1]]
        else:
            if kind == "Q":
                self.control = places[0]
            else:
                self.control = mirrored if self.before in ("Q", "T") else self.at
            c, end = self.control, places[-1]
            curve = [self.at, self.at + (c - self.at) * 2 / 3, end + (c - end) * 2 / 3, end]
        self.curves.append(np.array([curve]))
        self.at = places[-1]

    def _arcs(self, text: str, *, relative: bool) -> None:
        text = text.strip(" ,\t\r\n")
        at = 0
        while at < len(text) or at == 0:
            match = _ARC.match(text, at)
            if match is None:
                raise SvgFault(f"A path in the SVG cannot be read (A{text[:40]}).")
            at = match.end()
            rx, ry, turn, large, sweep, x, y = (float(v) for v in match.groups())
            end = np.array([x, y]) + (self.at if relative else 0.0)
            if rx == 0 or ry == 0:
                self.lines(end[None])
            elif np.abs(end - self.at).max() > 0:
                self.curves.append(
                    arc_curves(self.at, end, (abs(rx), abs(ry)), turn, bool(large), bool(sweep))
                )
                self.at = end


def _values(command: str, text: str) -> Floats:
    """Numbers of a command, shape (times it is drawn, numbers it takes)."""
    values = _numbers(text)
    count = _COUNTS[command.upper()]
    if values is None or not len(values) or len(values) % count:
        raise SvgFault(f"A path in the SVG cannot be read ({command}{text[:40]}).")
    if not np.isfinite(values).all():
        raise SvgFault(f"A path of the SVG holds a number that is not finite ({text[:40]}).")
    return values.reshape(-1, count)


def _numbers(text: str) -> Floats | None:
    """All numbers of a text; None where it holds anything else."""
    try:
        # apart from one another they are read three times as quickly as by the pattern
        return np.array([float(word) for word in text.replace(",", " ").split()])
    except ValueError:
        if _NUMBERS.sub("", text).strip(" ,\t\r\n"):
            return None
        return np.array(_NUMBERS.findall(text), np.float64)


def _along(ends: Floats, at: Floats, *, relative: bool) -> Floats:
    return at + np.cumsum(ends, axis=0) if relative else ends


def arc_curves(
    start: Floats,
    end: Floats,
    radii: tuple[float, float],
    turn_deg: float,
    large: bool,
    sweep: bool,
) -> Floats:
    """An elliptical arc as cubic curves, shape (n, 4, 2); radii too short are grown to reach."""
    turn = np.deg2rad(turn_deg)
    axes = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    half = axes @ (start - end) / 2
    size = np.array(radii) * max(1.0, float(np.hypot(*(half / np.array(radii)))))
    unit = half / size
    away = np.sqrt(max(0.0, 1.0 / float(unit @ unit) - 1.0)) * (-1 if large == sweep else 1)
    middle = away * np.array([unit[1], -unit[0]])
    first = np.arctan2(*(unit - middle)[::-1])
    last = np.arctan2(*(-unit - middle)[::-1])
    over = (last - first) % (2 * np.pi) if sweep else -((first - last) % (2 * np.pi))
    out: Floats = (_unit_arc(first, over) + middle) * size @ axes + (start + end) / 2
    out[0, 0], out[-1, 3] = start, end
    return out


def _unit_arc(first: float, over: float) -> Floats:
    """Cubic curves along the unit circle from an angle over another."""
    count = max(1, int(np.ceil(abs(over) / ARC_STEP - 1e-9)))
    turns = first + over * np.arange(count + 1) / count
    reach = 4 / 3 * np.tan(over / count / 4)
    places = np.stack([np.cos(turns), np.sin(turns)], axis=1)
    ahead = np.stack([-np.sin(turns), np.cos(turns)], axis=1) * reach
    a, b = places[:-1], places[1:]
    return np.stack([a, a + ahead[:-1], b - ahead[1:], b], axis=1)


def ellipse_ring(cx: float, cy: float, rx: float, ry: float) -> Floats:
    """A whole ellipse as a ring of cubic curves."""
    ring = _unit_arc(0.0, 2 * np.pi) * (rx, ry) + (cx, cy)
    ring[-1, 3] = ring[0, 0]
    return ring


def rectangle_ring(x: float, y: float, w: float, h: float, rx: float, ry: float) -> Floats:
    """A rectangle as a ring of cubic curves, its corners rounded by an ellipse's quarters."""
    if rx <= 0 or ry <= 0:
        return polygon_ring(np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]]))
    pen = _Pen()
    pen.at = pen.start = np.array([x + rx, y])
    for right, down, turn in ((1, 0, -1), (1, 1, 0), (0, 1, 1), (0, 0, 2)):
        middle = np.array([x + (w - rx if right else rx), y + (h - ry if down else ry)])
        corner = _unit_arc(turn * np.pi / 2, np.pi / 2) * (rx, ry) + middle
        pen.lines(corner[:1, 0])
        corner[0, 0] = pen.at
        pen.curves.append(corner)
        pen.at = corner[-1, 3]
    pen.finish()
    return pen.rings[0]


def polygon_ring(corners: Floats) -> Floats:
    """A polygon, corners (n, 2), as a ring of straight cubic curves."""
    pen = _Pen()
    pen.at = pen.start = corners[0]
    pen.lines(corners[1:])
    pen.finish()
    return pen.rings[0] if pen.rings else np.zeros((0, 4, 2))


def points_of(text: str) -> Floats:
    """The corners of a ``points`` attribute, shape (n, 2).

    Raises SvgFault when it holds anything but pairs of numbers.
    """
    told = None if _STRANGE.search(text) else _numbers(text)
    if told is None or len(told) % 2:
        raise SvgFault(f"The points of a polygon in the SVG cannot be read: {text[:60]}")
    return told.reshape(-1, 2)
