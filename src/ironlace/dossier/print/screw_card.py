"""The card that a screw is photographed on, as a sheet to print and cut out."""

from ironlace.care.screw_card import screw_card_svg
from ironlace.dossier.print.true_scale import true_scale_pdf
from ironlace.dossier.print.typesetting import Paper

_NOTE = (
    "Print at 100 %, check the bar, glue it flat on stiff white card and cut it out. Lay the screw "
    "in the middle, level, paper to be seen all round it, and photograph it straight from above."
)


def screw_card_pdf(paper: Paper, made: str) -> bytes:
    """The card at true scale with a bar to check the printer by."""
    return true_scale_pdf(
        screw_card_svg(), paper=paper, title="Card for a screw", note=_NOTE, made=made
    )
