"""A plate's marks read off its relief: digits, gaps, strings, and the plate itself."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from ironlace.marks.errors import MarksError
from ironlace.marks.reading import period_shapes, ways_worn
from ironlace.marks.reading.bare_metal import (
    BareMetal,
    Overlaid,
    bare_metal,
    best_fits,
    face_held,
    likeness,
    moderated,
    overlaid,
    parted,
)
from ironlace.marks.reading.casting_edge import edges_through
from ironlace.marks.reading.digits_in_words import DigitsTold, remarks
from ironlace.marks.reading.dot_depth import DotDepth, dot_depth
from ironlace.marks.reading.dot_features import (
    STEP_MM,
    BowlFit,
    PlateLook,
    beside_own_pits,
    bowl_fit,
    features,
    features_of_strays,
)
from ironlace.marks.reading.half_struck import HalfStruck, half_struck
from ironlace.marks.reading.known_shapes import WIDE, ShapeReader, held_down, plain_strikes
from ironlace.marks.reading.learned import Learned
from ironlace.marks.reading.letter_shapes import letter_strikes, logs_by_letters
from ironlace.marks.reading.numeral_styles import GLYPHS, TALL
from ironlace.marks.reading.other_signs import (
    CUTS,
    GIVEN,
    Judge,
    Oddities,
    either_of,
    holes,
    maybe_pairs,
    oddities_of,
    odds_of_others,
    unseen,
    untold,
)
from ironlace.marks.reading.own_strikes import own_shapes
from ironlace.marks.reading.period_shapes import (
    cut_strikes,
    few_strikes,
    figures_of_cuts,
    logs_by_cuts,
)
from ironlace.marks.reading.places import Place
from ironlace.marks.reading.read_together import Logs, either, lain, read_together
from ironlace.marks.reading.relief_slopes import ReliefSlopes, grain_of
from ironlace.marks.reading.row_of_places import drawn_to_rows
from ironlace.marks.reading.same_punch import by_fellows
from ironlace.marks.reading.shapes_named import refuse_wrong_names
from ironlace.marks.reading.slope_pattern import pattern
from ironlace.marks.reading.strikes import Ink, Slopes
from ironlace.marks.reading.strings import RowShared, RowStrings, Shared, apart, strings_of
from ironlace.marks.reading.two_witnesses import as_sure_as_agreed, borne_out, like_by_both
from ironlace.marks.reading.unlike_faces import Witnesses, as_of_any_face
from ironlace.marks.reading.ways_worn import logs_by_ways
from ironlace.marks.reading.wear import depth_of_place, wear_of
from ironlace.marks.reading.where_digits_lie import moved_to_digits
from ironlace.marks.reading.which_way import (
    MIRRORED,
    RAISED,
    TURNED,
    Lies,
    Ways,
    alike,
    otherwise,
    places_otherwise,
    rows_otherwise,
    ways_of,
)

_STRAY = 40
"""Places looked at where nothing was struck, to know the plate's rust."""
_STRAY_OFF_MM = 1.1
"""How far they lie from digits and gaps."""
_AS_LIKELY = 0.5
"""Chance of a dot from which its depth is taken for more than none."""
_COUNTS_CLEAR, _COUNTS_FAIR = 0.75, 0.45
"""Shares of the slopes about a gap that its best bowl tells (judged)."""
_OVER_DIGITS, _WORN_MM = 2.5, 0.02
"""How much deeper than the digits a dot, or how shallow (mm) the digits must be, for a pit to be as
likely: of struck dots of tuning plates that look clear beside digits so shallow a half and more
were told 1.3 to 30 times too deep; beside digits of 0.02 to 0.03 mm a tenth, five times."""
LOOKS = (
    *((0, 0, 1.0), (2, 0, 1.0), (-2, 0, 1.0), (0, 2, 1.0), (0, -2, 1.0)),
    *((0, 0, 1.05), (0, 0, 0.95)),
)
"""Shifts (steps of the reading grid) and sizes at which a place is looked at."""
_OWN_SHARPNESS = 60.0
"""Independent slopes that the fit of an own strike counts for: fewer than of a drawn shape, whose
pits and scratches are its own (judged)."""
_ONE_PHOTOGRAPH = 0.8
"""Share of the slopes that count of one photograph, shapes given: stains and highlights pass for
slopes, and are no noise (fitted on tuning plates)."""
_MOST_SLOPES = 2000.0
"""Slopes that count at most: shapes differ by more than noise."""
_RATES = np.linspace(0.025, 0.975, 39)
"""Base rates weighed when none is given."""
_RATE_HELD = 3.0
"""How firmly a base rate near one half is held to: as if eight gaps had been seen (judged)."""
_FINER = np.log(2.0) / 2
"""By how much the logarithm of a plate's grain may lie under the tuning plates': as much finer as
twice the photographs make it."""
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
    face_held
        Share of what is struck that the figures laid hold, by which a face unlike ours shows; None
        where too little stands out of bare metal.
    """

    wear: Interval
    pits_per_mm2: float
    base_rate: float
    base_rate_given: bool
    outside_tuning: float
    face_held: float | None = None


@dataclass(frozen=True, slots=True)
class MarksRead:
    """The whole reading, graded inferred; `rows` is what the strings of each row are made of."""

    digits: tuple[DigitRead, ...]
    gaps: tuple[GapRead, ...]
    strings: tuple[RowStrings, ...]
    rows: Mapping[int, RowShared]
    plate: PlateRead
    remarks: tuple[str, ...] = field(default=())

    def of_a_relief(self, doubt: str) -> "MarksRead":
        """Say first what is doubted of the relief that was read, if anything is."""
        if not doubt:
            return self
        return replace(self, remarks=(f"The relief itself is doubted. {doubt}", *self.remarks))


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

    Raises MarksError when a glyph has no shape or a wrong name, or the base rate is no share.

    Method: likelihood of strikes with cuts shared over the plate, and a network over patterns of
    slopes, for digits; bowls beside the plate's own rust and beside their fellows for dots.
    """
    _check(shapes, base_rate, glyphs)
    if shapes is not None:
        refuse_wrong_names({g: shapes[g] for g in glyphs})
    per = float(np.median([one.height_px for one in places if one.kind == "digit"])) / TALL
    grain = grain_of(relief, per)
    few = few_strikes(relief.along) if shapes is None else plain_strikes(shapes, relief.along)
    places, off = moved_to_digits(relief, places, grain, few, known=shapes is not None)
    digits = [one for one in places if one.kind == "digit"]
    gaps = [one for one in places if one.kind == "gap"]
    bare = bare_metal(relief, places, grain, rng.spawn(1)[0])
    depths = [depth_of_place(relief, d.x_px, d.y_px, d.height_px) for d in digits]
    likely = drawn_to_rows(digits)
    drawn = rng.spawn(1)[0]
    told = _read_digits(relief, likely, learned, grain, shapes, glyphs, bare, depths, drawn)
    fit = told.fit
    own = _by_own_strikes(relief, likely, grain, labels or {}, glyphs)
    look = plate_look(relief, places, rng, float(np.median(depths)))
    outside = _outside(learned, looks_of(look, fit))
    heat = 1 / (1 + outside)
    floor = np.full(len(digits), learned.settings["figure_floor"] * (1 + outside))
    for row, (_, chance) in rows_otherwise(told.ways, [d.row for d in digits]).items():
        here = [d.row == row for d in digits]
        floor[here] = np.maximum(floor[here], 1 - chance)
    floor = np.maximum(floor, told.laid_otherwise())
    lacks = unseen(relief, digits)
    beyond, falls = edges_through(relief, digits)
    floor = np.maximum(floor, np.maximum(lacks, untold(beyond)))
    shared = _doubted(told.read.shared, heat, own, told.half, floor, told.ways.chance)
    p = shared.each()
    read = tuple(
        DigitRead(d, d.height_px * relief.mm_per_px, deep, dict(zip(glyphs, row, strict=True)))
        for d, deep, row in zip(digits, depths, p.tolist(), strict=True)
    )
    fits = [bowl_fit(relief, g.x_px, g.y_px, look.grain) for g in gaps]
    dots, rate = _struck(fits, look, learned, base_rate, heat, 1 - told.read.left)
    struck = dots.each()[:, 1]
    gain = slope_gain or Interval(1.0, 1.0, 1.0)
    gaps_read = tuple(
        _gap_read(relief, g, (f, look.digit_mm), float(s), learned, gain, clear=told.clear)
        for g, f, s in zip(gaps, fits, struck, strict=True)
    )
    rows = _rows(glyphs, digits, gaps, shared, dots)
    return MarksRead(
        read,
        gaps_read,
        tuple(strings_of(row, one) for row, one in rows.items()),
        rows,
        PlateRead(
            Interval(*wear_of(look.digit_mm, look.grain, fit, learned.settings)),
            _pits_per_mm2(look.stray),
            rate,
            base_rate is not None,
            outside,
            told.held,
        ),
        (*([off] if off else []), *remarks(told, digits, lacks, (beyond, falls), relief.mm_per_px)),
    )


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


