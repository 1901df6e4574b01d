"""Cut the power under a workshop at random moments, on paper, and see what it holds afterwards.

    python bench/power_cut.py --cuts 300 --seed 1

A program writes facts, photographs and drawings into a workshop under strace, and says after each
that it is kept. From the calls to the system two states are followed: what the system would show,
and what the disk must hold. A call that changes a file or a name reaches the disk for certain only
when that file or that folder was synced (POSIX, fsync). At a cut everything else may be there or
not: each unsynced write by itself in pieces of 512 bytes, each change of a name by itself, in
their order within a folder. The disk as it might then be is laid out, the workshop opened and
checked, and everything that was said to be kept is looked for. Linux with strace.
"""

import argparse
import io
import re
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from PIL import Image

from ironlace.evidence.errors import IronlaceError
from ironlace.record import EntryKind, PhotographRole, Question
from ironlace.workshop import Workshop
from ironlace.workshop.store.check import check_workshop

CALLS = (
    "openat,open,creat,close,dup,dup2,dup3,fcntl,lseek,write,writev,pwrite64,pwritev,sendfile,"
    "copy_file_range,fsync,fdatasync,rename,renameat,renameat2,link,linkat,unlink,unlinkat,"
    "ftruncate,mkdir,mkdirat,rmdir,mmap"
)
NOT_HERE = 77
"""Ends with this where the system does not let it be done."""
SECTOR = 512
"""Bytes that a disk writes whole."""
SLUG = "the-power-cut"
_CALL = re.compile(r"^(\d+)\s+(\w+)\((.*)\)\s+=\s+(-?\d+|0x[0-9a-f]+)(.*)$", re.S)
_FD = re.compile(r"^(-?\d+|AT_FDCWD)(?:<(.*)>)?$", re.S)
_KEPT = "KEPT"


def write_into(folder: Path, count: int) -> None:
    """Write facts, photographs and changes, and say after each that it is kept."""
    rng = np.random.default_rng(4)
    with Workshop.open(folder) as workshop:
        for n in range(count):
            if n % 3:
                name = workshop.records.add(SLUG, Question(asks=f"What of {n}?" + "x" * 250))
            else:
                path = folder.parent / f"picture-{n}.png"
                out = io.BytesIO()
                Image.fromarray(rng.integers(0, 255, (90, 120, 3), dtype=np.uint8)).save(out, "PNG")
                path.write_bytes(out.getvalue())
                taken = workshop.photographs.take_in_file(SLUG, path, PhotographRole.PART, f"{n}")
                name = taken.name
            sys.stdout.write(f"{_KEPT} {name}\n")
            sys.stdout.flush()


@dataclass
class File:
    """A file's content as shown, as surely on the disk, and the writes in between."""

    shown: bytearray = field(default_factory=bytearray)
    sure: bytes = b""
    waiting: list[tuple[int, bytes]] = field(default_factory=list)  # (-1, size): cut to a length

    def write(self, at: int, data: bytes) -> None:
        if len(self.shown) < at:
            self.shown.extend(bytes(at - len(self.shown)))
        self.shown[at : at + len(data)] = data
        self.waiting.append((at, data))

    def cut(self, size: int) -> None:
        del self.shown[size:]
        self.shown.extend(bytes(size - len(self.shown)))
        self.waiting.append((-1, size.to_bytes(8, "big")))

    def sync(self) -> None:
        self.sure, self.waiting = bytes(self.shown), []

    def after_cut(self, rng: np.random.Generator) -> bytes:
        """The file as the disk may hold it: any of what waits, in whole sectors."""
        held = bytearray(self.sure)
        for at, data in self.waiting:
            if at < 0:
                if rng.random() < 0.5:
                    size = int.from_bytes(data, "big")
                    del held[size:]
                    held.extend(bytes(size - len(held)))
                continue
            way = rng.random()
            for start in range(0, len(data), SECTOR):
                if way < 0.3 or (way < 0.7 and rng.random() < 0.5):
                    continue  # none of it, or half of its sectors
                piece = data[start : start + SECTOR]
                if len(held) < at + start:
                    held.extend(bytes(at + start - len(held)))
                held[at + start : at + start + len(piece)] = piece
        return bytes(held)


