"""What people write in a column of numbers, and what of it was struck in the metal.

A table is filled in by people and kept by spreadsheets. Words for "number" are left out and it is
said; what says that nothing is known, is a guess, or was changed by a spreadsheet is no reading,
and the row is set aside with the reason. Nothing is turned into letters that nobody struck.
"""

import re
import unicodedata
from dataclasses import dataclass

from ironlace.evidence.markings import Marking, parse_marking
from ironlace.survey.errors import RowError

_FULL_WIDTH = ord("！") - ord("!")
_MONTH_NAMES = (
    "jan|feb|mar|apr|may|jun|jul|aug|sept?|oct|nov|dec"
    "|mai|okt|dez|mär|mrz|janv|févr|fév|mars|avr|juin|juil|août|déc|ene|abr|ago|dic|gen|mag|giu|lug"
)
_DATE_OF_A_SPREADSHEET = re.compile(
    rf"(?:\d{{1,2}}[-. ]+)?(?:{_MONTH_NAMES})[a-zäéû]*\.?[-. ]+\d{{2,4}}"
    rf"|\d{{1,4}}[-. ]+(?:{_MONTH_NAMES})[a-z]*\.?"
    r"|[12]\d{3}-\d\d-\d\d(?:[ T]\d\d:\d\d(?::\d\d(?:\.0+)?)?)?"
    r"|\d{1,2}/\d{1,2}/[12]\d{3}(?: \d{1,2}:\d\d(?::\d\d)?)?"
    r"|\d+:\d\d(?::\d\d)?",
    re.I,
)
_SHORTENED = re.compile(r"\d(?:[.,]\d+)?e[+-]\d+", re.I)
_FAULT_OF_A_SPREADSHEET = re.compile(r"#(?:n/?a|ref!?|value!?|name\??|div/0!?|null!?|num!?)", re.I)
_FOR_NUMBER = re.compile(
    r"(?:(?:serial|machine|ser)\b\.?\s*)?"
    r"(?:(?:number|numbers|num|nos|no|nr|sn|s/n|s\.n|serial|nummer|numéro|núm)(?:\s*[.:#=]+\s*|\s+)"
    r"|(?:№|n°|nº|no°|#)[.:\s]*)",
    re.I,
)
_ABOUT = re.compile(
    r"(?:ca|circa|approx|approximately|about|around|abt|roughly|perhaps|maybe|probably|possibly)"
    r"\b\.?\s*|c\.\s+|[~≈±]\s*",
    re.I,
)
_NOTHING_KNOWN = re.compile(
    r"[?\s]+|[-–—./*#]+|n\.?/?\s?a\.?|s/n|s\.n\.?|sn|nil|nul+|nan|none|no|nr\.?|no\.|n/k|tb[acd]"
    r"|blank|lost|gone|missing|worn(?: off| away| out)?|hidden|rusted(?: over)?|painted over|erased"
    r"|(?:not |un|il|in)(?:known|kn|legible|readable|recorded|given|visible|clear|seen|stated|told"
    r"|available|applicable|found|sure|stamped|numbered|marked|readable)"
    r"|(?:none|nothing|no)(?: (?:number|serial|serial number|mark|plate|seen|given|known|visible"
    r"|stamped|there|found|idea))+"
    r"|(?:can ?not|can'?t|cannot be|could not be|couldn'?t) (?:be )?(?:read|see|seen|make out|find)"
    r"|unbekannt|unleserlich|keine?|inconnue?|illisible|desconocido|ilegible",
    re.I,
)
_WORD = re.compile(r"[^\W\d_]*[^\W\d_A-Z][^\W\d_]*")
_SHORT_WORDS = frozenset({"or", "to", "no", "nr", "ca", "sn", "as", "on", "is", "of", "in", "and"})
_GLUED = re.compile(r"(?:NO|NR|SN|NUM|SER)(?=[0-9?])")
_LONG_WORD = 3
"""Letters of a word that is no pair of struck letters typed small; a judgement."""


@dataclass(frozen=True, slots=True)
class Struck:
    """A number of a table: the mark, and what was left out of the cell as not struck.

    `may_be_short`: letters that stand right before the figures and may be short for number; they
    are taken as struck.
    """

    mark: Marking
    left_out: str = ""
    may_be_short: str = ""


