"""The club's database: a list of changes that only grows, and what was sent in and waits.

Every row that a member adds bears a key that the member made before sending it. So what was sent
over a connection that broke is sent again as it is, and stands there once. A change says which one
it follows; of two that follow one, the database takes the first.
"""

import uuid
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Self

from sqlalchemy import Connection, and_, func, insert, inspect, select
from sqlalchemy.engine import URL
from sqlalchemy.exc import IntegrityError

from ironlace.evidence.errors import ConflictError, NotFoundError
from ironlace.evidence.markings import parse_marking
from ironlace.workshop.club.address import (
    ClubError,
    engine_on,
    said_plainly,
    without_password,
)
from ironlace.workshop.club.roles import Rights, grant, rights_of
from ironlace.workshop.club.tables import (
    ClubChangeRow,
    ClubRow,
    DecisionRow,
    OfferRow,
    ReportNumberRow,
    StandingRow,
)
from ironlace.workshop.club.told import offered_in
from ironlace.workshop.store.database import migrate

NEWEST_OF_CLUB = "0001"
_SCRIPTS = "ironlace.workshop.club:migrations"
_CLUB = 1
"""The number of the one row that says whose database it is."""
_NAMELESS = "Say what the club's survey is called: --title."
Told = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Club:
    """Whose survey it is."""

    uid: str
    title: str
    made_at: datetime


@dataclass(frozen=True, slots=True)
class ClubChange:
    """A change to a report; `told` is None where it was withdrawn."""

    number: int
    report: int
    after: int
    told: dict[str, Any] | None
    made_at: datetime
    made_by: str


@dataclass(frozen=True, slots=True)
class Offer:
    """What was sent in, and what became of it; `kept` is None while it waits."""

    number: int
    sent: str
    report: int | None
    after: int
    told: dict[str, Any] | None
    made_at: datetime
    made_by: str
    kept: bool | None = None
    reason: str = ""
    decided_by: str = ""
    became: int | None = None


