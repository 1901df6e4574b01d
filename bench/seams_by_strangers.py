"""Seams with what strangers have on the table: who is wrong, and does not say so?

    python bench/seams_by_strangers.py --families barber,shadow --cases 3 --seed 1

Scans at 600 dots to the inch, painted here and sharing nothing with the measuring nor with the
truth makers of the tests: stitches as short bars of thread between dark holes on cloth of noise.
*Wrong*: told reliable, and the mean length is off by more than 3 half-widths and 0.5 %, or the
evenness by more than 0.015, or more than one hole in ten not found, or two invented.
"""

import argparse
import sys
from pathlib import Path

import numpy as np
from scipy.ndimage import gaussian_filter

sys.path.insert(0, str(Path(__file__).parents[1] / "src"))

from ironlace.evidence.errors import IronlaceError
from ironlace.running.seam.bearing import Origin
from ironlace.running.seam.seam_analysis import seam_found

DPI = 600.0
MM = DPI / 25.4


def cloth(rng, wide=56.0, high=11.0):
    """Light cloth with slubs, and the places of its pixels in mm, shapes (h, w)."""
    h, w = int(high * MM), int(wide * MM)
    grain = gaussian_filter(rng.normal(size=(h, w)), (1.2, 5)) * 12
    grain += gaussian_filter(rng.normal(size=(h, w)), (5, 1.2)) * 12
    y, x = np.mgrid[0:h, 0:w] / MM
    tone = np.array([196.0, 188.0, 170.0]) + rng.normal(0, 6, 3)
    return tone + 3.0 * grain[..., None], x, y


def seam(rng, picture, x, y, *, colour=(70, 40, 120), second=None, pitch=0.0, cv=0.04, at=5.5):
    """Sew along y = at; gives the places of the holes along x, mm."""
    stitch = rng.uniform(1.9, 3.0)
    holes = [1.5 + rng.uniform(0, 1)]
    while holes[-1] < x.max() - 1.5 - stitch:
        holes.append(holes[-1] + stitch * (1 + cv * rng.normal()))
    holes = np.array(holes)
    tilt = rng.uniform(-0.01, 0.01)
    across = y - at - tilt * (x - x.mean())
    half = 0.17
    i = np.clip(np.searchsorted(holes, x) - 1, 0, len(holes) - 2)
    along = (x - holes[i]) / (holes[i + 1] - holes[i])
    on = (along > 0.04) & (along < 0.96) & (x > holes[0]) & (x < holes[-1])
    bulge = half * (0.75 + 0.25 * np.sin(np.pi * np.clip(along, 0, 1)))
    cover = np.clip((bulge - np.abs(across)) * MM + 0.5, 0, 1) * on
    light = 0.65 + 0.5 * np.sqrt(np.clip(1 - (across / bulge) ** 2, 0, 1)) - 0.25 * across / half
    ply = 0.08 * np.sin(2 * np.pi * (x / 0.45 + across / 0.3))
    tone = np.array(colour, float) * np.ones((*x.shape, 3))
    if second is not None:
        turn = np.sin(2 * np.pi * (x / pitch + across / 0.5)) > 0
        tone = np.where(turn[..., None], np.array(second, float), tone)
    thread = tone * (light + ply)[..., None]
    out = picture * (1 - cover[..., None]) + thread * cover[..., None]
    shade = np.exp(-(((across - 0.22) / 0.1) ** 2)) * on * 0.25
    out *= (1 - shade * (1 - cover))[..., None]
    for hole in holes:
        far = np.hypot(x - hole, across)
        out *= (1 - 0.75 * np.exp(-((far / 0.16) ** 2)))[..., None]
    return out, holes


def scanned(rng, picture, blur=1.1):
    picture = gaussian_filter(picture, (blur, blur, 0)) + rng.normal(0, 2.0, picture.shape)
    return np.clip(picture, 0, 255).astype(np.uint8)


def plain(rng):
    """The yardstick."""
    ground, x, y = cloth(rng)
    out, holes = seam(rng, ground, x, y)
    return scanned(rng, out), holes


def barber(rng):
    """A thread twisted of two colours, a turn of it every 1 to 4 mm."""
    ground, x, y = cloth(rng)
    pitch = rng.uniform(1.0, 4.0)
    out, holes = seam(rng, ground, x, y, colour=(60, 45, 40), second=(205, 200, 190), pitch=pitch)
    return scanned(rng, out), holes


def shadow(rng):
    """A hand's shadow over a part of it, its rim along or across."""
    ground, x, y = cloth(rng)
    out, holes = seam(rng, ground, x, y)
    turn = rng.uniform(0, np.pi)
    far = (x - rng.uniform(15, 40)) * np.cos(turn) + (y - 5.5) * np.sin(turn)
    dark = 1 / (1 + np.exp(-far / rng.uniform(0.1, 1.0)))
    return scanned(rng, out * (1 - rng.uniform(0.4, 0.7) * dark)[..., None]), holes