@dataclass(frozen=True)
class _Figures:
    """What is laid over every digit: given shapes, or our cuts, and how its fits are taken.

    `order` is where each glyph asked for lies among those laid, `figures` the number of each
    strike's glyph and whether it is laid over what the best leaves.
    """

    reader: ShapeReader | None
    strikes: NDArray[np.float32]
    starts: NDArray[np.int64]
    order: Sequence[int]
    figures: tuple[NDArray[np.int64], NDArray[np.bool_]]
    judge: Judge
    even: float
    count: float
    credit: float
    off: float
    which: str

    def logs(self, laid: Sequence[NDArray[np.float32]], slopes: float) -> Logs:
        """Log-likelihoods of the glyphs, places x glyphs x combinations x correlations."""
        if not laid:
            return np.zeros((0, 1, 1, 1))
        if self.reader is not None:
            return logs_by_ways(self.reader, laid, slopes)[:, self.order]
        return logs_by_cuts(laid, slopes)[:, self.order]

    def by_fellows(
        self,
        held: Sequence[NDArray[np.float32]],
        laid: Sequence[NDArray[np.float32]],
        p: NDArray[np.float64],
        slopes: float,
    ) -> NDArray[np.float64]:
        """Log-likelihoods of the glyphs by other strikes of the same punch (`same_punch`)."""
        column = np.full(int(self.figures[0].max()) + 1, -1)
        column[self.order] = np.arange(len(self.order))
        return by_fellows(held, laid, self.strikes, column[self.figures[0]], p, slopes)


