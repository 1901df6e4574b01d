import numpy as np
import pytest
import shapely

from ironlace.running.threading.leaders import leaders


def scattered(rng, family, count, wide, high):
    """Points of several habits: anywhere, in a clump, on a grid, all in one column or row."""
    if family == "anywhere":
        return rng.uniform(0.0, 1.0, (count, 2)) * (wide, high)
    if family == "clump":
        clump = rng.uniform(0.2, 0.8, 2) + rng.normal(0.0, 0.01, (count, 2))
        return np.clip(clump, 0.0, 1.0) * (wide, high)
    if family == "grid":
        cells = rng.choice(64, count, replace=False)
        return np.stack([cells % 8, cells // 8], axis=1) / 7.0 * (wide, high)
    if family == "column":
        return np.stack([np.full(count, wide / 3.0), np.linspace(0.0, high, count)], axis=1)
    return np.stack([np.linspace(0.0, wide, count), np.full(count, high / 2.0)], axis=1)


@pytest.mark.parametrize("family", ["anywhere", "clump", "grid", "column", "row"])
def test_no_two_leaders_meet_and_none_passes_another_point(family):
    rng = np.random.default_rng(7)
    for _ in range(12):
        wide, high = rng.uniform(30.0, 160.0, 2)
        count = int(rng.integers(1, 33))
        points = scattered(rng, family, count, wide, high)
        led = leaders([tuple(p) for p in points], wide, high, 7.0, 2.0)
        lines = shapely.linestrings([[one.start, one.end] for one in led])
        tree = shapely.STRtree(lines)
        first, second = tree.query(lines, predicate="intersects")
        assert np.array_equal(first, second), "only each with itself"
        assert [one.index for one in led] == list(range(count))
        for side, x in (("left", -2.0), ("right", wide + 2.0)):
            ends = sorted(one.end for one in led if one.side == side)
            assert all(end[0] == x for end in ends)
            assert np.all(np.diff([end[1] for end in ends]) >= 7.0 - 1e-9)


def test_one_point_goes_to_the_nearer_edge():
    (one,) = leaders([(10.0, 50.0)], 100.0, 100.0, 7.0, 2.0)
    assert one.side == "left"
    assert abs(one.end[1] - 50.0) <= 4.0
