"""Findings as blocks of an account: the answer in three lines, its results; its method apart.

A reader meets when or how much, how sure, and why. What it was computed with, its version and its
fingerprint stand in a note at the end, for whoever wants to work it out again.
"""

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from pydantic import JsonValue

from ironlace.dossier.account.blocks import (
    Block,
    Cell,
    FigureShown,
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
from ironlace.evidence.analyses import Known
from ironlace.evidence.edtf_dates import EdtfDate, date_in_words
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.findings import DATE_FINDING, Finding, Interval, Result
from ironlace.evidence.wording import capital
from ironlace.record.values_in_words import checksum_like, name_in_words, value_in_words

_LONGEST_VALUE = 300
"""Characters of a value that a page carries; longer ones stand in the record's file."""

_LONGEST_PARAMETER = 60
"""Characters of a parameter that the note carries; longer ones stand in the record's file."""

_LINES = 3
"""Sentences of an answer that do for someone who reads no further (`evidence.answers.Answer`)."""

_SENTENCE_ENDS = re.compile(
    r"(?<=[.!?])(?<!\bNo\.)(?<!\bNr\.)(?<!\bc\.)(?<!\bca\.)(?<!\b[A-Z]\.)\s+(?=[^\sa-z])"
)
"""Where a sentence ends and the next begins; not after a number's No. or an initial."""

_MODULE = re.compile(r"\Aironlace[.\w]*:\s*")
"""A name of this program's own before a method's."""

_TOLD_DATE = re.compile(r"[^:]{1,80}: (?P<says>.+) \((?:seen|measured|inferred|conjectured)\)\.\Z")
"""The first sentence on a date: the mark, what is said of it, the grade."""

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
    asked
        By key of a parameter: what it is called and its unit.
    """

    question: str = ""
    section: str = ""
    stale: bool | str = False
    asked: Mapping[str, tuple[str, str]] = field(default_factory=dict)


def finding_item(
    name: str,
    finding: Finding,
    note: str,
    words: FindingWords,
    figures: Sequence[FigureShown] = (),
) -> Item:
    """What was worked out, and the figures that show it; how stands in `method_item`."""
    heading = "" if finding.about == DATE_FINDING else words.question or capital(finding.about)
    return Item(
        name,
        tuple(_blocks(finding, note, words)),
        method_margin(name, finding),
        heading=heading,
        below=tuple(figures),
    )


def method_name(name: str) -> str:
    """What the note on how a finding was worked out is called.

    >>> method_name("finding 1")
    'note on finding 1'
    """
    return f"note on {name}"


def method_item(
    name: str, finding: Finding, words: FindingWords, more: Sequence[tuple[str, str]] = ()
) -> Item:
    """How a finding was worked out: what else it says, by what method, from what, with what.

    `more` are further figures, such as a drawing's proof.
    """
    blocks: list[Block] = []
    told = sentences(finding.sentence)
    # of a date the first sentence names the mark, which its headline leaves out: told whole here
    if rest := " ".join(told if _dated(finding) else told[_LINES:]):
        blocks.append(Matter(rest))
    named = _MODULE.sub("", finding.method.name)
    method = ". ".join(filter(None, map(capital, (named, finding.method.published))))
    blocks.append(Matter(f"{method}.", "Method."))
    if finding.inputs:
        blocks.append(Matter(f"{_listed(list(finding.inputs))}.", "From."))
    if given := _given(finding, words):
        blocks.append(Matter(f"{given}.", "With."))
    if more:
        blocks.append(Pairs(tuple(more)))
    lines = (f"Version {finding.version}", f"Fingerprint {finding.fingerprint()[:12]}")
    return Item(
        method_name(name),
        tuple(blocks),
        Margin(lines=lines, small_print=name),
        heading=words.question or capital(finding.about),
    )


def sentences(text: str) -> list[str]:
    """The sentences of a text.

    >>> sentences("No. 2 is of 1894 (90 %). By 12 reports. 'It' holds.")
    ['No. 2 is of 1894 (90 %).', 'By 12 reports.', "'It' holds."]
    """
    return [part for part in _SENTENCE_ENDS.split(text.strip()) if part]


def method_margin(name: str, finding: Finding) -> Margin:
    """How a finding is known, for the margin."""
    return Margin(grade=finding.grade, note=method_name(name), small_print=name)


def headline_of(finding: Finding) -> str:
    """What a finding says first: a date as its first sentence has it, else interval or value."""
    return _dated(finding) or _interval_in_words(finding.interval, finding.unit) or _value(finding)


def _dated(finding: Finding) -> str:
    told = sentences(finding.sentence)[:1] if finding.about == DATE_FINDING else []
    dated = _TOLD_DATE.match(told[0]) if told else None
    return dated["says"].replace(" %", "\u00a0%") if dated else ""


def _blocks(finding: Finding, note: str, words: FindingWords) -> Iterator[Block]:
    if words.stale:
        yield Remark(words.stale if isinstance(words.stale, str) else _STALE, "Out of date.")
    interval, value = _interval_in_words(finding.interval, finding.unit), _value(finding)
    told = sentences(finding.sentence)[:_LINES]
    if _dated(finding):
        told = told[1:]
    # of several results the table tells the first as well, and by its name
    bare = len(finding.results) > 1 and not interval and isinstance(finding.value, int | float)
    if (headline := headline_of(finding)) and not bare:
        yield Says(capital(headline), large=True)
    # a value that is itself a span of time, as a date of making, says the interval over again
    if interval and value and finding.about != DATE_FINDING:
        yield Remark(f"Best single value: {value}")
    if told:
        yield Matter("\n\n".join(told) if finding.about == DATE_FINDING else " ".join(told))
    if finding.about == DATE_FINDING and (span := _span(finding)):
        yield span
    if len(finding.results) > 1:
        yield _results(finding.results)
    if isinstance(finding.value, dict):
        yield Pairs(_pairs(finding.value))
    if note:
        yield Matter(note, "Note.")


def _results(results: tuple[Result, ...]) -> Tabular:
    between = any(result.interval for result in results)
    alike = len({result.grade for result in results}) == 1
    rows = tuple(
        Row(
            (
                Cell(capital(result.name)),
                Cell(_result_value(result), look="figure"),
                *(
                    (Cell(_interval_in_words(result.interval, result.unit) or "none given"),)
                    if between
                    else ()
                ),
                Cell(
                    grade=result.grade,
                    down=len(results) if alike and at == 0 else 1,
                    again=alike and at > 0,
                ),
            )
        )
        for at, result in enumerate(results)
    )
    if between:
        return Tabular(("What", "Value", "Interval", "Grade"), (28, 20, 27, 25), rows)
    return Tabular(("What", "Value", "Grade"), (46, 26, 28), rows)


def _result_value(result: Result) -> str:
    """A result with its unit; a share or a chance in a hundred."""
    value, words = result.value, f" {result.name} "
    is_share = any(word in words for word in (" share ", " probability ", " chance "))
    if is_share and not result.unit and isinstance(value, float) and 0.0 <= value <= 1.0:
        return _percent(value)
    return result.value_in_words()


def _percent(share: float) -> str:
    percent = 100 * share
    return f"{percent:.1f}\u00a0%" if percent >= 0.1 or percent == 0 else "less than 0.1\u00a0%"


def _value(finding: Finding) -> str:
    if isinstance(finding.value, dict) or (finding.value is None and finding.interval is None):
        return ""
    if isinstance(finding.value, int | float) and not isinstance(finding.value, bool):
        number = Result(
            name="value", value=finding.value, unit=finding.unit, interval=finding.interval,
            grade=finding.grade,
        )  # fmt: skip
        return number.value_in_words()
    return f"{value_in_words(finding.value)} {finding.unit}".strip()


def _interval_in_words(interval: Interval | None, unit: str) -> str:
    if interval is None:
        return ""
    if isinstance(interval.low, str) and isinstance(interval.high, str):
        words = f"{_dates_in_words(interval.low, interval.high)} ({interval.coverage * 100:g} %)"
    else:
        low, high = (
            date_in_words(end) if isinstance(end, str) else end
            for end in (interval.low, interval.high)
        )
        told = Interval.model_construct(low=low, high=high, coverage=interval.coverage)
        words = told.in_words(unit)
    return words.replace(" %", "\u00a0%")


def _dates_in_words(low: str, high: str) -> str:
    """From a date to another, as a person says it: whole years by their number alone."""
    first, last = _day(low, first=True), _day(high, first=False)
    if first and last and (first.month, first.day, last.month, last.day) == (1, 1, 12, 31):
        low, high = f"{first.year:04d}", f"{last.year:04d}"
    if low == high:
        return f"in {date_in_words(low)}"
    return f"between {date_in_words(low)} and {date_in_words(high)}"


def _flat(finding: Finding) -> dict[str, JsonValue]:
    """The parameters, with what was asked among them instead of under a key of its own."""
    parameters = dict(finding.method.parameters)
    asked = parameters.pop("asked", None)
    if isinstance(asked, dict):
        return {**asked, **parameters}
    return parameters if asked is None else {"asked": asked, **parameters}


_KEPT_KEYS: Mapping[str, tuple[str, str]] = {
    "bridge_mm2": ("area of the bridges", "mm²"),
    "covered": ("share covered when laid true", "share"),
    "touch_in_minutes": ("touching in by hand", "min"),
    "outline_mm": ("length of the outline", "mm"),
    "rms_mm": ("average distance from the trace", "mm"),
    "posterior": ("chance", "share"),
}
"""What findings of version 0.1 called their figures by, in words, and the unit."""

_UNIT_ENDS: Mapping[str, str] = {"mm2": "mm²", "mm": "mm", "minutes": "min", "px": "px"}
"""A key's last part that is a unit, and how it is written."""


def _pairs(values: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    return tuple(_pair(key, value) for key, value in values.items() if not checksum_like(value))


def _pair(key: str, value: Any) -> tuple[str, str]:
    """A key and its value as words and a figure with its unit, as everywhere."""
    words, unit = _KEPT_KEYS.get(key, ("", ""))
    if not words:
        stem, _, end = key.rpartition("_")
        unit = _UNIT_ENDS.get(end, "") if stem else ""
        words = name_in_words(stem if unit else key)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return capital(words), _fitting(value)
    if unit == "share":
        return capital(words), _percent(value)
    return capital(words), f"{_plain(value)} {unit}".strip()


def _plain(value: float) -> str:
    """A figure to four digits, never in powers of ten where it can be spelt out."""
    if isinstance(value, int) or value == 0 or not math.isfinite(value):
        return str(value)
    places = max(0, 3 - math.floor(math.log10(abs(value))))
    text = f"{value:.{min(places, 12)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _fitting(value: Any) -> str:
    words = value_in_words(value)
    if len(words) > _LONGEST_VALUE and isinstance(value, list | dict):
        return f"{len(value)} values, in the record’s file"
    return words


def _given(finding: Finding, words: FindingWords) -> str:
    """What was taken for granted, in one line; what is long is named and left to the file.

    What was left empty says nothing and is left out.
    """
    given = {k: v for k, v in _flat(finding).items() if v not in (None, "", [], {})}
    told, rest = [], []
    for key, value in given.items():
        called, unit = words.asked.get(key, ("", ""))
        called = called or _pair(key, 0)[0]
        number = isinstance(value, int | float) and not isinstance(value, bool)
        says = f"{_parameter(value)} {unit}" if unit and number else _plain_pair(key, value)
        called = f"{called[:1].lower()}{called[1:]}" if called[1:2].islower() else called
        if len(says) > _LONGEST_PARAMETER or "\n" in says:
            rest.append(called)
        else:
            told.append(f"{called}: {says}")
    if rest:
        told.append(f"{_listed(rest)} as in record.json")
    return capital("; ".join(told))


def _plain_pair(key: str, value: Any) -> str:
    if isinstance(value, float):
        return _pair(key, value)[1]
    return _parameter(value)


def _listed(words: Sequence[str]) -> str:
    shown = list(words[:_MOST_NAMED])
    if len(words) > _MOST_NAMED:
        shown[-1] = f"{len(words) - _MOST_NAMED + 1} more"
    return " and ".join(filter(None, (", ".join(shown[:-1]), shown[-1])))


_MOST_NAMED = 12
"""Names in one list; of more, the first ones and how many others."""


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

    words = headline_of(finding)
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
