"""The whole chain against an independent renderer's truth."""

from __future__ import annotations

import json

import numpy as np
import pytest

from darkroom import outline_errors
from ironlace.evidence.grades import Grade
from ironlace.ornament import (
    Drawing,
    OrnamentError,
    OtherPhotograph,
    PhotographsToTrace,
    PhotographToTrace,
    TraceAsked,
    compare,
    drawing_svg,
    trace_photographs,
)
from ironlace.photographs import StripNotFoundError


def test_outline_lies_on_the_truth(plane_case) -> None:
    rings = [p.polygon(0.002) for p in plane_case.traced.drawing.paths]
    forth, back = outline_errors(rings, plane_case.ornament)
    # 10 px/mm here; the goal of 0.04 and 0.12 mm is stated for 16 px/mm
    assert forth.mean() < 0.04 and back.mean() < 0.04
    assert np.percentile(forth, 95) < 0.12 and np.percentile(back, 95) < 0.12


def test_report_is_plain_json_and_says_what_was_seen(plane_case) -> None:
    report = json.loads(json.dumps(plane_case.traced.report))
    assert report["photographs"][0]["markers_used"] >= 15
    assert report["photographs"][0]["residual_mm"] < 0.05
    grades = report["drawing"]["length_by_grade_mm"]
    assert grades["seen"] > 0.97 * report["drawing"]["length_mm"]
    assert report["drawing"]["crossing_paths"] == 0


def test_progress_runs_through_the_steps_in_order(plane_case) -> None:
    names = list(dict.fromkeys(s for s, _ in plane_case.steps))
    assert names == [
        "opening the photograph",
        "finding the strip",
        "measuring camera and surface",
        "laying it flat",
        "finding the gilt",
        "gathering the evidence",
        "drawing the outlines",
        "laying it back on the photograph",
    ]
    shares = [share for _, share in plane_case.steps]
    assert shares == sorted(shares)
    assert 0.0 <= shares[0] <= shares[-1] <= 1.0


def test_gold_is_measured_as_gold(plane_case) -> None:
    r, g, b = plane_case.traced.drawing.colours["gold"]
    assert r > g > b and r - b > 60


def test_stretches_are_graded_seen(plane_case) -> None:
    lengths = plane_case.traced.drawing.length_by_grade()
    assert lengths[Grade.INFERRED] == 0.0
    assert lengths[Grade.CONJECTURED] < 0.03 * plane_case.traced.drawing.length_mm


def test_a_picture_without_the_strip_is_refused(plane_case) -> None:
    with pytest.raises(StripNotFoundError, match="0 of the strip's 22 markers"):
        given = PhotographsToTrace.of([np.zeros((300, 400, 3), np.uint8)])
        trace_photographs(given, TraceAsked(strip="wrap"))


def test_no_photograph_is_refused() -> None:
    with pytest.raises(OrnamentError, match="No photograph"):
        trace_photographs(PhotographsToTrace(()))
