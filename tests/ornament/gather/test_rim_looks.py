"""What rims look like by themselves, and what a piece teaches of that."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from ironlace.ornament.gather.rim_looks import rim_looks, taught_odds

PPM = 16.0
PLACES = 4000


def piece(rng: np.random.Generator, softer: float) -> tuple[np.ndarray, ...]:
    """Rims of which half are eaten, those softer by so much; copies tell a third of each kind."""
    points = rng.uniform(0, 100, (PLACES, 2))
    turn = rng.uniform(0, 2 * np.pi, PLACES)
    inwards = np.column_stack([np.cos(turn), np.sin(turn)])
    eaten = rng.random(PLACES) < 0.5
    told = rng.random(PLACES) < 0.33
    off = np.where(told & eaten, 0.15, np.nan)
    agreed = np.where(told & ~eaten, 2.0, 0.0)
    looks = rng.normal(0, 0.1, (PLACES, 5))
    looks[:, 0] -= softer * eaten
    return looks, off, agreed, points, inwards, eaten, told


@pytest.mark.parametrize("softer", [0.25, -0.25])
def test_eaten_rims_of_which_no_copy_tells_are_told_by_their_looks(softer: float) -> None:
    *given, eaten, told = piece(np.random.default_rng(1), softer)
    odds = taught_odds(*given)
    assert np.mean((odds < 0)[~told & eaten]) > 0.85
    assert np.mean((odds > 0)[~told & ~eaten]) > 0.85


def test_a_camera_softer_at_one_side_and_one_way_teaches_nothing() -> None:
    # the eaten ones lie mostly where the picture is soft, and look like all others there
    looks, _, _, points, inwards, _, told = piece(np.random.default_rng(2), 0.0)
    away = points[:, 0] - 50.0 + 15.0 * np.random.default_rng(3).normal(0, 1, PLACES)
    off = np.where(told & (away > 0), 0.15, np.nan)
    agreed = np.where(told & (away <= 0), 2.0, 0.0)
    turned = inwards[:, 0] ** 2 - inwards[:, 1] ** 2
    soft = -0.6 * points[:, 0] / 100.0 - 0.3 * turned
    looks[:, :2] += soft[:, None]
    odds = taught_odds(looks, off, agreed, points, inwards)
    assert np.abs(odds).mean() < 0.35 and np.abs(odds).max() < 1.5


def test_few_known_rims_teach_nothing() -> None:
    looks, off, agreed, points, inwards, _, _ = piece(np.random.default_rng(4), 0.25)
    off[np.flatnonzero(np.isfinite(off))[200:]] = np.nan
    assert not taught_odds(looks, off, agreed, points, inwards).any()


def test_looks_tell_a_soft_edge_and_thin_gilt_and_none_where_no_edge_is() -> None:
    rng = np.random.default_rng(5)
    bar = np.zeros((160, 320), np.float32)
    bar[80:] = 230.0
    bar[80:, 160:] = 190.0
    bar = cv2.GaussianBlur(bar, (0, 0), 0.7)
    bar[:, 160:] = cv2.GaussianBlur(bar[:, 160:], (0, 0), 1.2)
    picture = np.clip(bar + rng.normal(0, 3, bar.shape), 0, 255).astype(np.uint8)
    edge = np.column_stack([np.arange(40, 280, 0.05 * PPM), np.full(300, 79.5)])
    edge[200:] = np.nan
    looks = rim_looks(edge, np.tile([0.0, 1.0], (300, 1)), picture, PPM)
    crisp, soft = looks[40:110], looks[165:195]
    assert (crisp[:, 0].mean() - soft[:, 0].mean()) > 0.3
    assert crisp[:, 2].mean() > soft[:, 2].mean() + 30
    assert np.isnan(looks[260, 0])
