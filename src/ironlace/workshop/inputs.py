"""What of a record, or of a file, each kind of inputs is: the one place that binds them.

A study room's analysis names the dataclass that it reads. Here stands, for each such dataclass, how
a record gives it and by which checksums a later change of it is noticed.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from ironlace.care.screw_analysis import ScrewPicture
from ironlace.evidence.analyses import Declared, Known, KnownTable, Nothing
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.findings import Checksums, Sha256, checksum_of
from ironlace.marks.plate_analysis import PlatePhotographs
from ironlace.marks.reading_analysis import PlateToRead
from ironlace.ornament import PhotographsToTrace
from ironlace.ornament.stencils import FilledDrawing
from ironlace.record import Measurement, ReadingsEntry, Record
from ironlace.running.seam.balance_analysis import BothSides
from ironlace.running.seam.seam_analysis import SeamPhotograph
from ironlace.running.seam.two_seams_analysis import TwoPictures
from ironlace.running.trials.trials_told import TrialsOfMachine
from ironlace.stand.base_analysis import BedPicture
from ironlace.stand.touches import FittedThings
from ironlace.survey import Reports
from ironlace.workshop.care.fittings import fitted_checksums, fitted_things
from ironlace.workshop.care.pictures import (
    bed_checksums,
    bed_picture,
    picture_checksums,
    screw_picture,
)
from ironlace.workshop.marks.plates import (
    plate_checksums,
    plate_photographs,
    plate_to_read,
    reading_checksums,
)
from ironlace.workshop.ornament.tracing import photograph_checksums, photographs_to_trace
from ironlace.workshop.seams import (
    both_checksums,
    both_sides,
    seam_checksums,
    seam_photograph,
    two_checksums,
    two_pictures,
)
from ironlace.workshop.stencils.sheets_kept import drawing_checksums, filled_drawing
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.survey.reports_of_record import (
    report_checksums,
    reports_in_file,
    reports_of,
)
from ironlace.workshop.trials import trials_checksums, trials_of


@dataclass(frozen=True, slots=True)
class Binding:
    """How inputs of one kind are had.

    Attributes
    ----------
    from_record
        Reads them from a record, given what was asked.
    checksums
        By name, the SHA-256 of all that they hold, without the cost of reading them whole.
    from_file
        Reads them from a file (a table, say) with columns renamed; None when no file can hold them.
    file_words
        What the file is, for the command that takes it.
    empty
        Makes them where neither record nor file is needed; None when one is.
    """

    from_record: Callable[[Workshop, Record, Any], Any]
    checksums: Callable[[Workshop, Record, Any], Checksums]
    from_file: Callable[[str, Mapping[str, str]], Any] | None = None
    file_words: str = ""
    empty: Callable[[], Any] | None = None

    @property
    def needs_record(self) -> bool:
        """Whether there is nothing to work on without a record or a file."""
        return self.empty is None


_BINDINGS: dict[type, Binding] = {
    Nothing: Binding(lambda _w, _r, _a: Nothing(), lambda _w, _r, _a: {}, empty=Nothing),
    Reports: Binding(
        lambda _w, record, _a: reports_of(record),
        lambda _w, record, _a: report_checksums(record),
        from_file=reports_in_file,
        file_words="CSV, TSV or XLSX; only the columns id and mark are needed.",
    ),
    PhotographsToTrace: Binding(
        photographs_to_trace, lambda _w, record, asked: photograph_checksums(record, asked)
    ),
    PlatePhotographs: Binding(
        plate_photographs, lambda _w, record, asked: plate_checksums(record, asked)
    ),
    PlateToRead: Binding(plate_to_read, lambda _w, record, asked: reading_checksums(record, asked)),
    TrialsOfMachine: Binding(trials_of, lambda _w, record, _a: trials_checksums(record)),
    BothSides: Binding(both_sides, lambda _w, record, asked: both_checksums(record, asked)),
    TwoPictures: Binding(two_pictures, lambda _w, record, asked: two_checksums(record, asked)),
    SeamPhotograph: Binding(
        seam_photograph, lambda _w, record, asked: seam_checksums(record, asked)
    ),
    ScrewPicture: Binding(
        screw_picture, lambda _w, record, asked: picture_checksums(record, asked.photograph)
    ),
    BedPicture: Binding(bed_picture, lambda _w, record, asked: bed_checksums(record, asked)),
    FittedThings: Binding(fitted_things, fitted_checksums, empty=FittedThings),
    FilledDrawing: Binding(
        lambda workshop, record, asked: filled_drawing(workshop, record, asked.drawing),
        lambda _workshop, record, asked: drawing_checksums(record, asked),
    ),
}


def binding_of(analysis: Declared) -> Binding:
    """How the inputs of an analysis are had.

    Raises LookupError when no binding stands for them: a room was added and this table forgotten.
    """
    try:
        return _BINDINGS[analysis.inputs]
    except KeyError as error:
        raise LookupError(
            f"'{analysis.key}' reads {analysis.inputs.__name__}, which nothing here binds"
        ) from error


def measurement_known(record: Record, name: str) -> Known:
    """A measurement of a record as an analysis takes it: value, doubt, grade, checksum.

    Raises IronlaceError when there is no such measurement.
    """
    entry = record.named(name)
    if not isinstance(entry, Measurement):
        raise IronlaceError(f"'{name}' is no measurement: name one such as 'measurement 3'.")
    reading = entry.measured
    return Known(
        reading.value, reading.error, reading.unit, entry.grade, name, entry_checksum(entry)
    )


def table_known(record: Record, name: str) -> KnownTable:
    """A table of readings of a record as an analysis takes it: all its columns, grade, checksum.

    Raises IronlaceError when there is no such table.
    """
    entry = record.named(name)
    if not isinstance(entry, ReadingsEntry):
        raise IronlaceError(f"'{name}' is no table of readings: name one such as 'readings 3'.")
    return KnownTable(entry.table.known_columns(), entry.grade, name, entry_checksum(entry))


def entry_checksum(entry: Measurement | ReadingsEntry) -> Sha256:
    """The checksum of what was read: its note and date do not count, nor what was struck out."""
    if isinstance(entry, ReadingsEntry):
        columns = [[c.name, c.unit, c.error] for c in entry.table.columns]
        return checksum_of([columns, [list(row) for row in entry.table.rows], str(entry.grade)])
    return checksum_of([entry.what, entry.reads, str(entry.grade)])


def measurement_checksums(record: Record, asked: Any) -> Checksums:
    """By name, the checksums of the measurements and tables that what was asked takes, as they are.

    One that does not stand any more is left out.
    """
    read: dict[str, Measurement | ReadingsEntry] = {}
    read.update(record.of(Measurement))
    read.update(record.of(ReadingsEntry))
    return {name: entry_checksum(read[name]) for name in known_sources(asked) if name in read}


def known_sources(asked: Any) -> list[str]:
    """The names of the measurements and tables of readings that what was asked takes."""
    values = (getattr(asked, name) for name in asked.__dataclass_fields__)
    return [v.source for v in values if isinstance(v, Known | KnownTable) and v.source]
