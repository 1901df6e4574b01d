"""Every declared form filled in by failing hands: which analysis is wrong, and does not say so?

    python bench/failings_of_hands.py --forms 4 --draws 2 --seed 1
    python bench/failings_of_hands.py --analyses tension,motion --failings "slip of ten" --say
    python bench/failings_of_hands.py --held-back --seed 91

Sound forms with a known truth come from what the strangers' benches make; the failings, from
`tests/truth/failing_hands.py`, need only the declaration. A result is *wrong* when it has moved
by more than the half of its own interval and no longer holds the truth that it held when soundly
filled in (where no truth is known: moved by twice that half; 4 % where none is told), or names
another thing. It is *told* when the form is refused, when that result is graded lower than on the
sound form, or when one of the first three sentences doubts something and names the field or
column that is wrong; a sentence that sound forms have as a rule tells nothing. Each form is tried
bare, and with the readings that the form asks for to check by.
"""

import argparse
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field, fields, replace
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests" / "truth"), str(ROOT / "bench")]

import motion_by_strangers as heads  # noqa: E402  (after the path)
import rooms_by_strangers as rooms  # noqa: E402
import tension_by_strangers as pulls  # noqa: E402

from failing_hands import FAILINGS, Filled, Spoilt  # noqa: E402
from ironlace.evidence.analyses import Known, KnownTable, asked_from  # noqa: E402
from ironlace.evidence.answers import Answer  # noqa: E402
from ironlace.evidence.doubtful_figures import answered as told  # noqa: E402
from ironlace.evidence.errors import IronlaceError  # noqa: E402
from ironlace.evidence.grades import Grade  # noqa: E402
from ironlace.evidence.progress import Steps  # noqa: E402
from ironlace.stand.base_analysis import BedPicture  # noqa: E402
from ironlace.workshop.analyses import analysis_named  # noqa: E402
from ironlace.workshop.inputs import binding_of  # noqa: E402
from told_or_untold import cautioned, doubts, lower, shape, wrong_results  # noqa: E402


@dataclass
class Sound:
    """A soundly filled form, its truth by name of result, and what would check it."""

    typed: dict[str, str]
    truth: dict[str, float] = field(default_factory=dict)
    checks: dict[str, str] = field(default_factory=dict)


# --- sound forms -------------------------------------------------------------------------------


def of_room(room: str, table: str = "", ready: Callable | None = None):
    """What `rooms_by_strangers` types into a command, as the fields of the form."""

    def make(rng):
        one = rooms.ROOMS[room][1](rng)
        if ready is not None:
            one = ready(one)
        typed = {name.replace("-", "_"): str(value) for name, value in one.options.items()}
        for name, text in one.tables.items():
            typed[table if name == "argument" else name] = text
        more = getattr(one, "more", {}) | getattr(one, "checks", {})
        return Sound(typed, one.truth, {k.replace("-", "_"): str(v) for k, v in more.items()})

    return make


def pasted(columns: dict[str, np.ndarray], places: dict[str, int]) -> str:
    """A table as it is pasted, so many decimals in each column."""
    rows = zip(*columns.values(), strict=True)
    told = [
        ";".join(f"{v:.{places.get(n, 1)}f}" for n, v in zip(columns, row, strict=True))
        for row in rows
    ]
    return "\n".join([";".join(columns), *told])


def turned_head(rng):
    """`motion_by_strangers`: needle bar and shuttle round the turn, the meeting, the take-up."""
    head = heads.Head(rng)
    got = heads.take_up(rng, head, heads.read(rng, head))
    units = {n: f"{n} [{'deg' if n == 'wheel' else 'mm'}]" for n in got}
    readings = pasted({units[n]: v for n, v in got.items()}, {units["wheel"]: 0})
    truth = {
        "needle rise at the meeting": 2.0,
        "stroke of the needle bar": head.stroke,
        "bottom dead centre": head.lowest,
    }
    typed = {"readings": readings, "turning": "rise", "meeting": f"{head.meeting():.1f} ± 0.1 mm"}
    checks = {"lowest_seen": f"{(head.lowest + 3 * rng.normal()) % 360:.0f} ± 3 deg"}
    return Sound(typed, truth, checks)


