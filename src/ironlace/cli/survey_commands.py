"""Commands for the survey: what serial numbers say, and how sure."""

from pathlib import Path
from typing import Annotated

import typer

from ironlace.cli.analysis_groups import OfAnalyses
from ironlace.cli.answering import (
    Columns,
    JsonFile,
    read_text,
    renamed,
    tell,
    write_bytes,
    write_text,
)
from ironlace.evidence.errors import ConflictError
from ironlace.evidence.written_dates import read_day
from ironlace.workshop.survey.reports_out import Places, without_people
from ironlace.workshop.survey.tables_in import table_text

app = typer.Typer(
    cls=OfAnalyses, help="Survey: what serial numbers say, and how sure.", no_args_is_help=True
)

Reports = Annotated[
    Path, typer.Argument(help="CSV, TSV or XLSX; only the columns id and mark are needed.")
]


@app.command()
def find(
    text: Annotated[Path, typer.Argument(help="Text with numbers in it, such as a pasted thread.")],
    like: Annotated[
        str, typer.Option(help="A mark that such numbers are built like: a gap then cuts none.")
    ] = "",
    json: JsonFile = None,
) -> None:
    """Find what may be serial numbers in a text; nothing counts until you say so."""
    from ironlace.survey.reports.as_struck import read_mark
    from ironlace.survey.reports.pasted_text import find_serials

    found = find_serials(read_text(text), read_mark(like) if like.strip() else None)
    tell(
        {
            "found": [
                {
                    "mark": str(one.mark),
                    "as_written": one.text,
                    "line": one.line,
                    "before": one.before,
                    "after": one.after,
                    "doubts": list(one.doubts),
                    "fits": one.fits,
                    "dated": one.dated.date.text if one.dated else None,
                }
                for one in found
            ]
        },
        json,
        [f"line {one.line}: {one.mark}   {one.before}[{one.text}]{one.after}" for one in found]
        or ["Nothing in it looks like a serial number."],
    )


@app.command()
def publish(
    reports: Reports,
    out: Annotated[
        Path, typer.Option(help="CSV to write, its metadata beside it; or one ZIP with both.")
    ],
    title: Annotated[str, typer.Option(help="What the survey is called.")],
    compiled_by: Annotated[str, typer.Option(help="Who compiled it, as it may be cited.")],
    issued: Annotated[str, typer.Option(help="Day of issue, such as 1 June 2025.")],
    licence: Annotated[
        str, typer.Option(help="Address of the licence.")
    ] = "https://creativecommons.org/licenses/by/4.0/",
    places: Annotated[Places, typer.Option(help="How much of each place goes out.")] = Places.NONE,
    notes: Annotated[
        bool,
        typer.Option("--notes", help="Remarks and further columns go out too: read them first."),
    ] = False,
    column: Columns = None,
    json: JsonFile = None,
) -> None:
    """Write a survey as open data: CSV with CSVW metadata, a licence and a citation line."""
    from ironlace.survey.reports.table import read_reports
    from ironlace.survey.sharing.open_data import About
    from ironlace.survey.sharing.open_data import publish as publish_reports
    from ironlace.survey.sharing.survey_zip import zipped

    about = About(
        title=title, compiled_by=compiled_by, issued=read_day(issued).isoformat(), licence=licence
    )
    metadata = _metadata_beside(out)
    table = read_reports(table_text(reports, renamed(column)))
    seen = [without_people(report, places, notes=notes) for report in table.reports]
    if metadata is None:
        write_bytes(out, zipped(seen, about))
        told = f"{out} can be published."
    else:
        published = publish_reports(seen, about, csv_name=out.name)
        write_text(out, published.csv)
        write_text(metadata, published.metadata)
        told = f"{out} and {metadata.name} can be published."
    cited = about.citation(len(seen))
    tell(
        {
            ("csv" if metadata else "zip"): str(out),
            "metadata": str(metadata) if metadata else None,
            "reports": len(seen),
            "cite_as": cited,
        },
        json,
        [*table.sentences(), f"{told} Places: {places.value}. Cite as: {cited}"],
    )


def _metadata_beside(out: Path) -> Path | None:
    """Where the metadata go: into a zip itself, else beside the table; neither may be there yet."""
    metadata = None if out.suffix.lower() == ".zip" else out.with_name(f"{out.name}-metadata.json")
    for file in filter(None, (out, metadata)):
        if file.exists():
            raise ConflictError(f"{file} is there already: choose another name.")
    return metadata


@app.command("merge", hidden=True)
@app.command("join")
def join(
    first: Reports,
    second: Reports,
    out: Annotated[Path, typer.Option(help="CSV to write.")],
    json: JsonFile = None,
) -> None:
    """Join two surveys; differences are shown, and it ends with 1 when there are any."""
    from ironlace.survey.reports.table import read_reports, write_reports
    from ironlace.survey.sharing.open_data import merge as merge_reports

    if out.exists():
        raise ConflictError(f"{out} is there already: choose another name.")
    tables = [read_reports(table_text(file)) for file in (first, second)]
    merged = merge_reports(tables[0].reports, tables[1].reports)
    aside = [
        {"file": str(file), "line": row.line, "reason": row.reason}
        for file, table in zip((first, second), tables, strict=True)
        for row in table.set_aside
    ]
    write_text(out, write_reports(merged.reports))
    told = {
        "csv": str(out),
        "reports": len(merged.reports),
        "conflicts": [
            {"id": c.id, "column": c.column, "first": c.first, "second": c.second}
            for c in merged.conflicts
        ],
        "renamed": [list(pair) for pair in merged.renamed],
        "same_machine": [[first_id, second_id] for first_id, second_id, _ in merged.same_machine],
        "set_aside": aside,
    }
    lost = [f"{row['file']}, line {row['line']} set aside: {row['reason']}" for row in aside]
    tell(told, json, [*merged.sentences(), *lost, f"Written: {out}"])
    if merged.conflicts:
        raise typer.Exit(1)
