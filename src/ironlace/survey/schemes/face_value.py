"""A mark read at its face under one scheme: the figures as they stand, nothing summed.

For counting and for plots, where one value has to stand for a report. Comparison and dating keep
every doubt instead.
"""

import calendar
import re
from dataclasses import dataclass
from functools import lru_cache

from ironlace.evidence.markings import DOT, Glyph, Marking
from ironlace.survey.schemes.scheme import Counted, Field, FieldKind, Scheme

_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@dataclass(frozen=True, slots=True)
class FaceValue:
    """What a mark says under a scheme; None where the scheme has no such field.

    Attributes
    ----------
    year, month, week, batch
        As stated; years in full.
    number
        The running number.
    letter
        The works or variant letter.
    series
        Name of the series the number counts in: a month, a year, a lot; empty when overall.
    """

    year: int | None = None
    month: int | None = None
    week: int | None = None
    batch: int | None = None
    number: int | None = None
    letter: str | None = None
    series: str = ""

    def in_words(self) -> str:
        """Say what the mark states.

        >>> FaceValue(year=1896, month=4, number=217, series="1896-04").in_words()
        'April 1896, number 217 of that month'
        """
        said = [f"letter {self.letter}"] if self.letter else []
        if self.month or self.year:
            month = calendar.month_name[self.month] if self.month else ""
            said.append(" ".join(str(part) for part in (month, self.year) if part))
        said += [f"week {self.week}"] if self.week else []
        said += [f"lot {self.batch}"] if self.batch else []
        if self.number is not None:
            of = "month" if self.month and "-" in self.series else "year"
            of = "letter" if self.series.startswith("letter ") else of
            of = "week" if "-W" in self.series else "lot" if "lot" in self.series else of
            said.append(f"number {self.number}" + (f" of that {of}" if self.series else ""))
        return ", ".join(said)


@lru_cache(maxsize=256)
def _pattern(scheme: Scheme) -> re.Pattern[str]:
    pieces = []
    for i, field in enumerate(scheme.fields):
        gap = scheme.gaps[i]
        pieces.append("".join(f"{re.escape(s.glyph)}?" for s in gap))
        pieces.append(f"(?P<f{i}>{_field_pattern(field)})")
    pieces.append("".join(f"{re.escape(s.glyph)}?" for s in scheme.gaps[-1]))
    return re.compile("".join(pieces))


def _field_pattern(field: Field) -> str:
    if field.kind is FieldKind.MONTH:
        if field.as_letter or field.as_dots:
            return "[A-L]"
        return "0[1-9]|1[0-2]" if field.figures == 2 else "1[0-2]|[1-9]"
    if field.kind is FieldKind.WEEK:
        return "0[1-9]|[1-4][0-9]|5[0-3]" if field.figures == 2 else "[1-4][0-9]|5[0-3]|[1-9]"
    if field.kind is FieldKind.YEAR:
        if field.as_letter:
            return "[A-Z]"
        return rf"\d{{{field.figures}}}" if field.figures else r"[1-9]\d{0,2}"
    if field.kind is FieldKind.LETTER:
        return f"[{field.text or _LETTERS}]"
    if field.kind is FieldKind.CONSTANT:
        return re.escape(field.text)
    if field.figures:
        return rf"\d{{{field.figures}}}|[1-9]\d{{{field.figures},}}"
    return r"[1-9]\d{0,7}"


def face_value(
    mark: Marking, scheme: Scheme, *, first_year: int = 1850, last_year: int = 1930
) -> FaceValue | None:
    """Read a mark at its face; None when it is not clear throughout or does not fit.

    Separators may be missing. With idle dots all separators between figures are passed over.

    >>> from ironlace.evidence.markings import parse_marking
    >>> scheme = Scheme.parse("month, dot, year, dot, number in month")
    >>> face_value(parse_marking("4.96.217"), scheme).series
    '1896-04'
    >>> face_value(parse_marking("13.96.217"), scheme) is None
    True
    """
    if scheme.counts_dots:
        mark = dots_as_letter(mark, scheme)
    if any(glyph.certain is None for glyph in mark.glyphs if not glyph.is_separator):
        return None
    text = "".join(
        glyph.options[0]
        for glyph in mark.glyphs
        if not (glyph.is_separator and scheme.dots_without_meaning)
    )
    match = _pattern(scheme).fullmatch(text) or _pattern(scheme).fullmatch(
        "".join(c for c in text if c.isalnum())
    )
    if match is None:
        return None
    held: dict[str, int | str | None] = {}
    for i, field in enumerate(scheme.fields):
        value = _value(field, match[f"f{i}"], first_year, last_year)
        if value is None and field.kind is FieldKind.YEAR:
            return None
        if field.kind in (FieldKind.CODE, FieldKind.CONSTANT):
            continue
        held[str(field.kind)] = value
    number = next((f for f in scheme.fields if f.kind is FieldKind.NUMBER), None)
    return FaceValue(
        year=_whole(held.get("year")),
        month=_whole(held.get("month")),
        week=_whole(held.get("week")),
        batch=_whole(held.get("batch")),
        number=_whole(held.get("number")),
        letter=str(held["letter"]) if "letter" in held else None,
        series=_series(number, held),
    )


