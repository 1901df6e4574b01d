import json

import numpy as np
import pytest

import ornaments
from ironlace.ornament.stencils import (
    StencilError,
    cut_plan,
    cutting_list,
    known_process,
    laying_sheet,
    plan_sentences,
    plan_sheets,
)
from ironlace.ornament.stencils.planning.in_words import plan_table
from ironlace.ornament.stencils.webs import thin_webs


@pytest.mark.parametrize("seed", [0, 2, 5, 12, 19])
@pytest.mark.parametrize("hold", ["bridges", "split"])
def test_sheets_hold_together_and_cover_the_drawing(seed, hold, laser):
    plan = plan_sheets(ornaments.ornament(seed), laser, hold)
    report = plan.report
    assert report["islands"] > 0
    for sheet, told in zip(plan.sheets, report["sheets"], strict=True):
        assert told["pieces"] == 1
        assert told["thin_webs"] == 0
        assert thin_webs(sheet.openings, laser.least_web_mm) == []
    true, off, _ = report["proof"][0]["laid"]
    if hold == "split":
        assert true["covered"] >= 0.995
        assert off["register_mm"] == 0.2
        assert off["covered"] >= 0.98
        assert off["stray"] < 0.005
        assert report["touch_in"]["bridges"] == 0
    else:
        assert len(plan.sheets) == 1
        by_hand = report["touch_in"]["area_mm2"] / report["drawn_mm2"]
        assert true["covered"] + by_hand == pytest.approx(1.0, abs=1e-3)
        assert report["touch_in"]["minutes"] > 0
    assert true["stray"] < 0.005


def test_the_report_is_plain_json_and_the_plan_repeats(laser):
    svg = ornaments.ornament(6)
    one, two = (plan_sheets(svg, laser, "split") for _ in range(2))
    assert json.dumps(one.report) == json.dumps(two.report)
    assert [s.svg() for s in one.sheets] == [s.svg() for s in two.sheets]


def test_a_mesh_needs_no_bridges():
    plan = plan_sheets(ornaments.ornament(2), known_process("mesh-emulsion"), "bridges")
    assert plan.report["bridges"] == 0
    assert len(plan.sheets) == 1
    assert plan.report["proof"][0]["laid"][0]["covered"] == pytest.approx(1.0, abs=1e-5)
    # it is exposed all at once: no time of cutting is told
    assert dict(plan_table(plan))["Time"] == "0 min touching in"


def test_colours_get_sheets_of_their_own_with_a_trap(laser):
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" viewBox="0 0 60 40">'
        '<rect x="5" y="5" width="30" height="20" fill="#8a2020"/>'
        '<rect x="25" y="5" width="20" height="20" fill="#b89040"/></svg>'
    )
    plan = plan_sheets(svg, laser, "bridges")
    assert [s.colour for s in plan.sheets] == ["#8a2020", "#b89040"]
    assert plan.sheets[0].area_mm2 == pytest.approx(20 * 20.2, rel=1e-6)


def test_too_fine_a_drawing_ends_in_one_sentence(laser):
    with pytest.raises(StencilError):
        plan_sheets("<svg/>", laser, "bridges")
    with pytest.raises(StencilError, match="'bridges', 'split' sheets or as a 'mask'"):
        plan_sheets(ornaments.ornament(2), laser, "glue")


def test_words_tell_cautions_order_and_times(laser):
    plan = plan_sheets(ornaments.ornament(2), laser, "split")
    text = laying_sheet(plan)
    assert "Never laser PVC" in text
    assert "data sheet" in text
    assert "local codes" in text
    assert text.index("1. Sheet 1") < text.index("2. Sheet 2")
    cuts = [cut_plan(sheet, plan.process) for sheet in plan.sheets]
    assert cutting_list(plan, cuts).count("\n") == len(plan.sheets) + 1
    assert any("one piece" in s for s in plan_sentences(plan))


def test_progress_runs_from_nothing_to_all(laser):
    told = []
    plan_sheets(ornaments.ornament(2), laser, "split", progress=lambda s, f: told.append(f))
    assert told == sorted(told)
    assert told[-1] == 1.0


def test_random_state_is_the_callers(laser):
    svg = ornaments.ornament(4)
    one = plan_sheets(svg, laser, "bridges", rng=np.random.default_rng(3))
    two = plan_sheets(svg, laser, "bridges", rng=np.random.default_rng(3))
    assert one.report == two.report


def test_an_island_that_hangs_on_points_is_held(laser):
    # an even-odd pentagram: its middle is surrounded by five openings that touch in points
    turn = np.pi / 2 + np.arange(5) * 4 * np.pi / 5
    star = "M" + "L".join(f"{30 + 25 * np.cos(t):.4f} {30 - 25 * np.sin(t):.4f}" for t in turn)
    svg = ornaments.page(60, 60, f'<path fill-rule="evenodd" d="{star}Z"/>')
    for hold in ("bridges", "split"):
        report = plan_sheets(svg, laser, hold).report
        assert report["islands"] == 1
        assert report["bridges"] >= 2
        assert report["bridge_mm2"] < 2.0
        assert all(s["pieces"] == 1 and s["thin_webs"] == 0 for s in report["sheets"])


@pytest.mark.parametrize(("side", "says"), [(0.1, "less than the narrowest"), (9000, "at most")])
def test_a_drawing_of_the_wrong_unit_is_told(laser, side, says):
    svg = ornaments.page(side, side, f'<rect width="{side}" height="{side}"/>')
    with pytest.raises(StencilError, match=says):
        plan_sheets(svg, laser, "bridges")
