"""A turned head as a drawing: the parts at work, and the wheel from its end.

It stands still where the head is first shown. What moves is marked with what it shows
(`data-moves`), how many units of the drawing a millimetre is, and from which height on, so that a
page can move it without knowing more.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import cos, radians, sin
from xml.sax.saxutils import escape

import numpy as np

from ironlace.running.motion.turned import STEP_DEG, HeadTurned, TurnedPart
from ironlace.running.plot_pieces import label

_WIDE, _HIGH = 480.0, 344.0
"""Width and height of the head's drawing, in its own units."""

_NEEDLE_X, _PLATE_Y, _SHUTTLE_Y = 150.0, 250.0, 286.0
"""Where the needle goes down, the needle plate's top, and the shuttle's race."""

_TAKE_UP_X, _TAKE_UP_Y, _TAKE_UP_TALL = 68.0, 196.0, 124.0
"""Where the take-up's eye moves: its lowest place and its most travel."""

_NEEDLE_TALL, _SHUTTLE_WIDE = 84.0, 150.0
"""Most travel of needle and shuttle on the drawing."""

_FEED_X, _FEED_WIDE = 230.0, 40.0
"""Middle of the feed, and its most travel on the drawing."""

_WHEEL = (388.0, 142.0, 76.0)
"""Middle and radius of the wheel's drawing."""

_LEAST_SEEN = 12.0
"""Travel on the drawing under which a part is drawn larger than the rest."""


@dataclass(frozen=True, slots=True)
class _Scale:
    """Units of the drawing to a millimetre, and the height that stands at the drawing's zero."""

    per_mm: float
    zero: float
    larger: int = 1

    def at(self, height: float) -> float:
        return (height - self.zero) * self.per_mm


def still_at(head: HeadTurned, part: TurnedPart, turn: float | None = None) -> tuple[float, float]:
    """Height of a part and half its band, mm, at degrees turned; where it is first shown if None.

    The height is NaN where the readings do not tell it.
    """
    place = (head.start if turn is None else turn) % 360.0 / STEP_DEG
    first = int(place)
    if not (part.known[first] and part.known[first + 1]):
        return float("nan"), float("nan")
    share = place - first
    height, half = (
        (1.0 - share) * values[first] + share * values[first + 1]
        for values in (part.height, part.half)
    )
    return height, half


def head_svg(head: HeadTurned) -> str:
    """Draw the head from the front, what was read of it, and its wheel from the end."""
    scales = _scales(head)
    shapes = [_wheel(head)]
    if head.part("needle bar") or head.part("shuttle") or head.part("feed"):
        shapes.append(
            f'<path class="turn-fixed" d="M24 {_PLATE_Y}H{_NEEDLE_X - 9}M{_NEEDLE_X + 9} {_PLATE_Y}'
            f'H286"/>' + label(24.0, _PLATE_Y + 14.0, "needle plate", "start")
        )
    shapes += [
        _DRAWN[part.name](head, part, scales[part.name])
        for part in head.parts
        if part.name in _DRAWN
    ]
    title = "The head at work"
    return (
        f'<svg class="turn-head" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDE:g} '
        f'{_HIGH:g}" role="img"><title>{title}</title><desc>{escape(_says(head, scales))}</desc>'
        f"{''.join(shapes)}</svg>"
    )


def scale_in_words(head: HeadTurned) -> str:
    """To what scale the parts are drawn, in one sentence."""
    return _says(head, _scales(head))


def _says(head: HeadTurned, scales: dict[str, _Scale]) -> str:
    drawn = [part.name for part in head.parts if part.name in _DRAWN or part.name == "feed lift"]
    larger: dict[int, list[str]] = {}
    for name in drawn:
        larger.setdefault(scales[name].larger, []).append(name)
    words = [
        f"the {' and '.join(names)} {by} times as large" for by, names in larger.items() if by > 1
    ]
    but = f", {' and '.join(words)}" if words else ""
    return (
        f"All travels are drawn to one scale{but}; how the parts stand to each other is only "
        "sketched, but for the shuttle's point at the meeting."
    )


