"""Shapes of punches out of the machine's own clear strikes, labelled by a reader.

A clear strike shows its punch better than any drawing. Its depth is cut out of the relief, pits and
scratches beside it are left out, and what remains is a shape that serves the worn strikes of the
same punch, on this machine or on another of the maker.
"""

from collections.abc import Mapping, Sequence

import cv2
import numpy as np

from ironlace.marks.errors import MarksError
from ironlace.marks.reading.numeral_styles import EDGE
from ironlace.marks.reading.places import Place
from ironlace.marks.reading.relief_slopes import ReliefSlopes
from ironlace.marks.reading.strikes import Ink
from ironlace.marks.reading.wear import height_of

_LEAST = 0.06
"""Share of the largest piece below which a piece is a pit and no part of the figure (judged)."""
_LEVEL = 0.35
"""Share of the depth at which a stroke's outline is taken."""


def strike_shape(relief: ReliefSlopes, place: Place) -> Ink:
    """The shape that a strike shows, 0 to 1, on the reading grid.

    Raises MarksError when nothing stands out of the ground there.
    """
    height = height_of(relief.place(place.x_px, place.y_px, place.height_px), 1.0)
    depth = cv2.GaussianBlur(height, (0, 0), 12) - height
    inner = depth[2:-2, 2:-2]
    deep = float(np.quantile(inner, 0.97))
    ground = float(np.quantile(inner, 0.4))
    if deep - ground < 3 * float(np.std(inner[inner <= ground])) + 1e-6:
        raise MarksError(
            f"The strike {place.index} of row {place.row} does not stand out of the metal: label "
            "clear strikes only."
        )
    share = np.clip((depth - ground) / (deep - ground), 0, 1).astype(np.float32)
    count, pieces, told, _ = cv2.connectedComponentsWithStats(
        (share > _LEVEL).astype(np.uint8), connectivity=8
    )
    areas = told[:, cv2.CC_STAT_AREA]
    most = max(int(areas[1:].max()), 1) if count > 1 else 1
    keep = np.isin(pieces, [k for k in range(1, count) if areas[k] >= _LEAST * most])
    keep = cv2.dilate(keep.astype(np.uint8), np.ones((3, 3), np.uint8)).astype(bool)
    ink = np.where(keep, np.clip((share - _LEVEL) / 0.2 + 0.5, 0, 1), 0).astype(np.float32)
    rows, cols = np.flatnonzero(ink.max(axis=1) > 0.5), np.flatnonzero(ink.max(axis=0) > 0.5)
    return np.pad(ink[rows[0] : rows[-1] + 1, cols[0] : cols[-1] + 1], EDGE)


def own_shapes(
    relief: ReliefSlopes, places: Sequence[Place], labels: Mapping[tuple[int, int], str]
) -> dict[str, tuple[Ink, ...]]:
    """Shapes of all labelled strikes, by glyph.

    Parameters
    ----------
    labels
        What a reader read, by row and index of the digit.

    Raises MarksError when a label has no place, or its strike does not stand out.
    """
    known = {(p.row, p.index): p for p in places if p.kind == "digit"}
    found: dict[str, tuple[Ink, ...]] = {}
    for at, glyph in labels.items():
        if at not in known:
            raise MarksError(
                f"The labelled strike {at[1]} of row {at[0]} is not among the places: use the row "
                "and index of a digit there."
            )
        found[glyph] = (*found.get(glyph, ()), strike_shape(relief, known[at]))
    return found
