"""Relief of plates: every figure of its table, beside what was to be reached.

python bench/marks_relief.py plates [--each 2] [--seed 900] [--face-set test] [--photographs 24]
python bench/marks_relief.py balls [--each 4] [--seed 900]
python bench/marks_relief.py relighting [--each 3] [--seed 900] [--count 24]
python bench/marks_relief.py light [--each 1] [--seed 77]
python bench/marks_relief.py tones [--each 1] [--seed 77]
python bench/marks_relief.py near [--each 2] [--seed 77]
python bench/marks_relief.py doubt KIND... [--each 3] [--seed 900] [--counts 24 12 8 6]
python bench/marks_relief.py torches [--each 2] [--seed 900] [--degrees -3 -1 1 3]
python bench/marks_relief.py few SURFACE... [--each 2] [--seed 900] [--size 0.04] [--face-set test]
python bench/marks_relief.py bends [--each 200] [--seed 900] [--counts 24 12 6]
python bench/marks_relief.py exact
python bench/marks_relief.py speed [--megapixels 24] [--sources src OTHER/src] [--times 2]

`plates` makes plates by `tests/truth/struck_plates.py`, which shares nothing with the relief;
`light` leaves lamps on (`strange_light.py`), `tones` develops by curves and by neighbourhood;
`doubt` asks how often the stated interval of the slopes' steepness holds the true one, on metals of
`shining_metal.py` that follow no formula of the relief's, and on struck plates;
`few` parts the error of 24, 12 and 6 photographs into detail, patches of a few millimetres and the
plate's broad form, with one shine for the whole plate, with its own in each place, and on the same
plate made of metal that shines evenly;
`bends` draws beams, exposures and torches of flat plates and of bent ones (radius in mm), as the
plates' maker lights them, and counts how many are taken for bent, by how much, and how many by one
chance for any number of photographs;
`exact` takes surfaces of closed form;
`speed` works through the command, decoding to height.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests" / "truth"), str(ROOT / "src")]

import struck_plates  # noqa: E402
from ironlace.marks.capture.capturing import CaptureAsked, GivenBall, captured  # noqa: E402
from ironlace.marks.capture.frames import Frames, light_of_numbers  # noqa: E402
from ironlace.marks.capture.geometry import PlateFrame  # noqa: E402
from ironlace.marks.capture.lights import light_at, slopes_doubt  # noqa: E402
from ironlace.marks.capture.outlines import Circle  # noqa: E402
from ironlace.marks.capture.registering import straightened  # noqa: E402
from ironlace.marks.errors import MarksError  # noqa: E402
from ironlace.marks.relief import beams, plate_relief  # noqa: E402
from ironlace.marks.relief.beams import (  # noqa: E402
    CoarseGrid,
    bend_in,
    directions_on,
    fitted_fields,
)
from ironlace.marks.relief.integrating import height_of_slopes  # noqa: E402
from ironlace.marks.relief.plate_relief import plate_of  # noqa: E402
from ironlace.marks.relief.stereo import (  # noqa: E402
    BentLight,
    least_squares,
    robust,
    robust_with_lobe,
)
from lit_surfaces import ball_scene, matt_pictures, paraboloid, ring_of_lights, sphere_cap  # noqa: E402
from shining_metal import bare, brushed, by_table, facets, oiled, two_lobes  # noqa: E402
from strange_light import Room, levelled, lifted, photographed  # noqa: E402
from struck_plates import (  # noqa: E402
    TEST_FACES,
    TUNING_FACES,
    Asked,
    _lit,
    _torches,
    photographs,
    struck_plate,
)

EDGE = (
    6  # px at the picture's edge that do not count: the plates' maker darkens their outermost rows
)


def angle(found, true):
    cross = np.linalg.norm(np.cross(found, true), axis=-1)
    return np.degrees(np.arctan2(cross, (found * true).sum(-1)))


@dataclass
class Row:
    """What was measured on one plate."""

    wear: float
    mean: float
    median: float
    coverage: float
    centre: float
    radius: float
    shift: float
    worst_shift: float
    turn: float
    direction: float
    distance: float
    found: int
    gain: float
    true_gain: float
    low: float
    high: float


def measured(plate, shots, *, use=None):
    return relief_measured(plate, shots, use=use)[0]


def relief_measured(plate, shots, *, use=None):
    """What is off in a plate's relief; where camera and torch were found; the relief itself."""
    use = list(range(len(shots.frames))) if use is None else use
    frames = Frames(tuple(f"{n:02d}" for n in use), tuple(shots.frames[n] for n in use))
    found, relief = plate_of(frames, CaptureAsked(ball_mm=6.0), workers=1)
    return row_of(plate, shots, use, found, relief), found, relief


