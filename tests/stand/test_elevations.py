"""Silhouettes held against each other and against where the head's centre was found."""

from types import SimpleNamespace

import numpy as np

from ironlace.stand.base import Span
from ironlace.stand.elevations import OnItsBase, silhouette_doubts
from ironlace.stand.silhouette import Silhouette


def machine(front_mm, side_mm, centre_mm):
    def seen(high):
        if high is None:
            return None
        return Silhouette(np.array([[-100.0, 0.0], [100.0, 0.0], [60.0, high]]), 0.0, ())

    centre = (Span(0, 0, 0), Span(0, 0, 0), Span(centre_mm - 3, centre_mm, centre_mm + 3))
    return OnItsBase("base", SimpleNamespace(centre=centre), seen(front_mm), seen(side_mm))


def test_a_head_is_as_high_from_the_front_as_from_the_side():
    assert silhouette_doubts(machine(260.0, 265.0, 120.0)) == []
    assert silhouette_doubts(machine(260.0, None, 120.0)) == []
    (said,) = silhouette_doubts(machine(260.0, 300.0, 120.0))
    assert "260 mm high from the front and 300 mm from the side" in said


def test_a_centre_near_the_top_of_the_head_is_doubted():
    (said,) = silhouette_doubts(machine(150.0, 152.0, 130.0))
    assert "near the top of a head 152 mm high" in said
    assert silhouette_doubts(machine(None, None, 130.0)) == []
