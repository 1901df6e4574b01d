"""Changes by hand: what is kept stays exactly as it was, areas come out as plain geometry says."""

import json

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from ironlace.evidence.grades import Grade
from ironlace.ornament import (
    ClosedPath,
    Drawing,
    DrawnChange,
    Evidence,
    ReworkError,
    Workpiece,
    carry_out,
    crossings,
)
from ironlace.ornament.by_hand.area_changes import fill_from_like, lay_stroke, rub_out
from ironlace.ornament.by_hand.fill_likeness import FillLikeness
from ironlace.ornament.outline.brush_strokes import area_curves, smooth_line, stroke_area

CIRCLE = 4.0 / 3.0 * np.tan(np.pi / 8)


def circle(x, y, r, grade=Grade.SEEN, source="here"):
    quarter = np.array([[1, 0], [1, CIRCLE], [CIRCLE, 1], [0, 1]], float)
    turns = [np.array([[0, -1], [1, 0]]) for _ in range(1)]
    curves, now = [], quarter
    for _ in range(4):
        curves.append(now * r + (x, y))
        now = now @ turns[0].T
    curves = np.array(curves)
    curves[:, 3] = np.roll(curves[:, 0], -1, axis=0)
    return ClosedPath.of(curves, grade, source)


def area_of(paths):
    """Even-odd area by shapely, which the code under test does not use to cut and join."""
    area = shapely.Polygon()
    for path in paths:
        area = area.symmetric_difference(shapely.Polygon(path.polygon(2e-4)).buffer(0))
    return area


def workpiece(*paths):
    return Workpiece.of(Drawing(tuple(paths), (0.0, 0.0, 60.0, 60.0)))


RINGS = workpiece(circle(20, 20, 8), circle(20, 20, 5), circle(40, 30, 6), circle(20, 20, 1.5))


@settings(max_examples=25, deadline=None)
@given(
    begin=st.tuples(st.floats(5, 50), st.floats(5, 50)),
    steps=st.lists(st.tuples(st.floats(-6, 6), st.floats(-6, 6)), min_size=2, max_size=7),
    width=st.floats(0.2, 3.0),
)
def test_strokes_laid_and_rubbed_out_give_the_area_that_plain_geometry_gives(begin, steps, width):
    places = np.cumsum(np.vstack([begin, steps]), axis=0)
    if np.linalg.norm(np.diff(places, axis=0), axis=1).sum() < 1.0:
        return
    stroke = stroke_area(smooth_line(places), [width])
    before = area_of(RINGS.paths.values())
    for make, want in (
        (lambda: lay_stroke(RINGS, places, [width], Evidence()), before.union(stroke)),
        (lambda: rub_out(RINGS, places, width, Evidence()), before.difference(stroke)),
    ):
        try:
            after = RINGS.with_change(make())
        except ReworkError as error:
            assert "wholly on" in str(error) or "Nothing is drawn" in str(error)
            assert before.symmetric_difference(want).area < 0.02
            continue
        apart = area_of(after.paths.values()).symmetric_difference(want).area
        assert apart < 0.006 * stroke.length + 0.01
        assert crossings(after.drawing()) == set()


def test_what_is_not_touched_keeps_its_curves_to_the_last_figure():
    change = lay_stroke(RINGS, [(20, 9), (20, 14)], [1.0], Evidence(Grade.SEEN, "plate 3"))
    assert 2 not in change.before  # the ring far off
    assert 3 not in change.before  # the dot in the middle
    kept = [c for p in change.after.values() for c in p.curves]
    outer = RINGS.paths[0].curves
    # of the outer ring the two quarters at the bottom are as they were
    assert sum(any(np.array_equal(c, o) for o in outer) for c in kept) >= 2
    told = {(g, s) for p in change.after.values() for g, s in zip(p.grades, p.sources, strict=True)}
    assert told == {(Grade.SEEN, "here"), (Grade.SEEN, "plate 3")}