def row_of(plate, shots, use, found, relief):
    """What is off in a relief, beside the truth of its plate and photographs."""
    true = plate.normals()
    inner = inner_of(plate, shots)
    known = inner & (relief.normals[..., 2] > 0)
    off = angle(relief.normals[known].astype(float), true[known].astype(float))
    balls = np.array([(b.x, b.y, b.r) for b in found.balls])
    near = [
        balls[np.hypot(balls[:, 0] - x, balls[:, 1] - y).argmin()] - (x, y, r)
        for x, y, r in shots.balls_px
    ]
    near = np.array([one for one in near if np.hypot(one[0], one[1]) < 5])
    shifts = np.array([m.shift_px for m in found.moves]) - shots.shift_px[use]
    turns = np.degrees([m.turn_rad for m in found.moves]) - shots.turn_deg[use]
    way, far = [], []
    for light, place in zip(found.lights, shots.light_mm[use], strict=True):
        if light is not None and np.isfinite(light.distance):
            way.append(angle(np.array(light.direction), place / np.linalg.norm(place)))
            far.append(abs(light.distance / np.linalg.norm(place) - 1))
    gain = relief.slope_gain
    slopes = [n[known][:, :2] / n[known][:, 2:] for n in (relief.normals, true)]
    gentle = np.abs(slopes[1]).max(1) < 0.3
    left = (slopes[0][gentle] * slopes[1][gentle]).sum() / (slopes[1][gentle] ** 2).sum()
    return Row(
        wear=plate.asked.wear,
        mean=float(off.mean()),
        median=float(np.median(off)),
        coverage=float(known[inner].mean()),
        centre=float(np.hypot(near[:, 0], near[:, 1]).max()) if len(near) else np.nan,
        radius=float(np.abs(near[:, 2]).max()) if len(near) else np.nan,
        shift=float(np.sqrt((shifts**2).mean())),
        worst_shift=float(np.hypot(*shifts.T).max()),
        turn=float(np.abs(turns).mean()),
        direction=float(np.mean(way)) if way else np.nan,
        distance=float(np.mean(far)) if far else np.nan,
        found=len(near),
        gain=gain.value,
        true_gain=float(gain.value * left),
        low=gain.low,
        high=gain.high,
    )


RELIEF = {
    "normals, mean, degrees": lambda r: r[24]["mean"],
    "normals, median": lambda r: r[24]["median"],
    "coverage": lambda r: r[24]["coverage"],
    "balls found of 2": lambda r: r[24]["found"],
    "centre, px": lambda r: r[24]["centre"],
    "radius, px": lambda r: r[24]["radius"],
    "shift, px": lambda r: r[24]["shift"],
    "shift, worst frame": lambda r: r[24]["worst_shift"],
    "turn, degrees": lambda r: r[24]["turn"],
    "torch, degrees": lambda r: r[24]["direction"],
    "torch's distance, %": lambda r: 100 * r[24]["distance"],
    "gain held": lambda r: float(r[24]["low"] <= r[24]["true_gain"] <= r[24]["high"]),
    "12 photographs, times": lambda r: r[12]["mean"] / r[24]["mean"] if 12 in r else np.nan,
    "6 photographs, times": lambda r: r[6]["mean"] / r[24]["mean"] if 6 in r else np.nan,
}
"""What is told of a plate's row, by how many photographs it was made of."""


def interval(values, rng):
    """Mean with its 90 % interval, plates drawn again."""
    values = np.asarray(values, float)
    again = [rng.choice(values, len(values)).mean() for _ in range(2000)]
    low, high = np.percentile(again, [5, 95])
    return f"{values.mean():.2f} ({low:.2f}-{high:.2f})"


def plates(chosen):
    faces = TEST_FACES if chosen.face_set == "test" else TUNING_FACES
    rows, fewer = [], {}
    for wear in chosen.wear:
        for n in range(chosen.each):
            rng = np.random.default_rng([chosen.seed, round(100 * wear), n])
            asked = Asked(
                wear=wear,
                face=faces[n % len(faces)],
                mm_per_px=float(rng.uniform(0.02, 0.025)),
                surface=("rubbed", "crusted", "scratched")[(n + round(10 * wear)) % 3],
            )
            plate = struck_plate(rng, asked)
            shots = photographs(rng, plate, 24, matt=chosen.matt)
            rows.append(measured(plate, shots))
            print(asked.surface, rows[-1], flush=True)
            for count in (12, 6):
                use = list(np.linspace(0, 24, count, endpoint=False).astype(int))
                fewer.setdefault((wear, count), []).append(
                    measured(plate, shots, use=use).mean / rows[-1].mean
                )
    rng = np.random.default_rng(1)
    print("| wear | mean | median | coverage | 12 of 24, times | 6 of 24, times |")
    for wear in chosen.wear:
        these = [row for row in rows if row.wear == wear]
        cells = [
            interval([row.mean for row in these], rng),
            interval([row.median for row in these], rng),
            f"{min(row.coverage for row in these):.4f}",
            interval(fewer[wear, 12], rng),
            interval(fewer[wear, 6], rng),
        ]
        print(f"| {wear} | {' | '.join(cells)} |")
    told = {name: np.array([getattr(row, name) for row in rows]) for name in Row.__annotations__}
    centre, radius = np.nanmax(told["centre"]), np.nanmax(told["radius"])
    print(f"balls found {told['found'].sum():.0f} of {2 * len(rows)}")
    print(f"worst centre {centre:.3f} px, radius {radius:.3f} px")
    shift, worst = np.sqrt((told["shift"] ** 2).mean()), told["worst_shift"].max()
    print(f"shift rms {shift:.3f} px, worst {worst:.3f} px, turn {told['turn'].mean():.4f} degrees")
    print(f"torch {np.nanmean(told['direction']):.3f} degrees, "
          f"{100 * np.nanmean(told['distance']):.2f} %")  # fmt: skip
    held = (told["low"] <= told["true_gain"]) & (told["true_gain"] <= told["high"])
    print(f"slope gain's interval holds the true one on {held.sum()} of {len(rows)} plates")


