"""Intake of photographs: what a file really is, whether it is whole, and when it was taken.

A file is judged by its content, never by its name. Pixels are counted before they are decoded, so
that a small file that unpacks to a huge picture is refused, and then it is decoded once to the last
row, so that a truncated one is refused too.
"""

import mmap
import re
import struct
import warnings
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pillow_heif
from numpy.typing import NDArray
from PIL import ExifTags, Image, ImageCms, ImageOps, UnidentifiedImageError

from ironlace.evidence.errors import IronlaceError

MAX_PIXELS = 200_000_000
"""Larger pictures are refused before they are unpacked: a small file may unpack to all of the
memory. This is 600 MB in colour. A judgement."""
_RAW_MARKS = (
    b"II*\x00",
    b"MM\x00*",
    b"FUJIFILMCCD-RAW",
    b"IIU\x00",
    b"IIRO",
    b"II\x1a\x00\x00\x00",
)
_FORMATS = {
    "JPEG": ("image/jpeg", ".jpg"),
    "MPO": ("image/jpeg", ".jpg"),
    "PNG": ("image/png", ".png"),
    "TIFF": ("image/tiff", ".tif"),
    "HEIF": ("image/heic", ".heic"),
}
_TRIED = ("JPEG", "PNG", "TIFF", "HEIF")  # a JPEG with more pictures behind it comes out as MPO
_RAW = ("image/x-raw", ".raw")
_SRGB = ImageCms.createProfile("sRGB")
_CIELAB = ImageCms.createProfile("LAB")
_MOST_SCANS = 100
"""Passes of a JPEG over its picture: a camera writes one, a progressive file some ten. Each costs
as much as decoding the whole. A judgement."""
_MARKER = re.compile(rb"\xff[^\x00\xff\xd0-\xd7]")
_START_OF_SCAN, _END_OF_IMAGE = 0xDA, 0xD9
_WITHOUT_LENGTH = (0x01, 0xD8)
"""Markers of a JPEG (ITU-T T.81, table B.1)."""
_HEAVY_PIXELS = 50_000_000
"""A camera's photograph has fewer; more are decoded in a process of their own. A judgement."""
_BAND_PIXELS = 4_000_000
"""Pixels changed at a time in a large picture: only time and memory depend on it."""
_SHRINKS = ("RGB", "RGBA", "L", "LA", "CMYK")
"""Kinds of pixel that Pillow averages rightly as they are."""
_TRIED_PX = 64
"""Side of the piece of a picture that is changed to sRGB at intake, to see that it can be."""

pillow_heif.register_heif_opener()
Image.MAX_IMAGE_PIXELS = MAX_PIXELS


class IntakeError(IronlaceError):
    """A file is not a photograph that can be taken in."""

    http_status = 415


@dataclass(frozen=True, slots=True)
class Examined:
    """What a photograph's file says of itself.

    `width` and `height` are in pixels after the camera's orientation is applied (None for a
    drawing, which has none); `taken` is EDTF to the second, or None; `focal_mm` is the lens's
    focal length and `focal_35mm` its equivalent on a 36 mm wide frame.
    """

    media_type: str
    suffix: str
    width: int | None
    height: int | None
    taken: str | None
    focal_mm: float | None
    focal_35mm: float | None


SVG_EXAMINED = Examined("image/svg+xml", ".svg", None, None, None, None, None)
"""What is known of a drawing's file without decoding it."""


