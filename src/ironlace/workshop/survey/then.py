"""Days as they are typed, as the last moment of theirs: a record is read as it stood then."""

from datetime import UTC, datetime, time

from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.written_dates import read_date


def end_of(day: str | None) -> datetime | None:
    """The last moment of a date in EDTF or in words; None where none was given.

    Raises IronlaceError when it has no last day.

    >>> end_of("1895-05").isoformat()
    '1895-05-31T23:59:59.999999+00:00'
    """
    if not day:
        return None
    latest = read_date(day).latest
    if latest is None:
        raise IronlaceError(f"'{day}' has no last day: give a day such as 2025-03-31.")
    return datetime.combine(latest, time.max, tzinfo=UTC)