def exact():
    lights = ring_of_lights(24, (20, 30, 40, 50))
    for name, (_, normals, on) in {
        "sphere": sphere_cap(200, 300, 70),
        "paraboloid": (*paraboloid((200, 300), 0.001, -0.0005), np.ones((200, 300), bool)),
        "sphere, part in its shadow": sphere_cap(300, 160, 140),
    }.items():
        light = matt_pictures(normals, lights)
        lit = (np.einsum("ijk,lk->lij", normals, lights) > 0).all(0)
        plain = least_squares(light.reshape(24, -1), lights)
        off = angle(plain.normals.T.reshape(normals.shape), normals)[on & lit]
        coded = np.round(light.reshape(24, -1) / 0.8 * 242) / 255
        found = robust(coded.astype(np.float32), lights.astype(np.float32), dark=1.5 / 255)
        eight = angle(found.normals.T.reshape(normals.shape).astype(float), normals)
        part = eight[on & ~lit].mean() if (on & ~lit).any() else float("nan")
        print(f"{name}: least squares {off.max():.1e}; 8 bits lit {eight[on & lit].mean():.3f}, "
              f"partly shaded {part:.3f} degrees")  # fmt: skip
    y, x = np.mgrid[:480, :640].astype(float)
    k = 2 * np.pi / 60
    z = 5 * np.sin(k * x) * np.cos(0.7 * k * y) + 0.001 * (x - 100) ** 2
    right = 5 * k * np.cos(k * x) * np.cos(0.7 * k * y) + 0.002 * (x - 100)
    down = -3.5 * k * np.sin(k * x) * np.sin(0.7 * k * y)
    off = height_of_slopes(right, -down) - z + z.mean()
    print(f"integration {np.sqrt((off**2).mean()) / np.ptp(z):.1e} of the range")


def balls(chosen):
    """Radius and centre of the balls, by two makers of photographs with habits of their own."""
    for maker in ("plates", "ball scenes"):
        off = []
        for n in range(chosen.each):
            rng = np.random.default_rng([chosen.seed, n])
            if maker == "plates":
                surface = ("rubbed", "crusted", "scratched")[n % 3]
                size = float(rng.uniform(0.035, 0.05))
                plate = struck_plate(rng, Asked(mm_per_px=size, rows=1, surface=surface))
                shots = photographs(rng, plate, 12)
                pictures, true = shots.frames, shots.balls_px
            else:
                blur = float(rng.uniform(0.4, 1.2))
                places = ((60.4, 55.3), (398.8, 243.6))
                made = ball_scene(rng, shape=(300, 460), mm_per_px=0.075, places=places, count=10,
                                  finer=2, gamma=2.2, blur_px=blur)  # fmt: skip
                pictures, true = made.frames, made.balls
            frames = Frames(tuple(map(str, range(len(pictures)))), tuple(pictures))
            for one in captured(frames, CaptureAsked()).balls:
                x, y, r = min(true, key=lambda t: np.hypot(t[0] - one.x, t[1] - one.y))
                off.append((one.r - r, np.hypot(one.x - x, one.y - y)))
        radius, centre = np.array(off).T
        print(
            f"{maker}: {len(off)} of {2 * chosen.each} balls, radius {radius.mean():+.3f} px on "
            f"average, worst {np.abs(radius).max():.3f}; centre worst {centre.max():.3f}"
        )


def relighting(chosen):
    """One photograph left out and lit anew, from the relief and by a polynomial for each pixel.

    Photograph and pictures are divided by their own light thereabouts (2 mm), so that beam and
    exposure count for neither; correlation and rms outside balls, in linear light.
    """
    told = []
    for n in range(chosen.each):
        rng = np.random.default_rng([chosen.seed, 7, n])
        surface = ("rubbed", "crusted", "scratched")[n % 3]
        asked = Asked(mm_per_px=0.05, rows=2, wear=0.3, surface=surface, face=TEST_FACES[n % 6])
        plate = struck_plate(rng, asked)
        shots = photographs(rng, plate, chosen.count)
        names = tuple(f"{k:02d}" for k in range(chosen.count))
        whole = captured(Frames(names, shots.frames), CaptureAsked(ball_mm=6.0))
        table = light_of_numbers(255, "srgb")
        flat = [
            flattened(table[straightened(f, m, 0, f.shape[0], f.shape)], plate.mm_per_px)
            for f, m in zip(shots.frames, whole.moves, strict=True)
        ]
        high = np.argsort([light.direction[2] for light in whole.lights])
        inner = np.zeros(flat[0].shape, bool)
        inner[2 * EDGE : -2 * EDGE, 2 * EDGE : -2 * EDGE] = True
        for x, y, r in shots.balls_px:
            v, u = np.ogrid[: inner.shape[0], : inner.shape[1]]
            inner &= (u - x) ** 2 + (v - y) ** 2 > (1.6 * r) ** 2
        for share in (0.0, 0.35, 0.7):
            out = int(high[max(int(share * chosen.count), 1)])  # never the first, which is the grid
            out = out or int(high[2])
            rest = [k for k in range(chosen.count) if k != out]
            kept = Frames(tuple(names[k] for k in rest), tuple(shots.frames[k] for k in rest))
            _, relief = plate_of(kept, CaptureAsked(ball_mm=6.0), workers=1)
            to = np.array(whole.lights[out].direction)
            half = to + np.array([0, 0, 1])
            half /= np.linalg.norm(half)
            facing = np.maximum(relief.normals @ to, 0)
            glance = np.maximum(relief.normals @ half, 1e-3) ** relief.lobe.exponent
            seen = facing + np.where(facing > 0, relief.lobe.strength * glance, 0)
            by_relief = flattened((seen * relief.albedo).astype(np.float32), plate.mm_per_px)
            ways = np.array([whole.lights[k].direction for k in rest])
            solved = np.linalg.lstsq(terms(ways), np.stack([flat[k][inner] for k in rest]))[0]
            by_polynomial = terms(to[None]) @ solved
            row = []
            for made in (by_relief[inner], by_polynomial[0]):
                true = flat[out][inner]
                row += [np.corrcoef(made, true)[0, 1], np.sqrt(((made - true) ** 2).mean())]
            told.append((n, np.degrees(np.arcsin(to[2])), *row))
            print(surface, " ".join(f"{one:.3f}" for one in told[-1][1:]), flush=True)
    told = np.array(told)
    for name, at in (("relief", 2), ("polynomial", 4)):
        low = told[:, 1] < 20
        print(
            f"{name}: correlation {told[:, at].mean():.3f}, rms {told[:, at + 1].mean():.3f}; "
            f"torch under 20 degrees {told[low, at].mean():.3f}, {told[low, at + 1].mean():.3f}"
        )
    by_plate = [(told[told[:, 0] == n][:, 4] - told[told[:, 0] == n][:, 2]).mean()
                for n in range(chosen.each)]  # fmt: skip
    print("polynomial less relief, correlation:", interval(by_plate, np.random.default_rng(0)))