def test_a_place_is_filled_from_its_mirror_twin_and_says_so():
    work = workpiece(circle(10, 30, 5), circle(50, 30, 5, Grade.SEEN), circle(52, 32, 1.0))
    worn = work.with_change(rub_out(work, [(12, 28), (16, 33)], 3.0, Evidence()))
    axis = FillLikeness.across((30.0, 0.0), np.pi / 2)
    around = [(2, 20), (18, 20), (18, 40), (2, 40)]
    after = worn.with_change(fill_from_like(worn, around, axis))
    left = [p for p in after.paths.values() if p.curves[..., 0].max() < 30]
    want = area_of([circle(10, 30, 5), circle(8, 32, 1.0)])
    assert area_of(left).symmetric_difference(want).area < 1e-3
    assert {s for p in left for s in p.sources} == {"mirror"}
    assert {g for p in left for g in p.grades} == {Grade.INFERRED}


def test_a_window_through_filled_parts_joins_them_without_a_seam():
    work = workpiece(circle(30, 30, 9))
    axis = FillLikeness.across((30.0, 0.0), np.pi / 2)
    after = work.with_change(fill_from_like(work, [(15, 15), (30, 15), (30, 45), (15, 45)], axis))
    assert len(after.paths) == 1
    assert area_of(after.paths.values()).symmetric_difference(area_of([circle(30, 30, 9)])).area < (
        1e-3
    )


@pytest.mark.parametrize(
    "order",
    [
        {"do": "move-node", "path": 2, "node": 1, "to": [41, 37]},
        {"do": "move-handle", "path": 2, "node": 0, "side": "out", "to": [46.5, 34]},
        {"do": "pull", "path": 2, "curve": 1, "t": 0.5, "to": [35, 35]},
        {"do": "put-node", "path": 2, "curve": 3, "t": 0.25},
        {"do": "take-node", "path": 2, "node": 2},
        {"do": "take-path", "path": 3},
        {"do": "take-paths", "paths": [0, 3]},
        {"do": "stroke", "places": [[40, 20], [50, 30]], "widths": [0.4, 2, 0.4]},
        {"do": "rub-out", "places": [[40, 20], [40, 40]], "width": 1},
        {"do": "vouch", "path": 2, "curves": [0, 1], "evidence": {"grade": "seen", "source": "p"}},
        {
            "do": "from-like",
            "around": [[30, 20], [50, 20], [50, 40], [30, 40]],
            "like": {"way": [-20, -10]},
        },
    ],
)
def test_every_change_can_be_kept_as_text_and_taken_back(order):
    change = carry_out(RINGS, order)
    kept = DrawnChange.from_dict(json.loads(json.dumps(change.as_dict())))
    after = RINGS.with_change(kept)
    assert after.paths.keys() != RINGS.paths.keys() or any(
        after.paths[n] is not RINGS.paths[n] for n in after.paths
    )
    back = after.with_change(kept.back)
    assert back.paths.keys() == RINGS.paths.keys()
    for n, path in RINGS.paths.items():
        np.testing.assert_allclose(back.paths[n].curves, path.curves, atol=1e-8)
        assert back.paths[n].grades == path.grades


def test_a_curve_pulled_goes_through_the_place_and_stays_smooth():
    to = np.array([33.5, 35.0])
    change = carry_out(RINGS, {"do": "pull", "path": 2, "curve": 1, "t": 0.4, "to": to.tolist()})
    path = change.after[2]
    s, t = 0.6, 0.4
    c = path.curves[1]
    at = s**3 * c[0] + 3 * s * s * t * c[1] + 3 * s * t * t * c[2] + t**3 * c[3]
    np.testing.assert_allclose(at, to, atol=1e-9)
    for i in range(4):
        come, go = (
            path.curves[i - 1, 3] - path.curves[i - 1, 2],
            path.curves[i, 1] - path.curves[i, 0],
        )
        assert abs(come[0] * go[1] - come[1] * go[0]) < 1e-9 * np.linalg.norm(come) + 1e-9
    assert path.grades[1] is Grade.CONJECTURED
    assert path.grades[3] is Grade.SEEN


