"""The machine's silhouette in millimetres, touched on a photograph with two known distances.

The first distance lies along the seat, the second stands upright: each gives the scale its own way,
so that a camera that stood a little high or low does not make the head too flat or too tall.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.evidence.word_tables import WordTableError, rows_of_words
from ironlace.stand.errors import StandError

COLUMNS: Final = ("what", "x_px", "y_px")
"""Of the table of touches; what is seat, height or round."""
LEAST_ROUND: Final = 3
"""Touches round the machine: fewer hold no area."""
_SKEW: Final = 0.03
"""Share by which the two scales may differ before it is said: a camera 14 degrees too high."""
_LEAST_PX: Final = 20.0
"""Between two touches of a known distance: nearer, a pixel's slip is a twentieth of it."""


@dataclass(frozen=True)
class Silhouette:
    """A silhouette: ring of (across, up from the seat) in mm, shape (n, 2).

    `skew` is by which share the upright scale exceeds the level one.
    """

    ring_mm: Floats
    skew: float
    warnings: tuple[str, ...]

    @property
    def height_mm(self) -> float:
        """From the seat to the highest place."""
        return float(self.ring_mm[:, 1].max())


def silhouette_of(table: str, seat_mm: float, left_mm: float, upright_mm: float) -> Silhouette:
    """The silhouette that was touched.

    Parameters
    ----------
    table
        Rows what,x_px,y_px: two ``seat`` (left and right end of a known distance along the seat),
        two ``height`` (foot and top of a known upright one), three or more ``round``.
    seat_mm, upright_mm
        The two known distances.
    left_mm
        Where the left end of the first lies across the bed.

    Raises
    ------
    StandError
        When touches are missing, too near each other, or the height is touched upside down.
    """
    touched = _touched(table)
    (left, right), (foot, top) = touched["seat"], touched["height"]
    along = right - left
    wide = float(np.linalg.norm(along))
    if wide < _LEAST_PX or along[0] <= 0.0:
        raise StandError(
            "The two touches along the seat are too near, or the right end was touched first: "
            "touch the left end, then the right."
        )
    level = along / wide
    up = np.array([level[1], -level[0]])
    tall = float((top - foot) @ up)
    if tall < _LEAST_PX:
        raise StandError(
            "The two touches of the height are too near, or the top was touched first: touch its "
            "foot, then its top."
        )
    scales = seat_mm / wide, upright_mm / tall
    skew = scales[1] / scales[0] - 1.0
    off = touched["round"] - left
    ring = np.column_stack([left_mm + scales[0] * (off @ level), scales[1] * (off @ up)])
    said: tuple[str, ...] = ()
    if abs(skew) > _SKEW:
        said = (
            f"The two known distances give scales {100 * abs(skew):.0f} % apart: the camera stood "
            "aslant, or one of them is wrong; each is used its own way.",
        )
    return Silhouette(ring, float(skew), said)


def _touched(table: str) -> dict[str, Floats]:
    """Places by what they are, px; raises StandError when some are missing or strange."""
    try:
        rows = rows_of_words(table, COLUMNS, COLUMNS, ("touch", "touches"))
    except WordTableError as error:
        raise StandError(str(error)) from error
    found: dict[str, list[tuple[float, float]]] = {"seat": [], "height": [], "round": []}
    for number, row in enumerate(rows, 1):
        what = row.get("what", "").casefold()
        try:
            at = (float(row.get("x_px", "")), float(row.get("y_px", "")))
        except ValueError:
            at = (float("nan"), 0.0)
        if what not in found or not np.isfinite(at).all():
            raise StandError(
                f"Touch {number} reads '{','.join(row.values())[:40]}': give seat, height or "
                "round, and its two places in pixels."
            )
        found[what].append(at)
    wants = (("seat", 2), ("height", 2))
    for what, count in wants:
        if len(found[what]) != count:
            raise StandError(
                f"{len(found[what])} places are touched for the {what}, and two are needed: its "
                "two ends."
            )
    if len(found["round"]) < LEAST_ROUND:
        raise StandError(
            f"{len(found['round'])} places are touched round the machine: go round its outline "
            "with a dozen or more."
        )
    return {what: np.array(places) for what, places in found.items()}
