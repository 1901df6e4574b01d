"""How true the traced ornament is: every case rendered by code that shares nothing with the solver.

    python bench/ornament_truth.py [case ...] [--seed N]

Prints, for each row of the goal table, what was asked and what was measured.
"""

from __future__ import annotations

import argparse
import json
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import shapely

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests" / "truth"), str(ROOT / "src")]

from darkroom import (  # noqa: E402
    Ornament,
    Shot,
    _distance_to,
    glyphs,
    outline_errors,
    painted,
    photograph,
    scrollwork,
    survives,
    wear,
)
from ironlace.ornament import TRACE, PhotographsToTrace, TraceAsked, trace_photographs  # noqa: E402
from ironlace.ornament.outline.drawing import filled_area  # noqa: E402
from ironlace.photographs import Lens, strip_sheet  # noqa: E402

PPM = 32.0
FRAME, WRAP = strip_sheet("frame"), strip_sheet("wrap")
FLAT_SHOT = Shot(distance_mm=292, focal_px=4650, tilt_deg=8, roll_deg=1, aim_mm=(128, 93))
ROUND_SHOT = Shot(distance_mm=290, focal_px=4650, tilt_deg=6, aim_mm=(100, 65))


def traced(images, sheet, shot, **options):
    begin = time.perf_counter()
    asked = TraceAsked(
        layout_csv=sheet.layout.to_csv(),
        lens=Lens.from_json(json.dumps(shot.lens)),
        surface=shot.surface,
        **options,
    )
    result = trace_photographs(PhotographsToTrace.of(images), asked)
    return result, time.perf_counter() - begin


def rings_of(drawing):
    return [p.polygon(0.002) for p in drawing.paths]


def lines_of(rings):
    return shapely.MultiLineString([np.vstack([r, r[:1]]) for r in rings])


def say(case: str, *figures: str) -> None:
    print(f"{case:<22} " + "  ".join(figures), flush=True)


def clean(case: str, ornament: Ornament, sheet, shot, rng, goal: tuple[float, float]) -> None:
    image = photograph(ornament, sheet, shot, rng)
    result, seconds = traced([image], sheet, shot)
    forth, back = outline_errors(rings_of(result.drawing), ornament)
    both = np.concatenate([forth, back])
    say(
        case,
        f"mean {both.mean():.4f} (<= {goal[0]})",
        f"95 % {np.percentile(both, 95):.4f} (<= {goal[1]}) mm",
        f"false {np.mean(forth > 0.3):.2%} missing {np.mean(back > 0.3):.2%}",
        f"each stroke {too_wide(result.drawing, ornament):+.4f} mm wider",
        f"nodes {result.drawing.nodes}",
        f"{result.report['photographs'][0]['px_per_mm']:.1f} px/mm",
        f"{seconds:.1f} s",
        str(result.report["photographs"][0]["surface"]),
    )
    if ornament.hairlines:
        hairlines(case, ornament, result.drawing)


def too_wide(drawing, ornament: Ornament) -> float:
    """By how much strokes came out wider on the whole: twice the area's excess by the outline."""
    excess = filled_area(drawing.paths, 0.002).area - ornament.gilt.area
    return 2.0 * excess / ornament.gilt.length


def hairlines(case: str, ornament: Ornament, drawing) -> None:
    rings = [shapely.Polygon(r) for r in rings_of(drawing)]
    area = shapely.Polygon()
    for ring in sorted((r if r.is_valid else r.buffer(0) for r in rings), key=lambda r: -r.area):
        area = area.symmetric_difference(ring)
    found, total, errors = 0, 0, []
    shapely.prepare(area)
    for centre, width in ornament.hairlines:
        d = np.gradient(centre, axis=0)
        normal = np.column_stack([-d[:, 1], d[:, 0]]) / np.linalg.norm(d, axis=1, keepdims=True)
        for p, n in list(zip(centre, normal, strict=True))[3:-3]:
            total += 1
            across = shapely.LineString([p - 0.8 * n, p + 0.8 * n])
            if ornament.gilt.intersection(across).length > 1.3 * width:
                total -= 1  # another stroke crosses here
                continue
            part = area.intersection(across).length
            if area.buffer(0.1).contains(shapely.Point(p)) and part > 0:
                found += 1
                errors.append(abs(part - width))
    if total:
        say(
            f"  hairlines {case}",
            f"found {found / total:.2%} (>= 99 %)",
            f"width error {np.mean(errors):.4f} mm (<= 0.05)",
        )


