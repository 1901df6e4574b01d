"""Seams of other habits than those the measuring was made on: who is wrong and does not say so.

`--classes plain,checks --cases 8 --seed 1`; without `--classes` all of `shaded_seams.CLASSES`.
"""

import argparse
import sys
from collections import Counter
from pathlib import Path

import cv2
import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests" / "truth")]

from ironlace.evidence.errors import IronlaceError  # noqa: E402
from ironlace.running.seam.bearing import Origin  # noqa: E402
from ironlace.running.seam.seam_analysis import seam_found  # noqa: E402
from shaded_seams import CLASSES, case_of, made  # noqa: E402

NEAR_MM = 0.3
"""An end so near to a hole is that hole."""


def judged(case, found):
    """What is wrong of what is told; and what each interval holds."""
    got = found.measured
    fig = got.figures
    wide, high = (n / case.dpi * 25.4 for n in case.pixels.shape[1::-1])
    inner = ((case.holes > 0.4) & (case.holes < (wide - 0.4, high - 0.4))).all(axis=1)
    seen = inner[:-1] & inner[1:]
    single = case.lengths[seen & (case.stitches == 1)]
    far = np.linalg.norm(got.places_mm[:, None] - case.holes[None], axis=2)
    pairs = {}
    for hole in np.flatnonzero(inner):
        end = int(far[:, hole].argmin())
        if far[end, hole] < NEAR_MM and end not in pairs.values():
            pairs[hole] = end
    share = len(pairs) / max(inner.sum(), 1)
    sure = {e for e in range(len(got.doubtful)) if not got.doubtful[e]}
    # a hole behind the rim that is found is no invention
    extra = [e for e in sure if far[e].min() >= NEAR_MM]
    wrong = []
    truth = float(single.mean())
    low, mean, high_ = fig.mean_mm
    half = 0.5 * (high_ - low) if np.isfinite(low) else np.nan
    if not abs(mean - truth) <= 3 * half and abs(mean - truth) > 0.005 * truth:
        wrong.append(f"mean {mean:.3f} ({half:.3f}) for {truth:.3f}")
    cv = float(single.std(ddof=1) / truth)
    if np.isfinite(fig.cv[1]):
        a, b, c = fig.cv
        if cv > b + 3 * max(c - b, 0.002) or cv < b - 3 * max(b - a, 0.002):
            wrong.append(f"cv {a:.3f} {b:.3f} {c:.3f} for {cv:.3f}")
    told = bool(got.unseen.any())
    hidden = false = 0
    lengths = []
    for hole in np.flatnonzero(seen):
        if hole not in pairs or hole + 1 not in pairs:
            continue
        a, b = sorted((pairs[hole], pairs[hole + 1]))
        if b - a == 1:
            s = int(got.stitches[a])
            doubt = got.doubtful[a] or got.doubtful[b] or got.unseen[a]
            hidden += case.stitches[hole] > s and not doubt
            false += case.stitches[hole] < s and not doubt
            if not doubt:
                error = got.half_mm[a]
                lengths.append(abs(got.along_mm[b] - got.along_mm[a] - case.lengths[hole]) <= error)
        elif case.stitches[hole] > 1 and all(e in sure for e in range(a + 1, b)):
            hidden += 1
    if hidden or false:
        wrong.append(f"skips hidden {hidden} false {false}{' told' if told else ''}")
    if share < 0.9 and not case.habit.second_mm:
        wrong.append(f"found {share:.2f}")
    if len(extra) > 1:
        wrong.append(f"invented {len(extra)}")
    held = {
        "mean": bool(low <= case.habit.stitch <= high_) if np.isfinite(low) else None,
        "seen mean": bool(low <= truth <= high_) if np.isfinite(low) else None,
        "cv": bool(fig.cv[0] <= case.habit.cv <= fig.cv[2]) if np.isfinite(fig.cv[1]) else None,
        "lengths": float(np.mean(lengths)) if lengths else None,
    }
    if np.isfinite(fig.drift[0]) and not np.isfinite(case.habit.radius):
        held["drift"] = bool(fig.drift[0] <= slope(case, got) <= fig.drift[2])
    return wrong, held


def slope(case, got):
    """Change of length over the seen part, by the way the seam was read."""
    reach = 0.5 * case.habit.long / np.cos(np.radians(case.habit.aslant)) + 4
    way = 1 if got.places_mm[-1, 0] > got.places_mm[0, 0] else -1
    return way * case.habit.drift * float(got.along_mm[-1]) / (2 * reach)


def main():
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--classes", default=",".join(CLASSES))
    words.add_argument("--cases", type=int, default=6)
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--quiet", action="store_true")
    words.add_argument("--save", default="")
    asked = words.parse_args()
    names = list(CLASSES)
    sums: Counter = Counter()
    for name in asked.classes.split(","):
        outcome: Counter = Counter()
        lines, helds = [], []
        for n in range(asked.cases):
            rng = np.random.default_rng([asked.seed, names.index(name), n])
            case = made(rng, case_of(rng, name))
            if asked.save:
                cv2.imwrite(
                    f"{asked.save}/{name.replace(' ', '_')}_{n}.png", case.pixels[..., ::-1]
                )
            try:
                found = seam_found(case.pixels, Origin(), dpi=case.dpi, layout=None)
            except IronlaceError as error:
                outcome["refused"] += 1
                lines.append(f"   {n} refused: {str(error)[:80]}")
                continue
            wrong, held = judged(case, found)
            if not found.judged.reliable:
                outcome["told"] += 1
                outcome["told though right"] += not wrong
                lines.append(f"   {n} told: {found.judged.why[0][:80]} | {'; '.join(wrong)}")
                continue
            outcome["reliable"] += 1
            outcome["wrong and untold"] += bool(wrong)
            helds.append(held)
            lines.append(f"   {n} {held} {'WRONG ' + '; '.join(wrong) if wrong else ''}")
        rates = {}
        for key in ("mean", "seen mean", "cv", "lengths", "drift"):
            values = [h[key] for h in helds if h.get(key) is not None]
            rates[key] = f"{np.mean(values):.2f}" if values else "-"
        print(f"{name:28}{dict(outcome)} {rates}", flush=True)
        if not asked.quiet:
            print("\n".join(lines), flush=True)
        sums.update(outcome)
    print("all", dict(sums))


if __name__ == "__main__":
    main()
