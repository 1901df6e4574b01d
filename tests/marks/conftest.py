"""A plate with two balls, photographed once for all tests of the room."""

import numpy as np
import pytest

from ironlace.marks.capture.frames import Frames
from lit_surfaces import ball_scene

SHAPE = (300, 460)
PLACES = ((60.4, 55.3), (398.8, 243.6))


def scene_of(seed, **changed):
    given = {
        "shape": SHAPE,
        "mm_per_px": 0.075,
        "places": PLACES,
        "count": 10,
        "finer": 2,
        "gamma": 2.2,
    }
    return ball_scene(np.random.default_rng(seed), **{**given, **changed})


def frames_of(scene):
    names = tuple(f"{n:02d}.png" for n in range(len(scene.frames)))
    return Frames(names, tuple(scene.frames))


@pytest.fixture(scope="session")
def scene():
    return scene_of(5)


@pytest.fixture(scope="session")
def frames(scene):
    return frames_of(scene)
