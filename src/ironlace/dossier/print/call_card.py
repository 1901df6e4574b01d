"""The call for reports as a card to print and lay beside a machine: A6 or A5, with a QR code."""

import io
from datetime import datetime
from typing import Any, Final, Literal

import segno

from ironlace.dossier.call_page import PlaceShown, figure
from ironlace.dossier.errors import DossierError
from ironlace.dossier.print.typesetting import typeset
from ironlace.survey.sharing.call import CAUTION, LIGHT, Call

CardSize = Literal["a6", "a5"]
CARD_MM: Final[dict[CardSize, tuple[float, float]]] = {"a6": (105.0, 148.0), "a5": (148.0, 210.0)}
"""Width and height of a card, mm (ISO 216)."""

_TOO_LONG = "longer than the card"
"""What the template stops with; no long word, so that it comes back as it is."""


def call_card_pdf(
    call: Call, shown: PlaceShown | None, *, size: CardSize = "a6", made: datetime
) -> bytes:
    """Set the card.

    The code leads to the call's page, else it begins a mail; with no address given there is none,
    and the card says so.

    Raises
    ------
    DossierError
        When there is no such size, or more is to be said than the card holds.
    """
    if size not in CARD_MM:
        raise DossierError(f"There is no card of size '{size}' here: use {' or '.join(CARD_MM)}.")
    leads_to = call.page or (f"mailto:{call.mail}" if call.mail else "")
    beside = {"figure.svg": figure().replace("currentColor", "#000").encode()}
    if shown:
        beside["place.jpg"] = shown.jpeg
    if leads_to:
        code = io.BytesIO()
        segno.make(leads_to, error="m", micro=False).save(code, kind="svg", scale=4, border=4)
        beside["code.svg"] = code.getvalue()
    width, height = CARD_MM[size]
    data: dict[str, Any] = {
        "title": f"Wanted: the numbers of other machines like {call.machine}",
        "why": list(call.why),
        "where": call.where_sits(),
        "light": [LIGHT[1], LIGHT[3], CAUTION],
        "most": list(call.tells_most[:1]),
        "name": "You choose: by name, by initials, or not named at all.",
        "to": call.page or call.mail,
        "form": bool(call.page),
        "also": call.mail if call.page else "",
        "keeper": call.keeper,
        "code": bool(leads_to),
        "photograph": shown is not None,
        "across": shown.across if shown else None,
        "down": shown.down if shown else None,
        "caption": shown.caption if shown else "A drawn figure: numbers are often struck at 1 to 4",
        "width": width,
        "height": height,
        "too-long": _TOO_LONG,
        "big": size == "a5",
    }
    try:
        return typeset("call_card.typ", data, made=made.replace(microsecond=0), files_beside=beside)
    except DossierError as error:
        if _TOO_LONG not in str(error):
            raise
        raise DossierError(
            f"The call does not fit on a card of {size.upper()}: say in fewer words what the "
            "machine is called, where its number sits and who gathers the reports."
        ) from error
