"""What the judges of marks learn, and the settings fitted on tuning plates.

    python bench/marks_learning.py figures SCRATCH --seed 1 --count 45000
    python bench/marks_learning.py dots SCRATCH --seed 11 --count 480
    python bench/marks_learning.py looks SCRATCH --seed 100 --count 6
    python bench/marks_learning.py depths SCRATCH --seed 1 --count 60 [--photographed FOLDER]
    python bench/marks_learning.py write SCRATCH
    python bench/marks_learning.py write-depths SCRATCH

Figures are learned from figures drawn by the program's own hand, bent, struck, worn, on made
ground; dots from plates of `tests/truth/struck_plates.py` with tuning faces, whose base rate, pits,
relief noise and steepness vary. Settings are fitted on further plates with tuning faces. No plate
with a test face comes in here.
"""

from __future__ import annotations

import argparse
import csv
import io
import json
import pickle
import sys
import time
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests" / "truth")]

import struck_plates  # noqa: E402
from ironlace.evidence.intervals import NINETY  # noqa: E402
from ironlace.marks.reading import dot_features, period_shapes, read_marks, relief_slopes, ways_worn  # noqa: E402
from ironlace.marks.reading.bare_metal import bare_metal, best_fits, overlaid  # noqa: E402
from ironlace.marks.reading.dot_depth import dot_depth  # noqa: E402
from ironlace.marks.reading.known_shapes import (  # noqa: E402
    WIDE,
    ShapeReader,
    held_down,
    shapes_from_pictures,
)
from ironlace.marks.reading.numeral_styles import (  # noqa: E402
    GLYPHS,
    PERIOD_STYLES,
    TALL,
    WAYS,
    drawn,
)
from ironlace.marks.reading.places import Place, read_places  # noqa: E402
from ironlace.marks.reading.read_together import read_together  # noqa: E402
from ironlace.marks.reading.slope_pattern import pattern  # noqa: E402
from ironlace.marks.reading.strikes import Blow, depth_left, placed, slopes_of  # noqa: E402
from ironlace.marks.reading.wear import depth_of_place  # noqa: E402
from ironlace.workshop.marks.reading_files import learned, read_relief  # noqa: E402
from struck_plates import TUNING_FACES, Asked, Plate, struck_plate  # noqa: E402

LEARNED = ROOT / "src" / "ironlace" / "workshop" / "marks" / "learned_marks.npz"
WEARS = (0.0, 0.3, 0.6, 0.8, 0.95)
DOTS = {"dot_heat": 1.0, "dot_floor": 0.005}
WITHOUT_BARE = {
    "known_sharpness": 360.6, "known_rise": 2.5, "known_most": 2000.0,
    "cut_sharpness": 104.0, "cut_rise": 0.6, "cut_most": 250.0,
}  # fmt: skip
"""How sharply fits are taken where the plate has no bare metal to judge them by."""
COUNTS = {"known": (0.3, 0.45, 0.6, 0.8), "cut": (0.2, 0.3, 0.4)}
"""Shares of the slopes tried for reading."""


# --- figures ------------------------------------------------------------------------------------


def noise(rng, shape, size):
    drawn_ = cv2.GaussianBlur(rng.standard_normal(shape).astype(np.float32), (0, 0), max(size, 0.3))
    return drawn_ / drawn_.std()


