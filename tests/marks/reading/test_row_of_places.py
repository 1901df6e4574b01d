import numpy as np

from ironlace.marks.reading.places import Place
from ironlace.marks.reading.row_of_places import drawn_to_rows

PER = 2.0  # pixels a step, so that a place is off by 3 px along and across


def rows(rng, uneven, off=3.0, count=9):
    """True places of two rows, and the same as given."""
    true = np.array([(200 + 126 * k, 300 + 2 * k + 240 * r) for r in (0, 1) for k in range(count)])
    true = true + rng.normal(0, uneven, true.shape)
    given = true + rng.normal(0, off, true.shape)
    places = [
        Place("digit", k // count, k % count, float(x), float(y), 48 * PER)
        for k, (x, y) in enumerate(given)
    ]
    return true, places


def off(places, true):
    return float(np.sqrt(np.mean((np.array([(p.x_px, p.y_px) for p in places]) - true) ** 2)))


def test_places_of_an_even_row_come_nearer_to_its_digits():
    rng = np.random.default_rng(1)
    better = [off(drawn_to_rows(p), t) / off(p, t) for t, p in (rows(rng, 1.0) for _ in range(20))]
    assert np.mean(better) < 0.7


def test_places_of_an_uneven_row_stay_nearly_where_they_were_given():
    rng = np.random.default_rng(2)
    better = [off(drawn_to_rows(p), t) / off(p, t) for t, p in (rows(rng, 20.0) for _ in range(20))]
    assert 0.9 < np.mean(better) < 1.05


def test_places_in_line_stay_and_few_digits_are_not_moved():
    _, even = rows(np.random.default_rng(3), 0.0, off=0.0)
    assert off(drawn_to_rows(even), np.array([(p.x_px, p.y_px) for p in even])) < 1e-6
    _, few = rows(np.random.default_rng(4), 1.0, count=3)
    assert drawn_to_rows(few) == tuple(few)
    assert [(p.row, p.index) for p in drawn_to_rows(even)] == [(p.row, p.index) for p in even]