class Ledger:
    """A club's database, as one member sees it.

    Raises LostError where the connection is lost: what was asked may have been done or not, and
    asking again with the same key does it once. Raises NotLetError where the database refuses.
    """

    def __init__(self, url: URL, *, makes: bool = False) -> None:
        self.url = url
        self._engine = engine_on(url, makes=makes)
        self._writer = self._engine.execution_options(ironlace_write=True)

    @classmethod
    def make(cls, url: URL, title: str) -> tuple["Ledger", dict[str, str]]:
        """Make a club's survey in an empty database, or bring an older one's tables up to date.

        Returns it and the names of its roles, none on SQLite. Who does this must own the database
        and may make roles.
        """
        if (
            not title.strip()
            and url.drivername == "sqlite"
            and not Path(str(url.database)).exists()
        ):
            raise ClubError(_NAMELESS)  # before there is a file
        ledger = cls(url, makes=True)
        try:
            return ledger, ledger._made(title)
        except BaseException:
            ledger.close()
            raise

    def _made(self, title: str) -> dict[str, str]:
        with said_plainly(self.url):
            if not inspect(self._engine).has_table(ClubRow.__tablename__) and not title.strip():
                raise ClubError(_NAMELESS)
            migrate(self._writer, scripts=_SCRIPTS)
        with self._writing() as connection:
            if connection.execute(select(ClubRow.uid)).first() is None:
                row = {"id": _CLUB, "uid": str(uuid.uuid4()), "title": title.strip()[:300]}
                connection.execute(insert(ClubRow).values(**row, made_at=datetime.now(UTC)))
            if connection.dialect.name == "sqlite":
                return {}
            return grant(connection, str(self.url.database))

    def close(self) -> None:
        """Let go of all connections."""
        self._engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        with said_plainly(self.url), self._engine.connect() as connection:
            yield connection

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        with said_plainly(self.url), self._writer.begin() as connection:
            yield connection

    def club(self) -> Club:
        """Whose survey it is.

        Raises ClubError when its tables are of another version.
        """
        with self._reading() as connection:
            if not inspect(connection).has_table(ClubRow.__tablename__):
                raise ClubError(
                    f"{self.in_words()} holds no club's survey yet: its keeper makes one with "
                    "'ironlace survey club make'."
                )
            at = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar_one()
            if at != NEWEST_OF_CLUB:
                newer = at > NEWEST_OF_CLUB
                who = (
                    "update Ironlace"
                    if newer
                    else "its keeper runs 'ironlace survey club make' again"
                )
                raise ClubError(f"The club's tables are of another version ({at}): {who}.")
            row = connection.execute(select(ClubRow.uid, ClubRow.title, ClubRow.made_at)).one()
            return Club(row.uid, row.title, row.made_at)

    def rights(self) -> Rights:
        """What this member may do."""
        with self._reading() as connection:
            return rights_of(connection)

    def by(self) -> str:
        """Under which name the database has this member."""
        return self.url.username or ""

    def changes_since(self, number: int) -> list[ClubChange]:
        """The last change of each report that was changed after a change, in their order."""
        query = (
            select(ClubChangeRow)
            .join(
                StandingRow,
                and_(
                    StandingRow.report == ClubChangeRow.report,
                    StandingRow.last_change == ClubChangeRow.number,
                ),
            )
            .where(ClubChangeRow.number > number)
            .order_by(ClubChangeRow.number)
        )
        with self._reading() as connection:
            return [_change(row._mapping) for row in connection.execute(query)]

    def history(self, report: int) -> list[ClubChange]:
        """Every change of one report, in order."""
        query = select(ClubChangeRow).where(ClubChangeRow.report == report)
        with self._reading() as connection:
            rows = connection.execute(query.order_by(ClubChangeRow.number))
            return [_change(row._mapping) for row in rows]

    def write(self, sent: str, told: Told | None, *, report: int | None, after: int) -> ClubChange:
        """Add a change, once for its key; a new report where `report` is None.

        Raises
        ------
        ConflictError
            When the report was changed after `after`; nothing is added.
        NotLetError
            When this member is no reviewer.
        """
        done = self._sent(sent)
        if done is not None:
            return done
        try:
            with self._writing() as connection:
                number = _number_for(connection, sent) if report is None else report
                self._add(connection, sent, number, after, told, None)
        except IntegrityError as error:
            return self._or_conflict(sent, report, error)
        written = self._sent(sent)
        assert written is not None
        return written

    def _or_conflict(self, sent: str, report: int | None, error: IntegrityError) -> ClubChange:
        """What was sent before over a broken connection; otherwise somebody was before us."""
        done = self._sent(sent)
        if done is not None:
            return done
        history = self.history(report) if report is not None else []
        if not history:
            raise NotFoundError(f"The club has no report {report}.") from error
        last = history[-1]
        raise ConflictError(
            f"{last.made_by or 'Somebody'} changed the club's report {report} meanwhile: look at "
            "it again, then make your change."
        ) from error

    def _add(
        self,
        connection: Connection,
        sent: str,
        report: int,
        after: int,
        told: Told | None,
        offer: int | None,
    ) -> None:
        row = {"sent": sent, "report": report, "after": after, "told": _plain(told)}
        connection.execute(
            insert(ClubChangeRow).values(**row, offer=offer, **self._by(connection)).inline()
        )

    def _by(self, connection: Connection) -> dict[str, str]:
        """PostgreSQL says itself who writes; SQLite knows nobody."""
        return {"made_by": self.by()} if connection.dialect.name == "sqlite" else {}

    def _sent(self, sent: str) -> ClubChange | None:
        with self._reading() as connection:
            row = connection.execute(
                select(ClubChangeRow).where(ClubChangeRow.sent == sent)
            ).one_or_none()
            return None if row is None else _change(row._mapping)

    def offer(self, sent: str, told: Told | None, *, report: int | None, after: int) -> None:
        """Send a report in, or a correction of one, once for its key; it waits for a reviewer."""
        with self._reading() as connection:
            known = select(OfferRow.number).where(OfferRow.sent == sent)
            if connection.execute(known).first() is not None:
                return
        try:
            with self._writing() as connection:
                row = {"sent": sent, "report": report, "after": after, "told": _plain(told)}
                connection.execute(insert(OfferRow).values(**row, **self._by(connection)).inline())
        except IntegrityError:
            with self._reading() as connection:
                if connection.execute(known).first() is None:
                    raise NotFoundError(f"The club has no report {report}.") from None

    def offers(self, sent: list[str] | None = None) -> list[Offer]:
        """What waits for a decision; or what became of what was sent under these keys."""
        decision, became = DecisionRow.__table__, ClubChangeRow.__table__
        query = (
            select(
                OfferRow,
                decision.c.kept,
                decision.c.reason,
                decision.c.made_by.label("decided_by"),
                became.c.report.label("became"),
            )
            .join(decision, decision.c.offer == OfferRow.number, isouter=True)
            .join(became, became.c.offer == OfferRow.number, isouter=True)
            .order_by(OfferRow.number)
        )
        if sent is None:
            query = query.where(decision.c.number.is_(None))
        else:
            query = query.where(OfferRow.sent.in_(sent))
        with self._reading() as connection:
            return [_offer(row._mapping) for row in connection.execute(query)]

    def decide(
        self, number: int, *, kept: bool, reason: str = "", told: Told | None = None
    ) -> ClubChange | None:
        """Decide on what was sent in; return the change that it became, None when turned down.

        Parameters
        ----------
        told
            What is kept instead of what was sent, such as a second sighting of a known machine.

        Raises
        ------
        ConflictError
            When another reviewer decided before, or the report it corrects was changed since.
        NotFoundError
            When there is no such offer.
        """
        if not kept and not reason.strip():
            raise ClubError("Say why it is turned down: the sender is told the reason.")
        offer = self._offer(number)
        # decided twice by one reviewer over a broken connection it is still one change
        sent = str(uuid.uuid5(uuid.UUID(offer.sent), "kept"))
        try:
            with self._writing() as connection:
                made = {"offer": number, "kept": kept, "reason": reason.strip()}
                connection.execute(
                    insert(DecisionRow).values(**made, **self._by(connection)).inline()
                )
                if kept:
                    report = offer.report or _number_for(connection, sent)
                    now = self._with_number(offer.told if told is None else told)
                    self._add(connection, sent, report, offer.after, now, number)
        except IntegrityError as error:
            raise self._decided(number, offer) from error
        return self._sent(sent) if kept else None

    def reviewed(
        self,
        number: int,
        *,
        kept: bool,
        reason: str = "",
        reads: str = "",
        same_as: int | None = None,
    ) -> ClubChange | None:
        """Decide on what was sent in as a reviewer says it; return the change that it became.

        Parameters
        ----------
        reads, same_as
            What its number reads where the reviewer reads more, and the club's report of the same
            machine: of what is kept.

        Raises
        ------
        IronlaceError
            As `decide` and `offered_as` do.
        """
        told = None
        if kept and (same_as is not None or reads):
            told = self.offered_as(number, reads=reads, same_as=same_as)
        return self.decide(number, kept=kept, reason=reason, told=told)

    def offered_as(self, number: int, *, reads: str = "", same_as: int | None = None) -> Told:
        """What was sent in, read otherwise or as a second sighting of one of the club's reports.

        Raises
        ------
        MarkingError
            When the number does not read.
        NotFoundError
            When there is no such offer, or no such report.
        """
        offer = self._offer(number)
        told = dict(offer.told or {})
        if reads:
            told["reads"] = str(parse_marking(reads))
        if same_as is not None:
            self.standing(same_as)
            told |= {"same_as": str(same_as), "counts": False}
        return told

    def _offer(self, number: int) -> Offer:
        with self._reading() as connection:
            row = connection.execute(select(OfferRow).where(OfferRow.number == number)).first()
        if row is None:
            raise NotFoundError(f"Nothing was sent in under the number {number}.")
        return _offer(row._mapping)

    def _with_number(self, told: Told | None) -> Told | None:
        """What is kept, with the club's number of a report that was sent in before it."""
        named = None if told is None else offered_in(told)
        if told is None or named is None:
            return told
        first = next(iter(self.offers([named])), None)
        if first is not None and first.kept is None:
            raise ConflictError(
                f"It is a second sighting of what was sent in as {first.number}: decide on that "
                "first."
            )
        became = None if first is None else first.became
        return {**told, "same_as": "" if became is None else str(became)}

    def _decided(self, number: int, offer: Offer) -> ConflictError:
        (now,) = self.offers([offer.sent])
        if now.kept is not None:
            verb = "kept" if now.kept else "turned down"
            return ConflictError(
                f"{now.decided_by or 'Somebody'} decided on {number} before: it was {verb}."
            )
        return ConflictError(
            f"The club's report {offer.report} was changed since {number} was sent in: look at it "
            "again; turn this down, or make the change yourself."
        )

    def standing(self, report: int) -> dict[str, Any] | None:
        """What a report says now; None when it is withdrawn.

        Raises NotFoundError when there is none of that number.
        """
        query = select(StandingRow.told).where(StandingRow.report == report)
        with self._reading() as connection:
            row = connection.execute(query).first()
            if row is None:
                raise NotFoundError(f"The club has no report {report}.")
            return None if row.told is None else dict(row.told)

    def how_many(self) -> tuple[int, int]:
        """How many reports stand, and the number of the last change."""
        query = select(
            func.count().filter(StandingRow.told.is_not(None)), func.max(StandingRow.last_change)
        ).select_from(StandingRow)
        with self._reading() as connection:
            stand, last = connection.execute(query).one()
            return stand, last or 0

    @contextmanager
    def rows(self, query: Any) -> Iterator[Iterator[Any]]:
        """The rows of a question, drawn a part at a time."""
        with self._reading() as connection:
            parts = connection.execution_options(stream_results=True, yield_per=5000)
            yield iter(parts.execute(query))

    def in_words(self) -> str:
        """Its address without a password."""
        return without_password(self.url)


def _number_for(connection: Connection, sent: str) -> int:
    """The number of a new report: the same again for the same key."""
    known = select(ReportNumberRow.number).where(ReportNumberRow.sent == sent)
    number = connection.execute(known).scalar()
    if number is None:
        connection.execute(insert(ReportNumberRow).values(sent=sent).inline())
        number = connection.execute(known).scalar_one()
    return int(number)


def _plain(told: Told | None) -> dict[str, Any] | None:
    return None if told is None else dict(told)


def _moment(text: str) -> datetime:
    return datetime.fromisoformat(text)


def _change(row: Any) -> ClubChange:
    return ClubChange(
        row["number"],
        row["report"],
        row["after"],
        row["told"],
        _moment(row["made_at"]),
        row["made_by"],
    )


def _offer(row: Any) -> Offer:
    return Offer(
        row["number"],
        row["sent"],
        row["report"],
        row["after"],
        row["told"],
        _moment(row["made_at"]),
        row["made_by"],
        row.get("kept"),
        row.get("reason") or "",
        row.get("decided_by") or "",
        row.get("became"),
    )
