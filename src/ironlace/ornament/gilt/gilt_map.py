"""Telling gilt from black japan, and how much of each pixel it covers.

Three things shine on a japanned casting: gilt, whatever the varnish mirrors, and iron laid bare.
Gilt alone has the colour of gold; what the mirror adds has the colour of the lamp or window, and
iron is grey. So the *kind* of a bright place is judged by colour against the paper's white, on a
reduced picture where the camera's colour is reliable. *Where its edge lies* is then measured at
full resolution in brightness, against the local ground on one side and the local gilt on the
other: the outline belongs where the paint covers half a pixel, and with both ends known in linear
light that is where the brightness stands half way.

The colour model is a mixture of three populations fitted by expectation-maximisation (Dempster,
Laird and Rubin 1977) to the picture itself, with the user's touches, if any, as fixed members.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats
from ironlace.ornament.errors import GiltError
from ironlace.ornament.gilt.coarse_colour import colour_spread_mm, with_fine_colour
from ironlace.ornament.gilt.laid_over import (
    gilt_and_grey,
    gone_grey,
    other_paint,
    redder_than_gilt,
    things_on_work,
    without_vouched,
)
from ironlace.ornament.gilt.shade import (
    HARDLY_FALLEN,
    SIGNAL,
    fine_lines_drown,
    light_by_faint_gilt,
    light_left,
)
from ironlace.photographs.flat_picture import (
    COARSE_STEP,
    UNSEEN_FRAME,
    UNSEEN_GLARE,
    UNSEEN_STRIP,
    Flat,
    spread_grid,
)
from ironlace.photographs.linear_light import summed

F32 = NDArray[np.float32]

COARSE_PX_PER_MM: Final = 5.0
"""Resolution at which gilt is told from ground; its edge is measured afterwards in full
resolution."""
TILE: Final = 384
"""Side in pixels of the pieces in which coverage is worked out: small enough to stay in a cache and
to pass over bare ground. Only time depends on it."""
WIDEST_STROKE_MM: Final = 8.0
"""Bright parts narrower than this stand out from the ground; wider ones by colour alone."""
_GREY_FREE: Final = np.array([[1.0, 0.0, -1.0], [-0.5, 1.0, -0.5]], dtype=np.float32)
"""Two colour differences that no grey light changes: red less blue, green less their mean."""
LEAST_UNEVEN: Final = 200
"""Places of gilt below which it is not asked how evenly it shines. A judgement."""
LEAST_ENCLOSED: Final = 0.2
"""Share of what is seen that a frame must enclose for its gilt to be that within. A judgement."""
FAINT_GILT: Final = 0.1
"""Share of the paper's light that gilt adds to its ground, below which it hardly shines. A
judgement: leaf and bronze that mirror a window or a lamp add 0.2 to 0.6 of it; varnish over japan
mirrors 0.04 of whatever stands in the room and old japan scatters as much, so that less than both
may be either. Leaf that mirrored a dark room added 0.04 to 0.09 (`bench/path_traced_bed.py`)."""
MUCH_UNEVEN: Final = 8.0
"""Times by which gilt may shine more here than there before it is said. A judgement: under one
torch it came to 10 and 19, with a third and a quarter of the outline missing."""
SHINES_NOT: Final = 100.0
"""The same from which what shines least is no gilt at all: rust came to 800. A judgement."""
BLIND_GLARE: Final = 1
"""Burnt out, or so bright that gilt hardly adds to it."""
BLIND_DIM: Final = 2
"""So dark that gilt would not stand out from the noise."""
BLIND_SLANT: Final = 4
"""Seen too slantingly, or too coarsely."""
BLIND_FRAME: Final = 8
"""Outside the photograph or turned away."""
BLIND_COVERED: Final = 16
"""Under a thing that is neither japan nor gilt, a finger, cloth, wood, or where japan is lost."""
ROOM_LEFT: Final = 0.7
"""Of the red that gilt adds, the share that must fit below the sensor's end; a judgement."""
LEAST_RED: Final = 0.35
"""Red that bright gilt adds as a share of white, where veiled gilt alone was measured; judged."""
RED_END: Final = 0.93
"""Red from here on is at its end once pixels are averaged; a judgement."""
VEIL: Final = 0.3
"""Ground so bright beside red at its end is a mirror image and no japan; a judgement."""
LEAST_OVER_NOISE: Final = 6.0
"""Times the noise from which gilt is told for sure: as for its sure places below."""
LEAST_LIGHT_OF_GILT: Final = 0.004
"""Linear light that gilt must add at the least: some ten steps of eight bits in the dark."""
LEAST_FACING_TOLD: Final = 0.3
"""Cosine of the view, 73 degrees from square, beyond which no outline is believed; judged."""
LEAST_PX_PER_MM: Final = 4.0
"""Photograph pixels to the mm, the coarser way, below which a hairline of 0.3 mm is hardly one."""
LEAST_LIGHT: Final = 0.25
"""Gilt at the limb is not looked for below this share of its usual strength; a judgement."""
SPEAKS_FOR_MM: Final = 4.0
"""Gilt that was found speaks for the light so far around it. A judgement."""
BLUISH: Final = -0.03
"""Amount below which what is mirrored is bluish rather than grey (tuned; on what was not kept)."""
COLOURED_JAPAN: Final = 0.1
"""Of gilt's light, the colour of bare ground from which it is japan's own: less is taken off as the
tint of what is mirrored or of the lamp, which goes no further. A judgement."""
COARSE_STRAYS: Final = 0.12
"""Of its amount, how far gilt strays to a third colour where a picture keeps colour coarsely and
a stroke's is worked out from what lies around. A judgement: in one such 0.1 was common."""
LEAST_NOISE: Final = 0.01
"""Of the light of gilt, below which no noise is believed: eight bits are no finer. A judgement."""
NOISE_WINDOW_MM: Final = 8.0
"""Noise is measured in windows somewhat larger than this, which hold ground beside any stroke."""


