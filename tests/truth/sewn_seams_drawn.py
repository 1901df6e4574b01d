"""Seams drawn with a pen, stroke by stroke, with other habits than `sewn_seams`; never tuned on.

Yarns, stripes, thread, fluff and chalk are strokes and polygons of Pillow on a fine sheet, coloured
in display values; there is no relief and no lamp: a thread is a dark stroke with lighter, narrower
ones on it and slanting ply marks; a hole is what is left between two stitches, often with a dark
ring, sometimes hardly there. The sheet is shrunk with Pillow's filters, or seen askew through its
perspective transform.
"""

import io
import itertools
import math

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

from ironlace.photographs.scale_strip import frame_sheet, marker_rings_mm
from sewn_seams import CLOTHS, SCANNERS, Case, Sewn

FINE = 60.0
"""Sheet pixels per mm for scans."""


def mixed(a, b, share):
    return tuple(round(x * (1 - share) + y * share) for x, y in zip(a, b, strict=True))


def drawn_cases(rng, count=24):
    """Like `the_cases`, ills chosen otherwise."""
    ills = ["lean", "pucker", "lint", "chalk", "loops", "curved"]
    cases = []
    for n in range(count):
        picked = rng.choice(ills, size=int(rng.integers(0, 4)), replace=False)
        cases.append(Case(CLOTHS[n % 7], SCANNERS[(n + 1) % 3], **dict.fromkeys(picked, True)))
    return cases


def some_colour(rng, light=None):
    value = rng.integers(40, 235) if light is None else light
    return tuple(int(np.clip(value + d, 5, 250)) for d in rng.normal(0, 35, 3))


def the_line(rng, case, wide, high):
    """A gentle arc or spline, as a function of arc length; ends past the sheet."""
    sag = rng.uniform(1.5, 5.0) * rng.choice([-1, 1]) if case.curved else rng.normal(0, 0.15)
    rise = rng.normal(0, 0.8)
    x = np.linspace(-2.0, wide + 2.0, 6000)
    u = (x - wide / 2.0) / wide
    y = high / 2.0 + rise * u + sag * (4.0 * u**2 - 0.5)
    y += 0.08 * np.sin(x / rng.uniform(3, 7) + rng.random() * 6)
    s = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    return x, y, s


def cloth(rng, case, sheet, k):
    wide, high = sheet.size
    draw = ImageDraw.Draw(sheet)
    base = some_colour(rng)
    second = some_colour(rng)
    draw.rectangle((0, 0, wide, high), fill=base)
    kind = case.cloth
    if kind in ("stripes", "ticking"):
        lean = rng.choice([0.0, 90.0, rng.uniform(20, 70)]) + rng.normal(0, 1.0)
        if kind == "ticking":
            base, second = (228, 220, 200), some_colour(rng, 70)
            draw.rectangle((0, 0, wide, high), fill=base)
        period = rng.uniform(4, 12) * k
        c, s = math.cos(math.radians(lean)), math.sin(math.radians(lean))
        reach = wide + high
        for n in range(-int(reach / period) - 1, int(reach / period) + 2):
            widths = [0.5] if kind == "stripes" else [0.06, 0.18, 0.06]
            offs = [0.0] if kind == "stripes" else [-0.22, 0.0, 0.22]
            for off, share in zip(offs, widths, strict=True):
                mid = (n + off) * period
                cx, cy = wide / 2 - s * mid, high / 2 + c * mid
                draw.line(
                    (cx - c * reach, cy - s * reach, cx + c * reach, cy + s * reach),
                    fill=second,
                    width=max(1, int(share * period)),
                )
    stripes = sheet.copy()
    # yarns, one stroke each, lighter and darker by turns
    veil = Image.new("L", sheet.size, 128)
    pen = ImageDraw.Draw(veil)
    if kind == "jersey":
        wale, course = rng.uniform(0.8, 1.1) * k, rng.uniform(0.5, 0.8) * k
        for i in range(int(wide / wale) + 2):
            for j in range(int(high / course) + 2):
                x, y = i * wale + rng.normal(0, 0.02 * k), j * course
                tone = int(150 + rng.normal(0, 8))
                w = int(0.24 * k)
                pen.line((x - wale * 0.45, y - course * 0.5, x, y + course * 0.4), tone, w)
                pen.line((x + wale * 0.45, y - course * 0.5, x, y + course * 0.4), tone - 14, w)
    elif kind == "twill":
        pitch = rng.uniform(0.55, 1.0) * k
        angle = math.radians(rng.uniform(35, 65)) * rng.choice([-1, 1])
        reach = wide + high
        for n in range(-int(reach / pitch), int(reach / pitch)):
            x = wide / 2 + n * pitch
            dx, dy = math.cos(angle) * reach, math.sin(angle) * reach
            pen.line(
                (x - dx, high / 2 - dy, x + dx, high / 2 + dy),
                152 + int(rng.normal(0, 4)),
                int(0.55 * pitch),
            )
    else:
        pitch = {"linen slub": 0.55, "ticking": 0.35}.get(kind, 0.45) * rng.uniform(0.8, 1.3) * k
        y = 0.0
        while y < high:
            thick = pitch * (rng.uniform(0.35, 0.9) if kind == "linen slub" else 0.55)
            pen.line(
                (0, y, wide, y + rng.normal(0, 0.1 * k)), 144 + int(rng.normal(0, 6)), int(thick)
            )
            y += pitch
        x = 0.0
        cross = Image.new("L", sheet.size, 128)
        pen2 = ImageDraw.Draw(cross)
        while x < wide:
            thick = pitch * (rng.uniform(0.3, 0.8) if kind == "linen slub" else 0.5)
            pen2.line(
                (x, 0, x + rng.normal(0, 0.05 * k), high), 140 + int(rng.normal(0, 6)), int(thick)
            )
            x += pitch
        veil = Image.blend(veil, cross, 0.5)
    if kind == "flannel":
        fluff = ImageDraw.Draw(veil)
        for _ in range(int(wide * high / k**2 * 14)):
            x, y, a = rng.random() * wide, rng.random() * high, rng.random() * 6.3
            r = rng.uniform(0.1, 0.5) * k
            fluff.line(
                (x, y, x + r * math.cos(a), y + r * math.sin(a)),
                int(128 + rng.normal(0, 22)),
                max(1, int(0.03 * k)),
            )
        veil = veil.filter(ImageFilter.GaussianBlur(0.03 * k))
    weave = np.asarray(veil.filter(ImageFilter.GaussianBlur(0.02 * k)), np.float32) - 128.0
    strength = rng.uniform(0.5, 1.1)
    out = np.asarray(stripes, np.float32) * (1 + strength * weave[..., None] / 128.0)
    sheet.paste(Image.fromarray(np.uint8(np.clip(out, 0, 255))))
    return base


