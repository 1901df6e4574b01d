"""Plates photographed once and kept, to be read by `marks_reading.py` and told of here.

    python bench/marks_plates.py keep FOLDER --seed 2001 --plates 10 --wears 0.95 --seconds 220
    python bench/marks_plates.py told FOLDER

`keep` goes on where it was stopped: a plate that is there is not made again. Of each plate 24
photographs are taken; the reliefs of all, of 12 and of 6 of them are kept, one raking photograph
beside them, and how far each relief lies off the truth. Faces are those nothing was tuned on;
`tests/truth/struck_plates.py`, which makes plates and photographs, shares nothing with the relief.
"""

from __future__ import annotations

import argparse
import pickle
import sys
import time
from dataclasses import asdict
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests" / "truth"), str(ROOT / "src"), str(ROOT / "bench")]

from marks_learning import WEARS, pits, places_of  # noqa: E402
from marks_relief import RELIEF, interval, relief_measured  # noqa: E402

from struck_plates import TEST_FACES, Asked, photographs, struck_plate  # noqa: E402

COUNTS = (24, 12, 6)
"""Photographs of which a relief is kept."""


def kept_plate(seed, wear, base_rate):
    """A plate, its places, its reliefs and what is off in them."""
    rng = np.random.default_rng([seed, round(100 * wear)])
    face = TEST_FACES[seed % len(TEST_FACES)]
    size = float(rng.uniform(0.02, 0.025))
    asked = Asked(wear=wear, face=face, base_rate=base_rate, mm_per_px=size, **pits(rng))
    plate = struck_plate(rng, asked)
    places = places_of(rng, plate)
    shots = photographs(rng, plate, max(COUNTS))
    high = np.degrees(np.arctan2(shots.light_mm[:, 2], np.hypot(*shots.light_mm[:, :2].T)))
    raking = int(np.argmin(np.abs(high - 25)))
    x, y = shots.light_mm[raking, :2]
    kept = {"seed": seed, "places": places, "shapes": plate.shapes, "texts": plate.texts(),
            "digits": plate.digits, "gaps": plate.gaps, "asked": asked, "surface": plate.surface,
            "raking": shots.frames[raking],
            "raking_from": (float(np.degrees(np.arctan2(y, x))), float(high[raking])),
            "reliefs": {}, "rows": {}}  # fmt: skip
    for count in COUNTS:
        use = list(np.linspace(0, max(COUNTS), count, endpoint=False).astype(int))
        row, found, relief = relief_measured(plate, shots, use=use)
        kept["rows"][count] = asdict(row)
        kept["reliefs"][count] = (
            relief.normals.astype(np.float16),
            found.plate.mm_per_px,
            (relief.slope_gain.value, relief.slope_gain.low, relief.slope_gain.high),
        )
    return kept


def keep(chosen):
    begun = time.perf_counter()
    chosen.folder.mkdir(parents=True, exist_ok=True)
    longest = 0.0
    for k in range(chosen.plates):
        for wear in chosen.wears:
            file = chosen.folder / f"{chosen.seed + k}-{round(100 * wear):02}.pickle"
            if file.exists():
                continue
            if time.perf_counter() - begun + longest > chosen.seconds:
                print("more is left to make: run again")
                return
            one = time.perf_counter()
            found = kept_plate(chosen.seed + k, wear, chosen.base_rate)
            making = file.with_suffix(".part")
            with making.open("wb") as out:
                pickle.dump(found, out)
            making.rename(file)
            longest = max(longest, time.perf_counter() - one)
            print(file.name, f"{time.perf_counter() - one:.0f} s", flush=True)


def kept_in(folder, wears=WEARS):
    """All plates of a folder, one at a time."""
    for file in sorted(folder.glob("*.pickle")):
        if any(file.stem.endswith(f"-{round(100 * w):02}") for w in wears):
            with file.open("rb") as held:
                yield pickle.load(held)


def told(chosen):
    rows = {}
    for one in kept_in(chosen.folder):
        rows.setdefault(one["asked"].wear, []).append((one["rows"], one["asked"].wear_way))
    rng = np.random.default_rng(1)
    heads = list(rows)
    print(f"| what | {' | '.join(f'{w:g} ({len(rows[w])})' for w in heads)} |")
    for name, of in RELIEF.items():
        cells = []
        for wear in heads:
            values = [float(of(r)) for r, _ in rows[wear]]
            cells.append(f"{interval(values, rng)}, worst {max(values):.4f}")
        print(f"| {name} | {' | '.join(cells)} |")


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("what", choices=("keep", "told"))
    asked.add_argument("folder", type=Path)
    asked.add_argument("--plates", type=int, default=10)
    asked.add_argument("--seed", type=int, default=2001)
    asked.add_argument("--base-rate", type=float, default=0.5)
    asked.add_argument("--wears", type=float, nargs="+", default=WEARS)
    asked.add_argument("--seconds", type=float, default=1e9, help="begin no plate after so long")
    chosen = asked.parse_args()
    (keep if chosen.what == "keep" else told)(chosen)


if __name__ == "__main__":
    main()
