"""A photographed screw laid straight, with the edges found on it and the comb of its pitch."""

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.care.screw_photograph import ScrewFound
from ironlace.care.screw_plots import comb_path, edge_paths
from ironlace.dossier.print.picture_address import picture_address

_WIDE_PX = 1500
"""Of the straightened copy: 60 pixels a millimetre of a usual screw, as fine as the photograph."""
_LINE = 0.0022
"""Width of a line as a share of the drawing's width: 3 px where it is as wide as its copy."""


def screw_picture_svg(found: ScrewFound, picture: NDArray[np.uint8]) -> str:
    """The screw with what was found, in mm of the card, as SVG.

    Parameters
    ----------
    picture
        The photograph that it was found in, HxWx3, sRGB.
    """
    edges = found.edges
    left = float(edges.along_mm[0])
    half, wide = edges.reach_mm, float(edges.along_mm[-1]) - left
    size = (_WIDE_PX, max(2, round(_WIDE_PX * 2.0 * half / wide)))
    # as laid out: x along the axis, the first side down the page, so that the thread keeps its hand
    onto = np.array([[0, 0], [0, size[1]], [size[0], size[1]], [size[0], 0]], np.float32)
    turned = cv2.getPerspectiveTransform(np.asarray(edges.corners_px, np.float32), onto)
    straight = np.asarray(
        cv2.warpPerspective(picture, turned, size, flags=cv2.INTER_AREA), dtype=np.uint8
    )
    line = _LINE * wide
    paths = "".join(f'<path d="{one}"/>' for one in edge_paths(found))
    comb = comb_path(found)
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{left:.3f} {-half:.3f} {wide:.3f} '
            f'{2.0 * half:.3f}" width="{_WIDE_PX}" height="{size[1]}">',
            "<title>The screw as it was read</title>",
            f'<image x="{left:.3f}" y="{-half:.3f}" width="{wide:.3f}" height="{2.0 * half:.3f}" '
            f'preserveAspectRatio="none" href="{picture_address(straight)}"/>',
            # a dark casing, so that the lines are seen on metal and on paper
            f'<g fill="none" stroke="#1d1408" stroke-width="{2.4 * line:.4f}">{paths}'
            f'<path d="{comb}"/></g>',
            f'<g fill="none" stroke="#f7dc92" stroke-width="{line:.4f}">{paths}</g>',
            f'<path d="{comb}" fill="none" stroke="#ff8a6b" stroke-width="{line:.4f}"/>',
            "</svg>",
            "",
        ]
    )
