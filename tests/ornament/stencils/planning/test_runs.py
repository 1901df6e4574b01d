"""Pictures as runs against the same pictures pixel by pixel."""

import cv2
import numpy as np
import pytest
from shapely import Point

from ironlace.ornament.stencils.planning.raster_proof import crept_far, whole_steps, worst_applied
from ironlace.ornament.stencils.planning.runs import (
    Raster,
    Runs,
    filled_runs,
    pieces_left,
    turns_of,
)
from ironlace.ornament.stencils.remembered import Remembered


def pictures(seed, count, rows=23, columns=31):
    rng = np.random.default_rng(seed)
    raster = Raster(0.0, 0.0, 10.0, rows, columns)
    # from hardly any pixel to nearly all, some in blots
    return raster, [
        cv2.blur(rng.random((rows, columns)), (1 + 2 * int(rng.integers(3)),) * 2)
        < rng.uniform(0.2, 0.8)
        for _ in range(count)
    ]


def pixels_moved(picture, row, column):
    out = np.zeros_like(picture)
    at = np.argwhere(picture) + np.array([row, column])
    at = at[((at >= 0) & (at < picture.shape)).all(axis=1)]
    out[tuple(at.T)] = True
    return out


@pytest.mark.parametrize("seed", range(12))
def test_runs_are_joined_met_moved_and_grown_as_pixels_are(seed):
    raster, (a, b) = pictures(seed, 2)
    one, two = Runs.of(a), Runs.of(b)
    assert (one.picture(raster) == a).all()
    assert one.pixels == a.sum()
    assert one.within(two) == (a & b).sum()
    assert (one.and_(two).picture(raster) == (a & b)).all()
    assert (one.with_(two).picture(raster) == (a | b)).all()
    assert (one.without(two, raster).picture(raster) == (a & ~b)).all()
    for step in ((0, 0), (2, -3), (-5, 4), (0, 40), (-23, 0)):
        assert (one.moved(*step, raster).picture(raster) == pixels_moved(a, *step)).all()
    for reach in (0.4, 1.0, 1.5, 3.7):
        n = int(reach)
        disc = (np.hypot(*np.mgrid[-n : n + 1, -n : n + 1]) <= reach).astype(np.uint8)
        wider = cv2.dilate(a.astype(np.uint8), disc, borderValue=0).astype(bool)
        assert (one.grown(reach, raster).picture(raster) == wider).all()


def test_creeping_far_is_measured_as_creeping_near_is():
    raster, (a,) = pictures(5, 1, 60, 60)
    a &= np.random.default_rng(1).random(a.shape) < 0.02
    far = crept_far(Runs.of(a), 6.0, raster)
    assert (far.picture(raster) == Runs.of(a).grown(6.0, raster).picture(raster)).all()


@pytest.mark.parametrize("seed", range(6))
def test_pieces_are_those_of_a_flood_fill(seed):
    raster, (cut,) = pictures(seed, 1)
    rings = [
        (np.array([(c, r), (c + 1, r), (c + 1, r + 1), (c, r + 1)]) / raster.px_per_mm)
        for r, c in np.argwhere(cut).tolist()
    ]
    assert (filled_runs(rings, raster).picture(raster) == cut).all()
    _, _, stats, _ = cv2.connectedComponentsWithStats((~cut).astype(np.uint8), connectivity=4)
    sizes = np.sort(stats[1:, cv2.CC_STAT_AREA])[::-1]
    assert pieces_left(turns_of(rings, raster), raster).tolist() == sizes.tolist()


def test_what_leaves_the_window_is_cut_off():
    raster = Raster(0.0, 0.0, 10.0, 20, 20)
    disc = Point(1.0, 1.0).buffer(5.0, 32)
    ring = np.array(disc.exterior.coords)[:-1]
    assert filled_runs([ring], raster).pixels == 400
    assert pieces_left(turns_of([ring], raster), raster).tolist() == []
    assert pieces_left(turns_of([], raster), raster).tolist() == [400]


@pytest.mark.parametrize("seed", range(6))
def test_the_worst_way_is_found_as_pixel_by_pixel(seed):
    # of one band of rows, and of several
    raster, (drawn, first, *further) = pictures(seed, 4, 23 + 40 * seed)
    laid = [Runs.of(picture) for picture in (first, *further)]
    told = worst_applied(Runs.of(drawn), laid, raster, 0.2, 0.0)
    times = first.astype(int)
    for laid in further:
        moved = [pixels_moved(laid, *step) for step in whole_steps(2.0)]
        new = times == 0
        beside = [int((m & new & ~drawn).sum()) - int((m & new & drawn).sum()) for m in moved]
        times += moved[int(np.argmax(beside))]
    mm2 = raster.px_per_mm**2
    assert told.lost_mm2 == (drawn & (times == 0)).sum() / mm2
    assert told.doubled_mm2 == (times > 1).sum() / mm2
    assert told.stray_mm2 == (~drawn & (times > 0)).sum() / mm2


@pytest.mark.parametrize("spread", [0.0, 0.15])
def test_bands_that_are_remembered_make_no_difference(spread):
    raster, pixels = pictures(3, 4, 500, 40)
    known, rng = Remembered(), np.random.default_rng(8)
    for change in range(4):
        drawn, *laid = map(Runs.of, pixels)
        told = worst_applied(drawn, laid, raster, 0.3, spread, known)
        afresh = worst_applied(drawn, laid, raster, 0.3, spread)
        assert vars(told) == vars(afresh)
        # a change at the very edge of a band reaches into the next
        row = (63, 64, 64 * 5 + 3, 60)[change]
        pixels[1 + change % 3][row, rng.integers(40, size=15)] ^= True
    assert told.doubled_mm2 > 0 and told.stray_mm2 > 0
