"""How rightly worn ornaments are graded: many, painted without a camera, and worn in many ways.

    python bench/ornament_grades.py [set or case ...] [--seed N] [--kept FOLDER]

What a photograph would have shown is painted at 16 pixels to the mm, blurred and grained; from
there on all is the program's own way: gathered, healed, bridged, traced, graded. A case is
``ornament/wear/evidence/share``, as ``scrolls/flakes/mirror/30``; sets of them stand in `SETS`.
Ornaments come from four families, wear from ten, and none shares anything with the solver.
"""

from __future__ import annotations

import argparse
import pickle
import sys
import time
import zlib
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import shapely

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests" / "truth"), str(ROOT / "src"), str(ROOT / "bench")]

from ornament_truth import graded_as_owed, knowing  # noqa: E402
from photographs_passed_on import fret_and_vines  # noqa: E402

from darkroom import Ornament, painted, scrollwork, survives, wear  # noqa: E402
from ironlace.ornament import GiltMap  # noqa: E402
from ironlace.ornament.gather.gathered import doubted_by_mirror  # noqa: E402
from ironlace.ornament.gather.graded_outline import graded  # noqa: E402
from ironlace.ornament.outline.trace import trace  # noqa: E402
from ironlace.ornament.trace_stages import gather_and_bridge  # noqa: E402
from painted_maps import gilt_map  # noqa: E402
from thrown_light import scrolls_and_dots  # noqa: E402
from worn_and_mended import MENDED  # noqa: E402
from worn_at_work import AT_WORK  # noqa: E402

PPM = 16.0
SIZE = (180.0, 110.0)
BOX = (6.0, 6.0, 174.0, 104.0)
MIDDLE = 90.0
SETS = {
    "worked on": [
        "scrolls/blotches/mirror/30",
        "scrolls/fine/mirror/40",
        "scrolls/flakes/mirror/30",
        "scrolls/blotches/untaken/30",
        "scrolls/blotches/three/40",
        "frame/blotches/mirror/30",
        "frame/fine/three/40",
        "frets/blotches/mirror/30",
        "scrolls/flakes-sharp/mirror/35",
        "scrolls/fine-sharp/untaken/30",
        "frets/fine-sharp/three/35",
        "frame/flakes-sharp/mirror/30",
    ],
    "other habits": [
        "frets/bands/mirror/30",
        "scrolls/chips-sharp/untaken/30",
        "scrolls/chips-sharp/three/40",
        "frame/pits-sharp/mirror/25",
        "scrolls/flakes-sharp/three/35",
        "frets/chips-sharp/mirror/30",
        "scrolls/bands/mirror/35",
        "frame/bands-sharp/untaken/30",
    ],
    "scratched": [
        "stars/scratches-sharp/mirror/25",
        "stars/scratches/three/30",
        "stars/blotches/mirror/30",
        "scrolls/scratches-sharp/untaken/25",
        "frets/scratches-sharp/mirror/20",
    ],
    "never tuned on": [
        "stars/wiped/mirror/25",
        "scrolls/wiped-sharp/untaken/20",
        "frets/wiped/three/30",
        "scrolls/crazed-sharp/mirror/25",
        "frame/crazed/three/30",
        "stars/crazed/untaken/20",
    ],
    "eaten": [
        "scrolls/creeping/mirror/20",
        "frame/creeping-sharp/mirror/15",
        "frets/creeping-sharp/three/20",
        "scrolls/creeping-sharp/untaken/15",
    ],
    "eaten otherwise": [
        "stars/seeping/three/15",
        "scrolls/seeping-sharp/mirror/12",
        "frets/mottled/mirror/15",
        "frame/mottled-sharp/untaken/12",
    ],
    "at work": [
        "scrolls/smeared/mirror/12",
        "frets/smeared/three/15",
        "scrolls/lifted/mirror/15",
        "frame/lifted/untaken/12",
        "frets/scored/mirror/15",
        "stars/scored/untaken/12",
        "scrolls/polished/three/25",
        "frame/polished/mirror/25",
        "scrolls/littered/mirror/10",
        "frame/littered/untaken/10",
    ],
    "mended": [
        "scrolls/cracked/mirror/15",
        "frets/cracked/three/20",
        "scrolls/fingered/mirror/10",
        "frame/fingered/untaken/10",
        "scrolls/touched_up/mirror/10",
        "frame/touched_up/untaken/8",
        "frets/touched_up/three/12",
    ],
    "by hand": [
        "scrolls/blotches-byhand/mirror/20",
        "frets/blotches-byhand/three/20",
        "frame/blotches-byhand/untaken/20",
        "stars/fine-byhand/mirror/15",
    ],
}


