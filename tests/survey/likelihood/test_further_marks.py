import numpy as np
import pytest

from ironlace.evidence.markings import parse_marking
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.further_marks import Posterior, chances_at_cells
from ironlace.survey.likelihood.marks_as_arrays import lay_out
from ironlace.survey.likelihood.summed_unknowns import explain
from ironlace.survey.schemes.scheme import Scheme

GIVEN = Assumptions()
DOTTED = Scheme.parse("month, dot, year, dot, number in month")
FIVE = [parse_marking(m) for m in ["4.96.217", "11.95.30", "7.93.412", "2.97.118", "12.94.77"]]


def test_a_further_mark_has_the_chance_by_which_the_evidence_falls():
    _, before = explain(lay_out(FIVE[:4], GIVEN), DOTTED, GIVEN)
    _, after = explain(lay_out(FIVE, GIVEN), DOTTED, GIVEN)
    state = Posterior(before.places, before.weights)
    chance = chances_at_cells(lay_out(FIVE[4:], GIVEN), DOTTED, GIVEN, state)[0] @ state.weights
    assert np.log(chance) == pytest.approx(after.log_evidence - before.log_evidence, abs=0.15)


def test_the_heaviest_cells_are_kept_and_weights_made_whole():
    state = Posterior((np.arange(8.0).reshape(4, 2),), np.array([0.1, 0.4, 0.2, 0.3]))
    kept = state.heaviest(2)
    assert kept.weights == pytest.approx([4 / 7, 3 / 7])
    assert kept.places[0].tolist() == [[2.0, 3.0], [6.0, 7.0]]
    assert state.heaviest(4) is state
    assert state.after(np.array([0.0, 1.0, 0.0, 1.0])).weights == pytest.approx(
        [0, 4 / 7, 0, 3 / 7]
    )
