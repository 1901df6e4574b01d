import errno
import shutil
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text
from sqlalchemy.exc import OperationalError

from ironlace.evidence.errors import IronlaceError
from ironlace.workshop.store.faults import NoRoomError, NoSuchPlaceError, NotNowError, in_words


@pytest.mark.parametrize(
    ("number", "kind", "status"),
    [
        (errno.ENOSPC, NoRoomError, 507),
        (errno.EDQUOT, NoRoomError, 507),
        (errno.EROFS, NotNowError, 503),
        (errno.EACCES, NotNowError, 503),
        (errno.EIO, NotNowError, 503),
        (errno.EMFILE, NotNowError, 503),
        (errno.ENOTDIR, NoSuchPlaceError, 422),
        (errno.EISDIR, NoSuchPlaceError, 422),
        (errno.EEXIST, NoSuchPlaceError, 422),
        (errno.ENAMETOOLONG, NoSuchPlaceError, 422),
        (errno.ELOOP, NoSuchPlaceError, 422),
    ],
)
def test_what_the_system_refuses_is_a_sentence(number, kind, status):
    found = in_words(OSError(number, "as the system says it", "/some/place"))
    assert isinstance(found, kind)
    assert found.http_status == status
    assert str(found).endswith((".", "?"))


def test_a_full_database_is_told_from_a_locked_one(tmp_path):
    """By what SQLite really raises: a database that may not grow, and one that another holds."""
    engine = create_engine(f"sqlite:///{tmp_path / 'a.sqlite'}", connect_args={"timeout": 0})
    with engine.connect() as connection, pytest.raises(OperationalError) as full:
        connection.execute(text("PRAGMA max_page_count = 2"))
        connection.execute(text("CREATE TABLE t (x)"))
        connection.execute(text("INSERT INTO t VALUES (zeroblob(100000))"))
    assert isinstance(in_words(full.value), NoRoomError)
    holder = sqlite3.connect(tmp_path / "a.sqlite", isolation_level=None)
    holder.execute("BEGIN EXCLUSIVE")
    with engine.connect() as connection, pytest.raises(OperationalError) as locked:
        connection.execute(text("SELECT * FROM sqlite_master"))
    holder.close()
    engine.dispose()
    assert "Another program" in str(in_words(locked.value))


def test_a_number_that_no_database_holds_is_told_as_not_there():
    with sqlite3.connect(":memory:") as connection, pytest.raises(OverflowError) as fault:
        connection.execute("SELECT ?", (10**30,))
    connection.close()
    assert in_words(fault.value).http_status == 404


def test_a_fault_of_ours_and_a_refusal_are_left_as_they_are():
    assert in_words(ValueError("a slip")) is None
    assert in_words(FileNotFoundError(errno.ENOENT, "no such file")) is None
    refusal = IronlaceError("Say which.")
    assert in_words(refusal) is refusal


def test_the_cause_within_another_error_is_found():
    wrapped = RuntimeError("while saving")
    wrapped.__cause__ = OSError(errno.ENOSPC, "full")
    assert isinstance(in_words(wrapped), NoRoomError)


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="the benches read /proc and use its tools")
@pytest.mark.parametrize(
    ("script", "needs", "options"),
    [
        ("power_cut.py", "strace", ("--cuts", "15", "--count", "12")),
        ("full_disk.py", "unshare", ("--times", "3")),
        # a busy machine is slow, not wrong
        ("hostile_inputs.py", "sh", ("--inputs", "6", "--seed", "9", "--most-s", "60", "--light")),
    ],
)
def test_a_short_run_of_the_benches_of_faults_finds_nothing_amiss(script, needs, options):
    if shutil.which(needs) is None:
        pytest.skip(f"no {needs} on this machine")
    bench = Path(__file__).parents[3] / "bench" / script
    done = subprocess.run(
        [sys.executable, str(bench), *options], capture_output=True, text=True, check=False
    )
    if done.returncode == 77:
        pytest.skip(done.stdout)
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-2000:]
