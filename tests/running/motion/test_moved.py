import numpy as np
import pytest

from ironlace.running.motion.curves import CrankCurve
from ironlace.running.motion.figures import stroke_taken
from ironlace.running.motion.joint_fit import Readings, fit_motions
from ironlace.running.motion.moved import next_reading


def test_the_next_reading_lies_where_the_stroke_is_open():
    degrees = np.concatenate((np.arange(-60.0, 100.0, 12.0), [130.0, 230.0, 270.0]))
    rng = np.random.default_rng(2)
    height = 15.0 * (1.0 - np.cos(np.radians(degrees))) + rng.normal(0.0, 0.05, len(degrees))
    readings = Readings(np.radians(degrees), height[:, None], 0.1, np.radians(2.0))
    fit = fit_motions(readings, (CrankCurve(),))
    found = next_reading(fit, (0,), stroke_taken(fit, 0))
    assert np.degrees(found.angle) == pytest.approx(180.0, abs=20.0)
    assert found.left < 0.9