def chosen_thread(rng, case, base):
    if case.cloth == "tone on tone":
        return tuple(int(np.clip(v * rng.uniform(0.9, 1.08), 8, 250)) for v in base)
    for _ in range(40):
        colour = some_colour(rng)
        if max(abs(a - b) for a, b in zip(colour, base, strict=True)) > 55:
            return colour
    return (250, 250, 250)


def the_lengths(rng, case, room):
    mean, spread = rng.uniform(1.5, 3.8), rng.choice([0.012, 0.025, 0.05, 0.09])
    holes, skipped = [0.0], []
    swing, turn = rng.uniform(0, 0.03), rng.uniform(5, 11)
    n = 0
    while True:
        step = mean * (1 + spread * rng.standard_t(8) * 0.85 + swing * math.sin(n * 6.28 / turn))
        skip = rng.random() < case.skip_share and n > 2
        if skip:
            step += mean * (1 + spread * rng.normal())
        step = max(step, 0.55 * mean)
        if holes[-1] + step > room:
            return np.array(holes), np.array(skipped, bool)
        holes.append(holes[-1] + step)
        skipped.append(skip)
        n += 1


def stitches(rng, case, sheet, k, line, holes, colour, base):
    x, y, s = line
    place = lambda at, off=0.0: _beside(x, y, s, at, off)  # noqa: E731
    thick = rng.uniform(0.22, 0.38)
    gap = rng.uniform(0.1, 0.32)
    slant = rng.uniform(0.05, 0.14) * rng.choice([-1, 1]) if case.lean else 0.0
    pit = rng.uniform(0.25, 0.9)
    pitch, ply = rng.uniform(0.4, 0.7), rng.choice([-1, 1])
    other = some_colour(rng)
    shadow = Image.new("L", sheet.size, 0)
    pen = ImageDraw.Draw(shadow)
    offset = (rng.normal(0, 0.05), rng.normal(0.08, 0.03))
    for a, b in itertools.pairwise(holes):
        path = [place(at, sl) for at, sl in _path(a, b, gap + 0.7 * thick, slant)]
        pen.line(
            [((px + offset[0]) * k, (py + offset[1]) * k) for px, py in path],
            110,
            int(thick * k * 1.1),
            joint="curve",
        )
    for hole in holes:
        px, py = place(hole)
        r = rng.uniform(0.1, 0.17)
        pen.ellipse([(px - r) * k, (py - r) * k, (px + r) * k, (py + r) * k], int(200 * pit))
    shadow = shadow.filter(ImageFilter.GaussianBlur(0.05 * k))
    sheet.paste((12, 10, 8), (0, 0), shadow.point(lambda v: int(v * 0.8)))
    draw = ImageDraw.Draw(sheet)
    for a, b in itertools.pairwise(holes):
        path = [place(at, sl) for at, sl in _path(a, b, gap + 0.7 * thick, slant)]
        px = [(u * k, v * k) for u, v in path]
        for share, tone in ((1.0, -0.35), (0.8, -0.08), (0.55, 0.1), (0.25, 0.22)):
            dark = (0, 0, 0) if tone < 0 else (255, 255, 255)
            ink = mixed(colour, dark, abs(tone))
            draw.line(px, ink, max(1, int(thick * k * share)), joint="curve")
            r = thick * k * share / 2
            for ux, uy in (px[0], px[-1]):
                draw.ellipse([ux - r, uy - r, ux + r, uy + r], ink)
        at = a + gap / 2 + rng.random() * pitch
        while at < b - gap / 2:
            mid = slant * (2 * (at - a) / (b - a) - 1)
            p, q = place(at, mid - thick * 0.42), place(at + ply * 0.18, mid + thick * 0.42)
            draw.line(
                (p[0] * k, p[1] * k, q[0] * k, q[1] * k),
                mixed(colour, (0, 0, 0), 0.3),
                max(1, int(0.04 * k)),
            )
            at += pitch
    if case.loops:
        for hole in holes:
            if rng.random() < 0.6:
                px, py = place(hole, rng.normal(0, 0.03))
                r = rng.uniform(0.09, 0.15)
                draw.ellipse(
                    [(px - r) * k, (py - 1.3 * r) * k, (px + r) * k, (py + 1.3 * r) * k],
                    other,
                    mixed(other, (0, 0, 0), 0.4),
                    max(1, int(0.03 * k)),
                )
    return thick