@dataclass(frozen=True)
class Worn:
    """An ornament, what was gathered of it and drawn ungraded, and where its paint still stands."""

    ornament: Ornament
    gathered: object
    drawing: object
    evidence: dict
    seconds: float


def flakes(rng, shape, share):
    """Islands flaked off between cracks: cells about points, of about a millimetre."""
    h, w = shape
    count = int(h * w / PPM**2 / 1.1)
    seeds = np.ones(shape, np.uint8)
    at = rng.integers(0, (h, w), (count, 2))
    seeds[at[:, 0], at[:, 1]] = 0
    _, cells = cv2.distanceTransformWithLabels(
        seeds, cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
    )
    heap = wear_level(rng, shape, 9.0)
    own = rng.normal(0, 0.8, cells.max() + 1)[cells] + heap
    return own < np.quantile(own[::8, ::8], share)


def wear_level(rng, shape, grain_mm):
    h, w = shape
    small = rng.normal(0, 1, (int(h / PPM / grain_mm) + 4, int(w / PPM / grain_mm) + 4))
    return cv2.resize(small.astype(np.float32), (w, h), interpolation=cv2.INTER_CUBIC)


def chips(rng, shape, share):
    """Chips with straight edges, of one to five millimetres, until so much is gone."""
    out = np.zeros(shape, np.uint8)
    while out.mean() < share:
        for _ in range(25):
            size, count = rng.uniform(0.5, 2.6) * PPM, int(rng.integers(3, 6))
            turn = np.sort(rng.uniform(0, 2 * np.pi, count))
            ring = size * rng.uniform(0.5, 1.2, (count, 1)) * np.c_[np.cos(turn), np.sin(turn)]
            middle = rng.uniform((0, 0), shape[::-1])
            cv2.fillPoly(out, [np.round((ring + middle) * 16).astype(np.int32)], 1, cv2.LINE_8, 4)
    return out > 0


def bands(rng, shape, share):
    """Rubbed in long bands that all run about one way."""
    h, w = shape
    turn, heap = rng.uniform(0, np.pi), np.zeros(shape, np.float32)
    y, x = np.mgrid[0:h, 0:w].astype(np.float32) / PPM
    for grain, weight in ((6.0, 1.0), (2.5, 0.5), (1.0, 0.15)):
        across = (np.cos(turn) * x + np.sin(turn) * y) / grain
        along = (np.cos(turn) * y - np.sin(turn) * x) / (grain * 6)
        small = rng.normal(0, 1, (256, 64)).astype(np.float32)
        u, v = (along % 60).astype(np.float32), (across % 250).astype(np.float32)
        heap += weight * cv2.remap(small, u, v, cv2.INTER_CUBIC)
    return heap < np.quantile(heap[::8, ::8], share)


def pits(rng, shape, share):
    """Round pits of a third to two millimetres, until so much is gone."""
    out = np.zeros(shape, np.uint8)
    while out.mean() < share:
        for _ in range(50):
            middle = np.round(rng.uniform((0, 0), shape[::-1]) * 16).astype(int)
            radius = 0.18 * rng.pareto(2.2) + 0.17
            radius = int(min(radius, 1.0) * PPM * 16)
            cv2.circle(out, tuple(int(v) for v in middle), radius, 1, -1, cv2.LINE_8, 4)
    return out > 0


