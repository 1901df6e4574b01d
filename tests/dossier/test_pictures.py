"""Smaller copies: never enlarged, upright, on white, or refused with a reason."""

import io

import numpy as np
import pytest
from PIL import Image

from ironlace.dossier.account.whole import PictureFile
from ironlace.dossier.errors import PictureRefusedError
from ironlace.dossier.pictures import copies


def saved(path, image, **how) -> PictureFile:
    image.save(path, **how)
    return PictureFile(path, image.width, image.height)


def opened(jpeg: bytes) -> Image.Image:
    return Image.open(io.BytesIO(jpeg))


def test_longer_edge_is_met_and_nothing_enlarged(tmp_path) -> None:
    picture = saved(tmp_path / "a.jpg", Image.new("RGB", (1200, 800), "grey"))
    made = copies(picture, [300, 600, 5000])
    assert {edge: size[1:] for edge, size in made.items()} == {
        300: (300, 200),
        600: (600, 400),
        5000: (1200, 800),
    }
    assert opened(made[600][0]).size == (600, 400)


def test_transparent_ground_becomes_white(tmp_path) -> None:
    picture = saved(tmp_path / "a.png", Image.new("RGBA", (40, 40), (0, 0, 0, 0)))
    pixel = np.asarray(opened(copies(picture, [40])[40][0]))[20, 20]
    assert (pixel > 250).all()


def test_orientation_is_applied_and_exif_left_behind(tmp_path) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6
    exif[0x010E] = "where it was taken"
    picture = saved(tmp_path / "a.jpg", Image.new("RGB", (80, 40)), exif=exif)
    jpeg, width, height = copies(picture, [80])[80]
    assert (width, height) == (40, 80)
    assert not opened(jpeg).getexif()


@pytest.mark.parametrize("mode", ["L", "P", "CMYK", "1", "I;16"])
def test_other_modes_are_read(tmp_path, mode) -> None:
    path = tmp_path / ("a.jpg" if mode == "CMYK" else "a.png")
    picture = saved(path, Image.new(mode, (30, 20)))
    assert opened(copies(picture, [30])[30][0]).mode == "RGB"


def test_cut_short_file_is_refused(tmp_path) -> None:
    rng = np.random.default_rng(1)
    whole = Image.fromarray(rng.integers(0, 255, (200, 200, 3), np.uint8))
    picture = saved(tmp_path / "a.jpg", whole)
    data = picture.path.read_bytes()
    picture.path.write_bytes(data[: len(data) // 2])
    with pytest.raises(PictureRefusedError, match=r"a\.jpg"):
        copies(picture, [100])


def test_missing_file_is_refused(tmp_path) -> None:
    with pytest.raises(PictureRefusedError, match=r"gone\.jpg"):
        copies(PictureFile(tmp_path / "gone.jpg", 1, 1), [100])


def test_a_copy_that_is_there_goes_out_as_it_is(tmp_path) -> None:
    rng = np.random.default_rng(2)
    whole = Image.fromarray(rng.integers(0, 255, (80, 120, 3), np.uint8))
    view = saved(tmp_path / "120.jpg", whole).path
    small = saved(tmp_path / "60.jpg", whole.resize((60, 40))).path
    picture = PictureFile(view, 120, 80, ready={60: small, 120: view})
    made = copies(picture, [30, 60, 1600])
    assert made[60] == (small.read_bytes(), 60, 40)
    assert made[1600] == (view.read_bytes(), 120, 80)
    assert made[30][1:] == (30, 20)
    small.write_bytes(small.read_bytes()[:-400])
    with pytest.raises(PictureRefusedError, match=r"60\.jpg"):
        copies(picture, [60])
