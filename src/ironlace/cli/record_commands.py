"""Commands for machines' records: list, show, add, change, take back, photographs, the pack."""

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ironlace.cli.answering import (
    JsonFile,
    WorkshopFolder,
    fail,
    opened,
    progress,
    read_text,
    tell,
)
from ironlace.dossier.privacy import Audience
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.grades import Grade
from ironlace.evidence.wording import counted
from ironlace.record import (
    Change,
    Provenance,
    ReadingsEntry,
    Record,
    job_of,
    parse_entries,
    parse_entry,
)
from ironlace.record.choices import PhotographRole

if TYPE_CHECKING:
    from ironlace.workshop.hand_over.verify import Verified

machine = typer.Typer(help="Machines' records.", no_args_is_help=True)
photograph = typer.Typer(help="Photographs of a machine.", no_args_is_help=True)

AsOf = Annotated[
    str | None, typer.Option("--as-of", help="The record as it stood at the end of a day.")
]
By = Annotated[str, typer.Option(help="Who makes the change.")]


def add_to(app: typer.Typer) -> None:
    """Add these commands to the program."""
    app.add_typer(machine, name="machine")
    app.add_typer(photograph, name="photograph")
    app.command()(pack)
    app.command()(bag)
    app.command()(leaving)
    app.command()(film)
    app.command("recompute")(recompute)
    app.command()(verify)
    app.command("take-in")(take_in)


@machine.command("list")
def list_machines(workshop: WorkshopFolder = Path(), json: JsonFile = None) -> None:
    """List the machines of a workshop."""
    with opened(workshop) as found:
        summaries = found.records.all()
    tell(
        {
            "machines": [
                {
                    "machine": s.slug,
                    "title": s.title,
                    "entries": s.entries,
                    "photographs": s.photographs,
                    "changed": s.changed_at.isoformat(),
                    "put_away": s.put_away.isoformat() if s.put_away else None,
                }
                for s in summaries
            ]
        },
        json,
        [
            f"{s.slug}: {s.title} ({s.entries} entries{', put away' if s.put_away else ''})"
            for s in summaries
        ]
        or ["No machines yet: make one with 'ironlace machine new TITLE'."],
    )


@machine.command("new")
def new_machine(title: str, workshop: WorkshopFolder = Path(), json: JsonFile = None) -> None:
    """Make an empty record; tells the short name that other commands take."""
    with opened(workshop) as found:
        slug = found.records.create(title)
    tell({"machine": slug, "title": title}, json, [slug])


@machine.command("put-away")
def put_away(
    machine: str, workshop: WorkshopFolder = Path(), by: By = "", json: JsonFile = None
) -> None:
    """Put a machine away, such as one made by a slip; nothing of it is lost."""
    with opened(workshop) as found:
        found.records.put_away(machine, by=by)
    tell({"put_away": machine}, json, [f"{machine} is put away."])


@machine.command("bring-back")
def bring_back(
    machine: str, workshop: WorkshopFolder = Path(), by: By = "", json: JsonFile = None
) -> None:
    """Bring back a machine that was put away."""
    with opened(workshop) as found:
        found.records.put_away(machine, away=False, by=by)
    tell({"brought_back": machine}, json, [f"{machine} is back."])


@machine.command()
def show(
    machine: str, workshop: WorkshopFolder = Path(), as_of: AsOf = None, json: JsonFile = None
) -> None:
    """Show a machine's record, now or as it stood on a day."""
    from ironlace.workshop.analyses import done_by_step
    from ironlace.workshop.survey.then import end_of

    with opened(workshop) as found:
        record = found.records.read(machine, end_of(as_of))
    _, upcoming = job_of(record, done_by_step())
    lines = [record.title]
    lines += [f"  {name}: {_in_brief(payload)}" for name, payload in _entries(record).items()]
    if upcoming:
        lines.append(f"Next: {upcoming.next}")
    tell(
        {
            "machine": record.slug,
            "title": record.title,
            "as_of": as_of,
            "entries": _entries(record),
            "next": upcoming.next if upcoming else None,
        },
        json,
        lines,
    )


