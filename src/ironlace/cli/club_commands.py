"""Commands for a survey that a club keeps: made, joined, exchanged with, reviewed."""

from pathlib import Path
from typing import Annotated, Any

import typer

from ironlace.cli.answering import JsonFile, WorkshopFolder, opened, tell, write_text
from ironlace.evidence.errors import ConflictError, IronlaceError
from ironlace.evidence.wording import counted
from ironlace.workshop.club.told import told_in_words

app = typer.Typer(
    help="A survey that a club keeps together, in a database of its own.", no_args_is_help=True
)
Address = Annotated[
    str, typer.Argument(help="The club's database: postgresql://you@computer/database.")
]
Of = Annotated[str, typer.Argument(help="The survey, or a machine that has it, by short name.")]
By = Annotated[str, typer.Option(help="Who makes the change.")]
Number = Annotated[int, typer.Argument(help="The number under which it waits.")]


def add_to(survey: typer.Typer) -> None:
    """Add these commands to the survey's."""
    survey.add_typer(app, name="club")


@app.command()
def make(
    address: Address,
    title: Annotated[str, typer.Option(help="What the club's survey is called.")] = "",
    json: JsonFile = None,
) -> None:
    """Make a club's survey in an empty database, or bring an older one's tables up to date."""
    from ironlace.workshop.club.address import address_of
    from ironlace.workshop.club.ledger import Ledger

    ledger, roles = Ledger.make(address_of(address), title)
    with ledger:
        club, (reports, _) = ledger.club(), ledger.how_many()
    says = [f"{club.title} is there, with {counted(reports, 'report')}."]
    if roles:
        says.append(
            "Give each member one of its roles in the database: "
            f"{', '.join(f'GRANT {name} TO ...' for name in roles.values())}."
        )
    told = {"club": club.title, "uid": club.uid, "reports": reports, "roles": roles}
    tell(told, json, says)


@app.command()
def join(
    survey: Of,
    address: Address,
    by: By = "",
    workshop: WorkshopFolder = Path(),
    json: JsonFile = None,
) -> None:
    """Keep a survey together with a club; nothing is sent until the first exchange."""
    from ironlace.workshop.club import exchange as club

    with opened(workshop) as found:
        link = club.join(found, survey, address, by=by)
        goes = club.to_send(found, survey)
    says = [
        f"{link.survey} is kept with {link.title} now, at {link.address}.",
        f"{len(goes)} reports go with the next exchange; 'ironlace survey club exchange {survey} "
        "--dry-run' shows what of each.",
    ]
    tell({**link.as_dict(), "goes": [one.as_dict() for one in goes]}, json, says)


@app.command()
def leave(survey: Of, workshop: WorkshopFolder = Path(), json: JsonFile = None) -> None:
    """Keep a survey at home alone again; it stays as it is, here and there."""
    from ironlace.workshop.club import exchange as club

    with opened(workshop) as found:
        club.leave(found, survey)
    tell({"survey": survey}, json, [f"{survey} is kept at home alone."])


@app.command()
def exchange(
    survey: Of,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Show what would be sent; send and change nothing.")
    ] = False,
    address: Annotated[
        str, typer.Option(help="Another way to it this once, such as one with a password.")
    ] = "",
    by: By = "",
    workshop: WorkshopFolder = Path(),
    json: JsonFile = None,
) -> None:
    """Send what is new here, and take in what is new there."""
    from ironlace.workshop.club import exchange as club

    with opened(workshop) as found:
        if dry_run:
            goes = club.to_send(found, survey)
            says = [one.in_words() for one in goes] or ["Nothing would be sent."]
            tell({"goes": [one.as_dict() for one in goes]}, json, says)
            return
        done = club.exchange(found, survey, address=address, by=by)
    tell(done.as_dict(), json, done.sentences())


