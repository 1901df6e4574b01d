"""Ways in which makers of the period numbered, in general terms.

Common practice, no source: running numbers, numbers that start again each year or month behind a
date, works letters, lots, model codes. None is any one maker's.

Two rivals without meaning are always to be compared with: codes up to some limit, and codes that
keep near one value, each with as many groups as the marks have. A reading that does not beat
them has not been shown.
"""

import math
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from ironlace.evidence.markings import Glyph, Marking
from ironlace.survey.errors import SchemeError
from ironlace.survey.schemes.scheme import Counted, Field, FieldKind, Scheme, Separator


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
    known
        Whether it is one of this library's, so that nobody thought of it for these numbers; its
        name is then for tables that programs read.
    """

    name: str
    scheme: Scheme
    weight: float = 1.0
    hindsight: bool = True
    rival: bool = False
    known: bool = False

    @property
    def called(self) -> str:
        """What it is called before a person: the name they gave it, else its parts in words."""
        given = not self.known and self.name != str(self.scheme)
        return self.name if given else self.scheme.in_brief()


_PATTERNS: tuple[tuple[str, str], ...] = (
    ("month-year-count", "month, dot, year, dot, number in month"),
    ("year-month-count", "year, dot, month, dot, number in month"),
    ("month-year-running", "month, dot, year, dot, number overall"),
    ("month-year-yearly", "month, dot, year, dot, number in year"),
    ("year-month-running", "year, dot, month, dot, number overall"),
    ("year-month-yearly", "year, dot, month, dot, number in year"),
    ("week-year-count", "week, dot, year, dot, number in week"),
    ("week-year-running", "week, dot, year, dot, number overall"),
    ("week-year-yearly", "week, dot, year, dot, number in year"),
    ("year-count", "year, dot, number in year"),
    ("count-year", "number in year, dot, year"),
    ("year-running", "year, dot, number overall"),
    ("running-year", "number overall, dot, year"),
    ("letter-year-count", "letter, dot, year, dot, number in year"),
    ("letter-year-running", "letter, dot, year, dot, number overall"),
    ("batch-count", "batch, dot, number in batch"),
    ("model-running", "code near one value, dot, number overall"),
    ("letter-running", "letter, number overall"),
    ("running", "number overall"),
    ("running with idle dots", "number overall; dots without meaning"),
)


def known_patterns(
    separator: str = "dot",
    separators: tuple[str, ...] = (),
    padded: tuple[int | None, ...] = (),
    *,
    full_years: bool = False,
) -> tuple[Candidate, ...]:
    """Return the library's patterns, with the separators that the marks show.

    A pattern with as many gaps as there are `separators` takes them in their order (a ring behind
    the first group, a dot behind the second); any other takes `separator` throughout. A letter
    before a running number is parted from it when that is how the marks are. Groups that the marks
    fill up with noughts (`padded_figures`) are filled up in patterns of as many groups. Years have
    four figures where the marks show them so (`shows_full_years`).

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
        if full_years:
            parts = tuple(
                replace(part, figures=4)
                if isinstance(part, Field) and part.kind is FieldKind.YEAR
                else part
                for part in parts
            )
        if name == "letter-running" and len(separators) == 1:
            parts = (parts[0], Separator(separators[0]), parts[1])
        found.append(
            Candidate(
                name,
                replace(scheme, parts=(filled := _filled_up(parts, padded))),
                _FILLED_UP if filled != parts else 1.0,
                hindsight=not name.startswith("running"),
                known=True,
            )
        )
    return tuple(found)


_FILLED_UP = 0.25
"""Prior weight of a numbering that fills groups up with noughts, a habit seen in the marks: one
works in five does; a judgement. Without it codes would be given for nothing that a group shows 04,
which a year of two figures has to show."""


def shows_full_years(marks: Iterable[Marking]) -> bool:
    """Whether most marks have a group of four figures that is a year, beside another group.

    >>> from ironlace.evidence.markings import parse_marking
    >>> shows_full_years([parse_marking("4.1896.217"), parse_marking("11.1895.30")])
    True
    """
    read = [_groups(mark) for mark in marks]
    with_year = sum(
        len(groups) > 1
        and any(
            len(group) == 4 and [g.options for g in group[:2]] in _CENTURIES for group in groups
        )
        for groups in read
    )
    return with_year > _MOSTLY * len(read)