@machine.command()
def add(
    machine: str,
    entries: Annotated[Path, typer.Argument(help="JSON: one entry, or a list of them.")],
    workshop: WorkshopFolder = Path(),
    by: By = "",
    json: JsonFile = None,
) -> None:
    """Add entries from a JSON file, all or none."""
    given = _json_in(entries)
    payloads = given if isinstance(given, list) else [given]
    parsed = parse_entries(payloads)
    with opened(workshop) as found:
        names = found.records.add_all(machine, parsed, by)
    tell({"added": names}, json, names)


@machine.command("add-readings")
def add_readings(
    machine: str,
    file: Annotated[Path, typer.Argument(help="The table: CSV, TSV or XLSX.")],
    what: Annotated[str, typer.Option(help="What was read.")],
    grade: Annotated[Grade, typer.Option(help="How it is known.")],
    with_what: Annotated[
        list[str] | None,
        typer.Option(
            help="With what a column was read: 'height: dial gauge, ± 0.02'. May be given again."
        ),
    ] = None,
    struck: Annotated[
        list[str] | None,
        typer.Option(
            help="A misread figure: 'row 3, height: 12.8, why it is wrong'. May be given again."
        ),
    ] = None,
    conditions: Annotated[str, typer.Option(help="Under what conditions.")] = "",
    read_by: Annotated[str, typer.Option(help="Who read it.")] = "",
    date: Annotated[str, typer.Option(help="When it was read.")] = "",
    photograph: Annotated[
        list[str] | None,
        typer.Option(help="A photograph of it, such as 'photograph 3'. May be given again."),
    ] = None,
    workshop: WorkshopFolder = Path(),
    by: By = "",
    json: JsonFile = None,
) -> None:
    """Add a table of readings from a file; the first line names the columns with their units."""
    from ironlace.workshop.survey.tables_in import table_text

    entry = parse_entry(
        {
            "kind": "readings",
            "what": what,
            "table": {
                "text": table_text(file),
                "with_what": "\n".join(with_what or []),
                "struck": "\n".join(struck or []),
            },
            "grade": grade,
            "conditions": conditions,
            "by": read_by,
            "date": date,
            "photographs": photograph or [],
        }
    )
    with opened(workshop) as found:
        record = found.records.read(machine)
        for name in photograph or []:
            record.named(name)
        name = found.records.add(machine, entry, by=by)
    tell({"added": [name]}, json, [f"{name}: {entry.in_brief()}"])


@machine.command()
def readings(
    machine: str,
    name: Annotated[str, typer.Argument(help="The table, such as 'readings 2'.")],
    workshop: WorkshopFolder = Path(),
    json: JsonFile = None,
) -> None:
    """Write a table of readings as CSV; as JSON with its instruments and what was struck out."""
    from ironlace.dossier.readings_as_csv import readings_csv

    with opened(workshop) as found:
        entry = found.records.read(machine).named(name)
    if not isinstance(entry, ReadingsEntry):
        raise IronlaceError(f"'{name}' is no table of readings: name one such as 'readings 2'.")
    tell(entry.model_dump(mode="json"), json, readings_csv(entry).splitlines())


@machine.command()
def outlay(machine: str, workshop: WorkshopFolder = Path(), json: JsonFile = None) -> None:
    """Add up hours and costs: by week, by step and as a whole, in one money where rates lead."""
    from ironlace.record.purses import purses_of

    with opened(workshop) as found:
        purses = purses_of(found.records.read(machine))
    if purses is None:
        tell({"whole": None}, json, ["No hours or costs are kept yet."])
        return
    sums = (*purses.by_step, *purses.by_week, purses.whole)
    tell(purses.as_dict(), json, [one.in_words(purses.money) for one in sums])


@machine.command()
def change(
    machine: str,
    name: Annotated[str, typer.Argument(help="The entry, such as 'photograph 12'.")],
    entry: Annotated[Path, typer.Argument(help="JSON of the whole entry.")],
    workshop: WorkshopFolder = Path(),
    by: By = "",
    json: JsonFile = None,
) -> None:
    """Change an entry; what it was before stays in the history."""
    parsed = parse_entry(_json_in(entry))
    with opened(workshop) as found:
        found.records.change(machine, name, parsed, by=by)
    tell({"changed": name}, json, [f"{name} is changed."])


