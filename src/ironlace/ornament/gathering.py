"""Evidence from several places laid on one flat.

Wear only takes paint away. So where any one source shows gilt and is sure of it, there was gilt,
however many others are bare there; and every pixel remembers which source spoke.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.grades import Grade
from ironlace.ornament.drawing import ClosedPath, Drawing, curve_points
from ironlace.ornament.errors import OrnamentError
from ironlace.ornament.gilt import GiltMap

NO_SOURCE: Final = 255
"""In `Gathered.source`: nothing is known of this pixel."""


@dataclass(frozen=True)
class Gathered:
    """All evidence on one flat.

    Attributes
    ----------
    coverage
        Gilt as first laid, as far as any source shows it, 0..255.
    source
        Which source speaks for each pixel, an index into ``names``, or ``NO_SOURCE``.
    names
        Names of the sources; ``names[0]`` is the photograph itself.
    grades
        Grade of each source.
    px_per_mm, origin_mm
        As in `Flat`.
    """

    coverage: NDArray[np.uint8]
    source: NDArray[np.uint8]
    names: tuple[str, ...]
    grades: tuple[Grade, ...]
    px_per_mm: float
    origin_mm: tuple[float, float]

    def graded(self, drawing: Drawing) -> Drawing:
        """The drawing with each stretch graded by the source that most of its outline rests on."""
        return drawing.with_paths([self._graded(p) for p in drawing.paths])

    def _graded(self, path: ClosedPath) -> ClosedPath:
        t = (np.arange(9) + 0.5) / 9
        px = (curve_points(path.curves, t) - np.asarray(self.origin_mm)) * self.px_per_mm - 0.5
        h, w = self.source.shape
        column = np.clip(np.round(px[..., 0]).astype(int), 0, w - 1)
        row = np.clip(np.round(px[..., 1]).astype(int), 0, h - 1)
        votes = self.source[row, column]
        grades: list[Grade] = []
        sources: list[str] = []
        for line in votes:
            known = line[line != NO_SOURCE]
            if len(known) * 2 < len(line):
                grades.append(Grade.CONJECTURED)
                sources.append("none")
            else:
                best = int(np.bincount(known).argmax())
                grades.append(self.grades[best])
                sources.append(self.names[best])
        return ClosedPath(path.curves, tuple(grades), tuple(sources), path.layer)

    def to_arrays(self) -> dict[str, NDArray[Any]]:
        """Everything as named arrays, for a checkpoint."""
        return {
            "coverage": self.coverage,
            "source": self.source,
            "names": np.array(self.names, dtype=np.str_),
            "grades": np.array([str(g) for g in self.grades], dtype=np.str_),
            "px_per_mm": np.array(self.px_per_mm),
            "origin_mm": np.array(self.origin_mm),
        }

    @classmethod
    def from_arrays(cls, arrays: Mapping[str, NDArray[Any]]) -> Gathered:
        """The inverse of `to_arrays`."""
        x, y = (float(v) for v in arrays["origin_mm"])
        return cls(
            np.asarray(arrays["coverage"], np.uint8),
            np.asarray(arrays["source"], np.uint8),
            tuple(str(n) for n in arrays["names"]),
            tuple(Grade(str(g)) for g in arrays["grades"]),
            float(arrays["px_per_mm"]),
            (x, y),
        )


def gather(
    maps: Sequence[GiltMap], names: Sequence[str], grades: Sequence[Grade] | None = None
) -> Gathered:
    """Join gilt maps that lie on the same flat.

    Parameters
    ----------
    maps
        Gilt found in each photograph, all of the same size, resolution and origin.
    names
        What to call each source.
    grades
        Grade of each source; all seen when left out.

    Raises
    ------
    OrnamentError
        If there is no map or the maps do not lie on one flat.
    """
    if not maps:
        raise OrnamentError("No gilt map was given; at least one is needed.")
    first = maps[0]
    for other in maps[1:]:
        same = other.coverage.shape == first.coverage.shape
        if not same or other.px_per_mm != first.px_per_mm or other.origin_mm != first.origin_mm:
            raise OrnamentError(
                "The photographs were flattened on different grids; flatten all with the same "
                "px_per_mm and bounds_mm."
            )
    h, w = first.coverage.shape
    coverage = np.zeros((h, w), np.uint8)
    source = np.full((h, w), NO_SOURCE, np.uint8)
    for n, one in enumerate(maps):
        sure = cv2.resize(one.certainty, (w, h), interpolation=cv2.INTER_LINEAR) > 0.75
        sure &= one.hidden == 0
        # a bare place seen surely is evidence too, but only until some source shows paint there
        fresh = sure & (source == NO_SOURCE)
        more = (one.coverage > coverage) & (sure | (source == NO_SOURCE))
        coverage = np.where(more, one.coverage, coverage)
        stronger = more & sure & (one.coverage.astype(np.int16) > 100)
        source[fresh] = n
        if n:
            source[stronger & ~fresh] = n
    return Gathered(
        coverage,
        source,
        tuple(names),
        tuple(grades) if grades else (Grade.SEEN,) * len(maps),
        first.px_per_mm,
        first.origin_mm,
    )
