"""Commands for the call for reports, and for the tray in which what comes back waits."""

import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any

import typer

from ironlace.cli.answering import JsonFile, WorkshopFolder, opened, tell, write_text
from ironlace.evidence.errors import ConflictError, IronlaceError, NotFoundError
from ironlace.record import Channel, SentReport
from ironlace.record.choices import Verdict
from ironlace.workshop.survey.tray_mail import MOST_LAID_IN, MOST_MAIL, too_large

tray = typer.Typer(
    help="The tray: reports that were sent in wait here until a person decides.",
    no_args_is_help=True,
)
By = Annotated[str, typer.Option(help="Who makes the change.")]
Name = Annotated[str, typer.Argument(help="The report that was sent in, such as 'sent 3'.")]

Mail = Annotated[str, typer.Option(help="The mailbox that reports go to; none if empty.")]
Named = Annotated[
    str, typer.Option(help="What strangers call such a machine; the record's title if empty.")
]
Where = Annotated[str, typer.Option(help="Where the number sits; as its mark says if empty.")]
Shows = Annotated[
    str, typer.Option(help="Photograph that shows the place, such as 'photograph 3'.")
]
At = Annotated[str, typer.Option(help="The place in it, hundredths of width and height: 40,62.")]
NO_MAILBOX = "No mailbox was given, and the call says so: give one with --mail."


def add_to(survey: typer.Typer) -> None:
    """Add these commands to the survey's."""
    survey.command()(call)
    survey.add_typer(tray, name="tray")


def call(
    machine: str,
    out: Annotated[Path, typer.Option(help="Folder to make: page, cards and text.")],
    mail: Mail = "",
    page: Annotated[
        str, typer.Option(help="Where the page will stand; the code on the card leads there.")
    ] = "",
    keeper: Annotated[str, typer.Option(help="Who gathers the reports, as it may be told.")] = "",
    named: Named = "",
    where: Where = "",
    photograph: Shows = "",
    at: At = "",
    workshop: WorkshopFolder = Path(),
    json: JsonFile = None,
) -> None:
    """Make a call for reports: a page that needs no server, cards A6 and A5, text for a list."""
    from ironlace.workshop.survey.call_made import CallAsked, call_files

    if out.exists():
        raise ConflictError(f"{out} is there already: choose another name.")
    asked = CallAsked(named, where, keeper, mail, page, photograph, at)
    with opened(workshop) as found:
        files = call_files(found, found.records.read(machine), asked, datetime.now(UTC))
    written = _folder(out, files)
    says = [f"{out}: {', '.join(written)}."]
    if not mail:
        says.append(NO_MAILBOX)
    tell({"folder": str(out), "files": written, "mail": mail, "page": page}, json, says)


def _folder(out: Path, files: dict[str, bytes]) -> list[str]:
    from ironlace.dossier.folder_in_place import folder_in_place

    try:
        with folder_in_place(out, lambda _: False, "a call for reports") as begun:
            for name, content in files.items():
                (begun / name).write_bytes(content)
    except OSError as error:
        raise IronlaceError(
            f"{out} could not be written ({error.strerror}): choose another place."
        ) from error
    return sorted(files)


@tray.command("list")
def list_tray(
    machine: str,
    decided: Annotated[bool, typer.Option("--decided", help="Those decided on too.")] = False,
    workshop: WorkshopFolder = Path(),
    json: JsonFile = None,
) -> None:
    """List what waits in the tray of a machine."""
    with opened(workshop) as found:
        record = found.records.read(machine)
    shown = [
        (name, one)
        for name, one in record.of(SentReport)
        if decided or one.verdict is Verdict.WAITING
    ]
    tell(
        {"machine": machine, "sent": [_as_dict(name, one) for name, one in shown]},
        json,
        [_line(name, one) for name, one in shown] or ["Nothing waits in the tray."],
    )


def _as_dict(name: str, one: SentReport) -> dict[str, Any]:
    return {"name": name, **one.model_dump(mode="json", exclude={"kind", "private"})}


def _line(name: str, one: SentReport) -> str:
    parts = [f"{name}: {one.reads or 'no number'}", one.verdict.value]
    parts += [f"dated {one.dated}"] if one.dated else []
    parts += [", ".join(one.photographs)] if one.photographs else []
    parts += ["changed on its way"] if one.whole == "no" else []
    parts += [f"{one.report}"] if one.report else []
    return ", ".join(parts) + (f" ({one.reason})" if one.reason else "")


