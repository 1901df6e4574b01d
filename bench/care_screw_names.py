"""Names of many threads from readings alone: `--cases N --seed S [--none-share 0.5]`.

The readings' errors are those that photographs showed (`care_screw.py`: pitch to a few parts in
ten thousand, angle to 1.8 degrees, given in nine of ten where the pitch is over 0.4 mm); crests
are worn by up to an eighth of their depth. Makers' own threads come by three rules: that of
`care_screw.py`; `shop` (diameters by sixty-fourths, tenths, or a standard's own; pitches whole or
even to the inch, by twentieths of a millimetre, or any; angles 45 to 66 degrees), looked at while
the naming was made; and `ladder` (a maker's diameters in even steps, pitches of one law for all of
them, half the makers in whole threads to the inch), looked at once, when it was done. An own
thread may fall on a standard's pitch and diameter: `coincide` says how many do, and those no
reading of pitch and diameter can tell.
"""

import argparse
import math
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "truth"))
from ironlace.care.thread_forms import ThreadReadings, name_thread, thread_forms
from photographed_screws import INCH, form

CALIPER_MM = 0.02


def shop(rng):
    """A maker's own thread by the rule that nothing was chosen by: diameter, pitch, angle."""
    standard = thread_forms()
    kind = rng.choice(3, p=(0.4, 0.3, 0.3))
    drawn = rng.uniform(1.6, 6.4)
    major = (
        round(drawn * 64 / INCH) * INCH / 64,
        round(drawn, 1),
        standard[rng.integers(len(standard))].major_mm,
    )[kind]
    usual = 0.21 * major**0.8 * math.exp(rng.normal(0, 0.25))
    pitch = (
        INCH / round(INCH / usual),
        INCH / (2 * round(INCH / usual / 2)),
        max(0.2, 0.05 * round(usual / 0.05)),
        usual,
    )[rng.choice(4, p=(0.45, 0.15, 0.2, 0.2))]
    return "none", major, pitch, rng.uniform(45.0, 66.0)


def ladder(rng):
    """A maker's own thread out of a series of his, by a rule that was held back."""
    major = rng.uniform(1.6, 2.2) * rng.uniform(1.08, 1.2) ** rng.integers(0, 7)
    pitch = rng.uniform(0.16, 0.30) * major ** rng.uniform(0.7, 0.95)
    pitch = INCH / round(INCH / pitch) if rng.random() < 0.5 else round(pitch, 2)
    return "none", major, pitch, float(rng.choice([rng.uniform(45.0, 66.0), 60.0]))


OWN = {"shop": shop, "ladder": ladder}


def drawn(rng, rule, none_share):
    """A thread's family, pitch and diameter, its readings, and whether it falls on a standard."""
    family, major, pitch, angle = form(rng, none_share)
    if rule in OWN and family == "none":
        family, major, pitch, angle = OWN[rule](rng)
    own = family == "none"
    tolerance = (0.015 + 0.011 * pitch) + rng.uniform() * (
        0.18 * pitch ** (2 / 3) - 0.00315 / math.sqrt(pitch)
    )
    worn = 2.0 * rng.uniform(0, 0.12) * 0.62 * pitch
    caliper = major - tolerance * (0.3 if own else 1.0) - worn + rng.normal(0, CALIPER_MM)
    sd = pitch * math.hypot(2.5e-4, 10 ** rng.uniform(-4, -3))
    read = pitch + 0.8 * sd * rng.standard_t(8)
    given = pitch > 0.4 and rng.random() < 0.9
    by_angle = angle + 1.75 * rng.standard_t(10) if given else None
    falls = own and any(
        abs(one.pitch_mm / pitch - 1) < 1e-3 and -0.02 < one.major_mm - caliper < 0.25
        for one in thread_forms()
    )
    readings = ThreadReadings(read, sd, caliper, CALIPER_MM, by_angle, 1.9)
    return family, pitch, major, readings, falls


def main():
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--cases", type=int, default=1000)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--none-share", type=float, default=0.2)
    told = ask.parse_args()
    for rule in ("workshop", *OWN):
        rng = np.random.default_rng(told.seed)
        rows = []
        for _ in range(told.cases):
            family, pitch, major, readings, falls = drawn(rng, rule, told.none_share)
            named = name_thread(readings)
            top = max(named.families, key=named.families.get)
            first = named.forms[0].form
            rows.append(
                (
                    *(family == "none", top == family, named.families[top], falls),
                    -math.log(max(named.families[family], 1e-9)),
                    abs(first.pitch_mm - pitch) < 1e-3
                    and abs(first.major_mm - major) < 0.02
                    and first.family == family,
                    top == "none",
                )
            )
        own, right, said, falls, score, form_first, none = np.array(rows, float).T
        o, s, sure = own > 0, own < 1, said >= 0.9
        parts = [(said >= low) & (said < low + 0.1) for low in np.arange(0, 1.05, 0.1)]
        apart = sum(p.mean() * abs(said[p].mean() - right[p].mean()) for p in parts if p.any())
        print(
            f"{rule}, {told.cases} threads, {told.none_share:g} own: family right "
            f"{right.mean():.3f}; own called standard {1 - right[o].mean():.3f} (coincide "
            f"{falls[o].mean():.3f}; of the others {1 - right[o & (falls < 1)].mean():.3f}); "
            f"a standard called own {none[s].mean():.3f}; calibration error {apart:.3f}; "
            f"said 0.9 or more and wrong {np.mean(right[sure] < 1):.3f}; log score "
            f"{score.mean():.3f}; form first {form_first[s].mean():.3f}"
        )


if __name__ == "__main__":
    main()
