"""Ornament in several colours: each place given to the colour it looks like, each edge measured.

Gold is found by itself (`find_gilt`); red, green or the white of mother-of-pearl are pointed at. A
pixel's rise over the black ground is compared with each colour at any strength, because gloss and
uneven light change how bright a colour is but hardly its hue. How much of a pixel is paint at all
is then measured in brightness, as for gold, and shared between the two colours that are likeliest
there by where it lies on the line between them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.ornament.errors import GiltError
from ironlace.ornament.gilt.gilt_map import (
    BLIND_DIM,
    GiltMap,
    blind_places,
    coarse_share,
    find_standing_ground,
    light_there,
    touched_place,
    white_part,
)
from ironlace.photographs.flat_picture import (
    UNSEEN_FRAME,
    UNSEEN_GLARE,
    UNSEEN_STRIP,
    Flat,
    spread_grid,
)
from ironlace.photographs.linear_light import summed

F32 = NDArray[np.float32]

COARSE_PX_PER_MM: Final = 8.0
"""Resolution at which colours are told apart: finer than for gold alone, since strokes touch."""
LEAST_STRENGTH: Final = 0.3
"""Of a colour's usual strength; anything weaker is ground, or a reflection."""
_GREY: Final = np.ones(3, np.float32) / np.float32(np.sqrt(3.0))
"""Direction of light without a colour: reflections rise along it."""
_STRAY: Final = 0.07
"""By how much of its own size a colour strays from the line of its hue: gloss, grain, JPEG."""


@dataclass(frozen=True)
class ColourTouch:
    """A place the user pointed at: of a named layer, or of the ground (an empty name)."""

    x_mm: float
    y_mm: float
    layer: str
    radius_mm: float = 0.4


@dataclass(frozen=True)
class ColourLayer:
    """What was found of one colour.

    Attributes
    ----------
    name
        Its layer.
    found
        Coverage and certainty, as for gilt.
    lab
        CIE 1976 L*a*b* of the colour, D65, 2 degree observer: what is read of it in this picture
        against its white paper or grey card. Of gold it describes this light and angle alone.
    lab_sd
        One standard deviation of the same over the places pointed at.
    """

    name: str
    found: GiltMap
    lab: tuple[float, float, float]
    lab_sd: tuple[float, float, float]


def find_colours(  # long: half is its docstring
    flat: Flat,
    touches: Sequence[ColourTouch],
    *,
    grey_card: tuple[float, float, float] | None = None,
    card_reflectance: float = 0.18,
    paper_reflectance: float = 0.86,
) -> tuple[ColourLayer, ...]:
    """Coverage of each colour that is pointed at, in every pixel of a flat.

    Parameters
    ----------
    flat
        The unrolled photograph.
    touches
        At least one place of each layer; places of the ground help where it mirrors.
    grey_card
        A place (x, y mm) and radius of a grey card in the picture, to measure colours against.
    card_reflectance, paper_reflectance
        What share of light the card, or else the strip's paper, throws back. Paper of 0.86 is
        common practice, no source: use a card where the colour matters.

    Raises
    ------
    GiltError
        If no layer is pointed at, or a touch lies where nothing is seen or on bare ground.
    """
    names = tuple(dict.fromkeys(t.layer for t in touches if t.layer))
    if not names:
        raise GiltError("Point at one place at least of each colour.")
    share, seen, scale = coarse_share(flat, COARSE_PX_PER_MM)
    ground = find_standing_ground(share, seen, scale)
    rise = share - ground
    noise = _noise(rise, seen)
    seeds = {name: _seed(name, rise, share, seen, flat, scale, touches, noise) for name in names}
    colours = np.array([seeds[name].rise for name in names], np.float32)
    likely, strength = _likeliness(rise, colours, noise)
    likely = np.asarray(cv2.GaussianBlur(likely, (0, 0), 0.12 * scale), np.float32)
    for touch in touches:
        _believe(likely, touch, names, flat, scale)
    region, first, certainty = _told_apart(likely, strength, seen, scale)
    covers = _covers(flat, ground, colours, region, first)
    scale_to = _white_scale(flat, grey_card, card_reflectance, paper_reflectance)
    bare = np.median(ground[seen][::17], axis=0) if seen.any() else np.zeros(3)
    blind = [_blind(flat, share, ground, colour, noise, region) for colour in colours]
    found = [
        GiltMap(
            coverage=cover,
            certainty=np.where(unseen > 0, np.float32(0.5), certainty),
            px_per_mm=flat.px_per_mm,
            origin_mm=flat.origin_mm,
            hidden=flat.hidden,
            gilt_colour=_three(np.median(seeds[name].share, axis=0)),
            ground_colour=_three(bare),
            noise=noise,
            resolution=flat.resolution,
            blind=unseen,
        )
        for name, cover, unseen in zip(names, covers, blind, strict=True)
    ]
    return tuple(
        ColourLayer(name, one, *_lab_and_spread(seeds[name].share * scale_to))
        for name, one in zip(names, found, strict=True)
    )


