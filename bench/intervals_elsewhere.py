"""How often stated intervals hold, by truth of other code and other habits than the room's benches.

`--only works-depth,tension --cases 200 --seed 1`. Everything goes through the declared analyses, as
page and command do; a case that is refused is counted beside.
"""

import argparse
import contextlib
import io
import json
import sys
import tempfile
from collections import defaultdict
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests" / "truth")]

from ironlace.evidence.analyses import Nothing, asked_from  # noqa: E402
from ironlace.evidence.errors import IronlaceError  # noqa: E402
from ironlace.evidence.progress import Steps  # noqa: E402
from ironlace.running.seam.evenness import evenness  # noqa: E402
from ironlace.running.seam.two_seams import SeamLengths, compare_seams  # noqa: E402
from ironlace.workshop.analyses import analysis_named  # noqa: E402


def answered(key, **given):
    """An analysis by its key, as a form or a command gives it what is asked."""
    analysis = analysis_named(key)
    asked = asked_from(analysis.asked, given)
    return analysis.answer(analysis.work(Nothing(), asked, Steps()))


def table(heads, *columns):
    rows = ["\t".join(heads)]
    rows += ["\t".join(f"{v:.10g}" for v in row) for row in zip(*columns, strict=True)]
    return "\n".join(rows)


def of(answer, name):
    """A result's interval and grade by the beginning of its name."""
    one = next(r for r in answer.results if r.name.startswith(name))
    return (one.interval.low, one.interval.high), str(one.grade)


def seam_lengths(rng, n, mean, cv, error, scale, drift=0.0):
    """Lengths between marks that are each off by an error, on a scale that is off as a whole."""
    shape = 1.0 / cv**2
    share = 1.0 + drift * (np.arange(n) / (n - 1) - 0.5)
    true = rng.gamma(shape, mean / shape, n) * share
    ends = np.r_[0.0, np.cumsum(true)] + error * rng.standard_normal(n + 1)
    return np.diff(ends) * (1.0 + scale * rng.standard_normal())


def stitches(rng):
    """Mean, evenness and drift of a row of lengths."""
    n, mean, cv = int(rng.integers(8, 50)), rng.uniform(1.5, 4.0), rng.uniform(0.01, 0.1)
    error, drift = rng.uniform(0.004, 0.02), rng.normal(0.0, 0.03)
    x = seam_lengths(rng, n, mean, cv, error, 0.002, drift)
    found = evenness(x, np.full(n, np.sqrt(2.0) * error), 0.002)
    spread = np.sqrt(cv**2 + drift**2 / 12.0)
    yield "stitches: mean", (found.mean_mm[0], found.mean_mm[2]), mean
    yield "stitches: evenness", (found.cv[0], found.cv[2]), spread
    yield "stitches: drift", (found.drift[0], found.drift[2]), drift


def two(rng):
    """The difference of two seams, of one setting or of two."""
    means = rng.uniform(1.5, 4.0) * np.array([1.0, rng.choice([1.0, rng.uniform(0.9, 1.1)])])
    made = []
    for mean in means:
        n, cv = int(rng.integers(8, 40)), rng.uniform(0.01, 0.08)
        x = seam_lengths(rng, n, mean, cv, 0.01, 0.002)
        made.append(SeamLengths(x, 0.014, 0.002, n, 0, True))
    found = compare_seams(*made)
    low, _, high = found.difference_mm
    yield "two seams: difference", (low, high), means[1] - means[0]


def works(rng):
    """A part on a bell crank: an arc of a circle, rocked by a crank and rod, not a sum of sines."""
    arm, crank, rod = rng.uniform(15, 40), rng.uniform(4, 10), rng.uniform(30, 60)
    base, lag = rng.uniform(25, 60), rng.uniform(0, 360)

    def height(deg):
        a = np.radians(np.asarray(deg) + lag)
        run = crank * np.cos(a) + np.sqrt(rod**2 - (crank * np.sin(a)) ** 2) - rod
        return -base + arm * np.sin(run / 25.0)

    deepest = -height(np.linspace(0, 360, 7201)).min()
    for step, words in ((45, "8 angles"), (30, "12 angles")):
        wheel = np.arange(0, 360, step)
        seen = height(wheel + 1.5 * rng.standard_normal(len(wheel)))
        seen = np.round(seen + 0.25 * rng.standard_normal(len(wheel)), 1)
        answer = answered(
            "works-depth", readings=table(("wheel [deg]", "height [mm]"), wheel, seen)
        )
        yield f"works-depth, {words}", of(answer, "depth")[0], deepest


