"""The drawing of a base on paper at true scale, tiled where it is larger than the paper."""

from ironlace import __version__
from ironlace.care.cautions import DEFER, Hazard, caution_for
from ironlace.dossier.print.true_scale import true_scale_pdf
from ironlace.dossier.print.typesetting import Paper
from ironlace.stand.base import BaseFound
from ironlace.stand.base_drawing import base_svg


def base_pdf(found: BaseFound, paper: Paper) -> bytes:
    """Plan, elevations and cutting list of a base, with what to heed when it is made."""
    note = (
        "Felt lies between iron and wood all round the ledge; nothing is fixed to the machine that "
        f"was not already a hole with a screw in it. {caution_for(Hazard.LIFTING).says} {DEFER}"
    )
    return true_scale_pdf(
        base_svg(found), paper=paper, title="Base", note=note, made=f"Ironlace {__version__}"
    )