@app.command()
def show(survey: Of, workshop: WorkshopFolder = Path(), json: JsonFile = None) -> None:
    """Show with which club a survey is kept, and how far they are exchanged; asks nobody."""
    from ironlace.workshop.club import exchange as club

    with opened(workshop) as found:
        link = club.link_of(found, survey)
        goes = club.to_send(found, survey)
    at = "never" if link.exchanged_at is None else f"{link.exchanged_at:%Y-%m-%d %H:%M} UTC"
    says = [
        f"{link.survey} is kept with {link.title}, at {link.address}; last exchanged: {at}.",
        f"{link.known} reports are known there, {len(goes)} go with the next exchange, "
        f"{link.waits} wait for a reviewer.",
    ]
    tell({**link.as_dict(), "goes": [one.as_dict() for one in goes]}, json, says)


@app.command()
def waiting(address: Address, json: JsonFile = None) -> None:
    """List what members sent in and no reviewer has decided on yet."""
    from ironlace.workshop.club.address import address_of
    from ironlace.workshop.club.ledger import Ledger

    with Ledger(address_of(address)) as ledger:
        ledger.club()
        offers = ledger.offers()
    says = [
        f"{one.number}: {told_in_words(one.told)}, from {one.made_by or 'somebody'} on "
        f"{one.made_at:%Y-%m-%d}" + (f"; corrects {one.report}" if one.report else "") + "."
        for one in offers
    ]
    tell(
        {
            "waiting": [
                {
                    "number": one.number,
                    "corrects": one.report,
                    "told": one.told,
                    "by": one.made_by,
                    "at": one.made_at.isoformat(),
                }
                for one in offers
            ]
        },
        json,
        says or ["Nothing waits."],
    )


@app.command()
def decide(
    address: Address,
    number: Number,
    keep: Annotated[
        bool | None,
        typer.Option("--keep/--turn-down", help="It becomes a report, or it does not."),
    ] = None,
    reason: Annotated[str, typer.Option(help="Why; the sender is told it.")] = "",
    same_as: Annotated[
        int | None,
        typer.Option(help="The club's report of the same machine: kept as a second sighting."),
    ] = None,
    reads: Annotated[str, typer.Option(help="What its number reads, where you read more.")] = "",
    json: JsonFile = None,
) -> None:
    """Decide on what was sent in: once, and by the first reviewer who does."""
    from ironlace.workshop.club.address import address_of
    from ironlace.workshop.club.ledger import Ledger

    if keep is None:
        raise IronlaceError("Say which: --keep, or --turn-down with a --reason.")
    with Ledger(address_of(address)) as ledger:
        ledger.club()
        became = ledger.reviewed(number, kept=keep, reason=reason, reads=reads, same_as=same_as)
    says = [f"{number} is turned down."]
    if became is not None:
        says = [f"{number} is the club's report {became.report} now."]
    report = None if became is None else became.report
    tell({"number": number, "kept": keep, "report": report}, json, says)


@app.command()
def history(
    address: Address,
    report: Annotated[int, typer.Argument(help="The club's number of the report.")],
    json: JsonFile = None,
) -> None:
    """Show every change of one of the club's reports."""
    from ironlace.workshop.club.address import address_of
    from ironlace.workshop.club.ledger import Ledger

    with Ledger(address_of(address)) as ledger:
        ledger.club()
        ledger.standing(report)
        changes = ledger.history(report)
    says = [
        f"{one.made_at:%Y-%m-%d %H:%M} {one.made_by or 'somebody'}: {told_in_words(one.told)}."
        for one in changes
    ]
    told: list[dict[str, Any]] = [
        {
            "number": one.number,
            "at": one.made_at.isoformat(),
            "by": one.made_by,
            "told": one.told,
        }
        for one in changes
    ]
    tell({"report": report, "changes": told}, json, says)


@app.command()
def table(
    address: Address,
    out: Annotated[Path, typer.Option(help="CSV to write; studies read the address itself too.")],
    json: JsonFile = None,
) -> None:
    """Write the club's counted reports as a table, as the database itself counts them."""
    from ironlace.workshop.club.counts import club_table

    if out.exists():
        raise ConflictError(f"{out} is there already: choose another name.")
    text = club_table(address)
    write_text(out, text)
    rows = text.count("\n") - 1
    tell({"table": str(out), "rows": rows}, json, [f"Written: {out}, {rows} rows."])