def read_mark(text: str) -> Marking:
    """Read a mark as people type it: figures of any script and full-width signs are the same.

    Raises MarkingError, as `parse_marking` does.

    >>> str(read_mark("４．９６．217"))
    '4·96·217'
    """
    if text.isascii():
        return parse_marking(text)
    plain = [
        str(unicodedata.decimal(c))
        if c.isdecimal()
        else chr(ord(c) - _FULL_WIDTH)
        if "！" <= c <= "～"
        else " "
        if c == "\u3000"
        else c
        for c in text
    ]
    return parse_marking("".join(plain))


_FIGURES_AND_DOTS = re.compile(r"[0-9]+(?:[.·°][0-9?]+)*", re.ASCII)
"""Most cells; nothing that is refused is written so."""

_NOUGHTS = re.compile(r"0+(?:[.,]0+)?", re.ASCII)
"""A cell of a database that holds no number. A mark may well hold a group of noughts."""

_PLAIN = re.compile(r"[0-9?]+(?:[.·°/-][0-9?]+)*", re.ASCII)


def as_struck(text: str) -> Struck:
    """Read a cell of a column of numbers.

    Raises
    ------
    RowError
        When it says that nothing is known, guesses, holds words, or a spreadsheet changed it.
    MarkingError
        When what is left does not follow the notation.

    >>> found = as_struck("Nr. 4·96·217")
    >>> str(found.mark), found.left_out
    ('4·96·217', 'Nr.')
    >>> str(as_struck("B°93.217").mark)
    'B°93·217'
    """
    written = " ".join(text.split())
    if _NOUGHTS.fullmatch(written):
        raise RowError(
            f"'{written}' is nothing but noughts, which no machine was numbered: leave the row out "
            "where the number is not known, and write '?' for each figure that cannot be read.",
            "noughts in place of a number",
        )
    if _FIGURES_AND_DOTS.fullmatch(written):
        return Struck(parse_marking(written))
    _refuse_what_says_nothing(written)
    _refuse_what_a_spreadsheet_made(written)
    if _PLAIN.fullmatch(written):
        return Struck(read_mark(written))
    about = _ABOUT.match(written)
    if about and any(c.isdigit() for c in written[about.end() :]):
        raise RowError(
            f"'{written}' is a guess, no reading: write each figure that stands there, '?' for "
            "one that cannot be read.",
            "a number guessed at, not read",
        )
    rest = written
    said = _FOR_NUMBER.match(written)
    if said and any(c.isdigit() or c == "?" for c in written[said.end() :]):
        rest = written[said.end() :].strip()
        _refuse_what_says_nothing(rest)
        _refuse_what_a_spreadsheet_made(rest)
    without_names = re.sub(r"\{[^}]*\}", "", rest)
    for word in _WORD.findall(without_names):
        if len(word) >= _LONG_WORD or word.lower() in _SHORT_WORDS:
            raise RowError(
                f"'{word}' in '{written}' reads as a word, not as struck letters: write only what "
                "stands in the metal, letters as capitals.",
                "words among the figures",
            )
    glued = _GLUED.match(rest)
    return Struck(
        read_mark(rest),
        written[: said.end()].strip() if said and rest != written else "",
        glued[0] if glued else "",
    )


def _refuse_what_says_nothing(written: str) -> None:
    if _FAULT_OF_A_SPREADSHEET.fullmatch(written):
        raise RowError(
            f"'{written}' is a fault of the spreadsheet: write the number as it is struck.",
            "a fault of the spreadsheet",
        )
    if _NOTHING_KNOWN.fullmatch(written):
        raise RowError(
            f"'{written}' says that no number is known: the row counts once one is read.",
            "no number known",
        )


def _refuse_what_a_spreadsheet_made(written: str) -> None:
    if _DATE_OF_A_SPREADSHEET.fullmatch(written):
        raise RowError(
            f"'{written}' looks like a date that a spreadsheet made of a number such as "
            "11-86: write the mark as it is struck.",
            "a date made by a spreadsheet",
        )
    if _SHORTENED.fullmatch(written):
        raise RowError(
            f"'{written}' was shortened by a spreadsheet and has lost figures: keep the column as "
            "text and write the mark as it is struck.",
            "shortened by a spreadsheet",
        )


def struck_mark(text: str) -> Marking:
    """Read a mark of a table: the mark alone of what `as_struck` finds.

    Raises RowError and MarkingError, as that does.
    """
    return as_struck(text).mark
