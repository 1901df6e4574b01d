"""From photographs, torches and moves to the plate's normals, albedo and height."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.intervals import NINETY
from ironlace.evidence.progress import Progress, unheard
from ironlace.evidence.two_hands import two_hands
from ironlace.marks.capture.capturing import CaptureAsked, Captured, captured
from ironlace.marks.capture.frames import Encoding, Frames, light_of_numbers, looked_up
from ironlace.marks.capture.lights import Light, slopes_doubt
from ironlace.marks.capture.one_plate import names_in_words
from ironlace.marks.capture.outlines import Circle
from ironlace.marks.capture.registering import straightened
from ironlace.marks.errors import MarksError
from ironlace.marks.relief.ball_shadows import RIM_PX, in_the_way, shade
from ironlace.marks.relief.beams import (
    BENT_DEG,
    CoarseGrid,
    bend_deg,
    bend_in,
    directions_on,
    fitted_fields,
    rows_of,
    widened,
    widened_columns,
)
from ironlace.marks.relief.brightness import Brightness
from ironlace.marks.relief.integrating import height_of_slopes
from ironlace.marks.relief.local_shine import local_shine, times_upright
from ironlace.marks.relief.other_light import (
    FEWEST,
    MOSTLY,
    THROWN_BACK,
    OtherLight,
    no_other_light,
    other_light,
    shadow_places,
)
from ironlace.marks.relief.patchy_light import BANDED, banded, shaded
from ironlace.marks.relief.reflectance import FittedLobe, Lobe, Samples, fitted_lobe
from ironlace.marks.relief.stereo import BentLight, Scratch, robust_with_lobe
from ironlace.marks.relief.tone_curve import Cells, ToneCurve, curve_of, shade_near
from ironlace.marks.relief.uncalibrated import AMBIGUOUS, guessed_lights

TILES = 50
"""Tiles along the longer side: one set of directions serves each, and a torch 150 mm away that
shines across 40 mm is seen 0.3 degrees elsewhere from one to the next."""
TILE_PX = (32, 128)
"""Least and most pixels of a tile's side: a small one is all overhead, a large one memory."""
TOGETHER = 8
"""Tiles whose light is made at once: fewer cost more calls, more leave a processor's cache."""
CELL_SEEN = 16
"""Rows of a cell of the coarse grid that are looked at for a ball's shadow."""
BALL_MARGIN_PX = 2.0
"""Pixels round a ball that do not count as plate: its outline is blurred into them."""


ENCODINGS: tuple[Encoding, ...] = ("srgb", "linear")
"""In the order in which they are taken where nothing tells: photographs are mostly sRGB."""
FALL_OFF = 1.15
"""Power of the sine of the torch's elevation by which rubbed and rusted iron mostly falls off."""
GENTLE_DEG = 8.0
"""Degrees from end to end up to which a flat plate has looked bent for a curve (5 in a trial)."""
ROUGH = 2.0
"""Highest over lowest gain, from which depths are conjectured: a judgement."""
TORCHES = 0.1
"""Spread of the logarithm of all slopes for the torches, from which depths are conjectured: as much
as all that is not known of the metal's shine with 24 photographs (judged)."""
GUESSED = 0.55
"""Spread of the logarithm of all slopes where torches are guessed: they are taken for so high, and
15 to 60 degrees make slopes 0.4 to 2.5 of those told, as the tangent goes."""
NOT_WHITE = 0.85
"""Light of a cell, above which parts of it may be white."""
OVER_OTHER = 1.1
"""Times the other light that a place in the torch's shadow may show: a stain may be brighter."""
FEWEST_LEFT = 4
"""Photographs that must be left when those are taken out that shadows contradict."""
SHALLOWER = 0.3
"""Spread of the logarithm of slopes where fine detail was smoothed: of one plate they were 0.61 of
the true ones for 0.88 without (`bench/marks_strangers.py`)."""
UNTOLD = (
    "How the photographs' numbers stand for light could not be told, and sRGB was taken: say "
    "--encoding linear if the camera or the program wrote the light itself."
)
"""Said where the photographs do not tell."""


@dataclass(frozen=True)
class SlopeGain:
    """By what factor plain diffuse reading would make slopes too steep, with its 90 % interval."""

    value: float
    low: float
    high: float

    @property
    def depth_times(self) -> tuple[float, float]:
        """What true depths are of those told, by 90 %: least and most."""
        return self.value / self.high, self.value / self.low

    @property
    def wide(self) -> bool:
        """Whether depths are known too roughly to go by."""
        return self.high / self.low > ROUGH

    def told(self) -> str:
        """The sentence of a gain that is wide, else none."""
        if not self.wide:
            return ""
        low, high = self.depth_times
        return (
            f"Depths are known roughly alone: the true ones are {low:.1f} to {high:.1f} times "
            "those told (90 %); forms are not in doubt for that. 24 photographs, the torch 15 to "
            "55 degrees high, tell better than few how the metal shines."
        )


