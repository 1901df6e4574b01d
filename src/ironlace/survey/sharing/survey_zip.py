"""A published survey as one file: a zip with the table, its metadata and the line to cite it by.

The bytes hang on the content alone (no clock, files in a fixed order), so the same survey gives the
same file.
"""

import io
import zipfile
from collections.abc import Sequence

from ironlace.evidence.errors import spoilt_as
from ironlace.survey.errors import ReportsError
from ironlace.survey.reports.table import Report
from ironlace.survey.sharing.open_data import About, Published, publish, read_published

TABLE = "survey.csv"
METADATA = f"{TABLE}-metadata.json"
READ_ME = "README.txt"
_ANY_DAY = (1980, 1, 1, 0, 0, 0)
"""The first day that a zip can hold: the same survey makes the same file on every day."""

_MOST_BYTES = 50_000_000
"""Bound against a zip made to fill the memory: some 500 bytes for each of 100,000 reports."""
_ZIP_SIGN = b"PK\x03\x04"


def zipped(reports: Sequence[Report], about: About) -> bytes:
    """Publish reports as one zip file.

    Parameters
    ----------
    reports
        As they may be seen by anyone: what must stay private is left out before.
    about
        Title, compilers, day of issue, licence.
    """
    published = publish(reports, about, csv_name=TABLE)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, text in (
            (READ_ME, _read_me(about, len(reports))),
            (TABLE, published.csv),
            (METADATA, published.metadata),
        ):
            info = zipfile.ZipInfo(name, _ANY_DAY)
            info.compress_type = zipfile.ZIP_DEFLATED
            packed.writestr(info, text.encode("utf-8"))
    return out.getvalue()


def _read_me(about: About, count: int) -> str:
    note = f"\n{about.note}\n" if about.note else ""
    return (
        f"{about.title}\n{note}\n"
        f"Cite as: {about.citation(count)}\n"
        f"Licence: {about.licence}\n\n"
        f"{TABLE}: one report a line, in UTF-8.\n"
        f"{METADATA}: what each column holds (W3C Metadata Vocabulary for Tabular Data).\n"
    )


def is_survey_zip(data: bytes) -> bool:
    """Whether the bytes are a zip that holds a table with its metadata beside it."""
    if not data.startswith(_ZIP_SIGN):
        return False
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            return _table_in(packed.namelist()) is not None
    except (zipfile.BadZipFile, ValueError, NotImplementedError):
        return False


@spoilt_as(ReportsError, "The zip cannot be opened: fetch it again.")
def unzipped(data: bytes) -> tuple[str, About, int]:
    r"""Read a published survey: its table as CSV text, what it says of itself, how many reports.

    Raises
    ------
    ReportsError
        When it is no such zip, is too large, or table and metadata do not belong together.

    >>> from ironlace.survey.reports.table import read_reports
    >>> reports = read_reports("id,mark\nA,4.96.217\n").reports
    >>> text, about, count = unzipped(zipped(reports, About("Invented", "A Club", "2026-01-05")))
    >>> text.splitlines()[1].split(",")[:2], about.compiled_by, count
    (['A', '4·96·217'], 'A Club', 1)
    """
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        table = _table_in(packed.namelist())
        if table is None:
            raise ReportsError(
                "The zip holds no table with its metadata beside it: use one that was "
                "published from a survey."
            )
        texts = [_text(packed, name) for name in (table, f"{table}-metadata.json")]
    read, about = read_published(Published(*texts))
    return texts[0], about, len(read.reports)


def _table_in(names: Sequence[str]) -> str | None:
    held = frozenset(names)
    return next((n for n in names if n.endswith(".csv") and f"{n}-metadata.json" in held), None)


def _text(packed: zipfile.ZipFile, name: str) -> str:
    if packed.getinfo(name).file_size > _MOST_BYTES:
        raise ReportsError(f"'{name}' in the zip is larger than 50 MB: a survey is small.")
    try:
        return packed.read(name).decode("utf-8-sig")
    except (UnicodeDecodeError, RuntimeError, zipfile.BadZipFile, NotImplementedError) as error:
        raise ReportsError(f"'{name}' in the zip cannot be read as UTF-8 text.") from error
