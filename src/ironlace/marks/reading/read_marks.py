"""A plate's marks read off its relief: digits, gaps, strings, and the plate itself."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ironlace.marks.errors import MarksError
from ironlace.marks.reading.bare_metal import (
    BareMetal,
    bare_metal,
    judged,
    likelihood,
    overlaid,
    readable,
)
from ironlace.marks.reading.dot_features import (
    STEP_MM,
    BowlFit,
    PlateLook,
    bowl_fit,
    features,
)
from ironlace.marks.reading.known_shapes import WIDE, ShapeReader, held_down
from ironlace.marks.reading.learned import Learned
from ironlace.marks.reading.numeral_styles import GLYPHS, TALL
from ironlace.marks.reading.own_strikes import own_shapes
from ironlace.marks.reading.period_shapes import cut_strikes, shared_reading
from ironlace.marks.reading.places import Place
from ironlace.marks.reading.relief_slopes import ReliefSlopes, grain_of
from ironlace.marks.reading.slope_pattern import pattern
from ironlace.marks.reading.strikes import Ink, Slopes
from ironlace.marks.reading.strings import RowStrings, strings_of
from ironlace.marks.reading.ways_worn import EVEN, read_by_ways
from ironlace.marks.reading.wear import depth_of_place, wear_of
from ironlace.marks.reading.which_way import as_given, other_ways, ways_said

_STRAY = 40
"""Places looked at where nothing was struck, to know the plate's rust."""
_STRAY_OFF_MM = 1.1
"""How far they lie from digits and gaps."""
LOOKS = (
    *((0, 0, 1.0), (2, 0, 1.0), (-2, 0, 1.0), (0, 2, 1.0), (0, -2, 1.0)),
    *((0, 0, 1.05), (0, 0, 0.95)),
)
"""Shifts (steps of the reading grid) and sizes at which a place is looked at."""
_OWN_SHARPNESS = 60.0
"""Independent slopes that the fit of an own strike counts for: fewer than of a drawn shape, whose
pits and scratches are its own (judged)."""
_ONE_PHOTOGRAPH = 0.6
"""How much less sharply likelihoods are taken of one photograph (fitted on tuning plates)."""
_CLEAR = 0.5
"""Share from which a plate's digits count as readable (`bare_metal.readable`, or by its ways)."""
_RATES = np.linspace(0.025, 0.975, 39)
"""Base rates weighed when none is given."""
_RATE_HELD = 3.0
"""How firmly a base rate near one half is held to: as if eight gaps had been seen (judged)."""
_RATE_TOLD = 0.5
"""How much of what the gaps tell counts for the plate's base rate."""


