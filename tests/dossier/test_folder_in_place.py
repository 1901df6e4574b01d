"""A folder comes into its place whole, or not at all."""

import os
import time

import pytest

from ironlace.dossier.errors import FolderTakenError
from ironlace.dossier.folder_in_place import folder_in_place


def always(folder) -> bool:
    return True


def never(folder) -> bool:
    return False


def test_content_appears_under_its_name(tmp_path) -> None:
    with folder_in_place(tmp_path / "deep" / "here", never, "ours") as making:
        (making / "a.txt").write_text("1")
        assert not (tmp_path / "deep" / "here").exists()
    assert (tmp_path / "deep" / "here" / "a.txt").read_text() == "1"


def test_the_new_takes_the_place_of_the_old(tmp_path) -> None:
    for text in ("old", "new"):
        with folder_in_place(tmp_path / "here", always, "ours") as making:
            (making / f"{text}.txt").write_text(text)
    assert [p.name for p in (tmp_path / "here").iterdir()] == ["new.txt"]
    assert [p.name for p in tmp_path.iterdir()] == ["here"]


def test_a_file_of_that_name_is_refused(tmp_path) -> None:
    (tmp_path / "here").write_text("x")
    with (
        pytest.raises(FolderTakenError, match="not ours"),
        folder_in_place(tmp_path / "here", always, "ours"),
    ):
        pytest.fail("must not begin")


def test_what_a_stop_between_the_two_moves_left_is_put_back(tmp_path) -> None:
    aside = tmp_path / ".here.aside"
    aside.mkdir()
    (aside / "old.txt").write_text("old")
    with (
        pytest.raises(RuntimeError),
        folder_in_place(tmp_path / "here", always, "ours"),
    ):
        raise RuntimeError
    assert (tmp_path / "here" / "old.txt").read_text() == "old"


def test_only_long_dead_leftovers_are_swept(tmp_path) -> None:
    fresh, stale = tmp_path / ".here.making-a", tmp_path / ".here.making-b"
    fresh.mkdir()
    stale.mkdir()
    os.utime(stale, (time.time() - 1e6,) * 2)
    with folder_in_place(tmp_path / "here", always, "ours") as making:
        (making / "a").write_text("")
    assert fresh.exists() and not stale.exists()
