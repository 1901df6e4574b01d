"""The oiling card, A6 for the drawer or A4 for the wall: points, drops, how often, when next."""

from datetime import datetime
from typing import Any

from ironlace.care.cautions import DEFER, Hazard, caution_for
from ironlace.care.felt_wick import felt_in_words
from ironlace.care.oil_plan import OilPlan, OilPlanFound, every_in_words, viscosity_in_words
from ironlace.dossier.print.numbered_picture import Drawn
from ironlace.dossier.print.typesetting import typeset


def oil_card_pdf(
    plan: OilPlan,
    found: OilPlanFound,
    *,
    made: datetime,
    machine: str = "",
    oil: str | None = None,
    oil_unsaid: bool = False,
    picture: Drawn | None = None,
    for_the_wall: bool = False,
) -> bytes:
    """Set the card.

    Parameters
    ----------
    plan, found
        As asked for and as worked out.
    made
        The day it is made.
    machine
        Whose card it is; none is named where it is empty.
    oil
        What is told of the oil; None tells it from `found`.
    oil_unsaid
        Nobody said which oil: the card has a line to write it on.
    picture
        The photograph with its numbers, set above the table.
    for_the_wall
        A4 and twice as large instead of A6, to be read from a step away.

    Raises
    ------
    DossierError
        When the page cannot be set.
    """
    data: dict[str, Any] = {
        "title": f"Oiling card, {machine}" if machine else "Oiling card",
        "large": 2 if for_the_wall else 1,
        "made": made.date().isoformat(),
        "oil": oil
        if oil is not None
        else " ".join(
            part
            for part in (f"{plan.oil.name}." if plan.oil.name else "", _oil(plan, found))
            if part
        ),
        "oil_unsaid": oil_unsaid,
        "points": _points(found),
        "felts": [
            felt_in_words(felt, one) for felt, one in zip(plan.felt, found.felts, strict=True)
        ],
        # oiling means turning the works over by hand
        "cautions": [caution_for(Hazard.RUNNING).says, DEFER],
        "picture": picture.says if picture else "",
        "wide": picture.width_mm if picture else 0.0,
    }
    files = {"picture.svg": picture.svg.encode("utf-8")} if picture else None
    return typeset("oil_card.typ", data, made=made, files_beside=files)


def _points(found: OilPlanFound) -> list[dict[str, str]]:
    return [
        {
            "name": one.point.name
            if not one.point.kind
            else f"{one.point.name} ({one.point.kind})",
            "drops": str(one.point.drops),
            "every": every_in_words(one.point),
            "due": one.due.isoformat(),
        }
        for one in found.points
    ]


def _oil(plan: OilPlan, found: OilPlanFound) -> str:
    return viscosity_in_words(plan.oil, found.viscosity)
