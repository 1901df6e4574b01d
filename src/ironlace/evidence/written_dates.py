"""Dates as people write them, read into EDTF: `November 1887`, `about 1885`, `before 1890`.

What is understood is always shown back in words, and EDTF stays what is kept. A date that could be
two days (`11/12/1887`: which is the month?) is asked about, never guessed. Month names are English.
"""

import re
from collections.abc import Callable
from datetime import date, timedelta

from ironlace.evidence.edtf_dates import EdtfDate, EdtfError

_MONTHS = (
    *("january", "february", "march", "april", "may", "june", "july", "august"),
    *("september", "october", "november", "december"),
)
_MONTH = r"(?P<month>[a-z]{3,9})\.?"
_YEAR = r"(?P<year>\d{4})"
_DAY = r"(?P<day>\d{1,2})(?:st|nd|rd|th)?"
_LIKE_EDTF = re.compile(r"[\dXYSETZ.~?%/:{}\[\],-]*\d[\dXYSETZ.~?%/:{}\[\],-]*")
"""What is written with the signs of EDTF alone is told what EDTF finds wrong with it."""

_RARE_PART_OF_YEAR = re.compile(r"\d{4}-(?:2[5-9]|3\d|4[01])[?~%]?")
"""Seasons by hemisphere, quarters and halves in EDTF; typed by hand, a month or day slipped out."""

_NO_SUCH_MONTH = re.compile(r"(1[5-9]\d\d)-(00|1[3-9]|20)(?:-\d\d)?")
"""A year and a month there is not; of two figures above the year's own it would be a span."""

_SEASONS = {"spring": 21, "summer": 22, "autumn": 23, "fall": 23, "winter": 24}


def read_date(text: str) -> EdtfDate:
    """Read a date in EDTF, or as people write it.

    Raises
    ------
    EdtfError
        When it cannot be read, or could be two different days.

    >>> read_date("November 1887").text
    '1887-11'
    >>> read_date("about 1885").text
    '1885~'
    >>> read_date("before 1890").text
    '../1889'
    >>> read_date("26.11.1887").text
    '1887-11-26'
    >>> read_date("1887-11~").text
    '1887-11~'
    """
    if _RARE_PART_OF_YEAR.fullmatch(text.strip()):
        raise EdtfError(
            f"'{text.strip()}' is a slip, or a part of the year in a code nobody writes by hand: "
            "write the month (1895-03), the day (1895-03-31) or the years (1895/1931)."
        )
    no_month = _NO_SUCH_MONTH.fullmatch(text.strip())
    if no_month and int(no_month[2]) <= int(no_month[1][2:]):
        raise EdtfError(
            f"'{text.strip()}' names month {int(no_month[2])}, and there are twelve: write the "
            "month (1895-03), the day (1895-03-31) or the years (1895/1896)."
        )
    try:
        return EdtfDate.parse(text)
    except EdtfError as no_edtf:
        written = _plain(text)
        found = _written(written)
        if found is None:
            if _LIKE_EDTF.fullmatch(text.strip()):
                raise
            raise EdtfError(
                f"'{text.strip()}' is not a date: write it like 1887, November 1887, "
                "26 November 1887, about 1885, 1880s, before 1890, 1885 to 1890, week 14 of 1887."
            ) from no_edtf
        return EdtfDate.parse(found)


def read_day(text: str) -> date:
    """Read a date that must be one day.

    Raises EdtfError when it cannot be read, or is not one day.

    >>> read_day("26 November 1887"), read_day("1887-11-26")
    (datetime.date(1887, 11, 26), datetime.date(1887, 11, 26))
    """
    found = read_date(text)
    if found.earliest is None or found.earliest != found.latest or found.approximate:
        raise EdtfError(f"'{text.strip()}' is not one day: write it like 26 November 1887.")
    return found.earliest


def _plain(text: str) -> str:
    plain = " ".join(text.lower().replace("–", "-").replace("—", "-").split())
    return re.sub(r"^(?:in|on|the|dated|of) ", "", plain).strip(" ,;")


def _written(text: str) -> str | None:
    """The EDTF of a text in one of the forms known, None when it is in none."""
    for pattern, make in _FORMS:
        match = pattern.fullmatch(text)
        if match:
            return make(match)
    return None


def _month(name: str) -> int:
    """The number of a month by its name or the beginning of it.

    Raises EdtfError when it is no month.
    """
    bare = name.rstrip(".")
    if bare == "sept":
        return 9
    found = [n for n, whole in enumerate(_MONTHS, 1) if whole.startswith(bare)]
    if len(found) != 1:
        raise EdtfError(f"'{name}' is no month: write it out, such as November.")
    return found[0]


def _named(match: re.Match[str]) -> str:
    """A day or month with its month's name."""
    month = f"{match['year']}-{_month(match['month']):02d}"
    day = match.groupdict().get("day")
    return f"{month}-{int(day):02d}" if day else month


def _in_figures(match: re.Match[str]) -> str:
    """Day, month and year in figures; with strokes either may come first."""
    first, second, year = int(match["first"]), int(match["second"]), match["year"]
    day, month = first, second
    if match["sign"] != ".":
        if first <= 12 and second <= 12 and first != second:
            raise EdtfError(
                f"'{match[0]}' could be two days: which is the month? Write it by name, such as "
                f"{first} {_MONTHS[second - 1].capitalize()} {year}."
            )
        if second > 12:
            day, month = second, first
    return f"{year}-{month:02d}-{day:02d}"


