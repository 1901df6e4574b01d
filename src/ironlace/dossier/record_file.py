"""The record as one file of JSON values, for `record.json`."""

from collections.abc import Sequence
from datetime import UTC
from typing import Any

from ironlace.evidence.grades import Grade
from ironlace.record.entries import Entry
from ironlace.record.history import Change, Record


def record_document(record: Record, changes: Sequence[Change], version: str) -> dict[str, Any]:
    """The record as JSON values: its entries by name, and its history where that may be told."""
    document: dict[str, Any] = {
        "title": record.title,
        "slug": record.slug,
        "as_of": None if record.as_of is None else record.as_of.astimezone(UTC).isoformat(),
        "written_by": f"Ironlace {version}",
        "grades": {grade.value: grade.meaning for grade in Grade},
        "entries": {
            f"{kind.value} {number}": _dumped(entry)
            for (kind, number), entry in record.entries.items()
        },
    }
    if changes:
        document["changes"] = [
            {
                "number": change.number,
                "made_at": change.made_at.isoformat(),
                "made_by": change.made_by,
                "of": change.name,
                "entry": None if change.entry is None else _dumped(change.entry),
                "undoes": change.undoes,
            }
            for change in changes
        ]
    return document


def _dumped(entry: Entry) -> dict[str, Any]:
    dumped: dict[str, Any] = entry.model_dump(mode="json")
    return dumped
