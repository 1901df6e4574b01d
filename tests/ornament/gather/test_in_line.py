"""Edges in line with one another."""

from __future__ import annotations

import numpy as np

from ironlace.ornament.gather.in_line import Edges, faced, in_line


def strewn(rng: np.random.Generator, count: int) -> Edges:
    """Short straight edges anywhere and every way on 100 by 100 mm."""
    return Edges(
        rng.uniform(-np.pi, np.pi, count),
        rng.uniform(0, 100, (count, 2)),
        rng.uniform(0.2, 1.0, count),
        np.ones(count),
    )


def test_edges_on_one_line_are_counted_by_their_kind_and_none_for_itself() -> None:
    rng = np.random.default_rng(1)
    edges = strewn(rng, 300)
    along = np.arange(6)[:, None] * 1.8 * [[np.cos(0.3), np.sin(0.3)]]
    edges.middle[:6] = 50 + along + rng.normal(0, 0.01, (6, 2))
    edges.way[:6] = 0.3 + rng.normal(0, 0.03, 6)
    lost, outline = in_line(edges, edges, (np.arange(300) < 3).astype(np.float64))
    assert lost[:3].tolist() == [2, 2, 2] and lost[3:6].tolist() == [3, 3, 3]
    assert outline[:3].tolist() == [3, 3, 3] and outline[3:6].tolist() == [2, 2, 2]
    # of 294 strewn anyhow hardly one lies in line with another
    assert np.mean((lost + outline)[6:] > 0) < 0.1


def test_the_gilt_lies_on_one_side_of_a_line_and_an_edge_runs_its_way() -> None:
    asked = Edges(np.zeros(1), np.zeros((1, 2)), np.ones(1), np.ones(1))
    for way, place, counted in (
        (0.0, (5.0, 0.0), 1),
        (np.pi, (5.0, 0.0), 0),  # its gilt on the other side
        (0.5, (5.0, 0.0), 0),  # across the line
        (0.0, (5.0, 1.0), 0),  # beside it
        (0.0, (0.9, 0.0), 0),  # the same edge, cut in two
        (0.0, (30.0, 0.0), 0),  # too far
    ):
        known = Edges(np.array([way]), np.array([place]), np.ones(1), np.ones(1))
        lost, outline = in_line(asked, known, np.ones(1))
        assert (lost[0], outline[0]) == (counted, 0)


def test_only_a_parallel_edge_across_a_little_bare_ground_faces_one() -> None:
    # its gilt lies above it, the ground below
    asked = Edges(np.zeros(1), np.zeros((1, 2)), np.ones(1), np.ones(1))
    for way, place, facing in (
        (np.pi, (0.1, -0.5), 1),
        (np.pi, (0.1, 0.5), 0),  # the stroke's own other side
        (0.0, (0.1, -0.5), 0),  # the next stroke's far side
        (np.pi + 0.25, (0.1, -0.5), 0),  # askew
        (np.pi, (1.5, -0.5), 0),  # past its end
        (np.pi, (0.1, -2.0), 0),  # too far
    ):
        other = Edges(np.array([way]), np.array([place]), np.ones(1), np.ones(1))
        assert faced(asked, other).tolist() == [facing]


def test_where_nothing_is_known_nothing_is_counted() -> None:
    asked = strewn(np.random.default_rng(2), 5)
    none = Edges(np.zeros(0), np.zeros((0, 2)), np.zeros(0), np.zeros(0))
    lost, outline = in_line(asked, none, np.zeros(0))
    assert lost.tolist() == outline.tolist() == faced(asked, none).tolist() == [0.0] * 5
