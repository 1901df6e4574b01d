"""A machine's record with fifty secrets in it, written down by hand, and a walk through all files.

It knows nothing of what the program declares private: each secret was put where a restorer would
keep it, and the list says which of them nobody but the next owner may read.
"""

import io
import json
import re
import struct
import zipfile
import zlib
from pathlib import Path

import numpy as np
from PIL import Image

SECRETS = tuple(f"Quillwort{n:02d}Zeq" for n in range(50))
"""Words of no language, so that none stands anywhere by chance."""
S = SECRETS
COSTS = (17, 18, 19, 20, 21)
"""Of hours and costs: these stay from the next owner too, unless asked for."""


def _report(n, reads, **more):
    at = 22 + 4 * n
    return {
        "kind": "report", "name": f"the {S[at]} head", "reads": reads, "grade": "seen",
        "how": "handled", "place": S[at + 1], "reporter": S[at + 2], "note": f"met by {S[at + 3]}",
        **more,
    }  # fmt: skip


ENTRIES = [
    {"kind": "mark", "reads": "93·217", "where": "bed", "grade": "seen",
     "sources": [{"kind": "person", "says": f"{S[0]}, by telephone"}]},
    {"kind": "statement", "about": "maker", "says": "Calder Vane", "grade": "inferred",
     "sources": [{"kind": "document", "entry": "source 1", "says": f"page {S[1]}"}]},
    {"kind": "provenance", "event": f"sold by {S[2]}", "who": S[3], "place": S[4],
     "grade": "seen", "note": S[5], "sources": [{"kind": "person", "says": S[6]}]},
    {"kind": "provenance", "event": "shown at the fair", "who": "The Fair", "grade": "seen",
     "private": False, "sources": [{"kind": "person", "says": S[7]}]},
    {"kind": "measurement", "what": "centres", "reads": "500 ± 2 mm", "grade": "measured",
     "sources": [{"kind": "person", "says": S[8]}]},
    {"kind": "part", "name": "wheel", "grade": "seen",
     "sources": [{"kind": "person", "says": S[9]}]},
    {"kind": "outlay", "what": f"paid to {S[17]}", "cost": "77", "currency": "EUR"},
    {"kind": "outlay", "what": S[18], "hours": "2", "private": True},
    {"kind": "outlay", "what": "wire", "cost": "3", "currency": "EUR", "note": S[19]},
    {"kind": "rate", "one": "hour", "worth": "30", "currency": "EUR", "date": "1895-05-04",
     "by": S[20]},
    {"kind": "outlay", "what": "carriage", "cost": "5", "currency": "EUR", "note": S[21]},
    _report(0, "91·044"),
    _report(1, "92·103", other_readings=[f"92·108: {S[46]}"]),
    _report(2, "93·188", sources=[{"kind": "document", "says": f"letter of {S[47]}"}]),
    _report(3, "94·61", same_as=f"the {S[34]} head"),
    _report(4, "94·77"),
    _report(5, "95·12"),
]  # fmt: skip
"""Entries in their JSON form; sources and photographs come first, since these name them."""

PRIVATE_SOURCES = [
    {"kind": "source", "title": f"Letter of {S[10]}", "where": S[11], "sort": "letter",
     "private": True},
]  # fmt: skip


def xmp_of(words: str) -> bytes:
    """An XMP packet that names somebody (ISO 16684-1)."""
    return (
        '<?xpacket begin="" id="W5M0MpCehiHzreSzNTczkc9d"?><x:xmpmeta xmlns:x="adobe:ns:meta/">'
        '<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description '
        'rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/"><dc:creator><rdf:Seq><rdf:li>'
        f"{words}</rdf:li></rdf:Seq></dc:creator></rdf:Description></rdf:RDF></x:xmpmeta>"
        '<?xpacket end="w"?>'
    ).encode()


def photographs(folder: Path) -> list[tuple[Path, dict]]:
    """Picture files that say more than they show, and how each is taken in."""
    exif = Image.Exif()
    exif[0x013B] = S[12]
    exif.get_ifd(0x8825).update({1: "N", 2: (54.0, 12.0, 7.0), 29: S[13]})
    exif.get_ifd(0x8769).update({0xA431: S[14], 0xA430: S[15]})
    rows = np.random.default_rng(50).integers(0, 255, (3, 48, 64, 3), dtype=np.uint8)
    named = folder / f"{S[16]}.jpg"
    Image.fromarray(rows[0]).save(named, exif=exif)
    noted = folder / "noted.jpg"
    Image.fromarray(rows[1]).save(noted, xmp=xmp_of(S[48]), comment=b"plain")
    hidden = folder / "hidden.png"
    Image.fromarray(rows[2]).save(hidden)
    return [
        (named, {"caption": "the bed"}),
        (noted, {"caption": "the wheel"}),
        (hidden, {"caption": f"with {S[49]}", "published": False}),
    ]


def texts_of(path: Path) -> list[str]:
    """Everything that can be read out of a file: as bytes, as text, page by page, packed or not."""
    return _texts(path.name, path.read_bytes())


def _texts(name: str, content: bytes) -> list[str]:
    found = [name, content.decode("latin-1"), content.decode("utf-8", "replace")]
    found += [content.decode("utf-16-le", "replace"), content.decode("utf-16-be", "replace")]
    kind = name.rpartition(".")[2].lower()
    if content[:4] == b"PK\3\4":
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            for member in packed.infolist():
                found += [member.comment.decode("latin-1"), member.extra.decode("latin-1")]
                found += _texts(member.filename, packed.read(member))
    elif kind == "pdf":
        found += _of_pdf(content)
    elif kind in ("json", "jsonld"):
        found.append(repr(json.loads(content)))  # with its escapes undone
    elif kind in ("jpg", "jpeg", "png", "tif", "tiff"):
        found += _of_picture(content)
    return found


def _of_pdf(content: bytes) -> list[str]:
    import pypdfium2

    document = pypdfium2.PdfDocument(content)
    found = [str(document.get_metadata_dict())]
    found += [page.get_textpage().get_text_range() for page in document]
    # what is packed in its streams, XMP among it
    for stream in re.findall(rb"stream\r?\n(.*?)endstream", content, re.DOTALL):
        try:
            found.append(zlib.decompressobj().decompress(stream).decode("latin-1"))
        except zlib.error:
            found.append(stream.decode("latin-1"))
    return found


def _of_picture(content: bytes) -> list[str]:
    with Image.open(io.BytesIO(content)) as picture:
        exif = picture.getexif()
        found = [str(picture.info), str(dict(exif))]
        found += [str(dict(exif.get_ifd(ifd))) for ifd in (0x8825, 0x8769, 1)]
    return found


def gps_of(content: bytes) -> bool:
    """Whether a JPEG tells a place, by a reading of its own: tag 0x8825 in its first IFD."""
    at = content.find(b"Exif\0\0")
    if at < 0:
        return False
    tiff = content[at + 6 :]
    order = "<" if tiff[:2] == b"II" else ">"
    (start,) = struct.unpack_from(f"{order}I", tiff, 4)
    (count,) = struct.unpack_from(f"{order}H", tiff, start)
    tags = [struct.unpack_from(f"{order}H", tiff, start + 2 + 12 * n)[0] for n in range(count)]
    return 0x8825 in tags