@dataclass(frozen=True)
class Relief:
    """A plate's surface on the grid of the first photograph.

    Attributes
    ----------
    normals
        Rows x columns x 3, unit, X right, Y up, Z to the camera; zero where unknown.
    height
        Rows x columns, mm, or pixels where there is no scale; mean zero.
    albedo
        Rows x columns, 0 to 255.
    gains
        Of each photograph: how bright it is against the rest.
    slope_gain
        See there.
    coverage
        Share of the plate outside the balls that is known.
    encoding
        How the photographs' numbers were taken.
    notices
        What a person should know, worst first.
    lobe
        How the plate shines, as fitted.
    other
        What shone beside the torch.
    curve
        What the photographs' tone curve is, against their encoding.
    torches_doubt
        Spread of the logarithm of all slopes for what the balls leave open of the torches.
    banded
        Spread of the logarithm of light that neither paint nor slopes explain.
    """

    normals: NDArray[np.float32]
    height: NDArray[np.floating]
    albedo: NDArray[np.uint8]
    gains: tuple[float, ...]
    slope_gain: SlopeGain
    coverage: float
    encoding: Encoding
    notices: tuple[str, ...]
    lobe: Lobe
    other: OtherLight
    curve: ToneCurve
    torches_doubt: float = 0.0
    banded: float = 0.0

    @property
    def doubted(self) -> bool:
        """Whether slopes and depths are to be doubted, for what the photographs show."""
        light = self.other.doubtful or self.curve.by_neighbourhood or self.banded > BANDED
        return light or self.slope_gain.wide or self.torches_doubt > TORCHES


@dataclass(frozen=True)
class _Lit:
    """What is known of the torches before a place is looked at."""

    frames: Frames
    captured: Captured
    used: list[int]
    table: NDArray[np.float32]
    grid: CoarseGrid
    cells: NDArray[np.float64]  # light, photographs x grid
    directions: list[NDArray[np.float64]]  # per photograph, over the grid
    upright: list[NDArray[np.float64]]  # per photograph, over the grid
    outside: NDArray[np.bool_]  # per pixel: balls
    usual: NDArray[np.float64]  # albedo thereabouts, over the grid; `upright` holds it too
    other: OtherLight
    lobe: Lobe = field(default=Lobe(0.0, 10.0))
    shine: NDArray[np.float64] = field(default_factory=lambda: np.zeros((1, 1)))
    """Logarithm of the lobe's strength over the grid, against the plate's; `upright` holds it."""

    @cached_property
    def wide(self) -> list[NDArray[np.float32]]:
        """`upright`, as wide as the plate."""
        return [widened_columns(one, self.frames.shape[1]) for one in self.upright]

    @cached_property
    def torches(self) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
        """Each torch's place in mm, or its direction; whether it is the former."""
        rows, near = [], []
        for n in self.used:
            light = self.captured.lights[n]
            assert light is not None
            place = light.place
            near.append(place is not None)
            rows.append(np.asarray(light.direction) if place is None else place)
        return np.array(rows, float), np.array(near)

    @property
    def light(self) -> NDArray[np.float64]:
        """Light over what an upright place would send back, photographs x grid."""
        return np.asarray(self.cells / np.stack(self.upright))

    @property
    def towards(self) -> NDArray[np.float64]:
        """Unit directions to the torches from the plate's middle, photographs x 3."""
        lights = [light for n in self.used if (light := self.captured.lights[n])]
        return np.array([light.direction for light in lights], float)

    @cached_property
    def no_plate(self) -> NDArray[np.bool_]:
        """Cells of the grid that a ball touches."""
        size = self.grid.x.shape[::-1]
        inside = self.outside.astype(np.float32)
        return np.asarray(cv2.resize(inside, size, interpolation=cv2.INTER_AREA) > 0)

    def beside(self, k: int) -> NDArray[np.float64]:
        """Share of other light in the light of an upright place, over the grid."""
        even = self.other.shares[k] * float(np.mean(self.upright[k] / self.usual))
        return np.asarray(np.clip(even * self.usual / self.upright[k], 0.0, 0.9))

    def bands(self) -> Iterator[tuple[int, int]]:
        rows = self.frames.shape[0]
        for top in range(0, rows, self.side):
            yield top, min(top + self.side, rows)

    @property
    def side(self) -> int:
        """Pixels of a tile's side."""
        return min(max(round(max(self.frames.shape) / TILES), TILE_PX[0]), TILE_PX[1])


