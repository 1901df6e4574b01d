"""Rooms asked by strangers with numbers gone wrong: who is wrong, and does not say so?

    python bench/rooms_by_strangers.py --rooms weighing,belt --cases 10 --seed 1 --say
    python bench/rooms_by_strangers.py --held-back --seed 91

Each room's evening is made here, by forces, strings and counts worked out afresh, and typed into
the public command as a person would type it. A family spoils it in one human way: another unit, a
row copied twice, columns changed round, a sign, a scale not set to nought, a reading taken at
another place. *Wrong*: a result misses the truth by more than its own half-width (4 % of it where
no interval is given). *Told*: the command refuses, or one of its first three sentences doubts, in
words that sound evenings do not have. Families of `HELD_BACK` are run once, and nothing is tuned
on them. `--sound` counts sound evenings that are refused or doubted.
"""

import argparse
import contextlib
import io
import json
import re
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "src"))

from ironlace.cli.program import main as ironlace

DOUBT = re.compile(
    r"\bagain\b|cannot be trusted|measured from above|hardly measured|looks like|"
    r"\b[Ww]as it\b|\bwere (?:they|its|the|numbers)\b|\bwas (?:the|one)\b|"
    r"contradict|cannot be told|"
    r"changed round|does not agree|do not agree|doubtful|look whether|No viscosity",
)
"""What a first sentence that doubts has in it; that errors were not stated is no doubt."""
NO_DOUBT = ("It cannot be told whether the magnets alone hold", "Nothing checks")
"""A verdict of sound evenings, and what is said of all that was not checked: no doubts."""


def doubts(sentence):
    """Whether a sentence doubts what was typed."""
    return bool(DOUBT.search(sentence)) and not sentence.startswith(NO_DOUBT)


@dataclass
class Evening:
    """What is typed: options by name, tables by name (option or the one argument), the truth."""

    options: dict
    tables: dict = field(default_factory=dict)
    truth: dict = field(default_factory=dict)
    ends: str = ".csv"


def words_of(command, evening, folder):
    """The command line of an evening, its tables written as files."""
    said = list(command)
    for name, text in evening.tables.items():
        file = folder / f"{name}{evening.ends}"
        file.write_text(text, encoding="utf-8")
        said += [str(file)] if name == "argument" else [f"--{name}", str(file)]
    for name, value in evening.options.items():
        said += [f"--{name}", str(value)]
    return said if command[1] == "threading" else [*said, "--json"]


