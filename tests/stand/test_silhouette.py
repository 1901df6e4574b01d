"""The silhouette touched on a photograph: scales by two distances, and what is refused."""

import numpy as np
import pytest

from ironlace.stand.errors import StandError
from ironlace.stand.silhouette import silhouette_of

TOUCHES = """what,x_px,y_px
seat,100,800
seat,700,800
height,150,800
height,150,300
round,100,800
round,100,200
round,700,200
round,700,800
"""


def test_two_known_distances_give_the_ring():
    found = silhouette_of(TOUCHES, 300.0, -150.0, 250.0)
    assert found.ring_mm[:, 0] == pytest.approx([-150, -150, 150, 150])
    assert found.height_mm == pytest.approx(300.0)
    assert (found.skew, found.warnings) == (pytest.approx(0.0), ())


def test_a_turned_photograph_gives_the_same_ring():
    cos, sin = np.cos(0.1), np.sin(0.1)
    lines = [line.split(",") for line in TOUCHES.strip().splitlines()[1:]]
    turned = "what,x_px,y_px\n" + "\n".join(
        f"{w},{cos * float(x) - sin * float(y) + 90},{sin * float(x) + cos * float(y)}"
        for w, x, y in lines
    )
    straight = silhouette_of(TOUCHES, 300.0, -150.0, 250.0)
    assert silhouette_of(turned, 300.0, -150.0, 250.0).ring_mm == pytest.approx(straight.ring_mm)


def test_scales_that_disagree_are_each_used_and_said():
    found = silhouette_of(TOUCHES, 300.0, 0.0, 275.0)
    assert found.height_mm == pytest.approx(330.0)
    assert "10 % apart" in found.warnings[0]


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("seat,700,800\n", "", "1 places are touched for the seat"),
        ("seat,700,800", "seat,40,800", "right end was touched first"),
        ("height,150,300", "height,150,900", "top was touched first"),
        ("round,700,200\nround,700,800\n", "", "2 places are touched round"),
        ("round,700,200", "edge,700,200", "Touch 7"),
    ],
)
def test_what_cannot_be_is_refused(old, new, says):
    with pytest.raises(StandError, match=says):
        silhouette_of(TOUCHES.replace(old, new), 300.0, 0.0, 250.0)