def _about(match: re.Match[str]) -> str:
    inner = _within(match["rest"])
    if "/" in inner or inner[-1:] in "~?%]":
        raise EdtfError(f"'{match[0]}' doubts a span: give the two ends, such as 1885/1890.")
    return f"{inner}~"


def _maybe(match: re.Match[str]) -> str:
    return _about(match).removesuffix("~") + "?"


def _within(text: str) -> str:
    """The EDTF of a part of a text."""
    found = _written(text)
    return found if found is not None else EdtfDate.parse(text).text


def _before(match: re.Match[str]) -> str:
    first = EdtfDate.parse(_within(match["rest"])).earliest
    if first is None:
        raise EdtfError(f"'{match[0]}' has no end: give the date it was before.")
    return f"../{_shortest(first - timedelta(days=1), last=True)}"


def _after(match: re.Match[str]) -> str:
    last = EdtfDate.parse(_within(match["rest"])).latest
    if last is None:
        raise EdtfError(f"'{match[0]}' has no end: give the date it was after.")
    return f"{_shortest(last + timedelta(days=1), last=False)}/.."


def _shortest(day: date, *, last: bool) -> str:
    """A day as the year or month that it ends (or begins), where it does."""
    edge = day + timedelta(days=1) if last else day
    if edge.day != 1:
        return day.isoformat()
    return f"{day.year:04d}" if edge.month == 1 else f"{day.year:04d}-{day.month:02d}"


def _until(match: re.Match[str]) -> str:
    return f"../{_within(match['rest'])}"


def _since(match: re.Match[str]) -> str:
    return f"{_within(match['rest'])}/.."


def _between(match: re.Match[str]) -> str:
    low, high = match["low"], match["high"]
    if re.fullmatch(r"\d{1,3}", high) and re.fullmatch(r"\d{4}", low):
        high = low[: 4 - len(high)] + high  # 1885-90
    return f"{_within(low)}/{_within(high)}"


def _week(match: re.Match[str]) -> str:
    try:
        monday = date.fromisocalendar(int(match["year"]), int(match["week"]), 1)
    except ValueError as error:
        raise EdtfError(f"'{match[0]}' is no week of that year: weeks run from 1 to 53.") from error
    return f"{monday.isoformat()}/{(monday + timedelta(days=6)).isoformat()}"


def _week_of(match: re.Match[str]) -> str:
    first = EdtfDate.parse(_within(match["rest"]))
    if first.earliest is None or first.earliest != first.latest:
        raise EdtfError(f"'{match[0]}' names no week: give a day of it, or its number.")
    monday = first.earliest - timedelta(days=first.earliest.weekday())
    return f"{monday.isoformat()}/{(monday + timedelta(days=6)).isoformat()}"


def _century(match: re.Match[str]) -> str:
    return f"{int(match['number']) - 1:02d}XX"


_FORMS: list[tuple[re.Pattern[str], Callable[[re.Match[str]], str]]] = [
    (re.compile(pattern), make)
    for pattern, make in (
        (rf"(?P<first>\d{{1,2}})(?P<sign>[./-])(?P<second>\d{{1,2}})(?P=sign){_YEAR}", _in_figures),
        (r"(?P<decade>\d{3})0'?s", lambda m: f"{m['decade']}X"),
        (
            rf"(?P<season>spring|summer|autumn|fall|winter)(?: of)? {_YEAR}",
            lambda m: f"{m['year']}-{_SEASONS[m['season']]}",
        ),
        (r"(?P<number>\d{1,2})(?:st|nd|rd|th) century", _century),
        (rf"(?:week|wk) ?(?P<week>\d{{1,2}})(?:/|,?(?: of| in)? ){_YEAR}", _week),
        (rf"(?P<week>\d{{1,2}})(?:st|nd|rd|th) week(?: of| in)? {_YEAR}", _week),
        (rf"{_YEAR},? (?:week|wk) ?(?P<week>\d{{1,2}})", _week),
        (r"(?:in )?(?:the )?week (?:of|from|beginning) (?P<rest>.+)", _week_of),
        (r"(?P<year>\d{4})-?w(?P<week>\d{1,2})", _week),
        (r"(?:about|around|circa|ca\.?|c\.|abt\.?|approximately|roughly) ?(?P<rest>.+)", _about),
        (r"(?P<rest>.+?) or so", _about),
        (r"(?:perhaps|possibly|probably|maybe) (?P<rest>.+)", _maybe),
        (r"(?:before|earlier than) (?P<rest>.+)", _before),
        (r"(?:after|later than) (?P<rest>.+)", _after),
        (r"(?:until|till|up to|by|not after|no later than) (?P<rest>.+)", _until),
        (r"(?P<rest>.+) or (?:before|earlier)", _until),
        (r"(?P<rest>.+) or (?:after|later)", _since),
        (r"(?:between|from) (?P<low>.+?) (?:and|to) (?P<high>.+)", _between),
        (r"(?:since|from|not before|no earlier than) (?P<rest>.+?)(?: on| onwards?)?", _since),
        (r"(?P<low>.+?) (?:to|-) (?P<high>.+)", _between),
        (r"(?P<low>\d{4})-(?P<high>\d{2}|\d{4})", _between),
        (r"(?P<low>\d{4}) or (?P<high>\d{4})", lambda m: f"[{m['low']},{m['high']}]"),
        (rf"{_MONTH},? {_YEAR}", _named),
        (rf"{_DAY}(?: of)? {_MONTH},? {_YEAR}", _named),
        (rf"{_MONTH} {_DAY},? {_YEAR}", _named),
    )
]
"""The forms; a month's name is tried last, as any word before a year could be meant as one."""
