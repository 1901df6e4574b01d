"""A report of a machine as lines of plain words that mail programs do not spoil.

A person can read and write the lines; a program finds them again in mail that was quoted, wrapped,
forwarded or made "smart" on its way. What mail programs change of themselves (kinds of quotes,
dashes and blanks) is made alike before it is written, so that what comes back is what was sent. A
check of six signs (a CRC-32 of the lines, ISO 3309) tells whether it did.
"""

import re
import unicodedata
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import count, product
from typing import Final

BEGINS: Final = "== Report of a machine begins here =="
ENDS: Final = "== Report of a machine ends here =="
ENDS_CHECKED: Final = "== Report of a machine ends here, check {} =="
LABELS: Final[Mapping[str, str]] = {
    "answers": "This answers the call for",
    "reads": "The number reads",
    "where": "Where it is struck",
    "known": "How I know it",
    "dated": "A date that came with it",
    "dated_by": "That date is from",
    "place": "Place",
    "place_told": "The place may be published",
    "remarks": "Remarks",
    "sender": "My name",
    "sender_as": "I may be named",
}
"""Each field with the words its line begins with, in their order."""

KNOWN: Final = (
    "the machine is before me",
    "I saw a photograph of it",
    "I was told of it",
    "I saw it offered for sale",
)
"""How a sender may know a number."""

NAMED: Final = ("by my name", "by my initials", "not at all")
"""How a sender may choose to be named."""

YES_NO: Final = ("yes", "no")
LONGEST_REMARK: Final = 2_000
"""Signs of the remarks: a paragraph, no article (a judgement)."""
LONGEST: Final = 300
"""Signs of any other field: one line of a record."""

SIGNS: Final = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Signs of the check: none is taken for another."""

_CHECK_LENGTH = 6
"""Signs of the check: 30 to the sixth."""
_MOST_BLOCKS = 200
"""Reports looked for in one text: a thread forwarded again and again holds the same few."""
_MOST_LINES = 400
"""Lines of one report, quoting and empty ones included: its fields at 76 columns need 300."""
_DOUBTFUL_BREAKS = 10
"""Breaks of lines of which each is tried with and without a blank: a thousand ways at most."""
_MOST_WAYS = 2_048
"""Ways tried over all reports of one text: a second's work, whatever somebody sends."""
_FULL_LINE = 60
"""Signs in a line from which on it may have been broken within a word."""

_QUOTES = str.maketrans(
    {
        **dict.fromkeys("‘’‚‛′´`", "'"),
        **dict.fromkeys("“”„‟″", '"'),
        "…": "...",
        ">": "›",
        "<": "‹",
        "|": "/",
    }
)
_DASHES = re.compile("[-‐‑‒–—―−]+")
_LABEL_SIGN = re.compile(r"\+(?=\s|$)")
_QUOTED = re.compile(r"^[\s>|]+")
_LINE = re.compile(r"^\+ ?([^:]{3,60}?) ?: ?(.*)$")
_BEGINS = re.compile(r"report of a machine begins here", re.I)
_ENDS = re.compile(rf"report of a machine ends here(?:, ?check ([{SIGNS}]{{6}}))?", re.I)
_RUN_ON = re.compile(
    r"(?<=[ \t\u00a0])(?=\+[ \u00a0](?:"
    + "|".join(map(re.escape, LABELS.values()))
    + r") ?:|== Report of a machine )"
)
"""Where a line begins that was run on to the one before; within a line no such thing is written."""
_BY_LABEL = {label.casefold(): field for field, label in LABELS.items()}


@dataclass(frozen=True, slots=True)
class SentIn:
    """One report as a sender wrote it.

    Attributes
    ----------
    values
        Field (of `LABELS`) and what was written there; empty fields are left out.
    whole
        Whether the check proves that nothing changed on the way; None where there is no check.
    """

    values: tuple[tuple[str, str], ...]
    whole: bool | None = None

    def of(self, field: str) -> str:
        """What was written in a field, empty if nothing."""
        return dict(self.values).get(field, "")


def folded(text: str) -> str:
    r"""A text as it is written into a report: what mail programs change of themselves made alike.

    >>> folded("  “Anna’s”\u00a0head —  a > b ")
    '"Anna\'s" head - a › b'
    """
    kept = (
        " " if kind == "Cc" else "" if kind in ("Cf", "Cs", "Co") else sign
        for sign in text
        for kind in (unicodedata.category(sign),)
    )
    plain = unicodedata.normalize("NFC", "".join(kept)).translate(_QUOTES)
    plain = " ".join(_DASHES.sub("-", plain).split())
    return _LABEL_SIGN.sub("&", plain)


def check_of(values: Sequence[tuple[str, str]]) -> str:
    """The check of a report: six signs out of its lines.

    >>> check_of([("reads", "B°92·117")])
    'XXJ585'
    """
    lines = "\n".join(f"{LABELS[field]}: {value}" for field, value in values)
    number = zlib.crc32(lines.encode())
    signs = ""
    for _ in range(_CHECK_LENGTH):
        number, at = divmod(number, len(SIGNS))
        signs += SIGNS[at]
    return signs


