"""The manual's tables of entries, made from what the entries declare.

``python -m ironlace.record.entries_in_manual docs/files.md`` writes them anew between their two
markers; a test says when that is due.
"""

import inspect
import re
import sys
from collections.abc import Iterator
from pathlib import Path

from pydantic import BaseModel

from ironlace.evidence.errors import IronlaceError
from ironlace.record.entries import ENTRY_KINDS
from ironlace.record.entry_fields import Control, EntryField, fields_of, words_of

BEGIN, END = "<!-- entries: begin -->", "<!-- entries: end -->"

_HOLDS = {
    Control.LINE: "a line",
    Control.TEXT: "text",
    Control.DATE: "a date (EDTF)",
    Control.QUANTITY: "a quantity with its unit, ± its error",
    Control.MARKING: "a mark, glyph by glyph ([marks](marks.md))",
    Control.LINES: "a list of lines",
    Control.OTHER_READINGS: "a list of lines: a reading, a colon, who read it",
    Control.READING_TABLE: "`columns`, `rows`, `struck`, or one text as it is pasted",
    Control.PICTURES: "a list of names such as `photograph 12`",
    Control.TICK: "true or false",
    Control.DECIMAL: "a decimal number",
    Control.GRADE: "a grade ([grades](grades.md))",
    Control.SOURCES: "a list of sources",
}
_MADE = "made by the program"


class ManualError(IronlaceError):
    """A page of the manual lacks the place for the tables."""


def entries_as_markdown() -> str:
    """One table for each kind of entry, in the order of the job."""
    return "\n".join(line for model in ENTRY_KINDS.values() for line in _table(model))


def rewritten(page: str) -> str:
    """A page of the manual with its tables of entries made anew.

    Raises ManualError when the page does not hold both markers.
    """
    parts = re.match(rf"(.*{BEGIN}\n).*(\n{END}.*)", page, re.DOTALL)
    if parts is None:
        raise ManualError(f"The page holds no place for the tables: give it {BEGIN} and {END}.")
    return f"{parts[1]}\n{entries_as_markdown()}{parts[2]}"


def _table(model: type[BaseModel]) -> Iterator[str]:
    words = words_of(model)
    named = {field.name: field for field in fields_of(model)}
    yield f"### `{model.model_fields['kind'].default}`"
    yield ""
    yield words.lead if words.by_hand else f"Comes of a study: {inspect.getdoc(model)}"
    yield ""
    yield "| field | called | holds |"
    yield "| --- | --- | --- |"
    for name in (*named, *(n for n in model.model_fields if n not in (*named, "kind"))):
        if name in named:
            yield _row(named[name])
        else:
            needed = "; needed" if model.model_fields[name].is_required() else ""
            yield f"| `{name}` | | {_MADE}{needed} |"
    yield ""


def _row(field: EntryField) -> str:
    holds = _HOLDS.get(field.control, "")
    if not holds:
        values = ", ".join(value or "nothing" for value, _ in field.choices)
        holds = f"some of: {values}" if field.control is Control.HAZARDS else f"one of: {values}"
    notes = [
        holds,
        "needed" if field.required else "",
        "hides the entry from a public copy" if field.words.hides is True else "",
        "false hides the entry from a public copy" if field.words.hides is False else "",
        _private(field),
    ]
    says = "; ".join(note for note in notes if note)
    text = f"{says}. {field.words.help}".rstrip() if field.words.help else says
    return f"| `{field.name}` | {field.label} | {text} |".replace("\n", " ")


def _private(field: EntryField) -> str:
    if not field.words.private:
        return ""
    if field.words.unless is None:
        return "left out of a public copy"
    other, values = field.words.unless
    return f"left out of a public copy unless `{other}` is: {', '.join(values)}"


if __name__ == "__main__":
    page = Path(sys.argv[1])
    page.write_text(rewritten(page.read_text(encoding="utf-8")), encoding="utf-8")
