"""The drawing of a head at work: only what was read, at one scale, the wheel in its own sense."""

import re
from dataclasses import replace
from math import pi, sin
from xml.etree import ElementTree

import numpy as np
import pytest

from ironlace.running.motion.turned import STEP_DEG, HeadTurned, TurnedPart, TurnMark
from ironlace.running.motion.turned_drawn import head_svg, scale_in_words, still_at, wheel_sense

TURN = np.arange(0, 361, STEP_DEG)


def part(name, middle, size, known=True):
    height = tuple(middle + size * sin(t * pi / 180.0) for t in TURN)
    return TurnedPart(name, height, (0.1,) * len(TURN), (known,) * len(TURN), ())


HEAD = HeadTurned(
    tuple(float(t % 360) for t in TURN),
    (part("needle bar", 20.0, 15.0), part("shuttle", 30.0, 20.0), part("feed", 2.0, 1.0)),
    (TurnMark("shuttle meets needle", 30.0, 30.0),),
    40.0,
    1,
    "away",
    "rise",
)


def moving(svg):
    return {
        found["name"]: float(found["by"])
        for found in re.finditer(
            r'data-moves="(?P<name>[^"]+)"[^>]*data-per-mm="(?P<by>[^"]+)"', svg
        )
    }


def test_only_what_was_read_is_drawn_and_at_one_scale():
    svg = head_svg(HEAD)
    ElementTree.fromstring(svg)  # well made
    by = moving(svg)
    assert set(by) == {"needle bar", "shuttle", "feed"}
    assert by["needle bar"] == by["shuttle"]
    larger = round(by["feed"] / by["needle bar"])
    assert larger > 1
    assert f"the feed {larger} times as large" in scale_in_words(HEAD)
    assert "take-up" not in svg


@pytest.mark.parametrize(("top", "sense"), [("away", 1), ("towards", -1), ("unsaid", 1)])
def test_the_wheel_turns_as_was_said(top, sense):
    head = replace(HEAD, wheel_top=top)
    svg = head_svg(head)
    assert wheel_sense(head) == sense
    assert f'data-wheel="{sense}"' in svg
    assert f"rotate({sense * 30.0:.2f} " in svg
    assert ("turn-arrow" in svg) is (top != "unsaid")


@pytest.mark.parametrize(("numbers", "sense"), [("rise", "away"), ("fall", "towards")])
def test_the_number_the_disc_shows_stands_under_the_pointer(numbers, sense):
    head = replace(HEAD, numbers=numbers, wheel_top=sense, marks=(TurnMark("x", 90.0, 0.0),))
    svg = head_svg(head)
    shown = 90 if numbers == "rise" else 270
    turned = float(re.search(rf'rotate\((\S+)\)" y="4">{shown}<', svg)[1])
    wheel = float(re.search(r"data-wheel.*?rotate\((\S+) ", svg)[1])
    assert (turned + wheel) % 360.0 == pytest.approx(0.0)


def test_a_part_that_is_not_known_there_is_hidden():
    head = replace(HEAD, parts=(HEAD.parts[0], part("shuttle", 30.0, 20.0, known=False)))
    assert np.isnan(still_at(head, head.parts[1])[0])
    assert still_at(head, head.parts[0])[0] == pytest.approx(27.5)
