"""What is done to the machine and worked out of it, and what that takes."""

import re
from collections.abc import Collection
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import Field, ValidationInfo, field_validator, model_validator

from ironlace.evidence.edtf_dates import date_in_words
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.findings import Finding, Sha256
from ironlace.evidence.grades import Grade
from ironlace.evidence.wording import counted
from ironlace.record.choices import STEPS, Aim, Stage, Undoing
from ironlace.record.entries.words_shared import BENCH_DAY
from ironlace.record.entry_fields import Control, InAccount, KindWords, Words
from ironlace.record.entry_types import (
    KEPT,
    Currency,
    EdtfText,
    EntryModel,
    GradedEntry,
    Hazards,
    Line,
    Lines,
    MaybeDate,
    MaybeHours,
    MaybeLine,
    MaybeMoney,
    Pictures,
    Text,
    Worth,
)
from ironlace.record.threaded import ThreadedPicture, ThreadedPoint, plan_of
from ironlace.record.values_in_words import value_in_words
from ironlace.running.threading.plan import ThreadingPlan
from ironlace.running.trials.trials_weighed import CHANGED

_EIGHTHS = re.compile(r"[-−]?\d{1,3}(?:[.,]\d{1,2})?")


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
        MaybeDate, Words("Done on, or meant for", example=BENCH_DAY, account=InAccount.MARGIN)
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
    date: Annotated[MaybeDate, Words("When", example=BENCH_DAY, account=InAccount.MARGIN)] = None
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
    date: Annotated[MaybeDate, Words("When", example=BENCH_DAY)] = None
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
    date: Annotated[EdtfText, Control.DATE, Words("On", example=BENCH_DAY)]
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