def answered(command, evening, folder):
    """The command's JSON, or the sentence it refused with."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            ironlace(words_of(command, evening, folder))
        except SystemExit as ended:
            code = ended.code or 0
        else:
            code = 0
    if code:
        return None, err.getvalue().strip() or out.getvalue().strip()
    if command[1] == "threading":
        return {"sentences": out.getvalue().strip().splitlines(), "results": []}, ""
    return json.loads(out.getvalue()), ""


def put(value, error=None, unit="mm", places=2):
    """A quantity as it is typed."""
    told = f"{value:.{places}f}".rstrip("0").rstrip(".") if places else f"{value:.0f}"
    return f"{told} {unit}" if error is None else f"{told} ± {error:g} {unit}"


def number(typed):
    """The figure of what was typed."""
    return float(str(typed).split()[0])


def scaled(evening, names, factor, places=3):
    """The same with the figures of some options times a factor, the unit left out."""
    for name in names:
        if name in evening.options:
            evening.options[name] = f"{number(evening.options[name]) * factor:.{places}f}"
    return evening


def times(names, factor, places=3):
    """Some figures times a factor, typed without their unit."""

    def spoil(_rng, one):
        return scaled(one, names, factor, places)

    return spoil


# --- the head on two edges ---------------------------------------------------------------------


def head(rng):
    """A head weighed on two edges: forces on its bearing lines, edges and scale with errors."""
    small = rng.random() < 0.2
    mass = rng.uniform(1100, 3000) if small else rng.uniform(6000, 17000)
    apart = (
        np.array([rng.uniform(85, 120), rng.uniform(60, 90)])
        if small
        else np.array([rng.uniform(180, 300), rng.uniform(110, 190)])
    )
    at = np.array([rng.uniform(-0.25, 0.25), rng.uniform(-0.15, 0.15)]) * apart
    high = rng.uniform(0.4, 0.65) * apart[0] if small else rng.uniform(80.0, 150.0)
    tilt = rng.uniform(14.0, 24.0)

    def bears(axis, lean=0.0, side=1.0):
        """The scale under one edge, by moments about the other, on which the head leans."""
        low, far = rng.normal(-apart[axis] / 2, 0.7), rng.normal(apart[axis] / 2, 0.7)
        turned = np.radians(lean)
        arm = (side * at[axis] - low) * np.cos(turned) - high * np.sin(turned)
        return float(mass * arm / ((far - low) * np.cos(turned)) + rng.normal(0, 4))

    # nobody lifts a head until it falls over
    steep = np.degrees(np.arctan((apart[1] / 2 - abs(at[1])) * 0.8 / high))
    tilt, other = min(tilt, steep), min(rng.uniform(12.0, 20.0), steep)
    typed = {
        "left": mass - bears(0),
        "right": bears(0),
        "apart-x": apart[0],
        "front": mass - bears(1),
        "back": bears(1),
        "apart-y": apart[1],
        "tilt": tilt,
        "tilted": bears(1, tilt + rng.normal(0, 0.25)),
    }
    options = {name: f"{value:.0f}" for name, value in typed.items()}
    options["tilt"] = f"{tilt:.1f}"
    truth = {
        "mass of the head": mass,
        "height of the head's centre above the seat": high,
        "centre to the right of the middle of the edges": at[0],
        "centre behind the middle of the edges": at[1],
    }
    evening = Evening(options, truth=truth)
    evening.more = {
        "other-tilt": f"{other:.1f}",
        "other-tilted": f"{bears(1, other + rng.normal(0, 0.25), -1.0):.0f}",
        "whole": f"{mass + rng.normal(0, 4):.0f}",
    }
    return evening


GRAMS = ("left", "right", "front", "back", "tilted", "whole", "other-tilted")


def by_grams(factor, names=GRAMS):
    return times(names, factor)


def changed_round(first, second):
    def spoil(_rng, one):
        options = one.options
        options[first], options[second] = options[second], options[first]
        return one

    return spoil


def added(names, by):
    def spoil(rng, one):
        off = by(rng)
        for name in names:
            if name in one.options:
                one.options[name] = f"{number(one.options[name]) + off:.1f}"
        return one

    return spoil


def front_lifted(_rng, one):
    """The edges taken for each other in every lift: what was lifted as back was the front."""
    mass = one.truth["mass of the head"]
    high = one.truth["height of the head's centre above the seat"]
    deep, apart = one.truth["centre behind the middle of the edges"], number(one.options["apart-y"])
    for name, lean, side in (("tilted", "tilt", -1.0), ("other-tilted", "other-tilt", 1.0)):
        if name in one.options:
            turned = np.tan(np.radians(number(one.options[lean])))
            share = (apart / 2 + side * deep - high * turned) / apart
            one.options[name] = f"{max(mass * share, 2):.0f}"
    return one


def not_from_level(rng, one):
    """A tilt read on a table that leans by 4 degrees: too much one way, too little the other."""
    off = rng.choice([-4.0, 4.0])
    for name, by in (("tilt", off), ("other-tilt", -off)):
        if name in one.options:
            one.options[name] = f"{number(one.options[name]) + by:.1f}"
    return one


def front_read(_rng, one):
    """Lifted, the scale stood under the edge that the head leaned on."""
    for name in ("tilted", "other-tilted"):
        if name in one.options:
            whole = one.truth["mass of the head"]
            one.options[name] = f"{whole - number(one.options[name]):.0f}"
    return one


def figures_round(names):
    """Two figures of one reading changed round: 6757 for 7657."""

    def spoil(rng, one):
        name = names[rng.integers(len(names))]
        text = one.options[name].split()[0]
        if len(text) > 1 and text[0] != text[1]:
            one.options[name] = text[1] + text[0] + text[2:]
        return one

    return spoil


def coarse(_rng, one):
    """A bathroom scale that tells hundreds of grams."""
    for name in GRAMS:
        if name in one.options:
            one.options[name] = f"{max(round(number(one.options[name]), -2), 100):.0f}"
    return one


def lean_as_percent(_rng, one):
    for name in ("tilt", "other-tilt"):
        if name in one.options:
            lean = np.tan(np.radians(number(one.options[name]))) * 100
            one.options[name] = f"{lean:.1f}"
    return one


def copied(first, second):
    def spoil(_rng, one):
        one.options[second] = one.options[first]
        return one

    return spoil


# --- the belt ----------------------------------------------------------------------------------


def walked(large, small, centres, crossed):
    """Length of what runs tight round two wheels: tangents, and the large arc in small steps."""
    sign = -1.0 if crossed else 1.0
    lean = np.arccos((large - sign * small) / centres)
    turn = np.linspace(lean, 2 * np.pi - lean, 20_001)
    arc = large * np.column_stack([np.cos(turn), np.sin(turn)])
    normal = np.array([np.cos(lean), np.sin(lean)])
    straight = np.linalg.norm(np.array([centres, 0.0]) + (sign * small - large) * normal)
    held = 2 * np.pi - 2 * lean if crossed else 2 * lean
    return np.linalg.norm(np.diff(arc, axis=0), axis=1).sum() + 2 * straight + small * held


def belted(rng):
    """Two wheels and a belt: its length walked along tangents and arcs in small steps."""
    driver, driven = rng.uniform(220, 340), rng.uniform(60, 130)
    thick, centres = rng.uniform(4, 8), rng.uniform(480, 700)
    crossed = rng.random() < 0.3
    length = walked((driver + thick) / 2, (driven + thick) / 2, centres, crossed)
    string = walked(driver / 2 + 0.3, driven / 2 + 0.3, centres, crossed)
    options = {
        "driver": put(driver + rng.normal(0, 0.5), 0.5),
        "driven": put(driven + rng.normal(0, 0.2), 0.2),
        "centres": put(centres + rng.normal(0, 1), 1),
        "thickness": put(thick, 0.05),
        "way": "crossed" if crossed else "open",
    }
    truth = {
        "length of the belt along its middle": length,
        "turns of the driven wheel for one of the driving wheel": (driver + thick)
        / (driven + thick),
    }
    evening = Evening(options, truth=truth)
    evening.more = {"string": put(string + rng.normal(0, 2), 3)}
    return evening


MM = ("driver", "driven", "centres", "thickness")


def rim_to_rim(_rng, one):
    """The gap between the rims measured, not the axles' distance."""
    gap = (
        number(one.options["centres"])
        - (number(one.options["driver"]) + number(one.options["driven"])) / 2
    )
    one.options["centres"] = put(gap, 1)
    return one


