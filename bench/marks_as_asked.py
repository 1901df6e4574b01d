"""The table that was set for plates: every row measured through the public commands, in one run.

    python bench/marks_as_asked.py make FOLDER --seed 7401 --plates 10 [--wears 0.8] [--seconds 800]
    python bench/marks_as_asked.py read FOLDER [--name now] [--seconds 800]
    python bench/marks_as_asked.py told FOLDER [--name now] [--of 12]

`make` strikes plates in faces that nothing was tuned on, photographs them (24 JPEG of quality 92 as
the camera's own), and works out reliefs of all, of 12 and of 6 of them by `marks relief` with the
balls' diameter alone. `read` reads each as `marks read` does, the shapes struck and the base rate
given, and neither given; `--name` keeps readings apart, such as before a change and after it.
`told` prints the table, 90 % intervals by drawing plates anew. What is there is not made again.
The base rate is 0.5, 0.25 or 0.15 by turns; few photographs are taken of every other seed.

With `--traced PYTHON` (a Python that has Mitsuba 3, see demo/README.md) a path tracer takes the
photographs instead (`path_traced_plate.py`): metal without a matt part, light from wall to wall,
balls that mirror the plate, a near camera. With `--tuning` the faces are those that settings may be
fitted on (`marks_learning.py depths`).
"""

from __future__ import annotations

import argparse
import json
import os
import pickle
import subprocess
import sys
import tempfile
import time
from dataclasses import asdict
from pathlib import Path
from types import SimpleNamespace

import numpy as np
from PIL import Image

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests" / "truth"), str(ROOT / "src"), str(ROOT / "bench")]

from marks_learning import WEARS, pits  # noqa: E402
from marks_reading import (  # noqa: E402
    ROWS,
    auc,
    by_correlation,
    digits_gap,
    flat,
    told_of,
    top_correlation,
    tops,
    way_of,
)
from marks_relief import RELIEF, row_of  # noqa: E402

from ironlace.cli import main as ironlace  # noqa: E402
from ironlace.marks.reading.places import read_places  # noqa: E402
from ironlace.workshop.marks.reading import Asked as Wanted  # noqa: E402
from ironlace.workshop.marks.reading import read_folder  # noqa: E402
from ironlace.workshop.marks.reading_files import read_relief  # noqa: E402
from struck_plates import (  # noqa: E402
    BALL_MM,
    TEST_FACES,
    TUNING_FACES,
    Asked,
    Shots,
    _noise,
    _torches,
    photographs,
    struck_plate,
)

COUNTS = (24, 12, 6)
RATES = (0.5, 0.5, 0.25, 0.15)


def command(*words):
    """A public command, its words on the screen left out."""
    try:
        ironlace([str(w) for w in words])
    except SystemExit as ended:
        if ended.code:
            raise RuntimeError(f"{words[:2]} ended with {ended.code}") from ended


def found_by(folder):
    """What a relief's folder tells, in the shape that `row_of` asks for."""
    told = json.loads((folder / "relief.json").read_text())
    lights = []
    for frame in told["frames"]:
        place = frame.get("light_mm")
        far = float(np.linalg.norm(place)) if place else np.nan
        lights.append(
            SimpleNamespace(direction=np.array(place) / far, distance=far) if place else None
        )
    found = SimpleNamespace(
        balls=[SimpleNamespace(x=b["x"], y=b["y"], r=b["r_px"]) for b in told["balls"]],
        moves=[
            SimpleNamespace(shift_px=f["shift_px"], turn_rad=np.radians(f["turn_deg"]))
            for f in told["frames"]
        ],
        lights=lights,
    )
    normals = np.load(folder / "normals.npy")
    relief = SimpleNamespace(normals=normals, slope_gain=SimpleNamespace(**told["slope_gain"]))
    return found, relief, told


METALS = {
    "rubbed": (0.85, 0.42, 0.15),
    "bright": (1.0, 0.30, 0.05),
    "brown": (0.5, 0.60, 0.45),
}
"""Path-traced metals: how metallic, how rough, what share of it is crust."""


