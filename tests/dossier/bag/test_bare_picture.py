"""Only a file that holds nothing but its picture may be given to strangers as it came."""

import struct
import zlib

import numpy as np
import pytest
from PIL import Image, PngImagePlugin

from ironlace.dossier.bag.bare_picture import is_bare_picture


@pytest.fixture
def picture():
    rng = np.random.default_rng(3)
    return Image.fromarray(rng.integers(0, 255, (40, 60, 3), dtype=np.uint8))


def exif():
    told = Image.Exif()
    told[0x013B] = "Quillfeather"
    return told


@pytest.mark.parametrize(
    ("name", "options"),
    [
        ("a.jpg", {}),
        ("a.jpg", {"progressive": True, "dpi": (300, 300)}),
        ("a.jpg", {"icc_profile": b"x" * 400}),
        ("a.png", {}),
        ("a.png", {"dpi": (300, 300)}),
    ],
)
def test_a_picture_alone_is_bare(picture, tmp_path, name, options) -> None:
    picture.save(tmp_path / name, **options)
    assert is_bare_picture(tmp_path / name)


@pytest.mark.parametrize(
    ("name", "options"),
    [
        ("a.jpg", {"exif": exif()}),
        ("a.jpg", {"comment": b"Quillfeather"}),
        ("a.jpg", {"xmp": b"Quillfeather"}),
        ("a.png", {"exif": exif()}),
        ("a.png", {"pnginfo": PngImagePlugin.PngInfo()}),
        ("a.tif", {}),
        ("a.webp", {}),
    ],
)
def test_anything_more_is_not(picture, tmp_path, name, options) -> None:
    if "pnginfo" in options:
        options["pnginfo"].add_text("Author", "Quillfeather")
    picture.save(tmp_path / name, **options)
    assert not is_bare_picture(tmp_path / name)


@pytest.mark.parametrize("name", ["a.jpg", "a.png"])
def test_neither_is_what_goes_on_after_the_picture_or_ends_in_it(picture, tmp_path, name) -> None:
    place = tmp_path / name
    picture.save(place)
    content = place.read_bytes()
    place.write_bytes(content + b"Quillfeather")
    assert not is_bare_picture(place)
    for cut in (1, 3, 40, len(content) // 2, len(content) - 1):
        place.write_bytes(content[:cut])
        assert not is_bare_picture(place)


def test_a_note_between_two_chunks_is_found(picture, tmp_path) -> None:
    place = tmp_path / "a.png"
    picture.save(place)
    content = place.read_bytes()
    body = b"tEXtAuthor\0Quillfeather"
    chunk = struct.pack(">I", len(body) - 4) + body + struct.pack(">I", zlib.crc32(body))
    place.write_bytes(content[:33] + chunk + content[33:])
    assert not is_bare_picture(place)
