"""The torque round the wheel, and how much of it magnets hold, as pictures."""

from collections.abc import Sequence
from math import cos, log, pi, sin
from typing import Final

import numpy as np

from ironlace.evidence.answers import Plot
from ironlace.stand.base import Span
from ironlace.stand.crank import HOLDS, CrankFound, TorqueReadings

_SIZE: Final = 460.0
"""Of the polar plot, square, in its own units (px at its usual size)."""
_REACH: Final = 165.0
"""Radius of its outermost ring."""
_STEPS: Final = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0)
"""Between rings, N m; the first that leaves at most five rings is taken."""
_WIDE: Final = 640.0
"""Of the plot of safeties."""
_BAR_FROM, _BAR_TO = 190.0, 610.0
"""Where its scale begins and ends."""
_LEAST, _MOST = 0.25, 16.0
"""Ends of that scale: what lies beyond holds, or does not, by so much that it does not matter."""
_LETTER: Final = 14.0
"""Size of letters, px where a plot is shown at its own size."""


def torque_plot(found: CrankFound, readings: TorqueReadings) -> Plot:
    """The torque against the wheel angle, 0 at the top, growing as the clock goes."""
    around = np.linspace(0.0, 360.0, len(found.torque_round), endpoint=False)
    low, middle, high = found.torque_round.T
    read = np.array(readings.pull_N) * readings.string_radius_mm / 1000.0
    most = float(max(high.max(), read.max(), found.torque_peak.high))
    step = next((one for one in _STEPS if most / one <= 5.0), _STEPS[-1])
    per = _REACH / (np.ceil(most / step) * step)

    def at(deg: float, torque: float) -> tuple[float, float]:
        turn = deg * pi / 180.0
        r = per * max(torque, 0.0)
        return _SIZE / 2.0 + r * sin(turn), _SIZE / 2.0 - r * cos(turn)

    def ring(values: Sequence[float]) -> str:
        places = (at(deg, v) for deg, v in zip(around, values, strict=True))
        return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in places) + "Z"

    shapes = _grid(per, step)
    shapes.append(
        f'<path d="{ring(high)}{ring(low)}" fill="currentColor" fill-opacity="0.18" '
        'fill-rule="evenodd"/>'
    )
    shapes.append(f'<path d="{ring(middle)}" fill="none" stroke="currentColor" stroke-width="2"/>')
    for n, series in enumerate(read):
        for deg, torque in zip(readings.wheel_deg, series, strict=True):
            x, y = at(deg, float(torque))
            shapes.append(_mark(x, y, n))
    x, y = at(found.peak_deg, found.torque_peak.value)
    shapes.append(
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="9" fill="none" stroke="var(--plot-warm,#9c3b23)" '
        'stroke-width="2.5"/>'
    )
    peak = found.torque_peak
    says = (
        f"Torque in N m round the wheel, its mark at the top: readings as marks, one sort a time "
        f"round, the curve through them with its band of 90 %; ringed, its peak of {peak.value:.2f}"
        f" ({peak.low:.2f} to {peak.high:.2f}) near {found.peak_deg:.0f}°."
    )
    rows = [("Wheel, °", "Torque, N m", "90 %, N m")]
    rows += [
        (f"{around[k]:.0f}", f"{middle[k]:.3f}", f"{low[k]:.3f} to {high[k]:.3f}")
        for k in range(0, len(around), 10)
    ]
    return Plot("Torque round the wheel", _svg(_SIZE, _SIZE, shapes), (says,), tuple(rows))


