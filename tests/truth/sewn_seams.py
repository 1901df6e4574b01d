"""Pictures of sewn seams whose every needle hole is known: raised thread and cloth under one light.

Shares nothing with what measures seams. Cloth and thread are a field of heights and one of colours,
lit from a side with cast shadow and with darkness in the hollows; then a scanner or a camera looks
at them. `drawn_seams` makes the same kinds of pictures with other habits and other code.

Lengths in mm. A picture's plane has its origin at the outer upper left corner of a scan, or at the
corner of the strip's layout in a photograph.
"""

from dataclasses import dataclass, field

import cv2
import numpy as np

from ironlace.photographs.scale_strip import (
    StripLayout,
    frame_sheet,
    marker_cells,
)

CLOTHS = ("stripes", "ticking", "linen slub", "jersey", "flannel", "twill", "tone on tone")
SCANNERS = ("600 dpi", "1200 dpi", "phone")


@dataclass(frozen=True)
class Sewn:
    """A picture and its truth.

    ``holes_mm`` (n, 2) in the plane, ``along_mm`` (n,) from the first hole on; between hole i and
    i + 1 lies one stitch, ``skipped[i]`` where it is one that should have been two.
    """

    picture: np.ndarray
    dpi: float | None
    layout: StripLayout | None
    holes_mm: np.ndarray
    along_mm: np.ndarray
    skipped: np.ndarray
    width_mm: float
    height_mm: float
    about: dict = field(default_factory=dict)

    @property
    def lengths_mm(self):
        return np.diff(self.along_mm)


@dataclass(frozen=True)
class Case:
    """What to sew and how to look at it; the rest is drawn."""

    cloth: str = "linen slub"
    scanner: str = "600 dpi"
    length: float | None = None
    cv: float | None = None
    skip_share: float = 0.01
    lean: bool = False
    pucker: bool = False
    lint: bool = False
    chalk: bool = False
    loops: bool = False
    curved: bool = False
    stitch: str = "lock"  # or zigzag, chain
    seams: int = 1
    blur_mm: float | None = None
    same_colour: bool = False
    slant: float | None = None
    with_strip: bool = True
    radius: float | None = None
    drift: float | None = None
    wave: float = 0.0
    wave_stitches: float = 8.0
    long_mm: float = 60.0
    across: bool = False  # the seam runs down the picture


def the_cases(rng, count=24):
    """Cases over all cloths and scanners, each with some of what happens to seams."""
    ills = ("lean", "pucker", "lint", "chalk", "loops", "curved")
    made = []
    for n in range(count):
        some = {ill: bool(rng.random() < 0.35) for ill in ills}
        made.append(Case(CLOTHS[n % 7], SCANNERS[n % 3], **some))
    return made


def noise(rng, shape, scale_px, stretch=(1.0, 1.0)):
    """Smooth noise of sd 1: cheap, from a coarse grid."""
    h, w = shape
    sy, sx = max(scale_px * stretch[0], 1.0), max(scale_px * stretch[1], 1.0)
    small = rng.normal(size=(int(h / sy) + 4, int(w / sx) + 4)).astype(np.float32)
    big = cv2.resize(small, None, fx=sx, fy=sy, interpolation=cv2.INTER_CUBIC)[:h, :w]
    return big / max(float(big.std()), 1e-6)


def line_noise(rng, count, scale):
    small = rng.normal(size=int(count / scale) + 4)
    out = np.interp(np.arange(count) / scale, np.arange(len(small)), small)
    return out / max(out.std(), 1e-6)


def hsv(h, s, v):
    colour = np.uint8([[[int(h * 180) % 180, int(s * 255), int(v * 255)]]])
    srgb = cv2.cvtColor(colour, cv2.COLOR_HSV2RGB)[0, 0] / 255.0
    return (srgb**2.2).astype(np.float32)