@dataclass(frozen=True, slots=True)
class _Odd:
    """What speaks for something else at each place, the two figures it may be, whether to look."""

    others: NDArray[np.float64] | None
    pairs: tuple[str, ...]
    maybe: tuple[bool, ...]


def _figures_laid(
    shapes: Mapping[str, tuple[Ink, ...]] | None, glyphs: str, along: tuple[float, float] | None
) -> _Figures:
    if shapes is None:
        strikes, starts = cut_strikes(along)
        counting = period_shapes.COUNT, period_shapes.CREDIT, period_shapes.OFF
        if along is not None:
            counting = (
                period_shapes.COUNT_OF_ONE, period_shapes.CREDIT_OF_ONE, period_shapes.OFF_OF_ONE,
            )  # fmt: skip
        return _Figures(
            None, strikes, starts, [GLYPHS.index(g) for g in glyphs], figures_of_cuts(), CUTS,
            0.0, *counting, "cut",
        )  # fmt: skip
    reader = ShapeReader({g: shapes[g] for g in glyphs}, along)
    part = 1.0 if along is None else _ONE_PHOTOGRAPH
    return _Figures(
        reader, reader.strikes, reader.starts, [reader.glyphs.index(g) for g in glyphs],
        (reader.glyph_of, reader.upright), GIVEN,
        ways_worn.EVEN, part * ways_worn.COUNT, ways_worn.CREDIT, 0.0, "known",
    )  # fmt: skip


