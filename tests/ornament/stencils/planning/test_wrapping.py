"""Sheets on round work against lengths reckoned on spheres and circles."""

import math

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, box

from ironlace.ornament.stencils import StencilError, crown_of, known_process, plan_sheets
from ironlace.ornament.stencils.planning.wrapping import wrapping
from ironlace.photographs.surfaces import Plane, Round

NONE = [MultiPolygon([box(0, 0, 1, 1)])]


def work(radius, axis_deg=0.0):
    return Round((0.0, 0.0), radius, math.radians(axis_deg), 0.0)


@pytest.mark.parametrize("crown", [120.0, 300.0])
def test_the_excess_on_a_sphere_is_that_of_its_parallels(crown):
    # on a sphere the fibre at an arc s from a great circle is shorter by the cosine of s
    length, width = 60.0, 24.0
    found = wrapping(
        box(0, 0, length, width), NONE, work(crown), known_process("film-knife"), crown
    )
    true = length * (1.0 - math.cos(width / 2.0 / crown))
    assert found.excess_mm == pytest.approx(true, rel=0.01)
    assert found.gap_mm <= 0.4


def test_a_waist_opens_where_a_barrel_laps():
    sheet = box(0, 0, 120, 50)
    film = known_process("film-knife")
    laps = wrapping(sheet, NONE, work(30.0), film, 300.0)
    opens = wrapping(sheet, NONE, work(30.0), film, -300.0)
    assert laps.excess_mm == pytest.approx(-opens.excess_mm) and laps.excess_mm > 0
    assert "laps over" in " ".join(laps.sentences) and "opens by" in " ".join(opens.sentences)
    assert len(laps.slits) == 2 * math.ceil(laps.excess_mm / 0.4)
    for x1, y1, x2, y2 in laps.slits:
        # from the middle line straight to an edge, across the longer side
        assert x1 == pytest.approx(x2) and y1 == pytest.approx(25.0) and y2 in (0.0, 50.0)


def test_slits_keep_off_openings_where_they_can():
    sheet = box(0, 0, 120, 50)
    free = np.arange(6, 120, 20)
    bars = [box(x - 8, 2, x + 8, 48) for x in free + 10]
    openings = MultiPolygon(bars[:-1])
    found = wrapping(sheet, [openings], work(30.0), known_process("film-knife"), 420.0)
    crossed = [
        shapely.LineString([(a, b), (c, d)]).intersection(openings).length
        for a, b, c, d in found.slits
    ]
    assert np.mean(np.array(crossed) < 1.0) > 0.6


@pytest.mark.parametrize("axis_deg", [0.0, 90.0, 30.0])
def test_how_far_round_it_goes(axis_deg):
    turn = math.radians(axis_deg)
    sheet = shapely.affinity.rotate(box(-40, -30, 40, 30), axis_deg, origin=(0, 0))
    found = wrapping(sheet, NONE, work(20.0, axis_deg), known_process("film-knife"))
    assert found.round_deg == pytest.approx(math.degrees(60.0 / 20.0), rel=1e-6)
    assert found.seam_mm == pytest.approx(2 * math.pi * 20.0 - 60.0)
    thick = known_process("film-knife").thickness_mm
    # the sheet's middle lies half its thickness above the work and covers the same angle
    assert found.short_mm == pytest.approx(60.0 - 60.0 * 20.0 / (20.0 + thick / 2.0))
    assert turn == pytest.approx(math.radians(axis_deg))


def test_foil_is_said_to_keep_the_bend_where_film_does_not():
    sheet = box(0, 0, 30, 20)
    foil = wrapping(sheet, NONE, work(12.0), known_process("foil-etched"))
    film = wrapping(sheet, NONE, work(40.0), known_process("film-knife"))
    assert "without keeping the bend" in " ".join(foil.sentences)
    assert "without keeping the bend" not in " ".join(film.sentences)
    assert wrapping(sheet, NONE, Plane(), known_process("film-knife")) is None


def test_what_is_curved_too_strongly_is_to_be_cut_in_strips():
    film = known_process("film-knife")
    found = wrapping(box(0, 0, 90, 86), NONE, work(32.0), film, -180.0)
    assert found.slits == () and found.excess_mm < -10
    told = " ".join(found.sentences)
    assert "too strongly for one sheet" in told and "no more than 48 mm wide" in told
    strip = wrapping(box(0, 0, 90, 47), NONE, work(32.0), film, -180.0)
    assert strip.slits and strip.gap_mm <= 0.4


@pytest.mark.parametrize("crown", [0.2, -50_000.0, 0.0])
def test_a_curve_that_cannot_be_is_refused(crown):
    with pytest.raises(StencilError, match="negative where the work is waisted"):
        crown_of({"kind": "cylinder", "radius_mm": 20.0, "crown_mm": crown})


def test_a_plan_marks_its_slits_on_every_sheet():
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="40mm" '
        'viewBox="0 0 120 40"><rect x="10" y="10" width="100" height="6"/></svg>'
    )
    plan = plan_sheets(
        drawing, known_process("film-knife"), "bridges", surface=work(60.0), crown_mm=200.0
    )
    told = plan.report["wrapping"]
    assert told["slits"]
    marked = [line for line, word in plan.sheets[0].notes if word == "slit"]
    assert len(marked) == len(told["slits"])
    assert "slit" in plan.sheets[0].svg()
