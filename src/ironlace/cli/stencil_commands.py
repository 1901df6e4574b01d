"""Commands for stencils: sheets from a drawing, process files, the test card."""

import math
import os
import shutil
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from ironlace.cli.answering import JsonFile, progress, read_text, tell, write_text
from ironlace.evidence.errors import ConflictError, IronlaceError

if TYPE_CHECKING:
    from ironlace.ornament.stencils import Feature, Process, Sheet, SheetSet
    from ironlace.ornament.stencils.files import SheetFile


def sheets(  # long: the options, each with its help, are the manual
    drawing: Annotated[Path, typer.Argument(help="SVG of filled outlines in mm.")],
    process: Annotated[
        str, typer.Option(help="Process file (TOML), or the name of one that comes with Ironlace.")
    ],
    out: Annotated[Path, typer.Option(help="Folder to make, for the sheets.")],
    hold: Annotated[
        Literal["bridges", "split", "mask"],
        typer.Option(
            help="How islands are held: bridges, split sheets that cover them, or a mask stuck "
            "down."
        ),
    ] = "bridges",
    mirrored: Annotated[bool, typer.Option(help="Cut to be laid from behind.")] = False,
    film: Annotated[
        int, typer.Option(help="Also write film positives at so many dpi; 0 for none.")
    ] = 0,
    bed: Annotated[
        str, typer.Option(help="Also in parts for a bed or page of so many mm, such as 300x200.")
    ] = "",
    bed_margin: Annotated[
        float, typer.Option(help="Sheet left around each part's openings, mm.")
    ] = 10.0,
    bed_overlap: Annotated[
        float, typer.Option(help="How far the openings of two parts overlap, mm.")
    ] = 1.0,
    trap: Annotated[
        float | None,
        typer.Option(
            help="How far an under colour runs under a later one, mm; the process's register "
            "error if not given."
        ),
    ] = None,
    surface: Annotated[
        Literal["plane", "cylinder", "cone"],
        typer.Option(help="What the ornament lies on: shapes the sheet's edge and axis marks."),
    ] = "plane",
    radius: Annotated[
        float | None, typer.Option(help="Radius of a cylinder or cone, mm, square to its axis.")
    ] = None,
    half_angle: Annotated[
        float, typer.Option(help="Cone: angle between side and axis, degrees.")
    ] = 0.0,
    axis: Annotated[
        float, typer.Option(help="Direction of the axis in the drawing, degrees, right to down.")
    ] = 0.0,
    at: Annotated[
        str, typer.Option(help="Where in the drawing the radius was measured, mm, such as 40,25.")
    ] = "0,0",
    crown: Annotated[
        float | None,
        typer.Option(
            help="Round surface curved along its axis too: radius of that curve, mm, negative "
            "where it is waisted."
        ),
    ] = None,
    feature: Annotated[
        list[str] | None,
        typer.Option(help="Laying mark at a feature of the machine: NAME,X,Y in mm; may repeat."),
    ] = None,
    paper: Annotated[
        Literal["a4", "letter"], typer.Option(help="Paper of the laying sheet.")
    ] = "a4",
    json: JsonFile = None,
) -> None:
    """Plan stencil sheets to cut from a drawing, with proof that they hold together."""
    from ironlace.ornament.stencils import (
        FilledDrawing,
        SheetsAsked,
        crown_of,
        plan_set,
        process_toml,
        surface_of,
    )
    from ironlace.ornament.stencils.files import files_of, tiled
    from ironlace.ornament.stencils.planning.in_words import carried

    chosen = _process(process)
    on = _surface(surface, radius, half_angle, axis, at, crown)
    # what cannot be is said before the long work begins
    surface_of(on)
    crown_of(on)
    tiled((), bed, margin_mm=bed_margin, overlap_mm=bed_overlap)
    features = [_feature(told) for told in feature or ()]
    text = read_text(drawing)
    _free(out)
    asked = SheetsAsked(drawing.name, process_toml(chosen), hold, trap, on, mirrored)
    with progress() as report:
        made = plan_set(FilledDrawing(drawing.name, text), asked, report, features=features)
        parted = tiled(made.sheets, bed, margin_mm=bed_margin, overlap_mm=bed_overlap)
        files = files_of(
            made,
            film_dpi=film,
            tiles=parted,
            laying_pdf=lambda: _laying_pdf(made, drawing.name, paper),
        )
        _write_folder(out, files)
    told = {"folder": str(out), "drawing": drawing.name, **made.report, "tiles": tiled_told(parted)}
    count = f"{len(made.sheets)} {'sheet' if len(made.sheets) == 1 else 'sheets'}"
    sentences = [f"{out}: {count} as SVG, DXF and HP-GL.", *made.sentences]
    if parted:
        sentences.append(f"{len(parted)} parts for a bed of {bed} mm.")
        loose = [t["name"] for t in told["tiles"] if t["pieces"] != 1]
        if loose and not carried(made.plan):
            sentences.append(f"NOT in one piece: part {', '.join(loose)}. Do not cut it.")
    tell(told, json, sentences)


