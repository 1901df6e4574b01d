"""The laying sheet: order, cautions in the care room's words, pictures, what falls out."""

import pypdfium2 as pdfium
import pytest

from ironlace.care.cautions import DEFER, Hazard, caution_for, process_cautions
from ironlace.dossier.print.laying_pdf import laying_pdf, surface_in_words
from ironlace.ornament.stencils import (
    HAZARDS,
    flaws_of,
    flaws_svg,
    known_process,
    known_processes,
    plan_sheets,
)
from ironlace.ornament.stencils.laying import Feature
from ironlace.ornament.stencils.planning.in_words import DEFER as PLAIN_DEFER

SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="260mm" height="60mm" viewBox="0 0 260 60">'
    '<path fill-rule="evenodd" fill="#b89040" d="M5 5H255V45H5Z M12 12H48V38H12Z"/></svg>'
)


def told_by(flaws=None, surface=None, features=()):
    """The laying sheet's pages as text, with flaws as given or as they are."""
    process = known_process("film-laser")
    plan = plan_sheets(SVG, process, "split", features=features)
    found = flaws_of(plan.layers)
    pdf = laying_pdf(
        plan.sheets,
        plan.report,
        material=process.material,
        falls_svg=flaws_svg(plan.layers, found, "What falls out"),
        flaws=[f.as_dict() for f in found] if flaws is None else flaws,
        surface=surface,
        paper="letter",
        title="Bed #1 [left]",
        made="2026-03-01, Ironlace",
    )
    document = pdfium.PdfDocument(pdf)
    pages = [" ".join(p.get_textpage().get_text_bounded().split()) for p in document]
    document.close()
    return pages


@pytest.fixture(scope="module")
def pages():
    return told_by()


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
    told = process_cautions(["laser and PVC", "spraying", "something new"])
    assert caution_for(Hazard.LASER).says in told
    assert caution_for(Hazard.SPRAYING).says in told
    assert caution_for(Hazard.TWO_PART).says in told
    assert "something new" in told
    assert told[-1] == DEFER
    # the plain sheet stands in a room that knows nothing of care: its words are held to the list
    for name, says in HAZARDS.items():
        assert process_cautions([name])[0] == says
    assert PLAIN_DEFER == DEFER
    known = [known_process(name) for name in known_processes()]
    assert {one for process in known for one in process.cautions} <= set(HAZARDS)


def test_only_the_twenty_narrowest_of_many_are_in_the_table_and_the_rest_are_counted():
    flaws = [
        {"number": n, "kind": "web" if n % 3 else "island", "colour": "gold", "x_mm": 1.0,
         "y_mm": 1.0, "length_mm": 2.0, "width_mm": 1000.0 - n, "area_mm2": 7000.0 + n}
        for n in range(1, 401)
    ]  # fmt: skip
    told = " ".join(told_by(flaws))
    # the areas tell which rows are there: the twenty narrowest have the highest numbers
    rows = [n for n in range(1, 401) if f" {7000 + n}" in told]
    assert rows == list(range(381, 401))
    assert "These are the 20 narrowest of 400. The other 380" in told
    assert "126 islands" in told and "254 thin webs" in told


def test_a_short_table_is_whole_and_says_nothing_of_a_rest(pages):
    assert "narrowest of" not in " ".join(pages)


def test_radius_and_wrapping_are_told():
    told = told_by(surface={"kind": "cylinder", "radius_mm": 41.5})[0]
    assert "unrolled from a cylinder of 41.5 mm radius (83 mm across, 260.8 mm round)" in told
    assert "along the axis" in told
    assert "half angle 4°" in surface_in_words(
        {"kind": "cone", "radius_mm": 30.0, "half_angle_deg": 4.0}
    )
    assert "lie flat" in told_by()[0]


def test_crosses_holes_and_strokes_are_labelled_in_the_picture():
    told = " ".join(told_by(features=[Feature("bolt hole <2>", 60.0, 30.0)]))
    first = told[told.index("1. Sheet 1") : told.index("2. Sheet 2")]
    # once in the list of laying marks, once at the cross of the picture
    assert first.count("bolt hole <2>") == 2
    assert "(A, B, C)" in first
    assert "middle, left to right" in first.split("openings;")[1]
