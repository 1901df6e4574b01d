"""Notes for a film of a machine: of what may go to strangers, by the choice kept for them."""

from ironlace import __version__
from ironlace.dossier.film.captions import read_chapters
from ironlace.dossier.film.files import Film, film_of
from ironlace.dossier.film.scenes import running_order
from ironlace.record import Mark
from ironlace.workshop.hand_over.chosen import told_to_strangers
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.survey.call_made import CallAsked, call_from


def film_notes(
    workshop: Workshop, slug: str, chapters: str = "", call: CallAsked | None = None
) -> Film:
    """The notes, with chapters as they were typed.

    Parameters
    ----------
    call
        What the call for reports says, for the description; it takes a while to work out what
        would tell most, so without it there is no call. Nor is there one where no number is told.

    Raises
    ------
    FilmError
        When the chapters cannot be read.
    ReportsError
        When an address cannot be one.
    """
    record = workshop.records.read(slug)
    told = told_to_strangers(workshop, record)
    typed = read_chapters(chapters, running_order(told))
    asks = call is not None and any(told.of(Mark))
    words = call_from(workshop, record, call).as_text() if asks and call else ""
    return film_of(told, typed, __version__, words)
