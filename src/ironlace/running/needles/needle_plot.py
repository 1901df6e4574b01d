"""Needles held against the clamp: the butt at its stop, the eye where it comes to stand."""

from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

from ironlace.evidence.answers import Plot
from ironlace.evidence.intervals import NINETY
from ironlace.running.plot_pieces import label

_ACROSS, _TOP, _LEFT, _RIGHT = 104.0, 34.0, 86.0, 24.0
"""Room of one needle across, above the stop, and at both sides, in units of the drawing."""

_LONG = 216.0
"""Length that the distance from stop to eye is drawn at."""

_THICKER = 2.5
"""Widths are drawn so many times as large as lengths, or a shank would be a line."""

_BLADE_MM = 0.9
"""Blade of a needle of size 90, for the drawing alone."""

_SHOWN = 6
"""Needles drawn at the most, those that serve first."""


@dataclass(frozen=True, slots=True)
class Held:
    """A needle as it is drawn: name, shank and butt to eye in mm, verdict in words."""

    name: str
    shank_mm: float
    butt_to_eye_mm: float
    verdict: str


def needle_plot(
    clamp_mm: float, butt_to_eye_mm: float, error_mm: float | None, held: Sequence[Held]
) -> Plot:
    """Draw needles in the clamp as it stands, with the line on which the eye must be.

    Parameters
    ----------
    clamp_mm
        Width of the clamp's hole.
    butt_to_eye_mm, error_mm
        From the clamp's stop to where the top of the eye must be, and its uncertainty.
    held
        The needles, those that serve first.
    """
    drawn = held[:_SHOWN]
    per_mm = _LONG / max(butt_to_eye_mm, 1.0)
    lowest = max(butt_to_eye_mm, *(one.butt_to_eye_mm for one in drawn)) * per_mm
    wide, high = _LEFT + _ACROSS * len(drawn) + _RIGHT, _TOP + lowest + 62.0
    line = _TOP + butt_to_eye_mm * per_mm
    shapes = [
        f'<path d="M{_LEFT - 8:g} {line:.1f}H{wide - _RIGHT:.1f}" stroke="currentColor" '
        'stroke-width="1" stroke-dasharray="5 3"/>',
        label(_LEFT - 12.0, line + 3.5, "eye’s top", "end"),
        label(_LEFT - 12.0, line + 16.0, "must be here", "end"),
        label(_LEFT - 12.0, _TOP + 3.5, "clamp’s stop", "end"),
    ]
    if error_mm:
        half = NINETY * error_mm * per_mm
        shapes.append(
            f'<rect x="{_LEFT - 8:g}" y="{line - half:.1f}" '
            f'width="{wide - _LEFT - _RIGHT + 8:.1f}" '
            f'height="{2 * half:.1f}" fill="currentColor" opacity="0.13"/>'
        )
    shapes += [
        _needle(_LEFT + _ACROSS * (k + 0.5), one, clamp_mm, butt_to_eye_mm, per_mm)
        for k, one in enumerate(drawn)
    ]
    says = (
        "Each needle with its butt at the clamp's stop, the needle bar as it stands; the dashed "
        "line is where the top of the eye must be (band: 90 %), and the figure how far the bar "
        f"must go. Widths are drawn {_THICKER:g} times as large as lengths."
    )
    rows = [("Needle", "Shank, mm", "Butt to eye, mm", "Eye stands, mm", "Verdict")]
    rows += [
        (
            one.name,
            f"{one.shank_mm:.2f}",
            f"{one.butt_to_eye_mm:.1f}",
            _stands(one, butt_to_eye_mm),
            one.verdict,
        )
        for one in drawn
    ]
    title = "The needles held against the clamp"
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:g} {high:.0f}" role="img">'
        f"<title>{title}</title><desc>{escape(says)}</desc>{''.join(shapes)}</svg>"
    )
    return Plot(title, svg, (says,), tuple(rows))


def _stands(one: Held, wanted: float) -> str:
    """Where a needle's eye stands with the bar as it is: above the line means: lower the bar."""
    off = wanted - one.butt_to_eye_mm
    if abs(off) < 0.05:
        return "right"
    return f"{abs(off):.1f} too {'high' if off > 0.0 else 'low'}"


def _needle(x: float, one: Held, clamp_mm: float, wanted: float, per_mm: float) -> str:
    """One needle hanging from the stop, in the clamp's hole, with what must be done."""
    across = per_mm * _THICKER
    hole, shank, blade = (0.5 * mm * across for mm in (clamp_mm, one.shank_mm, _BLADE_MM))
    eye = _TOP + one.butt_to_eye_mm * per_mm
    neck = _TOP + 0.42 * one.butt_to_eye_mm * per_mm
    clamp = 0.3 * wanted * per_mm
    thin = min(blade, shank)
    # eye and point
    tip, slot = eye + 26.0, 9.0
    body = (
        f'<path d="M{x - shank:.1f} {_TOP:g}H{x + shank:.1f}V{neck:.1f}L{x + thin:.1f} '
        f"{neck + 8:.1f}V{eye + slot + 5:.1f}L{x:.1f} {tip:.1f}L{x - thin:.1f} "
        f'{eye + slot + 5:.1f}V{neck + 8:.1f}L{x - shank:.1f} {neck:.1f}Z" fill="none" '
        'stroke="currentColor" stroke-width="1.2"/>'
        f'<rect x="{x - 0.45 * thin:.1f}" y="{eye:.1f}" width="{0.9 * thin:.1f}" height="{slot:g}" '
        f'rx="{0.4 * thin:.1f}" fill="none" stroke="currentColor" stroke-width="1"/>'
    )
    sides = (
        f'<path d="M{x - hole:.1f} {_TOP - 6:g}v{clamp + 6:.1f}M{x + hole:.1f} {_TOP - 6:g}'
        f'v{clamp + 6:.1f}M{x - hole:.1f} {_TOP:g}H{x + hole:.1f}" fill="none" '
        'stroke="currentColor" stroke-width="2.4" opacity="0.55"/>'
    )
    off = wanted - one.butt_to_eye_mm
    move = (
        "bar as it is" if abs(off) < 0.05 else f"bar {'down' if off > 0 else 'up'} {abs(off):.1f}"
    )
    return (
        sides
        + body
        + label(x, _TOP - 14.0, one.name, "middle")
        + label(x, tip + 14.0, f"{move} mm" if abs(off) >= 0.05 else move, "middle")
        + label(x, tip + 28.0, one.verdict, "middle")
    )
