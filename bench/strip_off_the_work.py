"""A strip that does not lie close, work that is not quite flat: does the stated spread hold it?

    python bench/strip_off_the_work.py [kind ...] [--each N] [--first SEED]

No picture is drawn (`tests/truth/strip_thrown.py`), so that many are judged in minutes: by how far
a place of the work is taken for another, against what is stated.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests" / "truth"), str(ROOT / "src")]

from ironlace.evidence.errors import IronlaceError  # noqa: E402
from ironlace.photographs import place_uncertainty_mm, strip_sheet  # noqa: E402
from strip_thrown import (  # noqa: E402
    Heights,
    bowed,
    close,
    corner,
    inner_places,
    lifted,
    off_by,
    one_side,
    placed,
    rippled,
)
from thrown_light import Setting  # noqa: E402

SCENES = {
    "flat": Setting(tip=6, turn=-5),
    "wide": Setting(piece="frame", distance=410, tip=-6, turn=3),
    "near": Setting(distance=260, field=52, tip=-9, turn=2),
    "arm": Setting(kind="cylinder", radius=58, tip=-3, turn=4),
    "taper": Setting(kind="cone", radius=55, half_angle=5, tip=-3),
}


KINDS: dict[str, tuple[Heights, bool]] = {
    "close": (close, False),
    "lifted 0.1": (lifted(0.1), False),
    "lifted 0.3": (lifted(0.3), False),
    "lifted 1": (lifted(1.0), False),
    "bowed 0.3": (bowed(0.3), False),
    "bowed 0.6": (bowed(0.6), False),
    "bowed 1": (bowed(1.0), False),
    "bowed 2": (bowed(2.0), False),
    "one side 0.6": (one_side(0.6), False),
    "one side 1.5": (one_side(1.5), False),
    "corner 2": (corner(2.0), False),
    "rippled 0.2": (rippled(0.2), False),
    "rippled 0.5": (rippled(0.5), False),
    "work bent 0.3": (bowed(0.3), True),
    "work bent 1": (bowed(1.0), True),
    "work hollow 1": (bowed(-1.0), True),
}
"""How high the paper stands, and whether the work does so too."""


def held(scene: Setting, kind: str, seed: int, *, own_lens: bool) -> dict[str, Any]:
    """One strip on one work: the error that 95 % of the places keep within, and what is stated."""
    rng = np.random.default_rng(seed)
    heights, bent = KINDS[kind]
    sheet = strip_sheet(scene.piece)  # type: ignore[arg-type]
    height = heights(np.array(sheet.size_mm), rng)
    try:
        found, layout, view = placed(scene, height, rng, own_lens=own_lens)
    except IronlaceError as error:
        return {"refused": str(error)}
    grid = inner_places(layout)
    error = off_by(found, view, grid, height(grid) if bent else np.zeros(len(grid)))
    grid, error = grid[np.isfinite(error)], error[np.isfinite(error)]
    sd = place_uncertainty_mm(found, grid)
    evidence = found.evidence
    return {
        "true": float(np.percentile(error, 95)),
        # an edge's own blur comes on top in a trace; 0.05 mm is usual there
        "stated": 1.96 * float(np.sqrt(np.mean(sd**2))),
        "surface": found.surface.kind,
        "residual": found.residual_mm,
        "left_out": evidence.left_out_mm,
        "widened": evidence.widened,
        "off": evidence.off_work_mm,
        "bow": evidence.bow_mm,
        "lifted": evidence.lifted_shift_mm,
    }


EDGE_MM = 0.05
"""What a trace states on top, for the edge of paint itself, root of squares: as is usual."""

if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("kinds", nargs="*")
    parser.add_argument("--each", type=int, default=2)
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("--scenes", nargs="*", default=list(SCENES))
    chosen = parser.parse_args()
    for kind in KINDS:
        if chosen.kinds and not any(word in kind for word in chosen.kinds):
            continue
        for name in chosen.scenes:
            for own_lens in (True, False):
                rows = []
                for n in range(chosen.each):
                    rng = np.random.default_rng(chosen.first * 1000 + n)
                    scene = SCENES[name]
                    scene = replace(
                        scene,
                        tip=scene.tip + rng.uniform(-5, 5),
                        turn=scene.turn + rng.uniform(-5, 5),
                        roll=rng.uniform(-3, 3),
                    )
                    rows.append(held(scene, kind, chosen.first * 77 + n, own_lens=own_lens))
                said = []
                for row in rows:
                    if "refused" in row:
                        said.append("refused: " + row["refused"][:60])
                        continue
                    stated = float(np.hypot(row["stated"], EDGE_MM))
                    true = float(np.hypot(row["true"], EDGE_MM))
                    said.append(
                        f"{row['true']:.3f} by {row['stated']:.3f}, {true / stated:4.1f}x "
                        f"{row['surface'][:3]} res {row['residual']:.3f} out "
                        f"{row['left_out']:.3f} w {row['widened']:.1f} off {row['off']:.2f} "
                        f"bow {row['bow']:.2f} lift {row['lifted']:.2f}"
                    )
                lens = "lens" if own_lens else "none"
                print(f"{kind:<14} {name:<6} {lens} | " + " | ".join(said), flush=True)
