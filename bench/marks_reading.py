"""How well marks are read, on made plates with faces that nothing was tuned on.

    python bench/marks_reading.py run OUT.npy --plates 2 --seed 201 --relief noisy
    python bench/marks_reading.py kept OUT.npy FOLDER --relief photographs12
    python bench/marks_reading.py told OUT.npy [OUT.npy ...]

`--relief true` reads the exact normals, `noisy` exact ones softened, made noisy (0.5 to 3 degrees)
and too steep or too flat by a factor, `photographs` the relief made of 24 photographs, `single`
one raking photograph. Each run draws the same number of plates for every wear; `--maker eaten`
takes plates of other habits (`tests/truth/eaten_plates.py`; noisy or single), `--fonts` with faces
of font files of your own. `kept` reads the plates that `marks_plates.py` keeps in a folder.
"""

from __future__ import annotations

import argparse
import pickle
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from scipy.stats import rankdata

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests" / "truth"), str(ROOT / "bench")]

from marks_learning import WEARS, pits, places_of, relief_of  # noqa: E402

import eaten_plates  # noqa: E402
import struck_plates  # noqa: E402
from eaten_plates import eaten_plate, one_photograph, seen_normals  # noqa: E402
from ironlace.marks.reading.known_shapes import shapes_from_pictures, windows_of  # noqa: E402
from ironlace.marks.reading.numeral_styles import GLYPHS, TALL  # noqa: E402
from ironlace.marks.reading.read_marks import read_marks  # noqa: E402
from ironlace.marks.reading.relief_slopes import (  # noqa: E402
    slopes_from_normals,
    slopes_from_photograph,
)
from ironlace.marks.reading.strikes import (  # noqa: E402
    PATCH,
    Blow,
    depth_left,
    placed,
    slopes_of,
)
from ironlace.marks.reading.strings import strings_in_play  # noqa: E402
from ironlace.photographs.linear_light import to_linear  # noqa: E402
from ironlace.workshop.marks.reading_files import learned, read_relief  # noqa: E402
from struck_plates import TEST_FACES, Asked, photographs, struck_plate  # noqa: E402


def slopes_for(rng, plate, how):
    """The plate as it is seen, and by what factor its depths are wrong (1 where not known)."""
    if how == "true":
        return slopes_from_normals(plate.normals(), plate.mm_per_px), 1.0
    if how == "noisy":
        normals, gain = relief_of(rng, plate)
        return slopes_from_normals(normals, plate.mm_per_px), gain
    if how == "single":
        shots = photographs(rng, plate, 8)
        high = np.degrees(np.arctan2(shots.light_mm[:, 2], np.hypot(*shots.light_mm[:, :2].T)))
        k = int(np.argmin(np.abs(high - 25)))
        x, y = shots.light_mm[k, :2]
        azimuth = float(np.degrees(np.arctan2(y, x)))
        light = to_linear(shots.frames[k])
        return slopes_from_photograph(light, azimuth, float(high[k]), plate.mm_per_px), 1.0
    return _photographed(rng, plate, int(how.removeprefix("photographs") or 24)), 1.0


def _photographed(rng, plate, count):
    from PIL import Image

    from ironlace.cli import main as ironlace

    with tempfile.TemporaryDirectory() as kept:
        folder = Path(kept)
        for k, frame in enumerate(photographs(rng, plate, count).frames):
            Image.fromarray(frame).save(folder / f"{k:02}.jpg", quality=95)
        files = [str(f) for f in sorted(folder.glob("*.jpg"))]
        try:
            ironlace(["marks", "relief", *files, "--out", str(folder / "relief"), "--ball-mm", "6"])
        except SystemExit as ended:
            if ended.code:
                raise
        return read_relief(folder / "relief").slopes


def one_eaten(seed, wear, how, base_rate):
    rng = np.random.default_rng([seed, round(100 * wear)])
    size = float(rng.uniform(0.02, 0.025))
    face = eaten_plates.FACES[seed % len(eaten_plates.FACES)]
    asked = Asked(wear=wear, face=face, base_rate=base_rate, mm_per_px=size, **pits(rng))
    plate = eaten_plate(rng, asked)
    if how == "single":
        azimuth, high = float(rng.uniform(0, 360)), float(rng.uniform(17, 33))
        light = to_linear(one_photograph(rng, plate, azimuth, high))
        slopes = slopes_from_photograph(light, azimuth, high, size)
    else:
        slopes = slopes_from_normals(seen_normals(rng, plate), size)
    return read_of(
        asked, plate.digits, plate.gaps, plate.texts(), plate.shapes, slopes,
        places_of(rng, plate), 1.0,
    )  # fmt: skip