def test_a_node_taken_out_of_a_straight_cut_changes_nothing_but_the_count():
    more = RINGS.with_change(carry_out(RINGS, {"do": "put-node", "path": 2, "curve": 0, "t": 0.3}))
    less = more.with_change(carry_out(more, {"do": "take-node", "path": 2, "node": 1}))
    assert less.paths[2].nodes == 4
    assert less.paths[2].grades == RINGS.paths[2].grades
    np.testing.assert_allclose(less.paths[2].area, RINGS.paths[2].area, rtol=2e-4)


@pytest.mark.parametrize(
    ("order", "says"),
    [
        ({"do": "conjure"}, "nothing that can be done"),
        ({"do": "move-node", "path": 99, "node": 0, "to": [0, 0]}, "no outline 99"),
        ({"do": "move-node", "path": 2, "node": 9, "to": [0, 0]}, "none of them is number 9"),
        ({"do": "move-node", "path": 2, "node": 0}, "lacks something"),
        ({"do": "move-node", "path": 2, "node": 0, "to": [float("nan"), 0]}, "no number"),
        ({"do": "move-node", "path": 2, "node": 0, "to": [20, 20]}, "cross"),
        ({"do": "pull", "path": 2, "curve": 0, "t": 0.999, "to": [1, 1]}, "end of a curve"),
        ({"do": "stroke", "places": [[1, 1]], "widths": [1]}, "no length"),
        ({"do": "stroke", "places": [[1, 1], [9, 9]], "widths": [900]}, "width must lie"),
        ({"do": "stroke", "places": [[13.2, 20], [13.8, 20]], "widths": [0.2]}, "wholly on"),
        ({"do": "rub-out", "places": [[1, 1], [2, 2]], "width": 0.5}, "Nothing is drawn"),
        ({"do": "from-like", "around": [[1, 1], [2, 2]], "like": {"way": [1, 1]}}, "three corners"),
        ({"do": "from-like", "around": [[1, 1], [2, 2], [3, 1]], "like": {}}, "where the like is"),
        ({"do": "refuse-bridge", "bridge": 0}, "no bridge 1"),
        (
            {"do": "vouch", "path": 2, "curves": [0], "evidence": {"grade": "seen", "source": " "}},
            "what the evidence is",
        ),
    ],
)
def test_a_bad_order_says_what_is_wrong(order, says):
    with pytest.raises(ReworkError, match=says):
        carry_out(RINGS, order)


def test_a_bridge_is_accepted_or_taken_out():
    bar = area_curves(shapely.box(10, 10, 30, 12))[0]
    work = Workpiece.of(Drawing((ClosedPath.of(bar),), (0.0, 0.0, 60.0, 60.0)))
    worn = work.with_change(rub_out(work, [(20, 5), (20, 17)], 4.0, Evidence()))
    assert len(worn.paths) == 2
    line = [[17.5 + 0.1 * k, 11.0] for k in range(51)]
    bridge = {"centre_mm": line, "width_mm": [2.0] * 51}
    evidence = {"grade": "conjectured", "source": "bridge"}
    bridged = worn.with_change(
        carry_out(
            worn,
            {"do": "stroke", "places": [line[0], line[-1]], "widths": [2.0], "evidence": evidence},
        )
    )
    assert len(bridged.paths) == 1
    taken = carry_out(bridged, {"do": "accept-bridge", "bridge": 0}, [bridge])
    sources = {s for p in taken.after.values() for s in p.sources}
    assert "bridge, accepted" in sources
    assert "bridge" not in sources
    parted = bridged.with_change(carry_out(bridged, {"do": "refuse-bridge", "bridge": 0}, [bridge]))
    assert len(parted.paths) == 2
    gap = shapely.box(18.8, 9, 21.2, 13)
    assert area_of(parted.paths.values()).intersection(gap).area < 0.02
