"""The machine's record: what is said of one machine, each statement with its evidence.

A record is a list of *entries* (a statement, a mark, a part, a treatment ...). Nothing is ever
overwritten: every change is kept with its date, and the record at any moment is the fold of the
changes up to then (`ironlace.record.history`).
"""

from ironlace.record.choices import Allowed, Channel, PhotographRole, Topic
from ironlace.record.entries import (
    ENTRY_KINDS,
    DrawingEntry,
    Entry,
    EntryKind,
    FindingEntry,
    Lettering,
    Mark,
    Measurement,
    Outlay,
    Part,
    Photograph,
    Provenance,
    Question,
    Rate,
    ReadingsEntry,
    ReportEntry,
    SentReport,
    SourceEntry,
    Statement,
    ThreadingEntry,
    Treatment,
    TrialEntry,
    parse_entries,
    parse_entry,
)
from ironlace.record.heading import heading_photograph
from ironlace.record.history import Change, Record, record_at, restored_by_undoing
from ironlace.record.job import Step, job_of

__all__ = [
    "ENTRY_KINDS",
    "Allowed",
    "Change",
    "Channel",
    "DrawingEntry",
    "Entry",
    "EntryKind",
    "FindingEntry",
    "Lettering",
    "Mark",
    "Measurement",
    "Outlay",
    "Part",
    "Photograph",
    "PhotographRole",
    "Provenance",
    "Question",
    "Rate",
    "ReadingsEntry",
    "Record",
    "ReportEntry",
    "SentReport",
    "SourceEntry",
    "Statement",
    "Step",
    "ThreadingEntry",
    "Topic",
    "Treatment",
    "TrialEntry",
    "heading_photograph",
    "job_of",
    "parse_entries",
    "parse_entry",
    "record_at",
    "restored_by_undoing",
]
