"""A theory of the numbering put together from parts, beside the line of text it makes.

Nothing is kept here: what is put together stands in the address, and goes back to the page of
theories as one more line.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace.evidence.errors import IronlaceError
from ironlace.record import Record
from ironlace.survey.answers.asked import UnderTheories
from ironlace.survey.schemes.form import ROW, WHAT, SchemeForm, as_form, from_form
from ironlace.survey.schemes.library import Candidate, is_without_meaning, read_schemes
from ironlace.survey.schemes.lines import line_of, scheme_lines, with_line
from ironlace.survey.schemes.scheme import Counted, Scheme
from ironlace.web import addresses
from ironlace.web.assumption_form import OddsAsked, asked_of
from ironlace.web.bench import BenchDep
from ironlace.web.rendering import page

router = APIRouter()
_MOST_ROWS = 16
"""Parts of a theory: more than any mark known has groups."""

_BLANK_ROWS = 4
"""Empty rows that a new theory begins with: most numberings have two to four parts."""

_NUMBER = "number "
KINDS: tuple[tuple[str, str], ...] = (
    ("", "nothing"),
    *(
        kind
        for what, words in WHAT
        for kind in (
            [
                (f"{_NUMBER}{c}", _counted)
                for c, _counted in (
                    (Counted.OVERALL, "running number that never starts again"),
                    (Counted.YEAR, "running number in each year"),
                    (Counted.MONTH, "running number in each month"),
                    (Counted.WEEK, "running number in each week"),
                    (Counted.BATCH, "running number in each lot"),
                    (Counted.LETTER, "running number of each letter"),
                )
            ]
            if what == "number"
            else [(what, words)]
        )
    ),
)
"""What a row may be, in one choice, and words for it."""

_DETAILS: Mapping[str, tuple[str, ...]] = {
    "month": ("figures", "as_letter", "dots"),
    "week": ("figures",),
    "year": ("figures", "start", "as_letter", "round"),
    "number": ("figures", "start", "parity"),
    "batch": ("figures",),
    "code": ("figures", "near"),
    "letter": ("letters",),
    "constant": ("letters",),
}
_SEPARATOR_DETAILS = ("sometimes",)


@dataclass(frozen=True, slots=True)
class _Row:
    """One part of the mark on the page: what it is, and what may be said of that."""

    what: str
    values: Mapping[str, str]
    asks: tuple[str, ...]


def _asked(request: Request) -> OddsAsked:
    return asked_of(request.query_params)


AskedDep = Annotated[OddsAsked, Depends(_asked)]


@router.get(addresses.theory("{slug}"))
def theory(request: Request, bench: BenchDep, asked: AskedDep, slug: str) -> Response:
    """Show the parts, the line they make, and what it reads on the machine's own mark."""
    record = bench.records.read(slug)
    given = dict(request.query_params)
    number = _whole(given.get("at", ""))
    do, _, which = given.get("do", "").partition("-")
    says, candidate = "", None
    if "rows" in given:
        rows = _rows_typed(given)
        rows = _moved(rows, do, _whole(which))
        idle = given.get("idle") == "yes"
        if any(row["what"] for row in rows):
            try:
                candidate = _candidate(given, rows, idle)
            except IronlaceError as error:
                says = str(error)
    else:
        candidate, says = _started(given, asked, number)
        form = as_form(candidate.scheme) if candidate else SchemeForm(())
        rows = [dict(row) for row in form.rows] + _blank(_BLANK_ROWS if not candidate else 1)
        idle = form.dots_without_meaning
    if do == "use" and candidate is not None and not says:
        schemes = with_line(asked.schemes, line_of(candidate), number)
        query = {**asked.query, "schemes": schemes, "compare": "yes"}
        return RedirectResponse(f"{addresses.dating(slug, **query)}#compare", 303)
    if do == "use" and not says:
        says = "No part is chosen: say what the mark begins with."
    return page(
        request,
        "theory.html",
        status=422 if says else 200,
        record=record,
        asked=asked,
        at=number,
        rows=[_row(row) for row in rows],
        idle=idle,
        kinds=KINDS,
        name=given.get("name", _name(candidate))[:80],
        weight=given.get("weight", f"{candidate.weight:g}" if candidate else "1")[:20],
        before=given.get("before", "" if candidate is None or candidate.hindsight else "yes"),
        line=line_of(candidate) if candidate else "",
        words=candidate.scheme.in_words() if candidate else "",
        reading=_reading(record, candidate.scheme, asked) if candidate else "",
        says=says,
    )


