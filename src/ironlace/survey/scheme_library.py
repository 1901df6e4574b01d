"""Ways in which makers of the period numbered, in general terms.

Common practice, no source: running numbers, numbers that start again each year or month behind a
date, works letters, lots, model codes. None is any one maker's.

Two rivals without meaning are always to be compared with: codes up to some limit, and codes that
keep near one value, each with as many groups as the marks have. A reading that does not beat
them has not been shown.
"""

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache

from ironlace.evidence.markings import Glyph, Marking
from ironlace.survey.errors import SchemeError
from ironlace.survey.schemes import FieldKind, Scheme, Separator


@dataclass(frozen=True, slots=True)
class Candidate:
    """A scheme put up for comparison.

    Attributes
    ----------
    name
        A short name for tables and plots.
    scheme
        The scheme.
    weight
        Prior weight against the others, before any report and before the charge for hindsight.
    hindsight
        Whether it was thought of after seeing the first number; it then pays the charge.
    rival
        Whether it is a code without meaning, there to be beaten.
    """

    name: str
    scheme: Scheme
    weight: float = 1.0
    hindsight: bool = True
    rival: bool = False


_PATTERNS: tuple[tuple[str, str], ...] = (
    ("month-year-count", "month, dot, year, dot, number in month"),
    ("year-month-count", "year, dot, month, dot, number in month"),
    ("month-year-running", "month, dot, year, dot, number overall"),
    ("month-year-yearly", "month, dot, year, dot, number in year"),
    ("week-year-count", "week, dot, year, dot, number in week"),
    ("year-count", "year, dot, number in year"),
    ("count-year", "number in year, dot, year"),
    ("letter-year-count", "letter, dot, year, dot, number in year"),
    ("batch-count", "batch, dot, number in batch"),
    ("model-running", "code near one value, dot, number overall"),
    ("letter-running", "letter, number overall"),
    ("running", "number overall"),
    ("running with idle dots", "number overall; dots without meaning"),
)


def known_patterns(
    separator: str = "dot", separators: tuple[str, ...] = ()
) -> tuple[Candidate, ...]:
    """Return the library's patterns, with the separators that the marks show.

    A pattern with as many gaps as there are `separators` takes them in their order (a ring behind
    the first group, a dot behind the second); any other takes `separator` throughout. A letter
    before a running number is parted from it when that is how the marks are.

    Plain running numbers are charged no hindsight: anyone would think of them before seeing one.

    >>> [c.name for c in known_patterns()][:2]
    ['month-year-count', 'year-month-count']
    >>> str(known_patterns("dot", ("ring", "dot"))[0].scheme)
    'month, ring, year, dot, number in month'
    """
    found = []
    for name, text in _PATTERNS:
        scheme = Scheme.parse(text)
        gaps = sum(isinstance(part, Separator) for part in scheme.parts)
        struck = iter(separators if gaps == len(separators) else (separator,) * gaps)
        parts = tuple(
            replace(part, name=next(struck)) if isinstance(part, Separator) else part
            for part in scheme.parts
        )
        if name == "letter-running" and len(separators) == 1:
            parts = (parts[0], Separator(separators[0]), parts[1])
        found.append(
            Candidate(name, replace(scheme, parts=parts), hindsight=not name.startswith("running"))
        )
    return tuple(found)


def rivals_without_meaning(marks: Iterable[Marking]) -> tuple[Candidate, ...]:
    """Return the codes without meaning that have as many groups as these marks mostly have.

    A group that is a letter in most marks is a letter in the rivals too, and the separators are
    those most often seen, so that the rivals give up nothing of what any reading could claim.

    >>> from ironlace.evidence.markings import parse_marking
    >>> [str(c.scheme) for c in rivals_without_meaning([parse_marking("4.96.217")])]
    ['code, dot, code, dot, code', 'code near one value, dot, code near one value, dot, code']
    """
    shapes = Counter(_shape(mark) for mark in marks)
    if not shapes:
        return ()
    shape = max(shapes, key=lambda s: (shapes[s], s))
    plain, near = [], []
    numbers = [i for i, word in enumerate(shape) if word == "code"]
    for i, word in enumerate(shape):
        plain.append(word)
        near.append("code near one value" if word == "code" and i != numbers[-1] else word)
    found = [
        Candidate("arbitrary codes", Scheme.parse(", ".join(plain)), hindsight=False, rival=True)
    ]
    if near != plain:
        found.append(
            Candidate(
                "codes near one value", Scheme.parse(", ".join(near)), hindsight=False, rival=True
            )
        )
    return tuple(found)


_NAMES = {"·": "dot", "°": "ring", " ": "space", "-": "hyphen", "/": "stroke", "★": "star"}
_NAMES |= {"✚": "cross", "◆": "diamond"}
_MOST_GROUPS = 5


