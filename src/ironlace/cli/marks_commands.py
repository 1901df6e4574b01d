"""Commands for marks: a plate's relief from photographs under a moved torch, and their check."""

import time
from pathlib import Path
from typing import Annotated, Literal

import typer

from ironlace.cli.answering import JsonFile, angles_in, progress, read_text, tell, write_bytes
from ironlace.evidence.errors import ConflictError, IronlaceError

app = typer.Typer(help="Marks: what is struck in the metal.", no_args_is_help=True)

Photographs = Annotated[
    list[Path],
    typer.Argument(
        help="Photographs of one plate, camera fixed, torch moved; the first is the grid."
    ),
]


@app.command()
def relief(  # long: the options, each with its help, are the manual
    photographs: Photographs,
    out: Annotated[Path, typer.Option(help="Folder to write into.")],
    balls: Annotated[
        Path | None, typer.Option(help="JSON of the balls' outlines in the first photograph.")
    ] = None,
    lights: Annotated[
        Path | None,
        typer.Option(help="CSV of the torch's places: file,x_mm,y_mm,z_mm or angles."),
    ] = None,
    uncalibrated: Annotated[
        bool,
        typer.Option(
            "--uncalibrated", help="Guess the torch's places from the plate: shapes, not depths."
        ),
    ] = False,
    ball_mm: Annotated[
        float | None, typer.Option(help="Diameter of the balls that are searched for.")
    ] = None,
    mm_per_px: Annotated[float | None, typer.Option(help="Scale of the photographs.")] = None,
    encoding: Annotated[
        Literal["linear", "srgb"] | None,
        typer.Option(help="How numbers stand for light; decided from the photographs otherwise."),
    ] = None,
    json: JsonFile = None,
) -> None:
    """Work out a plate's normals, albedo and height."""
    from ironlace.marks.capture.capturing import CaptureAsked
    from ironlace.marks.relief.plate_relief import plate_of
    from ironlace.workshop.marks.relief_files import (
        balls_in,
        folder_for_relief,
        frames_of_files,
        lights_in,
        names_of,
        peak_mb,
        relief_told,
        write_relief,
    )
    from ironlace.workshop.store.originals import sha256_of

    begun = time.perf_counter()
    if (balls is not None) + (lights is not None) + uncalibrated > 1:
        raise IronlaceError(
            "Of --balls, --lights and --uncalibrated more than one was given: give one of them."
        )
    for value, words in ((ball_mm, "--ball-mm"), (mm_per_px, "--mm-per-px")):
        if value is not None and not 0 < value < 1000:
            raise IronlaceError(f"{words} is {value:g}: a length above 0 mm is needed.")
    scale, given = balls_in(read_text(balls)) if balls else (None, None)
    places = lights_in(read_text(lights), names_of(photographs)) if lights else None
    with folder_for_relief(out) as folder, progress() as heard:
        found, made = plate_of(
            frames_of_files(photographs),
            CaptureAsked(
                balls=given,
                ball_mm=ball_mm,
                mm_per_px=mm_per_px if mm_per_px is not None else scale,
                lights=places,
            ),
            encoding=encoding,
            uncalibrated=uncalibrated,
            heard=heard,
        )
        told = relief_told(
            names_of(photographs),
            found,
            made,
            time.perf_counter() - begun,
            peak_mb(),
            [sha256_of(file) for file in photographs],
        )
        write_relief(folder, made, told)
    used = len(found.used)
    least, most = made.slope_gain.depth_times
    tell(
        told,
        json,
        [
            *made.notices,
            f"{out}: relief from {used} of {len(photographs)} photographs, "
            f"{100 * made.coverage:.1f} % of the plate known.",
            f"True depths and slopes are {least:.2f} to {most:.2f} times those told (90 %).",
            *(
                f"{one['file']} was left out: {one['why']}."
                for one in told["frames"]
                if not one["used"]
            ),
        ],
    )


@app.command()
def check(photographs: Photographs, json: JsonFile = None) -> None:
    """Check photographs just taken: sharp, still, lit from all round, balls large enough."""
    from ironlace.marks.capture.live_check import live_check
    from ironlace.workshop.marks.relief_files import check_told, frames_of_files

    looked = live_check(frames_of_files(photographs))
    good = "They will do." if looked.enough else "They will not do yet."
    tell(check_told(looked), json, [*looked.faults, good])


@app.command()
def view(
    folder: Annotated[Path, typer.Argument(help="Folder with a relief, made by marks relief.")],
    out: Annotated[Path, typer.Option(help="PNG to write.")],
    torch: Annotated[
        str,
        typer.Option(
            metavar="AZIMUTH,ELEVATION",
            help="Where the torch stands, degrees: from the right over the top; above the plate.",
        ),
    ] = "135,15",
    look: Annotated[
        Literal["raking", "relief", "curvature", "depth"],
        typer.Option(
            help="The metal under the torch, its form alone, edges and hollows, or depth."
        ),
    ] = "raking",
    px: Annotated[
        int | None,
        typer.Option(help="Longer side in pixels; the whole relief otherwise.", show_default=False),
    ] = None,
    json: JsonFile = None,
) -> None:
    """Look at a relief under a torch from any side; the PNG says how it was made."""
    from ironlace.marks.seeing.relighting import Torch
    from ironlace.workshop.marks.plate_views import View, view_of

    if out.exists():
        raise ConflictError(f"{out} is there already: choose another name.")
    made = view_of(folder, View(look, Torch(*angles_in(torch, "--torch", "135,15")), px))
    write_bytes(out, made.png)
    tell(made.told, json, [made.told["description"], f"Written: {out}"])
