"""Photographs that cannot bear the answer, and good ones: is the doubt told as large as the error?

    python bench/photographs_at_fault.py [kind ...] [--good N] [--each N] [--kept FOLDER]

Every photograph is cast by rays (`tests/truth/ray_cast.py`), which shares nothing with the solver.
For each it prints what was stated, the true error that 95 % of the outline keep within, whether it
was refused or what limits it is told in the first two sentences, and how long it took. A case is
*silent* where the truth exceeds three times what was stated and no limit of it was said: that no
mirror image stands beside a photograph is said of any that stands alone, and does not count.
"""

from __future__ import annotations

import argparse
import json
import math
import pickle
import re
import sys
import time
import zlib
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import shapely

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests" / "truth"), str(ROOT / "src")]

from ironlace.evidence.errors import IronlaceError  # noqa: E402
from ironlace.evidence.grades import Grade  # noqa: E402
from ironlace.ornament import (  # noqa: E402
    TRACE,
    PhotographsToTrace,
    TraceAsked,
    trace_photographs,
)
from ironlace.ornament.outline.drawing import each_point  # noqa: E402
from ironlace.ornament.trace_limits import limits  # noqa: E402
from ironlace.ornament.trace_stated import stated as told_of  # noqa: E402
from ironlace.photographs import Lens  # noqa: E402
from ray_cast import Photograph, Scene, photograph  # noqa: E402

ARM = Scene(kind="cylinder", radius=55, axis=2, distance=300, box=(22, 30, 178, 100))
TAPER = Scene(kind="cone", radius=55, half_angle=5, axis=3, distance=300, box=(22, 30, 178, 100))
FLAT = Scene(distance=300)


@dataclass(frozen=True)
class Case:
    """One scene and how it is asked to be traced."""

    scene: Any  # what the photographer below is given
    asked: dict[str, Any] = field(default_factory=dict)
    lens: Callable[[dict[str, Any]], dict[str, Any] | None] = lambda lens: lens
    focal: float = 1.0  # what the Exif says, as a share of the truth
    take: Callable[[Any, np.random.Generator], Photograph] = photograph


def without(_lens: dict[str, Any]) -> None:
    """No lens is given."""
    return


def sizeless(lens: dict[str, Any]) -> dict[str, Any]:
    """A lens file that says no picture size."""
    return {key: value for key, value in lens.items() if key != "image_size"}


def shorter(share: float) -> Callable[[dict[str, Any]], dict[str, Any]]:
    """A lens file with another focal length."""

    def changed(lens: dict[str, Any]) -> dict[str, Any]:
        matrix = np.array(lens["matrix"])
        matrix[[0, 1], [0, 1]] *= share
        return {**lens, "matrix": matrix.tolist()}

    return changed


def another_lens(lens: dict[str, Any]) -> dict[str, Any]:
    """Distortion of a lens that bends otherwise."""
    return {**lens, "distortion": [0.09, 0.02, 0.0, 0.0, 0.0]}


def of_a_crop(size: tuple[int, int]) -> Callable[[dict[str, Any]], dict[str, Any]]:
    """A lens file that claims the cropped picture's own size."""
    return lambda lens: {**lens, "image_size": list(size)}


