"""Change gears against brute force, and how long they take: `--cases N --seed S`."""

import argparse
import itertools
import resource

import numpy as np

from ironlace.care.change_gears import GearsAsked, change_gears, lead_mm


def cpu():
    return resource.getrusage(resource.RUSAGE_SELF).ru_utime


def least_error(lead, wanted, gears):
    """The smallest error over all trains, by numpy's brute force."""
    g = np.asarray(gears, float)
    best = min(abs(lead * a / b / wanted - 1) for a, b in itertools.permutations(gears, 2))
    i, j = np.triu_indices(len(g), 1)
    product = g[i] * g[j]
    for n in range(len(i)):
        apart = (i != i[n]) & (i != j[n]) & (j != i[n]) & (j != j[n])
        if apart.any():
            best = min(best, np.abs(lead * product[n] / product[apart] / wanted - 1).min())
    return best * 1e6


def main():
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--cases", type=int, default=60)
    words.add_argument("--seed", type=int, default=1)
    told = words.parse_args()
    rng = np.random.default_rng(told.seed)
    worst, times = 0.0, {12: [], 13: [], 108: []}
    for n in range(told.cases):
        count = (12, 13, 108)[n % 3]
        pool = np.arange(20, 128)
        gears = pool if count == 108 else np.sort(rng.choice(pool, count, replace=False))
        lead, wanted = ("8 tpi", "3 mm", "6 tpi")[n % 3], float(rng.uniform(0.25, 2.0))
        before = cpu()
        found = change_gears(GearsAsked(lead, tuple(gears.tolist()), pitch_mm=wanted))
        times[count].append(cpu() - before)
        truth = least_error(lead_mm(lead), wanted, gears.tolist())
        worst = max(worst, abs(abs(found.trains[0].error_ppm) - truth))
    print(f"{told.cases} cases: worst difference from brute force {worst:.2g} ppm")
    for count, spent in times.items():
        print(f"{count} gears: {np.median(spent):.3f} s in the median, {max(spent):.3f} at most")


if __name__ == "__main__":
    main()
