"""Stencils measured: proof on generated ornaments, bridges against the optimum, time by size.

Run: python bench/stencils.py [ornaments] [--large] [part ...]; 200 ornaments take some minutes. The
parts are optimum, size, whole, command, changed, moved, proof; all of them if none is named.
"""

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import shapely

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "truth"))

import optimum
import ornaments
from ironlace.ornament.stencils import (
    BridgeLine,
    StencilError,
    Wishes,
    cut_plan,
    forbidden_at,
    known_process,
    plan_sheets,
    read_filled,
    sheet_dxf,
)
from ironlace.ornament.stencils.bridges.choice import HoldWanted, _Search, choose_spans
from ironlace.ornament.stencils.bridges.ground import Ground
from ironlace.ornament.stencils.bridges.spans import find_spans
from ironlace.ornament.stencils.parts import shores
from ironlace.ornament.stencils.planning.falling import extents
from ironlace.ornament.stencils.planning.layer_plan import prepare

PROCESS = known_process("film-laser")


def problem(region):
    shore = shores(region)
    extent = extents(shore.outlines)
    count = np.array([0, *(PROCESS.bridges_wanted(e) for e in extent)])
    spans = find_spans(region, shore, PROCESS.bridge_width_mm)
    clear = PROCESS.bridge_width_mm + PROCESS.least_opening_mm
    return spans, HoldWanted(count, np.concatenate([[0.0], extent * PROCESS.anchor_spread]), clear)


def proof(count: int) -> None:
    bad, failed = [], []
    true, off, stray, sheets, travel, hand = [], [], [], [], [], []
    bound, seeds = [], []
    for seed in range(count):
        svg = ornaments.ornament(seed)
        try:
            bridged = plan_sheets(svg, PROCESS, "bridges")
            split = plan_sheets(svg, PROCESS, "split")
        except StencilError as error:
            failed.append((seed, str(error)))
            continue
        for plan in (bridged, split):
            ways = [cut_plan(sheet, PROCESS) for sheet in plan.sheets]
            travel += [way.travel_mm / max(way.nearest_travel_mm, 1e-9) for way in ways]
            bad += [
                (seed, plan.hold, s["name"], s["pieces"], s["thinnest_mm"])
                for s in plan.report["sheets"]
                if s["pieces"] != 1 or s["thin_webs"]
            ]
        a, b, _ = split.report["proof"][0]["laid"]
        true.append(a["covered"])
        off.append(b["covered"])
        stray.append(b["stray"])
        bound.append(split.report["proof"][0]["least_stray"])
        seeds.append(seed)
        sheets.append(len(split.sheets))
        hand.append(
            bridged.report["proof"][0]["laid"][0]["covered"]
            + bridged.report["touch_in"]["area_mm2"] / bridged.report["drawn_mm2"]
        )
    print(
        f"{count} ornaments, {len(failed)} refused, {len(bad)} sheets not whole or with thin webs"
    )
    for told in (*failed, *bad):
        print("   ", told)
    print(f"split: covered true {min(true):.5f} least, at 0.2 mm {min(off):.5f} least")
    print(
        f"split: stray at 0.2 mm {max(stray):.5f} most; over 0.5 %: {sum(s > 0.005 for s in stray)}"
    )
    for seed, s, least in zip(seeds, stray, bound, strict=True):
        if s > 0.005:
            print(f"    ornament {seed}: stray {s:.5f}, and no split strays less than {least:.5f}")
    print(f"split: sheets {dict(zip(*np.unique(sheets, return_counts=True), strict=True))}")
    print(f"bridges: covered with what is touched in by hand {min(hand):.5f} least")
    print(
        f"travel over nearest-neighbour travel: {np.mean(travel):.3f} mean, {max(travel):.3f} most"
    )


def against_optimum(cases: int) -> None:
    ratios = []
    for seed in range(cases):
        svg = ornaments.net(np.random.default_rng(1000 + seed), int(4 + seed % 9))
        spans, wanted = problem(read_filled(svg).region)
        chosen = choose_spans(spans, wanted)
        apart = _Search(spans, wanted, None).apart
        least, _ = optimum.least_weight(
            spans.part_a, spans.part_b, spans.at_a, spans.at_b, spans.weight, wanted.count, apart
        )
        ratios.append(float(spans.weight[chosen].sum() / least))
    print(f"up to 12 islands, {cases} cases: {np.mean(ratios):.4f} mean, {max(ratios):.4f} most")


def by_size(sizes) -> None:
    for size in sizes:
        region = read_filled(ornaments.net(np.random.default_rng(3), size)).region
        start = time.process_time()
        spans, wanted = problem(region)
        found = time.process_time()
        chosen = choose_spans(spans, wanted)
        chose = time.process_time()
        ground = Ground(region, PROCESS.bridge_width_mm)
        held = ground.without(spans.at_a[chosen], spans.at_b[chosen])
        end = time.process_time()
        holes = int(shapely.get_num_interior_rings(shapely.get_parts(held)).sum())
        print(
            f"{size:6d} islands: places {found - start:.2f} s, choice {chose - found:.2f} s, "
            f"building {end - chose:.2f} s, together {end - start:.2f} s CPU; "
            f"{len(chosen)} bridges, {holes} islands left loose"
        )


