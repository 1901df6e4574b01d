"""Put a site into its folder: only what changed is written, only what the site wrote is taken away.

The site keeps a list of its own files beside them, each with its checksum. Whatever else lies in
the folder, such as an archive of versions or a file that the web space needs, is never touched.
"""

import hashlib
import json
import os
import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from ironlace.dossier.errors import FolderTakenError

LIST = "site-files.json"
"""The list of the site's own files, itself one of them."""
_IS = "files of a site written by Ironlace"
_NAMED = 3
"""Files that a refusal names."""


@dataclass(frozen=True, slots=True)
class Written:
    """What came of writing a site, file by file.

    `kept` are files that are no longer part of it and that somebody changed by hand: they stay.
    """

    new: tuple[str, ...]
    changed: tuple[str, ...]
    same: tuple[str, ...]
    removed: tuple[str, ...]
    kept: tuple[str, ...]

    def in_words(self) -> str:
        """One sentence on it."""
        said = (
            f"{len(self.new)} files are new, {len(self.changed)} changed, {len(self.same)} are as "
            f"they were, {len(self.removed)} were taken away."
        )
        if self.kept:
            said += f" Changed by hand and left where they are: {', '.join(self.kept)}."
        return said


def write_changed(folder: Path, make: Callable[[Path], None]) -> Written:
    """Make a site aside and bring a folder to the same state.

    Parameters
    ----------
    make
        Writes the whole site into an empty folder.

    Raises
    ------
    FolderTakenError
        When the folder holds anything visible and no list of a site's files, or something that
        the site would write over and did not write, or a link that leads out of it; nothing is
        written then.
    """
    folder = folder.absolute()
    before = _list_in(folder)
    with tempfile.TemporaryDirectory(prefix="ironlace-site-") as made:
        making = Path(made)
        make(making)
        now = {
            path.relative_to(making).as_posix(): _checksum(path)
            for path in sorted(making.rglob("*"))
            if path.is_file()
        }
        _refuse_what_is_not_ours(folder, before, now)
        there = {name: _checksum(folder / name) for name in now if (folder / name).is_file()}
        folder.mkdir(parents=True, exist_ok=True)
        # should it stop in between, what was written is known as ours the next time
        _write_list(folder, {**before, **now})
        for name, checksum in now.items():
            if there.get(name) != checksum:
                _put(making / name, folder / name)
    removed, kept = _take_away(folder, {n: c for n, c in before.items() if n not in now})
    _write_list(folder, now)
    return Written(
        tuple(name for name in now if name not in there),
        tuple(name for name in now if name in there and there[name] != now[name]),
        tuple(name for name in now if there.get(name) == now[name]),
        removed,
        kept,
    )


def _list_in(folder: Path) -> dict[str, str]:
    """The site's own files with their checksums, as its list in the folder has them."""
    place = folder / LIST
    if not folder.exists():
        return {}
    if not folder.is_dir():
        raise FolderTakenError(f"'{folder.name}' is a file: choose a folder for the site.")
    if not place.is_file():
        if any(not path.name.startswith(".") for path in folder.iterdir()):
            raise FolderTakenError(
                f"'{folder.name}' holds something and no site written by Ironlace: choose an empty "
                "folder for it."
            )
        return {}
    try:
        told: Any = json.loads(place.read_text(encoding="utf-8"))
        files = {str(name): str(checksum) for name, checksum in told["files"].items()}
        ours = told["is"] == _IS
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise FolderTakenError(
            f"'{LIST}' in '{folder.name}' is no list of a site's files: choose another folder."
        ) from error
    if not ours or any(_leads_out(name) for name in files):
        raise FolderTakenError(
            f"'{LIST}' in '{folder.name}' was not written by Ironlace: choose another folder."
        )
    return files


def _leads_out(name: str) -> bool:
    path = PurePosixPath(name)
    return path.is_absolute() or ".." in path.parts or "\\" in name or name in ("", LIST)


def _refuse_what_is_not_ours(folder: Path, before: dict[str, str], now: dict[str, str]) -> None:
    taken = [n for n in now if n not in before and os.path.lexists(folder / n)]
    if taken:
        raise FolderTakenError(
            f"'{folder.name}' holds {', '.join(taken[:_NAMED])}, which the site would write over "
            "and did not write: move it away, or choose another folder."
        )
    whole = folder.resolve()
    for name in {*before, *now}:
        if not (folder / name).parent.resolve().is_relative_to(whole) or (folder / name).is_dir():
            raise FolderTakenError(
                f"'{name}' in '{folder.name}' is a folder, or leads out of it: the site is not "
                "written there."
            )


def _checksum(path: Path) -> str:
    with path.open("rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest()


def _put(made: Path, place: Path) -> None:
    """A file in its place, whole or not at all."""
    place.parent.mkdir(parents=True, exist_ok=True)
    part = place.with_name(f".{place.name}.part")
    shutil.copyfile(made, part)
    part.replace(place)


def _take_away(folder: Path, gone: dict[str, str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    removed, kept = [], []
    for name, checksum in gone.items():
        place = folder / name
        if not place.is_file():
            continue
        if _checksum(place) != checksum:
            kept.append(name)
            continue
        place.unlink()
        removed.append(name)
        for parent in place.relative_to(folder).parents[:-1]:
            if not any((folder / parent).iterdir()):
                (folder / parent).rmdir()
    return tuple(removed), tuple(kept)


def _write_list(folder: Path, files: dict[str, str]) -> None:
    told = {"is": _IS, "files": dict(sorted(files.items()))}
    text = json.dumps(told, ensure_ascii=False, indent=1) + "\n"
    place = folder / LIST
    if place.is_file() and place.read_text(encoding="utf-8") == text:
        return
    part = place.with_name(f".{LIST}.part")
    part.write_text(text, encoding="utf-8")
    part.replace(place)
