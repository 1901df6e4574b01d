"""What is bad of a plan is said, and first."""

import dataclasses

import pytest

from ironlace.ornament.stencils import StencilError, cut_plan, known_process, plan_sheets
from ironlace.ornament.stencils.planning.in_words import (
    laying_sheet,
    plan_faults,
    plan_sentences,
    weeding_list,
)


def svg(body):
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="60mm" '
        f'viewBox="0 0 90 60">{body}</svg>'
    )


RING = '<path fill-rule="evenodd" d="M10 10H40V30H10ZM18 15H30V25H18Z"/>'


def test_openings_no_wider_than_the_cut_are_counted_as_lost(laser):
    plan = plan_sheets(
        svg(RING + '<rect x="60" y="10" width="10" height="0.12"/>'), laser, "bridges"
    )
    (sheet,) = plan.report["sheets"]
    assert sheet["lost_to_kerf"] == 1
    cuts = cut_plan(plan.sheets[0], laser).cuts
    assert len(cuts) == 1 + sheet["openings"] - 1 + 3  # edge, openings, register holes
    assert any("no wider than the cut itself" in says for says in plan_faults(plan))


def test_a_sheet_larger_than_the_bed_is_told(laser):
    small = dataclasses.replace(laser, bed_width_mm=100.0, bed_height_mm=60.0)
    assert any(
        "larger than the bed" in says
        for says in plan_faults(plan_sheets(svg(RING), small, "bridges"))
    )
    turned = dataclasses.replace(laser, bed_width_mm=75.0, bed_height_mm=300.0)
    told = plan_faults(plan_sheets(svg(RING), turned, "bridges"))
    assert not any("larger than the bed" in says for says in told)  # it fits when it is turned


def test_webs_that_stay_thin_are_told(laser):
    plan = plan_sheets(svg(RING), laser, "bridges")
    plan.report["sheets"][0] |= {"thin_webs": 2, "thinnest_mm": 0.31}
    assert "Sheet 1 keeps 2 webs under the least width, the thinnest 0.31 mm of 0.7" in " ".join(
        plan_faults(plan)
    )


def test_a_mask_has_no_bridges_and_an_order_of_weeding():
    film = known_process("film-knife")
    body = RING + '<rect x="50" y="10" width="20" height="10"/>'
    plan = plan_sheets(svg(body), film, "mask")
    assert plan.report["bridges"] == 0 and len(plan.sheets) == 1
    assert plan.sheets[0].openings.area == pytest.approx(30 * 20 - 12 * 10 + 200, abs=1e-6)
    told = " ".join(plan_sentences(plan))
    assert "stuck down as a mask" in told and "1 island to leave on it" in told
    assert not any("NOT in one piece" in says for says in plan_faults(plan))
    assert plan.report["proof"][0]["laid"][0]["covered"] == pytest.approx(1.0, abs=1e-4)
    lines = weeding_list(plan).splitlines()
    assert lines[0] == "part,x_mm,y_mm,area_mm2,islands" and len(lines) == 3
    assert sorted(line.split(",")[-1] for line in lines[1:]) == ["0", "1"]
    assert "draw the backing off the mask" in laying_sheet(plan)
    assert "draw the backing off" not in laying_sheet(plan_sheets(svg(body), film, "bridges"))


def test_strips_of_a_mask_that_tear_are_told():
    body = (
        '<rect x="10" y="10" width="30" height="8"/><rect x="10" y="18.2" width="30" height="8"/>'
    )
    plan = plan_sheets(svg(body), known_process("film-knife"), "mask")
    assert any("under the least width" in says for says in plan_faults(plan))


@pytest.mark.parametrize("process", ["foil-etched", "card-hand", "mesh-emulsion"])
def test_what_cannot_be_stuck_down_is_refused_as_a_mask(process):
    with pytest.raises(StencilError, match="cannot be stuck down"):
        plan_sheets(svg(RING), known_process(process), "mask")


def test_what_lies_outside_the_page_is_planned_and_told(laser):
    plan = plan_sheets(svg('<rect x="80" y="10" width="30" height="10"/>'), laser, "bridges")
    assert any("200.0 mm² lie outside" in says for says in plan.report["notices"])
    inside = plan_sheets(svg(RING), laser, "bridges")
    assert inside.report["notices"] == []


@pytest.mark.parametrize(
    ("material", "cutter", "told"),
    [
        ("PVC sign film", "laser", True),
        ("self-adhesive vinyl, red", "laser", True),
        ("polyester film; never PVC or unknown vinyl", "laser", False),
        ("PVC-free film", "laser", False),
        ("PVC sign film", "knife", False),
    ],
)
def test_pvc_under_a_laser_is_said_before_all_else(laser, material, cutter, told):
    process = dataclasses.replace(laser, material=material, cutter=cutter, cautions=())
    assert process.lasers_pvc == told
    if told:
        plan = plan_sheets(svg('<rect x="10" y="10" width="9" height="9"/>'), process, "bridges")
        assert plan_faults(plan)[0].startswith("DO NOT CUT THIS BY LASER")
