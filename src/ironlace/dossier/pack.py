"""The pack that goes with the machine: dossier, site, sheets, and the record itself."""

import json
import re
import tempfile
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from ironlace.care.cautions import process_cautions
from ironlace.dossier.account.blocks import DrawingShown
from ironlace.dossier.account.whole import Account
from ironlace.dossier.errors import DossierError
from ironlace.dossier.folder_in_place import folder_in_place
from ironlace.dossier.print.laying_pdf import laying_pdf
from ironlace.dossier.print.pdf import dossier_pdf
from ironlace.dossier.print.true_scale import true_scale_pdf
from ironlace.dossier.print.typesetting import PAPER_MM, PAPER_NAMES, Paper
from ironlace.dossier.readings_as_csv import readings_csv, readings_metadata, table_file_name
from ironlace.dossier.site.pages import build_site
from ironlace.dossier.words import plain_file_name
from ironlace.evidence.progress import Progress, unheard
from ironlace.evidence.wording import counted
from ironlace.ornament.stencils import SheetSet
from ironlace.ornament.stencils.files import files_of
from ironlace.record.entries import ReadingsEntry

_FIRST_LINE = "Pack of an Ironlace record"
_TITLE_LINE = 2
"""Of the README: the name of the pack, an empty line, the title."""

_MADE_ON = re.compile(r"Made on (\d{4}-\d\d-\d\d)\b")
_README_CHARACTERS = 80
"""Of a line in README.txt, as terminals and plain editors show it."""
_STENCIL_FILES = ("svg", "csv", "txt", "toml")
"""Endings of the files of planned sheets that go along as they are; cutters read the SVG."""
_PAPERS: tuple[Paper, ...] = tuple(PAPER_MM)
_HELD = frozenset(
    {"README.txt", "record.json", "site", "sheets", "stencils", "tables"}
    | {f"dossier-{paper}.pdf" for paper in PAPER_MM}
)
"""All that stands at the top of a pack; a folder that holds more is not written over."""


@dataclass(frozen=True, slots=True)
class StencilsShown:
    """The planned stencil sheets of a drawing: its name, such as ``drawing 2``, and the sheets."""

    drawing: str
    title: str
    made: SheetSet

    @property
    def folder(self) -> str:
        """A plain name for their folder."""
        return plain_file_name(self.drawing, self.title)


def write_pack(
    account: Account,
    folder: Path,
    *,
    made: datetime,
    stencils: Sequence[StencilsShown] = (),
    without: Sequence[str] = (),
    progress: Progress | None = None,
) -> Path:
    """Write the pack into a folder, whole or not at all, and return the folder.

    The pack holds ``dossier-a4.pdf`` and ``dossier-letter.pdf``, ``site/``, ``sheets/`` with each
    drawing as SVG and as PDF at true scale on both papers, ``stencils/`` with the planned sheets
    of each drawing that has any, ``tables/`` with each table of readings as CSV and its
    description, ``record.json`` and ``README.txt``. A pack that is already there
    is replaced; running again is always safe.

    Parameters
    ----------
    made
        When it is made, with its time zone.
    stencils
        Planned stencil sheets, with their laying sheets and cautions.
    without
        Names of drawings that were left out by choice, to be said so.
    progress
        Called with a phrase for people and the share done, 0 to 1. It may raise to stop the work:
        nothing half-written stays, and an older pack stays as it was.

    Raises
    ------
    FolderTakenError
        When the folder holds anything but a pack, or anything beside one.
    DossierError
        When a page, picture or drawing cannot be made.
    """
    if made.tzinfo is None:
        raise DossierError("The date of the pack has no time zone: give it one, such as UTC.")
    progress = progress or unheard
    what = "a pack written by Ironlace and nothing else"
    with folder_in_place(folder, _is_pack_alone, what) as making:
        fill_pack(account, making, made=made, stencils=stencils, progress=progress)
        (making / "README.txt").write_text(
            readme_of(account, made, stencils, without), encoding="utf-8"
        )
        progress("putting the pack in its place", 0.99)
    progress("the pack is ready", 1.0)
    return folder


