"""Highlights drawn here on a ball's disc: finely, blurred, then taken by larger pixels."""

import cv2
import numpy as np
import pytest

from ironlace.marks.capture.frames import light_of_numbers
from ironlace.marks.capture.highlights import middle_of_highlight
from ironlace.marks.capture.lights import mirrored_ray
from ironlace.marks.capture.outlines import Circle

FINER = 5


def ball(radius, way, *, wide, peak, slope=0.0, disc=False, shift=(0.0, 0.0)):
    """Light of a ball, white cut off at 1; the torch towards `way`, its highlight `wide` radians.

    A Gaussian of the normals, or a disc as evenly bright as a torch's front.
    """
    half = way / np.linalg.norm(way) + np.array([0.0, 0.0, 1.0])
    half /= np.linalg.norm(half)
    size = 2 * (int(radius) + 4) + 1
    at = (np.arange(size * FINER) - (FINER - 1) / 2) / FINER - size // 2
    x, y = (at[None, :] - shift[0]) / radius, -(at[:, None] - shift[1]) / radius
    flat = x**2 + y**2
    z = np.sqrt(np.clip(1 - flat, 0, None))
    off = np.arccos(np.clip(half[0] * x + half[1] * y + half[2] * z, -1, 1))
    shine = (off < 2 * wide) if disc else np.exp(-0.5 * (off / wide) ** 2)
    light = np.where(flat < 1, 0.08 + slope * (x + 0.5 * y) + peak * shine, 0.2)
    light = cv2.GaussianBlur(light, (0, 0), 0.65 * FINER)
    light = light.reshape(size, FINER, size, FINER).mean((1, 3))
    circle = Circle(size // 2 + shift[0], size // 2 + shift[1], radius)
    return np.clip(light, 0, 1).astype(np.float32), circle, half


def off_px(found, half, radius):
    return radius * np.linalg.norm((np.asarray(found) - half)[:2])


@pytest.mark.parametrize("disc", [False, True])
@pytest.mark.parametrize("peak", [0.6, 4.0])
def test_the_middle_of_a_highlight_white_or_not_is_found(disc, peak):
    rng = np.random.default_rng(3)
    for turn in range(6):
        a, e = rng.uniform(0, 2 * np.pi), np.radians(rng.uniform(18, 55))
        way = np.array([np.cos(a) * np.cos(e), np.sin(a) * np.cos(e), np.sin(e)])
        radius = 70.0 + turn
        shift = rng.uniform(-0.5, 0.5, 2)
        light, circle, half = ball(
            radius, way, wide=0.016, peak=peak, slope=0.03, disc=disc, shift=shift
        )
        x = (np.arange(light.shape[1]) - circle.x) / radius
        y = -(np.arange(light.shape[0]) - circle.y) / radius
        near = half + rng.normal(0, 0.3 / radius, 3)
        spot = light > 0.35 * light[light.shape[0] // 2 - 60 : light.shape[0] // 2 + 60].max()
        spot &= (x[None, :] ** 2 + y[:, None] ** 2) < 0.9
        found = middle_of_highlight(light, spot, (x, y), near / np.linalg.norm(near))
        assert found is not None
        assert off_px(found, half, radius) < 0.03


def test_a_form_that_strays_from_the_light_is_none():
    light, circle, half = ball(60.0, np.array([0.5, 0.2, 0.6]), wide=0.02, peak=3.0)
    x = (np.arange(light.shape[1]) - circle.x) / 60.0
    y = -(np.arange(light.shape[0]) - circle.y) / 60.0
    spot = (light > 0.4) & (x[None, :] ** 2 + y[:, None] ** 2 < 0.9)
    wrong = half + np.array([4 / 60.0, 0.0, 0.0])  # as if the mean lay four pixels off
    assert middle_of_highlight(light, spot, (x, y), wrong / np.linalg.norm(wrong)) is None


def test_what_the_ball_mirrors_beside_the_torch_does_not_draw_its_ray_aside():
    """By the mean of its light over an even ground this slope drew it aside by 0.05 to 0.07 px."""
    table = light_of_numbers(255, "linear")
    for around in (0.3, 2.1, 4.0, 5.5):
        way = np.array([0.8 * np.cos(around), 0.8 * np.sin(around), 0.6])
        light, circle, half = ball(60.0, way, wide=0.015, peak=1.5, slope=0.07)
        picture = np.round(255 * light).astype(np.uint8)
        ray = mirrored_ray(picture, circle, table)
        assert ray is not None
        assert ray.alone
        assert off_px(ray.start / circle.r, half, 60.0) < 0.02
        assert ray.direction @ way / np.linalg.norm(way) > np.cos(np.radians(0.05))
