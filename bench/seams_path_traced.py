"""Photographs and scans of seams by a path tracer: who is wrong, and silent about it?

    python bench/seams_path_traced.py --traced PYTHON --families looked --seeds 1 --keep FOLDER

PYTHON has Mitsuba 3 (`path_traced_seam.py`, demo/README.md). What is drawn here is how the seam
was sewn and photographed; the other program makes the picture of it, and this one asks the public
route and compares. Pictures that lie in FOLDER are not rendered again. Families in `HELD` were
never looked at while anything was mended, nor were the seeds from 900 on.

*Silent*: not refused, no doubt in the first three sentences, and the mean or the evenness off by
more than twice the half-width (and 0.5 % or 0.01), or stitches or skips wrong by more than one,
or a tenth of the holes, as the camera sees them, farther than 0.15 mm from every end told, or of
the single lengths that are called sure more than a quarter outside their 90 % interval.
"""

import argparse
import itertools
import json
import os
import subprocess
import sys
from collections import Counter
from pathlib import Path

import cv2
import numpy as np

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "src"))

from path_traced_cloth import holes_as_seen  # noqa: E402

from ironlace.evidence.errors import IronlaceError  # noqa: E402
from ironlace.photographs.scale_strip import frame_sheet, marker_cells  # noqa: E402
from ironlace.running.seam.balance_analysis import balance_answer, balance_of  # noqa: E402
from ironlace.running.seam.bearing import Origin  # noqa: E402
from ironlace.running.seam.seam_analysis import seam_found  # noqa: E402
from ironlace.running.seam.seam_told import seam_figures, seam_sentences  # noqa: E402

WIDE, HIGH = 52.0, 14.0
"""Cloth that shows, mm."""
BAND, MARKER = 10.0, 6.0
"""Paper of the frame and its markers, mm."""
PX_PER_MM = 30.0
DPI = 600.0
DOUBTS = ("Not reliable", "doubt", "unlike all the others", "two lengths", "may ", "not counted")
"""Words of doubt in the first three sentences."""

CALICO = {"weave": "plain", "yarn_mm": 0.3, "cloth": (0.72, 0.68, 0.58)}
SHEETING = {"weave": "plain", "yarn_mm": 0.2, "cloth": (0.75, 0.75, 0.72)}
DENIM = {"weave": "drill", "yarn_mm": 0.42, "cloth": (0.6, 0.6, 0.62), "cloth2": (0.06, 0.09, 0.2)}
SERGE = {"weave": "twill", "yarn_mm": 0.35, "cloth": (0.22, 0.23, 0.26)}
FELT = {"weave": "felt", "cloth": (0.45, 0.16, 0.12), "nap": 12000, "nap_long": 0.8}
LEATHER = {"weave": "leather", "cloth": (0.3, 0.16, 0.08)}
LINEN = {"weave": "plain", "yarn_mm": 0.5, "cloth": (0.55, 0.48, 0.36), "slub": 0.3}
FLANNEL = {"weave": "plain", "yarn_mm": 0.38, "cloth": (0.5, 0.52, 0.56), "nap": 15000}

BLUE, RED, BLACK, WHITE = (0.03, 0.04, 0.2), (0.4, 0.02, 0.03), (0.02, 0.02, 0.02), (0.8, 0.8, 0.77)
OCHRE, GREEN = (0.5, 0.24, 0.05), (0.03, 0.16, 0.08)


