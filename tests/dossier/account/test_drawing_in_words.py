"""The dossier's words on what a drawing stands on."""

import re

import numpy as np

from ironlace.dossier.account.drawing_in_words import (
    GRADE_COLOURS,
    evidence_map,
    standing,
    without_lines,
)
from ironlace.dossier.print.plain_drawing import read_drawing
from ironlace.evidence.findings import Finding, Method
from ironlace.evidence.grades import Grade
from ironlace.ornament import ClosedPath, Drawing, drawing_svg
from ironlace.ornament.outline.brush_strokes import area_curves
from ironlace.ornament.outline.drawing import BlindPlace


def box(x, source, grade, side=10.0):
    import shapely

    curves = area_curves(shapely.box(x, 0, x + side, side))[0]
    return ClosedPath.of(curves, grade, source)


def finding(**parameters):
    return Finding(
        about="ornament",
        value={"svg": "0" * 64},
        method=Method(name="m", parameters=parameters),
        version="0",
    )


def test_the_outline_is_shared_out_by_grade_and_source():
    drawing = Drawing(
        (
            box(0, "here", Grade.SEEN),
            box(20, "here", Grade.SEEN),
            box(40, "mirror", Grade.INFERRED),
            box(60, "bridge", Grade.CONJECTURED),
        ),
        (0, 0, 80, 12),
    )
    known = evidence_map("drawing 1", "Scroll", drawing_svg(drawing))
    assert [f"{share.grade}: {share.words}" for share in known.shares] == [
        "seen: on this machine",
        "inferred: its mirror image",
        "conjectured: a gap bridged, not yet accepted",
    ]
    assert [share.percent for share in known.shares] == [
        "50.0\u00a0%",
        "25.0\u00a0%",
        "25.0\u00a0%",
    ]
    assert known.shares[0].length_mm == 80.0
    assert known.grades == (Grade.SEEN, Grade.INFERRED, Grade.CONJECTURED)
    assert "25.0\u00a0% inferred, its mirror image" in known.said


def test_each_stretch_of_the_map_has_its_grades_own_pattern_and_colour():
    path = box(0, "here", Grade.SEEN)
    grades = (Grade.SEEN, Grade.INFERRED, Grade.INFERRED, Grade.CONJECTURED)
    mixed = ClosedPath(path.curves, grades, ("here", "mirror", "mirror", "none"))
    svg = evidence_map("drawing 1", "x", drawing_svg(Drawing((mixed,), (0, 0, 12, 12)))).drawing.svg
    drawn = re.findall(
        r'<path data-grade="(\w+)" stroke="(#\w+)"(?: stroke-dasharray="([^"]*)")?', svg
    )
    expected = [
        (g.value, GRADE_COLOURS[g], " ".join(f"{mm:g}" for mm in g.dash_mm))
        for g in (Grade.CONJECTURED, Grade.INFERRED, Grade.SEEN)
    ]
    assert drawn == expected
    assert len({colour for _, colour, _ in expected}) == 3


def test_the_colours_of_the_map_stand_out_from_paper_and_from_the_gilt_under_them():
    def luminance(colour):
        parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    for ground in ("#ffffff", "#eadfc4"):
        for colour in GRADE_COLOURS.values():
            # WCAG 2.2, 1.4.11: lines that carry meaning
            assert (luminance(ground) + 0.05) / (luminance(colour) + 0.05) >= 3.0, (ground, colour)


def test_what_is_shown_has_no_lines_of_evidence_and_is_the_same_paint():
    drawing = Drawing(
        (box(0, "here", Grade.SEEN), box(20, "mirror", Grade.INFERRED)), (0, 0, 40, 12)
    )
    svg = drawing_svg(drawing)
    bare = without_lines(svg)
    assert "data-role" in svg and "data-role" not in bare
    assert bare.split() == drawing_svg(drawing, evidence=False).split()
    assert read_drawing(bare).grades == ()
    assert without_lines("<svg/>") == "<svg/>"


def test_the_proof_and_the_colours_are_told():
    report = {
        "proof": {
            "with_a_trace": 0.91,
            "mean_mm": 0.031,
            "p95_mm": 0.09,
            "graded_seen_without_a_trace": 0.02,
        },
        "colours": {"red": {"lab": [31.0, 40.2, 22.0]}},
    }
    told = dict(standing(finding(report=report)))
    assert "91 % of the outline" in told["laid back on its photograph"]
    assert told["colour of the red"].startswith("L*a*b* 31.0, 40.2")


def test_a_drawing_that_does_not_carry_its_evidence_has_no_map():
    assert evidence_map("drawing 1", "x", "<svg xmlns='http://www.w3.org/2000/svg'/>") is None
    assert standing(finding()) == ()


def test_what_the_photograph_hides_is_shaded_on_the_map_and_told():
    hidden = BlindPlace("glare", np.array([[1.0, 1.0], [7.0, 1.0], [4.0, 5.0]]))
    drawing = Drawing((box(0, "here", Grade.SEEN),), (0, 0, 12, 12), blind=(hidden,))
    svg = drawing_svg(drawing)
    for shown in (evidence_map("drawing 1", "x", svg).drawing.svg, without_lines(svg)):
        assert 'data-blind="glare"' in shown and "no-sight" in shown
    told = dict(standing(finding(report={"blind_share": {"too dark": 0.02, "glare": 0.123}})))
    assert told == {
        "shaded, for nothing can be said of it": "12.3 % (glare), 2.0 % (too dark) of what the "
        "strip encloses"
    }
    assert not standing(finding(report={"blind_share": {"glare": 0.0}}))