@dataclass(frozen=True, slots=True)
class Interval:
    """A value with its 90 % interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class DigitRead:
    """A digit: its place, height and depth (mm, by the relief), probability of each glyph."""

    place: Place
    height_mm: float
    depth_mm: float
    p: dict[str, float]


@dataclass(frozen=True, slots=True)
class GapRead:
    """A gap: whether a dot was struck, and depth and width of what lies there, mm."""

    place: Place
    x_px: float
    y_px: float
    p_struck: float
    depth_mm: Interval
    diameter_mm: float


@dataclass(frozen=True, slots=True)
class PlateRead:
    """What holds for the whole plate.

    Attributes
    ----------
    wear
        Share of the marks' depth that is gone, as far as the digits tell.
    pits_per_mm2
        Where nothing was struck.
    base_rate
        The one given, or the mean of what the plate leaves probable.
    base_rate_given
        Whether it was given.
    outside_tuning
        How far the plate's looks lie beyond all plates that the judges were fitted on, in widths
        of their range; 0 within. Probabilities are drawn to the middle beyond it.
    """

    wear: Interval
    pits_per_mm2: float
    base_rate: float
    base_rate_given: bool
    outside_tuning: float


@dataclass(frozen=True, slots=True)
class MarksRead:
    """The whole reading, graded inferred."""

    digits: tuple[DigitRead, ...]
    gaps: tuple[GapRead, ...]
    strings: tuple[RowStrings, ...]
    plate: PlateRead
    remarks: tuple[str, ...] = field(default=())


@dataclass(frozen=True, slots=True)
class _Digits:
    """Log-likelihood of each glyph at each digit, and how well the best strikes fit (median).

    `told` is the share to which they are more than bare metal; None where the plate has too little
    of it.
    """

    logs: NDArray[np.float64]
    fit: float
    told: float | None
    ways: Mapping[str, float]

    @property
    def clear(self) -> bool:
        """Whether they stand out of bare metal, as far as that can be told."""
        return self.told is None or self.told >= _CLEAR


def read_marks(  # long: one pass over digits, gaps and strings, in the order they need each other
    relief: ReliefSlopes,
    places: Sequence[Place],
    learned: Learned,
    rng: np.random.Generator,
    *,
    shapes: Mapping[str, tuple[Ink, ...]] | None = None,
    base_rate: float | None = None,
    glyphs: str = GLYPHS,
    slope_gain: Interval | None = None,
    labels: Mapping[tuple[int, int], str] | None = None,
) -> MarksRead:
    """Read digits and gaps.

    Parameters
    ----------
    shapes
        Of the punches (`known_shapes.shapes_from_pictures`); without them cuts of the period.
    base_rate
        How many gaps in all hold a struck dot; without it the plate's own gaps tell.
    glyphs
        What may stand there.
    slope_gain
        Factor by which the relief's slopes may yet be wrong, for the depths.
    labels
        Clear strikes that a reader read, by row and index: their shapes serve the other places.

    Raises MarksError when a glyph has no shape, or the base rate is no share.

    Method: likelihood of strikes with cuts shared over the plate, and a network over patterns of
    slopes, for digits; bowls beside the plate's own rust and beside their fellows for dots.
    """
    _check(shapes, base_rate, glyphs)
    digits = [one for one in places if one.kind == "digit"]
    gaps = [one for one in places if one.kind == "gap"]
    per = float(np.median([one.height_px for one in digits])) / TALL
    grain = grain_of(relief, per)
    bare = bare_metal(relief, places, grain, rng.spawn(1)[0])
    told = _digit_logs(relief, digits, learned, grain, shapes, glyphs, bare)
    logs, fit = told.logs, told.fit
    logs = _by_own_strikes(logs, relief, digits, grain, labels or {}, glyphs)
    depths = [depth_of_place(relief, d.x_px, d.y_px, d.height_px) for d in digits]
    look = plate_look(relief, places, rng, float(np.median(depths)))
    outside = _outside(learned, looks_of(look, fit))
    heat = (1 if relief.along is None else _ONE_PHOTOGRAPH) / (1 + outside)
    floor = learned.settings["figure_floor"] * (1 + outside)
    p = np.exp(heat * logs - np.logaddexp.reduce(heat * logs, axis=1, keepdims=True))
    floor = 1 - (1 - floor) * as_given(told.ways)
    p = (1 - floor) * p + floor / len(glyphs)
    read = tuple(
        DigitRead(d, d.height_px * relief.mm_per_px, deep,
                  {g: float(v) for g, v in zip(glyphs, row, strict=True)})
        for d, deep, row in zip(digits, depths, p, strict=True)
    )  # fmt: skip
    fits = [bowl_fit(relief, g.x_px, g.y_px, look.grain) for g in gaps]
    struck, rate = _struck(fits, look, learned, base_rate, heat, fit)
    gain = slope_gain or Interval(1.0, 1.0, 1.0)
    gaps_read = tuple(
        _gap_read(relief, g, f, float(s), learned, gain, clear=told.clear)
        for g, f, s in zip(gaps, fits, struck, strict=True)
    )
    return MarksRead(
        read,
        gaps_read,
        _strings(read, gaps_read),
        PlateRead(
            Interval(*wear_of(look.digit_mm, look.grain, fit, learned.settings)),
            _pits_per_mm2(look.stray),
            rate,
            base_rate is not None,
            outside,
        ),
        _remarks(told, len(digits)),
    )


def _remarks(told: _Digits, digits: int) -> tuple[str, ...]:
    """What a person should know of the digits before any chance, worst first."""
    said = ways_said(told.ways, digits) if told.clear else []
    if told.told is None:
        said.append(
            "There is too little bare metal about the digits to judge them by: how sure they are "
            "is taken from other plates. Photograph more of the plate."
        )
    elif not told.clear:
        said.append(
            "The digits fit no better than bare metal of this plate does: by them nothing can be "
            "read, and the chances say so."
        )
    return tuple(said)


def _check(shapes: Mapping[str, object] | None, base_rate: float | None, glyphs: str) -> None:
    if base_rate is not None and not 0 < base_rate < 1:
        raise MarksError(
            f"The base rate is {base_rate:g}: give the share of gaps that hold a struck dot, "
            "between 0 and 1, such as 0.3."
        )
    if len(set(glyphs)) < 2 or len(set(glyphs)) != len(glyphs):
        raise MarksError(f"The glyphs are '{glyphs}': name two at least, each once.")
    known = set(shapes) if shapes is not None else set(GLYPHS)
    if lacking := [g for g in glyphs if g not in known]:
        raise MarksError(
            f"There is no shape of {', '.join(lacking)}: "
            + (
                "put a picture of it among the shapes, or leave it out of the glyphs."
                if shapes is not None
                else "only figures are drawn here, so give the shapes of other glyphs (--shapes)."
            )
        )


def _digit_logs(
    relief: ReliefSlopes,
    digits: Sequence[Place],
    learned: Learned,
    grain: float,
    shapes: Mapping[str, tuple[Ink, ...]] | None,
    glyphs: str,
    bare: BareMetal,
) -> _Digits:
    wides = [relief.patch(d.x_px, d.y_px, d.height_px / TALL, WIDE) for d in digits]
    held = [held_down(wide, grain) for wide in wides]
    if shapes is not None:
        reader = ShapeReader({g: shapes[g] for g in glyphs}, relief.along)
        order = [reader.glyphs.index(g) for g in glyphs]
        laid = _by_shapes(reader, held, bare, learned, both_ways=relief.along is None)
        return _Digits(laid.like[:, order], laid.fit, laid.told, laid.ways)
    laid = _by_cuts(*cut_strikes(relief.along), held, bare, learned, both_ways=relief.along is None)
    shared = shared_reading(laid.like)
    # the network knows slopes both ways; of a single photograph the laid strikes alone speak
    seen = np.zeros((len(digits), len(GLYPHS)))
    if relief.along is None:
        seen = np.stack([looked_at(relief, d, learned, grain) for d in digits])
    told = 1.0 if laid.told is None else laid.told
    both = (
        told * learned.settings["figure_part"] * seen + shared - shared.max(axis=1, keepdims=True)
    )
    return _Digits(both[:, [GLYPHS.index(g) for g in glyphs]], laid.fit, laid.told, laid.ways)


@dataclass(frozen=True, slots=True)
class _Laid:
    like: NDArray[np.float64]
    fit: float
    told: float | None
    ways: Mapping[str, float]


def _by_shapes(
    reader: ShapeReader,
    held: Sequence[Slopes],
    bare: BareMetal,
    learned: Learned,
    *,
    both_ways: bool,
) -> _Laid:
    """Likelihood of every given shape at every place, the plate worn in one way."""
    plain = judged(overlaid(reader.strikes, held, bare), reader.starts)
    if not bare:
        return _unjudged(reader.strikes, plain.fits, held, learned, "known", both_ways=both_ways)
    like, told = read_by_ways(reader, overlaid(reader.strikes, held, bare, even=EVEN))
    best = plain.fits.max(axis=1)
    slopes = told * learned.settings["known_plain"] * plain.slopes
    ways = other_ways(reader.strikes, held, best, slopes, both_ways=both_ways)
    return _Laid(like, float(np.median(best)), told, ways)


def _by_cuts(
    strikes: NDArray[np.float32],
    starts: NDArray[np.int64],
    held: Sequence[Slopes],
    bare: BareMetal,
    learned: Learned,
    *,
    both_ways: bool,
) -> _Laid:
    """Likelihood of every cut at every place, as sharp as the plate's bare metal allows."""
    plain = judged(overlaid(strikes, held, bare), starts)
    if not bare:
        return _unjudged(strikes, plain.fits, held, learned, "cut", both_ways=both_ways)
    even = judged(overlaid(strikes, held, bare, even=1.0), starts)
    most = learned.settings["cut_most"]
    slopes = min(learned.settings["cut_plain"] * plain.slopes, most)
    like = likelihood(plain.fits, slopes)
    like += likelihood(even.fits, min(learned.settings["cut_even"] * even.slopes, most))
    stands = max(plain.stands_out, even.stands_out)
    told = readable(stands)
    best = plain.fits.max(axis=1)
    ways = other_ways(strikes, held, best, told * slopes, both_ways=both_ways)
    return _Laid(told * like, float(np.median(best)), told, ways)