def plate_of(
    frames: Frames,
    asked: CaptureAsked,
    *,
    encoding: Encoding | None = None,
    uncalibrated: bool = False,
    heard: Progress = unheard,
    workers: int = 2,
) -> tuple[Captured, Relief]:
    """Work out a plate's surface from photographs and what is said of them.

    Parameters
    ----------
    uncalibrated
        Guess the torch's places from the plate itself, see `guessed_lights`.
    encoding
        How numbers stand for light; decided from the photographs where it is not said.

    Raises
    ------
    MarksError
        When the photographs cannot carry a relief; it says why and what to do.
    """
    heard("balls and torches", 0.0)
    if uncalibrated:
        frames.must_be_enough()
        asked = replace(asked, lights=_guessed(frames, encoding or "srgb"))
    found = captured(frames, asked, encoding or "srgb")
    said = ""
    if uncalibrated:
        found = replace(found, notices=(AMBIGUOUS, *found.notices))
    elif encoding is None:
        encoding, said = encoding_of(frames, found)
        if encoding != "srgb":  # outlines and highlights lie where half the light is
            found = captured(frames, asked, encoding)
    table = light_of_numbers(frames.white, encoding or "srgb")
    slopes = _slopes_of(frames, found, table, heard, workers, look=not uncalibrated)
    found = slopes.captured
    del frames  # the largest thing in memory, if the caller let go of it
    heard("height", 0.82)
    scale = 250.0 / max(float(np.percentile(slopes.albedo[::4, ::4], 99.5)), 1e-9)
    albedo = np.clip(slopes.albedo * scale, 0, 255).astype(np.uint8)
    height = _height(slopes.normals, found.plate.mm_per_px, workers)
    heard("done", 1.0)
    gain = _gain(slopes, guessed=uncalibrated)
    return found, Relief(
        slopes.normals,
        height,
        albedo,
        slopes.gains,
        gain,
        slopes.coverage,
        encoding or "srgb",
        _said(found, slopes, gain, said),
        slopes.lobe.lobe,
        slopes.other,
        slopes.curve,
        _torches_doubt(found),
        slopes.banded,
    )


def _gain(slopes: _Slopes, *, guessed: bool) -> SlopeGain:
    """The lobe's gain, its interval as much wider as light and curve may have been taken wrong."""
    lobe, other = slopes.lobe, slopes.other
    light = other.usual / 2 + 2 * max(other.along - THROWN_BACK, 0.0)
    more = np.hypot(np.log1p(light) / NINETY, slopes.curve.slopes_doubt)
    more = np.hypot(more, _torches_doubt(slopes.captured))
    more = np.hypot(more, SHALLOWER * slopes.captured.smoothed)
    return SlopeGain(lobe.gain, *lobe.interval(float(np.hypot(more, GUESSED * guessed))))


def _torches_doubt(captured: Captured) -> float:
    """Spread of the logarithm of all slopes for what is not known of the torches' directions."""
    lights = [light for n in captured.used if (light := captured.lights[n])]
    return slopes_doubt(lights, captured.torches_deg)


def _said(found: Captured, slopes: _Slopes, gain: SlopeGain, encoding: str) -> tuple[str, ...]:
    """What a person should know of a relief, worst first."""
    said = list(found.notices)
    bend = slopes.bend_deg / slopes.lobe.gain  # fitted as if the metal were matt
    like = " A tone curve steeper or flatter than was taken looks so, too." * (bend < GENTLE_DEG)
    if bend > BENT_DEG:
        said.insert(
            0,
            f"The plate is bent, by some {bend:.0f} degrees from end to end: its broad form is "
            f"known roughly, and its depths are those below it.{like}",
        )
    # of guessed torches it is said already that depths are not known
    guessed = AMBIGUOUS in found.notices
    curve, deep = ("", "") if guessed else (slopes.curve.told(), gain.told())
    doubt = _torches_doubt(found)
    balls = "balls that mirror the plate" if found.of_rims else "balls so few or so small"
    torches = (
        f"By {balls} the torches are known to some {found.torches_deg:.1f} "
        f"degrees: all slopes and depths together may be {100 * np.expm1(doubt):.0f} % off for it, "
        "which their interval allows for."
    ) * (doubt > TORCHES)
    for one in (deep, torches, curve, slopes.other.told(), _said_of_bands(slopes.banded)):
        if one:
            said.insert(0, one)
    if found.of_rims in said:  # depths and curves are doubted for it
        said.remove(found.of_rims)
        said.insert(0, found.of_rims)
    return (*said, encoding) if encoding else tuple(said)


