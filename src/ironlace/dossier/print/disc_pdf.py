"""The degree disc for the hand wheel as a page to print at true scale."""

from datetime import datetime

from ironlace.dossier.print.typesetting import typeset
from ironlace.running.degree_disc import PAPERS, DegreeDisc, degree_disc_svg


def disc_pdf(disc: DegreeDisc, *, made: datetime | None = None) -> bytes:
    """Set the disc.

    Raises
    ------
    RunningError
        When the disc is too small to be read, too large for the paper, or all hole.
    DossierError
        When the page cannot be set.
    """
    wide, high = PAPERS[disc.paper]
    title = f"Degree disc, {disc.diameter_mm:g} mm, numbered {disc.numbered}"
    return typeset(
        "degree_disc.typ",
        {"title": title, "width": wide, "height": high},
        made=made,
        files_beside={"disc.svg": degree_disc_svg(disc).encode("utf-8")},
    )
