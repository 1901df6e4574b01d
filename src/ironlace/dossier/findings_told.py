"""Findings in words: the value, its interval on a scale of years, the method."""

import json
from collections.abc import Mapping
from datetime import date

from pydantic import JsonValue

from ironlace.dossier.account import Span, Worked
from ironlace.dossier.words import date_in_words
from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.findings import Finding, Interval
from ironlace.record.job import DATE_FINDING

_LONGEST_VALUE = 300
_LONGEST_PARAMETER = 60


def worked(name: str, finding: Finding, note: str) -> Worked:
    """Tell what was worked out, how, and from what."""
    value, details = _value_told(finding.value, finding.unit)
    return Worked(
        name=name,
        about=finding.about,
        value=value,
        details=details,
        interval=_interval_told(finding.interval, finding.unit),
        sentence=finding.sentence,
        method=finding.method.name,
        published=finding.method.published,
        parameters=_short(_pairs(finding.method.parameters)),
        inputs=tuple(finding.inputs.items()),
        version=finding.version,
        fingerprint=finding.fingerprint(),
        note=note,
        grade=finding.grade,
        span=_span(finding) if finding.about == DATE_FINDING else None,
    )


def _interval_told(interval: Interval | None, unit: str) -> str:
    if interval is None:
        return ""
    low, high = (
        date_in_words(end) if isinstance(end, str) else end for end in (interval.low, interval.high)
    )
    words = Interval.model_construct(low=low, high=high, coverage=interval.coverage).in_words()
    bounds, bracket, coverage = words.replace(" %", "\u00a0%").rpartition(" (")
    return f"{bounds} {unit}".strip() + bracket + coverage


def _value_told(value: JsonValue, unit: str) -> tuple[str, tuple[tuple[str, str], ...]]:
    if isinstance(value, dict):
        return "", _pairs(value)
    return f"{_plain(value)} {unit}".strip(), ()


def _pairs(values: Mapping[str, JsonValue]) -> tuple[tuple[str, str], ...]:
    return tuple((key.replace("_", " "), _plain(value)) for key, value in values.items())


def _short(pairs: tuple[tuple[str, str], ...]) -> tuple[tuple[str, str], ...]:
    """The parameters that fit a margin; long ones are named, and stand in the record's file."""
    told = tuple(
        (key, value)
        for key, value in pairs
        if len(value) <= _LONGEST_PARAMETER and "{" not in value
    )
    rest = [key for key, _ in pairs if key not in dict(told)]
    return (*told, (" and ".join(rest), "in record.json")) if rest else told


def _plain(value: JsonValue) -> str:
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, str):
        return date_in_words(value)
    if isinstance(value, int):
        return str(value)
    text = json.dumps(value, ensure_ascii=False)
    if len(text) > _LONGEST_VALUE:
        return f"{len(value)} values, in the record's file"
    return text


def _span(finding: Finding) -> Span | None:
    """Place a date finding's interval (or its value) on a scale of years."""
    ends: tuple[str | float | None, str | float | None]
    if finding.interval is not None:
        ends = finding.interval.low, finding.interval.high
    elif isinstance(finding.value, str):
        ends = finding.value, finding.value
    else:
        return None
    low, high = _day(ends[0], first=True), _day(ends[1], first=False)
    known = [day for day in (low, high) if day is not None]
    if not known:
        return None
    first, last = known[0].year - 3, known[-1].year + 4
    first, last = first - first % 5, last + -last % 5

    def share(day: date | None) -> float | None:
        if day is None:
            return None
        return ((day.year - first) + (day.timetuple().tm_yday - 1) / 366) / (last - first)

    return Span(first, last, share(low), share(high))


def _day(end: str | float | None, *, first: bool) -> date | None:
    if end is None:
        return None
    text = end if isinstance(end, str) else f"{int(end):04d}"
    try:
        known = EdtfDate.parse(text)
        return known.earliest if first else known.latest
    except IronlaceError:
        return None
