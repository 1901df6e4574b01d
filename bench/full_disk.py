"""Let the disk run full at random moments, and see that nothing confirmed is lost.

    python bench/full_disk.py --times 200 --seed 1

A workshop lies on a small file system in memory (mounted in a name space of its own, so nobody
needs to be root). Each time a ballast leaves it anything from nothing to 3 MB, then facts,
photographs, views, a backup or a command are tried until one is refused. A refusal must be one that
is told as a sentence; a command must end with 2 and without a traceback. Then the ballast goes, and
everything that was confirmed must be there and the workshop sound. Linux with unshare.
"""

import argparse
import io
import sqlite3
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

import numpy as np
from PIL import Image
from sqlalchemy.exc import SQLAlchemyError

from ironlace.evidence.errors import IronlaceError
from ironlace.record import EntryKind, PhotographRole, Question
from ironlace.workshop import Workshop
from ironlace.workshop.store.backup import back_up
from ironlace.workshop.store.check import check_workshop
from ironlace.workshop.store.faults import in_words

SLUG = "the-full-disk"
NOT_HERE = 77
"""Ends with this where the system does not let it be done."""
MOST_LEFT = 3_000_000
"""Bytes left free at most, drawn evenly in their logarithm: photographs fit, or a fact, or none."""


def _picture(rng: np.random.Generator, path: Path) -> Path:
    out = io.BytesIO()
    Image.fromarray(rng.integers(0, 255, (120, 160, 3), dtype=np.uint8)).save(out, "PNG")
    path.write_bytes(out.getvalue())
    return path


class Writer:
    """Somebody at work on a workshop whose disk runs full."""

    def __init__(self, disk: Path, aside: Path, rng: np.random.Generator) -> None:
        self.disk, self.aside, self.rng = disk, aside, rng
        self.folder = disk / "workshop"
        self.kept: list[str] = []
        self.refused: Counter[str] = Counter()
        self.wrong: list[str] = []

    def fill(self) -> None:
        """Fill the disk but for a little."""
        left = int(np.exp(self.rng.uniform(np.log(1_000), np.log(MOST_LEFT))))
        with (self.disk / "ballast").open("wb", buffering=0) as file:
            try:
                while True:
                    file.write(bytes(1 << 16))
            except OSError:
                size = file.tell()
            file.truncate(max(0, size - left))

    def work(self, workshop: Workshop, turn: int) -> None:
        """Try this and that until one is refused."""
        for n in range(12):
            try:
                self._one(workshop, turn, n)
            except IronlaceError as error:
                self.refused[str(error)[:60]] += 1
                return
            except (OSError, sqlite3.Error, SQLAlchemyError) as error:
                told = in_words(error)
                if told is None:
                    self.wrong.append(f"no sentence for {error!r}")
                else:
                    self.refused[str(told)[:60]] += 1
                return

    def _one(self, workshop: Workshop, turn: int, n: int) -> None:
        draw = self.rng.random()
        if draw < 0.5:
            asked = Question(asks=f"{turn}-{n} " + "x" * int(self.rng.integers(0, 280)))
            self.kept.append(workshop.records.add(SLUG, asked))
        elif draw < 0.75:
            path = _picture(self.rng, self.aside / f"{turn}-{n}.png")
            taken = workshop.photographs.take_in_file(SLUG, path, PhotographRole.PART)
            self.kept.append(taken.name)
            workshop.photographs.view(taken.sha256, 800)
        elif draw < 0.85:
            back_up(workshop, self.disk / f"backup-{turn}-{n}.zip")
            (self.disk / f"backup-{turn}-{n}.zip").unlink()
        else:
            self._command(turn, n)

    def _command(self, turn: int, n: int) -> None:
        path = _picture(self.rng, self.aside / f"command-{turn}-{n}.png")
        words = ["photograph", "add", SLUG, str(path), "--workshop", str(self.folder)]
        done = subprocess.run(
            [sys.executable, "-m", "ironlace", *words], capture_output=True, text=True, check=False
        )
        if "Traceback" in done.stderr or done.returncode not in (0, 2):
            self.wrong.append(f"the command ended with {done.returncode}: {done.stderr[-600:]}")
        if done.returncode == 2:
            raise IronlaceError(done.stderr.strip().removeprefix("ironlace: "))


def inside(times: int, seed: int) -> int:
    """Do it, in a name space where a file system may be mounted."""
    rng = np.random.default_rng(seed)
    with tempfile.TemporaryDirectory() as scratch:
        disk, aside = Path(scratch) / "disk", Path(scratch) / "aside"
        disk.mkdir()
        aside.mkdir()
        subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64m", "none", str(disk)], check=True)
        try:
            writer = Writer(disk, aside, rng)
            with Workshop.create(writer.folder) as made:
                made.records.create("The full disk")
            for turn in range(times):
                with Workshop.open(writer.folder) as workshop:
                    writer.fill()
                    writer.work(workshop, turn)
                (disk / "ballast").unlink()
                if turn % 20 == 19 or turn == times - 1:
                    writer.wrong += _amiss(writer)
            left = [p.name for p in disk.iterdir() if p.name not in ("workshop",)]
        finally:
            subprocess.run(["umount", str(disk)], check=False)
    if left:
        writer.wrong.append(f"left behind: {left}")
    print(f"{times} times full, {len(writer.kept)} confirmed, refused: {dict(writer.refused)}")
    for one in writer.wrong[:20]:
        print("WRONG", one)
    print(f"{len(writer.wrong)} wrong")
    return len(writer.wrong)


def _amiss(writer: Writer) -> list[str]:
    with Workshop.open(writer.folder) as workshop:
        faults = [str(one) for one in check_workshop(workshop).wrong]
        entries = workshop.records.read(SLUG).entries
    for name in writer.kept:
        kind, _, key = name.rpartition(" ")
        if (EntryKind(kind), int(key)) not in entries:
            faults.append(f"{name} was confirmed and is not there")
    return faults


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--times", type=int, default=200)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--inside", action="store_true", help=argparse.SUPPRESS)
    given = asked.parse_args()
    if given.inside:
        sys.exit(1 if inside(given.times, given.seed) else 0)
    alone = ["unshare", "--mount", "--map-root-user"]
    if subprocess.run([*alone, "true"], capture_output=True, check=False).returncode:
        sys.stdout.write("nobody may have a name space of file systems here\n")
        sys.exit(NOT_HERE)
    again = [sys.executable, __file__, "--inside", "--times", str(given.times)]
    done = subprocess.run([*alone, *again, "--seed", str(given.seed)], check=False)
    sys.exit(done.returncode)
