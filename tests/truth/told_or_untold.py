"""Whether an answer to a spoilt form is wrong, and whether it says so of what is wrong.

A result is *wrong* when it has moved by more than half of its own interval and no longer holds the
truth that it held on the sound form, or names another thing. It is *told* when one of the first
three sentences doubts and names the field or column that is wrong, or when it is graded lower.
"""

import re

from failing_hands import Spoilt
from ironlace.evidence.answers import Answer
from ironlace.evidence.findings import Result
from ironlace.evidence.grades import weakest

SHARE = 0.04
"""Half-width of a result that tells no interval, a share of it: as in `rooms_by_strangers`."""

DOUBT = re.compile(
    r"\bagain\b|contradict|cannot be|cannot have|can be no|looks like|hardly measured|"
    r"do(?:es)? not (?:agree|lie|fit|rise)|"
    r"\b(?:[Ww]as|[Ww]ere|[Ii]s|[Aa]re) (?:it|they|its|the|one|numbers|these)\b.*\?|"
    r"[Ll]ook (?:whether|before|at)|[Dd]oubt|misread|changed round|stands? apart|unlike|"
    r"(?:was|were|has|have|screw|scale|disc) moved|measured from above|out of the|copied|"
    r"not alike|miscounted|backwards|slipped|stick|lag|"
    r"(?:as|so) (?:little|much|few|many) as|\bNo [a-z' ]+ (?:is|moves|has|sews|lies)\b|"
    r"\b(?:less|more|thinner|thicker|smaller|larger|lighter|heavier|longer|shorter|finer|coarser|"
    r"hotter|colder) than (?:any|is|are|such|usual|common)"
)
"""Words with which a sentence doubts what was typed."""
HEDGED = re.compile(r"\b(?:may|probably)\b")
"""A sentence with one of these tells nothing, whatever it names."""

NO_DOUBT = (
    "Nothing checks",
    "It cannot be told whether the magnets alone hold",
    "No snatch by the likeliest curves",
)
"""What is said of all that was not checked, and verdicts of sound forms."""


def half_of(one: Result) -> float:
    """Half of what a result says of itself."""
    ends = one.interval
    if ends is not None and isinstance(ends.low, float) and isinstance(ends.high, float):
        return max((ends.high - ends.low) / 2.0, 1e-9)
    return max(SHARE * abs(float(one.value)), 1e-9)


def apart(one: float, other: float, unit: str) -> float:
    """How far two values of one unit lie apart; angles the nearer way round."""
    off = abs(one - other)
    return min(off % 360.0, 360.0 - off % 360.0) if unit in ("°", "deg") else off


def wrong_results(answer: Answer, sound: Answer, truth: dict[str, float]) -> list[Result]:
    """The results that are wrong now and were not on the sound form."""
    before = {one.name: one for one in sound.results}
    found = [one for one in answer.results if _wrong(one, before.get(one.name), truth)]
    unnamed = [one for one in answer.results if one.value is None and one.name not in before]
    return found + unnamed


def _wrong(one: Result, was: Result | None, truth: dict[str, float]) -> bool:
    if was is None or one.name.startswith("chance"):
        return False
    numbers = [
        isinstance(v, int | float) and not isinstance(v, bool) for v in (one.value, was.value)
    ]
    if not all(numbers):
        return one.value != was.value
    half = half_of(one)
    moved = apart(one.value, was.value, one.unit) / half
    true = truth.get(one.name)
    if true is None:
        return moved > 2.0
    return (
        apart(one.value, true, one.unit) > half
        and apart(was.value, true, one.unit) <= half_of(was)
        and moved > 1.0
    )


_STOP = frozenset(
    (
        *("from", "with", "what", "that", "there", "where", "which", "their", "when", "least"),
        *("most", "have", "been", "them", "this", "into", "than", "they", "other", "more", "only"),
        *("after", "before", "between", "over", "under", "does", "must", "each", "across"),
    )
)


def stems(words: str) -> set[str]:
    """The words that a sentence must have one of to be about a field, by their first five letters.

    Of shorter words only the axes count.

    >>> sorted(stems("From axle to axle, mm")), stems("z")
    (['axle'], {'z'})
    """
    found = re.findall(r"[a-z]{4,}|\b[xyz]\b", words.casefold().replace("_", " "))
    return {one[:5] for one in found if one not in _STOP}


def shape(sentence: str) -> str:
    """A sentence without its figures, so that two tellings of one kind are alike."""
    return re.sub(r"[-\d.,]+", "#", sentence)[:60]


def doubts(sentence: str, usual: set[str]) -> bool:
    """Whether a sentence doubts what was typed, in words that sound forms do not have."""
    if sentence.startswith(NO_DOUBT) or HEDGED.search(sentence) or shape(sentence) in usual:
        return False
    return bool(DOUBT.search(sentence))


def cautioned(answer: Answer, spoilt: Spoilt, usual: set[str]) -> bool:
    """Whether one of the first three sentences doubts what is wrong, by its name."""
    about = set().union(*map(stems, spoilt.words))
    return any(doubts(one, usual) and about & stems(one) for one in answer.sentences[:3])


def lower(one: Result, sound: Answer) -> bool:
    """Whether a result is graded lower than on the sound form."""
    was = next((w for w in sound.results if w.name == one.name), None)
    return (
        was is not None and one.grade != was.grade and weakest([one.grade, was.grade]) == one.grade
    )