def one(seed, wear, face, how, base_rate, many=(2, 9)):
    rng = np.random.default_rng([seed, round(100 * wear)])
    rows, per_row = many
    asked = Asked(
        wear=wear, face=face, base_rate=base_rate, rows=rows, per_row=per_row, **pits(rng)
    )
    plate = struck_plate(rng, asked)
    slopes, gain = slopes_for(rng, plate, how)
    return read_of(
        plate.asked, plate.digits, plate.gaps, plate.texts(), plate.shapes, slopes,
        places_of(rng, plate), gain,
    )  # fmt: skip


def one_kept(file, how):
    """A plate kept by `marks_plates.py`, by its relief of so many photographs or by one alone."""
    with file.open("rb") as held:
        kept = pickle.load(held)
    if how == "single":
        azimuth, high = kept["raking_from"]
        light = to_linear(kept["raking"])
        slopes = slopes_from_photograph(light, azimuth, high, kept["asked"].mm_per_px)
    else:
        normals, mm_per_px, _ = kept["reliefs"][int(how.removeprefix("photographs") or 24)]
        slopes = slopes_from_normals(normals.astype(np.float32), mm_per_px)
    return read_of(
        kept["asked"], kept["digits"], kept["gaps"], kept["texts"], kept["shapes"], slopes,
        kept["places"], 1.0,
    ) | {"way": kept["digits"] and way_of(kept)}  # fmt: skip


def way_of(kept):
    """Planed or shrunk, by the first draws of the plate's own generator."""
    rng = np.random.default_rng([kept["seed"], round(100 * kept["asked"].wear)])
    rng.uniform(0.02, 0.025)
    pits(rng)
    rng.choice(["rubbed", "crusted", "scratched"])
    return kept["asked"].wear_way or str(rng.choice(["planed", "shrunk"]))


def by_correlation(slopes, places, pictures):
    """Plain correlation of slopes with each shape as struck: no wear, no noise, 0.2 mm of shift."""
    shapes = shapes_from_pictures(pictures)
    templates = np.stack([
        slopes_of(placed(depth_left(shapes[g][0], Blow(2.5, 3.5, 0.0, planed=False, blur=0.6))))
        for g in GLYPHS
    ]).reshape(10, -1)  # fmt: skip
    templates /= np.linalg.norm(templates, axis=1, keepdims=True)
    told = []
    for d in (p for p in places if p.kind == "digit"):
        seen = windows_of(
            slopes.patch(d.x_px, d.y_px, d.height_px / TALL, (PATCH[0] + 8, PATCH[1] + 8))
        )
        size = np.maximum(np.linalg.norm(seen, axis=0), 1e-9)
        told.append(GLYPHS[int((templates @ seen / size).max(axis=1).argmax())])
    return told


def read_of(asked, digits, gaps, texts, pictures, slopes, places, gain):
    told = {"wear": asked.wear, "face": asked.face, "base_rate": asked.base_rate}
    told["y"] = [d.glyph for d in digits]
    told["struck"] = [g.struck for g in gaps]
    told["pit"] = [g.pit for g in gaps]
    told["left"] = [g.left_mm * gain for g in gaps]
    if slopes.along is None:
        told["correlation"] = by_correlation(slopes, places, pictures)
    for name, shapes, rate in (
        ("given", shapes_from_pictures(pictures), asked.base_rate),
        ("foreign", None, None),
    ):
        start = time.process_time()
        read = read_marks(
            slopes, places, learned(), np.random.default_rng(1), shapes=shapes, base_rate=rate
        )
        told[name] = told_of(read, texts) | {"seconds": time.process_time() - start}
    return told


def told_of(read, texts):
    """What a reading tells, and whether its strings hold what was struck."""
    return {
        "p": [d.p for d in read.digits],
        "dots": [g.p_struck for g in read.gaps],
        "depth": [(g.depth_mm.value, g.depth_mm.low, g.depth_mm.high) for g in read.gaps],
        "outside": read.plate.outside_tuning,
        "wear": (read.plate.wear.value, read.plate.wear.low, read.plate.wear.high),
        "held": [
            any(h.text == text for h in row.hypotheses)
            for row, text in zip(read.strings, texts, strict=True)
        ],
        "listed": [1.0 - row.rest_p for row in read.strings],
        "play": [
            strings_in_play(read.rows[row], np.random.default_rng(row)) for row in range(len(texts))
        ],
    }