@lru_cache(maxsize=4096)
def _is_separator(glyph: Glyph) -> bool:
    return glyph.is_separator


@lru_cache(maxsize=4096)
def _is_letter(glyph: Glyph) -> bool:
    return bool(glyph.options) and all(c.isalpha() for c in glyph.options)


def _shape(mark: Marking) -> tuple[str, ...]:
    """The mark as a scheme of codes, letters and separators."""
    words: list[str] = []
    groups = 0
    for glyph in mark.glyphs:
        if _is_separator(glyph):
            name = _NAMES.get(glyph.options[0], "dot")
            if not words or words[-1] in ("code", "letter"):
                words.append(name)
            continue
        word = "letter" if _is_letter(glyph) else "code"
        if word == "code" and words and words[-1] == "code":
            continue
        if groups < _MOST_GROUPS:
            words.append(word)
            groups += 1
    while words and words[-1] not in ("code", "letter"):
        words.pop()
    return tuple(words) or ("code",)


def usual_separator(marks: Iterable[Marking]) -> str:
    """Return the name of the separator seen most often in marks; a dot when there is none."""
    seen = Counter(
        _NAMES[g.options[0]]
        for mark in marks
        for g in mark.glyphs
        if g.is_separator and g.options[0] in _NAMES
    )
    return max(seen, key=lambda name: (seen[name], name == "dot")) if seen else "dot"


def usual_separators(marks: Iterable[Marking]) -> tuple[str, ...]:
    """Return the separators from left to right as most of the marks have them.

    >>> from ironlace.evidence.markings import parse_marking
    >>> usual_separators([parse_marking(text) for text in ("B°93.217", "A°95.88", "C12")])
    ('ring', 'dot')
    """
    seen = Counter(
        tuple(word for word in _shape(mark) if word not in ("code", "letter")) for mark in marks
    )
    return max(seen, key=lambda names: (seen[names], names)) if seen else ()


def candidates_for(marks: Iterable[Marking]) -> tuple[Candidate, ...]:
    """Return the library and the rivals for these marks, without two that say the same."""
    read = tuple(marks)
    found: dict[str, Candidate] = {}
    patterns = known_patterns(usual_separator(read), usual_separators(read))
    for candidate in (*rivals_without_meaning(read), *patterns):
        found.setdefault(str(candidate.scheme), candidate)
    return tuple(found.values())


_LINE = re.compile(
    r"(?:(?P<name>[^:,;]+):)?(?P<text>[^|]+)(?:\|(?P<options>.*))?",
)


def read_schemes(text: str) -> tuple[Candidate, ...]:
    """Read a scheme file: one scheme a line, `#` begins a remark.

    A line may begin with ``name:`` and end with ``| weight 2`` (prior weight) or
    ``| thought of before`` (no charge for hindsight), or both parted by commas.

    Raises
    ------
    SchemeError
        With the number of the first line that cannot be read.

    >>> read_schemes("mine: month, dot, year | weight 2, thought of before")[0].weight
    2.0
    """
    found: list[Candidate] = []
    for number, raw in enumerate(text.splitlines(), 1):
        line = raw.partition("#")[0].strip()
        if not line:
            continue
        match = _LINE.fullmatch(line)
        if match is None:
            raise SchemeError(f"Line {number}, '{line}', is not 'name: scheme | options'.")
        try:
            scheme = Scheme.parse(match["text"].strip())
        except SchemeError as error:
            raise SchemeError(f"Line {number}: {error}") from error
        weight, hindsight = _options(match["options"] or "", number)
        name = (match["name"] or str(scheme)).strip()
        if any(candidate.name == name for candidate in found):
            raise SchemeError(f"Line {number}: '{name}' stands twice; give one another name.")
        found.append(Candidate(name, scheme, weight, hindsight, is_without_meaning(scheme)))
    if not found:
        raise SchemeError("The scheme file names no scheme: write one a line.")
    return tuple(found)


def is_without_meaning(scheme: Scheme) -> bool:
    """Whether a scheme says nothing of date or count."""
    return all(
        field.kind in (FieldKind.CODE, FieldKind.LETTER, FieldKind.CONSTANT)
        for field in scheme.fields
    )


def _options(text: str, number: int) -> tuple[float, bool]:
    weight, hindsight = 1.0, True
    for option in (piece.strip().lower() for piece in text.split(",")):
        if option == "thought of before":
            hindsight = False
        elif match := re.fullmatch(r"weight (\d+(?:\.\d+)?)", option):
            weight = float(match[1])
        elif option:
            raise SchemeError(
                f"Line {number}: '{option}' is no option: 'weight 2' or 'thought of before' is."
            )
    if weight <= 0:
        raise SchemeError(f"Line {number}: a weight is above nought, not {weight:g}.")
    return weight, hindsight