def other_way(_rng, one):
    one.options["way"] = "open" if one.options["way"] == "crossed" else "crossed"
    return one


def without_errors(spoil):
    def then(rng, one):
        one = spoil(rng, one)
        one.options = {k: v.split(" ±")[0] for k, v in one.options.items()}
        return one

    return then


# --- the wheel and its magnets -----------------------------------------------------------------


def wheel(rng):
    """A wheel pulled round by a string, twice; its torque a mean, two waves and a hump."""
    mean, waves = rng.uniform(0.25, 0.55), rng.uniform(0.05, 0.25, 2)
    late = rng.uniform(0, 2 * np.pi, 3)

    def torque(t):
        hump = 0.15 * np.exp(2.0 * (np.cos(t - late[2]) - 1.0))
        return mean * (
            1 + waves[0] * np.cos(t - late[0]) + waves[1] * np.cos(2 * t - late[1]) + hump
        )

    radius = rng.uniform(55, 95)
    at = np.arange(0.0, 360.0, 30.0)
    gain = 1 + rng.normal(0, 0.01)
    pulls = [
        torque(np.radians(at)) / radius * 1000 * gain * (1 + 0.03 * rng.normal(size=12))
        for _ in range(2)
    ]
    options = {
        "string-radius": put(radius, places=1),
        "handle-radius": put(rng.uniform(0.7, 0.9) * radius, places=1),
        "above-seat": put(rng.uniform(25, 45), places=1),
        "count": int(rng.integers(4, 7)),
        "diameter": "10 mm",
        "height": "5 mm",
        "polarization": "1.3",
        "gap": "0.4 ± 0.08 mm",
        "circle-radius": put(rng.uniform(0.55, 0.75) * radius, places=1),
        "half-width": "7 mm",
        "thickness": "5 mm",
        "friction-low": "0.15",
        "friction-high": "0.3",
        "iron": "grey iron",
    }
    fine = np.linspace(0, 2 * np.pi, 7201)
    evening = Evening(options, truth={"greatest torque of the wheel": float(torque(fine).max())})
    evening.more = {"once-round": put(2.0 * np.pi * radius + rng.normal(0, 2.0), places=0)}
    evening.pulls = (at, *pulls)
    evening.heads = ("wheel [deg]", "pull [N]", "again [N]")
    return evening


