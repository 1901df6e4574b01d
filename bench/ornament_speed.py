"""Time and memory of the ornament's steps on one large photograph, and against bare cv2.remap.

python bench/ornament_speed.py [--megapixels 24]
"""

from __future__ import annotations

import argparse
import json
import resource
import sys
import tempfile
import time
from pathlib import Path

import cv2
import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests" / "truth"), str(ROOT / "src")]

from darkroom import Shot, photograph, scrollwork  # noqa: E402
from ironlace.ornament import (  # noqa: E402
    PhotographsToTrace,
    TraceAsked,
    find_gilt,
    gather,
    trace,
    trace_photographs,
)
from ironlace.photographs import Lens, find_strip, flatten, place_surface, strip_sheet  # noqa: E402


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--megapixels", type=float, default=24.0)
    chosen = parser.parse_args()
    width = round((chosen.megapixels * 1e6 * 4 / 3) ** 0.5 / 4) * 4
    height = width * 3 // 4
    rng = np.random.default_rng(1)
    sheet = strip_sheet("frame")
    shot = Shot(
        width=width, height=height, focal_px=1.16 * width, distance_mm=292, tilt_deg=8, roll_deg=1
    )
    file = Path(tempfile.gettempdir()) / f"ironlace-speed-{width}x{height}.png"
    if file.exists():
        image = np.ascontiguousarray(cv2.imread(str(file))[..., ::-1])
    else:
        ornament = scrollwork(rng, (26, 26, 230, 160), scrolls=18)
        image = photograph(ornament, sheet, shot, rng)
        cv2.imwrite(str(file), image[..., ::-1], [cv2.IMWRITE_PNG_COMPRESSION, 1])
        print("rendered; run again for figures without the renderer's memory")
        return
    lens = Lens.from_json(json.dumps(shot.lens))
    base = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    begin = time.perf_counter()
    times: dict[str, float] = {}

    def timed(name, call):
        start = time.perf_counter()
        out = call()
        times[name] = time.perf_counter() - start
        return out

    sighting = timed("strip", lambda: find_strip(image, sheet.layout))
    placing = timed("place", lambda: place_surface(image, sighting, sheet.layout, lens=lens))
    flat = timed("flat", lambda: flatten(image, placing, sheet.layout))
    gilt = timed("gilt", lambda: find_gilt(flat))
    gathered = timed("gather", lambda: gather([gilt], ["here"]))
    timed("trace", lambda: trace(gathered.coverage, gathered.px_per_mm, gathered.origin_mm))
    total = time.perf_counter() - begin
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{width} x {height}, flat {flat.shape[1]} x {flat.shape[0]} at {flat.px_per_mm} px/mm")
    print("  ".join(f"{k} {v:.2f} s" for k, v in times.items()))
    print(f"steps in all {total:.1f} s (< 15)  peak {peak:.0f} MB (< 2048), {base:.0f} before")

    h, w = flat.shape
    grid = np.stack(np.meshgrid(np.arange(w, dtype=np.float32), np.arange(h, dtype=np.float32)), -1)
    mm = flat.to_mm(grid[::64, ::64].astype(np.float64))
    px = placing.to_pixels(mm).astype(np.float32)
    mx, my = (cv2.resize(np.ascontiguousarray(px[..., k]), (w, h)) for k in range(2))
    for name, flag in (("linear", cv2.INTER_LINEAR), ("cubic", cv2.INTER_CUBIC)):
        start = time.perf_counter()
        cv2.remap(image, mx, my, flag)
        bare = time.perf_counter() - start
        ratio = times["flat"] / bare
        print(f"flattening / bare {name} cv2.remap of the same size: {ratio:.1f} (<= 1.5)")
    start = time.perf_counter()
    trace_photographs(PhotographsToTrace.of([image]), TraceAsked(lens=lens))
    print(f"whole chain with report {time.perf_counter() - start:.1f} s")


if __name__ == "__main__":
    main()
