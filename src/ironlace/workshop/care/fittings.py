"""What of a record touches the machine: base, crank, belt, and fittings that were added."""

from ironlace.evidence.findings import Checksums, checksum_of
from ironlace.record import FindingEntry, Record, Treatment
from ironlace.record.choices import Aim, Undoing
from ironlace.stand.base_analysis import BASE
from ironlace.stand.belt_length import BELT_LENGTH
from ironlace.stand.crank_analysis import CRANK_HOLD
from ironlace.stand.crank_holds import CRANK_HOLDS, CrankHoldsAsked
from ironlace.stand.touches import FittedThing, FittedThings
from ironlace.workshop.store.folder import Workshop

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
