"""What is left to be read on worn plates: an observer that knows all but the figure, then less.

    python bench/marks_observer.py --seed 7701 --plates 6 --wear 0.8 --way planed --degrees 1

It knows the face, the punch's slope, each figure's depth, place and turn, how worn the plate is and
which way, how a figure may be struck askew, and the spectrum of ground and relief together; not
the figure, nor how askew it was struck. It is the filter matched to coloured noise (North, 1943),
both slopes of a place together, averaged over the ways askew. Ground is no Gaussian noise, so that
it is ideal but for pits and scratches. Then what it knows is taken from it, one thing at a time
and all together, and averaged over; `--cases` names some (see `CASES`). What the plate shares
(slope, wear and its way) is as probable as all its digits make it. Beside it: the reader with
shapes given, on the same relief.
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
from ironlace.marks.reading.bare_metal import bare_metal  # noqa: E402
from ironlace.marks.reading.known_shapes import shapes_from_pictures  # noqa: E402
from ironlace.marks.reading.numeral_styles import GLYPHS, TALL  # noqa: E402
from ironlace.marks.reading.read_marks import read_marks  # noqa: E402
from ironlace.marks.reading.relief_slopes import grain_of, slopes_from_normals  # noqa: E402
from ironlace.workshop.marks.reading_files import learned  # noqa: E402
from struck_plates import TEST_FACES, TUNING_FACES, Asked, face, struck_plate  # noqa: E402

PATCH_MM = 3.4
"""Side of the place looked at."""
FINEST = 8.0
"""Finest detail looked at, waves in a mm: the relief is softened by more."""
ASKEW = np.linspace(-2.0, 2.0, 5)
"""Ways askew that are averaged over, in spreads of the maker's own."""
TURNS = (-2.0, 0.0, 2.0)
"""Turns, degrees, where the turn is not known (the maker's spread is 1.5)."""
SHIFTS = np.arange(-0.15, 0.151, 0.05)
"""Steps about the place given, mm, where the place is not known."""
DEPTHS = np.geomspace(0.055, 0.22, 6)
SLOPES = (0.65, 0.85, 1.1, 1.45)
"""Depths in mm, and slopes of the punch, where they are not known."""
WORN = ((0.7, "planed"), (0.8, "planed"), (0.9, "planed"), (0.8, "shrunk"))
"""Wear and its way, where that is not known."""
STEEP = 0.3
"""Slope beyond which metal is taken for a pit where steep metal is left out: a planed stroke's
flanks are gentler (0.1 to 0.3)."""

KNOWN = frozenset({"place", "turn", "depth", "slope", "wear", "spectrum"})
CASES = {
    "all": KNOWN,
    **{f"not {one}": KNOWN - {one} for one in ("depth", "turn", "slope", "wear", "spectrum")},
    "not place": KNOWN - {"place"},
    "not place, steep left out": KNOWN - {"place", "spectrum"} | {"steep"},
    "nothing": frozenset(),
    "nothing, steep left out": frozenset({"steep"}),
}
"""What is known; "steep" is no knowledge: steep metal is left out of data and figures."""


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


