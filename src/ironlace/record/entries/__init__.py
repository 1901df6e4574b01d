"""The kinds of entry a record holds, each field with its words beside it.

A kind added here and in the manual is complete: form, page, account and privacy follow from its
declaration.
"""

from ironlace.record.entries.faults_told import in_one_sentence
from ironlace.record.entries.kept import (
    ENTRY_KINDS,
    Entry,
    kept_entry,
    parse_entries,
    parse_entry,
    to_keep,
)
from ironlace.record.entries.kinds import EntryError, EntryKind
from ironlace.record.entries.machine import (
    Measurement,
    Part,
    Photograph,
    Provenance,
    Question,
    ReadingsEntry,
    SourceEntry,
    Statement,
)
from ironlace.record.entries.marks import Lettering, Mark, ReportEntry, SentReport
from ironlace.record.entries.work import (
    DrawingEntry,
    FindingEntry,
    Outlay,
    Rate,
    ThreadingEntry,
    Treatment,
    TrialEntry,
)

__all__ = [
    "ENTRY_KINDS",
    "DrawingEntry",
    "Entry",
    "EntryError",
    "EntryKind",
    "FindingEntry",
    "Lettering",
    "Mark",
    "Measurement",
    "Outlay",
    "Part",
    "Photograph",
    "Provenance",
    "Question",
    "Rate",
    "ReadingsEntry",
    "ReportEntry",
    "SentReport",
    "SourceEntry",
    "Statement",
    "ThreadingEntry",
    "Treatment",
    "TrialEntry",
    "in_one_sentence",
    "kept_entry",
    "parse_entries",
    "parse_entry",
    "to_keep",
]
