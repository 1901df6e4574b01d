"""Slivers that bridging left are closed; the drawing's own fine places and the webs are not."""

import dataclasses

import pytest
import shapely
from shapely import MultiPolygon, box

from ironlace.ornament.stencils.planning.slivers import without_slivers
from ironlace.ornament.stencils.webs import narrow_openings, thin_webs

WHOLE = box(0, 0, 20, 10)
CRUMB = box(25, 0, 25.2, 0.6)
NECK = box(8, 0, 12, 9.8)  # leaves a place 0.2 mm wide of the opening, 4 mm long


@pytest.mark.parametrize("drawn_so", [False, True])
def test_what_the_drawing_has_stays_and_what_was_made_goes(laser, drawn_so):
    made = MultiPolygon([WHOLE.difference(NECK), CRUMB])
    drawn = made if drawn_so else MultiPolygon([WHOLE, box(25, 0, 27, 2)])
    own = narrow_openings(drawn, laser.least_line_mm)
    after = without_slivers(made, drawn, own, laser)
    if drawn_so:
        assert after.equals(made)
        return
    assert made.difference(after).symmetric_difference(
        shapely.union(box(8, 9.8, 12, 10), CRUMB)
    ).area == pytest.approx(0.0, abs=0.02)
    assert narrow_openings(after, laser.least_line_mm) == []
    assert thin_webs(after, laser.least_web_mm) == []


def test_a_sliver_stays_where_it_would_be_a_thin_web_when_closed(laser):
    # 0.5 mm along and 0.3 mm wide: closed, it parts two openings by half a web
    wide = dataclasses.replace(laser, least_opening_mm=0.4, least_web_mm=1.4, bridge_width_mm=1.5)
    made = MultiPolygon([WHOLE.difference(box(9.4, 0, 10.3, 9.7))])
    assert len(narrow_openings(made, wide.least_line_mm)) == 1
    assert without_slivers(made, MultiPolygon([WHOLE]), [], wide).equals(made)
