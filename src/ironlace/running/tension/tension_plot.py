"""Tension against turns drawn with its readings, before and after in one plot."""

from collections.abc import Callable
from xml.sax.saxutils import escape

import numpy as np

from ironlace.evidence.answers import Plot
from ironlace.evidence.arrays import Floats
from ironlace.running.plot_pieces import label, round_step
from ironlace.running.tension.screw_curve import ScrewCurve

_WIDE, _HIGH, _LEFT, _BELOW, _ABOVE = 560.0, 260.0, 46.0, 34.0, 16.0
"""Width and height of the plot and its margins, in units of the drawing."""

_MARK = 3.2
"""Half the size of a reading's mark."""


def tension_plot(
    curve: ScrewCurve, after: ScrewCurve | None, sews: tuple[float, float] | None = None
) -> Plot:
    """Both curves with their bands; readings before are circles, after are squares.

    Parameters
    ----------
    sews
        Least and greatest tension that sews, gf; None where they were not given.
    """
    curves = [curve] if after is None else [curve, after]
    left = float(min(c.turns.min() for c in curves))
    right = float(max(c.turns.max() for c in curves))
    top = 1.08 * float(max(c.tension.max() for c in curves))

    def place(turn: float, gf: float) -> tuple[float, float]:
        across = _LEFT + (turn - left) / max(right - left, 1e-9) * (_WIDE - _LEFT - 12.0)
        up = _HIGH - _BELOW - min(max(gf, 0.0), top) / top * (_HIGH - _BELOW - _ABOVE)
        return across, up

    shapes = [_line(one, place, left, right, later=one is not curve) for one in curves]
    shapes += _axes(place, left, right, top)
    if after is not None:
        shapes += [
            _named(one, place, words) for one, words in ((curve, "before"), (after, "after"))
        ]
    if sews is not None:
        shapes += _sewing(sews, place, left, right, top)
    says = "Tension in gf against turns of the screw, with the band that holds it in 90 %; " + (
        "readings are circles." if after is None else "before: circles, after: squares and dashes."
    )
    if sews is not None:
        says += f" Dotted: {sews[0]:g} and {sews[1]:g} gf, between which it sews."
    title = "Tension against the screw"
    rows: list[tuple[str, ...]] = [("Turns", "Tension, gf", "from", "to")]
    if after is not None:
        rows = [("Turns", "Before, gf", "from", "to", "After, gf", "from", "to")]
    for turn in np.linspace(left, right, 9):
        each = [one.tension_at(float(turn)) for one in curves]
        cells = [f"{v:.1f}" for at in each for v in (at.value, at.low, at.high)]
        rows.append((f"{turn:.2f}", *cells))
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDE:g} {_HIGH:g}" role="img">'
        f"<title>{title}</title><desc>{escape(says)}</desc>{''.join(shapes)}</svg>"
    )
    return Plot(title, svg, (says,), tuple(rows))


_Place = Callable[[float, float], tuple[float, float]]


def _line(one: ScrewCurve, place: _Place, left: float, right: float, *, later: bool) -> str:
    """A curve with its band and its readings."""
    steps = np.linspace(left, right, 49)
    bands = [one.tension_at(float(t)) for t in steps]

    def points(values: list[float], turns: Floats) -> str:
        pairs = (place(float(t), v) for t, v in zip(turns, values, strict=True))
        return " ".join(f"{x:.1f},{y:.1f}" for x, y in pairs)

    upper = points([b.high for b in bands], steps)
    lower = points([b.low for b in bands][::-1], steps[::-1])
    dashes = ' stroke-dasharray="6 3"' if later else ""
    shapes = [
        f'<polygon points="{upper} {lower}" fill="currentColor" opacity="0.13"/>'
        f'<polyline points="{points([b.value for b in bands], steps)}" fill="none" '
        f'stroke="currentColor" stroke-width="1.2"{dashes}/>'
    ]
    for turn, gf in zip(one.turns, one.tension, strict=True):
        x, y = place(float(turn), float(gf))
        shapes.append(
            f'<rect x="{x - _MARK:.1f}" y="{y - _MARK:.1f}" width="{2 * _MARK}" '
            f'height="{2 * _MARK}" fill="none" stroke="currentColor"/>'
            if later
            else f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{_MARK}" fill="none" '
            'stroke="currentColor"/>'
        )
    return "".join(shapes)


def _named(one: ScrewCurve, place: _Place, words: str) -> str:
    """A curve's name above its last reading."""
    last = float(one.turns.max())
    x, y = place(last, one.tension_at(last).high)
    return label(x, y - 5.0, words, "end")


def _sewing(
    sews: tuple[float, float], place: _Place, left: float, right: float, top: float
) -> list[str]:
    """The tensions between which it sews, as far as the plot shows them."""
    shapes = []
    for gf, words in zip(sews, ("sews from", "sews up to"), strict=True):
        if not 0.0 <= gf <= top:
            continue
        (x, y), (end, _) = place(left, gf), place(right, gf)
        shapes.append(
            f'<path d="M{x:.1f} {y:.1f}H{end:.1f}" stroke="currentColor" stroke-width="0.8" '
            'stroke-dasharray="1 3"/>' + label(x + 6.0, y - 4.0, f"{words} {gf:g} gf", "start")
        )
    return shapes


def _axes(place: _Place, left: float, right: float, top: float) -> list[str]:
    """Both axes: turns by eighths, and gram-force."""
    base = _HIGH - _BELOW
    shapes = [
        f'<path d="M{_LEFT} {_ABOVE}V{base}H{_WIDE - 12.0}" fill="none" stroke="currentColor" '
        'stroke-width="0.6"/>'
    ]
    for eighth in range(int(np.ceil(left * 8.0)), int(np.floor(right * 8.0)) + 1):
        x = place(eighth / 8.0, 0.0)[0]
        long = 5 if eighth % 8 == 0 else 2.5
        shapes.append(
            f'<path d="M{x:.1f} {base}v{long}" stroke="currentColor" stroke-width="0.6"/>'
        )
        if eighth % 8 == 0:
            shapes.append(label(x, base + 17.0, f"{eighth // 8}", "middle"))
    shapes += [
        label(_LEFT - 5.0, place(left, float(gf))[1] + 3.5, f"{gf:g}", "end")
        for gf in np.arange(0.0, top, round_step(top / 4.0))
    ]
    shapes.append(label(_LEFT - 5.0, _ABOVE - 5.0, "gf", "end"))
    shapes.append(label(_WIDE - 12.0, _HIGH - 3.0, "turns of the screw, by eighths", "end"))
    return shapes
