"""Which statements on one topic cannot all be true: different values of one thing, and no others.

Two statements on the needle may tell two things of it, and both be true. Where a machine has one
value only, such as its maker, two that say different things are rivals; not so a date within
another, or words that say the same and more.
"""

import re
from collections.abc import Collection
from itertools import combinations

from ironlace.evidence.edtf_dates import EdtfDate, EdtfError
from ironlace.record.choices import Topic
from ironlace.record.entries import Statement

ONE_VALUE = frozenset(
    {
        Topic.MAKER,
        Topic.MODEL,
        Topic.PLACE,
        Topic.MADE,
        Topic.NUMBER_MADE,
        Topic.STITCH,
        Topic.SHUTTLE,
    }
)
"""Topics on which a machine has one value; on others, two statements may tell of two things."""

_DENIALS = frozenset({"no", "not", "never", "neither", "nor", "without"})


def rivals(topic: Topic, statements: Collection[Statement]) -> bool:
    """Whether the statements on a topic cannot all be true."""
    if topic not in ONE_VALUE:
        return False
    agree = _dates_agree if topic is Topic.MADE else _words_agree
    said = dict.fromkeys(statement.says for statement in statements)
    return any(not agree(first, second) for first, second in combinations(said, 2))


def _dates_agree(first: str, second: str) -> bool:
    """Whether a day may lie in both; how far an "about" reaches is not for a program to say."""
    try:
        one, other = EdtfDate.parse(first), EdtfDate.parse(second)
    except EdtfError:
        return first == second
    if any(date.approximate or date.uncertain for date in (one, other)):
        return True
    ends_before = one.upper and other.lower and one.upper < other.lower
    begins_after = one.lower and other.upper and one.lower > other.upper
    return not (ends_before or begins_after)


def _words_agree(first: str, second: str) -> bool:
    """Whether one says the same as the other, and perhaps more."""
    shorter, longer = sorted((_words(first), _words(second)), key=len)
    size = len(shorter)
    for start in range(len(longer) - size + 1):
        if longer[start : start + size] == shorter:
            return not _DENIALS & {*longer[:start], *longer[start + size :]}
    return False


def _words(text: str) -> list[str]:
    return re.findall(r"\w+", text.casefold())
