"""Values in words: what a field or a finding holds, as a person reads it.

>>> value_in_words({"rms_mm": 0.0832, "closed": True})
'rms, mm 0.0832, closed yes'
"""

import re
from enum import Enum
from typing import Any

from ironlace.evidence.edtf_dates import date_in_words
from ironlace.evidence.wording import capital

_FIGURES = 6
"""Figures of a computed number: enough to compare two of them, fewer than a float's noise."""


def value_in_words(value: Any, *, with_edtf: bool = False) -> str:
    """A value as a person reads it; a text that is a date as one says it.

    `with_edtf` puts the written form behind a date where the two differ.
    """
    match value:
        case None:
            return "none"
        case Enum():
            return str(value.value)
        case bool():
            return "yes" if value else "no"
        case float():
            return f"{value:.{_FIGURES}g}"
        case str():
            return date_in_words(value, with_edtf=with_edtf)
        case dict():
            return ", ".join(
                f"{name_in_words(str(name)).lower()} {value_in_words(inner)}"
                for name, inner in value.items()
            )
        case list() | tuple():
            return ", ".join(value_in_words(inner) for inner in value)
        case _:
            return str(value)


def name_in_words(name: str) -> str:
    """A key of plain values as a label.

    >>> name_in_words("stroke_width_mm")
    'Stroke width, mm'
    """
    words = re.sub(r" (mm|px|deg)$", r", \1", " ".join(name.replace("_", " ").split()))
    return capital(words)


def checksum_like(value: Any) -> bool:
    """Whether a value is the SHA-256 of something: for programs to compare, not for people."""
    return isinstance(value, str) and _CHECKSUM.match(value) is not None


_CHECKSUM = re.compile(r"[0-9a-f]{64}\Z")
