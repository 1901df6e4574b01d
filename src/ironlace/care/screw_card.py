"""The card that a screw is photographed on: small markers round a window of white paper.

A scale strip is too large for a screw: its markers would leave a dozen pixels to a thread. The
numbers are those that no strip uses, so that a photograph tells by itself what lies in it.
"""

import numpy as np

from ironlace.photographs.scale_strip import (
    STRIP_DICTIONARY,
    StripLayout,
    StripMarker,
    marker_rings_mm,
)

CARD_MM = (70.0, 48.0)
"""Width and height: the longest screw of a head, 45 mm, lies between the markers."""
_MARKER_MM = 6.0
"""Side of a marker: 240 pixels where a screw has its 40 a millimetre."""
_EDGE_MM = 5.5
"""From the card's edge to a marker's middle: 2.5 mm of white all round."""
_FIRST_ID = 230
"""Beyond the numbers of the strips and of the lens chart."""


def screw_card() -> StripLayout:
    """The card's markers: six along either long edge, one in the middle of either short edge.

    >>> len(screw_card().markers)
    14
    """
    wide, high = CARD_MM
    across = np.linspace(_EDGE_MM, wide - _EDGE_MM, 6)
    places = [(x, y) for y in (_EDGE_MM, high - _EDGE_MM) for x in across]
    places += [(x, high / 2.0) for x in (_EDGE_MM, wide - _EDGE_MM)]
    half = _MARKER_MM / 2.0
    turns = ((-half, -half), (half, -half), (half, half), (-half, half))
    return StripLayout(
        tuple(
            StripMarker(
                STRIP_DICTIONARY,
                _FIRST_ID + n,
                tuple((float(round(x + dx, 3)), float(round(y + dy, 3))) for dx, dy in turns),
            )
            for n, (x, y) in enumerate(places)
        )
    )


def screw_card_svg() -> str:
    """The card at true scale, mm, with the line to cut along and one to lay the screw on."""
    wide, high = CARD_MM
    black = "".join(
        "M" + "L".join(f"{x:.4f} {y:.4f}" for x, y in ring) + "Z"
        for marker in screw_card().markers
        for ring in marker_rings_mm(marker)
    )
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide + 2:g}mm" '
            f'height="{high + 2:g}mm" viewBox="-1 -1 {wide + 2:g} {high + 2:g}">',
            "<title>Card for a screw</title>",
            f'<path fill="#000" fill-rule="evenodd" d="{black}"/>',
            f'<path fill="none" stroke="#000" stroke-width="0.1" d="M0 0H{wide:g}V{high:g}H0Z"/>',
            "</svg>",
            "",
        ]
    )