def scratches(rng, shape, share):
    """Scratched by straight and slightly bent lines, every way, until so much is gone."""
    out = np.zeros(shape, np.uint8)
    while out.mean() < share:
        for _ in range(20):
            turn, long = rng.uniform(0, np.pi), rng.uniform(3, 50) * PPM
            t = np.linspace(-0.5, 0.5, 30)
            bend = rng.normal(0, 0.02) * long
            line = np.c_[t * long, bend * t * t] @ np.array(
                [[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]
            )
            line += rng.uniform((0, 0), shape[::-1])
            wide = max(1, round(rng.uniform(0.15, 1.2) * PPM))
            cv2.polylines(out, [np.round(line).astype(np.int32)], False, 1, wide)
    return out > 0


def wiped(rng, shape, share):
    """Wiped with a gritty rag: bundles of fine arcs about an elbow, broken off here and there."""
    out = np.zeros(shape, np.uint8)
    size = np.array(shape[::-1]) / PPM
    while out.mean() < share:
        middle = rng.uniform(0.1, 0.9, 2) * size
        reach, at = rng.uniform(25, 140), rng.uniform(0, 2 * np.pi)
        elbow = middle - reach * np.array([np.cos(at), np.sin(at)])
        swing, wide = rng.uniform(10, 40) / reach, rng.uniform(3, 14)
        for _ in range(int(rng.integers(5, 40))):
            begin = at + rng.normal(0, 0.5) * swing
            turn = np.linspace(begin, begin + (rng.exponential(0.5) + 0.05) * swing, 90)
            radius = reach + wide * rng.normal(0, 0.4)
            arc = elbow + radius * np.column_stack([np.cos(turn), np.sin(turn)])
            thick = max(1, round(float(np.clip(rng.lognormal(-1.5, 0.6), 0.08, 1.0)) * PPM))
            line = [np.round(arc * PPM * 16).astype(np.int32)]
            cv2.polylines(out, line, False, 1, thick, cv2.LINE_8, 4)
    return out > 0


def crazed(rng, shape, share):
    """Crazed by drying: flaked away along the cracks of a net of two sizes, more in some places."""
    h, w = shape
    away = np.full(shape, np.inf, np.float32)
    for apart, more in ((9.0, 0.0), (3.2, 0.35)):
        count = int(h * w / (PPM * apart) ** 2) + 4
        seeds = np.ones(shape, np.uint8)
        at = rng.integers(0, (h, w), (count, 2))
        seeds[at[:, 0], at[:, 1]] = 0
        _, cells = cv2.distanceTransformWithLabels(
            seeds, cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
        )
        solid = np.ones(shape, np.uint8)
        solid[:, 1:] &= cells[:, 1:] == cells[:, :-1]
        solid[1:] &= cells[1:] == cells[:-1]
        crack = cv2.distanceTransform(solid, cv2.DIST_L2, 5) / PPM + more
        away = np.minimum(away, crack * np.exp(0.7 * wear_level(rng, shape, 0.9)))
    away *= np.exp(0.9 * wear_level(rng, shape, 12.0))
    return away < np.quantile(away[::8, ::8], share)


def creeping(rng, paint, share):
    """Eaten from its rims inwards, as by verdigris: here and there, and unevenly."""
    depth = cv2.distanceTransform((paint > 127).astype(np.uint8), cv2.DIST_L2, 5) / PPM
    eaten = np.exp(
        0.9 * wear_level(rng, paint.shape, 7.0) + 0.5 * wear_level(rng, paint.shape, 0.7)
    )
    eaten *= wear_level(rng, paint.shape, 5.0) > -0.2
    reach = depth / np.maximum(eaten, 1e-6)
    return reach < np.quantile(reach[depth > 0], share)


def seeping(rng, paint, share):
    """Eaten from one side only: what faces one way is pushed in, by more here than there."""
    h, w = paint.shape
    turn = rng.uniform(0, 2 * np.pi)
    y, x = np.mgrid[0:h, 0:w].astype(np.float32)
    heap = np.clip(coloured(rng, paint.shape, 2.0, 3.0) + 0.4, 0, None)
    low, high = 0.0, 1.5
    for _ in range(9):
        deep = np.float32((low + high) / 2 * PPM) * heap
        u, v = x - deep * np.float32(np.cos(turn)), y - deep * np.float32(np.sin(turn))
        pushed = cv2.remap(paint, u, v, cv2.INTER_LINEAR)
        lost = (paint > 127) & (pushed <= 127)
        if lost.sum() > share * np.count_nonzero(paint > 127):
            high = (low + high) / 2
        else:
            low = (low + high) / 2
    return lost


def mottled(rng, paint, share):
    """Eaten where a cloud says so, by steps of a pixel, however often the cloud is passed."""
    heap = coloured(rng, paint.shape, 1.2, 2.0)
    left = (paint > 127).astype(np.uint8)
    whole, level = left.sum(), np.quantile(heap, 0.45)
    cross = cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3))
    while left.sum() > (1 - share) * whole and level < heap.max():
        left = np.where(heap > level, cv2.erode(left, cross), left)
        level += 0.25
    return (paint > 127) & (left == 0)


