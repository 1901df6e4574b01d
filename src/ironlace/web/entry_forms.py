"""The forms for entries: which fields in which words, and what comes of what was typed.

A form is data. The labels here are also the labels under which an entry is told, so that a person
reads back what they filled in.
"""

import re
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from pydantic import ValidationError

from ironlace.care.cautions import Hazard
from ironlace.evidence.edtf_dates import EdtfError
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.markings import MarkingError
from ironlace.evidence.quantities import QuantityError
from ironlace.record import Channel, Entry, EntryKind, PhotographRole, Topic, parse_entry
from ironlace.record.entries import Aim, Risk, Standing, State, Technique, Undoing
from ironlace.web.incoming import Form


class FieldKind(StrEnum):
    """What sort of thing a field takes."""

    LINE = "line"
    TEXT = "text"
    DATE = "date"
    QUANTITY = "quantity"
    MARKING = "marking"
    CHOICE = "choice"
    LINES = "lines"
    PICTURES = "pictures"
    HAZARDS = "hazards"
    TICK = "tick"
    DECIMAL = "decimal"
    GRADE = "grade"
    SOURCES = "sources"


@dataclass(frozen=True, slots=True)
class Field:
    """One field: the entry's attribute, its label, a hint, an example, its choices.

    `more` puts it among the fields that are shown on request.
    """

    name: str
    kind: FieldKind
    label: str
    hint: str = ""
    example: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    required: bool = False
    more: bool = False


@dataclass(frozen=True, slots=True)
class EntryForm:
    """The form for one kind of entry."""

    kind: EntryKind
    lead: str
    fields: tuple[Field, ...]

    @property
    def first(self) -> tuple[Field, ...]:
        """The fields always shown."""
        return tuple(field for field in self.fields if not field.more)

    @property
    def more(self) -> tuple[Field, ...]:
        """The fields shown on request."""
        return tuple(field for field in self.fields if field.more)


def _choices(words: type[StrEnum]) -> tuple[tuple[str, str], ...]:
    return tuple((word.value, word.value) for word in words)


_GRADE = Field("grade", FieldKind.GRADE, "How you know it", required=True)
_SOURCES = Field(
    "sources",
    FieldKind.SOURCES,
    "What vouches for it",
    "Point to a photograph, a document, a person, an instrument; say where in it.",
    more=True,
)
_NOTE = Field("note", FieldKind.TEXT, "Note", "Anything else, in your own words.", more=True)


_BENCH_DAY = "2031-05-04"


def _date(
    name: str, label: str, hint: str = "", *, example: str = "1893-04~", more: bool = False
) -> Field:
    return Field(name, FieldKind.DATE, label, hint, example, more=more)


def _pictures(name: str, label: str, hint: str = "", *, more: bool = False) -> Field:
    return Field(name, FieldKind.PICTURES, label, hint, more=more)


