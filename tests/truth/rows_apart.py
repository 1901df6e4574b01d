"""A row whose places share nothing, out of each place's own chances."""

import numpy as np

from ironlace.marks.reading.strings import RowShared, apart


def row_apart(digits, struck):
    """Chances of each glyph by place, and of a dot in the gap after it; none where none is said."""
    glyphs = "".join(sorted({g for p in digits for g in p}))
    table = np.array([[p.get(g, 0.0) for g in glyphs] for p in digits])
    dots = np.array([*struck, *[0.0] * (len(digits) - len(struck))])
    return RowShared(glyphs, apart(table), apart(np.column_stack([1 - dots, dots])))
