"""The printed dossier: an account set as a book that the next owner can keep.

Every photograph is shown in full once: at the mark, treatment or drawing that it belongs to, or
among the plates at the end. Elsewhere its name leads there.
"""

import tempfile
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from ironlace.dossier.account.blocks import (
    Block,
    DrawingShown,
    Item,
    Plate,
    Plates,
    Rivals,
    Section,
)
from ironlace.dossier.account.whole import Account
from ironlace.dossier.errors import DossierError
from ironlace.dossier.pictures import copies
from ironlace.dossier.print.typesetting import PAPER_NAMES, Paper, paper_size, typeset, unshowable
from ironlace.dossier.words import shortened
from ironlace.evidence.edtf_dates import date_in_words

PRINT_EDGE_PX = 1500
"""Longer edge of a photograph in print: 230 to the inch across the text; chosen by eye."""

_SMALL_EDGE_PX = 900
"""Of one among many, at half the width of the text: some 280 to the inch."""

_MANY_PLATES = 40
"""From so many photographs on, those at the end are small, so that the file can be sent."""

_RUNNING_HEAD = 60
"""Characters of a title that fit above the text beside the section's name."""

_TEXT_WIDTH_MM = {"a4": 166.0, "letter": 171.9}
"""Of the pages, their margins taken off; the template sets the same."""

_TALLEST_DRAWING_MM = 165.0
"""Leaves room for caption and scale bar on the shorter of the two papers."""

_LEAST_MARGIN_MM = 10.0  # of a drawing that true scale makes wider than the text


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
        files_beside=dict(_drawing_files(account)),
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

    def section(self, section: Section) -> dict[str, Any]:
        blocks = [self._block(block) for block in section.blocks]
        return {
            "key": section.key,
            "title": section.title,
            "opening": section.opening,
            "blocks": blocks,
        }

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
            case Plates():
                data["columns"] = [
                    {"word": word, "plates": [self._placed(name) for name in names]}
                    for word, names in block.columns
                ]
            case DrawingShown():
                data |= {"name": block.name, "title": block.title}
                data |= _drawing_place(block, self.paper)
            case _:
                data |= _plain(block)
        return data

    def _placed(self, name: str) -> dict[str, Any]:
        first = name not in self.placed
        self.placed.add(name)
        return {"name": name, "first": first}


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


def _drawing_files(account: Account) -> Iterator[tuple[str, bytes]]:
    for drawing in account.drawings:
        if drawing.drawing is not None:
            yield _drawing_file(drawing), drawing.drawing.svg.encode("utf-8")


def _drawing_place(drawing: DrawingShown, paper: Paper) -> dict[str, Any]:
    """How large a drawing is set: at true scale if the page holds it, else smaller, and so said."""
    if drawing.drawing is None or drawing.ink is None:
        return {
            "file": "",
            "size": drawing.size,
            "shown_grades": [],
            "scale": 1.0,
            "true_scale": False,
        }
    width, height = drawing.ink.width, drawing.ink.height
    text_width = _TEXT_WIDTH_MM[paper]
    widest = paper_size(paper)[0] - 2 * _LEAST_MARGIN_MM
    scale = 1.0 if width <= widest else text_width / width
    scale = min(scale, _TALLEST_DRAWING_MM / height)
    return {
        "file": _drawing_file(drawing),
        "size": drawing.size,
        "left": drawing.ink.left,
        "top": drawing.ink.top,
        "width": width,
        "height": height,
        "whole_width": drawing.drawing.width_mm,
        "whole_height": drawing.drawing.height_mm,
        "overhang": max(0.0, (width * scale - text_width) / 2),
        "shown_grades": [grade.value for grade in drawing.drawing.grades],
        "scale": scale,
        "true_scale": scale == 1.0,
        "scale_in_words": f"{scale * 100:.0f} %",
    }


def _moment(moment: datetime) -> str:
    utc = moment.astimezone(UTC)
    return f"{date_in_words(utc.date().isoformat())}, {utc:%H:%M} UTC"
