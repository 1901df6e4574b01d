"""An ornament laid askew in its photograph is drawn upright, and still lies where it was seen."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import affinity

from darkroom import Ornament, Shot, outline_errors, photograph, scrollwork
from ironlace.ornament import PhotographsToTrace, TraceAsked, trace_photographs
from ironlace.ornament.files.laid_back import prove
from ironlace.ornament.outline.drawing import BlindPlace
from ironlace.ornament.set_upright import Turn, set_upright, turned_in_words
from ironlace.photographs import Lens, Placing, Plane, Round, place_uncertainty_mm, strip_sheet
from ironlace.photographs.flat_picture import UNSEEN_FRAME, Flat, coarse_places

BOX = (60.0, 40.0, 140.0, 90.0)
"""Where the ornament lies before it is turned askew, mm."""


def scene(askew_deg, *, share=1.0):
    """An ornament, the same laid askew, its photograph and what is asked of it.

    The camera has ``share`` of the pixels along each side.
    """
    rng = np.random.default_rng(23)
    straight = scrollwork(rng, BOX, scrolls=4, mirror=True)
    askew = Ornament(affinity.rotate(straight.gilt, askew_deg, origin=(100.0, 65.0)))
    shot = Shot(
        width=round(1800 * share),
        height=round(1260 * share),
        focal_px=2000 * share,
        aim_mm=(100.0, 65.0),
        distance_mm=260.0,
        glare=False,
    )
    image = photograph(askew, strip_sheet("wrap"), shot, rng)
    lens = Lens.from_json(json.dumps(shot.lens))
    return straight, askew, image, TraceAsked(strip="wrap", lens=lens, mirror=True)


def traced_of(image, asked):
    return trace_photographs(PhotographsToTrace.of([image]), asked)


def turn_of(traced):
    told = traced.report["upright"]
    return Turn(told["turned_deg"], tuple(told["about_mm"]))


def turned_as_told(ornament, traced):
    told = traced.report["upright"]
    return Ornament(affinity.rotate(ornament.gilt, told["turned_deg"], origin=told["about_mm"]))


@pytest.fixture(scope="module", params=[1.3, -7.0])
def case(request):
    straight, askew, image, asked = scene(request.param)
    as_it_lies = traced_of(image, replace(asked, upright=False))
    # once by the whole way from the photograph, once by its last step
    traced = traced_of(image, asked) if request.param > 0 else set_upright(as_it_lies, 4.0)
    return request.param, straight, askew, image, as_it_lies, traced


def test_the_axis_stands_plumb(case):
    askew_deg, *_, traced = case
    told = traced.report["upright"]
    assert told["turned_deg"] == pytest.approx(-askew_deg, abs=0.05)
    assert told["axis"] == "plumb"
    (axis,) = [one["axis"] for one in traced.report["gathered"] if "axis" in one]
    assert axis["direction_deg"] == 90.0
    (words,) = turned_in_words(traced.report)
    assert f"{abs(told['turned_deg']):.2f}°" in words and "plumb" in words


def test_the_drawing_lies_on_the_truth_turned_alike(case):
    _, straight, askew, *_, traced = case
    rings = [p.polygon(0.002) for p in traced.drawing.paths]
    forth, back = outline_errors(rings, turned_as_told(askew, traced))
    assert forth.mean() < 0.04 and back.mean() < 0.04
    # its size along the axes: a speck at a tip may lengthen the whole, and not all but a hundredth
    left, top, right, bottom = straight.gilt.bounds
    assert traced.drawing.painted_mm == pytest.approx((right - left, bottom - top), abs=0.4)
    drawn = np.concatenate([path.points() for path in traced.drawing.paths])
    sizes = [
        np.diff(np.percentile(points, (1, 99), axis=0), axis=0)[0]
        for points in (drawn, straight.outline())
    ]
    assert sizes[0] == pytest.approx(sizes[1], abs=0.1)


def test_it_lies_on_its_photograph_as_near_as_without_turning(case):
    *_, image, as_it_lies, traced = case
    assert "upright" not in as_it_lies.report
    assert not turned_in_words(as_it_lies.report)
    before = as_it_lies.report["proof"]
    told = prove(traced.drawing, image, traced.placings[0]).as_dict()
    kept = Placing.of_camera(json.loads(json.dumps(traced.report["camera"])))
    for proof in (told, traced.report["proof"], prove(traced.drawing, image, kept).as_dict()):
        for figure in ("with_a_trace", "mean_mm", "p95_mm", "graded_seen_without_a_trace"):
            assert proof[figure] == pytest.approx(before[figure], abs=1e-3)
    for was, now in zip(before["worst"], traced.report["proof"]["worst"], strict=True):
        there = turn_of(traced).points(np.array([was["x_mm"], was["y_mm"]]))
        assert (now["x_mm"], now["y_mm"]) == pytest.approx(there, abs=0.01)
    # what is told of the outlines is as it was
    for figure in ("paths", "nodes", "length_mm", "crossing_paths"):
        was = as_it_lies.report["drawing"][figure]
        assert traced.report["drawing"][figure] == pytest.approx(was, rel=1e-9)


def test_the_flat_picture_turns_with_the_drawing(case):
    *_, traced = case
    flat, drawing = traced.flat, traced.drawing
    assert traced.report["flat"]["bounds_mm"] == list(flat.bounds_mm)
    inside = shapely.union_all(
        [shapely.Polygon(path.polygon()) for path in drawing.paths if path.area > 3.0]
    )
    rng = np.random.default_rng(2)
    places = rng.uniform(drawing.bounds_mm[:2], drawing.bounds_mm[2:], (4000, 2))
    at = np.round(flat.to_px(places)).astype(int)
    light = flat.light[at[:, 1], at[:, 0], 0].astype(float)
    on = shapely.contains_xy(inside.buffer(-0.15), *places.T)
    off = ~shapely.contains_xy(inside.buffer(0.6), *places.T)
    assert on.sum() > 100
    assert np.median(light[on]) > 4 * np.median(light[off])
    same = traced.flat_of(0)
    assert same.origin_mm == flat.origin_mm and np.array_equal(same.light, flat.light)


def test_what_has_no_axis_near_upright_is_left_as_it_lies():
    _, askew, image, asked = scene(40.0, share=0.7)
    traced = traced_of(image, asked)
    (axis,) = [one["axis"] for one in traced.report["gathered"] if "axis" in one]
    assert axis["direction_deg"] % 180.0 == pytest.approx(130.0, abs=0.05)
    assert "upright" not in traced.report
    rings = [p.polygon(0.002) for p in traced.drawing.paths]
    forth, back = outline_errors(rings, askew)
    # 5 px/mm here, not 8
    assert forth.mean() < 0.06 and back.mean() < 0.06


def test_what_has_no_axis_is_left_as_it_lies(case):
    *_, traced = case
    gathered = [{k: v for k, v in one.items() if k != "axis"} for one in traced.report["gathered"]]
    report = {k: v for k, v in traced.report.items() if k != "upright"} | {"gathered": gathered}
    without = replace(traced, report=report)
    assert set_upright(without, 4.0) is without


def with_axis(traced, direction_deg):
    """A trace as if its axis ran in a direction."""
    gathered = [
        {**one, "axis": {**one["axis"], "direction_deg": direction_deg}} if "axis" in one else one
        for one in traced.report["gathered"]
    ]
    return replace(traced, report={**traced.report, "gathered": gathered})


@pytest.mark.parametrize(
    ("direction_deg", "turned_deg", "axis", "then_deg"),
    [
        (2.5, -2.5, "level", 0.0),
        (-14.9, 14.9, "level", 0.0),
        (-89.0, -1.0, "plumb", 90.0),
        (75.2, 14.8, "plumb", 90.0),
        (75.0 - 0.1, None, "", 75.0 - 0.1),
        (-15.1, None, "", -15.1),
    ],
)
def test_an_axis_is_set_upright_or_level_whichever_is_near(
    case, direction_deg, turned_deg, axis, then_deg
):
    *_, as_it_lies, _ = case
    set_up = set_upright(with_axis(as_it_lies, direction_deg), 4.0)
    (found,) = [one["axis"] for one in set_up.report["gathered"] if "axis" in one]
    assert found["direction_deg"] == then_deg
    told = set_up.report.get("upright", {"turned_deg": None, "axis": ""})
    assert told["axis"] == axis
    assert told["turned_deg"] == (None if turned_deg is None else pytest.approx(turned_deg))


def test_a_scan_is_turned_without_a_camera(case):
    *_, as_it_lies, traced = case
    bare = {
        name: told
        for name, told in as_it_lies.report.items()
        if name not in ("camera", "photographs", "proof")
    }
    scan = set_upright(replace(as_it_lies, placings=(), report=bare), 4.0)
    assert scan.drawing.bounds_mm == traced.drawing.bounds_mm
    assert set(scan.report) == {*bare, "upright"}


def test_bridges_and_steps_are_told_where_they_come_to_lie(case):
    *_, as_it_lies, traced = case
    bridge = {"gap_mm": 2.0, "at_mm": [90.0, 60.0], "centre_mm": [[89.0, 60.0], [91.0, 60.0]]}
    repeat = {"name": "repeat", "layer": "gold", "step_mm": [12.0, 0.0]}
    gathered = [*as_it_lies.report["gathered"], repeat]
    report = {**as_it_lies.report, "bridges": [bridge], "gathered": gathered}
    turned = set_upright(replace(as_it_lies, report=report), 4.0).report
    angle = np.radians(traced.report["upright"]["turned_deg"])
    assert turned["gathered"][-1]["step_mm"] == pytest.approx(
        [12 * np.cos(angle), 12 * np.sin(angle)]
    )
    (one,) = turned["bridges"]
    assert one["at_mm"] == pytest.approx(np.mean(one["centre_mm"], axis=0), abs=1e-4)
    assert one["at_mm"] == pytest.approx(turn_of(traced).points(np.array([90.0, 60.0])))
    along = np.diff(one["centre_mm"], axis=0)[0]
    assert along == pytest.approx([2 * np.cos(angle), 2 * np.sin(angle)], abs=2e-4)


def test_blind_places_turn_with_the_drawing(case):
    *_, as_it_lies, traced = case
    corners = np.array([[80.0, 50.0], [84.0, 50.0], [84.0, 55.0]])
    drawing = replace(as_it_lies.drawing, blind=(BlindPlace("glare", corners),))
    turned = set_upright(replace(as_it_lies, drawing=drawing), 4.0)
    there = turn_of(traced).points(corners)
    assert turned.drawing.blind[0].corners_mm == pytest.approx(there)
    assert np.array(turned.report["blind"][0]["corners_mm"]) == pytest.approx(there, abs=0.01)


SURFACES = {
    "plane": Plane(),
    "cylinder": Round((100.0, 60.0), 45.0, np.radians(80.0)),
    "cone": Round((100.0, 60.0), 50.0, np.radians(10.0), 0.1),
}


@pytest.mark.parametrize("kind", SURFACES)
def test_a_turned_placing_sees_every_place_where_it_was_seen(kind):
    rng = np.random.default_rng(4)
    told = {
        **Placing.of_camera(
            {
                "kind": "plane",
                "shape": [0.0] * 5,
                "lens": {"matrix": [[2000, 0, 900], [0, 2000, 630], [0, 0, 1]], "distortion": []},
                "rotation": np.eye(3).tolist(),
                "translation": [-100.0, -60.0, 280.0],
            }
        ).__dict__
    }
    placing = replace(Placing(**told), surface=SURFACES[kind])
    turn = Turn(-8.5, (93.0, 71.0))
    turned = turn.placing(placing)
    xy = rng.uniform((70, 30), (130, 90), (200, 2))
    there = turn.points(xy)
    assert turn.back(there) == pytest.approx(xy)
    assert turned.to_pixels(there) == pytest.approx(placing.to_pixels(xy), abs=1e-6)
    assert turned.facing(there) == pytest.approx(placing.facing(xy), abs=1e-9)
    assert np.array_equal(turned.surface.covers(there), placing.surface.covers(xy))
    assert turned.surface.kind == kind


def test_a_turned_placing_is_as_sure_of_every_place(case):
    *_, as_it_lies, traced = case
    xy = np.random.default_rng(6).uniform((70, 50), (130, 80), (50, 2))
    before = place_uncertainty_mm(as_it_lies.placings[0], xy)
    after = place_uncertainty_mm(traced.placings[0], turn_of(traced).points(xy))
    assert after == pytest.approx(before, rel=1e-3)


def test_a_turned_flat_shows_the_same_at_every_place():
    def shades(mm):
        x, y = mm[..., 0], mm[..., 1]
        return np.stack([20000 + 300 * x, 30000 - 200 * y, 10000 + 100 * x + 150 * y], axis=-1)

    height, width, scale, origin = 300, 420, 10.0, (5.0, -3.0)
    empty = np.zeros((height, width), np.uint8)
    flat = Flat(
        np.zeros((height, width, 3), np.uint16), scale, origin, empty, *[np.zeros((1, 1))] * 3
    )
    columns, rows = coarse_places(height, width)
    nodes = flat.to_mm(np.stack(np.meshgrid(columns, rows), axis=-1))
    whole = flat.to_mm(np.stack(np.meshgrid(np.arange(width), np.arange(height)), axis=-1))
    flat = replace(
        flat,
        light=shades(whole).astype(np.uint16),
        resolution=nodes[..., 0].astype(np.float32),
        facing=nodes[..., 1].astype(np.float32),
        white=shades(nodes).astype(np.float32),
    )
    turn = Turn(9.0, (26.0, 12.0))
    turned = turn.flat(flat, (3.0, -4.02, 40.0, 20.0))
    left, top, right, bottom = turned.bounds_mm
    assert (left, top) == pytest.approx((3.0, -4.1))  # drawn out by whole pixels
    assert (right, bottom) == pytest.approx(flat.bounds_mm[2:])
    places = turned.to_mm(
        np.stack(np.meshgrid(np.arange(turned.shape[1]), np.arange(turned.shape[0])), axis=-1)
    )
    seen = turned.hidden == 0
    assert set(np.unique(turned.hidden)) == {0, UNSEEN_FRAME}
    lay = turn.back(places)
    inside = np.all((lay > np.array(origin) + 0.3) & (lay < np.array([46.7, 26.7])), axis=-1)
    assert seen[inside].all() and 0.6 < seen.mean() < 1.0
    assert np.abs(turned.light - shades(lay))[inside].max() < 12
    for grid, was in ((turned.resolution, lay[..., 0]), (turned.facing, lay[..., 1])):
        assert np.abs(turned.spread(grid, *turned.shape) - was)[inside].max() < 0.01
    assert turned.white.shape[:2] == turned.resolution.shape