@tray.command("take-in")
def take_into_tray(
    machine: str,
    files: Annotated[
        list[Path],
        typer.Argument(help="Mail, text, table or photograph; - reads from standard input."),
    ],
    workshop: WorkshopFolder = Path(),
    by: By = "",
    json: JsonFile = None,
) -> None:
    """Lay what came back into the tray; none of it counts until you decide."""
    from ironlace.workshop.survey.tray import take_in

    laid = []
    with opened(workshop) as found:
        for file in files:
            called = "" if str(file) == "-" else file.name
            laid.append((file, take_in(found, machine, _read(file), called, by=by)))
    tell(
        {
            "sent": [name for _, one in laid for name in one.names],
            "came_before": [name for _, one in laid for name in one.again],
            "left": [says for _, one in laid for says in one.left],
        },
        json,
        [f"{file}: {says}" for file, one in laid for says in one.sentences()],
    )


def _read(file: Path) -> bytes:
    if str(file) == "-":
        return sys.stdin.buffer.read(MOST_MAIL + 1)
    try:
        with file.open("rb") as source:
            data = source.read(MOST_LAID_IN + 1)
    except FileNotFoundError as error:
        raise NotFoundError(f"There is no file {file}: check its name.") from error
    except OSError as error:
        raise IronlaceError(f"{file} cannot be read ({error.strerror}).") from error
    if len(data) > MOST_LAID_IN:
        raise IronlaceError(too_large(file))
    return data


@tray.command()
def decide(
    machine: str,
    name: Name,
    verdict: Annotated[Verdict, typer.Argument(help="What you decide; anything but waiting.")],
    reason: Annotated[str, typer.Option(help="Why; needed to doubt and to turn down.")] = "",
    reads: Annotated[str, typer.Option(help="The number as you read it; as sent if empty.")] = "",
    called: Annotated[str, typer.Option(help="What you call that machine.")] = "",
    how: Annotated[Channel, typer.Option(help="How you know the number.")] = Channel.TOLD,
    same_as: Annotated[
        str, typer.Option(help="For a second sighting: the report of that machine.")
    ] = "",
    dated: Annotated[str, typer.Option(help="The date that came with it; as sent if empty.")] = "",
    dated_is: Annotated[
        str, typer.Option(help="What that date says: at, sold, not before, not after.")
    ] = "",
    workshop: WorkshopFolder = Path(),
    by: By = "",
    json: JsonFile = None,
) -> None:
    """Decide on a report that waits: keep it, doubt it, join it to one known, turn it down."""
    from ironlace.workshop.survey.tray import Decision
    from ironlace.workshop.survey.tray import decide as decide_on

    told = Decision(verdict, reason, reads, called, how, same_as, dated, dated_is)
    with opened(workshop) as found:
        made = decide_on(found, machine, name, told, by=by)
    says = f"{name}: {verdict.value}" + (f", as {made}." if made else ".")
    tell({"sent": name, "verdict": verdict.value, "report": made or None}, json, [says])


@tray.command("take-back")
def take_decision_back(
    machine: str,
    name: Name,
    workshop: WorkshopFolder = Path(),
    by: By = "",
    json: JsonFile = None,
) -> None:
    """Take a decision back: the report made of it is withdrawn, and what was sent waits again."""
    from ironlace.workshop.survey.tray import take_back

    with opened(workshop) as found:
        withdrawn = take_back(found, machine, name, by=by)
    says = f"{name} waits again" + (f"; {withdrawn} is withdrawn." if withdrawn else ".")
    tell({"sent": name, "withdrawn": withdrawn or None}, json, [says])


@tray.command("thanks")
def thank(
    machine: str,
    out: Annotated[Path | None, typer.Option(help="Text file to write.")] = None,
    workshop: WorkshopFolder = Path(),
    json: JsonFile = None,
) -> None:
    """List who sent what, named or not as they asked, as text to publish."""
    from ironlace.workshop.survey.tray import thanks

    with opened(workshop) as found:
        text = thanks(found.records.read(machine))
    if out is not None:
        write_text(out, text)
    tell({"thanks": text}, json, [text.rstrip()] if out is None else [f"Written: {out}"])
