"""What is left to be read on worn plates: an observer that knows all but the figure.

    python bench/marks_observer.py --seed 7701 --plates 6 --wear 0.8 --way planed --degrees 1

It knows the face, the punch's slope, each figure's depth, place and turn, how worn the plate is and
which way, how a figure may be struck askew, and the spectrum of ground and relief together; not
the figure, nor how askew it was struck. It is the filter matched to coloured noise (North, 1943),
both slopes of a place together, averaged over the ways askew. Ground is no Gaussian noise, so that
it is ideal but for the pits. Beside it: the reader with shapes given, on the same relief.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import cv2
import numpy as np
from scipy.special import logsumexp

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests" / "truth"), str(ROOT / "src"), str(ROOT / "bench")]

from marks_learning import pits, places_of, relief_of  # noqa: E402

import struck_plates  # noqa: E402
from ironlace.marks.reading.known_shapes import shapes_from_pictures  # noqa: E402
from ironlace.marks.reading.numeral_styles import GLYPHS  # noqa: E402
from ironlace.marks.reading.read_marks import read_marks  # noqa: E402
from ironlace.marks.reading.relief_slopes import slopes_from_normals  # noqa: E402
from ironlace.workshop.marks.reading_files import learned  # noqa: E402
from struck_plates import TEST_FACES, Asked, face, struck_plate  # noqa: E402

PATCH_MM = 3.4
"""Side of the place looked at."""
ASKEW = np.linspace(-2.4, 2.4, 7)
"""Ways askew that are averaged over, in spreads of the maker's own."""


class _Evenly:
    """In place of a generator: figures askew by so much, and nothing else."""

    def __init__(self, across, down):
        self.left = [across, down]

    def normal(self, _middle, spread):
        return spread * self.left.pop(0)


def struck_as(rng, asked):
    """A plate, the slope of its punch and each digit's turn, as they were drawn."""
    turns, slopes = [], []
    posed, stroke = struck_plates._posed, struck_plates._stroke_depth

    def turned(ink, s, turn):
        turns.append(turn)
        return posed(ink, s, turn)

    def struck(rng_, ink, deep, slope, s):
        slopes.append(slope)
        return stroke(rng_, ink, deep, slope, s)

    struck_plates._posed, struck_plates._stroke_depth = turned, struck
    try:
        plate = struck_plate(rng, asked)
    finally:
        struck_plates._posed, struck_plates._stroke_depth = posed, stroke
    return plate, slopes[0], turns


def slopes_of_height(height, s):
    """Slopes as a relief shows them: to the right and up, softened as the maker softens."""
    height = cv2.GaussianBlur(height.astype(np.float32), (0, 0), 0.4)
    down, right = np.gradient(height, s)
    return np.stack([cv2.GaussianBlur(x.astype(np.float32), (0, 0), 0.7) for x in (right, -down)])


def templates_of(plate, digit, turn, slope, side):
    """Slopes of every figure struck there every way askew; 10 x ways x 2 x side x side."""
    s, asked = plate.mm_per_px, plate.asked
    at = side // 2 + digit.x_px - round(digit.x_px), side // 2 + digit.y_px - round(digit.y_px)
    found = []
    for glyph in GLYPHS:
        ink = struck_plates._posed(face(asked.face)[glyph], s, turn)
        for across in ASKEW:
            for down in ASKEW:
                even = _Evenly(across, down)
                mark = struck_plates._stroke_depth(even, ink, digit.struck_mm, slope, s)
                left = struck_plates._worn(mark, digit.struck_mm, asked.wear, asked.wear_way, s)
                field = np.zeros((side, side), np.float32)
                struck_plates._paste(field, left, *at)
                found.append(slopes_of_height(-field, s))
    return np.stack(found).reshape(len(GLYPHS), len(ASKEW) ** 2, 2, side, side)


