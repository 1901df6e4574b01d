"""A bed's outline from photographs traced ray by ray."""

import cv2
import numpy as np
import pytest
import shapely

from ironlace.photographs import GivenLens, LensError, StripLayout
from ironlace.photographs.errors import PhotographsError
from ironlace.stand.bed_outline import (
    OutlineCase,
    find_outline,
    outline_csv,
    outline_in_words,
    outline_told,
)
from ironlace.stand.errors import StandError
from photographed_beds import photograph


@pytest.fixture(scope="module")
def taken():
    picture, csv, matrix, dist, _, outline = photograph(np.random.default_rng(8), 1500, 1125, 45.0)
    lens = GivenLens(tuple(map(tuple, matrix.tolist())), tuple(dist.tolist()))
    return picture, StripLayout.from_csv(csv), lens, outline


@pytest.fixture(scope="module")
def good(taken):
    """What is found of it."""
    picture, layout, lens, _ = taken
    return find_outline(picture, layout, OutlineCase(45.0, "above", lens))


def off(found, outline):
    """Mean, and what 95 % of the written outline keeps within, both ways."""
    there = shapely.distance(shapely.LinearRing(outline), shapely.points(found.points_mm))
    back = shapely.distance(shapely.LinearRing(found.points_mm), shapely.points(outline))
    return max(there.mean(), back.mean()), max(np.quantile(there, 0.95), np.quantile(back, 0.95))


def test_the_outline_is_right_though_the_rim_lies_high(taken, good):
    picture, layout, lens, outline = taken
    found = good
    mean, most = off(found, outline)
    assert mean < 0.15 and most < 0.35
    told = outline_told(found)
    assert told["area_mm2"] == pytest.approx(shapely.Polygon(outline).area, rel=2e-3)
    assert outline_csv(found).splitlines()[0] == "x_mm,y_mm"
    # taken as lying in the sheet it is millimetres wrong
    assert off(find_outline(picture, layout, OutlineCase(0.0, "above", lens)), outline)[0] > 2.0


def shaded(picture, found, darkness, *, gilt=False):
    """The bed's shadow laid beside it, 16 mm broad; and a gilt line along its rim."""
    inside = np.zeros(picture.shape[:2], np.uint8)
    cv2.fillPoly(inside, [np.round(found.ring_px).astype(np.int32)], 1)
    cast = np.zeros(inside.shape, np.float32)
    for share in np.linspace(0, 1, 20):
        move = np.array([[1, 0, 40 * share], [0, 1, 25 * share]])
        moved = cv2.warpAffine(inside, move, inside.shape[::-1])
        cast = np.maximum(cast, moved.astype(np.float32))
    cast = cv2.GaussianBlur(cast, (0, 0), 3.0) * (inside == 0)
    light = (picture / 255.0) ** 2.2 * (1 - darkness * cast[..., None])
    if gilt:
        deep = cv2.distanceTransform(inside, cv2.DIST_L2, 5) * found.mm_per_px
        light[(deep > 3.0) & (deep < 4.5)] = 0.5
    return np.clip(np.round(light ** (1 / 2.2) * 255), 0, 255).astype(np.uint8)


def test_a_dark_shadow_beside_the_bed_is_told_first(taken, good):
    picture, layout, lens, outline = taken
    case = OutlineCase(45.0, "above", lens)
    assert good.doubt.sure
    found = find_outline(shaded(picture, good, 0.8), layout, case)
    assert off(found, outline)[1] > 5.0
    assert not outline_told(found)["reliable"]
    assert found.doubt.along_mm > 200.0
    assert outline_in_words(found)[0].startswith("Not to be relied on")


def test_a_light_shadow_and_a_gilt_line_move_no_edge(taken, good):
    picture, layout, lens, outline = taken
    case = OutlineCase(45.0, "above", lens)
    found = find_outline(shaded(picture, good, 0.4, gilt=True), layout, case)
    assert off(found, outline)[1] < 0.35
    assert found.doubt.sure


def test_from_below_it_is_turned_round(taken):
    picture, layout, lens, outline = taken
    found = find_outline(picture, layout, OutlineCase(45.0, "below", lens))
    assert off(found, outline * [-1.0, 1.0])[0] < 0.15


def test_what_cannot_be_is_refused(taken):
    picture, layout, lens, _ = taken
    case = OutlineCase(45.0, "above", lens)
    with pytest.raises(StandError, match="leaves the picture"):
        find_outline(np.ascontiguousarray(picture[:, 525:]), layout, OutlineCase(45.0, "above"))
    with pytest.raises(StandError, match="No bed stands out"):
        empty = picture.copy()
        empty[262:900, 300:1238] = 230
        find_outline(empty, layout, case)
    with pytest.raises(PhotographsError):
        find_outline(np.full_like(picture, 200), layout, case)
    with pytest.raises(StandError, match="would lie behind the camera"):
        find_outline(picture, layout, OutlineCase(2000.0, "above", lens))
    for wrong in (GivenLens(((0.0, 0.0, 0.0),) * 3), GivenLens(lens.matrix, (0.0, 0.0))):
        with pytest.raises(LensError, match="no camera's"):
            find_outline(picture, layout, OutlineCase(45.0, "above", wrong))