@machine.command()
def withdraw(
    machine: str, name: str, workshop: WorkshopFolder = Path(), by: By = "", json: JsonFile = None
) -> None:
    """Withdraw an entry; it stays in the history."""
    with opened(workshop) as found:
        found.records.change(machine, name, None, by=by)
    tell({"withdrawn": name}, json, [f"{name} is withdrawn."])


@machine.command()
def history(machine: str, workshop: WorkshopFolder = Path(), json: JsonFile = None) -> None:
    """List every change ever made to a record."""
    with opened(workshop) as found:
        changes = found.records.changes(machine)
    tell(
        {"changes": [_change(change) for change in changes]},
        json,
        [
            f"{c.number:>5}  {c.made_at:%Y-%m-%d %H:%M}  {c.name}: "
            + ("withdrawn" if c.entry is None else "written")
            + (f" (undoes {c.undoes})" if c.undoes else "")
            for c in changes
        ],
    )


@machine.command("take-back")
@machine.command("undo", hidden=True)  # its earlier name
def undo(
    machine: str,
    number: int,
    workshop: WorkshopFolder = Path(),
    by: By = "",
    json: JsonFile = None,
) -> None:
    """Take a change back; that is itself kept as a change."""
    with opened(workshop) as found:
        name = found.records.undo(machine, number, by)
    tell({"undone": number, "entry": name}, json, [f"{name} is as it was before {number}."])


@photograph.command("add")
def add_photographs(
    machine: str,
    files: list[Path],
    role: Annotated[
        PhotographRole, typer.Option(help="What they are for.")
    ] = PhotographRole.UNSAID,
    workshop: WorkshopFolder = Path(),
    caption: Annotated[str, typer.Option(help="Caption for them all.")] = "",
    credit: Annotated[str, typer.Option(help="Who took them.")] = "",
    rights: Annotated[str, typer.Option(help="Rights in them, such as 'CC BY 4.0'.")] = "",
    published: Annotated[
        bool,
        typer.Option(
            "--published/--not-published", help="Whether they may be shown in print and on a site."
        ),
    ] = True,
    by: By = "",
    json: JsonFile = None,
) -> None:
    """Take photographs in, all or none: JPEG, PNG, TIFF, HEIC or camera raw."""
    taken = []
    with opened(workshop) as found, progress() as report:
        if len(files) > 1:
            for file in files:
                found.photographs.look_at(file)
        for index, file in enumerate(files):
            taken.append(
                found.photographs.take_in_file(
                    machine,
                    file,
                    role,
                    caption,
                    credit=credit,
                    rights=rights,
                    published=published,
                    by=by,
                )
            )
            report(file.name, (index + 1) / len(files))
    tell(
        {
            "photographs": [
                {"name": t.name, "sha256": t.sha256, "was_here": t.again, "file": str(file)}
                for t, file in zip(taken, files, strict=True)
            ]
        },
        json,
        [
            f"{file}: {t.name}" + (" (was here already)" if t.again else "")
            for t, file in zip(taken, files, strict=True)
        ],
    )


def pack(
    machine: str,
    out: Annotated[Path, typer.Option(help="Folder to write it into.")],
    workshop: WorkshopFolder = Path(),
    private: Annotated[bool, typer.Option(help="With private entries.")] = False,
    hours_and_costs: Annotated[bool, typer.Option(help="With hours and costs.")] = False,
    without: Annotated[
        list[str] | None,
        typer.Option(help="A drawing to leave out, such as 'drawing 2'. May be given again."),
    ] = None,
    json: JsonFile = None,
) -> None:
    """Write the pack: dossier as PDF and web site, sheets at true scale, the whole record.

    A folder that holds anything else is refused; an earlier pack is replaced.
    """
    from ironlace.dossier.pack import earlier_pack
    from ironlace.workshop.hand_over.packing import make_pack

    replaced = earlier_pack(out)
    with opened(workshop) as found, progress() as report:
        folder = make_pack(
            found,
            machine,
            out.absolute(),
            private=private,
            hours_and_costs=hours_and_costs,
            without=without or [],
            progress=report,
        )
    lines = [f"The pack is in {folder}."]
    if replaced:
        lines.append(f"It replaces the one that was there: {replaced}.")
    tell({"pack": str(folder), "replaced": replaced or None}, json, lines)