def pulled(one):
    at, first, second = one.pulls
    rows = [f"{a:g};{p:.2f};{q:.2f}" for a, p, q in zip(at, first, second, strict=True)]
    one.tables["argument"] = "\n".join([";".join(one.heads), *rows])
    return one


def pulls_by(change):
    """The pulls changed by a function of rng, angles, first and second series."""

    def spoil(rng, one):
        one.pulls = change(rng, *one.pulls)
        return one

    return spoil


def one_out(rng, at, a, b):
    a = a.copy()
    a[rng.integers(len(a))] *= 0.1
    return at, a, b


# --- oil ---------------------------------------------------------------------------------------


def oil(rng):
    """An oil by its two figures, from a law of viscosity index worked backwards."""
    index = rng.uniform(60, 130)
    at_100 = rng.uniform(2.8, 9.0)
    low, high = 0.8353 * at_100**2 + 14.67 * at_100 - 216, 0.1684 * at_100**2 + 11.85 * at_100 - 97
    del low, high
    # Walther through two points: B falls as the index rises
    b = 3.75 - 0.0045 * (index - 95) - 0.35 * np.log10(at_100 / 4.3)
    up = np.log10(np.log10(at_100 + 0.7)) + b * np.log10(373.15 / 313.15)
    at_40 = 10 ** (10**up) - 0.7
    room = rng.uniform(12, 26)
    here = 10 ** (10 ** (up + b * np.log10(313.15 / (room + 273.15)))) - 0.7
    options = {
        "at-40": f"{at_40:.1f}",
        "at-100": f"{at_100:.1f}",
        "temperature": f"{room:.0f}",
    }
    return Evening(options, truth={"viscosity": here})


def saybolt(names):
    """In Saybolt seconds: 4.632 times the mm²/s at 40 °C and thicker, 32 and more below."""

    def spoil(_rng, one):
        for name in names:
            v = number(one.options[name])
            one.options[name] = f"{4.632 * v + 32.0 / (1 + v / 4.0):.0f}"
        return one

    return spoil


def fahrenheit(_rng, one):
    one.options["temperature"] = f"{number(one.options['temperature']) * 1.8 + 32:.0f}"
    return one


# --- thread in a seam, thread and needle -------------------------------------------------------


def seam(rng):
    stitch, cloth, share = rng.uniform(1.8, 3.2), rng.uniform(0.4, 1.2), 0.5
    options = {
        "stitch": put(stitch + rng.normal(0, 0.03), 0.04),
        "thickness": put(cloth + rng.normal(0, 0.02), 0.03),
    }
    truth = {
        "needle thread to a metre of seam, at most": (stitch + 2 * share * cloth) / stitch,
        "both threads to a metre of seam, at most": (2 * stitch + 2 * cloth) / stitch,
    }
    evening = Evening(options, truth=truth)
    evening.more = counted_and_folded(rng, stitch, cloth)
    return evening


def counted_and_folded(rng, stitch, cloth):
    """What checks a stitch and its cloth: counted along 100 mm, folded once and pressed."""
    return {
        "counted": f"{100.0 / stitch + rng.uniform(-0.5, 0.5):.0f}",
        "folded": put(2.0 * cloth * (1.0 + 0.02 * rng.normal()) + rng.normal(0, 0.02), 0.03),
    }


def to_the_inch(_rng, one):
    one.options["stitch"] = f"{25.4 / number(one.options['stitch']):.0f}"
    return one


def spool(rng):
    """A cotton of so many hanks, plied; its thickness measured."""
    count, ply = int(rng.choice([24, 30, 36, 40, 50, 60])), int(rng.choice([2, 3]))
    tex = 1000 * 0.45359237 / (840 * 0.0009144 * count) * ply / 1.0
    tex = 453.59237 / (840 * 0.9144) * 1000 / count * ply
    packed = rng.uniform(0.52, 0.68)
    thick = np.sqrt(4 * tex / (np.pi * 1.52 * packed) * 1e-3)
    options = {
        "size": count,
        "system": "cotton count",
        "ply": ply,
        "diameter": put(thick + rng.normal(0, 0.005), 0.01, places=3),
    }
    return Evening(options, truth={"size of the thread": tex})


def said_as(**given):
    def spoil(_rng, one):
        one.options.update({k.replace("_", "-"): v for k, v in given.items()})
        return one

    return spoil