class Waves:
    """A square place by its waves, those that are looked at; what softens and what slopes.

    Attributes
    ----------
    x, y
        Waves in a mm, to the right and down.
    counted
        How often each stands for itself and its mirror image.
    slopes
        By what a depth's wave is turned into that of its slopes, to the right and up, softened as
        the maker and the relief soften.
    """

    def __init__(self, s):
        self.s, self.side = s, round(PATCH_MM / s) // 2 * 2
        down = np.fft.fftfreq(self.side, s)[:, None]
        right = np.fft.rfftfreq(self.side, s)[None, :]
        self.kept = np.hypot(down, right) < FINEST
        self.x = np.broadcast_to(right, self.kept.shape)[self.kept]
        self.y = np.broadcast_to(down, self.kept.shape)[self.kept]
        self.counted = np.where(self.x == 0, 1.0, 2.0)
        soft = np.exp(-2 * (np.pi * s) ** 2 * (0.4**2 + 0.7**2) * (self.x**2 + self.y**2))
        turned = [-np.sin(2 * np.pi * self.x * s), np.sin(2 * np.pi * self.y * s)]
        self.slopes = 1j / s * soft * np.stack(turned)
        self.window = _flat(self.side, 0.85)[:, None] * _flat(self.side, 0.72)[None, :]

    def of(self, patch):
        """Waves of a patch seen through the window."""
        return np.fft.rfft2(patch * self.window)[..., self.kept]

    def of_figures(self, fields):
        return np.fft.rfft2(fields)[..., self.kept].astype(np.complex64)

    def moved(self, dx, dy):
        """What moves a wave's figure back by so many mm; waves x moves."""
        return np.exp(2j * np.pi * (self.x[:, None] * dx + self.y[:, None] * dy))

    def spectrum(self, rest):
        """Power of both slopes and between them, smoothed, turned about; waves x 2 x 2."""
        power = np.zeros((2, 2, *self.kept.shape), complex)
        power[:, :, self.kept] = np.einsum("nkf,nlf->klf", rest, rest.conj()) / len(rest)
        parts = np.stack([power.real, power.imag]).reshape(8, *self.kept.shape)
        smooth = np.stack([_blurred(part) for part in parts]) / _blurred(self.kept.astype(float))
        smooth = smooth.reshape(2, 2, 2, *self.kept.shape)[..., self.kept]
        smooth = (smooth[0] + 1j * smooth[1]).transpose(2, 0, 1)
        ridge = 1e-4 * np.trace(smooth, axis1=1, axis2=2).real.mean()
        return np.linalg.inv(smooth + ridge * np.eye(2))


def _blurred(part):
    return cv2.blur(np.ascontiguousarray(part), (3, 3), borderType=cv2.BORDER_REFLECT_101) + 1e-12