def ground(rng, n=420):
    """Slopes of bare metal on the reading grid: grain, pits, scratches, noise of the relief."""
    h = np.zeros((n, n), np.float32)
    for size in (1.0, 3.0, 10.0):
        h += noise(rng, (n, n), size) * size * np.exp(rng.uniform(np.log(0.002), np.log(0.04)))
    pits = rng.poisson(np.exp(rng.uniform(np.log(0.2), np.log(2.5))) * (n * 0.05) ** 2)
    ys, xs = np.mgrid[-16:17, -16:17].astype(np.float32)
    for _ in range(pits):
        w = min(rng.uniform(2.2, 4.5) * np.exp(rng.normal(0, 0.55)), 26)
        d = w * rng.uniform(0.1, 0.4) * (1 if w < 8 else 8 / w)
        a, sq = rng.uniform(0, np.pi), rng.uniform(0.6, 1)
        u = (xs * np.cos(a) + ys * np.sin(a)) * np.sqrt(sq)
        v = (-xs * np.sin(a) + ys * np.cos(a)) / np.sqrt(sq)
        th = np.arctan2(v, u)
        rim = 1 + sum(
            rng.normal(0, 0.2 / k) * np.cos(k * th + rng.uniform(0, 6.3)) for k in (2, 3, 4)
        )
        r = np.hypot(u, v) / (w / 2 * np.clip(rim, 0.4, None))
        i, j = rng.integers(0, n - 33, 2)
        h[i : i + 33, j : j + 33] -= d * np.clip(1 - r ** rng.uniform(1, 3.5), 0, None)
    for _ in range(rng.integers(0, 25)):
        a = rng.uniform(0, n, 2)
        b = a + rng.normal(0, 80, 2)
        line = np.zeros((n, n), np.float32)
        ends = [tuple(int(q * 16) for q in e) for e in (a, b)]
        cv2.line(line, *ends, 1.0, int(rng.integers(1, 3)), cv2.LINE_8, 4)
        h -= line * rng.uniform(0.02, 0.3)
    slopes = slopes_of(-cv2.GaussianBlur(h, (0, 0), rng.uniform(0.4, 0.9)))
    rough = np.exp(rng.uniform(np.log(0.004), np.log(0.08)))
    slopes = slopes + rough * np.stack([noise(rng, (n, n), rng.uniform(0.3, 2)) for _ in (0, 1)])
    return slopes.astype(np.float32), float(np.median(np.hypot(*slopes)))


def varied(rng):
    """A style drawn about one of the period's, for learning from."""
    of = PERIOD_STYLES[rng.integers(len(PERIOD_STYLES))]
    broad = float(np.clip(of.broad * np.exp(rng.normal(0, 0.25)), 0.05, 0.24))
    thin = float(np.clip(of.thin * np.exp(rng.normal(0, 0.25)), 0.03, broad))
    built = {glyph: int(rng.integers(ways)) for glyph, ways in WAYS.items()}
    if rng.uniform() < 0.5:
        built |= of.built
    return replace(
        of,
        width=float(np.clip(of.width * np.exp(rng.normal(0, 0.12)), 0.34, 0.78)),
        broad=broad,
        thin=thin,
        foot=of.foot * rng.uniform(0.5, 1.3) if rng.uniform() < 0.8 else rng.uniform(0, 0.7),
        ball=of.ball * rng.uniform(0.7, 1.5) if rng.uniform() < 0.8 else rng.uniform(0, 0.08),
        square=float(of.square + rng.uniform(0, 0.8)),
        low=float(rng.uniform(0.62, 0.78)) if of.low < 1 else 1.0,
        lean=float(rng.choice([0, 0, rng.uniform(-0.02, 0.16)])),
        waist=float(rng.uniform(0.42, 0.5)),
        built=built,
    )