def _said_of_bands(spread: float) -> str:
    """The sentence of light in bands or patches, else none."""
    if spread <= BANDED:
        return ""
    return (
        f"The light lies in bands or patches, some {100 * np.expm1(spread):.0f} % brighter and "
        "darker, that neither paint nor slopes explain: the plate's broad slopes are degrees "
        "wrong, and all are to be doubted. A lamp that flickers with the mains does so, and a "
        "shadow that moves: take a torch with a battery, and stand clear of its light."
    )


def _guessed(frames: Frames, encoding: Encoding) -> list[Light]:
    """Torch directions from small pictures of the frames."""
    table = light_of_numbers(frames.white, encoding)
    rows, columns = frames.shape
    shrink = max(max(rows, columns) / 300, 1.0)
    size = (round(columns / shrink), round(rows / shrink))
    small = [_cells(frames, n, table, size) for n in range(len(frames.pictures))]
    return guessed_lights(np.stack(small).astype(np.float32))


@dataclass(frozen=True)
class _Slopes:
    """What the photographs are needed for; they can be let go after it.

    `captured` is without the photographs that a ball's shadow has contradicted.
    """

    captured: Captured
    normals: NDArray[np.float32]
    albedo: NDArray[np.float32]
    gains: tuple[float, ...]
    lobe: FittedLobe
    coverage: float
    bend_deg: float
    other: OtherLight
    curve: ToneCurve
    banded: float


def _slopes_of(
    frames: Frames,
    captured: Captured,
    table: NDArray[np.float32],
    heard: Progress,
    workers: int,
    *,
    look: bool,
) -> _Slopes:
    """Slopes of the whole plate; `look` for a tone curve where the torches are known."""
    heard("torches and beams", 0.0)
    lit, gains, bend = _lit(frames, captured, table)
    for those_of in (_evenly_lit, _proved) if look else (_proved,):
        left = those_of(captured, lit, frames.names)
        if left is not captured:
            captured = left
            lit, gains, bend = _lit(frames, captured, table)
    curve = _curve(lit) if look else ToneCurve()
    if curve.is_other:
        lit, gains, bend = _lit(frames, captured, curve.undone(table))
    lobe = fitted_lobe(_samples(lit), _brightness(lit, gains) if look else None)
    shape = frames.shape
    uneven = banded(lit.light, lit.no_plate, lit.towards) if look else 0.0
    lit = replace(lit, lobe=lobe.lobe)
    if look:  # of guessed torches the lobe itself is a guess
        lit = _with_local_shine(lit)
    _ = lit.wide  # before the threads, which would each make it
    normals = np.zeros((*shape, 3), np.float32)
    albedo = np.zeros(shape, np.float32)
    bands = list(lit.bands())

    def work(band: tuple[int, int]) -> None:
        top, bottom = band
        _solve_band(lit, top, bottom, normals[top:bottom], albedo[top:bottom])

    with two_hands(workers) as pool:
        asked = [pool.submit(work, band) for band in bands]
        try:
            for done, one in enumerate(asked, 1):
                one.result()
                heard("slopes", 0.05 + 0.75 * done / len(bands))
        except BaseException:  # whoever hears may stop the work: what waits is not begun
            pool.shutdown(cancel_futures=True)
            raise
    plate = lit.outside.size - int(np.count_nonzero(lit.outside))
    coverage = int(np.count_nonzero(normals[..., 2] > 0)) / max(plate, 1)
    return _Slopes(
        captured, normals, albedo, tuple(gains), lobe, coverage, bend, lit.other, curve, uneven
    )


def _proved(captured: Captured, lit: _Lit, names: Sequence[str]) -> Captured:
    """Leave out photographs whose balls' shadows lie elsewhere than their torch would throw them.

    Raises MarksError where most do.
    """
    wrong = [n for n, off in zip(lit.used, lit.other.misplaced, strict=True) if off]
    known = int(np.isfinite(lit.other.measured).sum())
    if not wrong:
        return captured
    if len(wrong) > MOSTLY * known or len(lit.used) - len(wrong) < FEWEST_LEFT:
        raise MarksError(
            f"The balls' shadows do not lie where the torch would throw them in {len(wrong)} of "
            f"{known} photographs: balls or torches were found, or typed, wrong. Point at the "
            "balls' rims (by command --balls), see to it that only one torch shines, take 12 "
            "photographs or more where the balls mirror the lit plate, stand the camera 60 cm off "
            "or farther, and check what was typed."
        )
    why = list(captured.why)
    for n in wrong:
        why[n] = (
            "its balls' shadows do not lie where its torch would throw them, or another light "
            "shines into them"
        )
    left = names_in_words([names[n] for n in wrong])
    told = f"{left}: left out, for the light came from elsewhere than was told."
    return replace(captured, why=tuple(why), notices=(told, *captured.notices))


