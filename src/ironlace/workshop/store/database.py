"""The database: SQLite in WAL mode behind SQLAlchemy, brought up to date by Alembic."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.orm import Session

from ironlace.evidence.errors import IronlaceError

NEWEST = "0003"
_WAIT_MS = 30_000
"""How long a writer waits for another: longer than any transaction of ours takes, and short enough
for a person to wait. A judgement."""


class DatabaseError(IronlaceError):
    """The database cannot be opened as it is."""


class Database:
    """Connections to one workshop's database.

    Reading takes a snapshot; writing takes the one write lock at its beginning, so that a
    transaction which has begun can be finished and never fails half-way on a busy database.
    """

    def __init__(self, file: Path) -> None:
        self.file = file
        self._engine = _engine(f"sqlite:///{file.as_posix()}")
        self._writer = self._engine.execution_options(ironlace_write=True)

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """Open a session on a consistent snapshot; nothing written in it is kept."""
        with Session(self._engine, autoflush=False) as session:
            yield session  # closing rolls back, and leaves what was read usable

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """Open a session that holds the write lock; all or nothing is kept."""
        with Session(self._writer) as session, session.begin():
            yield session

    def bring_up_to_date(self) -> None:
        """Run the migrations that are missing, after keeping a copy of an older database.

        Raises DatabaseError when the database is newer than this program or is not ours.
        """
        at = _revision_of(self.file)
        if at == NEWEST:
            return
        if at is not None:
            copy_database(self.file, self.file.with_suffix(f".before-{NEWEST}.sqlite"))
        from alembic import command
        from alembic.config import Config
        from alembic.util.exc import CommandError

        config = Config()
        config.set_main_option("script_location", "ironlace.workshop.store:migrations")
        with self._writer.begin() as connection:
            config.attributes["connection"] = connection
            try:
                command.upgrade(config, "head")
            except CommandError as error:
                raise DatabaseError(
                    f"{self.file.name} was written by a newer Ironlace (tables '{at}'): "
                    "update Ironlace, then open it again."
                ) from error

    def close(self) -> None:
        """Let go of all connections."""
        self._engine.dispose()


def copy_database(file: Path, to: Path) -> None:
    """Copy a database consistently while others read and write it (SQLite's online backup)."""
    with (
        closing(sqlite3.connect(file, timeout=_WAIT_MS / 1000)) as source,
        closing(sqlite3.connect(to)) as target,
    ):
        source.backup(target)
        target.execute("PRAGMA journal_mode=DELETE")


def _engine(url: str) -> Engine:
    engine = create_engine(url, connect_args={"timeout": _WAIT_MS / 1000})

    @event.listens_for(engine, "connect")
    def _prepare(connection: Any, _record: Any) -> None:
        connection.isolation_level = None  # we say BEGIN ourselves, below
        for pragma in (
            f"busy_timeout={_WAIT_MS}",
            "journal_mode=WAL",
            "synchronous=FULL",  # a confirmed fact outlives a power cut, not only a crash
            "foreign_keys=ON",
        ):
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get("ironlace_write", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _revision_of(file: Path) -> str | None:
    """Read which migration a database is at, without loading Alembic; None for a new one."""
    if not file.exists() or file.stat().st_size == 0:
        return None
    try:
        with closing(sqlite3.connect(file, timeout=_WAIT_MS / 1000)) as connection:
            names = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
            if "alembic_version" not in names:
                if names:
                    raise DatabaseError(
                        f"{file.name} is a database, but not a workshop's: choose another folder."
                    )
                return None
            row = connection.execute("SELECT version_num FROM alembic_version").fetchone()
    except sqlite3.DatabaseError as error:
        raise DatabaseError(
            f"{file.name} cannot be read as a database ({error}): restore a backup."
        ) from error
    return str(row[0]) if row else None
