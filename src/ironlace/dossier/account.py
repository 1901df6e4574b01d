"""The account of a machine as plain data: what a page, printed or on a screen, has to say.

Everything here is text for people, already in words; only pictures are still files. Grades stay
grades, so that each page can show them in its own way, and names such as `photograph 12` stay
names, so that each page can link them.
"""

from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from ironlace.dossier.ink_window import InkWindow
from ironlace.dossier.plain_drawing import PlainDrawing
from ironlace.dossier.privacy import Withheld
from ironlace.evidence.grades import Grade


@dataclass(frozen=True, slots=True)
class PictureFile:
    """A viewing copy of a photograph, upright and in sRGB, and its size in pixels."""

    path: Path
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class Voucher:
    """What vouches for a statement: words, and the entry they point to ('' if none)."""

    says: str
    entry: str = ""


@dataclass(frozen=True, slots=True)
class Evidence:
    """How a statement is known."""

    grade: Grade
    vouchers: tuple[Voucher, ...] = ()


@dataclass(frozen=True, slots=True)
class Plate:
    """A photograph with all that is told of it. `picture` is None when no file is at hand."""

    name: str
    role: str
    caption: str
    date: str
    credit: str
    rights: str
    scale: str
    note: str
    picture: PictureFile | None

    @property
    def described(self) -> str:
        """What the picture shows, for someone who cannot see it."""
        what = self.caption or "no caption"
        return f"Photograph, {self.role}: {what}"

    @property
    def small_print(self) -> str:
        """Date, credit and rights in one line."""
        return " · ".join(
            part for part in (self.date, self.scale, self.credit, self.rights) if part
        )


@dataclass(frozen=True, slots=True)
class Said:
    """One statement of what the machine is."""

    name: str
    says: str
    claimed_by: str
    note: str
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class TopicTold:
    """All that is said on one topic. `rivals` when the statements cannot all be true."""

    topic: str
    statements: tuple[Said, ...]
    rivals: bool


@dataclass(frozen=True, slots=True)
class GlyphCell:
    """One glyph for showing: the signs it may be, a word under it, whether it is doubtful."""

    signs: tuple[str, ...]
    under: str
    doubtful: bool
    gap: bool


@dataclass(frozen=True, slots=True)
class MarkTold:
    """A mark, glyph by glyph."""

    name: str
    reads: str
    spoken: str
    glyphs: tuple[GlyphCell, ...]
    where: str
    technique: str
    purpose: str
    height: str
    note: str
    photographs: tuple[str, ...]
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class Span:
    """An interval of time on a scale of whole years; ends are shares of the scale, None if open."""

    first_year: int
    last_year: int
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Worked:
    """A finding: what was worked out, how, and from what."""

    name: str
    about: str
    value: str
    details: tuple[tuple[str, str], ...]
    interval: str
    sentence: str
    method: str
    published: str
    parameters: tuple[tuple[str, str], ...]
    inputs: tuple[tuple[str, str], ...]
    version: str
    fingerprint: str
    note: str
    grade: Grade
    span: Span | None = None


@dataclass(frozen=True, slots=True)
class PartTold:
    """A part and the state it is in."""

    name: str
    part: str
    there: str
    material: str
    standing: str
    state: str
    damage: str
    risk: str
    urgent: bool
    recommended: str
    note: str
    photographs: tuple[str, ...]
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class Reading:
    """A measurement, told in both units when it is a length."""

    name: str
    what: str
    part: str
    as_read: str
    mm: str
    inches: str
    read_in_inches: bool
    instrument: str
    date: str
    note: str
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class CautionTold:
    """A caution, and what it rests on."""

    hazard: str
    says: str
    founded_on: str


@dataclass(frozen=True, slots=True)
class TreatmentTold:
    """A treatment, and how to take it back."""

    name: str
    what: str
    date: str
    aim: str
    by: str
    parts: tuple[str, ...]
    done: str
    materials: tuple[str, ...]
    undoing: str
    how_to_undo: str
    before: tuple[str, ...]
    after: tuple[str, ...]
    cautions: tuple[CautionTold, ...]
    note: str


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the machine's history of ownership."""

    name: str
    event: str
    date: str
    place: str
    who: str
    note: str
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class ReportTold:
    """Another machine's mark, as it was reported."""

    name: str
    label: str
    reads: str
    how: str
    sighted: str
    dated: str
    dated_by: str
    variant: str
    place: str
    reporter: str
    counts: bool
    note: str
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class DrawingTold:
    """A drawing in mm. `drawing` and `ink` are None when its file is not at hand."""

    name: str
    title: str
    width_mm: float
    height_mm: float
    photographs: tuple[str, ...]
    note: str
    evidence: Evidence
    worked: Worked
    drawing: PlainDrawing | None
    ink: InkWindow | None

    @property
    def size(self) -> str:
        """The size of what is drawn, in words."""
        return self.ink.size if self.ink else f"{self.width_mm:.1f} × {self.height_mm:.1f} mm"


@dataclass(frozen=True, slots=True)
class OutlayTold:
    """Hours or money."""

    name: str
    what: str
    date: str
    hours: str
    cost: str
    note: str


@dataclass(frozen=True, slots=True)
class OutlaySums:
    """All hours, and the money by currency."""

    hours: str
    costs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Asked:
    """A question. `answer` is empty while it is open."""

    name: str
    asks: str
    would_answer: str
    answer: str
    note: str


@dataclass(frozen=True, slots=True)
class SourceTold:
    """A document or person, and the entries that rest on it."""

    name: str
    title: str
    sort: str
    where: str
    date: str
    note: str
    vouches_for: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Colophon:
    """How this account came about, for whoever wants to check it."""

    as_of: datetime | None
    changes: int
    last_change: datetime | None
    version: str
    findings: int
    fingerprint: str
    withheld: Withheld
    private: bool


@dataclass(frozen=True, slots=True)
class Account:
    """The whole account of one machine; see `ironlace.dossier.record_to_account.account_of`."""

    slug: str
    title: str
    summary: tuple[tuple[str, str, Grade], ...]
    topics: tuple[TopicTold, ...]
    marks: tuple[MarkTold, ...]
    dates: tuple[Worked, ...]
    findings: tuple[Worked, ...]
    reports: tuple[ReportTold, ...]
    parts: tuple[PartTold, ...]
    readings: tuple[Reading, ...]
    drawings: tuple[DrawingTold, ...]
    treatments: tuple[TreatmentTold, ...]
    steps: tuple[Step, ...]
    outlays: tuple[OutlayTold, ...]
    outlay_sums: OutlaySums | None
    questions: tuple[Asked, ...]
    sources: tuple[SourceTold, ...]
    plates: tuple[Plate, ...]
    lead: str
    colophon: Colophon
    document: dict[str, Any] = field(repr=False)

    @property
    def plates_by_name(self) -> dict[str, Plate]:
        """Photographs by their name."""
        return {plate.name: plate for plate in self.plates}
