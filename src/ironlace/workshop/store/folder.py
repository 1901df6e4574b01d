"""A workshop: the folder that holds the database, the originals and what is derived."""

import shutil
import tempfile
import time
import uuid
from contextlib import suppress
from pathlib import Path
from typing import Self

from ironlace.evidence.errors import IronlaceError
from ironlace.workshop.store.database import Database, copy_database
from ironlace.workshop.store.faults import NO_ROOM
from ironlace.workshop.store.originals import Store, settle, throw_away, write_whole
from ironlace.workshop.store.photographs import Photographs
from ironlace.workshop.store.records import Records

DATABASE_NAME = "ironlace.sqlite"
STALE_S = 24 * 3600.0
"""A half-written file that nobody has touched for a day is left over; no upload takes so long."""
_BEGUN = ".begun-"
_README = """This folder is an Ironlace workshop.

ironlace.sqlite   the records, with every change ever made to them (SQLite 3)
originals/        photographs and drawings, each named by its SHA-256, never altered
derived/          made from the others; may be deleted, it is made again when wanted
incoming/         files on their way in; may be deleted while Ironlace does not run

To move it, stop Ironlace and copy the folder, or use `ironlace backup`.
"""


class WorkshopError(IronlaceError):
    """A folder is not a workshop, or cannot become one."""


class Workshop:
    """An open workshop.

    Attributes
    ----------
    read_only
        Whether its folder does not let itself be written to: then it can be looked at, checked and
        backed up. What is derived goes to a place that is thrown away at the end.
    """

    def __init__(self, folder: Path, database: Database, scratch: Path | None = None) -> None:
        self.folder = folder
        self.read_only = database.read_only
        self.originals = folder / "originals"
        self._scratch = scratch
        self.derived = (scratch or folder) / "derived"
        self.database = database
        self.store = Store(self.originals, (scratch or folder) / "incoming")
        self.records = Records(self.database)
        self.photographs = Photographs(self.database, self.store, self.records, self.derived)

    @classmethod
    def create(cls, folder: Path) -> Self:
        """Make a workshop in a folder that is empty or does not exist yet.

        What was broken off while it was made can be made again: the database gets its name last.

        Raises WorkshopError when something is in the way.
        """
        folder = folder.absolute()
        if (folder / DATABASE_NAME).exists():
            raise WorkshopError(f"{folder} is a workshop already: open it as it is.")
        if folder.exists() and (not folder.is_dir() or not _only_begun(folder)):
            raise WorkshopError(f"{folder} is not an empty folder: choose another place.")
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except FileNotFoundError as error:  # a place where no folder can be, such as a lost share
            raise WorkshopError(
                f"{folder} cannot be made ({error.strerror}): choose another place."
            ) from error
        write_whole(folder / "README.txt", _README.encode())
        for left in folder.glob(f"{_BEGUN}*"):
            left.unlink()
        begun = folder / f"{_BEGUN}{uuid.uuid4().hex}.sqlite"
        database = Database(begun, makes=True)
        try:
            database.bring_up_to_date()
        finally:
            database.close()
        begun.replace(folder / DATABASE_NAME)
        settle(folder)
        return cls.open(folder)

    @classmethod
    def open(cls, folder: Path) -> Self:
        """Open a workshop and bring its tables up to date.

        Raises WorkshopError when there is none in the folder, DatabaseError when its database is
        empty, spoilt, another's or newer than this program.
        """
        folder = folder.absolute()
        file = folder / DATABASE_NAME
        if not file.is_file():
            if any((folder / "originals").glob("??/*")):
                raise WorkshopError(
                    f"{file} is missing though originals lie beside it: put a backup back with "
                    "'ironlace restore'."
                )
            raise WorkshopError(
                f"There is no workshop in {folder}: make one with 'ironlace new {folder.name}'."
            )
        if not _lets_itself_be_written(folder):
            return cls._looked_at(folder)
        workshop = cls(folder, Database(file))
        try:
            workshop.database.bring_up_to_date()
            workshop.originals.mkdir(exist_ok=True)
            workshop.derived.mkdir(exist_ok=True)
            workshop._sweep()
        except BaseException:
            workshop.close()  # what is refused is not held open
            raise
        return workshop

    @classmethod
    def _looked_at(cls, folder: Path) -> Self:
        """Open a workshop whose folder cannot be written to, writing nothing into it."""
        scratch = Path(tempfile.mkdtemp(prefix="ironlace-"))
        file = folder / DATABASE_NAME
        log = file.with_name(f"{file.name}-wal")
        try:
            if log.is_file() and log.stat().st_size:
                # what was kept last stands in the log: it is read from a copy
                for one in (file, log):
                    shutil.copyfile(one, scratch / one.name)
                file = scratch / DATABASE_NAME
                copied = file.with_suffix(".whole.sqlite")
                copy_database(file, copied)
                file = copied
            workshop = cls(folder, Database(file, read_only=True), scratch)
        except BaseException:
            throw_away(scratch)
            raise
        try:
            workshop.database.bring_up_to_date()
            workshop.derived.mkdir()
        except BaseException:
            workshop.close()
            raise
        return workshop

    def _sweep(self) -> None:
        """Remove what uploads, backups and packs that were broken off left a day ago or more."""
        oldest = time.time() - STALE_S
        web = self.derived / "web"
        for place, names in (
            (self.folder / "incoming", "*.part"),
            (web / "backups", "*"),
            (web / "packs", "*.part"),
        ):
            for part in place.glob(names):
                with suppress(FileNotFoundError):
                    if part.is_file() and part.stat().st_mtime < oldest:
                        part.unlink()

    def close(self) -> None:
        """Let go of the database."""
        self.database.close()
        if self._scratch is not None:
            throw_away(self._scratch)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _only_begun(folder: Path) -> bool:
    """Whether a folder holds nothing but what making a workshop in it may have left."""
    for path in folder.iterdir():
        if path.name == "README.txt" and path.is_file():
            if path.read_bytes() != _README.encode():
                return False
        elif path.is_dir() or not path.name.startswith((_BEGUN, "README.txt.")):
            return False
    return True


def _lets_itself_be_written(folder: Path) -> bool:
    """Try it: permissions, a read-only disk and a locked card all look different, and act alike."""
    trial = folder / f".trial-{uuid.uuid4().hex}"
    try:
        trial.touch()
    except OSError as error:
        return error.errno in NO_ROOM  # a full disk is told where something is to be kept
    with suppress(OSError):
        trial.unlink()
    return True
