"""Mass and its centre from two edges and a scale."""

import re
from dataclasses import replace

import numpy as np
import pytest
import shapely

from ironlace.stand.centre_cloud import centre_plot, cloud_ring
from ironlace.stand.errors import StandError
from ironlace.stand.weighing import LevelWeighing, TiltedWeighing, Weighing, balance_of
from standing_heads import BATHROOM, KITCHEN, weighed

GOOD = Weighing(
    1,
    5,
    0.4,
    0.7,
    0.25,
    LevelWeighing((-114, 114), (4117, 8559)),
    LevelWeighing((-76, 76), (6757, 5906)),
    TiltedWeighing(19, 2442),
)


def of(given):
    plain = {name: value for name, value in given.items() if not isinstance(value, dict)}
    level = {name: LevelWeighing(**given[name]) for name in ("along_x", "along_y")}
    return Weighing(**plain, **level, tilted=TiltedWeighing(**given["tilted"]))


@pytest.mark.parametrize(
    ("scale", "flat", "high", "anew"),
    [(KITCHEN, 0.6, 3.3, True), (KITCHEN, 0.6, 3.6, False), (BATHROOM, 1.3, 4.4, True)],
)
def test_the_centre_is_right_and_its_interval_holds(scale, flat, high, anew):
    rng = np.random.default_rng(21)
    off, inside = [], []
    for _ in range(60):
        mass, centre, given = weighed(rng, scale, anew)
        found = balance_of(of(given))
        off.append(found.mean - [mass, *centre])
        inside.append(np.abs(off[-1]) < 1.645 * np.sqrt(np.diag(found.covariance)))
    rms = np.sqrt(np.mean(np.square(off), axis=0))
    assert rms[1:3].max() < flat
    assert rms[3] < high
    assert (np.mean(inside, axis=0) > 0.79).all()
    assert np.mean(inside) < 0.985


def test_the_cloud_holds_nine_of_ten_draws_and_lies_within_its_strip():
    found = balance_of(GOOD)
    drawn = np.random.default_rng(3).multivariate_normal(found.mean, found.covariance, 4000)
    for axes in ((0, 1), (0, 2), (1, 2)):
        cloud = shapely.Polygon(cloud_ring(found, axes))
        at = [1 + axis for axis in axes]
        assert shapely.contains_xy(cloud, *drawn[:, at].T).mean() == pytest.approx(0.9, abs=0.02)
    plot = centre_plot(found)
    strips = re.findall(r'<rect x="([\d.-]+)" y="0" width="([\d.]+)"', plot.svg)
    wide = [2 * 1.6449 * found.covariance[n, n] ** 0.5 for n in (1, 2)]
    assert [float(one) for _, one in strips] == pytest.approx(wide, abs=0.011)
    assert plot.table[3][1] == f"{found.mean[3]:.1f}"


def test_what_is_typed_is_taken_with_its_error():
    found = balance_of(Weighing(mass_g=11_000, centre_mm=(1, 2, 120), mass_sd_g=20))
    assert found.mean.tolist() == [11_000, 1, 2, 120]
    assert found.covariance[0, 0] == 400
    assert "without an error" in found.warnings[0]


REFUSED = {
    "sums": ({"along_x": LevelWeighing((-114, 114), (4117, 9559))}, "it is one head"),
    "steep": ({"tilted": TiltedWeighing(31, 2442)}, "refused for safety"),
    "flat": ({"tilted": TiltedWeighing(1, 2442)}, "tells nothing"),
    "below": ({"tilted": TiltedWeighing(19, 6800)}, "below its seat"),
    "too high": ({"tilted": TiltedWeighing(5, 200)}, "outside the head"),
    "edges": ({"along_y": LevelWeighing((76, -76), (6757, 5906))}, "smaller coordinate first"),
    "half typed": ({"mass_g": 11_000}, "give both"),
    "not whole": ({"tilted": None}, "weigh what is missing"),
}


