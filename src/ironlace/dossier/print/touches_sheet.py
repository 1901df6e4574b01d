"""What touches the machine, on a sheet that stays with it: a numbered picture and the list."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from ironlace.care.cautions import DEFER, Hazard, caution_for
from ironlace.care.step_words import cautions_due
from ironlace.dossier.print.numbered_picture import Drawn, NumberedPlace
from ironlace.dossier.print.typesetting import Paper, typeset
from ironlace.stand.touches import COLUMNS, TOUCHES, Touches, TouchingThing

_NOT_SAID = "not said"
_PAPERS = {"a4": "a4", "letter": "us-letter"}
"""By paper, what the typesetter calls it."""


def touches_sheet_pdf(
    found: Touches,
    *,
    machine: str,
    paper: Paper,
    made: datetime,
    picture: Drawn | None = None,
) -> bytes:
    """Set the sheet.

    Parameters
    ----------
    machine
        What the machine is called.
    picture
        The photograph with its numbers, set above the list.

    Raises
    ------
    DossierError
        When the page cannot be set.
    """
    data: dict[str, Any] = {
        "title": f"What touches {machine}",
        "paper": _PAPERS[paper],
        "made": made.date().isoformat(),
        "first": list(TOUCHES.answer(found).sentences),
        "things": [
            {name: getattr(one, name) or _NOT_SAID for name in COLUMNS[:5]} for one in found.things
        ],
        "cautions": _cautions(found.things),
        "picture": picture.says if picture else "",
        "wide": picture.width_mm if picture else 0.0,
    }
    files = {"picture.svg": picture.svg.encode("utf-8")} if picture else None
    return typeset("touches_sheet.typ", data, made=made, files_beside=files)


def numbered_things(found: Touches) -> list[NumberedPlace]:
    """The things of a list, as a picture numbers them."""
    return [
        NumberedPlace(number, one.thing, one.at_px, "hole")
        for number, one in enumerate(found.things, 1)
    ]


def hazards_called(things: Sequence[TouchingThing]) -> tuple[Hazard, ...]:
    """What the words of the list call for, as magnets do; nothing else."""
    return cautions_due(" ".join(f"{one.thing}; {one.between}; {one.comes_off}." for one in things))


def _cautions(things: Sequence[TouchingThing]) -> list[str]:
    said = [caution_for(hazard).says for hazard in hazards_called(things)]
    return [*said, DEFER] if said else []