FORMS: dict[EntryKind, EntryForm] = {
    form.kind: form
    for form in (
        EntryForm(
            EntryKind.STATEMENT,
            "One thing said of what the machine is. Rival statements may stand side by side, each "
            "with its own evidence.",
            (
                Field("about", FieldKind.CHOICE, "About", choices=_choices(Topic), required=True),
                Field(
                    "says",
                    FieldKind.LINE,
                    "What is said",
                    "A date of making is written as an uncertain date: 1893, 1893-04~, 189X, "
                    "1893/1896.",
                    "transverse shuttle",
                    required=True,
                ),
                _GRADE,
                Field(
                    "claimed_by",
                    FieldKind.LINE,
                    "Claimed by",
                    "When it is somebody else's claim: a seller, a plate, a previous owner.",
                    more=True,
                ),
                _SOURCES,
                _NOTE,
            ),
        ),
        EntryForm(
            EntryKind.MARK,
            "A mark as it stands in the metal, glyph by glyph. Read it before it is cleaned; the "
            "dots and gaps may be the whole key.",
            (
                Field(
                    "reads",
                    FieldKind.MARKING,
                    "Reads",
                    "Figures and letters as struck; . a punched dot; ° a punched ring; a space is "
                    "a wide gap; ? unread; [38] a 3 or an 8; (7) a doubtful 7; {star} {cross} "
                    "{diamond} other punches.",
                    "B°93·(4)[38]2",
                    required=True,
                ),
                Field(
                    "where",
                    FieldKind.LINE,
                    "Where it stands",
                    "",
                    "slide plate, underside",
                    required=True,
                ),
                _GRADE,
                _pictures("photographs", "Photographs of it"),
                Field(
                    "technique",
                    FieldKind.CHOICE,
                    "How it was put on",
                    choices=_choices(Technique),
                    more=True,
                ),
                Field(
                    "purpose",
                    FieldKind.LINE,
                    "What it seems to be for",
                    "",
                    "serial number",
                    more=True,
                ),
                Field("height", FieldKind.LINE, "Height of the figures", "", "3.2 mm", more=True),
                _SOURCES,
                _NOTE,
            ),
        ),
        EntryForm(
            EntryKind.PHOTOGRAPH,
            "What the photograph is for, and what goes with it into print. The picture itself is "
            "never altered.",
            (
                Field(
                    "role",
                    FieldKind.CHOICE,
                    "What it is for",
                    choices=_choices(PhotographRole),
                    required=True,
                ),
                Field("caption", FieldKind.LINE, "Caption", "", "The bed from above, as found"),
                _date("date", "Taken", example=_BENCH_DAY),
                Field(
                    "published",
                    FieldKind.TICK,
                    "May be shown in print and on the site",
                    "Untick it for a picture that is for you alone.",
                ),
                Field("credit", FieldKind.LINE, "Credit", "Who took it.", more=True),
                Field("rights", FieldKind.LINE, "Rights", "", "CC BY 4.0", more=True),
                Field(
                    "scale",
                    FieldKind.LINE,
                    "Scale in it",
                    "",
                    "steel rule at the lower edge",
                    more=True,
                ),
                Field(
                    "strip",
                    FieldKind.LINE,
                    "Scale strip in it",
                    "Which printed piece lies beside the ornament.",
                    "frame",
                    more=True,
                ),
                _NOTE,
            ),
        ),
        EntryForm(
            EntryKind.PART,
            "A part: what is there, the state it is in, the risk to it (after EN 16095). Dated by "
            "itself, it tells later damage from old damage.",
            (
                Field("name", FieldKind.LINE, "Part", "", "shuttle race", required=True),
                Field("state", FieldKind.CHOICE, "State", choices=_choices(State), required=True),
                Field(
                    "damage",
                    FieldKind.TEXT,
                    "Damage seen",
                    "",
                    "rust pits on the left third, none deep",
                ),
                Field("risk", FieldKind.CHOICE, "How soon", choices=_choices(Risk)),
                _GRADE,
                _pictures("photographs", "Photographs of it"),
                Field(
                    "standing",
                    FieldKind.CHOICE,
                    "Does it belong",
                    choices=_choices(Standing),
                    more=True,
                ),
                Field("there", FieldKind.TEXT, "What is there", more=True),
                Field("material", FieldKind.LINE, "Material", "", "cast iron, japanned", more=True),
                Field("recommended", FieldKind.TEXT, "What should be done", more=True),
                _SOURCES,
                _NOTE,
            ),
        ),
        EntryForm(
            EntryKind.MEASUREMENT,
            "A reading with its unit. An error, if you know it, is worth as much as the figure.",
            (
                Field(
                    "what",
                    FieldKind.LINE,
                    "What was measured",
                    "",
                    "needle bar stroke",
                    required=True,
                ),
                Field(
                    "reads",
                    FieldKind.QUANTITY,
                    "Reading",
                    "As at the bench, mm or inches, fractions too, ± its error.",
                    "31.6 ± 0.1 mm",
                    required=True,
                ),
                Field(
                    "instrument",
                    FieldKind.LINE,
                    "With what",
                    "",
                    "vernier caliper, 0.05 mm",
                ),
                _GRADE,
                Field("part", FieldKind.LINE, "Of which part", "", "needle bar", more=True),
                _date("date", "Measured on", example=_BENCH_DAY, more=True),
                _SOURCES,
                _NOTE,
            ),
        ),
        EntryForm(
            EntryKind.TREATMENT,
            "What was done, with what, and whether it can be undone: the next owner must be able "
            "to tell your work from the factory's.",
            (
                Field(
                    "what",
                    FieldKind.LINE,
                    "What was done",
                    "",
                    "old oil softened and wiped from the shuttle race",
                    required=True,
                ),
                Field("aim", FieldKind.CHOICE, "Aim", choices=_choices(Aim), required=True),
                Field("done", FieldKind.TEXT, "How"),
                Field(
                    "materials",
                    FieldKind.LINES,
                    "Materials and tools",
                    "One a line, with what is printed on the tin.",
                    "white spirit\ncotton swabs",
                ),
                Field(
                    "undoing",
                    FieldKind.CHOICE,
                    "Can it be undone",
                    choices=_choices(Undoing),
                    required=True,
                ),
                Field(
                    "how_to_undo",
                    FieldKind.TEXT,
                    "How to undo it",
                    "Needed when it can be undone.",
                ),
                _date("date", "Done on", example=_BENCH_DAY),
                _pictures("before", "Photographs before", more=True),
                _pictures("after", "Photographs after", more=True),
                Field("parts", FieldKind.LINES, "Parts treated", "One a line.", more=True),
                Field("by", FieldKind.LINE, "Done by", more=True),
                Field(
                    "hazards",
                    FieldKind.HAZARDS,
                    "What in it could hurt someone",
                    "The cautions then stand beside the treatment, in print too.",
                    choices=_choices(Hazard),
                    more=True,
                ),
                _NOTE,
            ),
        ),
        EntryForm(
            EntryKind.PROVENANCE,
            "One step in its history of owners and places. Private unless you say otherwise.",
            (
                Field(
                    "event",
                    FieldKind.LINE,
                    "What happened",
                    "",
                    "bought at a house clearance",
                    required=True,
                ),
                _date("date", "When"),
                Field("place", FieldKind.LINE, "Where"),
                Field("who", FieldKind.LINE, "Who"),
                _GRADE,
                Field(
                    "private",
                    FieldKind.TICK,
                    "Keep it private",
                    "Left out of print and of the site, unless a private pack is asked for.",
                ),
                _SOURCES,
                _NOTE,
            ),
        ),
        EntryForm(
            EntryKind.SOURCE,
            "A document, a letter, a patent, a person: what your statements point to.",
            (
                Field("title", FieldKind.LINE, "What it is called", required=True),
                Field(
                    "sort",
                    FieldKind.CHOICE,
                    "Sort",
                    choices=tuple(
                        (w, w)
                        for w in (
                            "document",
                            "letter",
                            "patent",
                            "advertisement",
                            "person",
                            "web page",
                            "other",
                        )
                    ),
                    required=True,
                ),
                Field("where", FieldKind.TEXT, "Where it can be found"),
                _date("date", "Its date"),
                Field("private", FieldKind.TICK, "Keep it private"),
                _NOTE,
            ),
        ),
        EntryForm(
            EntryKind.REPORT,
            "Another machine's number. One number fits almost any theory; four or five confirm a "
            "theory or sink it.",
            (
                Field(
                    "name",
                    FieldKind.LINE,
                    "What you call that machine",
                    "",
                    "the one from the coast",
                    required=True,
                ),
                Field(
                    "reads",
                    FieldKind.MARKING,
                    "Its number reads",
                    "Glyph by glyph, as for your own machine: . a dot, ° a ring, ? unread, "
                    "[38] a 3 or an 8, (7) doubtful.",
                    "B°92·117",
                    required=True,
                ),
                Field("how", FieldKind.CHOICE, "How it reached you", choices=_choices(Channel)),
                _GRADE,
                Field(
                    "dated_is",
                    FieldKind.CHOICE,
                    "A date known for it is",
                    choices=(
                        ("", "none known"),
                        ("at", "its date of making"),
                        ("not before", "a date it is not older than"),
                        ("not after", "a date it was there by"),
                        ("sold", "a date of sale"),
                    ),
                    more=True,
                ),
                _date("dated", "That date", more=True),
                Field(
                    "dated_by",
                    FieldKind.LINE,
                    "Known by",
                    "",
                    "dated bill of sale",
                    more=True,
                ),
                _date("sighted", "Sighted on", example=_BENCH_DAY, more=True),
                Field("variant", FieldKind.LINE, "Variant", more=True),
                Field("place", FieldKind.LINE, "Place", more=True),
                Field(
                    "reporter",
                    FieldKind.LINE,
                    "Reported by",
                    "Left out of what is published.",
                    more=True,
                ),
                Field(
                    "same_as",
                    FieldKind.LINE,
                    "The same machine as",
                    "The name of the earlier report, when this is a second sighting; then untick "
                    "the next line.",
                    "draper’s head",
                    more=True,
                ),
                Field(
                    "counts",
                    FieldKind.TICK,
                    "Counts in the dating",
                    "Untick it to keep a report you do not trust without using it.",
                    more=True,
                ),
                _SOURCES,
                _NOTE,
            ),
        ),
        EntryForm(
            EntryKind.OUTLAY,
            "Hours worked or money spent. Left out of print unless you ask for it.",
            (
                Field("what", FieldKind.LINE, "For what", required=True),
                Field("hours", FieldKind.DECIMAL, "Hours", "", "2.5"),
                Field("cost", FieldKind.DECIMAL, "Cost", "", "14.90"),
                Field("currency", FieldKind.LINE, "Currency", "Three letters.", "EUR"),
                _date("date", "When", example=_BENCH_DAY),
                _NOTE,
            ),
        ),
        EntryForm(
            EntryKind.QUESTION,
            "Something not known yet. In print it becomes a call for what would answer it.",
            (
                Field(
                    "asks",
                    FieldKind.LINE,
                    "What is not known",
                    "",
                    "Was the tray ever gilded?",
                    required=True,
                ),
                Field("would_answer", FieldKind.TEXT, "What would answer it"),
                Field("answer", FieldKind.TEXT, "Answer, once found", more=True),
                _NOTE,
            ),
        ),
    )
}