def _unjudged(
    strikes: NDArray[np.float32],
    fits: NDArray[np.float64],
    held: Sequence[Slopes],
    learned: Learned,
    which: str,
    *,
    both_ways: bool,
) -> _Laid:
    """Likelihoods where the plate has no bare metal to judge its digits by."""
    best = fits.max(axis=1)
    n = sharpness(best, learned.settings, which)[:, None]
    ways = other_ways(strikes, held, best, float(np.median(n)), both_ways=both_ways)
    return _Laid(likelihood(fits, n), float(np.median(best)), None, ways)


def sharpness(
    fit: NDArray[np.float64], settings: Mapping[str, float], which: str
) -> NDArray[np.float64]:
    """How sharply likelihoods are taken where the best strike fits so well.

    What fits poorly drowns in noise that runs over many pixels, so that its slopes count for few
    independent ones: a power of the fit, fitted on tuning plates.
    """
    rise = (np.clip(fit, 0.05, 0.95) / 0.4) ** settings[f"{which}_rise"]
    most = settings[f"{which}_most"]
    return np.asarray(np.clip(settings[f"{which}_sharpness"] * rise, 0.02 * most, most))


def _by_own_strikes(
    logs: NDArray[np.float64],
    relief: ReliefSlopes,
    digits: Sequence[Place],
    grain: float,
    labels: Mapping[tuple[int, int], str],
    glyphs: str,
) -> NDArray[np.float64]:
    """Log-likelihoods raised where a labelled strike of the same punch fits better.

    A labelled place is judged without the labels: its own shape would only repeat them.
    """
    own = {g: s for g, s in own_shapes(relief, digits, labels).items() if g in glyphs}
    if not own:
        return logs
    reader = ShapeReader(own, relief.along)
    n = _OWN_SHARPNESS
    at = [glyphs.index(g) for g in reader.glyphs]
    out = logs - np.logaddexp.reduce(logs, axis=1, keepdims=True)
    for k, d in enumerate(digits):
        if (d.row, d.index) in labels:
            continue
        wide = relief.patch(d.x_px, d.y_px, d.height_px / TALL, WIDE)
        fits = reader.fits(wide, grain)
        r = np.array([fits[g] for g in reader.glyphs])
        # against the mean of its rivals: a strike that fits all alike tells nothing
        told = -0.5 * n * np.log1p(-(np.minimum(r, 0.999) ** 2))
        spare = -0.5 * n * np.log1p(-(np.median(r) ** 2)) if len(r) > 2 else float(told.min())
        out[k, at] = np.logaddexp(out[k, at], out[k, at] + np.clip(told - spare, 0, 30)) - np.log(2)
    return out


