"""Tension against turns drawn with its readings, before and after in one plot."""

from xml.sax.saxutils import escape

import numpy as np

from ironlace.evidence.answers import Plot
from ironlace.running.tension.screw_curve import ScrewCurve

_WIDE, _HIGH, _LEFT, _BELOW, _ABOVE = 560.0, 260.0, 46.0, 34.0, 16.0
"""Width and height of the plot and its margins, in units of the drawing."""

_MARK = 3.2
"""Half the size of a reading's mark."""


def tension_plot(curve: ScrewCurve, after: ScrewCurve | None) -> Plot:
    """Both curves with their bands; readings before are circles, after are squares."""
    curves = [curve] if after is None else [curve, after]
    left = float(min(c.turns.min() for c in curves))
    right = float(max(c.turns.max() for c in curves))
    top = 1.08 * float(max(c.tension.max() for c in curves))

    def place(turn: float, gf: float) -> str:
        across = _LEFT + (turn - left) / max(right - left, 1e-9) * (_WIDE - _LEFT - 12.0)
        up = _HIGH - _BELOW - min(max(gf, 0.0), top) / top * (_HIGH - _BELOW - _ABOVE)
        return f"{across:.1f},{up:.1f}"

    shapes = []
    for one, dashes in zip(curves, ("", ' stroke-dasharray="6 3"'), strict=False):
        steps = np.linspace(left, right, 49)
        bands = [one.tension_at(float(t)) for t in steps]
        upper = [place(t, b.high) for t, b in zip(steps, bands, strict=True)]
        lower = [place(t, b.low) for t, b in zip(steps, bands, strict=True)][::-1]
        line = [place(t, b.value) for t, b in zip(steps, bands, strict=True)]
        shapes.append(
            f'<polygon points="{" ".join(upper + lower)}" fill="currentColor" opacity="0.13"/>'
            f'<polyline points="{" ".join(line)}" fill="none" stroke="currentColor" '
            f'stroke-width="1.2"{dashes}/>'
        )
        for turn, gf in zip(one.turns, one.tension, strict=True):
            x, y = place(float(turn), float(gf)).split(",")
            shapes.append(
                f'<circle cx="{x}" cy="{y}" r="{_MARK}" fill="none" stroke="currentColor"/>'
                if one is curve
                else f'<rect x="{float(x) - _MARK:.1f}" y="{float(y) - _MARK:.1f}" '
                f'width="{2 * _MARK}" height="{2 * _MARK}" fill="none" stroke="currentColor"/>'
            )
    base = _HIGH - _BELOW
    shapes.append(
        f'<path d="M{_LEFT} {_ABOVE}V{base}H{_WIDE - 12.0}" fill="none" stroke="currentColor" '
        'stroke-width="0.6"/>'
    )
    for eighth in range(int(np.ceil(left * 8.0)), int(np.floor(right * 8.0)) + 1):
        x = place(eighth / 8.0, 0.0).split(",")[0]
        long = 5 if eighth % 8 == 0 else 2.5
        shapes.append(f'<path d="M{x} {base}v{long}" stroke="currentColor" stroke-width="0.6"/>')
        if eighth % 8 == 0:
            shapes.append(_words(x, base + 17.0, f"{eighth // 8}", "middle"))
    for gf in np.arange(0.0, top, _step(top / 4.0)):
        y = place(left, float(gf)).split(",")[1]
        shapes.append(_words(f"{_LEFT - 5.0}", float(y) + 3.5, f"{gf:g}", "end"))
    shapes.append(_words(f"{_LEFT - 5.0}", _ABOVE - 5.0, "gf", "end"))
    shapes.append(_words(f"{_WIDE - 12.0}", _HIGH - 3.0, "turns of the screw, by eighths", "end"))
    says = "Tension in gf against turns of the screw, with the band that holds it in 90 %; " + (
        "readings are circles." if after is None else "before: circles, after: squares and dashes."
    )
    title = "Tension against the screw"
    rows = [("Turns", "Tension, gf", "from", "to")]
    for turn in np.linspace(left, right, 9):
        at = curve.tension_at(float(turn))
        rows.append((f"{turn:.2f}", f"{at.value:.1f}", f"{at.low:.1f}", f"{at.high:.1f}"))
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDE:g} {_HIGH:g}" role="img">'
        f"<title>{title}</title><desc>{escape(says)}</desc>{''.join(shapes)}</svg>"
    )
    return Plot(title, svg, (says,), tuple(rows))


def _words(x: str, y: float, text: str, anchor: str) -> str:
    return (
        f'<text x="{x}" y="{y:.1f}" font-size="10.5" fill="currentColor" '
        f'text-anchor="{anchor}">{escape(text)}</text>'
    )


def _step(size: float) -> float:
    """A step of 1, 2 or 5 times a power of ten, not smaller than a size."""
    power = 10.0 ** np.floor(np.log10(max(size, 1e-6)))
    return float(next(power * k for k in (1.0, 2.0, 5.0, 10.0) if power * k >= size - 1e-12))
