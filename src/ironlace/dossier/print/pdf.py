"""The printed dossier: an account set as a book that the next owner can keep.

Every photograph is shown in full once: at the mark, treatment or drawing that it belongs to, or
among the plates at the end. Elsewhere its name leads there.
"""

import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import fields, is_dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from ironlace.dossier.account.blocks import (
    Block,
    DrawingShown,
    EvidenceMap,
    FigureShown,
    Item,
    Plate,
    Plates,
    Rivals,
    Row,
    Section,
    SheetsShown,
    Tabular,
)
from ironlace.dossier.account.drawing_in_words import GRADE_COLOURS
from ironlace.dossier.account.whole import Account
from ironlace.dossier.errors import DossierError
from ironlace.dossier.pictures import copies
from ironlace.dossier.print.ink_window import InkWindow
from ironlace.dossier.print.typesetting import PAPER_NAMES, Paper, paper_size, typeset, unshowable
from ironlace.dossier.words import shortened
from ironlace.evidence.edtf_dates import date_in_words

PRINT_EDGE_PX = 1600
"""Longer edge of a photograph in print: 230 to the inch across the text; chosen by eye."""

_SMALL_EDGE_PX = 800
"""Of one among many, at half the width of the text: some 280 to the inch."""

_MANY_PLATES = 40
"""From so many photographs on, those at the end are small, so that the file can be sent."""

_RUNNING_HEAD = 60
"""Characters of a title that fit above the text beside the section's name."""

_TEXT_WIDTH_MM = {"a4": 166.0, "letter": 171.9}
"""Of the pages, their margins taken off; the template sets the same."""

_AROUND_TEXT_MM = 52.0
"""Head and foot of a page; the template sets the same."""

_UNDER_DRAWING_MM = 16.0
"""For caption and scale bar under a drawing."""

_UNDER_MAP_MM = 13.0
"""For the caption under a map of evidence; its key takes more, line by line."""

_KEY_LINE_MM = 4.6
"""Of one line of that key."""

_UNDER_SHEET_MM = 11.0
"""For the words under a sheet shown small."""

_GUTTER_MM = 7.0
"""Between two pictures side by side; the template has the same."""

_LEAST_ROWS = 3
"""Rows of a table that stay together at its beginning and its end, so that none stands alone."""

_ROWS_KEPT_WHOLE = 8
"""A part of a table with so many rows is not parted at all."""

_LONGEST_UNBROKEN = 900
"""Characters of a row or an entry that stays on one page."""


def dossier_pdf(
    account: Account, *, paper: Paper = "a4", made: datetime, folder: Path | None = None
) -> bytes:
    """Set the dossier.

    Parameters
    ----------
    paper
        ``a4`` or ``letter``.
    made
        When it is made, with its time zone; it stands in the colophon and in the file.
    folder
        Where print copies of the photographs are kept, so that a second paper need not make them
        again; a temporary folder if None.

    Returns
    -------
    pdf
        PDF/A-2a (to keep) and PDF/UA-1 (tagged). The same account, paper and date give the same
        bytes.

    Raises
    ------
    DossierError
        When `made` has no time zone, a picture cannot be read, or the page cannot be set.
    """
    if made.tzinfo is None:
        raise DossierError("The date of the dossier has no time zone: give it one, such as UTC.")
    if folder is None:
        with tempfile.TemporaryDirectory(prefix="ironlace-dossier-") as own:
            return dossier_pdf(account, paper=paper, made=made, folder=Path(own))
    data = _data(account, paper, made, folder)
    return typeset(
        "dossier.typ",
        data,
        made=made.astimezone(UTC).replace(microsecond=0),
        folder=folder,
        files_beside=dict(_picture_files(account)),
    )


def _data(account: Account, paper: Paper, made: datetime, folder: Path) -> dict[str, Any]:
    """What the template reads: JSON values only."""
    across, down = paper_size(paper)
    pages = _Pages(account, paper)
    sections = [pages.section(section) for section in account.sections]
    rest = [plate.name for plate in account.plates if plate.name not in pages.placed]
    if not rest:
        sections = [s for s in sections if s["blocks"] != [{"is": "album"}]]
    edge = _SMALL_EDGE_PX if len(account.plates) > _MANY_PLATES else PRINT_EDGE_PX
    data: dict[str, Any] = {
        "title": account.title,
        "short_title": shortened(account.title, _RUNNING_HEAD),
        "summary": [[topic, says, grade.value] for topic, says, grade in account.summary],
        "first_mark": None if account.first_mark is None else _plain(account.first_mark),
        "lead": account.lead,
        "sections": sections,
        "absent": list(account.absent),
        "plates": {
            plate.name: _plate_data(
                plate, PRINT_EDGE_PX if plate.name in pages.placed else edge, folder
            )
            for plate in account.plates
        },
        "rest": rest,
        "anchors": sorted(account.anchors),
        "colophon": {
            **_plain(account.colophon),
            "as_of": _moment(account.colophon.as_of or made),
            "last_change": _moment(last) if (last := account.colophon.last_change) else "",
            "made": _moment(made),
        },
        "paper": {"name": PAPER_NAMES[paper], "width": across, "height": down},
    }
    strings = "".join(_strings(data))
    return {**data, "unshown": [f"U+{ord(char):04X}" for char in sorted(unshowable(strings))]}


