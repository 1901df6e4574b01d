"""Grades, sources, findings, quantities, uncertain dates and marks as read.

The one room that every other room may import.
"""

from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.findings import Finding, Interval
from ironlace.evidence.grades import Grade
from ironlace.evidence.markings import Glyph, Marking, parse_marking
from ironlace.evidence.quantities import Measured, parse_measured
from ironlace.evidence.sources import Source, SourceKind

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
