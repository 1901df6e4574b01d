"""Candidate serial numbers in pasted text, each with the words about it.

Nothing found here counts: each candidate is shown to a person, who accepts or drops it.
"""

import re
from bisect import bisect_left
from dataclasses import dataclass
from typing import Any

from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.markings import Marking, parse_marking


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


def find_serials(text: str) -> tuple[FoundSerial, ...]:
    """Find what may be serial numbers, in the order of the text.

    Prices, measures, telephone numbers, plain years and modern dates are kept but carry a doubt,
    since a real serial may look like one of them.

    >>> found = find_serials("Mine reads 4.96.217 on the bed, paid $120 for it.")
    >>> [(f.text, f.doubts) for f in found]
    [('4.96.217', ()), ('120', ('looks like a price',))]
    """
    found = []
    breaks = [match.start() for match in re.finditer("\n", text)]
    for match in _MARK.finditer(text):
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
            )
        )
    return tuple(found)


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