def _evenly_lit(captured: Captured, lit: _Lit, names: Sequence[str]) -> Captured:
    """Leave out photographs in which a shadow lies over part of the plate, if the rest are even."""
    wrong = [n for n, off in zip(lit.used, shaded(lit.light, lit.no_plate), strict=True) if off]
    if not wrong or len(lit.used) - len(wrong) < max(FEWEST_LEFT, len(lit.used) / 2):
        return captured
    why = list(captured.why)
    for n in wrong:
        why[n] = "a shadow, as of a hand, or light not the torch's lies over part of the plate"
    told = (
        f"{names_in_words([names[n] for n in wrong])}: left out, for a shadow, as of a hand, or "
        "light that is not the torch's lies over part of the plate."
    )
    return replace(captured, why=tuple(why), notices=(told, *captured.notices))


def encoding_of(frames: Frames, captured: Captured) -> tuple[Encoding, str]:
    """How the photographs' numbers stand for light, by how they fall off with the torch's height.

    A plate lit from lower down is darker by the sine of the torch's elevation, somewhat more where
    its metal shines. Numbers that are the light itself follow that; numbers of the sRGB curve taken
    for light fall off half as much, and light taken for sRGB twice as much. The torch's distance
    may count or not: a person may have set the exposure by it.

    Returns
    -------
    tuple
        The encoding; a sentence if it could not be told and sRGB was taken.
    """
    lights = [light for n in captured.used if (light := captured.lights[n])]
    height = np.log([light.direction[2] for light in lights])
    columns = [np.ones(len(height)), height]
    if all(np.isfinite(light.distance) for light in lights):
        columns.append(np.log([light.distance for light in lights]))
    design = np.stack(columns, 1)
    found: dict[Encoding, tuple[float, float]] = {}
    for encoding in ENCODINGS:
        table = light_of_numbers(frames.white, encoding)
        size = CoarseGrid.over(captured.plate).x.shape[::-1]
        bright = np.log([np.median(_cells(frames, n, table, size)) + 1e-6 for n in captured.used])
        if len(design) <= design.shape[1] + 1:
            return "srgb", UNTOLD
        solved = np.linalg.lstsq(design, bright, rcond=None)[0]
        rest = bright - design @ solved
        variance = (rest**2).sum() / (len(design) - design.shape[1])
        doubt = np.sqrt(variance * np.linalg.pinv(design.T @ design)[1, 1])
        found[encoding] = (float(solved[1]), float(doubt))
    off = {
        encoding: abs(np.log(max(slope, 0.05) / FALL_OFF)) for encoding, (slope, _) in found.items()
    }
    best = min(ENCODINGS, key=lambda one: off[one])
    slope, doubt = found[best]
    if doubt > 0.25 * max(slope, 0.05) or off[best] > np.log(2.0):
        return "srgb", UNTOLD
    return best, ""


def _ball_mask(captured: Captured) -> NDArray[np.bool_]:
    mask = np.zeros(captured.plate.shape, np.uint8)
    for ball in captured.balls:
        centre = (round(ball.x * 16), round(ball.y * 16))
        cv2.circle(mask, centre, round((ball.r + BALL_MARGIN_PX) * 16), 1, -1, shift=4)
    return mask.astype(bool)


def _curve(lit: _Lit) -> ToneCurve:
    """The photographs' tone curve, from the light of the coarse grid."""
    plate, balls = lit.captured.plate, lit.captured.balls
    across = lit.grid.x.shape[1] / plate.shape[1]
    ball = max((one.r for one in balls), default=0.0) * across
    dark = _shaded_cells(lit)
    near = np.array([shade_near(one, ball).ravel() for one in dark])
    light_of = lit.cells.reshape(len(lit.used), -1)
    use = _lit_cells(lit, dark).reshape(light_of.shape)
    lights = [light for n in lit.used if (light := lit.captured.lights[n])]
    return curve_of(Cells(light_of, use, near, lit.grid, lights, lit.other.shares), FALL_OFF)


