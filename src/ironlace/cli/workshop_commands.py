"""Commands for a whole workshop: make, open, check, back up, restore, the demo."""

from pathlib import Path
from typing import Annotated

import typer

from ironlace.cli.answering import JsonFile, WorkshopFolder, fail, opened, progress, tell
from ironlace.workshop import Workshop

Port = Annotated[int, typer.Option(help="Port to listen on; 0 takes any free one.")]
Browser = Annotated[bool, typer.Option(help="Open the page in a browser.")]


def add_to(app: typer.Typer) -> None:
    """Add these commands to the program."""
    for command in (new, serve, demo, check, backup, restore):
        app.command()(command)


def new(folder: Path, json: JsonFile = None) -> None:
    """Make a workshop in a new or empty folder."""
    with Workshop.create(folder) as workshop:
        tell(
            {"workshop": str(workshop.folder)},
            json,
            [f"Made {workshop.folder}. Open it with: ironlace serve --workshop {folder}"],
        )


def serve(workshop: WorkshopFolder = Path(), port: Port = 8765, browser: Browser = True) -> None:
    """Open a workshop in the browser, on this computer only."""
    opened(workshop).close()
    from ironlace.web import serve as serve_pages

    serve_pages(workshop, port=port, open_browser=browser)


def demo(
    folder: Path,
    port: Port = 8765,
    browser: Browser = True,
    serve: Annotated[bool, typer.Option(help="Open it, not only make it.")] = True,
    fresh: Annotated[bool, typer.Option(help="Throw the demo there away, make it anew.")] = False,
) -> None:
    """Make the demo workshop with its pack, unless it is there already, and open it."""
    from ironlace.workshop.demo_workshop import make_demo

    with progress() as report:
        made = make_demo(folder, fresh=fresh, progress=report)
    typer.echo(f"The demo workshop is in {made.folder}; its pack is in {made.pack}.")
    if serve:
        from ironlace.web import serve as serve_pages

        serve_pages(folder, port=port, open_browser=browser)


def check(workshop: WorkshopFolder = Path(), json: JsonFile = None) -> None:
    """Verify every checksum, every reference, every record against its history, every finding."""
    from ironlace.workshop.analyses import stale_everywhere
    from ironlace.workshop.store.check import check_workshop

    with opened(workshop) as found, progress() as report:
        checked = check_workshop(found, report)
        stale = stale_everywhere(found)
    sentences = [
        f"{checked.originals} originals, {checked.changes} changes, {checked.entries} entries.",
        *(f"WRONG: {fault}" for fault in checked.wrong),
    ]
    if checked.left_over:
        sentences.append(
            f"{len(checked.left_over)} file(s) that nothing names, left by a broken-off upload; "
            "they harm nothing."
        )
    sentences += [f"STALE: {why}" for why in stale]
    if not checked.sound:
        sentences.append("Restore what is wrong from a backup.")
    elif not stale:
        sentences.append("All is well.")
    tell({**checked.as_dict(), "stale": list(stale)}, json, sentences)
    if not checked.sound:
        raise fail(f"{len(checked.wrong)} thing(s) wrong.")
    if stale:
        raise fail(f"{len(stale)} finding(s) no longer follow from the record as it stands.")


def backup(file: Path, workshop: WorkshopFolder = Path(), json: JsonFile = None) -> None:
    """Make one archive of a workshop, which may be in use meanwhile."""
    from ironlace.workshop.store.backup import back_up

    with opened(workshop) as found, progress() as report:
        made = back_up(found, file, report)
    tell(
        made.as_dict(),
        json,
        [f"{made.file}: {made.files} files, {made.bytes / 1e6:.1f} MB, a BagIt bag in a zip."],
    )


def restore(file: Path, folder: Path, json: JsonFile = None) -> None:
    """Bring a backup back into a new folder, and prove every checksum."""
    from ironlace.workshop.store.backup import restore as bring_back

    with progress() as report:
        checked = bring_back(file, folder, report)
    tell(
        {"workshop": str(folder.absolute()), **checked.as_dict()},
        json,
        [
            f"Restored into {folder}: {checked.originals} originals, all as they were."
            if checked.sound
            else f"Restored into {folder} what is proved of {checked.originals} originals.",
            *(f"WRONG: {fault}" for fault in checked.wrong),
        ],
    )
    if not checked.sound:
        raise fail(f"{len(checked.wrong)} thing(s) wrong: look for an older or another backup.")
