"""The club's tables. Rows are only ever added, but for `standing`, which the database itself keeps.

Their history is in `migrations/`, run on PostgreSQL and SQLite alike; a test holds both together.
"""

from datetime import datetime
from typing import Any

from sqlalchemy import (
    JSON,
    BigInteger,
    Boolean,
    ForeignKey,
    Index,
    Integer,
    String,
    Text,
    UniqueConstraint,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

from ironlace.workshop.store.tables import UtcMoment

BigNumber = BigInteger().with_variant(Integer(), "sqlite")
"""A number that SQLite gives out by itself only where its column is called INTEGER."""


class ClubTable(DeclarativeBase):
    """The parent of the club's tables."""


class ClubRow(ClubTable):
    """Whose database it is: one row."""

    __tablename__ = "club"

    id: Mapped[int] = mapped_column(primary_key=True)
    uid: Mapped[str] = mapped_column(String(36))
    title: Mapped[str] = mapped_column(String(300))
    made_at: Mapped[datetime] = mapped_column(UtcMoment())


class ReportNumberRow(ClubTable):
    """A number given to a report, for good; what was sent under one key gets one number."""

    __tablename__ = "report_number"

    number: Mapped[int] = mapped_column(BigNumber, primary_key=True, autoincrement=True)
    sent: Mapped[str] = mapped_column(String(36), unique=True)


class OfferRow(ClubTable):
    """What a member sent in: it waits, and counts nowhere, until a reviewer has decided.

    `report` is the report that it would correct, None for a new one; `after` the last change of it
    that the member had seen.
    """

    __tablename__ = "offer"

    number: Mapped[int] = mapped_column(BigNumber, primary_key=True, autoincrement=True)
    sent: Mapped[str] = mapped_column(String(36), unique=True)
    report: Mapped[int | None] = mapped_column(ForeignKey("report_number.number"))
    after: Mapped[int] = mapped_column(BigInteger())
    told: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))
    made_at: Mapped[str] = mapped_column(String(32))
    made_by: Mapped[str] = mapped_column(String(200))


class ClubChangeRow(ClubTable):
    """A change to one report of the club. Each follows the one before it: two cannot follow one.

    `number`, `made_at` and `made_by` are written by the database, not by who sends it. `told` is
    None where the report was withdrawn.
    """

    __tablename__ = "club_change"
    __table_args__ = (UniqueConstraint("report", "after"),)

    number: Mapped[int] = mapped_column(BigNumber, primary_key=True, autoincrement=True)
    sent: Mapped[str] = mapped_column(String(36), unique=True)
    report: Mapped[int] = mapped_column(ForeignKey("report_number.number"))
    after: Mapped[int] = mapped_column(BigInteger())
    offer: Mapped[int | None] = mapped_column(ForeignKey("offer.number"))
    told: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))
    made_at: Mapped[str] = mapped_column(String(32))
    made_by: Mapped[str] = mapped_column(String(200))


class DecisionRow(ClubTable):
    """What a reviewer decided on what was sent in: once for each."""

    __tablename__ = "decision"

    number: Mapped[int] = mapped_column(BigNumber, primary_key=True, autoincrement=True)
    offer: Mapped[int] = mapped_column(ForeignKey("offer.number"), unique=True)
    kept: Mapped[bool] = mapped_column(Boolean())
    reason: Mapped[str] = mapped_column(Text())
    made_at: Mapped[str] = mapped_column(String(32))
    made_by: Mapped[str] = mapped_column(String(200))


class StandingRow(ClubTable):
    """A report as it stands: the fold of its changes, kept by the database's own trigger.

    What is grouped when reports are counted stands in columns; `told` is the whole.
    """

    __tablename__ = "standing"
    __table_args__ = (Index("standing_changed", "last_change"),)

    report: Mapped[int] = mapped_column(
        ForeignKey("report_number.number"), primary_key=True, autoincrement=False
    )
    last_change: Mapped[int] = mapped_column(BigInteger())
    reads: Mapped[str | None] = mapped_column(Text())
    strings: Mapped[str | None] = mapped_column(Text())
    how: Mapped[str | None] = mapped_column(Text())
    dated_is: Mapped[str | None] = mapped_column(Text())
    dated: Mapped[str | None] = mapped_column(Text())
    variant: Mapped[str | None] = mapped_column(Text())
    same_as: Mapped[str | None] = mapped_column(Text())
    counts: Mapped[bool] = mapped_column(Boolean())
    told: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))