_CENTURIES = ([("1",), ("8",)], [("1",), ("9",)])
"""How a full year of the trade's time begins."""


def _filled_up(
    parts: tuple[Field | Separator, ...], padded: tuple[int | None, ...]
) -> tuple[Field | Separator, ...]:
    groups = [
        i for i, part in enumerate(parts) if isinstance(part, Field) and part.kind in _FIGURES
    ]
    if len(groups) != len(padded):
        return parts
    out = list(parts)
    for i, width in zip(groups, padded, strict=True):
        field = parts[i]
        assert isinstance(field, Field)
        month_like = field.kind in (FieldKind.MONTH, FieldKind.WEEK)
        if width is None or field.kind is FieldKind.YEAR or (month_like and width != 2):
            continue
        out[i] = replace(field, figures=width)
    return tuple(out)


def padded_figures(marks: Iterable[Marking]) -> tuple[int | None, ...]:
    """Return for each group of figures how many it is filled up to with noughts, None where not.

    >>> from ironlace.evidence.markings import parse_marking
    >>> padded_figures([parse_marking(text) for text in ("04.93.0217", "11.95.1200")])
    (2, None, 4)
    """
    read = tuple(marks)
    shape = _usual_shape(read)
    alike = _groups_alike(read, shape)
    out: list[int | None] = []
    for column in zip(*alike, strict=True):
        widths = Counter(len(group) for group in column)
        width, often = widths.most_common(1)[0]
        noughts = any(group[0].options == ("0",) for group in column if len(group) == width)
        out.append(width if noughts and often >= _ALIKE * len(column) and width > 1 else None)
    return tuple(out)


def _groups(mark: Marking) -> list[list[Glyph]]:
    """The figures of a mark, group by group; letters and separators part them."""
    groups: list[list[Glyph]] = []
    fresh = True
    for glyph in mark.glyphs:
        if _is_separator(glyph) or _is_letter(glyph):
            fresh = True
            continue
        if fresh:
            groups.append([])
        groups[-1].append(glyph)
        fresh = False
    return groups


def rivals_without_meaning(marks: Iterable[Marking]) -> tuple[Candidate, ...]:
    """Return the codes without meaning that have as many groups as these marks mostly have.

    A group that is a letter in most marks is a letter in the rivals too, and the separators are
    those most often seen, so that the rivals give up nothing of what any reading could claim.

    >>> from ironlace.evidence.markings import parse_marking
    >>> [str(c.scheme) for c in rivals_without_meaning([parse_marking("4.96.217")])]
    ['code, dot, code, dot, code', 'code near one value, dot, code near one value, dot, code']
    """
    read = tuple(marks)
    if not read:
        return ()
    shape = _usual_shape(read)
    plain, near = [], []
    often = 1.0
    numbers = [i for i, word in enumerate(shape) if word == "code"]
    padded = iter(padded_figures(read))
    for i, word in enumerate(shape):
        width = next(padded, None) if word == "code" else None
        filled = f" of {width} figures" if width else ""
        often = _FILLED_UP if width else often
        plain.append(word + filled)
        last = word != "code" or i == numbers[-1]
        near.append(word + filled if last else f"code near one value{filled}")
    found = [
        Candidate(
            "arbitrary codes", Scheme.parse(", ".join(plain)), often, hindsight=False, rival=True
        )
    ]
    if near != plain:
        found.append(
            Candidate(
                "codes near one value",
                Scheme.parse(", ".join(near)),
                often,
                hindsight=False,
                rival=True,
            )
        )
    return tuple(found)


_NAMES = {"·": "dot", "°": "ring", " ": "space", "-": "hyphen", "/": "stroke", "★": "star"}
_NAMES |= {"✚": "cross", "◆": "diamond"}
_MOST_GROUPS = 5
"""Most groups of a pattern taken from the marks; tuned, on what was not kept."""


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


def _usual_shape(marks: Sequence[Marking]) -> tuple[str, ...]:
    """The shape that most marks have; empty where there is none."""
    shapes = Counter(_shape(mark) for mark in marks)
    return max(shapes, key=lambda s: (shapes[s], s), default=())