# --- what is told -------------------------------------------------------------------------------


def auc(score, y):
    score, y = np.asarray(score), np.asarray(y, bool)
    n, m = y.sum(), (~y).sum()
    if not n or not m:
        return np.nan
    return (rankdata(score)[y].sum() - n * (n + 1) / 2) / (n * m)


def gap(p, y, bins=5):
    order = np.argsort(p, kind="stable")
    parts = np.array_split(order, bins)
    return float(np.mean([abs(np.mean(p[k]) - np.mean(y[k])) for k in parts]))


def gap_above_chance(p, y):
    """Gap between stated and true, less what it would be on average were the stated true."""
    p, y = np.asarray(p, float), np.asarray(y, float)
    rng = np.random.default_rng(0)
    chance = np.mean([gap(p, rng.uniform(size=len(p)) < p) for _ in range(60)])
    return gap(p, y) - chance


def flat(plates, *path):
    out = []
    for plate in plates:
        value = plate
        for key in path:
            value = value[key]
        out += list(value)
    return out


def tops(plates, name, count):
    right = []
    for plate in plates:
        for p, y in zip(plate[name]["p"], plate["y"], strict=True):
            right.append(y in sorted(p, key=p.get)[-count:])
    return float(np.mean(right))


def worst_face(plates):
    faces = {p["face"] for p in plates}
    return min(tops([p for p in plates if p["face"] == f], "foreign", 1) for f in faces)


def digits_gap(plates, name):
    p = [max(one.values()) for one in flat(plates, name, "p")]
    y = [
        max(one, key=one.get) == t
        for one, t in zip(flat(plates, name, "p"), flat(plates, "y"), strict=True)
    ]
    return gap_above_chance(p, y)


def sure_and_wrong(plates, name):
    both = zip(flat(plates, name, "p"), flat(plates, "y"), strict=True)
    return float(np.mean([max(p.values()) > 0.9 and max(p, key=p.get) != y for p, y in both]))


def against_pits(plates, name):
    keep = [s or pit for s, pit in zip(flat(plates, "struck"), flat(plates, "pit"), strict=True)]
    dots, y = np.array(flat(plates, name, "dots")), np.array(flat(plates, "struck"))
    return auc(dots[keep], y[keep])


def wrong(plates, name):
    p, y = np.array(flat(plates, name, "dots")), np.array(flat(plates, "struck"), bool)
    return float((((p > 0.9) & ~y) | ((p < 0.05) & y)).mean())


def depth_error(plates):
    left = np.array(flat(plates, "left"))
    value = np.array(flat(plates, "given", "depth"))[:, 0]
    return float(np.median(np.abs(value[left > 0] / left[left > 0] - 1)))


def depth_held(plates):
    left = np.array(flat(plates, "left"))
    _, low, high = np.array(flat(plates, "given", "depth")).T
    return float(((low <= left) & (left <= high))[left > 0].mean())


def top_correlation(plates):
    if any("correlation" not in p for p in plates):
        return np.nan
    return float(np.mean([np.mean(np.array(p["correlation"]) == p["y"]) for p in plates]))


ROWS = {
    "digits, plain correlation with the shapes": top_correlation,
    "digits, shapes given, top-1": lambda q: tops(q, "given", 1),
    "digits, shapes not given, top-1": lambda q: tops(q, "foreign", 1),
    "the worst face": worst_face,
    "digits, shapes not given, top-2": lambda q: tops(q, "foreign", 2),
    "digits, gap above chance, given": lambda q: digits_gap(q, "given"),
    "digits, gap above chance, not given": lambda q: digits_gap(q, "foreign"),
    "digits, over 0.9 and wrong, given": lambda q: sure_and_wrong(q, "given"),
    "digits, over 0.9 and wrong, not given": lambda q: sure_and_wrong(q, "foreign"),
    "dots, AUC, base rate given": lambda q: auc(flat(q, "given", "dots"), flat(q, "struck")),
    "dots, AUC against pits in gaps": lambda q: against_pits(q, "given"),
    "dots, gap above chance, base rate given": lambda q: gap_above_chance(
        flat(q, "given", "dots"), flat(q, "struck")
    ),
    "dots, gap above chance, not given": lambda q: gap_above_chance(
        flat(q, "foreign", "dots"), flat(q, "struck")
    ),
    "dots, over 0.9 or under 0.05 and wrong": lambda q: wrong(q, "given"),
    "the same, base rate not given": lambda q: wrong(q, "foreign"),
    "depth left of a dot, median error": depth_error,
    "depth left, inside its interval": depth_held,
    "strings, truth in the 95 % set, given": lambda q: np.mean(flat(q, "given", "held")),
    "strings, truth in the 95 % set, not given": lambda q: np.mean(flat(q, "foreign", "held")),
    "strings, share that the lists hold as told, given": lambda q: np.mean(
        flat(q, "given", "listed")
    ),
    "strings in play, given, median": lambda q: np.median(flat(q, "given", "play")),
    "outside tuning, mean": lambda q: np.mean([p["given"]["outside"] for p in q]),
    "wear inside its interval": lambda q: np.mean(
        [p["given"]["wear"][1] <= p["wear"] <= p["given"]["wear"][2] for p in q]
    ),
}


