"""Front and side elevation of a machine on its base, to scale, with the machine's own silhouette.

The front is seen from the sewer, x to the right; the side from the sewer's right, with the sewer on
the left. Two bases are drawn side by side at one scale.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from ironlace.evidence.answers import Plot
from ironlace.evidence.arrays import Floats
from ironlace.stand.base import BaseFound
from ironlace.stand.silhouette import Silhouette

View = Literal["front", "side"]
VIEWS: Final[tuple[View, View]] = ("front", "side")
_GAP_MM: Final = 30.0
"""Between two bases drawn side by side, and round the drawing."""
_BAR_MM: Final = 100.0
"""Of the bar that tells the scale."""
_LETTER: Final = 0.027
"""Height of letters as a share of the drawing's width: 13 px where it is 480 px wide."""
_FEW_POINTS: Final = 40
"""A crank's way round is drawn with so many corners."""


@dataclass(frozen=True)
class OnItsBase:
    """A machine on one base: what it is called, and its silhouettes where they were touched."""

    called: str
    found: BaseFound
    front: Silhouette | None = None
    side: Silhouette | None = None

    def silhouette(self, view: View) -> Silhouette | None:
        """That of a view."""
        return self.front if view == "front" else self.side


_HEIGHTS: Final = 0.06
"""Share by which a head may be as high from the front as from the side: touches and lens leave two
or three hundredths (a judgement)."""
_CENTRE: Final = 0.75
"""Share of its height above which no head has its centre: bed and arm lie below (a judgement)."""


def silhouette_doubts(one: OnItsBase) -> list[str]:
    """What in the silhouettes contradicts another, or where the head's centre was found."""
    said = []
    front, side = one.front, one.side
    if front is not None and side is not None:
        ratio = side.height_mm / front.height_mm
        if abs(np.log(ratio)) > _HEIGHTS:
            said.append(
                f"The head is {front.height_mm:.0f} mm high from the front and "
                f"{side.height_mm:.0f} mm from the side: a known height was typed wrong, or one "
                "photograph shows the head otherwise; measure it again."
            )
    high = max((s.height_mm for s in (front, side) if s is not None), default=0.0)
    centre = one.found.centre[2].value
    if high and centre > _CENTRE * high:
        said.append(
            f"The centre at {centre:.0f} mm lies near the top of a head {high:.0f} mm high: look "
            "at the weighing and at the silhouette's known height again."
        )
    return said


def elevation(machines: Sequence[OnItsBase], view: View) -> Plot:
    """Draw one view of a machine on one base, or on several side by side."""
    groups, words, rows = [], [], [("Base", "Height, mm", "Width, mm", "Head above it, mm")]
    at = 0.0
    # both views are as large, so that side by side they stand at one scale
    tallest = max(_top(one, each) for one in machines for each in VIEWS)
    wide = max(_width(machines, each) for each in VIEWS)
    letter = _LETTER * wide
    for one in machines:
        left, right = _ends(one, view)
        groups.append(
            f'<g transform="translate({at - left:.2f} {tallest:.2f}) scale(1 -1)">'
            f"{_drawn(one, view)}</g>"
            f'<text x="{at:.2f}" y="{tallest + 1.6 * letter:.2f}" font-size="{letter:.2f}" '
            f'fill="currentColor">{one.called}: {one.found.height_mm:.0f} mm high</text>'
        )
        at += right - left + _GAP_MM
        words.append(_compared(one, view))
        rows.append(_row(one, view))
    high = tallest + 4.4 * letter
    bar = tallest + 2.6 * letter
    title = "From the front" if view == "front" else "From the sewer's right"
    svg = "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{-_GAP_MM / 2:g} {-_GAP_MM / 2:g} '
            f'{wide + _GAP_MM:.2f} {high + _GAP_MM:.2f}" font-family="sans-serif">',
            f"<title>{title}</title>",
            f'<path d="M0 {tallest:.2f}H{wide:.2f}" stroke="currentColor" stroke-width="1"/>',
            *groups,
            f'<path d="M0 {bar:.2f}h{_BAR_MM:g}M0 {bar - 3:.2f}v6M{_BAR_MM:g} {bar - 3:.2f}v6" '
            'stroke="currentColor" stroke-width="1.2" fill="none"/>',
            f'<text x="{_BAR_MM + 6:g}" y="{bar + 4:.2f}" font-size="{letter:.2f}" '
            'fill="currentColor">100 mm</text>',
            "</svg>",
        ]
    )
    return Plot(f"{title}, to scale", svg, tuple(words), tuple(rows))


def _width(machines: Sequence[OnItsBase], view: View) -> float:
    """Of all machines side by side in a view, mm."""
    ends = [_ends(one, view) for one in machines]
    across = sum(right - left for left, right in ends) + _GAP_MM * (len(ends) - 1)
    return max(across, _BAR_MM + 150.0)


def _axis(view: View) -> int:
    return 0 if view == "front" else 1


def base_ends(found: BaseFound, view: View) -> tuple[float, float]:
    """Where the base begins and ends across a view, mm."""
    low_x, low_y, high_x, high_y = found.shape.outside.bounds
    return (low_x, high_x) if view == "front" else (low_y, high_y)


