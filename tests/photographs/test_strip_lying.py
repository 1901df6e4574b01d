"""A strip that does not lie close: its doubt holds what the forward thrower says it does."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ironlace.photographs import place_uncertainty_mm
from strip_thrown import (
    bowed,
    close,
    corner,
    inner_places,
    lifted,
    off_by,
    placed,
    rippled,
)
from thrown_light import Setting

FLAT = Setting(tip=4, turn=-5)
NEAR = replace(FLAT, distance=260, field=52, tip=-9)
SIZE = np.array([200.0, 130.0])


def laid(height, scene=FLAT, *, own_lens=True):
    rng = np.random.default_rng(3)
    over = height(SIZE, rng)
    found, layout, view = placed(scene, over, rng, own_lens=own_lens)
    grid = inner_places(layout)
    off = off_by(found, view, grid, np.zeros(len(grid)))
    sd = place_uncertainty_mm(found, grid)
    return found.evidence, float(np.percentile(off, 95)), 1.96 * float(np.sqrt(np.mean(sd**2)))


@pytest.mark.parametrize(
    ("height", "scene", "own_lens"),
    [
        pytest.param(bowed(1.0), NEAR, True, id="bowed"),
        pytest.param(corner(2.0), FLAT, True, id="corner"),
        pytest.param(rippled(0.4), FLAT, False, id="rippled"),
    ],
)
def test_paper_that_stands_off_is_held_by_the_doubt(height, scene, own_lens):
    evidence, off, stated = laid(height, scene, own_lens=own_lens)
    assert 0.02 < off < 2.0 * stated
    assert (evidence.bow_mm > 0.7) == (height.__qualname__.startswith("bowed"))


def test_a_strip_that_lies_close_is_hardly_doubted_and_a_lift_foretold():
    evidence, off, stated = laid(close)
    assert off < 0.01 and stated < 0.06
    assert evidence.off_work_mm < 0.15 and evidence.bow_mm == 0.0
    # no marker shows a lift all over: the doubt stays as it is, and only the words tell
    _, off, same = laid(lifted(1.0))
    assert same < 0.06 and off <= evidence.lifted_shift_mm == pytest.approx(off, rel=0.15)
