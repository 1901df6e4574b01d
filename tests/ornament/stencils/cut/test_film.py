from io import BytesIO

import numpy as np
import pytest
from shapely import MultiPolygon, Point, box

import ornaments
from ironlace.ornament.stencils import Sheet, StencilError, film_png, plan_sheets


@pytest.fixture(scope="module")
def sheet(laser):
    return plan_sheets(ornaments.border(np.random.default_rng(1), 2), laser, "bridges").sheets[0]


def picture(sheet, dpi):
    from PIL import Image

    with Image.open(BytesIO(b"".join(film_png(sheet, dpi)))) as image:
        image.load()
        return image.info, np.asarray(image.convert("L")) < 128


def test_the_film_measures_what_the_sheet_does(sheet):
    info, black = picture(sheet, 1200)
    assert info["dpi"][0] == pytest.approx(1200, abs=0.1)
    left, top, right, bottom = sheet.edge.bounds
    assert black.shape[1] == pytest.approx((right - left) / 25.4 * 1200, abs=1)
    assert black.shape[0] == pytest.approx((bottom - top) / 25.4 * 1200, abs=1)
    x0, y0, x1, y1 = sheet.openings.bounds
    scale = 1200 / 25.4
    inner = black[
        int((y0 - top - 2) * scale) : int((y1 - top + 2) * scale),
        int((x0 - left - 2) * scale) : int((x1 - left + 2) * scale),
    ]
    rows, columns = np.flatnonzero(inner.any(axis=1)), np.flatnonzero(inner.any(axis=0))
    assert np.ptp(columns) / scale == pytest.approx(x1 - x0, abs=0.05)
    assert np.ptp(rows) / scale == pytest.approx(y1 - y0, abs=0.05)
    # straight edges along the dots may each fall on either side of a row
    half_a_dot = 0.5 / scale * sheet.openings.length
    assert inner.sum() / scale**2 == pytest.approx(sheet.area_mm2, abs=0.5 * half_a_dot)


@pytest.mark.parametrize("dpi", [600, 1200])
@pytest.mark.parametrize("at", [(20.0, 20.0), (20.013, 19.991)])
def test_a_ring_has_its_area_to_a_tenth_of_half_a_dot_all_round(dpi, at):
    ring = Point(at).buffer(8.0, 256).difference(Point(at).buffer(6.5, 256))
    sheet = Sheet("1", "gilt", MultiPolygon([ring]), box(0, 0, 40, 40), np.zeros((0, 2)), 1.5)
    _, black = picture(sheet, dpi)
    scale = dpi / 25.4
    inner = black[int(11 * scale) : int(29 * scale), int(11 * scale) : int(29 * scale)]
    # the true ring, by its radii, not by its corners
    area, edge = np.pi * (8.0**2 - 6.5**2), 2 * np.pi * (8.0 + 6.5)
    assert inner.sum() / scale**2 == pytest.approx(area, abs=0.1 * 0.5 / scale * edge)


def test_strips_join_without_a_seam(sheet):
    _, coarse = picture(sheet, 600)
    _, fine = picture(sheet, 1200)
    h, w = coarse.shape[0] // 2 * 2, coarse.shape[1] // 2 * 2
    half = fine[: 2 * h : 2, : 2 * w : 2][:h, :w]
    assert (half[: coarse.shape[0]] != coarse[: half.shape[0], : half.shape[1]]).mean() < 0.01


def test_memory_does_not_grow_with_the_film(sheet):
    import tracemalloc

    list(film_png(sheet, 300))
    tracemalloc.start()
    for _ in film_png(sheet, 2400):
        pass
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    left, top, right, bottom = sheet.edge.bounds
    pixels = (right - left) * (bottom - top) * (2400 / 25.4) ** 2
    assert peak < 0.5 * pixels


@pytest.mark.parametrize("dpi", [10, 100_000])
def test_a_senseless_resolution_is_refused(sheet, dpi):
    with pytest.raises(StencilError, match="no resolution"):
        film_png(sheet, dpi)