def _groups_alike(marks: Sequence[Marking], shape: tuple[str, ...]) -> list[list[list[Glyph]]]:
    """The groups of figures of each mark of this shape."""
    alike = [_groups(mark) for mark in marks if _shape(mark) == shape]
    return [groups for groups in alike if len(groups) == shape.count("code")]


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


_UNPARTED: tuple[tuple[str, str, int], ...] = (
    ("month-year-count", "month of 2 figures, year, number in month of {left} figures", 4),
    ("year-month-count", "year, month of 2 figures, number in month of {left} figures", 4),
    ("month-year-running", "month of 2 figures, year, number overall of {left} figures", 4),
    ("month-year-yearly", "month of 2 figures, year, number in year of {left} figures", 4),
    ("year-month-running", "year, month of 2 figures, number overall of {left} figures", 4),
    ("year-month-yearly", "year, month of 2 figures, number in year of {left} figures", 4),
    ("week-year-count", "week of 2 figures, year, number in week of {left} figures", 4),
    ("year-week-count", "year, week of 2 figures, number in week of {left} figures", 4),
    ("year-count", "year, number in year of {left} figures", 2),
    ("count-year", "number in year of {left} figures, year", 2),
    ("year-running", "year, number overall of {left} figures", 2),
    ("running, padded", "number overall of {all} figures", 0),
)
_UNPARTED_LOOSE: tuple[tuple[str, str], ...] = (
    ("year-count", "year, number in year"),
    ("count-year", "number in year, year"),
    ("year-month-count", "year, month of 2 figures, number in month"),
    ("month-year-count", "month, year, number in month"),
)
_MOSTLY = 0.7
"""A share of the marks that makes a pattern (the same length, a letter first); a judgement that
leaves room for three misread or foreign reports in ten."""

_HABITS_SHOWN = 2_000
"""Marks on which it is seen how all are built: a share of nine in ten is then known within one in a
hundred, and looking at a million takes longer than comparing them."""

_ALIKE = 0.9
"""A share that makes a rule without exception (groups filled up to one width); a judgement."""
_FIGURES = frozenset(FieldKind) - {FieldKind.LETTER, FieldKind.CONSTANT}


def unparted_patterns(marks: Iterable[Marking]) -> tuple[Candidate, ...]:
    """Return patterns for marks whose groups nothing parts, by how many figures they have.

    Without separators a group is told by its place, so where most marks have one number of figures
    the number that fills up is struck with noughts; where lengths differ it is not. A letter
    before the figures is a letter in the patterns too. Empty when marks show separators.

    >>> from ironlace.evidence.markings import parse_marking
    >>> [str(c.scheme) for c in unparted_patterns([parse_marking("0493217")])][0]
    'month of 2 figures, year, number in month of 3 figures'
    """
    read = [mark for mark in marks if mark.glyphs]
    if not read or usual_separators(read):
        return ()
    lettered = sum(_is_letter(mark.glyphs[0]) for mark in read) > _MOSTLY * len(read)
    head = "letter, " if lettered else ""
    lengths = Counter(
        sum(not _is_separator(g) and not _is_letter(g) for g in mark.glyphs) for mark in read
    )
    length, often = lengths.most_common(1)[0]
    if often > _MOSTLY * len(read):
        lines = [
            (name, text.format(left=length - taken, all=length))
            for name, text, taken in _UNPARTED
            if 1 <= length - taken <= 7 and (taken or _begins_with_nought(read, length))
        ]
    else:
        lines = list(_UNPARTED_LOOSE)
    return tuple(
        Candidate(
            name if not lettered else f"letter-{name}",
            Scheme.parse(head + text),
            hindsight=not name.startswith("running"),
            known=True,
        )
        for name, text in lines
    )


_ONLY_WHERE_THEY_FIT = frozenset(
    {
        "year-month-running",
        "year-month-yearly",
        "year-running",
        "running-year",
        "letter-year-running",
        "week-year-running",
        "week-year-yearly",
    }
)
"""Patterns put up only where they fit: they stand beside others that differ in what the number
counts alone, and against marks built otherwise they would only cost time."""

