"""Commands for the stitch-out: a seam measured, and two compared."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ironlace.cli.answering import JsonFile, read_text, tell, write_bytes
from ironlace.evidence.errors import IronlaceError, NotFoundError

if TYPE_CHECKING:
    from ironlace.running.seam.bearing import Origin
    from ironlace.running.seam.seam_measured import Scale
    from ironlace.running.seam.seam_picture import SeamPicture

LEAST_FILE_DPI = 150.0
"""Cameras and editors write 72 or 96 dots to the inch for want of any; a scan has more."""


def add_to(app: typer.Typer) -> None:
    """Add the commands to the group of running."""
    app.command()(seam)
    app.command()(seams)


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
    from ironlace.running.seam.bearing import Bearing, bearing
    from ironlace.running.seam.seam_measured import measure_seam
    from ironlace.running.seam.seam_told import seam_figures, seam_overlay, seam_sentences

    if (dpi is None) == (strip is None):
        raise IronlaceError(
            "The picture's scale is needed, one way: --dpi for a scan, --strip LAYOUT.csv for a "
            "photograph with the scale strip in it."
        )
    if picture is not None and picture.suffix.lower() != ".png":
        raise IronlaceError(f"The overlay is a PNG: {picture} does not end in .png.")
    if not scan.is_file():
        raise NotFoundError(f"There is no file {scan}: check its name.")
    shown, scale, origin, why = _read(scan, dpi, strip)
    found = measure_seam(shown, scale)
    judged = bearing(found, origin, dpi)
    judged = Bearing((*why, *judged.why), judged.notices)
    if picture is not None:
        write_bytes(picture, _png(seam_overlay(shown, found)))
    said = seam_sentences(found, judged)
    tell(dict(seam_figures(found, judged)), json, said)


def seams(
    before: Annotated[Path, typer.Argument(help="JSON of the first seam, from running seam.")],
    after: Annotated[Path, typer.Argument(help="JSON of the second.")],
    json: JsonFile = None,
) -> None:
    """Compare two measured seams: length, evenness and skips, beyond chance or not."""
    from ironlace.running.seam.two_seams import compare_seams, comparison_sentences, read_seam

    found = compare_seams(read_seam(read_text(before)), read_seam(read_text(after)))
    tell(
        {
            "reliable": found.reliable,
            "difference_mm": list(found.difference_mm),
            "length_chance": found.length_chance,
            "cv": list(found.cv),
            "evenness_chance": found.evenness_chance,
            "skipped": list(found.skipped),
            "skip_chance": found.skip_chance,
        },
        json,
        comparison_sentences(found),
    )


def _read(
    scan: Path, dpi: float | None, strip: Path | None
) -> "tuple[SeamPicture, Scale, Origin, tuple[str, ...]]":
    """The picture laid flat, its scale, where it came from, and what speaks against it already."""
    from ironlace.photographs import StripLayout
    from ironlace.running.seam.bearing import Origin
    from ironlace.running.seam.seam_by_strip import seam_by_strip
    from ironlace.running.seam.seam_measured import Scale
    from ironlace.running.seam.seam_picture import SeamPicture
    from ironlace.workshop.store.intake import examine, pixels

    layout = None if strip is None else StripLayout.from_csv(read_text(strip))
    told = examine(scan, scan.name)
    origin = Origin(_file_dpi(scan), told.focal_mm is not None or told.focal_35mm is not None)
    if layout is None:
        assert dpi is not None
        return SeamPicture(pixels(scan), dpi / 25.4), Scale("dpi"), origin, ()
    shown, scale, why = seam_by_strip(pixels(scan), layout, told.focal_35mm)
    return shown, scale, origin, why


def _file_dpi(scan: Path) -> float | None:
    """The resolution that a file gives of itself, None where it gives none worth the name."""
    from PIL import Image

    try:
        with Image.open(scan) as opened:
            told = opened.info.get("dpi")
    except OSError:  # a camera's raw file, which intake reads otherwise
        return None
    across = float(told[0]) if told else 0.0
    return across if across >= LEAST_FILE_DPI else None


def _png(pixels: object) -> bytes:
    import cv2
    import numpy as np

    done, data = cv2.imencode(".png", np.asarray(pixels, np.uint8)[..., ::-1])
    if not done:
        raise IronlaceError("The overlay could not be made into a PNG: choose another picture.")
    return bytes(data)