def nibbled(rng, paint, share):
    """Round bites out of the rims, of a tenth to a millimetre, crowded here and there."""
    gilt = (paint > 127).astype(np.uint8)
    rim = np.argwhere(gilt & (cv2.erode(gilt, np.ones((3, 3), np.uint8)) == 0))
    liked = np.exp(1.5 * coloured(rng, paint.shape, 4.0, 2.0)[rim[:, 0], rim[:, 1]])
    out, whole = np.zeros(paint.shape, np.uint8), gilt.sum()
    while np.count_nonzero(out & gilt) < share * whole:
        for row, column in rim[rng.choice(len(rim), 80, p=liked / liked.sum())]:
            radius = 0.1 + min(rng.exponential(0.13), 0.9)
            middle = int(column * 16 + 8), int(row * 16 + 8)
            cv2.circle(out, middle, int(radius * PPM * 16), 1, -1, cv2.LINE_8, 4)
    return (out & gilt) > 0


def grown(rng, paint, share):
    """Eaten grain by grain: what has bare ground beside it goes by chance, sooner where damp."""
    left = (paint > 127).astype(np.uint8)
    damp = 1.0 / (1.0 + np.exp(3.5 - 2.0 * coloured(rng, paint.shape, 6.0, 2.5)))
    whole = left.sum()
    beside = np.ones((3, 3), np.float32) / 9.0
    while left.sum() > (1 - share) * whole:
        bare = 1.0 - cv2.filter2D(left.astype(np.float32), -1, beside)
        left[(rng.random(left.shape) < 2.0 * bare * damp) & (left > 0)] = 0
    # what is left must hold together to be seen at all
    left = cv2.medianBlur(left, 5)
    return (paint > 127) & (left == 0)


def coloured(rng, shape, longest_mm, power):
    """Noise of unit spread whose waves fade by a power of their number, none much longer."""
    rough = np.fft.rfft2(rng.normal(0, 1, shape))
    ky, kx = np.fft.fftfreq(shape[0])[:, None] * PPM, np.fft.rfftfreq(shape[1])[None] * PPM
    rough *= (1.0 + np.hypot(ky, kx) * longest_mm * 2) ** -power
    out = np.fft.irfft2(rough, shape)
    return (out / out.std()).astype(np.float32)