def figure(rng, grounds):
    """One struck figure on made ground: its pattern, and which it is."""
    glyph = int(rng.integers(10))
    ink = drawn(varied(rng), GLYPHS[glyph])
    if rng.uniform() < 0.7:  # no hand is steady
        shape, far = ink.shape, rng.uniform(0, 1.8)
        gx, gy = np.meshgrid(*(np.arange(k, dtype=np.float32) for k in shape[::-1]))
        dx, dy = noise(rng, shape, 9) * far, noise(rng, shape, 9) * far
        ink = cv2.remap(ink, gx + dx, gy + dy, cv2.INTER_LINEAR)
    wear = rng.uniform(0, 0.85) if rng.uniform() < 0.6 else rng.uniform(0.8, 0.97)
    deep = np.exp(rng.uniform(np.log(0.05), np.log(0.25))) / 0.05
    flank = rng.uniform(0.6, 6) if rng.uniform() < 0.7 else deep / rng.uniform(0.5, 1.8)
    soft = rng.uniform(0.3, 0.6) + rng.uniform(0, 1.2) * wear
    depth = depth_left(ink, Blow(deep, flank, wear, bool(rng.uniform() < 0.5), soft))
    ys, xs = np.mgrid[-1 : 1 : depth.shape[0] * 1j, -1 : 1 : depth.shape[1] * 1j]
    askew = np.clip(1 + rng.normal(0, 0.15) * xs + rng.normal(0, 0.15) * ys, 0.2, None)
    far, way = rng.uniform(0, 3.6), rng.uniform(0, 6.3)
    laid = placed(
        (depth * askew).astype(np.float32),
        (far * np.cos(way), far * np.sin(way)),
        rng.normal(0, 0.035),
        rng.uniform(0.92, 1.08),
    )
    under, grain = grounds[rng.integers(len(grounds))]
    i, j = rng.integers(0, under.shape[1] - 60), rng.integers(0, under.shape[2] - 48)
    slopes = slopes_of(laid) + under[:, i : i + 60, j : j + 48]
    if rng.uniform() < 0.5:  # a relief keeps steep flanks too flat
        slopes = slopes / np.sqrt(1 + (np.hypot(*slopes) / rng.uniform(0.4, 2)) ** 2)
    return pattern(slopes, grain), glyph, wear


def made_figures(scratch, seed, count):
    rng = np.random.default_rng(seed)
    grounds = [ground(rng) for _ in range(60)]
    found = [figure(rng, grounds) for _ in range(count)]
    np.savez(
        scratch / f"train{seed}.npz",
        X=np.array([f[0] for f in found], np.float16),
        y=np.array([f[1] for f in found], np.int8),
        w=np.array([f[2] for f in found], np.float16),
    )


def learned_figures(scratch):
    """Fit the network of figures; the last 4,000 are held out and told."""
    from sklearn.neural_network import MLPClassifier

    held = [np.load(f) for f in sorted(scratch.glob("train*.npz"))]
    x = np.vstack([h["X"].astype(np.float32) for h in held]) * 20
    y = np.concatenate([h["y"] for h in held])
    net = MLPClassifier((128,), alpha=1e-3, batch_size=256, random_state=0)
    rng = np.random.default_rng(0)
    for epoch in range(16):
        if epoch:
            net._optimizer.learning_rate_init = 1e-3 * (
                1 if epoch < 8 else 0.4 if epoch < 12 else 0.1
            )
        order = rng.permutation(len(x) - 4000)
        net.partial_fit(x[order], y[order], classes=np.arange(10))
    print("figures told right, held out:", (net.predict(x[-4000:]) == y[-4000:]).mean())
    return net.coefs_[0], net.intercepts_[0], net.coefs_[1], net.intercepts_[1]


# --- reliefs ------------------------------------------------------------------------------------


def relief_of(rng, plate: Plate, noise_deg=None, gain=None):
    """Normals as a relief from photographs would give them: softened, noisy, too steep or flat."""
    normals = plate.normals()
    slopes = [-normals[..., 0] / normals[..., 2], -normals[..., 1] / normals[..., 2]]
    gain = gain or float(np.exp(rng.uniform(np.log(0.8), np.log(1.6))))
    if noise_deg is None:
        noise_deg = float(np.exp(rng.uniform(np.log(0.5), np.log(3))))
    size = rng.uniform(0.5, 1.5)
    slopes = [
        cv2.GaussianBlur(s, (0, 0), 0.7) * gain + noise(rng, s.shape, size) * np.radians(noise_deg)
        for s in slopes
    ]
    flat = 1 / np.sqrt(1 + (np.hypot(*slopes) / rng.uniform(0.8, 2.5)) ** 2)
    out = np.dstack([-slopes[0] * flat, -slopes[1] * flat, np.ones_like(flat)])
    return (out / np.linalg.norm(out, axis=2, keepdims=True)).astype(np.float32), gain


