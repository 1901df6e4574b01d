"""Pictures stored in blocks: told by the blocks, and single stitches widen by them."""

import cv2
import numpy as np
import pytest

from ironlace.running.seam.bearing import Origin
from ironlace.running.seam.seam_analysis import seam_found
from ironlace.running.seam.stored_blocks import blocks_px
from shaded_seams import case_of, made


def stored(pixels, quality):
    """Through the library's own writer and reader of such files."""
    _, held = cv2.imencode(".jpg", pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])
    return cv2.imdecode(held, cv2.IMREAD_COLOR)[..., ::-1]


def cloth(rng, size=(240, 400)):
    """Threads over and under, with light and grain, uint8."""
    y, x = np.mgrid[: size[0], : size[1]]
    weave = np.sin(x * 2 * np.pi / 8.0) * np.sin(y * 2 * np.pi / 8.0)  # a beat like the blocks'
    grain = cv2.GaussianBlur(rng.normal(0, 30, size), (0, 0), 1.2)
    return np.clip(120 + 25 * weave + grain, 0, 255).astype(np.uint8)[..., None].repeat(3, 2)


@pytest.mark.parametrize(("quality", "cut"), [(30, (0, 0)), (30, (3, 5)), (50, (7, 1))])
def test_rough_blocks_are_seen_wherever_the_picture_was_cut(quality, cut):
    pixels = stored(cloth(np.random.default_rng(4)), quality)
    assert blocks_px(pixels[cut[0] :, cut[1] :]) == 8


@pytest.mark.parametrize("seed", range(4))
def test_cloth_whose_threads_beat_like_blocks_has_none(seed):
    assert blocks_px(cloth(np.random.default_rng(seed))) == 0


def test_a_picture_of_one_tone_or_a_few_rows_has_none():
    assert blocks_px(np.full((200, 200, 3), 90, np.uint8)) == 0
    assert blocks_px(cloth(np.random.default_rng(1), (20, 400))) == 0


def test_single_stitches_of_a_roughly_stored_seam_are_told_wider_and_it_is_said():
    rng = np.random.default_rng([3, 0])
    case = made(rng, case_of(rng, "plain"))
    clear = seam_found(case.pixels, Origin(), dpi=case.dpi, layout=None)
    rough = seam_found(stored(case.pixels, 30), Origin(), dpi=case.dpi, layout=None)
    assert np.median(rough.measured.half_mm) > 2.0 * np.median(clear.measured.half_mm)
    assert "stored roughly, in blocks of 0.34 mm" in " ".join(rough.judged.notices)
    assert "stored roughly" not in " ".join(clear.judged.notices)