def fill_pack(
    account: Account,
    folder: Path,
    *,
    made: datetime,
    stencils: Sequence[StencilsShown],
    progress: Progress,
) -> None:
    """Write the files of a pack, but for its README, into an empty folder; see `write_pack`."""
    _write_dossiers(account, folder, made, _within(progress, 0.0, 0.5))
    _write_sheets(account, folder, made, _within(progress, 0.5, 0.6))
    _write_stencils(account, stencils, folder, made, _within(progress, 0.6, 0.65))
    _write_tables(account, folder)
    (folder / "site").mkdir()
    build_site(account, folder / "site", _within(progress, 0.65, 0.98))
    (folder / "record.json").write_text(
        json.dumps(account.document, ensure_ascii=False, indent=1) + "\n", encoding="utf-8"
    )


def is_pack(folder: Path) -> bool:
    """Whether a folder holds a pack that this module wrote."""
    readme = folder / "README.txt"
    if not (readme.is_file() and (folder / "record.json").is_file()):
        return False
    with readme.open(encoding="utf-8", errors="replace") as opened:
        return opened.readline().strip() == _FIRST_LINE


def earlier_pack(folder: Path) -> str:
    """What pack a folder holds, such as ``"The gilt one, made on 2026-01-02"``; empty for none."""
    if not is_pack(folder):
        return ""
    lines = (folder / "README.txt").read_text(encoding="utf-8", errors="replace").splitlines()
    made = next((words for line in lines if (words := _MADE_ON.match(line))), None)
    title = lines[_TITLE_LINE] if len(lines) > _TITLE_LINE else ""
    return f"{title}, made on {made[1]}" if made else title


def _is_pack_alone(folder: Path) -> bool:
    """Whether all that a folder holds is a pack, so that nothing else is lost with it."""
    names = {path.name for path in folder.iterdir() if not path.name.startswith(".")}
    return is_pack(folder) and names <= _HELD


def _within(progress: Progress, start: float, stop: float) -> Progress:
    return lambda stage, share: progress(stage, start + (stop - start) * share)


def _write_dossiers(account: Account, making: Path, made: datetime, progress: Progress) -> None:
    with tempfile.TemporaryDirectory(prefix="ironlace-print-") as prints:
        for count, paper in enumerate(_PAPERS):
            progress(f"setting the dossier, {PAPER_NAMES[paper]}", count / len(_PAPERS))
            pdf = dossier_pdf(account, paper=paper, made=made, folder=Path(prints))
            (making / f"dossier-{paper}.pdf").write_bytes(pdf)


def _write_sheets(account: Account, making: Path, made: datetime, progress: Progress) -> None:
    drawn = [one for one in account.drawings if one.drawing is not None]
    if not drawn:
        return
    (making / "sheets").mkdir()
    day = f"{made.astimezone(UTC):%Y-%m-%d}, Ironlace {account.colophon.version}"
    for count, one in enumerate(drawn):
        progress(f"laying out {one.name} at true scale", count / len(drawn))
        assert one.drawing is not None
        name = sheet_name(one)
        (making / "sheets" / f"{name}.svg").write_text(one.drawing.svg, encoding="utf-8")
        note = f"{account.title}, {one.name}, {one.grade.value}"
        for paper in _PAPERS:
            pdf = true_scale_pdf(one.drawing.svg, paper=paper, title=one.title, note=note, made=day)
            (making / "sheets" / f"{name}-{paper}.pdf").write_bytes(pdf)


def _write_stencils(
    account: Account,
    stencils: Sequence[StencilsShown],
    making: Path,
    made: datetime,
    progress: Progress,
) -> None:
    day = f"{made.astimezone(UTC):%Y-%m-%d}, Ironlace {account.colophon.version}"
    for count, one in enumerate(stencils):
        progress(f"laying out the stencil sheets of {one.drawing}", count / len(stencils))
        folder = making / "stencils" / one.folder
        folder.mkdir(parents=True)
        title = f"{account.title}: {one.drawing}"
        for file in files_of(one.made):
            if file.name.rpartition(".")[2] in _STENCIL_FILES:
                (folder / file.name).write_bytes(file.content())
        for paper in _PAPERS:
            laying = laying_pdf(
                one.made.sheets,
                one.made.report,
                material=one.made.asked.of_process.material,
                falls_svg=one.made.falls_svg,
                flaws=one.made.flaws,
                surface=one.made.asked.surface,
                paper=paper,
                title=f"{title}, laying sheet",
                made=day,
            )
            (folder / f"laying-{paper}.pdf").write_bytes(laying)
            for sheet in one.made.sheets:
                pdf = true_scale_pdf(
                    sheet.svg(), paper=paper, title=f"{title}, {sheet.title}", made=day
                )
                (folder / f"sheet-{sheet.name}-{paper}.pdf").write_bytes(pdf)


