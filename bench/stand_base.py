"""Measure the base on invented heads.

python bench/stand_base.py --cases 120 --seed 1 [--families rod,rocker] [--part weighing]
"""

import argparse
import sys
import time
from pathlib import Path

import numpy as np
import shapely

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "truth"))
from ironlace.stand.base import Span
from ironlace.stand.tipping import Hand, feet_edges, tipping_leans, worst_moment
from ironlace.stand.weighing import LevelWeighing, TiltedWeighing, Weighing, balance_of
from ironlace.stand.works import WorksReading, side_distances, sweep_of
from standing_heads import BATHROOM, FAMILIES, KITCHEN, head, leans, weighed


def works(cases, seed, families, misread):
    rng = np.random.default_rng(seed)
    depth, side, right, near = [], [], [], []
    named = false = bad = sound = 0
    began = time.process_time()
    for _ in range(cases):
        true = head(rng, families, misread)
        found = sweep_of([WorksReading(*row) for row in true.rows], np.random.default_rng(1))
        span = Span.of(found.depths_mm)
        depth.append(
            (span.value - true.depth, span.low <= true.depth <= span.high, span.high - span.low)
        )
        sides, _ = side_distances(found, shapely.Polygon(true.outline).buffer(-true.ledge))
        side.append(float(np.median(sides)) - true.side)
        if abs(true.side - 5.0) > 0.6:
            near.append((np.median(sides) < 5.0) == (true.side < 5.0))
        if true.lead > 0.5:
            right.append(found.deepest_point == true.deepest)
        said = {(one.point, one.wheel_deg) for one in found.misread}
        named, false = named + len(said & true.misread), false + len(said - true.misread)
        bad, sound = bad + len(true.misread), sound + len(true.rows) - len(true.misread)
    d = np.array(depth)
    print(
        f"works, {misread:.0%} misread, {','.join(families)}: rms {np.sqrt(np.mean(d[:, 0] ** 2)):.2f} mean {d[:, 0].mean():+.2f} "  # noqa: E501
        f"worst short {-d[:, 0].min():.2f} covers {d[:, 1].mean():.2f}; deepest point {np.mean(right):.2f}; "  # noqa: E501
        f"side rms {np.sqrt(np.mean(np.square(side))):.2f}, too near right {np.mean(near):.3f}; "
        f"misread named {named}/{bad}, sound named {false}/{sound}; CPU {(time.process_time() - began) / cases:.2f} s a case"  # noqa: E501
    )


def of(given):
    plain = {k: v for k, v in given.items() if not isinstance(v, dict)}
    return Weighing(
        **plain,
        along_x=LevelWeighing(**given["along_x"]),
        along_y=LevelWeighing(**given["along_y"]),
        tilted=TiltedWeighing(**given["tilted"]),
    )


def least_sd(mass, centre, given, scale, anew):
    """The least standard deviations of mass and centre that these readings can bear (Cramér, Rao).

    By the errors that the readings really have, and by differences of what they would read; it
    shares nothing with the solver. The scale's gain is left out: it cancels in the centre.
    """
    halves = [given[name]["edges_mm"][1] for name in ("along_x", "along_y")]
    tilt = np.deg2rad(given["tilted"]["tilt_deg"])

    def read(q):
        m, (x, y, z), off, lean = q[0], q[1:4], q[4:14], tilt + q[14]
        found = []
        for n, (axis, at) in enumerate(((0, x), (0, x), (1, y), (1, y), (1, y))):
            low, high = -halves[axis] + off[2 * n], halves[axis] + off[2 * n + 1]
            if n == 4:
                found.append(m * (y - low - z * np.tan(lean)) / (high - low))
            else:
                found.append(m * (at - low if n % 2 else high - at) / (high - low))
        return np.array(found)

    start = np.concatenate([[mass, *centre], np.zeros(11)])
    step = np.array([1.0, *[1e-3] * 13, 1e-6])
    slopes = np.array(
        [(read(start + d) - read(start - d)) / (2 * d.sum()) for d in np.diag(step)]
    ).T
    spread = np.zeros((11, 11))
    for n in range(5):
        for k in range(5):
            same = n == k or (not anew and {n, k} in ({0, 1}, {2, 3}))
            for side in (0, 1):
                spread[2 * n + side, 2 * k + side] = given["edge_sd_mm"] ** 2 * same
    spread[10, 10] = np.deg2rad(given["tilt_sd_deg"]) ** 2
    noise = slopes[:, 4:] @ spread @ slopes[:, 4:].T
    noise += np.eye(5) * (scale["scale_repeat_g"] ** 2 + scale["scale_step_g"] ** 2 / 12)
    return np.sqrt(np.diag(np.linalg.inv(slopes[:, :4].T @ np.linalg.inv(noise) @ slopes[:, :4])))


