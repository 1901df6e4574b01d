"""What bare metal takes off a plate's digits."""

import numpy as np
import pytest

from ironlace.marks.reading.read_together import TOLD, read_together

_FIGURES = np.array([3, 1, 4, 1, 5, 9])


def _seen(told: float) -> np.ndarray:
    logs = np.full((len(_FIGURES), 10, 2, len(TOLD)), -0.5)
    logs[np.arange(len(_FIGURES)), _FIGURES] = told
    return logs


@pytest.mark.parametrize("many", [5, 12])
def test_a_scratch_through_one_bare_place_takes_nothing_off(many: int) -> None:
    bare = np.random.default_rng(1).normal(-1.0, 0.3, (many, 10, 2, len(TOLD)))
    scratched = bare.copy()
    scratched[0, 1] = 40.0  # a straight scratch is a 1, and clearer than any worn digit
    one, other = read_together(_seen(8.0), bare), read_together(_seen(8.0), scratched)
    assert one.left > 0.9
    assert other.left == pytest.approx(one.left, abs=0.02)
    np.testing.assert_allclose(other.shared.each(), one.shared.each(), atol=0.05)


def test_what_most_bare_places_show_is_taken_off() -> None:
    bare = np.full((12, 10, 2, len(TOLD)), 8.0)
    assert read_together(_seen(8.0), bare).left < 0.2
