from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from ironlace.record import PhotographRole, Question


@pytest.fixture
def picture(tmp_path):
    """Make a picture file: a gradient with a seed of its own, so that each differs."""

    def make(name="a.jpg", size=(64, 48), seed=0, **options) -> Path:
        rng = np.random.default_rng(seed)
        rows = rng.integers(0, 255, (size[1], size[0], 3), dtype=np.uint8)
        path = tmp_path / name
        Image.fromarray(rows).save(path, **options)
        return path

    return make


@pytest.fixture
def filled(workshop, slug, picture):
    """A workshop with three photographs and a question."""
    for seed in range(3):
        workshop.photographs.take_in_file(
            slug, picture(f"{seed}.jpg", seed=seed), PhotographRole.PART, f"no. {seed}"
        )
    workshop.records.add(slug, Question(asks="who?"))
    return workshop
