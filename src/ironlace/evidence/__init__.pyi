from .edtf_dates import EdtfDate
from .errors import IronlaceError
from .findings import Finding, Interval
from .grades import Grade
from .markings import Glyph, Marking, parse_marking
from .quantities import Measured, parse_measured
from .sources import Source, SourceKind

__all__ = [
    "EdtfDate",
    "Finding",
    "Glyph",
    "Grade",
    "Interval",
    "IronlaceError",
    "Marking",
    "Measured",
    "Source",
    "SourceKind",
    "parse_marking",
    "parse_measured",
]