def _scales(head: HeadTurned) -> dict[str, _Scale]:
    room = {
        "needle bar": _NEEDLE_TALL,
        "take-up": _TAKE_UP_TALL,
        "shuttle": _SHUTTLE_WIDE,
        "feed": _FEED_WIDE,
        "feed lift": 18.0,
    }
    travel = {part.name: max(part.high - part.low, 1e-3) for part in head.parts}
    if not travel:
        return {}
    per_mm = min(room[name] / mm for name, mm in travel.items())
    scales = {}
    for part in head.parts:
        by = 1
        if travel[part.name] * per_mm < _LEAST_SEEN:
            by = max(int(min(room[part.name], 2.0 * _LEAST_SEEN) / (travel[part.name] * per_mm)), 1)
        zero = part.low
        if part.name in ("shuttle", "feed"):
            zero = 0.5 * (part.low + part.high)
        if part.name == "shuttle" and head.onward and head.meeting_mm is not None:
            zero = head.meeting_mm
        scales[part.name] = _Scale(per_mm * by, zero, by)
    return scales


def hidden(gone: bool) -> str:
    """The attribute of a shape that is not to be seen now."""
    return ' visibility="hidden"' if gone else ""


def _moving(name: str, scale: _Scale, way: str, at: float, shapes: str) -> str:
    """What moves with a part: the way is the axis and sense in which a rising height goes."""
    gone = np.isnan(at)
    moved = 0.0 if gone else scale.at(at) * (-1.0 if way.startswith("-") else 1.0)
    x, y = (moved, 0.0) if way.endswith("x") else (0.0, moved)
    return (
        f'<g data-moves="{name}" data-way="{way}" data-per-mm="{scale.per_mm:.4f}" '
        f'data-zero="{scale.zero:.4f}" transform="translate({x:.2f} {y:.2f})"'
        f"{hidden(gone)}>{shapes}</g>"
    )


def _needle(head: HeadTurned, part: TurnedPart, scale: _Scale) -> str:
    x, tip = _NEEDLE_X, _SHUTTLE_Y + 14.0
    shapes = (
        f'<path class="turn-part" d="M{x - 6} {tip - 212:g}h12v124h-12z"/>'
        f'<path class="turn-part" d="M{x - 9} {tip - 88:g}h18v14h-18z"/>'
        f'<path class="turn-part turn-thin" d="M{x - 2.4} {tip - 74:g}h4.8v62l-2.4 12l-2.4 -12z"/>'
        f'<path class="turn-eye" d="M{x} {tip - 20:g}v6"/>'
    )
    fixed = f'<path class="turn-fixed" d="M{x - 18} 98h11m14 0h11M{x - 18} 114h11m14 0h11"/>'
    words = label(x + 24.0, 110.0, part.name, "start")
    return fixed + _moving(part.name, scale, "-y", still_at(head, part)[0], shapes) + words


def _take_up(head: HeadTurned, part: TurnedPart, scale: _Scale) -> str:
    x, y = _TAKE_UP_X, _TAKE_UP_Y
    top = y - scale.at(part.high)
    shapes = (
        f'<path class="turn-part" d="M{x - 4.5} {y}a4.5 4.5 0 1 1 9 0a4.5 4.5 0 1 1 -9 0z'
        f'M{x + 4} {y - 3:g}h26v6h-26z"/>'
    )
    fixed = f'<path class="turn-slot" d="M{x + 30} {top - 8:.1f}V{y + 8:.1f}"/>'
    words = label(x, top - 16.0, part.name, "middle")
    return fixed + _moving(part.name, scale, "-y", still_at(head, part)[0], shapes) + words


def _shuttle(head: HeadTurned, part: TurnedPart, scale: _Scale) -> str:
    x, y, long = _NEEDLE_X, _SHUTTLE_Y, 62.0
    if head.onward and head.meeting_mm is not None:
        # its point is where it meets the needle; the body follows
        back = -long * head.onward
        shape = f"M{x} {y}q{back * 0.3:.1f} -9 {back:.1f} -7v14q{-back * 0.7:.1f} 2 {-back:.1f} -7z"
    else:
        shape = f"M{x - 26} {y}l9 -7h34l9 7l-9 7h-34z"
    ends = [x + scale.at(v) for v in (part.low, part.high)]
    fixed = f'<path class="turn-slot" d="M{ends[0]:.1f} {y + 11:g}H{ends[1]:.1f}"/>'
    moving = _moving(
        part.name, scale, "x", still_at(head, part)[0], f'<path class="turn-part" d="{shape}"/>'
    )
    words = label(float(np.clip(ends[1], 60.0, 260.0)), y + 26.0, part.name, "end")
    return fixed + moving + words