def stars(rng, box):
    """Stars in rings, each tied to the next by a pair of waves that cross."""
    left, top, right, bottom = box
    step, parts = rng.uniform(15, 19), []
    for y in np.arange(top + step / 2, bottom - step / 3, step):
        for x in np.arange(left + step / 2, right - step / 3, step):
            points, long, turn = int(rng.integers(4, 9)), 0.3 * step, rng.uniform(0, np.pi)
            around = turn + np.arange(2 * points) * np.pi / points
            reach = long * np.where(np.arange(2 * points) % 2, rng.uniform(0.35, 0.55), 1.0)
            parts.append(
                shapely.Polygon(np.c_[x + reach * np.cos(around), y + reach * np.sin(around)])
            )
            ring = shapely.Point(x, y).buffer(0.4 * step, 64).boundary
            parts.append(ring.buffer(rng.uniform(0.15, 0.35)))
        u = np.linspace(left + 2, right - 2, 900)
        for sign in (1, -1):
            wave = np.c_[u, y + sign * 0.46 * step * np.cos(2 * np.pi * (u - left) / step)]
            parts.append(shapely.LineString(wave).buffer(rng.uniform(0.12, 0.3)))
    whole = shapely.union_all(parts)
    return shapely.MultiPolygon([p for p in shapely.get_parts(whole) if p.area > 0.05])


WEARS = {
    "blotches": lambda rng, shape, share: wear(rng, shape, PPM, share, 7.0),
    "fine": lambda rng, shape, share: wear(rng, shape, PPM, share, 4.0),
    "flakes": flakes,
    "chips": chips,
    "bands": bands,
    "pits": pits,
    "scratches": scratches,
    "wiped": wiped,
    "crazed": crazed,
    "creeping": creeping,
    "seeping": seeping,
    "mottled": mottled,
    "nibbled": nibbled,
    "grown": grown,
}
EATEN = {
    "creeping",
    "seeping",
    "mottled",
    "nibbled",
    "grown",
}  # wear that begins at the outline, and is told where that lies
ORNAMENTS = {
    "scrolls": lambda rng, box: scrollwork(rng, box, scrolls=9).gilt,
    "frame": scrolls_and_dots,
    "frets": fret_and_vines,
    "stars": stars,
}


def repainted(rng, gilt):
    """The same ornament by another hand: strokes a little elsewhere and of other widths."""
    waves = [
        (rng.normal(0, 2 * np.pi / rng.uniform(12, 40, 2)), rng.uniform(0, 2 * np.pi), one)
        for one in rng.normal(0, 0.06, (6, 2))
    ]

    def elsewhere(q):
        return q + sum(np.sin(q @ way + at)[:, None] * by for way, at, by in waves)

    parts = [part.segmentize(0.3).buffer(rng.normal(0, 0.04)) for part in gilt.geoms]
    one = shapely.union_all([shapely.transform(part, elsewhere).buffer(0) for part in parts])
    return one if one.geom_type == "MultiPolygon" else shapely.MultiPolygon([one])


def made(case: str, seed: int) -> Worn:
    """A case, up to its grades."""
    what, how, evidence, share = case.split("/")
    kind, _, sharp = how.partition("-")
    rng = np.random.default_rng([seed, zlib.crc32(case.encode())])
    mirrored = evidence in ("mirror", "untaken")
    gilt = ORNAMENTS[what](rng, (BOX[0], BOX[1], MIDDLE - 1.0, BOX[3]) if mirrored else BOX)
    if mirrored:
        twin = shapely.transform(gilt, lambda q: q * (-1, 1) + (2 * MIDDLE, 0))
        twin = repainted(rng, twin) if sharp == "byhand" else twin
        gilt = shapely.MultiPolygon([*gilt.geoms, *twin.geoms])
    ornament = Ornament(gilt)
    paint, truth = painted(ornament, SIZE, PPM), ornament.outline(0.05)
    maps, alive, lost = [], [], None
    by_themselves = AT_WORK | MENDED
    for n in range(3 if evidence == "three" else 1):
        if n and sharp == "byhand":
            paint = painted(Ornament(repainted(rng, gilt)), SIZE, PPM)
        if kind in by_themselves:
            left, lost = by_themselves[kind](rng, paint, PPM, int(share) / 100)
            maps.append(_photographed(255.0 * left, rng, moved=n > 0))
        else:
            of = paint if kind in EATEN else paint.shape
            lost = WEARS[kind](rng, of, int(share) / 100)
            maps.append(_seen(paint, lost, rng, sharp=sharp == "sharp", moved=n > 0))
        alive.append(survives(lost, PPM, ornament, truth))
    begin = time.perf_counter()
    names = ["here", "second", "third"][: len(maps)]
    axis = "auto" if evidence == "mirror" else None
    gathered, _ = gather_and_bridge(maps, names, None, mirror=axis, repeat=None)
    if evidence == "untaken":
        gathered, _, _ = doubted_by_mirror(gathered)
    drawing = trace(gathered.coverage, PPM, (0.0, 0.0))
    here, any_ = alive[0], np.any(alive, axis=0)
    if evidence == "mirror":
        any_ = here | survives(lost, PPM, ornament, truth * (-1, 1) + (2 * MIDDLE, 0))
    seconds = time.perf_counter() - begin
    return Worn(ornament, gathered, drawing, {"here": here, "any": any_}, seconds)


