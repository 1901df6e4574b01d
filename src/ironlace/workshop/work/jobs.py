"""Long jobs: asked for in the database, done by worker processes, resumed after a crash.

A job is a row. A worker claims it by writing its own name and a heartbeat into the row; a job whose
heartbeat has stopped is free to be claimed again, and goes on from the last stage that was kept
(`Stages`). Whatever a job adds to a record, it adds in the transaction that ends the job, so a job
that is done twice by mischance still tells its result once.
"""

import os
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from typing import Any

from sqlalchemy import and_, case, or_, select, update
from sqlalchemy.orm import Session

from ironlace.evidence.errors import ConflictError, NotFoundError
from ironlace.workshop.store.database import Database
from ironlace.workshop.store.tables import JobRow, RecordRow

BEAT_S = 2.0
"""How often a worker says that it is still at its job."""
_SILENT_S = 12.0
"""A worker silent for six beats is gone, and its job is free; fewer would take jobs from a worker
on a machine that is short of memory. A judgement."""
MAX_CRASHES = 3  # deaths of a worker at one job, with no progress in between


class JobState(StrEnum):
    """Where a job stands."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    STOPPED = "stopped"

    @property
    def ended(self) -> bool:
        """Whether nothing more will come of it."""
        return self in (JobState.DONE, JobState.FAILED, JobState.STOPPED)


class JobStoppedError(Exception):
    """Raised inside a job when someone stopped it or another worker took it over."""


@dataclass(frozen=True, slots=True)
class Job:
    """A job as it stands.

    `fraction` is 0 to 1 over the whole job; `error` is a sentence for a person.
    """

    id: int
    slug: str | None
    task: str
    asked: dict[str, Any]
    state: JobState
    stage: str
    fraction: float
    result: dict[str, Any] | None
    error: str
    made_at: datetime
    ended_at: datetime | None


class Jobs:
    """Asking for jobs and following them."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def ask(self, task: str, asked: dict[str, Any], slug: str | None = None) -> int:
        """Ask for a job; return its number. It waits until a worker is free."""
        with self._database.writing() as session:
            row = JobRow(
                record_id=_record_id(session, slug), task=task, asked=asked, made_at=_now()
            )
            session.add(row)
            session.flush()
            return row.id

    def get(self, number: int) -> Job:
        """Return a job.

        Raises NotFoundError when there is none of that number.
        """
        with self._database.reading() as session:
            return _job(session, _found(session, number))

    def of_record(self, slug: str | None, count: int = 20) -> list[Job]:
        """Return the last jobs of a record, or of the workshop itself, newest first."""
        with self._database.reading() as session:
            query = (
                select(JobRow)
                .where(JobRow.record_id == _record_id(session, slug))
                .order_by(JobRow.id.desc())
                .limit(count)
            )
            return [_job(session, row) for row in session.scalars(query)]

    def stop(self, number: int) -> None:
        """Stop a job that has not ended; a worker at it notices at its next report."""
        with self._database.writing() as session:
            row = _found(session, number)
            if JobState(row.state).ended:
                raise ConflictError(f"Job {number} has ended already ({row.state}).")
            row.state, row.ended_at = JobState.STOPPED, _now()

    def put_away(self, number: int) -> None:
        """Let a job that failed no longer be told of as under way; it can still start again."""
        with self._database.writing() as session:
            row = _found(session, number)
            if row.state != JobState.FAILED:
                raise ConflictError(f"Job {number} is {row.state}: only a failed one is put away.")
            row.state = JobState.STOPPED

    def again(self, number: int) -> None:
        """Let a job that failed or was stopped wait for a worker once more."""
        with self._database.writing() as session:
            row = _found(session, number)
            if row.state not in (JobState.FAILED, JobState.STOPPED):
                raise ConflictError(
                    f"Job {number} is {row.state}: only a stopped one starts again."
                )
            row.state, row.error, row.crashes = JobState.WAITING, "", 0
            row.fraction = 0.0
            row.beat_at = row.ended_at = None

    def claim(self, worker: str) -> Job | None:
        """Take the oldest job that waits, or whose worker has gone silent; None if none does."""
        now, silence = _now(), timedelta(seconds=_SILENT_S)
        # a beat from the future was written before the clock was set back: nobody beats there now
        gone = or_(JobRow.beat_at < now - silence, JobRow.beat_at > now + silence)
        free = or_(JobRow.state == JobState.WAITING, and_(JobRow.state == JobState.RUNNING, gone))
        with self._database.reading() as session:  # a look costs no write lock
            if session.scalar(select(JobRow.id).where(free).limit(1)) is None:
                return None
        with self._database.writing() as session:
            row = session.scalar(select(JobRow).where(free).order_by(JobRow.id).limit(1))
            if row is None:
                return None
            row.state, row.worker, row.beat_at = JobState.RUNNING, worker, _now()
            return _job(session, row)

    def report(self, number: int, worker: str, stage: str, fraction: float) -> None:
        """Write how far a job has come, which is also its heartbeat.

        How far it has ever come is what is kept, so that a job begun again is not shown to go
        backwards; coming farther forgets the crashes before.

        Raises JobStoppedError when the job is no longer this worker's to do.
        """
        reached = min(max(fraction, 0.0), 1.0)
        farther = JobRow.fraction < reached
        self._touch(
            number,
            worker,
            stage=stage,
            fraction=case((farther, reached), else_=JobRow.fraction),
            crashes=case((farther, 0), else_=JobRow.crashes),
        )

    def beat(self, number: int, worker: str) -> None:
        """Say that the worker is still at it."""
        self._touch(number, worker)

    def finish(
        self,
        number: int,
        worker: str,
        tell: Callable[[Session], dict[str, Any]],
    ) -> None:
        """End a job, with what it adds to the record, in one transaction.

        `tell` writes what the job adds and returns the job's result.
        """
        with self._database.writing() as session:
            row = _found(session, number)
            if row.state != JobState.RUNNING or row.worker != worker:
                raise JobStoppedError(f"job {number} was taken away")
            row.result = tell(session)
            row.state, row.fraction, row.ended_at = JobState.DONE, 1.0, _now()

    def fail(self, number: int, worker: str, error: str) -> None:
        """End a job that cannot be done, with a sentence that says why."""
        with self._database.writing() as session:
            row = _found(session, number)
            if row.state == JobState.RUNNING and row.worker == worker:
                row.state, row.error, row.ended_at = JobState.FAILED, error, _now()

    def crashed(self, worker: str, *, counts: bool = True) -> None:
        """Free the jobs of a worker that died by itself; give up one that kills its workers.

        A job that was cut short because the whole program was killed does not count as having
        crashed: nobody was left to call this. Nor does one whose worker somebody ended (`counts`
        is False then).
        """
        with self._database.writing() as session:
            query = select(JobRow).where(JobRow.worker == worker, JobRow.state == JobState.RUNNING)
            for row in session.scalars(query):
                row.crashes += 1 if counts else 0
                if row.crashes >= MAX_CRASHES:
                    row.state, row.ended_at = JobState.FAILED, _now()
                    row.error = (
                        f"The worker died {row.crashes} times at this job: try a smaller picture."
                    )
                else:
                    row.state, row.worker, row.beat_at = JobState.WAITING, "", None

    def _touch(self, number: int, worker: str, **values: Any) -> None:
        ours = and_(JobRow.id == number, JobRow.worker == worker, JobRow.state == JobState.RUNNING)
        with self._database.writing() as session:
            query = update(JobRow).where(ours).values(beat_at=_now(), **values)
            if session.execute(query.returning(JobRow.id)).first() is None:
                raise JobStoppedError(f"job {number} was stopped or taken over")


def worker_name() -> str:
    """Return a name for this process that no other worker has had."""
    return f"{os.getpid()}-{uuid.uuid4().hex[:12]}"


def _found(session: Session, number: int) -> JobRow:
    row = session.get(JobRow, number)
    if row is None:
        raise NotFoundError(f"There is no job {number} in this workshop.")
    return row


def _record_id(session: Session, slug: str | None) -> int | None:
    if slug is None:
        return None
    found = session.scalar(select(RecordRow.id).where(RecordRow.slug == slug))
    if found is None:
        raise NotFoundError(f"There is no machine '{slug}' in this workshop.")
    return found


def _job(session: Session, row: JobRow) -> Job:
    slug = None
    if row.record_id is not None:
        slug = session.scalar(select(RecordRow.slug).where(RecordRow.id == row.record_id))
    return Job(
        row.id,
        slug,
        row.task,
        dict(row.asked),
        JobState(row.state),
        row.stage,
        row.fraction,
        row.result,
        row.error,
        row.made_at,
        row.ended_at,
    )


def _now() -> datetime:
    return datetime.now(UTC)
