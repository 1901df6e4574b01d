"""Where a head's centre may lie: what the level readings leave of it, and what the tilted one."""

from typing import Final

import numpy as np

from ironlace.evidence.answers import Plot
from ironlace.evidence.arrays import Floats
from ironlace.stand.weighing import Balance

_NINETY: Final = 1.6448536269514722
"""Half-width of a 90 % interval in standard deviations of a normal law (exact, rounded)."""
_NINETY_OF_TWO: Final = 4.605170185988092
"""The 0.9 quantile of chi-squared with two degrees of freedom: -2 ln 0.1 (exact, rounded)."""
_CORNERS: Final = 48
"""Of an ellipse: a chord then misses its arc by 0.2 % of the radius."""
_TALL_MM: Final = 220.0
"""Height that is shown: heads are about as high (a judgement)."""
_WIDE_MM: Final = 150.0
"""Half the width that is shown of either view, at least."""
_GAP_MM: Final = 40.0
"""Between the two views."""
_LETTER_MM: Final = 13.0
"""Height of letters: 13 px where the picture is 700 wide."""


def cloud_ring(balance: Balance, axes: tuple[int, int]) -> Floats:
    """The outline that holds the centre in 90 %, seen along one axis, shape (n, 2), mm.

    `axes` are two of 0, 1, 2 for x, y, z.
    """
    at = [1 + axis for axis in axes]
    values, vectors = np.linalg.eigh(balance.covariance[np.ix_(at, at)])
    turns = np.linspace(0.0, 2.0 * np.pi, _CORNERS, endpoint=False)
    half = np.sqrt(_NINETY_OF_TWO * np.maximum(values, 0.0))
    circle = np.stack([np.cos(turns), np.sin(turns)])
    ring: Floats = balance.mean[at] + (vectors @ (half[:, None] * circle)).T
    return ring


def centre_plot(balance: Balance) -> Plot:
    """Both views of the centre above the seat: strips before the tilted reading, clouds after."""
    sd = np.sqrt(np.diag(balance.covariance))[1:]
    x, y, z = (float(one) for one in balance.mean[1:])
    half = max(_WIDE_MM, abs(x) + 40.0, abs(y) + 40.0)
    tall = max(_TALL_MM, z + 60.0)
    shapes, words = [], ("From the front", "From the sewer's right")
    for n, (axis, middle) in enumerate(((0, x), (1, y))):
        left = n * (2.0 * half + _GAP_MM) + half
        strip = max(_NINETY * float(sd[axis]), 0.3)
        ring = cloud_ring(balance, (axis, 2))
        cloud = "L".join(f"{left + one:.2f} {tall - up:.2f}" for one, up in ring)
        shapes.append(
            f'<path d="M{left - half:.1f} {tall:.1f}h{2.0 * half:.1f}" stroke="currentColor" '
            'stroke-width="2"/>'
            f'<path d="M{left:.1f} {tall:.1f}V0" stroke="currentColor" stroke-opacity="0.35" '
            'stroke-dasharray="4 4"/>'
            f'<rect x="{left + middle - strip:.2f}" y="0" width="{2.0 * strip:.2f}" '
            f'height="{tall:.1f}" fill="currentColor" fill-opacity="0.18"/>'
            f'<path d="M{cloud}Z" fill="var(--plot-warm,#9c3b23)" fill-opacity="0.55" '
            'stroke="var(--plot-warm,#9c3b23)"/>'
            f'<text x="{left - half:.1f}" y="{tall + 1.5 * _LETTER_MM:.1f}" '
            f'font-size="{_LETTER_MM}" fill="currentColor">{words[n]}; the line is the seat</text>'
        )
    wide, high = 4.0 * half + _GAP_MM, tall + 2.0 * _LETTER_MM
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-4 -4 {wide + 8:.1f} {high + 8:.1f}" '
        f'width="{wide:.0f}" height="{high:.0f}" font-family="sans-serif">'
        "<title>Where the centre may lie</title>" + "".join(shapes) + "</svg>"
    )
    h = [_NINETY * float(one) for one in sd]
    says = (
        f"Level, left and right leave a strip of ± {h[0]:.1f} mm, front and back one of ± "
        f"{h[1]:.1f} mm; the tilted reading closes them to clouds of ± {h[2]:.1f} mm in height "
        "(each 90 %).",
    )
    rows = (
        ("Centre", "Value, mm", "90 %, mm"),
        *(
            (called, f"{value:.1f}", f"{value - w:.1f} to {value + w:.1f}")
            for called, value, w in zip(
                ("to the right", "behind", "above the seat"), (x, y, z), h, strict=True
            )
        ),
    )
    return Plot("Where the centre may lie, reading by reading", svg, says, rows)
