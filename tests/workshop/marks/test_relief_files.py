import json

import numpy as np
import pytest
from PIL import Image

from ironlace.evidence.errors import IronlaceError
from ironlace.workshop.marks.relief_files import balls_in, frames_of_files, lights_in
from ironlace.workshop.store.intake import grey_pixels


@pytest.mark.parametrize("name", ["a.png", "a.tif"])
def test_sixteen_bits_stay(tmp_path, name):
    wide = np.arange(600, dtype=np.uint16).reshape(20, 30) * 100
    Image.fromarray(wide).save(tmp_path / name)
    np.testing.assert_array_equal(grey_pixels(tmp_path / name), wide)


def test_a_grey_jpeg_is_read_as_its_numbers_stand(tmp_path):
    picture = np.tile(np.arange(0, 240, 2, dtype=np.uint8), (16, 1))
    Image.fromarray(picture).save(tmp_path / "a.jpg", quality=100)
    found = grey_pixels(tmp_path / "a.jpg")
    assert found.dtype == np.uint8
    assert np.abs(found.astype(int) - picture).max() <= 2


def test_a_colour_photograph_gives_its_luma(tmp_path):
    picture = np.zeros((16, 24, 3), np.uint8)
    picture[...] = (200, 100, 50)
    for name in ("a.jpg", "a.png"):
        Image.fromarray(picture).save(tmp_path / name)
        assert abs(int(grey_pixels(tmp_path / name)[4, 4]) - 124) <= 1


def test_a_turned_photograph_is_set_upright(tmp_path):
    exif = Image.Exif()
    exif[0x0112] = 6
    Image.fromarray(np.zeros((16, 32), np.uint8)).save(tmp_path / "a.jpg", exif=exif)
    assert grey_pixels(tmp_path / "a.jpg").shape == (32, 16)


def test_what_is_no_photograph_is_refused(tmp_path):
    (tmp_path / "a.jpg").write_text("no picture")
    with pytest.raises(IronlaceError, match=r"a\.jpg is not a photograph"):
        frames_of_files([tmp_path / "a.jpg"])
    with pytest.raises(IronlaceError, match="There is no file"):
        frames_of_files([tmp_path / "b.jpg"])


def test_balls_are_read():
    told = {"mm_per_px": 0.02, "balls": [{"x": 1, "y": 2.5, "r_px": 150, "r_mm": 3}]}
    scale, (ball,) = balls_in(json.dumps(told))
    assert scale == 0.02
    assert (ball.circle.x, ball.circle.y, ball.circle.r, ball.r_mm) == (1, 2.5, 150, 3)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[]", "JSON object"),
        ("{", "JSON object"),
        ('{"balls": []}', "names none"),
        ('{"balls": [{"x": 1, "y": 2}]}', "r_px"),
        ('{"balls": [{"x": 1, "y": 2, "r_px": -4}]}', "above 0"),
        ('{"mm_per_px": 0, "balls": [{"x": 1, "y": 2, "r_px": 4}]}', "above 0"),
    ],
)
def test_balls_that_cannot_be_read_are_refused(text, said):
    with pytest.raises(IronlaceError, match=said):
        balls_in(text)


def test_lights_are_read_both_ways():
    places = "file,x_mm,y_mm,z_mm\na.jpg,0,-100,100\nb.jpg,50,0,0.001\n"
    first, second = lights_in(places, ("a.jpg", "b.jpg"))
    assert first.distance == pytest.approx(np.hypot(100, 100))
    assert second.azimuth_deg == 0
    angles = "file,azimuth_deg,elevation_deg\nb.jpg,90,30\n"
    (light,) = lights_in(angles, ("b.jpg",))
    assert light.elevation_deg == pytest.approx(30)
    assert light.place is None


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("file,x_mm,y_mm,z_mm\nb.jpg,1,2,3\n", "no row for a.jpg"),
        ("file,x_mm,y_mm,z_mm\na.jpg,1,two,3\n", "numbers"),
        ("file,x_mm,y_mm,z_mm\na.jpg,1,2,-3\n", "above the plate"),
        ("file,x_mm,y_mm,z_mm\na.jpg,0,0,0\n", "above the plate"),
        ("file,azimuth_deg,elevation_deg\na.jpg,10,0\n", "above the plate"),
        ("", "no row"),
    ],
)
def test_lights_that_cannot_be_read_are_refused(text, said):
    with pytest.raises(IronlaceError, match=said):
        lights_in(text, ("a.jpg",))