def pits(rng):
    """Round or ragged pits, shallow or deep."""
    return {"pit_rough": float(rng.uniform(0.1, 1.1)), "pit_deep": float(rng.uniform(0.6, 1.3))}


def places_of(rng, plate: Plate):
    rows = csv.DictReader(io.StringIO(plate.places(rng)))
    return [
        Place(r["kind"], int(r["row"]), int(r["index"]), float(r["x_px"]), float(r["y_px"]),
              float(r["height_px"]))
        for r in rows
    ]  # fmt: skip


def looked_at(rng, plate: Plate, normals, places):
    """Numbers of every gap, the plate's look, and depths of its digits."""
    relief = relief_slopes.slopes_from_normals(normals, plate.mm_per_px)
    digits = [p for p in places if p.kind == "digit"]
    gaps = [p for p in places if p.kind == "gap"]
    deep = float(np.median([depth_of_place(relief, d.x_px, d.y_px, d.height_px) for d in digits]))
    look = read_marks.plate_look(relief, places, rng, deep)
    fits = [dot_features.bowl_fit(relief, g.x_px, g.y_px, look.grain) for g in gaps]
    return relief, look, fits


def made_dots(scratch, seed, count, least=0.0):
    rng = np.random.default_rng(seed)
    struck_plates.PLATE_MM = (32, 11.5)  # the rows and what lies about them are enough
    found = []
    for k in range(count):
        often = rng.uniform() < 0.3
        asked = Asked(
            wear=float(rng.choice(WEARS))
            if often and not least
            else float(rng.uniform(least, 0.97)),
            face=str(rng.choice(TUNING_FACES)),
            base_rate=float(rng.uniform(0.15, 0.85)),
            pit_median_mm=float(rng.uniform(0.13, 0.23)),
            pit_in_gap=float(rng.uniform(0.15, 0.45)),
            mm_per_px=float(rng.choice([0.02, 0.025])),
            **pits(rng),
        )
        plate = struck_plate(rng, asked)
        normals, gain = relief_of(rng, plate)
        _, look, fits = looked_at(rng, plate, normals, places_of(rng, plate))
        numbers = dot_features.features(fits, look)
        found += [
            (numbers[i], g.struck, k, asked.base_rate, asked.wear, g.pit, g.left_mm * gain)
            for i, g in enumerate(plate.gaps)
        ]
        if k % 40 == 39 or k == count - 1:  # what is done is kept, should it be stopped
            columns = zip(*found, strict=True)
            names = ("F", "Y", "G", "B", "W", "pit", "dep")
            kept = {n: np.array(c) for n, c in zip(names, columns, strict=True)}
            np.savez(scratch / f"dots{seed}.npz", **kept)


def dots_net(x, y, offset, weight, rng, hidden=24, epochs=60, decay=3e-3):
    """One hidden layer, logistic loss with the known base rate as offset; Adam."""
    n, d = x.shape
    at = [rng.normal(0, 1 / np.sqrt(d), (d, hidden)), np.zeros(hidden),
          rng.normal(0, 0.1, hidden), np.zeros(1)]  # fmt: skip
    first = [np.zeros_like(p) for p in at]
    second = [np.zeros_like(p) for p in at]
    step = 0
    for epoch in range(epochs):
        rate = 3e-3 * (1 if epoch < 0.6 * epochs else 0.3 if epoch < 0.85 * epochs else 0.1)
        order = rng.permutation(n)
        for start in range(0, n, 128):
            i = order[start : start + 128]
            part = x[i] + rng.normal(0, 0.05, (len(i), d))
            h = np.tanh(part @ at[0] + at[1])
            g = (1 / (1 + np.exp(-(h @ at[2] + at[3] + offset[i]))) - y[i]) * weight[i] / len(i)
            back = np.outer(g, at[2]) * (1 - h * h)
            down = [part.T @ back + decay * at[0], back.sum(0), h.T @ g + decay * at[2],
                    np.array([g.sum()])]  # fmt: skip
            step += 1
            for k in range(4):
                first[k] = 0.9 * first[k] + 0.1 * down[k]
                second[k] = 0.999 * second[k] + 0.001 * down[k] ** 2
                bent = np.sqrt(second[k] / (1 - 0.999**step)) + 1e-8
                at[k] = at[k] - rate * first[k] / (1 - 0.9**step) / bent
    return at


