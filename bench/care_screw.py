"""Photographed screws: pitch, angle, families, time: `--cases N --seed S --kind window`."""

import argparse
import math
import resource
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "truth"))
from ironlace.care.screw_photograph import GivenLens, ScrewCase, measure_screw
from ironlace.evidence.errors import IronlaceError
from ironlace.photographs import StripLayout
from photographed_screws import photograph


def cpu():
    return resource.getrusage(resource.RUSAGE_SELF).ru_utime


def measured(shot, mode):
    lens = GivenLens(tuple(map(tuple, shot.matrix)), tuple(shot.distortion))
    case = ScrewCase(
        shot.caliper_mm,
        shot.axis_mm,
        shot.caliper_sd_mm,
        shot.axis_sd_mm,
        lens if mode == "lens" else None,
        shot.distance_mm if mode == "distance" else None,
    )
    return measure_screw(shot.image, StripLayout.from_csv(shot.layout_csv), case)


def place_of(found, shot):
    """Where the true form stands among those told, None when it does not."""
    for n, one in enumerate(found.named.forms):
        same = abs(one.form.pitch_mm - shot.pitch_mm) < 1e-3
        if (
            same
            and one.form.family == shot.family
            and abs(one.form.major_mm - shot.major_mm) < 0.02
        ):
            return n
    return None


def main():
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--cases", type=int, default=60)
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--kind", choices=("workshop", "window"), default="workshop")
    words.add_argument("--mode", choices=("lens", "distance", "none"), default="lens")
    words.add_argument("--none-share", type=float, default=0.2)
    told = words.parse_args()
    rows, angles, spent, refused = [], [], [], 0
    for n in range(told.cases):
        shot = photograph(np.random.default_rng([told.seed, n]), told.kind, told.none_share)
        before = cpu()
        try:
            found = measured(shot, told.mode)
        except IronlaceError as error:
            refused += 1
            print(f"{n}: refused, {error}")
            continue
        spent.append(cpu() - before)
        top = max(found.named.families, key=found.named.families.get)
        angles.append(
            (np.nan, 1.0)
            if found.angle.angle_deg is None
            else (found.angle.angle_deg - shot.angle_deg, found.angle.sd_deg)
        )
        rows.append(
            (
                found.pitch_mm / shot.pitch_mm - 1,
                found.pitch_sd_mm / found.pitch_mm,
                found.reliable,
                top == shot.family,
                found.named.families[top],
                -math.log(max(found.named.families[shot.family], 1e-9)),
                shot.family == "none",
                -1 if (place := place_of(found, shot)) is None else place,
            )
        )
    error, sd, reliable, right, said, score, own, place = np.array(rows, float).T
    kept = reliable > 0
    off = np.abs(error[kept])
    print(
        f"{told.cases} screws ({told.kind}, {told.mode}), {refused} refused, "
        f"unreliable {np.mean(~kept):.3f}"
    )
    print(
        f"pitch: median {100 * np.median(off):.3f} %, 95 % {100 * np.quantile(off, 0.95):.3f} %, "
        "covers "
        f"{np.mean(off < 1.645 * sd[kept]):.3f}; over 1 % out and not told {np.sum(off > 0.01)}"
    )
    angle = np.array(angles)
    given = np.isfinite(angle[:, 0])
    print(
        f"angle: given in {given.mean():.2f}, "
        f"rms {np.sqrt(np.mean(angle[given, 0] ** 2)):.2f}, covers "
        f"{np.mean(np.abs(angle[given, 0]) < 1.645 * angle[given, 1]):.3f}"
    )
    parts = [(said[kept] >= low) & (said[kept] < low + 0.1) for low in np.arange(0, 1.05, 0.1)]
    apart = sum(
        p.mean() * abs(said[kept][p].mean() - right[kept][p].mean()) for p in parts if p.any()
    )
    sure = said[kept] >= 0.9
    print(
        f"family right {right[kept].mean():.3f}; a maker's own called standard "
        f"{np.sum(1 - right[kept][own[kept] > 0]):.0f} of {np.sum(own[kept]):.0f}; "
        "calibration error "
        f"{apart:.3f}; said 0.9 or more and wrong "
        f"{np.sum(sure & (right[kept] < 1))} of {sure.sum()}; "
        f"log score {score[kept].mean():.3f}"
    )
    standard = kept & (own < 1)
    first, three = (
        np.mean(place[standard] == 0),
        np.mean((place[standard] >= 0) & (place[standard] < 3)),
    )
    print(f"exact form first {first:.3f}, in the first three {three:.3f}")
    print(f"time: {np.median(spent):.2f} s of one core in the median, {max(spent):.2f} at most")


if __name__ == "__main__":
    main()