def _blind(
    flat: Flat, share: F32, ground: F32, colour: F32, noise: float, region: NDArray[np.bool_]
) -> NDArray[np.uint8]:
    """Where a colour could not be told from the ground, as for gilt, (h, w)."""
    h, w = region.shape
    glare = ((flat.hidden & UNSEEN_GLARE) > 0).astype(np.uint8)
    burnt = cv2.resize(glare, (w, h), interpolation=cv2.INTER_NEAREST) > 0
    of_it = np.full((h, w), noise / max(float(np.linalg.norm(colour)), 1e-4), np.float32)
    out = blind_places(flat, share, ground, colour, (of_it, light_there(flat, h, w)), burnt)
    out[region & (out & BLIND_DIM > 0)] = 0
    return out


def _told_apart(
    likely: F32, strength: F32, seen: NDArray[np.bool_], scale: float
) -> tuple[NDArray[np.bool_], NDArray[np.int64], F32]:
    """Where there is paint, which colour is likeliest, and how certain that is."""
    order = np.argsort(-likely[..., :-1], axis=2)
    first = order[..., 0]
    best = np.take_along_axis(likely, first[..., None], axis=2)[..., 0]
    level = cv2.GaussianBlur(
        np.take_along_axis(strength, first[..., None], axis=2)[..., 0], (0, 0), 0.08 * scale
    )
    region = seen & (best > likely[..., -1]) & (level > LEAST_STRENGTH)
    rival = likely[..., -1]
    if order.shape[2] > 1:
        rival = np.take_along_axis(likely, order[..., 1, None], axis=2)[..., 0]
    margin = np.abs(best - rival)
    certainty = np.clip(0.5 + 0.5 * np.tanh(margin / 4.0), 0.5, 1.0).astype(np.float32)
    certainty[~seen] = 0.5
    return _without_specks(region, scale), first, certainty


def _lab_and_spread(
    light: NDArray[np.floating],
) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    """Middle and spread of the L*a*b* of some places, their light a share of white."""
    labs = lab_of(light)
    middle = np.median(labs, axis=0)
    return _three(middle), _three(1.4826 * np.median(np.abs(labs - middle), axis=0))


def lab_of(linear: NDArray[np.floating]) -> NDArray[np.float64]:
    """CIE 1976 L*a*b* (D65, 2 degrees) of linear sRGB light as a share of white, (..., 3)."""
    from skimage.color import xyz2lab

    to_xyz = np.array(
        [
            [0.4124564, 0.3575761, 0.1804375],
            [0.2126729, 0.7151522, 0.0721750],
            [0.0193339, 0.1191920, 0.9503041],
        ]
    )  # IEC 61966-2-1, D65
    rgb = np.maximum(np.asarray(linear, np.float64), 0.0)
    return np.asarray(xyz2lab(rgb @ to_xyz.T), np.float64)


def difference(one: NDArray[np.floating], two: NDArray[np.floating]) -> NDArray[np.float64]:
    """Colour difference CIEDE2000 (Sharma, Wu and Dalal 2005) of two L*a*b* colours, (..., 3)."""
    from skimage.color import deltaE_ciede2000

    found = deltaE_ciede2000(  # type: ignore[no-untyped-call]
        np.asarray(one, np.float64), np.asarray(two, np.float64)
    )
    return np.asarray(found, np.float64)


@dataclass(frozen=True)
class _Seed:
    rise: F32
    share: F32


def _three(values: NDArray[np.floating]) -> tuple[float, float, float]:
    a, b, c = (float(v) for v in values)
    return a, b, c


def _noise(rise: F32, seen: NDArray[np.bool_]) -> float:
    values = np.linalg.norm(rise[seen], axis=1)[::5]
    if len(values) < 50:
        raise GiltError("Almost nothing of the surface is seen outside the strip's paper.")
    return max(float(np.percentile(values, 30)), 0.004)


def _place(field: F32, flat: Flat, scale: float, touch: ColourTouch) -> tuple[slice, slice]:
    left, top, right, bottom = flat.bounds_mm
    if not (left <= touch.x_mm <= right and top <= touch.y_mm <= bottom):
        raise GiltError(
            f"The place {touch.x_mm:.1f}, {touch.y_mm:.1f} mm lies outside the flat: point inside."
        )
    return touched_place(field.shape, flat, scale, (touch.x_mm, touch.y_mm), touch.radius_mm)


