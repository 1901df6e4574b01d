"""Edges of losses told from outlines, by who shows them and how they run."""

from __future__ import annotations

import sys

import numpy as np
import pytest
import shapely

from darkroom import Ornament, painted, scrollwork, wear
from ironlace.evidence.grades import Grade
from ironlace.ornament import Gathered, gather, graded, trace
from ironlace.ornament.gather.known_edges import learnt_odds
from ironlace.ornament.gather.loss_edges import (
    EDGE_OF_A_LOSS,
    LIKELY,
    STEP_MM,
    edge_bands,
    in_question,
)
from painted_maps import PPM, SIZE, gilt_map


def ring_of(shape: shapely.Polygon) -> np.ndarray:
    n = round(shape.exterior.length / STEP_MM)
    at = (np.arange(n) + 0.5) * shape.exterior.length / n
    return shapely.get_coordinates(shapely.line_interpolate_point(shape.exterior, at))


def loss_edges(points, twice, worn, gilt_side) -> np.ndarray:
    parts, told = in_question(points, twice, worn, gilt_side)
    out = np.zeros(len(points), np.bool_)
    for part, odds in zip(parts, learnt_odds(None, told), strict=True):
        out[part] = odds > LIKELY
    return out


def ragged_stroke() -> np.ndarray:
    """A stroke 20 mm long and 1.2 wide, its right end an uneven tear."""
    y = np.linspace(0.0, 1.2, 25)
    tear = zip(20.0 + 0.25 * np.sin(2 * np.pi * y / 1.2), y, strict=True)
    return ring_of(shapely.Polygon([(0, 0), *tear, (0, 1.2)]))


def test_a_ragged_end_across_a_stroke_is_told_from_its_long_sides() -> None:
    points = ragged_stroke()
    once, worn = np.zeros(len(points), np.bool_), np.ones(len(points), np.bool_)
    lost = loss_edges(points, once, worn, gilt_side=1)
    sides = (points[:, 0] > 1.0) & (points[:, 0] < 19.0)
    torn = (points[:, 0] > 19.7) & (points[:, 1] > 0.2) & (points[:, 1] < 1.0)
    assert lost[torn].mean() > 0.8
    assert not lost[sides].any()


def test_a_bite_in_a_side_is_told_and_a_round_end_and_a_leaf_are_not() -> None:
    x = np.linspace(9.0, 10.6, 33)
    bite = 1.2 - 0.5 * np.sin(np.pi * (x - 9.0) / 1.6) - 0.06 * np.sin(9.0 * x)
    bitten = ring_of(shapely.Polygon([(0, 0), (20, 0), (20, 1.2), *np.c_[x, bite][::-1], (0, 1.2)]))
    leaf = shapely.Polygon([(4, 0.2), (6, 0.2), (7.2, 2.4), (7.0, 3.6), (5.4, 2.8)])
    whole = ring_of(shapely.box(0.6, 0.6, 19.4, 0.6001).buffer(0.6).union(leaf))
    for points, part, least, most in (
        (bitten, (bitten[:, 0] > 9.2) & (bitten[:, 0] < 10.4) & (bitten[:, 1] > 0.5), 0.7, 1.0),
        (whole, np.ones(len(whole), np.bool_), 0.0, 0.15),
    ):
        once, worn = np.zeros(len(points), np.bool_), np.ones(len(points), np.bool_)
        lost = loss_edges(points, once, worn, gilt_side=1)
        assert least <= lost[part].mean() <= most


def test_an_edge_two_sources_show_is_outline_however_ragged() -> None:
    points = ragged_stroke()
    twice = np.ones(len(points), np.bool_)
    assert not loss_edges(points, twice, twice, gilt_side=1).any()


def test_where_nothing_is_worn_no_edge_is_a_losses() -> None:
    points = ragged_stroke()
    nowhere = np.zeros(len(points), np.bool_)
    assert not loss_edges(points, nowhere, nowhere, gilt_side=1).any()


def test_one_photograph_alone_has_no_edge_called_a_losses() -> None:
    ornament = scrollwork(np.random.default_rng(5), (15, 15, 135, 95), scrolls=4)
    paint = painted(ornament, SIZE, PPM)
    lost = wear(np.random.default_rng(1), paint.shape, PPM, 0.3)
    gathered = gather([gilt_map(np.where(lost, 0, paint).astype(np.uint8))], ["here"])
    assert gathered.witnesses is None
    drawing = graded(trace(gathered.coverage, PPM, (0.0, 0.0)), gathered)
    assert EDGE_OF_A_LOSS not in drawing.length_by_source()


@pytest.mark.parametrize(("shown_mm", "kept"), [(0.5, False), (1.2, True)])
def test_what_two_show_for_long_stays_outline_in_what_odds_call_a_losses(
    shown_mm, kept, monkeypatch
) -> None:
    # a stroke of 2 mm cut straight across; another source shows that end for a part of its width
    paint = painted(Ornament(shapely.MultiPolygon([shapely.box(5, 5, 7, 20)])), (12.0, 24.0), PPM)
    bands = edge_bands(paint, PPM)
    shown = np.zeros_like(bands)
    end = slice(round(4.5 * PPM), round(5.5 * PPM)), slice(0, round((5.0 + shown_mm) * PPM))
    shown[end] = bands[end]
    nobody = np.zeros(paint.shape, np.uint8)
    gathered = Gathered(
        paint,
        nobody,
        ("here", "there"),
        (Grade.SEEN, Grade.INFERRED),
        np.ones_like(paint),
        PPM,
        (0.0, 0.0),
        witnesses=shown,
        own=paint,
    )
    module = sys.modules[graded.__module__]
    monkeypatch.setattr(module, "learnt_odds", lambda known, asked: np.full(len(asked), 9.0))
    told = graded(trace(paint, PPM, (0.0, 0.0)), gathered).length_by_source()
    lost = 2.0 - (shown_mm if kept else 0.0)
    assert told[EDGE_OF_A_LOSS] == pytest.approx(2 * 2.0 - 2.0 + lost, abs=0.4)
