"""What a trace is asked for and its photographs, from files and options of the command."""

import csv
import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ironlace.cli.answering import read_text
from ironlace.evidence.analyses import asked_from
from ironlace.evidence.errors import IronlaceError, NotFoundError

if TYPE_CHECKING:
    from ironlace.ornament import PhotographsToTrace, TraceAsked

MEASURED_COLUMNS = ("x_px", "y_px", "x_mm", "y_mm")


def photographs_of_files(files: Sequence[Path]) -> "PhotographsToTrace":
    """Photographs in files, each with the focal length that its own Exif gives.

    Raises IronlaceError when one cannot be read as a photograph.
    """
    from ironlace.ornament import PhotographsToTrace, PhotographToTrace
    from ironlace.workshop.ornament.tracing import openers_of
    from ironlace.workshop.store.intake import examine

    focal = [examine(file, file.name).focal_35mm for file in files]
    return PhotographsToTrace(
        tuple(
            PhotographToTrace(picture, name, mm)
            for picture, name, mm in zip(openers_of(files), _names(files), focal, strict=True)
        )
    )


def asked_of_files(
    files: Sequence[Path],
    asked_file: Path | None = None,
    *,
    lenses: Sequence[Path] = (),
    layout: Path | None = None,
    places: Sequence[Path] = (),
    scan: tuple[float | None, bool] = (None, False),
    **options: Any,
) -> "TraceAsked":
    """What a trace is asked for: a file's words, and the options, which go before them.

    Parameters
    ----------
    files
        The photographs; the first is of the object itself.
    asked_file
        JSON of a `TraceAsked`; further photographs go by the names of their files.
    lenses
        One for all photographs, or one for each.
    layout, places
        CSV of the strip's markers; of measured places, one file for each photograph.
    scan
        Dots to the inch, if it is a scan, and whether of a rubbing.
    options
        Further fields of a `TraceAsked`; None is not said.

    Raises
    ------
    IronlaceError
        When a file cannot be read or what is asked does not fit together.
    """
    from ironlace.ornament import TraceAsked
    from ironlace.ornament.trace_asked import check_asked

    missing = next((file for file in files if not file.is_file()), None)
    if missing is not None:
        raise NotFoundError(f"There is no file {missing}: check its name.")
    dpi, rubbing = scan
    if rubbing and dpi is None:
        raise IronlaceError("A rubbing needs the resolution of its scan: add --dpi.")
    if dpi is not None and (len(files) > 1 or layout or places):
        raise IronlaceError("A scan is traced by itself: give one file, no strip and no places.")
    given = _object_in(asked_file) if asked_file else {}
    given |= {name: value for name, value in options.items() if value is not None}
    if layout:
        given["layout_csv"] = read_text(layout)
    if places:
        given["how"] = "points"
    if dpi is not None:
        given |= {"how": "rubbing" if rubbing else "scan", "dpi": dpi}
    names = _names(files)
    given["photograph"] = names[0]
    given["others"] = _others(names, given.get("others"))
    _give_lenses(given, lenses, len(files))
    _give_places(given, places, len(files))
    asked = asked_from(TraceAsked, given)
    check_asked(asked)
    return asked


def _names(files: Sequence[Path]) -> list[str]:
    """The files' names; their whole paths where two share a name."""
    names = [file.name for file in files]
    return names if len(set(names)) == len(names) else [str(file) for file in files]


def _object_in(file: Path) -> dict[str, Any]:
    try:
        found = json.loads(read_text(file))
    except (ValueError, RecursionError) as error:
        raise IronlaceError(f"{file} is not JSON: {error}.") from error
    if not isinstance(found, dict):
        raise IronlaceError(f"{file} holds no JSON object: write {{ }} with what is asked in it.")
    return {name: value for name, value in found.items() if value is not None}


def _others(names: Sequence[str], told: Any) -> list[dict[str, Any]]:
    """Words on each further photograph, those of the file where it has some."""
    by_name: dict[str, dict[str, Any]] = {name: {"photograph": name} for name in names[1:]}
    for other in told or []:
        name = other.get("photograph") if isinstance(other, dict) else other
        if name not in by_name:
            raise IronlaceError(
                f"'{name}' is told of among the others and is no further photograph given here: "
                f"use {', '.join(by_name) or 'none'}."
            )
        by_name[name] = other
    return list(by_name.values())


def _give_lenses(given: dict[str, Any], files: Sequence[Path], count: int) -> None:
    if len(files) not in (0, 1, count):
        raise IronlaceError(
            f"{len(files)} lenses were given for {count} photographs: give one for all, or one for "
            "each in their order."
        )
    told = [read_text(file) for file in files]
    if told:
        given["lens"] = told[0]
    if len(told) > 1:
        for other, lens in zip(given["others"], told[1:], strict=True):
            other["lens"] = lens


def _give_places(given: dict[str, Any], files: Sequence[Path], count: int) -> None:
    if not files:
        return
    if len(files) != count:
        raise IronlaceError(
            f"{len(files)} files of measured places were given for {count} photographs: give one "
            "for each in their order."
        )
    told = [_measured(read_text(file)) for file in files]
    given["measured"] = told[0]
    for other, measured in zip(given["others"], told[1:], strict=True):
        other["measured"] = measured


def _measured(text: str) -> list[tuple[float, ...]]:
    """Measured places from CSV with the columns x_px, y_px, x_mm, y_mm."""
    rows = list(csv.DictReader(text.lstrip("\ufeff").splitlines()))
    try:
        return [tuple(float(row[name]) for name in MEASURED_COLUMNS) for row in rows]
    except (KeyError, TypeError, ValueError) as error:
        raise IronlaceError(
            f"The measured places need the columns {', '.join(MEASURED_COLUMNS)}, each a number: "
            f"{error}."
        ) from error
