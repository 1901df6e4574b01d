"""A head's motions drawn over one turn, with every reading; misread ones by another shape."""

from collections.abc import Callable, Sequence
from math import pi
from xml.sax.saxutils import escape

import numpy as np

from ironlace.evidence.answers import Plot
from ironlace.evidence.wording import capital
from ironlace.running.motion.figures import curve_band
from ironlace.running.motion.motion_found import Motion, MotionFound
from ironlace.running.plot_pieces import label, round_step

_WIDE, _HIGH, _LEFT, _BELOW, _ABOVE = 560.0, 230.0, 46.0, 34.0, 14.0
"""Width and height of one plot, and its margins, in units of the drawing."""

_MARK = 3.2
"""Half the size of a reading's mark."""


_Place = Callable[[float], float]


def motion_plots(found: MotionFound) -> Sequence[Plot]:
    """One plot for each motion."""
    sign = -1.0 if found.asked.turning == "fall" else 1.0
    return [_plot(one, sign) for one in found.motions]


def _plot(one: Motion, sign: float) -> Plot:
    fit = one.fit
    degrees = np.arange(0.0, 361.0, 2.0)
    curve, half = curve_band(fit, one.at, np.radians(degrees) * sign)
    read = fit.readings.height[:, one.at]
    has = ~np.isnan(read)
    low = float(min(curve.min(), read[has].min()))
    high = float(max(curve.max(), read[has].max()))
    x, y = _places(low, high)

    upper = [f"{x(d):.1f},{y(v):.1f}" for d, v in zip(degrees, curve + half, strict=True)]
    lower = [f"{x(d):.1f},{y(v):.1f}" for d, v in zip(degrees, curve - half, strict=True)]
    line = [f"{x(d):.1f},{y(v):.1f}" for d, v in zip(degrees, curve, strict=True)]
    shapes = [
        f'<polygon points="{" ".join(upper + lower[::-1])}" fill="currentColor" opacity="0.15"/>',
        f'<polyline points="{" ".join(line)}" fill="none" stroke="currentColor" '
        'stroke-width="1.2"/>',
    ]
    shown = np.mod(fit.readings.angle * sign * 180.0 / pi, 360.0)
    shapes += [
        _mark(x(shown[row]), y(read[row]), out=bool(fit.left_out[row, one.at]))
        for row in np.flatnonzero(has)
    ]
    shapes += _axes(x, y, low, high)
    title = f"{capital(one.name)} over one turn"
    out = int(fit.left_out[:, one.at].sum())
    says = (
        f"Height of the {one.name} in mm against the disc's degrees: {int(has.sum())} readings "
        f"(circles), {out} of them taken for misread (crosses), and the curve through them with "
        "the band that holds it in 90 %."
    )
    rows = [("Wheel, °", "Height, mm", "± (90 %), mm")]
    rows += [
        (f"{degrees[k]:.0f}", f"{curve[k]:.2f}", f"{half[k]:.2f}")
        for k in range(0, len(degrees), 15)
    ]
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDE:g} {_HIGH:g}" role="img">'
        f"<title>{escape(title)}</title><desc>{escape(says)}</desc>{''.join(shapes)}</svg>"
    )
    return Plot(title, svg, (says,), tuple(rows))


def _places(low: float, high: float) -> tuple[_Place, _Place]:
    """Where degrees and heights stand in the drawing."""
    room = 0.06 * (high - low)

    def x(value: float) -> float:
        return _LEFT + value / 360.0 * (_WIDE - _LEFT - 8.0)

    def y(value: float) -> float:
        share = (float(np.clip(value, low - room, high + room)) - low + room) / (
            high - low + 2.0 * room
        )
        return _HIGH - _BELOW - share * (_HIGH - _BELOW - _ABOVE)

    return x, y


def _mark(x: float, y: float, *, out: bool) -> str:
    if out:
        s = 1.4 * _MARK
        return (
            f'<path d="M{x - s:.1f} {y - s:.1f}L{x + s:.1f} {y + s:.1f}M{x - s:.1f} {y + s:.1f}'
            f'L{x + s:.1f} {y - s:.1f}" stroke="currentColor" stroke-width="1.6"/>'
        )
    return (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{_MARK}" fill="none" stroke="currentColor" '
        'stroke-width="1"/>'
    )


def _axes(x: _Place, y: _Place, low: float, high: float) -> list[str]:
    """Both axes with their figures."""
    base = _HIGH - _BELOW
    parts = [
        f'<path d="M{_LEFT} {_ABOVE}V{base}H{_WIDE - 8.0}" fill="none" stroke="currentColor" '
        'stroke-width="0.6"/>'
    ]
    parts += [
        label(x(float(tick)), base + 14.0, f"{tick}°", "middle") for tick in range(0, 361, 45)
    ]
    step = round_step((high - low) / 4.0)
    value = np.ceil(low / step) * step
    while value <= high:
        parts.append(label(_LEFT - 5.0, y(float(value)) + 3.5, f"{value:g}", "end"))
        value += step
    parts.append(label(_LEFT - 5.0, _ABOVE - 3.0, "mm", "end"))
    parts.append(label(_WIDE - 8.0, _HIGH - 4.0, "hand wheel, as the disc reads", "end"))
    return parts
