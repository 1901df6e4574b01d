"""The whole chain against an independent renderer's truth."""

from __future__ import annotations

import json

import numpy as np
import pytest

from darkroom import Shot, outline_errors, photograph, scrollwork
from ironlace.evidence.grades import Grade
from ironlace.ornament import (
    OrnamentError,
    OtherPhotograph,
    PhotographsToTrace,
    TraceAsked,
    trace_photographs,
)
from ironlace.photographs import Lens, StripNotFoundError, strip_sheet


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


def test_words_on_other_photographs_must_be_as_many_as_those(plane_case) -> None:
    asked = TraceAsked(strip="wrap", others=(OtherPhotograph("b"), OtherPhotograph("c")))
    with pytest.raises(OrnamentError, match="1 further photographs came with words on 2"):
        trace_photographs(PhotographsToTrace.of([plane_case.image] * 2), asked)


def test_each_photograph_is_placed_with_its_own_lens() -> None:
    """Two cameras, the second with the longer lens; the same ornament, nothing of it worn."""
    rng = np.random.default_rng(17)
    ornament = scrollwork(rng, (60, 40, 120, 80), scrolls=3)
    size = {"width": 1500, "height": 1050, "aim_mm": (100.0, 65.0), "glare": False}
    shots = [
        Shot(focal_px=1650, distance_mm=260.0, **size),
        Shot(focal_px=2300, distance_mm=362.0, tilt_way_deg=120, **size),
    ]
    images = [photograph(ornament, strip_sheet("wrap"), shot, rng) for shot in shots]
    lenses = [Lens.from_json(json.dumps(shot.lens)) for shot in shots]
    given = PhotographsToTrace.of(images)
    other = OtherPhotograph("b", "machine", lens=lenses[1])
    each = trace_photographs(given, TraceAsked(strip="wrap", lens=lenses[0], others=(other,)))
    found = [one["lens"]["matrix"][0][0] for one in each.report["photographs"]]
    assert found == [1650.0, 2300.0]
    assert max(one["residual_mm"] for one in each.report["photographs"]) < 0.05
    rings = [p.polygon(0.002) for p in each.drawing.paths]
    forth, back = outline_errors(rings, ornament)
    assert forth.mean() < 0.04 and back.mean() < 0.04


def test_each_photograph_has_its_own_focal_length() -> None:
    shots = [
        Shot(width=1500, height=1050, focal_px=focal, distance_mm=far, aim_mm=(100.0, 65.0))
        for focal, far in ((1650, 260.0), (2300, 362.0))
    ]
    rng = np.random.default_rng(3)
    ornament = scrollwork(rng, (60, 40, 120, 80), scrolls=3)
    images = [photograph(ornament, strip_sheet("wrap"), shot, rng) for shot in shots]
    # as Exif gives it: for 35 mm film, by the diagonal
    focal = [shot.focal_px * 43.27 / np.hypot(1500, 1050) for shot in shots]
    traced = trace_photographs(PhotographsToTrace.of(images, focal), TraceAsked(strip="wrap"))
    lenses = [placing.lens for placing in traced.placings]
    for lens, shot in zip(lenses, shots, strict=True):
        assert lens.focal_px[0] == pytest.approx(shot.focal_px, rel=0.06)


def test_several_photographs_are_traced_by_places_measured_in_each(plane_case) -> None:
    places = np.array([[x, y] for x in (3.0, 70.0, 130.0, 197.0) for y in (3.0, 65.0, 127.0)])
    px = plane_case.traced.placings[0].to_pixels(places)
    left, top = 30, 20
    cut = np.ascontiguousarray(plane_case.image[top:, left:])
    lens = plane_case.lens
    x, y = lens.centre_px
    height, width = cut.shape[:2]
    shifted = Lens(lens.focal_px, (x - left, y - top), lens.distortion, (width, height))

    def measured(shift: tuple[int, int]) -> tuple[tuple[float, ...], ...]:
        return tuple(tuple(row) for row in np.hstack([px - shift, places]).tolist())

    second = OtherPhotograph("photograph 2", lens=shifted, measured=measured((left, top)))
    asked = TraceAsked(
        "photograph 1", how="points", measured=measured((0, 0)), lens=lens, others=(second,)
    )
    found = trace_photographs(PhotographsToTrace.of([plane_case.image, cut]), asked)
    assert [one["residual_px"] < 0.5 for one in found.report["photographs"]] == [True, True]
    assert [one["grade"] for one in found.report["gathered"]][:2] == ["seen", "seen"]
    rings = [p.polygon(0.002) for p in found.drawing.paths]
    forth, _ = outline_errors(rings, plane_case.ornament)
    assert np.median(forth) < 0.05