def _grid(per: float, step: float) -> list[str]:
    """Rings at every step of torque and rays at every eighth of a turn, with their figures."""
    shapes, middle = [], _SIZE / 2.0
    for n in range(1, round(_REACH / per / step) + 1):
        r = n * step * per
        shapes.append(
            f'<circle cx="{_SIZE / 2}" cy="{_SIZE / 2}" r="{r:.1f}" fill="none" '
            'stroke="currentColor" stroke-opacity="0.3" stroke-width="0.8"/>'
            + _text(_SIZE / 2 + 4, _SIZE / 2 - r - 3, f"{n * step:g}")
        )
    for deg in range(0, 360, 45):
        turn = deg * pi / 180.0
        x, y = middle + _REACH * sin(turn), middle - _REACH * cos(turn)
        shapes.append(
            f'<path d="M{_SIZE / 2} {_SIZE / 2}L{x:.1f} {y:.1f}" stroke="currentColor" '
            'stroke-opacity="0.3" stroke-width="0.8"/>'
        )
        away = _REACH + 24.0
        shapes.append(
            _text(
                _SIZE / 2 + away * sin(turn), _SIZE / 2 - away * cos(turn) + 5, f"{deg}°", "middle"
            )
        )
    return shapes


def safety_plot(found: CrankFound) -> Plot:
    """Both safeties with their intervals, and the line at which they hold."""
    bars = (
        ("against slipping", found.slip_safety),
        ("against being levered off", found.peel_safety),
    )
    high = 64.0 + 46.0 * len(bars)
    shapes = []
    for value in (0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0):
        x = _along(value)
        shapes.append(
            f'<path d="M{x:.1f} 30V{high - 26:.1f}" stroke="currentColor" stroke-opacity="0.25"/>'
            + _text(x, high - 8, f"{value:g}", "middle")
        )
    x = _along(HOLDS)
    shapes.append(
        f'<path d="M{x:.1f} 24V{high - 26:.1f}" stroke="var(--plot-warm,#9c3b23)" '
        'stroke-width="2.5" stroke-dasharray="7 4"/>'
        + _text(x, 17, f"holds from {HOLDS:g}", "middle")
    )
    for n, (words, span) in enumerate(bars):
        y = 52.0 + 46.0 * n
        shapes.append(_text(8, y + 5, words))
        shapes.append(_bar(span, y))
    says = tuple(
        f"Safety {words}: {span.value:.2f} (90 %: {span.low:.2f} to {span.high:.2f}); "
        + ("it holds." if span.low >= HOLDS else "too little." if span.high < HOLDS else "unsure.")
        for words, span in bars
    )
    rows = [("Safety", "Low", "Value", "High")]
    rows += [(w, f"{s.low:.2f}", f"{s.value:.2f}", f"{s.high:.2f}") for w, s in bars]
    title = f"Safeties, and the line at {HOLDS:g}"
    return Plot(title, _svg(_WIDE, high, shapes), says, tuple(rows))


def _along(value: float) -> float:
    inside = min(max(value, _LEAST), _MOST)
    share = log(inside / _LEAST) / log(_MOST / _LEAST)
    return _BAR_FROM + share * (_BAR_TO - _BAR_FROM)


def _bar(span: Span, y: float) -> str:
    left, at, right = (_along(v) for v in span.as_list())
    return (
        f'<rect x="{left:.1f}" y="{y - 9:.1f}" width="{max(right - left, 2.0):.1f}" height="18" '
        'fill="currentColor" fill-opacity="0.25" stroke="currentColor"/>'
        f'<path d="M{at:.1f} {y - 13:.1f}v26" stroke="currentColor" stroke-width="3"/>'
    )


def _mark(x: float, y: float, sort: int) -> str:
    """A reading; each time round has a shape of its own."""
    d = (
        f"M{x - 4:.1f} {y:.1f}a4 4 0 1 1 8 0a4 4 0 1 1 -8 0",
        f"M{x - 4.5:.1f} {y - 4.5:.1f}l9 9m0 -9l-9 9",
        f"M{x:.1f} {y - 6:.1f}l6 10h-12Z",
        f"M{x - 4:.1f} {y - 4:.1f}h8v8h-8Z",
    )[sort % 4]
    return f'<path d="{d}" fill="none" stroke="currentColor" stroke-width="1.4"/>'


def _text(x: float, y: float, words: str, anchor: str = "start") -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{_LETTER}" fill="currentColor" '
        f'text-anchor="{anchor}">{words}</text>'
    )


def _svg(wide: float, high: float, shapes: Sequence[str]) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:g} {high:g}" '
        f'width="{wide:g}" height="{high:g}" font-family="sans-serif"><title>Plot</title>'
        + "".join(shapes)
        + "</svg>"
    )
