"""Commands for ornament: the scale strip, tracing, drawings at true scale."""

from pathlib import Path
from typing import Annotated, Literal

import typer

from ironlace.cli.answering import (
    HeardSteps,
    JsonFile,
    WorkshopFolder,
    opened,
    progress,
    read_text,
    tell,
    write_bytes,
    write_text,
)
from ironlace.cli.stencil_commands import add_to as add_stencil_commands
from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.photographs.scale_strip import LaidPiece

app = typer.Typer(help="Ornament: from photographs to drawings.", no_args_is_help=True)
add_stencil_commands(app)

Paper = Annotated[Literal["a4", "letter"], typer.Option(help="Paper to print on.")]
Piece = Annotated[
    Literal["frame", "corner", "strip", "wrap"],
    typer.Option(help="Which scale strip: the frame for flat work, the wrap for round."),
]


@app.command()
def strip(
    out: Annotated[Path, typer.Option(help="PDF to write.")],
    piece: Piece = "frame",
    paper: Paper = "a4",
    layout: Annotated[
        Path | None, typer.Option(help="CSV to write the markers' places into.")
    ] = None,
    json: JsonFile = None,
) -> None:
    """Make the printable scale strip, at true scale."""
    from ironlace.dossier import strip_pdf
    from ironlace.photographs import strip_sheet, strip_svg

    sheet = strip_sheet(piece)
    drawn = strip_svg(sheet, "Letter" if paper == "letter" else "A4")
    write_bytes(out, strip_pdf(drawn, paper=paper, made=f"scale strip, {piece}"))
    if layout:
        write_text(layout, sheet.layout.to_csv())
    tell(
        {"pdf": str(out), "layout": str(layout) if layout else None, "piece": piece},
        json,
        [f"{out}: print it at 100 %, and measure the 100 mm bar before you use it."],
    )


@app.command()
def chart(
    out: Annotated[Path, typer.Option(help="PDF to write.")],
    paper: Paper = "a4",
    json: JsonFile = None,
) -> None:
    """Make the chart that a lens is measured with."""
    from ironlace.dossier import strip_pdf
    from ironlace.photographs import strip_sheet, strip_svg

    drawn = strip_svg(strip_sheet("chart"), "Letter" if paper == "letter" else "A4")
    write_bytes(out, strip_pdf(drawn, paper=paper, made="lens chart", chart=True))
    tell(
        {"pdf": str(out)},
        json,
        [f"{out}: print it, fix it flat, and photograph it eight times from different sides."],
    )


@app.command()
def lens(
    photographs: Annotated[list[Path], typer.Argument(help="Photographs of the chart.")],
    out: Annotated[Path, typer.Option(help="JSON to write, for `trace --lens`.")],
    json: JsonFile = None,
) -> None:
    """Measure a lens from photographs of the chart."""
    from ironlace.workshop.ornament.lenses import measure_lens

    for photograph in photographs:
        if not photograph.is_file():
            raise NotFoundError(f"There is no file {photograph}: check its name.")
    found, focal = measure_lens([(path, path.name) for path in photographs])
    write_text(out, found.lens.to_json())
    told = found.as_dict()
    tell(
        {"lens": str(out), "focal_35mm": focal, **told},
        json,
        [
            f"{out}: focal length {found.lens.focal_px[0]:.0f} ± "
            f"{found.lens.focal_off_90_px:.1f} px (90 %).",
            *([found.bowed] if found.bowed else []),
            f"The chart's corners lie {found.rms_px:.2f} px from where it puts them.",
        ],
    )


Measures = Annotated[
    list[Path] | None,
    typer.Option(
        help="CSV of measured places instead of a strip: x_px, y_px, x_mm, y_mm; one for each "
        "photograph."
    ),
]
Lenses = Annotated[
    list[Path] | None,
    typer.Option(help="JSON of a calibrated lens: one for all photographs, or one for each."),
]
AskedFile = Annotated[
    Path | None,
    typer.Option(
        help="JSON of more that is asked for: places pointed at (gilt, ground, colours, region, "
        "axis, step, card), and what each further photograph shows. Options go before it."
    ),
]
Filling = Literal["none", "auto"]


