"""Where something lies over the work: a card, a glove, a cloth, tape, a ruler.

Whatever japan mirrors, gilt shows through it: a window mirrored across a scroll has the scroll in
it. Beneath a thing there is none, and the gilt around ends at its rim. So a place whose ground is
lighter than japan is taken for a thing where gilt touches its rim at several places and none lies
within, however dull or grey it is. Japan that is lost, down to priming or iron, looks the same, and
hides as much: the outlines that end there are no outlines of the paint.

What has gilt's own colour, wood, paper, a rope, is told by the grey in its light: gilt unmixed from
white leaves what japan beside it mirrors, and pale things leave more. Rust and red priming lie
beside gilt's colour, too, and are told by being redder and darker than this picture's gilt.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats
from ironlace.ornament.gilt.shade import SIGNAL

F32 = NDArray[np.float32]
Bools = NDArray[np.bool_]

COVER_LIGHT: Final = 0.5
"""Light of ground as a share of gilt's from which it is no japan, if it is coloured: a mirror image
in japan has a twentieth of the light of what it shows. A judgement."""
MOST_JAPAN: Final = 2.0
"""Times the usual light of the ground that its japan may have, where an arm turns to the lamp."""
COVER_COLOUR: Final = 0.15
"""Light, as a share of white, by which its colours differ at the least; grey is glare's matter."""
RIM_OF_GILT_MM: Final = 0.25
"""So near to gilt its own light is spread over the ground. A judgement."""
COVER_MM: Final = 4.0
"""It is at least so wide: narrower ones are strokes or their rims. A judgement."""
PX_PER_MM: Final = 4.0
"""How finely it is looked: a thing worth telling is wider than some mm."""
USUAL: Final = 30.0
"""Percentile of the ground's light that is surely bare japan. A judgement."""
LIGHTER: Final = 1.7
"""Times the light of japan from which a thing may lie there: black cloth scatters twice that. A
judgement."""
LIGHTER_BY: Final = 0.01
"""Of gilt's light, by which it must be lighter at the least. A judgement."""
STEP: Final = 1.8
"""From one level that is tried to the next."""
LEAST_WIDE_MM: Final = 4.0
"""Narrower things hide little. A judgement."""
LEAST_MM2: Final = 30.0
"""Smaller ones too. A judgement."""
LEAST_PALER_MM2: Final = 5.0
"""Smaller patches of paler light are flecks, and told by themselves. A judgement."""
RIM_MM: Final = 0.8
"""How far about its rim gilt is looked for: light is spread over half of it. A judgement."""
SHARPLY: Final = 0.75
"""Of the light just within a rim, what the light just outside is at most: things have edges, and
a sheen in a bare field fades over several mm. A judgement."""
WITHIN: Final = 0.25
"""Share of gilt within, beside that at the rim, below which none lies there. A judgement."""
AT_THE_RIM: Final = 0.4
"""Share of gilt at the rim, beside that farther around, from which gilt ends there. A judgement."""
TOUCHES: Final = 3
"""Places of the rim that gilt touches, at the least. A judgement."""
AROUND_MM: Final = 8.0
"""How far around it is asked how much gilt there is. A judgement."""
PALER: Final = 0.12
"""Grey left in light like gilt's, as a share of it, by which it is another thing's: hemp and tape
leave 0.2 to 0.35, gilt on round work strays by 0.07. A judgement by these."""
SOLID_MM: Final = 6.0
"""Patches of gilt so wide tell their colour better, for no edge is near. A judgement."""
PALER_SOLID: Final = 0.045
"""The same for these: brown paper and wood leave 0.06 to 0.09, gilt of one picture 0.02."""
NEAR_MM: Final = 1.2
"""Colour is averaged over so much (one standard deviation). A judgement."""
LEAST_CORE: Final = 0.03
"""Share of that which must lie deep in gilt for its colour to be told. A judgement."""
BY_DEGREES_MM: Final = 5.0
"""So far on either side of a paler part's rim its grey is compared. A judgement."""
BY_DEGREES: Final = 0.4
"""Of the grey in such a part, what it has more within its rim than without, at the least, for it
to be a thing's: a thing has nearly all of it more. A judgement."""
LEAST_BEYOND_MM2: Final = 2.0
"""Less gilt beyond the rim tells nothing. A judgement."""
USUAL_GREY: Final = 25.0
"""Percentile of the grey left that is surely gilt's own, though a thing covers half of it."""
REDDER: Final = 1.25
"""Red over green beside that of the gilt, from which it is rust's where it is as dark as rust. A
judgement: under a path tracer gilt had up to 1.2 times it, half the rust over 1.7."""
DARKER: Final = 0.5
"""Of gilt's light, below which rust lies. A judgement: in the same picture 98 in 100 places of rust
had less than 0.5, 98 of gilt more than 0.45."""
LEAST_RUST_MM: Final = 0.6
"""Patches of rust narrower than this are left to the eye: a stroke's rim may be of any colour."""
ROUND_RUST_MM: Final = 0.6
"""Dark light so near to rust is its rim's, mixed with iron and japan. A judgement."""
LEAST_SHINING: Final = 0.1
"""Of an island beside rust, how much must shine as gilt does for it to be gilt. A judgement."""
MOST_BETWEEN: Final = 0.5
"""Of what is as red as rust, how much may lie half way to gilt before both are one: where lamps of
two colours light it gilt reddens by degrees. A judgement."""
OTHER_LIGHT: Final = 0.25
"""Of gilt's light, from which a stroke of another colour stands out as gilt does. A judgement."""
OTHER_COLOUR: Final = 0.3
"""Of a stroke's strongest colour, what its weakest lacks, from which it is no grey: what a lamp
mirrors is grey, and so is bare iron. A judgement."""
LEAST_OTHER_MM2: Final = 2.0
"""Smaller patches are flecks of rust. A judgement."""
LEAST_OTHER: Final = 0.05
"""Of the gilt's area, what all of them together take up before it is told. A judgement."""
BESIDE_GILT_MM: Final = 0.4
"""Light so near to gilt is its rims'. A judgement."""
RIM_OF_STROKE_MM: Final = 0.2
"""So much of a stroke is left out along its rims, where its light is spread. A judgement."""
AS_BRIGHT: Final = (0.6, 1.2)
"""Of gilt's light, between which strokes are as bright: a light mirrored over gilt is brighter than
gilt. A judgement."""
ALL_GILT: Final = 0.25
"""Share of grey in a stroke's light up to which it is gilt. A judgement."""
PALING: Final = (0.3, 0.7)
"""The same between which gilt pales, and from which it is grey. A judgement."""
LEAST_PALING: Final = 0.02
"""Of the gilt's area, what must pale for grey strokes to be gilt gone grey. A judgement: 0.31 and
0.09 came of bronze half white, 0.005 of pale priming in chips, 0 of mirrored lamps and of pearl."""
LEAST_GREY: Final = 0.05
"""Of the same, what is grey before it is told. A judgement: 1.3 and 0.17 came of bronze half white,
0.014 of pale priming in chips."""
MOST: Final = 0.6
"""Of what is seen, a lighter share than this is no thing on it but its own ground. A judgement."""


