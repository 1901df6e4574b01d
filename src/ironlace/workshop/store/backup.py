"""Backup and restore: one archive, a BagIt bag (RFC 8493) in a zip file.

The database is copied by SQLite's online backup, which gives one consistent moment while others
read and write; originals never change, so those that the copied database names can be added after
it. Restoring proves every checksum before the folder gets its name.
"""

import glob
import hashlib
import re
import shutil
import sqlite3
import tempfile
import time
import uuid
import zipfile
import zlib
from contextlib import closing, suppress
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath
from typing import Any

from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.progress import Progress
from ironlace.workshop.store.check import Checked, check_workshop
from ironlace.workshop.store.database import copy_database, not_ours_in
from ironlace.workshop.store.faults import NoRoomError, in_words
from ironlace.workshop.store.folder import DATABASE_NAME, STALE_S, Workshop
from ironlace.workshop.store.originals import throw_away

_BAGIT = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
_MANIFEST = "manifest-sha256.txt"
_CHUNK = 1 << 20
"""Bytes read at a time; only time and memory depend on it."""
_MOST_MANIFEST = 50_000_000
"""Bytes of a manifest: half a million originals. A bound on what is read whole."""
_OF_A_BACKUP = re.compile(
    rf"{re.escape(DATABASE_NAME)}|README\.txt|originals/[0-9a-f]{{2}}/[0-9a-f]{{64}}\.[a-z0-9]{{1,8}}"
)
"""What a backup of ours holds. A log of the database, or a secret, would be believed if it came."""


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
            copy_database(workshop.database.file, database, read_only=workshop.database.read_only)
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
        raise in_words(error) or BackupError(
            f"{file} could not be written ({error.strerror}): choose another place."
        ) from error
    finally:
        with suppress(FileNotFoundError):
            part.unlink()
    return BackedUp(file, len(members), written)


def restore(file: Path, folder: Path, progress: Progress | None = None) -> Checked:
    """Bring a backup back into a new folder, and prove it.

    What is proved comes back; an original that is missing or damaged in the archive stays out, and
    is among what is `wrong`.

    Raises
    ------
    BackupError
        When the archive is no backup of a workshop, its database is not as it was packed, it
        holds what no backup holds, or the folder is in use; nothing is left then.
    """
    folder = folder.absolute()
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise BackupError(f"{folder} is not empty: restore into a new folder.")
    folder.parent.mkdir(parents=True, exist_ok=True)
    _sweep_beside(folder)
    building = folder.with_name(f".{folder.name}.{uuid.uuid4().hex[:8]}.restoring")
    try:
        damaged = _unpack(file, building, progress)
        strange = not_ours_in(building / DATABASE_NAME)
        if strange:
            raise BackupError(
                f"The database in {file.name} holds a {strange[0]}, which is none of this "
                "program's and could run at your own writes: do not trust it."
            )
        with Workshop.open(building) as workshop:
            checked = check_workshop(workshop)
        if folder.exists():
            folder.rmdir()
        building.rename(folder)
    except OSError as error:
        raise in_words(error) or BackupError(
            f"{folder} could not be written ({error.strerror}): choose another place."
        ) from error
    finally:
        throw_away(building)
    return replace(checked, wrong=(*damaged, *checked.wrong))


def _sweep_beside(folder: Path) -> None:
    """Remove what a restore into this folder that was broken off left a day ago or more."""
    oldest = time.time() - STALE_S
    for left in folder.parent.glob(f".{glob.escape(folder.name)}.????????.restoring"):
        if left.is_dir() and left.stat().st_mtime < oldest:
            throw_away(left)


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


def _unpack(file: Path, to: Path, progress: Progress | None) -> list[str]:
    """Unpack a bag, proving each file's checksum as it is written; returns what was not proved."""
    if not file.is_file():
        raise BackupError(f"There is no file {file}: check its name.")
    damaged: list[str] = []
    try:
        with zipfile.ZipFile(file) as bag:
            if bag.read("bagit.txt").decode() != _BAGIT:
                raise BackupError(f"{file.name} is not a backup of a workshop.")
            expected = _manifest(bag, file)
            payload = {name for name in bag.namelist() if name.startswith("data/")}
            if payload - set(expected) or f"data/{DATABASE_NAME}" not in payload:
                raise BackupError(f"{file.name} is not whole: files are missing or were added.")
            _must_fit(bag, file, to.parent)
            for index, (name, sha) in enumerate(expected.items()):
                place = to.joinpath(*_safe_parts(name, file))
                if name not in payload:
                    damaged.append(f"{name} is missing from {file.name}.")
                elif not _unpacked(bag, name, place, sha):
                    if name == f"data/{DATABASE_NAME}":
                        raise BackupError(
                            f"{file.name} is damaged: its database is not what was packed."
                        )
                    place.unlink(missing_ok=True)
                    damaged.append(f"{name} in {file.name} is damaged and was left out.")
                elif name.startswith("data/originals/"):
                    place.chmod(0o444)
                if progress:
                    progress("unpacking", (index + 1) / len(expected))
    except (zipfile.BadZipFile, zlib.error, KeyError, ValueError, EOFError, RuntimeError) as error:
        raise BackupError(f"{file.name} is not a whole backup: use another one.") from error
    return damaged


def _manifest(bag: zipfile.ZipFile, file: Path) -> dict[str, str]:
    """The checksum of each file of the payload, by its name in the bag."""
    if bag.getinfo(_MANIFEST).file_size > _MOST_MANIFEST:
        raise BackupError(f"{file.name} is not a whole backup: use another one.")
    lines = bag.read(_MANIFEST).decode().splitlines()
    expected = {name: sha for sha, name in (line.split("  ", 1) for line in lines)}
    for name in expected:
        inside = "/".join(_safe_parts(name, file))
        if not _OF_A_BACKUP.fullmatch(inside):
            raise BackupError(
                f"{file.name} holds {inside[:100]}, which no backup holds: do not trust it."
            )
    return expected


def _must_fit(bag: zipfile.ZipFile, file: Path, parent: Path) -> None:
    """Refuse what would fill the disk, before anything is unpacked."""
    wanted = sum(info.file_size for info in bag.infolist())
    free = shutil.disk_usage(parent).free
    if wanted > free:
        raise NoRoomError(
            f"{file.name} unpacks to {wanted / 1e9:.1f} GB and the disk has {free / 1e9:.1f} GB "
            "free: free some space, or restore to another disk."
        )


def _unpacked(bag: zipfile.ZipFile, name: str, place: Path, sha: str) -> bool:
    """Write one file of a bag; whether it is what was packed."""
    place.parent.mkdir(parents=True, exist_ok=True)
    digest = hashlib.sha256()
    try:
        with bag.open(name) as source, place.open("xb") as target:
            while piece := source.read(_CHUNK):
                digest.update(piece)
                target.write(piece)
    except (zipfile.BadZipFile, zlib.error, EOFError, ValueError, RuntimeError):
        return False
    return digest.hexdigest() == sha


def _safe_parts(name: str, file: Path) -> tuple[str, ...]:
    parts = PurePosixPath(name).parts[1:]
    if not parts or any(part in ("..", "") or "\\" in part or ":" in part for part in parts):
        raise BackupError(f"{file.name} names a file outside its folder: do not trust it.")
    return parts
