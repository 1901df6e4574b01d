"""Logs of trials as strangers keep them: who proposes the wrong turn, and does not doubt it?

    python bench/trials_by_strangers.py --cases 60 --seed 1 [--held-back] [--say]

Seams are made here stitch by stitch: a stitch that wanders, a seam that wanders from others of the
same setting, a lock that follows the needle thread's screw. Each family spoils the log in one human
way. *Wrong*: the next turn goes away from the middle or is not within a third to three times what
it takes, or a change is said to have done what it did not do, inferred. *Told*: one of the first
three sentences doubts, or the proposal is not sure.
"""

import argparse
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "src"))

from ironlace.evidence.progress import Steps
from ironlace.running.trials.trials_told import (
    TrialsAsked,
    TrialsOfMachine,
    trials_answer,
    trials_weighed,
)
from ironlace.running.trials.trials_weighed import SeamBrief, Trial


class Machine:
    """Lock by screw, share of the thickness; mean stitch; how much seams differ."""

    def __init__(self, rng):
        self.middle = rng.uniform(4.0, 12.0)
        self.follows = rng.uniform(0.06, 0.16)
        self.stitch = rng.uniform(2.0, 3.0)
        self.between = rng.uniform(0.006, 0.015)

    def lock(self, screw):
        return 0.5 + 0.48 * np.tanh(-self.follows * (screw - self.middle) / 0.48)


def seam(rng, machine, scale=1.0):
    count = int(rng.integers(26, 44))
    mean = machine.stitch * (1.0 + machine.between * rng.normal())
    stitches = scale * mean * (1.0 + 0.04 * rng.normal(size=count))
    away = np.abs(stitches - np.median(stitches)) / stitches.mean()
    spread = float(stitches.std(ddof=1) / stitches.mean())
    return SeamBrief(
        count, float(stitches.mean()), spread, float(away.mean()), float(away.std(ddof=1)),
        spread, count, 0, True,
    )  # fmt: skip


def trial(rng, machine, n, changed, screw, scale=1.0):
    lock = float(machine.lock(screw) + 0.035 * rng.normal())
    return Trial(
        f"trial {n}", "", changed, "", "", float(screw), f"photograph {2 * n}",
        seam(rng, machine, scale), (lock - 0.06, lock, lock + 0.06),
    )  # fmt: skip


def log(rng):
    """The screw out of the way, sewn again, turned twice towards the middle but not to it."""
    machine = Machine(rng)
    side = rng.choice([-1.0, 1.0])
    far = [machine.middle + side * d for d in (4.5, 4.5, 3.0, 2.0 + rng.uniform(0.2, 0.6))]
    far = [round(2.0 * s) / 2.0 for s in far]
    how = ("start", "nothing", "needle-thread screw", "needle-thread screw")
    found = [trial(rng, machine, n, c, s) for n, (c, s) in enumerate(zip(how, far, strict=True), 1)]
    return machine, found


def each(found, **of):
    return [replace(one, **{k: f(one) for k, f in of.items()}) for one in found]


def sound(_rng, _machine, found):
    """Nothing spoilt."""
    return found


def outwards(_rng, _machine, found):
    """The screw counted outwards from its mark."""
    return each(found, screw=lambda one: -one.screw)


def sides(_rng, _machine, found):
    """Upper and under side of every seam changed round."""
    return each(found, lock=lambda one: tuple(1.0 - v for v in reversed(one.lock)))


def one_turned(_rng, _machine, found):
    """The sides of the first seam alone changed round."""
    first = replace(found[0], lock=tuple(1.0 - v for v in reversed(found[0].lock)))
    return [first, *found[1:]]


def turns(_rng, _machine, found):
    """Turns for eighths."""
    return each(found, screw=lambda one: one.screw / 8.0)


def degrees(_rng, _machine, found):
    """Degrees for eighths."""
    return each(found, screw=lambda one: one.screw * 45.0)


def one_picture(_rng, _machine, found):
    """The first seam's picture put to the trial that was sewn again."""
    again = replace(found[1], picture=found[0].picture, seam=found[0].seam, lock=found[0].lock)
    return [found[0], again, *found[2:]]


