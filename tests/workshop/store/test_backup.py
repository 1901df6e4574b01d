import hashlib
import os
import re
import shutil
import sqlite3
import time
import zipfile

import pytest

from ironlace.record import Mark
from ironlace.workshop import Workshop
from ironlace.workshop.store.backup import BackupError, back_up, restore
from ironlace.workshop.store.database import DatabaseError
from ironlace.workshop.store.faults import NoRoomError

_OF_DATABASE = rb"[0-9a-f]{64}(?=  data/ironlace.sqlite)"


def first_original(workshop):
    path = next(workshop.store.files())
    path.chmod(0o644)
    return path


def test_a_backup_comes_back_the_same(filled, slug, tmp_path):
    made = back_up(filled, tmp_path / "b.zip")
    assert made.files == 5
    checked = restore(tmp_path / "b.zip", tmp_path / "again")
    assert checked.sound
    with Workshop.open(tmp_path / "again") as again:
        assert again.records.read(slug).entries == filled.records.read(slug).entries
        assert again.records.changes(slug) == filled.records.changes(slug)
        assert len(list(again.store.files())) == 3


def test_a_backup_is_a_bag(filled, tmp_path):
    back_up(filled, tmp_path / "b.zip")
    with zipfile.ZipFile(tmp_path / "b.zip") as bag:
        assert bag.read("bagit.txt").startswith(b"BagIt-Version: 1.0\n")
        assert b"  data/ironlace.sqlite\n" in bag.read("manifest-sha256.txt")
        oxum = bag.read("bag-info.txt").decode().split(": ")[1].strip()
        payload = [i for i in bag.infolist() if i.filename.startswith("data/")]
        assert oxum == f"{sum(i.file_size for i in payload)}.{len(payload)}"


def test_a_backup_is_never_overwritten(filled, tmp_path):
    (tmp_path / "b.zip").write_text("mine")
    with pytest.raises(BackupError, match="there already"):
        back_up(filled, tmp_path / "b.zip")
    assert (tmp_path / "b.zip").read_text() == "mine"


def test_a_backup_of_a_spoilt_workshop_is_refused_and_leaves_nothing(filled, tmp_path):
    path = first_original(filled)
    path.write_bytes(path.read_bytes()[:-1])
    with pytest.raises(BackupError, match="not what it was"):
        back_up(filled, tmp_path / "b.zip")
    assert not [p for p in tmp_path.iterdir() if p.name.startswith("b.zip")]


def rewritten(source, target, change):
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w") as new:
        for info in old.infolist():
            name, content = change(info.filename, old.read(info))
            if name:
                new.writestr(name, content)


def without_readme(n, c, new):
    if n == "manifest-sha256.txt":
        return n, c.replace(b"data/README.txt", b"data/" + new)
    return (n.replace("README.txt", new.decode()), c)


def spoilt(suffix):
    return lambda n, c: (n, c[:-1] + b"x") if n.endswith(suffix) else (n, c)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (spoilt(".sqlite"), "database is not what was packed"),
        (lambda n, c: (None, c) if n.endswith(".sqlite") else (n, c), "not whole"),
        (lambda n, c: without_readme(n, c, b"../evil"), "outside its folder"),
        (lambda n, c: without_readme(n, c, b"derived/web/secret"), "which no backup holds"),
        (lambda n, c: without_readme(n, c, b"ironlace.sqlite-wal"), "which no backup holds"),
        (lambda n, c: without_readme(n, c, b"originals/ab/page.html"), "which no backup holds"),
        (lambda n, c: (None, c) if n == "bagit.txt" else (n, c), "not a whole backup"),
    ],
)
def test_a_backup_not_to_be_trusted_is_refused_and_leaves_nothing(filled, tmp_path, change, says):
    back_up(filled, tmp_path / "b.zip")
    rewritten(tmp_path / "b.zip", tmp_path / "c.zip", change)
    before = set(tmp_path.iterdir())
    with pytest.raises(BackupError, match=says):
        restore(tmp_path / "c.zip", tmp_path / "again")
    assert set(tmp_path.iterdir()) == before


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (spoilt(".jpg"), "is damaged and was left out"),
        (lambda n, c: (None, c) if n.endswith(".jpg") else (n, c), "is missing from"),
    ],
)
def test_what_is_proved_comes_back_and_the_rest_is_listed(filled, slug, tmp_path, change, says):
    back_up(filled, tmp_path / "b.zip")
    rewritten(tmp_path / "b.zip", tmp_path / "c.zip", change)
    checked = restore(tmp_path / "c.zip", tmp_path / "again")
    gone = [wrong for wrong in checked.wrong if wrong.startswith("data/") and says in wrong]
    assert gone
    assert not checked.sound
    with Workshop.open(tmp_path / "again") as again:
        assert again.records.read(slug).entries == filled.records.read(slug).entries
        assert len(list(again.store.files())) == 3 - len(gone)