def held_dots(scratch):
    """All gaps made, and how much each counts: hardly readable plates are few and must be known."""
    held = [np.load(f) for f in sorted(scratch.glob("dots1*.npz"))]
    x, y, b, w = (np.concatenate([h[k] for h in held]) for k in ("F", "Y", "B", "W"))
    plate = np.concatenate([h["G"] + 10_000 * k for k, h in enumerate(held)])
    weight = np.where(w > 0.88, min(2.5, 0.25 / np.mean(w > 0.88)), 1.0)
    return x, y.astype(float), b, w, plate, np.maximum(weight, 1.0)


def learned_dots(scratch):
    x, y, b, _, _, weight = held_dots(scratch)
    mean, spread = x.mean(axis=0), x.std(axis=0) + 1e-6
    x = np.clip((x - mean) / spread, -4, 4)
    rng = np.random.default_rng(1)
    offset = np.log(b / (1 - b))
    nets = [dots_net(x, y, offset, weight, rng) for _ in range(4)]
    return mean, spread, *(np.stack([net[k] for net in nets]) for k in range(4))


def left_out(scratch):
    """Tell how far stated and true lie apart on plates left out of the nets."""
    x, y, b, w, plate, weight = held_dots(scratch)
    z = np.clip((x - x.mean(axis=0)) / (x.std(axis=0) + 1e-6), -4, 4)
    offset, rng, odds = np.log(b / (1 - b)), np.random.default_rng(3), np.zeros(len(x))
    for k in range(3):
        out = plate % 3 == k
        net = dots_net(z[~out], y[~out], offset[~out], weight[~out], rng, epochs=40)
        odds[out] = np.tanh(z[out] @ net[0] + net[1]) @ net[2] + net[3]
    p = 1 / (1 + np.exp(-(odds + offset)))
    for low, high in ((0, 0.45), (0.45, 0.75), (0.75, 0.9), (0.9, 1)):
        m = (w >= low) & (w < high)
        parts = np.array_split(np.argsort(p[m]), 5)
        gap = np.mean([abs(p[m][k].mean() - y[m][k].mean()) for k in parts])
        wrong = (((p > 0.9) & (y == 0)) | ((p < 0.05) & (y == 1)))[m].mean()
        print(f"wear {low}-{high}: {m.sum()} gaps, gap {gap:.3f}, wrong {wrong:.4f}")


# --- settings -----------------------------------------------------------------------------------


def made_looks(scratch, seed, count):
    """Plates with tuning faces, and all that the settings are fitted from."""
    rng = np.random.default_rng(seed)
    found = []
    for k in range(count):
        for wear in WEARS:
            asked = Asked(wear=wear, face=TUNING_FACES[k % len(TUNING_FACES)],
                          base_rate=float(rng.uniform(0.25, 0.65)), **pits(rng))  # fmt: skip
            plate = struck_plate(rng, asked)
            normals, _ = relief_of(rng, plate)
            places = places_of(rng, plate)
            relief, look, fits = looked_at(rng, plate, normals, places)
            found.append(_looks(rng, plate, relief, places, look, fits))
        np.save(scratch / f"looks{seed}.npy", np.array(found, dtype=object), allow_pickle=True)