Maker = Callable[[np.random.Generator, int], Case]
FAULTS: dict[str, Maker] = {
    "arm said flat": lambda _rng, n: Case(
        replace(ARM, radius=(45, 70, 140)[n], axis=(2, 88, 4)[n]), {"surface": "plane"}
    ),
    "taper said flat": lambda _rng, n: Case(
        replace(TAPER, half_angle=(4, 7, 10)[n]), {"surface": "plane"}
    ),
    "taper said even": lambda _rng, n: Case(
        replace(TAPER, half_angle=(3, 6, 10)[n]), {"surface": "cylinder"}
    ),
    "flat said round": lambda _rng, n: Case(
        replace(FLAT, slant=(5, 12, 20)[n]), {"surface": ("cylinder", "cone", "cylinder")[n]}
    ),
    "shape not said": lambda _rng, n: Case(
        (replace(ARM, radius=60), TAPER, replace(ARM, radius=300))[n]
    ),
    "burnt out": lambda _rng, n: Case(
        replace(FLAT, lobe=((100, 65, 22, 16, 3.0), (60, 40, 14, 20, 5), (130, 80, 35, 10, 2))[n])
    ),
    "veiled": lambda _rng, n: Case(
        replace(
            FLAT, lobe=((100, 65, 40, 30, 0.6), (60, 50, 60, 40, 0.75), (140, 80, 30, 30, 0.9))[n]
        )
    ),
    "cropped, lens without size": lambda _rng, n: Case(
        replace(
            FLAT,
            distance=(330, 330, 400)[n],
            crop=((150, 0, 0, 0), (0, 160, 60, 0), (400, 250, 0, 0))[n],
        ),
        lens=sizeless,
    ),
    "cropped, its size claimed": lambda _rng, n: Case(
        replace(
            FLAT,
            distance=400,
            slant=14,
            crop=((300, 0, 0, 212), (0, 0, 360, 255), (420, 298, 0, 0))[n],
        ),
        lens=lambda lens: lens if n else sizeless(lens),
    ),
    "cropped, no lens": lambda _rng, n: Case(
        replace(
            (FLAT, ARM, FLAT)[n],
            distance=400,
            slant=(8, 8, 20)[n],
            crop=((420, 0, 0, 200), (380, 100, 0, 0), (0, 250, 400, 0))[n],
        ),
        {"surface": ("plane", "cylinder", "plane")[n]},
        lens=without,
    ),
    "out of focus": lambda _rng, n: Case(replace(FLAT, defocus=(2.5, 4.0, 6.0)[n])),
    "arm out of focus": lambda _rng, n: Case(
        replace(ARM, defocus=(2.0, 3.5, 5.0)[n]), {"surface": "cylinder"}
    ),
    "moved while taken": lambda _rng, n: Case(replace(FLAT, motion=((5, 0), (8, 35), (12, 90))[n])),
    "end of the strip moved": lambda _rng, n: Case(
        replace((FLAT, FLAT, ARM)[n], moved=((0.43, 0.0), (0.0, 0.43), (0.5, 0.2))[n]),
        {"surface": ("plane", "plane", "cylinder")[n]},
    ),
    "end of the strip lifted": lambda _rng, n: Case(replace(FLAT, lift=(2.0, 4.0, 7.0)[n])),
    "focal length wrong": lambda _rng, n: Case(
        replace((FLAT, ARM, FLAT)[n], slant=(8, 6, 22)[n]),
        {"surface": ("plane", "cylinder", "plane")[n]},
        lens=shorter((0.8, 0.8, 1.25)[n]),
    ),
    "Exif focal length wrong": lambda _rng, n: Case(
        (FLAT, ARM, TAPER)[n],
        {"surface": ("plane", "cylinder", "cone")[n]},
        lens=without,
        focal=(0.75, 1.35, 0.7)[n],
    ),
    "another lens": lambda _rng, n: Case(
        (FLAT, ARM, replace(FLAT, slant=18))[n],
        {"surface": ("plane", "cylinder", "plane")[n]},
        lens=another_lens,
    ),
    "dim limb, thin rules": lambda _rng, n: Case(
        replace(
            ARM,
            radius=(46, 44, 48)[n],
            limb=(1.6, 2.2, 1.2)[n],
            exposure=(0.7, 0.6, 0.35)[n],
            box=(22, 22, 178, 108),
            thin_at_edge=True,
        ),
        {"surface": "cylinder"},
    ),
    "strong slant": lambda _rng, n: Case(
        replace(
            FLAT, slant=(50, 60, 66)[n], slant_way=(40, 100, 200)[n], distance=(380, 420, 460)[n]
        )
    ),
    "beyond the picture's edge": lambda _rng, n: Case(
        replace(FLAT, aim=((150, 65), (60, 105), (165, 95))[n], distance=(280, 260, 250)[n])
    ),
    "dark and grainy": lambda _rng, n: Case(
        replace(FLAT, exposure=(0.12, 0.06, 0.03)[n], noise=(2, 3, 3)[n], jpeg=(80, 70, 60)[n])
    ),
    "over-exposed": lambda _rng, n: Case(replace(FLAT, exposure=(1.25, 1.8, 2.8)[n])),
    "browned, rusted, pitted": lambda _rng, n: Case(
        replace(FLAT, brown=(0.6, 0.9, 1.1)[n], rust=(300, 900, 1500)[n], pits=(60, 150, 250)[n])
    ),
    "sharpened and small": lambda _rng, n: Case(
        replace(FLAT, sharpened=(1.0, 2.0, 1.5)[n], jpeg=(75, 60, 30)[n], noise=2)
    ),
}
"""By kind: from a generator and a number below three, the case."""