def things_on_work(
    ground: F32,
    rise: F32,
    where: tuple[Bools, Bools, Bools],
    colour: F32,
    scale: float,
    vouched: Sequence[tuple[slice, slice]] = (),
) -> Bools:
    """Where anything lies over the work, (h, w): light and coloured, any grey, or like gilt.

    Parameters
    ----------
    ground, rise
        Light of the ground, with everything narrow taken off, and light above bare ground, as
        shares of white, (h, w, 3).
    where
        Where gilt was found, where it is surely deep in it, and where the work is seen, (h, w).
    colour
        Light that full gilt adds, (3,).
    scale
        Pixels to the mm.
    vouched
        Rows and columns of places that the user pointed at as gilt: what they lie in is no thing.
    """
    gilt, core, seen = where
    over = coloured(ground, gilt, seen, colour, scale)
    over |= laid_over(ground, gilt, seen, float(colour @ SIGNAL), scale)
    over |= paler_than_gilt(rise, core, gilt, colour, scale)
    return without_vouched(over, vouched)


def coloured(ground: F32, gilt: Bools, seen: Bools, colour: F32, scale: float) -> Bools:
    """Where something light and coloured lies that is no gilt, by the ground, (h, w, 3).

    Japan may be light and coloured itself: what the darker ground is lies over nothing.
    """
    japan = np.percentile(ground[seen][::7], USUAL, axis=0) if seen.any() else np.zeros(3)
    own = np.clip((ground / np.maximum(japan, 1e-4)).min(axis=2), 0.0, MOST_JAPAN)
    red, green, blue = cv2.split(np.asarray(ground - own[..., None] * japan, np.float32))
    light, least = cv2.max(cv2.max(red, green), blue), cv2.min(cv2.min(red, green), blue)
    over = (light > COVER_LIGHT * float(colour.max())) & (light - least > COVER_COLOUR)
    r = max(1, round(RIM_OF_GILT_MM * scale))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * r + 1, 2 * r + 1))
    over &= cv2.dilate(gilt.astype(np.uint8), disc) == 0
    size = max(3, 2 * round(COVER_MM * scale / 2) + 1)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    return np.asarray(cv2.morphologyEx(over.astype(np.uint8), cv2.MORPH_OPEN, disc) > 0)