def traced(rng, plate, count, metal, python):
    """Photographs by the path tracer, in the shape of `photographs`."""
    s, shape = plate.mm_per_px, plate.height.shape
    balls = np.array(plate.balls_mm)
    at = np.round((np.array(shape)[::-1] - 1) / 2 + balls * [1, -1] / s).astype(int)
    under = [plate.height[y - 5 : y + 6, x - 5 : x + 6].max() for x, y in at]
    metallic, rough, share = METALS[metal]
    deep = np.clip(-(plate.height - np.median(plate.height)) / 0.06, 0, 1)
    torches = _torches(rng, count)
    shifts, turns = rng.uniform(-0.5, 0.5, (count, 2)), rng.normal(0, 0.01, count)
    gains = np.exp(rng.normal(0, 0.06, count))
    shifts[0], turns[0], gains[0] = 0, 0, 1
    far = rng.uniform(220, 450)
    with tempfile.TemporaryDirectory() as folder:
        source, to = Path(folder) / "scene.npz", Path(folder) / "frames.npz"
        np.savez(
            source, height=plate.height, mm_per_px=s, balls=balls, under=np.array(under),
            crust=np.clip(share + 0.25 * _noise(rng, shape, 1.5 / s) + 0.5 * deep, 0, 1),
            rough_by=0.06 * _noise(rng, shape, 1.0 / s), metallic=metallic, rough=rough,
            torches=torches, aims=rng.uniform(-8, 8, (count, 2)), shifts=shifts, turns=turns,
            gains=gains, camera_mm=far, room=rng.uniform(0.002, 0.02), follows=0.5,
            seed=rng.integers(2**31), samples=int(os.environ.get("SAMPLES", "32")),
        )  # fmt: skip
        tracer = ROOT / "bench" / "path_traced_plate.py"
        subprocess.run([python, tracer, source, to], check=True, stdout=subprocess.DEVNULL)
        kept = np.load(to)
        frames, bright = kept["frames"], kept["bright"]
    # a ball's outline in a near camera: of the cone that touches it
    height = far - np.array(under) - BALL_MM / 2
    wide = BALL_MM / 2 * far / np.sqrt(height**2 - (BALL_MM / 2) ** 2) / s
    seen = (np.array(shape)[::-1] - 1) / 2 + balls * [1, -1] * (far / height)[:, None] / s
    return Shots(
        tuple(frames), torches, shifts, turns, gains * bright / bright[0],
        np.ones(shape, np.float32), np.column_stack([seen, wide]),
    )  # fmt: skip


def made(out, seed, wear, counts, python, faces=TEST_FACES, way=""):
    rng = np.random.default_rng([seed, round(100 * wear)])
    size = float(rng.uniform(0.02, 0.025))
    looks = pits(rng)
    rate = RATES[seed % len(RATES)]
    face = faces[seed % len(faces)]
    asked = Asked(
        wear=wear, face=face, base_rate=rate, mm_per_px=size, wear_way=way, **looks
    )  # fmt: skip
    plate = struck_plate(rng, asked)
    metal = list(METALS)[seed % len(METALS)] if python else ""
    if python:
        shots = traced(rng, plate, max(COUNTS), metal, python)
    else:
        shots = photographs(rng, plate, max(COUNTS))
    out.mkdir(parents=True)
    (out / "places.csv").write_text(plate.places(rng))
    plate.write_shapes(out / "shapes")
    rows, told = {}, {}
    with tempfile.TemporaryDirectory() as kept:
        files = [Path(kept) / f"{k:02}.jpg" for k in range(len(shots.frames))]
        for file, frame in zip(files, shots.frames, strict=True):
            Image.fromarray(frame).save(file, quality=92)
        for count in counts if seed % 2 else counts[:1]:
            use = list(np.linspace(0, max(COUNTS), count, endpoint=False).astype(int))
            folder = out / f"relief{count}"
            command("marks", "relief", *(files[k] for k in use), "--out", folder, "--ball-mm", 6)
            found, relief, told[count] = found_by(folder)
            rows[count] = asdict(row_of(plate, shots, use, found, relief))
            np.save(folder / "normals.npy", relief.normals.astype(np.float16))
            (folder / "height.npy").unlink()
            (folder / "albedo.png").unlink()
    truth = {
        "seed": seed, "asked": plate.asked, "face": face, "wear": wear, "base_rate": rate,
        "texts": plate.texts(), "y": [d.glyph for d in plate.digits], "shapes": plate.shapes,
        "struck": [g.struck for g in plate.gaps], "pit": [g.pit for g in plate.gaps],
        "left": [g.left_mm for g in plate.gaps], "surface": metal or plate.surface,
        "way": way_of({"seed": seed, "asked": plate.asked}), "rows": rows,
        "notices": {k: one["notices"] for k, one in told.items()},
    }  # fmt: skip
    with (out / "truth.pickle").open("wb") as file:
        pickle.dump(truth, file)


def make(chosen):
    begun = time.perf_counter()
    for seed in range(chosen.seed, chosen.seed + chosen.plates):
        for wear in chosen.wears:
            out = chosen.folder / f"{seed}-{round(100 * wear):02}"
            if (out / "truth.pickle").exists():
                continue
            if time.perf_counter() - begun > chosen.seconds:
                print("more is left to make: run again")
                return
            one = time.perf_counter()
            faces = TUNING_FACES if chosen.tuning else TEST_FACES
            made(out, seed, wear, chosen.counts, chosen.traced, faces, chosen.way)
            print(out.name, f"{time.perf_counter() - one:.0f} s", flush=True)


