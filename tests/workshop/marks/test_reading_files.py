import json

import numpy as np
import pytest
from PIL import Image

from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.marks.errors import MarksError
from ironlace.workshop.marks.reading_files import (
    learned,
    read_photograph,
    read_reader,
    read_relief,
    read_shapes,
)


def _relief(folder, told):
    np.save(folder / "normals.npy", np.zeros((20, 30, 3), np.float32))
    if told is not None:
        (folder / "relief.json").write_text(told if isinstance(told, str) else json.dumps(told))
    return folder


def test_scale_and_factor_are_read(tmp_path):
    gain = {"value": 1.1, "low": 0.9, "high": 1.4}
    read = read_relief(
        _relief(tmp_path, {"mm_per_px": 0.02, "scale_known": True, "slope_gain": gain})
    )
    assert read.slopes.mm_per_px == 0.02
    assert read.scale_known
    assert (read.slope_gain.low, read.slope_gain.high) == (0.9, 1.4)


def test_without_a_scale_digits_give_one_and_it_is_said(tmp_path):
    read = read_relief(_relief(tmp_path, {"mm_per_px": None, "scale_known": False}), 96.0)
    assert read.slopes.mm_per_px == pytest.approx(0.025)
    assert not read.scale_known


@pytest.mark.parametrize("told", ["{", "[]", {"mm_per_px": None, "scale_known": False}])
def test_a_relief_that_cannot_be_used_is_refused(tmp_path, told):
    with pytest.raises(IronlaceError, match=r"marks relief|no scale"):
        read_relief(_relief(tmp_path, told))


def test_no_relief_is_refused(tmp_path):
    with pytest.raises(NotFoundError, match="no relief"):
        read_relief(tmp_path)
    (tmp_path / "normals.npy").write_text("nothing")
    with pytest.raises(IronlaceError, match="cannot be read"):
        read_relief(tmp_path)
    np.save(tmp_path / "normals.npy", np.zeros((4, 4)))
    with pytest.raises(IronlaceError, match="no field of normals"):
        read_relief(tmp_path)


def test_png_and_svg_give_the_same_shape(tmp_path):
    ink = np.full((240, 120), 255, np.uint8)
    ink[20:220, 40:80] = 0
    Image.fromarray(ink).save(tmp_path / "1.png")
    (tmp_path / "7.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="12mm" height="24mm" viewBox="0 0 12 24">'
        '<rect width="12" height="24" fill="white"/><rect x="4" y="2" width="4" height="20"/></svg>'
    )
    apart = {}
    for name in ("1.png", "7.svg"):
        folder = tmp_path / name[0]
        folder.mkdir()
        (tmp_path / name).rename(folder / name)
        apart |= read_shapes(folder)
    assert apart["1"][0].shape == apart["7"][0].shape
    assert np.abs(apart["1"][0] - apart["7"][0]).max() < 0.6


def test_shapes_that_cannot_be_used_are_refused(tmp_path):
    with pytest.raises(NotFoundError, match="no folder"):
        read_shapes(tmp_path / "nothing")
    with pytest.raises(MarksError, match="no shapes"):
        read_shapes(tmp_path)
    (tmp_path / "4.png").write_text("no picture")
    with pytest.raises(IronlaceError, match="cannot be read"):
        read_shapes(tmp_path)


def test_two_shapes_of_one_glyph_are_refused(tmp_path):
    Image.new("L", (9, 9)).save(tmp_path / "4.png")
    (tmp_path / "4.svg").write_text("<svg/>")
    with pytest.raises(MarksError, match="two shapes of '4'"):
        read_shapes(tmp_path)


def test_a_photograph_that_is_none_is_refused(tmp_path):
    (tmp_path / "a.jpg").write_text("no picture")
    with pytest.raises(IronlaceError, match="cannot be read"):
        read_photograph(tmp_path / "a.jpg", 0, 20, 0.025)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "has no column"),
        ("mark,row,glyph\ns,0,1\n", "no column index"),
        ("mark,row,index,glyph\ns,0,x,1\n", "whole numbers"),
        ("mark,row,index,glyph\ns,0,0,\n", "no glyph"),
        ("mark,row,index,glyph\ns,0,0,1\ns,0,0,2\n", "there already"),
    ],
)
def test_a_readers_table_that_cannot_be_used_is_refused(text, says):
    with pytest.raises(MarksError, match=says):
        read_reader(text, "a.csv")


def test_what_was_learned_is_whole():
    known = learned()
    assert known.figures[2].shape[1] == 10
    assert (known.plate_high > known.plate_low).all()
    assert 0 < known.settings["dot_heat"] <= 1.2