def test_an_entry_that_names_what_is_not_there_comes_back_and_is_listed(filled, slug, tmp_path):
    mark = Mark(reads="1", where="bed", grade="seen", photographs=("photograph 1",))
    filled.records.add(slug, mark)
    # as an earlier version let it be kept
    with sqlite3.connect(filled.database.file) as raw:
        raw.execute("UPDATE entry SET entry = replace(entry, 'photograph 1', 'photograph 9')")
        raw.execute("UPDATE change SET entry = replace(entry, 'photograph 1', 'photograph 9')")
    raw.close()
    back_up(filled, tmp_path / "b.zip")
    checked = restore(tmp_path / "b.zip", tmp_path / "again")
    assert any("names photograph 9, which was never in this record" in w for w in checked.wrong)
    with Workshop.open(tmp_path / "again") as again:
        assert len(again.records.read(slug).entries) == len(filled.records.read(slug).entries)


@pytest.mark.parametrize(
    "sql",
    [
        "CREATE TRIGGER t AFTER INSERT ON change BEGIN DELETE FROM entry; END",
        "CREATE VIEW v AS SELECT 1",
        "CREATE TABLE mine (x)",
    ],
)
def test_a_database_with_more_in_it_than_ours_is_not_trusted(filled, tmp_path, sql):
    back_up(filled, tmp_path / "b.zip")
    database = tmp_path / "in.sqlite"

    def change(name, content):
        if name.endswith(".sqlite"):
            database.write_bytes(content)
            with sqlite3.connect(database) as raw:
                raw.execute(sql)
            raw.close()
            content = database.read_bytes()
            change.sha = hashlib.sha256(content).hexdigest()
        elif name == "manifest-sha256.txt":
            content = re.sub(
                rb"[0-9a-f]{64}(?=  data/ironlace.sqlite)", change.sha.encode(), content
            )
        return name, content

    rewritten(tmp_path / "b.zip", tmp_path / "c.zip", change)
    with pytest.raises(BackupError, match="do not trust it"):
        restore(tmp_path / "c.zip", tmp_path / "again")
    assert not (tmp_path / "again").exists()


def test_an_empty_database_is_not_restored(filled, tmp_path):
    back_up(filled, tmp_path / "b.zip")
    empty = hashlib.sha256(b"").hexdigest().encode()

    def change(name, content):
        if name.endswith(".sqlite"):
            content = b""
        elif name == "manifest-sha256.txt":
            content = re.sub(_OF_DATABASE, empty, content)
        return name, content

    rewritten(tmp_path / "b.zip", tmp_path / "c.zip", change)
    with pytest.raises(DatabaseError, match="is empty"):
        restore(tmp_path / "c.zip", tmp_path / "again")
    assert not (tmp_path / "again").exists()


def test_an_archive_larger_than_the_disk_is_refused_before_it_is_unpacked(
    filled, tmp_path, monkeypatch
):
    back_up(filled, tmp_path / "b.zip")
    usage = shutil.disk_usage(tmp_path)
    monkeypatch.setattr(
        "ironlace.workshop.store.backup.shutil.disk_usage", lambda _: usage._replace(free=1000)
    )
    before = set(tmp_path.iterdir())
    with pytest.raises(NoRoomError, match="free some space"):
        restore(tmp_path / "b.zip", tmp_path / "again")
    assert set(tmp_path.iterdir()) == before


def test_what_an_earlier_restore_left_is_swept(filled, tmp_path):
    back_up(filled, tmp_path / "b.zip")
    old, new = (tmp_path / f".again.{n}.restoring" for n in ("aaaaaaaa", "bbbbbbbb"))
    for left, age in ((old, 2 * 86400), (new, 10)):
        left.mkdir()
        moment = time.time() - age
        os.utime(left, (moment, moment))
    restore(tmp_path / "b.zip", tmp_path / "again")
    assert (old.exists(), new.exists()) == (False, True)


def test_a_backup_is_not_restored_over_something(filled, tmp_path):
    back_up(filled, tmp_path / "b.zip")
    with pytest.raises(BackupError, match="not empty"):
        restore(tmp_path / "b.zip", filled.folder)


def test_something_that_is_no_zip_is_refused(tmp_path):
    (tmp_path / "b.zip").write_text("hello")
    with pytest.raises(BackupError, match="not a whole backup"):
        restore(tmp_path / "b.zip", tmp_path / "again")
