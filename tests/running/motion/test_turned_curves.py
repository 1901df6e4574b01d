"""The curves of a turned head: one strip for each part, gaps where nothing is told."""

import re
from dataclasses import replace
from xml.etree import ElementTree

from ironlace.running.motion.turned import STEP_DEG
from ironlace.running.motion.turned_curves import curves_svg, turn_x

from .test_turned_drawn import HEAD


def test_each_part_has_its_strip_its_dot_and_its_mark():
    svg = curves_svg(HEAD)
    ElementTree.fromstring(svg)
    assert re.findall(r'data-dot="([^"]+)"', svg) == ["needle bar", "shuttle", "feed"]
    assert svg.count('class="turn-curve"') == 3
    assert "meets" in svg
    assert f"translate({turn_x(30.0):.2f} 0)" in svg


def test_the_axis_runs_as_it_sews():
    fallen = curves_svg(replace(HEAD, numbers="fall"))
    assert re.findall(r">(\d+)°<", fallen)[:3] == ["0", "315", "270"]


def test_a_stretch_that_is_not_told_has_no_line():
    known = tuple(not 60 <= t * STEP_DEG < 120 for t in range(len(HEAD.disc)))
    part = replace(HEAD.parts[0], known=known, read=((90.0, 33.0, False), (91.0, 1.0, True)))
    svg = curves_svg(replace(HEAD, parts=(part,)))
    assert svg.count('class="turn-curve"') == 2
    assert svg.count('class="turn-read"') == 1
    assert svg.count('class="turn-out"') == 1
