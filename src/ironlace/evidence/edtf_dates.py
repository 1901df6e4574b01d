"""Dates as far as they are known: EDTF (ISO 8601-2:2019; Library of Congress text of 2019).

Levels 0 and 1 are read whole, and of level 2 the forms that history needs: sets, significant
digits, unspecified digits anywhere in the year, qualified parts, quarters of a year. The `edtf`
library parses; intervals are split here, because it invents a date ten years away for an unknown
end and cannot tell that from an open one.
"""

import calendar
import re
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from functools import lru_cache
from typing import Any, Self

from ironlace.evidence.errors import IronlaceError

YearMonthDay = tuple[int, int, int]

_SIGNIFICANT = re.compile(r"(?P<year>-?\d{4}|Y-?\d{5,})S(?P<digits>\d)(?P<mark>[?~%]?)\Z")
_QUALIFIED_SEASON = re.compile(r"(-?\d{4}-2[1-4])[?~%]\Z")
_HALF_MONTH = re.compile(r"-(?:\dX|X\d)")
_PLAIN = re.compile(r"(?P<year>\d{4})(?:-(?P<month>\d\d)(?:-(?P<day>\d\d))?)?(?P<mark>[?~%]?)\Z")
_LEVEL_0 = re.compile(r"(\d{4})(?:-(\d\d)(?:-(\d\d))?)?\Z", re.ASCII)
_UNSPECIFIED_YEAR = re.compile(r"(?P<known>\d{2,3})(?P<x>X{1,2})(?P<mark>[?~%]?)\Z")
_SEASONS = {21: "spring", 22: "summer", 23: "autumn", 24: "winter"}
_MONTHS = list(calendar.month_name)


class EdtfError(IronlaceError):
    """A date is not written in EDTF, or not in a form that can be used."""


class End(StrEnum):
    """What an end of a date is: a day, open (goes on), or unknown."""

    DAY = "day"
    OPEN = "open"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class EdtfDate:
    """A date with its uncertainty, as written and as the days it spans.

    Attributes
    ----------
    text
        The EDTF as written.
    lower, upper
        First and last day (year, month, day) that the text allows, None where the end is open or
        unknown. A qualifier (`~`, `?`, `%`) does not widen them: how far "about" reaches is a
        judgement, and it stays one.
    lower_end, upper_end
        Whether an end is a day, open or unknown.
    approximate, uncertain
        Whether any part is qualified `~` or `?` (`%` is both).
    """

    text: str
    lower: YearMonthDay | None
    upper: YearMonthDay | None
    lower_end: End = End.DAY
    upper_end: End = End.DAY
    approximate: bool = False
    uncertain: bool = False

    @classmethod
    def parse(cls, text: str) -> Self:
        """Read an EDTF text.

        Raises
        ------
        EdtfError
            When it is not EDTF, names a day that does not exist, or ends before it begins.

        >>> EdtfDate.parse("1893-04~").latest
        datetime.date(1893, 4, 30)
        >>> EdtfDate.parse("1893/").latest is None
        True
        """
        written = text.strip()
        if written.count("/") == 1 and "T" not in written:
            start, stop = written.split("/")
            lower, lower_end = _interval_end(start, written, first=True)
            upper, upper_end = _interval_end(stop, written, first=False)
            if lower is None and upper is None:
                raise EdtfError(f"'{written}' says nothing: give a date at one end at least.")
        else:
            lower, upper = _span(written)
            lower_end = End.DAY if lower else End.OPEN
            upper_end = End.DAY if upper else End.OPEN
        if lower and upper and lower > upper:
            raise EdtfError(f"'{written}' ends before it begins: put the earlier date first.")
        return cls(
            written,
            lower,
            upper,
            lower_end,
            upper_end,
            approximate=bool(re.search(r"[~%]", written)),
            uncertain=bool(re.search(r"[?%]", written)),
        )

    @classmethod
    def between(cls, earliest: date, latest: date) -> Self:
        """Write the shortest level 0 text that spans exactly two days and the days between.

        >>> EdtfDate.between(date(1893, 4, 1), date(1894, 2, 28)).text
        '1893-04/1894-02'
        >>> EdtfDate.between(date(1893, 1, 1), date(1893, 12, 31)).text
        '1893'
        """
        last = calendar.monthrange(latest.year, latest.month)[1]
        whole_months = earliest.day == 1 and latest.day == last
        whole_years = whole_months and earliest.month == 1 and latest.month == 12
        form = "%Y" if whole_years else "%Y-%m" if whole_months else "%Y-%m-%d"
        start, stop = _iso(earliest, form), _iso(latest, form)
        return cls.parse(start if start == stop else f"{start}/{stop}")

    @property
    def earliest(self) -> date | None:
        """First day, or None where it is open or unknown.

        Raises EdtfError for years outside 1 to 9999, which no calendar library carries.
        """
        return self._as_date(self.lower)

    @property
    def latest(self) -> date | None:
        """Last day, or None where it is open or unknown."""
        return self._as_date(self.upper)

    def _as_date(self, day: YearMonthDay | None) -> date | None:
        if day is None:
            return None
        try:
            return date(*day)
        except ValueError as error:
            raise EdtfError(
                f"'{self.text}' lies outside the years 1 to 9999: give a date a machine can have."
            ) from error

    def __str__(self) -> str:
        return self.text

    def in_words(self) -> str:
        """Return the date as a person says it.

        >>> EdtfDate.parse("1893-04~").in_words()
        'about April 1893'
        >>> EdtfDate.parse("189X").in_words()
        'some year in the 1890s'
        >>> EdtfDate.parse("1893/..").in_words()
        '1893 or later'
        """
        if self.text.count("/") == 1 and "T" not in self.text:
            start, stop = self.text.split("/")
            return _interval_in_words(start, stop)
        return _date_in_words(self.text)


