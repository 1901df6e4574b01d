"""The demo's ornament, traced from its photograph, against the drawing it was rendered from.

Prints how far the outlines lie apart, with the calibrated lens and without one, and the time.
The truth is the whole drawing; where the paint has been worn off, the trace cannot follow it, and
the second figure leaves those places out (`truth_wear.svg`).
"""

import sys
import time
from importlib.resources import files

from ironlace.ornament import (
    PhotographsToTrace,
    TraceAsked,
    compare,
    drawing_from_svg,
    trace_photographs,
)
from ironlace.photographs import Lens
from ironlace.workshop.store.intake import pixels

GOAL_MM = 0.15


def main() -> int:
    material = files("ironlace.workshop") / "demo"
    image = pixels(material / "ornament-on-bed.jpg")
    layout = (material / "frame_layout.csv").read_text("utf-8")
    lens = Lens.from_json((material / "lens.json").read_text("utf-8"))
    truth = drawing_from_svg((material / "truth_ornament.svg").read_text("utf-8"))
    worst = 0.0
    for label, known in (("lens calibrated", lens), ("lens estimated", None)):
        begun = time.perf_counter()
        traced = trace_photographs(
            PhotographsToTrace.of([image]), TraceAsked(layout_csv=layout, lens=known)
        )
        took = time.perf_counter() - begun
        found = compare(traced.drawing, truth)
        worst = max(worst, found.mean_mm)
        print(
            f"{label}: outlines {found.mean_mm:.3f} mm apart on average (goal {GOAL_MM} mm); "
            f"traced to truth {found.forth.mean_mm:.3f} mm, 95 % {found.forth.p95_mm:.3f} mm; "
            f"truth to traced {found.back.mean_mm:.3f} mm, 95 % {found.back.p95_mm:.3f} mm; "
            f"{traced.drawing.nodes} nodes; {took:.1f} s"
        )
    return 0 if worst < GOAL_MM else 1


if __name__ == "__main__":
    sys.exit(main())
