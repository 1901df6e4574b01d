"""The drawing laid back on its photograph: true ones agree, moved ones are caught."""

from __future__ import annotations

import json

import cv2
import numpy as np
import pytest
import shapely

from ironlace.evidence.grades import Grade
from ironlace.ornament import (
    ClosedPath,
    Drawing,
    DrawingError,
    PhotographsToTrace,
    TraceAsked,
    trace_photographs,
)
from ironlace.ornament.files.laid_back import (
    NO_TRACE,
    REMNANT,
    proof_picture,
    prove,
    remnants_conjectured,
    traceless_conjectured,
)
from ironlace.ornament.outline.brush_strokes import area_curves
from ironlace.ornament.outline.drawing import HERE
from ironlace.photographs import Lens, strip_sheet
from ironlace.photographs.linear_light import to_srgb8
from ironlace.photographs.place_by_strip import Placing


@pytest.fixture(scope="module")
def traced(darkroom):
    rng = np.random.default_rng(5)
    sheet = strip_sheet("wrap")
    ornament = darkroom.scrollwork(rng, (40, 30, 120, 90), scrolls=4)
    shot = darkroom.Shot(
        width=1800, height=1260, focal_px=2000, aim_mm=(100.0, 65.0), distance_mm=260.0, glare=False
    )
    image = darkroom.photograph(ornament, sheet, shot, rng)
    asked = TraceAsked(strip="wrap", lens=Lens.from_json(json.dumps(shot.lens)))
    return image, trace_photographs(PhotographsToTrace.of([image]), asked)


def moved(drawing, dx, dy):
    return drawing.with_paths(
        type(p)(p.curves + np.array([dx, dy]), p.grades, p.sources, p.layer) for p in drawing.paths
    )


def test_a_true_drawing_falls_on_the_traces(traced):
    image, result = traced
    told = prove(result.drawing, image, result.placings[0]).as_dict()
    assert told["with_a_trace"] > 0.97
    assert told["mean_mm"] < 0.03
    assert told["p95_mm"] < 0.1
    assert told["graded_seen_without_a_trace"] < 0.03


def test_a_drawing_laid_two_tenths_off_is_caught(traced):
    image, result = traced
    proof = prove(moved(result.drawing, 0.2, 0.0), image, result.placings[0])
    told = proof.as_dict()
    # along upright edges the whole shift shows, along level ones none: a mean of 2/pi of it
    assert told["mean_mm"] == pytest.approx(0.2 * 2 / np.pi, abs=0.04)
    assert told["worst"]
    assert abs(told["worst"][0]["off_mm"]) > 0.17


def test_a_stroke_that_was_never_there_has_no_trace(traced, darkroom):
    image, result = traced
    false = darkroom.scrollwork(np.random.default_rng(77), (40, 30, 120, 90), scrolls=4)
    from ironlace.ornament import ClosedPath
    from ironlace.ornament.outline.brush_strokes import area_curves

    bare = false.gilt
    for path in result.drawing.paths:
        import shapely

        bare = bare.difference(shapely.Polygon(path.polygon()).buffer(0.8))
    paths = [ClosedPath.of(c) for c in area_curves(bare.buffer(-0.1)) if len(c) > 3]
    told = prove(Drawing(tuple(paths), (0, 0, 200, 130)), image, result.placings[0]).as_dict()
    assert told["with_a_trace"] < 0.12


def test_the_picture_marks_them_and_a_drawing_elsewhere_is_refused(traced):
    image, result = traced
    picture = proof_picture(image, prove(result.drawing, image, result.placings[0]))
    # cut to the ornament, in the photograph's own pixels, with marks in it
    assert 600 < picture.shape[1] < 1300
    assert (picture[..., 2] > 240).sum() > 300
    with pytest.raises(DrawingError, match="falls into"):
        prove(moved(result.drawing, 4000, 0), image, result.placings[0])


def square_on(scale: float, size: tuple[int, int]) -> Placing:
    """A camera square to a plane, so many pixels to the mm, its corner at 0, 0 mm."""
    lens = {"matrix": [[scale * 300, 0, 0], [0, scale * 300, 0], [0, 0, 1]], "distortion": []}
    return Placing.of_camera(
        {
            "kind": "plane",
            "shape": [0.0] * 5,
            "lens": {**lens, "image_size": list(size)},
            "rotation": np.eye(3).tolist(),
            "translation": [0.0, 0.0, 300.0],
        }
    )


def discs(count: int, apart: float, radius: float) -> Drawing:
    paths = []
    for n in range(count):
        for m in range(count):
            disc = shapely.Point(apart * (n + 0.5), apart * (m + 0.5)).buffer(radius, quad_segs=4)
            paths += [ClosedPath.of(c) for c in area_curves(disc)]
    return Drawing(tuple(paths), (0.0, 0.0, apart * count, apart * count))