def bag(
    machine: str,
    out: Annotated[Path, typer.Option(help="Folder to write it into.")],
    workshop: WorkshopFolder = Path(),
    private: Annotated[
        bool, typer.Option(help="With private entries, all originals and the history.")
    ] = False,
    hours_and_costs: Annotated[bool, typer.Option(help="With hours and costs.")] = False,
    without: Annotated[
        list[str] | None,
        typer.Option(help="A drawing to leave out, such as 'drawing 2'. May be given again."),
    ] = None,
    packed_by: Annotated[
        str, typer.Option(help="Who packs it, as it may be cited; unsaid unless given.")
    ] = "",
    json: JsonFile = None,
) -> None:
    """Write the package for the next owner: the pack, originals, findings, as a bag (RFC 8493).

    A folder that holds anything else is refused; an earlier package is replaced.
    """
    from ironlace.workshop.hand_over.bagging import make_bag

    with opened(workshop) as found, progress() as report:
        folder = make_bag(
            found,
            machine,
            out.absolute(),
            private=private,
            hours_and_costs=hours_and_costs,
            without=without or [],
            packed_by=packed_by,
            progress=report,
        )
    lines = [
        f"The package is in {folder}.",
        "PRIVATE COPY: for the next owner, not for publication." if private else "Public copy.",
        f"To prove it: ironlace verify {out}",
    ]
    tell({"bag": str(folder), "private": private}, json, lines)


def leaving(
    machine: str,
    whom: Annotated[
        Audience, typer.Option("--for", help="For whom: each audience has a choice of its own.")
    ] = Audience.STRANGERS,
    workshop: WorkshopFolder = Path(),
    hours_and_costs: Annotated[
        bool, typer.Option(help="As it is when hours and costs are asked for.")
    ] = False,
    change: Annotated[
        Path | None,
        typer.Option(
            help="A JSON file that says of things otherwise: "
            '{"report 3: place": "leaves", "statement 2": "stays"}; "usual" takes it back.'
        ),
    ] = None,
    by: By = "",
    json: JsonFile = None,
) -> None:
    """List what would leave the workshop and what is held back, each with its reason; change it.

    What is changed is kept, with its date, and holds for pack, package and film notes alike.
    """
    from ironlace.workshop.hand_over.chosen import as_listed, choice_for, choose, things

    said = None if change is None else _json_in(change)
    if said is not None and not isinstance(said, dict):
        raise IronlaceError(
            f"{change} does not hold a choice: write an object such as "
            '{"report 3: place": "leaves"}.'
        )
    private = whom is Audience.NEXT_OWNER
    with opened(workshop) as found:
        if said is not None:
            choose(found, machine, whom, said, by=by)
        choice = choice_for(found, machine, private=private, hours_and_costs=hours_and_costs)
        listed = things(found, machine, choice)
    held = [thing for thing in listed if not thing.leaves]
    lines = [f"For {whom.value}: {len(listed) - len(held)} things leave, {len(held)} stay."]
    for thing in held:
        reason = thing.fixed or (thing.why if not thing.usual else "held back by choice")
        lines.append(f"  stays: {thing.key} ({thing.what}): {reason}")
    lines += [
        f"  leaves by choice: {thing.key} ({thing.what}), though {thing.why}"
        for thing in listed
        if thing.leaves and not thing.usual
    ]
    lines += [
        f"LOOK: what is held back as {thing.key} stands in {', '.join(thing.also_in)} too."
        for thing in held
        if thing.also_in
    ]
    tell({"machine": machine, "for": whom.value, **as_listed(listed)}, json, lines)


