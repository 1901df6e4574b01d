"""Other readings of a mark or a figure: whose they are, and which were given up and why.

Each is kept as the line a person writes: the reading, a colon, who read it; then, where it was
given up, those words and the reason.

>>> one = other_reading("B.19: R. Bell, given up: a burr was taken for the 9")
>>> one.reads, one.by, one.given_up, one.why
('B.19', 'R. Bell', True, 'a burr was taken for the 9')
>>> other_reading("B.12: under another lamp").given_up
False
"""

import re
from collections.abc import Callable
from dataclasses import dataclass

from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.markings import MarkingError, parse_marking
from ironlace.evidence.quantities import parse_measured

_GIVEN_UP = re.compile(r"(?<!not )(?<!never )\bgiven up\b", re.IGNORECASE)
_EDGES = " ,;:–—"


class OtherReadingError(IronlaceError):
    """A line does not tell of another reading."""


@dataclass(frozen=True, slots=True)
class OtherReading:
    """Another reading: what was read, by whom or how, whether it was given up, and why."""

    reads: str
    by: str
    given_up: bool
    why: str

    def __str__(self) -> str:
        if not self.given_up:
            return f"{self.reads}: {self.by}" if self.by else self.reads
        return f"{self.reads}: {', '.join(filter(None, (self.by, f'given up: {self.why}')))}"

    def beside(self) -> str:
        """All but the reading itself, in words."""
        if not self.given_up:
            return self.by
        return f"{f'read by {self.by}, ' if self.by else ''}given up: {self.why}"


def other_reading(line: str) -> OtherReading:
    """Read a line as it is kept."""
    reads, _, rest = line.partition(":")
    found = _GIVEN_UP.search(rest)
    if found is None:
        return OtherReading(reads.strip(), rest.strip(_EDGES), given_up=False, why="")
    by, why = rest[: found.start()].strip(_EDGES), rest[found.end() :].strip(_EDGES)
    return OtherReading(reads.strip(), by, given_up=True, why=why)


def written_anew(line: str, of: str) -> str:
    """A line about another reading of a mark as it is kept, its reading in our notation.

    Parameters
    ----------
    of
        The reading that stands.

    Raises IronlaceError when it cannot be read, or gives a reading up without saying why.
    """
    return _written(line, of, lambda text: str(parse_marking(text)))


def struck_figure(line: str, of: str) -> str:
    """A line about a misread figure of a measurement as it is kept: all such are given up.

    >>> struck_figure("31.9 mm: R. Bell, given up: wrong edge of the vernier", "31.6 mm")
    '31.9 mm: R. Bell, given up: wrong edge of the vernier'
    >>> struck_figure("31.9 mm: wrong edge", "31.6 mm")
    '31.9 mm: given up: wrong edge'

    Raises IronlaceError when it is no quantity, or does not say why it was wrong.
    """
    if not other_reading(line).given_up:
        reads, _, why = line.partition(":")
        line = f"{reads}: given up: {why.strip()}"
    return _written(line, of, lambda text: str(parse_measured(text)) and " ".join(text.split()))


def _written(line: str, of: str, read: Callable[[str], str]) -> str:
    one = other_reading(line)
    reads = read(one.reads)
    if one.given_up and not one.why:
        raise OtherReadingError(
            f"'{line[:60]}' is given up without a reason: write after 'given up' why it is wrong."
        )
    if one.given_up and reads == of:
        raise OtherReadingError(
            f"'{reads}' is given up and still stands: write the right reading where it stands, "
            "and this one beside it."
        )
    return str(OtherReading(reads, one.by, one.given_up, one.why))


def misread_glyphs(standing: str, given_up: str) -> str:
    """Which glyphs of a mark were misread, in words; empty where the two are of unlike length.

    >>> misread_glyphs("B·93·482", "B·93·432")
    '3 misread for 8'
    """
    try:
        right, wrong = parse_marking(standing).glyphs, parse_marking(given_up).glyphs
    except MarkingError:
        return ""
    if len(right) != len(wrong):
        return ""
    pairs = zip(right, wrong, strict=True)
    return ", ".join(f"{was} misread for {now}" for now, was in pairs if now != was)