def _seen(paint, lost, rng, *, sharp: bool, moved: bool) -> GiltMap:
    """What a camera would have shown: worn, softened, a little elsewhere, blurred and grained."""
    left = 1.0 - lost.astype(np.float32)
    if not sharp:
        left = cv2.GaussianBlur(left, (0, 0), 0.04 * PPM)
    return _photographed(paint.astype(np.float32) * left, rng, moved=moved)


def _photographed(shown, rng, *, moved: bool) -> GiltMap:
    """What a camera makes of it: a little elsewhere, blurred and grained."""
    if moved:
        turn, (dx, dy) = np.deg2rad(rng.normal(0, 0.4)), rng.normal(0, 0.5, 2) * PPM
        c, s = np.cos(turn), np.sin(turn)
        h, w = shown.shape
        matrix = np.array([[c, -s, dx + w / 2 * (1 - c)], [s, c, dy - w / 2 * s]])
        shown = cv2.warpAffine(shown, matrix, (w, h), flags=cv2.INTER_LINEAR)
    shown = cv2.GaussianBlur(shown, (0, 0), 0.7) + rng.normal(0, 4.0, shown.shape)
    return gilt_map(np.clip(shown, 0, 255).astype(np.uint8), PPM)


def told(case: str, worn: Worn) -> tuple[float, ...]:
    """Right by place, by way; seen is true by place, by way; printed with what was mistaken."""
    drawing = graded(worn.drawing, worn.gathered)
    shares, confusion = graded_as_owed(drawing, worn.ornament, worn.evidence)
    (right, seen), (right_here, seen_here) = shares
    known = knowing(drawing, worn.ornament, worn.evidence)
    figures = (right_here, right, seen_here, seen)
    print(
        f"{case:<34} right {right_here:.3f} (knowing {known:.3f}) {right:.3f}"
        f"  seen is true {seen_here:.3f} {seen:.3f}"
        f"  {sum(p.lengths.sum() for p in drawing.paths):.0f} mm  {worn.seconds:.0f} s",
        f" {confusion}",
        flush=True,
    )
    return figures


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("cases", nargs="*", help="sets or cases; all sets when left out")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kept", type=Path, help="keep what was gathered, to be graded again")
    chosen = parser.parse_args()
    for name in chosen.cases or SETS:
        figures = []
        for case in SETS.get(name, [name]):
            kept = None
            if chosen.kept is not None:
                chosen.kept.mkdir(parents=True, exist_ok=True)
                kept = chosen.kept / f"{case.replace('/', '_')}_{chosen.seed}.pickle"
            if kept is not None and kept.exists():
                worn = pickle.loads(kept.read_bytes())
            else:
                worn = made(case, chosen.seed)
                if kept is not None:
                    kept.write_bytes(pickle.dumps(worn))
            figures.append(told(case, worn))
        mean, least = np.mean(figures, axis=0), np.min(figures, axis=0)
        print(f"{name}: mean {np.round(mean, 4)}, least {np.round(least, 3)}", flush=True)


if __name__ == "__main__":
    main()
