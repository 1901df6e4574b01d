"""What else befalls a photograph: is it told, and told for what it is?

    python bench/photographs_never_thought_of.py [kind ...] [--good N] [--kept FOLDER]

Turned over as before a mirror, in negative, stored in few colours, its rows taken at two moments,
framed by a program, seen by a very wide lens, cut out and enlarged with what the camera noted left
as it was, a part of the ornament pushed about or painted out, blurred to its rims, toned, a marker
dirty or gone, paper swollen across, a pane of glass over the strip, turned upside down, a scrap of
another print beside it. Scenes by `thrown_light`, as in `photographs_left_lying`; nothing was tuned
on these when they were first run.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import cv2
import numpy as np
from photographs_at_fault import Case, Maker, run_all, without
from photographs_left_lying import ARM, FLAT, linear, on_frets, on_scrolls, stored
from photographs_mishaps import Mishap, Picture, _moved
from photographs_passed_on import FLAT as FRETS

from ironlace.photographs.scale_strip import strip_sheet
from thrown_light import Setting


def _as_it_is(image: Picture, _rng: np.random.Generator) -> Picture:
    return image


def _turned_over(image: Picture, _rng: np.random.Generator) -> Picture:
    return image[:, ::-1]


def _upside_down(image: Picture, _rng: np.random.Generator) -> Picture:
    return image[::-1, ::-1]


def _negative(image: Picture, _rng: np.random.Generator) -> Picture:
    return 255.0 - image


def _few_colours(count: int) -> Any:
    """Stored in so many colours, the nearest of them each, as small pictures are."""

    def befell(image: Picture, rng: np.random.Generator) -> Picture:
        pixels = image.reshape(-1, 3).astype(np.float32)
        some = pixels[rng.choice(len(pixels), 20_000, replace=False)]
        ends = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 12, 1.0)
        cv2.setRNGSeed(5)
        colours = cv2.kmeans(some, count, None, ends, 1, cv2.KMEANS_PP_CENTERS)[2]
        grid = (np.stack(np.meshgrid(*[np.arange(32)] * 3, indexing="ij"), -1) * 8 + 4).reshape(
            -1, 3
        )
        off = ((grid[:, None] - colours[None]) ** 2).sum(axis=2)
        table = colours[np.argmin(off, axis=1)]
        r, g, b = (np.clip(image, 0, 255).astype(np.int64) // 8).transpose(2, 0, 1)
        return table[(r * 32 + g) * 32 + b].astype(np.float32)

    return befell


def _two_moments(dx: float, dy: float) -> Any:
    """Every other row taken a moment later."""

    def befell(image: Picture, _rng: np.random.Generator) -> Picture:
        out, later = image.copy(), _moved(image, dx, dy)
        out[1::2] = later[1::2]
        return out

    return befell


def _framed(image: Picture, _rng: np.random.Generator) -> Picture:
    """A pale frame round it, wider below."""
    return cv2.copyMakeBorder(image, 90, 320, 90, 90, cv2.BORDER_CONSTANT, value=(246, 244, 238))


def _very_wide(share: float) -> Any:
    """As a very wide lens bends it."""

    def befell(image: Picture, _rng: np.random.Generator) -> Picture:
        h, w = image.shape[:2]
        v, u = np.mgrid[0:h, 0:w].astype(np.float32)
        x, y = (u - w / 2) / (w / 2), (v - h / 2) / (w / 2)
        bent = share * (x * x + y * y - 0.6)
        return _moved(image, bent * x * w / 2, bent * y * w / 2)

    return befell


def _near_cut(share: float) -> Any:
    """The middle cut out and enlarged to the size there was."""

    def befell(image: Picture, _rng: np.random.Generator) -> Picture:
        h, w = image.shape[:2]
        a, b = int(h * (1 - share) / 2), int(w * (1 - share) / 2)
        return cv2.resize(image[a : h - a, b : w - b], (w, h), interpolation=cv2.INTER_CUBIC)

    return befell


def _pushed(by: float) -> Any:
    """A part within the strip pushed aside by a program for faces."""

    def befell(image: Picture, _rng: np.random.Generator) -> Picture:
        h, w = image.shape[:2]
        v, u = np.mgrid[0:h, 0:w].astype(np.float32)
        lobe = np.exp(-0.5 * ((u - 0.5 * w) ** 2 + (v - 0.5 * h) ** 2) / (0.09 * w) ** 2)
        return _moved(image, by * lobe, 0.6 * by * lobe)

    return befell


def _painted_out(image: Picture, _rng: np.random.Generator) -> Picture:
    """A part painted over from its surroundings by a program."""
    h, w = image.shape[:2]
    mask = np.zeros((h, w), np.uint8)
    cv2.ellipse(
        mask, (int(0.52 * w), int(0.5 * h)), (int(0.09 * w), int(0.1 * h)), 0, 0, 360, 255, -1
    )
    small = np.clip(image, 0, 255).astype(np.uint8)
    return cv2.inpaint(small, mask, 3, cv2.INPAINT_TELEA).astype(np.float32)


def _blurred_to_its_rims(sigma: float) -> Any:
    """Sharp in a band across the middle alone."""

    def befell(image: Picture, _rng: np.random.Generator) -> Picture:
        h = image.shape[0]
        y = np.abs(np.arange(h, dtype=np.float32) / h - 0.5)
        mask = np.clip((y - 0.12) / 0.1, 0, 1)[:, None, None]
        return image * (1 - mask) + cv2.GaussianBlur(image, (0, 0), sigma) * mask

    return befell


def _toned(image: Picture, _rng: np.random.Generator) -> Picture:
    """In brown, as old prints are."""
    grey = image @ np.float32([0.3, 0.59, 0.11])
    return grey[..., None] * np.float32([1.07, 0.84, 0.62]) + np.float32([12, 6, 0])


def _vivid(image: Picture, _rng: np.random.Generator) -> Picture:
    """Colours made stronger and contrast with them."""
    grey = image.mean(axis=2, keepdims=True)
    strong = grey + 1.8 * (image - grey)
    return 255 / (1 + np.exp(-(strong - 118) / 42))


def _on_markers(count: int, dirt: tuple[float, float, float], share: float) -> Any:
    """Dirt, or a tear that bares the japan, over a share of some markers on the left."""

    def befell(image: Picture, rng: np.random.Generator) -> Picture:
        light = linear(image)
        grey = cv2.cvtColor(np.clip(image, 0, 255).astype(np.uint8), cv2.COLOR_RGB2GRAY)
        book = cv2.aruco.getPredefinedDictionary(
            getattr(cv2.aruco, strip_sheet("wrap").layout.markers[0].dictionary)
        )
        rings = cv2.aruco.ArucoDetector(book).detectMarkers(grey)[0]
        rings = sorted((r[0] for r in rings), key=lambda ring: ring[:, 0].mean())[:count]
        for ring in rings:
            middle = ring.mean(axis=0) + rng.uniform(-0.3, 0.3, 2) * np.ptp(ring, axis=0)
            mask = np.zeros(grey.shape, np.float32)
            size = int(share * np.ptp(ring[:, 0]))
            cv2.circle(mask, tuple(int(v) for v in middle), size, 0.9, -1, cv2.LINE_AA)
            mask = cv2.GaussianBlur(mask, (0, 0), 2)[..., None]
            light = light * (1 - mask) + np.float32(dirt) * mask
        return stored(light)

    return befell


def _one(scene: Setting, befell: Any, *, lens: bool = True, **more: Any) -> Maker:
    told = (lambda known: known) if lens else without
    focal, take = more.pop("focal", 1.0), more.pop("take", on_scrolls)
    asked = more.pop("asked", {})
    return lambda _rng, _n: Case(
        Mishap(scene, befell, **more), asked, take=take, lens=told, focal=focal
    )


FRETS = replace(FRETS, jpeg=100)
FAULTS: dict[str, Maker] = {
    "turned over": _one(FLAT, _turned_over, lens=False),
    "upside down": _one(FLAT, _upside_down, lens=False, asked={"upright": False}),
    "in negative": _one(FLAT, _negative, lens=False),
    "in 32 colours": _one(FLAT, _few_colours(32)),
    "in 12 colours": _one(FLAT, _few_colours(12)),
    "rows of two moments": _one(FLAT, _two_moments(4.0, 0.0)),
    "framed by a program": _one(FLAT, _framed, lens=False),
    "a very wide lens": _one(FLAT, _very_wide(0.16), lens=False),
    "a very wide lens, another's file": _one(FLAT, _very_wide(0.16)),
    "cut out and enlarged": _one(replace(FLAT, distance=520), _near_cut(0.64), lens=False),
    "cut out, its lens given": _one(replace(FLAT, distance=520), _near_cut(0.64)),
    "pushed aside": _one(FLAT, _pushed(7.0)),
    "painted out": _one(FLAT, _painted_out),
    "blurred to its rims": _one(FLAT, _blurred_to_its_rims(3.0)),
    "toned brown": _one(FLAT, _toned),
    "vivid": _one(FLAT, _vivid),
    "a dirty marker": _one(FLAT, _on_markers(1, (0.05, 0.035, 0.02), 0.4)),
    "markers torn away": _one(ARM, _on_markers(3, (0.011, 0.01, 0.009), 0.7)),
    "paper pulled by 1 %": _one(replace(FLAT, pulled=0.01), _as_it_is),
    "paper pulled by 1 %, no lens": _one(replace(FLAT, pulled=0.01), _as_it_is, lens=False),
    "strip under glass": _one(replace(FLAT, buckle=0.7), _as_it_is),
    "held back: rows of two moments": _one(FRETS, _two_moments(0.0, 3.0), take=on_frets),
    "held back: in 20 colours": _one(FRETS, _few_colours(20), take=on_frets),
    "held back: turned over": _one(FRETS, _turned_over, lens=False, take=on_frets),
    "held back: toned": _one(FRETS, _toned, take=on_frets),
    "held back: painted out": _one(FRETS, _painted_out, take=on_frets),
}
"""One case of each."""


def good(rng: np.random.Generator, n: int) -> Case:
    """The same scenes with nothing amiss."""
    scene = replace((FLAT, ARM)[n % 2], tip=rng.uniform(-9, 9), turn=rng.uniform(-9, 9))
    return Case(Mishap(scene, _as_it_is), {}, take=on_scrolls, lens=without if n % 2 else dict)


if __name__ == "__main__":
    run_all(FAULTS, 1, good, 230_000, __doc__)
