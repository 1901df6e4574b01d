"""What is struck or written: a mark, lettering, other machines' marks as they were reported."""

from dataclasses import replace
from typing import Annotated, Literal

from pydantic import Field, ValidationInfo, field_validator

from ironlace.evidence.markings import Marking, parse_marking
from ironlace.evidence.sources import Source
from ironlace.record.choices import Allowed, Channel, Naming, Technique, Verdict
from ironlace.record.entries.words_shared import BENCH_DAY, OLD_DAY, read_otherwise
from ironlace.record.entry_fields import InAccount, KindWords, Words
from ironlace.record.entry_types import (
    EntryModel,
    GradedEntry,
    HowKnown,
    Line,
    MarkingText,
    MaybeDate,
    MaybeLine,
    OtherReadings,
    Pictures,
    Strings,
    Text,
)
from ironlace.record.other_readings import written_anew


def _marks_read_otherwise(lines: tuple[str, ...], info: ValidationInfo) -> tuple[str, ...]:
    return read_otherwise(written_anew, lines, info)


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
    dated: Annotated[MaybeDate, Words("That date", example=OLD_DAY, more=True)] = None
    dated_by: Annotated[MaybeLine, Words("Known by", example="dated bill of sale", more=True)] = ""
    sighted: Annotated[MaybeDate, Words("Sighted on", example=BENCH_DAY, more=True)] = None
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
            "Where the machine is, the country last: how many were made is told by reports from "
            "several places, not by those of one. Published only if the owner allowed it.",
            "Redham, Northland",
            private=True,
            unless=("allowed", (Allowed.PLACE, Allowed.NAMED)),
        ),
    ] = ""
    reporter: Annotated[
        MaybeLine,
        Words(
            "Reported by",
            "A name, or a sign of your own: which reports are one person's bears on what they "
            "show. Published only if the owner allowed it.",
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
