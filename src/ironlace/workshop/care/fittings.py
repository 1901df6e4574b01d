"""What of a record touches the machine: base, crank, belt, and fittings that were added."""

from datetime import UTC, datetime

from ironlace.dossier.print.numbered_picture import numbered_picture
from ironlace.dossier.print.picture_address import picture_address
from ironlace.dossier.print.touches_sheet import numbered_things, touches_sheet_pdf
from ironlace.dossier.print.typesetting import Paper
from ironlace.evidence.findings import Checksums, checksum_of
from ironlace.record import FindingEntry, Photograph, Record, Treatment
from ironlace.record.choices import Aim, Undoing
from ironlace.stand.base_analysis import BASE
from ironlace.stand.belt_length import BELT_LENGTH
from ironlace.stand.crank_analysis import CRANK_HOLD
from ironlace.stand.crank_holds import CRANK_HOLDS, CrankHoldsAsked
from ironlace.stand.errors import StandError
from ironlace.stand.touches import FittedThing, FittedThings, Touches
from ironlace.workshop.care.pictures import photograph_named, size_px
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.store.intake import pixels

_VIEW = 1600
"""Viewing copy that the sheet's picture is made of: 240 dots to the inch over 170 mm."""
_SHEET_MM = (170.0, 110.0)
"""Most that the picture takes of the sheet, so that the list has room below it."""

_ALL = "what the record tells of"
"""What the list is called among the things that a finding stands on."""
_HOLDS = {"clamp": "clamp of the crank", "peg": "peg of the crank", "hook": "hook of the crank"}


def fitted_things(_workshop: Workshop, record: Record, _asked: object) -> FittedThings:
    """All that the findings and treatments of a record tell of that touches the machine."""
    things: list[FittedThing] = []
    for name, entry in record.of(FindingEntry):
        things += [FittedThing(one, name) for one in _of_finding(entry)]
    for name, one in record.of(Treatment):
        if one.aim is Aim.FITTING:
            off = one.how_to_undo if one.undoing is not Undoing.NOT else "it does not come off"
            things.append(FittedThing(one.what, name, off))
    first = {one.thing.casefold(): one for one in reversed(things)}
    return FittedThings(tuple(one for one in things if first[one.thing.casefold()] is one))


def fitted_checksums(_workshop: Workshop, record: Record, asked: object) -> Checksums:
    """One checksum of all that the record tells of: a thing that is added makes the list stale."""
    told = fitted_things(_workshop, record, asked).things
    return {_ALL: checksum_of([[one.thing, one.comes_off] for one in told])}


def _of_finding(entry: FindingEntry) -> list[str]:
    about = entry.finding.about
    if about == BASE.about:
        return ["base", "felt of the base"]
    if about == CRANK_HOLD.about:
        return ["magnets of the crank"]
    if about == BELT_LENGTH.about:
        return ["belt"]
    if about == CRANK_HOLDS.about:
        asked = CRANK_HOLDS.asked_of(entry.finding)
        assert isinstance(asked, CrankHoldsAsked)
        return [_HOLDS[one] for one in (asked.hold, asked.second) if one in _HOLDS]
    return []


def check_things_on_picture(workshop: Workshop, record: Record, found: Touches) -> None:
    """Refuse a list whose photograph is none, or does not hold a thing's place.

    Raises StandError or NotFoundError.
    """
    if not found.asked.photograph:
        return
    wide, high = size_px(workshop, photograph_named(record, found.asked.photograph))
    for number, one in enumerate(found.things, 1):
        if one.at_px is not None and not (one.at_px[0] <= wide and one.at_px[1] <= high):
            raise StandError(
                f"Thing {number} lies at {one.at_px[0]:g}, {one.at_px[1]:g} px, and "
                f"{found.asked.photograph} has {wide} by {high}: touch it again."
            )


def sheet_of(workshop: Workshop, record: Record, found: Touches, paper: Paper) -> bytes:
    """The sheet that stays with the machine, as PDF."""
    made = datetime.now(UTC).replace(microsecond=0)
    shown = dict(record.of(Photograph)).get(found.asked.photograph)
    picture = None
    if shown is not None:
        address = picture_address(pixels(workshop.photographs.view(shown.sha256, _VIEW)))
        picture = numbered_picture(
            numbered_things(found), size_px(workshop, shown), address, _SHEET_MM
        )
    return touches_sheet_pdf(found, machine=record.title, paper=paper, made=made, picture=picture)