def face_values(
    mark: Marking, scheme: Scheme, *, first_year: int = 1850, last_year: int = 1930
) -> tuple[FaceValue, ...]:
    """Every reading of a mark at its face where its year comes round within the period.

    >>> from ironlace.evidence.markings import parse_marking
    >>> scheme = Scheme.parse("year as letter from 1865 going round, number in year")
    >>> [value.year for value in face_values(parse_marking("B300"), scheme)]
    [1866, 1892, 1918]
    """
    part = next((field for field in scheme.fields if field.kind is FieldKind.YEAR), None)
    if part is None or (part.start is not None and not part.goes_round):
        round_ = last_year - first_year + 1
    else:
        round_ = len(_LETTERS) if part.goes_round else 10 ** (part.figures or 1)
    found = (
        face_value(mark, scheme, first_year=year, last_year=min(year + round_ - 1, last_year))
        for year in range(first_year, last_year + 1, round_)
    )
    return tuple(value for value in found if value is not None)


def dots_as_letter(mark: Marking, scheme: Scheme) -> Marking:
    """The mark with the dots that count a month as a letter, A to L, so that it can be cut.

    The dots counted stand first, last, or are the longest row of them, as the scheme has it. A mark
    without such dots, or with more than twelve, is left as it is and then fits no month.

    >>> from ironlace.evidence.markings import parse_marking
    >>> scheme = Scheme.parse("year, month as dots, number in month")
    >>> str(dots_as_letter(parse_marking("96....217"), scheme))
    '96D217'
    """
    rows: list[tuple[int, int]] = []
    for i, glyph in enumerate(mark.glyphs):
        if glyph.options[:1] != (DOT,):
            continue
        if rows and rows[-1][1] == i:
            rows[-1] = (rows[-1][0], i + 1)
        else:
            rows.append((i, i + 1))
    kinds = [field.as_dots for field in scheme.fields]
    if kinds[0]:
        rows = [row for row in rows if row[0] == 0]
    elif kinds[-1]:
        rows = [row for row in rows if row[1] == len(mark.glyphs)]
    if not rows:
        return mark
    first, last = max(rows, key=lambda row: row[1] - row[0])
    if last - first > _MONTHS:
        return mark
    return Marking(
        (*mark.glyphs[:first], Glyph((_LETTERS[last - first - 1],)), *mark.glyphs[last:])
    )


_MONTHS = 12
"""Months of a year: no more dots are counted."""


def _whole(value: int | str | None) -> int | None:
    return value if isinstance(value, int) else None


def _value(field: Field, text: str, first_year: int, last_year: int) -> int | str | None:
    if field.kind is FieldKind.LETTER:
        return text
    if field.kind is FieldKind.MONTH and (field.as_letter or field.as_dots):
        return _LETTERS.index(text) + 1
    if field.kind is not FieldKind.YEAR:
        return int(text) if text.isdigit() else None
    if field.as_letter or field.start is not None:
        step = _LETTERS.index(text) if field.as_letter else int(text) - 1
        year = (field.start or 0) + step
        if field.goes_round:
            rounds = [y for y in range(year, last_year + 1, len(_LETTERS)) if y >= first_year]
            return rounds[0] if len(rounds) == 1 else None
        return year if first_year <= year <= last_year else None
    fitting = [y for y in range(first_year, last_year + 1) if str(y).endswith(text)]
    return fitting[0] if len(fitting) == 1 else None


def _series(number: Field | None, held: dict[str, int | str | None]) -> str:
    if number is None or number.counted in (None, Counted.OVERALL):
        return ""
    letter = f"{held['letter']} " if held.get("letter") else ""
    if number.counted is Counted.LETTER:
        return f"letter {held['letter']}" if held.get("letter") else "letter ?"
    year = held.get("year")
    if number.counted is Counted.MONTH and held.get("month"):
        return f"{letter}{year or '?'}-{held['month']:02d}"
    if number.counted is Counted.WEEK and held.get("week"):
        return f"{letter}{year or '?'}-W{held['week']:02d}"
    if number.counted is Counted.BATCH and held.get("batch"):
        return f"{letter}lot {held['batch']}"
    return f"{letter}{year or '?'}"