def good(rng: np.random.Generator, n: int) -> Case:
    """A photograph that can bear its answer, as the manual asks for."""
    scene = (FLAT, ARM, FLAT, TAPER)[n % 4]
    scene = replace(
        scene,
        slant=rng.uniform(0, 18 if n % 2 == 0 else 9),
        slant_way=rng.uniform(0, 360),
        roll=rng.uniform(-4, 4),
        radius=rng.uniform(48, 90),
        half_angle=rng.uniform(2.5, 7),
        axis=rng.uniform(-4, 4),
        bend=rng.uniform(-0.06, 0.03),
        middle=(rng.uniform(-12, 12), rng.uniform(-12, 12)),
        exposure=rng.uniform(0.6, 0.95),
        limb=rng.uniform(0.3, 0.9),
        fade=rng.uniform(0, 0.35),
        brown=rng.uniform(0, 0.6),
        rust=int(rng.integers(0, 120)),
        optics=rng.uniform(0.5, 0.9),
        noise=rng.uniform(0.7, 1.5),
        jpeg=int(rng.integers(86, 96)),
        distance=rng.uniform(300, 340),
    )
    asked = {"surface": scene.kind} if n % 3 == 0 else {}
    return Case(scene, asked, lens=without if n % 5 == 4 else lambda lens: lens)


def error_95(found: Any, photo: Photograph) -> tuple[float, float, float]:
    """The error that 95 % keep within, of drawn and true points both; shares missing and false."""
    lines = [shapely.LinearRing(p.polygon(0.005)) for p in found.drawing.paths]
    drawn = shapely.MultiLineString(lines)
    points = []
    for ring in lines:
        at = np.arange(0.05, ring.length, 0.1)
        points.append(shapely.get_coordinates(shapely.line_interpolate_point(ring, at)))
    forth = shapely.distance(shapely.points(np.vstack(points)), photo.drawn_too.boundary)
    shapely.prepare(drawn)
    tree = shapely.STRtree([g for ring in lines for g in _pieces(ring)])
    back = tree.query_nearest(
        shapely.points(photo.visible), return_distance=True, all_matches=False
    )[1]
    both = np.concatenate([forth, back])
    return float(np.percentile(both, 95)), float(np.mean(back > 0.3)), float(np.mean(forth > 0.3))


def seen_95(found: Any, photo: Photograph) -> float:
    """The error that 95 % of what is graded seen keep within, whatever is missing, mm."""
    points = [
        each_point(
            np.repeat(path.curves[n : n + 1], count, axis=0), (np.arange(count) + 0.5) / count
        )
        for path in found.drawing.paths
        for n, (grade, long) in enumerate(zip(path.grades, path.lengths, strict=True))
        if grade is Grade.SEEN and (count := max(1, round(float(long) / 0.2)))
    ]
    if not points:
        return 0.0
    off = shapely.distance(shapely.points(np.vstack(points)), photo.drawn_too.boundary)
    return float(np.percentile(off, 95))


def _pieces(ring: Any, of: int = 24) -> list[Any]:
    xy = shapely.get_coordinates(ring)
    return [shapely.LineString(xy[i : i + of + 1]) for i in range(0, len(xy) - 1, of)]


def stated_mm(found: Any) -> float:
    """What the answer says of where 95 % of the outline lie."""
    first = found.report["photographs"][0]
    if "within_mm" in first:
        return float(first["within_mm"])
    return max(first["residual_mm"], 1.96 * first["place_sd_mm"]["mean"])


def run(name: str, case: Case, seed: int, kept: Path | None) -> dict[str, Any]:
    """Take the photograph, trace it, and hold what is told against the truth."""
    photo = _taken(case, seed, kept, name)
    lens = case.lens(photo.lens)
    asked = TraceAsked(
        strip=case.scene.piece,
        lens=None if lens is None else Lens.from_json(json.dumps(lens)),
        **case.asked,
    )
    given = PhotographsToTrace.of([photo.image], [photo.focal_35mm * case.focal])
    begin = time.process_time()
    out: dict[str, Any] = {"case": name}
    try:
        found = trace_photographs(given, asked)
    except IronlaceError as error:
        return out | {"refused": str(error), "seconds": time.process_time() - begin}
    out["seconds"] = time.process_time() - begin
    error, missing, false = error_95(found, photo)
    said, near, seen = TRACE.answer(found).sentences, told_of(found.report), seen_95(found, photo)
    stated = stated_mm(found)
    assert near is not None
    # what limits this photograph is told second; where nothing does, another sentence stands there
    told = said[1] if limits(found.report) else ""
    return out | {
        "stated": stated,
        "true": error,
        "missing": missing,
        "false": false,
        "seen": seen,
        "within": near.within_mm,
        "of": near.of,
        "claimed": error if near.of == "the outline" else seen,
        "told": told,
        "silent": error > 3.0 * stated and not told,
        "surface": found.report["photographs"][0]["surface"]["kind"],
        "grades": found.report["drawing"]["length_by_grade_mm"],
    }


