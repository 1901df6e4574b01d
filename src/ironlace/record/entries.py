"""The kinds of entry a record holds, each field with its words beside it.

A kind added here and in the manual is complete: form, page, account and privacy follow from its
declaration.
"""

import re
from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Any, Literal, get_args

from pydantic import (
    BaseModel,
    Field,
    TypeAdapter,
    ValidationError,
    ValidationInfo,
    field_validator,
    model_validator,
)

from ironlace.evidence.edtf_dates import date_in_words
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.findings import Finding, Sha256
from ironlace.evidence.grades import Grade
from ironlace.evidence.markings import Marking, parse_marking
from ironlace.evidence.quantities import Measured, parse_measured
from ironlace.evidence.sources import Source
from ironlace.evidence.wording import counted
from ironlace.evidence.written_dates import read_date
from ironlace.record.choices import (
    STEPS,
    Aim,
    Allowed,
    Channel,
    Naming,
    PhotographRole,
    Risk,
    Stage,
    Standing,
    State,
    Technique,
    Topic,
    Undoing,
    Verdict,
)
from ironlace.record.entry_fields import Control, InAccount, KindWords, Words, fields_of
from ironlace.record.entry_types import (
    KEPT,
    Currency,
    EdtfText,
    EntryModel,
    GradedEntry,
    Hazards,
    HowKnown,
    Line,
    Lines,
    MarkingText,
    MaybeDate,
    MaybeHours,
    MaybeLine,
    MaybeMoney,
    OtherReadings,
    Pictures,
    Reading,
    Readings,
    Strings,
    Text,
    Worth,
)
from ironlace.record.other_readings import struck_figure, written_anew
from ironlace.record.threaded import ThreadedPicture, ThreadedPoint, plan_of
from ironlace.record.values_in_words import value_in_words
from ironlace.running.threading.plan import ThreadingPlan
from ironlace.running.trials.trials_weighed import CHANGED


class EntryError(IronlaceError):
    """An entry lacks something, or holds something that cannot be read."""


_BENCH_DAY = "4 May 2024"
_EIGHTHS = re.compile(r"[-−]?\d{1,3}(?:[.,]\d{1,2})?")
_OLD_DAY = "about April 1893"


class EntryKind(StrEnum):
    """The name of each kind of entry, in the order of the job."""

    STATEMENT = "statement"
    MARK = "mark"
    LETTERING = "lettering"
    PHOTOGRAPH = "photograph"
    PART = "part"
    MEASUREMENT = "measurement"
    READINGS = "readings"
    TREATMENT = "treatment"
    PROVENANCE = "provenance"
    SOURCE = "source"
    REPORT = "report"
    FINDING = "finding"
    DRAWING = "drawing"
    OUTLAY = "outlay"
    RATE = "rate"
    QUESTION = "question"
    THREADING = "threading"
    TRIAL = "trial"
    SENT = "sent"


class Statement(GradedEntry):
    """One thing said of what the machine is. Rival statements may stand side by side."""

    words = KindWords(
        "statement",
        "statements",
        "One thing said of what the machine is. Rival statements may stand side by side, each "
        "with its own evidence.",
        section="what-it-is",
        title="What it is",
    )

    kind: Literal["statement"] = "statement"
    about: Annotated[Topic, Words("About", account=InAccount.NOWHERE)]
    says: Annotated[
        Line,
        Words(
            "What is said",
            "A date of making as far as it is known: 1893, about 1893, April 1893, before 1896.",
            "transverse shuttle",
            account=InAccount.SAYS,
        ),
    ]
    grade: HowKnown
    claimed_by: Annotated[
        MaybeLine,
        Words(
            "Claimed by",
            "When it is somebody else's claim: a seller, a plate, a previous owner.",
            more=True,
            account=InAccount.LINE,
            phrase="claimed by {}",
        ),
    ] = ""

    @field_validator("says")
    @classmethod
    def _date_reads(cls, says: str, info: ValidationInfo) -> str:
        if info.data.get("about") is not Topic.MADE or info.context is KEPT:
            return says
        return read_date(says).text

    def says_in_words(self, *, with_edtf: bool = False) -> str:
        """What is said; a date of making as a person says it."""
        if self.about is Topic.MADE:
            return date_in_words(self.says, with_edtf=with_edtf)
        return self.says

    def in_brief(self) -> str:
        """Topic and what is said of it."""
        return f"{self.about.value}: {self.says_in_words(with_edtf=True)}"


def _marks_read_otherwise(lines: tuple[str, ...], info: ValidationInfo) -> tuple[str, ...]:
    return _read_otherwise(written_anew, lines, info)


def _figures_struck_out(lines: tuple[str, ...], info: ValidationInfo) -> tuple[str, ...]:
    return _read_otherwise(struck_figure, lines, info)


def _read_otherwise(
    write: Callable[[str, str], str], lines: tuple[str, ...], info: ValidationInfo
) -> tuple[str, ...]:
    if info.context is KEPT:
        return lines
    try:
        return tuple(write(line, info.data.get("reads", "")) for line in lines)
    except IronlaceError as error:
        raise ValueError(str(error)) from error


_STRINGS = Words(
    "Its strings, each with its chance",
    "Where a reading tells several: each string and its chance by the reading alone, what they "
    "leave to 1 is for all others. The survey then weighs these in place of the doubts above; "
    "empty it once the number is read for sure.",
    "B°93·432 0.7; B°93·482 0.2",
    more=True,
    account=InAccount.NOWHERE,
)


