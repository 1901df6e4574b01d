"""Strikes gone wrong: are they told, or read surely as what they are not?

    python bench/marks_misstruck.py --seed 51 --wear 0.2 --face demi [--single] [--only bounced]
    python bench/marks_misstruck.py --seed 60 --rows 3 --only corrected "three over one another"

One row of nine of which the places 2, 4, 6 and 8 are at fault, read without shapes and (unless
`--single`) with them. Struck by code of its own: strokes of a font's outline, sunk by a V-nosed
punch, each fault by its own geometry; no rust but a grain. Faults: one figure struck over another,
a punch that bounced (two depths, 0.1 to 0.4 mm apart), a punch held upside down, a figure that runs
off the picture's edge, or off the casting's, which is rounded and falls away; a punch held so far
askew that a third to two thirds of it struck, one that overlaps the next figure, one cut the wrong
way round, strokes filled with paint to a tenth to a half of their depth. Of a 6 or a 9 upside
down nothing in the metal can tell; it is counted apart.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import cv2
import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests" / "truth")]

import eaten_plates  # noqa: E402
from eaten_plates import inked  # noqa: E402
from ironlace.marks.reading.known_shapes import shapes_from_pictures  # noqa: E402
from ironlace.marks.reading.places import Place  # noqa: E402
from ironlace.marks.reading.read_marks import read_marks  # noqa: E402
from ironlace.marks.reading.relief_slopes import (  # noqa: E402
    slopes_from_normals,
    slopes_from_photograph,
)
from ironlace.workshop.marks.reading_files import learned  # noqa: E402

SCALE, TALL_MM, PITCH = 0.0225, 2.4, 3.0
AT = (1, 3, 5, 7)
CASES = (
    "as it should be", "overstruck", "bounced", "upside down", "off the edge", "corrected",
    "three over one another", "a letter", "off the casting", "half struck", "overlapping",
    "mirrored", "painted",
)  # fmt: skip
LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"


def sunk(ink, deep, worn, turn=0.0):
    """A figure's depth, mm: a V-nosed punch, flattened by wear."""
    per = TALL_MM / SCALE / (ink.shape[0] - 40)
    side = int(max(ink.shape) * per) + 8
    move = cv2.getRotationMatrix2D(((ink.shape[1] - 1) / 2, (ink.shape[0] - 1) / 2), turn, per)
    move[:, 2] += side / 2 - np.array([ink.shape[1], ink.shape[0]]) / 2
    laid = cv2.warpAffine(ink, move, (side, side)) > 0.5
    depth = np.minimum(cv2.distanceTransform(laid.astype(np.uint8), cv2.DIST_L2, 3) * SCALE, deep)
    return cv2.GaussianBlur(depth * (1 - worn), (0, 0), 1 + 2 * worn)


def askew(rng, depth):
    """A strike of which one side alone went in."""
    way, rows, cols = rng.uniform(0, 2 * np.pi), *np.nonzero(depth)
    along = np.cos(way) * (np.arange(depth.shape[1]) - cols.mean()) + np.sin(way) * (
        np.arange(depth.shape[0])[:, None] - rows.mean()
    )
    inked_ = along[rows, cols]
    end = np.quantile(inked_, rng.uniform(0.33, 0.67))
    rise = np.clip((along - inked_.min()) / (end - inked_.min()), 0, None)
    return np.maximum(depth - rise * depth.max(), 0)


def strike(height, depth, x, y):
    top, left = round(y - depth.shape[0] / 2), round(x - depth.shape[1] / 2)
    a, b = max(top, 0), max(left, 0)
    c, d = min(top + depth.shape[0], height.shape[0]), min(left + depth.shape[1], height.shape[1])
    part = depth[a - top : c - top, b - left : d - left]
    height[a:c, b:d] = np.minimum(height[a:c, b:d], -part)


