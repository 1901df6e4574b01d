"""Two wheels and their belt to scale, open and crossed, with the way that each turns."""

from math import acos, cos, pi, sin, sqrt
from typing import Final, Literal

from ironlace.evidence.answers import Plot

_GAP: Final = 0.12
"""Between the drawings and round them, as a share of the larger wheel's diameter."""
_LETTER: Final = 0.024
"""Height of letters as a share of the drawing's width: 15 px where it is 640 wide."""

Run = Literal["open", "crossed"]


def belt_plot(
    driver_mm: float, driven_mm: float, centres_mm: float, thick_mm: float, asked: Run
) -> Plot:
    """The belt asked for, and the other way of laying it where that can be.

    Parameters
    ----------
    driver_mm, driven_mm
        Diameters where the belt's underside runs.
    """
    large, small = (driver_mm / 2.0, driven_mm / 2.0)
    most = max(large, small)
    can_cross = centres_mm > large + small + 2.0 * thick_mm
    ways: list[Run] = [asked, "crossed" if asked == "open" else "open"]
    shown = [way for way in ways if way == "open" or can_cross]
    gap = 2.0 * _GAP * most + thick_mm
    wide = large + centres_mm + small + 2.0 * gap
    letter = _LETTER * wide
    each = 2.0 * most + thick_mm + gap + 2.0 * letter
    shapes, words = [], []
    for n, way in enumerate(shown):
        x, y = gap + large, gap + most + n * each
        shapes.append(_laid(way, (x, y), (large, small, centres_mm, thick_mm)))
        turned = "the same way as" if way == "open" else "the other way than"
        told = "as asked" if way == asked else "the other way of laying it"
        words.append(f"{way.capitalize()} ({told}): the driven wheel turns {turned} the driver.")
        shapes.append(
            f'<text x="{gap:.2f}" y="{y + most + thick_mm + 1.3 * letter:.2f}" '
            f'font-size="{letter:.2f}" fill="currentColor">{way}, {told}</text>'
        )
    high = len(shown) * each + gap
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:.2f} {high:.2f}" width="640" '
        f'height="{640.0 * high / wide:.0f}" font-family="sans-serif">'
        "<title>Wheels and belt, to scale</title>" + "".join(shapes) + "</svg>"
    )
    rows = (
        ("Laid", "Driven wheel turns"),
        *((way, "as the driver" if way == "open" else "the other way") for way in shown),
    )
    if len(shown) < 2:
        words.append("The wheels lie too near each other for a crossed belt.")
    return Plot("Wheels and belt, to scale", svg, tuple(words), rows)


def _laid(way: Run, at: tuple[float, float], sizes: tuple[float, float, float, float]) -> str:
    """One pair of wheels with its belt; `sizes` are both radii, the centres, the thickness."""
    x, y = at
    large, small, centres, thick = sizes
    line = 'fill="none" stroke="currentColor" stroke-width="1" vector-effect="non-scaling-stroke"'
    wheels = [(x, large), (x + centres, small)]
    drawn = [
        f'<circle cx="{cx:.2f}" cy="{y:.2f}" r="{r:.2f}" {line}/>'
        f'<path d="M{cx - 3:.2f} {y:.2f}h6M{cx:.2f} {y - 3:.2f}v6" {line}/>'
        for cx, r in wheels
    ]
    big, little = large + thick / 2.0, small + thick / 2.0
    drawn.append(
        f'<path d="{_belt(way, (x, y), big, little, centres)}" fill="none" stroke="#8a5a2b" '
        f'stroke-width="{thick:.2f}" stroke-opacity="0.75" stroke-linejoin="round"/>'
    )
    for n, (cx, r) in enumerate(wheels):
        clockwise = n == 0 or way == "open"
        drawn.append(_arrow(cx, y, 0.62 * r, clockwise=clockwise))
    return "".join(drawn)


def _belt(way: Run, at: tuple[float, float], big: float, little: float, centres: float) -> str:
    """The belt's middle as a path: two straights that touch both wheels, and both arcs."""
    x, y = at
    reach = big - little if way == "open" else big + little
    lean = acos(reach / centres)
    up = (cos(lean), -sin(lean))
    far = 1.0 if way == "open" else -1.0
    first = (x + big * up[0], y + big * up[1])
    second = (x + centres + far * little * up[0], y + far * little * up[1])
    third = (second[0], 2.0 * y - second[1])
    fourth = (first[0], 2.0 * y - first[1])
    wrap = 2.0 * lean if way == "open" else 2.0 * (pi - lean)
    on_little, on_big = int(wrap > pi), int(2.0 * (pi - lean) > pi)
    sweep = 1 if way == "open" else 0
    return (
        f"M{first[0]:.3f} {first[1]:.3f}L{second[0]:.3f} {second[1]:.3f}"
        f"A{little:.3f} {little:.3f} 0 {on_little} {sweep} {third[0]:.3f} {third[1]:.3f}"
        f"L{fourth[0]:.3f} {fourth[1]:.3f}"
        f"A{big:.3f} {big:.3f} 0 {on_big} 1 {first[0]:.3f} {first[1]:.3f}Z"
    )


def _arrow(x: float, y: float, r: float, *, clockwise: bool) -> str:
    """An arc over the axle with a head where it ends."""
    side = 1.0 if clockwise else -1.0
    dx, dy = r * sqrt(0.5), r * sqrt(0.5)
    end = (x + side * dx, y - dy)
    head = 0.28 * r
    return (
        f'<path d="M{x - side * dx:.2f} {y - dy:.2f}A{r:.2f} {r:.2f} 0 0 {int(clockwise)} '
        f"{end[0]:.2f} {end[1]:.2f}m{-side * head:.2f} {-0.25 * head:.2f}L{end[0]:.2f} "
        f'{end[1]:.2f}l{0.25 * side * head:.2f} {-head:.2f}" fill="none" '
        'stroke="var(--plot-warm,#9c3b23)" stroke-width="2" vector-effect="non-scaling-stroke"/>'
    )
