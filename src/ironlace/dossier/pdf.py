"""The printed dossier: an account set as a book that the next owner can keep.

Every photograph is shown in full once: at the mark, treatment or drawing that it belongs to, or
among the plates at the end. Elsewhere its name leads there.
"""

import dataclasses
import tempfile
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from ironlace.dossier.account import Account, DrawingTold, Plate
from ironlace.dossier.errors import DossierError
from ironlace.dossier.pictures import copies
from ironlace.dossier.typesetting import PAPER_NAMES, Paper, paper_size, typeset, unshowable
from ironlace.dossier.words import date_in_words, shortened

PRINT_EDGE_PX = 1500
_SMALL_EDGE_PX = 900
_MANY_PLATES = 40
_RUNNING_HEAD = 60
_TEXT_WIDTH_MM = {"a4": 166.0, "letter": 171.9}
_TALLEST_DRAWING_MM = 165.0
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
    across, down = paper_size(paper)
    told: dict[str, Any] = _plain({f.name: getattr(account, f.name) for f in _told_fields(account)})
    placed = _first_places(account)
    told["first_places"] = placed
    edge = _SMALL_EDGE_PX if len(account.plates) > _MANY_PLATES else PRINT_EDGE_PX
    told["plates"] = {
        plate.name: _plate_data(plate, edge if plate.name not in placed else PRINT_EDGE_PX, folder)
        for plate in account.plates
    }
    told["rest"] = [plate.name for plate in account.plates if plate.name not in placed]
    told["drawings"] = [
        {**_plain(drawing), "drawing": None, **_drawing_place(drawing, paper)}
        for drawing in account.drawings
    ]
    colophon = account.colophon
    told["colophon"] |= {
        "as_of": _moment(colophon.as_of or made),
        "last_change": _moment(colophon.last_change) if colophon.last_change else "",
        "made": _moment(made),
    }
    told["paper"] = {"name": PAPER_NAMES[paper], "width": across, "height": down}
    told["short_title"] = shortened(account.title, _RUNNING_HEAD)
    told["anchors"] = sorted(_anchors(account))
    told["unshown"] = [f"U+{ord(char):04X}" for char in sorted(unshowable("".join(_strings(told))))]
    return told


def _told_fields(account: Account) -> list[dataclasses.Field[Any]]:
    return [f for f in dataclasses.fields(account) if f.name not in ("document", "plates")]


def _plain(value: Any) -> Any:
    """Dataclasses as JSON values; `dataclasses.asdict` would carry paths and drawings along."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: _plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
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


def _first_places(account: Account) -> dict[str, str]:
    """Where a photograph is first shown outside the plates, for there it can be linked to."""
    shown: list[tuple[str, str]] = [(account.lead, "lead")] if account.lead else []
    for mark in account.marks:
        shown += [(name, mark.name) for name in mark.photographs]
    for treatment in account.treatments:
        shown += [(name, f"{treatment.name} before") for name in treatment.before]
        shown += [(name, f"{treatment.name} after") for name in treatment.after]
    places: dict[str, str] = {}
    for name, place in shown:
        places.setdefault(name, place)
    return places


def _anchors(account: Account) -> set[str]:
    names = {
        told.name
        for group in (
            account.marks,
            account.dates,
            account.findings,
            account.reports,
            account.parts,
            account.readings,
            account.drawings,
            account.treatments,
            account.steps,
            account.questions,
            account.sources,
            account.plates,
        )
        for told in group
    }
    return names | {said.name for topic in account.topics for said in topic.statements}


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


def _drawing_file(drawing: DrawingTold) -> str:
    return f"d{drawing.name.rpartition(' ')[2]}.svg"


def _drawing_files(account: Account) -> Iterator[tuple[str, bytes]]:
    for drawing in account.drawings:
        if drawing.drawing is not None:
            yield _drawing_file(drawing), drawing.drawing.svg.encode("utf-8")


def _drawing_place(drawing: DrawingTold, paper: Paper) -> dict[str, Any]:
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
        "scale_told": f"{scale * 100:.0f} %",
    }


def _moment(moment: datetime) -> str:
    told = moment.astimezone(UTC)
    return f"{date_in_words(told.date().isoformat())}, {told:%H:%M} UTC"
