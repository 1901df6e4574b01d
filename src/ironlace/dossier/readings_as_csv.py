"""A table of readings as CSV, with its description beside it.

Metadata Vocabulary for Tabular Data (W3C Recommendation, 17 December 2015). The CSV holds figures
as they stand; what was struck out stands in the description, with its reason.
"""

import csv
import io
import json
from collections.abc import Sequence
from typing import Any

from ironlace.dossier.words import plain_file_name
from ironlace.evidence.edtf_dates import date_in_words
from ironlace.record.entries import ReadingsEntry
from ironlace.record.readings import ReadingColumn


def table_file_name(name: str, entry: ReadingsEntry) -> str:
    r"""A plain name for its file.

    >>> from ironlace.record.entries import parse_entry
    >>> entry = parse_entry({"kind": "readings", "what": "Pull, by dial", "grade": "measured",
    ...                      "table": "dial; pull [cN]\n1; 30"})
    >>> table_file_name("readings 2", entry)
    'readings-2-pull-by-dial.csv'
    """
    return f"{plain_file_name(name, entry.what)}.csv"


def readings_csv(entry: ReadingsEntry) -> str:
    """The table as CSV: headings with units, figures as they were read, gaps empty."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow([column.heading for column in entry.table.columns])
    writer.writerows(entry.table.rows)
    return out.getvalue()


def readings_metadata(entry: ReadingsEntry, csv_name: str) -> str:
    """The description of the CSV: units, instruments, errors, conditions, what was struck out."""
    about = {
        "conditions": entry.conditions,
        "read by": entry.by,
        "read on": date_in_words(entry.date),
        "part": entry.part,
        "grade": entry.grade.value,
        "photographs": ", ".join(entry.photographs),
    }
    described = "; ".join(f"{word}: {value}" for word, value in about.items() if value)
    metadata: dict[str, Any] = {
        "@context": ["http://www.w3.org/ns/csvw", {"@language": "en"}],
        "url": csv_name,
        "dc:title": entry.what,
        "dc:description": described,
        "dialect": {"header": True, "delimiter": ",", "quoteChar": '"', "encoding": "utf-8"},
        "tableSchema": {
            "columns": [
                _column(at, column, [row[at] for row in entry.table.rows])
                for at, column in enumerate(entry.table.columns)
            ],
        },
    }
    if entry.table.struck:
        metadata["notes"] = [
            {"row": s.row, "column": s.column, "read": s.read, "struck out because": s.why}
            for s in entry.table.struck
        ]
    return json.dumps(metadata, indent=2, ensure_ascii=False) + "\n"


def _column(at: int, column: ReadingColumn, cells: Sequence[str]) -> dict[str, Any]:
    told: dict[str, Any] = {
        "titles": column.heading,
        "name": f"column_{at + 1}",
        # a fraction of an inch is no number of that standard
        "datatype": "string" if any("/" in cell for cell in cells) else "number",
        "dc:title": column.name,
    }
    if column.unit:
        told["schema:unitText"] = column.unit
    if column.with_what():
        told["dc:description"] = column.with_what()
    return told
