"""Making the package for the next owner: from the workshop's record and originals to a bag."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from ironlace.dossier import Account
from ironlace.dossier.bag.contents import SURVEY_FILE, BagMatter, OriginalFile, write_bag
from ironlace.dossier.privacy import ORIGINAL, Choice, history_for
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.findings import Checksums, Finding
from ironlace.record import DrawingEntry, Photograph, Record
from ironlace.record.entries import ReportEntry
from ironlace.record.history import Change
from ironlace.survey.sharing.open_data import About, Published, publish
from ironlace.workshop import analyses
from ironlace.workshop.hand_over.chosen import choice_for, original_leaves
from ironlace.workshop.hand_over.packing import account_from, stencils_of
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.survey.reports_of_record import reports_of

_SHARE_FOR_PICTURES = 0.3
"""Of the time a bag takes (judged); only for the bar."""


def make_bag(
    workshop: Workshop,
    slug: str,
    folder: Path,
    *,
    private: bool = False,
    hours_and_costs: bool = False,
    without: Sequence[str] = (),
    packed_by: str = "",
    made: datetime | None = None,
    progress: Callable[[str, float], None] | None = None,
) -> Path:
    """Write the bag of a machine into a folder; returns the folder.

    What is private stays out by the rule of the pack. In a public bag an original goes along only
    when its file holds nothing but its picture; a drawing's, when the account shows it.

    Parameters
    ----------
    packed_by
        Who packs it, as they wish to be named in it; empty leaves it unsaid.
    made
        The moment of packing (default: now).

    Raises
    ------
    NotFoundError
        When a name of `without` is not that of a drawing, or an original is missing.
    """
    report = progress or (lambda _stage, _fraction: None)
    choice = choice_for(workshop, slug, private=private, hours_and_costs=hours_and_costs)
    stencils = stencils_of(workshop, slug, choice, without=without)
    account = account_from(
        workshop,
        slug,
        private=private,
        hours_and_costs=hours_and_costs,
        without=without,
        stencils=stencils,
        progress=lambda stage, done: report(stage, done * _SHARE_FOR_PICTURES),
    )
    made = made or datetime.now(UTC)
    originals, held = _originals(workshop, account, choice)
    matter = BagMatter(
        originals=originals,
        held_back=held,
        inputs_held_back=_inputs_held_back(workshop, account, {one.sha256 for one in originals}),
        survey=_survey(account, made, packed_by),
        packed_by=packed_by,
    )
    rest = 1.0 - _SHARE_FOR_PICTURES
    return write_bag(
        account,
        folder,
        made=made,
        matter=matter,
        stencils=stencils,
        without=tuple(dict.fromkeys(without)),
        progress=lambda stage, done: report(stage, _SHARE_FOR_PICTURES + done * rest),
    )


def _originals(
    workshop: Workshop, account: Account, choice: Choice
) -> tuple[list[OriginalFile], list[str]]:
    """The originals that go in, and the names of the entries whose originals stay out."""
    named = list(_named(workshop, account, choice))
    known = workshop.photographs.originals(sha for _, _, sha in named)
    shown = {one.name for one in account.drawings}
    going: dict[str, OriginalFile] = {}
    held: list[str] = []
    for entry, shows, sha in named:
        if sha in going or entry in held:
            continue
        original = known.get(sha) or workshop.photographs.original(sha)
        if original_leaves(choice, entry, original.path, shown):
            going[sha] = OriginalFile(entry, shows, sha, original.path)
        else:
            held.append(entry)
    return _named_apart(going.values()), held


def _named(workshop: Workshop, account: Account, choice: Choice) -> Iterable[tuple[str, str, str]]:
    """Entry, what it shows, checksum: of what stands, then of what stood when all may be told."""
    for name, photograph in account.record.of(Photograph):
        yield name, photograph.caption, photograph.sha256
    for name, drawing in account.record.of(DrawingEntry):
        yield name, drawing.name, drawing.svg
    if not choice.private:
        return
    whole = workshop.records.read(account.slug)
    changes = workshop.records.whole_history(account.slug)
    told = history_for(whole, changes, choice)
    for change in told:
        if isinstance(change.entry, Photograph):
            yield change.name, change.entry.caption, change.entry.sha256
        elif isinstance(change.entry, DrawingEntry):
            yield change.name, change.entry.name, change.entry.svg
    named = {sha for _, finding in analyses.findings_of(account.record) for sha in _shas(finding)}
    # a photograph that is held back stays so where a finding was computed from it
    named -= _held_shas(whole, changes, choice)
    for sha in sorted(workshop.photographs.originals(named)):
        yield "input", sha[:12], sha


def _held_shas(whole: Record, changes: Sequence[Change], choice: Choice) -> set[str]:
    """Checksums of photographs and drawings that do not leave, as they are and as they were."""
    all_of = list(whole.by_name.items())
    all_of += [(change.name, change.entry) for change in changes if change.entry is not None]
    held: set[str] = set()
    free: set[str] = set()
    for name, entry in all_of:
        if isinstance(entry, Photograph | DrawingEntry):
            sha = entry.sha256 if isinstance(entry, Photograph) else entry.svg
            leaves = choice.entry_leaves(name, entry)
            leaves &= choice.changed.get(f"{name}: {ORIGINAL}", True)
            (free if leaves else held).add(sha)
    return held - free


def _shas(finding: Finding) -> Iterable[str]:
    return finding.inputs.values()


def _named_apart(originals: Iterable[OriginalFile]) -> list[OriginalFile]:
    """The same, two that would have one name told apart by their checksums."""
    apart: dict[str, OriginalFile] = {}
    for one in originals:
        if one.file in apart:
            one = replace(one, shows=f"{one.sha256[:12]} {one.shows}")  # noqa: PLW2901
        apart[one.file] = one
    return list(apart.values())


def _inputs_held_back(
    workshop: Workshop, account: Account, going: set[str]
) -> dict[str, tuple[str, ...]]:
    """By finding, the inputs that are not in the bag as they were when it was worked out."""
    full = workshop.records.read(account.slug)
    held = {}
    for name, finding in analyses.findings_of(account.record):
        were = _checksums(workshop, full, finding)
        are = _checksums(workshop, account.record, finding)
        files = workshop.photographs.originals(finding.inputs.values())
        held[name] = tuple(
            of
            for of, sha in finding.inputs.items()
            if (sha in files and sha not in going) or (were.get(of) == sha and are.get(of) != sha)
        )
    return {name: names for name, names in held.items() if names}


def _checksums(workshop: Workshop, record: Record, finding: Finding) -> Checksums:
    """The checksums of what a finding reads, of a record; none where it cannot be read."""
    analysis = analyses.analysis_about(finding.about)
    if analysis is None:
        return {}
    try:
        asked = analysis.asked_of(finding)
        return analyses.input_checksums(workshop, record, analysis, asked)
    except IronlaceError:
        return {}


def _survey(account: Account, made: datetime, packed_by: str) -> Published | None:
    """The reports of what may be told, as a table with its description."""
    if not any(account.record.of(ReportEntry)):
        return None
    about = About(
        title=f"Reports kept with the record of {account.title}",
        compiled_by=packed_by,
        issued=f"{made.astimezone(UTC):%Y-%m-%d}",
        licence="",
    )
    return publish(reports_of(account.record).sightings, about, csv_name=SURVEY_FILE)
