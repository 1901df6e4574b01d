"""Ornaments of other habits than the demo's and `ornaments`: lettering, noise, rosettes, straps.

Nothing of the planner is used, nor of what draws the demo: letters come from a type face by
matplotlib, mazes from level lines of noise by scikit-image, the rest from arcs and transforms.
"""

import numpy as np


def _page(wide, high, body, fill="#8a6420"):
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:g}mm" height="{high:g}mm" '
        f'viewBox="0 0 {wide:g} {high:g}"><g fill="{fill}">{body}</g></svg>'
    )


def lettering(text="BOARD & Co.", high=16.0, face="DejaVu Serif", weight="bold"):
    """A line of type with its counters, as outlines of lines and quadratic curves."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextPath

    path = TextPath((0, 0), text, size=high, prop=FontProperties(family=face, weight=weight))
    low, top = path.vertices.min(axis=0), path.vertices.max(axis=0)
    wide, tall = top - low
    words = {1: "M", 2: "L", 3: "Q", 4: "C", 79: "Z"}
    d = []
    for points, code in path.iter_segments(simplify=False, curves=True):
        at = points.reshape(-1, 2) * (1, -1) + (4 - low[0], top[1] + 4)
        numbers = " ".join(f"{v:.4f}" for v in at.ravel())
        d.append("Z" if code == 79 else words[code] + numbers)
    return _page(wide + 8, tall + 8, f'<path fill-rule="nonzero" d="{"".join(d)}"/>')


def maze(seed, side=44.0, grain=2.4, share=0.55):
    """Level lines of smoothed noise: strokes that fork, touch and close with no habit at all."""
    from scipy.ndimage import gaussian_filter
    from skimage.measure import find_contours

    rng = np.random.default_rng(seed)
    px = 6
    noise = gaussian_filter(rng.normal(size=(round(side * px),) * 2), grain * px / 2.2)
    noise = np.pad(noise[4:-4, 4:-4], 4, constant_values=noise.min())
    rings = find_contours(noise, np.quantile(noise, 1.0 - share))
    d = "".join(
        "M" + "L".join(f"{x / px:.3f} {y / px:.3f}" for y, x in ring[:-1]) + "Z"
        for ring in rings
        if len(ring) > 12
    )
    return _page(side, side, f'<path fill-rule="evenodd" d="{d}"/>')


def rosette(folds=6, size=22.0):
    """Two rings, petals with a hole each, an eye: every petal turned by a transform, all mirrored.

    Petals are as wide to one side of their axis as to the other, so the whole has as many mirror
    axes as petals.
    """
    mid = size + 4
    petal = "M0 0C5 -3 6 -9 0 -13C-6 -9 -5 -3 0 0ZM0 -4C2.4 -6 2.6 -9 0 -10.6C-2.6 -9 -2.4 -6 0 -4Z"
    step = 360 / folds
    petals = "".join(
        f'<path fill-rule="evenodd" transform="translate({mid:g} {mid:g}) rotate({n * step:g}) '
        f'translate(0 -3)" d="{petal}"/>'
        for n in range(folds)
    )
    rings = "".join(
        f'<path fill-rule="evenodd" d="{_circle(mid, mid, r)}{_circle(mid, mid, r - wide)}"/>'
        for r, wide in ((size, 1.6), (size - 2.6, 0.9), (2.4, 1.2))
    )
    return _page(2 * mid, 2 * mid, rings + petals)


def straps(seed, count=5):
    """Interlaced straps: bars turned by transforms, overlapping, a row of studs with a hole."""
    rng = np.random.default_rng(seed)
    high, wide = 40.0, 16.0 * count + 38
    body = ""
    for n in range(count + 1):
        for sign in (-1, 1):
            turn = sign * rng.uniform(38, 52)
            body += (
                f'<rect x="-22" y="-1.1" width="44" height="{rng.uniform(1.8, 2.6):.3f}" rx="1" '
                f'transform="translate({19 + 16 * n:g} {high / 2:g}) rotate({turn:.3f})"/>'
            )
    for n in range(count):
        x, y = 27 + 16 * n, high / 2
        body += f'<path fill-rule="evenodd" d="{_circle(x, y, 2.6)}{_circle(x, y, 1.3)}"/>'
    return _page(wide, high, body)


def _circle(x, y, r):
    return f"M{x - r:.4f} {y:.4f}a{r:g} {r:g} 0 1 0 {2 * r:g} 0a{r:g} {r:g} 0 1 0 {-2 * r:g} 0Z"


def vine(seed, islands=40):
    """A crowded vine: rows of ringed berries and veined leaves along waving stems."""
    rng = np.random.default_rng(seed)
    columns = int(np.ceil(np.sqrt(islands * 1.6)))
    rows = int(np.ceil(islands / columns))
    body = ""
    for row in range(rows):
        base = 9 + 10 * row
        t = np.linspace(0, columns * 8 + 8, 30 * columns)
        wave = base + 1.4 * np.sin(t / 8 * np.pi + rng.uniform(0, 6))
        edge = np.concatenate([np.stack([t, wave - 0.45], 1), np.stack([t, wave + 0.45], 1)[::-1]])
        body += '<path d="M' + "L".join(f"{x + 2:.3f} {y:.3f}" for x, y in edge) + 'Z"/>'
    for n in range(islands):
        row, column = divmod(n, columns)
        x, y = 8 + 8 * column + rng.uniform(-0.4, 0.4), 4.4 + 10 * row + rng.uniform(-0.3, 0.3)
        if rng.random() < 0.5:
            r = rng.uniform(2.0, 2.7)
            body += f'<path fill-rule="evenodd" d="{_circle(x, y, r)}{_circle(x, y, r * 0.5)}"/>'
        else:
            turn = rng.uniform(-35, 35)
            body += (
                f'<path fill-rule="evenodd" transform="translate({x:.3f} {y:.3f}) '
                f'rotate({turn:.2f})" d="M-3.4 0Q0 -4.4 3.4 0Q0 4.4 -3.4 0ZM-1.9 0Q0 -1.9 1.9 0'
                'Q0 1.9 -1.9 0Z"/>'
            )
    return _page(8 * columns + 14, 10 * rows + 8, body)