def date_in_words(text: str | None, *, with_edtf: bool = False) -> str:
    """An EDTF text as a person says it; the text itself when it is none.

    `with_edtf` puts the EDTF behind the words where the two differ, so that it can be copied.

    >>> date_in_words("1893-04~"), date_in_words(None), date_in_words("soon")
    ('about April 1893', '', 'soon')
    >>> date_in_words("1893-04~", with_edtf=True), date_in_words("1893", with_edtf=True)
    ('about April 1893 (1893-04~)', '1893')
    """
    if not text:
        return ""
    try:
        words = EdtfDate.parse(text).in_words()
    except EdtfError:
        return text
    return f"{words} ({text})" if with_edtf and words != text else words


def _iso(day: date, form: str) -> str:
    # strftime drops leading zeros of years below 1000 on some systems
    return f"{day.year:04d}" + day.strftime(form.removeprefix("%Y"))


def _interval_end(part: str, whole: str, *, first: bool) -> tuple[YearMonthDay | None, End]:
    if part == "":
        return None, End.UNKNOWN
    if part == "..":
        return None, End.OPEN
    if any(sign in part for sign in "[]{}"):
        raise EdtfError(f"'{whole}' puts a set into an interval: write one or the other.")
    lower, upper = _span(part)
    return (lower if first else upper), End.DAY


@lru_cache(maxsize=4096)
def _span(text: str) -> tuple[YearMonthDay | None, YearMonthDay | None]:
    """First and last day of anything but an interval."""
    plain = _LEVEL_0.match(text)
    if plain and int(plain[2] or 1) <= 12:  # from 13 on it is a season, or nothing
        # nearly every date in a record; the library takes 5 ms for one, this takes a microsecond
        return _calendar_span(text, *(int(part) if part else None for part in plain.groups()))
    significant = _SIGNIFICANT.match(text)
    if significant:
        return _significant_span(text, significant)
    season = _QUALIFIED_SEASON.match(text)
    if season:  # the standard qualifies any date; the library does so for all but seasons
        return _span(season[1])
    if not text or _HALF_MONTH.search(text) or "/" in text:
        raise _not_edtf(text)
    # its grammar takes a tenth of a second to load, and nearly every date is told above
    from edtf import parse_edtf
    from edtf.parser.edtf_exceptions import EDTFParseException

    try:
        parsed: Any = parse_edtf(text)
        return _day(parsed.lower_strict(), text), _day(parsed.upper_strict(), text)
    except (EDTFParseException, AttributeError, TypeError, ValueError) as error:
        raise _not_edtf(text) from error