@dataclass
class Disk:
    """Names and files, as shown and as surely on the disk."""

    root: Path
    shown: dict[str, File | None] = field(default_factory=dict)  # None: a folder
    sure: dict[str, File | None] = field(default_factory=dict)
    waiting: list[tuple[str, ...]] = field(default_factory=list)

    @classmethod
    def of(cls, root: Path) -> "Disk":
        """A folder as it lies, all of it surely on the disk."""
        disk = cls(root)
        for path in sorted(root.rglob("*")):
            name = str(path)
            disk.shown[name] = None if path.is_dir() else File(bytearray(path.read_bytes()))
            if (one := disk.shown[name]) is not None:
                one.sync()
        disk.sure = dict(disk.shown)
        return disk

    def change(self, *step: str) -> None:
        """Change a name: ("make", path), ("folder", path), ("drop", path), ("move", from, to)."""
        moved = self.shown.get(step[1]) if step[0] == "move" else None
        if moved is not None:  # the new name holds the file, whether or not the old one ever did
            _FILES[str(id(moved))] = moved
            step = (*step, str(id(moved)))
        self.waiting.append(step)
        _apply(self.shown, step)

    def sync_folder(self, path: str) -> None:
        """All changes of names within a folder reach the disk."""
        kept = []
        for step in self.waiting:
            if path in _folders(step):
                _apply(self.sure, step)
            else:
                kept.append(step)
        self.waiting = kept

    def after_cut(self, rng: np.random.Generator, to: Path) -> None:
        """Lay out the disk as it may be found."""
        names = dict(self.sure)
        broken: set[str] = set()
        for step in self.waiting:
            folders = _folders(step)
            # within a folder changes reach the disk in their order, so nothing follows a gap
            if folders & broken or rng.random() < 0.4:
                broken |= folders
                continue
            _apply(names, step)
        for name, one in sorted(names.items()):
            place = to / Path(name).relative_to(self.root)
            if one is None:
                place.mkdir(parents=True, exist_ok=True)
            elif place.parent.is_dir():
                place.write_bytes(one.after_cut(rng))


_FILES: dict[str, File] = {}
"""Files by the number they were made under: a step names one that may have moved since."""


def _folders(step: tuple[str, ...]) -> set[str]:
    """The folders whose names a step changes."""
    return {str(Path(name).parent) for name in step[1:] if name.startswith("/")}


def _apply(names: dict[str, File | None], step: tuple[str, ...]) -> None:
    kind, path = step[0], step[1]
    if kind == "folder":
        names[path] = None
    elif kind == "make":
        names[path] = _FILES[step[2]]
    elif kind == "drop":
        names.pop(path, None)
    elif kind == "move" and len(step) > 3:
        names.pop(path, None)
        names[step[2]] = _FILES[step[3]]
    elif kind == "move":
        for name in [n for n in names if n == path or n.startswith(path + "/")]:
            names[step[2] + name[len(path) :]] = names.pop(name)


def traced(folder: Path, count: int, out: Path) -> list[str]:
    """Run the writer under strace; return its calls, a line each, in the order they ended."""
    done = subprocess.run(
        [
            "strace",
            "-f",
            "-y",
            "-xx",
            "-s",
            "4000000",
            "-o",
            str(out),
            "-e",
            f"trace={CALLS}",
            sys.executable,
            __file__,
            "--write",
            str(folder),
            "--count",
            str(count),
        ],
        capture_output=True,
        text=True,
        check=False,
    )
    if "ptrace" in done.stderr and not out.is_file():
        sys.stdout.write("nobody may be traced here\n")
        raise SystemExit(NOT_HERE)
    if done.returncode:
        raise SystemExit(f"the writer failed: {done.stderr[-2000:]}")
    begun: dict[str, str] = {}
    lines = []
    for line in out.read_text(errors="surrogateescape").splitlines():
        pid = line.split(None, 1)[0]
        if line.endswith("<unfinished ...>"):
            begun[pid] = line[: -len("<unfinished ...>")].rstrip()
        elif "resumed>" in line:
            lines.append(begun.pop(pid) + line.split("resumed>", 1)[1])
        else:
            lines.append(line)
    return lines


