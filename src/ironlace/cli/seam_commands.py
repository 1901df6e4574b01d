"""Commands for the stitch-out: a seam measured, and two compared."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ironlace.cli.answering import JsonFile, read_text, tell, write_bytes
from ironlace.evidence.errors import IronlaceError, NotFoundError

if TYPE_CHECKING:
    from ironlace.running.seam.seam_analysis import SeamFound


def add_to(app: typer.Typer) -> None:
    """Add the commands to the group of running."""
    app.command()(seam)
    app.command()(seams)
    app.command()(balance)


def seam(
    scan: Annotated[Path, typer.Argument(help="Scan or photograph of a test seam.")],
    json: JsonFile = None,
    dpi: Annotated[
        float | None, typer.Option(help="Dots to the inch, for a scan.", show_default=False)
    ] = None,
    strip: Annotated[
        Path | None,
        typer.Option(
            help="CSV with the places of the strip's markers, for a photograph.",
            show_default=False,
        ),
    ] = None,
    picture: Annotated[
        Path | None,
        typer.Option(
            help="PNG to write: every end marked on the picture, doubtful ones dotted.",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Measure a test seam: every stitch, how even, what was skipped, and whether to believe it."""
    from ironlace.running.seam.seam_told import seam_figures, seam_overlay, seam_sentences

    _check_scale(dpi, strip)
    if picture is not None and picture.suffix.lower() != ".png":
        raise IronlaceError(f"The overlay is a PNG: {picture} does not end in .png.")
    found = _measured(scan, dpi, strip)
    if picture is not None:
        write_bytes(picture, _png(seam_overlay(found.picture, found.measured)))
    said = seam_sentences(found.measured, found.judged)
    tell(dict(seam_figures(found.measured, found.judged)), json, said)


def seams(
    before: Annotated[Path, typer.Argument(help="JSON of the first seam, from running seam.")],
    after: Annotated[Path, typer.Argument(help="JSON of the second.")],
    json: JsonFile = None,
) -> None:
    """Compare two measured seams: length, evenness and skips, beyond chance or not."""
    from ironlace.running.seam.two_seams import read_seam
    from ironlace.running.seam.two_seams_analysis import two_compared, two_seams_answer

    found = two_compared(read_seam(read_text(before)), read_seam(read_text(after)))
    answer = two_seams_answer(found)
    tell(answer.as_dict(), json, list(answer.sentences))


def balance(
    upper: Annotated[Path, typer.Argument(help="Scan or photograph of the upper side.")],
    under: Annotated[Path, typer.Argument(help="The same seam from the under side.")],
    json: JsonFile = None,
    dpi: Annotated[
        float | None, typer.Option(help="Dots to the inch, for scans.", show_default=False)
    ] = None,
    strip: Annotated[
        Path | None,
        typer.Option(
            help="CSV with the places of the strip's markers, for photographs.",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Tell where in the cloth the threads lock, from both sides of one seam."""
    from ironlace.running.seam.balance_analysis import balance_answer, balance_of

    _check_scale(dpi, strip)
    found = balance_of(*(_measured(side, dpi, strip) for side in (upper, under)))
    answer = balance_answer(found)
    tell(answer.as_dict(), json, list(answer.sentences))


def _check_scale(dpi: float | None, strip: Path | None) -> None:
    if (dpi is None) == (strip is None):
        raise IronlaceError(
            "The picture's scale is needed, one way: --dpi for a scan, --strip LAYOUT.csv for a "
            "photograph with the scale strip in it."
        )


def _measured(scan: Path, dpi: float | None, strip: Path | None) -> "SeamFound":
    """The seam in a file, by the way that a kept photograph goes too."""
    from ironlace.photographs import StripLayout
    from ironlace.running.seam.bearing import Origin
    from ironlace.running.seam.seam_analysis import seam_found
    from ironlace.workshop.seams import file_dpi
    from ironlace.workshop.store.intake import examine, pixels

    if not scan.is_file():
        raise NotFoundError(f"There is no file {scan}: check its name.")
    layout = None if strip is None else StripLayout.from_csv(read_text(strip))
    told = examine(scan, scan.name)
    origin = Origin(file_dpi(scan), told.focal_mm is not None or told.focal_35mm is not None)
    return seam_found(pixels(scan), origin, dpi=dpi, layout=layout, focal_35mm=told.focal_35mm)


def _png(pixels: object) -> bytes:
    import cv2
    import numpy as np

    done, data = cv2.imencode(".png", np.asarray(pixels, np.uint8)[..., ::-1])
    if not done:
        raise IronlaceError("The overlay could not be made into a PNG: choose another picture.")
    return bytes(data)
