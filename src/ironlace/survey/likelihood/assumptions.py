"""What a comparison takes for granted, all in one place so that it can be seen and moved."""

from dataclasses import asdict, dataclass, fields, replace

from ironlace.survey.errors import SurveyError


@dataclass(frozen=True, slots=True)
class Assumptions:
    """Rates and limits behind a comparison. All are judgements: common practice, no source.

    Attributes
    ----------
    misread_rate
        Chance that a figure or letter is reported as another.
    confusable_share
        Part of the misreadings that falls on figures that look alike when worn (3 and 8, 1 and 7).
    transposed_rate
        Chance, for each pair of neighbours within a group, that the two are reported changed round.
    worn_rate
        Chance that a struck separator is worn away or not reported.
    changed_rate
        Chance that a separator is reported as one of another kind.
    stray_rate
        Chance, for each place between glyphs, of a dot or gap that nobody meant.
    doubt
        Chance that a glyph put in round brackets is not what is written.
    junk_rate
        Chance that a report has nothing to do with the numbering (wrong plate, wrong maker).
    wrong_date_rate
        Chance that a date which came with a report is wrong: another machine's receipt, a slip.
    hindsight_factor
        Prior odds of a scheme thought of after seeing the first number are divided by this: about
        how many other readings would have been taken up as gladly had the first number allowed.
    first_year, last_year
        The period in which these machines can have been made.
    highest_number
        No running number or code goes beyond this; limits below it are log-uniform.
    uneven_output
        Standard deviation of the logarithm of output from one month (or year, week) to the next.
    """

    misread_rate: float = 0.02
    confusable_share: float = 0.8
    transposed_rate: float = 0.004
    worn_rate: float = 0.05
    changed_rate: float = 0.02
    stray_rate: float = 0.01
    doubt: float = 0.3
    junk_rate: float = 0.02
    wrong_date_rate: float = 0.03
    hindsight_factor: float = 10.0
    first_year: int = 1850
    last_year: int = 1930
    highest_number: int = 10_000_000
    uneven_output: float = 0.5

    def __post_init__(self) -> None:
        for name in _RATES:
            rate = getattr(self, name)
            if not 0.0 < rate < 0.5:
                raise SurveyError(
                    f"{name.replace('_', ' ')} is {rate:g}: give a chance above 0 and below 0.5."
                )
        if not 0.0 <= self.confusable_share <= 1.0:
            raise SurveyError(
                f"The confusable share is {self.confusable_share:g}: give a share from 0 to 1."
            )
        if self.worn_rate + self.changed_rate >= 1.0:
            raise SurveyError("Worn and changed separators together must stay below 1.")
        if not self.hindsight_factor >= 1.0:
            raise SurveyError(
                f"The hindsight factor is {self.hindsight_factor:g}: give 1 (no charge) or more."
            )
        if not 1500 <= self.first_year < self.last_year <= 2100:
            raise SurveyError(
                f"The period {self.first_year} to {self.last_year} is not one: "
                "give a first year before the last, between 1500 and 2100."
            )
        if not 100 <= self.highest_number <= 99_999_999:
            raise SurveyError(f"The highest number is {self.highest_number}: give 100 to 99999999.")
        if not 0.05 <= self.uneven_output <= 2.0:
            raise SurveyError(
                f"Uneven output is {self.uneven_output:g}: give 0.05 (even) to 2 (very uneven)."
            )

    def in_hand(self) -> "Assumptions":
        """The same for a mark in hand: read with care, and of this maker.

        A survey is passed on by strangers; the mark whose date is asked was read off the metal, so
        its rates are never above those of a careful reading. A glyph marked doubtful stays so.

        >>> Assumptions().in_hand().misread_rate, Assumptions(misread_rate=1e-4).in_hand().doubt
        (0.001, 0.3)
        """
        return replace(
            self, **{name: min(getattr(self, name), most) for name, most in _IN_HAND.items()}
        )

    def as_dict(self) -> dict[str, float | int]:
        """Return the assumptions by name."""
        return asdict(self)

    @classmethod
    def names(cls) -> tuple[str, ...]:
        """Return the names in order."""
        return tuple(field.name for field in fields(cls))


_RATES = (
    "misread_rate",
    "transposed_rate",
    "worn_rate",
    "changed_rate",
    "stray_rate",
    "doubt",
    "junk_rate",
    "wrong_date_rate",
)

_IN_HAND = {
    "misread_rate": 0.001,
    "transposed_rate": 0.0002,
    "worn_rate": 0.02,
    "changed_rate": 0.005,
    "stray_rate": 0.003,
    "junk_rate": 0.001,
}
"""Highest rates for a mark in hand: a tenth or so of a survey's; a judgement."""
