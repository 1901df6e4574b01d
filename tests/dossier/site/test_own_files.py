"""Only what changed is written, and only what the site wrote is taken away."""

import json

import pytest

from ironlace.dossier.errors import FolderTakenError
from ironlace.dossier.site.own_files import LIST, write_changed


def site_of(files):
    def make(folder):
        for name, text in files.items():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_text(text, encoding="utf-8")

    return make


def there(folder):
    return {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()} - {LIST}


def test_the_same_bytes_are_not_touched_and_the_rest_is(tmp_path):
    out = tmp_path / "web" / "site"
    write_changed(out, site_of({"index.html": "a", "pictures/1.jpg": "p", "old/x.html": "x"}))
    (out / "mine.txt").write_text("mine", encoding="utf-8")
    before = {name: (out / name).stat() for name in there(out)}
    written = write_changed(out, site_of({"index.html": "b", "pictures/1.jpg": "p", "n.html": "n"}))
    assert written.new == ("n.html",) and written.changed == ("index.html",)
    assert written.same == ("pictures/1.jpg",) and written.removed == ("old/x.html",)
    after = (out / "pictures/1.jpg").stat()
    was = before["pictures/1.jpg"]
    assert (after.st_ino, after.st_mtime_ns) == (was.st_ino, was.st_mtime_ns)
    assert there(out) == {"index.html", "pictures/1.jpg", "n.html", "mine.txt"}
    assert not (out / "old").exists()


def test_what_somebody_changed_by_hand_is_not_taken_away(tmp_path):
    write_changed(tmp_path / "s", site_of({"index.html": "a", "x.html": "x"}))
    (tmp_path / "s" / "x.html").write_text("my own words", encoding="utf-8")
    written = write_changed(tmp_path / "s", site_of({"index.html": "a"}))
    assert written.kept == ("x.html",) and "x.html" in written.in_words()
    assert (tmp_path / "s" / "x.html").read_text(encoding="utf-8") == "my own words"


def test_an_archive_of_versions_beside_it_is_left_alone(tmp_path):
    (tmp_path / "s" / ".versions").mkdir(parents=True)
    write_changed(tmp_path / "s", site_of({"index.html": "a"}))
    assert (tmp_path / "s" / ".versions").is_dir()


def refused(folder, files, says):
    before = {p: p.read_bytes() for p in folder.parent.rglob("*") if p.is_file()}
    with pytest.raises(FolderTakenError, match=says):
        write_changed(folder, site_of(files))
    assert {p: p.read_bytes() for p in folder.parent.rglob("*") if p.is_file()} == before


def test_another_folder_is_refused_and_stays_as_it_was(tmp_path):
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "dear.txt").write_text("x", encoding="utf-8")
    refused(tmp_path / "letters", {"index.html": "a"}, "holds something")
    (tmp_path / "file").write_text("x", encoding="utf-8")
    refused(tmp_path / "file", {"index.html": "a"}, "is a file")


def test_a_file_that_is_not_the_sites_is_not_written_over(tmp_path):
    out = tmp_path / "s"
    write_changed(out, site_of({"index.html": "a"}))
    (out / "call.html").write_text("mine", encoding="utf-8")
    refused(out, {"index.html": "b", "call.html": "c"}, "call.html")


@pytest.mark.parametrize(
    "listed", ["../away.txt", "/etc/x", "a/../../away.txt", "..\\away.txt", "", LIST]
)
def test_a_list_that_leads_out_is_not_believed(tmp_path, listed):
    out = tmp_path / "s"
    write_changed(out, site_of({"index.html": "a"}))
    (tmp_path / "away.txt").write_text("x", encoding="utf-8")
    told = json.loads((out / LIST).read_text(encoding="utf-8"))
    told["files"][listed] = "0"
    (out / LIST).write_text(json.dumps(told), encoding="utf-8")
    refused(out, {"index.html": "b"}, "not written by Ironlace")


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"is": "x", "files": {}}', '{"files": 3}'])
def test_a_list_of_another_sort_is_refused(tmp_path, text):
    (tmp_path / "s").mkdir()
    (tmp_path / "s" / LIST).write_text(text, encoding="utf-8")
    refused(tmp_path / "s", {"index.html": "b"}, LIST)


def test_a_link_that_leads_out_is_not_followed(tmp_path):
    out, away = tmp_path / "s", tmp_path / "away"
    write_changed(out, site_of({"index.html": "a", "pictures/1.jpg": "p"}))
    (out / "pictures" / "1.jpg").unlink()
    (out / "pictures").rmdir()
    away.mkdir()
    (away / "1.jpg").write_text("theirs", encoding="utf-8")
    (out / "pictures").symlink_to(away)
    refused(out, {"index.html": "a", "pictures/1.jpg": "q"}, "leads out")
    refused(out, {"index.html": "a"}, "leads out")


def test_stopped_in_between_the_next_time_it_is_whole(tmp_path, monkeypatch):
    out = tmp_path / "s"
    write_changed(out, site_of({"index.html": "a", "x.html": "x"}))
    from ironlace.dossier.site import own_files

    def stop(_made, place):
        raise OSError(f"no room for {place.name}")

    with monkeypatch.context() as broken:
        broken.setattr(own_files, "_put", stop)
        with pytest.raises(OSError, match="no room"):
            write_changed(out, site_of({"index.html": "b", "n.html": "n"}))
    written = write_changed(out, site_of({"index.html": "b", "n.html": "n"}))
    assert written.removed == ("x.html",)
    assert there(out) == {"index.html", "n.html"}