def _seed(
    name: str,
    rise: F32,
    share: F32,
    seen: NDArray[np.bool_],
    flat: Flat,
    scale: float,
    touches: Sequence[ColourTouch],
    noise: float,
) -> _Seed:
    rises, shares = [], []
    for touch in touches:
        if touch.layer != name:
            continue
        place = _place(rise, flat, scale, touch)
        values = rise[place].reshape(-1, 3)
        use = seen[place].ravel()
        size = np.linalg.norm(values, axis=1)
        # a finger is wider than a hairline: of what lies under it the paint is the brighter half
        use &= size >= 0.5 * float(np.percentile(size, 90))
        rises.append(values[use])
        shares.append(share[place].reshape(-1, 3)[use])
    kept = np.vstack(rises) if rises else np.zeros((0, 3), np.float32)
    if len(kept) < 2 or float(np.linalg.norm(np.median(kept, axis=0))) < 5.0 * noise:
        raise GiltError(
            f"Where '{name}' was pointed at nothing stands out from the ground: point at a place "
            "where its paint is whole."
        )
    return _Seed(np.asarray(np.median(kept, axis=0), np.float32), np.vstack(shares))


def _likeliness(rise: F32, colours: F32, noise: float) -> tuple[F32, F32]:
    """Log likelihood of each colour at any strength, grey light last; and each colour's strength.

    How far a rise lies from the line of a colour is judged against the noise and what colours stray
    by themselves.
    """
    size = np.sqrt(summed(rise * rise))
    spread = noise**2 + (_STRAY * size) ** 2
    told, strengths = [], []
    for colour in colours:
        length = float(np.linalg.norm(colour))
        along = rise @ (colour / length)
        off = np.maximum(size**2 - along**2, 0.0)
        strength = along / length
        told.append(-0.5 * off / spread - 8.0 * np.maximum(LEAST_STRENGTH - strength, 0.0))
        strengths.append(strength)
    along = rise @ _GREY
    off = np.maximum(size**2 - along**2, 0.0)
    # a grey colour (mother-of-pearl) and a reflection are told apart by strength alone
    pale = min(
        (float(np.linalg.norm(c)) for c in colours if float(c @ _GREY) > 0.985 * np.linalg.norm(c)),
        default=np.inf,
    )
    told.append(
        -0.5 * off / spread
        - 0.7
        - (0.0 if np.isinf(pale) else 6.0) * np.clip(along / max(pale, 1e-6) - 0.5, 0.0, 1.0)
    )
    return (
        np.asarray(np.clip(np.stack(told, axis=2), -30.0, 10.0), np.float32),
        np.asarray(np.stack(strengths, axis=2), np.float32),
    )


def _believe(
    likely: F32, touch: ColourTouch, names: Sequence[str], flat: Flat, scale: float
) -> None:
    """Move the likelihoods where a person pointed."""
    h, w = likely.shape[:2]
    x = (touch.x_mm - flat.origin_mm[0]) * scale - 0.5
    y = (touch.y_mm - flat.origin_mm[1]) * scale - 0.5
    v, u = np.mgrid[0:h, 0:w].astype(np.float32)
    near = np.exp(-((u - x) ** 2 + (v - y) ** 2) / (2 * (touch.radius_mm * scale) ** 2))
    which = names.index(touch.layer) if touch.layer else len(names)
    likely[..., which] += 12.0 * near


def _without_specks(region: NDArray[np.bool_], scale: float) -> NDArray[np.bool_]:
    count, parts, stats, _ = cv2.connectedComponentsWithStats(
        region.astype(np.uint8), connectivity=8
    )
    del count
    keep = stats[:, cv2.CC_STAT_AREA] >= max(3.0, (0.3 * scale) ** 2)
    keep[0] = False
    return np.asarray(keep[parts], np.bool_)


