"""A sheet in the plotter language HP-GL: pen up, pen down, absolute places, for knife cutters.

Only the oldest instructions are used (IN, SP, PA, PU, PD), which cutters that read the language
know (from memory). A plotter unit is 0.025 mm: so says the source of ezdxf's reader (release 1.4.5,
`ezdxf.addons.hpgl2`: "1 plot unit (plu) = 0.025mm", and again in the docstring of `to_dxf`), whose
page sizes come out accordingly. The language's own reference was not at hand. The cuts come in the
order planned, inside first and the edge last, with half a kerf taken off.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import shapely

from ironlace.evidence.arrays import Floats, Ints
from ironlace.ornament.stencils.cut.cutting import CutPlan, cut_plan
from ironlace.ornament.stencils.process import Process
from ironlace.ornament.stencils.regions import lines_between
from ironlace.ornament.stencils.sheets import Sheet

UNITS_PER_MM: Final = 40.0
"""Plotter units to the mm; the source stands above."""

_TOLERANCE_MM: Final = 0.01
"""How far a chord may lie from the outline: less than half a plotter unit."""


def sheet_hpgl(sheet: Sheet, process: Process, planned: CutPlan | None = None) -> str:
    """The sheet's cuts as HP-GL; the lower left corner of the cuts is at 0, 0, y up.

    ``planned`` is the way the cutter goes, if it is known already.

    The language has no curves here: chords lie within 0.01 mm of the outline, and places are
    rounded to 0.025 mm.
    """
    cuts = (cut_plan(sheet, process) if planned is None else planned).cuts
    points = np.concatenate(cuts)
    left, bottom = points[:, 0].min(), points[:, 1].max()
    lines = ["IN;PA;SP1;"]
    xy, ring = _with_chords(cuts)
    units = np.rint((xy - (left, bottom)) * (UNITS_PER_MM, -UNITS_PER_MM)).astype(np.int64)
    moved = np.any(np.diff(units, axis=0, prepend=units[:1]) != 0, axis=1)
    moved |= np.diff(ring, prepend=-1) != 0
    units, ring = units[moved], ring[moved]
    for corners in np.split(units, np.flatnonzero(np.diff(ring)) + 1):
        (x, y), *rest = corners.tolist()
        lines.append(f"PU{x},{y};")
        lines.append("PD" + ",".join(f"{a},{b}" for a, b in rest) + ";")
    lines.append("PU0,0;SP0;")
    return "\n".join(lines) + "\n"


def _with_chords(cuts: Sequence[Floats]) -> tuple[Floats, Ints]:
    """Corners of all cuts, closed, with no more than the tolerance needs, and each one's cut."""
    sizes = np.array([len(cut) + 1 for cut in cuts])
    first = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    closed = np.concatenate([corner for cut in cuts for corner in (cut, cut[:1])])
    # from its beginning to the other side and back, so that the beginning stays one
    middle = first + sizes // 2
    halves = lines_between(
        closed,
        np.stack([first, middle], axis=1).ravel(),
        np.stack([middle, first + sizes - 1], axis=1).ravel(),
    )
    xy, half = shapely.get_coordinates(
        shapely.simplify(halves, _TOLERANCE_MM, preserve_topology=False), return_index=True
    )
    # the way back begins where the way there ends
    again = (np.diff(half, append=-1) != 0) & (half % 2 == 0)
    return xy[~again], half[~again] // 2