def weighing(cases, seed, scale, anew, leaned):
    rng = np.random.default_rng(seed)
    off, inside, lean_off, lean_in, least = [], [], [], [], []
    for n in range(cases):
        mass, centre, given = weighed(rng, scale, anew)
        got = balance_of(of(given))
        least.append(least_sd(mass, centre, given, scale, anew))
        sd = np.sqrt(np.diag(got.covariance))
        error = got.mean - np.array([mass, *centre])
        off.append(error)
        inside.append(np.abs(error) <= 1.645 * sd)
        if n >= leaned:
            continue
        feet = np.array([[-125, -85], [125, -85], [125, 85], [-125, 85.0]])
        high, sense = rng.uniform(50, 70), int(rng.choice([-1, 1]))
        crank, force = (rng.uniform(50, 60), (0.0, 120 + high), 150.0, sense), rng.uniform(8, 16)
        shift = np.array([0, 0, high])
        heads = rng.multivariate_normal(got.mean, got.covariance, 400, method="eigh")
        heads[0] = got.mean
        turning = "top away from the sewer" if sense > 0 else "top toward the sewer"
        hand = Hand(crank[0], 0.0, 120 + high, 150.0, force, turning)
        for pull in (0.0, force):
            truth = leans(mass, centre + shift, feet, pull, crank if pull else None)
            for edge, true in zip(feet_edges(feet), truth, strict=True):
                drawn = tipping_leans(
                    edge,
                    heads[:, 0],
                    heads[:, 1:] + shift,
                    worst_moment(edge, hand) if pull else 0.0,
                )
                span = Span.of(drawn, float(drawn[0]))
                lean_off.append(span.value - true)
                lean_in.append(span.low <= true <= span.high)
    rms = np.sqrt(np.mean(np.square(off), axis=0))
    bound = np.sqrt(np.mean(np.square(least), axis=0))
    print(
        f"weighing, {'kitchen' if scale is KITCHEN else 'bathroom'} scale, edges {'each time' if anew else 'once a pair'}: x {rms[1]:.2f} y {rms[2]:.2f} "  # noqa: E501
        f"height {rms[3]:.2f} mm rms (no less than {bound[1]:.2f}, {bound[2]:.2f}, {bound[3]:.2f}), covers {np.mean(inside, axis=0)[1:].round(2).tolist()}, mass {np.mean(inside, axis=0)[0]:.2f}; "  # noqa: E501
        + (
            f"leans rms {np.sqrt(np.mean(np.square(lean_off))):.2f}°, covers {np.mean(lean_in):.2f}"
            if lean_off
            else "no leans"
        )
    )


if __name__ == "__main__":
    ask = argparse.ArgumentParser()
    ask.add_argument("--cases", type=int, default=40)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--families", default=",".join(FAMILIES))
    ask.add_argument("--misread", type=float, default=0.03)
    ask.add_argument("--part", choices=["works", "weighing"], default="works")
    ask.add_argument("--leaned", type=int, default=1000, help="of how many heads the leans too")
    got = ask.parse_args()
    if got.part == "works":
        works(got.cases, got.seed, tuple(got.families.split(",")), got.misread)
    else:
        for scale in (KITCHEN, BATHROOM):
            for anew in (True, False):
                weighing(got.cases, got.seed, scale, anew, got.leaned)
