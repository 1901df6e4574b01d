"""Finished stencil sheets judged from pictures of their files, over many ornaments.

Run: python bench/stencils_judged.py [seeds] [process]; 10 seeds take some minutes. What the judge
looks for stands in `tests/truth/judged_sheets.py`; nothing of a plan but its report is used.
"""

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "truth"))

import judged_sheets as judge
import ornaments
import other_ornaments as other
from ironlace.ornament.stencils import StencilError, known_process, plan_sheets

CHORDS = 0.0008
"""Share of an ornament by which two pictures of its curves differ, drawn by other chords."""


def drawings(seeds):
    yield "letters", other.lettering()
    yield "hairline letters", other.lettering("gabled No. 8", 9.0, weight="normal")
    yield "rosette", other.rosette()
    yield "crowded rosette", other.rosette(size=16.0)
    for seed in range(seeds):
        yield f"maze {seed}", other.maze(seed)
        yield f"straps {seed}", other.straps(seed, 2 + seed % 3)
        yield f"vine {seed}", other.vine(seed, 12 + 4 * seed)
        yield f"small ones beside {seed}", ornaments.islands_with_small_ones_beside(seed, 4)
        yield f"ornament {seed}", ornaments.ornament(seed)


def judged(name, svg, hold, process):
    """Print what is wrong with one set; its stray found over what is told, less what is at rest."""
    try:
        plan = plan_sheets(svg, process, hold)
    except StencilError as error:
        print(f"{name}, {hold}: refused: {error}")
        return np.nan
    window = judge.window_of(svg)
    drawn = judge.drawing_of(svg, window)
    films = [judge.film_of(sheet.svg(), window) for sheet in plan.sheets]
    wrong = judge.faults_of(
        films,
        drawn,
        process.bridge_width_mm,
        process.one_bridge_up_to_mm,
        process.longest_tongue_mm,
    )
    for sheet, film, told in zip(plan.sheets, films, plan.report["sheets"], strict=True):
        webs = judge.thin_webs_of(film, process.least_web_mm)
        if len(webs) > told["thin_webs"]:
            wrong.append(f"sheet {sheet.name}: {len(webs)} thin webs, told {told['thin_webs']}")
        meetings = judge.narrow_meetings_of(film, process.least_web_mm)
        if len(meetings) > told["thin_webs"]:
            wrong.append(f"sheet {sheet.name}: {len(meetings)} narrow meetings, told fewer")
    true, told, _ = plan.report["proof"][0]["laid"]
    through = [~film for film in films]
    rest = sum(judge.worst_hands(drawn, through, 0.0))
    if abs(rest - (1.0 - true["covered"] + true["stray"])) > 0.003:
        wrong.append(f"at rest {rest:.4f} amiss, told {1 - true['covered'] + true['stray']:.4f}")
    for one in wrong:
        print(f"{name}, {hold}: {one}")
    if hold == "bridges" or len(films) < 2:
        return np.nan
    off = sum(judge.worst_hands(drawn, through, process.registration_mm)) - rest
    said = true["covered"] - told["covered"] + told["stray"] - true["stray"]
    if not 0.95 * said < off < 1.02 * said + CHORDS:
        print(f"{name}, {hold}: {off:.4f} lost and beside off register, told {said:.4f}")
    return off / said


if __name__ == "__main__":
    counts = [int(a) for a in sys.argv[1:] if a.isdigit()]
    named = [a for a in sys.argv[1:] if not a.isdigit()]
    process = known_process(named[0] if named else "film-laser")
    found = [
        judged(name, svg, hold, process)
        for name, svg in drawings(counts[0] if counts else 10)
        for hold in ("bridges", "split")
    ]
    ratio = np.array([r for r in found if np.isfinite(r)])
    print(
        f"{len(found)} sets; lost and beside, off register, over what is told: median "
        f"{np.median(ratio):.3f}, {ratio.min():.3f} to {ratio.max():.3f}"
    )
