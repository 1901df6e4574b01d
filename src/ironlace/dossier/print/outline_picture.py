"""The photograph of a bed with the outline that was found drawn on it."""

import numpy as np
from numpy.typing import NDArray

from ironlace.dossier.print.picture_address import picture_address
from ironlace.stand.bed_outline import BedOutline

_LINE = 0.002
"""Width of the line as a share of the picture's: 3 px where it is shown 1500 wide."""


def outline_picture_svg(found: BedOutline, picture: NDArray[np.uint8]) -> str:
    """The outline on its photograph (HxWx3, sRGB), in the photograph's pixels, as SVG."""
    high, wide = picture.shape[:2]
    ring = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in found.ring_px) + "Z"
    line = _LINE * wide
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}" width="{wide}" '
            f'height="{high}">',
            "<title>The bed's outline as it was found</title>",
            f'<image width="{wide}" height="{high}" href="{picture_address(picture)}"/>',
            f'<path d="{ring}" fill="none" stroke="#1d1408" stroke-width="{2.4 * line:.2f}"/>',
            f'<path d="{ring}" fill="none" stroke="#f7dc92" stroke-width="{line:.2f}"/>',
            "</svg>",
            "",
        ]
    )