def examine(path: Path, came_as: str) -> Examined:
    """Look a file over, decoding it once.

    Raises
    ------
    IntakeError
        When it is not a JPEG, PNG, TIFF, HEIC or camera raw file, is broken off, or holds more
        than `MAX_PIXELS` pixels.
    """
    picture = _open(path, came_as)
    if picture is None:
        return _examine_raw(path, came_as)
    with picture:
        media_type, suffix = _FORMATS[str(picture.format)]
        if suffix == ".jpg":
            _must_have_few_scans(path, came_as)
        _decode(picture, came_as)
        _must_be_showable(picture, came_as)
        exif = picture.getexif()
        turned = exif.get(ExifTags.Base.Orientation, 1) in (5, 6, 7, 8)
        width, height = picture.size[::-1] if turned else picture.size
        details = exif.get_ifd(ExifTags.IFD.Exif)
        return Examined(
            media_type,
            suffix,
            width,
            height,
            _taken(details.get(ExifTags.Base.DateTimeOriginal) or exif.get(ExifTags.Base.DateTime)),
            _positive(details.get(ExifTags.Base.FocalLength)),
            _positive(details.get(ExifTags.Base.FocalLengthIn35mmFilm)),
        )


def is_heavy(path: Path, came_as: str) -> bool:
    """Whether decoding a file may cost much, or is done by a reader of many formats.

    Raises IntakeError when it is no photograph.
    """
    picture = _open(path, came_as)
    if picture is None:
        return True
    with picture:
        plain = picture.format in ("JPEG", "MPO", "PNG")
        return not plain or picture.width * picture.height > _HEAVY_PIXELS


def upright_srgb(path: Path, longest: int | None = None) -> Image.Image:
    """Return a photograph turned upright, in 8-bit sRGB, whatever its file holds.

    The profile in the file is honoured; a file without one is taken for sRGB. Nothing else that the
    file says comes along: a comment in it may be private.

    Parameters
    ----------
    longest
        Longest side in pixels that is wanted; the picture is made smaller before it is turned and
        its colours are changed, so that a large one costs little more than its decoding.
    """
    picture = _open(path, path.name)
    if picture is None:
        developed = _developed(path)
        if longest is not None:
            developed.thumbnail((longest, longest))
        return developed
    with picture:
        if longest is not None:
            # a JPEG decodes at a fraction of its size; twice what is wanted keeps its edges clean
            picture.draft(picture.mode, (2 * longest, 2 * longest))
        _decode(picture, path.name)
        if longest is None:
            return _shown(picture)
        shown = _shown(_made_smaller(picture, longest))
        shown.thumbnail((longest, longest))
        return shown


