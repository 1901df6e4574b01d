"""Where a statement comes from."""

from enum import StrEnum
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field


class SourceKind(StrEnum):
    """What sort of thing vouches for a statement."""

    OBJECT = "object"
    PHOTOGRAPH = "photograph"
    INSTRUMENT = "instrument"
    SPECIMEN = "other specimen"
    DOCUMENT = "document"
    PERSON = "person"
    COMPUTATION = "computation"
    PRACTICE = "common practice"


class Source(BaseModel):
    """A pointer to what vouches for a statement.

    `entry` names an entry of the same record (a photograph, a document) when there is one; `says`
    gives the place in it or the words; both may be given.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    kind: SourceKind
    entry: Annotated[str, Field(max_length=80)] | None = None
    says: Annotated[str, Field(max_length=2000)] = ""

    def in_words(self) -> str:
        """The source as a short phrase."""
        named = f"{self.kind.value} {self.entry}" if self.entry else self.kind.value
        return f"{named}: {self.says}" if self.says else named