@dataclass(frozen=True)
class Touch:
    """A place the user pointed at: gilt, or ground (anything that is not gilt)."""

    x_mm: float
    y_mm: float
    is_gilt: bool
    radius_mm: float = 0.4


@dataclass(frozen=True)
class GiltMap:
    """How much gilt there is, pixel by pixel of a flat.

    Attributes
    ----------
    coverage
        Share of the pixel covered with gilt, 0..255, uint8, shape of the flat.
    certainty
        Probability that gilt and ground are told apart rightly there, on a reduced picture of the
        flat (float32): low in burnt-out light, at doubtful colours, and where nothing is seen.
    px_per_mm, origin_mm
        As in `Flat`.
    hidden
        As in `Flat`.
    gilt_colour
        Linear RGB of the gilt as a share of white paper.
    ground_colour
        The same of the bare ground.
    noise
        One standard deviation of the coverage from the photograph's noise.
    resolution
        As in `Flat`; None where it is the same everywhere.
    blind
        Where gilt could not be told from ground if it were there: 0, or a sum of ``BLIND_...``, on
        the reduced picture (uint8); None where that was not asked.
    shaded
        1 where it lies in a shadow so deep that fine lines drown, on the reduced picture (uint8);
        None where that was not asked.
    other_paint
        1 where strokes stand out from the ground as gilt does, in another colour, and 2 where they
        are grey and gilt pales to them, on the reduced picture (uint8); None where that was not
        asked.
    colour_spread_mm
        Over how much more the picture spreads colour than light, one standard deviation; 0 where
        hardly, or where that was not asked.
    faint_share
        Share of the gilt found that adds hardly any of white paper's light; 0 where not asked.
    uneven
        Times by which gilt shines more where it shines most than where least; 1 where not asked.
    """

    coverage: NDArray[np.uint8]
    certainty: F32
    px_per_mm: float
    origin_mm: tuple[float, float]
    hidden: NDArray[np.uint8]
    gilt_colour: tuple[float, float, float]
    ground_colour: tuple[float, float, float]
    noise: float
    resolution: F32 | None = None
    blind: NDArray[np.uint8] | None = None
    shaded: NDArray[np.uint8] | None = None
    other_paint: NDArray[np.uint8] | None = None
    colour_spread_mm: float = 0.0
    faint_share: float = 0.0
    uneven: float = 1.0

    @property
    def lit_unevenly(self) -> bool:
        """Whether gilt shines so unevenly that its rims are misjudged where it shines least."""
        return MUCH_UNEVEN < self.uneven < SHINES_NOT

    def probability(self) -> F32:
        """Probability of gilt per pixel: coverage where sure, one half where nothing is known."""
        h, w = self.coverage.shape
        sure = cv2.resize(self.certainty, (w, h), interpolation=cv2.INTER_LINEAR)
        share = self.coverage.astype(np.float32) / 255.0
        return np.asarray(0.5 + (share - 0.5) * np.clip(2.0 * sure - 1.0, 0.0, 1.0), np.float32)

    def to_arrays(self) -> dict[str, NDArray[Any]]:
        """Everything as named arrays, for a checkpoint."""
        known: dict[str, NDArray[Any]] = {}
        if self.resolution is not None:
            known["resolution"] = self.resolution
        if self.blind is not None:
            known["blind"] = self.blind
        if self.shaded is not None:
            known["shaded"] = self.shaded
        if self.other_paint is not None:
            known["other_paint"] = self.other_paint
        return {
            **known,
            "coverage": self.coverage,
            "certainty": self.certainty,
            "px_per_mm": np.array(self.px_per_mm),
            "origin_mm": np.array(self.origin_mm),
            "hidden": self.hidden,
            "gilt_colour": np.array(self.gilt_colour),
            "ground_colour": np.array(self.ground_colour),
            "noise": np.array(self.noise),
            "colour_spread_mm": np.array(self.colour_spread_mm),
            "faint_share": np.array(self.faint_share),
            "uneven": np.array(self.uneven),
        }

    @classmethod
    def from_arrays(cls, arrays: Mapping[str, NDArray[Any]]) -> GiltMap:
        """The inverse of `to_arrays`."""
        gilt = [float(v) for v in arrays["gilt_colour"]]
        ground = [float(v) for v in arrays["ground_colour"]]
        x, y = (float(v) for v in arrays["origin_mm"])
        return cls(
            coverage=np.asarray(arrays["coverage"], dtype=np.uint8),
            certainty=np.asarray(arrays["certainty"], dtype=np.float32),
            px_per_mm=float(arrays["px_per_mm"]),
            origin_mm=(x, y),
            hidden=np.asarray(arrays["hidden"], dtype=np.uint8),
            gilt_colour=(gilt[0], gilt[1], gilt[2]),
            ground_colour=(ground[0], ground[1], ground[2]),
            noise=float(arrays["noise"]),
            resolution=np.asarray(arrays["resolution"], np.float32)
            if "resolution" in arrays
            else None,
            blind=np.asarray(arrays["blind"], np.uint8) if "blind" in arrays else None,
            shaded=np.asarray(arrays["shaded"], np.uint8) if "shaded" in arrays else None,
            other_paint=np.asarray(arrays["other_paint"], np.uint8)
            if "other_paint" in arrays
            else None,
            # what was kept before this was asked has none
            colour_spread_mm=float(arrays.get("colour_spread_mm", 0.0)),
            faint_share=float(arrays.get("faint_share", 0.0)),
            uneven=float(arrays.get("uneven", 1.0)),
        )


