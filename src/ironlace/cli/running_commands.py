"""Commands for the running of a machine: the degree disc; others follow from the analyses."""

from pathlib import Path
from typing import Annotated, Literal

import typer

from ironlace.cli.analysis_groups import OfAnalyses
from ironlace.cli.answering import JsonFile, tell, write_bytes, write_text
from ironlace.evidence.errors import ConflictError, IronlaceError

app = typer.Typer(
    cls=OfAnalyses,
    help="Running: motion and timing, tension, needles and thread.",
    no_args_is_help=True,
)


@app.command()
def disc(
    out: Annotated[Path, typer.Option(help="SVG or PDF to write, by its ending.")],
    diameter: Annotated[float, typer.Option(help="Of the disc, mm.")] = 120.0,
    hole: Annotated[float, typer.Option(help="Of the hole for the axle, mm.")] = 8.0,
    numbered: Annotated[
        Literal["clockwise", "anticlockwise"], typer.Option(help="Way in which its numbers run.")
    ] = "clockwise",
    paper: Annotated[Literal["a4", "letter"], typer.Option(help="Paper.")] = "a4",
    json: JsonFile = None,
) -> None:
    """Draw the degree disc for the hand wheel, at true scale."""
    from ironlace.running.degree_disc import DegreeDisc, degree_disc_svg

    kind = out.suffix.lower()
    if kind not in (".svg", ".pdf"):
        raise IronlaceError(f"{out} is no name of an SVG or a PDF: end it in .svg or .pdf.")
    if out.exists():
        raise ConflictError(f"{out} is there already: choose another name.")
    drawn = DegreeDisc(diameter, hole, numbered, paper)
    if kind == ".pdf":
        from ironlace.dossier.print.disc_pdf import disc_pdf

        write_bytes(out, disc_pdf(drawn))
    else:
        write_text(out, degree_disc_svg(drawn))
    tell(
        {kind[1:]: str(out), "diameter_mm": diameter, "hole_mm": hole, "numbered": numbered},
        json,
        [f"{out}: print it at 100 %, and measure the 100 mm bar before you use it."],
    )