def _calendar_span(
    text: str, year: int | None, month: int | None, day: int | None
) -> tuple[YearMonthDay, YearMonthDay]:
    """First and last day of a year, month or day of level 0."""
    assert year is not None
    if month is None:
        return (year, 1, 1), (year, 12, 31)
    if not 1 <= month <= 12:
        raise _not_edtf(text)
    last = calendar.monthrange(2000 + year % 400, month)[1]  # the calendar repeats
    if day is None:
        return (year, month, 1), (year, month, last)
    if not 1 <= day <= last:
        raise EdtfError(f"'{text}' names day {day} of month {month}, which does not exist.")
    return (year, month, day), (year, month, day)


def _day(bound: Any, text: str) -> YearMonthDay | None:
    if isinstance(bound, float):  # the library's open end
        return None
    year, month, day = int(bound.tm_year), int(bound.tm_mon), int(bound.tm_mday)
    return _calendar_span(text, year, month, day)[0]


def _significant_span(text: str, match: re.Match[str]) -> tuple[YearMonthDay, YearMonthDay]:
    # '1950S2' is some year whose first two digits are 19, estimated as 1950 (level 2)
    year = int(match["year"].removeprefix("Y"))
    digits = int(match["digits"])
    width = len(str(abs(year)).zfill(4))
    if not 0 < digits <= width:
        raise EdtfError(
            f"'{text}' counts {digits} significant digits of {width}: give 1 to {width}."
        )
    step = 10 ** (width - digits)
    start = abs(year) // step * step
    first, last = (start, start + step - 1) if year >= 0 else (-(start + step - 1), -start)
    return (first, 1, 1), (last, 12, 31)


def _not_edtf(text: str) -> EdtfError:
    return EdtfError(
        f"'{text}' is not a date in EDTF: write 1893, 1893-04, 1893-04-12, 1893~ for about, 189X "
        "for the 1890s, 1893/1896 for between, 1893/.. for from then on."
    )


def _date_in_words(text: str) -> str:
    unspecified = _UNSPECIFIED_YEAR.match(text)
    if unspecified and len(unspecified["known"]) + len(unspecified["x"]) == 4:
        if unspecified["x"] == "X":
            body = f"some year in the {unspecified['known']}0s"
        else:
            body = f"some year from {unspecified['known']}00 to {unspecified['known']}99"
        return _qualified(body, unspecified["mark"])
    plain = _PLAIN.match(text)
    if not plain:
        return text
    month = int(plain["month"] or 0)
    body = plain["year"]
    if month in _SEASONS:
        body = f"{_SEASONS[month]} {body}"
    elif 1 <= month <= 12:
        body = f"{_MONTHS[month]} {body}"
        if plain["day"]:
            body = f"{int(plain['day'])} {body}"
    elif month:
        return text
    return _qualified(body, plain["mark"])


def _qualified(body: str, mark: str) -> str:
    if mark == "~":
        return f"about {body}"
    if mark == "?":
        return f"{body}, uncertain"
    if mark == "%":
        return f"about {body}, uncertain"
    return body


def _interval_in_words(start: str, stop: str) -> str:
    if stop == "..":
        return f"{_date_in_words(start)} or later"
    if start == "..":
        return f"{_date_in_words(stop)} or earlier"
    if not stop:
        return f"from {_date_in_words(start)} to an unknown date"
    if not start:
        return f"from an unknown date to {_date_in_words(stop)}"
    return f"between {_date_in_words(start)} and {_date_in_words(stop)}"