def _path(a, b, gap, slant):
    ts = np.linspace(0, 1, 12)
    ends = a + gap / 2 + ts * (b - a - gap)
    return [(at, slant * (2 * t - 1)) for at, t in zip(ends, ts, strict=True)]


def _beside(x, y, s, at, off):
    i = int(np.clip(np.searchsorted(s, at), 1, len(s) - 1))
    share = (at - s[i - 1]) / (s[i] - s[i - 1])
    dx, dy = x[i] - x[i - 1], y[i] - y[i - 1]
    size = math.hypot(dx, dy)
    return (x[i - 1] + share * dx - off * dy / size, y[i - 1] + share * dy + off * dx / size)


def spoilt(rng, case, sheet, k, line):
    wide, high = sheet.size
    if case.chalk:
        mask = Image.new("L", sheet.size, 0)
        pen = ImageDraw.Draw(mask)
        off = rng.uniform(-2.0, 2.0)
        for _ in range(int(wide * 0.9)):
            u = rng.random() * wide
            v = np.interp(u / k, line[0], line[1]) + off + rng.normal(0, 0.14) + 0.01 * (u / k - 30)
            r = rng.uniform(0.02, 0.07) * k
            pen.ellipse([u - r, v * k - r, u + r, v * k + r], int(rng.uniform(60, 190)))
        sheet.paste((240, 238, 235), (0, 0), mask)
    if case.pucker:
        u = np.arange(wide) / k
        waves = sum(rng.normal() * np.sin(u / p + rng.random() * 6) for p in (0.5, 0.9, 1.6))
        v = np.arange(high)[:, None] / k - np.interp(u, line[0], line[1])[None]
        shade = 1 + 0.05 * waves[None] * np.exp(-np.abs(v) / 2.5) * np.tanh(v * 3)
        out = np.asarray(sheet, np.float32) * shade[..., None]
        sheet.paste(Image.fromarray(np.uint8(np.clip(out, 0, 255))))


def fluffed(rng, sheet, k):
    wide, high = sheet.size
    mask = Image.new("L", sheet.size, 0)
    pen = ImageDraw.Draw(mask)
    for _ in range(int(rng.integers(6, 22))):
        pts = [(rng.random() * wide, rng.random() * high)]
        a = rng.random() * 6.3
        for _ in range(18):
            a += rng.normal(0, 0.35)
            pts.append((pts[-1][0] + 0.2 * k * math.cos(a), pts[-1][1] + 0.2 * k * math.sin(a)))
        pen.line(pts, int(rng.uniform(90, 220)), max(1, int(rng.uniform(0.025, 0.06) * k)))
    sheet.paste(some_colour(rng, rng.integers(60, 250)), (0, 0), mask)


