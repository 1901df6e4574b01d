"""A bed's outline from photographs traced ray by ray."""

import numpy as np
import pytest
import shapely

from ironlace.photographs import GivenLens, LensError, StripLayout
from ironlace.photographs.errors import PhotographsError
from ironlace.stand.bed_outline import (
    OutlineCase,
    find_outline,
    outline_csv,
    outline_told,
)
from ironlace.stand.errors import StandError
from photographed_beds import photograph


@pytest.fixture(scope="module")
def taken():
    picture, csv, matrix, dist, _, outline = photograph(np.random.default_rng(8), 1500, 1125, 45.0)
    lens = GivenLens(tuple(map(tuple, matrix.tolist())), tuple(dist.tolist()))
    return picture, StripLayout.from_csv(csv), lens, outline


def off(found, outline):
    """Mean, and what 95 % of the written outline keeps within, both ways."""
    there = shapely.distance(shapely.LinearRing(outline), shapely.points(found.points_mm))
    back = shapely.distance(shapely.LinearRing(found.points_mm), shapely.points(outline))
    return max(there.mean(), back.mean()), max(np.quantile(there, 0.95), np.quantile(back, 0.95))


def test_the_outline_is_right_though_the_rim_lies_high(taken):
    picture, layout, lens, outline = taken
    found = find_outline(picture, layout, OutlineCase(45.0, "above", lens))
    mean, most = off(found, outline)
    assert mean < 0.15 and most < 0.35
    told = outline_told(found)
    assert told["area_mm2"] == pytest.approx(shapely.Polygon(outline).area, rel=2e-3)
    assert outline_csv(found).splitlines()[0] == "x_mm,y_mm"
    # taken as lying in the sheet it is millimetres wrong
    assert off(find_outline(picture, layout, OutlineCase(0.0, "above", lens)), outline)[0] > 2.0


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
