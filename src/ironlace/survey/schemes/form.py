"""A scheme as the rows of a form, one for each part, and back.

A row holds plain texts, as a form sends them; leaving a text empty means "not said". The line of
text stays the one notation: rows are turned into it and read by it, so a form can say nothing
that a line cannot.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from ironlace.survey.errors import SchemeError
from ironlace.survey.schemes.scheme import SEPARATOR_GLYPHS, Counted, Field, FieldKind, Scheme

WHAT: tuple[tuple[str, str], ...] = (
    ("month", "month"),
    ("week", "week"),
    ("year", "year"),
    ("number", "running number"),
    ("batch", "lot"),
    ("code", "code without meaning"),
    ("letter", "letter"),
    ("constant", "always the same"),
    *((name, f"separator: {name}") for name in SEPARATOR_GLYPHS),
)
"""What a row may be: the word in the line of text, and words for a person."""

ROW = (
    *("what", "counted", "figures", "start", "letters", "as_letter", "near", "sometimes"),
    *("round", "dots", "parity"),
)
"""The texts of a row. `counted`: overall, month, year, week, batch, letter. `parity`: odd, even, or
odd for A. Ticks (`as_letter`, `near`, `sometimes`, `round`, `dots`) are 'yes' or empty."""


@dataclass(frozen=True, slots=True)
class SchemeForm:
    """A scheme as rows.

    Attributes
    ----------
    rows
        One mapping of the names in `ROW` to texts for each part, left to right.
    dots_without_meaning
        Whether dots also fall anywhere.
    """

    rows: tuple[Mapping[str, str], ...]
    dots_without_meaning: bool = False


def as_form(scheme: Scheme) -> SchemeForm:
    """Lay a scheme out as rows.

    >>> as_form(Scheme.parse("month, dot, number in month of 3 figures")).rows[2]["figures"]
    '3'
    """
    rows = []
    for part in scheme.parts:
        row = dict.fromkeys(ROW, "")
        if isinstance(part, Field):
            row["what"] = str(part.kind)
            row["counted"] = str(part.counted or "")
            row["figures"] = str(part.figures or "")
            row["start"] = str(part.start or "")
            row["letters"] = part.text
            row["as_letter"] = "yes" if part.as_letter else ""
            row["near"] = "yes" if part.near else ""
            row["round"] = "yes" if part.goes_round else ""
            row["dots"] = "yes" if part.as_dots else ""
            row["parity"] = part.parity
        else:
            row["what"] = part.name
            row["sometimes"] = "yes" if part.sometimes else ""
        rows.append(row)
    return SchemeForm(tuple(rows), scheme.dots_without_meaning)


def from_form(form: SchemeForm) -> Scheme:
    """Make a scheme of rows; a row without `what` is passed over.

    Raises
    ------
    SchemeError
        When a row says something that its kind cannot, or the whole makes no scheme.

    >>> scheme = Scheme.parse("letter A B, ring, year counted from 1880, number in year")
    >>> from_form(as_form(scheme)) == scheme
    True
    """
    words = [_words(row, i) for i, row in enumerate(form.rows, 1) if row.get("what")]
    if not words:
        raise SchemeError("The form has no row filled in: choose what the mark begins with.")
    ending = "; dots without meaning" if form.dots_without_meaning else ""
    return Scheme.parse(", ".join(words) + ending)


def _words(row: Mapping[str, str], number: int) -> str:
    what = row["what"].strip().lower()
    said = {name: row.get(name, "").strip() for name in ROW}
    ticks = ("as_letter", "near", "sometimes", "round", "dots")
    ticked = {name: said[name] not in ("", "no") for name in ticks}
    if what in SEPARATOR_GLYPHS:
        return f"{what} sometimes" if ticked["sometimes"] else what
    if what not in set(FieldKind):
        known = ", ".join(word for word, _ in WHAT)
        raise SchemeError(f"Row {number}: '{what}' is not a part of a mark; choose one of {known}.")
    words = [what]
    if what == "number":
        counted = said["counted"] or "overall"
        if counted not in set(Counted):
            raise SchemeError(
                f"Row {number}: a number runs {', '.join(Counted)}; '{counted}' is none of them."
            )
        words.append("overall" if counted == "overall" else f"in {counted}")
    if ticked["near"]:
        words.append("near one value")
    if ticked["as_letter"]:
        words.append("as letter")
    if ticked["dots"]:
        words.append("as dots")
    if said["figures"] and not (what == "year" and said["start"]):
        words.append(f"of {said['figures']} figure{'' if said['figures'] == '1' else 's'}")
    if said["start"]:
        counted_from = "counted from" if what == "year" and not ticked["as_letter"] else "from"
        words.append(f"{counted_from} {said['start']}")
    if ticked["round"]:
        words.append("going round")
    if said["parity"]:
        words.append(said["parity"].lower())
    if what == "letter":
        words += list(said["letters"].replace(" ", "").replace(",", ""))
    elif what == "constant":
        words.append(said["letters"])
    return " ".join(words)