_OTHER_READINGS = Words(
    "Other readings of it",
    "One a line: the reading, a colon, who read it; where it was given up, those words and why. "
    "They are shown beside, struck out where given up, and nothing is computed from them.",
    "B°93·482: under another lamp\nB°93·432: R. Bell, given up: a burr was taken for the 3",
    more=True,
)


class Mark(GradedEntry):
    """A mark as it stands, glyph by glyph; see `ironlace.evidence.markings` for the notation."""

    words = KindWords(
        "mark",
        "marks",
        "A mark as it stands in the metal, glyph by glyph. Read it before it is cleaned; the "
        "dots and gaps may be the whole key.",
        section="marks",
        title="The marks",
        opening="Each mark is given glyph by glyph as it stands in the metal; dots, rings and "
        "gaps are part of it.",
    )

    kind: Literal["mark"] = "mark"
    reads: Annotated[
        MarkingText,
        Words(
            "Reads",
            "Figures and letters as struck; . a punched dot; ° a punched ring; a space is a wide "
            "gap; ? unread; [38] a 3 or an 8; (7) a doubtful 7; {star} {cross} {diamond} other "
            "punches.",
            "B°93·(4)[38]2",
            account=InAccount.NOWHERE,
        ),
    ]
    where: Annotated[
        Line, Words("Where it stands", example="slide plate, underside", account=InAccount.HEADING)
    ]
    grade: HowKnown
    photographs: Annotated[Pictures, Words("Photographs of it", account=InAccount.PLATES)] = ()
    technique: Annotated[
        Technique,
        Words(
            "How it was put on",
            more=True,
            account=InAccount.LINE,
            kept_without=Technique.STRUCK.value,
        ),
    ] = Technique.UNSAID
    purpose: Annotated[
        MaybeLine,
        Words(
            "What it seems to be for", example="serial number", more=True, account=InAccount.LINE
        ),
    ] = ""
    height: Annotated[
        MaybeLine,
        Words(
            "Height of the figures",
            example="3.2 mm",
            more=True,
            account=InAccount.LINE,
            phrase="height {}",
        ),
    ] = ""
    read_by: Annotated[
        MaybeLine,
        Words("Read by", more=True, account=InAccount.LINE, phrase="read by {}"),
    ] = ""
    other_readings: Annotated[OtherReadings, _OTHER_READINGS] = ()
    strings: Annotated[Strings, _STRINGS] = ""

    _other_readings_read = field_validator("other_readings")(_marks_read_otherwise)

    @property
    def marking(self) -> Marking:
        """The reading, glyph by glyph."""
        return parse_marking(self.reads)


class Lettering(GradedEntry):
    """Words on the machine, such as those of a badge, as they stand; never read as a number."""

    words = KindWords(
        "lettering",
        "lettering",
        "Words on a badge, a plate or a decal, with their commas and full points. A number that "
        "may be a serial number is kept as a mark instead.",
        section="marks",
        title="The marks",
    )

    kind: Literal["lettering"] = "lettering"
    says: Annotated[
        Text,
        Field(min_length=1),
        Words(
            "What it says",
            "As it stands, line by line, capitals and stops too.",
            "THE LITTLE WONDER,\nPat. Aug. 4, 1868.",
            account=InAccount.SAYS,
        ),
    ]
    where: Annotated[
        Line, Words("Where it stands", example="badge on the pillar", account=InAccount.HEADING)
    ]
    grade: HowKnown
    photographs: Annotated[Pictures, Words("Photographs of it", account=InAccount.PLATES)] = ()
    technique: Annotated[
        Technique, Words("How it was put on", more=True, account=InAccount.LINE)
    ] = Technique.UNSAID
    unread: Annotated[
        Text, Words("What of it cannot be read", example="a third line, worn away", more=True)
    ] = ""

    def in_brief(self) -> str:
        """What it says, in one line, and where."""
        return f"{' / '.join(self.says.split(chr(10)))} ({self.where})"


class Part(GradedEntry):
    """A part: what is there, the state it is in, and the risk to it (EN 16095:2012)."""

    words = KindWords(
        "part",
        "parts",
        "A part: what is there, the state it is in, the risk to it (after EN 16095). Dated by "
        "itself, it tells later damage from old damage.",
        section="condition",
        title="Its condition",
        opening="What is there, the state it is in and the risk to it, part by part (after EN "
        "16095).",
    )

    kind: Literal["part"] = "part"
    name: Annotated[Line, Words("Part", example="shuttle race", account=InAccount.HEADING)]
    state: Annotated[State, Words("State", needed=True, account=InAccount.LINE)] = State.UNKNOWN
    damage: Annotated[
        Text, Words("Damage seen", example="rust pits on the left third, none deep")
    ] = ""
    risk: Annotated[
        Risk,
        Words(
            "How soon",
            "How soon something must be done for it.",
            account=InAccount.LINE,
            urgent="act now",
            kept_without=Risk.NONE.value,
        ),
    ] = Risk.UNJUDGED
    grade: HowKnown
    photographs: Annotated[Pictures, Words("Photographs of it")] = ()
    standing: Annotated[Standing, Words("Does it belong", more=True, account=InAccount.LINE)] = (
        Standing.UNKNOWN
    )
    there: Annotated[Text, Words("What is there", more=True, account=InAccount.MATTER)] = ""
    material: Annotated[
        MaybeLine,
        Words("Material", example="cast iron, japanned", more=True, account=InAccount.HEADING),
    ] = ""
    recommended: Annotated[Text, Words("What should be done", more=True)] = ""

    def in_brief(self) -> str:
        """Its name and state."""
        return f"{self.name}: {self.state.value}"