def worn_mirror(case: str, rng, share: float = 0.3, word: str = "", *, taken: bool = True) -> None:
    ornament = scrollwork(rng, (28, 28, 228, 140 if word else 158), scrolls=9, mirror=True)
    if word:  # on one side alone: not to be copied to the other
        letters = glyphs(word, _font(), 11.0, (136.0, 155.0)).gilt
        both = shapely.union_all([ornament.gilt, letters])
        ornament = Ornament(shapely.MultiPolygon(shapely.get_parts(both).tolist()))
    size = (256.0, 186.0)
    paint = painted(ornament, size, PPM)
    lost = wear(rng, paint.shape, PPM, share)
    worn = np.where(lost, 0, paint).astype(np.uint8)
    shot = replace(FLAT_SHOT, glare=False)
    image = photograph(None, FRAME, shot, rng, coverage=(worn, PPM, (0.0, 0.0)))
    result, seconds = traced([image], FRAME, shot, mirror=taken)
    truth = ornament.outline(0.05)
    twin = truth * (-1, 1) + (2 * 128.0, 0)
    here, there = survives(lost, PPM, ornament, truth), survives(lost, PPM, ornament, twin)
    back = _distance_to(truth, lines_of(rings_of(result.drawing)))
    wanted = ~here & there
    forth, _ = outline_errors(rings_of(result.drawing), ornament)
    say(
        case,
        f"recovered {np.mean(back[wanted] <= 0.1):.2%} of what the twin has (>= 97 %)",
        f"all with evidence: mean {back[here | there].mean():.4f} mm",
        f"false strokes {false_strokes(result.drawing, ornament):.2%}",
        f"edges of losses drawn as outline {np.mean(forth > 0.3):.2%}",
        f"nodes {result.drawing.nodes}",
        f"{seconds:.1f} s",
        json.dumps(result.report["gathered"][-1]),
    )
    grades(
        case, result.drawing, ornament, {"here": here, "mirror": here | there if taken else here}
    )
    print("  " + " ".join(TRACE.answer(result).sentences[:2]))


def specimens(case: str, rng, share: float = 0.4) -> None:
    ornament = scrollwork(rng, (28, 28, 228, 158), scrolls=16)
    size = (256.0, 186.0)
    paint = painted(ornament, size, PPM)
    images, alive = [], []
    shots = [
        replace(FLAT_SHOT, glare=False),
        replace(FLAT_SHOT, glare=False, tilt_way_deg=200, roll_deg=-2, aim_mm=(130, 95)),
        replace(FLAT_SHOT, glare=False, tilt_deg=12, tilt_way_deg=120, distance_mm=300),
    ]
    truth = ornament.outline(0.05)
    for n, shot in enumerate(shots):
        lost = wear(rng, paint.shape, PPM, share)
        worn = np.where(lost, 0, paint).astype(np.uint8)
        if n:  # laid by hand a little elsewhere, a little stretched
            worn = _relaid(worn, rng)
        images.append(photograph(None, FRAME, shot, rng, coverage=(worn, PPM, (0.0, 0.0))))
        alive.append(survives(lost, PPM, ornament, truth))
    result, seconds = traced(images, FRAME, shots[0])
    some = np.any(alive, axis=0)
    forth, _ = outline_errors(rings_of(result.drawing), ornament)
    back = _distance_to(truth, lines_of(rings_of(result.drawing)))
    say(
        case,
        f"mean {back[some].mean():.4f} mm where any evidence (<= 0.08)",
        f"95 % {np.percentile(back[some], 95):.4f}",
        f"false strokes {false_strokes(result.drawing, ornament):.2%} (<= 1 %)",
        f"edges of losses drawn as outline {np.mean(forth > 0.3):.2%}",
        f"evidence {some.mean():.1%} of the length",
        f"nodes {result.drawing.nodes}",
        f"{seconds:.1f} s",
    )
    grades(case, result.drawing, ornament, {"here": alive[0], "others": some})


