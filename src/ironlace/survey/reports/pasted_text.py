"""Candidate serial numbers in pasted text, each with the words about it.

Nothing found here counts: each candidate is shown to a person, who accepts or drops it. A machine's
own mark tells how such numbers are built: with its help a number that a gap parts is found whole.
"""

import re
from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from typing import Any

from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.markings import Marking, parse_marking
from ironlace.evidence.written_dates import read_date
from ironlace.survey.reports.table import DatedEvidence, kind_by


@dataclass(frozen=True, slots=True)
class FoundSerial:
    """A piece of text that may be a serial number.

    Attributes
    ----------
    text
        As it stands.
    mark
        As a marking.
    start, end
        Where in the text, in characters.
    line
        Line number, from 1.
    before, after
        Some words on either side, on the same line or the next.
    doubts
        Why it may be something else; empty when nothing speaks against it.
    score
        Larger for a likelier serial number, from 0 to 1: a rough order for showing, no probability.
    fits
        Whether it is built like the mark given to compare with; False without one.
    dated
        A date said in the same sentence, with what it may say; None without one.
    """

    text: str
    mark: Marking
    start: int
    end: int
    line: int
    before: str
    after: str
    doubts: tuple[str, ...]
    score: float
    fits: bool = False
    dated: DatedEvidence | None = None

    def as_dict(self) -> dict[str, Any]:
        """Return it by name."""
        return {
            "text": self.text,
            "mark": str(self.mark),
            "start": self.start,
            "end": self.end,
            "line": self.line,
            "before": self.before,
            "after": self.after,
            "doubts": list(self.doubts),
            "score": self.score,
            "fits": self.fits,
            "dated": self.dated.date.text if self.dated else None,
        }


_MARK = re.compile(
    r"(?<![\w.,·°/-])"
    r"(?:[A-Z]{1,2}[ .·°-]?)?"
    r"(?:[0-9]{1,3}(?:,[0-9]{3})+|[0-9?]{1,8}(?:[.·°•/-][0-9?]{1,8}){0,4})"
    r"(?![\w·°/-]|[.,][0-9])"
)
_SAYS_SERIAL = re.compile(
    r"(?:serial|number|no\.?|nr\.?|№|#|stamped|marked|reads?|plate|bed)\W*(?:\w+\W+){0,3}$", re.I
)
_MONEY = re.compile(r"[$€£]\s*$|\b(?:usd|eur|gbp)\s*$", re.I)
_MONEY_AFTER = re.compile(r"^\s*(?:[$€£]|usd|eur|gbp|dollars?|euros?|pounds?|marks?\b)", re.I)
_MEASURE = re.compile(
    r"^\s*(?:mm|cm|m|km|in|inch(?:es)?|ft|kg|g|lbs?|%|years?|yrs?|days?|hours?|h|min|am|pm)\b", re.I
)
_TELEPHONE = re.compile(r"(?:tel|phone|call|mobile|whatsapp)\W*(?:\w+\W+){0,2}$", re.I)
_DATE = re.compile(
    r"\d{1,2}[./-]\d{1,2}[./-](?:19|20)\d\d|(?:19|20)\d\d[./-]\d{1,2}(?:[./-]\d{1,2})?"
)
_CONTEXT = 48
"""Characters shown on either side of a number: half a line each."""


_ENDS = r"(?![\w·°/-]|[.,][0-9])"
_BEGINS = r"(?<![\w.,·°/-])"
_STRUCK = r" ?[.·•°*/-] ?"
"""A dot, ring, hyphen or stroke as it is typed in running text, with or without blanks."""

_MORE_FIGURES = 2
"""A group may have so many figures more than in the mark compared with: 38 and 1204 both count."""


