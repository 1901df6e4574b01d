"""A DXF document in mm: begun and written the same way whatever is in it."""

from __future__ import annotations

import io
from typing import Any


def new_document() -> Any:
    """A document (R2010) whose unit is the millimetre ($INSUNITS 4)."""
    from ezdxf import units
    from ezdxf.filemanagement import new

    document: Any = new("R2010", setup=False)
    document.units = units.MM
    return document


def dxf_text(document: Any) -> str:
    """The document's text."""
    out = io.StringIO()
    document.write(out)
    return out.getvalue()
