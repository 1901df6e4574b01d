"""Shadows on the work: is the gilt in them drawn, or told to be out of sight?

    python bench/photographs_in_shadow.py [family ...] [--cases N] [--seed N]

The scene is thrown forwards by `thrown_light`; the shadow falls on its light before the camera
counts photons, so that noise, tone curve and storing are those of a dark place. What the japan
mirrors is not shaded. *tuned* was looked at while shadows were told; *held back* (other ornament,
other shapes of shadow, other work, another pale reflection) was run once, at the end. *fine* holds
good photographs whose ground varies without any shadow: bare fields, and a pale card mirrored in
one half.
"""

from __future__ import annotations

import argparse
import json
import math
import pickle
import sys
import time
import zlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import shapely
from photographs_at_fault import error_95, seen_95
from photographs_passed_on import fret_and_vines

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests" / "truth"), str(ROOT / "src")]

import thrown_light  # noqa: E402
from ironlace.evidence.errors import IronlaceError  # noqa: E402
from ironlace.ornament import (  # noqa: E402
    TRACE,
    PhotographsToTrace,
    TraceAsked,
    trace_photographs,
)
from ironlace.ornament.trace_stated import stated as told_of  # noqa: E402
from ironlace.photographs import Lens  # noqa: E402
from ray_cast import Photograph, outline_points  # noqa: E402
from thrown_light import Setting  # noqa: E402

Picture = np.ndarray
Ornament = Callable[..., Any]
FLAT = Setting(size=(1760, 1250), soft=0.5, tip=6, turn=-5, jpeg=90, margin=23)
ARM = Setting(size=(1760, 1250), soft=0.5, kind="cylinder", radius=58, tip=-3, turn=4, jpeg=90)
TAPER = Setting(size=(1760, 1250), soft=0.5, kind="cone", radius=60, half_angle=4, tip=4, jpeg=90)


@dataclass(frozen=True)
class Shaded:
    """A scene, its ornament, what shades it, and what the japan mirrors.

    `ornament` names one of `ORNAMENTS`, `shadow` one of `SHADOWS` or nothing; `left` is the share
    of the light left in it, `soft` how wide its rim is in pixels; `mirrored` is the light that the
    japan mirrors, as a share of white, over the right half alone where it is negative.
    """

    scene: Setting
    ornament: str = "scrolls"
    shadow: str = ""
    left: float = 1.0
    soft: float = 10.0
    mirrored: float = 0.0


def left_half(rng: np.random.Generator, box: tuple[float, ...], **_more: Any) -> Any:
    """Scrolls over the left half, the rest bare."""
    left, top, right, bottom = box
    return thrown_light.scrolls_and_dots(rng, (left, top, (left + right) / 2, bottom))


ORNAMENTS: dict[str, Ornament] = {
    "scrolls": thrown_light.scrolls_and_dots,
    "half": left_half,
    "fret": fret_and_vines,
}


KEPT: list[Path] = []
"""A folder that keeps the light of scenes, if one was named."""
thrown_light.SPOTS = 20  # the pictures here are smaller than its own


@lru_cache(maxsize=8)
def thrown_once(scene: Setting, ornament: str, seed: int) -> tuple[Picture, Picture, Any, Any]:
    """Light of the scene, where paper is in it, gilt and view; made once for all shadows."""
    print_of = zlib.crc32(repr((scene, ornament, seed)).encode())
    file = KEPT[0] / f"light-{print_of:08x}.pickle" if KEPT else None
    if file and file.exists():
        kept: tuple[Picture, Picture, Any, Any] = pickle.loads(file.read_bytes())
        return kept
    made = _thrown(scene, ornament, seed)
    if file:
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(pickle.dumps(made))
    return made