@dataclass(frozen=True, slots=True)
class _Shape:
    """How a mark is built: letters or figures group by group, and which groups a gap parts.

    `groups` holds for each whether it is of letters, and its length; `gaps` whether a mere gap
    stands before it.
    """

    groups: tuple[tuple[bool, int], ...]
    gaps: tuple[bool, ...]

    @classmethod
    def of(cls, mark: Marking) -> "_Shape":
        groups: list[tuple[bool, int]] = []
        gaps: list[bool] = []
        between: str | None = ""
        for glyph in mark.glyphs:
            if glyph.is_separator:
                between = (between or "") + (glyph.options[0] if glyph.options else "")
                continue
            letter = bool(glyph.options) and all(c.isalpha() for c in glyph.options)
            if groups and between is None and groups[-1][0] == letter:
                groups[-1] = (letter, groups[-1][1] + 1)
            else:
                groups.append((letter, 1))
                gaps.append(between == " ")
            between = None
        return cls(tuple(groups), tuple(gaps))

    def pattern(self) -> re.Pattern[str] | None:
        """What finds a number so built in running text; None where no gap parts its groups."""
        if not any(self.gaps[1:]):
            return None
        parts = [_BEGINS]
        for number, ((letter, length), gap) in enumerate(zip(self.groups, self.gaps, strict=True)):
            if number:
                either = letter or self.groups[number - 1][0]
                parts.append(" {1,2}" if gap else f"(?:{_STRUCK}| )" + ("?" if either else ""))
            parts.append(
                f"[A-Z]{{{length}}}" if letter else f"[0-9?]{{1,{length + _MORE_FIGURES}}}"
            )
        return re.compile("".join([*parts, _ENDS]))

    def fits(self, other: "_Shape") -> bool:
        """Whether another mark has the same groups, give or take a figure or two."""
        return len(self.groups) == len(other.groups) and all(
            letter == other_letter
            and (size == length if letter else size <= length + _MORE_FIGURES)
            for (letter, length), (other_letter, size) in zip(
                self.groups, other.groups, strict=True
            )
        )


def find_serials(text: str, like: Marking | None = None) -> tuple[FoundSerial, ...]:
    """Find what may be serial numbers, in the order of the text.

    Prices, measures, telephone numbers, plain years and modern dates are kept but carry a doubt,
    since a real serial may look like one of them.

    Parameters
    ----------
    text
        A thread, a letter, a listing.
    like
        A mark that such numbers are built like, as a rule the machine's own: where a gap parts
        its groups, a gap does not end a number in the text, and what is so built is told.

    >>> found = find_serials("Mine reads 4.96.217 on the bed, paid $120 for it.")
    >>> [(f.text, f.doubts) for f in found]
    [('4.96.217', ()), ('120', ('looks like a price',))]
    >>> [f.text for f in find_serials("Here G.86 214.", parse_marking("G.94 627"))]
    ['G.86 214']
    """
    shape = _Shape.of(like) if like is not None else None
    found = []
    breaks = [match.start() for match in re.finditer("\n", text)]
    dates = _dates_in(text)
    for match in _candidates(text, shape):
        piece = match[0]
        if not re.search(r"[0-9]", piece) or len(re.sub(r"[^0-9?]", "", piece)) < 2:
            continue
        try:
            mark = parse_marking(piece.replace(",", ""))
        except IronlaceError:
            continue
        # only so much of the text as can be shown, else a long thread would be copied throughout
        before = text[max(match.start() - 2 * _CONTEXT, 0) : match.start()]
        after = text[match.end() : match.end() + 2 * _CONTEXT]
        doubts = _doubts(piece, before[-40:], after[:20])
        if any(start <= match.start() and match.end() <= end for start, end, _ in dates):
            doubts = (*doubts, "stands in a date")
        found.append(
            FoundSerial(
                piece,
                mark,
                match.start(),
                match.end(),
                bisect_left(breaks, match.start()) + 1,
                _near(before, last=True),
                _near(after, last=False),
                doubts,
                _score(piece, before[-60:], doubts),
                shape is not None and shape.fits(_Shape.of(mark)),
                _date_beside(text, match, dates),
            )
        )
    return tuple(found)


def _candidates(text: str, shape: _Shape | None) -> list[re.Match[str]]:
    """Pieces that may be numbers: those built like the mark compared with first, then others."""
    pattern = shape.pattern() if shape else None
    joined = list(pattern.finditer(text)) if pattern else []
    ends = [match.end() for match in joined]
    apart = []
    for match in _MARK.finditer(text):
        at = bisect_right(ends, match.start())
        if at == len(joined) or joined[at].start() >= match.end():
            apart.append(match)
    return sorted([*joined, *apart], key=lambda match: match.start())


