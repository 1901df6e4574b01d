"""Making a machine's pack: from the workshop's record and pictures to the dossier room."""

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from PIL import Image

from ironlace.dossier import (
    Account,
    FigureShown,
    FindingWords,
    PictureFile,
    account_of,
    write_pack,
)
from ironlace.dossier.account.sheets_as_pictures import sheets_shown
from ironlace.dossier.pack import StencilsShown
from ironlace.dossier.privacy import Choice, copy_for
from ironlace.evidence.analyses import Declared, asked_fields, asked_from
from ironlace.evidence.answers import Plot
from ironlace.evidence.findings import DATE_FINDING
from ironlace.evidence.progress import Steps
from ironlace.ornament.stencils import SHEETS
from ironlace.record.entries import DrawingEntry, FindingEntry, Photograph
from ironlace.record.history import Record, key_of
from ironlace.survey.answers.which_numbering import COMPARE
from ironlace.workshop import analyses
from ironlace.workshop.hand_over.chosen import choice_for
from ironlace.workshop.marks.plate_figures import plate_figures
from ironlace.workshop.ornament.drawings import drawing_named, drawing_svg, flat_place
from ironlace.workshop.stencils.sheets_kept import finding_of
from ironlace.workshop.stencils.stencilling import planned
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.store.photographs import VIEW_SIZES
from ironlace.workshop.survey.reports_of_record import reports_of

PICTURE_PX = 1600
"""Longer side of a picture in the pack: 13 cm in print at 300 dots to the inch (judged)."""

_SHARE_FOR_PICTURES = 0.4
"""Of the time a pack takes, as measured on the demo; only for the bar."""


def make_pack(
    workshop: Workshop,
    slug: str,
    folder: Path,
    *,
    private: bool = False,
    hours_and_costs: bool = False,
    without: Sequence[str] = (),
    made: datetime | None = None,
    progress: Callable[[str, float], None] | None = None,
) -> Path:
    """Write the pack of a machine into a folder; returns the folder.

    Parameters
    ----------
    without
        Names of drawings to be left out, such as ``drawing 2``, with their stencil sheets; the
        record that goes along holds them all the same.
    made
        The moment printed in the dossier (default: now).

    Raises
    ------
    NotFoundError
        When a name of `without` is not that of a drawing that stands.
    """
    report = progress or (lambda _stage, _fraction: None)
    report("gathering the stencil sheets", 0.0)
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
    rest = 1.0 - _SHARE_FOR_PICTURES
    return write_pack(
        account,
        folder,
        made=made or datetime.now(UTC),
        stencils=stencils,
        without=tuple(dict.fromkeys(without)),
        progress=lambda stage, done: report(stage, _SHARE_FOR_PICTURES + done * rest),
    )


def account_from(
    workshop: Workshop,
    slug: str,
    *,
    private: bool = False,
    hours_and_costs: bool = False,
    without: Sequence[str] = (),
    stencils: Sequence[StencilsShown] = (),
    progress: Callable[[str, float], None] | None = None,
) -> Account:
    """Gather what an account of a machine is told from, but for drawings that are left out.

    The stencil sheets given are shown small beside their drawings.
    """
    record = workshop.records.read(slug)
    for name in without:
        drawing_named(workshop, slug, name)
    choice = choice_for(workshop, slug, private=private, hours_and_costs=hours_and_costs)
    told, _ = copy_for(record, choice)
    photographs = list(told.of(Photograph))
    pictures: dict[str, PictureFile] = {}
    for index, (name, photograph) in enumerate(photographs):
        pictures[name] = _picture(workshop, photograph.sha256)
        if progress:
            progress("preparing the photographs", (index + 1) / len(photographs))
    drawings = {
        name: drawing_svg(workshop, slug, name)
        for name, _ in told.of(DrawingEntry)
        if name not in without
    }
    pictures |= _grounds(workshop, told, drawings)
    return account_of(
        record,
        pictures,
        drawings,
        changes=workshop.records.whole_history(slug),
        private=private,
        hours_and_costs=hours_and_costs,
        changed=choice.changed,
        finding_words=finding_words(workshop, record),
        figures=_figures(workshop, record, choice),
        sheets={one.drawing: sheets_shown(one.drawing, one.title, one.made) for one in stencils},
        without={*without, *_sheets_of(record, [*without, *_held(record, told)])},
    )


def stencils_of(
    workshop: Workshop, slug: str, choice: Choice, *, without: Sequence[str] = ()
) -> list[StencilsShown]:
    """The stencil sheets planned for drawings that leave; made again where they are not at hand.

    Raises
    ------
    IronlaceError
        When sheets that were planned cannot be made again; leaving their drawing out helps.
    """
    out = []
    told, _ = copy_for(workshop.records.read(slug), choice)
    for name, entry in told.of(DrawingEntry):
        found = None if name in without else finding_of(workshop, slug, name)
        if found is not None:
            out.append(StencilsShown(name, entry.name, planned(workshop, slug, found[1])))
    return out


