"""Seams as nobody has tried them: who is wrong, and silent about it?

    python bench/seams_never_thought_of.py --families folded,twill --cases 2 --seed 1 [--command]

Its own painter: cloth woven yarn by yarn, every stitch a lit rod from hole to hole wherever those
lie, so that a seam may turn, come back or be sewn over. Families in `HELD` were never looked at
while anything was mended. *Silent*: not refused, no doubt in the first three sentences, and the
mean or the evenness off by more than twice the half-width (and 0.5 % or 0.01), or the number of
stitches or of skipped ones wrong by more than one.
"""

import argparse
import itertools
import json
import subprocess
import sys
import tempfile
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from PIL import Image
from scipy.ndimage import gaussian_filter, gaussian_filter1d

SOURCE = Path(__file__).parents[1] / "src"
sys.path.insert(0, str(SOURCE))

from ironlace.evidence.errors import IronlaceError  # noqa: E402
from ironlace.running.seam.bearing import Origin  # noqa: E402
from ironlace.running.seam.seam_analysis import seam_found  # noqa: E402
from ironlace.running.seam.seam_told import seam_figures, seam_sentences  # noqa: E402
from ironlace.workshop.seams import LEAST_FILE_DPI  # noqa: E402

DPI = 600.0
K = DPI / 25.4
WIDE, HIGH = 46.0, 9.0
THREADS = ((52, 36, 92), (120, 26, 34), (24, 74, 58), (30, 32, 40), (238, 236, 230))
CLOTHS = ((202, 196, 180), (188, 200, 206), (214, 204, 190), (176, 182, 160), (120, 96, 70))


@dataclass
class Sheet:
    """A painted sheet with its truth: holes in order, and stitches from each to the next."""

    rng: np.random.Generator
    light: np.ndarray
    x: np.ndarray
    y: np.ndarray
    holes: np.ndarray | None = None
    stitches: np.ndarray | None = None
    tag: float | None = None
    blur: float = 0.9
    jpeg: int = 0
    stated: float = DPI


def woven(rng, tone=None, yarn=None, high=HIGH):
    """Plain weave, yarn over yarn, each of its own thickness and lightness."""
    h, w = int(high * K), int(WIDE * K)
    y, x = np.mgrid[0:h, 0:w] / K
    yarn = rng.uniform(0.24, 0.4) if yarn is None else yarn
    u = x / yarn + 0.12 * gaussian_filter(rng.normal(size=(h, w)), 14) * 14
    v = y / yarn + 0.12 * gaussian_filter(rng.normal(size=(h, w)), 14) * 14
    over = (np.floor(u) + np.floor(v)) % 2 > 0
    round_ = np.where(over, np.sin(np.pi * (u % 1)), np.sin(np.pi * (v % 1)))
    warp = rng.normal(0, 0.03, int(u.max()) + 3)[np.floor(u).astype(int) + 1]
    weft = rng.normal(0, 0.03, int(v.max()) + 3)[np.floor(v).astype(int) + 1]
    shade = 0.86 + 0.14 * round_ + np.where(over, warp, weft)
    tone = CLOTHS[rng.integers(len(CLOTHS) - 1)] if tone is None else tone
    return Sheet(rng, np.array(tone, float) * shade[..., None], x, y)


