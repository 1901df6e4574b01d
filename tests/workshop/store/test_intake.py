import struct
import zlib

import cv2
import numpy as np
import pytest
import tifffile
from PIL import ExifTags, Image, ImageCms

from ironlace.workshop.store.intake import IntakeError, examine, pixels, upright_srgb


@pytest.mark.parametrize(
    ("name", "media_type"),
    [
        ("a.jpg", "image/jpeg"),
        ("a.png", "image/png"),
        ("a.tif", "image/tiff"),
        ("a.heic", "image/heic"),
    ],
)
def test_a_photograph_is_known_by_its_content(picture, name, media_type):
    path = picture(name)
    renamed = path.rename(path.with_suffix(".xyz"))
    examined = examine(renamed, name)
    assert (examined.media_type, examined.width, examined.height) == (media_type, 64, 48)


def test_exif_date_and_focal_length(picture, tmp_path):
    exif = Image.Exif()
    exif.get_ifd(ExifTags.IFD.Exif).update(
        {
            ExifTags.Base.DateTimeOriginal: "2025:03:01 10:20:30",
            ExifTags.Base.FocalLength: 35.0,
            ExifTags.Base.FocalLengthIn35mmFilm: 52,
        }
    )
    examined = examine(picture(exif=exif), "a.jpg")
    assert examined.taken == "2025-03-01T10:20:30"
    assert (examined.focal_mm, examined.focal_35mm) == (35.0, 52.0)


def test_an_impossible_date_is_no_date(picture):
    exif = Image.Exif()
    exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.DateTimeOriginal] = "0000:00:00 00:00:00"
    assert examine(picture(exif=exif), "a.jpg").taken is None


def test_the_cameras_orientation_is_applied(tmp_path):
    image = Image.new("RGB", (60, 40), "black")
    image.paste("white", (0, 0, 30, 20))  # upper left
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = 6  # turn a quarter clockwise to view
    image.save(tmp_path / "a.png", exif=exif)
    examined = examine(tmp_path / "a.png", "a.png")
    assert (examined.width, examined.height) == (40, 60)
    turned = pixels(tmp_path / "a.png")
    assert turned.shape == (60, 40, 3)
    assert turned[10, 30].tolist() == [255, 255, 255]  # upper right
    assert turned[10, 10].tolist() == [0, 0, 0]


def test_a_colour_profile_is_honoured(tmp_path):
    # CIE Lab shows that the profile is used: taken for sRGB, this white would be far from white
    lab = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB"))
    image = Image.new("LAB", (8, 8), (255, 128, 128))  # L* 100, neutral
    image.save(tmp_path / "lab.tif", icc_profile=lab.tobytes())
    assert upright_srgb(tmp_path / "lab.tif").getpixel((4, 4)) == pytest.approx(
        (255, 255, 255), abs=2
    )


def test_sixteen_bits_are_brought_to_eight(tmp_path):
    ramp = np.linspace(0, 65535, 64, dtype=np.uint16).reshape(8, 8)
    tifffile.imwrite(tmp_path / "a.tif", ramp, photometric="minisblack")
    examine(tmp_path / "a.tif", "a.tif")
    out = pixels(tmp_path / "a.tif")[..., 0]
    assert out.min() == 0
    assert out.max() == 255
    assert np.all(np.diff(out.ravel().astype(int)) >= 0)


def test_a_transparent_ground_becomes_white(tmp_path):
    Image.new("RGBA", (4, 4), (0, 0, 0, 0)).save(tmp_path / "a.png")
    assert pixels(tmp_path / "a.png")[0, 0].tolist() == [255, 255, 255]


@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.tif", "a.heic"])
@pytest.mark.parametrize("share", [0.3, 0.9])
def test_a_truncated_file_is_refused(picture, name, share):
    path = picture(name, size=(400, 300))
    whole = path.read_bytes()
    path.write_bytes(whole[: int(len(whole) * share)])
    with pytest.raises(IntakeError):
        examine(path, name)


@pytest.mark.parametrize("name", ["notes.jpg", "notes.tif", "notes.heic", "notes.dng"])
def test_a_renamed_text_file_is_refused(tmp_path, name):
    path = tmp_path / name
    path.write_text("shuttle race cleaned, needle 1.6 mm above the plate\n" * 40)
    with pytest.raises(IntakeError, match="is not a photograph"):
        examine(path, name)


def test_an_empty_file_is_refused(tmp_path):
    path = tmp_path / "a.jpg"
    path.touch()
    with pytest.raises(IntakeError):
        examine(path, "a.jpg")