NEAR = {
    "camera without perspective": {},
    "camera at 600 mm": {"camera_mm": 600.0},
    "camera at 300 mm": {"camera_mm": 300.0},
    "camera at 150 mm": {"camera_mm": 150.0},
    "balls of 40 px": {"mm_per_px": 0.075},
    "balls of 30 px": {"mm_per_px": 0.1},
    "balls that mirror 0.4": {"mirrors": 0.4},
    "balls that mirror 0.6": {"mirrors": 0.6},
    "balls of 40 px that mirror 0.5": {"mirrors": 0.5, "mm_per_px": 0.075},
    "shining, balls that mirror 0.6": {"mirrors": 0.6, "gloss": 0.8},
}
"""Ways to stand a telephone too near, and balls that serve badly."""
ROOMS = {
    "good": {},
    "good, matt": {"gloss": 0.0},
    "room's light 0.1": {"ambient": 0.1},
    "room's light 0.3": {"ambient": 0.3},
    "lamp 0.3": {"lamp": (130, 40, 0.3)},
    "lamp 0.8": {"lamp": (40, 60, 0.8)},
    "second torch 0.25": {"twin": 0.25},
    "card 0.5": {"card": 0.5},
    "contrast lifted": {"tone": lifted(0.35)},
    "each levelled": {"own_tone": levelled},
    "balls that mirror": {"mirrors": 0.6},
    "bent, 300 mm": {"bend_mm": 300.0},
}
"""What is asked of `strange_light.py`, by what it is called."""


def gamma_18(v):
    """Numbers by a power of 1.8 in place of the sRGB curve."""
    return linear_of(v) ** (1 / 1.8)


def video(v):
    """Numbers by ITU-R BT.709-6, item 1.2."""
    light = linear_of(v)
    return np.where(light < 0.018, 4.5 * light, 1.099 * np.maximum(light, 1e-9) ** 0.45 - 0.099)


def film(v):
    """A toe and a shoulder: light over light and a part of it, shadows lifted (not tuned on)."""
    light = linear_of(v)
    return 0.05 + 0.95 * (light * 1.35 / (light + 0.35)) ** (1 / 2.2)


def linear_of(v):
    v = np.clip(v, 0, 1)
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def exposed_alike(v):
    """Each photograph exposed for its own mean, then a curve that lifts contrast."""
    light = linear_of(v)
    light = np.clip(light * 0.22 / light.mean(), 0, 1)
    return lifted(0.35)(np.where(light <= 0.0031308, 12.92 * light,
                                 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055))  # fmt: skip


def wide_evened(v):
    """Wide parts' contrast made 0.7 of it, fine parts' left."""
    told = np.log(v + 0.004)
    return np.exp(told - 0.3 * (cv2.GaussianBlur(told, (0, 0), v.shape[1] / 20) + 0.7))


def by_tiles(v):
    """Histograms of tiles evened within a limit (Zuiderveld, 1994; OpenCV's)."""
    small = np.round(255 * np.clip(v, 0, 1)).astype(np.uint8)
    return cv2.createCLAHE(1.5, (6, 6)).apply(small) / 255


def sharpened(v):
    """Fine contrast lifted: the picture less a blurred one of 1.2 px, half of it added."""
    return v + 0.5 * (v - cv2.GaussianBlur(v, (0, 0), 1.2))


TONES = {
    "none": {},
    "contrast lifted 0.35": {"tone": lifted(0.35)},
    "contrast lifted 0.6": {"tone": lifted(0.6)},
    "gamma 1.8": {"tone": gamma_18},
    "video's": {"tone": video},
    "film": {"tone": film},
    "exposed alike, lifted": {"own_tone": exposed_alike},
    "exposed by distance, lifted": {"even": True, "tone": lifted(0.35)},
    "wide parts evened": {"own_tone": wide_evened},
    "by tiles": {"own_tone": by_tiles},
    "sharpened": {"own_tone": sharpened},
    "each levelled": {"own_tone": levelled},
}
"""Ways to develop; the first three were looked at while the search was made, the rest were not."""


def light(chosen):
    """Photographs in light that is not one torch's alone: what is told, and what is wrong."""
    rooms(chosen, ROOMS)


