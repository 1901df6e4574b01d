"""The kinds of entry a record holds.

Condition follows the framework of EN 16095:2012 (what is there, its state, the risk to it); kinds
of treatment follow the ICOM-CC resolution of 2008 (preventive, remedial, restoration). The words of
the choices below are ours; neither text prescribes codes.
"""

from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Any, Literal, Self

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    TypeAdapter,
    ValidationError,
    ValidationInfo,
    model_validator,
)

from ironlace.care.cautions import Hazard
from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.findings import Finding, Sha256
from ironlace.evidence.grades import Grade
from ironlace.evidence.markings import Marking, parse_marking
from ironlace.evidence.quantities import Measured, parse_measured
from ironlace.evidence.sources import Source

_KEPT: dict[str, bool] = {"kept": True}


class EntryError(IronlaceError):
    """An entry lacks something, or holds something that cannot be read."""


def _empty_as_none(value: Any) -> Any:
    return None if isinstance(value, str) and not value.strip() else value


def _edtf(text: str, info: ValidationInfo) -> str:
    return text if info.context is _KEPT else EdtfDate.parse(text).text


def _marking(text: str, info: ValidationInfo) -> str:
    return text if info.context is _KEPT else str(parse_marking(text))


def _measured(text: str, info: ValidationInfo) -> str:
    if info.context is _KEPT:
        return text
    parse_measured(text)
    return " ".join(text.split())


Line = Annotated[str, Field(min_length=1, max_length=300)]
MaybeLine = Annotated[str, Field(max_length=300)]
Text = Annotated[str, Field(max_length=20_000)]
EdtfText = Annotated[str, AfterValidator(_edtf)]
MaybeDate = Annotated[EdtfText | None, BeforeValidator(_empty_as_none)]
Reference = Annotated[str, Field(pattern=r"^[a-z]+ [0-9]+$")]


class EntryKind(StrEnum):
    """The name of each kind of entry, in the order of the job."""

    STATEMENT = "statement"
    MARK = "mark"
    PHOTOGRAPH = "photograph"
    PART = "part"
    MEASUREMENT = "measurement"
    TREATMENT = "treatment"
    PROVENANCE = "provenance"
    SOURCE = "source"
    REPORT = "report"
    FINDING = "finding"
    DRAWING = "drawing"
    OUTLAY = "outlay"
    QUESTION = "question"


class _Entry(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True)

    note: Text = ""


class _Graded(_Entry):
    """An entry that states something, and so carries its evidence."""

    grade: Grade
    sources: tuple[Source, ...] = ()


class Topic(StrEnum):
    """What a statement of identity is about."""

    KIND = "kind of machine"
    MAKER = "maker"
    MODEL = "model"
    NAME = "name on the machine"
    PLACE = "place of making"
    MADE = "date of making"
    NUMBER_MADE = "number made"
    STITCH = "kind of stitch"
    SHUTTLE = "kind of shuttle"
    NEEDLE = "needle"
    DRIVE = "drive"
    FINISH = "finish and ornament"
    OTHER = "other"


class Statement(_Graded):
    """One thing said of what the machine is. Rival statements may stand side by side."""

    kind: Literal["statement"] = "statement"
    about: Topic
    says: Line
    claimed_by: MaybeLine = ""

    @model_validator(mode="after")
    def _date_reads(self) -> Self:
        if self.about is Topic.MADE:
            EdtfDate.parse(self.says)
        return self


class Technique(StrEnum):
    """How a mark was put on."""

    STRUCK = "struck"
    PUNCHED = "punched"
    CAST = "cast"
    ENGRAVED = "engraved"
    PAINTED = "painted or transferred"
    SCRATCHED = "scratched"


class Mark(_Graded):
    """A mark as it stands, glyph by glyph; see `ironlace.evidence.markings` for the notation."""

    kind: Literal["mark"] = "mark"
    reads: Annotated[str, AfterValidator(_marking)]
    where: Line
    technique: Technique = Technique.STRUCK
    purpose: MaybeLine = ""
    height: MaybeLine = ""
    photographs: tuple[Reference, ...] = ()

    @property
    def marking(self) -> Marking:
        """The reading, glyph by glyph."""
        return parse_marking(self.reads)


class Standing(StrEnum):
    """Whether a part belongs to the machine."""

    ORIGINAL = "original"
    REPLACEMENT = "replacement"
    ADDITION = "addition"
    UNKNOWN = "not known"
    MISSING = "missing"


class State(StrEnum):
    """The state a part is in."""

    SOUND = "sound"
    WORN = "worn but serviceable"
    DAMAGED = "damaged"
    UNSTABLE = "getting worse"
    UNKNOWN = "not examined"