def unsaid(rng, machine, found):
    """A new needle put in, and the screw turned by three eighths as well, not said."""
    more = trial(rng, machine, 5, "needle", found[-1].screw + 3.0)
    # the tighter thread draws the stitch short by a tenth
    short = replace(more.seam, mean_mm=0.9 * more.seam.mean_mm)
    return [*found, replace(more, seam=short)]


def other_dots(rng, machine, found):
    """The last seam scanned at 400 dots to the inch and measured as 600."""
    return [*found[:-1], replace(found[-1], seam=seam(rng, machine, 2.0 / 3.0))]


def last_turned(_rng, _machine, found):
    """Held back: the sides of the last seam alone changed round."""
    last = replace(found[-1], lock=tuple(1.0 - v for v in reversed(found[-1].lock)))
    return [*found[:-1], last]


def hours(_rng, _machine, found):
    """Held back: hours of the clock for eighths."""
    return each(found, screw=lambda one: one.screw * 1.5)


def setting_copied(_rng, _machine, found):
    """Held back: the last setting copied from the trial before, the screw turned none the less."""
    return [*found[:-1], replace(found[-1], screw=found[-2].screw)]


def renamed(_rng, _machine, found):
    """Held back: the second seam put in again under another picture's name."""
    return [*found[:2], replace(found[2], seam=found[1].seam), *found[3:]]


def millimetres_as_inches(rng, machine, found):
    """Held back: one seam measured in a photograph with a strip of another print (94 %)."""
    return [*found[:-1], replace(found[-1], seam=seam(rng, machine, 0.94))]


def both_at_once(_rng, _machine, found):
    """Held back: counted outwards and the sides changed round: the two hide each other."""
    return sides(None, None, outwards(None, None, found))


FAMILIES = (sound, outwards, sides, one_turned, turns, degrees, one_picture, unsaid, other_dots)
HELD_BACK = (
    sound, last_turned, hours, setting_copied, renamed, millimetres_as_inches, both_at_once,
)  # fmt: skip
DOUBT = ("again", "probably", "was it", "were they", "was one", "was its", "Look")


def wrong(machine, answer, true_screw):
    """Whether the next turn, or what a change is said to have done, is wrong."""
    told = answer["next"]
    if told["changed"] == "needle-thread screw":
        needs = machine.middle - true_screw
        if told["eighths"] * needs < 0.0 and abs(needs) > 0.7:
            return True
        # no more than two eighths are ever proposed at once
        least = min(2.0, abs(needs) / 3.0)
        if abs(needs) > 1.0 and not least <= abs(told["eighths"]) < 3.0 * abs(needs):
            return True
    return any(
        one["grade"] == "inferred" and step["one_change"] and effect["chance"] < 0.05
        for step in answer["steps"]
        for effect in step["effects"]
        if effect["of"] == "stitch length"
        for one in answer["results"]
        if one["name"] == f"stitch length: {step['trial']} after {step['before']}"
    )


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--cases", type=int, default=60)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--held-back", action="store_true")
    asked.add_argument("--say", action="store_true")
    asked = asked.parse_args()
    for family in HELD_BACK if asked.held_back else FAMILIES:
        rng = np.random.default_rng([asked.seed, *family.__name__.encode()])
        off = untold = doubted = 0
        example = ""
        for _ in range(asked.cases):
            machine, found = log(rng)
            true = found[-1].screw
            spoilt = family(rng, machine, found)
            if family is unsaid:
                true = spoilt[-1].screw
            worked = trials_weighed(TrialsOfMachine(tuple(spoilt)), TrialsAsked(), Steps())
            answer = trials_answer(worked).as_dict()
            first = answer["sentences"][:3]
            told = any(word in s for word in DOUBT for s in first if not s.startswith("Next: Sew"))
            bad = wrong(machine, answer, true)
            off, doubted, untold = off + bad, doubted + told, untold + (bad and not told)
            if (bad and not told) or (not example and told):
                example = " ".join(first)
        print(
            f"{family.__name__:22} wrong {off}, doubted {doubted}, WRONG AND UNTOLD {untold} of "
            f"{asked.cases}"
        )
        if asked.say and example:
            print(f"      {example[:420]}")


if __name__ == "__main__":
    main()