def sewn(rng, **told):
    """A seam's holes, its stitches and its skips, and all that a picture of it takes by default."""
    step, cv = told.get("step") or rng.uniform(1.7, 2.9), told.get("cv", rng.uniform(0.015, 0.05))
    xs = [1.5 + rng.uniform(0, 0.6)]
    while (following := xs[-1] + step * (1 + cv * rng.normal())) < WIDE - 1.2:
        xs.append(following)
    xs = np.array(xs)
    row = HIGH / 2 + rng.uniform(-0.012, 0.012) * (xs - WIDE / 2) + 0.03 * rng.normal(size=len(xs))
    holes = np.stack([xs, row], 1)
    skip = set(told.get("skip", ()))
    kept = [i for i in range(len(xs)) if i not in skip]
    holes, singles = holes[kept], np.diff(kept)
    count = len(holes)
    yarn = told.get("yarn_mm", 0.3)
    thick = told.get("thick_mm", max(1.0, 3.0 * yarn))
    lock = told.get("lock", 0.5) + told.get("scatter", 0.08) * rng.normal(size=count)
    loops = np.zeros(count - 1)
    if told.get("loops"):
        loops = np.where(rng.random(count - 1) < told["loops"], rng.uniform(0.2, 0.7, count - 1), 0)
    made = {
        "weave": "plain", "yarn_mm": 0.3, "slub": 0.08, "yarn_shade": 0.05,
        "cloth2": told.get("cloth", (0.7, 0.66, 0.58)), "nap": 0, "nap_long": 0.6,
        "wrinkle_mm": 0.08, "pucker_mm": 0.06, "pucker_long": step * rng.uniform(0.9, 3.0),
        "dip_mm": rng.uniform(0.05, 0.16), "hole_mm": rng.uniform(0.18, 0.28),
        "dive_mm": rng.uniform(0.3, 0.9),
        "thread_mm": rng.uniform(0.24, 0.32), "thread2_mm": 0.26, "colour": BLUE, "colour2": RED,
        "ply_mm": rng.uniform(0.5, 0.8), "plies": int(rng.choice([2, 3])), "hand": 1,
        "gloss": rng.uniform(0, 0.7), "lean": rng.uniform(-0.2, 0.9), "slack": 1.0, "hairs": 2,
        "lint": 0, "lint_colour": (0.8, 0.8, 0.8), "thick_mm": thick, "samples": 8,
    } | told  # fmt: skip
    made |= {
        "holes": holes, "singles": singles, "stitches": [(i, i + 1) for i in range(count - 1)],
        "locks_mm": -thick * lock, "lock_shares": lock, "loop_mm": loops,
    }  # fmt: skip
    return made


def lamp(at, half=(20.0, 20.0), bright=1.0, tint=(1.0, 0.97, 0.9), shape="disk"):
    return {"at": at, "aim": [0.0, 0.0, 0.0], "half_mm": half, "bright": bright, "tint": tint,
            "shape": shape}  # fmt: skip


def lit(rng, kind, far=300.0):
    """Lamps of a kind and what comes from the room; the seam's middle is the origin."""
    turn = rng.uniform(0, 2 * np.pi)
    if kind == "window":
        at = [600 * np.cos(turn), 600 * np.sin(turn), rng.uniform(350, 600)]
        return [lamp(at, (250.0, 350.0), 1.0, (0.9, 0.96, 1.0), "rectangle")], 0.08
    if kind in ("along", "across"):
        turn = rng.choice([0, np.pi]) + rng.normal(0, 0.15) + (np.pi / 2 if kind == "across" else 0)
        up = np.radians(rng.uniform(12, 25))
        at = 260 * np.array([np.cos(turn) * np.cos(up), np.sin(turn) * np.cos(up), np.sin(up)])
        return [lamp(list(at), (12.0, 12.0))], 0.012
    if kind == "flash":
        return [lamp([9.0, 12.0, far], (3.0, 3.0))], 0.02
    if kind == "two":
        up = rng.uniform(180, 260)
        return [lamp([s * 250 * np.cos(turn), s * 250 * np.sin(turn), up], (45.0, 45.0), b)
                for s, b in ((1, 1.0), (-1, rng.uniform(0.5, 1.0)))], 0.03  # fmt: skip
    if kind == "scanner":
        # the lamp travels with the head: every line is lit from one side, long across the travel
        way = rng.choice([-1, 1])
        at = [0.0, way * 1200.0, 1500.0] if rng.random() < 0.5 else [way * 1200.0, 0.0, 1500.0]
        half = (1400.0, 60.0) if at[0] == 0.0 else (60.0, 1400.0)
        return [lamp(at, half, 1.0, (1.0, 1.0, 1.0), "rectangle")], 0.06
    raise ValueError(kind)