def looked_at(
    relief: ReliefSlopes, place: Place, learned: Learned, grain: float
) -> NDArray[np.float64]:
    """Mean log-probability of each figure over several looks at a place."""
    per = place.height_px / TALL
    patterns = [
        pattern(
            relief.place(place.x_px + dx * per, place.y_px + dy * per, place.height_px, k), grain
        )
        for dx, dy, k in LOOKS
    ]
    return np.asarray(learned.figure_logs(np.stack(patterns)).mean(axis=0))


def plate_look(
    relief: ReliefSlopes, places: Sequence[Place], rng: np.random.Generator, digit_mm: float
) -> PlateLook:
    """The plate besides its marks: its grain, and bowls fitted where nothing was struck."""
    grain = grain_of(relief, STEP_MM / relief.mm_per_px)
    rows, cols = relief.slopes.shape[1:]
    marks = np.array([(one.x_px, one.y_px) for one in places])
    margin = 1.2 / relief.mm_per_px
    low, high = marks.min(axis=0) - 6 * margin, marks.max(axis=0) + 6 * margin
    stray: list[BowlFit] = []
    for _ in range(40 * _STRAY):
        x = float(rng.uniform(max(margin, low[0]), max(min(cols - margin, high[0]), margin + 1)))
        y = float(rng.uniform(max(margin, low[1]), max(min(rows - margin, high[1]), margin + 1)))
        off = float(np.hypot(*(marks - (x, y)).T).min()) * relief.mm_per_px
        i, j = min(round(y), rows - 1), min(round(x), cols - 1)
        near = relief.slopes[:, max(i - 30, 0) : i + 30, max(j - 30, 0) : j + 30]
        # a ball, or what the relief does not know, is no ground
        if off < _STRAY_OFF_MM or float((np.abs(near).max(axis=0) == 0).mean()) > 0.2:
            continue
        if float((np.hypot(*near) > 1.2).mean()) > 0.2:
            continue
        stray.append(bowl_fit(relief, x, y, grain))
        if len(stray) == _STRAY:
            break
    return PlateLook(grain, digit_mm, tuple(stray))


