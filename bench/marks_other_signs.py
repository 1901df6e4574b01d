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
from ironlace.marks.reading.other_signs import oddities_of, signs_of  # noqa: E402
from ironlace.marks.reading.relief_slopes import grain_of, slopes_from_normals  # noqa: E402
from ironlace.workshop.marks.reading_files import learned  # noqa: E402

LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"
TUNING = ("serif", "mono", "roman", "sans light", "text bold")
WEARS = {"struck": (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8), "eaten": (0.2, 0.4, 0.6, 0.8)}


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


def kinds_of(plate):
    """0 for one figure, 1 for a pair, 2 for a letter; digits."""
    return np.array(
        [1 if len(d.glyph) > 1 else 0 if d.glyph.isdigit() else 2 for d in plate.digits]
    )


def looks(relief, places, shapes):
    """What each place of a plate shows for the judge, places x 4."""
    digits = [p for p in places if p.kind == "digit"]
    grain = grain_of(relief, digits[0].height_px / TALL)
    bare = bare_metal(relief, places, grain, np.random.default_rng(1))
    held = [
        held_down(relief.patch(d.x_px, d.y_px, d.height_px / TALL, WIDE), grain) for d in digits
    ]
    laid = reader._figures_laid(shapes, GLYPHS, None)
    over = overlaid(np.concatenate([laid.strikes, letter_strikes()]), held, bare)
    return signs_of(oddities_of(held, over.places, over.bare, laid.strikes, *laid.figures))


def fit(files):
    """Weights of the four signs by logistic regression, and what they tell of plates left out."""
    found = [one for f in files for one in np.load(f, allow_pickle=True).tolist()]
    kind = np.concatenate([one["kind"] for one in found])
    plate = np.repeat(np.arange(len(found)), [len(one["kind"]) for one in found])
    for name in ("given", "not given"):
        x = np.concatenate([one[name] for one in found])
        told = np.empty(len(x))
        for part in range(8):
            by = judged(x[plate % 8 != part], kind[plate % 8 != part])
            here = np.column_stack([x, np.ones(len(x))])[plate % 8 == part] @ by.T
            told[plate % 8 == part] = np.logaddexp(*here.T)
        odd, limit = kind > 0, np.quantile(told[kind == 0], 0.98)
        lost = float(np.mean(np.logaddexp(0, told) - odd * told))
        print(f"{name}: lost {lost:.3f} a place, told at 2 % of sound ones "
              f"{(told[kind == 1] > limit).mean():.3f} of pairs and "
              f"{(told[kind == 2] > limit).mean():.3f} of letters")  # fmt: skip
        by = judged(x, kind)
        by[:, -1] -= np.log(np.bincount(kind, minlength=3)[1:] / (kind == 0).sum())
        print(f"  pair {np.round(by[0], 2)}, sign {np.round(by[1], 2)}")


def judged(x, kind):
    """Weights of the signs, and what is added, for a pair and a letter; 2 x 5."""
    spread = x.std(axis=0)
    laid = np.column_stack([x / spread, np.ones(len(x))])
    free = np.array([[1, 0, 1, 1, 1], [1, 1, 1, 0, 1]], float)
    held = free * [1, 1, 1, 1, 0]

    def lost(b):
        b = b.reshape(2, 5) * free
        z = np.column_stack([np.zeros(len(laid)), laid @ b.T])
        whole = np.logaddexp.reduce(z, axis=1)
        off = np.exp(z - whole[:, None]) - np.eye(3)[kind]
        back = (off[:, 1:].T @ laid) * free + held * b
        lost = (whole - z[np.arange(len(kind)), kind]).sum() + 0.5 * (held * b**2).sum()
        return lost, back.ravel()

    b = minimize(lost, np.zeros(10), jac=True, method="L-BFGS-B").x.reshape(2, 5) * free
    b[:, :-1] /= spread
    return b


def read(seed: int, count: int):
    kinds: dict[tuple[str, str], list[tuple[bool, bool]]] = {}
    for plate, relief, places in plates("eaten", seed, count):
        for name, shapes in (("given", shapes_from_pictures(plate.shapes)), ("not given", None)):
            told = reader.read_marks(
                relief, places, learned(), np.random.default_rng(1), shapes=shapes
            )
            for d, truth, odd in zip(told.digits, plate.digits, kinds_of(plate), strict=True):
                kind = ("sound", "pair", "letter")[odd]
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
                "kind": kinds_of(plate),
                "given": looks(relief, places, own),
                "not given": looks(relief, places, None),
            })  # fmt: skip
            np.save(given.files[0], np.array(found, dtype=object), allow_pickle=True)


if __name__ == "__main__":
    main()
