"""Backup and restore: one archive, a BagIt bag (RFC 8493) in a zip file.

The database is copied by SQLite's online backup, which gives one consistent moment while others
read and write; originals never change, so those that the copied database names can be added after
it. Restoring proves every checksum before the folder gets its name.
"""

import hashlib
import sqlite3
import tempfile
import uuid
import zipfile
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.progress import Progress
from ironlace.workshop.store.check import Checked, check_workshop
from ironlace.workshop.store.database import copy_database
from ironlace.workshop.store.folder import DATABASE_NAME, Workshop
from ironlace.workshop.store.originals import throw_away

_BAGIT = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
_MANIFEST = "manifest-sha256.txt"
_CHUNK = 1 << 20
"""Bytes read at a time; only time and memory depend on it."""


class BackupError(IronlaceError):
    """An archive cannot be written, or is not a whole backup."""


@dataclass(frozen=True, slots=True)
class BackedUp:
    """What went into an archive."""

    file: Path
    files: int
    bytes: int

    def as_dict(self) -> dict[str, Any]:
        """The result as JSON."""
        return {"file": str(self.file), "files": self.files, "bytes": self.bytes}


def back_up(workshop: Workshop, file: Path, progress: Progress | None = None) -> BackedUp:
    """Write a workshop into one archive; it may be in use meanwhile.

    Raises
    ------
    BackupError
        When the file is there already, cannot be written, or an original is missing or altered.
    """
    file = file.absolute()
    if file.exists():
        raise BackupError(f"{file} is there already: choose another name, so that none is lost.")
    if not file.parent.is_dir():
        raise BackupError(f"There is no folder {file.parent}: make it first.")
    part = file.with_name(f"{file.name}.{uuid.uuid4().hex[:8]}.part")
    try:
        with tempfile.TemporaryDirectory() as scratch:
            database = Path(scratch) / DATABASE_NAME
            copy_database(workshop.database.file, database)
            with closing(sqlite3.connect(database)) as copied:
                named = copied.execute("SELECT sha256, suffix FROM original").fetchall()
            members = [(database, DATABASE_NAME, "")]
            members += [
                (workshop.store.find(sha, suffix), f"originals/{sha[:2]}/{sha}{suffix}", sha)
                for sha, suffix in sorted(named)
            ]
            readme = workshop.folder / "README.txt"
            if readme.is_file():
                members.append((readme, "README.txt", ""))
            written = _write_bag(part, members, progress)
        part.replace(file)
    except OSError as error:
        raise BackupError(
            f"{file} could not be written ({error.strerror}): free some space."
        ) from (error)
    finally:
        with suppress(FileNotFoundError):
            part.unlink()
    return BackedUp(file, len(members), written)


def restore(file: Path, folder: Path, progress: Progress | None = None) -> Checked:
    """Bring a backup back into a new folder, and prove it.

    Raises
    ------
    BackupError
        When the archive is not a whole backup, or the folder is in use; nothing is left then.
    """
    folder = folder.absolute()
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise BackupError(f"{folder} is not empty: restore into a new folder.")
    folder.parent.mkdir(parents=True, exist_ok=True)
    building = folder.with_name(f".{folder.name}.{uuid.uuid4().hex[:8]}.restoring")
    try:
        _unpack(file, building, progress)
        with Workshop.open(building) as workshop:
            checked = check_workshop(workshop)
        if not checked.sound:
            raise BackupError(f"{file.name} does not hold together: {checked.wrong[0]}")
        if folder.exists():
            folder.rmdir()
        building.rename(folder)
    finally:
        throw_away(building)
    return checked


def _write_bag(part: Path, members: list[tuple[Path, str, str]], progress: Progress | None) -> int:
    total = 0
    manifest: list[str] = []
    # photographs are compressed already: packing them again costs time and gains nothing
    with zipfile.ZipFile(part, "x", zipfile.ZIP_STORED, allowZip64=True) as bag:
        bag.writestr("bagit.txt", _BAGIT)
        for index, (path, name, expected) in enumerate(members):
            digest = hashlib.sha256()
            with path.open("rb") as source, bag.open(f"data/{name}", "w", force_zip64=True) as to:
                while piece := source.read(_CHUNK):
                    digest.update(piece)
                    to.write(piece)
                    total += len(piece)
            if expected and digest.hexdigest() != expected:
                raise BackupError(
                    f"The original {expected[:12]} is not what it was: run 'ironlace check', then "
                    "restore it from an older backup."
                )
            manifest.append(f"{digest.hexdigest()}  data/{name}\n")
            if progress:
                progress("packing", (index + 1) / len(members))
        bag.writestr("bag-info.txt", f"Payload-Oxum: {total}.{len(members)}\n")
        bag.writestr(_MANIFEST, "".join(manifest))
    return total


def _unpack(file: Path, to: Path, progress: Progress | None) -> None:
    """Unpack a bag, proving each file's checksum as it is written."""
    if not file.is_file():
        raise BackupError(f"There is no file {file}: check its name.")
    try:
        with zipfile.ZipFile(file) as bag:
            if bag.read("bagit.txt").decode() != _BAGIT:
                raise BackupError(f"{file.name} is not a backup of a workshop.")
            lines = bag.read(_MANIFEST).decode().splitlines()
            expected = {name: sha for sha, name in (line.split("  ", 1) for line in lines)}
            payload = {name for name in bag.namelist() if name.startswith("data/")}
            if payload != set(expected) or f"data/{DATABASE_NAME}" not in payload:
                raise BackupError(f"{file.name} is not whole: files are missing or were added.")
            for index, (name, sha) in enumerate(expected.items()):
                place = to.joinpath(*_safe_parts(name, file))
                place.parent.mkdir(parents=True, exist_ok=True)
                digest = hashlib.sha256()
                with bag.open(name) as source, place.open("xb") as target:
                    while piece := source.read(_CHUNK):
                        digest.update(piece)
                        target.write(piece)
                if digest.hexdigest() != sha:
                    raise BackupError(f"{file.name} is damaged: {name} is not what was packed.")
                if name.startswith("data/originals/"):
                    place.chmod(0o444)
                if progress:
                    progress("unpacking", (index + 1) / len(expected))
    except (zipfile.BadZipFile, KeyError, ValueError, EOFError, UnicodeDecodeError) as error:
        raise BackupError(f"{file.name} is not a whole backup: use another one.") from error


def _safe_parts(name: str, file: Path) -> tuple[str, ...]:
    parts = PurePosixPath(name).parts[1:]
    if not parts or any(part in ("..", "") or "\\" in part or ":" in part for part in parts):
        raise BackupError(f"{file.name} names a file outside its folder: do not trust it.")
    return parts