def pulled_thread(rng):
    """`tension_by_strangers`: pulls by turns of the screw, the first setting read again."""
    one = pulls.made(rng)
    turns, gf = pulls.evening(rng, one)
    again, more = pulls.evening(rng, one, np.array([2.0, 3.0]))
    turns, gf = np.concatenate((turns, again)), np.concatenate((gf, more))
    truth = {
        "tension added by an eighth of a turn": one.per_turn / 8.0,
        "turns at which the spring takes hold": one.contact,
    }
    readings = pasted({"turns": turns, "tension [gf]": gf}, {"tension [gf]": 0})
    typed = {"readings": readings, "low": f"{pulls.LOW:.0f} gf", "high": f"{pulls.HIGH:.0f} gf"}
    checks = {
        "zero": "0 gf",
        "zero_end": f"{rng.normal(0, 0.4):.0f} gf",
        "felt": f"{one.contact + 0.12 * rng.normal():.1f}",
        "sews_at": f"{one.turns_at(60.0) + 0.1 * rng.normal():.1f}",
    }
    return Sound(typed, truth, checks)


def works(rng):
    """A lever under the bed on an eccentric: heights at sixteen settings of the wheel."""
    wheel = np.arange(0.0, 360.0, 22.5)
    low, throw, second = rng.uniform(24, 45), rng.uniform(3, 9), rng.uniform(0, 0.8)
    late, other = rng.uniform(0, 2 * np.pi, 2)

    def height(at):
        return -low - throw * np.cos(at - late) - second * np.cos(2 * at - other)

    read = height(np.radians(wheel + rng.normal(0, 1.5, len(wheel))))
    read = read + rng.normal(0, 0.08, len(wheel))
    fine = height(np.linspace(0, 2 * np.pi, 7201))
    readings = pasted({"wheel [deg]": wheel, "height [mm]": read}, {})
    return Sound({"readings": readings}, {"depth of the works below the seat": -float(fine.min())})


def held_wheel(rng):
    """A peg, a clamp or a hook on a wheel of known torque."""
    torque, radius = rng.uniform(0.2, 0.7), rng.uniform(35, 65)
    typed = {
        "torque": f"{torque:.2f} ± 0.02 N*m",
        "radius": f"{radius:.0f} ± 1 mm",
        "face_wide": f"{rng.uniform(7, 14):.0f} mm",
        "face_long": f"{rng.uniform(9, 18):.0f} mm",
        "hold": str(rng.choice(["peg", "clamp"])),
        "handle_mass": f"{rng.uniform(60, 140):.0f} g",
        "handle_radius": f"{rng.uniform(45, 70):.0f} mm",
        "counter_radius": f"{rng.uniform(40, 60):.0f} mm",
    }
    return Sound(typed)


SCREWS = (
    (3 / 16 * 25.4, 25.4 / 24, 55), (1 / 4 * 25.4, 25.4 / 20, 55), (5 / 32 * 25.4, 25.4 / 32, 55),
    (1 / 8 * 25.4, 25.4 / 40, 55), (5.0, 0.8, 60), (4.0, 0.7, 60), (6.0, 1.0, 60), (3.0, 0.5, 60),
    (4.826, 25.4 / 24, 60), (4.166, 25.4 / 32, 60),
)  # fmt: skip
"""Diameter and pitch in mm, angle in degrees, of threads that stand in every table of their day."""


def one_screw(rng):
    """A screw of a tabled thread, by caliper and gauge; the angle checks it."""
    wide, pitch, angle = SCREWS[int(rng.integers(len(SCREWS)))]
    wide = wide - rng.uniform(0.02, 0.08)
    typed = {
        "pitch": f"{pitch + rng.normal(0, 0.002):.3f} ± 0.002 mm",
        "diameter": f"{wide + rng.normal(0, 0.02):.2f} ± 0.02 mm",
    }
    return Sound(typed, checks={"angle": f"{angle + rng.normal(0, 1.5):.0f} ± 2 °"})


def many_screws(rng):
    """Five screws of one maker, of one family."""
    family = [s for s in SCREWS if s[2] == 55] if rng.random() < 0.6 else list(SCREWS[4:8])
    rows = ["screw,pitch_mm,pitch_sd_mm,diameter_mm,diameter_sd_mm,angle_deg,angle_sd_deg"]
    for n in range(5):
        wide, pitch, angle = family[n % len(family)]
        wide = wide - rng.uniform(0.02, 0.06) + rng.normal(0, 0.02)
        rows.append(
            f"screw {n + 1},{pitch + rng.normal(0, 0.002):.4f},0.002,{wide:.2f},0.02,"
            f"{angle + rng.normal(0, 1.5):.0f},2"
        )
    return Sound({"screws": "\n".join(rows)})


