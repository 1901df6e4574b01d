"""A drawing told by the shares of its outline."""

import numpy as np
import pytest

from ironlace.evidence.grades import Grade
from ironlace.ornament import ClosedPath, Drawing, drawing_svg
from ironlace.web.drawing_in_words import BAR, shares_of, standing_in_words


def square(side, *grades, off=0.0):
    """A square with one grade a side, its corners in mm."""
    at = np.array([(0, 0), (side, 0), (side, side), (0, side)], float) + off
    to = np.roll(at, -1, axis=0)
    curves = np.stack([at, at + (to - at) / 3, at + 2 * (to - at) / 3, to], axis=1)
    return ClosedPath(curves, grades, ("here",) * 4)


def told(*paths):
    return shares_of(drawing_svg(Drawing(paths, (0.0, 0.0, 40.0, 40.0)), evidence=True))


def test_shares_are_of_the_length_and_lie_end_to_end_on_the_bar():
    seen, judged = Grade.SEEN, Grade.CONJECTURED
    shares = told(square(30, seen, seen, seen, judged), square(8, seen, seen, seen, seen, off=31.0))
    assert [(s.grade, round(s.part, 4)) for s in shares] == [(seen, 0.8026), (judged, 0.1974)]
    assert [s.percent for s in shares] == ["80.3 %", "19.7 %"]
    assert shares[0].begins == 0
    assert shares[0].ends == shares[1].begins
    assert shares[-1].ends == pytest.approx(BAR)
    assert "19.7 % of its outline is conjectured" in standing_in_words(judged, shares)


def test_one_grade_and_nothing_drawn_are_said_as_such():
    shares = told(square(10, *(Grade.SEEN,) * 4))
    assert standing_in_words(Grade.SEEN, shares).startswith("All of its outline is seen")
    assert standing_in_words(Grade.CONJECTURED, []) == "Nothing is drawn yet."