def laid_over(
    ground: F32, gilt: F32 | Bools, seen: Bools, gilt_light: float, scale: float
) -> Bools:
    """Where something lies over the work, (h, w).

    Parameters
    ----------
    ground
        Light of the ground as a share of white, with everything narrow taken off, (h, w, 3).
    gilt
        1 where gilt was found, 0 elsewhere, (h, w).
    seen
        Where the work is seen, (h, w).
    gilt_light
        Light that full gilt adds.
    scale
        Pixels to the mm.
    """
    h, w = seen.shape
    size = (max(8, round(w * PX_PER_MM / scale)), max(8, round(h * PX_PER_MM / scale)))
    light = np.clip(np.nan_to_num(ground @ SIGNAL, posinf=3.0), 0.0, 3.0).astype(np.float32)
    level, share = (
        np.asarray(cv2.resize(one, size, interpolation=cv2.INTER_AREA), np.float32)
        for one in (light, gilt.astype(np.float32))
    )
    open_ = cv2.resize(seen.astype(np.float32), size, interpolation=cv2.INTER_AREA) > 0.99
    over = np.zeros(open_.shape, np.uint8)
    if int(open_.sum()) < LEAST_MM2 * PX_PER_MM**2:
        return np.zeros((h, w), np.bool_)
    usual = float(np.percentile(level[open_], USUAL))
    step = max(LIGHTER * usual, usual + LIGHTER_BY * gilt_light)
    lighter = (level > step) & open_
    while int(lighter.sum()) > LEAST_MM2 * PX_PER_MM**2:
        over |= _things(lighter, level, share, open_)
        step *= STEP
        lighter &= (level > step) & (over == 0)
    whole = cv2.resize(over, (w, h), interpolation=cv2.INTER_NEAREST)
    return np.asarray(whole > 0, np.bool_)


