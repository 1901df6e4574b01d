"""The survey as open data: CSV with a W3C tabular metadata file, licence and citation line.

Metadata Vocabulary for Tabular Data (W3C Recommendation, 17 December 2015). The pair reads back
without loss; two surveys merge with every conflict shown.
"""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from ironlace.survey.errors import ReportsError
from ironlace.survey.reports.table import (
    COLUMNS,
    REPORT_COLUMNS,
    Report,
    ReportTable,
    read_reports,
    report_cells,
    write_reports,
)
from ironlace.survey.sharing.same_machine import Likeness, likely_pairs


@dataclass(frozen=True, slots=True)
class About:
    """What goes with a survey when it is published.

    Attributes
    ----------
    title
        Name of the survey.
    compiled_by
        Who answers for it: a club or a pen name; nothing personal beyond what they wish. Empty
        where nobody says so.
    issued
        Day of issue (ISO 8601); given by the caller.
    licence
        Address of the licence; empty where none was given.
    note
        Anything a reader must know.
    """

    title: str
    compiled_by: str
    issued: str
    licence: str = "https://creativecommons.org/licenses/by/4.0/"
    note: str = ""

    def citation(self, count: int) -> str:
        """The line by which to cite it.

        >>> About("Invented Survey", "A Club", "2026-01-05").citation(12)
        'A Club. Invented Survey. 12 reports, issued 2026-01-05. https://creativecommons.org/licenses/by/4.0/'
        """
        said = (
            self.compiled_by,
            self.title,
            f"{count} report{'' if count == 1 else 's'}, issued {self.issued}",
        )
        return f"{'. '.join(filter(None, said))}. {self.licence}".rstrip()


_TITLES = {
    "id": "Short name of the report, unique in the table",
    "mark": "Mark as read, glyph by glyph; ? for an unread glyph, round brackets for a doubt",
    "seen": "How it is known: handled, photograph, told, listing, print",
    "sighted": "When it was seen (EDTF, ISO 8601-2)",
    "variant": "Model or variant",
    "place": "Where, as coarse as wanted",
    "reporter": "Who reported it, told apart",
    "machine": "Report of the same machine that this one repeats",
    "dated": "Dated evidence that came with it (EDTF)",
    "dated_kind": "What that date says of the making: at, not before, not after, sold",
    "evidence": "What the dated evidence is",
    "note": "Remarks",
    "strings": "Strings that a reading tells, each with its chance by the reading alone; "
    "what they leave to 1 is for all others",
}


@dataclass(frozen=True, slots=True)
class Published:
    """A table and its metadata, as text."""

    csv: str
    metadata: str


def publish(reports: Sequence[Report], about: About, *, csv_name: str = "survey.csv") -> Published:
    """Write a survey as CSV with CSVW metadata.

    Parameters
    ----------
    csv_name
        The name the table will have beside its metadata file (`<name>-metadata.json`).
    """
    text = write_reports(reports)
    header = text.split("\r\n", 1)[0]
    extra = [name for name in _header_names(header) if name not in REPORT_COLUMNS]
    columns: list[dict[str, Any]] = []
    for name in (*REPORT_COLUMNS, *extra):
        column: dict[str, Any] = {
            "titles": name,
            "dc:description": _TITLES.get(name, "As the compilers kept it"),
            "datatype": "string",
        }
        if name in COLUMNS:
            column["name"] = name
        if name in ("id", "mark"):
            column["required"] = True
        columns.append(column)
    metadata = {
        "@context": ["http://www.w3.org/ns/csvw", {"@language": "en"}],
        "url": csv_name,
        "dc:title": about.title,
        **({"dc:creator": about.compiled_by} if about.compiled_by else {}),
        "dc:issued": {"@value": about.issued, "@type": "xsd:date"},
        **({"dc:license": {"@id": about.licence}} if about.licence else {}),
        "dc:bibliographicCitation": about.citation(len(reports)),
        **({"dc:description": about.note} if about.note else {}),
        "dialect": {"header": True, "delimiter": ",", "quoteChar": '"', "encoding": "utf-8"},
        "tableSchema": {"columns": columns, "primaryKey": "id"},
    }
    return Published(text, json.dumps(metadata, indent=2, ensure_ascii=False) + "\n")


def _header_names(header: str) -> list[str]:
    import csv

    return next(csv.reader([header]))


