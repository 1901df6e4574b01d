"""How a maker may have numbered, as one line of plain words.

A scheme lists, from left to right and parted by commas, what was struck:

==============================  ================================================================
``month``                       1 to 12; ``month of 2 figures`` (07); ``month as letter`` (A to L);
                                ``month as dots`` (as many dots as months)
``week``                        1 to 53; ``week of 2 figures``
``year``                        last two figures; ``year of 4 figures``, ``year of 1 figure``;
                                ``year counted from 1880`` (1880 is struck 1);
                                ``year as letter from 1880`` (1880 is struck A); ``going round``
                                behind it: after Z comes A again
``number overall``              a running number that never starts again
``number in year``              one that starts again each year; also ``in month``, ``in week``,
                                ``in batch``, ``in letter`` (each letter has a run of its own); any
                                number may say ``of 4 figures`` (0217), ``from 1001`` (the first
                                number given), ``odd`` or ``even``, and ``odd for A`` (even for any
                                other letter: two works that share the numbers)
``batch``                       the running number of a lot
``code``                        a number without meaning as to date or count, from 1 to some limit;
                                ``code near one value`` keeps to a neighbourhood (a model number);
                                both may say ``of 3 figures``
``letter``                      a works or variant letter; ``letter A B`` names those possible
``constant 7``                  always the same figures or letters
``dot`` ``ring`` ``space``      separators as struck; also ``hyphen`` ``stroke`` ``star``
                                ``cross`` ``diamond``; each may say ``sometimes``
==============================  ================================================================

At the end may stand ``; dots without meaning``: dots fall anywhere between figures, by a habit
that says nothing.

>>> str(Scheme.parse("Month, dot, YEAR, dot, number  in month"))
'month, dot, year, dot, number in month'
>>> Scheme.parse("month, dot, year, dot, number in month").in_words()
'month, then a dot, then year (last two figures), then a dot, then running number in each month'
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Self

from ironlace.survey.errors import SchemeError

SEPARATOR_GLYPHS = {
    "dot": "·",
    "ring": "°",
    "space": " ",
    "hyphen": "-",
    "stroke": "/",
    "star": "★",
    "cross": "✚",
    "diamond": "◆",
}
MAX_FIELDS = 6
"""Most groups of a mark: each more multiplies the ways to cut it; a judgement."""
_NO_MEANING = "dots without meaning"


class FieldKind(StrEnum):
    """What a group of figures or letters stands for."""

    MONTH = "month"
    WEEK = "week"
    YEAR = "year"
    NUMBER = "number"
    BATCH = "batch"
    CODE = "code"
    LETTER = "letter"
    CONSTANT = "constant"


class Counted(StrEnum):
    """Over what a running number runs before it starts again."""

    OVERALL = "overall"
    YEAR = "year"
    MONTH = "month"
    WEEK = "week"
    BATCH = "batch"
    LETTER = "letter"


@dataclass(frozen=True, slots=True)
class Separator:
    """A punch, stroke or gap that parts two groups. `sometimes`: struck about half the time."""

    name: str
    sometimes: bool = False

    @property
    def glyph(self) -> str:
        """The character that stands for it in a marking."""
        return SEPARATOR_GLYPHS[self.name]

    def __str__(self) -> str:
        return f"{self.name} sometimes" if self.sometimes else self.name


@dataclass(frozen=True, slots=True)
class Field:
    """One group of a mark and what it stands for.

    Attributes
    ----------
    kind
        What it stands for.
    counted
        For a number: over what it runs.
    figures
        How many figures it is struck with (padded with noughts); None when as many as needed.
        For a year without a start: 1, 2 or 4.
    start
        For a year: the year struck as 1 or A. For a number: the first number given.
    as_letter
        For a month or a year: struck as a letter.
    near
        For a code: keeps near one value.
    text
        For a constant: the characters. For a letter: those possible (empty: any).
    goes_round
        For a year as a letter: after Z comes A again.
    as_dots
        For a month: as many dots as months.
    parity
        For a number: `odd`, `even`, or `odd for A` (even beside any other letter); empty: all.
    """

    kind: FieldKind
    counted: Counted | None = None
    figures: int | None = None
    start: int | None = None
    as_letter: bool = False
    near: bool = False
    text: str = ""
    goes_round: bool = False
    as_dots: bool = False
    parity: str = ""

    def __str__(self) -> str:
        words = [str(self.kind)]
        if self.kind is FieldKind.NUMBER and self.counted is not None:
            words.append("overall" if self.counted is Counted.OVERALL else f"in {self.counted}")
        if self.near:
            words.append("near one value")
        if self.as_letter:
            words.append("as letter")
            if self.start is not None:
                words.append(f"from {self.start}")
            if self.goes_round:
                words.append("going round")
        elif self.as_dots:
            words.append("as dots")
        elif self.kind is FieldKind.YEAR and self.start is not None:
            words.append(f"counted from {self.start}")
        elif self.figures is not None and not (
            self.kind is FieldKind.YEAR and self.figures == _YEAR_FIGURES
        ):
            words.append(f"of {self.figures} figure{'s' if self.figures > 1 else ''}")
        if self.kind is FieldKind.NUMBER and self.start is not None:
            words.append(f"from {self.start}")
        if self.parity:
            words.append(self.parity)
        if self.kind is FieldKind.LETTER:
            words.extend(self.text)
        if self.kind is FieldKind.CONSTANT:
            words.append(self.text)
        return " ".join(words)

    def in_words(self) -> str:
        """Say what it stands for, in a few words."""
        if self.kind is FieldKind.NUMBER:
            if self.counted is Counted.OVERALL:
                said = "running number that never starts again"
            else:
                said = f"running number in each {self.counted}"
            said += _IN_WORDS.get(self.parity, "")
            if self.parity.startswith("odd for"):
                letter = self.parity[-1]
                said += f", odd beside {letter} and even beside any other letter"
        elif self.kind is FieldKind.YEAR:
            if self.as_letter:
                said = f"year as a letter from {self.start}"
                said += ", beginning again after Z" if self.goes_round else ""
            elif self.start is not None:
                said = f"year counted from {self.start}"
            else:
                said = {1: "last figure of the year", 2: "year (last two figures)", 4: "year"}[
                    self.figures or _YEAR_FIGURES
                ]
        elif self.kind is FieldKind.CODE:
            said = "code that keeps near one value" if self.near else "code without meaning"
        elif self.kind is FieldKind.LETTER:
            said = f"letter ({', '.join(self.text)})" if self.text else "letter"
        elif self.kind is FieldKind.CONSTANT:
            said = f"always {self.text}"
        elif self.as_letter:
            said = f"{self.kind} as a letter"
        elif self.as_dots:
            said = "as many dots as the month"
        else:
            said = str(self.kind)
        return said

    def in_brief(self) -> str:
        """Name it, as a part of a theory's name.

        >>> Field(FieldKind.NUMBER, Counted.YEAR).in_brief()
        'number within the year'
        """
        if self.kind is FieldKind.NUMBER:
            if self.counted is Counted.OVERALL:
                return "number that runs on"
            return f"number within the {_LOT if self.counted is Counted.BATCH else self.counted}"
        if self.kind is FieldKind.CODE:
            return "code near one value" if self.near else "code"
        if self.kind is FieldKind.CONSTANT:
            return f"always {self.text}"
        return _LOT if self.kind is FieldKind.BATCH else str(self.kind)


_IN_WORDS: Mapping[str, str] = {"odd": ", only odd numbers", "even": ", only even numbers"}

_LOT = "lot"
"""What a batch is called before a person: the trade's word."""