class Measurement(GradedEntry):
    """A reading taken from the machine, with its unit and, if known, its error."""

    words = KindWords(
        "measurement",
        "measurements",
        "A reading with its unit. An error, if you know it, is worth as much as the figure.",
        section="measurements",
        title="Measurements",
        opening="A length that was read in the other unit stands in italics.",
    )

    kind: Literal["measurement"] = "measurement"
    what: Annotated[
        Line, Words("What was measured", example="needle bar stroke", account=InAccount.HEADING)
    ]
    reads: Annotated[
        Reading,
        Words(
            "Reading",
            "As at the bench, mm or inches, fractions too, ± its error.",
            "31.6 ± 0.1 mm",
        ),
    ]
    instrument: Annotated[MaybeLine, Words("With what", example="vernier caliper, 0.05 mm")] = ""
    grade: HowKnown
    part: Annotated[MaybeLine, Words("Of which part", example="needle bar", more=True)] = ""
    date: Annotated[MaybeDate, Words("Measured on", example=_BENCH_DAY, more=True)] = None
    struck: Annotated[
        OtherReadings,
        Words(
            "Misread figures, struck out",
            "One a line: what was read, a colon, who read it if it matters, 'given up' and why it "
            "is wrong. The reading above is the right one.",
            "31.9 mm: R. Bell, given up: read from the wrong edge of the vernier",
            more=True,
        ),
    ] = ()

    _struck_reads = field_validator("struck")(_figures_struck_out)

    @property
    def measured(self) -> Measured:
        """The reading as a quantity."""
        return parse_measured(self.reads)

    def in_brief(self) -> str:
        """What was measured, and its reading in both units."""
        return f"{self.what}: {self.measured.both_ways()}"


class ReadingsEntry(GradedEntry):
    """A table of readings: motion by wheel angle, pulls, weighings, points of an outline."""

    words = KindWords(
        "table of readings",
        "tables of readings",
        "Readings that belong together, as a table: motion by wheel angle, tension against the "
        "dial, pulls, weighings, points of an outline.",
        section="measurements",
        title="Measurements",
    )

    kind: Literal["readings"] = "readings"
    what: Annotated[
        Line,
        Words(
            "What was read",
            example="height of the needle bar by the angle of the wheel",
            account=InAccount.HEADING,
        ),
    ]
    table: Annotated[
        Readings,
        Words(
            "The readings",
            "The first line names the columns, each with its unit in square brackets if it has "
            "one; leave a gap empty.",
            "angle [deg]; height [mm]\n0; 12.50\n10; 12.95\n20;",
        ),
    ]
    grade: HowKnown
    conditions: Annotated[
        Text, Words("Conditions", example="foot down, no thread, wheel turned forward by hand")
    ] = ""
    by: Annotated[MaybeLine, Words("Read by", account=InAccount.MARGIN, phrase="read by {}")] = ""
    date: Annotated[MaybeDate, Words("Read on", example=_BENCH_DAY, account=InAccount.MARGIN)] = (
        None
    )
    part: Annotated[MaybeLine, Words("Of which part", example="needle bar", more=True)] = ""
    photographs: Annotated[Pictures, Words("Photographs of it", more=True)] = ()

    def in_brief(self) -> str:
        """What was read, and how much of it."""
        return f"{self.what}: {self.table.in_words()}"


class Treatment(EntryModel):
    """What was done, with what, to which parts, and whether it can be undone."""

    words = KindWords(
        "treatment",
        "treatments",
        "What was done or is intended, with what, and whether it can be undone: the next owner "
        "must be able to tell your work from the factory's.",
        section="treatments",
        title="What was done to it",
    )

    kind: Literal["treatment"] = "treatment"
    what: Annotated[
        Line,
        Words(
            "What the work is",
            example="old oil softened and wiped from the shuttle race",
            account=InAccount.HEADING,
        ),
    ]
    stage: Annotated[
        Stage,
        Words(
            "Done or intended",
            "What is intended does not count as done; change it here on the day it is done.",
            needed=True,
            unchosen=True,
            account=InAccount.NOWHERE,
        ),
    ] = Stage.DONE
    aim: Annotated[Aim, Words("Aim", account=InAccount.MARGIN)]
    done: Annotated[Text, Words("How", account=InAccount.MATTER)] = ""
    materials: Annotated[
        Lines,
        Words(
            "Materials and tools",
            "One a line, with what is printed on the tin.",
            "white spirit\ncotton swabs",
        ),
    ] = ()
    undoing: Annotated[Undoing, Words("Can it be undone", account=InAccount.SET_OFF)]
    how_to_undo: Annotated[
        Text,
        Field(validate_default=True),
        Words("How to undo it", "Needed when it can be undone.", account=InAccount.SET_OFF),
    ] = ""
    date: Annotated[
        MaybeDate, Words("Done on, or meant for", example=_BENCH_DAY, account=InAccount.MARGIN)
    ] = None
    before: Annotated[
        Pictures, Words("Photographs before", more=True, account=InAccount.PLATES, phrase="before")
    ] = ()
    after: Annotated[
        Pictures, Words("Photographs after", more=True, account=InAccount.PLATES, phrase="after")
    ] = ()
    parts: Annotated[
        Lines,
        Words("Parts treated", "One a line.", more=True, account=InAccount.MARGIN, phrase="on {}"),
    ] = ()
    by: Annotated[
        MaybeLine, Words("By whom", more=True, account=InAccount.MARGIN, phrase="by {}")
    ] = ""
    hazards: Annotated[
        Hazards,
        Words(
            "What in it could hurt someone",
            "The cautions then stand beside the treatment, in print too.",
            more=True,
        ),
    ] = ()

    @field_validator("how_to_undo")
    @classmethod
    def _says_how(cls, how: str, info: ValidationInfo) -> str:
        if not how and info.data.get("undoing") in (Undoing.FULLY, Undoing.EFFORT):
            raise ValueError("a treatment that can be undone says how to undo it: fill it in")
        return how

    def in_brief(self) -> str:
        """What the work is; of what is not done, that it is intended."""
        return f"intended: {self.what}" if self.stage is Stage.INTENDED else self.what