def as_read(plate, truth, count):
    """Both readings of one relief."""
    folder = plate / f"relief{count}"
    told = {}
    given = Wanted(plate / "places.csv", plate / "shapes", truth["base_rate"])
    for name, asked in (("given", given), ("foreign", Wanted(plate / "places.csv"))):
        start = time.process_time()
        read = read_folder(folder, asked).read
        told[name] = told_of(read, truth["texts"])
        told[name] |= {"seconds": time.process_time() - start, "remarks": read.remarks}
    return told


def read(chosen):
    begun = time.perf_counter()
    for file in sorted(chosen.folder.glob("*/truth.pickle")):
        plate = file.parent
        truth = pickle.loads(file.read_bytes())
        if truth["wear"] not in chosen.wears:
            continue
        for folder in sorted(plate.glob("relief*")):
            count = int(folder.name.removeprefix("relief"))
            out = plate / f"read-{chosen.name}-{count}.pickle"
            if out.exists() or count not in chosen.counts:
                continue
            if time.perf_counter() - begun > chosen.seconds:
                print("more is left to read: run again")
                return
            found = as_read(plate, truth, count)
            if count == max(COUNTS):
                slopes = read_relief(folder).slopes
                shape = slopes.slopes.shape[1:]
                places = read_places((plate / "places.csv").read_text(), shape)
                found["correlation"] = by_correlation(slopes, places, truth["shapes"])
            out.write_bytes(pickle.dumps(found))
            print(out.parent.name, count, flush=True)


def kept_in(folder, name, count):
    """Truths and readings of all plates read so."""
    for file in sorted(folder.glob(f"*/read-{name}-{count}.pickle")):
        truth = pickle.loads((file.parent / "truth.pickle").read_bytes())
        yield truth | pickle.loads(file.read_bytes())


def drawn_again(plates, measure, rng):
    """A figure with its 90 % interval, plates drawn again."""
    again = [
        measure([plates[i] for i in rng.integers(0, len(plates), len(plates))]) for _ in range(200)
    ]
    low, high = np.nanquantile(again, [0.05, 0.95])
    return f"{measure(plates):.3g} ({low:.3g}-{high:.3g})"


def told(chosen):
    rng = np.random.default_rng(0)
    by = {}
    for one in kept_in(chosen.folder, chosen.name, chosen.of):
        by.setdefault(one["wear"], []).append(one)
    heads = sorted(by)
    print(f"| what | {' | '.join(f'{w:g} ({len(by[w])})' for w in heads)} |")
    print(f"|{' --- |' * (len(heads) + 1)}")
    if chosen.of == max(COUNTS):
        for name, of in RELIEF.items():
            cells = []
            for wear in heads:
                values = np.array([of(one["rows"]) for one in by[wear]])
                least, most = np.nanmin(values), np.nanmax(values)
                cells.append(f"{np.nanmean(values):.3g} ({least:.3g} to {most:.3g})")
            print(f"| {name} | {' | '.join(cells)} |")
    for name, measure in ROWS.items():
        if measure is top_correlation and chosen.of != max(COUNTS):
            continue
        cells = [drawn_again(by[wear], measure, rng) for wear in heads]
        print(f"| {name} | {' | '.join(cells)} |", flush=True)
    for wear in heads:
        for one in by[wear]:
            cells = []
            for name in ("given", "foreign"):
                p = [max(q.values()) for q in one[name]["p"]]
                cells.append(f"{np.mean(p):.2f}, {tops([one], name, 1):.2f}")
            lone = auc(flat([one], "given", "dots"), one["struck"])
            print(f"# {wear} {one['seed']} {one['face']} {one['way']} {one['base_rate']}:"
                  f" stated, right {' / '.join(cells)}; dots {lone:.2f}")  # fmt: skip
    every = [one for wear in heads for one in by[wear]]
    gaps = [f"{digits_gap(every, name):.3f}" for name in ("given", "foreign")]
    print("# all wears, gap of digits above chance, given and not:", *gaps)


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("what", choices=("make", "read", "told"))
    asked.add_argument("folder", type=Path)
    asked.add_argument("--seed", type=int, default=7401)
    asked.add_argument("--plates", type=int, default=10)
    asked.add_argument("--wears", type=float, nargs="+", default=WEARS)
    asked.add_argument("--counts", type=int, nargs="+", default=COUNTS)
    asked.add_argument("--traced", help="a Python with Mitsuba 3: the path tracer takes them")
    asked.add_argument("--tuning", action="store_true", help="faces that settings may be fitted on")
    asked.add_argument(
        "--way", default="", choices=("", "planed", "shrunk"), help="of wear, for all"
    )
    asked.add_argument("--name", default="now")
    asked.add_argument("--of", type=int, default=24)
    asked.add_argument("--seconds", type=float, default=1e9, help="begin no plate after so long")
    chosen = asked.parse_args()
    {"make": make, "read": read, "told": told}[chosen.what](chosen)


if __name__ == "__main__":
    main()
