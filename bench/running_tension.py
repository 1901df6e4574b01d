"""How far pulls of a spring scale carry: slope, coverage, and a stated scatter that is wrong.

    python bench/running_tension.py --family even --cases 200 --seed 1

Pulls are those of tests/truth/pulled_threads.py; `stiffening` is held back.
"""

import argparse
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "truth"))

import pulled_threads
from ironlace.running.tension.screw_curve import screw_curve

PLANS = {
    "three pulls at three settings": np.repeat([0.0, 2.0, 4.0], 3),
    "nine settings": np.linspace(0.0, 4.0, 9),
    "all above contact": np.repeat([1.5, 2.5, 3.5], 3),
}


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--family", choices=pulled_threads.FAMILIES, default="even")
    asked.add_argument("--cases", type=int, default=60)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--scatter", type=float, default=0.03)
    asked = asked.parse_args()
    for words, wrong in (("none stated", None), ("a third stated", 1 / 3), ("thrice stated", 3.0)):
        rng = np.random.default_rng(asked.seed)
        kept = {plan: [] for plan in PLANS}
        for _ in range(asked.cases):
            made = pulled_threads.tensioner(asked.family, rng)
            for plan, turns in PLANS.items():
                read = pulled_threads.pulls(made, turns, rng, asked.scatter)
                again = [pulled_threads.pulls(made, turns, rng, asked.scatter) for _ in range(20)]
                stated = None if wrong is None else wrong * float(np.std(again - made.mean(turns)))
                found = screw_curve(turns, read, stated)
                bound, true = found.slope_gf, float(made.slope(3.0))
                mid, at = found.tension_at(2.5), float(made.mean(2.5))
                kept[plan].append(
                    (
                        (bound.value - true) / 8.0,
                        bound.low <= true <= bound.high,
                        mid.low <= at <= mid.high,
                    )
                )
        for plan, rows in kept.items():
            e = np.array(rows, dtype=float)
            print(
                f"{words}, {plan}: slope rms {np.sqrt((e[:, 0] ** 2).mean()):.2f} gf an eighth, "
                f"held {e[:, 1].mean():.3f}; tension at 2.5 turns held {e[:, 2].mean():.3f}"
            )


if __name__ == "__main__":
    main()
