"""How far two drawings are apart, in millimetres along their outlines.

Line-work is judged by distances: where strokes are a millimetre wide, a shift of a tenth that no
eye sees already costs a seventh of the overlap.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.ornament.errors import DrawingError
from ironlace.ornament.outline.drawing import Drawing, filled_area

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry


@dataclass(frozen=True)
class OneWay:
    """Distances from points along one drawing's outlines to the nearest outline of another."""

    mean_mm: float
    median_mm: float
    p95_mm: float
    max_mm: float
    length_mm: float


@dataclass(frozen=True)
class Agreement:
    """Two drawings compared.

    ``forth`` runs from the first drawing to the second (false strokes show here), ``back`` from the
    second to the first (missing strokes show here). Areas are in mm^2; ``area_apart`` is what is
    filled in one but not in the other.
    """

    forth: OneWay
    back: OneWay
    area_first: float
    area_second: float
    area_apart: float

    @property
    def mean_mm(self) -> float:
        """Mean of both ways, weighted by length."""
        total = self.forth.length_mm + self.back.length_mm
        return (
            self.forth.mean_mm * self.forth.length_mm + self.back.mean_mm * self.back.length_mm
        ) / total

    def as_dict(self) -> dict[str, object]:
        """For a report in JSON."""
        return {**asdict(self), "mean_mm": self.mean_mm}


def compare(first: Drawing, second: Drawing, *, step_mm: float = 0.05) -> Agreement:
    """Boundary distances both ways and the difference in area.

    Raises
    ------
    DrawingError
        If one of them is empty.
    """
    if not first.paths or not second.paths:
        raise DrawingError("One of the two drawings is empty; there is nothing to compare.")
    a, b = _filled(first), _filled(second)
    return Agreement(
        forth=one_way(distances(outline_points(first, step_mm), second), first.length_mm),
        back=one_way(distances(outline_points(second, step_mm), first), second.length_mm),
        area_first=float(a.area),
        area_second=float(b.area),
        area_apart=float(a.symmetric_difference(b).area),
    )


SAME_OUTLINE_MM: Final = 0.01
"""Two drawings no farther apart anywhere are the same: what two machines' libraries may differ by
stays well below, and nobody cuts so finely."""


def same_drawing(kept: Drawing, again: Drawing) -> str:
    """Compare a kept drawing with one made again: empty when they agree, else what differs."""
    agreement = compare(again, kept)
    if max(agreement.forth.max_mm, agreement.back.max_mm) <= SAME_OUTLINE_MM:
        return ""
    return f"comes out {agreement.mean_mm:.3f} mm away on average"


def one_way(distance: Floats, length_mm: float) -> OneWay:
    """Summary of distances taken evenly along ``length_mm`` of outline."""
    return OneWay(
        float(distance.mean()),
        float(np.median(distance)),
        float(np.percentile(distance, 95)),
        float(distance.max()),
        float(length_mm),
    )


def outline_points(drawing: Drawing, step_mm: float = 0.05) -> Floats:
    """Points evenly along every outline, about ``step_mm`` apart, shape (n, 2)."""
    out = []
    for path in drawing.paths:
        ring = path.polygon(0.002)
        closed = np.vstack([ring, ring[:1]])
        along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
        count = max(3, round(along[-1] / step_mm))
        at = (np.arange(count) + 0.5) * along[-1] / count
        out.append(
            np.column_stack(
                [np.interp(at, along, closed[:, 0]), np.interp(at, along, closed[:, 1])]
            )
        )
    return np.vstack(out) if out else np.zeros((0, 2))


def distances(points: Floats, drawing: Drawing) -> Floats:
    """Distance in mm of each point (n, 2) to the drawing's nearest outline."""
    from shapely import STRtree, linestrings
    from shapely import points as to_points

    segments = []
    for path in drawing.paths:
        ring = path.polygon(0.002)
        segments.append(np.stack([ring, np.roll(ring, -1, axis=0)], axis=1))
    tree = STRtree(np.asarray(linestrings(np.concatenate(segments))))
    index, distance = tree.query_nearest(to_points(points), return_distance=True, all_matches=False)
    out = np.full(len(points), np.inf)
    out[index[0]] = distance
    return out


def _filled(drawing: Drawing) -> BaseGeometry:
    """The filled area of all layers as one shapely geometry."""
    from shapely import union_all

    return union_all(
        [
            filled_area((p for p in drawing.paths if p.layer == layer), 0.005)
            for layer in drawing.layers
        ]
    )
