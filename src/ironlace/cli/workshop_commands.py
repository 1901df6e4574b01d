"""Commands for a whole workshop: make, open, check, back up, restore, the demo."""

from pathlib import Path
from typing import Annotated

import typer

from ironlace.cli.answering import JsonFile, WorkshopFolder, fail, opened, progress, tell
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.wording import listed
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


Phone = Annotated[
    bool,
    typer.Option(
        help="Also open a door on the house network, by which one phone can take photographs and "
        "readings in. It sees nothing else."
    ),
]
PhoneAddress = Annotated[
    str | None,
    typer.Option(help="At which address of this computer; needed when it has several."),
]
PhonePort = Annotated[
    int | None,
    typer.Option(help="At which port, 8766 unless told; 0 takes a free one.", min=0, max=65_535),
]
PhoneMachine = Annotated[
    str | None, typer.Option(help="For which machine; needed when there are several.")
]


def serve(
    workshop: WorkshopFolder = Path(),
    port: Port = 8765,
    browser: Browser = True,
    phone: Phone = False,
    phone_address: PhoneAddress = None,
    phone_port: PhonePort = None,
    phone_machine: PhoneMachine = None,
) -> None:
    """Open a workshop in the browser, on this computer only."""
    from ironlace.web import PhoneAsked
    from ironlace.web import serve as serve_pages
    from ironlace.web.phone.house_network import choose_address

    with opened(workshop) as found:
        if not phone and (phone_address or phone_machine):
            raise IronlaceError("--phone-address and --phone-machine are for --phone: add it.")
        slug = _machine_for_phone(found, phone_machine) if phone else ""
    asked = PhoneAsked(choose_address(phone_address), slug, phone_port) if phone else None
    serve_pages(workshop, port=port, open_browser=browser, phone=asked)


def _machine_for_phone(workshop: Workshop, slug: str | None) -> str:
    """The machine that was named, else the only one that is not put away."""
    if slug:
        return workshop.records.read(slug).slug
    names = [one.slug for one in workshop.records.all() if one.put_away is None]
    if not names:
        raise IronlaceError(
            "There is no machine yet that a phone could work for: begin the record of one first."
        )
    if len(names) > 1:
        raise IronlaceError(
            f"There are several machines: say with --phone-machine for which, of {listed(names)}."
        )
    return names[0]


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
