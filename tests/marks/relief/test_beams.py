import numpy as np
import pytest
import scipy.stats

from ironlace.marks.capture.geometry import PlateFrame
from ironlace.marks.capture.lights import light_at, light_towards
from ironlace.marks.relief.beams import (
    BY_CHANCE,
    RARELY,
    CoarseGrid,
    bend_in,
    chance_of,
    directions_on,
    fitted_fields,
    widened,
)
from lit_surfaces import ring_of_lights

PLATE = PlateFrame((240, 400), 0.1, True)
REACH = CoarseGrid.over(PLATE).reach()
LIGHTS = 200 * ring_of_lights(24, (20, 35, 50))


def test_a_near_torch_falls_off_as_the_square():
    grid = CoarseGrid.over(PLATE)
    towards, fall = directions_on(grid, light_at((0.0, 0.0, 100.0)))
    place = np.stack([grid.x, grid.y], -1)[0, 0]
    assert fall[0, 0] == pytest.approx(100**2 / (100**2 + place @ place))
    np.testing.assert_allclose(np.linalg.norm(towards, axis=-1), 1)
    _, even = directions_on(grid, light_towards(20, 30))
    assert (even == 1).all()


def test_beams_and_exposures_are_found():
    rng = np.random.default_rng(1)
    grid = CoarseGrid.over(PLATE)
    lit = [directions_on(grid, light_at(place)) for place in LIGHTS]
    upright = np.stack([fall * towards[..., 2] for towards, fall in lit])
    true = rng.normal(0, 0.1, (24, 6))
    true -= true.mean(0)
    fields = np.exp(true @ grid.polynomials().T)
    albedo = 0.3 * np.exp(rng.normal(0, 0.1, fields.shape[1]))
    cells = upright.reshape(24, -1) * fields * albedo
    cells[3, :400] *= 0.2  # a shadow
    found, bright = fitted_fields(
        cells, upright.reshape(24, -1), np.zeros(fields.shape[1], bool), grid
    )
    assert np.abs(found - true).max() < 0.02
    assert np.abs(bright - np.log(albedo)).max() < 0.05


def test_a_bend_of_the_plate_is_told_from_beams():
    rng = np.random.default_rng(2)
    response = LIGHTS[:, :2] / LIGHTS[:, 2:]
    bend = np.zeros((2, 6))
    bend[0, 1] = 0.08  # five degrees from end to end
    own = rng.normal(0, 0.05, (24, 6))
    left, tilt = bend_in(own + response @ bend, response, REACH)
    assert tilt[0, 1] == pytest.approx(0.08, abs=0.02)
    np.testing.assert_allclose(left + (response - response.mean(0)) @ tilt, own + response @ bend)


def test_beams_alone_bend_nothing():
    rng = np.random.default_rng(3)
    response = LIGHTS[:, :2] / LIGHTS[:, 2:]
    drawn = [bend_in(rng.normal(0, 0.1, (24, 6)), response, REACH)[1] for _ in range(200)]
    assert np.count_nonzero(drawn) < 10  # of 2,400; by BY_CHANCE for any number seven on average


def test_a_bend_must_stand_out_more_where_more_photographs_would_show_it():
    chances = [
        chance_of(np.full((2, 6), 0.07 / np.sqrt(n)), np.full((2, 1), 0.1), n - 3)
        for n in (48, 24, 12, 6)
    ]
    plain = [one[0, 0] for one in chances]
    assert plain[0] == pytest.approx(RARELY, rel=1e-3)
    assert plain[0] < plain[1] < plain[2]
    assert plain[2:] == pytest.approx([BY_CHANCE, BY_CHANCE])


def test_a_missed_bend_is_as_rare_as_a_false_one_where_it_can_be():
    doubt = np.full((2, 6), 0.0145)
    chance = chance_of(doubt, np.full((2, 1), 0.1), 21)[0, 0]
    assert RARELY < chance < BY_CHANCE
    rng = np.random.default_rng(5)
    free = np.sqrt(rng.chisquare(21, 400_000) / 21)  # the scatter of which the doubt is made
    clear = scipy.stats.t.isf(chance / 2, 21)
    missed = np.mean((0.1 / 0.0145 + rng.standard_normal(400_000)) / free < clear)
    assert missed == pytest.approx(12 * chance, abs=5 * np.sqrt(missed / 400_000))


def test_the_chance_does_not_hang_on_the_unit_of_length():
    rng = np.random.default_rng(6)
    response = LIGHTS[:12, :2] / LIGHTS[:12, 2:]
    own = rng.normal(0, 0.05, (12, 6)) + response @ rng.normal(0, 0.06, (2, 6))
    told = [bend_in(own, response, scale * REACH)[1] for scale in (1, 25)]
    np.testing.assert_array_equal(*told)


def test_a_field_is_widened_alike_in_bands():
    grid = CoarseGrid.over(PLATE)
    whole = widened(2 * grid.x - grid.y, PLATE.shape, 0, 240)
    band = widened(2 * grid.x - grid.y, PLATE.shape, 100, 140)
    np.testing.assert_allclose(whole[100:140], band, atol=1e-4)
    expected = 2 * PLATE.columns_mm()[None, :] - PLATE.rows_mm()[:, None]
    assert np.abs(whole - expected).max() < 0.05