def rooms(chosen, which):
    for name, asked in which.items():
        for n in range(chosen.each):
            taken = photographed(np.random.default_rng([chosen.seed, n]), Room(**asked))
            names = tuple(f"{k:02d}" for k in range(len(taken.frames)))
            try:
                frames = Frames(names, tuple(taken.frames))
                found, relief = plate_of(frames, CaptureAsked(ball_mm=6.0), workers=1)
            except MarksError as error:
                print(f"{name}: refused: {str(error)[:90]}", flush=True)
                continue
            known = taken.bare & (relief.normals[..., 2] > 0)
            made, true = relief.normals[known].astype(float), taken.normals[known]
            steep = steepness(relief.normals, taken.normals, taken.bare)
            curve, gain = relief.curve, relief.slope_gain
            least, most = gain.low / gain.value, gain.high / gain.value
            out = "" if least <= steep <= most else "OUT"
            way = [
                angle(np.array(light.direction), place / np.linalg.norm(place))
                for light, place in zip(found.lights, taken.lights_mm, strict=True)
                if light is not None
            ]
            print(f"{name}: normals {angle(made, true).mean():.2f} degrees, slopes {steep:.2f}, "
                  f"other light {relief.other.usual:.2f}; curve {curve.change:.2f}, "
                  f"{curve.power:.2f}, known {curve.known}, doubt {curve.slopes_doubt:.2f}; gain "
                  f"{gain.value:.2f} ({gain.low:.2f} to {gain.high:.2f}), slopes within "
                  f"{least:.2f} to {most:.2f} {out}; "
                  f"torches off by {np.mean(way):.2f} degrees, {len(found.used)} used; "
                  f"{[t[:60] for t in relief.notices]}", flush=True)  # fmt: skip


METALS = {
    "own": (0.25, None),
    "matt": (0.0, None),
    "brushed": (1.0, brushed()),
    "two lobes": (1.0, two_lobes()),
    "facets": (1.0, facets()),
    "bare": (1.0, bare()),
    "table": (1.0, by_table()),
    "oiled": (1.0, oiled()),
}
"""Gloss and metal of `strange_light.py`; nothing was tuned on the last three."""


def doubt(chosen):
    """How often the stated 90 % interval holds the true steepness, by the number of photographs.

    Steepness is slopes over the true ones, both blurred by 2 px, so that the camera's own blur
    counts for little; the interval is that of `slope_gain`, over its value.
    """
    held = {}
    for kind in chosen.kinds or METALS:
        for n in range(chosen.each):
            rng = np.random.default_rng([chosen.seed, n, *kind.encode()])
            frames, true, bare_ = doubtful_scene(rng, kind, n)
            for count in chosen.counts:
                use = np.linspace(0, len(frames), count, endpoint=False).astype(int)
                given = Frames(tuple(f"{k:02d}" for k in use), tuple(frames[k] for k in use))
                try:
                    _, relief = plate_of(given, CaptureAsked(ball_mm=6.0), workers=1)
                except MarksError as error:
                    print(f"{kind} {n} {count}: refused: {str(error)[:80]}", flush=True)
                    continue
                gain = relief.slope_gain
                steep = steepness(relief.normals, true, bare_)
                ok = gain.low <= gain.value * steep <= gain.high
                wide = np.log(gain.high / gain.low)
                held.setdefault(count, []).append((ok, np.log(steep), wide))
                print(f"{kind} {n} {count}: {steep:.2f} (within {gain.low / gain.value:.2f} to "
                      f"{gain.high / gain.value:.2f}) {'' if ok else 'OUT'} gain {gain.value:.2f}, "
                      f"lobe {relief.lobe.strength:.2f}, {relief.lobe.exponent:.0f}; "
                      f"{[t[:45] for t in relief.notices]}", flush=True)  # fmt: skip
    for count, rows in held.items():
        ok, off, wide = np.array(rows, float).T
        print(f"{count} photographs: held {ok.sum():.0f} of {len(ok)}; slopes off by "
              f"{np.expm1(off.mean()):+.0%}, rms {np.sqrt((off**2).mean()):.3f}; high over low "
              f"{np.exp(wide.mean()):.2f}")  # fmt: skip


def turned(place, kind, rad, rng):
    """A torch's place seen wrong by an angle, its distance kept."""
    far = np.linalg.norm(place)
    azimuth, height = np.arctan2(place[1], place[0]), np.arcsin(place[2] / far)
    if kind == "all higher":
        height += rad
    elif kind == "all to one side":
        cos, sin = np.cos(rad), np.sin(rad)
        return np.array([cos * place[0] + sin * place[2], place[1],
                         cos * place[2] - sin * place[0]])  # fmt: skip
    else:  # each by itself
        height += rad * rng.normal()
        azimuth += rad * rng.normal() / np.cos(height)
    height = np.clip(height, 0.05, 1.5)
    return far * np.array([np.cos(height) * np.cos(azimuth), np.cos(height) * np.sin(azimuth),
                           np.sin(height)])  # fmt: skip


