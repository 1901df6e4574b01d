"""The names of the kinds of entry, and what is raised where an entry cannot be read."""

from enum import StrEnum

from ironlace.evidence.errors import IronlaceError


class EntryError(IronlaceError):
    """An entry lacks something, or holds something that cannot be read."""


class EntryKind(StrEnum):
    """The name of each kind of entry, in the order of the job."""

    STATEMENT = "statement"
    MARK = "mark"
    LETTERING = "lettering"
    PHOTOGRAPH = "photograph"
    PART = "part"
    MEASUREMENT = "measurement"
    READINGS = "readings"
    TREATMENT = "treatment"
    PROVENANCE = "provenance"
    SOURCE = "source"
    REPORT = "report"
    FINDING = "finding"
    DRAWING = "drawing"
    OUTLAY = "outlay"
    RATE = "rate"
    QUESTION = "question"
    THREADING = "threading"
    TRIAL = "trial"
    SENT = "sent"