@dataclass(frozen=True)
class _Laid:
    """How figures and letters correlate with every digit's place and with bare metal.

    Attributes
    ----------
    figures
        What is laid.
    held
        Places, slopes held down.
    over, plain, letters
        Figures as chances are taken from them, figures without bare metal's detail evened out, and
        letters, each at the places as given alone.
    lying
        Figures at the places as given, and laid each of the `ways`.
    best
        Fit of the best figure at each place.
    like
        How like the figures what is struck is (`likeness`).
    slopes
        Independent slopes of a place, were they so in full.
    """

    figures: _Figures
    held: list[Slopes]
    over: Overlaid
    plain: Overlaid
    letters: Overlaid
    ways: tuple[str, ...]
    lying: list[tuple[NDArray[np.float32], ...]]
    best: NDArray[np.float64]
    like: float
    slopes: float

    @property
    def counted(self) -> float:
        """Independent slopes of a place that count."""
        return self.like * self.slopes

    def logs(self) -> tuple[Logs, Logs]:
        """What places and bare metal tell of figures (`_Figures.logs`)."""
        one, other = self.over.places, self.over.bare
        return self.figures.logs(one, self.counted), self.figures.logs(other, self.counted)


def _laid_over(
    relief: ReliefSlopes,
    digits: Sequence[Place],
    learned: Learned,
    grain: float,
    shapes: Mapping[str, tuple[Ink, ...]] | None,
    glyphs: str,
    bare: BareMetal,
) -> _Laid:
    """Lay given shapes, or our cuts, and letters over all digits."""
    held = [
        held_down(relief.patch(d.x_px, d.y_px, d.height_px / TALL, WIDE), grain) for d in digits
    ]
    both_ways = relief.along is None
    laid = _figures_laid(shapes, glyphs, relief.along)
    count = len(laid.strikes)
    ways = (TURNED, MIRRORED) if both_ways else (TURNED,)
    both_kinds = np.concatenate([laid.strikes, letter_strikes(relief.along, glyphs)])
    turned = [otherwise(one, way) for way in ways for one in held]
    both = overlaid(both_kinds, held + turned, bare, even=laid.even if bare else 0.0)
    over, letters = parted(both, count)
    lying = [over.places[k * len(held) : (k + 1) * len(held)] for k in range(len(ways) + 1)]
    plain = overlaid(both_kinds, held, bare) if laid.even and bare else both
    figures, _ = parted(plain, count)
    best = best_fits(figures, laid.starts)[: len(held)].max(axis=1)
    if bare:
        slopes = min(laid.count * over.slopes, _MOST_SLOPES)
    else:
        part = 1.0 if both_ways or shapes is None else _ONE_PHOTOGRAPH
        slopes = part * float(np.median(sharpness(best, learned.settings, laid.which)))
    like = likeness(held, bare, best) if both_ways else 1.0
    return _Laid(
        laid,
        held,
        replace(over, places=lying[0]),
        plain,
        replace(letters, places=letters.places[: len(held)]),
        ways,
        lying,
        best,
        like,
        slopes,
    )


def _read_digits(  # long: what strikes, network and pairs tell, in the order they need each other
    relief: ReliefSlopes,
    digits: Sequence[Place],
    learned: Learned,
    grain: float,
    shapes: Mapping[str, tuple[Ink, ...]] | None,
    glyphs: str,
    bare: BareMetal,
    depths: Sequence[float],
    rng: np.random.Generator,
) -> DigitsTold:
    """All digits by given shapes, or by our cuts and the network."""
    lay = _laid_over(relief, digits, learned, grain, shapes, glyphs, bare)
    laid, over = lay.figures, lay.over
    both_ways = relief.along is None
    by_cuts = both_ways and shapes is None
    seen, on_bare = lay.logs()
    which_way, lies = _how_it_lies(lay, seen, on_bare, [d.row for d in digits], glyphs)
    # the network knows slopes both ways; of a single photograph the laid strikes alone speak
    if by_cuts:
        looked = np.stack([looked_at(relief, d, learned, grain) for d in digits])[:, laid.order]
        as_ours, in_full = None, looked
        if lay.like < 1.0:  # figures that lie otherwise are asked above: here both err
            as_ours = _as_ours(lay)
            lay = replace(lay, like=like_by_both(lay.like, as_ours, looked))
            seen, on_bare = lay.logs()
        looked = _evened(lay.like * looked)
        by_strikes, seen = seen, seen + looked[:, :, None, None]
    like = lay.like
    odd = _odd_of(lay, holes(depths)) if both_ways else _none_odd(len(digits))
    together = partial(
        read_together,
        bare=on_bare,
        strange=logs_by_letters(lay.letters.places, lay.counted),
        others=odd.others,
        heat=moderated(lay.best, lay.counted, laid.off),
        credit=laid.credit,
        cuts=by_cuts,
    )
    read = together(seen)
    if by_cuts and bare:
        fellows = laid.by_fellows(lay.held, over.places, read.shared.each(), like * over.slopes)
        seen = seen + fellows[:, :, None, None]
        read = either(read, together(seen))  # what is misread alike speaks for itself
        beside = np.stack([looked_at(relief, d, learned, grain) for d in _beside(digits, bare)])
        alone = together(by_strikes).shared
        read = borne_out(read, alone, looked, like * beside[:, laid.order])
        read = as_sure_as_agreed(read, alone, looked)
        strikes = alone.each() if as_ours is None else as_ours
        witnesses = Witnesses(lay.held, lay.best, strikes, in_full)
        read, like = as_of_any_face(read, witnesses, like, rng)
    return DigitsTold(
        read,
        float(np.median(lay.best)),
        which_way,
        bool(bare),
        like,
        odd.pairs,
        odd.maybe,
        lies,
        face_held(lay.held, bare, lay.best) if both_ways else None,
        _halves_of(lay, depths) if both_ways and bare else (),
    )