def rod(sheet, a, b, colour, width, hole=True):
    """A stitch from a to b: a lit rod, its plies, its shadow; and the pit of its first hole."""
    rng, pad = sheet.rng, 1.0
    low, high = np.minimum(a, b) - pad, np.maximum(a, b) + pad
    rows = slice(max(0, int(low[1] * K)), max(0, int(high[1] * K)))
    cols = slice(max(0, int(low[0] * K)), max(0, int(high[0] * K)))
    x, y = sheet.x[rows, cols], sheet.y[rows, cols]
    if not x.size:
        return
    long = float(np.hypot(*(b - a)))
    d = (b - a) / max(long, 1e-6)
    along = (x - a[0]) * d[0] + (y - a[1]) * d[1]
    across = (y - a[1]) * d[0] - (x - a[0]) * d[1]
    share = np.clip(along / long, 0, 1)
    half = 0.5 * width * (0.62 + 0.38 * np.sin(np.pi * share) ** 0.5)
    beyond = np.maximum(0.08 - along, along - long + 0.08).clip(0)
    far = np.hypot(across, 1.6 * beyond)
    part = sheet.light[rows, cols]
    shade = np.exp(-(((np.hypot(across - 0.7 * width, beyond)) / (0.5 * width)) ** 2))
    part *= (1 - 0.3 * shade)[..., None]
    cover = np.clip((half - far) * K + 0.5, 0, 1)[..., None]
    up = np.sqrt(np.clip(1 - (across / np.maximum(half, 1e-6)) ** 2, 0, 1))
    ply = 0.1 * np.cos(2 * np.pi * (along / 0.55 - across / 0.5 + rng.uniform()))
    dive = 0.75 + 0.25 * np.clip(4 * share * (1 - share) * 1.6, 0, 1)
    lit = (0.5 + 0.5 * up - 0.35 * across / max(width, 0.1) + ply) * dive
    part[:] = part * (1 - cover) + np.array(colour, float) * lit[..., None] * cover
    if hole:
        pit(sheet, a)


def pit(sheet, at, deep=0.7, wide=0.15):
    """The dark of a needle hole."""
    far = np.hypot(sheet.x - at[0], sheet.y - at[1])
    sheet.light *= (1 - deep * np.exp(-((far / wide) ** 2)))[..., None]


def row(sheet, step=None, cv=0.03, start=2.0, stop=WIDE - 2.0, at=None, skip=()):
    """Holes along a nearly level row; `skip` says which would-be holes are left out."""
    rng = sheet.rng
    step = rng.uniform(1.8, 2.8) if step is None else step
    xs = [start + rng.uniform(0, 0.5)]
    while True:
        here = step(xs[-1]) if callable(step) else step
        following = xs[-1] + here * (1 + cv * rng.normal())
        if following > stop:
            break
        xs.append(following)
    at = 0.5 * HIGH if at is None else at
    tilt = rng.uniform(-0.012, 0.012)
    xs = np.array(xs)
    ys = at + tilt * (xs - 23) + 0.03 * rng.normal(size=len(xs))
    kept = np.array([i for i in range(len(xs)) if i not in set(skip)])
    sheet.holes = np.stack([xs, ys], 1)[kept]
    sheet.stitches = np.diff(kept)
    return sheet.holes


def sew(sheet, holes=None, colour=None, width=None, lean=0.0):
    """Paint the stitches over the holes, the first to the last."""
    rng = sheet.rng
    holes = sheet.holes if holes is None else holes
    colour = THREADS[rng.integers(4)] if colour is None else colour
    width = rng.uniform(0.24, 0.34) if width is None else width
    for a, b in itertools.pairwise(holes):
        off = lean * np.array([0.0, width])
        rod(sheet, a - off, b + off, colour, width)
    pit(sheet, holes[-1])
    return sheet


def plain(rng):
    """The yardstick."""
    sheet = woven(rng)
    row(sheet)
    return sew(sheet)


def folded(rng):
    """A crease of the cloth across the seam: a bright side, a dark side."""
    sheet = plain(rng)
    turn = rng.uniform(-0.6, 0.6)
    for at in rng.uniform(10, 36, rng.integers(1, 3)):
        far = (sheet.x - at) * np.cos(turn) + (sheet.y - 4.5) * np.sin(turn)
        sheet.light *= (1 - 0.35 * far / 0.5 * np.exp(-((far / 0.5) ** 2)))[..., None]
        sheet.light *= (1 - 0.3 * np.exp(-((far / 0.1) ** 2)))[..., None]
    return sheet