_MONTH_NAME = r"(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)[a-z]{0,6}\.?"
_SAID_DATE = re.compile(
    rf"\b\d{{1,2}}(?:st|nd|rd|th)?(?: of)? {_MONTH_NAME},? 1[6-9]\d\d\b"
    rf"|\b{_MONTH_NAME} \d{{1,2}}(?:st|nd|rd|th)?,? 1[6-9]\d\d\b"
    rf"|\b{_MONTH_NAME},? 1[6-9]\d\d\b"
    r"|(?<![\d./-])\d{1,2}[./]\d{1,2}[./]1[6-9]\d\d\b"
    r"|(?<![\w.·°/-])1[6-9]\d\d(?![\w·°/-]|[.,]\d)",
    re.I,
)
_SENTENCE_ENDS = re.compile(r"[.!?](?=\s)|\n")
_EVIDENCE = re.compile(
    r"\b(?:receipt|bill of sale|bill|invoice|bought|sold|purchased|patent|registered|photograph|"
    r"portrait|letter|diary|inherited|repaired|wedding|made|built|dated)\b",
    re.I,
)
_NO_LATER_THAN = 1939
"""A later year is when somebody bought an old machine, which dates nothing; a judgement."""


def _dates_in(text: str) -> list[tuple[int, int, DatedEvidence]]:
    """Dates said in a text: where, and what each may say by the words of its sentence."""
    found = []
    for match in _SAID_DATE.finditer(text):
        try:
            date = read_date(match[0])
        except IronlaceError:
            continue  # two days could be meant: a proposal would be a guess
        if date.latest is None or date.latest.year > _NO_LATER_THAN:
            continue
        start, end = _sentence_about(text, match)
        words = _EVIDENCE.findall(text[start : match.start()]) or _EVIDENCE.findall(
            text[match.end() : end]
        )
        by = words[-1].lower() if words else ""
        found.append((match.start(), match.end(), DatedEvidence(date, kind_by(by), by)))
    return found


def _sentence_about(text: str, match: re.Match[str]) -> tuple[int, int]:
    """Where the sentence that holds a piece begins and ends, as far as it is looked at."""
    first = max(match.start() - _SENTENCE, 0)
    ends = [end.end() for end in _SENTENCE_ENDS.finditer(text, first, match.start())]
    stop = _SENTENCE_ENDS.search(text, match.end(), match.end() + _SENTENCE)
    return ends[-1] if ends else first, stop.start() if stop else match.end() + _SENTENCE


_SENTENCE = 240
"""Characters of a sentence on either side of a number; a longer one is hardly about one thing."""


def _date_beside(
    text: str, match: re.Match[str], dates: list[tuple[int, int, DatedEvidence]]
) -> DatedEvidence | None:
    """The date nearest to a number in its sentence, one known by something before a bare one."""
    start, end = _sentence_about(text, match)
    near = [
        (not said.what, abs(at - match.end()), said)
        for at, stop, said in dates
        if start <= at
        and stop <= end
        and not (match.start() <= at < match.end() or at <= match.start() < stop)
    ]
    return min(near, key=lambda one: one[:2])[2] if near else None


def _near(text: str, *, last: bool) -> str:
    words = " ".join(text.split())
    return words[-_CONTEXT:] if last else words[:_CONTEXT]


def _doubts(piece: str, before: str, after: str) -> tuple[str, ...]:
    doubts = []
    figures = re.sub(r"\D", "", piece)
    if _MONEY.search(before) or _MONEY_AFTER.match(after):
        doubts.append("looks like a price")
    if _MEASURE.match(after):
        doubts.append("looks like a measure")
    if _DATE.fullmatch(piece):
        doubts.append("looks like a date")
    elif re.fullmatch(r"1[6-9]\d\d|20\d\d", piece):
        doubts.append("looks like a year")
    if _TELEPHONE.search(before) or len(figures) > 9:
        doubts.append("looks like a telephone number")
    if "," in piece:
        doubts.append("its commas are left out")
    if piece.endswith("?"):
        doubts.append("the question mark may be the sentence's own")
    if len(figures) < 3 and len(figures) == len(piece):
        doubts.append("is short")
    return tuple(doubts)


def _score(piece: str, before: str, doubts: tuple[str, ...]) -> float:
    score = 0.45
    if _SAYS_SERIAL.search(before):
        score += 0.3
    if re.search(r"[0-9?][.·°][0-9?]", piece):
        score += 0.2
    if 4 <= len(re.sub(r"[^0-9?]", "", piece)) <= 8:
        score += 0.05
    return max(0.05, round(score - 0.3 * len(doubts), 2))