def test_more_places_than_a_picture_has_rows_are_proved():
    # a comb of bars: as long an outline with the fewest curves
    paths = []
    for n in range(42):
        ends = np.array(shapely.box(2.0, 2.5 * n + 1.0, 108.0, 2.5 * n + 2.0).exterior.coords)
        share = np.arange(4)[:, None, None] / 3.0
        paths.append(ClosedPath.of(np.swapaxes(ends[:-1] + share * np.diff(ends, axis=0), 0, 1)))
    drawing = Drawing(tuple(paths), (0.0, 0.0, 110.0, 110.0))
    image = np.full((1100, 1100, 3), 90, np.uint8)
    proof = prove(drawing, image, square_on(10.0, (1100, 1100)))
    assert len(proof.off_mm) > 2**15
    assert proof.as_dict()["with_a_trace"] == 0.0
    assert proof.as_dict()["blur_mm"] is None


@pytest.mark.parametrize("spread", [0.8, 1.6, 2.6])
def test_the_blur_of_the_gilt_is_read_from_its_own_edges(spread):
    scale = 10.0
    drawing = discs(4, 8.0, 2.5)
    v, u = np.mgrid[0:320, 0:320]
    x, y = (u % 80) - 39.5, (v % 80) - 39.5  # a pixel's middle has a whole number
    share = np.clip(25.0 - np.hypot(x, y) + 0.5, 0.0, 1.0).astype(np.float32)
    light = 0.02 + 0.4 * cv2.GaussianBlur(share, (0, 0), spread)
    image = to_srgb8((np.dstack([light] * 3) * 65535).astype(np.uint16))
    proof = prove(drawing, image, square_on(scale, (320, 320)))
    assert proof.blur_mm == pytest.approx(spread / scale, rel=0.25)


def lit_discs(light: np.ndarray) -> np.ndarray:
    """Four by four discs 8 mm apart at 10 pixels to the mm, gilt as bright as ``light`` says."""
    v, u = np.mgrid[0:320, 0:320]
    share = np.clip(25.0 - np.hypot((u % 80) - 39.5, (v % 80) - 39.5) + 0.5, 0.0, 1.0)
    seen = light * (0.04 + 0.4 * cv2.GaussianBlur(share.astype(np.float32), (0, 0), 1.0))
    return to_srgb8((np.dstack([seen] * 3) * 65535).astype(np.uint16))


def seen_discs() -> Drawing:
    drawing = discs(4, 8.0, 2.5)
    return drawing.with_paths(
        ClosedPath(p.curves, (Grade.SEEN,) * p.nodes, (HERE,) * p.nodes, "gold")
        for p in drawing.paths
    )


def test_only_stretches_that_show_no_edge_are_conjectured():
    drawing = seen_discs()
    image = lit_discs(np.ones((320, 320)))
    image[:, 120:200] = 70  # halves of two columns of discs lie under something grey
    placing = square_on(10.0, (320, 320))
    proof = prove(drawing, image, placing)
    graded = traceless_conjectured(drawing, proof, HERE, "gold")
    assert graded.length_mm == pytest.approx(drawing.length_mm, rel=1e-6)
    for path in graded.paths:
        for curve, grade, source in zip(path.curves, path.grades, path.sources, strict=True):
            x = curve[:, 0].mean()
            hidden = 12.3 < x < 19.7
            assert hidden == (grade is Grade.CONJECTURED) or min(abs(x - 12), abs(x - 20)) < 0.9
            assert (source == NO_TRACE) == (grade is Grade.CONJECTURED)
    # what another photograph shows, and what has another colour, is not for this one to judge
    for named, layer in (("second", "gold"), (HERE, "red")):
        assert traceless_conjectured(drawing, proof, named, layer).length_by_source() == {
            HERE: pytest.approx(drawing.length_mm)
        }


def test_small_islands_bounded_mostly_by_what_covers_them_are_no_ornaments_own():
    by, there = "at a blind place: covered", (Grade.SEEN, HERE)

    def with_hidden(share, scale=0.25, layer="gold"):
        disc = seen_discs().paths[0]
        hidden = round(share * disc.nodes)
        told = [(Grade.CONJECTURED, by)] * hidden + [there] * (disc.nodes - hidden)
        return ClosedPath(disc.curves * scale, *(tuple(x) for x in zip(*told, strict=True)), layer)

    paths = [
        with_hidden(0.75),
        with_hidden(0.25),
        with_hidden(0.75, 4.0),
        with_hidden(1, 0.25, "red"),
    ]
    drawing = seen_discs().with_paths(paths)
    found = remnants_conjectured(drawing, HERE, "gold", by).paths
    assert [REMNANT in path.sources for path in found] == [True, False, False, False]
    assert Grade.SEEN not in found[0].grades
    assert found[1:] == drawing.paths[1:]
    assert abs(paths[2].area) > 8 > abs(paths[0].area)


def test_gilt_in_dim_light_keeps_its_grade():
    drawing = seen_discs()
    light = np.where(np.arange(320)[None, :] < 160, 1.0, 0.12) * np.ones((320, 1))
    proof = prove(drawing, lit_discs(light), square_on(10.0, (320, 320)))
    assert NO_TRACE not in traceless_conjectured(drawing, proof, HERE, "gold").length_by_source()