def worn_round(case: str, shot, box, rng, share: float = 0.3) -> None:
    """Hairlines on round work, partly worn away: how much is found of what still stands.

    A place stands where no paint is lost within the hairline's width and a tenth of a millimetre.
    """
    ornament = scrollwork(rng, box, scrolls=7)
    paint = painted(ornament, (200.0, 130.0), PPM)
    lost = wear(rng, paint.shape, PPM, share)
    worn = np.where(lost, 0, paint).astype(np.uint8)
    shot = replace(shot, glare=False)
    image = photograph(None, WRAP, shot, rng, coverage=(worn, PPM, (0.0, 0.0)))
    result, _ = traced([image], WRAP, shot)
    away = cv2.distanceTransform((~lost).astype(np.uint8), cv2.DIST_L2, 5) / PPM
    area = filled_area(result.drawing.paths, 0.002).buffer(0.1)
    stands = found = 0
    for centre, width in ornament.hairlines:
        at = np.clip((centre[3:-3] * PPM).astype(int), 0, np.array(lost.shape[::-1]) - 1)
        whole = centre[3:-3][away[at[:, 1], at[:, 0]] > width / 2 + 0.1]
        stands += len(whole)
        found += int(shapely.contains_xy(area, *whole.T).sum())
    say(
        case,
        f"hairlines found {found / max(stands, 1):.2%} of what stands (>= 98.5 %)",
        f"{stands}",
    )


def _relaid(paint, rng):
    h, w = paint.shape
    turn, move = np.deg2rad(rng.normal(0, 1.0)), rng.normal(0, 1.5, 2) * PPM
    v, u = np.mgrid[0:h:64, 0:w:64].astype(np.float32)
    wave = [0.3 * PPM * np.sin(u / w * 5 + rng.uniform(0, 6)) * np.cos(v / h * 4) for _ in range(2)]
    c, s = np.cos(turn), np.sin(turn)
    x = c * (u - w / 2) - s * (v - h / 2) + w / 2 + move[0] + wave[0]
    y = s * (u - w / 2) + c * (v - h / 2) + h / 2 + move[1] + wave[1]
    # linear: OpenCV's cubic kernel does not reproduce a straight ramp and would ripple the map
    size = (x.shape[1] * 64, x.shape[0] * 64)
    mx, my = (cv2.resize(a.astype(np.float32), size)[:h, :w] for a in (x, y))
    return cv2.remap(paint, mx, my, cv2.INTER_LINEAR)


def false_strokes(drawing, ornament: Ornament) -> float:
    """Share of the drawn outline that lies where no gilt ever was, 0.3 mm and more outside it."""
    rings = rings_of(drawing)
    points = np.vstack(
        [
            shapely.get_coordinates(
                shapely.line_interpolate_point(
                    shapely.LinearRing(r), np.arange(0.025, shapely.LinearRing(r).length, 0.05)
                )
            )
            for r in rings
        ]
    )
    grown = ornament.gilt.buffer(0.3)
    shapely.prepare(grown)
    return float(np.mean(~shapely.contains_xy(grown, points[:, 0], points[:, 1])))


def grades(case: str, drawing, ornament: Ornament, evidence: dict) -> None:
    """Shares of the drawn outline graded as the truth says: seen, from elsewhere, or neither.

    What lies on no true outline (farther than 0.3 mm), or runs across the true outline beside it,
    has no evidence and must be conjectured; without the latter it is told too.
    """
    shares, confusion = graded_as_owed(drawing, ornament, evidence)
    say(
        f"  grades {case}",
        f"right {shares[0][0]:.2%} (>= 95 %), by place alone {shares[1][0]:.2%}",
        f"seen is true {shares[0][1]:.2%} (>= 98.5 %), by place alone {shares[1][1]:.2%}",
        confusion,
    )
    points, _, told, sources, lengths = _told_along(drawing)
    near_one = _near_a_true_one(points, ornament)[1] <= 0.3
    guessed = told == "conjectured"
    guesses = ", ".join(
        f"{name} {lengths[of & near_one].sum() / (mm := lengths[of].sum()):.0%} of {mm:.0f} mm"
        for name in np.unique(sources[guessed])
        for of in [guessed & (sources == name)]
    )
    say(f"  conjecture {case}", "on a true outline (>= 85 %):", guesses or "none")


