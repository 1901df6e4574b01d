"""A degree disc for the hand wheel, drawn at true scale and numbered for either way of turning."""

from dataclasses import dataclass
from math import cos, pi, radians, sin
from typing import Literal

from ironlace.running.errors import RunningError

PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height of the paper, mm."""

_SMALLEST_MM, _EDGE_MM = 60.0, 12.0
"""Least diameter at which degrees can be read, and what no printer reaches of a sheet, mm."""

_BAR_MM = 100.0
"""Length of the bar that is measured before the disc is used."""

_TICKS = {1: 3.0, 5: 5.0, 10: 7.0}
"""Length of the tick of each degree, fifth and tenth, mm."""


@dataclass(frozen=True, slots=True)
class DegreeDisc:
    """A disc to be printed: diameter of disc and of its hole in mm, way its numbers run, paper."""

    diameter_mm: float = 120.0
    hole_mm: float = 8.0
    numbered: Literal["clockwise", "anticlockwise"] = "clockwise"
    paper: Literal["a4", "letter"] = "a4"


def degree_disc_svg(disc: DegreeDisc) -> str:
    """Draw a degree disc as a page of SVG in millimetres.

    Raises
    ------
    RunningError
        When the disc is too small to be read, too large for the paper, or all hole.
    """
    wide, high = PAPERS[disc.paper]
    largest = wide - 2.0 * _EDGE_MM
    if not _SMALLEST_MM <= disc.diameter_mm <= largest:
        raise RunningError(
            f"A disc of {disc.diameter_mm:g} mm cannot be printed so: give {_SMALLEST_MM:g} to "
            f"{largest:g} mm."
        )
    if not 1.0 <= disc.hole_mm <= disc.diameter_mm - 44.0:
        raise RunningError(
            f"A hole of {disc.hole_mm:g} mm leaves no room for the figures: give 1 to "
            f"{disc.diameter_mm - 44.0:g} mm, the axle's size."
        )
    x, y, radius = wide / 2.0, _EDGE_MM + 4.0 + disc.diameter_mm / 2.0, disc.diameter_mm / 2.0
    sense = 1.0 if disc.numbered == "clockwise" else -1.0
    shapes = [
        f'<circle cx="{x:g}" cy="{y:g}" r="{radius:g}"/>',
        f'<circle cx="{x:g}" cy="{y:g}" r="{disc.hole_mm / 2.0:g}"/>',
        f'<path d="M{x - 12:g} {y:g}H{x + 12:g}M{x:g} {y - 12:g}V{y + 12:g}" stroke-width="0.1"/>',
    ]
    words = []
    for degree in range(360):
        turn = sense * radians(degree) - pi / 2.0
        long = next(_TICKS[step] for step in (10, 5, 1) if degree % step == 0)
        ends = [(x + r * cos(turn), y + r * sin(turn)) for r in (radius, radius - long)]
        shapes.append(
            f'<path d="M{ends[0][0]:.3f} {ends[0][1]:.3f}L{ends[1][0]:.3f} {ends[1][1]:.3f}" '
            f'stroke-width="{0.25 if degree % 10 == 0 else 0.12}"/>'
        )
        if degree % 10 == 0:
            words.append(_figure(x, y, radius - 9.5, sense * degree, f"{degree}"))
    below = y + radius + 14.0
    shapes.append(
        f'<path d="M{x - _BAR_MM / 2:g} {below:g}h{_BAR_MM:g}m0 -2v4m-{_BAR_MM:g} 0v-4" '
        'stroke-width="0.25"/>'
    )
    for line, text in enumerate(_lines(disc)):
        words.append(
            f'<text x="{x:g}" y="{below + 7.0 + 5.0 * line:g}" font-size="3.6" '
            f'text-anchor="middle">{text}</text>'
        )
    title = f"Degree disc, {disc.diameter_mm:g} mm, numbered {disc.numbered}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:g}mm" height="{high:g}mm" '
        f'viewBox="0 0 {wide:g} {high:g}"><title>{title}</title>'
        f'<rect width="{wide:g}" height="{high:g}" fill="#fff"/>'
        f'<g fill="none" stroke="#000" stroke-width="0.25">{"".join(shapes)}</g>'
        f'<g fill="#000" font-family="Source Sans Pro, sans-serif">{"".join(words)}</g></svg>\n'
    )


def _figure(x: float, y: float, radius: float, turned: float, text: str) -> str:
    return (
        f'<text x="{x:g}" y="{y - radius:g}" font-size="3.4" text-anchor="middle" '
        f'transform="rotate({turned:g} {x:g} {y:g})">{text}</text>'
    )


def _lines(disc: DegreeDisc) -> tuple[str, ...]:
    return (
        "This bar is 100 mm: measure it; if it is not, print again at 100 %.",
        f"Numbers run {disc.numbered}. As the machine sews, those under a fixed pointer rise or "
        "fall: say which.",
        "Cut out, fix on the hand wheel, centre it by the hole; set one pointer, and a second one "
        "opposite, and read both.",
        "Take the belt off. Turn only the way it sews; if you overshoot, go back a quarter "
        "turn and come again.",
    )
