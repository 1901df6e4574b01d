"""The oiling plan of a machine: its card, its calendar, and what was oiled on which day."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime

from ironlace.care.cautions import Hazard
from ironlace.care.errors import CareError
from ironlace.care.oil_calendar import oil_calendar
from ironlace.care.oil_plan import day_of
from ironlace.care.oiling_analysis import (
    OILING,
    OilingAsked,
    OilingFound,
    OilPlace,
    oiling,
    rows_of_places,
    table_of_places,
)
from ironlace.dossier.print.numbered_picture import Drawn, NumberedPlace, numbered_picture
from ironlace.dossier.print.oil_card import oil_card_pdf
from ironlace.dossier.print.picture_address import picture_address
from ironlace.evidence.analyses import Nothing
from ironlace.evidence.errors import NotFoundError
from ironlace.evidence.progress import Steps
from ironlace.evidence.wording import counted
from ironlace.record import Photograph, Record, Treatment
from ironlace.record.choices import Aim, Stage, Undoing
from ironlace.workshop import analyses
from ironlace.workshop.care.pictures import photograph_named, size_px
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.store.intake import pixels

_VIEW = 1600
"""Viewing copy that the card's picture is made of: 400 dots to the inch over 89 mm."""
_CARD_MM = (89.0, 62.0)
"""Most that the picture takes of the card, so that the table has room below it."""
_LOGGED = "oiled: "
"""How a treatment begins that the log is made of."""
_MOST_HOURS = 20_000.0
"""Between two oilings (a judgement): eight hours a day for seven years."""


def kept_plan(record: Record) -> tuple[str, OilingFound] | None:
    """The oiling plan that is kept: its name and what it comes to; None when there is none."""
    standing = analyses.kept_finding(record, OILING)
    if standing is None:
        return None
    return standing[0], oiling(Nothing(), OILING.asked_of(standing[1].finding), Steps())


def plan_to_print(record: Record) -> OilingFound:
    """The oiling plan that is kept.

    Raises NotFoundError when there is none.
    """
    kept = kept_plan(record)
    if kept is None:
        raise NotFoundError("No oiling plan is kept of this machine: work one out and keep it.")
    return kept[1]


def check_on_picture(workshop: Workshop, record: Record, asked: OilingAsked) -> None:
    """Refuse a plan whose photograph is none, or does not hold a place.

    Raises CareError or NotFoundError.
    """
    if not asked.photograph:
        return
    wide, high = size_px(workshop, photograph_named(record, asked.photograph))
    for one in oiling(Nothing(), asked, Steps()).places:
        if one.at_px is not None and not (one.at_px[0] <= wide and one.at_px[1] <= high):
            raise CareError(
                f"Place {one.number} lies at {one.at_px[0]:g}, {one.at_px[1]:g} px, and "
                f"{asked.photograph} has {wide} by {high}: touch it again."
            )


def card_of(workshop: Workshop, record: Record, *, for_the_wall: bool = False) -> bytes:
    """The card of the plan that is kept, as PDF: A6 for the drawer, or A4 for the wall."""
    found = plan_to_print(record)
    oil = OILING.answer(found).sentences[2]
    made = datetime.now(UTC).replace(microsecond=0)
    picture = _picture(workshop, record, found)
    return oil_card_pdf(
        found.plan,
        found.found,
        made=made,
        machine=record.title,
        oil=oil,
        oil_unsaid=not found.oil_told and not found.asked.oil,
        picture=picture,
        for_the_wall=for_the_wall,
    )


def calendar_of(record: Record) -> bytes:
    """The days of the plan that is kept, as a calendar file."""
    made = datetime.now(UTC).replace(microsecond=0)
    return oil_calendar(plan_to_print(record).found.points, made, record.title).encode("utf-8")