def torches(chosen):
    """By how much slopes change when torches are told wrong, beside what the relief allows for."""
    for n in range(chosen.each):
        rng = np.random.default_rng([chosen.seed, 17, n])
        taken = photographed(rng, Room(count=24, gloss=(0.25, 0.0)[n % 2]))
        frames = Frames(tuple(f"{k:02d}" for k in range(24)), tuple(taken.frames))
        told = {}
        for kind in ("right", "all higher", "all to one side", "each by itself"):
            for deg in (0.0,) if kind == "right" else chosen.degrees:
                lights = [light_at(turned(p, kind, np.radians(deg), rng)) for p in taken.lights_mm]
                asked = CaptureAsked(mm_per_px=taken.mm_per_px, lights=lights)
                try:
                    _, relief = plate_of(frames, asked, workers=1)
                except MarksError as error:
                    print(f"{n} {kind} {deg:+g}: refused: {str(error)[:60]}", flush=True)
                    continue
                told[kind, deg] = steepness(relief.normals, taken.normals, taken.bare)
                ratio = told[kind, deg] / told["right", 0.0]
                gain = relief.slope_gain
                allowed = np.expm1(slopes_doubt(lights, abs(deg)))
                used = np.isfinite(relief.gains).sum()
                print(f"{n} {kind} {deg:+g}: slopes times {ratio:.3f}, one deviation "
                      f"{allowed:.3f}; gain {gain.value:.2f}, {used} used", flush=True)  # fmt: skip
        balls = [GivenBall(Circle(*taken.balls_px[0][:3]), 3.0)]
        try:
            found, relief = plate_of(frames, CaptureAsked(balls=balls), workers=1)
            one = steepness(relief.normals, taken.normals, taken.bare) / told["right", 0.0]
            way = [
                angle(np.array(light.direction), place / np.linalg.norm(place))
                for light, place in zip(found.lights, taken.lights_mm, strict=True)
                if light
            ]
            print(f"{n} one ball: slopes times {one:.3f}, torches off by {np.mean(way):.1f} "
                  f"degrees, {len(found.used)} used", flush=True)  # fmt: skip
        except MarksError as error:
            print(f"{n} one ball: refused: {str(error)[:60]}", flush=True)


def doubtful_scene(rng, kind, n):
    """24 photographs of a metal, its normals, and where it is bare."""
    if kind in METALS:
        gloss, metal = METALS[kind]
        taken = photographed(rng, Room(count=24, gloss=gloss, metal=metal))
        return taken.frames, taken.normals, taken.bare
    asked = Asked(mm_per_px=0.06, wear=0.3, surface=kind, face=TEST_FACES[n % 6])
    plate = struck_plate(rng, asked)
    shots = photographs(rng, plate, 24)
    inner = np.zeros(plate.height.shape, bool)
    inner[EDGE:-EDGE, EDGE:-EDGE] = True
    for x, y, r in shots.balls_px:
        v, u = np.ogrid[: inner.shape[0], : inner.shape[1]]
        inner &= (u - x) ** 2 + (v - y) ** 2 > (r + 4) ** 2
    return list(shots.frames), plate.normals(), inner


def steepness(made, true, where):
    """Slopes over the true ones where these are gentle, fine detail blurred away."""
    known = (where & (made[..., 2] > 0)).astype(np.float32)

    def blurred(values):
        return cv2.GaussianBlur((known * values).astype(np.float32), (0, 0), 2.0)

    share = np.maximum(blurred(1.0), 1e-3)
    slopes = [
        np.dstack([blurred(n[..., k] / np.maximum(n[..., 2], 0.05)) / share for k in (0, 1)])
        for n in (made, true)
    ]
    gentle = (known > 0) & (np.abs(slopes[1]).max(2) < 0.3)
    a, b = (one[gentle] for one in slopes)
    return float((a * b).sum() / (b * b).sum())


def terms(ways):
    """Malzbender, Gelb and Wolters (2001): the six of a quadratic in the light's X and Y."""
    x, y = ways[:, 0], ways[:, 1]
    return np.stack([x * x, y * y, x * y, x, y, np.ones_like(x)], 1)


def flattened(light, mm_per_px):
    """Divided by the light thereabouts."""
    light = np.asarray(light, np.float32)
    return light / np.maximum(cv2.GaussianBlur(light, (0, 0), 2.0 / mm_per_px), 1e-4)


def passes():
    """One thread: the stereo passes against reading their input and writing their output once."""
    rng = np.random.default_rng(0)
    lights = ring_of_lights(24, (16, 24, 32, 40, 48, 54)).astype(np.float32)
    count, times = 3072, 60
    normals = rng.normal(0, 0.08, (3, count))
    normals[2] = 1
    normals /= np.linalg.norm(normals, axis=0)
    light = (np.maximum(lights @ normals, 0) / lights[:, 2:]).astype(np.float32)
    light *= 1 + rng.normal(0, 0.02, light.shape).astype(np.float32)
    light[rng.uniform(size=light.shape) < 0.01] *= 0.1
    large, out = np.ones((24, 2_000_000), np.float32), np.ones((4, 2_000_000), np.float32)
    begun = time.process_time()
    for _ in range(3):
        large.sum()
        out[:] = 1.5
    once = (time.process_time() - begun) / 3 / 2_000_000
    dark = np.full(24, 0.01, np.float32)
    torches = BentLight.over(lights, 0.5, 14.0)
    for name, run in {
        "plain least squares": lambda: least_squares(light, lights),
        "robust, matt": lambda: robust(light, lights, dark=0.01),
        "robust, with a lobe": lambda: robust_with_lobe(light, torches, dark=dark),
    }.items():
        begun = time.process_time()
        for _ in range(times):
            run()
        each = (time.process_time() - begun) / times / count
        print(f"{name}: {each * 1e9:.0f} ns a place, {each / once:.0f} times reading and writing")


DETAIL_MM = 0.45
"""Standard width over which errors are averaged: what is left is detail, 20 px of the plates."""