def needle(rng):
    """A clamp that takes a flatted household needle, the bar a little off."""
    lower = rng.uniform(-1.0, 1.5)
    options = {
        "clamp": put(2.02 + rng.uniform(0.0, 0.04), 0.02),
        "butt-to-eye": put(33.8 + lower, 0.2),
        "shape": "flatted",
        "thread": "0.21 mm",
    }
    return Evening(options, truth={"needle bar lowered for HA x 1": lower})


# --- thread through a turn, a threading plan, an oiling plan ---------------------------------


def turned(rng):
    """Needle bar by crank, take-up by a cam of its own, every 15 degrees; long pulls of thread."""
    low, crank, lift = rng.uniform(0, 360), rng.uniform(12, 16), rng.uniform(45, 65)
    late, plate = rng.uniform(55, 80), rng.uniform(10, 15)
    wheel = np.arange(0.0, 360.0, 15.0)
    a = np.radians(wheel - low)
    bar = 20 + crank * (1 - np.cos(a)) + rng.normal(0, 0.08, 24)
    t = np.radians(wheel - low - late)
    up = 18 + lift * ((1 - np.cos(t)) / 2) ** rng.uniform(1.0, 1.4) + rng.normal(0, 0.1, 24)
    evening = Evening(
        {
            "stitch": "2.5 ± 0.05 mm",
            "thickness": "0.8 ± 0.05 mm",
            "eye-at-plate": put(20 + plate, 0.2),
            "given-out": put(lift * rng.uniform(1.6, 1.9), 1),
            "turning": "rise",
        }
    )
    evening.columns = {"wheel [deg]": wheel, "needle bar [mm]": bar, "take-up [mm]": up}
    evening.more = counted_and_folded(rng, 2.5, 0.8)
    return evening


def columns(one):
    rows = zip(*one.columns.values(), strict=True)
    told = [";".join(f"{v:.1f}" for v in row) for row in rows]
    one.tables["argument"] = "\n".join([";".join(one.columns), *told])
    return one


def from_above(name):
    def spoil(_rng, one):
        one.columns[name] = 130.0 - one.columns[name]
        return one

    return spoil


def other_column(_rng, one):
    bar, up = one.columns["needle bar [mm]"], one.columns["take-up [mm]"]
    one.columns |= {"needle bar [mm]": up, "take-up [mm]": bar}
    return one


WAY = (
    ("spool", "back"), ("guide hole", "left"), ("pin", "left"), ("discs", "front"),
    ("check spring", "left"), ("take-up eye", "right"), ("guide hole", "front"),
    ("needle eye", "left"),
)  # fmt: skip


def plan(rng):
    """A needle thread's way over a photograph of 2400 by 1800 pixels."""
    places = np.column_stack([rng.uniform(300, 2300, len(WAY)), rng.uniform(200, 1700, len(WAY))])
    evening = Evening({}, ends=".toml")
    evening.points = [
        [n, list(map(float, at)), does, side]
        for n, (at, (does, side)) in enumerate(zip(places, WAY, strict=True), 1)
    ]
    return evening


def as_toml(one, folder):
    rows = [
        'title = "Head"',
        "[[picture]]",
        'name = "front"',
        "width_px = 2400",
        "height_px = 1800",
    ]
    for n, at, does, side in one.points:
        rows += [
            "[[point]]", f"number = {n}", f"at = [{at[0]:.1f}, {at[1]:.1f}]", f'does = "{does}"',
            f'side = "{side}"', 'known = "seen"',
        ]  # fmt: skip
    one.tables["argument"] = "\n".join(rows)
    one.options["out"] = tempfile.mkdtemp(dir=folder)
    return one


def number_round(first, other):
    def spoil(_rng, one):
        a, b = one.points[first], one.points[other]
        a[0], b[0] = b[0], a[0]
        return one

    return spoil


def point_copied(rng, one):
    at = int(rng.integers(1, len(one.points) - 1))
    rows = [*one.points[: at + 1], list(one.points[at]), *one.points[at + 1 :]]
    one.points = [[n, *row[1:]] for n, row in enumerate(rows, 1)]
    return one


def points_by(change):
    def spoil(_rng, one):
        one.points = [[n, change(at), does, side] for n, at, does, side in one.points]
        return one

    return spoil


OILED = ("needle bar", "take-up", "shuttle race", "feed rock shaft", "main shaft")


