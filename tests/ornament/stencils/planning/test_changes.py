"""A change planned with what is remembered comes out as planned afresh, bit for bit."""

import dataclasses

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

import ornaments
from ironlace.ornament.stencils import (
    StencilError,
    Wishes,
    forbidden_at,
    known_process,
    places_for,
    plan_sheets,
)
from ironlace.ornament.stencils.planning.layer_plan import Prepared, prepare


def all_of(plan):
    """Every number of a plan, as bytes and plain values."""
    return (
        plan.report,
        [sheet.svg() for sheet in plan.sheets],
        [[shapely.to_wkb(openings) for openings in layer.openings] for layer in plan.layers],
        [
            [(b.line, b.locked, b.area_mm2, shapely.to_wkb(b.shape)) for b in layer.bridges]
            for layer in plan.layers
        ],
        [[shapely.to_wkb(p) for p in layer.painted_back] for layer in plan.layers],
    )


def changed(rng, plan, drawn, process):
    """A bridge moved, forbidden, locked, let go or one set beside it; all others kept."""
    lines = [b.line for b in plan.layers[0].bridges]
    if not lines or rng.random() < 0.1:
        return Wishes()
    gone = lines.pop(int(rng.integers(len(lines))))
    kind = rng.random()
    if kind < 0.3:
        return Wishes(kept=tuple(lines), forbidden=(forbidden_at(gone, process),))
    if kind < 0.4:
        return Wishes(kept=tuple(lines))
    places = places_for(drawn, process, gone)
    if not places:
        return Wishes(locked=(gone,), kept=tuple(lines))
    to = places[int(rng.integers(len(places)))][0]
    also = (gone,) if kind > 0.9 else ()
    return Wishes(locked=(to, *also), kept=tuple(lines))


def planned(svg, process, hold, wishes, prepared):
    try:
        return plan_sheets(svg, process, hold, wishes=wishes, prepared=prepared)
    except StencilError as error:
        return str(error)


@settings(max_examples=3, deadline=None)
@given(
    seed=st.integers(0, 2**32 - 1),
    hold=st.sampled_from(["bridges", "bridges", "split"]),
    name=st.sampled_from(["film-laser", "film-knife"]),
)
def test_with_what_is_remembered_a_change_comes_out_as_afresh(seed, hold, name):
    rng, process = np.random.default_rng(seed), known_process(name)
    kind = seed % 5
    svg = ornaments.net(rng, 14) if kind == 4 else ornaments.ornament(4 * (seed % 1000) + kind)
    if svg.count("Z") > 20:
        svg = ornaments.rings(rng, 2)
    prepared = prepare(svg, process, hold)
    plan = planned(svg, process, hold, None, prepared)
    for _ in range(2):
        if isinstance(plan, str):
            return
        wishes = changed(rng, plan, prepared.layers[0].drawn, process)
        plan = planned(svg, process, hold, wishes, prepared)
        layers = tuple(dataclasses.replace(layer, _grounds={}) for layer in prepared.layers)
        forgetful = Prepared(prepared.notices, layers, prepared.difference)
        afresh = planned(svg, process, hold, wishes, forgetful)
        if isinstance(plan, str):
            assert plan == afresh
        else:
            assert all_of(plan) == all_of(afresh)


@pytest.mark.parametrize("hold", ["bridges", "split"])
def test_a_change_makes_new_only_what_its_bridge_borders(monkeypatch, hold):
    from ironlace.ornament.stencils.bridges import shore_cut
    from ironlace.ornament.stencils.remembered import Remembered

    process = known_process("film-laser")
    svg = ornaments.net(np.random.default_rng(0), 40)
    prepared = prepare(svg, process, hold)
    plan = planned(svg, process, hold, None, prepared)
    lines = [b.line for b in plan.layers[0].bridges]
    gone = lines.pop(12)
    to = places_for(prepared.layers[0].drawn, process, gone)[3][0]
    made = []
    fields, by = shore_cut._fields, Remembered.by

    def counted(self, question, keys, work):
        def of_new(new):
            made.append((question[0], len({keys[n] for n in new})))
            return work(new)

        return by(self, question, keys, of_new)

    def counted_fields(coast, walks):
        made.append(("fields", len(walks)))
        return fields(coast, walks)

    monkeypatch.setattr(shore_cut, "_fields", counted_fields)
    monkeypatch.setattr(Remembered, "by", counted)
    wishes = Wishes(locked=(to,), kept=tuple(lines))
    now = planned(svg, process, hold, wishes, prepared)
    monkeypatch.undo()
    assert all_of(now) == all_of(planned(svg, process, hold, wishes, prepare(svg, process, hold)))
    assert {"patches over", "colours", "cuttable"} <= {q for q, _ in made} or hold == "bridges"
    assert made and len(plan.sheets[0].openings.geoms) > 8
    bands = [count for question, count in made if question in ("laid", "losses")]
    assert bands and max(bands) <= 15, bands
    others = [told for told in made if told[0] not in ("within", "laid", "losses")]
    assert all(count <= 8 for _, count in others), made