_FIT = 0.4
"""Share of the marks that must read clearly under them; a judgement: dots wear off, figures are in
doubt."""

_READ_FOR_FIT = 100
"""Marks on which that is seen, evenly over all."""


def _may_fit(pattern: Candidate, marks: Sequence[Marking]) -> bool:
    if pattern.name not in _ONLY_WHERE_THEY_FIT:
        return True
    step = max(1, len(marks) // _READ_FOR_FIT)
    some = [mark for mark in marks[::step] if mark.glyphs]
    fields = [field for field in pattern.scheme.fields if field.kind in _FIGURES]
    read = [_groups(mark) for mark in some]
    fitting = [groups for groups in read if _fits(fields, groups)]
    if not fitting or len(fitting) < _FIT * len(read):
        return False
    # where no week is above 12 they are as well months
    weeks = [i for i, field in enumerate(fields) if field.kind is FieldKind.WEEK]
    return all(any(_whole(groups[i]) > _MONTHS for groups in fitting) for i in weeks)


def _fits(fields: Sequence[Field], groups: Sequence[Sequence[Glyph]]) -> bool:
    """Whether each group of figures may be what its field says."""
    if len(groups) != len(fields):
        return False
    most = {FieldKind.MONTH: _MONTHS, FieldKind.WEEK: _WEEKS}
    return all(
        len(group) == (field.figures or 2)
        if field.kind is FieldKind.YEAR
        else 1 <= _whole(group) <= most.get(field.kind, math.inf)
        for field, group in zip(fields, groups, strict=True)
    )


def _whole(group: Sequence[Glyph]) -> int:
    """The number that a group of figures shows; nought where one is in doubt."""
    figures = [glyph.certain or "" for glyph in group]
    return int("".join(figures)) if all(figures) else 0


_MONTHS, _WEEKS = 12, 53


def _begins_with_nought(marks: Sequence[Marking], length: int) -> bool:
    """Whether one of the marks is filled up: without it such a numbering is as any running one."""
    figures = (
        [g for g in mark.glyphs if not _is_separator(g) and not _is_letter(g)] for mark in marks
    )
    return any(len(read) == length and read[0].options == ("0",) for read in figures)


def candidates_for(marks: Iterable[Marking]) -> tuple[Candidate, ...]:
    """Return the library and the rivals for these marks, without two that say the same.

    How the marks are built is seen on at most `_HABITS_SHOWN` of them, evenly over all.
    """
    read = tuple(marks)
    if len(read) > _HABITS_SHOWN:
        read = tuple(read[i * len(read) // _HABITS_SHOWN] for i in range(_HABITS_SHOWN))
    found: dict[str, Candidate] = {}
    patterns = known_patterns(
        usual_separator(read),
        usual_separators(read),
        padded_figures(read),
        full_years=shows_full_years(read),
    )
    unparted = unparted_patterns(read)
    named = {candidate.name for candidate in unparted}
    # where nothing parts the groups, a pattern by places takes the place of the one with dots
    patterns = tuple(p for p in patterns if p.name not in named and _may_fit(p, read))
    listed = (*rivals_without_meaning(read), *unparted, *patterns, *patterns_with_a_constant(read))
    for candidate in listed:
        found.setdefault(str(candidate.scheme), candidate)
    return tuple(found.values())


def patterns_with_a_constant(marks: Iterable[Marking]) -> tuple[Candidate, ...]:
    """Return patterns in which a group that nearly all marks share says nothing.

    Where every mark begins with 93 that may be the year, and all machines heard of are of one year;
    or it is the year of a patent, a model, a works, the same on every machine ever made. Each such
    group is put beside every pattern of one group fewer, and beside codes. What it is was seen in
    the marks, so each begins with one chance in as many as there are groups of so many figures.
    Empty where no group is shared, where two are (such marks come of one time, and a month is then
    shared without being the same on every machine), or where there is but one mark.

    >>> from ironlace.evidence.markings import parse_marking
    >>> read = [parse_marking(text) for text in ("93.217", "93.4021")]
    >>> [str(c.scheme) for c in patterns_with_a_constant(read)]
    ['constant 93, dot, code', 'constant 93, dot, number overall']
    """
    read = tuple(marks)
    shape = _usual_shape(read)
    fields = [i for i, word in enumerate(shape) if word in ("code", "letter")]
    numbers = [i for i in fields if shape[i] == "code"]
    alike = _groups_alike(read, shape)
    if len(alike) < _TO_SHARE or len(numbers) < _TO_SHARE:
        return ()
    shared = []
    for place, column in zip(numbers, zip(*alike, strict=True), strict=True):
        seen = Counter(
            "".join(glyph.certain or "" for glyph in group)
            for group in column
            if all(glyph.certain for glyph in group)
        )
        text, often = seen.most_common(1)[0] if seen else ("", 0)
        if often >= max(_TO_SHARE, _SHARED * len(column)):
            shared.append((fields.index(place), text))
    return tuple(_beside_a_constant(shape, *shared[0])) if len(shared) == 1 else ()


_TO_SHARE = 2
"""So many marks, and so many groups in each, before a group can be shared beside another."""

_SHARED = 0.8
"""Share of the marks that have the group alike: of ten, two may be misread or foreign."""

_ALWAYS = 0.02
"""Prior weight of a group that is the same on every machine: one maker in fifty; a judgement. It
leaves two machines of one year as probable as a group without meaning, or nearly."""


def _beside_a_constant(shape: tuple[str, ...], at: int, text: str) -> list[Candidate]:
    """Codes, and the library's patterns of one group fewer, with `text` as field number `at`."""
    weight = _ALWAYS / (9.0 * 10.0 ** (len(text) - 1))
    gaps = [word for word in shape if word not in ("code", "letter")]
    words = [word for word in shape if word in ("code", "letter")]
    lines = [("arbitrary codes", [*words[:at], *words[at + 1 :]])]
    for name, line in _PATTERNS:
        fields = [str(field) for field in Scheme.parse(line).fields]
        if ";" not in line and len(fields) == len(words) - 1:
            lines.append((name, fields))
    found = []
    for name, fields in lines:
        struck = [*fields[:at], f"constant {text}", *fields[at:]]
        letters = [field == "letter" for field in struck]
        if letters != [word == "letter" for word in words] or len(gaps) != len(words) - 1:
            continue
        parts = [part for pair in zip(struck, gaps, strict=False) for part in pair] + struck[-1:]
        scheme = Scheme.parse(", ".join(parts))
        without = name == "arbitrary codes"
        called = f"{name}, always {text} as group {at + 1}"
        found.append(
            Candidate(called, scheme, weight, hindsight=not without, rival=without, known=True)
        )
    return found


MOST_THEORIES = 200
"""Theories compared at once: each costs time for every report. A judgement."""
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
        if len(found) == MOST_THEORIES:
            raise SchemeError(
                f"Line {number} is theory {MOST_THEORIES + 1}: compare at most {MOST_THEORIES} at "
                "once."
            )
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
        raise SchemeError("No theory is named: write one a line.")
    return tuple(found)


def is_without_meaning(scheme: Scheme) -> bool:
    """Whether a scheme says nothing of date or count."""
    return all(
        field.kind in (FieldKind.CODE, FieldKind.LETTER, FieldKind.CONSTANT)
        for field in scheme.fields
    )


def as_marks_show_it(scheme: Scheme) -> str:
    """The scheme with all that no mark can ever show taken out: equal texts can never be parted.

    A running number that never starts again and a code up to some limit are thrown alike, unless a
    date stands beside the number. Only what comes with a machine (a dated receipt) parts them.

    >>> as_marks_show_it(Scheme.parse("letter, number overall"))
    'letter, code'
    >>> as_marks_show_it(Scheme.parse("year, dot, number overall"))
    'year, dot, number overall'
    """
    parts = tuple(
        Field(FieldKind.CODE, figures=part.figures)
        if isinstance(part, Field) and _thrown_like_a_code(part, scheme)
        else part
        for part in scheme.parts
    )
    return str(replace(scheme, parts=parts))


def _thrown_like_a_code(part: Field, scheme: Scheme) -> bool:
    if part.kind is FieldKind.BATCH:
        return True
    if part.kind is not FieldKind.NUMBER or (part.start or 1) > 1:
        return False
    return part.counted is Counted.BATCH or (
        part.counted is Counted.OVERALL and not scheme.tells_date
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
