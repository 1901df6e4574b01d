"""How a command tells its result: for a person, as JSON, with progress on long work."""

import json
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from errno import ENOENT
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.evidence.progress import Steps

if TYPE_CHECKING:
    from ironlace.workshop import Workshop

JsonFile = Annotated[
    str | None,
    typer.Option(
        "--json",
        metavar="[FILE.json]",
        help="Tell the result as JSON, on standard output or into a file whose name ends in .json.",
    ),
]
WorkshopFolder = Annotated[
    Path,
    typer.Option(
        "--workshop",
        "-w",
        envvar="IRONLACE_WORKSHOP",
        help="The workshop's folder (default: this folder).",
        show_default=False,
    ),
]
Report = Callable[[str, float], None]
Columns = Annotated[
    list[str] | None,
    typer.Option(
        "--column",
        metavar="OURS=THEIRS",
        help="A column that is named otherwise in the file, such as mark=Serial; repeat it.",
    ),
]


def renamed(pairs: list[str] | None) -> dict[str, str]:
    """The columns of a file by ours, out of `OURS=THEIRS`.

    >>> renamed(["mark=Serial"])
    {'Serial': 'mark'}
    """
    found = {}
    for pair in pairs or []:
        ours, equals, theirs = pair.partition("=")
        if not equals or not ours.strip() or not theirs.strip():
            raise IronlaceError(f"'--column {pair}' is not OURS=THEIRS: write mark=Serial.")
        found[theirs.strip()] = ours.strip()
    return found


def opened(folder: Path) -> "Workshop":
    """Open the workshop that a command was given."""
    from ironlace.workshop import Workshop

    return Workshop.open(folder)


def tell(result: dict[str, Any], json_file: str | None, sentences: list[str]) -> None:
    """Tell a result: the sentences to a person, or the JSON if it was asked for.

    With a JSON file both are told.
    """
    if json_file == "-":
        typer.echo(json.dumps(result, ensure_ascii=False, indent=2))
        return
    if json_file:
        write_text(Path(json_file), json.dumps(result, ensure_ascii=False, indent=2) + "\n")
    for sentence in sentences:
        typer.echo(sentence)


def read_text(file: Path) -> str:
    """Read a text file that a command was given.

    Raises IronlaceError when it is not there or is not UTF-8 text.
    """
    try:
        return file.read_text(encoding="utf-8-sig")
    except FileNotFoundError as error:
        raise NotFoundError(f"There is no file {file}: check its name.") from error
    except (OSError, UnicodeDecodeError) as error:
        raise IronlaceError(f"{file} cannot be read as UTF-8 text: save it as such.") from error


def write_text(file: Path, text: str) -> None:
    """Write a text file whole."""
    write_bytes(file, text.encode("utf-8"))


def write_bytes(file: Path, content: bytes) -> None:
    """Write a file so that it is there whole or not at all.

    Raises IronlaceError when its folder cannot be written to.
    """
    from ironlace.workshop.store.originals import write_whole

    try:
        if not file.parent.is_dir():  # a folder that is not there is a slip of the hand
            raise FileNotFoundError(ENOENT, os.strerror(ENOENT))
        write_whole(file, content)
    except OSError as error:
        raise _not_written(file, error) from error


def _not_written(file: Path, error: OSError) -> IronlaceError:
    return IronlaceError(f"{file} could not be written ({error.strerror}): choose another place.")


def refuse_place(file: Path) -> None:
    """Raise IronlaceError where no new file can be made; what is there already is left alone.

    For what writes its file by itself, as a database does, and then cannot say where it failed.
    """
    if file.exists():
        return
    try:
        with file.open("xb"):
            pass
        file.unlink()
    except OSError as error:
        raise _not_written(file, error) from error


def angles_in(text: str, option: str, example: str) -> tuple[float, float]:
    """Azimuth and elevation as an option gives them, degrees.

    Raises IronlaceError when they are no two numbers.
    """
    try:
        azimuth, elevation = (float(part) for part in text.split(","))
    except ValueError as error:
        raise IronlaceError(
            f"'{option} {text}' is not AZIMUTH,ELEVATION: write two numbers of degrees, such as "
            f"{example}."
        ) from error
    return azimuth, elevation


class HeardSteps(Steps):
    """Steps that are shown as a bar on the terminal; nothing of them is kept."""

    def __init__(self, report: Report) -> None:
        self._report = report

    def __call__(self, step: str, share: float) -> None:
        """Move the bar."""
        self._report(step, share)


@contextmanager
def progress() -> Iterator[Report]:
    """Show a bar on the terminal while long work runs; silent when the output is not one."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    console = Console(stderr=True)
    if not console.is_terminal:
        yield lambda _stage, _fraction: None
        return
    columns = (TextColumn("{task.description:<28}"), BarColumn(), TimeElapsedColumn())
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task("", total=1.0)
        yield lambda stage, fraction: bar.update(task, description=stage, completed=fraction)


def fail(sentence: str) -> typer.Exit:
    """Say what is not well; raise the result to end with exit code 1."""
    print(f"ironlace: {sentence}", file=sys.stderr)  # noqa: T201
    return typer.Exit(1)