def whole(sizes) -> None:
    """Everything the command does: from the SVG's text to sheets with proof and their files."""
    for size in sizes:
        svg = ornaments.net(np.random.default_rng(3), size)
        for hold in ("bridges", "split"):
            if hold == "split" and size > 2000:
                continue
            times: dict[str, float] = {}
            last = ["reading", time.process_time()]

            def tell(stage: str, _share: float, last=last, times=times) -> None:
                now = time.process_time()
                times[last[0]] = times.get(last[0], 0.0) + now - last[1]
                last[:] = [stage.partition(" #")[0], now]

            plan = plan_sheets(svg, PROCESS, hold, progress=tell)
            begun = time.process_time()
            written = sum(len(s.svg()) + len(sheet_dxf(s)) for s in plan.sheets)
            files = time.process_time() - begun
            told = ", ".join(f"{stage} {seconds:.1f}" for stage, seconds in times.items())
            total = sum(times.values()) + files
            print(
                f"{size:6d} islands, {hold}: {total:.1f} s CPU ({told}, files {files:.1f}); "
                f"{total / (size * np.log2(size)) * 1e3:.2f} ms per n log2 n, "
                f"{written / 1e6:.0f} MB"
            )


def changed(seeds) -> None:
    """One change in the browser: all other bridges kept, one forbidden, planned and proven."""
    took = []
    for seed in seeds:
        svg = ornaments.ornament(seed)
        plan = plan_sheets(svg, PROCESS, "bridges")
        lines = [b.line for b in plan.layers[0].bridges]
        if not lines:
            continue
        wishes = Wishes(kept=tuple(lines), forbidden=(forbidden_at(lines[0], PROCESS),))
        begun = time.perf_counter()
        plan_sheets(svg, PROCESS, "bridges", wishes=wishes)
        took.append(time.perf_counter() - begun)
    print(
        f"a bridge forbidden, {len(took)} ornaments: {np.median(took):.2f} s median, "
        f"{max(took):.2f} s most"
    )


def command(sizes) -> None:
    """The command itself as a process: Python's start, the plan, every file and the laying PDF."""
    with tempfile.TemporaryDirectory() as folder:
        for size in sizes:
            drawing = Path(folder) / f"net-{size}.svg"
            drawing.write_text(ornaments.net(np.random.default_rng(3), size), encoding="utf-8")
            for hold in ("bridges", "split"):
                words = ["ornament", "stencil", str(drawing), "--process", "film-laser"]
                words += ["--hold", hold, "--out", str(Path(folder) / f"{hold}-{size}")]
                before = resource.getrusage(resource.RUSAGE_CHILDREN)
                subprocess.run(
                    [sys.executable, "-m", "ironlace", *words], check=True, capture_output=True
                )
                after = resource.getrusage(resource.RUSAGE_CHILDREN)
                took = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
                # the most of any so far
                print(
                    f"{size:6d} islands, {hold}, the command: {took:.1f} s CPU, "
                    f"{after.ru_maxrss / 1024:.0f} MB at most"
                )


def moved(sizes) -> None:
    """A bridge moved or forbidden by turns, all others kept, by what is remembered.

    Then one moved where nothing is, as of a drawing read from disk.
    """
    for size in sizes:
        svg = ornaments.net(np.random.default_rng(3), size)
        for hold in ("bridges", "split"):
            prepared = prepare(svg, PROCESS, hold)
            plan = plan_sheets(svg, PROCESS, hold, prepared=prepared)
            took = []
            for change in range(9):
                if change == 8:
                    prepared = prepare(svg, PROCESS, hold)
                lines = [b.line for b in plan.layers[0].bridges]
                gone = lines.pop((len(lines) // 2 + 37 * change) % len(lines))
                along = np.array([gone.bx - gone.ax, gone.by - gone.ay])
                x, y = 0.6 * np.array([-along[1], along[0]]) / np.linalg.norm(along)
                to = BridgeLine(gone.ax + x, gone.ay + y, gone.bx + x, gone.by + y)
                wishes = (
                    Wishes(kept=tuple(lines), forbidden=(forbidden_at(gone, PROCESS),))
                    if change % 2
                    else Wishes(locked=(to,), kept=tuple(lines))
                )
                begun = time.process_time()
                plan = plan_sheets(svg, PROCESS, hold, prepared=prepared, wishes=wishes)
                took.append(time.process_time() - begun)
            *told, cold = took
            print(
                f"a bridge moved or forbidden at {size} islands, {hold}, eight times one after "
                f"another: {np.median(told):.2f} s CPU median, {max(told):.2f} most; with nothing "
                f"remembered {cold:.2f}"
            )


if __name__ == "__main__":
    words = sys.argv[1:]
    counts = [int(a) for a in words if a.isdigit()]
    parts = {
        "optimum": lambda: against_optimum(20),
        "size": lambda: by_size([100, 1000, 2000, *([10_000] if "--large" in words else [])]),
        "whole": lambda: whole([100, 1000, 2000, *([10_000] if "--large" in words else [])]),
        "command": lambda: command([200, 2000]),
        "changed": lambda: changed(range(40)),
        "moved": lambda: moved([200, 2000]),
        "proof": lambda: proof(counts[0] if counts else 200),
    }
    named = [word for word in words if not word.isdigit() and word != "--large"]
    if unknown := [word for word in named if word not in parts]:
        sys.exit(f"No such part: {', '.join(unknown)}. There are {', '.join(parts)}.")
    for name in named or parts:
        parts[name]()