@pytest.mark.parametrize("why", REFUSED)
def test_what_cannot_be_is_refused(why):
    change, says = REFUSED[why]
    with pytest.raises(StandError, match=says):
        balance_of(replace(GOOD, **change))


def test_a_small_tilt_is_taken_and_said():
    shallow = replace(GOOD, tilted=TiltedWeighing(8, 4500))
    assert "tells little" in balance_of(shallow).warnings[0]


@pytest.mark.parametrize("tilt", [12.0, 19.0, 25.0])
def test_a_level_reading_given_as_the_tilted_one_is_asked_about(tilt):
    rng = np.random.default_rng(5)
    for scale in (KITCHEN, BATHROOM):
        for _ in range(10):
            good = of(weighed(rng, scale, True)[2])
            balance_of(good)
            level = good.along_y.readings_g[1] - 1.0
            with pytest.raises(StandError, match="lifted"):
                balance_of(replace(good, tilted=TiltedWeighing(tilt, level)))


OTHER = replace(GOOD, tilted_other=TiltedWeighing(18, 3461), whole_g=12_664.0)
"""GOOD with the front edge lifted as well: 12 667 g, the centre 81 mm behind it, 121 high."""


def test_the_other_edge_lifted_agrees_and_narrows_the_height():
    one, both = balance_of(GOOD), balance_of(OTHER)
    assert both.checked == (True, True)
    assert one.checked == (False, False)
    assert abs(both.mean[3] - one.mean[3]) < 3.0
    assert both.covariance[3, 3] < 0.7 * one.covariance[3, 3]


FAULTS = {
    "edges changed round": (
        {"along_y": LevelWeighing((-76, 76), (5906, 6757))},
        "with the front one lifted to",
    ),
    "a table that leans": (
        {"tilted": TiltedWeighing(15, 2442), "tilted_other": TiltedWeighing(22, 3461)},
        "whether the tilt counts from level",
    ),
    "a board on the scale": ({"whole_g": 12_300.0}, "nought with edge and board on it"),
}


@pytest.mark.parametrize("why", FAULTS)
def test_what_only_a_further_reading_shows_is_refused(why):
    change, says = FAULTS[why]
    with pytest.raises(StandError, match=says):
        balance_of(replace(OTHER, **change))


@pytest.mark.parametrize(("factor", "says"), [(1e-3, "kg, pounds or ounces"), (0.035, "pounds")])
def test_another_unit_than_grams_is_asked_about(factor, says):
    def by(one):
        return LevelWeighing(one.edges_mm, tuple(factor * r for r in one.readings_g))

    other = replace(
        GOOD,
        along_x=by(GOOD.along_x),
        along_y=by(GOOD.along_y),
        tilted=TiltedWeighing(19, factor * 2442),
    )
    with pytest.raises(StandError, match=says):
        balance_of(other)


def test_edges_in_centimetres_are_asked_about():
    short = replace(
        GOOD,
        along_x=LevelWeighing((-22.8, 22.8), (4117, 8559)),
        along_y=LevelWeighing((-15.2, 15.2), (6757, 5906)),
    )
    with pytest.raises(StandError, match="cm or inches"):
        balance_of(short)


def test_a_centre_where_no_head_has_it_is_doubted_first():
    high = replace(GOOD, tilted=TiltedWeighing(16, 2.442))
    found = balance_of(high)
    assert "cannot be trusted" in found.doubts[0]
    assert balance_of(GOOD).doubts == ()


def test_a_coarse_scale_is_seen_in_its_readings():
    rough = replace(
        GOOD,
        along_x=LevelWeighing((-114, 114), (4000, 8500)),
        along_y=LevelWeighing((-76, 76), (7000, 6000)),
        tilted=TiltedWeighing(19, 2500),
    )
    assert balance_of(rough).covariance[0, 0] > 3.0 * balance_of(GOOD).covariance[0, 0]