def find_gilt(  # long: a third is its docstring
    flat: Flat, *, touches: Sequence[Touch] = ()
) -> GiltMap:
    """Coverage of gilt in every pixel of a flat.

    Parameters
    ----------
    flat
        The unrolled photograph.
    touches
        Places the user vouches for.

    Raises
    ------
    GiltError
        If nothing visible has the colour of gilt and no touch says where it is.
    """
    share, seen, scale = coarse_share(flat, COARSE_PX_PER_MM)
    h, w = share.shape[:2]
    burnt = _hidden_by(flat, UNSEEN_GLARE, h, w)
    paper = _hidden_by(flat, UNSEEN_STRIP, h, w)

    def narrow_off(values: F32) -> F32:
        return find_standing_ground(values, seen, scale)

    # mostly colour is as fine as light, and what is found meanwhile stands
    with ThreadPoolExecutor(1) as beside:
        asked = beside.submit(colour_spread_mm, share, seen, scale, narrow_off)
        ground = narrow_off(share)
        light = light_there(flat, h, w)
        white = flat.spread(flat.white, h, w)
        spread_mm = asked.result()
    if spread_mm:
        share = with_fine_colour(share, spread_mm, scale, narrow_off)
        ground = narrow_off(share)
    fit = _fit_colours(share, ground, seen & ~burnt, flat, scale, touches)
    bright = np.asarray((share - ground) @ SIGNAL, np.float32)
    plain = _without_coloured_japan(share, ground, seen, fit)
    if plain is not share:
        # where japan has more of a colour than gilt, gilt takes it away, and no ground shows that
        below = np.maximum(ground, share - plain)
        fit = _fit_colours(share, below, seen & ~burnt, flat, scale, touches)
    if spread_mm:
        fit = replace(fit, across_sd=max(fit.across_sd, COARSE_STRAYS))
    amount = _grey_free_amount(plain, bright, fit, seen, scale)
    left, fallen = light_left(share, ground, amount, light, white, seen, scale)
    light, usual = light * left, light
    noise = _spread_of_bare(amount, seen)
    spread = _local_noise(amount, seen, scale, noise)
    local = np.clip(spread, LEAST_NOISE * light, noise)
    if (fallen < HARDLY_FALLEN).any():
        odds = _log_odds(amount, bright, fit, local, 0.1 * light)
        faint = seen & _surely_gilt(amount, odds, local, scale)
        light = np.minimum(light, light_by_faint_gilt(amount, faint, fallen, scale))
        left = np.minimum(left, light / usual)
        local = np.clip(spread, LEAST_NOISE * light, noise)
    odds = _log_odds(amount, bright, fit, local, light)
    # grey things and things of a third colour are rivals: gilt must be likelier than either
    odds = np.minimum(odds, 3.5 - _strangeness(plain, amount, fit, seen))
    odds = _touched(odds, share - ground, fit, flat, scale, touches)
    region = _regions(amount, odds, local, light, seen, scale)
    vouched = _vouched(touches, seen, flat, scale)
    rust = without_vouched(redder_than_gilt(share - ground, region, fit.colour, scale), vouched)
    region &= ~rust
    under = ground.copy()

    # a wide gilded part is in the opened ground too; what is gold-coloured there is taken out again
    ground -= np.clip(ground @ fit.weights - 0.1, 0.0, None)[..., None] * fit.colour
    ground = np.maximum(ground, 0.0)
    bare = seen & ~_grown(region, scale, 0.25)
    ground = mean_near(share, bare, ground, scale, (0.6, 2.0, 6.0))
    core = _core(region, amount, scale)
    rise = share - ground
    backdrop = fit.colour * left[..., None]
    gilt = mean_near(rise, core & seen & ~burnt, backdrop, scale, (0.8, 3.0, 12.0))

    def blind_or_covered() -> NDArray[np.uint8]:
        shown = np.maximum(light, _light_shown(gilt, core & seen, fit.colour, scale))
        blind = blind_places(flat, share, under, fit.colour, (local, shown), burnt)
        blind[region & (blind & BLIND_DIM > 0)] = 0
        open_ = seen & (blind == 0)
        over = things_on_work(under, rise, (region, core & open_, seen), fit.colour, scale, vouched)
        over |= rust
        blind[over & open_] = BLIND_COVERED
        return blind

    # what is hidden and how far paint covers do not ask each other: one pair of hands for each
    with ThreadPoolExecutor(1) as beside:
        hidden = beside.submit(blind_or_covered)
        rule = _edge_weights(ground, gilt, backdrop)
        coverage = _coverage(flat, *rule, _grown(region, scale, 0.35))
        blind = hidden.result()

    bare_of_things = seen & (blind == 0)
    other = other_paint(share - under, region, bare_of_things, fit.colour, scale)
    other |= 2 * gone_grey(share - under, seen, bare_of_things, fit.colour, scale)
    certainty = np.clip(1.0 / (1.0 + np.exp(-np.abs(odds))), 0.5, 1.0).astype(np.float32)
    certainty[~seen | burnt | (blind > 0)] = 0.5
    within = _enclosed(seen, paper)
    ground_colour = np.median(ground[seen][::17], axis=0) if seen.any() else np.zeros(3)
    colour = fit.colour + ground_colour
    return GiltMap(
        coverage=coverage,
        certainty=certainty,
        px_per_mm=flat.px_per_mm,
        origin_mm=flat.origin_mm,
        hidden=flat.hidden,
        gilt_colour=(float(colour[0]), float(colour[1]), float(colour[2])),
        ground_colour=tuple(float(v) for v in ground_colour),  # type: ignore[arg-type]
        noise=noise,
        resolution=flat.resolution,
        blind=blind,
        shaded=(bare_of_things & fine_lines_drown(left, light, local)).astype(np.uint8),
        other_paint=other,
        colour_spread_mm=spread_mm,
        faint_share=_faint_share(gilt, core & within),
        uneven=_unevenness(gilt, core & within),
    )


