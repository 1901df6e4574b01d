"""Measure the crank on invented wheels.

python bench/stand_crank.py --cases 120 --seed 1 [--family hump]
"""

import argparse
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "truth"))
from ironlace.stand.crank import CrankCase, work_out_crank
from turned_cranks import crank, disc_force, made


def measure(cases, seed, family):
    rng = np.random.default_rng(seed)
    rows = {name: [] for name in ("torque", "pull", "slip computed", "slip measured", "peel")}
    verdicts, bare = [], []
    began = time.process_time()
    for _ in range(cases):
        true = crank(rng, family)
        found = work_out_crank(made(CrankCase, true.case), np.random.default_rng(1))
        m = true.case["magnets"]
        bare.append(
            disc_force(m["diameter_mm"], m["height_mm"], m["polarization_T"], 2 * m["gap_mm"])
            / true.pull
        )
        slip = "slip measured" if "measured" in true.case else "slip computed"
        for name, span, truth in (
            ("torque", found.torque_peak, true.peak),
            ("pull", found.pull_each, true.pull),
            (slip, found.slip_safety, true.slip),
            ("peel", found.peel_safety, true.peel),
        ):
            rows[name].append(
                (span.low <= truth <= span.high, span.high / span.low, span.value / truth)
            )
        verdicts.append((min(true.slip, true.peel), found.verdict))
    print(
        f"images too high: median {np.median(bare):.2f}, one of twenty over {np.quantile(bare, 0.95):.2f}"  # noqa: E501
    )
    for name, row in rows.items():
        got = np.array(row)
        print(
            f"{name:15} n {len(row):3}  covers {got[:, 0].mean():.2f}  width {np.median(got[:, 1]):.2f}  ratio {np.median(got[:, 2]):.3f}"  # noqa: E501
        )
    hold = [t for t, v in verdicts if v == "magnets alone hold"]
    peg = [t for t, v in verdicts if v.startswith("needs")]
    strong = [v for t, v in verdicts if t >= 2.5]
    print(
        f"hold: {len(hold)}, of them truth < 1.5: {sum(t < 1.5 for t in hold)}; needs a peg: {len(peg)}, truth >= 2: "  # noqa: E501
        f"{sum(t >= 2 for t in peg)}; truth >= 2.5 found: {sum(v == 'magnets alone hold' for v in strong)} of {len(strong)}; "  # noqa: E501
        f"cannot tell: {sum(v == 'cannot tell' for _, v in verdicts)}"
    )
    print(f"CPU {1000 * (time.process_time() - began) / cases:.0f} ms a case, truth included")


if __name__ == "__main__":
    ask = argparse.ArgumentParser()
    ask.add_argument("--cases", type=int, default=60)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--family", default="waves")
    got = ask.parse_args()
    measure(got.cases, got.seed, got.family)
