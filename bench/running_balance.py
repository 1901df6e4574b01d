"""How well the lock's place is told from both sides of a seam.

    python bench/running_balance.py --family beads --cases 12 --seed 1

Seams are painted by tests/truth/locked_seams.py; `saddles` is held back. *Crossed* compares the
share of the entries that show the other thread with how many locks lie outside of the cloth.
"""

import argparse
import sys
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests" / "truth")]

import locked_seams  # noqa: E402
from ironlace.evidence.errors import IronlaceError  # noqa: E402
from ironlace.running.seam.balance_analysis import balance_of  # noqa: E402
from ironlace.running.seam.bearing import Origin  # noqa: E402
from ironlace.running.seam.seam_analysis import seam_found  # noqa: E402


def main():
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--family", choices=locked_seams.FAMILIES, default="beads")
    words.add_argument("--cases", type=int, default=8)
    words.add_argument("--seed", type=int, default=1)
    said = words.parse_args()
    rng = np.random.default_rng(said.seed)
    rows = []
    for _ in range(said.cases):
        lock, scatter = rng.uniform(-0.1, 1.1), rng.uniform(0.08, 0.4)
        made = locked_seams.locked(said.family, rng, lock, scatter)
        try:
            found = balance_of(
                *(
                    seam_found(one, Origin(), dpi=made.dpi, layout=None)
                    for one in (made.upper, made.under)
                )
            )
        except IronlaceError as error:
            print(f"lock {lock:.2f} refused: {error}")
            continue
        of = found.balance
        inner = made.depth[1:-1]
        true = (inner < 0.0).mean(), (inner > 1.0).mean()
        off = [side.share[1] - t for side, t in zip((of.upper, of.under), true, strict=True)]
        low, value, high = of.lock
        rows.append([*off, value - lock, low <= lock <= high, high - low])
        print(
            f"lock {lock:.2f} scatter {scatter:.2f}: told {value:.2f} ({low:.2f} to {high:.2f}); "
            f"above {of.upper.share[1]:.2f} of {true[0]:.2f}, below {of.under.share[1]:.2f} of "
            f"{true[1]:.2f}; reliable {found.upper.judged.reliable, found.under.judged.reliable}"
        )
    e = np.array(rows, dtype=float)
    print(
        f"{said.family}: {len(e)} of {said.cases}; shares off by {np.abs(e[:, :2]).mean():.3f}, "
        f"most {np.abs(e[:, :2]).max():.3f}; lock rms {np.sqrt((e[:, 2] ** 2).mean()):.3f}, held "
        f"{e[:, 3].mean():.2f}, width {np.median(e[:, 4]):.2f}"
    )


if __name__ == "__main__":
    main()
