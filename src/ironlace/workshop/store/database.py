"""The database: SQLite in WAL mode behind SQLAlchemy, brought up to date by Alembic."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import quote

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.orm import Session

from ironlace.evidence.errors import ConflictError, IronlaceError
from ironlace.workshop.store.faults import NotNowError, in_words

NEWEST = "0007"
_BEFORE_SURVEYS = "0005"
_SCRIPTS = "ironlace.workshop.store:migrations"
_WAIT_MS = 8_000
"""How long a writer waits for another: longer than any transaction of ours takes, and short enough
for a person to wait. A judgement."""


class DatabaseError(IronlaceError):
    """The database cannot be opened as it is."""


class Database:
    """Connections to one workshop's database.

    Reading takes a snapshot; writing takes the one write lock at its beginning, so that a
    transaction which has begun can be finished and never fails half-way on a busy database.

    Parameters
    ----------
    file
        It must be there, unless it is to be made (``makes``): a database that SQLite makes anew
        where one was moved away would take in what belongs to the other.
    read_only
        Nothing is written beside it either; for a copy that nobody else writes.
    """

    def __init__(self, file: Path, *, makes: bool = False, read_only: bool = False) -> None:
        self.file = file
        self.read_only = read_only
        self._makes = makes
        self._engine = sqlite_engine(file, "rwc" if makes else "rw", read_only=read_only)
        self._writer = self._engine.execution_options(ironlace_write=True)
        self._was = _identity(file)

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """Open a session on a consistent snapshot; nothing written in it is kept.

        Raises NotNowError when the file was moved or put in another's place meanwhile.
        """
        self._must_be_where_it_was()
        with Session(self._engine, autoflush=False) as session:
            yield session  # closing rolls back, and leaves what was read usable

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """Open a session that holds the write lock; all or nothing is kept.

        Raises NotNowError when it can only be read, or the file is no longer where it was.
        """
        if self.read_only:
            raise NotNowError(
                "This workshop can only be looked at here, since its folder does not let itself be "
                "written to: copy it to a disk you can write on."
            )
        self._must_be_where_it_was()
        with Session(self._writer) as session, session.begin():
            yield session
            session.flush()
            self._must_be_where_it_was()  # a move while it was written is told, and not kept

    def _must_be_where_it_was(self) -> None:
        if self._makes:
            return
        if self._was is None or _identity(self.file) != self._was:
            raise NotNowError(
                f"The workshop is no longer at {self.file.parent}: its folder was moved, deleted "
                "or replaced while it was open. Nothing was kept of this; open it where it is now."
            )

    def bring_up_to_date(self) -> None:
        """Run the migrations that are missing, after keeping a copy of an older database.

        Raises DatabaseError when the database is newer than this program or is not ours.
        """
        at = _revision_of(self.file, read_only=self.read_only)
        if at == NEWEST:
            return
        if at is None and not self._makes:
            raise DatabaseError(
                f"{self.file} is empty, so this is no workshop: put a backup back with 'ironlace "
                "restore'. The originals beside it are untouched."
            )
        if self.read_only:
            raise DatabaseError(
                f"{self.file.name} was written by another version of Ironlace (tables '{at}') and "
                "its folder cannot be written to: copy it to a disk you can write on, to bring it "
                "up to date."
            )
        if at is not None:
            copy_database(self.file, self.file.with_suffix(f".before-{NEWEST}.sqlite"))
        from alembic.util.exc import CommandError

        try:
            migrate(self._writer)
        except CommandError as error:
            raise DatabaseError(
                f"{self.file.name} was written by a newer Ironlace (tables '{at}'): "
                "update Ironlace, then open it again."
            ) from error

    def write_as_before_surveys(self, to: Path) -> None:
        """Write a copy that the version before surveys opens: each report in its machine's record.

        This database stays as it is. Releases, which that version does not know, are not in it.

        Raises ConflictError when the file is there already.
        """
        if to.exists():
            raise ConflictError(f"{to} is there already: choose another name.")
        copy_database(self.file, to, read_only=self.read_only)
        copy = Database(to)
        try:
            migrate(copy._writer, _BEFORE_SURVEYS)
        except BaseException:
            copy.close()
            to.unlink()
            raise
        copy.close()
        with closing(sqlite3.connect(to)) as connection:
            connection.execute("PRAGMA journal_mode=DELETE")

    def close(self) -> None:
        """Let go of all connections."""
        self._engine.dispose()


def migrate(writer: Engine, to: str = "head", scripts: str = _SCRIPTS) -> None:
    """Bring tables to the newest, or back to an older state."""
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", scripts)
    with writer.begin() as connection:
        config.attributes["connection"] = connection
        if to == "head":
            command.upgrade(config, to)
        else:
            command.downgrade(config, to)


def copy_database(file: Path, to: Path, *, read_only: bool = False) -> None:
    """Copy a database consistently while others read and write it (SQLite's online backup)."""
    address = _address(file, "rw", read_only=read_only)
    with (
        closing(sqlite3.connect(address, timeout=_WAIT_MS / 1000, uri=True)) as source,
        closing(sqlite3.connect(to)) as target,
    ):
        source.backup(target)
        target.execute("PRAGMA journal_mode=DELETE")


def faults_of(file: Path, *, read_only: bool = False) -> Iterator[str]:
    """A sentence for each fault of a database that SQLite itself can see."""
    address = _address(file, "rw", read_only=read_only)
    with closing(sqlite3.connect(address, timeout=_WAIT_MS / 1000, uri=True)) as connection:
        for (said,) in connection.execute("PRAGMA integrity_check"):
            if said != "ok":
                yield f"The database is damaged: {said}."
        for table, row, parent, _ in connection.execute("PRAGMA foreign_key_check"):
            yield f"Row {row} of table {table} points to a row of {parent} that is not there."


def not_ours_in(file: Path, *, read_only: bool = False) -> list[str]:
    """What a database holds beside the tables of this program: triggers, views, other tables.

    A trigger in a database from a stranger would run at our own writes.
    """
    from ironlace.workshop.store.tables import Table

    ours = {*Table.metadata.tables, "alembic_version"}
    address = _address(file, "rw", read_only=read_only)
    with closing(sqlite3.connect(address, uri=True)) as connection:
        rows = connection.execute("SELECT type, name, tbl_name FROM sqlite_master").fetchall()
    return sorted(
        f"{kind} {name}"
        for kind, name, table in rows
        if kind in ("trigger", "view") or (table not in ours and not name.startswith("sqlite_"))
    )


def _identity(file: Path) -> tuple[int, int] | None:
    """What tells a file from another of the same name; None when it is not there."""
    try:
        told = file.stat()
    except OSError:
        return None
    return told.st_dev, told.st_ino


def _address(file: Path, mode: str, *, read_only: bool = False) -> str:
    # immutable: no lock, no -shm beside it, as nothing can be written there
    how = "mode=ro&immutable=1" if read_only else f"mode={mode}"
    return f"file:{quote(file.as_posix())}?{how}"


def sqlite_engine(file: Path, mode: str, *, read_only: bool, triggers: bool = False) -> Engine:
    """An engine on a SQLite file; a connection with `ironlace_write` takes the write lock first.

    `triggers` lets those of the file call functions, where they are of this program's own making.
    """
    url = f"sqlite:///{_address(file, mode, read_only=read_only)}&uri=true"
    engine = create_engine(url, connect_args={"timeout": _WAIT_MS / 1000})
    pragmas = [
        f"busy_timeout={_WAIT_MS}",
        "foreign_keys=ON",
        f"trusted_schema={'ON' if triggers else 'OFF'}",
    ]
    if not read_only:
        # a confirmed fact outlives a power cut, not only a crash
        pragmas += ["journal_mode=WAL", "synchronous=FULL"]

    @event.listens_for(engine, "connect")
    def _prepare(connection: Any, _record: Any) -> None:
        connection.isolation_level = None  # we say BEGIN ourselves, below
        for pragma in pragmas:
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get("ironlace_write", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _revision_of(file: Path, *, read_only: bool) -> str | None:
    """Read which migration a database is at, without loading Alembic; None for a new one."""
    if not file.exists() or file.stat().st_size == 0:
        return None
    try:
        address = _address(file, "rw", read_only=read_only)
        with closing(sqlite3.connect(address, timeout=_WAIT_MS / 1000, uri=True)) as connection:
            names = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
            if "alembic_version" not in names:
                if names:
                    raise DatabaseError(
                        f"{file.name} is a database, but not a workshop's: choose another folder."
                    )
                return None
            row = connection.execute("SELECT version_num FROM alembic_version").fetchone()
    except sqlite3.DatabaseError as error:
        busy = in_words(error) if isinstance(error, sqlite3.OperationalError) else None
        raise busy or DatabaseError(
            f"{file.name} cannot be read as a database ({error}): restore a backup."
        ) from error
    return str(row[0]) if row else None