def process(
    name: Annotated[str, typer.Argument(help="Name of a process; 'list' names them all.")] = "list",
    out: Annotated[Path | None, typer.Option(help="TOML file to write, to edit.")] = None,
    json: JsonFile = None,
) -> None:
    """Copy out a process file, to be edited after your own test card."""
    from ironlace.ornament.stencils import known_process, known_process_text, known_processes

    if name == "list":
        told = {n: known_process(n).name for n in known_processes()}
        tell(told, json, [f"{n}: {words}" for n, words in told.items()])
        return
    text = known_process_text(name)
    if out is None:
        tell({"name": name, "toml": text}, json, [text])
        return
    write_text(out, text)
    tell({"name": name, "file": str(out)}, json, [f"{out}: edit it, with a source for each value."])


def card(
    out: Annotated[Path, typer.Option(help="SVG to write, in mm.")],
    json: JsonFile = None,
) -> None:
    """Make the test card: cut it, and write what survived into your process file."""
    from ironlace.ornament.stencils import trial_card_svg

    write_text(out, trial_card_svg())
    tell({"svg": str(out)}, json, [f"{out}: cut it as you cut a sheet, and note what survived."])


def limits(
    process: Annotated[
        str, typer.Argument(help="Process file (TOML), or the name of one that comes along.")
    ],
    line: Annotated[float, typer.Option(help="Finest line that came out clean, mm.")],
    web: Annotated[float, typer.Option(help="Finest web that stayed whole, mm.")],
    tongue: Annotated[float, typer.Option(help="Longest tongue that lies flat, mm.")],
    disc: Annotated[float, typer.Option(help="Diameter of the finest disc that is round, mm.")],
    hole: Annotated[float, typer.Option(help="Measured side of the 20 mm square's hole, mm.")],
    piece: Annotated[float, typer.Option(help="Measured side of the piece that fell out, mm.")],
    out: Annotated[Path, typer.Option(help="TOML file to write.")],
    spread: Annotated[
        float | None, typer.Option(help="How far paint crept under the edge, mm, if measured.")
    ] = None,
    json: JsonFile = None,
) -> None:
    """Set the limits of a process by what survived on your own test card."""
    from ironlace.ornament.stencils import CardReading, process_from_card, process_toml
    from ironlace.ornament.stencils.process import OWN_CARD

    mine = process_from_card(
        _process(process), CardReading(line, web, tongue, disc, hole, piece, spread)
    )
    write_text(out, process_toml(mine))
    own = {k: getattr(mine, k) for k, source in mine.sources.items() if source == OWN_CARD}
    words = ", ".join(f"{key} {value:g}" for key, value in own.items())
    tell({"file": str(out), "from_card": own}, json, [f"{out}: set by your test card: {words}."])


def _process(told: str) -> "Process":
    from ironlace.ornament.stencils import known_process, known_processes, read_process

    if told in known_processes():
        return known_process(told)
    return read_process(read_text(Path(told)))