def _write_tables(account: Account, making: Path) -> None:
    for name, entry in account.record.of(ReadingsEntry):
        folder = making / "tables"
        folder.mkdir(exist_ok=True)
        file = table_file_name(name, entry)
        (folder / file).write_text(readings_csv(entry), encoding="utf-8", newline="")
        described = readings_metadata(entry, file)
        (folder / f"{file}-metadata.json").write_text(described, encoding="utf-8")


def sheet_name(drawing: DrawingShown) -> str:
    """Return a plain file name for a drawing: its number and what is left of its title."""
    return plain_file_name(drawing.name, drawing.title)


def readme_of(
    account: Account,
    made: datetime,
    stencils: Sequence[StencilsShown],
    without: Sequence[str],
) -> str:
    """What README.txt says of a pack: what each file is, and what the grades mean."""
    title = " ".join(account.title.split())
    lines = [
        _FIRST_LINE,
        "",
        f"{title}",
        f"Made on {made.astimezone(UTC):%Y-%m-%d} by Ironlace {account.colophon.version}.",
        "",
        "dossier-a4.pdf, dossier-letter.pdf",
        "    The account to read and to print, on either paper. The same text.",
        "site/",
        "    The same as web pages: open site/index.html in any browser, or put the folder",
        "    on a web space. It needs no program and no network.",
    ]
    if any(one.drawing for one in account.drawings):
        lines += [
            "sheets/",
            "    Each drawing in millimetres (.svg), and as pages at true scale (.pdf).",
            "    Print at 100 % and measure the bar of 100 mm on each page before use.",
        ]
    if stencils:
        lines += [
            "stencils/",
            "    Planned stencil sheets to cut (.svg) and to print at true scale (.pdf), each with",
            "    its laying sheet (laying-a4.pdf, laying-letter.pdf). With care:",
            *_cautions_of(stencils),
        ]
    if any(account.record.of(ReadingsEntry)):
        lines += [
            "tables/",
            "    Each table of readings (.csv), with its units, instruments and what was struck",
            "    out beside it (.csv-metadata.json, CSV on the Web).",
        ]
    lines += [
        "record.json",
        "    The record itself, entry by entry: what everything here was made from.",
        *([_left_out(without)] if without else []),
        "",
        _what_is_in_it(account),
        "",
        "Every statement has a grade, which says how it is known:",
        *_grade_lines(account.document),
        "",
    ]
    return "\n".join(lines)


def _left_out(without: Sequence[str]) -> str:
    return textwrap.fill(
        f"Not shown by choice, though in record.json: {', '.join(without)}.",
        _README_CHARACTERS,
        initial_indent="    ",
        subsequent_indent="    ",
    )


def _cautions_of(stencils: Sequence[StencilsShown]) -> list[str]:
    said = [line for one in stencils for line in process_cautions(one.made.report["cautions"])]
    return [
        textwrap.fill(line, _README_CHARACTERS, initial_indent="    - ", subsequent_indent="      ")
        for line in dict.fromkeys(said)
    ]


def _what_is_in_it(account: Account) -> str:
    told = account.colophon
    words = (
        "PRIVATE COPY: it names people and sources that are not for publication."
        if told.private
        else "Public copy: private provenance and sources, unpublished photographs and the names "
        "of other machines' owners are left out, in record.json too."
    )
    if told.let_out:
        words += f" But for {counted(told.let_out, 'thing')} that whoever packed it let out."
    if told.kept_back:
        words += f" By choice {counted(told.kept_back, 'thing')} more stayed behind."
    return textwrap.fill(words, _README_CHARACTERS)


def _grade_lines(document: dict[str, Any]) -> list[str]:
    return [f"    {grade:<12} {meaning}" for grade, meaning in document["grades"].items()]