class Provenance(GradedEntry):
    """One step in the machine's history of ownership and place."""

    words = KindWords(
        "step of provenance",
        "steps of provenance",
        "One step in its history of owners and places. Private unless you say otherwise.",
        section="provenance",
        title="Where it has been",
    )

    kind: Literal["provenance"] = "provenance"
    event: Annotated[
        Line, Words("What happened", example="bought at a house clearance", account=InAccount.SAYS)
    ]
    date: Annotated[MaybeDate, Words("When", example=_OLD_DAY, account=InAccount.LINE)] = None
    place: Annotated[MaybeLine, Words("Where", account=InAccount.LINE)] = ""
    who: Annotated[MaybeLine, Words("Who", account=InAccount.LINE)] = ""
    grade: HowKnown
    private: Annotated[
        bool,
        Words(
            "Keep it private",
            "Left out of print and of the site, unless a private pack is asked for.",
            hides=True,
            account=InAccount.NOWHERE,
        ),
    ] = True


class SourceEntry(EntryModel):
    """A document, letter, patent, advertisement or person that statements point to."""

    words = KindWords(
        "source",
        "sources",
        "A document, a letter, a patent, a person: what your statements point to.",
        section="sources",
        title="Sources",
    )

    kind: Literal["source"] = "source"
    title: Annotated[Line, Words("What it is called", account=InAccount.SAYS)]
    sort: Annotated[
        Literal["document", "letter", "patent", "advertisement", "person", "web page", "other"],
        Words("Sort", account=InAccount.LINE),
    ]
    where: Annotated[Text, Words("Where it can be found", account=InAccount.MATTER)] = ""
    date: Annotated[MaybeDate, Words("Its date", example=_OLD_DAY, account=InAccount.LINE)] = None
    private: Annotated[bool, Words("Keep it private", hides=True, account=InAccount.NOWHERE)] = (
        False
    )


class Photograph(EntryModel):
    """A photograph in the store, and what it is for."""

    words = KindWords(
        "photograph",
        "photographs",
        "What the photograph is for, and what goes with it into print. The picture itself is "
        "never altered.",
        section="photographs",
        title="Photographs",
    )

    kind: Literal["photograph"] = "photograph"
    sha256: Sha256
    role: Annotated[PhotographRole, Words("What it is for")]
    caption: Annotated[MaybeLine, Words("Caption", example="The bed from above, as found")] = ""
    date: Annotated[MaybeDate, Words("Taken", example=_BENCH_DAY)] = None
    published: Annotated[
        bool,
        Words(
            "May be shown in print and on the site",
            "Untick it for a picture that is for you alone.",
            hides=False,
        ),
    ] = True
    credit: Annotated[MaybeLine, Words("Credit", "Who took it.", more=True)] = ""
    rights: Annotated[MaybeLine, Words("Rights", example="CC BY 4.0", more=True)] = ""
    scale: Annotated[
        MaybeLine, Words("Scale in it", example="steel rule at the lower edge", more=True)
    ] = ""
    strip: Annotated[
        MaybeLine,
        Words(
            "Scale strip in it",
            "Which printed piece lies beside the ornament.",
            "frame",
            more=True,
        ),
    ] = ""

    def in_brief(self) -> str:
        """Its caption, or what it is for."""
        return self.caption or self.role.value