def _free(folder: Path) -> None:
    """Refuse a place that holds something: nothing of the user's is ever mixed with sheets."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise ConflictError(f"{folder} is there already and not empty: name a new folder.")


def _surface(
    kind: str,
    radius: float | None,
    half_angle: float,
    axis: float,
    at: str,
    crown: float | None,
) -> dict[str, float | str] | None:
    """The surface as `SheetsAsked` has it."""
    if kind == "plane":
        if crown is not None:
            raise IronlaceError(
                "--crown is the second curve of a round surface: give --surface cylinder or cone "
                "with its radius too."
            )
        return None
    told: dict[str, float | str] = {"kind": kind, "axis_deg": axis, "half_angle_deg": half_angle}
    if radius is not None:
        told["radius_mm"] = radius
    if crown is not None:
        told["crown_mm"] = crown
    told["x_mm"], told["y_mm"] = _numbers(at, 2, "--at is two numbers in mm, such as 40,25")
    return told


def _feature(told: str) -> "Feature":
    from ironlace.ornament.stencils import Feature

    name, _, place = told.partition(",")
    x, y = _numbers(place, 2, "--feature is NAME,X,Y in mm, such as 'screw hole,12,30'")
    if not name.strip():
        raise IronlaceError("A feature needs a name: write --feature 'screw hole,12,30'.")
    return Feature(name.strip(), x, y)


def _numbers(text: str, count: int, needed: str) -> list[float]:
    try:
        found = [float(part) for part in text.split(",")]
    except ValueError:
        found = []
    if len(found) != count or not all(math.isfinite(v) for v in found):
        raise IronlaceError(f"'{text[:40]}' cannot be read: {needed}.")
    return found


def tiled_told(tiles: "Sequence[Sheet]") -> list[dict[str, Any]]:
    """Parts for a bed, for the report: their size, and the pieces of each, by flood fill."""
    from ironlace.ornament.stencils.planning.raster_proof import pieces_of_sheet

    out = []
    for tile in tiles:
        left, top, right, bottom = tile.edge.bounds
        pieces, _ = pieces_of_sheet(tile.svg(), tile.edge.bounds, 12.0)
        out.append(
            {
                "name": tile.name,
                "size_mm": [round(right - left, 2), round(bottom - top, 2)],
                "openings": len(tile.openings.geoms),
                "pieces": pieces,
            }
        )
    return out


def _laying_pdf(made: "SheetSet", drawing: str, paper: Literal["a4", "letter"]) -> bytes:
    from ironlace import __version__
    from ironlace.dossier.print.laying_pdf import laying_pdf

    return laying_pdf(
        made.sheets,
        made.report,
        material=made.asked.of_process.material,
        falls_svg=made.falls_svg,
        flaws=made.flaws,
        surface=made.asked.surface,
        paper=paper,
        title=f"{drawing}: laying sheet",
        made=f"Ironlace {__version__}",
    )


def _write_folder(folder: Path, files: "Iterable[SheetFile]") -> None:
    """Write all files into a folder beside the wanted one, then rename it: whole or not at all."""
    part = folder.with_name(f"{folder.name}.part-{os.getpid()}")
    try:
        part.mkdir(parents=True)
        for one in files:
            with (part / one.name).open("wb") as file:
                for piece in one.parts():
                    file.write(piece)
        if folder.is_dir():
            folder.rmdir()
        part.replace(folder)
    except OSError as error:
        raise IronlaceError(
            f"{folder} could not be written ({error.strerror}): choose another place."
        ) from error
    finally:
        shutil.rmtree(part, ignore_errors=True)


def add_to(app: typer.Typer) -> None:
    """Give the group of ornament commands its stencil commands."""
    app.command("stencil")(sheets)
    app.command("sheets", hidden=True)(sheets)  # its earlier name
    app.command()(process)
    app.command()(card)
    app.command()(limits)
