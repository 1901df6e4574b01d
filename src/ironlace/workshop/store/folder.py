"""A workshop: the folder that holds the database, the originals and what is derived."""

import time
from contextlib import suppress
from pathlib import Path
from typing import Self

from ironlace.evidence.errors import IronlaceError
from ironlace.workshop.store.database import Database
from ironlace.workshop.store.originals import Store, write_whole
from ironlace.workshop.store.photographs import Photographs
from ironlace.workshop.store.records import Records

DATABASE_NAME = "ironlace.sqlite"
_STALE_S = 24 * 3600.0
"""A half-written file that nobody has touched for a day is left over; no upload takes so long."""
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
    """An open workshop."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.originals = folder / "originals"
        self.derived = folder / "derived"
        self.database = Database(folder / DATABASE_NAME)
        self.store = Store(self.originals, folder / "incoming")
        self.records = Records(self.database)
        self.photographs = Photographs(self.database, self.store, self.records, self.derived)

    @classmethod
    def create(cls, folder: Path) -> Self:
        """Make a workshop in a folder that is empty or does not exist yet.

        Raises WorkshopError when something is in the way.
        """
        folder = folder.absolute()
        if (folder / DATABASE_NAME).exists():
            raise WorkshopError(f"{folder} is a workshop already: open it as it is.")
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise WorkshopError(f"{folder} is not an empty folder: choose another place.")
        folder.mkdir(parents=True, exist_ok=True)
        write_whole(folder / "README.txt", _README.encode())
        return cls._opened(folder)

    @classmethod
    def open(cls, folder: Path) -> Self:
        """Open a workshop and bring its tables up to date.

        Raises WorkshopError when there is none in the folder.
        """
        folder = folder.absolute()
        if not (folder / DATABASE_NAME).is_file():
            raise WorkshopError(
                f"There is no workshop in {folder}: make one with 'ironlace new {folder.name}'."
            )
        return cls._opened(folder)

    @classmethod
    def _opened(cls, folder: Path) -> Self:
        workshop = cls(folder)
        try:
            workshop.originals.mkdir(exist_ok=True)
            workshop.derived.mkdir(exist_ok=True)
            workshop.database.bring_up_to_date()
            workshop._sweep()
        except BaseException:
            workshop.close()  # what is refused is not held open
            raise
        return workshop

    def _sweep(self) -> None:
        """Remove what broken-off uploads left a day ago or more."""
        oldest = time.time() - _STALE_S
        for part in (self.folder / "incoming").glob("*.part"):
            with suppress(FileNotFoundError):
                if part.stat().st_mtime < oldest:
                    part.unlink()

    def close(self) -> None:
        """Let go of the database."""
        self.database.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
