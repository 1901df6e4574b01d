"""The dossier's words on what a drawing stands on."""

from ironlace.dossier.account.drawing_in_words import standing
from ironlace.evidence.findings import Finding, Method
from ironlace.evidence.grades import Grade
from ironlace.ornament import ClosedPath, Drawing, drawing_svg
from ironlace.ornament.outline.brush_strokes import area_curves


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
    told = standing(drawing_svg(drawing), finding())
    assert [words for words, _ in told] == [
        "seen: on this machine",
        "inferred: its mirror image",
        "conjectured: a gap bridged, not yet accepted",
    ]
    assert told[0][1] == "80 mm, 50.0 %"


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
    drawing = Drawing((box(0, "here", Grade.SEEN),), (0, 0, 12, 12))
    told = dict(standing(drawing_svg(drawing), finding(report=report)))
    assert "91 % of the outline" in told["laid back on its photograph"]
    assert told["colour of the red"].startswith("L*a*b* 31.0, 40.2")


def test_a_drawing_that_is_not_ours_has_no_shares():
    assert standing("<svg xmlns='http://www.w3.org/2000/svg'/>", finding()) == ()
