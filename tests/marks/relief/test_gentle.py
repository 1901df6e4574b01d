"""Gentle places by polynomials, against the metal's own formula written out anew."""

import numpy as np

from ironlace.marks.relief.gentle import TRUE, gentle_light, powers
from ironlace.marks.relief.stereo import BentLight, robust_with_lobe


def torches(elevations, count=12):
    turn = np.linspace(0, 2 * np.pi, count, endpoint=False)
    high = np.radians(np.resize(elevations, count))
    return np.stack([np.cos(high) * np.cos(turn), np.cos(high) * np.sin(turn), np.sin(high)], 1)


def seen(towards, normals, strength, exponent):
    half = towards + np.array([0.0, 0.0, 1.0])
    half /= np.linalg.norm(half, axis=1, keepdims=True)
    up = towards[:, 2] + strength * half[:, 2] ** exponent
    shine = np.maximum(half @ normals, 0) ** exponent
    return (np.maximum(towards @ normals, 0) + strength * shine) / up[:, None]


def test_polynomials_tell_the_light_of_a_gentle_place():
    rng = np.random.default_rng(4)
    towards = torches((18, 30, 45))
    gentle = gentle_light(BentLight.over(towards.astype(np.float32), 0.6, 17.0))
    lean = gentle.reach * np.sqrt(rng.uniform(size=500))
    turn = rng.uniform(0, 2 * np.pi, 500)
    x, y = lean * np.cos(turn), lean * np.sin(turn)
    normals = np.stack([x, y, np.sqrt(1 - x * x - y * y)])
    told = gentle.told @ powers(x / gentle.reach, y / gentle.reach)
    assert np.abs(told - seen(towards, normals, 0.6, 17.0)).max() < 1.5 * TRUE


def test_torches_along_the_plate_leave_no_place_gentle():
    assert gentle_light(BentLight.over(torches((5,)).astype(np.float32), 0.6, 17.0)) is None


def test_gentle_and_steep_places_of_one_tile_come_out_alike():
    rng = np.random.default_rng(5)
    towards = torches((22, 35, 48), 24)
    lean, turn = rng.uniform(0, 0.4, 6000), rng.uniform(0, 2 * np.pi, 6000)
    x, y = lean * np.cos(turn), lean * np.sin(turn)
    normals = np.stack([x, y, np.sqrt(1 - x * x - y * y)])
    light = seen(towards, normals, 0.6, 14.0).astype(np.float32)
    bent = BentLight.over(towards.astype(np.float32), 0.6, 14.0)
    found = robust_with_lobe(light, bent, dark=np.full(24, 0.01, np.float32))
    off = np.degrees(np.arccos(np.clip((found.normals * normals).sum(0), -1, 1)))
    reach = gentle_light(bent).reach
    assert np.mean(lean < reach) > 0.2
    assert off[lean < reach].max() < 0.4
    assert np.percentile(off[lean >= reach], 99) < 0.4
