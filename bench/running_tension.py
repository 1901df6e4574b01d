"""How far pulls of a spring scale carry: slope, coverage, and a stated scatter that is wrong.

    python bench/running_tension.py --family even --cases 200 --seed 1

Pulls are those of tests/truth/pulled_threads.py; `closing` and `lagging` are held back. Asked are
the slope at 3 turns, its average from contact to the last setting, and the tension at 2.5 turns.
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


def asked_of(made, found):
    """Error of the slope an eighth adds, what is held, and whether a bend is told."""
    last = float(found.turns.max())
    mean = (made.mean(last) - made.mean(made.contact)) / (last - made.contact)
    three, two = found.slope_at(3.0), found.tension_at(2.5)
    held = [
        bound.low <= true <= bound.high
        for bound, true in (
            (three, made.slope(3.0)),
            (found.slope_gf, mean),
            (two, made.mean(2.5)),
        )
    ]
    return ((three.value - float(made.slope(3.0))) / 8.0, *held, found.bends != 0)


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
                kept[plan].append(asked_of(made, screw_curve(turns, read, stated)))
        for plan, rows in kept.items():
            e = np.array(rows, dtype=float)
            print(
                f"{words}, {plan}: slope rms {np.sqrt((e[:, 0] ** 2).mean()):.2f} gf an eighth, "
                f"held {e[:, 1].mean():.3f}, on average {e[:, 2].mean():.3f}; tension at 2.5 "
                f"turns held {e[:, 3].mean():.3f}; bend told {e[:, 4].mean():.2f}"
            )


if __name__ == "__main__":
    main()
