"""A mark as struck in the metal, glyph by glyph, with its dots, spaces and doubts.

`4·96·217` and `496217` are different facts: the dots may be part of the numbering, so a reading
keeps each of them, and keeps apart what was read, what was doubted and what could not be read.

How a reading is written:

=================  ============================================================
``7`` ``B``        a figure or a letter as struck
``·`` or ``.``     a punched dot
``°``              a punched ring
``{star}``         another punch: ``{ring}`` ``{star}`` ``{cross}`` ``{diamond}``
a space            a gap wide enough to be meant
``-`` ``/``        as struck
``?``              something stands here and cannot be read
``[38]``           one of these: a 3 or an 8
``(7)``            a 7, but doubtful; ``(·)`` may be a dot, a pit or an accident
=================  ============================================================
"""

from contextlib import suppress
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

from ironlace.evidence.errors import IronlaceError

DOT = "·"
RING = "°"
_PUNCHES = {"ring": RING, "star": "★", "cross": "✚", "diamond": "◆", "dot": DOT}
_PUNCH_NAMES = {RING: "ring", "★": "star", "✚": "cross", "◆": "diamond", DOT: "dot"}
_AS_WRITTEN = {".": DOT, "∘": RING, "•": DOT, "∙": DOT, "*": "★"}
_UNREAD = "?"
_MAX_GLYPHS = 64
"""Of one mark; the longest serial number known of the period has 14, so more are several marks
(judged)."""


class MarkingError(IronlaceError):
    """A written reading of a mark does not follow the notation."""


class GlyphKind(StrEnum):
    """What sort of thing was struck."""

    FIGURE = "figure"
    LETTER = "letter"
    PUNCH = "punch"
    STROKE = "stroke"
    GAP = "gap"
    UNREAD = "unread"


@dataclass(frozen=True, slots=True)
class Glyph:
    """One thing struck, or one gap.

    `options` holds the characters it may be: one when it is read, several when it is one of these,
    none when it is unread. `doubtful` says that the reader would not swear to it being there.
    """

    options: tuple[str, ...]
    doubtful: bool = False

    @property
    def kind(self) -> GlyphKind:
        """What sort of thing it is, by its first option."""
        if not self.options:
            return GlyphKind.UNREAD
        return _kind_of(self.options[0])

    @property
    def is_separator(self) -> bool:
        """Whether it can only part groups: a punch, a stroke or a gap."""
        return self.kind in (GlyphKind.PUNCH, GlyphKind.STROKE, GlyphKind.GAP)

    @property
    def certain(self) -> str | None:
        """The character, when one was read without doubt."""
        return self.options[0] if len(self.options) == 1 and not self.doubtful else None

    def __str__(self) -> str:
        if not self.options:
            body = _UNREAD
        elif len(self.options) == 1:
            body = self.options[0]
        else:
            body = f"[{''.join(self.options)}]"
        return f"({body})" if self.doubtful else body


@dataclass(frozen=True, slots=True)
class Marking:
    """A whole mark as read: its glyphs in order from left to right."""

    glyphs: tuple[Glyph, ...]

    def __str__(self) -> str:
        return "".join(str(glyph) for glyph in self.glyphs)

    def __len__(self) -> int:
        return len(self.glyphs)

    @property
    def has_doubts(self) -> bool:
        """Whether any glyph is unread, one of several, or doubtful."""
        return any(glyph.certain is None for glyph in self.glyphs)

    @property
    def groups(self) -> tuple[tuple[Glyph, ...], ...]:
        """The runs of figures and letters between separators."""
        runs: list[list[Glyph]] = [[]]
        for glyph in self.glyphs:
            if glyph.is_separator:
                runs.append([])
            else:
                runs[-1].append(glyph)
        return tuple(tuple(run) for run in runs if run)

    @property
    def plain(self) -> str:
        """Figures and letters alone, `?` where unread: for looking a mark up, never for dating."""
        return "".join(
            glyph.options[0] if glyph.options else _UNREAD
            for glyph in self.glyphs
            if not glyph.is_separator
        )

    def spoken(self) -> str:
        """Return the mark in words, for a screen reader and for a letter.

        >>> parse_marking("B°93·(4)[38]?").spoken()
        'B, ring, 9, 3, dot, 4 (doubtful), 3 or 8, unread'
        """
        return ", ".join(_spoken(glyph) for glyph in self.glyphs)