def _text(quoted: str) -> bytes:
    """The bytes of a string as strace writes it with -xx."""
    return bytes.fromhex(quoted.strip().strip('"').replace("\\x", ""))


def _parts(arguments: str) -> list[str]:
    """Arguments of a call; strings hold no comma, as they are in figures."""
    parts, depth, begun = [], 0, 0
    for at, letter in enumerate(arguments):
        if letter in "[{<":
            depth += 1
        elif letter in "]}>":
            depth -= 1
        elif letter == "," and depth == 0:
            parts.append(arguments[begun:at].strip())
            begun = at + 1
    return [*parts, arguments[begun:].strip()]


def _name(fd: str) -> str:
    """The path behind a descriptor, as strace tells it."""
    found = _FD.match(fd)
    path = (found[2] or "") if found else ""
    return _text(path).decode() if path.startswith("\\x") else path


class Player:
    """Plays the calls of a writer on a disk."""

    def __init__(self, disk: Disk) -> None:
        self.disk = disk
        self.at: dict[str, int] = {}
        self.kept: list[str] = []
        self.made = 0

    def _ours(self, path: str) -> bool:
        return path.startswith(str(self.disk.root) + "/") or path == str(self.disk.root)

    def _path(self, folder: str, quoted: str) -> str:
        path = _text(quoted).decode()
        return path if path.startswith("/") else str(Path(_name(folder)) / path)

    def play(self, line: str) -> bool:  # long: one branch a call of the system
        """Play one call; whether it changed anything of the disk or was a promise."""
        found = _CALL.match(line)
        if not found or found[4].startswith("-"):
            return False
        call, parts, result = found[2], _parts(found[3]), int(found[4], 0)
        if call in ("open", "openat", "creat"):
            path = self._path("", parts[0]) if call != "openat" else self._path(parts[0], parts[1])
            self.at[str(result)] = 0
            how = found[3]
            if not self._ours(path) or path == str(self.disk.root) or "O_DIRECTORY" in how:
                return False
            if path not in self.disk.shown:
                self.made += 1
                _FILES[str(self.made)] = File()
                self.disk.change("make", path, str(self.made))
                return True
            one = self.disk.shown[path]
            if "O_TRUNC" in how and one is not None and one.shown:
                one.cut(0)
                return True
            return False
        if call in ("mkdir", "mkdirat"):
            path = self._path("", parts[0]) if call == "mkdir" else self._path(parts[0], parts[1])
            if self._ours(path):
                self.disk.change("folder", path)
                return True
            return False
        if call in ("rename", "renameat", "renameat2", "link", "linkat"):
            one, other = (
                (self._path("", parts[0]), self._path("", parts[1]))
                if call in ("rename", "link")
                else (self._path(parts[0], parts[1]), self._path(parts[2], parts[3]))
            )
            if not self._ours(one) and not self._ours(other):
                return False
            if call.startswith("link"):
                raise SystemExit("a link: teach this bench what becomes of it")
            self.disk.change("move", one, other)
            return True
        if call in ("unlink", "unlinkat", "rmdir"):
            path = (
                self._path(parts[0], parts[1]) if call == "unlinkat" else self._path("", parts[0])
            )
            if self._ours(path) and path in self.disk.shown:
                self.disk.change("drop", path)
                return True
            return False
        return self._by_descriptor(call, parts, result)

    def _by_descriptor(self, call: str, parts: list[str], result: int) -> bool:
        number = parts[0].partition("<")[0]
        path = _name(parts[0])
        if call in ("dup", "dup2", "dup3", "fcntl"):
            if call != "fcntl" or "F_DUPFD" in parts[1]:
                self.at[str(result)] = self.at.get(number, 0)
            return False
        if call == "lseek":
            self.at[number] = result
            return False
        if call == "write" and number == "1":
            told = _text(parts[1]).decode()
            if told.startswith(_KEPT):
                self.kept.append(told[len(_KEPT) + 1 :].strip())
                return True
            return False
        if call == "mmap":
            if len(parts) > 4 and "PROT_WRITE" in parts[2] and "MAP_SHARED" in parts[3]:
                mapped = _name(parts[4])
                if self._ours(mapped) and not mapped.endswith("-shm"):
                    raise SystemExit(f"{mapped} is written by way of memory: not followed here")
            return False
        if not self._ours(path):
            return False
        if path.endswith(" (deleted)"):
            return False
        if call in ("fsync", "fdatasync"):
            one = self.disk.shown.get(path)
            if path == str(self.disk.root) or one is None:
                self.disk.sync_folder(path)
            else:
                one.sync()
            return True
        one = self.disk.shown.get(path)
        if one is None:
            return False
        if call == "pwrite64":
            one.write(int(parts[3]), _text(parts[1])[:result])
        elif call == "write":
            at = self.at.get(number, 0)
            one.write(at, _text(parts[1])[:result])
            self.at[number] = at + result
        elif call == "ftruncate":
            one.cut(int(parts[1]))
        elif call in ("writev", "pwritev", "sendfile", "copy_file_range"):
            raise SystemExit(f"{call} on {path}: teach this bench what it does")
        else:
            return False
        return True