def _looks(rng, plate, relief, places, look, fits):
    digits = [p for p in places if p.kind == "digit"]
    per = digits[0].height_px / TALL
    grain = relief_slopes.grain_of(relief, per)
    bare = bare_metal(relief, places, grain, rng)
    held = [held_down(relief.patch(d.x_px, d.y_px, per, WIDE), grain) for d in digits]
    y = np.array([int(d.glyph) for d in plate.digits])
    net = np.stack([read_marks.looked_at(relief, d, learned(), grain) for d in digits])
    net -= np.logaddexp.reduce(net, axis=1, keepdims=True) - np.log(10)
    reader = ShapeReader(shapes_from_pictures(plate.shapes))
    ways = (
        ("known", reader.strikes, reader.starts, ways_worn.EVEN,
         lambda laid, n: ways_worn.logs_by_ways(reader, laid, n), 0.0),
        ("cut", *period_shapes.cut_strikes(), 0.0, period_shapes.logs_by_cuts, net),
    )  # fmt: skip
    fit, lost = {}, {}
    for name, strikes, starts, even, logs, more in ways:
        best = best_fits(overlaid(strikes, held, bare), starts).max(axis=1)
        fit[name] = float(np.median(best))
        if not bare:
            continue
        over = overlaid(strikes, held, bare, even=even)
        for count in COUNTS[name]:
            seen = logs(over.places, count * over.slopes)
            seen = seen + np.broadcast_to(more, seen.shape[:2])[:, :, None, None]
            p = read_together(seen, logs(over.bare, count * over.slopes)).p
            lost[name, count] = float(-np.log(0.999 * p[np.arange(len(y)), y] + 1e-4).mean())
    return {
        "wear": plate.asked.wear,
        "face": plate.asked.face,
        "lost": lost,
        "numbers": dot_features.features(fits, look),
        "struck": np.array([g.struck for g in plate.gaps]),
        "base_rate": plate.asked.base_rate,
        "look": (look.grain, look.digit_mm),
        "plate": read_marks.looks_of(look, fit["cut"]),
        "plate_known": read_marks.looks_of(look, fit["known"]),
    }


def fitted_settings(looks):
    """Settings out of the tuning plates; how much the shares tried for reading lose is told."""
    for name, counts in COUNTS.items():
        for count in counts:
            lost = [o["lost"][name, count] for o in looks if (name, count) in o["lost"]]
            print(f"{name}, {count} of the slopes counting: {np.mean(lost):.3f} lost a digit")
    return {"figure_floor": 1e-3} | WITHOUT_BARE | _wear_settings(looks)


def _wear_settings(looks):
    grain, deep = np.array([o["look"] for o in looks]).T
    fit = np.array([o["plate"][-1] for o in looks])
    x = np.column_stack([np.ones(len(looks)), np.log(deep / 0.05), np.log(deep / grain), fit])
    wear = np.clip([o["wear"] for o in looks], 0.03, 0.97)
    y = np.log(wear / (1 - wear))
    w = np.linalg.solve(x.T @ x + 0.1 * np.eye(4), x.T @ y)
    names = ("wear_start", "wear_deep", "wear_stands", "wear_fit")
    spread = float(np.std(y - x @ w))
    return dict(zip(names, map(float, w), strict=True)) | {"wear_spread": spread}


# --- depths -------------------------------------------------------------------------------------


def dots_left(relief, fits, gaps, places, left_mm, digit_mm):
    """Share of slopes told, depth told, digits' depth and depth left of every struck dot."""
    found = []
    for gap, place, fit, left in zip(gaps, places, fits, left_mm, strict=True):
        per = relief.mm_per_px
        at = place.x_px + fit.dx_mm / per, place.y_px + fit.dy_mm / per
        if gap and (dot := dot_depth(relief, *at, fit.width_mm)):
            found.append((fit.best, dot.deep_mm, digit_mm, left))
    return found


