"""The pack: everything in it, whole or not at all, and safe to make again."""

import json
import subprocess
import sys
from pathlib import Path

import pypdfium2 as pdfium
import pytest

from ironlace.dossier.account.record_to_account import account_of
from ironlace.dossier.errors import DossierError, FolderTakenError
from ironlace.dossier.pack import _HELD, earlier_pack, sheet_name, write_pack


def files_in(folder: Path) -> set[str]:
    return {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}


@pytest.fixture(scope="module")
def pack(full_account, made, tmp_path_factory) -> Path:
    return write_pack(full_account, tmp_path_factory.mktemp("packs") / "vane", made=made)


def test_all_is_there(pack) -> None:
    names = files_in(pack)
    assert {
        "README.txt",
        "record.json",
        "dossier-a4.pdf",
        "dossier-letter.pdf",
        "sheets/drawing-1-scroll-of-the-bed-left.svg",
        "sheets/drawing-1-scroll-of-the-bed-left-a4.pdf",
        "sheets/drawing-1-scroll-of-the-bed-left-letter.pdf",
        "site/index.html",
        "site/photographs.html",
        "site/machine.jsonld",
    } <= names
    for name in names:
        if name.endswith(".pdf"):
            assert len(pdfium.PdfDocument(pack / name)) >= 1
    assert [p.name for p in pack.parent.iterdir()] == ["vane"]


def test_public_pack_holds_no_secret(pack, secret) -> None:
    for name in files_in(pack):
        assert secret.encode() not in (pack / name).read_bytes(), name
    assert "Public copy" in (pack / "README.txt").read_text(encoding="utf-8")


def test_private_pack_holds_the_whole_record_and_says_so(
    full_record, history, made, tmp_path
) -> None:
    account = account_of(full_record, {}, {}, changes=history, private=True, hours_and_costs=True)
    write_pack(account, tmp_path / "pack", made=made)
    record = json.loads((tmp_path / "pack" / "record.json").read_text(encoding="utf-8"))
    assert len(record["entries"]) == len(full_record.entries)
    assert len(record["changes"]) == len(history)
    assert "PRIVATE COPY" in (tmp_path / "pack" / "README.txt").read_text(encoding="utf-8")


def test_made_again_it_is_the_same_and_stays_one(pack, full_account, made) -> None:
    before = {name: (pack / name).read_bytes() for name in files_in(pack)}
    write_pack(full_account, pack, made=made)
    assert {name: (pack / name).read_bytes() for name in files_in(pack)} == before
    assert [p.name for p in pack.parent.iterdir()] == ["vane"]


def test_progress_runs_from_nothing_to_all(make_record, made, tmp_path) -> None:
    told: list[tuple[str, float]] = []
    account = account_of(make_record([]), {}, {})
    write_pack(account, tmp_path / "p", made=made, progress=lambda s, f: told.append((s, f)))
    shares = [share for _, share in told]
    assert shares == sorted(shares)
    assert shares[0] == 0.0 and shares[-1] == 1.0
    assert ("setting the dossier, A4", 0.0) in told


class Stopped(Exception):
    pass


@pytest.mark.parametrize("at", [0.0, 0.3, 0.6, 0.9])
def test_stopped_half_way_the_old_pack_stays(make_record, made, tmp_path, at) -> None:
    folder = tmp_path / "pack"
    write_pack(account_of(make_record([], title="Old"), {}, {}), folder, made=made)
    old = (folder / "README.txt").read_bytes()

    def stop(stage: str, share: float) -> None:
        if share >= at:
            raise Stopped

    with pytest.raises(Stopped):
        new = account_of(make_record([], title="New"), {}, {})
        write_pack(new, folder, made=made, progress=stop)
    assert (folder / "README.txt").read_bytes() == old
    assert [p.name for p in tmp_path.iterdir()] == ["pack"]


def test_a_folder_with_other_things_is_refused(make_record, made, tmp_path) -> None:
    (tmp_path / "README.txt").write_text("my notes")
    (tmp_path / "record.json").write_text("{}")
    with pytest.raises(FolderTakenError, match="not a pack"):
        write_pack(account_of(make_record([]), {}, {}), tmp_path, made=made)
    assert (tmp_path / "README.txt").read_text() == "my notes"


