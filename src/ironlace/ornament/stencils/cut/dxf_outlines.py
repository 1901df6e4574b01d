"""Long outlines for DXF, written whole: one by one and tag by tag, a sheet takes ten times as long.

Imported only where a DXF is written, since the library is slow to load.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
from ezdxf.entities.lwpolyline import LWPolyline
from numpy.typing import NDArray

_BEGINS = (
    "  0\nLWPOLYLINE\n  5\n%s\n330\n%s\n100\nAcDbEntity\n  8\n%s\n100\nAcDbPolyline\n"
    " 90\n%d\n 70\n1\n"
)


class _Outlines(LWPolyline):
    """Many closed outlines that stand in a document as one entity, and are written as many."""

    rings: list[tuple[str, NDArray[np.float64]]]

    def export_dxf(self, tagwriter: Any) -> None:
        """Write each as the library writes one, but for the digits: to a millionth of a mm."""
        owner, layer = self.dxf.owner, self.dxf.layer
        for handle, xy in self.rings:
            # all digits take four times as long, and twice the file
            corners = " 10\n%.6f\n 20\n%.6f\n" * len(xy) % tuple(xy.ravel().tolist())
            tagwriter.write_str(_BEGINS % (handle, owner, layer, len(xy)) + corners)


def add_outlines(space: Any, layer: str, rings: Iterable[NDArray[np.float64]]) -> None:
    """Add closed straight outlines, corners (n, 2) each, to a document's model space."""
    whole = _Outlines.new(dxfattribs={"layer": layer}, doc=space.doc)
    whole.rings = []
    for xy in rings:
        # the first has the entity's own handle, each other the next that is free
        first = not whole.rings
        if first:
            space.add_entity(whole)
        handle = whole.dxf.handle if first else space.doc.entitydb.next_handle()
        whole.rings.append((handle, xy))