def cloth_of(rng, kind, shape, k):
    """Albedo (h, w, 3) and relief in mm (h, w) of a cloth at k px per mm."""
    h, w = shape
    yy, xx = np.mgrid[:h, :w].astype(np.float32) / k
    turn = rng.normal(0, 0.04)
    u, v = xx + turn * yy, yy - turn * xx
    base = hsv(rng.random(), rng.uniform(0.05, 0.5), rng.uniform(0.45, 0.95))
    albedo = np.ones((h, w, 3), np.float32) * base
    grain = 1 + 0.05 * noise(rng, shape, 0.06 * k)
    if kind in ("stripes", "ticking", "linen slub", "flannel", "tone on tone"):
        pitch = {"ticking": 0.42, "linen slub": 0.6, "flannel": 0.7}.get(kind, 0.5)
        pitch *= rng.uniform(0.85, 1.2)
        wob = 0.06 if kind != "linen slub" else 0.12
        uu = u + wob * pitch * noise(rng, shape, 2 * k, (3, 0.5))
        vv = v + wob * pitch * noise(rng, shape, 2 * k, (0.5, 3))
        a, b = np.pi * uu / pitch, np.pi * vv / pitch
        check = np.where(np.sin(a) * np.sin(b) > 0, np.abs(np.sin(a)), np.abs(np.sin(b)))
        relief = 0.07 * pitch / 0.5 * check
    if kind == "stripes":
        wide = rng.uniform(2.5, 8)
        along = v if rng.random() < 0.4 else (u if rng.random() < 0.5 else u * 0.7 + v * 0.7)
        other = hsv(rng.random(), rng.uniform(0.2, 0.8), rng.uniform(0.2, 0.9))
        mark = np.clip(0.5 + 8 * np.sin(2 * np.pi * along / wide + rng.random() * 6), 0, 1)
        albedo = albedo * (1 - mark[..., None]) + other * mark[..., None]
    elif kind == "ticking":
        along = v if rng.random() < 0.5 else u
        base2 = hsv(rng.uniform(0.1, 0.16), 0.15, 0.9)
        dark = hsv(rng.choice([0.6, 0.02, 0.3]), 0.6, rng.uniform(0.15, 0.4))
        rep = rng.uniform(5, 10)
        at = np.mod(along, rep)
        mark = sum(
            (np.clip(0.5 + (wd / 2 - np.abs(at - c * rep)) * 12, 0, 1))
            for c, wd in ((0.3, rng.uniform(0.8, 2)), (0.55, 0.5), (0.7, 0.5))
        )
        mark = np.clip(mark, 0, 1)[..., None]
        albedo = base2 * (1 - mark) + dark * mark + 0 * albedo
    elif kind == "linen slub":
        slub = 0.12 * line_noise(rng, h, 0.5 * k)[:, None] * (1 + 0.5 * noise(rng, shape, 6 * k))
        slub = slub + 0.1 * line_noise(rng, w, 0.5 * k)[None]
        albedo *= np.clip(1 + slub, 0.5, 1.5)[..., None].astype(np.float32)
        relief = relief * np.clip(1 + slub, 0.6, 1.5)
    elif kind == "jersey":
        wale, course = rng.uniform(0.7, 1.0), rng.uniform(0.5, 0.7)
        uu = u + 0.03 * noise(rng, shape, 1.5 * k)
        side = np.mod(uu / wale, 1.0)
        leg = np.abs(side - 0.5) * 2
        vee = np.abs(np.sin(np.pi * (v / course - 0.9 * np.abs(side - 0.5) * 2)))
        relief = 0.12 * np.sqrt(np.clip(1 - (leg - 0.5) ** 2 * 4, 0, 1)) * (0.4 + 0.6 * vee)
    elif kind == "flannel":
        fuzz = noise(rng, shape, 0.15 * k) + 0.8 * noise(rng, shape, 0.08 * k, (1, 4))
        relief = 0.5 * relief + 0.03 * fuzz
        if rng.random() < 0.5:
            other = hsv(rng.random(), 0.6, rng.uniform(0.3, 0.8))
            m = 0.25 * (np.sin(2 * np.pi * u / 12) > 0.3) + 0.25 * (
                np.sin(2 * np.pi * v / 12) > 0.3
            )
            m = cv2.GaussianBlur(m.astype(np.float32), (0, 0), 0.2 * k)[..., None]
            albedo = albedo * (1 - m) + other * m
        albedo *= (1 + 0.06 * fuzz)[..., None].astype(np.float32)
    elif kind == "twill":
        pitch = rng.uniform(0.5, 0.9)
        at = (u + v * rng.uniform(0.8, 1.4)) + 0.04 * noise(rng, shape, 1.5 * k)
        rib = np.abs(np.sin(np.pi * at / pitch))
        relief = 0.1 * rib * (0.8 + 0.2 * np.abs(np.sin(np.pi * (u - v) / 0.35)))
        albedo *= (0.85 + 0.2 * rib)[..., None]
    albedo = np.clip(albedo * grain[..., None], 0.01, 0.98).astype(np.float32)
    return albedo, relief.astype(np.float32), base