def _whole(text: str) -> int | None:
    return int(text) if text.isdecimal() and len(text) < 6 else None


def _name(candidate: Candidate | None) -> str:
    return candidate.name if candidate and candidate.name != str(candidate.scheme) else ""


def _started(
    given: Mapping[str, str], asked: OddsAsked, number: int | None
) -> tuple[Candidate | None, str]:
    """The theory to begin with: a line that stands, one of the known ones, or none."""
    if start := given.get("from", "").strip()[:400]:
        return read_schemes(start)[0], ""
    if number is None:
        return None, ""
    line = next((line for line in scheme_lines(asked.schemes) if line.number == number), None)
    if line is None:
        return None, f"There is no theory on line {number}."
    return line.candidate, line.says and f"Line {number} cannot be read: {line.says}"


def _rows_typed(given: Mapping[str, str]) -> list[dict[str, str]]:
    count = min(_whole(given["rows"]) or 0, _MOST_ROWS)
    rows = []
    for i in range(count):
        row = {name: given.get(f"{name}-{i}", "").strip()[:60] for name in ROW}
        if row["what"].startswith(_NUMBER):
            row["counted"] = row["what"].removeprefix(_NUMBER)
            row["what"] = "number"
        asks = _asks(row["what"])
        rows.append(
            {
                name: text if name in ("what", "counted") or name in asks else ""
                for name, text in row.items()
            }
        )
    return rows


def _moved(rows: list[dict[str, str]], do: str, at: int | None) -> list[dict[str, str]]:
    """The rows after one of them was moved up, taken out, or given a new one before it."""
    rows = list(rows)
    if at is not None and at < len(rows):
        if do == "up" and at > 0:
            rows[at - 1], rows[at] = rows[at], rows[at - 1]
        elif do == "out":
            del rows[at]
        elif do == "before":
            rows.insert(at, _blank(1)[0])
    if not rows or rows[-1]["what"]:
        rows += _blank(1)
    return rows[:_MOST_ROWS]


def _blank(count: int) -> list[dict[str, str]]:
    return [dict.fromkeys(ROW, "") for _ in range(count)]


def _asks(what: str) -> tuple[str, ...]:
    return _DETAILS.get(what, _SEPARATOR_DETAILS if what else ())


def _row(row: Mapping[str, str]) -> _Row:
    what = row["what"]
    return _Row(f"{_NUMBER}{row['counted']}" if what == "number" else what, row, _asks(what))


def _candidate(given: Mapping[str, str], rows: list[dict[str, str]], idle: bool) -> Candidate:
    """The theory that the form makes, read by way of its line, so that both say the same."""
    scheme = from_form(SchemeForm(tuple(rows), idle))
    name = " ".join(given.get("name", "").split())[:80]
    if any(c in name for c in ":,;|#"):
        raise IronlaceError(
            f"The name '{name}' holds one of : , ; | #, which part a line: leave it out."
        )
    options = []
    if (weight := given.get("weight", "").strip().replace(",", ".")) not in ("", "1"):
        options.append(f"weight {weight}")
    if given.get("before") == "yes":
        options.append("thought of before")
    line = f"{name}: {scheme}" if name else str(scheme)
    return read_schemes(line + (f" | {', '.join(options)}" if options else ""))[0]


def _reading(record: Record, scheme: Scheme, asked: OddsAsked) -> str:
    """What the theory reads on the machine's own mark, in a sentence."""
    from ironlace.evidence.markings import parse_marking
    from ironlace.survey.schemes.face_value import face_value
    from ironlace.workshop.survey.reports_of_record import serial_of

    own = serial_of(record)
    if not own:
        return ""
    try:
        given = asked.read()
    except IronlaceError:
        given = UnderTheories()
    value = face_value(
        parse_marking(own), scheme, first_year=given.first_year, last_year=given.last_year
    )
    if value is None:
        return (
            "It cannot be read off this machine's mark as it stands: a part does not fit, or a "
            "glyph is in doubt. The comparison weighs such marks all the same."
        )
    said = value.in_words()
    if not said or is_without_meaning(scheme):
        return "It fits this machine's mark, and says nothing of its date or count."
    return f"On this machine's mark it reads: {said}."