def _feed(head: HeadTurned, part: TurnedPart, scale: _Scale) -> str:
    x, y = _FEED_X, _PLATE_Y
    teeth = "".join("l3 -5l3 5" for _ in range(6))
    shape = f'<path class="turn-part" d="M{x - 18} {y + 4:g}{teeth}v8h-36z"/>'
    lift = head.part("feed lift")
    inner = shape
    if lift is not None:
        lift_scale = _scales(head)[lift.name]
        inner = _moving(lift.name, lift_scale, "-y", still_at(head, lift)[0], shape)
    words = label(x, y + 30.0, part.name, "middle")
    return _moving(part.name, scale, "x", still_at(head, part)[0], inner) + words


_DRAWN: dict[str, Callable[[HeadTurned, TurnedPart, _Scale], str]] = {
    "needle bar": _needle,
    "take-up": _take_up,
    "shuttle": _shuttle,
    "feed": _feed,
}
"""How each part is drawn; the feed's lift moves the feed."""


def wheel_sense(head: HeadTurned) -> int:
    """Way in which the wheel's drawing turns: 1 clockwise, seen from its end with the sewer left.

    Unsaid, it is drawn as if its top went away, and the page says so.
    """
    return -1 if head.wheel_top == "towards" else 1


def _wheel(head: HeadTurned) -> str:
    x, y, radius = _WHEEL
    sense = wheel_sense(head)
    rises = -1.0 if head.numbers == "fall" else 1.0
    shapes = [
        f'<circle class="turn-part" cx="{x}" cy="{y}" r="{radius}"/>',
        f'<circle class="turn-part" cx="{x}" cy="{y}" r="{radius - 11}"/>',
        f'<circle class="turn-part" cx="{x}" cy="{y}" r="9"/>',
    ]
    for spoke in range(5):
        at = radians(72.0 * spoke + 36.0)
        ends = [(x + r * sin(at), y - r * cos(at)) for r in (9.0, radius - 11.0)]
        shapes.append(
            f'<path class="turn-part turn-thin" d="M{ends[0][0]:.1f} {ends[0][1]:.1f}'
            f'L{ends[1][0]:.1f} {ends[1][1]:.1f}"/>'
        )
    for number in range(0, 360, 30):
        # the number that stands under the pointer after as many degrees
        at = radians(-sense * rises * number)
        inner, outer = (
            (x + (radius - 11) * sin(at), y - (radius - 11) * cos(at)),
            (
                x + (radius - 5) * sin(at),
                y - (radius - 5) * cos(at),
            ),
        )
        shapes.append(
            f'<path class="turn-tick" d="M{inner[0]:.1f} {inner[1]:.1f}L{outer[0]:.1f} '
            f'{outer[1]:.1f}"/>'
        )
        if number % 90 == 0:
            far = radius - 22.0
            turned = -sense * rises * number
            shapes.append(
                f'<text font-size="11" fill="currentColor" text-anchor="middle" '
                f'transform="translate({x + far * sin(at):.1f} {y - far * cos(at):.1f}) '
                f'rotate({turned:g})" y="4">{number}</text>'
            )
    fixed = (
        f'<path class="turn-pointer" d="M{x} {y - radius - 1:g}l-5 -12h10z"/>'
        + label(x, y + radius + 22.0, "the wheel,", "middle")
        + label(x, y + radius + 40.0, "seen from its end", "middle")
        + label(x - radius - 8.0, y + 4.0, "you", "end")
    )
    if head.wheel_top != "unsaid":
        start, end = (-34.0, -8.0) if sense > 0 else (34.0, 8.0)
        far = radius + 16.0
        ends = [(x + far * sin(radians(a)), y - far * cos(radians(a))) for a in (start, end)]
        tip = radians(end)
        hx, hy = cos(tip) * sense, sin(tip) * sense
        fixed += (
            f'<path class="turn-arrow" d="M{ends[0][0]:.1f} {ends[0][1]:.1f}A{far} {far} 0 0 '
            f"{1 if sense > 0 else 0} {ends[1][0]:.1f} {ends[1][1]:.1f}"
            f"m{-7 * hx - 4 * hy:.1f} {-7 * hy - 4 * hx:.1f}L{ends[1][0]:.1f} {ends[1][1]:.1f}"
            f'm{-7 * hx + 4 * hy:.1f} {-7 * hy + 4 * hx:.1f}L{ends[1][0]:.1f} {ends[1][1]:.1f}"/>'
        )
    return (
        f'<g data-wheel="{sense}" data-middle="{x} {y}" '
        f'transform="rotate({sense * head.start:.2f} {x} {y})">{"".join(shapes)}</g>{fixed}'
    )