@lru_cache(maxsize=8192)
def parse_marking(text: str) -> Marking:
    """Read a written marking.

    Raises
    ------
    MarkingError
        When the text is empty, too long, or does not follow the notation.

    >>> str(parse_marking("4.96.217"))
    '4·96·217'
    >>> parse_marking("4.96.217") == parse_marking("496217")
    False
    >>> [str(g) for g in parse_marking("(.)[38]?").glyphs]
    ['(·)', '[38]', '?']
    """
    written = " ".join(text.split())
    if not written:
        raise MarkingError("The reading is empty: write what stands in the metal, '?' for a glyph.")
    if len(written) <= _MAX_GLYPHS:
        with suppress(KeyError):
            return Marking(tuple([_SIMPLE[char] for char in written]))
    glyphs: list[Glyph] = []
    at = 0
    while at < len(written):
        if written[at] == "(":
            end = _closing(written, at, ")")
            inner, after = _one_glyph(written, at + 1)
            if after != end:
                raise MarkingError(
                    f"'{written[at : end + 1]}' in '{written}' holds more than one glyph: "
                    "put each doubtful glyph in round brackets of its own."
                )
            glyphs.append(_glyph(inner, doubtful=True))
            at = end + 1
        else:
            options, at = _one_glyph(written, at)
            glyphs.append(_glyph(options))
    if len(glyphs) > _MAX_GLYPHS:
        raise MarkingError(
            f"The reading has {len(glyphs)} glyphs; at most {_MAX_GLYPHS} make one mark: "
            "record separate marks apart."
        )
    return Marking(tuple(glyphs))


@lru_cache(maxsize=4096)
def _glyph(options: tuple[str, ...], *, doubtful: bool = False) -> Glyph:
    """One object for all glyphs that are the same: of a million marks few kinds are kept."""
    return Glyph(options, doubtful=doubtful)


def _closing(written: str, at: int, bracket: str) -> int:
    end = written.find(bracket, at)
    if end < 0:
        raise MarkingError(
            f"'{written}' opens '{written[at]}' and never closes it: add '{bracket}'."
        )
    return end


def _one_glyph(written: str, at: int) -> tuple[tuple[str, ...], int]:
    """Read one glyph's options at a place; return them and the place after it."""
    char = written[at]
    if char == _UNREAD:
        return (), at + 1
    if char == "{":
        end = _closing(written, at, "}")
        name = written[at + 1 : end].strip().lower()
        if name not in _PUNCHES:
            raise MarkingError(
                f"'{{{name}}}' is not a punch known here: use one of {', '.join(sorted(_PUNCHES))}."
            )
        return (_PUNCHES[name],), end + 1
    if char == "[":
        end = _closing(written, at, "]")
        options = tuple(dict.fromkeys(_character(c, written) for c in written[at + 1 : end]))
        if not options:
            raise MarkingError(f"'{written}' has empty square brackets: write the choices in them.")
        return options, end + 1
    return (_character(char, written),), at + 1


def _character(char: str, written: str) -> str:
    struck = _AS_WRITTEN.get(char, char).upper() if char != "ß" else char
    if len(struck) == 1 and (struck.isalnum() or struck in _PUNCH_NAMES or struck in " -/&"):
        return struck
    raise MarkingError(
        f"'{char}' in '{written}' is not part of the notation: use figures, letters, '.' for a "
        "dot, '°' for a ring, '?' for an unread glyph; keep words as lettering."
    )


def _kind_of(char: str) -> GlyphKind:
    if char.isdigit():
        return GlyphKind.FIGURE
    if char.isalpha():
        return GlyphKind.LETTER
    if char in _PUNCH_NAMES:
        return GlyphKind.PUNCH
    return GlyphKind.GAP if char == " " else GlyphKind.STROKE


def _spoken(glyph: Glyph) -> str:
    if not glyph.options:
        words = "unread"
    else:
        words = " or ".join(
            _PUNCH_NAMES.get(c, {" ": "gap", "-": "hyphen", "/": "stroke"}.get(c, c))
            for c in glyph.options
        )
    return f"{words} (doubtful)" if glyph.doubtful else words


_SIMPLE = {
    char: _glyph(_one_glyph(char, 0)[0])
    for char in "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz?.·°-/ "
}
"""Glyphs that are written with one sign: most marks hold no other."""
