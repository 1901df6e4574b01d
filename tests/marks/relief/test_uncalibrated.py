import numpy as np
import pytest

from ironlace.marks.errors import MarksError
from ironlace.marks.relief.uncalibrated import guessed_lights
from lit_surfaces import matt_pictures, ring_of_lights, struck_ground


def test_azimuths_are_found_from_a_plate_with_sunk_marks():
    normals = struck_ground(np.random.default_rng(3))
    lights = ring_of_lights(12, (30, 50))
    found = np.array([x.direction for x in guessed_lights(matt_pictures(normals, lights, 0.4))])
    true = np.degrees(np.arctan2(lights[:, 1], lights[:, 0]))
    told = np.degrees(np.arctan2(found[:, 1], found[:, 0]))
    off = (told - true + 180) % 360 - 180
    assert np.abs(off).mean() < 15


def test_light_that_does_not_change_is_refused():
    picture = np.random.default_rng(1).uniform(0.2, 0.6, (60, 80)).astype(np.float32)
    with pytest.raises(MarksError, match="hardly changes"):
        guessed_lights(np.stack([picture] * 8))


def test_five_photographs_are_too_few():
    with pytest.raises(MarksError, match="6 at least"):
        guessed_lights(np.ones((5, 60, 80), np.float32))
