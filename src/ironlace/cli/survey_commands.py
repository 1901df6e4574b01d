"""Commands for the survey: what serial numbers say, and how sure."""

from datetime import date as date_type
from pathlib import Path
from typing import Annotated

import typer

from ironlace.cli.answering import JsonFile, read_text, tell, write_bytes, write_text
from ironlace.evidence.errors import ConflictError, IronlaceError
from ironlace.workshop.survey.reports_out import Places, coarse_place
from ironlace.workshop.survey.tables_in import table_text

app = typer.Typer(help="Survey: what serial numbers say, and how sure.", no_args_is_help=True)

Reports = Annotated[
    Path, typer.Argument(help="CSV, TSV or XLSX; only the columns id and mark are needed.")
]
Schemes = Annotated[
    Path | None,
    typer.Option(help="Theories of the numbering, one a line; else those of the period."),
]
Columns = Annotated[
    list[str] | None,
    typer.Option(
        "--column",
        metavar="OURS=THEIRS",
        help="A column that is named otherwise in the file, such as mark=Serial; repeat it.",
    ),
]
Seed = Annotated[int, typer.Option(help="Seed of the random numbers, for the same answer again.")]


@app.command()
def compare(
    reports: Reports,
    schemes: Schemes = None,
    column: Columns = None,
    sensitivity: Annotated[
        bool, typer.Option("--sensitivity", help="Also how far each assumption moves the odds.")
    ] = False,
    json: JsonFile = None,
) -> None:
    """Compare theories of a numbering on all reports."""
    from ironlace.survey.answers.studies import compare_study

    study = compare_study(
        table_text(reports, _columns(column)), _text(schemes), with_sensitivity=sensitivity
    )
    tell(study.as_dict(), json, study.sentences())


@app.command()
def date(
    reports: Reports,
    of: Annotated[str, typer.Option(help="The mark to date, as read.")],
    anchors: Annotated[
        Path | None, typer.Option(help="CSV of dated marks: serial, kind, date.")
    ] = None,
    schemes: Schemes = None,
    column: Columns = None,
    json: JsonFile = None,
) -> None:
    """Date a machine by its mark, under the theories weighted by their odds."""
    from ironlace.survey.answers.studies import date_study

    study = date_study(
        table_text(reports, _columns(column)),
        of,
        table_text(anchors) if anchors else None,
        _text(schemes),
    )
    tell(study.as_dict(), json, study.sentences())


@app.command()
def count(
    reports: Reports,
    scheme: Annotated[
        str | None, typer.Option(help="The theory to count under; else the likeliest.")
    ] = None,
    column: Columns = None,
    json: JsonFile = None,
) -> None:
    """Estimate how many were made, in all and in each series."""
    from ironlace.survey.answers.studies import count_study

    study = count_study(table_text(reports, _columns(column)), scheme)
    tell(study.as_dict(), json, study.sentences())


@app.command()
def survivors(
    sightings: Annotated[Path, typer.Argument(help="A table of reports with their `sighted`.")],
    column: Columns = None,
    json: JsonFile = None,
) -> None:
    """Estimate how many survive, and how rare they are, from sightings and re-sightings."""
    from ironlace.survey.answers.studies import survivors_study

    study = survivors_study(table_text(sightings, _columns(column)))
    tell(study.as_dict(), json, study.sentences())


@app.command("next")
def next_report(
    reports: Reports,
    schemes: Schemes = None,
    column: Columns = None,
    seed: Seed = 1,
    json: JsonFile = None,
) -> None:
    """Say which report would tell most, and how many more would settle it."""
    import numpy as np

    from ironlace.survey.answers.studies import next_study

    study = next_study(
        table_text(reports, _columns(column)), np.random.default_rng(seed), _text(schemes)
    )
    tell(study.as_dict(), json, study.sentences())


@app.command()
def find(
    text: Annotated[Path, typer.Argument(help="Text with numbers in it, such as a pasted thread.")],
    json: JsonFile = None,
) -> None:
    """Find what may be serial numbers in a text; nothing counts until you say so."""
    from ironlace.survey.reports.pasted_text import find_serials

    found = find_serials(read_text(text))
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
    issued: Annotated[str, typer.Option(help="Day of issue, such as 2025-06-01.")],
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
    from dataclasses import replace

    from ironlace.survey.reports.table import read_reports
    from ironlace.survey.sharing.open_data import About
    from ironlace.survey.sharing.open_data import publish as publish_reports
    from ironlace.survey.sharing.survey_zip import zipped

    as_zip = out.suffix.lower() == ".zip"
    metadata = None if as_zip else out.with_name(f"{out.name}-metadata.json")
    for file in filter(None, (out, metadata)):
        if file.exists():
            raise ConflictError(f"{file} is there already: choose another name.")
    about = About(title=title, compiled_by=compiled_by, issued=_day(issued), licence=licence)
    table = read_reports(table_text(reports, _columns(column)))
    seen = [
        replace(
            report,
            place=coarse_place(report.place, places),
            note=report.note if notes else "",
            other=report.other if notes else (),
        )
        for report in table.reports
    ]
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
            ("zip" if as_zip else "csv"): str(out),
            "metadata": str(metadata) if metadata else None,
            "reports": len(seen),
            "cite_as": cited,
        },
        json,
        [*table.sentences(), f"{told} Places: {places.value}. Cite as: {cited}"],
    )


@app.command()
def merge(
    first: Reports,
    second: Reports,
    out: Annotated[Path, typer.Option(help="CSV to write.")],
    json: JsonFile = None,
) -> None:
    """Merge two surveys; conflicts are shown, and it ends with 1 when there are any."""
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


def _day(text: str) -> str:
    try:
        return date_type.fromisoformat(text).isoformat()
    except ValueError as error:
        raise IronlaceError(f"'{text}' is no day of issue: write it as 2031-05-04.") from error


def _text(file: Path | None) -> str | None:
    return read_text(file) if file else None


def _columns(pairs: list[str] | None) -> dict[str, str]:
    renamed = {}
    for pair in pairs or []:
        ours, equals, theirs = pair.partition("=")
        if not equals or not ours.strip() or not theirs.strip():
            raise IronlaceError(f"'--column {pair}' is not OURS=THEIRS: write mark=Serial.")
        renamed[theirs.strip()] = ours.strip()
    return renamed
