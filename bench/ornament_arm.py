"""An arm in eight photographs: how long it takes, how true it is, whether the join shows.

    python bench/ornament_arm.py [--megapixels 12] [--seed N]

The scroll-work goes three quarters round a tapering arm; the camera goes round it in eight steps.
Goal: under two minutes in all.
"""

from __future__ import annotations

import argparse
import json
import resource
import sys
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests" / "truth"), str(ROOT / "src")]

from darkroom import Shot, outline_errors, photograph, scrollwork  # noqa: E402
from ironlace.evidence.progress import Steps  # noqa: E402
from ironlace.ornament import PhotographsToTrace, TraceAsked, trace_photographs  # noqa: E402
from ironlace.photographs import Lens, strip_sheet  # noqa: E402


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--megapixels", type=float, default=12.0)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    rng = np.random.default_rng(chosen.seed)
    sheet = strip_sheet("wrap")
    width = round((chosen.megapixels * 1e6 * 4 / 3) ** 0.5 / 4) * 4
    ornament = scrollwork(rng, (20, 22, 180, 108), scrolls=14)
    shots = [
        Shot(
            width=width,
            height=width * 3 // 4,
            focal_px=1.16 * width,
            surface="cone",
            radius_mm=42,
            taper=0.05,
            axis_deg=90,
            aim_mm=(float(x), 65.0),
            distance_mm=240,
            tilt_deg=float(rng.uniform(-4, 4)),
            exposure=float(rng.uniform(0.75, 1.1)),
            glare=n % 3 == 0,
        )
        for n, x in enumerate(np.linspace(25, 175, 8))
    ]
    # one solid: the frame of the darkroom's cone touches at the aim point, so a turn of the arm is
    # a move of the aim; the taper is small enough that all eight agree to a few hundredths
    images = [photograph(ornament, sheet, shot, rng) for shot in shots]
    begin = time.perf_counter()
    marks: dict[str, float] = {}

    class Held(Steps):
        """Steps that are timed, and whose flats are held for the join."""

        def __init__(self):
            self.flats = {}

        def __call__(self, step: str, share: float) -> None:
            del share
            marks[step.partition(" of ")[0]] = time.perf_counter() - begin

        def kept(self, name, make, to_arrays, from_arrays):
            del to_arrays, from_arrays
            if not name.startswith("flat"):
                return make()
            if name not in self.flats:
                self.flats[name] = make()
            return self.flats[name]

    asked = TraceAsked(strip="wrap", surface="cone", lens=Lens.from_json(json.dumps(shots[0].lens)))
    result = trace_photographs(PhotographsToTrace.of(images), asked, Held())
    traced = time.perf_counter() - begin
    flat = result.joined_flat()
    whole = time.perf_counter() - begin
    rings = [p.polygon(0.002) for p in result.drawing.paths]
    forth, back = outline_errors(rings, ornament)
    hidden = float(np.mean(flat.hidden > 0))
    print(f"{len(images)} photographs of {width} x {width * 3 // 4}")
    print(f"traced {traced:.1f} s, joined {whole:.1f} s (< 120)")
    print("  ".join(f"{name} by {at:.0f} s" for name, at in marks.items()))
    print(
        f"outline mean {forth.mean():.3f} / back {back.mean():.3f} mm, 95 % "
        f"{np.percentile(forth, 95):.3f} / {np.percentile(back, 95):.3f}; missing (> 0.3 mm) "
        f"{np.mean(back > 0.3):.2%}, false {np.mean(forth > 0.3):.2%}"
    )
    used = sorted(result.drawing.length_by_source().items(), key=lambda item: -item[1])
    print("taken from", ", ".join(f"{name} {length:.0f} mm" for name, length in used))
    print(f"not seen in any: {hidden:.1%}; grades {result.report['gathered'][0]['grade']} ...")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak {peak:.0f} MB, the renderer's own included")


if __name__ == "__main__":
    main()
