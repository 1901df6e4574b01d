"""The commands of the stand that take a whole case in TOML: base, crank, belt, outline."""

import time
from pathlib import Path
from typing import Annotated, Any

import numpy as np
import typer

from ironlace.cli.answering import JsonFile, read_text, tell, write_bytes
from ironlace.evidence.errors import IronlaceError

_SEED = 1893
"""Of the generator that draws curves and centres, so that a case always gives the same answer."""

_CaseFile = Annotated[Path, typer.Argument(help="The case: a TOML file, as the manual shows it.")]


def add_to(app: typer.Typer) -> None:
    """Add the commands to the group of the stand."""
    app.command("base")(base)
    app.command("crank")(crank)
    app.command("belt")(belt)
    app.command("outline")(outline)


def base(
    case: _CaseFile,
    json: JsonFile = None,
    drawing: Annotated[
        Path | None,
        typer.Option(help="Draw the base true to scale, in an .svg, .dxf or .pdf file."),
    ] = None,
    paper: Annotated[str, typer.Option(help="Paper of a .pdf: a4 or letter.")] = "a4",
) -> None:
    """Say how high a base must be, where the mass lies, and at what lean it goes over."""
    from ironlace.cli.case_files import read_case
    from ironlace.stand.base import BaseCase, base_in_words, base_told, work_out_base
    from ironlace.stand.base_drawing import cutting_told

    began = time.process_time()
    _check_folders(json, drawing)
    draw = None if drawing is None else _drawing_for(drawing, paper)
    found = work_out_base(read_case(case, BaseCase), np.random.default_rng(_SEED))
    if drawing is not None and draw is not None:
        write_bytes(drawing, draw(found))
    told = base_told(found) | {"cutting_list": cutting_told(found)}
    told |= {"seconds": time.process_time() - began}
    tell(told, json, [*base_in_words(found), *_cautions("lifting", "running parts")])


def crank(case: _CaseFile, json: JsonFile = None) -> None:
    """Say whether a handle held by magnets drives the wheel, or needs a peg against a spoke."""
    from ironlace.cli.case_files import read_case
    from ironlace.stand.crank import CrankCase, crank_in_words, crank_told, work_out_crank

    found = work_out_crank(read_case(case, CrankCase), np.random.default_rng(_SEED))
    said = [*crank_in_words(found), *_cautions("strong magnets", "running parts")]
    tell(crank_told(found), json, said)


def belt(case: _CaseFile, json: JsonFile = None) -> None:
    """Say how long a belt must be and how fast it turns the machine."""
    from ironlace.cli.case_files import read_case
    from ironlace.stand.belt_length import BeltCase, belt_answer, belt_of_case, belt_told

    given = read_case(case, BeltCase)
    found = belt_of_case(given)
    said = [*belt_answer(found).sentences, *_cautions("running parts")]
    tell(belt_told(given, found), json, said)


def outline(
    photo: Annotated[Path, typer.Argument(help="The photograph of the bed with the marker sheet.")],
    strip: Annotated[
        Path, typer.Option(help="CSV of the markers: dictionary,id,corner,x_mm,y_mm.")
    ],
    case: Annotated[Path, typer.Option(help="The case: a TOML file, as the manual shows it.")],
    out: Annotated[Path, typer.Option(help="CSV of the outline, x_mm,y_mm.")],
    json: JsonFile = None,
) -> None:
    """Find a bed's outline in a photograph, lens, perspective and height of the rim removed."""
    from ironlace.cli.case_files import read_case
    from ironlace.photographs.scale_strip import StripLayout
    from ironlace.stand.bed_outline import (
        OutlineCase,
        find_outline,
        outline_csv,
        outline_in_words,
        outline_told,
    )

    _check_folders(json, out)
    given = read_case(case, OutlineCase)
    layout = StripLayout.from_csv(read_text(strip))
    found = find_outline(_picture(photo), layout, given)
    write_bytes(out, outline_csv(found).encode("utf-8"))
    tell(outline_told(found), json, outline_in_words(found))


def _check_folders(*files: str | Path | None) -> None:
    """Refuse a folder that is not there before the first of several files is written."""
    for file in files:
        if file not in (None, "-") and not Path(file).parent.is_dir():
            raise IronlaceError(
                f"{file} cannot be written, its folder is not there: choose another."
            )


def _picture(file: Path) -> Any:
    from ironlace.workshop.ornament.tracing import openers_of

    if not file.is_file():
        raise IronlaceError(f"There is no file {file}: check its name.")
    return next(iter(openers_of([file])))()


def _drawing_for(file: Path, paper: str) -> Any:
    """How a file's ending is drawn; refused before anything is worked out."""
    from ironlace.stand.base_drawing import DRAWN

    ending = file.suffix.lower().removeprefix(".")
    if ending == "pdf":
        from ironlace.dossier.print.base_sheet import base_pdf
        from ironlace.dossier.print.typesetting import paper_called

        sheet = paper_called(paper)
        return lambda found: base_pdf(found, sheet)
    if ending not in DRAWN:
        raise IronlaceError(
            f"{file.name} ends in none of .svg, .dxf and .pdf: give the drawing one of them."
        )
    return DRAWN[ending]


def _cautions(*hazards: str) -> list[str]:
    from ironlace.care.cautions import DEFER, Hazard, caution_for

    said = [caution_for(Hazard(one)).says for one in hazards]
    return [*(f"Caution: {one}" for one in said), DEFER]
