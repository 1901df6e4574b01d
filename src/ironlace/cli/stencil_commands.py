"""Commands for stencils: sheets from a drawing, process files, the test card."""

import os
import shutil
from pathlib import Path
from typing import Annotated, Any, Literal

import typer

from ironlace.cli.telling import JsonFile, progress, read_text, tell, write_text
from ironlace.evidence.errors import ConflictError, IronlaceError


def sheets(
    drawing: Annotated[Path, typer.Argument(help="SVG of filled outlines in mm.")],
    process: Annotated[
        str, typer.Option(help="Process file (TOML), or the name of one that comes with Ironlace.")
    ],
    out: Annotated[Path, typer.Option(help="Folder to make, for the sheets.")],
    hold: Annotated[
        Literal["bridges", "split"],
        typer.Option(help="How islands are held: bridges, or split sheets that cover them."),
    ] = "bridges",
    mirrored: Annotated[bool, typer.Option(help="Cut to be laid from behind.")] = False,
    film: Annotated[
        int, typer.Option(help="Also write film positives at so many dpi; 0 for none.")
    ] = 0,
    json: JsonFile = None,
) -> None:
    """Make sheets to cut from a drawing, with proof that they hold together."""
    from ironlace.ornament.stencils import plan_sheets

    chosen = _process(process)
    text = read_text(drawing)
    _free(out)
    with progress() as report:
        plan = plan_sheets(text, chosen, hold, progress=report)
        _write_folder(out, plan, mirrored=mirrored, film_dpi=film)
    tell(
        {"folder": str(out), "drawing": drawing.name, **plan.report},
        json,
        [f"{out}: {len(plan.sheets)} sheets as SVG and DXF.", *plan.sentences()],
    )


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


def _process(told: str) -> Any:
    from ironlace.ornament.stencils import known_process, known_processes, read_process

    if told in known_processes():
        return known_process(told)
    return read_process(read_text(Path(told)))


def _free(folder: Path) -> None:
    """Refuse a place that holds something: nothing of the user's is ever mixed with sheets."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise ConflictError(f"{folder} is there already and not empty: name a new folder.")


def _write_folder(folder: Path, plan: Any, *, mirrored: bool, film_dpi: int) -> None:
    """Write all files into a folder beside the wanted one, then rename it: whole or not at all."""
    from ironlace.ornament.stencils import cutting_list, laying_sheet

    part = folder.with_name(f"{folder.name}.part-{os.getpid()}")
    try:
        part.mkdir(parents=True)
        for sheet in plan.sheets:
            cut = sheet.mirror() if mirrored else sheet
            (part / f"sheet-{sheet.name}.svg").write_text(cut.svg(), encoding="utf-8")
            (part / f"sheet-{sheet.name}.dxf").write_text(cut.dxf(), encoding="utf-8")
            if film_dpi:
                with (part / f"sheet-{sheet.name}.png").open("wb") as file:
                    for piece in cut.film_positive(film_dpi):
                        file.write(piece)
        (part / "laying.txt").write_text(laying_sheet(plan), encoding="utf-8")
        (part / "cutting.csv").write_text(cutting_list(plan), encoding="utf-8")
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
    app.command()(sheets)
    app.command()(process)
    app.command()(card)
