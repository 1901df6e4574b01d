"""What the machine is, how it stands and where it has been; what shows it, what is not known."""

from typing import Annotated, Literal

from pydantic import ValidationInfo, field_validator

from ironlace.evidence.edtf_dates import date_in_words
from ironlace.evidence.findings import Sha256
from ironlace.evidence.quantities import Measured, parse_measured
from ironlace.evidence.written_dates import read_date
from ironlace.record.choices import PhotographRole, Risk, Standing, State, Topic
from ironlace.record.entries.words_shared import BENCH_DAY, OLD_DAY, read_otherwise
from ironlace.record.entry_fields import InAccount, KindWords, Words
from ironlace.record.entry_types import (
    KEPT,
    EntryModel,
    GradedEntry,
    HowKnown,
    Line,
    MaybeDate,
    MaybeLine,
    OtherReadings,
    Pictures,
    Reading,
    Readings,
    Text,
)
from ironlace.record.other_readings import struck_figure


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
    date: Annotated[MaybeDate, Words("Taken", example=BENCH_DAY)] = None
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


def _figures_struck_out(lines: tuple[str, ...], info: ValidationInfo) -> tuple[str, ...]:
    return read_otherwise(struck_figure, lines, info)


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
    date: Annotated[MaybeDate, Words("Measured on", example=BENCH_DAY, more=True)] = None
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
    date: Annotated[MaybeDate, Words("Read on", example=BENCH_DAY, account=InAccount.MARGIN)] = None
    part: Annotated[MaybeLine, Words("Of which part", example="needle bar", more=True)] = ""
    photographs: Annotated[Pictures, Words("Photographs of it", more=True)] = ()

    def in_brief(self) -> str:
        """What was read, and how much of it."""
        return f"{self.what}: {self.table.in_words()}"


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
    date: Annotated[MaybeDate, Words("When", example=OLD_DAY, account=InAccount.LINE)] = None
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
    date: Annotated[MaybeDate, Words("Its date", example=OLD_DAY, account=InAccount.LINE)] = None
    private: Annotated[bool, Words("Keep it private", hides=True, account=InAccount.NOWHERE)] = (
        False
    )


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