def bomb(width: int, height: int) -> bytes:
    """A PNG that says it is huge, whose rows are nearly nothing when packed."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))
        )

    header = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    rows = zlib.compress(bytes(1000), 9)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize("size", [(15_000, 15_000), (100_000, 100_000)])
def test_a_decompression_bomb_is_refused_before_it_is_unpacked(tmp_path, size):
    path = tmp_path / "bomb.png"
    path.write_bytes(bomb(*size))
    with pytest.raises(IntakeError, match="million pixels"):
        examine(path, "bomb.png")


def test_a_raw_file_that_cannot_be_developed_is_refused(tmp_path):
    path = tmp_path / "a.nef"
    path.write_bytes(b"II*\x00" + bytes(4000))
    with pytest.raises(IntakeError):
        examine(path, "a.nef")


def test_a_camera_raw_file_is_taken_in(tmp_path):
    # a minimal linear DNG: what a raw developer must read, made here with TIFF tags
    rng = np.random.default_rng(3)
    mosaic = rng.integers(500, 4000, (120, 160), dtype=np.uint16)
    path = tmp_path / "a.dng"
    write_dng(path, mosaic)
    examined = examine(path, "a.dng")
    assert examined.media_type == "image/x-raw"
    assert (examined.width, examined.height) == (160, 120)
    assert upright_srgb(path).size == (160, 120)


def write_dng(path, mosaic):
    """Write a colour filter mosaic as DNG 1.4 (Adobe, 2012; tag numbers from its tables)."""
    matrix = [(0.9, -0.2, -0.1), (-0.4, 1.2, 0.2), (-0.1, 0.2, 0.6)]
    flat = [round(v * 10_000) for row in matrix for v in row]
    rationals = tuple(x for v in flat for x in (v, 10_000))
    tifffile.imwrite(
        path,
        mosaic,
        photometric="cfa",
        extratags=[
            (33421, "H", 2, (2, 2), True),
            (33422, "B", 4, bytes((0, 1, 1, 2)), True),
            (50706, "B", 4, bytes((1, 4, 0, 0)), True),
            (50707, "B", 4, bytes((1, 1, 0, 0)), True),
            (50708, "s", 0, "Test camera", True),
            (50714, "H", 1, 256, True),
            (50717, "I", 1, 4095, True),
            (50721, "2i", 9, rationals, True),
            (50728, "2I", 3, (1, 1, 1, 1, 1, 1), True),
            (50778, "H", 1, 21, True),
        ],
    )


def test_a_picture_in_cielab_is_shown_in_its_colours(tmp_path):
    """By scikit-image's conversion (relative to the white of sRGB), which shares no code."""
    from skimage.color import lab2rgb

    lab = np.array([[60.0, 20.0, 40.0]])
    stored = np.array([60 * 255 / 100, 20 + 128, 40 + 128])
    # TIFF keeps a and b as signed bytes (TIFF 6, section 23); Pillow writes what it holds
    pixel = tuple(round(v) for v in stored)
    Image.new("LAB", (80, 60), pixel).save(tmp_path / "a.tif")
    examine(tmp_path / "a.tif", "a.tif")
    shown = upright_srgb(tmp_path / "a.tif")
    expected = lab2rgb(lab)[0] * 255
    assert shown.mode == "RGB"
    assert np.abs(np.asarray(shown, float)[5, 5] - expected).max() < 6


@pytest.mark.parametrize("name", ["a.jpg", "a.tif", "a.png"])
@pytest.mark.parametrize(
    "mode", ["1", "L", "P", "RGB", "RGBA", "LA", "CMYK", "YCbCr", "LAB", "I;16", "F"]
)
def test_what_is_taken_in_can_be_looked_at(tmp_path, mode, name):
    try:
        Image.new(mode, (90, 70)).save(tmp_path / name)
    except (OSError, ValueError, KeyError):
        pytest.skip(f"{name} does not hold {mode}")
    try:
        examine(tmp_path / name, name)
    except IntakeError:
        return
    shown = upright_srgb(tmp_path / name, 320)
    shown.save(tmp_path / "shown.jpg", "JPEG")
    assert shown.size == (90, 70)