def parted(plate, shots, normals):
    """Mean error in degrees: all, detail, patches of some millimetres, broad form (a quadratic)."""
    true = plate.normals()
    known = inner_of(plate, shots) & (normals[..., 2] > 0)
    off = angle(normals[known].astype(float), true[known].astype(float)).mean()
    wrong = np.where(known[..., None], (normals - true)[..., :2], 0).astype(np.float32)
    wide = DETAIL_MM / plate.mm_per_px
    share = np.maximum(cv2.GaussianBlur(known.astype(np.float32), (0, 0), wide), 1e-3)
    smooth = np.dstack([cv2.GaussianBlur(wrong[..., k], (0, 0), wide) / share for k in (0, 1)])
    y, x = (np.linspace(-1, 1, n) for n in known.shape)
    x, y = (one[known] for one in np.meshgrid(x, y))
    terms_ = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], 1)
    broad = terms_ @ np.linalg.lstsq(terms_[::17], smooth[known][::17], rcond=None)[0]
    parts = (wrong - smooth)[known], smooth[known] - broad, broad
    return [off, *(np.degrees(np.hypot(*one.T).mean()) for one in parts)]


def inner_of(plate, shots):
    """Where a plate counts: not at the picture's edge, nor on a ball."""
    inner = np.zeros(plate.height.shape, bool)
    inner[EDGE:-EDGE, EDGE:-EDGE] = True
    for x, y, r in shots.balls_px:
        v, u = np.ogrid[: inner.shape[0], : inner.shape[1]]
        inner &= (u - x) ** 2 + (v - y) ** 2 > (r + 3) ** 2
    return inner


def evenly_shining(metal):
    """The plates' metal with its mean strength and exponent everywhere."""

    def made(rng, plate, *, matt):
        albedo, gloss, rough = metal(rng, plate, matt=matt)
        return albedo, np.full_like(gloss, gloss.mean()), np.full_like(rough, rough.mean())

    return made


def few(chosen):
    """Why few photographs are worse: one shine for all, its own in each place, even metal."""
    faces = TEST_FACES if chosen.face_set == "test" else TUNING_FACES
    metal, local = struck_plates._metal, plate_relief._with_local_shine
    kinds = {
        "one shine": (metal, lambda lit: lit),
        "in each place": (metal, local),
        "even metal": (evenly_shining(metal), local),
    }
    told = {}
    for surface in chosen.kinds or ("rubbed", "crusted", "scratched"):
        for n in range(chosen.each):
            for kind, (of_metal, shine) in kinds.items():
                rng = np.random.default_rng([chosen.seed, n])
                wear = float(rng.choice([0.0, 0.3, 0.6, 0.8, 0.95]))
                asked = Asked(wear, faces[n % len(faces)], chosen.size, surface=surface)
                plate = struck_plate(rng, asked)
                struck_plates._metal, plate_relief._with_local_shine = of_metal, shine
                try:
                    shots = photographs(rng, plate, 24)
                    for count in (24, 12, 6):
                        use = np.linspace(0, 24, count, endpoint=False).astype(int)
                        names = tuple(f"{k:02d}" for k in use)
                        frames = Frames(names, tuple(shots.frames[k] for k in use))
                        _, relief = plate_of(frames, CaptureAsked(ball_mm=6.0), workers=1)
                        row = parted(plate, shots, relief.normals)
                        told.setdefault((surface, kind, count), []).append(row)
                finally:
                    struck_plates._metal, plate_relief._with_local_shine = metal, local
        for kind in kinds:
            best = np.array(told[surface, kind, 24])[:, 0]
            for count in (24, 12, 6):
                rows = np.array(told[surface, kind, count])
                cells = " ".join(f"{one:.3f}" for one in rows.mean(0))
                print(f"{surface}, {kind}, {count}: all, detail, patches, broad {cells}; times 24 "
                      f"{(rows[:, 0] / best).mean():.2f}", flush=True)  # fmt: skip