def gears(rng):
    """A lathe's lead screw, a thread and a set of change gears."""
    wide, pitch, _ = SCREWS[int(rng.integers(len(SCREWS)))]
    inch = round(25.4 / pitch)
    in_inches = abs(25.4 / inch - pitch) < 1e-6
    typed = {
        "lead": f"{int(rng.choice([6, 8]))} tpi",
        "thread": f"{inch} tpi" if in_inches else f"{pitch:g} mm",
        "gears": "20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 80, 127",
        "engaged": f"{rng.uniform(4, 9):.0f}",
    }
    return Sound(typed, checks={"diameter": f"{wide - rng.uniform(0.02, 0.08):.2f} mm"})


def spare(rng):
    """A cheese-headed screw as it was measured."""
    wide, pitch, angle = SCREWS[int(rng.integers(len(SCREWS)))]
    long = rng.uniform(8, 22)
    typed = {
        "diameter": f"{wide:.3f} mm",
        "pitch": f"{pitch:.4f} mm",
        "length": f"{long:.1f} mm",
        "head": "cheese",
        "angle": f"{angle}",
        "threaded": f"{0.7 * long:.1f} mm",
        "head_diameter": f"{1.6 * wide:.1f} mm",
        "head_height": f"{0.62 * wide:.1f} mm",
        "slot_wide": f"{0.2 * wide:.1f} mm",
        "slot_deep": f"{0.28 * wide:.1f} mm",
    }
    return Sound(typed)


def base(rng):
    """A bed with its lever, and its head weighed: all that a base is asked."""
    weighed = of_room("weighing")(rng)
    while weighed.truth["mass of the head"] < 5000:
        weighed = of_room("weighing")(rng)
    # the edges that bear it lie somewhat inside its rim
    x, y = (
        rng.uniform(0.51, 0.6) * rooms.number(weighed.typed[name])
        for name in ("apart_x", "apart_y")
    )
    rim = "".join(f"{a:.1f},{b:.1f}\n" for a, b in ((-x, -y), (x, -y), (x, y), (-x, y)))
    low, throw = rng.uniform(28, 40), rng.uniform(4, 8)
    lever = "".join(
        f"lever,{a},40,10,{-low - throw * np.cos(np.radians(a)):.1f}\n" for a in range(0, 360, 30)
    )
    typed = {
        "works": f"point,wheel_deg,x_mm,y_mm,z_mm\n{lever}",
        "outline": f"x_mm,y_mm\n{rim}",
        "ledge": "8",
        "overhang": f"{rng.uniform(10, 20):.0f}",
        "wall": "10",
        "floor": "6",
        "below": "8",
        "beside": "5",
        "density": "650",
        **weighed.typed,
    }
    # the lever's lowest, clearance below it, floor
    truth = {
        "height, table to seat": low + throw + 14.0,
        "depth of the works below the seat": low + throw,
    }
    return Sound(typed, weighed.truth | truth, weighed.checks)


FORMS: dict[str, Callable[[np.random.Generator], Sound]] = {
    "motion": turned_head,
    "thread": of_room("thread turn", "readings", rooms.columns),
    "tension": pulled_thread,
    "needle-fit": of_room("needle"),
    "thread-size": of_room("thread size"),
    "thread-use": of_room("seam thread"),
    "belt-length": of_room("belt"),
    "base": base,
    "works-depth": works,
    "head-balance": of_room("weighing"),
    "crank-hold": of_room("crank", "pulls", rooms.pulled),
    "crank-holds": held_wheel,
    "oiling": of_room("oiling", "", rooms.places),
    "oil-viscosity": of_room("oil"),
    "machine-threads": many_screws,
    "thread-form": one_screw,
    "thread-gears": gears,
    "spare-screw": spare,
}
HELD_BACK = ("works-depth", "oil-viscosity", "crank-holds", "thread-form")
"""Analyses whose failings nobody looked at while the rooms were mended."""

# --- asking, and judging -----------------------------------------------------------------------


def vouched(asked):
    """The same with every quantity as one that was measured and kept, so that grades can fall."""
    better = {}
    for one in fields(asked):
        value = getattr(asked, one.name)
        if isinstance(value, Known):
            better[one.name] = replace(value, grade=Grade.MEASURED)
        elif isinstance(value, KnownTable):
            better[one.name] = replace(value, grade=Grade.SEEN)
    return replace(asked, **better)


def answered(form: Filled) -> Answer | None:
    """What is told of a form; None where it is refused."""
    analysis = form.analysis
    empty = binding_of(analysis).empty
    try:
        asked = vouched(asked_from(analysis.asked, form.typed))
        inputs = empty() if empty else BedPicture()
        return told(analysis, asked, analysis.work(inputs, asked, Steps()))
    except IronlaceError:
        return None