def _as_ours(lay: _Laid) -> NDArray[np.float64]:
    """Chances of the figures by strikes alone, were the face one of ours; places x figures."""
    seen, bare = replace(lay, like=1.0).logs()
    return read_together(seen, bare, credit=lay.figures.credit, cuts=True).shared.each()


def _halves_of(lay: _Laid, depths: Sequence[float]) -> tuple[HalfStruck, ...]:
    """Whether each place was half struck, figures in the order asked for."""
    laid = lay.figures
    slopes = lay.like * min(laid.count * lay.plain.slopes, _MOST_SLOPES)
    places = lay.plain.places[: len(lay.held)]
    found = half_struck(lay.held, places, laid.strikes, laid.figures[0], depths, slopes)
    return tuple(replace(one, p=one.p[laid.order] / one.p[laid.order].sum()) for one in found)


def _beside(digits: Sequence[Place], bare: BareMetal) -> list[Place]:
    """Bare places, as if a digit of the plate's own height stood there."""
    tall = float(np.median([d.height_px for d in digits]))
    return [Place("digit", 0, k, x, y, tall) for k, (x, y) in enumerate(bare.at)]


def _how_it_lies(
    lay: _Laid, seen: Logs, bare: Logs, rows: Sequence[int], glyphs: str
) -> tuple[Ways, tuple[Lies, ...]]:
    """Which way the plate and its rows lie, and each place by itself."""
    laid = lay.figures
    other = dict(zip(lay.ways, lay.lying[1:], strict=True))
    other[RAISED] = tuple(-one for one in lay.lying[0])
    logs = {way: laid.logs(one, lay.counted) for way, one in other.items()}
    lain_ = {way: lain(one, bare, laid.credit) for way, one in logs.items()}
    as_given = lain(seen, bare, laid.credit)
    alone = {way: _lain_unlike(logs[way], bare, laid.credit, glyphs, way) for way in lay.ways}
    return ways_of(as_given, lain_, rows), places_otherwise(as_given, alone)


def _lain_unlike(
    logs: Logs, bare: Logs, credit: float, glyphs: str, way: str
) -> tuple[NDArray[np.float64], list[str]]:
    """What places laid another way tell by signs that are no sign so; the best sign at each."""
    unlike = [k for k, g in enumerate(glyphs) if not alike(g, way)]
    if not unlike:
        return np.full((len(logs), 1), -np.inf), [""] * len(logs)
    best = logs.reshape(*logs.shape[:2], -1).max(axis=2).argmax(axis=1)
    told = lain(logs[:, unlike], bare[:, unlike] if len(bare) else bare, credit)
    return told, [glyphs[k] for k in best]


def _evened(logs: NDArray[np.float64]) -> NDArray[np.float64]:
    """Log-likelihoods, places x figures, of mean 1 at each place."""
    return np.asarray(logs - logsumexp(logs, axis=1, keepdims=True) + np.log(logs.shape[1]))


def _none_odd(places: int) -> _Odd:
    """As where nothing can be told of it."""
    return _Odd(None, ("",) * places, (False,) * places)