class Risk(StrEnum):
    """How soon something must be done for a part."""

    NONE = "none foreseen"
    WATCH = "watch it"
    SOON = "treat before use"
    NOW = "act now"


class Part(_Graded):
    """A part: what is there, the state it is in, and the risk to it (EN 16095:2012)."""

    kind: Literal["part"] = "part"
    name: Line
    there: Text = ""
    material: MaybeLine = ""
    standing: Standing = Standing.UNKNOWN
    state: State = State.UNKNOWN
    damage: Text = ""
    risk: Risk = Risk.NONE
    recommended: Text = ""
    photographs: tuple[Reference, ...] = ()


class Measurement(_Graded):
    """A reading taken from the machine, with its unit and, if known, its error."""

    kind: Literal["measurement"] = "measurement"
    what: Line
    part: MaybeLine = ""
    reads: Annotated[str, Field(max_length=120), AfterValidator(_measured)]
    instrument: MaybeLine = ""
    date: MaybeDate = None

    @property
    def measured(self) -> Measured:
        """The reading as a quantity."""
        return parse_measured(self.reads)


class Aim(StrEnum):
    """The aim of a treatment (ICOM-CC 2008), and what is not conservation but must be told."""

    PREVENTIVE = "preventive conservation"
    REMEDIAL = "remedial conservation"
    RESTORATION = "restoration"
    MECHANICAL = "setting and repair of the mechanism"
    EXAMINATION = "examination"
    FITTING = "fitting added"


class Undoing(StrEnum):
    """Whether a treatment can be undone."""

    FULLY = "can be undone"
    EFFORT = "can be undone with effort"
    NOT = "cannot be undone"
    NOTHING = "nothing to undo"


class Treatment(_Entry):
    """What was done, with what, to which parts, and whether it can be undone."""

    kind: Literal["treatment"] = "treatment"
    what: Line
    parts: tuple[Line, ...] = ()
    aim: Aim
    done: Text = ""
    materials: tuple[Line, ...] = ()
    undoing: Undoing
    how_to_undo: Text = ""
    date: MaybeDate = None
    by: MaybeLine = ""
    before: tuple[Reference, ...] = ()
    after: tuple[Reference, ...] = ()
    hazards: tuple[Hazard, ...] = ()

    @model_validator(mode="after")
    def _says_how(self) -> Self:
        if self.undoing in (Undoing.FULLY, Undoing.EFFORT) and not self.how_to_undo:
            raise ValueError("a treatment that can be undone says how: fill in how to undo it")
        return self


class Provenance(_Graded):
    """One step in the machine's history of ownership and place."""

    kind: Literal["provenance"] = "provenance"
    event: Line
    date: MaybeDate = None
    place: MaybeLine = ""
    who: MaybeLine = ""
    private: bool = True


class SourceEntry(_Entry):
    """A document, letter, patent, advertisement or person that statements point to."""

    kind: Literal["source"] = "source"
    title: Line
    sort: Literal["document", "letter", "patent", "advertisement", "person", "web page", "other"]
    where: Text = ""
    date: MaybeDate = None
    private: bool = False


class PhotographRole(StrEnum):
    """What a photograph is for."""

    AS_FOUND = "as found"
    WHOLE = "whole machine"
    MARK = "mark"
    ORNAMENT = "ornament"
    PART = "part"
    BEFORE = "before treatment"
    AFTER = "after treatment"
    STITCH = "stitch-out"
    DOCUMENT = "document"


class Photograph(_Entry):
    """A photograph in the store, and what it is for."""

    kind: Literal["photograph"] = "photograph"
    sha256: Sha256
    role: PhotographRole
    caption: MaybeLine = ""
    date: MaybeDate = None
    rights: MaybeLine = ""
    credit: MaybeLine = ""
    scale: MaybeLine = ""
    strip: MaybeLine = ""
    published: bool = True


class Channel(StrEnum):
    """How a report of another machine reached us."""

    PHOTOGRAPH = "photograph seen"
    TOLD = "told"
    LISTING = "listing"
    HANDLED = "handled"


class ReportEntry(_Graded):
    """A report of another machine's mark: the evidence by which a numbering is read.

    `same_as` names the earlier report of the same machine; a second sighting does not count as
    another machine, but it tells how many survive.
    """

    kind: Literal["report"] = "report"
    name: Line
    reads: Annotated[str, AfterValidator(_marking)]
    how: Channel = Channel.PHOTOGRAPH
    sighted: MaybeDate = None
    dated: MaybeDate = None
    dated_by: MaybeLine = ""
    dated_is: Literal["", "at", "not before", "not after", "sold"] = ""
    variant: MaybeLine = ""
    place: MaybeLine = ""
    reporter: MaybeLine = ""
    same_as: MaybeLine = ""
    counts: bool = True