# what is most often true, so that a form begins with it
_BEGINS: dict[EntryKind, dict[str, Any]] = {
    EntryKind.PHOTOGRAPH: {"published": True},
    EntryKind.PROVENANCE: {"private": True, "grade": "seen"},
    EntryKind.REPORT: {"counts": True, "grade": "seen", "how": "photograph seen"},
    EntryKind.MEASUREMENT: {"grade": "measured"},
    EntryKind.MARK: {"grade": "seen", "technique": "struck"},
    EntryKind.PART: {"grade": "seen", "state": "not examined", "standing": "not known"},
}


def beginning(kind: EntryKind, **given: str) -> dict[str, Any]:
    """Values with which an empty form begins."""
    return {**_BEGINS.get(kind, {}), **given}


def values_of(entry: Entry) -> dict[str, Any]:
    """Values with which a form begins that changes an entry."""
    return dict(entry.model_dump(mode="json"))


_RANGE = re.compile(r"\s*(\d{1,7})\s*(?:[-–]\s*(\d{1,7}))?\s*\Z")
_MOST_IN_RANGE = 400


def typed(form: Form, spec: EntryForm) -> dict[str, Any]:
    """What was typed into a form, in the shape of an entry's JSON (not yet proved).

    Raises FormFault when photograph numbers cannot be read.
    """
    values: dict[str, Any] = {}
    for field in spec.fields:
        match field.kind:
            case FieldKind.LINES:
                values[field.name] = [
                    line.strip() for line in form.one(field.name).splitlines() if line.strip()
                ]
            case FieldKind.HAZARDS:
                values[field.name] = form.many(field.name)
            case FieldKind.TICK:
                values[field.name] = form.one(field.name) == "yes"
            case FieldKind.DECIMAL:
                values[field.name] = form.one(field.name).replace(",", ".") or None
            case FieldKind.PICTURES:
                values[field.name] = _named_pictures(form, field)
            case FieldKind.SOURCES:
                values[field.name] = _sources(form)
            case _:
                values[field.name] = form.one(field.name)
    return values