def papers(folder):
    """The frame's four bands as pictures, and its layout."""
    w, h = WIDE + 2 * BAND, HIGH + 2 * BAND
    layout = frame_sheet("frame", w, h, band_mm=BAND, marker_mm=MARKER, first_id=0).layout
    k = 40.0
    sheet = np.full((round(h * k), round(w * k)), 255, np.uint8)
    for marker in layout.markers:
        left, top = np.round(np.array(marker.corners_mm[0]) * k).astype(int)
        right, bottom = np.round(np.array(marker.corners_mm[2]) * k).astype(int)
        cells = np.where(marker_cells(marker.dictionary, marker.id), 0, 255).astype(np.uint8)
        sheet[top:bottom, left:right] = cv2.resize(
            cells, (right - left, bottom - top), interpolation=cv2.INTER_NEAREST
        )
    bands = ((0, 0, w, BAND), (0, h - BAND, w, h), (0, BAND, BAND, h - BAND),
             (w - BAND, BAND, w, h - BAND))  # fmt: skip
    told = []
    for n, (left, top, right, bottom) in enumerate(bands):
        name = folder / f"paper{n}.png"
        a, b, c, d = (round(v * k) for v in (left, top, right, bottom))
        cv2.imwrite(str(name), sheet[b:d, a:c])
        told.append([left - BAND, top - BAND, right - BAND, bottom - BAND, str(name)])
    return told, layout


def photographed(rng, made, light, folder, **cam):
    """Lay the frame about it and take it with a phone."""
    told, layout = papers(folder)
    far = cam.pop("far", rng.uniform(220, 340))
    lean, way = np.radians(cam.pop("tilt", rng.uniform(0, 12))), rng.uniform(0, 2 * np.pi)
    turn = rng.normal(0, 0.05)
    lamps, room = lit(rng, light, far)
    middle = np.array([WIDE / 2, -HIGH / 2, 0.0])
    at = far * np.array([np.sin(lean) * np.cos(way), np.sin(lean) * np.sin(way), np.cos(lean)])
    for one in lamps:
        one["at"] = [float(v) for v in np.array(one["at"]) + middle]
        one["aim"] = [float(v) for v in middle]
    wide = (WIDE + 2 * BAND) * 1.12
    px = round(wide * PX_PER_MM), round((HIGH + 2 * BAND) * 1.3 * PX_PER_MM)
    camera = {
        "kind": "phone", "px": px, "wide_mm": wide, "at": at + middle, "aim": middle,
        "up": [np.sin(turn), np.cos(turn), 0.0], "aperture_mm": 1.2, "focus_off_mm": 0.0,
        "bend": rng.uniform(-0.02, 0.02), "vignette": 0.07, "noise": 1.0, "exposed": 92,
        "sharpen": rng.uniform(0.2, 0.9), "jpeg": int(rng.integers(86, 96)),
    } | cam  # fmt: skip
    return made | {"camera": camera, "lamps": lamps, "room": room, "papers": told,
                   "paper_z": 0.3, "cloth_mm": (WIDE, HIGH), "name": "jpg",
                   }, layout  # fmt: skip


def scanned(rng, made, **cam):
    """Scan it at 600 dots to the inch."""
    lamps, room = lit(rng, "scanner")
    middle = np.array([WIDE / 2, -HIGH / 2, 0.0])
    for one in lamps:
        one["at"] = [float(v) for v in np.array(one["at"]) + middle]
        one["aim"] = [float(v) for v in middle]
    k = DPI / 25.4
    shown = WIDE - 0.8, HIGH - 4.0
    camera = {
        "kind": "scanner", "px": (round(shown[0] * k), round(shown[1] * k)),
        "wide_mm": round(shown[0] * k) / k,
        "at": middle + np.array([0.0, 0.0, 100.0]), "aim": middle,
        "up": [0.0, 1.0, 0.0], "bend": 0.0, "vignette": 0.0, "noise": 0.6, "exposed": 97,
        "sharpen": 0.0, "jpeg": 95,
    } | cam  # fmt: skip
    flat = {"wrinkle_mm": 0.02, "pucker_mm": 0.02}  # under glass with a weight on it
    return made | flat | {"camera": camera, "lamps": lamps, "room": room, "papers": [],
                          "paper_z": 0.0, "cloth_mm": (WIDE, HIGH), "name": "png",
                          }, None  # fmt: skip


def calico_window(rng, folder):
    """The yardstick: calico, blue thread, light from a window."""
    return photographed(rng, sewn(rng, **CALICO), "window", folder)


def calico_scan(rng, _folder):
    """The same under a scanner."""
    return scanned(rng, sewn(rng, **CALICO))


def sheeting_along(rng, folder):
    """Fine sheeting, a torch along the seam."""
    return photographed(rng, sewn(rng, **SHEETING, colour=BLACK), "along", folder)