def fields_of_bent(rng, grid, count, radius):
    """Fields fitted to the light of a bare plate, flat or bent about both axes; the responses."""
    torches = _torches(rng, 24)[np.linspace(0, 24, count, endpoint=False).astype(int)]
    slopes = np.dstack([grid.x, grid.y]) / radius
    rise = -(grid.x**2 + grid.y**2) / 2 / radius
    point = np.dstack([grid.x, grid.y, rise]).astype(np.float32)
    normal = np.dstack([slopes, np.ones_like(grid.x)])
    normal /= np.linalg.norm(normal, axis=2, keepdims=True)
    gloss, rough, no_ball = rng.uniform(0.1, 0.9), rng.uniform(8, 30), np.zeros(rise.shape, bool)
    cells, upright, response = [], [], []
    for torch in torches:
        lit = _lit(rng, torch, point, normal.astype(np.float32), 0.35, gloss, rough, no_ball)
        towards, fall = directions_on(grid, light_at(torch))
        cells.append(lit.ravel() * np.exp(rng.normal(0, 0.06)))
        upright.append((fall * towards[..., 2]).ravel())
        middle = towards[rise.shape[0] // 2, rise.shape[1] // 2]
        response.append(middle[:2] / middle[2])
    outside = no_ball.ravel()
    fields, _ = fitted_fields(np.stack(cells), np.stack(upright), outside, grid)
    return fields, np.array(response)


def bends(chosen):
    """How many flat and bent plates are taken for bent, with one chance for all and with ours."""
    grid = CoarseGrid.over(PlateFrame((600, 1000), 0.04, True))
    rarely = beams.RARELY
    for radius in (np.inf, 300.0, 600.0):
        for count in chosen.counts:
            rng = np.random.default_rng([chosen.seed, count, int(min(radius, 1e6))])
            drawn = [fields_of_bent(rng, grid, count, radius) for _ in range(chosen.each)]
            told = {}
            for name, least in (("", rarely), ("one chance", beams.BY_CHANCE)):
                beams.RARELY = least
                told[name] = np.array([bend_in(*one, grid.reach())[1] for one in drawn])
            beams.RARELY = rarely
            words = []
            for name, tilt in told.items():
                taken = (tilt != 0).any((1, 2))
                deg = [np.degrees(2 * np.abs(one).max()) for one in tilt[taken]]
                both = (tilt[:, [0, 1], [1, 2]] != 0).mean()
                words.append(f"{name} {taken.mean():.3f}, by {np.mean(deg or [0]):.1f} degrees, "
                             f"its own two numbers {both:.3f}")  # fmt: skip
            print(f"radius {radius:g}, {count}: {'; '.join(words)}", flush=True)


def large_photographs(rng, folder, megapixels):
    """A worn plate's 24 photographs, enlarged and with noise of their own, as JPEG."""
    plate = struck_plate(rng, Asked(mm_per_px=0.02, wear=0.6))
    files = []
    for n, frame in enumerate(photographs(rng, plate, 24).frames):
        larger = (megapixels * 1e6 / frame.size) ** 0.5
        picture = cv2.resize(frame, None, fx=larger, fy=larger, interpolation=cv2.INTER_CUBIC)
        noise = rng.standard_normal(picture.shape, np.float32)
        picture = np.clip(picture + 1.3 * noise + 0.5, 0, 255).astype(np.uint8)
        files.append(f"{folder}/{n:02d}.jpg")
        cv2.imwrite(files[-1], picture)
    return files


def speed(chosen):
    """The public command over large photographs; of several checkouts by turns, beside each other.

    Processor seconds are user and system of the whole command, with starting and writing.
    """
    passes()
    with tempfile.TemporaryDirectory() as kept:
        files = large_photographs(np.random.default_rng(3), kept, chosen.megapixels)
        first = None
        for turn, source in enumerate(chosen.sources * chosen.times):
            out = f"{kept}/{turn}"
            words = ["marks", "relief", *files, "--ball-mm", "6", "--out", out]
            begun, used = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
            subprocess.run(
                [sys.executable, "-m", "ironlace", *words], check=True, cwd=source,
                stdout=subprocess.DEVNULL,
            )  # fmt: skip
            wall, now = time.perf_counter() - begun, resource.getrusage(resource.RUSAGE_CHILDREN)
            told = json.loads(Path(f"{out}/relief.json").read_text(encoding="utf-8"))
            normals = np.load(f"{out}/normals.npy")
            first = normals if first is None else first
            lit = (normals[..., 2] > 0) & (first[..., 2] > 0)
            off = angle(normals[lit][::37], first[lit][::37])
            print(f"{source}: 24 x {chosen.megapixels:g} MP: {wall:.1f} s wall, "
                  f"{now.ru_utime - used.ru_utime + now.ru_stime - used.ru_stime:.1f} processor s, "
                  f"{told['peak_mb']:.0f} MB; load {os.getloadavg()[0]:.1f}; normals off the "
                  f"first's by {off.mean():.4f} degrees, 99 % within {np.percentile(off, 99):.4f}, "
                  f"known both {lit.mean():.4f}", flush=True)  # fmt: skip


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "what",
        choices=[
            "plates",
            "balls",
            "relighting",
            "light",
            "tones",
            "near",
            "doubt",
            "torches",
            "few",
            "bends",
            "exact",
            "speed",
        ],
    )
    parser.add_argument("kinds", nargs="*", help="metals or struck surfaces, for doubt and few")
    parser.add_argument("--counts", type=int, nargs="*", default=[24, 12, 8, 6])
    parser.add_argument("--degrees", type=float, nargs="*", default=[-3.0, -1.0, 1.0, 3.0])
    parser.add_argument("--each", type=int, default=2)
    parser.add_argument("--seed", type=int, default=900)
    parser.add_argument("--wear", type=float, nargs="*", default=[0.0, 0.3, 0.6, 0.8, 0.95])
    parser.add_argument("--face-set", choices=["tuning", "test"], default="test")
    parser.add_argument("--count", type=int, default=24, help="photographs, for relighting")
    parser.add_argument("--size", type=float, default=0.04, help="mm to the pixel, for few")
    parser.add_argument("--matt", action="store_true")
    parser.add_argument("--megapixels", type=float, default=24.0)
    parser.add_argument("--sources", nargs="+", default=[str(ROOT / "src")], help="for speed")
    parser.add_argument("--times", type=int, default=1, help="by turns, for speed")
    chosen = parser.parse_args()
    if chosen.what == "plates":
        plates(chosen)
    elif chosen.what == "balls":
        balls(chosen)
    elif chosen.what == "relighting":
        relighting(chosen)
    elif chosen.what == "light":
        light(chosen)
    elif chosen.what == "tones":
        rooms(chosen, TONES)
    elif chosen.what == "near":
        rooms(chosen, NEAR)
    elif chosen.what == "doubt":
        doubt(chosen)
    elif chosen.what == "torches":
        torches(chosen)
    elif chosen.what == "few":
        few(chosen)
    elif chosen.what == "bends":
        bends(chosen)
    elif chosen.what == "exact":
        exact()
    else:
        speed(chosen)


if __name__ == "__main__":
    main()
