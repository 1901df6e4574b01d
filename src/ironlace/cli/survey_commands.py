"""Commands for the survey: what serial numbers say, and how sure."""

from pathlib import Path
from typing import Annotated

import typer

from ironlace.cli.telling import JsonFile, read_text, tell
from ironlace.evidence.markings import parse_marking

app = typer.Typer(help="Survey: what serial numbers say, and how sure.", no_args_is_help=True)

Reports = Annotated[Path, typer.Argument(help="CSV; only the columns id and mark are needed.")]
Schemes = Annotated[
    Path | None,
    typer.Option(help="Theories of the numbering, one a line; else those of the period."),
]


@app.command()
def compare(reports: Reports, schemes: Schemes = None, json: JsonFile = None) -> None:
    """Compare theories of a numbering on all reports."""
    from ironlace.survey import compare as compare_schemes
    from ironlace.survey import read_reports, read_schemes

    table = read_reports(read_text(reports))
    found = compare_schemes(table.reports, read_schemes(read_text(schemes)) if schemes else None)
    tell(
        {**found.as_dict(), "table": table.sentences()},
        json,
        [*table.sentences(), *found.sentences()],
    )


@app.command()
def date(
    reports: Reports,
    of: Annotated[str, typer.Option(help="The mark to date, as read.")],
    schemes: Schemes = None,
    json: JsonFile = None,
) -> None:
    """Date a machine by its mark, under the theories weighted by their odds."""
    from ironlace.survey import compare as compare_schemes
    from ironlace.survey import date_of, read_reports, read_schemes

    mark = parse_marking(of)
    table = read_reports(read_text(reports))
    found = compare_schemes(table.reports, read_schemes(read_text(schemes)) if schemes else None)
    dating = date_of(mark, found)
    tell({**dating.as_dict(), "table": table.sentences()}, json, dating.sentences())
