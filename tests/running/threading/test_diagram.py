import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest
import shapely

from ironlace.running.threading.diagram import legend, panels, threading_svg
from ironlace.running.threading.plan import (
    PlanPicture,
    ThreadingPlan,
    ThreadPoint,
    checked_plan,
)

POINTS = (
    ThreadPoint(1, (20.0, 500.0), "spool", "top", known="old manual", source="p. 3"),
    ThreadPoint(2, (900.0, 500.0), "pin", "left", known="seen"),
    ThreadPoint(3, (500.0, 40.0), "discs", "top", known="seam", source="seam 2"),
    ThreadPoint(4, (500.0, 560.0), "take-up eye", "left", crosses="over", known="guess"),
    ThreadPoint(5, (300.0, 560.0), "hook", "left", known="guess", what='a "<hook>"'),
    ThreadPoint(6, (900.0, 500.0), "needle eye", "left", behind="clamp"),
    ThreadPoint(7, (50.0, 50.0), "bobbin", "top", thread="shuttle", picture="shuttle"),
    ThreadPoint(8, (70.0, 70.0), "needle plate", thread="shuttle", picture="shuttle"),
)
PLAN = checked_plan(
    ThreadingPlan(
        "A & B", (PlanPicture("head", 1000, 600), PlanPicture("shuttle", 100, 200)), POINTS
    )
)


def lines(svg, kind):
    found = re.findall(rf'class="{kind}" d="M([\d.-]+) ([\d.-]+)L([\d.-]+) ([\d.-]+)"', svg)
    return [
        shapely.LineString([(float(a), float(b)), (float(c), float(d))]) for a, b, c, d in found
    ]


def test_the_sheet_is_well_formed_and_holds_every_number_once():
    svg = threading_svg(PLAN, {"head": "data:image/jpeg;base64,AA=="})
    root = ElementTree.fromstring(svg)
    words = [one.text for one in root.iter("{http://www.w3.org/2000/svg}text")]
    for label in ("1", "2, 6", "3", "4", "5", "7", "8"):  # one place, one field
        assert words.count(label) == 1
    assert svg.count("<image ") == 1
    assert svg.count('class="arrow"') == 5 + 1
    wide, high = (float(root.get(name).removesuffix("mm")) for name in ("width", "height"))
    assert (wide, root.get("viewBox")) == (180.0, f"0 0 {wide:.3f} {high:.3f}")


@pytest.mark.parametrize("close", [False, True])
def test_leaders_do_not_cross_and_stay_on_the_panel(close):
    for panel in panels(PLAN, 93.0, 100.0, {}, close=close):
        assert panel.width_mm <= 93.0 + 1e-6
        led = lines(panel.body, "leader")
        assert len(led) == (5 if panel.name == "head" else 2)
        assert all(not a.intersects(b) for n, a in enumerate(led) for b in led[:n])
        for x, width in re.findall(r'<rect x="([\d.-]+)" y="[\d.-]+" width="([\d.]+)"', panel.body):
            shift = float(re.search(r"translate\(([\d.]+)", panel.body)[1])
            assert float(x) + shift >= 0.0
            assert float(x) + float(width) + shift <= panel.width_mm


def test_over_and_under_are_told_without_colour():
    def drawn(crosses):
        points = (*POINTS[:3], replace(POINTS[3], crosses=crosses))
        plan = checked_plan(ThreadingPlan("t", PLAN.picture[:1], points))
        (panel,) = panels(plan, 100.0, 100.0, {})
        paths = re.findall(r'class="thread" d="([^"]+)"', panel.body)
        return [path.count("M") for path in paths], 'class="doubt"' in panel.body

    assert drawn("over") == ([2, 1, 1], False)
    assert drawn("under") == ([1, 1, 2], False)
    assert drawn("") == ([1, 1, 1], True)


def test_every_way_of_knowing_has_its_own_line_round_the_number():
    told = {words: sign for sign, words in legend(PLAN)}
    rings = [told[words] for words in told if "ring" in words or "<rect" in told[words]]
    assert len(rings) == len(set(rings)) == 5
    assert 'stroke="none"' in told["no ring: how it is known is not said"]


def test_many_numbers_make_the_panel_higher_and_still_do_not_cross():
    points = tuple(ThreadPoint(n, (500.0 + n, 200.0 + (7 * n) % 11), "hook") for n in range(1, 41))
    plan = checked_plan(ThreadingPlan("t", (PlanPicture("p", 1000, 300),), points))
    (panel,) = panels(plan, 93.0, 100.0, {})
    assert panel.height_mm > 19 * 7.2
    led = lines(panel.body, "leader")
    assert len(led) == 40
    assert all(not a.intersects(b) for n, a in enumerate(led) for b in led[:n])
