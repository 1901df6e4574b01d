import numpy as np
import pytest

from ironlace.marks.reading.bare_metal import BareMetal, overlaid
from ironlace.marks.reading.known_shapes import WIDE, held_down, shapes_from_pictures
from ironlace.marks.reading.period_shapes import cut_strikes, logs_by_cuts
from ironlace.marks.reading.read_together import read_together
from ironlace.marks.reading.strikes import Blow, depth_left, placed, slopes_of
from struck_plates import face


@pytest.fixture(scope="module")
def fits():
    """Fits of 0 to 9 twice over, struck with a face that is none of ours, the last ten worn."""
    shapes = shapes_from_pictures(face("modern"))
    rng = np.random.default_rng(3)
    found = []
    for deep in (1.5, 0.1):
        for glyph in "0123456789":
            depth = depth_left(shapes[glyph][-1], Blow(deep, 2.0, 0.0, planed=False, blur=0.6))
            wide = slopes_of(placed(depth, shape=WIDE))
            wide = wide + rng.normal(0, 0.03, wide.shape).astype(np.float32)
            found.append(held_down(wide, 0.03))
    strikes, _ = cut_strikes()
    return logs_by_cuts(overlaid(strikes, found, BareMetal((), np.ones(24))).places, 100.0)


def read(logs):
    return read_together(logs, logs[:0]).shared.each()


def test_a_foreign_face_is_read_by_our_cuts(fits):
    assert (read(fits[:10]).argmax(axis=1) == np.arange(10)).mean() >= 0.9


def test_worn_places_are_read_in_the_light_of_clear_ones(fits):
    truth = np.arange(10)

    def log_p(p):
        return np.log(p[-10:][truth, truth]).sum()

    alone = np.vstack([read(fits[k : k + 1]) for k in range(len(fits))])
    assert log_p(read(fits)) > log_p(alone)


def test_order_of_places_does_not_matter(fits):
    assert read(fits[::-1])[::-1] == pytest.approx(read(fits))