def _odd_of(lay: _Laid, hole: NDArray[np.float64]) -> _Odd:
    laid, plain = lay.figures, lay.plain
    odd = oddities_of(
        lay.held, plain.places[: len(lay.held)], plain.bare, laid.strikes, *laid.figures
    )
    odds = odds_of_others(odd, laid.judge)
    names = GLYPHS if laid.reader is None else laid.reader.glyphs
    return _Odd(
        np.maximum(either_of(odds), hole),
        _pairs_named(odd, odds, hole, names),
        tuple(map(bool, maybe_pairs(odd, laid.judge))),
    )


def _pairs_named(
    odd: Oddities, odds: NDArray[np.float64], hole: NDArray[np.float64], names: Sequence[str]
) -> tuple[str, ...]:
    """For each place the two figures that may stand there; empty where another sign is likelier."""
    return tuple(
        " and ".join(sorted(names[k] for k in two)) if pair > max(sign, deep) else ""
        for two, (pair, sign), deep in zip(odd.figures, odds, hole, strict=True)
    )


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


def _doubted(
    shared: Shared,
    heat: float,
    own: NDArray[np.float64],
    half: Sequence[HalfStruck],
    floor: NDArray[np.float64],
    given: float,
) -> Shared:
    """What the plate shares, with own strikes, drawn to the middle, and as none if it lies wrong.

    Parameters
    ----------
    heat
        Power that chances are taken to, under 1 for a plate unlike those tuned on.
    own
        Log-likelihoods of own strikes, places x glyphs.
    half
        Whether each digit was half struck, where that was asked.
    floor
        Chance that each digit is not told at all.
    given
        Chance that the plate lies as it was given.
    """
    logs = heat * (np.log(np.maximum(shared.p, 1e-12)) + own)
    p = np.exp(logs - logsumexp(logs, axis=2, keepdims=True))
    for k, one in enumerate(half):
        p[:, k] = (1 - one.chance) * p[:, k] + one.chance * one.p
    even = 1 / p.shape[2]
    p = (1 - floor[:, None]) * p + floor[:, None] * even
    lost = np.full((1, *p.shape[1:]), even)
    return Shared(np.append(given * shared.weights, 1 - given), np.concatenate([p, lost]))


def _by_own_strikes(
    relief: ReliefSlopes,
    digits: Sequence[Place],
    grain: float,
    labels: Mapping[tuple[int, int], str],
    glyphs: str,
) -> NDArray[np.float64]:
    """Log-likelihoods of glyphs where a labelled strike of the same punch fits; places x glyphs.

    A labelled place is judged without the labels: its own shape would only repeat them.
    """
    out = np.zeros((len(digits), len(glyphs)))
    own = {g: s for g, s in own_shapes(relief, digits, labels).items() if g in glyphs}
    if not own:
        return out
    reader = ShapeReader(own, relief.along)
    n = _OWN_SHARPNESS
    at = [glyphs.index(g) for g in reader.glyphs]
    for k, d in enumerate(digits):
        if (d.row, d.index) in labels:
            continue
        wide = relief.patch(d.x_px, d.y_px, d.height_px / TALL, WIDE)
        fits = reader.fits(wide, grain)
        r = np.array([fits[g] for g in reader.glyphs])
        # against the mean of its rivals: a strike that fits all alike tells nothing
        told = -0.5 * n * np.log1p(-(np.minimum(r, 0.999) ** 2))
        spare = -0.5 * n * np.log1p(-(np.median(r) ** 2)) if len(r) > 2 else float(told.min())
        out[k, at] = np.logaddexp(0, np.clip(told - spare, 0, 30)) - np.log(2)
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
    """By how much of the tuning plates' range a plate's looks lie beyond it, the worst of them."""
    wide = learned.plate_high - learned.plate_low
    under = learned.plate_low - looks
    under[0] -= _FINER  # better photographs make no stranger of a plate
    beyond = np.maximum(under, looks - learned.plate_high) / wide
    return float(np.clip(beyond, 0, 3).max())