class _Pages:
    """Turns sections into JSON values, noting where each photograph is shown first."""

    def __init__(self, account: Account, paper: Paper) -> None:
        self.paper = paper
        self.placed = {account.lead} if account.lead else set()
        self.figures = 0

    def section(self, section: Section) -> dict[str, Any]:
        blocks = [self._block(block) for block in self._together(section.blocks)]
        return {
            "key": section.key,
            "title": section.title,
            "opening": section.opening,
            "blocks": blocks,
        }

    def _together(self, blocks: Sequence[Block]) -> Iterator[Block]:
        """The blocks; a drawing takes the map of its evidence along, to stand on one page."""
        self.map_of: dict[str, EvidenceMap] = {
            block.name: block for block in blocks if isinstance(block, EvidenceMap)
        }
        drawn = {
            b.name for b in blocks if isinstance(b, DrawingShown) and b.bare is not None and b.ink
        }
        yield from (b for b in blocks if not (isinstance(b, EvidenceMap) and b.name in drawn))

    def _block(self, block: Block) -> dict[str, Any]:
        data: dict[str, Any] = {"is": type(block).__name__.lower()}
        match block:
            case Item():
                data |= _plain(replace(block, blocks=(), below=()))
                data["blocks"] = [self._block(inner) for inner in block.blocks]
                data["below"] = [self._block(inner) for inner in block.below]
                data["length"] = sum(map(len, _strings(data["blocks"])))
            case Rivals():
                data["items"] = [self._block(item) for item in block.items]
            case Tabular():
                data |= _plain(block)
                for row, held in zip(data["rows"], _held(block.rows), strict=True):
                    row["held"] = held
            case Plates():
                data |= _plain(block)
                for _, names in block.columns:
                    self.placed.update(names)
            case DrawingShown():
                data |= {"name": block.name, "title": block.title}
                data |= self._drawing(block)
            case EvidenceMap():
                data |= self._map(block, _text_height(self.paper))
            case SheetsShown():
                data |= {"name": block.name, "title": block.title}
                data |= _sheets_placed(block, self.paper)
            case FigureShown():
                self.figures += 1
                data |= {"title": block.title, "says": list(block.says)}
                data["file"] = _figure_file(self.figures)
            case _:
                data |= _plain(block)
        return data

    def _drawing(self, drawing: DrawingShown) -> dict[str, Any]:
        """How large a drawing is set: at true scale if it fits, else smaller, and so said."""
        if drawing.bare is None or drawing.ink is None:
            return {"file": ""}
        known = self.map_of.get(drawing.name)
        room = _text_height(self.paper)
        if known:
            room = (room - _UNDER_MAP_MM - _key_height(known)) / 2
        placed = _window_placed(drawing.ink, self.paper, room - _UNDER_DRAWING_MM)
        return {
            **placed,
            "file": _drawing_file(drawing),
            "whole_width": drawing.bare.width_mm,
            "whole_height": drawing.bare.height_mm,
            "shown_grades": [] if known else [g.value for g in drawing.bare.grades],
            "map": self._map(known, placed["height"] * placed["scale"]) if known else None,
        }

    def _map(self, known: EvidenceMap, tallest: float) -> dict[str, Any]:
        return {
            **_window_placed(known.ink, self.paper, tallest),
            "file": f"map{known.name.rpartition(' ')[2]}.svg",
            "title": known.title,
            "said": known.said,
            "whole_width": known.drawing.width_mm,
            "whole_height": known.drawing.height_mm,
            "shares": [
                {
                    "grade": share.grade.value,
                    "colour": GRADE_COLOURS[share.grade],
                    "percent": share.percent,
                    "words": share.words,
                    "length": f"{share.length_mm:,.0f} mm",
                }
                for share in known.shares
            ],
        }


def _held(rows: Sequence[Row]) -> list[int]:
    """For each row how many rows from it on stay on one page; 0 where an earlier one holds it."""
    held: list[int] = []
    starts = [at for at, row in enumerate(rows) if row.head or at == 0]
    for start, stop in zip(starts, [*starts[1:], len(rows)], strict=True):
        held += _held_part(rows[start:stop])
    return held


