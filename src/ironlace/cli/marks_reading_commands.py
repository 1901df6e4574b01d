"""Commands that read what is struck in the metal, and compare two readers."""

from pathlib import Path
from typing import Annotated

import typer

from ironlace.cli.answering import JsonFile, angles_in, read_text, tell, write_text
from ironlace.evidence.errors import ConflictError, IronlaceError

Places = Annotated[
    Path | None,
    typer.Option(
        help="CSV of places: kind (digit or gap), row, index, x_px, y_px, height_px.",
        show_default=False,
    ),
]
Shapes = Annotated[
    Path | None,
    typer.Option(
        help="Folder with a black-on-white PNG or SVG of each punch, such as 0.png.",
        show_default=False,
    ),
]
BaseRate = Annotated[
    float | None,
    typer.Option(
        help="Share of gaps that hold a struck dot, on plates like this; without it the plate's "
        "own gaps tell.",
        show_default=False,
    ),
]
Glyphs = Annotated[str, typer.Option(help="What may stand there.")]
Labels = Annotated[
    Path | None,
    typer.Option(
        help="CSV of clear strikes as you read them (mark, row, index, glyph).",
        show_default=False,
    ),
]
ReportFile = Annotated[
    Path | None,
    typer.Option(
        help="CSV to write for the survey: the mark with all its doubts, and its strings.",
        show_default=False,
    ),
]


def add_to(app: typer.Typer) -> None:
    """Add the commands to the group of marks."""
    app.command()(read)
    app.command()(photo)
    app.command()(agree)


def read(
    folder: Annotated[Path, typer.Argument(help="Folder with a relief, made by marks relief.")],
    json: JsonFile = None,
    places: Places = None,
    shapes: Shapes = None,
    base_rate: BaseRate = None,
    glyphs: Glyphs = "0123456789",
    labels: Labels = None,
    report: ReportFile = None,
) -> None:
    """Read digits and dots off a relief: every place in its doubts, and strings with chances."""
    from ironlace.workshop.marks.reading import Asked, read_folder

    _refuse_taken(report)
    found = read_folder(folder, Asked(places, shapes, base_rate, glyphs, labels))
    if report:
        write_text(report, found.report_csv())
    tell(found.as_dict(), json, [*found.sentences(), *_written(report)])


def photo(
    photograph: Annotated[Path, typer.Argument(help="One photograph under raking light.")],
    light: Annotated[
        str,
        typer.Option(
            metavar="AZIMUTH,ELEVATION",
            help="Where the torch stood, degrees: from the right over the top; above the plate.",
        ),
    ],
    json: JsonFile = None,
    places: Places = None,
    shapes: Shapes = None,
    base_rate: BaseRate = None,
    glyphs: Glyphs = "0123456789",
    report: ReportFile = None,
) -> None:
    """Read a single raking photograph: best effort, with wider doubts than a relief leaves."""
    from ironlace.workshop.marks.reading import Asked, read_one_photograph

    _refuse_taken(report)
    azimuth, elevation = _light(light)
    asked = Asked(places, shapes, base_rate, glyphs)
    found = read_one_photograph(photograph, azimuth, elevation, asked)
    if report:
        write_text(report, found.report_csv())
    tell(found.as_dict(), json, [*found.sentences(), *_written(report)])


def agree(
    reader_a: Annotated[Path, typer.Argument(help="CSV: mark, row, index, glyph.")],
    reader_b: Annotated[Path, typer.Argument(help="The same places, read by another.")],
    json: JsonFile = None,
) -> None:
    """Compare two readers beyond chance: Cohen's kappa with its 95 % interval."""
    from ironlace.marks.reading.agreement import agreement
    from ironlace.workshop.marks.reading_files import read_reader

    found = agreement(
        read_reader(read_text(reader_a), str(reader_a)),
        read_reader(read_text(reader_b), str(reader_b)),
    )
    said = (
        f"Cohen's kappa {found.kappa:.2f}, 95 % interval {found.low:.2f} to {found.high:.2f}."
        if found.kappa is not None
        else "Both know but one glyph, so chance alone agrees: kappa has no value."
    )
    tell(
        {
            "n": found.n,
            "agree": found.agree,
            "kappa": found.kappa,
            "low": found.low,
            "high": found.high,
        },
        json,
        [f"{found.n} places read by both, {found.agree:.0%} alike. {said}"],
    )


def _light(text: str) -> tuple[float, float]:
    azimuth, elevation = angles_in(text, "--light", "135,25")
    if not 0 < elevation < 90:
        raise IronlaceError(
            f"The torch stood {elevation:g} degrees above the plate: between 0 and 90 are needed, "
            "and below 35 to see worn marks."
        )
    return azimuth, elevation


def _refuse_taken(report: Path | None) -> None:
    if report is not None and report.exists():
        raise ConflictError(f"{report} is there already: choose another name.")


def _written(report: Path | None) -> list[str]:
    return [] if report is None else [f"Written for the survey: {report}"]
