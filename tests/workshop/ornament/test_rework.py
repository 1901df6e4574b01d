"""Changes by hand in a workshop: each kept, each taken back, all made again when verifying."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.affinity import scale

from ironlace.dossier.print.ink_window import ink_window
from ironlace.dossier.print.plain_drawing import read_drawing
from ironlace.evidence.errors import ConflictError, IronlaceError
from ironlace.evidence.findings import Method
from ironlace.evidence.grades import Grade
from ironlace.ornament import ClosedPath, Drawing, ReworkError, drawing_from_svg, reworked
from ironlace.ornament import drawing_svg as svg_of
from ironlace.ornament.outline.brush_strokes import area_curves
from ironlace.ornament.outline.drawing import BlindPlace
from ironlace.record import DrawingEntry
from ironlace.workshop import Workshop
from ironlace.workshop.hand_over.verify import verify_record
from ironlace.workshop.ornament.drawings import drawing_svg, keep_svg_in
from ironlace.workshop.ornament.rework import (
    BY_HAND,
    bring_back,
    find_mirror_axis,
    give_up,
    keep_rework,
    make_again,
    make_change,
    on_the_bench,
    preview_twin,
    take_back,
)

STROKE = {"do": "stroke", "places": [[20, 28], [30, 30], [40, 28]], "widths": [0.4, 1.5, 0.4]}
SEEN = {"evidence": {"grade": "seen", "source": "here, by eye"}}


def changed(workshop, slug, name, *orders):
    stands = on_the_bench(workshop, slug, name)
    for order in orders:
        _, stands = make_change(workshop, slug, name, order, stands.serial, now=stands)
    return stands


def test_changes_outlive_the_program_and_are_taken_back_to_the_first(workshop, slug, add_drawing):
    name = add_drawing(workshop, slug)
    begun = on_the_bench(workshop, slug, name)
    first = min(begun.work.paths)
    changed(
        workshop,
        slug,
        name,
        STROKE,
        {"do": "take-path", "path": first},
        STROKE | SEEN | {"places": [[5, 30], [12, 31]]},
    )
    workshop.close()
    again = Workshop.open(workshop.folder)
    try:
        stands = on_the_bench(again, slug, name)
        assert (stands.done, stands.undone) == (3, 0)
        assert len(stands.work.paths) == len(begun.work.paths) + 1
        for left in (2, 1, 0):
            _, stands = take_back(again, slug, name, stands.serial)
            assert stands.done == left
        assert stands.work.drawing().length_mm == begun.work.drawing().length_mm
        with pytest.raises(IronlaceError, match="nothing to take back"):
            take_back(again, slug, name, stands.serial)
        for _ in range(3):
            _, stands = make_again(again, slug, name, stands.serial)
        with pytest.raises(IronlaceError, match="could be made again"):
            make_again(again, slug, name, stands.serial)
        assert len(stands.work.paths) == len(begun.work.paths) + 1
    finally:
        again.close()


def test_a_new_change_forgets_those_taken_back(workshop, slug, add_drawing):
    name = add_drawing(workshop, slug)
    stands = changed(workshop, slug, name, STROKE)
    _, stands = take_back(workshop, slug, name, stands.serial)
    _, stands = make_change(
        workshop, slug, name, STROKE | {"places": [[5, 30], [12, 31]]}, stands.serial
    )
    assert (stands.done, stands.undone) == (1, 0)


def test_a_change_from_an_old_window_is_refused_and_changes_nothing(workshop, slug, add_drawing):
    name = add_drawing(workshop, slug)
    old = on_the_bench(workshop, slug, name)
    stands = changed(workshop, slug, name, STROKE)
    with pytest.raises(ConflictError, match="another window"):
        make_change(workshop, slug, name, STROKE, old.serial, now=old)
    with pytest.raises(ConflictError):
        keep_rework(workshop, slug, name, old.serial)
    assert on_the_bench(workshop, slug, name).serial == stands.serial


def test_what_is_kept_is_a_new_drawing_that_can_be_made_again(workshop, slug, add_drawing):
    name = add_drawing(workshop, slug)
    stands = changed(
        workshop,
        slug,
        name,
        STROKE,
        {"do": "refuse-bridge", "bridge": 0},
        {
            "do": "from-like",
            "around": [[14, 8], [24, 8], [24, 30], [14, 30]],
            "replaces": "unseen",
            "like": stands_axis(workshop, slug, name),
        },
    )
    kept = keep_rework(workshop, slug, name, stands.serial, called="With the lost scroll")
    entry = workshop.records.read(slug).named(kept)
    assert isinstance(entry, DrawingEntry)
    assert entry.name == "With the lost scroll"
    drawing = drawing_from_svg(drawing_svg(workshop, slug, kept))
    lengths = drawing.length_by_grade()
    assert lengths[Grade.CONJECTURED] > 30
    assert "3 changes by hand" in entry.finding.sentence
    assert on_the_bench(workshop, slug, name).done == 0
    told = {v.name: v for v in verify_record(workshop, slug)}
    assert told[kept].same is True, told[kept].says
    # and it can be worked on again
    assert on_the_bench(workshop, slug, kept).axis == {"at": [30, 17], "direction_deg": 90}


def stands_axis(workshop, slug, name):
    return dict(on_the_bench(workshop, slug, name).axis)


def mirrored(worn):
    """Leaning bars on both sides of x = 30; on the left one is lost between two heights."""
    left = [
        shapely.Polygon([(x - 0.5, 4), (x + 0.5, 4), (x + 1.5, 30), (x + 0.5, 30)])
        for x in (10.0, 15.5, 22.0)
    ]
    area = shapely.union_all([*left, *(scale(bar, -1, origin=(30, 0)) for bar in left)])
    if worn:
        area -= shapely.box(14, 12, 17, 20)
    paths = tuple(ClosedPath.of(c) for c in area_curves(area))
    return Drawing(paths, (0.0, 0.0, 60.0, 34.0))


FILLED = {"do": "from-like", "around": [[8, 10], [24, 10], [24, 24], [8, 24]]}


def test_a_place_is_filled_by_the_rules_of_now_and_comes_out_so_again(workshop, slug, add_drawing):
    name = add_drawing(workshop, slug, mirrored(worn=True), axis=False)
    stands = on_the_bench(workshop, slug, name)
    assert stands.axis is None
    beside = FILLED | {"like": {"at": [31, 0], "direction_deg": 90}}
    shown, _ = preview_twin(workshop, slug, name, beside, stands.serial)
    assert shown.fit.misses
    with pytest.raises(ReworkError, match="misses gilt that is seen"):
        make_change(workshop, slug, name, beside, stands.serial)
    assert on_the_bench(workshop, slug, name).done == 0
    stands = changed(workshop, slug, name, FILLED | {"like": {"at": [30, 0], "direction_deg": 90}})
    kept = keep_rework(workshop, slug, name, stands.serial)
    entry = workshop.records.read(slug).named(kept)
    assert entry.finding.method.parameters["orders"][0]["replaces"] == "all"
    told = {v.name: v for v in verify_record(workshop, slug)}
    assert told[kept].same is True, told[kept].says
    drawing = drawing_from_svg(drawing_svg(workshop, slug, kept))
    assert drawing.length_by_grade()[Grade.INFERRED] == pytest.approx(6 * 14, abs=1)


def test_orders_of_the_version_before_are_made_again_as_they_were(workshop, slug, add_drawing):
    name = add_drawing(workshop, slug, mirrored(worn=True), axis=False)
    entry = workshop.records.read(slug).named(name)
    order = FILLED | {"like": {"at": [31, 0], "direction_deg": 90}}
    base = drawing_from_svg(drawing_svg(workshop, slug, name))
    before = reworked(base, [order])
    # the twin took the place of what was seen there, though it lay 2 mm beside it
    assert Grade.INFERRED in {g for p in before.paths for g in p.grades}
    with workshop.database.writing() as session:
        sha = keep_svg_in(workshop, session, svg_of(before, evidence=True), "before.svg")
        method = Method(name=BY_HAND, parameters={"orders": [order], "bridges": []})
        finding = entry.finding.model_copy(
            update={"value": {"svg": sha}, "inputs": {"drawing": entry.svg}, "method": method}
        )
        kept = workshop.records.add_in(
            session, slug, entry.model_copy(update={"svg": sha, "finding": finding})
        )
    told = {v.name: v for v in verify_record(workshop, slug)}
    assert told[kept].same is True, told[kept].says


def test_an_axis_is_looked_for_and_offered_from_then_on(workshop, slug, add_drawing):
    name = add_drawing(workshop, slug, mirrored(worn=True), axis=False)
    found = find_mirror_axis(workshop, slug, name)
    assert found["at"][0] == pytest.approx(30.0, abs=0.05)
    assert abs(abs(found["direction_deg"]) - 90.0) < 0.1
    assert on_the_bench(workshop, slug, name).axis == found
    lopsided = Drawing(mirrored(worn=False).paths[:2], (0.0, 0.0, 60.0, 34.0))
    other = add_drawing(workshop, slug, lopsided, axis=False)
    assert on_the_bench(workshop, slug, other).axis is None


def test_the_size_is_that_of_the_paint_on_the_bench_as_in_print(workshop, slug, add_drawing):
    name = add_drawing(workshop, slug, mirrored(worn=False), axis=False)
    stroke = {"do": "stroke", "places": [[2, 2], [58, 2]], "widths": [1.0]}
    stands = changed(workshop, slug, name, stroke)
    kept = keep_rework(workshop, slug, name, stands.serial)
    entry = workshop.records.read(slug).named(kept)
    # the stroke is 57 mm with its round ends; the bars end at y = 30, the stroke begins at 1.5
    assert (entry.width_mm, entry.height_mm) == pytest.approx((57.0, 28.5), abs=0.02)
    assert entry.in_brief().endswith("57.0 × 28.5 mm")
    printed = ink_window(read_drawing(drawing_svg(workshop, slug, kept)))
    assert printed.size == "57.0 × 28.5 mm"


def test_what_could_not_be_seen_stays_told_on_the_bench_and_after(workshop, slug, add_drawing):
    name = add_drawing(workshop, slug)
    drawing = drawing_from_svg(drawing_svg(workshop, slug, name))
    glare = BlindPlace("glare", np.array([[3.0, 4.0], [9.5, 4.0], [8.25, 7.0]]))
    hidden = bring_back(workshop, slug, name, svg_of(replace(drawing, blind=(glare,))))
    stands = changed(workshop, slug, hidden, STROKE)
    kept = keep_rework(workshop, slug, hidden, stands.serial)
    for one in (hidden, kept):
        (place,) = drawing_from_svg(drawing_svg(workshop, slug, one)).blind
        assert place.why == "glare" and np.allclose(place.corners_mm, glare.corners_mm)
    told = {v.name: v for v in verify_record(workshop, slug)}
    assert told[kept].same is True, told[kept].says


def test_nothing_new_is_not_kept(workshop, slug, add_drawing):
    name = add_drawing(workshop, slug)
    stands = on_the_bench(workshop, slug, name)
    with pytest.raises(IronlaceError, match="nothing new"):
        keep_rework(workshop, slug, name, stands.serial)
    changed(workshop, slug, name, STROKE)
    assert give_up(workshop, slug, name) == 1
    assert on_the_bench(workshop, slug, name).serial == stands.serial


def test_a_bad_order_leaves_everything_as_it_was(workshop, slug, add_drawing):
    name = add_drawing(workshop, slug)
    stands = changed(workshop, slug, name, STROKE)
    for order in (
        {"do": "stroke", "places": [[float("nan"), 1], [2, 2]], "widths": [1]},
        {"do": "take-path", "path": 77},
        {"do": "take-paths", "paths": [0, 77]},
        {"do": "take-paths", "paths": []},
        {},
    ):
        with pytest.raises(IronlaceError):
            make_change(workshop, slug, name, order, stands.serial)
    assert on_the_bench(workshop, slug, name).serial == stands.serial


def test_an_edited_drawing_comes_back_with_its_evidence(workshop, slug, add_drawing):
    name = add_drawing(workshop, slug)
    text = drawing_svg(workshop, slug, name)
    more = text.replace("</svg>", '<path fill="#b89040" d="M2 2H8V5H2Z"/></svg>')
    kept = bring_back(workshop, slug, name, more)
    before = drawing_from_svg(text).length_by_grade()
    after = drawing_from_svg(drawing_svg(workshop, slug, kept)).length_by_grade()
    assert after[Grade.SEEN] == pytest.approx(before[Grade.SEEN], abs=0.3)
    assert after[Grade.CONJECTURED] == pytest.approx(before[Grade.CONJECTURED] + 18, abs=0.4)
    told = {v.name: v for v in verify_record(workshop, slug)}
    assert told[kept].same is True, told[kept].says
    with pytest.raises(IronlaceError):
        bring_back(workshop, slug, name, "<html>no drawing</html>")
