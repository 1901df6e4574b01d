"""A change planned with what is remembered comes out as planned afresh, bit for bit."""

import dataclasses

import numpy as np
import pytest
import shapely

import ornaments
from ironlace.ornament.stencils import Wishes, forbidden_at, known_process, places_for
from ironlace.ornament.stencils.cut.cutting import cut_plan
from ironlace.ornament.stencils.planning.layer_plan import plan_layer, prepare
from ironlace.ornament.stencils.sheets import Sheet
from ironlace.ornament.stencils.webs import narrow_openings

LASER = known_process("film-laser")


def all_of(plan):
    """Every number of a plan that geometry decides, as bytes and plain values."""
    return (
        [shapely.to_wkb(openings) for openings in plan.openings],
        [(b.line, b.locked, b.area_mm2, shapely.to_wkb(b.shape)) for b in plan.bridges],
        [shapely.to_wkb(p) for p in plan.painted_back],
        [[w.width_mm for w in webs] for webs in plan.thin_left],
        plan.weaknesses,
        plan.widened_mm2,
    )


def changed(rng, plan, drawn):
    """A bridge moved, forbidden or unlocked, all others kept."""
    lines = [b.line for b in plan.bridges]
    gone = lines.pop(int(rng.integers(len(lines))))
    if rng.random() < 0.4:
        return Wishes(kept=tuple(lines), forbidden=(forbidden_at(gone, LASER),))
    places = places_for(drawn, LASER, gone)
    to = places[int(rng.integers(len(places)))][0]
    return Wishes(locked=(to,), kept=tuple(lines))


@pytest.mark.parametrize(("hold", "seed", "changes"), [("bridges", 0, 2), ("split", 1, 1)])
def test_with_what_is_remembered_a_change_comes_out_as_afresh(hold, seed, changes):
    rng = np.random.default_rng(seed)
    svg = ornaments.net(rng, 62)
    prepared = prepare(svg, LASER, hold)
    layer = prepared.layers[0]
    plan = plan_layer(layer, LASER, hold, remembered=prepared.remembered)
    for _ in range(changes):
        wishes = changed(rng, plan, layer.drawn)
        plan = plan_layer(layer, LASER, hold, wishes=wishes, remembered=prepared.remembered)
        forgetful = dataclasses.replace(layer, _grounds={})
        afresh = plan_layer(forgetful, LASER, hold, wishes=wishes)
        assert all_of(plan) == all_of(afresh)
        sheet = _sheet(plan.openings[-1])
        again = cut_plan(sheet, LASER)
        for known in (cut_plan(sheet, LASER, prepared.remembered) for _ in range(2)):
            assert [c.tobytes() for c in known.cuts] == [c.tobytes() for c in again.cuts]
        least = LASER.least_line_mm
        narrow = narrow_openings(sheet.openings, least, prepared.remembered)
        assert narrow == narrow_openings(sheet.openings, least)


def _sheet(openings):
    edge = shapely.box(*openings.bounds).buffer(5.0)
    return Sheet("1", "gilt", openings, edge, np.zeros((0, 2)), 1.5)
