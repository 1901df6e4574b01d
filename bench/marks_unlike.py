"""Faces unlike all that the reader draws: is what is stated of their digits right, and is it said?

    python bench/marks_unlike.py --seed 5000 --faces held-back --wears 0.3 0.6 0.8 0.9

Plates of 36 x 20 mm, 18 digits, struck by `tests/truth/eaten_plates.py` with the faces of
`strange_faces.py` (`tuned`: those by which settings were chosen; `held-back`: first looked at, then
one power of the reader's chosen by them as well; `fresh`: never), worn soft and planed by turns,
noisy reliefs, shapes not given; `letters` has four letters among the digits.
Told for each plate and each face are what is stated, what is right, digits over 0.9 and wrong,
whether the first sentence says that the face is unlike ours, and processor seconds.
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests" / "truth"), str(ROOT / "src"), str(ROOT / "bench")]

from marks_learning import pits, places_of  # noqa: E402

from eaten_plates import FACES, ODD_FACES, eaten_plate, seen_normals  # noqa: E402
from ironlace.marks.errors import MarksError  # noqa: E402
from ironlace.marks.reading.read_marks import read_marks  # noqa: E402
from ironlace.marks.reading.relief_slopes import slopes_from_normals  # noqa: E402
from ironlace.workshop.marks.reading_files import learned  # noqa: E402
from strange_faces import FRESH, HELD_BACK, TUNED  # noqa: E402
from struck_plates import Asked  # noqa: E402

SETS = {
    "tuned": (*ODD_FACES, *TUNED),
    "held-back": (*HELD_BACK, "letters"),
    "ours": FACES,
    "fresh": FRESH,
}
LETTERS = "ABCDEFGHJKLMNPRSTUVWXYZ"


def plate_of(rng, face, wear, way):
    """A plate of a face; of `letters` four places hold one, in an ordinary face."""
    asked = Asked(wear=wear, face=face, base_rate=0.3, wear_way=way, **pits(rng))
    if face != "letters":
        return eaten_plate(rng, asked)
    cells = [[str(rng.integers(10)) for _ in range(9)] for _ in range(2)]
    for k in rng.choice(18, 4, replace=False):
        cells[k // 9][k % 9] = str(rng.choice(list(LETTERS)))
    return eaten_plate(rng, replace(asked, face="roman bold"), cells)


def told(seed, face, wear, way):
    """Stated, right, over 0.9 and wrong of each digit; whether it is said; seconds."""
    rng = np.random.default_rng([seed, sum(map(ord, face)), round(100 * wear), way == "planed"])
    plate = plate_of(rng, face, wear, way)
    slopes = slopes_from_normals(seen_normals(rng, plate), plate.mm_per_px)
    start = time.process_time()
    try:
        read = read_marks(slopes, places_of(rng, plate), learned(), np.random.default_rng(1))
    except MarksError as refused:
        return None, str(refused)
    rows = []
    for digit, struck in zip(read.digits, plate.digits, strict=True):
        best = max(digit.p, key=digit.p.__getitem__)
        rows.append((digit.p[best], best == struck.glyph))
    first = read.remarks[0] if read.remarks else ""
    said = "said first" if first.startswith("The face is unlike") else "not said"
    return np.array(rows, float), f"{said}, {time.process_time() - start:.1f} s"


def line(rows):
    stated, right = rows.mean(axis=0)
    sure = ((rows[:, 0] > 0.9) & (rows[:, 1] == 0)).mean()
    return f"stated {stated:.2f}  right {right:.2f}  over 0.9 and wrong {sure:.3f}"


def main():
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--seed", type=int, required=True)
    asked.add_argument("--faces", choices=SETS, default="held-back")
    asked.add_argument("--wears", type=float, nargs="+", default=[0.3, 0.6, 0.8, 0.9])
    given = asked.parse_args()
    whole = []
    for face in SETS[given.faces]:
        of_face = []
        for k, wear in enumerate(given.wears):
            rows, words = told(given.seed, face, wear, ("planed", "shrunk")[k % 2])
            if rows is None:
                print(f"{face:14} {wear:4}  refused: {words}", flush=True)
                continue
            print(f"{face:14} {wear:4}  {line(rows)}  {words}", flush=True)
            of_face.append(rows)
        whole += of_face
        if of_face:
            print(f"{face:14} all   {line(np.concatenate(of_face))}", flush=True)
    print(f"{'all':14} all   {line(np.concatenate(whole))}")


if __name__ == "__main__":
    main()