class FindingEntry(_Entry):
    """A computed result, kept with all that is needed to compute it again."""

    kind: Literal["finding"] = "finding"
    finding: Finding


class DrawingEntry(_Graded):
    """A drawing of ornament traced from photographs, in mm, with its grades in it."""

    kind: Literal["drawing"] = "drawing"
    name: Line
    svg: Sha256
    width_mm: Annotated[float, Field(gt=0)]
    height_mm: Annotated[float, Field(gt=0)]
    photographs: tuple[Reference, ...] = ()
    finding: Finding


class Outlay(_Entry):
    """Hours worked or money spent."""

    kind: Literal["outlay"] = "outlay"
    what: Line
    date: MaybeDate = None
    hours: Annotated[Decimal, Field(ge=0, max_digits=8, decimal_places=2)] | None = None
    cost: Annotated[Decimal, Field(ge=0, max_digits=12, decimal_places=2)] | None = None
    currency: Annotated[str, Field(pattern=r"^([A-Z]{3})?$")] = ""

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if self.hours is None and self.cost is None:
            raise ValueError("an outlay needs hours, a cost or both")
        if self.cost is not None and not self.currency:
            raise ValueError("a cost needs its currency: three letters of ISO 4217, such as EUR")
        return self


class Question(_Entry):
    """Something not known yet, and what would answer it."""

    kind: Literal["question"] = "question"
    asks: Line
    would_answer: Text = ""
    answer: Text = ""


Entry = Annotated[
    Statement
    | Mark
    | Photograph
    | Part
    | Measurement
    | Treatment
    | Provenance
    | SourceEntry
    | ReportEntry
    | FindingEntry
    | DrawingEntry
    | Outlay
    | Question,
    Field(discriminator="kind"),
]

ENTRY_KINDS: dict[EntryKind, type[BaseModel]] = {
    EntryKind.STATEMENT: Statement,
    EntryKind.MARK: Mark,
    EntryKind.PHOTOGRAPH: Photograph,
    EntryKind.PART: Part,
    EntryKind.MEASUREMENT: Measurement,
    EntryKind.TREATMENT: Treatment,
    EntryKind.PROVENANCE: Provenance,
    EntryKind.SOURCE: SourceEntry,
    EntryKind.REPORT: ReportEntry,
    EntryKind.FINDING: FindingEntry,
    EntryKind.DRAWING: DrawingEntry,
    EntryKind.OUTLAY: Outlay,
    EntryKind.QUESTION: Question,
}

_ADAPTER: TypeAdapter[Entry] = TypeAdapter(Entry)


def parse_entry(payload: dict[str, Any]) -> Entry:
    """Make an entry of its JSON form.

    Raises
    ------
    EntryError
        One sentence naming the field and what is wrong with it.

    >>> parse_entry({"kind": "question", "asks": "Who made it?"}).asks
    'Who made it?'
    """
    try:
        return _ADAPTER.validate_python(payload)
    except ValidationError as error:
        raise EntryError(in_one_sentence(error)) from error


def kept_entry(payload: dict[str, Any]) -> Entry:
    """Make an entry of JSON that this program has kept.

    Its shape is checked; dates, marks and quantities were read before it was kept, and reading
    them again would treble the time that a large record takes to open. `ironlace check` does.
    """
    return _ADAPTER.validate_python(payload, context=_KEPT)


def in_one_sentence(error: ValidationError) -> str:
    """Turn the first fault that pydantic found into a sentence for a person."""
    fault = error.errors(include_url=False)[0]
    place = [str(step) for step in fault["loc"] if str(step) not in set(EntryKind)]
    field = " ".join(place).replace("_", " ") or "the entry"
    message = fault["msg"].removeprefix("Value error, ")
    if fault["type"] == "missing":
        return f"'{field}' is missing: fill it in."
    if fault["type"] == "union_tag_invalid":
        return f"There is no entry of that kind: use one of {', '.join(EntryKind)}."
    if fault["type"] == "union_tag_not_found":
        return f"The entry does not say its kind: use one of {', '.join(EntryKind)}."
    if fault["type"] == "string_too_short":
        return f"'{field}' is empty: fill it in."
    return f"'{field}': {message[:1].lower() + message[1:]}".rstrip(".") + "."