def _held_part(rows: Sequence[Row]) -> list[int]:
    if any(len("".join(_strings(_plain(row)))) > _LONGEST_UNBROKEN for row in rows):
        return [1] * len(rows)
    if len(rows) <= _ROWS_KEPT_WHOLE:
        return [len(rows)] + [0] * (len(rows) - 1)
    first = _LEAST_ROWS + rows[0].head
    middle = len(rows) - first - _LEAST_ROWS
    return [first, *[0] * (first - 1), *[1] * middle, _LEAST_ROWS, *[0] * (_LEAST_ROWS - 1)]


def _plain(value: Any) -> Any:
    """Dataclasses as JSON values; `dataclasses.asdict` would carry paths and drawings along."""
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: _plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, dict):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(inner) for inner in value]
    if isinstance(value, (str, int, float)) or value is None:
        return value
    return str(value)


def _strings(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for inner in value.values():
            yield from _strings(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _strings(inner)


def _plate_data(plate: Plate, edge: int, folder: Path) -> dict[str, Any]:
    data: dict[str, Any] = {
        "name": plate.name,
        "role": plate.role,
        "caption": plate.caption,
        "small_print": plate.small_print,
        "note": plate.note,
        "alt": plate.described,
        "file": "",
        "ratio": 1.5,
    }
    if plate.picture is not None:
        number = plate.name.rpartition(" ")[2]
        path = folder / f"p{number}-{edge}.jpg"
        if not path.exists():
            jpeg, _, _ = copies(plate.picture, [edge])[edge]
            path.write_bytes(jpeg)
        data["file"] = path.name
        data["ratio"] = plate.picture.width / plate.picture.height
    return data


def _drawing_file(drawing: DrawingShown) -> str:
    return f"d{drawing.name.rpartition(' ')[2]}.svg"


def _figure_file(number: int) -> str:
    return f"figure{number}.svg"


def _picture_files(account: Account) -> Iterator[tuple[str, bytes]]:
    """Every drawing, map, sheet and plot of an account as a file beside the template."""
    figures = 0
    for block in account.blocks():
        match block:
            case DrawingShown() if block.bare is not None:
                yield _drawing_file(block), block.bare.svg.encode("utf-8")
            case EvidenceMap():
                number = block.name.rpartition(" ")[2]
                yield f"map{number}.svg", block.drawing.svg.encode("utf-8")
            case SheetsShown():
                for at, sheet in enumerate(block.sheets):
                    yield _sheet_file(block, at), sheet.svg.encode("utf-8")
            case FigureShown():
                figures += 1
                yield _figure_file(figures), block.print_svg.encode("utf-8")


def _sheet_file(shown: SheetsShown, at: int) -> str:
    return f"sheet{shown.name.rpartition(' ')[2]}-{at}.svg"


def _text_height(paper: Paper) -> float:
    return paper_size(paper)[1] - _AROUND_TEXT_MM


def _key_height(known: EvidenceMap) -> float:
    return _KEY_LINE_MM * len(known.shares)


def _window_placed(ink: InkWindow, paper: Paper, tallest: float) -> dict[str, Any]:
    """How large the window of a drawing is set, so that it stays within the text."""
    scale = min(1.0, _TEXT_WIDTH_MM[paper] / ink.width, tallest / ink.height)
    return {
        "left": ink.left,
        "top": ink.top,
        "width": ink.width,
        "height": ink.height,
        "scale": scale,
        "true_scale": scale == 1.0,
        "scale_in_words": f"{scale * 100:.0f}\u00a0%",
    }


def _sheets_placed(shown: SheetsShown, paper: Paper) -> dict[str, Any]:
    """The sheets two by two, all on one page where they can be, at one scale."""
    count = len(shown.sheets)
    columns = 1 if count == 1 else 2
    rows = -(-count // columns)
    across = (_TEXT_WIDTH_MM[paper] - (columns - 1) * _GUTTER_MM) / columns
    room = _text_height(paper) - 2 * _UNDER_SHEET_MM
    down = max(_LEAST_SHEET_MM, min(_MOST_SHEET_MM, room / rows - _UNDER_SHEET_MM))
    widest = max(sheet.width_mm for sheet in shown.sheets)
    highest = max(sheet.height_mm for sheet in shown.sheets)
    scale = min(1.0, across / widest, down / highest)
    return {
        "columns": columns,
        "scale": f"{scale * 100:.0f}\u00a0%",
        "sheets": [
            {
                "file": _sheet_file(shown, at),
                "title": sheet.title,
                "words": sheet.words,
                "width": sheet.width_mm * scale,
                "height": sheet.height_mm * scale,
            }
            for at, sheet in enumerate(shown.sheets)
        ],
    }


_LEAST_SHEET_MM = 20.0
"""High, that a sheet shown small still tells something; more sheets run on to the next page."""

_MOST_SHEET_MM = 110.0
"""High, that a single sheet does not fill the page."""


def _moment(moment: datetime) -> str:
    utc = moment.astimezone(UTC)
    return f"{date_in_words(utc.date().isoformat())}, {utc:%H:%M} UTC"