def test_a_comment_in_the_file_does_not_come_along(tmp_path):
    Image.new("RGB", (90, 70)).save(tmp_path / "a.jpg", comment=b"bought of Mrs N. for 40")
    shown = upright_srgb(tmp_path / "a.jpg")
    shown.save(tmp_path / "shown.jpg", "JPEG")
    assert b"bought" in (tmp_path / "a.jpg").read_bytes()
    assert b"bought" not in (tmp_path / "shown.jpg").read_bytes()


def jpeg_with_scans(path, scans):
    """A progressive JPEG whose last scan is written many times over."""
    Image.effect_noise((64, 64), 60).save(path, "JPEG", progressive=True)
    whole = path.read_bytes()
    last = whole.rindex(b"\xff\xda")
    path.write_bytes(whole[:last] + whole[last:-2] * scans + whole[-2:])


def test_a_jpeg_of_thousands_of_scans_is_refused_and_a_plain_progressive_one_is_not(tmp_path):
    jpeg_with_scans(tmp_path / "a.jpg", 3000)
    with pytest.raises(IntakeError, match="times over"):
        examine(tmp_path / "a.jpg", "a.jpg")
    jpeg_with_scans(tmp_path / "b.jpg", 1)
    assert examine(tmp_path / "b.jpg", "b.jpg").width == 64


def test_a_film_behind_the_picture_is_not_read_as_scans(tmp_path, picture):
    path = picture("a.jpg")
    path.write_bytes(path.read_bytes() + b"\xff\xda\x00\x02" * 5000)
    assert examine(path, "a.jpg").media_type == "image/jpeg"


def test_a_view_of_a_large_picture_is_made_small_before_its_colours_are(tmp_path):
    rng = np.random.default_rng(3)
    coarse = Image.fromarray(rng.integers(0, 255, (30, 40, 3), dtype=np.uint8))
    coarse.resize((4000, 3000), Image.Resampling.BICUBIC).save(tmp_path / "a.jpg", quality=95)
    small = upright_srgb(tmp_path / "a.jpg", 800)
    assert small.size == (800, 600)
    whole = upright_srgb(tmp_path / "a.jpg").resize((800, 600), Image.Resampling.LANCZOS)
    assert np.abs(np.asarray(small, float) - np.asarray(whole, float)).mean() < 2.0


@pytest.mark.parametrize("name", ["a.jpg", "a.tif", "a.png"])
@pytest.mark.parametrize(
    "mode", ["1", "L", "P", "RGB", "RGBA", "LA", "CMYK", "YCbCr", "LAB", "I;16", "F"]
)
def test_a_small_copy_of_a_large_picture_is_the_picture_made_smaller(tmp_path, mode, name):
    """Whatever its pixels, turned as the camera says; the whole is made by the plain way."""
    rng = np.random.default_rng(11)
    bands = {"L": 1, "RGB": 3, "RGBA": 4, "CMYK": 4, "YCbCr": 3, "LA": 2, "P": 3, "LAB": 3}
    coarse = rng.integers(40, 215, (5, 7, bands.get(mode, 1)), dtype=np.uint8).squeeze()
    if mode in ("I;16", "F"):
        made = Image.fromarray(coarse.astype(np.uint16) * 257).resize((700, 500), 0)
        made = made if mode == "I;16" else Image.fromarray(np.asarray(made, np.float32) / 257)
    elif mode in ("P", "1"):
        made = Image.fromarray(coarse).resize((700, 500), 0).convert(mode)
    else:
        made = Image.frombytes(mode, (7, 5), coarse.tobytes()).resize((700, 500), 0)
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = 6
    try:
        made.save(tmp_path / name, exif=exif)
        examine(tmp_path / name, name)
    except (OSError, ValueError, KeyError, IntakeError):
        pytest.skip(f"{name} does not hold {mode}, or is refused")
    small = np.asarray(upright_srgb(tmp_path / name, 200), float)
    whole = upright_srgb(tmp_path / name)
    assert whole.size == (500, 700) and small.shape[:2] == (200, 143)
    expected = np.asarray(whole.resize((143, 200), Image.Resampling.BOX), float)
    if mode in ("L", "RGB", "I;16"):  # the squares stand where they did
        middles = np.ix_(
            (np.arange(7) * 200 / 7 + 14).astype(int), (np.arange(5) * 143 / 5 + 14).astype(int)
        )
        squares = np.rot90(coarse.reshape(5, 7, -1), -1)
        assert np.abs(small[middles] - squares).max() < 6
    # dithering and the edges between the squares differ; the squares themselves do not
    away = cv2.blur(small, (19, 19)) - cv2.blur(expected, (19, 19))
    assert np.median(np.abs(away)) < 3.0
