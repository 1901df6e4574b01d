"""What a person may be asked for before an answer: theories, and what is taken for granted.

A person thinks of "two in a hundred"; the likelihood reckons with 0.02 (`Assumptions`).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any

from ironlace.evidence.analyses import Ask, AskedError
from ironlace.survey.errors import SurveyError
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.schemes.library import Candidate, read_schemes

_IN_HUNDRED = (
    "misread_rate",
    "transposed_rate",
    "confusable_share",
    "doubt",
    "worn_rate",
    "changed_rate",
    "stray_rate",
    "junk_rate",
    "wrong_date_rate",
)
_LEAST_RATE, _MOST_RATE = 0.0001, 49.99
"""A chance of nought would make one slip impossible; at a half a reading says nothing."""


def _rate(words: str, help_: str) -> Ask:
    return Ask(words, help_, unit="%", low=_LEAST_RATE, high=_MOST_RATE, more=True)


@dataclass(frozen=True)
class TakenForGranted:
    """Rates and limits behind a comparison, as a person gives them: rates in a hundred.

    >>> TakenForGranted(misread_rate=5.0).assumptions().misread_rate
    0.05
    >>> TakenForGranted().assumptions() == Assumptions()
    True
    """

    misread_rate: Annotated[
        float,
        _rate(
            "Rate of misread figures",
            "How many figures or letters in a hundred are reported as another.",
        ),
    ] = 2.0
    confusable_share: Annotated[
        float,
        Ask(
            "Share of those taken for one that looks alike",
            "Worn figures pass for each other: 3 and 8, 1 and 7.",
            unit="%",
            low=0,
            high=100,
            more=True,
        ),
    ] = 80.0
    transposed_rate: Annotated[
        float,
        _rate(
            "Rate of neighbours changed round",
            "How many in a hundred pairs of neighbouring figures are passed on in the wrong order.",
        ),
    ] = 0.4
    doubt: Annotated[
        float,
        _rate(
            "Rate of doubtful glyphs that are wrong",
            "A glyph in round brackets was read with a doubt: how often the doubt is right.",
        ),
    ] = 30.0
    worn_rate: Annotated[
        float,
        _rate(
            "Rate of dots and rings worn away",
            "Separators that were struck but are worn off, or that nobody reported.",
        ),
    ] = 5.0
    changed_rate: Annotated[
        float,
        _rate(
            "Rate of dots and rings taken for another sign",
            "A ring reported as a dot, a dot as a hyphen.",
        ),
    ] = 2.0
    stray_rate: Annotated[
        float,
        _rate(
            "Rate of dots that nobody meant",
            "In a hundred places: pits, slips of the punch, dirt; a dot or gap where none was "
            "struck on purpose.",
        ),
    ] = 1.0
    junk_rate: Annotated[
        float,
        _rate(
            "Rate of reports that have nothing to do with it",
            "A wrong plate, another maker, a number made up.",
        ),
    ] = 2.0
    wrong_date_rate: Annotated[
        float,
        _rate(
            "Rate of wrong dates among those that came with reports",
            "Another machine's receipt, a slip of the pen, a date of repair.",
        ),
    ] = 3.0
    hindsight_factor: Annotated[
        float,
        Ask(
            "Charge for hindsight",
            "A theory thought of after the first number was seen has its odds divided by this: "
            "about how many other readings would have pleased as well. 1 charges nothing.",
            low=1,
            high=1_000_000,
            example="10",
            more=True,
        ),
    ] = 10.0
    first_year: Annotated[
        int,
        Ask(
            "First year of making",
            "The first year in which such machines can have been made.",
            low=1500,
            high=2099,
            example="1850",
            more=True,
        ),
    ] = 1850
    last_year: Annotated[
        int,
        Ask(
            "Last year of making",
            "The last such year.",
            low=1501,
            high=2100,
            example="1930",
            more=True,
        ),
    ] = 1930
    highest_number: Annotated[
        int,
        Ask(
            "Limit of all numbers",
            "Above the highest running number that can be thought of.",
            low=100,
            high=99_999_999,
            example="10000000",
            more=True,
        ),
    ] = 10_000_000
    uneven_output: Annotated[
        float,
        Ask(
            "Spread of the output",
            "From month to month: 0.05 is even, 0.5 is ordinary, 2 is very uneven.",
            low=0.05,
            high=2,
            example="0.5",
            more=True,
        ),
    ] = 0.5

    def assumptions(self) -> Assumptions:
        """The same as the likelihood reckons with.

        Raises AskedError when the two ends of the period do not fit each other.
        """
        given = {name: getattr(self, name) for name in Assumptions.names()}
        try:
            # rounded: 1.3 / 100 is 0.013000000000000001, and 0.013 was meant
            rates = {name: round(given[name] / 100.0, 12) for name in _IN_HUNDRED}
            return Assumptions(**given | rates)
        except SurveyError as error:
            # each alone is within its bounds by now
            raise AskedError(str(error), "last_year") from error


@dataclass(frozen=True)
class UnderTheories(TakenForGranted):
    """What is asked for wherever theories of the numbering are weighed."""

    schemes: Annotated[
        str,
        Ask(
            "Theories of the numbering",
            "One a line; left empty, the ways of numbering known from the period are tried. Each "
            "lists from left to right what was struck, in plain words.",
            example="letter, ring, year, dot, number in year",
            long=True,
        ),
    ] = ""

    def candidates(self) -> tuple[Candidate, ...] | None:
        """The theories put up; None for those known from the period. Raises SchemeError."""
        return read_schemes(self.schemes) if self.schemes.strip() else None


def asked_before(parameters: Mapping[str, Any]) -> Mapping[str, Any]:
    """What was asked, as a finding keeps it; also as dates were kept in version 0.1.

    >>> before = {"schemes": "number overall", "assumptions": {"misread_rate": 0.07}, "mark": "7"}
    >>> asked_before(before)
    {'schemes': 'number overall', 'misread_rate': 7.0}
    """
    kept = parameters.get("asked")
    if isinstance(kept, dict):
        return kept
    assumed = parameters.get("assumptions")
    given = dict(assumed) if isinstance(assumed, dict) else {}
    return {
        "schemes": str(parameters.get("schemes", "")),
        # rounded: 0.07 times 100 is 7.000000000000001
        **{n: round(v * 100, 9) if n in _IN_HUNDRED else v for n, v in given.items()},
    }
