"""Two bridges of a ring of even width stand opposite each other; thin places are kept."""

import numpy as np
import pytest

from ironlace.ornament.stencils import plan_sheets
from ironlace.ornament.stencils.bridges.round_about import _Crowds


def circle(x, y, radius, corners=96):
    turn = np.arange(corners) * 2 * np.pi / corners
    xy = np.stack([x + radius * np.cos(turn), y + radius * np.sin(turn)], axis=1)
    return "M" + "L".join(f"{a:.4f} {b:.4f}" for a, b in xy) + "Z"


def bridges_of(body, laser):
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" viewBox="0 0 60 40">'
        f'<path fill-rule="evenodd" d="{body}"/></svg>'
    )
    plan = plan_sheets(svg, laser, "bridges")
    assert plan.report["sheets"][0]["pieces"] == 1
    return np.array(
        [[(b.line.ax + b.line.bx) / 2, (b.line.ay + b.line.by) / 2] for b in plan.layers[0].bridges]
    )


@pytest.mark.parametrize("hook", ["", "M40 5H55V9H44V14H40Z"])
def test_two_bridges_of_a_ring_stand_opposite_each_other(hook, laser):
    # without the hook the ring has mirror axes, and its bridges stand in pairs about them
    at = bridges_of(circle(20, 20, 8) + circle(20, 20, 6.6) + hook, laser)
    assert len(at) == 2
    assert np.hypot(*(at[0] - at[1])) > 0.9 * 2 * 7.3


def test_thin_places_keep_their_bridges(laser):
    # the hole lies high: the ring is half as wide above, and no bridge goes below for a better look
    at = bridges_of(circle(20, 20, 8) + circle(20, 19.2, 6.4) + "M40 5H55V9H44V14H40Z", laser)
    assert len(at) == 2
    assert (at[:, 1] < 20.5).all()


def oval(half, wider, thinner):
    """An oval of so many mm from its middle, its outline drawn in above by a share."""
    turn = np.arange(240) * 2 * np.pi / 240
    along = np.stack([half[0] * np.cos(turn), half[1] * np.sin(turn)], axis=1)
    square = np.stack([half[1] * np.cos(turn), half[0] * np.sin(turn)], axis=1)
    square /= np.hypot(*square.T)[:, None]
    above = np.exp(-(((turn - 1.5 * np.pi) / 0.7) ** 2) / 2)
    xy = along + square * (wider * (1 - thinner * above))[:, None] + (30, 20)
    return "M" + "L".join(f"{a:.4f} {b:.4f}" for a, b in xy) + "Z"


@pytest.mark.parametrize("thinner", [0.05, 0.1, 0.2])
@pytest.mark.parametrize(("half", "widest"), [((10, 10), 200), ((20, 12), 160)])
def test_an_oval_a_little_thinner_above_is_held_all_round(thinner, half, widest, laser):
    at = bridges_of(oval(half, 1.0, thinner) + oval(half, -1.0, thinner), laser)
    around = np.sort(np.degrees(np.arctan2(at[:, 1] - 20, at[:, 0] - 30)))
    gaps = np.diff(np.append(around, around[0] + 360))
    assert len(at) == (2 if half == (10, 10) else 3)
    assert gaps.max() < widest


def test_places_are_told_clear_of_all_bridges_but_one_while_these_are_moved():
    rng = np.random.default_rng(9)
    middle = rng.uniform(0.0, 12.0, (80, 2))
    built = rng.choice(80, 12, replace=False)
    crowds = _Crowds(middle, built, 1.4)
    for n in range(12):
        rest = np.delete(built, n)
        away = np.linalg.norm(middle[:, None] - middle[rest], axis=2).min(axis=1)
        clear = crowds.clear_but(np.arange(80), int(built[n]))
        assert clear.tolist() == (away >= 1.4).tolist()
        to = int(np.setdiff1d(np.arange(80), built)[n])
        crowds.move(int(built[n]), to)
        built[n] = to