def _figures(
    workshop: Workshop, record: Record, choice: Choice
) -> dict[str, tuple[FigureShown, ...]]:
    """By finding: struck plates in four lights; of the date how the odds moved as reports came in.

    The plot is drawn from what is told, so that no report is called in it by its owner's name. A
    finding that went stale has none: it would show what the finding does not rest on.
    """
    told, _ = copy_for(record, choice)
    stale = analyses.stale_findings(workshop, record)
    reports = reports_of(told)
    figures = {}
    for name, entry in told.of(FindingEntry):
        if entry.finding.about != DATE_FINDING or name in stale:
            continue
        if len(reports.to_compare()) < _FEWEST_TO_PLOT:
            continue
        asked = entry.finding.method.parameters.get("asked")
        keys = {field.name for field in asked_fields(COMPARE.asked)}
        given = {k: v for k, v in asked.items() if k in keys} if isinstance(asked, dict) else {}
        found = COMPARE.work(reports, asked_from(COMPARE.asked, given), Steps())
        figures[name] = tuple(_as_figure(plot) for plot in COMPARE.answer(found).plots[:1])
    return {**figures, **plate_figures(workshop, record, told)}


_FEWEST_TO_PLOT = 2
"""Reports whose odds have a history; one has none."""


def _as_figure(plot: Plot) -> FigureShown:
    """A plot for print and for a page: on paper its colours are those it falls back on."""
    printed = re.sub(r"var\(--[\w-]+,\s*(#[0-9a-fA-F]{3,8})\)", r"\1", plot.svg)
    printed = printed.replace("currentColor", "#000000").replace("; font-family: inherit", "")
    if "xmlns=" not in printed[: printed.index(">")]:
        printed = printed.replace("<svg", '<svg xmlns="http://www.w3.org/2000/svg"', 1)
    # a report that is called as its entry is would be a "report report 11"
    says = tuple(re.sub(r"\breport (report \d+)\b", r"\1", said) for said in plot.sentences)
    return FigureShown(plot.title, printed, plot.svg, says, plot.table)


def _held(record: Record, told: Record) -> list[str]:
    """Names of the drawings that are held back: their sheets are not told of either."""
    return [name for name, _ in record.of(DrawingEntry) if key_of(name) not in told.entries]


def _sheets_of(record: Record, drawings: Sequence[str]) -> set[str]:
    """Names of the findings that tell of the stencil sheets of some drawings."""
    out = set()
    for name, entry in record.of(FindingEntry):
        asked = entry.finding.method.parameters.get("asked")
        if (
            entry.finding.about == SHEETS.about
            and isinstance(asked, dict)
            and asked.get("drawing") in drawings
        ):
            out.add(name)
    return out


def finding_words(workshop: Workshop, record: Record) -> dict[str, FindingWords]:
    """How the findings of a record are announced: by their analyses, and the stale ones as such."""
    words = {
        one.about: FindingWords(one.question, one.section, asked=_asked_in_words(one))
        for one in analyses.ALL
    }
    why = analyses.stale_findings(workshop, record)
    for name, entry in record.of(FindingEntry):
        if name in why:
            usual = words.get(entry.finding.about, FindingWords())
            words[name] = replace(usual, stale=why[name])
    return words


def _asked_in_words(analysis: Declared) -> dict[str, tuple[str, str]]:
    """What each value asked for is called, and its unit."""
    return {field.name: (field.ask.words, field.ask.unit) for field in asked_fields(analysis.asked)}


def _grounds(workshop: Workshop, told: Record, drawings: Iterable[str]) -> dict[str, PictureFile]:
    """The flattened photographs under drawings, of those that were traced from what leaves."""
    found = {}
    for name in drawings:
        entry = told.by_name[name]
        assert isinstance(entry, DrawingEntry)
        place = flat_place(workshop, entry.svg)
        if place.is_file() and entry.photographs and set(entry.photographs) <= set(told.by_name):
            with Image.open(place) as picture:
                found[name] = PictureFile(place, *picture.size)
    return found


def _picture(workshop: Workshop, sha256: str) -> PictureFile:
    """A photograph's viewing copy, and with it the smaller ones that pages show as well."""
    path = workshop.photographs.view(sha256, PICTURE_PX)
    with Image.open(path) as picture:
        longest = max(picture.size)
        smaller = {
            edge: workshop.photographs.view(sha256, edge) for edge in VIEW_SIZES if edge < longest
        }
        return PictureFile(path, *picture.size, ready={**smaller, longest: path})
