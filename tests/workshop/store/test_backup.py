import zipfile

import pytest

from ironlace.workshop import Workshop
from ironlace.workshop.store.backup import BackupError, back_up, restore


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


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda n, c: (n, c[:-1] + b"x") if n.endswith(".jpg") else (n, c), "not what was packed"),
        (lambda n, c: (None, c) if n.endswith(".jpg") else (n, c), "not whole"),
        (lambda n, c: (n.replace("README.txt", "../evil"), c.replace(b"README.txt", b"../evil")),
         "outside its folder"),
        (lambda n, c: (None, c) if n == "bagit.txt" else (n, c), "not a whole backup"),
    ],
)  # fmt: skip
def test_a_backup_that_is_not_whole_is_refused_and_leaves_nothing(filled, tmp_path, change, says):
    back_up(filled, tmp_path / "b.zip")
    rewritten(tmp_path / "b.zip", tmp_path / "c.zip", change)
    before = set(tmp_path.iterdir())
    with pytest.raises(BackupError, match=says):
        restore(tmp_path / "c.zip", tmp_path / "again")
    assert set(tmp_path.iterdir()) == before


def test_a_backup_is_not_restored_over_something(filled, tmp_path):
    back_up(filled, tmp_path / "b.zip")
    with pytest.raises(BackupError, match="not empty"):
        restore(tmp_path / "b.zip", filled.folder)


def test_something_that_is_no_zip_is_refused(tmp_path):
    (tmp_path / "b.zip").write_text("hello")
    with pytest.raises(BackupError, match="not a whole backup"):
        restore(tmp_path / "b.zip", tmp_path / "again")
