import contextlib
import errno
import os
import sqlite3
import time
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import create_engine

from ironlace.record import Photograph
from ironlace.workshop import Workshop
from ironlace.workshop.store import folder as folder_module
from ironlace.workshop.store.backup import back_up, restore
from ironlace.workshop.store.check import check_workshop
from ironlace.workshop.store.database import NEWEST, DatabaseError
from ironlace.workshop.store.faults import NotNowError
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


def test_a_place_where_no_folder_can_be_is_refused(tmp_path, monkeypatch):
    def lost(path, *_, **__):
        raise FileNotFoundError(2, "No such file or directory", str(path))

    monkeypatch.setattr(Path, "mkdir", lost)  # as a share that went away answers
    with pytest.raises(WorkshopError, match="cannot be made"):
        Workshop.create(tmp_path / "away" / "workshop")


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


def test_an_empty_database_beside_originals_is_no_new_workshop(workshop):
    workshop.close()
    original = workshop.originals / "ab" / ("a" * 64 + ".jpg")
    original.parent.mkdir()
    original.write_bytes(b"x")
    workshop.database.file.write_bytes(b"")
    with pytest.raises(DatabaseError, match="is empty"):
        Workshop.open(workshop.folder)
    assert workshop.database.file.stat().st_size == 0
    workshop.database.file.unlink()
    with pytest.raises(WorkshopError, match="is missing though originals"):
        Workshop.open(workshop.folder)


def test_a_database_with_no_table_is_no_new_workshop(tmp_path):
    raw = sqlite3.connect(tmp_path / "ironlace.sqlite")
    raw.execute("PRAGMA user_version = 1")
    raw.commit()
    raw.close()
    with pytest.raises(DatabaseError, match="is empty"):
        Workshop.open(tmp_path)


@pytest.mark.parametrize("at", range(1, 5))
def test_new_that_was_broken_off_can_be_done_again(tmp_path, monkeypatch, at):
    """Ended after each of its steps in turn: it is no workshop yet, and becomes one."""
    reached = []

    def ends(real):
        def doing(*args, **kwargs):
            found = real(*args, **kwargs)
            reached.append(real)
            if len(reached) == at:
                raise KeyboardInterrupt
            return found

        return doing

    monkeypatch.setattr(folder_module, "write_whole", ends(folder_module.write_whole))
    monkeypatch.setattr(
        folder_module.Database,
        "bring_up_to_date",
        ends(folder_module.Database.bring_up_to_date),
    )
    monkeypatch.setattr(folder_module, "settle", ends(folder_module.settle))
    place = tmp_path / "mine"
    with contextlib.suppress(KeyboardInterrupt):
        Workshop.create(place).close()
    monkeypatch.undo()
    if not (place / "ironlace.sqlite").exists():
        with pytest.raises(WorkshopError, match="make one with"):
            Workshop.open(place)
        Workshop.create(place).close()
    with Workshop.open(place) as made:
        assert made.records.all() == []
    assert not list(place.glob(".begun-*"))
    assert reached


def test_a_folder_moved_while_it_is_open_takes_nothing_and_says_so(workshop, tmp_path):
    slug = workshop.records.create("The head from the mill")
    moved = workshop.folder.rename(tmp_path / "elsewhere")
    with pytest.raises(NotNowError, match="was moved"):
        workshop.records.create("Another")
    with pytest.raises(NotNowError, match="was moved"):
        workshop.records.read(slug)
    assert not (tmp_path / "workshop").exists()
    with Workshop.open(moved) as again:
        assert [r.slug for r in again.records.all()] == [slug]


def test_another_workshop_put_in_its_place_is_not_written_to(workshop, tmp_path):
    place = workshop.folder
    place.rename(tmp_path / "elsewhere")
    Workshop.create(place).close()
    with pytest.raises(NotNowError, match="replaced"):
        workshop.records.create("Another")
    with Workshop.open(place) as other:
        assert other.records.all() == []


def tree(folder):
    return {
        p.relative_to(folder).as_posix(): (p.stat().st_mtime_ns, p.read_bytes())
        for p in folder.rglob("*")
        if p.is_file()
    }


@pytest.mark.parametrize("log", ["settled", "in the log"])
def test_a_folder_that_cannot_be_written_to_is_looked_at_checked_and_backed_up(
    filled, slug, tmp_path, monkeypatch, log
):
    entries = filled.records.read(slug).entries
    if log == "settled":
        filled.close()
    else:
        assert filled.database.file.with_name("ironlace.sqlite-wal").stat().st_size
    monkeypatch.setattr(folder_module, "_lets_itself_be_written", lambda _: False)
    before = tree(filled.folder)
    with Workshop.open(filled.folder) as seen:
        assert seen.read_only
        assert seen.records.read(slug).entries == entries
        name = next(n for n, _ in seen.records.read(slug).of(Photograph))
        sha = seen.records.read(slug).named(name).sha256
        assert seen.photographs.view(sha, 320).is_file()
        assert check_workshop(seen).sound
        back_up(seen, tmp_path / "b.zip")
        with pytest.raises(NotNowError, match="only be looked at"):
            seen.records.create("Another")
        scratch = seen.derived
    assert not scratch.exists()
    assert tree(filled.folder) == before
    monkeypatch.undo()
    assert restore(tmp_path / "b.zip", tmp_path / "again").sound


def test_whether_a_folder_can_be_written_to_is_found_by_trying(tmp_path, monkeypatch):
    assert folder_module._lets_itself_be_written(tmp_path)
    assert list(tmp_path.iterdir()) == []

    def refused(_path, *_args, **_kwargs):
        raise OSError(errno.EROFS, "Read-only file system")

    monkeypatch.setattr(folder_module.Path, "touch", refused)
    assert not folder_module._lets_itself_be_written(tmp_path)


def test_remains_of_backups_and_packs_are_swept(workshop):
    for name in ("backups/old.zip", "packs/old.part"):
        path = workshop.derived / "web" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch()
        os.utime(path, (time.time() - 2 * 86400,) * 2)
    Workshop.open(workshop.folder).close()
    assert not [p for p in (workshop.derived / "web").rglob("*") if p.is_file()]
