"""What no one asks for: what is said of plates, places and shapes that are not what they should be.

    python bench/marks_unasked.py --seed 41 --wear 0.2 --face demi
    python bench/marks_unasked.py --seed 61 --wear 0.2 --face script --only letters pairs

Plates of other habits (`tests/truth/eaten_plates.py`), one row of nine, read with the shapes struck
and without. Of each case: refused, or how many of the places at fault are over 0.9 and wrong and
how many are told by name; how many of the others are right, and doubted.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests" / "truth"), str(ROOT / "bench")]

from marks_learning import pits, places_of  # noqa: E402

import eaten_plates  # noqa: E402
from eaten_plates import eaten_plate, inked, seen_normals  # noqa: E402
from ironlace.marks.errors import MarksError  # noqa: E402
from ironlace.marks.reading.known_shapes import shapes_from_pictures  # noqa: E402
from ironlace.marks.reading.read_marks import read_marks  # noqa: E402
from ironlace.marks.reading.relief_slopes import slopes_from_normals  # noqa: E402
from ironlace.workshop.marks.reading_files import learned  # noqa: E402
from struck_plates import Asked  # noqa: E402

FIGURES = "0123456789"


def struck(rng, face, wear, cells, tall=2.4):
    """A plate of so many rows, digits so high."""
    eaten_plates.TALL_MM = tall
    asked = Asked(wear=wear, face=face, mm_per_px=0.0225, **pits(rng))
    plate = eaten_plate(rng, asked, cells, plate_mm=(34.0, 7.0 + 6.0 * len(cells)))
    eaten_plates.TALL_MM = 2.4
    return plate


def row(rng, odd=()):
    cells = [str(k) for k in rng.permutation(10)[:9]]
    for k, sign in zip((1, 3, 5, 7), odd, strict=False):
        cells[k] = sign
    return cells


def hurt(rng, plate, how):
    """A scratch over, or a screw hole in, the places of the digits 2, 4 and 6."""
    ys, xs = np.mgrid[: plate.height.shape[0], : plate.height.shape[1]]
    for k in (1, 3, 5):
        d = plate.digits[k]
        x, y = (xs - d.x_px) * plate.mm_per_px, (ys - d.y_px) * plate.mm_per_px
        if how == "hole":
            cut = 0.8 * np.clip((rng.uniform(0.7, 1.0) - np.hypot(x, y)) / 0.15 + 0.5, 0, 1)
        else:
            way = rng.uniform(0, np.pi)
            off = np.abs(x * np.sin(way) - y * np.cos(way) + rng.uniform(-0.3, 0.3))
            cut = rng.uniform(0.1, 0.3) * np.clip(1 - off / rng.uniform(0.15, 0.35), 0, 1)
        plate.height[:] = np.minimum(plate.height, -cut.astype(np.float32))
    return plate


def cases(rng, face, wear):
    """Name, plate, places at fault, and how places and shapes are changed."""

    def same(places):
        return places

    def all_(shapes):
        return shapes

    def one(odd=(), made=None):
        return made or struck(rng, face, wear, [row(rng, odd)])

    odd = (1, 3, 5, 7)
    yield "as it should be", one(), (), same, all_
    yield "letters", one("SBAZ"), odd, same, all_
    yield "O, I and letters", one(("O", "I", "G", "K")), odd, same, all_
    yield "two figures", one(("38", "17", "05", "64")), odd, same, all_
    bounced = [str(rng.integers(10)) * 2 for _ in range(4)]
    yield "struck twice", one(bounced), (), same, all_
    yield "nothing struck", one(("", "", "")), odd[:3], same, all_
    yield "screw hole", hurt(rng, one(), "hole"), (1, 3, 5), same, all_
    yield "scratch", hurt(rng, one(), "scratch"), (), same, all_
    low = struck(rng, face, wear, [row(rng)], 1.8)
    tall = struck(rng, face, wear, [row(rng)])
    half = tall.height.shape[1] // 2
    mixed = replace(tall, height=np.hstack([tall.height[:, :half], low.height[:, half:]]),
                    digits=tall.digits[:4] + low.digits[5:])  # fmt: skip
    yield "a half of it 1.8 mm high", mixed, (4, 5, 6, 7), same, all_
    two = struck(rng, face, wear, [row(rng), row(rng)])
    middle = two.height.shape[0] // 2
    two.height[middle:] = two.height[middle:][::-1, ::-1]
    turned = [replace(d, x_px=two.height.shape[1] - 1 - d.x_px,
                      y_px=two.height.shape[0] + middle - 1 - d.y_px) if d.row else d
              for d in two.digits]  # fmt: skip
    digits = tuple(turned[:9]) + tuple(
        replace(d, index=k) for k, d in enumerate(sorted(turned[9:], key=lambda d: d.x_px))
    )
    yield "a row upside down", replace(two, digits=digits), range(9, 18), same, all_
    for size in (1.4, 0.7):
        yield (f"heights {size} times", one(), range(9),
               lambda p, size=size: [replace(q, height_px=q.height_px * size) for q in p],
               all_)  # fmt: skip
    yield "6 and 9 exchanged", one(), range(9), same, lambda s: {**s, "6": s["9"], "9": s["6"]}
    yield (
        "shapes named one off",
        one(),
        range(9),
        same,
        lambda s: {g: s[FIGURES[k - 9]] for k, g in enumerate(FIGURES)},
    )
    yield (
        "shapes of another face",
        one(),
        range(9),
        same,
        lambda s: {g: inked("italic" if face != "italic" else "demi", g) for g in s},
    )
    plate = one(("8", "3", "5", "8"))
    yield "the 8 lacks", plate, [k for k, d in enumerate(plate.digits) if d.glyph == "8"], same, \
        lambda s: {g: ink for g, ink in s.items() if g != "8"}  # fmt: skip


def said_of(plate, faulty, relief, places, shapes, glyphs):
    try:
        read = read_marks(relief, places, learned(), np.random.default_rng(1), shapes=shapes,
                          glyphs=glyphs)  # fmt: skip
    except MarksError as refused:
        return f"refused: {str(refused)[:60]}"
    named = " ".join(read.remarks)
    faults, sound, told, right, doubted, sure = list(faulty), 0, 0, 0, 0, 0
    for k, (d, truth) in enumerate(zip(read.digits, plate.digits, strict=True)):
        best = max(d.p, key=d.p.get)
        glyph = truth.glyph[:1] if len(set(truth.glyph)) == 1 else truth.glyph
        if k in faults:
            sure += d.p[best] > 0.9 and best != glyph
            told += d.p[best] < 0.9
        else:
            sound += 1
            right += best == glyph
            doubted += d.p[best] < 0.9
    return (
        f"at fault {len(faults)}: over 0.9 and wrong {sure}, under 0.9 {told}; others {sound}: "
        f"right {right}, under 0.9 {doubted}; {named[:150]}"
    )


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seed", type=int, default=41)
    asked.add_argument("--wear", type=float, default=0.2)
    asked.add_argument("--face", default="demi")
    asked.add_argument("--only", nargs="*", default=[])
    given = asked.parse_args()
    rng = np.random.default_rng(given.seed)
    for name, plate, faulty, move, change in cases(rng, given.face, given.wear):
        relief = slopes_from_normals(seen_normals(rng, plate), plate.mm_per_px)
        places = move(places_of(rng, plate))
        if given.only and name not in given.only:
            continue
        pictures = change(plate.shapes)
        for words, shapes, glyphs in (
            ("given", shapes_from_pictures(pictures), "".join(sorted(pictures))),
            ("not given", None, FIGURES),
        ):
            if words == "not given" and pictures.keys() != plate.shapes.keys():
                continue
            print(f"{name}, {words}: ", said_of(plate, faulty, relief, places, shapes, glyphs),
                  flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