def read_published(published: Published) -> tuple[ReportTable, About]:
    """Read a published survey back.

    Raises
    ------
    ReportsError
        When the metadata is not this kind of description, or disagrees with the table.
    """
    try:
        metadata = json.loads(published.metadata)
        columns = [c["titles"] for c in metadata["tableSchema"]["columns"]]
        about = About(
            metadata["dc:title"],
            metadata.get("dc:creator", ""),
            metadata["dc:issued"]["@value"],
            metadata["dc:license"]["@id"] if "dc:license" in metadata else "",
            metadata.get("dc:description", ""),
        )
    except (ValueError, KeyError, TypeError) as error:
        raise ReportsError(
            f"The metadata file does not describe a survey ({type(error).__name__}: {error}): "
            "use the one written beside the table."
        ) from error
    table = read_reports(published.csv, delimiter=",")
    if list(table.columns) != columns:
        raise ReportsError(
            f"The table has the columns {', '.join(table.columns)}, its metadata names "
            f"{', '.join(columns)}: they do not belong together."
        )
    return table, about


@dataclass(frozen=True, slots=True)
class Conflict:
    """Two surveys that say different things of one report, column by column."""

    id: str
    column: str
    first: str
    second: str

    def sentence(self) -> str:
        """Say it."""
        return f"{self.id}, {self.column}: '{self.first}' against '{self.second}'."


@dataclass(frozen=True)
class Merged:
    """Two surveys as one.

    Attributes
    ----------
    reports
        All reports. Where ids clash over different marks, the second carries `-2` behind its id;
        where they agree on the mark, empty cells of the first are filled from the second.
    conflicts
        Cells on which they disagree; the first survey's stands in `reports`.
    renamed
        From the second survey's id to the id it now has.
    same_machine
        Pairs, one of each survey, that may be one machine: for a person to decide.
    """

    reports: tuple[Report, ...]
    conflicts: tuple[Conflict, ...]
    renamed: tuple[tuple[str, str], ...]
    same_machine: tuple[tuple[str, str, Likeness], ...]

    def sentences(self) -> list[str]:
        """Say it plainly."""
        said = [f"{len(self.reports)} reports together."]
        said += [conflict.sentence() for conflict in self.conflicts]
        said += [f"'{old}' of the second survey is now '{new}'." for old, new in self.renamed]
        said += [f"{a} and {b}: {likeness}." for a, b, likeness in self.same_machine]
        return said


def merge(first: Sequence[Report], second: Sequence[Report]) -> Merged:
    """Merge two surveys; nothing is lost and nothing is decided silently."""
    kept = {report.id: report for report in first}
    taken = set(kept) | {report.id for report in second}
    conflicts: list[Conflict] = []
    renamed: dict[str, str] = {}
    added: list[Report] = []
    for report in second:
        here = kept.get(report.id)
        if here is None:
            added.append(report)
        elif here.mark == report.mark:
            kept[report.id], found = _filled(here, report)
            conflicts += found
        else:
            name = _free_name(report.id, taken)
            taken.add(name)
            renamed[report.id] = name
            added.append(replace(report, id=name))
    added = [replace(r, machine=renamed[r.machine]) if r.machine in renamed else r for r in added]
    reports = (*kept.values(), *added)
    new = {r.id for r in added}
    pairs = tuple(
        (p.first, p.second, p.likeness)
        for p in likely_pairs(reports)
        if (p.first in new) != (p.second in new)
    )
    return Merged(reports, tuple(conflicts), tuple(renamed.items()), pairs)


def _free_name(name: str, taken: Iterable[str]) -> str:
    number = 2
    while f"{name}-{number}" in taken:
        number += 1
    return f"{name}-{number}"


def _filled(first: Report, second: Report) -> tuple[Report, list[Conflict]]:
    ours, theirs = report_cells(first), report_cells(second)
    conflicts = [
        Conflict(first.id, column, ours[column], value)
        for column, value in theirs.items()
        if value and ours.get(column) and ours[column] != value
    ]
    other = dict(first.other)
    for column, value in second.other:
        other.setdefault(column, value)
    filled = replace(
        first,
        seen=first.seen or second.seen,
        sighted=first.sighted or second.sighted,
        variant=first.variant or second.variant,
        place=first.place or second.place,
        machine=first.machine or second.machine,
        dated=first.dated or second.dated,
        strings=first.strings or second.strings,
        reporter=first.reporter or second.reporter,
        note=first.note or second.note,
        other=tuple(other.items()),
    )
    return filled, conflicts
