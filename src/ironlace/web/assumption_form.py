"""What the survey's pages are asked for: theories, and those assumptions that were moved.

It stands in the address, as it was typed, and goes along from page to page. The words, units and
bounds of each assumption stand beside its field (`survey.answers.asked`).
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from ironlace.evidence.analyses import AskedField, Declared, asked_fields, asked_from
from ironlace.survey.answers.asked import TakenForGranted, UnderTheories

FIELDS: tuple[AskedField, ...] = tuple(asked_fields(TakenForGranted))
_MOST_TYPED = 40
"""A number is shorter; what is longer was no answer to the question."""


@dataclass(frozen=True, slots=True)
class OddsAsked:
    """What a comparison is asked for: the theories, and those assumptions that were moved.

    `moved` holds what was typed, by name, where it differs from what usually stands there.
    """

    schemes: str = ""
    moved: Mapping[str, str] = field(default_factory=dict)

    @property
    def query(self) -> dict[str, str]:
        """The same as fields of an address or a form."""
        return {"schemes": self.schemes, **self.moved}

    def typed(self, name: str) -> str:
        """What stands in the field of an assumption."""
        return self.moved.get(name) or usual(next(f for f in FIELDS if f.name == name))

    def given(self, analysis: Declared) -> dict[str, str]:
        """What of it an analysis asks for, by field."""
        known = {one.name for one in asked_fields(analysis.asked)}
        return {name: text for name, text in self.query.items() if name in known}

    def read(self) -> UnderTheories:
        """The theories and assumptions asked for; raises AskedError."""
        return asked_from(UnderTheories, self.query)


def usual(one: AskedField) -> str:
    """What stands in a field unless it is moved, as typed."""
    return one.as_typed(one.default)


def asked_of(fields: Mapping[str, Any]) -> OddsAsked:
    """Read what is asked for from the fields of an address or a form; nothing is judged yet."""
    moved = {}
    for known in FIELDS:
        text = str(fields.get(known.name, "")).strip()[:_MOST_TYPED]
        if text and text != usual(known):
            moved[known.name] = text
    return OddsAsked(str(fields.get("schemes", "")), moved)