def _covers(
    flat: Flat,
    ground: F32,
    colours: F32,
    region: NDArray[np.bool_],
    first: NDArray[np.int64],
) -> list[NDArray[np.uint8]]:
    """Full-resolution coverage of each colour, band by band."""
    height, width = flat.shape
    h, w = region.shape
    wide = cv2.dilate(region.astype(np.uint8), np.ones((5, 5), np.uint8))
    out = [np.zeros((height, width), np.uint8) for _ in colours]
    nearest = _spread_labels(first, region)
    for top in range(0, height, 256):
        bottom = min(height, top + 256)
        pad0, pad1 = max(0, top - 4), min(height, bottom + 4)
        v = ((np.arange(pad0, pad1) + 0.5) * h / height - 0.5).astype(np.float32)
        u = ((np.arange(width) + 0.5) * w / width - 0.5).astype(np.float32)
        if not wide[max(0, int(v[0])) : int(v[-1]) + 2].any():
            continue
        mu = np.ascontiguousarray(np.broadcast_to(u, (len(v), width)))
        mv = np.ascontiguousarray(np.broadcast_to(v[:, None], mu.shape))
        inside = cv2.remap(wide, mu, mv, cv2.INTER_NEAREST)
        under = cv2.remap(ground, mu, mv, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        one = cv2.remap(nearest[0], mu, mv, cv2.INTER_NEAREST, borderMode=cv2.BORDER_REPLICATE)
        two = cv2.remap(nearest[1], mu, mv, cv2.INTER_NEAREST, borderMode=cv2.BORDER_REPLICATE)
        lit = white_part(flat, (pad0, pad1), (0, width))
        part = flat.light[pad0:pad1].astype(np.float32) / (65535.0 * np.maximum(lit, 1e-3))
        rise = cv2.GaussianBlur(part - under, (0, 0), 0.6)
        a, b = colours[one], colours[two]
        # share of paint: brightness against what this colour gives; then which of the two it is
        way = b - a
        length = np.maximum(summed(way * way), 1e-9)
        mixed = (one != two) & (length > 1e-6)
        paint = np.clip(summed(rise * a) / np.maximum(summed(a * a), 1e-9), 0, 1.2)
        between = np.zeros_like(paint)
        full = np.maximum(paint, 0.35)[..., None]
        between[mixed] = np.clip(summed((rise / full - a) * way)[mixed] / length[mixed], 0.0, 1.0)
        between = cv2.GaussianBlur(between, (0, 0), 0.8)
        between[~mixed] = 0.0
        paint = np.clip(paint, 0.0, 1.0) * (inside > 0)
        hidden = flat.hidden[pad0:pad1] & np.uint8(UNSEEN_FRAME | UNSEEN_STRIP)
        paint[hidden > 0] = 0.0
        rows = slice(top - pad0, top - pad0 + bottom - top)
        for k in range(len(colours)):
            mine = np.where(one == k, paint * (1.0 - between), 0.0)
            mine += np.where((two == k) & mixed, paint * between, 0.0)
            out[k][top:bottom] = np.clip(mine[rows] * 255.0 + 0.5, 0, 255).astype(np.uint8)
    return out


def _spread_labels(
    first: NDArray[np.int64], region: NDArray[np.bool_]
) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """The colour of each place and its rival; outside the region those of the nearest inside.

    The rival is the other colour within a few pixels, if there is one, else the colour itself.
    """
    from scipy.ndimage import distance_transform_edt

    label = np.where(region, first, 0).astype(np.uint8)
    if region.any():
        index = distance_transform_edt(~region, return_distances=False, return_indices=True)
        label = label[index[0], index[1]]
    kernel = np.ones((5, 5), np.uint8)
    rival = label.copy()
    for k in np.unique(first):
        near = cv2.dilate(((label == k) & region).astype(np.uint8), kernel) > 0
        rival[near & (label != k)] = k
    return label, np.asarray(rival, np.uint8)


def _white_scale(
    flat: Flat,
    grey_card: tuple[float, float, float] | None,
    card_reflectance: float,
    paper_reflectance: float,
) -> NDArray[np.float64]:
    """What brings a share of the paper's light to a share of perfect white, per channel."""
    if grey_card is None:
        return np.full(3, paper_reflectance)
    x, y, radius = grey_card
    px = flat.to_px(np.array([[x, y]]))[0]
    r = max(2, round(radius * flat.px_per_mm * 0.7))
    rows = slice(max(0, int(px[1]) - r), int(px[1]) + r + 1)
    columns = slice(max(0, int(px[0]) - r), int(px[0]) + r + 1)
    seen = flat.hidden[rows, columns] & np.uint8(UNSEEN_FRAME | UNSEEN_GLARE) == 0
    light = flat.light[rows, columns][seen].astype(np.float64) / 65535.0
    if len(light) < 16:
        raise GiltError("The grey card is not seen where it was pointed at: point at its middle.")
    h, w = flat.shape
    white = spread_grid(flat.white, flat.shape, h // 16 + 2, w // 16 + 2)
    here = white[
        min(int(px[1]) // 16, white.shape[0] - 1), min(int(px[0]) // 16, white.shape[1] - 1)
    ]
    card = np.median(light, axis=0) / np.maximum(here, 1e-3)
    return np.asarray(card_reflectance / np.maximum(card, 1e-4), np.float64)


def colours_told(layers: Sequence[ColourLayer]) -> Mapping[str, dict[str, Any]]:
    """What is reported of each layer: its L*a*b*, spread, and area."""
    told = {}
    for layer in layers:
        area = float(layer.found.coverage.sum(dtype=np.float64)) / 255.0
        told[layer.name] = {
            "lab": [round(v, 2) for v in layer.lab],
            "lab_sd": [round(v, 2) for v in layer.lab_sd],
            "area_mm2": area / layer.found.px_per_mm**2,
        }
    return told
