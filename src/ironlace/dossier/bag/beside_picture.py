"""What a picture's file holds besides its picture, in words: for whoever decides whether it leaves.

Only what is found is named; that nothing is named does not make a file bare. That is decided by
`bare_picture`, which lists what is allowed.
"""

from pathlib import Path

from PIL import ExifTags, Image, UnidentifiedImageError

_BASE, _CAMERA = ExifTags.Base, ExifTags.IFD
_NAMES: tuple[tuple[int, str], ...] = (
    (_BASE.Artist, "who took it"),
    (_BASE.XPAuthor, "who took it"),
    (_BASE.CameraOwnerName, "whose camera it is"),
    (_BASE.BodySerialNumber, "the camera’s serial number"),
    (_BASE.LensSerialNumber, "the lens’s serial number"),
    (_BASE.ImageUniqueID, "a number of its own"),
    (_BASE.Copyright, "a note of rights"),
    (_BASE.UserComment, "a comment"),
    (_BASE.ImageDescription, "a description"),
    (_BASE.XPComment, "a comment"),
    (_BASE.Make, "the camera’s make"),
    (_BASE.DateTimeOriginal, "the moment it was taken"),
    (_BASE.MakerNote, "the maker’s own notes"),
)
_BLOCKS = {
    "xmp": "XMP",
    "photoshop": "IPTC notes",
    "comment": "a comment",
    "mp": "further pictures",
}


def beside_picture(path: Path) -> list[str]:
    """Name what else a picture's file holds; empty when nothing was found or it cannot be read."""
    try:
        with Image.open(path) as picture:
            exif = picture.getexif()
            told = dict(exif) | dict(exif.get_ifd(_CAMERA.Exif))
            found = ["where it was taken (GPS)"] if exif.get_ifd(_CAMERA.GPSInfo) else []
            found += [words for tag, words in _NAMES if told.get(tag) not in (None, "", b"")]
            found += ["a small picture of it"] if exif.get_ifd(_CAMERA.IFD1) else []
            found += [words for key, words in _BLOCKS.items() if picture.info.get(key)]
            if exif and not found:
                found = ["Exif notes"]
    except (OSError, UnidentifiedImageError, ValueError, SyntaxError, Image.DecompressionBombError):
        return []
    return list(dict.fromkeys(found))
