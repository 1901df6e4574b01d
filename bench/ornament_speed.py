"""Time and memory of the ornament's steps on one large photograph, and against plain programs.

    python bench/ornament_speed.py [--megapixels 24] [--times 3] [--hands 2]

Times are processor seconds of one thread, the least of so many runs, so that what else the machine
does hardly counts; beside them stands what the clock showed, with as many threads as ``--hands``
says. The clock counts what else the machine does: have it run alone, or before everything else
(`chrt --fifo 20`). Flattening is held against `cv2.remap` with maps made beforehand, tracing
against potrace where that is installed, each in the same run.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests" / "truth"), str(ROOT / "src")]

from darkroom import Shot, photograph, scrollwork  # noqa: E402
from ironlace.ornament import find_gilt, gather, trace  # noqa: E402
from ironlace.photographs import Lens, find_strip, flatten, place_surface, strip_sheet  # noqa: E402
from ironlace.photographs.linear_light import to_linear16  # noqa: E402


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--megapixels", type=float, default=24.0)
    parser.add_argument("--times", type=int, default=3)
    parser.add_argument("--hands", type=int, default=2, help="threads by the clock")
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
    cv2.setNumThreads(1)
    lens = json.dumps(shot.lens)
    whole_command(file, lens)  # first: a child's most memory is the most of all children so far
    measured(image, Lens.from_json(lens), chosen.times, chosen.hands)


def spent(call: Callable[[], Any]) -> tuple[float, Any]:
    """Processor seconds of a call, and what it gives."""
    begin = time.process_time()
    out = call()
    return time.process_time() - begin, out


def steps(
    image: np.ndarray, lens: Lens, timed: Callable[..., Any]
) -> tuple[Any, Any, NDArray[np.uint8]]:
    """All steps once, each through ``timed``: the placing, the flat, and the gilt gathered."""
    sheet = strip_sheet("frame")
    sighting = timed("strip", find_strip, image, sheet.layout)
    placing = timed("place", place_surface, image, sighting, sheet.layout, lens=lens)
    flat = timed("flat", flatten, image, placing, sheet.layout)
    gilt = timed("gilt", find_gilt, flat)
    gathered = timed("gather", gather, [gilt], ["here"])
    timed("trace", trace, gathered.coverage, gathered.px_per_mm, gathered.origin_mm)
    return placing, flat, gathered.coverage


def measured(image: np.ndarray, lens: Lens, times: int, hands: int) -> None:
    base = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    least: dict[str, float] = {}
    clock: dict[str, float] = {}

    def by_processor(name: str, call: Callable[..., Any], *given: Any, **known: Any) -> Any:
        took, out = spent(lambda: call(*given, **known))
        least[name] = min(took, least.get(name, took))
        return out

    def by_clock(name: str, call: Callable[..., Any], *given: Any, **known: Any) -> Any:
        begin = time.perf_counter()
        out = call(*given, **known)
        took = time.perf_counter() - begin
        clock[name] = min(took, clock.get(name, took))
        return out

    cv2.setNumThreads(hands)
    wholes = []
    for _ in range(times):
        begin = time.perf_counter()
        steps(image, lens, by_clock)
        wholes.append(time.perf_counter() - begin)
    cv2.setNumThreads(1)
    placing = flat = coverage = None
    for _ in range(times):
        placing = flat = coverage = None  # the round before is let go: nobody holds two
        placing, flat, coverage = steps(image, lens, by_processor)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{image.shape[1]} x {image.shape[0]}, flat {flat.shape[1]} x {flat.shape[0]}")
    print("  ".join(f"{name} {took:.2f} ({clock[name]:.2f})" for name, took in least.items()))
    print(
        f"steps in all {sum(least.values()):.1f} processor seconds (<= 5, which is 2.5 on two "
        f"cores), by the clock with {hands} threads, round by round, "
        f"{', '.join(f'{w:.2f}' for w in wholes)} s (<= 2.5)"
        f"  peak {peak:.0f} MB (<= 1000), {base:.0f} before"
    )
    against_remap(image, placing, flat, least, times)
    against_potrace(coverage, least["trace"], times)


def whole_command(file: Path, lens: str) -> None:
    """The command with report, proof and files, by itself: nothing that the steps left counts."""
    with tempfile.TemporaryDirectory() as folder:
        lens_file = Path(folder) / "lens.json"
        lens_file.write_text(lens, encoding="utf-8")
        words = ["ornament", "trace", file, "--lens", lens_file, "--out", Path(folder) / "a.svg"]
        command = [sys.executable, "-m", "ironlace", *map(str, words)]
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, env=at_one_core())
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
    took = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    print(
        f"the whole command, files and all: {took:.1f} processor seconds, "
        f"peak {after.ru_maxrss / 1024:.0f} MB (<= 1000)"
    )


def at_one_core() -> dict[str, str]:
    """The environment of a command that finds this source and keeps to one thread."""
    one = dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"), "1")
    return {**os.environ, **one, "PYTHONPATH": str(ROOT / "src")}


def against_remap(image: Any, placing: Any, flat: Any, least: dict[str, float], times: int) -> None:
    """What flattening costs beside bare warping of the same picture to the same size."""
    h, w = flat.shape
    grid = np.stack(np.meshgrid(np.arange(w, dtype=np.float32), np.arange(h, dtype=np.float32)), -1)
    px = placing.to_pixels(flat.to_mm(grid[::64, ::64].astype(np.float64))).astype(np.float32)
    mx, my = (cv2.resize(np.ascontiguousarray(px[..., k]), (w, h)) for k in range(2))
    deep = to_linear16(image)
    for name, source, flag in (
        ("linear, 8 bits", image, cv2.INTER_LINEAR),
        ("cubic, 8 bits", image, cv2.INTER_CUBIC),
        ("cubic, 16 bits of linear light", deep, cv2.INTER_CUBIC),
    ):
        bare = min(spent(lambda a=source, f=flag: cv2.remap(a, mx, my, f))[0] for _ in range(times))
        print(f"flattening / bare cv2.remap, {name}: {least['flat'] / bare:.2f} (<= 1.5)")
    linear = min(spent(lambda: to_linear16(image))[0] for _ in range(times))
    print(f"of it to linear light {linear:.2f} s")


def against_potrace(coverage: np.ndarray, ours: float, times: int) -> None:
    """What tracing costs beside potrace on the same coverage."""
    program = shutil.which("potrace")
    if program is None:
        print("tracing / potrace: potrace is not installed here")
        return
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / "a.pgm"
        cv2.imwrite(str(source), np.where(coverage > 127, 0, 255).astype(np.uint8))
        took = []
        for _ in range(times):
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            subprocess.run([program, "-s", "-o", str(Path(folder) / "a.svg"), source], check=True)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            took.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    print(f"tracing / potrace: {ours / max(min(took), 1e-3):.2f} (<= 1.5)")


if __name__ == "__main__":
    main()
