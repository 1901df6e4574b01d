"""The account of a machine: what a page, printed or on a screen, has to say.

Everything here is text for people, already in words; only pictures are still files. Grades stay
grades, so that each page can show them in its own way, and names such as `photograph 12` stay
names, so that each page can link them.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from ironlace.dossier.account.blocks import (
    Block,
    DrawingShown,
    Item,
    MarkRow,
    PictureFile,
    Plate,
    Section,
    Tabular,
    all_blocks,
)
from ironlace.dossier.privacy import Withheld
from ironlace.evidence.grades import Grade
from ironlace.record.history import Record

__all__ = ["Account", "Colophon", "PictureFile", "Plate", "Section"]


@dataclass(frozen=True, slots=True)
class Colophon:
    """How this account came about, for whoever wants to check it.

    `let_out` and `kept_back` count the things that a person chose to let out, or to keep back,
    otherwise than is usual.
    """

    as_of: datetime | None
    changes: int
    last_change: datetime | None
    version: str
    findings: int
    fingerprint: str
    withheld: Withheld
    private: bool
    let_out: int = 0
    kept_back: int = 0


@dataclass(frozen=True, slots=True)
class Account:
    """The whole account of one machine; see `account.record_to_account.account_of`.

    Attributes
    ----------
    summary
        For the first page: topic, what is said of it, grade.
    first_mark
        The mark that stands on the first page, None when there is none.
    lead
        Name of the photograph on the first page, empty when none is at hand.
    sections
        In the order of reading; only those that hold something.
    absent
        Titles of the sections for which the record holds nothing.
    record
        What is accounted for: the public copy, unless the account is private.
    document
        The same as JSON values.
    """

    slug: str
    title: str
    summary: tuple[tuple[str, str, Grade], ...]
    first_mark: MarkRow | None
    lead: str
    sections: tuple[Section, ...]
    absent: tuple[str, ...]
    plates: tuple[Plate, ...]
    colophon: Colophon
    record: Record = field(repr=False)
    document: dict[str, Any] = field(repr=False)

    @property
    def plates_by_name(self) -> dict[str, Plate]:
        """Photographs by their name."""
        return {plate.name: plate for plate in self.plates}

    @property
    def drawings(self) -> tuple[DrawingShown, ...]:
        """The drawings, in order."""
        return tuple(block for block in self.blocks() if isinstance(block, DrawingShown))

    @property
    def anchors(self) -> frozenset[str]:
        """Names of the entries that can be pointed to."""
        names = {plate.name for plate in self.plates}
        for block in self.blocks():
            if isinstance(block, Item):
                names.add(block.name)
            elif isinstance(block, Tabular):
                names |= {row.name for row in block.rows if row.name}
        return frozenset(names)

    def section(self, key: str) -> Section | None:
        """The section of a key, None when the record holds nothing for it."""
        return next((section for section in self.sections if section.key == key), None)

    def blocks(self) -> Iterator[Block]:
        """Every block of every section, those within others too."""
        for section in self.sections:
            yield from all_blocks(section.blocks)
