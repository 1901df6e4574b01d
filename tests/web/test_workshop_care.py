"""Care of the workshop: check and backup by browser."""

from ironlace.workshop.store.backup import restore

from .conftest import jpeg, words


def test_a_sound_workshop_is_told_so_and_a_damaged_one_too(person, slug, bench):
    person.post(f"/machine/{slug}/photographs", files={"files": ("a.jpg", jpeg(1))})
    assert "Nothing is wrong." in words(person.post("/care/check"))
    sha = bench.records.read(slug).named("photograph 1").sha256
    path = bench.photographs.original(sha).path
    path.chmod(0o644)
    path.write_bytes(b"something else")
    said = words(person.post("/care/check"))
    assert "Something is wrong." in said
    assert "a.jpg" in said


def test_a_backup_is_handed_over_and_can_be_restored(person, slug, bench, tmp_path):
    person.post(f"/machine/{slug}/photographs", files={"files": ("a.jpg", jpeg(1))})
    answer = person.post("/care/backup")
    assert answer.status_code == 200
    assert "attachment" in answer.headers["content-disposition"]
    file = tmp_path / "backup.zip"
    file.write_bytes(answer.content)
    assert restore(file, tmp_path / "restored").sound
    assert list((bench.workshop.derived / "web" / "backups").iterdir()) == []
