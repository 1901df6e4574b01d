"""What limits a trace is told first, on photographs cast by rays."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from ironlace.evidence.grades import Grade
from ironlace.ornament import TRACE, PhotographsToTrace, TraceAsked, drawing_svg, trace_photographs
from ironlace.ornament.errors import OrnamentError
from ironlace.ornament.files.drawing_svg import drawing_from_svg
from ironlace.ornament.trace_analysis import alone_in_words
from ironlace.ornament.trace_asked import asked_before
from ironlace.ornament.trace_limits import limits
from ironlace.photographs import Lens
from ray_cast import Scene, photograph

SMALL = Scene(size=(1500, 1060), focal=2000, distance=300)


def traced(scene: Scene, **asked):
    photo = photograph(scene, np.random.default_rng(1))
    lens = Lens.from_json(json.dumps(photo.lens))
    wanted = TraceAsked(strip="wrap", lens=lens, **asked)
    return trace_photographs(PhotographsToTrace.of([photo.image]), wanted)


def test_glare_is_told_in_the_second_sentence_and_shaded_in_the_drawing():
    found = traced(replace(SMALL, lobe=(100, 65, 22, 16, 3.0)))
    first, second = TRACE.answer(found).sentences[:2]
    assert "hidden by glare over" in first
    assert "glare hides" in second
    assert any(place.why == "glare" for place in found.drawing.blind)
    svg = drawing_svg(found.drawing)
    assert 'data-blind="glare"' in svg
    # what is shaded is no ornament when the drawing is read back
    assert len(drawing_from_svg(svg).paths) == len(found.drawing.paths)
    assert "data-blind" not in drawing_svg(found.drawing, evidence=False)


def test_an_outline_that_ends_where_sight_ends_is_conjecture_there():
    found = traced(replace(SMALL, aim=(150, 65), distance=270))
    ends = [
        (grade, length)
        for path in found.drawing.paths
        for grade, source, length in zip(path.grades, path.sources, path.lengths, strict=True)
        if source == "at a blind place: outside the photograph"
    ]
    assert sum(length for _, length in ends) > 1.0
    assert all(grade is Grade.CONJECTURED for grade, _ in ends)


def test_a_photograph_too_blurred_for_hairlines_is_refused():
    with pytest.raises(OrnamentError, match="focus on the ornament"):
        traced(replace(SMALL, defocus=3.7))


def test_a_good_photograph_is_limited_by_nothing_and_true_within_what_is_stated():
    found = traced(SMALL)
    assert limits(found.report) == []
    # alone, it cannot tell wear from ornament, and says so last
    assert list(TRACE.answer(found).sentences[1:]) == alone_in_words(found.report)
    assert 0.02 < found.report["photographs"][0]["within_mm"] < 0.12


def test_what_was_kept_before_without_a_surface_meant_a_plane():
    assert asked_before({"asked": {"photograph": "photograph 3"}})["surface"] == "plane"
    assert asked_before({"asked": {"surface": "cone"}})["surface"] == "cone"


def test_what_a_mirror_would_add_is_no_word_of_wear_where_the_gilt_hardly_shines():
    dim = {
        "photographs": [{"markers_in_layout": 40, "residual_mm": 0.01}],
        "gilt": [{"uneven": 10.0}],
        "mirror_untaken": [{"fills_share": 0.4}],
    }
    said = limits(dim)
    assert "10 times as strongly here as there" in said[0]
    assert "worn away, or shine too little" in said[-1]
    assert "trace it with its mirror" in limits({**dim, "gilt": [{"uneven": 1.4}]})[-1]
