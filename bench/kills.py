"""Kill the program two thousand times at named moments; nothing confirmed may be lost.

    python bench/kills.py --kills 2000 --seed 1

A fresh workshop is made for every hundred kills (`--each`), so that a pack of what was uploaded
stays short. The moments come in turn, from one workshop to the next, those of a write twice as
often. After every death of the server the workshop is opened and compared with what had been
confirmed; at the end of each all jobs are brought to their end and the workshop is checked. Ends
with 1 at the first thing that is lost. Linux only (it reads /proc).
"""

import argparse
import sys
import tempfile
import time
from collections import Counter
from itertools import cycle
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[1]
WRITES = (
    "an upload is under way",
    "a fact is being written",
    "a job is being asked for",
    "nothing is under way",
)
"""Moments at which something may just have been confirmed: they come twice as often as the others,
which cost more time each."""

sys.path[:0] = [str(ROOT / "tests" / "truth"), str(ROOT / "src")]

from killed_programs import MOMENTS, kill_at_moments  # noqa: E402


def main(words: list[str] | None = None) -> int:
    """Kill and compare; return the exit code."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kills", type=int, default=2000)
    parser.add_argument("--each", type=int, default=100, help="kills in one workshop")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args(words)
    rng, moments = np.random.default_rng(asked.seed), cycle((*MOMENTS, *WRITES))
    sums, came, began = Counter(), Counter(), time.monotonic()
    while sums["kills"] < asked.kills:
        with tempfile.TemporaryDirectory(prefix="ironlace-kills-") as scratch:
            kills = min(asked.each, asked.kills - sums["kills"])
            try:
                told = kill_at_moments(Path(scratch), rng, kills, moments)
            except AssertionError as lost:
                print(f"After {sums['kills']} kills and some: {lost}")
                return 1
        came += told.came
        for name in ("kills", "runs", "photographs", "facts", "jobs", "left_over"):
            sums[name] += getattr(told, name)
        print(f"{time.monotonic() - began:7.0f} s  {dict(sums)}", flush=True)
    print(f"Nothing lost. Killed when: {dict(came)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