def calico_across(rng, folder):
    """Calico, a torch across the seam: the thread throws its shadow."""
    return photographed(rng, sewn(rng, **CALICO, colour=GREEN), "across", folder)


def denim_window(rng, folder):
    """Denim with thick ochre thread."""
    made = sewn(rng, **DENIM, colour=OCHRE, thread_mm=0.42, step=rng.uniform(2.4, 3.4))
    return photographed(rng, made, "window", folder)


def leather_flash(rng, folder):
    """Leather with pores, white thread, the phone's flash."""
    made = sewn(rng, **LEATHER, colour=WHITE, thread_mm=0.38, step=rng.uniform(2.4, 3.4))
    return photographed(rng, made, "flash", folder)


def felt_two(rng, folder):
    """Red felt, black thread, two lamps."""
    return photographed(rng, sewn(rng, **FELT, colour=BLACK), "two", folder)


def tone_scan(rng, _folder):
    """Thread of the cloth's colour, scanned."""
    tone = np.array(CALICO["cloth"]) * rng.uniform(0.85, 1.1)
    return scanned(rng, sewn(rng, **CALICO, colour=tone))


def skipped_window(rng, folder):
    """Skips."""
    skip = rng.choice(np.arange(3, 15), 3, replace=False)
    return photographed(rng, sewn(rng, **CALICO, skip=[int(s) for s in skip]), "window", folder)


def loops_scan(rng, _folder):
    """The lock at the upper side: the lower thread peeps up as a dot."""
    return scanned(rng, sewn(rng, **CALICO, lock=0.0, scatter=0.15))


def serge_scan(rng, _folder):
    """Grey twill, thin white thread."""
    return scanned(rng, sewn(rng, **SERGE, colour=WHITE, thread_mm=0.2))


def leaning_window(rng, folder):
    """Stitches that lie slantwise, thick thread."""
    return photographed(rng, sewn(rng, **SHEETING, lean=1.3, thread_mm=0.36), "window", folder)


def loose_scan(rng, _folder):
    """Every fourth stitch stands off in a loose loop."""
    return scanned(rng, sewn(rng, **CALICO, loops=0.25))


def puckered_window(rng, folder):
    """Puckers and wrinkles."""
    made = sewn(rng, **SHEETING, pucker_mm=0.3, wrinkle_mm=0.3, dip_mm=0.25)
    return photographed(rng, made, "window", folder)


LOOKED = (
    *(calico_window, calico_scan, sheeting_along, calico_across, denim_window, leather_flash),
    *(felt_two, tone_scan, skipped_window, loops_scan, serge_scan, leaning_window, loose_scan),
    *(puckered_window,),
)


def linen_two(rng, folder):
    """Coarse linen with slubs, two lamps."""
    return photographed(rng, sewn(rng, **LINEN, colour=RED), "two", folder)


def flannel_along(rng, folder):
    """Flannel with its nap, a torch along the seam."""
    return photographed(rng, sewn(rng, **FLANNEL, colour=WHITE), "along", folder)


def calico_flash(rng, folder):
    """The phone's flash on calico, a red thread."""
    return photographed(rng, sewn(rng, **CALICO, colour=RED), "flash", folder)


def leather_scan(rng, _folder):
    """Leather under a scanner."""
    return scanned(rng, sewn(rng, **LEATHER, colour=OCHRE, thread_mm=0.36))


def linty_two(rng, folder):
    """Fluff lies about."""
    return photographed(rng, sewn(rng, **SHEETING, lint=40), "two", folder)


def uneven_scan(rng, _folder):
    """An uneven feed, fine thread."""
    return scanned(rng, sewn(rng, **SHEETING, cv=0.1, thread_mm=0.22, colour=GREEN))


HELD = (linen_two, flannel_along, calico_flash, leather_scan, linty_two, uneven_scan)


CLOSED = 0.55
"""Radius of a hole that has closed about its thread, as a share of the thread's width: the needle
is gone and the cloth relaxed, and two legs pressed together take a little more than one."""