def _shaded_cells(lit: _Lit) -> NDArray[np.bool_]:
    """Cells that the balls' shadows touch, photographs x grid."""
    dark = np.zeros((len(lit.used), *lit.grid.x.shape), bool)
    for k, n in enumerate(lit.used):
        light = lit.captured.lights[n]
        assert light is not None
        for ball in lit.captured.balls:
            dark[k] |= _cells_in_shade(lit, light, ball)
    return dark


def _lit_cells(lit: _Lit, dark: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Cells of the plate itself that are lit and not white, photographs x grid."""
    return np.asarray(~dark & ~lit.no_plate & (lit.cells < NOT_WHITE))


def _with_local_shine(lit: _Lit) -> _Lit:
    """The lobe's strength fitted cell by cell, and what an upright place sends back by it."""
    towards, shares = np.stack(lit.directions), lit.other.shares
    use = _lit_cells(lit, _shaded_cells(lit))
    shine = local_shine(lit.light, use, towards, lit.lobe, shares)
    times = times_upright(towards, lit.lobe, shine, shares)
    return replace(lit, upright=list(np.stack(lit.upright) * times), shine=shine)


def _cells_in_shade(lit: _Lit, light: Light, ball: Circle) -> NDArray[np.bool_]:
    """Cells that a ball's shadow touches."""
    plate = lit.captured.plate
    dark = np.zeros(lit.grid.x.shape, bool)
    rows, columns = lit.grid.x.shape
    step = max(plate.shape[1] // columns // CELL_SEEN, 1)
    window = in_the_way(light, ball, plate, RIM_PX, step=step)
    if window is not None:
        top, left, inside = window
        y, x = np.nonzero(inside)
        y, x = top + step * y, left + step * x
        dark[y * rows // plate.shape[0], x * columns // plate.shape[1]] = True
    return dark


def _lit(
    frames: Frames, captured: Captured, table: NDArray[np.float32]
) -> tuple[_Lit, list[float], float]:
    """Fit beams and exposures on a coarse grid; the last is the plate's bend in degrees."""
    used = captured.used
    grid = CoarseGrid.over(captured.plate)
    mask = _ball_mask(captured)
    size = grid.x.shape[::-1]
    outside = cv2.resize(mask.astype(np.float32), size, interpolation=cv2.INTER_AREA) > 0
    directions, upright, cells = [], [], []
    for n in used:
        light = captured.lights[n]
        assert light is not None
        towards, fall = directions_on(grid, light)
        directions.append(towards)
        upright.append(fall * towards[..., 2])
        cells.append(_cells(frames, n, table, size))
    stack, told = np.stack(cells), np.stack(upright)
    lit = _Lit(
        frames, captured, used, table, grid, stack, directions, list(told), mask, told[0],
        no_other_light(len(used)),
    )  # fmt: skip
    lit, own, bend = _with_beams(lit, stack, told, outside)
    shares, beyond = _shadow_shares(lit)
    other = other_light(shares, beyond, np.array([one.mean() for one in lit.upright]))
    if other.known:  # what is even falls off with no distance, and would look like a bend
        middle = told.mean(axis=(1, 2), keepdims=True)
        share = other.shares[:, None, None]
        mixed = (1 - share) * told + share * middle
        lit, own, bend = _with_beams(replace(lit, other=other), stack, mixed, outside)
    gains = [float("nan")] * len(frames.pictures)
    for n, row in zip(used, own, strict=True):
        gains[n] = float(np.exp(row[0]))
    return lit, gains, bend


def _with_beams(
    lit: _Lit, cells: NDArray[np.float64], told: NDArray[np.float64], outside: NDArray[np.bool_]
) -> tuple[_Lit, NDArray[np.float64], float]:
    """Fit the beams where an upright plate would send back what is told, photographs x grid.

    The last two are the torches' own fields, photographs x 6, and the plate's bend in degrees.
    """
    flat = cells.reshape(len(cells), -1)
    coefficients, bright = fitted_fields(
        flat, told.reshape(len(cells), -1), outside.ravel(), lit.grid
    )
    response = np.array([t[t.shape[0] // 2, t.shape[1] // 2] for t in lit.directions])
    response = response[:, :2] / response[:, 2:] * (1 - lit.other.shares[:, None])
    own, tilt = bend_in(coefficients, response, lit.grid.reach())
    usual = _usual_albedo(bright.reshape(lit.grid.x.shape), outside)
    fields = np.exp(own @ lit.grid.polynomials().T).reshape(told.shape)
    return replace(lit, upright=list(told * fields * usual), usual=usual), own, bend_deg(tilt)


def _shadow_shares(lit: _Lit) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Light in the balls' own shadows, and of what lies beside them, over an upright place's.

    For each photograph, nan where none is seen: the median in the shadows; the share of places
    beside them that are as dark.
    """
    inside, beside = np.full((2, len(lit.used)), np.nan)
    for k in range(len(lit.used)):
        light = lit.captured.lights[lit.used[k]]
        assert light is not None
        within, without = shadow_places(light, lit.captured.balls, lit.captured.plate)
        seen = _seen_over_upright(lit, k, *within)
        if len(seen) >= FEWEST:
            inside[k] = np.median(seen)
            near = _seen_over_upright(lit, k, *without)
            if len(near) >= FEWEST:
                beside[k] = np.mean(near < (1 + 2 * inside[k]) / 3)
    return inside, beside


def _seen_over_upright(
    lit: _Lit, k: int, y: NDArray[np.int64], x: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Light of places of the first photograph in another, over that of an upright place."""
    n, shape = lit.used[k], lit.frames.shape
    rows, columns = lit.grid.x.shape
    there = np.round(lit.captured.moves[n].places(np.stack([x, y], 1).astype(float), shape))
    inside = ((there >= 0) & (there < (shape[1], shape[0]))).all(1)
    column, row = there[inside].astype(int).T
    upright = lit.upright[k][y[inside] * rows // shape[0], x[inside] * columns // shape[1]]
    seen = lit.table[lit.frames.pictures[n][row, column]]
    return np.asarray(seen / np.maximum(upright, 1e-6), dtype=np.float64)


def _usual_albedo(bright: NDArray[np.float64], outside: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Albedo of the plate thereabouts, from its logarithm in each cell; balls are bridged."""
    value = np.where(outside, float(np.median(bright[~outside])), bright)
    return np.asarray(
        np.exp(cv2.GaussianBlur(cv2.medianBlur(value.astype(np.float32), 3), (0, 0), 1.0))
    )


def _cells(
    frames: Frames, n: int, table: NDArray[np.float32], size: tuple[int, ...]
) -> NDArray[np.float64]:
    """Mean linear light of a photograph in each cell."""
    picture = frames.pictures[n]
    # a sixteenth of the pixels tells a mean of a whole cell well enough
    step = max(min(frames.shape) // 600, 1)
    thin = np.asarray(table[picture[::step, ::step]])
    return cv2.resize(thin, size, interpolation=cv2.INTER_AREA).astype(np.float64)


def _band_of_light(
    lit: _Lit, top: int, bottom: int, columns: tuple[int, int] | None = None
) -> NDArray[np.float32]:
    """Rows of all photographs, or some columns of them, against an upright place's light."""
    shape = lit.frames.shape
    left, right = columns or (0, shape[1])
    stack = np.empty((len(lit.used), bottom - top, right - left), np.float32)
    for k, n in enumerate(lit.used):
        straight = straightened(
            lit.frames.pictures[n], lit.captured.moves[n], top, bottom, shape, (left, right)
        )
        upright = rows_of(lit.wide[k][:, left:right], shape[0], top, bottom)
        looked_up(lit.table, straight, stack[k])
        stack[k] /= upright
        light = lit.captured.lights[n]
        assert light is not None
        shade(stack[k], (top, left), lit.captured.plate, light, lit.captured.balls)
    return stack


def _dark(lit: _Lit) -> NDArray[np.float32]:
    """Light at or below which a place is in shadow, for each photograph."""
    two = float(lit.table[min(2 * len(lit.table) // 256, len(lit.table) - 1)])
    dark = np.array([two / max(float(one.mean()), 1e-6) for one in lit.upright])
    return (dark + OVER_OTHER * lit.other.shares).astype(np.float32)


def _samples(lit: _Lit, count: int = 6000, bands: int = 15) -> Samples:
    """Places spread over the plate, the same for the same photographs."""
    rng = np.random.default_rng(11)
    rows, columns = lit.frames.shape
    each = count // bands
    light, places, cells = [], [], []
    v, u = lit.grid.x.shape
    for middle in (np.arange(bands) + 0.5) * rows / bands:
        top = min(max(int(middle) - 4, 0), max(rows - 8, 0))
        stack = _band_of_light(lit, top, min(top + 8, rows))
        y, x = rng.integers(0, stack.shape[1], each), rng.integers(0, columns, each)
        plate = ~lit.outside[top + y, x]
        y, x = y[plate], x[plate]
        light.append(stack[:, y, x])
        cells.append(((top + y) * v // rows) * u + x * u // columns)
        places.append(np.stack([*_mm(lit, x, top + y), np.zeros(len(x))], 1))
    mm = np.concatenate(places)
    towards = np.empty((3, len(lit.used), len(mm)), np.float32)
    for k, n in enumerate(lit.used):
        one = lit.captured.lights[n]
        assert one is not None
        to = np.asarray(one.direction) if one.place is None else one.place - mm
        unit = to / np.linalg.norm(to, axis=-1, keepdims=True)
        towards[:, k] = np.broadcast_to(unit, mm.shape).T
    half = towards.copy()
    half[2] += 1.0
    half /= np.linalg.norm(half, axis=0)
    cell = np.concatenate(cells)
    beside = np.stack([lit.beside(k).ravel()[cell] for k in range(len(lit.used))])
    return Samples(np.concatenate(light, 1), towards, half, _dark(lit), beside.astype(np.float32))


def _brightness(lit: _Lit, gains: Sequence[float]) -> Brightness:
    """How bright the plate was under each torch, other light taken out."""
    lights = [light for n in lit.used if (light := lit.captured.lights[n])]
    level = np.log([gains[n] for n in lit.used]) + np.log1p(-np.clip(lit.other.shares, 0, 0.9))
    height = np.array([light.direction[2] for light in lights])
    return Brightness(level, height, np.log([light.distance for light in lights]))


def _mm(lit: _Lit, x: NDArray[np.int64], y: NDArray[np.int64]) -> tuple[NDArray[np.float32], ...]:
    plate = lit.captured.plate
    return plate.columns_mm()[x], plate.rows_mm()[y]


def _solve_band(
    lit: _Lit, top: int, bottom: int, normals: NDArray[np.float32], albedo: NDArray[np.float32]
) -> None:
    shape = lit.frames.shape
    dark = _dark(lit)
    scratch = Scratch()
    v, u = lit.grid.x.shape
    beside = np.stack([lit.beside(k) for k in range(len(lit.used))]).astype(np.float32)
    row = (top + bottom) // 2 * v // shape[0]
    beside = beside[:, row]
    shine = np.broadcast_to(lit.shine, lit.grid.x.shape)[row]
    plate = ~lit.outside[top:bottom]
    start, stack = 0, np.empty((len(lit.used), 0, 0), np.float32)
    for left in range(0, shape[1], lit.side):
        right = min(left + lit.side, shape[1])
        if right - start > stack.shape[2]:  # light of a few tiles: a processor's cache holds it
            start = left
            end = min(left + TOGETHER * lit.side, shape[1])
            stack = _band_of_light(lit, top, bottom, (left, end))
        on = plate[:, left:right]
        whole = on.all()
        tile = stack[:, :, left - start : right - start]
        tile = np.ascontiguousarray(tile).reshape(len(tile), -1) if whole else tile[:, on]
        towards = _directions_at(lit, (left + right) / 2, (top + bottom) / 2)
        torches = BentLight.over(
            towards,
            lit.lobe.strength * float(np.exp(shine[(left + right) // 2 * u // shape[1]])),
            lit.lobe.exponent,
            beside[:, (left + right) // 2 * u // shape[1]],
        )
        found = robust_with_lobe(tile, torches, dark=dark, scratch=scratch)
        if whole:
            planes = found.normals.reshape(3, *on.shape)
            normals[:, left:right] = cv2.merge(list(planes))
            albedo[:, left:right] = found.albedo.reshape(on.shape)
        else:  # a ball is no plate
            normals[:, left:right][on] = found.normals.T
            albedo[:, left:right][on] = found.albedo
    albedo *= widened(lit.usual, shape, top, bottom)


def _directions_at(lit: _Lit, x: float, y: float) -> NDArray[np.float32]:
    """Unit directions to the torches from a place in pixels, torches x 3."""
    mm = lit.captured.plate.to_mm(x - 0.5, y - 0.5)
    torches, near = lit.torches
    to = torches - near[:, None] * np.array([mm[0], mm[1], 0.0])
    to[near] /= np.sqrt((to[near] ** 2).sum(1, keepdims=True))
    return np.asarray(to, dtype=np.float32)


def _height(normals: NDArray[np.float32], mm_per_px: float, workers: int) -> NDArray[np.floating]:
    known = normals[..., 2] > 0
    right, up = np.empty(known.shape, np.float32), np.empty(known.shape, np.float32)
    for top in range(0, len(normals), 256):
        band = normals[top : top + 256]
        z = -np.where(known[top : top + 256], band[..., 2], np.float32(1))
        np.divide(band[..., 0], z, out=right[top : top + 256])
        np.divide(band[..., 1], z, out=up[top : top + 256])
    height = height_of_slopes(right, up, known, workers=workers)
    height *= mm_per_px
    return height