def compose(values: Mapping[str, str]) -> str:
    """Write a report as lines of plain words, with its check.

    Parameters
    ----------
    values
        By field of `LABELS`; each is made alike as `folded` does, cut at its length, and left out
        when empty.
    """
    told = written_values(values)
    lines = [f"+ {LABELS[field]}: {value}" for field, value in told]
    return "\n".join([BEGINS, *lines, ENDS_CHECKED.format(check_of(told))]) + "\n"


def written_values(values: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """The fields of a report as they are written, in order."""
    alike = (
        (field, folded(folded(values.get(field, ""))[: longest_of(field)])) for field in LABELS
    )
    return tuple((field, value) for field, value in alike if value)


def longest_of(field: str) -> int:
    """Signs that a field may have."""
    return LONGEST_REMARK if field == "remarks" else LONGEST


def empty_form(answers: str = "") -> str:
    """The lines for a person to fill in by hand; they carry no check."""
    given = {"answers": folded(answers)}
    lines = [f"+ {label}: {given.get(field, '')}".rstrip() for field, label in LABELS.items()]
    return "\n".join([BEGINS, *lines, ENDS]) + "\n"


def reports_in(text: str) -> tuple[SentIn, ...]:
    """Find the reports in a text, each once however often it was quoted.

    A report that is proven whole stands for a damaged copy of it, which says the same number.
    """
    found: dict[tuple[tuple[str, str], ...], SentIn] = {}
    ways = count()
    for lines, check in _blocks(text):
        one = _read(lines, check, ways)
        if one.values and one.values not in found:
            found[one.values] = one
    proven = {one.of("reads") for one in found.values() if one.whole}
    return tuple(one for one in found.values() if one.whole or one.of("reads") not in proven)


def _blocks(text: str) -> Iterator[tuple[list[str], str]]:
    """The lines of each report without their quoting, and its check if it has one."""
    lines: list[str] | None = None
    found = 0
    apart = _RUN_ON.sub("\n", text)
    for raw in re.split(r"\r\n|[\r\n\f\v\u2028\u2029\x85]", apart):
        # a line begins with + itself, which folding leaves to it
        line = _unquoted(raw)
        if _BEGINS.search(line):
            if lines:
                yield lines, ""
                found += 1
            lines = []
        elif lines is not None and (end := _ENDS.search(line)):
            yield lines, (end[1] or "").upper()
            found += 1
            lines = None
        elif lines is not None:
            lines.append(line)
            if len(lines) > _MOST_LINES:
                yield lines, ""
                found += 1
                lines = None
        if found >= _MOST_BLOCKS:
            return
    if lines:
        yield lines, ""  # the end was cut off


def _unquoted(raw: str) -> str:
    line = _QUOTED.sub("", raw[: 4 * LONGEST_REMARK])
    labelled = line.startswith("+ ") or line.startswith("+\u00a0")
    return f"+ {folded(line[2:])}" if labelled else folded(line)


def _read(lines: list[str], check: str, ways: Iterator[int]) -> SentIn:
    """Read the lines of a report; `ways` counts what is tried over all reports of a text."""
    parts: dict[str, list[str]] = {}
    last = ""
    for line in lines:
        labelled = _LINE.match(line)
        field = _BY_LABEL.get(labelled[1].casefold(), "") if labelled else ""
        if labelled and field and field not in parts:
            last = field
            parts[field] = [labelled[2]] if labelled[2] else []
        elif last and line:
            parts[last].append(line)
    given = {field: parts[field] for field in LABELS if parts.get(field)}
    values = written_values({field: " ".join(chunks) for field, chunks in given.items()})
    if not check:
        return SentIn(values)
    if check_of(values) == check:
        return SentIn(values, whole=True)
    for tried in _joined_otherwise(given):
        if next(ways) > _MOST_WAYS:
            break
        if check_of(tried) == check:
            return SentIn(tried, whole=True)
    return SentIn(values, whole=False)


def _joined_otherwise(
    given: Mapping[str, list[str]],
) -> Iterator[tuple[tuple[str, str], ...]]:
    """The same lines, where a full one may have been broken within a word."""
    doubtful = [
        (field, at)
        for field, chunks in given.items()
        for at, chunk in enumerate(chunks[:-1])
        if len(chunk) + (at == 0) * (len(LABELS[field]) + 4) >= _FULL_LINE
    ][:_DOUBTFUL_BREAKS]
    for ways in product((" ", ""), repeat=len(doubtful)):
        between = dict(zip(doubtful, ways, strict=True))
        yield written_values(
            {
                field: "".join(
                    chunk + (between.get((field, at), " ") if at < len(chunks) - 1 else "")
                    for at, chunk in enumerate(chunks)
                )
                for field, chunks in given.items()
            }
        )
