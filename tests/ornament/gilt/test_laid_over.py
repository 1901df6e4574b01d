"""A thing on the work is told from a mirrored light by the gilt that ends at it, by light alone."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from ironlace.ornament.gilt.laid_over import (
    coloured,
    gone_grey,
    laid_over,
    other_paint,
    paler_than_gilt,
    redder_than_gilt,
    without_vouched,
)

SCALE, SIZE = 5.0, (400, 600)
GOLD, JAPAN = np.array([0.45, 0.32, 0.13]), 0.012
CARD = (slice(120, 280), slice(200, 400))


def strokes(pitch: int = 38, wide: int = 6) -> np.ndarray:
    """Slanting strokes all over, 1.2 mm wide."""
    gilt = np.zeros(SIZE, np.float32)
    for x in range(-400, 1000, pitch):
        cv2.line(gilt, (x, 0), (x + 300, 400), 1.0, wide)
    return gilt


@pytest.mark.parametrize("light", [0.025, 0.08, 0.3])
def test_a_grey_thing_is_told_however_dark_and_a_mirrored_light_is_not(light):
    ground = np.full((*SIZE, 3), JAPAN, np.float32)
    ground[CARD] += np.float32(light)
    gilt = strokes()
    seen = np.ones(SIZE, np.bool_)
    assert not laid_over(ground, gilt, seen, 0.35, SCALE).any()  # gilt shows through it
    gilt[CARD] = 0.0
    told = laid_over(ground, gilt, seen, 0.35, SCALE)
    assert told[CARD].mean() > 0.97
    told[CARD] = False
    assert told.mean() < 0.01


@pytest.mark.parametrize("japan", [(0.012, 0.011, 0.011), (0.06, 0.12, 0.26), (0.25, 0.06, 0.04)])
def test_a_light_coloured_thing_is_told_on_any_japan_and_its_own_light_is_not(japan):
    # an arm whose japan is twice as light where it faces the lamp
    facing = np.linspace(0.6, 1.25, SIZE[1])[None, :, None] * np.ones((SIZE[0], 1, 1))
    ground = (facing * np.array(japan)).astype(np.float32)
    gilt, seen = strokes() > 0.5, np.ones(SIZE, np.bool_)
    assert not coloured(ground, gilt, seen, GOLD, SCALE).any()
    ground[CARD] = (0.55, 0.36, 0.14) if japan[0] < 0.2 else (0.1, 0.2, 0.5)
    gilt[CARD] = False
    told = coloured(ground, gilt, seen, GOLD, SCALE)
    assert told[CARD].mean() > 0.9
    told[CARD] = False
    assert not told.any()


def test_light_mirrored_in_a_bare_field_is_no_thing():
    ground = np.full((*SIZE, 3), JAPAN, np.float32)
    ground[CARD] += np.float32(0.1)
    gilt = strokes()
    gilt[95:305, 175:425] = 0.0  # 5 mm of bare japan around it
    assert not laid_over(ground, gilt, np.ones(SIZE, np.bool_), 0.35, SCALE).any()


def test_a_sheen_that_fills_a_bare_field_is_no_thing():
    v, u = np.mgrid[: SIZE[0], : SIZE[1]]
    field = np.hypot((u - 300) / 130, (v - 200) / 90) < 1
    lobe = 0.027 * np.exp(-1.2 * (((u - 300) / 130) ** 2 + ((v - 200) / 90) ** 2))
    ground = (JAPAN + lobe[..., None] * np.ones(3)).astype(np.float32)
    gilt = strokes()
    gilt[field] = 0.0
    assert not laid_over(ground, gilt, np.ones(SIZE, np.bool_), 0.35, SCALE).any()


@pytest.mark.parametrize(
    ("colour", "wide", "told"),
    [
        ((0.42, 0.33, 0.20), 12, True),
        ((0.42, 0.29, 0.16), 60, True),
        ((0.40, 0.28, 0.11), 60, False),
    ],
    ids=["a rope", "brown paper", "a wide part of somewhat darker gilt"],
)
def test_what_is_paler_than_the_gilt_around_it_is_another_thing(colour, wide, told):
    gilt = strokes()
    rise = gilt[..., None] * GOLD
    band = np.zeros(SIZE, np.uint8)
    cv2.line(band, (0, 200), (600, 180), 1, wide)
    rise[band > 0] = colour
    rise += np.random.default_rng(2).normal(0, 0.01, rise.shape)
    region = (gilt > 0) | (band > 0)
    core = cv2.erode(region.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    rise = rise.astype(np.float32)
    paler = paler_than_gilt(rise, core, region, GOLD.astype(np.float32), SCALE)
    assert (paler[band > 0].mean() > 0.5) if told else not paler.any()
    assert paler[band == 0].mean() < 0.02


def test_gilt_that_pales_by_degrees_towards_a_lamp_of_another_colour_is_no_thing():
    gilt = strokes()
    towards = np.linspace(0, 1, SIZE[1])[None, :, None]
    rise = gilt[..., None] * (GOLD * (1 - towards) + np.array([0.42, 0.34, 0.21]) * towards)
    core = cv2.erode((gilt > 0).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    rise = rise.astype(np.float32)
    paler = paler_than_gilt(rise, core, gilt > 0, GOLD.astype(np.float32), SCALE)
    assert not paler.any()
    # where it is so at once it is another thing
    rise[:, :300], rise[:, 300:] = (
        gilt[:, :300, None] * GOLD,
        gilt[:, 300:, None] * (0.42, 0.34, 0.21),
    )
    paler = paler_than_gilt(rise, core, gilt > 0, GOLD.astype(np.float32), SCALE)
    assert paler[:, 310:][core[:, 310:]].mean() > 0.9 and not paler[:, :280].any()


@pytest.mark.parametrize("bright", [0.30, 0.9], ids=["rust", "red gilt as bright"])
def test_rust_beside_gilt_is_told_by_being_redder_and_darker(bright):
    gilt = strokes()
    rise = gilt[..., None] * GOLD
    patch = np.zeros(SIZE, np.bool_)
    patch[150:190, 210:260] = True
    red = np.array([0.21, 0.09, 0.045])
    rise[patch] = red * (bright / 0.30)
    rise += np.random.default_rng(3).normal(0, 0.01, rise.shape)
    region = (gilt > 0) | patch
    rust = redder_than_gilt(rise.astype(np.float32), region, GOLD.astype(np.float32), SCALE)
    assert rust[patch].mean() > 0.9 if bright < 0.5 else not rust.any()
    far = cv2.dilate(patch.astype(np.uint8), np.ones((9, 9), np.uint8)) == 0
    assert not rust[far].any()


def test_gilt_that_reddens_and_dims_by_degrees_is_not_called_rust():
    gilt = strokes()
    towards = np.linspace(0, 1, SIZE[1])[None, :, None]
    rise = gilt[..., None] * (GOLD * (1 - towards) + np.array([0.30, 0.15, 0.06]) * towards)
    rust = redder_than_gilt(rise.astype(np.float32), gilt > 0, GOLD.astype(np.float32), SCALE)
    assert not rust.any()


def test_what_the_user_points_at_as_gilt_is_no_thing():
    over = np.zeros(SIZE, np.bool_)
    over[CARD] = over[300:340, 20:60] = True
    left = without_vouched(over, [(slice(198, 202), slice(298, 302))])
    assert not left[CARD].any()
    assert left[300:340, 20:60].all()
    assert without_vouched(over, [(slice(0, 4), slice(0, 4))]).sum() == over.sum()


@pytest.mark.parametrize(
    ("light", "told"),
    [((0.1, 0.22, 0.15), True), ((0.42, 0.41, 0.38), False), ((0.02, 0.03, 0.02), False)],
)
def test_strokes_of_another_colour_are_told_and_grey_light_is_not(light, told):
    gilt = np.zeros((200, 200), np.bool_)
    gilt[20:30, 10:190] = True
    other = np.zeros_like(gilt)
    other[100:105, 10:190] = True
    rise = gilt[..., None] * np.float32([0.5, 0.35, 0.13]) + other[..., None] * np.float32(light)
    colour = np.float32([0.5, 0.35, 0.13])
    seen = np.ones_like(gilt)
    found = other_paint(rise.astype(np.float32), gilt, seen, colour, 5.0) > 0
    assert bool(found.any()) == told
    assert not (found & ~cv2.dilate(other.astype(np.uint8), np.ones((7, 7))).astype(bool)).any()
    # a fleck or two is little beside the gilt
    rise[:, 20:] *= gilt[:, 20:, None]
    assert not other_paint(rise.astype(np.float32), gilt, seen, colour, 5.0).any()


def bars(pale: np.ndarray) -> np.ndarray:
    """Light over ground of twelve bars of gilt, each grey by so much along it, 0 to 1."""
    gilt = np.zeros((300, 400), np.float32)
    for y in range(10, 290, 24):
        gilt[y : y + 8, 10:390] = 1.0
    gold, white = np.float32([0.5, 0.35, 0.13]), np.float32([0.42, 0.41, 0.38])
    return gilt[..., None] * (gold * (1 - pale[..., None]) + white * pale[..., None])


def test_gilt_that_pales_to_grey_is_told_and_grey_that_it_does_not_pale_to_is_not():
    colour, seen = np.float32([0.5, 0.35, 0.13]), np.ones((300, 400), np.bool_)
    along = np.broadcast_to(np.linspace(0, 1, 400, dtype=np.float32), (300, 400))
    gone = bars(np.clip(3.0 * along - 1.2, 0, 1))
    told = gone_grey(gone, seen, seen, colour, 5.0) > 0
    assert told[:, 320:380].any()
    assert not told[:, :150].any()
    # grey slips beside gilt, at which it ends at once: pearl, or bare iron
    assert not gone_grey(bars((along > 0.6).astype(np.float32)), seen, seen, colour, 5.0).any()
    # a lamp mirrored across it adds its light
    lamp = bars(np.zeros((300, 400), np.float32))
    lamp[:, 200:260] += 0.35
    assert not gone_grey(lamp, seen, seen, colour, 5.0).any()
    assert not gone_grey(bars(np.zeros((300, 400), np.float32)), seen, seen, colour, 5.0).any()


def test_what_pales_under_a_thing_is_not_told_as_grey_but_counts_as_paling():
    colour, seen = np.float32([0.5, 0.35, 0.13]), np.ones((300, 400), np.bool_)
    along = np.broadcast_to(np.linspace(0, 1, 400, dtype=np.float32), (300, 400))
    light = bars(np.clip(3.0 * along - 1.2, 0, 1))
    open_ = seen.copy()
    open_[:, 160:300] = False
    told = gone_grey(light, seen, open_, colour, 5.0) > 0
    assert told[:, 320:380].any()
    assert not told[:, 170:290].any()
