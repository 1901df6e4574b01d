"""Edges of losses learnt from those that another source tells."""

from __future__ import annotations

import cv2
import numpy as np
from shapely import MultiPolygon, box

from darkroom import Ornament, painted
from ironlace.ornament.gather.edge_paint import paint_measures
from ironlace.ornament.gather.known_edges import MEASURES, known_edges, learnt_odds
from ironlace.ornament.gather.loss_edges import (
    LIKELY,
    by_several,
    edge_bands,
    log_odds,
    shown,
    stretches_of,
    witnessed,
)

PPM = 12.0
PAINT = np.tile([-4.0, 6.0, 0.0, 0.0, 0.0], (20, 1))
"""Unevenness, sharpness, way and place of edges that are all alike."""
TEETH = MultiPolygon([box(4 + 3 * n, 4, 5.2 + 3 * n, 16) for n in range(12)])


def torn(paint: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Half of the teeth torn off unevenly at their lower end."""
    out = paint.copy()
    for n in range(0, 12, 2):
        x = np.linspace(3.5 + 3 * n, 5.7 + 3 * n, 12)
        y = rng.uniform(11, 13) + rng.uniform(-0.25, 0.25, 12)
        ring = np.vstack([np.column_stack([x, y]), [(x[-1], 17), (x[0], 17)]])
        cv2.fillPoly(out, [np.round(ring * PPM - 0.5).astype(np.int32)], 0)
    return cv2.GaussianBlur(out, (0, 0), 0.7)


def test_ends_that_both_show_are_outline_and_torn_ones_a_losses() -> None:
    rng = np.random.default_rng(3)
    paint = painted(Ornament(TEETH), (42.0, 20.0), PPM)
    like = cv2.GaussianBlur(paint, (0, 0), 0.7)
    everywhere = np.ones(paint.shape, np.bool_)
    known = known_edges(torn(paint, rng), like, everywhere, PPM)
    # ends of 1.2 mm, and the sides' upper stretches as far as they are short enough
    across = np.abs(np.exp(known[:, 1]) - 1.2) < 0.5
    assert np.count_nonzero(across & (known[:, MEASURES] == 0)) >= 12
    assert np.count_nonzero(known[:, MEASURES] == 1) >= 6
    hidden = known_edges(torn(paint, rng), like, ~everywhere, PPM)
    assert hidden.shape == (0, MEASURES + 1)


def test_what_is_known_of_a_piece_outweighs_general_odds() -> None:
    ends = stretches_of(_tooth(0.0), 1)[1]
    straight = ends[np.argmin(np.abs(ends[:, 1] - np.log(1.2)))]
    rough = np.array([_rough(n) for n in range(20)])
    plain = straight + np.random.default_rng(0).normal(0, 0.05, (20, 7)) * (np.arange(7) > 0)
    # of paint that ends alike everywhere only the shape is learnt
    known = np.vstack([np.c_[rough, PAINT, np.ones(20)], np.c_[plain, PAINT, np.zeros(20)]])
    shape = np.vstack([straight, rough[:1]])
    asked = np.c_[shape, PAINT[:2]]
    general, learnt = log_odds(shape), learnt_odds(known, asked)
    assert learnt[0] < general[0] - 1.0
    assert learnt[1] > LIKELY and learnt[0] < LIKELY
    assert np.array_equal(learnt_odds(None, asked), general)
    # of one kind alone nothing can be learnt
    assert np.array_equal(learnt_odds(known[:20], asked), general)


def test_softer_edges_may_be_losses_and_sharper_ones_never_for_that() -> None:
    rng = np.random.default_rng(4)
    ends = stretches_of(_tooth(0.0), 1)[1]
    straight = ends[np.argmin(np.abs(ends[:, 1] - np.log(1.2)))]
    shape = straight + rng.normal(0, 0.05, (60, 7)) * (np.arange(7) > 0)
    asked = np.c_[np.tile(straight, (2, 1)), [-4.0, -4.0], [6.0, 4.5], np.zeros((2, 3))]
    lost = np.arange(60) % 2
    for sharp, at_least in ((6.0 - 1.5 * lost, 2.0), (4.5 + 1.5 * lost, -0.01)):
        falls = sharp + rng.normal(0, 0.1, 60)
        known = np.c_[shape, np.full(60, -4.0), falls, np.zeros((60, 3)), lost]
        crisp, soft = learnt_odds(known, asked)
        assert soft - crisp > at_least


def test_a_straight_edge_that_runs_no_way_of_the_design_may_be_a_losss() -> None:
    rng = np.random.default_rng(8)
    ends = stretches_of(_tooth(0.0), 1)[1]
    straight = ends[np.argmin(np.abs(ends[:, 1] - np.log(1.2)))]
    shape = straight + rng.normal(0, 0.05, (80, 7)) * (np.arange(7) > 0)
    lost = np.arange(80) % 2
    # a fret runs square, what chipped it any way
    square = rng.integers(0, 4, 80) * np.pi / 2 + rng.normal(0, 0.02, 80)
    anyhow = rng.uniform(-np.pi, np.pi, 80)
    paint = np.full((80, 1), -4.0), np.full((80, 1), 6.0)
    ways = [0.0, 1.5708, 0.7, -2.3]
    paint_of = np.tile([-4.0, 6.0], (4, 1))
    asked = np.c_[np.tile(straight, (4, 1)), paint_of, ways, np.zeros((4, 2))]
    told = []
    for way in (np.where(lost, anyhow, square), anyhow):
        told.append(learnt_odds(np.c_[shape, *paint, way, np.zeros((80, 2)), lost], asked))
    assert told[0][2:].min() > told[0][:2].max() + 2.0
    # where both run anyhow no way tells anything
    assert np.ptp(told[1]) < 1.0


def test_an_edge_on_the_line_of_known_losses_is_a_losss_and_on_a_frets_is_none() -> None:
    rng = np.random.default_rng(9)
    straight = _short_end()
    # ten scratches, each over eight strokes some 1.5 mm apart, and ten rules of a fret
    at, way, lost = [], [], []
    for line in range(20):
        turn, middle = rng.uniform(-np.pi, np.pi), rng.uniform(0, 200, 2)
        along = np.arange(8)[:, None] * 1.5 * [[np.cos(turn), np.sin(turn)]]
        at.append(middle + along + rng.normal(0, 0.02, (8, 2)))
        way.append(turn + rng.normal(0, 0.05, 8))
        lost.append(np.full(8, line % 2))
    at, way, lost = np.vstack(at), np.concatenate(way), np.concatenate(lost)
    shape = straight + rng.normal(0, 0.05, (160, 7)) * (np.arange(7) > 0)
    known = np.c_[shape, np.tile([-4.0, 6.0], (160, 1)), way, at, lost]
    # the fourth stroke of each line is asked
    known, asked = known[np.arange(160) % 8 != 3], known[np.arange(160) % 8 == 3]
    asked[:, :7] = straight
    odds = learnt_odds(known, asked[:, :MEASURES])
    assert odds[1::2].min() > odds[0::2].max() + 1.0


def test_what_two_sources_show_is_a_losss_only_if_the_piece_says_so_plainly() -> None:
    rng = np.random.default_rng(11)
    straight = _short_end()
    lost = np.arange(400) % 2
    shape = np.tile(straight, (400, 1)) + rng.normal(0, 0.05, (400, 7)) * (np.arange(7) > 0)
    uneven = rng.normal(np.where(lost, -3.0, -4.6), 0.25)
    way, at = rng.uniform(-np.pi, np.pi, 400), rng.uniform(0, 900, (400, 2))
    known = np.c_[shape, uneven, np.full(400, 6.0), way, at, lost]
    asked = np.c_[np.tile(straight, (2, 1)), [-4.8, -2.8], np.full(2, 6.0), np.zeros((2, 3))]
    twice = asked.copy()
    twice[:, 0] = 1.0
    everything = np.vstack([asked, twice])
    even, ragged, even_twice, ragged_twice = learnt_odds(known, everything)
    assert even < LIKELY < ragged_twice < ragged - 1.0
    assert even_twice < even - 1.0
    # what teaches nothing speaks against no two witnesses
    assert learnt_odds(None, everything)[2:].max() == -np.inf


def test_odds_far_from_what_is_known_are_learnt_all_the_same() -> None:
    # long and turning twice, by general odds one in 700; a whole step of Newton's from there
    # overshoots, and calls everything an outline for good
    rng = np.random.default_rng(10)
    lost = np.arange(2000) % 5 < 2
    shape = np.tile([0.0, 1.7, 0.0, 0.8, 2.2, 0.7, 1.0], (2000, 1))
    shape[:, 2] = np.where(lost, -3.2, -4.8)
    shape += rng.normal(0, 0.1, (2000, 7)) * (np.arange(7) > 0)
    paint = np.tile([-4.0, 6.0], (2000, 1))
    way, at = rng.uniform(-np.pi, np.pi, 2000), rng.uniform(0, 150, (2000, 2))
    known = np.c_[shape, paint, way, at, lost]
    odds = learnt_odds(known[:1800], known[1800:, :MEASURES])
    assert np.mean((odds > 0) == lost[1800:]) > 0.9
    assert np.abs(odds).max() < 50.0


def test_unevenness_and_sharpness_are_measured_on_the_paint() -> None:
    rng = np.random.default_rng(6)
    x = (np.arange(240) + 0.5) / PPM
    tear = cv2.GaussianBlur(rng.normal(0, 1, (1, 240)), (0, 0), 1.5)[0] * 0.1
    rows = (np.arange(120)[:, None] + 0.5) / PPM
    told = []
    for edge, blur in ((0.0 * tear, 0.7), (tear, 0.7), (0.0 * tear, 2.5)):
        paint = np.clip((5.0 + edge - rows) * PPM + 0.5, 0, 1) * 255
        picture = cv2.GaussianBlur(paint, (0, 0), blur).astype(np.uint8)
        there = np.c_[np.arange(2, 18, 0.05), np.full(320, 5.0)]
        ring = np.vstack([there, there[::-1] - (0.0, 3.0)])
        told.append(paint_measures([np.arange(20, 300)], ring, -1, picture, PPM)[0])
    (even, crisp), (torn_, _), (soft_even, soft) = told
    assert x[-1] > 18 and torn_ > even + 1.0 and soft_even < even + 0.3
    assert soft < 0.6 * crisp


def test_a_ring_of_two_metres_is_measured_as_its_pieces_are() -> None:
    picture = np.full((30, 1200), 255, np.uint8)
    picture[:15] = 0
    turns = np.tile(np.r_[np.arange(40, 1160), np.arange(1160, 40, -1)] / PPM, 20)
    ring = np.c_[turns, np.full(len(turns), 15 / PPM)]
    parts = [np.arange(first, first + 900) for first in (100, len(ring) - 1_000)]
    assert len(ring) > 32_767
    whole = paint_measures(parts, ring, 1, picture, PPM)
    alone = paint_measures(parts[:1], ring[:1_120], 1, picture, PPM)
    np.testing.assert_allclose(whole[0], alone[0], atol=1e-12)
    np.testing.assert_allclose(whole[1, 1], alone[0, 1], atol=1e-6)


def test_an_edge_beside_another_that_runs_elsewhere_is_not_seen_twice() -> None:
    rows, columns = np.mgrid[0:80, 0:80] - 40
    level, upright, aslant = (
        np.clip(127 - 255 * across, 0, 255).astype(np.uint8)
        for across in (rows, columns, 0.75 * rows + 0.66 * columns)
    )
    way = np.array([[-1.0, 0.1], [0.1, 1.0]])
    nothing = np.zeros(level.shape, np.uint16)
    for other, twice in ((level, [True, False]), (upright, [False, False])):
        told = witnessed(witnessed(nothing, edge_bands(level, PPM)), edge_bands(other, PPM))
        assert shown(np.full(2, by_several(told)[40, 10], np.int64), way).tolist() == twice
    for other in (upright, aslant):
        crossing = witnessed(edge_bands(level, PPM), edge_bands(other, PPM))
        assert not shown(np.full(2, by_several(crossing)[40, 40], np.int64), way).any()


def test_an_edge_spreads_as_far_as_register_goes_and_no_farther() -> None:
    for ppm, reach in ((PPM, 1), (24.0, 2)):
        level = np.where(np.arange(80)[:, None] < 40, 255, 0).repeat(60, axis=1).astype(np.uint8)
        rows = np.flatnonzero(edge_bands(level, ppm)[:, 30])
        assert (rows.min(), rows.max()) == (40 - reach, 39 + reach)


def _tooth(rough: float, seed: int = 0) -> np.ndarray:
    """Points 0.05 mm apart round a tooth of 1.2 by 8 mm; its lower end may be rough."""
    rng = np.random.default_rng(seed)
    down, over = np.arange(0, 8, 0.05), np.arange(0, 1.2, 0.05)
    end = cv2.GaussianBlur(rng.normal(0, 1, (1, len(over))), (0, 0), 2)[0] * rough
    sides = [
        np.c_[over, np.zeros_like(over)],
        np.c_[np.full_like(down, 1.2), down],
        np.c_[over[::-1] + 0.05, 8 + end],
        np.c_[np.zeros_like(down), 8 - down],
    ]
    return np.vstack(sides)


def _short_end() -> np.ndarray:
    """Measures of a tooth's even end, straight over 1.2 mm."""
    ends = stretches_of(_tooth(0.0), 1)[1]
    return ends[np.argmin(np.abs(ends[:, 1] - np.log(1.2)))]


def _rough(seed: int) -> np.ndarray:
    _, told = stretches_of(_tooth(0.3, seed + 1), 1)
    return told[np.argmax(told[:, 2])]