def coarse_share(flat: Flat, px_per_mm: float) -> tuple[F32, NDArray[np.bool_], float]:
    """Light of a flat as a share of white paper on a reduced picture.

    Returns
    -------
    tuple
        The share, (h, w, 3); where the surface is seen, (h, w); and the picture's pixels per mm,
        about ``px_per_mm``.
    """
    height, width = flat.shape
    step = max(1, round(flat.px_per_mm / px_per_mm))
    h, w = max(4, height // step), max(4, width // step)
    small = cv2.resize(flat.light, (w, h), interpolation=cv2.INTER_AREA).astype(np.float32)
    white = spread_grid(flat.white, flat.shape, h, w)
    share = np.asarray(small / (65535.0 * np.maximum(white, 1e-3)), dtype=np.float32)
    shown = ((np.arange(256) & (UNSEEN_FRAME | UNSEEN_STRIP)) == 0).astype(np.uint8)
    seen = cv2.resize(cv2.LUT(flat.hidden, shown), (w, h), interpolation=cv2.INTER_AREA) > 0
    return share, np.asarray(seen, np.bool_), flat.px_per_mm * w / width


def _enclosed(seen: NDArray[np.bool_], paper: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """What is seen within the paper of a frame, (h, w); all that is seen where it encloses little.

    Wood and brass beside the work have the colour of gilt and more light, and are none of it.
    """
    _, parts = cv2.connectedComponents((~paper).astype(np.uint8), connectivity=4)
    rim = np.concatenate([parts[0], parts[-1], parts[:, 0], parts[:, -1]])
    within = seen & ~paper & ~np.isin(parts, np.unique(rim))
    enough = np.count_nonzero(within) > LEAST_ENCLOSED * np.count_nonzero(seen)
    return within if enough else seen


def _vouched(
    touches: Sequence[Touch], seen: NDArray[np.bool_], flat: Flat, scale: float
) -> list[tuple[slice, slice]]:
    """Rows and columns of the places that were pointed at as gilt."""
    return [
        touched_place(seen.shape, flat, scale, (t.x_mm, t.y_mm), t.radius_mm)
        for t in touches
        if t.is_gilt
    ]


def _unevenness(gilt: F32, core: NDArray[np.bool_]) -> float:
    """Times by which the gilt found, light (h, w, 3), shines more where it does most than least.

    Five in a hundred places shine more, five less; 1 where too little was found.
    """
    if np.count_nonzero(core) < LEAST_UNEVEN:
        return 1.0
    least, most = np.percentile(gilt[core] @ SIGNAL, (5.0, 95.0))
    return float(most / max(least, 1e-3))


def _faint_share(gilt: F32, core: NDArray[np.bool_]) -> float:
    """Share of the gilt found, (h, w), whose light (h, w, 3) is hardly any of the paper's."""
    if not core.any():
        return 0.0
    return float(np.mean((gilt[core] @ SIGNAL) < FAINT_GILT))


def _hidden_by(flat: Flat, why: int, h: int, w: int) -> NDArray[np.bool_]:
    """Where a flat is hidden by ``UNSEEN_...``, on a reduced picture."""
    # made smaller first: the flat has twenty times as many pixels
    few = np.asarray(cv2.resize(flat.hidden, (w, h), interpolation=cv2.INTER_NEAREST), np.uint8)
    return np.asarray((few & np.uint8(why)) > 0, np.bool_)


def touched_place(
    shape: tuple[int, ...],
    flat: Flat,
    scale: float,
    place_mm: tuple[float, float],
    radius_mm: float,
) -> tuple[slice, slice]:
    """Rows and columns, of a reduced picture, that a touch covers; at its rim if outside."""
    h, w = shape[:2]
    x = (place_mm[0] - flat.origin_mm[0]) * scale - 0.5
    y = (place_mm[1] - flat.origin_mm[1]) * scale - 0.5
    r = max(1, round(radius_mm * scale))
    x0, x1 = int(np.clip(x - r, 0, w - 1)), int(np.clip(x + r, 0, w - 1)) + 1
    y0, y1 = int(np.clip(y - r, 0, h - 1)), int(np.clip(y + r, 0, h - 1)) + 1
    return slice(y0, y1), slice(x0, x1)


def find_standing_ground(share: F32, seen: NDArray[np.bool_], scale: float) -> F32:
    """The ground with everything bright and narrow taken off: a morphological opening.

    It follows the sharp edge of a mirrored window, which a smooth background would not.
    """
    size = 2 * round(WIDEST_STROKE_MM * scale / 2) + 1
    filled = share.copy()
    filled[~seen] = 4.0
    calm = cv2.GaussianBlur(filled, (0, 0), 0.8)
    calm[~seen] = 4.0
    disc = cv2.getStructuringElement(cv2.MORPH_RECT, (size, size))
    low = cv2.erode(calm, disc, borderType=cv2.BORDER_CONSTANT, borderValue=(4.0, 4.0, 4.0, 4.0))
    low[low > 3.0] = 0.0
    opened = cv2.dilate(low, disc)
    return np.asarray(np.minimum(opened, share), np.float32)


@dataclass(frozen=True)
class _Colours:
    """The fitted colours: gilt's rise over ground, its colour part, and the noise about them."""

    colour: F32
    """Rise of full gilt over the ground, linear RGB as a share of white."""
    weights: F32
    """``rise @ weights`` is the amount of gilt, whatever grey light is mixed in."""
    across: F32
    """``rise @ across`` is 0 on gilt and on grey, and grows with any third colour, such as rust."""
    across_sd: float
    """Spread of that among the gilt, as a share of its amount."""
    grey_sd: float
    """Colour left in grey things (lamps are not all white), as amount per unit of brightness."""


def _without_coloured_japan(share: F32, ground: F32, seen: NDArray[np.bool_], fit: _Colours) -> F32:
    """Light less that of bare japan, where that is red, green or blue by itself; as it is if not.

    Gilt is unmixed from grey: on coloured japan a hairline is half japan, and would be taken for a
    thing of a third colour.
    """
    if not seen.any():
        return share
    bare = np.median(ground[seen][::7], axis=0)
    if max(abs(float(bare @ fit.weights)), abs(float(bare @ fit.across))) < COLOURED_JAPAN:
        return share
    return np.asarray(share - bare, np.float32)


def _grey_free_amount(
    share: F32, bright: F32, fit: _Colours, seen: NDArray[np.bool_], scale: float
) -> F32:
    """Amount of gilt by colour alone: about 0 on ground however it mirrors, about 1 on full gilt.

    Grey light cancels in the weights, so no estimate of the ground is needed; only a slow tint of
    what is mirrored is taken off. Where that is bluish, what stands out must be brighter too
    (``bright``): a dark bar in a mirrored window would look golden beside it.
    """
    raw = np.asarray(share @ fit.weights, np.float32)
    calm = cv2.GaussianBlur(raw, (0, 0), 0.8)
    calm[~seen] = 4.0
    size = 2 * round(WIDEST_STROKE_MM * scale / 2) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_RECT, (size, size))
    low = cv2.erode(calm, disc, borderType=cv2.BORDER_CONSTANT, borderValue=(4.0, 4.0, 4.0, 4.0))
    low[low > 3.0] = 0.0
    opened = cv2.dilate(low, disc)
    tint = cv2.GaussianBlur(np.clip(opened, -1.0, COLOURED_JAPAN), (0, 0), 1.0 * scale)
    out = np.asarray(raw - np.maximum(tint, 0.0), np.float32)
    bluish = tint < BLUISH
    if bluish.any():
        by_light = bright / max(float(fit.colour @ SIGNAL), 1e-4)
        out[bluish] = np.maximum(raw, np.minimum(raw - tint, by_light))[bluish]
    return out


def light_there(flat: Flat, height: int, width: int) -> F32:
    """How bright gilt stands there beside where it faces the camera: it darkens to the limb."""
    facing = np.clip(flat.spread(flat.facing, height, width), 0.0, 1.0)
    best = float(np.percentile(facing, 90))
    return np.asarray(np.clip(facing / max(best, 1e-3), LEAST_LIGHT, 1.0), np.float32)


def _light_shown(gilt: F32, core: NDArray[np.bool_], colour: F32, scale: float) -> F32:
    """How bright gilt was found to stand nearby, beside its usual; 0 where none is near."""
    near = _grown(core, scale, SPEAKS_FOR_MM)
    strength = (gilt @ SIGNAL) / max(float(colour @ SIGNAL), 1e-4)
    return np.asarray(np.where(near, np.clip(strength, 0.0, 1.0), 0.0), np.float32)


def _spread_of_bare(amount: F32, seen: NDArray[np.bool_]) -> float:
    """Noise of the amount: the spread of its lower half, which is ground."""
    values = amount[seen][::7]
    if len(values) < 20:
        return 0.02
    middle = float(np.percentile(values, 40))
    return max(float(middle - np.percentile(values, 8)) / 1.15, 0.01)


def _local_noise(amount: F32, seen: NDArray[np.bool_], scale: float, usual: float) -> F32:
    """Noise of the amount around each place, from the lower half of windows that overlap.

    It is to be held below what it is over the whole picture, ``usual``, which holds slow changes
    too, and stands where too little is seen.
    """
    h, w = amount.shape
    step = max(4, round(NOISE_WINDOW_MM * scale / 2))
    rows, columns = max(1, h // step), max(1, w // step)
    grid = np.full((rows, columns), usual, np.float32)
    for r in range(rows):
        for c in range(columns):
            place = (
                slice(max(0, (r - 1) * step), (r + 2) * step),
                slice(max(0, (c - 1) * step), (c + 2) * step),
            )
            values = amount[place][seen[place]][::3]
            if len(values) >= 60:
                ordered = np.sort(values)
                grid[r, c] = (_at_share(ordered, 0.40) - _at_share(ordered, 0.08)) / 1.15
    return np.asarray(cv2.resize(grid, (w, h), interpolation=cv2.INTER_LINEAR), np.float32)


def _at_share(ordered: F32, share: float) -> float:
    """What `np.percentile` gives of ordered values (n,), which sorts out its options far longer.

    There are thousands of windows of some hundred values.
    """
    place = share * (len(ordered) - 1)
    below = int(place)
    low, high = ordered[below], ordered[min(below + 1, len(ordered) - 1)]
    part = place - below
    step = float(high - low)
    return float(high) - step * (1.0 - part) if part >= 0.5 else float(low) + step * part


def blind_places(
    flat: Flat,
    share: F32,
    ground: F32,
    colour: F32,
    noise_and_light: tuple[F32, F32],
    burnt: NDArray[np.bool_],
) -> NDArray[np.uint8]:
    """Where gilt could not be told from ground, and why: a sum of ``BLIND_...``.

    Parameters
    ----------
    flat
        The unrolled photograph.
    share, ground
        Light as a share of white and what of it is ground, (h, w, 3).
    colour
        Rise of full gilt over the ground, (3,).
    noise_and_light
        Of the amount of gilt, and of gilt there beside where it faces the camera, (h, w) each.
    burnt
        Where it is burnt out, (h, w).
    """
    h, w = burnt.shape
    noise, light = noise_and_light
    out = np.zeros((h, w), np.uint8)
    white = flat.spread(flat.white, h, w)
    # what the sensor has left above the ground, of the red that gilt would add: once that is at its
    # end, gilt has no colour of its own
    beneath = cv2.GaussianBlur(np.minimum(share, ground + 0.02) * white, (0, 0), 1.0)[..., 0]
    adds = np.maximum(float(colour[0]), LEAST_RED) * white[..., 0]
    at_end = ((share * white)[..., 0] > RED_END).astype(np.uint8)
    reach = 2 * max(1, round(1.5 * flat.px_per_mm * w / flat.shape[1])) + 1
    near_end = cv2.dilate(at_end, np.ones((reach, reach), np.uint8)) > 0
    glare = (1.0 - beneath < ROOM_LEFT * adds) | (near_end & (beneath > VEIL)) | burnt
    out[glare] |= BLIND_GLARE
    out[LEAST_OVER_NOISE * noise > light] |= BLIND_DIM
    # a step of eight bits near black: less than a few of them is no colour
    dim = (white @ SIGNAL) * float(colour @ SIGNAL) * light < LEAST_LIGHT_OF_GILT
    out[dim] |= BLIND_DIM
    facing = flat.spread(flat.facing, h, w)
    coarse = flat.spread(flat.resolution, h, w)
    out[(facing < LEAST_FACING_TOLD) | (coarse < LEAST_PX_PER_MM)] |= BLIND_SLANT
    out[_hidden_by(flat, UNSEEN_FRAME, h, w)] = BLIND_FRAME
    out[_hidden_by(flat, UNSEEN_STRIP, h, w)] = 0
    return out


def _strangeness(share: F32, amount: F32, fit: _Colours, seen: NDArray[np.bool_]) -> F32:
    """What a third colour counts against gilt: rust is as yellow, but redder than any gilt here."""
    off = np.asarray(share @ fit.across, np.float32)
    values = off[seen][::7]
    noise = 0.01
    if len(values) > 20:
        middle = float(np.median(values))
        off -= np.float32(np.clip(middle, -COLOURED_JAPAN, COLOURED_JAPAN))
        noise = max(1.4826 * float(np.median(np.abs(values - middle))), 0.0015)
    calm = cv2.GaussianBlur(off, (0, 0), 1.0)
    level = np.maximum(cv2.GaussianBlur(amount, (0, 0), 1.0), 0.0)
    spread = np.sqrt((2.0 * noise) ** 2 + (fit.across_sd * level) ** 2)
    return np.asarray(np.minimum(0.5 * (calm / spread) ** 2, 30.0), np.float32)


def _log_odds(amount: F32, bright: F32, fit: _Colours, noise: F32, light: F32) -> F32:
    """Log odds of gilt, of any strength, against grey light, scratches and noise."""
    share = np.maximum(bright, 0.0) / max(float(fit.colour @ SIGNAL), 1e-4)
    spread = np.sqrt((1.5 * noise) ** 2 + (fit.grey_sd * share) ** 2 + (0.02 * light) ** 2)
    grey = -0.5 * (amount / spread) ** 2 - np.log(spread) - 0.92
    odds = np.where(amount > 0, -0.2 - grey, -8.0)
    return np.asarray(np.clip(odds, -30.0, 30.0), np.float32)


def _fit_colours(
    share: F32,
    ground: F32,
    seen: NDArray[np.bool_],
    flat: Flat,
    scale: float,
    touches: Sequence[Touch],
) -> _Colours:
    rise = (share - ground)[seen][:: max(1, int(seen.sum()) // 400_000)]
    if rise.shape[0] < 50:
        raise GiltError("Almost nothing of the surface is seen outside the strip's paper.")
    bright = rise @ SIGNAL
    bare = bright <= np.percentile(bright, 60)
    base = 1.4826 * float(np.median(np.abs(bright[bare] - np.median(bright[bare])))) + 1e-4
    stands = bright > max(8.0 * base, 0.02)
    wanted = [_patch(share - ground, flat, scale, t) for t in touches if t.is_gilt]
    refused = [_patch(share - ground, flat, scale, t) for t in touches if not t.is_gilt]
    if not wanted and int(stands.sum()) < 12:
        raise GiltError(
            "Nothing stands out from the ground; if there is gilt, light it from the side or point "
            "at one place of it."
        )
    sample = rise[stands]
    if len(sample) > 40_000:
        sample = sample[:: len(sample) // 40_000 + 1]
    light = np.maximum(sample @ SIGNAL, 1e-5)
    tint = (sample @ _GREY_FREE.T) / light[:, None]
    member = _grey_and_gilt(tint, light, wanted)
    is_gilt = member[:, 1] > 0.7
    if int(is_gilt.sum()) < 8 and not wanted:
        raise GiltError(
            "What stands out from the ground is grey; nothing has the colour of gilt. Point at one "
            "place of the gilt, or check the white balance."
        )
    gold = sample[is_gilt] if not wanted else np.vstack([*wanted, sample[is_gilt]])
    grey = np.vstack([sample[member[:, 0] > 0.7], *refused])
    return _colours_of(gold, grey)


def _grey_and_gilt(tint: Floats, light: F32, wanted: Sequence[F32]) -> Floats:
    """How much each tint (n, 2) belongs to the grey ones and to gilt, shape (n, 2).

    Two populations: grey, and gilt, which is yellow to brown, red over blue. Their means are moved
    until they settle (expectation and maximisation, Dempster, Laird and Rubin 1977); where gilt was
    pointed at its tint is that of the places ``wanted``, (n, 3).
    """
    gilt_tint = np.array([0.85, 0.05])
    if wanted:
        patch = np.vstack(wanted)
        gilt_tint = (patch @ _GREY_FREE.T).sum(axis=0) / max(float((patch @ SIGNAL).sum()), 1e-5)
    means = np.array([[0.0, 0.0], gilt_tint])
    spreads = np.array([[0.12, 0.06], [0.3, 0.12]])
    parts = np.array([0.5, 0.5])
    weight = np.minimum(light / np.percentile(light, 90), 1.0)
    member = np.empty((2, len(tint)))
    across = np.ascontiguousarray(tint.T, np.float64)
    for _ in range(30):
        # each population by itself, in rows: numpy takes twice as long over a last side of two
        off = [across - mean[:, None] for mean in means]
        apart = [(o / s[:, None]) ** 2 for o, s in zip(off, spreads, strict=True)]
        distance = np.stack([a[0] + a[1] for a in apart])
        # tails heavier than normal: Student's t with four degrees of freedom
        tail = 1.0 + distance / 4.0
        density = (parts / spreads.prod(axis=1))[:, None] / (tail * tail * tail)
        member = density / np.maximum(density[0] + density[1], 1e-30)
        mass = member * weight
        pull = mass * (6.0 / (4.0 + distance))
        total = np.maximum(pull.sum(axis=1), 1e-9)
        found = (pull @ across.T) / total[:, None]
        # grey may drift a little with the lamp; gilt must stay on the yellow side of it
        means[0] = np.clip(found[0], -0.25, 0.25)
        if not wanted:
            means[1] = (np.clip(found[1][0], 0.3, 2.0), np.clip(found[1][1], -0.35, 0.35))
        deviation = np.stack(
            [((across - m[:, None]) ** 2) @ p for m, p in zip(means, pull, strict=True)]
        )
        held = mass.sum(axis=1)
        spreads = np.clip(
            np.sqrt(deviation / np.maximum(held, 1e-9)[:, None]), (0.03, 0.02), (0.4, 0.25)
        )
        parts = np.clip(held / max(float(held.sum()), 1e-9), 0.02, 0.98)
    return np.asarray(member.T, np.float64)


def _colours_of(gold: F32, grey: F32) -> _Colours:
    """The colour of gilt, and how far grey light and gilt itself stray from it."""
    strength = gold @ SIGNAL
    strong = gold[strength >= np.percentile(strength, 60)]
    colour = np.median(strong, axis=0).astype(np.float32)
    weights = gilt_and_grey(colour)[0].astype(np.float32)
    brightness = float(colour @ SIGNAL)
    grey_sd = 0.08
    if len(grey) > 20:
        ratio = (grey @ weights) / np.maximum(grey @ SIGNAL / brightness, 1e-3)
        grey_sd = float(np.clip(1.4826 * np.median(np.abs(ratio)), 0.05, 0.3))
    across = _third_colour(colour)
    ratio = (strong @ across) / np.maximum(strong @ weights, 0.05)
    across_sd = float(np.clip(2.0 * np.median(np.abs(ratio - np.median(ratio))), 0.03, 0.15))
    return _Colours(colour, weights, across, across_sd, grey_sd)


def _third_colour(colour: F32) -> F32:
    """Weights that give 0 on ``colour`` and on grey, scaled to the colour's own strength."""
    gold = colour.astype(np.float64)
    third = np.cross(gold, np.ones(3))
    third *= np.linalg.norm(gold) / max(float(np.linalg.norm(third)), 1e-9)
    return np.linalg.pinv(np.stack([gold, np.ones(3), third]))[:, 2].astype(np.float32)


def _patch(rise: F32, flat: Flat, scale: float, touch: Touch) -> F32:
    at = touched_place(rise.shape, flat, scale, (touch.x_mm, touch.y_mm), touch.radius_mm)
    return rise[at].reshape(-1, 3)


def _touched(
    odds: F32, rise: F32, fit: _Colours, flat: Flat, scale: float, touches: Sequence[Touch]
) -> F32:
    """Odds moved by the user's touches, near them and where the picture looks the same."""
    if not touches:
        return odds
    h, w = odds.shape
    out = odds.copy()
    unit = max(float(fit.colour @ SIGNAL), 1e-3)
    v, u = np.mgrid[0:h, 0:w].astype(np.float32)
    for touch in touches:
        like = np.median(_patch(rise, flat, scale, touch), axis=0)
        x = (touch.x_mm - flat.origin_mm[0]) * scale - 0.5
        y = (touch.y_mm - flat.origin_mm[1]) * scale - 0.5
        near = np.exp(-((u - x) ** 2 + (v - y) ** 2) / (2 * (6.0 * scale) ** 2))
        at = np.exp(-((u - x) ** 2 + (v - y) ** 2) / (2 * (touch.radius_mm * scale) ** 2))
        same = np.exp(-(((rise - like) / (0.25 * unit)) ** 2).sum(axis=2) / 2)
        out += (12.0 if touch.is_gilt else -12.0) * np.maximum(near * same, at)
    return np.asarray(np.clip(out, -30.0, 30.0), np.float32)


def _regions(
    amount: F32, odds: F32, noise: F32, light: F32, seen: NDArray[np.bool_], scale: float
) -> NDArray[np.bool_]:
    """Where gilt is: sure places, and doubtful ones that hang together with them.

    Neighbours speak for each other: odds are averaged over about 0.3 mm before judging.
    """
    calm = cv2.GaussianBlur(odds, (0, 0), 0.15 * scale)
    level = cv2.GaussianBlur(amount, (0, 0), 0.08 * scale)
    weak = seen & (calm > 0.0) & (level > np.maximum(3.0 * noise, 0.08 * light))
    strong = seen & (calm > 2.0) & (level > np.maximum(6.0 * noise, 0.22 * light))
    count, parts, stats, _ = cv2.connectedComponentsWithStats(weak.astype(np.uint8), connectivity=8)
    hits = np.bincount(parts[strong].ravel(), minlength=count)
    keep = (hits >= 2) & (stats[:, cv2.CC_STAT_AREA] >= max(3.0, (0.3 * scale) ** 2))
    keep[0] = False
    return np.asarray(keep[parts], dtype=np.bool_)


def _surely_gilt(amount: F32, odds: F32, noise: F32, scale: float) -> NDArray[np.bool_]:
    """What has the colour of gilt and stands out of the noise, however faint it is."""
    calm = cv2.GaussianBlur(odds, (0, 0), 0.15 * scale)
    level = cv2.GaussianBlur(amount, (0, 0), 0.08 * scale)
    return np.asarray((calm > 2.0) & (level > LEAST_OVER_NOISE * noise), np.bool_)


def _grown(mask: NDArray[np.bool_], scale: float, by_mm: float) -> NDArray[np.bool_]:
    r = max(1, round(by_mm * scale))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * r + 1, 2 * r + 1))
    return np.asarray(cv2.dilate(mask.astype(np.uint8), disc) > 0, dtype=np.bool_)


def _core(region: NDArray[np.bool_], amount: F32, scale: float) -> NDArray[np.bool_]:
    """Places wholly inside the gilt, away from mixed edge pixels."""
    inside = cv2.erode(region.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    level = amount[inside]
    if level.size < 10:
        return region & (
            amount > 0.5 * float(np.percentile(amount[region], 90) if region.any() else 1)
        )
    deep = cv2.distanceTransform(region.astype(np.uint8), cv2.DIST_L2, 3) > max(1.9, 0.3 * scale)
    if int(deep.sum()) > 30:
        return np.asarray(deep, dtype=np.bool_)
    return np.asarray(inside & (amount > 0.6 * float(np.percentile(level, 80))), dtype=np.bool_)


def mean_near(
    values: F32,
    where: NDArray[np.bool_],
    backdrop: F32,
    scale: float,
    sigmas_mm: tuple[float, ...],
) -> F32:
    """Mean of ``values`` over ``where`` nearby; from farther off where nothing is near."""
    if not where.any():
        return backdrop.copy()
    mask = where.astype(np.float32)
    held = values * mask[..., None]
    out = np.median(values[where][:: max(1, int(where.sum()) // 20_000)], axis=0)
    out = np.asarray(out, np.float32).reshape(1, 1, 3)
    # the wider the neighbourhood, the coarser the picture it is worked out on
    for sigma_mm in sorted(sigmas_mm, reverse=True):
        sigma = sigma_mm * scale
        shrink = max(1, int(sigma // 2.5))
        size = (max(2, mask.shape[1] // shrink), max(2, mask.shape[0] // shrink))
        m: NDArray[Any] = mask
        v: NDArray[Any] = held
        if shrink > 1:
            m = cv2.resize(mask, size, interpolation=cv2.INTER_AREA)
            v = cv2.resize(held, size, interpolation=cv2.INTER_AREA)
        m = cv2.GaussianBlur(m, (0, 0), sigma / shrink)
        v = cv2.GaussianBlur(v, (0, 0), sigma / shrink)
        far = cv2.resize(out, size, interpolation=cv2.INTER_LINEAR)
        # (v / m) m / (m + 0.03) + far 0.03 / (m + 0.03)
        out = np.asarray((v + 0.03 * far) / (m + np.float32(0.03))[..., None], np.float32)
    return np.asarray(
        cv2.resize(out, (mask.shape[1], mask.shape[0]), interpolation=cv2.INTER_LINEAR), np.float32
    )


def _edge_weights(ground: F32, gilt: F32, usual: F32) -> tuple[F32, F32]:
    """Weights of red, green and blue, and an offset, that give the coverage of a pixel.

    ``usual`` is the gilt to be expected there, which stands in where none was found nearby.

    They are the best linear estimate between local ground (0) and local gilt (1) for a camera whose
    colour differences are three times as noisy as its brightness (JPEG halves their resolution).
    Mostly that is brightness; where the ground mirrors as brightly as the gilt, colour takes over.
    """
    floor = 0.06 * np.sqrt(summed(usual * usual))
    gilt = np.where((np.sqrt(summed(gilt * gilt)) > floor)[..., None], gilt, usual)
    grey = (summed(gilt) / np.float32(3.0))[..., None]
    matched = grey + (gilt - grey) / 9.0
    weights = matched / np.maximum(summed(gilt * matched), 1e-8)[..., None]
    offset = summed(weights * ground)
    return np.asarray(weights, np.float32), np.asarray(offset, np.float32)


def _coverage(
    flat: Flat, weights: F32, offset: F32, region: NDArray[np.bool_]
) -> NDArray[np.uint8]:
    """Full-resolution coverage where there is gilt, tile by tile; the rest is not looked at."""
    height, width = flat.shape
    h, w = offset.shape
    out = np.zeros((height, width), np.uint8)
    # light as a share of white, and its weights, in one: both vary slowly
    white = np.maximum(flat.spread(flat.white, h, w), 1e-3)
    rule = np.asarray(weights / (65535.0 * white), np.float32)
    rest = np.dstack([offset, region.astype(np.float32)])
    pad = 8

    def cover(tile: tuple[int, int]) -> None:
        top, left = tile
        bottom, right = min(height, top + TILE), min(width, left + TILE)
        r0, r1 = max(0, top - pad), min(height, bottom + pad)
        c0, c1 = max(0, left - pad), min(width, right + pad)
        v = ((np.arange(r0, r1) + 0.5) * h / height - 0.5).astype(np.float32)
        u = ((np.arange(c0, c1) + 0.5) * w / width - 0.5).astype(np.float32)
        near = (max(0, int(v[0]) - 1), max(0, int(u[0]) - 1))
        if not region[near[0] : int(v[-1]) + 3, near[1] : int(u[-1]) + 3].any():
            return
        mu = np.ascontiguousarray(np.broadcast_to(u, (r1 - r0, c1 - c0)))
        mv = np.ascontiguousarray(np.broadcast_to(v[:, None], mu.shape))
        drawn, both = (
            cv2.remap(a, mu, mv, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
            for a in (rule, rest)
        )
        less, mask = cv2.split(both)
        light = cv2.multiply(flat.light[r0:r1, c0:c1], drawn, dtype=cv2.CV_32F)
        share = cv2.transform(light, np.ones((1, 3), np.float32)) - less
        share *= np.clip(mask * 2.0, 0.0, 1.0)
        share = cv2.GaussianBlur(np.clip(share, -0.3, 1.3), (0, 0), 0.6)
        share[(flat.hidden[r0:r1, c0:c1] & (UNSEEN_FRAME | UNSEEN_STRIP)) > 0] = 0.0
        body = share[top - r0 : bottom - r0, left - c0 : right - c0]
        out[top:bottom, left:right] = np.clip(body * 255.0 + 0.5, 0, 255).astype(np.uint8)

    tiles = [(top, left) for top in range(0, height, TILE) for left in range(0, width, TILE)]
    # OpenCV and numpy let go of the interpreter over a tile, and no tile writes in another's place
    with ThreadPoolExecutor(max(1, cv2.getNumThreads())) as hands:
        for _ in hands.map(cover, tiles):
            pass
    return out


def white_part(flat: Flat, rows: tuple[int, int], columns: tuple[int, int]) -> F32:
    """The paper's white over a part of the flat, drawn out from its coarse grid."""
    u = (np.arange(*columns) / COARSE_STEP + 1.0).astype(np.float32)
    v = (np.arange(*rows) / COARSE_STEP + 1.0).astype(np.float32)
    mu = np.ascontiguousarray(np.broadcast_to(u, (len(v), len(u))))
    mv = np.ascontiguousarray(np.broadcast_to(v[:, None], mu.shape))
    return np.asarray(cv2.remap(flat.white, mu, mv, cv2.INTER_LINEAR), np.float32)