def stitch_lengths(rng, case, room):
    mean = case.length if case.length is not None else rng.uniform(1.6, 3.6)
    cv = case.cv if case.cv is not None else rng.choice([0.015, 0.03, 0.06, 0.1])
    drift = case.drift if case.drift is not None else rng.normal(0, 0.03)
    n = int(room / mean * 1.4) + 6
    ones = np.arange(n)
    lengths = mean * (1 + cv * np.clip(rng.normal(size=n), -2.5, 2.5))
    lengths *= 1 + drift * (ones * mean / room - 0.5)
    lengths *= 1 + case.wave * np.sin(2 * np.pi * ones / case.wave_stitches + 1.0)
    skipped = rng.random(n) < case.skip_share
    skipped[:2] = False
    # what was skipped lies over two stitches: the next length is added to it
    merged, flags, i = [], [], 0
    while i < n - 1:
        if skipped[i]:
            merged.append(lengths[i] + lengths[i + 1])
            flags.append(True)
            i += 2
        else:
            merged.append(lengths[i])
            flags.append(False)
            i += 1
    holes = np.concatenate([[0.0], np.cumsum(merged)])
    keep = holes <= room
    return holes[keep], np.array(flags)[: keep.sum() - 1]


def seam_curve(rng, case, width, height, offset=0.0):
    """Points every 0.02 mm along the seam's line, with their arc length."""
    angle = rng.normal(0, 0.025)
    bend = 0.0
    if case.radius is not None:
        bend = 1.0 / case.radius
    elif case.curved:
        bend = rng.choice([-1, 1]) / rng.uniform(70, 250)
    # past both edges, and no farther round than a quarter turn
    length = width + 6.0
    if bend:
        length = min(length, 2.6 / abs(bend))
    s = np.arange(0, length, 0.02)
    mid = length / 2.0
    heading = angle + bend * (s - mid) + 0.01 * np.sin(2 * np.pi * s / rng.uniform(15, 40))
    x = np.cumsum(np.cos(heading)) * 0.02
    y = np.cumsum(np.sin(heading)) * 0.02
    x += width / 2.0 - x[len(x) // 2]
    y += height / 2.0 - (y.min() + y.max()) / 2.0 + offset
    return np.stack([x, y], axis=1), s


def near_curve(points, s, shape, k, reach):
    """The pixels within reach of the curve: rows, columns, along, across (mm)."""
    from scipy.spatial import cKDTree

    mask = np.zeros(shape, np.uint8)
    px = np.round(points * k - 0.5).astype(np.int32)
    cv2.polylines(mask, [px.reshape(-1, 1, 2)], False, 1, thickness=int(2 * reach * k) + 2)
    rows, cols = np.nonzero(mask)
    at = (np.stack([cols, rows], axis=1) + 0.5) / k
    _, i = cKDTree(points[::3]).query(at, workers=1)
    i = np.clip(i * 3, 1, len(points) - 2)
    d = at - points[i]
    tangent = points[i + 1] - points[i - 1]
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    along = s[i] + (d * tangent).sum(axis=1)
    across = tangent[:, 0] * d[:, 1] - tangent[:, 1] * d[:, 0]
    return rows, cols, along.astype(np.float32), across.astype(np.float32)


def lay_thread(rng, case, fields, curve, s, holes, thread, looks, k):
    """Lay one seam's stitches into the fields."""
    albedo, relief = fields
    shape = relief.shape
    reach = 2.2 if case.stitch == "zigzag" else 1.0
    rows, cols, along, across = near_curve(curve, s, shape, k, reach)
    radius, pitch, gap, lean, bow = looks
    i = np.clip(np.searchsorted(holes, along) - 1, 0, len(holes) - 2)
    a, b = holes[i], holes[i + 1]
    inside = (along > holes[0]) & (along < holes[-1])
    t = (along - a) / (b - a)
    one = rng.normal(0, 0.02, len(holes))[i]
    strands = [lean * (t - 0.5) * 2 + bow * one * 4 * t * (1 - t)]
    if case.stitch == "zigzag":
        strands = [1.5 * np.where(i % 2 == 0, 1 - 2 * t, 2 * t - 1)]
    if case.stitch == "chain":
        open_by = 0.42 * np.sqrt(np.clip(t * 1.15, 0, 1)) * np.sqrt(np.clip(1.02 - t, 0, 1)) * 2
        strands = [open_by, -open_by]
    # needle holes: a pit and darkness
    nearest = np.minimum(along - a, b - along)
    pit = np.exp(-0.5 * (nearest**2 + (across * 0.9) ** 2) / (0.16**2)) * inside
    relief[rows, cols] -= (0.22 * pit).astype(np.float32)
    albedo[rows, cols] *= (1 - 0.5 * pit)[:, None].astype(np.float32)
    for middle in strands:
        slope = np.gradient(np.atleast_1d(middle)) * 0
        if case.stitch == "zigzag":
            slope = np.where(i % 2 == 0, -3.0, 3.0) / (b - a)
        d = (across - middle) / np.sqrt(1 + slope**2)
        end = np.clip((nearest - gap / 2) / 0.28, 0, 1)
        half = radius * (0.55 + 0.45 * np.sqrt(end))
        on = inside & (np.abs(d) < half) & (nearest > gap / 2)
        turn = np.mod(along / pitch - d / (2.2 * half), 1.0)  # Z, as sewing thread
        ply = np.abs(np.sin(np.pi * turn))
        height = np.sqrt(np.clip(half**2 - d**2, 0, None)) * (0.75 + 0.25 * ply)
        height = height + 0.12 * np.sqrt(end) * 0.9
        r, c = rows[on], cols[on]
        relief[r, c] = (0.05 + height[on]).astype(np.float32)
        fibre = 1 + 0.05 * rng.normal(size=on.sum())
        shade = (0.8 + 0.2 * ply[on]) * fibre * (0.75 + 0.25 * end[on])
        albedo[r, c] = (thread * shade[:, None]).astype(np.float32)


def lay_loops(rng, fields, curve, s, holes, colour, share, k):
    albedo, relief = fields
    for hole in holes:
        if rng.random() > share:
            continue
        x, y = (np.array([np.interp(hole, s, curve[:, j]) for j in (0, 1)])) * k - 0.5
        size = (0.13 * k * rng.uniform(0.8, 1.3), 0.2 * k * rng.uniform(0.8, 1.3))
        spot = np.zeros(relief.shape, np.uint8)
        centre = ((float(x), float(y)), (2 * size[0], 2 * size[1]), float(rng.normal(0, 20)))
        cv2.ellipse(spot, centre, 1, -1)
        albedo[spot > 0] = colour
        relief[spot > 0] = 0.16


def lay_ills(rng, case, fields, curve, s, holes, k):
    albedo, relief = fields
    h, w = relief.shape
    extra = np.ones((h, w), np.float32)
    if case.chalk:
        off = rng.uniform(0.4, 2.5) * rng.choice([-1, 1])
        tilt = rng.normal(0, 0.02)
        yy, xx = np.mgrid[:h, :w].astype(np.float32) / k
        yc = np.interp(xx[0], curve[:, 0], curve[:, 1]) * 0.3 + 0.7 * curve[:, 1].mean()
        d = np.abs(yy - (yc[None] + off + tilt * (xx - w / k / 2)))
        dust = (noise(rng, (h, w), 0.08 * k) > -0.2) & (d < rng.uniform(0.25, 0.45))
        m = cv2.GaussianBlur(dust.astype(np.float32), (0, 0), 0.03 * k)[..., None] * 0.6
        albedo[:] = albedo * (1 - m) + np.float32(0.85) * m
    if case.pucker:
        yy, xx = np.mgrid[:h, :w].astype(np.float32) / k
        yc = np.interp(xx[0], curve[:, 0], curve[:, 1])[None]
        wave = line_noise(rng, w, rng.uniform(2, 5) * k)[None]
        fade = np.exp(-np.abs(yy - yc) / rng.uniform(2, 4))
        extra += 0.1 * np.clip(wave * fade, -2, 2) * np.sign(yy - yc + 0.001 + rng.normal())
        yy = holes.searchsorted(np.interp(xx[0], curve[:, 0], s))[None]
        extra -= 0.04 * fade * (yy % 2)
    return extra


def lay_lint(rng, image, k, count):
    h, w = image.shape[:2]
    for _ in range(count):
        n = 24
        start = rng.random(2) * (w, h)
        heading = rng.random() * 6.28 + np.cumsum(rng.normal(0, 0.25, n))
        step = rng.uniform(0.1, 0.3) * k
        pts = start + np.cumsum(np.stack([np.cos(heading), np.sin(heading)], 1), 0) * step
        layer = np.zeros((h, w), np.uint8)
        thick = max(1, round(rng.uniform(0.02, 0.06) * k))
        cv2.polylines(
            layer, [np.round(pts * 16).astype(np.int32)], False, 255, thick, cv2.LINE_AA, shift=4
        )
        m = (layer / 255.0 * rng.uniform(0.3, 0.8))[..., None].astype(np.float32)
        image[:] = image * (1 - m) + np.float32(rng.uniform(0.3, 0.9)) * m


def lit(rng, albedo, relief, k):
    """Light from one side: slope, cast shadow, darkness in hollows."""
    az = rng.random() * 2 * np.pi
    relief = cv2.GaussianBlur(relief, (0, 0), 0.012 * k)
    gy, gx = np.gradient(relief * k)
    slope = gx * np.cos(az) + gy * np.sin(az)
    shade = 0.78 + 0.22 * (1 - 0.9 * slope) / np.sqrt(1 + gx**2 + gy**2)
    hollow = cv2.GaussianBlur(relief, (0, 0), 0.16 * k) - relief
    shade *= np.clip(1 - 2.2 * np.clip(hollow, 0, None), 0.3, 1)
    step = np.float32([[1, 0, 0.12 * k * np.cos(az)], [0, 1, 0.12 * k * np.sin(az)]])
    h, w = relief.shape
    moved = cv2.warpAffine(relief, step, (w, h), borderMode=cv2.BORDER_REPLICATE)
    cast = np.clip((moved - relief - 0.09) / 0.1, 0, 1)
    shade *= 1 - 0.35 * cv2.GaussianBlur(cast, (0, 0), 0.03 * k)
    return albedo * np.clip(shade, 0.05, 1.6)[..., None].astype(np.float32)


def srgb8(linear):
    x = np.clip(linear, 0, 1)
    return np.where(x <= 0.0031308, 12.92 * x, 1.055 * np.maximum(x, 1e-9) ** (1 / 2.4) - 0.055)


def thread_colour(rng, cloth, case):
    if case.cloth == "tone on tone" or case.same_colour:
        return np.clip(cloth * (1.0 if case.same_colour else rng.uniform(0.85, 1.2)), 0.02, 0.95)
    for _ in range(50):
        colour = hsv(rng.random(), rng.uniform(0.0, 0.7), rng.uniform(0.08, 0.95))
        if np.abs(colour**0.45 - cloth**0.45).max() > 0.18:
            break
    return colour


def sewn(rng, case):
    """One picture."""
    phone = case.scanner == "phone"
    k = 32.0 if phone else 47.244
    width, height = (case.long_mm, 12.0) if not case.radius else (case.long_mm, 30.0)
    if case.curved:
        height = 18.0
    height += 6.0 * (case.seams - 1)
    shape = (round(height * k), round(width * k))
    albedo, relief, base = cloth_of(rng, case.cloth, shape, k)
    thread = thread_colour(rng, base, case)
    radius = rng.uniform(0.12, 0.19)
    looks = (
        radius,
        rng.uniform(0.45, 0.8),
        rng.uniform(0.06, 0.24),
        rng.uniform(0.06, 0.16) * rng.choice([-1, 1]) if case.lean else 0.0,
        1.0,
    )
    fields = (albedo, relief)
    for n in range(case.seams):
        curve, s = seam_curve(rng, case, width, height, 6.0 * (n - (case.seams - 1) / 2.0))
        if n == 0 or case.seams > 1:
            holes, skipped = stitch_lengths(rng, case, s[-1] - rng.uniform(0, 1.0))
        if n == 0:
            first = (curve, s, holes, skipped)
        extra = lay_ills(rng, case, fields, curve, s, holes, k)
        lay_thread(rng, case, fields, curve, s, holes, thread, looks, k)
        if case.loops:
            lay_loops(rng, fields, curve, s, holes, hsv(rng.random(), 0.5, 0.7), 0.5, k)
    curve, s, holes, skipped = first
    linear = lit(rng, albedo, relief, k) * extra[..., None]
    if case.lint:
        lay_lint(rng, linear, k, int(rng.integers(5, 25)))
    places = np.stack([np.interp(holes, s, curve[:, j]) for j in (0, 1)], axis=1)
    about = {"radius": radius, "thread": thread, "case": case}
    if phone:
        return _photographed(rng, case, linear, k, places, holes, skipped, about)
    return _scanned(rng, case, linear, k, places, holes, skipped, about)


def _inside(places, holes, skipped, width, height):
    keep = (
        (places[:, 0] > 0) & (places[:, 0] < width) & (places[:, 1] > 0) & (places[:, 1] < height)
    )
    i = np.flatnonzero(keep)
    i = np.arange(i[0], i[-1] + 1)
    return places[i], holes[i] - holes[i[0]], skipped[i[:-1]]


def _scanned(rng, case, linear, k, places, holes, skipped, about):
    dpi = 1200.0 if case.scanner.startswith("1200") else 600.0
    blur = case.blur_mm if case.blur_mm is not None else rng.uniform(0.014, 0.03)
    image = cv2.GaussianBlur(linear, (0, 0), blur * k)
    if dpi == 600:
        h, w = image.shape[0] // 2 * 2, image.shape[1] // 2 * 2
        image = cv2.resize(image[:h, :w], None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    value = srgb8(image) + rng.normal(0, rng.uniform(0.004, 0.012), image.shape)
    picture = np.uint8(np.clip(value, 0, 1) * 255 + 0.5)
    if rng.random() < 0.5:
        picture = through_jpeg(picture, int(rng.integers(82, 96)))
    scale = dpi / 25.4
    width, height = picture.shape[1] / scale, picture.shape[0] / scale
    places, holes, skipped = _inside(places, holes, skipped, width, height)
    if case.across:
        picture = np.ascontiguousarray(np.rot90(picture))
        places = np.stack([places[:, 1], width - places[:, 0]], axis=1)
        width, height = height, width
    return Sewn(picture, dpi, None, places, holes, skipped, width, height, about)


def through_jpeg(picture, quality):
    _, data = cv2.imencode(".jpg", picture[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])
    return np.ascontiguousarray(cv2.imdecode(data, cv2.IMREAD_COLOR)[..., ::-1])


def _photographed(rng, case, linear, k, places, holes, skipped, about):
    band = 14.0
    h, w = linear.shape[:2]
    sheet_w, sheet_h = w / k + 2 * band, h / k + 2 * band
    if case.with_strip:
        sheet = frame_sheet("frame", sheet_w, sheet_h, band_mm=band, marker_mm=9.0, first_id=0)
        layout = sheet.layout
        world = np.full((round(sheet_h * k), round(sheet_w * k), 3), 0.86, np.float32)
        b = round(band * k)
        world[b : b + h, b : b + w] = linear
        for marker in layout.markers:
            cells = marker_cells(marker.dictionary, marker.id)
            left, top = np.round(np.array(marker.corners_mm[0]) * k).astype(int)
            right, bottom = np.round(np.array(marker.corners_mm[2]) * k).astype(int)
            print_ = cv2.resize(
                np.where(cells, 0.04, 0.86).astype(np.float32),
                (right - left, bottom - top),
                interpolation=cv2.INTER_NEAREST,
            )
            world[top:bottom, left:right] = print_[..., None]
        places = places + band
    else:
        layout, world = None, linear
        sheet_w, sheet_h = w / k, h / k
    wide = 2600 if case.with_strip else 1600
    out_w, out_h = wide, round(wide * (sheet_h / sheet_w) * 1.25)
    focal = wide * rng.uniform(0.9, 1.2)
    tilt = case.slant if case.slant is not None else rng.uniform(0.05, 0.22)
    about_axis = rng.random() * 2 * np.pi
    axis = np.array([np.cos(about_axis), np.sin(about_axis), 0.0])
    if case.slant is not None:
        axis = np.array([0.0, 1.0, 0.0])
    turn = cv2.Rodrigues(axis * tilt)[0] @ cv2.Rodrigues(np.array([0, 0, rng.normal(0, 0.03)]))[0]
    away = focal * sheet_w / (wide * 0.9)
    centre = np.array([sheet_w / 2, sheet_h / 2, 0.0])
    move = np.array([0, 0, away]) - turn @ centre
    k1 = rng.uniform(-0.03, 0.03)
    vv, uu = np.mgrid[:out_h, :out_w].astype(np.float64)
    xd = (uu - (out_w - 1) / 2) / focal
    yd = (vv - (out_h - 1) / 2) / focal
    xu, yu = xd.copy(), yd.copy()
    for _ in range(6):
        r2 = xu**2 + yu**2
        xu, yu = xd / (1 + k1 * r2), yd / (1 + k1 * r2)
    back = np.linalg.inv(np.stack([turn[:, 0], turn[:, 1], move], axis=1))
    z = back[2, 0] * xu + back[2, 1] * yu + back[2, 2]
    wx = (back[0, 0] * xu + back[0, 1] * yu + back[0, 2]) / z
    wy = (back[1, 0] * xu + back[1, 1] * yu + back[1, 2]) / z
    scale = out_w * 0.9 / sheet_w
    blur = case.blur_mm if case.blur_mm is not None else rng.uniform(0.35, 0.7) / scale
    world = cv2.GaussianBlur(world, (0, 0), max(blur * k, 0.3))
    image = cv2.remap(
        world,
        (wx * k - 0.5).astype(np.float32),
        (wy * k - 0.5).astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=(0.25, 0.2, 0.16),
    )
    fall = 1 + rng.normal(0, 0.08) * uu / out_w + rng.normal(0, 0.08) * vv / out_h
    fall *= 1 - 0.15 * ((uu / out_w - 0.5) ** 2 + (vv / out_h - 0.5) ** 2)
    image *= fall[..., None].astype(np.float32)
    image = np.clip(image + rng.normal(0, 1, image.shape) * np.sqrt(0.00004 + 0.0001 * image), 0, 1)
    value = srgb8(image)
    soft = cv2.GaussianBlur(value, (0, 0), 1.2)
    value = value + rng.uniform(0, 0.5) * (value - soft)
    picture = through_jpeg(np.uint8(np.clip(value, 0, 1) * 255 + 0.5), int(rng.integers(85, 96)))
    lo = band if case.with_strip else 0.0
    places, holes, skipped = _inside(places - lo, holes, skipped, w / k, h / k)
    return Sewn(picture, None, layout, places + lo, holes, skipped, sheet_w, sheet_h, about)