@app.command()
def trace(  # long: the options, each with its help, are the manual
    photographs: Annotated[list[Path], typer.Argument(help="Photographs with the strip in them.")],
    out: Annotated[Path, typer.Option(help="SVG to write, in mm.")],
    strip: Annotated[
        Path | None, typer.Option(help="CSV with the places of the strip's markers.")
    ] = None,
    piece: Annotated[
        LaidPiece | None, typer.Option(help="Which scale strip: frame where it is not said.")
    ] = None,
    strip_measures: Annotated[
        str | None,
        typer.Option(
            help="What the strip itself measures over its outermost markers along its longer side, "
            "such as '248.0 ± 0.2 mm'; if it is not said, the answer says so."
        ),
    ] = None,
    places: Measures = None,
    radius: Annotated[
        float | None, typer.Option(help="Measured radius in mm, with --places on round work.")
    ] = None,
    dpi: Annotated[
        float | None, typer.Option(help="It is a flatbed scan, with so many dots to the inch.")
    ] = None,
    rubbing: Annotated[
        bool, typer.Option(help="The scan is of a rubbing or an inked tracing.")
    ] = False,
    lens: Lenses = None,
    surface: Annotated[
        Literal["auto", "plane", "cylinder", "cone"] | None,
        typer.Option(help="Shape of the surface: as the strip's markers tell where not said."),
    ] = None,
    mirror: Annotated[
        Filling | None,
        typer.Option(help="Fill losses from the ornament's own mirror image, if it has one."),
    ] = None,
    repeat: Annotated[
        Filling | None,
        typer.Option(help="Fill losses of a border from where its motif comes again."),
    ] = None,
    bridges: Annotated[
        bool | None,
        typer.Option(
            "--bridges/--no-bridges",
            help="Carry strokes over gaps that nothing fills, as conjecture, or leave them open.",
        ),
    ] = None,
    upright: Annotated[
        bool | None,
        typer.Option(
            "--upright/--as-it-lies",
            help="Turn the drawing until the mirror axis that is found stands plumb or lies level, "
            "or leave it as the strip lies.",
        ),
    ] = None,
    tolerance: Annotated[
        float | None,
        typer.Option(help="How far in mm a curve may stray from the contour; 0.04 if not said."),
    ] = None,
    asked: AskedFile = None,
    machine: Annotated[
        str | None,
        typer.Option(
            help="Keep the drawing in this machine's record too; its photographs are taken in."
        ),
    ] = None,
    workshop: WorkshopFolder = Path(),
    json: JsonFile = None,
) -> None:
    """Trace gilt ornament to a drawing in mm, from one or more photographs."""
    from ironlace.cli.trace_files import asked_of_files, photographs_of_files
    from ironlace.ornament import TRACE, trace_photographs, traced_svg
    from ironlace.workshop.ornament.tracing import keep_traced_files

    wanted = asked_of_files(
        photographs,
        asked,
        lenses=lens or [],
        layout=strip,
        places=places or [],
        scan=(dpi, rubbing),
        strip=piece,
        surface=surface,
        strip_mm=strip_measures,
        radius_mm=radius,
        mirror=None if mirror is None else mirror == "auto",
        repeat=None if repeat is None else repeat == "auto",
        bridges=bridges,
        upright=upright,
        tolerance_mm=tolerance,
    )
    given = photographs_of_files(photographs)
    if machine:  # a machine that is not there is told before the work
        with opened(workshop) as found:
            found.records.read(machine)
    with progress() as report:
        traced = trace_photographs(given, wanted, HeardSteps(report))
    write_text(out, traced_svg(traced))
    kept = None
    if machine:
        with opened(workshop) as found:
            kept = keep_traced_files(found, machine, photographs, wanted, traced)
    answer = TRACE.answer(traced)
    drawn = traced.report["drawing"]
    tell(
        {"file": str(out), **({"kept": kept} if kept else {}), **answer.as_dict()},
        json,
        [
            *answer.sentences,
            f"{out}: {drawn['nodes']} points, {traced.flat.px_per_mm:.1f} pixels to the mm.",
            *([f"It is kept as {kept} of {machine}."] if kept else []),
            *(
                f"{grade}: {length:.0f} mm"
                for grade, length in drawn["length_by_grade_mm"].items()
                if length > 0
            ),
        ],
    )


@app.command("print")
@app.command("sheet", hidden=True)  # its earlier name
def sheet(
    drawing: Annotated[Path, typer.Argument(help="SVG in mm.")],
    out: Annotated[Path, typer.Option(help="PDF to write.")],
    paper: Paper = "a4",
    title: str = "",
    json: JsonFile = None,
) -> None:
    """Print a drawing at true scale, on pages with overlaps and a 100 mm bar."""
    from ironlace.dossier import true_scale_pdf

    content = true_scale_pdf(
        read_text(drawing), paper=paper, title=title or drawing.stem, made=drawing.name
    )
    write_bytes(out, content)
    tell(
        {"pdf": str(out), "paper": paper},
        json,
        [f"{out}: print it at 100 %, and measure the 100 mm bar before you use it."],
    )


@app.command()
def film(
    drawing: Annotated[Path, typer.Argument(help="SVG in mm.")],
    out: Annotated[Path, typer.Option(help="PNG or TIFF to write, by its ending.")],
    dpi: Annotated[int, typer.Option(help="Dots to the inch, 300 to 4800.")] = 1200,
    colour: Annotated[str | None, typer.Option(help="One colour alone.")] = None,
    layer: Annotated[str | None, typer.Option("--layer", hidden=True)] = None,
    json: JsonFile = None,
) -> None:
    """Write a drawing as a film positive: one bit, black where there is gilt, at true scale."""
    from ironlace.ornament.files.drawing_film import film_of_drawing
    from ironlace.ornament.files.drawing_svg import read_drawing_svg

    kinds = {".png": "png", ".tif": "tiff", ".tiff": "tiff"}
    kind = kinds.get(out.suffix.lower())
    if kind is None:
        raise IronlaceError(f"{out.name} is no film file: let its name end in .png or .tif.")
    read, notices = read_drawing_svg(read_text(drawing))
    alone = colour or layer  # the option's earlier name
    write_bytes(out, b"".join(film_of_drawing(read, dpi, layer=alone, kind=kind)))
    tell(
        {"film": str(out), "dpi": dpi, "colour": alone, "layer": alone, "notices": list(notices)},
        json,
        [f"{out}: {dpi} dots to the inch.", *notices],
    )