def graded_as_owed(drawing, ornament: Ornament, evidence: dict):
    """Right and seen is true, by way and by place alone, and what passed for what."""
    by_way, by_place, told, lengths = _owed(drawing, ornament, evidence)
    shares = []
    for owed in (by_way, by_place):
        right = (owed == told) | ((owed == "nowhere") & (told == "conjectured"))
        seen = told == "seen"
        shares.append(
            (
                lengths[right].sum() / lengths.sum(),
                lengths[seen & (owed == "seen")].sum() / max(lengths[seen].sum(), 1e-9),
            )
        )
    pairs = np.char.add(np.char.add(by_way, "->"), told)
    confusion = ", ".join(
        f"{pair} {lengths[pairs == pair].sum() / lengths.sum():.1%}" for pair in np.unique(pairs)
    )
    return shares, confusion


def knowing(drawing, ornament: Ornament, evidence: dict) -> float:
    """How often one who knows every place is right by place, who calls no edge across one true."""
    by_way, by_place, _, lengths = _owed(drawing, ornament, evidence)
    return lengths[by_way == by_place].sum() / lengths.sum()


def _owed(drawing, ornament: Ornament, evidence: dict):
    """The grade that each point along the drawing is owed, by way and by place, and is given."""
    points, ways, told, _, lengths = _told_along(drawing)
    here, any_ = evidence["here"], list(evidence.values())[-1]
    near, distance = _near_a_true_one(points, ornament)
    must = np.where(here[near], "seen", np.where(any_[near], "inferred", "conjectured"))
    by_place = np.where(distance <= 0.3, must, "nowhere")
    by_way = np.where(_along_a_true_one(points, ways, ornament), by_place, "nowhere")
    return by_way, by_place, told, lengths


def _near_a_true_one(points, ornament: Ornament):
    """The nearest of the points 0.05 mm apart on the true outline, and how far it is, mm."""
    tree = shapely.STRtree(shapely.points(ornament.outline(0.05)))
    (_, near), distance = tree.query_nearest(
        shapely.points(points), return_distance=True, all_matches=False
    )
    return near, distance


def _told_along(drawing):
    """Points along the drawn outline, which way it runs, grade, source and length of each."""
    points, ways, grades_, sources, lengths = [], [], [], [], []
    for path in drawing.paths:
        told = zip(path.curves, path.grades, path.sources, path.lengths, strict=True)
        for p, grade, source, length in told:
            n = max(8, int(np.ceil(length / 0.05)))
            t = (np.arange(n) + 0.5)[:, None] / n
            s = 1 - t
            points.append(s**3 * p[0] + 3 * s * s * t * p[1] + 3 * s * t * t * p[2] + t**3 * p[3])
            way = s * s * (p[1] - p[0]) + 2 * s * t * (p[2] - p[1]) + t * t * (p[3] - p[2])
            ways.append(way / np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-9))
            grades_ += [str(grade)] * n
            sources += [source] * n
            lengths += [length / n] * n
    return (
        np.vstack(points),
        np.vstack(ways),
        np.array(grades_),
        np.array(sources),
        np.array(lengths),
    )


def _along_a_true_one(points, ways, ornament: Ornament):
    """Whether a true outline within 0.12 mm runs within 40 degrees of the drawn one."""
    rings = [
        np.asarray(ring.coords)
        for shape in ornament.gilt.geoms
        for ring in (shape.exterior, *shape.interiors)
    ]
    begin = np.vstack([ring[:-1] for ring in rings])
    end = np.vstack([ring[1:] for ring in rings])
    true = (end - begin) / np.maximum(np.linalg.norm(end - begin, axis=1, keepdims=True), 1e-9)
    tree = shapely.STRtree(shapely.linestrings(np.stack([begin, end], axis=1)))
    i, j = tree.query(shapely.points(points), predicate="dwithin", distance=0.12)
    along = np.abs((ways[i] * true[j]).sum(axis=1)) > np.cos(np.deg2rad(40))
    out = np.zeros(len(points), bool)
    out[i[along]] = True
    return out


