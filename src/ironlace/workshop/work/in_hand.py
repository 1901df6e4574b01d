"""A job in hand: what a task is given, and what it gives back.

The rooms that do the work know only this; the table of tasks (`tasks`) knows the rooms.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from sqlalchemy.orm import Session

from ironlace.evidence.errors import IronlaceError
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.work.jobs import Job
from ironlace.workshop.work.stages import Stages

Tell = Callable[[Session], dict[str, Any]]
"""What a task returns: it writes the result in the transaction that ends the job, and says it."""


@dataclass(frozen=True, slots=True)
class Work:
    """A job in hand: the workshop it is done in, what was asked, its kept stages."""

    workshop: Workshop
    job: Job
    stages: Stages

    @property
    def slug(self) -> str:
        """The machine whose record it is about.

        Raises IronlaceError when the job was asked for without one.
        """
        if self.job.slug is None:
            raise IronlaceError(f"The job '{self.job.task}' is about a machine: say which.")
        return self.job.slug


Task = Callable[[Work], Tell]
