import numpy as np
import pytest

from ironlace.ornament.errors import DrawingError
from ironlace.ornament.outline.trace import trace

PX_PER_MM = 10.0


def scroll(rng, specks, side_px):
    """A broad stroke, and square specks strewn beside it."""
    covered = np.zeros((900, 1600), np.uint8)
    covered[60:140, 100:1500] = 255
    for _ in range(specks):
        row, column = rng.integers(200, 880), rng.integers(20, 1580)
        covered[row : row + side_px, column : column + side_px] = 255
    return covered


def test_a_picture_of_grain_is_refused_with_what_to_do():
    covered = scroll(np.random.default_rng(2), 4_000, 3)
    with pytest.raises(DrawingError, match=r"too dark or too grainy.*expose it longer"):
        trace(covered, PX_PER_MM, (0.0, 0.0))


@pytest.mark.parametrize(("specks", "side_px"), [(300, 3), (1_200, 6)])
def test_flecks_of_dirt_and_dots_of_a_brush_are_no_grain(specks, side_px):
    covered = scroll(np.random.default_rng(3), specks, side_px)
    assert len(trace(covered, PX_PER_MM, (0.0, 0.0)).paths) > 200