def test_a_pack_that_somebody_put_something_beside_is_not_written_over(
    make_record, made, tmp_path
) -> None:
    account = account_of(make_record([]), {}, {})
    folder = write_pack(account, tmp_path / "pack", made=made)
    assert {path.name for path in folder.iterdir()} <= set(_HELD)
    (folder / "letter.txt").write_text("To the next owner")
    with pytest.raises(FolderTakenError, match="and nothing else"):
        write_pack(account, folder, made=made)
    assert (folder / "letter.txt").read_text() == "To the next owner"
    (folder / "letter.txt").unlink()
    (folder / ".seen-by-the-desktop").write_text("")
    write_pack(account, folder, made=made)


def test_an_earlier_pack_is_told_by_its_title_and_day(make_record, made, tmp_path) -> None:
    account = account_of(make_record([]), {}, {})
    assert earlier_pack(tmp_path / "pack") == ""
    (tmp_path / "other").mkdir()
    assert earlier_pack(tmp_path / "other") == ""
    folder = write_pack(account, tmp_path / "pack", made=made)
    assert earlier_pack(folder) == f"{account.title}, made on {made:%Y-%m-%d}"


def test_an_empty_folder_is_used(make_record, made, tmp_path) -> None:
    (tmp_path / "pack").mkdir()
    write_pack(account_of(make_record([]), {}, {}), tmp_path / "pack", made=made)
    assert (tmp_path / "pack" / "dossier-a4.pdf").is_file()


def test_date_without_zone_is_refused(make_record, made, tmp_path) -> None:
    with pytest.raises(DossierError, match="time zone"):
        write_pack(
            account_of(make_record([]), {}, {}), tmp_path / "p", made=made.replace(tzinfo=None)
        )
    assert not (tmp_path / "p").exists()


@pytest.mark.parametrize(
    "title", ["../../etc/passwd", "CON", "a/b\\c:d*e?", "\u6f22\u5b57", "x" * 300, ".", ""]
)
def test_sheet_names_are_plain_on_any_disk(title, full_account) -> None:
    from dataclasses import replace

    name = sheet_name(replace(full_account.drawings[0], title=title))
    assert name.startswith("drawing-1")
    assert set(name) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")
    assert len(name) < 60


WRITER = """
import os
import sys
from datetime import UTC, datetime
from pathlib import Path
from ironlace.dossier import account_of, write_pack
from ironlace.record import Record

folder = Path(sys.argv[1])
account = account_of(Record("m", "The whole", {}, None), {}, {})
TOUCHES = ("open", "os.rename", "os.mkdir", "os.remove", "os.rmdir", "os.scandir")
touched = last = 0


def ends_at_the_last(event, words):
    # every opening, renaming, making and removing in the folder of the pack
    global touched
    if event in TOUCHES and any(str(folder.parent) in str(word) for word in words):
        touched += 1
        if touched == last:
            os._exit(9)  # as a kill does: nothing is tidied, nothing written out


sys.addaudithook(ends_at_the_last)
for line in sys.stdin:
    last, touched = int(line), 0
    # nothing is typeset in this process: the typesetter's threads would not be there in a fork
    dies = os.fork()
    if not dies:
        write_pack(account, folder, made=datetime(2026, 1, 1, tzinfo=UTC))
        print(touched, flush=True)
        os._exit(0)
    if os.waitpid(dies, 0)[1]:
        print("killed", flush=True)
"""


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="fork is not there")
def test_killed_at_any_touch_of_the_disk_a_pack_is_whole_after_the_next_run(
    tmp_path, make_record, made
):
    folder = tmp_path / "pack"
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(folder)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    with writer:

        def written(last):
            print(last, file=writer.stdin, flush=True)
            return writer.stdout.readline().strip()

        written(0)
        touches = int(written(0))  # where a pack stands already
        assert touches > 20
        # the first, one on the way, and the last, where the new pack takes the old one's place
        for last in (touches // 2, *range(touches - 4, touches + 1)):
            assert written(last) == "killed"
            # either a whole pack stands there, or the one moved aside comes back with the next run
            stands = folder if folder.exists() else folder.with_name(".pack.aside")
            assert (stands / "dossier-letter.pdf").read_bytes().rstrip().endswith(b"%%EOF")
        writer.stdin.close()
    write_pack(account_of(make_record([]), {}, {}), folder, made=made)
    assert {"README.txt", "record.json", "dossier-a4.pdf", "site/index.html"} <= files_in(folder)
