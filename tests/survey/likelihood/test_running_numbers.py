import numpy as np
import pytest

from ironlace.survey.likelihood import running_numbers
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.reading_errors import SIZE, confusion
from ironlace.survey.likelihood.running_numbers import chance_up_to, ladder, up_to_rungs

GIVEN = Assumptions(misread_rate=0.1)


@pytest.mark.parametrize("padded", [False, True])
def test_every_number_up_to_a_limit_is_summed(padded):
    """By going through the numbers one by one."""
    c = confusion(GIVEN)
    seen = (2, 0, 7)
    upto = np.array([0, 5, 99, 100, 217, 999, 5000])
    expected = []
    for limit in upto:
        total = 0.0
        for number in range(1, limit + 1):
            struck = f"{number:03d}" if padded else str(number)
            if len(struck) == len(seen):
                total += np.prod([c[int(s), t] for s, t in zip(struck, seen, strict=True)])
        expected.append(total)
    emission = np.eye(SIZE) @ c.T
    found = chance_up_to(np.array([seen]), emission, upto, padded=padded)[0]
    assert found == pytest.approx(expected, abs=1e-12)


def test_the_ladder_holds_small_counts_and_the_ends_of_figures():
    rungs = ladder(25_000).tolist()
    assert rungs[:30] == list(range(1, 31))
    assert {99, 999, 9_999} <= set(rungs)
    assert rungs[-1] == 25_000
    assert rungs == sorted(set(rungs))


def test_spans_too_many_to_hold_are_summed_in_pieces_to_the_same(monkeypatch):
    emission = confusion(Assumptions())
    spans = np.random.default_rng(5).integers(0, 10, (40, 3))
    weights = np.random.default_rng(6).random((len(ladder(5000)), 4))

    def of(rows):
        return up_to_rungs(rows, emission, padded=False, start=1, highest=5000)

    whole = running_numbers.counts_of(spans, of).against(weights)
    monkeypatch.setattr(running_numbers, "_MOST_SPANS_HELD", 10)
    monkeypatch.setattr(running_numbers, "_SPANS_IN_A_PIECE", 7)
    monkeypatch.setattr(running_numbers, "_SPANS_AT_ONCE", 3)
    pieces = running_numbers.counts_of(spans, of)
    assert len(pieces) == 40
    assert pieces.against(weights) == pytest.approx(whole, rel=1e-12)
