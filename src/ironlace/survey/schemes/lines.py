"""The lines of a scheme file one by one: take one out, put another in its place, write one anew."""

from dataclasses import dataclass

from ironlace.survey.errors import SchemeError
from ironlace.survey.schemes.library import Candidate, read_schemes


@dataclass(frozen=True, slots=True)
class SchemeLine:
    """One line that names a scheme.

    Attributes
    ----------
    number
        Its place in the text, from 1.
    text
        As it stands.
    candidate
        What it says; None when it cannot be read.
    says
        Why it cannot be read; empty when it can.
    """

    number: int
    text: str
    candidate: Candidate | None
    says: str = ""


def scheme_lines(text: str) -> tuple[SchemeLine, ...]:
    r"""Read a scheme file line by line; a line that cannot be read does not hide the others.

    >>> [(line.number, bool(line.says)) for line in scheme_lines("number overall\n\nmoon, tide")]
    [(1, False), (3, True)]
    """
    found = []
    for number, raw in enumerate(text.splitlines(), 1):
        if not raw.partition("#")[0].strip():
            continue
        try:
            found.append(SchemeLine(number, raw.strip(), read_schemes(raw)[0]))
        except SchemeError as error:
            says = str(error).removeprefix("Line 1: ").removeprefix("Line 1, ")
            found.append(SchemeLine(number, raw.strip(), None, says))
    return tuple(found)


def line_of(candidate: Candidate) -> str:
    """Write a candidate as a line that `read_schemes` reads back to the same.

    >>> line_of(read_schemes("mine: number overall | thought of before")[0])
    'mine: number overall | thought of before'
    """
    scheme = str(candidate.scheme)
    name = f"{candidate.name}: " if candidate.name != scheme else ""
    options = [f"weight {candidate.weight:g}"] if candidate.weight != 1 else []
    options += [] if candidate.hindsight else ["thought of before"]
    return name + scheme + (f" | {', '.join(options)}" if options else "")


def with_line(text: str, line: str, number: int | None = None) -> str:
    r"""The file with a line put in the place of another, or added at its end.

    >>> with_line("a: number overall\nb: week", "c: month", 2)
    'a: number overall\nc: month'
    """
    lines = text.splitlines()
    if number is not None and 1 <= number <= len(lines):
        lines[number - 1] = line
    else:
        lines = [*(kept for kept in lines if kept.strip()), line]
    return "\n".join(lines)
