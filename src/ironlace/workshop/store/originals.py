"""The store of originals: files named by their SHA-256, written once, never altered."""

import hashlib
import os
import shutil
import uuid
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from ironlace.evidence.errors import IronlaceError, NotFoundError


class TooLargeError(IronlaceError):
    """A file is larger than the workshop takes."""

    http_status = 413


@dataclass(frozen=True, slots=True)
class Incoming:
    """A file that has come in whole, and is not yet in the store."""

    path: Path
    sha256: str
    size: int


class Store:
    """Originals below one folder, and the place where files come in."""

    def __init__(self, originals: Path, incoming: Path) -> None:
        self.originals = originals
        self.incoming = incoming

    @contextmanager
    def receive(self, limit: int, came_as: str) -> Iterator["Receiving"]:
        """Take in a stream piece by piece; what is not kept is gone at the end."""
        self.incoming.mkdir(parents=True, exist_ok=True)
        path = self.incoming / f"{uuid.uuid4().hex}.part"
        with path.open("xb") as file:
            receiving = Receiving(path, file, limit, came_as)
            try:
                yield receiving
            finally:
                file.close()
                with suppress(FileNotFoundError):
                    path.unlink()

    def keep(self, incoming: Incoming, suffix: str) -> Path:
        """Move a whole file into the store, safe on disk before this returns.

        Content that is there already stays as it is; what was spoilt meanwhile is put right.
        """
        place = self.place(incoming.sha256, suffix)
        if place.is_file() and sha256_of(place) == incoming.sha256:
            return place
        make_folder(place.parent)
        incoming.path.chmod(0o444)
        incoming.path.replace(place)
        settle(place.parent)
        return place

    def place(self, sha256: str, suffix: str) -> Path:
        """Where a file of that checksum lies, there or not."""
        return self.originals / sha256[:2] / f"{sha256}{suffix}"

    def find(self, sha256: str, suffix: str) -> Path:
        """Where a file lies.

        Raises NotFoundError when it is not in the store.
        """
        place = self.place(sha256, suffix)
        if not place.is_file():
            raise NotFoundError(
                f"The original {sha256[:12]} is missing from the store: restore it from a backup."
            )
        return place

    def files(self) -> Iterator[Path]:
        """Yield every file in the store."""
        yield from sorted(path for path in self.originals.glob("??/*") if path.is_file())


class Receiving:
    """A file coming in: write pieces, then call `whole`."""

    def __init__(self, path: Path, file: IO[bytes], limit: int, came_as: str) -> None:
        self._path, self._file, self._limit, self._came_as = path, file, limit, came_as
        self._digest = hashlib.sha256()
        self._size = 0

    def write(self, piece: bytes) -> None:
        """Add a piece.

        Raises TooLargeError as soon as the file passes the limit.
        """
        self._size += len(piece)
        if self._size > self._limit:
            raise TooLargeError(
                f"{self._came_as} is larger than {self._limit // 1_000_000} MB: "
                "export it smaller, or raise the limit."
            )
        self._digest.update(piece)
        self._file.write(piece)

    def whole(self) -> Incoming:
        """Say that all has come; the content is on disk when this returns."""
        self._file.flush()
        os.fsync(self._file.fileno())
        self._file.close()
        return Incoming(self._path, self._digest.hexdigest(), self._size)


def sha256_of(path: Path) -> str:
    """Return the SHA-256 of a file, read in pieces."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that it is there whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f"{path.name}.{uuid.uuid4().hex}.part")
    try:
        with part.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    finally:
        with suppress(FileNotFoundError):
            part.unlink()


def throw_away(folder: Path) -> None:
    """Remove a folder with all in it, write-protected originals too; what is not there is fine."""
    if not folder.exists():
        return
    for path in folder.rglob("*"):
        if path.is_file() and not path.is_symlink():
            path.chmod(0o644)  # Windows does not remove a file that is write-protected
    shutil.rmtree(folder, ignore_errors=True)


def make_folder(folder: Path) -> None:
    """Make a folder that outlives a power cut, with those above it that are missing."""
    if folder.is_dir():
        return
    make_folder(folder.parent)
    folder.mkdir(exist_ok=True)
    settle(folder.parent)  # or a new folder may be gone, and what was synced in it


def settle(folder: Path) -> None:
    """Make a rename in a folder durable, where the system lets a folder be synced."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