def _made_smaller(picture: Image.Image, longest: int) -> Image.Image:
    """A picture in 8 bits, less than twice as long as wanted, with what else its file says.

    A large one is changed in bands of rows: whole copies of it in other modes would take several
    times its own memory.
    """
    by = max(picture.size) // longest
    if by < 2:
        smaller = _eight_bit(picture)
    else:
        width, height = picture.size
        rows = by * max(1, _BAND_PIXELS // (by * width))
        bands = [
            _band(picture.crop((0, top, width, min(top + rows, height))), by)
            for top in range(0, height, rows)
        ]
        size = (bands[0].width, sum(band.height for band in bands))
        smaller = Image.new(bands[0].mode, size)
        top = 0
        for band in bands:
            smaller.paste(band, (0, top))
            top += band.height
    smaller.info = {n: v for n, v in picture.info.items() if n != "transparency"}
    turned = picture.getexif().get(ExifTags.Base.Orientation)
    if turned is not None:  # a TIFF's stands in its tags, which no copy of it has
        exif = Image.Exif()
        exif[ExifTags.Base.Orientation] = turned
        smaller.info["exif"] = exif.tobytes()
    return smaller


def _band(band: Image.Image, by: int) -> Image.Image:
    """Some rows of a picture, `by` times smaller, in 8 bits; made smaller first where it can be."""
    if band.mode in _SHRINKS and "transparency" not in band.info:
        return _eight_bit(band.reduce(by))
    return _eight_bit(band).reduce(by)


def _shown(picture: Image.Image) -> Image.Image:
    """A decoded picture upright and in sRGB, without what else its file says."""
    profile = picture.info.get("icc_profile")
    flat = _eight_bit(ImageOps.exif_transpose(picture))
    if profile:
        flat = _to_srgb(flat, profile)
    shown = flat if flat.mode == "RGB" else _plain_rgb(flat)
    shown.info = {}
    return shown


def _plain_rgb(picture: Image.Image) -> Image.Image:
    """A picture without a profile of its own, in sRGB."""
    if picture.mode == "LAB":
        changed = ImageCms.profileToProfile(picture, _CIELAB, _SRGB, outputMode="RGB")
        assert changed is not None
        return changed
    return picture.convert("RGB")


def pixels(path: Path) -> NDArray[np.uint8]:
    """Return a photograph as an array (rows, columns, 3), upright, sRGB, for the study rooms."""
    return np.asarray(upright_srgb(path), dtype=np.uint8)


def grey_pixels(path: Path) -> NDArray[np.uint8] | NDArray[np.uint16]:
    """Return a photograph in grey (rows, columns), upright, as its numbers stand in the file.

    Eight bits, or 16 where the file has 16 bits of grey. A colour JPEG gives its luma, which a
    decoder has at hand; other colours are weighed as luma is. No profile is applied: measuring in
    grey needs the camera's own curve, which whoever measures must find or be told.

    Raises
    ------
    IntakeError
        When it is no photograph.
    """
    picture = _open(path, path.name)
    if picture is None:
        return np.asarray(_developed(path).convert("L"), dtype=np.uint8)
    with picture:
        if picture.format == "JPEG" and picture.mode in ("RGB", "L"):
            picture.draft("L", picture.size)
        _decode(picture, path.name)
        upright = ImageOps.exif_transpose(picture)
        if upright.mode in ("I;16", "I;16L", "I;16B", "I"):
            wide = np.asarray(upright)
            return np.asarray(np.clip(wide, 0, 65535), dtype=np.uint16)
        if upright.mode == "L" and "transparency" not in upright.info:
            return np.asarray(upright)  # by way of colour it would come back the same, and late
        return np.asarray(_eight_bit(upright).convert("L"), dtype=np.uint8)


def _open(path: Path, came_as: str) -> Image.Image | None:
    """Open with Pillow; None when it may be a camera raw file."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            picture = Image.open(path, formats=_TRIED)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise _bomb(came_as) from error
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError) as error:
        if _may_be_raw(path):
            return None
        raise IntakeError(
            f"{came_as} is not a photograph (JPEG, PNG, TIFF, HEIC or camera raw), whatever its "
            "name says: choose the picture itself."
        ) from error
    if picture.width * picture.height > MAX_PIXELS:
        picture.close()
        raise _bomb(came_as)
    # Pillow maps a plain TIFF into memory by its name, and shears one that the camera turned
    # (seen with Pillow 13.0); without the name it is read row by row
    picture.filename = ""
    if picture.format == "TIFF" and _is_raw_tiff(picture):
        picture.close()
        return None
    return picture


def _decode(picture: Image.Image, came_as: str) -> None:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)  # odd metadata does not spoil a picture
            picture.load()
    except (OSError, ValueError, SyntaxError, EOFError, IndexError, struct.error) as error:
        raise _broken(came_as) from error


def _must_have_few_scans(path: Path, came_as: str) -> None:
    scans = _scans(path)
    if scans > _MOST_SCANS:
        raise IntakeError(
            f"{came_as} draws its picture {scans} times over, which no camera does: export it "
            "again as a plain JPEG."
        )


def _scans(path: Path) -> int:
    """How often a JPEG passes over its picture (ITU-T T.81, B.1.1); nothing behind it is read.

    A phone may append a film to its picture, whose bytes look like anything.
    """
    scans = 0
    with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as data:
        place = 0
        while found := _MARKER.search(data, place):
            marker, place = data[found.end() - 1], found.end()
            if marker == _END_OF_IMAGE:
                break
            if marker in _WITHOUT_LENGTH:
                continue
            scans += marker == _START_OF_SCAN
            place += int.from_bytes(data[place : place + 2], "big")
    return scans


def _must_be_showable(picture: Image.Image, came_as: str) -> None:
    """Refuse at the door what could be kept and never looked at."""
    piece = picture.crop((0, 0, min(_TRIED_PX, picture.width), min(_TRIED_PX, picture.height)))
    piece.info = dict(picture.info)
    try:
        _shown(piece)
    except (OSError, ValueError, KeyError, ImageCms.PyCMSError) as error:
        raise IntakeError(
            f"{came_as} holds colours of a kind that cannot be shown here ({picture.mode}): export "
            "it as RGB, 8 bits."
        ) from error


def _broken(came_as: str) -> IntakeError:
    return IntakeError(
        f"{came_as} is broken off or damaged: copy it from the camera or phone again."
    )


def _bomb(came_as: str) -> IntakeError:
    return IntakeError(
        f"{came_as} unpacks to more than {MAX_PIXELS // 1_000_000} million pixels: "
        "export it smaller."
    )


def _may_be_raw(path: Path) -> bool:
    with path.open("rb") as file:
        head = file.read(32)
    return head.startswith(_RAW_MARKS) or head[4:8] == b"ftyp"


def _is_raw_tiff(picture: Image.Image) -> bool:
    # a raw file in TIFF clothes shows Pillow only its thumbnail: colour filter array, or DNG
    tags: Any = getattr(picture, "tag_v2", {})
    return 50706 in tags or tags.get(262) == 32803


def _examine_raw(path: Path, came_as: str) -> Examined:
    import rawpy

    try:
        with rawpy.imread(str(path)) as raw:
            sizes = raw.sizes
            if sizes.width * sizes.height > MAX_PIXELS:
                raise _bomb(came_as)
            raw.raw_image.max()  # read to the last row
            turned = sizes.flip in (5, 6)
            width, height = (sizes.height, sizes.width) if turned else (sizes.width, sizes.height)
    except rawpy.LibRawError as error:
        raise IntakeError(
            f"{came_as} cannot be developed as a camera raw file: export it as TIFF or JPEG."
        ) from error
    return Examined(*_RAW, width, height, None, None, None)


def _developed(path: Path) -> Image.Image:
    import rawpy

    try:
        with rawpy.imread(str(path)) as raw:
            return Image.fromarray(raw.postprocess(use_camera_wb=True, no_auto_bright=True))
    except rawpy.LibRawError as error:
        raise _broken(path.name) from error


def _eight_bit(picture: Image.Image) -> Image.Image:
    if picture.mode in ("I;16", "I;16B", "I;16L", "I"):
        grey = np.asarray(picture).astype(np.float64) / 65535.0
        return Image.fromarray((grey.clip(0, 1) * 255).round().astype(np.uint8)).convert("RGB")
    if picture.mode in ("RGBA", "LA", "PA") or "transparency" in picture.info:
        ground = Image.new("RGBA", picture.size, "white")
        return Image.alpha_composite(ground, picture.convert("RGBA")).convert("RGB")
    if picture.mode in ("CMYK", "LAB", "RGB"):
        return picture.copy()
    return picture.convert("RGB")


def _to_srgb(picture: Image.Image, profile: bytes) -> Image.Image:
    from io import BytesIO

    try:
        source = ImageCms.ImageCmsProfile(BytesIO(profile))
        changed = ImageCms.profileToProfile(picture, source, _SRGB, outputMode="RGB")
    except (ImageCms.PyCMSError, OSError, ValueError):
        # a profile that does not fit its picture is a known fault of some phones and scanners;
        # the pixels are then taken for sRGB, as every viewer does
        return _plain_rgb(picture)
    return changed if changed is not None else _plain_rgb(picture)


def _taken(text: Any) -> str | None:
    if not isinstance(text, str):
        return None
    try:
        moment = datetime.strptime(text.strip("\x00 "), "%Y:%m:%d %H:%M:%S")  # noqa: DTZ007
    except ValueError:
        return None
    return moment.isoformat()


def _positive(value: Any) -> float | None:
    try:
        number = float(value)
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    return number if 0 < number < 10_000 else None
