"""The laying sheet: order, cautions in the care room's words, pictures, what falls out."""

import pypdfium2 as pdfium
import pytest

from ironlace.care.cautions import Hazard, caution_for
from ironlace.dossier.print.laying_pdf import cautions_for, laying_pdf
from ironlace.ornament.stencils import flaws_of, flaws_svg, known_process, plan_sheets

SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="260mm" height="60mm" viewBox="0 0 260 60">'
    '<path fill-rule="evenodd" fill="#b89040" d="M5 5H255V45H5Z M12 12H48V38H12Z"/></svg>'
)


@pytest.fixture(scope="module")
def pages():
    process = known_process("film-laser")
    plan = plan_sheets(SVG, process, "split")
    flaws = flaws_of(plan.layers)
    pdf = laying_pdf(
        plan.sheets,
        plan.report,
        material=process.material,
        falls_svg=flaws_svg(plan.layers, flaws, "What falls out"),
        flaws=[f.as_dict() for f in flaws],
        paper="letter",
        title="Bed #1 [left]",
        made="2026-03-01, Ironlace",
    )
    document = pdfium.PdfDocument(pdf)
    yield [" ".join(p.get_textpage().get_text_bounded().split()) for p in document]
    document.close()


def test_it_tells_order_cautions_and_the_hand(pages):
    told = " ".join(pages)
    assert "Bed #1 [left]" in pages[0]
    assert told.index("1. Sheet 1") < told.index("2. Sheet 2")
    assert "Never laser PVC" in pages[0]
    assert "respirator" in pages[0]
    assert "local codes" in pages[0]
    assert "yes, by flood fill" in told
    assert "Nothing is to be touched in" in told
    assert "never in the japan" in told
    # wider than the paper: the picture says its scale
    assert "shown at 1 : 1." in told
    assert "1 island" in pages[-1]


def test_cautions_are_those_of_the_care_room():
    told = cautions_for(["laser and PVC", "spraying", "something new"])
    assert caution_for(Hazard.LASER).says in told
    assert any(says.startswith(caution_for(Hazard.SPRAYING).says) for says in told)
    assert caution_for(Hazard.TWO_PART).says in told
    assert "something new" in told
    assert told[-1].startswith("This does not replace")