def both_sides(rng, locks, scatter, *, closed=False, **told):
    """Both sides of one seam under a scanner, and where its threads lock."""
    upper = sewn(rng, lock=locks, scatter=scatter, **told)
    if closed:
        upper["hole_mm"] = CLOSED * max(upper["thread_mm"], upper["thread2_mm"])
    count, thick = len(upper["holes"]), upper["thick_mm"]
    under = upper | {
        "holes": (upper["holes"] * (-1, 1) + (WIDE, 0))[::-1],
        "singles": upper["singles"][::-1],
        "locks_mm": -thick * (1 - upper["lock_shares"][::-1]),
        "colour": upper["colour2"], "colour2": upper["colour"],
        "thread_mm": upper["thread2_mm"], "thread2_mm": upper["thread_mm"],
    }  # fmt: skip
    assert count == len(under["locks_mm"])
    return scanned(rng, upper)[0], scanned(rng, under)[0]


CLOTHS = {"calico": CALICO, "sheeting": SHEETING, "felt": FELT | {"cloth": (0.6, 0.6, 0.56)},
          "linen": LINEN}  # fmt: skip


def balances(asked, names):
    """The lock told from both sides against the lock that was drawn."""
    for name in names:
        for seed in map(int, asked.seeds.split(",")):
            rng = np.random.default_rng([seed, 77, *name.encode()])
            lock, scatter = rng.uniform(-0.1, 1.1), rng.uniform(0.06, 0.3)
            step, closed = rng.uniform(1.7, 2.3), asked.holes == "closed"
            sides = both_sides(rng, lock, scatter, closed=closed, step=step, **CLOTHS[name])
            ending, shown = "_closed" if closed else "", []
            try:
                for made, side in zip(sides, ("upper", "under"), strict=True):
                    made["seed"] = seed
                    pixels = rendered(
                        made, asked.traced, asked.keep, f"{name}_{side}_{seed}{ending}"
                    )
                    shown.append(seam_found(pixels, Origin(DPI), dpi=DPI, layout=None))
                found = balance_of(*shown)
            except IronlaceError as error:
                print(f"{name} {seed} lock {lock:.2f} refused: {str(error)[:150]}", flush=True)
                continue
            of, said = found.balance, balance_answer(found).sentences
            inner = sides[0]["lock_shares"][1:-1]
            low, value, high = of.lock
            print(
                f"{name} {seed} lock {lock:.2f} (drawn {inner.mean():.2f} +- {inner.std():.2f}): "
                f"told {value:.2f} ({low:.2f} to {high:.2f}) {'' if low <= lock <= high else 'OUT'}"
                f" above {of.upper.showing}/{of.upper.entries} of {(inner < 0).sum()}, below "
                f"{of.under.showing}/{of.under.entries} of {(inner > 1).sum()} | {said[0][:110]}",
                flush=True,
            )


def plain(value):
    """What JSON can keep."""
    if isinstance(value, np.ndarray):
        return value.tolist()
    if isinstance(value, np.generic):
        return value.item()
    raise TypeError(type(value))


def rendered(made, traced, folder, name):
    """The picture, traced if it does not lie there yet."""
    picture = folder / f"{name}.{made['name']}"
    if not picture.exists():
        spec = folder / f"{name}.json"
        spec.write_text(json.dumps(made, default=plain))
        call = [traced, str(ROOT / "bench" / "path_traced_seam.py"), str(spec), str(picture)]
        ran = subprocess.run(call, check=False, capture_output=True, text=True)
        if ran.returncode:
            said = ran.stderr[-2000:] or f"it ended with {ran.returncode}"
            raise SystemExit(f"The path tracer made no {picture.name}: {said}")
    return cv2.cvtColor(cv2.imread(str(picture)), cv2.COLOR_BGR2RGB)


def paired(made, got, layout):
    """Nearest told end to each true hole along the seam: its number and how far, mm."""
    along = got.places_mm[:, 0] - (BAND if layout else 0.0)
    if layout is None:
        along = along + 0.4  # the scan begins within the cloth
    far = np.abs(holes_as_seen(made)[:, None] - along[None])
    return far.argmin(axis=1), far.min(axis=1), along