def _taken(case: Case, seed: int, kept: Path | None, name: str) -> Photograph:
    # a function's address differs from run to run; the name of the kind tells what it does
    scene = re.sub(r" at 0x[0-9a-f]+", "", repr(case.scene))
    print_of = zlib.crc32(repr((scene, seed)).encode())
    file = kept / f"{name.replace(' ', '-')}-{print_of:08x}.pickle" if kept else None
    if file and file.exists():
        return pickle.loads(file.read_bytes())
    photo = case.take(case.scene, np.random.default_rng(seed))
    if file:
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(pickle.dumps(photo))
    return photo


def say(row: dict[str, Any]) -> None:
    """One line of the table."""
    if "refused" in row:
        print(f"{row['case']:<32} refused: {row['refused']}", flush=True)
        return
    print(
        f"{row['case']:<32} stated {row['stated']:.3f} true {row['true']:.3f} "
        f"({row['true'] / row['stated']:5.1f}x, seen {row['seen'] / row['stated']:.1f}x, "
        f"{_claim(row)}) missing {row['missing']:.1%} false "
        f"{row['false']:.1%} {row['surface']} {row['seconds']:.1f} s "
        f"{'SILENT ' if row['silent'] else ''}{'told: ' + row['told'] if row['told'] else ''}",
        flush=True,
    )


def _claim(row: dict[str, Any]) -> str:
    """What the first sentence says of the paint's edge, and how far that is exceeded."""
    if row["within"] is None:
        return "withheld"
    return f"{row['claimed'] / row['within']:.1f}x the {row['within']:.2f} told of {row['of']}"


def run_all(
    faults: dict[str, Maker], each: int, make_good: Maker, first_seed: int, words: str | None
) -> None:
    """Run what is asked for on the command line, and sum it up."""
    parser = argparse.ArgumentParser(description=words)
    parser.add_argument("kinds", nargs="*", help="kinds of fault; all when left out")
    parser.add_argument("--good", type=int, default=60, help="how many good ones")
    parser.add_argument("--from-good", type=int, default=0)
    parser.add_argument("--each", type=int, default=each, help=f"of each fault, at most {each}")
    parser.add_argument("--kept", type=Path, help="folder that keeps the photographs")
    parser.add_argument("--json", type=Path, help="file to add a line to for each case")
    chosen = parser.parse_args()
    rows = []

    def one(name: str, case: Case, seed: int) -> None:
        row = run(name, case, seed, chosen.kept)
        rows.append(row)
        say(row)
        if chosen.json:
            with chosen.json.open("a") as out:
                out.write(json.dumps(row) + "\n")

    for number, (kind, make) in enumerate(faults.items()):
        if chosen.kinds and not any(word in kind for word in chosen.kinds):
            continue
        for n in range(chosen.each):
            seed = first_seed + 100 * number + n
            one(f"{kind} {n + 1}", make(np.random.default_rng(seed), n), seed)
    for n in range(chosen.from_good, chosen.good):
        seed = first_seed + 9000 + n
        one(f"good {n + 1}", make_good(np.random.default_rng(seed), n), seed)
    traced = [row for row in rows if "refused" not in row]
    faults = [row for row in rows if not row["case"].startswith("good")]
    fine = [row for row in rows if row["case"].startswith("good")]
    print(
        f"{len(faults)} at fault, {len(fine)} good: "
        f"{sum(row['silent'] for row in traced)} silent; "
        f"refused {sum('refused' in r for r in faults)} at fault, "
        f"{sum('refused' in r for r in fine)} good; "
        f"good ones with a caution {sum(bool(r.get('told')) for r in fine)}; first sentence off "
        f"over 3 times in {sum(r['claimed'] > 3 * (r['within'] or math.inf) for r in traced)}"
    )
    if fine:
        ratio = [r["true"] / r["stated"] for r in fine if "true" in r]
        print(f"good: true / stated median {np.median(ratio):.2f}, largest {max(ratio):.2f}")


if __name__ == "__main__":
    run_all(FAULTS, 3, good, 0, __doc__)