def told(files):
    plates = [one for f in files for one in np.load(f, allow_pickle=True).tolist()]
    rng = np.random.default_rng(0)
    heads = [f"{w:g}" for w in WEARS]
    print(f"{len(plates)} plates\n\n| what | {' | '.join(heads)} |\n|{' --- |' * (len(heads) + 1)}")
    for p in plates:
        if "way" in p:
            tell = [f"{tops([p], name, 1):.2f}" for name in ("given", "foreign")]
            print(f"# {p['wear']} {p['face']} {p['way']}: {top_correlation([p]):.2f}", *tell)
    for name, measure in ROWS.items():
        cells = []
        for wear in WEARS:
            here = [p for p in plates if p["wear"] == wear]
            if not here:
                cells.append("")
                continue
            drawn = [
                measure([here[i] for i in rng.integers(0, len(here), len(here))]) for _ in range(60)
            ]
            low, high = np.nanquantile(drawn, [0.05, 0.95])
            cells.append(f"{measure(here):.3g} ({low:.3g}-{high:.3g})")
        print(f"| {name} | {' | '.join(cells)} |", flush=True)


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("what", choices=("run", "kept", "told"))
    asked.add_argument("files", type=Path, nargs="+")
    asked.add_argument("--plates", type=int, default=2)
    asked.add_argument("--seed", type=int, default=201)
    asked.add_argument("--relief", default="noisy")
    asked.add_argument("--base-rate", type=float, default=0.5)
    asked.add_argument("--wears", type=float, nargs="+", default=WEARS)
    asked.add_argument("--maker", choices=("struck", "eaten"), default="struck")
    asked.add_argument("--plate-mm", type=float, nargs=2, help="smaller plates are made sooner")
    asked.add_argument("--many", type=int, nargs=2, default=(2, 9), help="rows, digits in a row")
    asked.add_argument("--seconds", type=float, default=1e9, help="begin no plate after so long")
    asked.add_argument("--fonts", nargs="+", help="files of faces that the other maker strikes")
    given = asked.parse_args()
    if given.fonts:
        eaten_plates._FILES.update({Path(f).stem: (f, 1.0) for f in given.fonts})
        eaten_plates.FACES = tuple(Path(f).stem for f in given.fonts)
    if given.plate_mm:
        struck_plates.PLATE_MM = tuple(given.plate_mm)
    if given.what == "told":
        told(given.files)
        return
    found = []
    if given.what == "kept":
        out, folder = given.files
        ends = tuple(f"-{round(100 * w):02}.pickle" for w in given.wears)
        for file in sorted(f for f in folder.glob("*.pickle") if f.name.endswith(ends)):
            found.append(one_kept(file, given.relief))
            np.save(out, np.array(found, dtype=object), allow_pickle=True)
        return
    begun, longest = time.perf_counter(), 0.0
    for seed in range(given.seed, given.seed + given.plates):
        start = time.perf_counter()
        if start - begun + longest > given.seconds:
            print(f"begin again with seed {seed}")
            return
        face = TEST_FACES[seed % len(TEST_FACES)]
        for wear in given.wears:
            if given.maker == "eaten":
                found.append(one_eaten(seed, wear, given.relief, given.base_rate))
            else:
                found.append(one(seed, wear, face, given.relief, given.base_rate, given.many))
        np.save(given.files[0], np.array(found, dtype=object), allow_pickle=True)
        longest = max(longest, time.perf_counter() - start)


if __name__ == "__main__":
    main()