def film(
    machine: str,
    out: Annotated[
        Path | None, typer.Option(help="Folder to write the notes into; only listed without.")
    ] = None,
    chapters: Annotated[
        Path | None,
        typer.Option(
            help="A file with one chapter a line: a time, then a scene's key or a title, such as "
            "'0:00 machine', '2:30 marks: Its number', '12:10 end'."
        ),
    ] = None,
    mail: Annotated[
        str, typer.Option(help="The mailbox that reports go to, for the call; none if empty.")
    ] = "",
    page: Annotated[str, typer.Option(help="Where the call's page stands, for the call.")] = "",
    keeper: Annotated[str, typer.Option(help="Who gathers the reports, for the call.")] = "",
    workshop: WorkshopFolder = Path(),
    json: JsonFile = None,
) -> None:
    """Write notes for a film: shot list, running order, titles, captions (WebVTT), description.

    They tell what strangers may read (see 'ironlace leaving'), each thing with its grade.
    """
    from ironlace.dossier.film.files import as_json, write_film
    from ironlace.workshop.hand_over.filming import film_notes
    from ironlace.workshop.survey.call_made import CallAsked

    typed = "" if chapters is None else read_text(chapters)
    with opened(workshop) as found:
        call = CallAsked(mail=mail, page=page, keeper=keeper)
        notes = film_notes(found, machine, typed, None if out is None else call)
    lines = [f"Still to be filmed: {len(notes.shots)}"]
    lines += [f"  {shot.what}: {shot.why}" for shot in notes.shots]
    lines += [f"{scene.key}: {counted(len(scene.said), 'sentence')}" for scene in notes.scenes]
    lines += [
        f"No time in '{chapter.title}' for {counted(len(said), 'sentence')}: give it longer, or "
        "leave them unsaid."
        for chapter, said in notes.captions.left_out
    ]
    if out is not None:
        write_film(notes, out.absolute(), datetime.now(UTC))
        lines.append(f"The notes are in {out}.")
    tell(as_json(notes), json, lines)


def verify(
    what: Annotated[
        str,
        typer.Argument(
            metavar="BAG", help="The folder of a package (a bag); or a machine, as recompute does."
        ),
    ],
    workshop: WorkshopFolder = Path(),
    json: JsonFile = None,
) -> None:
    """Check a package, every byte of it, and compute its findings again; ends with 1 at a fault."""
    from ironlace.dossier.bag.checking import looks_like_a_bag

    folder = Path(what)
    if looks_like_a_bag(folder):
        _verify_folder(folder, json)
    elif folder.is_dir() and len(folder.parts) > 1:
        raise IronlaceError(f"{what} holds no package: give the folder that bagit.txt lies in.")
    else:
        recompute(what, workshop, json)


def _verify_folder(folder: Path, json: JsonFile) -> None:
    from ironlace.workshop.hand_over.bag_computed import verify_bag

    with progress() as report:
        verified = verify_bag(folder, report)
    checked = verified.checked
    told = {"files": checked.files, "bytes": checked.bytes, "faults": list(checked.faults)}
    lines = [f"WRONG: {fault}" for fault in checked.faults]
    if checked.faults:
        unknown: dict[str, Any] = {"same": None, "stale": [], "findings": []}
        tell({**told, **unknown}, json, [*lines, "Nothing was computed from it."])
        raise fail(f"{len(checked.faults)} thing(s) wrong: do not trust this package.")
    whole = f"{checked.files} files, {checked.bytes / 1e6:.1f} MB: each is as it was packed."
    _tell_verified(list(verified.findings), json, told, [whole])