def paler_than_gilt(rise: F32, core: Bools, region: Bools, colour: F32, scale: float) -> Bools:
    """Where light like gilt's holds more grey than this picture's gilt does, (h, w).

    Parameters
    ----------
    rise
        Light above the ground, as a share of white, (h, w, 3).
    core, region
        Where gilt was found, without and with its rims, (h, w).
    colour
        Light that full gilt adds, (3,).
    scale
        Pixels to the mm.
    """
    weights = np.vstack([gilt_and_grey(colour), np.zeros(3)])
    parts = cv2.transform(np.asarray(rise, np.float32), weights)
    parts[..., 2] = 1.0
    parts[~core] = 0.0
    h, w = core.shape
    # means over a mm need no finer picture than this
    small = cv2.resize(parts, (max(2, w // 2), max(2, h // 2)), interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(small, (0, 0), NEAR_MM * scale / 2)
    amount, grey, mass = cv2.split(cv2.resize(small, (w, h), interpolation=cv2.INTER_LINEAR))
    told = core & (mass > LEAST_CORE)
    if not told.any():
        return np.zeros(core.shape, np.bool_)
    left: F32 = np.asarray(grey / np.maximum(amount, 1e-4), np.float32)
    left -= np.float32(np.percentile(left[told], USUAL_GREY))
    side = max(1, round(SOLID_MM * scale))
    square = np.ones((side, side), np.uint8)
    solid = cv2.morphologyEx(region.astype(np.uint8), cv2.MORPH_OPEN, square) > 0
    paler = told & ((left > PALER) | (solid & (left > PALER_SOLID)))
    _, patch, stats, _ = cv2.connectedComponentsWithStats(paler.astype(np.uint8))
    large = stats[:, cv2.CC_STAT_AREA] >= LEAST_PALER_MM2 * scale**2
    large[0] = False
    found = large[patch]
    return np.asarray(found & ~_pales_by_degrees(found, told & ~paler, left, scale), np.bool_)


def _pales_by_degrees(paler: Bools, gilt: Bools, left: F32, scale: float) -> Bools:
    """Those of the paler parts near which gilt goes on hardly less pale, (h, w).

    Gilt that mirrors two lamps of unlike light is paler towards the one; a thing is so at once.
    Parts near one another are judged together, for the strokes of one side are parts by themselves.
    """
    out = np.zeros(paler.shape, np.bool_)
    reach = max(1, round(BY_DEGREES_MM * scale))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    near = cv2.dilate(paler.astype(np.uint8), disc)
    count, group, stats, _ = cv2.connectedComponentsWithStats(near)
    for n in range(1, count):
        x, y, w, h = (int(v) for v in stats[n, :4])
        box = slice(y, y + h), slice(x, x + w)
        around = group[box] == n
        one, beyond = around & paler[box], around & gilt[box]
        if np.count_nonzero(beyond) < LEAST_BEYOND_MM2 * scale**2:
            continue
        within = one & (cv2.dilate(beyond.astype(np.uint8), disc) > 0)
        step = float(np.median(left[box][within]) - np.median(left[box][beyond]))
        out[box] |= one & (step < BY_DEGREES * float(np.median(left[box][one])))
    return out


def redder_than_gilt(rise: F32, region: Bools, colour: F32, scale: float) -> Bools:
    """Where what was found is redder and darker than this picture's gilt, as rust is, (h, w).

    Deeply browned gilt has the colour of rust; but then all of it is brown or it browns by degrees,
    and rust beside bright gilt begins at once.

    Parameters
    ----------
    rise
        Light above the ground, as a share of white, (h, w, 3).
    region
        What was found to be gilt, (h, w).
    colour
        Light that full gilt adds, (3,).
    scale
        Pixels to the mm.
    """
    none = np.zeros(region.shape, np.bool_)
    calm = cv2.GaussianBlur(np.asarray(rise, np.float32), (0, 0), LEAST_RUST_MM / 2 * scale)
    light = calm @ (SIGNAL / max(float(colour @ SIGNAL), 1e-4)).astype(np.float32)
    usual = float(colour[0]) / max(float(colour[1]), 1e-4)
    redness = calm[..., 0] / np.maximum(calm[..., 1] * np.float32(usual), 1e-4)
    half = max(1, round(LEAST_RUST_MM / 2 * scale))
    width = np.ones((2 * half + 1, 2 * half + 1), np.uint8)
    wide = cv2.erode(region.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    half_way = float(np.sqrt(REDDER))
    rust = wide & (redness > REDDER) & (light < DARKER)
    bright = wide & (redness > half_way) & (light >= DARKER)
    if np.count_nonzero(bright) > MOST_BETWEEN * np.count_nonzero(rust):
        return none
    core = cv2.morphologyEx(rust.astype(np.uint8), cv2.MORPH_OPEN, width)
    reach = max(1, round(ROUND_RUST_MM * scale))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    near = cv2.dilate(core, disc) > 0
    out = region & near & (light < DARKER)
    # what is left of a patch where rust turns to iron is no island of gilt
    count, left = cv2.connectedComponents((region & ~out).astype(np.uint8), connectivity=8)
    size = np.maximum(np.bincount(left.ravel(), minlength=count), 1)
    shining = np.bincount(left[light >= DARKER], minlength=count) / size
    beside = np.bincount(left[near], minlength=count) > 0
    out |= region & (beside & (shining < LEAST_SHINING))[left] & (left > 0)
    return np.asarray(out, np.bool_)


def other_paint(
    rise: F32, gilt: Bools, seen: Bools, colour: F32, scale: float
) -> NDArray[np.uint8]:
    """1 where strokes stand out from the ground as gilt does, but in another colour, (h, w).

    Bronze gone green, or paint beside the gilt: it is left out, and whether it belongs to the
    ornament nobody can tell by its colour. Nothing where it is little beside the gilt.

    Parameters
    ----------
    rise
        Light above the ground, as a share of white, (h, w, 3).
    gilt, seen
        Where gilt was found, and where the work is seen, (h, w).
    colour
        Light that full gilt adds, (3,).
    scale
        Pixels to the mm.
    """
    red, green, blue = cv2.split(cv2.GaussianBlur(rise, (0, 0), 0.8))
    most, least = cv2.max(cv2.max(red, green), blue), cv2.min(cv2.min(red, green), blue)
    light = SIGNAL[0] * red + SIGNAL[1] * green + SIGNAL[2] * blue
    r = max(1, round(BESIDE_GILT_MM * scale))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * r + 1, 2 * r + 1))
    other = (light > OTHER_LIGHT * float(colour @ SIGNAL)) & (most - least > OTHER_COLOUR * most)
    other &= seen & (cv2.dilate(gilt.astype(np.uint8), disc) == 0)
    _, parts, stats, _ = cv2.connectedComponentsWithStats(other.astype(np.uint8))
    large = stats[:, cv2.CC_STAT_AREA] >= LEAST_OTHER_MM2 * scale**2
    large[0] = False
    if stats[large, cv2.CC_STAT_AREA].sum() < LEAST_OTHER * np.count_nonzero(gilt):
        large[:] = False
    return np.asarray(large[parts], np.uint8)


def gone_grey(rise: F32, seen: Bools, open_: Bools, colour: F32, scale: float) -> NDArray[np.uint8]:
    """1 where strokes as bright as gilt are grey and gilt beside them pales to grey, (h, w).

    A lamp mirrored in japan is grey as well, and so is iron; but where a lamp lies over gilt there
    is more light, and into iron gilt ends at once. Gilt that goes white keeps its light and loses
    its colour by degrees.

    Parameters
    ----------
    rise
        Light above the ground, as a share of white, (h, w, 3).
    seen, open_
        Where the work is seen, and where nothing was found to lie over it besides, (h, w).
    colour
        Light that full gilt adds, (3,).
    scale
        Pixels to the mm.
    """
    unit = max(float(colour @ SIGNAL), 1e-4)
    weights = np.vstack([gilt_and_grey(colour)[1], SIGNAL / unit])
    grey, light = cv2.split(cv2.transform(np.asarray(rise, np.float32), weights))
    r = max(1, round(RIM_OF_STROKE_MM * scale))
    square = np.ones((2 * r + 1, 2 * r + 1), np.uint8)
    # within strokes, for their rims are ground in part
    core = (cv2.erode((light > AS_BRIGHT[0] / 2).astype(np.uint8), square) > 0) & seen
    share = grey / np.maximum(light * np.float32(unit), 1e-4)
    as_bright = core & (light > AS_BRIGHT[0]) & (light < AS_BRIGHT[1])
    gilt = np.count_nonzero(core & (share < ALL_GILT))
    paling = as_bright & (share > PALING[0]) & (share < PALING[1])
    grown = as_bright & (share >= PALING[1]) & open_
    enough = LEAST_PALING * gilt, LEAST_GREY * gilt
    if np.count_nonzero(paling) <= enough[0] or np.count_nonzero(grown) <= enough[1]:
        return np.zeros(core.shape, np.uint8)
    return np.asarray(cv2.dilate(grown.astype(np.uint8), square), np.uint8)


def gilt_and_grey(colour: F32) -> Floats:
    """Weights of light that give the amounts of gilt and of grey in it with least noise, (2, 3)."""
    return np.asarray(np.linalg.pinv(np.stack([colour.astype(np.float64), np.ones(3)])).T)


def without_vouched(over: Bools, gilt: Sequence[tuple[slice, slice]]) -> Bools:
    """What lies over the work, but for patches in which the user pointed at gilt, (h, w).

    ``gilt`` are the rows and columns of each place that was pointed at.
    """
    if not gilt or not over.any():
        return over
    _, patch = cv2.connectedComponents(over.astype(np.uint8))
    vouched = np.unique(np.concatenate([patch[place].ravel() for place in gilt]))
    return np.asarray(over & ~np.isin(patch, vouched), np.bool_)


def _things(lighter: Bools, level: F32, share: F32, seen: Bools) -> NDArray[np.uint8]:
    """1 where a part of what is lighter is a thing, by the gilt within and about it."""
    wide = cv2.morphologyEx(lighter.astype(np.uint8), cv2.MORPH_OPEN, _square(LEAST_WIDE_MM / 2))
    count, parts, stats, _ = cv2.connectedComponentsWithStats(wide, connectivity=4)
    out = np.zeros(wide.shape, np.uint8)
    reach = round(AROUND_MM * PX_PER_MM) + 2
    for n in range(1, count):
        x, y, w, h, area = (int(v) for v in stats[n])
        if area < LEAST_MM2 * PX_PER_MM**2 or area > MOST * int(seen.sum()):
            continue
        part = (
            slice(max(0, y - reach), y + h + reach),
            slice(max(0, x - reach), x + w + reach),
        )
        one = (parts[part] == n).astype(np.uint8)
        if _ends_sharply(one, level[part], seen[part]) and _gilt_ends_at(
            one, share[part], seen[part]
        ):
            out[part] |= one
    return out


def _ends_sharply(one: NDArray[np.uint8], level: F32, seen: Bools) -> bool:
    """Whether light falls at the rim of a patch at once; a sheen on japan fades."""
    inner = (one > 0) & (cv2.erode(one, _square(2 * RIM_MM), borderValue=1) == 0)
    near = cv2.dilate(one, _square(RIM_MM / 2)) > 0
    outer = (cv2.dilate(one, _square(2 * RIM_MM)) > 0) & ~near & seen
    if not (inner.any() and outer.any()):
        return False
    return float(np.median(level[outer])) < SHARPLY * float(np.median(level[inner]))


def _gilt_ends_at(one: NDArray[np.uint8], share: F32, seen: Bools) -> bool:
    """Whether gilt ends at the rim of a patch: none within, and several strokes touch it."""
    within = cv2.erode(one, _square(RIM_MM / 2), borderValue=1) > 0
    near = cv2.dilate(one, _square(RIM_MM)) > 0
    rim = near & (one == 0) & seen
    far = (cv2.dilate(one, _square(AROUND_MM)) > 0) & ~near & seen
    if not (within.any() and rim.any() and far.any()):
        return False
    inside, about, around = (float(share[part].mean()) for part in (within, rim, far))
    touches = cv2.connectedComponents((rim & (share > 0.5)).astype(np.uint8))[0] - 1
    return inside < WITHIN * about and about > AT_THE_RIM * around and touches >= TOUCHES


def _square(radius_mm: float) -> NDArray[np.uint8]:
    r = max(1, round(radius_mm * PX_PER_MM))
    return np.ones((2 * r + 1, 2 * r + 1), np.uint8)
