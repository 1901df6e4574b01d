import numpy as np
import pytest
from shapely import MultiPolygon, Point, box

from ironlace.ornament.stencils.planning.raster_proof import (
    applied,
    filled,
    pieces_of_sheet,
    raster_over,
    whole_steps,
)
from ironlace.ornament.stencils.sheets import Sheet


def sheet(openings):
    edge = box(-5, -5, 45, 45)
    return Sheet("1", "gilt", MultiPolygon(openings), edge, np.zeros((0, 2)), 1.5)


def ring(shape):
    return np.array(shape.exterior.coords)[:-1]


def test_fill_counts_pixel_middles_to_a_part_in_a_thousand():
    disc = Point(20, 20).buffer(9.3, 128)
    raster = raster_over((0, 0, 40, 40), 25.0)
    assert filled([ring(disc)], raster).sum() / 25**2 == pytest.approx(disc.area, rel=1e-3)


def test_fill_agrees_with_another_library():
    from skimage.draw import polygon2mask

    star = np.random.default_rng(2).uniform(5, 35, (9, 2))
    raster = raster_over((0, 0, 40, 40), 8.0)
    ours = filled([star], raster)
    theirs = polygon2mask(ours.shape, star[:, ::-1] * 8.0 - 0.5)
    assert (ours != theirs).mean() < 0.002


@pytest.mark.parametrize(
    ("openings", "pieces"),
    [
        ([box(10, 10, 20, 20)], 1),
        ([box(10, 10, 30, 30).difference(box(15, 15, 20, 20))], 2),
        ([box(10, 10, 30, 30).difference(box(15, 9, 16, 20))], 1),
    ],
)
def test_flood_fill_counts_what_falls_out(openings, pieces):
    one = sheet(openings)
    found, loose = pieces_of_sheet(one.svg(), one.edge.bounds, 20.0)
    assert found == pieces
    assert loose == pytest.approx(25.0 if pieces == 2 else 0.0, rel=0.02)


def test_a_shifted_sheet_loses_and_strays_by_its_edge():
    drawn = box(10, 10, 30, 20)
    first, second = sheet([box(10, 10, 20.5, 20)]), sheet([box(19.5, 10, 30, 20)])
    raster = raster_over((0, 0, 40, 40), 20.0)
    told = applied([ring(drawn)], [first.svg(), second.svg()], raster)
    assert told.covered == pytest.approx(1.0)
    assert told.doubled_mm2 == pytest.approx(10.0, rel=0.02)
    off = applied([ring(drawn)], [first.svg(), second.svg()], raster, register_mm=0.5)
    # the worst way is aslant: the far end by 0.5 cos 45, and one long side by 0.5 sin 45
    side = 0.5 * np.sqrt(0.5)
    assert off.lost_mm2 + off.stray_mm2 == pytest.approx(10 * side + 2 * 10 * side, rel=0.12)


def test_creeping_paint_strays_all_round():
    drawn = Point(20, 20).buffer(8, 128)
    raster = raster_over((0, 0, 40, 40), 25.0)
    told = applied([ring(drawn)], [sheet([drawn]).svg()], raster, spread_mm=0.2)
    assert told.stray_mm2 == pytest.approx(np.pi * (8.2**2 - 8**2), rel=0.05)


@pytest.mark.parametrize("steps", [5, 12])
def test_an_edge_of_any_slant_is_laid_off_by_what_was_asked(steps):
    # an edge strays by the farthest that any step goes square to it: 1 on average is asked
    taken = np.array(whole_steps(float(steps)))
    turn = np.linspace(0, 2 * np.pi, 360, endpoint=False)
    far = (taken @ np.stack([np.sin(turn), np.cos(turn)])).max(axis=0) / steps
    assert far.mean() == pytest.approx(1.0, abs=0.012)
    assert far.min() > 0.98
    assert far.max() <= 1.0201