def _ends(one: OnItsBase, view: View) -> tuple[float, float]:
    left, right = base_ends(one.found, view)
    seen = one.silhouette(view)
    if seen is not None:
        left = min(left, float(seen.ring_mm[:, 0].min()))
        right = max(right, float(seen.ring_mm[:, 0].max()))
    crank = one.found.case.crank
    if crank is not None:
        if view == "front":
            right = max(right, crank.handle_x_mm + crank.handle_radius_mm)
        else:
            reach = crank.radius_mm + crank.handle_radius_mm
            left = min(left, crank.axis_y_mm - reach)
            right = max(right, crank.axis_y_mm + reach)
    return left, right


def _top(one: OnItsBase, view: View) -> float:
    height = one.found.height_mm
    seen = one.silhouette(view)
    top = height + (seen.height_mm if seen is not None else 0.0)
    crank = one.found.case.crank
    if crank is not None:
        top = max(top, height + crank.axis_above_seat_mm + crank.radius_mm)
    return top


def _drawn(one: OnItsBase, view: View) -> str:
    """One machine on its base, mm, up the page, the table at 0."""
    found, height = one.found, one.found.height_mm
    measures = found.case.base
    left, right = base_ends(found, view)
    line = 'fill="none" stroke="currentColor" stroke-width="1"'
    parts = []
    seen = one.silhouette(view)
    if seen is not None:
        ring = "L".join(f"{x:.2f} {y + height:.2f}" for x, y in seen.ring_mm)
        parts.append(f'<path d="M{ring}Z" fill="currentColor" fill-opacity="0.78"/>')
    parts.append(
        f'<path d="M{left:.2f} 0H{right:.2f}V{height:.2f}H{left:.2f}Z" '
        'fill="var(--plot-cool,#b08a35)" fill-opacity="0.35" stroke="currentColor" '
        'stroke-width="1.4"/>'
    )
    wall, floor = measures.wall_mm, measures.floor_mm
    parts.append(
        f'<path d="M{left + wall:.2f} {height:.2f}V{floor:.2f}H{right - wall:.2f}V{height:.2f}" '
        f'{line} stroke-dasharray="5 3"/>'
    )
    axis = _axis(view)
    for path in found.works.paths:
        places = path.places
        if len(places) == 1:
            x, z = places[0, axis], places[0, 2] + height
            parts.append(f'<path d="M{x - 3:.2f} {z:.2f}h6M{x:.2f} {z - 3:.2f}v6" {line}/>')
        else:
            ring = "L".join(f"{x:.2f} {z + height:.2f}" for x, z in places[:, [axis, 2]])
            parts.append(f'<path d="M{ring}Z" {line}/>')
    if found.case.crank is not None:
        # a light casing, since it runs over the silhouette
        way = _crank(one, view)
        parts.append(f'<path d="{way}" fill="none" stroke="#9a9284" stroke-width="2.6"/>')
        parts.append(f'<path d="{way}" {line} stroke-dasharray="4 3"/>')
    return "".join(parts)


def _crank(one: OnItsBase, view: View) -> str:
    """The crank's way round with its handle, or its reach as seen from the front."""
    crank = one.found.case.crank
    assert crank is not None
    axis = crank.axis_above_seat_mm + one.found.height_mm
    reach = crank.radius_mm + crank.handle_radius_mm
    if view == "front":
        x, r = crank.handle_x_mm, crank.handle_radius_mm
        return f"M{x - r:.2f} {axis - reach:.2f}H{x + r:.2f}V{axis + reach:.2f}H{x - r:.2f}Z"
    turns = np.linspace(0.0, 2.0 * np.pi, _FEW_POINTS, endpoint=False)
    ring: Floats = np.column_stack(
        [crank.axis_y_mm + reach * np.cos(turns), axis + reach * np.sin(turns)]
    )
    return "M" + "L".join(f"{y:.2f} {z:.2f}" for y, z in ring) + "Z"


def _compared(one: OnItsBase, view: View) -> str:
    """Base against head, in a sentence."""
    left, right = base_ends(one.found, view)
    height, wide = one.found.height_mm, right - left
    seen = one.silhouette(view)
    if seen is None:
        return (
            f"{one.called}: {height:.0f} mm high, {wide:.0f} mm across. No silhouette was touched "
            "in this view."
        )
    head = seen.height_mm
    across = float(np.ptp(seen.ring_mm[:, 0]))
    return (
        f"{one.called}: {height:.0f} mm high under a head of {head:.0f} mm, "
        f"{100 * height / (height + head):.0f} % of the whole height; {wide:.0f} mm across, and "
        f"the head {across:.0f} mm."
    )


def _row(one: OnItsBase, view: View) -> tuple[str, str, str, str]:
    left, right = base_ends(one.found, view)
    seen = one.silhouette(view)
    head = "" if seen is None else f"{seen.height_mm:.1f}"
    return one.called, f"{one.found.height_mm:.1f}", f"{right - left:.1f}", head