def nodes_against_potrace(case: str, rng) -> None:
    from ironlace.ornament import Drawing, compare, drawing_from_svg, trace

    ornament = scrollwork(rng, (10, 10, 210, 110), scrolls=14)
    paint = painted(ornament, (220.0, 120.0), 16.0)
    begin = time.perf_counter()
    ours = trace(paint, 16.0, (0.0, 0.0))
    spent = time.perf_counter() - begin
    program = shutil.which("potrace")
    forth, back = outline_errors(rings_of(ours), ornament)
    mine = np.concatenate([forth, back]).mean()
    if program is None:
        say(
            case,
            f"ours {ours.nodes} nodes, mean {mine:.4f} mm, {spent:.2f} s",
            "potrace not installed",
        )
        return
    with tempfile.TemporaryDirectory() as folder:
        source, target = Path(folder) / "a.pgm", Path(folder) / "a.svg"
        bitmap = np.where(paint > 127, 0, 255).astype(np.uint8)
        cv2.imwrite(str(source), bitmap)
        begin = time.perf_counter()
        subprocess.run([program, "-s", "-r", "72", "-o", target, source], check=True)
        other_spent = time.perf_counter() - begin
        text = target.read_text()
    text = text[text.index("<svg") :]
    theirs = drawing_from_svg(text)
    scale = 220.0 / (theirs.bounds_mm[2] - theirs.bounds_mm[0])
    theirs = Drawing(
        tuple(type(p)(p.curves * scale, p.grades, p.sources, p.layer) for p in theirs.paths),
        (0.0, 0.0, 220.0, 120.0),
    )
    forth, back = outline_errors(rings_of(theirs), ornament)
    peer = np.concatenate([forth, back]).mean()
    say(
        case,
        f"nodes {ours.nodes} / {theirs.nodes} = {ours.nodes / theirs.nodes:.2f} (<= 0.6)",
        f"error {mine:.4f} / {peer:.4f} mm",
        f"time {spent:.2f} / {other_spent:.2f} s = {spent / other_spent:.1f} (<= 1)",
        f"apart {compare(ours, theirs).mean_mm:.4f} mm",
    )


CASES = {
    "plane": lambda r: clean(
        "plane", scrollwork(r, (26, 26, 230, 160), scrolls=18), FRAME, FLAT_SHOT, r, (0.04, 0.12)
    ),
    "plane, no glare": lambda r: clean(
        "plane, no glare",
        scrollwork(r, (26, 26, 230, 160), scrolls=18),
        FRAME,
        replace(FLAT_SHOT, glare=False),
        r,
        (0.04, 0.12),
    ),
    "glyphs": lambda r: clean(
        "glyphs",
        glyphs("❦S&❧R", _font(), 50, (30, 110)),
        FRAME,
        replace(FLAT_SHOT, glare=False),
        r,
        (0.04, 0.12),
    ),
    "cylinder": lambda r: clean(
        "cylinder",
        scrollwork(r, (58, 22, 142, 108), scrolls=7),
        WRAP,
        replace(ROUND_SHOT, surface="cylinder", radius_mm=52, axis_deg=88, glare=False),
        r,
        (0.06, 0.18),
    ),
    "cylinder across": lambda r: clean(
        "cylinder across",
        scrollwork(r, (30, 32, 170, 98), scrolls=7),
        WRAP,
        replace(ROUND_SHOT, surface="cylinder", radius_mm=40, axis_deg=2, glare=False),
        r,
        (0.06, 0.18),
    ),
    "cone": lambda r: clean(
        "cone",
        scrollwork(r, (62, 22, 138, 108), scrolls=7),
        WRAP,
        replace(ROUND_SHOT, surface="cone", radius_mm=48, taper=0.11, axis_deg=92, glare=False),
        r,
        (0.06, 0.18),
    ),
    "worn cylinder": lambda r: worn_round(
        "worn cylinder",
        replace(ROUND_SHOT, surface="cylinder", radius_mm=52, axis_deg=88),
        (58, 22, 142, 108),
        r,
    ),
    "worn cone": lambda r: worn_round(
        "worn cone",
        replace(ROUND_SHOT, surface="cone", radius_mm=48, taper=0.11, axis_deg=92),
        (62, 22, 138, 108),
        r,
    ),
    "mirror, 30 % worn": lambda r: worn_mirror("mirror, 30 % worn", r),
    "mirror, and a word": lambda r: worn_mirror("mirror, and a word", r, 0.2, "FEINSTICH"),
    "mirror not taken": lambda r: worn_mirror("mirror not taken", r, taken=False),
    "three, 40 % worn": lambda r: specimens("three, 40 % worn", r),
    "nodes": lambda r: nodes_against_potrace("nodes", r),
}


def _font() -> str:
    import matplotlib

    return str(Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("cases", nargs="*", help="cases to run; all when left out")
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    for name, run in CASES.items():
        if not chosen.cases or any(c in name for c in chosen.cases):
            run(np.random.default_rng(chosen.seed))


if __name__ == "__main__":
    main()