_YEAR_FIGURES = 2
"""Figures of a year where a theory does not say: 96 for 1896."""

_SERIES_STRUCK: Mapping[Counted, frozenset[FieldKind]] = {
    Counted.OVERALL: frozenset(),
    Counted.YEAR: frozenset({FieldKind.YEAR}),
    Counted.MONTH: frozenset({FieldKind.YEAR, FieldKind.MONTH}),
    Counted.WEEK: frozenset({FieldKind.YEAR, FieldKind.WEEK}),
    Counted.BATCH: frozenset({FieldKind.BATCH}),
    Counted.LETTER: frozenset({FieldKind.LETTER}),
}
"""What must stand beside a running number that starts again, so that no two marks are the same."""


@dataclass(frozen=True, slots=True)
class Scheme:
    """A way of numbering: fields and separators from left to right.

    Attributes
    ----------
    parts
        Fields and separators in the order they were struck.
    dots_without_meaning
        Whether dots also fall anywhere between figures.
    """

    parts: tuple[Field | Separator, ...]
    dots_without_meaning: bool = False

    @classmethod
    def parse(cls, text: str) -> Self:
        """Read one line of text.

        Raises
        ------
        SchemeError
            When a part is not known, or the whole makes no mark.

        >>> Scheme.parse("letter A B, ring, year, number in year of 4 figures").fields[1].kind
        <FieldKind.YEAR: 'year'>
        """
        body, _, flag = text.partition(";")
        flag = " ".join(flag.split()).lower()
        if flag not in ("", _NO_MEANING):
            raise SchemeError(
                f"'{flag}' cannot stand after the semicolon in '{text}': only '{_NO_MEANING}' can."
            )
        parts = tuple(_part(" ".join(piece.split()), text) for piece in body.split(","))
        scheme = cls(parts, bool(flag))
        _check(scheme, text)
        return scheme

    def __str__(self) -> str:
        body = ", ".join(str(part) for part in self.parts)
        return f"{body}; {_NO_MEANING}" if self.dots_without_meaning else body

    @property
    def fields(self) -> tuple[Field, ...]:
        """The fields alone, from left to right."""
        return tuple(part for part in self.parts if isinstance(part, Field))

    @property
    def gaps(self) -> tuple[tuple[Separator, ...], ...]:
        """The separators before, between and after the fields: one tuple more than fields."""
        found: list[list[Separator]] = [[]]
        for part in self.parts:
            if isinstance(part, Separator):
                found[-1].append(part)
            else:
                found.append([])
        return tuple(tuple(gap) for gap in found)

    @property
    def tells_date(self) -> bool:
        """Whether the mark itself would state a year."""
        return any(field.kind is FieldKind.YEAR for field in self.fields)

    @property
    def counts_dots(self) -> bool:
        """Whether the number of dots states the month."""
        return any(field.as_dots for field in self.fields)

    @property
    def tells_machines_apart(self) -> bool:
        """Whether no two machines bear the same mark under it; codes are given that credit.

        >>> Scheme.parse("month, dot, year").tells_machines_apart
        False
        >>> Scheme.parse("month, dot, year, dot, number in month").tells_machines_apart
        True
        """
        kinds = {field.kind for field in self.fields}
        return FieldKind.CODE in kinds or any(
            field.counted is not None and _SERIES_STRUCK[field.counted] <= kinds
            for field in self.fields
        )

    def in_words(self) -> str:
        """Say the scheme in a phrase."""
        said = ", then ".join(
            part.in_words() if isinstance(part, Field) else f"a {part.name}" for part in self.parts
        )
        return f"{said}, with dots that mean nothing" if self.dots_without_meaning else said

    def in_brief(self) -> str:
        """Name the scheme by what its groups stand for; separators and widths are left out.

        >>> Scheme.parse("letter, ring, year, dot, number in year").in_brief()
        'letter, year, number within the year'
        """
        said = ", ".join(field.in_brief() for field in self.fields)
        return f"{said}, with dots that mean nothing" if self.dots_without_meaning else said