def _thrown(scene: Setting, ornament: str, seed: int) -> tuple[Picture, Picture, Any, Any]:
    rng = np.random.default_rng(seed)
    sheet = thrown_light.strip_sheet(scene.piece)  # type: ignore[arg-type]
    w, h = sheet.size_mm
    m = scene.margin
    gilt = ORNAMENTS[ornament](rng, (m, m, w - m, h - m))
    view = thrown_light._View(scene, (w, h))
    paint = thrown_light._Paint.of(gilt, sheet, scene, rng)
    light = thrown_light._gathered_light(view, paint, scene, rng).astype(np.float32)
    corners = np.array([(0, 0), (w, 0), (w, h), (0, h)], float)
    inner = np.array(sheet.window_mm, float)
    paper = np.zeros(light.shape[:2], np.uint8)
    for ring, value in ((corners, 1), (inner, 0)):
        dense = np.vstack(
            [np.linspace(a, b, 60) for a, b in zip(ring, np.roll(ring, -1, 0), strict=True)]
        )
        px, _ = view.lands(dense[:, 0], dense[:, 1], np.zeros(len(dense)))
        cv2.fillPoly(paper, [np.round(px).astype(np.int32)], value)
    return light, paper > 0, gilt, view


def _oblong(shape: tuple[int, int], rng: np.random.Generator) -> Picture:
    """A telephone held over it."""
    h, w = shape
    box = cv2.boxPoints(
        (
            (w * rng.uniform(0.4, 0.6), h * rng.uniform(0.45, 0.6)),
            (0.28 * w, 0.6 * h),
            rng.uniform(-25, 25),
        )
    )
    return cv2.fillConvexPoly(np.zeros(shape, np.float32), box.astype(np.int32), 1.0)


def _hand(shape: tuple[int, int], rng: np.random.Generator) -> Picture:
    """A palm from below with five fingers spread."""
    h, w = shape
    mask = np.zeros(shape, np.float32)
    palm = (int(w * rng.uniform(0.4, 0.6)), int(0.85 * h))
    cv2.circle(mask, palm, int(0.2 * h), 1.0, -1)
    for turn in np.deg2rad(np.linspace(-150, -30, 5) + rng.uniform(-8, 8, 5)):
        end = (int(palm[0] + 0.55 * h * np.cos(turn)), int(palm[1] + 0.55 * h * np.sin(turn)))
        cv2.line(mask, palm, end, 1.0, int(0.055 * h))
    return mask


def _band(shape: tuple[int, int], rng: np.random.Generator) -> Picture:
    """The machine's own arm: a bar from edge to edge."""
    h, w = shape
    mask = np.zeros(shape, np.float32)
    x = w * rng.uniform(0.35, 0.65)
    lean = w * rng.uniform(-0.15, 0.15)
    cv2.line(mask, (int(x - lean), -20), (int(x + lean), h + 20), 1.0, int(0.22 * w))
    return mask


def _side(shape: tuple[int, int], rng: np.random.Generator) -> Picture:
    """A board beside it that keeps the lamp off one side."""
    h, w = shape
    x = np.arange(w)[None] - w * rng.uniform(0.5, 0.65) + 0.2 * np.arange(h)[:, None]
    return (x > 0.2 * h / 2).astype(np.float32)


def _low(shape: tuple[int, int], _rng: np.random.Generator) -> Picture:
    """Light that falls off evenly towards the lower edge, as at a limb."""
    y = np.linspace(0, 1, shape[0], dtype=np.float32)[:, None]
    return np.broadcast_to(np.clip((y - 0.35) / 0.45, 0, 1), shape).astype(np.float32)


def _leaves(shape: tuple[int, int], rng: np.random.Generator) -> Picture:
    """Foliage before a window: many small patches."""
    grain = rng.normal(size=(24, 34)).astype(np.float32)
    big = cv2.resize(grain, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)
    return (big > 0.45).astype(np.float32)


def _bars(shape: tuple[int, int], rng: np.random.Generator) -> Picture:
    """A blind's slats."""
    h, w = shape
    v, u = np.mgrid[0:h, 0:w].astype(np.float32)
    return (np.sin((v + 0.3 * u) / h * 2 * np.pi * rng.uniform(4, 6)) > 0.4).astype(np.float32)


SHADOWS: dict[str, Callable[..., Picture]] = {
    "oblong": _oblong,
    "hand": _hand,
    "band": _band,
    "side": _side,
    "low": _low,
    "leaves": _leaves,
    "bars": _bars,
}


