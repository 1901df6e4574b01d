"""The tables. Their history is in `migrations/`; a test holds the two together."""

from datetime import UTC, datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import JSON, ForeignKey, Index, String, Text, UniqueConstraint
from sqlalchemy.engine import Dialect
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column
from sqlalchemy.types import TypeDecorator


class UtcMoment(TypeDecorator[datetime]):
    """A moment in UTC as ISO 8601 text: sorts as it reads, and means the same everywhere."""

    impl = String(32)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> str | None:  # noqa: ARG002
        """Write a moment; one without a time zone is refused."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a moment needs its time zone")
        return value.astimezone(UTC).isoformat(timespec="microseconds")

    def process_result_value(self, value: str | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Read a moment."""
        return None if value is None else datetime.fromisoformat(value)


class Table(DeclarativeBase):
    """The parent of all tables."""


class RecordKind(StrEnum):
    """What a record is of."""

    MACHINE = "machine"
    SURVEY = "survey"


class RecordRow(Table):
    """A record: one machine, or one survey of the reports of others."""

    __tablename__ = "record"

    id: Mapped[int] = mapped_column(primary_key=True)
    slug: Mapped[str] = mapped_column(String(80), unique=True)
    title: Mapped[str] = mapped_column(String(300))
    made_at: Mapped[datetime] = mapped_column(UtcMoment())
    kind: Mapped[str] = mapped_column(String(12), default=RecordKind.MACHINE.value)


class SurveyLinkRow(Table):
    """From when on a machine has a survey. Rows are only ever added; the last one holds.

    `own_report` is the number of the report by which the survey's other machines know this one.
    """

    __tablename__ = "survey_link"
    __table_args__ = (Index("survey_link_of_record", "record_id"),)

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=True)
    record_id: Mapped[int] = mapped_column(ForeignKey("record.id"))
    survey_id: Mapped[int] = mapped_column(ForeignKey("record.id"))
    own_report: Mapped[int | None]
    made_at: Mapped[datetime] = mapped_column(UtcMoment())
    made_by: Mapped[str] = mapped_column(String(200), default="")


class ReleaseRow(Table):
    """A release of a survey, frozen. Rows are only ever added."""

    __tablename__ = "release"
    __table_args__ = (UniqueConstraint("survey_id", "number"),)

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=True)
    survey_id: Mapped[int] = mapped_column(ForeignKey("record.id"))
    number: Mapped[int]
    last_change: Mapped[int]
    released: Mapped[dict[str, Any]] = mapped_column(JSON())
    sha256: Mapped[str] = mapped_column(String(64))
    made_at: Mapped[datetime] = mapped_column(UtcMoment())
    made_by: Mapped[str] = mapped_column(String(200), default="")


class PutAwayRow(Table):
    """A record put away, such as one made by a slip, or brought back. Rows are only ever added."""

    __tablename__ = "put_away"

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=True)
    record_id: Mapped[int] = mapped_column(ForeignKey("record.id"))
    away: Mapped[bool]
    made_at: Mapped[datetime] = mapped_column(UtcMoment())
    made_by: Mapped[str] = mapped_column(String(200), default="")


class ChangeRow(Table):
    """A change to one entry. Rows are only ever added."""

    __tablename__ = "change"
    __table_args__ = (
        Index("change_of_entry", "record_id", "kind", "key"),
        Index("change_through", "through"),
    )

    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=True)
    record_id: Mapped[int] = mapped_column(ForeignKey("record.id"))
    kind: Mapped[str] = mapped_column(String(20))
    key: Mapped[int]
    entry: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))
    made_at: Mapped[datetime] = mapped_column(UtcMoment())
    made_by: Mapped[str] = mapped_column(String(200), default="")
    undoes: Mapped[int | None] = mapped_column(ForeignKey("change.number"))
    through: Mapped[int | None]
    """The machine's record through which a report came into a survey: its names are of that one."""


class EntryRow(Table):
    """An entry as it stands now: the fold of its changes, kept so that a page opens fast."""

    __tablename__ = "entry"
    __table_args__ = (UniqueConstraint("record_id", "kind", "key"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    record_id: Mapped[int] = mapped_column(ForeignKey("record.id"))
    kind: Mapped[str] = mapped_column(String(20))
    key: Mapped[int]
    first_change: Mapped[int] = mapped_column(ForeignKey("change.number"))
    last_change: Mapped[int] = mapped_column(ForeignKey("change.number"))
    entry: Mapped[dict[str, Any]] = mapped_column(JSON())


class OriginalRow(Table):
    """A file in the store, by its SHA-256."""

    __tablename__ = "original"

    sha256: Mapped[str] = mapped_column(String(64), primary_key=True)
    size: Mapped[int]
    suffix: Mapped[str] = mapped_column(String(8))
    media_type: Mapped[str] = mapped_column(String(60))
    width: Mapped[int | None]
    height: Mapped[int | None]
    focal_mm: Mapped[float | None]
    focal_35mm: Mapped[float | None]
    taken: Mapped[str | None] = mapped_column(String(40))
    came_as: Mapped[str] = mapped_column(String(300))
    added_at: Mapped[datetime] = mapped_column(UtcMoment())


class JobRow(Table):
    """A long job: what is asked, how far it has come, what came of it."""

    __tablename__ = "job"
    __table_args__ = (Index("job_by_state", "state"),)

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=True)
    record_id: Mapped[int | None] = mapped_column(ForeignKey("record.id"))
    task: Mapped[str] = mapped_column(String(40))
    asked: Mapped[dict[str, Any]] = mapped_column(JSON())
    state: Mapped[str] = mapped_column(String(12), default="waiting")
    stage: Mapped[str] = mapped_column(String(120), default="")
    fraction: Mapped[float] = mapped_column(default=0.0)
    result: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))
    error: Mapped[str] = mapped_column(Text, default="")
    crashes: Mapped[int] = mapped_column(default=0)
    worker: Mapped[str] = mapped_column(String(80), default="")
    made_at: Mapped[datetime] = mapped_column(UtcMoment())
    beat_at: Mapped[datetime | None] = mapped_column(UtcMoment())
    ended_at: Mapped[datetime | None] = mapped_column(UtcMoment())


