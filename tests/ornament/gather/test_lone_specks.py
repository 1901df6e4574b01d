"""Specks of dirt told from dots of gilt by how many of them another copy shows."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from shapely import MultiPolygon, Point, box

from darkroom import Ornament, painted
from ironlace.evidence.grades import Grade
from ironlace.ornament import gather, graded, trace
from ironlace.ornament.gather.lone_specks import LONE_SPECK, dirt_among
from ironlace.ornament.gilt.gilt_map import Touch
from ironlace.ornament.trace_limits import limits
from painted_maps import gilt_map

PPM = 16.0
SIZE = (60.0, 40.0)
STROKES = [box(3, 3 + 5 * n, 40, 5 + 5 * n) for n in range(7)]
DOTS = [Point(43 + 1.6 * (n % 9), 4 + 2.2 * (n // 9)).buffer(0.3) for n in range(135)]


def photographed(gilt: list, rng: np.random.Generator, half_mm: float) -> np.ndarray:
    """The gilt with a patch worn away and filings strewn over all of it."""
    paint = painted(Ornament(MultiPolygon(gilt)), SIZE, PPM)
    for x, y in rng.uniform((0, 0), SIZE, (6, 2)):
        cv2.circle(paint, (round(x * PPM), round(y * PPM)), round(2.5 * PPM), 0, -1)
    for x, y in rng.uniform((1, 1), np.array(SIZE) - 1, (150 if half_mm else 0, 2)):
        half, turn = (round(half_mm * PPM), round(0.5 * half_mm * PPM)), float(rng.uniform(0, 180))
        cv2.ellipse(paint, (round(x * PPM), round(y * PPM)), half, turn, 0, 360, 255, -1)
    seen = cv2.GaussianBlur(paint.astype(np.float32), (0, 0), 0.7)
    return np.clip(seen + rng.normal(0, 4, paint.shape), 0, 255).astype(np.uint8)


@pytest.mark.parametrize(("dots", "half_mm"), [([], 0.2), (DOTS, 0.15), (DOTS, 0.0)])
def test_specks_are_conjectured_and_dots_stay_seen(dots: list, half_mm: float) -> None:
    rng = np.random.default_rng(11)
    maps = [gilt_map(photographed(STROKES + dots, rng, half_mm), PPM) for _ in range(2)]
    gathered = gather(maps, ["here", "second"], [None, Grade.INFERRED])
    drawn = trace(gathered.coverage, PPM, (0.0, 0.0))
    drawing = graded(drawn, gathered)
    told = [path for path in drawing.paths if set(path.sources) == {LONE_SPECK}]
    if not half_mm:
        assert not told
        return
    gilt = MultiPolygon(STROKES + dots)
    x, y = told[0].curves[:, 0].mean(axis=0)
    pointed = graded(drawn, gathered, [Touch(x, y, True), Touch(1, 1, False)])
    (still,) = [
        p for p, q in zip(pointed.paths, drawing.paths, strict=True) if p.grades != q.grades
    ]
    assert set(still.grades) == {Grade.SEEN} and (still.curves == told[0].curves).all()
    wrong = [path for path in told if gilt.distance(Point(path.curves[0, 0])) < 0.05]
    assert len(told) > 30 and len(wrong) < 0.1 * len(told)
    assert {grade for path in told for grade in path.grades} == {Grade.CONJECTURED}
    seen = [
        path
        for path in drawing.paths
        if path.area > 0 and set(path.grades) == {Grade.SEEN} and path.lengths.sum() < 4.0
    ]
    false = [path for path in seen if gilt.distance(Point(path.curves[0, 0])) > 0.1]
    assert len(false) <= 0.1 * len(told)
    length = drawing.length_by_source()
    (said,) = limits({"drawing": {"length_by_source_mm": length}})
    assert f"{length[LONE_SPECK]:.0f} mm" in said and "filings" in said


def test_islands_where_nothing_else_is_known_are_let_be() -> None:
    ring = np.array([(np.cos(t), np.sin(t)) for t in np.arange(0, 6.28, 0.2)]) * 0.2
    rings = [ring + np.array([2.0 + n, 2.0]) for n in range(20)]
    bar = np.array(box(1, 5, 23, 7).segmentize(0.1).exterior.coords)
    nothing, known = np.zeros((160, 400), np.uint8), np.ones((160, 400), np.uint8)
    known[int(5 * PPM) : int(7 * PPM), int(PPM) : int(23 * PPM)] = 255
    islands = [True] * 21
    own = known.copy()
    cv2.fillPoly(
        own, [np.round((one * PPM - 0.5) * 16).astype(np.int32) for one in rings], 255, 8, 4
    )
    everything = own, known, nothing, PPM
    assert dirt_among([*rings, bar], islands, *everything) == [True] * 20 + [False]
    assert not any(dirt_among([*rings, bar], islands, own, nothing, nothing, PPM))
    assert not any(dirt_among([*rings, bar], islands, known, known, nothing, PPM))
    assert not any(dirt_among([*rings[:5], bar], [True] * 6, *everything))
    assert not any(dirt_among([*rings, bar], [False] * 21, *everything))
