"""The command that writes the public site."""

from pathlib import Path
from typing import Annotated

import typer

from ironlace.cli.answering import JsonFile, WorkshopFolder, opened, progress, tell
from ironlace.cli.tray_commands import NO_MAILBOX, At, Mail, Named, Shows, Where


def add_to(app: typer.Typer) -> None:
    """Add this command to the program."""
    app.command()(site)


def site(
    out: Annotated[Path, typer.Option(help="Folder to write it into, or to bring up to date.")],
    machine: Annotated[
        str, typer.Argument(help="The machine; without one the whole workshop.")
    ] = "",
    base: Annotated[
        str, typer.Option(help="Where it will stand: https://name.example/folder/. For sitemap.")
    ] = "",
    title: Annotated[str, typer.Option(help="What the whole workshop is called.")] = "",
    keeper: Annotated[str, typer.Option(help="Who keeps the record, as it may be told.")] = "",
    mail: Mail = "",
    named: Named = "",
    where: Where = "",
    photograph: Shows = "",
    at: At = "",
    workshop: WorkshopFolder = Path(),
    json: JsonFile = None,
) -> None:
    """Write the public site of a machine, or of the whole workshop: pages, call, corrections.

    It tells what strangers may read (see 'ironlace leaving'). Only what changed is written; only
    files of the site's own are taken away.
    """
    from ironlace.workshop.hand_over.publishing import NO_ADDRESS, SiteAsked, make_site
    from ironlace.workshop.survey.call_made import CallAsked

    call = CallAsked(named, where, keeper, mail, "", photograph, at)
    with opened(workshop) as found, progress() as report:
        written = make_site(found, out, SiteAsked(base, title, call), slug=machine, progress=report)
    lines = [f"The site is in {out}: open index.html.", written.in_words()]
    lines += [] if base else [NO_ADDRESS]
    lines += [] if mail else [NO_MAILBOX]
    tell(
        {
            "site": str(out.absolute()),
            "new": list(written.new),
            "changed": list(written.changed),
            "same": len(written.same),
            "removed": list(written.removed),
            "kept": list(written.kept),
            "sitemap": bool(base),
        },
        json,
        lines,
    )