_OF_FIGURES = re.compile(r"(?: of (\d+) figures?)?")
_NUMBER = re.compile(
    r"number (?:in (?P<per>month|year|week|batch|letter)|(?P<all>overall))"
    r"(?: of (?P<figures>\d+) figures?)?(?: from (?P<start>\d+))?"
    r"(?: (?P<parity>odd for [a-z]|odd|even))?"
)
_YEAR = re.compile(
    r"year(?: of (?P<figures>[124]) figures?| counted from (?P<start>\d{4})"
    r"| as letter from (?P<letter>\d{4})(?P<round> going round)?)?"
)
_MONTH = re.compile(
    r"(?P<what>month|week)(?: of (?P<figures>2) figures| as (?P<letter>letter)| as (?P<dots>dots))?"
)
_CODE = re.compile(
    r"(?P<what>code|batch)(?P<near> near one value)?(?: of (?P<figures>\d+) figures?)?"
)
_LETTER = re.compile(r"letter(?P<letters>(?: [A-Za-z])*)")
_CONSTANT = re.compile(r"constant (?P<text>[0-9A-Za-z]+)")
_SEPARATOR = re.compile(r"(?P<name>\w+)(?P<sometimes> sometimes)?")


def _whole(text: str | None) -> int | None:
    return None if text is None else int(text)


