"""Findings as blocks of an account: the value, its interval, its other results, its method."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from pydantic import JsonValue

from ironlace.dossier.account.blocks import (
    Block,
    Cell,
    Item,
    Margin,
    Matter,
    Pairs,
    Remark,
    Row,
    Says,
    Tabular,
    YearSpan,
)
from ironlace.dossier.words import capital
from ironlace.evidence.analyses import Known
from ironlace.evidence.edtf_dates import EdtfDate, date_in_words
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.findings import DATE_FINDING, Finding, Interval, Result
from ironlace.record.values_in_words import checksum_like, name_in_words, value_in_words

_LONGEST_VALUE = 300
"""Characters of a value that a page carries; longer ones stand in the record's file."""

_LONGEST_PARAMETER = 60
"""Characters of a parameter that fit the margin on three lines."""

_SCALE_YEARS = 5
"""A scale of years begins and ends on a fifth year, three or more beyond what is known."""

_STALE = "What it was computed from has changed since: it is to be worked out again."


@dataclass(frozen=True, slots=True)
class FindingWords:
    """How a finding is announced; the workshop, which knows the analyses, fills it in.

    Attributes
    ----------
    question
        The question it answers, in plain words.
    section
        Where the account has it: ``"made"``, ``"marks"``, ``"ornament"``, ``"running"``,
        ``"stand"``, ``"care"``; empty for what else was worked out.
    stale
        Whether its inputs have changed since, or a sentence that says which.
    """

    question: str = ""
    section: str = ""
    stale: bool | str = False


def finding_item(name: str, finding: Finding, note: str, words: FindingWords) -> Item:
    """What was worked out, how, and from what."""
    heading = "" if finding.about == DATE_FINDING else words.question or capital(finding.about)
    return Item(
        name,
        tuple(_blocks(finding, note, words)),
        method_margin(name, finding),
        heading=heading,
    )


def method_margin(name: str, finding: Finding) -> Margin:
    """How a finding was computed, for the margin."""
    parameters = (f"{name}: {value}" for name, value in _short(_flat(finding)))
    lines = (finding.method.name, finding.method.published, *parameters)
    return Margin(
        grade=finding.grade,
        lines=tuple(line for line in lines if line),
        inputs=tuple(finding.inputs.items()),
        small_print=(
            f"{name}, version {finding.version}, fingerprint {finding.fingerprint()[:12]}"
        ),
    )


def interval_or_value(finding: Finding) -> str:
    """What a finding says first: its interval, else its value."""
    return _interval_in_words(finding.interval, finding.unit) or _value(finding)


def _blocks(finding: Finding, note: str, words: FindingWords) -> Iterator[Block]:
    if words.stale:
        yield Remark(words.stale if isinstance(words.stale, str) else _STALE, "Out of date.")
    interval, value = _interval_in_words(finding.interval, finding.unit), _value(finding)
    if interval or value:
        yield Says(capital(interval or value), large=True)
    # a value that is itself a span of time, as a date of making, says the interval over again
    if interval and value and finding.about != DATE_FINDING:
        yield Remark(f"Best single value: {value}")
    if finding.about == DATE_FINDING and (span := _span(finding)):
        yield span
    if len(finding.results) > 1:
        yield _results(finding.results)
    if finding.sentence:
        yield Matter(finding.sentence)
    if isinstance(finding.value, dict):
        yield Pairs(_pairs(finding.value))
    if note:
        yield Matter(note, "Note.")


def _results(results: tuple[Result, ...]) -> Tabular:
    rows = tuple(
        Row(
            (
                Cell(capital(result.name)),
                Cell(result.value_in_words(), look="figure"),
                Cell(_interval_in_words(result.interval, result.unit) or "none given"),
                Cell(grade=result.grade),
            )
        )
        for result in results
    )
    return Tabular(("What", "Value", "Interval", "Grade"), (30, 22, 30, 18), rows)


def _value(finding: Finding) -> str:
    if isinstance(finding.value, dict) or (finding.value is None and finding.interval is None):
        return ""
    if isinstance(finding.value, int | float) and not isinstance(finding.value, bool):
        number = Result(name="value", value=finding.value, unit=finding.unit, grade=finding.grade)
        return number.value_in_words()
    return f"{value_in_words(finding.value)} {finding.unit}".strip()


def _interval_in_words(interval: Interval | None, unit: str) -> str:
    if interval is None:
        return ""
    low, high = (
        date_in_words(end) if isinstance(end, str) else end for end in (interval.low, interval.high)
    )
    if isinstance(low, str) and low == high:
        return f"in {low} ({interval.coverage * 100:g}\u00a0%)"
    words = Interval.model_construct(low=low, high=high, coverage=interval.coverage)
    return words.in_words(unit).replace(" %", "\u00a0%")


def _flat(finding: Finding) -> dict[str, JsonValue]:
    """The parameters, with what was asked among them instead of under a key of its own."""
    parameters = dict(finding.method.parameters)
    asked = parameters.pop("asked", None)
    if isinstance(asked, dict):
        return {**asked, **parameters}
    return parameters if asked is None else {"asked": asked, **parameters}


def _pairs(values: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    return tuple(
        (name_in_words(key), _fitting(value))
        for key, value in values.items()
        if not checksum_like(value)
    )


def _fitting(value: Any) -> str:
    words = value_in_words(value)
    if len(words) > _LONGEST_VALUE and isinstance(value, list | dict):
        return f"{len(value)} values, in the record’s file"
    return words


def _short(parameters: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    """The parameters that fit a margin; long ones are named, and stand in the record's file.

    What was left empty says nothing and is left out.
    """
    given = {key: value for key, value in parameters.items() if value not in (None, "", [], {})}
    pairs = [(name_in_words(key), _parameter(value)) for key, value in given.items()]
    fitting = tuple((key, value) for key, value in pairs if len(value) <= _LONGEST_PARAMETER)
    rest = [key for key, value in pairs if len(value) > _LONGEST_PARAMETER]
    return (*fitting, (" and ".join(rest), "in record.json")) if rest else fitting


def _parameter(value: Any) -> str:
    """A parameter in words; a quantity with its error and the measurement it was taken from."""
    if isinstance(value, dict) and {"value", "unit", "source"} <= value.keys():
        return str(Known(value["value"], value.get("error"), value["unit"], source=value["source"]))
    if isinstance(value, dict) and {"columns", "source", "grade"} <= value.keys():
        columns = ", ".join(str(column["name"]) for column in value["columns"])
        return f"{columns} ({value['source'] or 'typed in'})"
    return value_in_words(value)


def _span(finding: Finding) -> YearSpan | None:
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
    first, last = first - first % _SCALE_YEARS, last + -last % _SCALE_YEARS

    def share(day: date | None) -> float | None:
        if day is None:
            return None
        return ((day.year - first) + (day.timetuple().tm_yday - 1) / 366) / (last - first)

    words = interval_or_value(finding)
    return YearSpan(first, last, share(low), share(high), finding.grade, words)


def _day(end: str | float | None, *, first: bool) -> date | None:
    if end is None:
        return None
    text = end if isinstance(end, str) else f"{int(end):04d}"
    try:
        known = EdtfDate.parse(text)
        return known.earliest if first else known.latest
    except IronlaceError:
        return None
