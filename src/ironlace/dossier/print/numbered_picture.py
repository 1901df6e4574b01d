"""A photograph with numbered places: a shape for each kind, its number beside it."""

from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

from ironlace.running.threading.leaders import Leader, leaders

_BADGE_MM = 3.1
"""Half the height of a number's field: figures of 10.5 points, read at arm's length."""
_PITCH_MM, _AWAY_MM = 7.2, 2.0
"""Least distance of two numbers on one edge; from the picture's edge to where a leader ends."""
SHAPES = {
    "hole": '<circle r="1.5"/>',
    "cup": '<path d="M-1.5 -1.5H1.5V1.5H-1.5Z"/>',
    "felt": '<path d="M0 -1.9L1.8 1.4H-1.8Z"/>',
    "face": '<path d="M0 -1.9L1.9 0L0 1.9L-1.9 0Z"/>',
    "": '<path d="M-1.4 -1.4L1.4 1.4M1.4 -1.4L-1.4 1.4"/>',
}
"""By kind: circle, square, triangle, square on its corner, and a cross where it is not said."""


@dataclass(frozen=True, slots=True)
class NumberedPlace:
    """A place with its number and name; `at_px` None where nobody pointed at it."""

    number: int
    name: str
    at_px: tuple[float, float] | None
    kind: str = ""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A drawing: SVG, its width in mm, and what it shows in words."""

    svg: str
    width_mm: float
    says: str


def numbered_picture(
    places: Sequence[NumberedPlace],
    size_px: tuple[int, int],
    address: str,
    most_mm: tuple[float, float],
) -> Drawn | None:
    """Draw the places that were pointed at; None when none was.

    Parameters
    ----------
    places
        In order.
    size_px
        Width and height of the photograph, in the pixels that the places are told in.
    address
        Of the photograph, or its ``data:`` address; empty for a bare sheet.
    most_mm
        Width and height that the drawing may take.
    """
    shown = [(one, one.at_px) for one in places if one.at_px is not None]
    if not shown:
        return None
    edge = _AWAY_MM + 2.0 * _BADGE_MM + 0.4
    px_wide, px_high = size_px
    scale = min((most_mm[0] - 2.0 * edge) / px_wide, most_mm[1] / px_high)
    wide, high = scale * px_wide, scale * px_high
    # a place beyond the edge of a photograph that was exchanged is told at the edge
    at = [(min(x * scale, wide), min(y * scale, high)) for _, (x, y) in shown]
    at = [(x + 1e-6 * n, y) for n, (x, y) in enumerate(at)]  # leaders want places apart
    led = leaders(at, wide, high, _PITCH_MM, _AWAY_MM)
    over = max([_BADGE_MM + 0.4 - one.end[1] for one in led] + [0.4])
    below = max([one.end[1] + _BADGE_MM + 0.4 - high for one in led] + [0.4])
    parts = [f'<rect width="{wide:.3f}" height="{high:.3f}" fill="#faf8f2"/>']
    if address:
        parts.append(
            f'<image href={quoteattr(address)} width="{wide:.3f}" height="{high:.3f}" '
            'preserveAspectRatio="none"/>'
        )
    for one, (place, _) in zip(led, shown, strict=True):
        parts.append(_place(one, place))
    says = "; ".join(f"{one.number} {one.name}" for one, _ in shown)
    whole_w, whole_h = wide + 2.0 * edge, high + over + below
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{whole_w:.3f}mm" '
        f'height="{whole_h:.3f}mm" viewBox="0 0 {whole_w:.3f} {whole_h:.3f}" role="img">'
        f"<title>{escape(says)}</title>"
        f'<rect width="{whole_w:.3f}" height="{whole_h:.3f}" fill="#ffffff"/>'
        f'<g transform="translate({edge:.3f} {over:.3f})">{"".join(parts)}</g></svg>'
    )
    return Drawn(svg, whole_w, says)


def _place(led: Leader, place: NumberedPlace) -> str:
    """A place with its shape, its leader and its number."""
    (x0, y0), (x1, y1) = led.start, led.end
    line = f"M{x0:.3f} {y0:.3f}L{x1:.3f} {y1:.3f}"
    middle = x1 - _BADGE_MM if led.side == "left" else x1 + _BADGE_MM
    signs = (
        f'<path d="{line}" stroke="#ffffff" stroke-width="0.8"/>',
        f'<path d="{line}" stroke="#1b1712" stroke-width="0.25"/>',
        f'<g transform="translate({x0:.3f} {y0:.3f})" stroke="#ffffff" stroke-width="1.3" '
        f'fill="none">{SHAPES[place.kind]}</g>',
        f'<g transform="translate({x0:.3f} {y0:.3f})" stroke="#1b1712" stroke-width="0.5" '
        f'fill="{"#ffffff" if place.kind else "none"}">{SHAPES[place.kind]}</g>',
        f'<g><title>{escape(place.name)}</title><circle cx="{middle:.3f}" '
        f'cy="{y1:.3f}" r="{_BADGE_MM - 0.2:.2f}" fill="#ffffff" stroke="#1b1712" '
        f'stroke-width="0.3"/><text x="{middle:.3f}" y="{y1 + 1.3:.3f}" font-size="3.7" '
        'font-family="Source Sans 3, sans-serif" text-anchor="middle" fill="#1b1712">'
        f"{place.number}</text></g>",
    )
    return "".join(signs)