@dataclass(frozen=True, slots=True)
class Fault:
    """Why a form cannot be used: a sentence, the field it is about if known, the status."""

    says: str
    field: str = ""
    status: int = 422


def entry_from(
    spec: EntryForm, values: dict[str, Any], standing: Entry | None = None
) -> Entry | Fault:
    """Make an entry of what was typed, over what stood; or say what is wrong with it."""
    payload: dict[str, Any] = {"kind": spec.kind.value}
    if standing is not None:
        payload = values_of(standing)
    chosen = {f.name for f in spec.fields if f.kind in (FieldKind.CHOICE, FieldKind.GRADE)}
    for name, value in values.items():
        if value == "" and name in chosen:
            payload.pop(name, None)  # nothing chosen: the entry's default, or it is missing
        else:
            payload[name] = value
    try:
        return parse_entry(payload)
    except IronlaceError as error:
        name = _field_at_fault(error, spec, values)
        says = str(error)
        label = next((field.label for field in spec.fields if field.name == name), "")
        if label:
            says = says.replace(f"'{name.replace('_', ' ')}'", f"'{label}'", 1)
        return Fault(says, name, error.http_status)


def _field_at_fault(error: IronlaceError, spec: EntryForm, values: dict[str, Any]) -> str:
    cause = error.__cause__
    if isinstance(cause, ValidationError):
        places = [str(step) for step in cause.errors(include_url=False)[0]["loc"]]
        names = {field.name for field in spec.fields}
        return next((place for place in places if place in names), "")
    kinds = {
        EdtfError: FieldKind.DATE,
        MarkingError: FieldKind.MARKING,
        QuantityError: FieldKind.QUANTITY,
    }
    kind = next((found for sort, found in kinds.items() if isinstance(error, sort)), None)
    at_fault = [field.name for field in spec.fields if field.kind is kind]
    named = [name for name in at_fault if str(values.get(name, "")).strip() in str(error)]
    if kind is FieldKind.DATE and spec.kind is EntryKind.STATEMENT:
        return "says"
    filled = [name for name in named if values.get(name)]
    return (filled or at_fault or [""])[0]


