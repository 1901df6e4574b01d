"""Numbers as they are called out at the bench: in figures, or in the words a keyboard writes.

`12.5`, `12,5`, `twelve point five`, `12 point five`, `minus one two comma oh five`, `1 1/4`. What
could be two numbers is asked about, never guessed.
"""

import re

from ironlace.evidence.errors import IronlaceError

_ONES = (
    *("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"),
    *("ten", "eleven", "twelve", "thirteen", "fourteen"),
    *("fifteen", "sixteen", "seventeen", "eighteen", "nineteen"),
)
_TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_SINGLE = {word: figure for figure, word in enumerate(_ONES[:10])}
_TEENS = {word: figure for figure, word in enumerate(_ONES) if figure > 9}
_TENFOLD = {word: 10 * figure for figure, word in enumerate(_TENS, 2)}
_SIGNS = {"minus": "-", "negative": "-", "-": "-", "−": "-", "plus": "", "+": ""}
_POINTS = ("point", "comma", "dot", ".", ",")
_FRACTION = re.compile(r"(?:\d{1,9} )?[1-9]\d{0,3}/[1-9]\d{0,3}", re.A)
_ONE_COMMA = re.compile(r"[1-9]\d{0,2},\d{3}", re.A)
_GROUPED = re.compile(r"[1-9]\d{0,2}(?:,\d{3})+(?:\.\d+)?", re.A)
_GROUPED_BY_POINTS = re.compile(r"[1-9]\d{0,2}(?:\.\d{3})+,\d+", re.A)
_PLAIN = re.compile(r"\d{0,12}(?:[.,]\d{0,12})?", re.A)
_FIGURES = re.compile(r"[0-9]{1,12}")
_LONGEST = 80
"""Characters of a number: longer is a slip of the finger, or a sentence."""


class SpokenNumberError(IronlaceError):
    """What was called out is not one number."""

    http_status = 422


def read_number(text: str) -> str:
    """Read one number; return it in figures, with every figure that was given.

    Raises SpokenNumberError when it is no number, or could be two.

    >>> [read_number(text) for text in ("12,50", "minus two point oh five", "1 1/4")]
    ['12.50', '-2.05', '1 1/4']
    >>> read_number("three hundred and seven")
    '307'
    """
    plain = " ".join(text.split())
    if not plain or len(plain) > _LONGEST:
        raise _no_number(plain)
    words = re.sub(r"(?<=[a-z])-(?=[a-z])", " ", plain.lower())
    words = re.sub(r"^([+\-−])(?=\S)", r"\1 ", words)
    first, _, rest = words.partition(" ")
    sign = ""
    if first in _SIGNS and rest:
        sign, words = _SIGNS[first], rest
    number = _in_figures(words, plain)
    if number is None:
        number = _in_words(words.split())
    if number is None:
        raise _no_number(plain)
    return f"{sign}{number}"


def _in_figures(text: str, as_it_came: str) -> str | None:
    if _FRACTION.fullmatch(text):
        return text
    if _ONE_COMMA.fullmatch(text):
        together = text.replace(",", "")
        pointed = text.replace(",", ".")
        raise SpokenNumberError(
            f"'{as_it_came}' could be {together} or {pointed}: write it without the comma, or with "
            "a point."
        )
    if _GROUPED.fullmatch(text):
        return text.replace(",", "")
    if _GROUPED_BY_POINTS.fullmatch(text):
        return text.replace(".", "").replace(",", ".")
    if not _PLAIN.fullmatch(text) or not text.strip(".,"):
        return None
    whole, _, part = text.replace(",", ".").partition(".")
    return f"{whole or '0'}.{part}" if part else whole


def _in_words(words: list[str]) -> str | None:
    """A number of which at least one piece is a word."""
    marks = [place for place, word in enumerate(words) if word in _POINTS]
    if len(marks) > 1:
        return None
    if not marks:
        return _whole(words)
    before, after = words[: marks[0]], words[marks[0] + 1 :]
    whole = _whole(before) if before else "0"
    part = _part(after)
    return None if whole is None or part is None else f"{whole}.{part}"


def _whole(words: list[str]) -> str | None:
    """A whole number from 0 to 999, or figure by figure."""
    if len(words) == 1 and _FIGURES.fullmatch(words[0]):
        return words[0]
    if len(words) > 1 and all(word in _SINGLE or word == "oh" for word in words):
        return "".join(str(_SINGLE.get(word, 0)) for word in words)
    total = 0
    if "hundred" in words:
        place = words.index("hundred")
        hundreds = words[:place]
        if hundreds == ["a"]:
            hundreds = ["one"]
        if len(hundreds) != 1 or not _SINGLE.get(hundreds[0]):
            return None
        total, words = 100 * _SINGLE[hundreds[0]], words[place + 1 :]
        if words[:1] == ["and"]:
            words = words[1:]
            if not words:
                return None
        if not words:
            return str(total)
        if words == ["zero"]:
            return None
    below = _below_hundred(words)
    return None if below is None else str(total + below)


def _below_hundred(words: list[str]) -> int | None:
    if len(words) == 1:
        word = words[0]
        return {**_SINGLE, **_TEENS, **_TENFOLD}.get(word)
    if len(words) == 2 and words[0] in _TENFOLD and _SINGLE.get(words[1]):
        return _TENFOLD[words[0]] + _SINGLE[words[1]]
    return None


def _part(words: list[str]) -> str | None:
    """What follows the point: figure by figure, in figures, or as one number below a hundred."""
    if not words:
        return None
    if all(word in _SINGLE or word in ("oh", "o") or _FIGURES.fullmatch(word) for word in words):
        return "".join(
            word if _FIGURES.fullmatch(word) else str(_SINGLE.get(word, 0)) for word in words
        )
    below = _below_hundred(words)
    return None if below is None else str(below)


def _no_number(text: str) -> SpokenNumberError:
    shown = f"'{text[:40]}'" if text else "Nothing"
    return SpokenNumberError(
        f"{shown} is not one number: give the number alone, such as 12.5 or twelve point five, up "
        "to nine hundred and ninety-nine in words; the unit is chosen above."
    )
