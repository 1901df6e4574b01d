"""Close and check a bag of many large files, beside what the checksums alone take.

    python bench/bag_of_many.py --photographs 2000 --megabytes 5

Files of noise stand for photographs. Processor seconds are compared with those of `sha256sum` and
`sha512sum` over the same files in the same run; memory is the most that was held. One byte is
changed at the end, and must be named. It takes as much room as the files, in a temporary folder.
"""

import argparse
import resource
import subprocess
import tempfile
from pathlib import Path

import numpy as np

from ironlace.dossier.bag.checking import check_bag
from ironlace.dossier.bag.writing import close_bag

MEGABYTE = 1 << 20


def seconds(who: int) -> float:
    """Processor seconds so far."""
    used = resource.getrusage(who)
    return used.ru_utime + used.ru_stime


def main() -> None:
    """Make the files, measure, tell."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--photographs", type=int, default=200)
    parser.add_argument("--megabytes", type=int, default=5)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    rng = np.random.default_rng(asked.seed)
    noise = rng.bytes(MEGABYTE)
    with tempfile.TemporaryDirectory() as scratch:
        bag = Path(scratch)
        (bag / "data").mkdir()
        files = [bag / "data" / f"photograph-{n}.jpg" for n in range(asked.photographs)]
        for n, file in enumerate(files):
            with file.open("wb") as out:
                for _ in range(asked.megabytes):
                    out.write(n.to_bytes(4, "big") + noise[4:])
        start = seconds(resource.RUSAGE_CHILDREN)
        for program in ("sha256sum", "sha512sum"):
            words = [program, *map(str, files)]
            subprocess.run(words, check=True, stdout=subprocess.DEVNULL)
        alone = seconds(resource.RUSAGE_CHILDREN) - start
        start = seconds(resource.RUSAGE_SELF)
        close_bag(bag, {})
        closed = seconds(resource.RUSAGE_SELF) - start
        checked = check_bag(bag)
        read = seconds(resource.RUSAGE_SELF) - start - closed
        assert not checked.faults, checked.faults
        spoilt = bytearray(files[-1].read_bytes())
        spoilt[int(rng.integers(len(spoilt)))] ^= 1
        files[-1].write_bytes(bytes(spoilt))
        faults = check_bag(bag).faults
        assert faults and all(files[-1].name in fault for fault in faults), faults
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{checked.files} files, {checked.bytes / 1e9:.2f} GB: checksums alone {alone:.1f} s, "
        f"closing {closed:.1f} s ({closed / alone:.2f}), checking {read:.1f} s "
        f"({read / alone:.2f}), {memory:.0f} MB"
    )


if __name__ == "__main__":
    main()