class FormFaultError(IronlaceError):
    """A field of a form cannot be read."""

    def __init__(self, says: str, field: str) -> None:
        super().__init__(says)
        self.field = field


def _named_pictures(form: Form, field: Field) -> list[str]:
    names = form.many(field.name)
    text = form.one(f"{field.name}-more")
    for piece in filter(None, (p.strip() for p in text.split(","))):
        match = _RANGE.match(piece.removeprefix("photograph").removeprefix("photographs"))
        if not match:
            raise FormFaultError(
                f"'{piece}' does not number photographs: write 12, or 40-42, parted by commas.",
                field.name,
            )
        first = int(match[1])
        last = int(match[2] or first)
        if not first <= last < first + _MOST_IN_RANGE:
            raise FormFaultError(
                f"'{piece}' runs backwards or over more than {_MOST_IN_RANGE}: check it.",
                field.name,
            )
        names += [f"photograph {number}" for number in range(first, last + 1)]
    return list(dict.fromkeys(names))


def _sources(form: Form) -> list[dict[str, Any]]:
    rows = zip(
        (v for n, v in form.fields if n == "source-kind"),
        (v for n, v in form.fields if n == "source-entry"),
        (v for n, v in form.fields if n == "source-says"),
        strict=False,
    )
    return [
        {"kind": kind, "entry": entry.strip() or None, "says": says.strip()}
        for kind, entry, says in rows
        if kind
    ]