def observed(plate, normals, slope, turns):
    """Which figure the observer takes each digit for."""
    side = round(PATCH_MM / plate.mm_per_px) // 2 * 2
    told = np.stack([-normals[..., k] / normals[..., 2] for k in (0, 1)])
    window = np.hanning(side)[:, None] ** 0.5 * np.hanning(side)[None, :] ** 0.5
    weight = -0.5 * (ASKEW[:, None] ** 2 + ASKEW[None, :] ** 2).ravel()
    seen, laid, rest = [], [], []
    for digit, turn in zip(plate.digits, turns, strict=True):
        top, left = (round(v) - side // 2 for v in (digit.y_px, digit.x_px))
        patch = told[:, top : top + side, left : left + side]
        here = np.fft.rfft2(templates_of(plate, digit, turn, slope, side) * window)
        seen.append(np.fft.rfft2(patch * window))
        laid.append(here.astype(np.complex64))
        # what is no mark: of the right figure the way askew that leaves the least
        own = seen[-1] - here[GLYPHS.index(digit.glyph)]
        rest.append(own[(np.abs(own) ** 2).sum(axis=(1, 2, 3)).argmin()])
    rest = np.stack(rest)
    read = []
    for k, (one, here) in enumerate(zip(seen, laid, strict=True)):
        # of the other places: its own rest would speak for the figure it was left by
        solver = np.linalg.inv(_spectrum(np.delete(rest, k, axis=0)))
        best = np.einsum("ijkl,lij->kij", solver, one)
        fit = np.einsum("gakij,kij->ga", here.conj(), best).real
        size = np.einsum("gakij,ijkl,galij->ga", here.conj(), solver, here, optimize=True).real
        # every frequency but those of column 0 stands for its mirror image as well
        read.append(GLYPHS[int(logsumexp(2 * fit - size + weight, axis=1).argmax())])
    return read


def _spectrum(rest):
    """Power of both slopes and between them, by frequency, smoothed; rows x columns x 2 x 2."""
    power = np.einsum("nkij,nlij->ijkl", rest, rest.conj()) / len(rest)
    smooth = np.empty_like(power)
    for k in range(2):
        for n in range(2):
            parts = [
                cv2.blur(np.ascontiguousarray(part), (3, 3), borderType=cv2.BORDER_REFLECT_101)
                for part in (power[..., k, n].real, power[..., k, n].imag)
            ]
            smooth[..., k, n] = parts[0] + 1j * parts[1]
    ridge = 1e-4 * np.trace(smooth, axis1=2, axis2=3).real.mean()
    return smooth + ridge * np.eye(2)


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seed", type=int, default=7701)
    asked.add_argument("--plates", type=int, default=6)
    asked.add_argument("--wear", type=float, default=0.8)
    asked.add_argument("--way", choices=("planed", "shrunk"), default="planed")
    asked.add_argument("--degrees", type=float, default=1.0, help="noise of the relief")
    asked.add_argument("--no-reader", action="store_true")
    chosen = asked.parse_args()
    struck_plates.PLATE_MM = (34.0, 16.0)
    right = []
    for seed in range(chosen.seed, chosen.seed + chosen.plates):
        rng = np.random.default_rng([seed, round(100 * chosen.wear)])
        wanted = Asked(
            wear=chosen.wear, face=TEST_FACES[seed % len(TEST_FACES)], wear_way=chosen.way,
            **pits(rng),
        )  # fmt: skip
        plate, slope, turns = struck_as(rng, wanted)
        normals, _ = relief_of(rng, plate, noise_deg=chosen.degrees, gain=1.0)
        struck = [d.glyph for d in plate.digits]
        cells = [observed(plate, normals, slope, turns)]
        if not chosen.no_reader:
            read = read_marks(
                slopes_from_normals(normals, plate.mm_per_px), places_of(rng, plate), learned(),
                np.random.default_rng(1), shapes=shapes_from_pictures(plate.shapes),
                base_rate=wanted.base_rate,
            )  # fmt: skip
            cells.append([max(d.p, key=d.p.get) for d in read.digits])
        right.append([np.mean([a == b for a, b in zip(c, struck, strict=True)]) for c in cells])
        print(seed, wanted.face, plate.surface, *(f"{r:.2f}" for r in right[-1]), flush=True)
    print("observer and reader:", *(f"{r:.3f}" for r in np.mean(right, axis=0)))


if __name__ == "__main__":
    main()
