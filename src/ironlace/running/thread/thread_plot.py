"""Thread asked for and given against the wheel's angle, the slack between them shaded."""

from collections.abc import Callable, Sequence
from xml.sax.saxutils import escape

import numpy as np

from ironlace.evidence.answers import Plot
from ironlace.running.plot_pieces import label, round_step
from ironlace.running.thread.thread_turn import STEPS, ThreadFound

_WIDE, _HIGH, _LEFT, _BELOW, _ABOVE, _RIGHT = 560.0, 300.0, 46.0, 40.0, 18.0, 14.0
"""Width and height of the plot, and its margins, in units of the drawing."""


_SHOWN_MM = 0.005
"""Thread drawn in half a degree from which a bar is shown at the foot."""


def thread_plots(found: ThreadFound) -> Sequence[Plot]:
    """The one plot: supply above demand, slack shaded, snatches as a thick foot."""
    places = np.arange(0, STEPS + 1)
    at = places % STEPS
    used = float(found.plain.used[0])
    again = np.where(places == STEPS, used, 0.0)
    demand = found.plain.demand[0][at] + again
    supply = demand + found.plain.slack[0][at]
    low, high = float(min(demand.min(), 0.0)), float(supply.max()) * 1.06
    base = _HIGH - _BELOW

    def x(place: float) -> float:
        return _LEFT + place / STEPS * (_WIDE - _LEFT - _RIGHT)

    def y(value: float) -> float:
        return base - (value - low) / (high - low) * (base - _ABOVE)

    upper = [f"{x(float(p)):.1f},{y(float(v)):.1f}" for p, v in zip(places, supply, strict=True)]
    lower = [f"{x(float(p)):.1f},{y(float(v)):.1f}" for p, v in zip(places, demand, strict=True)]
    shapes = [
        f'<polygon points="{" ".join(upper + lower[::-1])}" fill="currentColor" opacity="0.18"/>',
        f'<polyline points="{" ".join(lower)}" fill="none" stroke="currentColor" '
        'stroke-width="1.4"/>',
        f'<polyline points="{" ".join(upper)}" fill="none" stroke="currentColor" '
        'stroke-width="1.4" stroke-dasharray="6 4"/>',
    ]
    shapes += _foot(found, x)
    shapes += _axes(found, x, y, low, high)
    peak = int(np.argmax(found.plain.slack[0]))
    middle = 0.5 * float(supply[peak] + demand[peak])
    if float(found.plain.slack[0, peak]) > 0.12 * (high - low):
        # the word keeps clear of the plot's sides
        where = min(max(x(float(peak)), _LEFT + 30.0), _WIDE - _RIGHT - 30.0)
        shapes.append(label(where, y(middle) + 3.5, "slack", "middle"))
    title = "Thread given and asked for through one turn"
    says = (
        "Thread in mm against the wheel from the needle's lowest point on: asked for by needle, "
        "shuttle and feed (unbroken line), given by take-up and discs (dashed), slack between "
        "them (shaded). At the foot a low bar where thread is drawn through the discs as the "
        "stitch is drawn tight, a tall one where it is snatched."
    )
    rows = [("Wheel, °", "Asked for, mm", "Given, mm", "Slack, mm")]
    rows += [
        (
            f"{found.degrees[k]:.0f}",
            f"{demand[k]:.1f}",
            f"{supply[k]:.1f}",
            f"{supply[k] - demand[k]:.1f}",
        )
        for k in range(0, STEPS, 30)
    ]
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDE:g} {_HIGH:g}" role="img">'
        f"<title>{escape(title)}</title><desc>{escape(says)}</desc>{''.join(shapes)}</svg>"
    )
    return [Plot(title, svg, (says,), tuple(rows))]


def _foot(found: ThreadFound, x: Callable[[float], float]) -> list[str]:
    """Bars at the foot: a tall one where thread is snatched, a low one where it is drawn."""
    base = _HIGH - _BELOW
    snatched = found.plain.snatched[0] > _SHOWN_MM
    pulled = (found.plain.drawn[0] > 1e-9) & ~snatched
    return [
        f'<rect x="{x(float(k)):.1f}" y="{base - high:.1f}" width="0.9" '
        f'height="{high}" fill="currentColor"/>'
        for there, high in ((snatched, 7.0), (pulled, 2.5))
        for k in np.flatnonzero(there)
    ]


def _axes(
    found: ThreadFound,
    x: Callable[[float], float],
    y: Callable[[float], float],
    low: float,
    high: float,
) -> list[str]:
    """Both axes with their figures."""
    base = _HIGH - _BELOW
    parts = [
        f'<path d="M{_LEFT} {_ABOVE}V{base}H{_WIDE - _RIGHT}" fill="none" stroke="currentColor" '
        'stroke-width="0.6"/>'
    ]
    parts += [
        label(x(float(k)), base + 14.0, f"{found.degrees[k % STEPS]:.0f}°", "middle")
        for k in range(0, STEPS + 1, STEPS // 8)
    ]
    step = round_step((high - low) / 4.0)
    value = float(np.ceil(low / step) * step)
    while value <= high:
        parts.append(label(_LEFT - 5.0, y(value) + 3.5, f"{value:g}", "end"))
        value += step
    parts.append(label(_LEFT - 5.0, _ABOVE - 6.0, "mm", "end"))
    words = "hand wheel, as the disc reads, from the needle's lowest point on"
    parts.append(label(_WIDE - _RIGHT, _HIGH - 8.0, words, "end"))
    return parts