def compared(made, found, layout):
    """What is wrong of the figures told."""
    got, told = found.measured, seam_figures(found.measured, found.judged)
    lengths = np.hypot(*np.diff(made["holes"], axis=0).T)
    single = lengths[made["singles"] == 1]
    wrong = []
    low, mean, high = told["mean_length_mm"]
    true = float(single.mean())
    half = 0.5 * (high - low) if low is not None else 0.0
    if abs(mean - true) > max(2 * half, 0.005 * true):
        wrong.append(f"mean {mean:.3f} (half {half:.3f}) for {true:.3f}")
    is_cv = float(single.std(ddof=1)) / true
    cv = told["cv"]
    if cv[1] is not None:
        side = cv[2] - cv[1] if is_cv > cv[1] else cv[1] - cv[0]
        if abs(cv[1] - is_cv) > max(2 * side, 0.01):
            wrong.append(f"cv {cv[1]:.3f} for {is_cv:.3f}")
    if abs(told["count"] - int(made["singles"].sum())) > 1:
        wrong.append(f"count {told['count']} for {int(made['singles'].sum())}")
    if abs(told["skipped"] - int((made["singles"] - 1).sum())) > 1:
        wrong.append(f"skipped {told['skipped']} for {int((made['singles'] - 1).sum())}")
    nearest, far, along = paired(made, got, layout)
    if (far > 0.15).mean() > 0.1:
        wrong.append(f"holes {(far > 0.15).sum()} of {len(far)} aside")
    sure, held = 0, 0
    for i, (a, b) in enumerate(itertools.pairwise(nearest)):
        if abs(b - a) != 1 or max(far[i], far[i + 1]) > 0.4:
            continue
        at = min(a, b)
        if got.doubtful[at] or got.doubtful[at + 1] or got.unseen[at]:
            continue
        sure += 1
        held += abs(got.lengths_mm[at] - lengths[i]) <= got.half_mm[at]
    if sure and held < 0.75 * sure:
        wrong.append(f"single lengths held {held} of {sure}")
    aside = float(np.median(along[nearest] - holes_as_seen(made)))
    facts = (
        f"mean {mean:.3f}/{true:.3f} cv {cv[1] if cv[1] is None else round(cv[1], 3)}/{is_cv:.3f} "
        f"n {told['count']}/{int(made['singles'].sum())} "
        f"off {np.median(far):.3f} ({aside:+.3f}) held {held}/{sure} w {got.thread.width_mm:.2f}"
    )
    return wrong, facts


def main():
    words = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    words.add_argument("--traced", required=True, help="the Python that has Mitsuba")
    words.add_argument("--families", default="looked", help="names, or looked, held, all")
    words.add_argument("--seeds", default="1", help="seeds, by commas")
    words.add_argument("--balance", default="", help=f"cloths for both sides: {list(CLOTHS)}")
    words.add_argument("--holes", choices=("open", "closed"), default="open")
    words.add_argument("--keep", type=Path, required=True, help="where the pictures lie")
    asked = words.parse_args()
    os.environ.setdefault("DRJIT_LIBLLVM_PATH", "/usr/lib/x86_64-linux-gnu/libLLVM-19.so")
    known = {f.__name__: f for f in (*LOOKED, *HELD)}
    groups = {"looked": LOOKED, "held": HELD, "all": (*LOOKED, *HELD)}
    names = [f.__name__ for f in groups.get(asked.families, ())] or asked.families.split(",")
    asked.keep.mkdir(parents=True, exist_ok=True)
    if asked.balance:
        balances(asked, asked.balance.split(","))
        return
    sums: Counter = Counter()
    for name in names:
        for seed in map(int, asked.seeds.split(",")):
            rng = np.random.default_rng([seed, *name.encode()])
            made, layout = known[name](rng, asked.keep)
            made["seed"] = seed
            pixels = rendered(made, asked.traced, asked.keep, f"{name}_{seed}")
            dpi = None if layout else DPI
            try:
                found = seam_found(pixels, Origin(dpi), dpi=dpi, layout=layout)
            except IronlaceError as error:
                sums["refused"] += 1
                print(f"{name:16s} {seed} refused {str(error)[:120]}", flush=True)
                continue
            said = list(seam_sentences(found.measured, found.judged))
            doubts = [s for s in said[:3] if any(word in s for word in DOUBTS)]
            wrong, facts = compared(made, found, layout)
            word = ("told" if doubts else "SILENT") if wrong else ("doubted" if doubts else "right")
            sums[word] += 1
            why = f" | {doubts[0][:150]}" if doubts else ""
            print(f"{name:16s} {seed} {word:8s} {facts} {'; '.join(wrong)}{why}", flush=True)
    print(dict(sums))


if __name__ == "__main__":
    main()
