"""Rims that wear crept in from, told by another copy that was eaten by itself."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from shapely import MultiPolygon, Point, box, union_all
from shapely.affinity import rotate

from darkroom import Ornament, painted
from ironlace.evidence.grades import Grade
from ironlace.ornament import Gathered, gather, graded, trace
from ironlace.ornament.gather.eaten_rims import (
    EATEN_SHARE,
    SEEN_FROM,
    compared,
    fuller,
    rim_measures,
    rim_odds,
)
from ironlace.ornament.gather.gathered import doubted_by_mirror
from ironlace.ornament.gather.graded_outline import MAY_BE_EATEN, MAY_BE_PUSHED
from ironlace.ornament.trace_limits import limits
from ironlace.ornament.trace_stated import stated
from painted_maps import gilt_map

PPM = 16.0
SIZE = (72.0, 48.0)
DESIGN = MultiPolygon(
    [box(3, 3 + 4.5 * n, 33, 5 + 4.5 * n) for n in range(9)]
    + [Point(39 + 5 * (n % 6), 6 + 5.5 * (n // 6)).buffer(1.6) for n in range(42)]
)
WHOLE = painted(Ornament(DESIGN), SIZE, PPM)
EVERYWHERE = np.ones(WHOLE.shape, np.bool_)


def field(rng: np.random.Generator, grain_mm: float) -> np.ndarray:
    """Smooth noise of unit spread."""
    rough = cv2.GaussianBlur(rng.normal(0, 1, WHOLE.shape), (0, 0), grain_mm * PPM)
    return rough / rough.std()


def bitten(rng: np.random.Generator, deepest_mm: float) -> np.ndarray:
    """The design eaten from its rims inwards, here and there, softened and grained."""
    inside = cv2.distanceTransform((WHOLE > 127).astype(np.uint8), cv2.DIST_L2, 5) / PPM
    depth = deepest_mm * np.clip(field(rng, 2.0), 0, 1) * (1 + 0.3 * field(rng, 0.4))
    return shown(np.where(inside < depth, 0, WHOLE), rng)


def shown(paint: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    seen = cv2.GaussianBlur(paint.astype(np.float32), (0, 0), 0.7)
    return np.clip(seen + rng.normal(0, 4, paint.shape), 0, 255).astype(np.uint8)


def moved(paint: np.ndarray, x_mm: float, y_mm: float) -> np.ndarray:
    move = np.array([[1, 0, x_mm * PPM], [0, 1, y_mm * PPM]])
    return cv2.warpAffine(paint, move, paint.shape[::-1])


def patches_gone(rng: np.random.Generator) -> np.ndarray:
    return shown(np.where(field(rng, 1.5) > 0.6, 0, WHOLE), rng)


def by_hand(rng: np.random.Generator) -> np.ndarray:
    """Every stroke painted anew: each a little elsewhere and of another width."""
    strokes = [part.buffer(rng.normal(0, 0.06)).buffer(0) for part in DESIGN.geoms]
    strokes = [
        type(s)([(x + dx, y + dy) for x, y in s.exterior.coords])
        for s, (dx, dy) in zip(strokes, rng.normal(0, 0.1, (len(strokes), 2)), strict=True)
    ]
    return shown(painted(Ornament(MultiPolygon(strokes)), SIZE, PPM), rng)


def told_share(ours: np.ndarray, theirs: np.ndarray) -> float:
    told = compared(ours, theirs, EVERYWHERE, PPM)
    assert told.share is not None and told.unlike_mm == 0.0 and not told.pushed
    return told.share


def test_copies_eaten_by_themselves_lie_apart_along_their_rims() -> None:
    rng = np.random.default_rng(1)
    assert told_share(bitten(rng, 0.25), bitten(rng, 0.25)) > 0.15
    assert told_share(bitten(rng, 0.25), shown(WHOLE, rng)) > 0.13


@pytest.mark.parametrize("other", ["whole", "askew", "patches", "by hand", "unknown"])
def test_what_is_not_eaten_is_not_called_so(other: str) -> None:
    rng = np.random.default_rng(2)
    ours, known = shown(WHOLE, rng), EVERYWHERE
    theirs = {
        "whole": lambda: shown(WHOLE, rng),
        "askew": lambda: moved(shown(WHOLE, rng), 0.09, -0.08),
        "patches": lambda: patches_gone(rng),
        "by hand": lambda: by_hand(rng),
        "unknown": lambda: bitten(rng, 0.25),
    }[other]()
    if other == "patches":
        ours = patches_gone(rng)
    if other == "unknown":
        known = ~EVERYWHERE
    share, unlike_mm, is_pushed, thinned_mm, _ = compared(ours, theirs, known, PPM)
    assert not is_pushed and thinned_mm == 0.0
    assert (unlike_mm > 0.03) is (other == "by hand")
    if other in ("by hand", "unknown"):
        assert share is None
    else:
        assert share is not None and share < 0.5 * EATEN_SHARE


def test_a_rim_a_tenth_of_a_millimetre_fuller_is_told_from_noise() -> None:
    rng = np.random.default_rng(3)
    ours = shown(WHOLE, rng)
    wider = painted(Ornament(MultiPolygon([p.buffer(0.1) for p in DESIGN.geoms])), SIZE, PPM)
    rim = cv2.morphologyEx((WHOLE > 127).astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((3, 3)))
    assert fuller(ours, shown(wider, rng), EVERYWHERE, PPM)[rim > 0].mean() > 0.9
    assert fuller(ours, moved(shown(WHOLE, rng), 0.02, 0.0), EVERYWHERE, PPM).mean() < 0.001
    assert not fuller(ours, shown(wider, rng), ~EVERYWHERE, PPM).any()


def likely(ring: np.ndarray, inwards: np.ndarray, own: np.ndarray, other: np.ndarray) -> np.ndarray:
    away = inwards / np.linalg.norm(inwards, axis=1)[:, None]
    (told,) = rim_measures([(ring, away)], own, other, PPM)
    return 1.0 / (1.0 + np.exp(-rim_odds(told)))


def test_a_rim_is_whole_where_copies_agree_for_long_or_where_it_is_smooth_itself() -> None:
    # down the left side of a bar of 20 mm the other copy is fuller from 8 to 12 mm
    rng = np.random.default_rng(5)
    bar = painted(Ornament(MultiPolygon([box(4, 4, 8, 24)])), (12.0, 28.0), PPM)
    bitten_bar = bar.copy()
    for row in range(round(12 * PPM), round(16 * PPM), 6):
        bitten_bar[row : row + 6, : round((4.1 + rng.uniform(0, 0.2)) * PPM)] = 0
    ring = np.array(box(4, 4, 8, 24).segmentize(0.05).exterior.coords[:-1])
    inwards = np.array([6.0, 14.0]) - ring
    left, right = np.abs(ring[:, 0] - 4) < 0.01, np.abs(ring[:, 0] - 8) < 0.01
    inwards[left], inwards[right] = (1.0, 0.0), (-1.0, 0.0)
    y = ring[:, 1]
    whole = likely(ring, inwards, bar, bitten_bar)
    eaten = likely(ring, inwards, bitten_bar, bar)
    agreed = left & (y > 5.5) & (y < 10.5)
    apart = left & (y > 12.5) & (y < 15.5)
    assert (whole[agreed] > SEEN_FROM).all()
    assert (eaten[apart] < SEEN_FROM).all() and eaten[apart].mean() < 0.4
    # our own is smooth there, and the other's is the one that is eaten
    assert whole[apart].mean() > eaten[apart].mean() + 0.4


@pytest.mark.parametrize("column", [1, 4, 5, 6, 7, 8])
def test_odds_only_fall_the_rougher_or_the_farther_inside(column: int) -> None:
    told = np.tile([0.0, 0.0, 0.0, -0.5, -4.5, -4.0, 0.0, 0.0, 0.0], (200, 1))
    ends = {1: (0.0, 0.25), 6: (0.0, 1.0), 7: (0.0, 1.0), 8: (5.0, -5.0)}
    told[:, column] = np.linspace(*ends.get(column, (-7.0, 0.0)), 200)
    odds = rim_odds(told)
    assert (np.diff(odds) <= 1e-12).all() and odds[-1] < odds[0] - 0.3


def from_one_side(rng: np.random.Generator, side: float) -> np.ndarray:
    """The design eaten where it faces one side, here and there."""
    y, x = np.mgrid[0 : WHOLE.shape[0], 0 : WHOLE.shape[1]].astype(np.float32)
    deep = (0.25 * PPM * np.clip(field(rng, 2.0) + 0.5, 0, 1)).astype(np.float32)
    pushed = cv2.remap(WHOLE, x, y - side * deep, cv2.INTER_LINEAR)
    return shown(cv2.min(WHOLE, pushed), rng)


def test_eating_from_one_side_is_no_shift() -> None:
    rng = np.random.default_rng(6)
    ours, theirs = from_one_side(rng, 1.0), from_one_side(rng, -1.0)
    assert told_share(ours, theirs) > 0.15
    assert told_share(ours, shown(WHOLE, rng)) > 0.15


def test_a_laying_that_followed_wear_from_one_side_hides_it_not() -> None:
    rng = np.random.default_rng(7)
    ours, theirs = from_one_side(rng, 1.0), moved(from_one_side(rng, -1.0), 0.0, 0.07)
    assert told_share(ours, theirs) > 0.15


def pushed(rng: np.random.Generator) -> np.ndarray:
    """The design pushed about as soft paint is, by up to 0.3 mm within a few millimetres."""
    y, x = np.mgrid[0 : WHOLE.shape[0], 0 : WHOLE.shape[1]].astype(np.float32)
    push = [(0.13 * PPM * field(rng, 1.0)).astype(np.float32) for _ in range(2)]
    return shown(cv2.remap(WHOLE, x + push[0], y + push[1], cv2.INTER_LINEAR), rng)


def test_paint_pushed_aside_in_all_copies_is_told_first() -> None:
    rng = np.random.default_rng(8)
    gathered = gather([gilt_map(pushed(rng), PPM) for _ in range(2)], ["here", "second"])
    assert gathered.unlike_mm > 0.05 and gathered.eaten == 0.0
    assert Gathered.from_arrays(gathered.to_arrays()).unlike_mm == gathered.unlike_mm
    assert gathered.pushed and Gathered.from_arrays(gathered.to_arrays()).pushed
    drawing = trace(gathered.coverage, PPM, (0.0, 0.0))
    lengths = graded(drawing, gathered).length_by_source()
    assert lengths[MAY_BE_PUSHED] > 0.6 * drawing.length_mm and "here" not in lengths
    # strokes painted by hand lie apart as well, and what is seen of them stands
    by_hands = graded(drawing, replace(gathered, pushed=False)).length_by_grade()
    assert by_hands[Grade.SEEN] == pytest.approx(lengths[MAY_BE_PUSHED])
    told = {"copies_unlike_mm": gathered.unlike_mm, "beyond_strip_mm": 9.0}
    first, *_ = limits({**told, "copies_pushed": True})
    assert "none of it is graded seen" in first and f"{gathered.unlike_mm:.2f} mm" in first
    assert "though graded seen" in limits(told)[0]
    assert not any("pushed" in said for said in limits({"copies_unlike_mm": 0.0}))
    first_photograph = {"markers_in_layout": 30, "within_mm": 0.05}
    report = {"photographs": [first_photograph], "drawing": {"length_by_grade_mm": {"seen": 9.0}}}
    near, pushed_near = stated(report), stated({**report, "copies_pushed": True})
    assert near is not None and near.within_mm == 0.05
    assert pushed_near is not None and pushed_near.within_mm is None
    assert "pushed aside" in pushed_near.why_not


def test_what_eaten_copies_show_is_seen_only_where_they_agree() -> None:
    rng = np.random.default_rng(4)
    maps = [gilt_map(bitten(rng, 0.3), PPM) for _ in range(2)]
    gathered = gather(maps, ["here", "second"], [None, Grade.INFERRED])
    drawing = graded(trace(gathered.coverage, PPM, (0.0, 0.0)), gathered)
    lengths = drawing.length_by_source()
    assert lengths[MAY_BE_EATEN] > 0.15 * drawing.length_mm
    wrong, seen = 0.0, 0.0
    for path in drawing.paths:
        for curve, grade, length in zip(path.curves, path.grades, path.lengths, strict=True):
            if grade is Grade.SEEN:
                middle = Point(curve.T @ [0.125, 0.375, 0.375, 0.125])
                seen += length
                wrong += length * (DESIGN.boundary.distance(middle) > 0.09)
    assert seen > 0.15 * drawing.length_mm and wrong < 0.03 * seen
    kept = Gathered.from_arrays(gathered.to_arrays())
    assert kept.eaten == gathered.eaten > 0 and np.array_equal(kept.rims, gathered.rims)
    # the same evidence without what says so calls more of it seen
    bold = graded(drawing, replace(gathered, eaten=0.0, rims=None))
    assert bold.length_by_grade()[Grade.SEEN] > 1.3 * seen


def test_eaten_rims_are_told_first_of_what_limits_a_trace() -> None:
    first, *_ = limits({"eaten_share": 0.31, "beyond_strip_mm": 9.0})
    assert "crept in from the rims" in first and "31 %" in first
    assert not any("rims" in said for said in limits({"beyond_strip_mm": 9.0}))


BARS = [box(3, 3 + 5 * n, 32, 6 + 5 * n) for n in range(9)]
MIRRORED = MultiPolygon([*BARS, *(box(40, y, 69, y + 3) for y in range(3, 48, 5))])


def gnawed(
    rng: np.random.Generator, paint: np.ndarray, layers: int, where: float = 0.0
) -> np.ndarray:
    """Layers of pixels off all rims wherever a cloud is over ``where``: no patch is gone."""
    cloud = cv2.GaussianBlur(rng.normal(0, 1, paint.shape), (0, 0), 0.15 * PPM)
    cross = cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3))
    left = cv2.erode(paint, cross, iterations=layers)
    return shown(np.where(cloud > where * cloud.std(), left, paint), rng)


@pytest.mark.parametrize("seed", [1, 2])
def test_rims_eaten_on_both_halves_are_told_though_no_patch_is_gone(seed: int) -> None:
    rng = np.random.default_rng(seed)
    whole = painted(Ornament(MIRRORED), SIZE, PPM)
    worn = gather([gilt_map(gnawed(rng, whole, 2), PPM)], ["here"])
    doubted, gain, laying = doubted_by_mirror(worn)
    assert laying is not None and laying.believed and gain == 0.0
    assert doubted.eaten > EATEN_SHARE and not doubted.disputed.any()
    drawing = trace(worn.coverage, PPM, (0.0, 0.0))
    lengths = graded(drawing, doubted).length_by_grade()
    assert lengths[Grade.SEEN] < 0.6 * drawing.length_mm
    assert graded(drawing, worn).length_by_grade()[Grade.SEEN] == pytest.approx(drawing.length_mm)


def stretched(strokes: list, rng: np.random.Generator) -> MultiPolygon:
    return MultiPolygon([stroke.buffer(rng.normal(0, 0.05)) for stroke in strokes])


def around(rng: np.random.Generator) -> MultiPolygon:
    """Three leaves turned about the middle: as often the same by a turn, and no mirror image."""
    bent = union_all([box(38, 22, 46, 25), box(44, 18, 46, 25), box(40, 24, 42, 27)])
    return MultiPolygon([rotate(bent, 120 * n, origin=(36, 24)) for n in range(3)])


def a_frame_around(rng: np.random.Generator) -> MultiPolygon:
    frame = box(2, 2, 70, 46).difference(box(3, 3, 69, 45))
    within = [
        rotate(box(x, y, x + rng.uniform(2, 5), y + 1), rng.uniform(0, 180))
        for x in range(8, 60, 7)
        for y in range(8, 40, 6)
    ]
    return MultiPolygon([frame, *within])


@pytest.mark.parametrize(
    "design",
    [
        lambda rng: MIRRORED,
        lambda rng: stretched(list(MIRRORED.geoms), rng),
        around,
        a_frame_around,
    ],
    ids=["mirrored", "by hand", "turned", "frame"],
)
@pytest.mark.parametrize("seed", [3, 6])
def test_rims_of_what_is_not_worn_are_not_called_eaten(design, seed: int) -> None:
    rng = np.random.default_rng(seed)
    paint = shown(painted(Ornament(design(rng)), SIZE, PPM), rng)
    plain = gather([gilt_map(paint, PPM)], ["here"])
    doubted, gain, _ = doubted_by_mirror(plain)
    assert doubted.eaten == 0.0 and gain < 0.02


def test_one_layer_of_pixels_is_told_as_a_hair_and_two_as_eaten() -> None:
    rng = np.random.default_rng(5)
    one = compared(gnawed(rng, WHOLE, 1), gnawed(rng, WHOLE, 1), EVERYWHERE, PPM)
    assert not one.deep and one.thinned_mm == pytest.approx(1 / PPM, abs=0.015)
    two = compared(gnawed(rng, WHOLE, 2), gnawed(rng, WHOLE, 2), EVERYWHERE, PPM)
    assert two.deep and two.eaten_share > EATEN_SHARE
    assert compared(WHOLE, WHOLE, ~EVERYWHERE, PPM) == (None, 0.0, False, 0.0, False)


def test_rims_are_not_asked_where_gilt_shines_unevenly() -> None:
    rng = np.random.default_rng(5)
    whole = painted(Ornament(MIRRORED), SIZE, PPM)
    worn = gather([gilt_map(gnawed(rng, whole, 2), PPM)], ["here"])
    assert doubted_by_mirror(worn)[0].eaten > 0.0
    assert doubted_by_mirror(worn, rims=False)[0].eaten == 0.0


def test_a_hair_worn_from_both_halves_is_told_and_stays_seen() -> None:
    rng = np.random.default_rng(5)
    whole = painted(Ornament(MIRRORED), SIZE, PPM)
    worn = gather([gilt_map(gnawed(rng, whole, 1), PPM)], ["here"])
    doubted, _, _ = doubted_by_mirror(worn)
    assert doubted.eaten == 0.0 and doubted.thinned_mm == pytest.approx(1 / PPM, abs=0.015)
    assert Gathered.from_arrays(doubted.to_arrays()).thinned_mm == doubted.thinned_mm
    drawing = trace(worn.coverage, PPM, (0.0, 0.0))
    assert graded(drawing, doubted).length_by_grade()[Grade.SEEN] == pytest.approx(
        drawing.length_mm
    )
    (said,) = limits({"copies_thinned_mm": doubted.thinned_mm})
    assert f"{doubted.thinned_mm:.2f} mm apart" in said and "no photograph tells" in said


def test_noise_of_a_poor_camera_is_no_wear() -> None:
    rng = np.random.default_rng(9)
    poor = [cv2.GaussianBlur(WHOLE, (0, 0), 2.0) + rng.normal(0, 40, WHOLE.shape) for _ in range(2)]
    ours, theirs = (np.clip(one, 0, 255).astype(np.uint8) for one in poor)
    assert compared(ours, theirs, EVERYWHERE, PPM).thinned_mm == 0.0


def drifting(rng: np.random.Generator) -> np.ndarray:
    """The design as a steady hand lays it again: off by a tenth here, by nothing there."""
    y, x = np.mgrid[0 : WHOLE.shape[0], 0 : WHOLE.shape[1]].astype(np.float32)
    waves = field(rng, 6.0), field(rng, 6.0)
    right, down = ((0.05 * PPM * wave * np.abs(wave)).astype(np.float32) for wave in waves)
    return shown(cv2.remap(WHOLE, x + right, y + down, cv2.INTER_LINEAR), rng)


@pytest.mark.parametrize("seed", [1, 3])
def test_what_a_steady_hand_laid_twice_is_not_called_eaten(seed: int) -> None:
    # a sixth of its rims lie apart, but by as much over a stroke's length
    rng = np.random.default_rng(seed)
    told = compared(drifting(rng), drifting(rng), EVERYWHERE, PPM)
    assert told.share is None and told.unlike_mm > 0.03
    assert not told.pushed and told.thinned_mm == 0.0


def test_a_shallow_bite_that_the_untaken_mirror_image_fills_is_no_outline() -> None:
    rng = np.random.default_rng(11)
    worn = painted(Ornament(MIRRORED), SIZE, PPM)

    def cut(x0: float, y0: float, x1: float, y1: float) -> None:
        worn[round(y0 * PPM) : round(y1 * PPM), round(x0 * PPM) : round(x1 * PPM)] = 0

    cut(44, 13, 52, 16)  # a patch that is gone, so that wear is told at all
    cut(10, 22.8, 18, 23.1)  # an eighth of a millimetre and more off a bar's lower side
    gathered = gather([gilt_map(shown(worn, rng), PPM)], ["here"])
    doubted, _, laying = doubted_by_mirror(gathered)
    assert laying is not None and doubted.rims is not None and doubted.eaten == 0.0
    drawing = graded(trace(gathered.coverage, PPM, (0.0, 0.0)), doubted)
    bitten_mm = kept_mm = 0.0
    for path in drawing.paths:
        for curve, grade, length in zip(path.curves, path.grades, path.lengths, strict=True):
            x, y = curve.T @ [0.125, 0.375, 0.375, 0.125]
            if 10.5 < x < 17.5 and 22.6 < y < 23.2:
                bitten_mm += length * (grade is Grade.SEEN)
            elif 54.5 < x < 61.5 and 22.6 < y < 23.2:
                kept_mm += length * (grade is Grade.SEEN)
    assert bitten_mm == 0.0 and kept_mm > 5.0