def looks_of(look: PlateLook, fit: float) -> NDArray[np.float64]:
    """What is compared with the tuning plates: grain, digits' depth, rust, fit of the digits."""
    told = np.array([one.best for one in look.stray]) if look.stray else np.array([0.3])
    return np.array(
        [
            np.log(look.grain),
            np.log(max(look.digit_mm, 1e-4)),
            float(told.mean()),
            float((told > 0.5).mean()),
            fit,
        ]
    )


def _outside(learned: Learned, looks: NDArray[np.float64]) -> float:
    wide = learned.plate_high - learned.plate_low
    beyond = np.maximum(learned.plate_low - looks, looks - learned.plate_high) / wide
    return float(np.clip(beyond, 0, 3).max())


def _struck(
    fits: Sequence[BowlFit],
    look: PlateLook,
    learned: Learned,
    base_rate: float | None,
    heat: float,
    fit: float,
) -> tuple[NDArray[np.float64], float]:
    """Probability of a struck dot in each gap, and the base rate."""
    if not fits:
        return np.zeros(0), base_rate if base_rate is not None else 0.5
    odds = heat * learned.settings["dot_heat"] * learned.dot_logs(features(fits, look))
    doubt = _doubt(fit, learned.settings)
    rates = np.array([base_rate]) if base_rate is not None else _RATES
    prior = np.zeros(1) if base_rate is not None else _RATE_HELD * np.log(rates * (1 - rates))
    each = 1 / (1 + np.exp(-(odds[:, None] + np.log(rates / (1 - rates))[None, :])))
    # gaps of one plate err together: together they tell less of its base rate than each alone
    whole = prior + _RATE_TOLD * (1 - doubt) * np.logaddexp(
        np.log(rates)[None, :] + odds[:, None], np.log1p(-rates)[None, :]
    ).sum(axis=0)
    weight = np.exp(whole - whole.max())
    weight /= weight.sum()
    rate = float(weight @ rates)
    left = max(doubt, learned.settings["dot_floor"])
    return (1 - left) * (each @ weight) + left * rate, rate


def _doubt(fit: float, settings: Mapping[str, float]) -> float:
    """Share of doubt whether dots can be told at all: near 1 where digits fit as bare metal does.

    On such a plate the judge cannot see how worn it is, and would take what is not there for not
    struck.
    """
    return float(1 / (1 + np.exp((fit - settings["doubt_fit"]) / settings["doubt_width"])))


def _gap_read(
    relief: ReliefSlopes,
    gap: Place,
    fit: BowlFit,
    p: float,
    learned: Learned,
    gain: Interval,
    *,
    clear: bool,
) -> GapRead:
    """Depth from the bowl; its interval from the plates tuned on, and the relief's own factor.

    On a plate whose digits do not stand out of bare metal nor need a dot: its depth may be none.
    """
    value = fit.deep_mm * learned.settings["depth_factor"]
    kind = "clear" if fit.best > 0.75 else "fair" if fit.best > 0.45 else "faint"
    low = value * learned.settings[f"depth_low_{kind}"] * gain.low / gain.value
    high = value * learned.settings[f"depth_high_{kind}"] * gain.high / gain.value
    low = low if clear else 0.0
    return GapRead(
        gap,
        gap.x_px + fit.dx_mm / relief.mm_per_px,
        gap.y_px + fit.dy_mm / relief.mm_per_px,
        p,
        Interval(value, min(low, value), max(high, value)),
        fit.width_mm,
    )


def _pits_per_mm2(stray: Sequence[BowlFit]) -> float:
    """Density of pits from the share of windows that hold none (Poisson)."""
    if not stray:
        return 0.0
    window = np.pi * 0.27**2
    empty = float(np.mean([one.best < 0.5 for one in stray]))
    return float(-np.log(max(empty, 0.5 / len(stray))) / window)


def _strings(digits: Sequence[DigitRead], gaps: Sequence[GapRead]) -> tuple[RowStrings, ...]:
    told = []
    for row in sorted({d.place.row for d in digits}):
        line = sorted((d for d in digits if d.place.row == row), key=lambda d: d.place.index)
        dots = {g.place.index: g.p_struck for g in gaps if g.place.row == row}
        struck = [dots.get(d.place.index, 0.0) for d in line]
        told.append(strings_of(row, [d.p for d in line], struck))
    return tuple(told)
