"""The oiling card for the drawer, A6: the points, how many drops, how often, when next."""

from datetime import datetime
from typing import Any

from ironlace.care.cautions import DEFER, Hazard, caution_for
from ironlace.care.felt_wick import felt_in_words
from ironlace.care.oil_plan import OilPlan, OilPlanFound, Point, viscosity_in_words
from ironlace.dossier.print.typesetting import typeset


def oil_card_pdf(plan: OilPlan, found: OilPlanFound, *, made: datetime) -> bytes:
    """Set the card.

    Raises
    ------
    DossierError
        When the page cannot be set.
    """
    data: dict[str, Any] = {
        "title": "Oiling card",
        "made": made.date().isoformat(),
        "oil": " ".join(
            part
            for part in (f"{plan.oil.name}." if plan.oil.name else "", _oil(plan, found))
            if part
        ),
        "points": [
            {
                "name": one.point.name
                if not one.point.kind
                else f"{one.point.name} ({one.point.kind})",
                "drops": str(one.point.drops),
                "every": every_in_words(one.point),
                "due": one.due.isoformat(),
            }
            for one in found.points
        ],
        "felts": [
            felt_in_words(felt, one) for felt, one in zip(plan.felt, found.felts, strict=True)
        ],
        # oiling means turning the works over by hand
        "cautions": [caution_for(Hazard.RUNNING).says, DEFER],
    }
    return typeset("oil_card.typ", data, made=made)


def _oil(plan: OilPlan, found: OilPlanFound) -> str:
    return viscosity_in_words(plan.oil, found.viscosity)


def every_in_words(point: Point) -> str:
    """How often a point wants oil.

    >>> every_in_words(Point("cup", "1893-04-12", every_hours=8.0, every_months=3))
    '8 h of sewing or 3 months'
    """
    parts = []
    if point.every_hours is not None:
        parts.append(f"{point.every_hours:g} h of sewing")
    if point.every_months is not None:
        parts.append(f"{point.every_months} month{'s' * (point.every_months != 1)}")
    return " or ".join(parts)
