"""The faces that bench, site, plots and print are set in, and where their files lie.

One family everywhere: a serif for text and headings, its sans for labels, buttons and small
figures. Both are open (SIL Open Font License 1.1) and come as packages with their licence; nothing
is fetched. What a copy leaves out is no longer the original, so by that licence (clause 3) a
subset goes under a name of ours.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from io import BytesIO
from pathlib import Path
from typing import Any

SERIF = "Source Serif Pro"
"""Family of text and headings, as the files name it."""

SANS = "Source Sans Pro"
"""Family of labels, buttons and small figures."""

_PACKAGES = {SERIF: "font_source_serif_pro", SANS: "font_source_sans_pro"}
IN_SITE = {SERIF: "Ironlace Serif", SANS: "Ironlace Sans"}
"""What the families' subsets are called in a site's style sheet."""

_ALWAYS = "".join(map(chr, range(0x20, 0x7F))) + "\u00a0·°×±½–—‘’“”…"
"""Signs of every subset: words that a browser adds, and what the record's own notation uses."""

_FEATURES = [
    *("ccmp", "kern", "liga", "locl", "mark", "mkmk"),
    *("smcp", "c2sc", "lnum", "onum", "pnum", "tnum"),
]
"""What of a face's typography stays in a subset: kerning, small capitals, the kinds of figures."""

_NAMES_WITH_FAMILY = (1, 3, 4, 6, 16, 18, 20, 21)
"""Entries of a font's `name` table that hold the family's name (OpenType 1.9, name identifiers)."""

_TRADEMARK = 7
"""The entry that claims the name, which a renamed copy does not use."""


@dataclass(frozen=True, slots=True)
class Face:
    """One face: its family, weight (400 or 600) and style, the name of its file."""

    family: str
    weight: int
    style: str
    file: str

    @property
    def path(self) -> Path:
        """Where the file lies in the package that it came by."""
        return Path(str(files(_PACKAGES[self.family]))) / "files" / self.file

    @property
    def in_site(self) -> str:
        """Name of its subset in a site's folder.

        >>> FACES[0].in_site
        'serif-regular.woff'
        """
        kind = "serif" if self.family == SERIF else "sans"
        return f"{kind}-{self.file.split('-')[1].removesuffix('.otf').lower()}.woff"


FACES = (
    Face(SERIF, 400, "normal", "SourceSerifPro-Regular.otf"),
    Face(SERIF, 400, "italic", "SourceSerifPro-It.otf"),
    Face(SERIF, 600, "normal", "SourceSerifPro-Semibold.otf"),
    Face(SANS, 400, "normal", "SourceSansPro-Regular.otf"),
    Face(SANS, 600, "normal", "SourceSansPro-Semibold.otf"),
)
"""What is used: text, its italic, headings; labels and what is pressed."""


def write_for_site(folder: Path, style: str, texts: Iterable[str]) -> str:
    """Write subsets of the families that a style sheet names, with their licences.

    Parameters
    ----------
    folder
        The site's; the files go into ``fonts`` below it.
    style
        The style sheet. A family that it does not name (`IN_SITE`) is not written.
    texts
        The pages: a sign that stands in none of them is left out.

    Returns
    -------
    str
        What the style sheet must begin with: where each face lies.
    """
    named = [face for face in FACES if f'"{IN_SITE[face.family]}"' in style]
    if not named:
        return ""
    characters = frozenset("".join((style, *texts)))
    place = folder / "fonts"
    place.mkdir()
    rules = []
    for face in named:
        (place / face.in_site).write_bytes(subset(face, characters))
        rules.append(
            f'@font-face {{ font-family: "{IN_SITE[face.family]}"; font-weight: {face.weight}; '
            f"font-style: {face.style}; font-display: swap; "
            f'src: url("fonts/{face.in_site}") format("woff"); }}\n'
        )
    for family in dict.fromkeys(face.family for face in named):
        kind = IN_SITE[family].lower().replace(" ", "-")
        source = files(_PACKAGES[family]) / "files" / "LICENSE.txt"
        (place / f"{kind}-licence.txt").write_bytes(source.read_bytes())
    return "".join(rules)


def font_files() -> list[Path]:
    """The files of the faces, for the typesetter and the plots."""
    return [face.path for face in FACES]


def subset(face: Face, characters: Iterable[str]) -> bytes:
    """The face with the signs of a text only, as a web font (WOFF 1.0), under a name of ours.

    Small capitals and the kinds of figures stay. Signs that the face lacks are left to the
    reader's own fonts.
    """
    return _subset(face, frozenset(characters) | frozenset(_ALWAYS))


@lru_cache(maxsize=32)
def _subset(face: Face, characters: frozenset[str]) -> bytes:
    from fontTools.subset import Options, Subsetter
    from fontTools.ttLib import TTFont

    options = Options()
    options.layout_features = _FEATURES
    options.name_IDs = ["*"]
    options.notdef_outline = True
    options.flavor = "woff"
    options.recalc_timestamp = False  # the same text gives the same bytes
    with TTFont(face.path, recalcTimestamp=False) as font:
        cutter = Subsetter(options)
        cutter.populate(unicodes=[ord(char) for char in characters])
        cutter.subset(font)
        _rename(font, face.family)
        font.flavor = "woff"
        out = BytesIO()
        font.save(out, reorderTables=False)
    return out.getvalue()


def _rename(font: Any, family: str) -> None:
    own, names = IN_SITE[family], font["name"]
    for entry in list(names.names):
        if entry.nameID == _TRADEMARK:
            names.removeNames(nameID=_TRADEMARK)
        elif entry.nameID in _NAMES_WITH_FAMILY:
            said = entry.toUnicode().replace(family, own)
            entry.string = said.replace(family.replace(" ", ""), own.replace(" ", ""))
    outlines = font["CFF "].cff
    joined = family.replace(" ", ""), own.replace(" ", "")
    outlines.fontNames = [name.replace(*joined) for name in outlines.fontNames]
    top = outlines.topDictIndex[0]
    for told in ("FullName", "FamilyName"):
        if hasattr(top, told):
            setattr(top, told, getattr(top, told).replace(family, own))