def _remapped(sheet, source, holes):
    """The sheet seen through a map (places in mm of what each pixel shows)."""
    u, v = (s.astype(np.float32) * np.float32(K) for s in source)
    seen = cv2.remap(
        sheet.light.astype(np.float32), u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return seen.astype(float), holes


def aslant(rng):
    """Photographed slantwise, the file passed on, dots stated as at its nearer end."""
    sheet = plain(rng)
    lean = rng.uniform(0.004, 0.012)
    zoom = 1 + lean * sheet.x
    source = (sheet.x * (1 + 0.5 * lean * sheet.x), 4.5 + (sheet.y - 4.5) * zoom)
    sheet.light, _ = _remapped(sheet, source, None)
    return sheet


def bulging(rng):
    """The cloth not flat: it bulges off the glass, so that lengths shrink and blur there."""
    sheet = plain(rng)
    middle, wide, high = rng.uniform(12, 34), rng.uniform(4, 8), rng.uniform(1.5, 3.5)
    at = np.linspace(0, 60, 6000)
    slope = high * -2 * (at - middle) / wide**2 * np.exp(-(((at - middle) / wide) ** 2))
    flat = np.cumsum(1 / np.sqrt(1 + slope**2)) * (at[1] - at[0])
    source = (np.interp(sheet.x, flat, at), sheet.y)
    sheet.light, _ = _remapped(sheet, source, None)
    up = np.exp(-(((sheet.x - middle) / wide) ** 2))[..., None]
    soft = gaussian_filter(sheet.light, (4, 4, 0))
    sheet.light = sheet.light * (1 - up) + soft * up
    return sheet


def wandering(rng):
    """The needle bar is loose: holes lie to either side by turns, 0.2 to 0.5 mm."""
    sheet = woven(rng)
    row(sheet)
    swing = rng.uniform(0.2, 0.5)
    sheet.holes[:, 1] += swing * (-1.0) ** np.arange(len(sheet.holes))
    return sew(sheet)


def skipped_regularly(rng):
    """Every third to sixth stitch is skipped."""
    sheet = woven(rng)
    every = int(rng.integers(3, 7))
    row(sheet, skip=range(every - 1, 60, every))
    return sew(sheet)


def every_second_skipped(rng):
    """Nearly every second stitch is skipped; of all of them no picture could tell."""
    sheet = woven(rng)
    skip = [i for i in range(1, 60, 2) if rng.random() < 0.8 and i not in (7, 13)]
    row(sheet, step=rng.uniform(1.5, 2.2), skip=skip)
    return sew(sheet)


def slipped_half_way(rng):
    """The regulator slips in the middle: two lengths in one seam."""
    sheet = woven(rng)
    one = rng.uniform(1.5, 2.2)
    ratio, at = rng.uniform(1.25, 1.9), rng.uniform(18, 28)
    row(sheet, step=lambda x: one if x < at else one * ratio)
    return sew(sheet)


def back_tacked(rng):
    """It ends in four to six stitches back over itself."""
    sheet = woven(rng)
    holes = row(sheet, stop=WIDE - 4)
    sew(sheet)
    count, step = int(rng.integers(4, 7)), float(np.diff(holes[:, 0]).mean())
    back = holes[-1] - np.arange(0, count + 1)[:, None] * np.array([0.9 * step, 0.0])
    back[1:] += rng.normal(0, 0.08, (count, 2))
    colour = THREADS[3]
    for a, b in itertools.pairwise(back):
        rod(sheet, a, b, colour, 0.3)
    return sheet


def sewn_over(rng):
    """A second seam of another length along the very line, of the same thread."""
    sheet = woven(rng)
    colour, width = THREADS[rng.integers(4)], 0.3
    sew(sheet, row(sheet, step=rng.uniform(1.6, 3.0)), colour, width)
    holes = row(sheet)
    return sew(sheet, holes, colour, width)


def dark_on_dark(rng):
    """Thread nearly as dark as the cloth and of its hue."""
    tone = np.array((72.0, 66, 62)) + rng.normal(0, 5, 3)
    sheet = woven(rng, tone)
    row(sheet)
    return sew(sheet, colour=tone * rng.uniform(0.75, 1.25))


def _striped(sheet, across, period, colour, share=0.5, soft=0.06, strong=0.6):
    phase = (across / period) % 1
    far = np.minimum(np.abs(phase - 0.5), 1) * period
    on = 1 / (1 + np.exp((far - 0.5 * share * period) / soft))
    sheet.light = sheet.light * (1 - strong * on[..., None]) + strong * on[..., None] * np.array(
        colour, float
    )


def striped_alike(rng):
    """Stripes across the seam at the stitch's own period, or 3 % off it."""
    sheet = woven(rng)
    step = rng.uniform(1.8, 2.6)
    turn = rng.uniform(-0.4, 0.4)
    period = step * rng.choice([1.0, 0.97, 1.03]) * np.cos(turn)
    across = sheet.x * np.cos(turn) + sheet.y * np.sin(turn)
    _striped(sheet, across, period, THREADS[rng.integers(4)], rng.uniform(0.2, 0.5))
    row(sheet, step=step)
    return sew(sheet)


def gingham(rng):
    """Printed checks."""
    sheet = woven(rng)
    period, colour = rng.uniform(2, 6), THREADS[rng.integers(4)]
    _striped(sheet, sheet.x, period, colour, strong=0.45)
    _striped(sheet, sheet.y + rng.uniform(0, 3), period, colour, strong=0.45)
    row(sheet)
    return sew(sheet)


def corduroy(rng):
    """Ribs of pile, along, across or aslant."""
    sheet = woven(rng)
    turn, period = rng.choice([0.0, 0.5, 1.1, np.pi / 2]), rng.uniform(0.8, 2.4)
    across = sheet.x * np.sin(turn) + sheet.y * np.cos(turn)
    rib = np.sin(np.pi * (across / period % 1))
    pile = gaussian_filter(rng.normal(size=sheet.x.shape), 1.5) * 3
    sheet.light *= (0.55 + 0.5 * rib + 0.08 * pile)[..., None]
    row(sheet)
    return sew(sheet)


def twill(rng):
    """Denim: blue diagonals over a light weft, white flecks."""
    sheet = woven(rng, tone=(70, 84, 116))
    period = rng.uniform(0.45, 0.8)
    across = sheet.x + sheet.y * rng.choice([-1, 1]) * rng.uniform(0.8, 1.3)
    _striped(sheet, across, period, (150, 156, 168), 0.45, 0.04, 0.6)
    row(sheet)
    return sew(sheet, colour=(196, 120, 44))


def linty(rng):
    """Lint and hairs lie about, light and dark."""
    sheet = plain(rng)
    canvas = np.clip(sheet.light, 0, 255).astype(np.float32)
    for _ in range(int(rng.integers(12, 30))):
        start = rng.uniform((0, 1.5), (WIDE, HIGH - 1.5))
        turns = np.cumsum(rng.normal(0, 0.25, 30)) + rng.uniform(0, 6.3)
        path = start + np.cumsum(np.stack([np.cos(turns), np.sin(turns)], 1) * 0.12, axis=0)
        tone = rng.choice([40.0, 235.0])
        pts = (path * K * 16).astype(np.int32)[:, None]
        cv2.polylines(canvas, [pts], False, (tone,) * 3, int(rng.integers(1, 4)), cv2.LINE_AA, 4)
    sheet.light = canvas.astype(float)
    return sheet


def pinned(rng):
    """Pins left in: steel rods under and over the cloth, a glass head, across or along."""
    sheet = plain(rng)
    for _ in range(int(rng.integers(1, 4))):
        at = np.array([rng.uniform(6, WIDE - 6), 4.5 + rng.uniform(-0.4, 0.4)])
        turn = rng.choice([1.57, 1.2, 0.3, 0.05])
        d = np.array([np.cos(turn), np.sin(turn)])
        rod(sheet, at - 6 * d, at + 6 * d, (205, 208, 212), 0.6, hole=False)
    return sheet


def ruled(rng):
    """A ruler lies along the seam or across it, its marks a millimetre apart."""
    sheet = plain(rng)
    if rng.random() < 0.5:
        edge = 4.5 + rng.uniform(0.7, 2.0)
        on, along = sheet.y > edge, sheet.x
        deep = sheet.y - edge
    else:
        edge = rng.uniform(12, 34)
        on, along = (sheet.x > edge) & (sheet.x < edge + 5), sheet.y
        deep = sheet.x - edge
    tone = np.where((along % 1 < 0.15) & (deep < 2.0), 30.0, 228.0)
    sheet.light = np.where(on[..., None], tone[..., None], sheet.light)
    return sheet


def roughly_stored(rng):
    """JPEG of quality 30."""
    sheet = plain(rng)
    sheet.jpeg = 30
    return sheet


def enlarged(rng):
    """Scanned at 150 dots and enlarged to 600."""
    sheet = plain(rng)
    size = sheet.light.shape[1::-1]
    small = cv2.resize(sheet.light, (size[0] // 4, size[1] // 4), interpolation=cv2.INTER_AREA)
    sheet.light = cv2.resize(small, size, interpolation=cv2.INTER_CUBIC)
    return sheet


def wrongly_tagged(rng):
    """The file says 72 dots, 600 is stated and right; or 300 is stated and the file is silent."""
    sheet = plain(rng)
    if rng.random() < 0.5:
        sheet.tag = 72.0
    else:
        sheet.stated = float(rng.choice([300.0, 400.0, 1200.0]))
    return sheet


def under_side(rng):
    """The under side, mirrored, the needle thread's loops drawn down at each hole."""
    sheet = woven(rng)
    holes = row(sheet)
    sew(sheet)
    for hole in holes:
        if rng.random() < 0.85:
            d = np.array([rng.uniform(0.1, 0.2), rng.uniform(-0.1, 0.1)])
            rod(sheet, hole - d, hole + d, (210, 60, 40), 0.28, hole=False)
    sheet.light = sheet.light[:, ::-1].copy()
    sheet.holes = sheet.holes[::-1] * (-1, 1) + (WIDE, 0)
    return sheet


# held back: nothing was mended by looking at these


def crossed(rng):
    """Another seam crosses it."""
    sheet = plain(rng)
    at, turn = rng.uniform(12, 34), rng.uniform(0.6, 2.5)
    d = np.array([np.cos(turn), np.sin(turn)])
    other = np.array([at, 4.5]) + np.arange(-5, 5)[:, None] * 2.2 * d
    return sew(sheet, other)


def thread_broke(rng):
    """The thread breaks; holes go on without it."""
    sheet = woven(rng)
    holes = row(sheet)
    cut = int(rng.uniform(0.5, 0.75) * len(holes))
    for hole in holes[cut:]:
        pit(sheet, hole, 0.6, 0.13)
    sew(sheet, holes[: cut + 1])
    sheet.holes, sheet.stitches = holes[: cut + 1], sheet.stitches[:cut]
    return sheet


def taped(rng):
    """A strip of clear tape over a part: yellower, its edges dark, a gloss along it."""
    sheet = plain(rng)
    at, wide = rng.uniform(8, 24), rng.uniform(8, 14)
    on = (sheet.x > at) & (sheet.x < at + wide)
    sheet.light = np.where(on[..., None], 0.72 * sheet.light + (64, 58, 36), sheet.light)
    for edge in (at, at + wide):
        sheet.light *= (1 - 0.4 * np.exp(-(((sheet.x - edge) / 0.1) ** 2)))[..., None]
    return sheet


def skipped_in_heaps(rng):
    """Two and three in a row are skipped."""
    sheet = woven(rng)
    skip, at = [], 2
    while at < 50:
        at += int(rng.integers(3, 8))
        count = int(rng.integers(1, 3))
        skip += list(range(at, at + count))
        at += count
    row(sheet, step=rng.uniform(1.5, 2.2), skip=skip)
    return sew(sheet)


def pencilled(rng):
    """Pencil lines: along the seam, and one across each centimetre."""
    sheet = plain(rng)
    grain = gaussian_filter(sheet.rng.normal(size=sheet.x.shape), 1.0) * 3
    line = np.exp(-(((sheet.y - 4.5 - rng.uniform(-0.5, 0.5)) / 0.2) ** 2))
    line = line + np.exp(-((((sheet.x + 3) % 10 - 5) / 0.2) ** 2))
    sheet.light *= (1 - 0.45 * np.clip(line, 0, 1) * np.clip(0.7 + 0.3 * grain, 0, 1))[..., None]
    return sheet


def knitted(rng):
    """Jersey: columns of small Vs."""
    sheet = woven(rng)
    wale, course = rng.uniform(0.5, 0.9), rng.uniform(0.4, 0.7)
    v = np.abs(sheet.y / wale % 1 - 0.5)
    sheet.light *= (0.75 + 0.25 * np.cos(2 * np.pi * (sheet.x / course + 1.2 * v)))[..., None]
    sheet.light *= (0.8 + 0.2 * np.cos(2 * np.pi * v))[..., None]
    row(sheet)
    return sew(sheet)


def three_lengths(rng):
    """The regulator is tried at three settings in one seam."""
    sheet = woven(rng)
    lengths = rng.uniform(1.4, 3.2, 3)
    row(sheet, step=lambda x: lengths[min(2, int(x / 15.5))])
    return sew(sheet)


def sticking_head(rng):
    """The scanner's head sticks twice: some lines come many times, some not at all."""
    sheet = plain(rng)
    at = np.arange(sheet.x.shape[1], dtype=float)
    rate = np.ones(len(at))
    for _ in range(2):
        middle = rng.uniform(200, 900)
        rate *= 1 - rng.uniform(0.4, 0.8) * np.exp(-(((at - middle) / 25) ** 2))
    source = np.cumsum(rate) / K
    sheet.light, _ = _remapped(sheet, (np.broadcast_to(source, sheet.x.shape), sheet.y), None)
    return sheet


def of_many_colours(rng):
    """A thread dyed by lengths, one of its colours nearly the cloth's."""
    sheet = woven(rng)
    holes = row(sheet)
    tone = sheet.light.mean(axis=(0, 1))
    every = rng.uniform(8, 16)
    for a, b in itertools.pairwise(holes):
        kind = int(a[0] / every) % 3
        colour = (tone * 1.02, THREADS[1], THREADS[2])[kind]
        rod(sheet, a, b, colour, 0.3)
    pit(sheet, holes[-1])
    return sheet


def plaid(rng):
    """Lines of the thread's own colour woven in, one to one and a half stitches."""
    sheet = woven(rng)
    colour, step = THREADS[rng.integers(4)], rng.uniform(1.8, 2.6)
    _striped(sheet, sheet.x, 1.5 * step, colour, 0.18, 0.04, 0.7)
    _striped(sheet, sheet.y, 2.7, colour, 0.15, 0.04, 0.7)
    row(sheet, step=step)
    return sew(sheet, colour=colour)


def back_and_forth(rng):
    """Two forward, one back, as for elastic cloth: every place is sewn three times."""
    sheet = woven(rng)
    holes = row(sheet)
    colour = THREADS[rng.integers(4)]
    for _ in range(3):
        near = holes + rng.normal(0, 0.05, holes.shape)
        sew(sheet, near, colour, 0.3)
    return sheet


def turned_a_corner(rng):
    """A seam that turns by a right angle half way."""
    sheet = woven(rng, high=24.0)
    row(sheet, at=4.5)
    holes = sheet.holes
    cut = int(0.55 * len(holes))
    step = float(np.diff(holes[:, 0]).mean())
    down = holes[cut] + np.arange(1, 7)[:, None] * (0.0, step)
    sheet.holes = np.concatenate([holes[: cut + 1], down])
    sheet.stitches = np.ones(len(sheet.holes) - 1, int)
    return sew(sheet)


LOOKED = (
    *(plain, folded, aslant, bulging, wandering, skipped_regularly, every_second_skipped),
    *(slipped_half_way, back_tacked, sewn_over, dark_on_dark, striped_alike, gingham, corduroy),
    *(twill, linty, pinned, ruled, roughly_stored, enlarged, wrongly_tagged, under_side),
)
HELD = (
    *(crossed, thread_broke, taped, skipped_in_heaps, pencilled, knitted, three_lengths),
    *(sticking_head, of_many_colours, plaid, back_and_forth, turned_a_corner),
)
DOUBTS = ("Not reliable", "doubt", "unlike all the others", "two lengths", "may ", "not counted")
"""Words of doubt in the first three sentences."""


def developed(sheet):
    """The sheet as a scanner gives it."""
    light = gaussian_filter(sheet.light, (sheet.blur, sheet.blur, 0))
    noise = gaussian_filter1d(sheet.rng.normal(size=light.shape), 0.5, axis=1) * 2.0
    pixels = np.clip(light + noise, 0, 255).astype(np.uint8)
    if sheet.jpeg:
        kept = cv2.imencode(".jpg", pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, sheet.jpeg])[1]
        pixels = cv2.imdecode(kept, cv2.IMREAD_COLOR)[..., ::-1].copy()
    return pixels


def wrongs(sheet, told):
    """What is wrong of the figures told."""
    lengths = np.hypot(*np.diff(sheet.holes, axis=0).T)
    single = lengths[sheet.stitches == 1]
    if len(single) < 2:
        single = lengths / sheet.stitches
    wrong = []
    mean, cv = told["mean_length_mm"], told["cv"]
    true = float(single.mean())
    half = 0.5 * (mean[2] - mean[0]) if mean[0] is not None else 0.0
    if abs(mean[1] - true) > max(2 * half, 0.005 * true):
        wrong.append(f"mean {mean[1]:.3f} (half {half:.3f}) for {true:.3f}")
    is_cv = float(single.std(ddof=1)) / true
    if cv[1] is not None:
        side = cv[2] - cv[1] if is_cv > cv[1] else cv[1] - cv[0]
        if abs(cv[1] - is_cv) > max(2 * side, 0.01):
            wrong.append(f"cv {cv[1]:.3f} for {is_cv:.3f}")
    if abs(told["count"] - int(sheet.stitches.sum())) > 1:
        wrong.append(f"count {told['count']} for {int(sheet.stitches.sum())}")
    if abs(told["skipped"] - int((sheet.stitches - 1).sum())) > 1:
        wrong.append(f"skipped {told['skipped']} for {int((sheet.stitches - 1).sum())}")
    return wrong


def by_interface(pixels, sheet):
    """Sentences and figures from Python."""
    # of what a file says below 150 dots nothing is taken, as by the command
    tag = sheet.tag if sheet.tag and sheet.tag >= LEAST_FILE_DPI else None
    found = seam_found(pixels, Origin(tag), dpi=sheet.stated, layout=None)
    return seam_sentences(found.measured, found.judged), dict(
        seam_figures(found.measured, found.judged)
    )


def by_command(pixels, sheet):
    """The same from the public command."""
    with tempfile.TemporaryDirectory() as folder:
        picture, figures = Path(folder, "seam.png"), Path(folder, "seam.json")
        said = {"dpi": (sheet.tag, sheet.tag)} if sheet.tag else {}
        Image.fromarray(pixels).save(picture, **said)
        words = ["running", "seam", picture, "--dpi", sheet.stated, "--json", figures]
        call = [sys.executable, "-m", "ironlace", *map(str, words)]
        env = {"PYTHONPATH": str(SOURCE)}
        ran = subprocess.run(call, check=False, capture_output=True, text=True, env=env)
        if ran.returncode:
            raise IronlaceError(ran.stderr.strip())
        return ran.stdout.strip().splitlines(), json.loads(figures.read_text())


def outcome(sheet, ask, save=""):
    """What is said of one sheet, as one word, and what is wrong."""
    pixels = developed(sheet)
    if save:
        cv2.imwrite(save, pixels[..., ::-1])
    try:
        said, told = ask(pixels, sheet)
    except IronlaceError as error:
        return "refused", [], str(error)[:110]
    wrong = wrongs(sheet, told)
    doubts = [s for s in said[:3] if any(word in s for word in DOUBTS)]
    if wrong:
        return ("told" if doubts else "SILENT"), wrong, (doubts or [""])[0][:110]
    exact = told["count"] == int(sheet.stitches.sum())
    exact &= told["skipped"] == int((sheet.stitches - 1).sum())
    right = "doubted though right" if exact else "doubted, off by one"
    return (right if doubts else "right"), [], (doubts or [""])[0][:110]


def main():
    words = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    words.add_argument("--families", default="looked", help="names, or looked, held, all")
    words.add_argument("--cases", type=int, default=2)
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--command", action="store_true", help="by the public command")
    words.add_argument("--save", default="")
    asked = words.parse_args()
    known = {f.__name__: f for f in (*LOOKED, *HELD)}
    groups = {"looked": LOOKED, "held": HELD, "all": (*LOOKED, *HELD)}
    names = [f.__name__ for f in groups.get(asked.families, ())] or asked.families.split(",")
    sums: Counter = Counter()
    for name in names:
        for i in range(asked.cases):
            rng = np.random.default_rng([asked.seed, i, *name.encode()])
            save = f"{asked.save}/{name}_{i}.png" if asked.save else ""
            sheet = known[name](rng)
            word, wrong, why = outcome(sheet, by_command if asked.command else by_interface, save)
            sums[word] += 1
            print(f"{name:20s} {i} {word:20s} {'; '.join(wrong)} | {why}", flush=True)
    print(dict(sums))


if __name__ == "__main__":
    main()