def head(rng):
    """A head of masses at places, on edges that are set a little aside, by moments about each."""
    parts = rng.uniform(0.3, 2.0, (9, 1)) * 1000.0
    at = rng.normal(0, 1, (9, 3)) * (50, 30, 30) + (20, 0, 100)
    mass = float(parts.sum())
    x, y, z = (parts * at).sum(axis=0) / mass
    apart_x, apart_y = rng.uniform(200, 260), rng.uniform(130, 170)
    tilt = rng.uniform(14, 24)
    gain = 1.0 + 0.005 * rng.standard_normal()

    def read(grams):
        return float(np.round(gain * grams + 5.0 * rng.standard_normal()))

    def share(place, apart):
        low, high = (side * apart / 2 + 0.7 * rng.standard_normal() for side in (-1, 1))
        return (place - low) / (high - low)

    right, left = mass * share(x, apart_x), mass * (1 - share(x, apart_x))
    back, front = mass * share(y, apart_y), mass * (1 - share(y, apart_y))
    t = np.radians(tilt)
    low, high = (side * apart_y / 2 + 0.7 * rng.standard_normal() for side in (-1, 1))
    # moments about the front edge, the bed turned by the tilt about it
    lever = (y - low) * np.cos(t) - z * np.sin(t)
    lifted = mass * lever / ((high - low) * np.cos(t))
    answer = answered(
        "head-balance",
        left=f"{read(left)} g", right=f"{read(right)} g", apart_x=f"{apart_x:.1f} mm",
        front=f"{read(front)} g", back=f"{read(back)} g", apart_y=f"{apart_y:.1f} mm",
        tilt=f"{tilt + 0.25 * rng.standard_normal():.2f} deg", tilted=f"{read(lifted)} g",
    )  # fmt: skip
    for name, words, truth in (
        ("height", "height", z),
        ("mass", "mass", mass),
        ("centre to the right", "x", x),
        ("centre behind", "y", y),
    ):
        yield f"head-balance: {words}", of(answer, name)[0], truth


def tension(rng):
    """Discs wrapped by the thread: tension grows by a share of the load and of what comes in."""
    feed, rate, contact = rng.uniform(4, 12), rng.uniform(10, 40), rng.uniform(-0.5, 1.0)
    mu, wrap = rng.uniform(0.12, 0.25), rng.uniform(0.3, 1.5)

    def pull(turns):
        over = np.maximum(np.asarray(turns) - contact, 0.0)
        return (feed * np.exp(mu * wrap) + 4.0 * mu * rate * over) * np.exp(mu * 1.2)

    added = float(pull(3.0) - pull(2.875))
    for turns, words in (
        (np.repeat([0.0, 1.0, 2.0, 3.0, 4.0], 2), "two pulls at five settings"),
        (np.repeat([1.0, 2.5, 4.0], 3), "three at three"),
    ):
        shares = rng.gamma(400.0, 1 / 400.0, len(turns))
        read = np.round(pull(turns) * shares + rng.normal(0, 0.8, len(turns)))
        answer = answered("tension", readings=table(("turns", "tension [gf]"), turns, read))
        yield f"tension, {words}", of(answer, "tension added")[0], added


