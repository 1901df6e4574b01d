"""Plates photographed by habits that nobody had imagined: is what goes wrong said?

    python bench/marks_strangers.py --seed 7801 [--only "torch held near" nickelled]

One plate of 40 x 24 mm at 0.04 mm to the pixel, wear 0.2, two rows of nine, twelve photographs as
JPEG; each habit by its own disturbance of the metal, the torch or the pictures. `marks check`,
`marks relief` and `marks read` (places given, no shapes) as commands. Told are normals off on
average and slopes over the true ones, each beside what the plain plate has, digits right, digits
over 0.9 and wrong, and the first words of each command. `silent` marks a case twice as far off as
the plain one, or one with a digit over 0.9 and wrong, of which neither relief nor reading says
anything that the plain plate does not.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
from PIL import Image

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests" / "truth"), str(ROOT / "src"), str(ROOT / "bench")]

from marks_as_asked import command  # noqa: E402
from marks_relief import angle  # noqa: E402

import struck_plates  # noqa: E402
from struck_plates import TEST_FACES, Asked, photographs, struck_plate  # noqa: E402

COUNT = 12
TORCHES, METAL = struck_plates._torches, struck_plates._metal


def near_torch(rng, count):
    """Held 45 to 80 mm off, so that its beam falls off by a half across the plate."""
    return TORCHES(rng, count) * rng.uniform(0.28, 0.3)


def nickelled(rng, plate, *, matt):
    albedo, gloss, rough = METAL(rng, plate, matt=matt)
    return 0.25 * albedo, 0 * gloss + 3.0, 0 * rough + 90.0


def flaking(rng, plate, *, matt):
    """Black paint of which two fifths have come off."""
    albedo, gloss, rough = METAL(rng, plate, matt=matt)
    off = struck_plates._noise(rng, plate.height.shape, 1.2 / plate.mm_per_px) > 0.25
    return np.where(off, albedo, 0.08), np.where(off, gloss, 0.5), np.where(off, rough, 40.0)


def raised(plate):
    """Figures cast on, not struck: the ground stays, its marks stand up."""
    s = plate.mm_per_px
    about = np.zeros_like(plate.height)
    for d in plate.digits:
        a, b = round(d.y_px - 1.6 / s), round(d.x_px - 1.2 / s)
        about[a : a + round(3.2 / s), b : b + round(2.4 / s)] = 1
    about = cv2.GaussianBlur(about, (0, 0), 0.2 / s)
    ground = cv2.medianBlur(plate.height, 5)
    for _ in range(12):  # the ground about strokes, which are narrower than what is taken here
        ground = cv2.GaussianBlur(np.maximum(ground, plate.height), (0, 0), 0.15 / s)
    height = plate.height + 2 * about * np.maximum(ground - plate.height, 0)
    return replace(plate, height=height)


def two_sessions(_rng, frames):
    """The second half taken another day: moved by 14 px, turned by 0.8 degrees, half as bright."""
    rows, columns = frames[0].shape
    move = cv2.getRotationMatrix2D((columns / 2, rows / 2), 0.8, 1.0)
    move[:, 2] += (14, -6)
    half = len(frames) // 2
    return [
        *frames[:half],
        *(cv2.warpAffine((0.7 * f).astype(np.uint8), move, (columns, rows),
                         borderMode=cv2.BORDER_REPLICATE) for f in frames[half:]),
    ]  # fmt: skip


def night_mode(_rng, frames):
    return [cv2.fastNlMeansDenoising(f, None, 12, 5, 15) for f in frames]


def breathing(rng, frames):
    """Each focused anew, so that each is up to half a per cent larger or smaller."""
    rows, columns = frames[0].shape
    out = []
    for f in frames:
        move = cv2.getRotationMatrix2D((columns / 2, rows / 2), 0, rng.uniform(0.995, 1.005))
        out.append(cv2.warpAffine(f, move, (columns, rows), borderMode=cv2.BORDER_REPLICATE))
    return out


def spots(rng, frames):
    """A torch with a hard spot, that lights no more than some two thirds of the plate each time."""
    rows, columns = frames[0].shape
    y, x = np.mgrid[:rows, :columns]
    out = []
    for f in frames:
        cx, cy = rng.uniform(0.35, 0.65) * columns, rng.uniform(0.35, 0.65) * rows
        spot = 1 / (1 + np.exp((np.hypot(x - cx, y - cy) - 0.42 * columns) / 12))
        out.append((f * (0.12 + 0.88 * spot) ** 0.45).astype(np.uint8))
    return out


def shaken(_rng, frames):
    """All shaken alike, by 3 px along one way."""
    nib = np.zeros((5, 5), np.float32)
    nib[2, 1:4] = 1 / 3
    return [cv2.filter2D(f, -1, nib) for f in frames]


def grid_laid(_rng, frames):
    """A watermark of lines over every picture, as some programs leave."""
    out = [f.copy() for f in frames]
    for f in out:
        f[::80] = np.clip(f[::80].astype(int) + 40, 0, 255)
        f[:, ::80] = np.clip(f[:, ::80].astype(int) + 40, 0, 255)
    return out


CASES = {
    "plain": {}, "torch held near": {"torches": near_torch}, "nickelled": {"metal": nickelled},
    "flaking paint": {"metal": flaking}, "figures cast on": {"plate": raised},
    "two sessions in one folder": {"pictures": two_sessions},
    "night mode": {"pictures": night_mode},
    "focus breathes": {"pictures": breathing}, "a torch with a hard spot": {"pictures": spots},
    "all shaken": {"pictures": shaken}, "lines laid over": {"pictures": grid_laid},
    "JPEG of quality 30": {"quality": 30},
}  # fmt: skip


def seen(seed, case):
    """What the commands tell of one habit."""
    habit = CASES[case]
    rng = np.random.default_rng(seed)
    face = TEST_FACES[seed % len(TEST_FACES)]
    plate = struck_plate(rng, Asked(wear=0.2, face=face, mm_per_px=0.04, surface="rubbed"))
    plate = habit.get("plate", lambda p: p)(plate)
    struck_plates._torches = habit.get("torches", TORCHES)
    struck_plates._metal = habit.get("metal", METAL)
    shots = photographs(rng, plate, COUNT)
    frames = habit.get("pictures", lambda _r, f: f)(rng, list(shots.frames))
    with tempfile.TemporaryDirectory() as kept:
        folder = Path(kept)
        files = [folder / f"{k:02}.jpg" for k in range(COUNT)]
        for file, frame in zip(files, frames, strict=True):
            Image.fromarray(frame).save(file, quality=habit.get("quality", 92))
        (folder / "places.csv").write_text(plate.places(rng))
        command("marks", "check", *files, "--json", folder / "check.json")
        check = json.loads((folder / "check.json").read_text())
        told = {"check": "will do" if check["enough"] else check["faults"][0]}
        try:
            command("marks", "relief", *files, "--out", folder / "r", "--ball-mm", 6)
        except RuntimeError:
            return told | {"refused": True}
        relief = json.loads((folder / "r" / "relief.json").read_text())
        found, true = np.load(folder / "r" / "normals.npy"), plate.normals()
        known = (found[..., 2] > 0) & (np.abs(found[..., :2]).max(axis=2) < 0.6)
        off = float(angle(found[known].astype(float), true[known].astype(float)).mean())
        one, other = (n[known][:, :2] / n[known][:, 2:] for n in (found, true))
        gentle = np.abs(other).max(axis=1) < 0.3
        steep = float((one[gentle] * other[gentle]).sum() / (other[gentle] ** 2).sum())
        place = ("--places", folder / "places.csv", "--json", folder / "m.json")
        try:
            command("marks", "read", folder / "r", *place)
        except RuntimeError:
            return told | {"refused": True}
        marks = json.loads((folder / "m.json").read_text())
        best = [max(d["p"], key=d["p"].get) for d in marks["digits"]]
        right = [b == d.glyph for b, d in zip(best, plate.digits, strict=True)]
        sure = [d["p"][b] > 0.9 for b, d in zip(best, marks["digits"], strict=True)]
        return told | {
            "normals": off, "slopes": steep,
            "left out": sum(not f["used"] for f in relief["frames"]),
            "relief": list(relief["notices"]), "read": list(marks.get("remarks", [])),
            "right": float(np.mean(right)),
            "stated": float(np.mean([max(d["p"].values()) for d in marks["digits"]])),
            "wrong": sum(s and not r for s, r in zip(sure, right, strict=True)),
        }  # fmt: skip


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seed", type=int, default=7801)
    asked.add_argument("--only", nargs="+", default=list(CASES))
    given = asked.parse_args()
    plain = seen(given.seed, "plain")
    words = {w[:25] for w in (*plain.get("relief", ()), *plain.get("read", ()))}
    for case in given.only:
        told = plain if case == "plain" else seen(given.seed, case)
        if told.get("refused"):
            print(f"{case}: refused; check: {told['check'][:90]}", flush=True)
            continue
        new = [w for w in (*told["relief"], *told["read"]) if w[:25] not in words]
        far = told["normals"] > 2 * plain["normals"] or not 0.75 < told["slopes"] < 1.33
        silent = (far or told["wrong"]) and not new and not told["left out"]
        print(f"{case}: normals {told['normals']:.2f}, slopes {told['slopes']:.2f}, left out "
              f"{told['left out']}; right {told['right']:.2f}, stated {told['stated']:.2f}, over "
              f"0.9 and wrong {told['wrong']}; check: {told['check'][:60]}"
              f"{'; SILENT' if silent else ''}", flush=True)  # fmt: skip
        for word in new:
            print(f"    {word[:150]}", flush=True)


if __name__ == "__main__":
    main()
