"""What a comparison takes for granted, as a form: each rate in plain words, in cases of a hundred.

A person thinks of "two in a hundred"; the survey room reckons with 0.02.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from ironlace.evidence.errors import IronlaceError
from ironlace.survey import Assumptions, SurveyError


class AssumptionError(IronlaceError):
    """An assumption that cannot be reckoned with, and the field it was typed in."""

    def __init__(self, says: str, name: str = "") -> None:
        super().__init__(says)
        self.name = name


@dataclass(frozen=True, slots=True)
class AssumptionField:
    """One assumption: its name in the survey room, its label and what it means.

    `hundred` marks a rate that is typed in cases of a hundred, `whole` a whole number; `lowest`
    and `highest` are as typed, and are themselves too far where `open_ended`.
    """

    name: str
    label: str
    hint: str
    lowest: float
    highest: float
    hundred: bool = False
    whole: bool = False
    open_ended: bool = False

    @property
    def usual(self) -> str:
        """What stands there unless it is moved, as typed."""
        return self.shown(Assumptions())

    def shown(self, assumptions: Assumptions) -> str:
        """An assumption as it is typed."""
        value = getattr(assumptions, self.name)
        return f"{value * 100:.12g}" if self.hundred else f"{value:.12g}"

    def read(self, text: str) -> float | int:
        """Read what was typed; raises AssumptionError."""
        try:
            value = float(text.replace(",", "."))
        except ValueError:
            value = float("nan")
        inside = (
            self.lowest < value < self.highest
            if self.open_ended
            else self.lowest <= value <= self.highest
        )
        if not inside or (self.whole and not value.is_integer()):
            raise AssumptionError(f"{self.label}: {text} was given; {self._needed()}.", self.name)
        if self.whole:
            return int(value)
        return value / 100 if self.hundred else value

    def _needed(self) -> str:
        sort = "a whole number" if self.whole else "a number"
        if self.open_ended:
            return f"give {sort} above {self.lowest:.12g} and below {self.highest:.12g}"
        return f"give {sort} from {self.lowest:.12g} to {self.highest:.12g}"


def _rate(name: str, label: str, hint: str) -> AssumptionField:
    return AssumptionField(name, label, hint, 0, 50, hundred=True, open_ended=True)


FIELDS: tuple[AssumptionField, ...] = (
    _rate(
        "misread_rate",
        "Figures misread, in a hundred",
        "How many figures or letters in a hundred are reported as another.",
    ),
    AssumptionField(
        "confusable_share",
        "Of those, taken for one that looks alike, in a hundred",
        "Worn figures pass for each other: 3 and 8, 1 and 7.",
        0,
        100,
        hundred=True,
    ),
    _rate(
        "doubt",
        "Doubtful glyphs that are wrong, in a hundred",
        "A glyph in round brackets was read with a doubt: how often the doubt is right.",
    ),
    _rate(
        "worn_rate",
        "Dots and rings worn away, in a hundred",
        "Separators that were struck but are worn off, or that nobody reported.",
    ),
    _rate(
        "changed_rate",
        "Dots and rings taken for another sign, in a hundred",
        "A ring reported as a dot, a dot as a hyphen.",
    ),
    _rate(
        "stray_rate",
        "Dots that nobody meant, in a hundred places",
        "Pits, slips of the punch, dirt: a dot or gap where none was struck on purpose.",
    ),
    _rate(
        "junk_rate",
        "Reports that have nothing to do with it, in a hundred",
        "A wrong plate, another maker, a number made up.",
    ),
    _rate(
        "wrong_date_rate",
        "Dates that came with a report and are wrong, in a hundred",
        "Another machine's receipt, a slip of the pen, a date of repair.",
    ),
    AssumptionField(
        "hindsight_factor",
        "Charge for hindsight",
        "A theory thought of after the first number was seen has its odds divided by this: about "
        "how many other readings would have pleased as well. 1 charges nothing.",
        1,
        1_000_000,
    ),
    AssumptionField(
        "first_year",
        "Made not before the year",
        "The first year in which such machines can have been made.",
        1500,
        2099,
        whole=True,
    ),
    AssumptionField(
        "last_year",
        "Made not after the year",
        "The last such year.",
        1501,
        2100,
        whole=True,
    ),
    AssumptionField(
        "highest_number",
        "No number goes beyond",
        "Above the highest running number that can be thought of.",
        100,
        99_999_999,
        whole=True,
    ),
    AssumptionField(
        "uneven_output",
        "How uneven the output was",
        "From month to month: 0.05 is even, 0.5 is ordinary, 2 is very uneven.",
        0.05,
        2,
    ),
)


@dataclass(frozen=True, slots=True)
class OddsAsked:
    """What a comparison is asked for: the theories, and those assumptions that were moved.

    `moved` holds what was typed, by name, where it differs from what usually stands there.
    """

    schemes: str = ""
    moved: Mapping[str, str] = field(default_factory=dict)

    @property
    def key(self) -> tuple[Any, ...]:
        """Tells two different askings apart."""
        return self.schemes, tuple(sorted(self.moved.items()))

    @property
    def query(self) -> dict[str, str]:
        """The same as fields of an address or a form."""
        return {"schemes": self.schemes, **self.moved}

    def typed(self, name: str) -> str:
        """What stands in the field of an assumption."""
        return self.moved.get(name) or next(f.usual for f in FIELDS if f.name == name)

    def assumptions(self) -> Assumptions:
        """The assumptions asked for; raises AssumptionError."""
        given: dict[str, Any] = {f.name: f.read(t) for f in FIELDS if (t := self.moved.get(f.name))}
        try:
            return Assumptions(**given)
        except SurveyError as error:
            # each alone is sound by now, so it is the two ends of the period
            raise AssumptionError(str(error), "last_year") from error


def asked_of(fields: Mapping[str, str]) -> OddsAsked:
    """Read what is asked for from the fields of an address or a form; nothing is judged yet."""
    moved = {}
    for known in FIELDS:
        text = fields.get(known.name, "").strip()[:40]
        if text and text != known.usual:
            moved[known.name] = text
    return OddsAsked(fields.get("schemes", ""), moved)
