"""The call for reports made from a record: its theory, its mark, one of its photographs."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO

from PIL import Image

from ironlace.dossier.call_page import PlaceShown, call_page
from ironlace.dossier.print.call_card import call_card_pdf
from ironlace.evidence.errors import NotFoundError
from ironlace.record import Mark, Photograph, Record
from ironlace.record.surveyed import OWN, serial_mark
from ironlace.survey.answers.next_report import NextReport
from ironlace.survey.answers.what_next import NEXT
from ironlace.survey.errors import ReportsError
from ironlace.survey.sharing.call import Call, call_of
from ironlace.survey.sharing.report_block import folded
from ironlace.workshop.analyses import asked_for, work_out
from ironlace.workshop.hand_over.chosen import told_to_strangers
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.survey.reports_of_record import reports_of

_PICTURE_PX = 800
"""Longer edge of the photograph in a call: one page stays small enough for a mail."""


@dataclass(frozen=True, slots=True)
class CallAsked:
    """What a person says of a call; everything may be left empty.

    Attributes
    ----------
    machine
        What is looked for, as strangers call it; the record's title if empty.
    where
        Where the number sits; as its mark says if empty.
    keeper, mail, page
        Who gathers the reports, the mailbox they go to, the address of the call's page. None is
        guessed.
    photograph, at
        The photograph that shows the place, such as `photograph 3`, and the place in it as
        hundredths of width and height, such as `40,62`.
    """

    machine: str = ""
    where: str = ""
    keeper: str = ""
    mail: str = ""
    page: str = ""
    photograph: str = ""
    at: str = ""


def call_from(workshop: Workshop, record: Record, asked: CallAsked) -> Call:
    """Say what is called for.

    Raises
    ------
    ReportsError
        When an address cannot be one.
    """
    serial = serial_mark(record)
    told = dict(told_to_strangers(workshop, record).of(Mark))
    mark = told.get(serial[0]) if serial else None
    call = call_of(  # an address that cannot be is refused before the long work
        asked.machine or record.title,
        asked.where or (mark.where if mark else ""),
        None,
        keeper=asked.keeper,
        mail=asked.mail,
        page=asked.page,
    )
    found = _next(workshop, record)
    if found is None:
        return call
    return call_of(
        call.machine, call.where, found, keeper=call.keeper, mail=call.mail, page=call.page
    )


def _next(workshop: Workshop, record: Record) -> NextReport | None:
    """What to ask for next, None while there is too little to say it from."""
    if not any(report.id != OWN for report in reports_of(record).counted):
        return None
    try:
        worked = work_out(workshop, record, NEXT, asked_for(NEXT, record, {}))
    except ReportsError:
        return None
    report: NextReport = worked.found.report
    return report


def place_shown(workshop: Workshop, record: Record, asked: CallAsked) -> PlaceShown | None:
    """The photograph on which the place is shown, without notes of its camera.

    Raises
    ------
    IronlaceError
        When there is no such photograph, it may not be shown, or the place is not in it.
    """
    if not asked.photograph:
        if asked.at:
            raise ReportsError("A place is shown on a photograph: name the photograph too.")
        return None
    if asked.photograph not in dict(record.of(Photograph)):
        raise NotFoundError(f"There is no {asked.photograph[:40]} in this record.")
    photo = dict(told_to_strangers(workshop, record).of(Photograph)).get(asked.photograph)
    if photo is None:
        raise ReportsError(
            f"{asked.photograph} is for you alone: choose another, or allow it to be shown first."
        )
    across, down = _place(asked.at)
    with Image.open(workshop.photographs.view(photo.sha256, _PICTURE_PX)) as view:
        bare = BytesIO()
        view.convert("RGB").save(bare, "JPEG", quality=82)
    caption = folded(photo.caption).rstrip(".") or "Our machine, and where its number is struck"
    return PlaceShown(bare.getvalue(), across, down, caption)


def _place(text: str) -> tuple[float | None, float | None]:
    if not text.strip():
        return None, None
    try:
        across, down = (float(part) for part in text.split(","))
    except ValueError:
        across = down = -1.0
    if not (0 <= across <= 100 and 0 <= down <= 100):
        raise ReportsError(
            f"'{folded(text)[:30]}' is no place in a photograph: write hundredths of its width and "
            "height, such as 40,62."
        )
    return across, down


def call_files(
    workshop: Workshop,
    record: Record,
    asked: CallAsked,
    made: datetime,
    names: Iterable[str] | None = None,
) -> dict[str, bytes]:
    """The call as files: the page, the cards, the text for a mailing list.

    Parameters
    ----------
    names
        Which of `CALL_FILES` are wanted; all if None.

    Raises
    ------
    NotFoundError
        When there is no file of a name.
    IronlaceError
        When something that was asked for cannot be.
    """
    wanted = tuple(CALL_FILES if names is None else names)
    for name in wanted:
        if name not in CALL_FILES:
            raise NotFoundError(f"A call has no file '{name[:40]}': use {', '.join(CALL_FILES)}.")
    shown = place_shown(workshop, record, asked)
    call = call_from(workshop, record, asked)
    make: dict[str, Callable[[], bytes]] = {
        "call.html": lambda: call_page(call, shown).encode(),
        "call.txt": lambda: call.as_text().encode(),
        "card-a6.pdf": lambda: call_card_pdf(call, shown, size="a6", made=made),
        "card-a5.pdf": lambda: call_card_pdf(call, shown, size="a5", made=made),
    }
    return {name: make[name]() for name in wanted}


CALL_FILES = {
    "call.html": "A page to open, to publish or to hand on",
    "card-a6.pdf": "A card, A6",
    "card-a5.pdf": "A card, A5",
    "call.txt": "Text for a mailing list",
}
"""The files of a call, and what each is."""