def oiled(rng):
    """Five places, oiled within some weeks of one another."""
    rows = [
        {
            "place": name,
            "kind": "felt" if n == 2 else "hole",
            "drops": int(rng.integers(1, 4)),
            "every_hours": int(rng.integers(4, 12)),
            "every_months": int(rng.integers(1, 6)),
            "last": f"1894-0{rng.integers(1, 4)}-{rng.integers(10, 28)}",
            "holds_ml": f"{rng.uniform(0.3, 1.0):.2f}",
            "felt_mm": "20x10x4" if n == 2 else "",
        }
        for n, name in enumerate(OILED)
    ]
    evening = Evening({"hours-per-week": "2", "grade": "ISO VG 22", "temperature": "18"})
    evening.rows = rows
    evening.checks = {"log": log_of(rng, rows)}
    return evening


def log_of(rng, rows):
    """Another book of the same oilings: two before the last, about as far apart as the rows say."""
    told = ["place,day"]
    for row in rows:
        day = date.fromisoformat(row["last"])
        every = min(row["every_hours"] * 3.5, row["every_months"] * 30.4)
        for _ in range(3):
            told.append(f"{row['place']},{day}")
            day -= timedelta(days=max(1, round(every * np.exp(0.3 * rng.normal()))))
    return "\n".join(told)


def places(one):
    heads = list(one.rows[0])
    told = [",".join(str(row[h]) for h in heads) for row in one.rows]
    one.tables["places"] = "\n".join([",".join(heads), *told])
    return one


def cell(name, of, row=None):
    def spoil(rng, one):
        chosen = one.rows if row is None else [one.rows[row]]
        for each in chosen:
            each[name] = of(rng, each)
        return one

    return spoil


def days_round(_rng, one):
    """Month and day of one place changed round where both can be, else its year."""
    one.rows[1]["last"] = "1849" + one.rows[1]["last"][4:]
    return one


ROOMS = {
    "weighing": (("stand", "head-balance"), head),
    "belt": (("stand", "belt-length"), belted),
    "crank": (("stand", "crank-hold"), wheel),
    "oil": (("care", "oil-viscosity"), oil),
    "seam thread": (("running", "thread-use"), seam),
    "thread size": (("running", "thread-size"), spool),
    "needle": (("running", "needle-fit"), needle),
    "thread turn": (("running", "thread"), turned),
    "threading": (("running", "threading"), plan),
    "oiling": (("care", "oiling"), oiled),
}
SPOILT_IS_WRONG = ("thread turn", "threading", "oiling")
"""Rooms whose families are wrong by what they are: their truth is not one number."""
Spoil = Callable[[np.random.Generator, Evening], Evening]
FAMILIES: dict[str, dict[str, Spoil]] = {
    "weighing": {
        "kilograms": by_grams(0.001),
        "pounds": by_grams(1 / 453.6),
        "tilted in kilograms": by_grams(0.001, ("tilted",)),
        "front and back changed round": changed_round("front", "back"),
        "front edge lifted": front_lifted,
        "tilt not from level": not_from_level,
        "board on the scale": added(GRAMS, lambda r: r.uniform(300, 700)),
        "centimetres": times(("apart-x", "apart-y"), 0.1),
        "figures changed round": figures_round(GRAMS[:5]),
        "coarse scale": coarse,
    },
    "belt": {
        "centimetres": without_errors(times(MM, 0.1)),
        "radii": times(("driver", "driven"), 0.5),
        "round and not across": times(("driver", "driven"), np.pi),
        "inches": without_errors(times(MM, 1 / 25.4)),
        "centres rim to rim": rim_to_rim,
    },
    "crank": {
        "kgf": pulls_by(lambda _r, at, a, b: (at, a / 9.80665, b / 9.80665)),
        "pounds": pulls_by(lambda _r, at, a, b: (at, a / 4.448, b / 4.448)),
        "second copied from the first": pulls_by(lambda _r, at, a, _b: (at, a, a)),
        "turns for degrees": pulls_by(lambda _r, at, a, b: (at / 360, a, b)),
        "half a turn only": pulls_by(lambda _r, at, a, b: (at / 2, a, b)),
        "one a tenth": pulls_by(one_out),
    },
    "oil": {
        "both in Saybolt seconds": saybolt(("at-40", "at-100")),
        "that at 40 in Saybolt seconds": saybolt(("at-40",)),
        "Fahrenheit": fahrenheit,
        "a decimal lost": times(("at-100",), 0.1),
    },
    "seam thread": {
        "stitches to the inch": without_errors(to_the_inch),
        "changed round": changed_round("stitch", "thickness"),
        "centimetres": without_errors(times(("thickness",), 0.1)),
    },
    "thread size": {
        "ticket taken for it": said_as(system="cotton ticket", ply=1),
        "metric count": said_as(system="metric count"),
        "plies forgotten": said_as(ply=1),
    },
    "needle": {
        "overall length": times(("butt-to-eye",), 38.0 / 33.8),
        "radius of the clamp": times(("clamp",), 0.5),
        "half inch off": added(("butt-to-eye",), lambda r: r.choice([-12.7, 12.7])),
    },
    "thread turn": {
        "given out in inches": times(("given-out",), 1 / 25.4),
        "needle bar from above": from_above("needle bar [mm]"),
        "stitches to the inch": to_the_inch,
        "turning told wrong": said_as(turning="fall"),
    },
    "threading": {
        "a point copied": point_copied,
        "take-up and discs changed round": number_round(3, 5),
        "a quarter's copy touched": points_by(lambda at: [0.4 * v for v in at]),
    },
    "oiling": {
        "felt in centimetres": cell("felt_mm", lambda _r, _row: "2x1x0.4", 2),
        "a year miswritten": days_round,
        "drops for ml": cell("drops", lambda _r, _row: 150, 3),
    },
}