def _struck(
    fits: Sequence[BowlFit],
    look: PlateLook,
    learned: Learned,
    base_rate: float | None,
    heat: float,
    doubt: float,
) -> tuple[Shared, float]:
    """Chance of none and of a struck dot in each gap by the base rates there may be; their mean.

    `doubt` is the chance that nothing is left of the plate's digits: then the judge cannot see how
    worn it is, and would take what is not there for not struck.
    """
    if not fits:
        return apart(np.zeros((0, 2))), base_rate if base_rate is not None else 0.5
    sharp = heat * learned.settings["dot_heat"]
    odds = sharp * learned.dot_logs(features(fits, look))
    if look.stray:
        bare = sharp * learned.dot_logs(features_of_strays(fits, look))
        odds = beside_own_pits(odds, bare)
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
    struck = ((1 - left) * each + left * rates[None, :]).T
    return Shared(weight, np.stack([1 - struck, struck], axis=2)), rate


def _gap_read(
    relief: ReliefSlopes,
    gap: Place,
    seen: tuple[BowlFit, float],
    p: float,
    learned: Learned,
    gain: Interval,
    *,
    clear: bool,
) -> GapRead:
    """Depth from bowls of all widths; its interval from the plates tuned on and the relief's own.

    `seen` is the judge's bowl and how deep the plate's digits are. On a plate whose digits do not
    stand out of bare metal nor need a dot: its depth may be none. So it may where a dot is less
    likely than none, for a pit may lie over what is left of it.
    """
    fit, digit_mm = seen
    at = gap.x_px + fit.dx_mm / relief.mm_per_px, gap.y_px + fit.dy_mm / relief.mm_per_px
    dot = dot_depth(relief, *at, fit.width_mm) or DotDepth(fit.deep_mm, fit.width_mm)
    value = dot.deep_mm * learned.settings["depth_factor"]
    kind = depth_kind(fit.best, dot.deep_mm, digit_mm)
    low, high = (learned.settings[f"depth_{end}_{kind}"] for end in ("low", "high"))
    # slopes read as matt are the same: the more of them is shine, the gentler they are
    low = value * _both_ways(low, gain.value / gain.high)
    high = value * _both_ways(high, gain.value / gain.low)
    low = low if clear and p > _AS_LIKELY else 0.0
    return GapRead(gap, *at, p, Interval(value, low, high), dot.width_mm)


def depth_kind(told: float, deep_mm: float, digit_mm: float) -> str:
    """How surely a dot's depth is known: by the share of slopes told, and by the digits' depth.

    What is much deeper than digits of the same plate is mostly a pit over a dot, and where digits
    are nearly gone so is most that looks like one.
    """
    if told > _COUNTS_FAIR and (deep_mm > _OVER_DIGITS * digit_mm or digit_mm < _WORN_MM):
        return "pitted"
    return "clear" if told > _COUNTS_CLEAR else "fair" if told > _COUNTS_FAIR else "faint"


def _both_ways(first: float, second: float) -> float:
    """One factor for two that are wrong independently, both over or both under one.

    >>> round(_both_ways(0.8, 0.8), 3)
    0.729
    """
    over = max(first, second) > 1
    both = float(np.hypot(np.log(first), np.log(second)))
    return float(np.exp(both if over else -both))


def _pits_per_mm2(stray: Sequence[BowlFit]) -> float:
    """Density of pits from the share of windows that hold none (Poisson)."""
    if not stray:
        return 0.0
    window = np.pi * 0.27**2
    empty = float(np.mean([one.best < 0.5 for one in stray]))
    return float(-np.log(max(empty, 0.5 / len(stray))) / window)


def _rows(
    glyphs: str, digits: Sequence[Place], gaps: Sequence[Place], shared: Shared, dots: Shared
) -> dict[int, RowShared]:
    """Rows from the top, each place from left to right; no dot where no gap was judged."""
    none = np.zeros((len(dots.weights), 1, 2))
    none[..., 0] = 1
    dots = Shared(dots.weights, np.concatenate([dots.p, none], axis=1))
    after = {(g.row, g.index): k for k, g in enumerate(gaps)}
    rows = {}
    for row in sorted({d.row for d in digits}):
        line = sorted((d.index, k) for k, d in enumerate(digits) if d.row == row)
        rows[row] = RowShared(
            glyphs,
            shared.some([k for _, k in line]),
            dots.some([after.get((row, index), len(gaps)) for index, _ in line]),
        )
    return rows
