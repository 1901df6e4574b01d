"""A DXF document in mm: begun and written the same way whatever is in it, to the same bytes."""

from __future__ import annotations

import io
from typing import Any


def new_document() -> Any:
    """A document (R2010) whose unit is the millimetre ($INSUNITS 4).

    It tells no day and no name of its own: the library then writes its fixed ones (the first of
    January 2000, identifiers of noughts), so that one drawing gives one file.
    """
    import ezdxf
    from ezdxf import units
    from ezdxf.filemanagement import new

    # the documented name, which its type hints leave out
    ezdxf.options.write_fixed_meta_data_for_testing = True  # type: ignore[attr-defined]
    document: Any = new("R2010", setup=False)
    document.units = units.MM
    return document


def dxf_text(document: Any) -> str:
    """The document's text."""
    # what the library would add in the order of a set, another one in every run
    for kind in sorted(document.entitydb.dxf_types_in_use()):
        document.classes.add_class(kind)
    out = io.StringIO()
    document.write(out)
    return out.getvalue()
