"""Put a folder in its place whole, or not at all."""

import os
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from ironlace.dossier.errors import FolderTakenError

_STALE_SECONDS = 24 * 3600
"""A half-made folder as old as a day belongs to nobody any more."""


@contextmanager
def folder_in_place(folder: Path, is_ours: Callable[[Path], bool], what: str) -> Iterator[Path]:
    """Yield a temporary folder beside `folder`; when all went well it takes its place.

    The old folder, if there is one, is moved aside first and removed last. Should the machine stop
    between the two, the next run finds it and puts it back before it begins.

    Parameters
    ----------
    is_ours
        Whether a folder holds what may be replaced.
    what
        What is being written, for the refusal.

    Raises
    ------
    FolderTakenError
        When `folder` is a file, or holds something else.
    """
    folder = folder.absolute()
    folder.parent.mkdir(parents=True, exist_ok=True)
    aside = folder.with_name(f".{folder.name}.aside")
    if aside.exists() and not folder.exists():
        aside.rename(folder)
    _refuse_if_taken(folder, is_ours, what)
    _sweep(folder)
    making = Path(tempfile.mkdtemp(prefix=f".{folder.name}.making-", dir=folder.parent))
    try:
        yield making
        making.chmod(0o755)  # a temporary folder is made for its owner alone
        _sync(making)
        shutil.rmtree(aside, ignore_errors=True)
        if folder.exists():
            folder.rename(aside)
        making.rename(folder)
        shutil.rmtree(aside, ignore_errors=True)
    finally:
        shutil.rmtree(making, ignore_errors=True)


def _refuse_if_taken(folder: Path, is_ours: Callable[[Path], bool], what: str) -> None:
    if not folder.exists():
        return
    if not folder.is_dir() or (any(folder.iterdir()) and not is_ours(folder)):
        raise FolderTakenError(
            f"'{folder.name}' is already there and is not {what}: choose another folder, or empty "
            "it yourself."
        )


def _sweep(folder: Path) -> None:
    """Remove what a run that was killed left behind, once it is surely dead."""
    for left in folder.parent.glob(f".{folder.name}.making-*"):
        if time.time() - left.stat().st_mtime > _STALE_SECONDS:
            shutil.rmtree(left, ignore_errors=True)


def _sync(folder: Path) -> None:
    """Have every file on the disk before the folder takes its name."""
    for path in sorted(folder.rglob("*")):
        if path.is_file():
            with path.open("rb+") as opened:
                os.fsync(opened.fileno())
