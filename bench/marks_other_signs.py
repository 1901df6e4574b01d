"""What tells a place that shows no figure: fitted on tuning plates, looked at on plates unseen.

    python bench/marks_other_signs.py looks OUT.npy --seed 1 --plates 60
    python bench/marks_other_signs.py fit OUT.npy [OUT.npy ...]
    python bench/marks_other_signs.py read --seed 7001 --plates 24

Rows of figures among which none to four places hold a letter of the same face, or two figures one
over the other. `looks` takes plates of `struck_plates.py` with tuning faces, whose marks are struck
by that maker's own code; `read` takes those of `eaten_plates.py` with faces never tuned on, and
tells how many places are over 0.9 and wrong.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import cv2
import numpy as np
from scipy.optimize import minimize

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests" / "truth"), str(ROOT / "bench")]

from marks_learning import pits, places_of, relief_of  # noqa: E402
from PIL import Image, ImageDraw, ImageFont  # noqa: E402

import struck_plates as maker  # noqa: E402
from eaten_plates import FACES, eaten_plate, seen_normals  # noqa: E402
from ironlace.marks.reading import read_marks as reader  # noqa: E402
from ironlace.marks.reading.bare_metal import bare_metal, overlaid  # noqa: E402
from ironlace.marks.reading.known_shapes import (  # noqa: E402
    WIDE,
    held_down,
    shapes_from_pictures,
)
from ironlace.marks.reading.letter_shapes import letter_strikes  # noqa: E402
from ironlace.marks.reading.numeral_styles import GLYPHS, TALL  # noqa: E402
from ironlace.marks.reading.other_signs import Judge, oddities_of, odds_of_others  # noqa: E402
from ironlace.marks.reading.relief_slopes import grain_of, slopes_from_normals  # noqa: E402
from ironlace.workshop.marks.reading_files import learned  # noqa: E402

LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"
TUNING = ("serif", "mono", "roman", "sans light", "text bold")
WEARS = {"struck": (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8), "eaten": (0.2, 0.4, 0.6, 0.8)}
UNITS = Judge((1.0, 0.0, 0.0), 0.0), Judge((0.0, 1.0, 0.0), 0.0), Judge((0.0, 0.0, 1.0), 0.0)


def inked(face: str, glyph: str, tall: int = 240):
    """A figure or letter of a tuning face, as high as its figures stand among each other."""
    file, narrower = maker._OF_A_FACE[face]
    edge, path = tall // 10, maker._font_file(file)
    boxes = [ImageFont.truetype(path, tall).getbbox(g) for g in GLYPHS]
    font = ImageFont.truetype(path, round(tall * tall / max(b[3] - b[1] for b in boxes)))
    left, top, right, bottom = font.getbbox(glyph)
    paper = Image.new("L", (right - left + 2 * edge, bottom - top + 2 * edge), 0)
    ImageDraw.Draw(paper).text((edge - left, edge - top), glyph, 255, font=font)
    wide = max(1, round(paper.width * narrower))
    ink = np.asarray(paper.resize((wide, paper.height)), np.float32) / 255
    lacks = max(tall + 2 * edge - len(ink), 0)
    return np.pad(ink, ((lacks // 2, lacks - lacks // 2), (0, 0)))


def struck(rng, asked, cells):
    """A plate of `struck_plates.py` with what `cells` says at each place."""
    s = asked.mm_per_px
    shape = tuple(round(mm / s) for mm in maker.PLATE_MM[::-1])
    way, marks, found = str(rng.choice(["planed", "shrunk"])), np.zeros(shape, np.float32), []
    pitch, slope = rng.uniform(2.7, 3.3), rng.uniform(0.6, 1.6)
    usual = float(np.exp(rng.uniform(np.log(0.07), np.log(0.2))))
    for row, line in enumerate(cells):
        for index, cell in enumerate(line):
            x, y = rng.normal(0, 0.08 / s, 2) + np.array(shape[::-1]) / 2
            x += (index - (len(line) - 1) / 2) * pitch / s
            y += (row - (len(cells) - 1) / 2) * 6.0 / s
            deep, most = float(np.clip(usual * np.exp(rng.normal(0, 0.15)), 0.05, 0.25)), 0.0
            for n, glyph in enumerate(cell):
                ink = maker._posed(inked(asked.face, glyph), s, np.radians(rng.normal(0, 1.5)))
                part = deep * (rng.uniform(0.7, 1.1) if n else 1.0)
                left = maker._worn(
                    maker._stroke_depth(rng, ink, part, slope, s), deep, asked.wear, way, s
                )
                off = rng.normal(0, 0.12 / s, 2) if n else (0.0, 0.0)
                maker._paste(marks, left, x + off[0], y + off[1])
                most = max(most, float(left.max()))
            found.append(maker.StruckDigit(row, index, x, y, cell, deep, most))
    gaps, dots, in_gaps = maker._gaps(rng, asked, found, shape, way)
    surface = str(rng.choice(["rubbed", "crusted", "scratched"]))
    rust = maker._pits(rng, asked, float(np.exp(rng.uniform(-1.2, 0.7))), shape) + in_gaps
    height = maker._ground(rng, shape, s, surface) - np.maximum(marks + dots, rust)
    height = cv2.GaussianBlur(height.astype(np.float32), (0, 0), 0.4)
    shapes = {g: inked(asked.face, g) for g in GLYPHS}
    return maker.Plate(asked, height, tuple(found), tuple(gaps), 1.0, surface, shapes)


def row(rng, odd: int, letters: bool):
    cells = [str(k) for k in rng.integers(0, 10, 9)]
    for k in rng.permutation(9)[:odd]:
        pair = "".join(str(g) for g in rng.permutation(10)[:2])
        cells[k] = LETTERS[rng.integers(len(LETTERS))] if letters else pair
    return cells


def plates(kind: str, seed: int, count: int):
    """Plates with their slopes and places, one at a time."""
    faces = TUNING if kind == "struck" else FACES
    for k in range(count):
        rng = np.random.default_rng([seed, k])
        odd, letters = int(rng.choice(5, p=[0.25, 0.2, 0.2, 0.15, 0.2])), bool(rng.integers(2))
        cells = [row(rng, odd, letters) for _ in range(rng.choice([1, 2], p=[0.7, 0.3]))]
        asked = maker.Asked(
            wear=WEARS[kind][k % len(WEARS[kind])], face=faces[(k // 2) % len(faces)],
            mm_per_px=float(rng.uniform(0.02, 0.025)), **pits(rng),
        )  # fmt: skip
        maker.PLATE_MM = (34.0, 7.0 + 6.0 * len(cells))
        if kind == "struck":
            plate = struck(rng, asked, cells)
            normals, _ = relief_of(rng, plate)
        else:
            plate = eaten_plate(rng, asked, cells, plate_mm=maker.PLATE_MM)
            normals = seen_normals(rng, plate)
        yield plate, slopes_from_normals(normals, asked.mm_per_px), places_of(rng, plate)


def is_odd(plate):
    return np.array([len(d.glyph) > 1 or not d.glyph.isdigit() for d in plate.digits])


def looks(relief, places, shapes):
    """What each place of a plate shows for the judge, places x 3."""
    digits = [p for p in places if p.kind == "digit"]
    grain = grain_of(relief, digits[0].height_px / TALL)
    bare = bare_metal(relief, places, grain, np.random.default_rng(1))
    held = [
        held_down(relief.patch(d.x_px, d.y_px, d.height_px / TALL, WIDE), grain) for d in digits
    ]
    laid = reader._figures_laid(shapes, GLYPHS, None)
    over = overlaid(np.concatenate([laid.strikes, letter_strikes()]), held, bare)
    odd = oddities_of(held, over.places, over.bare, laid.strikes, *laid.figures)
    return np.column_stack([odds_of_others(odd, one) for one in UNITS])


def fit(files):
    """Weights of the three signs by logistic regression, and what they tell of plates left out."""
    found = [one for f in files for one in np.load(f, allow_pickle=True).tolist()]
    for name in ("given", "not given"):
        x, y = (np.concatenate([one[k] for one in found]) for k in (name, "odd"))
        plate = np.repeat(np.arange(len(found)), [len(one["odd"]) for one in found])
        told = np.empty(len(y))
        for part in range(8):
            told[plate % 8 == part] = judged(x[plate % 8 != part], y[plate % 8 != part])(
                x[plate % 8 == part]
            )
        above = told[y] > np.quantile(told[~y], 0.98)
        lost = float(np.mean(np.logaddexp(0, told) - y * told))
        whole = judged(x, y)
        weights = [
            float(whole(np.eye(3)[k][None])[0] - whole(np.zeros((1, 3)))[0]) for k in (0, 1, 2)
        ]
        off = float(whole(np.zeros((1, 3)))[0]) - float(np.log(y.mean() / (1 - y.mean())))
        print(f"{name}: lost {lost:.3f} a place, {above.mean():.3f} told at 2 % of sound ones")
        print(f"  weights {np.round(weights, 2)}, off {off:.2f}")


def judged(x, y):
    spread = x.std(axis=0)
    laid = np.column_stack([x / spread, np.ones(len(x))])

    def lost(b):
        z = laid @ b
        back = laid.T @ (1 / (1 + np.exp(-z)) - y)
        return (np.logaddexp(0, z) - y * z).sum() + 0.5 * (b[:3] ** 2).sum(), back + np.append(
            b[:3], 0
        )

    b = minimize(lost, np.zeros(4), jac=True, method="L-BFGS-B").x
    return lambda at: at / spread @ b[:3] + b[3]


def read(seed: int, count: int):
    kinds: dict[tuple[str, str], list[tuple[bool, bool]]] = {}
    for plate, relief, places in plates("eaten", seed, count):
        for name, shapes in (("given", shapes_from_pictures(plate.shapes)), ("not given", None)):
            told = reader.read_marks(
                relief, places, learned(), np.random.default_rng(1), shapes=shapes
            )
            for d, truth, odd in zip(told.digits, plate.digits, is_odd(plate), strict=True):
                kind = "sound" if not odd else "pair" if len(truth.glyph) > 1 else "letter"
                best = max(d.p, key=d.p.get)
                kinds.setdefault((name, kind), []).append((d.p[best] > 0.9, best == truth.glyph))
    for (name, kind), found in sorted(kinds.items()):
        sure, right = np.array(found).T
        print(f"{kind}, {name}: {len(sure)}, over 0.9 and wrong {(sure & ~right).mean():.3f}, "
              f"under 0.9 {(~sure).mean():.3f}, right {right.mean():.3f}")  # fmt: skip


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("what", choices=("looks", "fit", "read"))
    asked.add_argument("files", type=Path, nargs="*")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--plates", type=int, default=60)
    given = asked.parse_args()
    if given.what == "fit":
        fit(given.files)
    elif given.what == "read":
        read(given.seed, given.plates)
    else:
        found = []
        for plate, relief, places in plates("struck", given.seed, given.plates):
            own = shapes_from_pictures(plate.shapes)
            found.append({
                "odd": is_odd(plate),
                "given": looks(relief, places, own),
                "not given": looks(relief, places, None),
            })  # fmt: skip
            np.save(given.files[0], np.array(found, dtype=object), allow_pickle=True)


if __name__ == "__main__":
    main()
