"""A trace told: results with their grades, what could make it wrong, the drawing as a file."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from ironlace.evidence.findings import Finding, Method
from ironlace.evidence.grades import Grade
from ironlace.ornament import (
    ANALYSES,
    TRACE,
    OrnamentError,
    TraceAsked,
    drawing_from_svg,
    same_drawing,
)
from ironlace.ornament.trace_analysis import alone_in_words
from ironlace.ornament.trace_limits import refuse_traceless, traceless_share


def with_report(traced, **parts):
    return replace(traced, report={**traced.report, **parts})


SHORT = {"what": "a bed", "times": 1.06, "sd": 0.001, "contradicts": True}
TRUE = {"what": "what was measured by hand", "times": 1.0, "sd": 0.001, "contradicts": False}


def drawn(traced, unseen):
    """The report of the drawing with such a share of it conjectured."""
    told = traced.report["drawing"]
    return {**told, "length_by_grade_mm": {"seen": 1.0 - unseen, "conjectured": unseen}}


def test_it_is_among_the_analyses_of_the_room():
    assert TRACE in ANALYSES


def test_the_length_comes_with_grade_and_interval(plane_case):
    length, seen, residual, proof = TRACE.answer(plane_case.traced).results
    truth = plane_case.ornament.gilt.length
    assert length.value == pytest.approx(truth, rel=0.02)
    assert length.grade is Grade.SEEN
    assert length.interval.low < length.value < length.interval.high
    assert seen.value == pytest.approx(100, abs=3)
    assert 0 < residual.value < 0.05
    assert 0 < proof.value < 0.05


def test_the_first_sentence_says_what_it_was_traced_from(plane_case):
    first = TRACE.answer(plane_case.traced).sentences[0]
    assert "traced from here" in first
    assert "strip's markers agree with the camera" in first


def test_a_good_photograph_brings_no_caution(plane_case):
    told = TRACE.answer(plane_case.traced)
    assert len(told.sentences) == 1


def test_what_could_make_it_wrong_is_said(plane_case):
    traced, report = plane_case.traced, plane_case.traced.report
    lifted = {**report["photographs"][0], "residual_mm": 0.3}
    soft = {**report["photographs"][0], "gilt_blur_mm": 0.2}
    banded = {**report["photographs"][0], "light_bands": 0.2}
    coarse = [{**report["gilt"][0], "colour_spread_mm": 0.5}]
    cut = {**report["photographs"][0], "strip_evidence": {"centre_pull": 5.0}}
    for parts, says in (
        ({"photographs": [lifted]}, "probably not flat"),
        ({"photographs": [soft]}, "blurred over 0.20 mm and the strip over 0.0"),
        ({"photographs": [cut]}, "and not the strip's paper that was pulled"),
        ({"photographs": [cut]}, "seems to be cropped, or the strip's paper to be longer one way"),
        ({"blind_share": {"glare": 0.4}}, "glare hides 40 %"),
        ({"blind_share": {"too slanting": 0.06}}, "6 % of what the strip encloses is seen too sl"),
        ({"blind_share": {"too slanting": 0.02}, "ends_blind_mm": 9.0}, "2 % of what the strip"),
        (
            {"mirror_untaken": [{"fills_share": 0.2}]},
            "20 % of gilt, so that paint is probably worn",
        ),
        (
            {"mirror_untaken": [{"fills_share": 0.03}]},
            "3 % of gilt: where paint is worn away there",
        ),
        ({"traceless_share": 0.2}, "along 20 %"),
        ({"shaded_share": 0.04}, "95 % of what is drawn lie within"),
        ({"shaded_share": 0.04}, "hidden by a deep shadow over 4 % and more of the work"),
        ({"blind_share": {"glare": 0.09}}, "95 % of what is drawn lie within"),
        (
            {"blind_share": {"glare": 0.09}},
            "paint that may be hidden by glare over 9 % of the work",
        ),
        ({"blind_share": {"covered": 0.03}}, "neither japan nor gilt covers 3 %"),
        ({"other_paint_share": 0.03}, "3 % of what the strip encloses stands out as gilt does but"),
        ({"other_paint_share": 0.03}, "hidden by being of another colour over 3 % of the work"),
        ({"gone_grey_share": 0.04}, "4 % of what the strip encloses stands out as brightly as"),
        ({"gone_grey_share": 0.04}, "hidden by being grey over 4 % of the work"),
        ({"gone_grey_share": 0.003}, "95 % of the outline lie within"),
        ({"other_paint_share": 0.003}, "95 % of the outline lie within"),
        ({"photographs": [banded]}, "light lies across it in bands, 20 % up and down"),
        ({"gilt": coarse}, "the picture keeps its colour over 0.5 mm and only its light finer"),
        ({"gilt": coarse}, "95 % of what is drawn lie within"),
        ({"gilt": coarse}, "not in that: hairlines whose colour the picture has not kept"),
        ({"blind_share": {"too dark": 0.03}}, "95 % of what is drawn lie within"),
        ({"shaded_share": 0.01}, "95 % of the outline lie within"),
        ({"traceless_share": 0.1}, "95 % of what shows an edge in the photograph lie within"),
        ({"traceless_share": 0.2}, "how near the outline lies to the paint's edge is not told"),
        ({"drawing": drawn(traced, 0.1)}, "95 % of what is graded seen lie within"),
        ({"drawing": drawn(traced, 0.1)}, "not in that: the 10 % of the outline that are not"),
        ({"drawing": drawn(traced, 0.01)}, "95 % of the outline lie within"),
        (
            {"strip": {**report["strip"], "beside": [SHORT]}},
            "edge is not told, for a bed comes out 6",
        ),
        (
            {"strip": {**report["strip"], "beside": [TRUE]}},
            "agrees with the strip's size, within 0.",
        ),
    ):
        assert says in " ".join(TRACE.answer(with_report(traced, **parts)).sentences)


def test_a_shadow_widens_what_is_told_of_what_is_drawn(plane_case):
    lit, dim = (with_report(plane_case.traced, shaded_share=share) for share in (0.01, 0.04))
    wider = [
        float(re.search(r"lie within ([\d.]+) mm", TRACE.answer(one).sentences[0])[1])
        for one in (lit, dim)
    ]
    usual = plane_case.traced.report["photographs"][0]["within_mm"]
    assert wider == pytest.approx([usual, 2.5 * usual], abs=0.006)


def test_the_figures_never_hold_a_distance_without_what_it_is_of(plane_case):
    figures = TRACE.answer(plane_case.traced).as_dict()["stated"]
    assert figures["within_mm"] == plane_case.traced.report["photographs"][0]["within_mm"]
    assert (figures["of"], figures["hidden_share"]) == ("the outline", {})
    glare = with_report(plane_case.traced, blind_share={"glare": 0.09}, traceless_share=0.11)
    figures = TRACE.answer(glare).as_dict()["stated"]
    assert figures["within_mm"] is None
    assert figures["hidden_share"] == {"glare": 0.09}
    assert "shows no edge" in figures["why_not"]


def test_what_its_own_photograph_does_not_show_is_no_drawing(plane_case):
    proof = plane_case.traced.report["proof"]
    refuse_traceless(proof)
    with pytest.raises(OrnamentError, match="no edge in the photograph along 87 %"):
        refuse_traceless({**proof, "graded_seen_without_a_trace": 0.87})


def test_a_report_kept_without_its_traceless_share_is_read_by_its_proof() -> None:
    assert traceless_share({"proof": {"graded_seen_without_a_trace": 0.2}}) == 0.2
    assert traceless_share({}) == 0.0


def test_a_strip_that_lies_wrong_is_told_before_what_a_mirror_would_add(plane_case):
    """Laid flat wrongly, an ornament has no mirror image worth asking."""
    lifted = {**plane_case.traced.report["photographs"][0], "residual_mm": 0.3}
    both = {"photographs": [lifted], "mirror_untaken": [{"fills_share": 0.2}]}
    both["blind_share"] = {"covered": 0.1}
    told = " ".join(TRACE.answer(with_report(plane_case.traced, **both)).sentences)
    assert told.index("probably not flat") < told.index("its mirror image")
    # nor is what a thing hides worn away
    assert told.index("neither japan nor gilt") < told.index("its mirror image")


def test_a_strip_turned_away_at_its_rim_alone_is_no_caution(plane_case):
    rim = with_report(plane_case.traced, blind_share={"too slanting": 0.03}, ends_blind_mm=0.0)
    assert "What limits it" not in " ".join(TRACE.answer(rim).sentences)


def test_the_drawing_comes_as_a_file(plane_case):
    (file,) = TRACE.answer(plane_case.traced).files
    again = drawing_from_svg(file.content().decode())
    assert same_drawing(plane_case.traced.drawing, again) == ""
    assert "95 % of the outline lie within" in file.content().decode()


def test_two_findings_are_compared_by_the_length_of_outline():
    def finding(value):
        return Finding(
            about=TRACE.about, value=value, method=Method(name=TRACE.method), version="1"
        )

    kept = finding({"svg": "0" * 64, "outline_mm": 100.0})
    assert TRACE.same(kept, finding(100.001)) == ""
    assert "120.0 mm long" in TRACE.same(kept, finding(120.0))


def test_it_is_a_job_and_about_the_drawing_that_was_asked_for():
    assert TRACE.takes_long(None, TraceAsked())
    assert TRACE.subject(TraceAsked("photograph 3")) == "photograph 3"
    assert TRACE.subject(TraceAsked("photograph 3", name="Bed")) == "Bed"


def test_one_source_alone_says_that_nothing_tells_wear_from_ornament():
    alone, with_mirror = {"layer": "gold", "name": "here"}, {"layer": "gold", "name": "mirror"}
    (told,) = alone_in_words({"gathered": [alone]})
    assert "called seen" in told
    assert alone_in_words({"gathered": [alone, with_mirror]}) == []
    # rims that its mirror image tells eaten are not called seen, though nothing was taken from it
    assert alone_in_words({"gathered": [alone], "eaten_share": 0.4}) == []
    assert alone_in_words({"gathered": [alone], "eaten_share": 0.0}) == [told]
    assert alone_in_words({"gathered": [alone, with_mirror, {**alone, "layer": "red"}]}) == [told]
