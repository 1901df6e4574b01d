"""Commands for the surveys of a workshop: listed, shared by machines, released, read anew."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from ironlace.cli.answering import (
    JsonFile,
    WorkshopFolder,
    opened,
    refuse_place,
    tell,
    write_bytes,
)
from ironlace.evidence.errors import ConflictError
from ironlace.evidence.wording import counted, listed
from ironlace.workshop.survey.reports_out import Places

By = Annotated[str, typer.Option(help="Who makes the change.")]
Of = Annotated[str, typer.Argument(help="The survey, or a machine that has it, by short name.")]


def add_to(survey: typer.Typer) -> None:
    """Add these commands to the survey's."""
    survey.command("list")(list_surveys)
    survey.command("show")(show)
    survey.command("new")(new)
    survey.command("rename")(rename)
    survey.command("share")(share_survey)
    survey.command("release")(make_release)
    survey.command("releases")(list_releases)
    survey.command("as-before")(as_before)


def list_surveys(workshop: WorkshopFolder = Path(), json: JsonFile = None) -> None:
    """List the surveys, each with the machines that have it."""
    from ironlace.workshop.survey.surveys import surveys

    with opened(workshop) as found:
        all_of = surveys(found)
    lines = [
        f"{one.slug}: {one.title}, {counted(one.reports, 'report')}, of "
        f"{listed([slug for slug, _ in one.machines]) or 'no machine'}"
        for one in all_of
    ]
    tell({"surveys": [one.as_dict() for one in all_of]}, json, lines or ["There is no survey yet."])


def show(
    survey: Of,
    as_of: Annotated[
        str | None, typer.Option(help="As it stood on a day, such as 2025-03-31.")
    ] = None,
    workshop: WorkshopFolder = Path(),
    json: JsonFile = None,
) -> None:
    """Show a survey: its machines and its reports, now or as it stood on a day."""
    from ironlace.record.entries import ReportEntry
    from ironlace.workshop.survey.surveys import survey_named
    from ironlace.workshop.survey.then import end_of

    with opened(workshop) as found:
        one = survey_named(found, survey)
        record = found.records.read(one.slug, end_of(as_of))
    reports = list(record.of(ReportEntry))
    lines = [f"{one.title}{f' as of {as_of}' if as_of else ''}"]
    lines.append(f"Machines: {listed([slug for slug, _ in one.machines]) or 'none'}.")
    lines += [f"  {name}: {entry.in_brief()}" for name, entry in reports]
    told = {
        **one.as_dict(),
        "as_of": as_of,
        "reports": len(reports),
        "entries": {name: entry.model_dump(mode="json") for name, entry in reports},
    }
    tell(told, json, lines)


def new(
    title: Annotated[str, typer.Argument(help="What the survey is called.")],
    workshop: WorkshopFolder = Path(),
    json: JsonFile = None,
) -> None:
    """Make a survey that no machine has yet; `survey share` gives it to one."""
    from ironlace.workshop.survey.surveys import make_survey

    with opened(workshop) as found:
        slug = make_survey(found, title)
    tell({"survey": slug}, json, [f"Made: {slug}. Let machines have it by 'survey share'."])


def rename(
    survey: Of,
    title: Annotated[str, typer.Argument(help="What it is called from now on.")],
    workshop: WorkshopFolder = Path(),
    json: JsonFile = None,
) -> None:
    """Call a survey otherwise; its short name stays."""
    from ironlace.workshop.survey.surveys import survey_named

    with opened(workshop) as found:
        found.records.rename(survey_named(found, survey).slug, title)
        one = survey_named(found, survey)
    tell(one.as_dict(), json, [f"{one.slug} is called {one.title} now."])


def share_survey(
    machine: Annotated[str, typer.Argument(help="The machine that is to have it.")],
    survey: Of,
    leave: Annotated[
        bool, typer.Option("--leave", help="Leave its reports in the survey that it had.")
    ] = False,
    by: By = "",
    workshop: WorkshopFolder = Path(),
    json: JsonFile = None,
) -> None:
    """Let a machine have a survey that others have: a report kept once serves them all."""
    from ironlace.workshop.survey.surveys import share, survey_named

    with opened(workshop) as found:
        brought = share(found, machine, survey, bring=not leave, by=by)
        one = survey_named(found, machine)
    tell(
        {**one.as_dict(), "brought": brought},
        json,
        [
            f"{machine} has the survey {one.title} now, with "
            f"{listed([slug for slug, _ in one.machines if slug != machine]) or 'no other'}.",
            f"{counted(len(brought), 'report')} came with it.",
        ],
    )


def make_release(
    survey: Of,
    compiled_by: Annotated[str, typer.Option(help="Who compiled it, as it may be cited.")],
    licence: Annotated[
        str, typer.Option(help="Address of the licence.")
    ] = "https://creativecommons.org/licenses/by/4.0/",
    places: Annotated[Places, typer.Option(help="How much of each place goes out.")] = Places.NONE,
    note: Annotated[str, typer.Option(help="Anything a reader must know.")] = "",
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Show what would be released; keep nothing.")
    ] = False,
    by: By = "",
    workshop: WorkshopFolder = Path(),
    json: JsonFile = None,
) -> None:
    """Release a survey: numbered, citable, with what changed since the last; kept for good."""
    from ironlace.workshop.survey.releases import ReleaseAsked, drafted, release

    asked = ReleaseAsked(compiled_by, licence, places, note)
    with opened(workshop) as found:
        made = (
            drafted(found, survey, asked, datetime.now(UTC))
            if dry_run
            else release(found, survey, asked, by=by)
        )
    lines = [f"{'It would be' if dry_run else 'Released:'} {made.citation}"]
    tell({**made.as_dict(), "kept": not dry_run}, json, [*lines, *made.changes.sentences()])


def list_releases(
    survey: Of,
    number: Annotated[int | None, typer.Option(help="Of one release only.")] = None,
    out: Annotated[
        Path | None, typer.Option(help="ZIP to write that release to: table, metadata, licence.")
    ] = None,
    workshop: WorkshopFolder = Path(),
    json: JsonFile = None,
) -> None:
    """List the releases of a survey, or write one out as it was published."""
    from ironlace.workshop.survey.releases import release_numbered, releases

    if out is not None and number is None:
        raise ConflictError("Say which release is to be written: --number 1.")
    if out is not None and out.exists():
        raise ConflictError(f"{out} is there already: choose another name.")
    with opened(workshop) as found:
        made = (
            releases(found, survey) if number is None else [release_numbered(found, survey, number)]
        )
    if out is not None:
        write_bytes(out, made[0].zip)
    lines = [line for one in made for line in (one.citation, *one.changes.sentences())]
    if out is not None:
        lines.append(f"Written: {out}")
    told = {"releases": [one.as_dict() for one in made], "zip": str(out) if out else None}
    tell(told, json, lines or ["None was made yet."])


def as_before(
    out: Annotated[Path, typer.Argument(help="Database to write, such as ironlace.sqlite.")],
    workshop: WorkshopFolder = Path(),
    json: JsonFile = None,
) -> None:
    """Write the database as the version before surveys reads it; the workshop stays as it is."""
    with opened(workshop) as found:
        refuse_place(out)
        found.database.write_as_before_surveys(out)
    tell(
        {"database": str(out)},
        json,
        [f"Written: {out}. Each report is in the record of the machine that it came through."],
    )
