"""The `ironlace` command: its groups, and how an error ends it."""

import gc
import os
import sys
from collections.abc import Callable
from errno import ENOENT
from functools import cache
from pathlib import Path
from typing import Annotated, Final

import typer

from ironlace import __version__
from ironlace.evidence.errors import IronlaceError

_OBJECTS_MADE: Final = 100_000
"""New objects after which the memory is looked through for rings of them, of which a command leaves
few: after 700, as Python sets out, that takes a tenth of a long command (tuned)."""


def _add_marks(app: typer.Typer) -> None:
    from ironlace.cli.marks_commands import app as marks
    from ironlace.cli.marks_reading_commands import add_to as add_marks_reading

    add_marks_reading(marks)
    app.add_typer(marks, name="marks")


def _add_ornament(app: typer.Typer) -> None:
    from ironlace.cli.ornament_commands import app as ornament

    app.add_typer(ornament, name="ornament")


def _add_running(app: typer.Typer) -> None:
    from ironlace.cli.running_commands import app as running
    from ironlace.cli.seam_commands import add_to as add_seam_commands
    from ironlace.cli.threading_commands import add_to as add_threading_commands

    add_seam_commands(running)
    add_threading_commands(running)
    app.add_typer(running, name="running")


def _add_survey(app: typer.Typer) -> None:
    from ironlace.cli.club_commands import add_to as add_club_commands
    from ironlace.cli.survey_commands import app as survey
    from ironlace.cli.surveys_commands import add_to as add_surveys_commands
    from ironlace.cli.tray_commands import add_to as add_tray_commands

    add_tray_commands(survey)
    add_surveys_commands(survey)
    add_club_commands(survey)
    app.add_typer(survey, name="survey")


def _add_care(app: typer.Typer) -> None:
    from ironlace.cli.care_commands import app as care

    app.add_typer(care, name="care")


_ROOMS: Final[dict[str, Callable[[typer.Typer], None]]] = {
    "marks": _add_marks,
    "ornament": _add_ornament,
    "running": _add_running,
    "survey": _add_survey,
    "care": _add_care,
}
"""How the groups of the study rooms are added, in the order in which the help names them."""


def _add_everything(app: typer.Typer) -> None:
    from ironlace.cli.analysis_groups import add_to as add_analysis_groups
    from ironlace.cli.record_commands import add_to as add_record_commands
    from ironlace.cli.site_commands import add_to as add_site_commands
    from ironlace.cli.workshop_commands import add_to as add_workshop_commands

    add_workshop_commands(app)
    add_record_commands(app)
    add_site_commands(app)
    for room in _ROOMS:
        app.registered_groups.extend(_with(room).registered_groups)
    add_analysis_groups(app)


def program(word: str = "") -> typer.Typer:
    """Make the program with the one group that the word names, or with all there is.

    To load every group, and the workshop with its database for those that need it, takes longer
    than most commands of one room.
    """
    return _with(word if word in _ROOMS else "")


@cache
def _with(room: str) -> typer.Typer:
    app = typer.Typer(
        name="ironlace",
        help="A bench for restoring and studying japanned cast-iron sewing machines.",
        epilog="Exit codes: 0 all is well; 1 what was looked at is not well; 2 bad input.",
        no_args_is_help=True,
        add_completion=False,
        pretty_exceptions_enable=False,
    )
    app.callback()(_before_any)
    _ROOMS.get(room, _add_everything)(app)
    return app


def _show_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"Ironlace {__version__}")
        raise typer.Exit


def _before_any(
    version: Annotated[
        bool, typer.Option("--version", callback=_show_version, is_eager=True)
    ] = False,
) -> None:
    """A bench for restoring and studying japanned cast-iron sewing machines."""


def main(words: list[str] | None = None) -> None:
    """Run the command line; ends the process with its exit code."""
    gc.set_threshold(_OBJECTS_MADE)
    try:
        given = with_json_files(sys.argv[1:] if words is None else words)
        program(given[0] if given else "")(args=given, prog_name="ironlace")
    except IronlaceError as error:
        typer.echo(f"ironlace: {error}", err=True)
        sys.exit(2)
    except BrokenPipeError:
        # the reader of our output has gone (`| head`); that is no fault
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(0)
    except _of_disk_or_database() as error:
        from ironlace.workshop.store.faults import in_words

        refusal = in_words(error) or _gone(error)
        if refusal is None:
            raise  # a fault of ours
        typer.echo(f"ironlace: {refusal}", err=True)
        sys.exit(2)
    except KeyboardInterrupt:
        typer.echo("ironlace: stopped; nothing half-done is left.", err=True)
        sys.exit(130)


def _gone(error: BaseException) -> IronlaceError | None:
    """The refusal where a file or folder a person named is not there, or vanished meanwhile.

    A file of the program itself that is missing is a fault of ours.
    """
    if not isinstance(error, OSError) or error.errno != ENOENT or not error.filename:
        return None
    place = Path(os.fsdecode(error.filename)).absolute()
    if Path(__file__).parents[1] in place.parents:
        return None
    return IronlaceError(
        f"{place} cannot be read or written ({error.strerror}): see that its folder is there, and "
        "that nothing moves or removes it meanwhile."
    )


def _of_disk_or_database() -> tuple[type[Exception], ...]:
    """What disk and database raise; a database that was never loaded raises nothing."""
    kinds: list[type[Exception]] = [OSError]
    for module, name in (("sqlite3", "Error"), ("sqlalchemy.exc", "SQLAlchemyError")):
        if module in sys.modules:
            kinds.append(getattr(sys.modules[module], name))
    return tuple(kinds)


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
