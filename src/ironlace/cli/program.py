"""The `ironlace` command: its groups, and how an error ends it."""

import gc
import os
import sqlite3
import sys
from typing import Annotated, Final

import typer
from sqlalchemy.exc import SQLAlchemyError

from ironlace import __version__
from ironlace.cli.analysis_groups import add_to as add_analysis_groups
from ironlace.cli.care_commands import app as care
from ironlace.cli.club_commands import add_to as add_club_commands
from ironlace.cli.marks_commands import app as marks
from ironlace.cli.marks_reading_commands import add_to as add_marks_reading
from ironlace.cli.ornament_commands import app as ornament
from ironlace.cli.record_commands import add_to as add_record_commands
from ironlace.cli.running_commands import app as running
from ironlace.cli.seam_commands import add_to as add_seam_commands
from ironlace.cli.site_commands import add_to as add_site_commands
from ironlace.cli.survey_commands import app as survey
from ironlace.cli.surveys_commands import add_to as add_surveys_commands
from ironlace.cli.threading_commands import add_to as add_threading_commands
from ironlace.cli.tray_commands import add_to as add_tray_commands
from ironlace.cli.workshop_commands import add_to as add_workshop_commands
from ironlace.evidence.errors import IronlaceError
from ironlace.workshop.store.faults import in_words

_OBJECTS_MADE: Final = 100_000
"""New objects after which the memory is looked through for rings of them, of which a command leaves
few: after 700, as Python sets out, that takes a tenth of a long command (tuned)."""

app = typer.Typer(
    name="ironlace",
    help="A bench for restoring and studying japanned cast-iron sewing machines.",
    epilog="Exit codes: 0 all is well; 1 what was looked at is not well; 2 bad input.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
add_workshop_commands(app)
add_record_commands(app)
add_site_commands(app)
add_marks_reading(marks)
app.add_typer(marks, name="marks")
app.add_typer(ornament, name="ornament")
add_seam_commands(running)
add_threading_commands(running)
app.add_typer(running, name="running")
add_tray_commands(survey)
add_surveys_commands(survey)
add_club_commands(survey)
app.add_typer(survey, name="survey")
app.add_typer(care, name="care")
add_analysis_groups(app)


def _show_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"Ironlace {__version__}")
        raise typer.Exit


@app.callback()
def _program(
    version: Annotated[
        bool, typer.Option("--version", callback=_show_version, is_eager=True)
    ] = False,
) -> None:
    """A bench for restoring and studying japanned cast-iron sewing machines."""


def main(words: list[str] | None = None) -> None:
    """Run the command line; ends the process with its exit code."""
    gc.set_threshold(_OBJECTS_MADE)
    try:
        app(args=with_json_files(sys.argv[1:] if words is None else words), prog_name="ironlace")
    except IronlaceError as error:
        typer.echo(f"ironlace: {error}", err=True)
        sys.exit(2)
    except BrokenPipeError:
        # the reader of our output has gone (`| head`); that is no fault
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(0)
    except (OSError, sqlite3.Error, SQLAlchemyError) as error:
        refusal = in_words(error)
        if refusal is None:
            raise  # a fault of ours
        typer.echo(f"ironlace: {refusal}", err=True)
        sys.exit(2)
    except KeyboardInterrupt:
        typer.echo("ironlace: stopped; nothing half-done is left.", err=True)
        sys.exit(130)


def with_json_files(words: list[str]) -> list[str]:
    """Give every bare `--json` the file `-`, so that it may be written with or without one.

    >>> with_json_files(["check", "--json"])
    ['check', '--json', '-']
    >>> with_json_files(["trace", "--json", "report.json", "a.jpg"])
    ['trace', '--json', 'report.json', 'a.jpg']
    >>> with_json_files(["compare", "--json", "reports.csv"])
    ['compare', '--json', '-', 'reports.csv']
    """
    out: list[str] = []
    for place, word in enumerate(words):
        out.append(word)
        if word == "--json":
            following = words[place + 1] if place + 1 < len(words) else ""
            if following != "-" and not following.lower().endswith(".json"):
                out.append("-")
    return out