@app.command()
def wrapped(
    drawing: Annotated[Path, typer.Argument(help="SVG in mm, unrolled.")],
    out: Annotated[Path, typer.Option(help="SVG to write.")],
    radius: Annotated[float, typer.Option(help="Radius of the arm or pillar, mm.")],
    axis: Annotated[
        float, typer.Option(help="Direction of its axis on the sheet, degrees from x towards y.")
    ] = 90.0,
    half_angle: Annotated[
        float, typer.Option(help="Half angle of a cone, degrees; 0 is a cylinder.")
    ] = 0.0,
    turn: Annotated[float, typer.Option(help="How far it is turned about its axis, degrees.")] = 0,
    json: JsonFile = None,
) -> None:
    """Show a drawing as it will look on an arm or a pillar."""
    import math

    from ironlace.ornament.files.drawing_svg import read_drawing_svg
    from ironlace.ornament.files.wrapped import wrapped_svg
    from ironlace.photographs import Round

    if not 1.0 <= radius <= 10_000 or not -35 <= half_angle <= 35:
        raise IronlaceError(
            "A radius of 1 to 10000 mm and a half angle within 35 degrees is needed."
        )
    if not (math.isfinite(axis) and math.isfinite(turn)):
        raise IronlaceError("The axis and the turn are angles: give each in degrees.")
    read, notices = read_drawing_svg(read_text(drawing))
    left, top, right, bottom = read.bounds_mm
    middle = ((left + right) / 2, (top + bottom) / 2)
    taper = math.sin(math.radians(half_angle))
    surface = Round(middle, radius, math.radians(axis), taper)
    write_text(out, wrapped_svg(read, surface, turn))
    tell(
        {"svg": str(out), "turn_deg": turn, "notices": list(notices)},
        json,
        [f"{out}: seen square to the axis.", *notices],
    )


@app.command()
def dxf(
    drawing: Annotated[Path, typer.Argument(help="SVG in mm.")],
    out: Annotated[Path, typer.Option(help="DXF to write.")],
    json: JsonFile = None,
) -> None:
    """Write a drawing as DXF: each outline one closed spline, exactly the same curve."""
    from ironlace.ornament.files.drawing_dxf import drawing_dxf
    from ironlace.ornament.files.drawing_svg import read_drawing_svg

    read, notices = read_drawing_svg(read_text(drawing))
    write_text(out, drawing_dxf(read))
    tell(
        {"dxf": str(out), "outlines": len(read.paths), "notices": list(notices)},
        json,
        [f"{out}: {len(read.paths)} closed splines, in mm.", *notices],
    )


@app.command()
def regrade(
    edited: Annotated[Path, typer.Argument(help="SVG as it came back from an editor.")],
    original: Annotated[Path, typer.Argument(help="SVG as it was traced.")],
    out: Annotated[Path, typer.Option(help="SVG to write.")],
    json: JsonFile = None,
) -> None:
    """Give the untouched stretches of an edited drawing their grades back."""
    from ironlace.ornament import drawing_from_svg, drawing_svg
    from ironlace.ornament.files.drawing_svg import read_drawing_svg
    from ironlace.ornament.outline.regrade import regrade as graded_again

    came, notices = read_drawing_svg(read_text(edited))
    told = graded_again(came, drawing_from_svg(read_text(original)))
    write_text(out, drawing_svg(told, evidence=True))
    lengths = {str(grade): length for grade, length in told.length_by_grade().items()}
    tell(
        {"drawing": str(out), "length_by_grade_mm": lengths, "notices": list(notices)},
        json,
        [*(f"{grade}: {length:.0f} mm" for grade, length in lengths.items() if length), *notices],
    )


@app.command()
def agree(
    first: Annotated[Path, typer.Argument(help="SVG in mm.")],
    second: Annotated[Path, typer.Argument(help="SVG in mm, in the same coordinates.")],
    json: JsonFile = None,
) -> None:
    """Measure how far the outlines of two drawings lie apart."""
    from ironlace.ornament import compare, drawing_from_svg

    found = compare(drawing_from_svg(read_text(first)), drawing_from_svg(read_text(second)))
    tell(
        {"mean_mm": found.mean_mm, **found.as_dict()},
        json,
        [
            f"The outlines lie {found.mean_mm:.3f} mm apart on average; "
            f"95 % within {max(found.forth.p95_mm, found.back.p95_mm):.3f} mm."
        ],
    )