def photographed(case: Shaded, seed: int) -> Photograph:
    """The scene with its shadow, as the camera stores it."""
    s = case.scene
    rng = np.random.default_rng(seed)
    base = replace(s, grains=1.0, jpeg=90, soft=0.5, contrast=0.1)
    light, paper, gilt, view = thrown_once(base, case.ornament, 7)
    if case.shadow:
        mask = SHADOWS[case.shadow](light.shape[:2], rng)
        if case.soft:
            mask = cv2.GaussianBlur(mask, (0, 0), case.soft)
        light = light * (1 - (1 - case.left) * mask)[..., None]
    if case.mirrored:
        card = (~paper).astype(np.float32) * abs(case.mirrored)
        if case.mirrored < 0:
            card[:, : card.shape[1] // 2] *= 0.05
        light = light + cv2.GaussianBlur(card, (0, 0), 1.0)[..., None]
    picture = thrown_light._film(light.astype(np.float32), s, rng)
    points = outline_points(gilt)
    px, cosine = view.lands(points[:, 0], points[:, 1], np.zeros(len(points)))
    inside = ((px > 2) & (px < np.array(s.size) - 3)).all(axis=1) & (cosine > 0.3)
    focal = view.focal / float(np.hypot(*s.size)) * 43.27
    return Photograph(np.ascontiguousarray(picture), gilt, gilt, points[inside], view.told(), focal)


def cases(family: str, count: int, seed: int) -> list[Shaded]:
    """So many cases of a family."""
    rng = np.random.default_rng(seed)
    out = []
    for n in range(count):
        left = (0.5, 0.3, 0.15, 0.07, 0.05, 0.03)[n % 6]
        soft = (3.0, 12.0, 40.0)[int(rng.integers(3))]
        grains = (1.0, 1.0, 2.5, 4.0)[int(rng.integers(4))]
        jpeg = int(rng.integers(80, 96))
        scene = replace((FLAT, ARM)[n % 2], grains=grains, jpeg=jpeg)
        if family == "tuned":
            shadow = ("oblong", "hand", "band", "side", "low")[int(rng.integers(5))]
            ornament = ("scrolls", "scrolls", "half")[int(rng.integers(3))]
            mirrored = (0.0, 0.0, 0.004)[int(rng.integers(3))]
            out.append(Shaded(scene, ornament, shadow, left, soft, mirrored))
        elif family == "held back":
            shadow = ("leaves", "bars", "hand", "low")[int(rng.integers(4))]
            scene = replace((FLAT, TAPER)[n % 2], exposure=0.6, grains=grains, jpeg=jpeg)
            mirrored = (0.0, 0.008, -0.02)[int(rng.integers(3))]
            out.append(Shaded(scene, "fret", shadow, left, soft, mirrored))
        else:
            exposure = rng.uniform(0.4, 0.85)
            scene = replace(scene, exposure=FLAT.exposure, contrast=(0.1, 0.5)[n % 3 == 2])
            del exposure
            ornament = ("half", "scrolls")[n % 2]
            mirrored = (0.0, 0.004, -0.02, -0.05)[int(rng.integers(4))]
            out.append(Shaded(scene, ornament, "", 1.0, 0.0, mirrored))
    return out


def run(case: Shaded, seed: int) -> dict[str, Any]:
    """Trace it; what was stated, is true, is missing, and missing without being shaded as blind."""
    photo = photographed(case, seed)
    lens = Lens.from_json(json.dumps(photo.lens))
    asked = TraceAsked(strip=case.scene.piece, lens=lens)
    begin = time.process_time()
    try:
        found = trace_photographs(PhotographsToTrace.of([photo.image]), asked)
    except IronlaceError as error:
        return {"refused": str(error)}
    seconds = time.process_time() - begin
    error, missing, false = error_95(found, photo)
    drawn = shapely.MultiLineString(
        [shapely.LinearRing(p.polygon(0.02)) for p in found.drawing.paths]
    )
    tree = shapely.STRtree(shapely.get_parts(drawn.segmentize(3.0)))
    points = shapely.points(photo.visible[:: max(1, len(photo.visible) // 6000)])
    lost = tree.query_nearest(points, return_distance=True, all_matches=False)[1] > 0.3
    blind = shapely.union_all(
        [shapely.Polygon(b.corners_mm).buffer(0.6) for b in found.drawing.blind]
    )
    unsaid = lost & ~shapely.contains(blind, points) if not blind.is_empty else lost
    dark = [
        shapely.Polygon(b.corners_mm).buffer(0) for b in found.drawing.blind if b.why == "too dark"
    ]
    said = TRACE.answer(found).sentences
    how_near = told_of(found.report)
    assert how_near is not None
    withheld = how_near.within_mm is None
    stated = math.nan if withheld else how_near.within_mm
    return {
        "stated": stated,
        "true": error,
        "missing": missing,
        "unsaid": float(np.mean(unsaid)),
        "false": false,
        "dark": float(shapely.union_all(dark).area),
        "drawn": seen_95(found, photo) if "seen" in how_near.of else drawn_95(found, photo),
        "bounded": how_near.of == "the outline",
        "told": " ".join(said[1:2]),
        "seconds": seconds,
    }


def drawn_95(found: Any, photo: Photograph) -> float:
    """The error that 95 % of what is drawn keep within, whatever is missing, mm."""
    points = np.vstack(
        [
            shapely.get_coordinates(shapely.LinearRing(path.polygon(0.005)).segmentize(0.2))
            for path in found.drawing.paths
        ]
    )
    off = shapely.distance(shapely.points(points), photo.drawn_too.boundary)
    return float(np.percentile(off, 95))


def _of_light(row: dict[str, Any]) -> bool:
    """Whether what is told has to do with light."""
    return any(word in row["told"] for word in ("dark", "shadow", "no fall of light"))


def main() -> None:
    """Run the families asked for and sum them up."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("families", nargs="*", default=["tuned"])
    parser.add_argument("--cases", type=int, default=18)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--from-case", type=int, default=0)
    parser.add_argument("--kept", type=Path, help="folder that keeps the light of scenes")
    chosen = parser.parse_args()
    KEPT[:] = [chosen.kept] if chosen.kept else []
    for family in chosen.families:
        rows = []
        for n, case in enumerate(cases(family, chosen.cases, chosen.seed)):
            if n < chosen.from_case:
                continue
            row = run(case, 1000 * chosen.seed + n)
            rows.append(row)
            name = (
                f"{case.scene.kind[:3]} {case.ornament:<7} {case.shadow:<6} {case.left:.2f} "
                f"soft {case.soft:2.0f} grain {case.scene.grains:.1f} mirror {case.mirrored:+.3f}"
            )
            if "refused" in row:
                print(name, "refused:", row["refused"], flush=True)
                continue
            silent = row["true"] > 3 * row["stated"] and not _of_light(row)
            print(
                f"{name} stated {row['stated']:.3f}{'' if row['bounded'] else ' of the drawn'} "
                f"true {row['true']:.3f} of the drawn {row['drawn']:.3f} missing "
                f"{row['missing']:.1%} unsaid {row['unsaid']:.1%} false {row['false']:.1%} "
                f"dark {row['dark']:.0f} mm2 {'SILENT ' if silent else ''}{row['told'][:110]}",
                flush=True,
            )
        done = [row for row in rows if "refused" not in row]
        print(
            f"{family}: {len(rows)} cases, {len(rows) - len(done)} refused, "
            f"{sum(r['true'] > 3 * r['stated'] and not _of_light(r) for r in done)} silent, "
            f"{sum(_of_light(r) for r in done)} told of it; first sentence off over 3 times in "
            f"{sum(r['true' if r['bounded'] else 'drawn'] > 3 * r['stated'] for r in done)}; "
            f"missing {np.mean([r['missing'] for r in done]):.3f}, "
            f"of it unsaid {np.mean([r['unsaid'] for r in done]):.3f}, false "
            f"{np.mean([r['false'] for r in done]):.4f}",
            flush=True,
        )


if __name__ == "__main__":
    main()