def _flat(side, part):
    """A window that is 1 over the middle part and falls off to 0 at both ends."""
    far = np.abs(np.arange(side) - side // 2) / (side // 2)
    return 0.5 * (1 + np.cos(np.pi * np.clip((far - part) / (1 - part), 0, 1)))


class Observer:
    """Reads a plate as one who knows so much of it."""

    def __init__(self, plate, normals, slope, turns, places):
        self.plate, self.slope, self.turns = plate, slope, turns
        self.given = [p for p in places if p.kind == "digit"]
        self.waves = Waves(plate.mm_per_px)
        self.made = {}
        relief = slopes_from_normals(normals, plate.mm_per_px)
        bare = bare_metal(
            relief, places, grain_of(relief, self.given[0].height_px / TALL),
            np.random.default_rng(5),
        )  # fmt: skip
        self.bare = bare.at
        told = np.stack([-normals[..., k] / normals[..., 2] for k in (0, 1)])
        bad = (np.hypot(*told) > STEEP).astype(np.uint8)
        bad = cv2.morphologyEx(
            bad, cv2.MORPH_CLOSE, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (9, 9))
        )
        bad = cv2.dilate(bad, np.ones((5, 5), np.uint8)).astype(np.float32)
        gentle = np.clip(1 - cv2.GaussianBlur(bad, (0, 0), 1), 0, 1)
        self.seen = {False: (told, None), True: (told * gentle, gentle)}

    def cut(self, picture, x_px, y_px):
        half = self.waves.side // 2
        top, left = round(y_px) - half, round(x_px) - half
        if min(top, left) < 0:
            return picture[..., :0, :0]
        return picture[..., top : top + 2 * half, left : left + 2 * half]

    def figures(self, turn, long, wear, way):
        """Waves of every figure askew every way, of depth one; figures askew x waves.

        `long` is the depth over the punch's slope, mm.
        """
        key = (round(turn, 6), round(long, 5), wear, way)
        if key not in self.made:
            s, fields = self.plate.mm_per_px, []
            for glyph in GLYPHS:
                ink = struck_plates._posed(face(self.plate.asked.face)[glyph], s, turn)
                for across in ASKEW:
                    for down in ASKEW:
                        mark = struck_plates._stroke_depth(
                            _Evenly(across, down), ink, 1.0, 1 / long, s
                        )
                        left = struck_plates._worn(mark, 1.0, wear, way, s)
                        field = np.zeros((self.waves.side,) * 2, np.float32)
                        struck_plates._paste(field, left, *[self.waves.side // 2] * 2)
                        fields.append(field)
            self.made[key] = self.waves.of_figures(np.stack(fields))
        return self.made[key]

    def rests(self, told, at):
        """What is no mark at each digit: of the right figure the way askew that leaves least."""
        waves, asked, rests = self.waves, self.plate.asked, []
        for digit, turn, one in zip(self.plate.digits, self.turns, at, strict=True):
            long = digit.struck_mm / self.slope
            here = self.figures(turn, long, asked.wear, asked.wear_way) * digit.struck_mm
            here = here.reshape(len(GLYPHS), -1, here.shape[-1])[GLYPHS.index(digit.glyph)]
            off = [
                (a - round(b)) * waves.s for a, b in zip((digit.x_px, digit.y_px), one, strict=True)
            ]
            moved = waves.moved(*off)[:, 0].conj()
            rest = waves.of(self.cut(told, *one)) - waves.slopes * (here * moved)[:, None]
            rests.append(rest[(np.abs(rest) ** 2).sum(axis=(1, 2)).argmin()])
        return np.stack(rests)

    def noise(self, known, told, at):
        """The inverse of the spectrum that each place's noise is taken to have."""
        if "spectrum" in known:
            # of the other places: its own rest would speak for the figure it was left by
            rests = self.rests(told, at)
            return [self.waves.spectrum(np.delete(rests, k, axis=0)) for k in range(len(at))]
        cuts = [self.cut(told, *one) for one in self.bare]
        whole = [c for c in cuts if c.shape[1:] == (self.waves.side,) * 2]
        return [self.waves.spectrum(np.stack([self.waves.of(c) for c in whole]))] * len(at)

    def read(self, known):
        """Chance of each figure at each digit; places x figures."""
        told, gentle = self.seen["steep" in known]
        digits = self.plate.digits if "place" in known else self.given
        at = [(d.x_px, d.y_px) for d in digits]
        worn = self.plate.asked.wear, self.plate.asked.wear_way
        shared = [
            (slope, *one)
            for slope in ([self.slope] if "slope" in known else SLOPES)
            for one in ([worn] if "wear" in known else WORN)
        ]
        logs = np.stack(
            [
                self.place(k, one, noise, known, shared, told, gentle)
                for k, (one, noise) in enumerate(zip(at, self.noise(known, told, at), strict=True))
            ]
        )
        whole = logsumexp(logs, axis=1, keepdims=True)
        chance = np.exp(whole.sum(axis=0) - logsumexp(whole.sum(axis=0)))
        return (np.exp(logs - whole) * chance).sum(axis=2)

    def place(self, k, at, noise, known, shared, told, gentle):
        """Log-likelihood of each figure at a place by what the plate shares; figures x that."""
        waves, deep = self.waves, self.plate.digits[k].struck_mm
        grid = np.zeros((1, 2))
        if "place" not in known:
            grid = np.stack(np.meshgrid(SHIFTS, SHIFTS), -1).reshape(-1, 2)
            grid = grid[np.hypot(*grid.T) < SHIFTS[-1] + 0.02]
        move = waves.moved(*((v - round(v)) * waves.s + grid[:, n] for n, v in enumerate(at)))
        seen = np.einsum("fkl,lf->kf", noise, waves.of(self.cut(told, *at)))
        fit_by = (waves.slopes.conj() * seen).sum(axis=0) * waves.counted
        size_by = np.einsum("kf,fkl,lf->f", waves.slopes.conj(), noise, waves.slopes).real
        open_ = None if gentle is None else waves.of(self.cut(gentle, *at)) * waves.counted
        askew = -0.5 * (ASKEW[:, None] ** 2 + ASKEW[None, :] ** 2).ravel()
        askew = (askew - logsumexp(askew))[:, None]
        turns = [(self.turns[k], 0.0)]
        if "turn" not in known:
            turns = [(np.radians(t), -0.5 * (t / 1.5) ** 2) for t in TURNS]
        logs = np.full((len(GLYPHS), len(shared)), -np.inf)
        laid = {}
        for n, (slope, *worn) in enumerate(shared):
            for depth in [deep] if "depth" in known else DEPTHS:
                long = depth / slope
                if "depth" not in known:  # few lengths, so that figures are made once
                    long = float(np.exp(np.round(np.log(long) / 0.3) * 0.3))
                for turn, chance in turns:
                    key = (turn, long, *worn)
                    if key not in laid:
                        figures = self.figures(*key)
                        fit = _both(figures, fit_by[:, None] * move)
                        if open_ is None:
                            size = (np.abs(figures) ** 2 @ (size_by * waves.counted))[:, None]
                        else:
                            size = self.gentle_size(key, figures, size_by, open_[:, None] * move)
                        laid[key] = [x.reshape(len(GLYPHS), -1, x.shape[-1]) for x in (fit, size)]
                    fit, size = laid[key]
                    told_ = depth * fit - 0.5 * depth**2 * size + askew - np.log(len(grid))
                    logs[:, n] = np.logaddexp(logs[:, n], logsumexp(told_, axis=(1, 2)) + chance)
        return logs

    def gentle_size(self, key, figures, size_by, open_):
        """Energy of figures, noise evened, over what is not left out; figures askew x moves."""
        waves = self.waves
        if (key, "energy") not in self.made:
            whole = np.zeros((len(figures), *waves.kept.shape), np.complex64)
            whole[:, waves.kept] = figures * np.sqrt(size_by)
            energy = np.fft.irfft2(whole, (waves.side,) * 2) ** 2
            self.made[key, "energy"] = waves.of_figures(energy)
        energy = self.made[key, "energy"]
        full = (np.abs(figures) ** 2 @ (size_by * waves.counted))[:, None]
        return np.clip(_both(energy, open_), 0.1 * full, full)


def _both(one, other):
    """Real part of the inner products of waves; rows of one x columns of other."""
    left = np.hstack([one.real, one.imag])
    return left @ np.vstack([other.real, other.imag]).astype(np.float32)


def told_by(p, struck):
    """What is right, what is stated, and what is lost a digit."""
    struck = [GLYPHS.index(g) for g in struck]
    right = float(np.mean(p.argmax(axis=1) == struck))
    lost = float(-np.log(np.maximum(p[np.arange(len(p)), struck], 1e-9)).mean())
    return right, float(p.max(axis=1).mean()), lost


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seed", type=int, default=7701)
    asked.add_argument("--plates", type=int, default=6)
    asked.add_argument("--wear", type=float, default=0.8)
    asked.add_argument("--way", choices=("planed", "shrunk"), default="planed")
    asked.add_argument("--degrees", type=float, default=1.0, help="noise of the relief")
    asked.add_argument("--cases", nargs="+", choices=CASES, default=list(CASES))
    asked.add_argument("--tuning", action="store_true", help="faces that settings are fitted on")
    asked.add_argument("--no-reader", action="store_true")
    chosen = asked.parse_args()
    struck_plates.PLATE_MM = (34.0, 16.0)
    faces = TUNING_FACES if chosen.tuning else TEST_FACES
    found = {}
    for seed in range(chosen.seed, chosen.seed + chosen.plates):
        rng = np.random.default_rng([seed, round(100 * chosen.wear)])
        wanted = Asked(
            wear=chosen.wear, face=faces[seed % len(faces)], wear_way=chosen.way, **pits(rng)
        )
        plate, slope, turns = struck_as(rng, wanted)
        normals, _ = relief_of(rng, plate, noise_deg=chosen.degrees, gain=1.0)
        places = places_of(rng, plate)
        struck = [d.glyph for d in plate.digits]
        observer = Observer(plate, normals, slope, turns, places)
        here = {name: told_by(observer.read(CASES[name]), struck) for name in chosen.cases}
        if not chosen.no_reader:
            read = read_marks(
                slopes_from_normals(normals, plate.mm_per_px), places, learned(),
                np.random.default_rng(1), shapes=shapes_from_pictures(plate.shapes),
                base_rate=wanted.base_rate,
            )  # fmt: skip
            here["the reader"] = told_by(
                np.array([[d.p[g] for g in GLYPHS] for d in read.digits]), struck
            )
        for name, told in here.items():
            found.setdefault(name, []).append(told)
        shown = ", ".join(f"{name} {told[0]:.2f}" for name, told in here.items())
        print(seed, wanted.face, plate.surface, shown, flush=True)
    for name, told in found.items():
        right, stated, lost = np.mean(told, axis=0)
        print(f"| {name} | {right:.3f} | {stated:.3f} | {lost:.2f} |")


if __name__ == "__main__":
    main()
