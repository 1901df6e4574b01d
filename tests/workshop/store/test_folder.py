import os
import sqlite3
import time

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import create_engine

from ironlace.workshop import Workshop
from ironlace.workshop.store.database import NEWEST, DatabaseError
from ironlace.workshop.store.folder import WorkshopError
from ironlace.workshop.store.tables import Table


def test_the_migrations_make_the_tables_that_the_program_reads(workshop):
    engine = create_engine(f"sqlite:///{workshop.database.file}")
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"render_as_batch": True})
        assert compare_metadata(context, Table.metadata) == []
        assert context.get_current_revision() == NEWEST
    engine.dispose()


def test_the_database_is_set_for_crashes(workshop):
    with workshop.database.reading() as session:
        connection = session.connection()
        read = [
            connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "foreign_keys", "synchronous")
        ]
    assert read == ["wal", 1, 2]


def test_a_folder_in_use_is_not_taken(tmp_path):
    (tmp_path / "letter.txt").write_text("x")
    with pytest.raises(WorkshopError, match="not an empty folder"):
        Workshop.create(tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == ["letter.txt"]


def test_a_folder_without_a_workshop_is_not_opened(tmp_path):
    with pytest.raises(WorkshopError, match="no workshop"):
        Workshop.open(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_newer_workshop_is_left_alone_and_let_go(workshop, monkeypatch):
    with sqlite3.connect(workshop.database.file) as raw:
        raw.execute("UPDATE alembic_version SET version_num = '9999'")
    raw.close()
    let_go = []
    # a builtin would not be bound to the workshop that is refused
    monkeypatch.setattr(Workshop, "close", lambda refused: let_go.append(refused))  # noqa: PLW0108
    with pytest.raises(DatabaseError, match="newer Ironlace"):
        Workshop.open(workshop.folder)
    (refused,) = let_go
    monkeypatch.undo()
    refused.close()


def test_a_foreign_database_is_left_alone(tmp_path):
    with sqlite3.connect(tmp_path / "ironlace.sqlite") as raw:
        raw.execute("CREATE TABLE mine (x)")
    raw.close()
    with pytest.raises(DatabaseError, match="not a workshop's"):
        Workshop.open(tmp_path)


def test_a_file_that_is_no_database_is_told(tmp_path):
    (tmp_path / "ironlace.sqlite").write_text("not a database, only a few words of text " * 20)
    with pytest.raises(DatabaseError, match="restore a backup"):
        Workshop.open(tmp_path)


def test_old_remains_of_uploads_are_swept_and_new_ones_left(workshop):
    incoming = workshop.folder / "incoming"
    incoming.mkdir(exist_ok=True)
    for name, age in (("old.part", 2 * 86400), ("new.part", 10)):
        (incoming / name).touch()
        moment = time.time() - age
        os.utime(incoming / name, (moment, moment))
    Workshop.open(workshop.folder).close()
    assert [p.name for p in incoming.iterdir()] == ["new.part"]