def oiled(
    workshop: Workshop,
    slug: str,
    numbers: Collection[int],
    day: str,
    hours: str = "",
    by: str = "",
) -> str:
    """Say that places were oiled: the plan counts on from that day, and a treatment tells of it.

    Parameters
    ----------
    numbers
        Of the places.
    day
        On which, such as ``1894-03-01``.
    hours
        Sewn since the oiling before, as typed; empty when nobody counted.

    Returns
    -------
    str
        Name of the plan that is kept now.

    Raises
    ------
    CareError
        When no place, no day or no number of hours is given, or the day comes before the last.
    """
    record = workshop.records.read(slug)
    found = plan_to_print(record)
    places, when = _oiled_on(found, numbers, day)
    rows = rows_of_places(found.asked.places)
    for one in places:
        rows[one.number - 1]["last"] = when.isoformat()
    # the other book ends before this day
    asked = replace(found.asked, places=table_of_places(rows), log="")
    worked = analyses.work_out(workshop, record, OILING, asked)
    treatment = _treatment(found.asked.oil, places, when, hours, by)
    with workshop.database.writing() as session:
        workshop.records.add_in(session, slug, treatment, by)
        return analyses.keep_in(workshop, session, slug, worked, by)


def _oiled_on(
    found: OilingFound, numbers: Collection[int], day: str
) -> tuple[list[OilPlace], date]:
    places = [one for one in found.places if one.number in numbers]
    if not places:
        raise CareError("Nothing is ticked: tick the places that you have oiled.")
    when = day_of(day.strip(), places[0].point.name)
    for one in places:
        if when < date.fromisoformat(one.point.last):
            raise CareError(
                f"Place {one.number} ({one.point.name}) was last oiled {one.point.last}, after "
                f"{when.isoformat()}: check the day."
            )
    return places, when


def _treatment(oil: str, places: Sequence[OilPlace], when: date, hours: str, by: str) -> Treatment:
    named = ", ".join(one.point.name for one in places)
    brief = named if len(named) <= _BRIEF else counted(len(places), "place")
    told = "; ".join(f"{o.number} {o.point.name}, {counted(o.point.drops, 'drop')}" for o in places)
    return Treatment(
        what=f"{_LOGGED}{brief}",
        stage=Stage.DONE,
        aim=Aim.PREVENTIVE,
        done=f"{told}.{_hours_told(hours)}",
        materials=(oil,) if oil else (),
        undoing=Undoing.NOTHING,
        date=when.isoformat(),
        by=by,
        hazards=(Hazard.RUNNING,),
    )


_BRIEF = 90
"""Letters of the places' names in a heading."""


def _hours_told(hours: str) -> str:
    if not hours.strip():
        return ""
    try:
        value = float(hours.replace(",", "."))
    except ValueError:
        value = -1.0
    if not 0 <= value <= _MOST_HOURS:
        raise CareError(f"'{hours[:30]}' is no number of hours sewn: write it like 12.5.")
    return f" Sewn since the oiling before: {value:g} h."


@dataclass(frozen=True, slots=True)
class LoggedOiling:
    """One line of the running log."""

    name: str
    treatment: Treatment


def log_of(record: Record) -> tuple[LoggedOiling, ...]:
    """What was oiled and when, the latest first."""
    found = [
        LoggedOiling(name, one)
        for name, one in record.of(Treatment)
        if one.what.startswith(_LOGGED) and one.stage is Stage.DONE
    ]
    return tuple(sorted(found, key=lambda one: str(one.treatment.date or ""), reverse=True))


def _picture(workshop: Workshop, record: Record, found: OilingFound) -> Drawn | None:
    """The photograph with its numbers; None where no place was pointed at, or it was withdrawn."""
    shown = dict(record.of(Photograph)).get(found.asked.photograph)
    if shown is None:
        return None
    address = picture_address(pixels(workshop.photographs.view(shown.sha256, _VIEW)))
    return numbered_picture(drawn_places(found), size_px(workshop, shown), address, _CARD_MM)


def drawn_places(found: OilingFound) -> list[NumberedPlace]:
    """The places of a plan, as a picture numbers them."""
    return [NumberedPlace(one.number, one.point.name, one.at_px, one.kind) for one in found.places]
