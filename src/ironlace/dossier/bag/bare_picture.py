"""Whether a picture file holds a picture and nothing else, so that no maker's note leaves with it.

JPEG by its segments (ISO/IEC 10918-1, annex B), PNG by its chunks (ISO/IEC 15948). Places, serial
numbers, names and hidden second pictures all stand in other segments, or after the picture's end.
"""

import struct
from pathlib import Path

_MOST_BYTES = 200_000_000
"""Of a picture that is read whole to look it over. A bound on memory."""
_JPEG_START = b"\xff\xd8"
_JPEG_END = b"\xff\xd9"
_JPEG_SCAN = 0xDA
"""Start of scan: what follows is the picture itself, up to a marker that is no restart."""
_JPEG_BARE = frozenset({0xC0, 0xC1, 0xC2, 0xC4, 0xDB, 0xDD, _JPEG_SCAN})
"""Frames, Huffman and quantisation tables, restart interval, scans."""
_JPEG_NAMED = {0xE0: b"JFIF\0", 0xE2: b"ICC_PROFILE\0", 0xEE: b"Adobe"}
"""Application segments that say how to show it: each must begin so."""
_JFIF_BYTES = 16
"""A JFIF segment without the small picture that it may hold."""
_PNG_START = b"\x89PNG\r\n\x1a\n"
_PNG_BARE = frozenset(
    {b"IHDR", b"PLTE", b"IDAT", b"tRNS", b"gAMA", b"cHRM", b"sRGB", b"iCCP", b"pHYs", b"sBIT"}
)


def is_bare_picture(path: Path) -> bool:
    """Whether a file is a JPEG or PNG that holds nothing besides its picture.

    Any other format is not known to be bare, and False.
    """
    if path.stat().st_size > _MOST_BYTES:
        return False
    content = path.read_bytes()
    try:
        if content.startswith(_JPEG_START):
            return _is_bare_jpeg(content)
        return content.startswith(_PNG_START) and _is_bare_png(content)
    except (struct.error, IndexError, ValueError):
        return False  # it ends in the middle


def _is_bare_jpeg(content: bytes) -> bool:
    at = len(_JPEG_START)
    while content[at : at + 2] != _JPEG_END:
        mark, kind = content[at], content[at + 1]
        (length,) = struct.unpack_from(">H", content, at + 2)
        if mark != 0xFF or length < 2:
            return False
        begins = _JPEG_NAMED.get(kind)
        if kind not in _JPEG_BARE and begins is None:
            return False
        if begins is not None and not content.startswith(begins, at + 4):
            return False
        if kind == 0xE0 and length != _JFIF_BYTES:
            return False
        at += 2 + length
        if kind == _JPEG_SCAN:
            at = _after_scan(content, at)
    return at + len(_JPEG_END) == len(content)


def _after_scan(content: bytes, at: int) -> int:
    """Where the next marker stands: a stuffed byte and a restart belong to the scan."""
    while True:
        at = content.index(b"\xff", at)
        following = content[at + 1]
        if following != 0 and not 0xD0 <= following <= 0xD7:
            return at
        at += 2


def _is_bare_png(content: bytes) -> bool:
    at, kind = len(_PNG_START), b""
    while kind != b"IEND":
        (length,) = struct.unpack_from(">I", content, at)
        kind = content[at + 4 : at + 8]
        if kind not in _PNG_BARE and (kind, length) != (b"IEND", 0):
            return False
        at += 12 + length
    return at == len(content)