def made_depths(scratch, seed, count, photographed=None):
    """Struck dots on made reliefs as fine as today's, or on those of photographs (`--tuning`)."""
    found = []
    if photographed:
        for file in sorted(photographed.glob("*/truth.pickle")):
            truth = pickle.loads(file.read_bytes())
            assert truth["face"] in TUNING_FACES, file
            relief = read_relief(file.parent / "relief24").slopes
            shape = relief.slopes.shape[1:]
            places = read_places((file.parent / "places.csv").read_text(), shape)
            rng = np.random.default_rng(truth["seed"])
            deep, fits, gaps = _gaps_of(rng, relief, places)
            # what all slopes of the plate are off by has an interval of its own
            row = truth["rows"][24]
            left = np.array(truth["left"]) * row["true_gain"] / row["gain"]
            rows = dots_left(relief, fits, truth["struck"], gaps, left, deep)
            found += [(*row, truth["wear"]) for row in rows]
    else:
        rng = np.random.default_rng(seed)
        struck_plates.PLATE_MM = (32, 11.5)
        for _ in range(count):
            asked = Asked(
                wear=float(rng.choice(WEARS)), face=str(rng.choice(TUNING_FACES)),
                base_rate=float(rng.uniform(0.3, 0.85)), mm_per_px=float(rng.uniform(0.02, 0.025)),
                pit_median_mm=float(rng.uniform(0.13, 0.23)), **pits(rng),
            )  # fmt: skip
            plate = struck_plate(rng, asked)
            noisy = float(np.exp(rng.uniform(np.log(0.3), np.log(1.5))))
            normals, _ = relief_of(rng, plate, noise_deg=noisy, gain=1.0)
            relief = relief_slopes.slopes_from_normals(normals, plate.mm_per_px)
            deep, fits, gaps = _gaps_of(rng, relief, places_of(rng, plate))
            truth = [g.left_mm for g in plate.gaps]
            rows = dots_left(relief, fits, [g.struck for g in plate.gaps], gaps, truth, deep)
            found += [(*row, asked.wear) for row in rows]
    name = "photographed" if photographed else f"{seed}"
    np.save(scratch / f"depths-{name}.npy", np.array(found))


def _gaps_of(rng, relief, places):
    """Depth of the digits, bowls of the gaps, and the gaps."""
    digits = [p for p in places if p.kind == "digit"]
    gaps = [p for p in places if p.kind == "gap"]
    deep = float(np.median([depth_of_place(relief, d.x_px, d.y_px, d.height_px) for d in digits]))
    look = read_marks.plate_look(relief, places, rng, deep)
    return deep, [dot_features.bowl_fit(relief, g.x_px, g.y_px, look.grain) for g in gaps], gaps


def depth_settings(scratch):
    """Factor and 90 % intervals of depths, each wear counting alike; what they hold is told."""
    rows = np.vstack([np.load(f) for f in sorted(scratch.glob("depths-*.npy"))])
    _, deep, _, left, wear = rows.T
    kinds = np.array([read_marks.depth_kind(*one) for one in rows[:, :3]])
    weight = np.ones(len(rows))
    for one in WEARS:
        weight[wear == one] = 1 / max((wear == one).sum(), 1)
    ratio = left / deep
    # the photographed alone tell the factor, and how far single dots lie off it: what a relief of
    # photographs softens is its own
    shot = scratch / "depths-photographed.npy"
    of = np.load(shot) if shot.exists() else rows
    sure = [read_marks.depth_kind(*one[:3]) == "clear" and one[4] < 0.7 for one in of]
    logs = np.log(of[:, 3] / of[:, 1])[sure]
    factor = float(np.exp(np.median(logs)))
    spread = NINETY * 1.4826 * float(np.median(np.abs(logs - np.median(logs))))
    out = {"depth_factor": factor}
    for kind in ("clear", "fair", "faint", "pitted"):
        part = kinds == kind
        ends = np.log(_weighted(ratio[part] / factor, weight[part], (0.03, 0.96)))
        low, high = np.exp(
            np.array([-1, 1]) * np.hypot(np.clip([-ends[0], ends[1]], 0, None), spread)
        )
        # what is taken for a pit may be all dot
        high = max(high, out.get("depth_high_clear", 1.0))
        out |= {f"depth_low_{kind}": float(low), f"depth_high_{kind}": float(high)}
        print(kind, part.sum(), np.round([low, high], 3))
    print(f"factor {factor:.3f}, {sum(sure)} dots photographed off it by {spread:.3f} (90 %)")
    low, high = (np.array([out[f"depth_{end}_{k}"] for k in kinds]) for end in ("low", "high"))
    for one in WEARS:
        here = wear == one
        held = (ratio >= factor * low) & (ratio <= factor * high)
        off = np.median(np.abs(factor * deep / left - 1)[here])
        print(f"wear {one}: {here.sum()} dots, held {held[here].mean():.3f}, off by {off:.3f}")
    return out


