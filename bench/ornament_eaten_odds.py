"""Fits the odds that a rim of an eaten piece is where the brush left it, and asks other families.

    python bench/ornament_eaten_odds.py --kept FOLDER [--fitted CASE@SEED ...] [--held ...]

Prints the numbers of `eaten_rims.rim_odds`; how much of the outline each ornament keeps as seen,
and how much of that is true, by a fit without its kind; and the same of what is held out of all.
"""

from __future__ import annotations

import argparse
import pickle
from dataclasses import replace
from pathlib import Path

import numpy as np
from ornament_grades import Worn, made  # noqa: F401  # its own runs keep `__main__.Worn`
from ornament_truth import _along_a_true_one, _near_a_true_one
from scipy.optimize import minimize

from ironlace.ornament.gather import graded_outline as outline
from ironlace.ornament.gather.eaten_rims import SEEN_FROM, ramps, rim_measures
from ironlace.ornament.gather.loss_edges import along_ring, way_along

FITTED = [
    "scrolls/creeping/mirror/20@1",
    "scrolls/creeping-sharp/untaken/15@1",
    "scrolls/creeping/three/15@7",
    "frame/creeping-sharp/mirror/15@1",
    "frame/creeping-sharp/three/20@7",
    "frets/creeping-sharp/three/20@1",
    "frets/creeping/mirror/12@7",
    "frets/creeping-sharp/mirror/12@7",
    "frets/mottled-sharp/three/15@7",
    "scrolls/mottled/mirror/12@7",
    "scrolls/mottled-sharp/untaken/12@7",
]
HELD = ["stars/creeping/untaken/15@7", "frame/mottled/mirror/12@7"]
SIGNS = np.array([0, -1, 0, 1, 1, -1, -1, -1, -1, -1, -1, 1, 1, 1])
"""Which way each ramp may count: 0 is either."""
RIDGE = 1.0
"""Against a ramp that few places have: one place's worth."""


def asked(case: str, kept: Path) -> tuple[np.ndarray, np.ndarray, int]:
    """Ramps of what would be seen were nothing eaten, if it is true, and of how many places."""
    name, seed = case.split("@")
    file = kept / f"{name.replace('/', '_')}_{seed}.pickle"
    worn = pickle.loads(file.read_bytes()) if file.exists() else made(name, int(seed))
    if not file.exists():
        file.write_bytes(pickle.dumps(worn))
    gathered = worn.gathered
    if gathered.rims is None:
        return np.zeros((0, len(SIGNS))), np.zeros(0, bool), 1
    bold = outline.graded(worn.drawing, replace(gathered, rims=None, eaten=0.0))
    own = gathered.coverage if gathered.own is None else gathered.own
    places, ways, seen = [], [], []
    rings = [outline.ring_of(path, gathered) for path in bold.paths]
    told = rim_measures(rings, own, gathered.rims, gathered.px_per_mm)
    for path in bold.paths:
        points, at = along_ring(path.curves)
        grades = np.array([str(grade) for grade in path.grades])
        seen.append(grades[np.clip(at.astype(int), 0, len(grades) - 1)] == "seen")
        way = way_along(points)
        places.append(points)
        ways.append(way / np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-9))
    points, way, seen = np.concatenate(places), np.concatenate(ways), np.concatenate(seen)
    near, distance = _near_a_true_one(points, worn.ornament)
    true = worn.evidence["here"][near] & (distance <= 0.3)
    true &= _along_a_true_one(points, way, worn.ornament)
    return ramps(np.concatenate(told))[seen], true[seen], len(seen)


def fitted(told: list[tuple[np.ndarray, np.ndarray, int]]) -> np.ndarray:
    """Intercept and what each ramp adds; each ornament counts alike."""
    x = np.concatenate([np.column_stack([np.ones(len(one)), one])[::3] for one, _, _ in told])
    y = np.concatenate([true[::3] for _, true, _ in told])
    weight = np.concatenate([np.full(len(true[::3]), 1e4 / len(true)) for _, true, _ in told])

    def cost(b: np.ndarray) -> tuple[float, np.ndarray]:
        odds = x @ b
        off = (1.0 / (1.0 + np.exp(-odds)) - y) * weight
        height = float(weight @ (np.logaddexp(0.0, odds) - y * odds))
        held = np.r_[0.0, b[1:]] * RIDGE
        return height + 0.5 * float(held @ b), x.T @ off + held

    within = {0: (None, None), 1: (0.0, None), -1: (None, 0.0)}
    bounds = [(None, None), *[within[sign] for sign in SIGNS]]
    return minimize(cost, np.zeros(x.shape[1]), jac=True, method="L-BFGS-B", bounds=bounds).x


def said(name: str, odds: np.ndarray, one: tuple[np.ndarray, np.ndarray, int]) -> list[float]:
    told, true, places = one
    likely = 1.0 / (1.0 + np.exp(-odds[0] - told @ odds[1:]))
    out = []
    for least in (0.93, 0.95, SEEN_FROM, 0.975):
        keep = likely >= least
        out += [keep.sum() / places, true[keep].mean() if keep.any() else np.nan]
    against = likely < 0.5
    out += [np.sum(against & ~true) / places, np.sum(against & true) / places]
    print(f"{name:<40} true {true.mean():.3f}", np.round(out, 3), flush=True)
    return out


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kept", type=Path, required=True)
    parser.add_argument("--fitted", nargs="*", default=FITTED)
    parser.add_argument("--held", nargs="*", default=HELD)
    chosen = parser.parse_args()
    told = {case: asked(case, chosen.kept) for case in chosen.fitted}
    whole = fitted(list(told.values()))
    print("intercept", round(float(whole[0]), 2), "ramps", np.round(whole[1:], 2).tolist())
    print(
        "kept and true of it from 0.93, 0.95, SEEN_FROM, 0.975; under 0.5 wrong, and right, of all"
    )
    left_out = []
    for case, one in told.items():
        others = [two for name, two in told.items() if name.split("/")[0] != case.split("/")[0]]
        left_out.append(said(case, fitted(others), one))
    print("without their ornaments, mean", np.round(np.nanmean(left_out, axis=0), 3))
    for case in chosen.held:
        said("held out: " + case, whole, asked(case, chosen.kept))


if __name__ == "__main__":
    main()