def found_amiss(folder: Path, kept: list[str]) -> list[str]:
    """What is wrong with a workshop after a cut."""
    try:
        with Workshop.open(folder) as workshop:
            checked = check_workshop(workshop)
            faults = [str(one) for one in checked.wrong]
            record = workshop.records.read(SLUG)
            for name in kept:
                kind, _, key = name.rpartition(" ")
                if (EntryKind(kind), int(key)) not in record.entries:
                    faults.append(f"{name} was confirmed and is not there")
            return faults
    except IronlaceError as error:
        return [f"does not open: {error}"]


def run(cuts: int, seed: int, count: int) -> int:
    """Cut the power so often; return how often something was amiss."""
    rng = np.random.default_rng(seed)
    with tempfile.TemporaryDirectory() as scratch:
        root = Path(scratch).resolve() / "workshop"
        with Workshop.create(root) as made:
            made.records.create("The power cut")
        disk = Disk.of(root)
        lines = traced(root, count, Path(scratch) / "calls.txt")
        ours = (str(root), "".join(f"\\x{b:02x}" for b in str(root).encode()), "(1<", "(1,")
        touching = [n for n, line in enumerate(lines) if any(one in line for one in ours)]
        moments = sorted(touching[int(m)] for m in rng.integers(0, len(touching), cuts))
        player, wrong, at = Player(disk), 0, 0
        for moment in moments:
            while at < moment:
                player.play(lines[at])
                at += 1
            place = Path(scratch) / "found"
            place.mkdir()
            disk.after_cut(rng, place)
            faults = found_amiss(place, player.kept)
            if faults:
                wrong += 1
                print(f"WRONG at call {moment} of {len(lines)}: {faults[:4]}")
            shutil.rmtree(place)
        print(f"{len(player.kept)} writes confirmed in {len(touching)} calls")
        print(f"{cuts} cuts: {wrong} amiss")
    return wrong


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--cuts", type=int, default=300)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--count", type=int, default=60, help="writes that are confirmed")
    asked.add_argument("--write", type=Path, help=argparse.SUPPRESS)
    given = asked.parse_args()
    if given.write:
        write_into(given.write, given.count)
    else:
        sys.exit(1 if run(given.cuts, given.seed, given.count) else 0)
