"""An analysis worked out on a record, and what keeps it there."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from sqlalchemy.orm import Session

from ironlace import __version__
from ironlace.evidence.analyses import Declared
from ironlace.evidence.answers import Answer
from ironlace.evidence.findings import Checksums, Finding
from ironlace.workshop.store.folder import Workshop


@dataclass(frozen=True)
class WorkedOut:
    """An analysis worked out: what was asked, what came of it, from which inputs."""

    analysis: Declared
    asked: Any
    found: Any
    answer: Answer
    inputs: Checksums

    def finding(self) -> Finding:
        """The finding to keep.

        Raises IronlaceError when the answer holds no result.
        """
        return self.analysis.finding(self.asked, self.answer, self.inputs, __version__)


Keeper = Callable[[Workshop, Session, str, WorkedOut, str], str]
"""Keeps what was worked out, in a transaction, in a machine's record, by a hand; gives the name."""