class ReportEntry(GradedEntry):
    """A report of another machine's mark: the evidence by which a numbering is read.

    `same_as` names the earlier report of the same machine; a second sighting does not count as
    another machine, but it tells how many survive.
    """

    words = KindWords(
        "report of another machine",
        "reports of other machines",
        "Another machine's number. One number fits almost any theory; four or five confirm a "
        "theory or sink it.",
        section="reports",
        title="Other machines reported",
    )

    kind: Literal["report"] = "report"
    name: Annotated[
        Line,
        Words("What you call that machine", example="the one from the coast", private=True),
    ]
    reads: Annotated[
        MarkingText,
        Words(
            "Its number reads",
            "Glyph by glyph, as for your own machine: . a dot, ° a ring, ? unread, [38] a 3 or "
            "an 8, (7) doubtful.",
            "B°92·117",
        ),
    ]
    how: Annotated[Channel, Words("How it reached you", kept_without=Channel.PHOTOGRAPH.value)] = (
        Channel.UNSAID
    )
    grade: HowKnown
    dated_is: Annotated[
        Literal["", "at", "not before", "not after", "sold"],
        Words(
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
    ] = ""
    dated: Annotated[MaybeDate, Words("That date", example=_OLD_DAY, more=True)] = None
    dated_by: Annotated[MaybeLine, Words("Known by", example="dated bill of sale", more=True)] = ""
    sighted: Annotated[MaybeDate, Words("Sighted on", example=_BENCH_DAY, more=True)] = None
    variant: Annotated[MaybeLine, Words("Variant", more=True)] = ""
    allowed: Annotated[
        Allowed,
        Words(
            "What the owner allowed",
            "Unsaid, it is counted and nothing of the owner is told.",
            more=True,
        ),
    ] = Allowed.UNSAID
    place: Annotated[
        MaybeLine,
        Words(
            "Place",
            "Published only if the owner allowed it.",
            more=True,
            private=True,
            unless=("allowed", (Allowed.PLACE, Allowed.NAMED)),
        ),
    ] = ""
    reporter: Annotated[
        MaybeLine,
        Words(
            "Reported by",
            "Published only if the owner allowed it.",
            more=True,
            private=True,
            unless=("allowed", (Allowed.NAMED,)),
        ),
    ] = ""
    same_as: Annotated[
        MaybeLine,
        Words(
            "The same machine as",
            "The name of the earlier report, when this is a second sighting; its own name when "
            "it is another machine that bears the same mark.",
            "draper’s head",
            more=True,
            private=True,
        ),
    ] = ""
    other_readings: Annotated[OtherReadings, replace(_OTHER_READINGS, private=True)] = ()
    strings: Annotated[Strings, _STRINGS] = ""
    counts: Annotated[
        bool,
        Words(
            "Counts in the dating",
            "Untick it to keep a report you do not trust without using it.",
            more=True,
        ),
    ] = True
    sources: Annotated[
        tuple[Source, ...],
        Words(
            "What vouches for it",
            "Point to a photograph, a document, a person; say where in it.",
            more=True,
            private=True,
        ),
    ] = ()
    note: Annotated[
        Text,
        Words("Note", "Anything else; left out of what is published.", more=True, private=True),
    ] = ""

    _other_readings_read = field_validator("other_readings")(_marks_read_otherwise)

    def in_brief(self) -> str:
        """Its number and what that machine is called."""
        return f"{self.reads} ({self.name})"


class SentReport(EntryModel):
    """A report that somebody sent in, in the tray until a person has decided on it.

    It is private as a whole and no analysis reads it: what counts is the report of another machine
    that a person makes of it, named by `report`.
    """

    words = KindWords("report sent in", "reports sent in", by_hand=False)

    kind: Literal["sent"] = "sent"
    reads: Annotated[MaybeLine, Words("Its number, as sent")] = ""
    verdict: Annotated[Verdict, Words("What was decided")] = Verdict.WAITING
    reason: Annotated[MaybeLine, Words("Why")] = ""
    decided: Annotated[MaybeDate, Words("Decided on")] = None
    report: Annotated[MaybeLine, Words("The report made of it")] = ""
    came: Annotated[MaybeDate, Words("Came on")] = None
    came_as: Annotated[MaybeLine, Words("Came as")] = ""
    whole: Annotated[
        Literal["", "yes", "no"],
        Words(
            "Came as it was sent",
            choices=(
                ("", "cannot be told"),
                ("yes", "yes, its check holds"),
                ("no", "no, it was changed on its way"),
            ),
        ),
    ] = ""
    answers: Annotated[MaybeLine, Words("Answers the call for")] = ""
    where: Annotated[Text, Words("Where it is struck")] = ""
    known: Annotated[MaybeLine, Words("How the sender knows it")] = ""
    dated: Annotated[MaybeLine, Words("A date that came with it, as sent")] = ""
    dated_by: Annotated[MaybeLine, Words("That date is from")] = ""
    variant: Annotated[MaybeLine, Words("Variant")] = ""
    place: Annotated[MaybeLine, Words("Place", private=True)] = ""
    place_told: Annotated[
        bool, Words("The place may be published", "Only where the sender said so.")
    ] = False
    sender: Annotated[MaybeLine, Words("Sent in by", private=True)] = ""
    sender_as: Annotated[Naming, Words("Wishes to be named")] = Naming.UNSAID
    photographs: Annotated[Pictures, Words("Photographs that came with it")] = ()
    private: Annotated[
        bool,
        Words("Kept private", "Always: what is published is the report.", hides=True),
    ] = True

    def in_brief(self) -> str:
        """Its number, and what was decided."""
        return f"{self.reads or 'a photograph'}: {self.verdict.value}"


class FindingEntry(EntryModel):
    """A computed result, kept with all that is needed to compute it again."""

    words = KindWords("finding", "findings", by_hand=False)

    kind: Literal["finding"] = "finding"
    finding: Finding

    def in_brief(self) -> str:
        """What it is about, and its value."""
        value = value_in_words(self.finding.value, with_edtf=True)
        return f"{self.finding.about}: {value} {self.finding.unit}".rstrip()


class DrawingEntry(GradedEntry):
    """A drawing of ornament traced from photographs, in mm, with its grades in it."""

    words = KindWords(
        "drawing", "drawings", by_hand=False, section="ornament", title="The ornament"
    )

    kind: Literal["drawing"] = "drawing"
    name: Annotated[Line, Words("What it is called", account=InAccount.NOWHERE)]
    svg: Sha256
    width_mm: Annotated[float, Field(gt=0)]
    height_mm: Annotated[float, Field(gt=0)]
    photographs: Annotated[Pictures, Words("Photographs", account=InAccount.NOWHERE)] = ()
    finding: Finding

    def in_brief(self) -> str:
        """Its name and the size of what is painted."""
        return f"{self.name}, {self.width_mm:.1f} × {self.height_mm:.1f} mm"


class ThreadingEntry(EntryModel):
    """A threading plan: points in the order of the thread, on photographs of the machine."""

    words = KindWords(
        "threading plan",
        "threading plans",
        by_hand=False,
    )

    kind: Literal["threading"] = "threading"
    name: Annotated[Line, Words("What is threaded", account=InAccount.HEADING)]
    pictures: tuple[ThreadedPicture, ...]
    points: tuple[ThreadedPoint, ...]

    @model_validator(mode="after")
    def _can_be_drawn(self, info: ValidationInfo) -> "ThreadingEntry":
        if info.context is not KEPT:
            try:
                self.plan()
            except IronlaceError as error:
                raise ValueError(str(error)) from error
        return self

    def without(self, gone: Collection[str]) -> "ThreadingEntry":
        """The same plan on bare sheets where photographs are not to be named."""
        sheets = {
            name: f"sheet {number}"
            for number, name in enumerate((one.photograph for one in self.pictures), 1)
            if name in gone
        }
        changed = {
            field: tuple(
                one.model_copy(update={"photograph": sheets.get(one.photograph, one.photograph)})
                for one in getattr(self, field)
            )
            for field in ("pictures", "points")
        }
        return self.model_copy(update=changed) if sheets else self

    def plan(self) -> ThreadingPlan:
        """The plan as it is drawn, told and set on a card."""
        return plan_of(self.name, self.pictures, self.points)

    @property
    def grade(self) -> Grade | None:
        """That of its weakest step; None while one step does not say how it is known."""
        return self.plan().grade

    def in_brief(self) -> str:
        """Its name and how many steps it has."""
        return f"{self.name}, {counted(len(self.points), 'step')}"


class TrialEntry(EntryModel):
    """One trial of the running: what was changed since the trial before, and the seam sewn."""

    words = KindWords(
        "trial",
        "trials",
        "One trial of the running: change one thing, sew a test seam, keep its picture, say what "
        "came of it.",
        section="treatments",
        title="What was done to it",
    )

    kind: Literal["trial"] = "trial"
    changed: Annotated[
        Literal[
            "start", "nothing", "needle-thread screw", "shuttle screw", "needle", "thread",
            "threading", "oil", "belt", "speed", "cloth", "other",
        ],
        Words(
            "What was changed since the trial before",
            "One thing at a time, or no seam tells which it was.",
            choices=tuple(CHANGED.items()),
            account=InAccount.HEADING,
        ),
    ]  # fmt: skip
    to: Annotated[
        MaybeLine, Words("To what", example="one eighth in", account=InAccount.HEADING)
    ] = ""
    screw: Annotated[
        MaybeLine,
        Words(
            "Where the needle thread's screw stands, eighths of a turn in from its mark",
            "From it the next turn is reckoned.",
            example="3",
        ),
    ] = ""
    date: Annotated[MaybeDate, Words("When", example=_BENCH_DAY, account=InAccount.MARGIN)] = None
    seam: Annotated[
        Pictures,
        Words(
            "Pictures of its seam",
            "The upper side first, and the under side where you have it.",
            account=InAccount.PLATES,
            phrase="the seam",
        ),
    ] = ()
    also: Annotated[
        MaybeLine,
        Words(
            "What else was changed", "Then it cannot be told which of the two did it.", more=True
        ),
    ] = ""
    came: Annotated[Text, Words("What came of it", account=InAccount.MATTER)] = ""

    @field_validator("screw")
    @classmethod
    def _is_a_number(cls, screw: str, info: ValidationInfo) -> str:
        if info.context is not KEPT and screw and not _EIGHTHS.fullmatch(screw):
            raise ValueError(f"'{screw[:20]}' is no number of eighths: write 3, 2.5 or -1")
        return screw

    @property
    def eighths(self) -> float | None:
        """Where the screw stands, eighths of a turn; None unsaid."""
        return float(self.screw.replace(",", ".").replace("−", "-")) if self.screw else None

    def in_brief(self) -> str:
        """What was changed, and to what."""
        words = CHANGED[self.changed]
        return f"{words}, {self.to}" if self.to else words


class Outlay(EntryModel):
    """Hours worked or money spent."""

    words = KindWords(
        "outlay",
        "hours and costs",
        "Hours worked or money spent. Left out of print unless you ask for it.",
        on_request=True,
        section="hours-and-costs",
        title="Hours and costs",
    )

    kind: Literal["outlay"] = "outlay"
    what: Annotated[Line, Words("For what", account=InAccount.HEADING)]
    hours: Annotated[
        MaybeHours,
        Words("Hours", "As you say them: 2.5, 2,5, 1h30, 1:30 or 90 min.", example="1h30"),
    ] = None
    cost: Annotated[
        MaybeMoney,
        Field(validate_default=True),
        Words("Cost", "With a point or a comma.", example="14.90"),
    ] = None
    currency: Annotated[
        Currency, Field(validate_default=True), Words("Currency", "Three letters.", "EUR")
    ] = ""
    date: Annotated[MaybeDate, Words("When", example=_BENCH_DAY)] = None
    step: Annotated[
        Literal[
            "",
            "take-in",
            "marks",
            "identify",
            "condition",
            "date",
            "running",
            "ornament",
            "treat",
            "tell",
        ],
        Words("For which step of the job", choices=(("", "not said"), *STEPS.items())),
    ] = ""
    private: Annotated[
        bool,
        Words(
            "Keep it private",
            "Such as the price you paid: left out of print and of the site even when hours and "
            "costs are asked for, unless a private pack is.",
            hides=True,
            account=InAccount.NOWHERE,
        ),
    ] = False

    @field_validator("cost")
    @classmethod
    def _says_something(cls, cost: Decimal | None, info: ValidationInfo) -> Decimal | None:
        if cost is None and info.data.get("hours", 0) is None:
            raise ValueError("an outlay needs hours, a cost or both")
        return cost

    @field_validator("currency")
    @classmethod
    def _currency_of_a_cost(cls, currency: str, info: ValidationInfo) -> str:
        needed = info.data.get("cost") is not None
        if (currency or needed) and not re.fullmatch("[A-Z]{3}", currency):
            raise ValueError("a cost needs its currency: three letters of ISO 4217, such as EUR")
        return currency

    def in_brief(self) -> str:
        """What it went for, hours and money."""
        hours = "" if self.hours is None else f"{self.hours:f} h"
        cost = "" if self.cost is None else f"{self.cost:f} {self.currency}"
        return f"{self.what}: {', '.join(amount for amount in (hours, cost) if amount)}"


class Rate(EntryModel):
    """What one of a currency, or an hour of work, is worth in another currency on a day."""

    words = KindWords(
        "rate",
        "rates",
        "What one of a currency, or an hour of work, is worth in your own money on a day: so that "
        "two purses can be added up. Told with hours and costs.",
        on_request=True,
        section="hours-and-costs",
        title="Hours and costs",
    )

    kind: Literal["rate"] = "rate"
    one: Annotated[
        Line,
        Words("One of", "A currency in three letters, or the word hour.", "GBP"),
    ]
    worth: Annotated[Worth, Words("Is worth", example="1.1712")]
    currency: Annotated[Currency, Words("In", "Your own money, three letters.", "EUR")]
    date: Annotated[EdtfText, Control.DATE, Words("On", example=_BENCH_DAY)]
    by: Annotated[Line, Words("Where the rate is from", example="the bank's note of that day")]

    @field_validator("one", mode="after")
    @classmethod
    def _currency_or_hour(cls, one: str) -> str:
        plain = one.strip().lower()
        if plain in ("hour", "an hour", "1 hour", "h"):
            return "hour"
        if not re.fullmatch("[a-z]{3}", plain):
            raise ValueError("a rate is of a currency in three letters, such as GBP, or of an hour")
        return plain.upper()

    @field_validator("currency")
    @classmethod
    def _another_currency(cls, currency: str, info: ValidationInfo) -> str:
        if not re.fullmatch("[A-Z]{3}", currency):
            raise ValueError("a rate needs a currency: three letters of ISO 4217, such as EUR")
        if currency == info.data.get("one"):
            raise ValueError(f"a rate of {currency} in {currency} says nothing: name two")
        return currency

    def in_brief(self) -> str:
        """The rate, its day and its source."""
        one = "an hour" if self.one == "hour" else f"1 {self.one}"
        day = date_in_words(self.date)
        return f"{one} = {self.worth.normalize():f} {self.currency} ({day}, {self.by})"


class Question(EntryModel):
    """Something not known yet, and what would answer it."""

    words = KindWords(
        "question",
        "open questions",
        "Something not known yet. In print it becomes a call for what would answer it.",
        section="questions",
        title="What is not known",
    )

    kind: Literal["question"] = "question"
    asks: Annotated[
        Line,
        Words("What is not known", example="Was the tray ever gilded?", account=InAccount.SAYS),
    ]
    would_answer: Annotated[Text, Words("What would answer it")] = ""
    answer: Annotated[Text, Words("Answer, once found", more=True, account=InAccount.MATTER)] = ""


Entry = Annotated[
    Statement
    | Mark
    | Lettering
    | Photograph
    | Part
    | Measurement
    | ReadingsEntry
    | Treatment
    | Provenance
    | SourceEntry
    | ReportEntry
    | SentReport
    | FindingEntry
    | DrawingEntry
    | Outlay
    | Rate
    | Question
    | ThreadingEntry
    | TrialEntry,
    Field(discriminator="kind"),
]

_MODELS: tuple[type[EntryModel], ...] = get_args(get_args(Entry)[0])
ENTRY_KINDS: dict[EntryKind, type[BaseModel]] = {
    EntryKind(model.model_fields["kind"].default): model for model in _MODELS
}

_ADAPTER: TypeAdapter[Entry] = TypeAdapter(Entry)


def parse_entry(payload: dict[str, Any]) -> Entry:  # dict: JSON as it came
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


def parse_entries(payloads: Sequence[Any]) -> list[Entry]:
    """Make entries of their JSON form, all or none.

    Raises EntryError that says which of several cannot be read, by its place and kind, and why.
    """
    parsed = []
    for place, payload in enumerate(payloads, 1):
        try:
            parsed.append(parse_entry(payload))
        except IronlaceError as error:
            if len(payloads) == 1:
                raise
            kind = payload.get("kind") if isinstance(payload, dict) else ""
            which = f" ({kind})" if kind in set(EntryKind) else ""
            raise EntryError(f"Entry {place} of {len(payloads)}{which}: {error}") from error
    return parsed


_KEPT_WITHOUT: dict[str, dict[str, str]] = {
    kind.value: {
        field.name: field.words.kept_without
        for field in fields_of(model)
        if field.words.kept_without
    }
    for kind, model in ENTRY_KINDS.items()
}
"""By kind and field: what an entry says that was kept before the field had to be."""


def kept_entry(payload: dict[str, Any]) -> Entry:  # dict: JSON as it came
    """Make an entry of JSON that this program has kept; see `to_keep`.

    Its shape is checked; dates, marks and quantities were read before it was kept, and reading
    them again would treble the time that a large record takes to open. `ironlace check` does.
    """
    before = _KEPT_WITHOUT.get(payload.get("kind", ""), {})
    return _ADAPTER.validate_python({**before, **payload}, context=KEPT)


def to_keep(entry: Entry) -> dict[str, Any]:  # dict: JSON as it is kept
    """The JSON of an entry as it is kept: what it says, its defaults left out.

    A field whose default was once another is always written, so that one that is missing is known
    to come from before, and keeps its meaning.

    >>> to_keep(parse_entry({"kind": "part", "name": "shuttle", "grade": "seen"}))
    {'kind': 'part', 'grade': 'seen', 'name': 'shuttle', 'risk': 'not judged'}
    """
    payload = entry.model_dump(mode="json", exclude_defaults=True)
    always = {name: str(getattr(entry, name)) for name in _KEPT_WITHOUT[entry.kind]}
    return {"kind": entry.kind, **payload, **always}


def in_one_sentence(error: ValidationError) -> str:
    """Turn the first fault that pydantic found into a sentence for a person."""
    fault = error.errors(include_url=False)[0]
    place = [str(step) for step in fault["loc"] if str(step) not in set(EntryKind)]
    field = " ".join(place).replace("_", " ")
    subject = f"'{field}'" if field else "The entry"
    sort = fault["type"]
    if sort in _OF_THE_KIND:
        return f"{_OF_THE_KIND[sort]}: use one of {', '.join(EntryKind)}."
    if sort in _FAULTS:
        limits = {name: str(limit).replace("'", "") for name, limit in fault.get("ctx", {}).items()}
        return f"{subject} {_FAULTS[sort].format(came=_shortly(fault['input']), **limits)}."
    if sort.endswith(("_type", "_parsing")):
        wanted = next((words for stem, words in _WANTED.items() if sort.startswith(stem)), "")
        if wanted:
            return f"{subject} should be {wanted}, and {_shortly(fault['input'])} came."
    message = fault["msg"].removeprefix("Value error, ")
    return f"{subject}: {message[:1].lower() + message[1:]}".rstrip(".") + "."


_OF_THE_KIND = {
    "union_tag_invalid": "There is no entry of that kind",
    "union_tag_not_found": "The entry does not say its kind",
}
_ONE_OF = "cannot be {came}: use {expected}"
_FAULTS = {
    "missing": "is missing: fill it in",
    "string_too_short": "is empty: fill it in",
    "string_too_long": "is too long: use {max_length} characters at most",
    "enum": _ONE_OF,
    "literal_error": _ONE_OF,
    "extra_forbidden": "is no field of this kind of entry: leave it out, or mend its name",
    "string_pattern_mismatch": "cannot be {came}: it does not have the form of such a name",
    "greater_than": "cannot be {came}: give more than {gt}",
    "greater_than_equal": "cannot be {came}: give {ge} or more",
    "decimal_max_places": "is finer than a hundredth: round {came}",
    "decimal_max_digits": "is too large: check {came}",
    "decimal_whole_digits": "is too large: check {came}",
}
"""What is said of a field, by pydantic's sort of fault; `came` is what came."""

_WANTED = {
    "string": "text",
    "bool": "true or false",
    "decimal": "a number such as 2.5",
    "float": "a number",
    "int": "a whole number",
    "tuple": "a list",
    "list": "a list",
    "dict": "an object with names",
    "model": "an object with names",
}
_LONGEST_QUOTED = 60
"""Characters of what came that a sentence quotes: enough to find it by."""


def _shortly(came: Any) -> str:
    """What came, as a sentence can quote it."""
    text = " ".join(str(came).split())
    short = text if len(text) <= _LONGEST_QUOTED else f"{text[:_LONGEST_QUOTED]}..."
    return f"'{short}'"