def _round_about(one):
    for row in one.rows:
        row["every_hours"], row["every_months"] = row["every_months"], row["every_hours"]
    return one


HELD_BACK: dict[str, dict[str, Spoil]] = {
    "weighing": {
        "ounces": by_grams(1 / 28.35),
        "scale under the other edge": front_read,
        "tilted 400 g off": added(("tilted",), lambda r: r.choice([-400.0, 400.0])),
        "tilt in per cent": lean_as_percent,
        "apart measured on the bed": times(("apart-x", "apart-y"), 1.12),
        "tilted copied from back": copied("back", "tilted"),
        "a level half not set to nought": added(("left", "right"), lambda _r: 450.0),
    },
    "belt": {
        "driver's radius": times(("driver",), 0.5),
        "driver round": times(("driver",), np.pi),
        "driver in centimetres": without_errors(times(("driver",), 0.1)),
        "way told wrong": other_way,
        "thickness forgotten": said_as(thickness="0.5 mm"),
    },
    "crank": {
        "ounces": pulls_by(lambda _r, at, a, b: (at, a / 0.278, b / 0.278)),
        "string's diameter": times(("string-radius",), 2.0),
        "magnets' diameter": times(("circle-radius",), 2.0),
        "hours of the clock": pulls_by(lambda _r, at, a, b: (at / 30, a, b)),
        "a quarter missed": pulls_by(lambda _r, at, a, b: (at[:8], a[:8], b[:8])),
        "second one step on": pulls_by(lambda _r, at, a, b: (at, a, np.roll(b, 3))),
    },
    "oil": {
        "at 100 and 210 F": lambda _r, o: o,
        "Engler degrees": times(("at-40", "at-100"), 1 / 7.6, 2),
        "that at 100 in Saybolt seconds": saybolt(("at-100",)),
        "two oils' sheets": said_as(at_100="18"),
    },
    "seam thread": {
        "stitches to the centimetre": without_errors(
            lambda r, o: said_as(stitch=f"{10 / number(o.options['stitch']):.1f}")(r, o)
        ),
        "single layer": times(("thickness",), 0.5),
    },
    "thread size": {
        "denier for count": said_as(system="denier"),
        "tex for count": said_as(system="tex", ply=1),
        "thickness in tenths": times(("diameter",), 10.0),
    },
    "needle": {
        "point for eye": added(("butt-to-eye",), lambda _r: 5.2),
        "clamp hardly measured": said_as(clamp="2.4 ± 0.4 mm"),
    },
    "thread turn": {
        "take-up from above": from_above("take-up [mm]"),
        "given out on one leg in inches": times(("given-out",), 0.5 / 25.4),
        "columns changed round": other_column,
        "the point at the plate": added(("eye-at-plate",), lambda _r: -16.0),
        "cloth for stitch": changed_round("stitch", "thickness"),
    },
    "threading": {
        "needle eye before the guide": number_round(6, 7),
        "shares of the picture": points_by(lambda at: [at[0] / 2400, at[1] / 1800]),
        "spool numbered last": number_round(0, 7),
        "columns changed round": points_by(lambda at: [at[1], at[0]]),
    },
    "oiling": {
        "cup in litres": cell("holds_ml", lambda _r, row: f"{float(row['holds_ml']) / 1000:.4f}"),
        "hours and months changed round": lambda _r, o: _round_about(o),
        "next year": cell("last", lambda _r, row: "1904" + row["last"][4:], 4),
        "a bare SAE grade": said_as(grade="10"),
    },
}