def _parity(text: str | None) -> str:
    """`odd for a` with its letter as it is struck."""
    if not text or not text.startswith("odd for"):
        return text or ""
    return text[:-1] + text[-1].upper()


def _part(piece: str, line: str) -> Field | Separator:
    lower = piece.lower()
    if found := _NUMBER.fullmatch(lower):
        counted = Counted(found["per"] or "overall")
        return Field(
            FieldKind.NUMBER,
            counted,
            figures=_whole(found["figures"]),
            start=_whole(found["start"]),
            parity=_parity(found["parity"]),
        )
    if found := _YEAR.fullmatch(lower):
        start = _whole(found["start"] or found["letter"])
        figures = None if start is not None else int(found["figures"] or _YEAR_FIGURES)
        return Field(
            FieldKind.YEAR,
            figures=figures,
            start=start,
            as_letter=found["letter"] is not None,
            goes_round=found["round"] is not None,
        )
    if found := _MONTH.fullmatch(lower):
        if found["what"] == "week" and (found["letter"] or found["dots"]):
            how = "letters" if found["letter"] else "dots to be counted by"
            raise SchemeError(f"'{piece}' in '{line}': 53 weeks have no {how}; write 'week'.")
        return Field(
            FieldKind(found["what"]),
            figures=_whole(found["figures"]),
            as_letter=found["letter"] is not None,
            as_dots=found["dots"] is not None,
        )
    if found := _CODE.fullmatch(lower):
        if found["what"] == "batch" and found["near"]:
            raise SchemeError(f"'{piece}' in '{line}': only a code keeps near one value.")
        return Field(
            FieldKind(found["what"]), figures=_whole(found["figures"]), near=bool(found["near"])
        )
    if found := _LETTER.fullmatch(lower):
        return Field(FieldKind.LETTER, text=found["letters"].replace(" ", "").upper())
    if found := _CONSTANT.fullmatch(piece) or _CONSTANT.fullmatch(lower):
        return Field(FieldKind.CONSTANT, text=found["text"].upper())
    if (found := _SEPARATOR.fullmatch(lower)) and found["name"] in SEPARATOR_GLYPHS:
        return Separator(found["name"], bool(found["sometimes"]))
    raise SchemeError(
        f"'{piece}' in '{line}' is no part of a mark known here: use for example month, "
        "year, number in month, number overall, code, letter A B, constant 7, dot, ring or space."
    )


def _check(scheme: Scheme, line: str) -> None:
    fields = scheme.fields
    if not fields:
        raise SchemeError(
            f"'{line}' has no part that says anything: name one at least, such as 'number overall'."
        )
    if len(fields) > MAX_FIELDS:
        raise SchemeError(
            f"'{line}' has {len(fields)} fields; at most {MAX_FIELDS} can be compared."
        )
    for kind in (FieldKind.MONTH, FieldKind.WEEK, FieldKind.YEAR, FieldKind.BATCH):
        if sum(field.kind is kind for field in fields) > 1:
            raise SchemeError(f"'{line}' names {kind} twice: call the second one 'code'.")
    if sum(field.kind is FieldKind.NUMBER for field in fields) > 1:
        raise SchemeError(f"'{line}' has two running numbers: call one of them 'code'.")
    for field in fields:
        if field.figures is not None and not 1 <= field.figures <= _MOST_FIGURES:
            raise SchemeError(
                f"'{field}' in '{line}': a field has 1 to {_MOST_FIGURES} figures, "
                f"not {field.figures}."
            )
        if field.kind is FieldKind.NUMBER and field.start == 0:
            raise SchemeError(f"'{field}' in '{line}': a number starts from 1 or more.")
    kinds = {field.kind for field in fields}
    for field in fields:
        by_letter = field.counted is Counted.LETTER or field.parity.startswith("odd for")
        if by_letter and FieldKind.LETTER not in kinds:
            raise SchemeError(f"'{field}' in '{line}' needs a letter beside it: name 'letter' too.")
    if scheme.counts_dots and scheme.dots_without_meaning:
        raise SchemeError(f"'{line}' counts dots that mean nothing: drop one of the two.")
    if any(len(gap) > 3 for gap in scheme.gaps):
        raise SchemeError(f"'{line}' puts more than three separators side by side: drop some.")


_MOST_FIGURES = 8
"""Most figures of one group: numbers end below 10 to the 8 (`Assumptions.highest_number`)."""