def take_in(
    bag: Annotated[
        Path, typer.Argument(metavar="BAG", help="The folder of a package made with --private.")
    ],
    workshop: WorkshopFolder = Path(),
    happened: Annotated[
        str,
        typer.Option(help="How it changed hands, such as 'bought from the last owner'."),
    ] = "",
    when: Annotated[str, typer.Option(help="When it did, such as 2031-05.")] = "",
    where: Annotated[str, typer.Option(help="Where it is now.")] = "",
    owner: Annotated[str, typer.Option(help="Who has it now.")] = "",
    grade: Annotated[
        Grade | None, typer.Option(help="How you know that; needed with --happened.")
    ] = None,
    by: By = "",
    json: JsonFile = None,
) -> None:
    """Take a package of another workshop in: its record goes on here, with its whole history.

    Every byte of it is checked first and its findings are computed again; all of it comes in, or
    nothing does. How the machine changed hands becomes a private step of its provenance.
    """
    from ironlace.dossier.bag.checking import looks_like_a_bag
    from ironlace.workshop.hand_over.taking_over import take_over

    if not looks_like_a_bag(bag):
        raise IronlaceError(f"{bag} holds no package: give the folder that bagit.txt lies in.")
    step = _change_of_owner(happened, when, where, owner, grade)
    with opened(workshop) as found, progress() as report:
        taken = take_over(found, bag, step, by=by, progress=report)
    lines = [
        f"{taken.slug} is here: {counted(taken.changes, 'change')} and "
        f"{counted(taken.originals, 'original')}, each byte as it was packed.",
        *[f"{one.name}: DIFFERENT: {one.says}" for one in taken.findings if one.same is False],
        "The change of owner is not in its provenance: tell it on the machine's page."
        if taken.step is None
        else f"The change of owner is {taken.step}.",
    ]
    told = {
        "machine": taken.slug,
        "changes": taken.changes,
        "originals": taken.originals,
        "provenance": taken.step,
        "findings": [one.as_dict() for one in taken.findings],
    }
    tell(told, json, lines)


def _change_of_owner(
    happened: str, when: str, where: str, owner: str, grade: Grade | None
) -> Provenance | None:
    """The step of provenance that is told, None when nothing is."""
    if not (happened or when or where or owner or grade):
        return None
    if not happened or grade is None:
        raise IronlaceError(
            "A change of owner needs what happened and how you know it: add --happened 'bought "
            "from the last owner' and --grade seen, or leave all of it out."
        )
    told = {"event": happened, "date": when or None, "place": where, "who": owner}
    step = parse_entry({"kind": "provenance", "grade": grade} | told)
    assert isinstance(step, Provenance)
    return step


def recompute(machine: str, workshop: WorkshopFolder = Path(), json: JsonFile = None) -> None:
    """Compute a machine's findings again; ends with 1 when one differs or has gone stale."""
    from ironlace.workshop.hand_over.verify import verify_record

    with opened(workshop) as found, progress() as report:
        told = verify_record(found, machine, report)
    _tell_verified(told, json, {}, [])


def _tell_verified(
    told: "list[Verified]", json: JsonFile, more: dict[str, Any], first: list[str]
) -> None:
    """Tell what came of each finding; ends with 1 when one differs or went stale."""
    different = [one for one in told if one.same is False]
    stale = [one for one in told if one.stale]
    words = {True: "same", False: "DIFFERENT", None: "not computed"}
    tell(
        {
            **more,
            "same": not different,
            "stale": [one.name for one in stale],
            "findings": [one.as_dict() for one in told],
        },
        json,
        first
        + (
            [f"{one.name}: {words[one.same]}: {one.says}" for one in told]
            + [f"{one.name}: STALE: {one.stale}" for one in stale]
            or ["There is no finding in this record yet."]
        ),
    )
    if different:
        raise fail(f"{len(different)} finding(s) came out different.")
    if stale:
        raise fail(f"{len(stale)} finding(s) no longer follow from the record as it stands.")


def _json_in(file: Path) -> Any:
    import json

    try:
        return json.loads(read_text(file))
    except (json.JSONDecodeError, RecursionError) as error:
        raise IronlaceError(f"{file} is not JSON ({error}): mend it and try again.") from error


def _entries(record: Record) -> dict[str, dict[str, Any]]:
    return {
        f"{kind.value} {key}": entry.model_dump(mode="json")
        for (kind, key), entry in record.entries.items()
    }


def _in_brief(payload: dict[str, Any]) -> str:
    for field in ("says", "reads", "what", "name", "event", "title", "asks", "caption"):
        if payload.get(field):
            return str(payload[field])
    return str(payload.get("finding", {}).get("sentence") or payload["kind"])


def _change(change: Change) -> dict[str, Any]:
    return {
        "number": change.number,
        "made_at": change.made_at.isoformat(),
        "made_by": change.made_by,
        "entry": change.name,
        "now": None if change.entry is None else change.entry.model_dump(mode="json"),
        "undoes": change.undoes,
    }
