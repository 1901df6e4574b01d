"""Evidence joined under loss-only wear, and graded by where it came from."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from shapely import MultiLineString, MultiPolygon, box, get_parts, union_all
from shapely.affinity import translate

from darkroom import (
    Ornament,
    _distance_to,
    _multi,
    outline_errors,
    painted,
    scrollwork,
    spiral,
    stroke,
    survives,
    wear,
)
from ironlace.evidence.grades import Grade
from ironlace.ornament import Gathered, OrnamentError, gather, graded, trace
from ironlace.ornament.gather.gathered import doubted_by_mirror
from ironlace.ornament.gather.loss_edges import EDGE_OF_A_LOSS, shown
from ironlace.ornament.outline.drawing import curve_points
from ironlace.photographs.flat_picture import UNSEEN_GLARE
from painted_maps import PPM, SIZE, gilt_map
from ray_cast import ornament as frets_and_vines


def distance(points: np.ndarray, drawing) -> np.ndarray:
    rings = [p.polygon(0.005) for p in drawing.paths]
    return _distance_to(points, MultiLineString([np.vstack([r, r[:1]]) for r in rings]))


@pytest.fixture(scope="module")
def symmetric() -> Ornament:
    return scrollwork(np.random.default_rng(5), (15, 15, 135, 95), scrolls=5, mirror=True)


@pytest.fixture(scope="module")
def mirrored(symmetric):
    """A worn ornament gathered with its mirror image, and drawn; with where it is worn."""
    paint = painted(symmetric, SIZE, PPM)
    lost = wear(np.random.default_rng(1), paint.shape, PPM, 0.3)
    worn = np.where(lost, 0, paint).astype(np.uint8)
    gathered = gather([gilt_map(worn)], ["here"], mirror="auto")
    return gathered, graded(trace(gathered.coverage, PPM, (0.0, 0.0)), gathered), lost


def test_what_is_lost_here_is_taken_from_the_mirror(symmetric, mirrored) -> None:
    gathered, drawing, lost = mirrored
    assert gathered.names == ("here", "mirror")
    truth = symmetric.outline(0.1)
    twin = truth * (-1, 1) + (150.0, 0.0)
    here = survives(lost, PPM, symmetric, truth)
    there = survives(lost, PPM, symmetric, twin)
    assert np.mean(distance(truth[~here & there], drawing) <= 0.1) > 0.95
    lengths = drawing.length_by_source()
    share = lengths["mirror"] / (lengths["here"] + lengths["mirror"])
    # an outline the object itself has is never given to the mirror, so its share is a little less
    assert 0.1 < share < np.mean(~here & there) / np.mean(here | there) + 0.02
    assert set(drawing.length_by_grade()) == set(Grade)


def test_edges_of_losses_are_conjectured_and_true_outlines_hardly_ever(symmetric, mirrored) -> None:
    outline = MultiLineString(get_parts(symmetric.gilt.boundary).tolist())
    called, total = {True: 0.0, False: 0.0}, {True: 0.0, False: 0.0}
    for path in mirrored[1].paths:
        points = curve_points(path.curves, np.linspace(0.1, 0.9, 5))
        away = np.median(_distance_to(points.reshape(-1, 2), outline).reshape(-1, 5), axis=1)
        told = zip(path.grades, path.sources, path.lengths, away, strict=True)
        for grade, source, length, off in told:
            is_told = source == EDGE_OF_A_LOSS
            assert not is_told or grade is Grade.CONJECTURED
            if off > 0.3 or off < 0.1:
                called[bool(off > 0.3)] += is_told * length
                total[bool(off > 0.3)] += length
    assert called[True] > 0.4 * total[True]
    assert called[False] < 0.03 * total[False]


def test_lines_do_not_thicken_where_two_sources_agree(symmetric) -> None:
    paint = painted(symmetric, SIZE, PPM)
    shifted = np.roll(paint, 1, axis=1)  # out of register by 0.08 mm
    gathered = gather([gilt_map(paint), gilt_map(shifted)], ["here", "second"])
    assert gathered.grades == (Grade.SEEN, Grade.SEEN)
    area = gathered.coverage.sum(dtype=float) / paint.sum(dtype=float)
    assert area == pytest.approx(1.0, abs=0.004)


def test_another_example_worn_elsewhere_is_inferred_and_fills_the_gaps(symmetric) -> None:
    paint = painted(symmetric, SIZE, PPM)
    maps, alive = [], []
    truth = symmetric.outline(0.1)
    for seed in (1, 2, 3):
        lost = wear(np.random.default_rng(seed), paint.shape, PPM, 0.4)
        maps.append(gilt_map(np.where(lost, 0, paint).astype(np.uint8)))
        alive.append(survives(lost, PPM, symmetric, truth))
    gathered = gather(maps, ["here", "second", "third"])
    assert gathered.grades == (Grade.SEEN, Grade.INFERRED, Grade.INFERRED)
    drawing = trace(gathered.coverage, PPM, (0.0, 0.0))
    some = np.any(alive, axis=0)
    assert distance(truth[some], drawing).mean() < 0.08
    forth, _ = outline_errors([p.polygon(0.005) for p in drawing.paths], symmetric)
    assert np.mean(forth > 1.0) < 0.01


def test_gathered_survives_its_arrays(symmetric) -> None:
    paint = painted(symmetric, SIZE, PPM)
    gathered = gather([gilt_map(paint)], ["here"], mirror="auto")
    again = Gathered.from_arrays(gathered.to_arrays())
    assert np.array_equal(again.coverage, gathered.coverage)
    assert again.names == gathered.names and again.grades == gathered.grades
    assert again.layings[0] is None and again.layings[1] is not None


def test_maps_on_different_grids_are_refused() -> None:
    a, b = np.zeros((50, 50), np.uint8), np.zeros((60, 50), np.uint8)
    with pytest.raises(OrnamentError, match="different grids"):
        gather([gilt_map(a), gilt_map(b)], ["a", "b"])
    with pytest.raises(OrnamentError, match="No gilt map"):
        gather([], [])


def test_a_mirror_axis_that_does_not_fit_is_refused() -> None:
    plain = scrollwork(np.random.default_rng(9), (15, 15, 135, 95), scrolls=9)
    with pytest.raises(OrnamentError, match="does not match itself"):
        gather([gilt_map(painted(plain, SIZE, PPM))], ["here"], mirror=((60.0, 50.0), np.pi / 2))


def test_the_same_object_is_taken_from_where_it_is_seen_best(symmetric) -> None:
    paint = painted(symmetric, SIZE, PPM)
    h, w = paint.shape
    columns = np.linspace(0, 1, w // 32 + 4, dtype=np.float32)
    rows = np.ones((h // 32 + 4, 1), np.float32)
    left, right = gilt_map(paint), gilt_map(paint)
    hidden = np.zeros_like(paint)
    hidden[:, : w // 4] = 1
    left = replace(left, resolution=rows * (20 - 15 * columns))
    right = replace(right, resolution=rows * (5 + 15 * columns), hidden=hidden)
    gathered = gather([left, right], ["here", "second"])
    assert gathered.grades == (Grade.SEEN, Grade.SEEN)
    assert np.array_equal(gathered.coverage, paint)
    assert np.all(gathered.source[:, : w // 3] == 0)
    assert np.all(gathered.source[:, -w // 3 :] == 1)
    assert not gathered.disputed.any()


def test_what_is_seen_ends_where_our_own_paint_ends() -> None:
    bars = [box(10, 10 + 4 * n, 60, 11 + 4 * n) for n in range(12)]
    paint = painted(Ornament(_multi(union_all(bars))), SIZE, PPM)
    ours, lost = paint.copy(), np.zeros(paint.shape, np.bool_)
    ends = 30.0 + np.random.default_rng(2).uniform(0, 6, 12)
    for n, end in enumerate(ends):
        lost[round((9 + 4 * n) * PPM) : round((12 + 4 * n) * PPM), round(end * PPM) :] = True
    ours[lost] = 0
    moved = np.roll(paint, 1, axis=0)  # half a tenth of a millimetre out of register
    maps = [gilt_map(np.asarray(cv2.GaussianBlur(a, (0, 0), 0.7), np.uint8)) for a in (ours, moved)]
    gathered = gather(maps, ["here", "second"], [Grade.SEEN, Grade.INFERRED])
    drawing = graded(trace(gathered.coverage, PPM, (0.0, 0.0)), gathered)
    changes = []
    for path in drawing.paths:
        after = np.roll(path.grades, -1)
        for curve, one, other in zip(path.curves, path.grades, after, strict=True):
            if {one, other} == {Grade.SEEN, Grade.INFERRED}:
                changes.append(curve[3])
    at = np.array(changes)
    off = at[:, 0] - ends[np.clip(np.round((at[:, 1] - 10.5) / 4).astype(int), 0, 11)]
    assert len(off) >= 24
    # no gilt is called seen that is gone, and hardly any is not that stands
    assert np.quantile(off, 0.9) < 0.06 and np.abs(np.median(off)) < 0.06
    assert Gathered.from_arrays(gathered.to_arrays()).own is not None


def test_gilt_of_doubtful_colour_is_still_seen_and_what_glare_hides_is_not(symmetric) -> None:
    paint = painted(symmetric, SIZE, PPM)
    doubt = replace(gilt_map(paint), certainty=np.full((40, 40), 0.6, np.float32))
    drawing = trace(paint, PPM, (0.0, 0.0))
    told = graded(drawing, gather([doubt], ["here"])).length_by_grade()
    assert told[Grade.SEEN] == pytest.approx(drawing.length_mm, rel=1e-3)
    hidden = replace(doubt, hidden=np.full_like(paint, UNSEEN_GLARE))
    told = graded(drawing, gather([hidden], ["here"])).length_by_grade()
    assert told[Grade.CONJECTURED] == pytest.approx(drawing.length_mm, rel=1e-3)


def test_another_motif_on_one_example_is_not_laid_over_ours() -> None:
    first = scrollwork(np.random.default_rng(5), (10, 10, 100, 70), scrolls=10)
    where = box(55, 10, 100, 70)
    other = scrollwork(np.random.default_rng(8), (57, 12, 98, 68), scrolls=6).gilt
    variant = Ornament(_multi(union_all([first.gilt.difference(where), other])))
    ours, theirs = (painted(one, (110.0, 80.0), PPM) for one in (first, variant))
    lost = wear(np.random.default_rng(1), ours.shape, PPM, 0.3)
    here = np.where(lost, 0, ours).astype(np.uint8)
    gathered = gather([gilt_map(here), gilt_map(theirs)], ["here", "second"])
    assert gathered.grades[1] is Grade.INFERRED
    # where ours has no paint left for millimetres around, nothing can speak against theirs
    beside = cv2.dilate((here > 127).astype(np.uint8), np.ones((49, 49), np.uint8)) > 0
    taken = gathered.coverage > 127
    assert np.mean(taken[(theirs > 127) & (ours == 0) & beside]) < 0.35
    # the half both have is still filled from it
    left = np.zeros_like(lost)
    left[:, : int(48 * PPM)] = True
    assert np.mean(taken[left & lost & (ours > 200)]) > 0.9


@pytest.mark.parametrize("seed", [1, 3])
def test_a_mirrored_frame_around_what_is_not_mirrored_says_nothing_of_wear(seed: int) -> None:
    rng = np.random.default_rng(seed)
    frame = box(8, 6, 112, 74).exterior.buffer(0.4)
    scrolls = []
    for n in range(4):
        curl = spiral(np.zeros(2), rng.uniform(0, 6), 30.0, 0.05, 0.3 * rng.choice([-1, 1]))
        shape = stroke(curl, np.full(len(curl), 1.2))
        middle = np.array(shape.envelope.centroid.coords[0])
        x, y = 22 + 25 * n, 40 + 12 * (-1) ** n
        scrolls.append(translate(shape, x - middle[0], y - middle[1]))
    ornament = Ornament(_multi(union_all([frame, *scrolls])))
    paint = painted(ornament, SIZE, PPM)
    plain = gather([gilt_map(paint)], ["here"])
    doubted, gain, laying = doubted_by_mirror(plain)
    assert laying is not None
    assert gain < 0.02
    assert doubted.disputed.mean() < 1e-3
    filled = gather([gilt_map(paint)], ["here"], mirror="auto")
    assert filled.coverage.sum() < 1.02 * paint.sum()


def test_a_mirror_is_a_mirror_where_fine_wear_is_dense(symmetric) -> None:
    rng = np.random.default_rng(8)
    worn = painted(symmetric, SIZE, PPM)
    for at in rng.uniform((0, 0), worn.shape[::-1], (12_000, 2)):
        cv2.circle(worn, tuple(int(v) for v in at), int(PPM * rng.uniform(0.15, 0.6)), 0, -1)
    assert 0.5 < worn.sum() / painted(symmetric, SIZE, PPM).sum() < 0.8
    _, gain, laying = doubted_by_mirror(gather([gilt_map(worn)], ["here"]))
    assert laying is not None
    assert gain > 0.1


def test_wear_that_the_mirror_shows_is_told_though_nothing_is_taken(symmetric) -> None:
    paint = painted(symmetric, SIZE, PPM)
    lost = wear(np.random.default_rng(5), paint.shape, PPM, 0.25)
    worn = np.where(lost, 0, paint).astype(np.uint8)
    plain = gather([gilt_map(worn)], ["here"])
    doubted, gain, _ = doubted_by_mirror(plain)
    assert np.array_equal(doubted.coverage, plain.coverage)
    taken = gather([gilt_map(worn)], ["here"], mirror="auto")
    assert gain == pytest.approx(float(taken.coverage.sum()) / float(worn.sum()) - 1, abs=0.02)
    drawing = trace(worn, PPM, (0.0, 0.0))
    told = graded(drawing, doubted).length_by_source()
    assert told.get(EDGE_OF_A_LOSS, 0.0) > 0.03 * drawing.length_mm
    assert EDGE_OF_A_LOSS not in graded(drawing, plain).length_by_source()


def test_edges_a_sixth_of_a_millimetre_apart_are_not_seen_twice_by_the_mirror() -> None:
    # on the coarser picture on which the mirror is asked for they would be one
    ppm, bite = 24.0, 0.16
    scrolls = scrollwork(np.random.default_rng(4), (6, 4, 54, 28), scrolls=3, mirror=True)
    bars = [box(6, 31, 27, 34), box(33, 31, 54, 34)]
    paint = painted(Ornament(MultiPolygon([*scrolls.gilt.geoms, *bars])), (60.0, 38.0), ppm)
    rows, columns = (np.arange(size)[:, None] / ppm for size in paint.shape)
    columns = columns.T
    grazed = (rows < 31 + bite) & (rows > 30) & (columns > 9) & (columns < 15)
    gone = (rows > 30) & (columns > 19) & (columns < 23)
    worn = np.where(grazed | gone, 0, paint).astype(np.uint8)
    doubted, _, laying = doubted_by_mirror(gather([gilt_map(worn, ppm)], ["here"]))
    assert laying is not None
    assert doubted.witnesses is not None
    at = [(31.0, 16.0), (31.0 + bite, 12.0), (31.0, 48.0)]
    told = np.array([doubted.witnesses[round(y * ppm), round(x * ppm)] for y, x in at], np.int64)
    # gilt lies below these edges: a quarter turn from x towards y
    assert shown(told, np.tile([1.0, 0.0], (3, 1))).tolist() == [True, False, False]


def test_gilt_that_a_glare_hides_is_no_wear(symmetric) -> None:
    seen = gilt_map(painted(symmetric, SIZE, PPM))
    h, w = seen.coverage.shape
    part = (slice(h // 4, 3 * h // 4), slice(w // 6, w // 3))
    seen.coverage[part] = 0
    seen.hidden[part] = UNSEEN_GLARE
    seen.certainty[tuple(slice(p.start // 3, p.stop // 3) for p in part)] = 0.5
    _, gain, laying = doubted_by_mirror(gather([seen], ["here"]))
    assert laying is not None
    assert gain < 0.01


@pytest.mark.parametrize("seed", [9001, 9018])
def test_frets_and_vines_that_are_not_mirrored_are_not_filled(seed: int) -> None:
    gilt = frets_and_vines(np.random.default_rng(seed), (12, 12, SIZE[0] - 12, SIZE[1] - 12))
    paint = painted(Ornament(gilt), SIZE, PPM)
    filled = gather([gilt_map(paint)], ["here"], mirror="auto")
    assert filled.coverage.sum() < 1.02 * paint.sum()
    assert doubted_by_mirror(gather([gilt_map(paint)], ["here"]))[1] < 0.01