def drawn(rng, case):
    """One picture, as `Sewn`."""
    phone = case.scanner == "phone"
    k = 36.0 if phone else FINE
    wide, high = 58.0, 18.0 if case.curved else 12.0
    sheet = Image.new("RGB", (int(wide * k), int(high * k)))
    base = cloth(rng, case, sheet, k)
    line = the_line(rng, case, wide, high)
    holes, skipped = the_lengths(rng, case, line[2][-1] - rng.random())
    colour = chosen_thread(rng, case, base)
    spoilt(rng, case, sheet, k, line)
    thick = stitches(rng, case, sheet, k, line, holes, colour, base)
    if case.lint:
        fluffed(rng, sheet, k)
    places = np.array([_beside(*line, hole, 0.0) for hole in holes])
    about = {"radius": thick / 2, "case": case}
    keep = (places[:, 0] > 0) & (places[:, 0] < wide) & (places[:, 1] > 0) & (places[:, 1] < high)
    i = np.flatnonzero(keep)
    places, holes, skipped = places[i], holes[i] - holes[i[0]], skipped[i[:-1]]
    if phone:
        return _seen_askew(rng, sheet, k, wide, high, places, holes, skipped, about)
    dpi = 1200.0 if case.scanner.startswith("1200") else 600.0
    sheet = sheet.filter(ImageFilter.GaussianBlur(rng.uniform(0.015, 0.03) * k))
    size = (round(wide * dpi / 25.4), round(high * dpi / 25.4))
    picture = np.asarray(sheet.resize(size, Image.LANCZOS), np.float32)
    picture = picture + rng.normal(0, rng.uniform(1.0, 3.5), picture.shape)
    out = Image.fromarray(np.uint8(np.clip(picture, 0, 255)))
    out = _jpeg(out, int(rng.integers(75, 97)))
    scale = np.array([size[0] / wide, size[1] / high]) / (dpi / 25.4)
    return Sewn(np.asarray(out), dpi, None, places * scale, holes, skipped, wide, high, about)


def _jpeg(picture, quality):
    kept = io.BytesIO()
    picture.save(kept, "JPEG", quality=quality)
    return Image.open(io.BytesIO(kept.getvalue())).convert("RGB")


def _seen_askew(rng, sheet, k, wide, high, places, holes, skipped, told):
    band = 15.0
    all_w, all_h = wide + 2 * band, high + 2 * band
    paper = Image.new("RGB", (round(all_w * k), round(all_h * k)), (236, 236, 232))
    layout = frame_sheet("frame", all_w, all_h, band_mm=band, marker_mm=10.0, first_id=0).layout
    pen = ImageDraw.Draw(paper)
    for marker in layout.markers:
        ink = Image.new("1", paper.size, 0)
        for ring in marker_rings_mm(marker):
            own = Image.new("1", paper.size, 0)
            ImageDraw.Draw(own).polygon([(px * k - 0.5, py * k - 0.5) for px, py in ring], 1)
            box = own.getbbox()
            part = Image.fromarray(np.asarray(ink.crop(box)) ^ np.asarray(own.crop(box)))
            ink.paste(part, box[:2])
        pen.bitmap((0, 0), ink, (24, 24, 26))
    paper.paste(sheet, (round(band * k), round(band * k)))
    out_w = 2700
    out_h = round(out_w * all_h / all_w * 1.15)
    # a pinhole's homography: sheet to picture
    yaw, pitch, roll = rng.normal(0, 0.12), rng.normal(0, 0.12), rng.normal(0, 0.04)

    def about(angle, i, j):
        out = np.eye(3)
        c, d = math.cos(angle), math.sin(angle)
        out[i, i], out[i, j], out[j, i], out[j, j] = c, -d, d, c
        return out

    rx, ry, rz = about(pitch, 1, 2), about(yaw, 2, 0), about(roll, 0, 1)
    turn = rx @ ry @ rz
    focal, far = 1.05 * out_w, 1.22 * all_w
    move = np.array([0, 0, far]) - turn @ np.array([all_w / 2, all_h / 2, 0])
    lens = np.array([[focal, 0, out_w / 2], [0, focal, out_h / 2], [0, 0, 1]])
    across = lens @ np.stack([turn[:, 0], turn[:, 1], move], axis=1)
    back = np.linalg.inv(across @ np.diag([1 / k, 1 / k, 1]))
    back /= back[2, 2]
    paper = paper.filter(ImageFilter.GaussianBlur(rng.uniform(0.02, 0.035) * k))
    seen = paper.transform(
        (out_w, out_h),
        Image.PERSPECTIVE,
        tuple(back.ravel()[:8]),
        Image.BICUBIC,
        fillcolor=(90, 80, 70),
    )
    value = np.asarray(seen, np.float32)
    fall = 1 + 0.08 * rng.normal() * np.linspace(-1, 1, out_w)[None, :, None]
    value = value * fall + rng.normal(0, 2.0, value.shape)
    out = _jpeg(Image.fromarray(np.uint8(np.clip(value, 0, 255))), int(rng.integers(80, 96)))
    return Sewn(np.asarray(out), None, layout, places + band, holes, skipped, all_w, all_h, told)