def print_of_dots(rng):
    """Dots printed in rows, one of them under the seam, of the thread's own colour."""
    ground, x, y = cloth(rng)
    step = rng.uniform(1.5, 4.0)
    far = np.hypot((x + step / 2) % step - step / 2, (y - 5.5 + step / 2) % step - step / 2)
    dots = np.clip((rng.uniform(0.25, 0.5) - far) * MM + 0.5, 0, 1)[..., None]
    ground = ground * (1 - dots) + np.array([75.0, 45, 125]) * dots
    out, holes = seam(rng, ground, x, y)
    return scanned(rng, out), holes


def unpicked(rng):
    """Beside it the holes of a seam that was unpicked, of another length."""
    ground, x, y = cloth(rng)
    beside, step = rng.choice([-1, 1]) * rng.uniform(0.5, 1.5), rng.uniform(1.6, 3.2)
    for at in np.arange(1.0, x.max(), step):
        far = np.hypot(x - at - rng.normal(0, 0.05), y - 5.5 - beside)
        ground = ground * (1 - 0.7 * np.exp(-((far / 0.15) ** 2)))[..., None]
    out, holes = seam(rng, ground, x, y)
    return scanned(rng, out), holes


def through_old_holes(rng):
    """The same, sewn again along the very line of the old holes."""
    ground, x, y = cloth(rng)
    step = rng.uniform(1.6, 3.2)
    for at in np.arange(1.0, x.max(), step):
        far = np.hypot(x - at - rng.normal(0, 0.05), y - 5.5 - rng.normal(0, 0.05))
        ground = ground * (1 - 0.7 * np.exp(-((far / 0.15) ** 2)))[..., None]
    out, holes = seam(rng, ground, x, y)
    return scanned(rng, out), holes


def tacked(rng):
    """A tacking thread of another colour over and under beside it, in long stitches."""
    ground, x, y = cloth(rng)
    beside, step = rng.choice([-1, 1]) * rng.uniform(1.0, 2.5), rng.uniform(6, 12)
    on = ((x / step) % 1 < 0.6) & (np.abs(y - 5.5 - beside) < 0.2)
    ground = np.where(on[..., None], np.array([235.0, 235, 235]), ground)
    out, holes = seam(rng, ground, x, y)
    return scanned(rng, out), holes


def selvedge(rng):
    """The edge of the cloth beside it, with fringes, and a dark table beyond."""
    ground, x, y = cloth(rng)
    edge = 8.0 + 0.4 * gaussian_filter(rng.normal(size=x.shape[1]), 3) * 4
    beyond = np.clip((y - edge[None, :]) * MM, 0, 1)[..., None]
    ground = ground * (1 - beyond) + np.array([50.0, 42, 38]) * beyond
    out, holes = seam(rng, ground, x, y)
    return scanned(rng, out), holes


FAMILIES = (
    plain,
    barber,
    shadow,
    print_of_dots,
    unpicked,
    through_old_holes,
    tacked,
    selvedge,
)


def judged(holes, found):
    """What is wrong of what is told."""
    got = found.measured
    along = np.sort(got.places_mm[:, 0])
    far = np.abs(along[:, None] - holes[None])
    wrong = []
    true = np.diff(holes)
    low, mean, high = got.figures.mean_mm
    if not abs(mean - true.mean()) <= max(3 * (high - low) / 2, 0.005 * true.mean()):
        wrong.append(f"mean {mean:.3f} for {true.mean():.3f}")
    cv, is_cv = got.figures.cv[1], true.std(ddof=1) / true.mean()
    if np.isfinite(cv) and abs(cv - is_cv) > 0.015:
        wrong.append(f"cv {cv:.3f} for {is_cv:.3f}")
    share = (far.min(axis=0) < 0.3).mean()
    if share < 0.9:
        wrong.append(f"found {share:.2f}")
    sure = ~np.asarray(got.doubtful)[np.argsort(got.places_mm[:, 0])]
    if (invented := int(((far.min(axis=1) >= 0.3) & sure).sum())) > 1:
        wrong.append(f"invented {invented}")
    return wrong


def main():
    words = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    words.add_argument("--families", default=",".join(f.__name__ for f in FAMILIES))
    words.add_argument("--cases", type=int, default=3)
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--save", default="")
    asked = words.parse_args()
    known = {f.__name__: f for f in FAMILIES}
    for name in asked.families.split(","):
        for i in range(asked.cases):
            rng = np.random.default_rng([asked.seed, i, *name.encode()])
            pixels, holes = known[name](rng)
            if asked.save:
                import cv2

                cv2.imwrite(f"{asked.save}/{name}_{i}.png", pixels[..., ::-1])
            try:
                found = seam_found(pixels, Origin(), dpi=DPI, layout=None)
            except IronlaceError as error:
                print(f"{name:18s} {i} refused: {str(error)[:90]}", flush=True)
                continue
            wrong = judged(holes, found)
            told = "" if found.judged.reliable else f"told: {found.judged.why[0][:70]}"
            verdict = "WRONG " if wrong and not told else ""
            print(f"{name:18s} {i} {verdict}{told} | {'; '.join(wrong) or 'right'}", flush=True)


if __name__ == "__main__":
    main()
