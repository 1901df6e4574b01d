"""The record as one file of JSON values, for `record.json`."""

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any

from pydantic import BaseModel, ConfigDict, TypeAdapter

from ironlace.dossier.errors import BagRefusedError
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.grades import Grade
from ironlace.record.entries import Entry, kept_entry
from ironlace.record.history import Change, Record, key_of


def record_document(record: Record, changes: Sequence[Change], version: str) -> dict[str, Any]:
    """The record as JSON values: its entries by name, and its history where that may be told."""
    document: dict[str, Any] = {
        "title": record.title,
        "slug": record.slug,
        "as_of": None if record.as_of is None else record.as_of.astimezone(UTC).isoformat(),
        "written_by": f"Ironlace {version}",
        "grades": {grade.value: grade.meaning for grade in Grade},
        "entries": {name: _dumped(entry) for name, entry in record.by_name.items()},
    }
    if changes:
        # counted within the record: a workshop's own numbers would change with the workshop
        place = {change.number: n for n, change in enumerate(changes, 1)}
        document["changes"] = [
            {
                "number": place[change.number],
                "made_at": change.made_at.isoformat(),
                "made_by": change.made_by,
                "of": change.name,
                "entry": None if change.entry is None else _dumped(change.entry),
                "undoes": None if change.undoes is None else place[change.undoes],
            }
            for change in changes
        ]
    return document


def _dumped(entry: Entry) -> dict[str, Any]:
    dumped: dict[str, Any] = entry.model_dump(mode="json")
    return dumped


class _ChangeInFile(BaseModel):
    """One change of the history: what an entry became (null: withdrawn), when, by whose hand."""

    model_config = ConfigDict(extra="forbid")

    number: int
    made_at: datetime
    made_by: str
    of: str
    entry: Entry | None
    undoes: int | None


class _RecordInFile(BaseModel):
    """The record of one machine: its entries by name, and its history where that may be told."""

    model_config = ConfigDict(extra="forbid")

    title: str
    slug: str
    as_of: datetime | None
    written_by: str
    grades: dict[str, str]
    entries: dict[str, Entry]
    changes: list[_ChangeInFile] = []


def record_schema() -> dict[str, Any]:  # dict: JSON Schema
    """The JSON Schema (2020-12) of what `record_document` gives."""
    schema = TypeAdapter(_RecordInFile).json_schema(mode="serialization")
    schema["title"] = "Record of a machine"
    optional = {"changes"}
    schema["required"] = [name for name in schema["properties"] if name not in optional]
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


def changes_in(document: dict[str, Any], otherwise: datetime) -> list[Change]:  # dict: JSON
    """The changes that a record file tells; entries without history as one change each.

    Parameters
    ----------
    otherwise
        The moment given to entries whose history is not told.

    Raises
    ------
    BagRefusedError
        When it is not the file of a record.
    """
    try:
        told = document.get("changes")
        if told is None:
            told = [
                {"number": n, "made_at": otherwise.isoformat(), "made_by": "", "of": name,
                 "entry": entry, "undoes": None}
                for n, (name, entry) in enumerate(document["entries"].items(), 1)
            ]  # fmt: skip
        return [_change_of(one) for one in told]
    except (
        IronlaceError,
        LookupError,
        TypeError,
        ValueError,
        AttributeError,
        OverflowError,
    ) as bad:
        raise BagRefusedError(
            f"record.json does not hold a record as this version reads it ({type(bad).__name__}): "
            "take the package as it was handed over."
        ) from bad


def _change_of(told: dict[str, Any]) -> Change:
    # an entry is read by itself, since it may be of an earlier version
    made_at = datetime.fromisoformat(told["made_at"])
    made_at.astimezone(UTC)  # or it lies before all time that is kept
    change = _ChangeInFile.model_validate({**told, "entry": None, "made_at": made_at}, strict=True)
    kind, key = key_of(change.of)
    numbers = (change.number, key, change.number if change.undoes is None else change.undoes)
    if min(numbers) < 1 or max(numbers) > _HIGHEST:
        raise ValueError("a number that no record has")
    entry = None if told["entry"] is None else kept_entry(told["entry"])
    return Change(change.number, made_at, change.made_by, kind, key, entry, change.undoes)


_NOT_A_RECORD = (LookupError, TypeError, ValueError, AttributeError, OverflowError)
"""What reading a stranger's file raises (pydantic's ValidationError is a ValueError)."""
_HIGHEST = 2**53
"""Above this no two programs read the same whole number out of JSON (RFC 8259, section 6)."""
