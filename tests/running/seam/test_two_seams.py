"""Two seams compared."""

import json

import numpy as np
import pytest

from ironlace.running.errors import RunningError
from ironlace.running.seam.two_seams import (
    SeamLengths,
    compare_seams,
    comparison_sentences,
    read_seam,
)


def seam(rng, mean, cv, n=40, skipped=0):
    return SeamLengths(mean * (1 + cv * rng.normal(size=n)), 0.01, 0.001, n, skipped, True)


def test_alike_seams_differ_no_oftener_than_chance():
    rng = np.random.default_rng(2)
    told = []
    for _ in range(200):
        found = compare_seams(seam(rng, 2.2, 0.05), seam(rng, 2.2, 0.05))
        told.append(min(found.length_chance, found.evenness_chance, found.skip_chance) < 0.05)
    assert np.mean(told) < 0.09


def test_what_differs_is_told():
    rng = np.random.default_rng(4)
    found = compare_seams(seam(rng, 2.2, 0.10, skipped=9), seam(rng, 2.5, 0.02))
    said = " ".join(comparison_sentences(found))
    assert "longer" in said
    assert "more even" in said
    assert "Skipped stitches differ" in said
    assert found.difference_mm[0] < 0.3 < found.difference_mm[2]


def test_too_few_stitches_are_refused():
    rng = np.random.default_rng(4)
    with pytest.raises(RunningError, match="3 sure single stitches"):
        compare_seams(seam(rng, 2.2, 0.1, n=3), seam(rng, 2.2, 0.1))


@pytest.mark.parametrize("text", ["", "[]", json.dumps({"stitches": [{"length_mm": []}]})])
def test_what_is_no_seam_is_refused(text):
    with pytest.raises(RunningError, match="not the JSON of a measured seam"):
        read_seam(text)