def _weighted(values, weight, at):
    order = np.argsort(values)
    run = (np.cumsum(weight[order]) - 0.5 * weight[order]) / weight.sum()
    return [float(v) for v in np.interp(at, run, values[order])]


def write_depths(scratch):
    """Put the settings of depths among what was learned; all else stays as it is."""
    with np.load(LEARNED) as held:
        whole = {k: held[k] for k in held.files}
    was = json.loads(str(whole["settings"]))
    left = {k: v for k, v in was.items() if not k.startswith("depth_")}
    whole["settings"] = json.dumps(left | depth_settings(scratch))
    np.savez_compressed(LEARNED, **whole)


def kept(file, learn, scratch):
    """What was learned before, or is learned now."""
    if not file.exists():
        np.savez(file, **{f"k{i}": np.asarray(v) for i, v in enumerate(learn(scratch))})
    with np.load(file) as held:
        return tuple(held[f"k{i}"].astype(np.float64) for i in range(len(held.files)))


def write(scratch):
    figures = kept(scratch / "net_of_figures.npz", learned_figures, scratch)
    dots = kept(scratch / "net_of_dots.npz", learned_dots, scratch)
    looks = [
        one
        for f in sorted(scratch.glob("looks*.npy"))
        for one in np.load(f, allow_pickle=True).tolist()
    ]
    settings = fitted_settings(looks) | depth_settings(scratch) | DOTS
    left_out(scratch)
    print(json.dumps(settings, indent=1))
    # given and foreign shapes fit unlike well: the range holds both
    plates = np.array([o[k] for o in looks for k in ("plate", "plate_known")])
    low, high = plates.min(axis=0), plates.max(axis=0)
    margin = 0.1 * (high - low)
    np.savez_compressed(
        LEARNED,
        **{f"figures_{k}": np.asarray(v, np.float16 if k in (0, 2) else np.float32)
           for k, v in enumerate(figures)},
        **{f"dots_{k}": np.asarray(v, np.float32) for k, v in enumerate(dots)},
        settings=json.dumps(settings),
        plate_low=low - margin,
        plate_high=high + margin,
    )  # fmt: skip


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument(
        "what", choices=("figures", "dots", "looks", "depths", "write", "write-depths")
    )
    asked.add_argument("scratch", type=Path)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--count", type=int, default=100)
    asked.add_argument("--least-wear", type=float, default=0.0)
    asked.add_argument("--photographed", type=Path, help="plates of marks_as_asked.py --tuning")
    given = asked.parse_args()
    start = time.process_time()
    if given.what == "write":
        write(given.scratch)
    elif given.what == "write-depths":
        write_depths(given.scratch)
    elif given.what == "depths":
        made_depths(given.scratch, given.seed, given.count, given.photographed)
    else:
        work = {"figures": made_figures, "dots": made_dots, "looks": made_looks}[given.what]
        more = (given.least_wear,) if given.what == "dots" else ()
        work(given.scratch, given.seed, given.count, *more)
    print(f"{time.process_time() - start:.0f} s")


if __name__ == "__main__":
    main()
