import cv2
import numpy as np
import pytest

from ironlace.marks.capture.frames import (
    Frames,
    all_sharp,
    light_of_numbers,
    median_picture,
    saturated_share,
    smoothed,
)
from ironlace.marks.errors import MarksError


def test_a_photograph_of_another_size_is_refused_by_name():
    pictures = (np.zeros((8, 9), np.uint8), np.zeros((8, 10), np.uint8))
    with pytest.raises(MarksError, match=r"b.png is 10 x 8 .* a.png is 9 x 8"):
        Frames(("a.png", "b.png"), pictures)


def test_the_same_file_twice_is_refused():
    with pytest.raises(MarksError, match="once"):
        Frames(("a.png", "a.png"), (np.zeros((8, 9), np.uint8),) * 2)


@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
def test_the_same_picture_under_two_names_is_refused_with_both(kind):
    one, other = np.random.default_rng(4).integers(0, 255, (2, 40, 50)).astype(kind)
    near = one.copy()
    near[5, 7] += 1
    Frames(("a", "b", "c"), (one, other, near))
    with pytest.raises(MarksError, match=r"^c is the same picture as a: give each"):
        Frames(("a", "b", "c"), (one, other, one.copy()))


def test_two_photographs_are_too_few():
    with pytest.raises(MarksError, match="2 photographs were given"):
        Frames(("a", "b"), (np.zeros((8, 9), np.uint8),) * 2).must_be_enough()


@pytest.mark.parametrize("count", [3, 4, 7])
def test_the_median_is_numpys(count):
    pictures = np.random.default_rng(1).integers(0, 256, (count, 300, 7)).astype(np.uint8)
    np.testing.assert_allclose(median_picture(list(pictures)), np.median(pictures, axis=0))


def test_numbers_stand_for_light_in_both_ways():
    assert light_of_numbers(255, "linear")[51] == pytest.approx(0.2)
    assert light_of_numbers(255, "srgb")[188] == pytest.approx(0.5028, abs=1e-4)
    assert len(light_of_numbers(65535, "srgb")) == 65536


def test_white_is_counted():
    picture = np.zeros((10, 10), np.uint8)
    picture[:3] = 255
    assert saturated_share(picture, 255) == pytest.approx(0.3)


def test_the_one_out_of_focus_is_found(frames):
    pictures = [*frames.pictures]
    pictures[4] = cv2.GaussianBlur(pictures[4], (0, 0), 1.6)
    sharp = all_sharp(Frames(frames.names, tuple(pictures)))
    assert [n for n, one in enumerate(sharp) if not one] == [4]


@pytest.mark.parametrize(
    ("smooth", "edge_px", "told"), [(False, 0.7, False), (True, 0.7, True), (True, 1.3, False)]
)
def test_metal_smoothed_by_a_program_is_told_where_edges_are_sharp(smooth, edge_px, told):
    rng = np.random.default_rng(6)
    grain = cv2.GaussianBlur(rng.standard_normal((200, 300)).astype(np.float32), (0, 0), 1.0)
    pictures = []
    for _ in range(3):
        picture = 120 + 30 * grain + 2 * rng.standard_normal(grain.shape)
        if smooth:
            picture = cv2.GaussianBlur(picture, (0, 0), 6.0)
        pictures.append(np.clip(picture, 0, 255).astype(np.uint8))
    assert smoothed(Frames(("a", "b", "c"), tuple(pictures)), edge_px) is told