def crank(rng):
    """A torque with one hump where the take-up rises, read by a spring scale of 0.1 N."""
    wheel = np.arange(0, 360, 45)
    hump, wide = rng.uniform(0, 360), rng.uniform(35, 80)
    base, high = rng.uniform(2, 5), rng.uniform(0.5, 4)
    twice = rng.uniform(0, 0.6)

    def pull(deg):
        off = (np.asarray(deg) - hump + 180) % 360 - 180
        return base + high * np.exp(-0.5 * (off / wide) ** 2) + twice * np.cos(2 * np.radians(deg))

    gain = 1.0 + 0.02 * rng.standard_normal()
    rows = [np.round(gain * pull(wheel) * (1 + 0.04 * rng.standard_normal(8)), 1) for _ in range(2)]
    given = {
        "string_radius": "70.7 mm", "handle_radius": "56 mm", "above_seat": "41 mm", "count": "4",
        "diameter": "10 mm", "height": "5 mm", "polarization": "1.3", "gap": "0.35 ± 0.08 mm",
        "circle_radius": "40 mm", "half_width": "7 mm", "thickness": "4 mm",
        "friction_low": "0.12", "friction_high": "0.30", "iron": "grey iron",
    }  # fmt: skip
    read = table(("wheel [deg]", "pull [N]", "again [N]"), wheel, *rows)
    answer = answered("crank-hold", pulls=read, **given)
    true = float(pull(np.linspace(0, 360, 3601)).max()) * 0.0707
    yield "crank-hold: torque", of(answer, "greatest torque")[0], true
    # the hub slips by its own force, read four times by the same scale
    slips, radius = rng.uniform(0.3, 1.5), rng.uniform(15, 30)
    seen = gain * slips / (radius / 1000) * (1 + 0.04 * rng.standard_normal(4))
    given |= {"slip_pull": f"{seen.mean():.1f} N", "slip_radius": f"{radius:.1f} mm"}
    answer = answered("crank-hold", pulls=read, **given)
    yield "crank-hold: safety, slip tried", of(answer, "safety against slipping")[0], slips / true


def holds(rng):
    """A clamp, peg or hook by its levers; pads bear on a share of their face, errors as stated."""
    torque, radius, wide, long = (rng.uniform(*r) for r in ((0.2, 1), (30, 70), (6, 14), (8, 20)))
    hold = str(rng.choice(["clamp", "peg", "hook"]))
    rubs, bears = rng.uniform(0.25, 0.5), rng.uniform(0.35, 1.0)
    mass, arm, far = rng.uniform(50, 150), rng.uniform(30, 70), rng.uniform(30, 70)

    def read(value, share, unit):
        return f"{value * (1 + share * rng.standard_normal()):.4g} ± {share * value:.3g} {unit}"

    answer = answered(
        "crank-holds", torque=read(torque, 0.06, "N*m"), radius=read(radius, 0.02, "mm"),
        face_wide=read(wide, 0.05, "mm"), face_long=read(long, 0.05, "mm"), hold=hold,
        handle_mass=read(mass, 0.03, "g"), handle_radius=read(arm, 0.03, "mm"),
        counter_radius=read(far, 0.02, "mm"),
    )  # fmt: skip
    force = torque * 1000 / radius
    if hold == "clamp":
        force *= 1.5 / (2 * rubs)
    yield "crank-holds: force", of(answer, "force")[0], force
    yield "crank-holds: pressure", of(answer, "pressure")[0], force / (wide * long * bears)
    yield "crank-holds: unbalance", of(answer, "unbalance")[0], mass * arm * 9.81e-3
    yield "crank-holds: counterweight", of(answer, "counterweight")[0], mass * arm / far


def belt(rng):
    """A belt's length by laying it round as a chain of points, measures off by their errors."""
    large, small = rng.uniform(200, 350), rng.uniform(50, 110)
    thick, centres = rng.uniform(4, 8), rng.uniform(400, 800)
    ring = np.linspace(0, 2 * np.pi, 20001)
    circles = [
        (d + thick) / 2 * np.c_[np.cos(ring), np.sin(ring)] + (x, 0)
        for d, x in ((large, 0.0), (small, centres))
    ]
    from scipy.spatial import ConvexHull

    length = ConvexHull(np.vstack(circles)).area
    sds = (0.5, 0.2, 1.0, 0.1)
    names = ("driver", "driven", "centres", "thickness")
    read = np.array([large, small, centres, thick]) + np.array(sds) * rng.standard_normal(4)
    given = {n: f"{v:.2f} ± {s} mm" for n, v, s in zip(names, read, sds, strict=True)}
    answer = answered("belt-length", **given)
    yield "belt-length: length", of(answer, "length")[0], length
    turns = (large + thick) / (small + thick)
    yield "belt-length: turns", of(answer, "turns")[0], turns