@dataclass
class Count:
    """Of one analysis and failing: tried, refused, wrong, and wrong and untold."""

    tried: int = 0
    refused: int = 0
    wrong: int = 0
    untold: int = 0
    told: int = 0
    firm: int = 0
    example: str = ""


def judge(count: Count, spoilt: Spoilt, sound: Answer, truth: dict[str, float], usual) -> None:
    """Add one spoilt form to a count."""
    count.tried += 1
    answer = answered(spoilt.form)
    if answer is None:
        count.refused += 1
        return
    found = wrong_results(answer, sound, truth)
    told = cautioned(answer, spoilt, usual)
    count.told += told
    count.wrong += bool(found)
    still = [one for one in found if not lower(one, sound)]
    if still and not told:
        count.untold += 1
        count.firm += any(one.grade != Grade.CONJECTURED for one in still)
        what = f"{spoilt.words[0]} ({spoilt.how}): {still[0].name} {still[0].in_words()}"
        count.example = f"{what} | {' '.join(answer.sentences[:3])}"


def tried(key: str, asked, checked: bool):
    """Sound forms of an analysis; its doubted ones; counts by failing."""
    analysis = analysis_named(key)
    rng = np.random.default_rng([asked.seed, *key.encode()])
    sounds, usual, doubted = [], Counter(), []
    for _ in range(max(asked.sound, asked.forms)):
        made = FORMS[key](rng)
        form = Filled(analysis, made.typed | (made.checks if checked else {}))
        answer = answered(form)
        if answer is None:
            doubted.append("refused")
            continue
        usual.update({shape(s) for s in answer.sentences})
        sounds.append((form, made.truth, answer))
    standing = {s for s, often in usual.items() if often > len(sounds) / 2}
    for _, _, answer in sounds:
        doubted += [s for s in answer.sentences[:3] if doubts(s, standing)][:1]
    counts: dict[str, Count] = defaultdict(Count)
    for name in asked.failings or FAILINGS:
        draw = np.random.default_rng([asked.seed, *key.encode(), *name.encode()])
        for form, truth, answer in sounds[: asked.forms]:
            for _ in range(asked.draws):
                spoilt = FAILINGS[name](draw, form)
                if spoilt is not None and spoilt.form.typed != form.typed:
                    judge(counts[name], spoilt, answer, truth, standing)
    return max(asked.sound, asked.forms), doubted, counts


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--analyses", default="")
    asked.add_argument("--failings", default="")
    asked.add_argument("--forms", type=int, default=4)
    asked.add_argument("--draws", type=int, default=2)
    asked.add_argument("--sound", type=int, default=20)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--held-back", action="store_true")
    asked.add_argument("--checked", choices=("no", "yes", "both"), default="both")
    asked.add_argument("--say", action="store_true")
    asked = asked.parse_args()
    asked.failings = [one for one in asked.failings.split(",") if one]
    keys = [k for k in asked.analyses.split(",") if k] or [
        k for k in FORMS if (k in HELD_BACK) == asked.held_back
    ]
    for checked in {"no": (False,), "yes": (True,), "both": (False, True)}[asked.checked]:
        print("with what checks it" if checked else "bare")
        whole = Count()
        for key in keys:
            if checked and not FORMS[key](np.random.default_rng(1)).checks:
                continue
            began = time.process_time()
            forms, doubted, counts = tried(key, asked, checked)
            of = [sum(getattr(c, n) for c in counts.values()) for n in
                  ("tried", "refused", "wrong", "untold", "firm")]  # fmt: skip
            for n, value in zip(("tried", "refused", "wrong", "untold", "firm"), of, strict=True):
                setattr(whole, n, getattr(whole, n) + value)
            print(
                f"{key:16} sound doubted {len(doubted)} of {forms}; spoilt {of[0]}, refused "
                f"{of[1]}, wrong {of[2]}, WRONG AND UNTOLD {of[3]} ({of[4]} not conjectured); "
                f"{time.process_time() - began:.0f} s",
                flush=True,
            )
            if asked.say:
                for one in doubted[:2]:
                    print(f"    sound: {one[:200]}")
            for name, count in counts.items():
                if count.untold or asked.say:
                    print(
                        f"    {name:26} {count.untold:3} of {count.tried} (refused "
                        f"{count.refused}, wrong {count.wrong}, told {count.told})"
                    )
                if asked.say and count.example:
                    print(f"        {count.example[:330]}")
        print(
            f"all: spoilt {whole.tried}, refused {whole.refused}, wrong and not refused "
            f"{whole.wrong}, WRONG AND UNTOLD {whole.untold} ({whole.firm} not conjectured)"
        )


if __name__ == "__main__":
    main()
