"""Set a page: a template kept with the program, data handed over as JSON, PDF/A out.

Nothing that a person wrote is ever pasted into a template: it travels as a JSON string and is set
as plain text, so that `#`, `$` or `[` in a note are only characters.

The faces are those of `ironlace.dossier.faces`, with the DejaVu Sans that comes with matplotlib
for signs they lack, and the DejaVu Sans Mono embedded in the typesetter for checksums. Fonts of the
machine it runs on are left out, so that the same record gives the same bytes everywhere. What none
of the fonts can show is set as its code point, and counted.
"""

import json
import tempfile
import unicodedata
from collections.abc import Mapping
from datetime import datetime
from functools import cache
from importlib.resources import files
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Literal

from ironlace.dossier.errors import DossierError
from ironlace.dossier.faces import font_files
from ironlace.evidence.grades import Grade

Paper = Literal["a4", "letter"]
PAPER_MM: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
PAPER_NAMES: dict[Paper, str] = {"a4": "A4", "letter": "US Letter"}

_LONGEST_WORD = 24
"""Letters of a word that fits the narrowest column, the margin's."""

_KEPT_CONTROLS = "\n\t\u00ad"


def paper_called(words: str) -> Paper:
    """The paper that a person names, in whatever letters.

    Raises DossierError when there is no such paper.
    """
    known = next((one for one in PAPER_MM if one == words.casefold()), None)
    if known is None:
        raise DossierError(f"There is no paper '{words[:20]}' here: use {' or '.join(PAPER_MM)}.")
    return known


def paper_size(paper: Paper) -> tuple[float, float]:
    """Width and height of a paper in mm, upright.

    Raises DossierError when there is no such paper.
    """
    if paper not in PAPER_MM:
        raise DossierError(f"There is no paper '{paper}' here: use {' or '.join(PAPER_MM)}.")
    return PAPER_MM[paper]


def grade_lines() -> dict[str, dict[str, Any]]:
    """The grades with their meaning and line pattern, for a template."""
    return {
        grade.value: {
            "word": grade.value,
            "meaning": grade.meaning,
            "dash": list(grade.dash_mm),
        }
        for grade in Grade
    }


def typeset(
    template: str,
    data: Mapping[str, Any],
    *,
    made: datetime | None = None,
    folder: Path | None = None,
    files_beside: Mapping[str, bytes] | None = None,
) -> bytes:
    """Set a template with its data and return the PDF: tagged (PDF/UA-1), to keep (PDF/A-2a).

    Parameters
    ----------
    template
        Name of a template of this package, such as ``dossier.typ``.
    data
        JSON values. Every string is made showable first (see `showable`).
    made
        Written into the file as its date. None makes a file without a date tagged but not PDF/A.
    folder
        An own folder that already holds the pictures which `data` names; a temporary one if None.
    files_beside
        Further files to lay into the folder, by name.

    Raises
    ------
    DossierError
        When the page cannot be set.
    """
    if folder is None:
        with tempfile.TemporaryDirectory(prefix="ironlace-page-") as made_folder:
            return typeset(
                template, data, made=made, folder=Path(made_folder), files_beside=files_beside
            )
    import typst

    for name, content in (files_beside or {}).items():
        (folder / name).write_bytes(content)
    for source in files("ironlace.dossier").joinpath("templates").iterdir():
        if source.name.endswith(".typ"):
            (folder / source.name).write_bytes(source.read_bytes())
    shown = _showable_all({**data, "grades": grade_lines(), "dated": made is not None})
    (folder / "data.json").write_text(json.dumps(shown, ensure_ascii=False), encoding="utf-8")
    try:
        pdf = typst.compile(
            folder / template,
            root=folder,
            font_paths=[_faces_in(folder), _spare_fonts()],
            ignore_system_fonts=True,
            format="pdf",
            pdf_standards=["ua-1"] if made is None else ["a-2a", "ua-1"],  # PDF/A asks for a date
            timestamp=made,
        )
    except typst.TypstError as error:
        raise DossierError(f"The page could not be set: {error}") from error
    if not isinstance(pdf, bytes):
        raise DossierError("The page could not be set: the typesetter returned no file.")
    return pdf


def _faces_in(folder: Path) -> Path:
    """Lay the faces out by themselves: the packages hold weights that would be preferred."""
    faces = folder / "faces"
    faces.mkdir(exist_ok=True)
    for face in font_files():
        (faces / face.name).write_bytes(face.read_bytes())
    return faces


def showable(text: str) -> str:
    """Return a text as the fonts can show it: other signs as code points, long words breakable.

    >>> showable("B°93 ☃") == "B°93 ☃", showable("漢")
    (True, '⟨U+6F22⟩')
    """
    shown = "".join(_sign(char) for char in unicodedata.normalize("NFC", text))
    return " ".join(_breakable(word) for word in shown.split(" "))


def unshowable(text: str) -> set[str]:
    """Return the characters of a text that the fonts cannot show."""
    return {char for char in unicodedata.normalize("NFC", text) if _sign(char).startswith("⟨U+")}


def _showable_all(value: Any) -> Any:
    if isinstance(value, str):
        return showable(value)
    if isinstance(value, Mapping):
        return {key: _showable_all(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [_showable_all(inner) for inner in value]
    return value


def _sign(char: str) -> str:
    if char in _KEPT_CONTROLS or " " <= char <= "~":
        return char
    category = unicodedata.category(char)
    if category in ("Cc", "Cf"):  # invisible: control signs and direction overrides say nothing
        return "" if category == "Cf" else " "
    if category in ("Cs", "Co", "Cn") or ord(char) not in _covered():
        return f"⟨U+{ord(char):04X}⟩"
    return char


def _breakable(word: str) -> str:
    # a zero-width space lets an endless word break instead of running off the page
    if len(word) <= _LONGEST_WORD:
        return word
    return "\u200b".join(
        word[at : at + _LONGEST_WORD // 2] for at in range(0, len(word), _LONGEST_WORD // 2)
    )


def _spare_fonts() -> Path:
    # found, not loaded: that takes a fifth of a second, and nothing is plotted here
    plots = find_spec("matplotlib")
    if plots is not None and plots.origin is not None:
        beside = Path(plots.origin).parent / "mpl-data" / "fonts" / "ttf"
        if beside.is_dir():
            return beside
    import matplotlib

    return Path(matplotlib.get_data_path()) / "fonts" / "ttf"  # as a system's package lays them


@cache
def _covered() -> frozenset[int]:
    from fontTools.ttLib import TTFont

    with TTFont(_spare_fonts() / "DejaVuSans.ttf", lazy=True) as font:
        return frozenset(font.getBestCmap())