def missed(answer, truth):
    """By how many half-widths the worst result misses; half-width 4 % where none is told."""
    told = {one["name"]: one for one in answer["results"]}
    worst = 0.0
    for name, true in truth.items():
        one = told.get(name)
        if one is None:
            continue
        ends = one.get("interval")
        half = (ends["high"] - ends["low"]) / 2 if ends else 0.04 * abs(one["value"])
        worst = max(worst, abs(one["value"] - true) / max(half, 1e-9))
    return worst


def shape(sentence):
    """A sentence without its figures, so that two tellings of one kind are alike."""
    return re.sub(r"[-\d.,]+", "#", sentence)[:60]


def evening_of(room, rng, spoil, fuller, folder):
    one = ROOMS[room][1](rng)
    if fuller:
        one.options |= getattr(one, "more", {})
    one = spoil(rng, one) if spoil else one
    if room == "threading":
        return as_toml(one, folder)
    ready = {"crank": pulled, "thread turn": columns, "oiling": places}.get(room)
    return ready(one) if ready else one


def run(room, name, spoil, asked, folder, usual):
    """One family: how many are wrong, told, untold."""
    rng = np.random.default_rng([asked.seed, *room.encode(), *name.encode()])
    wrong = untold = refused = doubted = 0
    held, example = [], ""
    for _ in range(asked.cases):
        one = evening_of(room, rng, spoil, asked.fuller, folder)
        answer, refusal = answered(ROOMS[room][0], one, folder)
        if answer is None:
            refused += 1
            example = example or refusal
            continue
        first = answer["sentences"][:3]
        told = any(doubts(s) and shape(s) not in usual for s in first)
        doubted += told
        off = np.inf if room in SPOILT_IS_WRONG else missed(answer, one.truth)
        held.append(off <= 1.0)
        wrong += off > 2.0
        if off > 2.0 and not told:
            untold += 1
            example = f"off {off:.1f}: " + " ".join(first)
        elif told:
            example = example or " ".join(first)
    share = f"held {np.mean(held):.2f}" if held else "none told"
    print(
        f"  {name:32} {share}; wrong {wrong}, refused {refused}, doubted {doubted}, "
        f"WRONG AND UNTOLD {untold} of {asked.cases}",
        flush=True,
    )
    if asked.say and example:
        print(f"        {example[:420]}")


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--rooms", default=",".join(ROOMS))
    asked.add_argument("--cases", type=int, default=8)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--held-back", action="store_true")
    asked.add_argument("--fuller", action="store_true", help="with what the form asks to check by")
    asked.add_argument("--sound", type=int, default=20)
    asked.add_argument("--say", action="store_true")
    asked = asked.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for room in asked.rooms.split(","):
            print(room)
            rng = np.random.default_rng([asked.seed, 7, *room.encode()])
            alarms, usual, off = [], set(), []
            for _ in range(asked.sound):
                one = evening_of(room, rng, None, asked.fuller, folder)
                answer, refusal = answered(ROOMS[room][0], one, folder)
                if answer is None:
                    alarms.append(refusal)
                    continue
                off.append(missed(answer, one.truth))
                found = [s for s in answer["sentences"][:3] if doubts(s)]
                alarms += found[:1]
                usual |= {shape(s) for s in answer["sentences"]}
            print(
                f"  {'sound':32} held {np.mean(np.array(off) <= 1):.2f}, off by more than two "
                f"half-widths {np.mean(np.array(off) > 2):.2f}; refused or doubted "
                f"{len(alarms)} of {asked.sound}"
            )
            if asked.say and alarms:
                print(f"        {alarms[0][:300]}")
            usual = {s for s in usual if sum(shape(a) == s for a in alarms) > asked.sound / 2}
            for family, spoil in (HELD_BACK if asked.held_back else FAMILIES)[room].items():
                run(room, family, spoil, asked, folder, usual)


if __name__ == "__main__":
    main()