def faulty(rng, case, face, worn):
    """Heights, mm; what is struck, what may be said of each place, and where the places lie."""
    shape = (round(9 / SCALE), round(33 / SCALE))
    height = np.zeros(shape, np.float32)
    middle = shape[0] / 2 if case != "off the edge" else TALL_MM / 2 / SCALE
    edge = (middle - TALL_MM / 2 / SCALE) - 0.3 / SCALE  # the row where the casting ends
    truth, places = [], []
    for k, figure in enumerate(str(g) for g in rng.permutation(10)[:9]):
        letter = k in AT and case == "a letter"
        glyph = LETTERS[rng.integers(len(LETTERS))] if letter else figure
        deep = rng.uniform(0.1, 0.16)
        x, y = shape[1] / 2 + (k - 4) * PITCH / SCALE, middle
        meant = glyph
        depth = sunk(inked(face, glyph), deep, worn, rng.normal(0, 1))
        if k in AT and case == "corrected":
            depth = np.maximum(depth - rng.uniform(0.1, 0.7) * depth.max(), 0)
        again = {"corrected": 1, "three over one another": 2}.get(case, 0) if k in AT else 0
        for _ in range(again):
            meant += str((int(meant[-1]) + rng.integers(1, 10)) % 10)
            over = sunk(
                inked(face, meant[-1]), deep * rng.uniform(0.8, 1.2), worn, rng.uniform(-4, 4)
            )
            strike(height, over, x + rng.uniform(-0.3, 0.3) / SCALE / 1.4,
                   y + rng.uniform(-0.3, 0.3) / SCALE / 1.4)  # fmt: skip
        if k in AT and case == "overstruck":
            meant = str((int(glyph) + rng.integers(1, 10)) % 10)
            over = sunk(inked(face, meant), deep * rng.uniform(1, 1.4), worn, rng.normal(0, 1))
            strike(height, over, *(np.array([x, y]) + rng.normal(0, 0.06 / SCALE, 2)))
        if k in AT and case == "bounced":
            way, far = rng.uniform(0, 2 * np.pi), rng.uniform(0.1, 0.4) / SCALE
            strike(height, depth * rng.uniform(0.4, 0.9), x + far * np.cos(way),
                   y + far * np.sin(way))  # fmt: skip
        if k in AT and case == "upside down":
            depth = depth[::-1, ::-1]
        if k in AT and case == "mirrored":
            depth = depth[:, ::-1]
        if k in AT and case == "half struck":
            depth = askew(rng, depth)
        if k in AT and case == "painted":
            depth = np.minimum(depth, rng.uniform(0.1, 0.5) * depth.max())
        if k in AT and case == "overlapping":
            x += rng.uniform(1.8, 2.2) / SCALE
        if k in AT and case in ("off the edge", "off the casting"):
            y -= rng.uniform(0.25, 0.5) * TALL_MM / SCALE + (0.3 / SCALE) * ("casting" in case)
        strike(height, depth, x, y)
        truth.append((glyph, meant))
        far = rng.normal(0, 0.04 / SCALE, 2)
        places.append(Place("digit", 0, k, x + far[0], y + far[1], TALL_MM / SCALE))
    if case == "off the casting":
        beyond = np.clip((edge - np.arange(shape[0])) * SCALE / 0.3, 0, None)[:, None]
        fall = 0.3 * (1 - np.sqrt(1 - np.clip(beyond, 0, 1) ** 2))
        height = np.where(beyond > 0, np.minimum(height * (beyond < 1), -fall), height)
        height = height.astype(np.float32)
    height += 0.0025 * cv2.GaussianBlur(rng.standard_normal(shape).astype(np.float32), (0, 0), 2.0)
    return cv2.GaussianBlur(height, (0, 0), 0.7), truth, places


def normals_of(rng, height):
    down, right = np.gradient(height, SCALE)
    noise = rng.normal(0, np.radians(1.5), (2, *height.shape)).astype(np.float32)
    right, down = (p + cv2.GaussianBlur(n, (0, 0), 0.7) for p, n in zip((right, down), noise,
                                                                       strict=True))  # fmt: skip
    n = np.dstack([-right, down, np.ones_like(right)])
    return (n / np.linalg.norm(n, axis=2, keepdims=True)).astype(np.float32)


def seen(rng, height, single):
    """The plate as the reader sees it: its normals, or what one torch shows of them."""
    normals = normals_of(rng, height)
    if not single:
        return slopes_from_normals(normals, SCALE)
    azimuth, high = rng.uniform(0, 360), rng.uniform(18, 32)
    a, e = np.radians(azimuth), np.radians(high)
    to = np.array([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)])
    light = np.clip(normals @ to, 0.01, None) * np.exp(rng.normal(0, 0.04, height.shape))
    return slopes_from_photograph(light.astype(np.float32), azimuth, high, SCALE)


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seed", type=int, default=51)
    asked.add_argument("--wear", type=float, default=0.2)
    asked.add_argument("--face", default="demi")
    asked.add_argument("--only", nargs="*", default=CASES)
    asked.add_argument("--single", action="store_true")
    asked.add_argument("--rows", type=int, default=1)
    given = asked.parse_args()
    if given.face.endswith((".ttf", ".otf")):
        eaten_plates._FILES[given.face] = (given.face, 1.0)
    shares: dict[tuple[str, str, str], list[tuple[bool, bool]]] = {}
    for case, row in ((case, row) for case in given.only for row in range(given.rows)):
        rng = np.random.default_rng([given.seed, CASES.index(case), *([row] if row else [])])
        height, truth, places = faulty(rng, case, given.face, given.wear)
        relief = seen(rng, height, given.single)
        pictures = {g: inked(given.face, g) for g in "0123456789"}
        for words, shapes in (("given", shapes_from_pictures(pictures)), ("not given", None)):
            if given.single and shapes is not None:
                continue
            read = read_marks(relief, places, learned(), np.random.default_rng(1), shapes=shapes)
            said = []
            for k, (d, (glyph, meant)) in enumerate(zip(read.digits, truth, strict=True)):
                best = max(d.p, key=d.p.get)
                kind = "at fault" if k in AT and case != CASES[0] else "sound"
                found = shares.setdefault((case, words, kind), [])
                found.append((d.p[best] > 0.9, glyph == meant == best))
                what = glyph if glyph == meant else f"{glyph}+{meant}"
                if k in AT or best != glyph:
                    said.append(f"{'' if k in AT else 'sound '}{what} as {best} {d.p[best]:.2f}")
            print(f"{case}, {words}: {'; '.join(said)} | {' '.join(read.remarks)[:200]}",
                  flush=True)  # fmt: skip
    for (case, words, kind), found in sorted(shares.items()):
        sure, right = np.array(found).T
        print(f"{case}, {words}, {kind}: {len(sure)}, over 0.9 and wrong "
              f"{(sure & ~right).mean():.3f}, under 0.9 {(~sure).mean():.3f}")  # fmt: skip


if __name__ == "__main__":
    main()
