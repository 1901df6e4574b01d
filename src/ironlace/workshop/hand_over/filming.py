"""Notes for a film of a machine: of what may go to strangers, by the choice kept for them."""

from ironlace import __version__
from ironlace.dossier.film.captions import read_chapters
from ironlace.dossier.film.files import Film, film_of
from ironlace.dossier.film.scenes import running_order
from ironlace.workshop.hand_over.chosen import told_to_strangers
from ironlace.workshop.store.folder import Workshop


def film_notes(workshop: Workshop, slug: str, chapters: str = "") -> Film:
    """The notes, with chapters as they were typed.

    Raises FilmError when the chapters cannot be read.
    """
    told = told_to_strangers(workshop, workshop.records.read(slug))
    return film_of(told, read_chapters(chapters, running_order(told)), __version__)
