"""A finding: a computed result that anyone holding its inputs can compute again."""

import hashlib
import json
import math
from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, JsonValue, model_validator

from ironlace.evidence.grades import Grade

Sha256 = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]

Checksums = Mapping[str, Sha256]
"""By name, the checksum of each thing that something was computed from."""


DATE_FINDING = "date of making"
"""What the finding of a machine's date is about."""


class Interval(BaseModel):
    """Where the value is believed to lie, and how firmly.

    `coverage` is the share of such intervals that hold the truth (0.9 for 90 %). An end is a
    number or an EDTF date; None is an open end.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    low: float | str | None
    high: float | str | None
    coverage: Annotated[float, Field(gt=0, le=1)]

    @model_validator(mode="after")
    def _in_order(self) -> "Interval":
        if isinstance(self.low, float) and isinstance(self.high, float) and self.low > self.high:
            raise ValueError(f"interval runs from {self.low} down to {self.high}: swap its ends")
        return self

    def in_words(self, unit: str = "") -> str:
        """Return the interval as a phrase, such as `between 3 and 5 (90 %)`."""
        share = f"{self.coverage * 100:g} %"
        if unit:
            bounds, bracket, rest = self.in_words().rpartition(" (")
            return f"{bounds} {unit}{bracket}{rest}"
        if self.low is None and self.high is None:
            return f"no bound ({share})"
        if self.low is None:
            return f"up to {_in_words(self.high)} ({share})"
        if self.high is None:
            return f"from {_in_words(self.low)} ({share})"
        if self.low == self.high:
            return f"{_in_words(self.low)} ({share})"
        low, high = (_in_words(end, self.half) for end in (self.low, self.high))
        return f"between {low} and {high} ({share})"

    @property
    def half(self) -> float | None:
        """Half the interval's width, None where an end is a date or open, or nothing is between."""
        if isinstance(self.low, float) and isinstance(self.high, float) and self.low < self.high:
            return 0.5 * (self.high - self.low)
        return None


class Result(BaseModel):
    """One value that an analysis gives: what it is called, unit, interval, grade."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: Annotated[str, Field(min_length=1, max_length=200)]
    value: JsonValue
    unit: str = ""
    interval: Interval | None = None
    grade: Grade

    def value_in_words(self) -> str:
        """Return the value with its unit, to the figures that matter.

        >>> Result(name="stroke", value=31.64159, unit="mm", grade=Grade.MEASURED).value_in_words()
        '31.642 mm'
        >>> known = Interval(low=31.2, high=32.1, coverage=0.9)
        >>> Result(name="stroke", value=31.64159, unit="mm", grade=Grade.MEASURED,
        ...        interval=known).in_words()
        '31.64 mm, between 31.20 and 32.10 mm (90 %)'
        """
        half = self.interval.half if self.interval else None
        return f"{_in_words(self.value, half)} {self.unit}".strip()

    def in_words(self) -> str:
        """Return value and interval, such as `31.6 mm, between 31 and 32 mm (90 %)`."""
        words = self.value_in_words()
        return f"{words}, {self.interval.in_words(self.unit)}" if self.interval else words


class Method(BaseModel):
    """How a finding was computed: a name, its parameters and where the method is published."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: Annotated[str, Field(min_length=1, max_length=200)]
    published: Annotated[str, Field(max_length=500)] = ""
    parameters: dict[str, JsonValue] = {}


class Finding(BaseModel):
    """A value with its interval, grade, inputs, method and the version that computed it.

    `results` holds all of them when there are several; value, unit, interval and grade are then
    those of the first. `inputs` maps a name to the SHA-256 of what was read, so that `fingerprint`
    changes whenever anything that could change the value does.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    about: Annotated[str, Field(min_length=1, max_length=200)]
    value: JsonValue
    unit: str = ""
    interval: Interval | None = None
    grade: Grade = Grade.INFERRED
    sentence: Annotated[str, Field(max_length=4000)] = ""
    results: tuple[Result, ...] = ()
    inputs: dict[str, Sha256] = {}
    method: Method
    version: str

    def fingerprint(self) -> str:
        """SHA-256 of the finding's inputs, method and value in canonical JSON."""
        left_out = {"sentence"} if self.results else {"sentence", "results"}
        return checksum_of(self.model_dump(mode="json", exclude=left_out))


def checksum_of(value: Any) -> str:
    """Return the SHA-256 of a JSON value in canonical form: sorted keys, no spaces, UTF-8.

    >>> checksum_of({"b": 1, "a": 2}) == checksum_of({"a": 2, "b": 1})
    True
    """
    text = json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def _in_words(value: JsonValue, half: float | None = None) -> str:
    """A figure to the five digits that matter, never in powers of ten that a page can spell out.

    Beside an interval of half the width `half` it has no more decimals than leave that width two
    digits (*Guide to the Expression of Uncertainty in Measurement*, JCGM 100:2008, 7.2.6), and as
    many as its ends.
    """
    if not isinstance(value, float):
        return str(value)
    size = max(abs(value), half or 0.0)
    if not 1e-3 <= size < 1e9:
        return f"{value:.5g}"
    digits = max(0, 4 - math.floor(math.log10(size)))
    told = digits if half is None else max(0, min(digits, 1 - math.floor(math.log10(half))))
    text = f"{value:z.{told}f}" if abs(value) < 10_000 else f"{value:,.{told}f}"
    short = told and (told == digits or value.is_integer())
    return text.rstrip("0").rstrip(".") if short else text
