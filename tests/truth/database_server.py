"""A PostgreSQL server of its own for a test or a bench: a new cluster in a folder, no network.

It speaks on a socket in that folder and to nobody else, and is gone afterwards.
"""

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import psycopg

_PORT = 5432
"""Names the socket; no port is opened."""


@dataclass(frozen=True)
class Server:
    """A running server. Anybody on this computer may be any of its roles."""

    folder: Path

    def address(self, role: str, database: str) -> str:
        return f"postgresql://{role}@/{database}?host={self.folder}"

    def ask(self, database: str, *statements: str):
        """Do as the keeper of the whole server; return the rows of the last."""
        with psycopg.connect(
            host=str(self.folder), dbname=database, user="postgres", autocommit=True
        ) as connection:
            for statement in statements:
                cursor = connection.execute(statement)
            return cursor.fetchall() if cursor.description else []


def programs() -> Path | None:
    """Where the server's programs are on this computer; None where there are none."""
    on_path = shutil.which("initdb")
    if on_path:
        return Path(on_path).parent
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda p: int(p.parts[-3]))
    return found[-1].parent if found else None


@contextmanager
def running(*, safe: bool = False) -> Iterator[Server]:
    """Start a server in a new folder; `safe` has it wait for the disk as a real one does."""
    at = programs()
    assert at is not None
    folder = Path(tempfile.mkdtemp(prefix="club-"))
    asks = {"cwd": folder, "stdout": subprocess.DEVNULL}
    if os.geteuid() == 0:  # the server refuses to run as root
        user = pwd.getpwnam("postgres")
        os.chown(folder, user.pw_uid, user.pw_gid)
        asks |= {"user": user.pw_uid, "group": user.pw_gid, "extra_groups": []}
    data = folder / "data"
    told = f"-k {folder} -p {_PORT} -c listen_addresses= -c fsync={'on' if safe else 'off'}"
    told += " -c max_connections=60"
    try:
        first = ["-U", "postgres", "-A", "trust", "--encoding=UTF8", "--no-sync"]
        subprocess.run([at / "initdb", "-D", data, *first], check=True, **asks)
        start = [at / "pg_ctl", "-D", data, "-l", folder / "log", "-w", "-o", told, "start"]
        subprocess.run(start, check=True, **asks)
        try:
            yield Server(folder)
        finally:
            stop = [at / "pg_ctl", "-D", data, "-m", "immediate", "stop"]
            subprocess.run(stop, check=True, **asks)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