def motion(rng):
    """A needle bar on a crank with an offset rod, by the rod's closure solved for each angle."""
    crank, rod, off = rng.uniform(12, 18), rng.uniform(35, 60), rng.uniform(-4, 4)
    lag = rng.uniform(0, 360)

    def height(deg):
        a = np.radians(np.asarray(deg, float) + lag)
        return crank * np.cos(a) + np.sqrt(rod**2 - (crank * np.sin(a) - off) ** 2) - rod + 20

    fine = np.linspace(0, 360, 36001)
    true = height(fine)
    wheel = np.arange(24) * 15.0
    read = height(wheel + 2.0 * rng.standard_normal(24)) + 0.1 * rng.standard_normal(24)
    answer = answered(
        "motion", readings=table(("wheel [deg]", "needle bar [mm]"), wheel, np.round(read, 1))
    )
    yield "motion: stroke", of(answer, "stroke")[0], float(np.ptp(true))
    for name, at in (("bottom", fine[true.argmin()]), ("top", fine[true.argmax()])):
        low, high = of(answer, f"{name} dead")[0]
        middle = 0.5 * (low + high)
        yield f"motion: {name}", (low, high), middle + (at - middle + 180) % 360 - 180


def lens(rng):
    """A lens of another law than Brown's, by photographs of a chart that may not lie flat."""
    from charted_lenses import FAMILIES as LENSES
    from charted_lenses import charted
    from ironlace.cli import main as command
    from ironlace.photographs import strip_sheet

    family = LENSES[int(rng.integers(len(LENSES)))]
    made = charted(rng, family, strip_sheet("chart").layout.to_csv())
    with tempfile.TemporaryDirectory() as folder:
        files = [Path(folder) / f"{n}.jpg" for n in range(len(made.files))]
        for file, content in zip(files, made.files, strict=True):
            file.write_bytes(content)
        told = Path(folder) / "told.json"
        words = ["ornament", "lens", *files, "--out", Path(folder) / "lens.json", "--json", told]
        try:
            with contextlib.redirect_stdout(io.StringIO()):
                command([str(word) for word in words])
        except SystemExit as end:
            if end.code:
                raise IronlaceError(f"{family}: refused by the command") from end
        low, _, high = json.loads(told.read_text(encoding="utf-8"))["focal_90_px"]
    yield f"lens, {family}", (low, high), made.focal


FAMILIES = {
    "stitches": stitches,
    "two": two,
    "works-depth": works,
    "head-balance": head,
    "tension": tension,
    "crank-hold": crank,
    "belt-length": belt,
    "motion": motion,
    "lens": lens,
    "crank-holds": holds,
}


def main():
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--only", default=",".join(FAMILIES))
    words.add_argument("--cases", type=int, default=100)
    words.add_argument("--seed", type=int, default=1)
    asked = words.parse_args()
    for name in asked.only.split(","):
        held, refused = defaultdict(list), 0
        for n in range(asked.cases):
            rng = np.random.default_rng([asked.seed, list(FAMILIES).index(name), n])
            try:
                for what, (low, high), truth in FAMILIES[name](rng):
                    held[what].append((low <= truth <= high, (truth - low) / (high - low) - 0.5))
            except IronlaceError as error:
                refused += 1
                print("refused:", str(error)[:100])
        for what, rows in held.items():
            inside = np.array([r[0] for r in rows])
            off = np.array([r[1] for r in rows])
            share = inside.mean()
            thrice = np.mean(np.abs(off) > 1.5)
            sd = np.sqrt(max(share * (1 - share), 1 / len(rows)) / len(rows))
            print(
                f"{what:36} held {share:.3f} ± {sd:.3f} of {len(rows)}, "
                f"above {np.mean(off > 0.5):.2f}, below {np.mean(off < -0.5):.2f}, "
                f"over thrice {thrice:.3f}, "
                f"refused {refused}",
                flush=True,
            )


if __name__ == "__main__":
    main()