class HandChangeRow(Table):
    """A change by hand to a drawing on the bench, until the drawing is kept or given up."""

    __tablename__ = "hand_change"
    __table_args__ = (Index("hand_change_of_drawing", "record_id", "drawing"),)

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=True)
    record_id: Mapped[int] = mapped_column(ForeignKey("record.id"))
    drawing: Mapped[int]
    svg: Mapped[str] = mapped_column(String(64))
    asked: Mapped[dict[str, Any]] = mapped_column(JSON())
    change: Mapped[dict[str, Any]] = mapped_column(JSON())
    taken_back: Mapped[bool] = mapped_column(default=False)
    made_at: Mapped[datetime] = mapped_column(UtcMoment())
    made_by: Mapped[str] = mapped_column(String(200), default="")


class LensRow(Table):
    """A lens that was measured with the chart."""

    __tablename__ = "lens"

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=True)
    name: Mapped[str] = mapped_column(String(120))
    focal_35mm: Mapped[float | None]
    told: Mapped[dict[str, Any]] = mapped_column(JSON())
    report: Mapped[dict[str, Any]] = mapped_column(JSON())
    made_at: Mapped[datetime] = mapped_column(UtcMoment())


class ReceiptRow(Table):
    """What was sent by a device under a key of its own, and the entry it became: see `receipts`."""

    __tablename__ = "receipt"

    key: Mapped[str] = mapped_column(String(64), primary_key=True)
    record_id: Mapped[int] = mapped_column(ForeignKey("record.id"))
    sha256: Mapped[str] = mapped_column(String(64))
    entry: Mapped[str] = mapped_column(String(40))
    again: Mapped[bool]
    made_at: Mapped[datetime] = mapped_column(UtcMoment())


class LeavingRow(Table):
    """What a person said is to leave, or to stay. Rows are only ever added."""

    __tablename__ = "leaving"
    __table_args__ = (Index("leaving_of_record", "record_id", "audience"),)

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=True)
    record_id: Mapped[int] = mapped_column(ForeignKey("record.id"))
    audience: Mapped[str] = mapped_column(String(20))
    said: Mapped[dict[str, Any]] = mapped_column(JSON())
    made_at: Mapped[datetime] = mapped_column(UtcMoment())
    made_by: Mapped[str] = mapped_column(String(200), default="")


class ClubLinkRow(Table):
    """That a survey is kept together with a club, until it was left; see `workshop.club`.

    `key` is this workshop's own, from which the keys of what it sends are made; `seen_to` the
    club's last change that was taken in here. The address holds no password.
    """

    __tablename__ = "club_link"

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=True)
    survey_id: Mapped[int] = mapped_column(ForeignKey("record.id"))
    address: Mapped[str] = mapped_column(String(500))
    club: Mapped[str] = mapped_column(String(36))
    title: Mapped[str] = mapped_column(String(300))
    key: Mapped[str] = mapped_column(String(36))
    seen_to: Mapped[int] = mapped_column(default=0)
    exchanged_at: Mapped[datetime | None] = mapped_column(UtcMoment())
    left_at: Mapped[datetime | None] = mapped_column(UtcMoment())
    made_at: Mapped[datetime] = mapped_column(UtcMoment())
    made_by: Mapped[str] = mapped_column(String(200), default="")


class ClubReportRow(Table):
    """Which report here is which of the club's, and what the club's said when it was last seen."""

    __tablename__ = "club_report"
    __table_args__ = (UniqueConstraint("link_id", "key"),)

    link_id: Mapped[int] = mapped_column(ForeignKey("club_link.id"), primary_key=True)
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    key: Mapped[int]
    last_change: Mapped[int]
    told: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))


class ClubSentRow(Table):
    """What was sent in and waits for the club's reviewers, or what came of it."""

    __tablename__ = "club_sent"

    sent: Mapped[str] = mapped_column(String(36), primary_key=True)
    link_id: Mapped[int] = mapped_column(ForeignKey("club_link.id"))
    key: Mapped[int]
    change: Mapped[int]
    came_of: Mapped[str] = mapped_column(String(20))
    says: Mapped[str] = mapped_column(Text, default="")
    made_at: Mapped[datetime] = mapped_column(UtcMoment())
